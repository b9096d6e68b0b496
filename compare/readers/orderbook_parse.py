"""Columns of an order book, portion by portion: cells to numbers, words and days, with findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Generic, TypeVar

import numpy as np

from compare.assumptions import Limits, assumption_table
from compare.errors import InputError
from compare.readers.orderbook_cells import (
    Ambiguous,
    DateOrder,
    Decimal,
    NotANumber,
    has_short_year,
    looks_like_thousands,
    read_date,
    read_number,
)
from compare.readers.orderbook_columns import Column
from compare.readers.orderbook_findings import BookFinding
from compare.readers.orderbook_words import WordColumn, cell_finding, joined_parts, short, word

_KEPT_TEXTS = 50_000
"""Cells whose reading is remembered: most numbers of a book come many times."""

_SMALLEST, _LARGEST = 1e-9, 1e12
"""As in the table of assumptions: no quantity of this trade is smaller (but for 0) or larger."""

_NO_DAY = np.datetime64("NaT", "D")
_YES_NO = {
    **dict.fromkeys(("yes", "true", "x", "ja", "oui", "sí", "si", "sì", "tak"), 1.0),
    **dict.fromkeys(("no", "false", "nein", "non", "nee", "nie"), 0.0),
}
"""What may stand for 1 and 0 in a column that knows nothing else, in the languages of the headings."""

T = TypeVar("T", Decimal, DateOrder)


@dataclass
class Convention(Generic[T]):
    """A way of writing that a file keeps to, such as its decimal sign, and what its cells gave away of it."""

    value: T | None
    shown: set[T] = field(default_factory=set)

    def settle(self) -> bool:
        """Take what the cells gave away, if they agree; say whether that is new."""
        if self.value is None and len(self.shown) == 1:
            (self.value,) = self.shown
            return True
        return False


class NumberColumn:
    """Numbers of one column."""

    def __init__(self, column: Column, decimal: Convention[Decimal]) -> None:
        self.column, self.decimal = column, decimal
        self.row = assumption_table()[column.input]
        self.findings: list[BookFinding] = []
        self.parts: list[np.ndarray] = []
        self._known: dict[Any, float] = {}
        self._open: list[tuple[int, int, int, str]] = []  # portion, place in it, row, text

    def read(self, rows: Sequence[int], cells: Sequence[Any]) -> None:
        """Read a portion of the column."""
        known = self._known
        if len(known) > _KEPT_TEXTS:
            known.clear()
        unlike = set(cells)
        for cell in unlike.difference(known):
            known[cell] = self._value(cell)
        values = np.fromiter(map(known.__getitem__, cells), dtype=float, count=len(cells))
        if unread := {cell for cell in unlike if known[cell] != known[cell]} - {None, ""}:
            for i in np.flatnonzero(np.isnan(values)).tolist():
                if cells[i] in unread:
                    self._unread(i, rows[i], cells[i])
        self.parts.append(self._checked(values, rows, cells))

    def _value(self, cell: Any) -> float:  # noqa: PLR0911 - one per kind of cell
        if cell is None or cell == "":
            return np.nan
        if self.row.limits.switch and str(cell).strip().casefold() in _YES_NO:
            return _YES_NO[str(cell).strip().casefold()]
        if isinstance(cell, (int, float)):
            return self._scaled(float(cell)) if abs(cell) <= _LARGEST * 1e6 else np.nan
        if not isinstance(cell, str):
            return np.nan
        if cell.isascii() and cell.isdigit():
            return self._scaled(float(cell))
        try:
            value, shown = read_number(cell, self.decimal.value)
        except ValueError:
            return np.nan
        if shown:
            self.decimal.shown.add(shown)
        return np.nan if self._doubtful(cell, value) else self._scaled(value)

    def _scaled(self, value: float) -> float:
        value *= self.column.factor
        if self.column.factor != 1 and self.row.limits.whole and abs(value - round(value)) < 1e-6:
            return float(round(value))
        return value + 0.0  # there is one zero

    def _doubtful(self, text: str, value: float) -> bool:
        """Say whether a whole number is written as if with decimals: 12.000 may be 12, or twelve thousand."""
        whole = self.row.limits.whole and self.column.factor == 1
        return whole and value < 1000 and looks_like_thousands(text)

    def _unread(self, place: int, row: int, cell: Any) -> None:
        if isinstance(cell, str) and not cell.strip():
            return
        doubtful = False
        if isinstance(cell, str):
            try:
                value, _ = read_number(cell, self.decimal.value)
                doubtful = self._doubtful(cell, value)
            except Ambiguous:
                self._open.append((len(self.parts), place, row, cell))
                return
            except NotANumber:
                pass
        self._complain(row, cell, doubtful=doubtful)

    def _complain(self, row: int, cell: Any, *, doubtful: bool) -> None:
        shown = short(cell)
        if doubtful:
            finding = cell_finding(
                "book.ambiguous_number",
                f"'{shown}' could be a whole number with decimals or one of thousands",
                "write it without any separator",
                row,
                self.column,
                cell,
            )
        elif self.row.limits.switch:
            what = f"'{shown}' is neither yes nor no"
            finding = cell_finding("book.not_a_number", what, "give 1 or 0", row, self.column, cell)
        else:
            sign = {".": " with decimal point", ",": " with decimal comma"}.get(self.decimal.value or "", "")
            finding = cell_finding(
                "book.not_a_number",
                f"'{shown}' is not a number{sign}",
                "give a plain number, its unit in the heading",
                row,
                self.column,
                cell,
            )
        self.findings.append(finding)

    def _checked(self, values: np.ndarray, rows: Sequence[int], cells: Sequence[Any]) -> np.ndarray:
        """Take out what the input can't be, and say so."""
        limits = self.row.limits
        bad = outside(limits, values)
        if bad.any():
            for i in np.flatnonzero(bad).tolist():
                self._outside(float(values[i]), rows[i], cells[i])
            values[bad] = np.nan
        return values

    def _outside(self, value: float, row: int, cell: Any) -> None:
        code = "book.negative" if value < 0 <= self.row.limits.low else "book.out_of_range"
        try:
            self.row.check(value, where=self.column.heading)
        except InputError as error:
            what = error.what.replace(self.row.name, f"'{self.column.heading}'", 1)
            self.findings.append(cell_finding(code, what, error.remedy, row, self.column, cell))

    def settle(self) -> None:
        """Read again what was open, now that the decimal sign is known."""
        pending, self._open = self._open, []
        self._known.clear()
        for part, place, row, text in pending:
            try:
                value, _ = read_number(text, self.decimal.value)
            except ValueError:
                self._complain(row, text, doubtful=False)
                continue
            if self._doubtful(text, value):
                self._complain(row, text, doubtful=True)
                continue
            one = np.array([self._scaled(value)])
            self.parts[part][place] = self._checked(one, [row], [text])[0]

    def finish(self) -> np.ndarray:
        """Return the whole column; what is still open is asked for."""
        for _, _, row, text in self._open:
            both = "the file has numbers of both kinds" if self.decimal.shown else "nothing in the file says which"
            self.findings.append(
                cell_finding(
                    "book.ambiguous_number",
                    f"'{short(text)}' has a decimal point or comma, or one of thousands; {both}",
                    "say which decimal sign the file has",
                    row,
                    self.column,
                    text,
                )
            )
        return joined_parts(self.parts, float)


