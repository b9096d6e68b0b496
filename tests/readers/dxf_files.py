"""DXF files for tests: written by the library for what it can write, by hand for what it would not."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import ezdxf

from compare.geometry.strokes import Drawing
from compare.readers.dxf import read_dxf


class DxfFile:
    """A DXF document that is written and read back.

    Attributes
    ----------
    doc : document of the library
    model : its model space
    """

    def __init__(self, folder: Path, version: str = "R2010", units: int = 4) -> None:
        self.path = folder / "drawing.dxf"
        self.doc = ezdxf.new(version)
        if version != "R12":
            self.doc.units = units
        self.model = self.doc.modelspace()

    def block(self, name: str, **attributes: Any) -> Any:
        return self.doc.blocks.new(name, **attributes)

    def read(self, *, binary: bool = False, **options: Any) -> Drawing:
        self.doc.saveas(self.path, fmt="bin" if binary else "asc")
        return read_dxf(self.path, **options)


def length_of(drawing: Drawing) -> float:
    """The length of all strokes in the unit of the drawing."""
    return float(drawing.strokes.lengths().sum())


def codes_of(drawing: Drawing) -> set[str]:
    """The codes of all findings."""
    return {finding.code for finding in drawing.findings}


def message_of(drawing: Drawing, code: str) -> str:
    """The message of the one finding of a code."""
    (message,) = [finding.message for finding in drawing.findings if finding.code == code]
    return message


def tags(*pairs: tuple[int, Any]) -> str:
    """Group codes and values as text."""
    return "".join(f"{code}\n{value}\n" for code, value in pairs)


def text_of(entities: str, *, blocks: str = "", header: str = "", tables: str = "") -> str:
    """A bare DXF text of the oldest kind, of tags as they are."""
    parts = (("HEADER", header), ("TABLES", tables), ("BLOCKS", blocks), ("ENTITIES", entities))
    sections = [tags((0, "SECTION"), (2, name)) + body + tags((0, "ENDSEC")) for name, body in parts if body]
    return "".join(sections) + tags((0, "EOF"))


def line(x0: Any, y0: Any, x1: Any, y1: Any, layer: str = "0") -> str:
    """A straight line as tags."""
    return tags((0, "LINE"), (8, layer), (10, x0), (20, y0), (11, x1), (21, y1))


def block(name: str, body: str) -> str:
    """A block as tags."""
    head = tags((0, "BLOCK"), (8, "0"), (2, name), (70, 0), (10, 0), (20, 0), (3, name))
    return head + body + tags((0, "ENDBLK"), (8, "0"))


def insert(name: str, *more: tuple[int, Any], layer: str = "0", x: float = 0, y: float = 0) -> str:
    """A block reference as tags."""
    return tags((0, "INSERT"), (8, layer), (2, name), (10, x), (20, y), *more)


def slim(text: str, keep: Iterable[str] = ("LAYER", "BLOCK_RECORD")) -> str:
    """Take out of a text of the library what is not needed to read it, so that a test of many files is quick."""
    out = ""
    for name, body in re.findall(r"  0\nSECTION\n  2\n(\w+)\n(.*?)  0\nENDSEC\n", text, re.DOTALL):
        if name == "HEADER":
            version = re.search(r"\$ACADVER\n  1\n\w+\n", body)
            assert version is not None
            kept = f"  9\n{version[0]}  9\n$INSUNITS\n 70\n4\n"
        elif name == "TABLES":
            tables = re.findall(r"  0\nTABLE\n.*?  0\nENDTAB\n", body, re.DOTALL)
            kept = "".join(table for table in tables if table.split("\n")[3] in keep)
        elif name in ("BLOCKS", "ENTITIES"):
            kept = body
        else:
            continue
        out += f"  0\nSECTION\n  2\n{name}\n{kept}  0\nENDSEC\n"
    return out + "  0\nEOF\n"


def sample(version: str) -> Any:
    """A document with every kind of line, nested blocks in a grid, a hidden layer, and things that are no lines."""
    doc = ezdxf.new(version)
    doc.layers.add("cut", color=1)
    doc.layers.add("hidden", color=2).off()
    part = doc.blocks.new("part", base_point=(1, 1))
    part.add_line((0, 0), (10, 0))
    part.add_circle((2, 2), 1, dxfattribs={"color": 0})
    whole = doc.blocks.new("whole")
    whole.add_blockref("part", (3, 3), dxfattribs={"xscale": 2, "rotation": 30})
    model = doc.modelspace()
    model.add_line((0, 0), (5, 5), dxfattribs={"layer": "cut"})
    model.add_arc((0, 0), 5, 10, 200, dxfattribs={"layer": "cut"})
    model.add_circle((1, 2), 3, dxfattribs={"layer": "hidden"})
    grid = {"column_count": 3, "row_count": 2, "column_spacing": 20, "row_spacing": 20}
    model.add_blockref("whole", (5, 5), dxfattribs=grid)
    model.add_text("words")
    bulges = [(0, 0, 0, 0, 1), (5, 0, 0, 0, 0.5), (5, 5)]
    model.add_polyline2d(bulges, format="xyseb", close=True)
    if version != "R12":
        model.add_lwpolyline(bulges, close=True)
        model.add_ellipse((0, 0), (5, 1), 0.5, 0, 3)
        corners = [(0, 0), (1, 2), (3, 1), (4, 4), (6, 0)]
        model.add_open_spline(corners)
        model.add_rational_spline(corners, [1, 2, 1, 2, 1])
        model.add_spline(corners)
        model.add_mline([(0, 0), (5, 0), (5, 5)])
        model.add_hatch()
    return doc


def sample_text(version: str) -> str:
    """The sample as slim text."""
    stream = io.StringIO()
    sample(version).write(stream)
    return slim(stream.getvalue())


def sample_bytes(version: str) -> bytes:
    """The sample as a binary file."""
    stream = io.BytesIO()
    sample(version).write(stream, fmt="bin")
    return stream.getvalue()
