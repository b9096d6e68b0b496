"""The Order book view: a year of orders in, what of it moves to the laser line, what that saves, and whether the line pays."""

from __future__ import annotations

import base64
import io
import math
from dataclasses import replace
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from compare.decide.book_plan import BookPlan
from compare.decide.order_book import Book
from compare.decide.saving_range import SavingRange
from compare.errors import EvenrunError, InputError
from compare.present import charts as chart_specs
from compare.present import wording
from compare.present.book_charts import book_charts
from compare.present.numbers import whole
from compare.readers.orderbook_findings import findings_csv
from dashboard import book_store, parts
from dashboard.book_asked import (
    LARGEST_HOURS,
    LONGEST_CELL,
    MOST_MENDED,
    MOST_PINS,
    ROUTES,
    kept_as,
    mended_of,
    pins_of,
    reading_of,
    wanted_of,
)
from dashboard.book_store import DEMO, MOST_ROWS, BusyError, Reading, Underway, Wanted
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import base_values, from_json, to_json, write_link
from dashboard.uploads import BOOK_BYTES
from dashboard.views import book_panels as panels

QUESTION = "Which jobs of a year should move to the laser line, and does the line pay?"

_STEP_H = 10
_PATIENCE_S = 0.2
"""How long a call waits for a plan that is being made [s]; then the page asks again."""

_DECIMALS = [{"value": "", "label": "as found"}, {"value": ".", "label": "1,234.5"}, {"value": ",", "label": "1.234,5"}]
_DATES = [
    {"value": "", "label": "as found"},
    {"value": "ymd", "label": "year, month, day"},
    {"value": "dmy", "label": "day, month, year"},
    {"value": "mdy", "label": "month, day, year"},
]


def layout(view: View, settings: Settings, reader: Reader) -> Any:
    """Return the view without its book, which the browser holds the key of."""
    return html.Div(
        [
            # comes with the view, so that a book that was there before is shown; what else could bring one waits for a click
            dcc.Store(id="book-here", data=1),
            html.Div(
                [
                    html.Div(_question(), id="book-answer", role="status", **parts.aria(live="polite")),
                    html.Div(_notes(view, settings), id="notes", className="messages"),
                    html.Div(id="book-problem", role="status", className="problem", **parts.aria(live="polite")),
                    dmc.VisuallyHidden(html.Span(id="done", role="status")),
                ]
            ),
            parts.card(
                "Orders of a year",
                html.Div(
                    [
                        html.Div(_upload(), className="upload-place"),
                        dmc.Group(
                            [
                                dmc.Button("Try it with invented orders", id="book-demo", size="xs", variant="default"),
                                dmc.Button("Template, XLSX", id="book-template-xlsx", size="xs", variant="default"),
                                dmc.Button("Template, CSV", id="book-template-csv", size="xs", variant="default"),
                            ],
                            gap="xs",
                        ),
                    ],
                    className="bring",
                ),
                html.P(
                    f"CSV or XLSX, one row per order, up to {reader.style.write(f'{BOOK_BYTES / 1e6:g}')} MB and "
                    f"{whole(MOST_ROWS, reader.style)} rows. It is kept on this server for a day, and is in no link.",
                    className="quiet",
                ),
            ),
            dcc.Loading(
                html.Div(id="book-panel", className="main"), delay_show=400, overlay_style={"visibility": "visible"}
            ),
        ],
        className="main single broad",
    )


def stores() -> list[Any]:
    """Return what stays while views come and go, and, but for the hours, while the tab is open."""
    return [
        dcc.Store(id="orders-file", storage_type="session"),
        dcc.Store(id="orders-kept", storage_type="session"),
        dcc.Store(id="orders-asked"),
        dcc.Store(id="orders-quick"),
    ]


def _question() -> Any:
    return dmc.Title(QUESTION, order=1, className="answer")


def _notes(view: View, settings: Settings) -> list[Any]:
    currency = str({**base_values(settings), **view.overrides}["plant.currency"])
    notes = [wording.in_currency(note, currency) for note in view.notes]
    changed = [name for name, _ in book_store.plant_overrides(view)]
    if changed:
        notes.append(f"Assumptions that were changed count here as well: {', '.join(changed[:12])}.")
    return [dmc.Alert(note, color="yellow", variant="light", mb="xs") for note in notes]


