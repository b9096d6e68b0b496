"""The Job view's card on the seconds of a sheet: where they go, and the sheet as its heads mark it.

It has callbacks of its own, after the answer: the answer does not wait for it. The path is asked for only while it
is open. Playing it is the browser's own work.
"""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, dcc, html

from compare.decide.comparison import Comparison
from compare.present.numbers import NumberStyle
from compare.present.sheet_charts import PathChart, SecondsChart, no_path, path_chart, seconds_chart
from compare.present.sheet_pen import draw_path, draw_seconds, slower
from compare.present.sheet_seconds import why_longer
from compare.routes.sheet_time import sheet_time
from dashboard import parts
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import comparison_of, from_json

CHARTS = ("seconds", "path")
"""Charts of the card."""

MOMENTS = 1000
"""The slider of the sheet has so many steps from start to end."""

_STEP = 5
"""An arrow key moves it by this many."""


def stores() -> list[Any]:
    """Return what has to outlive the view's layout."""
    return [dcc.Store(id=name) for name in ("seconds-asked", "path-asked", "path-played")]


def spec(c: Comparison, name: str) -> SecondsChart | PathChart | None:
    """Return a chart of the card as a spec; ``None`` where there is nothing to draw."""
    if not c.laser.feasible:
        return None
    return seconds_chart(c.scenario) if name == "seconds" else path_chart(c.scenario)


def card(c: Comparison, reader: Reader) -> Any:
    """Return the card for a comparison; its path is drawn when it is opened."""
    now = _seconds(c, reader)
    return parts.card(
        "Seconds per sheet on the laser line",
        html.P(now["seconds-words.children"], id="seconds-words", className="quiet"),
        parts.chart("seconds", now["chart-seconds.figure"] or None, now["chart-seconds-words.children"]),
        html.Div(
            dmc.Accordion(
                [
                    _item(
                        "parts",
                        "Why: every part of the seconds",
                        html.Div(now["seconds-parts.children"], id="seconds-parts"),
                    ),
                    _item("path", "The sheet, head by head", _path_place()),
                ],
                id="seconds-open",
                multiple=True,
                value=[],
                variant="contained",
                className="card-plain",
            ),
            id="seconds-more",
            hidden=now["seconds-more.hidden"],
        ),
    )


def _item(value: str, title: str, content: Any) -> Any:
    return dmc.AccordionItem([dmc.AccordionControl(title), dmc.AccordionPanel(content)], value=value)


def _path_place() -> Any:
    return html.Div(
        [
            html.P("", id="path-none", className="quiet"),
            html.Div(
                [
                    html.Div(id="path-picture"),
                    parts.downloads("path"),
                    html.Div(
                        [
                            dmc.Button("Play", id="path-play", size="xs", variant="default", w=72),
                            dmc.Slider(
                                id="path-time",
                                min=0,
                                max=MOMENTS,
                                step=_STEP,
                                value=MOMENTS,
                                label=None,
                                thumbLabel="Moment of the sheet",
                                updatemode="drag",
                                size="sm",
                                className="path-time",
                            ),
                        ],
                        className="player",
                    ),
                    html.P("", id="path-now", className="quiet moment"),
                    html.P("", id="path-slower", className="quiet"),
                ],
                id="path-drawn",
                hidden=True,
            ),
        ]
    )


def _seconds(c: Comparison, reader: Reader) -> dict[str, Any]:
    """Return what the card says of a comparison, by place."""
    chart = spec(c, "seconds")
    if not isinstance(chart, SecondsChart):
        return {
            "seconds-words.children": "The laser can't make this job, so no sheet runs through the laser line.",
            "chart-seconds.figure": {},
            "chart-seconds-words.children": "Nothing to draw.",
            "place-seconds.hidden": True,
            "seconds-parts.children": [],
            "seconds-more.hidden": True,
        }
    return {
        "seconds-words.children": reader.style.words(why_longer(sheet_time(c.scenario.inputs))),
        "chart-seconds.figure": draw_seconds(chart, reader.scheme, reader.style),
        "chart-seconds-words.children": reader.style.words(chart.summary),
        "place-seconds.hidden": False,
        "seconds-parts.children": _table(chart, reader.style),
        "seconds-more.hidden": False,
    }


def _table(chart: SecondsChart, style: NumberStyle) -> Any:
    rows = [
        [label, style.write(f"{float(seconds):,.4f}"), style.words(f"{because}")]
        for label, seconds, because in list(chart.rows())[1:]
    ]
    return html.Div(parts.table(["part", "seconds", "because"], rows), className="words-last")


def _path(c: Comparison, reader: Reader) -> dict[str, Any]:
    """Return the sheet as its heads mark it, or why it can't be drawn, by place."""
    chart = spec(c, "path")
    if not isinstance(chart, PathChart):
        return {
            "path-picture.children": [],
            "path-played.data": None,
            "path-drawn.hidden": True,
            "path-none.children": reader.style.words(no_path(c.scenario)),
            "path-slower.children": "",
            "path-time.value": MOMENTS,
        }
    figure, times = draw_path(chart, reader.scheme, reader.style), slower(chart.cutting_s)
    how = "as fast as it is cut" if times == 1 else f"{times} times slower than it is cut"
    return {
        # drawn anew each time, and never while it is hidden: it would not know how wide it is
        "path-picture.children": parts.picture("path", figure, reader.style.words(chart.summary)),
        "path-played.data": figure["layout"]["meta"],
        "path-drawn.hidden": False,
        "path-none.children": "",
        "path-slower.children": f"Played {how}. Arrow keys on the slider go in small steps.",
        "path-time.value": MOMENTS,
    }


_SAID = (
    "seconds-words.children",
    "chart-seconds.figure",
    "chart-seconds-words.children",
    "place-seconds.hidden",
    "seconds-parts.children",
    "seconds-more.hidden",
)
_DRAWN = (
    "path-picture.children",
    "path-played.data",
    "path-drawn.hidden",
    "path-none.children",
    "path-slower.children",
    "path-time.value",
)


def _outputs(places: tuple[str, ...]) -> list[Output]:
    return [Output(name, prop) for name, _, prop in (place.partition(".") for place in places)]


def register(app: Dash, settings: Settings) -> None:
    """Register the card's callbacks."""
    # after an answer, and not when the view is laid out, which has it all in place
    app.clientside_callback(
        ClientsideFunction("evenrun", "askSeconds"),
        Output("seconds-asked", "data"),
        Input("answered", "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "askPath"),
        Output("path-asked", "data"),
        Input("seconds-open", "value", allow_optional=True),  # the store it asks by is there in every view
        Input("state", "data"),
        prevent_initial_call=True,
    )

    @app.callback(_outputs(_SAID), Input("seconds-asked", "data"), prevent_initial_call=True)
    def seconds(data: Any) -> Any:
        said = _seconds(comparison_of(from_json(data), settings), reader_now())
        return [said[place] for place in _SAID]

    @app.callback(_outputs(_DRAWN), Input("path-asked", "data"), prevent_initial_call=True)
    def path(data: Any) -> Any:
        drawn = _path(comparison_of(from_json(data), settings), reader_now())
        return [drawn[place] for place in _DRAWN]

    app.clientside_callback(
        ClientsideFunction("evenrun", "moment"),
        Output("path-now", "children"),
        Input("path-time", "value"),
        Input("path-played", "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "play"),
        Output("path-play", "children"),
        Input("path-play", "n_clicks"),
        prevent_initial_call=True,
    )
