"""The Job view: inputs on one side, the answer on the other."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, html
from dash.exceptions import PreventUpdate

from compare.assumptions import Shape
from compare.decide.comparison import Comparison
from compare.decide.uncertainty import Uncertainty
from compare.errors import EvenrunError, InputError
from compare.present import charts, wording
from compare.present.numbers import NumberStyle, days, figures, whole
from compare.present.plotly_pen import draw
from compare.present.wording import ended, in_currency
from compare.readers.jobfile import check_values
from compare.spread import Given
from compare.valuation.money import Costing
from dashboard import parts, quote_maker
from dashboard.fields import (
    FIELDS,
    GROUPS,
    LENGTHS,
    OWN_BOARD,
    RANGED,
    Field,
    component,
    end_key,
    from_screen,
    labelled,
    range_fields,
)
from dashboard.ranges import ENDS, given_of, outside, plain
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import Ranges, base_values, comparison_of, differing, from_json, to_json, write_link
from dashboard.state import State as View
from dashboard.units import System, shown_as
from dashboard.views import drawing, sheet, sure
from dashboard.views.answer import curves_note

_CHARTS = ("curves", "stages", "map", "outline")
_PANELS = ("time", "remarks")


def layout(view: View, settings: Settings, reader: Reader) -> Any:
    """Return the view for a state, with its figures in place."""
    try:
        comparison, good, problem = comparison_of(view, settings), view, ""
    except EvenrunError as error:
        # the inputs of the link stay on screen; the answer is that of a new page until they are mended
        good, problem = View({}, view.costing), _plainly(error)
        comparison = comparison_of(good, settings)
    values, words = _values(comparison, view), reader.style.words
    currency = comparison.scenario.currency
    panels, drawings, certain = (
        _panels(comparison, reader),
        _drawings(comparison, reader),
        sure.said(good, settings, reader),
    )
    drawings["curves"] = certain["chart-curves.figure"] or None, drawings["curves"][1]
    return html.Div(
        [
            html.Aside(
                [
                    dmc.Button(
                        "Inputs", id="inputs-toggle", variant="default", fullWidth=True, className="only-narrow"
                    ),
                    html.Div(
                        [
                            _group(title, group, values, view.ranges, currency=currency, reader=reader)
                            for title, group in GROUPS
                        ],
                        id="inputs",
                        className="inputs",
                    ),
                ],
                className="side",
                **parts.aria(label="Inputs"),
            ),
            html.Div(
                [
                    *_notes(view, currency),
                    dmc.Paper(
                        [
                            html.Div(
                                certain["panel-answer.children"],
                                id="panel-answer",
                                role="status",
                                **parts.aria(live="polite"),
                            ),
                            dmc.Group(
                                [
                                    dmc.SegmentedControl(
                                        id="costing",
                                        data=[
                                            {"value": "full", "label": "Full costing"},
                                            {"value": "cash", "label": "Cash costing"},
                                        ],
                                        value=view.costing,
                                        size="xs",
                                        **parts.aria(label="Costing"),
                                    ),
                                    dmc.Button("Copy link", id="copy-link", size="xs", variant="default"),
                                    dmc.TextInput(
                                        id="case-name",
                                        placeholder="Name of this case",
                                        size="xs",
                                        w=150,
                                        **parts.aria(label="Name of this case"),
                                    ),
                                    dmc.Button("Save as a case", id="save-case", size="xs", variant="default"),
                                    dmc.Button("Client link", id="client-open", size="xs", variant="default"),
                                    dmc.Button("Quote", id="quote-open", size="xs", variant="default"),
                                    html.Span("", id="done", role="status", className="done"),
                                ],
                                gap="xs",
                                my="xs",
                            ),
                            _client_box(),
                            quote_maker.quote_box(),
                            parts.chart("curves", *drawings["curves"]),
                            curves_note(),
                        ],
                        className="card",
                        withBorder=True,
                        radius="md",
                    ),
                    html.Div(
                        [
                            parts.card(
                                words(
                                    f"Where the money goes, {comparison.scenario.currency} per 1,000, board and print apart"
                                ),
                                parts.chart("stages", *drawings["stages"]),
                            ),
                            parts.card(
                                words("CO2e, kg per 1,000 cartons"),
                                html.Div(certain["panel-carbon.children"], id="panel-carbon"),
                            ),
                            parts.card(
                                words("Waste board, kg per 1,000 cartons"),
                                html.Div(certain["panel-waste.children"], id="panel-waste"),
                            ),
                        ],
                        className="three",
                    ),
                    sure.card(certain),
                    parts.card("Run length and versions", parts.chart("map", *drawings["map"]), html.Div(id="no-map")),
                    html.Div(
                        [
                            parts.card("Time and stock", html.Div(panels["time"], id="panel-time")),
                            parts.card(
                                "Carton as cut", parts.chart("outline", *drawings["outline"]), _no_outline(comparison)
                            ),
                        ],
                        className="two",
                    ),
                    sheet.card(comparison, reader),
                    parts.card("", html.Div(panels["remarks"], id="panel-remarks"), *standing_remarks()),
                    dmc.Accordion(
                        dmc.AccordionItem(
                            [
                                dmc.AccordionControl("Why: every line behind the figures"),
                                dmc.AccordionPanel(html.Div(id="ledger")),
                            ],
                            value="ledger",
                        ),
                        id="ledger-open",
                        value=None,
                        variant="contained",
                        className="card-plain",
                    ),
                    html.Div(
                        _problem(problem, currency) if problem else [],
                        id="problem",
                        role="status",
                        className="problem",
                        **parts.aria(live="polite"),
                    ),
                ],
                id="job-main",
                className="main",
            ),
        ],
        className="job",
    )


def _values(comparison: Comparison, view: View) -> dict[str, Any]:
    """Return what each field shows: what the link says, else what the engine used."""
    s = comparison.scenario
    return {name: view.overrides.get(name, s.choices.get(name, s.inputs.get(name))) for name in FIELDS}


def _group(
    title: str, group: tuple[Field, ...], values: dict[str, Any], ranges: Ranges, *, currency: str, reader: Reader
) -> Any:
    shown = {"style": bool(values["carton.style"]), "own board": not values["board.grade"]}
    shown["lengths"] = not shown["style"]
    cells = [
        html.Div(
            component(field, values[field.name], reader.system, currency, reader.style),
            id={"kind": "cell", "name": field.name},
            className="field " + ("wide" if field.kind != "number" or field.name == "demand.run_length" else "half"),
            hidden=bool(field.when) and not shown[field.when],
        )
        for field in group
    ]
    if title == "Orders":
        ends = range_fields(given_of(ranges, RANGED), reader.style)
        cells[1:1] = [html.Div(end, className="field half") for end in ends]
    if title == "Carton":
        cells.append(drawing.upload())
    return parts.card(title, html.Div(cells, className="cells"))


def _client_box() -> Any:
    return dmc.Collapse(
        dmc.Group(
            [
                parts.margin_field("margin"),
                dmc.Button("Make the link", id="client-make", size="xs"),
                html.Div(id="client-link", className="client-link"),
            ],
            align="flex-end",
            gap="sm",
        ),
        id="client-box",
        opened=False,
        className="client-box",
    )


def _notes(view: View, currency: str) -> list[Any]:
    notes = [dmc.Alert(in_currency(note, currency), color="yellow", variant="light", mb="xs") for note in view.notes]
    return [html.Div(notes, id="notes")] if notes else []


def _problem(text: str, currency: str) -> Any:
    said = in_currency(labelled(text), currency)
    said = f"{ended(said[:1].upper() + said[1:])} The figures are those of the last good inputs."
    return parts.problem(said, title="Not computed")


def _plainly(error: EvenrunError) -> str:
    """Say an error without the place it was found in, where that is the page one looks at."""
    where = "" if error.where in ("job", "page", "this page") else error.where
    return str(EvenrunError(error.what, where=where, remedy=error.remedy))


def _no_outline(comparison: Comparison) -> Any:
    hidden = comparison.scenario.blank is not None
    return html.P(
        "Lengths were given without a style, so there is nothing to draw.",
        id="no-outline",
        className="quiet",
        hidden=hidden,
    )


def _drawings(c: Comparison, reader: Reader) -> dict[str, tuple[dict[str, Any] | None, str]]:
    """Return each chart with its words; ``None`` where there is nothing to draw."""
    drawn: dict[str, tuple[dict[str, Any] | None, str]] = {}
    for name, spec in chart_specs(c, reader.system).items():
        drawn[name] = (draw(spec, reader.scheme, reader.style), spec.summary) if spec else (None, "Nothing to draw.")
    return drawn


def chart_specs(
    c: Comparison, system: System = "metric", unsure: Uncertainty | None = None
) -> dict[str, charts.Chart | None]:
    """Return the view's charts as specs; ``None`` where there is nothing to draw."""
    blank = c.scenario.blank
    possible = c.die.feasible or c.laser.feasible
    return {
        "curves": charts.break_even_chart(c, unsure=unsure) if possible else None,
        "stages": charts.stage_chart(c) if possible else None,
        "map": charts.advantage_map(c),
        "outline": charts.outline_chart(blank, inches=system == "us") if blank else None,
    }


