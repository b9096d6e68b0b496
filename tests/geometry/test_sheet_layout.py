"""Real outlines on a sheet: none overlap, none stick out, never fewer than the grid of boxes holds."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_jobs import PROPERTY
from shapely import Polygon, unary_union
from shapely.geometry import LinearRing
from worked_cartons import FLAPS

from compare.errors import InputError
from compare.geometry.layout import grid_ups
from compare.geometry.sheet_layout import (
    CLOSE_MM,
    Layout,
    Placement,
    check_layout,
    common_line_mm,
    place_blanks,
    placed_outlines,
    placement_matrix,
)
from compare.geometry.styles import STYLES, build_blank

MARGINS = {"gripper_mm": 12, "side_margin_mm": 8, "tail_margin_mm": 8}
NONE = dict.fromkeys(MARGINS, 0)
SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]
RECTANGLE = [(0, 0), (100, 0), (100, 60), (0, 60)]
ELL = [(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]


@st.composite
def rings(draw: st.DrawFn) -> np.ndarray:
    """Outlines around a point, convex or deeply notched, never crossing themselves."""
    count = draw(st.integers(3, 10))
    radii = draw(st.lists(st.integers(25, 120), min_size=count, max_size=count))
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False) + draw(st.floats(0, 1))
    return np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]


@st.composite
def cartons(draw: st.DrawFn) -> tuple[tuple[float, float], ...]:
    """Blanks of the six styles in sizes of the trade."""
    style = draw(st.sampled_from(sorted(STYLES)))
    length, width = draw(st.integers(50, 160)), draw(st.integers(25, 80))
    height = draw(st.integers(20, 60) if style == "glued_tray" else st.integers(40, 220))
    return build_blank(style, {**FLAPS, "length_mm": length, "width_mm": width, "height_mm": height}).outline


_sheets = st.tuples(st.integers(300, 1100), st.integers(300, 1100))
_gutters = st.sampled_from([0.0, 1.5, 3.0, 4.0, 6.0])
_grains = st.sampled_from(["any", "width", "length"])


# -- what holds for every layout ----------------------------------------------------------------------------------------


@settings(PROPERTY, max_examples=60)
@given(rings(), _sheets, _gutters, _grains)
def test_no_two_blanks_overlap_or_come_too_close_or_leave_the_sheet(ring, sheet, gutter, grain):
    """The layout comes from profiles; the check from shapely, which knows nothing of them."""
    layout = place_blanks(ring, *sheet, **MARGINS, gutter_mm=gutter, grain=grain)
    assert check_layout(ring, layout, *sheet, **MARGINS, gutter_mm=gutter) == ()


@settings(PROPERTY, max_examples=40)
@given(cartons(), _sheets, _gutters)
def test_no_two_cartons_overlap_or_come_too_close_or_leave_the_sheet(outline, sheet, gutter):
    layout = place_blanks(outline, *sheet, **MARGINS, gutter_mm=gutter)
    assert check_layout(outline, layout, *sheet, **MARGINS, gutter_mm=gutter) == ()


@settings(PROPERTY, max_examples=40)
@given(st.one_of(rings(), cartons().map(np.array)), _sheets, _gutters, _grains)
def test_a_real_layout_never_holds_less_than_the_grid_of_boxes(ring, sheet, gutter, grain):
    across, along = np.ptp(ring, axis=0)
    by_box = grid_ups(*sheet, across, along, **MARGINS, gutter_mm=gutter, grain=grain).ups
    assert place_blanks(ring, *sheet, **MARGINS, gutter_mm=gutter, grain=grain).ups >= by_box


@settings(PROPERTY, max_examples=40)
@given(st.integers(40, 400), st.integers(40, 400), _sheets, _gutters, _grains)
def test_rectangles_lie_in_the_plain_grid_whatever_else_is_tried(width, height, sheet, gutter, grain):
    """Where nothing interlocks, counting boxes is right, and both counts must be the same figure."""
    ring = [(0, 0), (width, 0), (width, height), (0, height)]
    by_box = grid_ups(*sheet, width, height, **MARGINS, gutter_mm=gutter, grain=grain)
    layout = place_blanks(ring, *sheet, **MARGINS, gutter_mm=gutter, grain=grain)
    assert layout.ups == by_box.ups
    if layout.ups:
        assert (layout.pattern, layout.quarter_turn) == ("grid", by_box.turned if grain == "any" else grain == "length")


@settings(PROPERTY, max_examples=30)
@given(rings(), _sheets, _gutters)
def test_turning_sheet_and_grain_by_a_quarter_changes_no_count(ring, sheet, gutter):
    plain = place_blanks(ring, *sheet, **NONE, gutter_mm=gutter, grain="width")
    turned = place_blanks(ring, *sheet[::-1], **NONE, gutter_mm=gutter, grain="length")
    assert turned.ups == plain.ups


@settings(PROPERTY, max_examples=40)
@given(
    cartons(),
    st.sampled_from([(1000, 700), (1060, 760), (720, 520)]),
    st.lists(st.integers(0, 20), min_size=2, max_size=4),
)
def test_a_larger_gutter_never_gives_more_cartons(outline, sheet, halves):
    counts = [place_blanks(outline, *sheet, **MARGINS, gutter_mm=half / 2).ups for half in sorted(halves)]
    assert counts == sorted(counts, reverse=True)


@settings(PROPERTY, max_examples=30)
@given(rings(), _sheets, _grains)
def test_a_grain_never_allows_more(ring, sheet, grain):
    free = place_blanks(ring, *sheet, **NONE, gutter_mm=3).ups
    assert place_blanks(ring, *sheet, **NONE, gutter_mm=3, grain=grain).ups <= free


@settings(PROPERTY, max_examples=30)
@given(rings(), _sheets)
def test_blanks_never_take_more_than_the_sheet(ring, sheet):
    layout = place_blanks(ring, *sheet, **NONE, gutter_mm=0)
    assert 0 <= layout.utilisation <= 1
    assert layout.utilisation == pytest.approx(layout.ups * Polygon(ring).area / (sheet[0] * sheet[1]))


@settings(PROPERTY, max_examples=20)
@given(rings(), st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_where_a_blank_lies_in_its_drawing_does_not_matter(ring, x, y):
    here = place_blanks(ring, 1000, 700, **MARGINS, gutter_mm=3)
    there = place_blanks(ring + np.array([x, y]), 1000, 700, **MARGINS, gutter_mm=3)
    assert there.ups == here.ups


def test_the_same_question_has_the_same_answer():
    ring = np.array(ELL) * 57.3
    assert place_blanks(ring, 1000, 700, **MARGINS, gutter_mm=3) == place_blanks(
        ring, 1000, 700, **MARGINS, gutter_mm=3
    )


# -- what is asked for -------------------------------------------------------------------------------------------------


def test_placements_go_from_the_gripper_on_row_by_row_from_the_left():
    layout = place_blanks(SQUARE, 316, 320, **MARGINS, gutter_mm=0)
    corners = [(p.x, p.y) for p in layout.placements]
    assert corners == [(x, y) for y in (12, 112, 212) for x in (8, 108, 208)]
    assert layout.box == (8, 12, 308, 312)


def test_fewer_blanks_are_the_first_of_the_pattern():
    every = place_blanks(SQUARE, 316, 320, **MARGINS, gutter_mm=0)
    some = place_blanks(SQUARE, 316, 320, **MARGINS, gutter_mm=0, ups=4)
    assert (some.ups, some.capacity, some.placements) == (4, 9, every.placements[:4])


def test_the_plainest_pattern_that_holds_enough_is_taken():
    """Nobody turns every other blank for ups that the grid holds."""
    ring = np.array(ELL) * 100
    assert place_blanks(ring, 620, 420, **NONE, gutter_mm=0).pattern != "grid"
    assert place_blanks(ring, 620, 420, **NONE, gutter_mm=0, ups=6).pattern == "grid"


@pytest.mark.parametrize("ups", [10, 0, -1])
def test_more_blanks_than_fit_or_none_at_all_are_refused(ups):
    with pytest.raises(InputError, match=r"layout: -?\d+ blanks do not fit on the sheet; at most 9 fit"):
        place_blanks(SQUARE, 316, 320, **MARGINS, gutter_mm=0, ups=ups)


def test_a_blank_larger_than_the_sheet_gives_no_layout():
    """As the grid has it: none, and no error, since another sheet may be tried."""
    layout = place_blanks(SQUARE, 99, 400, **NONE, gutter_mm=0)
    assert (layout.ups, layout.placements, layout.pattern) == (0, (), "none")


def test_a_blank_as_large_as_the_sheet_fits_whatever_the_last_digit_says():
    ring = np.array(SQUARE) * 0.1 * 3
    assert place_blanks(ring, 30, 30, **NONE, gutter_mm=5).ups == 1


@pytest.mark.parametrize(("grain", "rotations"), [("width", {0, 180}), ("length", {90, 270})])
def test_the_grain_decides_how_blanks_may_lie(grain, rotations):
    ring = np.array(ELL) * 70
    layout = place_blanks(ring, 800, 600, **MARGINS, gutter_mm=0, grain=grain)
    assert {p.rotation for p in layout.placements} == rotations
    assert layout.quarter_turn is (grain == "length")


def test_an_area_that_is_given_counts_for_the_utilisation():
    """Windows in the blank are waste too, and the outline does not know them."""
    assert place_blanks(SQUARE, 200, 200, **NONE, gutter_mm=0, area_mm2=5_000).utilisation == 0.5


@pytest.mark.parametrize("rotation", [0, 90, 180, 270])
def test_the_map_of_a_placement_turns_the_drawing_and_puts_its_box_in_place(rotation):
    ring = np.array(ELL, float) + np.array([50, -20])
    matrix = placement_matrix(ring, Placement(7, 9, rotation))
    laid = ring @ matrix[:, :2].T + matrix[:, 2]
    assert laid.min(axis=0) == pytest.approx([7, 9])
    assert np.linalg.det(matrix[:, :2]) == pytest.approx(1)
    assert matrix[:, :2] @ (1, 0) == pytest.approx([np.cos(np.radians(rotation)), np.sin(np.radians(rotation))])


# -- common lines ------------------------------------------------------------------------------------------------------


@settings(PROPERTY, max_examples=30)
@given(st.one_of(rings(), cartons().map(np.array)), _sheets)
def test_shared_lines_are_what_the_union_of_all_lines_leaves_out(ring, sheet):
    """GEOS merges the lines of small layouts; here they are counted along each line."""
    layout = place_blanks(ring, *sheet, **NONE, gutter_mm=0, common_lines=True)
    rings_ = placed_outlines(ring, layout.placements[:6])
    # a grid of a hundred-thousandth of a millimetre joins what differs in the last digits
    union = unary_union([LinearRing(r) for r in rings_], grid_size=1e-5).length
    shared = common_line_mm(ring, layout.placements[:6])
    assert shared == pytest.approx(sum(LinearRing(r).length for r in rings_) - union, abs=1e-2)


def test_of_layouts_that_hold_the_same_the_one_that_shares_most_is_taken():
    """Two triangles share their long side only where every other is turned."""
    triangle = [(0, 0), (100, 0), (0, 100)]
    layout = place_blanks(triangle, 100, 100, **NONE, gutter_mm=0, common_lines=True)
    assert (layout.ups, layout.common_line_mm) == (2, pytest.approx(100 * np.sqrt(2)))


def test_blanks_without_common_lines_share_none_though_they_touch():
    assert place_blanks(RECTANGLE, 300, 120, **NONE, gutter_mm=0).common_line_mm == 0


def test_lines_can_not_be_shared_across_a_gutter():
    with pytest.raises(InputError, match="lines can't be shared across a gutter of 3 mm; give a gutter of 0"):
        place_blanks(SQUARE, 300, 300, **NONE, gutter_mm=3, common_lines=True)


# -- the check itself --------------------------------------------------------------------------------------------------


def _laid(*corners: tuple[float, float]) -> Layout:
    placements = tuple(Placement(x, y, 0) for x, y in corners)
    return Layout(len(corners), placements, "by hand", False, len(corners), 0.0, 0.0, (0, 0, 0, 0))


@pytest.mark.parametrize(
    ("corners", "gutter", "faults"),
    [
        ([(0, 0), (100, 0)], 0, ()),
        ([(0, 0), (100 - 1e-3, 0)], 0, ("Blanks 0 and 1 overlap.",)),
        ([(0, 0), (103, 0)], 3, ()),
        ([(0, 0), (102, 0)], 3, ("Blanks 0 and 1 are 2.000000 mm apart, less than the gutter of 3 mm.",)),
        ([(-0.001, 0)], 0, ("Blank 0 is not within the usable area.",)),
        ([(200, 200.001)], 0, ("Blank 0 is not within the usable area.",)),
        ([], 0, ()),
    ],
)
def test_the_check_finds_what_is_wrong_with_a_layout(corners, gutter, faults):
    """A check that finds nothing in a bad layout would let every other test here pass."""
    assert check_layout(SQUARE, _laid(*corners), 300, 300, **NONE, gutter_mm=gutter) == faults


# -- outlines that are none ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("outline", [[], [(0, 0), (1, 1)], [(0, 0), (1, 0), (0, 0)], [(0, 0), (np.nan, 1), (1, 0)]])
def test_what_has_no_three_corners_is_refused(outline):
    with pytest.raises(InputError, match="the outline has no three corners"):
        place_blanks(outline, 300, 300, **NONE, gutter_mm=0)


@pytest.mark.parametrize("outline", [[(0, 0), (10, 10), (10, 0), (0, 10)], [(0, 0), (5, 5), (10, 10)]])
def test_an_outline_that_crosses_itself_is_refused(outline):
    with pytest.raises(InputError, match="the outline crosses itself"):
        place_blanks(outline, 300, 300, **NONE, gutter_mm=0)


def test_an_unknown_grain_is_refused():
    with pytest.raises(InputError, match=r"sheet.grain: there is no grain 'long'"):
        place_blanks(SQUARE, 300, 300, **NONE, gutter_mm=0, grain="long")


def test_a_closing_corner_and_repeated_corners_do_not_matter():
    doubled = [SQUARE[0], *[corner for corner in SQUARE for _ in range(2)], SQUARE[0]]
    assert place_blanks(doubled, 300, 300, **NONE, gutter_mm=0).ups == 9


def test_flaps_that_share_a_knife_line_can_be_laid():
    """Such an outline touches itself; its slit without width is no fault."""
    flat = {**FLAPS, "flap_taper_mm": 0.0, "glue_flap_bevel_mm": 0.0}
    outline = build_blank("reverse_tuck_end", {**flat, "length_mm": 80, "width_mm": 40, "height_mm": 120}).outline
    layout = place_blanks(outline, 1000, 700, **MARGINS, gutter_mm=3)
    assert layout.ups >= 9
    assert check_layout(outline, layout, 1000, 700, **MARGINS, gutter_mm=3) == ()


# -- many corners, many blanks ------------------------------------------------------------------------------------------


def _rounded(radius: float, quarter: int) -> np.ndarray:
    plain = build_blank("reverse_tuck_end", {**FLAPS, "length_mm": 80, "width_mm": 40, "height_mm": 120})
    shape = Polygon(plain.outline)
    for step in (-radius, 2 * radius, -radius):
        shape = shape.buffer(step, quad_segs=quarter)
    return np.array(shape.exterior.coords)[:-1]


def test_an_outline_of_many_corners_is_laid_as_exactly_as_one_of_few():
    """Search goes by a coarser outline; what is laid is the real one, to the same digits."""
    ring = _rounded(2, 16)
    assert len(ring) > 200
    layout = place_blanks(ring, 1000, 700, **MARGINS, gutter_mm=0)
    assert check_layout(ring, layout, 1000, 700, **MARGINS, gutter_mm=0) == ()
    shapes = [Polygon(r) for r in placed_outlines(ring, layout.placements)]
    nearest = min(a.distance(b) for i, a in enumerate(shapes) for b in shapes[:i])
    assert nearest <= CLOSE_MM
    assert layout.ups > grid_ups(1000, 700, *np.ptp(ring, axis=0), **MARGINS, gutter_mm=0).ups


def _least_s(corners: int) -> float:
    """Computing time of a layout of an outline with a notch at every other corner, the best of three."""
    angles = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    radii = np.where(np.arange(corners) % 2, 95, 60)
    ring = np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None]
    spent = []
    for _ in range(3):
        begin = time.process_time()
        place_blanks(ring, 1000, 700, **MARGINS, gutter_mm=4)
        spent.append(time.process_time() - begin)
    return min(spent)


def test_four_times_the_corners_do_not_take_the_square_of_the_time():
    """Some 0.05 s for sixty corners on a sheet of 700 x 1,000; looking at all pairs of sides would take 16 times."""
    assert _least_s(60) < 10 * _least_s(14)
