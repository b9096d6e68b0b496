"""Where the seconds of a sheet go on the laser line, part by part; the parts add up to the whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from compare.geometry.line_kinds import BEAM_KINDS
from compare.geometry.sheet_loads import HeadLoad
from compare.geometry.strokes import Array
from compare.geometry.toolpath import Motion, Toolpath, jumps_table, marking_table
from compare.names import Inputs
from compare.routes.laser import cycle_s, line_m, line_speeds, sheet_s


@dataclass(frozen=True)
class HeadTime:
    """Seconds of one head for one sheet.

    Attributes
    ----------
    marking : mapping of str to float
        Kind of line to its length divided by its speed [s].
    slowing : float
        What curves, and with axes corners and starts, take more than that [s].
    jumps : float
        Going from stroke to stroke [s].
    delays : float
        Delays after jumps and after strokes [s].
    corners : float
        Delays of a scanner at corners [s].
    nicks : float
        Leaving nicks [s].
    """

    marking: Mapping[str, float]
    slowing: float
    jumps: float
    delays: float
    corners: float
    nicks: float

    @property
    def busy(self) -> float:
        """All of it [s]."""
        return sum(self.marking.values()) + self.slowing + self.jumps + self.delays + self.corners + self.nicks


@dataclass(frozen=True)
class SheetTime:
    """Seconds of one sheet.

    Attributes
    ----------
    planned : bool
        Whether they come from a planned path; otherwise from means.
    speeds : mapping of str to float
        Speed of each kind of line [m/s].
    heads : tuple of HeadTime
        Each head of a planned path; without one, one head with an even share.
    head_count : int
        Heads of the line.
    cutting : float
        Seconds of the slowest head [s].
    cycle : float
        From sheet to sheet: the feeder may be slower [s].
    """

    planned: bool
    speeds: Mapping[str, float]
    heads: tuple[HeadTime, ...]
    head_count: int
    cutting: float
    cycle: float

    @property
    def by_speed(self) -> float:
        """Length divided by speed alone, shared evenly among the heads [s]."""
        return self._mean([sum(head.marking.values()) for head in self.heads])

    def _mean(self, seconds: list[float]) -> float:
        return sum(seconds) / len(self.heads)

    def parts(self) -> dict[str, float]:
        """Return the mean over the heads of each part, which add up to the cycle [s].

        Returns
        -------
        dict
            ``marking <kind>`` for each kind of line, ``slowing``, ``jumps``, ``delays``, ``corners``, ``nicks``,
            ``waiting`` for the slowest head, and ``feeder``.
        """
        kinds = [kind for kind in BEAM_KINDS if any(kind in head.marking for head in self.heads)]
        parts = {f"marking {kind}": self._mean([head.marking.get(kind, 0.0) for head in self.heads]) for kind in kinds}
        for name in ("slowing", "jumps", "delays", "corners", "nicks"):
            parts[name] = self._mean([getattr(head, name) for head in self.heads])
        parts["waiting"] = self.cutting - self._mean([head.busy for head in self.heads])
        parts["feeder"] = self.cycle - self.cutting
        return parts


def sheet_time(x: Inputs) -> SheetTime:
    """Take the seconds of a sheet apart.

    Parameters
    ----------
    x : Inputs
        A single scenario.
    """
    speeds = {kind: float(speed) for kind, speed in line_speeds(x).items()}
    loads = x.loads
    heads = (_even_share(x, speeds),) if loads is None else tuple(_of_head(x, load, speeds) for load in loads.heads)
    used = {kind for head in heads for kind in head.marking}
    return SheetTime(
        planned=loads is not None,
        speeds={kind: speed for kind, speed in speeds.items() if kind in used},
        heads=heads,
        head_count=int(x.number("laser.heads")),
        cutting=float(sheet_s(x)),
        cycle=float(cycle_s(x)),
    )


def _of_head(x: Inputs, load: HeadLoad, speeds: Mapping[str, float]) -> HeadTime:
    marking = {kind: length / speeds[kind] for kind, length in load.length_m.items()}
    in_full = sum(float(table.seconds(speeds[kind])) for kind, table in load.marking.items())
    full_delays = load.strokes - load.short_jumps * (1 - x.number("laser.short_jump_share"))
    return HeadTime(
        marking=marking,
        slowing=in_full - sum(marking.values()),
        jumps=float(load.jumps.seconds(x.number("laser.jump_m_s"))),
        delays=(full_delays * x.number("laser.jump_delay_ms") + load.strokes * x.number("laser.mark_delay_ms")) / 1000,
        corners=load.corner_load * x.number("laser.polygon_delay_ms") / 1000,
        nicks=load.nick_share
        * x.number("work.nicks")
        * x.number("layout.ups_laser")
        * x.number("laser.nick_ms")
        / 1000,
    )


def _even_share(x: Inputs, speeds: Mapping[str, float]) -> HeadTime:
    """Return an even share of the sheet by the mean jump."""
    share = x.number("layout.ups_laser") / x.number("laser.heads")
    strokes = share * x.number("work.strokes")
    return HeadTime(
        marking={kind: share * float(length) / speeds[kind] for kind, length in line_m(x).items() if length},
        slowing=0.0,
        jumps=strokes * x.number("laser.mean_jump_mm") / 1000 / x.number("laser.jump_m_s"),
        delays=strokes * (x.number("laser.jump_delay_ms") + x.number("laser.mark_delay_ms")) / 1000,
        corners=share * x.number("work.corner_load") * x.number("laser.polygon_delay_ms") / 1000,
        nicks=share * x.number("work.nicks") * x.number("laser.nick_ms") / 1000,
    )


class Timeline(NamedTuple):
    """When one head does what, from the start of a sheet.

    Attributes
    ----------
    start, end : ndarray, shape (strokes,)
        When each stroke begins and ends to be marked, in the order run [s]. Before each lie its jump and the
        delay after it; nicks are spread over cutting by length.
    done : float
        When the last delay is over [s].
    """

    start: Array
    end: Array
    done: float


def timelines(x: Inputs, path: Toolpath, motion: Motion) -> list[Timeline]:
    """Return when each head does what on one sheet.

    Parameters
    ----------
    x : Inputs
        A single scenario.
    path : Toolpath
        The path that was planned for it.
    motion : Motion
        How the heads move.
    """
    speeds = line_speeds(x)
    mark_delay, polygon = x.number("laser.mark_delay_ms") / 1000, x.number("laser.polygon_delay_ms") / 1000
    nicks_s = x.number("work.nicks") * x.number("layout.ups_laser") * x.number("laser.nick_ms") / 1000
    cut_mm = sum(t.length_mm for head in path.heads for t in head.trails if t.kind == "cutting")
    lines = []
    for head in path.heads:
        now, start, end = 0.0, [], []
        for trail, jump in zip(head.trails, head.jumps_mm.tolist(), strict=True):
            short = max(0.0, 1 - jump / motion.short_jump_mm) * (1 - x.number("laser.short_jump_share"))
            now += float(jumps_table(np.array([jump / 1000]), motion).seconds(x.number("laser.jump_m_s")))
            now += x.number("laser.jump_delay_ms") / 1000 * (1 - short)
            start.append(now)
            now += float(marking_table([trail], motion).seconds(float(speeds[trail.kind])))
            if not motion.axes:
                now += trail.corner_load * polygon
            if trail.kind == "cutting":
                now += nicks_s * trail.length_mm / cut_mm
            end.append(now)
            now += mark_delay
        lines.append(Timeline(np.array(start), np.array(end), now))
    return lines
