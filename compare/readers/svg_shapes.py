"""Draw the shapes of SVG with a pen: straight lines, arcs and curves, each kept exact under any affine map."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import lru_cache
from typing import Any, NamedTuple

from svgelements import Matrix, SVGLexicalParser

from compare.errors import InputError
from compare.geometry.strokes import Pen
from compare.readers.svg_scale import NUMBER, Affine

MOST_PIECES = 2_000_000
SHAPES = frozenset({"path", "line", "polyline", "polygon", "rect", "circle", "ellipse"})

_POINT_AT_END = re.compile(r"(?<=\d)\.(?!\d)")

UNREADABLE = (ValueError, TypeError, ArithmeticError, IndexError, AttributeError)
"""What the library raises on text that is no path and no transform."""


@lru_cache(maxsize=4096)
def transform(text: str) -> Affine:
    """Read a list of transforms.

    Raises
    ------
    ValueError, TypeError, ArithmeticError, IndexError, AttributeError
        It can't be read, or is longer than any program writes it.
    """
    if len(text) > 4096:
        raise ValueError
    m = Matrix(text)
    return float(m.a), float(m.b), float(m.c), float(m.d), float(m.e), float(m.f)


class Brush:
    """A pen that draws in user units through a map, one stroke for each time it is set down."""

    def __init__(self, pen: Pen, matrix: Affine, begin: Callable[[], None]) -> None:
        self._pen, self._matrix, self._begin = pen, matrix, begin

    def _at(self, x: float, y: float) -> tuple[float, float]:
        a, b, c, d, e, f = self._matrix
        return a * x + c * y + e, b * x + d * y + f

    def move(self) -> None:
        """Set the pen down anew."""
        self._begin()

    def line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Draw a straight line, unless it has no length."""
        if x0 != x1 or y0 != y1:
            self._pen.line(*self._at(x0, y0), *self._at(x1, y1))

    def cubic(self, x0: float, y0: float, x1: float, y1: float, x2: float, y2: float, x3: float, y3: float) -> None:  # noqa: PLR0917
        """Draw a cubic curve, unless all its points are one."""
        if (x0, y0) != (x1, y1) or (x0, y0) != (x2, y2) or (x0, y0) != (x3, y3):
            self._pen.cubic((*self._at(x0, y0), *self._at(x1, y1), *self._at(x2, y2), *self._at(x3, y3)))

    def arc(self, cx: float, cy: float, ax: float, ay: float, bx: float, by: float, start: float, end: float) -> None:  # noqa: PLR0917
        """Draw an arc ``centre + a cos t + b sin t``; the map turns its half axes."""
        a, b, c, d = self._matrix[:4]
        self._pen.arc(*self._at(cx, cy), a * ax + c * ay, b * ax + d * ay, a * bx + c * by, b * bx + d * by, start, end)


class _At(NamedTuple):
    """A place, as the grammar of paths wants to see it."""

    x: float
    y: float


