"""What one more hour on the laser is worth, and how much no choice of jobs can save more than.

Each capacity has a price per unit. At any prices that are not negative, what the limits cost plus what every job
brings beyond the price of what it takes is a bound of the saving (Lagrange); at the best prices it is that of the
choice in which parts of jobs can move (the linear programme).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import linprog, nnls
from scipy.sparse import csr_array, hstack

from compare.decide.choice_items import GOES, SLACK, Capacity, Items, merge
from compare.errors import InputError

__all__ = ["Bound", "Capacity", "Curve", "bound_and_prices", "saving_by_limit"]


@dataclass(frozen=True)
class Bound:
    """What the saving can't exceed, and the prices that prove it.

    Attributes
    ----------
    value : float
        Upper bound of the saving [money/y], jobs that go in any case included.
    prices : ndarray
        Value of one more unit of each capacity, about: where several prices prove the same bound it is one of
        them. An overfull capacity has the price 0, as one more unit lets nothing move.
    overfull : tuple of str
        Capacities that can't even hold what must move.
    """

    value: float
    prices: np.ndarray
    overfull: tuple[str, ...] = ()


class Curve(NamedTuple):
    """Saving by limit.

    Attributes
    ----------
    bound : ndarray
        What the saving can't exceed [money/y].
    saving : ndarray
        What whole jobs save that fit [money/y]; not the most in every case.
    price : ndarray
        Value of one more unit at each limit.
    """

    bound: np.ndarray
    saving: np.ndarray
    price: np.ndarray


def bound_and_prices(
    saving: np.ndarray,
    capacities: Sequence[Capacity],
    *,
    groups: np.ndarray | None = None,
    pinned: np.ndarray | None = None,
    movable: np.ndarray | None = None,
    die_possible: np.ndarray | None = None,
) -> Bound:
    """Return the bound of the saving and the value of one more unit of each capacity.

    Parameters
    ----------
    saving : ndarray
        What each job costs less on the laser [money/y].
    capacities : sequence of Capacity
        What they share.
    groups, pinned : ndarray of int, optional
        As for :func:`compare.decide.choice_items.merge`.
    movable, die_possible : ndarray of bool, optional
        What the laser and the die can make.

    Notes
    -----
    One capacity: Dantzig's rule, jobs sorted by saving per unit. Several: a linear programme over the jobs that
    are near the margin, to the same prices as one over all jobs.

    References
    ----------
    G. B. Dantzig, "Discrete-variable extremum problems", Operations Research 5 (1957).
    """
    items = merge(saving, capacities, groups=groups, pinned=pinned, die_possible=die_possible, laser_possible=movable)
    question = Question.of(items, items.open())
    prices = question.prices()
    value = float(items.saving[items.state == GOES].sum()) + question.bound(prices)
    return Bound(value, question.all_prices(prices), overfull_names(items, capacities))


def overfull_names(items: Items, capacities: Sequence[Capacity]) -> tuple[str, ...]:
    """Return the names of what can't hold what goes in any case."""
    return tuple(capacity.name for capacity, over in zip(capacities, items.overfull, strict=True) if over)


@dataclass(frozen=True)
class Question:
    """Items with a saving, and the capacities that can't hold all of them.

    Attributes
    ----------
    items : ndarray of int
        Which items.
    saving : ndarray
        Saving of each, above 0.
    use : sparse array
        Items by scarce capacities.
    room : ndarray
        What is left of each scarce capacity.
    scarce : ndarray of bool
        Which capacities those are.
    """

    items: np.ndarray
    saving: np.ndarray
    use: csr_array
    room: np.ndarray
    scarce: np.ndarray

    @classmethod
    def of(cls, items: Items, some: np.ndarray) -> Question:
        """Return the question whether some of the items move, the others being settled."""
        which = np.flatnonzero(some)
        room = np.maximum(items.limit - items.settled_use, 0)
        use = items.use if len(which) == some.size else items.use[which]
        scarce = np.ones(len(which)) @ use > room
        if not scarce.all():
            use = use[:, scarce]
        return cls(which, items.saving[which], use, room[scarce], scarce)

    def only(self, some: np.ndarray) -> Question:
        """Return the question without the other items."""
        return replace(self, items=self.items[some], saving=self.saving[some], use=self.use[some])

    def all_prices(self, prices: np.ndarray) -> np.ndarray:
        """Return prices of all capacities: what is not scarce costs nothing."""
        every = np.zeros(len(self.scarce))
        every[self.scarce] = prices
        return every

    def worth(self, prices: np.ndarray) -> np.ndarray:
        """Return what each item brings beyond the price of what it takes."""
        worth: np.ndarray = self.saving - self.use @ prices
        return worth

    def bound(self, prices: np.ndarray) -> float:
        """Return the bound that prices prove, whatever they are."""
        return float(prices @ self.room) + float(np.maximum(self.worth(prices), 0).sum())

    def prices(self) -> np.ndarray:
        """Return the prices with the lowest bound."""
        if not len(self.room):
            return np.zeros(0)
        if len(self.room) == 1:
            return np.array([_break_price(self.saving, self.use.toarray()[:, 0], self.room[0])])
        takers = np.diff(self.use.indptr) > 0
        return _prices_of_several(self if takers.all() else self.only(takers))


