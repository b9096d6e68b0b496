"""Rows out of a CSV or XLSX file that somebody sent: bounded before anything is unpacked.

A workbook is an archive, and a small one can unpack to more than a machine holds. What the archive says
of its parts is therefore added up first; a part that says less than it holds ends where it said it would.
"""

from __future__ import annotations

import codecs
import csv
import io
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path
from typing import Any, NamedTuple

from compare.errors import EvenrunError, FileError, InputError

MAX_COLUMNS = 200
"""Columns of an order book; the template has a quarter of them."""

MAX_ROWS = 2_000_000
MAX_BYTES = 600_000_000
CHUNK = 20_000
"""Rows that are read at a time."""

_MAX_MEMBERS = 2_000
_MAX_UNPACKED = 400_000_000
_MAX_STRINGS = 100_000_000
_MAX_RATIO = 150
"""How often a member may be larger than it was packed; tables of numbers and words stay below 50."""

_SMALL = 1_000_000
"""Members below this [bytes] may be packed as tightly as they like."""

_BLOCK = 1 << 20
_MAX_LINE = 262_144
"""Characters of a line; the longest rows of the template have a thousandth."""

_DAMAGE = (LookupError, ValueError, TypeError, AttributeError, SyntaxError, ArithmeticError, EOFError, zlib.error)
"""What reading a damaged workbook ends in."""

_ZIP, _OLD_OFFICE, _GZIP = b"PK", b"\xd0\xcf\x11\xe0", b"\x1f\x8b"
_DELIMITERS = (",", ";", "\t", "|")


class JoinedLines(NamedTuple):
    """A cell of several lines that stray quotation marks seem to have made.

    Attributes
    ----------
    row : int
        Its row, as a spreadsheet shows it.
    place : int
        Its column, from 0.
    first, last : int
        The lines of the file that it goes over, as an editor counts them.
    text : str
        What is in it.
    """

    row: int
    place: int
    first: int
    last: int
    text: str


class Portion(NamedTuple):
    """Some rows of a file.

    Attributes
    ----------
    rows : list of int
        Their numbers, as a spreadsheet shows them.
    cells : list of list
        What is in them; rows may differ in length.
    joined : sequence of JoinedLines
        Cells of a CSV that may have taken other rows in.
    """

    rows: list[int]
    cells: list[list[Any]]
    joined: Sequence[JoinedLines] = ()

    def columns(self, width: int) -> list[tuple[Any, ...]]:
        """Return the cells by column; rows that are too short are filled up."""
        widths = set(map(len, self.cells))
        if widths == {width}:
            return list(zip(*self.cells, strict=True))
        return list(zip(*((*row[:width], *(None,) * (width - len(row))) for row in self.cells), strict=True))


@dataclass(frozen=True)
class RowSource:
    """A file's rows, to be taken once.

    Attributes
    ----------
    headings : list of str
        Cells of its first row.
    portions : iterator of Portion
        All other rows that have something in them.
    joined : sequence of JoinedLines
        Headings that may have taken rows in.
    sheet : str
        Name of the sheet that is read; empty for CSV.
    other_sheets : tuple of str
        Names of sheets that are not.
    encoding : str
        How a CSV is written.
    """

    headings: list[str]
    portions: Iterator[Portion]
    joined: Sequence[JoinedLines] = ()
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()
    encoding: str = ""


@contextmanager
def open_rows(path: Path, sheet: str | None = None, max_rows: int = MAX_ROWS) -> Iterator[RowSource]:
    """Open a CSV or XLSX file; which of them it is, its content says.

    Parameters
    ----------
    path : Path
        The file.
    sheet : str, optional
        Sheet of a workbook; the first, if left out.
    max_rows : int
        Rows that are read at most.

    Raises
    ------
    FileError
        If it is missing, too large, of another kind, or unpacks to more than an order book needs.
    InputError
        If it can't be read as a table.
    """
    where = path.name
    try:
        with path.open("rb") as file:
            start = file.read(4)
            size = file.seek(0, io.SEEK_END)
    except OSError as error:
        raise FileError(
            f"the order book can't be read ({error.strerror})", where=where, remedy="check the path and its rights"
        ) from None
    if size > MAX_BYTES:
        raise FileError(
            f"the file is over {MAX_BYTES // 1_000_000} MB", where=where, remedy="split it into several order books"
        )
    if start.startswith(_OLD_OFFICE):
        raise FileError(
            "this is an old or a locked workbook", where=where, remedy="save it as .xlsx without a password, or as CSV"
        )
    if start.startswith(_GZIP):
        raise FileError("this is a packed file", where=where, remedy="unpack it first")
    try:
        if start.startswith(_ZIP):
            with _workbook(path, sheet, max_rows) as rows:
                yield rows
        else:
            with _csv(path, max_rows) as rows:
                yield rows
    except EvenrunError:
        raise
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, NotImplementedError, OSError) as error:
        raise FileError(f"the workbook is damaged ({error})", where=where, remedy="save it again") from None


