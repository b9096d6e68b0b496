"""The Assumptions view: the whole table, searchable and editable, with what was changed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import dash_ag_grid as dag
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from compare.assumptions import Assumption, assumption_table
from compare.errors import EvenrunError
from compare.factors import factor_sets, publishers
from compare.present import wording
from compare.present.numbers import NumberStyle, figures
from compare.readers.jobfile import check_values, number_or_text
from compare.scenario import Scenario
from dashboard import parts
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import Overrides, base_values, differing, from_json, scenario_of, to_json, write_link
from dashboard.state import State as View

_COLUMNS = [
    {"field": "name", "headerName": "Name", "width": 226, "pinned": "left"},
    {
        "field": "value",
        "headerName": "Value",
        "editable": True,
        "width": 134,
        "cellClass": "editable ag-right-aligned-cell",
        "headerClass": "ag-right-aligned-header",
    },
    {"field": "unit", "headerName": "Unit", "width": 102},
    {"field": "meaning", "headerName": "What it is", "minWidth": 240, "flex": 5},
    {"field": "range", "headerName": "Usual range", "width": 112},
    {"field": "basis", "headerName": "Basis", "width": 138},
    {"field": "source", "headerName": "Source", "minWidth": 170, "flex": 3},
    {"field": "default", "headerName": "New page", "width": 90, "type": "rightAligned"},
]
_MACHINES = {
    "press": ("Die cutter", "press_capital", "rates.press"),
    "line": ("Laser line", "line_capital", "rates.laser"),
}
_CAPITAL = ("purchase", "residual", "life_y", "interest", "space_m2", "space_rate", "maintenance_share", "hours_y")


def layout(view: View, settings: Settings, reader: Reader) -> Any:
    """Return the view for a state."""
    return html.Div(
        [
            html.Div(
                [
                    dmc.Title("Assumptions", order=1, className="answer"),
                    html.P(
                        "Every input with its unit, its usual range and where it is from. Click a value to change it; it counts in every view."
                        + (" Values stand here as they are stored, in SI units." if reader.system == "us" else ""),
                        className="quiet",
                    ),
                    html.Div(_notes(view, settings), id="notes", className="messages"),
                    html.Div(id="assumption-problem", role="status", className="problem", **parts.aria(live="polite")),
                ]
            ),
            parts.card(
                "",
                dmc.Group(
                    [
                        dmc.TextInput(id="assumption-search", label="Search", size="xs", w=260, debounce=200),
                        dmc.Switch(
                            id="assumption-changed", label="Only what I changed", size="sm", checked=False, mb=4
                        ),
                        dmc.Button("Reset all", id="assumption-reset", size="xs", variant="default"),
                        html.Span(_count(view), id="assumption-count", className="quiet"),
                    ],
                    align="flex-end",
                    mb="sm",
                ),
                dag.AgGrid(
                    id="assumption-grid",
                    rowData=_rows(view, settings, reader.style),
                    columnDefs=_COLUMNS,
                    defaultColDef={"resizable": True, "sortable": True, "wrapText": True, "autoHeight": True},
                    getRowId="params.data.name",
                    dashGridOptions={
                        "animateRows": False,
                        "rowHeight": 29,
                        "headerHeight": 34,
                        "stopEditingWhenCellsLoseFocus": True,
                        "singleClickEdit": True,
                        "suppressColumnVirtualisation": True,
                    },
                    className="ag-theme-alpine-dark" if reader.scheme == "dark" else "ag-theme-alpine",
                    style={"height": "64vh", "minHeight": "380px"},
                ),
            ),
            html.Div(
                [
                    parts.card("Machine-hour rates", html.Div(_rates(view, settings, reader.style))),
                    parts.card(
                        "Country and factor set",
                        html.Div(_factor_lines(view, settings, reader.style), id="assumption-factors"),
                    ),
                ],
                className="two",
            ),
        ],
        className="main single broad",
    )


def _notes(view: View, settings: Settings) -> list[Any]:
    currency = _currency(view, settings)
    return [dmc.Alert(wording.in_currency(n, currency), color="yellow", variant="light", mb="xs") for n in view.notes]


def _currency(view: View, settings: Settings) -> str:
    return str({**base_values(settings), **view.overrides}["plant.currency"])


def _value(row: Assumption, values: Mapping[str, Any], style: NumberStyle) -> str:
    value = values.get(row.name)
    return "" if value is None else style.write(f"{value:,.10g}") if isinstance(value, float) else str(value)


def _rows(view: View, settings: Settings, style: NumberStyle, *, changed: bool = False) -> list[dict[str, str]]:
    base, currency = base_values(settings), _currency(view, settings)
    now = {**base, **view.overrides}
    return [
        {
            "name": row.name,
            "value": _value(row, now, style),
            "unit": "" if row.is_text or row.unit in ("-", "0/1") else row.unit_in(currency),
            "range": " to ".join(style.write(f"{end:,.10g}") for end in (row.low, row.high) if end is not None),
            "basis": row.basis,
            "meaning": style.words("; ".join(filter(None, (row.meaning, row.note)))),
            "source": row.source,
            "default": _value(row, base, style) if row.name in view.overrides else "",
        }
        for row in assumption_table().values()
        if not changed or row.name in view.overrides
    ]


def _count(view: View) -> str:
    count = len(view.overrides)
    return f"{count} {'value differs' if count == 1 else 'values differ'} from a new page."


def _rates(view: View, settings: Settings, style: NumberStyle) -> list[Any]:
    """Return the helper that works out machine-hour rates from purchase prices."""
    now = {**base_values(settings), **view.overrides}
    currency, table = _currency(view, settings), assumption_table()
    tabs, panels = [], []
    for who, (label, group, _) in _MACHINES.items():
        tabs.append(dmc.TabsTab(label, value=who))
        fields = [
            dmc.NumberInput(
                id={"kind": "capital", "name": f"{group}.{part}"},
                label=f"{_short(part)}, {table[f'{group}.{part}'].unit_in(currency)}",
                description=f"{table[f'{group}.{part}'].meaning}.",
                value=now.get(f"{group}.{part}", ""),
                decimalSeparator=style.decimal,
                thousandSeparator=style.group,
                hideControls=True,
                clampBehavior="none",
                size="xs",
            )
            for part in _CAPITAL
        ]
        button = dmc.Button(
            f"Work out the {label.lower()}'s rate", id={"kind": "work-out", "name": who}, size="xs", mt="sm"
        )
        panels.append(dmc.TabsPanel([html.Div(fields, className="cells quarter"), button], value=who, pt="sm"))
    return [
        html.P(
            "(Depreciation + interest on the mean capital + space + maintenance) / productive hours; cash: maintenance only.",
            className="quiet",
        ),
        dcc.Store(id="capital-faults"),
        dmc.Tabs([dmc.TabsList(tabs), *panels], value="press", id="assumption-machines"),
        html.Div(_rate_lines(view, settings, style), id="assumption-rates", className="worked-out"),
    ]


def _short(part: str) -> str:
    return {
        "purchase": "Purchase price",
        "residual": "Residual value",
        "life_y": "Life",
        "interest": "Interest",
        "space_m2": "Space",
        "space_rate": "Rent",
        "maintenance_share": "Maintenance",
        "hours_y": "Productive hours",
    }[part]


def _rate_lines(view: View, settings: Settings, style: NumberStyle) -> Any:
    s = _scenario(view, settings)
    rows = []
    for label, _, rate in _MACHINES.values():
        full, cash = (s.inputs.number(f"{rate}{tail}") for tail in ("_h", "_cash_h"))
        rows.append([label, figures(full, style=style), figures(cash, style=style), s.origins[f"{rate}_h"]])
    head = ["machine", f"full, {s.currency}/h", f"cash, {s.currency}/h", "from"]
    return html.Div(parts.table(head, rows), className="words-last")


def _scenario(view: View, settings: Settings) -> Scenario:
    try:
        return scenario_of(view.overrides, settings)
    except EvenrunError:
        return scenario_of({}, settings)


def _factor_lines(view: View, settings: Settings, style: NumberStyle) -> list[Any]:
    s = _scenario(view, settings)
    chosen = factor_sets()[s.choices["factors.set"]]
    table = assumption_table()
    rows = [
        [
            table[f"factors.{role}"].meaning,
            figures(use.value, 4, style),
            table[f"factors.{role}"].unit,
            use.label,
            use.proxy,
        ]
        for role, use in s.factors.items()
    ]
    return [
        html.P(
            f"Grid {s.choices['plant.country'].upper()}; {chosen['name']}. Change plant.country, factors.set or any factors.* value above.",
            className="quiet",
        ),
        html.Div(
            parts.table(["resource", "factor", "unit", "published by", "stands in"], rows), className="words-from-3"
        ),
        html.P(
            f"Publishers: {publishers(s.factors.values())}. All gross, cradle to gate; biogenic CO2 apart.",
            className="quiet",
        ),
    ]


def register(app: Dash, settings: Settings) -> None:
    """Register the view's callbacks."""

    @app.callback(
        _what_a_change_shows(),
        Input("assumption-grid", "cellValueChanged"),
        State("state", "data"),
        State("assumption-changed", "checked"),
        prevent_initial_call=True,
    )
    def edit(changes: Any, data: Any, only_changed: bool) -> Any:
        sent = changes if isinstance(changes, list) else []
        edited = [
            change["data"] for change in sent if isinstance(change, dict) and isinstance(change.get("data"), dict)
        ]
        if not edited or len(edited) < len(sent) or not all("name" in row for row in edited):
            raise PreventUpdate

        def typed(overrides: Overrides) -> Overrides:
            new = dict(overrides)
            for row in edited:
                _change(new, str(row["name"]), str(row.get("value") or ""), reader_now().style)
            return new

        return _changed(from_json(data), typed, settings, only_changed=only_changed)

    @app.callback(
        _what_a_change_shows(),
        Output("capital-faults", "data"),
        Input({"kind": "work-out", "name": "press"}, "n_clicks"),
        Input({"kind": "work-out", "name": "line"}, "n_clicks"),
        [State({"kind": "capital", "name": name}, "value") for name in _capital()],
        State("state", "data"),
        State("assumption-changed", "checked"),
        prevent_initial_call=True,
    )
    def work_out(press: int | None, line: int | None, *given_and_state: Any) -> Any:
        if not (press or line):
            raise PreventUpdate
        *values, data, only_changed = given_and_state
        now = from_json(data)
        given = {n: v for n, v in zip(_capital(), values, strict=True) if v not in ("", None)}
        faults = _faults(given, _currency(now, settings))
        if faults:
            return [*[no_update] * len(_what_a_change_shows()), faults]

        def worked_out(overrides: Overrides) -> Overrides:
            rates = ("rates.press_", "rates.laser_h", "rates.laser_cash")
            kept = {n: v for n, v in overrides.items() if not n.startswith(rates)}
            return {**kept, **check_values(given, where="machine-hour rate")}

        return [*_changed(now, worked_out, settings, only_changed=only_changed), {}]

    # Dash takes no output of an id that holds a dot, as names do; the page itself puts each fault beside its field
    app.clientside_callback(
        ClientsideFunction("evenrun", "showFaults"),
        Output({"kind": "capital", "name": ALL}, "error"),
        Input("capital-faults", "data"),
        State({"kind": "capital", "name": ALL}, "id"),
        prevent_initial_call=True,
    )

    @app.callback(
        _what_a_change_shows(),
        Input("assumption-reset", "n_clicks"),
        State("assumption-changed", "checked"),
        prevent_initial_call=True,
    )
    def reset(clicks: int | None, only_changed: bool) -> Any:
        if not clicks:
            raise PreventUpdate
        return _shown(View({}), settings, only_changed=only_changed)

    @app.callback(
        Output("assumption-grid", "dashGridOptions"),
        Input("assumption-search", "value"),
        State("assumption-grid", "dashGridOptions"),
        prevent_initial_call=True,
    )
    def search(text: Any, grid_options: Any) -> dict[str, Any]:
        if not isinstance(grid_options, dict) or not isinstance(text, (str, type(None))):
            raise PreventUpdate
        return {**grid_options, "quickFilterText": text or ""}

    @app.callback(
        Output("assumption-grid", "rowData"),
        Input("assumption-changed", "checked"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def only_changed(checked: bool, data: Any) -> list[dict[str, str]]:
        return _rows(from_json(data), settings, reader_now().style, changed=checked)


def _change(overrides: dict[str, Any], name: str, text: str, style: NumberStyle) -> None:
    """Change one value; an emptied cell takes the change back."""
    if text.strip():
        row = assumption_table().get(name)
        typed = text.strip() if row is None or row.is_text else style.read(text.strip())
        overrides.update(check_values({name: number_or_text(name, typed)}, where="Assumptions"))
    else:
        overrides.pop(name, None)


def _faults(given: dict[str, Any], currency: str) -> dict[str, str]:
    """Return what is wrong with each of some values, by dotted name."""
    faults = {}
    for name, value in given.items():
        try:
            check_values({name: value}, where="machine-hour rate")
        except EvenrunError as error:
            what = error.what.removeprefix(name).split(" (it is ")[0].strip()
            faults[name] = wording.in_currency(f"{what}; {error.remedy}", currency)
    return faults


def _capital() -> list[str]:
    """Return the dotted names of what machine-hour rates are worked out from."""
    return [f"{group}.{part}" for _, group, _ in _MACHINES.values() for part in _CAPITAL]


def _what_a_change_shows() -> list[Output]:
    places = (
        ("state", "data"),
        ("assumption-problem", "children"),
        ("assumption-count", "children"),
        ("assumption-rates", "children"),
        ("assumption-factors", "children"),
        ("assumption-grid", "rowData"),
    )
    return [Output(place, what, allow_duplicate=True) for place, what in places]


def _changed(
    now: View, change: Callable[[Overrides], Overrides], settings: Settings, *, only_changed: bool
) -> tuple[Any, ...]:
    """Return what shows a change of the inputs; if they can't be so, the reason and the rows as they were."""
    try:
        view = View(differing(change(now.overrides), settings), now.costing)
        scenario_of(view.overrides, settings)
    except EvenrunError as error:
        said = f"{error.what}; {error.remedy}" if error.remedy else error.what
        alert = _alert(wording.in_currency(said, _currency(now, settings)))
        return (
            no_update,
            alert,
            no_update,
            no_update,
            no_update,
            _rows(now, settings, reader_now().style, changed=only_changed),
        )
    return _shown(view, settings, only_changed=only_changed)


def _alert(text: str) -> Any:
    opening = text if "." in text.partition(" ")[0] else text[:1].upper() + text[1:]  # a dotted name stays one
    return parts.problem(wording.ended(opening), title="Not changed")


def _shown(view: View, settings: Settings, *, only_changed: bool) -> tuple[Any, ...]:
    state = {**to_json(view), "link": write_link(view, settings)}
    style = reader_now().style
    rates, factors = _rate_lines(view, settings, style), _factor_lines(view, settings, style)
    return state, [], _count(view), rates, factors, _rows(view, settings, style, changed=only_changed)
