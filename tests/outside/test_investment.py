"""Value of money over time against textbooks, and against two libraries that compute the same: numpy-financial, pyxirr.

Marks: published, where inputs and answer were seen; inputs published, where the answer is derived here.
"""

from __future__ import annotations

import numpy as np
import numpy_financial as npf
import pytest
import pyxirr
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.decide.cash_flows import (
    annuity_factor,
    discounted_payback_years,
    equivalent_annual_cost,
    irr,
    npv,
    payback_years,
)
from compare.decide.investment import Investment, evaluate_investment

GITMAN = [-40_000, 5_000, 8_000, 12_000, 30_000]
"""Published: documentation of numpy-financial, after L. J. Gitman, Principles of Managerial Finance, 2003."""

# Published: OpenStax, Principles of Finance 2e, chapter on capital investment decisions
FINANCE_1 = [-16_000, 2_000, 4_000, 5_000, 5_000, 5_000, 5_000]
FINANCE_2 = [-25_000, 2_000, 4_000, 8_000, 9_000, 9_000, 9_000]
FINANCE_3 = [-30_000, 6_000, 8_000, 10_000, 12_000, 14_000, 16_000, 18_000]

_money = st.floats(-1e6, 1e6).map(lambda v: round(v, 2))
_rates = st.floats(-0.5, 3.0)
_rows = st.lists(_money, min_size=1, max_size=40)


# -- net present value ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rate", "flows", "value", "within"),
    [
        pytest.param(0.08, GITMAN, 3_065.22267, 1e-5, id="gitman"),
        # printed as 2,835.63
        pytest.param(0.09, FINANCE_1, 2_835.62, 0.01, id="openstax-1"),
        pytest.param(0.09, FINANCE_2, 3_970.67, 0.01, id="openstax-2"),
        pytest.param(0.09, FINANCE_3, 26_946.90, 0.01, id="openstax-3"),
        # printed without decimals
        pytest.param(0.10, [-50_000] + 3 * [40_000], 49_474, 0.5, id="openstax-three-years"),
        pytest.param(0.10, [-50_000] + 6 * [30_000], 80_658, 0.5, id="openstax-six-years"),
    ],
)
def test_net_present_value_is_that_of_the_textbook(rate, flows, value, within):
    assert npv(rate, flows) == pytest.approx(value, abs=within)


@PROPERTY
@given(_rates, _rows)
def test_net_present_value_is_that_of_two_libraries(rate, flows):
    scale = float(np.abs(flows) @ (1 + rate) ** -np.arange(len(flows), dtype=float))
    assert npv(rate, flows) == pytest.approx(float(npf.npv(rate, flows)), rel=1e-12, abs=1e-12 * scale)
    assert npv(rate, flows) == pytest.approx(pyxirr.npv(rate, flows), rel=1e-12, abs=1e-12 * scale)


def test_scenarios_at_once_are_worth_what_a_library_finds_one_by_one():
    """A thousand draws are one matrix product; numpy-financial takes one row at a time."""
    flows = np.random.default_rng(3).normal(size=(1_000, 11)) * 1e5
    expected = [float(npf.npv(0.07, row)) for row in flows]
    np.testing.assert_allclose(npv(0.07, flows), expected, rtol=1e-9, atol=1e-6)


def test_a_chain_of_two_short_projects_is_worth_both():
    """Published as 86,644.69: OpenStax, Principles of Finance 2e; the second starts when the first ends."""
    once = [-50_000] + 3 * [40_000]
    assert npv(0.10, [-50_000, 40_000, 40_000, -10_000, 40_000, 40_000, 40_000]) == pytest.approx(86_644.69, abs=0.01)
    assert npv(0.10, once) * (1 + 1.1**-3) == pytest.approx(86_644.69, abs=0.01)


