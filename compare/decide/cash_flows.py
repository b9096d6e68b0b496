"""Money over time: what a row of yearly flows is worth, when it is back, and what interest it earns.

Flows come at the end of a period, the first of them at once.
"""

from __future__ import annotations

import math
from typing import Any, Literal, NamedTuple

import numpy as np
import pyxirr
from numpy.typing import ArrayLike, NDArray

from compare.assumptions import Number
from compare.errors import InputError

Flows = NDArray[np.float64]
"""Money per period, the first at once [money]: shape (periods,) or (scenarios, periods)."""

IrrCaveat = Literal["", "investment.irr_none", "investment.irr_several"]

_NOISE = 1e-12  # of all the money that flows: a balance below this is zero
_DOUBLE_ROOT = 1e-6  # a double root comes out as a pair with an imaginary part of no more than this
_WHERE = "investment"


def npv(rate: float, flows: ArrayLike) -> Number:
    """Return the net present value [money]: ``sum(flow_t / (1 + rate)**t)``, the first flow at once.

    A spreadsheet's function of that name discounts the first flow as well.

    Parameters
    ----------
    rate : float
        Interest [1/period], above -1.
    flows : array_like
        Money per period [money], shape (periods,) or (scenarios, periods).

    Returns
    -------
    float or ndarray
        One value, or one per scenario.
    """
    money = _flows(flows)
    value: Number = money @ _discounts(rate, money.shape[-1])
    return value if money.ndim > 1 else float(value)


