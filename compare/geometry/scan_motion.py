"""Motion of a beam: speed on curves, delays of a scanner, size of spot and field, sheets that move under the beam.

All functions take any consistent units; these are of metres, seconds and radians.
"""

from __future__ import annotations

import numpy as np

from compare.assumptions import Number
from compare.geometry.strokes import Array

_SHARPEST = np.pi / 6
"""Largest turn [rad] between chords of a curve. Our own convention."""

_MOST_UNEVEN = 3.0
"""How many times as long as the other one chord of a curve may be. Our own convention: the first chords of a curve
that leaves its end slowly, at even steps of its parameter, are as 1 to 3."""

STRAIGHT_ON = 1e-6
"""Turn [rad] up to which a path goes straight on: what rounding makes of a line that was split."""

_ROUNDING = 1 + 1e-6


def curve_speed(radius: Number, accel: Number) -> Number:
    """Return the speed on a curve [m/s] at which it takes all of an acceleration: sqrt(a r).

    Parameters
    ----------
    radius : float or ndarray
        Radius [m], infinite where straight.
    accel : float or ndarray
        Acceleration [m/s2].

    References
    ----------
    Textbook kinematics. Published as the limit on curves of small moves: Klipper, Kinematics.md.
    """
    return np.sqrt(accel * radius)


def flattened_radii(lengths: Array, radii: Array, turns: Array, *, sagitta: float = np.inf) -> Array:
    """Return the radius of each piece of a path, chords of a flattened curve having that of the curve.

    A straight piece is a chord where the path turns at both its ends to the same side, by 30 degrees at most, and the
    piece beyond one of them is neither over three times as long nor as short. A straight piece beside a chord, at such
    a turn, is one too unless it is over three times as long: the first and the last of a curve. Each turn makes a
    radius with the lengths of both pieces that meet there, r = (L1 + L2) / (4 tan(turn / 2)), which is
    L / (2 tan(turn / 2)) among chords of one length; the smaller radius of both ends holds. Straight pieces that
    follow one another without a turn count as one.

    So no time depends on how finely a curve was flattened. 30 degrees and three times are conventions of this program,
    no published figures.

    Parameters
    ----------
    lengths : ndarray, shape (pieces,)
        Length of each piece [m], above 0.
    radii : ndarray, shape (pieces,)
        Radius of each as drawn [m], infinite where straight.
    turns : ndarray, shape (pieces - 1,)
        Change of direction at each inner joint [rad], with its sign.
    sagitta : float
        How far a chord may stray from its curve [m], such as the tolerance that curves were flattened to. Without it
        long lines that meet at small turns one after the other pass for a curve as well.

    References
    ----------
    Derived here, from chords of a circle. The rule of one turn and one length is published as the limit on small
    moves: Klipper, Kinematics.md.
    """
    return _smoothed(lengths, radii, turns, sagitta)[0]


def corner_turns(lengths: Array, radii: Array, turns: Array, *, sagitta: float = np.inf) -> Array:
    """Return the turn at each inner joint [rad], 0 where it is only a joint of chords of a flattened curve.

    What a corner costs is due at corners, and not at the chords of a curve: see :func:`flattened_radii`, also for
    the parameters.
    """
    return _smoothed(lengths, radii, turns, sagitta)[1]


def polygon_delay(turn: Number, delay: Number) -> Number:
    """Return the time a scanner waits at a corner with the beam on [s]: delay x (1 - cos turn).

    Parameters
    ----------
    turn : float or ndarray
        Change of direction [rad], 0 straight on.
    delay : float or ndarray
        Delay at a right angle [s].

    References
    ----------
    Published: user manual of a general-purpose scanner control card (name withheld), variable polygon delay.
    """
    return delay * (1 - np.cos(turn))


def jump_delay(length: Number, full: Number, short_share: Number = 1.0, short_length: Number = 0.0) -> Number:
    """Return the time a scanner settles after a jump [s]: less after a short one.

    It grows evenly from ``short_share * full`` after a jump of no length to ``full`` after ``short_length``.

    Parameters
    ----------
    length : float or ndarray
        Length of the jump [m].
    full : float or ndarray
        Delay after a long jump [s].
    short_share : float or ndarray
        Share of it after the shortest jump [0..1].
    short_length : float or ndarray
        Length from which on a jump is long [m].

    References
    ----------
    Published: manual of a second general-purpose scanner control card (name withheld), variable jump delay.
    """
    share = np.divide(
        length, short_length, out=np.ones(np.broadcast(length, short_length).shape), where=length < short_length
    )
    found = full * (short_share + (1 - short_share) * share)
    return found if np.ndim(found) else float(found)