# -- payback ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flows", "years"),
    [
        # Published: OpenStax, Principles of Accounting, Volume 2, section on payback
        pytest.param([-150_000] + 8 * [20_000], 7.5, id="even-150000"),
        pytest.param([-50_000] + 4 * [15_000], 3.33, id="even-50000"),
        pytest.param([-40_000, 10_000, 10_000, 5_000, 5_000, 7_500, 7_500], 5.33, id="uneven-40000"),
        # Published: OpenStax, Principles of Finance 2e
        pytest.param(FINANCE_1, 4.0, id="openstax-1"),
        # Derived, from the inputs of numpy-financial's documentation: 15,000 of 30,000 are open after three years
        pytest.param(GITMAN, 3.5, id="gitman"),
    ],
)
def test_payback_is_that_of_the_textbook(flows, years):
    assert payback_years(flows) == pytest.approx(years, abs=0.005)


def test_discounted_payback_is_that_of_the_textbook():
    """Published as 5.05 years: OpenStax, Principles of Finance 2e."""
    assert discounted_payback_years(0.09, FINANCE_1) == pytest.approx(5.0489, abs=1e-4)


def test_discounted_payback_worked_from_published_flows():
    """Derived: what is open after three years at 8 %, over the present value of the fourth flow."""
    assert discounted_payback_years(0.08, GITMAN) == pytest.approx(3.860993, abs=1e-6)


# -- annuities --------------------------------------------------------------------------------------------------------


def test_an_instalment_is_the_loan_over_the_annuity_factor():
    """Published as -1,854.0247: documentation of numpy-financial; 200,000 over 15 years at 7.5 % a year, monthly."""
    instalment = 200_000 / annuity_factor(0.075 / 12, 180)
    assert instalment == pytest.approx(1_854.02472, abs=1e-5)
    assert instalment == pytest.approx(-float(npf.pmt(0.075 / 12, 180, 200_000)), rel=1e-12)


@PROPERTY
@given(st.floats(-0.3, 2.0).filter(lambda rate: abs(rate) > 1e-6), st.integers(1, 60))
def test_annuity_factor_is_the_present_value_of_ones_in_a_library(rate, years):
    """Nearer to no interest the library's form of the formula loses its digits."""
    assert annuity_factor(rate, years) == pytest.approx(-float(npf.pv(rate, years, 1)), rel=1e-6)


@pytest.mark.parametrize(("yearly", "years", "amount"), [(40_000, 3, 19_894), (30_000, 6, 18_520)])
def test_equivalent_annuity_of_unequal_lives(yearly, years, amount):
    """Published: OpenStax, Principles of Finance 2e; 50,000 at 10 %. The shorter project is worth more per year."""
    assert npv(0.10, [-50_000] + years * [yearly]) / annuity_factor(0.10, years) == pytest.approx(amount, abs=0.5)


@pytest.mark.parametrize(
    ("machine", "cost"),
    [
        # Published, inputs and answer: a worked answer on a question page
        pytest.param((92_000, 13_000, 0.07, 6, 18_000), 29_784.89, id="with-salvage"),
        # Inputs published on exercise pages, answers derived
        pytest.param((30_000, 3_000, 0.08, 5, 0), 10_513.69, id="five-years"),
        pytest.param((22_000, 4_000, 0.08, 3, 0), 12_536.74, id="three-years"),
        pytest.param((10_000, 20_000, 0.10, 5, 0), 22_637.97, id="mostly-running-cost"),
        # Inputs published; derived, as the page has 595,900 where its own steps give 593,900
        pytest.param((462_000, 46_200, 0.15, 4, 0), 208_022.59, id="page-with-a-slip"),
    ],
)
def test_equivalent_annual_cost_of_a_machine(machine, cost):
    purchase, yearly, rate, years, residual = machine
    found = equivalent_annual_cost(purchase, yearly, rate, years, residual)
    assert found == pytest.approx(cost, abs=0.01)
    assert found == pytest.approx(yearly - float(npf.pmt(rate, years, purchase, -residual)), rel=1e-9)


@pytest.mark.parametrize(
    ("purchase", "yearly", "years", "value", "cost"),
    [(290_000, 67_000, 3, -294_629.73, 118_474.97), (510_000, 35_000, 5, -444_765.36, 117_327.98)],
)
def test_equivalent_annual_cost_after_tax(purchase, yearly, years, value, cost):
    """Inputs published on an exercise page, answers derived: tax 35 %, salvage 40,000, straight line to nothing, 10 %."""
    machine = Investment(purchase, years, 40_000, 0.10, tax_pa=0.35, yearly_upkeep=yearly)
    assert machine.npv(0.0) == pytest.approx(value, abs=0.01)
    assert machine.equivalent_annual_cost == pytest.approx(cost, abs=0.01)