def _panels(c: Comparison, reader: Reader) -> dict[str, Any]:
    return {"time": _time(c, reader.style), "remarks": remarks_panel(c, reader.style)}


def _time(c: Comparison, style: NumberStyle) -> Any:
    def row(label: str, die: str, laser: str) -> list[str]:
        return [label, die if c.die.feasible else "not possible", laser if c.laser.feasible else "not possible"]

    d, b, x = c.die, c.laser, c.scenario.inputs
    rows = [
        row("lead time, first order", days(d.lead_time_days, style), days(b.lead_time_days, style)),
        row("machine hours, programme", *(figures(float(r.inventory.machine_hours), style=style) for r in (d, b))),
        row("sheets through the machine", *(whole(float(r.inventory.sheets), style) for r in (d, b))),
        row("cartons per sheet", whole(x.number("layout.ups_die"), style), whole(x.number("layout.ups_laser"), style)),
        row(
            style.words("electricity, kWh per 1,000"),
            *(figures(float(r.inventory.kwh) / r.thousands, style=style) for r in (d, b)),
        ),
    ]
    if c.orders > 1:
        rows.append(
            row("economic lot, cartons", *(whole(r.economic_lot, style) if r.economic_lot else "-" for r in (d, b)))
        )
    return parts.table(["per route", "die", "laser"], rows)


