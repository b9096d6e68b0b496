"""Seconds of a planned path: every head by its own loads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from compare.assumptions import Number
from compare.geometry.sheet_loads import SheetLoads
from compare.geometry.speed_table import SpeedTable, speed_range
from compare.names import Inputs


def head_times(x: Inputs, loads: SheetLoads, speeds: Mapping[str, Number]) -> tuple[Number, list[Number]]:
    """Return the marking time of one sheet, summed over heads, and the whole time of each head [s].

    Parameters
    ----------
    x : Inputs
        Numbers or arrays that broadcast.
    loads : SheetLoads
        What the heads have to do.
    speeds : mapping
        Kind of line to its speed [m/s].

    Notes
    -----
    What one stroke, corner or nick takes is worked out once for all heads. Every step costs a pass over all scenarios.
    """
    used = {kind for load in loads.heads for kind in load.marking}
    within = {
        kind: _range([load.marking[kind] for load in loads.heads if kind in load.marking], speeds[kind])
        for kind in used
    }
    jump = x["laser.jump_m_s"]
    jump_within = _range([load.jumps for load in loads.heads], jump)
    stroke = (x["laser.jump_delay_ms"] + x["laser.mark_delay_ms"]) * 1e-3
    corner = x["laser.polygon_delay_ms"] * 1e-3
    nick = (x["work.nicks"] * x["layout.ups_laser"] * 1e-3) * x["laser.nick_ms"]
    saved = (1 - x["laser.short_jump_share"]) * x["laser.jump_delay_ms"]
    marks: list[Number] = []
    times: list[Number] = []
    for load in loads.heads:
        several = [table.seconds(speeds[kind], within[kind]) for kind, table in load.marking.items()]
        marking = sum(several[1:], several[0]) if several else 0.0
        between = _plus(load.jumps.seconds(jump, jump_within), load.strokes * stroke)
        if load.short_jumps:
            between = _plus(between, -(load.short_jumps * 1e-3) * saved)
        between = _plus(between, load.corner_load * corner)
        between = _plus(between, load.nick_share * nick)
        marks.append(marking)
        times.append(_plus(between, marking))
    return sum(marks[1:], marks[0]), times


def _range(tables: Sequence[SpeedTable], speed: Number) -> tuple[float, float]:
    """Return the range of speeds; any where tables of one row answer all alike, and nobody need look."""
    return speed_range(speed) if any(len(table.breaks) > 1 for table in tables) else (1.0, 1.0)


def _plus(own: Number, more: Number) -> Number:
    """Add to a sum of our own, in its place where it can be: new memory costs as much as adding."""
    if isinstance(own, np.ndarray) and np.shape(more) in ((), own.shape):
        own += more
        return own
    return own + more
