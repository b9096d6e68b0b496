"""Lengths of PDF pages by layer and processing step, against the test page and the formats.

Sources:

- Keys and names of processing steps: PDF Association, Arlington PDF model,
  ``tsv/latest/GTS_ProcStepsGroup.tsv``, commit 7e162a0, which cites ISO 19593-1 tables 2 and 3:
  published.
- Membership dictionaries, ``UserUnit``, ``n`` as a path that paints nothing, the default user unit of
  1/72 inch: ISO 32000, from memory.
- Lengths of the test page: lines by Pythagoras, curves by Simpson's rule in this file: derived here.
"""

from __future__ import annotations

import math

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String

from compare.readers.pdf import read_pdf

KAPPA = 4 / 3 * (math.sqrt(2) - 1)
"""Where the control points of a quarter circle lie, as every drawing program draws it."""

MM = 72 / 25.4


def curve_length(p: list[tuple[float, float]]) -> float:
    """Length of a cubic curve by Simpson's rule on 2,000 parts."""

    def speed(t: float) -> float:
        v = 1 - t
        return math.hypot(
            *(
                3 * (v * v * (p[1][k] - p[0][k]) + 2 * v * t * (p[2][k] - p[1][k]) + t * t * (p[3][k] - p[2][k]))
                for k in (0, 1)
            )
        )

    n = 2000
    inner = sum((4 if k % 2 else 2) * speed(k / n) for k in range(1, n))
    return (speed(0) + inner + speed(1)) / (3 * n)


def circle(x: float, y: float, r: float) -> str:
    """A circle of four curves."""
    k = r * KAPPA
    return (
        f"{x + r} {y} m {x + r} {y + k} {x + k} {y + r} {x} {y + r} c "
        f"{x - k} {y + r} {x - r} {y + k} {x - r} {y} c {x - r} {y - k} {x - k} {y - r} {x} {y - r} c "
        f"{x + k} {y - r} {x + r} {y - k} {x + r} {y} c"
    )


CUT = 2 * (100 + 60) + 4 * curve_length([(20, 0), (20, 20 * KAPPA), (20 * KAPPA, 20), (0, 20)])
UNTAGGED = math.hypot(3, 4) - 0.011
CONTENT = f"""
q {MM} 0 0 {MM} 0 0 cm 0.1 w
/OC /Cut BDC 10 10 100 60 re S {circle(60, 40, 20)} s EMC
/OC /Crease BDC 40 10 m 40 70 l S 10 40 m 110 40 l S EMC
/OC /Art BDC 0 0 150 90 re f EMC
120 10 m {120 + UNTAGGED} 10 l S
/Perforation Do
Q
"""


class Page:
    """The test page: two tagged layers, a form of a third, artwork, and a line in no layer; in millimetres."""

    def __init__(self, path) -> None:
        self.path = path
        self.pdf = pikepdf.new()
        self.pdf.add_blank_page(page_size=(160 * MM, 100 * MM))
        self.page = self.pdf.pages[0].obj
        self.cut = self.layer("Line 1", "Structural", "Cutting")
        self.crease = self.layer("Line 2", "Structural", "Creasing")
        self.perforation = self.layer("Line 3", "Structural", "Perforating")
        self.art = self.layer("Picture")
        layers = [self.cut, self.crease, self.perforation, self.art]
        self.pdf.Root.OCProperties = Dictionary(OCGs=Array(layers), D=Dictionary())
        form = self.pdf.make_stream(b"10 20 m 60 20 l S", Subtype=Name.Form, BBox=[0, 0, 160, 100], OC=self.perforation)
        self.page.Resources = Dictionary(
            Properties=Dictionary(Cut=self.cut, Crease=self.crease, Art=self.art), XObject=Dictionary(Perforation=form)
        )
        self.page.Contents = self.pdf.make_stream(CONTENT.encode())

    def layer(self, name: str, group: str = "", kind: str = "") -> Dictionary:
        made = Dictionary(Type=Name.OCG, Name=String(name))
        if group:
            made.GTS_Metadata = Dictionary(GTS_ProcStepsGroup=Name("/" + group), GTS_ProcStepsType=Name("/" + kind))
        return self.pdf.make_indirect(made)

    def read(self):
        self.pdf.save(self.path)
        return read_pdf(self.path)


@pytest.fixture
def page(tmp_path):
    return Page(tmp_path / "tray.pdf")


def lengths(drawing, by) -> dict[str, float]:
    """Length [mm] by something that a group of lines says."""
    piece = drawing.strokes.lengths() * drawing.mm_per_unit
    of_piece = drawing.strokes.group[drawing.strokes.stroke]
    found: dict[str, float] = {}
    for n, group in enumerate(drawing.groups):
        found[by(group)] = found.get(by(group), 0.0) + float(piece[of_piece == n].sum())
    return found


