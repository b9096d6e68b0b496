"""Whether a laser line pays: properties of the figures, and what can't be asked."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.decide.cash_flows import (
    annuity_factor,
    cash_flows,
    discounted_payback_years,
    equivalent_annual_cost,
    irr,
    npv,
    payback_years,
)
from compare.decide.investment import Investment, ShiftCost, evaluate_investment, npv_by_hours
from compare.errors import InputError

LINE = Investment(1_000_000, 8, 100_000, 0.08, yearly_upkeep=20_000)

_money = st.floats(-1e6, 1e6).map(lambda v: round(v, 2))
_rows = st.lists(_money, min_size=1, max_size=25)
_lines = st.builds(
    Investment,
    purchase=st.floats(1e3, 1e7).map(round),
    life_years=st.integers(1, 30),
    residual=st.floats(-1e5, 1e6).map(round),
    interest_pa=st.floats(-0.05, 0.4).map(lambda v: round(v, 4)),
    tax_pa=st.floats(0, 0.6).map(lambda v: round(v, 3)),
    yearly_upkeep=st.floats(0, 1e5).map(round),
)
_savings = st.floats(-1e6, 5e6).map(lambda v: round(v, 2))


def _codes(case):
    return {finding.code for finding in case.findings}


# -- present value ----------------------------------------------------------------------------------------------------


def test_without_interest_the_value_is_the_sum():
    assert npv(0.0, [-100, 30, 40, 50]) == 20


def test_the_first_flow_is_not_discounted():
    """Spreadsheets count it as a year away."""
    assert npv(0.5, [-100]) == -100


@PROPERTY
@given(st.integers(1, 6), st.integers(1, 12), st.floats(-0.3, 1.0))
def test_scenarios_at_once_are_worth_what_each_is_alone(scenarios, periods, rate):
    flows = np.random.default_rng(scenarios * 100 + periods).normal(size=(scenarios, periods)) * 1e5
    found = npv(rate, flows)
    assert found.shape == (scenarios,)
    np.testing.assert_allclose(found, [npv(rate, row) for row in flows], rtol=1e-9, atol=1e-4)


def test_a_single_row_is_worth_a_plain_number():
    assert type(npv(0.1, [-1, 2])) is float


def test_two_projects_together_are_worth_the_sum():
    a, b = np.array([-100.0, 60, 70]), np.array([-50.0, 20, 45])
    assert npv(0.1, a + b) == pytest.approx(npv(0.1, a) + npv(0.1, b), rel=1e-12)


# -- payback ----------------------------------------------------------------------------------------------------------


def test_money_that_never_comes_back_has_no_payback():
    assert math.isnan(payback_years([-100, 30, 30]))


def test_payback_at_the_end_of_a_year_is_that_year():
    assert payback_years([-100, 50, 50, 50]) == 2


def test_a_balance_that_is_zero_but_for_rounding_is_paid_back():
    """0.3 - 0.1 - 0.1 - 0.1 is not zero in binary."""
    assert payback_years([-0.3, 0.1, 0.1, 0.1]) == pytest.approx(3)


def test_nothing_spent_is_back_at_once():
    assert payback_years([0, 10]) == 0
    assert payback_years([5, 10]) == 0


def test_payback_is_when_the_money_is_back_for_good():
    """It is back after 0.4 years and gone again with the cost of scrapping."""
    assert math.isnan(payback_years([-1000, 2500, -1540]))
    assert payback_years([-100, 150, -100, 100]) == pytest.approx(2.5)


def test_payback_of_scenarios_is_that_of_each_alone():
    rows = np.array([[-100.0, 60, 60], [-100, 10, 10], [0, 1, 1], [-100, 150, -20]])
    np.testing.assert_array_equal(payback_years(rows), [payback_years(row) for row in rows])
    np.testing.assert_array_equal(
        discounted_payback_years(0.1, rows), [discounted_payback_years(0.1, row) for row in rows]
    )


@PROPERTY
@given(_rows, st.floats(0, 0.5))
def test_payback_is_the_zero_of_the_balance_and_the_balance_never_falls_below_again(flows, rate):
    """Against walking through the years one by one."""
    found = discounted_payback_years(rate, flows)
    balance, before, walked = 0.0, 0.0, math.nan
    slack = 1e-12 * sum(abs(flow) / (1 + rate) ** year for year, flow in enumerate(flows))
    for year, flow in enumerate(flows):
        before, balance = balance, balance + flow / (1 + rate) ** year
        assume(abs(balance) > 10 * slack or balance == 0)  # no test of which side of zero noise falls
        if balance < 0:
            walked = math.nan
        elif math.isnan(walked):
            walked = 0.0 if year == 0 else year - 1 + before / (before - balance)
    assert found == pytest.approx(walked, rel=1e-6, nan_ok=True)


@PROPERTY
@given(_lines, _savings)
def test_with_interest_the_money_is_never_back_sooner(line, saving):
    assume(line.interest_pa >= 0)
    case = evaluate_investment(line, saving)
    if case.discounted_payback_years is not None and line.residual >= 0:
        assert case.payback_years is not None
        assert case.payback_years <= case.discounted_payback_years * (1 + 1e-9)


def test_a_line_that_only_its_sale_pays_back_is_paid_back_at_the_end():
    """It is sold on the last day, not bit by bit in the last year."""
    case = evaluate_investment(Investment(1000, 4, 500, 0.0), 200)
    assert case.payback_years == 4


def test_a_line_that_scrapping_makes_a_loss_is_never_paid_back():
    case = evaluate_investment(Investment(1000, 4, -300, 0.0), 300)
    assert case.payback_years is None


# -- annuities --------------------------------------------------------------------------------------------------------


def test_without_interest_the_factor_is_the_years():
    assert annuity_factor(0.0, 7) == 7


@PROPERTY
@given(st.floats(-1e-9, 1e-9), st.integers(1, 50))
def test_next_to_no_interest_the_factor_is_next_to_the_years(rate, years):
    """The formula as printed loses all digits here."""
    assert annuity_factor(rate, years) == pytest.approx(years, rel=1e-6)


def test_factors_of_many_rates_are_those_of_each_alone():
    rates, years = np.array([0.0, 0.05, -0.02, 0.3]), np.array([5.0, 8, 10, 3])
    np.testing.assert_array_equal(
        annuity_factor(rates, years),
        [annuity_factor(r, n) for r, n in zip(rates.tolist(), years.tolist(), strict=True)],
    )


def test_owning_without_interest_costs_wear_and_upkeep():
    assert equivalent_annual_cost(1000, 70, 0.0, 8, 200) == pytest.approx(100 + 70)


@PROPERTY
@given(_lines)
def test_equivalent_annual_cost_pays_for_the_machine_exactly(line):
    """Earning just its annual cost, a machine is worth nothing: not more, not less."""
    cost = equivalent_annual_cost(
        line.purchase, line.yearly_upkeep, line.interest_pa, line.life_years, float(line.residual)
    )
    untaxed = dataclasses.replace(line, tax_pa=0.0)
    scale = line.purchase + abs(line.residual) * 5 + line.yearly_upkeep * line.life_years
    assert untaxed.equivalent_annual_cost == pytest.approx(cost, rel=1e-9, abs=1e-9 * scale)
    assert untaxed.npv(cost) == pytest.approx(0, abs=1e-8 * scale)


# -- tax --------------------------------------------------------------------------------------------------------------


def test_tax_is_taken_off_profit_and_depreciation_lowers_it():
    """Derived: 400 a year, 250 of it depreciation, 30 % of 150 is 45; the sale is profit in full."""
    assert cash_flows(1000, 400, 4, residual=100, tax=0.3).tolist() == pytest.approx([-1000, 355, 355, 355, 355 + 70])


def test_no_tax_leaves_the_flows():
    assert cash_flows(1000, 400, 2, residual=100).tolist() == [-1000, 400, 500]


def test_flows_of_many_savings_are_a_row_each():
    found = LINE.flows(np.array([100_000.0, 300_000.0]))
    np.testing.assert_array_equal(found, [LINE.flows(100_000.0), LINE.flows(300_000.0)])


# -- internal rate ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("flows", [[100, 20], [-100, -20], [0, 0], [-100, 0, 0], [5]])
def test_flows_of_one_sign_have_no_internal_rate(flows):
    found = irr(flows)
    assert (found.rate, found.rates, found.sign_changes, found.caveat) == (None, (), 0, "investment.irr_none")


def test_two_changes_of_sign_may_leave_no_rate():
    """-1,000 + 2,500 v - 1,600 v^2 has no zero."""
    assert irr([-1000, 2500, -1600]) == ((), 2, "investment.irr_none")


def test_a_value_that_only_touches_zero_gives_no_rate_to_quote():
    """At 25 % it is worth nothing, and at every other interest less: 25 % would sound like a good investment."""
    found = irr([-1000, 2500, -1562.5])
    assert list(found.rates) == pytest.approx([0.25, 0.25], abs=1e-6)
    assert (found.rate, found.caveat) == (None, "investment.irr_several")


def test_three_changes_of_sign_with_one_rate_give_it():
    """Derived: (v - 1/1.1)(v^2 + 1) has one real zero."""
    found = irr([-10, 11, -10, 11])
    assert (found.sign_changes, found.caveat) == (3, "")
    assert found.rate == pytest.approx(0.1, abs=1e-9)


def test_years_without_a_flow_change_no_sign():
    assert irr([-100, 0, 0, 121]).sign_changes == 1


@PROPERTY
@given(st.lists(st.floats(-0.5, 1.5).map(lambda v: round(v, 2)), min_size=2, max_size=4, unique=True))
def test_every_rate_that_was_put_in_is_found(rates):
    """Flows built from their rates: the product of (v (1 + r) - 1)."""
    flows = np.array([1.0])
    for rate in rates:
        flows = np.convolve(flows, [-1.0, 1 + rate])
    found = irr(flows)
    assert list(found.rates) == pytest.approx(sorted(rates), abs=1e-4)
    assert found.caveat == "investment.irr_several"


@PROPERTY
@given(_rows)
def test_there_are_never_more_rates_than_changes_of_sign(flows):
    """Descartes' rule; a code is there whenever there is not just one to quote."""
    found = irr(flows)
    assert len(found.rates) <= found.sign_changes
    assert (found.rate is None) == bool(found.caveat)


