"""The lines of one block or layout of a DXF file, entity by entity, as flat arrays.

Lines, arcs and ellipses are kept as they are, by plain formulas. A bulge b is the tangent of a
quarter of the angle its arc turns. Splines become cubic curves: without loss up to the third degree
and equal weights, else closely enough for a millionth of their length. What lies out of the plane
is taken as seen from above.
"""

from __future__ import annotations

import math
from array import array
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from ezdxf.lldxf.const import DXFError

from compare.errors import InputError
from compare.geometry.strokes import ARC, CUBIC, LINE, Array
from compare.readers.dxf_planes import FLAT, Axes, Reference, axes_of, reference_of, turn_of
from compare.readers.dxf_splines import curve_pieces, span_curves

MOST_PIECES = 2_000_000
"""Pieces of a drawing that are read at most."""

BY_BLOCK, BY_LAYER = 0, 256
"""Colour numbers that leave the colour to the block reference or to the layer."""

_TAU = 2 * math.pi
_NEARLY_STRAIGHT = 1e-7
"""A smaller bulge bows by less than this share of its chord; its centre would lie too far off to be exact."""

_LEVEL = 1e-6
"""A slope below makes no line longer by a millionth of a millionth: it lies flat."""

_FAULTS = (DXFError, ValueError, TypeError, ArithmeticError, LookupError, AttributeError, AssertionError)
"""What broken attributes make of formulas, here and in the library."""

