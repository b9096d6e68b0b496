"""The steel-rule die: sets, set-ups, sheets and re-rulings. Figures are derived by hand from the model's formulas."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from random_jobs import PROPERTY, scenarios

from compare import replace
from compare.routes import die
from compare.routes.inventory import Amounts

# 1,000 cartons, one per sheet, one order, no waste in running: sheets are easy to count
CLEAN = {"die.running_waste": 0, "die.make_ready_first_sheets": 0, "die.make_ready_repeat_sheets": 0}


@pytest.fixture
def quantity(plain):
    """Quantity of one resource on the die route of a plain job."""

    def of(resource, changes, strategy="separate"):
        return float(die.inventory(plain({**CLEAN, **changes}).inputs, strategy).quantity(resource))

    return of


@pytest.fixture
def plan(plain):
    return lambda changes, strategy="separate": die.plan(plain(changes).inputs, strategy)


# -- sets and set-ups -------------------------------------------------------------------------------------------------


def test_every_version_needs_a_set_of_its_own(plan):
    assert plan({"demand.versions": 6}).sets == 6


def test_one_die_serves_all_versions_where_they_lie_on_one_sheet(plan):
    found = plan({"demand.versions": 3, "demand.mixed_sheets": 1, "layout.ups_die": 8}, "ganged")
    assert (found.sets, found.ups_per_version, found.ups_used) == (1, 2, 6)


def test_a_new_set_is_bought_for_every_generation(plan):
    """Derived: two changes a year over three years make seven generations of two versions each."""
    found = plan({"demand.versions": 2, "demand.years": 3, "demand.changes_per_year": 2})
    assert (found.generations, found.new_sets) == (7, 14)


def test_owned_tools_are_not_bought_again(plan):
    assert plan({"tooling.owned": 1}).new_sets == 0


def test_owned_tools_are_bought_again_after_a_change(plan):
    found = plan({"tooling.owned": 1, "demand.years": 2, "demand.changes_per_year": 1})
    assert found.new_sets == 2


def test_a_change_may_cost_a_share_of_a_set(plan):
    found = plan({"demand.years": 2, "demand.changes_per_year": 1, "tooling.change_share": 0.25})
    assert found.new_sets == 1.5


def test_a_set_is_new_once_and_stored_afterwards(plan):
    found = plan({"demand.orders_per_year": 4, "demand.years": 3})
    assert (found.first_setups, found.repeat_setups) == (1, 11)


def test_there_are_no_more_first_set_ups_than_set_ups(plan):
    """More changes than orders: a generation that is never ordered is never set up."""
    found = plan({"demand.orders_per_year": 1, "demand.years": 2, "demand.changes_per_year": 6})
    assert (found.first_setups, found.repeat_setups) == (2, 0)


def test_an_owned_set_is_set_up_as_a_stored_one(plan):
    found = plan({"tooling.owned": 1})
    assert (found.first_setups, found.repeat_setups) == (0, 1)


@pytest.mark.parametrize(
    ("versions", "mixed", "ups", "possible"),
    [(1, 1, 8, False), (2, 1, 8, True), (8, 1, 8, True), (9, 1, 8, False), (2, 0, 8, False)],
)
def test_versions_can_be_ganged_where_they_share_a_sheet_and_fit_it(plain, versions, mixed, ups, possible):
    x = plain({"demand.versions": versions, "demand.mixed_sheets": mixed, "layout.ups_die": ups}).inputs
    assert bool(die.gang_possible(x)) is possible


# -- sheets and wear --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("run", "versions", "ups", "sheets"), [(1000, 1, 8, 125), (1001, 1, 8, 126), (1000, 3, 8, 3 * 42), (8, 8, 8, 8)]
)
def test_every_version_is_rounded_up_to_whole_sheets(plain, run, versions, ups, sheets):
    x = plain({"demand.run_length": run, "demand.versions": versions, "layout.ups_die": ups}).inputs
    assert die.good_sheets(die.plan(x, "separate"), x["demand.run_length"]) == sheets


def test_ganged_versions_share_their_sheets(plain):
    """Derived: 1,000 cartons in 3 versions at 2 ups each are 167 sheets."""
    x = plain({"demand.versions": 3, "demand.mixed_sheets": 1, "layout.ups_die": 8}).inputs
    assert die.good_sheets(die.plan(x, "ganged"), x["demand.run_length"]) == 167


def test_waste_in_running_comes_on_top_of_good_sheets(quantity):
    """Derived: to keep 1,000 of the sheets that run at 20 % waste, 1,250 must run."""
    assert quantity("board", {"die.running_waste": 0.2}) == pytest.approx(1250 * 0.7 * 0.3)


def test_sheets_are_spoiled_at_every_set_up(plain):
    """Derived: one first set-up of 120 sheets and eleven of 50."""
    changes = {"die.running_waste": 0, "demand.orders_per_year": 12}
    changes |= {"die.make_ready_first_sheets": 120, "die.make_ready_repeat_sheets": 50}
    assert die.inventory(plain(changes).inputs, "separate").counts["spoiled sheets"] == 120 + 11 * 50


@pytest.mark.parametrize(("run", "times"), [(100_000, 0), (100_001, 1), (200_000, 1), (200_001, 2)])
def test_a_set_is_ruled_anew_when_it_has_done_its_impressions(plain, run, times):
    x = plain({**CLEAN, "demand.run_length": run, "die.life_impressions": 100_000}).inputs
    assert die.inventory(x, "separate").counts["re-rulings"] == times


def test_every_version_and_generation_wears_a_set_of_its_own(plain):
    """Derived: 400,000 impressions over 2 versions and 2 generations are 100,000 each, which a set just lasts."""
    changes = {"demand.run_length": 400_000, "demand.versions": 2, "demand.changes_per_year": 1}
    x = plain({**CLEAN, **changes, "die.life_impressions": 100_000}).inputs
    assert die.inventory(x, "separate").counts["re-rulings"] == 0


# -- tools ------------------------------------------------------------------------------------------------------------

LINES = {
    "work.cutting_m": 1.1,
    "work.creasing_m": 0.7,
    "work.cutting_creasing_m": 0.3,
    "work.perforating_m": 0.2,
    "work.partial_cutting_m": 0.4,
    "layout.ups_die": 2,
}


@pytest.mark.parametrize(
    ("resource", "metres"),
    [
        ("cutting rule", 2.2),
        ("creasing rule", 1.4),
        ("cut-crease rule", 0.6),
        ("perforating rule", 0.4),
        ("scoring rule", 0.8),
        ("ejection rubber", 4.4),
    ],
)
def test_a_set_holds_the_rule_of_every_carton_on_the_sheet(quantity, resource, metres):
    """Rubber lies on both sides of cutting rule."""
    assert quantity(resource, LINES) == pytest.approx(metres)


@pytest.mark.parametrize(
    "resource", ["cutting rule", "cut-crease rule", "perforating rule", "scoring rule", "ejection rubber"]
)
def test_what_wears_is_renewed_with_every_re_ruling(quantity, resource):
    """Derived: 2,000 sheets on a set that lasts 600 are three re-rulings."""
    worn = {**LINES, "demand.run_length": 4000, "die.life_impressions": 600}
    assert quantity(resource, worn) == pytest.approx(4 * quantity(resource, LINES))


@pytest.mark.parametrize(
    "resource",
    [
        "tool set",
        "die board",
        "creasing rule",
        "rule bends",
        "nicks",
        "creasing counter",
        "stripping tools",
        "blanking tools",
        "tool freight",
    ],
)
def test_what_does_not_wear_is_bought_once(quantity, resource):
    work = {**LINES, "work.bends": 9, "work.nicks": 4, "work.waste_pieces": 3}
    worn = {**work, "demand.run_length": 4000, "die.life_impressions": 600}
    assert quantity(resource, worn) == pytest.approx(quantity(resource, work))
    assert quantity(resource, worn) > 0


def test_a_die_board_is_as_large_as_the_sheet(quantity):
    assert quantity("die board", {}) == pytest.approx(0.7)


def test_a_set_travels_with_its_board_and_rule(quantity):
    """Derived: 0.7 m2 x 12.33 kg/m2 and 5.4 m x 0.1327 kg/m over 120 km."""
    assert quantity("tool freight", LINES) == pytest.approx((0.7 * 12.33 + 5.4 * 0.1327) / 1000 * 120)


def test_every_set_is_stored_for_every_year(quantity):
    assert quantity("tool storage", {"demand.versions": 3, "demand.years": 2}) == 6


def test_owned_tools_are_stored_too(quantity):
    assert quantity("tool storage", {"tooling.owned": 1, "demand.years": 2}) == 2


# -- hours and electricity --------------------------------------------------------------------------------------------


def test_set_up_takes_longer_with_more_cartons_on_the_sheet(plain):
    """Derived: a first set-up of 2 h and a repeat of 0.8 h, each with 8 times 0.02 h."""
    changes = {"demand.orders_per_year": 2, "layout.ups_die": 8}
    assert die.inventory(plain(changes).inputs, "separate").counts["set-up hours"] == pytest.approx(
        2 + 0.8 + 2 * 8 * 0.02
    )


def test_every_sheet_passes_the_press(plain):
    """Good and spoiled alike: derived, 1,250 sheets at 5,000 per hour."""
    changes = {"die.running_waste": 0.2, "die.make_ready_first_sheets": 0, "die.speed_sheets_h": 5000}
    assert die.inventory(plain(changes).inputs, "separate").counts["running hours"] == pytest.approx(0.25)


def test_the_crew_is_paid_for_set_up_and_running_and_separation_by_the_carton(quantity):
    """Derived: 1.5 people x (2.02 h + 0.2 h), and 0.5 h per 1,000."""
    changes = {"die.speed_sheets_h": 5000, "die.separation_h_per_1000": 0.5}
    assert quantity("labour", changes) == pytest.approx(1.5 * (2.02 + 0.2) + 0.5)


def test_electricity_is_metered_in_set_up_and_in_running(plain):
    """Derived: 2.02 h at 5 kW and 0.2 h at 15 kW, with 20 m3/h of air at 0.1 kWh/m3."""
    changes = {**CLEAN, "die.speed_sheets_h": 5000, "die.air_m3_h": 20, "plant.air_kwh_m3": 0.1}
    assert die.inventory(plain(changes).inputs, "separate").kwh == pytest.approx(2.02 * 5 + 0.2 * (15 + 2))


# -- properties -------------------------------------------------------------------------------------------------------


@PROPERTY
@given(scenarios())
def test_a_longer_run_never_takes_fewer_sheets_hours_or_re_rulings(scenario):
    """Break-even ranges rest on steps that never go down."""
    grid = np.arange(scenario.inputs.number("demand.versions"), 5000.0)
    found = die.inventory(replace(scenario.inputs, {"demand.run_length": grid}), "separate")
    for values in (found.sheets, found.machine_hours, found.counts["re-rulings"] + 0 * grid):
        assert np.all(np.diff(values) >= 0)


@PROPERTY
@given(scenarios())
def test_good_sheets_hold_the_order(scenario):
    x = scenario.inputs
    for strategy in ("separate", "ganged") if die.gang_possible(x) else ("separate",):
        assert (c := die.inventory(x, strategy).counts)["cartons on sheets"] >= c["cartons"] - 1e-9


@PROPERTY
@given(scenarios())
def test_the_inventory_is_linear_in_good_sheets_and_re_rulings(scenario):
    """The exact ranges are read off one of each: what is not linear belongs into a step function."""
    x = scenario.inputs
    p = die.plan(x, "separate")
    amounts = [
        Amounts(1000.0, good, die.all_sheets(x, p, good), again)
        for good, again in ((0.0, 0.0), (10.0, 0.0), (0.0, 3.0), (10.0, 3.0))
    ]
    at = [die.flows(x, p, each) for each in amounts]
    for origin, sheets, again, both in zip(*(i.flows for i in at), strict=True):
        assert both.quantity == pytest.approx(
            sheets.quantity + again.quantity - origin.quantity, rel=1e-9, abs=1e-9 * max(1, abs(origin.quantity))
        )


@PROPERTY
@given(scenarios())
def test_one_die_for_all_never_needs_more_set_ups_than_one_for_each(scenario):
    x = scenario.inputs
    assume(die.gang_possible(x))
    separate, ganged = die.plan(x, "separate"), die.plan(x, "ganged")
    assert ganged.first_setups + ganged.repeat_setups <= separate.first_setups + separate.repeat_setups