class _PathPen:
    """What the grammar of paths calls, command by command."""

    def __init__(self, brush: Brush, pen: Pen) -> None:
        self._brush, self._pen = brush, pen
        self._first = _At(0.0, 0.0)
        self._at: _At | None = None
        self._mirrored: tuple[str, float, float] | None = None
        self._down = False

    @property
    def current_point(self) -> _At | None:
        """Where the path has come to."""
        return self._at

    def start(self) -> None:
        """Begin a path."""

    def end(self) -> None:
        """End a path."""

    def _go(self, x: float, y: float, control: tuple[str, float, float] | None = None) -> None:
        self._at, self._mirrored = _At(x, y), control

    def _from(self) -> _At:
        if self._at is None:  # the standard wants a move first
            raise ValueError
        if not self._down:
            if self._pen.drawn > MOST_PIECES:
                raise InputError(f"more than {MOST_PIECES:,} pieces are drawn", remedy="save the die lines alone")
            self._brush.move()
            self._down = True
        return self._at

    def _to(self, place: Any) -> tuple[float, float]:
        """Return a place; the letter of a closed path stands for its first point."""
        return self._first if isinstance(place, str) else (place[0], place[1])

    def _control(self, kind: str) -> tuple[float, float]:
        """Return the control point mirrored at the current one, if the curve before was of this kind."""
        at = self._from()
        if self._mirrored is None or self._mirrored[0] != kind:
            return at
        return 2 * at.x - self._mirrored[1], 2 * at.y - self._mirrored[2]

    def move(self, place: Any, relative: bool = False) -> None:
        """Lift the pen and go somewhere."""
        self._first = _At(*self._to(place))
        self._down = False
        self._go(*self._first)

    def line(self, place: Any, relative: bool = False) -> None:
        """Draw a straight line."""
        at, end = self._from(), self._to(place)
        self._brush.line(*at, *end)
        self._go(*end)

    def horizontal(self, x: float, relative: bool = False) -> None:
        """Draw a level line."""
        at = self._from()
        self.line((x + at.x if relative else x + 0.0, at.y))

    def vertical(self, y: float, relative: bool = False) -> None:
        """Draw an upright line."""
        at = self._from()
        self.line((at.x, y + at.y if relative else y + 0.0))

    def cubic(self, first: Any, second: Any, place: Any, relative: bool = False) -> None:
        """Draw a cubic curve."""
        at, one, two, end = self._from(), self._to(first), self._to(second), self._to(place)
        self._brush.cubic(*at, *one, *two, *end)
        self._go(*end, ("cubic", *two))

    def smooth_cubic(self, second: Any, place: Any, relative: bool = False) -> None:
        """Draw a cubic curve that goes on as the one before ended."""
        self.cubic(self._control("cubic"), second, place)

    def quad(self, control: Any, place: Any, relative: bool = False) -> None:
        """Draw a quadratic curve, raised to a cubic one, which is the same curve."""
        at, one, end = self._from(), self._to(control), self._to(place)
        first, second = ([(p + 2 * c) / 3 for p, c in zip(side, one, strict=True)] for side in (at, end))
        self._brush.cubic(*at, first[0], first[1], second[0], second[1], *end)
        self._go(*end, ("quad", *one))

    def smooth_quad(self, place: Any, relative: bool = False) -> None:
        """Draw a quadratic curve that goes on as the one before ended."""
        self.quad(self._control("quad"), place)

    def arc(  # noqa: PLR0917 - in the order of the command
        self, rx: float, ry: float, rotation: float, large: bool, sweep: bool, place: Any, relative: bool = False
    ) -> None:
        """Draw an arc of an ellipse."""
        at, end = self._from(), self._to(place)
        if at != end and (rx == 0 or ry == 0):
            self._brush.line(*at, *end)
        elif at != end:
            self._brush.arc(*_arc(at, abs(rx), abs(ry), rotation, large, sweep, end))
        self._go(*end)

    def closed(self, relative: bool = False) -> None:
        """Draw back to the first point; ends that meet but for the last digit are not joined by a line."""
        at = self._from()
        size = max(1.0, *map(abs, (*at, *self._first)))
        if max(abs(at.x - self._first.x), abs(at.y - self._first.y)) > 1e-12 * size:
            self._brush.line(*at, *self._first)
        self._go(*self._first)


def _arc(  # noqa: PLR0917 - the numbers of the command, in its order
    start: tuple[float, float],
    rx: float,
    ry: float,
    rotation: float,
    large: bool,
    sweep: bool,
    end: tuple[float, float],
) -> tuple[float, float, float, float, float, float, float, float]:
    """Return an arc by its centre and half axes.

    Worked out where the ellipse is a circle of radius 1: its centre lies on the line that halves the
    chord. Radii too short for the chord grow until they reach, as the standard has it.
    """
    cos, sin = math.cos(math.radians(rotation)), math.sin(math.radians(rotation))
    (x0, y0), (x1, y1) = (((cos * x + sin * y) / rx, (cos * y - sin * x) / ry) for x, y in (start, end))
    px, py = (x0 - x1) / 2, (y0 - y1) / 2
    half = math.hypot(px, py)
    away = 0.0 if half >= 1 else math.sqrt((1 - half) * (1 + half)) / half * (1 if large != sweep else -1)
    cx, cy = (x0 + x1) / 2 + away * py, (y0 + y1) / 2 - away * px
    from_ = math.atan2(y0 - cy, x0 - cx)
    turn = (math.atan2(y1 - cy, x1 - cx) - from_) % math.tau - (0.0 if sweep else math.tau)
    if not large and abs(turn) > math.pi + 1e-6:  # an arc so short that its ends fall together
        turn -= math.copysign(math.tau, turn)
    grown = max(half, 1.0)
    ax, ay, bx, by = cos * rx, sin * rx, -sin * ry, cos * ry
    return (
        cx * ax + cy * bx, cx * ay + cy * by, ax * grown, ay * grown, bx * grown, by * grown, from_, from_ + turn
    )  # fmt: skip


