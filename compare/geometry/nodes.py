"""Places that are one within a tolerance, and what hangs together through them.

No grid decides whether two places are one: their distance does, so that moving or turning a drawing
changes nothing. Everything here takes time in proportion to what it is given (but for sorting), also
on files made to take long.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from compare.geometry.strokes import Array

Indices = NDArray[np.int64]

_WIDE = 4.0
"""Places drawn together are left apart again where they reach over this many tolerances."""

_NEIGHBOURS = ((0, 1), (0, 2), (1, -2), (1, -1), (1, 0), (1, 1), (1, 2), (2, -1), (2, 0), (2, 1))
"""Cells that can hold a place within a tolerance, a cell being that wide from corner to corner; half of
them, as the other half looks back."""


def ranges(begin: Indices, count: Indices) -> Indices:
    """Return numbers that count up, so many from each begin on, one range after the other."""
    before = np.cumsum(count) - count
    return np.asarray(np.repeat(begin - before, count) + np.arange(count.sum()), np.int64)


def components(count: int, first: Indices, second: Indices) -> Indices:
    """Find the groups of things that links hold together.

    Parameters
    ----------
    count : int
        How many things there are.
    first, second : ndarray of int, shape (links,)
        The two things of each link.

    Returns
    -------
    ndarray of int, shape (count,)
        Number of the group of each thing, from 0 without gaps.
    """
    root = np.arange(count)
    while True:
        a, b = root[first], root[second]
        apart = a != b
        if not apart.any():
            break
        # every group is hung below the lowest it has a link to: each round at least halves the groups that have links
        np.minimum.at(root, np.maximum(a, b)[apart], np.minimum(a, b)[apart])
        while True:
            above = root[root]
            if np.array_equal(above, root):
                break
            root = above
    return np.asarray(np.unique(root, return_inverse=True)[1], np.int64)


def clusters(points: Array, tolerance: float) -> tuple[Indices, Indices]:
    """Find places that are one: each is within the tolerance of another of them.

    Parameters
    ----------
    points : ndarray, shape (points, 2)
        Places.
    tolerance : float
        Largest distance of two places that are one. A billionth of the extent where that is more.

    Returns
    -------
    label : ndarray of int, shape (points,)
        Number of the cluster of each place.
    first : ndarray of int, shape (clusters,)
        The first place of each cluster, which stands for it.
    """
    if not len(points):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    extent = float(np.ptp(points, axis=0).max())
    tolerance = max(tolerance, extent * 1e-9, 1e-300)
    label = _linked(points, tolerance)
    # a curve drawn in steps below the tolerance would shrink to one place: there, only what is really one is one
    for finer in (1e-3, 0.0):
        wide = _reach(points, label) > _WIDE * tolerance
        again = wide[label]
        if not again.any():
            break
        label[again] = label.max() + 1 + _linked(points[again], max(tolerance * finer, extent * 1e-15))
    label = np.asarray(np.unique(label, return_inverse=True)[1], np.int64)
    return label, np.asarray(np.unique(label, return_index=True)[1], np.int64)


def _reach(points: Array, label: Indices) -> Array:
    """Return the larger side of the box around each cluster."""
    low = np.full((label.max() + 1, 2), np.inf)
    high = -low
    for axis in (0, 1):
        np.minimum.at(low[:, axis], label, points[:, axis])
        np.maximum.at(high[:, axis], label, points[:, axis])
    size: Array = (high - low).max(axis=1)
    return size


def _linked(points: Array, tolerance: float) -> Indices:
    """Link all places within the tolerance of one another, by cells that are that wide from corner to corner."""
    side = tolerance / np.sqrt(2)
    cell = np.minimum(np.floor((points - points.min(axis=0)) / side), 2.0**30).astype(np.int64) + 2
    key, inverse, held = np.unique(cell[:, 0] << 32 | cell[:, 1], return_inverse=True, return_counts=True)
    inverse = np.asarray(inverse, np.int64)
    middle = np.stack([np.bincount(inverse, points[:, axis]) / held for axis in (0, 1)], axis=1)
    links = []
    for across, up in _NEIGHBOURS:
        wanted = key + (across << 32) + up
        place = np.minimum(np.searchsorted(key, wanted), len(key) - 1)
        here = np.flatnonzero(key[place] == wanted)
        near = np.hypot(*(middle[here] - middle[place[here]]).T) <= tolerance
        links.append((here[near], place[here[near]]))
    first, second = (np.concatenate(side_) for side_ in zip(*links, strict=True))
    found: Any = components(len(key), first, second)[inverse]
    return np.asarray(found, np.int64)
