"""Lines followed from end to end: strokes, corners and bends."""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.geometry.nodes import Indices, components
from compare.geometry.overlaps import SAME_MM, Stretches
from compare.geometry.strokes import LINE, Array

_SAME_TURN = 1e-9
"""Two straight lines that meet with less than this of 1 - cos of the turn angle run straight on."""

_STEADY = 0.05
"""A turn below this [radians] that leads off its way by no more than the noise of files is no corner."""

_SMOOTH = np.radians(1.0)
"""A curve that meets its neighbour with less than this turn runs on smoothly: tangents in files are rounded."""


class Runs(NamedTuple):
    """The lines of one kind, followed from end to end.

    Attributes
    ----------
    stroke : ndarray of int, shape (stretches,)
        Number of the stroke each stretch belongs to; a stroke ends where three lines or more meet.
    side : ndarray of int, shape (stretches,)
        Number of the side each stretch belongs to; a side runs from corner to corner.
    strokes : int
        How many strokes.
    corner_load : float
        Sum of (1 - cos of the turn angle) over the corners inside the strokes; a closed stroke starts
        at its sharpest corner, which does not count.
    corners : int
        Corners inside the strokes.
    curves : int
        Curves that run smoothly, each counted once however many pieces it has.
    """

    stroke: Indices
    side: Indices
    strokes: int
    corner_load: float
    corners: int
    curves: int


def follow(lines: Stretches) -> Runs:
    """Follow lines of one kind from end to end.

    Parameters
    ----------
    lines : Stretches
        Lines of one kind, each once.

    Returns
    -------
    Runs

    Notes
    -----
    Two ends that meet alone at a node are one stroke. Where four ends meet as two lines that run
    straight across one another, each runs on. Anywhere else strokes end. A stroke that comes back to
    the node it left is closed.
    """
    count = len(lines)
    if not count:
        nothing = np.zeros(0, np.int64)
        return Runs(nothing, nothing, 0, 0.0, 0, 0)
    ends = _ends(lines)
    one, other = _joints(ends)
    stroke = components(count, ends.owner[one], ends.owner[other])
    strokes = int(stroke.max()) + 1
    # both ends of a stroke that comes back to where it began: its last joint
    free = np.ones(2 * count, bool)
    free[one] = free[other] = False
    loose = np.flatnonzero(free)
    pair = loose[np.argsort(stroke[ends.owner[loose]], kind="stable")].reshape(-1, 2)
    back = pair[ends.node[pair[:, 0]] == ends.node[pair[:, 1]]]
    one, other = np.concatenate([one, back[:, 0]]), np.concatenate([other, back[:, 1]])

    a, b = ends.owner[one], ends.owner[other]
    turn = _turns(ends.direction[one], ends.direction[other])
    smooth = _smooth(ends, one, other, turn)
    load = np.where(smooth, 0.0, 2 * np.sin(turn / 2) ** 2)
    closed = np.bincount(stroke[a], minlength=strokes) == np.bincount(stroke, minlength=strokes)
    sharpest = np.zeros(strokes)
    np.maximum.at(sharpest, stroke[a], load)
    bent = smooth & ends.curved[a] & ends.curved[b]
    curve = components(count, a[bent], b[bent])
    return Runs(
        stroke,
        components(count, a[smooth], b[smooth]),
        strokes,
        float(load.sum() - sharpest[closed].sum()),
        int((~smooth).sum()),
        len(np.unique(curve[ends.curved])),
    )


def ways(lines: Stretches) -> Indices:
    """Find lines that run straight on, whatever meets them on their way, and curves that run smoothly on.

    Parameters
    ----------
    lines : Stretches
        Lines, each once.

    Returns
    -------
    ndarray of int, shape (stretches,)
        Number of the way of each. Unlike a side, a way does not end where another line meets it, but where a line becomes a curve.
    """
    if not len(lines):
        return np.zeros(0, np.int64)
    ends = _ends(lines)
    order, first, degree = _by_node(ends)
    one, other = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for meeting in (2, 3, 4):
        at = order[first[degree == meeting][:, None] + np.arange(meeting)]
        for a, b in combinations(range(meeting), 2):
            alike = ends.curved[ends.owner[at[:, a]]] == ends.curved[ends.owner[at[:, b]]]
            on = alike & _straight_on(ends, at[:, a], at[:, b])
            one.append(ends.owner[at[on, a]])
            other.append(ends.owner[at[on, b]])
    return components(len(lines), np.concatenate(one), np.concatenate(other))


class _Ends(NamedTuple):
    """The two ends of every stretch: first all starts, then all ends; directions point away from the node."""

    node: Indices
    owner: Indices
    direction: Array
    curved: NDArray[np.bool_]
    length: Array


def _ends(lines: Stretches) -> _Ends:
    return _Ends(
        np.concatenate([lines.start, lines.end]),
        np.tile(np.arange(len(lines)), 2),
        np.concatenate([lines.strokes.directions(0.0), -lines.strokes.directions(1.0)]),
        lines.strokes.kind != LINE,
        lines.length,
    )


