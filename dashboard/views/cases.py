"""The Cases view: saved cases side by side, first what differs in their inputs."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, html
from dash.exceptions import PreventUpdate

from compare.assumptions import assumption_table
from compare.decide.comparison import Comparison
from compare.errors import EvenrunError
from compare.present import wording
from compare.present.numbers import NumberStyle, days, figures, whole
from dashboard import parts
from dashboard.ranges import given_of, in_words
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import base_values, comparison_of, read_link
from dashboard.units import shown_as

_KEPT = 30
"""Cases a browser keeps."""

_MOST = 6
"""Cases side by side; more would not fit a page."""


def layout(view: View, settings: Settings, reader: Reader) -> Any:
    """Return the view; what is saved comes from the browser."""
    return html.Div(
        [
            html.Div(
                [
                    dmc.Title("Cases", order=1, className="answer"),
                    html.P(
                        "Cases are saved in this browser only. Save one in the Job view, change something, save another; here they stand side by side.",
                        className="quiet",
                    ),
                ]
            ),
            html.Div(id="case-table", role="status", **parts.aria(live="polite")),
        ],
        className="main single",
    )


def register(app: Dash, settings: Settings) -> None:
    """Register the view's callbacks."""
    app.clientside_callback(
        ClientsideFunction("evenrun", "saveCase"),
        Output("cases", "data"),
        Output("done", "children", allow_duplicate=True),
        Input("save-case", "n_clicks"),
        State("case-name", "value"),
        State("cases", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "picture"),
        Output("done", "children", allow_duplicate=True),
        Input({"kind": "picture", "chart": ALL, "format": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )

    @app.callback(Output("case-table", "children"), Input("cases", "data"))
    def side_by_side(saved: Any) -> Any:
        cases = _read(saved)
        if not cases:
            return parts.card("", html.P("Nothing is saved yet.", className="quiet"))
        return _table(cases, settings, reader_now())

    @app.callback(
        Output("cases", "data", allow_duplicate=True),
        Input({"kind": "drop-case", "name": ALL}, "n_clicks"),
        State("cases", "data"),
        prevent_initial_call=True,
    )
    def drop(clicks: list[int | None], saved: Any) -> Any:
        if not any(clicks) or not isinstance(ctx.triggered_id, dict):
            raise PreventUpdate
        return [case for case in _read(saved, most=_KEPT) if case["name"] != ctx.triggered_id["name"]]


def _read(saved: Any, most: int = _MOST) -> list[dict[str, str]]:
    """Take from browser storage what has the shape of a case."""
    if not isinstance(saved, list):
        return []
    return [
        {"name": str(case["name"])[:60], "link": str(case["link"])}
        for case in saved[-most:]
        if isinstance(case, dict) and isinstance(case.get("name"), str) and isinstance(case.get("link"), str)
    ]


def _table(cases: list[dict[str, str]], settings: Settings, reader: Reader) -> Any:
    style = reader.style
    views = [read_link(case["link"], settings) for case in cases]
    results: list[Comparison | str] = []
    for view in views:
        try:
            results.append(comparison_of(view, settings))
        except EvenrunError as error:
            results.append(str(error))
    head = ["case", *(case["name"] for case in cases)]
    currency = _currency(results, settings)
    notes = [
        f"{case['name']}: {wording.in_currency(note, currency)}"
        for case, view in zip(cases, views, strict=True)
        for note in view.notes
    ]
    buttons = dmc.Group(
        [
            dmc.Button(
                f"Forget {case['name']}",
                id={"kind": "drop-case", "name": case["name"]},
                size="compact-xs",
                variant="subtle",
            )
            for case in cases
        ],
        gap="xs",
    )
    return html.Div(
        [
            *(dmc.Alert(note, color="yellow", variant="light", mb="xs") for note in notes),
            parts.card("What differs in the inputs", _inputs(head, results, views, currency, reader)),
            parts.card(
                "What comes out",
                html.Div(parts.table(head, _figures(results, currency, style)), className="outcomes"),
                buttons,
            ),
        ],
        className="main cases",
        style={"--cases": len(cases)},
    )


def _currency(results: list[Comparison | str], settings: Settings) -> str:
    """Return the currency of the cases; where they have several, the sentence of each says its own."""
    found = {r.scenario.currency for r in results if not isinstance(r, str)}
    if len(found) > 1:
        return "own currency"
    return found.pop() if found else str(base_values(settings)["plant.currency"])


def _inputs(head: list[str], results: list[Comparison | str], views: list[View], currency: str, reader: Reader) -> Any:
    rows = []
    for name, row in assumption_table().items():
        as_shown = shown_as(name, row.unit_in(currency), reader.system)
        values = [
            "" if isinstance(r, str) else r.scenario.choices.get(name, r.scenario.inputs.get(name, "")) for r in results
        ]
        shown = [
            _number(as_shown.show(v), reader.style) if isinstance(v, (int, float)) else str(v) or "-" for v in values
        ]
        if len(set(values)) > 1:
            unit = "" if row.is_text or not as_shown.unit else f", {as_shown.unit}"
            rows.append([f"{name}{unit}", *shown])
        given = [given_of(view.ranges, name) for view in views]
        if len(set(given)) > 1:
            rows.append([f"{name}, its range", *(in_words(one, reader.style) if one else "-" for one in given)])
    costings = ["" if isinstance(r, str) else r.costing for r in results]
    if len(set(costings)) > 1:
        rows.append(["costing", *costings])
    if not rows:
        return html.P("Nothing: these cases have the same inputs.", className="quiet")
    return parts.table(head, rows)


def _number(value: float, style: NumberStyle) -> str:
    return whole(value, style) if value == round(value) else style.write(f"{value:,.6g}")


def _figures(results: list[Comparison | str], currency: str, style: NumberStyle) -> list[list[str]]:
    def row(label: str, of: Any) -> list[str]:
        return [style.words(label), *("not computed" if isinstance(r, str) else of(r) for r in results)]

    def each(route: str, attribute: str) -> Any:
        def of(c: Comparison) -> str:
            r = c.route(route)
            return figures(getattr(r, attribute), style=style) if r.feasible else "not possible"

        return of

    return [
        row("cheaper", lambda c: c.cheaper),
        row(f"die, {currency} per 1,000", each("die", "cost_per_1000")),
        row(f"laser, {currency} per 1,000", each("laser", "cost_per_1000")),
        row(
            "die cheaper from, cartons per order",
            lambda c: whole(n, style) if (n := c.break_even["cost"].run_length) else c.break_even["cost"].answer,
        ),
        row("die, kg CO2e per 1,000", each("die", "co2e_per_1000")),
        row("laser, kg CO2e per 1,000", each("laser", "co2e_per_1000")),
        row("die, kg waste board per 1,000", each("die", "waste_per_1000")),
        row("laser, kg waste board per 1,000", each("laser", "waste_per_1000")),
        row("die, first order", lambda c: days(c.die.lead_time_days, style)),
        row("laser, first order", lambda c: days(c.laser.lead_time_days, style)),
        row("in words", lambda c: wording.answer(c, style)),
    ]