def remarks_panel(c: Comparison, style: NumberStyle, *, own_findings: bool = True) -> list[Any]:
    """Return what is not possible, and findings."""
    said = [(f.kind == "not possible", style.words(f.message)) for f in c.findings]
    return _blocks(
        ("Not possible", [message for stops, message in said if stops]),
        ("Findings", [message for stops, message in said if not stops] if own_findings else []),
    )


def standing_remarks() -> list[Any]:
    """Return what is not included, and cautions: the same for every job."""
    return _blocks(("Not included", list(wording.NOT_INCLUDED)), ("Cautions", list(wording.CAUTIONS)))


def _blocks(*blocks: tuple[str, list[str]]) -> list[Any]:
    shown: list[Any] = []
    for title, items in blocks:
        if items:
            shown += [dmc.Title(title, order=2, className="card-title"), parts.lines(items)]
    return shown


def _ledger(c: Comparison, style: NumberStyle) -> Any:
    head = ["route", "stage", "resource", "quantity", "unit", c.scenario.currency, "kg CO2e", "because"]
    used = [row for row in c.ledger if row.quantity]
    body = [
        [
            row.route,
            row.stage,
            row.resource,
            figures(row.quantity, 4, style),
            row.unit,
            "-" if row.no_price else figures(row.money, 4, style),
            "-" if row.no_carbon else figures(row.co2e_kg, 3, style),
            style.words(row.because),
        ]
        for row in used
    ]
    reasons = {f"{row.resource}: {row.no_carbon or row.no_price}." for row in used if row.no_carbon or row.no_price}
    programme = f"Over the programme of {whole(c.run_length * c.orders, style)} cartons; {wording.basis(c)}."
    return [
        html.P(programme, className="quiet"),
        parts.table(head, body),
        dmc.Title("Without a price or a factor", order=3, className="card-title"),
        parts.lines(sorted(reasons)),
    ]


