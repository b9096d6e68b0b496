"""Axes that accelerate, against a plain look-ahead for one speed at a time, and by what no path may depend on."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.errors import InputError
from compare.geometry.axis_motion import (
    corner_speed,
    deviation_from_corner_speed,
    moves_table,
    path_speeds,
    path_table,
    segment_seconds,
)
from compare.geometry.speed_table import total

INF = np.inf
_length = st.floats(0.05, 300)
_radius = st.just(INF) | st.floats(0.5, 200)
_turn = st.just(0.0) | st.floats(-np.pi, np.pi)
_accel = st.floats(100, 1e5)
_deviation = st.just(0.0) | st.floats(1e-4, 0.5)
_speed = st.floats(1, 1e4)


@st.composite
def _paths(draw: st.DrawFn, turn: st.SearchStrategy[float] = _turn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Draw lengths and radii [mm] of one to twelve pieces, and the turns between them."""
    pieces = draw(st.lists(st.tuples(_length, _radius), min_size=1, max_size=12))
    turns = draw(st.lists(turn, min_size=len(pieces) - 1, max_size=len(pieces) - 1))
    lengths, radii = np.array(pieces).T
    return lengths, radii, np.array(turns)


_sharp_paths = _paths(st.just(0.0) | st.floats(0.6, np.pi) | st.floats(-np.pi, -0.6))
"""Paths with corners above 30 degrees, none of which can pass for the joint of two chords."""


def _one_speed(path, accel, deviation, speed):
    """Return the seconds of a path for one speed: a second way, piece by piece, that knows nothing of tables."""
    lengths, radii, turns = path
    pieces = [min(speed, math.sqrt(accel * r)) for r in radii]
    joints = [0.0]
    for before, after, turn in zip(pieces, pieces[1:], turns, strict=False):
        s = math.sin((math.pi - abs(turn)) / 2)
        corner = math.inf if s == 1 else math.sqrt(accel * deviation * s / (1 - s))
        joints.append(min(before, after, corner))
    joints.append(0.0)
    for i in reversed(range(len(pieces))):
        joints[i] = min(joints[i], math.sqrt(joints[i + 1] ** 2 + 2 * accel * lengths[i]))
    for i in range(len(pieces)):
        joints[i + 1] = min(joints[i + 1], math.sqrt(joints[i] ** 2 + 2 * accel * lengths[i]))
    seconds = 0.0
    for length, most, v0, v1 in zip(lengths, pieces, joints, joints[1:], strict=False):
        peak = min(most, math.sqrt((v0**2 + v1**2) / 2 + accel * length))
        even = max(0.0, length - (2 * peak**2 - v0**2 - v1**2) / (2 * accel))
        seconds += (2 * peak - v0 - v1) / accel + even / peak
    return seconds


# -- the table against one speed at a time ----------------------------------------------------------------------------


@PROPERTY
@given(_sharp_paths, _accel, _deviation, st.lists(_speed, min_size=1, max_size=5))
def test_one_table_says_what_look_ahead_finds_for_each_speed(path, accel, deviation, speeds):
    """The claim that the whole module rests on: the fastest motion with a cap is the one without it, capped."""
    found = path_table(*path, accel, deviation).seconds(np.array(speeds))
    assert found == pytest.approx([_one_speed(path, accel, deviation, v) for v in speeds], rel=1e-9)


def test_long_paths_of_random_pieces_agree_at_speeds_between_and_at_the_breaks():
    """Seeded: twenty paths of 200 pieces."""
    rng = np.random.default_rng(11)
    for _ in range(20):
        lengths = rng.uniform(0.1, 60, 200)
        radii = np.where(rng.random(200) < 0.4, rng.uniform(0.5, 80, 200), INF)
        turns = rng.uniform(0.6, np.pi, 199) * rng.choice([-1, 0, 1], 199)
        table = path_table(lengths, radii, turns, 20_000, 0.02)
        speeds = np.concatenate([rng.uniform(1, 3_000, 5), rng.choice(table.breaks[1:], 5)])
        assert table.seconds(speeds) == pytest.approx(
            [_one_speed((lengths, radii, turns), 20_000, 0.02, v) for v in speeds], rel=1e-9
        )


@PROPERTY
@given(_paths(), _accel, _deviation)
def test_a_table_has_the_length_of_its_path(path, accel, deviation):
    assert path_table(*path, accel, deviation).length == pytest.approx(path[0].sum(), rel=1e-12)


@PROPERTY
@given(st.lists(_paths(), min_size=1, max_size=4), _accel, _deviation, _speed)
def test_strokes_with_a_reversal_between_them_are_strokes_on_their_own(paths, accel, deviation, speed):
    """So that all strokes of a head can be had in one call."""
    lengths, radii = (np.concatenate([path[k] for path in paths]) for k in (0, 1))
    turns = np.concatenate([np.append(path[2], np.pi) for path in paths])[:-1]
    alone = total([path_table(*path, accel, deviation) for path in paths])
    assert path_table(lengths, radii, turns, accel, deviation).seconds(speed) == pytest.approx(
        alone.seconds(speed), rel=1e-9
    )


