"""Beams: which pieces of a path are chords of a curve, delays, and what arrays do. Figures are among the outside checks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.geometry.scan_motion import (
    corner_turns,
    curve_speed,
    depth_of_focus,
    field_side,
    flattened_radii,
    fly_speed,
    jump_delay,
    polygon_delay,
    spot_diameter,
)
from compare.geometry.speed_table import limited

INF = np.inf
_positive = st.floats(1e-3, 1e3)
_several = st.lists(_positive, min_size=1, max_size=5).map(np.array)


def _chords(radius: float, angles: list[float] | np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return lengths, radii and turns of chords of a circle that span these angles."""
    angles = np.asarray(angles)
    return 2 * radius * np.sin(angles / 2), np.full(len(angles), INF), (angles[1:] + angles[:-1]) / 2


def _lined(path: tuple[np.ndarray, np.ndarray, np.ndarray], line: float, turn: float) -> tuple[np.ndarray, ...]:
    """Put a line before and behind a path, at a turn each."""
    lengths, radii, turns = path
    return tuple(np.concatenate(x) for x in (([line], lengths, [line]), ([INF], radii, [INF]), ([turn], turns, [turn])))


# -- curves -----------------------------------------------------------------------------------------------------------


@PROPERTY
@given(_positive, st.integers(12, 500))
def test_chords_of_a_circle_have_its_radius(radius, chords):
    """The circle within: r cos(pi/n), which 12 chords make 3.5 % less than r."""
    found = flattened_radii(*_chords(radius, np.full(chords, 2 * math.pi / chords)))
    assert found == pytest.approx(np.full(chords, radius * math.cos(math.pi / chords)), rel=1e-9)


@PROPERTY
@given(_positive, st.lists(st.floats(0.05, 0.14), min_size=3, max_size=30))
def test_chords_of_uneven_length_have_the_radius_too(radius, angles):
    found = flattened_radii(*_chords(radius, angles))
    assert found == pytest.approx(np.full(len(angles), radius), rel=5e-3)


def test_a_short_rest_of_a_curve_is_no_slower_than_the_curve():
    """Programs that flatten at even steps leave a rest of any length."""
    found = flattened_radii(*_chords(10.0, [0.1, 0.1, 0.1, 0.001]))
    assert found == pytest.approx(np.full(4, 10.0), rel=2e-3)


def test_lines_tangent_to_a_curve_stay_straight():
    """The joints to them turn by half of what joints of chords turn by."""
    radii = flattened_radii(*_lined(_chords(10.0, [0.1] * 8), 50.0, 0.05))
    assert radii.tolist() == pytest.approx([INF, *[10.0] * 8, INF], rel=2e-3)


def test_the_line_between_two_curves_to_the_same_side_stays_straight():
    """Between the round ends of a slot: it turns at both ends a little, but is not like its neighbours."""
    end, slot = _chords(10.0, [0.1] * 8), [0.05, 0.05]
    lengths = np.concatenate([end[0], [50.0], end[0]])
    turns = np.concatenate([end[2], slot, end[2]])
    radii = flattened_radii(lengths, np.full(17, INF), turns)
    assert np.flatnonzero(np.isinf(radii)).tolist() == [8]


def test_a_curve_that_begins_at_a_corner_is_one_up_to_the_corner():
    radii = flattened_radii(*_lined(_chords(10.0, [0.1] * 8), 50.0, 1.5))
    assert radii.tolist() == pytest.approx([INF, *[10.0] * 8, INF], rel=2e-3)


def test_joints_of_chords_are_no_corners_and_others_are():
    lengths, radii, turns = _lined(_chords(10.0, [0.1] * 4), 50.0, -1.5)
    assert corner_turns(lengths, radii, turns).tolist() == [-1.5, 0, 0, 0, -1.5]


@pytest.mark.parametrize("degrees", [31, 45, 60, 90])
def test_polygons_that_turn_by_more_than_30_degrees_are_polygons(degrees):
    """Our own convention: an octagon is an octagon."""
    turns = np.full(5, math.radians(degrees))
    assert np.isinf(flattened_radii(np.ones(6), np.full(6, INF), turns)).all()
    assert corner_turns(np.ones(6), np.full(6, INF), turns).tolist() == turns.tolist()


def test_turns_to_either_side_are_no_curve():
    turns = np.radians([10.0, -10.0, 10.0])
    assert np.isinf(flattened_radii(np.ones(4), np.full(4, INF), turns)).all()


def test_one_small_turn_is_a_corner():
    assert corner_turns([5.0, 5.0], [INF, INF], [0.2]).tolist() == [0.2]


def test_a_short_piece_between_long_lines_is_a_bevel():
    """Our own convention: over three times as long is no chord of the same curve."""
    lengths, turns = np.array([50.0, 2.0, 50.0]), np.array([0.4, 0.4])
    assert np.isinf(flattened_radii(lengths, np.full(3, INF), turns)).all()
    assert corner_turns(lengths, np.full(3, INF), turns).tolist() == [0.4, 0.4]


