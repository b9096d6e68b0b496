"""Which unknowns a few measured rows tell, and what they are; what they don't tell stays as it was.

An unknown is *needed* (without it there is no calibration) or *extra*. An extra one is fitted where three things hold,
none of which looks at its own value: two rows more than unknowns, a pattern over the rows that the other unknowns can't
stand in for, and an interval that is narrower than the range the value usually has. Otherwise the table of
assumptions knows more than the rows do.

An interval holds for all that the rows leave open: for both ways in which they may scatter where they don't say which, and
over the usual range of what was kept, unless the plant gave it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from compare.decide.least_squares import (
    EXACT,
    MOST_LEFT_OUT,
    LeastSquaresFit,
    Model,
    fit_least_squares,
    robust_start,
    rows_that_belong,
    some_rows,
    told_apart,
)

Spread = Literal["even", "relative"]
"""Whether rows scatter by the same amount, or in proportion to what is measured."""

Why = Literal["few rows", "alike", "unclear", "negative"]
"""Why an unknown was not fitted."""

_OWN_PATTERN = 0.05
"""Least share of an unknown's column that the others can't stand in for: below it, the interval is 20 times as wide."""

_SURE = 3.0
"""Logarithm of how many times likelier one way to scatter must be than the other: 20 times."""


@dataclass(frozen=True)
class Unknown:
    """Something to be fitted.

    Attributes
    ----------
    kept : float
        Its value where it is not fitted.
    low, high : float
        Range it usually has.
    needed : bool
        Whether it is fitted in any case.
    sure : bool
        Whether ``kept`` is known, as the plant's own, and not just usual.
    """

    kept: float
    low: float
    high: float
    needed: bool = False
    sure: bool = False


@dataclass(frozen=True)
class ToldFit:
    """What the rows told.

    Attributes
    ----------
    fitted : tuple of int
        Places of the unknowns that were fitted.
    why_not : mapping of int to str
        Places of the others, and why.
    theta : ndarray
        All unknowns: fitted, or kept as they were.
    fit : LeastSquaresFit
        Estimates and intervals of those that were fitted, in their order.
    belongs : ndarray of bool
        Rows that the fit rests on.
    scattered : bool
        Whether so many rows would not belong that all of them were kept.
    spread : {"even", "relative"}
        How the rows scatter, as is likelier.
    spread_sure : bool
        Whether the other way is ruled out.
    values : ndarray
        What the fit says of every row, those left out too.
    with_all : ndarray or None
        All unknowns with every row in, where rows were left out.
    held_effect : mapping of int to (float, float)
        The first unknown, if one that was kept were at the low or at the high end of its range.
    intervals : mapping of int to (float, float)
        95 % interval of each unknown that was fitted.
    """

    fitted: tuple[int, ...]
    why_not: dict[int, Why]
    theta: np.ndarray
    fit: LeastSquaresFit
    belongs: np.ndarray
    scattered: bool
    spread: Spread
    spread_sure: bool
    values: np.ndarray
    with_all: np.ndarray | None
    held_effect: dict[int, tuple[float, float]]
    intervals: dict[int, tuple[float, float]]

    def half_width(self, place: int) -> float:
        """Return half of the 95 % interval of an unknown that was fitted, all else being as it is taken to be."""
        return float(self.fit.half_widths()[self.fitted.index(place)])


def fit_told(model: Model, unknowns: Sequence[Unknown], measured: np.ndarray, repeats: np.ndarray) -> ToldFit:
    """Fit the unknowns that the rows tell.

    Parameters
    ----------
    model : callable
        Values and Jacobian for all unknowns; both of them linear, or pieces of planes.
    unknowns : sequence of Unknown
        The first one is needed.
    measured : ndarray
        What was measured in each row, above 0.
    repeats : ndarray
        Of how many measurements each row is the mean.

    Returns
    -------
    ToldFit
        Its ``fit.dof`` is below 1 where there are too few rows for the needed unknowns: there is no figure then.
    """
    fitter = _Fitter(model, unknowns, measured, np.sqrt(repeats))
    places = [i for i, u in enumerate(unknowns) if u.needed]
    why_not: dict[int, Why] = {}
    for i, unknown in enumerate(unknowns):
        if unknown.needed:
            continue
        if len(measured) < len(places) + 1 + 2:
            why_not[i] = "few rows"
        elif min(told_apart(fitter.jacobian(sorted([*places, i])))) < _OWN_PATTERN:
            why_not[i] = "alike"
        else:
            places = sorted([*places, i])
    found = fitter.fit(places)
    while (worst := _worst(found, unknowns)) is not None:
        place, why_not[place] = worst
        found = fitter.fit([i for i in found.fitted if i != place])
    if found.fit.dof < 1:
        return found
    return replace(
        found,
        why_not=dict(sorted(why_not.items())),
        held_effect={i: fitter.effect(found, i) for i in why_not},
        intervals=fitter.intervals(found),
    )


def _worst(found: ToldFit, unknowns: Sequence[Unknown]) -> tuple[int, Why] | None:
    """Return the extra unknown that is to be kept as it was, if there is one: the least clear first."""
    if found.fit.dof < 1:
        return None
    extra = [i for i in found.fitted if not unknowns[i].needed]
    clear = {i: 2 * found.half_width(i) / (unknowns[i].high - unknowns[i].low) for i in extra}
    worst = max(clear, key=lambda i: clear[i], default=None)
    if worst is not None and clear[worst] > 1:
        return worst, "unclear"
    below = [i for i in extra if found.theta[i] < 0]
    return (below[0], "negative") if below else None


class _Fitter:
    """The rows, to be fitted with one set of unknowns after the other."""

    def __init__(self, model: Model, unknowns: Sequence[Unknown], measured: np.ndarray, root: np.ndarray) -> None:
        self.model, self.unknowns, self.measured, self.root = model, unknowns, measured, root
        self.kept = np.array([u.kept for u in unknowns])

    def jacobian(self, places: list[int]) -> np.ndarray:
        """Return columns of some unknowns where the first is at its highest, in shares of what was measured."""
        theta = self.kept.copy()
        theta[0] = max(self.unknowns[0].high, theta[0])
        return np.asarray(self.model(theta)[1][:, places] * (self.root / self.measured)[:, None])

    def _part(self, places: list[int], kept: np.ndarray) -> tuple[Model, list[np.ndarray]]:
        """Return the model of some unknowns, the others kept, and starts: the plant's value, and each end of the range."""

        def model(part: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            theta = kept.copy()
            theta[places] = part
            values, jacobian = self.model(theta)
            return values, jacobian[:, places]

        starts = []
        first = self.unknowns[0]
        for value in (kept[0], first.low, 2 * first.high):
            start = kept.copy()
            start[0] = value
            starts.append(start[places])
        return model, starts

    def fit(self, places: list[int]) -> ToldFit:
        model, starts = self._part(places, self.kept)
        n = len(self.measured)
        if n <= len(places):
            nothing = np.full(len(places), np.nan)
            fit = LeastSquaresFit(nothing, np.diag(nothing), np.nan, n - len(places))
            every = np.ones(n, dtype=bool)
            return ToldFit(tuple(places), {}, self.kept, fit, every, False, "even", False, self.measured, None, {}, {})
        start, spread, sure, belongs = self._scatter(model, starts)
        weights = self._weights(spread, model(start)[0])
        scattered = bool(np.mean(~belongs) > MOST_LEFT_OUT)
        if scattered:
            belongs[:] = True
        starts = [start, *starts]
        rows = np.flatnonzero(belongs)
        fit = self._fitted(places, self.kept, rows, weights, starts)
        theta = self._filled(places, fit)
        with_all = None
        if len(rows) < n:
            with_all = self._filled(places, self._fitted(places, self.kept, np.arange(n), weights, starts))
        values = self.model(theta)[0]
        return ToldFit(tuple(places), {}, theta, fit, belongs, scattered, spread, sure, values, with_all, {}, {})

    def _weights(self, spread: Spread, times: np.ndarray) -> np.ndarray:
        """Return factors of the residuals.

        Where rows scatter in proportion, it is in proportion to what a fit says and not to what was measured, so that a
        wild row can't make itself count for more.
        """
        if spread == "even":
            return self.root
        return np.asarray(self.root * float(np.mean(times)) / np.maximum(times, 1e-3 * float(np.max(self.measured))))

    def _scatter(self, model: Model, starts: list[np.ndarray]) -> tuple[np.ndarray, Spread, bool, np.ndarray]:
        """Find out how the rows scatter: the way under which those that belong in one way at least are likelier, as normal ones.

        Returns a robust fit, the way, whether it is much likelier, and the rows that belong.
        """
        ways: tuple[Spread, Spread] = ("even", "relative")
        robust: list[np.ndarray] = []
        weights: list[np.ndarray] = []
        belongs: list[np.ndarray] = []
        for way in ways:
            times = model(robust[0])[0] if robust else self.measured
            weights.append(self._weights(way, times))
            robust.append(robust_start(model, self.measured, robust[:1] or starts, weights[-1]))
            belongs.append(rows_that_belong(model, self.measured, robust[-1], weights[-1]))
        some = np.flatnonzero(belongs[0] | belongs[1])
        if len(some) <= len(starts[0]):
            return robust[0], "even", False, belongs[0]
        unlikely = []
        for start, weight in zip(robust, weights, strict=True):
            fit = fit_least_squares(some_rows(model, some), self.measured[some], [start], weight[some])
            sd = max(fit.residual_sd, EXACT * float(np.max(self.measured)))
            unlikely.append(len(some) * np.log(sd) - float(np.sum(np.log(weight[some]))))
        chosen = int(np.argmin(unlikely))
        sure = abs(unlikely[0] - unlikely[1]) > _SURE
        return robust[chosen], ways[chosen], bool(sure), belongs[chosen]

    def _fitted(
        self, places: list[int], kept: np.ndarray, rows: np.ndarray, weights: np.ndarray, starts: list[np.ndarray]
    ) -> LeastSquaresFit:
        model, _ = self._part(places, kept)
        return fit_least_squares(some_rows(model, rows), self.measured[rows], starts, weights[rows])

    def _filled(self, places: list[int], fit: LeastSquaresFit) -> np.ndarray:
        theta = self.kept.copy()
        theta[places] = fit.estimates
        return theta

    def _again(self, found: ToldFit, spread: Spread, changes: dict[int, float]) -> LeastSquaresFit:
        """Fit the same rows and unknowns with another way to scatter, or with other values of what was kept."""
        places, kept = list(found.fitted), self.kept.copy()
        for place, value in changes.items():
            kept[place] = value
        weights = self._weights(spread, found.values)
        return self._fitted(places, kept, np.flatnonzero(found.belongs), weights, [found.theta[places]])

    def effect(self, found: ToldFit, place: int) -> tuple[float, float]:
        """Return the first unknown with one that was kept at either end of its range."""
        low, high = (
            float(self._again(found, found.spread, {place: value}).estimates[0])
            for value in (self.unknowns[place].low, self.unknowns[place].high)
        )
        return low, high

    def intervals(self, found: ToldFit) -> dict[int, tuple[float, float]]:
        """Return the interval of each unknown that was fitted, over all that the rows leave open."""
        ways: tuple[Spread, ...] = (found.spread,) if found.spread_sure else ("even", "relative")
        open_ = [i for i, u in enumerate(self.unknowns) if i not in found.fitted and not u.sure]
        fits = [found.fit]
        for ends in product(*((self.unknowns[i].low, self.unknowns[i].high) for i in open_)):
            fits += [self._again(found, way, dict(zip(open_, ends, strict=True))) for way in ways]
        lows = np.min([fit.estimates - fit.half_widths() for fit in fits], axis=0)
        highs = np.max([fit.estimates + fit.half_widths() for fit in fits], axis=0)
        return {place: (float(lows[i]), float(highs[i])) for i, place in enumerate(found.fitted)}
