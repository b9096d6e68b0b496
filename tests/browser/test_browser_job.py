"""The Job view: what is typed changes the answer, what is wrong says so where it is wrong, and nothing is lost."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from playwright.sync_api import expect

from compare.present import charts, sure_wording
from compare.present.numbers import NumberStyle

from .pages import unsure_of

RUN = "Run length, per order"
START = 20_000
"""Run length of a new page."""


def _error_of(view, label):
    """The message that belongs to a field: the one its input names as its error."""
    field = view.number(label)
    expect(field).to_have_attribute("aria-invalid", "true")
    named = field.get_attribute("aria-describedby").split()
    return view.page.locator(",".join(f"[id='{name}']" for name in named if name.endswith("error")))


def test_the_answer_changes_with_the_run_length(view):
    """The job the dashboard is for; the figures are the engine's own, to the last digit shown."""
    view.open().shows(view.engine())
    view.type_into(RUN, "200000")
    after = view.engine(demand__run_length=200_000)
    view.shows(after)
    assert (view.engine().cheaper, after.cheaper) == ("laser", "die")


def test_every_panel_and_chart_follows_a_change(view):
    view.open()
    view.type_into(RUN, "200000")
    c = view.engine(demand__run_length=200_000)
    view.shows(c)
    for panel, measure in (("carbon", "co2e"), ("waste", "waste")):
        gap = unsure_of(c).at_quote[measure]["difference"]
        expect(view.page.locator(f"#panel-{panel} .large")).to_have_text(sure_wording.sure_difference(gap, "kg"))
    expect(view.page.locator("#chart-curves-words")).to_have_text(charts.break_even_chart(c).summary)
    expect(view.page.locator("#chart-stages-words")).to_have_text(charts.stage_chart(c).summary)
    expect(view.page.locator("#chart-map-words")).to_have_text(charts.advantage_map(c).summary)
    expect(view.page.locator("#chart-curves")).to_contain_text("200,000 quoted")


def test_another_country_moves_carbon_and_leaves_money(view):
    """The grid's factor goes into kilowatt-hours, and into nothing that is paid."""
    view.open()
    money = view.answer.inner_text()
    view.choose("Country of the grid", "FR")
    c = view.engine(plant__country="FR")
    expect(view.page.locator("#panel-carbon")).to_contain_text(
        sure_wording.sure_difference(unsure_of(c).at_quote["co2e"]["difference"], "kg")
    )
    assert c.laser.co2e_per_1000 < view.engine().laser.co2e_per_1000
    expect(view.answer).to_have_text(money)


def test_another_style_is_drawn_anew(view):
    view.open()
    before = view.page.locator("#chart-outline .scatterlayer path.js-line").first.get_attribute("d")
    view.choose("Carton", "sleeve")
    c = view.engine(carton__style="sleeve")
    view.shows(c)
    expect(view.page.locator("#chart-outline-words")).to_have_text(charts.outline_chart(c.scenario.blank).summary)
    expect(view.page.locator("#chart-outline .scatterlayer path.js-line").first).not_to_have_attribute("d", before)


def test_cash_costing_changes_the_money(view):
    view.open()
    view.switch_to("Cash costing")
    view.shows(view.engine(costing="cash"))
    view.link_is("costing=cash")
    view.switch_to("Full costing")
    view.shows(view.engine())


# -- what is wrong ----------------------------------------------------------------------------------------------------


def test_no_versions_at_all_is_said_beside_the_field(view):
    view.open()
    last_good = view.answer.inner_text()
    view.type_into("Versions", "0")
    expect(_error_of(view, "Versions")).to_contain_text("at least 1")
    expect(view.answer).to_have_text(last_good)
    expect(view.number("Versions")).to_have_value("0")


def test_an_emptied_number_is_asked_for_beside_the_field(view):
    view.open()
    last_good = view.answer.inner_text()
    view.type_into("L, mm", "")
    expect(_error_of(view, "L, mm")).to_contain_text("give a number in mm")
    expect(view.answer).to_have_text(last_good)
    view.type_into("L, mm", "90")
    view.shows(view.engine(carton__length_mm=90))
    expect(view.number("L, mm")).not_to_have_attribute("aria-invalid", "true")


