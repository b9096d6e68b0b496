"""How sure the answer of the Job view is: bands, what moves the difference most, what to measure first.

Draws take longer than the figures themselves, so they follow the answer in a message of their own. It names the state
it belongs to, and the page drops it where another state is on screen by then.
"""

from __future__ import annotations

import math
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from compare.decide.evaluate import Measure
from compare.decide.route_draws import Which
from compare.decide.uncertainty import Uncertainty
from compare.errors import EvenrunError
from compare.present import charts
from compare.present.numbers import NumberStyle, figures, whole
from compare.present.plotly_pen import draw
from compare.present.sure_charts import TornadoChart, tornado_chart
from compare.present.sure_pen import By, draw_tornado
from compare.present.sure_wording import what_was_varied, where_values_lie, worth_knowing
from compare.present.wording import ended
from dashboard import parts
from dashboard.fields import labelled
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import FIND_KEY, comparison_of, from_json, uncertainty_of, write_link
from dashboard.state import State as View
from dashboard.views.answer import answer_panel, carbon_panel, waste_panel

AWAITING = "main awaiting"
"""Class of the page's main part while it waits for how sure an answer is."""

_BY = [{"value": "ends", "label": "One at a time"}, {"value": "draws", "label": "From the draws"}]
_HOW = {
    "ends": "Each input at either end of its range, all others at their values.",
    "draws": "Mean over the lowest and over the highest fifth of each input's draws, all others as drawn.",
}
_ROWS: tuple[tuple[Measure, Which, str], ...] = (
    ("cost", "die", "die, {currency}"),
    ("cost", "laser", "laser, {currency}"),
    ("cost", "difference", "laser less die, {currency}"),
    ("co2e", "difference", "laser less die, kg CO2e"),
    ("waste", "difference", "laser less die, kg waste board"),
)

SAID = (
    "panel-answer.children",
    "panel-carbon.children",
    "panel-waste.children",
    "chart-curves.figure",
    "sure-words.children",
    "sure-how.children",
    "chart-tornado.figure",
    "chart-tornado-words.children",
    "place-tornado.hidden",
    "tornado-links.children",
    "tornado-where.hidden",
    "sure-table.children",
    "sure-varied.children",
    "job-main.className",
)
"""Places that the message fills."""


def stores() -> list[Any]:
    """Return what has to outlive the view's layout."""
    return [dcc.Store(id=name) for name in ("sure-asked", "sure-said", "sure-jumped")]


def found(view: View, settings: Settings) -> tuple[Uncertainty | None, str]:
    """Return how sure the comparison of a state is; or why that can't be said."""
    try:
        return uncertainty_of(view, settings), ""
    except EvenrunError as error:
        what = ended(f"{error.what}; {error.remedy}" if error.remedy else error.what)
        return None, f"How sure this is can't be said: {labelled(what)}"


def spec(view: View, settings: Settings) -> TornadoChart | None:
    """Return the tornado of a state as a spec; ``None`` where there is nothing to draw."""
    unsure, _ = found(view, settings)
    return tornado_chart(unsure) if unsure is not None else None


def said(view: View, settings: Settings, reader: Reader, by: By = "ends") -> dict[str, Any]:
    """Return what the page says of a state as far as it hangs on the draws, by place."""
    c, style = comparison_of(view, settings), reader.style
    unsure, why_not = found(view, settings)
    possible = c.die.feasible or c.laser.feasible
    curves = charts.break_even_chart(c, unsure=unsure) if possible else None
    tornado = tornado_chart(unsure) if unsure is not None else None
    return {
        "panel-answer.children": answer_panel(c, unsure, style, why_not=why_not),
        "panel-carbon.children": carbon_panel(c, unsure, style),
        "panel-waste.children": waste_panel(c, unsure, style),
        "chart-curves.figure": draw(curves, reader.scheme, style) if curves else {},
        "sure-words.children": why_not or _in_words(unsure, tornado, style),
        "sure-how.children": _HOW[by],
        "chart-tornado.figure": draw_tornado(tornado, reader.scheme, style, by) if tornado else {},
        "chart-tornado-words.children": style.words(tornado.summary) if tornado else "Nothing to draw.",
        "place-tornado.hidden": tornado is None,
        "tornado-links.children": _links(tornado, write_link(view, settings), style),
        "tornado-where.hidden": tornado is None,
        "sure-table.children": _table(unsure, style) if unsure is not None else [],
        "sure-varied.children": parts.lines(
            [style.words(text) for text in (where_values_lie(unsure), *what_was_varied(unsure)) if text]
        )
        if unsure
        else [],
        "job-main.className": "main",
    }


def _in_words(unsure: Uncertainty | None, tornado: TornadoChart | None, style: NumberStyle) -> str:
    if unsure is None or unsure.laser_cheaper is None:
        return "Only where both routes are possible is there a difference to be moved."
    return worth_knowing(unsure, style) if tornado else "No input that is uncertain moves the difference."


