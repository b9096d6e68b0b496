"""The seconds of a sheet in the Job view: parts that add up, and the sheet drawn and played head by head.

Playing runs on the browser's own clock; here it is told a later time instead of being waited for.
"""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from compare.present.charts import as_csv
from compare.present.sheet_charts import no_path, path_chart, seconds_chart
from compare.present.sheet_seconds import why_longer
from compare.routes.sheet_time import sheet_time
from dashboard.reader import SCHEME_COOKIE

from .pages import TABLET

RUN = "Run length, per order"
TICK = "seconds => window.dash_clientside.evenrun.sheet.tick(performance.now() + 1000 * seconds)"
MARKED = """() => {
    const traces = document.querySelector("#chart-path .js-plotly-plot").data;
    return traces.filter(trace => trace.meta?.role === "marked").map(trace => trace.x.length);
}"""
"""How many points every head has marked."""


def _thumb(view):
    return view.page.get_by_role("slider", name="Moment of the sheet")


def _open_path(view):
    view.page.get_by_role("button", name="The sheet, head by head").click()
    expect(view.page.locator("#chart-path .main-svg").first).to_be_visible()
    expect(view.page.locator("#path-now")).to_contain_text("strokes marked")
    return view


def _done_of(view):
    """How many strokes are marked, and of how many."""
    return [int(n) for n in re.search(r"(\d+) of (\d+) strokes", view.page.locator("#path-now").inner_text()).groups()]


def test_the_bar_shows_every_part_and_the_parts_add_up(view):
    view.open()
    scenario = view.engine().scenario
    chart = seconds_chart(scenario)
    expect(view.page.locator("#seconds-words")).to_have_text(why_longer(sheet_time(scenario.inputs)))
    for part in chart.parts:
        expect(view.page.locator("#chart-seconds")).to_contain_text(part.label)
        expect(view.page.locator("#chart-seconds")).to_contain_text(f"{part.seconds:.4f}")
    view.page.get_by_role("button", name="Why: every part of the seconds").click()
    rows = view.page.locator("#seconds-parts tbody tr")
    expect(rows).to_have_count(len(chart.parts) + 1)
    *parts, total = (float(row.locator("td").nth(1).inner_text()) for row in rows.all())
    assert sum(parts) == pytest.approx(total, abs=len(parts) * 0.00005)  # each is rounded to a tenth of a millisecond
    expect(rows.first.locator("td").nth(2)).to_have_text(chart.parts[0].because)


def test_the_seconds_follow_a_change_of_the_job(view):
    view.open()
    view.choose("Laser heads move", "along axes")
    c = view.engine(laser__motion="axes")
    view.shows(c)
    expect(view.page.locator("#seconds-words")).to_have_text(why_longer(sheet_time(c.scenario.inputs)))
    expect(view.page.locator("#chart-seconds-words")).to_have_text(seconds_chart(c.scenario).summary)
    expect(view.page.locator("#chart-seconds")).to_contain_text("slowing down")


def test_opening_the_sheet_draws_every_head(view, watch):
    """The path is large beside the answer, so it comes when it is asked for, and not before."""
    view.open()
    expect(view.page.locator("#chart-seconds .main-svg").first).to_be_visible()
    asked = len(
        [a for a in watch.answers if a.request.method == "POST" and "path-asked" in (a.request.post_data or "")]
    )
    assert asked == 0
    _open_path(view)
    chart = path_chart(view.engine().scenario)
    expect(view.page.locator("#chart-path-words")).to_have_text(chart.summary)
    for head in chart.heads:
        expect(view.page.locator("#chart-path .annotation", has_text=f"head {head.number}")).to_be_visible()
    strokes = sum(len(head.strokes) for head in chart.heads)
    assert _done_of(view) == [strokes, strokes]


def test_moving_the_scrubber_takes_the_sheet_back_and_says_where_it_is(view):
    """By keyboard alone; who does not see the picture hears the moment in words."""
    _open_path(view.open())
    whole = view.page.evaluate(MARKED)
    thumb = _thumb(view)
    thumb.press("Home")
    now = view.page.locator("#path-now")
    expect(now).to_have_text(re.compile(r"^0 of \d+ ms: 0 of \d+ strokes marked$"))
    expect(thumb).to_have_attribute("aria-valuetext", now.inner_text())
    view.page.wait_for_function(f"() => Math.max(...({MARKED})()) <= 1")
    thumb.press("ArrowRight")
    expect(now).not_to_have_text(re.compile("^0 of"))
    thumb.press("End")
    view.page.wait_for_function(f"whole => JSON.stringify(({MARKED})()) === JSON.stringify(whole)", arg=whole)
    done, all_strokes = _done_of(view)
    assert done == all_strokes