def test_more_versions_than_cartons_is_refused_and_what_was_typed_stays(view):
    """No single field is wrong, so the message stands above the answer, which stays the last good one."""
    view.open()
    last_good = view.answer.inner_text()
    view.type_into("Versions", "30000")
    problem = view.page.locator("#problem").get_by_role("alert")
    expect(problem).to_contain_text("Not computed")
    expect(problem).to_contain_text("'Versions' is above 'Run length, per order'")  # by the names on screen
    expect(view.answer).to_have_text(last_good)
    expect(view.number("Versions")).to_have_value("30,000")
    view.type_into("Versions", "3")
    view.shows(view.engine(demand__versions=3))
    expect(view.page.locator("#problem")).to_be_empty()


def test_a_carton_larger_than_the_sheet_is_refused_and_what_was_typed_stays(view):
    view.open()
    last_good = view.answer.inner_text()
    view.type_into("H, mm", "2000")
    expect(view.page.locator("#problem").get_by_role("alert")).to_contain_text("sheet")
    expect(view.answer).to_have_text(last_good)
    expect(view.number("H, mm")).to_have_value("2,000")


def test_an_input_beside_a_wrong_one_is_not_lost(view):
    """While one field is wrong nothing is computed; what others were given meanwhile counts afterwards."""
    view.open()
    view.type_into("Versions", "0")
    expect(view.number("Versions")).to_have_attribute("aria-invalid", "true")
    view.type_into(RUN, "50000")
    view.type_into("Versions", "2")
    view.shows(view.engine(demand__versions=2, demand__run_length=50_000))
    expect(view.number(RUN)).to_have_value("50,000")


def test_a_laminate_no_beam_may_burn_leaves_the_die_and_says_why(view):
    """Hydrogen chloride from PVC: the laser is not offered, and its curve is gone."""
    view.open()
    view.choose("Laminate", "PVC")
    view.shows(view.engine(board__laminate="pvc"))
    expect(view.answer).to_contain_text("Only the die")
    expect(view.page.locator("#panel-remarks")).to_contain_text("hydrogen chloride")
    expect(view.page.locator("#place-map")).to_be_hidden()


# -- groups of fields -------------------------------------------------------------------------------------------------


def test_going_over_to_lengths_keeps_the_figures_and_fills_the_fields(view):
    """The lengths are those of the style that was on screen, so that a part of them can be corrected."""
    view.open()
    before = view.answer.inner_text()
    view.choose("Carton", "from its lengths")
    x = view.engine().scenario.inputs
    expect(view.number("Cutting, m")).to_have_value(f"{x.number('work.cutting_m'):.6f}")
    expect(view.answer).to_have_text(before)
    expect(view.page.locator("#no-outline")).to_be_visible()
    expect(view.page.locator("#place-outline")).to_be_hidden()
    view.type_into("Cutting, m", "2.5")
    expect(view.answer).not_to_have_text(before)
    view.shows(view.engine_of_link())


def test_going_over_to_an_own_board_keeps_the_figures_and_fills_the_fields(view):
    view.open()
    before = view.answer.inner_text()
    view.choose("Board", "own values")
    expect(view.number("Grammage, g/m2")).to_have_value("300")
    expect(view.answer).to_have_text(before)
    view.type_into("Price, EUR/t", "1500")
    expect(view.answer).not_to_have_text(before)
    view.shows(view.engine_of_link())


# -- the reader's units, language and colours -------------------------------------------------------------------------


def test_us_units_change_no_figure_and_keep_what_was_typed(view):
    view.open()
    view.type_into(RUN, "30000")
    view.type_into("L, mm", "101.6")
    view.shows(view.engine(demand__run_length=30_000, carton__length_mm=101.6))
    before = view.answer.inner_text(), view.search
    view.switch_to("US units")
    expect(view.number("L, in")).to_have_value("4")  # 101.6 mm at 25.4 mm to the inch
    expect(view.number(RUN)).to_have_value("30,000")
    expect(view.answer).to_have_text(before[0])
    view.type_into("L, in", "5")
    view.shows(view.engine(demand__run_length=30_000, carton__length_mm=127.0))
    view.switch_to("metric")
    expect(view.number("L, mm")).to_have_value("127")


