"""The plan of a year of orders as a workbook and as a table."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable, Sequence
from typing import IO, Any, NamedTuple, TextIO

import numpy as np
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from compare.assumptions import assumption_table
from compare.data_files import data_digest
from compare.decide.book_plan import BookPlan
from compare.decide.order_inputs import JOB_GROUPS
from compare.errors import InputError
from compare.present import book_wording
from compare.present.book_record import book_record, job_records, plant_texts
from compare.present.record import program_version
from compare.readers.jobfile import Layer
from compare.readers.orderbook_findings import FINDING_COLUMNS, findings_rows, safe_text
from compare.scenario import prepare

Cell = str | float | int | None
"""A text, a number, or nothing."""

MOST_ROWS = 1_048_575
"""Rows below the header that a sheet of a workbook holds."""

ASSUMPTION_COLUMNS = ("name", "value", "unit", "low", "high", "basis", "source", "origin", "meaning")
"""Columns of the table of assumptions that a plan was made with."""

_TABLE, _RECYCLED = "table of assumptions", " (recycled board)"

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
"""Characters that a workbook can't hold."""


class _Column(NamedTuple):
    heading: str
    """Heading, ``{0}`` standing for the currency."""
    path: tuple[str, ...]
    """Where it is in the record of a job."""
    form: str
    """Format of its numbers; empty for texts."""
    width: int


_MONEY, _HOURS, _KG, _WHOLE, _ANY = "#,##0.00", "#,##0.000", "#,##0.00", "#,##0", "any"
_JOB_COLUMNS = (
    _Column("job", ("id",), "", 14),
    _Column("carton", ("carton",), "", 14),
    _Column("route", ("route",), "", 8),
    _Column("saving on the laser [{0}/y]", ("saving",), _MONEY, 14),
    _Column("laser hours [h/y]", ("laser_hours",), _HOURS, 12),
    _Column("saving per laser hour [{0}/h]", ("saving_per_hour",), _MONEY, 14),
    _Column("worth beyond the price of its hours [{0}/y]", ("worth",), _MONEY, 14),
    _Column("reason", ("reason",), "", 26),
    _Column("because", ("because",), "", 80),
    _Column("board", ("board",), "", 22),
    _Column("orders [1/y]", ("orders_per_year",), "#,##0.##", 10),
    _Column("run length [cartons]", ("run_length",), _WHOLE, 12),
    _Column("good cartons [1/y]", ("cartons",), _WHOLE, 12),
    _Column("cost on the die [{0}/y]", ("cost", "die"), _MONEY, 14),
    _Column("cost on the laser [{0}/y]", ("cost", "laser"), _MONEY, 14),
    _Column("cash saving on the laser [{0}/y]", ("cash_saving",), _MONEY, 14),
    _Column("press hours on the die [h/y]", ("press_hours",), _HOURS, 12),
    _Column("CO2e on the die [kg/y]", ("co2e_kg", "die"), _KG, 12),
    _Column("CO2e on the laser [kg/y]", ("co2e_kg", "laser"), _KG, 12),
    _Column("waste board on the die [kg/y]", ("waste_kg", "die"), _KG, 12),
    _Column("waste board on the laser [kg/y]", ("waste_kg", "laser"), _KG, 12),
    _Column("die can't, because", ("why_not", "die"), "", 22),
    _Column("laser can't, because", ("why_not", "laser"), "", 22),
    _Column("orders of the book", ("orders",), "", 30),
)


def jobs_rows(plan: BookPlan) -> tuple[tuple[str, ...], list[tuple[Cell, ...]]]:
    """Return the jobs as a table: headings with units, and texts and numbers as they are.

    Texts that came in with the file are not made safe for a spreadsheet here; the writers do that.
    """
    headings = tuple(column.heading.format(plan.book.currency) for column in _JOB_COLUMNS)
    return headings, [tuple(_at(job, column.path) for column in _JOB_COLUMNS) for job in job_records(plan)]


