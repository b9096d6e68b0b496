"""What cut lines enclose: blanks, and pieces that fall out of them.

Curves are broken into chords whose corners are moved out or in by some micrometres, so that they
enclose exactly the area that the curves do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, STRtree

from compare.geometry.nodes import Indices, components
from compare.geometry.overlaps import Stretches, bare, cut
from compare.geometry.rings import Rings, rings_alone
from compare.geometry.strokes import ARC, CUBIC, LINE, Array, Strokes

CHORD_MM = 0.01
"""Chords keep within this of their curves [mm]."""

_MOST_CHORDS = 500_000
"""Chords of curves; drawings that need more have coarser ones, which enclose the same areas."""

_MOST_CROSSINGS = 300_000
_MOST_PAIRS = 20_000_000
"""Lines that cross, and lines whose boxes overlap, up to which it is looked at what they enclose [pairs]."""

_AT_ONCE = 2_000_000
_SAMPLE = 256
_SLIVER_MM = 0.02
"""What is narrower than two chords may err is no piece but noise between two lines that touch."""

_BLANK_SHARE = 0.5
"""What hangs on a blank by a common line is a blank too from this share of the largest; below it is an offcut."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(4)


@dataclass(frozen=True, eq=False)
class Enclosed:
    """What cut lines enclose.

    Attributes
    ----------
    blanks : tuple of Polygon
        Blanks with their cut-outs, the largest first [mm].
    waste : tuple of Polygon
        Pieces that fall out of blanks [mm].
    offcuts : tuple of Polygon
        Small pieces that hang on the outside of a blank by a line they share [mm].
    clear : bool
        False where there are too many crossings to tell.
    """

    blanks: tuple[Polygon, ...] = ()
    waste: tuple[Polygon, ...] = ()
    offcuts: tuple[Polygon, ...] = ()
    clear: bool = True


def enclosed(lines: Stretches) -> Enclosed:
    """Find what cut lines enclose.

    Parameters
    ----------
    lines : Stretches
        Cut lines, each once.

    Returns
    -------
    Enclosed
    """
    if not len(lines):
        return Enclosed()
    corners, owner = paths(lines, CHORD_MM)
    may_cross = _may_cross(corners, owner, lines.strokes.kind == CUBIC)[owner]
    crossing = _crossings(corners[may_cross], owner[may_cross])
    if crossing is None:
        return Enclosed(clear=False)
    rings = Rings.none(len(lines)) if crossing else rings_alone(lines, corners, owner)
    rest = ~rings.lines[owner]
    edges = shapely.linestrings(corners[rest], indices=np.unique(owner[rest], return_inverse=True)[1])
    if crossing:  # coordinates far off lose digits in the arithmetic of crossings, so this happens on demand
        edges = shapely.get_parts(shapely.unary_union(edges))
    faces = shapely.get_parts(shapely.polygonize(edges))
    return _sorted_out(faces[_is_piece(faces)], rings)


def _is_piece(faces: NDArray[np.object_]) -> NDArray[np.bool_]:
    piece: NDArray[np.bool_] = shapely.area(faces) > _SLIVER_MM / 2 * shapely.length(faces)
    return piece


def paths(lines: Stretches, tolerance: float) -> tuple[Array, Indices]:
    """Break lines into corners of chords that enclose what the lines do.

    Parameters
    ----------
    lines : Stretches
        Lines; each begins and ends at the very place of its nodes.
    tolerance : float
        Largest distance of a chord from its curve [mm].

    Returns
    -------
    corners : ndarray, shape (corners, 2)
        Corners of all lines, one line after the other [mm].
    owner : ndarray of int, shape (corners,)
        The line each belongs to.
    """
    count = len(lines)
    curved = np.flatnonzero(lines.strokes.kind != LINE)
    halves = np.repeat(curved, 2)
    low = np.tile([0.0, 0.5], len(curved))
    parts = cut(lines.strokes, halves, low, low + 0.5)
    while parts.chord_counts(tolerance).sum() > _MOST_CHORDS + 2 * len(parts):
        tolerance *= 4
    chords, part = parts.flattened(tolerance)
    inner = np.ones(len(part), bool)
    inner[np.flatnonzero(np.diff(halves[part], prepend=-1))] = False
    inside, inside_of = chords[inner, :2], halves[part[inner]]

    owner = np.concatenate([np.arange(count), inside_of, np.arange(count)])
    order = np.argsort(owner, kind="stable")
    corners = np.concatenate([lines.nodes[lines.start], inside, lines.nodes[lines.end]])[order]
    owner = owner[order]
    if len(curved):
        _keep_area(corners, owner, lines.strokes, 2 * tolerance)
    return corners, owner


