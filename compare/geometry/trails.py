"""Lines that a beam runs in one go, as legs: what a head has to follow.

A trail is a stroke cut into short legs. Legs of a curve know their true length and radius, so that no
time depends on how finely the curve was cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from compare.geometry.line_kinds import LineKind
from compare.geometry.linework import Point
from compare.geometry.scan_motion import corner_turns
from compare.geometry.strokes import Array

LEG_MM = 0.05
"""A leg keeps this close to its curve [mm]; it is drawn and cut at the borders of fields, its length is the curve's."""

DRAWN_MM = 0.1
"""Lines that leave a curve by no more than this are taken as that curve drawn in short straight lines [mm]."""

_MOST_ENTRIES = 8
"""A closed trail is entered at one of so many places at most."""


@dataclass(frozen=True, eq=False)
class Trail:
    """A line that is run in one go.

    Attributes
    ----------
    kind : LineKind
        What it is.
    points : ndarray, shape (legs + 1, 2)
        Ends of its legs in the order run; a closed trail ends where it starts [mm].
    length : ndarray, shape (legs,)
        Length of each leg, along the curve where it is part of one [mm].
    radius : ndarray, shape (legs,)
        Radius of the curve it is part of; infinite for a straight leg [mm].
    turn : ndarray, shape (legs,)
        Turn at the start of each leg, to the left positive [radians]. The first is that at which a
        closed trail closes, 0 for an open one.
    closed : bool
        Whether it comes back to where it began.
    """

    kind: LineKind
    points: Array
    length: Array
    radius: Array
    turn: Array
    closed: bool

    @property
    def length_mm(self) -> float:
        """Whole length [mm]."""
        return float(self.length.sum())

    @property
    def inner_turns(self) -> Array:
        """Turns at its inner corners, shape (legs - 1,); where it starts and ends is none [radians]."""
        return self.turn[1:]

    @property
    def corner_load(self) -> float:
        """Sum of (1 - cos of the turn) over its inner corners; a curve drawn in short lines has none [-]."""
        turns = corner_turns(self.length, self.radius, self.inner_turns, sagitta=DRAWN_MM)
        return float((2 * np.sin(turns / 2) ** 2).sum())

    def placed(self, matrix: Array) -> Trail:
        """Return the trail after a rotation and a shift, shape (2, 3); not for mirroring, which would turn corners over."""
        return replace(self, points=self.points @ matrix[:, :2].T + matrix[:, 2])

    def reversed(self) -> Trail:
        """Return the trail run from its end to its start."""
        turn = np.concatenate([-self.turn[:1], -self.turn[:0:-1]])
        return replace(self, points=self.points[::-1], length=self.length[::-1], radius=self.radius[::-1], turn=turn)

    def started_at(self, leg: int) -> Trail:
        """Return a closed trail that starts with another of its legs."""
        points = np.concatenate([self.points[leg:-1], self.points[: leg + 1]])
        rolled = {name: np.roll(getattr(self, name), -leg) for name in ("length", "radius", "turn")}
        return replace(self, points=points, **rolled)

    def entries(self) -> NDArray[np.int64]:
        """Return the legs that a closed trail may start with: at its sharpest corners, or evenly where it has none.

        A head starts from rest, so the corner at which it starts costs nothing more.
        """
        load = 1 - np.cos(self.turn)
        sharpest = np.flatnonzero(load >= load.max() - 1e-6)
        spread = np.linspace(0, len(sharpest) - 1, _MOST_ENTRIES).astype(np.int64)
        # asked for its indices, it does not load masked arrays, which nothing here has
        return sharpest[np.unique(spread, return_index=True)[0]]

    def part(self, first: int, last: int) -> Trail:
        """Return the legs from one to another, the last left out, as an open trail."""
        legs = slice(first, last)
        turn = self.turn[legs].copy()
        turn[:1] = 0.0
        return Trail(self.kind, self.points[first : last + 1], self.length[legs], self.radius[legs], turn, closed=False)


def ring_trail(kind: LineKind, outline: Sequence[Point]) -> Trail:
    """Return a closed outline of straight sides as a trail.

    Parameters
    ----------
    kind : LineKind
        What it is.
    outline : sequence of points
        Corners in order, not repeated at the end [mm].
    """
    corners = np.asarray(outline, float)
    points = np.concatenate([corners, corners[:1]])
    way = np.diff(points, axis=0)
    length = np.hypot(way[:, 0], way[:, 1])
    points, way, length = np.concatenate([points[:-1][length > 0], points[-1:]]), way[length > 0], length[length > 0]
    before = np.roll(way, 1, axis=0)
    turn = np.arctan2(before[:, 0] * way[:, 1] - before[:, 1] * way[:, 0], (before * way).sum(axis=1))
    return Trail(kind, points, length, np.full(len(length), np.inf), turn, closed=True)


def inside_first(trails: Sequence[Trail]) -> NDArray[np.int64]:
    """Return the pairs of trails of which the first lies inside the second, a closed cut, shape (pairs, 2).

    What lies inside is run before the contour around it, while the board still holds it.
    """
    closed = [i for i, trail in enumerate(trails) if trail.closed and trail.kind == "cutting" and len(trail.points) > 3]
    if not closed or len(trails) < 2:
        return np.zeros((0, 2), np.int64)
    boxes = np.array([[*trail.points.min(axis=0), *trail.points.max(axis=0)] for trail in trails])
    outer_boxes = boxes[closed]
    held = (boxes[:, None, :2] >= outer_boxes[:, :2] - LEG_MM).all(axis=2)
    held &= (boxes[:, None, 2:] <= outer_boxes[:, 2:] + LEG_MM).all(axis=2)
    inner, ring = np.nonzero(held)
    outer = np.array(closed)[ring]
    inner, ring, outer = (a[inner != outer] for a in (inner, ring, outer))
    if not len(inner):
        return np.zeros((0, 2), np.int64)
    # shapely takes a tenth of a second to import, and plain cartons don't need it
    import shapely

    rings = shapely.make_valid([shapely.Polygon(trails[i].points) for i in closed])
    shapely.prepare(rings)
    # the middle of a leg: an end may lie on the contour
    middles = shapely.points([trail.points[:2].mean(axis=0) for trail in trails])
    inside = shapely.contains_properly(rings[ring], middles[inner])
    pairs: NDArray[np.int64] = np.column_stack([inner, outer])[inside].astype(np.int64)
    return pairs
