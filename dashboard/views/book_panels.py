"""What the Order book view shows of a book and its plan."""

from __future__ import annotations

import json
from difflib import get_close_matches
from typing import Any, cast

import dash_ag_grid as dag
import dash_mantine_components as dmc
import numpy as np
from dash import html

from compare.decide.book_plan import BookPlan, orders_per_year
from compare.decide.investment import InvestmentCase
from compare.decide.order_book import Book
from compare.present import book_wording, wording
from compare.present.book_charts import book_charts
from compare.present.book_record import freed_press_hours
from compare.present.look import PALETTES, Scheme
from compare.present.numbers import NumberStyle, figures, whole
from compare.present.plotly_pen import draw
from compare.readers.orderbook_columns import template_columns, template_heading
from compare.readers.orderbook_findings import BookFinding
from dashboard import parts
from dashboard.book_asked import ROUTES
from dashboard.book_store import FirstChoice, Reading
from dashboard.reader import Reader
from dashboard.views.job import standing_remarks

MOST_JOBS, MOST_FINDINGS = 5_000, 2_000
"""Rows that a grid on screen holds; exports hold all."""

CHART_HEIGHTS = {"saving": 380, "loads": 250, "shifts": 250}
CHART_TITLES = {
    "saving": "Saving against hours of the line",
    "loads": "What a planned load saves, and about how long lots wait",
    "shifts": "One, two and three shifts a day",
}
_MAPPABLE = ("unused_column", "no_unit", "unknown_unit", "unknown_target", "duplicate_column")
"""Findings that a choice of columns mends."""

_GRID_OPTIONS = {
    "animateRows": False,
    "rowHeight": 29,
    "headerHeight": 34,
    "stopEditingWhenCellsLoseFocus": True,
    "singleClickEdit": True,
    "suppressColumnVirtualisation": True,
    "enableCellTextSelection": True,
    "ensureDomOrder": True,
}


# -- sentences --------------------------------------------------------------------------------------------------------


def answer(plan: BookPlan | FirstChoice, style: NumberStyle) -> list[Any]:
    """Return the answer in large type, and how sure it is that no other choice is better."""
    said = cast("BookPlan", plan)  # the sentences need of a plan what a first choice has as well
    proof = book_wording.gap_sentence(said, style)
    more = "" if isinstance(plan, BookPlan) or plan.selection.exact else " Searching on."
    if not proof:  # where limits can't hold what must go there is nothing to prove
        more = ""
    advice = book_wording.advice_sentence(plan, style) if isinstance(plan, BookPlan) else ""
    return [
        dmc.Title(book_wording.answer_sentence(said, style), order=1, className="answer"),
        html.P(" ".join(filter(None, ((proof + more).strip(), advice))), className="quiet"),
    ]


def rows_sentence(book: Book, mended: int, style: NumberStyle) -> str:
    """Say what became of every row of the file."""
    rows, computed = book.rows_in, book.rows_computed
    said = (
        f"{book.table.source}: {whole(rows, style)} orders in = {whole(computed, style)} computed + "
        f"{whole(rows - computed, style)} waiting to be mended{', in no figure' if rows > computed else ''}; "
        f"{whole(len(book), style)} job{'' if len(book) == 1 else 's'}."
    )
    if mended:
        cells = "1 cell is" if mended == 1 else f"{whole(mended, style)} cells are"
        said += f" {cells} mended on this page; the file itself is as it was."
    return said


# -- reading ----------------------------------------------------------------------------------------------------------


def unclear_headings(book: Book, reading: Reading) -> list[tuple[str, str]]:
    """Return headings that are to be mapped, and what is said of each; those mapped before stay."""
    said: dict[str, str] = {}
    for f in book.findings:
        if f.row is None and f.column and f.code.removeprefix("book.") in _MAPPABLE:
            said.setdefault(f.column, f.message)
    for heading, target in reading.columns:
        said.setdefault(heading, "left out" if not target else "mapped on this page")
    return list(said.items())


