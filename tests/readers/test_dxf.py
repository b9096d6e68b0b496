"""DXF files: what counts as a line, where it lies, what it looks like, and what is said about the rest."""

from __future__ import annotations

import gc
import logging
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline

from compare.errors import FileError, InputError, UnknownNameError
from compare.geometry.strokes import ARC, CUBIC, LINE, Group
from compare.readers.dxf import read_dxf
from readers.dxf_files import (
    DxfFile,
    block,
    codes_of,
    insert,
    length_of,
    line,
    message_of,
    sample,
    tags,
    text_of,
)

EXACT = 1e-12


@pytest.fixture
def file(tmp_path):
    return DxfFile(tmp_path)


@pytest.fixture
def read(tmp_path):
    """Read a bare text."""

    def reader(text, **options):
        path = tmp_path / "bare.dxf"
        path.write_text(text)
        return read_dxf(path, **options)

    return reader


def box_of(drawing):
    """Bounding box by fine chords: x0, y0, x1, y1."""
    points = drawing.strokes.flattened(1e-5)[0].reshape(-1, 2)
    return [*points.min(axis=0), *points.max(axis=0)]


# -- lines and curves -------------------------------------------------------------------------------------------------


def test_a_line_is_kept_as_it_is(file):
    file.model.add_line((1, 2), (4, 6))
    strokes = file.read().strokes
    assert strokes.kind.tolist() == [LINE]
    assert strokes.data[0, :4].tolist() == [1, 2, 4, 6]


def test_an_arc_runs_anticlockwise_past_zero_degrees(file):
    file.model.add_arc((1, 1), 2, 350, 10)
    drawing = file.read()
    assert length_of(drawing) == pytest.approx(2 * math.radians(20), rel=EXACT)
    assert drawing.strokes.at(0.5)[0] == pytest.approx([3, 1])


@pytest.mark.parametrize("end", [360, 360.0000001, -360])
def test_an_arc_of_a_whole_turn_is_a_circle(file, end):
    """Programs write whole turns as arcs, with angles that are rounded."""
    file.model.add_arc((0, 0), 2, 0, end)
    assert length_of(file.read()) == pytest.approx(4 * math.pi, rel=1e-9)


def test_an_arc_from_an_angle_to_itself_has_no_length_and_is_counted(file):
    file.model.add_arc((0, 0), 2, 90, 90)
    drawing = file.read()
    assert length_of(drawing) == 0
    assert drawing.left_out == {"lines without length": 1}


def test_a_circle_of_negative_radius_counts_by_its_size(file):
    """Files of this kind exist, and drawing programs ignore the sign."""
    file.model.add_circle((0, 0), -3)
    assert length_of(file.read()) == pytest.approx(6 * math.pi, rel=EXACT)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2007", "R2018"])
def test_every_age_of_the_format_gives_the_same_lengths(tmp_path, version):
    file = DxfFile(tmp_path, version)
    file.model.add_line((0, 0), (3, 4))
    file.model.add_circle((0, 0), 1)
    file.model.add_polyline2d([(0, 0, 0, 0, 1), (2, 0)], format="xyseb")
    assert length_of(file.read(unit="mm")) == pytest.approx(5 + 3 * math.pi, rel=EXACT)


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_a_binary_file_gives_what_the_text_gives(tmp_path, version):
    file = DxfFile(tmp_path)
    file.doc = sample(version)
    text, binary = file.read(unit="mm"), file.read(unit="mm", binary=True)
    assert np.array_equal(text.strokes.data, binary.strokes.data)
    assert (text.groups, text.left_out) == (binary.groups, binary.left_out)


def test_an_open_polyline_has_no_line_back(file):
    file.model.add_lwpolyline([(0, 0), (3, 0), (3, 4)])
    assert length_of(file.read()) == 7


def test_a_closed_polyline_has_the_line_back(file):
    file.model.add_lwpolyline([(0, 0), (3, 0), (3, 4)], close=True)
    assert length_of(file.read()) == 12


def test_the_last_bulge_of_an_open_polyline_is_of_no_account(file):
    file.model.add_lwpolyline([(0, 0, 0), (3, 0, 1)], format="xyb")
    assert length_of(file.read()) == 3


@pytest.mark.parametrize(("bulge", "middle"), [(1, (1, -1)), (-1, (1, 1)), (2, (1, -2)), (-0.5, (1, 0.5))])
def test_a_positive_bulge_bows_to_the_right_of_the_way(file, bulge, middle):
    """The way turns left along it; the middle of the arc is the bulge times half the chord away."""
    file.model.add_lwpolyline([(0, 0, bulge), (2, 0, 0)], format="xyb")
    assert file.read().strokes.at(0.5)[0] == pytest.approx(middle, abs=1e-12)


