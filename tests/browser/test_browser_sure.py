"""How sure the answer of the Job view is: bands follow their line, no state's words stand beside another's figures."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from compare.present import charts, sure_wording
from compare.present.plotly_pen import draw
from compare.present.sure_charts import tornado_chart
from dashboard.client import make_link
from dashboard.reader import SCHEME_COOKIE
from dashboard.state import State

from .pages import TABLET, WIDE, answer_of, unsure_of

RUN = "Run length, per order"
LOW, HIGH = "May lie from", "May lie up to"
BANDS = """() => (document.querySelector("#chart-curves .js-plotly-plot")?.data || [])
    .filter(trace => trace.fill === "toself").map(trace => trace.y.bdata)"""
"""Ends of the bands on screen, as they were sent."""

LINES = """() => (document.querySelector("#chart-curves .js-plotly-plot")?.data || [])
    .filter(trace => trace.mode === "lines" && !trace.fill).map(trace => trace.y.bdata)"""
TURN = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done))))"
AWAITING = re.compile("awaiting")


def _figure(comparison):
    return draw(charts.break_even_chart(comparison, unsure=unsure_of(comparison)))


def _bands_of(comparison):
    return [trace["y"]["bdata"] for trace in _figure(comparison)["data"] if trace.get("fill") == "toself"]


def _shows_bands_of(view, comparison):
    view.page.wait_for_function(
        f"wanted => JSON.stringify(({BANDS})()) === JSON.stringify(wanted)", arg=_bands_of(comparison)
    )


class Held:
    """Messages on how sure an answer is, kept back until a test lets them go."""

    def __init__(self, page):
        self.page, self.routes = page, []
        page.route(re.compile("/_dash-update-component"), self._keep)

    def _keep(self, route):
        if '"output":"sure-said.data"' in (route.request.post_data or ""):
            self.routes.append(route)
        else:
            route.continue_()

    def wait_for(self, count):
        """Wait until so many have been asked for; the handler runs when this side listens."""
        while len(self.routes) < count:
            self.page.evaluate("1")

    def release(self, number):
        """Let one go, and wait until the page had time to take it."""
        with self.page.expect_response(lambda response: response.request == self.routes[number].request):
            self.routes[number].continue_()
        self.page.evaluate(TURN)


@pytest.fixture
def held(view):
    return Held(view.page)


def test_a_new_page_has_its_bands_and_asks_for_nothing_more(view, watch):
    view.open()
    _shows_bands_of(view, view.engine())
    expect(view.page.locator("#chart-curves")).to_contain_text("shaded: 8 cases in 10")
    expect(view.page.locator("#chart-tornado .main-svg").first).to_be_visible()
    asked = [a for a in watch.answers if "sure-said" in (a.request.post_data or "")]
    assert asked == []


def test_bands_tornado_and_words_follow_a_change(view):
    view.open()
    view.type_into(RUN, "105000")
    c = view.engine(demand__run_length=105_000)
    view.shows(c)
    unsure = unsure_of(c)
    _shows_bands_of(view, c)
    expect(view.page.locator("#panel-answer")).to_contain_text(sure_wording.how_sure(unsure))
    expect(view.page.locator("#panel-answer")).to_contain_text(sure_wording.sure_takeover(unsure))
    expect(view.page.locator("#sure-words")).to_have_text(sure_wording.worth_knowing(unsure))
    expect(view.page.locator("#chart-tornado-words")).to_have_text(tornado_chart(unsure).summary)
    expect(view.page.locator("#sure-table")).to_contain_text("At 105,000 cartons per order")
    expect(view.page.locator("#job-main")).not_to_have_class(AWAITING)


def test_the_line_moves_at_once_without_a_band_and_the_old_answer_fades(view, held):
    """Whoever types sees the line follow; what hangs on the draws is dimmed until it is that of the state on screen."""
    view.open()
    before = view.page.evaluate(LINES)
    view.type_into(RUN, "60000")
    held.wait_for(1)
    view.page.wait_for_function(f"before => JSON.stringify(({LINES})()) !== JSON.stringify(before)", arg=before)
    assert view.page.evaluate(BANDS) == []
    expect(view.page.locator("#job-main")).to_have_class(AWAITING)
    expect(view.page.locator("#panel-answer")).to_have_css("opacity", "0.3")
    expect(view.page.locator("#sure")).to_have_css("opacity", "0.3")
    held.release(0)
    view.shows(view.engine(demand__run_length=60_000))
    _shows_bands_of(view, view.engine(demand__run_length=60_000))
    expect(view.page.locator("#panel-answer")).to_have_css("opacity", "1")


def test_after_quick_typing_no_band_of_the_state_before_stands_beside_the_new_line(view, held):
    view.open()
    first = view.answer.inner_text()
    view.type_into(RUN, "60000")
    held.wait_for(1)
    view.type_into(RUN, "200000")
    held.wait_for(2)
    held.release(0)
    assert view.page.evaluate(BANDS) == []
    expect(view.answer).to_have_text(first)
    expect(view.page.locator("#job-main")).to_have_class(AWAITING)
    held.release(1)
    c = view.engine(demand__run_length=200_000)
    view.shows(c)
    _shows_bands_of(view, c)


def test_a_message_of_another_state_or_of_other_colours_is_dropped(view):
    """The page itself decides, whatever order the answers come in."""
    view.open()
    c = view.engine()
    view.shows(c)
    for key, scheme in (("?demand.run_length=7", "light"), ("", "dark")):
        message = {"key": key, "scheme": scheme, "panel-answer.children": "stale", "job-main.className": "main stale"}
        view.page.evaluate("data => window.dash_clientside.set_props('sure-said', {data})", message)
        view.page.evaluate(TURN)
        view.shows(c)
        expect(view.page.locator("#job-main")).to_have_class("main")
    message = {"key": "", "scheme": "light", "panel-answer.children": "current"}
    view.page.evaluate("data => window.dash_clientside.set_props('sure-said', {data})", message)
    expect(view.page.locator("#panel-answer")).to_have_text("current")  # such a message is taken where it fits


def test_the_same_state_again_gets_its_bands_again(view):
    """A fault mended by the old value leads to the state that is on screen already, and its line is drawn anew."""
    view.open()
    view.type_into("Versions", "0")
    expect(view.number("Versions")).to_have_attribute("aria-invalid", "true")
    view.type_into("Versions", "1")
    expect(view.number("Versions")).not_to_have_attribute("aria-invalid", "true")
    expect(view.page.locator("#job-main")).not_to_have_class(AWAITING)
    _shows_bands_of(view, view.engine())


def test_ranges_that_contradict_one_another_leave_the_point_answer_with_the_reason(view):
    view.open("/?demand.versions=9000")
    view.type_into(LOW, "4000")
    view.type_into(HIGH, "40000")
    panel = view.page.locator("#panel-answer")
    expect(panel).to_contain_text("How sure this is can't be said: 'Versions' is above 'Run length, per order'")
    expect(view.page.locator("#place-tornado")).to_be_hidden()
    expect(view.page.locator("#job-main")).not_to_have_class(AWAITING)
    view.type_into("Versions", "2")
    view.shows(view.engine_of_link())
    expect(view.page.locator("#chart-tornado .main-svg").first).to_be_visible()


# -- what moves the difference ----------------------------------------------------------------------------------------


def _found(view, name):
    view.page.wait_for_url(re.compile(r"/assumptions\?.*find="), wait_until="commit")
    expect(view.page.get_by_label("Search")).to_have_value(name)
    expect(view.page.locator(".ag-pinned-left-cols-container [col-id='name']")).to_contain_text([name])


def test_a_bar_leads_to_its_row_among_the_assumptions_and_the_state_stays(view):
    view.open("/?demand.run_length=105000")
    bars = tornado_chart(unsure_of(view.engine(demand__run_length=105_000))).bars
    # the widest bar is drawn last; its far end is no end of another
    bar = view.page.locator("#chart-tornado .barlayer .trace").last.locator(".point path").last
    bar.scroll_into_view_if_needed()
    box = bar.bounding_box()
    view.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    view.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    _found(view, bars[0].name)
    assert "demand.run_length=105000" in view.search
    view.page.go_back()
    view.shows(view.engine(demand__run_length=105_000))


def test_the_keyboard_reaches_the_row_of_every_bar(view):
    view.open()
    bars = tornado_chart(unsure_of(view.engine())).bars
    links = view.page.locator("#tornado-links a")
    expect(links).to_have_text([bar.label for bar in bars])
    links.nth(2).focus()
    view.page.keyboard.press("Enter")
    _found(view, bars[2].name)
    view.page.get_by_role("link", name="Job", exact=True).click()
    view.shows(view.engine())
    assert "find" not in view.search


def test_the_bars_can_be_those_of_the_draws_and_stay_so_with_the_next_change(view):
    view.open()
    view.switch_to("From the draws")
    expect(view.page.locator("#sure-how")).to_contain_text("lowest and over the highest fifth")
    expect(view.page.locator("#chart-tornado")).to_contain_text("half of the cases")
    view.type_into(RUN, "60000")
    view.shows(view.engine(demand__run_length=60_000))
    expect(view.page.locator("#chart-tornado")).to_contain_text("half of the cases")
    view.switch_to("One at a time")
    expect(view.page.locator("#chart-tornado")).to_contain_text("at the values")


def test_numbers_of_bands_and_bars_download_as_csv(view):
    view.open()
    unsure = unsure_of(view.engine())
    for name, spec in (
        ("tornado", tornado_chart(unsure)),
        ("curves", charts.break_even_chart(unsure.comparison, unsure=unsure)),
    ):
        with view.page.expect_download() as download:
            view.page.get_by_role("button", name=f"CSV of the chart {name}").click()
        content = Path(download.value.path()).read_text(encoding="utf-8")
        assert content == charts.as_csv(spec)
        assert any("EUR per 1,000" in cell for cell in next(csv.reader(io.StringIO(content))))


# -- the range of the run length --------------------------------------------------------------------------------------


def test_a_run_length_that_is_not_settled_widens_what_is_said(view):
    view.open()
    view.type_into(LOW, "10000")
    expect(view.number(HIGH)).to_have_attribute("aria-invalid", "true")
    view.type_into(HIGH, "40000")
    view.link_is("between.demand.run_length=10000..40000")
    expect(view.number(HIGH)).not_to_have_attribute("aria-invalid", "true")
    view.shows(view.engine_of_link())
    expect(view.page.locator("#sure-table")).to_contain_text("From 10,000 to 40,000 cartons per order")
    view.page.reload()
    expect(view.number(LOW)).to_have_value("10,000")
    expect(view.number(HIGH)).to_have_value("40,000")
    view.type_into(LOW, "")
    view.type_into(HIGH, "")
    view.page.wait_for_url(lambda url: "between" not in url, wait_until="commit")
    expect(view.page.locator("#sure-table")).to_contain_text("At 20,000 cartons per order")


def test_a_run_length_outside_its_range_is_refused_beside_its_field_and_nothing_typed_is_lost(view):
    view.open("/?between.demand.run_length=10000..40000")
    last_good = view.answer.inner_text()
    view.type_into(RUN, "60000")
    expect(view.number(RUN)).to_have_attribute("aria-invalid", "true")
    expect(view.page.get_by_text("outside its range, 10,000 to 40,000; change one of them")).to_be_visible()
    expect(view.answer).to_have_text(last_good)
    view.type_into(HIGH, "90000")
    view.link_is("demand.run_length=60000", "between.demand.run_length=10000..90000")
    view.shows(view.engine_of_link())


# -- for everyone -----------------------------------------------------------------------------------------------------

OVERLAPS = """name => {
    const graph = document.querySelector(`#chart-${name} .js-plotly-plot`);
    const frame = graph.getBoundingClientRect();
    const texts = [...graph.querySelectorAll(".annotation-text, .ytick text, .y3tick text, .xtick text, .xtitle, .ytitle")]
        .map(one => [one.textContent, one.getBoundingClientRect()]).filter(([, box]) => box.width > 0);
    const bad = [];
    texts.forEach(([said, a], i) => {
        if (a.left < frame.left - 1 || a.right > frame.right + 1 || a.top < frame.top - 1 || a.bottom > frame.bottom + 1)
            bad.push(`${said} is clipped`);
        for (const [other, b] of texts.slice(i + 1)) {
            const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
            const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
            if (wide > 1 && high > 2) bad.push(`${said} over ${other}`);
        }
    });
    return bad;
}"""
"""Texts of a chart that lie over one another, or reach out of it."""


@pytest.mark.parametrize("size", [WIDE, TABLET], ids=["1360", "820"])
@pytest.mark.parametrize("run", [5_000, 20_000, 105_000, 500_000])
def test_no_text_of_the_charts_lies_over_another(new_view, size, run):
    view = new_view(viewport=size).open(f"/?demand.run_length={run}")
    for name in ("curves", "tornado"):
        expect(view.page.locator(f"#chart-{name} .main-svg").first).to_be_visible()
        view.page.evaluate(TURN)
        assert view.page.evaluate(OVERLAPS, name) == []
    if size is not TABLET:
        view.switch_to("From the draws")
        expect(view.page.locator("#chart-tornado")).to_contain_text("half of the cases")
        view.page.evaluate(TURN)
        assert view.page.evaluate(OVERLAPS, "tornado") == []
    assert view.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_the_card_nor_with_a_message_beside_an_end(new_view, scheme):
    view = new_view()
    view.page.context.add_cookies([{"name": SCHEME_COOKIE, "value": scheme, "url": view.base}])
    view.open("/?demand.run_length=105000")
    expect(view.page.locator("#chart-tornado .main-svg").first).to_be_visible()
    view.type_into(LOW, "4000")
    expect(view.number(HIGH)).to_have_attribute("aria-invalid", "true")
    for size in (WIDE, TABLET):
        view.page.set_viewport_size(size)
        found = Axe().run(view.page).response["violations"]
        assert [(one["id"], [node["html"][:200] for node in one["nodes"]]) for one in found] == []


def test_a_client_sees_how_sure_the_price_is_and_nothing_of_what_moves_it(page, base, settings):
    page.goto(base + make_link(State({"demand.run_length": 105_000.0}), 20, settings))
    from dashboard.state import comparison_of

    c = comparison_of(State({"demand.run_length": 105_000.0}), settings)
    answer = page.locator("#client-answer")
    expect(answer.locator(".answer")).to_have_text(answer_of(c, price_factor=1.25))
    expect(answer).to_contain_text(sure_wording.how_sure(unsure_of(c), price_factor=1.25))
    figure = draw(charts.break_even_chart(c, price_factor=1 / (1 - 0.2), price_word="price", unsure=unsure_of(c)))
    bands = [trace["y"]["bdata"] for trace in figure["data"] if trace.get("fill") == "toself"]
    page.wait_for_function(f"wanted => JSON.stringify(({BANDS})()) === JSON.stringify(wanted)", arg=bands)
    text = page.locator("body").inner_text()
    assert "moves the difference" not in text
    assert "measuring" not in text
    assert "Varied" not in text
