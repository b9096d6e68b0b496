"""Routes against published shortest tours, and against every order of few strokes, weighed by other code."""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise, permutations, product
from pathlib import Path

import numpy as np
import pytest

from compare.geometry import stroke_order
from compare.geometry.stroke_order import Ends, nearest_order, order_strokes


def _tsplib() -> dict[str, tuple[int, np.ndarray]]:
    """Optimum and points of each set; sources stand in the file."""
    optimum, numbers = {}, {}
    name = ""
    for row in (Path(__file__).parent / "data" / "tsplib.txt").read_text(encoding="utf-8").splitlines():
        words = row.split()
        if words[0][0].isalpha():
            name, optimum[words[0]], numbers[words[0]] = words[0], int(words[2]), []
        elif words[0] != "#":
            numbers[name] += map(float, words)
    return {name: (optimum[name], np.array(numbers[name]).reshape(-1, 2)) for name in optimum}


TSPLIB = _tsplib()


def _points(places: np.ndarray) -> Ends:
    return Ends(places, places, np.arange(len(places)))


def _tour(places: np.ndarray) -> int:
    """Length of a closed tour as TSPLIB counts it: each jump rounded to a whole number, halves up."""
    return sum(int(math.dist(a, b) + 0.5) for a, b in pairwise([*places.tolist(), places[0].tolist()]))


# -- published tours --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", TSPLIB)
def test_a_tour_is_within_2_percent_of_the_shortest_and_never_below_it(name):
    """Published: TSPLIB (Reinelt 1991), optima from repository mastqe/tsplib, file ``solutions``.

    A tour below the optimum would be a mistake in the length. The bound of 2 % is this project's own.
    """
    optimum, places = TSPLIB[name]
    order = order_strokes(_points(places), closed=True)
    assert sorted(order.strokes.tolist()) == list(range(len(places)))
    assert optimum <= _tour(places[order.strokes]) <= 1.02 * optimum


@pytest.mark.parametrize(("name", "size"), [("eil51", 511), ("berlin52", 8980)])
def test_going_to_the_nearest_from_the_first_node_gives_the_known_tour(name, size):
    """Derived by another program from TSPLIB's points: nearest neighbour from node 1, lower number on ties.

    Sets where the whole numbers of TSPLIB make ties that the true distances don't have (st70, kroA100) are left out.
    """
    places = TSPLIB[name][1]
    assert _tour(places[nearest_order(_points(places), start=tuple(places[0]))]) == size


@pytest.mark.parametrize(("name", "size"), [("eil51", 1308), ("berlin52", 22205), ("st70", 3410), ("kroA100", 191387)])
def test_points_in_the_order_of_their_file_give_the_known_tour(name, size):
    """Derived by another program from TSPLIB's points: shows that the points were written down in order."""
    assert _tour(TSPLIB[name][1]) == size


# -- worked by hand ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("start", [None, (0.0, 0.0)])
def test_five_parallel_lines_are_run_up_and_down_with_jumps_of_40_mm(start):
    """Derived, by weighing every order: 100 mm lines 10 mm apart."""
    low, high = (np.array([(10.0 * n, y) for n in range(5)]) for y in (0.0, 100.0))
    enter, leave = (np.stack(pair, axis=1).reshape(-1, 2) for pair in ((low, high), (high, low)))
    assert order_strokes(Ends(enter, leave, np.arange(5).repeat(2)), start=start).jump_mm == pytest.approx(40, abs=1e-9)


def test_five_parallel_lines_in_the_same_direction_need_jumps_of_401_995_mm():
    """Derived, by weighing every order: 4 hypot(100, 10)."""
    low, high = (np.array([(10.0 * n, y) for n in range(5)]) for y in (0.0, 100.0))
    assert order_strokes(Ends(low, high, np.arange(5))).jump_mm == pytest.approx(401.995, abs=1e-3)


@pytest.mark.parametrize(("corners", "size"), [(4, 135.2623), (1, 250.0)])
def test_six_squares_need_shorter_jumps_where_any_corner_may_be_entered(corners, size):
    """Derived, by two exact solvers: squares of 40 mm, three by two on a pitch of 50 mm, from (0, 0)."""
    sides = np.array([(0, 0), (40, 0), (40, 40), (0, 40)][:corners], float)
    places = np.vstack([sides + np.array([50.0 * x, 50.0 * y]) for y in range(2) for x in range(3)])
    ends = Ends(places, places, np.arange(6).repeat(corners))
    assert order_strokes(ends, start=(0.0, 0.0)).jump_mm == pytest.approx(size, abs=1e-3)