def _links(tornado: TornadoChart | None, link: str, style: NumberStyle) -> list[Any]:
    """Return a link to the row of every bar's input among the assumptions."""
    if tornado is None:
        return []
    start = f"/assumptions{link}{'&' if link else '?'}{FIND_KEY}="
    return [html.Li(dcc.Link(style.words(bar.label), href=f"{start}{quote(bar.name)}")) for bar in tornado.bars]


def _table(unsure: Uncertainty, style: NumberStyle) -> list[Any]:
    """Return the quantiles at the quoted run length, each with its half-width."""
    currency, spread = unsure.comparison.scenario.currency, unsure.varied.spreads.get("demand.run_length")
    where = (
        f"From {whole(spread.low, style)} to {whole(spread.high, style)} cartons per order"
        if spread
        else f"At {whole(unsure.comparison.run_length, style)} cartons per order"
    )
    rows = []
    for measure, which, label in _ROWS:
        q = unsure.at_quote.get(measure, {}).get(which)
        if q is not None:
            cells = zip(q[:3], q[3:], strict=True)
            rows.append([label.format(currency=currency), *(with_half_width(v, half, style) for v, half in cells)])
    if not rows:
        return []
    return [
        parts.table([style.words(f"{where}, per 1,000"), "P10", "P50", "P90"], rows),
        html.P(
            "P10: one case in ten lies below; P50: half of them; P90: nine in ten. "
            "±: half-width of the 95 % interval of as many random draws.",
            className="quiet",
        ),
    ]


def with_half_width(value: float, half: float, style: NumberStyle) -> str:
    """Return a quantile with no more digits than its half-width carries, three at most: ``59.0 ± 0.7``."""
    if half == 0:
        return figures(value, style=style)
    # a half-width of 0.97 is shown as 1, and carries no decimals
    of_half, of_value = (math.floor(math.log10(abs(x))) if x else 0 for x in (float(f"{half:.0e}"), value))
    decimals = max(min(-of_half, 2 - of_value), 0)
    return f"{style.write(f'{round(value, decimals) + 0.0:,.{decimals}f}')} ± {figures(half, 1, style)}"


def card(now: dict[str, Any]) -> Any:
    """Return the card that says how sure the answer is, for what :func:`said` gave."""
    return html.Div(
        parts.card(
            "What moves the difference most",
            html.P(now["sure-words.children"], id="sure-words", className="worth"),
            dmc.Group(
                [
                    dmc.SegmentedControl(
                        id="tornado-by", data=_BY, value="ends", size="xs", **parts.aria(label="What the bars show")
                    ),
                    html.Span(now["sure-how.children"], id="sure-how", className="quiet"),
                ],
                gap="sm",
                mb="xs",
            ),
            parts.chart("tornado", now["chart-tornado.figure"] or None, now["chart-tornado-words.children"]),
            html.Div(
                [
                    html.Div(now["sure-table.children"], id="sure-table"),
                    html.Div(
                        [
                            html.P("Press a bar, or a name here, to find it among the assumptions:", className="quiet"),
                            html.Ol(now["tornado-links.children"], id="tornado-links", className="sentences"),
                        ],
                        id="tornado-where",
                        hidden=now["tornado-where.hidden"],
                    ),
                ],
                className="sure",
            ),
            html.Div(now["sure-varied.children"], id="sure-varied"),
        ),
        id="sure",
    )


def register(app: Dash, settings: Settings) -> None:
    """Register the card's callbacks."""
    # after an answer, or where other bars are asked for, and not when the view is laid out, which has it all in place
    app.clientside_callback(
        ClientsideFunction("evenrun", "askSure"),
        Output("sure-asked", "data"),
        Input("answered", "data"),
        Input("tornado-by", "value", allow_optional=True),
        State("state", "data"),
        prevent_initial_call=True,
    )

    @app.callback(Output("sure-said", "data"), Input("sure-asked", "data"), prevent_initial_call=True)
    def how_sure(asked: Any) -> Any:
        if not isinstance(asked, dict):
            raise PreventUpdate
        view, reader = from_json(asked.get("state")), reader_now()
        by: By = "draws" if asked.get("by") == "draws" else "ends"
        return {"key": write_link(view, settings), "scheme": reader.scheme, **said(view, settings, reader, by)}

    app.clientside_callback(
        ClientsideFunction("evenrun", "complete"),
        [Output(name, prop, allow_duplicate=True) for name, _, prop in (place.partition(".") for place in SAID)],
        Input("sure-said", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "findBar"),
        Output("sure-jumped", "data"),
        Input("chart-tornado", "clickData"),
        prevent_initial_call=True,
    )
