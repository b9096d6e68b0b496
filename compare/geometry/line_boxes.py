"""The box around lines, and which places lie in which boxes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from compare.geometry.nodes import Indices
from compare.geometry.strokes import ARC, CUBIC, Array, Strokes

_MOST_CELLS = 1_000
"""Cells to a side of the grid."""

_CELLS_PER_BOX = 8


def boxes(strokes: Strokes) -> Array:
    """Return the box around each piece: least x and y, largest x and y, shape (pieces, 4)."""
    low = np.minimum(strokes.at(0.0), strokes.at(1.0))
    high = np.maximum(strokes.at(0.0), strokes.at(1.0))
    arc = np.flatnonzero(strokes.kind == ARC)
    cubic = np.flatnonzero(strokes.kind == CUBIC)
    p = strokes.data[cubic].reshape(-1, 4, 2)
    d = np.diff(p, axis=1)
    for axis in (0, 1):
        a, b, begin, end = strokes.data[arc][:, [2 + axis, 4 + axis, 6, 7]].T
        first, last, peak = np.minimum(begin, end), np.maximum(begin, end), np.arctan2(b, a)
        centre, size = strokes.data[arc, axis], np.hypot(a, b)
        # the far side, and the near one half a turn on, belong to the arc if a turn of them falls within it
        for at, sign, bound in ((peak, 1, high), (peak + np.pi, -1, low)):
            turn = at + np.ceil((first - at) / (2 * np.pi)) * 2 * np.pi
            reached = arc[turn <= last]
            best = (centre + sign * size)[turn <= last]
            bound[reached, axis] = (
                np.maximum(bound[reached, axis], best) if sign > 0 else np.minimum(bound[reached, axis], best)
            )
        # where the derivative of a cubic, itself of the second degree, is nothing
        c0, c1, c2 = (
            d[:, 0, axis],
            2 * (d[:, 1, axis] - d[:, 0, axis]),
            d[:, 0, axis] - 2 * d[:, 1, axis] + d[:, 2, axis],
        )
        root = np.sqrt(np.maximum(c1 * c1 - 4 * c2 * c0, 0))
        q = -(c1 + np.copysign(root, c1)) / 2
        for up, down in ((q, c2), (c0, q)):
            with np.errstate(over="ignore"):
                share = np.clip(np.divide(up, down, out=np.zeros_like(up), where=np.abs(down) > 1e-300), 0, 1)
            w, v, x = share, 1 - share, p[..., axis]
            best = x[:, 0] * v**3 + 3 * x[:, 1] * v * v * w + 3 * x[:, 2] * v * w * w + x[:, 3] * w**3
            high[cubic, axis] = np.maximum(high[cubic, axis], best)
            low[cubic, axis] = np.minimum(low[cubic, axis], best)
    return np.hstack([low, high])


class PlaceGrid(NamedTuple):
    """Places in the cells of a grid, to be found by the boxes they lie in.

    Many times faster than a tree of shapes, which takes longer to make its shapes than to search them.

    Attributes
    ----------
    places : ndarray, shape (places, 2)
        The places.
    origin : ndarray, shape (2,)
        Corner of the first cell.
    cell : float
        Side of a cell, at least.
    shape : tuple of int
        Cells along x and y.
    order : ndarray of int, shape (places,)
        The places, cell by cell.
    begin : ndarray of int, shape (cells + 1,)
        Where the places of each cell begin in that order.
    """

    places: Array
    origin: Array
    cell: float
    shape: tuple[int, int]
    order: Indices
    begin: Indices

    @classmethod
    def of(cls, places: Array, boxes: Array) -> PlaceGrid:
        """Lay a grid over places, as fine as the boxes that will be asked for allow."""
        origin = places.min(axis=0)
        size = np.maximum(np.ptp(places, axis=0), 1e-9)
        per_side = min(max(int(np.sqrt(len(places))), 1), _MOST_CELLS)
        cell = float(size.max()) / per_side
        sides = boxes[:, 2:] - boxes[:, :2]
        while cell < size.max() and float(np.prod(sides / cell + 1, axis=1).sum()) > _CELLS_PER_BOX * len(boxes):
            cell *= 2
        nx, ny = (max(int(np.ceil(side / cell)), 1) for side in size)
        grid = cls(places, origin, cell, (nx, ny), np.zeros(0, np.int64), np.zeros(0, np.int64))
        at = grid._cells(places)
        number = at[:, 0] * ny + at[:, 1]
        begin = np.concatenate([[0], np.cumsum(np.bincount(number, minlength=nx * ny))])
        return grid._replace(order=np.argsort(number, kind="stable"), begin=begin)

    def _cells(self, places: Array) -> Indices:
        found: Indices = np.clip((places - self.origin) / self.cell, 0, np.array(self.shape) - 1).astype(np.int64)
        return found

    def columns(self, boxes: Array) -> tuple[Indices, Indices, Indices]:
        """Return the runs of places, in their order, that boxes reach: box, begin and end of each run."""
        low, high = self._cells(boxes[:, :2]), self._cells(boxes[:, 2:])
        wide = high[:, 0] - low[:, 0] + 1
        box = np.repeat(np.arange(len(boxes)), wide)
        x = low[box, 0] + np.arange(len(box)) - np.repeat(np.cumsum(wide) - wide, wide)
        first = x * self.shape[1]
        return box, self.begin[first + low[box, 1]], self.begin[first + high[box, 1] + 1]

    def within(self, boxes: Array) -> tuple[Indices, Indices]:
        """Return the places that lie in boxes: place and box of each pair.

        Parameters
        ----------
        boxes : ndarray, shape (boxes, 4)
            Least x and y, largest x and y of each.
        """
        box, begin, end = self.columns(boxes)
        held = end - begin
        run = np.repeat(np.arange(len(box)), held)
        place = self.order[begin[run] + np.arange(len(run)) - np.repeat(np.cumsum(held) - held, held)]
        box, at = box[run], self.places[place]
        inside = ((at >= boxes[box, :2]) & (at <= boxes[box, 2:])).all(axis=1)
        return place[inside], box[inside]
