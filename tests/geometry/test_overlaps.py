"""Places that are one, and lines that lie on one another, are found wherever they lie and however they are drawn."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from drawn_lines import circle, remade, split, strokes_of
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW, PROPERTY

from compare.errors import InputError
from compare.geometry.nodes import clusters, components
from compare.geometry.overlaps import SAME_MM, Stretches, bare, cut, stretches
from compare.geometry.strokes import Strokes

_coordinate = st.floats(-300, 300, allow_subnormal=False).map(lambda v: round(v, 2))
_line = st.tuples(*[_coordinate] * 4).filter(lambda p: math.dist(p[:2], p[2:]) > 1)
_arc = st.builds(
    lambda x, y, r, start, turn: circle(x, y, r, start, start + turn),
    _coordinate, _coordinate, st.floats(1, 100), st.floats(-3, 3), st.floats(0.2, 6) | st.floats(-6, -0.2),
)  # fmt: skip


def _is_plain(p: tuple[float, ...]) -> bool:
    """Not on one straight line, where a curve runs back over itself and so counts in part already as a double."""
    a, b, c = ((p[i] - p[0], p[i + 1] - p[1]) for i in (2, 4, 6))
    return min(abs(u[0] * v[1] - u[1] * v[0]) for u, v in ((a, b), (b, c), (a, c))) > 100


_cubic = st.tuples(*[_coordinate] * 8).filter(_is_plain).map(lambda p: ("cubic", *p))
_piece = _line | _arc | _cubic


def _found(*pieces, tolerance: float = 0.05) -> Stretches:
    strokes = strokes_of(*pieces).strokes
    return stretches(strokes, np.zeros(len(strokes), np.int64), tolerance)


def _once(found: Stretches) -> float:
    return float(found.length[np.unique(found.line, return_index=True)[1]].sum())


# -- places that are one ----------------------------------------------------------------------------------------------


def test_places_within_the_tolerance_are_one_wherever_they_lie():
    """A grid would part two places that lie on either side of one of its lines; here none does."""
    for shift in np.linspace(0, 3e-3, 50):
        points = np.array([[shift, 1.0], [shift + 0.9e-3, 1.0], [50.0, 50.0]])
        assert clusters(points, 1e-3)[0].tolist() == [0, 0, 1]


@given(st.floats(0, 2 * math.pi), st.floats(-1e3, 1e3), st.sampled_from([0.999, 1.001]))
@FEW
def test_the_distance_alone_decides_whether_two_places_are_one(angle, shift, share):
    points = np.array([[shift, shift], [shift + share * math.cos(angle), shift + share * math.sin(angle)], [2e3, 0]])
    # the middle of a cell may stand for places of it, so a pair in one cell is one up to its diagonal
    assert (clusters(points, 1.0)[0][0] == clusters(points, 1.0)[0][1]) == (share < 1)


def test_a_cluster_is_named_by_the_first_of_its_places():
    points = np.array([[5.0, 5.0], [0.0, 0.0], [5.0, 5.0]])
    label, first = clusters(points, 1e-3)
    assert (points[first][label] == points).all()
    assert sorted(first.tolist()) == [0, 1]


def test_a_fine_curve_does_not_shrink_to_one_place():
    """A chain of places each within the tolerance of the next is a curve if it leads away."""
    points = np.column_stack([np.arange(1000) * 5e-4, np.zeros(1000)])
    assert len(clusters(points, 1e-3)[1]) == 1000


def test_nothing_has_no_places():
    label, first = clusters(np.zeros((0, 2)), 1.0)
    assert (len(label), len(first)) == (0, 0)


@given(st.integers(1, 40).flatmap(lambda n: st.tuples(st.just(n), st.lists(st.tuples(*[st.integers(0, n - 1)] * 2)))))
@PROPERTY
def test_linked_things_are_one_group_and_others_are_not(case):
    """Against following links one by one."""
    count, links = case
    group = list(range(count))
    for a, b in links:
        group = [group[a] if g == group[b] else g for g in group]
    first, second = np.array(links, np.int64).reshape(-1, 2).T
    found = components(count, first, second)
    assert [[x == y for y in found] for x in found] == [[x == y for y in group] for x in group]


def test_a_long_chain_in_any_order_is_one_group():
    """The number of rounds must not grow with the chain."""
    order = np.random.default_rng(3).permutation(100_000)
    assert components(100_000, order[:-1], order[1:]).max() == 0


# -- stretches of pieces ----------------------------------------------------------------------------------------------


@given(_piece, st.floats(0.01, 0.99), st.floats(0, 1))
@PROPERTY
def test_a_stretch_of_a_piece_runs_where_the_piece_does(piece, share, inside):
    strokes = strokes_of(piece).strokes
    for low, high in ((0.0, share), (share, 1.0), (share / 2, share)):
        part = cut(strokes, np.array([0]), np.array([low]), np.array([high]))
        np.testing.assert_allclose(part.at(inside), strokes.at(low + (high - low) * inside), atol=1e-9)


@given(st.lists(_piece, min_size=1, max_size=5), st.floats(0.05, 0.95), st.lists(st.booleans(), min_size=1, max_size=9))
@PROPERTY
def test_pieces_cut_in_two_and_turned_round_lie_on_the_pieces_they_were(pieces, share, turned):
    """Drawn twice, once whole and once in two parts either way round: counted once, of every kind."""
    drawing = strokes_of(*pieces)
    again = split(drawing, [share], turned).strokes
    both = bare(np.concatenate([drawing.strokes.kind, again.kind]), np.concatenate([drawing.strokes.data, again.data]))
    alone = stretches(drawing.strokes, np.zeros(len(drawing.strokes), np.int64), 0.05)
    found = stretches(both, np.zeros(len(both), np.int64), 0.05)
    assert found.length.sum() == pytest.approx(2 * alone.length.sum(), rel=1e-8)
    assert _once(found) == pytest.approx(_once(alone), rel=1e-8)


def test_a_line_over_a_part_of_another_counts_once():
    assert _once(_found((0, 0, 10, 0), (4, 0, 14, 0))) == pytest.approx(14, abs=1e-12)


def test_a_line_within_another_counts_once():
    assert _once(_found((0, 0, 10, 0), (6, 0, 4, 0))) == pytest.approx(10, abs=1e-12)


def test_lines_that_cross_or_meet_at_a_corner_do_not_lie_on_one_another():
    found = _found((0, 0, 10, 0), (5, -5, 5, 5), (10, 0, 10, 10))
    assert _once(found) == found.length.sum() == 30


def test_parallel_lines_side_by_side_are_two():
    assert _once(_found((0, 0, 10, 0), (0, 0.1, 10, 0.1))) == 20


@pytest.mark.parametrize("angle", np.linspace(0, math.pi, 13).tolist())
@pytest.mark.parametrize("far", [0.0, 1e3, 1e5])
def test_doubles_are_found_at_every_angle_and_far_from_the_origin(angle, far):
    """Keys of angle and offset, rounded, part lines at the edges of their buckets; ends do not."""
    c, s = math.cos(angle), math.sin(angle)
    long = (far, far, far + 100 * c, far + 100 * s)
    part = (far + 80 * c, far + 80 * s, far + 30 * c, far + 30 * s)
    assert _once(_found(long, part)) == pytest.approx(100, rel=1e-9)


def test_a_double_that_is_off_by_the_rounding_of_a_file_is_one():
    assert _once(_found((0, 0, 100, 33.3333), (0.0004, -0.0003, 99.9997, 33.3336))) == pytest.approx(105.4, abs=0.01)


def test_arcs_of_one_circle_overlap_whatever_angle_they_start_at():
    """Derived: two arcs of a radius of 10 over 2 radians each, half of it in common."""
    assert _once(_found(circle(0, 0, 10, 0, 2), circle(0, 0, 10, 3, 1))) == pytest.approx(30, rel=1e-12)


def test_a_circle_drawn_again_from_another_angle_counts_once():
    again = circle(5, 5, 20, 1.0, 1.0 - 2 * math.pi)
    assert _once(_found(circle(5, 5, 20), again)) == pytest.approx(40 * math.pi, rel=1e-12)


def test_a_circle_run_round_twice_counts_once():
    assert _once(_found(circle(0, 0, 10, 0, 4 * math.pi))) == pytest.approx(20 * math.pi, rel=1e-12)


def test_arcs_of_different_circles_between_the_same_ends_are_two():
    bow = circle(0, 0, 10, 0, math.pi)
    other = circle(0, 0, 10, 0, -math.pi)
    assert _once(_found(bow, other)) == pytest.approx(20 * math.pi, rel=1e-12)


def test_an_ellipse_drawn_by_other_vectors_of_the_same_ellipse_counts_once():
    """Any two conjugate half-axes give the same ellipse; files differ in which they store."""
    c, s = math.cos(0.7), math.sin(0.7)
    again = ("arc", 0, 0, 20 * c, 10 * s, -20 * s, 10 * c, 0.0, 2 * math.pi)
    found = _found(("arc", 0, 0, 20, 0, 0, 10, 0, 2 * math.pi), again)
    assert _once(found) == pytest.approx(found.length.sum() / 2, rel=1e-9)


def test_a_curve_that_is_straight_lies_on_the_line():
    """PDF and SVG writers draw lines as curves."""
    assert _once(_found((0, 0, 30, 40), ("cubic", 0, 0, 3, 4, 6, 8, 30, 40))) == pytest.approx(50, rel=1e-9)


def test_a_curve_that_turns_back_on_a_straight_line_keeps_its_length():
    """Derived: x = 3 t (1 - t), out to 0.75 and back; the chord alone would be nothing."""
    assert _once(_found(("cubic", 0, 0, 1, 0, 1, 0, 0, 0))) == pytest.approx(1.5, rel=1e-6)


def test_an_end_that_lies_on_a_line_or_an_arc_is_a_node_of_both():
    found = _found((0, 0, 10, 0), (4, 0, 4, 5), circle(4, 10, 5, 0, -math.pi))
    stem = np.flatnonzero(found.piece == 1)
    through, bow = (found.start[found.piece == n][1] for n in (0, 2))
    assert len(found) == 5
    assert {int(through), int(bow)} == {int(found.start[stem[0]]), int(found.end[stem[0]])}


def test_ends_that_nearly_meet_are_joined_within_the_tolerance_and_not_beyond():
    for gap, nodes in ((0.04, 3), (0.06, 4)):
        found = _found((0, 0, 10, 0), (10 + gap, 0, 20, 5))
        assert len(np.unique([found.start, found.end])) == nodes


def test_an_end_that_nearly_meets_a_line_is_joined_to_it():
    found = _found((0, 0, 10, 0), (5, 0.04, 5, 10))
    assert len(found) == 3


def test_a_tolerance_of_nothing_joins_nothing():
    """Only what is one place to the digits of a file is one then."""
    found = _found((0, 0, 10, 0), (10.04, 0, 20, 5), (5, 0.04, 5, 9), tolerance=0.0)
    assert (len(found), len(np.unique([found.start, found.end]))) == (3, 6)


def test_the_ends_of_one_short_line_stay_apart():
    """A slit shorter than the tolerance is no closed contour."""
    found = _found((0, 0, 0.03, 0))
    assert found.start[0] != found.end[0]


def test_specks_keep_their_length():
    """A line of a thousandth of a millimetre has no two ends, yet the sum must hold."""
    found = _found((0, 0, 10, 0), (10, 0, 10.0005, 0), (10.0005, 0, 20, 0))
    assert found.speck.tolist() == [False, True, False]
    assert _once(found) == pytest.approx(20, abs=1e-12)


def test_a_curve_drawn_in_steps_of_a_speck_keeps_its_length():
    """Derived: 20,000 steps of 0.0005 mm are 10 mm."""
    x = np.arange(20_001) * 5e-4
    assert _once(_found(*((a, 0, b, 0) for a, b in pairwise(x)))) == pytest.approx(10, rel=1e-9)


def test_lines_of_ten_thousand_doubles_count_once():
    """A file made to do harm: the time must not grow with the square."""
    found = _found(*[(0, 0, 10, 0)] * 10_000)
    assert (_once(found), len(np.unique(found.line))) == (10, 1)


def test_lines_nested_in_one_another_by_thousands_are_refused():
    """Every end on every line would be counted: a typed error instead of minutes."""
    nested = strokes_of(*[(n / 100, 0, 1000 - n / 100, 0) for n in range(4000)]).strokes
    with pytest.raises(InputError, match="too many lines lie on or across one another"):
        stretches(nested, np.zeros(len(nested), np.int64), 0.05)


def _hay(count: int) -> Strokes:
    """Long lines every which way."""
    dice = np.random.default_rng(2).uniform(0, 1000, (count, 4))
    return bare(np.zeros(count, np.int8), np.hstack([dice, np.zeros((count, 4))]))


def test_ends_on_long_slanted_lines_are_found_among_thousands():
    """Long lines are looked up in parts then; the share is that of the whole line."""
    hay = _hay(3000)
    share = np.random.default_rng(3).uniform(0.1, 0.9, 3000)
    on = np.random.default_rng(4).permutation(3000)
    place = hay.at(0.0) + share[:, None] * (hay.at(1.0) - hay.at(0.0))
    stems = np.hstack([place, place + 7.7, np.zeros((3000, 4))])[on]
    both = bare(np.zeros(6000, np.int8), np.concatenate([hay.data, stems]))
    found = stretches(both, np.zeros(6000, np.int64), 0.0)
    first = np.flatnonzero(np.diff(found.piece, prepend=-1))[:3000]
    size = np.hypot(*(hay.at(1.0) - hay.at(0.0)).T)
    cut_there = np.isclose(found.length[first], size * share, rtol=1e-9)
    # a few lines are cut before by an end that lies on them by chance
    assert cut_there.mean() > 0.99
    assert len(found) >= 9000


def test_long_lines_across_one_another_by_many_thousands_are_refused():
    """Whether an end lies on a line takes a look at every line whose box it is in: a typed error instead of minutes."""
    with pytest.raises(InputError, match="too many lines lie on or across one another"):
        stretches(_hay(60_000), np.zeros(60_000, np.int64), 0.05)


def test_nothing_has_no_stretches():
    drawing = remade(strokes_of(), strokes_of().strokes)
    found = stretches(drawing.strokes, np.zeros(0, np.int64), 0.05)
    assert (len(found), found.length.sum(), SAME_MM) == (0, 0, 1e-3)