def test_a_bulge_that_is_nearly_nothing_is_a_straight_line(file):
    """Its centre would lie so far off that the ends were lost in rounding."""
    file.model.add_lwpolyline([(1000, 1000, 1e-9), (1010, 1000, 0)], format="xyb")
    strokes = file.read().strokes
    assert strokes.kind.tolist() == [LINE]


@pytest.mark.parametrize("bulge", [1e-6, 1e-4, 0.1, 1, 30])
def test_arcs_of_bulges_meet_their_neighbours(file, bulge):
    """Contours are closed by their ends, so an arc must end where the next line begins."""
    file.model.add_lwpolyline([(500, 300, bulge), (510, 310, 0), (520, 310, 0)], format="xyb")
    strokes = file.read().strokes
    assert strokes.at(0.0)[0] == pytest.approx([500, 300], abs=1e-9)
    assert strokes.at(1.0)[0] == pytest.approx([510, 310], abs=1e-9)


def test_doubled_corners_of_a_polyline_add_no_pieces(file):
    file.model.add_lwpolyline([(0, 0), (0, 0), (3, 0), (3, 0)], close=True)
    assert len(file.read().strokes) == 2


def test_a_polyline_of_the_old_kind_has_bulges_too(file):
    file.model.add_polyline2d([(0, 0, 0, 0, 1), (10, 0, 0, 0, 1)], format="xyseb", close=True)
    assert length_of(file.read()) == pytest.approx(10 * math.pi, rel=EXACT)


def test_the_frame_that_a_smoothed_polyline_was_drawn_from_is_not_drawn(read):
    """Vertices with flag 16 belong to the frame once the polyline carries flag 4."""
    vertices = "".join(
        tags((0, "VERTEX"), (8, "0"), (10, x), (20, y), (70, flag)) for x, y, flag in ((0, 0, 8), (9, 9, 16), (3, 4, 8))
    )
    polyline = tags((0, "POLYLINE"), (8, "0"), (66, 1), (70, 4)) + vertices + tags((0, "SEQEND"), (8, "0"))
    assert length_of(read(text_of(polyline))) == 5


def test_a_polyline_in_space_counts_as_seen_from_above_and_says_so(file):
    file.model.add_polyline3d([(0, 0, 0), (3, 4, 12)])
    drawing = file.read()
    assert length_of(drawing) == 5
    assert "1 lines do not lie flat" in message_of(drawing, "drawing.not_flat")


def test_a_line_at_one_height_lies_flat(file):
    file.model.add_line((0, 0, 7), (3, 4, 7))
    file.model.add_polyline3d([(0, 0, 7), (3, 4, 7)])
    assert codes_of(file.read()) == set()


def test_an_arc_of_an_ellipse_runs_between_its_parameters(file):
    file.model.add_ellipse((0, 0), (0, 4), 0.5, 0, math.pi / 2)
    strokes = file.read().strokes
    assert strokes.at(0.0)[0] == pytest.approx([0, 4])
    assert strokes.at(1.0)[0] == pytest.approx([-2, 0])


def test_a_whole_ellipse_with_a_rounded_end_is_whole(file):
    """6.28319 is more than a turn by five millionths; the rest after the turn is no ellipse."""
    file.model.add_ellipse((0, 0), (2, 0), 0.5, 0, 6.28319)
    assert length_of(file.read()) == pytest.approx(9.688448220548, rel=1e-9)


def test_a_multiline_is_drawn_as_its_parallel_lines(file):
    """The standard style has two lines half a unit to either side."""
    file.model.add_mline([(0, 0), (10, 0)])
    drawing = file.read()
    assert length_of(drawing) == 20
    assert box_of(drawing) == pytest.approx([0, -1, 10, 0])


def test_a_stroke_is_what_one_entity_draws_and_knows_its_handle(file):
    outline = file.model.add_lwpolyline([(0, 0), (3, 0), (3, 4)], close=True)
    spoke = file.model.add_line((0, 0), (1, 1))
    strokes = file.read().strokes
    assert strokes.stroke.tolist() == [0, 0, 0, 1]
    assert strokes.place == (f"LWPOLYLINE #{outline.dxf.handle}", f"LINE #{spoke.dxf.handle}")


