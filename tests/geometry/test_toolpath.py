"""The path of every head: nothing lost, nothing twice, and the properties that time must have."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.geometry.head_fields import FieldPlan, fields
from compare.geometry.placement import Placement, placement_matrix
from compare.geometry.toolpath import Effort, Motion, Toolpath, loads_of, plan_sheet
from compare.geometry.trails import Trail, inside_first, ring_trail

EFFORT = Effort(0.25, 0.0007, 0.1, 0.06)
SCANNER = Motion(axes=False, accel_m_s2=8000, corner_deviation_mm=0.02, short_jump_mm=20)
AXES = Motion(axes=True, accel_m_s2=20, corner_deviation_mm=0.02, short_jump_mm=20)
SHEET = (1060.0, 760.0)


def one_field(heads: int = 1) -> np.ndarray:
    """Every head reaches everything."""
    return np.tile([-5000.0, -5000.0, 5000.0, 5000.0], (heads, 1))


def field_of(heads: int) -> np.ndarray:
    return fields(FieldPlan(heads, 0, 0.0, 0.0, 60.0, SHEET), *SHEET)


def rectangle(x: float, y: float, width: float = 40, height: float = 30) -> Trail:
    return ring_trail("cutting", ((x, y), (x + width, y), (x + width, y + height), (x, y + height)))


def line(x: float, y: float, x2: float, y2: float) -> Trail:
    points = np.array([[x, y], [x2, y2]])
    length = np.hypot(*(points[1] - points[0]))
    return Trail("cutting", points, np.array([length]), np.array([np.inf]), np.zeros(1), closed=False)


def seconds(path: Toolpath, motion: Motion = SCANNER, speed: float = 4.0, jump: float = 10.0) -> float:
    """The slowest head, with delays of 0.4 ms after a jump, 0.3 ms after a stroke and 0.1 ms at a right angle."""
    times = []
    for head in loads_of(path, motion, ()).heads:
        marks = sum(float(table.seconds(speed)) for table in head.marking.values())
        delays = head.strokes * 0.7e-3 + head.corner_load * 0.1e-3
        times.append(marks + float(head.jumps.seconds(jump)) + delays)
    return max(times)


def plan(trails: list[Trail], box: np.ndarray, stitch: float = 0.0) -> Toolpath:
    return plan_sheet(trails, box, stitch_mm=stitch, effort=EFFORT)


PLACES = st.lists(st.tuples(st.integers(10, 950), st.integers(10, 650)), min_size=1, max_size=7, unique=True)


@settings(max_examples=40, deadline=None)
@given(PLACES, st.integers(1, 6))
def test_every_line_is_run_once_by_some_head(places, heads):
    trails = [rectangle(x, y) for x, y in places]
    path = plan(trails, field_of(heads))
    total = sum(t.length_mm for head in path.heads for t in head.trails)
    assert total == pytest.approx(sum(t.length_mm for t in trails), rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(PLACES, st.integers(0, 3), st.booleans(), st.sampled_from([SCANNER, AXES]))
def test_moving_turning_and_mirroring_the_sheet_changes_nothing(places, quarters, mirror, motion):
    """The fields move with it: an exact answer, as few strokes are ordered exactly."""
    trails = [rectangle(x, y) for x, y in places]
    turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarters)
    sign = -1.0 if mirror else 1.0
    flip = np.array([[sign, 0.0], [0.0, 1.0]])
    moved = [
        Trail(t.kind, t.points @ (flip @ turn).T + (31.0, -7.0), t.length, t.radius, sign * t.turn, t.closed)
        for t in trails
    ]
    alone = [seconds(plan(some, one_field()), motion) for some in (trails, moved)]
    assert alone[1] == pytest.approx(alone[0], rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(PLACES, st.tuples(st.integers(10, 950), st.integers(10, 650)), st.sampled_from([SCANNER, AXES]))
def test_a_stroke_more_never_makes_a_head_faster(places, more, motion):
    trails = [rectangle(x, y) for x, y in places]
    assert seconds(plan([*trails, rectangle(*more)], one_field()), motion) >= seconds(plan(trails, one_field()), motion)


@settings(max_examples=40, deadline=None)
@given(PLACES, st.integers(1, 5))
def test_a_head_more_that_reaches_everything_never_makes_a_sheet_slower(places, heads):
    trails = [rectangle(x, y) for x, y in places]
    fewer, more = (seconds(plan(trails, one_field(n))) for n in (heads, heads + 1))
    assert more <= fewer * (1 + 1e-9)


@settings(max_examples=30, deadline=None)
@given(PLACES, st.sampled_from([SCANNER, AXES]), st.floats(0.5, 9))
def test_time_is_never_below_length_divided_by_speed(places, motion, speed):
    trails = [rectangle(x, y) for x, y in places]
    path = plan(trails, one_field())
    assert seconds(path, motion, speed) >= sum(t.length_mm for t in trails) / 1000 / speed


@pytest.mark.parametrize("motion", [SCANNER, AXES])
def test_a_straight_move_in_pieces_takes_what_it_takes_in_one(motion):
    points = np.column_stack([np.linspace(0, 300, 7), np.zeros(7)])
    pieces = Trail("cutting", points, np.full(6, 50.0), np.full(6, np.inf), np.zeros(6), closed=False)
    whole = line(0, 0, 300, 0)
    assert seconds(plan([pieces], one_field()), motion) == pytest.approx(
        seconds(plan([whole], one_field()), motion), rel=1e-9
    )


def test_equal_heads_with_equal_strokes_take_a_share_each():
    """N equal heads take T / N where the work can be split evenly; derived here."""
    trails = [rectangle(100 * i, 0) for i in range(8)]
    path = plan(trails, one_field(4))
    assert [len(head.trails) for head in path.heads] == [2, 2, 2, 2]
    assert path.unevenness == pytest.approx(0, abs=1e-9)
    assert path.balance == pytest.approx(1)


def test_what_lies_inside_is_run_before_what_holds_it():
    blanks = [t for k in range(3) for t in (rectangle(200 * k, 0, 150, 150), rectangle(200 * k + 50, 50))]
    (head,) = plan(blanks, one_field()).heads
    for hole, frame in inside_first(head.trails).tolist():
        assert hole < frame
    assert len(inside_first(head.trails)) == 3


def test_the_same_sheet_gives_the_same_path():
    trails = [rectangle(x, y) for x in range(0, 900, 90) for y in range(0, 600, 75)]
    one, two = (plan(trails, field_of(4)) for _ in range(2))
    for a, b in zip(one.heads, two.heads, strict=True):
        assert [t.points.tolist() for t in a.trails] == [t.points.tolist() for t in b.trails]


def test_jumps_are_those_between_the_strokes_as_they_are_run():
    """The jump to the first starts at the end of the last: sheet follows sheet."""
    (head,) = plan([line(0, 0, 100, 0), line(100, 50, 0, 50)], one_field()).heads
    assert sorted(head.jumps_mm.tolist()) == pytest.approx([50, 50])


def test_a_placed_blank_keeps_its_corners():
    """Turned by a quarter on the sheet, a blank has the same turns, not their mirror image."""
    outline = ((0.0, 0.0), (80.0, 0.0), (80.0, 30.0), (40.0, 30.0), (40.0, 60.0), (0.0, 60.0))
    blank = ring_trail("cutting", outline)
    laid = blank.placed(placement_matrix(outline, Placement(10, 20, 90)))
    again = ring_trail("cutting", [tuple(p) for p in laid.points[:-1]])
    assert again.turn == pytest.approx(blank.turn)
    assert laid.points.min(axis=0) == pytest.approx([10, 20])