def _upload() -> Any:
    return dcc.Upload(
        dmc.Text(
            ["Drop an order book here, or ", html.Span("choose a file", className="like-a-link")],
            size="xs",
            ta="center",
        ),
        id="book-upload",
        max_size=BOOK_BYTES,
        className="upload",
        accept=".csv,.tsv,.txt,.xlsx,.xlsm",
    )


# -- the panel of a book ----------------------------------------------------------------------------------------------


def _panel(book: Book, reading: Reading, wanted: Wanted, view: View, reader: Reader) -> list[Any]:
    style = reader.style
    findings = bool(book.findings or reading.mended)
    return [
        parts.card("How it was read", *_how_read(book, reading, reader)),
        html.Div(panels.mapping(book, reading, style), id="book-mapping"),
        html.Div(
            parts.card("What is to be mended", *_findings(book, reader)), id="book-findings-place", hidden=not findings
        ),
        html.Div(
            [
                parts.card("Hours of the line", *_controls(book, wanted, view, reader)),
                parts.card(
                    "What the plan brings",
                    html.Div(panels.plan_figures(None, style), id="book-figures", className="figures"),
                ),
            ],
            className="book-top",
        ),
        parts.card("Saving against hours of the line, cumulated", _chart("saving", reader)),
        html.Div(
            [
                html.Div(
                    [
                        parts.card(panels.CHART_TITLES["loads"], _chart("loads", reader)),
                        parts.card(panels.CHART_TITLES["shifts"], _chart("shifts", reader)),
                    ],
                    className="main",
                ),
                parts.card(
                    "Does the line pay?",
                    html.Div(panels.investment(None, style), id="book-investment"),
                    dmc.Group(
                        [
                            dmc.Button("Work out the range", id="book-range", size="xs", variant="default"),
                            html.Div(id="book-range-box", role="status", className="range-box"),
                        ],
                        gap="sm",
                        mt="xs",
                    ),
                    dcc.Interval(id="book-range-tick", interval=700, disabled=True),
                ),
            ],
            className="two",
        ),
        parts.card(
            "Jobs",
            dmc.Group(
                [
                    dmc.Button("Workbook, XLSX", id="book-xlsx", size="xs", variant="default"),
                    dmc.Button("Jobs, CSV", id="book-csv", size="xs", variant="default"),
                    html.Span(panels.jobs_words(book, style), className="quiet"),
                ],
                gap="xs",
                mb="sm",
            ),
            panels.jobs_grid(book, reader),
        ),
        parts.card("", html.Div(panels.remarks(None, style), id="book-remarks")),
        dcc.Interval(id="book-again", interval=500, disabled=True),
    ]


def _chart(name: str, reader: Reader) -> Any:
    return parts.chart(f"book-{name}", panels.blank_figure(name, reader.scheme), "", numbers="book-numbers")


def _controls(book: Book, wanted: Wanted, view: View, reader: Reader) -> list[Any]:
    most = most_hours(book, wanted)
    style = reader.style
    return [
        html.Label("Hours that may be planned, a year", htmlFor="book-hours-number", className="small-label"),
        html.Div(
            [
                dmc.Slider(
                    id="book-hours",
                    min=0,
                    max=most,
                    step=_STEP_H,
                    value=min(wanted.hours, most),
                    label=None,
                    thumbLabel="Hours of the line that may be planned, a year",
                    size="sm",
                ),
                dmc.NumberInput(
                    id="book-hours-number",
                    value=wanted.hours,
                    min=0,
                    max=LARGEST_HOURS,
                    step=_STEP_H,
                    decimalSeparator=style.decimal,
                    thousandSeparator=style.group,
                    clampBehavior="blur",
                    allowNegative=False,
                    debounce=True,
                    hideControls=True,
                    size="xs",
                    w=92,
                    **parts.aria(label="Hours that may be planned, a year"),
                ),
            ],
            className="hours",
        ),
        dmc.Switch(
            id="book-months",
            label="No month takes more than a twelfth of them",
            checked=wanted.by_month,
            size="sm",
            my="sm",
        ),
        dmc.SegmentedControl(
            id="book-costing",
            data=[{"value": "full", "label": "full costing"}, {"value": "cash", "label": "cash costing"}],
            value=view.costing,
            size="xs",
            **parts.aria(label="Costing"),
        ),
        html.P(
            "Full costing counts depreciation, interest and space of both machines; cash costing what moving a job saves with both in the hall.",
            className="quiet",
        ),
    ]


