"""The Assumptions view: find a value, change it, see it count, take it back."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from compare.present.numbers import figures


@pytest.fixture
def table(view):
    """The table of a new page, with what a test does to it."""
    return Table(view.open("/assumptions"))


class Table:
    """The grid: one row per assumption."""

    def __init__(self, view):
        self.view, self.page = view, view.page
        self.problem = self.page.locator("#assumption-problem")
        self.count = self.page.locator("#assumption-count")
        self.names = self.page.locator(".ag-pinned-left-cols-container [col-id='name']")
        expect(self.names.first).to_be_visible()

    def find(self, text):
        self.page.get_by_label("Search").fill(text)
        expect(self.names.first).to_contain_text(text)

    def value(self, name):
        return self.cell(name, "value")

    def cell(self, name, column):
        return self.page.locator(f".ag-center-cols-container [row-id='{name}'] [col-id='{column}']")

    def why(self, name):
        """What stands beside the value: what it is, or why what was typed can't be."""
        return self.page.locator(f".ag-center-cols-container [row-id='{name}'] [col-id='meaning']")

    def change(self, name, text, column="value"):
        """Search for a row and type into a cell of it, as a person does."""
        self.find(name)
        self.cell(name, column).click()
        box = self.cell(name, column).locator("input")
        box.fill(text)
        box.press("Enter")


def test_a_search_finds_rows_by_any_of_their_words(table):
    table.page.get_by_label("Search").fill("on-costs")
    expect(table.names).to_have_text(["rates.labour_h"])
    expect(table.page.locator("[row-id='rates.labour_h'] [col-id='unit']")).to_have_text("EUR/h")


def test_a_changed_value_counts_in_the_job_view(table):
    """Labour at 60 instead of 34 an hour: the engine's figures with it, and the link holds it."""
    table.change("rates.labour_h", "60")
    expect(table.count).to_contain_text("1 value differs")
    table.view.link_is("rates.labour_h=60")
    table.page.get_by_role("link", name="Job", exact=True).click()
    table.view.shows(table.view.engine(rates__labour_h=60))


def test_a_value_that_cannot_be_is_refused_beside_its_cell_and_what_was_typed_stays(table):
    table.change("laser.efficiency", "7")
    expect(table.why("laser.efficiency")).to_contain_text("Not changed: Must be at most 1")
    expect(table.why("laser.efficiency")).to_contain_text("Until then 0.1 counts")
    expect(table.value("laser.efficiency")).to_have_text("7")
    expect(table.page.locator("#assumption-heard")).to_contain_text("laser.efficiency is not changed")
    expect(table.count).to_contain_text("0 values differ")
    assert table.view.search == ""


def test_a_refused_value_waits_while_others_are_changed(table):
    """Nothing that was typed is lost: it can be mended after another row, and after the filter was used."""
    table.change("rates.kwh", "cheap")
    expect(table.why("rates.kwh")).to_contain_text("Not changed")
    table.change("rates.labour_h", "60")
    expect(table.count).to_contain_text("1 value differs")
    table.page.get_by_label("Search").fill("")
    table.page.get_by_role("switch", name="Only what I changed").click()
    expect(table.names).to_have_text(["rates.labour_h", "rates.kwh"])
    expect(table.value("rates.kwh")).to_have_text("cheap")


def test_a_value_that_is_no_number_is_refused_and_a_good_one_takes_the_message_away(table):
    table.change("rates.kwh", "cheap")
    expect(table.why("rates.kwh")).to_contain_text("Not changed")
    table.change("rates.kwh", "0.25")
    expect(table.count).to_contain_text("1 value differs")
    expect(table.why("rates.kwh")).not_to_contain_text("Not changed")
    expect(table.page.locator("#assumption-heard")).to_be_empty()


def test_a_value_that_contradicts_the_rest_is_refused(table):
    """Each value may be fine alone; 30,000 versions of 20,000 cartons are not."""
    table.change("demand.versions", "30000")
    expect(table.why("demand.versions")).to_contain_text("Until then 1 counts")
    expect(table.value("demand.versions")).to_have_text("30000")


def test_an_emptied_cell_takes_the_change_back(table):
    table.change("rates.labour_h", "60")
    expect(table.count).to_contain_text("1 value differs")
    table.change("rates.labour_h", "")
    expect(table.count).to_contain_text("0 values differ")
    expect(table.value("rates.labour_h")).to_have_text("34")


def test_only_what_was_changed_is_shown_on_request_and_reset_takes_all_back(table):
    table.change("rates.labour_h", "60")
    expect(table.count).to_contain_text("1 value differs")
    table.page.get_by_label("Search").fill("")
    table.page.get_by_role("switch", name="Only what I changed").click()
    expect(table.names).to_have_text(["rates.labour_h"])
    table.page.get_by_role("button", name="Reset all").click()
    expect(table.count).to_contain_text("0 values differ")
    expect(table.names).to_have_count(0)  # the filter is still on, and nothing is changed any more
    table.page.wait_for_url(table.view.base + "/assumptions", wait_until="commit")


