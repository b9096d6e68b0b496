"""Specs of the charts of a sheet on the laser line: where its seconds go, and its path head by head."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from compare.geometry.line_kinds import label_of
from compare.geometry.strokes import Array
from compare.geometry.toolpath import HeadPath, Toolpath
from compare.geometry.trails import Trail
from compare.present.sheet_seconds import Part, sheet_parts
from compare.routes.sheet_time import Timeline, sheet_time, timelines
from compare.scenario import Scenario
from compare.sheet_path import motion_of

_FINENESS = 2_000
"""A picture is as fine as this share of the sheet's width: half a pixel on a screen."""

_MARGIN = 0.02
"""How much of a field is shown beyond the sheet, as a share of the sheet's longer side [-]."""

_PATH_FINDINGS = ("laser.path_estimated", "laser.out_of_reach")
"""Findings that say why no path was planned."""

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class SecondsChart:
    """Where the seconds of a sheet go, part by part.

    Attributes
    ----------
    title : str
        What it shows, with the unit.
    unit : str
        Unit of the values.
    parts : tuple of Part
        Parts in order, mean over the heads; they add up to ``total``.
    total : float
        From sheet to sheet [s].
    summary : str
        The chart in words.
    """

    title: str
    unit: str
    parts: tuple[Part, ...]
    total: float
    summary: str

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the chart's numbers."""
        yield ("part", self.unit, "because")
        for part in self.parts:
            yield (part.label, part.seconds, part.because)
        yield ("from sheet to sheet", self.total, "the sum of all parts")


class HeadStroke(NamedTuple):
    """One stroke of a head as it is drawn.

    Attributes
    ----------
    kind : str
        What the line is called.
    points : tuple of (float, float)
        Its points in the order run, as fine as a picture needs [mm].
    length_mm, jump_mm : float
        Its true length, and that of the jump to it [mm].
    start_s, end_s : float
        When it begins and ends to be marked, from the start of the sheet [s].
    """

    kind: str
    points: Points
    length_mm: float
    jump_mm: float
    start_s: float
    end_s: float


@dataclass(frozen=True)
class HeadDrawn:
    """One head of the line, its field and what it does.

    Attributes
    ----------
    number : int
        Its number, from 1.
    field_mm : tuple of float or None
        Least x and y, largest x and y of its field, as far as it lies near the sheet [mm]; None where it does not.
    strokes : tuple of HeadStroke
        Its strokes in the order run.
    """

    number: int
    field_mm: tuple[float, float, float, float] | None
    strokes: tuple[HeadStroke, ...]


@dataclass(frozen=True)
class PathChart:
    """The sheet as its heads mark it, in order.

    Attributes
    ----------
    title : str
        What it shows.
    sheet_mm : tuple of float
        Width and length of the sheet [mm].
    heads : tuple of HeadDrawn
        The heads.
    cutting_s : float
        Seconds of the slowest head [s].
    summary : str
        The drawing in words.
    """

    title: str
    sheet_mm: tuple[float, float]
    heads: tuple[HeadDrawn, ...]
    cutting_s: float
    summary: str

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the strokes in the order run."""
        yield (
            "head",
            "stroke",
            "kind",
            "jump to it, mm",
            "length, mm",
            "from, s",
            "to, s",
            "start x, mm",
            "start y, mm",
        )
        for head in self.heads:
            for number, stroke in enumerate(head.strokes, start=1):
                x, y = stroke.points[0]
                timed = (stroke.jump_mm, stroke.length_mm, stroke.start_s, stroke.end_s)
                yield (head.number, number, stroke.kind, *timed, x, y)


def seconds_chart(scenario: Scenario) -> SecondsChart:
    """Return where the seconds of a sheet go on the laser line."""
    time = sheet_time(scenario.inputs)
    parts = tuple(sheet_parts(scenario, time))
    said = ", ".join(f"{part.label} {part.seconds:.4f}" for part in parts)
    return SecondsChart(
        title="Seconds per sheet on the laser line, mean over the heads",
        unit="seconds per sheet, mean over the heads",
        parts=parts,
        total=time.cycle,
        summary=f"Seconds per sheet: {said}; from sheet to sheet {time.cycle:.4f}.",
    )


def path_chart(scenario: Scenario) -> PathChart | None:
    """Return the sheet as its heads mark it; ``None`` where no path was planned."""
    path = scenario.toolpath
    if path is None:
        return None
    x = scenario.inputs
    sheet = (x.number("sheet.width_mm"), x.number("sheet.length_mm"))
    times = timelines(x, path, motion_of(x, scenario.choices["laser.motion"]))
    heads = tuple(
        HeadDrawn(number, _near_the_sheet(field, sheet), _strokes(head, line, max(sheet) / _FINENESS))
        for number, (head, line, field) in enumerate(zip(path.heads, times, path.fields, strict=True), start=1)
    )
    cutting = max((line.done for line in times), default=0.0)
    title = f"The sheet, head by head: {sheet[0]:,.0f} x {sheet[1]:,.0f} mm"
    return PathChart(title, sheet, heads, cutting, f"{title}. {_in_words(path, times)}")


def no_path(scenario: Scenario) -> str:
    """Say why no path was planned, or nothing where one was."""
    if scenario.toolpath is not None:
        return ""
    for finding in scenario.findings:
        if finding.code in _PATH_FINDINGS:
            return finding.message
    if scenario.choices["laser.path"] == "estimated":
        return (
            "Seconds per sheet are estimated by the mean jump and the balance, as was asked for, "
            "so there is no path to draw."
        )
    return "Lengths were given without a style, so where the lines lie is not known and there is no path to draw."


def _strokes(head: HeadPath, line: Timeline, step_mm: float) -> tuple[HeadStroke, ...]:
    timed = zip(head.trails, head.jumps_mm.tolist(), line.start.tolist(), line.end.tolist(), strict=True)
    return tuple(
        HeadStroke(label_of(trail.kind), _thinned(trail, step_mm), trail.length_mm, jump, start, end)
        for trail, jump, start, end in timed
    )


def _thinned(trail: Trail, step_mm: float) -> Points:
    """Leave out points that no eye could tell from the one before; ends stay."""
    step = np.floor(np.cumsum(np.append(0.0, trail.length)) / step_mm)
    kept = np.diff(step, prepend=-1.0) > 0
    kept[-1] = True
    return tuple((float(x), float(y)) for x, y in np.round(trail.points[kept], 2))


def _near_the_sheet(field: Array, sheet: tuple[float, float]) -> tuple[float, float, float, float] | None:
    beyond = _MARGIN * max(sheet)
    low, high = np.maximum(field[:2], -beyond), np.minimum(field[2:], np.array(sheet) + beyond)
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1])) if (low < high).all() else None


def _in_words(path: Toolpath, times: list[Timeline]) -> str:
    heads = "; ".join(
        f"head {number} marks {len(head.trails)} strokes in {line.done:.3f} s"
        for number, (head, line) in enumerate(zip(path.heads, times, strict=True), start=1)
    )
    return f"{heads[:1].upper()}{heads[1:]}; jumps {path.jump_mm / 1000:.3f} m."
