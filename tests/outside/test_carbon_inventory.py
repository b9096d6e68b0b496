"""Carbon and mass of whole jobs: balances, slopes, break-even in CO2e, and the grid that turns it round."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare import compare, evaluate, replace
from compare.decide.step_totals import EVEN, Range, crossover
from compare.routes import die, laser

# Only tooling and electricity carry carbon here: 0.7 m2 of die board at 12 kg/m2 and 1 kg CO2e/kg is
# 8.4 kg; the die takes 11 kW / 5,500 per h = 0.002 kWh a sheet, the laser 20 kW / 4,000 per h = 0.005 kWh.
TOOL_AGAINST_POWER = {
    "toolmaker.die_board_kg_m2": 12,
    "factors.die_board_kg": 1.0,
    "factors.kwh": 0.4,
    **{f"factors.{role}": 0.0 for role in ("board_kg", "steel_kg", "rubber_kg", "plastic_kg", "freight_tkm")},
    "factors.waste_board_kg": 0.0,
    "work.cutting_m": 0,
    "die.speed_sheets_h": 5_500,
    "die.run_kw": 11,
    "die.idle_kw": 0,
    "die.running_waste": 0,
    "die.make_ready_first_sheets": 0,
    "laser.feeder_sheets_h": 4_000,
    "laser.aux_kw": 20,
    "laser.idle_kw": 0,
    "laser.running_waste": 0,
    "laser.setup_sheets": 0,
}

# Derived illustration with the shipped factor set: a die of 0.70 m2 and 30 m of rule brought 100 km by
# van, and a laser that takes 10 kWh more per 1,000 sheets (quantities made up).
ILLUSTRATION = {
    "work.cutting_m": 0,
    "work.creasing_m": 30,
    "toolmaker.distance_km": 100,
    "die.rubber_kg_m": 0,
    "die.counter_kg_m2": 0,
    "laser.crease_set_kg": 0,
    "die.speed_sheets_h": 5_500,
    "die.run_kw": 11,
    "die.idle_kw": 0,
    "die.running_waste": 0,
    "die.make_ready_first_sheets": 0,
    "laser.feeder_sheets_h": 4_000,
    "laser.aux_kw": 48,
    "laser.idle_kw": 0,
    "laser.running_waste": 0,
    "laser.setup_sheets": 0,
}


def test_board_bought_is_cartons_overs_spoilage_and_trim(load, demo_job):
    """Derived: mass is neither made nor lost before kerf is taken off."""
    comparison = compare(load(demo_job))
    for route in (comparison.die, comparison.laser):
        b = route.balance
        assert b.board_in == pytest.approx(b.good + b.overs + b.spoilage + b.trim, rel=1e-9)
        assert min(b.good, b.overs, b.spoilage, b.trim) >= 0


def test_board_bought_is_sheets_times_their_mass(load, demo_job):
    """Derived: the other way round, from format and grammage, without the balance."""
    comparison = compare(load(demo_job))
    x = comparison.scenario.inputs
    sheet_kg = x["sheet.width_mm"] / 1000 * x["sheet.length_mm"] / 1000 * x["board.grammage_g_m2"] / 1000
    for route in (comparison.die, comparison.laser):
        assert route.balance.board_in == pytest.approx(route.inventory.sheets * sheet_kg, rel=1e-9)


def test_one_metre_of_kerf_is_0_060_grams_and_0_0911_grams_of_biogenic_co2(plain):
    """Derived: 0.2 mm x 300 g/m2, and 1.518 kg CO2 per kg of board (IPCC 2006 contents, published)."""
    values = {"work.cutting_m": 1, "demand.run_length": 1, "laser.kerf_mm": 0.2}
    route = compare(plain(values)).laser
    assert route.balance.kerf * 1000 == pytest.approx(0.060, abs=1e-9)
    assert sum(row.biogenic_co2_kg for row in route.ledger) * 1000 == pytest.approx(0.0911, abs=5e-5)


def test_burning_kerf_leaves_the_fossil_total_as_it_is(load, demo_job):
    """Derived: the board in the kerf was counted when it was bought; its smoke is biogenic."""
    burnt, unburnt = (compare(load(demo_job, f"factors.kerf_biogenic_kg={f}")).laser for f in (1.518, 0))
    assert burnt.co2e_per_1000 == unburnt.co2e_per_1000
    assert burnt.biogenic_per_1000 > 0
    assert unburnt.biogenic_per_1000 == 0


def test_fossil_and_biogenic_carbon_never_stand_in_one_figure(load, demo_job):
    """Derived: kerf is the one biogenic line, and it is in no sum of CO2e."""
    comparison = compare(load(demo_job))
    for route in (comparison.die, comparison.laser):
        fossil = sum(row.co2e_kg for row in route.ledger if row.resource != "kerf") / route.thousands
        assert route.co2e_per_1000 == pytest.approx(fossil, rel=1e-12)
        assert [r.resource for r in route.ledger if r.biogenic_co2_kg and r.co2e_kg] == []
        assert {r.resource for r in route.ledger if r.biogenic_co2_kg} <= {"kerf"}
    assert comparison.die.biogenic_per_1000 == 0


def test_landfill_instead_of_recycling_adds_1159_80372_kg_per_tonne_of_waste(load, demo_job):
    """Published: UK Government conversion factors 2025, "Waste disposal", 1,164.4894 - 4.68568; difference derived."""
    recycled = compare(load(demo_job, "factors.waste_board_kg=uk2025_waste_board_recycle"))
    landfilled = compare(load(demo_job, "factors.waste_board_kg=uk2025_waste_board_landfill"))
    for route in ("die", "laser"):
        before, after = recycled.route(route), landfilled.route(route)
        more_kg = (after.co2e_per_1000 - before.co2e_per_1000) * before.thousands
        assert more_kg / (before.balance.waste / 1000) == pytest.approx(1_159.80372, rel=1e-9)


def _tooling_kg(load, *settings_):
    route = compare(load("bakery_tray", *settings_)).die
    return sum(row.co2e_kg for row in route.ledger if row.stage == "tooling"), route.thousands


def test_tooling_carbon_per_1000_times_the_run_is_constant(load):
    """Derived: a die is made once, below its life; per 1,000 it falls to nothing with the run."""
    runs = {
        run: _tooling_kg(load, f"demand.run_length={run}", "die.life_impressions=1e9") for run in (1_000, 10**5, 10**8)
    }
    totals = [kg for kg, _ in runs.values()]
    assert totals == pytest.approx([totals[0]] * 3, rel=1e-12)
    per_1000 = [kg / thousands for kg, thousands in runs.values()]
    assert per_1000 == sorted(per_1000, reverse=True)
    assert per_1000[-1] == pytest.approx(0, abs=1e-3)


def test_repeat_orders_share_one_die(load):
    """Derived: without structural changes twelve orders a year take the die of one."""
    once, _ = _tooling_kg(load, "demand.orders_per_year=1", "die.life_impressions=1e9")
    often, _ = _tooling_kg(load, "demand.orders_per_year=12", "die.life_impressions=1e9")
    assert often == pytest.approx(once, rel=1e-12)


def _co2e_break_even(plain, **changes):
    values = {**TOOL_AGAINST_POWER, **{name.replace("__", "."): value for name, value in changes.items()}}
    return compare(plain(values)).break_even["co2e"]


def test_both_routes_emit_14_kg_at_the_break_even(plain):
    """Derived: N = 8.4 kg / (0.003 kWh x 0.4 kg/kWh) = 7,000; there 8.4 + 5.6 = 14.0 kg on either route."""
    at = evaluate(replace(plain(TOOL_AGAINST_POWER).inputs, {"demand.run_length": 7_000}))
    assert at.die["co2e"] == pytest.approx(14.0, rel=1e-9)
    assert at.laser["co2e"] == pytest.approx(14.0, rel=1e-9)
    assert crossover(8.4, 0.0008, 0, 0.002) == pytest.approx(7_000, rel=1e-9)


def test_die_is_lower_in_carbon_after_the_break_even(plain):
    """Derived: the tie at 7,000 sheets belongs to neither route."""
    assert _co2e_break_even(plain).ranges == (
        Range(1, 6_999, "laser"),
        Range(7_000, 7_000, EVEN),
        Range(7_001, 1_000_000, "die"),
    )


def test_break_even_goes_with_the_tooling_carbon(plain):
    """Derived: twice the die, twice 7,000."""
    assert _co2e_break_even(plain, factors__die_board_kg=2.0).run_length == 14_001


def test_break_even_goes_inversely_with_the_grid_factor(plain):
    """Derived: twice the carbon of a kWh, half of 7,000."""
    assert _co2e_break_even(plain, factors__kwh=0.8).run_length == 3_501


def test_grid_without_carbon_has_no_break_even(plain):
    """Derived: the tool is never paid back; that is an answer and no division by zero."""
    found = _co2e_break_even(plain, factors__kwh=0.0)
    assert found.run_length is None
    assert found.answer == "none: laser throughout"


def test_laser_that_takes_less_electricity_is_lower_throughout(plain):
    """Derived: 4 kW / 4,000 per h = 0.001 kWh a sheet, below the die's 0.002."""
    found = _co2e_break_even(plain, laser__aux_kw=4)
    assert found.run_length is None
    assert found.answer == "none: laser throughout"