@PROPERTY
@given(_lines, st.floats(0, 5e6), st.sampled_from([1e-3, 0.25, 1000.0]))
def test_another_currency_leaves_the_internal_rate(line, saving, k):
    flows = line.flows(saving)
    assert list(irr(k * flows).rates) == pytest.approx(list(irr(flows).rates), rel=1e-6, abs=1e-6)


# -- the case ---------------------------------------------------------------------------------------------------------


@PROPERTY
@given(_lines, _savings)
def test_with_the_saving_needed_the_line_is_worth_nothing(line, saving):
    case = evaluate_investment(line, saving)
    again = evaluate_investment(line, case.saving_needed)
    assert again.npv == pytest.approx(0, abs=1e-8 * float(np.abs(again.flows).sum()))
    assert case.pays == (case.yearly_saving >= case.saving_needed)


@PROPERTY
@given(_lines, st.floats(1, 5e6))
def test_with_the_share_needed_the_line_is_worth_nothing_or_needs_none(line, saving):
    case = evaluate_investment(line, saving)
    assert case.share_needed is not None
    remaining = float(line.npv(case.share_needed * saving))
    if case.share_needed > 0:
        assert remaining == pytest.approx(0, abs=1e-8 * float(np.abs(line.flows(case.share_needed * saving)).sum()))
    else:
        assert remaining >= -1e-8 * float(np.abs(line.flows(0.0)).sum())


