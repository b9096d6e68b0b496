"""A drawing asks the same of a tool however it is drawn: moved, turned, split, doubled, in any order."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from drawn_lines import (
    box,
    circle,
    codes,
    drawn_blank,
    finding,
    mapped,
    measured,
    remade,
    reordered,
    ring,
    split,
    strokes_of,
)
from hypothesis import assume, given
from hypothesis import strategies as st
from random_jobs import FEW, PROPERTY

from compare.errors import InputError
from compare.geometry import fine_detail
from compare.geometry.measure import groups_of, measure_drawing
from compare.geometry.strokes import Drawing, Group, Pen, Strokes
from compare.geometry.styles import STYLES, build_blank

_share = st.floats(0.1, 0.9).map(lambda v: round(v, 3))


@st.composite
def _contours(draw: st.DrawFn) -> list[tuple]:
    """A star of lines, arcs or curves between its corners, in a ring that never crosses itself, and a few holes."""
    corners = draw(st.integers(5, 9))
    radii = draw(st.lists(st.floats(60, 100).map(lambda v: round(v, 1)), min_size=corners, max_size=corners))
    points = [
        (r * math.cos(2 * math.pi * i / corners), r * math.sin(2 * math.pi * i / corners)) for i, r in enumerate(radii)
    ]
    pieces: list[tuple] = []
    for a, b in zip(points, [*points[1:], points[0]], strict=True):
        kind = draw(st.sampled_from(["line", "arc", "cubic"]))
        if kind == "line":
            pieces.append((*a, *b))
        elif kind == "arc":
            pieces.append(_bow(a, b, draw(st.floats(0.1, 0.6))))
        else:
            out = draw(st.floats(1.02, 1.2))
            c, d = ((a[0] * (1 - w) + b[0] * w, a[1] * (1 - w) + b[1] * w) for w in (0.3, 0.7))
            pieces.append(("cubic", *a, c[0] * out, c[1] * out, d[0] * out, d[1] * out, *b))
    for hole in range(draw(st.integers(0, 3))):
        x, y = 25 * math.cos(2.1 * hole), 25 * math.sin(2.1 * hole)
        size = draw(st.floats(2, 8).map(lambda v: round(v, 2)))
        pieces += [circle(x, y, size)] if draw(st.booleans()) else box(x - size / 2, y - size / 2, size, size)
    return pieces


def _bow(a, b, turn):
    """An arc from one point to another, bulging to the right by a part of a half circle."""
    half = math.dist(a, b) / 2
    radius = half / math.sin(turn)
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    along = ((b[0] - a[0]) / (2 * half), (b[1] - a[1]) / (2 * half))
    x, y = middle[0] - along[1] * radius * math.cos(turn), middle[1] + along[0] * radius * math.cos(turn)
    start = math.atan2(a[1] - y, a[0] - x)
    return circle(x, y, radius, start, start + 2 * turn)


def _facts(found) -> list[float]:
    w = found.work
    return [
        w.cutting_m,
        found.drawn_mm,
        found.length_mm,
        w.strokes,
        w.bends,
        w.corner_load,
        w.waste_pieces,
        found.blank_area_mm2 or 0,
        math.fsum(piece.area for piece in found.waste),
        found.outline_mm,
        w.smallest_radius_mm or 0,
        w.smallest_gap_mm or 0,
        found.sides.least or 0,
    ]


def _same(one, other, but: tuple[int, ...] = ()) -> None:
    a, b = ([fact for n, fact in enumerate(_facts(found)) if n not in but] for found in (one, other))
    assert a == pytest.approx(b, rel=1e-8, abs=1e-9)


# what hangs on chords, which begin elsewhere once a curve is cut elsewhere: right to the chords' tolerance
_BY_CHORDS = (9, 11)


# -- properties -------------------------------------------------------------------------------------------------------


@given(_contours(), st.floats(-500, 500), st.floats(-7, 7), st.booleans())
@FEW
def test_moving_turning_and_mirroring_changes_nothing(pieces, move, angle, mirror):
    drawing = strokes_of(*pieces)
    c, s, sign = math.cos(angle), math.sin(angle), -1 if mirror else 1
    moved = mapped(drawing, [[c, -s * sign, move], [s, c * sign, -move / 3]])
    _same(measured(drawing), measured(moved), _BY_CHORDS)


@given(_contours(), st.floats(0.2, 5))
@FEW
def test_scaling_scales_lengths_and_areas_and_keeps_numbers(pieces, factor):
    one, large = measured(strokes_of(*pieces)), measured(strokes_of(*pieces), mm_per_unit=factor)
    assert large.length_mm == pytest.approx(factor * one.length_mm, rel=1e-9)
    assert large.blank_area_mm2 == pytest.approx(factor**2 * one.blank_area_mm2, rel=1e-8)
    assert large.work.smallest_radius_mm == pytest.approx(
        one.work.smallest_radius_mm and factor * one.work.smallest_radius_mm
    )
    for name in ("strokes", "bends", "waste_pieces"):
        assert getattr(large.work, name) == getattr(one.work, name)
    assert large.work.corner_load == pytest.approx(one.work.corner_load, abs=1e-9)


@given(_contours(), st.lists(_share, min_size=1, max_size=5), st.lists(st.booleans(), min_size=1, max_size=9))
@FEW
def test_splitting_pieces_and_turning_them_round_changes_nothing(pieces, shares, turned):
    drawing = strokes_of(*pieces)
    _same(measured(drawing), measured(split(drawing, shares, turned)), _BY_CHORDS)


@given(_contours(), st.randoms(use_true_random=False))
@FEW
def test_the_order_in_which_lines_are_drawn_does_not_matter(pieces, dice):
    drawing = strokes_of(*pieces)
    order = list(range(len(pieces)))
    dice.shuffle(order)
    _same(measured(drawing), measured(reordered(drawing, order)), _BY_CHORDS)


@given(_contours(), st.lists(_share, min_size=1, max_size=5), st.lists(st.booleans(), min_size=1, max_size=9))
@FEW
def test_drawing_everything_twice_doubles_what_is_drawn_and_nothing_else(pieces, shares, turned):
    """The second time cut elsewhere and partly backwards, as two exports of one drawing are."""
    drawing = strokes_of(*pieces)
    s, again = drawing.strokes, split(drawing, shares, turned).strokes
    count = len(s) + len(again)
    both = Strokes(
        np.concatenate([s.kind, again.kind]),
        np.concatenate([s.data, again.data]),
        np.arange(count),
        np.zeros(count, np.int64),
        ("",) * count,
    )
    one, twice = measured(drawing), measured(remade(drawing, both))
    _same(one, twice, (1, *_BY_CHORDS))
    assert twice.drawn_mm == pytest.approx(2 * one.drawn_mm, rel=1e-9)
    assert "drawing.duplicates" in codes(twice)


@given(_contours())
@FEW
def test_a_contour_has_one_stroke_each_and_its_area_is_that_of_fine_chords(pieces):
    """Against shapely on chords within a hundred thousandth of a millimetre."""
    drawing = strokes_of(*pieces)
    found = measured(drawing)
    chords, _ = drawing.strokes.flattened(1e-5)
    faces = list(
        shapely.polygonize(
            [shapely.line_merge(shapely.set_precision(shapely.multilinestrings(chords.reshape(-1, 2, 2)), 1e-9))]
        ).geoms
    )
    assume(faces)
    outer = max(faces, key=lambda face: face.envelope.area)
    assert found.blank_area_mm2 == pytest.approx(outer.area, rel=1e-5)
    assert (found.work.waste_pieces, found.work.strokes) == (len(faces) - 1, len(faces))


# -- the same as a style ----------------------------------------------------------------------------------------------

_CARTON = {
    "length_mm": 80.0, "width_mm": 40.0, "height_mm": 120.0, "glue_flap_mm": 15.0, "glue_flap_bevel_mm": 3.0,
    "flap_taper_mm": 2.0, "tuck_flap_mm": 15.0, "dust_flap_share": 0.75, "seal_clearance_mm": 2.0,
    "inner_flap_share": 0.75, "lock_overlap_mm": 10.0, "lock_web_mm": 5.0, "tray_tab_clearance_mm": 5.0,
    "tray_tab_taper_mm": 3.0,
}  # fmt: skip


@given(
    st.sampled_from(sorted(STYLES)),
    st.tuples(st.floats(60, 200), st.floats(30, 60), st.floats(50, 200)),
    st.sampled_from([0.0, 0.5, 3.0]),
    st.sampled_from([0.0, 3.0]),
)  # fmt: skip
@PROPERTY
def test_a_drawing_gives_the_same_numbers_as_a_style_that_draws_the_same_blank(style, size, taper, bevel):
    """With no taper neighbouring flaps share a knife line: there, too."""
    sizes = dict(zip(("length_mm", "width_mm", "height_mm"), size, strict=True))
    blank = build_blank(style, {**_CARTON, **sizes, "flap_taper_mm": taper, "glue_flap_bevel_mm": bevel})
    found, cut = measured(drawn_blank(blank)), blank.cut
    work = found.work
    assert work.cutting_m * 1000 == pytest.approx(cut.length_mm, abs=1e-6)
    assert work.creasing_m * 1000 == pytest.approx(blank.crease_mm, abs=1e-6)
    assert (work.strokes, work.bends, work.waste_pieces) == (cut.strokes, cut.bends, 0)
    assert work.corner_load == pytest.approx(cut.corner_load, abs=1e-6)
    assert found.blank_area_mm2 == pytest.approx(blank.area_mm2, abs=1e-6)
    assert (work.blank_width_mm, work.blank_height_mm) == pytest.approx(blank.box_mm, abs=1e-6)
    assert found.outline_mm == pytest.approx(cut.length_mm, abs=1e-6)
    assert set(codes(found)) <= {"drawing.duplicates"}


def test_inputs_have_the_names_that_a_job_has():
    """What a drawing answers stands where a style would have put it."""
    inputs = measured(strokes_of(*box(0, 0, 100, 50), circle(50, 25, 3))).work.inputs()
    assert inputs["carton.blank_width_mm"] == 100
    assert inputs["work.waste_pieces"] == 1
    assert inputs["work.smallest_radius_mm"] == pytest.approx(3)
    assert {name.partition(".")[0] for name in inputs} == {"work", "carton"}


# -- kinds and groups -------------------------------------------------------------------------------------------------


def test_groups_of_one_kind_share_their_lines_and_each_keeps_its_own_sum():
    drawing = strokes_of((0, 0, 100, 0), (50, 0, 150, 0), layers=["cutting", "none"])
    found = measure_drawing(drawing, ("cutting", "cutting"), mm_per_unit=1)
    assert [(g.drawn_mm, g.length_mm, g.strokes) for g in found.groups] == [(100, 100, 1), (100, 100, 1)]
    (kind,) = found.kinds
    assert (kind.drawn_mm, kind.length_mm, kind.drawn_strokes, kind.strokes) == (200, 150, 2, 1)


def test_lines_of_two_kinds_in_one_place_count_as_both_and_are_said():
    drawing = strokes_of(*box(0, 0, 100, 50), (0, 0, 60, 0), layers=["cutting"] * 4 + ["creasing"])
    found = measured(drawing)
    assert (found.work.cutting_m, found.work.creasing_m, found.length_mm) == pytest.approx((0.3, 0.06, 360))
    said = finding(found, "drawing.kinds_overlap")
    assert (said.kind, said.at) == ("caution", ((30, 0),))
    assert "60.0 mm" in said.message
    assert "drawing.duplicates" not in codes(found)


def test_unmapped_and_left_out_lines_count_as_nothing():
    layers = ["cutting"] * 4 + ["none", "ignored"]
    drawing = strokes_of(*box(0, 0, 100, 50), (0, 0, 100, 0), (0, 0, 0, 99), layers=layers)
    found = measured(drawing)
    assert (found.work.cutting_m, found.drawn_mm, found.length_mm) == pytest.approx((0.3, 499, 499))
    assert [kind.kind for kind in found.kinds] == ["cutting"]
    assert codes(found) == []


def test_the_box_holds_all_lines_but_those_left_out():
    drawing = strokes_of((0, 0, 10, 0), circle(0, 0, 5), (0, 0, 99, 99), layers=["cutting", "none", "ignored"])
    assert measured(drawing).box_mm == pytest.approx((-5, -5, 10, 5))


def test_a_line_left_out_does_not_close_an_outline():
    """The sides of a sheet must not become the edge of a carton."""
    drawing = strokes_of(*box(0, 0, 100, 50), layers=["cutting"] * 3 + ["ignored"])
    found = measured(drawing)
    assert found.blank_area_mm2 is None
    assert "drawing.no_blank" in codes(found)


def test_a_crease_is_no_stroke_of_a_beam_and_is_bent_only_where_it_is_curved():
    """Creasing rule is butted at corners; the crease set of a laser is no path of the beam."""
    creases = [(20, 0, 20, 30), (20, 30, 100, 30), circle(50, 10, 5, 0, 2)]
    found = measured(strokes_of(*box(0, 0, 100, 50), *creases, layers=["cutting"] * 4 + ["creasing"] * 3))
    assert (found.work.strokes, found.work.bends, found.work.corner_load) == (1, 4 + 1, pytest.approx(3))


def test_lengths_that_a_file_states_without_drawing_them_count():
    """Tool data name lengths by code; there is no outline to ask for."""
    nothing = strokes_of().strokes
    stated = {Group("DieLayout", code="101"): 1181.5, Group("DieLayout", code="102"): 960.0}
    drawing = Drawing(nothing, (), "pt", 25.4 / 72, "the format", lengths_by_code=stated)
    found = measure_drawing(drawing, ("cutting", None), mm_per_unit=25.4 / 72)
    assert (found.work.cutting_m, found.length_mm, found.findings) == (1.1815, 2141.5, ())
    assert [group.group for group in found.groups] == list(groups_of(drawing))


@pytest.mark.parametrize(
    ("kinds", "scale", "tolerance"),
    [((), 1.0, 0.05), (("cutting",), 0.0, 0.05), (("cutting",), math.nan, 0.05), (("cutting",), 1.0, -1.0)],
)
def test_what_does_not_go_together_is_refused(kinds, scale, tolerance):
    with pytest.raises(InputError):
        measure_drawing(strokes_of((0, 0, 1, 0)), kinds, mm_per_unit=scale, tolerance_mm=tolerance)


def test_an_empty_drawing_has_no_cut_lines():
    """Not 0 mm in silence."""
    found = measured(strokes_of())
    assert (codes(found), found.box_mm, found.length_mm) == (["drawing.no_cut_lines"], None, 0)


# -- strokes, corners and bends ---------------------------------------------------------------------------------------


def test_a_circle_is_one_stroke_one_bend_and_no_corner_however_many_pieces_it_has():
    quarters = [circle(0, 0, 10, n * math.pi / 2, (n + 1) * math.pi / 2) for n in (2, 0, 3, 1)]
    for pieces in ([circle(0, 0, 10)], quarters):
        work = measured(strokes_of(*pieces)).work
        assert (work.strokes, work.bends, work.corner_load) == (1, 1, 0)


def test_a_rounded_rectangle_has_four_bends_and_no_corner():
    """Derived: the rule is bent once for each rounded corner; a beam runs through without slowing for a corner."""
    sides = [(5, 0, 95, 0), (100, 5, 100, 45), (95, 50, 5, 50), (0, 45, 0, 5)]
    corners = [(95, 5, -0.5), (95, 45, 0), (5, 45, 0.5), (5, 5, 1)]
    arcs = [circle(x, y, 5, a * math.pi, (a + 0.5) * math.pi) for x, y, a in corners]
    work = measured(strokes_of(*sides, *arcs)).work
    assert (work.strokes, work.bends, work.corner_load, work.smallest_radius_mm) == (1, 4, 0, pytest.approx(5))


def test_lines_that_cross_run_on_whether_or_not_they_are_cut_where_they_cross():
    whole = strokes_of((0, 0, 10, 0), (5, -5, 5, 5))
    parted = strokes_of((0, 0, 5, 0), (5, 0, 10, 0), (5, -5, 5, 0), (5, 0, 5, 5))
    half = strokes_of((0, 0, 10, 0), (5, -5, 5, 0), (5, 0, 5, 5))
    for drawing in (whole, parted, half):
        work = measured(drawing).work
        assert (work.strokes, work.bends, work.corner_load) == (2, 0, 0)


def test_a_stroke_ends_where_three_lines_meet():
    work = measured(strokes_of((0, 0, 10, 0), (5, 0, 5, 5))).work
    assert (work.strokes, work.bends) == (3, 0)


def test_a_closed_stroke_starts_at_its_sharpest_corner():
    """Derived: an equilateral triangle turns by 120 degrees three times, 1.5 each; a right triangle of 45 degrees 1 + 2 (1 + 0.7071)."""
    triangle = ring((0, 0), (10, 0), (5, 5 * math.sqrt(3)))
    assert measured(strokes_of(*triangle)).work.corner_load == pytest.approx(3.0)
    right = ring((0, 0), (10, 0), (0, 10))
    assert measured(strokes_of(*right)).work.corner_load == pytest.approx(1 + 1 + math.sqrt(0.5))


def test_a_tangent_that_a_file_has_rounded_is_no_corner():
    off = math.radians(0.3)
    work = measured(
        strokes_of((-10, 0, 0, 0), circle(10 * math.sin(off), 10 * math.cos(off), 10, -math.pi / 2 - off, 0))
    ).work
    assert (work.bends, work.corner_load) == (1, 0)


# -- blank and waste --------------------------------------------------------------------------------------------------


def test_areas_of_circles_are_exact_though_curves_are_broken_into_chords():
    """Derived: pi r2; chords alone would lack 5e-4 of the small hole."""
    found = measured(strokes_of(circle(0, 0, 50), circle(10, 0, 3), circle(-10, 0, 1)))
    assert found.blank_area_mm2 == pytest.approx(math.pi * (2500 - 9 - 1), rel=1e-9)
    assert [piece.area for piece in found.waste] == pytest.approx([9 * math.pi, math.pi], rel=1e-9)


def test_the_area_of_an_ellipse_and_of_a_curve_is_exact():
    """Derived: pi a b; below the parabola y = x (1 - x) scaled by 100 lies a sixth of the square."""
    assert measured(strokes_of(("arc", 0, 0, 40, 0, 0, 7, 0, 2 * math.pi))).blank_area_mm2 == pytest.approx(
        280 * math.pi
    )
    bow = ("cubic", 0, 0, 100 / 3, 100 / 3, 200 / 3, 100 / 3, 100, 0)
    assert measured(strokes_of(bow, (100, 0, 0, 0))).blank_area_mm2 == pytest.approx(1e4 / 6, rel=1e-9)


def test_the_box_of_a_blank_reaches_to_the_top_of_its_curves():
    """Chords stop short of it."""
    work = measured(strokes_of((0, 0, 100, 0), circle(50, 0, 50, 0, math.pi))).work
    assert (work.blank_width_mm, work.blank_height_mm) == pytest.approx((100, 50), rel=1e-12)


def test_cut_outs_are_waste_and_whatever_lies_within_them_too():
    """A ring that falls out and the disc within it are two pieces to strip; a slit is none."""
    found = measured(strokes_of(*box(0, 0, 100, 50), circle(30, 25, 10), circle(30, 25, 5), (70, 10, 70, 40)))
    assert (found.work.waste_pieces, len(found.blanks)) == (2, 1)
    assert found.blank_area_mm2 == pytest.approx(5000 - 100 * math.pi)
    assert found.outline_mm == pytest.approx(300 + 10 * math.pi + 30, rel=1e-4)


def test_lines_across_one_another_part_a_blank_though_no_end_lies_on_them():
    """A knife grid drawn in long lines: 2 x 2 blanks, 100 x 60 each."""
    long = [(0, y, 200, y) for y in (0, 60, 120)] + [(x, 0, x, 120) for x in (0, 100, 200)]
    found = measured(strokes_of(*long))
    assert [round(blank.area, 6) for blank in found.blanks] == [6000] * 4
    assert "4 separate blanks" in finding(found, "drawing.several_blanks").message


def test_a_small_piece_that_hangs_on_the_outline_is_an_offcut():
    found = measured(strokes_of(*box(0, 0, 100, 50), circle(50, 0, 8, math.pi, 2 * math.pi)))
    assert found.blank_area_mm2 == pytest.approx(5000)
    assert (found.work.waste_pieces, found.waste[0].area) == (1, pytest.approx(32 * math.pi))
    assert finding(found, "drawing.offcuts").kind == "note"


def test_a_frame_around_the_blank_is_asked_about():
    """Files have the edge of the sheet on the layer of the knife."""
    found = measured(strokes_of(*box(0, 0, 120, 70), *box(10, 10, 100, 50)))
    assert finding(found, "drawing.frame").kind == "caution"
    assert "60%" in finding(found, "drawing.frame").message


def test_the_outline_runs_against_the_clock_and_is_not_repeated_at_the_end():
    outline = measured(strokes_of(*box(0, 0, 100, 50)[::-1])).outline
    assert len(outline) == 4
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, [*outline[1:], outline[0]], strict=True)) / 2
    assert area == 5000


def test_a_tangent_line_and_circle_enclose_no_sliver():
    """Chords of the circle may cross the line by micrometres; what lies between is noise."""
    found = measured(strokes_of(*box(0, 0, 100, 50), circle(50, 10, 10, 0.3, 0.3 + 2 * math.pi)))
    assert [round(piece.area) for piece in found.waste] == [round(100 * math.pi)]


def test_too_many_crossings_are_said_and_leave_the_lengths_right():
    """A file made to do harm: 1,500 x 1,500 lines would enclose two million faces."""
    n = 1500
    grid = np.zeros((2 * n, 8))
    grid[:n, 1] = grid[:n, 3] = grid[n:, 0] = grid[n:, 2] = np.arange(n) + 0.5
    grid[:n, 2] = grid[n:, 3] = n
    strokes = Strokes(np.zeros(2 * n, np.int8), grid, np.arange(2 * n), np.zeros(2 * n, np.int64), ("",) * (2 * n))
    found = measured(Drawing(strokes, (Group("cutting"),), "mm", 1.0, ""))
    assert found.length_mm == 2 * n * n
    assert "drawing.crowded" in codes(found)


# -- findings with places ---------------------------------------------------------------------------------------------


def test_doubles_are_said_with_their_length_and_places_the_longest_first():
    found = measured(strokes_of(*box(0, 0, 100, 50), (10, 0, 30, 0), (100, 0, 100, 50), (100, 0, 100, 50)))
    said = finding(found, "drawing.duplicates")
    assert said.at == ((100, 25), (20, 0))
    assert "120.0 mm, in 2 places" in said.message
    assert said.where == "cutting"


def test_the_open_ends_of_a_slit_are_listed():
    said = finding(measured(strokes_of(*box(0, 0, 100, 50), (20, 10, 40, 10))), "drawing.open_end")
    assert (said.kind, sorted(said.at)) == ("note", [(20, 10), (40, 10)])


def test_an_end_on_another_line_of_any_kind_is_not_open():
    """A cut that ends on a crease, or goes on as a perforation, meets it."""
    layers = ["cutting"] * 5 + ["creasing", "perforating"]
    drawing = strokes_of(*box(0, 0, 100, 50), (20, 10, 40, 10), (20, 0, 20, 50), (40, 10, 100, 10), layers=layers)
    assert codes(measured(drawing)) == []


def test_a_gap_in_an_outline_is_said_with_both_its_ends():
    found = measured(strokes_of(*ring((0, 0), (100, 0), (100, 50), (0, 50))[:3], (0, 50, 0, 0.4)))
    said = finding(found, "drawing.gap")
    assert (said.kind, sorted(said.at)) == ("caution", [(0, 0), (0, 0.4)])
    assert "0.40" in said.message


def test_a_gap_within_the_tolerance_closes_the_outline():
    open_box = [*box(0, 0, 100, 50)[:3], (0, 50, 0, 0.04)]
    found = measured(strokes_of(*open_box))
    assert (found.work.strokes, found.blank_area_mm2, codes(found)) == (1, 5000, [])
    wider = measured(strokes_of(*box(0, 0, 100, 50)[:3], (0, 50, 0, 0.4)), tolerance_mm=0.5)
    assert wider.blank_area_mm2 == 5000


def test_cut_lines_that_enclose_nothing_have_no_blank():
    assert "drawing.no_blank" in codes(measured(strokes_of((0, 0, 100, 0), (0, 10, 100, 10))))


# -- fine detail ------------------------------------------------------------------------------------------------------


def test_the_smallest_gap_is_between_lines_side_by_side():
    found = measured(strokes_of(*box(0, 0, 100, 50), *box(10, 10, 30, 1.2), (60, 3, 90, 3)))
    assert (found.work.smallest_gap_mm, found.gaps.place) == (pytest.approx(1.2), pytest.approx((25, 10.6), abs=20))
    assert found.gaps.size.tolist() == pytest.approx([1.2, 3.0])


def test_the_two_sides_of_a_notch_meet_and_leave_no_gap_however_they_are_cut():
    notch = [(0, 0, 40, 0), (40, 0, 42, 30), (42, 30, 44, 0), (44, 0, 80, 0)]
    for parts in (notch, [*notch[:2], (42, 30, 43, 15), (43, 15, 44, 0), notch[3]]):
        assert measured(strokes_of(*parts)).work.smallest_gap_mm is None


def test_the_walls_of_a_slot_with_round_ends_are_a_gap():
    slot = [(0, 0, 20, 0), circle(20, 0.75, 0.75, -math.pi / 2, math.pi / 2), (20, 1.5, 0, 1.5)]
    slot.append(circle(0, 0.75, 0.75, math.pi / 2, 1.5 * math.pi))
    found = measured(strokes_of(*slot))
    assert (found.work.smallest_gap_mm, found.work.smallest_radius_mm) == (pytest.approx(1.5), pytest.approx(0.75))


def test_lines_end_to_end_or_at_right_angles_are_no_gap():
    assert measured(strokes_of((0, 0, 10, 0), (12, 0, 20, 0), (22, -5, 22, 5))).work.smallest_gap_mm is None


def test_arcs_about_one_centre_are_as_far_apart_as_their_radii():
    found = measured(strokes_of(circle(0, 0, 20, 0, 2), circle(0, 0, 22.5, 0.5, 3)))
    assert found.work.smallest_gap_mm == pytest.approx(2.5, abs=0.02)


def test_the_smallest_radius_of_an_ellipse_is_at_the_end_of_its_long_axis():
    """Derived: b2 / a."""
    found = measured(strokes_of(("arc", 100, 0, 20, 0, 0, 5, 0.3, 0.3 + 2 * math.pi)))
    assert found.work.smallest_radius_mm == pytest.approx(1.25, rel=1e-9)
    assert abs(found.radii.place[0] - 100) == pytest.approx(20)


def test_the_smallest_radius_of_a_parabola_is_at_its_vertex():
    """Derived: y = x2 has the radius 1/2 there; as a cubic from -1 to 1."""
    found = measured(strokes_of(("cubic", -1, 1, -1 / 3, -1 / 3, 1 / 3, -1 / 3, 1, 1)))
    assert found.work.smallest_radius_mm == pytest.approx(0.5, rel=1e-6)
    assert found.radii.place == pytest.approx((0, 0), abs=1e-3)


def test_the_shortest_side_runs_from_corner_to_corner():
    """Cut in two it is as long as before."""
    for top in ([(100, 0, 100, 7)], [(100, 0, 100, 3), (100, 3, 100, 7)]):
        found = measured(strokes_of((0, 0, 100, 0), *top, (100, 7, 0, 7), (0, 7, 0, 0)))
        assert found.sides.size.tolist() == pytest.approx([7, 7, 100, 100])
    assert found.sides.place[0] in (0, 100)


def test_creases_have_no_fine_detail():
    """Two creasing rules side by side, or a crease of a small radius, are another matter."""
    found = measured(strokes_of((0, 0, 100, 0), (0, 1, 100, 1), circle(0, 5, 0.2), layers=["creasing"] * 3))
    assert (len(found.gaps.size), len(found.radii.size), len(found.sides.size)) == (0, 0, 0)


# -- speed and harm ---------------------------------------------------------------------------------------------------


def test_sixty_thousand_pieces_take_no_longer_than_a_few_seconds():
    """A large drawing; loose against a busy machine, but far below what a loop over pairs of pieces takes."""
    import time

    k = 15_000
    x, y = (np.arange(k) % 122) * 8.0, (np.arange(k) // 122) * 8.0
    corners = np.stack([x, y], axis=1)[:, None] + np.array([[0, 0], [5, 0], [5, 5], [0, 5]])
    data = np.zeros((4 * k, 8))
    data[:, :4] = np.concatenate([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 4)
    strokes = Strokes(np.zeros(4 * k, np.int8), data, np.arange(4 * k), np.zeros(4 * k, np.int64), ("",) * (4 * k))
    began = time.process_time()
    found = measured(Drawing(strokes, (Group("cutting"),), "mm", 1.0, ""))
    assert (found.work.strokes, found.length_mm) == (k, pytest.approx(20 * k))
    assert time.process_time() - began < 8


def test_numbers_at_the_edge_of_what_a_pen_takes_do_not_break_it():
    far = [
        (1e11, 1e11, 1e11 + 1e9, 1e11),
        circle(-1e11, 0, 1e11),
        ("cubic", 0, 0, 1e11, 0, 0, 1e11, 1e-9, 1e-9),
        (0, 0, 1e-9, 0),
    ]
    found = measured(strokes_of(*far))
    assert math.isfinite(found.length_mm)


def test_a_drawing_too_crowded_to_look_for_gaps_says_so(monkeypatch):
    """A gap that nobody looked for must not read as a gap that is not there."""
    pen = Pen()
    for number in range(40):
        pen.begin(Group("cut"), str(number))
        pen.line(0, number * 3.0, 100, number * 3.0)
    strokes, groups, _ = pen.strokes()
    drawing = Drawing(strokes, groups, "mm", 1.0, "test")
    codes = {found.code for found in measure_drawing(drawing, ["cutting"], mm_per_unit=1).findings}
    assert "drawing.gaps_not_searched" not in codes
    monkeypatch.setattr(fine_detail, "_MOST_PAIRS", 3)
    codes = {found.code for found in measure_drawing(drawing, ["cutting"], mm_per_unit=1).findings}
    assert "drawing.gaps_not_searched" in codes