def mapping(book: Book, reading: Reading, style: NumberStyle) -> Any:
    """Return the table in which headings that the template does not know are given their columns; empty without any."""
    unclear = unclear_headings(book, reading)
    if not unclear:
        return []
    chosen = dict(reading.columns)
    taken = {name for name, heading in book.table.headings.items() if heading not in chosen}
    options = [
        {"value": c.name, "label": f"{template_heading(c)}{' (read already)' if c.input in taken else ''}"}
        for c in template_columns()
    ]
    rows = []
    for number, (heading, said) in enumerate(unclear):
        name, unit = _split(chosen.get(heading, ""))
        offer = "" if heading in chosen else _offer(heading, taken)
        words = f"{said[:1].upper()}{said[1:]}{f'; {offer} is offered' if offer else ''}."
        label = heading or "(no heading)"
        rows.append(
            dmc.TableTr(
                [
                    dmc.TableTd(label),
                    dmc.TableTd(style.words(words)),
                    dmc.TableTd(
                        dmc.Select(
                            id={"kind": "book-column", "number": number},
                            data=[{"value": "-", "label": "leave it out"}, *options],
                            value=name or offer or ("-" if heading in chosen else None),
                            placeholder="choose",
                            searchable=True,
                            size="xs",
                            **parts.aria(label=f"What {label} holds"),
                        )
                    ),
                    dmc.TableTd(
                        dmc.TextInput(
                            id={"kind": "book-unit", "number": number},
                            value=unit,
                            placeholder="as the template",
                            size="xs",
                            w=130,
                            **parts.aria(label=f"Unit of {label}"),
                        )
                    ),
                ]
            )
        )
    head = [dmc.TableTh(text) for text in ("heading", "what is said of it", "holds", "in the unit")]
    return parts.card(
        "Headings that are not clear",
        dmc.TableScrollContainer(
            dmc.Table(
                [dmc.TableThead(dmc.TableTr(head)), dmc.TableTbody(rows)], verticalSpacing=4, className="plain words"
            ),
            minWidth=640,
        ),
        dmc.Button("Read it with these columns", id="book-map", size="xs", mt="sm"),
    )


def _offer(heading: str, taken: set[str]) -> str:
    """Return the column whose name is most like a heading; nothing counts before it was confirmed."""
    known = {
        known.casefold(): c.name for c in template_columns() if c.input not in taken for known in (c.name, *c.aliases)
    }
    near = get_close_matches(_split(heading.casefold())[0], known, n=1, cutoff=0.75)
    return known[near[0]] if near else ""


def _split(target: str) -> tuple[str, str]:
    name, _, unit = target.partition(" [")
    return name, unit.removesuffix("]")


def finding_rows(book: Book, style: NumberStyle) -> list[dict[str, Any]]:
    """Return what is to be mended as rows of a grid, what makes rows wait first."""
    mendable = set(book.table.headings.values())
    some = sorted(book.findings, key=lambda f: not f.waits)[:MOST_FINDINGS]
    return [_finding_row(number, f, mendable, style) for number, f in enumerate(some)]


def _finding_row(number: int, f: BookFinding, mendable: set[str], style: NumberStyle) -> dict[str, Any]:
    return {
        "id": str(number),
        "row": f.row,
        "column": f.column,
        "value": f.value,
        "what": style.words(wording.ended(f.message[:1].upper() + f.message[1:])),
        "remedy": style.words(f.remedy[:1].upper() + f.remedy[1:]),
        "waits": "waits" if f.waits else "remark",
        "mendable": f.row is not None and f.column in mendable,
    }


def findings_words(book: Book, style: NumberStyle) -> str:
    """Say how many things are to be mended, and how many of them the grid shows."""
    waits = sum(f.waits for f in book.findings)
    remarks = len(book.findings) - waits
    if not book.findings:
        return "Nothing is to be mended."
    said = f"{whole(waits, style)} to mend, {whole(remarks, style)} remark{'' if remarks == 1 else 's'}."
    if len(book.findings) > MOST_FINDINGS:
        said += f" The first {whole(MOST_FINDINGS, style)} are shown; the CSV has all."
    return said


