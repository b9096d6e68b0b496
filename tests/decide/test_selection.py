"""Which jobs move to the laser: within every limit, as good as trying everything, and with a reason for each."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.decide.selection import Capacity, choose

NEAR = 1e-9
"""Share by which sums in another order may differ."""


def hours(use, limit, name="hours a year"):
    return Capacity(name, np.array(use, dtype=float), limit)


@st.composite
def books(draw):
    """Small books with everything that settles a job, of numbers with few digits so that ties occur."""
    jobs = draw(st.integers(1, 10))

    def row(numbers):
        return np.array(draw(st.lists(numbers, min_size=jobs, max_size=jobs)))

    saving = row(st.integers(-30, 100)) / 10
    use = [row(st.one_of(st.just(0), st.integers(1, 40))) / 10 for _ in range(draw(st.integers(1, 3)))]
    limits = [float(u.sum()) * draw(st.sampled_from([0, 0.2, 0.5, 0.8, 1])) for u in use]
    groups = row(st.integers(0, jobs - 1))
    of_carton = row(st.sampled_from([-1, -1, -1, 0, 1]))
    return {
        "saving": saving,
        "capacities": [hours(u, limit, f"limit {k}") for k, (u, limit) in enumerate(zip(use, limits, strict=True))],
        "groups": groups,
        "pinned": of_carton[groups],
        "die_possible": row(st.sampled_from([True] * 5 + [False])),
        "laser_possible": row(st.sampled_from([True] * 5 + [False])),
    }


def tried(book):
    """What can be saved at most, by trying everything; ``None`` where what must go exceeds a limit."""
    die, laser, groups, pinned = (book[n] for n in ("die_possible", "laser_possible", "groups", "pinned"))
    cartons = []
    for name in np.unique(groups):
        jobs = (groups == name) & (die | laser)
        if not jobs.any() or not laser[jobs].all():
            route = (0,)
        elif not die[jobs].all():
            route = (1,)
        else:
            route = {-1: (0, 1), 0: (0,), 1: (1,)}[int(pinned[jobs][0])]
        cartons.append((jobs, route))
    best = None
    for routes in product(*(route for _, route in cartons)):
        on_laser = np.zeros(len(groups), dtype=bool)
        for (jobs, _), route in zip(cartons, routes, strict=True):
            on_laser[jobs] = bool(route)
        if all(c.use[on_laser].sum() <= c.limit * (1 + NEAR) for c in book["capacities"]):
            saved = book["saving"][on_laser & die].sum()
            best = saved if best is None else max(best, saved)
    return best


@settings(max_examples=150, deadline=None)
@given(book=books())
def test_a_small_book_is_chosen_as_well_as_by_trying_everything(book):
    best, chosen = tried(book), choose(**book)
    if best is None:
        assert chosen.overfull
        return
    assert not chosen.overfull
    assert chosen.saving == pytest.approx(best, rel=NEAR, abs=NEAR)
    assert chosen.exact


@settings(max_examples=100, deadline=None)
@given(book=books(), core=st.integers(1, 3))
def test_the_gap_reported_is_never_less_than_what_is_missing(book, core):
    """Also where hardly anything may be searched; a bound that is none would look like a proof."""
    best, chosen = tried(book), choose(**book, core=core, time_limit_s=0.0 if core == 1 else 10.0)
    if best is not None:
        assert chosen.bound >= best - NEAR
        assert chosen.gap >= (best - chosen.saving) / max(abs(chosen.bound), 1e-300) - NEAR
        assert chosen.gap == pytest.approx((chosen.bound - chosen.saving) / max(abs(chosen.bound), 1e-300))


@settings(max_examples=100, deadline=None)
@given(book=books(), quick=st.booleans())
def test_no_limit_is_exceeded_but_by_what_is_pinned(book, quick):
    chosen = choose(**book, time_limit_s=0.0 if quick else 10.0)
    for capacity, used in zip(book["capacities"], chosen.used, strict=True):
        assert used == pytest.approx(capacity.use[chosen.on_laser].sum())
        assert used <= capacity.limit * (1 + NEAR) or capacity.name in chosen.overfull