def most_hours(book: Book, wanted: Wanted) -> float:
    """Return the right end of the slider: the hours of the line, or all hours that any jobs could take."""
    worth = book.laser_possible & book.die_possible & (book.saving > 0)
    most = max(float(book.plant.plant["line_capital.hours_y"]), float(book.laser_hours[worth].sum()), wanted.hours)
    return math.ceil(min(most, LARGEST_HOURS) / 100) * 100.0


def _how_read(book: Book, reading: Reading, reader: Reader) -> list[Any]:
    style, sheets = reader.style, any(f.code == "book.other_sheets" for f in book.findings)
    return [
        html.Div(
            [
                html.Div(
                    [
                        html.P(panels.rows_sentence(book, len(reading.mended), style), id="book-rows"),
                        html.P(panels.findings_words(book, style), id="book-found", className="quiet"),
                    ]
                ),
                dmc.Group(
                    [
                        dmc.Select(
                            id="book-decimal", label="Numbers", data=_DECIMALS, value=reading.decimal, size="xs", w=110
                        ),
                        dmc.Select(id="book-dates", label="Days", data=_DATES, value=reading.dates, size="xs", w=150),
                        html.Div(
                            dmc.TextInput(
                                id="book-sheet", label="Sheet", value=reading.sheet, debounce=True, size="xs", w=140
                            ),
                            hidden=not (sheets or reading.sheet),
                        ),
                    ],
                    gap="xs",
                ),
            ],
            className="read",
        )
    ]


def _findings(book: Book, reader: Reader) -> list[Any]:
    return [
        dmc.Group(
            [
                dmc.Button("Findings, CSV", id="book-findings-csv", size="xs", variant="default"),
                dmc.Button("Take mended cells back", id="book-unmend", size="xs", variant="default"),
                html.Span(
                    "Type over a marked value to mend it here, or name any cell below; its row is computed at once.",
                    className="quiet",
                ),
            ],
            gap="xs",
            mb="sm",
        ),
        panels.findings_grid(book, reader),
        dmc.Group(
            [
                dmc.NumberInput(
                    id="book-cell-row", label="Row", min=2, allowDecimal=False, hideControls=True, size="xs", w=80
                ),
                dmc.Select(
                    id="book-cell-column",
                    label="Column",
                    data=list(dict.fromkeys(book.table.headings.values())),
                    searchable=True,
                    size="xs",
                    w=220,
                ),
                dmc.TextInput(id="book-cell-value", label="Value", size="xs", w=200),
                dmc.Button("Mend this cell", id="book-cell-mend", size="xs", variant="default"),
            ],
            gap="xs",
            align="flex-end",
            mt="sm",
        ),
    ]


# -- callbacks --------------------------------------------------------------------------------------------------------


def _problem(error: EvenrunError) -> list[Any]:
    return [parts.problem(wording.ended(str(error)), title="Not done")]


def register(app: Dash, settings: Settings) -> None:
    """Register the view's callbacks."""
    _register_reading(app, settings)
    _register_mending(app, settings)
    _register_plan(app, settings)
    _register_downloads(app, settings)
    _register_range(app, settings)