def findings_grid(book: Book, reader: Reader) -> Any:
    """Return the grid of what is to be mended."""
    return dag.AgGrid(
        id="book-findings",
        rowData=finding_rows(book, reader.style),
        columnDefs=[
            {"field": "row", "headerName": "Row", "width": 78, "type": "rightAligned"},
            {"field": "column", "headerName": "Column", "width": 150},
            {
                "field": "value",
                "headerName": "Value",
                "width": 160,
                "editable": {"function": "params.data.mendable"},
                "cellClassRules": {"editable": "params.data.mendable"},
            },
            {"field": "what", "headerName": "What is wrong", "minWidth": 260, "flex": 4},
            {"field": "remedy", "headerName": "What to do", "minWidth": 260, "flex": 4},
            {"field": "waits", "headerName": "Row", "width": 86},
        ],
        defaultColDef={"resizable": True, "sortable": True, "wrapText": True, "autoHeight": True},
        getRowId="params.data.id",
        dashGridOptions=_GRID_OPTIONS,
        className=_theme(reader.scheme),
        style={"height": "240px"},
    )


def _theme(scheme: Scheme) -> str:
    return "ag-theme-alpine-dark" if scheme == "dark" else "ag-theme-alpine"


# -- the plan ---------------------------------------------------------------------------------------------------------


def blank_figure(name: str, scheme: Scheme) -> dict[str, Any]:
    """Return a figure that keeps the place of a chart until there is one."""
    ground, hidden = PALETTES[scheme].ground, {"visible": False}
    layout = {"height": CHART_HEIGHTS[name], "xaxis": hidden, "yaxis": hidden}
    return {"data": [], "layout": {**layout, "paper_bgcolor": ground, "plot_bgcolor": ground}}


def charts(plan: BookPlan, reader: Reader) -> dict[str, tuple[dict[str, Any], str]]:
    """Return each chart's figure, and the chart in words."""
    return {
        name: (draw(chart, reader.scheme, reader.style), reader.style.words(chart.summary))
        for name, chart in book_charts(plan, reader.style).items()
    }


def plan_figures(plan: BookPlan | None, style: NumberStyle) -> Any:
    """Return the figures beside the answer; dashes until there are some."""
    if plan is None:
        names = ("Hours used", "One more hour", "Press hours freed", "Waste board", "CO2e", "Wait for the line, about")
        return [_figure(name, "-", "") for name in names]
    currency = plan.book.currency
    used = f"{figures(plan.hours_used, style=style)} of {figures(plan.limits.hours, style=style)} h"
    waste, co2e = plan.after.waste - plan.before.waste, plan.after.co2e - plan.before.co2e
    wait = float(plan.wait.wait_h)
    share = float(plan.wait.load)
    load = f"{book_wording.percent(share, 1 if share < 0.1 else 0, style)} of the line's hours a year"
    full, binding = bool(plan.selection.overfull), book_wording.binding_limits(plan)
    one_more = f"about {figures(plan.hour_value, style=style)} {currency}" if plan.hour_value > 0 else f"0 {currency}"
    why = "a year would be saved by it"
    if plan.hour_value <= 0:
        why = f"it is {binding[0].name} that are short" if binding else "there are hours left over"
    return [
        _figure("Hours used", used, "jobs that must go need more than there are" if full else load),
        _figure("One more hour", "-" if full else one_more, "" if full else why),
        _figure("Press hours freed", f"{figures(freed_press_hours(plan), style=style)} h", "a year, of the die cutter"),
        _figure("Waste board", _change(waste, style), "a year, against all jobs on the die"),
        _figure("CO2e", _change(co2e, style), "a year, an estimate"),
        _figure(
            "Wait for the line, about",
            book_wording.about_hours(wait, style, within=plan.limits.hours / 2)
            if plan.selection.on_laser.any()
            else "-",
            "an estimate, in hours that it is staffed",
        ),
    ]


