"""An area that a beam clears line by line, as the trails it runs.

Parallel lines run to and fro at an even distance are common practice, no source; what is done where an area splits is a
convention of this program.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from compare.errors import InputError
from compare.geometry.linework import Point
from compare.geometry.strokes import Array
from compare.geometry.trails import Trail

MOST_LINES = 20_000
"""So many lines of hatch a blank may have; beyond them the pitch is a slip, or no beam has the time for it."""

PITCH = "laser.hatch_pitch_mm"

_SHORT = 4.0
"""A link this many pitches long is run whatever lies under it."""

_OFF = 0.25
"""So much of a pitch a longer link may leave the area: at a round hole it does."""

_SPECK_MM = 1e-6


def hatch(rings: Sequence[Sequence[Point] | Array], pitch_mm: float, angle_deg: float = 0.0) -> list[Trail]:
    """Fill areas with parallel lines, run to and fro.

    Parameters
    ----------
    rings : sequence of outlines
        Corners of each, in order [mm]. What lies inside an even number of them is no part of the areas: a ring in
        a ring is a hole.
    pitch_mm : float
        Distance of the lines, above 0 [mm].
    angle_deg : float
        Direction of the lines, against the clock [degrees].

    Returns
    -------
    list of Trail
        Open trails of varnish release. Each area has as many lines as its height has pitches, rounded, at least one,
        in the middle of it: the first lies half a pitch inside where the height is a whole number of pitches. Each
        line begins at the end of the one before that is near, and the way there, with its two corners, is part of
        the trail. A new trail begins where an area splits into several spans, or spans become one, and where the way
        to the next line would leave the area or be longer than that line.

    Raises
    ------
    InputError
        If the pitch is no length, or more than 20,000 lines are needed.
    """
    if not 0 < pitch_mm < np.inf:
        raise InputError("the pitch is no length above 0", where=PITCH, remedy="give it in mm")
    turn = np.radians(angle_deg)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    loops = [np.asarray(ring, float) @ spin.T for ring in rings]
    areas = _areas([loop for loop in loops if len(loop) > 2])
    rows = [_Rows.of(area, pitch_mm) for area in areas]
    if not sum(row.lines for row in rows) <= MOST_LINES or sum(row.spans for row in rows) > MOST_LINES:
        raise InputError(
            f"more than {MOST_LINES:,} lines of hatch are needed at {pitch_mm:g} mm for the varnish release of one blank",
            where=PITCH,
            remedy="raise the pitch, or 0 for the lines as drawn",
        )
    return [_trail(points @ spin) for area, row in zip(areas, rows, strict=True) for points in _to_and_fro(area, row)]


def _areas(loops: Sequence[Array]) -> list[shapely.Polygon]:
    """Return what lies inside an odd number of rings, as areas that hang together."""
    whole = [shapely.make_valid(shapely.Polygon(loop)) for loop in loops]
    while len(whole) > 1:  # by twos, for one after the other takes long where there are many
        odd = [*whole, shapely.Polygon()][: len(whole) + len(whole) % 2]
        whole = shapely.symmetric_difference(odd[::2], odd[1::2]).tolist()
    return [part for part in shapely.get_parts(whole).tolist() if part.geom_type == "Polygon" and part.area > 0]


class _Rows(NamedTuple):
    """The lines over one area: how many, where the first lies, and how often each side of the area crosses which.

    ``sides`` are the sides of the area, shape (sides, 2, 2); ``first`` and ``crossed`` say which line each crosses
    first, and how many. ``lines`` may be beyond all numbers where the pitch is a slip.
    """

    pitch: float
    low: float
    lines: float
    sides: Array
    first: NDArray[np.int64]
    crossed: NDArray[np.int64]

    @property
    def spans(self) -> int:
        """How many pieces of lines lie in the area."""
        return int(self.crossed.sum()) // 2

    @classmethod
    def of(cls, area: shapely.Polygon, pitch: float) -> _Rows:
        sides = np.concatenate(
            [
                np.stack([ring[:-1], ring[1:]], axis=1)
                for ring in (shapely.get_coordinates(r) for r in (area.exterior, *area.interiors))
            ]
        )
        least, most = float(sides[..., 1].min()), float(sides[..., 1].max())
        lines = max(float(np.floor((most - least) / pitch + 0.5 + 1e-9)), 1.0)
        low = (least + most) / 2 - (lines - 1) / 2 * pitch
        if lines > MOST_LINES:
            nothing = np.zeros(0, np.int64)
            return cls(pitch, low, lines, sides, nothing, nothing)
        # a corner on a line counts as above it, for both of its sides: so each line is crossed an even number of times
        rank = np.clip(np.ceil((sides[..., 1] - low) / pitch), 0, lines).astype(np.int64)
        return cls(pitch, low, lines, sides, rank.min(axis=1), np.abs(rank[:, 1] - rank[:, 0]))

    def ends(self) -> tuple[NDArray[np.int64], Array]:
        """Return the line of each span, and where it begins and ends, shape (spans, 2), in order."""
        side = np.repeat(np.arange(len(self.sides)), self.crossed)
        line = np.arange(len(side)) - np.repeat(np.cumsum(self.crossed) - self.crossed, self.crossed) + self.first[side]
        (x, y), (end_x, end_y) = np.moveaxis(self.sides[side], 0, 2)
        share = np.clip((self.low + line * self.pitch - y) / (end_y - y), 0, 1)
        at = x + share * (end_x - x)
        order = np.lexsort([at, line])
        spans = at[order].reshape(-1, 2)
        real = spans[:, 1] - spans[:, 0] > _SPECK_MM
        return line[order][::2][real], spans[real]


def _to_and_fro(area: shapely.Polygon, rows: _Rows) -> Iterator[Array]:
    """Yield the corners of each trail over an area, its lines being level."""
    line, spans = rows.ends()
    follows = _next_spans(line, spans)
    begins = np.ones(len(line), bool)
    begins[follows[follows >= 0]] = False
    height = rows.low + line * rows.pitch
    inner = shapely.buffer(area, _OFF * rows.pitch, quad_segs=2)
    shapely.prepare(inner)
    for first in np.flatnonzero(begins).tolist():
        run = [first]
        while follows[run[-1]] >= 0:
            run.append(int(follows[run[-1]]))
        x, y = spans[run].copy(), height[run]
        x[1::2] = x[1::2, ::-1]
        points = np.stack([x, np.stack([y, y], axis=1)], axis=2)
        link = np.stack([points[:-1, 1], points[1:, 0]], axis=1)
        way = np.hypot(*(link[:, 1] - link[:, 0]).T)
        on = (way <= np.abs(x[1:, 1] - x[1:, 0])) & shapely.covers(inner, shapely.linestrings(link))
        cut = np.flatnonzero(~(on | (way <= _SHORT * rows.pitch))) + 1
        for part in np.split(points, cut):
            yield part.reshape(-1, 2)


def _next_spans(line: NDArray[np.int64], spans: Array) -> NDArray[np.int64]:
    """Return the span on the next line that each goes on with, -1 where there is none or not the only one."""
    follows, holders = np.full(len(line), -1), np.zeros(len(line), np.int64)
    first = np.searchsorted(line, np.arange(int(line.max(initial=-1)) + 3))
    begin, end = spans[:, 0].tolist(), spans[:, 1].tolist()
    for number in range(len(first) - 2):
        a, b, last_a, last_b = first[number], first[number + 1], first[number + 1], first[number + 2]
        while a < last_a and b < last_b:
            if begin[a] < end[b] and begin[b] < end[a]:
                follows[a] = b if follows[a] == -1 else -2
                holders[b] += 1
            if end[a] < end[b]:
                a += 1
            else:
                b += 1
    lone = follows >= 0
    lone[lone] = holders[follows[lone]] == 1
    return np.where(lone, follows, -1)


def _trail(points: Array) -> Trail:
    way = np.diff(points, axis=0)
    turn = np.zeros(len(way))
    before, after = way[:-1], way[1:]
    turn[1:] = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    return Trail("varnish_release", points, np.hypot(*way.T), np.full(len(way), np.inf), turn, closed=False)