# -- CSV --------------------------------------------------------------------------------------------------------------


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
                raise FileError("this is no text file", where=path.name, remedy="save the table as CSV or XLSX")
            lines = block.replace(b"\r", b"\n").split(b"\n")
            _bound(max(begun + len(lines[0]), *map(len, lines)), path.name)
            begun = len(lines[-1]) + (begun if len(lines) == 1 else 0)
            if utf8:
                try:
                    decoder.decode(block)
                except UnicodeDecodeError:
                    utf8 = False
    return "utf-8-sig" if utf8 else "cp1252"


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
def _csv(path: Path, max_rows: int) -> Iterator[RowSource]:
    encoding = _encoding(path)
    with path.open(encoding=encoding, errors="replace", newline="") as file:
        first = file.readline(_MAX_LINE)
        file.seek(0)
        mark = max(_DELIMITERS, key=first.count)
        lines = _bounded(file, path.name) if encoding == "utf-16" else file
        try:
            yield _source(_portions(_records(lines, mark, path.name), any, path.name, max_rows), encoding=encoding)
        except csv.Error:
            file.seek(0)
            line = _line_of_long_cell(file, mark)
            raise InputError(
                f"a cell that begins in line {line} has more than {csv.field_size_limit():,} characters",
                where=path.name,
                remedy=f"look for a quotation mark in line {line} that is never closed",
            ) from None


Records = Iterator[tuple[list[list[Any]], Sequence[JoinedLines]]]
"""Rows of a file, empty ones too, in portions; with the cells that may have taken other rows in."""


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
        cells = list(islice(reader, CHUNK))
        joined: list[JoinedLines] = []
        width = width or len(next(filter(None, cells), ()))
        if reader.line_num - line + 1 != len(cells):
            for number, record in enumerate(cells, row):
                joined += _joined(record, number, line, mark, width)
                line += 1 + sum(map(_line_breaks, record))
        if ended and (tail := cells.pop()):
            raise InputError(
                f"the quotation mark in line {line - 1 - _line_breaks(tail[-1])} is never closed, so that all after it is one cell",
                where=where,
                remedy="close it, or take it out; one that belongs to a text is written twice",
            )
        row, line = row + len(cells), reader.line_num + 1
        yield cells, joined


def _joined(record: list[str], row: int, line: int, mark: str, width: int) -> Iterator[JoinedLines]:
    """Find cells that hold line breaks, and either separators or a part of a row that is too long."""
    for place, cell in enumerate(record):
        if breaks := _line_breaks(cell):
            if mark in cell or len(record) > width:
                yield JoinedLines(row, place, line, line + breaks, cell)
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


def _source(portions: Iterator[Portion], **about: Any) -> RowSource:
    """Take the headings off the first portion."""
    head = next(portions, Portion([], [[]]))
    own = [j for j in head.joined if j.row in head.rows[:1]]
    rest = Portion(head.rows[1:], head.cells[1:], [j for j in head.joined if j not in own])
    headings = ["" if h is None else str(h) for h in head.cells[0]]
    return RowSource(headings, chain([rest] if rest.rows else [], portions), own, **about)


def _portions(records: Records, filled: Callable[[list[Any]], bool], where: str, max_rows: int) -> Iterator[Portion]:
    """Give rows their numbers, leave out empty ones, and stop where it is too much."""
    number = 1
    for every, joined in records:
        rows, cells = list(range(number, number + len(every))), every
        number += len(every)
        if number > max_rows + 2:
            raise FileError(f"the file has over {max_rows:,} rows", where=where, remedy="split it")
        if not all(map(filled, cells)):
            kept = [i for i, row in enumerate(cells) if filled(row)]
            rows, cells = [rows[i] for i in kept], [cells[i] for i in kept]
        if rows:
            yield Portion(rows, cells, joined)