def _by_node(ends: _Ends) -> tuple[Indices, Indices, Indices]:
    """Return the ends sorted by node, where each node begins in that order, and how many ends it has."""
    order = np.argsort(ends.node, kind="stable")
    first = np.flatnonzero(np.diff(ends.node[order], prepend=-1))
    return order, first, np.diff(np.append(first, len(order)))


def _joints(ends: _Ends) -> tuple[Indices, Indices]:
    """Return the pairs of ends at which a stroke runs on."""
    order, first, degree = _by_node(ends)
    two = first[degree == 2]
    one, other = [order[two]], [order[two + 1]]
    four = first[degree == 4]
    cross = order[four[:, None] + np.arange(4)]
    for a, b, c, d in ((0, 1, 2, 3), (0, 2, 1, 3), (0, 3, 1, 2)):
        # two lines across one another, either of which may be drawn in one go or in two
        pair, pair2 = (cross[:, a], cross[:, b]), (cross[:, c], cross[:, d])
        on = _straight_on(ends, *pair) & _straight_on(ends, *pair2)
        one += [pair[0][on], pair2[0][on]]
        other += [pair[1][on], pair2[1][on]]
        cross = cross[~on]
    return np.concatenate(one), np.concatenate(other)


def _straight_on(ends: _Ends, one: Indices, other: Indices) -> NDArray[np.bool_]:
    return _smooth(ends, one, other, _turns(ends.direction[one], ends.direction[other]))


def _turns(away: Array, away_too: Array) -> Array:
    """Return the turn angle between two ends [radians], 0 for straight on, pi for back."""
    cross = away[:, 0] * away_too[:, 1] - away[:, 1] * away_too[:, 0]
    dot = (away * away_too).sum(axis=1)
    known = (away != 0).any(axis=1) & (away_too != 0).any(axis=1)
    return np.where(known, np.arctan2(np.abs(cross), -dot), 0.0)


def _smooth(ends: _Ends, one: Indices, other: Indices, turn: Array) -> NDArray[np.bool_]:
    """Mark the joints that are no corner."""
    a, b = ends.owner[one], ends.owner[other]
    return no_corner(turn, np.minimum(ends.length[a], ends.length[b]), ends.curved[a] | ends.curved[b])


def no_corner(turn: Array, shorter_mm: Array, curved: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark the joints at which a line runs on smoothly.

    Parameters
    ----------
    turn : ndarray
        Size of the turn at each [radians].
    shorter_mm : ndarray
        Length of the shorter of the two lines that meet [mm].
    curved : ndarray of bool
        Whether either of them is a curve.
    """
    steady = (turn < _STEADY) & (turn * shorter_mm <= SAME_MM)
    straight = 2 * np.sin(turn / 2) ** 2 <= _SAME_TURN
    result: NDArray[np.bool_] = straight | steady | (curved & (turn < _SMOOTH))
    return result


class Chain(NamedTuple):
    """A stroke as its stretches in the order it is run.

    Attributes
    ----------
    stretches : ndarray of int, shape (stretches,)
        Their numbers.
    back : ndarray of bool, shape (stretches,)
        Whether each is run against its direction.
    turns : ndarray, shape (stretches,)
        Turn at the start of each, to the left positive, 0 where it runs on smoothly [radians]. The first is
        that at which a closed stroke closes, 0 for an open one.
    closed : bool
        Whether it comes back to where it began.
    """

    stretches: Indices
    back: NDArray[np.bool_]
    turns: Array
    closed: bool


def chains(lines: Stretches) -> list[Chain]:
    """Return the strokes of :func:`follow`, each as its stretches from end to end, by their first stretch.

    Parameters
    ----------
    lines : Stretches
        Lines of one kind, each once.
    """
    count = len(lines)
    if not count:
        return []
    ends = _ends(lines)
    one, other = _joints(ends)
    partner = np.full(2 * count, -1)
    partner[one], partner[other] = other, one
    partners, node = partner.tolist(), ends.node.tolist()
    used = [False] * count
    walks: list[tuple[list[int], bool]] = []
    # strokes with loose ends first: what is left then runs in rings
    for first in [*np.flatnonzero(partner < 0).tolist(), *range(count)]:
        if used[first % count]:
            continue
        walk, at = [], first
        while at >= 0 and not used[at % count]:
            used[at % count] = True
            walk.append(at)
            at = partners[(at + count) % (2 * count)]
        walks.append((walk, node[first] == node[(walk[-1] + count) % (2 * count)]))
    return [_chain(ends, np.array(walk), closed) for walk, closed in walks]


def _chain(ends: _Ends, entry: Indices, closed: bool) -> Chain:
    """Return a chain from the ends its stretches are entered by."""
    count = len(ends.length)
    leave = np.roll((entry + count) % (2 * count), 1)
    inward, outward = -ends.direction[leave], ends.direction[entry]
    cross = inward[:, 0] * outward[:, 1] - inward[:, 1] * outward[:, 0]
    turn = _turns(ends.direction[leave], ends.direction[entry])
    turns = np.where(_smooth(ends, leave, entry, turn), 0.0, np.where(cross < 0, -turn, turn))
    if not closed:
        turns[0] = 0.0
    return Chain(entry % count, entry >= count, turns, closed)
