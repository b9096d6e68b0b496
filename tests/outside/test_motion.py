"""Motion of beams and axes against published formulas, worked values and a solver of trajectories.

Millimetres and seconds throughout. Worked values are derived here from textbook kinematics where nothing else is said.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from ruckig import InputParameter, Result, Ruckig, Trajectory

from compare.geometry.axis_motion import (
    corner_speed,
    deviation_from_corner_speed,
    moves_table,
    path_speeds,
    path_table,
    segment_seconds,
)
from compare.geometry.scan_motion import (
    curve_speed,
    depth_of_focus,
    field_side,
    flattened_radii,
    fly_speed,
    jump_delay,
    polygon_delay,
    spot_diameter,
)
from compare.geometry.speed_table import straight, total

INF, RIGHT_ANGLE = np.inf, math.pi / 2


def _ruckig_s(length, cap, accel, *, entry=0.0, exit_=0.0, jerk=None):
    """Return what the solver takes for one axis, from one speed to another."""
    asked = InputParameter(1)
    asked.current_position, asked.current_velocity, asked.current_acceleration = [0.0], [entry], [0.0]
    asked.target_position, asked.target_velocity, asked.target_acceleration = [length], [exit_], [0.0]
    asked.max_velocity, asked.max_acceleration = [cap], [accel]
    if jerk is not None:
        asked.max_jerk = [jerk]
    trajectory = Trajectory(1)
    assert Ruckig(1).calculate(asked, trajectory) == Result.Working
    return trajectory.duration


def _lines(*lengths, turn, deviation, accel=5_000.0):
    """Return the table of lines that meet at the same turn each."""
    return path_table(lengths, [INF] * len(lengths), [turn] * (len(lengths) - 1), accel, deviation)


# -- one move ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "cap", "accel", "seconds"),
    [
        (100, 500, 5_000, 0.3),
        (50, 500, 5_000, 0.2),
        (20, 500, 5_000, 0.1264911),
        (10, 2_000, 50_000, 0.0282843),
        (100, 2_000, 50_000, 0.09),
        (300, 5_000, 200_000, 0.085),
    ],
)
def test_moves_from_rest_to_rest(length, cap, accel, seconds):
    """Derived: L/v + v/a where the speed is reached, else 2 sqrt(L/a). Run here: ruckig says the same."""
    assert moves_table(np.array([length]), accel).seconds(cap) == pytest.approx(seconds, abs=1e-6)
    assert segment_seconds(length, 0, 0, cap, accel) == pytest.approx(seconds, abs=1e-6)
    assert _ruckig_s(length, cap, accel) == pytest.approx(seconds, abs=1e-6)


def test_a_move_between_two_speeds():
    """Derived: 100 mm from 100 to 50 mm/s by way of 500 take 0.2725 s. Run here: ruckig says the same."""
    assert segment_seconds(100, 100, 50, 500, 5_000) == pytest.approx(0.2725, abs=1e-6)
    assert _ruckig_s(100, 500, 5_000, entry=100.0, exit_=50.0) == pytest.approx(0.2725, abs=1e-6)


def test_moves_between_any_speeds_are_those_of_ruckig():
    """Run here: ruckig (open source), four thousand seeded moves, entry and exit speeds where the length allows both."""
    rng = np.random.default_rng(2024)
    count = 4_000
    length, cap = rng.uniform(0.5, 300, count), rng.uniform(20, 5_000, count)
    accel = 10 ** rng.uniform(2.5, 5.3, count)
    entry = cap * rng.uniform(0, 1, count)
    reach = 2 * accel * length
    low, high = np.sqrt(np.maximum(entry**2 - reach, 0)), np.minimum(np.sqrt(entry**2 + reach), cap)
    exit_ = low + (high - low) * rng.uniform(0.001, 0.999, count)
    found = segment_seconds(length, entry, exit_, cap, accel)
    expected = [
        _ruckig_s(d, v, a, entry=v0, exit_=v1)
        for d, v, a, v0, v1 in zip(*(x.tolist() for x in (length, cap, accel, entry, exit_)), strict=True)
    ]
    assert found == pytest.approx(expected, rel=1e-9)


def test_moves_from_rest_to_rest_are_those_of_ruckig():
    """Run here: ruckig, a thousand seeded moves, by the table."""
    rng = np.random.default_rng(7)
    for length, cap, accel in zip(
        rng.uniform(0.1, 500, 1_000).tolist(),
        rng.uniform(10, 8_000, 1_000).tolist(),
        (10 ** rng.uniform(2.5, 5.3, 1_000)).tolist(),
        strict=True,
    ):
        found = moves_table(np.array([length]), accel).seconds(cap)
        assert found == pytest.approx(_ruckig_s(length, cap, accel), rel=1e-9)


def test_jerk_that_the_model_leaves_out_adds_acceleration_over_jerk():
    """Derived, and run here with ruckig: 100 mm at 2,000 mm/s, 50,000 mm/s2 and 5e7 mm/s3 take 0.091 s, not 0.090 s."""
    with_jerk = _ruckig_s(100, 2_000, 50_000, jerk=5e7)
    assert with_jerk == pytest.approx(0.091, abs=1e-6)
    assert moves_table(np.array([100.0]), 50_000).seconds(2_000) + 50_000 / 5e7 == pytest.approx(with_jerk, abs=1e-6)


# -- corners ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("degrees", "speed"),
    [(10, 114.410), (45, 24.63440), (90, 10.98684), (120, 7.07107), (135, 5.567), (170, 2.185)],
)
def test_speeds_at_corners(degrees, speed):
    """Published formula: grbl, planner.c (junction deviation), here 0.01 mm at 5,000 mm/s2. Values derived."""
    assert corner_speed(math.radians(degrees), 5_000, 0.01) == pytest.approx(speed, abs=5e-4)
    assert corner_speed(-math.radians(degrees), 5_000, 0.01) == corner_speed(math.radians(degrees), 5_000, 0.01)


def test_at_120_degrees_a_corner_has_the_root_of_acceleration_times_deviation():
    """Derived: sin 30 deg / (1 - sin 30 deg) = 1."""
    assert corner_speed(math.radians(120), 50_000, 0.05) == pytest.approx(50.0, abs=1e-9)


def test_straight_on_has_no_limit_and_a_reversal_stops():
    """Published: grbl, planner.c treats both ends of the rule so."""
    assert corner_speed(0.0, 5_000, 0.01) == INF
    assert corner_speed(math.pi, 5_000, 0.01) == 0.0


def test_a_square_corner_of_5_mm_per_second():
    """Published formula: Klipper, toolhead.py: v^2 (sqrt 2 - 1)/a. Derived: 0.003451780 mm at 3,000 mm/s2."""
    deviation = deviation_from_corner_speed(5, 3_000)
    assert deviation == pytest.approx(0.003451780, abs=1e-9)
    assert corner_speed(RIGHT_ANGLE, 3_000, deviation) == pytest.approx(5.0, abs=1e-6)


def test_the_rule_of_thumb_for_a_jerk_setting_is_3_percent_short_of_a_square_corner():
    """Published: Marlin, pull request 15509: 0.4 jerk^2/a, so 10 mm/s at 3,000 mm/s2 make 0.0133333 mm.

    Derived: 0.4 stands there for sqrt 2 - 1 = 0.414.
    """
    published = 0.0133333
    assert deviation_from_corner_speed(10, 3_000) * 0.4 / (math.sqrt(2) - 1) == pytest.approx(published, abs=1e-7)
    assert corner_speed(RIGHT_ANGLE, 3_000, published) == pytest.approx(10 * math.sqrt(0.4 / 0.41421356), abs=1e-4)


# -- paths ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("deviation", "accel", "seconds"), [(0.0, 5_000, 1.2), (0.01, 5_000, 1.186961), (0.01, 1e12, 0.8)]
)
def test_a_square_of_100_mm_at_500_mm_per_second(deviation, accel, seconds):
    """Derived: with full stops, by junction deviation, and without any loss at corners."""
    square = _lines(100, 100, 100, 100, turn=RIGHT_ANGLE, deviation=deviation, accel=accel)
    assert square.seconds(500) == pytest.approx(seconds, abs=1e-5)


def test_a_faster_square():
    """Derived: 100 mm at 2,000 mm/s, 50,000 mm/s2 and 0.05 mm take 0.350858 s."""
    square = _lines(100, 100, 100, 100, turn=RIGHT_ANGLE, deviation=0.05, accel=50_000)
    assert square.seconds(2_000) == pytest.approx(0.350858, abs=1e-6)


@pytest.mark.parametrize(
    ("degrees", "deviation", "seconds"), [(90, 0.0, 0.6), (90, 0.01, 0.595654), (45, 0.01, 0.590389), (0, 0.01, 0.5)]
)
def test_two_lines_of_100_mm(degrees, deviation, seconds):
    """Derived: between a full stop at the corner and one move of 200 mm."""
    path = _lines(100, 100, turn=math.radians(degrees), deviation=deviation)
    assert path.seconds(500) == pytest.approx(seconds, abs=1e-5)


def test_out_and_back_stops_at_the_end():
    """Derived: two moves of 100 mm."""
    assert _lines(100, 100, turn=math.pi, deviation=0.01).seconds(500) == pytest.approx(0.6, abs=1e-9)


@pytest.mark.parametrize("pieces", [1, 3, 10, 100])
def test_a_straight_move_of_15_mm_in_any_number_of_pieces(pieces):
    """Derived: 2 sqrt(15/5000) = 0.1095445 s."""
    path = _lines(*[15 / pieces] * pieces, turn=0.0, deviation=0.01)
    assert path.seconds(500) == pytest.approx(2 * math.sqrt(15 / 5_000), abs=1e-9)


@pytest.mark.parametrize("chords", [64, 256, 1024])
def test_a_flattened_circle_of_10_mm_is_run_at_the_speed_of_the_circle(chords):
    """Published rule: Klipper, Kinematics.md: acceleration towards the centre. Derived: sqrt(5000 x 10) = 223.607 mm/s;
    chords have the circle within, so 256 make 223.598 mm/s.
    """
    side, turn = 20 * math.sin(math.pi / chords), 2 * math.pi / chords
    lengths, turns = np.full(chords, side), np.full(chords - 1, turn)
    limits = curve_speed(flattened_radii(lengths, np.full(chords, INF), turns), 5_000)
    fastest = path_speeds(lengths, np.full(chords - 1, INF), limits, 5_000).max()
    assert fastest == pytest.approx(math.sqrt(50_000 * math.cos(math.pi / chords)), rel=1e-9)
    assert fastest == pytest.approx(223.607, rel=1e-3)
    assert fastest <= 223.607


def test_junction_deviation_alone_would_not_slow_a_finely_flattened_circle():
    """Derived from the published rule of grbl: 203.6 mm/s for 64 chords, but 814.85 for 256. Hence the limit on curves."""
    assert corner_speed(2 * math.pi / 64, 5_000, 0.01) == pytest.approx(203.6, abs=0.05)
    assert corner_speed(2 * math.pi / 256, 5_000, 0.01) == pytest.approx(814.85, abs=0.05)


def test_a_path_of_lines_and_arcs_takes_as_long_back_and_mirrored():
    """Derived: nothing in the rules has a side or a direction."""
    lengths, radii, turns = np.array([30.0, 12.0, 45.0, 8.0]), np.array([INF, 6.0, INF, 3.0]), np.array([0, 0.9, -2.0])
    seconds = path_table(lengths, radii, turns, 5_000, 0.01).seconds(500)
    assert path_table(lengths[::-1], radii[::-1], -turns[::-1], 5_000, 0.01).seconds(500) == pytest.approx(
        seconds, abs=1e-9
    )
    assert path_table(lengths, radii, -turns, 5_000, 0.01).seconds(500) == pytest.approx(seconds, abs=1e-9)


@pytest.mark.parametrize("more", [{"accel": 6_000}, {"deviation": 0.02}, {"speed": 600}])
def test_a_square_takes_less_with_more_of_anything(more):
    """Derived: acceleration, deviation and speed each limit some of it."""
    given = {"accel": 5_000, "deviation": 0.01, "speed": 500} | more
    square = _lines(100, 100, 100, 100, turn=RIGHT_ANGLE, deviation=given["deviation"], accel=given["accel"])
    assert square.seconds(given["speed"]) < 1.18696


# -- scanners ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("degrees", "milliseconds"), [(0, 0.0), (60, 0.05), (90, 0.10), (180, 0.20)])
def test_polygon_delay_of_0_10_ms(degrees, milliseconds):
    """Published: manual of a general-purpose scanner control card (name withheld): 1 - cos of the change of direction."""
    assert polygon_delay(math.radians(degrees), 0.10) == pytest.approx(milliseconds, abs=1e-9)


@pytest.mark.parametrize(("length", "milliseconds"), [(0, 0.05), (5, 0.1125), (20, 0.30), (200, 0.30)])
def test_jump_delay_from_0_05_to_0_30_ms(length, milliseconds):
    """Published: manual of a second such card (name withheld): linear up to a limit, here 20 mm."""
    assert jump_delay(length, 0.30, 0.05 / 0.30, 20) == pytest.approx(milliseconds, abs=1e-9)


def test_ten_rectangles_take_920_2_milliseconds():
    """Derived: 10 of 50 x 30 mm at 2 m/s, 9 jumps of 100 mm at 8 m/s, delays of 0.3 (jump), 0.2 (mark), 0.1 ms (polygon)."""
    marking = total([straight(160.0)] * 10).seconds(2_000) * 1e3
    jumping = straight(np.full(9, 100.0)).seconds(8_000) * 1e3
    settling = jump_delay(np.full(9, 100.0), 0.3).sum()
    corners = polygon_delay(np.full(30, RIGHT_ANGLE), 0.1).sum()
    assert [marking, jumping, settling, corners] == pytest.approx([800, 112.5, 2.7, 3.0], abs=1e-6)
    assert marking + jumping + settling + 10 * 0.2 + corners == pytest.approx(920.2, abs=1e-6)


def test_heads_share_the_time_only_where_the_work_is_even():
    """Derived: 10 s on two heads are 5 s evenly, and 6 s at 60 to 40."""
    whole = straight(20_000.0).seconds(2_000)
    assert whole == pytest.approx(10.0, abs=1e-9)
    assert max(straight(share * 20_000).seconds(2_000) for share in (0.5, 0.5)) == pytest.approx(whole / 2, abs=1e-9)
    assert max(straight(share * 20_000).seconds(2_000) for share in (0.6, 0.4)) == pytest.approx(6.0, abs=1e-9)


@pytest.mark.parametrize(
    ("focal_length", "beam", "microns"), [(300, 20, 242.93), (100, 10, 161.96), (500, 30, 269.9), (800, 50, 259.1)]
)
def test_focal_spots_of_a_carbon_dioxide_laser(focal_length, beam, microns):
    """Formula from memory: Steen & Mazumder, Laser Material Processing. Derived: 10.6 microns, M2 of 1.2."""
    assert spot_diameter(0.0106, 1.2, focal_length, beam) * 1e3 == pytest.approx(microns, abs=0.05)


def test_twice_the_beam_makes_half_the_spot():
    """Derived from the same formula."""
    assert spot_diameter(0.0106, 1.2, 300, 40) == pytest.approx(spot_diameter(0.0106, 1.2, 300, 20) / 2, rel=1e-12)


def test_depth_of_focus():
    """Formula from memory: Steen & Mazumder. Derived: 161.96 microns with M2 of 1.2 keep focus over 3.239 mm."""
    assert depth_of_focus(0.16196, 1.2, 0.0106) == pytest.approx(3.239, abs=0.01)


@pytest.mark.parametrize(("focal_length", "side"), [(300, 209.44), (500, 349.07), (800, 558.51)])
def test_side_of_the_field_at_20_degrees(focal_length, side):
    """Published in tutorials on f-theta lenses: position = f theta. Values derived, angle of the beam."""
    assert field_side(focal_length, math.radians(20)) == pytest.approx(side, abs=0.1)


def test_sheets_of_0_5_metres_cut_in_a_quarter_of_a_second_move_at_2_metres_per_second():
    """Derived: 120 m/min."""
    assert fly_speed(0.50, 0.25) == pytest.approx(2.0, abs=1e-9)
    assert fly_speed(0.50, 0.25) * 60 == pytest.approx(120.0, abs=1e-9)
