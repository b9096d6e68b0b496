"""Lines run once and strokes switched as rarely as can be, against counts that anybody can do by hand."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_lines import box, measured, strokes_of

from compare.geometry.line_kinds import ALL_KINDS
from compare.geometry.line_trails import Lines, trails_of_lines
from compare.geometry.trails import Trail


def run_once(*sides: tuple[float, ...]) -> list[Trail]:
    """The trails of straight cuts."""
    pieces = strokes_of(*sides).strokes
    return trails_of_lines(Lines(pieces, np.full(len(pieces.kind), ALL_KINDS.index("cutting")), 0.05), ("cutting",))


TWO = (*box(0, 0, 10, 20), *box(10, 0, 10, 20))


def test_two_rectangles_that_share_a_side_are_120_mm_as_drawn():
    """2 (2 x 10 + 2 x 20). Derived here; a line tool for plotters prints the same for these two (published, its name
    withheld)."""
    assert measured(strokes_of(*TWO)).drawn_mm == pytest.approx(120, abs=1e-9)


def test_two_rectangles_that_share_a_side_are_100_mm_with_the_side_run_once():
    """120 - 20. Derived here."""
    assert sum(trail.length_mm for trail in run_once(*TWO)) == pytest.approx(100, abs=1e-9)


GRIDS = [
    # cells, sides of one unit, nodes with an odd number of sides, fewest strokes
    ((1, 1), 4, 0, 1),
    ((2, 1), 7, 2, 1),
    ((2, 2), 12, 4, 2),
    ((3, 2), 17, 6, 3),
    ((4, 3), 31, 10, 5),
]
"""A grid of m x n cells has m (n + 1) + n (m + 1) sides and 2 (m - 1) + 2 (n - 1) nodes with three of them, and half of
these, at least one, is the least number of goes. Derived here, from L. Euler, Solutio problematis ad geometriam situs
pertinentis, 1736 (from memory), for the rule of two odd nodes for one go, and its corollary in textbooks of graph theory."""


def sides_of(columns: int, rows: int) -> list[tuple[float, ...]]:
    level = [(x, y, x + 1, y) for x in range(columns) for y in range(rows + 1)]
    return [*level, *((x, y, x, y + 1) for x in range(columns + 1) for y in range(rows))]


@pytest.mark.parametrize(("cells", "sides", "odd", "strokes"), GRIDS)
def test_a_grid_is_cut_in_the_fewest_strokes(cells, sides, odd, strokes):
    drawn = sides_of(*cells)
    ends = np.unique(np.array(drawn).reshape(-1, 2), axis=0, return_counts=True)[1]
    assert (len(drawn), int((ends % 2).sum()), len(run_once(*drawn))) == (sides, odd, strokes)


@pytest.mark.parametrize(("cells", "sides", "odd", "strokes"), GRIDS)
def test_a_grid_cut_in_the_fewest_strokes_has_every_side_once(cells, sides, odd, strokes):
    assert sum(trail.length_mm for trail in run_once(*sides_of(*cells))) == pytest.approx(sides, abs=1e-9)
