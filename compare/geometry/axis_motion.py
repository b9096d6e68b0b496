"""Motion of axes that accelerate: gantry and knife machines, and scanners taken as axes.

Every place of a path has its limit of speed: curves by the acceleration towards their centre, corners by how far the
path may be cut short. Between them the machine gains or loses speed at its acceleration, looking ahead all the way to
the end of the stroke, where it rests. Jerk is left out. All functions take any consistent units; these are of metres,
seconds and radians.
"""

from __future__ import annotations

import numpy as np

from compare.assumptions import Number
from compare.errors import InputError
from compare.geometry.scan_motion import STRAIGHT_ON, corner_turns, curve_speed, flattened_radii
from compare.geometry.speed_table import SpeedTable, check_accel, limited, ramped, total
from compare.geometry.strokes import Array

_ROUNDING = 1e-12


def segment_seconds(length: Number, entry: Number, exit_: Number, cap: Number, accel: Number) -> Number:
    """Return the time of a straight move between two speeds [s]: up to the cap, or as far as the length allows.

    With the fastest speed p, p^2 = min(cap^2, (entry^2 + exit^2)/2 + a L), it takes (2 p - entry - exit)/a for the
    ramps and the rest of the length over p.

    Parameters
    ----------
    length : float or ndarray
        Length [m].
    entry, exit_ : float or ndarray
        Speeds at its ends [m/s].
    cap : float or ndarray
        Highest speed [m/s].
    accel : float or ndarray
        Acceleration, and deceleration [m/s2].

    Raises
    ------
    InputError
        A speed at an end is above the cap, or the length is too short to get from one to the other.

    References
    ----------
    Derived here. v^2 = v0^2 + 2 a s: published in Klipper, Kinematics.md, and any textbook.
    """
    if not (np.asarray(accel) > 0).all():
        raise InputError("an acceleration has to be above 0")
    if not ((np.asarray(entry) >= 0) & (np.asarray(exit_) >= 0) & (np.asarray(length) >= 0)).all():
        raise InputError("a length or a speed is negative")
    if not (np.maximum(entry, exit_) <= cap).all():
        raise InputError("a speed at an end is above the highest speed")
    change, possible = np.abs(np.square(exit_) - np.square(entry)), 2 * accel * length
    if not (change <= possible + _ROUNDING * np.square(np.maximum(entry, exit_))).all():
        raise InputError("a move is too short for its change of speed", remedy="lower the higher of its two speeds")
    peak, rest = _peak(length, entry, exit_, cap, accel)
    moving = rest > 0
    even = np.divide(rest, peak, out=np.zeros_like(rest), where=moving)
    found = np.asarray((2 * peak - entry - exit_) / accel + even)
    return found if found.ndim else float(found)


def corner_speed(turn: Number, accel: Number, deviation: Number) -> Number:
    """Return the speed at a corner [m/s], infinite straight on and 0 at a reversal.

    The path is thought of as rounded by an arc that strays from the corner by ``deviation``; the corner is taken as
    fast as that arc would be: v^2 = a d sin(t/2) / (1 - sin(t/2)) with the angle t between both lines.

    Parameters
    ----------
    turn : float or ndarray
        Change of direction [rad], of either sign.
    accel : float or ndarray
        Acceleration [m/s2].
    deviation : float or ndarray
        Distance from the corner to the arc [m]; 0 stops at every corner.

    References
    ----------
    Published: grbl, planner.c (junction deviation).
    """
    bend = np.minimum(np.abs(turn), np.pi)
    straight_on = bend <= STRAIGHT_ON
    half = np.where(straight_on, np.pi, bend) / 2
    # 1 - cos without the digits that it loses at small turns; sin of what is left to a reversal, which is 0 there
    ease = np.sin(np.pi / 2 - half) / (2 * np.square(np.sin(half / 2)))
    found = np.where(straight_on, np.inf, np.sqrt(accel * deviation * ease))
    return found if found.ndim else float(found)


def deviation_from_corner_speed(speed_at_90: Number, accel: Number) -> Number:
    """Return the deviation [m] with which a right angle is taken at a speed.

    Parameters
    ----------
    speed_at_90 : float or ndarray
        Speed at a right angle [m/s].
    accel : float or ndarray
        Acceleration [m/s2].

    References
    ----------
    Published: Klipper, toolhead.py (square corner velocity): v^2 (sqrt(2) - 1) / a.
    """
    return np.square(speed_at_90) * (2**0.5 - 1) / accel


def path_speeds(lengths: Array, joint_limits: Array, piece_limits: Array, accel: float) -> Array:
    """Return the highest speeds that can be had at the joints of a path from rest to rest, without any other limit.

    No joint is passed faster than it allows, and than both its pieces do; going back, no faster than one can brake
    from to the next; going forth, no faster than one can have become since the last.

    Parameters
    ----------
    lengths : ndarray, shape (pieces,)
        Length of each piece [m].
    joint_limits : ndarray, shape (pieces - 1,)
        Limit at each inner joint [m/s].
    piece_limits : ndarray, shape (pieces,)
        Limit all along each piece [m/s].
    accel : float
        Acceleration, and deceleration [m/s2].

    Returns
    -------
    ndarray, shape (pieces + 1,)
        Speeds [m/s]: 0 at the start, at the inner joints, 0 at the end.

    References
    ----------
    Published: grbl, planner.c, and Klipper, Kinematics.md (look-ahead in two passes).
    """
    lengths, piece_limits = np.asarray(lengths, dtype=np.float64), np.asarray(piece_limits, dtype=np.float64)
    most = np.zeros(len(lengths) + 1)
    most[1:-1] = np.square(np.minimum(joint_limits, np.minimum(piece_limits[:-1], piece_limits[1:])))
    gains: list[float] = (2 * accel * lengths).tolist()
    back = _held_back(most[::-1].tolist(), gains[::-1])
    return np.sqrt(_held_back(back[::-1], gains))