def _keep_area(corners: Array, owner: Indices, strokes: Strokes, most: float) -> None:
    """Move the inner corners of curves along their normals, all of a curve by the same, until areas agree."""
    curved = np.flatnonzero(strokes.kind != LINE)
    bent = np.flatnonzero((strokes.kind != LINE)[owner])
    p, of = corners[bent], owner[bent]
    first = np.flatnonzero(np.diff(of, prepend=-1))
    last = np.append(first[1:], len(of)) - 1
    number = np.repeat(np.arange(len(first)), last - first + 1)
    chord = np.zeros_like(p)
    chord[:-1] = np.diff(p, axis=0)
    normal = np.zeros_like(p)
    normal[1:] = chord[1:] + chord[:-1]
    normal = np.stack([-normal[:, 1], normal[:, 0]], axis=1)
    normal[first] = normal[last] = 0
    size = np.hypot(*normal.T)
    normal = np.divide(normal, size[:, None], out=np.zeros_like(normal), where=size[:, None] > 0)
    p = p - p[first][number]

    def sums(u: Array, v: Array) -> Array:
        crossed = np.zeros(len(u))
        crossed[:-1] = u[:-1, 0] * v[1:, 1] - u[:-1, 1] * v[1:, 0]
        crossed[last] = 0
        return np.add.reduceat(crossed, first) / 2

    have = sums(p, p)
    rise, bow = sums(p, normal) + sums(normal, p), sums(normal, normal)
    lacks = _swept(bare(strokes.kind[curved], strokes.data[curved])) - have
    # the ends sit on nodes, a hair from the curve's own: what the curve sweeps is seen from its own start
    root = np.sqrt(np.maximum(rise**2 + 4 * bow * lacks, 0))
    below = rise + np.copysign(root, rise)
    shift = np.divide(2 * lacks, below, out=np.zeros_like(lacks), where=np.abs(below) > 0)
    shift = np.where(np.abs(shift) <= most, shift, 0.0)
    corners[bent] += normal * shift[number, None]


def _swept(strokes: Strokes) -> Array:
    """Return the signed area that a ray from the start of each curve sweeps while it follows the curve."""
    start, end = strokes.at(0.0), strokes.at(1.0)
    area = np.zeros(len(strokes))
    arc = np.flatnonzero(strokes.kind == ARC)
    cx, cy, ax, ay, bx, by, begin, finish = strokes.data[arc].T
    (sx, sy), (ex, ey) = start[arc].T, end[arc].T
    # seen from the centre an arc sweeps in proportion to its parameter; then a triangle to see it from its start
    area[arc] = ((ax * by - ay * bx) * (finish - begin) - ((sx - cx) * (ey - cy) - (sy - cy) * (ex - cx))) / 2
    cubic = np.flatnonzero(strokes.kind == CUBIC)
    some = bare(strokes.kind[cubic], strokes.data[cubic])
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):  # exact: the integrand is of the fifth degree
        place, slope = some.at((1 + node) / 2) - start[cubic], some.slopes((1 + node) / 2)
        area[cubic] += weight * (place[:, 0] * slope[:, 1] - place[:, 1] * slope[:, 0]) / 4
    return area