def test_twelve_points_have_a_shortest_tour_of_391_87125():
    """Derived by Held and Karp's method and by another program; 393 with each jump rounded."""
    places = np.array([
        (17, 72), (97, 8), (32, 15), (63, 97), (57, 60), (83, 48), (100, 26), (12, 62), (3, 49), (55, 77), (97, 98),
        (0, 89),
    ], float)  # fmt: skip
    order = order_strokes(_points(places), closed=True)
    assert order.jump_mm == pytest.approx(391.87125, abs=1e-4)
    assert _tour(places[order.strokes]) == 393


# -- few strokes: every order -----------------------------------------------------------------------------------------


def _case(count: int, seed: int) -> tuple[list[list[tuple[complex, complex]]], list[tuple[int, int]]]:
    """Points, lines either way, squares and one-way lines, some of which must be run before others."""
    draw = np.random.default_rng((count, seed))
    strokes = []
    for n in range(count):
        a, b = (complex(*draw.uniform(0, 100, 2)) for _ in range(2))
        side = draw.uniform(2, 40)
        square = [(a + side * c, a + side * c) for c in (0, 1, 1 + 1j, 1j)]
        strokes.append([square, [(a, b), (b, a)], [(a, a)], square[:2], [(a, b)]][(n + seed) % 5])
    pairs = [(a, b) for a, b in draw.integers(0, count, (count // 2, 2)).tolist() if a < b]
    return strokes, pairs


def _ends(strokes: list[list[tuple[complex, complex]]]) -> Ends:
    ways = [(way, n) for n, those in enumerate(strokes) for way in those]
    enter, leave = ([(way[i].real, way[i].imag) for way, _ in ways] for i in (0, 1))
    return Ends(np.array(enter), np.array(leave), np.array([n for _, n in ways], np.int64))


def _shortest(strokes: list[list[tuple[complex, complex]]], pairs: list[tuple[int, int]], start: complex) -> float:
    """Shortest route from a start, by recursion on what is left to run (Held and Karp 1962)."""
    needs = {n: {a for a, b in pairs if b == n} for n in range(len(strokes))}

    @cache
    def rest(left: frozenset[int], place: complex) -> float:
        ready = [n for n in left if not needs[n] & left]
        return min((abs(a - place) + rest(left - {n}, b) for n in ready for a, b in strokes[n]), default=0.0)

    return rest(frozenset(range(len(strokes))), start)


def _walked(strokes: list[list[tuple[complex, complex]]], pairs: list[tuple[int, int]], *, closed: bool) -> float:
    """Shortest route without a start, by walking every order in every way."""
    best = math.inf
    for order in permutations(range(len(strokes))):
        if any(order.index(a) > order.index(b) for a, b in pairs):
            continue
        for ways in product(*[strokes[n] for n in order]):
            steps = [abs(b[0] - a[1]) for a, b in pairwise([*ways, ways[0]] if closed else ways)]
            best = min(best, sum(steps))
    return best


@pytest.mark.parametrize("count", [*range(2, 10), 12])
@pytest.mark.parametrize("seed", range(5))
def test_up_to_twelve_strokes_have_the_shortest_route_there_is(count, seed):
    """Derived: Held and Karp's recursion, written anew here."""
    strokes, pairs = _case(count, seed)
    found = order_strokes(_ends(strokes), before=np.array(pairs, np.int64).reshape(-1, 2), start=(3.0, 4.0))
    assert found.jump_mm == pytest.approx(_shortest(strokes, pairs, 3 + 4j), rel=1e-12)


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_few_strokes_without_a_start_have_the_shortest_route_of_all_orders(seed, closed):
    """Derived: every order in every way, one by one."""
    strokes, pairs = _case(5, seed)
    pairs = [] if closed else pairs
    found = order_strokes(_ends(strokes), before=None if closed else np.array(pairs).reshape(-1, 2), closed=closed)
    assert found.jump_mm == pytest.approx(_walked(strokes, pairs, closed=closed), rel=1e-12)


@pytest.mark.parametrize("count", [6, 8, 10, 11])
@pytest.mark.parametrize("seed", range(10))
def test_the_search_is_within_3_percent_of_the_shortest_route_and_never_below(monkeypatch, count, seed):
    """Derived: Held and Karp's recursion. The search is what finds the routes of sheets; the bound is this project's."""
    monkeypatch.setattr(stroke_order, "_EXACT", 0)
    monkeypatch.setattr(stroke_order, "_EXACT_IF_FEW_WAYS", 0)
    strokes, pairs = _case(count, seed)
    found = order_strokes(_ends(strokes), before=np.array(pairs, np.int64).reshape(-1, 2), start=(3.0, 4.0))
    assert 1 - 1e-12 <= found.jump_mm / _shortest(strokes, pairs, 3 + 4j) <= 1.03