def spot_diameter(wavelength: Number, beam_quality: Number, focal_length: Number, beam_diameter: Number) -> Number:
    """Return the diameter of the focal spot [m]: 4 M2 lambda f / (pi D).

    Parameters
    ----------
    wavelength : float or ndarray
        Wavelength [m].
    beam_quality : float or ndarray
        Beam quality M2, 1 at best [-].
    focal_length : float or ndarray
        Focal length of the lens [m].
    beam_diameter : float or ndarray
        Diameter of the beam at the lens, where its intensity falls to 1/e2 [m].

    References
    ----------
    From memory: Steen & Mazumder, Laser Material Processing. Without the aberration of the lens.
    """
    return 4 * beam_quality * wavelength * focal_length / (np.pi * beam_diameter)


def depth_of_focus(spot: Number, beam_quality: Number, wavelength: Number) -> Number:
    """Return the depth of focus [m], twice the Rayleigh length: pi d2 / (2 M2 lambda).

    Parameters
    ----------
    spot : float or ndarray
        Diameter of the focal spot [m].
    beam_quality, wavelength : float or ndarray
        As for :func:`spot_diameter`.

    References
    ----------
    From memory: Steen & Mazumder, Laser Material Processing. Makers also state it by narrower conventions.
    """
    return np.pi * spot**2 / (2 * beam_quality * wavelength)


def field_side(focal_length: Number, angle: Number) -> Number:
    """Return the side of the square field behind an f-theta lens [m]: 2 f theta.

    Parameters
    ----------
    focal_length : float or ndarray
        Focal length [m].
    angle : float or ndarray
        Largest angle of the beam to either side [rad], twice that of the mirror.

    References
    ----------
    Position = f theta: published in tutorials on f-theta lenses.
    """
    return 2 * focal_length * angle


def fly_speed(repeat: Number, seconds: Number) -> Number:
    """Return the fastest that sheets may move while they are cut [m/s]: one repeat in the time it takes.

    Parameters
    ----------
    repeat : float or ndarray
        Length of a sheet with the gap to the next [m].
    seconds : float or ndarray
        Cutting time of one sheet [s].

    References
    ----------
    Derived here: the field has to be long enough besides.
    """
    return repeat / seconds


def _smoothed(lengths: Array, radii: Array, turns: Array, sagitta: float) -> tuple[Array, Array]:
    """Return radii and turns of a path, without the chords of flattened curves and the joints between them."""
    found, corners = np.array(radii, dtype=np.float64), np.array(turns, dtype=np.float64)
    if len(found) < 2:
        return found, corners
    was_straight = np.isinf(found)
    one_line = (np.abs(corners) <= STRAIGHT_ON) & was_straight[:-1] & was_straight[1:]
    joint = np.flatnonzero(~one_line)
    begins = np.concatenate([[0], joint + 1])
    length, is_straight, turn = np.add.reduceat(lengths, begins), was_straight[begins], np.abs(corners[joint])
    before, after = length[:-1], length[1:]
    small = is_straight[:-1] & is_straight[1:] & (turn <= _SHARPEST * _ROUNDING)
    small &= np.minimum(before, after) * np.tan(turn / 4) / 2 <= sagitta * _ROUNDING
    most = _MOST_UNEVEN * _ROUNDING
    even = np.concatenate([[False], (before <= most * after) & (after <= most * before), [False]])
    side = np.concatenate([[0.0], np.where(small, np.sign(corners[joint]), 0.0), [0.0]])
    chord = (side[:-1] * side[1:] > 0) & (even[:-1] | even[1:])
    on_curve = small & (chord[:-1] | chord[1:])

    bend = np.where(on_curve, 4 * np.tan(np.where(on_curve, turn, 0.0) / 2) / (before + after), 0.0)
    curvature = np.zeros_like(length)
    curvature[:-1] = np.where(chord[:-1] | (before <= most * after), bend, 0.0)
    curvature[1:] = np.maximum(curvature[1:], np.where(chord[1:] | (after <= most * before), bend, 0.0))
    radius = np.divide(1.0, curvature, out=np.full_like(length, np.inf), where=curvature > 0)
    size = np.diff(np.concatenate([begins, [len(found)]]))
    corners[joint[on_curve]] = 0.0
    return np.where(was_straight, np.repeat(radius, size), found), corners
