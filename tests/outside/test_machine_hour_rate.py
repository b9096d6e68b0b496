"""Machine-hour rates against worked examples of cost-accounting teaching.

Each example is published with its inputs; where a last step was not printed, it says "derived".
"""

from __future__ import annotations

import pytest

from compare.decide.step_totals import crossover
from compare.errors import InputError
from compare.machine_rate import hourly_rate, machine_hour_rate


def test_rate_of_a_machine_of_120000_is_14_35():
    """Published: brainyoo learning card 527603937. 15 m2 at 6 a month, 8 kW at 0.12, 5 % maintenance."""
    rate = machine_hour_rate(
        purchase=120_000,
        life_y=12,
        interest=0.05,
        hours_per_year=1_500,
        space_per_year=1_080,
        maintenance_per_year=6_000,
        energy_per_hour=0.96,
    )
    assert rate.depreciation == pytest.approx(6.67, abs=0.005)
    assert rate.interest == pytest.approx(2.00, abs=1e-12)
    assert rate.space == pytest.approx(0.72, abs=1e-12)
    assert rate.energy == pytest.approx(0.96, abs=1e-12)
    assert rate.maintenance == pytest.approx(4.00, abs=1e-12)
    assert rate.full == pytest.approx(14.35, abs=0.005)


def test_residual_value_lowers_depreciation_and_raises_mean_capital():
    """Published: av.tib.eu/media/17936 (2013, CC BY-NC 3.0 DE): depreciation 40,000, interest 18,000 a year.

    Derived: the energy of 4,000 a year and the rate of 35.00, which the opened text cuts off.
    """
    rate = machine_hour_rate(
        purchase=400_000,
        residual=200_000,
        life_y=5,
        interest=0.06,
        hours_per_year=2_000,
        space_per_year=2_500,
        maintenance_per_year=5_500,
        energy_per_hour=2.0,
    )
    assert rate.depreciation * 2_000 == pytest.approx(40_000, rel=1e-12)
    assert rate.interest * 2_000 == pytest.approx(18_000, rel=1e-12)
    assert rate.energy * 2_000 == pytest.approx(4_000, rel=1e-12)
    assert rate.full == pytest.approx(35.00, rel=1e-12)


def test_replacement_price_scrapping_and_a_tool_give_70_81():
    """Published: abwl-camp.de, machine-hour-rate exercise with solution.

    800,000 at a price index of 110 -> 143 is 1,040,000; scrapping costs 10,000; 250 d x 2 x 8 h x 0.9
    is 3,600 h; 60,000 interest a year (15 % on half of 800,000: that rate is inferred); maintenance of
    90,000 over 10 years; 4,200 kWh per 300 h at 0.35; 20 m2 at 8; a tool of 2,630 per 150 h.
    """
    rate = machine_hour_rate(
        purchase=1_040_000,
        residual=-10_000,
        life_y=10,
        interest=0.15,
        interest_base=400_000,
        hours_per_year=3_600,
        space_per_year=160,
        maintenance_per_year=9_000,
        energy_per_hour=4.9,
        other_per_hour=2_630 / 150,
    )
    assert rate.depreciation == pytest.approx(29.17, abs=0.005)
    assert rate.interest == pytest.approx(16.67, abs=0.005)
    assert rate.maintenance == pytest.approx(2.50, abs=0.005)
    assert rate.energy == pytest.approx(4.90, abs=0.005)
    assert rate.space == pytest.approx(0.04, abs=0.005)
    assert rate.other == pytest.approx(17.53, abs=0.005)
    assert rate.full == pytest.approx(70.81, abs=0.005)


@pytest.mark.parametrize(("hours", "rate"), [(2_000, 180.60), (2_500, 156.48)])
def test_more_hours_carry_the_same_fixed_cost(hours, rate):
    """Published: controllingportal.de, F. Schnepf, solution to exercise 6.3.1."""
    assert hourly_rate(241_200, hours, 60) == pytest.approx(rate, rel=1e-12)


def test_own_machine_beats_buying_at_140_from_3015_hours():
    """Published: controllingportal.de, F. Schnepf, exercise 6.3.1, own machine against bought hours."""
    assert crossover(241_200, 60, 0, 140) == pytest.approx(3_015, rel=1e-12)


@pytest.mark.parametrize(("hours", "rate"), [(1_600, 118.75), (1_200, 156.67)])
def test_idle_capacity_raises_the_rate(hours, rate):
    """Published: study-board.de, two independent answers that agree; 100 % and 75 % of 1,600 h."""
    assert hourly_rate(182_000, hours, 5) == pytest.approx(rate, abs=0.005)


@pytest.mark.parametrize(
    ("price", "power", "rate"),
    [(20_000, 5_100, 10.458), (25_000, 5_000, 10.681), (30_000, 12_000, 14.847), (40_000, 14_500, 16.792)],
)
def test_four_machines_share_a_shop(price, power, rate):
    """Published: transtutors.com, question 559141 (inputs and shares); derived: the division by 1,800 h.

    Rent 10,000, rates 4,250, light 3,150, administration 9,500 and running 20,000 in four equal parts.
    """
    machine = machine_hour_rate(
        purchase=price,
        life_y=10,
        interest=0,
        hours_per_year=1_800,
        space_per_year=46_900 / 4,
        energy_per_hour=power / 1_800,
    )
    assert machine.full == pytest.approx(rate, abs=0.001)


def test_cash_rate_leaves_capital_and_space_out():
    """Derived from the 14.35 example: with the machine standing there, 4.00 + 0.96 are paid an hour."""
    rate = machine_hour_rate(
        purchase=120_000,
        life_y=12,
        interest=0.05,
        hours_per_year=1_500,
        space_per_year=1_080,
        maintenance_per_year=6_000,
        energy_per_hour=0.96,
    )
    assert rate.cash == pytest.approx(4.96, abs=1e-12)


def test_no_hours_is_refused_and_not_divided_by():
    """Derived: a rate over zero hours has no meaning."""
    with pytest.raises(InputError, match="hours per year must be above 0"):
        hourly_rate(241_200, 0, 60)