def test_a_die_of_0_70_m2_and_30_metres_of_rule_emits_14_7_kg(plain):
    """Derived: 2.3 kg of die board + 11.4 kg of rule + 1.0 kg of freight, factors published (UK Government 2025)."""
    ledger = compare(plain(ILLUSTRATION)).die.ledger
    kg = {row.resource: row.co2e_kg for row in ledger if row.stage == "tooling" and row.co2e_kg}
    assert kg == {
        "die board": pytest.approx(2.326, abs=5e-4),
        "creasing rule": pytest.approx(11.401, abs=5e-4),
        "tool freight": pytest.approx(0.987, abs=5e-4),
    }
    assert sum(kg.values()) == pytest.approx(14.7, abs=0.05)


@pytest.mark.parametrize(
    ("grid", "sheets"),
    [
        pytest.param({"factors.kwh": "uk2025_elec_full"}, 5_996, id="UK all-in 0.2454"),
        pytest.param({"plant.country": "FR"}, 33_306, id="France 0.044179"),
        pytest.param({"plant.country": "IN"}, 2_078, id="India 0.708322"),
    ],
)
def test_the_same_die_breaks_even_at_6_33_or_2_thousand_sheets_by_grid(plain, grid, sheets):
    """Derived: 14.71386 kg / (0.01 kWh x the grid's factor), the next whole sheet; factors published."""
    assert compare(plain({**ILLUSTRATION, **grid})).break_even["co2e"].run_length == sheets