_OPEN = 1200
"""Items that one linear programme holds: enough to settle on, few enough to take no time."""


def _break_price(saving: np.ndarray, use: np.ndarray, room: float) -> float:
    """Return the saving per unit of the first item that does not fit whole, best first; 0 if all fit."""
    takers = (saving > 0) & (use > 0)
    if not takers.all():
        saving, use = saving[takers], use[takers]
    ratio = saving / use
    order = np.argsort(-ratio)
    first = int(np.searchsorted(np.cumsum(use[order]), room, side="right"))
    return float(ratio[order[first]]) if first < len(order) else 0.0


def _prices_of_several(question: Question) -> np.ndarray:
    """Return the prices with the lowest bound, by a linear programme over a box of prices.

    In the box an item far from its margin does not change sides, so that the bound is the optimum of a
    programme over the others. If what it moves fits without the edges of the box, no other prices are better:
    it saves the bound. Else its prices are the middle of the next box, which is larger.
    """
    scale = question.saving.sum() / (np.ones(len(question.saving)) @ question.use)  # a likely price
    width = question.use @ scale
    inside = _OPEN
    prices = np.zeros(len(scale)) if len(width) <= 2 * inside else _balance(question, scale, width)
    bound = question.bound(prices)
    while True:
        reach = question.worth(prices) / width
        whole = 2 * inside >= len(reach)
        radius = np.inf if whole else float(np.partition(np.abs(reach), inside)[inside])
        band = np.abs(reach) <= radius
        if band.all():  # many alike
            whole, radius = True, np.inf
        low, high = np.maximum(prices - radius * scale, 0), prices + radius * scale
        rest = question.room - (reach > radius) @ question.use
        answer = _programme(question.saving[band], question.use[band], rest, low, high)
        if answer is None or not (better := question.bound(answer.prices)) <= bound * (1 + 1e-12):
            return prices
        prices, bound = answer.prices, better
        if whole or answer.at_edges <= 1e-12 * bound:
            return prices
        inside *= 2


