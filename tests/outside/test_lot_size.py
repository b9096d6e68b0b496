"""Economic lot against textbook examples; the formula is F. W. Harris's of 1913 (published)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.decide.lot_size import economic_lot, lot_cost


def test_lot_of_304_costs_68_41():
    """Published: Snyder & Shen, Fundamentals of Supply Chain Theory, example 3.1 (stockpyl documentation)."""
    assert economic_lot(8, 1_300, 0.225) == pytest.approx(304.0467800264, abs=1e-6)
    assert lot_cost(8, 1_300, 0.225) == pytest.approx(68.4105255059, abs=1e-6)


def test_lot_of_25298_costs_7589():
    """Published as 25,298 and 7,589.5: Hillier & Lieberman's example in the SCperf documentation."""
    assert economic_lot(12_000, 8_000, 0.3) == pytest.approx(25_298.22, abs=0.01)
    assert lot_cost(12_000, 8_000, 0.3) == pytest.approx(7_589.47, abs=0.01)


def test_lot_of_169_and_the_year_with_its_parts():
    """Published as 169 and 2.559e5: numbers of Hopp & Spearman, Factory Physics; 1,000 parts at 250."""
    assert economic_lot(500, 1_000, 35) == pytest.approx(169.03, abs=0.01)
    assert 250_000 + lot_cost(500, 1_000, 35) == pytest.approx(255_916.08, abs=0.01)


def test_pencils_are_made_3870_at_a_time():
    """Inputs published (course note, example 4.1), result derived: 60 a week, 12 a set-up, 25 % on 0.02."""
    assert economic_lot(12, 3_120, 0.005) == pytest.approx(3_869.88, abs=0.01)
    assert lot_cost(12, 3_120, 0.005) == pytest.approx(2 * 9.6747, abs=1e-3)


@settings(max_examples=50, deadline=None)
@given(setup=st.floats(0.01, 1e6), demand=st.floats(1, 1e9), holding=st.floats(1e-6, 1e4))
def test_a_set_up_at_a_quarter_of_the_cost_halves_lot_and_cost(setup, demand, holding):
    """Derived: both scale with the square root of the set-up cost."""
    assert economic_lot(setup / 4, demand, holding) == pytest.approx(economic_lot(setup, demand, holding) / 2, rel=1e-9)
    assert lot_cost(setup / 4, demand, holding) == pytest.approx(lot_cost(setup, demand, holding) / 2, rel=1e-9)
