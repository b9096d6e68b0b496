"""The Quotes view: what was quoted, opened again, side by side, won or lost."""

from __future__ import annotations

from typing import Any, get_args

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from compare.assumptions import assumption_table
from compare.errors import EvenrunError, InputError
from compare.present import reopen_wording as wording
from compare.present.numbers import NumberStyle, figures, whole
from compare.present.record import program_version
from compare.quotes.quote_record import ROUTES, QuoteRecord, RouteName
from compare.quotes.reopen import Reopened, reopen
from compare.quotes.store import QuoteStore
from compare.quotes.store_rows import Mark, QuoteRow, Status
from dashboard import parts
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import comparison_of, differing, read_link, write_link

_MOST = 200
"""Quotes in the list; a search finds the others."""

_DIFFERENCES = 40
"""Inputs shown that differ between two quotes."""

_STATUSES: dict[str, Status] = {status: status for status in get_args(Status)}


def layout(_view: View, settings: Settings, reader: Reader) -> Any:
    """Return the view."""
    return html.Div(
        [
            html.Div(
                [
                    dmc.Title("Quotes", order=1, className="answer"),
                    html.P(
                        "Every quote that was made with this plant's store, with all it was computed from. Pick one to open it again or "
                        "to say what became of it, two to see them side by side.",
                        className="quiet",
                    ),
                ]
            ),
            parts.card(
                "",
                dmc.Group(
                    [
                        dmc.TextInput(
                            id="quotes-search",
                            label="Search",
                            placeholder="client, job, number, board or day",
                            size="xs",
                            w=280,
                            debounce=300,
                        ),
                        dmc.SegmentedControl(
                            id="quotes-status",
                            data=[{"value": "all", "label": "all"}, *({"value": s, "label": s} for s in _STATUSES)],
                            value="all",
                            size="xs",
                            **parts.aria(label="Which quotes"),
                        ),
                    ],
                    align="flex-end",
                    mb="sm",
                ),
                html.Div(_listed(settings, "", "all", reader.style), id="quotes-list", className="quotes"),
                dmc.Group(
                    [
                        dmc.Button("Open again", id="quotes-reopen", size="xs"),
                        dmc.Button("Side by side", id="quotes-compare", size="xs", variant="default"),
                        dmc.Select(
                            id="quotes-mark",
                            label="What became of it",
                            data=[{"value": s, "label": s} for s in ("won", "lost", "open")],
                            size="xs",
                            w=130,
                        ),
                        dmc.NumberInput(
                            id="quotes-price",
                            label="At a price per 1,000 of",
                            size="xs",
                            w=160,
                            hideControls=True,
                            decimalSeparator=reader.style.decimal,
                            thousandSeparator=reader.style.group,
                        ),
                        dmc.TextInput(id="quotes-note", label="Why", size="xs", w=240),
                        dmc.Button("Keep that", id="quotes-keep", size="xs", variant="default"),
                    ],
                    align="flex-end",
                    mt="sm",
                ),
            ),
            html.Div(id="quotes-shown", role="status", **parts.aria(live="polite")),
            dcc.Store(id="quotes-marked"),
        ],
        className="main single broad",
    )