def test_the_machine_hour_rate_helper_works_out_a_rate_that_counts(table):
    """Twice the price of the die cutter: the rate is the formula's, and the figures follow."""
    table.page.get_by_role("textbox", name="Purchase price, EUR").first.fill("2900000")
    table.page.get_by_role("button", name="Work out the die cutter's rate").click()
    table.view.link_is("press_capital.purchase=2900000")
    c = table.view.engine(press_capital__purchase=2_900_000)
    # by hand: (depreciation + interest on the mean capital + space + maintenance) / productive hours
    full = ((2_900_000 - 150_000) / 12 + 0.06 * (2_900_000 + 150_000) / 2 + 90 * 6 * 12 + 0.03 * 2_900_000) / 3_400
    assert c.scenario.inputs.number("rates.press_h") == pytest.approx(full, rel=1e-12)
    row = table.page.locator("#assumption-rates").get_by_role("row", name="Die cutter")
    expect(row).to_contain_text(figures(full))
    table.page.get_by_role("link", name="Job", exact=True).click()
    table.view.shows(c)


def test_another_factor_set_and_country_are_told_with_their_publishers(table):
    table.change("plant.country", "SE")
    factors = table.page.locator("#assumption-factors")
    expect(factors).to_contain_text("Grid SE")
    expect(factors).to_contain_text(table.view.engine(plant__country="SE").scenario.factors["kwh"].label)


CLIPPED = """grid => {
    const inside = grid.getBoundingClientRect();
    const cut = (one) => {
        const text = document.createRange();
        text.selectNodeContents(one);
        const t = text.getBoundingClientRect(), box = one.getBoundingClientRect();
        return t.width > 0 && (t.right > box.right + 1 || t.bottom > box.bottom + 1 || box.right > inside.right + 1);
    };
    return [...grid.querySelectorAll(".ag-header-cell-text, .ag-cell")].filter(cut).map(one => one.textContent);
}"""
"""Texts of the grid's heads and cells that reach out of their cell, or whose cell reaches out of the grid."""


@pytest.mark.parametrize("wanted", ["", "severance", "maintenance_share", "rule_height", "kerf_biogenic", "die.life"])
def test_every_column_can_be_read_on_a_common_laptop(new_view, wanted):
    """1440 px: what it is and where it is from must not have to be looked for; these rows hold the longest texts."""
    table = Table(new_view(viewport={"width": 1440, "height": 900}).open("/assumptions"))
    if wanted:
        table.find(wanted)
    grid = table.page.locator(".ag-root-wrapper")
    expect(grid.locator(".ag-header-cell-text")).to_have_text(
        ["Name", "Value", "Low", "High", "Shape", "Unit", "What it is", "Usual range", "Basis", "Source", "New page"]
    )
    table.page.wait_for_function(f"({CLIPPED})(document.querySelector('.ag-root-wrapper')).length === 0")


def test_messages_of_the_assumptions_move_nothing(table):
    """A refusal stands in the row; the grid around it stays as it is."""
    before = table.page.locator("#assumption-grid").bounding_box()
    table.change("laser.efficiency", "7")
    expect(table.why("laser.efficiency")).to_contain_text("Not changed")
    assert table.page.locator("#assumption-grid").bounding_box() == before


def test_places_for_messages_take_no_room_while_they_are_empty(view):
    """They stay where a screen reader listens, so they may not be taken out of the page instead."""
    view.open("/assumptions")
    intro = view.page.get_by_text("Every input with its unit").bounding_box()
    card = view.page.locator("#assumption-search").locator("xpath=ancestor::*[contains(@class, 'card')][1]")
    assert card.bounding_box()["y"] - (intro["y"] + intro["height"]) < 30
    expect(view.page.locator("#assumption-problem")).not_to_have_css("display", "none")


def test_a_refusal_speaks_in_the_plants_currency(table):
    table.change("rates.labour_h", "-1")
    expect(table.why("rates.labour_h")).to_contain_text("give a number from 0 in EUR/h")


def test_a_value_of_a_machine_that_cannot_be_is_refused_beside_its_field(table):
    life = table.page.get_by_role("textbox", name="Life, y").first
    life.fill("0")
    life.press("Tab")
    table.page.get_by_role("button", name="Work out the die cutter's rate").click()
    expect(life).to_have_attribute("aria-invalid", "true")
    named = life.get_attribute("aria-describedby").split()
    error = table.page.locator(",".join(f"[id='{name}']" for name in named if name.endswith("error")))
    expect(error).to_contain_text("give a number above 0")
    expect(table.problem).to_be_empty()
    assert table.view.search == ""
    life.fill("10")
    table.page.get_by_role("button", name="Work out the die cutter's rate").click()
    table.view.link_is("press_capital.life_y=10")
    expect(life).not_to_have_attribute("aria-invalid", "true")


