"""The Cases view: saved cases side by side, first what differs in their inputs."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from compare.present.numbers import figures


def _save(view, name):
    view.page.get_by_label("Name of this case").fill(name)
    view.page.get_by_role("button", name="Save as a case").click()
    expect(view.page.locator("#done")).to_have_text(f'Saved as "{name}"')


SAVED = """[{"name": "as it is", "link": "", "saved": ""},
    {"name": "two, in Sweden", "link": "?demand.versions=2&plant.country=SE", "saved": ""}]"""


@pytest.fixture
def two_cases(view):
    """A new page, and two versions of it in Sweden, in a browser where they were saved before."""
    view.open("/cases")
    view.page.evaluate("saved => localStorage.setItem('cases', saved)", SAVED)
    view.page.reload()
    expect(view.page.get_by_role("heading", name="What comes out")).to_be_visible()
    return view


def test_cases_saved_in_the_job_view_stand_side_by_side(view):
    view.open()
    _save(view, "as it is")
    view.type_into("Versions", "2")
    view.choose("Country of the grid", "SE")
    view.link_is("demand.versions=2", "plant.country=SE")
    _save(view, "two, in Sweden")
    view.page.get_by_role("link", name="Cases").click()
    expect(view.page.locator("#case-table thead th")).to_have_text(["case", "as it is", "two, in Sweden"] * 2)


def test_two_cases_show_first_what_differs_in_their_inputs_and_nothing_else(two_cases):
    headings = two_cases.page.locator("#case-table h2")
    expect(headings).to_have_text(["What differs in the inputs", "What comes out"])
    inputs = two_cases.page.locator("#case-table table").first
    expect(inputs.locator("thead th")).to_have_text(["case", "as it is", "two, in Sweden"])
    # the grid's factor is no input of the page, but what the country stands for
    expect(inputs.locator("tbody td:first-child")).to_have_text(
        ["demand.versions", "plant.country", re.compile("factors.kwh")]
    )
    expect(inputs.get_by_role("row", name="demand.versions").locator("td")).to_have_text(["demand.versions", "1", "2"])
    expect(inputs.get_by_role("row", name="plant.country").locator("td")).to_have_text(["plant.country", "DE", "SE"])


def test_two_cases_show_what_the_engine_says_of_each(two_cases):
    one, two = two_cases.engine(), two_cases.engine(demand__versions=2, plant__country="SE")
    results = two_cases.page.locator("#case-table table").nth(1)
    for label, value in (
        ("die, EUR per 1,000", lambda c: c.die.cost_per_1000),
        ("laser, kg CO2e per 1,000", lambda c: c.laser.co2e_per_1000),
    ):
        row = results.get_by_role("row", name=label).locator("td")
        expect(row).to_have_text([label, figures(value(one)), figures(value(two))])


def test_saved_cases_outlive_a_reload_and_are_forgotten_when_asked(two_cases):
    two_cases.page.reload()
    forget = two_cases.page.get_by_role("button", name="Forget two, in Sweden")
    forget.click()
    expect(two_cases.page.get_by_role("heading", name="What comes out")).to_be_visible()
    expect(two_cases.page.locator("#case-table table").last.locator("thead th")).to_have_text(["case", "as it is"])
    expect(forget).to_have_count(0)


def test_cases_of_another_browser_are_not_here(two_cases, new_view):
    """They are kept in the browser, not on the server: another reader sees none of them."""
    other = new_view().open("/cases")
    expect(other.page.locator("#case-table")).to_contain_text("Nothing is saved yet")


def test_each_case_keeps_its_column_in_both_tables_and_its_sentence_starts_at_the_left(two_cases):
    heads = [
        [head.bounding_box() for head in table.locator("thead th").all()]
        for table in two_cases.page.locator("#case-table table").all()
    ]
    edges = [[round(box["x"]) for box in row] for row in heads]
    assert edges[0] == edges[1]
    sentence = two_cases.page.get_by_role("row", name="in words").locator("td").last
    assert sentence.evaluate("cell => getComputedStyle(cell).textAlign") == "left"
