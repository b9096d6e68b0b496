"""A measured drawing as one JSON object and as tables for the terminal."""

from __future__ import annotations

from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from compare.errors import Finding
from compare.geometry.line_kinds import label_of
from compare.geometry.strokes import Group as Lines
from compare.present.record import finding_record
from compare.present.terminal import plain_table
from compare.readers.drawn_carton import DrawnCarton
from compare.readers.line_words import suggest


def drawing_record(carton: DrawnCarton) -> dict[str, Any]:
    """Return a measured drawing as plain data for JSON. The keys are a contract.

    Lengths are in mm, areas in mm2, loads without a unit; ``drawn_mm`` holds all strokes as drawn,
    ``length_mm`` counts lines of one kind that lie on one another once.
    """
    m, drawing = carton.measured, carton.drawing
    return {
        "file": carton.name,
        "unit": drawing.unit,
        "mm_per_unit": drawing.mm_per_unit,
        "unit_source": drawing.unit_source,
        "drawn_mm": m.drawn_mm,
        "length_mm": m.length_mm,
        "layers": [
            {
                "name": lines.group.layer,
                "colour": lines.group.colour,
                "linetype": lines.group.linetype,
                "step": "/".join(filter(None, (lines.group.step_group, lines.group.step_type))),
                "code": lines.group.code,
                "kind": lines.kind,
                "suggestion": offer.kind if offer and lines.kind is None else None,
                "drawn_mm": lines.drawn_mm,
                "length_mm": lines.length_mm,
                "strokes": lines.strokes,
            }
            for lines, offer in zip(m.groups, suggest([lines.group for lines in m.groups]), strict=True)
        ],
        "kinds": {
            lines.kind: {
                "drawn_mm": lines.drawn_mm,
                "length_mm": lines.length_mm,
                "strokes": lines.strokes,
                "corner_load": lines.corner_load,
                "bends": lines.bends,
            }
            for lines in m.kinds
        },
        "bounding_box_mm": list(m.box_mm) if m.box_mm else None,
        "blank_area_mm2": m.blank_area_mm2,
        "waste_pieces": m.work.waste_pieces,
        "smallest_gap_mm": m.work.smallest_gap_mm,
        "smallest_radius_mm": m.work.smallest_radius_mm,
        "inputs": m.work.inputs(),
        "left_out": dict(drawing.left_out),
        "findings": [finding_record(f) for f in carton.findings],
    }


def drawing_view(carton: DrawnCarton) -> RenderableType:
    """Return a measured drawing as a person likes to read it."""
    m, drawing = carton.measured, carton.drawing
    layers = plain_table("layer", "is", "as drawn, mm", "counted once, mm", "strokes", texts=2)
    for lines, offer in zip(m.groups, suggest([lines.group for lines in m.groups]), strict=True):
        kind = label_of(lines.kind)
        if lines.kind is None and offer:
            kind = f"not mapped: {label_of(offer.kind)}?"
        said = _said(lines.group)
        layers.add_row(said, kind, f"{lines.drawn_mm:,.3f}", f"{lines.length_mm:,.3f}", f"{lines.strokes:,}")
    kinds = plain_table("kind of line", "length, mm", "strokes", "corner load", "bends")
    for of_kind in m.kinds:
        corners = f"{of_kind.corner_load:,.2f}"
        kinds.add_row(
            label_of(of_kind.kind), f"{of_kind.length_mm:,.3f}", f"{of_kind.strokes:,}", corners, f"{of_kind.bends:,}"
        )
    parts: list[RenderableType] = [
        Text(carton.name, style="bold"),
        Text(f"{drawing.unit or 'mm'} ({drawing.unit_source})", style="dim"),
        Text(),
        layers,
        Text(),
        kinds,
        Text(),
        Text(_blank(carton)),
    ]
    if carton.findings:
        parts += [Text(), Text("Findings", style="bold")]
        for number, found in enumerate(carton.findings, start=1):
            parts.append(Text(f"{number}. {found.message}{_places(found)}"))
    return Group(*parts)


def _said(group: Lines) -> str:
    step = "/".join(filter(None, (group.step_group, group.step_type)))
    name = group.layer or "(no layer)"
    rest = " ".join(filter(None, (step, group.code and f"code {group.code}", group.colour, group.linetype)))
    return f"{name} {rest}".strip()


def _blank(carton: DrawnCarton) -> str:
    w = carton.measured.work
    if w.blank_area_m2 is None:
        return "No closed outline: the blank's area is not known."
    size = f"{w.blank_width_mm:,.2f} x {w.blank_height_mm:,.2f} mm" if w.blank_width_mm and w.blank_height_mm else ""
    waste = f"; {w.waste_pieces} waste piece{'' if w.waste_pieces == 1 else 's'}" if w.waste_pieces else ""
    return f"Blank {size}, {w.blank_area_m2 * 1e6:,.1f} mm2 net{waste}."


def _places(found: Finding) -> str:
    if not found.at:
        return ""
    shown = "; ".join(f"{x:,.2f}, {y:,.2f}" for x, y in found.at[:3])
    more = f" and {len(found.at) - 3} more" if len(found.at) > 3 else ""
    return f" At {shown}{more} mm."
