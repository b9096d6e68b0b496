"""Whether a laser line pays: what it costs to own, held against what the order book saves with it.

The yearly saving is the **cash** saving of the jobs that move (``costing="cash"``). A saving at full rates has paid for
depreciation, interest and space by the hour already, so with it the line would be counted twice. Money is money of
today, the same in every year of the life, so the interest is the one above inflation. Flows come at the end of a year,
the purchase at the start of the first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from compare.assumptions import Number
from compare.decide.cash_flows import (
    Flows,
    InternalRate,
    annuity_factor,
    cash_flows,
    check_finite,
    discounted_payback_years,
    irr,
    npv,
)
from compare.errors import Finding, InputError

LONGEST_LIFE_Y = 100
"""A life beyond this is a slip of the keyboard [y]."""

_WHERE = "investment"


@dataclass(frozen=True)
class Investment:
    """A line to buy.

    Attributes
    ----------
    purchase : float
        Price with all it takes to run, such as extraction and installation [money].
    life_years : int
        Years of use [y], whole.
    residual : float
        What it sells for at the end [money]; a cost of scrapping is negative.
    interest_pa : float
        Interest that the money has to earn [1/y], above inflation.
    tax_pa : float
        Tax on profit [-], 0 to leave tax out. See :func:`cash_flows`.
    yearly_upkeep : float
        Cash cost of having the line that no hour of running carries [money/y], such as insurance and rent for its space.
        Maintenance is in the cash rate of its hours, and so in the saving, already.

    Raises
    ------
    InputError
        A figure that can't be.
    """

    purchase: float
    life_years: int
    residual: float
    interest_pa: float
    tax_pa: float = 0.0
    yearly_upkeep: float = 0.0

    def __post_init__(self) -> None:
        for name in ("purchase", "life_years", "residual", "interest_pa", "tax_pa", "yearly_upkeep"):
            check_finite(getattr(self, name), name)
        checks = (
            ("purchase", self.purchase >= 0, "can't be negative", "give the price as a positive number"),
            ("life_years", self.life_years == int(self.life_years), "must be whole", "give whole years"),
            ("life_years", self.life_years >= 1, "must be at least 1", "give the years of use"),
            ("life_years", self.life_years <= LONGEST_LIFE_Y, f"must be at most {LONGEST_LIFE_Y}", "give years"),
            ("interest_pa", self.interest_pa > -1, "must be above -1", "give it as a share, such as 0.08"),
            ("tax_pa", 0 <= self.tax_pa < 1, "must be from 0 to below 1", "give it as a share, such as 0.3"),
            ("yearly_upkeep", self.yearly_upkeep >= 0, "can't be negative", "give the cost as a positive number"),
        )
        for name, good, what, remedy in checks:
            if not good:
                value = f"{getattr(self, name):g}"
                raise InputError(f"{what}, and is {value}", where=f"{_WHERE}.{name}", remedy=remedy)
        object.__setattr__(self, "life_years", int(self.life_years))
        annuity_factor(self.interest_pa, self.life_years)  # refuses what no sum could hold

    def flows(self, yearly_saving: Number) -> Flows:
        """Return the flows after tax with this cash saving per year [money], one row per saving."""
        cash = yearly_saving - self.yearly_upkeep
        return cash_flows(self.purchase, cash, self.life_years, residual=self.residual, tax=self.tax_pa)

    def npv(self, yearly_saving: Number) -> Number:
        """Return the net present value with this cash saving per year [money]."""
        return npv(self.interest_pa, self.flows(yearly_saving))

    @property
    def equivalent_annual_cost(self) -> float:
        """Even yearly cost of owning the line, after tax [money/y]."""
        return -float(self.npv(0.0)) / float(annuity_factor(self.interest_pa, self.life_years))

    @property
    def saving_needed(self) -> float:
        """Yearly cash saving, before tax, at which the line just pays [money/y]."""
        return self.equivalent_annual_cost / (1 - self.tax_pa)


@dataclass(frozen=True)
class InvestmentCase:
    """What an investment comes to with a given saving.

    Attributes
    ----------
    investment : Investment
        What is bought.
    yearly_saving : float
        Cash saving of the order book per year, before the cost of owning the line [money/y].
    flows : tuple of float
        After tax, the purchase first [money].
    npv : float
        Net present value [money]: above 0 the line pays.
    npv_low, npv_high : float or None
        The same with the low and the high saving.
    payback_years, discounted_payback_years : float or None
        Until the money is back, without and with interest [y]; ``None`` where it does not come back in the life.
    equivalent_annual_cost : float
        Even yearly cost of owning the line, after tax [money/y].
    irr : InternalRate
        Interest that the money earns.
    saving_needed : float
        Yearly cash saving at which the line just pays [money/y].
    share_needed : float or None
        Share of the yearly saving that must come true for the line to pay [-]: 0.6 leaves room for two fifths of it to
        fail; above 1 the saving is too small; 0 where the line pays without any. ``None`` where there is no saving, so
        that no share of it could carry the line.
    findings : tuple of Finding
        What must be said with these figures.
    """

    investment: Investment
    yearly_saving: float
    flows: tuple[float, ...]
    npv: float
    npv_low: float | None
    npv_high: float | None
    payback_years: float | None
    discounted_payback_years: float | None
    equivalent_annual_cost: float
    irr: InternalRate
    saving_needed: float
    share_needed: float | None
    findings: tuple[Finding, ...] = ()

    @property
    def pays(self) -> bool:
        """Whether the line earns at least its interest."""
        return self.yearly_saving >= self.saving_needed


def evaluate_investment(
    investment: Investment, yearly_saving: float, *, low: float | None = None, high: float | None = None
) -> InvestmentCase:
    """Work out whether a line pays with what the order book saves in a year.

    Parameters
    ----------
    investment : Investment
        What is bought.
    yearly_saving : float
        **Cash** saving of the jobs that move [money/y], before the cost of owning the line. At full rates the saving has
        depreciation, interest and space taken off already, and the line would be paid for twice.
    low, high : float, optional
        Ends of the range of the saving, such as its P10 and P90 [money/y].

    Raises
    ------
    InputError
        A saving that is no number, or a low end above the high one.
    """
    for value, name in ((yearly_saving, "yearly saving"), (low, "low saving"), (high, "high saving")):
        if value is not None:
            check_finite(value, name)
    if low is not None and high is not None and low > high:
        raise InputError(f"low saving {low:g} is above the high one {high:g}", where=_WHERE, remedy="swap them")
    saving = float(yearly_saving)
    flows = investment.flows(saving)
    rate, needed = irr(flows), investment.saving_needed
    at_low, at_high = (None if end is None else float(investment.npv(float(end))) for end in (low, high))
    return InvestmentCase(
        investment=investment,
        yearly_saving=saving,
        flows=tuple(flows.tolist()),
        npv=float(investment.npv(saving)),
        npv_low=at_low,
        npv_high=at_high,
        payback_years=_payback(investment, flows, 0.0),
        discounted_payback_years=_payback(investment, flows, investment.interest_pa),
        equivalent_annual_cost=investment.equivalent_annual_cost,
        irr=rate,
        saving_needed=needed,
        share_needed=max(needed, 0.0) / saving if saving > 0 else None,
        findings=tuple(_findings(saving, rate, at_low, at_high)),
    )


def _payback(investment: Investment, flows: Flows, rate: float) -> float | None:
    """Return the payback [y]; the machine is sold at the end of the last year, not evenly over it."""
    with_sale = float(discounted_payback_years(rate, flows))
    if math.isnan(with_sale):
        return None
    earned = flows.copy()
    earned[-1] -= (1 - investment.tax_pa) * investment.residual
    without = float(discounted_payback_years(rate, earned))
    return float(investment.life_years) if math.isnan(without) else without


def _findings(saving: float, rate: InternalRate, low: float | None, high: float | None) -> Iterable[Finding]:
    if saving <= 0:
        message = "The jobs save no cash on the laser line, so no share of a saving can pay for it."
        yield Finding("investment.no_saving", message, _WHERE, "caution")
    if low is not None and high is not None and low < 0 < high:
        message = "Whether the line pays is open: its net present value is below zero at the low end of the saving."
        yield Finding("investment.open", message, _WHERE, "caution")
    if rate.caveat == "investment.irr_none":
        message = "There is no internal rate of return for these flows; go by the net present value."
        yield Finding(rate.caveat, message, _WHERE)
    elif rate.caveat:
        rates = " and ".join(dict.fromkeys(f"{100 * each:.4g} %" for each in rate.rates))
        message = f"The internal rate of return is not unique ({rates}); go by the net present value."
        yield Finding(rate.caveat, message, _WHERE, "caution")


class ShiftCost(NamedTuple):
    """What a further shift costs, as soon as it is needed."""

    above_h: float
    """Hours on the line per year that do without it [h/y]."""
    money_per_year: float
    """Its cost per year, whatever is cut in it [money/y]."""


def npv_by_hours(
    investment: Investment,
    hours: ArrayLike,
    yearly_saving_by_hours: ArrayLike,
    shift_costs: Iterable[tuple[float, float]] | None = None,
) -> Flows:
    """Return what the line is worth with ever more hours on it [money]: the value curve.

    Parameters
    ----------
    investment : Investment
        What is bought.
    hours : array_like
        Hours on the line [h/y], not negative.
    yearly_saving_by_hours : array_like
        Cash saving of the jobs that fit into these hours [money/y]; broadcasts against `hours`, so that a leading axis
        may hold scenarios.
    shift_costs : iterable of ShiftCost, optional
        Each comes off the saving wherever `hours` are above its own. They put steps into the curve: more hours may be
        worth less.

    Returns
    -------
    ndarray
        Net present value [money], of the broadcast shape.
    """
    on_line, saving = np.asarray(hours, dtype=float), np.asarray(yearly_saving_by_hours, dtype=float)
    if not (np.isfinite(on_line).all() and (on_line >= 0).all()):
        raise InputError("hours must be 0 or more", where=_WHERE, remedy="give productive hours per year")
    if not np.isfinite(saving).all():
        raise InputError("a yearly saving is no number", where=_WHERE, remedy="give one saving for each of the hours")
    try:
        on_line, saving = np.broadcast_arrays(on_line, saving)
    except ValueError:
        what = f"{saving.shape} savings don't fit {on_line.shape} hours"
        raise InputError(what, where=_WHERE, remedy="give one saving for each of the hours") from None
    for above_h, money_per_year in shift_costs or ():
        check_finite(above_h, "hours before a shift")
        check_finite(money_per_year, "cost of a shift")
        saving = saving - np.where(on_line > above_h, money_per_year, 0.0)
    return np.asarray(investment.npv(saving), dtype=float)
