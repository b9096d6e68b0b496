"""Order books as plain arrays, for the tests of the selection."""

from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import strategies as st

from compare.decide.hour_prices import Capacity

NEAR = 1e-9
"""Share by which sums in another order may differ."""


def hours(use, limit, name="hours a year"):
    return Capacity(name, np.array(use, dtype=float), limit)


@st.composite
def books(draw, settled=True):
    """Small books, of numbers with few digits so that ties occur; with what settles a job, where asked for."""
    jobs = draw(st.integers(1, 10))

    def row(numbers):
        return np.array(draw(st.lists(numbers, min_size=jobs, max_size=jobs)))

    saving = row(st.integers(-30, 100)) / 10
    use = [row(st.one_of(st.just(0), st.integers(1, 40))) / 10 for _ in range(draw(st.integers(1, 3)))]
    limits = [float(u.sum()) * draw(st.sampled_from([0, 0.2, 0.5, 0.8, 1])) for u in use]
    book = {
        "saving": saving,
        "capacities": [hours(u, limit, f"limit {k}") for k, (u, limit) in enumerate(zip(use, limits, strict=True))],
    }
    if not settled:
        return book
    groups = row(st.integers(0, jobs - 1))
    return book | {
        "groups": groups,
        "pinned": row(st.sampled_from([-1, -1, -1, 0, 1]))[groups],
        "die_possible": row(st.sampled_from([True] * 5 + [False])),
        "laser_possible": row(st.sampled_from([True] * 5 + [False])),
    }


def tried(book):
    """What can be saved at most, by trying everything; ``None`` where what must go exceeds a limit."""
    jobs = len(book["saving"])
    everyone = np.ones(jobs, dtype=bool)
    die, laser = book.get("die_possible", everyone), book.get("laser_possible", everyone)
    groups, pinned = book.get("groups", np.arange(jobs)), book.get("pinned", np.full(jobs, -1))
    cartons = []
    for name in np.unique(groups):
        some = (groups == name) & (die | laser)
        if not some.any() or not laser[some].all():
            routes = (0,)
        elif not die[some].all():
            routes = (1,)
        else:
            routes = {-1: (0, 1), 0: (0,), 1: (1,)}[int(pinned[some][0])]
        cartons.append((some, routes))
    best = None
    for choice in product(*(routes for _, routes in cartons)):
        on_laser = np.zeros(jobs, dtype=bool)
        for (some, _), route in zip(cartons, choice, strict=True):
            on_laser[some] = bool(route)
        if all(c.use[on_laser].sum() <= c.limit * (1 + NEAR) for c in book["capacities"]):
            saved = book["saving"][on_laser & die].sum()
            best = saved if best is None else max(best, saved)
    return best


def with_limits(book, times):
    """The same book with other limits."""
    return book | {"capacities": [hours(c.use, c.limit * times, c.name) for c in book["capacities"]]}