@pytest.mark.parametrize("saving", [0, -5_000])
def test_no_saving_has_no_share_and_says_so(saving):
    """No share of a loss carries a purchase; an infinite or negative share would be read wrongly."""
    case = evaluate_investment(LINE, saving)
    assert case.share_needed is None
    assert "investment.no_saving" in _codes(case)


def test_a_line_that_sells_for_more_than_it_costs_needs_no_saving():
    case = evaluate_investment(Investment(100, 1, 200, 0.1), 10)
    assert case.share_needed == 0
    assert case.pays


@PROPERTY
@given(_lines, st.tuples(_savings, _savings, _savings).map(sorted))
def test_more_saving_is_never_worth_less(line, savings):
    low, base, high = savings
    case = evaluate_investment(line, base, low=low, high=high)
    slack = 1e-9 * float(np.abs(line.flows(high)).sum() + np.abs(line.flows(low)).sum())
    assert case.npv_low <= case.npv + slack
    assert case.npv <= case.npv_high + slack


def test_without_a_range_there_is_no_low_and_no_high():
    case = evaluate_investment(LINE, 250_000)
    assert (case.npv_low, case.npv_high) == (None, None)


def test_a_range_about_zero_leaves_it_open_and_says_so():
    assert "investment.open" in _codes(evaluate_investment(LINE, 200_000, low=100_000, high=300_000))
    assert "investment.open" not in _codes(evaluate_investment(LINE, 300_000, low=290_000, high=310_000))


