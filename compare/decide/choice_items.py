"""What is decided at once when jobs are chosen: the versions of a carton as one item.

Plain arrays come in; pins and what a route can't do are settled here, before anything is solved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array, csr_array

from compare.errors import InputError

SLACK = 1e-9
"""Share of a limit that rounding may use: 0.1 h and 0.2 h fit into 0.3 h."""

FREE, STAYS, GOES = -1, 0, 1
"""State of an item: open, settled for the die, settled for the laser."""


@dataclass(frozen=True)
class Capacity:
    """A limit that jobs on the laser share.

    Attributes
    ----------
    name : str
        What it is called, such as "hours a year".
    use : ndarray
        What each job takes of it when it is on the laser, not negative.
    limit : float
        How much of it there is, in the unit of ``use``; may be infinite.
    """

    name: str
    use: np.ndarray
    limit: float


@dataclass(frozen=True)
class Items:
    """What is decided at once, and what is settled already.

    Attributes
    ----------
    of_job : ndarray of int or None
        Item of each job; ``None`` where every job is an item of its own.
    saving : ndarray
        Saving of each item [money/y]; what the die can't make has none.
    use : sparse array
        Items by capacities, without the zeros: most jobs are due in one month and on one board.
    limit : ndarray
        Limit of each capacity.
    state : ndarray of int
        :data:`FREE`, :data:`STAYS` or :data:`GOES`.
    pinned : ndarray of int
        The same for each job, as it is pinned.
    die, laser : ndarray of bool
        Whether each route can make each job.
    """

    of_job: np.ndarray | None
    saving: np.ndarray
    use: csr_array
    limit: np.ndarray
    state: np.ndarray
    pinned: np.ndarray
    die: np.ndarray
    laser: np.ndarray

    def spread(self, of_item: np.ndarray) -> np.ndarray:
        """Return for each job what is known of its item."""
        return of_item if self.of_job is None else of_item[self.of_job]

    def gather(self, of_job: np.ndarray) -> np.ndarray:
        """Return the sum over each item's jobs."""
        if self.of_job is None:
            return np.asarray(of_job, dtype=float)
        return np.bincount(self.of_job, weights=of_job, minlength=len(self.saving))

    @property
    def settled_use(self) -> np.ndarray:
        """What the items that go in any case take of each capacity."""
        used: np.ndarray = (self.state == GOES) @ self.use
        return used

    @property
    def overfull(self) -> np.ndarray:
        """Which capacities can't even hold what goes in any case."""
        over: np.ndarray = self.settled_use > self.limit * (1 + SLACK)
        return over

    def open(self) -> np.ndarray:
        """Return which items are a question: free, of some saving, and without need of an overfull capacity."""
        some: np.ndarray = (self.state == FREE) & (self.saving > 0)
        over = self.overfull
        if over.any():
            some &= self.use @ over == 0
        return some


def merge(
    saving: np.ndarray,
    capacities: Sequence[Capacity],
    *,
    groups: np.ndarray | None = None,
    pinned: np.ndarray | None = None,
    die_possible: np.ndarray | None = None,
    laser_possible: np.ndarray | None = None,
) -> Items:
    """Check the arrays, merge the jobs of a carton to one item and settle what is no question.

    Parameters
    ----------
    saving : ndarray
        What each job costs less on the laser [money/y].
    capacities : sequence of Capacity
        What they share.
    groups : ndarray of int, optional
        Carton of each job: all jobs of a carton take one route.
    pinned : ndarray of int, optional
        0 the die, 1 the laser, -1 free. A pin holds for the whole carton.
    die_possible, laser_possible : ndarray of bool, optional
        What each route can make.

    Notes
    -----
    What is impossible comes before what is pinned. A carton stays if the laser can't make one of its jobs; else
    it goes if the die can't make one of them. A job that neither can make is left out of its carton.

    Raises
    ------
    InputError
        If an array has another length or holds what is no amount, or the pins of a carton contradict each other.
    """
    saving = _amounts(saving, "saving", None)
    jobs = len(saving)
    limit = np.array([_limit(capacity) for capacity in capacities], dtype=float)
    uses = [_amounts(capacity.use, f"use of '{capacity.name}'", jobs, least=0.0) for capacity in capacities]
    die, laser = _flags(die_possible, "die_possible", jobs), _flags(laser_possible, "laser_possible", jobs)
    pins = _pins(pinned, jobs)
    of_job = None if groups is None else _labels(groups, jobs)
    items = jobs if of_job is None else int(of_job.max(initial=-1)) + 1

    def any_of(flags: np.ndarray) -> np.ndarray:
        return flags if of_job is None else np.bincount(of_job[flags], minlength=items) > 0

    somewhere = die | laser
    to_die, to_laser = any_of(somewhere & (pins == STAYS)), any_of(somewhere & (pins == GOES))
    if (both := to_die & to_laser).any():
        job = int(np.argmax(both if of_job is None else both[of_job]))
        raise InputError(
            f"jobs of carton {job if groups is None else groups[job]} are pinned to the die and to the laser",
            where="pinned",
            remedy="all versions of a carton take one route: pin them to the same",
        )
    state = np.full(items, FREE, dtype=np.int8)
    state[to_die], state[to_laser] = STAYS, GOES
    state[any_of(laser & ~die)] = GOES
    state[any_of(die & ~laser)] = STAYS
    state[~any_of(somewhere)] = STAYS
    if not somewhere.all():
        uses = [np.where(somewhere, use, 0.0) for use in uses]
    weight = saving if die.all() else np.where(die, saving, 0.0)
    if of_job is not None:
        weight = np.bincount(of_job, weights=weight, minlength=items)
        uses = [np.bincount(of_job, weights=use, minlength=items) for use in uses]
    return Items(of_job, weight, _sparse(uses, items), limit, state, pins, die, laser)


