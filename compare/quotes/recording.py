"""From a comparison to the record of its quote."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np

from compare.boards import boards
from compare.data_files import data_digest
from compare.decide.break_even import Route
from compare.decide.comparison import Comparison, RouteResult
from compare.decide.comparison import compare as run
from compare.errors import FileError, InputError
from compare.geometry.sheet_loads import SheetLoads
from compare.names import Inputs
from compare.quotes.quote_record import (
    ROUTES,
    QuoteAsked,
    QuoteRecord,
    RecordedBreakEven,
    RecordedDrawing,
    RecordedLayer,
    RecordedRange,
    RecordedRoute,
    Results,
    RouteFigures,
    RouteName,
    Value,
    Versions,
    canonical,
)
from compare.quotes.recorded_loads import RecordedLoads
from compare.quotes.recorded_ranges import range_texts
from compare.readers.jobfile import Layer
from compare.scenario import Scenario

DRAWING_NAMES = ("carton.drawing", "carton.drawing_unit", "carton.line_map")
"""Texts that name a drawing and say how to read it."""

_BY_DRAWING = ("work.", "carton.", "layout.", "laser.mean_jump_mm", "laser.balance")
"""What may be worked out of a drawing."""


def record_quote(
    comparison: Comparison, plant: Sequence[Layer], job: Sequence[Layer], asked: QuoteAsked, *, program: str
) -> QuoteRecord:
    """Return the record of a quote.

    Parameters
    ----------
    comparison : Comparison
        Of the scenario that ``prepare(*plant, *job)`` gives.
    plant, job : sequence of Layer
        Values of the plant; values of the job with all settings; each from the weakest to the strongest.
    asked : QuoteAsked
        Client, margin, dates.
    program : str
        Version of the program.

    Returns
    -------
    QuoteRecord

    Raises
    ------
    InputError
        If the comparison is not of these layers and this costing, a run length asked for can't be, or an input can't have
        the range it was given.
    FileError
        If the drawing that the layers name is gone.
    """
    s = comparison.scenario
    _check_together(comparison, (*plant, *job), asked)
    drawing = _drawing(comparison, (*plant, *job)) if s.drawn is not None else None
    grade = s.choices.get("board.grade", "")
    layers = (*(_recorded("plant", layer) for layer in plant), *(_recorded("job", layer) for layer in job))
    return QuoteRecord(
        asked=asked,
        name=s.name,
        note=s.note,
        plant=s.plant,
        board=boards()[grade].name if grade else "",
        layers=layers,
        inputs={name: float(value) for name, value in s.inputs.items()},
        choices=dict(s.choices),
        origins=dict(s.origins),
        factors=dict(s.factors),
        ranges=range_texts(s, comparison.costing),
        loads=None if s.inputs.loads is None else RecordedLoads.of(s.inputs.loads),
        drawing=drawing,
        results=results_of(comparison, asked.run_lengths),
        versions=Versions(program, data_digest(), plant_digest(layers)),
    )


def results_of(comparison: Comparison, run_lengths: tuple[float, ...]) -> Results:
    """Return the figures of a comparison that a quote keeps.

    Parameters
    ----------
    comparison : Comparison
    run_lengths : tuple of float
        Run lengths that costs are wanted for [cartons per order].
    """
    costs = comparison.cost_per_1000_at(np.array(run_lengths, dtype=float))
    return Results(
        die=_route(comparison.die, comparison.die.inventory.strategy, costs.get("die")),
        laser=_route(comparison.laser, "", costs.get("laser")),
        cheaper=comparison.cheaper,
        break_even={
            measure: RecordedBreakEven(
                tuple(RecordedRange(int(r.start), int(r.end), cast("Route", r.lowest)) for r in found.ranges),
                found.run_length,
            )
            for measure, found in comparison.break_even.items()
        },
    )


def plant_digest(layers: Sequence[RecordedLayer]) -> str:
    """Return a digest of the plant's values: 12 hexadecimal digits, the same however many files give them."""
    values = {name: value for layer in layers if layer.of == "plant" for name, value in layer.values.items()}
    return hashlib.sha256(canonical(values)).hexdigest()[:12]


