"""A comparison as a workbook that can be checked and changed: formulas from the inputs to the answer.

The formulas are those of the engine (:mod:`compare.present.formula_quote`); what is written here is where they stand.
Every formula carries its value, so that viewers that don't calculate show the figures too.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell

from compare.data_files import data_digest
from compare.decide.comparison import Comparison, RouteResult
from compare.errors import FileError
from compare.present import wording
from compare.present.formula_cells import AMOUNT, CHECKS, COUNT, FINE, MONEY, Book, Cell
from compare.present.formula_inputs import standing, write_inputs
from compare.present.formula_path import PARTS, PathSheet
from compare.present.formula_quote import TracedFlow, TracedRoute, cheaper, trace_quote
from compare.present.formula_text import formula, in_words
from compare.present.record import program_version
from compare.routes.inventory import RESOURCES, STAGES

_ROUTES = ("die", "laser")
_WAYS = {"separate": "a set of tools for each version", "ganged": "one set of tools that holds all versions"}
_COLUMNS = {"route": 0, "stage": 1, "resource": 2, "quantity": 3, "money": 6, "co2e": 8, "biogenic": 10}
"""Columns of the ledger that totals are summed over."""

_NOTE_WIDTH = 130
"""Characters of a note on one line."""

_NOT_POSSIBLE = "not possible"

_HOW_IT_WORKS = (
    "Yellow cells on the sheet Inputs may be changed. The sheets Steps, Ledger and Answer follow; what was quoted stays "
    "beside it.",
    "Every formula is the program's own: it was written down while the program computed this job.",
    "The checks on the sheet Inputs say whether the formulas still hold for what was changed. Where one fails, the program "
    "would refuse the input or go another way, and the job has to be computed anew.",
    "Not worked out anew here: cartons on the sheet, the path of the beam, lengths drawn from a style or a drawing, machine "
    "rates from a purchase price, break-even run lengths, what a drawing shows that can't be made, whether a route becomes "
    "possible that was not, and the numbers in the column 'because'.",
    "This workbook holds the plant's own costs and rates.",
)

_Row = tuple[str, str, str, dict[str, Cell]]
"""Label, unit, format of numbers, and a figure for each route that is possible."""


def write_workbook(comparison: Comparison, path: Path) -> None:
    """Write a comparison as a workbook (XLSX).

    Parameters
    ----------
    comparison : Comparison
        What was compared.
    path : Path
        Where to write; a file that is there is replaced.

    Raises
    ------
    FileError
        If it can't be written.
    TraceError
        If the engine did something that can't be written as a formula.
    """
    content = workbook_bytes(comparison)
    try:
        path.write_bytes(content)
    except OSError as error:
        raise FileError(
            f"the workbook can't be written: {error.strerror}", where=str(path), remedy="check folder and permissions"
        ) from None


def workbook_bytes(comparison: Comparison) -> bytes:
    """Return a comparison as a workbook (XLSX); the same comparison gives the same bytes."""
    quote = trace_quote(comparison)
    book = Book(quote)
    _answer(book)
    write_inputs(book)
    _steps(book)
    _ledger(book)
    if quote.path is not None and quote.route("laser"):
        _path(book, quote.path)
    _notes(book)
    return book.content()


# -- answer -----------------------------------------------------------------------------------------------------------


def _answer(book: Book) -> None:
    """Write the answer, totals by route, and what they were when they were quoted."""
    sheet = book.page("Answer", (46, 18, 18, 18, 18, 18))
    comparison = book.quote.comparison
    book.put(sheet, 0, 0, f"{comparison.scenario.name}, {comparison.scenario.plant}", book.title)
    lines: list[tuple[str, str | Cell]] = [
        ("As quoted", " ".join(filter(None, (wording.answer(comparison), wording.takeover(comparison))))),
        ("With the inputs as they stand", _now(book)),
        ("Checks", standing()),
        *((f"The {route}", _way(book, comparison.route(route))) for route in _ROUTES),
    ]
    for row, (label, what) in enumerate(lines, start=1):
        book.put(sheet, row, 0, label, book.bold)
        book.put(sheet, row, 1, what)
    book.warn(sheet, (2, 1, 3, 1), f"NOT({CHECKS})")
    top = len(lines) + 2
    headings = ("figure", "unit", "die", "laser", "die, as quoted", "laser, as quoted")
    book.headings(sheet, top, headings, numbers=(2, 3, 4, 5))
    sheet.freeze_panes(top + 1, 1)
    for row, (label, unit, form, figures) in enumerate(_figures(book), start=top + 1):
        first = row == top + 1
        book.put(sheet, row, 0, label, book.bold if first else None)
        book.put(sheet, row, 1, unit)
        for column, route in enumerate(_ROUTES, start=2):
            cell, look = figures.get(route), book.number(form, bold=first)
            book.put(sheet, row, column, cell or _NOT_POSSIBLE, look)
            book.put(sheet, row, column + 2, cell.value if cell else _NOT_POSSIBLE, book.number(form))
            if first:
                book.name(_cost_cell(route), sheet, row, column)


def _cost_cell(route: str) -> str:
    return f"answer_{route}_cost_per_1000"


def _now(book: Book) -> str | Cell:
    """Say which route is the cheaper one, by the rule of the engine."""
    possible = [route.name for route in book.quote.routes]
    if len(possible) < len(_ROUTES):
        return (
            f"Only the {possible[0]} could make the job as quoted."
            if possible
            else "Neither route could make the job as quoted."
        )
    below = cheaper(book.quote, {route: _cost_cell(route) for route in _ROUTES})
    die, laser = (formula(below[route], book.cell_of)[1:] for route in _ROUTES)
    says = {"die": "The die is cheaper.", "laser": "The laser is cheaper.", "even": "Both routes cost the same."}
    text = f'=IF({die},"{says["die"]}",IF({laser},"{says["laser"]}","{says["even"]}"))'
    return Cell(text, says[book.quote.comparison.cheaper])


def _way(book: Book, result: RouteResult) -> str:
    if not result.feasible:
        why = " ".join(f.message for f in result.findings if f.kind == "not possible")
        return f"can't make this job, so it has no figures. {why}"
    if result.inventory.route == "die":
        return f"shown with {_WAYS[result.inventory.strategy]}, the cheapest possible way"
    if book.quote.path is None:
        return "the seconds of a sheet are estimated by means; no path was planned"
    return "the seconds of a sheet are those of its planned path (sheet Path)"


def _figures(book: Book) -> list[_Row]:
    routes, currency = book.quote.routes, book.quote.comparison.scenario.currency
    results = {route.name: book.quote.comparison.route(route.name) for route in routes}
    stages = {name: result.stage_cost_per_1000() for name, result in results.items()}

    def per_1000(what: str, figures: dict[str, float], **where: str) -> dict[str, Cell]:
        return {
            route.name: Cell(
                f"={_summed(book, what, route, **where)}/({book.inside(route.cartons)}/1000)", figures[route.name]
            )
            for route in routes
        }

    def total(what: str, figures: dict[str, float], **where: str) -> dict[str, Cell]:
        return {route.name: Cell(f"={_summed(book, what, route, **where)}", figures[route.name]) for route in routes}

    def shown(field: str) -> dict[str, Cell]:
        return {route.name: book.worked(getattr(route, field)) for route in routes}

    each, whole = "kg per 1,000", "over the programme"
    money = f"{currency} per 1,000"
    waste = {"resource": "waste board"}
    return [
        ("cost", money, MONEY, per_1000("money", {n: r.cost_per_1000 for n, r in results.items()})),
        *(
            (
                f"   of it {wording.STAGE_LABELS[stage]}",
                money,
                MONEY,
                per_1000("money", {name: by_stage[stage] for name, by_stage in stages.items()}, stage=stage),
            )
            for stage in STAGES
        ),
        ("CO2e", each, AMOUNT, per_1000("co2e", {n: r.co2e_per_1000 for n, r in results.items()})),
        (
            "biogenic CO2, apart from it",
            each,
            AMOUNT,
            per_1000("biogenic", {n: r.biogenic_per_1000 for n, r in results.items()}),
        ),
        (
            "waste board",
            each,
            AMOUNT,
            per_1000("quantity", {n: r.waste_per_1000 for n, r in results.items()}, **waste),
        ),
        (f"cost {whole}", currency, MONEY, total("money", {n: sum(r.money) for n, r in results.items()})),
        (f"CO2e {whole}", "kg", AMOUNT, total("co2e", {n: sum(r.co2e) for n, r in results.items()})),
        (
            f"waste board {whole}",
            "kg",
            AMOUNT,
            total("quantity", {n: float(r.balance.waste) for n, r in results.items()}, **waste),
        ),
        (f"good cartons {whole}", "cartons", COUNT, shown("cartons")),
        (f"sheets {whole}", "sheets", COUNT, shown("sheets")),
        (f"machine hours {whole}", "h", AMOUNT, shown("hours")),
        (f"electricity {whole}", "kWh", AMOUNT, shown("kwh")),
        ("lead time of the first order", "days", AMOUNT, shown("lead_days")),
    ]


def _summed(book: Book, what: str, route: TracedRoute, **where: str) -> str:
    """Return the sum of a column of the ledger over the rows of a route, as part of a formula."""
    last = sum(len(each.flows) for each in book.quote.routes) + 1

    def column(name: str) -> str:
        letter = xl_col_to_name(_COLUMNS[name])
        return f"Ledger!${letter}$2:${letter}${last}"

    conditions = [f'{column(name)},"{value}"' for name, value in {"route": route.name, **where}.items()]
    return f"SUMIFS({column(what)},{','.join(conditions)})"


# -- steps and ledger -------------------------------------------------------------------------------------------------


def _steps(book: Book) -> None:
    """Write the quantities between the inputs and the ledger."""
    sheet = book.page("Steps", (40, 20, 120, 40))
    book.headings(sheet, 0, ("quantity", "value", "worked out as", "name in formulas"), numbers=(1,))
    sheet.freeze_panes(1, 1)
    for row, step in enumerate(book.steps, start=1):
        book.put(sheet, row, 0, step.label)
        book.put(sheet, row, 1, Cell(formula(step.node, book.cell_of), step.node.value))
        book.put(sheet, row, 2, in_words(step.node, book.label_of), book.unit)
        book.put(sheet, row, 3, step.cell)
        book.name(step.cell, sheet, row, 1)


def _ledger(book: Book) -> None:
    """Write every line of both inventories with its valuations."""
    sheet = book.page("Ledger", (8, 12, 20, 16, 10, 14, 16, 14, 16, 14, 14, 90, 60))
    money = book.quote.comparison.scenario.currency
    headings = (
        "route", "stage", "resource", "quantity", "unit", f"price of a unit [{money}]", f"money [{money}]",
        "CO2e of a unit [kg]", "CO2e [kg]", "biogenic CO2 of a unit [kg]", "biogenic CO2 [kg]",
        "because (numbers as quoted)", "why it has no price or no factor",
    )  # fmt: skip
    book.headings(sheet, 0, headings, numbers=(3, 5, 6, 7, 8, 9, 10), lines=2)
    sheet.freeze_panes(1, 3)
    lines = [(route.name, flow) for route in book.quote.routes for flow in route.flows]
    for row, (route, flow) in enumerate(lines, start=1):
        _line(book, sheet, row, route, flow)


def _line(book: Book, sheet: Any, row: int, route: str, traced: TracedFlow) -> None:
    flow, about = traced.flow, RESOURCES[traced.flow.resource]
    for column, text in ((0, route), (1, flow.stage), (2, flow.resource)):
        book.put(sheet, row, column, text)
    book.put(sheet, row, 3, book.worked(traced.quantity), book.number(AMOUNT))
    book.put(sheet, row, 4, flow.unit, book.unit)
    for column, of_unit, value, form in (
        (5, traced.price, traced.money, MONEY),
        (7, traced.factor, traced.co2e, AMOUNT),
        (9, traced.biogenic_factor, traced.biogenic, AMOUNT),
    ):
        if of_unit is None:
            continue
        book.put(sheet, row, column, book.worked(of_unit), book.number(FINE))
        beside = {traced.quantity: str(xl_rowcol_to_cell(row, 3)), of_unit: str(xl_rowcol_to_cell(row, column))}
        book.put(sheet, row, column + 1, book.worked(value, beside), book.number(form))
    book.put(sheet, row, 11, traced.because, book.unit)
    book.put(sheet, row, 12, "; ".join(filter(None, (about.no_price, about.no_carbon))))


# -- path and notes ---------------------------------------------------------------------------------------------------


def _path(book: Book, path: PathSheet) -> None:
    """Write what the heads have to do, and the tables of their seconds."""
    sheet = book.page("Path", (46, 30, 24, 24, 24))
    about = (
        "What each head of the laser line has to do on one sheet, as its path was planned.",
        "It holds for the inputs that the sheet Inputs marks so. Speeds, power, delays and prices may change.",
        "Seconds at a speed v [m/s], by the last row whose speed is not above v: constant + linear x v + inverse / v.",
    )
    for row, text in enumerate(about):
        book.put(sheet, row, 0, text)
    row = len(about) + 1
    for cell, (what, number) in path.numbers.items():
        book.put(sheet, row, 0, what)
        book.put(sheet, row, 1, number)
        book.put(sheet, row, 2, cell, book.unit)
        book.name(cell, sheet, row, 1)
        row += 1
    for what, table in path.tables:
        row += 1
        columns = {"speed": table.table.breaks, **{part: getattr(table.table, part) for part in PARTS}}
        headings = (what, "speed [m/s]", "constant [s]", "linear [s2/m]", "inverse [m]")
        book.headings(sheet, row, headings, numbers=(1, 2, 3, 4))
        for column, (part, values) in enumerate(columns.items(), start=1):
            for place, value in enumerate(values.tolist(), start=row + 1):
                book.put(sheet, place, column, value)
            book.name(table.column(part), sheet, row + 1, column, rows=len(values))
        row += len(table.table.breaks) + 1


def _notes(book: Book) -> None:
    """Write how the workbook works, what is not included, cautions, remarks and versions."""
    sheet = book.page("Notes", (18, _NOTE_WIDTH + 10))
    comparison, s = book.quote.comparison, book.quote.comparison.scenario
    factors = [
        f"{role}: {' + '.join(use.keys) or 'own value'} ({use.label}){f'; {use.proxy}' if use.proxy else ''}"
        for role, use in s.factors.items()
    ]
    groups: Sequence[tuple[str, Sequence[str]]] = (
        ("Job", [text for text in (s.name, s.note) if text]),
        ("Basis", [wording.basis(comparison)]),
        ("How it works", _HOW_IT_WORKS),
        ("Not included", [f"{text}." for text in wording.NOT_INCLUDED]),
        ("CO2e", [wording.CARBON_SCOPE]),
        ("Cautions", wording.CAUTIONS),
        ("Remarks", [f.message for f in comparison.findings]),
        ("Factors", [f"factor set {s.choices['factors.set']}", *factors]),
        ("Made with", [f"evenrun {program_version()}, tables {data_digest()}"]),
    )
    row = 0
    for label, texts in groups:
        for place, text in enumerate(texts):
            book.put(sheet, row, 0, label if place == 0 else "", book.bold)
            book.put(sheet, row, 1, text, book.wrapped)
            book.height(sheet, row, sum(len(line) // _NOTE_WIDTH + 1 for line in text.splitlines()))
            row += 1
