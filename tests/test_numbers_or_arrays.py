"""Numbers or arrays: whatever a function is given, it gives the same figures, one by one or all at once.

A sweep, a map, a draw of ten thousand and a whole order book are one call with arrays. It may differ from a loop over
plain numbers in nothing, not even in the last digit. Every public function that takes such numbers stands in
:data:`CALLS`; a test looks for those that do not.
"""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW, KINDS, PROPERTY, RANGED, scenarios

from compare import Inputs, Scenario, evaluate, prepare, replace, vary
from compare.decide import evaluate as evaluating
from compare.decide.evaluate import Measure, measure_of, possible_routes
from compare.decide.lead_time import lead_time_days
from compare.decide.lot_size import economic_lot, lot_cost
from compare.geometry.axis_motion import moves_table
from compare.geometry.creasing import crease_channel, crease_rule_height
from compare.geometry.layout import grid_ups
from compare.geometry.sheet_loads import HeadLoad, SheetLoads
from compare.geometry.speed_table import limited, straight
from compare.machine_rate import hourly_rate, machine_hour_rate
from compare.readers.jobfile import Layer
from compare.routes import die, head_times, inventory, laser, limits
from compare.scenario import rates_of_capital
from compare.sheet_ups import ups_by_grid
from compare.valuation import carbon, money, waste, weighting

ROOT = Path(__file__).resolve().parents[1]
MODULES = (
    "compare.machine_rate",
    "compare.scenario",
    "compare.sheet_ups",
    "compare.geometry.creasing",
    "compare.geometry.layout",
    "compare.routes.head_times",
    "compare.routes.inventory",
    "compare.routes.die",
    "compare.routes.laser",
    "compare.routes.limits",
    "compare.valuation.weighting",
    "compare.valuation.money",
    "compare.valuation.carbon",
    "compare.valuation.waste",
    "compare.decide.evaluate",
    "compare.decide.lead_time",
    "compare.decide.lot_size",
)
VARYING = ("Number", "Truth", "Inputs", "Inventory", "DiePlan", "LaserPlan", "Evaluation", "Limit")
"""Annotations that mean: this may hold an array."""

ONE_BY_ONE = {
    "compare.routes.inventory.absent": "asks whether something is there in any scenario at all",
    "compare.routes.inventory.fill_in": "a sentence for people is about one job",
    "compare.routes.limits.findings": "a sentence for people is about one job",
    "compare.scenario.prepare": "a file describes one job; it is varied afterwards",
    "compare.decide.lot_size.setup_cost_per_order": "shown for one job, and returns a plain number",
    "compare.decide.lot_size.economic_lot_of": "shown for one job, and returns a plain number",
}
"""Functions that take such numbers for a single scenario only, and why."""

A_LOAD = HeadLoad(
    {"cutting": 1.8, "partial_cutting": 0.4},
    {"cutting": limited([1.5, 0.2, 0.1], [np.inf, 3.0, 0.7]), "partial_cutting": straight(0.4)},
    moves_table(np.array([0.05, 0.3, 0.8]), 40.0),
    strokes=7,
    short_jumps=1.3,
    corner_load=21.5,
    nick_share=0.6,
)
OTHER_LOAD = HeadLoad({"cutting": 1.9}, {"cutting": straight(1.9)}, straight(0.7), 6, 0.0, 18.0, 0.4)
LOADS = SheetLoads((A_LOAD, OTHER_LOAD), frozenset())
"""What two heads might have to do; the first has limits on its way, and axes that jump."""

CAPITAL = {"purchase": 1e6, "residual": 1e5, "life_y": 10.0, "interest": 0.06, "hours_per_year": 3200.0}


def _die(x: Inputs) -> inventory.Inventory:
    return die.inventory(x, "separate")


def _good(x: Inputs) -> Any:
    return die.good_sheets(die.plan(x, "separate"), x["demand.run_length"])


def _amounts(x: Inputs) -> inventory.Amounts:
    return inventory.Amounts(x["demand.run_length"], _good(x), 1.1 * _good(x), x["demand.versions"])


def _by_flow(found: inventory.Inventory, values: list[Any]) -> dict[str, Any]:
    """Name the value of each flow by its place, so that a flow that is not there shifts no other."""
    named: dict[str, Any] = {}
    for flow, value in zip(found.flows, values, strict=True):
        place = f"{flow.stage}, {flow.resource}"
        while place in named:
            place += "'"
        named[place] = value
    return named