def outside(limits: Limits, values: np.ndarray) -> np.ndarray:
    """Say which values are not what an input may be; NaN, which stands for not given, may."""
    size = np.abs(values)
    bad: np.ndarray = (size > _LARGEST) | ((values != 0) & (size < _SMALLEST))
    bad |= values <= limits.low if limits.low_open else values < limits.low
    bad |= values >= limits.high if limits.high_open else values > limits.high
    if limits.switch or limits.whole:
        bad |= ~np.isnan(values) & (values != np.floor(values))
    return bad


class DayColumn:
    """Days of one column."""

    def __init__(self, column: Column, order: Convention[DateOrder]) -> None:
        self.column, self.order = column, order
        self.findings: list[BookFinding] = []
        self.parts: list[np.ndarray] = []
        self._known: dict[Any, np.datetime64] = {}
        self._open: list[tuple[int, int, int, str]] = []

    def read(self, rows: Sequence[int], cells: Sequence[Any]) -> None:
        """Read a portion of the column."""
        known = self._known
        for cell in set(cells).difference(known):
            known[cell] = self._day(cell)
        days = np.array([known[cell] for cell in cells], dtype="datetime64[D]")
        for i in np.flatnonzero(np.isnat(days)).tolist():
            if cells[i] and word(cells[i]):
                self._unread(i, rows[i], cells[i])
        self.parts.append(days)

    def _day(self, cell: Any) -> np.datetime64:
        if isinstance(cell, datetime):
            cell = cell.date()
        if not isinstance(cell, date):
            try:
                cell, shown = read_date(word(cell), self.order.value)
            except ValueError:
                return _NO_DAY
            if shown:
                self.order.shown.add(shown)
        return np.datetime64(cell, "D")

    def _unread(self, place: int, row: int, cell: Any) -> None:
        try:
            read_date(word(cell), self.order.value)
        except Ambiguous:
            self._open.append((len(self.parts), place, row, word(cell)))
        except ValueError:
            self._complain(row, cell)

    def _complain(self, row: int, cell: Any) -> None:
        if has_short_year(word(cell)):
            what, remedy = f"'{short(cell)}' has a year of two digits", "write the year with four digits"
            self.findings.append(cell_finding("book.not_a_date", what, remedy, row, self.column, cell))
            return
        how = {"dmy": " (day before month)", "mdy": " (month before day)"}.get(self.order.value or "", "")
        self.findings.append(
            cell_finding(
                "book.not_a_date",
                f"'{short(cell)}' is no date{how}",
                "write it as 2026-03-31",
                row,
                self.column,
                cell,
            )
        )

    def settle(self) -> None:
        """Read again what was open, now that the order of day and month is known."""
        pending, self._open = self._open, []
        self._known.clear()
        for part, place, row, text in pending:
            try:
                self.parts[part][place] = read_date(text, self.order.value)[0]
            except ValueError:
                self._complain(row, text)

    def finish(self) -> np.ndarray:
        """Return the whole column; what is still open is asked for."""
        self.findings += [
            cell_finding(
                "book.ambiguous_date",
                f"'{text}' could be of two months, and the file does not say which part is the day",
                "write it as 2026-03-31, or say whether the day or the month stands first",
                row,
                self.column,
                text,
            )
            for _, _, row, text in self._open
        ]
        return joined_parts(self.parts, "datetime64[D]")


