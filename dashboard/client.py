"""Client mode: prices per 1,000 and nothing else of the plant.

A client link holds a sealed token: inputs and margin, encrypted with the server's key. This app knows
no other callback than the one below, which answers with prices, so what is hidden can't be asked for.
"""

from __future__ import annotations

import logging
import math
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

import dash_mantine_components as dmc
import flask
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from compare.assumptions import assumption_table
from compare.decide.comparison import Comparison
from compare.decide.uncertainty import Uncertainty
from compare.errors import EvenrunError, InputError
from compare.present import charts
from compare.present.plotly_pen import draw
from dashboard import parts
from dashboard.callers import Failures, caller
from dashboard.page_app import PageApp
from dashboard.reader import Reader, reader_now
from dashboard.secret import seal, unseal
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import comparison_of, from_json, tables_digest, to_json
from dashboard.views import sure
from dashboard.views.answer import answer_panel, carbon_panel, curves_note, waste_panel
from dashboard.views.job import remarks_panel, standing_remarks

PATH = "/client/"
BAD_SEALS, SPAN = 30, 600.0
"""Links that can't be opened allowed from one address within a span [s]."""

_MOST_MARGIN = 90.0
_ASKED = ("demand.run_length", "demand.versions")
"""What a client may change."""

_log = logging.getLogger("evenrun.client")


def price_factor(margin_percent: float) -> float:
    """Return what turns cost into price for a margin in percent of the price.

    Raises
    ------
    InputError
        If the margin is no number from 0 to 90.
    """
    if (
        isinstance(margin_percent, bool)
        or not isinstance(margin_percent, (int, float))
        or not 0 <= margin_percent <= _MOST_MARGIN
    ):
        raise InputError(
            "the margin is not usable",
            where="margin",
            remedy=f"give a number from 0 to {_MOST_MARGIN:g} % of the price",
        )
    return 1 / (1 - margin_percent / 100)


def make_link(view: View, margin_percent: float, settings: Settings) -> str:
    """Return the address of a client view."""
    price_factor(margin_percent)
    sealed = {**to_json(view), "margin": margin_percent, "tables": tables_digest(settings)}
    return f"{PATH}?c={seal(sealed, settings.secret)}"


class TooManyError(InputError):
    """Too many seals that could not be opened came from one caller."""

    def __init__(self, seconds: float) -> None:
        minutes = math.ceil(seconds / 60)
        super().__init__(
            "too many links that can't be opened came from this address",
            remedy=f"try again in {minutes} minute{'s' if minutes > 1 else ''}",
        )


def _open(token: str, settings: Settings, bad_seals: Failures) -> tuple[View, float, bool]:
    """Return state, price factor, and whether tables have changed since, of a sealed token."""
    who = caller()
    if wait := bad_seals.wait(who):
        raise TooManyError(wait)
    try:
        sealed = unseal(token, settings.secret)
    except InputError:
        if token and bad_seals.add(who):
            _log.warning("client links refused for a while after too many bad ones, from %s", flask.request.remote_addr)
        raise
    return from_json(sealed), price_factor(sealed.get("margin", -1)), sealed.get("tables") != tables_digest(settings)