# -- splines ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_plain_splines_up_to_the_third_degree_are_kept_without_loss(file, degree):
    """Every point of the curves is a point of the spline, as the library's own evaluation has it."""
    corners = [(0, 0), (1, 5), (4, 4), (6, -2), (9, 1), (12, 3)]
    spline = file.model.add_open_spline(corners, degree=degree)
    strokes = file.read().strokes
    assert set(strokes.kind.tolist()) == {CUBIC}
    tool = spline.construction_tool()
    for share in (0.0, 0.3, 0.7, 1.0):
        params = (np.arange(len(strokes)) + share) / len(strokes) * tool.max_t
        assert strokes.at(share) == pytest.approx(np.array([p.xyz for p in tool.points(params)])[:, :2], abs=1e-12)


def test_a_spline_with_uneven_and_double_knots_is_kept_without_loss(file):
    corners = [(0, 0), (1, 5), (4, 4), (6, -2), (9, 1), (12, 3), (13, 7)]
    knots = [0, 0, 0, 0, 1, 1, 4.5, 6, 6, 6, 6]
    spline = file.model.add_open_spline(corners, knots=knots)
    strokes = file.read().strokes
    assert len(strokes) == 3
    ends = [p.xyz[:2] for p in spline.construction_tool().points([1, 4.5, 6])]
    assert strokes.at(1.0) == pytest.approx(np.array(ends), abs=1e-12)


def test_a_closed_spline_without_clamped_ends_begins_and_ends_in_one_point(file):
    """Knots run on evenly past both ends; only the spans between belong to the curve."""
    corners = [(0, 0), (10, 0), (10, 10), (0, 10)]
    closed = [*corners, *corners[:3]]
    file.model.add_spline().control_points = closed
    file.model[0].knots = list(range(11))
    strokes = file.read().strokes
    assert len(strokes) == 4
    assert strokes.at(0.0)[0] == pytest.approx(strokes.at(1.0)[-1], abs=1e-12)


def test_a_circle_as_a_weighted_spline_has_the_length_of_the_circle(file):
    """Nine points with weights 1 and cos 45: an exact circle (standard construction of a rational spline)."""
    r, w = 50.0, math.sqrt(0.5)
    around = [(r, 0), (r, r), (0, r), (-r, r), (-r, 0), (-r, -r), (0, -r), (r, -r), (r, 0)]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    file.model.add_rational_spline(around, [1, w] * 4 + [1], degree=2, knots=knots)
    drawing = file.read()
    assert length_of(drawing) == pytest.approx(2 * math.pi * r, rel=1e-6)
    for share in (0.0, 0.25, 0.6):
        assert np.hypot(*drawing.strokes.at(share).T) == pytest.approx(np.full(len(drawing.strokes), r), rel=1e-6)


def integrated(degree, knots, points, weights):
    """Length of a weighted spline by Gauss's rule on 1,000 panels per span, from another library's derivatives."""
    lifted = BSpline(knots, np.column_stack([points * weights[:, None], weights]), degree)
    slope = lifted.derivative()
    node, weight = np.polynomial.legendre.leggauss(8)
    whole = 0.0
    for low, high in pairwise(np.unique(knots[degree : len(points) + 1])):
        edges = np.linspace(low, high, 1001)
        half = (high - low) / 2000
        at = (edges[:-1, None] + half + half * node).ravel()
        place, along = lifted(at), slope(at)
        speed = (along[:, :2] - place[:, :2] / place[:, 2:] * along[:, 2:]) / place[:, 2:]
        whole += float((np.hypot(*speed.T).reshape(-1, 8) * weight).sum() * half)
    return whole


@given(
    st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=6, max_size=9, unique=True),
    st.lists(st.floats(0.2, 5), min_size=9, max_size=9),
    st.integers(2, 5),
)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_weighted_splines_and_those_of_high_degree_are_right_to_a_millionth(tmp_path, corners, weights, degree):
    """They are no cubic curves, and are replaced by some that come close."""
    file = DxfFile(tmp_path)
    weights = np.array(weights[: len(corners)])
    spline = file.model.add_rational_spline(corners, weights.tolist(), degree=degree)
    true = integrated(degree, np.array(spline.knots), np.array(corners, float), weights)
    assert length_of(file.read()) == pytest.approx(true, rel=1e-6)


def test_a_spline_through_fit_points_passes_through_them_and_says_so(file):
    """The file does not hold the curve itself, so the length is not the file's word."""
    points = [(0, 0), (5, 8), (10, 0), (20, 5)]
    file.model.add_spline(points)
    drawing = file.read()
    ends = np.vstack([drawing.strokes.at(0.0), drawing.strokes.at(1.0)])
    assert all(np.hypot(*(ends - point).T).min() < 1e-9 for point in points)
    assert "1 splines give only points" in message_of(drawing, "drawing.fit_points")