def path_table(
    lengths: Array, radii: Array, turns: Array, accel: float, deviation: float, *, sagitta: float = np.inf
) -> SpeedTable:
    """Return the seconds of a stroke from rest to rest, for any speed limit.

    Curves are taken at the speed that their radius allows, flattened ones too; corners as fast as the deviation
    allows. A turn of pi is a stop: many strokes, one behind the other with such turns between them, give in one call
    what :func:`~compare.geometry.speed_table.total` makes of the tables of each.

    Parameters
    ----------
    lengths : ndarray, shape (pieces,)
        Length of each piece [m].
    radii : ndarray, shape (pieces,)
        Radius of each [m], infinite where straight.
    turns : ndarray, shape (pieces - 1,)
        Change of direction at each inner joint [rad], with its sign, 0 where pieces meet smoothly.
    accel : float
        Acceleration [m/s2].
    deviation : float
        How far the path may stray at a corner [m], see :func:`corner_speed`.
    sagitta : float
        How far chords of flattened curves stray from them [m], see :func:`~compare.geometry.scan_motion.flattened_radii`.

    Raises
    ------
    InputError
        Arrays do not fit one another, or a length, a radius or the acceleration is not above 0.
    """
    lengths, radii, turns = (np.asarray(values, dtype=np.float64) for values in (lengths, radii, turns))
    _check_path(lengths, radii, turns, accel, deviation)
    limits = curve_speed(flattened_radii(lengths, radii, turns, sagitta=sagitta), accel)
    corners = corner_speed(corner_turns(lengths, radii, turns, sagitta=sagitta), accel, deviation)
    speeds = path_speeds(lengths, np.asarray(corners, dtype=np.float64), np.asarray(limits, dtype=np.float64), accel)
    entry, exit_ = speeds[:-1], speeds[1:]
    peak, rest = _peak(lengths, entry, exit_, limits, accel)
    ramps = ramped(np.concatenate([entry, exit_]), np.concatenate([peak, peak]), accel)
    even = rest > 0
    return total([ramps, limited(rest[even], peak[even])]) if even.any() else ramps


def moves_table(lengths: Array, accel: float) -> SpeedTable:
    """Return the seconds of straight moves from rest to rest, such as jumps, all together, for any speed limit.

    Parameters
    ----------
    lengths : ndarray
        Length of each [m].
    accel : float
        Acceleration, and deceleration [m/s2].

    Raises
    ------
    InputError
        A length is negative or infinite, or the acceleration is not above 0.
    """
    lengths = np.ravel(np.asarray(lengths, dtype=np.float64))
    check_accel(accel)
    if not ((lengths >= 0) & np.isfinite(lengths)).all():
        raise InputError("a length has to be a number from 0 up")
    peak = np.sqrt(accel * np.concatenate([lengths, lengths]))
    return ramped(np.zeros_like(peak), peak, accel)


def _peak(length: Number, entry: Number, exit_: Number, cap: Number, accel: Number) -> tuple[Array, Array]:
    """Return the fastest speed on a move, and the length it is held for."""
    ends = np.square(entry) + np.square(exit_)
    reached = ends / 2 + accel * length
    faster = np.maximum(np.square(entry), np.square(exit_))
    # one ramp all along has its peak at an end: the same speed to the last digit, so that nothing breaks there
    squared = np.where(reached <= faster * (1 + _ROUNDING), faster, reached)
    held = squared > np.square(cap)
    peak = np.where(held, cap, np.where(squared == faster, np.maximum(entry, exit_), np.sqrt(squared)))
    rest = np.where(held, length - (2 * np.square(np.where(held, cap, 0.0)) - ends) / (2 * accel), 0.0)
    return peak, np.maximum(rest, 0.0)


def _held_back(limits: list[float], gains: list[float]) -> list[float]:
    """Return the squared speeds along a pass: at most each limit, and at most the one before plus a gain.

    A plain loop: each step needs the one before, and a running minimum of sums would cancel near rest.
    """
    reached = limits[0]
    found = [reached]
    for gain, limit in zip(gains, limits[1:], strict=True):
        reached = min(reached + gain, limit)
        found.append(reached)
    return found


def _check_path(lengths: Array, radii: Array, turns: Array, accel: float, deviation: float) -> None:
    check_accel(accel)
    if not len(lengths) == len(radii) == len(turns) + 1:
        raise InputError("a path needs a length and a radius for each piece and a turn between any two")
    if not ((lengths > 0) & np.isfinite(lengths)).all():
        raise InputError("a piece of a path has no length", remedy="leave it out and turn once for it")
    if not (radii > 0).all():
        raise InputError("a radius has to be above 0", remedy="a straight piece has an infinite one")
    if not (np.isfinite(turns).all() and 0 <= deviation < np.inf):
        raise InputError("turns and the deviation at corners have to be numbers, the deviation 0 or more")
