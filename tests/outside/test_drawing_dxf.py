"""Lengths of DXF drawings against closed formulas, own arithmetic on the raw file, and files of other hands.

Sources:

- Bulge b = tan(angle / 4), numbers of ``$INSUNITS``, the axes of a plane by its extrusion: DXF
  Reference (Autodesk), from memory; the numbers of units and the lengths of arcs also checked in
  ezdxf (MIT), published software.
- Arc of a bulge over a chord c: c (1 + b2) / |b| x atan |b|: derived here.
- Inch 25.4 mm, foot 304.8 mm exactly; survey foot 1200 / 3937 m: NIST Special Publication 811, from memory.
- Perimeter of an ellipse by the complete elliptic integral of the second kind: published (DLMF 19.9),
  by SciPy.
- Length of the parabola y = x2 from 0 to 1: (2 sqrt5 + asinh 2) / 4, derived here.
- Files that ship with the source of ezdxf (MIT), many of them collected from bug reports: published.
"""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from readers.dxf_files import DxfFile, codes_of, length_of, line, message_of, tags, text_of
from scipy.special import ellipe

from compare.readers.dxf import UNITS_BY_CODE, read_dxf

ELLIPSE_2_1 = 8 * ellipe(0.75)
"""Perimeter of the ellipse with half-axes 2 and 1: 4 a E(m), m = 1 - (b / a)2."""

SURVEY_FOOT_MM = 1_200_000 / 3937


@pytest.fixture
def file(tmp_path):
    return DxfFile(tmp_path)


@pytest.fixture
def read(tmp_path):
    """Read a bare text."""

    def reader(text):
        path = tmp_path / "bare.dxf"
        path.write_text(text)
        return read_dxf(path)

    return reader


# -- units ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "mm"),
    [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (10, 914.4), (13, 1e-3), (21, SURVEY_FOOT_MM)],
)
def test_one_unit_of_the_drawing_has_its_length_in_millimetres(tmp_path, code, mm):
    """From memory: NIST SP 811 for inch, foot and yard, old and new."""
    file = DxfFile(tmp_path, units=code)
    file.model.add_line((0, 0), (1, 0))
    drawing = file.read()
    assert length_of(drawing) * drawing.mm_per_unit == pytest.approx(mm, rel=1e-12)
    assert drawing.unit_source == f"$INSUNITS {code} of the file"


def test_every_unit_the_reader_takes_is_the_one_the_library_names():
    """Published software: the table of ezdxf, which holds to nine digits only; it has no survey units."""
    from ezdxf.units import METER_FACTOR

    factors = {code: METER_FACTOR[code] for code in UNITS_BY_CODE if METER_FACTOR[code]}
    assert set(factors) == {1, 2, 3, 4, 5, 6, 7, 10, 13, 14, 15, 16}
    for code, per_metre in factors.items():
        assert UNITS_BY_CODE[code][1] == pytest.approx(1000 / per_metre, rel=1e-7)


@pytest.mark.parametrize("header", ["", tags((9, "$ACADVER"), (1, "AC1009"))], ids=["no header", "no such variable"])
def test_a_file_without_a_unit_is_asked_about_and_never_taken_for_millimetres(read, header):
    """Common practice, no source: a third of the files met in the open have none."""
    drawing = read(text_of(line(0, 0, 1, 0), header=header))
    assert (drawing.unit, drawing.mm_per_unit) == (None, None)
    assert "state it" in message_of(drawing, "drawing.no_unit")


def test_a_file_that_says_it_has_no_unit_is_asked_about(tmp_path):
    """DXF Reference, from memory: 0 is "unitless"."""
    drawing = DxfFile(tmp_path, units=0).read()
    assert (drawing.unit, drawing.mm_per_unit) == (None, None)
    assert "has no unit" in message_of(drawing, "drawing.no_unit")


# -- closed formulas --------------------------------------------------------------------------------------------------


def test_circle_of_radius_50(file):
    """2 pi r; a circle by four cubic curves would be 1.4e-4 too long."""
    file.model.add_circle((10, 20), 50)
    assert length_of(file.read()) == pytest.approx(314.1592653590, rel=1e-12)


def test_half_circle_by_a_bulge_of_one(file):
    """Derived here: pi c / 2 over a chord of 10."""
    file.model.add_lwpolyline([(0, 0, 1), (10, 0, 0)], format="xyb")
    assert length_of(file.read()) == pytest.approx(15.7079632679, rel=1e-11)