def _sparse(columns: list[np.ndarray], rows: int) -> csr_array:
    where = [np.flatnonzero(column) for column in columns]
    starts = np.cumsum([0, *map(len, where)])
    if not columns:
        return csr_array((rows, 0))
    values = np.concatenate([column[rows] for column, rows in zip(columns, where, strict=True)])
    return csc_array((values, np.concatenate(where), starts), shape=(rows, len(columns))).tocsr()


def _amounts(values: np.ndarray, what: str, jobs: int | None, least: float = -np.inf) -> np.ndarray:
    amounts = np.asarray(values, dtype=float)
    if amounts.ndim != 1 or (jobs is not None and len(amounts) != jobs):
        raise InputError(
            f"it has the shape {amounts.shape}", where=what, remedy=f"give one number for each of {jobs or 'the'} jobs"
        )
    fault = ~np.isfinite(amounts)
    if fault.any():
        job = int(np.argmax(fault))
        raise InputError(f"{amounts[job]} of job {job} is no amount", where=what, remedy="leave the job out")
    if len(amounts) and amounts.min() < least:
        job = int(np.argmin(amounts))
        raise InputError(f"{amounts[job]:g} of job {job} is negative", where=what, remedy="a job takes 0 or more")
    return amounts


def _limit(capacity: Capacity) -> float:
    if not capacity.limit >= 0:
        raise InputError(f"a limit of {capacity.limit}", where=f"'{capacity.name}'", remedy="it must be 0 or more")
    return float(capacity.limit)


def _of_length(values: np.ndarray, what: str, jobs: int) -> np.ndarray:
    if values.shape != (jobs,):
        raise InputError(f"it has the shape {values.shape}", where=what, remedy=f"give one for each of {jobs} jobs")
    return values


def _flags(values: np.ndarray | None, what: str, jobs: int) -> np.ndarray:
    return np.ones(jobs, dtype=bool) if values is None else _of_length(np.asarray(values, dtype=bool), what, jobs)


def _pins(values: np.ndarray | None, jobs: int) -> np.ndarray:
    if values is None:
        return np.full(jobs, FREE)
    pins = _of_length(np.asarray(values), "pinned", jobs)
    fault = ~np.isin(pins, (FREE, STAYS, GOES))
    if fault.any():
        job = int(np.argmax(fault))
        raise InputError(
            f"{pins[job]} of job {job} is no route", where="pinned", remedy="0 is the die, 1 the laser, -1 neither"
        )
    return pins


def _labels(values: np.ndarray, jobs: int) -> np.ndarray:
    """Return cartons as numbers from 0 without many left free."""
    groups = _of_length(np.asarray(values), "groups", jobs)
    if jobs and groups.dtype.kind not in "iu":
        raise InputError(f"cartons are {groups.dtype}", where="groups", remedy="number them")
    if not jobs or (groups.min() >= 0 and groups.max() < 2 * jobs):
        return groups.astype(np.intp, copy=False)
    return np.unique(groups, return_inverse=True)[1].reshape(jobs)
