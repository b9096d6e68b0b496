"""Write the sample drawings: two invented cartons, each as DXF, SVG and PDF with processing steps.

    python docs/make_demo_drawings.py [FOLDER]

The three files of a carton hold the same lines and must measure the same. Arcs stay arcs in DXF and
SVG; a PDF knows cubic curves only, so each arc becomes curves of 22.5 degrees, which are right to a
millionth of their length. The same input gives the same bytes.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, field
from pathlib import Path

import ezdxf
import pikepdf
from ezdxf.enums import TextEntityAlignment

from compare.assumptions import assumption_table
from compare.geometry.linework import Point
from compare.geometry.styles import Blank, build_blank

MARGIN = 20.0
"""Room around a carton on its page [mm]."""

MM = 72 / 25.4
"""Points per millimetre."""


@dataclass(frozen=True)
class Line:
    """A straight line."""

    start: Point
    end: Point


@dataclass(frozen=True)
class Arc:
    """An arc of an ellipse with upright axes, from and to an angle [degrees, against the clock]."""

    centre: Point
    across: float
    along: float
    start: float
    end: float

    def at(self, degrees: float) -> Point:
        """Return the point at an angle of the ellipse's parameter."""
        turn = math.radians(degrees)
        return self.centre[0] + self.across * math.cos(turn), self.centre[1] + self.along * math.sin(turn)

    @property
    def full(self) -> bool:
        """Whether it goes all the way round."""
        return math.isclose(abs(self.end - self.start), 360)


@dataclass(frozen=True)
class Curve:
    """A cubic curve by its four control points."""

    points: tuple[Point, Point, Point, Point]


Piece = Line | Arc | Curve

KINDS = {
    # layer in DXF and SVG: colour, line type, processing step of ISO 19593-1
    "Cut": ("#c1121f", "CONTINUOUS", ("Structural", "Cutting")),
    "Crease": ("#1f6f43", "DASHED", ("Structural", "Creasing")),
    "Perforation": ("#1d4e89", "DASHDOT", ("Structural", "Perforating")),
    "Half cut": ("#8a4f9e", "DOT", ("Structural", "PartialCutting")),
}


@dataclass
class Carton:
    """A carton's lines by layer, each a list of strokes."""

    name: str
    size: tuple[float, float]
    lines: dict[str, list[list[Piece]]] = field(default_factory=dict)


# -- the two cartons --------------------------------------------------------------------------------------------------


def _style(name: str, length: float, width: float, height: float) -> Blank:
    own = {n[7:]: row.value for n, row in assumption_table().items() if n.startswith("carton.") and row.value}
    numbers = {n: v for n, v in own.items() if isinstance(v, float)}
    return build_blank(name, {**numbers, "length_mm": length, "width_mm": width, "height_mm": height})


def _rounded(outline: tuple[Point, ...], radii: dict[int, float]) -> list[Piece]:
    """Return an outline as lines, some of its corners rounded."""
    pieces: list[Piece] = []
    ends: list[tuple[Point, Point]] = []
    arcs: dict[int, Arc] = {}
    count = len(outline)
    for i, corner in enumerate(outline):
        radius = radii.get(i)
        if radius is None:
            ends.append((corner, corner))
            continue
        before, after = outline[i - 1], outline[(i + 1) % count]
        back = math.atan2(before[1] - corner[1], before[0] - corner[0])
        on = math.atan2(after[1] - corner[1], after[0] - corner[0])
        half = ((on - back + math.pi) % (2 * math.pi) - math.pi) / 2
        reach = radius / abs(math.tan(half))
        start = corner[0] + reach * math.cos(back), corner[1] + reach * math.sin(back)
        end = corner[0] + reach * math.cos(on), corner[1] + reach * math.sin(on)
        out = radius / abs(math.sin(half))
        centre = corner[0] + out * math.cos(back + half), corner[1] + out * math.sin(back + half)
        first = math.degrees(math.atan2(start[1] - centre[1], start[0] - centre[0]))
        last = math.degrees(math.atan2(end[1] - centre[1], end[0] - centre[0]))
        turn = (last - first + 180) % 360 - 180
        arcs[i] = Arc(centre, radius, radius, first, first + turn)
        ends.append((start, end))
    for i in range(count):
        if i in arcs:
            pieces.append(arcs[i])
        pieces.append(Line(ends[i][1], ends[(i + 1) % count][0]))
    return pieces


