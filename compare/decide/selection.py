"""Which jobs of an order book move to the laser: the most saving within its limits, and the proof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Literal, get_args

import numpy as np

from compare.decide.choice_items import FREE, GOES, SLACK, STAYS, Capacity, Items, merge
from compare.decide.hour_prices import Question, overfull_names
from compare.decide.selection_search import EXACT, search
from compare.errors import InputError

__all__ = ["REASONS", "Capacity", "Reason", "Selection", "choose"]

Reason = Literal[
    "moves", "moves_into_rest", "moves_with_carton", "pinned_laser", "die_impossible",
    "stays_saves_nothing", "stays_worth_less_than_hour", "no_room", "stays_with_carton", "pinned_die",
    "laser_impossible", "impossible",
]  # fmt: skip
"""Why a job is where it is.

moves: it saves more than what it takes is worth. moves_into_rest: it saves less than that, but fits into what the
others leave. moves_with_carton, stays_with_carton: by itself it would be on the other route, but all versions of
its carton take one. stays_saves_nothing: the die costs no more. stays_worth_less_than_hour: others make more of
what it would take. no_room: worth its price, but it does not fit whole, or what it takes is overfull.
die_impossible: it must go. impossible: neither route can make it, or its carton must stay and the die can't make it.
"""

REASONS: tuple[Reason, ...] = get_args(Reason)


@dataclass(frozen=True)
class Selection:
    """The jobs on the laser, what they save and the proof.

    Attributes
    ----------
    on_laser : ndarray of bool
        Which jobs move.
    saving : float
        What they save [money/y] against all jobs on the die that it can make; may be negative through pins. A job
        that the die can't make has nothing to be compared with and adds nothing; others of its carton do.
    bound : float
        What no choice can save more than, however long one searches.
    gap : float
        What is missing to the bound, as a share of it; 0 where the choice is the best.
    prices : ndarray
        Value of one more unit of each capacity, about; as of :func:`compare.decide.hour_prices.bound_and_prices`.
    used : ndarray
        What the jobs on the laser take of each capacity.
    worth : ndarray
        What moving each job brings beyond the price of what it takes [money/y]. It adds up over a carton's
        versions to what decides; of a job that the die can't make it is a figure on paper.
    reasons : ndarray of object
        A :data:`Reason` for each job.
    exact : bool
        Whether the choice is proven to be the best.
    overfull : tuple of str
        Capacities that can't even hold what goes in any case; nothing else that takes of them moves.
    """

    on_laser: np.ndarray
    saving: float
    bound: float
    gap: float
    prices: np.ndarray
    used: np.ndarray
    worth: np.ndarray
    reasons: np.ndarray
    exact: bool
    overfull: tuple[str, ...] = ()


def choose(
    saving: np.ndarray,
    capacities: Sequence[Capacity],
    *,
    groups: np.ndarray | None = None,
    pinned: np.ndarray | None = None,
    die_possible: np.ndarray | None = None,
    laser_possible: np.ndarray | None = None,
    core: int = 2000,
    time_limit_s: float = 10.0,
    gap_wanted: float = 1e-6,
) -> Selection:
    """Choose the jobs that save most on the laser within its limits.

    Parameters
    ----------
    saving : ndarray
        What each job costs less on the laser [money/y]; negative where the die is cheaper.
    capacities : sequence of Capacity
        What the jobs on the laser share.
    groups, pinned, die_possible, laser_possible : ndarray, optional
        As for :func:`compare.decide.choice_items.merge`.
    core : int
        Most items that an exact search may hold.
    time_limit_s : float
        Time after which no further search is started or gone on with [s]; at 0 the first choice is returned, at
        once and with its gap.
    gap_wanted : float
        Gap at which a book of more items than ``core`` is good enough.

    Returns
    -------
    Selection
        The same in every run, unless the time limit cuts a search short.

    Notes
    -----
    Jobs are taken by their saving against the price of what they take, as long as they fit. Then an exact search
    decides anew over those near the margin. An item whose worth is further from 0 than the gap is settled: on the
    other side the bound would be below what is found already. Once the search holds all others, it proves the best.

    Raises
    ------
    InputError
        If the arrays do not fit together, hold what is no amount, or pins contradict each other.
    """
    if core < 1:
        raise InputError(f"an exact search over {core} jobs", where="core", remedy="allow 1 or more")
    end = monotonic() + time_limit_s
    items = merge(
        saving, capacities, groups=groups, pinned=pinned, die_possible=die_possible, laser_possible=laser_possible
    )
    open_items, fits = items.open(), _fits_alone(items)
    question = Question.of(items, open_items)
    prices = question.prices()
    every = question.all_prices(prices)
    if not fits[open_items].all():  # what can't move whole counts for the price of an hour, not for the choice
        question = Question.of(items, open_items & fits)
        prices = question.prices()
    taken, most = search(question, prices, core, end, gap_wanted)
    goes = items.state == GOES
    always = float(items.saving[goes].sum())
    goes[question.items[taken]] = True
    found = always + float(question.saving[taken].sum())
    bound = max(always + most, found)
    gap = float((bound - found) / max(abs(bound), np.finfo(float).tiny))
    worth = np.array(saving, dtype=float)
    for price, capacity in zip(every, capacities, strict=True):
        if price:
            worth -= price * np.asarray(capacity.use, dtype=float)
    return Selection(
        on_laser=items.spread(goes) & (items.die | items.laser),
        saving=found,
        bound=bound,
        gap=gap,
        prices=every,
        used=goes @ items.use,
        worth=worth,
        reasons=_reasons(items, goes, np.asarray(saving, dtype=float), worth),
        exact=gap <= EXACT,
        overfull=overfull_names(items, capacities),
    )


def _fits_alone(items: Items) -> np.ndarray:
    """Return which items fit beside those that go in any case."""
    room = items.limit * (1 + SLACK) - items.settled_use
    row = np.repeat(np.arange(items.use.shape[0]), np.diff(items.use.indptr))
    fits = np.ones(items.use.shape[0], dtype=bool)
    fits[row[items.use.data > room[items.use.indices]]] = False
    return fits


def _reasons(items: Items, goes: np.ndarray, saving: np.ndarray, worth: np.ndarray) -> np.ndarray:
    """Return why each job is where it is."""
    die, laser = items.die, items.laser
    nothing = 1e-9 * float(np.abs(items.saving).max(initial=0))
    settled = items.spread(items.state != FREE)
    moves, pays = items.spread(goes), items.spread(items.gather(np.where(die | laser, worth, 0.0)) >= -nothing)
    saves, alone = items.spread(items.saving > 0), worth >= -nothing
    cases: list[tuple[np.ndarray, Reason]] = [
        (~die & ~laser, "impossible"),
        (~laser, "laser_impossible"),
        (~die & moves, "die_impossible"),
        (~die, "impossible"),
        (moves & settled & (items.pinned == GOES), "pinned_laser"),
        (~moves & settled & (items.pinned == STAYS), "pinned_die"),
        (moves & settled, "moves_with_carton"),
        (~moves & settled, "stays_with_carton"),
        (moves & alone, "moves"),
        (moves & pays, "moves_with_carton"),
        (moves & ~pays, "moves_into_rest"),
        (saves & pays, "no_room"),
        (alone & (saving > 0), "stays_with_carton"),
        (saves & (saving > 0), "stays_worth_less_than_hour"),
    ]
    codes = np.select([case for case, _ in cases], list(range(len(cases))), len(cases))
    reasons: np.ndarray = np.array([code for _, code in cases] + ["stays_saves_nothing"], dtype=object)[codes]
    return reasons