def test_us_units_reach_the_drawing(view):
    view.open()
    blank = view.engine().scenario.blank
    expect(view.page.locator("#chart-outline-words")).to_have_text(charts.outline_chart(blank).summary)
    view.switch_to("US units")
    inches = charts.outline_chart(blank, inches=True)
    expect(view.page.locator("#chart-outline-words")).to_have_text(inches.summary)
    _, content = _download(view, "CSV of the chart outline")
    assert content.decode() == charts.as_csv(inches)


def test_us_units_are_kept_for_the_next_visit(view):
    view.open()
    view.switch_to("US units")
    expect(view.number("L, in")).to_be_visible()
    view.open("/")
    expect(view.number("L, in")).to_have_value("2.953")  # 75 mm at 25.4 mm to the inch
    view.shows(view.engine())


def test_a_german_reader_gets_points_between_thousands_and_decimal_commas(new_view):
    german = NumberStyle(decimal=",", group=".")
    view = new_view(locale="de-DE").open()
    expect(view.number(RUN)).to_have_value("20.000")
    view.shows(view.engine(), german)
    expect(view.page.locator("#chart-curves")).to_contain_text("20.000 quoted")
    view.type_into(RUN, "30.500")
    view.shows(view.engine(demand__run_length=30_500), german)
    view.type_into("L, mm", "80,5")
    view.shows(view.engine(demand__run_length=30_500, carton__length_mm=80.5), german)


def test_dark_colours_reach_page_and_charts_and_stay(view):
    view.open()
    light = view.page.evaluate("getComputedStyle(document.body).backgroundColor")
    view.switch_to("dark")
    expect(view.page.locator("html")).to_have_attribute("data-mantine-color-scheme", "dark")
    expect(view.page.locator("#chart-curves .bglayer, #chart-curves svg.main-svg").first).to_have_css(
        "background-color", "rgb(30, 37, 46)"
    )
    assert view.page.evaluate("getComputedStyle(document.body).backgroundColor") != light
    view.open("/cases")
    expect(view.page.locator("html")).to_have_attribute("data-mantine-color-scheme", "dark")


# -- what is taken away -----------------------------------------------------------------------------------------------


def _download(view, button):
    with view.page.expect_download() as download:
        view.page.get_by_role("button", name=button).click()
    return download.value.suggested_filename, Path(download.value.path()).read_bytes()


def test_the_numbers_of_every_chart_download_as_csv_with_their_units(view):
    view.open()
    view.type_into(RUN, "30000")
    c = view.engine(demand__run_length=30_000)
    view.shows(c)
    specs = {
        "curves": charts.break_even_chart(c, unsure=unsure_of(c)),
        "stages": charts.stage_chart(c),
        "map": charts.advantage_map(c),
        "outline": charts.outline_chart(c.scenario.blank),
    }
    for name, spec in specs.items():
        file, content = _download(view, f"CSV of the chart {name}")
        assert file == f"evenrun-{name}.csv"
        assert content.decode() == charts.as_csv(spec)
        header = next(csv.reader(io.StringIO(content.decode())))
        assert any("EUR per 1,000" in cell or cell.endswith(", mm") for cell in header)


def test_every_chart_downloads_as_a_picture(view):
    view.open()
    for name, said in (("curves", "steel-rule die"), ("stages", "tooling"), ("map", "laser"), ("outline", "creasing")):
        expect(view.page.locator(f"#chart-{name} .main-svg").first).to_be_visible()
        file, content = _download(view, f"PNG of the chart {name}")
        assert (file, content[:8]) == (f"evenrun-{name}.png", b"\x89PNG\r\n\x1a\n")
        file, content = _download(view, f"SVG of the chart {name}")
        assert (file, content[:4]) == (f"evenrun-{name}.svg", b"<svg")
        assert said in content.decode()


def test_no_chart_offers_to_send_itself_anywhere(view):
    """Plotly's own buttons can post a figure, with a plant's costs in it, to a maker's server."""
    view.open()
    expect(view.page.locator("#chart-outline .main-svg").first).to_be_visible()
    assert view.page.locator(".modebar-btn").count() == 0
    expect(view.page.get_by_text(re.compile("share chart|edit in", re.IGNORECASE))).to_have_count(0)


