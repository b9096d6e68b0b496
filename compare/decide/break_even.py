"""Break-even: the exact ranges of run lengths in which each route is the better one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from compare.assumptions import assumption_table
from compare.decide.evaluate import MEASURES, Measure
from compare.decide.step_totals import (
    EVEN,
    Floats,
    Integers,
    Range,
    Steps,
    StepTotal,
    lowest_ranges,
    lowest_ranges_each,
    merge,
)
from compare.decide.way_totals import Way, ways_of
from compare.names import Inputs
from compare.valuation.money import Costing

LAST_RUN_LENGTH = 1_000_000
"""Run lengths are searched up to this many cartons per order, or twice the quoted run if that is more."""

Route = Literal["die", "laser", "even"]

RouteTotals = dict[str, dict[Measure, StepTotal]]
"""Totals over the programme as functions of the run length, by way of working and measure."""


@dataclass(frozen=True)
class BreakEven:
    """Where one route takes over from the other in one measure.

    Attributes
    ----------
    ranges : tuple of Range
        Run lengths without gaps; ``lowest`` is "die", "laser" or "even".
    run_length : int or None
        The smallest run length from which the die is the better one for all longer runs in the
        domain; ``None`` where there is none.
    first : int or None
        The first run length at which the die is the better one at all.
    answer : str
        The same in words.
    """

    ranges: tuple[Range, ...]
    run_length: int | None
    first: int | None
    answer: str

    @property
    def start(self) -> int:
        """First run length searched."""
        return self.ranges[0].start

    @property
    def end(self) -> int:
        """Last run length searched."""
        return self.ranges[-1].end

    def at(self, run_length: float) -> str:
        """Return the better route at a run length of the domain."""
        return next((r.lowest for r in self.ranges if r.start <= run_length <= r.end), EVEN)


def break_evens(
    x: Inputs,
    *,
    costing: Costing = "full",
    possible: Mapping[str, bool] | None = None,
    last: int | None = None,
    totals: RouteTotals | None = None,
) -> dict[Measure, BreakEven]:
    """Find the exact ranges for cost, CO2e and waste.

    Parameters
    ----------
    x : Inputs
        One scenario. Everything but the run length stays fixed.
    costing : {"full", "cash"}
        Which machine rates count.
    possible : mapping, optional
        Which routes can make the job; both, if left out.
    last : int, optional
        Last run length searched; :data:`LAST_RUN_LENGTH` or twice the run, if left out.
    totals : mapping, optional
        :func:`route_totals` of the same inputs and costing, where they are at hand.

    Returns
    -------
    dict
        Measure to :class:`BreakEven`. The strategy of the die is the one that is cheaper at each
        run length, in every measure.
    """
    can = {"die": True, "laser": True, **(possible or {})}
    start = max(1, int(np.ceil(x["demand.versions"])))
    longest = int(assumption_table()["demand.run_length"].limits.high)
    end = last or min(max(LAST_RUN_LENGTH, int(2 * x["demand.run_length"])), longest)
    totals = totals or route_totals(x, costing)
    plans = [name for name in totals if name != "laser"]
    can["die"] = can["die"] and bool(plans)
    if not (can["die"] and can["laser"]):
        return {measure: _one_route(can, start, end) for measure in MEASURES}
    leading = lowest_ranges({name: totals[name]["cost"] for name in plans}, start, end) if len(plans) > 1 else []
    by_plan = {
        plan: lowest_ranges_each([{"die": totals[plan][m], "laser": totals["laser"][m]} for m in MEASURES], start, end)
        for plan in plans
    }
    result = {}
    for k, measure in enumerate(MEASURES):
        here = {plan: ranges[k] for plan, ranges in by_plan.items()}
        result[measure] = _read(tuple(_follow(leading, here) if leading else here[plans[0]]))
    return result


def route_totals(x: Inputs, costing: Costing = "full") -> RouteTotals:
    """Return every possible way of making the job as totals of the run length.

    Returns
    -------
    dict
        ``separate`` and ``ganged`` (those that are possible) and ``laser``; each by measure.
    """
    return {
        name: {measure: _step_total(way, measure) for measure in MEASURES} for name, way in ways_of(x, costing).items()
    }


def _step_total(way: Way, measure: Measure) -> StepTotal:
    fixed, per_carton, per_sheet, per_renewal = map(float, way.coefficients[measure])
    return StepTotal(fixed, per_carton, ((per_sheet, way.sheets()), (per_renewal, Steps(way.renewals))))


def cost_curves(totals: RouteTotals, run_length: Floats) -> dict[str, Floats]:
    """Return the money of each route over the programme at run lengths.

    Parameters
    ----------
    totals : mapping
        From :func:`route_totals`.
    run_length : ndarray
        Good cartons per order.

    Returns
    -------
    dict
        ``die`` (its cheaper possible strategy; missing if it has none) and ``laser``. These are the
        totals the exact ranges come from, so that curves and ranges never disagree.
    """
    curves = {name: by["cost"](run_length) for name, by in totals.items()}
    laser_curve = curves.pop("laser")
    ways = list(curves.values())
    return {**({"die": np.minimum.reduce(ways)} if ways else {}), "laser": laser_curve}


def _follow(leading: list[Range], by_plan: dict[str, list[Range]]) -> list[Range]:
    """Return the ranges of the plan that leads at each run length; where plans cost the same, of the first."""
    plans = list(by_plan)
    names = ["die", "laser", EVEN]
    starts = {plan: np.array([r.start for r in ranges]) for plan, ranges in by_plan.items()}
    labels = {plan: np.array([names.index(r.lowest) for r in ranges]) for plan, ranges in by_plan.items()}
    lead_starts = np.array([r.start for r in leading])
    lead = np.array([0 if r.lowest == EVEN else plans.index(r.lowest) for r in leading])
    edges = np.sort(np.concatenate([lead_starts, *starts.values()]))
    edges = edges[np.diff(edges, prepend=edges[0] - 1) > 0]

    def at(those: Integers, values: Integers) -> Integers:
        return values[np.searchsorted(those, edges, side="right") - 1]

    label = np.choose(at(lead_starts, lead), [at(starts[plan], labels[plan]) for plan in plans])
    return merge(names, edges, label, leading[-1].end)


def _one_route(can: Mapping[str, bool], start: int, end: int) -> BreakEven:
    routes = [route for route in ("die", "laser") if can[route]]
    if not routes:
        return BreakEven((Range(start, end, EVEN),), None, None, "none: neither route can make this job")
    other = "die" if routes[0] == "laser" else "laser"
    answer = f"none: {routes[0]} throughout (the {other} can't make this job)"
    return BreakEven((Range(start, end, routes[0]),), None, None, answer)


def _read(ranges: tuple[Range, ...]) -> BreakEven:
    first = next((r.start for r in ranges if r.lowest == "die"), None)
    last = ranges[-1]
    lasting = last.start if last.lowest == "die" and len(ranges) > 1 else None
    if len(ranges) == 1:
        answer = "even throughout" if last.lowest == EVEN else f"none: {last.lowest} throughout"
    elif lasting is not None and first == lasting:
        answer = f"die from {lasting:,} cartons per order"
    elif lasting is not None:
        answer = f"die from {lasting:,} cartons per order for good, at times from {first:,}"
    elif first is None:
        answer = "none: the die is nowhere lower"
    else:
        answer = f"no lasting break-even: the die is lower at times from {first:,} cartons per order"
    return BreakEven(ranges, lasting, first, answer)
