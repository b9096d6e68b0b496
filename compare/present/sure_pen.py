"""The pen for what is uncertain: bands beside curves, how often each route is cheaper, and the tornado."""

from __future__ import annotations

import math
import textwrap
from typing import Literal

import numpy as np

from compare.present.charts import BandSeries, CurveChart, Series
from compare.present.look import PALETTES, ROUTE_DASH, Palette, Scheme
from compare.present.numbers import PLAIN, NumberStyle, figures
from compare.present.plotly_frame import Figure, axis, frame, packed
from compare.present.sure_charts import Bar, TornadoChart
from compare.present.sure_wording import of_100

By = Literal["ends", "draws"]
"""What the bars of a tornado show: each input at either end of its range, or the lowest and highest fifth of its draws."""

STRIP = 0.045
"""Height of the strip of ranges, as a share of the chart."""

BAND_WORDS = "shaded: 8 cases in 10"

_CHANCES = (0.135, 0.225)
_FILL, _EDGE, _CHANCE = 0.17, 0.75, 0.5
_WRAP = 42
_NARROWEST, _LETTER, _GAP = 430.0, 6.4, 12.0
"""Width of the bars' part of a tornado on a tablet, of a letter and of a gap [px]: what ends in words need."""

_ROWS, TORNADO_HEIGHT = 10, 460
"""Room for so many bars; fewer stand at the top, as thick as ever."""


def colour_of(palette: Palette, route: str) -> str:
    """Return the colour of a route."""
    return palette.die if route == "die" else palette.laser


