"""Economic lot: how many cartons it pays to make at a time."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY, scenarios

from compare import replace
from compare.decide.lot_size import economic_lot, economic_lot_of, lot_cost, setup_cost_per_order
from compare.routes import die, laser
from compare.valuation.money import flow_money

_positive = st.floats(0.01, 1e5)
# money of the plain job that is easy to follow: only labour, board and printed sheets cost anything
ONLY_LABOUR = {
    "rates.laser_h": 0, "rates.laser_consumables_h": 0, "rates.crease_set": 0, "rates.kwh": 0, "rates.waste_board_t": 0,
    "rates.labour_h": 30, "board.price_per_t": 1000, "sheet.print_cost": 0.1, "laser.separation_h_per_1000": 0,
    "work.creasing_m": 0, "laser.running_waste": 0, "laser.setup_sheets": 10, "laser.crew": 1, "laser.setup_h": 0.5,
    "laser.version_h": 0, "laser.feeder_sheets_h": 4000, "demand.orders_per_year": 4, "demand.holding_share": 0.2,
}  # fmt: skip


@PROPERTY
@given(_positive, _positive, _positive, st.floats(0.1, 10))
def test_no_other_lot_costs_less_in_a_year(setup, demand, holding, factor):
    """Set-ups of D/q lots and half a lot in stock: the economic lot is where their sum is lowest."""
    best = economic_lot(setup, demand, holding)
    lot = factor * best
    assert setup * demand / lot + holding * lot / 2 >= lot_cost(setup, demand, holding) * (1 - 1e-12)


@PROPERTY
@given(_positive, _positive, _positive)
def test_set_ups_and_stock_cost_the_same_at_the_economic_lot(setup, demand, holding):
    best = economic_lot(setup, demand, holding)
    assert setup * demand / best == pytest.approx(holding * best / 2, rel=1e-9)


def test_an_order_is_started_by_its_make_ready_and_the_sheets_it_spoils(plain):
    """Derived: 0.5 h x 30 and 10 sheets of 0.21 kg x 1.00 + 0.10 each."""
    x = plain(ONLY_LABOUR).inputs
    assert setup_cost_per_order(laser.inventory(x), x, "full") == pytest.approx(15 + 10 * 0.31)


def test_sheets_lost_in_running_do_not_start_an_order(plain):
    """They grow with the run; only those of the set-up come with every order."""
    x = plain(ONLY_LABOUR | {"laser.running_waste": 0.2}).inputs
    assert setup_cost_per_order(laser.inventory(x), x, "full") == pytest.approx(15 + 10 * 0.31)


def test_no_spoiled_sheet_leaves_the_make_ready(plain):
    x = plain(ONLY_LABOUR | {"laser.setup_sheets": 0}).inputs
    assert setup_cost_per_order(laser.inventory(x), x, "full") == pytest.approx(15)


def test_the_economic_lot_of_a_route_worked_by_hand(plain):
    """Derived: K = 18.1, D = 4,000 a year; a carton costs 1/4,000 h x 30 + 0.31 and the running of the 10 sheets
    spoiled, kept at 20 % a year.
    """
    x = plain(ONLY_LABOUR).inputs
    carton = 1.01 * 30 / 4000 + 0.31
    expected = (2 * 18.1 * 4000 / (0.2 * carton)) ** 0.5
    assert economic_lot_of(laser.inventory(x), x, "full") == pytest.approx(expected, rel=1e-9)


def test_stock_that_costs_nothing_has_no_economic_lot(plain):
    x = plain({"demand.holding_share": 0, "demand.changes_per_year": 0}).inputs
    assert economic_lot_of(laser.inventory(x), x, "full") is None


def test_cartons_that_earn_by_being_made_have_no_economic_lot(plain):
    """Waste board sold for more than the board costs: nobody's price, but no reason for a failure."""
    x = plain({"rates.waste_board_t": -1e6}).inputs
    assert economic_lot_of(laser.inventory(x), x, "full") is None


@PROPERTY
@given(scenarios(), st.floats(0, 5).map(lambda v: round(v, 3)))
def test_more_changes_a_year_never_make_larger_lots(scenario, more):
    """A change scraps what is in stock. The laser's stored crease sets are made anew with it, so they are left out."""
    x = replace(scenario.inputs, {"laser.crease_set_stored": 0})
    changed = replace(x, {"demand.changes_per_year": x["demand.changes_per_year"] + more})
    before, after = (economic_lot_of(laser.inventory(y), y, "full") for y in (x, changed))
    assert before is None or after <= before * (1 + 1e-12)


@PROPERTY
@given(scenarios())
def test_starting_an_order_costs_no_more_than_make_ready_and_spoilage_together(scenario):
    x = scenario.inputs
    for inventory in (die.inventory(x, "separate"), laser.inventory(x)):
        money = zip(inventory.flows, flow_money(inventory, x, "full"), strict=True)
        most = sum(
            float(m)
            for f, m in money
            if f.stage == "make-ready" or (f.stage == "waste" and f.resource in ("board", "print"))
        )
        orders = x["demand.orders_per_year"] * x["demand.years"]
        assert setup_cost_per_order(inventory, x, "full") <= most / orders * (1 + 1e-9)
