"""Sentences: no claim that the figures don't carry, and the same words everywhere."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PRICES, PROPERTY, scenarios

from compare import compare
from compare.decide.break_even import _read
from compare.decide.step_totals import Range
from compare.present import wording
from compare.present.numbers import NumberStyle, figures, whole

VARNISH, PVC = {"work.varnish_release_m": 0.1}, {"board.laminate": "pvc"}


def _found(*ranges):
    return _read(tuple(Range(*r) for r in ranges))


# -- the answer -------------------------------------------------------------------------------------------------------


def test_the_answer_names_the_cheaper_route_and_both_figures(load):
    c = compare(load("soap_sleeve"))
    die, laser = figures(c.die.cost_per_1000), figures(c.laser.cost_per_1000)
    assert (
        wording.answer(c)
        == f"At 6,000 cartons per order the laser is cheaper: {laser} EUR against {die} EUR per 1,000."
    )


def test_the_answer_says_why_there_is_only_one_figure(plain):
    c = compare(plain(VARNISH))
    cost = figures(c.laser.cost_per_1000)
    assert (
        wording.answer(c)
        == f"Only the laser can make this job: {cost} EUR per 1,000 at 1,000 cartons per order; the die can't."
    )


def test_the_answer_for_rule_only_jobs_is_the_same_the_other_way_round(plain):
    assert wording.answer(compare(plain(PVC))).endswith("; the laser can't.")


def test_the_answer_may_be_that_neither_can(plain):
    assert (
        wording.answer(compare(plain(VARNISH | PVC))) == "At 1,000 cartons per order neither route can make this job."
    )


def test_the_answer_may_be_that_both_cost_the_same(plain):
    c = compare(plain(dict.fromkeys(PRICES, 0)))
    assert wording.answer(c) == "At 1,000 cartons per order both routes cost the same: 0 EUR per 1,000."


def test_the_answer_can_be_told_in_prices(load):
    """A client sees prices: cost times a factor, the same sentence."""
    c = compare(load("soap_sleeve"))
    assert f"{figures(2 * c.laser.cost_per_1000)} EUR against" in wording.answer(c, price_factor=2)


def test_the_answer_is_written_in_the_readers_way(load):
    text = wording.answer(compare(load("soap_sleeve")), NumberStyle(",", "."))
    assert text.startswith("At 6.000 cartons")
    assert text.endswith("per 1.000.")


@PROPERTY
@given(scenarios(), st.sampled_from(["full", "cash"]))
def test_no_figure_is_told_for_a_route_that_cannot_make_the_job(scenario, costing):
    c = compare(scenario, costing)
    text = wording.answer(c)
    assert len(re.findall(r"\d EUR", text)) == c.die.feasible + c.laser.feasible - (c.cheaper == "even")


@PROPERTY
@given(scenarios())
def test_no_sentence_carries_a_percentage(scenario):
    """A bare percentage hides whether the difference shows at all."""
    c = compare(scenario)
    sentences = [wording.answer(c), wording.takeover(c), wording.lead_time(c), wording.basis(c)]
    sentences += [wording.ranges(found) for found in c.break_even.values()]
    assert not any("%" in sentence for sentence in sentences)


# -- break-even -------------------------------------------------------------------------------------------------------


def _takeover(plain, *ranges):
    c = compare(plain())
    c.__dict__["break_even"] = {"cost": _found(*ranges)}
    return wording.takeover(c)


@pytest.mark.parametrize(
    ("ranges", "text"),
    [
        (
            [(1, 99, "laser"), (100, 5000, "die")],
            "The die is cheaper from 100 cartons per order on, searched up to 5,000.",
        ),
        (
            [(1, 9, "laser"), (10, 20, "die"), (21, 30, "laser"), (31, 5000, "die")],
            "The die is cheaper from 31 cartons per order on (at times from 10), searched up to 5,000.",
        ),
        ([(1, 5000, "laser")], "The laser is cheaper at every run length up to 5,000 cartons per order."),
        ([(1, 5000, "die")], "The die is cheaper at every run length up to 5,000 cartons per order."),
        ([(1, 5000, "even")], "Both cost the same at every run length up to 5,000 cartons per order."),
        (
            [(1, 9, "laser"), (10, 20, "die"), (21, 5000, "laser")],
            "There is no lasting break-even up to 5,000 cartons per order: the die is lower at times from 10 cartons per order.",
        ),
        (
            [(1, 9, "laser"), (10, 5000, "even")],
            "There is no lasting break-even up to 5,000 cartons per order: the die is nowhere lower.",
        ),
    ],
)
def test_the_break_even_is_told_with_what_was_searched(plain, ranges, text):
    assert _takeover(plain, *ranges) == text


@pytest.mark.parametrize("changes", [VARNISH, PVC, VARNISH | PVC])
def test_with_one_route_there_is_no_break_even_to_tell(plain, changes):
    assert wording.takeover(compare(plain(changes))) == ""


@pytest.mark.parametrize(
    ("ranges", "text"),
    [
        ([(1, 5000, "laser")], "1 to 5,000: laser"),
        (
            [(1, 99, "laser"), (100, 100, "even"), (101, 5000, "die")],
            "1 to 99: laser; 100 to 100: even; 101 to 5,000: die",
        ),
        (
            [(1, 9, "laser"), (10, 12, "die"), (13, 20, "laser"), (21, 5000, "die")],
            "1 to 9: laser; 10 to 20: changes 3 times with sheets and tools begun; 21 to 5,000: die",
        ),
    ],
)
def test_ranges_are_told_one_by_one_unless_they_flicker(ranges, text):
    assert wording.ranges(_found(*ranges)) == text


@PROPERTY
@given(scenarios())
def test_ranges_always_say_where_they_begin_and_end(scenario):
    found = compare(scenario).break_even["cost"]
    text = wording.ranges(found)
    assert text.startswith(f"{whole(found.start)} to ")
    assert f"to {whole(found.end)}: {found.ranges[-1].lowest}" in text


# -- lead time, difference, basis -------------------------------------------------------------------------------------


def test_lead_time_says_how_much_of_it_is_waiting_for_tools(plain):
    text = wording.lead_time(compare(plain()))
    assert text == (
        "First order: 4.1 days with the die (4 days of them for tools to come), less than a day with the laser; "
        "waiting for the machine not included."
    )


def test_lead_time_knows_tools_on_the_shelf(plain):
    assert "(tools are on the shelf)" in wording.lead_time(compare(plain({"tooling.owned": 1})))


def test_lead_time_is_told_only_of_routes_that_are_possible(plain):
    assert "die" not in wording.lead_time(compare(plain(VARNISH)))
    assert "laser" not in wording.lead_time(compare(plain(PVC)))
    assert wording.lead_time(compare(plain(VARNISH | PVC))) == ""


@pytest.mark.parametrize(
    ("die", "laser", "text"),
    [
        (5.0, 3.0, "laser 2.00 kg less"),
        (3.0, 5.0, "die 2.00 kg less"),
        (3.0, 3.0, "no difference that shows"),
        (0.0, 0.0, "no difference that shows"),
    ],
)
def test_a_difference_says_which_route_needs_less(plain, die, laser, text):
    assert wording.difference(compare(plain()), "kg", die, laser) == text


def test_a_difference_that_the_totals_do_not_show_is_none(plain):
    """Totals carry three figures: a gap in their fourth is noise."""
    assert wording.difference(compare(plain()), "kg", 1000.0, 1000.4) == "no difference that shows"


def test_there_is_no_difference_to_a_route_that_is_not_possible(plain):
    assert wording.difference(compare(plain(PVC)), "kg", 3.0, 5.0) == "only one route is possible"


def test_the_basis_names_plant_costing_currency_grid_and_factors(load):
    assert wording.basis(compare(load("soap_sleeve"), "full")) == (
        "Northfold Cartons · full costing · EUR · grid DE (Ember 2024) · factors: UK Government 2025"
    )


def test_the_basis_says_what_cash_costing_leaves_out(load):
    assert "cash costing (no depreciation, interest or space)" in wording.basis(compare(load("soap_sleeve"), "cash"))


def test_the_basis_says_where_a_grid_factor_of_ones_own_was_given(load):
    text = wording.basis(compare(load("soap_sleeve", "factors.kwh=0.05")))
    assert "grid: own value, --set, factors.kwh" in text


@pytest.mark.parametrize(
    "word", ["EN 60825-1", "EN ISO 11553-1", "steel rule", "trial cut", "legal advice", "life-cycle study"]
)
def test_the_cautions_name_what_must_not_be_forgotten(word):
    assert any(word in caution for caution in wording.CAUTIONS)


@pytest.mark.parametrize("word", ["printing", "artwork", "freight", "overheads", "disposal"])
def test_what_is_left_out_is_said(word):
    assert any(word in line for line in wording.NOT_INCLUDED)


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        (
            "rates.kwh must be at least 0 (it is -1); give a number from 0 in money/kWh",
            "give a number from 0 in USD/kWh",
        ),
        ("missing board.price_per_t (board price, money/t)", "missing board.price_per_t (board price, USD/t)"),
        ("missing press_capital.purchase (purchase price, money)", "(purchase price, USD)"),
        ("give a number above 0 in money", "give a number above 0 in USD"),
        ("rates.kwh is 'money', which is not a number", "rates.kwh is 'money', which is not a number"),
        ("there is no input 'moneybox'", "there is no input 'moneybox'"),
    ],
)
def test_a_message_names_the_plants_currency_where_the_table_says_money(said, shown):
    """What someone typed is left as it was."""
    assert wording.in_currency(said, "USD").endswith(shown)
