"""Waste: where the board goes, with nothing lost on the way."""

from __future__ import annotations

import pytest
from hypothesis import given
from random_jobs import PROPERTY, scenarios

from compare.routes import die, laser
from compare.valuation.waste import loss_share, mass_balance, total_waste


def _inventories(x):
    ways = [die.inventory(x, "separate"), laser.inventory(x)]
    return [*ways, die.inventory(x, "ganged")] if die.gang_possible(x) else ways


@PROPERTY
@given(scenarios())
def test_all_board_that_comes_in_is_found_again(scenario):
    for inventory in _inventories(scenario.inputs):
        b = mass_balance(inventory)
        assert b.good + b.overs + b.spoilage + b.trim == pytest.approx(b.board_in, rel=1e-9)


@PROPERTY
@given(scenarios())
def test_board_in_is_every_sheet_through_the_machine(scenario):
    x = scenario.inputs
    sheet_kg = x["sheet.width_mm"] * x["sheet.length_mm"] * x["board.grammage_g_m2"] * 1e-9
    for inventory in _inventories(x):
        assert mass_balance(inventory).board_in == pytest.approx(float(inventory.sheets * sheet_kg), rel=1e-9)


@PROPERTY
@given(scenarios())
def test_good_cartons_weigh_what_was_ordered(scenario):
    x = scenario.inputs
    orders = x["demand.orders_per_year"] * x["demand.years"]
    weight = orders * x["demand.run_length"] * x["carton.blank_area_m2"] * x["board.grammage_g_m2"] / 1000
    for inventory in _inventories(x):
        assert mass_balance(inventory).good == pytest.approx(weight, rel=1e-12)


@PROPERTY
@given(scenarios())
def test_no_part_of_the_balance_is_negative(scenario):
    for inventory in _inventories(scenario.inputs):
        balance = mass_balance(inventory)
        assert min(balance) >= -1e-9 * balance.board_in


@PROPERTY
@given(scenarios())
def test_waste_is_what_does_not_leave_as_good_cartons(scenario):
    for inventory in _inventories(scenario.inputs):
        balance = mass_balance(inventory)
        assert total_waste(inventory) == pytest.approx(balance.waste, rel=1e-12)
        assert balance.waste == pytest.approx(balance.board_in - balance.good, rel=1e-9)


@PROPERTY
@given(scenarios())
def test_the_kerf_stands_beside_the_balance(scenario):
    """It leaves as smoke, half from the carton and half from the trim by convention: taking it off would need a choice."""
    die_way, laser_way = _inventories(scenario.inputs)[:2]
    assert mass_balance(die_way).kerf == 0
    assert mass_balance(laser_way).kerf == pytest.approx(float(laser_way.quantity("kerf")), rel=1e-15)


def test_a_balance_worked_by_hand(plain):
    """Derived: 1,000 cartons at 8 per sheet are 125 good sheets of 210 g with 8 blanks of 15 g each; 10 sheets spoiled."""
    changes = {"layout.ups_laser": 8, "laser.running_waste": 0, "laser.setup_sheets": 10}
    balance = mass_balance(laser.inventory(plain(changes).inputs))
    assert balance[:5] == pytest.approx((135 * 0.21, 15, 0, 10 * 0.21, 125 * (0.21 - 8 * 0.015)))


def test_cartons_beyond_the_order_are_overs(plain):
    """Derived: 1,001 cartons take 126 sheets of 8, so 7 cartons of 15 g are over."""
    found = mass_balance(laser.inventory(plain({"layout.ups_laser": 8, "demand.run_length": 1001}).inputs))
    assert found.overs == pytest.approx(7 * 0.015)


def test_a_sheet_full_of_cartons_has_no_trim(plain):
    """Derived: 14 blanks of 0.05 m2 are the sheet of 0.7 m2."""
    found = mass_balance(laser.inventory(plain({"layout.ups_laser": 14}).inputs))
    assert found.trim == pytest.approx(0, abs=1e-9)


def test_the_share_that_is_lost_is_seen_from_what_was_bought():
    assert loss_share(200, 150) == 0.25
