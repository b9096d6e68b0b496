"""The sheet of inputs of a workbook: what may be changed, and whether the formulas still hold."""

from __future__ import annotations

import math
from typing import Any

from xlsxwriter.utility import xl_rowcol_to_cell

from compare.assumptions import Limits, assumption_table
from compare.present.formula_cells import ANY, CHECKS, Book, Cell
from compare.present.formula_quote import input_cell, quoted_cell
from compare.present.formula_text import in_words

HEADINGS = (
    "input", "value", "unit", "what it is", "where it is from", "basis", "source", "may be", "within it", "as quoted",
    "may be changed here",
)  # fmt: skip
"""Columns of the inputs."""

FIRST_ROW = 3
"""Row of the first input, counted from 0."""

_WIDTHS = (46, 18, 14, 56, 44, 18, 50, 18, 12, 18, 50)
_GOOD = "All of them hold: these are the program's figures for the inputs as they stand."
_BAD = "One of them fails, see the sheet Inputs: the figures here do not stand for the inputs as they are now."
_REST = "No formula reads these: other inputs were worked out from them, or this job does not need them."


def standing() -> Cell:
    """Return the sentence that says whether every check holds."""
    return Cell(f'=IF({CHECKS},"{_GOOD}","{_BAD}")', _GOOD)


def write_inputs(book: Book) -> None:
    """Write inputs that formulas read, what the formulas hold for, and the other inputs."""
    sheet = book.page("Inputs", _WIDTHS)
    names = sorted(book.quote.inputs, key=list(assumption_table()).index)
    live = [name for name in names if name in book.quote.live]
    book.put(sheet, 0, 0, "Checks", book.bold)
    book.put(sheet, 0, 1, standing())
    book.warn(sheet, (0, 1, 0, 1), f"NOT({CHECKS})")
    book.headings(sheet, FIRST_ROW - 1, HEADINGS, numbers=(1, 9))
    sheet.freeze_panes(FIRST_ROW, 2)
    for place, name in enumerate(live, start=FIRST_ROW):
        _input(book, sheet, place, name)
    if live:
        book.warn(sheet, (FIRST_ROW, 8, FIRST_ROW + len(live) - 1, 8), f"{_cell(FIRST_ROW, 8)}=FALSE")
    row = _checks(book, sheet, FIRST_ROW + len(live) + 1, len(live))
    book.put(sheet, row, 0, _REST, book.bold)
    book.headings(sheet, row + 1, HEADINGS[:7], numbers=(1,))
    texts = book.quote.comparison.scenario.choices
    rest = [name for name in names if name not in book.quote.live]
    for place, name in enumerate((*rest, *texts), start=row + 2):
        _about(book, sheet, place, name)
        book.put(sheet, place, 1, texts[name] if name in texts else float(book.quote.inputs[name].value))


def _checks(book: Book, sheet: Any, row: int, inputs: int) -> int:
    """Write the conditions that the formulas hold for; return the row after them."""
    book.put(sheet, row, 0, "What the formulas hold for", book.bold)
    book.headings(sheet, row + 1, ("check", "holds", "", "condition"))
    first, end = row + 2, row + 2 + len(book.quote.checks)
    for place, check in enumerate(book.quote.checks, start=first):
        book.put(sheet, place, 0, check.why)
        book.put(sheet, place, 1, book.worked(check.condition))
        book.put(sheet, place, 3, in_words(check.condition, book.label_of))
    within = f"{_cell(FIRST_ROW, 8)}:{_cell(FIRST_ROW + inputs - 1, 8)}" if inputs else "TRUE"
    conditions = f"{_cell(first, 1)}:{_cell(end - 1, 1)}" if book.quote.checks else "TRUE"
    book.put(sheet, end, 0, "all of them, and every input as it may be", book.bold)
    book.put(sheet, end, 1, Cell(f"=AND({conditions},{within})", value=True), book.bold)
    book.warn(sheet, (first, 1, end, 1), f"{_cell(first, 1)}=FALSE")
    book.name(CHECKS, sheet, end, 1)
    return end + 2


def _input(book: Book, sheet: Any, row: int, name: str) -> None:
    """Write an input that formulas read."""
    value, about = float(book.quote.inputs[name].value), assumption_table()[name]
    bound = book.quote.bound.get(name)
    _about(book, sheet, row, name)
    book.put(sheet, row, 1, value, None if bound else book.changeable)
    book.name(input_cell(name), sheet, row, 1)
    book.put(sheet, row, 7, about.valid, book.unit)
    book.put(sheet, row, 8, Cell(f"={_within(about.limits, _cell(row, 1))}", value=True))
    book.put(sheet, row, 9, value, book.number(ANY))
    if bound:
        book.name(quoted_cell(name), sheet, row, 9)
    book.put(sheet, row, 10, f"no: {bound}" if bound else "yes", book.unit)


def _about(book: Book, sheet: Any, row: int, name: str) -> None:
    """Write what an input is and where it is from."""
    about, scenario = assumption_table()[name], book.quote.comparison.scenario
    origin = scenario.origins.get(name, "assumption")
    book.put(sheet, row, 0, name)
    unit = "" if about.is_text or about.unit == "-" else about.unit_in(scenario.currency)
    book.put(sheet, row, 2, unit, book.unit)
    from_table = "table of assumptions" if origin == "assumption" else origin
    for column, text in enumerate((about.meaning, from_table, about.basis, about.source), start=3):
        book.put(sheet, row, column, text)


def _cell(row: int, column: int) -> str:
    return str(xl_rowcol_to_cell(row, column))


def _within(limits: Limits, cell: str) -> str:
    """Return a formula without its equals sign: whether a cell holds a number that an input may be."""
    parts = [f"ISNUMBER({cell})"]
    if limits.switch:
        parts.append(f"OR({cell}=0,{cell}=1)")
    else:
        if math.isfinite(limits.low):
            parts.append(f"{cell}{'>' if limits.low_open else '>='}{limits.low:.15g}")
        if math.isfinite(limits.high):
            parts.append(f"{cell}{'<' if limits.high_open else '<='}{limits.high:.15g}")
    if limits.whole:
        parts.append(f"{cell}=INT({cell})")
    return f"AND({','.join(parts)})"
