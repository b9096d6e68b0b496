"""A quote computed again: with the values of then, and with those of today; what changed, and what each change did.

Three computations stand in a row, and what lies between two of them has one cause:

1. the figures of the record;
2. today's program on the numbers of the record, each as it was then: between 1 and 2 lies the program alone;
3. today's program on the layers of the record, with the assumptions of then given as values: between 2 and 3 lies what
   is worked out otherwise today from the same (boards, factors, geometry of styles, the planned path);
4. today's program, tables and plant on the layers of the job: between 3 and 4 lie assumptions and values of the
   plant. Each is put into 3 alone, so that effects need not add up to the whole.

Ranges move no figure; they are compared as they are.

A file that the record names is opened only in a folder that the caller gives, by its bare name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from compare.assumptions import assumption_table
from compare.data_files import data_digest
from compare.decide.comparison import Comparison
from compare.decide.comparison import compare as run
from compare.errors import EvenrunError, InputError
from compare.geometry.sheet_loads import SheetLoads
from compare.names import Inputs, check_together
from compare.quotes.changes import (
    NO_EFFECT,
    Change,
    ChangeKind,
    Effect,
    FigureChange,
    alike,
    effects_between,
    effects_of_results,
    figure_changes,
)
from compare.quotes.old_layers import DrawingState, OldLayers, old_layers
from compare.quotes.quote_record import QuoteRecord, Results, RouteName, Value
from compare.quotes.recorded_loads import RecordedLoads
from compare.quotes.recorded_ranges import range_changes
from compare.quotes.recording import DRAWING_NAMES, pinned_scenario, results_of
from compare.readers.jobfile import Layer
from compare.scenario import Scenario, prepare
from compare.sheet_path import PLANNED_FOR

_DIGITS = 12
"""Digits of a file's SHA-256 that are shown."""


@dataclass(frozen=True)
class Pinned:
    """Today's program on the numbers of then.

    Attributes
    ----------
    results : Results
        Its figures.
    figures : tuple of FigureChange
        What differs from the record, be it by the last digit.
    """

    results: Results
    figures: tuple[FigureChange, ...]

    @property
    def exact(self) -> bool:
        """Whether the figures are the same to the last digit."""
        return not self.figures

    @property
    def share(self) -> float:
        """Largest difference as a share of the figure; infinite where what is cheaper or possible, or a way of working, differs."""
        return max((change.share for change in self.figures), default=0.0)

    @property
    def break_even_moved(self) -> bool:
        """Whether a break-even is another one."""
        return any(change.of_break_even for change in self.figures)

    @property
    def differs(self) -> bool:
        """Whether more than rounding differs."""
        return any(change.differs for change in self.figures)


@dataclass(frozen=True)
class Reopened:
    """A quote computed again.

    Attributes
    ----------
    record : QuoteRecord
        The quote as it was made.
    comparison : Comparison
        The same job today; without the ranges that were given with values, on which no figure of it rests.
    results : Results
        Its figures, as in the record.
    same : bool
        Whether nothing that goes in has changed, and no figure differs but for rounding.
    changes : tuple of Change
        What has changed, with what each did alone.
    figures : tuple of FigureChange
        Results of today that differ from the record, be it by the last digit.
    pinned : Pinned
        Today's program on the numbers of then.
    drawing : {"none", "as measured then", "not in the folder", "same file", "another file"}
        What the carton was computed from, where the job names a drawing: its measures of then, or its file.
    drawing_files : tuple of str
        Names of its files that the folder lacks, or that are others than then.
    program, tables : (str, str)
        Version of the program and digest of the tables, then and now.
    """

    record: QuoteRecord
    comparison: Comparison
    results: Results
    same: bool
    changes: tuple[Change, ...]
    figures: tuple[FigureChange, ...]
    pinned: Pinned
    drawing: DrawingState
    drawing_files: tuple[str, ...]
    program: tuple[str, str]
    tables: tuple[str, str]


