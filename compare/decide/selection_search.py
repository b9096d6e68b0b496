"""The search for the items that save most: filled in by their price, then decided anew near the margin."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from time import monotonic
from typing import NamedTuple

import numpy as np
from scipy.optimize import LinearConstraint, milp
from scipy.sparse import csr_array

from compare.decide.choice_items import SLACK
from compare.decide.hour_prices import Question, largest

EXACT = 1e-9
"""Gap below which a choice is the best."""

_FIRST_CORE = 100
"""Items of the first exact search; its answer settles most of the others."""

_CHUNK = 4096
"""Items that are filled in at a time."""


class Found(NamedTuple):
    """The best items found.

    Attributes
    ----------
    taken : ndarray of bool
        Which items.
    most : float
        What no choice can save more than.
    """

    taken: np.ndarray
    most: float


def search(question: Question, prices: np.ndarray, core: int, end: float, gap_wanted: float) -> Found:
    """Return the best items that can be found until a moment.

    Parameters
    ----------
    question : Question
        Each of its items fits by itself.
    prices : ndarray
        Of what is scarce.
    core : int
        Most items that an exact search may hold.
    end : float
        Moment of the monotonic clock [s].
    gap_wanted : float
        Gap that is good enough where there are more items than ``core``.
    """
    bound, worth = question.bound(prices), question.worth(prices)
    cost = question.use @ prices
    ratio = np.full(len(cost), np.inf)
    np.divide(question.saving, cost, out=ratio, where=cost > 0)
    order = np.argsort(-ratio, kind="stable")
    taken = _fill(question, order, np.zeros(len(order), dtype=bool))
    wanted = (EXACT / 10 if len(order) <= core else gap_wanted) * bound
    near = np.argsort(np.abs(worth), kind="stable")
    size = min(_FIRST_CORE, core)
    while True:
        missing = bound - float(question.saving[taken].sum())
        unsettled = int(np.searchsorted(np.abs(worth[near]), missing * (1 + 1e-9), side="right"))
        left = end - monotonic()
        if missing <= wanted or left <= 0:
            return Found(taken, bound)
        some = np.sort(near[: min(size, unsettled)])
        base = worth > 0
        base[some] = False
        last = size >= min(core, unsettled)
        enough = wanted / 2 if last else missing / 10
        answer = _exact(question, base, some, left if last else left / 4, enough)
        if answer is not None:
            found = base.copy()
            found[some[answer.taken]] = True
            found = _fill(question, order, found)
            if question.saving[found].sum() > question.saving[taken].sum():
                taken = found
            if size >= unsettled:  # no better choice lies outside
                best = float(question.saving[taken].sum())
                return Found(taken, min(bound, max(best, float(question.saving[base].sum()) + answer.most)))
        if last:
            return Found(taken, bound)
        size = min(4 * size, core)


def _fill(question: Question, order: np.ndarray, taken: np.ndarray) -> np.ndarray:
    """Return the items taken, and of the others, in order, each that still fits."""
    room = question.room * (1 + SLACK / 2) - taken @ question.use
    taken = taken.copy()
    left = order[~taken[order]]
    while len(left):
        some, left = left[:_CHUNK], left[_CHUNK:]
        use = question.use[some].toarray()
        while len(some):
            fits = (use <= room).all(axis=1)
            some, use = some[fits], use[fits]
            over = (np.cumsum(use, axis=0) > room).any(axis=1)
            first = int(np.argmax(over)) if over.any() else len(some)
            taken[some[:first]] = True
            room = room - use[:first].sum(axis=0)
            some, use = some[first + 1 :], use[first + 1 :]
    return taken


def _exact(question: Question, base: np.ndarray, some: np.ndarray, seconds: float, enough: float) -> Found | None:
    """Return the best of some items beside those of the base; ``None`` without an answer, or if the base is too much."""
    rest = question.room - base @ question.use
    spare = question.room * SLACK
    if bool((rest < -spare).any()):
        return None
    return best_whole(question.saving[some], question.use[some], rest, spare, seconds=seconds, enough=enough)


def best_whole(
    saving: np.ndarray,
    use: csr_array,
    room: np.ndarray,
    spare: np.ndarray,
    *,
    seconds: float,
    enough: float = 0.0,
    one_of: np.ndarray | None = None,
) -> Found | None:
    """Return the whole items that save most within some room, by integer programme.

    Parameters
    ----------
    saving : ndarray
        Saving of each item.
    use : sparse array
        Items by capacities.
    room, spare : ndarray
        What there is of each, and by how much rounding may exceed it.
    seconds : float
        Time after which the best so far is returned.
    enough : float
        Distance to the best that is near enough.
    one_of : ndarray, optional
        Choices by items: exactly one of the items of each choice must be taken.

    Returns
    -------
    Found or None
        ``None`` if there is no answer in time, or none at all.
    """
    # the solver's tolerances are absolute: a ten-thousandth of the largest use, and 1e-11 of the saving
    whole = float(np.abs(saving).sum()) or 1.0
    money, unit = whole * 1e-5, largest(use) * 1e-4
    choices = [] if one_of is None else [LinearConstraint(one_of, 1, 1)]
    taking = use.toarray()
    rows, most = taking.T / unit[:, None], (room + spare / 2) / unit
    end = monotonic() + seconds
    for _ in range(20):
        with _quiet():
            solved = milp(
                -saving / money,
                integrality=np.ones(len(saving)),
                bounds=(0, 1),
                constraints=[LinearConstraint(rows, -np.inf, most), *choices],
                options={
                    "time_limit": max(end - monotonic(), 0.01),
                    "mip_rel_gap": enough / whole,
                    "presolve": False,
                },
            )
        if solved.x is None:
            return None
        taken = solved.x > 0.5
        over = taken @ taking > room + spare
        if not over.any():
            return Found(taken, max(-solved.mip_dual_bound * money, float(saving[taken].sum())))
        # the solver takes 0.999999 for 1: what exceeds a limit must not be taken together again
        takers = taken & (taking[:, int(np.argmax(over))] > 0)
        rows = np.vstack([rows, takers])
        most = np.append(most, takers.sum() - 1.0)
    return None


_LOCK = Lock()


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what the solver prints off the screen: HiGHS in scipy 1.17 writes a line even when told to be silent.

    The screen is the process's, so one search at a time, and what other threads print meanwhile is lost.
    """
    with _LOCK:
        try:
            screen = os.dup(1)
        except OSError:  # there is none
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        try:
            yield
        finally:
            os.dup2(screen, 1)
            os.close(screen)
            os.close(nowhere)
