"""How close two outlines come: the exact pitch of copies pushed into one another.

Seen along the direction of the shift, only the far side of the first outline and the near side of the
second can meet. Both are kept as a profile: straight pieces, sorted across the direction. The pitch is
where the two profiles last touch, or last come within the gap, and is found from their corners and
sides alone, so nothing is sampled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from compare.geometry.linework import Point

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

SAME_MM = 1e-7
"""Outlines that overlap by less than this across the direction pass one another [mm]: noise of arithmetic."""

_CHUNK = 100_000
"""Pieces looked at in one go, so that they stay in cache."""


@dataclass(frozen=True, eq=False)
class Profile:
    """One side of an outline as seen along a direction, sorted across it.

    Attributes
    ----------
    start, end : ndarray, shape (pieces,)
        Where each piece begins and ends across the direction [mm].
    level : ndarray, shape (pieces,)
        Its place along the direction where it begins [mm].
    slope : ndarray, shape (pieces,)
        Its rise along the direction per length across it [-].
    """

    start: Array
    end: Array
    level: Array
    slope: Array

    @cached_property
    def corners(self) -> tuple[Array, Array]:
        """Places of both ends of all pieces, across and along the direction, sorted across it [mm]."""
        across = np.column_stack([self.start, self.end]).ravel()
        along = np.column_stack([self.level, self.level + self.slope * (self.end - self.start)]).ravel()
        kept = np.ones(len(across), bool)
        kept[1:] = (across[1:] != across[:-1]) | (along[1:] != along[:-1])
        return across[kept], along[kept]


def ring_array(outline: Sequence[Point] | Array) -> Array:
    """Return the corners of a closed outline as an array, shape (corners, 2) [mm]."""
    return np.asarray(outline, float).reshape(-1, 2)


def turned_half(ring: Array) -> Array:
    """Return an outline turned by 180 degrees within its own box."""
    turned: Array = ring.min(axis=0) + ring.max(axis=0) - ring
    return turned


def far_profile(ring: Array) -> Profile:
    """Return the upper side of an outline: what is seen of it from far above.

    Parameters
    ----------
    ring : ndarray, shape (corners, 2)
        Corners in order, closed, not repeated at the end [mm]. Sides may touch but not cross.

    Returns
    -------
    Profile
    """
    a, b = ring, np.roll(ring, -1, axis=0)
    left = np.where((a[:, 0] <= b[:, 0])[:, None], a, b)
    right = np.where((a[:, 0] <= b[:, 0])[:, None], b, a)
    run = right[:, 0] - left[:, 0]
    lies = run > SAME_MM
    left, right, run = left[lies], right[lies], run[lies]
    slope = (right[:, 1] - left[:, 1]) / run

    cuts = np.unique(ring[:, 0])
    low, high = cuts[:-1], cuts[1:]
    wide = high - low > SAME_MM
    low, high = low[wide], high[wide]
    middle = (low + high) / 2
    height = left[:, 1] + slope * (middle[:, None] - left[:, 0])
    height[(middle[:, None] < left[:, 0]) | (middle[:, None] > right[:, 0])] = -np.inf
    side = height.argmax(axis=1)
    seen = np.isfinite(height[np.arange(len(side)), side])
    low, high, side = low[seen], high[seen], side[seen]

    # neighbouring stretches of one side are one piece again
    fresh = np.ones(len(side), bool)
    fresh[1:] = (side[1:] != side[:-1]) | (low[1:] - high[:-1] > SAME_MM)
    first = np.flatnonzero(fresh)
    last = np.append(first[1:], len(side)) - 1
    side, start = side[first], low[first]
    return Profile(start, high[last], left[side, 1] + slope[side] * (start - left[side, 0]), slope[side])


def near_profile(ring: Array) -> Profile:
    """Return the lower side of an outline: what is seen of it from far below."""
    mirrored = far_profile(ring * (1.0, -1.0))
    return replace(mirrored, level=-mirrored.level, slope=-mirrored.slope)


def last_contact(first: Profile, second: Profile, shifts: Any, gap: float = 0.0) -> Array:
    """Return how far the second outline must be shifted along the direction to stay clear of the first.

    Parameters
    ----------
    first : Profile
        Far side of the outline that stays.
    second : Profile
        Near side of the outline that is shifted.
    shifts : array-like, shape (shifts,)
        How far the second is also shifted across the direction [mm].
    gap : float
        Least distance between the two [mm]. Without one they may touch.

    Returns
    -------
    ndarray, shape (shifts,)
        The least shift along the direction from which on they stay clear for good [mm]; minus infinity
        where they never meet.

    Notes
    -----
    Without a gap: over each stretch that a piece of both covers, the overlap is linear, so its largest
    value is at an end of the stretch. With a gap: at the last moment of being too near, the two do not
    cross, so the nearest points are a corner of one and a corner or a side of the other. Each such pair
    gives the shift at which it is exactly a gap apart; the largest counts. (Derived here.)
    """
    across = np.atleast_1d(np.asarray(shifts, float))
    found = np.empty(len(across))
    step = max(_CHUNK // (len(first.start) + len(second.start)), 1)
    for begin in range(0, len(across), step):
        part = across[begin : begin + step, None]
        found[begin : begin + step] = _apart(first, second, part, gap) if gap > 0 else _touching(first, second, part)
    return found


def _meeting(low: Indices, high: Indices) -> tuple[Indices, Indices]:
    """Pair each query with every piece of its range: row by row, number of the query and of the piece."""
    count = np.maximum(high - low, 0).ravel()
    query = np.repeat(np.arange(len(count)), count)
    return query, np.arange(len(query)) - np.repeat(np.cumsum(count) - count - low.ravel(), count)


def _largest(reach: Array, query: Indices, shape: tuple[int, ...]) -> Array:
    """Return the largest reach of each shift; a shift holds as many queries as there are columns."""
    found = np.full(shape[0], -np.inf)
    np.maximum.at(found, query // shape[1], reach)
    return found


def _touching(first: Profile, second: Profile, shift: Array) -> Array:
    start, end = first.start - shift, first.end - shift
    low = np.searchsorted(second.end, start + SAME_MM, side="right")
    high = np.searchsorted(second.start, end - SAME_MM, side="left")
    query, j = _meeting(low, high)
    i = query % len(first.start)
    start, end = np.maximum(start.ravel()[query], second.start[j]), np.minimum(end.ravel()[query], second.end[j])
    ahead = start + shift.ravel()[query // len(first.start)]
    begin = first.level[i] + first.slope[i] * (ahead - first.start[i])
    begin -= second.level[j] + second.slope[j] * (start - second.start[j])
    reach = begin + np.maximum((first.slope[i] - second.slope[j]) * (end - start), 0.0)
    return _largest(reach, query, low.shape)


def _apart(first: Profile, second: Profile, shift: Array, gap: float) -> Array:
    (ax, ay), (bx, by) = first.corners, second.corners
    # corner against corner
    at = ax - shift
    low = np.searchsorted(bx, at - gap + SAME_MM, side="right")
    query, j = _meeting(low, np.searchsorted(bx, at + gap - SAME_MM, side="left"))
    beside = at.ravel()[query] - bx[j]
    reach = np.sqrt(np.maximum(gap * gap - beside * beside, 0.0)) + ay[query % len(ax)] - by[j]
    found = _largest(reach, query, low.shape)
    # corner of the first against a side of the second, and the other way round
    found = np.maximum(found, _corner_and_side(at, ay, second, gap, 1.0))
    return np.maximum(found, _corner_and_side(bx + shift, by, first, gap, -1.0))


def _corner_and_side(at: Array, height: Array, side: Profile, gap: float, way: float) -> Array:
    """Return the shift at which a corner is a gap away from a side, along the normal of the side.

    ``way`` is 1 where the side lies beyond the corner, -1 where the corner lies beyond the side.
    """
    low = np.searchsorted(side.end, at - gap, side="left")
    query, j = _meeting(low, np.searchsorted(side.start, at + gap, side="right"))
    slope = side.slope[j]
    stretch = np.hypot(1.0, slope)
    x = at.ravel()[query]
    foot = x - way * gap * slope / stretch
    on = (foot >= side.start[j]) & (foot <= side.end[j])
    apart = height[query % len(height)] - side.level[j] - slope * (x - side.start[j])
    return _largest(np.where(on, way * apart + gap * stretch, -np.inf), query, low.shape)


def pitch_mm(
    first: Sequence[Point] | Array,
    second: Sequence[Point] | Array,
    direction: Point = (0.0, 1.0),
    *,
    gap_mm: float = 0.0,
    shift_mm: float = 0.0,
) -> float:
    """Return the pitch of two outlines: how far the second lies from the first when pushed up to it.

    Parameters
    ----------
    first, second : sequence of points
        Closed outlines, convex or not, in their own coordinates [mm].
    direction : (float, float)
        Direction in which the second is shifted; its length does not matter.
    gap_mm : float
        Least distance that stays between them everywhere [mm].
    shift_mm : float
        How far the second is also shifted to the right, seen along the direction [mm].

    Returns
    -------
    float
        The shift of the second from its own coordinates [mm]; minus infinity where the two pass one
        another without ever meeting.
    """
    length = math.hypot(*direction)
    along_x, along_y = direction[0] / length, direction[1] / length
    turn = np.array([[along_y, -along_x], [along_x, along_y]])
    far, near = far_profile(ring_array(first) @ turn.T), near_profile(ring_array(second) @ turn.T)
    return float(last_contact(far, near, [shift_mm], gap_mm)[0])