def from_page(sent: object) -> tuple[dict[str, Any], Costing]:
    """Read what the page gathered from its fields; values are checked one by one by :func:`read_fields`.

    Raises
    ------
    InputError
        If it is not what the page's own script sends.
    """
    fields = sent.get("fields") if isinstance(sent, dict) else None
    if not isinstance(sent, dict) or not isinstance(fields, dict):
        raise InputError("the page's fields can't be read", where="page", remedy="load the page again")
    return fields, "cash" if sent.get("costing") == "cash" else "full"


def read_fields(
    shown: dict[str, Any], now: View, system: System, used: dict[str, Any]
) -> tuple[dict[str, Any], dict[str, str]]:
    """Turn what the fields show into values, and collect what is wrong with them.

    Parameters
    ----------
    shown : dict
        What each field shows, by dotted name.
    now : State
        The state before.
    system : {"metric", "us"}
        Units on screen.
    used : dict
        What the engine uses now, by dotted name: fields left alone keep it to the last digit.

    Returns
    -------
    values : dict
        Checked values by dotted name.
    faults : dict
        What is wrong, by dotted name.
    """
    by_style, own_board = shown.get("carton.style") != LENGTHS, shown.get("board.grade") == OWN_BOARD
    skipped = {"style": not by_style, "lengths": by_style, "own board": not own_board}
    # a group that comes on screen with this change starts from what is used now
    fresh = {"lengths": bool(used.get("carton.style")), "own board": bool(used.get("board.grade"))}
    currency = str(used["plant.currency"])
    good: dict[str, Any] = {}
    faults: dict[str, str] = {}
    for name, value in shown.items():
        field = FIELDS.get(name)
        if field is None or skipped.get(field.when, False):
            continue
        current = now.overrides.get(name, used.get(name))
        stored = current if fresh.get(field.when) else from_screen(field, value, system, current)
        if stored in ("", None) and field.kind == "number":
            if current is not None:
                unit = shown_as(name, field.row.unit_in(currency), system).unit
                faults[name] = f"give a number{f' in {unit}' if unit else ''}"
            continue
        if stored is current and stored is not None:  # left alone, and checked when it came
            good[name] = stored
            continue
        try:
            good.update(check_values({name: stored}, where=field.label))
        except EvenrunError as error:
            faults[name] = _fault(error, field, system, currency)
    return good, faults


def read_run_range(shown: dict[str, Any], now: Ranges, currency: str) -> tuple[dict[str, str], dict[str, str]]:
    """Read the fields of the range that the run length may lie in; a shape that was chosen elsewhere stays.

    Parameters
    ----------
    shown : dict
        What each field shows, by name.
    now : mapping
        Ranges before.
    currency : str
        Of the plant.

    Returns
    -------
    ranges : dict
        Ranges after.
    faults : dict
        What is wrong, by name of field.
    """
    before, others = given_of(now, RANGED), {name: text for name, text in now.items() if name != RANGED}
    ends = {end: shown[end_key(end)] for end in ENDS if shown.get(end_key(end)) not in ("", None)}
    if not ends:
        stays = before is not None and before.low is None  # no field could show it
        return (dict(now) if stays else others), {}
    faults = {end_key(end): "give both ends, or none" for end in ENDS if end not in ends}
    for end, value in ends.items():
        try:
            ends[end] = check_values({RANGED: value}, where=RANGED)[RANGED]
        except EvenrunError as error:
            faults[end_key(end)] = _fault(error, FIELDS[RANGED], "metric", currency)
    if not faults and ends["low"] > ends["high"]:
        faults[end_key("low")] = "is above the other end; exchange them"
    if faults:
        return dict(now), faults
    shape: Shape = "pert" if before is not None and before.shape == "pert" else "triangular"
    return {**others, RANGED: str(Given(shape, ends["low"], ends["high"]))}, {}


