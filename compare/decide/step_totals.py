"""Totals with steps, and the exact ranges in which one or another is the lowest.

A total is linear in the run length but for steps: a sheet begun, a die ruled anew, a crease set
made. Two such totals can cross many times, so one root is no answer; the ranges are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.errors import InputError

EVEN = "even"
"""Name of a range in which the lowest totals are equal."""

TIE = 1e-9
"""Totals closer than this share of the larger one are equal: a tie, not rounding noise."""

_SPLIT, _FEW, _FIRST = 8, 256, 64
_BATCH = 32_768

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class Sheets:
    """Whole sheets for a run: ``groups x ceil(q / versions / ups)``.

    Attributes
    ----------
    groups : float
        Versions counted in sheets of their own.
    versions : float
        Versions the run is split into before it is divided by the ups.
    ups : float
        Cartons of one version on a sheet.
    """

    groups: float
    versions: float
    ups: float

    def __call__(self, run_length: Floats) -> Floats:
        """Return sheets for run lengths."""
        return self.groups * np.ceil(run_length / self.versions / self.ups)

    @property
    def slope(self) -> float:
        """Sheets per carton without rounding up."""
        return self.groups / (self.versions * self.ups)


@dataclass(frozen=True)
class Steps:
    """A non-decreasing step function of the run length, such as re-rulings."""

    at: Callable[[Floats], Floats]

    def __call__(self, run_length: Floats) -> Floats:
        """Return the steps done at run lengths."""
        return self.at(run_length)


StepValues = Mapping[Sheets | Steps, Floats]
"""Step functions with their values at some run lengths."""


@dataclass(frozen=True)
class StepTotal:
    """A total as a function of the run length q: ``fixed + per_carton q + sum of price x steps(q)``.

    Attributes
    ----------
    fixed, per_carton : float
        Part that does not depend on q, and part per carton.
    steps : tuple of (float, Sheets or Steps)
        Price of one step, and the step function.
    """

    fixed: float
    per_carton: float = 0.0
    steps: tuple[tuple[float, Sheets | Steps], ...] = ()

    def __call__(self, run_length: Floats) -> Floats:
        """Return the total at run lengths."""
        return self.from_steps(run_length, {step: step(run_length) for _, step in self.steps})

    def from_steps(self, run_length: Floats, steps: StepValues) -> Floats:
        """Return the total at run lengths whose steps are worked out already."""
        total = self.fixed + self.per_carton * run_length
        for price, step in self.steps:
            total = total + price * steps[step]
        return total


class Range(NamedTuple):
    """Run lengths from ``start`` to ``end``, both included, in which ``lowest`` is the lowest total."""

    start: int
    end: int
    lowest: str


def lowest_ranges(totals: Mapping[str, StepTotal], start: int, end: int) -> list[Range]:
    """Return the exact ranges of whole run lengths in which each total is the lowest.

    Parameters
    ----------
    totals : mapping
        Name to total; two or more.
    start, end : int
        First and last run length, both included.

    Returns
    -------
    list of Range
        Without gaps, neighbours different. Where the lowest totals are equal the range is "even".

    Notes
    -----
    Every pair is split where its difference changes sign. An interval is settled as soon as bounds
    on the difference settle its sign; otherwise it is split, down to single cartons. Steps never
    fall, so their values at both ends bound them; whole sheets are bounded by their slope, too.
    """
    if end < start:
        raise InputError("the range of run lengths is empty", where="break-even", remedy="give an end above the start")
    names = list(totals)
    signs = {
        (a, b): _sign_pieces(totals[a], totals[b], start, end) for i, a in enumerate(names) for b in names[i + 1 :]
    }
    edges = np.sort(np.concatenate([[start], *(starts for starts, _ in signs.values())]))
    edges = edges[np.diff(edges, prepend=start - 1) > 0]
    beaten = {name: np.zeros(len(edges), dtype=bool) for name in names}
    for (a, b), (starts, sign) in signs.items():
        here = sign[np.searchsorted(starts, edges, side="right") - 1]
        beaten[a] |= here > 0
        beaten[b] |= here < 0
    best = np.array([~beaten[name] for name in names])
    label = np.where(best.sum(axis=0) == 1, best.argmax(axis=0), len(names))
    return merge([*names, EVEN], edges, label, end)


def merge(names: Sequence[str], edges: Integers, label: Integers, end: int) -> list[Range]:
    """Return ranges from their first run lengths and labels, neighbours of one label joined.

    Parameters
    ----------
    names : sequence of str
        What the labels stand for.
    edges, label : array of int
        First run length of each piece, ascending, and the piece's label.
    end : int
        Last run length.
    """
    keep = np.flatnonzero(np.diff(label, prepend=-1))
    starts = edges[keep]
    ends = np.append(starts[1:] - 1, end)
    columns = starts.tolist(), ends.tolist(), (names[k] for k in label[keep].tolist())
    return [Range(*row) for row in zip(*columns, strict=True)]


@dataclass(frozen=True)
class _Difference:
    """Difference of two totals, equal steps merged so that what both have cancels."""

    a: StepTotal
    b: StepTotal
    fixed: float
    per_carton: float
    steps: tuple[tuple[float, Sheets | Steps], ...]

    @classmethod
    def of(cls, a: StepTotal, b: StepTotal) -> _Difference:
        prices: dict[Sheets | Steps, float] = {}
        for sign, total in ((1.0, a), (-1.0, b)):
            for price, step in total.steps:
                prices[step] = prices.get(step, 0.0) + sign * price
        return cls(a, b, a.fixed - b.fixed, a.per_carton - b.per_carton, tuple((p, s) for s, p in prices.items() if p))

    def settle(self, low: Floats, high: Floats) -> tuple[NDArray[np.int8], NDArray[np.bool_]]:
        """Return the sign on each interval, and whether it is settled."""
        every = {step for total in (self.a, self.b) for _, step in total.steps}
        at_low = {step: step(low) for step in every}
        a_low, b_low = self.a.from_steps(low, at_low), self.b.from_steps(low, at_low)
        exact, scale_low = a_low - b_low, np.maximum(np.abs(a_low), np.abs(b_low))
        single = low == high
        if single.all():  # the last and largest round: nothing between the ends is left to bound
            return (exact > TIE * scale_low).astype(np.int8) - (exact < -TIE * scale_low), single
        at_high = {step: step(high) for step in every}
        scale_high = np.maximum(np.abs(self.a.from_steps(high, at_high)), np.abs(self.b.from_steps(high, at_high)))
        least_tie, most_tie = TIE * np.minimum(scale_low, scale_high), TIE * np.maximum(scale_low, scale_high)
        under, over = self._bounds(low, high, at_low, at_high)
        under, over = np.where(single, exact, under), np.where(single, exact, over)
        even = (np.abs(under) <= least_tie) & (np.abs(over) <= least_tie)
        # where a total is not monotone its size inside the interval may exceed that at both ends
        safe = np.where(single, most_tie, 4 * most_tie)
        below, above = over < -safe, under > safe
        sign = np.where(below, -1, np.where(above, 1, 0)).astype(np.int8)
        return sign, single | ((below | above) & ~even) | even

    def _bounds(self, low: Floats, high: Floats, at_low: StepValues, at_high: StepValues) -> tuple[Floats, Floats]:
        """Return bounds of the difference on each interval."""
        ends_low, ends_high = self.per_carton * low, self.per_carton * high
        plain_under, plain_over = np.minimum(ends_low, ends_high), np.maximum(ends_low, ends_high)
        slope, slack_under, slack_over = self.per_carton, 0.0, 0.0
        other_under: Floats | float = 0.0
        other_over: Floats | float = 0.0
        for price, step in self.steps:
            first, last = price * at_low[step], price * at_high[step]
            # steps never fall, so the sign of their price says which end is the lower one
            under, over = (first, last) if price > 0 else (last, first)
            plain_under, plain_over = plain_under + under, plain_over + over
            if isinstance(step, Sheets):  # between q x slope and that plus one sheet per group
                slope += price * step.slope
                slack_under += min(0.0, price * step.groups)
                slack_over += max(0.0, price * step.groups)
            else:
                other_under, other_over = other_under + under, other_over + over
        tilt_low, tilt_high = slope * low, slope * high
        slope_under = np.minimum(tilt_low, tilt_high) + (slack_under + other_under)
        slope_over = np.maximum(tilt_low, tilt_high) + (slack_over + other_over)
        return self.fixed + np.maximum(plain_under, slope_under), self.fixed + np.minimum(plain_over, slope_over)


@lru_cache(maxsize=16)
def _first_parts(start: int, end: int) -> tuple[Integers, Integers]:
    edges = np.unique(np.geomspace(start, end + 1, _FIRST + 1).astype(np.int64)[:-1])
    return edges, np.append(edges[1:] - 1, end)


def _sign_pieces(a: StepTotal, b: StepTotal, start: int, end: int) -> tuple[Integers, NDArray[np.int8]]:
    """Return first run lengths of pieces of equal sign of ``a - b``, and the signs."""
    difference = _Difference.of(a, b)
    # of parts that grow with the run length, as totals per carton do, few are left unsettled
    stack = [_first_parts(start, end)]
    settled: list[tuple[Integers, NDArray[np.int8]]] = []
    while stack:
        low, high = stack.pop()
        sign, done = difference.settle(low.astype(float), high.astype(float))
        settled.append((low[done], sign[done]))
        low, high = low[~done], high[~done]
        if not len(low):
            continue
        # parts of equal size; short intervals give fewer parts
        most = max(_SPLIT, _FEW // len(low))  # a pass costs the same for two intervals and for some hundred
        parts = np.minimum(most, high - low + 1)
        first = np.repeat(low, parts)
        index = np.arange(len(first)) - np.repeat(np.cumsum(parts) - parts, parts)
        size, count = np.repeat(high - low + 1, parts), np.repeat(parts, parts)
        new_low = first + size * index // count
        new_high = first + size * (index + 1) // count - 1
        batches = (slice(at, at + _BATCH) for at in range(0, len(new_low), _BATCH))
        stack.extend((new_low[batch], new_high[batch]) for batch in batches)
    starts = np.concatenate([low for low, _ in settled])
    signs = np.concatenate([sign for _, sign in settled])
    order = np.argsort(starts)
    starts, signs = starts[order], signs[order]
    keep = np.flatnonzero(np.diff(signs, prepend=np.int8(9)))
    return starts[keep], signs[keep]


def crossover(fixed_a: float, per_carton_a: float, fixed_b: float, per_carton_b: float) -> float | None:
    """Return the quantity at which two straight lines are even, or ``None`` where they never are.

    Parameters
    ----------
    fixed_a, fixed_b : float
        Fixed totals.
    per_carton_a, per_carton_b : float
        Totals per unit.

    Notes
    -----
    A check on the exact ranges, not a substitute: real totals have steps.
    """
    slope = per_carton_a - per_carton_b
    if slope == 0 or (quantity := (fixed_b - fixed_a) / slope) < 0:
        return None
    return quantity