def test_a_spline_whose_knots_do_not_fit_is_left_out_and_named(file):
    spline = file.model.add_open_spline([(0, 0), (1, 1), (2, 0), (3, 1)])
    spline.knots = [0, 0, 0, 0, 1]
    drawing = file.read()
    assert len(drawing.strokes) == 0
    assert f"SPLINE #{spline.dxf.handle}" in message_of(drawing, "drawing.unreadable")


# -- planes -----------------------------------------------------------------------------------------------------------

DOWN = {"extrusion": (0, 0, -1)}


def test_an_arc_seen_from_behind_is_mirrored_in_place(file):
    """Mirroring in a drawing program leaves such planes; the library's own end points are the reference."""
    arc = file.model.add_arc((10, 5), 2, 0, 90, dxfattribs=DOWN)
    strokes = file.read().strokes
    assert strokes.at(0.0)[0] == pytest.approx([arc.start_point.x, arc.start_point.y])
    assert strokes.at(1.0)[0] == pytest.approx([arc.end_point.x, arc.end_point.y])
    assert strokes.at(1.0)[0] == pytest.approx([-10, 7])


def test_a_polyline_seen_from_behind_is_mirrored_in_place(file):
    file.model.add_lwpolyline([(1, 0, 1), (3, 0, 0)], format="xyb", dxfattribs=DOWN)
    drawing = file.read()
    assert box_of(drawing) == pytest.approx([-3, -1, -1, 0], abs=1e-4)
    assert codes_of(drawing) == set()


def test_a_circle_in_a_tilted_plane_is_the_ellipse_seen_from_above(file):
    """Tilted by 60 degrees: half as wide as long."""
    tilt = math.radians(60)
    file.model.add_circle((0, 0), 2, dxfattribs={"extrusion": (math.sin(tilt), 0, math.cos(tilt))})
    drawing = file.read()
    assert length_of(drawing) == pytest.approx(9.688448220548, rel=1e-9)
    assert "drawing.not_flat" in codes_of(drawing)


def test_a_circle_in_a_tilted_plane_lies_where_the_library_has_it(file):
    """The height of its centre along the tilted axis shifts it on the sheet."""
    circle = file.model.add_circle((3, 4, 5), 2, dxfattribs={"extrusion": (1, 2, 2)})
    centre = circle.ocs().to_wcs(circle.dxf.center)
    assert file.read().strokes.data[0, :2] == pytest.approx([centre.x, centre.y])


# -- blocks -----------------------------------------------------------------------------------------------------------


def test_a_block_lies_by_its_base_point(file):
    file.block("part", base_point=(5, 5)).add_line((5, 5), (6, 5))
    file.model.add_blockref("part", (10, 20))
    assert file.read().strokes.data[0, :4].tolist() == [10, 20, 11, 20]


def test_a_block_in_a_turned_grid_lies_along_the_turned_axes(file):
    """Steps turn with the reference but do not grow with its scale."""
    file.block("part").add_line((0, 0), (1, 0))
    grid = {"column_count": 3, "row_count": 2, "column_spacing": 10, "row_spacing": 20, "rotation": 90, "xscale": 4}
    file.model.add_blockref("part", (0, 0), dxfattribs=grid)
    starts = {tuple(p) for p in np.round(file.read().strokes.at(0.0), 9).tolist()}
    assert starts == {(0, 0), (0, 10), (0, 20), (-20, 0), (-20, 10), (-20, 20)}


def test_arcs_stay_arcs_under_uneven_scales(file):
    """Chords instead would lose the radius that a rule has to be bent to."""
    file.block("part").add_arc((1, 0), 1, 0, 180)
    file.model.add_blockref("part", (0, 0), dxfattribs={"xscale": 3, "yscale": 0.5, "rotation": 25})
    assert file.read().strokes.kind.tolist() == [ARC]


def test_a_mirrored_block_keeps_its_lengths(file):
    part = file.block("part")
    part.add_lwpolyline([(0, 0, 0.7), (5, 1, 0), (7, 7, -0.2)], format="xyb", close=True)
    file.model.add_blockref("part", (0, 0))
    plain = length_of(file.read())
    file.model.add_blockref("part", (50, 0), dxfattribs={"xscale": -1})
    assert length_of(file.read()) == pytest.approx(2 * plain, rel=EXACT)


SCALES = st.sampled_from([-2.0, -1.0, 0.5, 1.0, 3.0])
PLACES = st.tuples(st.integers(-90, 90), st.integers(-90, 90))
REFERENCES = st.fixed_dictionaries({
    "xscale": SCALES, "yscale": SCALES, "rotation": st.sampled_from([0, 30, 90, 200]),
    "extrusion": st.sampled_from([(0, 0, 1), (0, 0, -1)]),
    "column_count": st.integers(1, 3), "row_count": st.integers(1, 2),
    "column_spacing": st.just(7), "row_spacing": st.just(-11),
})  # fmt: skip


