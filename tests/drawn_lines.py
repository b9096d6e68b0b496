"""Small drawings for tests, made of lines, arcs and curves without a file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from compare.geometry.linework import ring_segments
from compare.geometry.measure import Measured, measure_drawing
from compare.geometry.overlaps import cut
from compare.geometry.strokes import Drawing, Group, Pen, Strokes
from compare.geometry.styles import Blank

Piece = tuple[float, ...]
"""Four numbers are a line; eight with a leading "arc" or "cubic" are those, see ``Strokes``."""


def strokes_of(*pieces: Sequence, layers: Sequence[str] | None = None) -> Drawing:
    """Draw pieces, each a stroke of its own: (x, y, x, y), ("arc", 8 numbers) or ("cubic", 8 numbers)."""
    pen = Pen()
    for number, piece in enumerate(pieces):
        layer = layers[number] if layers else "cutting"
        pen.begin(Group(layer), f"piece {number}")
        if piece[0] == "arc":
            pen.arc(*piece[1:])
        elif piece[0] == "cubic":
            pen.cubic(piece[1:])
        else:
            pen.line(*piece)
    strokes, groups, _ = pen.strokes()
    return Drawing(strokes, groups, "mm", 1.0, "the test")


def circle(x: float, y: float, radius: float, start: float = 0.0, end: float = 2 * np.pi) -> tuple:
    """An arc of a circle."""
    return ("arc", x, y, radius, 0.0, 0.0, radius, start, end)


def ring(*corners: tuple[float, float]) -> list[tuple[float, ...]]:
    """The sides of a closed outline."""
    return [(*a, *b) for a, b in ring_segments(corners)]


def box(x: float, y: float, width: float, height: float) -> list[tuple[float, ...]]:
    """The sides of a rectangle."""
    return ring((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def drawn_blank(blank: Blank) -> Drawing:
    """Draw a carton style on two layers, named as the kinds of line."""
    sides, creases = ring_segments(blank.outline), list(blank.creases)
    lines = [(*a, *b) for a, b in (*sides, *creases)]
    return strokes_of(*lines, layers=["cutting"] * len(sides) + ["creasing"] * len(creases))


def measured(drawing: Drawing, mm_per_unit: float = 1.0, **how: float) -> Measured:
    """Measure a drawing whose layers are named as the kinds of line they are; "none" is not mapped."""
    kinds = tuple(None if group.layer == "none" else group.layer for group in drawing.groups)
    return measure_drawing(drawing, kinds, mm_per_unit=mm_per_unit, **how)


def codes(found: Measured) -> list[str]:
    """Codes of the findings."""
    return [finding.code for finding in found.findings]


def finding(found: Measured, code: str):
    """The one finding of a code."""
    (only,) = (one for one in found.findings if one.code == code)
    return only


def remade(drawing: Drawing, strokes: Strokes) -> Drawing:
    """The same drawing with other strokes."""
    return replace(drawing, strokes=strokes)


def mapped(drawing: Drawing, matrix: Iterable) -> Drawing:
    """The drawing after an affine map."""
    return remade(drawing, drawing.strokes.transformed(list(matrix)))


def reordered(drawing: Drawing, order: Sequence[int]) -> Drawing:
    """The same pieces drawn in another order, each a stroke of its own."""
    s, order = drawing.strokes, np.asarray(order)
    groups = s.group[s.stroke][order]
    return remade(drawing, Strokes(s.kind[order], s.data[order], np.arange(len(order)), groups, ("",) * len(order)))


def split(drawing: Drawing, shares: Sequence[float], backwards: Sequence[bool]) -> Drawing:
    """Every piece cut at a share of it, the second parts drawn backwards where so marked."""
    s, half = drawing.strokes, np.arange(len(drawing.strokes))
    share = np.resize(np.asarray(shares, float), len(half))
    first = cut(s, half, np.zeros(len(half)), share)
    second = cut(s, half, share, np.ones(len(half)))
    kind, data = np.concatenate([first.kind, second.kind]), np.concatenate([first.data, second.data])
    turn = np.resize(np.asarray(backwards, bool), len(kind))
    for number in np.flatnonzero(turn):
        data[number] = _backwards(int(kind[number]), data[number])
    groups = np.tile(s.group[s.stroke], 2)
    return remade(drawing, Strokes(kind, data, np.arange(len(kind)), groups, ("",) * len(kind)))


def _backwards(kind: int, data: np.ndarray) -> np.ndarray:
    if kind == 0:
        return np.concatenate([data[2:4], data[:2], data[4:]])
    if kind == 1:
        return np.concatenate([data[:6], data[:5:-1]])
    return data.reshape(4, 2)[::-1].ravel()