def reopen(
    record: QuoteRecord, *, program: str, layers_now: Sequence[Layer] | None = None, folder: Path | None = None
) -> Reopened:
    """Compute a quote again, with the values of then and with those of today.

    Parameters
    ----------
    record : QuoteRecord
        The full record.
    program : str
        Version of the program.
    layers_now : sequence of Layer, optional
        Values of the plant today; those of the record, if left out.
    folder : Path, optional
        Where the drawing and its line map may lie, by their bare names. Without it the drawing's measures of then stand.

    Returns
    -------
    Reopened

    Raises
    ------
    EvenrunError
        If today's program and tables can't compute the job any more: what they lack is said.
    """
    _hold_to_limits(record)
    old = old_layers(record, folder)
    job = _Job(record, old)
    then = job.compare(old.then())
    of_numbers = job.of_numbers(record.inputs, _loads(record), then.scenario)
    again = results_of(of_numbers, record.asked.run_lengths)
    pinned = Pinned(again, figure_changes(record.results, again))
    now = job.compare(old.now(layers_now), with_file=True)
    results = results_of(now, record.asked.run_lengths)
    figures = figure_changes(record.results, results)
    changes: tuple[Change, ...] = (
        *_program(record, pinned, of_numbers, program),
        *_worked_out(job, of_numbers, job.compare(old.then(), with_file=old.drawing == "same file")),
        *_drawing(job, then),
        *_roots(job, then, now, layers_now),
        *_left_out(old),
    )
    changes += tuple(range_changes(record, now.scenario, layers_now, alone=not changes))
    return Reopened(
        record=record,
        comparison=now,
        results=results,
        same=not changes and not any(change.differs for change in figures),
        changes=changes,
        figures=figures,
        pinned=pinned,
        drawing=old.drawing,
        drawing_files=old.missing or tuple(old.other_files),
        program=(record.versions.program, program),
        tables=(record.versions.tables, data_digest()),
    )


@dataclass(frozen=True)
class _Job:
    """The recorded job, computed by today's program in one way or another."""

    record: QuoteRecord
    old: OldLayers

    def compare(self, layers: Iterable[Layer], *, with_file: bool = False) -> Comparison:
        """Compare layers; by the drawing itself where its file is at hand and wanted."""
        scenario = prepare(*(self.old.with_file(layers) if with_file else layers))
        if scenario.drawn is None and self.record.drawing is not None:
            return self._as_drawn(run(self._with_loads(scenario), self.record.asked.costing))
        return run(scenario, self.record.asked.costing)

    def of_numbers(self, inputs: Mapping[str, float], loads: SheetLoads | None, scenario: Scenario) -> Comparison:
        """Compare numbers; what the tables have got since is taken from a scenario of today."""
        added = {name: float(value) for name, value in scenario.inputs.items() if name not in inputs}
        bare = pinned_scenario(scenario, {**added, **inputs}, loads)
        bare = replace(bare, choices={**scenario.choices, **self.record.choices}, factors=self.record.factors)
        check_together(bare.inputs, where="quote")
        try:
            return self._as_drawn(run(bare, self.record.asked.costing))
        except (ArithmeticError, LookupError):  # numbers that no table of ours would have let pass
            raise InputError("the numbers of the record can't be computed", where="quote") from None

    def _with_loads(self, scenario: Scenario) -> Scenario:
        """Give a carton that is computed from its measures the path of then, while that holds."""
        before, x = self.record, scenario.inputs
        same_numbers = all(x.get(name) == before.inputs.get(name) for name in PLANNED_FOR)
        same_words = all(scenario.choices.get(n) == before.choices.get(n) for n in ("laser.path", "laser.motion"))
        if before.loads is None or not (same_numbers and same_words):
            return scenario
        return replace(scenario, inputs=Inputs(x, before.loads.loads()))

    def _as_drawn(self, comparison: Comparison) -> Comparison:
        """Take out the routes that only the drawing showed to be impossible."""
        faults = self.record.drawing.faults if self.record.drawing else {}
        die, laser = comparison.die, comparison.laser
        return replace(
            comparison,
            die=replace(die, feasible=die.feasible and not faults.get("die")),
            laser=replace(laser, feasible=laser.feasible and not faults.get("laser")),
        )


def _hold_to_limits(record: QuoteRecord) -> None:
    """Refuse numbers that can't be computed with; a record that claims older tables was not held to those of today."""
    table = assumption_table()
    for name, value in (*record.inputs.items(), *(record.drawing.values.items() if record.drawing else ())):
        if name in table:
            table[name].check(value, where="quote")


def _loads(record: QuoteRecord) -> SheetLoads | None:
    return None if record.loads is None else record.loads.loads()


# -- changes ----------------------------------------------------------------------------------------------------------


def _program(record: QuoteRecord, pinned: Pinned, of_numbers: Comparison, program: str) -> Iterable[Change]:
    """Return what the program alone did."""
    if pinned.differs:
        effects = effects_of_results(record.results, of_numbers)
        before = record.versions.program
        after = program if program != before else f"{program}, works it out otherwise"
        yield Change("program", "program", before, after, "", effects)