def _balance(question: Question, scale: np.ndarray, width: np.ndarray) -> np.ndarray:
    """Return prices at which about as much moves as there is room for.

    An item within a radius of its margin moves in part, by how far it is from it; so what moves changes evenly
    with the prices, and Newton's rule finds those that balance it. Then the radius is made smaller.
    """
    prices, inside = np.zeros(len(scale)), len(width) // 4
    least = 1e-9 * float((question.saving / width).max())
    while True:
        for _ in range(2):
            reach = question.worth(prices) / width
            radius = max(float(np.partition(np.abs(reach), inside)[inside]), least)
            excess = np.clip((1 + reach / radius) / 2, 0, 1) @ question.use - question.room
            band = np.abs(reach) <= radius
            use = question.use[band].multiply(scale).tocsr()
            slope = (use.T @ use.multiply(1 / (2 * radius * width[band])[:, None])).toarray()
            slope[np.diag_indices_from(slope)] += 1e-9 * slope.trace()
            root = cholesky(slope)
            aim = excess * scale + slope @ (prices / scale)
            prices = scale * nnls(root, solve_triangular(root, aim, trans="T"))[0]
        if inside <= _OPEN:
            return prices
        inside = max(inside // 4, _OPEN)


def largest(use: csr_array) -> np.ndarray:
    """Return the largest use of each capacity, and 1 where there is none: a unit to count it in."""
    unit = np.zeros(use.shape[1])
    np.maximum.at(unit, use.indices, use.data)
    return np.where(unit > 0, unit, 1.0)


class _InBox(NamedTuple):
    """Best prices in a box, and the money that is traded at its edges."""

    prices: np.ndarray
    at_edges: float


def _programme(
    saving: np.ndarray, use: csr_array, rest: np.ndarray, low: np.ndarray, high: np.ndarray
) -> _InBox | None:
    """Return the best prices in a box by their linear programme; ``None`` if the solver gives up.

    Any part of an item can move. What is left of a capacity can be sold at its lowest price, and what is missing
    bought at its highest.
    """
    money = float(saving.max(initial=0)) or 1.0
    unit = largest(use)
    price = money / unit  # of one unit of the capacity as scaled
    buy = np.flatnonzero(np.isfinite(high))
    eye = csr_array(np.eye(len(rest)))
    rows = hstack([use.multiply(1 / unit).T, eye, -eye[:, buy]], format="csr")
    cost = np.concatenate([-saving / money, -low / price, high[buy] / price[buy]])
    bounds = np.zeros((len(cost), 2))
    bounds[:, 1] = np.inf
    bounds[: len(saving), 1] = 1
    solved = linprog(cost, A_eq=rows, b_eq=rest / unit, bounds=bounds, method="highs")
    if solved.status:
        return None
    at_edges = solved.x[len(saving) :] @ np.abs(cost[len(saving) :])
    return _InBox(np.clip(-solved.eqlin.marginals * price, low, high), float(at_edges) * money)


def saving_by_limit(
    saving: np.ndarray,
    capacity: Capacity,
    limits: np.ndarray,
    *,
    groups: np.ndarray | None = None,
    pinned: np.ndarray | None = None,
    movable: np.ndarray | None = None,
    die_possible: np.ndarray | None = None,
) -> Curve:
    """Return the saving for many limits of one capacity, by one sort.

    Parameters
    ----------
    saving : ndarray
        What each job costs less on the laser [money/y].
    capacity : Capacity
        What it takes; its own limit is not looked at.
    limits : ndarray
        Limits to answer for.
    groups, pinned, movable, die_possible : ndarray, optional
        As for :func:`bound_and_prices`.

    Returns
    -------
    Curve
        Not a number where a limit can't hold what must move.

    Notes
    -----
    What is reported as saving is a set of whole jobs that fit: the best by saving per unit up to the first that
    does not fit, and of the next 256 those that still do. It never falls with the limit.
    """
    asked = np.asarray(limits, dtype=float)
    if asked.ndim != 1 or not bool((asked >= 0).all()):
        raise InputError("there is no such limit", where="limits", remedy="give a row of numbers of 0 or more")
    free = Capacity(capacity.name, capacity.use, np.inf)
    items = merge(saving, [free], groups=groups, pinned=pinned, die_possible=die_possible, laser_possible=movable)
    goes, some = items.state == GOES, items.open()
    settled, always = float(items.settled_use[0]), float(items.saving[goes].sum())
    worth, use = items.saving[some], items.use[some].toarray()[:, 0]
    always += float(worth[use == 0].sum())
    worth, use = worth[use > 0], use[use > 0]
    order = np.argsort(-worth / use, kind="stable")
    worth, use = worth[order], use[order]
    price = np.append(worth / use, 0.0)
    used, saved = np.append(0.0, np.cumsum(use)), np.append(0.0, np.cumsum(worth))

    ascending = np.argsort(asked, kind="stable")
    room = asked[ascending] * (1 + SLACK / 2) - settled
    whole = np.searchsorted(used, np.maximum(room, 0), side="right") - 1
    left = np.maximum(room, 0) - used[whole]
    bound = saved[whole] + np.maximum(asked[ascending] - settled - used[whole], 0) * price[whole]
    feasible = saved[whole].copy()
    for step in range(1, min(256, len(use)) + 1):  # all limits at once
        item = np.minimum(whole + step, len(use) - 1)
        fits = (whole + step < len(use)) & (use[item] <= left)
        feasible += np.where(fits, worth[item], 0.0)
        left -= np.where(fits, use[item], 0.0)
    feasible = np.maximum.accumulate(feasible)
    too_little = settled > asked[ascending] * (1 + SLACK)
    curve = [np.where(too_little, np.nan, values) for values in (always + bound, always + feasible, price[whole])]
    back = np.argsort(ascending, kind="stable")
    return Curve(*(values[back] for values in curve))
