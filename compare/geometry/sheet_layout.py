"""Real outlines on a sheet: how many, where, and which lines they share.

The plain grid of boxes is always among the patterns, so that a real layout never holds less. Copies
are pushed into one another in columns or rows, all the same way round or alternately turned by 180
degrees, and by a quarter where the grain allows. Whoever cuts with another gap asks again with it: a
die and a laser are two layouts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, STRtree, buffer, make_valid, polygons

from compare.errors import InputError
from compare.geometry.interlock import Array, ring_array
from compare.geometry.lattice import RANK, Lattice, Silhouette, capacity, column_patterns, grid, in_rows, places
from compare.geometry.linework import Point
from compare.geometry.placement import Placement, placement_matrix

CLOSE_MM = 1e-6
"""A layout is right to this [mm]."""

_SAME_ANGLE = 1e-9
"""Sides whose directions differ by less are parallel [radians]."""


@dataclass(frozen=True)
class Layout:
    """Blanks on a sheet.

    Attributes
    ----------
    ups : int
        How many.
    placements : tuple of Placement
        Where they lie, from the gripper edge on, each row from the left.
    pattern : str
        ``grid``, ``interlocked``, ``interlocked and staggered``, ``turned pairs`` or ``turned pairs,
        staggered``; but for the grid with ``in columns`` or ``in rows``. ``none`` where nothing fits.
    quarter_turn : bool
        Whether the blanks are turned by a quarter.
    capacity : int
        How many the pattern holds.
    utilisation : float
        Net area of all blanks as a share of the sheet [-].
    common_line_mm : float
        Length of the lines that two blanks share, which are cut once and not twice [mm].
    box : (float, float, float, float)
        Least x and y and largest x and y of all blanks on the sheet [mm].
    """

    ups: int
    placements: tuple[Placement, ...]
    pattern: str
    quarter_turn: bool
    capacity: int
    utilisation: float
    common_line_mm: float
    box: tuple[float, float, float, float]


class _Candidate(NamedTuple):
    """A pattern of blanks as drawn; with a quarter turn, in a window turned the other way."""

    lattice: Lattice
    in_rows: bool
    quarter: bool
    room: tuple[float, float]
    capacity: int
    size: tuple[float, float]

    def placements(self, ups: int, side: float, gripper: float) -> tuple[Placement, ...]:
        spots = places(self.lattice, self.room)
        if self.quarter:  # turn window and blanks by a quarter against the clock
            spots = in_rows((self.room[1] - y, x, half) for x, y, half in spots)
        rotation = 90 * self.quarter
        return tuple(Placement(side + x, gripper + y, rotation + 180 * half) for x, y, half in spots[:ups])

    @property
    def laid_size(self) -> tuple[float, float]:
        return self.size[::-1] if self.quarter else self.size

    @property
    def pattern(self) -> str:
        if self.lattice.name == "grid":
            return self.lattice.name
        return f"{self.lattice.name} in {'rows' if self.in_rows != self.quarter else 'columns'}"


def placed_outlines(outline: Sequence[Point] | Array, placements: Sequence[Placement]) -> list[Array]:
    """Return the outline of every blank on the sheet, each of shape (corners, 2) [mm]."""
    ring = ring_array(outline)
    maps = (placement_matrix(ring, placement) for placement in placements)
    return [ring @ m[:, :2].T + m[:, 2] for m in maps]


def common_line_mm(outline: Sequence[Point] | Array, placements: Sequence[Placement]) -> float:
    """Return the length of the lines that blanks share with one another [mm].

    It is what cutting every blank by itself takes more than cutting every line once.
    """
    rings = placed_outlines(outline, placements)
    alone = _union_mm([ring_array(outline)])
    shared = alone * len(rings) - _union_mm(rings)
    return shared if shared > CLOSE_MM else 0.0


def _union_mm(rings: list[Array]) -> float:
    """Return the length of the sides of outlines, stretches that lie on one another counted once [mm]."""
    if not rings:
        return 0.0
    a = np.concatenate(rings)
    b = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    way = b - a
    size = np.hypot(way[:, 0], way[:, 1])
    a, b, way = a[size > CLOSE_MM], b[size > CLOSE_MM], (way / np.maximum(size, CLOSE_MM)[:, None])[size > CLOSE_MM]
    angle = np.mod(np.arctan2(way[:, 1], way[:, 0]), np.pi)
    angle[np.pi - angle < _SAME_ANGLE] = 0.0
    parallel = _clusters(np.zeros(len(angle), int), angle, _SAME_ANGLE)
    # one direction for all sides that are parallel, or their distance would hang on the last digits
    way = way[np.unique(parallel, return_index=True)[1]][parallel]
    line = _clusters(parallel, way[:, 0] * a[:, 1] - way[:, 1] * a[:, 0], CLOSE_MM)
    ends = np.sort([(a * way).sum(axis=1), (b * way).sum(axis=1)], axis=0)
    # walk along each line: it is covered while more sides have begun than ended
    place, change = ends.ravel(), np.repeat([1, -1], len(line))
    order = np.lexsort((place, np.tile(line, 2)))
    covered = np.cumsum(change[order])[:-1] > 0
    return float(np.diff(place[order])[covered].sum())


def _clusters(group: NDArray[np.intp], value: Array, apart: float) -> NDArray[np.intp]:
    """Give the same number to values of a group that are next to one another in size."""
    order = np.lexsort((value, group))
    fresh = (np.diff(value[order]) > apart) | (np.diff(group[order]) != 0)
    number = np.empty(len(value), np.intp)
    number[order] = np.concatenate([[0], np.cumsum(fresh)])
    return number


def place_blanks(
    outline: Sequence[Point] | Array,
    sheet_width_mm: float,
    sheet_length_mm: float,
    *,
    gripper_mm: float,
    side_margin_mm: float,
    tail_margin_mm: float,
    gutter_mm: float,
    grain: str = "any",
    common_lines: bool = False,
    ups: int | None = None,
    area_mm2: float | None = None,
) -> Layout:
    """Lay as many blanks on a sheet as the best pattern holds.

    Parameters
    ----------
    outline : sequence of points
        Closed outline of the blank as drawn, grain across the body creases, that is along its width [mm].
    sheet_width_mm, sheet_length_mm : float
        Sheet across the machine and in running direction [mm].
    gripper_mm, side_margin_mm, tail_margin_mm, gutter_mm : float
        Margins, and the least distance between blanks [mm].
    grain : {"any", "width", "length"}
        Direction of the grain in the sheet. ``width`` forbids a quarter turn, ``length`` requires it.
    common_lines : bool
        Whether blanks that touch share their line. Needs a gutter of 0; of layouts that hold the same,
        the one that shares most is taken.
    ups : int, optional
        How many blanks are wanted; as many as fit where left out.
    area_mm2 : float, optional
        Net area of a blank [mm2]; that inside its outline where left out.

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        If the outline is none, if more ups are wanted than fit, or if lines are to be shared across a gutter.

    Notes
    -----
    Pitches are exact; see ``compare.geometry.interlock``. The offset of turned copies and the stagger of
    columns are searched where corners meet corners, and in the dips between. The same input gives the
    same layout.
    """
    ring = _checked_ring(outline)
    if common_lines and gutter_mm > 0:
        raise InputError(
            f"lines can't be shared across a gutter of {gutter_mm:g} mm", where="layout", remedy="give a gutter of 0"
        )
    if grain not in ("any", "width", "length"):
        raise InputError(f"there is no grain '{grain}'", where="sheet.grain", remedy="give any, width or length")
    usable = (sheet_width_mm - 2 * side_margin_mm, sheet_length_mm - gripper_mm - tail_margin_mm)
    turns = {"any": (False, True), "width": (False,), "length": (True,)}[grain]
    found = _candidates(ring, usable, gutter_mm, turns, ties=common_lines, enough=ups)
    most = max((candidate.capacity for candidate in found), default=0)
    wanted = most if ups is None else ups
    if wanted > most or (ups is not None and ups < 1):
        raise InputError(
            f"{wanted} blanks do not fit on the sheet", where="layout", remedy=f"at most {most} fit: give 1 to {most}"
        )
    if not wanted:
        return Layout(0, (), "none", grain == "length", 0, 0.0, 0.0, (0.0, 0.0, 0.0, 0.0))

    def choice(candidate: _Candidate) -> tuple[float, ...]:
        placements = candidate.placements(wanted, side_margin_mm, gripper_mm)
        shared = common_line_mm(ring, placements) if common_lines else 0.0
        left, low, right, high = _box(placements, candidate.laid_size)
        square = (right - left) * (high - low)
        return (-round(shared, 6), RANK[candidate.lattice.name], candidate.quarter, round(square, 6), candidate.in_rows)

    best = min((candidate for candidate in found if candidate.capacity >= wanted), key=choice)
    placements = best.placements(wanted, side_margin_mm, gripper_mm)
    area = Silhouette(ring).area if area_mm2 is None else area_mm2
    return Layout(
        ups=wanted,
        placements=placements,
        pattern=best.pattern,
        quarter_turn=best.quarter,
        capacity=best.capacity,
        utilisation=wanted * area / (sheet_width_mm * sheet_length_mm),
        common_line_mm=common_line_mm(ring, placements) if common_lines else 0.0,
        box=_box(placements, best.laid_size),
    )


def _candidates(
    ring: Array,
    usable: tuple[float, float],
    gap: float,
    turns: tuple[bool, ...],
    *,
    ties: bool,
    enough: int | None,
) -> list[_Candidate]:
    """Return the best of every kind of pattern, those that can't hold more than the plain grid left out."""
    shape = Silhouette(ring)
    size = (shape.width, shape.height)
    found = []
    for quarter in turns:
        window = usable[::-1] if quarter else usable
        # a blank as large as the sheet fits, whatever the last digit says
        across, along = (
            0.0 if -CLOSE_MM < least < 0 else least for least in (window[0] - size[0], window[1] - size[1])
        )
        plain = grid(shape, gap)
        held = capacity(plain, (across, along))
        found.append(_Candidate(plain, in_rows=False, quarter=quarter, room=(across, along), capacity=held, size=size))
    least = max(candidate.capacity for candidate in found)
    if enough is not None and least >= enough:
        if not ties:
            return found
        least = enough
    least = max(least + (not ties), 1)
    plain_grids = tuple(found)
    for rows in (False, True):
        rooms = [start.room[::-1] if rows else start.room for start in plain_grids]
        for number, lattice in column_patterns(shape.exchanged if rows else shape, gap, rooms, least):
            upright = lattice.exchanged if rows else lattice
            held = capacity(lattice, rooms[number])
            found.append(plain_grids[number]._replace(lattice=upright, in_rows=rows, capacity=held))
    return found