@pytest.mark.parametrize("job", ["bakery_tray", "chocolate_crash_lock"])
def test_grid_turns_the_carbon_winner_round(load, job):
    """Derived from published grids (Ember, 2024: SE 0.0358, IN 0.7083): laser lower in Sweden, die in India."""
    sweden, india = (compare(load(job, f"plant.country={country}")) for country in ("SE", "IN"))
    assert sweden.laser.co2e_per_1000 < sweden.die.co2e_per_1000
    assert india.die.co2e_per_1000 < india.laser.co2e_per_1000
    assert sweden.break_even["co2e"].at(sweden.run_length) == "laser"
    assert india.break_even["co2e"].at(india.run_length) == "die"


@settings(max_examples=20, deadline=None)
@given(grid=st.floats(0.02, 1.0), more=st.floats(0.01, 0.5))
def test_carbon_rises_with_the_grid_factor_by_the_kilowatt_hours(load, grid, more):
    """Derived: CO2e is linear in the grid's factor, and its slope is the electricity used."""
    x = load("cereal_400000").inputs
    low, high = (evaluate(replace(x, {"factors.kwh": f})) for f in (grid, grid + more))
    slope = {route: (getattr(high, route)["co2e"] - getattr(low, route)["co2e"]) / more for route in ("die", "laser")}
    assert slope["die"] == pytest.approx(die.inventory(x, "separate").kwh, rel=1e-6)
    assert slope["laser"] == pytest.approx(laser.inventory(x).kwh, rel=1e-6)
    assert min(slope.values()) > 0


@pytest.mark.parametrize("route", ["die", "laser"])
def test_carbon_rises_with_the_board_factor_by_the_kilograms_of_board(load, demo_job, route):
    """Derived: the slope in the board's factor is the board bought."""
    x = load(demo_job).inputs
    low, high = (getattr(evaluate(replace(x, {"factors.board_kg": f})), route)["co2e"] for f in (1.0, 1.5))
    assert (high - low) / 0.5 == pytest.approx(compare(load(demo_job)).route(route).balance.board_in, rel=1e-9)


@pytest.mark.parametrize(
    ("route", "name", "values"),
    [
        ("die", "die.running_waste", (0.005, 0.01, 0.02, 0.05)),
        ("die", "die.make_ready_first_sheets", (0, 50, 120, 500)),
        ("die", "die.make_ready_repeat_sheets", (0, 20, 80)),
        ("laser", "laser.running_waste", (0.005, 0.01, 0.02, 0.05)),
        ("laser", "laser.setup_sheets", (0, 3, 10, 30)),
    ],
)
def test_carbon_rises_with_waste_and_make_ready_sheets(load, route, name, values):
    """Derived: every sheet spoiled was bought and is treated as waste."""
    x = load("chocolate_crash_lock").inputs
    totals = [float(getattr(evaluate(replace(x, {name: v})), route)["co2e"]) for v in values]
    assert totals == sorted(totals)
    assert len(set(totals)) == len(totals)


@pytest.mark.parametrize("job", ["bakery_tray", "cereal_400000", "pharma_12_languages", "subscription_monthly"])
def test_laser_never_shows_less_board_carbon_for_equal_sheets(load, job):
    """Derived: with the same ups and waste and no make-ready sheets the board is the same; kerf saves none."""
    comparison = compare(
        load(
            job,
            *["die.running_waste=0.01", "die.make_ready_first_sheets=0", "die.make_ready_repeat_sheets=0"],
            *["laser.running_waste=0.01", "laser.setup_sheets=0", "laser.kerf_mm=0.3"],
        )
    )
    assert comparison.laser.inventory.sheets == pytest.approx(comparison.die.inventory.sheets, rel=1e-12)
    board = [
        sum(r.co2e_kg for r in route.ledger if r.resource == "board") for route in (comparison.laser, comparison.die)
    ]
    assert board[0] >= board[1] * (1 - 1e-12)
    assert board[0] > 0