def test_the_truth_of_the_test_page_is_that_of_the_reference():
    """Cut 445.681336 mm (check 22, computed there by another integration): here by Simpson's rule."""
    assert pytest.approx(445.681336, abs=1e-6) == CUT


def test_each_step_has_its_length(page):
    """Check 22: cut 445.681336, crease 160, perforation 50, no layer 4.989 mm, to 1e-9."""
    found = lengths(page.read(), lambda group: f"{group.step_group}/{group.step_type}")
    expected = {"Structural/Cutting": CUT, "Structural/Creasing": 160, "Structural/Perforating": 50, "/": 4.989}
    assert found == pytest.approx(expected, rel=1e-9)


def test_artwork_that_is_filled_only_is_no_line(page):
    assert page.read().left_out == {"fill only": 1}


def test_without_their_tags_the_lines_are_of_unknown_layers_not_of_a_step(page):
    """Check 22: the names of layers are free text; "Line 1" is not known to be a cut."""
    for layer in (page.cut, page.crease, page.perforation):
        del layer.GTS_Metadata
    drawing = page.read()
    assert {group.step_group + group.step_type for group in drawing.groups} == {""}
    found = lengths(drawing, lambda group: group.layer)
    assert found == pytest.approx({"Line 1": CUT, "Line 2": 160, "Line 3": 50, "": 4.989}, rel=1e-9)


def test_a_membership_dictionary_is_looked_through(page):
    """Source: ISO 32000, optional content membership dictionaries, from memory."""
    member = Dictionary(Type=Name.OCMD, OCGs=page.cut)
    page.page.Resources.Properties.Cut = page.pdf.make_indirect(member)
    assert lengths(page.read(), lambda group: group.step_type)["Cutting"] == pytest.approx(CUT, rel=1e-9)


@pytest.mark.parametrize("unit", [2, 0.5, 10])
def test_a_user_unit_multiplies_every_length(page, unit):
    """Check 23: a UserUnit of 2 doubles every length."""
    plain = lengths(page.read(), lambda group: group.layer)
    page.page.UserUnit = unit
    scaled = lengths(page.read(), lambda group: group.layer)
    assert scaled == pytest.approx({layer: unit * length for layer, length in plain.items()}, rel=1e-12)


def test_a_scale_inside_brackets_does_not_leak(page):
    """Check 23: without the brackets the second line would be 8 times as long."""
    page.page.Contents = page.pdf.make_stream(b"q 8 0 0 8 0 0 cm 0 0 m 9 0 l S Q 0 0 m 72 0 l S")
    assert sum(lengths(page.read(), str).values()) == pytest.approx(2 * 25.4, rel=1e-12)


def test_a_path_that_paints_nothing_counts_nothing(page):
    """Check 23: ``n`` ends a path without painting it, as clip paths are ended."""
    page.page.Contents = page.pdf.make_stream(b"0 0 m 72 0 l S 0 0 90 90 re W n 0 0 90 90 re n")
    assert sum(lengths(page.read(), str).values()) == pytest.approx(25.4, rel=1e-12)


def test_dimensions_beside_the_part_are_apart_from_it(page):
    """Check 25: choosing the part layer alone leaves the stroked lines of the dimensions out."""
    part, dimensions = page.layer("Part"), page.layer("Measures")
    page.page.Resources.Properties = Dictionary(P=part, D=dimensions)
    content = f"{MM} 0 0 {MM} 0 0 cm /OC /P BDC 10 10 100 60 re S EMC /OC /D BDC 10 5 m 110 5 l S 10 4 m 10 6 l S EMC"
    page.page.Contents = page.pdf.make_stream(content.encode())
    assert lengths(page.read(), lambda group: group.layer) == pytest.approx({"Part": 320, "Measures": 102}, rel=1e-9)


@pytest.mark.parametrize(
    "map_", ["1 0 0 1 9 5", "0 1 -1 0 200 9", "-1 0 0 1 320 0", "0.8 0.6 -0.6 0.8 120 0"],
    ids=["moved", "turned", "mirrored", "turned by 3-4-5"],
)  # fmt: skip
def test_moving_turning_and_mirroring_change_no_length(page, map_):
    """Check 30: to 1e-9 (derived here: a rigid map keeps lengths)."""
    page.page.MediaBox = Array([-1000, -1000, 1000, 1000])
    page.page.Contents = page.pdf.make_stream(f"{map_} cm {CONTENT}".encode())
    found = lengths(page.read(), lambda group: group.layer)
    assert found == pytest.approx({"Line 1": CUT, "Line 2": 160, "Line 3": 50, "": 4.989}, rel=1e-9)
