"""The Assumptions view: the whole table, searchable and editable, with what was changed."""

from __future__ import annotations

from typing import Any

import dash_ag_grid as dag
import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from compare.assumptions import Assumption, assumption_table
from compare.errors import EvenrunError
from compare.factors import factor_sets, publishers
from compare.present.numbers import figures
from compare.readers.jobfile import check_values, number_or_text
from compare.scenario import Scenario
from dashboard import parts
from dashboard.reader import Reader
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import base_values, differing, from_json, scenario_of, to_json, write_link

_COLUMNS = [
    {"field": "name", "headerName": "Name", "minWidth": 210, "pinned": "left"},
    {
        "field": "value",
        "headerName": "Value",
        "editable": True,
        "minWidth": 110,
        "cellClass": "editable ag-right-aligned-cell",
        "headerClass": "ag-right-aligned-header",
    },
    {"field": "unit", "headerName": "Unit", "minWidth": 100},
    {"field": "range", "headerName": "Usual range", "minWidth": 120},
    {"field": "basis", "headerName": "Basis", "minWidth": 130},
    {"field": "meaning", "headerName": "What it is", "minWidth": 260, "flex": 2, "tooltipField": "meaning"},
    {"field": "source", "headerName": "Source", "minWidth": 220, "flex": 2, "tooltipField": "source"},
    {"field": "default", "headerName": "On a new page", "minWidth": 120, "type": "rightAligned"},
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
            dmc.Title("Assumptions", order=1, className="answer"),
            html.P(
                "Every input with its unit, its usual range and where it is from. Click a value to change it; it counts in every view.",
                className="quiet",
            ),
            html.Div([dmc.Alert(n, color="yellow", variant="light", mb="xs") for n in view.notes], role="status"),
            html.Div(id="assumption-problem", role="status", **parts.aria(live="polite")),
            parts.card(
                "",
                dmc.Group(
                    [
                        dmc.TextInput(id="assumption-search", label="Search", size="xs", w=260, debounce=200),
                        dmc.Switch(id="assumption-changed", label="Only what I changed", size="sm", checked=False),
                        dmc.Button("Reset all", id="assumption-reset", size="xs", variant="default"),
                        html.Span(_count(view), id="assumption-count", className="quiet"),
                    ],
                    align="flex-end",
                    mb="sm",
                ),
                dag.AgGrid(
                    id="assumption-grid",
                    rowData=_rows(view, settings),
                    columnDefs=_COLUMNS,
                    defaultColDef={"resizable": True, "sortable": True, "wrapText": False},
                    getRowId="params.data.name",
                    dashGridOptions={
                        "animateRows": False,
                        "rowHeight": 30,
                        "headerHeight": 34,
                        "stopEditingWhenCellsLoseFocus": True,
                        "singleClickEdit": True,
                        "tooltipShowDelay": 300,
                        "enableBrowserTooltips": True,
                        "suppressColumnVirtualisation": True,
                    },
                    className="ag-theme-alpine-dark" if reader.scheme == "dark" else "ag-theme-alpine",
                    style={"height": "60vh", "minHeight": "380px"},
                ),
            ),
            html.Div(
                [
                    parts.card("Machine-hour rates", html.Div(_rates(view, settings))),
                    parts.card(
                        "Country and factor set", html.Div(_factor_lines(view, settings), id="assumption-factors")
                    ),
                ],
                className="two",
            ),
        ],
        className="main single",
    )


def _value(row: Assumption, values: dict[str, Any]) -> str:
    value = values.get(row.name)
    return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)


def _rows(view: View, settings: Settings, *, changed: bool = False) -> list[dict[str, str]]:
    base = base_values(settings)
    now = {**base, **view.overrides}
    currency = str(now["plant.currency"])
    return [
        {
            "name": row.name,
            "value": _value(row, now),
            "unit": "" if row.is_text or row.unit in ("-", "0/1") else row.unit_in(currency),
            "range": f"{row.low:g} to {row.high:g}" if row.low is not None and row.high is not None else "",
            "basis": row.basis,
            "meaning": f"{row.meaning}. {row.note}".strip(),
            "source": row.source,
            "default": _value(row, base),
        }
        for row in assumption_table().values()
        if not changed or row.name in view.overrides
    ]


def _count(view: View) -> str:
    count = len(view.overrides)
    return f"{count} {'value differs' if count == 1 else 'values differ'} from a new page."


