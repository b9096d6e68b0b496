"""Order books: a CSV or XLSX file of orders in, columns of numbers and all that has to be mended out.

One row is one order, or one carton with its figures of a year. Every row of the file is either fit to
be computed or named in the findings; nothing is dropped and nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np

from compare.errors import InputError
from compare.readers.jobfile import Layer
from compare.readers.orderbook_cells import DateOrder, Decimal
from compare.readers.orderbook_checks import (
    about_file,
    currencies,
    date_order,
    duplicates,
    no_run_length,
    odd_cells,
    pinned_apart,
    too_many_cells,
)
from compare.readers.orderbook_columns import (
    CARTON,
    CURRENCY,
    DUE,
    ORDER,
    ORDERED,
    ROUTE,
    Column,
    map_columns,
    unit_of,
)
from compare.readers.orderbook_doubts import doubts
from compare.readers.orderbook_files import open_rows
from compare.readers.orderbook_findings import BookFinding
from compare.readers.orderbook_parse import (
    AnyColumn,
    Convention,
    DayColumn,
    NumberColumn,
    in_order,
    settle_all,
    waiting_rows,
)
from compare.readers.orderbook_rows import MAX_COLUMNS, MAX_ROWS, Portion, RowSource
from compare.readers.orderbook_strays import headings_below, set_aside
from compare.readers.orderbook_words import FORMULA_ERRORS, MAX_NAME, WordColumn, Words, no_name, word


@dataclass(frozen=True)
class OrderTable:
    """An order book as columns.

    Attributes
    ----------
    source : str
        Name of the file.
    row : ndarray of int64
        Row of each order as a spreadsheet numbers it.
    order : ndarray of object
        Number of each order; ``row 17`` where the file has none.
    carton : Words
        Number of each order's carton; -1 where the order is a carton of its own.
    numbers : mapping
        Dotted name to numbers in the unit of that input; NaN where a row leaves it out.
    texts : mapping
        Dotted name to words.
    ordered, due : ndarray of datetime64[D] or None
        Days; NaT where a row leaves them out.
    route : Words
        Route that an order must stay on.
    currency : str
        Currency of its prices; empty where it names none.
    headings : mapping
        Dotted name to the heading of the file.
    findings : tuple of BookFinding
        Everything to be mended, and remarks.
    waits : ndarray of bool
        Which rows can't be computed until something is mended.
    decimal : str
        Decimal sign that was given or found; empty where none was needed.
    """

    source: str
    row: np.ndarray
    order: np.ndarray
    carton: Words
    numbers: Mapping[str, np.ndarray]
    texts: Mapping[str, Words]
    ordered: np.ndarray | None
    due: np.ndarray | None
    route: Words
    currency: str
    headings: Mapping[str, str]
    findings: tuple[BookFinding, ...]
    waits: np.ndarray
    decimal: str

    def __len__(self) -> int:
        return len(self.row)

    @property
    def nbytes(self) -> int:
        """Memory of the columns, numbers of orders counted by their pointers alone [bytes]."""
        words = [self.carton, self.route, *self.texts.values()]
        days = [d for d in (self.ordered, self.due) if d is not None]
        plain = [self.row, self.order, self.waits, *self.numbers.values(), *days]
        return sum(a.nbytes for a in plain) + sum(w.codes.nbytes for w in words)

    def values(self, index: int) -> dict[str, Any]:
        """Return what one row gives, by dotted name."""
        numbers = {n: float(v[index]) for n, v in self.numbers.items() if not np.isnan(v[index])}
        return numbers | {n: w.at(index) for n, w in self.texts.items() if w.codes[index] >= 0}

    def layer(self, index: int) -> Layer:
        """Return one row as a job, as if it came from a job file."""
        name = str(self.order[index])
        return Layer(f"{self.source}, row {self.row[index]}", self.values(index), {"name": name})


def read_orders(
    path: Path,
    *,
    columns: Mapping[str, str] | None = None,
    decimal: Decimal | None = None,
    dates: DateOrder | None = None,
    currency: str | None = None,
    sheet: str | None = None,
    max_rows: int = MAX_ROWS,
    mended: Mapping[tuple[int, str], str] | None = None,
    progress: Callable[[int], object] | None = None,
) -> OrderTable:
    """Read an order book.

    Parameters
    ----------
    path : Path
        CSV (separated by comma, semicolon, tab or bar; UTF-8, UTF-16 or Windows-1252) or XLSX.
    columns : mapping, optional
        Heading to what it holds, for headings that the template does not know.
    decimal : {".", ","}, optional
        Decimal sign. Left out, it is taken from cells that can be read in one way only; where there
        is none, cells such as ``1.234`` are asked for.
    dates : {"ymd", "dmy", "mdy"}, optional
        Order of day and month where the year stands last. Left out, it is found like the decimal sign.
    currency : str, optional
        Currency of the plant: rows in another one wait.
    sheet : str, optional
        Sheet of a workbook; the first, if left out.
    max_rows : int
        Rows that are read at most.
    mended : mapping, optional
        Cells to be read instead of those in the file, by row as a spreadsheet numbers it and heading.
    progress : callable, optional
        Told how many rows have been read, every 20,000 of them.

    Returns
    -------
    OrderTable

    Raises
    ------
    FileError
        If the file can't be opened, is of another kind, or unpacks to more than an order book needs.
    InputError
        If it is no table, or a mended cell is not in it.
    """
    if decimal not in (None, ".", ","):
        raise InputError(f"'{decimal}' is no decimal sign", where="decimal", remedy="give a point or a comma")
    with open_rows(path, sheet, max_rows) as source:
        watched = replace(source, portions=_mended(source, mended or {}, progress, path.name))
        return _read(watched, path.name, columns, Convention(decimal), Convention(dates), currency)


def _mended(
    source: RowSource,
    mended: Mapping[tuple[int, str], str],
    progress: Callable[[int], object] | None,
    where: str,
) -> Iterator[Portion]:
    """Put mended cells in place while rows are read."""
    places = {heading.strip(): place for place, heading in enumerate(source.headings)}
    unused, read = dict(mended), 0
    for portion in source.portions:
        found = {row: i for i, row in enumerate(portion.rows)} if unused else {}
        for row, heading in [key for key in unused if key[0] in found and key[1].strip() in places]:
            cells, place = portion.cells[found[row]], places[heading.strip()]
            cells.extend([None] * (place + 1 - len(cells)))
            cells[place] = unused.pop((row, heading))
            solved = [cell for cell in portion.odd if (cell.row, cell.place, cell.lines) == (row, place, None)]
            portion = portion._replace(odd=[cell for cell in portion.odd if cell not in solved])  # noqa: PLW2901
        yield portion
        read += len(portion.rows)
        if progress:
            progress(read)
    if unused:
        row, heading = next(iter(unused))
        raise InputError(
            f"there is no cell in row {row} and column '{heading}' to be mended",
            where=where,
            remedy="read the file anew",
        )


def _read(  # noqa: PLR0917 - what read_orders was given
    source: RowSource,
    name: str,
    mapping: Mapping[str, str] | None,
    decimal: Convention[Decimal],
    days: Convention[DateOrder],
    currency: str | None,
) -> OrderTable:
    findings = about_file(source)
    first = next(source.portions, None)
    too_wide = len(source.headings) > MAX_COLUMNS
    found, remarks = ([], []) if too_wide else map_columns(source.headings, mapping)
    below = None if too_wide else headings_below(first, found, mapping)
    if below:
        found, remarks = [], [below]
    elif source.headings and not too_wide and not any(c.input == "demand.run_length" for c in found):
        remarks.append(no_run_length(source.headings))
    findings += remarks
    table_like = not too_wide and not below
    readers = {c.input: _reader(c, decimal, days) for c in found if c.input != ORDER}
    id_column = next((c for c in found if c.input == ORDER), None)
    row_parts: list[np.ndarray] = []
    ids: list[str] = []
    for portion in chain([first] if first else [], source.portions):
        row_parts.append(np.array(portion.rows, dtype=np.int64))
        findings += odd_cells(portion.odd, source.headings, found)
        if table_like:
            findings += set_aside(portion, found, first=portion is first)
            findings += too_many_cells(portion, len(source.headings))
        cells = portion.columns(len(source.headings)) if table_like else []
        for reader in readers.values():
            reader.read(portion.rows, cells[reader.column.place])
        settle_all(list(readers.values()), decimal, days)
        ids += _ids(portion.rows, cells[id_column.place] if id_column else None, id_column, findings)
    row = np.concatenate(row_parts) if row_parts else np.empty(0, dtype=np.int64)
    if not len(row) and source.headings:
        findings.append(BookFinding("book.empty", "the file has headings and no orders", "give one row per order"))
    done = {input_name: reader.finish() for input_name, reader in readers.items()}
    for reader in readers.values():
        findings += reader.findings
    findings += duplicates(ids, row, id_column) + date_order(done, row, found)
    findings += pinned_apart(done, row, found) + doubts(done, row, found)
    used, more = currencies(found, done, row, currency)
    findings += more
    nothing = Words(np.full(len(row), -1, dtype=np.int32), ())
    table = OrderTable(
        source=name,
        row=row,
        order=np.array(ids, dtype=object),
        carton=done.get(CARTON, nothing),  # type: ignore[arg-type]
        numbers={n: v for n, v in done.items() if isinstance(readers[n], NumberColumn)},  # type: ignore[misc]
        texts={n: v for n, v in done.items() if isinstance(v, Words) and n not in (CARTON, ROUTE, CURRENCY)},
        ordered=done.get(ORDERED),  # type: ignore[arg-type]
        due=done.get(DUE),  # type: ignore[arg-type]
        route=done.get(ROUTE, nothing),  # type: ignore[arg-type]
        currency=used,
        headings={c.input: c.heading for c in found},
        findings=(),
        waits=np.zeros(len(row), dtype=bool),
        decimal=decimal.value or "",
    )
    return with_findings(table, findings)


def with_findings(table: OrderTable, more: list[BookFinding]) -> OrderTable:
    """Return an order book with more findings; rows that they name wait."""
    places = {heading: place for place, heading in enumerate(table.headings.values())}
    findings = in_order([*table.findings, *more], places)
    return replace(table, findings=findings, waits=waiting_rows(findings, table.row))


def _reader(column: Column, decimal: Convention[Decimal], days: Convention[DateOrder]) -> AnyColumn:
    unit = unit_of(column.input)
    if unit == "date":
        return DayColumn(column, days)
    return WordColumn(column) if unit == "text" else NumberColumn(column, decimal)


def _ids(rows: list[int], cells: Sequence[Any] | None, column: Column | None, findings: list[BookFinding]) -> list[str]:
    if cells is None or column is None:
        return [f"row {number}" for number in rows]
    names = [word(cell) or f"row {number}" for number, cell in zip(rows, cells, strict=True)]
    if max(map(len, names)) > MAX_NAME or not FORMULA_ERRORS.isdisjoint(names):
        for i, name in enumerate(names):
            if len(name) > MAX_NAME or name in FORMULA_ERRORS:
                findings.append(no_name(rows[i], column, name))
                names[i] = f"row {rows[i]}"
    return names