# -- internal rate ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flows", "rate", "within"),
    [
        # Published: documentation and tests of numpy-financial
        pytest.param([-100, 39, 59, 55, 20], 0.28095, 1e-5, id="docs"),
        pytest.param([-250_000, 100_000, 150_000, 200_000, 250_000, 300_000], 0.5672303344, 1e-9, id="five-years"),
        pytest.param([-100, 0, 0, 74], -0.0955, 1e-4, id="loss"),
        pytest.param([-100, 100, 0, 7], 0.06206, 1e-4, id="late-crumb"),
        # Published: OpenStax, Principles of Finance 2e, as 14.1 % and 13.2 %
        pytest.param(FINANCE_1, 0.141, 5e-4, id="openstax-1"),
        pytest.param(FINANCE_2, 0.132, 5e-4, id="openstax-2"),
    ],
)
def test_internal_rate_is_that_of_the_textbook(flows, rate, within):
    found = irr(flows)
    assert found.rate == pytest.approx(rate, abs=within)
    assert (found.sign_changes, found.caveat) == (1, "")
    assert found.rate == pytest.approx(float(npf.irr(flows)), abs=1e-9)


@pytest.mark.parametrize(
    ("flows", "published", "others"),
    [([-100, 100, 0, -7], -0.0833, [-0.678894]), ([-5, 10.5, 1, -8, 1], 0.0886, [-0.870201, 0.709560])],
)
def test_published_rates_that_are_not_the_only_ones(flows, published, others):
    """Published in numpy-financial's documentation as *the* rate. Derived: there are others, where it is worth nothing
    as well.
    """
    found = irr(flows)
    assert list(found.rates) == pytest.approx(sorted([published, *others]), abs=1e-4)
    assert (found.rate, found.caveat) == (None, "investment.irr_several")
    assert [npv(rate, flows) for rate in found.rates] == pytest.approx([0] * len(found.rates), abs=1e-6)


def test_two_rates_are_both_found_where_each_library_tells_one():
    """Derived: -1,000 + 2,500/1.1 - 1,540/1.21 = 0 and -1,000 + 2,500/1.4 - 1,540/1.96 = 0; between them it pays."""
    flows = [-1_000, 2_500, -1_540]
    found = irr(flows)
    assert list(found.rates) == pytest.approx([0.10, 0.40], abs=1e-9)
    assert (found.sign_changes, found.caveat) == (2, "investment.irr_several")
    assert [npv(0.10, flows), npv(0.40, flows)] == pytest.approx([0, 0], abs=1e-9)
    assert npv(0.20, flows) == pytest.approx(13.888889, abs=1e-6)
    assert {round(float(npf.irr(flows)), 6), round(float(pyxirr.irr(flows) or 0), 6)} <= {0.1, 0.4}


@PROPERTY
@given(st.floats(1, 1e7), st.lists(st.floats(0, 1e6), min_size=1, max_size=30).filter(lambda row: sum(row) > 1))
def test_internal_rate_of_a_purchase_is_where_a_library_finds_it_worth_nothing(purchase, incomes):
    found = irr([-purchase, *incomes])
    assert found.rate is not None
    at = (1 + found.rate) ** -np.arange(len(incomes) + 1, dtype=float)
    assert float(npf.npv(found.rate, [-purchase, *incomes])) == pytest.approx(
        0, abs=1e-8 * float(np.abs([-purchase, *incomes]) @ at)
    )


# -- the whole case ---------------------------------------------------------------------------------------------------


def test_a_line_with_an_even_saving_is_the_textbook_project():
    """Published: OpenStax, Principles of Finance 2e; 50,000 that bring 30,000 for six years, at 10 %."""
    case = evaluate_investment(Investment(50_000, 6, 0, 0.10), 30_000)
    assert case.npv == pytest.approx(80_658, abs=0.5)
    assert case.yearly_saving - case.saving_needed == pytest.approx(18_520, abs=0.5)
    assert case.payback_years == pytest.approx(5 / 3)
