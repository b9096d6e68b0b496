"""The path of every head over one sheet: who makes which stroke, in which order, from which end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.geometry.axis_motion import moves_table, path_table
from compare.geometry.head_fields import SEAMS, Seam, cut_to_reach, reaching
from compare.geometry.head_shares import Shares, share_out
from compare.geometry.line_kinds import DEPTH_CLASSES, in_order
from compare.geometry.scan_motion import curve_speed, flattened_radii
from compare.geometry.sheet_loads import HeadLoad, SheetLoads
from compare.geometry.speed_table import SpeedTable, limited, straight
from compare.geometry.stroke_order import Ends, order_strokes
from compare.geometry.strokes import Array
from compare.geometry.trails import DRAWN_MM, Trail, inside_first


class Effort(NamedTuple):
    """What strokes and jumps are taken to cost while a path is planned, before any speed is known.

    Attributes
    ----------
    metre_s : float
        Seconds per metre of line.
    delay_s : float
        Seconds per stroke: delays.
    jump_metre_s : float
        Seconds per metre of jump.
    usual_jump_m : float
        Jump to a stroke, as long as there is no order [m].
    """

    metre_s: float
    delay_s: float
    jump_metre_s: float
    usual_jump_m: float

    def of(self, trail: Trail) -> float:
        """Return what a stroke is taken to cost with its jump, wherever that comes from [s]."""
        return trail.length_mm / 1000 * self.metre_s + self.delay_s + self.usual_jump_m * self.jump_metre_s

    def of_head(self, head: HeadPath) -> float:
        """Return what a head is taken to do with its jumps as they are [s]."""
        metres = sum(t.length_mm for t in head.trails) / 1000
        jumps = float(head.jumps_mm.sum()) / 1000
        return metres * self.metre_s + len(head.trails) * self.delay_s + jumps * self.jump_metre_s


class Motion(NamedTuple):
    """How heads move.

    Attributes
    ----------
    axes : bool
        Whether masses are moved along axes; otherwise mirrors, with delays.
    accel_m_s2 : float
        Acceleration along the path, and across it in curves [m/s2].
    corner_deviation_mm : float
        How far axes may cut a corner short, which gives its speed [mm].
    short_jump_mm : float
        Jumps below this need less than the whole delay [mm].
    """

    axes: bool
    accel_m_s2: float
    corner_deviation_mm: float
    short_jump_mm: float


@dataclass(frozen=True, eq=False)
class HeadPath:
    """What one head does, in order.

    Attributes
    ----------
    trails : tuple of Trail
        Its strokes as they are run.
    jumps_mm : ndarray, shape (trails,)
        Jump to each; to the first from the end of the last, as it was on the sheet before [mm].
    """

    trails: tuple[Trail, ...]
    jumps_mm: Array


@dataclass(frozen=True, eq=False)
class Toolpath:
    """The path of every head over one sheet.

    Attributes
    ----------
    heads : tuple of HeadPath
        One for each head.
    fields : ndarray, shape (heads, 4)
        Least x and y, largest x and y that each reaches [mm].
    cut_strokes : int
        Strokes that no field holds whole, and that are cut at the border.
    balance : float
        What all heads have to do as a share of what they would if all had as much as the slowest, at the effort
        that was planned with [-].
    unevenness : float
        By how much the slowest head has more to do than the slowest head of any sharing must have, at
        that effort [-].
    """

    heads: tuple[HeadPath, ...]
    fields: Array
    cut_strokes: int
    balance: float
    unevenness: float

    @property
    def jump_mm(self) -> float:
        """Length of all jumps [mm]."""
        return float(sum(head.jumps_mm.sum() for head in self.heads))

    @property
    def strokes(self) -> int:
        """Strokes, the parts of cut ones counted each."""
        return sum(len(head.trails) for head in self.heads)


def plan_sheet(trails: Sequence[Trail], fields: Array, *, stitch_mm: float, effort: Effort) -> Toolpath:
    """Share the strokes of a sheet out among heads and put them in order.

    Parameters
    ----------
    trails : sequence of Trail
        The strokes of all blanks [mm].
    fields : ndarray, shape (heads, 4)
        What each head reaches [mm].
    stitch_mm : float
        How far the parts of a cut stroke overlap [mm].
    effort : Effort
        What strokes are shared out by.

    Returns
    -------
    Toolpath
        The same for the same input.

    Raises
    ------
    OutOfReachError
        If a line is in no field.
    """
    strokes, source, shares = _best_shares(trails, fields, stitch_mm, effort)
    earlier = _parts_of(inside_first(trails), source, len(trails))
    heads = []
    for head in range(len(fields)):
        own = np.flatnonzero(shares.head == head)
        number = np.full(len(strokes), -1)
        number[own] = np.arange(len(own))
        pairs = number[earlier]
        heads.append(_in_order([strokes[i] for i in own], pairs[(pairs >= 0).all(axis=1)]))
    slowest = float(shares.loads.max(initial=0.0))
    return Toolpath(
        tuple(heads),
        fields,
        len(trails) - int((np.bincount(source, minlength=len(trails)) == 1).sum()),
        float(shares.loads.mean()) / slowest if slowest else 1.0,
        max(slowest / shares.bound - 1, 0.0) if shares.bound else 0.0,
    )


_EVEN = 1.01
"""Heads whose slowest has this much more to do than the mean need no better place to cut at."""


class _Shared(NamedTuple):
    """Strokes as the heads make them, the trail each comes from, and who makes it."""

    strokes: list[Trail]
    source: NDArray[np.int64]
    shares: Shares


def _best_shares(trails: Sequence[Trail], fields: Array, stitch_mm: float, effort: Effort) -> _Shared:
    """Share strokes out; those that must be cut are cut where in the overlap it leaves the slowest head with least."""
    held = np.asarray(reaching(trails, fields).any(axis=1), bool)
    seam: Seam = (SEAMS[0], SEAMS[0])
    task = _Task(trails, held, fields, stitch_mm, effort)
    best = _shared(task, seam)
    if held.all():
        return best
    for axis in (0, 1):
        for share in SEAMS[1:]:
            if best.shares.loads.max() <= best.shares.loads.mean() * _EVEN:
                return best
            tried: Seam = (share, seam[1]) if axis == 0 else (seam[0], share)
            found = _shared(task, tried)
            if found.shares.loads.max() < best.shares.loads.max() * (1 - 1e-9):
                best, seam = found, tried
    return best


class _Task(NamedTuple):
    """What is to be shared out; ``held`` marks the trails that a field holds whole."""

    trails: Sequence[Trail]
    held: NDArray[np.bool_]
    fields: Array
    stitch_mm: float
    effort: Effort


def _shared(task: _Task, seam: Seam) -> _Shared:
    """Return the strokes cut at a place and shared out."""
    trails, held, fields, stitch_mm, effort = task
    strokes: list[Trail] = []
    source: list[int] = []
    for i, trail in enumerate(trails):
        parts = [trail] if held[i] else cut_to_reach(trail, fields, stitch_mm, seam)
        strokes += parts
        source += [i] * len(parts)
    weight = np.array([effort.of(t) for t in strokes])
    middle = np.array([(t.points.min(axis=0) + t.points.max(axis=0)) / 2 for t in strokes]).reshape(-1, 1, 2)
    centre = (fields[:, :2] + fields[:, 2:]) / 2
    distance = np.hypot(*np.moveaxis(middle - centre, 2, 0))
    reach = reaching(strokes, fields)
    return _Shared(strokes, np.array(source, np.int64), share_out(weight, reach, distance))


def _parts_of(pairs: NDArray[np.int64], source: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """Return pairs of trails as pairs of their parts."""
    if len(source) == count:
        return pairs
    parts = [np.flatnonzero(source == i) for i in range(count)]
    found = [(a, b) for one, other in pairs.tolist() for a in parts[one] for b in parts[other]]
    return np.array(found, np.int64).reshape(-1, 2)


def _in_order(strokes: list[Trail], before: NDArray[np.int64]) -> HeadPath:
    if not strokes:
        return HeadPath((), np.zeros(0))
    ways: list[Trail] = []
    stroke: list[int] = []
    for i, trail in enumerate(strokes):
        runs = (
            [trail.started_at(leg) for leg in trail.entries().tolist()] if trail.closed else [trail, trail.reversed()]
        )
        ways += runs
        stroke += [i] * len(runs)
    enter, leave = np.array([w.points[0] for w in ways]), np.array([w.points[-1] for w in ways])
    # sheet follows sheet, so the way back to the first stroke counts; but with an order to keep there is a first one
    order = order_strokes(Ends(enter, leave, np.array(stroke, np.int64)), before=before, closed=not len(before))
    way = order.ways
    jumps = np.hypot(*(enter[way] - leave[np.roll(way, 1)]).T)
    return HeadPath(tuple(ways[i] for i in way), jumps)


def loads_of(path: Toolpath, motion: Motion, made_for: Iterable[str]) -> SheetLoads:
    """Boil a path down to what each head has to do.

    Parameters
    ----------
    path : Toolpath
        The path.
    motion : Motion
        How the heads move.
    made_for : iterable of str
        Dotted names of the inputs that the path was planned for.

    Returns
    -------
    SheetLoads
    """
    cut_mm = [sum(t.length_mm for t in head.trails if t.kind == "cutting") for head in path.heads]
    all_mm = sum(cut_mm)
    heads = []
    for head, own_mm in zip(path.heads, cut_mm, strict=True):
        jumps_m = head.jumps_mm / 1000
        short = np.maximum(0.0, 1 - head.jumps_mm / motion.short_jump_mm)
        heads.append(
            HeadLoad(
                length_m={
                    kind: sum(t.length_mm for t in head.trails if t.kind == kind) / 1000
                    for kind in in_order(t.kind for t in head.trails)
                },
                marking={
                    kinds[0]: marking_table(some, motion)
                    for kinds in DEPTH_CLASSES
                    if (some := [t for t in head.trails if t.kind in kinds])
                },
                jumps=jumps_table(jumps_m, motion),
                strokes=len(head.trails),
                short_jumps=float(short.sum()),
                corner_load=0.0 if motion.axes else float(sum(t.corner_load for t in head.trails)),
                nick_share=own_mm / all_mm if all_mm else 0.0,
            )
        )
    return SheetLoads(tuple(heads), frozenset(made_for))


def marking_table(trails: Sequence[Trail], motion: Motion) -> SpeedTable:
    """Return the seconds that strokes take at a speed.

    Parameters
    ----------
    trails : sequence of Trail
        Strokes [mm].
    motion : Motion
        How the head moves.
    """
    if not trails:
        return straight(0.0)
    metres = [t.length / 1000 for t in trails]
    radii = [t.radius / 1000 for t in trails]
    if motion.axes:
        # one path with a turning back, at which everything stops, between any two strokes
        turns = np.concatenate([np.append(t.inner_turns, np.pi) for t in trails])[:-1]
        return path_table(
            np.concatenate(metres),
            np.concatenate(radii),
            turns,
            motion.accel_m_s2,
            motion.corner_deviation_mm / 1000,
            sagitta=DRAWN_MM / 1000,
        )
    curves = [
        flattened_radii(length, radius, t.inner_turns, sagitta=DRAWN_MM / 1000)
        for length, radius, t in zip(metres, radii, trails, strict=True)
    ]
    return limited(np.concatenate(metres), curve_speed(np.concatenate(curves), motion.accel_m_s2))


def jumps_table(jumps_m: Array, motion: Motion) -> SpeedTable:
    """Return the seconds that jumps take at a speed; lengths in metres."""
    return moves_table(jumps_m, motion.accel_m_s2) if motion.axes else straight(float(jumps_m.sum()))