def window_carton() -> Carton:
    """Tuck carton with rounded tuck flaps, a thumb notch, an oval window and a tear strip."""
    blank = _style("reverse_tuck_end", 80, 40, 120)
    width, height = blank.box_mm
    low = min(y for _, y in blank.outline)
    top = max(y for _, y in blank.outline)
    tucks = {i: 8.0 for i, (_, y) in enumerate(blank.outline) if y in (low, top)}
    outline = _rounded(blank.outline, tucks)
    # the thumb notch is a half circle out of the straight edge at the foot of the first panel
    edge = next(
        p for p in outline if isinstance(p, Line) and p.start[1] == p.end[1] == 0 and p.end[0] - p.start[0] > 60
    )
    at = outline.index(edge)
    middle = (edge.start[0] + edge.end[0]) / 2
    outline[at : at + 1] = [
        Line(edge.start, (middle - 9, 0.0)),
        Arc((middle, 0.0), 9, 9, 180, 0),
        Line((middle + 9, 0.0), edge.end),
    ]
    window: list[Piece] = [Arc((175, 60), 25, 16, 0, 360)]
    tear = [[Line((15, y), (255, y))] for y in (96.0, 104.0)]
    return Carton(
        "window_carton",
        (width, height),
        {"Cut": [outline, window], "Crease": [[Line(a, b)] for a, b in blank.creases], "Perforation": tear},
    )


def wave_sleeve() -> Carton:
    """Sleeve with a waved edge, two round holes and a half cut."""
    blank = _style("sleeve", 90, 30, 60)
    outline: list[Piece] = [
        Line(a, b) for a, b in zip(blank.outline, (*blank.outline[1:], blank.outline[0]), strict=True)
    ]
    edge = next(p for p in outline if isinstance(p, Line) and p.start[1] == p.end[1] == 60)
    at, (_, y), (left, _) = outline.index(edge), edge.start, edge.end
    right = left + 90  # the wave is in the first panel, from crease to crease
    middle, sixth = (right + left) / 2, (left - right) / 6
    outline[at : at + 1] = [
        Line(edge.start, (right, y)),
        Curve(((right, y), (right + sixth, y - 12), (middle - sixth, y - 12), (middle, y - 6))),
        Curve(((middle, y - 6), (middle + sixth, y), (left - sixth, y - 10), (left, y))),
    ]
    holes: list[list[Piece]] = [[Arc((60.0, 28.0), 9, 9, 0, 360)], [Arc((180.0, 28.0), 9, 9, 0, 360)]]
    half_cut: list[list[Piece]] = [[Line((150.0, 12.0), (210.0, 12.0))]]
    return Carton(
        "wave_sleeve",
        blank.box_mm,
        {"Cut": [outline, *holes], "Crease": [[Line(a, b)] for a, b in blank.creases], "Half cut": half_cut},
    )


# -- the three formats ------------------------------------------------------------------------------------------------


def write_dxf(carton: Carton, path: Path) -> None:
    """Write a DXF in millimetres, with a layer per kind and a note that is no line to run."""
    ezdxf.options.write_fixed_meta_data_for_testing = True  # else times and identities change with each run
    document = ezdxf.new("R2010", setup=["linetypes"])
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    for layer, strokes in carton.lines.items():
        colour, linetype, _ = KINDS[layer]
        entry = document.layers.add(layer, linetype=linetype)
        entry.rgb = tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))
        for pieces in strokes:
            for piece in pieces:
                _add_to_dxf(space, piece, {"layer": layer})
    document.layers.add("Notes")
    low = min(y for y in _heights(carton))
    text = space.add_text(f"{carton.name}: invented sample", height=5, dxfattribs={"layer": "Notes"})
    text.set_placement((0, low - 12), align=TextEntityAlignment.LEFT)
    document.saveas(path)