# -- what no time may depend on ---------------------------------------------------------------------------------------


@PROPERTY
@given(_paths(), _accel, _deviation, _speed, st.data())
def test_splitting_a_piece_changes_nothing(path, accel, deviation, speed, data):
    """Lines and curves, also lines that pass for chords of a curve."""
    lengths, radii, turns = path
    piece = data.draw(st.integers(0, len(lengths) - 1))
    shares = np.array(data.draw(st.lists(st.floats(0.05, 1), min_size=2, max_size=5)))
    split = (
        np.concatenate([lengths[:piece], lengths[piece] * shares / shares.sum(), lengths[piece + 1 :]]),
        np.concatenate([radii[:piece], np.full(len(shares), radii[piece]), radii[piece + 1 :]]),
        np.concatenate([turns[:piece], np.zeros(len(shares) - 1), turns[piece:]]),
    )
    assert path_table(*split, accel, deviation).seconds(speed) == pytest.approx(
        path_table(*path, accel, deviation).seconds(speed), rel=1e-9
    )


@PROPERTY
@given(_paths(), _accel, _deviation, _speed)
def test_a_path_takes_as_long_there_as_back(path, accel, deviation, speed):
    lengths, radii, turns = path
    back = path_table(lengths[::-1], radii[::-1], -turns[::-1], accel, deviation)
    assert back.seconds(speed) == pytest.approx(path_table(*path, accel, deviation).seconds(speed), rel=1e-9)


@PROPERTY
@given(_paths(), _accel, _deviation, _speed)
def test_a_mirrored_path_takes_as_long(path, accel, deviation, speed):
    lengths, radii, turns = path
    mirrored = path_table(lengths, radii, -turns, accel, deviation)
    assert mirrored.seconds(speed) == path_table(*path, accel, deviation).seconds(speed)


@PROPERTY
@given(_paths(), _accel, _deviation, _speed, st.floats(0.01, 100))
def test_any_unit_of_length_gives_the_same_seconds(path, accel, deviation, speed, k):
    lengths, radii, turns = path
    other = path_table(k * lengths, k * radii, turns, k * accel, k * deviation)
    assert other.seconds(k * speed) == pytest.approx(path_table(*path, accel, deviation).seconds(speed), rel=1e-9)


@pytest.mark.parametrize(("chords", "within"), [(64, 5e-3), (256, 1e-3), (1024, 1e-3)])
@pytest.mark.parametrize("speed", [50.0, 500.0, 5_000.0])
def test_a_circle_takes_the_time_of_its_arc_however_finely_it_was_flattened(chords, within, speed):
    side, turn = 20 * math.sin(math.pi / chords), 2 * math.pi / chords
    arc = path_table([20 * math.pi], [10.0], [], 5_000, 0.01)
    polygon = path_table([side] * chords, [INF] * chords, [turn] * (chords - 1), 5_000, 0.01)
    assert polygon.seconds(speed) == pytest.approx(arc.seconds(speed), rel=within)


@pytest.mark.parametrize("chords", [6, 12, 24, 90])
def test_a_rounded_rectangle_takes_as_long_with_flattened_corners(chords):
    """Chords between tangent lines: joints to the lines turn by half, and the lines keep their speed."""
    quarter = math.pi / 2
    drawn = path_table(np.tile([60.0, 8 * quarter], 4), np.tile([INF, 8.0], 4), np.zeros(7), 20_000, 0.02)
    turn = quarter / chords
    lengths = np.tile([60.0, *[16 * math.sin(turn / 2)] * chords], 4)
    turns = np.tile([turn / 2, *[turn] * (chords - 1), turn / 2], 4)[:-1]
    flat = path_table(lengths, np.full_like(lengths, INF), turns, 20_000, 0.02)
    assert flat.seconds(2_000) == pytest.approx(drawn.seconds(2_000), rel=5e-3)


def test_lines_that_meet_at_a_small_turn_are_slowed_by_a_corner():
    """A taper of 15 degrees is no curve: it turns once."""
    taper = path_table([100.0, 100.0], [INF, INF], [math.radians(15)], 20_000, 0.02)
    straight_on = path_table([200.0], [INF], [], 20_000, 0.02)
    assert taper.seconds(2_000) > 1.2 * straight_on.seconds(2_000)


# -- limits -----------------------------------------------------------------------------------------------------------


@PROPERTY
@given(_paths(), _accel, _deviation, _speed)
def test_no_path_is_faster_than_its_length_over_the_speed(path, accel, deviation, speed):
    assert path_table(*path, accel, deviation).seconds(speed) >= path[0].sum() / speed * (1 - 1e-12)


@PROPERTY
@given(_paths(), st.tuples(_accel, _deviation, _speed), st.floats(1, 5), st.integers(0, 2))
def test_more_acceleration_deviation_or_speed_never_takes_longer(path, limits, factor, which):
    accel, deviation, speed = (limit * factor if i == which else limit for i, limit in enumerate(limits))
    before = path_table(*path, *limits[:2]).seconds(limits[2])
    assert path_table(*path, accel, deviation).seconds(speed) <= before * (1 + 1e-9)


