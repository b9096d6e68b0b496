"""Lines as trails: what is run in one go, with lengths, radii and turns that survive turning round and cutting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.geometry.line_trails import Lines, outline_lines, trails_of_lines
from compare.geometry.linework import measure_outline
from compare.geometry.overlaps import bare
from compare.geometry.strokes import ARC, LINE
from compare.geometry.styles import build_blank
from compare.geometry.trails import inside_first, ring_trail

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0))


def lines_of(*pieces: tuple[int, tuple[float, ...]]) -> Lines:
    data = np.zeros((len(pieces), 8))
    for row, (_, numbers) in zip(data, pieces, strict=True):
        row[: len(numbers)] = numbers
    kinds = np.array([kind for kind, _ in pieces], np.int8)
    return Lines(bare(kinds, data), np.zeros(len(pieces), np.int64), 0.0)


def circle(x: float, y: float, radius: float) -> tuple[int, tuple[float, ...]]:
    return ARC, (x, y, radius, 0, 0, radius, 0, 2 * np.pi)


def test_a_square_has_three_corners_inside_for_it_starts_at_one():
    """The start of a closed stroke does not count, as in work.corner_load."""
    trail = ring_trail("cutting", SQUARE)
    assert trail.length_mm == 400
    assert trail.corner_load == pytest.approx(3, abs=1e-12)


def test_a_circle_has_no_corner_its_own_length_and_its_own_radius():
    (trail,) = trails_of_lines(lines_of(circle(10, 20, 7)), ("cutting",))
    assert trail.closed
    assert trail.length_mm == pytest.approx(2 * np.pi * 7, rel=1e-12)
    assert trail.radius == pytest.approx(7, rel=1e-9)
    assert trail.corner_load == pytest.approx(0, abs=1e-12)


def test_two_ways_round_a_style_give_the_same_trail_numbers():
    """The plain way for outlines of straight sides, and the way that follows any lines, must agree."""
    blank = build_blank("reverse_tuck_end", style_sizes())
    direct = ring_trail("cutting", blank.outline)
    (followed,) = trails_of_lines(outline_lines(blank.outline), ("cutting",))
    assert followed.length_mm == pytest.approx(direct.length_mm, rel=1e-12)
    loads = [t.started_at(int(t.entries()[0])).corner_load for t in (direct, followed)]
    assert loads == pytest.approx([blank.cut.corner_load] * 2, rel=1e-9)


def style_sizes() -> dict[str, float]:
    from compare.assumptions import assumption_table

    sizes = {
        name.removeprefix("carton."): float(row.value)
        for name, row in assumption_table().items()
        if name.startswith("carton.") and not row.is_text and row.value is not None
    }
    return {**sizes, "length_mm": 80.0, "width_mm": 40.0, "height_mm": 120.0}


def test_an_outline_that_touches_itself_falls_into_the_strokes_that_are_counted():
    """Flaps that share a knife line are run once; work.strokes counts the same strokes."""
    blank = build_blank("crash_lock", style_sizes())
    counted = measure_outline(blank.outline)
    trails = trails_of_lines(outline_lines(blank.outline), ("cutting",))
    assert len(trails) == counted.strokes
    assert sum(t.length_mm for t in trails) == pytest.approx(counted.length_mm, rel=1e-9)


def test_a_line_drawn_twice_is_run_once():
    line = (LINE, (0.0, 0.0, 50.0, 0.0))
    trails = trails_of_lines(lines_of(line, line), ("cutting",))
    assert [t.length_mm for t in trails] == [50]


def test_what_lies_inside_a_contour_comes_before_it():
    """Cut the hole while the board around it still holds."""
    hole, frame = circle(50, 50, 10), [(LINE, (*a, *b)) for a, b in zip(SQUARE, (*SQUARE[1:], SQUARE[0]), strict=True)]
    trails = trails_of_lines(lines_of(hole, *frame), ("cutting",))
    names = ["hole" if t.length_mm < 100 else "frame" for t in trails]
    pairs = [(names[a], names[b]) for a, b in inside_first(trails).tolist()]
    assert pairs == [("hole", "frame")]


def test_contours_side_by_side_may_be_cut_in_any_order():
    trails = trails_of_lines(lines_of(circle(0, 0, 5), circle(20, 0, 5)), ("cutting",))
    assert len(inside_first(trails)) == 0


TURNS = st.lists(st.floats(0.2, 3.0), min_size=3, max_size=8)


@settings(max_examples=50, deadline=None)
@given(TURNS, st.integers(0, 20), st.floats(0, 6.3), st.floats(-500, 500))
def test_turning_reversing_and_another_start_change_no_sum(steps: list[float], start: int, angle: float, shift: float):
    """A star-shaped ring, moved, turned, run backwards and begun elsewhere, has the same length and the same corners."""
    places = np.cumsum(steps) / np.sum(steps) * 2 * np.pi
    radii = 20 + 10 * np.sin(np.arange(len(steps)) * 2.1)
    trail = ring_trail("cutting", np.column_stack([radii * np.cos(places), radii * np.sin(places)]))
    cos, sin = np.cos(angle), np.sin(angle)
    moved = trail.placed(np.array([[cos, -sin, shift], [sin, cos, 2 * shift]]))
    other = moved.reversed().started_at(start % len(trail.length))
    assert other.length_mm == pytest.approx(trail.length_mm, rel=1e-12)
    all_corners = [float((1 - np.cos(t.turn)).sum()) for t in (trail, other)]
    assert all_corners[1] == pytest.approx(all_corners[0], rel=1e-9)
    assert np.allclose(other.points[0], other.points[-1])