def register(app: Dash, settings: Settings) -> None:
    """Register the view's callbacks."""

    @app.callback(
        Output("quotes-list", "children"),
        Input("quotes-search", "value"),
        Input("quotes-status", "value"),
        Input("quotes-marked", "data"),
        prevent_initial_call=True,
    )
    def listed(text: Any, status: Any, _marked: Any) -> Any:
        return _listed(settings, text if isinstance(text, str) else "", str(status), reader_now().style)

    @app.callback(
        Output("quotes-shown", "children"),
        Input("quotes-reopen", "n_clicks"),
        Input("quotes-compare", "n_clicks"),
        State({"kind": "quote", "number": ALL}, "checked"),
        State({"kind": "quote", "number": ALL}, "id"),
        prevent_initial_call=True,
    )
    def shown(opened: int | None, compared: int | None, checked: Any, ids: Any) -> Any:
        if not (opened or compared):
            raise PreventUpdate
        style = reader_now().style
        try:
            if ctx.triggered_id == "quotes-reopen":
                (number,) = _picked(checked, ids, 1)
                return _opened(number, settings, style)
            one, other = _picked(checked, ids, 2)
            store = _store(settings)
            return _side_by_side((one, store.get(one)), (other, store.get(other)), style)
        except EvenrunError as error:
            return dmc.Alert(f"{error}.", color="red", variant="light")

    @app.callback(
        Output("quotes-marked", "data"),
        Output("quotes-shown", "children", allow_duplicate=True),
        Input("quotes-keep", "n_clicks"),
        State("quotes-mark", "value"),
        State("quotes-price", "value"),
        State("quotes-note", "value"),
        State({"kind": "quote", "number": ALL}, "checked"),
        State({"kind": "quote", "number": ALL}, "id"),
        prevent_initial_call=True,
    )
    def keep(clicks: int | None, *sent: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        status, price, note, checked, ids = sent
        try:
            (number,) = _picked(checked, ids, 1)
            if status not in _STATUSES:
                raise InputError("it is not said what became of it", where="quote", remedy="choose won, lost or open")
            worth = None if price in (None, "") else price
            if worth is not None and (isinstance(worth, bool) or not isinstance(worth, (int, float))):
                raise InputError("the price is no number", where="price", remedy="give a number, or leave it empty")
            store = _store(settings)
            store.mark(number, _STATUSES[status], price_per_1000=worth, note=note if isinstance(note, str) else "")
            said = f"Quote {number} is marked as {status}."
            return {"number": number, "marks": len(store.marks(number))}, html.P(said, className="quiet")
        except EvenrunError as error:
            return no_update, dmc.Alert(f"{error}.", color="red", variant="light")


def _store(settings: Settings) -> QuoteStore:
    return QuoteStore(settings.store, create=False)


def _picked(checked: Any, ids: Any, count: int) -> list[str]:
    """Return the numbers of the quotes that are picked, or ask for as many as are needed."""
    if not (isinstance(checked, list) and isinstance(ids, list) and len(checked) == len(ids)):
        raise InputError("the page's fields can't be read", where="page", remedy="load the page again")
    numbers = [
        str(one.get("number")) for one, on in zip(ids, checked, strict=True) if on is True and isinstance(one, dict)
    ]
    if len(numbers) != count:
        need = "one quote" if count == 1 else "two quotes"
        raise InputError(f"{len(numbers)} quotes are picked", where="quotes", remedy=f"pick {need} in the list")
    return numbers


def _listed(settings: Settings, text: str, status: str, style: NumberStyle) -> Any:
    """Return the list, or why there is none."""
    try:
        store = _store(settings)
    except EvenrunError as error:
        if not QuoteStore.exists(settings.store):
            return html.P(
                "No quote was made yet. Make one in the Job view, or with 'evenrun quote'.", className="quiet"
            )
        return dmc.Alert(f"{error}.", color="red", variant="light")
    try:
        found = store.search(text, status=_STATUSES.get(status), limit=_MOST)
    except EvenrunError as error:
        return dmc.Alert(f"{error}.", color="red", variant="light")
    damaged = [
        dmc.Alert(
            f"Damaged in the store: {', '.join(found.damaged[:5])}. Take them from a backup.",
            color="red",
            variant="light",
        )
    ]
    if not found.rows:
        return [html.P("No quote is found.", className="quiet"), *(damaged if found.damaged else [])]
    head = ["", "quote", "made", "client", "job", "cartons", "die", "laser", "per 1,000", "what became of it"]
    body = [_row(row, style) for row in found.rows]
    more = [html.P(f"The newest {_MOST} are shown; search for the others.", className="quiet")]
    return [
        parts.table_with_controls(head, body),
        *(more if len(found.rows) == _MOST else []),
        *(damaged if found.damaged else []),
    ]


def _row(row: QuoteRow, style: NumberStyle) -> list[Any]:
    pick = dmc.Checkbox(
        id={"kind": "quote", "number": row.number},
        checked=False,
        size="xs",
        **parts.aria(label=f"Quote {row.number}, {row.client or 'no client'}, {row.job}"),
    )
    prices = (figures(p, style=style) if p is not None else "no" for p in (row.die_price, row.laser_price))
    cells = [row.number, row.made_on.isoformat(), row.client, row.job, whole(row.run_length, style)]
    return [pick, *cells, *prices, row.currency, _became(row.mark, style)]


def _became(mark: Mark | None, style: NumberStyle) -> str:
    if mark is None:
        return "open"
    price = f" at {figures(mark.price_per_1000, style=style)}" if mark.price_per_1000 is not None else ""
    return f"{mark.status}{price}{f': {mark.note}' if mark.note else ''}"


def _opened(number: str, settings: Settings, style: NumberStyle) -> Any:
    """Return what became of a quote's figures, compared with the plant's values of today."""
    store = _store(settings)
    record = store.get(number)
    opened = reopen(record, program=program_version(), layers_now=[settings.plant])
    currency = record.currency
    parts_shown: list[Any] = [
        html.P(style.words(wording.reopen_answer(opened)), className="large"),
        html.P(wording.pinned_sentence(opened), className="quiet"),
    ]
    if opened.changes:
        columns = wording.effect_columns(opened.changes, currency)
        rows = [
            [
                wording.kind_of(change),
                change.name,
                wording.shown(change.before),
                wording.shown(change.after),
                change.unit.replace("money", currency),
                *(wording.effect_of(change, route, of) for route, of in columns.values()),
            ]
            for change in opened.changes
        ]
        parts_shown += [
            parts.table(["changed", "what", "before", "after", "unit", *columns], rows),
            html.P(
                "What each change does alone, per 1,000 good cartons; together they need not add up.", className="quiet"
            ),
        ]
    marks = store.marks(number)
    if marks:
        said = [f"{mark.when:%Y-%m-%d %H:%M}: {_became(mark, style)}" for mark in marks]
        parts_shown += [dmc.Title("What was said of it", order=3, className="card-title"), parts.lines(said)]
    link = _link(opened, settings)
    if link is not None:
        parts_shown.append(dcc.Link("Open this job in the Job view", href=f"/{link}"))
    title = f"Quote {number}: {record.name}{f' for {record.asked.client}' if record.asked.client else ''}"
    return parts.card(title, *parts_shown)


def _link(opened: Reopened, settings: Settings) -> str | None:
    """Return the address of the job, if a page of this server gives the same numbers."""
    values = {
        name: value for layer in opened.record.layers if layer.of == "job" for name, value in layer.values.items()
    }
    ranges = {name: text for layer in opened.record.layers if layer.of == "job" for name, text in layer.ranges.items()}
    view = View(differing(values, settings), opened.record.asked.costing, ranges=ranges)
    link = write_link(view, settings)
    try:
        again = comparison_of(read_link(link, settings), settings).scenario
    except EvenrunError:
        return None
    now = opened.comparison.scenario
    same = dict(again.inputs) == dict(now.inputs) and again.choices == now.choices
    return link if same else None


def _side_by_side(one: tuple[str, QuoteRecord], other: tuple[str, QuoteRecord], style: NumberStyle) -> Any:
    """Return two quotes as columns: first their figures, then what differs of their inputs."""
    pair = (one[1], other[1])
    head = ["", f"quote {one[0]}", f"quote {other[0]}"]
    facts: list[list[Any]] = [
        ["client", *(r.asked.client or "-" for r in pair)],
        ["job", *(r.name for r in pair)],
        ["made", *(r.asked.made_on.isoformat() for r in pair)],
        ["cartons per order", *(whole(r.inputs["demand.run_length"], style) for r in pair)],
        ["margin, % of the price", *(style.words(f"{r.asked.margin * 100:.3g}") for r in pair)],
        ["cheaper", *(r.results.cheaper for r in pair)],
    ]
    facts += [
        [f"{route}: {label}", *(_figure(r, route, of, style) for r in pair)]
        for label, of in _FIGURES.items()
        for route in ROUTES
    ]
    table = assumption_table()
    names = [n for n in {**pair[0].inputs, **pair[1].inputs} if pair[0].inputs.get(n) != pair[1].inputs.get(n)]
    differences = [
        [n, *(_number(r.inputs.get(n), style) for r in pair), table[n].unit_in(pair[0].currency) if n in table else ""]
        for n in names[:_DIFFERENCES]
    ]
    more = f"{len(names) - _DIFFERENCES} more inputs differ." if len(names) > _DIFFERENCES else ""
    return [
        parts.card("Side by side", parts.table(head, facts)),
        parts.card(
            "Inputs that differ",
            parts.table(["input", *head[1:], "unit"], differences)
            if differences
            else html.P("None.", className="quiet"),
            html.P(more, className="quiet"),
            mt="md",
        ),
    ]


_FIGURES = {
    "price per 1,000": "price",
    "cost per 1,000": "cost_per_1000",
    "CO2e, kg per 1,000": "co2e_kg_per_1000",
    "waste board, kg per 1,000": "waste_kg_per_1000",
}


def _figure(record: QuoteRecord, route: RouteName, of: str, style: NumberStyle) -> str:
    found = record.results.route(route).figures
    if found is None:
        return "not possible"
    value = found.cost_per_1000 * record.asked.price_factor if of == "price" else float(getattr(found, of))
    money = f" {record.currency}" if of in ("price", "cost_per_1000") else ""
    return f"{figures(value, style=style)}{money}"


def _number(value: float | None, style: NumberStyle) -> str:
    return "-" if value is None else style.write(f"{value:,.6g}")
