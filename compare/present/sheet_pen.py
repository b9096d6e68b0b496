"""The pen for the charts of a sheet: where its seconds go, and its path head by head."""

from __future__ import annotations

import textwrap
from itertools import pairwise
from typing import Any

from compare.present.look import PALETTES, Palette, Scheme, mixed
from compare.present.numbers import PLAIN, NumberStyle
from compare.present.plotly_frame import Figure, axis, frame
from compare.present.sheet_charts import HeadDrawn, HeadStroke, PathChart, Points, SecondsChart

SECONDS_HEIGHT, PATH_HEIGHT = 330, 560
"""Heights of both figures [px]; the same for every job, so that nothing below moves."""

HEAD_DASHES = ("solid", "18px,2px", "9px,2px", "14px,2px,3px,2px")
"""Strokes of the heads: nearly whole, so that a line stays a line, and not the dots of jumps."""

_FAINT = 0.3
"""Share of a head's tone in what it has still to mark."""

_MOST_NUMBERS = 60
"""So many strokes on a sheet can still be told by their numbers."""

_PLAYED_S, _SLOWER = 8.0, (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
"""A sheet is played for this long at least [s], so many times slower than it is cut."""

_LOST = ("waiting", "feeder")


def draw_seconds(chart: SecondsChart, scheme: Scheme = "light", style: NumberStyle = PLAIN) -> Figure:
    """Draw the seconds of a sheet, each part beginning where the one before it ends.

    Parameters
    ----------
    chart : SecondsChart
        What is drawn.
    scheme : {"light", "dark"}
        Colours.
    style : NumberStyle
        How the reader writes numbers.

    Returns
    -------
    dict
        ``data`` and ``layout`` of a plotly figure.
    """
    palette = PALETTES[scheme]
    labels = [part.label for part in chart.parts] + ["from sheet to sheet"]
    seconds = [part.seconds for part in chart.parts] + [chart.total]
    before = [sum(seconds[:at]) for at in range(len(chart.parts))] + [0.0]
    colours = [_colour_of(part.name, palette) for part in chart.parts] + [palette.ink]
    reasons = [part.because for part in chart.parts] + ["the sum of all parts"]
    written = [_seconds(value, style) for value in seconds]
    bars = {
        "type": "bar",
        "orientation": "h",
        "y": labels,
        "x": seconds,
        "base": before,
        "text": written,
        "textposition": "none",
        "marker": {"color": colours},
        "customdata": [_wrapped(style.words(reason)) for reason in reasons],
        "hovertemplate": "%{y}: %{text} s<br>%{customdata}<extra></extra>",
    }
    values = [
        {
            "x": start + value,
            "y": label,
            "text": f"<b>{text}</b>" if label == labels[-1] else text,
            "showarrow": False,
            "xanchor": "left",
            "xshift": 6,
            "font": {"size": 12},
        }
        for start, value, label, text in zip(before, seconds, labels, written, strict=True)
    ]
    steps = [_step(number, start) for number, start in enumerate(before[1:-1], start=1)]
    layout = frame(
        palette,
        style,
        height=SECONDS_HEIGHT,
        bargap=0.3,
        margin={"l": 8, "r": 12, "t": 8, "b": 44},
        xaxis=axis(
            palette,
            range=[0, chart.total * 1.12 or 1],
            title={"text": style.words(chart.unit), "standoff": 8, "font": {"size": 12}},
            fixedrange=True,
        ),
        yaxis=axis(
            palette, type="category", categoryarray=labels, autorange="reversed", fixedrange=True, showgrid=False
        ),
        shapes=[{**step, "line": {"color": palette.quiet, "width": 1, "dash": "dot"}} for step in steps],
        annotations=values,
    )
    return {"data": [bars], "layout": layout}


def _step(number: int, at: float) -> Figure:
    """Return the line that leads from the end of a bar to the start of the next."""
    return {"type": "line", "x0": at, "x1": at, "y0": number - 1, "y1": number, "layer": "below"}


def _colour_of(name: str, palette: Palette) -> str:
    if name in _LOST:
        return palette.stages["waste"]
    return palette.stages["tooling" if name.startswith("marking ") else "make-ready"]


def _seconds(value: float, style: NumberStyle) -> str:
    return style.write(f"{value:,.4f}")


def _wrapped(text: str) -> str:
    return "<br>".join(textwrap.wrap(text, 60))


def draw_path(chart: PathChart, scheme: Scheme = "light", style: NumberStyle = PLAIN) -> Figure:
    """Draw the sheet as it is when all heads are done; the browser takes it back to any moment before.

    What is to be marked, what is marked, and where a head is are traces of their own, named in ``meta`` by role and
    head. The layout's ``meta`` holds what is needed to play the sheet: seconds of every stroke, and how to write them.

    Parameters
    ----------
    chart : PathChart
        What is drawn.
    scheme : {"light", "dark"}
        Colours.
    style : NumberStyle
        How the reader writes numbers.

    Returns
    -------
    dict
        ``data`` and ``layout`` of a plotly figure.
    """
    palette = PALETTES[scheme]
    width, length = chart.sheet_mm
    edge: list[Points] = [((0.0, 0.0), (width, 0.0), (width, length), (0.0, length), (0.0, 0.0))]
    fields = [_box(head.field_mm) for head in chart.heads if head.field_mm]
    data = [
        _lines("field of a head", fields, {"color": palette.quiet, "width": 0.7, "dash": "dash"}),
        _lines("sheet", edge, {"color": palette.ink, "width": 1.2}),
        _lines(
            "jump",
            [jump for head in chart.heads for jump in jumps(head)],
            {"color": palette.quiet, "width": 1, "dash": "dot"},
        ),
    ]
    data += [_to_mark(head, palette, style) for head in chart.heads]
    data += [_marked(head, palette) for head in chart.heads]
    data += [_starts(chart, palette), *_numbers(chart, palette)]
    data += [_here(head, palette) for head in chart.heads]
    corners = [corner for box in (*edge, *fields) for corner in box]
    layout = frame(
        palette,
        style,
        height=PATH_HEIGHT,
        margin={"l": 8, "r": 8, "t": 26, "b": 8},
        hovermode="closest",
        showlegend=True,
        legend={
            "orientation": "h",
            "y": -0.075,
            "yanchor": "top",
            "x": 0,
            "itemclick": False,
            "itemdoubleclick": False,
            "traceorder": "normal",
        },
        xaxis={"visible": False, "fixedrange": True, "range": _span([x for x, _ in corners])},
        yaxis={"visible": False, "fixedrange": True, "range": _span([y for _, y in corners]), "scaleanchor": "x"},
        annotations=[_label(head, chart, palette) for head in chart.heads if head.field_mm],
        meta={
            "total_s": chart.cutting_s,
            "slower": slower(chart.cutting_s),
            "decimal": style.decimal,
            "heads": [
                {"start": [s.start_s for s in head.strokes], "end": [s.end_s for s in head.strokes]}
                for head in chart.heads
            ],
        },
    )
    return {"data": data, "layout": layout}


def slower(cutting_s: float) -> int:
    """Return how many times slower than it is cut a sheet is played, so that an eye can follow."""
    return next((times for times in _SLOWER if cutting_s * times >= _PLAYED_S), _SLOWER[-1])


def head_tone(number: int, palette: Palette) -> str:
    """Return the tone of a head, by its number from 1."""
    return palette.heads[(number - 1) % len(palette.heads)]


def head_dash(number: int, palette: Palette) -> str:
    """Return the stroke of a head, by its number from 1: heads with the same tone have another one."""
    return HEAD_DASHES[(number - 1 + (number - 1) // len(palette.heads)) % len(HEAD_DASHES)]


def jumps(head: HeadDrawn) -> list[Points]:
    """Return the jumps of a head; the first is from the end of its last stroke, on the sheet before."""
    if not head.strokes:
        return []
    runs = [head.strokes[-1], *head.strokes]
    return [(one.points[-1], other.points[0]) for one, other in pairwise(runs) if one.points[-1] != other.points[0]]


def _span(values: list[float]) -> list[float]:
    return [min(values), max(values)]


def _box(field: tuple[float, float, float, float]) -> Points:
    left, low, right, top = field
    return ((left, low), (right, low), (right, top), (left, top), (left, low))


def _coordinates(lines: list[Points]) -> dict[str, list[float | None]]:
    xs: list[float | None] = []
    ys: list[float | None] = []
    for line in lines:
        xs += [*(x for x, _ in line), None]
        ys += [*(y for _, y in line), None]
    return {"x": xs[:-1], "y": ys[:-1]}


def _lines(name: str, lines: list[Points], pen: dict[str, Any], **more: Any) -> Figure:
    drawn = {"type": "scatter", "mode": "lines", "name": name, **_coordinates(lines), "line": pen, "hoverinfo": "skip"}
    return {**drawn, **more}


def _to_mark(head: HeadDrawn, palette: Palette, style: NumberStyle) -> Figure:
    """Draw all that a head has to mark, faint; hovering says which stroke it is."""
    said: list[str | None] = []
    for number, stroke in enumerate(head.strokes, start=1):
        said += [*([_stroke_words(number, stroke, style)] * len(stroke.points)), None]
    return {
        **_lines(f"head {head.number}, to mark", [s.points for s in head.strokes], {"width": 1.2}),
        "line": {"color": mixed(palette.ground, head_tone(head.number, palette), _FAINT), "width": 1.2},
        "showlegend": False,
        "meta": {"role": "to mark", "head": head.number},
        "customdata": said[:-1],
        "hoverinfo": "all",
        "hovertemplate": f"head {head.number}, %{{customdata}}<extra></extra>",
    }


def _stroke_words(number: int, stroke: HeadStroke, style: NumberStyle) -> str:
    return style.words(f"stroke {number}: {stroke.kind}, {stroke.start_s:.4f} to {stroke.end_s:.4f} s")


def _marked(head: HeadDrawn, palette: Palette) -> Figure:
    pen = {"color": head_tone(head.number, palette), "width": 2.4, "dash": head_dash(head.number, palette)}
    points = [stroke.points for stroke in head.strokes]
    return _lines(f"head {head.number}", points, pen, meta={"role": "marked", "head": head.number})


def _starts(chart: PathChart, palette: Palette) -> Figure:
    first = [head.strokes[0].points[0] for head in chart.heads if head.strokes]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "start of a head",
        "x": [x for x, _ in first],
        "y": [y for _, y in first],
        "marker": {"symbol": "diamond-open", "size": 13, "color": palette.ink, "line": {"width": 2}},
        "hoverinfo": "skip",
        "cliponaxis": False,
    }


def _numbers(chart: PathChart, palette: Palette) -> list[Figure]:
    """Write the number of each stroke just inside its start, where there are so few that they can be read."""
    if sum(len(head.strokes) for head in chart.heads) > _MOST_NUMBERS:
        return []
    inside = max(chart.sheet_mm) * 0.022
    spots = []
    for head in chart.heads:
        for number, stroke in enumerate(head.strokes, start=1):
            x, y = stroke.points[0]
            to_x = (min(p[0] for p in stroke.points) + max(p[0] for p in stroke.points)) / 2 - x
            to_y = (min(p[1] for p in stroke.points) + max(p[1] for p in stroke.points)) / 2 - y
            # along both sides, not straight to the middle: a number then stands in the corner, clear of both lines
            spots.append((x + _toward(to_x, inside), y + _toward(to_y, inside), f"{number}", head.number))
    return [
        {
            "type": "scatter",
            "mode": "text",
            "name": "order",
            "x": [x for x, *_ in spots],
            "y": [y for _, y, *_ in spots],
            "text": [text for *_, text, _ in spots],
            "textfont": {"size": 12, "color": [head_tone(number, palette) for *_, number in spots]},
            "showlegend": False,
            "hoverinfo": "skip",
        }
    ]


def _toward(way: float, most: float) -> float:
    return max(-most, min(most, way))


def _here(head: HeadDrawn, palette: Palette) -> Figure:
    """Draw where a head is: a dot with its number."""
    at = [head.strokes[-1].points[-1]] if head.strokes else []
    return {
        "type": "scatter",
        "mode": "markers+text",
        "name": f"head {head.number}, where it is",
        "x": [x for x, _ in at],
        "y": [y for _, y in at],
        "text": [f"{head.number}"] * len(at),
        "textposition": "middle center",
        "textfont": {"size": 11, "color": palette.ground, "weight": 700},
        "marker": {
            "size": 17,
            "color": head_tone(head.number, palette),
            "line": {"color": palette.ground, "width": 1.5},
        },
        "meta": {"role": "here", "head": head.number},
        "showlegend": False,
        "hoverinfo": "skip",
        "cliponaxis": False,
    }


def _label(head: HeadDrawn, chart: PathChart, palette: Palette) -> Figure:
    """Name a head at the outer corner of its field: above the sheet, below it, or inside where fields lie between."""
    left, low, right, top = head.field_mm or (0.0, 0.0, 0.0, 0.0)
    boxes = [other.field_mm for other in chart.heads if other.field_mm]
    above = top >= max(box[3] for box in boxes)
    below = not above and low <= min(box[1] for box in boxes)
    to_the_right = (left + right) > 1.01 * chart.sheet_mm[0]
    return {
        "x": right if to_the_right else left,
        "y": top if not below else low,
        "xanchor": "right" if to_the_right else "left",
        "yanchor": "bottom" if above else "top",
        "text": f"<b>head {head.number}</b>",
        "showarrow": False,
        "font": {"size": 12, "color": head_tone(head.number, palette)},
        "bgcolor": palette.ground,
    }
