"""The box in the Job view that makes a quote of what is on screen, and keeps it."""

from __future__ import annotations

import base64
from datetime import date
from typing import Any, get_args

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from compare.errors import EvenrunError, InputError
from compare.present import quote_making as making
from compare.present.leave_behind import leave_behind
from compare.present.workbook import workbook_bytes
from compare.quotes.quote_record import Language
from compare.quotes.store import QuoteStore
from dashboard import parts
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import comparison_of, from_json, job_layers

LANGUAGES = {"en": "English", "de": "Deutsch", "fr": "Français", "es": "Español"}

_KINDS = {
    "quote-pdf": "PDF for the client",
    "quote-html": "Page for the client",
    "quote-own": "PDF with our own pages",
    "quote-xlsx": "Workbook",
}
"""Buttons by what they make; the last two hold the plant's rates."""


def quote_box() -> Any:
    """Return the box, folded."""
    return dmc.Collapse(
        [
            dmc.Group(
                [
                    dmc.TextInput(id="quote-client", label="Client", size="xs", w=240),
                    parts.margin_field("quote-margin"),
                    dmc.NumberInput(
                        id="quote-days",
                        label="Prices hold, days",
                        value=making.VALID_DAYS,
                        min=0,
                        allowDecimal=False,
                        size="xs",
                        w=130,
                        hideControls=True,
                        clampBehavior="none",
                    ),
                    dmc.Select(
                        id="quote-language",
                        label="Language",
                        value="en",
                        data=[{"value": code, "label": label} for code, label in LANGUAGES.items()],
                        allowDeselect=False,
                        size="xs",
                        w=120,
                    ),
                ],
                align="flex-end",
                gap="sm",
            ),
            dmc.Group(
                [
                    dmc.Button(label, id=kind, size="xs", variant="filled" if kind == "quote-pdf" else "default")
                    for kind, label in _KINDS.items()
                ],
                gap="sm",
                mt="xs",
            ),
            html.P(
                "Our own pages and the workbook hold the plant's rates: they are not for the client.", className="quiet"
            ),
            html.Div(id="quote-made", role="status", **parts.aria(live="polite")),
        ],
        id="quote-box",
        opened=False,
        className="client-box",
    )


def register(app: Dash, settings: Settings) -> None:
    """Register what opens the box and makes quotes."""
    app.clientside_callback(
        ClientsideFunction("evenrun", "toggle"),
        Output("quote-box", "opened"),
        Input("quote-open", "n_clicks"),
        prevent_initial_call=True,
    )

    @app.callback(
        Output("download", "data", allow_duplicate=True),
        Output("quote-made", "children"),
        Output("quote-margin", "error"),
        [Input(kind, "n_clicks") for kind in _KINDS],
        State("quote-client", "value"),
        State("quote-margin", "value"),
        State("quote-days", "value"),
        State("quote-language", "value"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def make(*sent: Any) -> Any:
        clicks, (client, margin, days, language, data) = sent[: len(_KINDS)], sent[len(_KINDS) :]
        if not any(clicks) or ctx.triggered_id not in _KINDS:
            raise PreventUpdate
        kind = str(ctx.triggered_id)
        try:
            made = _made(from_json(data), (client, margin, days, language), settings)
            name, content, mime = _file(kind, made)
        except EvenrunError as error:
            said = dmc.Alert(f"{error}.", title="No quote was made", color="red", variant="light")
            return no_update, said, error.remedy if error.where == "margin" else ""
        said = [html.P([f"Quote {made.number} is kept. ", *_remarks(made)], className="quiet")]
        sent_back = {"content": base64.b64encode(content).decode(), "filename": name, "type": mime, "base64": True}
        return sent_back, said, ""


def _remarks(made: making.Quote) -> list[Any]:
    return [f"{remark} " for remark in made.content.remarks]


def _made(view: View, asked_for: tuple[Any, ...], settings: Settings) -> making.Quote:
    """Make and keep a quote of a state; what the browser sends (client, margin, days, language) is checked."""
    client, margin, days, language = asked_for
    if isinstance(margin, bool) or not isinstance(margin, (int, float)):
        raise InputError("the margin is no number", where="margin", remedy="give 0 to 90 % of the price")
    if isinstance(days, bool) or not isinstance(days, int):
        raise InputError("the days are no whole number", where="prices hold", remedy="give 0 to 3650 days")
    codes: dict[str, Language] = {code: code for code in get_args(Language)}
    if language not in codes or not isinstance(client, (str, type(None))):
        raise InputError("the page's fields can't be read", where="quote", remedy="load the page again")
    c = comparison_of(view, settings)
    asked = making.asked_quote(
        c,
        client=(client or "").strip(),
        margin=margin / 100,
        language=codes[language],
        made_on=date.today(),
        valid_days=days,
    )
    return making.make_quote(c, [settings.plant], job_layers(view), asked, QuoteStore(settings.store))


def _file(kind: str, made: making.Quote) -> tuple[str, bytes, str]:
    """Return name, bytes and media type of what a button makes."""
    if kind == "quote-html":
        return f"quote-{made.number}.html", leave_behind(made.content), "text/html"
    if kind == "quote-xlsx":
        mime = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
        return f"quote-{made.number}-workbook.xlsx", workbook_bytes(made.unsure.comparison), mime
    own = kind == "quote-own"
    return f"quote-{made.number}{'-internal' if own else ''}.pdf", made.pdf(internal=own), "application/pdf"