def test_a_line_worked_by_hand():
    """Derived: 1,000 for two years without interest; 700 - 100 a year, sold for 200."""
    case = evaluate_investment(Investment(1000, 2, 200, 0.0, yearly_upkeep=100), 700)
    assert case.flows == (-1000, 600, 800)
    assert (case.npv, case.equivalent_annual_cost, case.saving_needed) == pytest.approx((400, 500, 500))
    assert case.share_needed == pytest.approx(5 / 7)
    assert case.payback_years == pytest.approx(1 + 400 / 600)
    assert case.findings == ()


def test_scrapping_that_makes_the_rate_ambiguous_is_said():
    case = evaluate_investment(Investment(1000, 2, -4040, 0.2), 2500)
    assert case.flows == (-1000, 2500, -1540)
    (finding,) = case.findings
    assert finding.code == "investment.irr_several"
    assert "10 % and 40 %" in finding.message


def test_a_line_that_brings_nothing_has_no_rate_and_says_so():
    assert "investment.irr_none" in _codes(evaluate_investment(Investment(1000, 3, 0, 0.1), 0))


@PROPERTY
@given(_lines, _savings, st.sampled_from([0.01, 0.5, 7.25]))
def test_another_currency_scales_the_money_and_leaves_the_rest(line, saving, k):
    scaled = dataclasses.replace(
        line, purchase=k * line.purchase, residual=k * line.residual, yearly_upkeep=k * line.yearly_upkeep
    )
    a, b = evaluate_investment(line, saving), evaluate_investment(scaled, k * saving)
    scale = float(np.abs(a.flows).sum())
    assert b.npv == pytest.approx(k * a.npv, rel=1e-9, abs=1e-9 * k * scale)
    assert b.saving_needed == pytest.approx(k * a.saving_needed, rel=1e-9, abs=1e-9 * k * scale)
    if a.share_needed is None:
        assert b.share_needed is None
    else:
        assert b.share_needed == pytest.approx(a.share_needed, rel=1e-6, abs=1e-9 * scale / saving)


# -- the value curve --------------------------------------------------------------------------------------------------


def test_every_point_of_the_curve_is_its_own_case():
    hours, savings = np.array([0.0, 1000, 2000]), np.array([0.0, 150_000, 220_000])
    expected = [evaluate_investment(LINE, saving).npv for saving in savings.tolist()]
    np.testing.assert_allclose(npv_by_hours(LINE, hours, savings), expected, rtol=1e-12)


