"""The comparison of one job: every total is the sum of what is shown below it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PRICES, PROPERTY, scenarios

from compare import compare
from compare.decide.evaluate import measure_of
from compare.routes.inventory import RESOURCES, STAGES

COSTINGS = st.sampled_from(["full", "cash"])


def _routes(comparison):
    return comparison.die, comparison.laser


# -- sums -------------------------------------------------------------------------------------------------------------


@PROPERTY
@given(scenarios(), COSTINGS)
def test_every_total_is_the_sum_of_the_ledger(scenario, costing):
    """Derived from the same flows twice: line by line, and quantities of a resource first."""
    for route in _routes(compare(scenario, costing)):
        totals = {
            m: float(measure_of(route.inventory, scenario.inputs, m, costing))
            for m in ("cost", "co2e", "biogenic", "waste")
        }
        rows = route.ledger
        sums = {
            "cost": sum(r.money for r in rows),
            "co2e": sum(r.co2e_kg for r in rows),
            "biogenic": sum(r.biogenic_co2_kg for r in rows),
            "waste": sum(r.quantity for r in rows if r.resource == "waste board"),
        }
        scale = sum(abs(r.money) for r in rows)
        assert sums == pytest.approx(totals, rel=1e-9, abs=1e-9 * scale)


@PROPERTY
@given(scenarios(), COSTINGS)
def test_stages_add_up_to_the_cost(scenario, costing):
    for route in _routes(compare(scenario, costing)):
        stages = route.stage_cost_per_1000()
        assert list(stages) == list(STAGES)
        assert sum(stages.values()) == pytest.approx(
            route.cost_per_1000, rel=1e-9, abs=1e-9 * sum(map(abs, stages.values()))
        )


@PROPERTY
@given(scenarios())
def test_a_row_carries_either_its_figure_or_the_reason_for_none(scenario):
    for row in compare(scenario).ledger:
        assert not (row.no_price and row.money)
        assert not (row.no_carbon and (row.co2e_kg or row.biogenic_co2_kg))


@PROPERTY
@given(scenarios())
def test_every_figure_is_a_finite_number(scenario):
    for route in _routes(compare(scenario)):
        figures = [
            route.cost_per_1000,
            route.co2e_per_1000,
            route.biogenic_per_1000,
            route.waste_per_1000,
            route.lead_time_days,
        ]
        figures += [v for row in route.ledger for v in (row.quantity, row.money, row.co2e_kg, row.biogenic_co2_kg)]
        assert all(type(v) is float and math.isfinite(v) for v in figures)


@PROPERTY
@given(scenarios())
def test_a_row_has_the_unit_of_its_resource(scenario):
    assert all(row.unit == RESOURCES[row.resource].unit for row in compare(scenario).ledger)


# -- which is cheaper -------------------------------------------------------------------------------------------------


@PROPERTY
@given(scenarios(), COSTINGS)
def test_the_cheaper_route_is_the_one_that_costs_less(scenario, costing):
    c = compare(scenario, costing)
    if c.cheaper in ("die", "laser"):
        other = c.laser if c.cheaper == "die" else c.die
        mine = c.route(c.cheaper)
        assert mine.feasible
        assert not other.feasible or mine.cost_per_1000 < other.cost_per_1000


def test_cash_costs_less_than_full_on_every_demo_job(load, demo_job):
    """The same job without depreciation, interest and space."""
    scenario = load(demo_job)
    for full, cash in zip(_routes(compare(scenario, "full")), _routes(compare(scenario, "cash")), strict=True):
        assert cash.cost_per_1000 < full.cost_per_1000


def test_equal_costs_are_even(plain):
    """Without any price both routes cost nothing."""
    assert compare(plain(dict.fromkeys(PRICES, 0))).cheaper == "even"


@pytest.mark.parametrize(
    ("changes", "cheaper"),
    [
        ({"work.varnish_release_m": 0.1}, "laser"),
        ({"board.laminate": "pvc"}, "die"),
        ({"work.varnish_release_m": 0.1, "board.laminate": "pvc"}, "neither"),
    ],
)
def test_a_route_that_cannot_make_the_job_is_never_the_cheaper_one(plain, changes, cheaper):
    assert compare(plain(changes)).cheaper == cheaper


@pytest.mark.parametrize(
    ("changes", "routes"),
    [
        ({}, {"die", "laser"}),
        ({"work.varnish_release_m": 0.1}, {"laser"}),
        ({"board.laminate": "pvc"}, {"die"}),
        ({"work.varnish_release_m": 0.1, "board.laminate": "pvc"}, set()),
    ],
)
def test_the_ledger_holds_only_routes_that_are_possible(plain, changes, routes):
    """A figure for what can't be made would be mistaken for a result."""
    assert {row.route for row in compare(plain(changes)).ledger} == routes


def test_more_versions_than_tool_sets_are_still_explained(plain):
    """The die is out, and its inventory of 31 sets shows why."""
    c = compare(plain({"demand.versions": 31}))
    assert (c.die.feasible, c.die.inventory.counts["sets"], [f.code for f in c.die.findings]) == (
        False,
        31,
        ["die.versions"],
    )


# -- remarks ----------------------------------------------------------------------------------------------------------


def _codes(comparison):
    return [f.code for f in comparison.findings]


def test_one_die_for_all_versions_is_said(load):
    assert "die.ganged" in _codes(compare(load("soap_sleeve")))


def test_a_halogenated_laminate_warns_of_its_danger(plain):
    assert _codes(compare(plain({"board.laminate": "pvdc"}))) == ["laser.halogen", "laser.halogen.caution"]


@pytest.mark.parametrize(("feeder", "codes"), [(4000, []), (60_000, ["laser.cutting_limited"])])
def test_cutting_that_sets_the_pace_is_said(plain, feeder, codes):
    """Derived: one carton of 1 m at 4 m/s on 4 heads takes 0.07 s, the feeder 0.9 s or 0.06 s."""
    assert _codes(compare(plain({"laser.feeder_sheets_h": feeder}))) == codes


def test_a_partial_cut_has_the_depth_that_its_rule_was_ground_to(plain):
    assert _codes(compare(plain({"work.partial_cutting_m": 0.2}))) == ["die.fixed_depth"]


def test_remarks_on_the_input_come_before_those_on_the_routes(plain):
    codes = _codes(compare(plain({"demand.artwork_versions": 3, "work.partial_cutting_m": 0.2})))
    assert codes == ["demand.artwork", "die.fixed_depth"]


# -- what else is shown -----------------------------------------------------------------------------------------------


def test_orders_are_those_of_the_programme(plain):
    assert compare(plain({"demand.orders_per_year": 4, "demand.years": 2.5})).orders == 10


def test_the_diemaker_is_told_the_creasing_rule_and_channel(plain):
    """Derived: 0.4 mm board, 0.71 mm rule of 23.8 mm and a tape of 0.15 mm; channel factors as published by a board
    maker (Kallima coated cover board, "Die cutting suggestions").
    """
    assert compare(plain()).crease_tooling() == pytest.approx(
        {"crease_rule_height_mm": 23.25, "channel_along_grain_mm": 1.23, "channel_across_grain_mm": 1.31}
    )


def test_figures_per_thousand_are_those_of_the_programme_over_its_thousands(plain):
    route = compare(plain({"demand.orders_per_year": 3, "demand.run_length": 500})).laser
    assert route.thousands == 1.5
    assert route.waste_per_1000 == pytest.approx(route.balance.waste / 1.5)