def draw_path(pen: Pen, brush: Brush, data: str) -> bool:
    """Draw a path as far as it can be read.

    Returns
    -------
    bool
        Whether all of it could be read.
    """
    data = _POINT_AT_END.sub("", data)
    grammar = SVGLexicalParser()
    try:
        grammar.parse(_PathPen(brush, pen), data)
    except UNREADABLE as error:
        if isinstance(error, InputError):
            raise
        return False
    return not data[grammar.pos :].strip() and data.strip()[:1] in "Mm"


def draw_shape(brush: Brush, tag: str, element: Any, number: Callable[[str, str], float | None]) -> bool:
    """Draw one of the basic shapes.

    Parameters
    ----------
    brush : Brush
    tag : str
        Its kind.
    element : element
    number : callable
        Gives an attribute in user units by name and direction (``x``, ``y`` or ``r`` for the
        diagonal), None where the element has none.

    Returns
    -------
    bool
        Whether its numbers make sense.
    """
    if tag in ("polyline", "polygon"):
        text = element.get("points") or ""
        numbers = [float(n) for n in NUMBER.findall(text)]
        points = list(zip(numbers[::2], numbers[1::2], strict=False))
        brush.move()
        for (x0, y0), (x1, y1) in zip(
            points, points[1:] + points[:1] if tag == "polygon" else points[1:], strict=False
        ):
            brush.line(x0, y0, x1, y1)
        return len(numbers) % 2 == 0 and not NUMBER.sub("", text).replace(",", "").strip()
    brush.move()
    if tag == "line":
        brush.line(*(number(name, name[0]) or 0.0 for name in ("x1", "y1", "x2", "y2")))
        return True
    if tag == "rect":
        return _draw_rect(brush, number)
    cx, cy = number("cx", "x") or 0.0, number("cy", "y") or 0.0
    if tag == "circle":
        rx = ry = number("r", "r") or 0.0
    else:
        one, other = number("rx", "x"), number("ry", "y")
        rx = one if one is not None else other or 0.0
        ry = other if other is not None else one or 0.0
    if rx > 0 and ry > 0:
        brush.arc(cx, cy, rx, 0.0, 0.0, ry, 0.0, math.tau)
    return not (rx < 0 or ry < 0 or math.isnan(rx) or math.isnan(ry))


def _draw_rect(brush: Brush, number: Callable[[str, str], float | None]) -> bool:
    """Draw a rectangle; rounded corners are quarters of an ellipse."""
    x, y, w, h = (number(name, way) or 0.0 for name, way in (("x", "x"), ("y", "y"), ("width", "x"), ("height", "y")))
    if not (w > 0 and h > 0):
        return w == 0 or h == 0
    one, other = number("rx", "x"), number("ry", "y")
    rx = min(max(one if one is not None else other or 0.0, 0.0), w / 2)
    ry = min(max(other if other is not None else one or 0.0, 0.0), h / 2)
    if rx == 0 or ry == 0:
        rx = ry = 0.0
    right, top, quarter = x + w, y + h, math.pi / 2
    sides = (
        ((x + rx, y), (right - rx, y), (right - rx, y + ry)),
        ((right, y + ry), (right, top - ry), (right - rx, top - ry)),
        ((right - rx, top), (x + rx, top), (x + rx, top - ry)),
        ((x, top - ry), (x, y + ry), (x + rx, y + ry)),
    )
    for n, (start, end, centre) in enumerate(sides):
        brush.line(*start, *end)
        if rx:
            brush.arc(*centre, rx, 0.0, 0.0, ry, (n - 1) * quarter, n * quarter)
    return True
