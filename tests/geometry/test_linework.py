"""Length, strokes, corners and bends do not depend on where and how a blank is drawn."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.geometry.linework import (
    box_size,
    measure_outline,
    ring_area,
    ring_segments,
    segment_length,
    union_length,
)

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))
# a bar with two tabs on it that share a side from (40, 0) down to (40, -30): one knife line there
TABS = (
    (0.0, 0.0), (0.0, -30.0), (40.0, -30.0), (40.0, 0.0), (40.0, -30.0), (80.0, -30.0),
    (80.0, 0.0), (80.0, 20.0), (0.0, 20.0),
)  # fmt: skip

_distance = st.floats(-500, 500, allow_subnormal=False).map(lambda v: round(v, 3))
_angle = st.floats(-180, 180, allow_subnormal=False).map(lambda v: math.radians(round(v, 2)))
_scale = st.floats(0.1, 20).map(lambda v: round(v, 3))


@st.composite
def _outlines(draw: st.DrawFn) -> tuple[tuple[float, float], ...]:
    """Stars of 3 to 12 corners around the origin: they never cross themselves."""
    radii = draw(st.lists(st.floats(20, 200).map(lambda v: round(v, 2)), min_size=3, max_size=12))
    turn = 2 * math.pi / len(radii)
    return tuple((r * math.cos(i * turn), r * math.sin(i * turn)) for i, r in enumerate(radii))


def _moved(outline, dx, dy):
    return tuple((x + dx, y + dy) for x, y in outline)


def _turned(outline, angle):
    c, s = math.cos(angle), math.sin(angle)
    return tuple((c * x - s * y, s * x + c * y) for x, y in outline)


def _mirrored(outline):
    return tuple((-x, y) for x, y in outline)


def _scaled(outline, k):
    return tuple((k * x, k * y) for x, y in outline)


def _facts(outline):
    cut = measure_outline(outline)
    return cut.length_mm, ring_area(outline), cut.corner_load, cut.bends, cut.strokes


def _same(outline, other):
    assert _facts(other) == pytest.approx(_facts(outline), rel=1e-9, abs=1e-9)


# -- properties -------------------------------------------------------------------------------------------------------


@PROPERTY
@given(_outlines(), _distance, _distance)
def test_moving_an_outline_changes_nothing(outline, dx, dy):
    _same(outline, _moved(outline, dx, dy))


@PROPERTY
@given(_outlines(), _angle)
def test_turning_an_outline_changes_nothing(outline, angle):
    _same(outline, _turned(outline, angle))


@PROPERTY
@given(_outlines())
def test_mirroring_an_outline_changes_nothing(outline):
    _same(outline, _mirrored(outline))


@PROPERTY
@given(_outlines(), st.integers(0, 11))
def test_where_the_list_of_corners_starts_changes_nothing(outline, start):
    """Drawing programs start an outline anywhere."""
    start %= len(outline)
    _same(outline, outline[start:] + outline[:start])


@PROPERTY
@given(_outlines())
def test_running_an_outline_backwards_changes_nothing(outline):
    _same(outline, outline[::-1])


@PROPERTY
@given(_outlines(), _scale)
def test_scaling_an_outline_scales_its_length(outline, k):
    assert measure_outline(_scaled(outline, k)).length_mm == pytest.approx(
        k * measure_outline(outline).length_mm, rel=1e-9
    )


@PROPERTY
@given(_outlines(), _scale)
def test_scaling_an_outline_scales_its_area_by_the_square(outline, k):
    assert ring_area(_scaled(outline, k)) == pytest.approx(k * k * ring_area(outline), rel=1e-9)


@PROPERTY
@given(_outlines(), _scale)
def test_scaling_an_outline_leaves_its_angles(outline, k):
    """Corners take the scanner as long on a large carton as on a small one."""
    here, there = measure_outline(outline), measure_outline(_scaled(outline, k))
    assert (there.corner_load, there.bends) == pytest.approx((here.corner_load, here.bends), rel=1e-9)


@PROPERTY
@given(_angle, _distance, _distance)
def test_moving_and_turning_lines_that_share_a_stretch_changes_no_length(angle, dx, dy):
    """Shared lines are found by their direction and distance, which rounding blurs in a turned drawing."""
    turned = _moved(_turned(TABS, angle), dx, dy)
    assert measure_outline(turned).length_mm == pytest.approx(measure_outline(TABS).length_mm, rel=1e-9)


@PROPERTY
@given(st.permutations(range(len(TABS))), st.lists(st.booleans(), min_size=len(TABS), max_size=len(TABS)))
def test_the_order_and_direction_of_lines_change_no_length(order, flips):
    segments = ring_segments(TABS)
    drawn = [segments[i][::-1] if flip else segments[i] for i, flip in zip(order, flips, strict=True)]
    assert union_length(drawn) == pytest.approx(union_length(segments), rel=1e-12)


# -- worked by hand ---------------------------------------------------------------------------------------------------


def test_a_square_is_one_stroke_of_four_bends_and_three_corners():
    """Derived: four right angles; a closed stroke starts at one of them, where the beam does not turn."""
    assert _facts(SQUARE) == pytest.approx((400, 10_000, 3, 4, 1))


def test_a_closed_stroke_starts_at_its_sharpest_corner():
    """Derived: a triangle with angles of 90, 45 and 45 degrees turns by 90, 135 and 135; one of the latter is left out."""
    triangle = ((0.0, 0.0), (100.0, 0.0), (0.0, 100.0))
    assert measure_outline(triangle).corner_load == pytest.approx(1 + (1 - math.cos(math.radians(135))))


def test_a_point_on_a_straight_side_is_no_corner():
    cut = measure_outline((SQUARE[0], (50.0, 0.0), *SQUARE[1:]))
    assert (cut.bends, cut.corner_load) == pytest.approx((4, 3))


def test_a_shared_line_counts_once():
    """Derived: the sides sum to 320 mm, 30 mm of which are run twice."""
    assert measure_outline(TABS).length_mm == pytest.approx(290)


def test_an_outline_that_touches_itself_is_cut_in_strokes_between_its_branches():
    """Derived: the shared line leaves the rest as one open chain from its foot (40, -30) back to it, so two strokes."""
    assert measure_outline(TABS).strokes == 2


def test_a_stretch_run_there_and_back_has_no_area():
    assert ring_area(TABS) == pytest.approx(80 * 50)


def test_an_outline_has_as_many_sides_as_corners():
    assert ring_segments(SQUARE)[-1] == (SQUARE[3], SQUARE[0])


def test_the_box_is_as_wide_as_the_outline():
    assert box_size(TABS) == (80.0, 50.0)


def test_a_line_is_as_long_as_pythagoras_says():
    assert segment_length(((1.0, 1.0), (4.0, 5.0))) == 5.0


@pytest.mark.parametrize(
    ("segments", "length"),
    [
        ([((0.0, 0.0), (10.0, 0.0)), ((5.0, 0.0), (20.0, 0.0))], 20),
        ([((0.0, 0.0), (10.0, 0.0)), ((10.0, 0.0), (20.0, 0.0))], 20),
        ([((0.0, 0.0), (10.0, 0.0)), ((12.0, 0.0), (20.0, 0.0))], 18),
        ([((0.0, 0.0), (10.0, 0.0)), ((2.0, 0.0), (4.0, 0.0))], 10),
        ([((0.0, 0.0), (10.0, 0.0)), ((0.0, 1.0), (10.0, 1.0))], 20),
        ([((0.0, 0.0), (0.0, 10.0)), ((0.0, 10.0), (0.0, 0.0))], 10),
        ([((-3.0, 0.0), (3.0, 0.0)), ((0.0, -3.0), (0.0, 3.0))], 12),
        ([((1.0, 1.0), (1.0, 1.0))], 0),
        ([], 0),
    ],
    ids=["overlap", "touch", "apart", "inside", "parallel", "there-and-back", "across", "point", "nothing"],
)
def test_lines_that_lie_on_one_another_count_once(segments, length):
    assert union_length(segments) == pytest.approx(length)