@given(outer=REFERENCES, inner=REFERENCES, base=PLACES, place=PLACES)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nested_blocks_lie_where_the_matrices_of_the_library_put_them(tmp_path, outer, inner, base, place):
    """Scaled, turned, mirrored, seen from behind, in grids, one in the other.

    The reference is the matrix of each single reference. Exploding instead is none: it does not
    stretch the steps of a grid within a block, and puts turned blocks of negative scale elsewhere.
    """
    file = DxfFile(tmp_path)
    part = file.block("part", base_point=base)
    spoke = part.add_line((0, 0), (10, 3))
    corner = part.add_lwpolyline([(0, 0), (4, 0), (4, 9)], dxfattribs=DOWN)
    ways = [[spoke.dxf.start, spoke.dxf.end], list(corner.vertices_in_wcs())]
    whole = file.block("whole", base_point=(2, 3))
    within = whole.add_blockref("part", (5, 5), dxfattribs=inner)
    around = file.model.add_blockref("whole", place, dxfattribs=outer)
    ends = [point for way in ways for pair in pairwise(way) for point in pair]
    expected = np.array(
        [
            outside.matrix44().transform(inside.matrix44().transform(point)).xyz[:2]
            for outside in around.multi_insert()
            for inside in within.multi_insert()
            for point in ends
        ]
    )
    strokes = file.read().strokes
    found = np.vstack([strokes.at(0.0), strokes.at(1.0)])
    assert found.shape == expected.shape
    gaps = np.abs(found[:, None] - expected[None]).max(axis=2)
    assert gaps.min(axis=1).max() < 1e-9
    assert gaps.min(axis=0).max() < 1e-9


def test_the_steps_of_a_grid_in_a_block_grow_with_the_block(file):
    """The block is drawn as a whole, whatever is in it."""
    file.block("part").add_line((0, 0), (1, 0))
    grid = {"column_count": 2, "row_count": 2, "column_spacing": 10, "row_spacing": 20}
    file.block("whole").add_blockref("part", (0, 0), dxfattribs=grid)
    file.model.add_blockref("whole", (0, 0), dxfattribs={"xscale": 3, "yscale": -2})
    starts = {tuple(p) for p in np.round(file.read().strokes.at(0.0), 9).tolist()}
    assert starts == {(0, 0), (30, 0), (0, -40), (30, -40)}


def test_strokes_come_in_the_order_of_drawing(file):
    """A block stands where its reference stands, not where its definition does."""
    part = file.block("part")
    part.add_line((0, 0), (1, 0))
    file.model.add_line((0, 0), (2, 0))
    file.model.add_blockref("part", (0, 0))
    file.model.add_line((0, 0), (3, 0))
    file.model.add_blockref("part", (0, 0), dxfattribs={"xscale": 4})
    assert file.read().strokes.lengths().tolist() == [2, 1, 3, 4]


def test_a_line_of_a_block_names_the_block(file):
    spoke = file.block("part").add_line((0, 0), (1, 0))
    file.model.add_blockref("part", (0, 0))
    assert file.read().strokes.place == (f"LINE #{spoke.dxf.handle} in block 'part'",)


def test_a_block_that_nobody_refers_to_does_not_count(file):
    file.block("spare").add_line((0, 0), (1, 0))
    file.model.add_line((0, 0), (2, 0))
    assert length_of(file.read()) == 2


def test_a_reference_scaled_to_nothing_is_left_out_and_named(read):
    drawing = read(text_of(insert("A", (41, 0)), blocks=block("A", line(0, 0, 1, 1))))
    assert len(drawing.strokes) == 0
    assert "INSERT" in message_of(drawing, "drawing.unreadable")


def test_a_reference_to_a_block_that_is_not_there_is_named(read):
    drawing = read(text_of(insert("GONE") + line(0, 0, 1, 0)))
    assert "gone" in message_of(drawing, "drawing.missing_block")
    assert length_of(drawing) == 1


def test_a_block_kept_in_another_file_is_named_and_not_opened(read):
    """Opening what a file names would let a stranger's drawing look around on the machine."""
    head = tags((0, "BLOCK"), (8, "0"), (2, "X"), (70, 4), (10, 0), (20, 0), (3, "X"), (1, "die_board.dwg"))
    drawing = read(text_of(insert("X"), blocks=head + line(0, 0, 1, 0) + tags((0, "ENDBLK"), (8, "0"))))
    assert len(drawing.strokes) == 0
    assert "die_board.dwg" in message_of(drawing, "drawing.external")


