"""The drawing of a job: uploaded, its lines mapped to kinds, measured, and taken over as the carton."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from compare.decide.comparison import Comparison, compare
from compare.errors import EvenrunError, Finding, InputError
from compare.geometry.line_kinds import ALL_KINDS, label_of
from compare.geometry.measure import groups_of
from compare.geometry.strokes import Drawing, Group
from compare.present.drawing_charts import drawing_chart, sheet_chart
from compare.present.numbers import NumberStyle
from compare.present.plotly_pen import draw
from compare.readers.drawn_carton import DrawnCarton, drawn_carton
from compare.readers.jobfile import Layer
from compare.readers.line_map import LineMap, Rule, apply, line_map_text, rule_for
from compare.readers.line_words import suggest
from compare.scenario import prepare
from dashboard import parts
from dashboard.reader import Reader, reader_now
from dashboard.settings import Settings
from dashboard.state import State as View
from dashboard.state import differing, from_json, starter, to_json, write_link
from dashboard.uploads import UPLOAD_BYTES, drawing_of, keep

UNITS = ("mm", "cm", "m", "in", "pt", "px96", "px90")
_UNIT_WORDS = {"px96": "pixels, 96 per inch", "px90": "pixels, 90 per inch", "pt": "points", "in": "inch"}
_MOST_RULES = 500
_TAKEN = ("work.", "carton.blank_", "layout.ups_")
"""Inputs that a drawing answers."""


def upload() -> Any:
    """Return the place to drop a drawing."""
    return html.Div(
        dcc.Upload(
            dmc.Text(
                ["Drop a drawing here, or ", html.Span("choose a file", className="like-a-link")],
                size="xs",
                ta="center",
            ),
            id="drawing-upload",
            max_size=UPLOAD_BYTES,
            className="upload",
            accept=".dxf,.svg,.pdf,.xjdf,.jdf,.xml",
        ),
        className="field wide upload-place",
        title=f"DXF, SVG, PDF, XJDF or JDF, up to {UPLOAD_BYTES / 1e6:g} MB",
    )


def panel() -> Any:
    """Return the place of an uploaded drawing; empty until there is one, and seen in the Job view only."""
    return html.Section(
        dcc.Loading(html.Div(id="drawing-panel"), delay_show=400, overlay_style={"visibility": "visible"}),
        className="drawing-place",
        **parts.aria(label="Drawing"),
    )


def stores() -> list[Any]:
    """Return what stays while views come and go: the drawing at hand, and the map kept in this browser."""
    return [
        dcc.Store(id="drawing"),
        dcc.Store(id="drawing-offers"),
        dcc.Store(id="drawing-seen"),
        dcc.Store(id="line-map", storage_type="local", data=[]),
    ]


def register(app: Dash, settings: Settings) -> None:
    """Register the callbacks."""

    @app.callback(
        Output("drawing", "data"),
        Output("problem", "children", allow_duplicate=True),
        Input("drawing-upload", "contents"),
        State("drawing-upload", "filename"),
        prevent_initial_call=True,
    )
    def take(contents: Any, filename: Any) -> Any:
        if contents is None:
            raise PreventUpdate
        try:
            token = keep(contents, filename)
            drawing_of(token, None)
        except EvenrunError as error:
            return no_update, [parts.problem(f"{error}.", title="Not read")]
        return {"token": token, "unit": None}, []

    @app.callback(
        Output("drawing-panel", "children"),
        Output("drawing-offers", "data"),
        Input("drawing", "data"),
        State("line-map", "data"),
    )
    def show(data: Any, rules: Any) -> Any:
        if not data:
            return [], []
        name, drawing = _drawing(data)
        groups = groups_of(drawing)
        kinds = apply(_line_map(rules), groups)
        offers = [offer.kind if offer else None for offer in suggest(groups)]
        return _panel(name, drawing, kinds, offers, data), offers

    @app.callback(
        Output("drawing", "data", allow_duplicate=True),
        Input("drawing-unit", "value"),
        State("drawing", "data"),
        prevent_initial_call=True,
    )
    def state_unit(unit: Any, data: Any) -> Any:
        if not data or unit not in UNITS or unit == data.get("unit"):
            raise PreventUpdate
        return {**data, "unit": unit}

    @app.callback(
        Output("drawing-answer", "children"),
        Output("line-map", "data"),
        Input({"kind": "drawing-line", "number": ALL}, "value"),
        State("drawing", "data"),
        State("line-map", "data"),
        State("state", "data"),
    )
    def measured(values: list[Any], data: Any, rules: Any, state: Any) -> Any:
        if not data:
            raise PreventUpdate
        name, drawing = _drawing(data)
        groups = groups_of(drawing)
        if len(values) != len(groups) or drawing.mm_per_unit is None:
            raise PreventUpdate
        line_map = _confirmed(_line_map(rules), groups, values)
        reader = reader_now()
        carton = drawn_carton(drawing, name, line_map)
        return _answer(carton, from_json(state), settings, reader), _as_data(line_map)

    @app.callback(
        Output("state", "data", allow_duplicate=True),
        Output("structure", "data", allow_duplicate=True),
        Output("done", "children", allow_duplicate=True),
        Input("drawing-use", "n_clicks"),
        State("drawing", "data"),
        State("line-map", "data"),
        State("state", "data"),
        prevent_initial_call=True,
    )
    def use(clicks: Any, data: Any, rules: Any, state: Any) -> Any:
        if not clicks or not data:
            raise PreventUpdate
        name, drawing = _drawing(data)
        now = from_json(state)
        c = _comparison(drawn_carton(drawing, name, _line_map(rules)), now, settings)
        taken = {n: v for n, v in c.scenario.inputs.items() if n.startswith(_TAKEN) and isinstance(v, float)}
        of_the_carton = ("carton.", "work.", "layout.", "cutouts.")
        kept = {n: v for n, v in now.overrides.items() if not n.startswith(of_the_carton)}
        ranges = {n: text for n, text in now.ranges.items() if not n.startswith(of_the_carton)}
        view = View(differing({**kept, **taken, "carton.style": ""}, settings), now.costing, ranges=ranges)
        return {**to_json(view), "link": write_link(view, settings)}, [name], f"Taken from {name}"

    @app.callback(
        Output("download", "data", allow_duplicate=True),
        Input("drawing-map", "n_clicks"),
        State("line-map", "data"),
        prevent_initial_call=True,
    )
    def save_map(clicks: Any, rules: Any) -> Any:
        if not clicks:
            raise PreventUpdate
        text = line_map_text(_line_map(rules))
        return {"content": text, "filename": "lines.toml", "type": "application/toml", "base64": False}

    @app.callback(
        Output("drawing", "data", allow_duplicate=True),
        Input("drawing-close", "n_clicks"),
        prevent_initial_call=True,
    )
    def close(clicks: Any) -> Any:
        if not clicks or ctx.triggered_id != "drawing-close":
            raise PreventUpdate
        return None

    app.clientside_callback(
        ClientsideFunction("evenrun", "takeOffers"),
        Output({"kind": "drawing-line", "number": ALL}, "value"),
        Input("drawing-confirm", "n_clicks"),
        State({"kind": "drawing-line", "number": ALL}, "value"),
        State("drawing-offers", "data"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("evenrun", "pointAt"),
        Output("drawing-seen", "data"),
        Input({"kind": "drawing-finding", "number": ALL}, "n_clicks"),
        Input("chart-drawing", "clickData"),
        prevent_initial_call=True,
    )


# -- what comes from the page -----------------------------------------------------------------------------------------


def _drawing(data: Any) -> tuple[str, Drawing]:
    token, unit = (data.get(key) if isinstance(data, dict) else None for key in ("token", "unit"))
    if not isinstance(token, str) or (unit is not None and unit not in UNITS):
        raise InputError("the drawing can't be found", where="page", remedy="upload it again")
    return drawing_of(token, unit)


def _line_map(data: Any) -> LineMap:
    """Read the rules that this browser keeps; what is none is left out."""
    rules = []
    for one in data[:_MOST_RULES] if isinstance(data, list) else []:
        if isinstance(one, dict) and one.get("kind") in ALL_KINDS:
            keys = {key: one.get(key) for key in ("layer", "colour", "linetype", "step", "code")}
            if all(text is None or (isinstance(text, str) and len(text) < 500) for text in keys.values()):
                rules.append(Rule(one["kind"], **keys))
    return LineMap("lines of this browser", tuple(rules))


def _as_data(line_map: LineMap) -> list[dict[str, str]]:
    return [{key: text for key, text in vars(rule).items() if text is not None} for rule in line_map.rules]


def _confirmed(line_map: LineMap, groups: tuple[Group, ...], values: list[Any]) -> LineMap:
    """Return the map with what the user chose; a choice stands before what was chosen earlier."""
    rules = {str(rule).rpartition(" is ")[0]: rule for rule in line_map.rules}
    for group, value, known in zip(groups, values, apply(line_map, groups), strict=True):
        if value in ALL_KINDS and value != known:
            rule = rule_for(group, value)
            rules[str(rule).rpartition(" is ")[0]] = rule
        elif value in (None, "") and known is not None:
            rules.pop(str(rule_for(group, known)).rpartition(" is ")[0], None)
    return LineMap(line_map.name, tuple(rules.values())[-_MOST_RULES:])


def _comparison(carton: DrawnCarton, now: View, settings: Settings) -> Comparison:
    """Compare the job on screen with the drawing's carton in place of its own."""
    of_the_carton = ("carton.", "work.", "layout.ups", "cutouts.")
    own = {n: v for n, v in starter().values.items() if not n.startswith("carton.")}
    overrides = {n: v for n, v in now.overrides.items() if not n.startswith(of_the_carton)}
    drawn = Layer(carton.name, {"carton.drawing": carton.name}, drawn=carton)
    return compare(prepare(settings.plant, Layer("new page", own), drawn, Layer("this page", overrides)), now.costing)


