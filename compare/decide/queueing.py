"""How long a lot waits for the line, about, as the line fills up.

Lots don't come evenly and don't take the same time, so a queue forms long before the line is full, and near full load
it grows without limit. The formulas are estimates for a line in its steady state: they say too much where lots arrive
regularly and load is moderate. Wherever a figure of theirs is shown, it is "about".
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from compare.assumptions import Number
from compare.errors import InputError

PLANNED_LOAD_CAP = 0.85
"""Load to plan for at most where lots vary [-].

Published rule of thumb: the guide to Kingman's formula at symplprocess gives "<= 85 %" for variable systems. From 95 %
down to it, the queue shortens by 70 %.
"""

_WHERE = "queue"


def waiting_time(
    load: Number, arrival_cv2: Number, service_cv2: Number, service_h: Number, machines: int = 1
) -> Number:
    """Estimate the mean time a lot waits before it is started [h].

    Parameters
    ----------
    load : float or ndarray
        Share of the hours there are that is worked [-]. At 1 and above the queue grows without end: infinite.
    arrival_cv2, service_cv2 : float or ndarray
        Squared coefficient of variation of the times between arrivals, and of the hours of a lot [-]: variance over
        squared mean. Random arrivals have 1, a fixed rhythm 0.
    service_h : float or ndarray
        Mean hours of a lot [h].
    machines : int
        Lines that share one queue.

    Notes
    -----
    Exact for one line and random arrivals (Pollaczek and Khinchine), and near it at high load. Otherwise about: with
    regular arrivals (arrival_cv2 0.5) it says 3 % too much at a load of 0.9, and 14 % at 0.7. For two to four lines with
    random arrivals and times it is within 2 % of exact from a load of 0.85 on, and within 8 % from 0.7 on.

    References
    ----------
    J. F. C. Kingman, "The single server queue in heavy traffic", 1961: ``(u / (1 - u)) ((ca2 + ce2) / 2) te``.
    H. Sakasegawa, "An approximation formula", 1977, for several machines: ``u**(sqrt(2 (m + 1)) - 1) / (m (1 - u))``
    in place of the first factor, which it is for one machine.
    """
    _machines(machines)
    for value, name in (
        (load, "load"),
        (arrival_cv2, "variation of arrivals"),
        (service_cv2, "variation of lots"),
        (service_h, "hours of a lot"),
    ):
        _not_negative(value, name)
    share = np.asarray(load, dtype=float)
    open_share = np.where(share < 1, 1 - share, 1.0)
    crowding = share ** (np.sqrt(2 * (machines + 1)) - 1) / (machines * open_share)
    variation = (np.asarray(arrival_cv2) + np.asarray(service_cv2)) / 2
    wait = np.where(share < 1, crowding * variation * service_h, np.inf)
    return wait if wait.ndim else float(wait)


def probability_of_waiting(load: Number, machines: int = 1) -> Number:
    """Return the share of lots that find every machine busy [-], with random arrivals and times (Erlang C).

    Parameters
    ----------
    load : float or ndarray
        Share of the hours there are that is worked [-]; at 1 and above every lot waits.
    machines : int
        Lines that share one queue.
    """
    _machines(machines)
    _not_negative(load, "load")
    share = np.minimum(np.asarray(load, dtype=float), 1.0)
    offered = share * machines
    blocked = np.ones_like(share)  # Erlang's loss formula, by its recursion over the number of machines
    for count in range(1, machines + 1):
        blocked = offered * blocked / (count + offered * blocked)
    waits = np.where(share < 1, blocked / (1 - share * (1 - blocked)), 1.0)
    return waits if waits.ndim else float(waits)


def exact_waiting_time(load: Number, service_h: Number, machines: int = 1) -> Number:
    """Return the mean wait with random arrivals and exponential times [h], exactly (M/M/c).

    It is what :func:`waiting_time` is checked with: both variations are 1.

    Parameters
    ----------
    load : float or ndarray
        Share of the hours there are that is worked [-]; at 1 and above the wait is infinite.
    service_h : float or ndarray
        Mean hours of a lot [h].
    machines : int
        Lines that share one queue.
    """
    _not_negative(service_h, "hours of a lot")
    waits = np.asarray(probability_of_waiting(load, machines))
    share = np.asarray(load, dtype=float)
    open_share = np.where(share < 1, 1 - share, 1.0)
    wait = np.where(share < 1, waits * service_h / (machines * open_share), np.inf)
    return wait if wait.ndim else float(wait)


class LineWait(NamedTuple):
    """The queue before the line, about: an estimate. Numbers, or arrays with one entry for each further job."""

    load: Number
    """Share of the hours there are that is worked [-]."""
    service_h: Number
    """Mean hours of a lot [h]."""
    service_cv2: Number
    """Squared coefficient of variation of the hours of a lot [-]."""
    wait_h: Number
    """About how long a lot waits, in hours that the line is staffed [h]; infinite at a load of 1 and above."""

    @property
    def over_cap(self) -> Number:
        """Whether the load is above what should be planned for."""
        return self.load > PLANNED_LOAD_CAP


def line_wait(
    job_hours: ArrayLike,
    hours_available: float,
    arrival_cv2: float = 1.0,
    machines: int = 1,
    *,
    lots: ArrayLike = 1.0,
) -> LineWait:
    """Estimate how long a lot waits for the line with these jobs on it.

    Moving a job changes load, mean and variation of the lots together; all three are worked out anew.

    Parameters
    ----------
    job_hours : array_like
        Hours on the line of one lot of each job [h], shape (jobs,).
    hours_available : float
        Staffed hours of one machine [h], in the time over which the lots come.
    arrival_cv2 : float
        Squared coefficient of variation of the times between arrivals [-]; 1 for orders that come at random.
    machines : int
        Lines that share one queue.
    lots : array_like
        How often each job comes in that time; broadcasts against `job_hours`.

    Returns
    -------
    LineWait
        Without a job, or with jobs that take no time, nobody waits.
    """
    by_job = line_wait_by_job(job_hours, hours_available, arrival_cv2, machines, lots=lots)
    if np.size(by_job.load) == 0:
        return LineWait(0.0, 0.0, 0.0, 0.0)
    return LineWait(*(float(np.asarray(values)[-1]) for values in by_job))


def line_wait_by_job(
    job_hours: ArrayLike,
    hours_available: float,
    arrival_cv2: float = 1.0,
    machines: int = 1,
    *,
    lots: ArrayLike = 1.0,
) -> LineWait:
    """Estimate the wait as one job after the other moves to the line, in the order given.

    Parameters are those of :func:`line_wait`.

    Returns
    -------
    LineWait
        Arrays of shape (jobs,); entry *i* is for the jobs up to and with *i*.
    """
    _machines(machines)
    if not (np.isfinite(hours_available) and hours_available > 0):
        raise InputError("hours available must be above 0", where=_WHERE, remedy="give staffed hours of one machine")
    hours = np.asarray(job_hours, dtype=float)
    if hours.ndim != 1:
        raise InputError("hours of jobs must be one row", where=_WHERE, remedy="give one number per job")
    _not_negative(hours, "hours of a job")
    try:
        counts = np.broadcast_to(np.asarray(lots, dtype=float), hours.shape)
    except ValueError:
        raise InputError("lots don't fit the jobs", where=_WHERE, remedy="give one number per job") from None
    _not_negative(counts, "lots of a job")
    total, number = np.cumsum(counts * hours), np.cumsum(counts)
    mean = _ratio(total, number)
    cv2 = np.maximum(_ratio(_ratio(np.cumsum(counts * hours**2), number), mean**2) - (mean > 0), 0.0)
    load = total / (hours_available * machines)
    return LineWait(load, mean, cv2, waiting_time(load, arrival_cv2, cv2, mean, machines))


def _ratio(above: NDArray[np.float64], below: NDArray[np.float64]) -> NDArray[np.float64]:
    """Divide, with 0 where there is nothing to divide by."""
    return np.divide(above, below, out=np.zeros_like(above), where=below > 0)


def _machines(machines: int) -> None:
    if machines < 1 or machines != int(machines):
        raise InputError(
            "machines must be a whole number from 1 on", where=_WHERE, remedy="give how many lines there are"
        )


def _not_negative(value: Number | NDArray[np.float64], name: str) -> None:
    numbers = np.asarray(value, dtype=float)
    if not (np.isfinite(numbers).all() and (numbers >= 0).all()):
        raise InputError(f"{name} must be 0 or more", where=_WHERE, remedy="give a finite number")
