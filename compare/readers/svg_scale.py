"""Lengths, maps and the scale of an SVG file.

A width or height with a physical unit together with the ``viewBox`` gives the scale. Pixels alone do
not, for files at 96 and at 90 to the inch are both about: the reader asks.
"""

from __future__ import annotations

import math
import re
from typing import Any, NamedTuple

from compare.errors import Finding

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "pt": 25.4 / 72}
"""Units that a user may state for a drawing whose file gives none."""

MM_PER_INCH = 25.4
PHYSICAL = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}
"""Physical units of the standard [mm]."""

PIXELS_PER_INCH = {"px96": 96.0, "px90": 90.0}
"""Densities in use for files in pixels; drawing programs of the past had 90."""

_A_SIZES = {0: (841, 1189), 1: (594, 841), 2: (420, 594), 3: (297, 420), 4: (210, 297), 5: (148, 210), 6: (105, 148)}
"""Trimmed sizes of the A series of ISO 216 [mm]."""

NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_LENGTH = re.compile(rf"\s*({NUMBER.pattern})\s*([a-zA-Z]*|%)\s*\Z")

Affine = tuple[float, float, float, float, float, float]
"""Numbers a b c d e f of ``x' = a x + c y + e`` and ``y' = b x + d y + f``."""


def times(outer: Affine, inner: Affine) -> Affine:
    """Return the map that does the inner one first."""
    a, b, c, d, e, f = outer
    g, h, i, j, k, m = inner
    return a * g + c * h, b * g + d * h, a * i + c * j, b * i + d * j, a * k + c * m + e, b * k + d * m + f


def quantity(text: str | None) -> tuple[float, str] | None:
    """Return number and unit of a length, the unit in small letters; None where it is none."""
    match = _LENGTH.match(text[:64]) if text else None
    return (float(match[1]), match[2].lower()) if match else None


def user_units(text: str | None, whole: float, per_inch: float) -> float:
    """Return a length in user units, a share being one of the whole; NaN where it can't be known."""
    number, unit = quantity(text) or (math.nan, "")
    if unit in ("", "px"):
        return number
    if unit == "%":
        return number * whole / 100
    return number * PHYSICAL.get(unit, math.nan) * per_inch / MM_PER_INCH


class Scale(NamedTuple):
    """How user units become the unit of the drawing."""

    unit: str | None
    mm_per_unit: float | None
    source: str
    matrix: Affine
    view: tuple[float, float]
    per_inch: float
    findings: list[Finding]


def scale_of(root: Any, unit: str | None, name: str) -> Scale:
    """Work out unit and scale from the size of the root element."""
    box = view_box(root)
    sides = [_side(root.get(side)) for side in ("width", "height")]
    given = next((side[1] for side in sides if side is not None and side[1] in PHYSICAL), None)
    findings: list[Finding] = []
    per_inch, view = 96.0, (box[2], box[3]) if box else (math.nan, math.nan)
    mm: float | None
    sizes: list[float | None]
    if unit in MM_PER_UNIT:
        mm, source, sizes = MM_PER_UNIT[unit], f"stated: one user unit is 1 {unit}", [None, None]
        per_inch = MM_PER_INCH / mm
    elif unit is not None:
        per_inch = PIXELS_PER_INCH[unit]
        mm, source = MM_PER_INCH / per_inch, f"stated: {per_inch:g} pixels are an inch"
        sizes = [_size(side, per_inch, None) for side in sides]
    elif given is not None and box is not None:
        mm, unit = PHYSICAL[given], given
        source = f"width and height of the file, {root.get('width')} x {root.get('height')}, and its viewBox"
        sizes = [_size(side, 96.0, given) for side in sides]
    elif given is not None:
        mm, unit, sizes = MM_PER_INCH / 96, "px96", [_size(side, 96.0, None) for side in sides]
        source = f"width {root.get('width')} without a viewBox: 96 pixels are an inch, as CSS has it"
        message = "the size is physical but there is no viewBox; coordinates are taken at 96 to the inch, as CSS has it"
        findings.append(Finding("drawing.no_viewbox", message, name, "caution"))
    else:
        mm, source, sizes = None, "the file does not say", [_size(side, 96.0, None) for side in sides]
        findings.append(_question(sides, box, name))
    # a side that the file leaves open follows the other one, as the standard has it
    if box is None:
        width, height = (size if size is not None else math.nan for size in sizes)
        matrix: Affine = (1, 0, 0, -1, 0, height if math.isfinite(height) else 0.0)
        view = (width, height)
    else:
        known = [size / side for size, side in zip(sizes, box[2:], strict=True) if size is not None]
        width, height = (
            s if s is not None else (known or [1.0])[0] * side for s, side in zip(sizes, box[2:], strict=True)
        )
        a, b, c, d, e, f = fitted(box, width, height, root.get("preserveAspectRatio"))
        matrix = (a, -b, c, -d, e, height - f)
    return Scale(unit, mm, source, matrix, view, per_inch, findings)


