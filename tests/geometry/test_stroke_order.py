"""The order of strokes: every stroke once, in a way it has, never against precedence, and always the same."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW

from compare.errors import InputError
from compare.geometry import stroke_order
from compare.geometry.stroke_order import Ends, nearest_order, order_strokes
from compare.geometry.tour_search import FREE, Route


def ends_of(*strokes: list[tuple[tuple[float, float], tuple[float, float]]]) -> Ends:
    """Strokes by the ways of each, a way by the places where it is entered and left."""
    ways = [(enter, leave, n) for n, ways in enumerate(strokes) for enter, leave in ways]
    enter, leave, stroke = zip(*ways, strict=True)
    return Ends(np.array(enter, float), np.array(leave, float), np.array(stroke, np.int64))


def line(a: tuple[float, float], b: tuple[float, float]) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return [(a, b), (b, a)]


def box(x: float, y: float, w: float, h: float) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return [(p, p) for p in ((x, y), (x + w, y), (x + w, y + h), (x, y + h))]


def drawn_at_random(count: int, seed: int) -> tuple[Ends, np.ndarray]:
    """Points, lines that run either way, lines that run one way and boxes; boxes and lines come after strokes."""
    draw = np.random.default_rng(seed)
    strokes = []
    for n in range(count):
        x, y = draw.uniform(0, 300, 2)
        other = (x + draw.uniform(-40, 40), y + draw.uniform(-40, 40))
        kinds = ([((x, y), (x, y))], line((x, y), other), box(x, y, *draw.uniform(3, 40, 2)), [((x, y), other)])
        strokes.append(kinds[(0, 1, 2, 1, 2, 3)[n % 6]])
    rank = draw.permutation(count)  # pairs that go up in rank close no circle
    pairs = [(a, b) for a, b in draw.integers(0, count, (count // 2, 2)).tolist() if rank[a] < rank[b]]
    return ends_of(*strokes), np.array(pairs, np.int64).reshape(-1, 2)


def jumps(ends: Ends, ways: np.ndarray, start: tuple[float, float] | None = None, *, closed: bool = False) -> float:
    """Length of the jumps of a route [mm], worked out one by one."""
    total = sum(math.dist(ends.leave[a], ends.enter[b]) for a, b in pairwise(ways.tolist()))
    if closed:
        total += math.dist(ends.leave[ways[-1]], ends.enter[ways[0]])
    return total + (math.dist(start, ends.enter[ways[0]]) if start is not None else 0.0)


# -- what a route is --------------------------------------------------------------------------------------------------


@given(st.integers(1, 30), st.integers(0, 10_000), st.sampled_from(["open", "start", "closed"]))
@FEW
def test_a_route_runs_every_stroke_once_in_a_way_it_has_and_says_its_length(count, seed, kind):
    ends, before = drawn_at_random(count, seed)
    start = (10.0, -5.0) if kind == "start" else None
    closed = kind == "closed"
    order = order_strokes(ends, before=None if closed else before, start=start, closed=closed)
    assert sorted(order.strokes.tolist()) == list(range(count))
    assert (ends.stroke[order.ways] == order.strokes).all()
    assert order.jump_mm == pytest.approx(jumps(ends, order.ways, start, closed=closed), rel=1e-12, abs=1e-9)


@given(st.integers(2, 40), st.integers(0, 10_000))
@FEW
def test_what_must_be_run_before_is_run_before(count, seed):
    ends, before = drawn_at_random(count, seed)
    place = np.argsort(order_strokes(ends, before=before).strokes)
    assert (place[before[:, 0]] < place[before[:, 1]]).all()


def test_the_outline_of_a_blank_is_run_after_all_that_it_holds():
    """Its holes would move with the blank once it is cut free. Derived: 40 holes in each of two outlines."""
    draw = np.random.default_rng(8)
    strokes, before = [], []
    for blank in range(2):
        holes = [box(200 * blank + x, y, 5, 5) for x, y in draw.uniform(10, 150, (40, 2))]
        before += [(len(strokes) + n, len(strokes) + 40) for n in range(40)]
        strokes += [*holes, box(200 * blank, 0, 170, 170)]
    place = np.argsort(order_strokes(ends_of(*strokes), before=np.array(before)).strokes)
    assert all(place[a] < place[b] for a, b in before)


def test_no_strokes_have_an_empty_route():
    nothing = order_strokes(Ends(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, np.int64)))
    assert (len(nothing.strokes), len(nothing.ways), nothing.jump_mm) == (0, 0, 0.0)


def test_one_stroke_is_entered_where_it_is_nearest_to_the_start():
    order = order_strokes(ends_of(box(10, 10, 20, 20)), start=(40, 10))
    assert (order.ways.tolist(), order.jump_mm) == ([1], 10.0)


def test_without_a_start_no_jump_leads_to_the_first_stroke():
    assert order_strokes(ends_of(line((500, 500), (600, 500)))).jump_mm == 0.0


def test_strokes_at_one_place_need_no_jumps():
    """A sheet of nothing but doubles has no extent to measure noise by."""
    place = np.full((15, 2), 7.0)
    assert order_strokes(Ends(place, place, np.arange(15)), closed=True).jump_mm == 0.0


def test_a_stroke_that_runs_one_way_is_not_run_backwards():
    """Twenty lines side by side that all run upwards: each jump goes back down. Derived: 19 hypot(100, 10)."""
    ends = ends_of(*[[((10.0 * n, 0.0), (10.0 * n, 100.0))] for n in range(20)])
    assert order_strokes(ends).jump_mm == pytest.approx(19 * math.hypot(100, 10), rel=1e-12)


# -- how short it is --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("closed", [False, True])
def test_a_row_of_lines_is_run_up_and_down(closed):
    """Derived: 40 lines 10 mm apart need 39 jumps of 10 mm, and one of 390 mm to come back."""
    draw = np.random.default_rng(4)
    ends = ends_of(*[line((10.0 * n, 0.0), (10.0 * n, 80.0)) for n in draw.permutation(40)])
    assert order_strokes(ends, closed=closed).jump_mm == pytest.approx(780.0 if closed else 390.0, abs=1e-9)


@given(st.integers(10, 40), st.integers(0, 10_000))
@FEW
def test_the_search_never_ends_with_more_than_it_began_with(count, seed):
    ends, before = drawn_at_random(count, seed)
    begun = jumps(ends, nearest_order(ends, before=before, start=(0, 0)), (0, 0))
    assert order_strokes(ends, before=before, start=(0, 0)).jump_mm <= begun + 1e-6


def test_entry_points_to_choose_from_make_jumps_shorter():
    draw = np.random.default_rng(11)
    places = draw.uniform(0, 500, (60, 2)).tolist()
    one = ends_of(*[box(x, y, 30, 30)[:1] for x, y in places])
    four = ends_of(*[box(x, y, 30, 30) for x, y in places])
    assert order_strokes(four).jump_mm < 0.8 * order_strokes(one).jump_mm


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_a_step_of_the_search_gains_what_it_says_and_keeps_its_books(seed, closed):
    """A gain that is worked out wrong would let the search go in circles for ever."""
    ends, before = drawn_at_random(40, seed)
    earlier = stroke_order._earlier(40, before[:0] if closed else before)
    strokes = stroke_order._told(ends, earlier)
    route = Route(strokes, stroke_order._nearest(ends, earlier, None), FREE, closed=closed)
    for turn in range(30):
        for stroke in range(40):
            was = sum(route.jump)
            gain = route._improve(stroke)
            ways = np.array(route.route())
            assert was - sum(route.jump) == pytest.approx(gain, abs=1e-9)
            assert sum(route.jump) == pytest.approx(jumps(ends, ways, closed=closed), abs=1e-9)
            inner = route.seq[1 : route.last + 1]
            assert [route.pos[s] for s in inner] == list(range(1, route.last + 1))
            assert (ends.stroke[ways] == ([route.fixed, *inner] if closed else inner)).all()
        route.waiting.clear()
        route.is_waiting = [False] * 40
        route.kick(1, seed=turn)


# -- always the same --------------------------------------------------------------------------------------------------


def test_the_same_strokes_have_the_same_route_again():
    ends, before = drawn_at_random(60, 1)
    first, again = (order_strokes(ends, before=before) for _ in range(2))
    assert (first.ways.tolist(), first.jump_mm) == (again.ways.tolist(), again.jump_mm)


def test_another_process_finds_the_same_route():
    """Sets and the like are ordered by hashes, which differ from process to process."""
    code = (
        "import numpy as np; from compare.geometry.stroke_order import Ends, order_strokes;"
        "p = np.random.default_rng(2).uniform(0, 400, (80, 2)).round(3); e = Ends(p[0::2], p[1::2], np.arange(40));"
        "o = order_strokes(e, before=np.array([[0, 1], [2, 3]])); print(o.ways.tolist(), o.jump_mm.hex())"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
            timeout=120,
        ).stdout
        for seed in ("0", "1", "4711")
    }
    assert len(told) == 1


@given(st.integers(2, 8), st.integers(0, 10_000), st.floats(0, 2 * math.pi), st.booleans(), st.floats(-1e3, 1e3))
@FEW
def test_a_sheet_moved_turned_or_mirrored_has_jumps_of_the_same_length(count, seed, angle, mirrored, shift):
    ends, before = drawn_at_random(count, seed)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    turn = turn @ np.diag([-1.0 if mirrored else 1.0, 1.0])
    other = Ends(ends.enter @ turn.T + shift, ends.leave @ turn.T + shift, ends.stroke)
    size = order_strokes(ends, before=before).jump_mm
    assert order_strokes(other, before=before).jump_mm == pytest.approx(size, rel=1e-9, abs=1e-9)


# -- what can't be ordered --------------------------------------------------------------------------------------------


def test_strokes_that_must_each_be_before_the_other_are_refused():
    places = np.arange(6.0).reshape(3, 2)
    with pytest.raises(InputError, match="stroke 2 must be run before itself"):
        order_strokes(Ends(places, places, np.arange(3)), before=np.array([[1, 2], [2, 1]]))


@pytest.mark.parametrize("pair", [(0, 3), (-1, 0)])
def test_an_order_of_a_stroke_that_there_is_not_is_refused(pair):
    places = np.arange(6.0).reshape(3, 2)
    with pytest.raises(InputError, match="of a stroke that there is not"):
        order_strokes(Ends(places, places, np.arange(3)), before=np.array([pair]))


@pytest.mark.parametrize("also", [{"start": (0.0, 0.0)}, {"before": np.array([[0, 1]])}])
def test_a_closed_route_with_a_first_stroke_is_refused(also):
    places = np.arange(6.0).reshape(3, 2)
    with pytest.raises(InputError, match="a closed route has no first stroke"):
        order_strokes(Ends(places, places, np.arange(3)), closed=True, **also)


@pytest.mark.parametrize("stroke", [[1, 1, 2], [0, 2, 2], [1, 0, 0], [0, 0]])
def test_ways_that_are_not_numbered_by_stroke_are_refused(stroke):
    places = np.arange(6.0).reshape(3, 2)
    with pytest.raises(InputError):
        Ends(places, places, np.array(stroke, np.int64))


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_place_that_is_no_number_is_refused(value):
    places = np.array([[0.0, 1.0], [value, 0.0]])
    with pytest.raises(InputError, match="no number"):
        Ends(places, places, np.arange(2))


def test_a_start_that_is_no_number_is_refused():
    places = np.arange(6.0).reshape(3, 2)
    with pytest.raises(InputError, match="start"):
        order_strokes(Ends(places, places, np.arange(3)), start=(math.nan, 0.0))
