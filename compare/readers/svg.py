"""Read the stroked lines of an SVG file: lines, arcs and curves exact, by named group, colour and dash.

What is drawn and what is not follows the standard: only strokes that are painted count. Shapes that
are filled only, texts, images, definitions that nobody uses and hidden elements are left out and
counted. Clip paths and masks are not applied, which a finding says.

XML is hostile ground: nothing outside the file is ever opened, entities that hold entities are
refused, and what is not well formed is read as far as it goes, with a finding.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

from lxml import etree

from compare.errors import FileError, Finding, InputError
from compare.geometry.strokes import Drawing, Group, Pen
from compare.readers.svg_scale import (
    MM_PER_UNIT,
    PIXELS_PER_INCH,
    Affine,
    fitted,
    quantity,
    scale_of,
    times,
    user_units,
    view_box,
)
from compare.readers.svg_shapes import MOST_PIECES, SHAPES, UNREADABLE, Brush, draw_path, draw_shape, transform
from compare.readers.svg_style import INHERITED, colour, dashes, inherited, share, style_rules

MOST_BYTES, MOST_ELEMENTS, DEEPEST = 64_000_000, 500_000, 32

_MADE_UP_ID = re.compile(r"(?:g|group|svg|use)?[-_]?\d[-_\d]*\Z")
_CONTAINERS = frozenset({"svg", "g", "a", "switch", "symbol"})
_DEFINITIONS = frozenset({"defs", "symbol", "clipPath", "mask", "marker", "pattern"})
_OTHERS = {"text": "text", "image": "image", "foreignObject": "foreign object"}
_LINK = "{http://www.w3.org/1999/xlink}href"


def read_svg(path: str | Path, *, unit: str | None = None) -> Drawing:
    """Read an SVG file.

    The layer of a line is the group it stands in. Groups that the file marks as layers count first,
    else groups with a label, else groups with an ``id`` that somebody chose; names of nested ones
    are joined by a slash.

    Parameters
    ----------
    path : str or Path
    unit : str, optional
        What one user unit is, over whatever the file says: ``mm``, ``cm``, ``m``, ``in``, ``ft``,
        ``pt``; or ``px96`` and ``px90`` for pixels at 96 or 90 to the inch.

    Returns
    -------
    Drawing
        In the unit of the file's width, y upwards; in pixels where the file gives no physical size.

    Raises
    ------
    FileError
        The file can't be read, is no SVG, or is built to do harm.
    InputError
        The unit is unknown, or the drawing is beyond the limits.
    """
    path = Path(path)
    if unit is not None and unit not in MM_PER_UNIT and unit not in PIXELS_PER_INCH:
        raise InputError(
            f"there is no unit '{unit}'", where="unit", remedy=f"use {', '.join([*MM_PER_UNIT, *PIXELS_PER_INCH])}"
        )
    root, remarks = _parsed(_content(path), path.name)
    scale = scale_of(root, unit, path.name)
    reader = _Reader(root, path.name, scale.per_inch)
    reader.visit(root, scale.matrix, dict(INHERITED), _Place(scale.view))
    strokes, groups, broken = reader.pen.strokes()
    findings = [*remarks, *scale.findings, *reader.findings(broken)]
    if not len(strokes):
        seen = ", ".join(f"{n} {what}" for what, n in sorted(reader.pen.left_out.items())) or "nothing else"
        findings.append(Finding("drawing.no_lines", f"no stroked line is drawn, but {seen}", path.name, "caution"))
    return Drawing(
        strokes,
        groups,
        scale.unit,
        scale.mm_per_unit,
        scale.source,
        left_out=dict(reader.pen.left_out),
        findings=tuple(findings),
    )


# -- file -------------------------------------------------------------------------------------------------------------


def _content(path: Path) -> bytes:
    """Return the bytes of a file up to the limit."""
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise FileError(f"can't be read ({error.strerror})", where=str(path)) from None
    if len(content) > MOST_BYTES:
        what = f"the file holds more than {MOST_BYTES // 1_000_000} MB"
        raise FileError(what, where=path.name, remedy="save the die lines alone")
    return content


def _parsed(content: bytes, name: str) -> tuple[Any, list[Finding]]:
    """Return the root of an SVG, and remarks on how it had to be read."""
    findings: list[Finding] = []
    root = None
    for recover in (False, True):
        parser = etree.XMLParser(
            resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, recover=recover
        )
        try:
            root = etree.fromstring(content, parser)
            break
        except (etree.XMLSyntaxError, ValueError) as error:
            first = next(iter(parser.error_log), None) if isinstance(error, etree.XMLSyntaxError) else None
            if first is not None and first.type_name == "ERR_NO_MEMORY":
                raise MemoryError from None
            if first is not None and first.type_name in (
                "ERR_RESOURCE_LIMIT",
                "ERR_ENTITY_LOOP",
                "ERR_ENTITY_BOUNDARY",
            ):
                raise FileError(
                    f"the XML is built beyond any limit ({first.message.strip()[:80]})",
                    where=f"{name}, line {first.line}",
                    remedy="save it again as plain SVG",
                ) from None
            at = (
                f"line {first.line}, column {first.column}: {first.message.strip()[:80]}"
                if first is not None
                else str(error)
            )
            findings = [
                Finding(
                    "drawing.not_well_formed",
                    f"the XML is not well formed ({at}); it was read as far as possible, so check that no line is missing",
                    name,
                    "caution",
                )
            ]
    if root is None or _tag(root) != "svg":
        raise FileError("this is no SVG drawing", where=name, remedy="save the drawing as SVG, DXF or PDF")
    kinds = root.getroottree().docinfo.internalDTD
    entities = list(kinds.iterentities()) if kinds is not None else []
    if any("&" in (entity.content or "") for entity in entities):
        raise FileError("entities that hold entities are not read", where=name, remedy="save it again as plain SVG")
    if any(entity.content is None for entity in entities):
        message = "the file refers to other files by entities; nothing outside it is read"
        findings.append(Finding("drawing.external", message, name, "caution"))
    return root, findings


def _tag(element: Any) -> str:
    """Return the local name of an SVG element, empty for anything else."""
    tag = element.tag
    if not isinstance(tag, str):
        return ""
    space, _, local = tag.rpartition("}")
    return local if space in ("", "{http://www.w3.org/2000/svg") else ""


# -- elements ---------------------------------------------------------------------------------------------------------


class _Place(NamedTuple):
    """Where in the tree an element is met."""

    view: tuple[float, float]
    names: tuple[tuple[int, str], ...] = ()
    uses: tuple[Any, ...] = ()
    by: Any = None
    depth: int = 0
    clipped: bool = False


class _Reader:
    """Walks the tree of elements with a pen."""

    def __init__(self, root: Any, name: str, per_inch: float) -> None:
        self.pen = Pen()
        self.name, self.per_inch = name, per_inch
        self.by_id: dict[str, Any] = {}
        sheets = []
        for element in root.iter(etree.Element):
            self.by_id.setdefault(element.get("id", ""), element)
            if _tag(element) == "style":
                sheets.append("".join(element.itertext(etree.Element)))
        self.rules = style_rules("\n".join(sheets))
        self.visited = 0
        self.notes: Counter[str] = Counter()
        self.broken: list[str] = []
        self.defined: list[Any] = []
        self.used: set[Any] = set()

    def visit(self, element: Any, matrix: Affine, style: dict[str, str], place: _Place) -> None:
        """Draw an element and what is in it."""
        tag = _tag(element)
        self.visited += 1
        if self.visited > MOST_ELEMENTS or self.pen.drawn > MOST_PIECES or place.depth > 400:
            what = f"more than {MOST_ELEMENTS:,} elements, {MOST_PIECES:,} pieces or 400 levels are drawn"
            raise InputError(what, where=self.name, remedy="save the die lines alone")
        called = bool(place.uses) and place.uses[-1] is element
        if tag in _OTHERS:
            self.pen.left_out[_OTHERS[tag]] += 1
        elif tag in _DEFINITIONS and not (tag == "symbol" and called):
            self.defined.append(element)
        elif tag in SHAPES or tag in _CONTAINERS or tag == "use":
            self._draw(element, tag, matrix, style, place if called else place._replace(by=None))

    def _draw(self, element: Any, tag: str, matrix: Affine, style: dict[str, str], place: _Place) -> None:
        """Draw an element that can hold lines, unless it is hidden."""
        own = self.rules.of(element)
        if own.get("display") == "none" or share(own.get("opacity")) == 0:
            hidden = sum(_tag(e) in SHAPES or _tag(e) == "use" for e in element.iter())
            self.pen.left_out["hidden"] += hidden
            self.visited += hidden
            return
        style = inherited(own, style)
        try:
            if own.get("transform", "none") != "none":
                matrix = times(matrix, transform(own["transform"]))
        except UNREADABLE:
            self.broken.append(_where(element))
        clipped = place.clipped or any(own.get(name, "none") != "none" for name in ("clip-path", "mask"))
        place = place._replace(clipped=clipped, depth=place.depth + 1)
        if tag in SHAPES:
            self._shape(element, tag, matrix, style, place)
        elif tag == "use":
            self._use(element, matrix, style, place)
        else:
            self._group(element, tag, matrix, style, place)

    def _group(self, element: Any, tag: str, matrix: Affine, style: dict[str, str], place: _Place) -> None:
        """Draw what is in a group or in a viewport of its own."""
        if tag in ("svg", "symbol") and place.depth > 1:
            matrix, view = self._viewport(element, matrix, place)
            place = place._replace(view=view)
        if tag == "g":
            place = place._replace(names=place.names + _names(element))
        for child in element.iterchildren(etree.Element):
            if tag != "switch":
                self.visit(child, matrix, style, place)
            elif _tag(child) not in ("", "foreignObject") and not child.get("requiredExtensions"):
                # the first alternative that asks for nothing special is drawn, and no other
                self.visit(child, matrix, style, place)
                break

    def _viewport(self, element: Any, matrix: Affine, place: _Place) -> tuple[Affine, tuple[float, float]]:
        """Enter a nested ``svg`` or a ``symbol``; the ``use`` that calls it may set its size."""
        width, height = (
            user_units(
                (place.by.get(side) if place.by is not None else None) or element.get(side, "100%"),
                whole,
                self.per_inch,
            )
            for side, whole in zip(("width", "height"), place.view, strict=True)
        )
        x, y = (self._number(element, name, place.view) or 0.0 for name in "xy")
        matrix = times(matrix, (1, 0, 0, 1, x, y))
        box = view_box(element)
        if box is None:
            return matrix, (width, height)
        if not (math.isfinite(width) and math.isfinite(height)):  # a share of a size that nobody gave: one to one
            width, height = box[2:]
        return times(matrix, fitted(box, width, height, element.get("preserveAspectRatio"))), (box[2], box[3])

    def _use(self, element: Any, matrix: Affine, style: dict[str, str], place: _Place) -> None:
        """Draw what a ``use`` refers to, in its place; nothing outside the file."""
        link = element.get("href") or element.get(_LINK) or ""
        target = self.by_id.get(link[1:]) if link.startswith("#") and len(link) > 1 else None
        if target is None:
            self.pen.left_out["use without its target"] += 1
            self.notes["missing" if link.startswith("#") or not link else "external"] += 1
        elif target in place.uses or target is element or any(target is above for above in element.iterancestors()):
            self.notes["loop"] += 1
        elif len(place.uses) >= DEEPEST:
            what = f"elements use one another more than {DEEPEST} deep"
            raise InputError(what, where=self.name, remedy="save it without clones")
        else:
            x, y = (self._number(element, name, place.view) or 0.0 for name in "xy")
            place = place._replace(uses=(*place.uses, target), by=element)
            self.visit(target, times(matrix, (1, 0, 0, 1, x, y)), style, place)

    def _shape(self, element: Any, tag: str, matrix: Affine, style: dict[str, str], place: _Place) -> None:
        """Draw a shape if its outline is painted."""
        if place.uses:
            self.used.add(element)
        stroke = colour(style)
        width = quantity(style["stroke-width"])
        if style["visibility"] != "visible" or share(style["stroke-opacity"]) == 0:
            self.pen.left_out["hidden"] += 1
        elif stroke is None:
            self.pen.left_out["unpainted" if style["fill"] == "none" else "fill only"] += 1
        elif width is not None and width[0] == 0:
            self.pen.left_out["stroke of no width"] += 1
        else:
            group = Group(_layer(place.names), stroke, dashes(style))
            where = _where(element)
            brush = Brush(self.pen, matrix, lambda: self.pen.begin(group, where))
            before = self.pen.drawn
            if tag == "path":
                well = draw_path(self.pen, brush, element.get("d") or "M")
            else:
                well = draw_shape(brush, tag, element, lambda name, way: self._number(element, name, place.view, way))
            if not well:
                self.broken.append(where)
            self.notes["clipped"] += place.clipped and self.pen.drawn > before

    def _number(self, element: Any, name: str, view: tuple[float, float], way: str = "") -> float | None:
        """Return an attribute in user units, None where there is none."""
        text = element.get(name)
        if text is None or text.strip() == "auto":
            return None
        whole = {"x": view[0], "y": view[1]}.get(way or name, math.hypot(*view) / math.sqrt(2))
        return user_units(text, whole, self.per_inch)

    def findings(self, broken: list[str]) -> list[Finding]:
        """Return the remarks on what was met.

        Parameters
        ----------
        broken : list of str
            Places of strokes whose numbers are not finite.
        """
        unused = sum(
            _tag(e) in SHAPES and e not in self.used
            for definition in self.defined
            for e in definition.iter(etree.Element)
        )
        if unused:
            self.pen.left_out["definition"] += unused
        found = []

        def note(code: str, message: str) -> None:
            found.append(Finding(code, message, self.name, "caution"))

        places = list(dict.fromkeys([*self.broken, *broken]))
        if places:
            more = f" and {len(places) - 5} more" if len(places) > 5 else ""
            message = f"shapes or transforms whose text can't be read are left out in whole or in part: {', '.join(places[:5])}"
            note("drawing.broken_numbers", message + more)
        if self.pen.left_out["hidden"]:
            note("drawing.hidden", f"{self.pen.left_out['hidden']} elements are hidden in the file and left out")
        if self.notes["clipped"]:
            note(
                "drawing.clipped", f"{self.notes['clipped']} shapes are clipped or masked in the file; they count whole"
            )
        if self.notes["external"] or self.notes["missing"]:
            number = self.notes["external"] + self.notes["missing"]
            note("drawing.external", f"{number} elements use others that are not in this file; they are left out")
        if self.notes["loop"]:
            note("drawing.loop", f"{self.notes['loop']} elements use themselves; they are left out")
        if self.rules.skipped:
            some = ", ".join(f"'{s}'" for s in self.rules.skipped[:5])
            message = f"{len(self.rules.skipped)} selectors of style sheets are not followed ({some}); lines may lack their style"
            note("drawing.style", message)
        left = {what: n for what, n in sorted(self.pen.left_out.items()) if what != "hidden" and n}
        if left:
            message = "left out, being no lines to run: " + ", ".join(f"{what} ({n:,})" for what, n in left.items())
            found.append(Finding("drawing.left_out", message, self.name))
        return found


def _where(element: Any) -> str:
    """Say where in the file an element is."""
    name = element.get("id")
    return f"{_tag(element)} '{name[:60]}'" if name else f"{_tag(element)}, line {element.sourceline}"


def _names(element: Any) -> tuple[tuple[int, str], ...]:
    """Return the name of a group, with how much it says: a layer, a label, or a mere id."""
    label, layer = "", False
    for key, value in element.attrib.items():
        local = re.split("[}:]", key)[-1]
        label = value if local in ("label", "data-name") else label
        layer = layer or (local == "groupmode" and value == "layer")
    name = element.get("id") or ""
    label = " ".join(label.split())[:200]
    if layer and (label or name):
        return ((2, label or name),)
    if label:
        return ((1, label),)
    return ((0, name[:200]),) if name and not _MADE_UP_ID.match(name) else ()


def _layer(names: tuple[tuple[int, str], ...]) -> str:
    """Join the names of the groups around a shape, the most telling ones only; empty where none has one."""
    most = max((rank for rank, _ in names), default=0)
    return " / ".join(dict.fromkeys(name for rank, name in names if rank == most))
