"""Strokes of a drawing as arrays: straight lines, arcs and cubic curves, kept exact.

Three kinds of piece are enough for every format read here. An arc is given by its centre and two
half-axis vectors, ``centre + a cos t + b sin t``, so that any moving, turning, mirroring or
stretching of it is again such an arc, without loss. Arrays, not objects, because a drawing has tens
of thousands of pieces and is measured as a whole.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.errors import Finding

LINE, ARC, CUBIC = 0, 1, 2
"""Kinds of piece. The eight numbers of each are, in the drawing's unit and radians:

- ``LINE``: x and y of its start, x and y of its end, four unused zeros;
- ``ARC``: centre, first half-axis vector a, second half-axis vector b, from ``t`` and to ``t``;
- ``CUBIC``: four control points of a Bezier curve.
"""

Array = NDArray[np.float64]

_HALVINGS = 24
"""A curve is halved at most this often; a sixteen-millionth of a curve is below any tolerance."""


_MOST_CHORDS = 100_000
"""Chords of an arc; a whole turn takes two thirds of that at the finest."""


class Group(NamedTuple):
    """What a drawing says about a line; lines that say the same are one group and are mapped together.

    Attributes
    ----------
    layer : str
        Name of the layer, optional-content group or named group of elements.
    colour : str
        ``#rrggbb``, or empty where the drawing gives none.
    linetype : str
        Name of the line type or its dash pattern, empty for a solid line.
    step_group, step_type : str
        Processing step as ISO 19593-1 names it, empty where the drawing has none.
    code : str
        Code of a cut type in tool data, empty elsewhere.
    """

    layer: str
    colour: str = ""
    linetype: str = ""
    step_group: str = ""
    step_type: str = ""
    code: str = ""


@dataclass(frozen=True, eq=False)
class Strokes:
    """Pieces in the order they are drawn, each belonging to one stroke.

    Attributes
    ----------
    kind : ndarray of int8, shape (pieces,)
        ``LINE``, ``ARC`` or ``CUBIC``.
    data : ndarray of float, shape (pieces, 8)
        The eight numbers of each piece [unit of the drawing, radians].
    stroke : ndarray of int, shape (pieces,)
        Number of the stroke each piece belongs to, never falling. A stroke is what the file draws
        in one go.
    group : ndarray of int, shape (strokes,)
        Number of the group each stroke belongs to.
    place : tuple of str, length (strokes,)
        Where the stroke is in its file, for messages: a handle, an element, a page.
    """

    kind: NDArray[np.int8]
    data: Array
    stroke: NDArray[np.int64]
    group: NDArray[np.int64]
    place: tuple[str, ...]

    def __len__(self) -> int:
        """Return the number of pieces."""
        return len(self.kind)

    def transformed(self, matrix: Any) -> Strokes:
        """Return the strokes after an affine map.

        Parameters
        ----------
        matrix : array-like, shape (2, 3)
            ``x' = m00 x + m01 y + m02``, ``y' = m10 x + m11 y + m12``.

        Returns
        -------
        Strokes
        """
        m = np.asarray(matrix, float)
        data = self.data.copy()
        points = data.reshape(-1, 4, 2)
        line, arc, cubic = (self.kind == k for k in (LINE, ARC, CUBIC))
        points[line, :2] = points[line, :2] @ m[:, :2].T + m[:, 2]
        points[cubic] = points[cubic] @ m[:, :2].T + m[:, 2]
        points[arc, 0] = points[arc, 0] @ m[:, :2].T + m[:, 2]
        points[arc, 1:3] = points[arc, 1:3] @ m[:, :2].T
        return replace(self, data=data)

    def scaled(self, factor: float) -> Strokes:
        """Return the strokes with every length multiplied by a factor."""
        return self.transformed([[factor, 0, 0], [0, factor, 0]])

    def chosen(self, strokes: NDArray[np.bool_]) -> Strokes:
        """Return some of the strokes, those marked in an array over the strokes."""
        keep = strokes[self.stroke]
        renumbered = np.cumsum(strokes) - 1
        place = tuple(p for p, wanted in zip(self.place, strokes, strict=True) if wanted)
        return Strokes(self.kind[keep], self.data[keep], renumbered[self.stroke[keep]], self.group[strokes], place)

    def lengths(self) -> Array:
        """Return the length of each piece [unit of the drawing], shape (pieces,).

        Straight lines and circular arcs by their formulas, others by Gauss-Legendre quadrature
        of 16 points, halved until two halves agree with the whole to 1e-9.
        """
        length = np.zeros(len(self))
        line = self.kind == LINE
        length[line] = np.hypot(self.data[line, 2] - self.data[line, 0], self.data[line, 3] - self.data[line, 1])
        radius = self.radii()
        circle = np.isfinite(radius) & (self.kind == ARC)
        length[circle] = radius[circle] * np.abs(self.data[circle, 7] - self.data[circle, 6])
        curved = np.flatnonzero(~line & ~circle)
        if len(curved):
            length[curved] = _curve_lengths(self.kind[curved], self.data[curved])
        return length

    def radii(self) -> Array:
        """Return the radius of each circular arc, NaN for any other piece [unit of the drawing]."""
        radius = np.full(len(self), np.nan)
        arc = np.flatnonzero(self.kind == ARC)
        ax, ay, bx, by = self.data[arc, 2:6].T
        aa, bb = np.hypot(ax, ay), np.hypot(bx, by)
        size = np.maximum(aa, bb)
        circular = (np.abs(aa - bb) <= 1e-9 * size) & (np.abs(ax * bx + ay * by) <= 1e-9 * size * size)
        radius[arc[circular]] = size[circular]
        return radius

    def at(self, t: Any) -> Array:
        """Return the point of each piece at a share of it from 0 to 1, shape (pieces, 2)."""
        return _places(self.kind, self.data, np.broadcast_to(np.asarray(t, float), len(self)))

    def slopes(self, t: Any) -> Array:
        """Return the derivative of the place by the share at a share from 0 to 1, shape (pieces, 2)."""
        return _slopes(self.kind, self.data, np.broadcast_to(np.asarray(t, float), len(self)))

    def directions(self, t: Any) -> Array:
        """Return the direction of travel of each piece at a share from 0 to 1, unit vectors (pieces, 2).

        A piece without length at that place gives a zero vector.
        """
        share = np.broadcast_to(np.asarray(t, float), len(self))
        along = _slopes(self.kind, self.data, share)
        size = np.hypot(along[:, 0], along[:, 1])
        # a control point on the end of a curve leaves no direction there: look a little further in
        blunt = (size <= 1e-12 * np.abs(self.data).max(axis=1, initial=1e-300)) & (self.kind == CUBIC)
        if blunt.any():
            inner = np.where(share > 0.5, share - 1e-4, share + 1e-4)
            along[blunt] = _slopes(self.kind[blunt], self.data[blunt], inner[blunt])
            size = np.hypot(along[:, 0], along[:, 1])
        return np.divide(along, size[:, None], out=np.zeros_like(along), where=size[:, None] > 0)

    def chord_counts(self, tolerance: float) -> NDArray[np.int64]:
        """Return how many chords each piece takes to stay within a tolerance [unit of the drawing], shape (pieces,)."""
        count = np.ones(len(self), np.int64)
        arc, cubic = self.kind == ARC, self.kind == CUBIC
        ax, ay, bx, by = self.data[arc, 2:6].T
        # the longer half-axis, which is longer than both vectors where they are not at right angles
        sum_, difference, mixed = (
            ax * ax + ay * ay + bx * bx + by * by,
            ax * ax + ay * ay - bx * bx - by * by,
            ax * bx + ay * by,
        )
        size = np.sqrt((sum_ + np.hypot(difference, 2 * mixed)) / 2)
        turn = np.abs(self.data[arc, 7] - self.data[arc, 6])
        step = 2 * np.arccos(np.clip(1 - tolerance / np.maximum(size, 1e-300), 0, 1))
        count[arc] = np.clip(np.ceil(turn / np.maximum(step, 1e-4)), 1, _MOST_CHORDS)
        p = self.data[cubic].reshape(-1, 4, 2)
        bow = np.abs(np.diff(p, 2, axis=1)).max(axis=(1, 2), initial=0)
        # the chord of a cubic cut into n equal shares is off by at most (6/8) bow sqrt2 / n2
        count[cubic] = np.clip(np.ceil(np.sqrt(0.75 * np.sqrt(2) * bow / tolerance)), 1, 10_000)
        return count

    def flattened(self, tolerance: float) -> tuple[Array, NDArray[np.int64]]:
        """Break every piece into straight chords that stay within a tolerance of it.

        Parameters
        ----------
        tolerance : float
            Largest distance between a chord and its curve [unit of the drawing].

        Returns
        -------
        chords : ndarray, shape (chords, 4)
            Start and end of each chord.
        piece : ndarray of int, shape (chords,)
            The piece it comes from.
        """
        count = self.chord_counts(tolerance)
        piece = np.repeat(np.arange(len(self)), count)
        number = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
        kind, data = self.kind[piece], self.data[piece]
        start = _places(kind, data, number / count[piece])
        end = np.roll(start, -1, axis=0)  # a chord ends where the next one begins
        end[np.cumsum(count) - 1] = self.at(1.0)
        return np.hstack([start, end]), piece


def _places(kind: NDArray[np.int8], data: Array, share: Array) -> Array:
    """Return the place of each piece at a share of it, shape (pieces, 2)."""
    at = np.empty((len(kind), 2))
    p = data.reshape(-1, 4, 2)
    line, arc, cubic = (np.flatnonzero(kind == k) for k in (LINE, ARC, CUBIC))
    # the ends come out bit by bit as they were given, so that neighbours meet
    w = share[line, None]
    at[line] = p[line, 0] * (1 - w) + p[line, 1] * w
    t = p[arc, 3, 0] + (p[arc, 3, 1] - p[arc, 3, 0]) * share[arc]
    at[arc] = p[arc, 0] + p[arc, 1] * np.cos(t)[:, None] + p[arc, 2] * np.sin(t)[:, None]
    w = share[cubic, None]
    v = 1 - w
    p = p[cubic]
    at[cubic] = p[:, 0] * (v * v * v) + 3 * (p[:, 1] * (v * v * w) + p[:, 2] * (v * w * w)) + p[:, 3] * (w * w * w)
    return at


def _slopes(kind: NDArray[np.int8], data: Array, share: Array) -> Array:
    """Return the derivative of the place by the share of each piece, shape (pieces, 2)."""
    along = np.empty((len(kind), 2))
    p = data.reshape(-1, 4, 2)
    line, arc, cubic = (np.flatnonzero(kind == k) for k in (LINE, ARC, CUBIC))
    along[line] = p[line, 1] - p[line, 0]
    sweep = p[arc, 3, 1] - p[arc, 3, 0]
    t = p[arc, 3, 0] + sweep * share[arc]
    along[arc] = (p[arc, 2] * np.cos(t)[:, None] - p[arc, 1] * np.sin(t)[:, None]) * sweep[:, None]
    w = share[cubic, None]
    v = 1 - w
    d = np.diff(p[cubic], axis=1)
    along[cubic] = 3 * (d[:, 0] * (v * v) + 2 * d[:, 1] * (v * w) + d[:, 2] * (w * w))
    return along


def _curve_lengths(kind: NDArray[np.int8], data: Array) -> Array:
    """Integrate the speed along arcs of ellipses and along cubics."""
    length = np.zeros(len(kind))
    arc, cubic = np.flatnonzero(kind == ARC), np.flatnonzero(kind == CUBIC)
    ax, ay, bx, by, start, end = data[arc, 2:].T
    sweep = end - start

    def arc_speed(of: Array, t: Array) -> Array:
        ax, ay, bx, by, start, sweep = of
        angle = start + sweep * t
        cos, sin = np.cos(angle), np.sin(angle)
        return np.asarray(np.abs(sweep) * np.hypot(bx * cos - ax * sin, by * cos - ay * sin))

    length[arc] = _integrated(arc_speed, np.stack([ax, ay, bx, by, start, sweep]))
    d = 3 * np.diff(data[cubic].reshape(-1, 4, 2), axis=1)

    def cubic_speed(of: Array, t: Array) -> Array:
        x0, x1, x2, y0, y1, y2 = of
        return np.asarray(np.hypot((x2 * t + x1) * t + x0, (y2 * t + y1) * t + y0))

    # the derivative as powers of the share
    powers = np.stack([d[:, 0], 2 * (d[:, 1] - d[:, 0]), d[:, 0] - 2 * d[:, 1] + d[:, 2]])
    length[cubic] = _integrated(cubic_speed, np.concatenate([powers[:, :, 0], powers[:, :, 1]]))
    return length


def _integrated(speed: Callable[[Array, Array], Array], of: Array) -> Array:
    """Integrate a speed over shares from 0 to 1, halving where halves and whole disagree.

    Parameters
    ----------
    speed : callable
        Speed of curves at one share of each, from the numbers that describe them.
    of : ndarray, shape (numbers, curves)
        Those numbers.
    """
    nodes, weights = np.polynomial.legendre.leggauss(16)

    def integral(which: NDArray[np.int64], low: Array, high: Array) -> Array:
        total, half, some = np.zeros(len(which)), (high - low) / 2, of[:, which]
        for node, weight in zip(nodes, weights, strict=True):
            total += weight * speed(some, low + half * (1 + node))
        return total * half

    count = of.shape[1]
    length = np.zeros(count)
    which = np.arange(count)
    low, high = np.zeros(count), np.ones(count)
    whole = integral(which, low, high)
    scale = np.maximum(whole, 1e-300)
    for level in range(_HALVINGS):
        middle = (low + high) / 2
        first, second = integral(which, low, middle), integral(which, middle, high)
        done = np.abs(first + second - whole) <= 1e-9 * scale[which] / 2 ** min(level, 10)
        if level == _HALVINGS - 1:
            done[:] = True
        np.add.at(length, which[done], (first + second)[done])
        if done.all():
            break
        open_ = ~done
        which = np.concatenate([which[open_], which[open_]])
        low, high = np.concatenate([low[open_], middle[open_]]), np.concatenate([middle[open_], high[open_]])
        whole = np.concatenate([first[open_], second[open_]])
    return length


@dataclass(frozen=True, eq=False)
class Drawing:
    """What a reader found in a file.

    Attributes
    ----------
    strokes : Strokes
        All lines as drawn [unit of the drawing].
    groups : tuple of Group
        What the drawing says about its lines; numbered as in ``strokes.group``.
    unit : str or None
        Unit of the drawing, such as ``mm`` or ``in``; None where the file does not say.
    mm_per_unit : float or None
        Millimetres per unit of the drawing; None where the file does not say.
    unit_source : str
        Where the unit is from, in words.
    lengths_by_code : mapping
        Lengths by group that a file states without drawing them [mm] (tool data).
    left_out : mapping
        Kinds of content that is no line to run, with how many there were.
    findings : tuple of Finding
        Remarks of the reader.
    """

    strokes: Strokes
    groups: tuple[Group, ...]
    unit: str | None
    mm_per_unit: float | None
    unit_source: str
    lengths_by_code: Mapping[Group, float] = field(default_factory=dict)
    left_out: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


class Pen:
    """Collects what a reader draws, stroke by stroke, and counts what it leaves out.

    Attributes
    ----------
    left_out : Counter
        Kinds of content that is no line to run, with how many there were.
    """

    def __init__(self) -> None:
        self._kind: list[int] = []
        self._data: list[tuple[float, ...]] = []
        self._stroke: list[int] = []
        self._group: list[int] = []
        self._place: list[str] = []
        self._groups: dict[Group, int] = {}
        self._open: tuple[Group, str] | None = None
        self.left_out: Counter[str] = Counter()

    def begin(self, group: Group, place: str) -> None:
        """Start a stroke; it counts once a piece is drawn."""
        self._open = (group, place)

    def _add(self, kind: int, data: tuple[float, ...]) -> None:
        if self._open is not None:
            group, place = self._open
            self._group.append(self._groups.setdefault(group, len(self._groups)))
            self._place.append(place)
            self._open = None
        self._kind.append(kind)
        self._data.append(data)
        self._stroke.append(len(self._group) - 1)

    def line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Draw a straight line."""
        self._add(LINE, (x0, y0, x1, y1, 0.0, 0.0, 0.0, 0.0))

    def arc(  # noqa: PLR0917 - the numbers of an arc, in the order they are kept
        self, cx: float, cy: float, ax: float, ay: float, bx: float, by: float, start: float, end: float
    ) -> None:
        """Draw an arc ``centre + a cos t + b sin t`` from ``start`` to ``end`` [radians]."""
        self._add(ARC, (cx, cy, ax, ay, bx, by, start, end))

    def circle(self, cx: float, cy: float, radius: float, start: float, end: float) -> None:
        """Draw an arc of a circle from ``start`` to ``end`` [radians]."""
        self.arc(cx, cy, radius, 0.0, 0.0, radius, start, end)

    def cubic(self, points: Iterable[float]) -> None:
        """Draw a cubic curve by the eight coordinates of its control points."""
        self._add(CUBIC, tuple(points))

    @property
    def drawn(self) -> int:
        """Number of pieces so far; readers stop at a limit."""
        return len(self._kind)

    def strokes(self) -> tuple[Strokes, tuple[Group, ...], list[str]]:
        """Return what was drawn, its groups, and the places of pieces that were not finite numbers.

        Returns
        -------
        strokes : Strokes
        groups : tuple of Group
        broken : list of str
            Places of the strokes that held such a piece; the piece is left out.
        """
        data = np.array(self._data, float).reshape(-1, 8)
        stroke = np.array(self._stroke, np.int64)
        # beyond 1e12 a square no longer holds a millimetre, and no drawing is that large
        good = np.isfinite(data).all(axis=1) & (np.abs(data).max(axis=1, initial=0) < 1e12)
        broken = [self._place[s] for s in np.unique(stroke[~good])]
        kept = np.zeros(len(self._group), bool)
        kept[stroke[good]] = True
        found = Strokes(
            np.array(self._kind, np.int8)[good],
            data[good],
            (np.cumsum(kept) - 1)[stroke[good]],
            np.array(self._group, np.int64)[kept],
            tuple(p for p, k in zip(self._place, kept, strict=True) if k),
        )
        return found, tuple(self._groups), broken