def test_nothing_plays_unless_it_is_asked_to_and_playing_runs_to_the_end(view):
    _open_path(view.open())
    button = view.page.locator("#path-play")
    expect(button).to_have_text("Play")
    assert view.page.evaluate("window.dash_clientside.evenrun.sheet.run") is None
    _thumb(view).press("Home")
    expect(view.page.locator("#path-now")).to_have_text(re.compile("^0 of"))
    button.click()
    expect(button).to_have_text("Pause")
    view.page.evaluate(TICK, 3600)
    expect(button).to_have_text("Play")
    expect(view.page.locator("#path-now")).to_have_text(re.compile(r"^(\d+) of \1 ms: (\d+) of \2 strokes marked$"))
    assert view.page.evaluate("window.dash_clientside.evenrun.sheet.run") is None
    expect(_thumb(view)).to_have_attribute("aria-valuenow", "1000")


def test_the_scrubber_can_go_anywhere_after_the_sheet_was_played(view):
    """Playing moves the slider as well; what someone does with it afterwards must not be taken for that."""
    _open_path(view.open())
    whole = view.page.evaluate(MARKED)
    view.page.locator("#path-play").click()
    expect(view.page.locator("#path-play")).to_have_text("Pause")
    view.page.evaluate(TICK, 3600)
    expect(_thumb(view)).to_have_attribute("aria-valuenow", "1000")
    _thumb(view).press("Home")
    view.page.wait_for_function(f"() => Math.max(...({MARKED})()) <= 1")
    _thumb(view).press("End")
    view.page.wait_for_function(f"whole => JSON.stringify(({MARKED})()) === JSON.stringify(whole)", arg=whole)


def test_pausing_holds_the_moment(view):
    _open_path(view.open())
    view.page.evaluate("window.requestAnimationFrame = () => 0")  # no time passes but by the ticks below
    button = view.page.locator("#path-play")
    button.click()
    expect(button).to_have_text("Pause")
    view.page.evaluate(TICK, 4)  # played ten times slower than it is cut
    button.click()
    expect(button).to_have_text("Play")
    held = view.page.evaluate("window.dash_clientside.evenrun.sheet.shown")
    assert (
        0.4
        <= held
        < 0.5
        < view.page.evaluate("document.querySelector('#chart-path .js-plotly-plot').layout.meta.total_s")
    )
    view.page.evaluate(TICK, 3600)
    assert view.page.evaluate("window.dash_clientside.evenrun.sheet.shown") == held


def test_another_job_is_drawn_anew_while_the_sheet_is_open(view):
    _open_path(view.open())
    _thumb(view).press("Home")
    view.choose("Carton", "sleeve")
    chart = path_chart(view.engine(carton__style="sleeve").scenario)
    expect(view.page.locator("#chart-path-words")).to_have_text(chart.summary)
    strokes = sum(len(head.strokes) for head in chart.heads)
    expect(view.page.locator("#path-now")).to_contain_text(f"{strokes} of {strokes} strokes marked")
    expect(_thumb(view)).to_have_attribute("aria-valuenow", "1000")


def test_an_estimate_shows_its_bar_and_says_why_there_is_no_sheet_to_draw(view):
    view.open()
    view.page.get_by_role("button", name="The sheet, head by head").click()
    view.choose("Seconds per sheet", "estimated")
    c = view.engine(laser__path="estimated")
    expect(view.page.locator("#path-none")).to_have_text(no_path(c.scenario))
    expect(view.page.locator("#path-drawn")).to_be_hidden()
    expect(view.page.locator("#chart-seconds-words")).to_have_text(seconds_chart(c.scenario).summary)


def test_a_job_that_no_beam_may_cut_has_no_seconds(view):
    view.open()
    view.choose("Laminate", "PVC")
    expect(view.page.locator("#seconds-words")).to_contain_text("can't make this job")
    expect(view.page.locator("#place-seconds")).to_be_hidden()
    expect(view.page.locator("#seconds-more")).to_be_hidden()


def test_both_charts_of_a_sheet_download_as_csv(view):
    _open_path(view.open())
    scenario = view.engine().scenario
    for name, spec in (("seconds", seconds_chart(scenario)), ("path", path_chart(scenario))):
        with view.page.expect_download() as download:
            view.page.get_by_role("button", name=f"CSV of the chart {name}").click()
        assert download.value.suggested_filename == f"evenrun-{name}.csv"
        content = Path(download.value.path()).read_text(encoding="utf-8")
        assert content == as_csv(spec)
        assert next(csv.reader(io.StringIO(content)))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_open_sheet(new_view, scheme):
    view = new_view()
    view.page.context.add_cookies([{"name": SCHEME_COOKIE, "value": scheme, "url": view.base}])
    _open_path(view.open())
    view.page.get_by_role("button", name="Why: every part of the seconds").click()
    expect(view.page.locator("#seconds-parts table")).to_be_visible()
    for size in (None, TABLET):
        if size:
            view.page.set_viewport_size(size)
        found = Axe().run(view.page, {"include": [[".card:has(#seconds-words)"]]}).response["violations"]
        assert [(one["id"], node["html"][:200]) for one in found for node in one["nodes"]] == []
