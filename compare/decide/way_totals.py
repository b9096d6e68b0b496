"""Totals of every way of making a job, as functions of the run length: for one scenario or for many at once.

The engine's totals are linear in run length, good sheets and renewals. Four probes of a way (the origin, then one
of each) give its coefficients, and run lengths cost next to nothing after that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from compare.assumptions import Number, Truth
from compare.decide.evaluate import MEASURES, Measure, measure_of
from compare.decide.step_totals import Floats, Sheets
from compare.names import Inputs
from compare.routes import die, laser
from compare.routes.inventory import Amounts, Inventory
from compare.routes.limits import strategies
from compare.valuation.money import Costing

_PROBE = 1e6
"""Size of the step by which slopes are probed; of the order of real runs, to keep every digit."""

# run length, good sheets and renewals: the origin, then one of each
_ORIGIN_AND_AXES = np.vstack([np.zeros(3), np.eye(3) * _PROBE])


class Coefficients(NamedTuple):
    """``fixed + per_carton x run length + per_sheet x good sheets + per_renewal x renewals``, over the programme."""

    fixed: Number
    per_carton: Number
    per_sheet: Number
    per_renewal: Number


@dataclass(frozen=True)
class Way:
    """One way of making a job: a strategy of the die, or the laser.

    Attributes
    ----------
    name : str
        ``separate``, ``ganged`` or ``laser``.
    groups, versions, ups : float or ndarray
        Good sheets are ``groups x ceil(run length / versions / ups)``.
    renewals : callable
        Tools made anew, from run lengths.
    coefficients : dict
        Measure to coefficients.
    allowed : bool or ndarray
        Where it is possible.
    """

    name: str
    groups: Number
    versions: Number
    ups: Number
    renewals: Callable[[Floats], Floats]
    coefficients: dict[Measure, Coefficients]
    allowed: Truth = True

    def totals(self, run_length: Floats, measures: tuple[Measure, ...]) -> dict[Measure, Floats]:
        """Return totals over the programme at run lengths; the shapes of scenarios and run lengths broadcast."""
        good = self.groups * np.ceil(run_length / self.versions / self.ups)
        again = self.renewals(run_length)
        found = {}
        for measure in measures:
            c = self.coefficients[measure]
            found[measure] = c.fixed + c.per_carton * run_length + c.per_sheet * good + c.per_renewal * again
        return found

    def sheets(self) -> Sheets:
        """Return the good sheets of one scenario as a step function."""
        return Sheets(float(self.groups), float(self.versions), float(self.ups))


def ways_of(x: Inputs, costing: Costing = "full", measures: tuple[Measure, ...] = MEASURES) -> dict[str, Way]:
    """Return every possible way of making the job.

    Parameters
    ----------
    x : Inputs
        One scenario, or arrays of many.
    costing : {"full", "cash"}
        Which machine rates count.
    measures : tuple of str
        What the coefficients are wanted of.

    Returns
    -------
    dict
        ``separate`` and ``ganged`` (those that are possible anywhere) and ``laser``.
    """
    allowed, asked = strategies(x), _Asked(costing, measures, x.shape(where="totals"))
    ways = {s: replace(_die_way(x, s, asked), allowed=allowed[s]) for s in ("separate", "ganged") if np.any(allowed[s])}
    return {**ways, "laser": _laser_way(x, asked)}


class _Asked(NamedTuple):
    """What is wanted of every way, and the shape of the scenarios."""

    costing: Costing
    measures: tuple[Measure, ...]
    many: tuple[int, ...]


def _axes(many: tuple[int, ...]) -> tuple[Floats, Floats, Floats]:
    """Return the probes, one per row where the inputs are arrays."""
    run, good, again = (axis.reshape((4,) + (1,) * len(many)) for axis in _ORIGIN_AND_AXES.T)
    return run, good, again


def _die_way(x: Inputs, strategy: die.Strategy, asked: _Asked) -> Way:
    p = die.plan(x, strategy)

    def renewals(run_length: Floats) -> Floats:
        return np.asarray(die.rerulings(x, p, die.all_sheets(x, p, die.good_sheets(p, run_length))))

    run, good, again = _axes(asked.many)
    probe = die.flows(x, p, Amounts(run, good, die.all_sheets(x, p, good), again))
    coefficients = {m: _read(probe, x, m, asked) for m in asked.measures}
    return Way(strategy, p.sheet_groups, p.versions, p.ups_per_version, renewals, coefficients)


def _laser_way(x: Inputs, asked: _Asked) -> Way:
    p = laser.plan(x)

    def renewals(run_length: Floats) -> Floats:
        return np.asarray(laser.crease_sets(x, p, laser.all_sheets(x, p, laser.good_sheets(x, p, run_length))))

    run, good, again = _axes(asked.many)
    probe = laser.flows(x, p, Amounts(run, good, laser.all_sheets(x, p, good), again))
    coefficients = {m: _read(probe, x, m, asked) for m in asked.measures}
    return Way("laser", p.sheet_groups, p.sheet_groups, x["layout.ups_laser"], renewals, coefficients)


def _read(probe: Inventory, x: Inputs, measure: Measure, asked: _Asked) -> Coefficients:
    """Read the slopes of a measure off the engine itself: its totals are linear in all three."""
    value = np.asarray(measure_of(probe, x, measure, asked.costing), dtype=float)
    at = np.broadcast_to(value, (4, *asked.many))
    slopes = (at[1:] - at[0]) / _PROBE
    if asked.many:
        return Coefficients(at[0], *slopes)
    return Coefficients(float(at[0]), *map(float, slopes))