def test_long_lines_are_no_chords_where_the_flattening_is_known():
    """Sides of 50 that turn by 0.2 stray 50 tan(0.05)/2 = 1.25 from an arc: a polygon to any sensible tolerance."""
    lengths, radii, turns = np.full(4, 50.0), np.full(4, INF), np.full(3, 0.2)
    assert np.isinf(flattened_radii(lengths, radii, turns, sagitta=1.2)).all()
    assert corner_turns(lengths, radii, turns, sagitta=1.2).tolist() == [0.2] * 3
    assert np.isfinite(flattened_radii(lengths, radii, turns, sagitta=1.3)).all()


def test_arcs_and_lines_as_drawn_keep_their_radius():
    assert flattened_radii([5.0, 3.0, 5.0], [INF, 4.0, INF], [0.0, 0.0]).tolist() == [INF, 4.0, INF]


def test_chords_beside_a_drawn_arc_leave_it_as_it_is():
    lengths, _, turns = _chords(10.0, [0.1] * 6)
    radii = flattened_radii(lengths, [INF, INF, INF, INF, INF, 7.0], turns)
    assert radii.tolist() == pytest.approx([*[10.0] * 5, 7.0], rel=2e-3)


@PROPERTY
@given(st.lists(st.floats(0.2, 0.5), min_size=3, max_size=12), st.data())
def test_splitting_a_chord_changes_no_radius_and_no_corner(angles, data):
    lengths, radii, turns = _chords(10.0, angles)
    at = data.draw(st.integers(0, len(angles) - 1))
    split = [np.insert(lengths, at, lengths[at] / 4), np.insert(radii, at, INF), np.insert(turns, at, 0.0)]
    split[0][at + 1] *= 3 / 4
    whole = flattened_radii(lengths, radii, turns)
    assert flattened_radii(*split) == pytest.approx(np.insert(whole, at, whole[at]), rel=1e-9)
    assert corner_turns(*split).tolist() == np.insert(corner_turns(lengths, radii, turns), at, 0.0).tolist()


@PROPERTY
@given(st.lists(st.tuples(_positive, st.just(INF) | _positive, st.floats(-1, 1)), min_size=1, max_size=12))
def test_the_way_back_has_the_same_radii_and_corners(pieces):
    lengths, radii, turns = np.array(pieces).T
    turns = turns[1:]
    back = lengths[::-1], radii[::-1], -turns[::-1]
    assert flattened_radii(*back) == pytest.approx(flattened_radii(lengths, radii, turns)[::-1], rel=1e-12)
    assert corner_turns(*back).tolist() == (-corner_turns(lengths, radii, turns)[::-1]).tolist()


def test_what_is_given_is_not_changed():
    lengths, radii, turns = _chords(10.0, [0.1] * 5)
    corner_turns(lengths, radii, turns)
    flattened_radii(lengths, radii, turns)
    assert (np.isinf(radii).all(), turns.tolist()) == (True, pytest.approx([0.1] * 4))


@pytest.mark.parametrize("chords", [64, 256, 1024])
def test_a_scanner_takes_as_long_for_a_flattened_circle_as_for_the_circle(chords):
    """Every chord is slowed, the first and the last as well: 2 pi r over sqrt(a r)."""
    lengths, radii, turns = _chords(10.0, np.full(chords, 2 * math.pi / chords))
    found = limited(lengths, curve_speed(flattened_radii(lengths, radii, turns), 5_000)).seconds(2_000)
    assert found == pytest.approx(20 * math.pi / math.sqrt(50_000), rel=1e-3)


# -- delays and optics ------------------------------------------------------------------------------------------------


@PROPERTY
@given(st.floats(0, 100), _positive, st.floats(0, 1), st.floats(0, 100))
def test_a_jump_delay_lies_between_its_least_and_its_most(length, full, share, short):
    assert share * full * (1 - 1e-12) <= jump_delay(length, full, share, short) <= full * (1 + 1e-12)


def test_without_a_short_length_every_jump_has_the_full_delay():
    assert jump_delay(np.array([0.0, 1e-9, 5.0]), 0.3).tolist() == [0.3] * 3


@pytest.mark.parametrize(
    "function",
    [curve_speed, polygon_delay, field_side, fly_speed, depth_of_focus, spot_diameter, jump_delay],
)
@PROPERTY
@given(_several, _several, st.lists(_positive, min_size=2, max_size=2))
def test_an_array_is_a_loop_of_numbers(function, first, second, rest):
    """To the last digit, every pair of the first two; the others are plain numbers."""
    more = {depth_of_focus: rest[:1], spot_diameter: rest, jump_delay: [rest[0] / 1e3, rest[1]]}.get(function, [])
    together = function(first[:, None], second[None, :], *more)
    assert together.tolist() == [[float(function(float(a), float(b), *more)) for b in second] for a in first]
