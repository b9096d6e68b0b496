"""Rows out of a CSV or XLSX file that somebody sent: bounded before anything is unpacked.

A workbook is an archive, and a small one can unpack to more than a machine holds. What the archive says
of its parts is therefore added up first; a part that says less than it holds ends where it said it would.
"""

from __future__ import annotations

import codecs
import io
import warnings
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from compare.errors import EvenrunError, FileError, InputError
from compare.readers.orderbook_csv import csv_rows
from compare.readers.orderbook_findings import printable
from compare.readers.orderbook_formulas import formulas_without_result
from compare.readers.orderbook_rows import MAX_COLUMNS, MAX_ROWS, OddCell, Records, RowSource, numbered, some, source_of

MAX_BYTES = 600_000_000
_MAX_MEMBERS = 2_000
_MAX_UNPACKED = 400_000_000
_MAX_STRINGS = 100_000_000
_MAX_RATIO = 150
"""How often a member may be larger than it was packed; tables of numbers and words stay below 50."""

_SMALL = 1_000_000
"""Members below this [bytes] may be packed as tightly as they like."""

_BLOCK = 1 << 20
_DAMAGE = (LookupError, ValueError, TypeError, AttributeError, SyntaxError, ArithmeticError, EOFError, zlib.error)
"""What reading a damaged workbook ends in."""

_FORMULA_TAGS = (b"<f>", b"<f ", b"<f/", b":f>", b":f ", b":f/")
_ZIP, _OLD_OFFICE, _GZIP = b"PK", b"\xd0\xcf\x11\xe0", b"\x1f\x8b"


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
    if path.is_dir():
        raise FileError("this is a folder", where=str(path), remedy="name the file of orders in it")
    try:
        with path.open("rb") as file:
            start = file.read(4)
            size = file.seek(0, io.SEEK_END)
    except OSError as error:
        raise FileError(
            f"the order book can't be read ({error.strerror})", where=str(path), remedy="check the path and its rights"
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
            with csv_rows(path, max_rows) as rows:
                yield replace(rows, ignored_sheet=sheet or "")
    except EvenrunError:
        raise
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, NotImplementedError, OSError) as error:
        raise FileError(f"the workbook is damaged ({error})", where=where, remedy="save it again") from None


# -- XLSX -------------------------------------------------------------------------------------------------------------


def _check_archive(path: Path) -> set[str]:
    """Refuse a workbook that would unpack to more than an order book needs, or that declares entities.

    The names of parts that may hold formulas are returned.
    """
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
        xml = [m for m in members if m.filename.casefold().endswith((".xml", ".rels"))]
        return {member.filename for member in xml if _check_member(archive, member, refuse)}


def _check_member(archive: zipfile.ZipFile, member: zipfile.ZipInfo, refuse: Any) -> bool:
    """Read a part through in blocks: a table of orders needs no document type and no entities.

    Whether it may hold formulas is returned.
    """
    before, formulas = b"", False
    with archive.open(member) as part:
        while block := part.read(_BLOCK):
            if not before and block.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, b"<\0", b"\0<")):
                raise refuse("a part of the workbook is not written in UTF-8")
            joined = before[-16:] + block
            if b"<!DOCTYPE" in joined or b"<!ENTITY" in joined:
                raise refuse("the workbook declares entities")
            formulas = formulas or any(start in joined for start in _FORMULA_TAGS)
            before = block
    return formulas


@contextmanager
def _workbook(path: Path, sheet: str | None, max_rows: int) -> Iterator[RowSource]:
    formulas = _check_archive(path)
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
                f"there is no sheet '{sheet}'", where=path.name, remedy=printable(f"there is: {', '.join(names[:20])}")
            )
        chosen = book[sheet or names[0]]
        member = chosen._worksheet_path.lstrip("/")
        unsolved = _unsolved(path, member) if member in formulas else {}
        chosen.reset_dimensions()  # the size that a sheet says it has may be anything
        yield source_of(
            numbered(_in_portions(_sheet_rows(chosen, path.name), unsolved), bool, path.name, max_rows),
            sheet=chosen.title,
            other_sheets=tuple(n for n in names if n != chosen.title),
        )


def _unsolved(path: Path, member: str) -> dict[int, list[tuple[int, str]]]:
    try:
        with zipfile.ZipFile(path) as archive:
            return formulas_without_result(archive, member)
    except _DAMAGE as error:
        raise FileError(f"the workbook is damaged ({error})", where=path.name, remedy="save it again") from None


def _in_portions(rows: Iterator[list[Any]], unsolved: Mapping[int, Sequence[tuple[int, str]]]) -> Records:
    number = 1
    while cells := some(rows):
        odd: list[OddCell] = []
        for row, record in enumerate(cells, number) if unsolved else ():
            for place, formula in unsolved.get(row, ()):
                if place <= MAX_COLUMNS:
                    odd.append(OddCell(row, place, formula))
                    record.extend([None] * (place + 1 - len(record)))
        number += len(cells)
        yield cells, odd


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