def _side(text: str | None) -> tuple[float, str] | None:
    """Return number and unit of a width or height; None where it is left open or a share of nothing."""
    side = quantity(text)
    if side is None or side[1] not in {"", "px", *PHYSICAL} or not 0 < side[0] < math.inf:
        return None
    return side[0], side[1].replace("px", "")


def _size(side: tuple[float, str] | None, per_inch: float, unit: str | None) -> float | None:
    """Return a side in pixels, or in a physical unit."""
    if side is None:
        return None
    mm = side[0] * (PHYSICAL[side[1]] if side[1] else MM_PER_INCH / per_inch)
    if side[1] == (unit or ""):
        return side[0]
    return mm / (PHYSICAL[unit] if unit else MM_PER_INCH / per_inch)


def _question(sides: list[tuple[float, str] | None], box: Affine | tuple[float, ...] | None, name: str) -> Finding:
    """Ask for the unit, and say what page the two densities in use would make."""
    message = "the file gives no physical size; state the unit: px96 or px90 for pixels, or mm, cm, in, pt"
    numbers = [side[0] for side in sides if side is not None] or list(box[2:] if box else [])
    if numbers:
        pages = []
        for per_inch in (96, 90):
            size = [number * MM_PER_INCH / per_inch for number in numbers]
            page = " x ".join(f"{round(mm, 1):g}" for mm in size) + " mm"
            known = [f"A{n}" for n, sides_mm in _A_SIZES.items() if _is_page(size, sides_mm)]
            pages.append(f"{per_inch} per inch makes it {page}" + (f", an {known[0]} page" if known else ""))
        what = "a width of " if len(numbers) == 1 else ""
        message += f"; {what}{' x '.join(f'{n:.10g}' for n in numbers)}: " + "; ".join(pages)
    return Finding("drawing.no_unit", message, name, "caution")


def _is_page(size: list[float], page: tuple[int, int]) -> bool:
    """Whether sides in millimetres are those of a page, upright or lying, or its short side alone."""
    if len(size) == 1:
        return abs(size[0] - page[0]) < 0.3
    return any(all(abs(a - b) < 0.3 for a, b in zip(size, sides, strict=True)) for sides in (page, page[::-1]))


def view_box(element: Any) -> tuple[float, float, float, float] | None:
    """Return x, y, width and height of a ``viewBox``, None where there is none that can be used."""
    numbers = [float(n) for n in NUMBER.findall(element.get("viewBox") or "")]
    if len(numbers) != 4 or not all(map(math.isfinite, numbers)) or min(numbers[2:]) <= 0:
        return None
    return numbers[0], numbers[1], numbers[2], numbers[3]


def fitted(box: tuple[float, float, float, float], width: float, height: float, aspect: str | None) -> Affine:
    """Return the map of a ``viewBox`` onto a rectangle at the origin, as ``preserveAspectRatio`` has it."""
    words = (aspect or "xMidYMid").replace("defer", "").split() or ["xMidYMid"]
    sx, sy = width / box[2], height / box[3]
    if words[0] == "none":
        return sx, 0, 0, sy, -box[0] * sx, -box[1] * sy
    s = max(sx, sy) if "slice" in words else min(sx, sy)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    right, down = share.get(words[0][1:4], 0.5), share.get(words[0][5:8], 0.5)
    return s, 0, 0, s, (width - box[2] * s) * right - box[0] * s, (height - box[3] * s) * down - box[1] * s