def _box(placements: Sequence[Placement], size: tuple[float, float]) -> tuple[float, float, float, float]:
    xs, ys = [p.x for p in placements], [p.y for p in placements]
    return min(xs), min(ys), max(xs) + size[0], max(ys) + size[1]


def _checked_ring(outline: Sequence[Point] | Array) -> Array:
    """Return the corners of an outline, or refuse what encloses nothing or crosses itself."""
    ring = ring_array(outline)
    if len(ring) and np.array_equal(ring[0], ring[-1]):
        ring = ring[:-1]
    ring = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    if len(ring) < 3 or not np.isfinite(ring).all():
        raise InputError("the outline has no three corners", where="outline", remedy="close the cut lines around it")
    area = Silhouette(ring).area
    if area <= 0 or not math.isclose(make_valid(Polygon(ring)).area, area, rel_tol=1e-6):
        raise InputError("the outline crosses itself", where="outline", remedy="mend the cut lines around the blank")
    return ring


def check_layout(
    outline: Sequence[Point] | Array,
    layout: Layout,
    sheet_width_mm: float,
    sheet_length_mm: float,
    *,
    gripper_mm: float,
    side_margin_mm: float,
    tail_margin_mm: float,
    gutter_mm: float,
) -> tuple[str, ...]:
    """Say what is wrong with a layout; nothing where it is right.

    Looks at the laid outlines themselves, by other code than that which laid them (GEOS, by shapely).

    Parameters
    ----------
    outline : sequence of points
        The outline that was laid [mm].
    layout : Layout
    sheet_width_mm, sheet_length_mm, gripper_mm, side_margin_mm, tail_margin_mm, gutter_mm : float
        As for ``place_blanks`` [mm].

    Returns
    -------
    tuple of str
        One sentence for each blank outside the usable area, and for each two that overlap or come closer
        than the gutter.
    """
    rings = placed_outlines(outline, layout.placements)
    if not rings:
        return ()
    faults = []
    low = np.array([side_margin_mm, gripper_mm]) - CLOSE_MM
    high = np.array([sheet_width_mm - side_margin_mm, sheet_length_mm - tail_margin_mm]) + CLOSE_MM
    for number, ring in enumerate(rings):
        if (ring < low).any() or (ring > high).any():
            faults.append(f"Blank {number} is not within the usable area.")
    return (*faults, *_too_close(rings, gutter_mm))


def _too_close(rings: list[Array], gutter: float) -> Iterator[str]:
    shapes = np.array([make_valid(shape) for shape in polygons(rings)])
    # whether shapes meet is decided safely; the area of an overlap of shapes that touch is not
    inner = buffer(shapes, -CLOSE_MM)
    first, second = STRtree(shapes).query(shapes, predicate="dwithin", distance=gutter + CLOSE_MM)
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        if i >= j:
            continue
        if inner[i].intersects(inner[j]):
            yield f"Blanks {i} and {j} overlap."
        elif (apart := shapes[i].distance(shapes[j])) < gutter - CLOSE_MM:
            yield f"Blanks {i} and {j} are {apart:.6f} mm apart, less than the gutter of {gutter:g} mm."
