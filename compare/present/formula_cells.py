"""A workbook under way: its looks, and cells that hold texts, numbers and formulas under names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from io import BytesIO
from typing import Any, NamedTuple

import xlsxwriter
from xlsxwriter.utility import xl_rowcol_to_cell

from compare.present.formula_quote import TracedQuote
from compare.present.formula_steps import steps
from compare.present.formula_text import formula
from compare.present.formula_trace import Traced
from compare.present.look import PALETTES
from compare.readers.orderbook_findings import safe_text

MONEY, AMOUNT, FINE, COUNT, ANY = "#,##0.00", "#,##0.000", "#,##0.0000", "#,##0.0", "General"
"""Formats of numbers."""

CHECKS = "checks_hold"
"""Name of the cell that says whether every check holds."""

_LINE_HEIGHT = 15.0
"""Height of one line of text [points]."""

_MOST_CHARACTERS = 32_767
"""Length of a text that a cell holds."""

_ANY_DAY = datetime(1980, 1, 1)
"""Stands for the day a workbook was made, so that the same input gives the same bytes."""


class Cell(NamedTuple):
    """A formula with its value.

    Attributes
    ----------
    formula : str
        With its equals sign.
    value : float, bool or str
        What it comes to, for viewers that don't calculate.
    """

    formula: str
    value: float | bool | str


class Book:
    """A workbook of a traced quote, to be filled sheet by sheet.

    Parameters
    ----------
    quote : TracedQuote
        Whose figures it holds.
    """

    def __init__(self, quote: TracedQuote) -> None:
        self.quote = quote
        self.steps = steps(quote)
        self._out = BytesIO()
        self._file = xlsxwriter.Workbook(self._out, {"in_memory": True})
        self._file.set_properties({"title": harmless(quote.comparison.scenario.name), "created": _ANY_DAY})
        self._cells = {step.node: step.cell for step in self.steps}
        self._labels = {**quote.labels, **{step.node: step.label for step in self.steps}}
        self._labels |= {node: name for name, node in quote.inputs.items()}
        self._formats: dict[str, Any] = {}

    def page(self, name: str, widths: Sequence[float]) -> Any:
        """Add a sheet whose columns have these widths, and that prints on pages across."""
        sheet = self._file.add_worksheet(name)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        for column, width in enumerate(widths):
            sheet.set_column(column, column, width)
        return sheet

    def content(self) -> bytes:
        """Close the workbook and return it."""
        self._file.close()
        return self._out.getvalue()

    # -- cells --------------------------------------------------------------------------------------------------------

    def put(self, sheet: Any, row: int, column: int, what: str | float | Cell, look: Any = None) -> None:
        """Write a text, a number or a formula; a text is a text whatever it starts with."""
        look = look or self.line
        if isinstance(what, Cell):
            value = what.value
            # no zero with a minus before it
            sheet.write_formula(row, column, what.formula, look, value if isinstance(value, (bool, str)) else value + 0)
        elif isinstance(what, str):
            sheet.write_string(row, column, harmless(what), look)
        else:
            sheet.write_number(row, column, what, look)

    def headings(self, sheet: Any, row: int, texts: Sequence[str], numbers: Sequence[int] = (), lines: int = 1) -> None:
        """Write a row of headings; those of columns of numbers stand to the right."""
        self.height(sheet, row, lines)
        for column, text in enumerate(texts):
            place = "right" if column in numbers else "beside" if column - 1 in numbers else "left"
            self.put(sheet, row, column, text, self._head(place))

    def height(self, sheet: Any, row: int, lines: int) -> None:
        """Make a row as high as its lines of text; not every program does so by itself."""
        sheet.set_row(row, _LINE_HEIGHT * lines)

    def name(self, name: str, sheet: Any, row: int, column: int, rows: int = 1) -> None:
        """Give a name to a cell, or to some below one another."""
        first, last = (xl_rowcol_to_cell(r, column, row_abs=True, col_abs=True) for r in (row, row + rows - 1))
        self._file.define_name(name, f"={sheet.get_name()}!{first if rows == 1 else f'{first}:{last}'}")

    def warn(self, sheet: Any, where: tuple[int, int, int, int], condition: str) -> None:
        """Colour cells (first row, first column, last row, last column) where a formula is true."""
        wrong = self._format("wrong", bold=True, font_color="#a01818", bg_color="#fbe3e3")
        sheet.conditional_format(*where, {"type": "formula", "criteria": f"={condition}", "format": wrong})

    # -- formulas -----------------------------------------------------------------------------------------------------

    def worked(self, node: Traced, beside: Mapping[Traced, str] | None = None) -> Cell:
        """Return a cell that shows a node: the name of its own cell, or its formula.

        Parameters
        ----------
        node : Traced
            What to show.
        beside : mapping of Traced to str, optional
            Cells of the same row that stand for what they hold.
        """
        if cell := self.cell_of(node):
            return Cell(f"={cell}", node.value)
        return Cell(formula(node, lambda part: (beside or {}).get(part) or self.cell_of(part)), node.value)

    def inside(self, node: Traced) -> str:
        """Return a node as part of a formula."""
        return self.cell_of(node) or f"({formula(node, self.cell_of)[1:]})"

    def cell_of(self, node: Traced) -> str:
        """Return the name of the cell of a step; empty for what has none."""
        return self._cells.get(node, "")

    def label_of(self, node: Traced) -> str:
        """Return what a step or an input is called; empty for what has no name."""
        return self._labels.get(node, "")

    # -- looks --------------------------------------------------------------------------------------------------------

    @property
    def line(self) -> Any:
        """A text or number on one line."""
        return self._format("line", valign="top")

    @property
    def wrapped(self) -> Any:
        """A text on as many lines as it needs."""
        return self._format("wrapped", valign="top", text_wrap=True)

    @property
    def bold(self) -> Any:
        """A label."""
        return self._format("bold", valign="top", bold=True)

    @property
    def title(self) -> Any:
        """A title."""
        return self._format("title", bold=True, font_size=14)

    @property
    def unit(self) -> Any:
        """A text to the right of a number."""
        return self._format("unit", valign="top", align="left", indent=1)

    @property
    def changeable(self) -> Any:
        """A number that may be changed."""
        return self._format("changeable", valign="top", bg_color="#fff3c9", border=1, border_color="#d8c98a")

    def number(self, form: str, *, bold: bool = False) -> Any:
        """Return the look of a number in a format."""
        return self._format(f"number {form} {bold}", valign="top", align="right", num_format=form, bold=bold)

    def _head(self, place: str) -> Any:
        look = {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": PALETTES["light"].grid}
        look |= {"align": "right"} if place == "right" else {"align": "left", "indent": int(place == "beside")}
        return self._format(f"head {place}", **look)

    def _format(self, name: str, **look: Any) -> Any:
        if name not in self._formats:
            self._formats[name] = self._file.add_format(look)
        return self._formats[name]


def harmless(text: str) -> str:
    """Return a text that no spreadsheet runs, and that a cell holds."""
    shown = safe_text(text.encode("utf-8", "replace").decode())
    return shown if len(shown) <= _MOST_CHARACTERS else f"{shown[: _MOST_CHARACTERS - 1]}…"
