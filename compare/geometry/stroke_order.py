"""The order of the strokes of one head, and how each is run, so that the jumps between them are short.

Every jump has the same delays, so the shortest route is the fastest. For few strokes the route is the shortest there
is; for more it is found by local search with a fixed number of steps, which gives the same route for the same
strokes on any machine: no clock and no drawn number but from a fixed row decides.

The task is that of a travelling salesman who picks one place of each group, with groups that come before others
(generalised travelling-salesman problem with precedence). Published: M. Held and R. M. Karp 1962, for the dynamic
programme over sets of strokes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.errors import InputError
from compare.geometry.nodes import Indices
from compare.geometry.strokes import Array
from compare.geometry.tour_search import FREE, Near, Route, Strokes

_EXACT = 8
_EXACT_IF_FEW_WAYS, _MOST_STATES = 12, 400_000
"""Up to so many strokes every order is weighed: always, and where sets of strokes times ways are not more than so
many."""

_NEIGHBOURS = 6
"""Strokes looked at from an end of a stroke."""

_KICKS, _LEAST_KICKS, _MOST_KICKS = 2, 200, 20_000
"""Kicks of the search: so many for each stroke and so many more, but not more than so many in all."""

_ROUNDS = 4
"""Parts of the search, between which the ways are chosen anew along the whole route."""

_NOISE = 1e-9
"""Share of the extent of all strokes below which two lengths are one."""

_CHUNK = 200_000
"""Distances worked out at once."""


@dataclass(frozen=True, eq=False)
class Ends:
    """Every way in which strokes may be run.

    An open stroke has two ways, one for each direction; a closed one has a way for every point where it may be
    entered, and is left there. A stroke that runs in one direction only has one way.

    Attributes
    ----------
    enter, leave : ndarray, shape (ways, 2)
        Where each way begins and ends [mm].
    stroke : ndarray of int, shape (ways,)
        Number of the stroke: from 0, never falling, none left out.
    """

    enter: Array
    leave: Array
    stroke: NDArray[np.int64]

    def __post_init__(self) -> None:
        """Refuse ways that are not of this form."""
        ways = len(self.stroke)
        if np.shape(self.enter) != (ways, 2) or np.shape(self.leave) != (ways, 2):
            raise InputError("the ways of strokes need a place to enter and a place to leave each", where="strokes")
        if not (np.isfinite(self.enter).all() and np.isfinite(self.leave).all()):
            raise InputError("a stroke begins or ends at a place that is no number", where="strokes")
        if ways and (self.stroke[0] != 0 or not np.isin(np.diff(self.stroke), (0, 1)).all()):
            raise InputError("the ways of strokes are not numbered by stroke from 0 without gaps", where="strokes")

    def __len__(self) -> int:
        """Return the number of strokes."""
        return int(self.stroke[-1]) + 1 if len(self.stroke) else 0


class Order(NamedTuple):
    """A route through all strokes.

    Attributes
    ----------
    strokes : ndarray of int, shape (strokes,)
        Strokes in the order run.
    ways : ndarray of int, shape (strokes,)
        The way each is run, in the same order.
    jump_mm : float
        Length of all jumps [mm].
    """

    strokes: NDArray[np.int64]
    ways: NDArray[np.int64]
    jump_mm: float


def order_strokes(
    ends: Ends,
    *,
    before: NDArray[np.int64] | None = None,
    start: tuple[float, float] | None = None,
    closed: bool = False,
) -> Order:
    """Find a short route through all strokes.

    Parameters
    ----------
    ends : Ends
        The strokes.
    before : ndarray of int, shape (pairs, 2), optional
        Pairs of strokes, the first of which must be run before the second.
    start : tuple of (float, float), optional
        Where the first jump begins [mm]. Without it the route begins at whatever stroke is best, and no jump
        leads there.
    closed : bool
        Whether the jump from the last stroke back to the first counts as well.

    Returns
    -------
    Order
        The route. Up to eight strokes there is none shorter, nor up to twelve if they have not hundreds of entry
        points. From there on it is as a rule within a few per cent of the shortest; it may be further off where
        many strokes must be run before others.

    Raises
    ------
    InputError
        If the strokes can't be run in any order that ``before`` allows, or a closed route is asked for together
        with a start or with an order of strokes.
    """
    count = len(ends)
    pairs = np.zeros((0, 2), np.int64) if before is None else np.asarray(before, np.int64).reshape(-1, 2)
    if closed and (start is not None or len(pairs)):
        raise InputError("a closed route has no first stroke, so no start and no order either", where="strokes")
    if len(pairs) and not (pairs.min() >= 0 and pairs.max() < count):
        raise InputError("an order is asked for of a stroke that there is not", where="strokes")
    if start is not None and not all(map(math.isfinite, start)):
        raise InputError("the start is at a place that is no number", where="strokes")
    earlier = _earlier(count, pairs)
    if count == 0:
        return Order(np.zeros(0, np.int64), np.zeros(0, np.int64), 0.0)
    few = count <= _EXACT_IF_FEW_WAYS and len(ends.stroke) << count <= _MOST_STATES
    if count <= _EXACT or few:
        ways = _shortest(ends, earlier, start, closed=closed)
    else:
        ways = _searched(ends, earlier, start, closed=closed)
    return Order(ends.stroke[ways], ways, _length(ends, ways, start, closed=closed))


def nearest_order(
    ends: Ends, *, before: NDArray[np.int64] | None = None, start: tuple[float, float] | None = None
) -> NDArray[np.int64]:
    """Order strokes by always going to the nearest one: the route which the search begins with.

    Parameters
    ----------
    ends : Ends
        The strokes.
    before : ndarray of int, shape (pairs, 2), optional
        Pairs of strokes, the first of which must be run before the second.
    start : tuple of (float, float), optional
        Where the route begins [mm]; without it, with the first stroke that may be the first.

    Returns
    -------
    ndarray of int, shape (strokes,)
        The way each stroke is run, in the order run; of equally near ones the one with the lower number.
    """
    pairs = np.zeros((0, 2), np.int64) if before is None else np.asarray(before, np.int64).reshape(-1, 2)
    return np.array(_nearest(ends, _earlier(len(ends), pairs), start), np.int64)


def _length(ends: Ends, ways: Indices, start: tuple[float, float] | None, *, closed: bool) -> float:
    """Work out the length of all jumps of a route [mm]."""
    enter, leave = ends.enter[ways], ends.leave[ways]
    jumps = enter[1:] - leave[:-1]
    if closed:
        jumps = np.vstack([jumps, enter[:1] - leave[-1:]])
    if start is not None:
        jumps = np.vstack([jumps, enter[:1] - np.array([start])])
    return math.fsum(np.sqrt(jumps[:, 0] ** 2 + jumps[:, 1] ** 2).tolist())


def _distances(here: Array, there: Array) -> Array:
    """Distances of all places from all others [mm]: by roots, which come out the same on any machine."""
    x = here[:, 0, None] - there[:, 0]
    y = here[:, 1, None] - there[:, 1]
    return np.asarray(np.sqrt(x * x + y * y))


def _earlier(count: int, pairs: Indices) -> list[list[int]]:
    """Strokes which must be run before each; refuses a circle."""
    # asked for its indices, it does not load masked arrays, which nothing here has
    pairs = np.unique(pairs, axis=0, return_index=True)[0]
    earlier: list[list[int]] = [[] for _ in range(count)]
    later: list[list[int]] = [[] for _ in range(count)]
    for a, b in pairs.tolist():
        earlier[b].append(a)
        later[a].append(b)
    open_pairs = [len(e) for e in earlier]
    ready = [s for s in range(count) if not open_pairs[s]]
    for stroke in ready:
        for b in later[stroke]:
            open_pairs[b] -= 1
            if not open_pairs[b]:
                ready.append(b)
    if len(ready) < count:
        stuck = next(s for s in range(count) if open_pairs[s])
        raise InputError(f"stroke {stuck + 1} must be run before itself", where="strokes")
    return earlier


# -- few strokes: every order -----------------------------------------------------------------------------------------


def _shortest(
    ends: Ends, earlier: list[list[int]], start: tuple[float, float] | None, *, closed: bool
) -> NDArray[np.int64]:
    """Find the shortest route there is: for each set of strokes, the shortest way to end with each way."""
    count, ways = len(ends), len(ends.stroke)
    jump = _distances(ends.leave, ends.enter)
    first = np.zeros(ways) if start is None else _distances(np.array([start]), ends.enter)[0]
    if not closed:
        return _by_sets(ends, earlier, first, jump, np.zeros(ways))[1]
    rounds = []
    # a closed route may begin with any stroke: with one that has few ways
    for way in np.flatnonzero(ends.stroke == np.bincount(ends.stroke).argmin()):
        only = np.where(np.arange(ways) == way, 0.0, np.inf)
        rounds.append(_by_sets(ends, earlier, only, jump, jump[:, way] if count > 1 else np.diag(jump)))
    return min(rounds, key=lambda found: found[0])[1]


def _by_sets(
    ends: Ends, earlier: list[list[int]], first: Array, jump: Array, back: Array
) -> tuple[float, NDArray[np.int64]]:
    """Find the shortest route, given the jump to the first way and that from the last [mm]."""
    count, ways = len(ends), len(ends.stroke)
    bit = 1 << ends.stroke
    needed = np.array([sum(1 << e for e in earlier[s]) for s in ends.stroke.tolist()], np.int64)
    least = np.full((1 << count, ways), np.inf)
    came = np.full((1 << count, ways), -1, np.int64)
    free = np.flatnonzero(needed == 0)
    least[bit[free], free] = first[free]
    for done in range(1, (1 << count) - 1):
        here = np.flatnonzero(np.isfinite(least[done]))
        if not len(here):
            continue
        to = np.flatnonzero((bit & done == 0) & (needed & ~done == 0))
        size = least[done, here][:, None] + jump[np.ix_(here, to)]
        best = size.argmin(axis=0)
        least[done | bit[to], to] = size[best, np.arange(len(to))]  # one set only leads to a set with its last way
        came[done | bit[to], to] = here[best]
    done = (1 << count) - 1
    whole = least[done] + back
    way = int(whole.argmin())
    total, route = float(whole[way]), [way]
    while len(route) < count:
        before = int(came[done, way])
        done, way = done & ~int(bit[way]), before
        route.append(way)
    return total, np.array(route[::-1], np.int64)


# -- many strokes: a search -------------------------------------------------------------------------------------------


def _searched(
    ends: Ends, earlier: list[list[int]], start: tuple[float, float] | None, *, closed: bool
) -> NDArray[np.int64]:
    """Search for a short route."""
    count = len(ends)
    strokes = _told(ends, earlier)
    head = FREE if start is None else complex(*start)
    ways = _best_ways(strokes, _nearest(ends, earlier, start), head, closed=closed)
    route = Route(strokes, ways, head, closed=closed)
    route.settle(_strokes_in(route.route(), strokes))
    kicks = min(_KICKS * count + _LEAST_KICKS, _MOST_KICKS)
    for i in range(_ROUNDS):
        route.kick(kicks // _ROUNDS, seed=i + 1)
        route.place(_best_ways(strokes, route.route(), head, closed=closed), head)
        route.settle(_strokes_in(route.route(), strokes))
    return np.array(_best_ways(strokes, route.route(), head, closed=closed), np.int64)


def _strokes_in(ways: list[int], strokes: Strokes) -> list[int]:
    """Return the strokes of a route in its order."""
    return [strokes.stroke[w] for w in ways]


def _told(ends: Ends, earlier: list[list[int]]) -> Strokes:
    """Tell the search what there is to order."""
    count = len(ends)
    corner = np.minimum(ends.enter.min(axis=0), ends.leave.min(axis=0))
    extent = float(np.maximum(ends.enter.max(axis=0), ends.leave.max(axis=0)).max(initial=0.0) - corner.min())
    noise = max(extent * _NOISE, 1e-300)
    first = np.searchsorted(ends.stroke, np.arange(count + 1)).tolist()
    ways = [list(range(a, b)) for a, b in pairwise(first)]
    enter = [complex(*p) for p in ends.enter.tolist()]
    leave = [complex(*p) for p in ends.leave.tolist()]
    mirror = [
        next((u for u in ways[s] if enter[u] == leave[w] and leave[u] == enter[w]), -1)
        for w, s in enumerate(ends.stroke.tolist())
    ]
    near_enter, near_leave = _near(ends, noise)
    return Strokes(enter, leave, ends.stroke.tolist(), mirror, ways, earlier, near_enter, near_leave, noise)


def _near(ends: Ends, noise: float) -> tuple[Near, Near]:
    """Find the strokes near both ends of every way."""
    count, ways = len(ends), len(ends.stroke)
    both = np.column_stack([np.tile(ends.stroke, 2), np.vstack([ends.enter, ends.leave])])
    places, first_way, number = np.unique(both, axis=0, return_index=True, return_inverse=True)
    number = number.ravel()
    stroke = places[:, 0].astype(np.int64)
    bounds = np.searchsorted(stroke, np.arange(count + 1))
    most = min(_NEIGHBOURS, count - 1)
    way = first_way % ways  # of a place where its stroke is entered and left, the way; of another one, none
    entry = np.where((ends.enter[way] == ends.leave[way]).all(axis=1), way, -1)
    entries = np.arange(int(np.diff(bounds).max()))
    near: Near = []
    rows = max(1, _CHUNK // len(places))
    for low in range(0, len(places), rows):
        square = (places[low : low + rows, 1, None] - places[:, 1]) ** 2
        square += (places[low : low + rows, 2, None] - places[:, 2]) ** 2
        # sizes that differ by noise only are one, and of these the stroke with the lower number comes first
        least = np.rint(np.sqrt(np.minimum.reduceat(square, bounds[:-1], axis=1)) / noise)
        least[np.arange(len(least)), stroke[low : low + rows]] = np.inf
        rank = least * count + np.arange(count)
        order = np.argpartition(rank, most - 1, axis=1)[:, :most]
        order = np.take_along_axis(order, np.take_along_axis(rank, order, axis=1).argsort(axis=1), axis=1)
        at = np.minimum(bounds[order][..., None] + entries, bounds[order + 1][..., None] - 1)
        best = np.take_along_axis(square[:, None], at, axis=2).argmin(axis=2)
        way_there = entry[np.take_along_axis(at, best[..., None], axis=2)[..., 0]]
        size = np.take_along_axis(least, order, axis=1) * noise
        near += [
            list(zip(*row, strict=True)) for row in zip(size.tolist(), order.tolist(), way_there.tolist(), strict=True)
        ]
    return [near[i] for i in number[:ways].tolist()], [near[i] for i in number[ways:].tolist()]


def _nearest(ends: Ends, earlier: list[list[int]], start: tuple[float, float] | None) -> list[int]:
    """Go to the nearest stroke that may be next, again and again."""
    count = len(ends)
    later: list[list[int]] = [[] for _ in range(count)]
    for stroke, those in enumerate(earlier):
        for e in those:
            later[e].append(stroke)
    missing = [len(those) for those in earlier]
    first = np.searchsorted(ends.stroke, np.arange(count + 1)).tolist()
    enter_x, enter_y = ends.enter[:, 0].copy(), ends.enter[:, 1].copy()
    barred = np.where(np.array(missing, np.int64)[ends.stroke] > 0, np.inf, 0.0)
    x, y = start if start is not None else ends.enter[int(barred.argmin())]
    route = []
    for _ in range(count):
        way = int(((enter_x - x) ** 2 + (enter_y - y) ** 2 + barred).argmin())
        route.append(way)
        x, y = ends.leave[way]
        stroke = int(ends.stroke[way])
        barred[first[stroke] : first[stroke + 1]] = np.inf
        for b in later[stroke]:
            missing[b] -= 1
            if not missing[b]:
                barred[first[b] : first[b + 1]] = 0.0
    return route


def _best_ways(strokes: Strokes, route: list[int], head: complex, *, closed: bool) -> list[int]:
    """Choose the best way of every stroke, their order being fixed."""
    in_order = [strokes.ways[s] for s in _strokes_in(route, strokes)]
    if all(len(ways) == 1 for ways in in_order):
        return route
    if not closed:
        return _ways_in_order(strokes, in_order, head, FREE)[1]
    rounds = [_ways_in_order(strokes, [[way], *in_order[1:]], FREE, strokes.enter[way]) for way in in_order[0]]
    return min(rounds, key=lambda found: found[0])[1]


def _ways_in_order(
    strokes: Strokes, in_order: list[list[int]], head: complex, tail: complex
) -> tuple[float, list[int]]:
    """Choose ways by dynamic programming along the route; return the length with them [mm]."""
    enter, leave = strokes.enter, strokes.leave
    known = [(0.0 if head != head else abs(head - enter[w]), leave[w]) for w in in_order[0]]  # noqa: PLR0124
    came = []
    for ways in in_order[1:]:
        step, back = [], []
        for way in ways:
            place = enter[way]
            sizes = [size + abs(left - place) for size, left in known]
            least = min(sizes)
            # of ways that differ by noise only, the first
            best = next(i for i, size in enumerate(sizes) if size <= least + strokes.noise)
            step.append((sizes[best], leave[way]))
            back.append(best)
        known = step
        came.append(back)
    whole = [size if tail != tail else size + abs(left - tail) for size, left in known]  # noqa: PLR0124
    best = next(i for i, size in enumerate(whole) if size <= min(whole) + strokes.noise)
    total, chosen = whole[best], [in_order[-1][best]]
    for back, ways in zip(came[::-1], in_order[-2::-1], strict=True):
        best = back[best]
        chosen.append(ways[best])
    return total, chosen[::-1]
