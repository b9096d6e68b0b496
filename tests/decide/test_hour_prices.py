"""Bound of the saving, value of one more hour, and the saving for many limits at once."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.decide.choice_items import merge
from compare.decide.hour_prices import Question, bound_and_prices, saving_by_limit
from compare.decide.selection import choose
from compare.errors import InputError

from .selection_books import NEAR, books, hours, tried, with_limits


@settings(max_examples=150, deadline=None)
@given(book=books(settled=False), data=st.data())
def test_any_prices_prove_a_bound(book, data):
    """However bad the prices are; so an answer cut short is still honest."""
    items = merge(**book)
    question = Question.of(items, items.open())
    prices = np.array(data.draw(st.lists(st.floats(0, 50), min_size=len(question.room), max_size=len(question.room))))
    assert question.bound(prices) >= tried(book) - NEAR
    assert question.bound(prices) >= question.bound(question.prices()) - NEAR


def routes(book):
    """Arguments of the bound for what settles a job of a book."""
    names = {"laser_possible": "movable", "groups": "groups", "pinned": "pinned", "die_possible": "die_possible"}
    return {names[name]: values for name, values in book.items() if name in names}


@settings(max_examples=100, deadline=None)
@given(book=books())
def test_the_bound_holds_whatever_is_settled(book):
    best = tried(book)
    if best is not None:
        assert bound_and_prices(book["saving"], book["capacities"], **routes(book)).value >= best - NEAR


@settings(max_examples=100, deadline=None)
@given(book=books(settled=False), times=st.floats(0.1, 3))
def test_the_bound_is_concave_in_the_limits(book, times):
    """Each further hour is worth no more than the one before."""
    low, mid, high = (bound_and_prices(**with_limits(book, f)).value for f in (1, (1 + times) / 2, times))
    assert mid >= (low + high) / 2 - NEAR


@settings(max_examples=100, deadline=None)
@given(book=books(settled=False))
def test_prices_are_not_negative_and_what_is_not_scarce_costs_nothing(book):
    found = bound_and_prices(**book)
    saves = book["saving"] > 0
    for price, capacity in zip(found.prices, book["capacities"], strict=True):
        assert price >= 0
        assert price == 0 or capacity.use[saves].sum() > capacity.limit


def test_prices_of_a_choice_are_those_of_the_bound_also_where_a_job_is_too_large_to_move():
    """At no hours at all nothing fits whole; the first hour is still worth 3."""
    saving, capacity = np.array([1.0, 2.0, 3.0]), hours([1, 1, 1], 0)
    assert bound_and_prices(saving, [capacity]).prices.tolist() == [3]
    chosen = choose(saving, [capacity])
    assert chosen.prices.tolist() == [3]
    assert chosen.bound == 0


def test_where_hours_run_out_exactly_one_more_is_worth_what_the_next_job_makes_of_it():
    assert bound_and_prices(np.array([9.0, 4.0]), [hours([1, 2], 1)]).prices.tolist() == [2]


def test_pins_that_exceed_a_limit_are_named_beside_the_bound():
    found = bound_and_prices(np.array([1.0, 5.0]), [hours([2, 1], 1)], pinned=np.array([1, -1]))
    assert (found.value, found.prices.tolist(), found.overfull) == (1, [0], ("hours a year",))


def months_book(jobs, seed):
    """A year, twelve months and a board, all scarce."""
    rng = np.random.default_rng(seed)
    use = rng.lognormal(1, 1, jobs)
    month, board = rng.integers(0, 12, jobs), rng.random(jobs) < 0.3
    rows = [use, *(use * (month == k) for k in range(12)), use * board]
    limits = [0.27, *rng.uniform(0.02, 0.03, 12), 0.05]
    capacities = [hours(row, s * use.sum(), f"row {k}") for k, (row, s) in enumerate(zip(rows, limits, strict=True))]
    return rng.normal(30, 120, jobs) * use**0.7, capacities


def test_what_moves_at_the_prices_agrees_with_them():
    """Proof of the bound by a choice in parts: all scarce limits are met by what is worth its price, up to the margin."""
    saving, capacities = months_book(30_000, 1)
    found = bound_and_prices(saving, capacities)
    worth = saving - sum(p * c.use for p, c in zip(found.prices, capacities, strict=True))
    sure, margin = worth > 1e-6, np.abs(worth) <= 1e-6
    assert np.count_nonzero(margin) <= len(capacities)
    for price, capacity in zip(found.prices, capacities, strict=True):
        low = capacity.use[sure].sum()
        assert low <= capacity.limit * (1 + NEAR)
        if price:
            assert low + capacity.use[margin].sum() >= capacity.limit * (1 - NEAR)


def test_a_solver_that_gives_up_makes_the_bound_less_sharp_and_not_wrong(monkeypatch):
    saving, capacities = months_book(50_000, 2)
    best = bound_and_prices(saving, capacities)
    monkeypatch.setattr("compare.decide.hour_prices.linprog", lambda *_, **__: SimpleNamespace(status=4))
    found = bound_and_prices(saving, capacities)
    assert best.value < found.value < best.value * 1.001
    assert (found.prices >= 0).all()


@pytest.mark.parametrize("alike", [1, 100])
def test_many_jobs_that_are_alike_are_no_obstacle(alike):
    """All at the margin at once: no neighbourhood of the prices holds just a few of them."""
    rng = np.random.default_rng(6)
    use, saving = (
        np.tile(rng.integers(1, 4, (2, alike)), 9_000 // alike),
        np.tile(rng.integers(1, 9, alike), 9_000 // alike),
    )
    capacities = [hours(row, row.sum() * share) for row, share in zip(use, (0.3, 0.2), strict=True)]
    found = bound_and_prices(saving, capacities)
    room = sum(p * c.limit for p, c in zip(found.prices, capacities, strict=True))
    once = [hours(row[:alike], c.limit * alike / 9_000) for row, c in zip(use, capacities, strict=True)]
    assert found.value == pytest.approx(bound_and_prices(saving[:alike], once).value * 9_000 / alike, rel=1e-9)
    assert room <= found.value


# -- many limits at once ----------------------------------------------------------------------------------------------

LIMITS = np.linspace(0, 1.2, 13)


@settings(max_examples=100, deadline=None)
@given(book=books())
def test_a_curve_holds_the_bound_and_a_saving_that_can_be_had_at_each_limit(book):
    capacity, others = book["capacities"][0], routes(book)
    limits = LIMITS * max(capacity.use.sum(), 1)
    curve = saving_by_limit(book["saving"], capacity, limits, **others)
    for k, limit in enumerate(limits):
        best = tried(book | {"capacities": [hours(capacity.use, limit)]})
        if best is None:
            assert np.isnan(curve.bound[k])
            assert np.isnan(curve.saving[k])
            continue
        there = bound_and_prices(book["saving"], [hours(capacity.use, limit)], **others)
        assert curve.bound[k] == pytest.approx(there.value, abs=NEAR)
        assert curve.saving[k] <= best + NEAR


@settings(max_examples=100, deadline=None)
@given(book=books(settled=False), data=st.data())
def test_a_curve_rises_and_does_not_depend_on_the_order_of_the_limits(book, data):
    capacity = book["capacities"][0]
    limits = LIMITS * max(capacity.use.sum(), 1)
    order = np.array(data.draw(st.permutations(range(len(limits)))))
    curve, shuffled = (saving_by_limit(book["saving"], capacity, some) for some in (limits, limits[order]))
    assert (np.diff(curve.saving) >= 0).all()
    assert (np.diff(curve.price) <= NEAR).all()
    for one, other in zip(curve, shuffled, strict=True):
        assert other.tolist() == one[order].tolist()


def test_savings_of_a_curve_are_those_of_choices_by_price():
    """A slider shows the first choice at once; what the search adds is less than the gap."""
    rng = np.random.default_rng(8)
    use = rng.lognormal(1, 1, 3000)
    saving, limits = rng.normal(30, 120, 3000) * use**0.7, np.array([0.1, 0.3, 0.6]) * use.sum()
    curve = saving_by_limit(saving, hours(use, 0), limits)
    quick = [choose(saving, [hours(use, limit)], time_limit_s=0.0).saving for limit in limits]
    assert curve.saving == pytest.approx(quick, rel=1e-6)
    assert (curve.saving / curve.bound > 0.9999).all()


def test_limits_must_be_amounts():
    with pytest.raises(InputError, match="limits: there is no such limit; give a row of numbers of 0 or more"):
        saving_by_limit(np.array([1.0]), hours([1], 1), np.array([1.0, np.nan]))
