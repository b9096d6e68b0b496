"""Two small Dash apps on one server, for tests of what surrounds the views."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import ALL, MATCH, Dash, Input, Output, State, ctx, dcc, html, no_update

from compare.errors import InputError

if TYPE_CHECKING:
    from flask import Flask

    from dashboard.settings import Settings


def tiny_mount(server: Flask, settings: Settings) -> tuple[Dash, Dash]:
    """Mount an app at / and one at /client/, with every kind of callback in each."""
    return _app(server, "/"), _app(server, "/client/")


def _app(server: Flask, prefix: str) -> Dash:
    app = Dash(f"tiny{prefix}", server=server, url_base_pathname=prefix, suppress_callback_exceptions=True)
    app.layout = html.Div(
        [
            dcc.Input(id="length", type="number", value=1),
            dcc.Input(id="name", value=""),
            html.Div(id="answer"),
            html.Div(id="second"),
            html.Button("x", id={"type": "row", "index": 0}),
            html.Div(id={"type": "cell", "index": 0}),
        ]
    )

    @app.callback(Output("answer", "children"), Input("length", "value"), State("name", "value"))
    def one(length: Any, name: Any) -> str:
        if length == 666:
            raise KeyError("figure 4711 of the plant")
        if length == 13:
            raise InputError("thirteen is no run length", remedy="give another")
        return f"{length!r} {name!r} {ctx.triggered_id}"

    @app.callback(
        Output("second", "children"), Output("second", "title"), Input("length", "value"), Input("name", "value")
    )
    def two(length: Any, name: Any) -> Any:
        return str(length), no_update

    @app.callback(Output("second", "title", allow_duplicate=True), Input("name", "value"), prevent_initial_call=True)
    def again(name: Any) -> str:
        return str(name)

    @app.callback(Output("second", "lang"), Input({"type": "row", "index": ALL}, "n_clicks"))
    def every(clicks: Any) -> str:
        return f"{clicks!r} {ctx.triggered_id}"

    @app.callback(
        Output({"type": "cell", "index": MATCH}, "children"), Input({"type": "row", "index": MATCH}, "n_clicks")
    )
    def matching(clicks: Any) -> str:
        return repr(clicks)

    @app.callback(Output({"type": "cell", "index": ALL}, "title"), Input("length", "value"))
    def spread(length: Any) -> Any:
        return [str(length) for _ in ctx.outputs_list]

    @app.callback(Output({"type": "row", "index": ALL}, "title"), Input({"type": "row", "index": ALL}, "n_clicks"))
    def each(clicks: Any) -> Any:
        return [str(count) for count in clicks]

    @app.callback(Input("name", "value"))
    def nothing(name: Any) -> None:
        return None

    app.clientside_callback("n => n", Output("answer", "title"), Input("length", "value"))
    return app


GOOD = {
    "output": "answer.children",
    "outputs": {"id": "answer", "property": "children"},
    "inputs": [{"id": "length", "property": "value", "value": 5000}],
    "state": [{"id": "name", "property": "value", "value": "tea"}],
    "changedPropIds": ["length.value"],
    "parsedChangedPropsIds": ["length"],
}
"""What a page sends for the first callback."""
