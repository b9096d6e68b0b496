"""What a calibration is: values of a plant with their intervals, and what must be said with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from compare.decide.fit_unknowns import ToldFit, Unknown, Why
from compare.errors import Finding
from compare.readers.measured import MeasuredTable

LARGE_RESIDUALS = {"seconds": 0.10, "hours": 0.30}
"""Share of what was measured above which residuals are remarked on; people vary more than machines."""

_FEW_DOF = 5
_MOST_NAMED = 10
"""Rows left out that are named one by one."""

_WHY = {
    "few rows": "there are too few rows for one more unknown",
    "alike": "it grows in step with other columns, so that the rows can't tell it apart",
    "unclear": "the rows leave it open wider than its usual range",
    "negative": "the rows would put it below 0",
}


@dataclass(frozen=True)
class Estimate:
    """One value of the plant after a calibration.

    Attributes
    ----------
    name : str
        Dotted name, or :data:`STROKE` for the sum of two.
    unit : str
        Its unit.
    value : float
        Fitted, or kept as it was.
    low, high : float or None
        95 % interval; ``None`` where the value was kept.
    before : float
        What the plant had.
    why_not : str
        Why it was kept; empty where it was fitted.
    """

    name: str
    unit: str
    value: float
    low: float | None
    high: float | None
    before: float
    why_not: Why | str = ""


@dataclass(frozen=True)
class Calibration:
    """What a table of measurements says about the plant.

    Attributes
    ----------
    table : MeasuredTable
        The rows.
    estimates : tuple of Estimate
        What could be told and what could not.
    values : mapping
        Dotted name to value: what is to be written into a plant file.
    told : ToldFit
        The fit itself.
    residual_share : float
        Standard deviation of the rows about the fit, as a share of what was measured.
    findings : tuple of Finding
        What must be said with it.
    """

    table: MeasuredTable
    estimates: tuple[Estimate, ...]
    values: Mapping[str, float]
    told: ToldFit
    residual_share: float
    findings: tuple[Finding, ...]


def estimate_of(told: ToldFit, place: int, name: str, unit: str, unknown: Unknown) -> Estimate:
    """Return one unknown with its interval, or why it was kept."""
    value = float(told.theta[place])
    if place in told.why_not:
        return Estimate(name, unit, value, None, None, unknown.kept, told.why_not[place])
    low, high = told.intervals[place]
    return Estimate(name, unit, value, low, high, unknown.kept)


def outlier_findings(table: MeasuredTable, told: ToldFit, measured: np.ndarray, unit: str, name: str) -> list[Finding]:
    """Name the rows that were left out, and what the first unknown would be with them."""
    if told.scattered:
        return [
            Finding(
                "calibrate.scattered",
                "More than a quarter of the rows don't agree with the others, so all were kept: look for two kinds of board, "
                "two machines or two units in one file.",
                table.source,
                "caution",
            )
        ]
    found = []
    for i in np.flatnonzero(~told.belongs)[:_MOST_NAMED]:
        with_all = f"; with every row, {name} would be {told.with_all[0]:.4g}" if told.with_all is not None else ""
        called = f" ({table.names[i]})" if table.names[i] else ""
        found.append(
            Finding(
                "calibrate.outlier",
                f"Row {table.rows[i]}{called} has {measured[i]:.4g} {unit} where the others say {told.values[i]:.4g} {unit}: "
                f"it is left out{with_all}. Check the row.",
                f"{table.source}, row {table.rows[i]}",
                "caution",
            )
        )
    if (more := int(np.count_nonzero(~told.belongs)) - len(found)) > 0:
        found.append(Finding("calibrate.outlier", f"{more} more rows are left out likewise.", table.source, "caution"))
    return found


def fit_findings(
    told: ToldFit, estimates: Sequence[Estimate], unknowns: Sequence[Unknown], residual_share: float, what: str
) -> list[Finding]:
    """Remark on values outside their range, intervals that say little, and rows that lie far off."""
    found = []
    for estimate, unknown in zip(estimates, unknowns, strict=True):
        if estimate.low is None or estimate.high is None:
            continue
        span = f"{unknown.low:.4g} to {unknown.high:.4g} {estimate.unit}"
        if not unknown.low <= estimate.value <= unknown.high:
            text = f"{estimate.name} comes out at {estimate.value:.4g} {estimate.unit}, outside the usual {span}: check rows and units."
            found.append(Finding("calibrate.out_of_range", text, estimate.name, "caution"))
        if unknown.needed and estimate.high - estimate.low > unknown.high - unknown.low:
            text = f"The interval of {estimate.name} is wider than its usual range ({span}): these rows say little; measure more."
            found.append(Finding("calibrate.wide", text, estimate.name, "caution"))
    if residual_share > LARGE_RESIDUALS[what]:
        text = (
            f"The rows lie {100 * residual_share:.0f} % of their {what} off the fit, which is much: something that they "
            "differ by is not in the table."
        )
        found.append(Finding("calibrate.large_residuals", text, "", "caution"))
    if told.fit.dof < _FEW_DOF:
        text = f"{int(told.belongs.sum())} rows for {len(told.fitted)} unknown{'s' if len(told.fitted) > 1 else ''}: the interval is wide because they are few."
        found.append(Finding("calibrate.few_rows", text))
    return found


def held_findings(told: ToldFit, estimates: Sequence[Estimate], unknowns: Sequence[Unknown]) -> list[Finding]:
    """Say of each value that was kept why, and what hangs on it."""
    found = []
    for i, why in told.why_not.items():
        low, high = told.held_effect[i]
        kept, first, u = estimates[i], estimates[0], unknowns[i]
        known = (
            "As the plant file gives it, it is taken as known"
            if u.sure
            else "The interval of the others holds for both"
        )
        text = (
            f"{kept.name} stays {kept.value:.4g} {kept.unit}: {_WHY[why]}. At the ends of its usual range ({u.low:.4g} to {u.high:.4g} "
            f"{kept.unit}) {first.name} would be {low:.4g} and {high:.4g} {first.unit}. {known}."
        )
        found.append(Finding("calibrate.kept", text, kept.name))
    if not told.spread_sure:
        text = (
            "The rows don't say clearly whether they scatter by the same amount or in proportion to what was measured: the intervals "
            "hold for both."
        )
        found.append(Finding("calibrate.scatter", text))
    return found