def _at(job: dict[str, Any], path: tuple[str, ...]) -> Cell:
    value: Any = job
    for key in path:
        value = value[key]
    if path[0] == "why_not":
        return book_wording.why_not_words(value)
    return ", ".join(value) if isinstance(value, list) else value


def write_jobs_csv(plan: BookPlan, file: TextIO) -> None:
    """Write the jobs as CSV: comma, decimal point, ten figures, every text safe for a spreadsheet."""
    headings, rows = jobs_rows(plan)
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([_harmless(heading) for heading in headings])
    writer.writerows(tuple(_plain_cell(c) for c in row) for row in rows)


def _plain_cell(cell: Cell) -> Cell:
    """Return a cell for CSV: a text that is harmless, a number without the digits that only rounding made."""
    if isinstance(cell, str):
        return _harmless(cell)
    return f"{cell:.10g}" if isinstance(cell, float) else cell


def _harmless(text: str) -> str:
    """Return a text that a spreadsheet can hold and does not run, whatever stands before what it starts with."""
    return safe_text(_CONTROL.sub("", text))


def assumption_rows(plan: BookPlan, layers: Iterable[Layer]) -> list[tuple[Cell, ...]]:
    """Return every assumption that a plan was made with, as rows of :data:`ASSUMPTION_COLUMNS`.

    Parameters
    ----------
    plan : BookPlan
        The plan.
    layers : iterable of Layer
        Plant file and settings it was made with.

    Returns
    -------
    list of tuple
        Inputs of the job stand for the rows that leave them out. A factor that is another for recycled board has
        a row of its own.
    """
    layers = list(layers)
    book, table = plan.book, assumption_table()
    own = {name: value for layer in layers for name, value in layer.values.items()}
    texts = {n: text for n, text in plant_texts(layers).items() if text}
    job: dict[str, Any] = {
        **book.plant.assumed,
        **book.plant.given,
        **{n: text for n, text in book.plant.texts.items() if text},
    }
    used: dict[str, float | str] = {**job, **texts, **book.plant.plant, "plant.currency": book.currency}
    origins, of_recycled = _origins(plan, layers)
    rows: list[tuple[Cell, ...]] = []

    def add(name: str, value: float | str, origin: str, suffix: str = "") -> None:
        row = table[name]
        if name.startswith(JOB_GROUPS):
            origin = f"{origin}; for orders that leave it out"
        unit = "" if row.is_text or row.unit == "-" else row.unit_in(book.currency)
        rows.append((name + suffix, value, unit, row.low, row.high, row.basis, row.source, origin, row.meaning))

    for name in table:
        if name in used:
            of_layer = next((layer.label for layer in reversed(layers) if name in layer.values), "")
            add(
                name,
                own.get(name, used[name]) if table[name].is_text else used[name],
                of_layer or origins.get(name, _TABLE),
            )
        if name in book.plant.recycled:
            add(name, book.plant.recycled[name], of_recycled.get(name, _TABLE), _RECYCLED)
    return rows


def _origins(plan: BookPlan, layers: list[Layer]) -> tuple[dict[str, str], dict[str, str]]:
    """Return where the plant's values are from, for primary and for recycled board, as its jobs by themselves say."""
    book = plan.book
    grades = book.jobs.texts.get("board.grade")
    first = np.unique(grades.codes, return_index=True)[1].tolist() if grades is not None else [0]
    found: tuple[dict[str, str], dict[str, str]] = ({}, {})
    for job in first if len(book) else []:
        scenario = prepare(*layers, book.layer(job))
        for name, origin in scenario.origins.items():
            if origin == "assumption" or name.startswith(JOB_GROUPS) or name not in scenario.inputs:
                continue
            value = scenario.inputs.number(name)
            for place, values in enumerate((book.plant.plant, book.plant.recycled)):
                if values.get(name) == value:
                    found[place].setdefault(name, origin)
    return found