def make_app(server: flask.Flask, settings: Settings, assets: Path, index: str, theme: dict[str, Any]) -> Dash:
    """Mount the client's app at ``/client/``."""
    app = PageApp(
        "evenrun_client",
        pages=[""],
        server=server,
        url_base_pathname=PATH,
        assets_folder=str(assets),
        title="Evenrun: steel-rule die or laser",
        update_title="",
        index_string=index,
        suppress_callback_exceptions=True,
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
    )
    bad_seals = Failures(BAD_SEALS, SPAN)
    app.layout = lambda: dmc.MantineProvider(
        [
            dcc.Location(id="address", refresh=False),
            html.Header([html.Span("Evenrun", className="brand")], className="top"),
            html.Main(id="content", tabIndex="-1"),
            dcc.Store(id="pictured"),
        ],
        theme=theme,
        forceColorScheme=reader_now().scheme,
    )

    app.clientside_callback(
        ClientsideFunction("evenrun", "picture"),
        Output("pictured", "data"),
        Input({"kind": "picture", "chart": ALL, "format": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )

    @app.callback(Output("content", "children"), Input("address", "search"))
    def show(search: str | None) -> Any:
        token = parse_qs((search or "").removeprefix("?")).get("c", [""])[0]
        try:
            view, factor, changed = _open(token, settings, bad_seals)
            c, unsure = _compared(view, settings)
        except TooManyError as error:
            return _closed("Not now", f"{error}.")
        except EvenrunError:
            return _closed(
                "This link can't be opened",
                "It is incomplete, or was made by another server. Please ask for a new one.",
            )
        return _page(c, unsure, factor, token=token, changed=changed, reader=reader_now())

    @app.callback(
        Output("client-answer", "children"),
        Output("chart-curves", "figure"),
        Output("chart-curves-words", "children"),
        Output("client-carbon", "children"),
        Output("client-waste", "children"),
        Output("client-run", "error"),
        Output("client-versions", "error"),
        Input("client-run", "value"),
        Input("client-versions", "value"),
        State("client-token", "data"),
        prevent_initial_call=True,
    )
    def answer(run: Any, versions: Any, token: Any) -> Any:
        if not isinstance(token, str):
            raise PreventUpdate
        errors, asked = ["", ""], dict[str, float]()
        for at, (name, value) in enumerate(zip(_ASKED, (run, versions), strict=True)):
            try:
                if not isinstance(value, (int, float)):
                    raise InputError("this is no number", where=name, remedy="give a number")
                asked[name] = float(assumption_table()[name].check(value, where="this page"))
            except EvenrunError as error:
                errors[at] = getattr(error, "remedy", "")
        if any(errors):
            return (*[no_update] * 5, *errors)
        try:
            view, factor, _ = _open(token, settings, bad_seals)
            # what is asked for is known: a range of the plant's for it counts no more
            ranges = {name: text for name, text in view.ranges.items() if name not in asked}
            c, unsure = _compared(View({**view.overrides, **asked}, view.costing, ranges=ranges), settings)
        except TooManyError as error:
            return (*[no_update] * 5, "", error.remedy)
        except EvenrunError:  # the engine's own words name inputs that are none of the client's
            return (*[no_update] * 5, "", "not possible with this run length")
        reader = reader_now()
        spec = _curves(c, unsure, factor)
        figure = draw(spec, reader.scheme, reader.style) if spec else {}
        return (
            answer_panel(c, unsure, reader.style, factor),
            figure,
            spec.summary if spec else "",
            carbon_panel(c, unsure, reader.style),
            waste_panel(c, unsure, reader.style, of_parts=False),
            "",
            "",
        )

    return app


def _closed(heading: str, why: str) -> Any:
    title = dmc.Title(heading, order=1, className="answer")
    return html.Div([title, html.P(why[:1].upper() + why[1:], className="quiet")], className="main single")


def _compared(view: View, settings: Settings) -> tuple[Comparison, Uncertainty | None]:
    """Return what a client sees, and how sure it is where that can be said; why it can't names inputs of the plant's."""
    return comparison_of(view, settings), sure.found(view, settings)[0]


def _curves(c: Comparison, unsure: Uncertainty | None, factor: float) -> charts.CurveChart | None:
    if not (c.die.feasible or c.laser.feasible):
        return None
    return charts.break_even_chart(c, price_factor=factor, price_word="price", unsure=unsure)


def _page(
    c: Comparison, unsure: Uncertainty | None, factor: float, *, token: str, changed: bool, reader: Reader
) -> Any:
    spec, advantage = _curves(c, unsure, factor), charts.advantage_map(c, price_factor=factor)
    outline = charts.outline_chart(c.scenario.blank, inches=reader.system == "us") if c.scenario.blank else None

    def drawn(name: str, chart: charts.Chart | None) -> Any:
        figure = draw(chart, reader.scheme, reader.style) if chart else None
        return parts.chart_for_clients(name, figure, chart.summary if chart else "")

    def number(key: str, label: str, name: str) -> Any:
        return dmc.NumberInput(
            id=key,
            label=label,
            value=c.scenario.inputs.number(name),
            decimalSeparator=reader.style.decimal,
            thousandSeparator=reader.style.group,
            hideControls=True,
            clampBehavior="none",
            debounce=350,
            size="sm",
            w=230,
        )

    notes = ["Prices may have changed since this link was made: the plant has updated its values."] if changed else []
    return html.Div(
        [
            dcc.Store(id="client-token", data=token),
            *(dmc.Alert(note, color="yellow", variant="light", mb="xs") for note in notes),
            dmc.Paper(
                [
                    html.Div(
                        answer_panel(c, unsure, reader.style, factor),
                        id="client-answer",
                        role="status",
                        **parts.aria(live="polite"),
                    ),
                    dmc.Group(
                        [
                            number("client-run", "Run length, cartons per order", "demand.run_length"),
                            number("client-versions", "Versions", "demand.versions"),
                        ],
                        my="sm",
                    ),
                    drawn("curves", spec),
                    curves_note(),
                ],
                className="card",
                withBorder=True,
                radius="md",
            ),
            html.Div(
                [
                    parts.card(
                        reader.style.words("CO2e, kg per 1,000 cartons"),
                        html.Div(carbon_panel(c, unsure, reader.style), id="client-carbon"),
                    ),
                    parts.card(
                        reader.style.words("Waste board, kg per 1,000 cartons"),
                        html.Div(waste_panel(c, unsure, reader.style, of_parts=False), id="client-waste"),
                    ),
                ],
                className="two",
            ),
            *([parts.card("Run length and versions", drawn("map", advantage))] if advantage else []),
            *([parts.card("Carton as cut", drawn("outline", outline))] if outline else []),
            parts.card("", html.Div([*remarks_panel(c, reader.style, own_findings=False), *standing_remarks()])),
        ],
        className="main single",
    )


def register_maker(app: Dash, settings: Settings) -> None:
    """Register, in the plant's own app, what makes a client link."""

    @app.callback(
        Output("client-link", "children"),
        Output("margin", "error"),
        Input("client-make", "n_clicks"),
        State("margin", "value"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def make(clicks: int | None, margin: Any, data: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        try:
            link = make_link(from_json(data), margin, settings)
        except EvenrunError as error:
            return no_update, error.remedy
        return [
            html.A("Open the client view", href=link, target="_blank", rel="noopener", id="client-anchor"),
            dcc.Store(id="client-href", data=link),
            dmc.Button("Copy client link", id="copy-client", size="compact-xs", variant="subtle"),
        ], ""

    app.clientside_callback(
        ClientsideFunction("evenrun", "copyClientLink"),
        Output("done", "children", allow_duplicate=True),
        Input("copy-client", "n_clicks"),
        State("client-href", "data"),
        prevent_initial_call=True,
    )
