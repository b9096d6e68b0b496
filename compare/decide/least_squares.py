"""Least squares: estimates with their intervals, and rows that don't belong to the others.

The interval of an estimate is the textbook's, by Student's t and the Jacobian at the solution. No row is shaded in
quiet: a row counts in full, or it is left out and its place is told.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

Model = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]
"""From unknowns (p) to what should be measured in each row (n) and its derivatives (n x p)."""

OUTLIER_LEVEL = 0.01
"""Chance that rows without any outlier lose one, about."""

MOST_LEFT_OUT = 0.25
"""Share of the rows that may be left out; beyond it there is no telling who is wrong."""

_MAD_TO_SD = 1.4826
_RANK = 1e-13
EXACT = 1e-9
"""Residuals below this share of what was measured are rounding of the computer."""


@dataclass(frozen=True)
class LeastSquaresFit:
    """Unknowns fitted to rows.

    Attributes
    ----------
    estimates : ndarray
        The unknowns (p).
    covariance : ndarray
        Their covariance (p x p): residual variance times the inverse of J'J; infinite on its diagonal for an unknown that
        the rows leave open.
    residual_sd : float
        Standard deviation of the weighted residuals, with n - p below the sum of squares.
    dof : int
        Degrees of freedom, n - p.
    """

    estimates: np.ndarray
    covariance: np.ndarray
    residual_sd: float
    dof: int

    @property
    def standard_errors(self) -> np.ndarray:
        """Standard error of each unknown."""
        return np.sqrt(np.diag(self.covariance))

    def half_widths(self, share: float = 0.95) -> np.ndarray:
        """Return half of the confidence interval of each unknown, by Student's t with n - p degrees of freedom."""
        return float(student.ppf((1 + share) / 2, self.dof)) * self.standard_errors


def fit_least_squares(
    model: Model, measured: np.ndarray, starts: Sequence[np.ndarray], weights: np.ndarray | None = None
) -> LeastSquaresFit:
    """Fit unknowns by weighted least squares.

    Parameters
    ----------
    model : callable
        Values and Jacobian for given unknowns.
    measured : ndarray
        What was measured in each row (n).
    starts : sequence of ndarray
        Where the search begins; the best end counts. A linear model needs one.
    weights : ndarray, optional
        Factor of each row's residual, inverse to its standard deviation up to a common factor; 1 if left out.

    Returns
    -------
    LeastSquaresFit

    References
    ----------
    Levenberg-Marquardt of MINPACK through scipy; covariance s2 (J'J)^-1 and interval by t: any textbook of regression,
    checked against certified values of NIST's statistical reference datasets.
    """
    w = np.ones_like(measured) if weights is None else weights
    ends = [_search(model, measured, start, w) for start in starts]
    estimates = min(ends, key=lambda end: _cost(model, measured, end, w))
    values, jacobian = model(estimates)
    dof = len(measured) - len(estimates)
    residual_sd = float(np.sqrt(np.sum((w * (measured - values)) ** 2) / dof)) if dof > 0 else np.nan
    covariance = residual_sd**2 * _inverse(jacobian * w[:, None])
    open_ = _open(jacobian * w[:, None])
    covariance[open_, open_] = np.inf
    return LeastSquaresFit(estimates, covariance, residual_sd, dof)


def robust_start(model: Model, measured: np.ndarray, starts: Sequence[np.ndarray], weights: np.ndarray) -> np.ndarray:
    """Return unknowns that a few wild rows hardly move, to judge rows by; they are no estimates.

    A soft L1 loss, close to least absolute deviations, whose scale is the median absolute residual of the step before.
    """
    at = fit_least_squares(model, measured, starts, weights).estimates
    for _ in range(3):
        residuals = weights * (measured - model(at)[0])
        scale = _MAD_TO_SD * float(np.median(np.abs(residuals)))
        floor = EXACT * float(np.max(np.abs(weights * measured)))
        if scale <= floor:  # half of the rows fit exactly
            return at
        at = least_squares(
            lambda theta: weights * (model(theta)[0] - measured),
            at,
            jac=lambda theta: model(theta)[1] * weights[:, None],
            loss="soft_l1",
            f_scale=scale / 4,
            x_scale="jac",
        ).x
    return at


