"""The Assumptions view: the whole table, searchable and editable, with what was changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
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
from dashboard.ranges import CELLS, ENDS, SHAPES, cells_of, changed_range, check_view, may_vary, varied_of
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import base_values, differing, from_json, scenario_of, to_json, write_link

_COLUMNS = [
    {"field": "name", "headerName": "Name", "width": 206, "pinned": "left"},
    {
        "field": "value",
        "headerName": "Value",
        "editable": True,
        "width": 100,
        "cellClass": "editable ag-right-aligned-cell",
        "cellClassRules": {"refused": "params.data.refused_value"},
        "headerClass": "ag-right-aligned-header",
    },
    *(
        {
            "field": end,
            "headerName": end.capitalize(),
            "editable": {"function": "params.data.may_vary"},
            "width": 76,
            "cellClass": "ag-right-aligned-cell",
            "cellClassRules": {
                "editable": "params.data.may_vary",
                "own": "params.data.own_range",
                "refused": f"params.data.refused_{end}",
            },
            "headerClass": "ag-right-aligned-header",
        }
        for end in ENDS
    ),
    {
        "field": "shape",
        "headerName": "Shape",
        "editable": {"function": "params.data.may_vary"},
        "width": 92,
        "cellEditor": {"function": "EvenrunShape"},
        "cellEditorParams": {"shapes": list(SHAPES)},
        "cellClassRules": {
            "editable": "params.data.may_vary",
            "own": "params.data.own_range",
            "refused": "params.data.refused_shape",
        },
    },
    {"field": "unit", "headerName": "Unit", "width": 92},
    {
        "field": "meaning",
        "headerName": "What it is",
        "minWidth": 200,
        "flex": 5,
        "cellClassRules": {"why-refused": "params.data.refused_any"},
    },
    {"field": "range", "headerName": "Usual range", "width": 94},
    {"field": "basis", "headerName": "Basis", "width": 104},
    {"field": "source", "headerName": "Source", "minWidth": 134, "flex": 3},
    {"field": "default", "headerName": "New page", "width": 80, "type": "rightAligned"},
]
_MACHINES = {
    "press": ("Die cutter", "press_capital", "rates.press"),
    "line": ("Laser line", "line_capital", "rates.laser"),
}
Refused = Mapping[str, Mapping[str, tuple[str, str]]]
"""What was typed and can't be, by dotted name and cell, and why."""

_EDITED = ("value", *CELLS)
"""Cells that can be edited."""

_LONGEST_TYPED = 200
_CAPITAL = ("purchase", "residual", "life_y", "interest", "space_m2", "space_rate", "maintenance_share", "hours_y")


