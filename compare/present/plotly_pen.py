"""The pen for the screen: chart specs as plotly figures, in plain data.

Figures are dictionaries of the plotly schema: building them takes a millisecond, and nothing of the
engine has to import a plotting library.
"""

from __future__ import annotations

import math
import textwrap
from typing import Any

import numpy as np

from compare.decide.step_totals import Range
from compare.geometry.line_kinds import pen_of
from compare.present.book_charts import BookChart, PanelChart, SavingChart
from compare.present.book_pen import panels, saving_curve
from compare.present.charts import Chart, CurveChart, MapChart, OutlineChart, Series, StageChart, decade_ticks
from compare.present.look import PALETTES, ROUTE_DASH, Palette, Scheme, mixed
from compare.present.numbers import PLAIN, NumberStyle, figures, whole
from compare.present.plotly_frame import Figure, axis, frame, packed
from compare.present.sure_pen import (
    STRIP,
    band_of,
    bands_named,
    chance_axis,
    chances,
    chances_named,
    colour_of,
    reaches,
    thinned,
)

_CURVES_HEIGHT = 500
_FLOOR = {1: 0.15, 2: 0.29}
"""Where the curves end below, by their number: two leave room for how often each is cheaper, drawn or not."""

_BELOW, _ABOVE = 1.25, 1.5
"""How far the axis goes beyond the lines, bands or not, so that nothing moves when they come."""

_BEHIND = 0.75
"""How much of a band a label beside its curve covers, so that it can be read."""

_MAP_HEIGHT = 430
_OUTLINE_HEIGHT = 260
"""More ranges than this are a flicker from sheet to sheet, drawn as one hatched stretch."""