def test_values_are_written_and_read_the_readers_way(new_view):
    """1.450.000,5 in German; what was typed with a point still counts as it would in a file."""
    table = Table(new_view(locale="de-DE").open("/assumptions"))
    table.find("press_capital.purchase")
    expect(table.value("press_capital.purchase")).to_have_text("1.450.000")
    table.change("press_capital.purchase", "1.500.000,5")
    table.view.link_is("press_capital.purchase=1500000.5")
    expect(table.value("press_capital.purchase")).to_have_text("1.500.000,5")
    table.change("rates.kwh", "0.25")
    table.view.link_is("rates.kwh=0.25")
    expect(table.value("rates.kwh")).to_have_text("0,25")
    expect(table.page.get_by_role("textbox", name="Purchase price, EUR").first).to_have_value("1.450.000")


def test_in_us_units_the_assumptions_say_that_they_stay_si(view):
    view.open("/assumptions")
    view.switch_to("US units")
    expect(view.page.get_by_text("as they are stored, in SI units")).to_be_visible()


# -- ranges -----------------------------------------------------------------------------------------------------------


def test_cells_of_a_range_show_what_is_varied(table):
    """The plant gave labour between 32 and 37; electricity it gave without a range."""
    table.find("rates.labour_h")
    for column, text in (("low", "32"), ("high", "37"), ("shape", "triangular")):
        expect(table.cell("rates.labour_h", column)).to_have_text(text)
    table.find("rates.kwh")
    expect(table.cell("rates.kwh", "low")).to_be_empty()


def test_a_changed_end_counts_in_the_job_view(table):
    table.change("rates.labour_h", "45", "high")
    expect(table.count).to_contain_text("0 values and 1 range differ")
    table.view.link_is("between.rates.labour_h=32..45")
    table.page.get_by_role("link", name="Job", exact=True).click()
    table.view.shows(table.view.engine_of_link())


def test_one_end_waits_for_the_other_beside_its_cell(table):
    table.change("rates.kwh", "0.15", "low")
    expect(table.why("rates.kwh")).to_contain_text("give the other end, too")
    expect(table.cell("rates.kwh", "low")).to_have_text("0.15")
    assert table.view.search == ""
    table.change("rates.kwh", "0.3", "high")
    table.view.link_is("between.rates.kwh=0.15..0.3")
    expect(table.cell("rates.kwh", "shape")).to_have_text("triangular")
    expect(table.why("rates.kwh")).not_to_contain_text("Not changed")


def test_a_shape_is_picked_or_typed_with_its_number(table):
    """The editor of the cell is the page's own, and holds to the same strict policy as the rest."""
    table.change("rates.labour_h", "pert", "shape")
    table.view.link_is("between.rates.labour_h=32..37+pert")
    table.cell("rates.labour_h", "shape").click()
    editor = table.page.get_by_role("combobox", name="Shape")
    expect(editor).to_be_focused()
    assert table.page.locator("#evenrun-shapes option").evaluate_all("all => all.map(one => one.value)") == [
        "triangular", "pert", "lognormal", "fixed",
    ]  # fmt: skip
    editor.fill("lognormal 1.2")
    editor.press("Enter")
    table.view.link_is("between.rates.labour_h=lognormal+1.2")
    expect(table.cell("rates.labour_h", "low")).to_have_text("28.33")  # 34 / 1.2
    expect(table.cell("rates.labour_h", "high")).to_have_text("40.8")


def test_a_shape_without_its_number_is_refused_beside_its_cell_and_stays(table):
    table.change("rates.labour_h", "lognormal", "shape")
    expect(table.why("rates.labour_h")).to_contain_text("lognormal without a measure of its width")
    expect(table.why("rates.labour_h")).to_contain_text("Until then 32 to 37, triangular, counts")
    expect(table.cell("rates.labour_h", "shape")).to_have_text("lognormal")


def test_a_value_outside_the_range_that_was_given_for_it_is_refused(table):
    table.change("rates.labour_h", "30", "low")
    table.view.link_is("between.rates.labour_h=30..37")
    table.change("rates.labour_h", "60")
    expect(table.why("rates.labour_h")).to_contain_text("outside its range from 30 to 37")
    expect(table.value("rates.labour_h")).to_have_text("60")


def test_an_emptied_end_takes_the_range_back_and_reset_all_of_them(table):
    table.change("rates.labour_h", "45", "high")
    expect(table.count).to_contain_text("1 range")
    table.change("rates.labour_h", "", "high")
    expect(table.count).to_have_text("0 values differ from a new page.")
    expect(table.cell("rates.labour_h", "high")).to_have_text("37")
    table.change("rates.labour_h", "46", "high")
    expect(table.count).to_contain_text("1 range")
    table.page.get_by_label("Search").fill("")
    table.page.get_by_role("switch", name="Only what I changed").click()
    expect(table.names).to_have_text(["rates.labour_h"])
    table.page.get_by_role("button", name="Reset all").click()
    expect(table.count).to_have_text("0 values differ from a new page.")


def test_a_range_that_nothing_can_take_into_account_is_refused(table):
    """A view must not hold a range that no answer counts."""
    table.change("carton.length_mm", "70..80", "shape")
    expect(table.why("carton.length_mm")).to_contain_text("Can't have a range here")
    assert table.view.search == ""
