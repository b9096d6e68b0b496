"""Repeating patterns of one outline, and how many of them a window holds.

Every pattern is a rectangular cell that repeats across and along, with one, two or four copies in it.
A window cut out of it is a layout. Patterns are built from exact pitches, columns first; rows come from
the same code with both axes exchanged.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from shapely import Polygon

from compare.geometry.interlock import Array, Profile, far_profile, last_contact, near_profile, turned_half

FITS = 1e-9
"""A last copy that misses the window by this share of a step still lies in it, as in the plain grid."""

_OFFSETS = 192
"""Sideways offsets tried at most; where corners give more of them, every so-manieth is taken."""

_CORNERS = 40
_COARSE_MM = 0.25
_SHORTLIST = 4
"""An outline with more corners is searched with a coarser one; the fullest patterns are built of the real one."""

_DIPS = 4
_ROUNDS = 11
"""The lowest dips of the pitch are closed in on, four times closer with each round."""

_STAGGERS = 32
_STAGGERED = 2
"""So many of the densest and of the fullest patterns are tried with columns at so many different heights."""


class Lattice(NamedTuple):
    """A pattern that repeats.

    Attributes
    ----------
    name : str
        What it is called; see ``RANK``.
    half_turned : tuple of int
        For each copy in the cell, 1 where it is turned by 180 degrees.
    x, y : ndarray, shape (copies,)
        Place of the lower left corner of each copy's box [mm].
    cell : (float, float)
        Width and height of the cell [mm].
    """

    name: str
    half_turned: tuple[int, ...]
    x: Array
    y: Array
    cell: tuple[float, float]

    @property
    def exchanged(self) -> Lattice:
        """The pattern with both axes exchanged: columns become rows."""
        return Lattice(self.name, self.half_turned, self.y, self.x, self.cell[::-1])


RANK = {
    "grid": 0,
    "interlocked": 1,
    "interlocked and staggered": 2,
    "turned pairs": 3,
    "turned pairs, staggered": 4,
}
"""Patterns from the plainest on; of those that hold the same, the plainest is taken."""

STAGGERED = {"interlocked": "interlocked and staggered", "turned pairs": "turned pairs, staggered"}
"""What a pattern is called whose columns lie at different heights."""


class Silhouette:
    """An outline with its four sides as profiles, as it is and turned by 180 degrees.

    Parameters
    ----------
    ring : ndarray, shape (corners, 2)
        Closed outline [mm].

    Attributes
    ----------
    ring : ndarray
        The outline with the lower left corner of its box in the origin [mm].
    width, height : float
        Size of its box [mm].
    """

    def __init__(self, ring: Array) -> None:
        self.ring = ring - ring.min(axis=0)
        self.width, self.height = (float(size) for size in self.ring.max(axis=0))

    @cached_property
    def area(self) -> float:
        """Area inside the outline [mm2]."""
        x, y = self.ring.T
        return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2

    @cached_property
    def exchanged(self) -> Silhouette:
        """The outline with both axes exchanged."""
        return Silhouette(self.ring[:, ::-1])

    @cached_property
    def coarse(self) -> Silhouette:
        """The outline with fewer corners, to search with; itself where it has few."""
        if len(self.ring) <= _CORNERS:
            return self
        fewer = np.array(Polygon(self.ring).simplify(_COARSE_MM).exterior.coords)[:-1]
        return Silhouette(fewer) if len(fewer) < len(self.ring) else self

    @cached_property
    def top(self) -> tuple[Profile, Profile]:
        """Upper side, as it is and half turned."""
        return far_profile(self.ring), far_profile(turned_half(self.ring))

    @cached_property
    def bottom(self) -> tuple[Profile, Profile]:
        """Lower side, as it is and half turned."""
        return near_profile(self.ring), near_profile(turned_half(self.ring))

    def rise(self, lower: int, upper: int, shifts: Any, gap: float) -> Array:
        """Return the pitch upwards of a copy above another, each as it is (0) or half turned (1) [mm]."""
        return last_contact(self.top[lower], self.bottom[upper], shifts, gap)


# -- counting ---------------------------------------------------------------------------------------------------------


def _fitting(place: Any, step: Any, room: float) -> Array:
    """Count the places ``place + k step`` from 0 to the room."""
    first = np.mod(place, step)
    first = np.where(step - first <= FITS * step, 0.0, first)
    count: Array = np.maximum(np.floor((room - first) / step + FITS) + 1, 0.0)
    return count


def _in_window(x: Any, y: Any, across: Any, along: Any, room: tuple[float, float]) -> tuple[Array, Array]:
    """Count the copies in a window for every choice of the copies that touch its left and lower edge.

    Places have the copies of a cell first; more axes are other patterns. The window of room for the
    lower left corners may be nothing at all.
    """
    columns = _fitting(x[None] - x[:, None], across, room[0])
    rows = _fitting(y[None] - y[:, None], along, room[1])
    if min(room) < 0:
        columns, rows = columns * 0, rows * 0
    return columns, np.einsum("ik...,jk...->ij...", columns, rows)


def capacity(lattice: Lattice, room: tuple[float, float]) -> int:
    """Return how many copies a window holds at best.

    Parameters
    ----------
    lattice : Lattice
    room : (float, float)
        Size of the window less the box of one copy [mm]; negative where not even one fits.
    """
    return int(_in_window(lattice.x, lattice.y, *lattice.cell, room)[1].max())


def places(lattice: Lattice, room: tuple[float, float]) -> list[tuple[float, float, int]]:
    """Return the copies in a window, the lowest first, those of one row from the left.

    Returns
    -------
    list of (x, y, half turned)
        Lower left corner of each copy's box from the window's corner [mm].
    """
    if min(room) < 0:
        return []
    counts = _in_window(lattice.x, lattice.y, *lattice.cell, room)[1]
    i, j = np.unravel_index(int(counts.argmax()), counts.shape)
    found: list[tuple[float, float, int]] = []
    for x, y, turned in zip(lattice.x - lattice.x[i], lattice.y - lattice.y[j], lattice.half_turned, strict=True):
        spots = []
        for place, step, size in ((x, lattice.cell[0], room[0]), (y, lattice.cell[1], room[1])):
            first = float(np.mod(place, step))
            first = 0.0 if step - first <= FITS * step else first
            spots.append([first + k * step for k in range(int(_fitting(place, step, size)))])
        found += [(across, along, turned) for along in spots[1] for across in spots[0]]
    return in_rows(found)


def in_rows(spots: Iterable[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    """Return places sorted row by row, the lowest first, each row from the left."""
    return sorted(spots, key=lambda spot: (round(spot[1], 6), spot[0]))


# -- patterns ---------------------------------------------------------------------------------------------------------


def grid(shape: Silhouette, gap: float) -> Lattice:
    """Return the plain grid of boxes."""
    return Lattice("grid", (0,), np.zeros(1), np.zeros(1), (shape.width + gap, shape.height + gap))


@dataclass(frozen=True, eq=False)
class _Columns:
    """Columns of one copy, or of copies alternately half turned; one entry per pattern.

    ``offset`` and ``lift`` are the place of the turned copy, ``pitch`` is the height of the cell, and
    ``stagger`` is how far every other column is raised.
    """

    offset: Array
    lift: Array
    pitch: Array
    stagger: Array
    paired: bool

    def chosen(self, which: Any) -> _Columns:
        return _Columns(self.offset[which], self.lift[which], self.pitch[which], self.stagger[which], self.paired)


class _Cells(NamedTuple):
    """Cells of many patterns, two columns wide: places of the copies, copies first, and size of each cell."""

    columns: _Columns
    x: Array
    y: Array
    width: Array

    def held(self, room: tuple[float, float]) -> Array:
        """Return how many copies a window holds, for each pattern."""
        counts: Array = _in_window(self.x, self.y, self.width, self.columns.pitch, room)[1].max(axis=(0, 1))
        return counts

    def lattice(self, name: str, i: int) -> Lattice:
        turned = (0, 1, 0, 1) if self.columns.paired else (0, 0)
        cell = (float(self.width[i]), float(self.columns.pitch[i]))
        return Lattice(name, turned, self.x[:, i], self.y[:, i], cell)


def _columns(shape: Silhouette, gap: float, offset: Array, stagger: Array, *, paired: bool) -> _Columns:
    """Return columns as tight as they get, for each sideways offset of the turned copies."""
    alone = shape.rise(0, 0, [0.0], gap)[0]
    if not paired:
        return _Columns(offset * 0, offset * 0, np.full(len(offset), alone), stagger, paired)
    up, down = shape.rise(0, 1, offset, gap), shape.rise(1, 0, -offset, gap)
    met = np.flatnonzero(np.isfinite(up) & np.isfinite(down))
    up, down = up[met], down[met]
    pitch = np.maximum(up + down, alone)
    # where copies of one kind meet first, the turned one has play: tight below, or tight above
    play = np.flatnonzero(pitch - up - down > FITS * pitch)
    twice = np.concatenate([np.arange(len(met)), play])
    lift = np.concatenate([up, (pitch - down)[play]])
    return _Columns(offset[met][twice], lift, pitch[twice], stagger[met][twice], paired)


def _cells(shape: Silhouette, gap: float, columns: _Columns) -> _Cells:
    """Put columns side by side as close as they get."""
    level = np.zeros_like(columns.stagger)
    same = step = back = _column_step(shape, gap, columns, level)
    if columns.stagger.any():
        step = _column_step(shape, gap, columns, columns.stagger)
        back = _column_step(shape, gap, columns, -columns.stagger)
    x, y = np.stack([level, columns.offset]), np.stack([level, columns.lift])
    x, y = x[: 1 + columns.paired], y[: 1 + columns.paired]
    # columns next but one lie at one height and must keep clear of one another too
    width = np.maximum(step + back, same)
    return _Cells(columns, np.concatenate([x, x + step]), np.concatenate([y, y + columns.stagger]), width)


def _column_step(shape: Silhouette, gap: float, columns: _Columns, stagger: Array) -> Array:
    """Return how far to the right the next column lies, raised by a stagger [mm]."""
    if not len(stagger):
        return stagger
    side, reach = shape.exchanged, shape.height + gap
    most = int(np.ceil((reach + np.abs(stagger).max() + np.abs(columns.lift).max()) / columns.pitch.min())) + 1
    repeats = np.arange(-most, most + 1) * columns.pitch[:, None]
    found = np.zeros(len(stagger))
    nothing = np.zeros(len(stagger))
    kinds = [(0, 0, nothing, nothing)]
    if columns.paired:
        kinds += [(0, 1, columns.lift, -columns.offset), (1, 0, -columns.lift, columns.offset)]
    for left, right, lift, aside in kinds:
        height = (stagger + lift)[:, None] + repeats
        row, col = np.nonzero(np.abs(height) < reach)
        step = side.rise(left, right, height[row, col], gap) + aside[row]
        np.maximum.at(found, row, step)
    return found


def _thinned(values: Array, most: int) -> Array:
    values = np.unique(np.round(values, 9))
    if len(values) > most:
        values = values[np.round(np.linspace(0, len(values) - 1, most)).astype(int)]
    return values


def _differences(first: Profile, second: Profile, gap: float) -> Array:
    """Return the offsets at which a corner of one lies over a corner of the other, or a gap beside it."""
    found = (first.corners[0][:, None] - second.corners[0]).ravel()
    return np.concatenate([found - gap, found, found + gap]) if gap > 0 else found


def _pair_offsets(shape: Silhouette, gap: float) -> Array:
    """Return the sideways offsets of turned copies that are worth a look."""

    def pitch(offset: Array) -> Array:
        both = shape.rise(0, 1, offset, gap) + shape.rise(1, 0, -offset, gap)
        return np.where(np.isfinite(both), both, np.inf)

    critical = _differences(shape.top[0], shape.bottom[1], gap)
    critical = np.concatenate([critical, -_differences(shape.top[1], shape.bottom[0], gap), [0.0]])
    offset = _thinned(critical[np.abs(critical) < shape.width + gap], _OFFSETS)
    # between two offsets the pitch may dip where contacts on both sides balance: close in on each low place
    both = pitch(offset)
    low = np.flatnonzero((both[1:-1] <= both[:-2]) & (both[1:-1] <= both[2:])) + 1
    low = low[np.argsort(both[low], kind="stable")[:_DIPS]]
    begin, end = offset[low - 1], offset[low + 1]
    row, share = np.arange(len(low)), np.linspace(0, 1, 9)
    for _ in range(_ROUNDS):
        tried = begin[:, None] + (end - begin)[:, None] * share
        best = pitch(tried.ravel()).reshape(tried.shape).argmin(axis=1)
        begin, end = tried[row, np.maximum(best - 1, 0)], tried[row, np.minimum(best + 1, 8)]
    return np.unique(np.concatenate([offset, (begin + end) / 2]))


def _staggers(shape: Silhouette, gap: float, columns: _Columns) -> _Columns:
    """Raise every other column, by whatever may let neighbours come closer."""
    side = shape.exchanged
    rows: list[Array] = []
    staggers: list[Array] = []
    for i, (lift, pitch) in enumerate(zip(columns.lift, columns.pitch, strict=True)):
        critical = [_differences(side.top[0], side.bottom[0], gap), np.array([pitch / 2])]
        if columns.paired:
            critical.append(_differences(side.top[0], side.bottom[1], gap) - lift)
            critical.append(_differences(side.top[1], side.bottom[0], gap) + lift)
        raised = np.mod(np.concatenate(critical), pitch)
        # raising every other column by t or lowering it by t is the same pattern
        raised = np.minimum(raised, pitch - raised)
        staggers.append(_thinned(raised[raised > FITS * pitch], _STAGGERS))
        rows.append(np.full(len(staggers[-1]), i))
    return replace(columns.chosen(np.concatenate(rows)), stagger=np.concatenate(staggers))


def column_patterns(
    shape: Silhouette, gap: float, rooms: Sequence[tuple[float, float]], least: int
) -> Iterator[tuple[int, Lattice]]:
    """Find the patterns in columns that hold the most copies in a window.

    Parameters
    ----------
    shape : Silhouette
    gap : float
        Least distance between copies [mm].
    rooms : sequence of (float, float)
        Size of each window less the box of one copy [mm].
    least : int
        Patterns that hold fewer are of no use.

    Yields
    ------
    window : int
        Number of the window.
    lattice : Lattice
        The fullest pattern of each name for it.
    """
    windows = [(number, room) for number, room in enumerate(rooms) if min(room) >= 0]
    if not windows:
        return
    coarse, none = shape.coarse, np.zeros(1)
    for name, paired in (("interlocked", False), ("turned pairs", True)):
        offset = _pair_offsets(coarse, gap) if paired else none
        every = _columns(coarse, gap, offset, offset * 0, paired=paired)
        # no pattern is denser than its copies: what can't reach the count is not looked at
        most = np.max([_bound(coarse, every, room) for _, room in windows], axis=0)
        kept = np.flatnonzero(most >= least)
        if not len(kept):
            continue
        even = _cells(coarse, gap, every.chosen(kept[np.argsort(-most[kept], kind="stable")[:_OFFSETS]]))
        held = [even.held(room) for _, room in windows]
        # the densest patterns and those that hold most are also tried with columns at different heights
        orders = [even.width * even.columns.pitch, *(-counts for counts in held)]
        chosen = np.unique(np.concatenate([np.argsort(order, kind="stable")[:_STAGGERED] for order in orders]))
        raised = _cells(coarse, gap, _staggers(coarse, gap, even.columns.chosen(chosen)))
        for title, cells in ((name, even), (STAGGERED[name], raised)):
            for number, room in windows:
                fullest, counts = cells, cells.held(room)
                if coarse is not shape:
                    few = cells.columns.chosen(np.argsort(-counts, kind="stable")[:_SHORTLIST])
                    fullest = _cells(shape, gap, _columns(shape, gap, few.offset, few.stagger, paired=paired))
                    counts = fullest.held(room)
                if counts.max(initial=0) >= least:
                    yield number, fullest.lattice(title, int(counts.argmax()))


def _bound(shape: Silhouette, columns: _Columns, room: tuple[float, float]) -> Array:
    """Return what each pattern could hold at most, its columns as close as their area allows, and one more."""
    copies = 1 + columns.paired
    step = copies * shape.area / columns.pitch
    x = np.zeros((copies, len(step)))
    y = np.stack([columns.offset * 0, columns.lift])[:copies]
    counts: Array = _in_window(x, y, step, columns.pitch, room)[1].max(axis=(0, 1))
    return counts * (1 + 1 / (np.floor(room[0] / step + FITS) + 1))
