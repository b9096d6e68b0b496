"""Rows out of a CSV: how it is written, what separates its cells, and quotation marks that are never closed."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import Any

from compare.errors import FileError, InputError
from compare.readers.orderbook_rows import OddCell, Records, RowSource, numbered, some, source_of

_BLOCK = 1 << 20
_MAX_LINE = 262_144
"""Characters of a line; the longest rows of the template have a thousandth."""

_TITLE_LINES = 20
"""Lines of a title that may stand above a table."""

_DELIMITERS = (",", ";", "\t", "|")


def _encoding(path: Path) -> str:
    """Find out how a text file is written, without guessing among more than two ways, and bound its lines."""
    with path.open("rb") as file:
        if file.read(4).startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        file.seek(0)
        decoder = codecs.getincrementaldecoder("utf-8")()
        utf8, begun = True, 0
        while block := file.read(_BLOCK):
            if b"\0" in block:
                raise _no_text(path)
            lines = block.replace(b"\r", b"\n").split(b"\n")
            _bound(max(begun + len(lines[0]), *map(len, lines)), path.name)
            begun = len(lines[-1]) + (begun if len(lines) == 1 else 0)
            if utf8:
                try:
                    decoder.decode(block)
                except UnicodeDecodeError:
                    utf8 = False
    return "utf-8-sig" if utf8 else "cp1252"


def _no_text(path: Path) -> FileError:
    """Return the error for a file with a null character, which no table has."""
    if path.suffix.casefold() in {".xlsx", ".xlsm"}:
        return FileError("the workbook is damaged", where=path.name, remedy="save it again, or as CSV")
    line = 1
    with path.open("rb") as file:
        while part := file.readline(_BLOCK):
            before, null, _ = part.partition(b"\0")
            line += before.count(b"\r") - before.count(b"\r\n") if null else part.count(b"\r") - part.count(b"\r\n")
            if null:
                break
            line += part.endswith(b"\n")
    return FileError(
        f"line {line} has a null character in it, so that this is no text file",
        where=path.name,
        remedy="save the table anew as CSV in UTF-8, or as XLSX",
    )


def _bound(longest: int, where: str) -> None:
    if longest > _MAX_LINE:
        raise InputError(
            f"a line of the file has more than {_MAX_LINE:,} characters", where=where, remedy="this is no order book"
        )


def _bounded(lines: Iterator[str], where: str) -> Iterator[str]:
    for line in lines:
        _bound(len(line), where)
        yield line


@contextmanager
def csv_rows(path: Path, max_rows: int) -> Iterator[RowSource]:
    """Open a CSV.

    Parameters
    ----------
    path : Path
        The file.
    max_rows : int
        Rows that are read at most.

    Raises
    ------
    FileError
        If it is no text, or has too many rows.
    InputError
        If a quotation mark is left open, or a line or cell is longer than those of any table.
    """
    encoding = _encoding(path)
    with path.open(encoding=encoding, errors="replace", newline="") as file:
        mark = _separator(file)
        file.seek(0)
        lines = _bounded(file, path.name) if encoding == "utf-16" else file
        try:
            yield source_of(numbered(_records(lines, mark, path.name), any, path.name, max_rows), encoding=encoding)
        except csv.Error:
            file.seek(0)
            line = _line_of_long_cell(file, mark)
            raise InputError(
                f"a cell that begins in line {line} has more than {csv.field_size_limit():,} characters",
                where=path.name,
                remedy=f"look for a quotation mark in line {line} that is never closed",
            ) from None


def _separator(file: Any) -> str:
    """Return what separates the cells of the first line that has several."""
    for _ in range(_TITLE_LINES):
        line = file.readline(_MAX_LINE)
        if any(mark in line for mark in _DELIMITERS):
            return max(_DELIMITERS, key=line.count)
    return _DELIMITERS[0]


def _records(lines: Iterable[str], mark: str, where: str) -> Records:
    """Read a CSV, and refuse it where a quotation mark is left open at its end.

    A last line with nothing in it is put behind the file: it becomes an empty row, or else part of the
    cell that is still open.
    """
    ended: list[bool] = []

    def last_line() -> Iterator[str]:
        ended.append(True)
        yield "\n"

    reader = csv.reader(chain(lines, last_line()), delimiter=mark)
    row, line, width = 1, 1, 0  # of the next record, and how many headings there are
    while not ended:
        cells = some(reader)
        odd: list[OddCell] = []
        width = width or len(next(filter(None, cells), ()))
        if reader.line_num - line + 1 != len(cells):
            for number, record in enumerate(cells, row):
                odd += _joined(record, number, line, mark, width)
                line += 1 + sum(map(_line_breaks, record))
        if ended and (tail := cells.pop()):
            raise InputError(
                f"the quotation mark in line {line - 1 - _line_breaks(tail[-1])} is never closed, so that all after it is one cell",
                where=where,
                remedy="close it, or take it out; one that belongs to a text is written twice",
            )
        row, line = row + len(cells), reader.line_num + 1
        yield cells, odd


def _joined(record: list[str], row: int, line: int, mark: str, width: int) -> Iterator[OddCell]:
    """Find cells that hold line breaks, and either separators or a part of a row that is too long."""
    for place, cell in enumerate(record):
        if breaks := _line_breaks(cell):
            if mark in cell or len(record) > width:
                yield OddCell(row, place, cell, (line, line + breaks))
            line += breaks


def _line_breaks(cell: str) -> int:
    return cell.count("\n") + cell.count("\r") - cell.count("\r\n")


def _line_of_long_cell(file: Iterable[str], mark: str) -> int:
    """Return the line that a cell begins in which is too long to be read."""
    reader, before = csv.reader(file, delimiter=mark), 0
    try:
        for _ in reader:
            before = reader.line_num
    except csv.Error:
        pass
    return before + 1