def _heights(carton: Carton) -> list[float]:
    return [
        p.start[1] for strokes in carton.lines.values() for pieces in strokes for p in pieces if isinstance(p, Line)
    ]


def _add_to_dxf(space: ezdxf.layouts.Modelspace, piece: Piece, look: dict[str, str]) -> None:
    if isinstance(piece, Line):
        space.add_line(piece.start, piece.end, look)
    elif isinstance(piece, Curve):
        space.add_open_spline(piece.points, degree=3, dxfattribs=look)
    elif piece.across == piece.along and piece.full:
        space.add_circle(piece.centre, piece.across, look)
    elif piece.across == piece.along:
        space.add_arc(
            piece.centre, piece.across, min(piece.start, piece.end), max(piece.start, piece.end), dxfattribs=look
        )
    else:
        space.add_ellipse(piece.centre, (piece.across, 0), piece.along / piece.across, dxfattribs=look)


def write_svg(carton: Carton, path: Path) -> None:
    """Write an SVG in millimetres, with a named group per kind."""
    left, low, width, height = _page(carton)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="{left:g} {-low - height:g} {width:g} {height:g}">',
        f"  <title>{carton.name}: invented sample</title>",
    ]
    dashes = {"CONTINUOUS": "", "DASHED": ' stroke-dasharray="4 2"', "DASHDOT": ' stroke-dasharray="4 2 1 2"'}
    for layer, strokes in carton.lines.items():
        colour, linetype, _ = KINDS[layer]
        dash = dashes.get(linetype, ' stroke-dasharray="1 2"')
        lines.append(f'  <g id="{layer.replace(" ", "_")}" fill="none" stroke="{colour}" stroke-width="0.5"{dash}>')
        lines += [f'    <path d="{_svg_path(pieces)}"/>' for pieces in strokes]
        lines.append("  </g>")
    lines.append(f'  <text x="0" y="{-low - MARGIN / 3:g}" font-size="5">{carton.name}: invented sample</text>')
    path.write_text("\n".join([*lines, "</svg>", ""]), encoding="utf-8")


def _svg_path(pieces: list[Piece]) -> str:
    def xy(point: Point) -> str:
        return f"{_plain(point[0])} {_plain(-point[1])}"

    words: list[str] = []
    here: Point | None = None
    for piece in pieces:
        start = (
            piece.at(piece.start)
            if isinstance(piece, Arc)
            else piece.points[0]
            if isinstance(piece, Curve)
            else piece.start
        )
        if here is None or math.dist(here, start) > 1e-9:
            words.append(f"M {xy(start)}")
        if isinstance(piece, Line):
            here = piece.end
            words.append(f"L {xy(here)}")
        elif isinstance(piece, Curve):
            here = piece.points[3]
            words.append("C " + " ".join(xy(p) for p in piece.points[1:]))
        else:
            middle = (piece.start + piece.end) / 2
            sweep = int(piece.end < piece.start)  # the page's y points down
            for end in (middle, piece.end):
                here = piece.at(end)
                words.append(f"A {_plain(piece.across)} {_plain(piece.along)} 0 0 {sweep} {xy(here)}")
    return " ".join(words)


def _plain(value: float) -> str:
    return f"{round(value, 10) + 0.0:.10f}".rstrip("0").rstrip(".")  # the sum turns -0 into 0


