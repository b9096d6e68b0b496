"""The two apps of a server: the plant's own, and the one behind client links."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import dash_mantine_components as dmc
import flask
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html

from compare.present.look import PALETTES
from dashboard import client, parts, quote_maker
from dashboard.page_app import PageApp
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import from_json, read_link, ready_draws, to_json, write_link
from dashboard.views import assumptions, book, cases, drawing, job, quotes, sheet, sure

VIEWS = {
    "/": ("Job", job.layout),
    "/orders": ("Orders", book.layout),
    "/assumptions": ("Assumptions", assumptions.layout),
    "/cases": ("Cases", cases.layout),
    "/quotes": ("Quotes", quotes.layout),
}
"""Views by path."""

_ASSETS = Path(__file__).parent / "assets"
_INDEX = """<!DOCTYPE html>
<html lang="en">
<head>{%metas%}<title>{%title%}</title>{%favicon%}{%css%}</head>
<body>{%app_entry%}<footer>{%config%}{%scripts%}{%renderer%}</footer></body>
</html>"""


_STEEL = [
    "#eef4fb", "#dbe7f4", "#b6cde8", "#8fb5e0", "#6c9bd0", "#4f85c0", "#3b73b0", "#2a5f9e", "#214d82", "#183b66",
]  # fmt: skip
"""Ten steps of the die's blue, from pale to dark, for buttons and links."""

_SLATE = [
    "#e8ecf1", "#c8d0da", "#a3afbd", "#8f9cac", "#475362", "#394451", "#2b3541", "#1e252e", "#171d25", "#10151b",
]  # fmt: skip
"""Ten steps of the dark page's blue-grey, from text to ground: cards have the eighth, fields and buttons the seventh."""


def theme() -> dict[str, Any]:
    """Return the one theme of both apps."""
    return {
        "fontFamily": "system-ui, 'Segoe UI', 'Helvetica Neue', 'DejaVu Sans', sans-serif",
        "primaryColor": "steel",
        "primaryShade": {"light": 7, "dark": 3},
        "colors": {"steel": _STEEL, "dark": _SLATE},
        "defaultRadius": "md",
        "black": PALETTES["light"].ink,
        "headings": {"fontWeight": "650"},
    }


def mount(server: flask.Flask, settings: Settings) -> tuple[Dash, Dash]:
    """Mount both apps on a server.

    Parameters
    ----------
    server : Flask
        Serves them at ``/`` and ``/client/``.
    settings : Settings
        Plant and secret.

    Returns
    -------
    tuple of Dash
        The plant's own app, and the client's. They share no callback: what the first one knows
        can't be asked of the second.
    """
    ready_draws()  # what it takes a second to load, no reader is to wait for
    return _own_app(server, settings), client.make_app(server, settings, _ASSETS, _INDEX, theme())


