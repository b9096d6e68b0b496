"""Totals with steps, and the exact ranges in which one or another is the lowest.

A total is linear in the run length but for steps: a sheet begun, a die ruled anew, a crease set
made. Two such totals can cross many times, so one root is no answer; the ranges are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

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
    return lowest_ranges_each([totals], start, end)[0]


def lowest_ranges_each(many: Sequence[Mapping[str, StepTotal]], start: int, end: int) -> list[list[Range]]:
    """Return :func:`lowest_ranges` of several sets of totals that go by the same names.

    Parameters
    ----------
    many : sequence of mapping
        Sets of totals, such as one for money and one for carbon. All are searched together, which takes
        little longer than one of them where they have their steps in common.
    start, end : int
        First and last run length, both included.
    """
    if end < start:
        raise InputError("the range of run lengths is empty", where="break-even", remedy="give an end above the start")
    names = list(many[0])
    signs = {
        (a, b): _sign_pieces(_Differences.of([(totals[a], totals[b]) for totals in many]), start, end)
        for i, a in enumerate(names)
        for b in names[i + 1 :]
    }
    return [_lowest(names, {pair: pieces[k] for pair, pieces in signs.items()}, start, end) for k in range(len(many))]


def _lowest(names: Sequence[str], signs: Mapping[tuple[str, str], SignPieces], start: int, end: int) -> list[Range]:
    """Put the signs of all pairs together."""
    if len(signs) == 1:
        ((starts, sign),) = signs.values()
        return merge([names[1], EVEN, names[0]], starts, 1 - sign.astype(np.int64), end)
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


Signs = NDArray[np.int8]
SignPieces = tuple[Integers, Signs]
"""First run lengths of pieces in which a difference has one sign, and the signs."""


class _Lines(NamedTuple):
    """Coefficients of several totals in arrays, or of one total in numbers.

    Attributes
    ----------
    fixed, per_carton : ndarray or float
        Part that does not depend on the run length, and part per carton.
    prices : list of (int, ndarray or float)
        Which step function, and the price of one of its steps, for all that cost anything.
    """

    fixed: Any
    per_carton: Any
    prices: list[tuple[int, Any]]

    @classmethod
    def table(cls, fixed: Floats, per_carton: Floats, prices: Floats) -> _Lines:
        return cls(fixed, per_carton, [(k, row) for k, row in enumerate(prices) if row.any()])

    def of(self, which: Integers | int) -> _Lines:
        """Return those of one total, or of a total for each interval."""
        return _Lines(self.fixed[which], self.per_carton[which], [(k, row[which]) for k, row in self.prices])

    def at(self, run_length: Floats, steps: Sequence[Floats]) -> Floats:
        total: Floats = self.fixed + self.per_carton * run_length
        for k, price in self.prices:
            total = total + price * steps[k]
        return total


@dataclass(frozen=True)
class _Differences:
    """Differences of pairs of totals, equal steps merged so that what both have cancels.

    Attributes
    ----------
    steps : tuple of Sheets or Steps
        Every step function of any of the totals.
    a, b, less : _Lines
        The totals of each pair, and one less the other.
    """

    steps: tuple[Sheets | Steps, ...]
    a: _Lines
    b: _Lines
    less: _Lines

    @classmethod
    def of(cls, pairs: Sequence[tuple[StepTotal, StepTotal]]) -> _Differences:
        steps = tuple(dict.fromkeys(step for pair in pairs for total in pair for _, step in total.steps))

        def table(totals: list[StepTotal]) -> tuple[Floats, Floats, Floats]:
            prices = np.zeros((len(steps), len(totals)))
            for k, total in enumerate(totals):
                for price, step in total.steps:
                    prices[steps.index(step), k] += price
            return np.array([t.fixed for t in totals]), np.array([t.per_carton for t in totals]), prices

        a, b = table([pair[0] for pair in pairs]), table([pair[1] for pair in pairs])
        less = _Lines.table(*(one - other for one, other in zip(a, b, strict=True)))
        return cls(steps, _Lines.table(*a), _Lines.table(*b), less)

    def __len__(self) -> int:
        return len(self.less.fixed)

    def settle(self, low: Floats, high: Floats, which: Integers) -> tuple[Signs, NDArray[np.bool_]]:
        """Return the sign on each interval, and whether it is settled; ``which`` says of which difference."""
        # long stretches of one difference, as hard cases have them, need no coefficients per interval
        of = int(which[0]) if which[0] == which[-1] else which
        a, b, less = self.a.of(of), self.b.of(of), self.less.of(of)
        at_low = [step(low) for step in self.steps]
        a_low, b_low = a.at(low, at_low), b.at(low, at_low)
        exact, scale_low = a_low - b_low, np.maximum(np.abs(a_low), np.abs(b_low))
        single = low == high
        if single.all():  # the last and largest round: nothing between the ends is left to bound
            return (exact > TIE * scale_low).astype(np.int8) - (exact < -TIE * scale_low), single
        at_high = [step(high) for step in self.steps]
        scale_high = np.maximum(np.abs(a.at(high, at_high)), np.abs(b.at(high, at_high)))
        least_tie, most_tie = TIE * np.minimum(scale_low, scale_high), TIE * np.maximum(scale_low, scale_high)
        under, over = self._bounds(less, low, high, at_low, at_high)
        under, over = np.where(single, exact, under), np.where(single, exact, over)
        even = (np.abs(under) <= least_tie) & (np.abs(over) <= least_tie)
        # where a total is not monotone its size inside the interval may exceed that at both ends
        safe = np.where(single, most_tie, 4 * most_tie)
        below, above = over < -safe, under > safe
        sign = above.astype(np.int8) - below
        return sign, single | ((below | above) & ~even) | even

    def _bounds(
        self, less: _Lines, low: Floats, high: Floats, at_low: Sequence[Floats], at_high: Sequence[Floats]
    ) -> tuple[Floats, Floats]:
        """Return bounds of the difference on each interval."""
        ends_low, ends_high = less.per_carton * low, less.per_carton * high
        plain_under, plain_over = np.minimum(ends_low, ends_high), np.maximum(ends_low, ends_high)
        slope, slack_under, slack_over = less.per_carton, 0.0, 0.0
        other_under: Floats | float = 0.0
        other_over: Floats | float = 0.0
        for k, price in less.prices:
            step, first, last = self.steps[k], price * at_low[k], price * at_high[k]
            # steps never fall, so the sign of their price says which end is the lower one
            under, over = np.minimum(first, last), np.maximum(first, last)
            plain_under, plain_over = plain_under + under, plain_over + over
            if isinstance(step, Sheets):  # between q x slope and that plus one sheet per group
                slope = slope + price * step.slope
                slack = price * step.groups
                slack_under, slack_over = slack_under + np.minimum(0.0, slack), slack_over + np.maximum(0.0, slack)
            else:
                other_under, other_over = other_under + under, other_over + over
        tilt_low, tilt_high = slope * low, slope * high
        slope_under = np.minimum(tilt_low, tilt_high) + (slack_under + other_under)
        slope_over = np.maximum(tilt_low, tilt_high) + (slack_over + other_over)
        return less.fixed + np.maximum(plain_under, slope_under), less.fixed + np.minimum(plain_over, slope_over)


@lru_cache(maxsize=16)
def _first_parts(start: int, end: int) -> tuple[Integers, Integers]:
    spread = np.geomspace(start, end + 1, _FIRST + 1).astype(np.int64)[:-1]
    # asked for its indices, it does not load masked arrays, which nothing here has
    edges = np.unique(spread, return_index=True)[0]
    return edges, np.append(edges[1:] - 1, end)


def _sign_pieces(differences: _Differences, start: int, end: int) -> list[SignPieces]:
    """Return the pieces of equal sign of each difference."""
    # of parts that grow with the run length, as totals per carton do, few are left unsettled
    low, high = _first_parts(start, end)
    count = len(differences)
    stack = [(np.tile(low, count), np.tile(high, count), np.repeat(np.arange(count), len(low)))]
    settled: list[tuple[Integers, Signs, Integers]] = []
    while stack:
        low, high, which = stack.pop()
        sign, done = differences.settle(low.astype(float), high.astype(float), which)
        settled.append((low[done], sign[done], which[done]))
        low, high, which = low[~done], high[~done], which[~done]
        if not len(low):
            continue
        # parts of equal size; short intervals give fewer parts
        most = max(_SPLIT, _FEW // len(low))  # a pass costs the same for two intervals and for some hundred
        parts = np.minimum(most, high - low + 1)
        first = np.repeat(low, parts)
        index = np.arange(len(first)) - np.repeat(np.cumsum(parts) - parts, parts)
        size, pieces = np.repeat(high - low + 1, parts), np.repeat(parts, parts)
        new_low = first + size * index // pieces
        new_high = first + size * (index + 1) // pieces - 1
        of = np.repeat(which, parts)
        batches = (slice(at, at + _BATCH) for at in range(0, len(new_low), _BATCH))
        stack.extend((new_low[batch], new_high[batch], of[batch]) for batch in batches)
    starts, signs, of = (np.concatenate(column) for column in zip(*settled, strict=True))
    found = []
    for k in range(count):
        mine = of == k
        order = np.argsort(starts[mine])
        own_starts, own_signs = starts[mine][order], signs[mine][order]
        keep = np.flatnonzero(np.diff(own_signs, prepend=np.int8(9)))
        found.append((own_starts[keep], own_signs[keep]))
    return found


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