def _grid(x: Inputs, grain: str) -> Any:
    margins = {"gripper_mm": x["sheet.gripper_mm"], "side_margin_mm": 8.0, "tail_margin_mm": x["sheet.tail_margin_mm"]}
    return grid_ups(
        x["sheet.width_mm"],
        x["sheet.length_mm"],
        180.0,
        260.0,
        **margins,
        gutter_mm=x["layout.gutter_die_mm"],
        grain=grain,
    )


def _ups(x: Inputs) -> Any:
    values = {**x, "carton.blank_width_mm": 180.0, "carton.blank_height_mm": 260.0}
    return [ups_by_grid(values, route, "any") for route in ("die", "laser")]


def _rates(x: Inputs) -> Any:
    rate = machine_hour_rate(
        **{**CAPITAL, "purchase": 1e4 * x["rates.press_h"], "hours_per_year": 100 * x["die.hours_per_day"]},
        space_per_year=x["rates.labour_h"],
        energy_per_hour=x["rates.kwh"],
    )
    return (*rate, rate.full, rate.cash)


def _evaluated(x: Inputs) -> Any:
    found = evaluate(x, measures=get_args(Measure))
    return found, [found.per_1000(route, "cost") for route in ("die", "laser")]


# the name of a function, and a call of it whose arguments come from the inputs of a random job
CALLS: dict[str, Callable[[Inputs], Any]] = {
    "compare.machine_rate.hourly_rate": lambda x: hourly_rate(
        x["rates.press_h"], x["die.hours_per_day"], x["rates.kwh"]
    ),
    "compare.machine_rate.machine_hour_rate": _rates,
    "compare.sheet_ups.ups_by_grid": _ups,
    "compare.geometry.creasing.crease_channel": lambda x: crease_channel(
        x["board.caliper_mm"], x["toolmaker.rule_thickness_mm"]
    ),
    "compare.geometry.creasing.crease_rule_height": lambda x: crease_rule_height(23.8, x["board.caliper_mm"], 0.15),
    "compare.geometry.layout.grid_ups": lambda x: [_grid(x, grain) for grain in ("any", "width", "length")],
    "compare.routes.inventory.board_flows": lambda x: inventory.board_flows(
        sheets=1.1 * _good(x),
        good_sheets=_good(x),
        ups_used=x["layout.ups_die"],
        cartons=x["demand.run_length"],
        sheet_kg=x["board.grammage_g_m2"],
        blank_kg=x["carton.blank_area_m2"],
    ),
    "compare.routes.inventory.whole_up": lambda x: inventory.whole_up(x["demand.run_length"] / x["layout.ups_die"]),
    "compare.routes.die.plan": lambda x: [die.plan(x, "separate"), die.plan(x, "ganged")],
    "compare.routes.die.gang_possible": die.gang_possible,
    "compare.routes.die.good_sheets": _good,
    "compare.routes.die.all_sheets": lambda x: die.all_sheets(x, die.plan(x, "separate"), _good(x)),
    "compare.routes.die.rerulings": lambda x: die.rerulings(x, die.plan(x, "separate"), 50 * x["demand.run_length"]),
    "compare.routes.die.inventory": lambda x: [die.inventory(x, "separate"), die.inventory(x, "ganged")],
    "compare.routes.die.flows": lambda x: die.flows(x, die.plan(x, "ganged"), _amounts(x)),
    "compare.routes.laser.mark_speed": lambda x: laser.mark_speed(
        x["laser.max_mark_m_s"],
        x["laser.power_w"],
        x["laser.severance_j_mm2"],
        x["board.caliper_mm"],
        x["laser.partial_depth"],
    ),
    "compare.routes.laser.source_kw": lambda x: [
        laser.source_kw(x["laser.power_w"], x["laser.efficiency"], x["laser.chiller_cop"]),
        laser.source_kw(x["laser.power_w"], x["laser.efficiency"]),
    ],
    "compare.routes.laser.kerf_kg": lambda x: laser.kerf_kg(
        x["work.cutting_m"], x["laser.kerf_mm"], x["board.grammage_g_m2"]
    ),
    "compare.routes.laser.cut_speed": lambda x: laser.cut_speed(
        x["laser.power_w"], x["laser.severance_j_mm2"], x["board.caliper_mm"], x["laser.partial_depth"]
    ),
    "compare.routes.laser.line_speeds": laser.line_speeds,
    "compare.routes.laser.line_m": laser.line_m,
    "compare.routes.laser.stroke_delay_s": laser.stroke_delay_s,
    "compare.routes.head_times.head_times": lambda x: head_times.head_times(x, LOADS, laser.line_speeds(x)),
    "compare.routes.laser.marking_and_sheet_s": lambda x: [
        laser.marking_and_sheet_s(x),
        laser.marking_and_sheet_s(Inputs(x, LOADS)),
    ],
    "compare.routes.laser.marking_s": laser.marking_s,
    "compare.routes.laser.between_marks_s": laser.between_marks_s,
    "compare.routes.laser.carton_s": laser.carton_s,
    "compare.routes.laser.sheet_s": laser.sheet_s,
    "compare.routes.laser.cycle_s": laser.cycle_s,
    "compare.routes.laser.plan": laser.plan,
    "compare.routes.laser.good_sheets": lambda x: laser.good_sheets(x, laser.plan(x), x["demand.run_length"]),
    "compare.routes.laser.all_sheets": lambda x: laser.all_sheets(x, laser.plan(x), _good(x)),
    "compare.routes.laser.crease_sets": lambda x: laser.crease_sets(x, laser.plan(x), 10 * x["demand.run_length"]),
    "compare.routes.laser.inventory": laser.inventory,
    "compare.routes.laser.flows": lambda x: laser.flows(x, laser.plan(x), _amounts(x)),
    "compare.routes.limits.press_force_kn": lambda x: limits.press_force_kn(
        x["work.cutting_m"], x["die.cutting_force_n_mm"], x["die.rubber_width_mm"], x["die.rubber_pressure_n_mm2"]
    ),
    "compare.routes.limits.die_force_kn": limits.die_force_kn,
    "compare.routes.limits.strategies": limits.strategies,
    "compare.routes.limits.die_limits": limits.die_limits,
    "compare.routes.limits.laser_limits": lambda x: [limits.laser_limits(x), limits.laser_limits(x, "pvc")],
    "compare.routes.limits.possible": lambda x: [
        limits.possible(limits.die_limits(x)),
        limits.possible(limits.laser_limits(x)),
    ],
    "compare.valuation.weighting.flow_values": lambda x: _by_flow(
        _die(x), weighting.flow_values(_die(x), lambda _: x["rates.kwh"])
    ),
    "compare.valuation.weighting.total_value": lambda x: weighting.total_value(_die(x), lambda _: x["rates.kwh"]),
    "compare.valuation.money.price": lambda x: [
        p for r in inventory.RESOURCES for c in ("full", "cash") if (p := money.price(r, x, c)) is not None
    ],
    "compare.valuation.money.flow_money": lambda x: [
        _by_flow(i, money.flow_money(i, x, "full")) for i in (_die(x), laser.inventory(x))
    ],
    "compare.valuation.money.total_money": lambda x: [
        money.total_money(i, x, "cash") for i in (_die(x), laser.inventory(x))
    ],
    "compare.valuation.carbon.factor": lambda x: [
        f for r in inventory.RESOURCES if (f := carbon.factor(r, x)) is not None
    ],
    "compare.valuation.carbon.flow_carbon": lambda x: [
        _by_flow(i, carbon.flow_carbon(i, x)) for i in (_die(x), laser.inventory(x))
    ],
    "compare.valuation.carbon.total_carbon": lambda x: [
        carbon.total_carbon(i, x, biogenic=b) for i in (_die(x), laser.inventory(x)) for b in (True, False)
    ],
    "compare.valuation.waste.mass_balance": lambda x: [waste.mass_balance(i) for i in (_die(x), laser.inventory(x))],
    "compare.valuation.waste.total_waste": lambda x: [waste.total_waste(i) for i in (_die(x), laser.inventory(x))],
    "compare.valuation.waste.loss_share": lambda x: waste.loss_share(x["board.grammage_g_m2"], x["laser.crew"]),
    "compare.decide.evaluate.measure_of": lambda x: [measure_of(_die(x), x, m, "full") for m in get_args(Measure)],
    "compare.decide.evaluate.evaluate": _evaluated,
    "compare.decide.evaluate.clearly_below": lambda x: evaluating.clearly_below(x["rates.press_h"], x["rates.laser_h"]),
    "compare.decide.evaluate.possible_routes": lambda x: [possible_routes(x), possible_routes(x, "pvc")],
    "compare.decide.lead_time.lead_time_days": lambda x: [lead_time_days(i, x) for i in (_die(x), laser.inventory(x))],
    "compare.decide.lot_size.economic_lot": lambda x: economic_lot(
        x["rates.press_h"], x["demand.run_length"], x["rates.kwh"]
    ),
    "compare.decide.lot_size.lot_cost": lambda x: lot_cost(x["rates.press_h"], x["demand.run_length"], x["rates.kwh"]),
}


