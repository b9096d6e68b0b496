"""Strokes joined so that the beam is switched as rarely as can be: how many, which way round corners, nothing lost."""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.assumptions import assumption_table
from compare.geometry.contours import follow
from compare.geometry.fewest_strokes import fewest_strokes
from compare.geometry.line_trails import outline_lines, trails_of_lines
from compare.geometry.overlaps import bare, stretches
from compare.geometry.strokes import ARC, LINE
from compare.geometry.styles import build_blank
from compare.geometry.trails import Trail

Place = tuple[float, float]
Side = tuple[Place, Place]


def line(*places: Place) -> Trail:
    """An open trail of straight legs."""
    points = np.array(places, float)
    way = np.diff(points, axis=0)
    cross, dot = way[:-1, 0] * way[1:, 1] - way[:-1, 1] * way[1:, 0], (way[:-1] * way[1:]).sum(axis=1)
    turn = np.concatenate([[0.0], np.arctan2(cross, dot)])
    return Trail("cutting", points, np.hypot(*way.T), np.full(len(way), np.inf), turn, closed=False)


def arcs(*angles_deg: float, radius: float, leg_deg: float = 10.0) -> list[Trail]:
    """Parts of a circle around the origin from each angle to the next, each cut into legs."""
    found = []
    for begin, end in pairwise(angles_deg):
        count = round((end - begin) / leg_deg)
        at = np.radians(np.linspace(begin, end, count + 1))
        points = radius * np.column_stack([np.cos(at), np.sin(at)])
        length = np.full(count, radius * np.radians(end - begin) / count)
        found.append(Trail("cutting", points, length, np.full(count, radius), np.zeros(count), closed=False))
    return found


def legs_of(trails: list[Trail]) -> Counter[frozenset[Place]]:
    """How often each leg is run, whichever way round."""
    ends = (np.round(np.stack([t.points[:-1], t.points[1:]], axis=1), 3).tolist() for t in trails)
    return Counter(frozenset(map(tuple, leg)) for some in ends for leg in some)


