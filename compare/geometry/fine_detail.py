"""Sizes of what is fine in a drawing, each with its place: radii, gaps, sides."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree

from compare.geometry.contours import ways
from compare.geometry.line_boxes import boxes
from compare.geometry.nodes import Indices, ranges
from compare.geometry.overlaps import SAME_MM, Stretches, bare, shortened
from compare.geometry.strokes import ARC, CUBIC, LINE, Array, Strokes

_CHORD_MM = 0.01
_SLANT = np.sin(np.radians(20.0))
"""Lines run side by side if their directions differ by no more than 20 degrees."""

_BESIDE = 0.1
"""... and if at least this share of the shorter of them has the other beside it."""

_REACH_MM, _WIDEST_MM, _REACH_OF_CROWDED_MM = 5.0, 20.0, 0.5
"""Gaps are looked for as far as the first, where there are none as far as the second; where lines crowd, as the last."""

_MOST_PAIRS = 3_000_000
_SAMPLE = 512
_BUNCH = 4
"""Chords of a curve that are looked at together first."""

_SHARES = np.linspace(0.0, 1.0, 17)
_LOOKED_CLOSER = 2_000
"""Curves other than arcs, those that bend most, whose smallest radius is looked for again more closely."""


class Sizes(NamedTuple):
    """Things of one kind, each with its size and place, the smallest first.

    Attributes
    ----------
    size : ndarray, shape (things,)
        Radius, width or length of each [mm].
    at : ndarray, shape (things, 2)
        Where it is [mm].
    """

    size: Array
    at: Array

    @classmethod
    def together(cls, some: Sequence[Sizes]) -> Sizes:
        """Put things together, the smallest first."""
        size = np.concatenate([np.zeros(0), *(one.size for one in some)])
        at = np.concatenate([np.zeros((0, 2)), *(one.at for one in some)])
        order = np.argsort(size, kind="stable")
        return cls(size[order], at[order])

    @property
    def least(self) -> float | None:
        """The smallest, None where there is none [mm]."""
        return float(self.size[0]) if len(self.size) else None

    @property
    def place(self) -> tuple[float, float] | None:
        """Where the smallest is [mm]."""
        return (float(self.at[0, 0]), float(self.at[0, 1])) if len(self.size) else None


def _least_of_each(thing: Indices, size: Array, at: Array) -> Sizes:
    """Return the smallest size of each thing and its place, the smallest first."""
    order = np.lexsort([size, thing])
    first = order[np.flatnonzero(np.diff(thing[order], prepend=-1))]
    first = first[np.argsort(size[first], kind="stable")]
    return Sizes(size[first], at[first])


# -- sides and radii --------------------------------------------------------------------------------------------------


def side_lengths(lines: Stretches, side: Indices) -> Sizes:
    """Return the length of each side, from corner to corner.

    Parameters
    ----------
    lines : Stretches
        Lines, each once.
    side : ndarray of int, shape (stretches,)
        Number of the side each belongs to.

    Returns
    -------
    Sizes
        Marked in the middle of the longest stretch of each.
    """
    total: Array = np.asarray(np.bincount(side, lines.length), float)
    longest = np.lexsort([-lines.length, side])
    longest = longest[np.flatnonzero(np.diff(side[longest], prepend=-1))]
    order = np.argsort(total, kind="stable")
    return Sizes(total[order], lines.strokes.at(0.5)[longest][order])


def smallest_radii(lines: Stretches, side: Indices) -> Sizes:
    """Return the smallest radius of each side that is curved.

    Parameters
    ----------
    lines : Stretches
        Lines, each once.
    side : ndarray of int, shape (stretches,)
        Number of the side each belongs to.

    Returns
    -------
    Sizes
        Exact for arcs of circles and ellipses; of other curves the smallest radius is found by
        looking along them and then, for the two thousand that bend most, closer where they do.
    """
    curved = np.flatnonzero(lines.strokes.kind != LINE)
    if not len(curved):
        return Sizes(np.zeros(0), np.zeros((0, 2)))
    some = bare(lines.strokes.kind[curved], lines.strokes.data[curved])
    share = _sharpest(some)
    radius = _radius(some, share)
    bends = np.isfinite(radius)
    return _least_of_each(side[curved[bends]], radius[bends], some.at(share)[bends])


def _sharpest(curves: Strokes) -> Array:
    """Return the share of each curve at which it bends most."""
    share = np.full(len(curves), 0.5)
    round_ = np.isfinite(curves.radii())
    arc = np.flatnonzero((curves.kind == ARC) & ~round_)
    if len(arc):
        ax, ay, bx, by, begin, end = curves.data[arc, 2:].T
        # an ellipse bends most, or on a part of it at least at an end of that part, where its radius is an axis' end
        vertex = np.arctan2(2 * (ax * bx + ay * by), ax * ax + ay * ay - bx * bx - by * by) / 2
        turns = vertex[:, None] + np.arange(-8, 9) * np.pi / 2
        low, high = np.minimum(begin, end), np.maximum(begin, end)
        turns += np.round((low + high)[:, None] / 2 / (2 * np.pi)) * 2 * np.pi
        places = np.clip(turns, low[:, None], high[:, None])
        shares = (places - begin[:, None]) / (end - begin)[:, None]
        share[arc] = _best(curves, arc, shares)
    cubic = np.flatnonzero(curves.kind == CUBIC)
    if len(cubic):
        # the ends proper may have no direction: start a hair inside
        share[cubic] = _best(curves, cubic, np.tile(np.clip(_SHARES, 1e-3, 1 - 1e-3), (len(cubic), 1)))
        rough = _radius(bare(curves.kind[cubic], curves.data[cubic]), share[cubic])
        cubic = cubic[np.argsort(rough, kind="stable")[:_LOOKED_CLOSER]]
        width = _SHARES[1]
        for _ in range(8):
            near = share[cubic, None] + width * np.linspace(-1, 1, 9)
            share[cubic] = _best(curves, cubic, np.clip(near, 0, 1))
            width /= 4
    return share


def _best(curves: Strokes, which: Indices, shares: Array) -> Array:
    """Return of several shares of each curve that with the smallest radius."""
    count = shares.shape[1]
    some = bare(np.repeat(curves.kind[which], count), np.repeat(curves.data[which], count, axis=0))
    best = _radius(some, shares.ravel()).reshape(shares.shape).argmin(axis=1)
    found: Array = shares[np.arange(len(which)), best]
    return found


def _radius(curves: Strokes, share: Array) -> Array:
    """Return the radius of curvature at a share of each curve, infinite where it is straight [mm]."""
    first, second = curves.slopes(share), np.zeros((len(curves), 2))
    arc, cubic = curves.kind == ARC, curves.kind == CUBIC
    centre, place = curves.data[arc, :2], curves.at(share)[arc]
    second[arc] = (centre - place) * (curves.data[arc, 7] - curves.data[arc, 6])[:, None] ** 2
    p = curves.data[cubic].reshape(-1, 4, 2)
    w = share[cubic, None]
    second[cubic] = 6 * ((p[:, 2] - 2 * p[:, 1] + p[:, 0]) * (1 - w) + (p[:, 3] - 2 * p[:, 2] + p[:, 1]) * w)
    speed = np.hypot(*first.T)
    bend = np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])
    # too slow to have a direction is an end whose control point lies on it
    known = (bend > 0) & (speed > 1e-6 * np.abs(second).max(axis=1, initial=0))
    radius: Array = np.divide(speed**3, bend, out=np.full(len(curves), np.inf), where=known)
    return radius


# -- gaps -------------------------------------------------------------------------------------------------------------


def gaps(lines: Stretches) -> tuple[Sizes, bool]:
    """Find lines that run side by side without meeting, and how close they come.

    Parameters
    ----------
    lines : Stretches
        Cut lines, each once.

    Returns
    -------
    found : Sizes
        One for each two lines, marked in the middle of the gap. All that are at most 5 mm; where
        there are none, all up to 20 mm.
    complete : bool
        Whether that is so. In very crowded drawings only those up to 0.5 mm are looked for, or none.

    Notes
    -----
    Two lines run side by side if their directions differ by no more than 20 degrees and at least a
    tenth of the shorter has the other beside it. Lines that meet, as the two sides of a notch do, leave
    no gap; a line is one as far as it runs straight on, however it is cut into pieces.
    """
    nothing = Sizes(np.zeros(0), np.zeros((0, 2)))
    if len(lines) < 2:
        return nothing, True
    way, parts = ways(lines), _Parts.around(lines)
    found = _gaps_within(lines, way, parts, _REACH_MM)
    if found is None:
        return _gaps_within(lines, way, parts, _REACH_OF_CROWDED_MM) or nothing, False
    if len(found.size):
        return found, True
    wider = _gaps_within(lines, way, parts, _WIDEST_MM)
    return (found, False) if wider is None else (wider, True)


def _gaps_within(lines: Stretches, way: Indices, parts: _Parts, reach: float) -> Sizes | None:
    """Return the gaps up to a reach; None where too many lines are that close to one another."""
    near = parts.near(reach)
    if near is None:
        return None
    one, other = near
    later = way[one] < way[other]
    one, other = one[later], other[later]
    beside = _may_run_beside(lines, one, other)
    one, other = one[beside], other[beside]
    apart = ~_meet(lines, way, way[one], way[other])
    pairs = _chord_pairs(lines.strokes, one[apart], other[apart], reach)
    if pairs is None:
        return None
    (first, second), (one, other) = pairs
    width, middle = _between(first, second)
    open_ = (width > SAME_MM) & (width <= reach)  # what touches or crosses leaves no gap
    return _least_of_each(way[one[open_]] * len(lines) + way[other[open_]], width[open_], middle[open_])


def _between(first: Array, second: Array) -> tuple[Array, Array]:
    """Return the distance of each two chords, and the middle of the shortest line between them."""
    width, middle = np.full(len(first), np.inf), np.zeros((len(first), 2))
    for chord, places in ((first, second), (second, first)):
        start, run = chord[:, :2], chord[:, 2:] - chord[:, :2]
        size = np.maximum((run**2).sum(axis=1), 1e-300)
        for place in (places[:, :2], places[:, 2:]):
            share = np.clip(((place - start) * run).sum(axis=1) / size, 0, 1)
            foot = start + run * share[:, None]
            apart = np.hypot(*(place - foot).T)
            nearer = apart < width
            width[nearer], middle[nearer] = apart[nearer], ((place + foot) / 2)[nearer]
    (a, b), (c, d) = (np.split(chord, 2, axis=1) for chord in (first, second))
    crossed = (_turn(a, b, c) * _turn(a, b, d) < 0) & (_turn(c, d, a) * _turn(c, d, b) < 0)
    return np.where(crossed, 0.0, width), middle


def _turn(a: Array, b: Array, p: Array) -> Array:
    turned: Array = (b[:, 0] - a[:, 0]) * (p[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (p[:, 0] - a[:, 0])
    return np.sign(turned)


class _Parts(NamedTuple):
    """Boxes around lines, around several parts of each where it is long and slanted.

    Attributes
    ----------
    box : ndarray, shape (parts, 4)
        Least x and y, largest x and y [mm].
    of : ndarray of int, shape (parts,)
        The line each is of.
    """

    box: Array
    of: Indices

    @classmethod
    def around(cls, lines: Stretches) -> _Parts:
        straight = np.flatnonzero(lines.strokes.kind == LINE)
        ends, part_of, _, _ = shortened(lines.strokes.data[straight, :4])
        low, high = np.minimum(ends[:, :2], ends[:, 2:]), np.maximum(ends[:, :2], ends[:, 2:])
        curved = np.flatnonzero(lines.strokes.kind != LINE)
        round_ = boxes(bare(lines.strokes.kind[curved], lines.strokes.data[curved]))
        return cls(np.vstack([np.hstack([low, high]), round_]), np.concatenate([straight[part_of], curved]))

    def near(self, reach: float) -> tuple[Indices, Indices] | None:
        """Return pairs of lines whose boxes are within reach, each both ways; None where there are too many."""
        wide = shapely.box(*(self.box + reach / 2 * np.array([-1.0, -1.0, 1.0, 1.0])).T)
        tree = STRtree(wide)
        sample = wide[np.random.default_rng(0).integers(len(wide), size=_SAMPLE)]
        if tree.query(sample).shape[1] / _SAMPLE * len(wide) > _MOST_PAIRS:
            return None
        one, other = (self.of[part] for part in tree.query(wide))
        lines = int(self.of.max()) + 1
        if len(self.of) == lines:
            return one, other
        pair = np.unique(one * lines + other)  # parts of one line find the same others
        return pair // lines, pair % lines


def _may_run_beside(lines: Stretches, one: Indices, other: Indices) -> NDArray[np.bool_]:
    """Tell which pairs may run side by side: straight ones that do, and all with a curve in them."""
    straight = (lines.strokes.kind[one] == LINE) & (lines.strokes.kind[other] == LINE)
    ends = lines.strokes.data[:, :4]
    result: NDArray[np.bool_] = ~straight
    result[straight] = _side_by_side(ends[one[straight]], ends[other[straight]])
    return result


def _chord_pairs(
    strokes: Strokes, one: Indices, other: Indices, reach: float
) -> tuple[tuple[Array, Array], tuple[Indices, Indices]] | None:
    """Return the chords of pairs of lines that run side by side, perhaps within reach, and their lines.

    None where there are too many.
    """
    some, number = np.unique(np.concatenate([one, other]), return_inverse=True)
    one, other = number[: len(one)], number[len(one) :]
    curves = bare(strokes.kind[some], strokes.data[some])
    tolerance = _CHORD_MM
    while (count := curves.chord_counts(tolerance)).sum() > 500_000 + 2 * len(some):
        tolerance *= 4
    if (count[one] * count[other]).sum() > 10 * _MOST_PAIRS:
        return None
    chords, _ = curves.flattened(tolerance)
    low, high = np.minimum(chords[:, :2], chords[:, 2:]), np.maximum(chords[:, :2], chords[:, 2:])
    bunches = -(-count // _BUNCH)
    number = ranges(np.zeros_like(bunches), bunches)
    begin = np.repeat(np.cumsum(count) - count, bunches) + _BUNCH * number
    held = np.minimum(np.repeat(count, bunches) - _BUNCH * number, _BUNCH)
    box = np.hstack([low, high])
    around = np.hstack([np.minimum.reduceat(low, begin), np.maximum.reduceat(high, begin)])
    # few bunches are near one another, and only their chords need to be looked at
    pair, first, second = _near_parts((one, other), (np.cumsum(bunches) - bunches, bunches), around, reach)
    again, first, second = _near_parts((first, second), (begin, held), box, reach)
    pair = pair[again]
    beside = np.flatnonzero(_side_by_side(chords[first], chords[second]))
    # in the order of the chords, so that of equal gaps the first along the line is marked
    beside = beside[np.lexsort([second[beside], first[beside], pair[beside]])]
    first, second, pair = first[beside], second[beside], pair[beside]
    return (chords[first], chords[second]), (some[one[pair]], some[other[pair]])


def _near_parts(
    pairs: tuple[Indices, Indices], parts: tuple[Indices, Indices], box: Array, reach: float
) -> tuple[Indices, Indices, Indices]:
    """Return of pairs of things the parts whose boxes are within reach: number of the pair, and part of either.

    The parts of each thing follow one another: from where on, and how many.
    """
    (one, other), (begin, count) = pairs, parts
    pair, first = np.repeat(np.arange(len(one)), count[one]), ranges(begin[one], count[one])
    other = other[pair]
    again, second = np.repeat(np.arange(len(pair)), count[other]), ranges(begin[other], count[other])
    first = first[again]
    for low, high in (box.T[[0, 2]], box.T[[1, 3]]):
        least, most = low - reach, high + reach
        near = np.flatnonzero((low[first] <= most[second]) & (least[second] <= high[first]))
        again, first, second = again[near], first[near], second[near]
    return pair[again], first, second


def _meet(lines: Stretches, way: Indices, one: Indices, other: Indices) -> NDArray[np.bool_]:
    """Tell which pairs of ways have a node in common."""
    count = len(lines.nodes)
    known = np.unique(np.concatenate([way * count + lines.start, way * count + lines.end]))
    begin = np.searchsorted(known, np.arange(way.max() + 2) * count)
    pairs, back = np.unique(one * len(lines) + other, return_inverse=True)
    first, second = pairs // len(lines), pairs % len(lines)
    held = begin[first + 1] - begin[first]
    number = np.repeat(np.arange(len(pairs)), held)
    at = np.arange(len(number)) - np.repeat(np.cumsum(held) - held, held)
    wanted = second[number] * count + known[begin[first][number] + at] % count
    place = np.minimum(np.searchsorted(known, wanted), len(known) - 1)
    found: NDArray[np.bool_] = (np.bincount(number, known[place] == wanted, minlength=len(pairs)) > 0)[back]
    return found


def _side_by_side(one: Array, other: Array) -> NDArray[np.bool_]:
    run, run_too = one[:, 2:] - one[:, :2], other[:, 2:] - other[:, :2]
    size, size_too = np.hypot(*run.T), np.hypot(*run_too.T)
    slant = np.abs(run[:, 0] * run_too[:, 1] - run[:, 1] * run_too[:, 0])
    beside: NDArray[np.bool_] = slant <= _SLANT * size * size_too
    some = np.flatnonzero(beside)
    one, other, run, size, size_too = one[some], other[some], run[some], size[some], size_too[some]
    x, y = (run / np.maximum(size, 1e-300)[:, None]).T
    a = (other[:, 0] - one[:, 0]) * x + (other[:, 1] - one[:, 1]) * y
    b = (other[:, 2] - one[:, 0]) * x + (other[:, 3] - one[:, 1]) * y
    shared = np.minimum(np.maximum(a, b), size) - np.maximum(np.minimum(a, b), 0)
    beside[some] = shared >= _BESIDE * np.minimum(size, size_too)
    return beside