def _may_cross(corners: Array, owner: Indices, looping: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which lines may cross: those whose boxes overlap, and those that may cross themselves.

    Most lines of a drawing only touch their neighbours; their many chords need not be looked at.
    """
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    low, high = np.minimum.reduceat(corners, first), np.maximum.reduceat(corners, first)
    around = shapely.box(*low.T, *high.T)
    tree = STRtree(around)
    sample = around[np.random.default_rng(0).integers(len(around), size=_SAMPLE)]
    if tree.query(sample).shape[1] / _SAMPLE * len(around) > _AT_ONCE:
        return np.ones(len(around), bool)
    one, other = tree.query(around)
    both = (one < other) & (low[one] < high[other]).all(axis=1) & (low[other] < high[one]).all(axis=1)
    found = looping.copy()
    found[one[both]] = found[other[both]] = True
    return found


def _crossings(corners: Array, owner: Indices) -> bool | None:
    """Tell whether any two chords cross between their ends; None where there are too many pairs to look at."""
    on = np.flatnonzero(owner[1:] == owner[:-1])
    if not len(on):
        return False
    a, b = corners[on], corners[on + 1]
    chords = shapely.linestrings(np.stack([a, b], axis=1))
    tree = STRtree(chords)
    step = len(chords)
    if len(chords) > _SAMPLE:
        sample = chords[np.random.default_rng(0).integers(len(chords), size=_SAMPLE)]
        crossed = tree.query(sample, predicate="crosses").shape[1] / _SAMPLE
        near = tree.query(sample).shape[1] / _SAMPLE
        if crossed * len(chords) > 2 * _MOST_CROSSINGS or near * len(chords) > _MOST_PAIRS:
            return None
        step = max(int(_AT_ONCE / max(near, 1)), 64)
    for start in range(0, len(chords), step):
        one, other = tree.query(chords[start : start + step])
        one += start
        later = one < other
        one, other = one[later], other[later]
        sides = [_side(a[i], b[i], q[j]) for i, j in ((one, other), (other, one)) for q in (a, b)]
        if ((sides[0] * sides[1] < 0) & (sides[2] * sides[3] < 0)).any():
            return True
    return False


def _side(a: Array, b: Array, p: Array) -> Array:
    side: Array = (b[:, 0] - a[:, 0]) * (p[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (p[:, 0] - a[:, 0])
    return np.sign(side)


def _sorted_out(faces: NDArray[np.object_], rings: Rings) -> Enclosed:
    """Tell blanks, waste and offcuts apart by which face borders on which, and from inside or outside."""
    group, nested, filled = _bordering(faces)
    piece = _is_piece(rings.faces)
    faces = np.concatenate([faces, rings.faces[piece]])
    if not len(faces):
        return Enclosed()
    # a ring that meets nothing else borders on no other from outside: it is a group of its own
    group = np.concatenate([group, len(nested) + np.arange(piece.sum())])
    nested = np.concatenate([nested, ((rings.around >= 0) & piece[rings.around])[piece]])
    filled = np.concatenate([filled, rings.filled[piece]])
    top = ~nested[group]
    largest = np.zeros(len(nested))
    np.maximum.at(largest, group, filled)
    blank = top & ((filled >= _BLANK_SHARE * filled[top].max()) | (filled >= largest[group]))
    by_size = np.argsort(-filled, kind="stable")
    return Enclosed(
        tuple(faces[i] for i in by_size if blank[i]),
        tuple(faces[i] for i in by_size if not top[i]),
        tuple(faces[i] for i in by_size if top[i] and not blank[i]),
    )


def _bordering(faces: NDArray[np.object_]) -> tuple[Indices, NDArray[np.bool_], Array]:
    """Return the group of each face, faces that share a line; whether each group lies in a hole; areas with holes."""
    if not len(faces):
        return np.zeros(0, np.int64), np.zeros(0, bool), np.zeros(0)
    rings, face = shapely.get_rings(faces, return_index=True)
    hole = np.diff(face, prepend=-1) == 0
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    place = _numbered(corners)
    on = np.flatnonzero(ring[1:] == ring[:-1])
    edge = np.minimum(place[on], place[on + 1]) * len(place) + np.maximum(place[on], place[on + 1])
    edge_of = face[ring[on]]
    edge_in_hole = hole[ring[on]]
    order = np.argsort(edge)
    same = edge[order][1:] == edge[order][:-1]
    one, other = order[:-1][same], order[1:][same]

    both_outer = ~edge_in_hole[one] & ~edge_in_hole[other]
    group = components(len(faces), edge_of[one[both_outer]], edge_of[other[both_outer]])
    nested = np.zeros(group.max() + 1, bool)
    within = edge_in_hole[one] != edge_in_hole[other]
    nested[group[edge_of[np.where(edge_in_hole[one[within]], other[within], one[within])]]] = True

    return group, nested, shapely.area(shapely.polygons(rings[~hole]))


def _numbered(places: Array) -> Indices:
    """Give every place a number, the same to places that are exactly the same."""
    # one number is sorted ten times as fast as two, and two places hardly ever have the same
    mixed = places[:, 0] + np.pi * places[:, 1]
    order = np.argsort(mixed)
    x, y, mixed = places[order, 0], places[order, 1], mixed[order]
    new = (x[1:] != x[:-1]) | (y[1:] != y[:-1])
    if (new & (mixed[1:] == mixed[:-1])).any():
        return np.asarray(np.unique(places, axis=0, return_inverse=True)[1].ravel(), np.int64)
    number = np.zeros(len(places), np.int64)
    number[order[1:]] = np.cumsum(new)
    return number


def ring_of(polygon: Polygon) -> tuple[tuple[float, float], ...]:
    """Return the corners of the outer ring of a polygon, against the clock, not repeated at the end [mm]."""
    ring = shapely.get_exterior_ring(shapely.normalize(polygon))
    corners = shapely.get_coordinates(ring)[:-1]
    if not shapely.is_ccw(ring):
        corners = corners[::-1]
    return tuple(zip(corners[:, 0].tolist(), corners[:, 1].tolist(), strict=True))
