"""Totals with steps: exact ranges, found without trying every run length, against trying every run length."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.decide.step_totals import EVEN, Range, Sheets, Steps, StepTotal, crossover, lowest_ranges
from compare.errors import InputError

LAST = 3000
_TIE = 1e-9


def _worn(life: float) -> Steps:
    """One more step for every ``life`` cartons."""
    return Steps(lambda run_length: np.ceil(run_length / life))


_price = st.floats(-50, 500, allow_subnormal=False).map(lambda v: round(v, 2))
_sheets = st.builds(Sheets, st.integers(1, 4).map(float), st.integers(1, 4).map(float), st.integers(1, 40).map(float))
_steps = st.one_of(_sheets, st.integers(20, 2500).map(_worn))


@st.composite
def _totals(draw: st.DrawFn) -> StepTotal:
    fixed = draw(st.floats(0, 5000, allow_subnormal=False).map(lambda v: round(v, 2)))
    per_carton = draw(st.floats(-0.5, 2, allow_subnormal=False).map(lambda v: round(v, 4)))
    steps = draw(st.lists(st.tuples(_price, _steps), max_size=3))
    return StepTotal(fixed, per_carton, tuple(steps))


def _scanned(totals: dict[str, StepTotal], start: int, end: int) -> list[Range]:
    """Try every run length; totals within a billionth of the lowest are even with it."""
    run = np.arange(start, end + 1, dtype=float)
    values = {name: total(run) for name, total in totals.items()}
    labels = []
    for i in range(len(run)):
        at = {name: float(value[i]) for name, value in values.items()}
        least = min(at, key=lambda name: at[name])
        near = [n for n, v in at.items() if abs(v - at[least]) <= _TIE * max(abs(v), abs(at[least]))]
        labels.append(least if len(near) == 1 else EVEN)
    ranges, first = [], 0
    for i in range(1, len(labels) + 1):
        if i == len(labels) or labels[i] != labels[first]:
            ranges.append(Range(start + first, start + i - 1, labels[first]))
            first = i
    return ranges


@PROPERTY
@given(_totals(), _totals())
def test_ranges_of_two_totals_are_those_of_a_full_scan(a, b):
    totals = {"a": a, "b": b}
    assert lowest_ranges(totals, 1, LAST) == _scanned(totals, 1, LAST)


@PROPERTY
@given(_totals(), _totals(), _totals())
def test_ranges_of_three_totals_are_those_of_a_full_scan(a, b, c):
    totals = {"a": a, "b": b, "c": c}
    assert lowest_ranges(totals, 1, LAST) == _scanned(totals, 1, LAST)


@PROPERTY
@given(_totals(), st.floats(-1e-3, 1e-3, allow_subnormal=False).map(lambda v: round(v, 6)))
def test_ranges_of_totals_that_hardly_differ_are_those_of_a_full_scan(a, shift):
    """The hardest case: steps in common must cancel, or every interval would have to be tried."""
    totals = {"a": a, "b": StepTotal(a.fixed + shift, a.per_carton, a.steps)}
    assert lowest_ranges(totals, 1, LAST) == _scanned(totals, 1, LAST)


@PROPERTY
@given(_totals(), _totals(), st.integers(1, 500), st.integers(0, 500))
def test_a_part_of_the_domain_gives_a_part_of_the_ranges(a, b, start, length):
    whole = lowest_ranges({"a": a, "b": b}, 1, 1000)
    end = start + length
    cut = [Range(max(r.start, start), min(r.end, end), r.lowest) for r in whole if r.start <= end and r.end >= start]
    assert lowest_ranges({"a": a, "b": b}, start, end) == cut


@PROPERTY
@given(_totals(), _totals())
def test_ranges_leave_no_gap_and_neighbours_differ(a, b):
    ranges = lowest_ranges({"a": a, "b": b}, 1, 1_000_000)
    assert (ranges[0].start, ranges[-1].end) == (1, 1_000_000)
    assert all(left.end + 1 == right.start and left.lowest != right.lowest for left, right in pairwise(ranges))


@PROPERTY
@given(_totals(), _totals())
def test_the_order_of_the_totals_does_not_matter(a, b):
    assert lowest_ranges({"a": a, "b": b}, 1, LAST) == lowest_ranges({"b": b, "a": a}, 1, LAST)


# -- by hand ----------------------------------------------------------------------------------------------------------


def test_two_straight_lines_cross_once():
    """Derived: 100 against 0.5 per carton are even at 200."""
    found = lowest_ranges({"flat": StepTotal(100), "steep": StepTotal(0, 0.5)}, 1, 1000)
    assert found == [Range(1, 199, "steep"), Range(200, 200, EVEN), Range(201, 1000, "flat")]


def test_steps_cross_many_times():
    """Derived: sheets of 10 cartons at 9.6 against 1.0 per carton: only the last carton of a sheet makes it pay, and at
    96 cartons and 10 sheets both are even.
    """
    stairs = StepTotal(0, 0, ((9.6, Sheets(1, 1, 10)),))
    found = lowest_ranges({"stairs": stairs, "line": StepTotal(0, 1.0)}, 1, 20)
    assert found == [Range(1, 9, "line"), Range(10, 10, "stairs"), Range(11, 19, "line"), Range(20, 20, "stairs")]
    assert Range(96, 96, EVEN) in lowest_ranges({"stairs": stairs, "line": StepTotal(0, 1.0)}, 1, 100)


def test_equal_totals_are_even_throughout():
    total = StepTotal(3, 0.1, ((2.0, Sheets(1, 1, 8)),))
    assert lowest_ranges({"a": total, "b": total}, 1, 10**6) == [Range(1, 10**6, EVEN)]


@pytest.mark.parametrize(("apart", "lowest"), [(1e-10, EVEN), (1e-8, "a")])
def test_totals_closer_than_a_billionth_are_even(apart, lowest):
    """Rounding must not be taken for a saving."""
    found = lowest_ranges({"a": StepTotal(1000.0), "b": StepTotal(1000.0 * (1 + apart))}, 1, 1000)
    assert found == [Range(1, 1000, lowest)]


def test_a_third_total_that_is_beaten_does_not_make_the_others_even():
    found = lowest_ranges({"a": StepTotal(1), "b": StepTotal(2), "c": StepTotal(2)}, 1, 10)
    assert found == [Range(1, 10, "a")]


def test_a_domain_of_one_run_length_has_one_range():
    assert lowest_ranges({"a": StepTotal(1), "b": StepTotal(2)}, 5, 5) == [Range(5, 5, "a")]


def test_an_empty_domain_is_refused():
    with pytest.raises(InputError, match="the range of run lengths is empty"):
        lowest_ranges({"a": StepTotal(1), "b": StepTotal(2)}, 5, 4)


def test_one_total_alone_is_lowest_throughout():
    assert lowest_ranges({"a": StepTotal(1)}, 1, 10) == [Range(1, 10, "a")]


def test_sheets_of_every_version_are_rounded_up():
    """Derived: 100 cartons in 3 versions at 8 per sheet are 5 sheets each."""
    assert Sheets(3, 3, 8)(np.array([100.0, 96.0])).tolist() == [15, 12]


def test_a_total_adds_up():
    """Derived: 5 + 0.1 x 100 + 2 x 13 sheets."""
    assert StepTotal(5, 0.1, ((2.0, Sheets(1, 1, 8)),))(np.array([100.0])) == pytest.approx([41])


# -- straight lines ---------------------------------------------------------------------------------------------------


@PROPERTY
@given(st.integers(0, 5000), st.integers(1, 400), st.integers(0, 5000), st.integers(1, 400))
def test_the_crossing_of_straight_lines_is_where_the_ranges_change(fixed_a, slope_a, fixed_b, slope_b):
    """Slopes in hundredths, so that the crossing is the only thing that rounds."""
    at = crossover(fixed_a, slope_a / 100, fixed_b, slope_b / 100)
    ranges = lowest_ranges({"a": StepTotal(fixed_a, slope_a / 100), "b": StepTotal(fixed_b, slope_b / 100)}, 1, 10**6)
    if at is None or not 1 < at < 10**6:
        assert len([r for r in ranges if r.lowest != EVEN]) <= 1
    else:
        assert ranges[-1].lowest == ("a" if slope_a < slope_b else "b")
        assert ranges[-1].start == np.floor(at + 1e-6) + 1


def test_parallel_lines_never_cross():
    assert crossover(1, 2, 3, 2) is None


def test_lines_that_cross_before_the_first_carton_never_cross():
    assert crossover(3, 2, 1, 1) is None