def outside_ranges(
    values: dict[str, Any], ranges: Ranges, system: System, currency: str, style: NumberStyle
) -> dict[str, str]:
    """Return the fields whose value lies outside the range that was given for it, with what to do."""
    faults = {}
    for name in ranges.keys() & values.keys():
        range_ = given_of(ranges, name)
        if range_ is not None and isinstance(values[name], float) and outside(range_, values[name]):
            as_shown = shown_as(name, FIELDS[name].row.unit_in(currency), system)
            low, high = (plain(as_shown.show(end or 0.0), style) for end in (range_.low, range_.high))
            faults[name] = f"outside its range, {low} to {high}; change one of them"
    return faults


def _fault(error: EvenrunError, field: Field, system: System, currency: str) -> str:
    """Say what is wrong with a field in the units it is shown in; limits of sizes are 0, the same in any unit."""
    unit, shown = field.row.unit, shown_as(field.name, field.row.unit_in(currency), system).unit
    what = error.what.removeprefix(field.name).split(" (it is ")[0].strip()
    # what a number must be says what to do as well, and there is little room beside a field
    return what if what.startswith("must be") else f"{what}; {error.remedy.replace(f' in {unit}', f' in {shown}')}"


def _stand_ins(shown: dict[str, Any], used: dict[str, Any]) -> dict[str, float]:
    """Return what stands in for a planned path where a style is given up for its lengths, so that its seconds stay.

    Nobody knows any more where the lines lie; the mean jump and the balance of their path are still the best estimate.
    """
    if not used.get("carton.style") or shown.get("carton.style") != LENGTHS:
        return {}
    return {name: float(used[name]) for name in ("laser.mean_jump_mm", "laser.balance")}


def _kept(now: View) -> dict[str, float | str]:
    """Return the overrides that no field shows."""
    return {name: value for name, value in now.overrides.items() if name not in FIELDS}


