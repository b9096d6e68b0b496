"""Machine-hour rates from purchase price and hours."""

from __future__ import annotations

from typing import NamedTuple

from compare.assumptions import Number
from compare.errors import InputError


class MachineHourRate(NamedTuple):
    """Parts of a machine-hour rate, without labour [money/h]."""

    depreciation: Number
    interest: Number
    space: Number
    maintenance: Number
    energy: Number
    other: Number

    @property
    def full(self) -> Number:
        """Every part: what an hour costs in the long run."""
        return self.depreciation + self.interest + self.space + self.maintenance + self.energy + self.other

    @property
    def cash(self) -> Number:
        """What an hour costs with the machine standing there: no depreciation, interest or space."""
        return self.maintenance + self.energy + self.other


def hourly_rate(fixed_per_year: Number, hours_per_year: Number, variable_per_hour: Number = 0.0) -> Number:
    """Return yearly cost per productive hour, plus what every hour costs by itself [money/h].

    Parameters
    ----------
    fixed_per_year : float or ndarray
        Cost that comes whether the machine runs or not [money/y].
    hours_per_year : float or ndarray
        Productive hours [h/y], above 0.
    variable_per_hour : float or ndarray
        Cost of a running hour [money/h].
    """
    _above_zero(hours_per_year, "hours per year")
    return fixed_per_year / hours_per_year + variable_per_hour


def machine_hour_rate(
    *,
    purchase: Number,
    residual: Number = 0.0,
    life_y: Number,
    interest: Number,
    hours_per_year: Number,
    space_per_year: Number = 0.0,
    maintenance_per_year: Number = 0.0,
    energy_per_hour: Number = 0.0,
    other_per_hour: Number = 0.0,
    interest_base: Number | None = None,
) -> MachineHourRate:
    """Work out a machine-hour rate.

    Parameters
    ----------
    purchase, residual : float or ndarray
        Purchase (or replacement) price, and value at the end of life [money]. A cost of scrapping
        is a negative residual.
    life_y : float or ndarray
        Years of use [y].
    interest : float or ndarray
        Imputed interest on the mean capital [1/y].
    hours_per_year : float or ndarray
        Productive hours [h/y].
    space_per_year, maintenance_per_year : float or ndarray
        Rent and maintenance [money/y].
    energy_per_hour, other_per_hour : float or ndarray
        Energy and tools, where the rate is to hold them [money/h].
    interest_base : float or ndarray, optional
        Capital that bears interest [money], where it is not the mean (A + R)/2.

    Returns
    -------
    MachineHourRate

    References
    ----------
    The method as taught in German cost accounting: depreciation (A - R)/life and interest on
    (A + R)/2; worked examples at av.tib.eu/media/17936, abwl-camp.de and controllingportal.de.
    """
    _above_zero(life_y, "life")
    _above_zero(hours_per_year, "hours per year")
    base = (purchase + residual) / 2 if interest_base is None else interest_base
    return MachineHourRate(
        depreciation=(purchase - residual) / life_y / hours_per_year,
        interest=interest * base / hours_per_year,
        space=space_per_year / hours_per_year,
        maintenance=maintenance_per_year / hours_per_year,
        energy=energy_per_hour,
        other=other_per_hour,
    )


def _above_zero(value: Number, what: str) -> None:
    if not (value > 0 if isinstance(value, (int, float)) else (value > 0).all()):
        raise InputError(f"{what} must be above 0", where="machine-hour rate", remedy="give a number above 0")
