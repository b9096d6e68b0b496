"""How the charts of a year of orders are drawn on screen."""

from __future__ import annotations

import numpy as np

from compare.present.book_charts import PanelChart, SavingChart
from compare.present.book_wording import percent
from compare.present.look import Palette
from compare.present.numbers import NumberStyle, figures, whole
from compare.present.plotly_frame import Figure, axis, frame, packed

_CURVE_HEIGHT, _PANEL_HEIGHT = 380, 250
_BETWEEN = 0.12
"""Share of the width between two panels."""


def saving_curve(chart: SavingChart, palette: Palette, style: NumberStyle) -> Figure:
    """Draw saving against hours: the bound dotted, the jobs that fit solid, loads as rings, the plan as a dot."""
    unit, chosen = style.words(chart.y.unit), chart.chosen
    most_hours = max(*chart.hours, chosen.hours, 1.0)
    most, least = max(*chart.bound, *chart.saving, chosen.saving, 1.0), min(*chart.saving, chosen.saving, 0.0)
    hours = packed(np.array(chart.hours))
    hover = f"%{{y:,.4~r}} {unit}"
    data: list[Figure] = [
        {
            "type": "scatter",
            "mode": "lines",
            "name": "no choice of jobs saves more",
            "x": hours,
            "y": packed(np.array(chart.bound)),
            "line": {"color": palette.quiet, "width": 1.5, "dash": "dot"},
            "hovertemplate": f"{hover}<extra>no choice saves more</extra>",
        },
        {
            "type": "scatter",
            "mode": "lines",
            "name": "jobs that fit",
            "x": hours,
            "y": packed(np.array(chart.saving)),
            "line": {"color": palette.ink, "width": 2.5},
            "hovertemplate": f"{hover}<extra>jobs that fit</extra>",
        },
        {
            "type": "scatter",
            "mode": "markers",
            "name": "planned to 70, 85 and 95 % of the hours",
            "x": [mark.hours for mark in chart.marks],
            "y": [mark.saving for mark in chart.marks],
            "customdata": [percent(mark.load, 0) for mark in chart.marks],
            "marker": {"symbol": "circle-open", "size": 10, "color": palette.ink, "line": {"width": 2}},
            "hovertemplate": f"{hover}<extra>planned to %{{customdata}}</extra>",
        },
        {
            "type": "scatter",
            "mode": "markers+text",
            "name": "this plan",
            "x": [chosen.hours],
            "y": [chosen.saving],
            "text": [f"<b>{figures(chosen.saving, style=style)}</b>"],
            "textposition": "bottom left" if chosen.hours > most_hours / 2 else "bottom right",
            "textfont": {"color": palette.ink},
            "marker": {
                "symbol": "diamond",
                "size": 12,
                "color": palette.laser,
                "line": {"color": palette.ground, "width": 2},
            },
            "hovertemplate": f"{hover}<extra>this plan</extra>",
            "cliponaxis": False,
        },
    ]
    layout = frame(
        palette,
        style,
        height=_CURVE_HEIGHT,
        margin={"l": 64, "r": 24, "t": 30, "b": 96},
        hovermode="x unified",
        showlegend=True,
        legend={"orientation": "h", "y": -0.22, "yanchor": "top", "x": 0, "font": {"size": 12}},
        xaxis=axis(
            palette,
            range=[0, most_hours * 1.02],
            title={"text": chart.x.title, "standoff": 8, "font": {"size": 13}},
            tickformat=",.0f",
            hoverformat=",.0f",
        ),
        yaxis=axis(
            palette,
            range=[least * 1.05, most * 1.08],
            title={"text": style.words(chart.y.title), "font": {"size": 13}, "standoff": 12},
            tickformat=",.0f",
        ),
        shapes=[
            {
                "type": "line",
                "x0": chosen.hours,
                "x1": chosen.hours,
                "y0": 0,
                "y1": 1,
                "xref": "x",
                "yref": "paper",
                "line": {"color": palette.ink, "width": 1.5},
            }
        ],
        annotations=[
            {
                "x": chosen.hours,
                "y": 1.0,
                "xref": "x",
                "yref": "paper",
                "yanchor": "bottom",
                "xanchor": _anchor(chosen.hours / most_hours),
                "text": f"{whole(chosen.hours, style)} h",
                "showarrow": False,
                "font": {"color": palette.ground, "size": 12},
                "bgcolor": palette.ink,
                "borderpad": 4,
            }
        ],
    )
    return {"data": data, "layout": layout}


def _anchor(share: float) -> str:
    """Return which side of a flag stands at its place, so that it stays on the chart."""
    return "left" if share < 0.05 else "right" if share > 0.9 else "center"


def panels(chart: PanelChart, palette: Palette, style: NumberStyle) -> Figure:
    """Draw bars of each quantity in a panel with a scale of its own; what is below zero is hatched."""
    count = len(chart.panels)
    width = (1 - _BETWEEN * (count - 1)) / count
    names = [style.words(name).replace(", ", "<br>") for name in chart.categories]
    data: list[Figure] = []
    axes: dict[str, Figure] = {}
    annotations = []
    for place, panel in enumerate(chart.panels):
        number = str(place + 1) if place else ""
        left = place * (width + _BETWEEN)
        known = [value for value in panel.values if value is not None]
        heights = [value if value is not None else max(known, default=1.0) for value in panel.values]
        low, high = min(0.0, *heights), max(0.0, *heights)
        span = max(high - low, 1.0)  # nothing to speak of stays low
        data.append(
            {
                "type": "bar",
                "name": panel.title,
                "x": names,
                "y": heights,
                "xaxis": f"x{number}",
                "yaxis": f"y{number}",
                "text": [f"<b>{label}</b>" for label in panel.labels],
                "textposition": "outside",
                "textfont": {"size": 12},
                "textangle": 0,
                "constraintext": "none",
                "cliponaxis": False,
                "customdata": list(panel.labels),
                "marker": {
                    "color": palette.stages["running"],
                    "line": {"width": 0},
                    "pattern": {
                        "shape": ["/" if value is None or value < 0 else "" for value in panel.values],
                        "fgcolor": palette.ink,
                        "bgcolor": palette.ground,
                        "size": 6,
                    },
                },
                "hovertemplate": f"%{{x}}: %{{customdata}}<extra>{style.words(panel.heading)}</extra>",
            }
        )
        axes[f"xaxis{number}"] = axis(
            palette,
            domain=[left, left + width],
            anchor=f"y{number}",
            type="category",
            fixedrange=True,
            tickangle=0,
            title={"text": chart.category, "font": {"size": 12}, "standoff": 6},
            showgrid=False,
        )
        axes[f"yaxis{number}"] = axis(
            palette,
            anchor=f"x{number}",
            fixedrange=True,
            range=[low - 0.22 * span if low < 0 else 0, high + 0.22 * span if high > 0 or low == 0 else 0.22 * span],
            tickformat=",~r",
            nticks=5,
            zeroline=low < 0,
            zerolinecolor=palette.quiet,
        )
        annotations.append(
            {
                "x": left,
                "y": 1.0,
                "xref": "paper",
                "yref": "paper",
                "xanchor": "left",
                "yanchor": "bottom",
                "yshift": 6,
                "text": style.words(panel.heading),
                "showarrow": False,
                "font": {"size": 12, "color": palette.ink},
            }
        )
    layout = frame(
        palette,
        style,
        height=_PANEL_HEIGHT,
        bargap=0.35,
        margin={"l": 48, "r": 8, "t": 34, "b": 64},
        annotations=annotations,
        **axes,
    )
    return {"data": data, "layout": layout}