def euler_number(sides: list[Side]) -> int:
    """Fewest goes that lines can be drawn in: for each of what hangs together half its odd nodes, at least one."""
    beside: dict[Place, list[Place]] = defaultdict(list)
    for a, b in sides:
        beside[a].append(b)
        beside[b].append(a)
    left, goes = set(beside), 0
    while left:
        reached, to_do = set(), [left.pop()]
        while to_do:
            place = to_do.pop()
            reached.add(place)
            to_do += [other for other in beside[place] if other not in reached]
        left -= reached
        goes += max(1, sum(len(beside[place]) % 2 for place in reached) // 2)
    return goes


# -- how many ---------------------------------------------------------------------------------------------------------

_GRID = [((x, y), (x + dx, y + dy)) for x in range(4) for y in range(4) for dx, dy in ((1, 0), (0, 1), (1, 1))]
"""Sides of squares, and one diagonal of each: lines that meet at corners only."""

SIDES = st.lists(st.sampled_from(_GRID), min_size=1, max_size=len(_GRID), unique=True)


@settings(max_examples=150, deadline=None)
@given(SIDES, st.floats(0, 6.3))
def test_lines_are_joined_to_as_few_trails_as_can_be(sides: list[Side], angle: float):
    """Euler's number, from degrees counted by hand; turned anyhow, for no grid decides what meets."""
    spin = 10 * np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    joined = fewest_strokes([line(*(np.array(side) @ spin)) for side in sides])
    assert len(joined) == euler_number(sides)


@settings(max_examples=100, deadline=None)
@given(SIDES)
def test_every_leg_is_run_once(sides: list[Side]):
    trails = [line(*side) for side in sides]
    joined = fewest_strokes(trails)
    assert legs_of(joined) == legs_of(trails)
    assert sum(t.length_mm for t in joined) == pytest.approx(sum(t.length_mm for t in trails), rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(SIDES)
def test_drawn_lines_become_as_few_trails_as_can_be(sides: list[Side]):
    """Also where strokes that run straight on, or rings, merely run through a place where others meet."""
    data = np.zeros((len(sides), 8))
    data[:, :4] = 10 * np.array(sides, float).reshape(-1, 4)
    pieces = bare(np.full(len(sides), LINE, np.int8), data)
    lines = outline_lines(((0, 0), (1, 0), (0, 1)))._replace(pieces=pieces, kind=np.zeros(len(sides), np.int64))
    trails = trails_of_lines(lines, ("cutting",))
    assert len(trails) == euler_number(sides)
    assert len(trails) <= follow(stretches(pieces, lines.kind, 0.0)).strokes


@settings(max_examples=50, deadline=None)
@given(SIDES)
def test_joined_trails_are_whole(sides: list[Side]):
    """Legs follow one another, and turns are those between them: what the motion is worked out from."""
    for trail in fewest_strokes([line(*side) for side in sides]):
        way = np.diff(trail.points, axis=0)
        assert np.hypot(*way.T) == pytest.approx(trail.length, abs=1e-9)
        before = way[:-1] if not trail.closed else np.roll(way, 1, axis=0)
        after, turn = (way[1:], trail.inner_turns) if not trail.closed else (way, trail.turn)
        cross, dot = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1)
        assert turn == pytest.approx(np.arctan2(cross, dot), abs=1e-9)
        assert not trail.closed or trail.points[0].tolist() == trail.points[-1].tolist()


def test_a_crash_lock_whose_flaps_share_knife_lines_has_half_the_strokes():
    """Without taper its flaps touch: eight strokes between nodes, four in one go each, of the same length."""
    rows = assumption_table().items()
    sizes = {
        n.removeprefix("carton."): r.value for n, r in rows if n.startswith("carton.") and isinstance(r.value, float)
    }
    sizes |= {"length_mm": 80.0, "width_mm": 40.0, "height_mm": 120.0, "flap_taper_mm": 0.0}
    cut = build_blank("crash_lock", sizes)
    trails = trails_of_lines(outline_lines(cut.outline), ("cutting",))
    assert (cut.cut.strokes, len(trails)) == (8, 4)
    assert sum(t.length_mm for t in trails) == pytest.approx(cut.cut.length_mm, rel=1e-9)


# -- what stays -------------------------------------------------------------------------------------------------------


def test_trails_that_meet_nothing_stay_as_they_are():
    trails = [line((0, 0), (10, 0)), line((20, 0), (20, 10), (30, 10))]
    assert fewest_strokes(trails) == trails


def test_two_lines_across_one_another_stay_two():
    """Four odd ends are two goes: joining at the crossing would add corners and save nothing."""
    trails = [line((-5, 0), (0, 0), (5, 0)), line((0, -5), (0, 0), (0, 5))]
    assert fewest_strokes(trails) == trails


def test_ends_further_apart_than_the_tolerance_do_not_meet():
    trails = [line((0, 0), (10, 0)), line((10.04, 0), (20, 0))]
    assert [len(fewest_strokes(trails, tolerance)) for tolerance in (0.03, 0.05)] == [2, 1]


def test_a_ring_with_a_line_at_its_start_is_one_stroke():
    """One end is loose and three meet: two odd nodes, so a single go; the ring is no longer closed."""
    square = [line((0, 0), (10, 0)), line((10, 0), (10, 10), (0, 10), (0, 0))]
    (ring,) = fewest_strokes(square)
    assert ring.closed
    (both,) = fewest_strokes([ring, line((0, 0), (-10, 0))])
    assert (both.closed, both.length_mm) == (False, 50)


def test_the_same_trails_are_joined_the_same_way_every_time():
    trails = [line(*side) for side in _GRID]
    first, again = ([t.points.tolist() for t in fewest_strokes(trails)] for _ in range(2))
    assert first == again


def test_many_lines_from_one_place_are_joined_through_it():
    """Where hundreds meet no pair is weighed against every other, but there are as few goes."""
    at = np.linspace(0, 6, 301)
    joined = fewest_strokes([line((0, 0), (10 * np.cos(a), 10 * np.sin(a))) for a in at])
    assert len(joined) == 151


# -- which way --------------------------------------------------------------------------------------------------------


def test_where_there_is_a_choice_the_trail_goes_straight_on():
    stem, left, right = line((0, -10), (0, 0)), line((-10, 0), (0, 0)), line((0, 0), (10, 1))
    joined = fewest_strokes([stem, left, right])
    assert sorted(t.length_mm for t in joined) == pytest.approx([10, 10 + np.hypot(10, 1)])
    assert sum(t.corner_load for t in joined) == pytest.approx(1 - np.cos(np.arctan2(1, 10)), rel=1e-9)


def test_the_parts_of_a_circle_join_without_a_corner():
    """The chords of their last legs turn by ten degrees, their tangents not at all."""
    (circle,) = fewest_strokes(arcs(0, 90, 200, 360, radius=10))
    assert circle.closed
    assert circle.length_mm == pytest.approx(20 * np.pi, rel=1e-12)
    assert np.abs(circle.turn).max() == 0


def test_parts_of_a_circle_of_one_leg_each_join_without_a_corner():
    """No other leg tells to which side such a one bends: the side with the smaller turn is taken."""
    (circle,) = fewest_strokes(arcs(0, 20, 40, 60, radius=10, leg_deg=20))
    assert np.abs(circle.turn).max() == 0


def test_a_curve_that_meets_a_line_at_a_right_angle_turns_by_that():
    """The half circle ends straight down at (-10, 0); from there the line leads to the left of it, or to the right."""
    half = arcs(0, 180, radius=10)[0]
    for end, turn in ((0.0, np.pi / 2), (-20.0, -np.pi / 2)):
        (joined,) = fewest_strokes([half, line((-10, 0), (end, 0))])
        assert abs(joined.turn[len(half.length)]) == pytest.approx(abs(turn), abs=1e-9)
        assert joined.turn[len(half.length)] == pytest.approx(turn, abs=1e-9)


def test_a_curve_that_leaves_a_line_smoothly_has_no_corner():
    half, tangent = arcs(0, 180, radius=10)[0], line((10, -30), (10, 0))
    (joined,) = fewest_strokes([half, tangent])
    assert joined.corner_load == pytest.approx(0, abs=1e-12)
    assert joined.length_mm == pytest.approx(30 + 10 * np.pi, rel=1e-12)


def test_a_drawn_curve_cut_by_a_line_that_ends_on_it_runs_on():
    """An arc between two stems: three strokes meet at each foot, and the arc is still run without a corner."""
    data = np.zeros((3, 8))
    data[0] = (0, 0, 10, 0, 0, 10, 0, np.pi)
    data[1, :4], data[2, :4] = (0, 10, 0, 30), (*(10 * np.sqrt(0.5),) * 2, 20, 20)
    pieces = bare(np.array([ARC, LINE, LINE], np.int8), data)
    lines = outline_lines(((0, 0), (1, 0), (0, 1)))._replace(pieces=pieces, kind=np.zeros(3, np.int64))
    trails = trails_of_lines(lines, ("cutting",))
    assert len(trails) == 3
    (arc,) = (t for t in trails if t.length_mm == pytest.approx(10 * np.pi, rel=1e-9))
    assert arc.corner_load == pytest.approx(0, abs=1e-12)
