"""Words in columns of an order book: free ones such as numbers of cartons, or names out of a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import numpy as np

from compare.assumptions import assumption_table
from compare.boards import boards
from compare.readers.orderbook_columns import ROUTE, Column
from compare.readers.orderbook_findings import BookFinding

_NOTHING = ("", "-", "n/a", "na", "none", "null")
"""What people write where there is nothing."""


def cell_finding(  # noqa: PLR0917 - in the order of a sentence
    code: str, what: str, remedy: str, row: int, column: Column, value: object
) -> BookFinding:
    """Return the finding about a cell."""
    return BookFinding(code, what, remedy, row=row, column=column.heading, value=short(value))


def short(value: object) -> str:
    """Return a cell on one line, cut off where it is long."""
    text = " ".join(str(value).split())
    return text if len(text) <= 80 else text[:77] + "..."


def joined_parts(parts: list[np.ndarray], kind: Any) -> np.ndarray:
    """Return portions of a column as one."""
    joined = np.concatenate(parts) if parts else np.empty(0, dtype=kind)
    parts.clear()
    return joined


@dataclass(frozen=True)
class Words:
    """A column of words, each kept once.

    Attributes
    ----------
    codes : ndarray of int32
        Place in ``names`` by row; -1 where nothing is given.
    names : tuple of str
        The words.
    """

    codes: np.ndarray
    names: tuple[str, ...]

    def at(self, row: int) -> str:
        """Return the word of a row; empty where there is none."""
        code = int(self.codes[row])
        return self.names[code] if code >= 0 else ""


class WordColumn:
    """Words of one column: free ones such as numbers of cartons, or names out of a table."""

    def __init__(self, column: Column) -> None:
        self.column = column
        self.options = _options(column.input)
        self.findings: list[BookFinding] = []
        self.parts: list[np.ndarray] = []
        self._names: dict[str, int] = {}
        self._codes: dict[Any, int] = {}

    def read(self, rows: Sequence[int], cells: Sequence[Any]) -> None:
        """Read a portion of the column."""
        codes = self._codes
        for cell in set(cells).difference(codes):
            codes[cell] = self._code(cell)
        found = np.fromiter(map(codes.__getitem__, cells), dtype=np.int32, count=len(cells))
        bad = found == -2
        if bad.any():
            for i in np.flatnonzero(bad).tolist():
                self._complain(rows[i], cells[i])
            found[bad] = -1
        self.parts.append(found)

    def _code(self, cell: Any) -> int:
        text = word(cell)
        if self.options is None:
            if not text:
                return -1
            return (
                -2 if len(text) > MAX_NAME or text in FORMULA_ERRORS else self._names.setdefault(text, len(self._names))
            )
        name = "_".join("".join(c if c.isalnum() else " " for c in text.casefold()).split())
        if self.column.input == ROUTE:
            name = _ROUTES.get(name, name)
        if name in self.options:
            return self._names.setdefault(name, len(self._names))
        return -1 if text.casefold() in _NOTHING else -2

    def _complain(self, row: int, cell: Any) -> None:
        text = word(cell)
        if self.options is None:
            self.findings.append(no_name(row, self.column, text))
            return
        kind = {"board.grade": "board", "carton.style": "style"}.get(self.column.input, "word")
        near = get_close_matches("_".join(text.casefold().split()), self.options, n=3, cutoff=0.6)
        known = f"did you mean {' or '.join(near)}" if near else f"give one of {', '.join(self.options)}"
        if kind == "word":
            what = "route" if self.column.input == ROUTE else f"word that '{self.column.heading}' can be"
            known = known if near or self.column.input != ROUTE else f"give {' or '.join(self.options)}"
            self.findings.append(
                cell_finding("book.unknown_word", f"'{short(text)}' is no {what}", known, row, self.column, text)
            )
            return
        other = {
            "board": "; or leave it empty and give grammage, caliper and price",
            "style": "; or leave it empty and give area and lengths",
        }.get(kind, "")
        self.findings.append(
            cell_finding(
                f"book.unknown_{kind}", f"there is no {kind} '{short(text)}'", known + other, row, self.column, text
            )
        )

    def finish(self) -> Words:
        """Return the whole column."""
        return Words(joined_parts(self.parts, np.int32), tuple(self._names))


MAX_NAME = 100
"""Characters of a number of an order or a carton."""


FORMULA_ERRORS = frozenset(
    {
        "#N/A",
        "#REF!",
        "#VALUE!",
        "#NAME?",
        "#NUM!",
        "#NULL!",
        "#DIV/0!",
        "#SPILL!",
        "#CALC!",
        "#NV",
        "#BEZUG!",
        "#WERT!",
    }
)
"""What a spreadsheet shows where a formula went wrong; unlike orders would be one carton by it."""


def no_name(row: int, column: Column, text: str) -> BookFinding:
    """Return the finding for a number of an order or a carton that is none."""
    if text in FORMULA_ERRORS:
        return cell_finding(
            "book.formula",
            f"'{text}' is the error of a formula",
            "mend the formula, or type what it should be",
            row,
            column,
            text,
        )
    return cell_finding(
        "book.long_text", f"the cell has more than {MAX_NAME} characters", "shorten it", row, column, text
    )


def word(cell: Any) -> str:
    """Return a cell as a word: whole numbers of a workbook without a point."""
    if isinstance(cell, str):
        return cell if cell.isalnum() else " ".join(cell.split())
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return " ".join(str(cell).split())


_ROUTES = {
    **dict.fromkeys(("stanze", "stanzen", "stanzform", "forme", "forme_de_découpe", "troquel", "fustella"), "die"),
    **dict.fromkeys(("stans", "stansvorm", "wykrojnik"), "die"),
    "láser": "laser",
}
"""Routes in the languages that headings are known in."""


def _options(name: str) -> tuple[str, ...] | None:
    if name == "board.grade":
        return tuple(boards())
    if name == ROUTE:
        return ("die", "laser")
    row = assumption_table().get(name)
    return tuple(row.valid.split("|")) if row is not None and "|" in row.valid else None