AnyColumn = NumberColumn | WordColumn | DayColumn


def waiting_rows(findings: Sequence[BookFinding], rows: np.ndarray) -> np.ndarray:
    """Say which rows wait for something to be mended.

    Parameters
    ----------
    findings : sequence of BookFinding
        One that is about the whole file makes every row wait.
    rows : ndarray
        Row numbers of the file, ascending.
    """
    waits = np.zeros(len(rows), dtype=bool)
    if any(f.waits and f.row is None for f in findings):
        return ~waits
    named = np.array(sorted({f.row for f in findings if f.waits and f.row is not None}), dtype=np.int64)
    waits[np.searchsorted(rows, named)] = True
    return waits


def in_order(findings: list[BookFinding], columns: Mapping[str, int]) -> tuple[BookFinding, ...]:
    """Sort findings: those about the file, then by row and column."""
    return tuple(sorted(findings, key=lambda f: (f.row or 0, columns.get(f.column, -1))))


def settle_all(columns: Sequence[AnyColumn], decimal: Convention[Decimal], days: Convention[DateOrder]) -> None:
    """Let the columns read again what was open, where a portion showed how the file is written."""
    if decimal.settle():
        for column in columns:
            if isinstance(column, NumberColumn):
                column.settle()
    if days.settle():
        for column in columns:
            if isinstance(column, DayColumn):
                column.settle()
