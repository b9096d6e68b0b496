"""Rings that meet nothing else need no search for faces; what they enclose must be what the search finds."""

from __future__ import annotations

import math

import pytest
import shapely
from drawn_lines import box, circle, measured, strokes_of
from hypothesis import example, given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.geometry import faces, rings
from compare.geometry.faces import Enclosed, enclosed
from compare.geometry.line_sums import LineSums
from compare.geometry.overlaps import Stretches

_number = st.integers(0, 30).map(float)
_length = st.integers(1, 20).map(float)


def _slot(x, y, length, radius):
    """A slot with round ends, its pieces in no order and one of them backwards."""
    return [
        circle(x + length, y, radius, -math.pi / 2, math.pi / 2),
        (x, y - radius, x + length, y - radius),
        (x, y + radius, x + length, y + radius),
        circle(x, y, radius, math.pi / 2, 1.5 * math.pi),
    ]


_contour = st.one_of(
    st.builds(lambda x, y, r: [circle(x, y, r + 0.3)], _number, _number, _length),
    st.builds(_slot, _number, _number, _length, st.sampled_from([0.4, 1.2, 3.4])),
    st.builds(box, _number, _number, _length, _length),
    st.builds(lambda x, y, length: [(x, y, x + length, y + 0.7)], _number, _number, _length),
)


def _lines(pieces) -> Stretches:
    drawing = strokes_of(*pieces)
    return LineSums(drawing, drawing.strokes, ["cutting"], 0.05).lines_of(["cutting"])


def _searched(lines: Stretches) -> Enclosed:
    """What is enclosed, all of it by the search for faces."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(faces, "rings_alone", lambda lines, corners, owner: rings.Rings.none(len(lines)))
        return enclosed(lines)


def _same(some, others) -> bool:
    """Whether two sets of pieces are the same, in whatever order."""
    if len(some) != len(others):
        return False
    unlike = [min((a.symmetric_difference(b).area for b in others), default=math.inf) for a in some]
    return max(unlike, default=0.0) < 1e-9


@PROPERTY
@given(st.lists(_contour, min_size=1, max_size=6))
@example([box(0, 0, 20, 20), [circle(5, 5, 3)], _slot(10, 10, 5, 1.2), [circle(10.5, 10, 0.5)]])
@example([box(0, 0, 20, 20), [(5, 5, 9, 9)], box(30, 0, 9, 9), [circle(34, 4, 2)], box(39, 0, 9, 9)])
def test_rings_enclose_what_the_search_for_faces_finds(contours):
    """Derived here: both ways to the same blanks, waste and offcuts, also where some contours meet and some don't."""
    lines = _lines([piece for contour in contours for piece in contour])
    found, searched = enclosed(lines), _searched(lines)
    assert all(_same(getattr(found, name), getattr(searched, name)) for name in ("blanks", "waste", "offcuts"))


def _alone(pieces) -> rings.Rings:
    lines = _lines(pieces)
    return rings.rings_alone(lines, *faces.paths(lines, 0.01))


def test_a_ring_within_a_ring_within_a_ring_is_right_within_the_second():
    """School geometry: the areas between squares of 30, 20 and 10 mm."""
    found = _alone([*box(10, 10, 10, 10), *box(0, 0, 30, 30), *box(5, 5, 20, 20)])
    assert sorted(zip(found.filled, shapely.area(found.faces), strict=True)) == [(100, 100), (400, 300), (900, 500)]
    assert sorted(found.filled[found.around[found.around >= 0]]) == [400, 900]


def test_a_contour_with_a_branch_leaves_all_about_it_to_the_search():
    """A slit from a side of a blank: neither it nor the hole in the blank is taken, the ring far off is."""
    found = _alone([*box(0, 0, 30, 30), (30, 5, 20, 6), circle(10, 10, 3), circle(60, 60, 4)])
    assert found.lines.sum() == 1
    assert found.filled.tolist() == pytest.approx([math.pi * 16])


@pytest.mark.parametrize("limit", ["_MOST_PAIRS", "_MOST_LOOKS"])
def test_rings_in_too_many_rings_are_left_to_the_search(limit, monkeypatch):
    """Thousands of rings around one centre would take as many looks as there are pairs of them."""
    pieces = [circle(0, 0, 1 + number) for number in range(20)]
    whole = _lines(pieces)
    expected = [round(piece.area, 6) for piece in (*enclosed(whole).blanks, *enclosed(whole).waste)]
    monkeypatch.setattr(rings, limit, 10)
    assert len(_alone(pieces).faces) == 0
    assert [round(piece.area, 6) for piece in (*enclosed(whole).blanks, *enclosed(whole).waste)] == expected


def test_a_line_there_and_back_again_encloses_nothing():
    """Two of one length, a hair apart in the middle, are a ring of too little width to be a piece."""
    found = measured(strokes_of(*box(0, 0, 30, 30), (5, 5, 15, 5), (5, 5, 10, 5.005), (10, 5.005, 15, 5)))
    assert found.work.waste_pieces == 0
