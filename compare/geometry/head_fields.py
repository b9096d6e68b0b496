"""What each head of a laser line reaches, and which of its strokes must be cut at the border of a field."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from compare.errors import InputError
from compare.geometry.strokes import Array
from compare.geometry.trails import Trail

REACH_MM = 1e-6
"""A field reaches this much further than it is wide, so that a line on its border is in it [mm]."""


class OutOfReachError(InputError):
    """A line that no head reaches."""


@dataclass(frozen=True)
class FieldPlan:
    """How the heads are arranged over the sheet, and how large their fields are.

    Attributes
    ----------
    heads : int
        How many.
    across : int
        How many side by side along the longer side of the sheet; 0 where the squarest fields are wanted.
    width_mm, length_mm : float
        Size of a field along the longer and the shorter side of the sheet; 0 where the fields share the
        largest sheet evenly [mm].
    overlap_mm : float
        How far neighbouring fields overlap [mm].
    largest_mm : (float, float)
        Longer and shorter side of the largest sheet [mm].
    """

    heads: int
    across: int
    width_mm: float
    length_mm: float
    overlap_mm: float
    largest_mm: tuple[float, float]


def fields(plan: FieldPlan, sheet_width_mm: float, sheet_length_mm: float) -> Array:
    """Return the field of every head over a sheet that lies in the middle of the machine.

    Parameters
    ----------
    plan : FieldPlan
        Their arrangement.
    sheet_width_mm, sheet_length_mm : float
        The sheet; its longer side lies along the longer side of the largest sheet [mm].

    Returns
    -------
    ndarray, shape (heads, 4)
        Least x and y, largest x and y, from the corner that placements start at [mm].

    Raises
    ------
    InputError
        If the arrangement contradicts itself.
    """
    across = plan.across or _squarest(plan)
    if plan.heads % across:
        raise InputError(
            f"{plan.heads} heads can't stand in rows of {across}",
            where="laser.fields_across",
            remedy="give a number that divides laser.heads, or 0",
        )
    counts = (across, plan.heads // across)
    sides = []
    for count, given, largest, name in zip(
        counts, (plan.width_mm, plan.length_mm), plan.largest_mm, ("width", "length"), strict=True
    ):
        size = given or (largest + (count - 1) * plan.overlap_mm) / count
        if count > 1 and size <= plan.overlap_mm:
            raise InputError(
                f"a field of {size:g} mm overlaps its neighbour by {plan.overlap_mm:g} mm",
                where=f"laser.field_{name}_mm",
                remedy="give a field that is larger than laser.field_overlap_mm",
            )
        starts = (np.arange(count) - (count - 1) / 2) * (size - plan.overlap_mm) - size / 2
        sides.append((starts, size))
    (xs, width), (ys, length) = sides
    low = np.array([(x, y) for y in ys for x in xs])
    box = np.hstack([low, low + np.array([width, length])])
    if sheet_width_mm < sheet_length_mm:
        box = box[:, [1, 0, 3, 2]]
    middle = np.array([sheet_width_mm, sheet_length_mm, sheet_width_mm, sheet_length_mm]) / 2
    return np.asarray(box + middle + np.array([-1, -1, 1, 1]) * REACH_MM)


def _squarest(plan: FieldPlan) -> int:
    """Return how many heads stand side by side where their shares of the largest sheet are as square as can be."""
    long, short = plan.largest_mm
    divisors = [n for n in range(1, plan.heads + 1) if plan.heads % n == 0]
    return min(divisors, key=lambda n: (round(abs(math.log(long / n) - math.log(short / (plan.heads / n))), 9), -n))


def reaching(trails: Sequence[Trail], boxes: Array) -> NDArray[np.bool_]:
    """Say which fields hold each trail whole, shape (trails, heads)."""
    low = np.array([trail.points.min(axis=0) for trail in trails]).reshape(-1, 1, 2)
    high = np.array([trail.points.max(axis=0) for trail in trails]).reshape(-1, 1, 2)
    return np.asarray(((low >= boxes[:, :2]) & (high <= boxes[:, 2:])).all(axis=2), bool)


Seam = tuple[float, float]
"""Where fields hand over along either axis, as a share of their overlap."""

SEAMS = (0.5, 0.25, 0.75, 0.0, 1.0)
"""Shares that are tried, the middle first."""


def cut_to_reach(trail: Trail, boxes: Array, stitch_mm: float, seam: Seam) -> list[Trail]:
    """Cut a trail that no field holds whole, between fields.

    Parameters
    ----------
    trail : Trail
        The trail.
    boxes : ndarray, shape (heads, 4)
        Fields, as :func:`fields` arranges them [mm].
    stitch_mm : float
        How far a part runs on over the end of the one before, so that nothing is left uncut [mm].
    seam : (float, float)
        Where in the overlap of fields it is cut.

    Returns
    -------
    list of Trail
        Parts in their order. Where the trail leaves a field for a moment only, within its overlap, it is not cut.

    Raises
    ------
    OutOfReachError
        If a place of it is in no field.
    """
    outside = ~((trail.points >= boxes[:, :2].min(axis=0)) & (trail.points <= boxes[:, 2:].max(axis=0))).all(axis=1)
    if outside.any():
        x, y = trail.points[np.argmax(outside)]
        raise OutOfReachError(
            f"no head reaches the line at x {x:.1f}, y {y:.1f} mm of the sheet",
            where="laser fields",
            remedy="check the fields of the heads and the size of the sheet",
        )
    columns, rows = _sides(boxes, trail, 0), _sides(boxes, trail, 1)
    across, along = _seams(columns, seam[0]), _seams(rows, seam[1])
    for axis, places in ((0, across), (1, along)):
        for place in places:
            trail = _split_at(trail, axis, place)
    middle = (trail.points[:-1] + trail.points[1:]) / 2
    cell = np.searchsorted(across, middle[:, 0]) * len(rows) + np.searchsorted(along, middle[:, 1])
    if trail.closed:  # start where it is cut anyway
        start = int(np.argmax(cell != np.roll(cell, 1)))
        trail, cell = trail.started_at(start), np.roll(cell, -start)
    cell = _without_excursions(trail, cell, columns, rows)
    first = np.flatnonzero(np.diff(cell, prepend=-1))
    parts = [trail.part(a, b) for a, b in pairwise([*first.tolist(), len(cell)])]
    return [parts[0], *(_with_stitch(part, stitch_mm) for part in parts[1:])]


def _sides(boxes: Array, trail: Trail, axis: int) -> Array:
    """Return where fields begin and end along an axis, in their order; one for all where one holds the whole trail."""
    sides = np.array(sorted({(box[axis], box[axis + 2]) for box in boxes.tolist()}))
    low, high = trail.points[:, axis].min(), trail.points[:, axis].max()
    holding = (sides[:, 0] <= low) & (sides[:, 1] >= high)
    return sides[holding][:1] if holding.any() else sides


def _seams(sides: Array, share: float) -> Array:
    """Return places in the overlaps, a share of the way from where the next field begins to where one ends."""
    return np.asarray(sides[1:, 0] + share * (sides[:-1, 1] - sides[1:, 0]))


def _split_at(trail: Trail, axis: int, place: float) -> Trail:
    """Return the trail with its legs cut in two where they cross a line, which changes nothing about it."""
    off = trail.points[:, axis] - place
    legs = np.flatnonzero(off[:-1] * off[1:] < 0)
    share = off[legs] / (off[legs] - off[legs + 1])
    at = trail.points[legs] + share[:, None] * (trail.points[legs + 1] - trail.points[legs])
    at[:, axis] = place
    length, radius = (np.insert(a, legs + 1, a[legs]) for a in (trail.length, trail.radius))
    first = legs + np.arange(len(legs))
    length[first], length[first + 1] = trail.length[legs] * share, trail.length[legs] * (1 - share)
    return replace(
        trail,
        points=np.insert(trail.points, legs + 1, at, axis=0),
        length=length,
        radius=radius,
        turn=np.insert(trail.turn, legs + 1, 0.0),
    )


def _without_excursions(trail: Trail, cell: NDArray[np.int64], columns: Array, rows: Array) -> NDArray[np.int64]:
    """Leave with a field what goes out of its share and comes back, as long as the field reaches it."""
    first = np.flatnonzero(np.diff(cell, prepend=-1))
    bounds = [*first.tolist(), len(cell)]
    runs = list(pairwise(bounds))
    for (a, b), (before, _), (after, _) in zip(runs[1:-1], runs, runs[2:], strict=False):
        home = int(cell[before])
        if home != cell[after]:
            continue
        column, row = columns[home // len(rows)], rows[home % len(rows)]
        points = trail.points[a : b + 1]
        if (points >= (column[0], row[0])).all() and (points <= (column[1], row[1])).all():
            cell[a:b] = home
    return cell


def _with_stitch(trail: Trail, stitch_mm: float) -> Trail:
    length = trail.length.copy()
    length[0] += stitch_mm
    return replace(trail, length=length)