def register(app: Dash, settings: Settings) -> None:
    """Register the view's callbacks."""

    @app.callback(Output("answered", "data"), Input("shown", "data"), State("state", "data"), prevent_initial_call=True)
    def answer(sent: Any, data: Any) -> Any:
        """Return what changes on the page; what is left out keeps the last good answer."""
        shown, costing = from_page(sent)
        now, reader = from_json(data), reader_now()
        used = _used(now, settings)
        currency = str(used["plant.currency"])
        values, faults = read_fields(shown, now, reader.system, used)
        ranges, of_range = read_run_range(shown, now.ranges, currency)
        faults = {**outside_ranges(values, ranges, reader.system, currency, reader.style), **faults, **of_range}
        if faults:
            return {"faults.data": faults}
        fields = {name: value for name, value in values.items() if _chosen(name, value, now, used)}
        overrides = differing({**_stand_ins(shown, used), **_kept(now), **fields}, settings)
        view = View(overrides, costing, ranges=ranges)
        try:
            c = comparison_of(view, settings)
        except EvenrunError as error:
            return {"problem.children": _problem(_plainly(error), currency), "faults.data": {}}
        said: dict[str, Any] = {f"panel-{name}.children": panel for name, panel in _panels(c, reader).items()}
        for name, (figure, words) in _drawings(c, reader).items():
            said[f"chart-{name}.figure"] = figure or {}
            said[f"chart-{name}-words.children"] = words
            said[f"place-{name}.hidden"] = figure is None
        if (structure := _structure(view, settings)) != _structure(now, settings):
            said["structure.data"] = structure
        return {
            **said,
            "no-outline.hidden": c.scenario.blank is not None,
            "problem.children": [],
            "job-main.className": sure.AWAITING,
            "state.data": {**to_json(view), "link": write_link(view, settings)},
            "faults.data": {},
        }

    # one message back, too, which the browser takes apart: an output each would cost the server more than the figures
    app.clientside_callback(
        ClientsideFunction("evenrun", "spread"),
        [
            *(Output(f"panel-{name}", "children") for name in _PANELS),
            *(Output(f"chart-{name}", "figure") for name in _CHARTS),
            *(Output(f"chart-{name}-words", "children") for name in _CHARTS),
            *(Output(f"place-{name}", "hidden") for name in _CHARTS),
            Output("no-outline", "hidden"),
            Output("problem", "children"),
            Output("job-main", "className"),
            Output("state", "data"),
            Output("faults", "data"),
            Output("structure", "data"),
        ],
        Input("answered", "data"),
        prevent_initial_call=True,
    )

    @app.callback(
        Output("ledger", "children"),
        Input("ledger-open", "value"),
        Input("state", "data"),
        prevent_initial_call=True,
    )
    def ledger(opened: str | None, data: Any) -> Any:
        if not opened:
            raise PreventUpdate
        view = from_json(data)
        return _ledger(comparison_of(view, settings), reader_now().style)

    @app.callback(
        Output("download", "data"),
        Input({"kind": "numbers", "chart": ALL}, "n_clicks"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def numbers_of_chart(clicks: list[int | None], data: Any) -> Any:
        if not any(clicks) or not isinstance(ctx.triggered_id, dict):
            raise PreventUpdate
        view, name = from_json(data), ctx.triggered_id["chart"]
        spec = _spec(view, name, settings)
        if spec is None:
            raise PreventUpdate
        return {"content": charts.as_csv(spec), "filename": f"evenrun-{name}.csv", "type": "text/csv", "base64": False}

    # one message with all fields: the server takes a third of its time to sort out a list per kind of component
    app.clientside_callback(
        ClientsideFunction("evenrun", "gather"),
        Output("shown", "data"),
        Input({"kind": "number", "name": ALL}, "value"),
        Input({"kind": "select", "name": ALL}, "value"),
        Input({"kind": "switch", "name": ALL}, "checked"),
        Input("costing", "value"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "showFaults"),
        Output({"kind": "number", "name": ALL}, "error"),
        Input("faults", "data"),
        State({"kind": "number", "name": ALL}, "id"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "toggle"),
        Output("client-box", "opened"),
        Input("client-open", "n_clicks"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "unfold"),
        Output("content", "className"),
        Input("inputs-toggle", "n_clicks"),
        State("content", "className"),
        prevent_initial_call=True,
    )


def _spec(view: View, name: str, settings: Settings) -> charts.Tabular | None:
    """Return a chart of the view as a spec, with all that is drawn of it."""
    if name == "tornado":
        return sure.spec(view, settings)
    c = comparison_of(view, settings)
    if name in sheet.CHARTS:
        return sheet.spec(c, name)
    return chart_specs(c, reader_now().system, sure.found(view, settings)[0]).get(name)


def _used(now: View, settings: Settings) -> dict[str, Any]:
    """Return what the engine uses for the state before a change; for one that can't be computed, a new page's."""
    try:
        s = comparison_of(now, settings).scenario
    except EvenrunError:
        s = comparison_of(View({}), settings).scenario
    return {**s.inputs, **s.choices}


def _structure(view: View, settings: Settings) -> list[bool]:
    """Say which groups of fields a state shows; where they change, the view is laid out anew."""
    values = {**base_values(settings), **view.overrides}
    return [bool(values.get("carton.style")), bool(values.get("board.grade"))]


def _chosen(name: str, value: Any, now: View, used: dict[str, Any]) -> bool:
    """Say whether a field holds a choice of the user, and not a value that was worked out.

    A field of lengths or of an own board is a choice as soon as it is on screen. Any other field is one
    if it says something else than what is used now, or if it was chosen before.
    """
    return bool(FIELDS[name].when in ("lengths", "own board")) or name in now.overrides or used.get(name) != value
