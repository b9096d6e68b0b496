"""The fit behind a calibration against certified and textbook values of regression."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from compare.decide.least_squares import LeastSquaresFit, fit_least_squares

# Published: NIST Statistical Reference Datasets, Norris (calibration of ozone monitors), level of difficulty lower.
NORRIS = np.fromstring("""
    0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6 778.9 777.0 559.2 558.2
    0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6
    119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2
    668.4 669.1 449.2 448.9 0.2 0.5
""", sep=" ").reshape(-1, 2)  # fmt: skip

# Published: NIST StRD, Longley (higher difficulty: columns that nearly stand in for one another), J. W. Longley, 1967.
LONGLEY = np.fromstring("""
    60323 83.0 234289 2356 1590 107608 1947  61122 88.5 259426 2325 1456 108632 1948  60171 88.2 258054 3682 1616 109773 1949
    61187 89.5 284599 3351 1650 110929 1950  63221 96.2 328975 2099 3099 112075 1951  63639 98.1 346999 1932 3594 113270 1952
    64989 99.0 365385 1870 3547 115094 1953  63761 100.0 363112 3578 3350 116219 1954  66019 101.2 397469 2904 3048 117388 1955
    67857 104.6 419180 2822 2857 118734 1956  68169 108.4 442769 2936 2798 120445 1957  66513 110.8 444546 4681 2637 121950 1958
    68655 112.6 482704 3813 2552 123366 1959  69564 114.2 502601 3931 2514 125368 1960  69331 115.7 518173 4806 2572 127852 1961
    70551 116.9 554894 4007 2827 130081 1962
""", sep=" ").reshape(-1, 7)  # fmt: skip

# Published: NIST StRD, Misra1a (nonlinear, y = b1 (1 - exp(-b2 x))), D. Misra, 1978.
MISRA_X = np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0])
MISRA_Y = np.array([10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78])


def _linear(y: np.ndarray, *columns: np.ndarray, weights: np.ndarray | None = None) -> LeastSquaresFit:
    design = np.column_stack([np.ones_like(y), *columns])
    return fit_least_squares(lambda b: (design @ b, design), y, [np.zeros(design.shape[1])], weights)


def test_norris_is_fitted_to_its_certified_values():
    """Published: certified estimates and standard deviations of NIST StRD, Norris."""
    fit = _linear(NORRIS[:, 0], NORRIS[:, 1])
    assert fit.estimates == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-11)
    assert fit.standard_errors == pytest.approx([0.232818234301152, 0.429796848199937e-03], rel=1e-11)
    assert (fit.residual_sd, fit.dof) == (pytest.approx(0.884796396144373, rel=1e-11), 34)


def test_longley_is_fitted_to_its_certified_values():
    """Published: certified values of NIST StRD, Longley; a careless solution loses half of the digits or more."""
    fit = _linear(LONGLEY[:, 0], *LONGLEY[:, 1:].T)
    certified = (
        (-3482258.63459582, 890420.383607373),
        (15.0618722713733, 84.9149257747669),
        (-0.0358191792925910, 0.0334910077722432),
        (-2.02022980381683, 0.488399681651699),
        (-1.03322686717359, 0.214274163161675),
        (-0.0511041056535807, 0.226073200069370),
        (1829.15146461355, 455.478499142212),
    )
    assert fit.estimates == pytest.approx([value for value, _ in certified], rel=1e-9)
    assert fit.standard_errors == pytest.approx([sd for _, sd in certified], rel=1e-9)
    assert fit.residual_sd == pytest.approx(304.854073561965, rel=1e-9)


@pytest.mark.parametrize("start", [(500, 1e-4), (250, 5e-4)], ids=["start 1", "start 2"])
def test_misra_is_fitted_to_its_certified_values_from_both_starts(start):
    """Published: certified values and starts of NIST StRD, Misra1a (nonlinear)."""

    def model(b: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        left = np.exp(-b[1] * MISRA_X)
        return b[0] * (1 - left), np.column_stack([1 - left, b[0] * MISRA_X * left])

    fit = fit_least_squares(model, MISRA_Y, [np.array(start)])
    assert fit.estimates == pytest.approx([2.3894212918e02, 5.5015643181e-04], rel=1e-8)
    assert fit.standard_errors == pytest.approx([2.7070075241e00, 7.2668688436e-06], rel=1e-6)
    assert fit.residual_sd == pytest.approx(1.0187876330e-01, rel=1e-9)


def test_the_interval_of_a_slope_is_that_of_the_textbook():
    """Derived: slope and standard error by scipy's `linregress`, times t with n - 2 degrees of freedom."""
    y, x = NORRIS.T
    other = stats.linregress(x, y)
    fit = _linear(y, x)
    half = stats.t.ppf(0.975, len(x) - 2) * np.array([other.intercept_stderr, other.stderr])
    assert fit.estimates == pytest.approx([other.intercept, other.slope], rel=1e-10)
    assert fit.half_widths() == pytest.approx(half, rel=1e-10)


def test_weights_are_those_of_a_weighted_polynomial():
    """Derived: numpy's `polyfit`, whose weights are factors of the residuals too."""
    y, x = NORRIS.T
    weights = 1 / (5 + y)
    (slope, intercept), covariance = np.polyfit(x, y, 1, w=weights, cov=True)
    fit = _linear(y, x, weights=weights)
    assert fit.estimates == pytest.approx([intercept, slope], rel=1e-9)
    assert fit.standard_errors == pytest.approx(np.sqrt(np.diag(covariance))[::-1], rel=1e-9)