@PROPERTY
@given(_paths(), _length, _accel, _deviation, _speed)
def test_a_longer_path_never_takes_less(path, length, accel, deviation, speed):
    """A straight piece more at its end, after a corner too sharp to be of a curve."""
    lengths, radii, turns = path
    longer = np.append(lengths, length), np.append(radii, INF), np.append(turns, 2.0)[: len(lengths)]
    before = path_table(*path, accel, deviation).seconds(speed)
    assert path_table(*longer, accel, deviation).seconds(speed) >= before * (1 - 1e-9)


@PROPERTY
@given(_paths(), _accel, _deviation)
def test_speeds_at_joints_keep_all_limits(path, accel, deviation):
    lengths, radii, turns = path
    corners, curves = corner_speed(turns, accel, deviation), np.sqrt(accel * radii)
    speeds = path_speeds(lengths, corners, curves, accel)
    assert speeds[0] == speeds[-1] == 0
    assert (speeds[1:-1] <= corners).all()
    assert (np.maximum(speeds[1:], speeds[:-1]) <= curves).all()
    assert (np.abs(np.diff(speeds**2)) <= 2 * accel * lengths * (1 + 1e-9)).all()


def test_a_machine_brakes_ahead_of_pieces_too_short_to_brake_on():
    """Derived: 1 mm before the end no more than sqrt(2 x 50 x 1) = 10, 2 mm before it sqrt(200)."""
    speeds = path_speeds([100.0, 1.0, 1.0], [INF, INF], [INF] * 3, 50.0)
    assert speeds.tolist() == pytest.approx([0, math.sqrt(200), 10, 0])


@PROPERTY
@given(st.lists(st.just(0.0) | _length, min_size=1, max_size=8), _accel, _speed)
def test_jumps_are_paths_of_one_straight_piece_each(lengths, accel, speed):
    alone = total([path_table([length], [INF], [], accel, 0.0) for length in lengths if length])
    assert moves_table(np.array(lengths), accel).seconds(speed) == pytest.approx(alone.seconds(speed), rel=1e-9)


@PROPERTY
@given(st.lists(st.floats(-np.pi, np.pi), min_size=1, max_size=6), _accel, st.floats(1e-4, 0.5))
def test_corner_speeds_of_an_array_are_those_of_its_numbers(turns, accel, deviation):
    found = corner_speed(np.array(turns), accel, deviation)
    assert found.tolist() == [corner_speed(turn, accel, deviation) for turn in turns]


def test_a_machine_that_may_not_stray_stops_at_every_corner():
    assert corner_speed(0.1, 1_000.0, 0.0) == 0.0
    assert corner_speed(0.0, 1_000.0, 0.0) == INF


@PROPERTY
@given(st.floats(0.1, 1_000), _accel)
def test_the_deviation_of_a_corner_speed_gives_it_back(speed, accel):
    deviation = deviation_from_corner_speed(speed, accel)
    assert corner_speed(math.pi / 2, accel, deviation) == pytest.approx(speed, rel=1e-12)


# -- what makes no sense ----------------------------------------------------------------------------------------------


def test_a_move_too_short_for_its_change_of_speed_is_refused():
    """From 100 to 0 at 1,000 takes 5: a little less is impossible, and 5 is not."""
    assert segment_seconds(5.0, 100.0, 0.0, 200.0, 1_000.0) == pytest.approx(0.1, rel=1e-12)
    with pytest.raises(InputError, match="too short for its change of speed"):
        segment_seconds(np.array([5.0, 4.999]), 100.0, 0.0, 200.0, 1_000.0)


@pytest.mark.parametrize(
    ("move", "words"),
    [
        ((1.0, 300.0, 0.0, 200.0, 1e6), "above the highest speed"),
        ((-1.0, 0.0, 0.0, 200.0, 1e6), "a length or a speed is negative"),
        ((1.0, np.nan, 0.0, 200.0, 1e6), "a length or a speed is negative"),
        ((1.0, 0.0, 0.0, 200.0, 0.0), "an acceleration has to be above 0"),
    ],
)
def test_a_move_that_is_none_is_refused(move, words):
    with pytest.raises(InputError, match=words):
        segment_seconds(*move)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        (([1.0, 2.0], [INF], [0.0], 10.0, 0.1), "a length and a radius for each piece"),
        (([1.0, 0.0], [INF, INF], [0.0], 10.0, 0.1), "a piece of a path has no length"),
        (([1.0], [0.0], [], 10.0, 0.1), "a radius has to be above 0"),
        (([1.0], [INF], [], 0.0, 0.1), "an acceleration has to be above 0"),
        (([1.0], [INF], [], 10.0, -0.1), "the deviation 0 or more"),
        (([1.0, 1.0], [INF, INF], [np.nan], 10.0, 0.1), "turns and the deviation at corners have to be numbers"),
    ],
)
def test_a_path_that_is_none_is_refused(path, words):
    with pytest.raises(InputError, match=words):
        path_table(*path)


def test_a_jump_of_negative_length_is_refused():
    with pytest.raises(InputError, match="a length has to be a number from 0 up"):
        moves_table(np.array([1.0, -1.0]), 10.0)