def summary_rows(plan: BookPlan) -> list[tuple[str, Cell, str]]:
    """Return what a plan comes to as rows of label, value and unit."""
    r, money = book_record(plan), plan.book.currency
    yearly = f"{money}/y"
    rows: list[tuple[str, Cell, str]] = [
        ("answer", r["answer"], ""),
        ("advice", r["advice"], ""),
        ("proof", r["proof"], ""),
        ("orders in the file", r["rows_in"], "orders"),
        ("orders computed", r["computed"], "orders"),
        ("orders that wait to be mended", r["rows_waiting"], "orders"),
        ("jobs", len(plan.book), "jobs"),
        ("jobs on the laser line", int(np.count_nonzero(plan.selection.on_laser)), "jobs"),
        (
            "machine rates that decide",
            "with depreciation, interest and space" if r["costing"] == "full" else "cash",
            "",
        ),
        ("hours that may be planned", r["hours_limit"], "h/y"),
        ("hours planned", r["hours_used"], "h/y"),
        ("saving", r["saving"], yearly),
        ("no choice can save more than", r["bound"], yearly),
        ("share that may be missing to the best choice", r["gap"], "share"),
        ("one more hour of the line is worth about", r["hour_value"], f"{money}/h"),
        ("press hours freed", r["freed_press_hours"], "h/y"),
    ]
    for limit in r["limits"]:
        if limit["hour_value"] > 0 or limit["overfull"]:
            rows += [
                (f"limit that binds, {limit['name']}", limit["limit_hours"], "h"),
                (f"limit that binds, {limit['name']}: used", limit["used_hours"], "h"),
                (f"limit that binds, {limit['name']}: one more hour, about", limit["hour_value"], f"{money}/h"),
            ]
    for key, label, unit in (
        ("cost", "cost", yearly),
        ("co2e_kg", "CO2e", "kg/y"),
        ("waste_kg", "waste board", "kg/y"),
    ):
        rows += [
            (f"{label}, on the die all that it can make", r[key]["die_only"], unit),
            (f"{label}, as planned", r[key]["planned"], unit),
            (f"{label}, change", r[key]["change"], unit),
        ]
    rows += [
        ("load of the line", r["wait"]["load"], "share"),
        ("wait for the line, about (an estimate)", r["wait"]["wait_h"], "h"),
    ]
    rows.append(("cash saving", r["cash_saving"], yearly))
    if r["saving_range"]:
        rows += [(f"cash saving, {end} end of its range", r["saving_range"][end], yearly) for end in ("low", "high")]
    for row in r["loads"]:
        load = f"{book_wording.percent(row['load'], 0)} of the line's hours planned"
        rows += [
            (f"{load}: hours of the jobs", row["hours"], "h/y"),
            (f"{load}: saving", row["saving"], yearly),
            (f"{load}: wait, about (an estimate)", row["wait_h"], "h"),
        ]
    return rows + _investment_rows(r, money)


def _investment_rows(r: dict[str, Any], money: str) -> list[tuple[str, Cell, str]]:
    case = r["investment"]
    if case is None:
        return [("whether the line pays", "not worked out: line_capital.purchase is not given", "")]
    rows: list[tuple[str, Cell, str]] = [
        ("purchase price of the line", case["purchase"], money),
        ("life", case["life_years"], "y"),
        ("residual value", case["residual"], money),
        ("interest", case["interest_per_year"], "1/y"),
        ("tax on profit", case["tax_share"], "share"),
        ("space of the line, and maintenance that no hour carries", case["yearly_upkeep"], f"{money}/y"),
        ("net present value", case["npv"], money),
        ("net present value, low end of the saving", case["npv_low"], money),
        ("net present value, high end of the saving", case["npv_high"], money),
        ("payback", case["payback_years"], "y"),
        ("discounted payback", case["discounted_payback_years"], "y"),
        ("equivalent annual cost of the line", case["equivalent_annual_cost"], f"{money}/y"),
        ("internal rate of return", case["irr"], "1/y"),
        ("cash saving at which the line just pays", case["saving_needed"], f"{money}/y"),
        ("cash saving at which it just pays, as a share of the saving", case["share_needed"], "share"),
    ]
    for row in r["shifts"]:
        shifts = f"with the hours of {row['shifts']} shift{'' if row['shifts'] == 1 else 's'} a day"
        rows += [
            (f"{shifts}: hours", row["hours"], "h/y"),
            (f"{shifts}: hours of the jobs that save most cash", row["used"], "h/y"),
            (f"{shifts}: cash saving", row["saving"], f"{money}/y"),
            (f"{shifts}: net present value", row["npv"], money),
        ]
    return rows


