"""Break-even points and ranges against textbook exercises, and a step example worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.decide.step_totals import EVEN, Range, Sheets, StepTotal, crossover, lowest_ranges

# Published: slides to Heizer & Render, Principles of Operations Management, 5th edition, 2004,
# slides 8-2 and 8-3: three sites for a plant.
SITES = {"A": StepTotal(30_000, 75), "B": StepTotal(60_000, 45), "C": StepTotal(110_000, 25)}

# Derived here, easy to check by hand: with k = ceil(q/100,000) steps done both totals are equal at
# (105 + 900 k)/0.0105.
STAIRCASE = {
    "A": StepTotal(120, 0.004, ((900, Sheets(groups=1, versions=1, ups=100_000)),)),
    "B": StepTotal(15, 0.0145),
}


def test_three_sites_change_places_at_1000_and_2500():
    """Published: Heizer & Render slides. The lower envelope; both change-over quantities are exact ties."""
    assert lowest_ranges(SITES, 1, 5_000) == [
        Range(1, 999, "A"),
        Range(1_000, 1_000, EVEN),
        Range(1_001, 2_499, "B"),
        Range(2_500, 2_500, EVEN),
        Range(2_501, 5_000, "C"),
    ]


def test_crossing_above_the_envelope_is_no_break_even():
    """Derived: A and C cross at 1,600, where B is cheaper than both, so 1,600 must not be shown."""
    assert crossover(30_000, 75, 110_000, 25) == pytest.approx(1_600, rel=1e-12)
    starts = [r.start for r in lowest_ranges(SITES, 1, 5_000)]
    assert 1_600 not in starts
    assert 1_601 not in starts


@pytest.mark.parametrize(("site", "total"), [("A", 180_000), ("B", 150_000), ("C", 160_000)])
def test_totals_of_the_three_sites_at_2000(site, total):
    """Derived from the published inputs of the Heizer & Render slides; B is best there."""
    assert SITES[site](np.array([2_000.0])) == pytest.approx([total], rel=1e-12)


@pytest.mark.parametrize(
    ("first", "second", "quantity"),
    [
        pytest.param((30_000, 75), (60_000, 45), 1_000, id="heizer-render-A-B"),
        pytest.param((60_000, 45), (110_000, 25), 2_500, id="heizer-render-B-C"),
        # Published: answer page to the Nagle Electric exercise of the same family of textbooks.
        pytest.param((78_000, 14), (57_000, 18), 5_250, id="nagle-electric"),
        # Published: question-and-answer page.
        pytest.param((1_000, 5), (500, 10), 100, id="two-machines"),
        # Published, with a wrong remark on the page that both stay equal above 4,000.
        pytest.param((50_000, 10), (30_000, 15), 4_000, id="both-90000"),
        # Inputs published; derived: the page garbles its own answer.
        pytest.param((9_000, 50), (90_000, 5), 1_800, id="garbled-answer"),
        # Published: Heizer & Render slides; revenue 10, variable 5, fixed 2,000.
        pytest.param((2_000, 5), (0, 10), 400, id="revenue-against-cost"),
        # Published: operations-management exercise on process choice (studymode.com, break-even exercise 1).
        pytest.param((350_000, 50), (150_000, 90), 5_000, id="process-choice"),
        # Published: Small Business Management in the 21st Century (Saylor), table 10.1.
        pytest.param((33_000, 9.25), (0, 23), 2_400, id="saylor-new"),
        pytest.param((15_000, 11), (0, 23), 1_250, id="saylor-used"),
        # Derived from the same table: 18,000 / 1.75.
        pytest.param((33_000, 9.25), (15_000, 11), 10_285.714286, id="saylor-new-against-used"),
        # Published: OpenStax, Principles of Accounting, Volume 2, break-even section; then with a target of 16,000.
        pytest.param((18_000, 20), (0, 100), 225, id="openstax"),
        pytest.param((34_000, 20), (0, 100), 425, id="openstax-target-profit"),
    ],
)
def test_two_lines_cross_where_the_textbook_says(first, second, quantity):
    assert crossover(*first, *second) == pytest.approx(quantity, rel=1e-9)
    assert crossover(*second, *first) == pytest.approx(quantity, rel=1e-9)


def test_low_fixed_cost_wins_below_and_low_unit_cost_above():
    """Published: Nagle Electric exercise: B below 5,250, A above, up to A's capacity of 16,000."""
    totals = {"A": StepTotal(78_000, 14), "B": StepTotal(57_000, 18)}
    assert lowest_ranges(totals, 1, 16_000) == [
        Range(1, 5_249, "B"),
        Range(5_250, 5_250, EVEN),
        Range(5_251, 16_000, "A"),
    ]


def test_equal_at_4000_does_not_stay_equal():
    """Published inputs; the page's remark on larger quantities is wrong: the first machine is cheaper there."""
    totals = {"first": StepTotal(50_000, 10), "second": StepTotal(30_000, 15)}
    assert lowest_ranges(totals, 4_000, 10_000) == [Range(4_000, 4_000, EVEN), Range(4_001, 10_000, "first")]
    assert totals["first"](np.array([4_000.0])) == pytest.approx([90_000], rel=1e-12)
    assert totals["second"](np.array([4_000.0])) == pytest.approx([90_000], rel=1e-12)