# -- layers, colours, line types --------------------------------------------------------------------------------------


@pytest.fixture
def layered(file):
    """A file with two layers of looks of their own."""
    file.doc.linetypes.add("CREASE", [10, 6, -4])
    file.doc.layers.add("knife", color=1)
    file.doc.layers.add("fold", color=3, linetype="CREASE")
    return file


def test_a_line_has_the_colour_and_line_type_of_its_layer(layered):
    layered.model.add_line((0, 0), (1, 0), dxfattribs={"layer": "fold"})
    assert layered.read().groups == (Group("fold", "#00ff00", "CREASE"),)


def test_a_line_may_have_a_colour_and_line_type_of_its_own(layered):
    layered.model.add_line((0, 0), (1, 0), dxfattribs={"layer": "knife", "color": 5, "linetype": "CREASE"})
    assert layered.read().groups == (Group("knife", "#0000ff", "CREASE"),)


def test_a_true_colour_goes_before_a_number(layered):
    layered.model.add_line((0, 0), (1, 0), dxfattribs={"layer": "knife", "color": 5, "true_color": 0x12AB34})
    assert layered.read().groups == (Group("knife", "#12ab34"),)


def test_a_layer_may_have_a_true_colour(layered):
    layered.doc.layers.get("knife").rgb = (1, 2, 3)
    layered.model.add_line((0, 0), (1, 0), dxfattribs={"layer": "knife"})
    assert layered.read().groups == (Group("knife", "#010203"),)


def test_colour_seven_is_black_as_on_paper(file):
    """It turns white on a dark screen, which a drawing on board is not."""
    file.model.add_line((0, 0), (1, 0))
    assert file.read().groups == (Group("0", "#000000"),)


def test_lines_that_look_the_same_are_one_group(layered):
    for attributes in ({"layer": "knife"}, {"layer": "knife", "color": 1}, {"layer": "KNIFE"}):
        layered.model.add_line((0, 0), (1, 0), dxfattribs=attributes)
    drawing = layered.read()
    assert drawing.groups == (Group("knife", "#ff0000"),)
    assert drawing.strokes.group.tolist() == [0, 0, 0]


def test_a_layer_that_the_table_does_not_have_is_kept_by_its_name(read):
    """Programs draw on such layers as if they were there."""
    drawing = read(text_of(line(0, 0, 1, 0, layer="Stanzen")))
    assert drawing.groups == (Group("Stanzen", "#000000"),)


@pytest.mark.parametrize(
    ("inside", "reference", "group"),
    [
        ({"layer": "0"}, {"layer": "knife"}, Group("knife", "#ff0000")),
        ({"layer": "0"}, {"layer": "knife", "color": 5}, Group("knife", "#ff0000")),
        ({"layer": "fold"}, {"layer": "knife"}, Group("fold", "#00ff00", "CREASE")),
        ({"layer": "0", "color": 0}, {"layer": "knife", "color": 5}, Group("knife", "#0000ff")),
        ({"layer": "fold", "color": 0}, {"layer": "knife"}, Group("fold", "#ff0000", "CREASE")),
        (
            {"layer": "knife", "linetype": "BYBLOCK"},
            {"layer": "knife", "linetype": "CREASE"},
            Group("knife", "#ff0000", "CREASE"),
        ),
        ({"layer": "knife", "linetype": "BYBLOCK"}, {"layer": "fold"}, Group("knife", "#ff0000", "CREASE")),
    ],
    ids=[
        "layer 0 becomes that of the reference",
        "by layer is the layer and not the reference",
        "another layer stays",
        "by block is the colour of the reference",
        "by block by layer is the colour of the reference's layer",
        "line type by block",
        "line type by block by layer",
    ],
)
def test_lines_of_blocks_take_from_the_reference_what_they_leave_open(layered, inside, reference, group):
    layered.block("part").add_line((0, 0), (1, 0), dxfattribs=inside)
    layered.model.add_blockref("part", (0, 0), dxfattribs=reference)
    assert layered.read().groups == (group,)


def test_what_is_left_open_is_handed_down_through_nested_blocks(layered):
    layered.block("part").add_line((0, 0), (1, 0), dxfattribs={"color": 0})
    layered.block("whole").add_blockref("part", (0, 0), dxfattribs={"color": 0})
    layered.model.add_blockref("whole", (0, 0), dxfattribs={"layer": "fold", "color": 6})
    layered.model.add_blockref("whole", (0, 0), dxfattribs={"layer": "knife"})
    assert layered.read().groups == (Group("fold", "#ff00ff", "CREASE"), Group("knife", "#ff0000"))