def thinned(colour: str, share: float) -> str:
    """Return a colour such as ``#2a5f9e`` that lets through what lies behind it."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"rgba({red}, {green}, {blue}, {share})"


def band_of(band: BandSeries, chart: CurveChart, palette: Palette) -> Figure:
    """Draw a band: its route's colour behind the lines, its edges in its route's stroke."""
    along, colour = np.array(chart.series[0].x), colour_of(palette, band.role)
    around = np.concatenate([along, along[::-1]])
    return {
        "type": "scatter",
        "mode": "lines",
        "name": f"{band.label}, 8 cases in 10",
        "x": packed(around.astype(np.float32)),
        "y": packed(np.array([*band.high, *band.low[::-1]], dtype=np.float32)),
        "fill": "toself",
        "fillcolor": thinned(colour, _FILL),
        "line": {"color": thinned(colour, _EDGE), "width": 1, "dash": ROUTE_DASH[band.role]},
        "hoverinfo": "skip",
    }


def bands_named(chart: CurveChart, palette: Palette) -> list[Figure]:
    """Say in words what the shaded bands are, where falling curves leave room."""
    if not chart.bands:
        return []
    return [
        {
            "x": 1.0,
            "y": 1.0,
            "xref": "paper",
            "yref": "paper",
            "xanchor": "right",
            "yanchor": "top",
            "text": BAND_WORDS,
            "showarrow": False,
            "font": {"color": palette.quiet, "size": 12},
            "bgcolor": palette.ground,
        }
    ]


def reaches(series: Series, chart: CurveChart, style: NumberStyle) -> Figure:
    """Return what a curve says of its band when it is pointed at; nothing without a band."""
    band = next((b for b in chart.bands if b.role == series.role), None)
    if band is None:
        return {}
    words = f"{style.words(chart.y.unit)}<br>8 cases in 10: %{{customdata[0]:,.3~r}} to %{{customdata[1]:,.3~r}}"
    return {
        "customdata": packed(np.array([band.low, band.high], dtype=np.float32).T),
        "hovertemplate": f"%{{y:,.3~r}} {words}<extra>{series.label}</extra>",
    }


def chance_axis(palette: Palette) -> Figure:
    """Return the axis of how often the laser is cheaper."""
    return axis(
        palette,
        domain=list(_CHANCES),
        range=[0, 1],
        fixedrange=True,
        tickvals=[0, 0.5, 1],
        ticktext=["0", "50", "100"],
        tickfont={"size": 10, "color": palette.quiet},
        showline=True,
    )


def chances_named(palette: Palette) -> list[Figure]:
    """Name the strip of chances, above it."""
    return [
        {
            "x": 0.0,
            "y": _CHANCES[1] + 0.004,
            "xref": "paper",
            "yref": "paper",
            "xanchor": "left",
            "yanchor": "bottom",
            "text": "in how many of 100 cases the laser is cheaper",
            "showarrow": False,
            "font": {"color": palette.quiet, "size": 12},
        }
    ]


def chances(chart: CurveChart, palette: Palette) -> list[Figure]:
    """Draw how often the laser is the cheaper one, and the die above it; nothing where nothing was varied."""
    if not chart.laser_cheaper:
        return []
    along, share = np.array(chart.series[0].x), np.array(chart.laser_cheaper)
    said = [of_100(float(one)) for one in share]
    strip = {"type": "scatter", "mode": "lines", "xaxis": "x", "yaxis": "y3", "x": packed(along.astype(np.float32))}
    return [
        {
            **strip,
            "name": "laser cheaper",
            "y": packed(share.astype(np.float32)),
            "fill": "tozeroy",
            "fillcolor": thinned(palette.laser, _CHANCE),
            "line": {"color": palette.ink, "width": 1.2},
            "customdata": said,
            "hovertemplate": "laser cheaper in %{customdata} of 100 cases at %{x:,.0f} cartons per order<extra></extra>",
        },
        {
            **strip,
            "name": "die cheaper",
            "y": packed(np.ones(len(share), dtype=np.float32)),
            "fill": "tonexty",
            "fillcolor": thinned(palette.die, _CHANCE),
            "line": {"width": 0},
            "hoverinfo": "skip",
        },
    ]


def draw_tornado(chart: TornadoChart, scheme: Scheme = "light", style: NumberStyle = PLAIN, by: By = "ends") -> Figure:
    """Draw what moves the difference most as a plotly figure.

    Parameters
    ----------
    chart : TornadoChart
        What is drawn.
    scheme : {"light", "dark"}
        Colours.
    style : NumberStyle
        How the reader writes numbers.
    by : {"ends", "draws"}
        Each input at either end with the others at their values; or the means over the lowest and highest fifth of
        its draws, with everything else as drawn.

    Returns
    -------
    dict
        ``data`` and ``layout`` of a plotly figure; every bar has the dotted name of its input with it.
    """
    palette = PALETTES[scheme]
    bars = sorted(chart.bars, key=lambda bar: _width(bar, by))
    middle = chart.base if by == "ends" else chart.middle
    low, high = _reach(bars, by, middle)
    rows = list(range(len(bars)))
    tones = {"low": palette.stages["running"], "high": palette.stages["make-ready"]}
    data = [
        {
            "type": "bar",
            "orientation": "h",
            "name": f"{end} end" if by == "ends" else f"{end}est fifth",
            "y": rows,
            "base": [middle] * len(bars),
            "x": [_of(bar, by)[place] - middle for bar in bars],
            "marker": {"color": tones[end], "line": {"color": palette.ink, "width": 0.6}},
            "customdata": [[bar.name, _hover(bar, end, by, chart, style)] for bar in bars],
            "hovertemplate": "%{customdata[1]}<extra></extra>",
        }
        for place, end in enumerate(("low", "high"))
    ]
    annotations = [
        note for row, bar in enumerate(bars) for note in _ends(row, bar, by, middle, ink=palette.ink, style=style)
    ]
    annotations += _sides(low, high, palette)
    annotations.append(
        {
            "x": middle,
            "y": 1.0,
            "xref": "x",
            "yref": "paper",
            "yanchor": "bottom",
            "text": f"{'at the values' if by == 'ends' else 'half of the cases'}: {_middle(middle, bars, by, style)}",
            "showarrow": False,
            "font": {"color": palette.ground, "size": 12},
            "bgcolor": palette.ink,
            "borderpad": 3,
        }
    )
    layout = frame(
        palette,
        style,
        height=TORNADO_HEIGHT,
        margin={"l": 8, "r": 8, "t": 34, "b": 46},
        barmode="overlay",
        bargap=0.42,
        xaxis=axis(
            palette,
            range=[low, high],
            fixedrange=True,
            title={"text": f"laser less die, {style.words(chart.unit)}", "standoff": 8, "font": {"size": 12}},
        ),
        yaxis=axis(
            palette,
            range=[len(bars) - _ROWS - 0.6, len(bars) - 0.4],
            tickvals=rows,
            ticktext=["<br>".join(textwrap.wrap(style.words(bar.label), _WRAP)) for bar in bars],
            tickfont={"size": 12},
            showgrid=False,
            fixedrange=True,
        ),
        shapes=[_upright(middle, palette.ink, 1.5), *([_upright(0, palette.quiet, 1.5)] if low < 0 < high else [])],
        annotations=annotations,
    )
    return {"data": data, "layout": layout}


def _of(bar: Bar, by: By) -> tuple[float, float]:
    return (bar.at_low, bar.at_high) if by == "ends" else (bar.mean_lowest, bar.mean_highest)


def _middle(middle: float, bars: list[Bar], by: By, style: NumberStyle) -> str:
    """Write where bars start, with the decimals that their reach carries: two figures of it."""
    ends = [middle, *(end for bar in bars for end in _of(bar, by))]
    reach = max(ends) - min(ends)
    if reach == 0:
        return figures(middle, style=style)
    decimals = max(1 - math.floor(math.log10(reach)), 0)
    return style.write(f"{round(middle, decimals) + 0.0:,.{decimals}f}")


def _width(bar: Bar, by: By) -> float:
    low, high = _of(bar, by)
    return abs(high - low)


def _sides_of(bar: Bar, by: By, middle: float) -> tuple[tuple[float, str], tuple[float, str]]:
    """Return where the words of both ends stand, left and right, and the words; never on the bar itself."""
    low, high = _of(bar, by)
    words = (bar.low, bar.high) if by == "ends" else ("lowest fifth", "highest fifth")
    # where both ends lie on one side, the nearer one is written at the line
    left, right = (low, words[0]), (high, words[1])
    if low > high or (low == high and low > middle):
        left, right = right, left
    return (min(left[0], middle), left[1]), (max(right[0], middle), right[1])


def _reach(bars: list[Bar], by: By, middle: float) -> tuple[float, float]:
    """Return the ends of the axis: bars, and room for the words at their ends on a narrow screen."""
    sides = [_sides_of(bar, by, middle) for bar in bars]
    ends = [x for both in sides for x, _ in both] or [middle]
    low, high = min(ends), max(ends)
    if low == high:
        low, high = low - (abs(low) or 1), high + (abs(high) or 1)
    needs = [
        ((_LETTER * len(a) + _GAP) / _NARROWEST, (_LETTER * len(b) + _GAP) / _NARROWEST) for (_, a), (_, b) in sides
    ]
    for _ in range(8):  # a wider axis makes each bar shorter and its words no smaller; this settles soon
        width = high - low
        low = min([low, *(x - need * width for ((x, _), _), (need, _) in zip(sides, needs, strict=True))])
        high = max([high, *(x + need * width for (_, (x, _)), (_, need) in zip(sides, needs, strict=True))])
    return low, high


def _hover(bar: Bar, end: str, by: By, chart: TornadoChart, style: NumberStyle) -> str:
    value = _of(bar, by)[end == "high"]
    where = f"at {bar.low if end == 'low' else bar.high}"
    if by == "draws":
        where = f"mean over its {end}est fifth"
    return style.words(f"{bar.label} ({bar.name})<br>{figures(value)} {chart.unit} {where}")


def _ends(row: int, bar: Bar, by: By, middle: float, *, ink: str, style: NumberStyle) -> list[Figure]:
    """Write what an input is at either end beside the end of its bar."""
    return [
        {
            "x": x,
            "y": row,
            "xref": "x",
            "yref": "y",
            "xanchor": anchor,
            "xshift": shift,
            "text": style.words(words),
            "showarrow": False,
            "font": {"size": 11.5, "color": ink},
        }
        for (x, words), anchor, shift in zip(_sides_of(bar, by, middle), ("right", "left"), (-5, 5), strict=True)
    ]


def _sides(low: float, high: float, palette: Palette) -> list[Figure]:
    """Say on which side of zero which route is cheaper, where that side is on the chart."""
    said = [
        ("laser cheaper", low, "left", palette.laser, low < 0),
        ("die cheaper", high, "right", palette.die, high > 0),
    ]
    return [
        {
            "x": x,
            "y": 1.0,
            "xref": "x",
            "yref": "paper",
            "xanchor": side,
            "yanchor": "bottom",
            "yshift": 3,
            "text": words,
            "showarrow": False,
            "font": {"color": colour, "size": 12.5},
        }
        for words, x, side, colour, there in said
        if there
    ]


def _upright(x: float, colour: str, width: float) -> Figure:
    line = {"color": colour, "width": width}
    return {"type": "line", "x0": x, "x1": x, "y0": 0, "y1": 1, "xref": "x", "yref": "paper", "line": line}