def test_a_shift_costs_from_the_first_hour_above_the_one_before():
    """Derived: without interest and tax a yearly cost of 50 is 8 x 50 over the life."""
    line = Investment(1000, 8, 0, 0.0)
    hours = [1500, 1600, 1601, 3201]
    plain = npv_by_hours(line, hours, 300)
    staffed = npv_by_hours(line, hours, 300, [ShiftCost(1600, 50), ShiftCost(3200, 70)])
    np.testing.assert_allclose(plain - staffed, [0, 0, 400, 960], rtol=1e-12)


def test_scenarios_have_a_curve_each():
    savings = np.arange(6.0).reshape(2, 3) * 1e5
    found = npv_by_hours(LINE, [0, 1000, 2000], savings, [(1500, 30_000)])
    assert found.shape == (2, 3)
    np.testing.assert_allclose(found[1], npv_by_hours(LINE, [0, 1000, 2000], savings[1], [(1500, 30_000)]), rtol=1e-12)


# -- what can't be asked ----------------------------------------------------------------------------------------------

GOOD = {"purchase": 1e6, "life_years": 8, "residual": 1e5, "interest_pa": 0.08}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("purchase", -1.0), ("purchase", math.nan), ("purchase", math.inf), ("purchase", "much"), ("purchase", None),
        ("life_years", 0), ("life_years", -3), ("life_years", 7.5), ("life_years", 101), ("life_years", math.inf),
        ("residual", math.nan), ("interest_pa", -1.0), ("interest_pa", -1.5), ("interest_pa", math.nan),
        ("tax_pa", -0.1), ("tax_pa", 1.0), ("tax_pa", 30), ("yearly_upkeep", -5.0),
    ],
)  # fmt: skip
def test_a_figure_that_cannot_be_is_refused_by_its_name(name, value):
    with pytest.raises(InputError) as caught:
        Investment(**GOOD | {name: value})
    assert name in str(caught.value)
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_whole_years_may_come_as_a_float():
    """Forms and files deliver 8.0."""
    line = Investment(**GOOD | {"life_years": 8.0})
    assert type(line.life_years) is int
    assert len(line.flows(0.0)) == 9


def test_interest_that_no_sum_could_hold_is_refused():
    with pytest.raises(InputError, match="too near -100 %"):
        Investment(1e6, 100, 0, -0.99999)


def test_a_low_end_above_the_high_one_is_refused():
    with pytest.raises(InputError, match="above the high one"):
        evaluate_investment(LINE, 100, low=200, high=50)


@pytest.mark.parametrize("ends", [{"low": math.nan}, {"high": math.inf}])
def test_an_end_of_the_range_that_is_no_number_is_refused(ends):
    with pytest.raises(InputError, match="finite number"):
        evaluate_investment(LINE, 100, **ends)


@pytest.mark.parametrize("call", [
    lambda: npv(-1.0, [1, 2]), lambda: npv(math.nan, [1]), lambda: npv(0.1, []), lambda: npv(0.1, 5),
    lambda: npv(0.1, [1, math.nan]), lambda: npv(0.1, ["a"]), lambda: npv(-0.999999, np.ones(200)),
    lambda: payback_years([]), lambda: discounted_payback_years(-2, [1, 2]), lambda: annuity_factor(-1.0, 5),
    lambda: annuity_factor(math.nan, 5), lambda: irr([[1, -2], [1, -2]]), lambda: irr([math.inf, -1]),
    lambda: cash_flows(100, 20, 0), lambda: evaluate_investment(LINE, math.nan),
    lambda: npv_by_hours(LINE, [-1], [5]), lambda: npv_by_hours(LINE, [1], [math.nan]),
    lambda: npv_by_hours(LINE, [1, 2], [1, 2, 3]), lambda: npv_by_hours(LINE, [1], [5], [(math.nan, 5)]),
])  # fmt: skip
def test_what_cannot_be_computed_is_refused_with_a_remedy(call):
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.remedy
