"""The fit itself: what rows leave open has no interval, and rows that don't belong are found whoever stands beside them."""

from __future__ import annotations

import numpy as np
import pytest

from compare.decide.least_squares import fit_least_squares, robust_start, rows_that_belong, told_apart


def _line(x: np.ndarray):
    design = np.column_stack([np.ones_like(x), x])
    return lambda b: (design @ b, design)


def _found(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    model, weights = _line(x), np.ones_like(y)
    return rows_that_belong(model, y, robust_start(model, y, [np.zeros(2)], weights), weights)


def test_an_unknown_that_no_row_feels_has_no_interval():
    """A pseudo-inverse would give it a standard error of 0: as sure as can be of what nobody measured."""
    x = np.array([1.0, 2, 3, 4])
    design = np.column_stack([x, np.zeros(4)])
    fit = fit_least_squares(lambda b: (design @ b, design), np.array([1.1, 1.9, 3.2, 3.9]), [np.ones(2)])
    assert np.isfinite(fit.standard_errors).tolist() == [True, False]


def test_two_unknowns_that_stand_in_for_one_another_have_no_interval():
    x = np.array([1.0, 2, 3, 4])
    design = np.column_stack([x, 2 * x])
    fit = fit_least_squares(lambda b: (design @ b, design), np.array([1.1, 1.9, 3.2, 3.9]), [np.ones(2)])
    assert not np.isfinite(fit.standard_errors).any()


def test_columns_are_told_apart_by_what_others_can_not_stand_in_for():
    """Derived: at 60 degrees to one another, sin 60 of each is its own; a column of nothing has nothing of its own."""
    columns = np.array([[1.0, 0.5, 0.0], [0.0, np.sqrt(3) / 2, 0.0]])
    assert told_apart(columns) == pytest.approx([np.sqrt(3) / 2, np.sqrt(3) / 2, 0.0], abs=1e-12)


@pytest.mark.parametrize("wild", [[], [3], [0, 19], [4, 5, 6, 7]])
def test_wild_rows_are_found_alone_and_in_company(wild):
    x = np.arange(20.0)
    y = 3 + 2 * x + 0.1 * np.random.default_rng(7).normal(size=20)
    y[wild] += 4
    assert np.flatnonzero(~_found(x, y)).tolist() == wild


def test_rows_without_noise_all_belong_but_for_the_wild_one():
    """The better half then fits exactly, and rounding of the computer must not make rows wild."""
    x = np.arange(12.0)
    y = 0.1 + 0.3 * x
    y[8] += 0.01
    assert np.flatnonzero(~_found(x, y)).tolist() == [8]


def test_clean_rows_seldom_lose_one():
    """The level is 1 % of tables; 3 % of 200 is beyond 3 standard errors of it."""
    random, lost = np.random.default_rng(11), 0
    for _ in range(200):
        x = random.uniform(0, 10, 16)
        lost += not _found(x, 5 + x + random.normal(size=16)).all()
    assert lost <= 6


def test_a_long_table_is_fitted_whole():
    """100,000 rows, as many as a file may have, without a matrix of rows by rows."""
    x = np.linspace(0, 1, 100_000)
    y = 1 + x + 0.01 * np.random.default_rng(3).normal(size=x.size)
    assert fit_least_squares(_line(x), y, [np.zeros(2)]).estimates == pytest.approx([1, 1], abs=1e-3)
