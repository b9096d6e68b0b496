"""Which of several lines makes each job: the least cost, or the most saving, within the time of each line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array

from compare.decide.choice_items import SLACK
from compare.decide.selection_search import EXACT, best_whole
from compare.errors import InputError


@dataclass(frozen=True)
class Assignment:
    """The line of each job.

    Attributes
    ----------
    line : ndarray of int
        Row of the line that makes each job.
    value : float
        Sum of the values chosen.
    bound : float
        What no assignment can be better than.
    gap : float
        What is missing to the bound, as a share of it.
    parts : float
        Bound if parts of a job could be made on several lines.
    prices : ndarray
        Value of one more unit of each line's limit, about, by the same bound.
    used : ndarray
        What the jobs take of each line.
    exact : bool
        Whether the assignment is proven to be the best.
    """

    line: np.ndarray
    value: float
    bound: float
    gap: float
    parts: float
    prices: np.ndarray
    used: np.ndarray
    exact: bool


def assign(
    value: np.ndarray,
    use: np.ndarray,
    limits: np.ndarray,
    *,
    maximise: bool = False,
    possible: np.ndarray | None = None,
    time_limit_s: float = 10.0,
) -> Assignment:
    """Give each job to exactly one line.

    Parameters
    ----------
    value : ndarray
        Lines by jobs: cost of each job on each line, or its saving.
    use : ndarray
        Lines by jobs: what each job takes of each line, not negative.
    limits : ndarray
        What there is of each line; may be infinite, as for work given out.
    maximise : bool
        Whether more is better.
    possible : ndarray of bool, optional
        Lines by jobs: what each line can make.
    time_limit_s : float
        Time after which the best so far is returned [s].

    Raises
    ------
    InputError
        If the arrays do not fit together, hold what is no amount, or no assignment was found.

    Notes
    -----
    The generalised assignment problem; for some hundred jobs, as no more is searched than the time allows.
    """
    values, uses, most = (np.asarray(a, dtype=float) for a in (value, use, limits))
    can = np.ones(values.shape, dtype=bool) if possible is None else np.asarray(possible, dtype=bool)
    if (
        values.ndim != 2
        or not values.size
        or not values.shape == uses.shape == can.shape
        or most.shape != values.shape[:1]
    ):
        shapes = ", ".join(str(a.shape) for a in (values, uses, most, can))
        raise InputError(
            f"the shapes {shapes} do not fit together",
            where="assign",
            remedy="give lines by jobs of value, use and what is possible, and one limit for each line",
        )
    if not (np.isfinite(values[can]).all() and np.isfinite(uses[can]).all() and (uses[can] >= 0).all()):
        raise InputError("a value or use is no amount", where="assign", remedy="mark what a line can't make as such")
    if not (most >= 0).all():
        raise InputError("a limit is no amount", where="assign", remedy="it must be 0 or more")
    if not (somewhere := can.any(axis=0)).all():
        raise InputError(
            f"no line can make job {int(np.argmin(somewhere))}", where="assign", remedy="leave it out, or add a line"
        )
    lines, jobs = values.shape
    which = np.flatnonzero(can)
    better = (values if maximise else -values).ravel()[which]
    line_of, job_of = np.divmod(which, jobs)
    each = np.arange(len(which))
    taking = csr_array((uses.ravel()[which], (each, line_of)), shape=(len(which), lines))
    one_of = job_of == np.arange(jobs)[:, None]
    scarce = np.bincount(line_of, weights=uses.ravel()[which], minlength=lines) > most
    parts = linprog(-better, taking[:, scarce].T, most[scarce], one_of, np.ones(jobs), bounds=(0, 1), method="highs")
    found = None
    if not parts.status:
        room = most[scarce]
        found = best_whole(better, taking[:, scarce], room, room * SLACK, seconds=time_limit_s, one_of=one_of)
    if found is None:
        raise InputError(
            "no assignment of all jobs was found", where="assign", remedy="raise a limit, or give it more time"
        )
    line = np.empty(jobs, dtype=np.intp)
    line[job_of[found.taken]] = line_of[found.taken]
    sign, best = 1 if maximise else -1, float(better[found.taken].sum())
    bound = max(min(found.most, -float(parts.fun)), best)
    prices = np.zeros(lines)
    prices[scarce] = -parts.ineqlin.marginals
    gap = float((bound - best) / max(abs(bound), np.finfo(float).tiny))
    used = found.taken @ taking
    return Assignment(line, sign * best, sign * bound, gap, -sign * float(parts.fun), prices, used, gap <= EXACT)