def draw(chart: Chart | BookChart, scheme: Scheme = "light", style: NumberStyle = PLAIN) -> Figure:
    """Draw a chart spec as a plotly figure.

    Parameters
    ----------
    chart : Chart or BookChart
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
    match chart:
        case CurveChart():
            return _curves(chart, palette, style)
        case StageChart():
            return _stages(chart, palette, style)
        case MapChart():
            return _map(chart, palette, style)
        case OutlineChart():
            return _outline(chart, palette, style)
        case SavingChart():
            return saving_curve(chart, palette, style)
        case PanelChart():
            return panels(chart, palette, style)


def _curves(chart: CurveChart, palette: Palette, style: NumberStyle) -> Figure:
    values = [y for series in chart.series for y in series.y]
    low, high = min(values), max(values)
    y_ticks = decade_ticks(low / _BELOW, high * _ABOVE)
    x_low, x_high = chart.series[0].x[0], chart.series[0].x[-1]
    floor, both = _FLOOR[len(chart.series)], len(chart.series) > 1
    data: list[Figure] = [band_of(band, chart, palette) for band in chart.bands]
    data += [_curve(series, chart, palette, style) for series in chart.series]
    data += [_handle(series, chart, palette, style) for series in chart.series]
    data += _strip(chart, palette, style)
    data += chances(chart, palette)
    quoted = whole(chart.quoted, style)
    annotations = [_label(series, chart, palette) for series in chart.series]
    annotations.append(
        {
            "x": math.log10(chart.quoted),
            "y": 1.0,
            "xref": "x",
            "yref": "paper",
            "yanchor": "bottom",
            "text": f"{quoted} quoted",
            "showarrow": False,
            "font": {"color": palette.ground, "size": 12},
            "bgcolor": palette.ink,
            "borderpad": 4,
        }
    )
    annotations += _strip_labels(chart, palette, style)
    annotations += [*bands_named(chart, palette), *(chances_named(palette) if both else [])]
    layout = frame(
        palette,
        style,
        height=_CURVES_HEIGHT,
        margin={"l": 64, "r": 32, "t": 34, "b": 48},
        hovermode="x unified",
        bargap=0,
        barmode="overlay",
        xaxis=axis(
            palette,
            type="log",
            range=[math.log10(x_low), math.log10(x_high)],
            tickvals=list(chart.x.ticks),
            ticktext=[whole(t, style) for t in chart.x.ticks],
            tickangle=0,
            title={"text": chart.x.title, "standoff": 8},
            anchor="y2",
            hoverformat=",.0f",
        ),
        yaxis=axis(
            palette,
            type="log",
            domain=[floor, 1.0],
            range=[math.log10(low / _BELOW), math.log10(high * _ABOVE)],
            tickvals=list(y_ticks),
            ticktext=[figures(t, 1, style) if t < 1 else whole(t, style) for t in y_ticks],
            title={"text": style.words(chart.y.title)},
        ),
        yaxis2={"domain": [0.0, STRIP], "visible": False, "fixedrange": True},
        **({"yaxis3": chance_axis(palette)} if both else {}),
        shapes=[
            {
                "type": "line",
                "x0": chart.quoted,
                "x1": chart.quoted,
                "y0": floor,
                "y1": 1.0,
                "xref": "x",
                "yref": "paper",
                "line": {"color": palette.ink, "width": 1.5},
            }
        ],
        annotations=annotations,
    )
    return {"data": data, "layout": layout}


def _curve(series: Series, chart: CurveChart, palette: Palette, style: NumberStyle) -> Figure:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": series.label,
        "x": packed(np.array(series.x)),
        "y": packed(np.array(series.y)),
        "line": {"color": colour_of(palette, series.role), "width": 2.5, "dash": ROUTE_DASH[series.role]},
        "hovertemplate": f"%{{y:,.3~r}} {style.words(chart.y.unit)}<extra>{series.label}</extra>",
        **reaches(series, chart, style),
    }


def _handle(series: Series, chart: CurveChart, palette: Palette, style: NumberStyle) -> Figure:
    """Mark a curve at the quoted run length and write its value beside it."""
    at = series.x.index(chart.quoted)
    value = series.y[at]
    upper = all(value >= other.y[at] for other in chart.series)
    return {
        "type": "scatter",
        "mode": "markers+text",
        "name": series.label,
        "x": [chart.quoted],
        "y": [value],
        "text": [f"<b>{figures(value, style=style)}</b>"],
        "textposition": "top right" if upper else "bottom left",
        "textfont": {"color": colour_of(palette, series.role)},
        "marker": {"color": colour_of(palette, series.role), "size": 9, "line": {"color": palette.ground, "width": 2}},
        "hoverinfo": "skip",
        "cliponaxis": False,
    }


def _label(series: Series, chart: CurveChart, palette: Palette) -> Figure:
    """Label a curve where it is farthest from the other, above the upper and below the lower one."""
    count = len(series.x)
    first, last = count // 8, count - count // 4
    others = [s for s in chart.series if s is not series]
    at, above = count // 4, True
    if others:
        other = others[0].y
        apart = np.abs(np.log(np.array(series.y[first:last]) / other[first:last]))
        at = first + int(apart.argmax())
        above = series.y[at] >= other[at]
    return {
        "x": math.log10(series.x[at]),
        "y": math.log10(series.y[at]),
        "xref": "x",
        "yref": "y",
        "text": series.label,
        "showarrow": False,
        "yanchor": "bottom" if above else "top",
        "yshift": 8 if above else -8,
        "xanchor": "left" if above else "right",
        "font": {"color": colour_of(palette, series.role), "size": 14, "weight": 600},
        "bgcolor": thinned(palette.ground, _BEHIND),
    }


def _strip(chart: CurveChart, palette: Palette, style: NumberStyle) -> list[Figure]:
    bars = []
    for start, end, lowest in chart.stretches():
        words = {"die": "die cheaper", "laser": "laser cheaper", "even": "both the same"}.get(
            lowest, "changes with sheets and tools begun"
        )
        mixed = lowest not in ("die", "laser")
        marker: Figure = {"color": colour_of(palette, lowest), "line": {"width": 0}}
        if mixed:
            marker = {
                "color": palette.ground,
                "line": {"width": 0},
                "pattern": {"shape": "/", "fgcolor": palette.quiet, "bgcolor": palette.ground, "size": 6},
            }
        bars.append(
            {
                "type": "bar",
                "orientation": "h",
                "base": [start],
                "x": [max(end + 1 - start, 1)],
                "y": [0],
                "width": [1],
                "xaxis": "x",
                "yaxis": "y2",
                "marker": marker,
                "name": words,
                "hovertemplate": f"{whole(start, style)} to {whole(end, style)} cartons per order: {words}<extra></extra>",
            }
        )
    return bars


def _strip_labels(chart: CurveChart, palette: Palette, style: NumberStyle) -> list[Figure]:
    """Name the widest stretch of each route under the curves, and the break-even between them."""
    low, high = chart.series[0].x[0], chart.series[0].x[-1]
    width = math.log(high / low)
    labels = []
    for route in ("laser", "die"):
        own: list[Range] = [r for r in chart.ranges if r.lowest == route]
        if not own:
            continue
        widest = max(own, key=lambda r: math.log((r.end + 1) / r.start))
        if math.log((widest.end + 1) / widest.start) / width < 0.12:
            continue
        # over a short stretch at the end of the axis a centred text would run past it
        short = math.log((widest.end + 1) / widest.start) / width < 0.35
        at_end, at_start = short and widest.end >= high, short and widest.start <= low
        middle = (math.log10(widest.start) + math.log10(widest.end)) / 2
        labels.append(
            {
                "x": math.log10(high) if at_end else math.log10(low) if at_start else middle,
                "xanchor": "right" if at_end else "left" if at_start else "center",
                "y": STRIP + 0.005,
                "xref": "x",
                "yref": "paper",
                "yanchor": "bottom",
                "text": _strip_text(route, chart, style),
                "showarrow": False,
                "font": {"color": colour_of(palette, route), "size": 13},
            }
        )
    return labels


def _strip_text(route: str, chart: CurveChart, style: NumberStyle) -> str:
    if route == "die" and chart.break_even is not None:
        return f"die cheaper from {whole(chart.break_even, style)}"
    return f"{route} cheaper"


def _stages(chart: StageChart, palette: Palette, style: NumberStyle) -> Figure:
    routes = list(chart.values)[::-1]
    data = []
    for index, (stage, label) in enumerate(zip(chart.stages, chart.labels, strict=True)):
        data.append(
            {
                "type": "bar",
                "orientation": "h",
                "name": label,
                "y": routes,
                "x": [chart.values[r][index] for r in routes],
                "marker": {"color": palette.stages[stage], "line": {"color": palette.ground, "width": 1}},
                "hovertemplate": f"{label}: %{{x:,.4~r}} {style.words(chart.unit)}<extra>%{{y}}</extra>",
            }
        )
    totals = {r: sum(chart.values[r]) for r in routes}
    annotations = [
        {
            "x": sum(v for v in chart.values[r] if v > 0),
            "y": r,
            "text": f"<b>{figures(totals[r], style=style)}</b>",
            "showarrow": False,
            "xanchor": "left",
            "xshift": 6,
        }
        for r in routes
    ]
    most = max(sum(v for v in values if v > 0) for values in chart.values.values())
    layout = frame(
        palette,
        style,
        height=274,
        barmode="relative",
        bargap=0.35,
        margin={"l": 48, "r": 12, "t": 8, "b": 120},
        showlegend=True,
        legend={"orientation": "h", "y": -0.36, "yanchor": "top", "x": 0, "traceorder": "normal", "font": {"size": 12}},
        xaxis=axis(
            palette,
            range=[min(0.0, *(min(v) for v in chart.values.values())), most * 1.18],
            title={"text": style.words(chart.unit), "standoff": 4, "font": {"size": 12}},
        ),
        yaxis=axis(palette, fixedrange=True),
        annotations=annotations,
    )
    return {"data": data, "layout": layout}


def _map(chart: MapChart, palette: Palette, style: NumberStyle) -> Figure:
    columns = [whole(q, style) for q in chart.run_lengths]
    rows = [whole(v, style) for v in chart.versions]
    # the root brings out small differences without losing which is larger
    share = np.array(chart.share, dtype=np.float32)  # None, where there is nothing to say, becomes NaN
    shade = np.copysign(np.sqrt(np.abs(share)), share)
    text = [["" if v is None else _cell(v, style) for v in row] for row in chart.advantage]
    x, y = chart.run_lengths.index(chart.quoted[0]), chart.versions.index(chart.quoted[1])
    layout = frame(
        palette,
        style,
        height=_MAP_HEIGHT,
        margin={"l": 56, "r": 12, "t": 8, "b": 44},
        xaxis=_steps(palette, columns, chart.x.title),
        yaxis=_steps(palette, rows, chart.y.title),
        shapes=[
            {
                "type": "rect",
                "x0": x - 0.5,
                "x1": x + 0.5,
                "y0": y - 0.5,
                "y1": y + 0.5,
                "line": {"color": palette.ink, "width": 2.5},
            }
        ],
    )
    heat = {
        "type": "heatmap",
        "z": packed(shade),
        "zmin": -1,
        "zmax": 1,
        "xgap": 2,
        "ygap": 2,
        # never so deep that one ink could not be read on all of it
        "colorscale": [
            [0, mixed(palette.grid, palette.die, palette.deepest)],
            [0.5, palette.grid],
            [1, mixed(palette.grid, palette.laser, palette.deepest)],
        ],
        "showscale": False,
        "text": [[words.replace(" ", "<br>") for words in row] for row in text],
        "texttemplate": "%{text}",
        "textfont": {"size": 11.5, "color": palette.ink},
        "x": columns,
        "y": rows,
        "customdata": text,
        "hoverongaps": False,
        "hovertemplate": (
            "%{x} cartons per order, %{y} versions:<br>"
            f"%{{customdata}} {style.words(chart.unit)} cheaper<extra></extra>"
        ),
    }
    return {"data": [heat], "layout": layout}


def _steps(palette: Palette, labels: list[str], title: str) -> dict[str, Any]:
    """Return an axis of equal steps, one per label."""
    return axis(
        palette,
        type="category",
        categoryarray=labels,
        range=[-0.5, len(labels) - 0.5],
        title={"text": title, "standoff": 8},
        showgrid=False,
        fixedrange=True,
    )


def _cell(advantage: float, style: NumberStyle) -> str:
    if abs(advantage) < 0.005:
        return "even"
    return f"{'laser' if advantage > 0 else 'die'} {figures(abs(advantage), 2, style)}"


def _marks(chart: OutlineChart, palette: Palette, style: NumberStyle) -> Figure:
    """Mark the places of findings by number; a ring and a figure, so that no colour is needed."""
    at = _place(chart)
    return {
        "type": "scatter",
        "mode": "markers+text",
        "name": "findings",
        "x": [mark.x for mark in chart.marks],
        "y": [mark.y for mark in chart.marks],
        "text": [str(mark.number) for mark in chart.marks],
        "textposition": "top center",
        "textfont": {"color": palette.laser, "weight": 700},
        "marker": {"symbol": "circle-open", "size": 13, "color": palette.laser, "line": {"width": 2}},
        "customdata": [[mark.number, _wrapped(style.words(mark.words))] for mark in chart.marks],
        "hovertemplate": "%{customdata[0]}: %{customdata[1]}<br>at " + at + "<extra></extra>",
        "cliponaxis": False,
    }


def _place(chart: OutlineChart) -> str:
    digits = 1 if chart.unit == "mm" else 3
    return f"%{{x:.{digits}f}}, %{{y:.{digits}f}} {chart.unit}"


def _wrapped(text: str) -> str:
    return "<br>".join(textwrap.wrap(text, 60))


def _outline(chart: OutlineChart, palette: Palette, style: NumberStyle) -> Figure:
    data = []
    for kind, lines in chart.lines.items():
        pen = pen_of(kind)
        xs: list[float | None] = []
        ys: list[float | None] = []
        for line in lines:
            xs += [*(x for x, _ in line), None]
            ys += [*(y for _, y in line), None]
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": pen.label,
                "x": xs,
                "y": ys,
                "line": {
                    "color": getattr(palette, pen.tone),
                    "width": pen.width / 2 if chart.fine else pen.width,
                    "dash": pen.dash,
                },
                "hovertemplate": f"{pen.label}: {_place(chart)}<extra></extra>",
            }
        )
    if chart.marks:
        data.append(_marks(chart, palette, style))
    bare = {"visible": False, "fixedrange": True}
    layout = frame(
        palette,
        style,
        height=_OUTLINE_HEIGHT if not chart.tall else 2 * _OUTLINE_HEIGHT,
        margin={"l": 8, "r": 8, "t": 8, "b": 8},
        showlegend=True,
        legend={"orientation": "h", "y": -0.02, "yanchor": "top", "x": 0},
        xaxis={**bare},
        yaxis={**bare, "scaleanchor": "x"},
    )
    return {"data": data, "layout": layout}