# -- what is shown ----------------------------------------------------------------------------------------------------


def _panel(name: str, drawing: Drawing, kinds: Any, offers: list[Any], data: dict[str, Any]) -> Any:
    unit = [
        dmc.Select(
            id="drawing-unit",
            label="Unit of the drawing",
            description=f"{drawing.unit or 'not known'}: {drawing.unit_source}.",
            placeholder="as the file says" if drawing.mm_per_unit else "say the unit",
            data=[{"value": u, "label": _UNIT_WORDS.get(u, u)} for u in UNITS],
            value=data.get("unit"),
            error=None if drawing.mm_per_unit else "Lengths need a unit.",
            size="xs",
            w=260,
        )
    ]
    options = [{"value": kind, "label": label_of(kind)} for kind in ALL_KINDS]
    lengths = _lengths(drawing)
    rows = [
        dmc.TableTr(
            [
                dmc.TableTd(_called(group)),
                dmc.TableTd(lengths[number], ta="right"),
                dmc.TableTd(
                    dmc.Select(
                        id={"kind": "drawing-line", "number": number},
                        data=options,
                        value=kind,
                        placeholder=f"{label_of(offer)}?" if offer else "choose",
                        clearable=True,
                        size="xs",
                        **parts.aria(label=f"Kind of the lines {_called(group)}"),
                    )
                ),
            ]
        )
        for number, (group, kind, offer) in enumerate(zip(groups_of(drawing), kinds, offers, strict=True))
    ]
    open_offers = any(kind is None and offer for kind, offer in zip(kinds, offers, strict=True))
    return parts.card(
        f"Drawing {name}",
        html.Div(
            [
                html.Div(
                    className="words-last",
                    children=[
                        *unit,
                        dmc.Table(
                            [
                                dmc.TableThead(
                                    dmc.TableTr(
                                        [
                                            dmc.TableTh("lines"),
                                            dmc.TableTh("as drawn, mm", ta="right"),
                                            dmc.TableTh("are"),
                                        ]
                                    )
                                ),
                                dmc.TableTbody(rows),
                            ],
                            verticalSpacing=4,
                            className="plain",
                            my="xs",
                        ),
                        dmc.Group(
                            [
                                dmc.Button(
                                    "Confirm the suggestions",
                                    id="drawing-confirm",
                                    size="xs",
                                    variant="default",
                                    disabled=not open_offers,
                                ),
                                dmc.Button("Line map", id="drawing-map", size="xs", variant="default"),
                                dmc.Button("Close", id="drawing-close", size="xs", variant="default"),
                            ],
                            gap="xs",
                        ),
                    ],
                ),
                html.Div(id="drawing-answer", role="status", **parts.aria(live="polite")),
            ],
            className="drawing",
        ),
    )