def _figure(name: str, value: str, more: str) -> Any:
    return html.Div(
        [html.Span(name, className="quiet"), html.P(value, className="large"), html.Span(more, className="quiet")],
        className="figure",
    )


def _change(kg: float, style: NumberStyle) -> str:
    if abs(kg) < 0.5:
        return "no change"
    tonnes = abs(kg) >= 10_000
    amount = f"{figures(abs(kg) / 1000 if tonnes else abs(kg), style=style)} {'t' if tonnes else 'kg'}"
    return f"{amount} {'less' if kg < 0 else 'more'}"


def investment(plan: BookPlan | None, style: NumberStyle) -> list[Any]:
    """Return whether the line pays."""
    if plan is None:
        return [html.P("Is being worked out.", className="quiet")]
    case = plan.investment
    if case is None:
        return [html.P(style.words(f.message), className="quiet") for f in plan.findings if "purchase" in f.code]
    found = plan.saving_range
    return [
        html.P(book_wording.share_sentence(plan, style), className="large"),
        *(html.P(style.words(f.message), className="quiet") for f in plan.findings if f.code == "book.first_dies"),
        html.Div(parts.table(["figure", "value"], _investment_rows(plan, case, style)), className="outcome"),
        *(html.P(style.words(f.message), className="quiet") for f in case.findings),
        html.P(
            f"Cash saving of the jobs that move, money of today, {'after' if case.investment.tax_pa else 'before'} tax. "
            "Price, life and interest are line_capital in the Assumptions.",
            className="quiet",
        ),
        *([html.P(book_wording.TAX_NOTE, className="quiet")] if case.investment.tax_pa else []),
        *([html.P(book_wording.RANGE_NOTE, className="quiet")] if found is not None else []),
        *([html.P(style.words(_widest(plan)), className="quiet")] if found is not None and found.swings else []),
    ]


def _investment_rows(plan: BookPlan, case: InvestmentCase, style: NumberStyle) -> list[list[Any]]:
    money, found = plan.book.currency, plan.saving_range

    def amount(value: float) -> str:
        return f"{figures(value, style=style)} {money}"

    def years(value: float | None) -> str:
        return "not within its life" if value is None else f"{figures(value, 2, style)} years"

    def between(low: float | None, high: float | None) -> str:
        if low is None or high is None:
            return ""
        return f" ({figures(low, style=style)} to {figures(high, style=style)})"

    ends = (found.low, found.high) if found else (None, None)
    rate = book_wording.rate_of_return(case)
    return [
        ["cash saving a year", amount(case.yearly_saving) + between(*ends)],
        ["purchase price", amount(case.investment.purchase)],
        ["net present value", amount(case.npv) + between(case.npv_low, case.npv_high)],
        ["payback", years(case.payback_years)],
        ["discounted payback", years(case.discounted_payback_years)],
        ["even yearly cost of owning it", amount(case.equivalent_annual_cost)],
        ["internal rate of return", "none" if rate is None else style.write(f"{100 * rate:.3g} %")],
        ["saving at which it just pays", f"{amount(case.saving_needed)} a year"],
    ]


def _widest(plan: BookPlan) -> str:
    swings = plan.saving_range.swings[:5] if plan.saving_range else ()
    return (
        "In brackets: each assumption of the plant at either end of its usual range, taken as independent of the others. "
        f"What moves the saving most: {', '.join(swing.name for swing in swings)}."
    )


def remarks(plan: BookPlan | None, style: NumberStyle) -> list[Any]:
    """Return what must be said with the figures."""
    if plan is None:
        return []
    beside = ("book.no_purchase_price", "book.first_dies")
    said = [book_wording.spaced(f.message) for f in plan.findings if f.code not in beside]
    cautions = [book_wording.JOB_MEANS, book_wording.QUEUE_CAUTION, *book_wording.CAUTIONS[:2], wording.CARBON_SCOPE]
    return [
        *(
            [dmc.Title("Findings", order=2, className="card-title"), parts.lines([style.words(t) for t in said])]
            if said
            else []
        ),
        dmc.Title("What the figures are", order=2, className="card-title"),
        parts.lines([style.words(text) for text in cautions]),
        *standing_remarks(),
    ]


