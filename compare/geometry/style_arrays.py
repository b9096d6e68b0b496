"""The six carton styles measured for whole columns of dimensions, without a loop over cartons.

A style is drawn once, in :mod:`compare.geometry.styles`. All its coordinates are sums of dimensions and
flaps with whole factors, so these factors are read off the drawing itself, and a column of cartons
is measured by the same sides and corners as one carton is. There is no second drawing to keep in step.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from typing import NamedTuple

import numpy as np

from compare.assumptions import Number
from compare.errors import unknown_name
from compare.geometry.linework import Point, box_size, ring_segments
from compare.geometry.styles import STYLES, Blank, Flaps, build_blank

_FIELDS = tuple(field.name for field in fields(Flaps))
_AT = (103.0, 37.0, 211.0, 15.3, 3.1, 2.3, 14.7, 27.9, 35.1, 28.3, 29.2, 24.1, 199.3, 3.7)
"""A carton without two equal lengths [mm]: every corner of its drawing is one."""

_TAPERS = ("flap_taper", "tray_tab_taper")
_TOUCHING_MM, _TOUCHING_SHARE = 0.01, 1e-6
"""Flaps closer than this, or than this share of the blank, may share a knife line; such cartons are drawn one by one."""

_TURNED = 1e-9
"""A corner that turns less is no bend."""

Form = tuple[int, ...]
"""Factor of each field of :class:`Flaps` in a coordinate."""

_Side = tuple[Form, Form]


class StyleMeasures(NamedTuple):
    """What :func:`compare.geometry.styles.build_blank` and its properties say, for columns of cartons.

    Attributes
    ----------
    fits : ndarray
        Whether the dimensions leave room for every flap; where not, all else is NaN.
    area_mm2 : ndarray
        Net area [mm2].
    width_mm, height_mm : ndarray
        Box around the blank [mm].
    cut_mm, crease_mm : ndarray
        Length of cuts and of creases [mm].
    bends, strokes, corner_load : ndarray
        As in :class:`compare.geometry.linework.CutLines`.
    """

    fits: np.ndarray
    area_mm2: np.ndarray
    width_mm: np.ndarray
    height_mm: np.ndarray
    cut_mm: np.ndarray
    crease_mm: np.ndarray
    bends: np.ndarray
    strokes: np.ndarray
    corner_load: np.ndarray


@dataclass(frozen=True)
class _Plan:
    """How a style is measured: sides, corners and creases that are alike are worked out once."""

    area: tuple[tuple[int, int, float], ...]
    highest: tuple[tuple[Form, ...], tuple[Form, ...]]
    lowest: tuple[tuple[Form, ...], tuple[Form, ...]]
    sides: Mapping[_Side, int]
    corners: Mapping[tuple[_Side, _Side], int]
    square_corners: int
    creases: Mapping[_Side, int]
    tapers: tuple[str, ...]


@cache
def _plan(style: str) -> _Plan:
    points, creases = _forms(style)
    steps = [_minus(b, a) for a, b in ring_segments(points)]  # type: ignore[arg-type]
    pairs = [(steps[i - 1], steps[i]) for i in range(len(steps))]
    square = [pair for pair in pairs if _along_axes(pair[0]) and _along_axes(pair[1]) and not _parallel(*pair)]
    corners = Counter(_corner_key(a, b) for a, b in pairs if (a, b) not in square)
    used = {name for k, name in enumerate(_FIELDS) if any(p[axis][k] for p in points for axis in (0, 1))}
    xs, ys = {p[0] for p in points}, {p[1] for p in points}
    return _Plan(
        area=_area_terms(points),
        highest=(_outermost(xs), _outermost(ys)),
        lowest=(_outermost(map(_negative, xs)), _outermost(map(_negative, ys))),
        sides=Counter(_unsigned(step) for step in steps),
        corners=corners,
        square_corners=len(square),
        creases=Counter(_unsigned(_minus(b, a)) for a, b in creases),
        tapers=tuple(name for name in _TAPERS if name in used),
    )


def _forms(style: str) -> tuple[list[_Side], list[tuple[_Side, _Side]]]:
    """Read the factors off drawings that differ in one field at a time."""

    def draw(at: tuple[float, ...]) -> tuple[list[Point], list[tuple[Point, Point]]]:
        blank = STYLES[style](Flaps(*at))
        return list(blank.outline), list(blank.creases)

    outline, creases = draw(_AT)
    moved = [draw((*_AT[:k], _AT[k] + 1, *_AT[k + 1 :])) for k in range(len(_AT))]

    def form(value: float, others: list[float]) -> Form:
        factors = tuple(round(other - value) for other in others)
        drift = abs(sum(f * a for f, a in zip(factors, _AT, strict=True)) - value)
        if drift > 1e-9:  # pragma: no cover - a style that is drawn otherwise would need another way to be measured
            raise AssertionError(f"a coordinate of {style} is no sum of its dimensions")
        return factors

    def side(point: Point, others: list[Point]) -> _Side:
        return form(point[0], [p[0] for p in others]), form(point[1], [p[1] for p in others])

    points = [side(point, [m[0][i] for m in moved]) for i, point in enumerate(outline)]
    lines = [
        (side(a, [m[1][i][0] for m in moved]), side(b, [m[1][i][1] for m in moved])) for i, (a, b) in enumerate(creases)
    ]
    return points, lines


def _negative(form: Form) -> Form:
    return tuple(-f for f in form)


def _minus(b: _Side, a: _Side) -> _Side:
    return tuple(q - p for p, q in zip(a[0], b[0], strict=True)), tuple(q - p for p, q in zip(a[1], b[1], strict=True))


def _unsigned(step: _Side) -> _Side:
    """Return the step to the right and upwards that has the same length."""
    return max(step[0], _negative(step[0])), max(step[1], _negative(step[1]))


def _along_axes(step: _Side) -> bool:
    return not any(step[0]) or not any(step[1])


def _parallel(a: _Side, b: _Side) -> bool:
    return any(a[0]) == any(b[0])


def _corner_key(a: _Side, b: _Side) -> tuple[_Side, _Side]:
    """Return one corner for all that are alike: mirrored, or run the other way."""
    alike = []
    for one, two in ((a, b), (b, a)):
        for x in (1, -1):
            for y in (1, -1):
                alike += [tuple((tuple(x * f for f in s[0]), tuple(y * f for f in s[1])) for s in (one, two))]
    return max(alike)  # type: ignore[return-value]


def _area_terms(points: list[_Side]) -> tuple[tuple[int, int, float], ...]:
    """Return the shoelace formula as factors of products of two fields."""
    count = len(_FIELDS)
    total = np.zeros((count, count))
    for (ax, ay), (bx, by) in ring_segments(points):  # type: ignore[arg-type]
        total += np.outer(ax, by) - np.outer(bx, ay)
    total = (total + total.T) / 2
    total *= np.sign(_AT @ total @ np.array(_AT)) / 2
    return tuple(
        (i, j, float(total[i, j] * (1 if i == j else 2))) for i in range(count) for j in range(i, count) if total[i, j]
    )


def _outermost(forms: object) -> tuple[Form, ...]:
    """Drop coordinates that another one always exceeds: no field is negative."""
    distinct = set(forms)  # type: ignore[call-overload]
    return tuple(
        sorted(
            f for f in distinct if not any(g != f and all(a <= b for a, b in zip(f, g, strict=True)) for g in distinct)
        )
    )


class _Column:
    """The fields of a column of cartons, and sums of them."""

    def __init__(self, values: tuple[Number, ...]) -> None:
        self.values = values
        self._sums: dict[Form, Number] = {}

    def sum(self, form: Form) -> Number:
        """Return the value of a form; each is worked out once."""
        if form not in self._sums:
            plain, total = 0.0, None
            for factor, value in zip(form, self.values, strict=True):
                if not factor:
                    continue
                if np.ndim(value) == 0:
                    plain += factor * float(value)
                else:
                    part = value if factor == 1 else factor * value
                    total = part if total is None else total + part
            self._sums[form] = plain if total is None else total + plain if plain else total
        return self._sums[form]

    def length(self, side: _Side) -> Number:
        """Return the length of a side."""
        if not any(side[0]):
            return np.abs(self.sum(side[1]))
        if not any(side[1]):
            return np.abs(self.sum(side[0]))
        across, along = self.sum(side[0]), self.sum(side[1])
        return np.sqrt(across * across + along * along)


def measure_style(style: str, carton: Mapping[str, Number]) -> StyleMeasures:
    """Measure a column of cartons of one style.

    Parameters
    ----------
    style : str
        One of the six styles.
    carton : mapping
        The ``carton.*`` inputs without their prefix: numbers, or arrays of one length [mm, shares -].
        ``dust_flap_mm`` may be left out, or be NaN for cartons whose dust flaps follow from the width.

    Returns
    -------
    StyleMeasures
        The same as :func:`compare.geometry.styles.build_blank` gives one by one, to 1e-9.

    Raises
    ------
    UnknownNameError
        If the style is unknown.

    Notes
    -----
    Flaps without a taper share knife lines with their neighbours, which then count once. Such
    cartons are drawn one by one, equal ones once.
    """
    if style not in STYLES:
        raise unknown_name(style, STYLES, where="carton.style", what="style")
    f = _flaps(carton)
    shape = np.broadcast_shapes(*(np.shape(value) for value in f.values()), (1,))
    plan = _plan(style)
    fits = np.broadcast_to(_has_room(style, f), shape)
    size = sum(f.values())
    touching = np.zeros(shape, dtype=bool)
    for name in plan.tapers:
        touching = touching | np.less(f[name], _TOUCHING_MM + _TOUCHING_SHARE * size)
    with np.errstate(all="ignore"):  # cartons without room give figures that nobody sees
        measured = _measure(plan, _Column(tuple(f[name] for name in _FIELDS)), shape)
    if not fits.all():
        measured = [np.where(fits, values, np.nan) for values in measured]
    one_by_one = fits & touching
    if one_by_one.any():
        measured = [values if values.flags.writeable else values.copy() for values in measured]
        _draw_each(style, carton, np.flatnonzero(one_by_one), shape, measured)
    return StyleMeasures(fits, *measured)


def _flaps(carton: Mapping[str, Number]) -> dict[str, Number]:
    """Work out every flap, as :meth:`compare.geometry.styles.Flaps.from_inputs` does for one carton."""
    length, width, height = carton["length_mm"], carton["width_mm"], carton["height_mm"]
    dust: Number = np.minimum(carton["dust_flap_share"] * width, length / 2)
    if "dust_flap_mm" in carton:
        given = carton["dust_flap_mm"]
        dust = np.where(np.isnan(given), dust, given)
    return {
        "length": length,
        "width": width,
        "height": height,
        "glue_flap": carton["glue_flap_mm"],
        "glue_flap_bevel": carton["glue_flap_bevel_mm"],
        "flap_taper": carton["flap_taper_mm"],
        "tuck_flap": carton["tuck_flap_mm"],
        "dust_flap": dust,
        "seal_outer": width - carton["seal_clearance_mm"],
        "seal_inner": carton["inner_flap_share"] * width,
        "lock_long": width / 2 + carton["lock_overlap_mm"],
        "lock_short": width / 2 + carton["lock_web_mm"],
        "tray_tab": height - carton["tray_tab_clearance_mm"],
        "tray_tab_taper": carton["tray_tab_taper_mm"],
    }


def _has_room(style: str, f: Mapping[str, Number]) -> np.ndarray:
    """Say where the dimensions leave room, as :func:`compare.geometry.styles.build_blank` demands."""
    if style == "glued_tray":
        return np.asarray(np.greater(f["tray_tab"], 0) & np.greater(f["height"], 2 * f["tray_tab_taper"]))
    fits = np.greater(f["height"], 2 * f["glue_flap_bevel"])
    if style != "sleeve":
        fits = fits & np.greater(np.minimum(f["length"], f["width"]), 2 * f["flap_taper"])
    if style == "seal_end":
        fits = fits & np.greater(f["seal_outer"], 0)
    return np.asarray(fits)


def _measure(plan: _Plan, column: _Column, shape: tuple[int, ...]) -> list[np.ndarray]:
    v = column.values
    area: Number = sum(factor * (v[i] * v[j]) for i, j, factor in plan.area)
    box = [_largest(column, high) + _largest(column, low) for high, low in zip(plan.highest, plan.lowest, strict=True)]
    lengths = {side: column.length(side) for side in plan.sides}
    cut = sum(count * lengths[side] for side, count in plan.sides.items())
    crease = sum(count * column.length(side) for side, count in plan.creases.items())
    load: Number = float(plan.square_corners)
    bends: Number = float(plan.square_corners)
    sharpest: Number = 1.0 if plan.square_corners else 0.0
    for (a, b), count in plan.corners.items():
        dot: Number = 0.0
        for axis in (0, 1):
            if any(a[axis]) and any(b[axis]):
                dot = dot + column.sum(a[axis]) * column.sum(b[axis])
        turn = 1 - dot / (lengths[_unsigned(a)] * lengths[_unsigned(b)])
        load = load + count * turn
        bends = bends + count * np.greater(turn, _TURNED)
        sharpest = np.maximum(sharpest, turn)
    # one closed line, which starts at its sharpest corner
    return [np.broadcast_to(x, shape) for x in (area, *box, cut, crease, bends, 1.0, load - sharpest)]


def _largest(column: _Column, forms: tuple[Form, ...]) -> Number:
    largest = column.sum(forms[0])
    for form in forms[1:]:
        largest = np.maximum(largest, column.sum(form))
    return largest


def _draw_each(
    style: str, carton: Mapping[str, Number], rows: np.ndarray, shape: tuple[int, ...], measured: list[np.ndarray]
) -> None:
    """Draw cartons one by one, equal ones once, and write what they measure."""
    names = [name for name, value in carton.items() if name.endswith(("_mm", "_share"))]
    table = np.column_stack([np.broadcast_to(carton[name], shape)[rows] for name in names])
    unlike, which = np.unique(table, axis=0, return_inverse=True)
    drawn = [
        build_blank(style, {name: float(v) for name, v in zip(names, row, strict=True) if not np.isnan(v)})
        for row in unlike
    ]
    for values, one in zip(measured, zip(*(_figures(blank) for blank in drawn), strict=True), strict=True):
        values[rows] = np.array(one)[which.reshape(-1)]


def _figures(blank: Blank) -> tuple[float, ...]:
    width, height = box_size(blank.outline)
    cut = blank.cut
    return (
        blank.area_mm2, width, height, cut.length_mm, blank.crease_mm, float(cut.bends), float(cut.strokes), cut.corner_load,
    )  # fmt: skip