def rows_that_belong(model: Model, measured: np.ndarray, start: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Say which rows agree with one another.

    The better half of the rows is fitted, every row is judged by that fit with the t of a prediction, all that pass make
    the next fit, and so on until nothing changes. Several wild rows so can't hide behind one another.

    Parameters
    ----------
    model : callable
        Values and Jacobian for given unknowns.
    measured : ndarray
        What was measured in each row (n).
    start : ndarray
        Unknowns of :func:`robust_start`.
    weights : ndarray
        Factor of each row's residual.

    Returns
    -------
    ndarray of bool

    References
    ----------
    Hadi & Simonoff, "Procedures for the identification of multiple outliers in linear models", 1993; in blocks after Billor,
    Hadi & Velleman, BACON, 2000 (both from memory). Level after Bonferroni, :data:`OUTLIER_LEVEL`.
    """
    n, p = len(measured), len(start)
    size = max(p + 1, (n + p + 1) // 2)
    if size >= n:
        return np.ones(n, dtype=bool)
    order = np.argsort(np.abs(weights * (measured - model(start)[0])), kind="stable")
    jacobian = model(start)[1] * weights[:, None]
    while size < n and np.linalg.matrix_rank(_unit_columns(jacobian[order[:size]])) < p:
        size += 1
    inside = np.zeros(n, dtype=bool)
    inside[order[:size]] = True
    floor = EXACT * float(np.max(np.abs(weights * measured)))
    for _ in range(n):
        some = np.flatnonzero(inside)
        fit = fit_least_squares(some_rows(model, some), measured[some], [start], weights[some])
        values, jacobian = model(fit.estimates)
        w_jacobian = jacobian * weights[:, None]
        leverage = np.einsum("ij,jk,ik->i", w_jacobian, _inverse(w_jacobian[some]), w_jacobian)
        spread = np.sqrt(np.where(inside, np.maximum(1 - leverage, EXACT), 1 + leverage))
        distance = np.abs(weights * (measured - values)) / (max(fit.residual_sd, floor) * spread)
        passing = distance < student.ppf(1 - OUTLIER_LEVEL / (2 * (len(some) + 1)), fit.dof)
        if passing.sum() <= p + 1 or np.array_equal(passing, inside):
            break
        inside = passing
    return inside


def told_apart(jacobian: np.ndarray) -> np.ndarray:
    """Return for each column what share of it the other columns can't stand in for (n x p to p).

    1 is a column that has nothing to do with the others, 0 one that is a sum of them (or is nothing at all).
    """
    columns = _unit_columns(jacobian)
    shares = np.zeros(columns.shape[1])
    for j, column in enumerate(columns.T):
        others = np.delete(columns, j, axis=1)
        rest = column - others @ np.linalg.lstsq(others, column, rcond=None)[0] if others.size else column
        shares[j] = np.linalg.norm(rest)
    return shares


def some_rows(model: Model, rows: np.ndarray) -> Model:
    """Return the model of some of the rows."""

    def some(theta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        values, jacobian = model(theta)
        return values[rows], jacobian[rows]

    return some


def _search(model: Model, measured: np.ndarray, start: np.ndarray, w: np.ndarray) -> np.ndarray:
    # steps are taken in sizes of the columns, as units of unknowns may differ by many powers of ten
    sizes = _column_sizes(model(start)[1] * w[:, None])
    found = least_squares(
        lambda u: w * (model(u / sizes)[0] - measured),
        start * sizes,
        jac=lambda u: model(u / sizes)[1] * w[:, None] / sizes,
        method="lm" if len(measured) >= len(start) else "trf",
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    ).x
    # one step of Gauss and Newton more takes a linear model to the last digits
    values, jacobian = model(found / sizes)
    step = np.linalg.lstsq(jacobian * w[:, None] / sizes, w * (measured - values), rcond=None)[0]
    better = np.asarray((found + step) / sizes)
    plain = np.asarray(found / sizes)
    return better if _cost(model, measured, better, w) <= _cost(model, measured, plain, w) else plain


def _cost(model: Model, measured: np.ndarray, theta: np.ndarray, w: np.ndarray) -> float:
    return float(np.sum((w * (measured - model(theta)[0])) ** 2))


def _column_sizes(jacobian: np.ndarray) -> np.ndarray:
    sizes = np.linalg.norm(jacobian, axis=0)
    return np.where(sizes > 0, sizes, 1.0)


def _unit_columns(jacobian: np.ndarray) -> np.ndarray:
    return np.asarray(jacobian / _column_sizes(jacobian))


def _open(jacobian: np.ndarray) -> np.ndarray:
    """Say which unknowns can be moved, alone or with others, without any row noticing."""
    n, p = jacobian.shape
    padded = np.vstack([_unit_columns(jacobian), np.zeros((max(p - n, 0), p))])
    _, singular, rows = np.linalg.svd(padded, full_matrices=False)
    return np.asarray(np.any(np.abs(rows[singular <= _RANK * singular[0]]) > 1e-8, axis=0))


def _inverse(jacobian: np.ndarray) -> np.ndarray:
    """Return (J'J)^-1 by singular values of J with columns of one size, which keeps the digits that there are."""
    sizes = _column_sizes(jacobian)
    _, singular, rows = np.linalg.svd(jacobian / sizes, full_matrices=False)
    kept = singular > _RANK * singular[0]
    half = rows[kept] / singular[kept, None]
    return np.asarray((half.T @ half) / np.outer(sizes, sizes))
