"""The order book to be filled in, as a workbook or as CSV; its columns are those of data/orderbook_columns.csv."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from io import BytesIO
from typing import TextIO

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from compare.boards import boards
from compare.readers.orderbook_columns import Column, TemplateColumn, template_columns, template_heading
from compare.readers.orderbook_words import WordColumn

NEEDED = (
    "An order needs run_length, a board (board, or grammage_g_m2 and caliper_mm), a sheet (sheet_width_mm and "
    "sheet_length_mm), and the carton: either style with length_mm, width_mm and height_mm, or blank_area_m2, cutting_m, "
    "creasing_m, nicks, bends, strokes, corner_load, ups_die and ups_laser. Leave the rest empty where the plant's value "
    "holds. Units stand in the headings and may be others, such as [in] or [cm]."
)
"""What a row has to give, in words."""

_FILLED_ROWS = 5000
"""Rows of the workbook that offer a list of words."""


def allowed_words(column: TemplateColumn) -> tuple[str, ...]:
    """Return the words that a column takes; empty where it takes any text, number or day."""
    if column.unit == "0/1":
        return ("0", "1")
    if column.unit != "text":
        return ()
    return WordColumn(Column(0, column.name, column.input, 1.0, "")).options or ()


def write_template_csv(file: TextIO) -> None:
    """Write the headings with their units, and one row that says what each of them means."""
    columns = template_columns()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(template_heading(column) for column in columns)
    writer.writerow(("Delete this row. " if i == 0 else "") + _meaning(column) for i, column in enumerate(columns))


def _meaning(column: TemplateColumn) -> str:
    words = allowed_words(column)
    if not words or column.unit == "0/1":
        return column.meaning
    return f"{column.meaning}: {' | '.join(words)}"


def template_xlsx() -> bytes:
    """Return the template as a workbook: a sheet to fill in, one that explains, one with boards."""
    columns = template_columns()
    book = Workbook()
    orders = book.active
    assert isinstance(orders, Worksheet)
    orders.title = "Orders"
    for place, column in enumerate(columns, start=1):
        heading = template_heading(column)
        orders.cell(1, place, heading)
        orders.column_dimensions[get_column_letter(place)].width = max(12, len(heading) + 2)
        words = allowed_words(column)
        listed = f'"{",".join(words)}"'
        if words and len(listed) <= 255:  # a list within a formula holds no more
            _offer(orders, place, listed)
        elif words:
            _offer(orders, place, f"Boards!$A$2:$A${len(words) + 1}")
    _header(orders)
    explained = [
        (
            template_heading(column),
            column.unit,
            column.meaning,
            "a board of the next sheet" if column.input == "board.grade" else ", ".join(allowed_words(column)),
            ", ".join(column.aliases),
        )
        for column in columns
    ]
    _table(
        book,
        "Columns",
        ("column", "unit", "meaning", "words it takes", "is also read as"),
        explained,
        (34, 12, 60, 50, 90),
    )
    book["Columns"].append([])
    book["Columns"].append([NEEDED])
    rows = [
        (b.grade, b.name, b.fibre, b.grammage_g_m2, b.caliper_mm, b.price_per_t, b.basis) for b in boards().values()
    ]
    headings = ("board", "name", "fibre", "grammage [g/m2]", "caliper [mm]", "price [money/t]", "basis")
    _table(book, "Boards", headings, rows, (26, 40, 12, 16, 14, 16, 20))
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def _offer(sheet: Worksheet, place: int, source: str) -> None:
    """Offer words in a column; others may be typed, and the reader says what it makes of them."""
    letter = get_column_letter(place)
    rule = DataValidation(type="list", formula1=source, allow_blank=True, showErrorMessage=False)
    rule.add(f"{letter}2:{letter}{_FILLED_ROWS}")
    sheet.add_data_validation(rule)


def _table(
    book: Workbook, title: str, headings: Sequence[str], rows: Sequence[Sequence[str | float]], widths: Sequence[int]
) -> None:
    sheet = book.create_sheet(title)
    sheet.append(list(headings))
    for row in rows:
        sheet.append(list(row))
    for place, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    _header(sheet)


def _header(sheet: Worksheet) -> None:
    sheet.freeze_panes = "A2"
    for cell in sheet[1]:
        cell.font = Font(bold=True)
        cell.alignment = Alignment(vertical="top")