def write_xlsx(plan: BookPlan, layers: Iterable[Layer], file: IO[bytes] | str) -> None:
    """Write the plan as a workbook: jobs, summary, assumptions, findings.

    Parameters
    ----------
    plan : BookPlan
        The plan.
    layers : iterable of Layer
        Plant file and settings it was made with.
    file : binary file or str
        Where to write.

    Raises
    ------
    InputError
        If there are more jobs or findings than a sheet holds.
    """
    headings, jobs = jobs_rows(plan)
    findings = findings_rows(plan.book.findings)
    if max(len(jobs), len(findings)) > MOST_ROWS:
        raise InputError(
            f"a sheet of a workbook holds {MOST_ROWS:,} rows", where="workbook", remedy="write CSV, or split the book"
        )
    remarks = [
        ("remark", book_wording.spaced(f.message), "")
        for f in (*plan.findings, *(plan.investment.findings if plan.investment else ()))
    ]
    notes = [book_wording.QUEUE_CAUTION, *book_wording.CAUTIONS]
    notes += [book_wording.RANGE_NOTE] if plan.saving_range and plan.investment else []
    notes += [book_wording.TAX_NOTE] if plan.investment and plan.investment.investment.tax_pa else []
    cautions = [("caution", text, "") for text in notes]
    made = ("made with", f"evenrun {program_version()}, tables {data_digest()}", "")
    book = Workbook(write_only=True)
    summary = [("order book", plan.book.table.source, ""), *summary_rows(plan), *remarks, *cautions, made]
    used = assumption_rows(plan, layers)
    widths, forms = [column.width for column in _JOB_COLUMNS], [column.form for column in _JOB_COLUMNS]
    _sheet(book, "Jobs", headings, jobs, widths=widths, forms=forms)
    _sheet(book, "Summary", ("figure", "value", "unit"), summary, widths=[46, 30, 12], forms=["", _ANY, ""])
    widths, forms = [32, 14, 16, 10, 10, 16, 44, 40, 60], ["", "General", ""] + ["General"] * 2 + [""] * 4
    _sheet(book, "Assumptions", ASSUMPTION_COLUMNS, used, widths=widths, forms=forms)
    widths, forms = [8, 20, 24, 20, 60, 60, 8], [_WHOLE, *[""] * 6]
    _sheet(book, "Findings", FINDING_COLUMNS, findings, widths=widths, forms=forms)
    book.save(file)


def _sheet(
    book: Workbook,
    title: str,
    headings: Sequence[str],
    rows: Sequence[Sequence[Cell]],
    *,
    widths: Sequence[int],
    forms: Sequence[str],
) -> None:
    """Add a sheet: header that stays in sight, filter, widths; numbers as numbers, texts as texts."""
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"
    for place, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(headings))}{len(rows) + 1}"
    sheet.append([_text(sheet, heading, bold=True) for heading in headings])
    for row in rows:
        sheet.append([_cell(sheet, value, form) for value, form in zip(row, forms, strict=True)])


def _cell(sheet: Any, value: Cell, form: str) -> Any:
    if value is None or value == "":
        return None
    if isinstance(value, str):
        return _text(sheet, value)
    if not math.isfinite(value):
        return _text(sheet, "without end")
    cell = WriteOnlyCell(sheet, value=value)
    cell.number_format = _form(value) if form == _ANY else form
    return cell


def _form(value: float) -> str:
    """Return a format for a figure of any size."""
    return _WHOLE if abs(value) >= 1000 or value == int(value) else "#,##0.0000" if abs(value) < 1 else _MONEY


def _text(sheet: Any, text: str, *, bold: bool = False) -> Any:
    cell = WriteOnlyCell(sheet, value=None)
    cell.value = _harmless(text)
    cell.data_type = "s"  # also where it starts like a formula
    if bold:
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    return cell
