"""Lines, arcs and cubics keep their lengths, places and directions exactly, wherever and however they lie."""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawn_lines import circle, strokes_of
from hypothesis import assume, given
from hypothesis import strategies as st
from random_jobs import FEW, PROPERTY

from compare.geometry.strokes import Drawing, Group, Pen

_number = st.floats(-100, 100, allow_subnormal=False).map(lambda v: round(v, 3))
_angle = st.floats(-7, 7, allow_subnormal=False).map(lambda v: round(v, 3))
_cubic = st.tuples(*[_number] * 8).map(lambda p: ("cubic", *p))
_arc = st.tuples(*[_number] * 6, _angle, _angle).map(lambda p: ("arc", *p))
_line = st.tuples(*[_number] * 4)
_pieces = st.lists(_line | _arc | _cubic, min_size=1, max_size=6)


def _length(*pieces) -> float:
    return float(strokes_of(*pieces).strokes.lengths().sum())


def _perimeter(a: float, b: float) -> float:
    """Perimeter of an ellipse by the arithmetic-geometric mean (Gauss; as in Abramowitz and Stegun, 17.6)."""
    x, y, total, weight = a, b, a * a, 0.5
    while abs(x - y) > 1e-15 * a:
        c = (x - y) / 2
        x, y = (x + y) / 2, math.sqrt(x * y)
        total -= weight * 2 * c * c
        weight *= 2
    return 2 * math.pi * (total - (a * a - b * b) / 2) / x


# -- lengths ----------------------------------------------------------------------------------------------------------


def test_a_line_is_as_long_as_its_hypotenuse():
    assert _length((1, 2, 4, 6)) == pytest.approx(5, rel=1e-15)


def test_an_arc_is_as_long_as_its_radius_times_its_turn_in_either_direction():
    assert _length(circle(3, 4, 50, 2.0, 0.5)) == pytest.approx(75, rel=1e-15)


def test_a_piece_that_goes_nowhere_has_no_length():
    """Files hold them; they must neither raise nor count."""
    nowhere = [(1, 1, 1, 1), circle(0, 0, 0), circle(0, 0, 5, 1, 1), ("cubic", *(2, 3) * 4)]
    assert strokes_of(*nowhere).strokes.lengths().tolist() == [0, 0, 0, 0]


@pytest.mark.parametrize("thin", [1.0, 0.5, 0.1, 1e-2, 1e-4, 1e-7])
def test_an_ellipse_is_as_long_as_elliptic_integrals_say_however_thin_it_is(thin):
    """Derived: by the arithmetic-geometric mean, in the test."""
    assert _length(("arc", 7, 8, 30, 0, 0, 30 * thin, 0, 2 * math.pi)) == pytest.approx(_perimeter(30, 30 * thin), 1e-9)


def test_a_curve_with_a_cusp_is_integrated_up_to_it():
    """Derived: x = 3 t (1 - t) on a straight line, so out to 0.75 and back."""
    assert _length(("cubic", 0, 0, 1, 0, 1, 0, 0, 0)) == pytest.approx(1.5, rel=1e-6)


@given(_pieces, st.tuples(*[_number] * 2), _angle, st.booleans())
@PROPERTY
def test_moving_turning_and_mirroring_changes_no_length(pieces, move, angle, mirror):
    drawing = strokes_of(*pieces).strokes
    cos, sin, sign = math.cos(angle), math.sin(angle), -1 if mirror else 1
    moved = drawing.transformed([[cos, -sin * sign, move[0]], [sin, cos * sign, move[1]]])
    np.testing.assert_allclose(moved.lengths(), drawing.lengths(), rtol=1e-9, atol=1e-9)


@given(_pieces, st.floats(0.01, 100))
@FEW
def test_scaling_scales_every_length(pieces, factor):
    drawing = strokes_of(*pieces).strokes
    np.testing.assert_allclose(drawing.scaled(factor).lengths(), factor * drawing.lengths(), rtol=1e-9, atol=1e-9)


@given(_pieces)
@FEW
def test_a_length_is_never_below_that_of_the_chord_nor_of_many_chords(pieces):
    drawing = strokes_of(*pieces).strokes
    chords, piece = drawing.flattened(1e-3)
    sums = np.bincount(piece, np.hypot(*(chords[:, 2:] - chords[:, :2]).T), minlength=len(drawing))
    assert (drawing.lengths() >= sums * (1 - 1e-9)).all()


# -- places and directions --------------------------------------------------------------------------------------------


def test_a_circle_stretched_one_way_is_no_circle_any_more():
    stretched = strokes_of(circle(0, 0, 1)).strokes.transformed([[2, 0, 0], [0, 1, 0]])
    assert np.isnan(stretched.radii()).tolist() == [True]
    assert stretched.lengths()[0] == pytest.approx(_perimeter(2, 1), rel=1e-9)


def test_a_mirrored_circle_stays_a_circle():
    assert strokes_of(circle(1, 2, 3)).strokes.transformed([[-1, 0, 0], [0, 1, 0]]).radii().tolist() == [3]


@given(_pieces)
@FEW
def test_a_piece_starts_and_ends_where_it_is_drawn(pieces):
    """Lines and cubics to the last bit: their neighbours begin there."""
    drawing = strokes_of(*pieces).strokes
    start, end = drawing.at(0.0), drawing.at(1.0)
    for number, piece in enumerate(pieces):
        if piece[0] == "arc":
            continue
        numbers = piece[1:] if piece[0] == "cubic" else piece
        assert start[number].tolist() == [float(v) for v in numbers[:2]]
        assert end[number].tolist() == [float(v) for v in numbers[-2:]]