# -- XLSX -------------------------------------------------------------------------------------------------------------


def _check_archive(path: Path) -> None:
    """Refuse a workbook that would unpack to more than an order book needs, or that declares entities."""
    where = path.name

    def refuse(what: str) -> FileError:
        return FileError(what, where=where, remedy="save the table of orders alone as a new .xlsx, or as CSV")

    with zipfile.ZipFile(path) as archive:
        members = archive.infolist()
        if len(members) > _MAX_MEMBERS:
            raise refuse(f"the workbook has {len(members):,} parts")
        if sum(m.file_size for m in members) > _MAX_UNPACKED:
            raise refuse(f"the workbook unpacks to over {_MAX_UNPACKED // 1_000_000} MB")
        if "xl/workbook.xml" not in {m.filename for m in members}:
            raise refuse("this is an archive, but no workbook")
        for member in members:
            if member.file_size > _SMALL and member.file_size > _MAX_RATIO * max(member.compress_size, 1):
                raise refuse(f"a part of the workbook is packed {_MAX_RATIO}-fold or more")
            if member.flag_bits & 1:
                raise refuse("the workbook is locked by a password")
            if "sharedstrings" in member.filename.casefold() and member.file_size > _MAX_STRINGS:
                raise refuse(f"the words of the workbook are over {_MAX_STRINGS // 1_000_000} MB")
        for member in members:
            if member.filename.casefold().endswith((".xml", ".rels")):
                _check_member(archive, member, refuse)


def _check_member(archive: zipfile.ZipFile, member: zipfile.ZipInfo, refuse: Any) -> None:
    """Read a part through in blocks: a table of orders needs no document type and no entities."""
    before = b""
    with archive.open(member) as part:
        while block := part.read(_BLOCK):
            if not before and block.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, b"<\0", b"\0<")):
                raise refuse("a part of the workbook is not written in UTF-8")
            joined = before[-16:] + block
            if b"<!DOCTYPE" in joined or b"<!ENTITY" in joined:
                raise refuse("the workbook declares entities")
            before = block


@contextmanager
def _workbook(path: Path, sheet: str | None, max_rows: int) -> Iterator[RowSource]:
    _check_archive(path)
    import openpyxl  # takes a fifth of a second to load, and most books are CSV

    with path.open("rb") as file:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # about styles, links and other parts that are not read
                book = openpyxl.load_workbook(file, read_only=True, data_only=True, keep_links=False)
        except _DAMAGE as error:
            raise FileError(f"the workbook is damaged ({error})", where=path.name, remedy="save it again") from None
        names = [s.title for s in book.worksheets]
        if not names:
            raise FileError("the workbook has no sheet with cells", where=path.name, remedy="save the table in one")
        if sheet is not None and sheet not in names:
            raise InputError(
                f"there is no sheet '{sheet}'", where=path.name, remedy=f"there is: {', '.join(names[:20])}"
            )
        chosen = book[sheet or names[0]]
        chosen.reset_dimensions()  # the size that a sheet says it has may be anything
        yield _source(
            _portions(_in_portions(_sheet_rows(chosen, path.name)), bool, path.name, max_rows),
            sheet=chosen.title,
            other_sheets=tuple(n for n in names if n != chosen.title),
        )


def _in_portions(rows: Iterator[list[Any]]) -> Records:
    while cells := list(islice(rows, CHUNK)):
        yield cells, ()


def _sheet_rows(sheet: Any, where: str) -> Iterator[list[Any]]:
    rows = sheet.iter_rows(max_col=MAX_COLUMNS + 1, values_only=True)
    while True:
        try:
            cells = next(rows, None)
        except _DAMAGE as error:
            raise FileError(f"the workbook is damaged ({error})", where=where, remedy="save it again") from None
        if cells is None:
            return
        yield _trimmed(cells)


def _trimmed(cells: tuple[Any, ...]) -> list[Any]:
    """Leave out empty cells at the end of a row; 0 and False are something."""
    end = len(cells)
    while end and (cells[end - 1] is None or cells[end - 1] == ""):
        end -= 1
    return [_SWITCH[c] if c is True or c is False else c for c in cells[:end]]


_SWITCH = {True: "yes", False: "no"}
"""As words, for 1 and TRUE are one to Python and not to a column of run lengths."""
