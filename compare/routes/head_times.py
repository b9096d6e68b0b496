"""Seconds of a planned path: every head by its own loads."""

from __future__ import annotations

from collections.abc import Mapping

from compare.assumptions import Number
from compare.geometry.sheet_loads import SheetLoads
from compare.geometry.speed_table import speed_range
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
    within = {kind: speed_range(speeds[kind]) for kind in used}
    jump, jump_within = x["laser.jump_m_s"], speed_range(x["laser.jump_m_s"])
    jump_delay = x["laser.jump_delay_ms"] * 1e-3
    stroke = jump_delay + x["laser.mark_delay_ms"] * 1e-3
    corner = x["laser.polygon_delay_ms"] * 1e-3
    nick = x["work.nicks"] * (x["layout.ups_laser"] * (x["laser.nick_ms"] * 1e-3))
    marks: list[Number] = []
    times: list[Number] = []
    for load in loads.heads:
        several = [table.seconds(speeds[kind], within[kind]) for kind, table in load.marking.items()]
        marking = sum(several[1:], several[0]) if several else 0.0
        between = load.jumps.seconds(jump, jump_within) + load.strokes * stroke
        if load.short_jumps:
            between = between - load.short_jumps * ((1 - x["laser.short_jump_share"]) * jump_delay)
        marks.append(marking)
        times.append(marking + (between + load.corner_load * corner + load.nick_share * nick))
    return sum(marks[1:], marks[0]), times