def write_pdf(carton: Carton, path: Path) -> None:
    """Write a PDF page with an optional-content group per kind, each with its processing step."""
    left, low, width, height = _page(carton)
    pdf = pikepdf.new()
    page = pdf.add_blank_page(page_size=(width * MM, height * MM))
    groups, content = {}, [f"q {_plain(MM)} 0 0 {_plain(MM)} {_plain(-left * MM)} {_plain(-low * MM)} cm 0.5 w"]
    for number, (layer, strokes) in enumerate(carton.lines.items()):
        colour, _, (step_group, step_type) = KINDS[layer]
        step = pikepdf.Dictionary(
            GTS_ProcStepsGroup=pikepdf.Name(f"/{step_group}"), GTS_ProcStepsType=pikepdf.Name(f"/{step_type}")
        )
        group = pdf.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.OCG, Name=layer, GTS_Metadata=step))
        groups[f"/L{number}"] = group
        red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
        content.append(f"/OC /L{number} BDC {red:.4f} {green:.4f} {blue:.4f} RG")
        content += [f"{_pdf_path(pieces)} S" for pieces in strokes]
        content.append("EMC")
    page.Resources = pikepdf.Dictionary(Properties=pikepdf.Dictionary(groups))
    page.Contents = pdf.make_stream("\n".join([*content, "Q", ""]).encode())
    order = pikepdf.Array(groups.values())
    pdf.Root.OCProperties = pikepdf.Dictionary(OCGs=order, D=pikepdf.Dictionary(Order=order))
    pdf.save(path, deterministic_id=True)


def _pdf_path(pieces: list[Piece]) -> str:
    def xy(point: Point) -> str:
        return f"{_plain(point[0])} {_plain(point[1])}"

    words: list[str] = []
    here: Point | None = None
    for piece in pieces:
        curves = [piece.points] if isinstance(piece, Curve) else _as_curves(piece) if isinstance(piece, Arc) else []
        start = curves[0][0] if curves else piece.start
        if here is None or math.dist(here, start) > 1e-9:
            words.append(f"{xy(start)} m")
        if isinstance(piece, Line):
            here = piece.end
            words.append(f"{xy(here)} l")
        for curve in curves:
            here = curve[3]
            words.append(" ".join(xy(p) for p in curve[1:]) + " c")
    return " ".join(words)


def _as_curves(arc: Arc) -> list[tuple[Point, Point, Point, Point]]:
    count = max(1, math.ceil(abs(arc.end - arc.start) / 22.5 - 1e-9))
    step = math.radians(arc.end - arc.start) / count
    reach = 4 / 3 * math.tan(step / 4)
    curves = []
    for i in range(count):
        first = math.radians(arc.start) + i * step
        last = first + step
        ends = [(math.cos(first), math.sin(first)), (math.cos(last), math.sin(last))]
        inner = [
            (ends[0][0] - reach * ends[0][1], ends[0][1] + reach * ends[0][0]),
            (ends[1][0] + reach * ends[1][1], ends[1][1] - reach * ends[1][0]),
        ]
        a, b, c, d = (
            (arc.centre[0] + arc.across * x, arc.centre[1] + arc.along * y) for x, y in (ends[0], *inner, ends[1])
        )
        curves.append((a, b, c, d))
    return curves


def _page(carton: Carton) -> tuple[float, float, float, float]:
    """Return left, low, width and height of the page around a carton [mm]."""
    heights = _heights(carton)
    low = min(heights) - MARGIN
    return -MARGIN, low, carton.size[0] + 2 * MARGIN, max(heights) + MARGIN - low


def main() -> None:
    """Write every carton in every format."""
    own = Path(__file__).resolve().parent.parent / "data" / "demo" / "drawings"
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=own)
    folder = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    for carton in (window_carton(), wave_sleeve()):
        for suffix, write in (("dxf", write_dxf), ("svg", write_svg), ("pdf", write_pdf)):
            write(carton, folder / f"{carton.name}.{suffix}")


if __name__ == "__main__":
    main()