def file_digest(path: Path) -> str:
    """Return the SHA-256 of a file.

    Raises
    ------
    FileError
        If it can't be read.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise FileError(
            f"the file can't be read ({error.strerror})", where=str(path), remedy="check path and rights"
        ) from None


def pinned_scenario(scenario: Scenario, inputs: Mapping[str, float], loads: SheetLoads | None) -> Scenario:
    """Return a scenario of numbers alone: what they were worked out of, a drawing for one, is left out.

    Parameters
    ----------
    scenario : Scenario
        What else there is to know, such as its name.
    inputs : mapping
        Every number, by dotted name.
    loads : SheetLoads or None
        The planned path.
    """
    return replace(
        scenario,
        inputs=Inputs(inputs, loads),
        blank=None,
        drawn=None,
        layouts={},
        toolpath=None,
        grid_layout={},
        findings=(),
        ranges={},
    )


def faults_of(route: RouteResult) -> tuple[str, ...]:
    """Return codes of what a route can't do."""
    return tuple(dict.fromkeys(found.code for found in route.findings if found.kind == "not possible"))


def _route(route: RouteResult, strategy: str, costs: Any) -> RecordedRoute:
    if not route.feasible:
        return RecordedRoute(strategy, faults_of(route), None)
    return RecordedRoute(
        strategy,
        (),
        RouteFigures(
            cost_per_1000=float(route.cost_per_1000),
            co2e_kg_per_1000=float(route.co2e_per_1000),
            biogenic_co2_kg_per_1000=float(route.biogenic_per_1000),
            waste_kg_per_1000=float(route.waste_per_1000),
            hours=float(route.inventory.machine_hours),
            lead_time_days=route.lead_time_days,
            stage_costs={stage: float(money) for stage, money in route.stage_cost_per_1000().items()},
            costs_at_run_lengths=tuple(float(cost) for cost in costs),
        ),
    )


def _recorded(of: Any, layer: Layer) -> RecordedLayer:
    values: dict[str, Value] = {
        name: value if isinstance(value, str) else float(value) for name, value in layer.values.items()
    }
    ranges = {name: str(given) for name, given in layer.ranges.items()}
    return RecordedLayer(of, layer.label, values, dict(layer.about), ranges)


def _check_together(comparison: Comparison, layers: tuple[Layer, ...], asked: QuoteAsked) -> None:
    """Refuse what was not computed from one another: the record would say what nobody computed."""
    s = comparison.scenario
    given = {name: value for layer in layers for name, value in layer.values.items()}
    for name, value in given.items():
        used = s.choices.get(name) if name in s.choices else s.inputs.get(name)
        if used != value and not (name.startswith("factors.") and isinstance(value, str)):
            raise InputError(f"{name} is not what the comparison was made with", where="quote")
    if comparison.costing != asked.costing:
        raise InputError("the comparison was made with other machine rates", where="quote")
    if comparison.run_length not in asked.run_lengths:
        raise InputError(
            "the run lengths leave out the one of the job",
            where="run lengths",
            remedy=f"add {comparison.run_length:g}",
        )
    if asked.run_lengths[0] < s.inputs.number("demand.versions"):
        raise InputError(
            f"a run of {asked.run_lengths[0]:g} cartons is shorter than its {s.inputs.number('demand.versions'):g} versions",
            where="run lengths",
            remedy="give at least one carton per version",
        )


def _drawing(comparison: Comparison, layers: tuple[Layer, ...]) -> RecordedDrawing:
    s = comparison.scenario
    given = {name for layer in layers for name in layer.values}
    values = {
        name: float(value)
        for name, value in s.inputs.items()
        if name.startswith(_BY_DRAWING) and name not in given and s.origins[name] != "assumption"
    }
    by_numbers = run(pinned_scenario(s, {n: float(v) for n, v in s.inputs.items()}, None), comparison.costing)
    faults: dict[RouteName, tuple[str, ...]] = {}
    for route in ROUTES:
        known = faults_of(by_numbers.route(route))
        faults[route] = tuple(code for code in faults_of(comparison.route(route)) if code not in known)
    name, digest = _named_file(layers, "carton.drawing")
    line_map, line_map_digest = _named_file(layers, "carton.line_map")
    return RecordedDrawing(
        name=s.drawn.name if s.drawn is not None else name,
        sha256=digest,
        line_map=line_map,
        line_map_sha256=line_map_digest,
        values=values,
        faults=faults,
    )


def _named_file(layers: tuple[Layer, ...], which: str) -> tuple[str, str]:
    """Return name and digest of a file that the layers name; no digest where it came without its folder."""
    layer = next((layer for layer in reversed(layers) if which in layer.values), None)
    text = "" if layer is None else str(layer.values[which])
    if layer is None or not text:
        return "", ""
    path = None if layer.folder is None else layer.folder / text
    return Path(text).name, "" if path is None else file_digest(path)