_OTHERS = {
    **dict.fromkeys(("TEXT", "MTEXT", "ATTRIB", "ATTDEF", "ARCALIGNEDTEXT", "RTEXT"), "texts"),
    **dict.fromkeys(
        ("DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "MLEADER", "TOLERANCE"),
        "dimensions",
    ),
    **dict.fromkeys(("HATCH", "MPOLYGON"), "hatches"),
    **dict.fromkeys(("SOLID", "TRACE"), "filled areas"),
    **dict.fromkeys(
        ("3DFACE", "MESH", "3DSOLID", "BODY", "SURFACE", "EXTRUDEDSURFACE", "LOFTEDSURFACE", "NURBSURFACE",
         "PLANESURFACE", "REVOLVEDSURFACE", "SWEPTSURFACE"), "meshes and solids"
    ),
    **dict.fromkeys(
        ("IMAGE", "WIPEOUT", "OLEFRAME", "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"), "pictures"
    ),
    **dict.fromkeys(("XLINE", "RAY"), "endless lines"),
    "POINT": "points",
    "VIEWPORT": "viewports",
    "ACAD_TABLE": "tables",
    "REGION": "regions",
}  # fmt: skip

Look = tuple[str, int, "int | None", str]
"""Layer, colour number, true colour and line type as an entity states them."""


class Content:
    """What one block or layout draws itself, the blocks it refers to, and what is no line.

    Attributes
    ----------
    name : str
        Name of the block, empty for a layout.
    kind, data, stroke : array
        Pieces as in :class:`compare.geometry.strokes.Strokes`.
    looks : dict
        Look to its number.
    look, order, place : list
        Number of the look, place in the order of drawing, and place in the file of each stroke.
    references : list of Reference
    left_out, odd : Counter
        Kinds of content that is no line; kinds of lines that need a remark.
    unreadable : list of str
        Places of entities that could not be read.
    """

    def __init__(self, name: str = "") -> None:
        self.name = name
        self.kind, self.data, self.stroke = array("b"), array("d"), array("q")
        self.looks: dict[Look, int] = {}
        self.look: list[int] = []
        self.order: list[int] = []
        self.place: list[str] = []
        self.references: list[Reference] = []
        self.left_out: Counter[str] = Counter()
        self.odd: Counter[str] = Counter()
        self.unreadable: list[str] = []
        self._spans: dict[int, tuple[array[float], array[float], list[int]]] = {}

    def read(self, entities: Iterable[Any], frozen: Callable[[str], bool]) -> Content:
        """Read all entities.

        Parameters
        ----------
        entities : iterable of entities
            As the library has them.
        frozen : callable
            Whether the layer of a name is frozen: block references on it draw nothing.

        Returns
        -------
        Content
            Itself.

        Raises
        ------
        InputError
            If there are more than two million pieces.
        """
        tail = f" in block '{self.name}'" if self.name else ""
        for order, entity in enumerate(entities):
            if not entity.is_alive:  # repairs take broken ones away
                continue
            kind = entity.dxftype()
            attributes = vars(entity.dxf)  # as stored; looking each up by its name costs ten times as much
            place = f"{kind} #{attributes.get('handle')}{tail}"
            if kind in _DRAW:
                if attributes.get("invisible"):
                    self.odd["invisible"] += 1
                else:
                    self._draw(kind, entity, attributes, order, place)
            elif kind == "INSERT":
                self._refer(entity, attributes, order, place, frozen)
            elif kind == "MLINE":
                self._draw_parts(entity, attributes, order, place)
            else:
                self.left_out[_OTHERS.get(kind, kind)] += 1
        self._finish()
        return self

    def _draw(self, kind: str, entity: Any, attributes: dict[str, Any], order: int, place: str) -> None:
        """Draw an entity as one stroke."""
        pieces = len(self.kind)
        try:
            done = _DRAW[kind](self, entity, attributes)
        except _FAULTS:
            del self.kind[pieces:], self.data[8 * pieces :]
            self.unreadable.append(place)
            return
        drawn = len(self.kind) - pieces
        if drawn:
            self.stroke.extend([len(self.look)] * drawn)
            self.look.append(self._look_of(attributes))
            self.order.append(order)
            self.place.append(place)
            if pieces + drawn > MOST_PIECES:
                raise too_many()
        elif not done:
            self.left_out["lines without length"] += 1

    def _draw_parts(self, entity: Any, attributes: dict[str, Any], order: int, place: str) -> None:
        """Draw a multiline by the lines and caps that its style makes of it."""
        if attributes.get("invisible"):
            self.odd["invisible"] += 1
            return
        try:
            parts = list(entity.virtual_entities())
            broken = any(len(gaps) > 2 for vertex in entity.vertices for gaps in vertex.line_params)
        except _FAULTS:
            parts, broken = [], False
        if not parts:
            self.unreadable.append(place)
        self.odd["gaps"] += broken
        for part in parts:
            if part.dxftype() in _DRAW:
                self._draw(part.dxftype(), part, vars(part.dxf), order, place)

    def _refer(
        self, entity: Any, attributes: dict[str, Any], order: int, place: str, frozen: Callable[[str], bool]
    ) -> None:
        """Note a block reference: its matrix, its grid, and how it looks."""
        self.left_out["texts"] += len(entity.attribs)
        layer = attributes.get("layer", "0")
        if attributes.get("invisible"):
            self.odd["invisible"] += 1
        elif (layer != "0" or not self.name) and frozen(layer):
            self.odd["frozen"] += 1
        else:
            try:
                reference = reference_of(attributes, self._look_of(attributes), order)
            except _FAULTS:
                self.unreadable.append(place)
                return
            self.references.append(reference)
            self.odd["clipped"] += entity.extension_dict is not None and "ACAD_FILTER" in entity.extension_dict
            self.odd["tilted"] += "extrusion" in attributes and _tilted(attributes["extrusion"])

    def _look_of(self, attributes: dict[str, Any]) -> int:
        get = attributes.get
        look = (get("layer", "0"), get("color", BY_LAYER), get("true_color"), get("linetype", "BYLAYER"))
        return self.looks.setdefault(look, len(self.looks))

    def _finish(self) -> None:
        """Work out all plain splines at once: their places among the pieces were kept free."""
        for degree, (knots, points, offsets) in self._spans.items():
            curves = span_curves(np.array(knots).reshape(-1, 2 * degree), np.array(points).reshape(-1, degree + 1, 2))
            np.frombuffer(self.data).reshape(-1, 8)[offsets] = curves.reshape(-1, 8)
        self._spans.clear()

    # -- pieces -------------------------------------------------------------------------------------------------------

    def line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Draw a straight line, unless it has no length."""
        if x0 != x1 or y0 != y1:
            self.kind.append(LINE)
            self.data.extend((x0, y0, x1, y1, 0.0, 0.0, 0.0, 0.0))

    def arc(self, *numbers: float) -> None:
        """Draw an arc by the eight numbers that strokes keep of it."""
        self.kind.append(ARC)
        self.data.extend(numbers)

    def path(self, points: Sequence[Sequence[float]], closed: bool, axes: Axes) -> None:
        """Draw straight lines and bulges from point to point; each point is x, y and bulge in its own plane."""
        ax, ay, bx, by, nx, ny = axes
        turned = axes != FLAT
        ends = [*points[1:], points[0]] if closed else points[1:]
        for (x0, y0, bulge), (x1, y1, _) in zip(points, ends, strict=False):
            if abs(bulge) < _NEARLY_STRAIGHT:
                if turned:
                    self.line(
                        ax * x0 + bx * y0 + nx, ay * x0 + by * y0 + ny, ax * x1 + bx * y1 + nx, ay * x1 + by * y1 + ny
                    )
                else:
                    self.line(x0, y0, x1, y1)
            elif x0 != x1 or y0 != y1:
                # the centre lies on the left of the chord, 1 - b2 over 4 b of the chord from its middle
                off = (1 - bulge * bulge) / (4 * bulge)
                cx, cy = (x0 + x1) / 2 - off * (y1 - y0), (y0 + y1) / 2 + off * (x1 - x0)
                px, py = x0 - cx, y0 - cy
                qx, qy = (-py, px) if bulge > 0 else (py, -px)
                numbers = (cx, cy, px, py, qx, qy)
                if turned:
                    numbers = (
                        ax * cx + bx * cy + nx, ay * cx + by * cy + ny,
                        ax * px + bx * py, ay * px + by * py,
                        ax * qx + bx * qy, ay * qx + by * qy,
                    )  # fmt: skip
                self.arc(*numbers, 0.0, 4 * math.atan(abs(bulge)))

    def spline(self, degree: int, knots: Sequence[float], points: Array, weights: Sequence[float]) -> None:
        """Draw a spline by its control points, of shape (points, 2)."""
        count = len(points)
        if not 1 <= degree < count or len(knots) != count + degree + 1 or degree > 25:
            raise ValueError("knots and control points do not fit")
        if any(late < early for early, late in pairwise(knots)):
            raise ValueError("knots fall")
        if len(weights) and (len(weights) != count or min(weights) <= 0):
            raise ValueError("weights do not fit")
        spans = [k for k in range(degree, count) if knots[k] < knots[k + 1]]
        if degree <= 3 and (not len(weights) or min(weights) == max(weights)):
            kept_knots, kept_points, offsets = self._spans.setdefault(degree, (array("d"), array("d"), []))
            flat = points.ravel().tolist()
            for k in spans:
                kept_knots.extend(knots[k - degree + 1 : k + degree + 1])
                kept_points.extend(flat[2 * (k - degree) : 2 * (k + 1)])
                offsets.append(len(self.kind))
                self.kind.append(CUBIC)
                self.data.extend((0.0,) * 8)
        else:
            curves = curve_pieces(degree, np.array(knots), points, np.array(weights) if len(weights) else None, spans)
            self.kind.extend([CUBIC] * len(curves))
            self.data.extend(curves.ravel().tolist())


def too_many() -> InputError:
    """Build the error for a drawing of too many pieces."""
    return InputError(
        f"there are more than {MOST_PIECES:,} lines, arcs and curves",
        remedy="take out what is not to be cut, and blocks that hold blocks many times over",
    )


# -- entities ---------------------------------------------------------------------------------------------------------


def _tilted(normal: Any) -> bool:
    """Whether a plane with this normal is not seen flat from above."""
    return bool(abs(normal.x) + abs(normal.y) > _LEVEL * abs(normal.z))


def _rises(points: Array) -> bool:
    """Whether points, of shape (points, 3), differ in height."""
    size = np.ptp(points, axis=0) if len(points) else np.zeros(3)
    return bool(size[2] > _LEVEL * (size[0] + size[1]))


def _line(content: Content, _: Any, attributes: dict[str, Any]) -> None:
    start, end = attributes["start"], attributes["end"]
    content.line(start.x, start.y, end.x, end.y)
    if abs(end.z - start.z) > _LEVEL * (abs(end.x - start.x) + abs(end.y - start.y)):
        content.odd["rising"] += 1


def _circle(content: Content, _: Any, attributes: dict[str, Any]) -> None:
    start = 0.0
    turn = _TAU
    if "start_angle" in attributes or "end_angle" in attributes:
        degrees = attributes.get("start_angle", 0.0)
        start = math.radians(degrees)
        turn = math.radians(turn_of(degrees, attributes.get("end_angle", 360.0), 360.0))
    centre, radius = attributes["center"], abs(attributes["radius"])
    if radius == 0 or turn == 0:
        return
    x, y = centre.x, centre.y
    axes = axes_of(attributes, centre.z)
    if axes is FLAT:
        content.arc(x, y, radius, 0.0, 0.0, radius, start, start + turn)
        return
    ax, ay, bx, by, nx, ny = axes
    content.odd["rising"] += _tilted(attributes["extrusion"])
    content.arc(
        ax * x + bx * y + nx,
        ay * x + by * y + ny,
        radius * ax,
        radius * ay,
        radius * bx,
        radius * by,
        start,
        start + turn,
    )


def _ellipse(content: Content, _: Any, attributes: dict[str, Any]) -> None:
    centre, major, ratio = attributes["center"], attributes["major_axis"], attributes["ratio"]
    start = attributes.get("start_param", 0.0)
    turn = turn_of(start, attributes.get("end_param", _TAU), _TAU)
    normal = attributes.get("extrusion")
    nx, ny, nz = (normal.x, normal.y, normal.z) if normal is not None else (0.0, 0.0, 1.0)
    size = math.hypot(nx, ny, nz) / ratio if ratio else math.inf
    if turn == 0 or (major.x == 0 and major.y == 0 and major.z == 0):
        return
    level = _LEVEL * (abs(major.x) + abs(major.y))
    content.odd["rising"] += abs(major.z) > level or (normal is not None and _tilted(normal))
    content.arc(
        centre.x, centre.y, major.x, major.y,
        (ny * major.z - nz * major.y) / size, (nz * major.x - nx * major.z) / size, start, start + turn,
    )  # fmt: skip


def _lwpolyline(content: Content, entity: Any, attributes: dict[str, Any]) -> None:
    points = np.asarray(entity.lwpoints.values, float).reshape(-1, 5)[:, [0, 1, 4]].tolist()
    axes = FLAT
    if "extrusion" in attributes:
        axes = axes_of(attributes, attributes.get("elevation", 0.0))
        content.odd["rising"] += _tilted(attributes["extrusion"])
    content.path(points, bool(attributes.get("flags", 0) & 1), axes)


def _polyline(content: Content, entity: Any, attributes: dict[str, Any]) -> bool:
    flags = attributes.get("flags", 0)
    if flags & (16 | 64):
        content.left_out["meshes and solids"] += 1
        return True
    vertices = [vars(vertex.dxf) for vertex in entity.vertices]
    # a smoothed line keeps the frame it was smoothed from, which is not drawn
    vertices = [vertex for vertex in vertices if not (flags & 4 and vertex.get("flags", 0) & 16)]
    solid = bool(flags & 8)
    points = [(v["location"].x, v["location"].y, 0.0 if solid else v.get("bulge", 0.0)) for v in vertices]
    axes = FLAT
    if not solid and "extrusion" in attributes:
        level = attributes.get("elevation")
        axes = axes_of(attributes, level.z if level is not None else 0.0)
        content.odd["rising"] += _tilted(attributes["extrusion"])
    content.odd["rising"] += solid and _rises(np.array([tuple(v["location"]) for v in vertices]).reshape(-1, 3))
    content.path(points, bool(flags & 1), axes)
    return False


def _spline(content: Content, entity: Any, attributes: dict[str, Any]) -> None:
    if len(entity.control_points):
        points = np.asarray(entity.control_points.values, float).reshape(-1, 3)
        degree, knots, weights = attributes.get("degree", 3), entity.knots, entity.weights
        if not len(knots):  # the library's rule for a spline without them: even, and clamped at both ends
            inner = len(points) - degree
            knots = array("d", [0] * degree + list(range(inner + 1)) + [inner] * degree)
    else:
        tool = entity.construction_tool()
        points = np.array([tuple(point) for point in tool.control_points], float).reshape(-1, 3)
        degree, knots, weights = tool.degree, tool.knots(), tool.weights()
        content.odd["fitted"] += 1
    content.spline(degree, knots, points[:, :2], weights)
    content.odd["rising"] += _rises(points)


_DRAW: dict[str, Callable[[Content, Any, dict[str, Any]], bool | None]] = {
    "LINE": _line,
    "ARC": _circle,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}

DRAWN = frozenset({*_DRAW, "MLINE", "INSERT"})
"""Kinds of entity that can draw lines."""
