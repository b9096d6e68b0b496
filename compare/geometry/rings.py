"""Rings of lines that meet nothing else: what they enclose needs no search for faces.

Cut-outs and outlines of most drawings are such rings. Where a ring lies within another, or boxes of
contours so much as overlap, all of them must be rings; any others are left to the search.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import depth_first_order
from shapely import STRtree

from compare.geometry.nodes import Indices, components, ranges
from compare.geometry.overlaps import Stretches
from compare.geometry.strokes import Array

_MOST_PAIRS = 2_000_000
_MOST_LOOKS = 20_000_000
"""Boxes of contours that overlap, and corners of rings around other rings, up to which it is looked at them."""

_SAMPLE = 256


class Rings(NamedTuple):
    """Rings that meet nothing else.

    Attributes
    ----------
    faces : ndarray of Polygon, shape (rings,)
        What each encloses but for what the rings right within it enclose.
    filled : ndarray, shape (rings,)
        Area that each encloses, all of it [mm2].
    around : ndarray of int, shape (rings,)
        The ring right around each; -1 where there is none.
    lines : ndarray of bool, shape (lines,)
        The lines that are part of such rings.
    """

    faces: NDArray[np.object_]
    filled: Array
    around: Indices
    lines: NDArray[np.bool_]

    @classmethod
    def none(cls, lines: int) -> Rings:
        """Return no rings, of so many lines."""
        return cls(np.zeros(0, object), np.zeros(0), np.zeros(0, np.int64), np.zeros(lines, bool))


def rings_alone(lines: Stretches, corners: Array, owner: Indices) -> Rings:
    """Find rings that meet nothing else, and which lies within which.

    Parameters
    ----------
    lines : Stretches
        Lines that don't cross, each once.
    corners : ndarray, shape (corners, 2)
        Corners of the chords of all lines, one line after the other, from node to node [mm].
    owner : ndarray of int, shape (corners,)
        The line each belongs to.

    Returns
    -------
    Rings
    """
    none = Rings.none(len(lines))
    contour = np.unique(components(len(lines.nodes), lines.start, lines.end)[lines.start], return_inverse=True)[1]
    begin = np.flatnonzero(np.diff(owner, prepend=-1))
    box = np.full((contour.max() + 1, 4), np.inf)
    np.minimum.at(box, contour, np.hstack([np.minimum.reduceat(corners, begin), -np.maximum.reduceat(corners, begin)]))
    box[:, 2:] *= -1
    near = _overlapping(box)
    if near is None:
        return none
    meeting = np.bincount(np.concatenate([lines.start, lines.end]))
    group = components(len(box), *near)[contour]
    mixed = np.zeros(len(box), bool)
    mixed[group[(meeting[lines.start] != 2) | (meeting[lines.end] != 2)]] = True
    used = ~mixed[group]
    if not used.any():
        return none
    which, number = np.flatnonzero(used), np.unique(contour[used], return_inverse=True)[1]
    place, ring = _followed(lines.chosen(which), number, begin[which], np.bincount(owner)[which])
    large = (np.bincount(ring) >= 3)[ring]  # a line there and back again encloses nothing
    place, (kept, ring) = place[large], np.unique(ring[large], return_inverse=True)
    rings = shapely.linearrings(corners[place], indices=ring)
    filled = shapely.polygons(rings)
    if not shapely.is_valid(filled).all():
        return none
    first = corners[place[np.flatnonzero(np.diff(ring, prepend=-1))]]
    at = np.full(len(box), -1)
    at[np.unique(contour[used])[kept]] = np.arange(len(rings))
    around = _around(filled, first, box, near, at)
    if around is None:
        return none
    inner = np.flatnonzero(around >= 0)
    face = np.concatenate([np.arange(len(rings)), around[inner]])
    order = np.argsort(face, kind="stable")
    faces = shapely.polygons(np.concatenate([rings, rings[inner]])[order], indices=face[order])
    return Rings(faces, shapely.area(filled), around, used)


def _overlapping(box: Array) -> tuple[Indices, Indices] | None:
    """Return the pairs of boxes that overlap, each both ways; None where there are too many."""
    across = shapely.linestrings(box.reshape(-1, 2, 2))  # a tree looks at the box around a shape only
    tree = STRtree(across)
    sample = across[np.random.default_rng(0).integers(len(across), size=_SAMPLE)]
    if tree.query(sample).shape[1] / _SAMPLE * len(across) > _MOST_PAIRS:
        return None
    one, other = tree.query(across)
    return one, other


def _followed(lines: Stretches, contour: Indices, begin: Indices, held: Indices) -> tuple[Indices, Indices]:
    """Follow rings around, one after the other: numbers of their corners, each once, and the ring each is of."""
    count = len(lines)
    pair = np.argsort(np.concatenate([lines.start, lines.end]), kind="stable").reshape(-1, 2)
    met = np.zeros(2 * count, np.int64)
    met[pair[:, 0]], met[pair[:, 1]] = pair[:, 1], pair[:, 0]
    # a line entered at its start, or at its end by a number larger by their count, is left by the other
    onward = met[(np.arange(2 * count) + count) % (2 * count)]
    first = np.unique(contour, return_index=True)[1]
    last = np.argsort(onward)[first]
    onward[last] = np.roll(first, -1)  # each ring is followed by the next: one chain of them all
    chain = csr_array((np.ones(2 * count), onward, np.arange(2 * count + 1)), shape=(2 * count, 2 * count))
    order = depth_first_order(chain, int(first[0]), return_predecessors=False)
    line, back = order % count, order >= count
    steps = held[line] - 1
    step = ranges(np.zeros_like(steps), steps)
    start = np.where(back, begin[line] + steps, begin[line])
    return np.repeat(start, steps) + np.repeat(np.where(back, -1, 1), steps) * step, np.repeat(contour[line], steps)


def _around(
    filled: NDArray[np.object_], first: Array, box: Array, near: tuple[Indices, Indices], at: Indices
) -> Indices | None:
    """Return the ring right around each, -1 where there is none; None where there is too much to look at."""
    one, other = near
    within = (at[one] >= 0) & (at[other] >= 0) & (one != other)
    within &= (box[one, :2] <= box[other, :2]).all(axis=1) & (box[one, 2:] >= box[other, 2:]).all(axis=1)
    outer, inner = at[one[within]], at[other[within]]
    if shapely.get_num_coordinates(filled[outer]).sum() > _MOST_LOOKS:
        return None
    found = shapely.contains_xy(filled[outer], *first[inner].T)
    outer, inner = outer[found], inner[found]
    order = np.lexsort([shapely.area(filled[outer]), inner])
    inner, place = np.unique(inner[order], return_index=True)
    around = np.full(len(filled), -1)
    around[inner] = outer[order[place]]
    return around
