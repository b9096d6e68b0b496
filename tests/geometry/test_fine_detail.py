"""Gaps are searched coarse first; what is found must be what looking at every chord finds."""

from __future__ import annotations

import contextlib
import gc
import itertools
import math

import numpy as np
import pytest
import shapely
from drawn_lines import circle, measured, strokes_of
from hypothesis import assume, example, given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.geometry import measure
from compare.geometry.faces import _numbered

_REACH_MM, _WIDEST_MM, _CHORD_MM = 5.0, 20.0, 0.01

_place = st.tuples(st.integers(0, 250), st.integers(0, 250)).map(lambda p: (p[0] / 10, p[1] / 10))
_line = st.tuples(_place, _place).filter(lambda ends: math.dist(*ends) > 1).map(lambda ends: (*ends[0], *ends[1]))
_arc = st.builds(
    lambda at, radius, start, sweep: circle(*at, radius, start, start + sweep),
    _place,
    st.floats(0.5, 8).map(lambda v: round(v, 1)),
    st.floats(0, 6).map(lambda v: round(v, 1)),
    st.floats(0.3, 6.2).map(lambda v: round(v, 1)),  # more than a turn is measured as one
)
_oval = st.builds(
    lambda at, wide, high: ("arc", *at, wide, 0.0, 0.0, high, 0.0, 2 * math.pi),
    _place,
    st.integers(1, 7).map(float),
    st.integers(1, 7).map(float),
)


def _runs_beside(one, other) -> bool:
    """At most 20 degrees apart, and at least a tenth of the shorter has the other beside it: said anew, chord by chord."""
    (ax, ay, bx, by), (cx, cy, dx, dy) = one, other
    size, size_too = math.dist((ax, ay), (bx, by)), math.dist((cx, cy), (dx, dy))
    if abs((bx - ax) * (dy - cy) - (by - ay) * (dx - cx)) > math.sin(math.radians(20)) * size * size_too:
        return False
    along = sorted(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / size for x, y in ((cx, cy), (dx, dy)))
    return min(along[1], size) - max(along[0], 0) >= 0.1 * min(size, size_too)


def _every_gap(drawing) -> list[float]:
    """Look at every two chords of every two lines."""
    chords, owner = drawing.strokes.flattened(_CHORD_MM)
    widths = []
    for i, j in itertools.combinations(range(len(drawing.strokes)), 2):
        if drawing.strokes.kind[[i, j]].any():
            pairs = list(itertools.product(chords[owner == i].tolist(), chords[owner == j].tolist()))
        else:
            pairs = [(chords[owner == i][0].tolist(), chords[owner == j][0].tolist())]
        beside = [pair for pair in pairs if _runs_beside(*pair)]
        if beside:
            first, second = (shapely.linestrings(np.reshape(some, (-1, 2, 2))) for some in zip(*beside, strict=True))
            widths.append(float(shapely.distance(first, second).min()))
    near = [width for width in widths if width <= _REACH_MM]
    return sorted(near or (width for width in widths if width <= _WIDEST_MM))


def _apart(drawing) -> bool:
    """Whether no two lines come so close that they are joined, cut or taken for one, nor a gap is at a limit."""
    chords, owner = drawing.strokes.flattened(_CHORD_MM)
    lines = [
        shapely.multilinestrings(shapely.linestrings(chords[owner == i].reshape(-1, 2, 2)))
        for i in range(len(drawing.strokes))
    ]
    return all(a.distance(b) > 0.1 for a, b in itertools.combinations(lines, 2))


@PROPERTY
@given(st.lists(st.one_of(_line, _arc, _oval), min_size=2, max_size=4))
@example([circle(0, 0, 30), circle(0, 0, 27), circle(50, 0, 15)])
@example([circle(0, 0, 3, 0, 3), (0, 4, 8, 4), ("arc", 0, 30, 12, 0, 0, 4, 0, 6)])
def test_the_gaps_are_those_between_every_two_chords(pieces):
    """Chords are looked at in bunches: no pair that counts may be lost with its bunch. Derived here."""
    drawing = strokes_of(*pieces)
    assume(_apart(drawing))
    expected = _every_gap(drawing)
    # what lies beside what is seen from one of two chords; where it matters from which, nobody has said
    assume(expected == pytest.approx(_every_gap(strokes_of(*reversed(pieces))), abs=1e-9))
    assume(all(abs(width - limit) > 1e-6 for width in expected for limit in (_REACH_MM, _WIDEST_MM)))
    assert measured(drawing).gaps.size.tolist() == pytest.approx(expected, abs=1e-9)


_far = 2.0**60


@PROPERTY
@given(
    st.lists(st.sampled_from([(0.0, 0.0), (-0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (_far, 0.0), (_far, 1.0), (0.1, 0.2)]))
)
@example([(_far, 0.0), (_far, 1.0), (_far, 0.0), (_far, 1.0)])
def test_places_have_one_number_just_where_they_are_the_same(places):
    """Two places far off give the same mixed number, as what sets them apart is below its last digit."""
    number = _numbered(np.array(places, float).reshape(-1, 2))
    assert all((number[i] == number[j]) == (places[i] == places[j]) for i, j in np.ndindex(len(places), len(places)))


@pytest.mark.parametrize("on", [True, False])
@pytest.mark.parametrize("fails", [True, False])
def test_measuring_leaves_the_search_for_garbage_as_it_found_it(on, fails, monkeypatch, request):
    """It is off while shapes are made; a program that measures goes on with its own choice, also after a failure."""
    request.addfinalizer(gc.enable)
    (gc.enable if on else gc.disable)()
    if fails:
        monkeypatch.setattr(measure, "gaps", lambda lines: 1 / 0)
    with pytest.raises(ZeroDivisionError) if fails else contextlib.nullcontext():
        measured(strokes_of(circle(0, 0, 3)))
    assert gc.isenabled() == on