@given(_pieces, st.floats(0.05, 0.95))
@FEW
def test_the_direction_is_where_the_piece_goes_next(pieces, share):
    """Derived: against the difference of two places."""
    drawing = strokes_of(*pieces).strokes
    step = drawing.at(share + 1e-6) - drawing.at(share - 1e-6)
    size = np.hypot(*step.T)
    assume((size > 1e-4).all())
    np.testing.assert_allclose(drawing.directions(share), step / size[:, None], atol=1e-3)


def test_a_curve_whose_control_point_lies_on_its_end_still_has_a_direction_there():
    """Software draws such ends; the derivative is nothing there, the way of the curve is plain."""
    drawing = strokes_of(("cubic", 0, 0, 0, 0, 10, 10, 10, 10)).strokes
    for share in (0.0, 1.0):
        np.testing.assert_allclose(drawing.directions(share), [[math.sqrt(0.5)] * 2], atol=1e-6)


def test_a_piece_without_length_has_no_direction():
    assert strokes_of((1, 1, 1, 1)).strokes.directions(0.0).tolist() == [[0, 0]]


# -- chords -----------------------------------------------------------------------------------------------------------


@given(_pieces, st.sampled_from([1.0, 0.1, 0.01]))
@PROPERTY
def test_chords_stay_within_the_tolerance_of_their_piece(pieces, tolerance):
    """Looked at half way along every chord, and at both quarters; ellipses given by slanted vectors too."""
    drawing = strokes_of(*pieces).strokes
    count = drawing.chord_counts(tolerance)
    chords, piece = drawing.flattened(tolerance)
    number = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
    for part in (0.25, 0.5, 0.75):
        share = np.zeros(len(drawing))
        for chord in np.flatnonzero(number % 7 == 0):
            share[:] = (number[chord] + part) / count[piece[chord]]
            off = _distance(drawing.at(share)[piece[chord]], chords[chord])
            assert off <= tolerance * (1 + 1e-6)


def _distance(place, chord) -> float:
    """Distance of a place from the line of a chord, or from its start where it goes nowhere."""
    run, to = chord[2:] - chord[:2], place - chord[:2]
    size = math.hypot(*run)
    return abs(run[0] * to[1] - run[1] * to[0]) / size if size > 1e-9 else math.hypot(*to)


@given(_pieces)
@FEW
def test_chords_of_a_piece_follow_one_another_without_a_gap(pieces):
    chords, piece = strokes_of(*pieces).strokes.flattened(0.1)
    on = piece[1:] == piece[:-1]
    np.testing.assert_array_equal(chords[:-1, 2:][on], chords[1:, :2][on])


def test_an_arc_of_very_many_turns_is_broken_into_a_bounded_number_of_chords():
    """A file made to do harm holds such arcs; memory must not grow with the turns it claims."""
    assert len(strokes_of(circle(0, 0, 1e9, 0, 1e9)).strokes.flattened(0.01)[1]) <= 100_000


# -- pens and strokes -------------------------------------------------------------------------------------------------


def test_a_pen_leaves_out_numbers_that_are_none_and_says_where():
    pen = Pen()
    pen.begin(Group("a"), "good")
    pen.line(0, 0, 1, 0)
    pen.begin(Group("b"), "bad")
    pen.line(0, 0, math.nan, 0)
    strokes, groups, broken = pen.strokes()
    assert (len(strokes), strokes.place, broken) == (1, ("good",), ["bad"])
    assert groups == (Group("a"), Group("b"))


def test_a_stroke_keeps_the_pieces_that_are_good():
    pen = Pen()
    pen.begin(Group("a"), "half good")
    pen.line(0, 0, 1e13, 0)
    pen.line(0, 0, 2, 0)
    strokes, _, broken = pen.strokes()
    assert (strokes.lengths().tolist(), broken) == ([2], ["half good"])


def test_a_stroke_that_draws_nothing_is_none():
    pen = Pen()
    pen.begin(Group("a"), "nothing")
    pen.begin(Group("b"), "something")
    pen.line(0, 0, 1, 0)
    strokes, groups, _ = pen.strokes()
    assert (strokes.place, groups) == (("something",), (Group("b"),))


def test_some_of_the_strokes_are_numbered_anew_and_keep_their_groups():
    drawing = strokes_of((0, 0, 1, 0), (0, 0, 2, 0), (0, 0, 3, 0), layers=["a", "b", "a"])
    chosen = drawing.strokes.chosen(np.array([False, True, True]))
    assert (chosen.lengths().tolist(), chosen.stroke.tolist(), chosen.group.tolist()) == ([2, 3], [0, 1], [1, 0])
    assert chosen.place == ("piece 1", "piece 2")


def test_a_drawing_of_nothing_can_be_asked_everything():
    nothing: Drawing = strokes_of()
    s = nothing.strokes
    assert (len(s), s.lengths().shape, s.radii().shape, s.at(0.5).shape) == (0, (0,), (0,), (0, 2))
    assert (s.directions(0.0).shape, s.flattened(0.1)[0].shape, s.scaled(2).data.shape) == ((0, 2), (0, 4), (0, 8))
