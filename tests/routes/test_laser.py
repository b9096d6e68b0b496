"""The laser line: speed, cycle, crease sets, electricity. Figures are derived by hand from the model's formulas."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY, scenarios

from compare import replace
from compare.routes import laser
from compare.routes.inventory import Amounts

# 1,000 cartons, one per sheet; 0.4 mm board: 1,000 W / (0.5 J/mm2 x 0.4 mm) = 5 m/s, and the scanner holds 8
FAST = {"laser.max_mark_m_s": 8, "laser.running_waste": 0, "laser.setup_sheets": 0}
ONE_HEAD = {**FAST, "laser.heads": 1, "laser.balance": 1, "laser.feeder_sheets_h": 1e6}


@pytest.fixture
def inventory(plain):
    return lambda changes: laser.inventory(plain(changes).inputs)


@pytest.fixture
def seconds(plain):
    """Time of one carton on one head."""
    return lambda changes: float(laser.carton_s(plain({**ONE_HEAD, "work.cutting_m": 0, **changes}).inputs))


# -- speed and cycle --------------------------------------------------------------------------------------------------


def test_power_sets_the_speed_on_thick_board():
    """Derived: 1,000 W / (0.5 J/mm2 x 0.5 mm) = 4,000 mm/s."""
    assert laser.mark_speed(8, 1000, 0.5, 0.5) == pytest.approx(4)


def test_the_scanner_caps_the_speed_on_thin_board():
    assert laser.mark_speed(3, 1000, 0.5, 0.5) == 3


def test_half_the_depth_is_cut_at_twice_the_speed():
    assert laser.mark_speed(80, 1000, 0.5, 0.5, 0.5) == pytest.approx(8)


def test_the_source_wastes_what_the_chiller_must_take_away():
    """Derived: 1 kW of light at 10 % is 10 kW of current, and 9 kW of heat at a coefficient of 3 is 3 kW more."""
    assert laser.source_kw(1.0, 0.1, 3.0) == pytest.approx(13)


def test_without_a_chiller_only_the_source_counts():
    assert laser.source_kw(1.0, 0.1) == pytest.approx(10)


def test_the_kerf_is_length_times_width_times_grammage():
    """Derived: 1,000 m x 0.2 mm x 300 g/m2."""
    assert laser.kerf_kg(1000, 0.2, 300) == pytest.approx(0.06)


@pytest.mark.parametrize(
    ("changes", "time"),
    [
        ({"work.cutting_m": 1}, 0.2),
        ({"work.perforating_m": 1}, 0.2),
        ({"work.cutting_creasing_m": 1}, 0.2),
        ({"work.creasing_m": 9}, 0),
        ({"work.partial_cutting_m": 1, "laser.partial_depth": 0.8}, 0.16),
        ({"work.varnish_release_m": 1, "laser.varnish_depth": 0.8}, 0.16),
        ({"work.varnish_release_m": 1, "laser.varnish_depth": 0.05}, 0.125),
        ({"work.strokes": 10}, 10 * (0.4 + 0.3 + 6) / 1000),
        ({"work.corner_load": 10}, 10 * 0.1 / 1000),
        ({"work.nicks": 10}, 10 * 0.5 / 1000),
    ],
    ids=lambda v: "-".join(v) if isinstance(v, dict) else None,
)
def test_every_kind_of_work_takes_its_time(seconds, changes, time):
    """Derived: 5 m/s at full depth, 6.25 at 0.8 of it, 8 where the scanner caps; a jump of 60 mm at 10 m/s is 6 ms.
    Creases are pressed by the crease set and take the beam no time.
    """
    assert seconds(changes) == pytest.approx(time)


def test_the_work_of_a_sheet_is_shared_by_the_heads(plain):
    """Derived: 8 cartons of 0.2 s each on 4 heads that share 80 % evenly."""
    changes = {**FAST, "layout.ups_laser": 8, "laser.heads": 4, "laser.balance": 0.8}
    assert laser.sheet_s(plain(changes).inputs) == pytest.approx(8 * 0.2 / (4 * 0.8))


@pytest.mark.parametrize(("feeder", "cycle"), [(6000, 0.6), (60_000, 0.2)])
def test_the_slower_of_cutting_and_feeder_sets_the_pace(plain, feeder, cycle):
    changes = {**ONE_HEAD, "laser.feeder_sheets_h": feeder}
    assert laser.cycle_s(plain(changes).inputs) == pytest.approx(cycle)


# -- sheets and crease sets -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("versions", "mixed", "sheets"), [(1, 0, 125), (3, 0, 126), (3, 1, 125)])
def test_versions_are_rounded_up_each_unless_they_share_sheets(plain, versions, mixed, sheets):
    """Derived: 1,000 cartons at 8 per sheet; 334 of each version are 42 sheets."""
    x = plain({"layout.ups_laser": 8, "demand.versions": versions, "demand.mixed_sheets": mixed}).inputs
    assert laser.good_sheets(x, laser.plan(x), x["demand.run_length"]) == sheets


def test_sheets_are_spoiled_in_every_order_and_in_running(inventory):
    """Derived: 3 orders of 1,000 / 0.8 + 10 sheets."""
    found = inventory({"demand.orders_per_year": 3, "laser.running_waste": 0.2, "laser.setup_sheets": 10})
    assert found.sheets == pytest.approx(3 * (1250 + 10))


@pytest.mark.parametrize(
    ("changes", "sets"),
    [
        ({}, 1),
        ({"work.creasing_m": 0}, 0),
        ({"work.creasing_m": 0, "work.cutting_creasing_m": 0.1}, 1),
        ({"demand.orders_per_year": 4}, 4),
        ({"demand.orders_per_year": 4, "laser.crease_set_stored": 1}, 1),
        ({"demand.changes_per_year": 2, "laser.crease_set_stored": 1}, 3),
        ({"demand.versions": 5, "demand.crease_versions": 3}, 3),
        ({"laser.crease_set_life": 400}, 3),
        ({"laser.crease_set_life": 500}, 2),
        ({"demand.orders_per_year": 4, "laser.crease_set_stored": 1, "laser.crease_set_life": 1000}, 4),
    ],
    ids=lambda v: "-".join(v) if isinstance(v, dict) else None,
)
def test_crease_sets_are_made_as_often_as_needed(inventory, changes, sets):
    """One per crease version and order, or per generation where they are stored; anew when worn out. The plain job
    has one order of 1,000 sheets with creases.
    """
    assert inventory({**FAST, **changes}).counts["crease sets"] == sets


# -- hours, electricity, smoke ----------------------------------------------------------------------------------------


def test_set_up_takes_time_by_order_by_version_and_by_crease_set(inventory):
    """Derived: 2 orders x (0.25 h + 3 x 0.01 h) + 2 crease sets x 0.3 h."""
    found = inventory({"demand.orders_per_year": 2, "demand.versions": 3})
    assert found.counts["set-up hours"] == pytest.approx(2 * (0.25 + 0.03) + 2 * 0.3)


def test_running_takes_a_cycle_for_every_sheet(inventory):
    """Derived: 1,000 sheets x 0.9 s / 3,600."""
    assert inventory({**FAST, "laser.feeder_sheets_h": 4000}).counts["running hours"] == pytest.approx(0.25)


def test_consumables_are_used_while_the_line_is_busy(inventory):
    found = inventory({})
    assert found.quantity("laser consumables") == pytest.approx(float(found.machine_hours))


def test_the_crew_is_paid_for_the_line_and_separation_by_the_carton(inventory):
    found = inventory({"laser.crew": 2, "laser.separation_h_per_1000": 0.5})
    assert found.quantity("labour") == pytest.approx(2 * found.machine_hours + 0.5)


def test_the_beam_takes_current_only_while_it_is_on(inventory):
    """Derived: 0.2 s of every 0.9 s; 1 kW at 10 % and its chiller are 13 kW; extraction runs all the time at 25 kW and
    air at 30 m3/h x 0.1 kWh/m3; set-up of 0.56 h stands by at 12 kW.
    """
    changes = {**FAST, "laser.heads": 1, "laser.balance": 1, "laser.air_m3_h": 30, "plant.air_kwh_m3": 0.1}
    found = inventory(changes)
    assert found.counts["beam share"] == pytest.approx(0.2 / 0.9)
    assert found.kwh == pytest.approx(0.25 * (0.2 / 0.9 * 13 + 25 + 3) + 0.56 * 12)


def test_what_is_cut_leaves_as_smoke_by_its_depth(inventory):
    """Derived: 1,000 cartons x (1 + 1 + 0.5 x 1 + 0.4 x 1 + 0.1 x 1) m x 0.2 mm x 300 g/m2."""
    lines = {
        f"work.{kind}_m": 1
        for kind in ("cutting", "perforating", "cutting_creasing", "partial_cutting", "varnish_release")
    }
    depths = {"laser.cut_crease_duty": 0.5, "laser.partial_depth": 0.4, "laser.varnish_depth": 0.1}
    assert inventory({**lines, **depths}).quantity("kerf") == pytest.approx(1000 * 3.0 * 0.2e-3 * 0.3)


def test_the_laser_needs_no_tool_set(inventory):
    bought = {flow.resource for flow in inventory({}).flows if flow.stage == "tooling"}
    assert bought == {"crease set"}


# -- properties -------------------------------------------------------------------------------------------------------


@PROPERTY
@given(scenarios())
def test_a_longer_run_never_takes_fewer_sheets_hours_or_crease_sets(scenario):
    """Break-even ranges rest on steps that never go down."""
    grid = np.arange(scenario.inputs.number("demand.versions"), 5000.0)
    found = laser.inventory(replace(scenario.inputs, {"demand.run_length": grid}))
    for values in (found.sheets, found.machine_hours, found.counts["crease sets"] + 0 * grid):
        assert np.all(np.diff(values) >= 0)


@PROPERTY
@given(scenarios())
def test_good_sheets_hold_the_order(scenario):
    counts = laser.inventory(scenario.inputs).counts
    assert counts["cartons on sheets"] >= counts["cartons"] - 1e-9


@PROPERTY
@given(scenarios())
def test_the_beam_is_never_on_for_longer_than_the_cycle(scenario):
    assert 0 <= laser.inventory(scenario.inputs).counts["beam share"] <= 1 + 1e-12


@PROPERTY
@given(
    scenarios(),
    st.sampled_from(
        [
            "work.cutting_m",
            "work.strokes",
            "work.corner_load",
            "work.nicks",
            "work.perforating_m",
            "work.cutting_creasing_m",
        ]
    ),
    st.floats(0, 50).map(lambda v: round(v, 3)),
)
def test_more_work_never_takes_less_time(scenario, name, more):
    """Complexity does cost laser time: every metre, stroke, corner and nick."""
    x = scenario.inputs
    assert laser.carton_s(replace(x, {name: x[name] + more})) >= laser.carton_s(x)


@PROPERTY
@given(scenarios())
def test_the_inventory_is_linear_in_good_sheets_and_crease_sets(scenario):
    """The exact ranges are read off one of each: what is not linear belongs into a step function."""
    x = scenario.inputs
    p = laser.plan(x)
    amounts = [
        Amounts(1000.0, good, laser.all_sheets(x, p, good), again)
        for good, again in ((0.0, 0.0), (10.0, 0.0), (0.0, 3.0), (10.0, 3.0))
    ]
    at = [laser.flows(x, p, each) for each in amounts]
    for origin, sheets, again, both in zip(*(i.flows for i in at), strict=True):
        assert both.quantity == pytest.approx(
            sheets.quantity + again.quantity - origin.quantity, rel=1e-9, abs=1e-9 * max(1, abs(origin.quantity))
        )