def test_whole_circle_by_two_bulges_of_one(file):
    """Derived here: pi c over a chord of 10."""
    file.model.add_lwpolyline([(0, 0, 1), (10, 0, 1)], format="xyb", close=True)
    assert length_of(file.read()) == pytest.approx(31.4159265359, rel=1e-11)


def test_quarter_circle_by_the_bulge_of_an_eighth_of_pi(file):
    """Derived here: radius 10 / sqrt2, length pi / 2 of it."""
    file.model.add_lwpolyline([(0, 0, math.tan(math.pi / 8)), (10, 0, 0)], format="xyb")
    assert length_of(file.read()) == pytest.approx(11.1072073454, rel=1e-11)


def test_ellipse_of_half_axes_2_and_1(file):
    """Published: 4 a E(3/4) = 9.688448220548."""
    file.model.add_ellipse((0, 0), (2, 0), 0.5)
    length = length_of(file.read())
    assert length == pytest.approx(ELLIPSE_2_1, rel=1e-9)
    assert length == pytest.approx(9.688448220548, rel=1e-9)


def test_ellipse_in_a_block_of_scale_10(file):
    """The same ten times."""
    file.block("ring").add_ellipse((0, 0), (2, 0), 0.5)
    file.model.add_blockref("ring", (5, 5), dxfattribs={"xscale": 10, "yscale": 10})
    assert length_of(file.read()) == pytest.approx(10 * ELLIPSE_2_1, rel=1e-9)


def test_parabola_as_a_cubic_spline(file):
    """Derived here: y = x2 from 0 to 1 is (2 sqrt5 + asinh 2) / 4 long."""
    spline = file.model.add_spline()
    spline.control_points = [(0, 0), (1 / 3, 0), (2 / 3, 1 / 3), (1, 1)]
    spline.knots = [0, 0, 0, 0, 1, 1, 1, 1]
    length = length_of(file.read())
    assert length == pytest.approx((2 * math.sqrt(5) + math.asinh(2)) / 4, rel=1e-9)
    assert length == pytest.approx(1.478942857545, rel=1e-9)


def test_circle_in_a_block_stretched_to_twice_its_width_is_the_ellipse(file):
    """Published: the ellipse of half-axes 2 and 1 once more."""
    file.block("ring").add_circle((0, 0), 1)
    file.model.add_blockref("ring", (0, 0), dxfattribs={"xscale": 2, "yscale": 1})
    assert length_of(file.read()) == pytest.approx(ELLIPSE_2_1, rel=1e-9)


def test_circle_in_a_block_of_half_size_in_a_block_of_half_size(file):
    """2 pi / 4."""
    file.block("ring").add_circle((0, 0), 1)
    half = {"xscale": 0.5, "yscale": 0.5}
    file.block("pair").add_blockref("ring", (0, 0), dxfattribs=half)
    file.model.add_blockref("pair", (0, 0), dxfattribs=half)
    assert length_of(file.read()) == pytest.approx(1.5707963268, rel=1e-10)


@pytest.mark.parametrize("zscale", [1, 0], ids=["of full height", "of no height"])
def test_block_in_a_grid_of_5_by_4(file, zscale):
    """20 x 10 mm; a height scale of 0, met in files of the open, must not stop the reading."""
    file.block("rule").add_line((0, 0), (10, 0))
    reference = file.model.add_blockref("rule", (0, 0))
    grid = {"column_count": 5, "row_count": 4, "column_spacing": 30, "row_spacing": 20, "zscale": zscale}
    vars(reference.dxf).update(grid)  # as a file holds it; setting it would be mended
    assert length_of(file.read()) == pytest.approx(200, rel=1e-12)


# -- where the lines are ----------------------------------------------------------------------------------------------


def test_lines_in_paper_space_alone_are_not_taken_for_an_empty_drawing(file):
    """Files whose model space is empty are met in the open (common practice, no source)."""
    file.doc.layout("Layout1").add_line((0, 0), (3, 4))
    drawing = file.read()
    assert "paper space" in message_of(drawing, "drawing.paper_space")
    assert "'Layout1'" in message_of(drawing, "drawing.paper_space")


def test_a_file_of_meshes_alone_has_no_cut_lines(file):
    """A mesh has edges but no path to run."""
    file.model.add_polyface().append_faces([[(0, 0, 0), (1, 0, 0), (1, 1, 0)]])
    file.model.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])
    drawing = file.read()
    assert message_of(drawing, "drawing.no_lines").startswith("no cut lines")
    assert drawing.left_out == {"meshes and solids": 2}