def test_process_a_saves_200000_at_10000_units():
    """Question published (studymode.com, break-even exercise 1), difference derived."""
    units = np.array([10_000.0])
    assert StepTotal(150_000, 90)(units) - StepTotal(350_000, 50)(units) == pytest.approx([200_000], rel=1e-12)


def test_parallel_lines_never_cross():
    """Derived: equal cost per unit gives no quantity, and no division by zero."""
    assert crossover(1_000, 5, 500, 5) is None
    assert lowest_ranges({"dear": StepTotal(1_000, 5), "cheap": StepTotal(500, 5)}, 1, 1_000) == [
        Range(1, 1_000, "cheap")
    ]


def test_same_lines_are_even_throughout():
    """Derived: two equal totals have no winner."""
    assert crossover(500, 5, 500, 5) is None
    assert lowest_ranges({"one": StepTotal(500, 5), "two": StepTotal(500, 5)}, 1, 1_000) == [Range(1, 1_000, EVEN)]


@settings(max_examples=50, deadline=None)
@given(
    fixed=st.integers(0, 10**6), more=st.integers(1, 10**6), unit=st.integers(0, 1_000), dearer=st.integers(1, 1_000)
)
def test_dominated_process_has_no_break_even(fixed, more, unit, dearer):
    """Derived: with both fixed and unit cost higher a process is nowhere cheaper."""
    assert crossover(fixed, unit, fixed + more, unit + dearer) is None
    totals = {"better": StepTotal(fixed, unit), "worse": StepTotal(fixed + more, unit + dearer)}
    assert lowest_ranges(totals, 1, 100_000) == [Range(1, 100_000, "better")]


def test_step_cost_has_seven_windows_and_a_tie():
    """Derived: a new step every 100,000 gives seven windows, not one root; 610,000 is an exact tie."""
    ranges = lowest_ranges(STAIRCASE, 1, 2_000_000)
    assert [(r.start, r.end) for r in ranges if r.lowest == "A"] == [
        (95_715, 100_000),
        (181_429, 200_000),
        (267_143, 300_000),
        (352_858, 400_000),
        (438_572, 500_000),
        (524_286, 600_000),
        (610_001, 2_000_000),
    ]
    assert [(r.start, r.end) for r in ranges if r.lowest == EVEN] == [(610_000, 610_000)]


def test_step_cost_totals_at_the_tie_are_8860():
    """Derived: 120 + 900 x 7 + 0.004 x 610,000 = 15 + 0.0145 x 610,000 = 8,860."""
    quantity = np.array([610_000.0])
    assert STAIRCASE["A"](quantity) == pytest.approx([8_860], rel=1e-9)
    assert STAIRCASE["B"](quantity) == pytest.approx([8_860], rel=1e-9)


@pytest.mark.parametrize(("quantity", "difference"), [(100_000, -45.0), (100_001, 854.9895)])
def test_one_carton_more_flips_the_answer(quantity, difference):
    """Derived: a step of 900 turns 45 cheaper into 855 dearer from one carton to the next."""
    q = np.array([float(quantity)])
    assert STAIRCASE["A"](q) - STAIRCASE["B"](q) == pytest.approx([difference], abs=1e-6)


def test_steps_dearer_than_the_saving_leave_no_break_even():
    """Derived: 1,100 per 100,000 is 0.011 a carton, above the saving of 0.0105: A wins nowhere."""
    steep = {**STAIRCASE, "A": StepTotal(120, 0.004, ((1_100, Sheets(1, 1, 100_000)),))}
    assert lowest_ranges(steep, 1, 2_000_000) == [Range(1, 2_000_000, "B")]


@settings(max_examples=60, deadline=None)
@given(
    fixed=st.tuples(st.integers(0, 400), st.integers(0, 400)),
    unit=st.tuples(st.integers(0, 9), st.integers(0, 9)),
    price=st.tuples(st.integers(0, 900), st.integers(0, 900)),
    size=st.tuples(st.integers(1, 700), st.integers(1, 700)),
)
def test_ranges_equal_counting_every_quantity(fixed, unit, price, size):
    """Derived: whole-number totals of 3,000 quantities, compared one by one without the solver."""

    def by_hand(i: int, quantity: int) -> int:
        return fixed[i] + unit[i] * quantity + price[i] * -(-quantity // size[i])

    totals = {
        name: StepTotal(fixed[i], unit[i], ((price[i], Sheets(1, 1, size[i])),)) for i, name in enumerate(("A", "B"))
    }
    found = [r.lowest for r in lowest_ranges(totals, 1, 3_000) for _ in range(r.start, r.end + 1)]
    counted = []
    for quantity in range(1, 3_001):
        a, b = by_hand(0, quantity), by_hand(1, quantity)
        counted.append("A" if a < b else "B" if b < a else EVEN)
    assert found == counted