def _leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Take a result apart into its numbers, each with its place."""
    if value is None or isinstance(value, str):
        return
    if isinstance(value, inventory.Inventory):
        parts = {f.name: getattr(value, f.name) for f in dataclasses.fields(value) if f.name != "flows"}
        value = parts | {"flows": _by_flow(value, [flow.quantity for flow in value.flows])}
    elif dataclasses.is_dataclass(value):
        value = {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
    elif hasattr(value, "_asdict"):
        value = value._asdict()
    if isinstance(value, Mapping):
        for key, part in value.items():
            yield from _leaves(part, f"{path}.{key}")
    elif isinstance(value, (list, tuple)):
        for i, part in enumerate(value):
            yield from _leaves(part, f"{path}[{i}]")
    else:
        yield path, value


ROWS = 4


@st.composite
def _tables(draw: st.DrawFn) -> tuple[Scenario, dict[str, np.ndarray]]:
    """Draw a job, and what varies: always run, versions, switches and ups, and up to ten of the other inputs."""
    scenario = draw(scenarios())
    others = [draw(scenarios()).inputs for _ in range(ROWS)]
    x = scenario.inputs
    together = (
        "demand.run_length",
        "demand.versions",
        "demand.crease_versions",
        "demand.mixed_sheets",
        "tooling.owned",
    )
    also = (
        "demand.orders_per_year",
        "demand.years",
        "demand.changes_per_year",
        "laser.crease_set_stored",
        *(f"work.{kind}_m" for kind in KINDS),
    )
    some = draw(st.sets(st.sampled_from(RANGED), max_size=10))
    names = [n for n in (*together, *also, "layout.ups_die", "layout.ups_laser", *sorted(some)) if n in x]
    columns = {name: np.array([other.get(name, x[name]) for other in others]) for name in names}
    area = x["sheet.width_mm"] * x["sheet.length_mm"] * 1e-6 / x["carton.blank_area_m2"]
    for route in ("die", "laser"):  # the blank is that of the first job
        columns[f"layout.ups_{route}"] = np.clip(columns[f"layout.ups_{route}"], 1, max(np.floor(area), 1))
    return scenario, columns


@cache
def _drawn() -> list[tuple[Scenario, dict[str, np.ndarray]]]:
    """Sixty tables, drawn once and tried on every function: drawing takes longer than computing."""
    tables: list[tuple[Scenario, dict[str, np.ndarray]]] = []

    @PROPERTY
    @given(_tables())
    def collect(table):
        tables.append(table)

    collect()
    return tables


@pytest.mark.parametrize("name", sorted(CALLS))
def test_an_array_is_a_loop_of_numbers(name):
    call = CALLS[name]
    for scenario, columns in _drawn():
        x = scenario.inputs
        together = dict(_leaves(call(x.with_values(columns))))
        assert together
        for row in range(ROWS):
            alone = dict(_leaves(call(x.with_values({n: float(values[row]) for n, values in columns.items()}))))
            assert alone.keys() <= together.keys()
            for place, values in together.items():
                whole = np.broadcast_to(values, (ROWS,))
                # what is not there in one scenario needs no flow there, and is 0 among others
                assert whole[row] == alone.get(place, 0), f"{place}, row {row} of {columns}"


@FEW
@given(_tables())
def test_replacing_by_arrays_checks_and_keeps_every_row(table):
    scenario, columns = table
    together = replace(scenario.inputs, columns)
    for row in range(ROWS):
        alone = replace(scenario.inputs, {name: values[row] for name, values in columns.items()})
        assert {n: np.broadcast_to(together[n], (ROWS,))[row] for n in columns} == {n: alone[n] for n in columns}


@FEW
@given(st.data())
def test_varying_a_sheet_by_an_array_is_a_loop_of_sheets(data):
    """The ups follow the sheet, row by row."""
    boxed = {"carton.style": "sleeve", "carton.length_mm": 60.0, "carton.width_mm": 25.0, "carton.height_mm": 80.0}
    sheet = {"sheet.width_mm": 1000.0, "sheet.length_mm": 700.0, "demand.run_length": 900.0, "board.grade": "kraft_300"}
    scenario = prepare(Layer("test", boxed | sheet))
    widths = np.array(data.draw(st.lists(st.integers(500, 1060), min_size=ROWS, max_size=ROWS)), dtype=float)
    together = vary(scenario, {"sheet.width_mm": widths})
    for row, width in enumerate(widths):
        alone = vary(scenario, {"sheet.width_mm": width})
        for route in ("die", "laser"):
            assert together[f"layout.ups_{route}"][row] == alone[f"layout.ups_{route}"]


@FEW
@given(st.lists(st.floats(1500, 5500), min_size=ROWS, max_size=ROWS))
def test_rates_of_many_hours_are_a_loop_of_hours(hours):
    capital = {"line_capital.purchase": 2e6, "press_capital.purchase": 1e6}
    boxed = {"carton.style": "sleeve", "carton.length_mm": 60.0, "carton.width_mm": 25.0, "carton.height_mm": 80.0}
    sheet = {"sheet.width_mm": 1000.0, "sheet.length_mm": 700.0, "demand.run_length": 900.0, "board.grade": "kraft_300"}
    scenario = prepare(Layer("test", boxed | sheet | capital))
    together = rates_of_capital(scenario, {"line_capital.hours_y": np.array(hours)})
    assert set(together) == {"rates.laser_h", "rates.laser_cash_h"}
    for row, each in enumerate(hours):
        alone = prepare(Layer("test", boxed | sheet | capital | {"line_capital.hours_y": each})).inputs
        assert {name: rates[row] for name, rates in together.items()} == {name: alone[name] for name in together}


# -- nobody is left out -----------------------------------------------------------------------------------------------


def _takes_or_gives_numbers(function: Callable[..., Any]) -> bool:
    words = [str(annotation) for annotation in function.__annotations__.values()]
    return any(word in _words(text) for text in words for word in VARYING)


def _words(annotation: str) -> set[str]:
    return {node.id for node in ast.walk(ast.parse(annotation, mode="eval")) if isinstance(node, ast.Name)} | {
        node.attr for node in ast.walk(ast.parse(annotation, mode="eval")) if isinstance(node, ast.Attribute)
    }


def _public_functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for name in MODULES:
        module = importlib.import_module(name)
        for key, value in vars(module).items():
            if inspect.isfunction(value) and value.__module__ == name and not key.startswith("_"):
                yield f"{name}.{key}", value


def test_every_function_of_numbers_is_held_to_it():
    """A new function that takes or gives numbers has to be entered above, or to say why it is about one job."""
    found = {name for name, function in _public_functions() if _takes_or_gives_numbers(function)}
    exempt = {"compare.scenario.vary", "compare.scenario.rates_of_capital"}  # have tests of their own above
    assert sorted(found - set(CALLS) - set(ONE_BY_ONE) - exempt) == []


def test_nobody_stands_in_the_list_who_is_not_there():
    known = {name for name, _ in _public_functions()}
    assert sorted({*CALLS, *ONE_BY_ONE} - known) == []


def test_every_module_of_these_rooms_is_searched():
    """A new file must not escape. Those left out hold no function of arrays."""
    rooms = ("routes", "valuation", "decide")
    files = {f"compare.{room}.{path.stem}" for room in rooms for path in (ROOT / "compare" / room).glob("*.py")}
    without = {f"compare.{room}.__init__" for room in rooms} | {
        "compare.decide.break_even",  # one scenario, over all its run lengths
        "compare.decide.comparison",  # one scenario
        # fits to a file of measured rows
        *(
            f"compare.decide.{part}"
            for part in ("calibration", "fit_unknowns", "least_squares", "make_ready_fit", "sheet_fit")
        ),
        "compare.routes.sheet_time",  # one scenario, for people
        # all draws of one job, tried against the engine at the same draws
        *(
            f"compare.decide.{part}"
            for part in ("break_even_draws", "draws", "information", "quantiles", "route_draws")
        ),
        *(f"compare.decide.{part}" for part in ("uncertainty", "variance_shares", "varied_inputs", "way_totals")),
        "compare.decide.step_totals",  # arrays of run lengths only, tried against a scan of every one
        # whole books only; a property test holds every row to the comparison of its job
        *(f"compare.decide.order_{part}" for part in ("book", "faults", "inputs", "jobs")),
        # choices and plans of a whole book: what happens to one job hangs on the others
        *(f"compare.decide.book_{part}" for part in ("limits", "plan", "remarks")),
        *(f"compare.decide.{part}" for part in ("choice_items", "hour_prices", "selection", "selection_search")),
        *(f"compare.decide.{part}" for part in ("assignment", "saving_range")),
        # rows of one table of measurements, fitted together
        *(
            f"compare.decide.{part}"
            for part in ("calibration", "fit_unknowns", "least_squares", "make_ready_fit", "sheet_fit")
        ),
        # years of one investment and lots of one line; what is elementwise in them is held to it by their own tests
        *(f"compare.decide.{part}" for part in ("cash_flows", "investment", "queueing")),
    }
    assert sorted(files - set(MODULES) - without) == []
