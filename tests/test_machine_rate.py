"""Machine-hour rates: what an hour costs in the long run, and with the machine standing there."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.errors import InputError
from compare.machine_rate import hourly_rate, machine_hour_rate

MONEY = st.floats(0, 1e7, allow_subnormal=False)
PARTS = {"space_per_year": 6480, "maintenance_per_year": 43_500, "energy_per_hour": 3, "other_per_hour": 2}


def _rate(**changes):
    return machine_hour_rate(
        **{"purchase": 1_450_000, "residual": 150_000, "life_y": 10, "interest": 0.06, "hours_per_year": 3200}
        | PARTS
        | changes
    )


def test_depreciation_spreads_what_is_lost_over_life_and_hours():
    """Derived: (1,450,000 - 150,000) / 10 years / 3,200 hours."""
    assert _rate().depreciation == pytest.approx(1_300_000 / 10 / 3200, rel=1e-15)


def test_interest_is_paid_on_the_mean_capital():
    """Derived: 6 % of (1,450,000 + 150,000) / 2, over 3,200 hours."""
    assert _rate().interest == pytest.approx(0.06 * 800_000 / 3200, rel=1e-15)


def test_interest_may_be_paid_on_a_capital_of_ones_own():
    assert _rate(interest_base=500_000).interest == pytest.approx(0.06 * 500_000 / 3200, rel=1e-15)


def test_the_full_rate_is_the_sum_of_its_parts():
    assert _rate().full == pytest.approx(sum(_rate()), rel=1e-15)


def test_the_cash_rate_leaves_out_depreciation_interest_and_space():
    """With the machine standing in the hall these three are paid whether it runs or not."""
    rate = _rate()
    assert rate.cash == pytest.approx(rate.full - rate.depreciation - rate.interest - rate.space, rel=1e-12)


def test_scrapping_that_costs_money_raises_the_rate():
    assert _rate(residual=-50_000).depreciation > _rate(residual=0).depreciation


@PROPERTY
@given(purchase=MONEY, space=MONEY, maintenance=MONEY, hours=st.floats(1, 8760), factor=st.floats(1, 10))
def test_more_hours_never_make_an_hour_dearer(purchase, space, maintenance, hours, factor):
    parts = {
        "purchase": purchase,
        "life_y": 7,
        "interest": 0.06,
        "space_per_year": space,
        "maintenance_per_year": maintenance,
    }
    few, many = (
        machine_hour_rate(hours_per_year=hours, **parts),
        machine_hour_rate(hours_per_year=hours * factor, **parts),
    )
    assert many.full <= few.full * (1 + 1e-12)


def test_cost_that_comes_anyway_is_shared_by_the_hours():
    assert hourly_rate(32_000, 3200) == 10


def test_cost_of_a_running_hour_is_added():
    assert hourly_rate(32_000, 3200, 2.5) == 12.5


@pytest.mark.parametrize("changes", [{"life_y": 0}, {"hours_per_year": 0}, {"hours_per_year": -1}])
def test_no_life_and_no_hours_are_refused(changes):
    with pytest.raises(InputError, match="must be above 0"):
        _rate(**changes)


@pytest.mark.parametrize("hours", [0, -5, np.array([3200.0, 0.0])])
def test_an_hourly_rate_over_no_hours_is_refused(hours):
    with pytest.raises(InputError, match="hours per year must be above 0"):
        hourly_rate(1000, hours)