def _lengths(drawing: Drawing) -> list[str]:
    if drawing.mm_per_unit is None:
        return ["-"] * len(groups_of(drawing))
    carton = drawn_carton(drawing, "drawing")
    style = reader_now().style
    return [style.write(f"{lines.drawn_mm:,.1f}") for lines in carton.measured.groups]


def _called(group: Group) -> str:
    step = "/".join(filter(None, (group.step_group, group.step_type)))
    code = f"code {group.code}" if group.code else ""
    return " ".join(filter(None, (group.layer or "(no layer)", step, code, group.colour, group.linetype)))


def _answer(carton: DrawnCarton, now: View, settings: Settings, reader: Reader) -> list[Any]:
    style = reader.style
    try:
        c: Comparison | None = _comparison(carton, now, settings)
        problem = ""
    except EvenrunError as error:
        no_cut = not carton.measured.work.cutting_m
        c, problem = None, "Say which lines are cut, to go on." if no_cut else f"{error}."
    findings = list(carton.findings)
    if c is not None:
        findings += [f for route in (c.die, c.laser) for f in route.findings if f.at]
    chart = drawing_chart(carton, findings)
    shown = [
        parts.picture("drawing", draw(chart, reader.scheme, style), chart.summary),
        html.P(style.words(_lengths_in_words(carton)), className="quiet"),
        _finding_list(findings, style),
    ]
    if c is None:
        return [*shown, html.P(problem[:1].upper() + problem[1:], className="quiet")]
    sheets = []
    for route, layout in c.scenario.layouts.items():
        outline = carton.measured.outline
        if outline is not None:
            x = c.scenario.inputs
            size = (x.number("sheet.width_mm"), x.number("sheet.length_mm"))
            of_sheet = sheet_chart(outline, layout, size, route)
            sheets.append(
                html.Div(
                    [
                        html.P(style.words(of_sheet.summary), className="quiet"),
                        parts.picture(f"sheet-{route}", draw(of_sheet, reader.scheme, style), of_sheet.summary),
                    ]
                )
            )
    return [
        *shown,
        html.Div(sheets, className="two"),
        dmc.Button("Use it as the carton of this job", id="drawing-use", size="xs"),
    ]


def _lengths_in_words(carton: DrawnCarton) -> str:
    m = carton.measured
    by_kind = [f"{label_of(k.kind)} {k.length_mm / 1000:,.3f} m" for k in m.kinds]
    area = f"blank {m.blank_area_mm2 / 100:,.1f} cm2 net" if m.blank_area_mm2 else ""
    waste = f"{m.work.waste_pieces} waste pieces" if m.work.waste_pieces else ""
    return f"{', '.join(filter(None, (*by_kind, area, waste))) or 'No line is mapped yet'}."


def _finding_list(findings: list[Finding], style: NumberStyle) -> Any:
    items = []
    for number, finding in enumerate(findings, start=1):
        words = f"{number}. {style.words(finding.message)}"
        if finding.at:
            key = {"kind": "drawing-finding", "number": number}
            items.append(html.Li(html.Button(words, id=key, className="finding", type="button")))
        else:
            items.append(html.Li(words))
    return html.Ul(items, className="sentences findings")