def payback_years(flows: ArrayLike) -> Number:
    """Return after how many periods the money is back for good, NaN where it never is.

    Within a year the flow is taken as even. Where the balance falls below zero again, say by the cost of scrapping, the
    last time it comes up counts.

    Parameters
    ----------
    flows : array_like
        Money per period [money], shape (periods,) or (scenarios, periods).

    Returns
    -------
    float or ndarray
        Periods [y], one per scenario.
    """
    money = _flows(flows)
    balance = np.cumsum(money, axis=-1)
    paid = balance >= -_NOISE * np.abs(money).sum(axis=-1, keepdims=True)
    stays = np.logical_and.accumulate(paid[..., ::-1], axis=-1)[..., ::-1]
    year = np.argmax(stays, axis=-1)[..., None]
    open_before = -np.take_along_axis(balance, np.maximum(year - 1, 0), axis=-1)
    flow = np.take_along_axis(money, year, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        within = np.where(year > 0, year - 1 + np.minimum(open_before / flow, 1.0), 0.0)
    found = np.where(stays[..., -1], within[..., 0], np.nan)
    return found if money.ndim > 1 else float(found)


def discounted_payback_years(rate: float, flows: ArrayLike) -> Number:
    """Return after how many periods the money is back with interest, NaN where it never is [y].

    Parameters
    ----------
    rate : float
        Interest [1/period], above -1.
    flows : array_like
        Money per period [money], shape (periods,) or (scenarios, periods).
    """
    money = _flows(flows)
    return payback_years(money * _discounts(rate, money.shape[-1]))


def annuity_factor(rate: Number, years: Number) -> Number:
    """Return what one unit of money a year is worth today [y]: ``(1 - (1 + rate)**-years) / rate``.

    Parameters
    ----------
    rate : float or ndarray
        Interest [1/y], above -1; at 0 the factor is the number of years.
    years : float or ndarray
        How many payments, each at the end of a year [y].
    """
    if not np.all(np.asarray(rate) > -1):
        raise InputError("interest must be above -100 %", where=_WHERE, remedy="give it as a share, such as 0.08")
    safe = np.where(np.asarray(rate) == 0, 1.0, rate)
    with np.errstate(over="ignore"):
        factor = np.where(np.asarray(rate) == 0, years, -np.expm1(-np.asarray(years) * np.log1p(safe)) / safe)
    if not np.isfinite(factor).all():
        raise InputError("interest is too near -100 % for so many years", where=_WHERE, remedy="give a usual interest")
    return factor if factor.ndim else float(factor)


def equivalent_annual_cost(
    purchase: Number, yearly_cost: Number, rate: Number, years: Number, residual: Number = 0.0
) -> Number:
    """Return the even yearly amount that owning comes to [money/y]: ``(I - S (1 + r)**-n) / a + cost``.

    Machines of different lives can be compared by it, where each would be replaced by its like.

    Parameters
    ----------
    purchase, residual : float or ndarray
        Price today, and value at the end of life [money]; a cost of scrapping is a negative residual.
    yearly_cost : float or ndarray
        Cost of each year [money/y].
    rate : float or ndarray
        Interest [1/y], above -1.
    years : float or ndarray
        Life [y].
    """
    factor = annuity_factor(rate, years)
    end = 1 - rate * factor  # what money at the end of life is worth today
    return (purchase - residual * end) / factor + yearly_cost


def cash_flows(
    purchase: float, yearly_cash: Number, years: int, *, residual: float = 0.0, tax: float = 0.0
) -> NDArray[np.float64]:
    """Return what flows in and out, after tax [money], shape (years + 1,) or (scenarios, years + 1).

    Parameters
    ----------
    purchase : float
        Price, paid at once [money].
    yearly_cash : float or ndarray
        What each year brings in before tax, costs negative [money/y]; one value per scenario.
    years : int
        Life [y].
    residual : float
        What the machine sells for at the end of its life [money].
    tax : float
        Tax on profit [-]. Straight-line depreciation to nothing over the life lowers the profit, so a sale at the end is
        profit in full. A loss saves tax, as it does where other profit is there.
    """
    if years < 1:
        raise InputError("life must be at least a year", where=_WHERE, remedy="give whole years of use")
    each = (1 - tax) * np.asarray(yearly_cash, dtype=float) + tax * purchase / years
    flows = np.repeat(each[..., None], years + 1, axis=-1)
    flows[..., 0] = -purchase
    flows[..., -1] += (1 - tax) * residual
    return flows


class InternalRate(NamedTuple):
    """Interest at which the net present value is zero."""

    rates: tuple[float, ...]
    """Every one there is, in rising order, one where the value only touches zero twice [1/period]."""
    sign_changes: int
    """How often the flows change their sign; there are at most so many rates."""
    caveat: IrrCaveat
    """Empty where the one rate can be quoted; otherwise the code of the reason why none can."""

    @property
    def rate(self) -> float | None:
        """The rate, where there is just one [1/period]."""
        return self.rates[0] if len(self.rates) == 1 else None


def irr(flows: ArrayLike) -> InternalRate:
    """Find every interest above -100 % at which the flows are worth nothing.

    Flows that change their sign more than once may have several such rates, or none, and then none of them says whether
    it pays; the net present value does. With one change of sign there is one rate (Descartes' rule of signs).

    Parameters
    ----------
    flows : array_like
        Money per period [money], shape (periods,).
    """
    money = _flows(flows)
    if money.ndim != 1:
        raise InputError("the internal rate is for one row of flows", where=_WHERE, remedy="give one scenario")
    signs = np.sign(money[money != 0])
    changes = int(np.count_nonzero(signs[1:] != signs[:-1]))
    if changes == 0:
        return InternalRate((), 0, "investment.irr_none")
    scaled = money / np.abs(
        money[money != 0][0]
    )  # the library stops at an amount, which must not depend on the currency
    single = pyxirr.irr(scaled, silent=True) if changes == 1 else None
    rates = _all_rates(scaled) if single is None else (float(single),)
    if not rates:
        return InternalRate((), changes, "investment.irr_none")
    return InternalRate(rates, changes, "" if len(rates) == 1 else "investment.irr_several")


def _all_rates(flows: Flows) -> tuple[float, ...]:
    """Return the real rates above -1 among the roots of the polynomial in ``1 / (1 + rate)``, a double root twice."""
    roots = np.roots(flows[::-1])
    real = roots.real[(roots.real > 0) & (np.abs(roots.imag) <= _DOUBLE_ROOT * np.abs(roots))]
    return tuple(sorted((1 / real - 1).tolist()))


# -- what can't be used -----------------------------------------------------------------------------------------------


def _flows(flows: ArrayLike) -> Flows:
    try:
        money = np.asarray(flows, dtype=float)
    except (TypeError, ValueError):
        raise InputError("flows must be numbers", where=_WHERE, remedy="give one amount per period") from None
    if money.ndim == 0 or money.shape[-1] == 0:
        raise InputError("there are no flows", where=_WHERE, remedy="give one amount per period")
    if not np.isfinite(money).all():
        raise InputError("a flow is not finite", where=_WHERE, remedy="give one amount per period")
    return money


def _discounts(rate: float, periods: int) -> Flows:
    check_finite(rate, "interest")
    if rate <= -1:
        raise InputError("interest must be above -100 %", where=_WHERE, remedy="give it as a share, such as 0.08")
    with np.errstate(over="ignore"):
        factors: Flows = (1.0 + rate) ** -np.arange(periods, dtype=float)
    if not np.isfinite(factors).all():
        raise InputError("interest is too near -100 % for so many years", where=_WHERE, remedy="give a usual interest")
    return factors


def check_finite(value: Any, name: str) -> None:
    """Refuse what is no finite number, by its name."""
    try:
        good = math.isfinite(value)
    except (TypeError, OverflowError):
        good = False
    if not good:
        raise InputError(f"{name} must be a number, not {value!r}", where=_WHERE, remedy="give a finite number")