def _rates(view: View, settings: Settings) -> list[Any]:
    """Return the helper that works out machine-hour rates from purchase prices."""
    now = {**base_values(settings), **view.overrides}
    currency, table = str(now["plant.currency"]), assumption_table()
    tabs, panels = [], []
    for who, (label, group, _) in _MACHINES.items():
        tabs.append(dmc.TabsTab(label, value=who))
        fields = [
            dmc.NumberInput(
                id={"kind": "capital", "name": f"{group}.{part}"},
                label=f"{_short(part)}, {table[f'{group}.{part}'].unit_in(currency)}",
                description=f"{table[f'{group}.{part}'].meaning}.",
                value=now.get(f"{group}.{part}", ""),
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
        dmc.Tabs([dmc.TabsList(tabs), *panels], value="press", id="assumption-machines"),
        html.Div(_rate_lines(view, settings), id="assumption-rates"),
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


def _rate_lines(view: View, settings: Settings) -> Any:
    s = _scenario(view, settings)
    rows = []
    for label, _, rate in _MACHINES.values():
        full, cash = (s.inputs.number(f"{rate}{tail}") for tail in ("_h", "_cash_h"))
        rows.append([label, figures(full), figures(cash), s.origins[f"{rate}_h"]])
    return parts.table(["machine", f"full, {s.currency}/h", f"cash, {s.currency}/h", "from"], rows)


def _scenario(view: View, settings: Settings) -> Scenario:
    try:
        return scenario_of(view.overrides, settings)
    except EvenrunError:
        return scenario_of({}, settings)


def _factor_lines(view: View, settings: Settings) -> list[Any]:
    s = _scenario(view, settings)
    chosen = factor_sets()[s.choices["factors.set"]]
    table = assumption_table()
    rows = [
        [table[f"factors.{role}"].meaning, figures(use.value, 4), table[f"factors.{role}"].unit, use.label, use.proxy]
        for role, use in s.factors.items()
    ]
    return [
        html.P(
            f"Grid {s.choices['plant.country'].upper()}; {chosen['name']}. Change plant.country, factors.set or any factors.* value above.",
            className="quiet",
        ),
        parts.table(["resource", "factor", "unit", "published by", "stands in"], rows),
        html.P(
            f"Publishers: {publishers(s.factors.values())}. All gross, cradle to gate; biogenic CO2 apart.",
            className="quiet",
        ),
    ]


def register(app: Dash, settings: Settings) -> None:
    """Register the view's callbacks."""

    @app.callback(
        Output("state", "data", allow_duplicate=True),
        Output("assumption-problem", "children"),
        Output("assumption-count", "children"),
        Output("assumption-rates", "children"),
        Output("assumption-factors", "children"),
        Output("assumption-grid", "rowData", allow_duplicate=True),
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
        view = from_json(data)
        overrides = dict(view.overrides)
        try:
            for row in edited:
                _change(overrides, str(row["name"]), str(row.get("value") or ""))
            view = View(differing(overrides, settings), view.costing)
            scenario_of(view.overrides, settings)
        except EvenrunError as error:
            rows = _rows(from_json(data), settings, changed=only_changed)
            return no_update, _alert(str(error)), no_update, no_update, no_update, rows
        return (*_shown(view, settings), _rows(view, settings, changed=only_changed))

    @app.callback(
        Output("state", "data", allow_duplicate=True),
        Output("assumption-problem", "children", allow_duplicate=True),
        Output("assumption-count", "children", allow_duplicate=True),
        Output("assumption-rates", "children", allow_duplicate=True),
        Output("assumption-factors", "children", allow_duplicate=True),
        Output("assumption-grid", "rowData", allow_duplicate=True),
        Input({"kind": "work-out", "name": "press"}, "n_clicks"),
        Input({"kind": "work-out", "name": "line"}, "n_clicks"),
        [State({"kind": "capital", "name": f"{g}.{p}"}, "value") for _, g, _ in _MACHINES.values() for p in _CAPITAL],
        State("state", "data"),
        State("assumption-changed", "checked"),
        prevent_initial_call=True,
    )
    def work_out(press: int | None, line: int | None, *given_and_state: Any) -> Any:
        if not (press or line):
            raise PreventUpdate
        *values, data, only_changed = given_and_state
        names = [f"{g}.{p}" for _, g, _ in _MACHINES.values() for p in _CAPITAL]
        view = from_json(data)
        try:
            given = check_values(
                {n: v for n, v in zip(names, values, strict=True) if v not in ("", None)}, where="machine-hour rate"
            )
            kept = {
                n: v
                for n, v in view.overrides.items()
                if not n.startswith(("rates.press_", "rates.laser_h", "rates.laser_cash"))
            }
            view = View(differing({**kept, **given}, settings), view.costing)
            scenario_of(view.overrides, settings)
        except EvenrunError as error:
            return no_update, _alert(str(error)), no_update, no_update, no_update, no_update
        return (*_shown(view, settings), _rows(view, settings, changed=only_changed))

    @app.callback(
        Output("state", "data", allow_duplicate=True),
        Output("assumption-problem", "children", allow_duplicate=True),
        Output("assumption-count", "children", allow_duplicate=True),
        Output("assumption-rates", "children", allow_duplicate=True),
        Output("assumption-factors", "children", allow_duplicate=True),
        Output("assumption-grid", "rowData", allow_duplicate=True),
        Input("assumption-reset", "n_clicks"),
        State("assumption-changed", "checked"),
        prevent_initial_call=True,
    )
    def reset(clicks: int | None, only_changed: bool) -> Any:
        if not clicks:
            raise PreventUpdate
        view = View({})
        return (*_shown(view, settings), _rows(view, settings, changed=only_changed))

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
        return _rows(from_json(data), settings, changed=checked)


def _change(overrides: dict[str, Any], name: str, text: str) -> None:
    """Change one value; an emptied cell takes the change back."""
    if text.strip():
        overrides.update(check_values({name: number_or_text(name, text.strip())}, where="Assumptions"))
    else:
        overrides.pop(name, None)


def _alert(text: str) -> Any:
    return dmc.Alert(text[:1].upper() + text[1:] + ".", title="Not changed", color="red", variant="light", mb="xs")


def _shown(view: View, settings: Settings) -> tuple[Any, ...]:
    state = {**to_json(view), "link": write_link(view, settings)}
    return state, [], _count(view), _rate_lines(view, settings), _factor_lines(view, settings)
