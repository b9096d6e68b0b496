"""Tool data in XJDF and JDF: lengths of rule by code, without a drawing of them.

A ``DieLayout`` (the whole tool) or a ``ShapeDef`` (one shape) lists ``RuleLength`` elements, each with
``DDESCutType``, the code of the kind of rule, and ``Length``. Lengths are in points, as all
coordinates there: the sample of the schema's repository (cip4/XJDF-Schema, commit 1facc8f) gives a
sheet of 1,100 mm as 3118.11023622.
"""

from __future__ import annotations

import math
import re
import xml.parsers.expat
from dataclasses import dataclass, field
from pathlib import Path

from compare.errors import FileError, Finding, InputError, unknown_name
from compare.geometry.strokes import Drawing, Group, Pen

MM_PER_POINT = 25.4 / 72
"""72 points are an inch."""

_UNITS = {"pt": MM_PER_POINT, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
_NAMESPACE = "http://www.cip4.org/jdfschema_"
_TOOLS = ("DieLayout", "ShapeDef")
_MAX_BYTES = 50_000_000
_MAX_DEPTH = 200
_MAX_TOOLS = 1_000
_MAX_CODES = 1_000
_LONGEST_MM = 1e7
"""Ten kilometres of rule are in no tool: such a length is a slip of the writer."""

_SAID = 10
"""Findings name this many of what is wrong, and count the rest."""


@dataclass
class _Tool:
    """What one element that lists rule says."""

    element: str
    name: str
    box: str
    lengths: dict[str, float] = field(default_factory=dict)
    broken: list[str] = field(default_factory=list)
    broken_count: int = 0
    rules: int = 0
    stations: int = 0

    def __str__(self) -> str:
        return f"{self.element} '{self.name}'" if self.name else self.element

    @property
    def total(self) -> float:
        return math.fsum(self.lengths.values())


class _Reader:
    """Follows the elements of a file as they come; no tree is built, and no DOCTYPE is let in."""

    def __init__(self, mm_per_unit: float) -> None:
        self.mm_per_unit = mm_per_unit
        self.root = ""
        self.known_namespace = False
        self.tools: list[_Tool] = []
        self.shapes = 0
        self._open: list[tuple[str, str, _Tool | None]] = []

    def doctype(self, *_: object) -> None:
        raise _RefusedError("the file has a DOCTYPE, which tool data never has", "take the DOCTYPE out")

    def start(self, name: str, said: dict[str, str]) -> None:
        namespace, _, tag = name.rpartition(" ")
        ours = namespace.casefold().startswith(_NAMESPACE) or not namespace
        self.known_namespace |= bool(namespace) and ours
        if not self._open:
            self.root = tag
        if len(self._open) >= _MAX_DEPTH:
            raise _RefusedError(f"elements are nested over {_MAX_DEPTH} deep", "this is no tool data")
        _, outer_name, tool = self._open[-1] if self._open else ("", "", None)
        own_name = next((said[key] for key in ("ProductID", "DescriptiveName", "ID") if said.get(key)), outer_name)
        if ours and tag in _TOOLS:
            tool = _Tool(tag, own_name, said.get("CutBox", ""))
        elif ours and tool is not None:
            self._part(tag, said, tool)
        self._open.append((tag, own_name, tool))

    def _part(self, tag: str, said: dict[str, str], tool: _Tool) -> None:
        """Take in what stands inside a tool, directly or in a wrapper."""
        if tag == "RuleLength":
            self._rule(said, tool)
        elif tag == "Station":
            amount = said.get("StationAmount", "1").strip()
            tool.stations += int(amount) if re.fullmatch(r"[0-9]{1,6}", amount) else 1
        elif tag == "Shape":
            self.shapes += 1

    def _rule(self, said: dict[str, str], tool: _Tool) -> None:
        if not tool.rules:
            if len(self.tools) >= _MAX_TOOLS:
                raise _RefusedError(f"the file lists over {_MAX_TOOLS:,} tools", "save one tool in a file")
            self.tools.append(tool)
        tool.rules += 1
        code, text = _code(said.get("DDESCutType", "")), said.get("Length", "")
        length = _number(text) * self.mm_per_unit
        if not 0 <= length <= _LONGEST_MM:  # no number is not in any range
            tool.broken_count += 1
            if tool.broken_count <= _SAID:
                tool.broken.append(f"'{text[:40]}' at code {code or 'none'}")
            return
        tool.lengths[code] = tool.lengths.get(code, 0.0) + length
        if len(tool.lengths) > _MAX_CODES:
            raise _RefusedError(f"the file has over {_MAX_CODES:,} codes of rule", "this is no tool data")

    def end(self, _: str) -> None:
        self._open.pop()


class _RefusedError(Exception):
    """What and what to do; raised inside the parser."""


def _code(text: str) -> str:
    """Return a code as everybody writes it: whole numbers without sign and zeros in front."""
    bare = text.strip()
    return str(int(bare)) if re.fullmatch(r"\+?[0-9]{1,9}", bare) else bare[:40]


def _number(text: str) -> float:
    """Return the number that a text is, NaN if it is none."""
    # what Python takes beyond the numbers of XML, such as 1_000, is a slip here
    return float(text) if re.fullmatch(r"\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,4})?\s*", text, re.ASCII) else math.nan


def read_tool_data(path: Path, *, unit: str | None = None) -> Drawing:
    """Read the lengths of rule that an XJDF or JDF file states.

    Parameters
    ----------
    path : Path
        The file.
    unit : str, optional
        Unit of its lengths (``pt``, ``mm``, ``cm``, ``m``, ``in``), for files that do not keep to points.

    Returns
    -------
    Drawing
        Without strokes; ``lengths_by_code`` holds the lengths [mm], one group per code.

    Raises
    ------
    FileError
        If it can't be read or is no XML.
    InputError
        If it is no XJDF or JDF, states no lengths, states those of several tools, or has a DOCTYPE.

    Notes
    -----
    A ``ShapeDef`` states one carton, a ``DieLayout`` all that lie on the tool. Where a file has one of
    each the shape counts, and a finding gives the length of the tool.
    """
    where = path.name
    if unit is not None and unit not in _UNITS:
        raise unknown_name(unit, _UNITS, where=where, what="unit")
    reader = _Reader(_UNITS[unit or "pt"])
    _parse(path, reader)
    tool, others = _chosen(reader, where)
    findings = [*_remarks(reader, tool, where)]
    findings += [
        Finding("drawing.other_tool", f"{other} states {other.total:,.1f} mm as well; it is not counted.", where)
        for other in others
    ]
    strokes, _, _ = Pen().strokes()
    lengths = {Group(tool.element, code=code): length for code, length in tool.lengths.items()}
    return Drawing(
        strokes,
        (),
        unit or "pt",
        reader.mm_per_unit,
        f"given as {unit}" if unit else "XJDF and JDF give lengths in points",
        lengths_by_code=lengths,
        left_out={"Shape": reader.shapes} if reader.shapes else {},
        findings=tuple(findings),
    )


def _parse(path: Path, reader: _Reader) -> None:
    where = path.name
    parser = xml.parsers.expat.ParserCreate(namespace_separator=" ")
    parser.StartDoctypeDeclHandler = reader.doctype
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    try:
        with path.open("rb") as file:
            read = 0
            while chunk := file.read(1 << 16):
                read += len(chunk)
                if read > _MAX_BYTES:
                    raise FileError("the tool data is over 50 MB", where=where, remedy="save one tool in a file")
                parser.Parse(chunk)
            parser.Parse(b"", True)
    except _RefusedError as refusal:
        what, remedy = refusal.args
        raise InputError(what, where=where, remedy=remedy) from None
    except xml.parsers.expat.ExpatError as error:
        raise FileError(f"the tool data is no XML: {error}", where=where, remedy="export it anew") from None
    except (ValueError, LookupError) as error:  # an encoding that nobody knows
        raise FileError(f"the tool data can't be decoded: {error}", where=where, remedy="save it as UTF-8") from None
    except FileError:
        raise
    except OSError as error:
        raise FileError(
            f"the tool data can't be read ({error.strerror})", where=where, remedy="check the path"
        ) from None


def _chosen(reader: _Reader, where: str) -> tuple[_Tool, list[_Tool]]:
    """Return the tool that counts and the others, or say why there is none."""
    if not reader.tools:
        if reader.known_namespace:
            what, remedy = "the file states no lengths of rule (RuleLength)", "export the tool with its rule lengths"
        else:
            what, remedy = f"<{reader.root[:40]}> is neither XJDF nor JDF", "give tool data, DXF, SVG or PDF"
        raise InputError(what, where=where, remedy=remedy)
    shapes = [tool for tool in reader.tools if tool.element == "ShapeDef"]
    first = shapes or reader.tools
    if len(first) > 1:
        named = ", ".join(f"{tool} with {tool.total:,.1f} mm" for tool in first[:_SAID])
        raise InputError(
            f"the file states {len(first)} tools: {named}", where=where, remedy="save the one you mean in a file"
        )
    return first[0], [tool for tool in reader.tools if tool is not first[0]]


def _remarks(reader: _Reader, tool: _Tool, where: str) -> list[Finding]:
    found = []
    if not reader.known_namespace:
        message = "The file does not say that it is XJDF or JDF (no namespace); it was read as such."
        found.append(Finding("drawing.tolerant", message, where))
    if tool.broken:
        more = tool.broken_count - len(tool.broken)
        said = ", ".join(tool.broken) + (f" and {more:,} more" if more else "")
        message = f"Lengths that can't be are not counted: {said}. Ask who wrote them."
        found.append(Finding("drawing.broken_numbers", message, where, "caution"))
    if "" in tool.lengths:
        message = f"{tool.lengths['']:,.1f} mm of rule have no code (DDESCutType): say which kind they are."
        found.append(Finding("drawing.no_code", message, where, "caution"))
    if tool.element == "DieLayout":
        many = f"{tool.stations:,} stations" if tool.stations else "all its stations"
        message = f"These lengths are of the whole tool with {many}, not of one carton: divide them by the ups."
        found.append(Finding("drawing.whole_tool", message, where, "caution"))
    if reader.shapes:
        message = f"{reader.shapes:,} shapes are drawn in the file as well; only its stated lengths are read."
        found.append(Finding("drawing.left_out", message, where))
    if box := _box(tool.box, reader.mm_per_unit):
        message = f"The file states a box of {box[0]:,.1f} x {box[1]:,.1f} mm for {tool}."
        found.append(Finding("drawing.stated_box", message, where))
    return found


def _box(text: str, mm_per_unit: float) -> tuple[float, float] | None:
    """Return width and height of a rectangle given by two corners [mm], None if it is none."""
    corners = [_number(part) * mm_per_unit for part in text[:200].split()]
    if len(corners) != 4:
        return None
    x0, y0, x1, y1 = corners
    fits = 0 < x1 - x0 <= _LONGEST_MM and 0 < y1 - y0 <= _LONGEST_MM
    return (x1 - x0, y1 - y0) if fits else None