# -- what is not shown ------------------------------------------------------------------------------------------------


def hide(layer, how):
    if how == "not plotted":
        layer.dxf.plot = 0
    else:
        {"off": layer.off, "frozen": layer.freeze}[how]()


@pytest.mark.parametrize("how", ["off", "frozen", "not plotted"])
def test_lines_on_a_layer_that_is_not_shown_do_not_count_and_are_named(layered, how):
    hide(layered.doc.layers.get("fold"), how)
    layered.model.add_line((0, 0), (1, 0), dxfattribs={"layer": "knife"})
    layered.model.add_line((0, 0), (7, 0), dxfattribs={"layer": "fold"})
    drawing = layered.read()
    assert length_of(drawing) == 1
    assert drawing.left_out == {"hidden lines": 1}
    assert f"1 on layer 'fold' ({how})" in message_of(drawing, "drawing.hidden")


def test_the_layer_of_dimension_points_is_never_plotted(file):
    """Programs keep it for the points that dimensions hang on, and plot nothing of it."""
    file.model.add_line((0, 0), (1, 0), dxfattribs={"layer": "Defpoints"})
    assert len(file.read().strokes) == 0


def test_an_invisible_line_does_not_count_and_is_named(file):
    file.model.add_line((0, 0), (1, 0), dxfattribs={"invisible": 1})
    drawing = file.read()
    assert len(drawing.strokes) == 0
    assert "1 invisible" in message_of(drawing, "drawing.hidden")


def test_a_frozen_layer_hides_all_of_a_block_on_it(layered):
    hide(layered.doc.layers.get("fold"), "frozen")
    layered.block("part").add_line((0, 0), (1, 0), dxfattribs={"layer": "knife"})
    layered.model.add_blockref("part", (0, 0), dxfattribs={"layer": "fold"})
    drawing = layered.read()
    assert len(drawing.strokes) == 0
    assert "1 blocks on frozen layers" in message_of(drawing, "drawing.hidden")


def test_a_layer_that_is_off_hides_of_a_block_what_takes_that_layer(layered):
    """Off is not frozen: lines on layers of their own stay."""
    hide(layered.doc.layers.get("fold"), "off")
    part = layered.block("part")
    part.add_line((0, 0), (1, 0), dxfattribs={"layer": "knife"})
    part.add_line((0, 0), (7, 0))
    layered.model.add_blockref("part", (0, 0), dxfattribs={"layer": "fold"})
    assert length_of(layered.read()) == 1


def test_dimensions_texts_and_hatches_are_left_out_and_counted(file):
    file.model.add_line((0, 0), (1, 0))
    file.model.add_text("5-up")
    file.model.add_mtext("grain")
    file.model.add_linear_dim(base=(0, 3), p1=(0, 0), p2=(3, 0)).render()
    file.model.add_hatch().paths.add_polyline_path([(0, 0), (1, 0), (1, 1)])
    drawing = file.read()
    assert length_of(drawing) == 1
    assert drawing.left_out == {"texts": 2, "dimensions": 1, "hatches": 1}
    assert "dimensions (1), hatches (1), texts (2)" in message_of(drawing, "drawing.left_out")


def test_what_is_left_out_of_blocks_is_counted_as_often_as_it_is_drawn(file):
    file.block("part").add_text("up")
    file.model.add_blockref("part", (0, 0), dxfattribs={"column_count": 3, "row_count": 2})
    assert file.read().left_out == {"texts": 6}


def test_kinds_of_entity_that_nobody_knows_are_counted_by_their_name(read):
    drawing = read(text_of(line(0, 0, 1, 0) + tags((0, "GLUEDOT"), (8, "0"), (10, 0), (20, 0))))
    assert drawing.left_out == {"GLUEDOT": 1}


# -- model space and paper space --------------------------------------------------------------------------------------


@pytest.fixture
def on_paper(file):
    file.doc.layout("Layout1").add_line((0, 0), (3, 4))
    return file


def test_lines_in_paper_space_are_read_when_asked_for(on_paper):
    assert length_of(on_paper.read(layout="layout1")) == 5


def test_lines_in_paper_space_beside_those_of_model_space_are_named(on_paper):
    on_paper.model.add_line((0, 0), (1, 0))
    drawing = on_paper.read()
    assert length_of(drawing) == 1
    assert "'Layout1' (1)" in message_of(drawing, "drawing.paper_space")


def test_a_layout_that_is_not_there_is_refused_with_those_that_are(on_paper):
    with pytest.raises(UnknownNameError, match=r"no layout 'Layout7'; did you mean Layout1"):
        on_paper.read(layout="Layout7")