def layout(view: View, settings: Settings, reader: Reader) -> Any:
    """Return the view for a state."""
    return html.Div(
        [
            html.Div(
                [
                    dmc.Title("Assumptions", order=1, className="answer"),
                    html.P(
                        "Every input with its unit, its usual range and where it is from. Click a value to change it; it counts in every view. "
                        "Low, high and shape say what is varied to tell how sure an answer is; where they are empty, the value is taken as known. "
                        "An emptied cell takes a change back."
                        + (" Values stand here as they are stored, in SI units." if reader.system == "us" else ""),
                        className="quiet",
                    ),
                    html.Div(_notes(view, settings), id="notes", className="messages"),
                    html.Div(id="assumption-problem", role="status", className="problem", **parts.aria(live="polite")),
                    dcc.Store(id="assumption-refused"),
                    # a message in a cell is seen, not heard
                    dmc.VisuallyHidden(html.Div(id="assumption-heard", role="status", **parts.aria(live="polite"))),
                ]
            ),
            parts.card(
                "",
                dmc.Group(
                    [
                        dmc.TextInput(
                            id="assumption-search", label="Search", value=view.find, size="xs", w=260, debounce=200
                        ),
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
                        "quickFilterText": view.find,
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


def _rows(
    view: View, settings: Settings, style: NumberStyle, *, changed: bool = False, refused: Refused | None = None
) -> list[dict[str, Any]]:
    """Return the rows of the grid; what was typed and refused stays, with the reason beside it."""
    base, currency = base_values(settings), _currency(view, settings)
    now, varied = {**base, **view.overrides}, varied_of(view, settings)
    refused = refused or {}

    def shown(row: Assumption) -> dict[str, Any]:
        cells = {"value": _value(row, now, style), **cells_of(row.name, view.ranges, varied, style)}
        not_taken = refused.get(row.name, {})
        said = style.words("; ".join(filter(None, (row.meaning, row.note))))
        return {
            **cells,
            **{cell: typed for cell, (typed, _) in not_taken.items()},
            **{f"refused_{cell}": cell in not_taken for cell in _EDITED},
            "refused_any": bool(not_taken),
            "meaning": _why_not(not_taken, cells) if not_taken else said,
        }

    return [
        {
            "name": row.name,
            **shown(row),
            "may_vary": may_vary(row.name),
            "own_range": row.name in view.ranges,
            "unit": "" if row.is_text or row.unit in ("-", "0/1") else row.unit_in(currency),
            "range": " to ".join(style.write(f"{end:,.10g}") for end in (row.low, row.high) if end is not None),
            "basis": row.basis,
            "source": row.source,
            "default": _value(row, base, style) if row.name in view.overrides else "",
        }
        for row in assumption_table().values()
        if not changed or row.name in view.overrides or row.name in view.ranges or row.name in refused
    ]


def _why_not(not_taken: Mapping[str, tuple[str, str]], cells: dict[str, str]) -> str:
    """Say why what was typed into a row does not count, and what counts until it does."""
    faults = dict.fromkeys(wording.ended(fault) for _, fault in not_taken.values())
    counts = []
    if "value" in not_taken:
        counts.append(f"{cells['value']} counts" if cells["value"] else "it is not given")
    if not_taken.keys() - {"value"}:
        between = f"{cells['low']} to {cells['high']}, {cells['shape']}" if cells["low"] else "no range"
        counts.append(f"{between}, counts" if cells["low"] else f"{between} counts")
    return f"Not changed: {' '.join(faults)} Until then {' and '.join(counts)}."


def _count(view: View) -> str:
    values, ranges = len(view.overrides), len(view.ranges)
    said = f"{values} {'value' if values == 1 else 'values'}"
    if ranges:
        said += f" and {ranges} {'range' if ranges == 1 else 'ranges'}"
    return f"{said} {'differs' if values + ranges == 1 and not ranges else 'differ'} from a new page."


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
        return scenario_of(view.overrides, settings, view.ranges)
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
        State("assumption-refused", "data"),
        prevent_initial_call=True,
    )
    def edit(changes: Any, data: Any, only_changed: bool, refused_so_far: Any) -> Any:
        sent = changes if isinstance(changes, list) else []
        edited = [
            (change["data"], change.get("colId"))
            for change in sent
            if isinstance(change, dict) and isinstance(change.get("data"), dict)
        ]
        known = all(row.get("name") in assumption_table() and cell in _EDITED for row, cell in edited)
        if not edited or len(edited) < len(sent) or not known:
            raise PreventUpdate
        now, style = from_json(data), reader_now().style
        refused = _refused(refused_so_far)
        view = now
        for row, cell in edited:
            name, text = str(row["name"]), str(row.get(cell) or "")
            try:
                changed = _changed_by(view, row, str(cell), settings, style)
                check_view(changed, settings)
            except EvenrunError as error:
                typed = {**refused.get(name, {}), str(cell): (text[:_LONGEST_TYPED], "")}
                fault = _said(error, _currency(now, settings), name)
                refused[name] = {one: (typed[one][0], typed[one][1] or fault) for one in typed}
            else:
                view = changed
                taken = ("value",) if cell == "value" else CELLS
                refused[name] = {one: what for one, what in refused.get(name, {}).items() if one not in taken}
        refused = {name: cells for name, cells in refused.items() if cells}
        shown = _shown(view, settings, only_changed=only_changed, refused=refused)
        return shown if view != now else {**shown, "state": no_update}

    @app.callback(
        {**_what_a_change_shows(), "faults": Output("capital-faults", "data")},
        Input({"kind": "work-out", "name": "press"}, "n_clicks"),
        Input({"kind": "work-out", "name": "line"}, "n_clicks"),
        [State({"kind": "capital", "name": name}, "value") for name in _capital()],
        State("state", "data"),
        State("assumption-changed", "checked"),
        State("assumption-refused", "data"),
        prevent_initial_call=True,
    )
    def work_out(press: int | None, line: int | None, *given_and_state: Any) -> Any:
        if not (press or line):
            raise PreventUpdate
        *values, data, only_changed, refused = given_and_state
        now = from_json(data)
        given = {n: v for n, v in zip(_capital(), values, strict=True) if v not in ("", None)}
        faults = _faults(given, _currency(now, settings))
        nothing = dict.fromkeys(_what_a_change_shows(), no_update)
        if faults:
            return {**nothing, "faults": faults}
        rates = ("rates.press_", "rates.laser_h", "rates.laser_cash")
        kept = {n: v for n, v in now.overrides.items() if not n.startswith(rates)}
        try:
            new = {**kept, **check_values(given, where="machine-hour rate")}
            view = replace(now, overrides=differing(new, settings))
            check_view(view, settings)
        except EvenrunError as error:
            said = parts.problem(wording.ended(_said(error, _currency(now, settings))), title="Not changed")
            return {**nothing, "problem": said, "faults": {}}
        return {**_shown(view, settings, only_changed=only_changed, refused=_refused(refused)), "faults": {}}

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
        return _shown(View({}), settings, only_changed=only_changed, refused={})

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
        State("assumption-refused", "data"),
        prevent_initial_call=True,
    )
    def only_changed(checked: bool, data: Any, refused: Any) -> list[dict[str, str]]:
        return _rows(from_json(data), settings, reader_now().style, changed=checked, refused=_refused(refused))


def _changed_by(view: View, row: Mapping[str, Any], cell: str, settings: Settings, style: NumberStyle) -> View:
    """Change one value or one range; an emptied cell takes the change back."""
    name, text = str(row["name"]), str(row.get(cell) or "").strip()
    if cell != "value":
        return replace(view, ranges=changed_range(row, cell, view.ranges, varied_of(view, settings), style))
    if not text:
        return replace(view, overrides={n: v for n, v in view.overrides.items() if n != name})
    typed = text if assumption_table()[name].is_text else style.read(text)
    values = check_values({name: number_or_text(name, typed)}, where="Assumptions")
    return replace(view, overrides=differing({**view.overrides, **values}, settings))


def _refused(data: Any) -> dict[str, dict[str, tuple[str, str]]]:
    """Read what was typed and refused, as it comes back from the page."""
    return {
        name: kept
        for name, cells in (data if isinstance(data, dict) else {}).items()
        if isinstance(cells, dict)
        and (
            kept := {
                cell: (one[0], one[1])
                for cell, one in cells.items()
                if cell in _EDITED
                and isinstance(one, list)
                and len(one) == 2
                and all(isinstance(text, str) for text in one)
            }
        )
    }


def _said(error: EvenrunError, currency: str, beside: str = "") -> str:
    """Say an error; beside the row of a name without that name."""
    what = error.what.removeprefix(f"the range of {beside} ").removeprefix(beside).strip()
    said = wording.in_currency(f"{what}; {error.remedy}" if error.remedy else what, currency)
    return said if "." in said.partition(" ")[0] else said[:1].upper() + said[1:]  # a dotted name stays one


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


def _what_a_change_shows() -> dict[str, Output]:
    places = {
        "state": ("state", "data"),
        "problem": ("assumption-problem", "children"),
        "heard": ("assumption-heard", "children"),
        "refused": ("assumption-refused", "data"),
        "count": ("assumption-count", "children"),
        "rates": ("assumption-rates", "children"),
        "factors": ("assumption-factors", "children"),
        "rows": ("assumption-grid", "rowData"),
    }
    return {name: Output(place, what, allow_duplicate=True) for name, (place, what) in places.items()}


def _shown(view: View, settings: Settings, *, only_changed: bool, refused: Refused) -> dict[str, Any]:
    style = reader_now().style
    return {
        "state": {**to_json(view), "link": write_link(view, settings)},
        "problem": [],
        "heard": " ".join(
            f"{name} is not changed: {wording.ended(fault)}"
            for name, cells in refused.items()
            for fault in dict.fromkeys(why for _, why in cells.values())
        ),
        "refused": refused,
        "count": _count(view),
        "rates": _rate_lines(view, settings, style),
        "factors": _factor_lines(view, settings, style),
        "rows": _rows(view, settings, style, changed=only_changed, refused=refused),
    }
