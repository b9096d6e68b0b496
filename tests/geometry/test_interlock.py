"""The exact pitch of two outlines, held against shapely, which knows nothing of profiles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_jobs import PROPERTY
from shapely import Polygon
from shapely.affinity import translate

from compare.geometry.interlock import far_profile, last_contact, near_profile, pitch_mm, turned_half

SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]
TRIANGLE = [(0, 0), (20, 0), (10, 10)]
BOWL = [(0, 0), (30, 0), (30, 20), (20, 20), (20, 5), (10, 5), (10, 20), (0, 20)]
"""A slot of 10 x 15 in a block of 30 x 20."""


@st.composite
def rings(draw: st.DrawFn) -> np.ndarray:
    """Outlines around a point: convex or deeply notched, never crossing themselves."""
    count = draw(st.integers(3, 12))
    shares = sorted(draw(st.lists(st.integers(0, 359), min_size=count, max_size=count, unique=True)))
    radii = draw(st.lists(st.integers(10, 100), min_size=count, max_size=count))
    # no two neighbours half a turn apart, or the point they go around lies outside
    widest = max(b - a for a, b in zip(shares, [*shares[1:], shares[0] + 360], strict=True))
    angles = np.radians(shares if widest < 175 else np.linspace(0, 360, count, endpoint=False))
    return np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]


_directions = st.integers(0, 359).map(lambda degrees: (np.cos(np.radians(degrees)), np.sin(np.radians(degrees))))
_gaps = st.sampled_from([0.0, 0.5, 4.0, 25.0])
_shifts = st.integers(-150, 150)


def _shifted(ring, direction, shift, along) -> Polygon:
    right = np.array([direction[1], -direction[0]])
    return translate(Polygon(ring), *(along * np.array(direction) + shift * right))


# -- against shapely --------------------------------------------------------------------------------------------------


@settings(PROPERTY, max_examples=150)
@given(rings(), rings(), _directions, _shifts, _gaps.filter(bool))
def test_at_the_pitch_two_outlines_are_exactly_the_gap_apart(first, second, direction, shift, gap):
    along = pitch_mm(first, second, direction, gap_mm=gap, shift_mm=shift)
    if np.isfinite(along):
        apart = Polygon(first).distance(_shifted(second, direction, shift, along))
        assert apart == pytest.approx(gap, abs=1e-6)


@settings(PROPERTY, max_examples=60)
@given(st.tuples(rings(), rings()), _directions, _shifts, _gaps, st.floats(0, 300))
def test_beyond_the_pitch_two_outlines_never_meet_again(outlines, direction, shift, gap, further):
    """The pitch is the last contact and not the first: an outline is not put into a closed pocket."""
    first, second = outlines
    along = pitch_mm(first, second, direction, gap_mm=gap, shift_mm=shift)
    if np.isfinite(along):
        beyond = _shifted(second, direction, shift, along + further)
        assert Polygon(first).distance(beyond) >= gap - 1e-6
        assert not Polygon(first).buffer(-1e-6).intersects(beyond.buffer(-1e-6))


@settings(PROPERTY, max_examples=60)
@given(rings(), rings(), _directions, _shifts)
def test_a_hair_before_the_pitch_two_outlines_overlap(first, second, direction, shift):
    along = pitch_mm(first, second, direction, shift_mm=shift)
    if np.isfinite(along):
        assert Polygon(first).relate_pattern(_shifted(second, direction, shift, along - 1e-3), "T********")


@settings(PROPERTY, max_examples=60)
@given(rings(), rings(), _directions, _shifts)
def test_where_two_outlines_pass_one_another_no_shift_makes_them_meet(first, second, direction, shift):
    if pitch_mm(first, second, direction, shift_mm=shift) == -np.inf:
        shapes = [_shifted(second, direction, shift, along) for along in np.linspace(-250, 250, 101)]
        assert not any(Polygon(first).buffer(-1e-6).intersects(shape) for shape in shapes)


# -- laws -------------------------------------------------------------------------------------------------------------


@PROPERTY
@given(rings(), rings(), _directions, _shifts, st.tuples(_gaps, _gaps).map(sorted))
def test_a_larger_gap_never_lets_outlines_come_closer(first, second, direction, shift, gaps):
    less, more = (pitch_mm(first, second, direction, gap_mm=gap, shift_mm=shift) for gap in gaps)
    assert more >= less


@PROPERTY
@given(rings(), rings(), _directions, _shifts, _gaps)
def test_turning_both_outlines_and_changing_their_roles_changes_no_pitch(first, second, direction, shift, gap):
    """Seen from the other side the upper one is the lower one."""
    plain = pitch_mm(first, second, direction, gap_mm=gap, shift_mm=shift)
    turned = pitch_mm(-second, -first, direction, gap_mm=gap, shift_mm=shift)
    assert turned == pytest.approx(plain, abs=1e-6)


@PROPERTY
@given(rings(), _directions, _gaps)
def test_a_gap_pushes_copies_of_a_convex_outline_apart_by_itself_at_least(ring, direction, gap):
    """Along a slope it is more: the gap is measured across the slope."""
    hull = np.array(Polygon(ring).convex_hull.exterior.coords)[:-1]
    along = pitch_mm(hull, hull, direction, gap_mm=gap)
    assert along >= pitch_mm(hull, hull, direction) + gap - 1e-9


@PROPERTY
@given(rings(), rings(), st.lists(st.floats(-150, 150), min_size=1, max_size=30), _gaps)
def test_many_shifts_at_once_are_the_same_as_one_by_one(first, second, shifts, gap):
    far, near = far_profile(first), near_profile(second)
    one_by_one = [last_contact(far, near, [shift], gap)[0] for shift in shifts]
    assert last_contact(far, near, shifts, gap).tolist() == one_by_one


# -- by hand ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("outlines", "direction", "gap", "shift", "along"),
    [
        ((SQUARE, SQUARE), (0, 1), 0, 0, 10),
        ((SQUARE, SQUARE), (0, 1), 3, 0, 13),
        ((SQUARE, SQUARE), (1, 0), 0, 5, 10),
        ((SQUARE, SQUARE), (0, 1), 0, 10, -np.inf),  # side by side they touch, and pass
        ((SQUARE, SQUARE), (0, 1), 5, 13, 14),  # corner to corner: 3 beside, 4 along, 5 apart
        ((SQUARE, SQUARE), (1, 1), 0, 0, 10 * np.sqrt(2)),
        ((SQUARE, SQUARE), (0, 7), 0, 0, 10),  # how long the direction is does not matter
        ((TRIANGLE, TRIANGLE), (0, 1), 0, 0, 10),
        ((TRIANGLE, turned_half(np.array(TRIANGLE))), (0, 1), 0, 10, 0),  # side to side, one upside down
        ((TRIANGLE, turned_half(np.array(TRIANGLE))), (0, 1), np.sqrt(2), 10, 2),  # 2 along is sqrt2 across the slope
        ((BOWL, SQUARE), (0, 1), 0, 10, 5),  # falls into the slot it just fits
        ((BOWL, SQUARE), (0, 1), 0, 9, 20),  # and stays above where it doesn't
        ((BOWL, SQUARE), (0, 1), 1, 10, 21),  # a gap on both sides has no room in it
    ],
)
def test_pitch_worked_out_by_hand(outlines, direction, gap, shift, along):
    assert pitch_mm(*outlines, direction, gap_mm=gap, shift_mm=shift) == pytest.approx(along, abs=1e-9)


@pytest.mark.parametrize("degrees", [1e-9, 30, 45, 90, 123.4])
def test_noise_in_the_last_digits_makes_no_neighbours_collide(degrees):
    """Turned outlines have sides that are nearly, not quite, in line: they must pass all the same."""
    turn = np.radians(degrees)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    ring, direction = np.array(SQUARE) @ matrix.T, tuple(matrix @ (0, 1))
    assert pitch_mm(ring, ring, direction, shift_mm=10) == -np.inf


def test_a_profile_is_what_is_seen_from_afar():
    """Of the block with a slot: the two shoulders and the floor of the slot."""
    profile = far_profile(np.array(BOWL, float))
    assert profile.start.tolist() == [0, 10, 20]
    assert profile.end.tolist() == [10, 20, 30]
    assert profile.level.tolist() == [20, 5, 20]
    assert profile.slope.tolist() == [0, 0, 0]


def test_an_overhang_hides_what_lies_below_it():
    hook = np.array([(0, 0), (10, 0), (10, 2), (5, 2), (5, 8), (20, 8), (20, 10), (0, 10)], float)
    assert far_profile(hook).level.tolist() == [10]
    assert near_profile(hook).level.tolist() == [0, 8]


def test_an_outline_that_touches_itself_has_a_profile():
    """Flaps that share a knife line leave a slit without width, which nothing falls into."""
    slit = np.array([(0, 0), (20, 0), (20, 10), (10, 10), (10, 5), (10, 10), (0, 10)], float)
    assert pitch_mm(slit, SQUARE, shift_mm=5) == 10
