"""Length, strokes, corners and bends of the lines of a blank."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

Point = tuple[float, float]
Segment = tuple[Point, Point]

_SAME = 1e-9
"""Two places closer than this [mm], relative to the drawing's size of some 100 mm, are one."""


DRAWN_ARC = 0.01
"""A cubic curve that stands in for a quarter of a circle, as most programs write it, bends up to 0.8 % tighter."""


@dataclass(frozen=True)
class CutLines:
    """What the cut lines of a blank ask of a tool or a beam.

    Attributes
    ----------
    length_mm : float
        Length of all cut lines, lines that lie on one another counted once [mm].
    strokes : int
        Lines drawn in one go, without lifting.
    corner_load : float
        Sum of (1 - cos of the turn angle) over the corners inside the strokes. A closed stroke
        starts at its sharpest corner, which therefore does not count.
    bends : int
        Corners at which a rule is bent.
    """

    length_mm: float
    strokes: int
    corner_load: float
    bends: int


def ring_segments(outline: tuple[Point, ...]) -> list[Segment]:
    """Return the sides of a closed outline."""
    return list(zip(outline, (*outline[1:], outline[0]), strict=True))


def ring_area(outline: tuple[Point, ...]) -> float:
    """Return the area inside a closed outline [mm2] by the shoelace formula.

    Sides that are run along twice, once each way, cancel.
    """
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in ring_segments(outline))) / 2


def box_size(outline: tuple[Point, ...]) -> tuple[float, float]:
    """Return width and height of the box around an outline [mm]."""
    xs, ys = zip(*outline, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def segment_length(segment: Segment) -> float:
    """Return the length of a straight line [mm]."""
    (ax, ay), (bx, by) = segment
    return math.hypot(bx - ax, by - ay)


def union_length(segments: list[Segment]) -> float:
    """Return the length of straight lines, stretches that lie on one another counted once [mm]."""
    by_line: dict[tuple[float, float], list[tuple[float, float]]] = defaultdict(list)
    for (ax, ay), (bx, by) in segments:
        length = math.hypot(bx - ax, by - ay)
        if length < _SAME:
            continue
        ux, uy = (bx - ax) / length, (by - ay) / length
        if ux < -_SAME or (abs(ux) <= _SAME and uy < 0):
            ux, uy = -ux, -uy
        offset = ux * ay - uy * ax
        along = sorted((ux * ax + uy * ay, ux * bx + uy * by))
        key = (round(math.atan2(uy, abs(ux) if abs(ux) > _SAME else 0.0), 8), round(offset, 6) + 0.0)
        by_line[key].append((along[0], along[1]))
    total = 0.0
    for spans in by_line.values():
        spans.sort()
        start, end = spans[0]
        for low, high in spans[1:]:
            if low > end + _SAME:
                total += end - start
                start, end = low, high
            else:
                end = max(end, high)
        total += end - start
    return total


def _turns(chain: list[Point], *, closed: bool) -> list[float]:
    """Return 1 - cos of the turn angle at the inner corners of a chain (all corners if closed)."""
    points = chain if not closed else [chain[-1], *chain, chain[0]]
    loads = []
    for before, here, after in zip(points, points[1:], points[2:], strict=False):
        ax, ay, bx, by = here[0] - before[0], here[1] - before[1], after[0] - here[0], after[1] - here[1]
        size = math.hypot(ax, ay) * math.hypot(bx, by)
        loads.append(1 - (ax * bx + ay * by) / size)
    return loads


def touches_itself(outline: tuple[Point, ...]) -> bool:
    """Say whether sides of a closed outline lie on one another, such as flaps that share a knife line."""
    segments = ring_segments(outline)
    return abs(union_length(segments) - sum(map(segment_length, segments))) >= 1e-6


def measure_outline(outline: tuple[Point, ...]) -> CutLines:
    """Measure a closed outline.

    Parameters
    ----------
    outline : tuple of points
        Corners in order, not repeated at the end [mm].

    Returns
    -------
    CutLines

    Notes
    -----
    An outline that touches itself (flaps that share a knife line) is merged first, so that the
    shared line counts once; its strokes are then the chains between the branching points.
    """
    segments = ring_segments(outline)
    length = union_length(segments)
    chains = _merged_chains(segments) if touches_itself(outline) else [(list(outline), True)]
    load, bends = 0.0, 0
    for chain, closed in chains:
        turns = _turns(chain, closed=closed)
        bends += sum(turn > _SAME for turn in turns)
        load += sum(turns) - (max(turns) if closed else 0.0)
    return CutLines(length, len(chains), load, bends)


def _merged_chains(segments: list[Segment]) -> list[tuple[list[Point], bool]]:
    # shapely takes a tenth of a second to import and is needed for such outlines only
    from shapely import line_merge, unary_union
    from shapely.geometry import LineString

    merged = line_merge(unary_union([LineString(s) for s in segments if segment_length(s) > _SAME]))
    chains = []
    for line in getattr(merged, "geoms", [merged]):
        points = [(x, y) for x, y in line.coords]
        closed = points[0] == points[-1]
        chains.append((points[:-1] if closed else points, closed))
    return chains