def test_every_line_behind_the_figures_can_be_read(view):
    """They are fetched when they are opened, for the state on screen; lines of nothing are left out."""
    view.open()
    view.type_into(RUN, "30000")
    c = view.engine(demand__run_length=30_000)
    view.shows(c)
    view.page.get_by_role("button", name="Why: every line behind the figures").click()
    rows = view.page.locator("#ledger tbody tr")
    expect(rows).to_have_count(len([row for row in c.ledger if row.quantity]))
    expect(view.page.locator("#ledger")).to_contain_text(c.ledger[0].because)


def test_help_lies_over_the_page_while_a_field_is_used(view):
    """What an input is, its unit and its usual range, without moving anything."""
    view.open()
    field = view.number("Printed sheet, EUR/sheet")
    field.scroll_into_view_if_needed()
    box = field.bounding_box()
    field.focus()
    help_text = view.page.get_by_text(re.compile(r"What a printed sheet has cost.*Usually 0\.05 to 0\.4"))
    expect(help_text).to_be_visible()
    assert field.bounding_box() == box
    expect(field).to_have_accessible_description(re.compile("What a printed sheet has cost"))


# -- nothing jumps ----------------------------------------------------------------------------------------------------

SHIFTS = """new PerformanceObserver(list => {
    for (const one of list.getEntries()) (window.shifts ||= []).push(
        [one.value, ...one.sources.map(source => source.node?.id || source.node?.className || "")]);
}).observe({type: "layout-shift", buffered: true})"""
"""Collects what moved without being moved, also right after an input, which the browser's own score forgives."""

SETTLED = """() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(() => {
    const moved = (window.shifts || []).filter(one => one[0] > 0.001);
    window.shifts = [];
    done(moved);
}))))"""
"""Two frames and one turn later, what was drawn has been reported."""


def test_the_page_keeps_the_place_of_its_charts_until_they_are_drawn(view):
    view.page.add_init_script(SHIFTS)
    view.open()
    for name in ("curves", "stages", "map", "outline"):
        expect(view.page.locator(f"#chart-{name} .main-svg").first).to_be_attached()
    assert view.page.evaluate(SETTLED) == []


def test_nothing_jumps_when_inputs_change_or_are_wrong(view):
    view.page.add_init_script(SHIFTS)
    view.open()
    expect(view.page.locator("#chart-outline .main-svg").first).to_be_attached()
    view.page.evaluate(SETTLED)
    for run in (500, 200_000, 1_000_000):
        view.type_into(RUN, str(run))
        view.shows(view.engine(demand__run_length=run))
        assert view.page.evaluate(SETTLED) == []
    view.choose("Carton", "sleeve")
    view.shows(view.engine(demand__run_length=1_000_000, carton__style="sleeve"))
    assert view.page.evaluate(SETTLED) == []
    below = view.number("Years").bounding_box()
    view.type_into("Versions", "0")
    expect(_error_of(view, "Versions")).to_be_visible()
    assert view.page.evaluate(SETTLED) == []
    assert view.number("Years").bounding_box() == below
    view.type_into("Versions", "2000000")
    expect(view.page.locator("#problem").get_by_role("alert")).to_be_in_viewport()
    assert view.page.evaluate(SETTLED) == []


def test_a_call_that_takes_long_shows_that_it_is_on_its_way(view):
    """The line in the page's head is drawn by the style sheet; what reads the page aloud is told as well."""
    view.open()
    html, content = view.page.locator("html"), view.page.locator("#content")
    expect(html).not_to_have_class(re.compile("busy"))
    held = []
    view.page.route(re.compile("/health$"), lambda route: held.append(route))  # noqa: PLW0108 - Playwright marks it
    view.page.evaluate("() => { window.fetch('/health'); }")
    expect(html).to_have_class(re.compile("busy"))
    expect(content).to_have_attribute("aria-busy", "true")
    while not held:  # the handler runs when this side listens
        view.page.evaluate("1")
    for one in held:
        one.continue_()
    expect(html).not_to_have_class(re.compile("busy"))
    expect(content).to_have_attribute("aria-busy", "false")
