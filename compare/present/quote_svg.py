"""The pen for paper: curves as SVG in millimetres, with strokes that tell the routes apart in grey print."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from compare.present.charts import CurveChart, Series, decade_ticks
from compare.present.look import mixed
from compare.present.numbers import PLAIN, NumberStyle, figures, whole
from compare.present.svg_marks import LABEL, PALETTE, SMALL, TEXT, dashed, document, route_colour, text_width, written

_ROUTE_DASHES = {"die": "", "laser": "3.2 1.3"}
_BAND_TINT, _STRIP_TINT = 0.16, 0.28
_LEFT, _RIGHT, _TOP = 12.0, 3.0, 5.2
_STRIP, _SHARE, _GAP, _FOOT = 4.2, 6.5, 1.0, 9.0
_ROOM_BELOW, _ROOM_ABOVE = 4.6, 1.2
"""More ranges than this are a flicker from sheet to sheet, drawn as one hatched stretch."""


@dataclass(frozen=True)
class CurveWords:
    """What is written into a chart of curves.

    Attributes
    ----------
    quoted : str
        At the run length of the job.
    stretches : mapping
        ``die``, ``laser``, ``even`` and ``changes`` to the words of a stretch of the strip; the first that fit are written.
    """

    quoted: str
    stretches: Mapping[str, tuple[str, ...]]


class Frame(NamedTuple):
    """Where a chart of curves has its axes: places on paper [mm], and what they stand for.

    Both axes are logarithmic.
    """

    left: float
    right: float
    top: float
    bottom: float
    first: float
    last: float
    low: float
    high: float

    def x(self, run_length: float) -> float:
        """Return the place of a run length [mm]."""
        return self.left + (self.right - self.left) * math.log(run_length / self.first) / math.log(
            self.last / self.first
        )

    def y(self, money: float) -> float:
        """Return the place of an amount [mm], downwards."""
        return self.bottom - (self.bottom - self.top) * math.log(money / self.low) / math.log(self.high / self.low)

    def run_length(self, x: float) -> float:
        """Return what a place stands for [cartons per order]."""
        return float(self.first * (self.last / self.first) ** ((x - self.left) / (self.right - self.left)))

    def money(self, y: float) -> float:
        """Return what a place stands for, in the unit of the axis."""
        return float(self.low * (self.high / self.low) ** ((self.bottom - y) / (self.bottom - self.top)))


def curve_frame(chart: CurveChart, width: float, height: float) -> Frame:
    """Return where the axes of a chart of curves lie.

    Parameters
    ----------
    chart : CurveChart
        Curves with their bands.
    width, height : float
        Size of the whole picture [mm].
    """
    values = [y for series in chart.series for y in series.y]
    values += [y for band in chart.bands for y in (*band.low, *band.high)]
    along = chart.series[0].x
    below = _GAP + _STRIP + (_GAP + _SHARE if chart.laser_cheaper else 0.0) + _FOOT
    bottom = height - below
    low, high = min(values), max(values)
    # the value of the lower curve is written below it
    per_mm = max(math.log(high / low), 0.05) / (bottom - _TOP - _ROOM_BELOW - _ROOM_ABOVE)
    low, high = low * math.exp(-per_mm * _ROOM_BELOW), high * math.exp(per_mm * _ROOM_ABOVE)
    return Frame(_LEFT, width - _RIGHT, _TOP, bottom, along[0], along[-1], low, high)


def curve_svg(chart: CurveChart, words: CurveWords, width: float, height: float, style: NumberStyle = PLAIN) -> str:
    """Draw curves with bands, the quoted run length, and strips of where each route is cheaper and how often.

    Parameters
    ----------
    chart : CurveChart
        What is drawn; its own words are written as they are.
    words : CurveWords
        What else is written.
    width, height : float
        Size of the picture [mm].
    style : NumberStyle
        How the reader writes numbers.

    Returns
    -------
    str
        The SVG; its unit is the millimetre.
    """
    frame = curve_frame(chart, width, height)
    body = [*_grid(chart, frame, style)]
    body += [
        f'<path id="band-{band.role}" fill="{route_colour(band.role)}" fill-opacity="{_BAND_TINT}" d="'
        f'{_line(frame, chart.series[0].x, band.low)} L{_line(frame, chart.series[0].x[::-1], band.high[::-1])[1:]} Z"/>'
        for band in chart.bands
    ]
    at = frame.x(chart.quoted)
    body.append(f'<path stroke="{PALETTE.ink}" stroke-width="0.3" d="M{at:.3f} {frame.top:.3f} V{frame.bottom:.3f}"/>')
    body += [
        f'<path id="curve-{s.role}" fill="none" stroke="{route_colour(s.role)}" stroke-width="0.62" stroke-linejoin="round"'
        f'{dashed(_ROUTE_DASHES[s.role])} d="{_line(frame, s.x, s.y)}"/>'
        for s in chart.series
    ]
    body += _quoted(words.quoted, at, frame)
    taken = [_Box(at - 9, 0, at + 9, frame.top + 1)]
    for series in chart.series:
        drawn, box = _handle(series, chart, frame, style)
        body += drawn
        taken.append(box)
    body += [_curve_label(series, chart, frame, taken) for series in chart.series]
    body += _stretch_strip(chart, words, frame)
    if chart.laser_cheaper:
        body += _share_strip(chart, frame)
    body += _run_axis(chart, frame, height, style)
    return document(width, height, chart.title, chart.summary, body)


def _grid(chart: CurveChart, frame: Frame, style: NumberStyle) -> list[str]:
    drawn = []
    for tick in money_ticks(frame.low, frame.high):
        y, shown = frame.y(tick), figures(tick, style=style) if tick < 1 else _short(tick, style)
        drawn.append(f'<path stroke="{PALETTE.grid}" stroke-width="0.2" d="M{frame.left} {y:.3f} H{frame.right:.3f}"/>')
        drawn.append(written(frame.left - 1.5, y + 0.8, shown, TEXT, PALETTE.quiet, anchor="end"))
    drawn.append(written(0, 2.6, chart.y.title, TEXT, PALETTE.quiet))
    drawn.append(
        f'<path stroke="{PALETTE.quiet}" stroke-width="0.25" d="M{frame.left} {frame.bottom:.3f} H{frame.right:.3f}"/>'
    )
    return drawn


def money_ticks(low: float, high: float) -> tuple[float, ...]:
    """Return the ticks of a logarithmic axis: 1, 2 and 5 times powers of ten, or even steps over a short stretch."""
    ticks = decade_ticks(low, high)
    if len(ticks) >= 3:
        return ticks
    power = 10.0 ** math.floor(math.log10((high - low) / 3))
    step = next(power * m for m in (1, 2, 2.5, 5, 10) if (high - low) / (power * m) <= 5)
    return tuple(step * k for k in range(math.ceil(low / step), math.floor(high / step) + 1))


def _short(tick: float, style: NumberStyle) -> str:
    return whole(tick, style) if tick == round(tick) else style.write(f"{tick:,.4g}")


def _quoted(text: str, at: float, frame: Frame) -> list[str]:
    wide = text_width(text, TEXT, bold=True) + 3
    left = min(max(at - wide / 2, frame.left), frame.right - wide)
    return [
        f'<rect x="{left:.3f}" y="0.9" width="{wide:.3f}" height="4.1" rx="0.5" fill="{PALETTE.ink}"/>',
        written(left + wide / 2, 3.85, text, TEXT, PALETTE.ground, anchor="middle", bold=True),
    ]


class _Box(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: _Box) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def _handle(series: Series, chart: CurveChart, frame: Frame, style: NumberStyle) -> tuple[list[str], _Box]:
    """Mark a curve at the quoted run length and write its value beside it, above the upper and below the lower one."""
    k = series.x.index(chart.quoted)
    x, y, text = frame.x(chart.quoted), frame.y(series.y[k]), figures(series.y[k], style=style)
    upper = all(series.y[k] >= other.y[k] for other in chart.series)
    wide = text_width(text, LABEL, bold=True)
    rightwards = (upper and x + 2 + wide < frame.right) or x - 2 - wide < frame.left
    left = x + 1.6 if rightwards else x - 1.6 - wide
    base = y - 1.4 if upper else y + 3.6
    label = written(left, base, text, LABEL, route_colour(series.role), bold=True, halo=True)
    dot = f'<circle cx="{x:.3f}" cy="{y:.3f}" r="1.05" fill="{route_colour(series.role)}" stroke="{PALETTE.ground}" stroke-width="0.4"/>'
    return [dot, label], _Box(left - 1, base - LABEL, left + wide + 1, base + 1)


def _curve_label(series: Series, chart: CurveChart, frame: Frame, taken: list[_Box]) -> str:
    """Label a curve where it is farthest from the other and nothing else is written."""
    others = [s for s in chart.series if s is not series]
    wide, count = text_width(series.label, LABEL, bold=True), len(series.x)
    best, place = -1.0, (frame.left + 2, frame.top + LABEL, "start")
    for k in range(count // 16, count - count // 16):
        x, y = frame.x(series.x[k]), frame.y(series.y[k])
        above = not others or series.y[k] >= others[0].y[k]
        apart = abs(y - frame.y(others[0].y[k])) if others else 10.0
        left, base = (x + 1, y - 1.2) if above else (x - 1 - wide, y + 3.2)
        box = _Box(left, base - LABEL, left + wide, base + 0.8)
        inside = box.left > frame.left and box.right < frame.right and box.top > frame.top and box.bottom < frame.bottom
        if apart > best and inside and not any(box.meets(other) for other in taken):
            best, place = apart, (left, base, "start")
    x, y, anchor = place
    taken.append(_Box(x, y - LABEL, x + wide, y + 0.8))
    return written(x, y, series.label, LABEL, route_colour(series.role), anchor=anchor, bold=True, halo=True)


def _stretch_strip(chart: CurveChart, words: CurveWords, frame: Frame) -> list[str]:
    top, drawn = frame.bottom + _GAP, []
    for start, end, lowest in chart.stretches():
        left, right = frame.x(max(start, frame.first)), frame.x(min(end + 1, frame.last))
        if right <= left:
            continue
        route = lowest in ("die", "laser")
        tone = route_colour(lowest) if route else PALETTE.quiet
        fill = mixed(PALETTE.ground, tone, _STRIP_TINT)
        drawn.append(
            f'<rect x="{left:.3f}" y="{top:.3f}" width="{right - left:.3f}" height="{_STRIP}" fill="{fill}"/>'
            f'<path stroke="{tone}" stroke-width="0.7"{dashed(_ROUTE_DASHES.get(lowest, "0.5 0.5"))} '
            f'd="M{left:.3f} {top + _STRIP - 0.35:.3f} H{right:.3f}"/>'
        )
        text = next((some for some in words.stretches[lowest] if text_width(some, TEXT) + 2 < right - left), "")
        if text:
            drawn.append(written((left + right) / 2, top + 2.7, text, TEXT, PALETTE.ink, anchor="middle"))
    if chart.break_even is not None and frame.first < chart.break_even < frame.last:
        x = frame.x(chart.break_even)
        drawn.append(
            f'<path stroke="{PALETTE.quiet}" stroke-width="0.25" stroke-dasharray="0.8 0.8" '
            f'd="M{x:.3f} {frame.top:.3f} V{top + _STRIP:.3f}"/>'
        )
    return drawn


def _share_strip(chart: CurveChart, frame: Frame) -> list[str]:
    """Draw in how many cases the laser is cheaper, as an area between none and all."""
    top = frame.bottom + _GAP + _STRIP + _GAP
    along = chart.series[0].x
    points = " L".join(
        f"{frame.x(run):.3f} {top + _SHARE * (1 - share):.3f}"
        for run, share in zip(along, chart.laser_cheaper, strict=True)
    )
    die, laser = (mixed(PALETTE.ground, route_colour(route), _STRIP_TINT) for route in ("die", "laser"))
    wide = frame.right - frame.left
    return [
        f'<rect x="{frame.left}" y="{top:.3f}" width="{wide:.3f}" height="{_SHARE}" fill="{die}"/>',
        f'<path fill="{laser}" d="M{frame.left} {top + _SHARE:.3f} L{points} L{frame.right:.3f} {top + _SHARE:.3f} Z"/>',
        f'<path stroke="{PALETTE.ground}" stroke-width="0.2" d="M{frame.left} {top + _SHARE / 2:.3f} H{frame.right:.3f}"/>',
        f'<path id="share" fill="none" stroke="{PALETTE.ink}" stroke-width="0.35" d="M{points}"/>',
        *(
            written(
                frame.left - 1.5,
                top + _SHARE * (1 - share) + shift,
                f"{share * 100:.0f}",
                SMALL,
                PALETTE.quiet,
                anchor="end",
            )
            for share, shift in ((1.0, 1.7), (0.0, 0.0))
        ),
    ]


def _run_axis(chart: CurveChart, frame: Frame, height: float, style: NumberStyle) -> list[str]:
    base = height - _FOOT + 3.4
    drawn, last = [], -math.inf
    for tick in chart.x.ticks:
        x, text = frame.x(tick), whole(tick, style)
        wide = text_width(text, TEXT)
        drawn.append(f'<path stroke="{PALETTE.quiet}" stroke-width="0.25" d="M{x:.3f} {frame.bottom:.3f} v0.8"/>')
        left = min(max(x - wide / 2, 0), frame.right + _RIGHT - wide)
        if left > last + 1.5:
            drawn.append(written(left + wide / 2, base, text, TEXT, PALETTE.quiet, anchor="middle"))
            last = left + wide
    drawn.append(
        written((frame.left + frame.right) / 2, height - 1.2, chart.x.title, TEXT, PALETTE.quiet, anchor="middle")
    )
    return drawn


def _line(frame: Frame, along: Sequence[float], values: Sequence[float]) -> str:
    return "M" + " L".join(f"{frame.x(run):.3f} {frame.y(v):.3f}" for run, v in zip(along, values, strict=True))