# -- units ------------------------------------------------------------------------------------------------------------


def test_a_unit_that_the_user_states_goes_before_the_file(file):
    file.model.add_line((0, 0), (1, 0))
    drawing = file.read(unit="in")
    assert (drawing.unit, drawing.mm_per_unit) == ("in", 25.4)
    assert drawing.unit_source == "stated: one unit of the drawing is 1 in"


def test_an_unknown_unit_is_refused(file):
    with pytest.raises(InputError, match="there is no unit 'furlong'"):
        file.read(unit="furlong")


def test_a_unit_that_no_carton_is_drawn_in_is_asked_about(tmp_path):
    """Light years in a header are a slip, not a unit."""
    drawing = DxfFile(tmp_path, units=19).read()
    assert drawing.unit is None
    assert "$INSUNITS 19" in message_of(drawing, "drawing.no_unit")


def test_a_file_without_header_has_no_unit(read):
    """The library makes a header up where there is none, and metres in it."""
    drawing = read(text_of(line(0, 0, 1, 0)))
    assert (drawing.unit, drawing.mm_per_unit, drawing.unit_source) == (None, None, "the file does not say")
    assert "state it" in message_of(drawing, "drawing.no_unit")


@pytest.mark.parametrize(("flag", "word"), [(0, "inches"), (1, "millimetres")])
def test_what_the_file_leans_to_is_told_but_not_taken(read, flag, word):
    """Files in millimetres that lean to inches exist."""
    header = tags((9, "$ACADVER"), (1, "AC1009"), (9, "$MEASUREMENT"), (70, flag))
    drawing = read(text_of(line(0, 0, 1, 0), header=header))
    assert drawing.unit is None
    assert f"leans to {word}" in message_of(drawing, "drawing.no_unit")


# -- files ------------------------------------------------------------------------------------------------------------


def test_a_file_that_breaks_the_rules_is_read_with_tolerance_and_says_so(read):
    """An empty handle stops the strict way."""
    drawing = read(text_of(tags((0, "LINE"), (5, ""), (8, "0"), (10, 0), (20, 0), (11, 3), (21, 4))))
    assert length_of(drawing) == 5
    assert "check the lengths" in message_of(drawing, "drawing.tolerant")


def test_what_comes_after_the_end_mark_does_no_harm(read):
    drawing = read(text_of(line(0, 0, 3, 4)) + "\x1a and more\n" * 50)
    assert length_of(drawing) == 5


def test_half_an_entity_at_the_end_of_a_file_cut_off_is_not_drawn(read):
    """Half a number looks like a number: 12 of 1234."""
    text = text_of(line(0, 0, 1, 0) + line(0, 0, 1234, 0))
    drawing = read(text[: text.index("1234") + 2])
    assert length_of(drawing) == 1
    assert "drawing.truncated" in codes_of(drawing)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(FileError, match=r"^gone\.dxf: there is no such drawing"):
        read_dxf(tmp_path / "gone.dxf")


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(FileError, match="can't be read"):
        read_dxf(tmp_path)


@pytest.mark.parametrize("content", [b"", b"AC1032\x00\x00", b"hello\n"], ids=["empty", "another format", "a letter"])
def test_what_is_no_dxf_is_refused(tmp_path, content):
    path = tmp_path / "drawing.dxf"
    path.write_bytes(content)
    with pytest.raises(FileError, match="this is no DXF file"):
        read_dxf(path)


@pytest.mark.parametrize("start", ["\ufeff", "999\nmade by hand\n"], ids=["byte order mark", "comment"])
def test_what_programs_put_before_the_first_section_does_no_harm(tmp_path, start):
    path = tmp_path / "drawing.dxf"
    path.write_text(start + text_of(line(0, 0, 3, 4)), encoding="utf-8")
    assert length_of(read_dxf(path)) == 5


def test_lines_may_end_as_on_any_system(tmp_path):
    path = tmp_path / "drawing.dxf"
    path.write_bytes(text_of(line(0, 0, 3, 4)).replace("\n", "\r\n").encode())
    assert length_of(read_dxf(path)) == 5


def test_reading_leaves_the_interpreter_as_it_was(file):
    """Rubbish is not collected while the library loads, and its log is silent: both must come back."""
    file.model.add_line((0, 0), (1, 0))
    level = logging.getLogger("ezdxf").level
    file.read()
    with pytest.raises(FileError):
        read_dxf(file.path.with_name("gone.dxf"))
    assert gc.isenabled()
    assert logging.getLogger("ezdxf").level == level