def _own_app(server: flask.Flask, settings: Settings) -> Dash:
    app = PageApp(
        __name__,
        pages=[path.strip("/") for path in VIEWS],
        home="/",
        server=server,
        assets_folder=str(_ASSETS),
        title="Evenrun",
        update_title="",
        suppress_callback_exceptions=True,
        index_string=_INDEX,
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
    )
    app.layout = lambda: _shell(settings)
    job.register(app, settings)
    sheet.register(app, settings)
    sure.register(app, settings)
    assumptions.register(app, settings)
    cases.register(app, settings)
    drawing.register(app, settings)
    book.register(app, settings)
    client.register_maker(app, settings)
    quote_maker.register(app, settings)
    quotes.register(app, settings)

    @app.callback(
        Output("content", "children"),
        Output("state", "data", allow_duplicate=True),
        Output("basis", "children"),
        [Output(f"nav-{name}", "className") for name in _nav()],
        Input("arrived", "data"),
        Input("structure", "data"),
        Input("prefs", "data"),
        State("state", "data"),
        prevent_initial_call="initial_duplicate",
    )
    def show(arrived: Any, _structure: Any, _prefs: Any, data: Any) -> Any:
        went = arrived if isinstance(arrived, dict) else {}
        path, search = (went.get(part) if isinstance(went.get(part), str) else None for part in ("path", "search"))
        # an address wins when the reader went there; other changes happen on the page they are on
        came_by_address = not data or ctx.triggered_id in (None, "arrived")
        view = read_link(search, settings) if came_by_address else from_json(data)
        here = "/" + (path or "/").strip("/")
        marks = ["here" if at == here else "" for at in _nav().values()]
        content, state, basis = _content(here, view, settings)
        return [content, {**state, "arrived": came_by_address}, basis, *marks]

    app.clientside_callback(
        ClientsideFunction("evenrun", "arrive"),
        Output("arrived", "data"),
        Input("address", "pathname"),
        Input("address", "search"),
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "remember"),
        Output("address-written", "data"),
        [Output(f"nav-{name}", "href") for name in _nav()],
        Input("state", "data"),
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "prefer"),
        Output("prefs", "data"),
        Output("provider", "forceColorScheme"),
        Input("units", "value"),
        Input("scheme", "value"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "copyLink"),
        Output("done", "children"),
        Input("copy-link", "n_clicks"),
        prevent_initial_call=True,
    )
    return app


def _asks_who_it_is() -> bool:
    return flask.has_app_context() and "try_login" in flask.current_app.view_functions


def _nav() -> dict[str, str]:
    return {label.lower(): path for path, (label, _) in VIEWS.items()}


def _shell(settings: Settings) -> Any:
    reader = reader_now()
    return dmc.MantineProvider(
        [
            dcc.Location(id="address", refresh=False),
            dcc.Store(id="state"),
            dcc.Store(id="arrived"),
            dcc.Store(id="answered"),
            dcc.Store(id="structure"),
            dcc.Store(id="faults"),
            dcc.Store(id="shown"),
            *drawing.stores(),
            *book.stores(),
            *sheet.stores(),
            *sure.stores(),
            dcc.Store(id="prefs"),
            dcc.Store(id="address-written"),
            dcc.Store(id="cases", storage_type="local", data=[]),
            dcc.Download(id="download"),
            html.A("To the answer", href="#content", className="skip"),
            html.Header(
                [
                    html.Span("Evenrun", className="brand"),
                    html.Nav(
                        [dcc.Link(label, id=f"nav-{label.lower()}", href=path) for path, (label, _) in VIEWS.items()],
                        **parts.aria(label="Views"),
                    ),
                    html.Span(id="basis", className="basis"),
                    *([html.A("Log out", href="/logout")] if _asks_who_it_is() else []),
                    dmc.SegmentedControl(
                        id="units",
                        data=[{"value": "metric", "label": "metric"}, {"value": "us", "label": "US units"}],
                        value=reader.system,
                        size="xs",
                        **parts.aria(label="Units"),
                    ),
                    dmc.SegmentedControl(
                        id="scheme",
                        data=[{"value": "light", "label": "light"}, {"value": "dark", "label": "dark"}],
                        value=reader.scheme,
                        size="xs",
                        **parts.aria(label="Colours"),
                    ),
                ],
                className="top",
            ),
            drawing.panel(),
            html.Main(id="content", tabIndex="-1"),
        ],
        id="provider",
        theme=theme(),
        forceColorScheme=reader.scheme,
    )


def _content(path: str, view: View, settings: Settings) -> tuple[Any, dict[str, Any], str]:
    reader: Reader = reader_now()
    state = {**to_json(view), "link": write_link(view, settings)}
    if path not in VIEWS:
        missing = html.Div(
            [dmc.Title("There is no such page", order=1), html.P("The views are named above.")], className="main"
        )
        return missing, state, ""
    _, layout = VIEWS[path]
    plant = str(settings.plant.values.get("plant.name", "")) or "table of assumptions"
    return layout(view, settings, reader), state, plant