def _worked_out(job: _Job, of_numbers: Comparison, then: Comparison) -> Iterable[Change]:
    """Return what is worked out otherwise today from the same layers."""
    record, scenario = job.record, then.scenario
    known: dict[str, Value] = {**record.choices, **record.inputs}
    today = _values(scenario)
    # a drawing is told of by its digest; without its file there is nothing to lay
    elsewhere = {*job.old.left_out, *(DRAWING_NAMES if record.drawing else ())}
    elsewhere |= {"layout.pattern"} if record.drawing and scenario.drawn is None else set()
    for name in sorted(known):
        before, after = known[name], today.get(name)
        if name in elsewhere or alike(before, after):
            continue
        kind: ChangeKind = "program"
        if name.startswith("factors."):
            kind = "factor"
        elif record.origins.get(name, "").startswith("board "):
            kind = "tables"
        elif name not in assumption_table():
            kind = "assumption"
        effects = dict(NO_EFFECT)
        if isinstance(after, float) and isinstance(before, float):
            loads = scenario.inputs.loads if name in PLANNED_FOR else _loads(record)
            alone = job.of_numbers({**record.inputs, name: after}, loads, scenario)
            effects = effects_between(of_numbers, alone)
        yield Change(kind, name, before, after, _unit(name), effects)
    yield from _path(job, of_numbers, scenario)


def _path(job: _Job, of_numbers: Comparison, scenario: Scenario) -> Iterable[Change]:
    """Return whether the path of the beam is planned otherwise today."""
    loads, before = scenario.inputs.loads, job.record.loads
    planned = None if loads is None else RecordedLoads.of(loads)
    if planned == before:
        return
    alone = job.of_numbers(job.record.inputs, loads, scenario)
    if alike(of_numbers.laser.cost_per_1000, alone.laser.cost_per_1000):
        return
    then, now = ("estimated" if one is None else "planned" for one in (before, planned))
    yield Change("program", "laser.path", then, now, "", effects_between(of_numbers, alone))


def _drawing(job: _Job, then: Comparison) -> Iterable[Change]:
    """Return which files of the drawing are others."""
    others = job.old.other_files
    if not others:
        return
    before, after = (", ".join(digests[at][:_DIGITS] for digests in others.values()) for at in (0, 1))
    effects = effects_between(then, job.compare(job.old.then(), with_file=True))
    yield Change("drawing", " and ".join(others), before, after, "", effects)


def _roots(job: _Job, then: Comparison, now: Comparison, layers_now: Sequence[Layer] | None) -> Iterable[Change]:
    """Return assumptions and values of the plant that are not as they were, each alone in the job of then."""
    record, old = job.record, job.old
    known: dict[str, Value] = {**record.inputs, **record.choices}
    today = _values(now.scenario)
    for name in old.moved_assumptions(layers_now):
        effects = _alone(job, then, name, None)
        yield Change("assumption", name, known[name], today.get(name), _unit(name), effects)
    for name in sorted(today.keys() - known.keys()):
        if now.scenario.origins.get(name) == "assumption":  # a new row of the table, unknown then
            yield Change("assumption", name, None, today[name], _unit(name), dict(NO_EFFECT))
    of_plant = old.of_plant
    for name, given in old.moved_values(layers_now).items():
        before, after = of_plant.get(name, known.get(name)), today.get(name) if given is None else given
        kind: ChangeKind = "factor" if name.startswith("factors.") else "plant value"
        if before != after:
            yield Change(kind, name, before, after, _unit(name), _alone(job, then, name, given))


def _alone(job: _Job, then: Comparison, name: str, given: Value | None) -> dict[RouteName, Effect | None]:
    """Return what one change does alone to the job of then."""
    try:
        return effects_between(then, job.compare(job.old.then(name, given)))
    except EvenrunError:  # one that only goes together with another
        return dict(NO_EFFECT)


def _left_out(old: OldLayers) -> Iterable[Change]:
    """Return given values that today's tables don't take."""
    for name, value in old.left_out.items():
        yield Change("layer", name, value, None, _unit(name), dict(NO_EFFECT))


def _values(scenario: Scenario) -> dict[str, Value]:
    return {**scenario.choices, **{name: float(value) for name, value in scenario.inputs.items()}}


def _unit(name: str) -> str:
    row = assumption_table().get(name)
    return "" if row is None or row.is_text else row.unit
