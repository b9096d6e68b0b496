"""Seconds that paths take, as an exact function of the speed limit that holds all along them.

A motion along a path keeps below the limits of its places (corners, arcs), below one speed v everywhere,
and gains or loses speed no faster than an acceleration a allows. Let w(s) be the fastest motion without v.
Its square is the largest function below the squared limits whose slope stays within 2a either way:

    w(s)^2 = min over all places t of (limit(t)^2 + 2 a |s - t|)

With v the limits become min(limit(t), v). As 2 a |s - t| is nowhere negative, and nothing at t = s, the minimum
becomes min(w(s)^2, v^2): the fastest motion with v is min(w, v), place by place, and

    seconds(v) = integral of max(1/v, 1/w) ds.

Along a path w^2 is straight in s, with a slope of 2a, -2a or nothing. Hence three kinds of parts make up every path:

- a stretch of length L that v alone limits: L/v;
- a stretch with a limit c: L/v below c, L/c from there on;
- a ramp from a speed p up to q, or back: its length (q^2 - p^2)/(2a) over v up to p, (q - p)/a from q on, and
  (v - p)/a + (q^2 - v^2)/(2 a v) between them.

All are constant + linear * v + inverse / v between breaks. So one table answers any speed, and tables of paths add up.

References
----------
Derived here. Accelerated motion v^2 = v0^2 + 2 a s is textbook knowledge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from compare.assumptions import Number
from compare.errors import InputError
from compare.geometry.strokes import Array

_FAST = 1e300
"""Stands for an infinite speed in a product with 0."""

_FEW_ROWS = 8
"""Up to so many rows the highest of their lines is found faster than the row of every speed."""


@dataclass(frozen=True, eq=False)
class SpeedTable:
    """Seconds that paths take, as a function of the speed limit that holds all along them.

    Any consistent units will do; these are of metres and seconds. Add tables with :func:`total`.

    Attributes
    ----------
    breaks : ndarray, shape (rows,)
        Speeds from which on a row holds, rising, the first 0 [m/s].
    constant : ndarray, shape (rows,)
        Part that no speed changes [s].
    linear : ndarray, shape (rows,)
        Part that grows with the speed [s2/m]; 0 in the last row.
    inverse : ndarray, shape (rows,)
        Part that falls with the speed [m].
    """

    breaks: Array
    constant: Array
    linear: Array
    inverse: Array

    @property
    def length(self) -> float:
        """Length of all paths [m]."""
        return float(self.inverse[0])

    def seconds(self, speed: Number, within: tuple[float, float] | None = None) -> Number:
        """Return the time of all paths [s].

        Parameters
        ----------
        speed : float or ndarray
            Limit that holds everywhere [m/s], above 0; infinite asks for the time without it.
        within : (float, float), optional
            Least and largest of these, as :func:`speed_range` finds them, where they are known already.

        Raises
        ------
        InputError
            A speed is not above 0.
        """
        v = np.asarray(speed, dtype=np.float64)
        first, last = np.searchsorted(self.breaks, within or speed_range(v), side="right") - 1
        if first == last:  # speeds seldom cross a break, and one row needs no search
            found = self._row(first, v)
        elif last - first < _FEW_ROWS and not self.linear[first : last + 1].any():
            # without ramps the seconds are convex in 1/v: the highest of the straight lines that they consist of
            found = self._row(first, v)
            for row in range(first + 1, last + 1):
                found = np.maximum(found, self._row(row, v))
        else:
            rows = np.searchsorted(self.breaks, v, side="right") - 1
            found = self.inverse[rows] / v + self.constant[rows] + self.linear[rows] * np.minimum(v, _FAST)
        return found if v.ndim else float(found)

    def _row(self, row: int, v: Array) -> Array:
        """Return the formula of one row."""
        found = self.inverse[row] / v
        if self.constant[row]:
            found = found + self.constant[row]
        if self.linear[row]:
            found = found + self.linear[row] * np.minimum(v, _FAST)
        return np.asarray(found)


def speed_range(speed: Number) -> tuple[float, float]:
    """Return the least and the largest of some speeds, or raise InputError if one of them is not above 0."""
    v = np.asarray(speed, dtype=np.float64)
    least, most = float(v.min(initial=np.inf)), float(v.max(initial=0.0))
    if not least > 0:
        raise InputError("a speed has to be above 0", remedy="leave out what does not move")
    return least, max(most, least)


def straight(length: Number) -> SpeedTable:
    """Return the table of paths that nothing slows but the speed limit: length over speed.

    Parameters
    ----------
    length : float or ndarray
        Length of each path [m].
    """
    return limited(np.atleast_1d(length), np.inf)


def limited(lengths: Number, limits: Number) -> SpeedTable:
    """Return the table of stretches with a speed limit of their own each, without ramps between them.

    Parameters
    ----------
    lengths : float or ndarray
        Length of each [m].
    limits : float or ndarray
        Limit of each [m/s]; infinite for none.

    Raises
    ------
    InputError
        A length is negative or infinite, or a stretch has no speed at all.
    """
    length, limit = (np.ravel(x) for x in np.broadcast_arrays(np.asarray(lengths, float), np.asarray(limits, float)))
    if not ((length >= 0) & np.isfinite(length)).all():
        raise InputError("a length has to be a number from 0 up")
    if not (limit[length > 0] > 0).all():
        raise InputError("a speed limit has to be above 0", remedy="a stretch without a limit has an infinite one")
    held = (length > 0) & np.isfinite(limit)
    free = float(length[~held].sum())
    length, limit = length[held], limit[held]
    changes = np.stack([limit, length / limit, np.zeros_like(limit), -length])
    return _from_changes(changes, length=free + float(length.sum()), free=free)


def ramped(low_speed: Number, high_speed: Number, accel: float) -> SpeedTable:
    """Return the table of ramps between two speeds, upwards or downwards, at an acceleration.

    At each end of a ramp its time changes by (v - end)^2 / (2 a v) from the speed of that end on: more from the
    low speed, less from the high one.

    Parameters
    ----------
    low_speed, high_speed : float or ndarray
        Speeds at the ends of each [m/s].
    accel : float
        Acceleration, and deceleration [m/s2].

    Raises
    ------
    InputError
        A speed is negative or infinite, a ramp has its ends the wrong way round, or the acceleration is not above 0.
    """
    check_accel(accel)
    low, high = (np.ravel(x) for x in np.broadcast_arrays(np.asarray(low_speed, float), np.asarray(high_speed, float)))
    if not ((low >= 0) & (low <= high) & np.isfinite(high)).all():
        raise InputError("a ramp has to run from a speed of 0 or more to one that is no less")
    speeds = np.concatenate([low, high])
    more = np.repeat([1.0, -1.0], len(low)) / (2 * accel)
    changes = np.stack([speeds, -2 * more * speeds, more, more * speeds**2])
    return _from_changes(changes, length=float(((high - low) * (high + low)).sum()) / (2 * accel), free=0.0)


def total(tables: Sequence[SpeedTable]) -> SpeedTable:
    """Return the table of the paths of all tables together: their seconds, added at any speed."""
    if not tables:
        return straight(0.0)
    columns = [[t.breaks, t.constant, t.linear, t.inverse] for t in tables]
    rows = np.concatenate([np.stack(column) for column in columns], axis=1)
    ends = np.cumsum([len(t.breaks) for t in tables])
    starts = np.concatenate([[0], ends[:-1]])
    changes = np.diff(rows, axis=1, prepend=0.0)
    changes[:, starts] = rows[:, starts]
    changes[3, starts] = 0.0
    changes[0] = rows[0]
    return _from_changes(changes, length=float(rows[3, starts].sum()), free=float(rows[3, ends - 1].sum()))


def check_accel(accel: float) -> None:
    """Raise InputError unless an acceleration is above 0 and finite."""
    if not 0 < accel < np.inf:
        raise InputError("an acceleration has to be above 0", remedy="a motion without ramps is one of its own kind")


def _from_changes(changes: Array, *, length: float, free: float) -> SpeedTable:
    """Add up what changes from speed to speed.

    Parameters
    ----------
    changes : ndarray, shape (4, changes)
        Speed, and what is added from it on to the constant, the linear and the inverse part.
    length : float
        Length of all paths [m], which is the inverse part at the first break.
    free : float
        Length that no limit holds at any speed [m], which is the inverse part of the last row.
    """
    breaks, group = np.unique(np.concatenate([[0.0], changes[0]]), return_inverse=True)
    added = np.stack([np.bincount(group[1:], change, len(breaks)).astype(float) for change in changes[1:]])
    added[2, 0] += length
    kept = (added != 0).any(axis=0)
    kept[0] = True
    constant, linear, inverse = np.cumsum(added[:, kept], axis=1)
    # free of what rounding leaves of sums that end in nothing, which a high speed would enlarge
    linear[-1], inverse[-1] = 0.0, free
    return SpeedTable(breaks[kept], constant, linear, inverse)
