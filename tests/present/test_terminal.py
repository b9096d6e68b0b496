"""Tables for the terminal: the answer first, then what it rests on, and what it does not hold."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from random_jobs import PROPERTY, scenarios
from rich.console import Console

from compare import assumption_table, compare
from compare.present import wording
from compare.present.terminal import assumptions_view, comparison_view, demo_view, show

VARNISH, PVC = {"work.varnish_release_m": 0.1}, {"board.laminate": "pvc"}


def _printed(view, width=400):
    console = Console(file=io.StringIO(), width=width)
    show(view, console)
    return console.file.getvalue()


def _page(scenario, costing="full"):
    return _printed(comparison_view(compare(scenario, costing)))


def _line(page, start):
    return next(line for line in page.splitlines() if line.startswith(start)).rstrip()


def test_the_answer_stands_before_every_table(load):
    c = compare(load("soap_sleeve"))
    page = _printed(comparison_view(c))
    assert page.index(wording.answer(c)) < page.index("EUR per 1,000 good cartons")


def test_the_programme_is_told_in_one_line(load):
    assert "6,000 cartons per order, 6 orders over 2 years, 6 versions, 0.500 structural changes a year" in _page(
        load("soap_sleeve")
    )


def test_one_of_a_thing_is_not_told_in_the_plural(plain):
    assert "1 order over 1 year, 1 version, 0 structural changes a year" in _page(plain())


@pytest.mark.parametrize("label", wording.STAGE_LABELS.values())
def test_money_is_shown_by_stage(load, label):
    assert _line(_page(load("soap_sleeve")), label)


def test_stages_and_cost_are_shown_on_both_routes_with_their_difference(load):
    c = compare(load("soap_sleeve"))
    die, laser = c.die.cost_per_1000, c.laser.cost_per_1000
    row = next(line for line in _printed(comparison_view(c)).splitlines() if line.startswith("cost  "))
    assert row.split()[1:] == [f"{die:.1f}", f"{laser:.1f}", f"{laser - die:+.1f}"]


@pytest.mark.parametrize(
    "label",
    [
        "CO2e, kg per 1,000",
        "biogenic CO2 of the kerf, apart",
        "waste board, kg per 1,000",
        "  spoilage",
        "  trim",
        "  overs",
        "electricity, kWh per 1,000",
        "machine hours, programme",
        "sheets through the machine",
        "cartons per sheet",
        "lead time of the first order, days",
        "economic lot, cartons",
    ],
)
def test_quantities_are_shown_on_both_routes(load, label):
    assert _line(_page(load("soap_sleeve")), label)


def test_a_single_order_has_no_economic_lot(plain):
    assert "economic lot" not in _page(plain())


def test_stock_that_costs_nothing_shows_a_dash_for_its_lot(plain):
    page = _page(plain({"demand.orders_per_year": 2, "demand.holding_share": 0}))
    assert _line(page, "economic lot").split()[-2:] == ["-", "-"]


@pytest.mark.parametrize("label", ["cost   ", "CO2e   ", "waste board  "])
def test_ranges_are_shown_for_every_measure(load, label):
    page = _page(load("soap_sleeve"))
    assert _line(page[page.index("lower in") :], label)


@pytest.mark.parametrize("title", ["Findings", "Carbon", "Not included", "Cautions"])
def test_remarks_stand_below_their_titles(load, title):
    assert title in _page(load("soap_sleeve")).splitlines()


def test_every_caution_and_everything_left_out_is_shown(load):
    page = _page(load("soap_sleeve"))
    for line in (*wording.CAUTIONS, *wording.NOT_INCLUDED, wording.CARBON_SCOPE):
        assert line in page


def test_stand_ins_are_named(load):
    assert "Stand-ins: sawn wood stands in for plywood, steel cans stand in for steel rule" in _page(
        load("soap_sleeve")
    )


def test_without_stand_ins_none_are_named(load):
    own = [f"factors.{role}=1" for role in ("die_board_kg", "steel_kg", "rubber_kg")]
    assert "Stand-ins" not in _page(load("soap_sleeve", *own))


@pytest.mark.parametrize(("changes", "times"), [(VARNISH, 1), (PVC, 1), (VARNISH | PVC, 2)])
def test_a_route_that_cannot_make_the_job_shows_the_reason_and_no_figure(plain, changes, times):
    page = _page(plain(changes))
    assert page.count("Not possible") == 1
    assert next(line for line in page.splitlines() if line.startswith("cost  ")).count("not possible") == times


def test_a_job_without_findings_has_no_such_title(plain):
    assert "Findings" not in _page(plain())


def test_brackets_in_a_name_are_not_taken_for_markup(plain):
    """Names come from files: they must be shown as they are, and must not colour the page."""
    scenario = plain({"plant.name": "[red]Works[/red]"})
    assert "[red]Works[/red]" in _page(scenario)


@PROPERTY
@given(scenarios())
def test_no_page_shows_a_number_that_is_none(scenario):
    words = set(_page(scenario).replace(",", " ").split())
    assert not words & {"nan", "inf", "-inf", "None", "nan.", "inf."}


@PROPERTY
@given(scenarios())
def test_a_page_fits_its_width(scenario):
    page = _printed(comparison_view(compare(scenario)), width=100)
    assert max(map(len, page.splitlines())) <= 100


# -- demo and assumptions ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, ["laser"]),
        (VARNISH, ["no", "laser", "never"]),
        (PVC, ["no", "die", "always"]),
    ],
)
def test_a_line_of_the_demo_says_who_is_cheaper_and_from_when(plain, changes, words):
    line = _printed(demo_view([compare(plain(changes))])).splitlines()[-1].split()
    assert [word for word in line if word in words] == words


def test_a_break_even_that_comes_and_goes_is_said(plain):
    c = compare(plain())
    from compare.decide.break_even import _read
    from compare.decide.step_totals import Range

    c.__dict__["break_even"] = {"cost": _read((Range(1, 9, "die"), Range(10, 99, "laser")))}
    assert "comes and goes" in _printed(demo_view([c]))


def test_an_assumption_shows_value_unit_range_basis_and_origin():
    row = assumption_table()["rates.labour_h"]
    line = _printed(assumptions_view([(row, "34", "plant.toml")], "SEK")).splitlines()[-1]
    assert line.split() == ["rates.labour_h", "34", "SEK/h", "18", "to", "48", "example", "plant.toml"]


def test_a_text_has_no_unit_and_no_range():
    row = assumption_table()["plant.country"]
    assert _printed(assumptions_view([(row, "DE", "none")], "EUR")).splitlines()[-1].split() == [
        "plant.country",
        "DE",
        "example",
        "none",
    ]