@pytest.mark.parametrize("without", ["HEADER", "TABLES", "HEADER TABLES"])
def test_a_file_without_header_or_tables_is_read(read, without):
    """The oldest kind of DXF is allowed to be bare: it is no fault, and all lines are there."""
    header = "" if "HEADER" in without else tags((9, "$ACADVER"), (1, "AC1009"))
    tables = "" if "TABLES" in without else tags((0, "TABLE"), (2, "LAYER"), (70, 0), (0, "ENDTAB"))
    assert length_of(read(text_of(line(0, 0, 3, 4), header=header, tables=tables))) == 5


def test_a_file_whose_structure_is_broken_is_read_with_a_finding(read):
    """A section that ends without having begun, as a file in the source of ezdxf (published) has it."""
    text = tags((0, "ENDSEC")) + text_of(line(0, 0, 3, 4), header=tags((9, "$ACADVER"), (1, "AC1009")))
    drawing = read(text)
    assert length_of(drawing) == 5
    assert "drawing.tolerant" in codes_of(drawing)


# -- own arithmetic on the raw file -----------------------------------------------------------------------------------


def raw_entities(path: Path) -> list[list[tuple[int, str]]]:
    """Group codes and values of every entity, read off the text; the library has no part in it."""
    lines = path.read_text().splitlines()
    pairs = [(int(code), value.strip()) for code, value in zip(lines[::2], lines[1::2], strict=True)]
    begin = pairs.index((2, "ENTITIES"))
    entities: list[list[tuple[int, str]]] = []
    for code, value in pairs[begin + 1 : pairs.index((0, "ENDSEC"), begin)]:
        if code == 0:
            entities.append([])
        entities[-1].append((code, value))
    return entities


def raw_length(entity: list[tuple[int, str]]) -> float:
    """Length of one entity by plain formulas: lines, arcs, circles, polylines with bulges."""
    first = dict(reversed(entity))
    number = {code: float(value) for code, value in first.items() if 10 <= code < 60}
    kind = first[0]
    if kind == "LINE":
        return math.hypot(number[11] - number[10], number[21] - number[20])
    if kind == "CIRCLE":
        return 2 * math.pi * number[40]
    if kind == "ARC":
        return number[40] * math.radians((number[51] - number[50]) % 360)
    corners: list[list[float]] = []
    for code, value in entity:
        if code == 10:
            corners.append([float(value), 0.0, 0.0])
        elif code in (20, 42):
            corners[-1][1 if code == 20 else 2] = float(value)
    if int(first[70]) & 1:
        corners.append(corners[0])
    length = 0.0
    for (x0, y0, bulge), (x1, y1, _) in pairwise(corners):
        chord = math.hypot(x1 - x0, y1 - y0)
        length += chord * (1 + bulge**2) / abs(bulge) * math.atan(abs(bulge)) if bulge else chord
    return length


NUMBERS = st.floats(-500, 500).map(lambda x: round(x, 4))
POINTS = st.tuples(NUMBERS, NUMBERS)
ANGLES = st.floats(0, 359).map(lambda x: round(x, 4))  # a hair of an arc may as well be a whole turn
BULGES = st.sampled_from([0, 0.1, 1, -0.4142, 2.5])


@given(
    lines=st.lists(st.tuples(POINTS, POINTS), max_size=5),
    arcs=st.lists(st.tuples(POINTS, st.floats(0.1, 90), ANGLES, ANGLES), max_size=5),
    circles=st.lists(st.tuples(POINTS, st.floats(0.1, 90)), max_size=5),
    outlines=st.lists(st.tuples(st.lists(st.tuples(NUMBERS, NUMBERS, BULGES), min_size=2, max_size=6), st.booleans())),
)
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_lengths_are_those_of_own_arithmetic_on_the_raw_file(tmp_path, **shapes):
    """Derived here: a reader of group codes of thirty lines, and the formulas named above."""
    file = DxfFile(tmp_path)
    for start, end in shapes["lines"]:
        file.model.add_line(start, end)
    for centre, radius, start, end in shapes["arcs"]:
        file.model.add_arc(centre, radius, start, end)
    for centre, radius in shapes["circles"]:
        file.model.add_circle(centre, radius)
    for corners, closed in shapes["outlines"]:
        file.model.add_lwpolyline(corners, format="xyb", close=closed)
    found = length_of(file.read())
    assert found == pytest.approx(sum(map(raw_length, raw_entities(file.path))), rel=1e-9, abs=1e-9)