# -- jobs -------------------------------------------------------------------------------------------------------------


def job_rows(plan: BookPlan, style: NumberStyle) -> list[dict[str, Any]]:
    """Return jobs as rows of a grid, the largest saving first."""
    book, chosen = plan.book, plan.selection
    both = book.die_possible & book.laser_possible
    saving = np.where(both, book.saving, -np.inf)
    order = np.argsort(-saving, kind="stable")[:MOST_JOBS]
    reasons = book_wording.ReasonWords(plan, style)
    names, cartons, per_year = book.job_ids(), book.carton_ids(), orders_per_year(book)
    pinned, rows = book.pinned, book.table.row[book.jobs.first]
    found = []
    for j in order.tolist():
        hours = float(book.laser_hours[j])
        found.append(
            {
                "id": str(rows[j]),
                "row": int(rows[j]),
                "order": names[j],
                "carton": cartons[j],
                "route": "laser" if chosen.on_laser[j] else "die" if book.die_possible[j] else "neither",
                "pin": ROUTES[int(pinned[j]) + 1],
                "saving": round(float(book.saving[j]), 2) if both[j] else None,
                "hours": round(hours, 3) if book.laser_possible[j] else None,
                "rate": round(float(book.saving[j]) / hours, 2) if both[j] and hours > 0 else None,
                "orders": round(float(per_year[j]), 2),
                "why": reasons.sentence(j),
            }
        )
    return found


def jobs_words(book: Book, style: NumberStyle) -> str:
    """Say what a job is, and how many of them the grid shows."""
    said = "Choose a route under Keep on to pin a carton to it; the plan is made anew around it."
    if len(book) > MOST_JOBS:
        said += f" The {whole(MOST_JOBS, style)} jobs with the largest saving are shown; exports hold all."
    return f"{book_wording.JOB_MEANS} {said}"


def jobs_grid(book: Book, reader: Reader) -> Any:
    """Return the grid of jobs, to be filled with the plan."""
    signs = f"{json.dumps(reader.style.decimal)}, {json.dumps(reader.style.group)}"

    def number(name: str, heading: str, digits: int, width: int) -> dict[str, Any]:
        return {
            "field": name,
            "headerName": heading,
            "width": width,
            "type": "rightAligned",
            "filter": "agNumberColumnFilter",
            "valueFormatter": {"function": f"evenrunNumber(params.value, {digits}, {signs})"},
        }

    currency = book.currency
    return dag.AgGrid(
        id="book-jobs",
        rowData=[],
        columnDefs=[
            {"field": "order", "headerName": "Job", "width": 118, "pinned": "left", "filter": "agTextColumnFilter"},
            {"field": "carton", "headerName": "Carton", "width": 118, "filter": "agTextColumnFilter"},
            {
                "field": "route",
                "headerName": "Route",
                "width": 92,
                "filter": "agTextColumnFilter",
                "cellClassRules": {"on-laser": "params.value == 'laser'", "on-die": "params.value == 'die'"},
            },
            {
                "field": "pin",
                "headerName": "Keep on",
                "width": 104,
                "editable": True,
                "cellEditor": "agSelectCellEditor",
                "cellEditorParams": {"values": list(ROUTES)},
                "cellClass": "editable",
                "filter": "agTextColumnFilter",
            },
            number("saving", f"Saving, {currency}/y", 0, 124),
            number("hours", "Laser, h/y", 2, 104),
            number("rate", f"Saving, {currency}/h", 0, 124),
            number("orders", "Orders, 1/y", 1, 106),
            {"field": "why", "headerName": "Why", "minWidth": 420, "flex": 1, "wrapText": True, "autoHeight": True},
        ],
        defaultColDef={"resizable": True, "sortable": True},
        getRowId="params.data.id",
        dashGridOptions=_GRID_OPTIONS,
        className=_theme(reader.scheme),
        style={"height": "56vh", "minHeight": "360px"},
    )