def _register_reading(app: Dash, settings: Settings) -> None:
    @app.callback(
        Output("orders-file", "data"),
        Output("book-problem", "children"),
        Input("book-upload", "contents"),
        State("book-upload", "filename"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def take(contents: Any, filename: Any, state: Any) -> Any:
        if contents is None:
            raise PreventUpdate
        view = from_json(state)
        try:
            token = book_store.keep(contents, filename)
            book_store.table_of(Reading(token), view, settings)
        except EvenrunError as error:
            return no_update, _problem(error)
        return {"token": token}, []

    @app.callback(
        Output("orders-file", "data", allow_duplicate=True),
        Output("book-problem", "children", allow_duplicate=True),
        Input("book-demo", "n_clicks"),
        prevent_initial_call=True,
    )
    def demo(clicks: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        return {"token": DEMO}, []

    @app.callback(
        Output("book-panel", "children"),
        Output("book-problem", "children", allow_duplicate=True),
        Input("orders-file", "data"),
        Input("book-here", "data"),
        State("orders-kept", "data"),
        State("orders-asked", "data"),
        State("state", "data"),
        prevent_initial_call="initial_duplicate",
    )
    def show(file: Any, _here: Any, *page: Any) -> Any:
        kept, asked, state = page
        if not file:
            return [], no_update
        view, reading = from_json(state), reading_of(file, kept)
        try:
            book = book_store.book_of(reading, view, view.costing, settings)
        except EvenrunError as error:
            return [], _problem(error)
        try:
            wanted = wanted_of(asked if asked and asked.get("token") == reading.token else None, kept, reading.token)
        except (InputError, AttributeError):  # a book that was never asked about starts with the hours of the line
            wanted = Wanted(float(book.plant.plant["line_capital.hours_y"]))
        return _panel(book, reading, wanted, view, reader_now()), []


def _register_mending(app: Dash, settings: Settings) -> None:
    @app.callback(
        Output("orders-file", "data", allow_duplicate=True),
        Input("book-decimal", "value"),
        Input("book-dates", "value"),
        Input("book-sheet", "value"),
        State("orders-file", "data"),
        prevent_initial_call=True,
    )
    def read_otherwise(decimal: Any, dates: Any, sheet: Any, file: Any) -> Any:
        if not isinstance(file, dict):
            raise PreventUpdate
        said = {"decimal": decimal or "", "dates": dates or "", "sheet": sheet or ""}
        if all(file.get(name, "") == value for name, value in said.items()):
            raise PreventUpdate
        new = {**file, **said}
        reading_of(new, None)
        return new

    @app.callback(
        Output("orders-file", "data", allow_duplicate=True),
        Input("book-map", "n_clicks"),
        State({"kind": "book-column", "number": ALL}, "value"),
        State({"kind": "book-unit", "number": ALL}, "value"),
        State("orders-file", "data"),
        State("orders-kept", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def map_columns(clicks: Any, names: list[Any], units: list[Any], *page: Any) -> Any:
        file, kept, state = page
        if not clicks or not file:
            raise PreventUpdate
        reading, view = reading_of(file, kept), from_json(state)
        book = book_store.book_of(reading, view, view.costing, settings)
        unclear = panels.unclear_headings(book, reading)
        if not len(unclear) == len(names) == len(units):
            raise InputError("these are not the headings of the book", where="page", remedy="load the page again")
        columns = {}
        for (heading, _), name, unit in zip(unclear, names, units, strict=True):
            if isinstance(name, str) and name:
                with_unit = f"{name} [{unit.strip()}]" if isinstance(unit, str) and unit.strip() else name
                columns[heading] = "" if name == "-" else with_unit
        new = {**file, "columns": columns}
        reading_of(new, None)
        return new

    @app.callback(
        Output("orders-kept", "data", allow_duplicate=True),
        Output("orders-asked", "data", allow_duplicate=True),
        Output("book-findings", "rowData"),
        Output("book-found", "children"),
        Output("book-rows", "children"),
        Output("book-problem", "children", allow_duplicate=True),
        Input("book-findings", "cellValueChanged"),
        Input("book-unmend", "n_clicks"),
        Input("book-cell-mend", "n_clicks"),
        State("book-cell-row", "value"),
        State("book-cell-column", "value"),
        State("book-cell-value", "value"),
        State("orders-file", "data"),
        State("orders-kept", "data"),
        State("orders-asked", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def mend(changes: Any, back: Any, named: Any, *page: Any) -> Any:
        row, column, value, file, kept, asked, state = page
        before = reading_of(file, kept)
        view, style, pressed = from_json(state), reader_now().style, ctx.triggered_id
        cells = mended_of(kept, before.token)
        if pressed == "book-unmend":
            if not (back and cells):
                raise PreventUpdate
            cells = {}
        elif pressed == "book-cell-mend":
            if not named:
                raise PreventUpdate
            if type(row) is not int or not isinstance(column, str) or not column:
                return _unchanged(6, InputError("no cell is named", remedy="give its row and its column"))
            cells |= {(row, column): str(value or "")[:LONGEST_CELL]}
        else:
            cells |= _typed(changes)
        if len(cells) > MOST_MENDED:
            return _unchanged(6, InputError(f"over {MOST_MENDED:,} cells are mended", remedy="mend the file itself"))
        now = kept_as(before.token, cells, pins_of(kept, before.token))
        reading = reading_of(file, now)
        try:
            book = book_store.book_of(reading, view, view.costing, settings)
        except EvenrunError as error:
            return _unchanged(6, error)
        return (
            now,
            _asked_again(asked),
            panels.finding_rows(book, style),
            panels.findings_words(book, style),
            panels.rows_sentence(book, len(reading.mended), style),
            [],
        )


def _typed(changes: Any) -> dict[tuple[int, str], str]:
    """Read which cells of the grid of findings were typed into."""
    found = {}
    for change in changes if isinstance(changes, list) else []:
        row = change.get("data") if isinstance(change, dict) else None
        if not isinstance(row, dict) or not row.get("mendable") or type(row.get("row")) is not int:
            raise PreventUpdate
        text = str(row.get("value") if row.get("value") is not None else "")[:LONGEST_CELL]
        found[row["row"], str(row.get("column"))] = text
    if not found:
        raise PreventUpdate
    return found


def _unchanged(outputs: int, error: EvenrunError) -> tuple[Any, ...]:
    return (*(no_update,) * (outputs - 1), _problem(error))


def _asked_again(asked: Any) -> dict[str, Any]:
    """Return what the page asked before, as a new question."""
    now = asked if isinstance(asked, dict) else {}
    count = now.get("count")
    return {**now, "count": count + 1 if isinstance(count, int) and count < 10**9 else 1}


def _register_plan(app: Dash, settings: Settings) -> None:
    app.clientside_callback(
        ClientsideFunction("evenrun", "askOrders"),
        Output("book-hours", "value"),
        Output("book-hours-number", "value"),
        Output("orders-asked", "data"),
        Input("book-hours", "value"),
        Input("book-hours-number", "value"),
        Input("book-months", "checked"),
        Input("book-costing", "value"),
        State("book-hours", "max"),
        State("orders-asked", "data"),
        State("orders-file", "data"),
    )

    @app.callback(
        Output("book-answer", "children"),
        Output("orders-quick", "data"),
        Output("state", "data", allow_duplicate=True),
        Output("book-problem", "children", allow_duplicate=True),
        Input("orders-asked", "data"),
        State("orders-file", "data"),
        State("orders-kept", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def at_once(asked: Any, file: Any, kept: Any, state: Any) -> Any:
        """Answer with a choice that is made at once; the rest of the plan follows."""
        if not asked or not file:
            raise PreventUpdate
        view, reading = from_json(state), reading_of(file, kept)
        wanted = wanted_of(asked, kept, reading.token)
        try:
            found = book_store.first_choice(reading, view, wanted, settings)
        except EvenrunError as error:
            return _unchanged(4, error)
        costed = replace(view, costing=wanted.costing)
        new_state = (
            {**to_json(costed), "link": write_link(costed, settings)} if costed.costing != view.costing else no_update
        )
        return panels.answer(found, reader_now().style), asked, new_state, []

    @app.callback(
        {name: Output(place, what, allow_duplicate=True) for name, (place, what) in _PLAN_PLACES.items()},
        Input("orders-quick", "data"),
        Input("book-again", "n_intervals"),
        State("orders-file", "data"),
        State("orders-kept", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def whole_plan(asked: Any, _again: Any, file: Any, kept: Any, state: Any) -> Any:
        if not asked or not file:
            raise PreventUpdate
        view, reading, reader = from_json(state), reading_of(file, kept), reader_now()
        wanted = wanted_of(asked, kept, reading.token)
        nothing = dict.fromkeys(_PLAN_PLACES, no_update)
        try:
            plan = book_store.plan_of(reading, view, wanted, settings, patience_s=_PATIENCE_S)
        except BusyError:
            return {**nothing, "again": False}
        except EvenrunError as error:
            return {**nothing, "problem": _problem(error), "again": True}
        style = reader.style
        drawn: dict[str, Any] = {}
        for name, (figure, words) in panels.charts(plan, reader).items():
            drawn |= {name: figure, f"{name}-words": words}
        return {
            **drawn,
            "answer": panels.answer(plan, style),
            "figures": panels.plan_figures(plan, style),
            "investment": panels.investment(plan, style),
            "range": _range_words(plan),
            "remarks": panels.remarks(plan, style),
            "jobs": panels.job_rows(plan, style),
            "problem": [],
            "again": True,
        }

    @app.callback(
        Output("orders-kept", "data", allow_duplicate=True),
        Output("orders-asked", "data", allow_duplicate=True),
        Output("book-problem", "children", allow_duplicate=True),
        Input("book-jobs", "cellValueChanged"),
        State("orders-file", "data"),
        State("orders-kept", "data"),
        State("orders-asked", "data"),
        prevent_initial_call=True,
    )
    def pin(changes: Any, file: Any, kept: Any, asked: Any) -> Any:
        reading = reading_of(file, kept)
        pins = dict(pins_of(kept, reading.token))
        chosen = _pinned(changes)
        for row in chosen:
            pins.pop(row, None)  # the last one chosen goes last, and counts where two are of one carton
        pins |= chosen
        if len(pins) > MOST_PINS:
            return _unchanged(3, InputError(f"over {MOST_PINS:,} jobs are pinned", remedy="pin them in the file"))
        now = kept_as(reading.token, mended_of(kept, reading.token), tuple(pins.items()))
        return now, _asked_again(asked), []


_PLAN_PLACES = {
    "answer": ("book-answer", "children"),
    "figures": ("book-figures", "children"),
    "investment": ("book-investment", "children"),
    "range": ("book-range-box", "children"),
    "remarks": ("book-remarks", "children"),
    "jobs": ("book-jobs", "rowData"),
    "problem": ("book-problem", "children"),
    "again": ("book-again", "disabled"),
    **{name: (f"chart-book-{name}", "figure") for name in panels.CHART_HEIGHTS},
    **{f"{name}-words": (f"chart-book-{name}-words", "children") for name in panels.CHART_HEIGHTS},
}


def _pinned(changes: Any) -> dict[int, str]:
    found = {}
    for change in changes if isinstance(changes, list) else []:
        row = change.get("data") if isinstance(change, dict) else None
        if not isinstance(row, dict) or type(row.get("row")) is not int or row.get("pin") not in ROUTES:
            raise PreventUpdate
        found[row["row"]] = row["pin"]
    if not found:
        raise PreventUpdate
    return found


def _register_downloads(app: Dash, settings: Settings) -> None:
    @app.callback(
        Output("download", "data", allow_duplicate=True),
        Input("book-template-xlsx", "n_clicks"),
        Input("book-template-csv", "n_clicks"),
        prevent_initial_call=True,
    )
    def template(as_xlsx: Any, as_csv: Any) -> Any:
        from compare.present.book_template import template_xlsx, write_template_csv  # noqa: PLC0415 - few ask for it

        if not (as_xlsx or as_csv):
            raise PreventUpdate
        if ctx.triggered_id == "book-template-xlsx":
            return _file("orders-template.xlsx", template_xlsx())
        text = io.StringIO()
        write_template_csv(text)
        return _file("orders-template.csv", text.getvalue().encode("utf-8-sig"))

    @app.callback(
        Output("download", "data", allow_duplicate=True),
        Output("book-problem", "children", allow_duplicate=True),
        Input("book-xlsx", "n_clicks"),
        Input("book-csv", "n_clicks"),
        Input("book-findings-csv", "n_clicks"),
        Input({"kind": "book-numbers", "chart": ALL}, "n_clicks"),
        State("orders-asked", "data"),
        State("orders-file", "data"),
        State("orders-kept", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def download(xlsx: Any, table: Any, findings: Any, numbers: list[Any], *page: Any) -> Any:
        if not (xlsx or table or findings or any(numbers)):
            raise PreventUpdate
        asked, file, kept, state = page
        view, reading = from_json(state), reading_of(file, kept)
        wanted = wanted_of(asked, kept, reading.token)
        pressed = ctx.triggered_id
        try:
            if pressed == "book-findings-csv":
                book = book_store.book_of(reading, view, view.costing, settings)
                return _file("order-book-findings.csv", findings_csv(book.findings).encode("utf-8-sig")), []
            plan = book_store.plan_of(reading, view, wanted, settings)
            return _export(pressed, plan, view, settings), []
        except EvenrunError as error:
            return no_update, _problem(error)


def _export(pressed: Any, plan: BookPlan, view: View, settings: Settings) -> dict[str, Any]:
    if isinstance(pressed, dict):
        name = str(pressed.get("chart", "")).removeprefix("book-")
        spec = book_charts(plan, reader_now().style).get(name)
        if spec is None:
            raise PreventUpdate
        return _file(f"evenrun-orders-{name}.csv", chart_specs.as_csv(spec).encode())
    from compare.present.book_export import write_jobs_csv, write_xlsx  # noqa: PLC0415 - few ask for it

    if pressed == "book-xlsx":
        workbook = io.BytesIO()
        write_xlsx(plan, book_store.layers_of(view, settings), workbook)
        return _file("order-book-plan.xlsx", workbook.getvalue())
    text = io.StringIO()
    write_jobs_csv(plan, text)
    return _file("order-book-jobs.csv", text.getvalue().encode("utf-8-sig"))


def _file(name: str, content: bytes) -> dict[str, Any]:
    kind = "text/csv" if name.endswith(".csv") else "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return {"content": base64.b64encode(content).decode(), "filename": name, "type": kind, "base64": True}


def _register_range(app: Dash, settings: Settings) -> None:
    @app.callback(
        Output("book-range-tick", "disabled"),
        Output("book-range-box", "children"),
        Output("book-investment", "children"),
        Output("book-problem", "children", allow_duplicate=True),
        Input("book-range", "n_clicks"),
        Input("book-range-tick", "n_intervals"),
        State("orders-asked", "data"),
        State("orders-file", "data"),
        State("orders-kept", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def work_out(clicks: Any, _ticks: Any, asked: Any, file: Any, kept: Any, state: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        view, reading, style = from_json(state), reading_of(file, kept), reader_now().style
        wanted = wanted_of(asked, kept, reading.token)
        try:
            if ctx.triggered_id == "book-range":
                book_store.work_out_range(reading, view, wanted, settings)
            found = book_store.known_range(reading, view, wanted, settings)
            if isinstance(found, SavingRange):
                plan = book_store.plan_of(reading, view, wanted, settings)
                return True, _range_words(plan), panels.investment(plan, style), []
        except EvenrunError as error:
            return True, [], no_update, _problem(error)
        if isinstance(found, Underway):
            return False, _progress(found), no_update, []
        if isinstance(found, str):
            return True, [], no_update, [parts.problem(wording.ended(found), title="Not done")]
        return True, [], no_update, no_update  # something else is on the page by now


def _progress(found: Underway) -> Any:
    share = round(100 * min(max(found.share, 0.0), 1.0))
    return [
        dmc.Progress(value=share, w=160, size="sm", **parts.aria(label="Range of the saving")),
        html.Span(f"{share} %, {found.what}", className="quiet"),
    ]


def _range_words(plan: BookPlan) -> Any:
    return html.Span("The range is worked out.", className="quiet") if plan.saving_range is not None else []
