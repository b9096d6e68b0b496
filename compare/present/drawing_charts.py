"""Pictures of a drawing: its lines by kind with the places of findings, and its blanks on the sheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from compare.errors import Finding
from compare.geometry.line_kinds import SHEET_EDGE, UNMAPPED
from compare.geometry.linework import Point
from compare.geometry.sheet_layout import Layout, placed_outlines
from compare.geometry.strokes import Strokes
from compare.present.charts import Mark, OutlineChart
from compare.readers.drawn_carton import DrawnCarton

_FINENESS = 10_000
"""A picture is as fine as this share of its width: a tenth of a pixel on a screen."""

Polylines = tuple[tuple[Point, ...], ...]


def drawing_chart(carton: DrawnCarton, findings: Sequence[Finding] | None = None) -> OutlineChart:
    """Return the lines of a drawing by kind, and the places of findings.

    Parameters
    ----------
    carton : DrawnCarton
        The drawing, mapped and measured.
    findings : sequence of Finding, optional
        What is marked, by its number in this order from 1; the carton's own if left out.

    Returns
    -------
    OutlineChart
    """
    scale = carton.drawing.mm_per_unit or 1.0
    strokes = carton.drawing.strokes.scaled(scale)
    measured = carton.measured
    left, low, right, top = measured.box_mm or (0.0, 0.0, 0.0, 0.0)
    width, height = right - left, top - low
    lines: dict[str, Polylines] = {}
    for number, kind in enumerate(carton.kinds[: len(carton.drawing.groups)]):
        own = strokes.chosen(strokes.group == number)
        name = kind or UNMAPPED
        lines[name] = (*lines.get(name, ()), *polylines(own, max(width, height, 1.0) / _FINENESS))
    told = carton.findings if findings is None else findings
    title = f"{carton.name}, {width:,.0f} x {height:,.0f} mm"
    by_kind = ", ".join(f"{k.length_mm / 1000:.3f} m {k.kind.replace('_', ' ')}" for k in measured.kinds)
    return OutlineChart(
        title,
        lines,
        (width, height),
        f"{title}; {by_kind or 'no line is mapped yet'}.",
        marks=tuple(_marks(told)),
        tall=True,
    )


def _marks(findings: Iterable[Finding]) -> Iterable[Mark]:
    for number, finding in enumerate(findings, start=1):
        for x, y in finding.at:
            yield Mark(x, y, number, finding.message)


def polylines(strokes: Strokes, tolerance: float) -> Polylines:
    """Return strokes as chains of points, broken where the pen is lifted.

    Parameters
    ----------
    strokes : Strokes
        Lines, arcs and curves [mm].
    tolerance : float
        Largest distance between a chain and its curve [mm].

    Returns
    -------
    tuple of chains
    """
    chords, piece = strokes.flattened(tolerance)
    if not len(chords):
        return ()
    owner = strokes.stroke[piece]
    lifted = np.flatnonzero((np.diff(owner) != 0) | np.any(np.abs(chords[1:, :2] - chords[:-1, 2:]) > 1e-6, axis=1)) + 1
    chains = []
    for part in np.split(chords, lifted):
        points = np.vstack([part[:1, :2], part[:, 2:]])
        chains.append(tuple((float(x), float(y)) for x, y in np.round(points, 4)))
    return tuple(chains)


def sheet_chart(outline: tuple[Point, ...], layout: Layout, sheet_mm: tuple[float, float], route: str) -> OutlineChart:
    """Return the blanks on the sheet of a route.

    Parameters
    ----------
    outline : tuple of points
        The blank as drawn [mm].
    layout : Layout
        Where the blanks lie.
    sheet_mm : tuple of float
        Width and length of the sheet [mm].
    route : str
        Whose sheet it is, for the title.
    """
    width, length = sheet_mm
    edge = ((0.0, 0.0), (width, 0.0), (width, length), (0.0, length), (0.0, 0.0))
    blanks = tuple(
        tuple((float(x), float(y)) for x, y in np.round(np.vstack([ring, ring[:1]]), 3))
        for ring in placed_outlines(outline, layout.placements)
    )
    title = f"Sheet of the {route}: {layout.ups} ups, {layout.utilisation:.0%} of the sheet, {layout.pattern}"
    return OutlineChart(title, {SHEET_EDGE: (edge,), "cutting": blanks}, sheet_mm, f"{title}.", fine=True)
