"""Where the seconds of a sheet go on the laser line: as plain data, and as rows with reasons."""

from __future__ import annotations

from typing import Any, NamedTuple

from compare.geometry.line_kinds import LINE_PENS, is_line_kind
from compare.names import Inputs
from compare.present.numbers import figures
from compare.routes.sheet_time import HeadTime, SheetTime, sheet_time
from compare.scenario import Scenario


class Part(NamedTuple):
    """A part of the seconds of a sheet.

    Attributes
    ----------
    name : str
        Its name in data.
    label : str
        What it is called.
    seconds : float
        Mean over the heads [s]; the parts add up to the time from sheet to sheet.
    because : str
        Where it comes from.
    """

    name: str
    label: str
    seconds: float
    because: str


_LABELS = {
    "slowing": "slowing down",
    "jumps": "jumps",
    "delays": "delays of strokes",
    "corners": "corners",
    "nicks": "nicks",
    "waiting": "waiting for the slowest head",
    "feeder": "waiting for the feeder",
}


def sheet_parts(scenario: Scenario, time: SheetTime) -> list[Part]:
    """Return the parts of the seconds of a sheet, those that take none left out."""
    x = scenario.inputs
    axes = scenario.choices["laser.motion"] == "axes"
    strokes, jump_m = _strokes_and_jumps(scenario)
    heads = f"{time.head_count} heads" if time.head_count > 1 else "one head"
    because = {
        "slowing": (
            f"starts, corners and curves at {x.number('laser.axis_accel_m_s2'):g} m/s2"
            if axes and time.planned
            else f"curves too tight for full speed at {x.number('laser.scan_accel_m_s2'):g} m/s2"
        ),
        "jumps": f"{figures(jump_m)} m on the sheet at {x.number('laser.jump_m_s'):g} m/s, on {heads}",
        "delays": (
            f"{strokes:,.0f} strokes on the sheet, {x.number('laser.jump_delay_ms'):g} ms after a jump and "
            f"{x.number('laser.mark_delay_ms'):g} ms after a stroke"
        ),
        "corners": f"{x.number('laser.polygon_delay_ms'):g} ms at a right angle, by 1 - cos of the turn",
        "nicks": f"{x.number('work.nicks') * x.number('layout.ups_laser'):,.0f} nicks, {x.number('laser.nick_ms'):g} ms each",
        "waiting": (
            "strokes lie unevenly over the fields of the heads"
            if time.planned
            else f"heads share the work evenly to {x.number('laser.balance'):.0%} (laser.balance)"
        ),
        "feeder": f"the feeder takes {x.number('laser.feeder_sheets_h'):,.0f} sheets an hour at most",
    }
    parts = []
    for name, seconds in time.parts().items():
        kind = name.removeprefix("marking ")
        if is_line_kind(kind):
            metres = sum(head.marking.get(kind, 0.0) for head in time.heads) * time.speeds[kind]
            metres *= time.head_count / len(time.heads)
            why = f"{figures(metres)} m on the sheet at {time.speeds[kind]:.3g} m/s ({_limit(x, time.speeds[kind])}), on {heads}"
            parts.append(Part(name, LINE_PENS[kind].label, seconds, why))
        elif seconds > _NOTHING_S:
            parts.append(Part(name, _LABELS[name], seconds, because[name]))
    return parts


_NOTHING_S = 1e-9


def _limit(x: Inputs, speed: float) -> str:
    """Say what holds a speed down."""
    return "the fastest marking" if speed >= x.number("laser.max_mark_m_s") else "by the power"


def _strokes_and_jumps(scenario: Scenario) -> tuple[float, float]:
    """Return strokes and metres of jumps of a sheet."""
    if scenario.toolpath is not None:
        return float(scenario.toolpath.strokes), scenario.toolpath.jump_mm / 1000
    x = scenario.inputs
    strokes = x.number("work.strokes") * x.number("layout.ups_laser")
    return strokes, strokes * x.number("laser.mean_jump_mm") / 1000


def sheet_time_record(scenario: Scenario) -> dict[str, Any]:
    """Return the seconds of a sheet as plain data; described in docs/formats.md."""
    time = sheet_time(scenario.inputs)
    path = scenario.toolpath
    return {
        "planned": time.planned,
        "motion": scenario.choices["laser.motion"],
        "length_over_speed_s": time.by_speed,
        "cutting_s": time.cutting,
        "cycle_s": time.cycle,
        "speeds_m_s": dict(time.speeds),
        "parts": [{"part": p.name, "seconds": p.seconds, "because": p.because} for p in sheet_parts(scenario, time)],
        "heads": [_head(head, time) for head in time.heads] if time.planned else None,
        "strokes": None if path is None else path.strokes,
        "cut_strokes": None if path is None else path.cut_strokes,
        "jump_mm": None if path is None else path.jump_mm,
        "above_lower_bound": None if path is None else path.unevenness,
    }


def _head(head: HeadTime, time: SheetTime) -> dict[str, Any]:
    return {
        "marking_s": dict(head.marking),
        "slowing_s": head.slowing,
        "jumps_s": head.jumps,
        "delays_s": head.delays,
        "corners_s": head.corners,
        "nicks_s": head.nicks,
        "waiting_s": max(time.cutting - head.busy, 0.0),
        "busy_s": head.busy,
    }


def why_longer(time: SheetTime) -> str:
    """Say in one sentence how the seconds compare with length divided by speed."""
    how = "by its path" if time.planned else "by the mean jump and the balance"
    longer = time.cutting / time.by_speed - 1 if time.by_speed else 0.0
    feeder = " The feeder is slower than that." if time.cycle > time.cutting else ""
    return (
        f"A sheet takes {time.cutting:.3f} s {how}; length divided by speed alone would be {time.by_speed:.3f} s "
        f"({longer:+.0%}).{feeder}"
    )
