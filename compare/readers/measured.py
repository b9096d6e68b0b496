"""Measurements out of a CSV: sheets that a laser cut, and make-readies of a die cutter. Nothing is guessed.

A table that can't be read whole is refused with file, row, column and what to do: a calibration from half of the rows would
look like one from all of them.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

import numpy as np

from compare.errors import FileError, Finding, InputError
from compare.readers.orderbook_cells import Ambiguous, Decimal, NotANumber, read_number
from compare.readers.orderbook_findings import printable

MAX_BYTES = 5_000_000
MAX_ROWS = 100_000
_DELIMITERS = (",", ";", "\t", "|")
_SHOWN = 40
"""Characters of a cell that a message shows."""

LENGTHS = ("cutting_m", "cutting_creasing_m", "perforating_m", "partial_cutting_m", "varnish_release_m")
"""Columns of length by kind of line; at least one of them is there."""


@dataclass(frozen=True)
class Column:
    """A column of measurements.

    Attributes
    ----------
    low, high : float
        Least and largest value that can be; what is beyond them is in another unit, or a slip.
    unit : str
        Unit, for messages.
    needed : bool
        Whether the table must have it.
    may_be_empty : bool
        Whether an empty cell is 0.
    positive : bool
        Whether 0 itself can't be.
    whole : bool
        Whether it is a count.
    hint : str
        What a value beyond the limits mostly comes from.
    """

    low: float
    high: float
    unit: str
    needed: bool = False
    may_be_empty: bool = False
    positive: bool = False
    whole: bool = False
    hint: str = ""


_LENGTH = Column(0, 10_000, "m", may_be_empty=True, hint="is it in mm?")
SHEETS: Mapping[str, Column] = {
    **dict.fromkeys(LENGTHS, _LENGTH),
    "strokes": Column(1, 1_000_000, "", needed=True),
    "corner_load": Column(0, 10_000_000, "", needed=True),
    "jump_m": Column(0, 100_000, "m", hint="is it in mm?"),
    "nicks": Column(0, 1_000_000, "", may_be_empty=True),
    "power_w": Column(1, 50_000, "W", positive=True, hint="is it in kW?"),
    "caliper_mm": Column(0.02, 10, "mm", needed=True, positive=True, hint="is it in um, or in m?"),
    "seconds": Column(1e-4, 86_400, "s", needed=True, positive=True, hint="is it in ms?"),
    "repeats": Column(1, 1_000_000, "", whole=True),
}
MAKE_READY: Mapping[str, Column] = {
    "hours": Column(0.01, 48, "h", needed=True, positive=True, hint="is it in minutes?"),
    "ups": Column(1, 1_000, "", needed=True, whole=True),
    "first": Column(0, 1, "", needed=True, whole=True, hint="1 is a new tool set, 0 a stored one"),
}
_STEMS = {
    **{name.removesuffix("_m"): name for name in LENGTHS},
    "jump": "jump_m",
    "jumps": "jump_m",
    "power": "power_w",
    "caliper": "caliper_mm",
    "thickness": "caliper_mm",
    "time": "seconds",
    "seconds": "seconds",
    "second": "seconds",
    "minutes": "seconds",
    "hours": "hours",
    "make_ready": "hours",
}
_UNITS = (
    "mm",
    "cm",
    "dm",
    "m",
    "km",
    "in",
    "ft",
    "um",
    "µm",
    "mil",
    "pt",
    "w",
    "kw",
    "mw",
    "s",
    "sec",
    "ms",
    "us",
    "min",
    "h",
)


@dataclass(frozen=True)
class MeasuredTable:
    """Measurements, one row each.

    Attributes
    ----------
    source : str
        Name of the file.
    sha256 : str
        Digest of the file as it was read.
    rows : tuple of int
        Row of each measurement, as a spreadsheet numbers them.
    names : tuple of str
        What each measurement is called; empty where it is not.
    columns : mapping
        Heading to numbers, for the columns that are there.
    findings : tuple of Finding
        Remarks on the file.
    """

    source: str
    sha256: str
    rows: tuple[int, ...]
    names: tuple[str, ...]
    columns: Mapping[str, np.ndarray]
    findings: tuple[Finding, ...] = ()

    def __len__(self) -> int:
        return len(self.rows)


def read_measured_sheets(path: Path) -> MeasuredTable:
    """Read sheets that were cut and timed.

    Parameters
    ----------
    path : Path
        CSV in UTF-8 with the headings of :data:`SHEETS`, and ``name`` if wanted.

    Returns
    -------
    MeasuredTable

    Raises
    ------
    FileError
        If the file is missing, too large, or no text.
    InputError
        If a heading or a cell can't be used.
    """
    table = _read(path, SHEETS, "measured sheets")
    if not any(name in table.columns for name in LENGTHS):
        raise InputError(
            "there is no column of lengths", where=table.source, remedy=f"give at least one of {', '.join(LENGTHS)}"
        )
    length = np.sum([table.columns[name] for name in LENGTHS if name in table.columns], axis=0)
    for row in np.flatnonzero(length <= 0)[:1]:
        raise InputError(
            "this sheet has no length of any kind of line",
            where=f"{table.source}, row {table.rows[row]}",
            remedy="give its lengths in m, or delete the row",
        )
    return table


def read_make_ready(path: Path) -> MeasuredTable:
    """Read make-readies of the die cutter: ``hours``, ``ups``, ``first`` (1 or 0), and ``name`` if wanted."""
    return _read(path, MAKE_READY, "make-readies")


def _read(path: Path, known: Mapping[str, Column], what: str) -> MeasuredTable:
    where = printable(str(path))
    raw = _bytes(path, where)
    mark, cells = _cells(raw, where, what)
    headings, findings = _headings(cells[0][1], known, where, what)
    rows = [(number, row) for number, row in cells[1:] if any(cell.strip() for cell in row)]
    if not rows:
        raise InputError("there is no row below the headings", where=where, remedy=f"add the {what}, one per row")
    if len(rows) > MAX_ROWS:
        raise FileError(f"the file has over {MAX_ROWS:,} rows", where=where, remedy="take the last months only")
    for number, row in rows:
        if any(cell.strip() for cell in row[len(headings) :]):
            raise InputError(
                f"this row has {len(row)} cells for {len(headings)} headings",
                where=f"{where}, row {number}",
                remedy="is a decimal comma in it? Use points, or separate the cells by semicolons",
            )
    decimal: Decimal | None = "." if mark == "," else None
    if decimal is None:
        decimal = _decimal_sign(headings, rows, known)
    numbers: dict[str, np.ndarray] = {}
    names = tuple("" for _ in rows)
    for place, heading in enumerate(headings):
        texts = [row[place].strip() if place < len(row) else "" for _, row in rows]
        if heading == "name":
            names = tuple(printable(text)[:_SHOWN] for text in texts)
        elif heading in known:
            numbers[heading] = np.array(
                [
                    _number(text, heading, known[heading], decimal, f"{where}, row {number}")
                    for (number, _), text in zip(rows, texts, strict=True)
                ]
            )
    return MeasuredTable(
        where, hashlib.sha256(raw).hexdigest(), tuple(number for number, _ in rows), names, numbers, findings
    )


def _bytes(path: Path, where: str) -> bytes:
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except IsADirectoryError:
        raise FileError("this is a folder", where=where, remedy="name the CSV file in it") from None
    except FileNotFoundError:
        raise FileError("there is no such file", where=where, remedy="check the path") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name can't be used"
        raise FileError(f"the file can't be read ({reason})", where=where, remedy="check its rights") from None
    if len(raw) > MAX_BYTES:
        raise FileError(
            f"the file is over {MAX_BYTES // 1_000_000} MB", where=where, remedy="take the last months only"
        )
    if raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise FileError("this is a workbook", where=where, remedy="save its sheet as CSV in UTF-8")
    if not raw.strip():
        raise FileError("the file is empty", where=where, remedy="give headings and rows")
    return raw


def _cells(raw: bytes, where: str, what: str) -> tuple[str, list[tuple[int, list[str]]]]:
    """Return the separator, and rows as number and cells; blank lines above the headings are skipped."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"line {line} is not UTF-8 text", where=where, remedy="save the table as CSV in UTF-8"
        ) from None
    if "\0" in text:
        raise InputError("the file has null characters in it", where=where, remedy="save the table as CSV in UTF-8")
    first = next(line for line in text.splitlines() if line.strip())
    mark = max(_DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for number, row in enumerate(reader, 1):
            if rows or any(cell.strip() for cell in row):
                rows.append((number, row))
            if len(rows) > 2 * MAX_ROWS:
                break
    except csv.Error as error:
        raise InputError(
            f"line {reader.line_num} can't be read as a row ({error})",
            where=where,
            remedy="look for a quotation mark that is never closed",
        ) from None
    if not rows:
        raise InputError("there are no headings", where=where, remedy=f"give a first row of headings for the {what}")
    return mark, rows


# -- headings --------------------------------------------------------------------------------------------------------------


def _headings(
    row: Sequence[str], known: Mapping[str, Column], where: str, what: str
) -> tuple[list[str], tuple[Finding, ...]]:
    headings = [_plain(cell) for cell in row]
    while headings and not headings[-1]:
        headings.pop()
    others = MAKE_READY if known is SHEETS else SHEETS
    ignored = []
    for heading, cell in zip(headings, row, strict=False):
        shown = printable(cell.strip())[:_SHOWN]
        if heading in known and headings.count(heading) > 1:
            raise InputError(f"the heading '{heading}' is there twice", where=where, remedy="keep one of them")
        if heading in known or heading == "name":
            continue
        if right := _other_unit(heading, known):
            unit = known[right].unit or "s"
            raise InputError(
                f"the heading '{shown}' is not in {unit}, or doesn't say so",
                where=where,
                remedy=f"give the values in {unit} and call the column {right}",
            )
        if heading not in others and (near := get_close_matches(heading, known, n=1, cutoff=0.8)):
            raise InputError(f"there is no column '{shown}'", where=where, remedy=f"did you mean {near[0]}?")
        ignored.append(shown)
    missing = [name for name, column in known.items() if column.needed and name not in headings]
    if missing:
        raise InputError(
            f"there is no column {missing[0]}",
            where=where,
            remedy=_remedy(headings, known, others, missing),
        )
    notes = [Finding("calibrate.ignored_column", f"Column '{name}' is not used.", where) for name in ignored if name]
    return headings, tuple(notes[:10])


def _remedy(headings: list[str], known: Mapping[str, Column], others: Mapping[str, Column], missing: list[str]) -> str:
    if all(name in headings for name, column in others.items() if column.needed):
        return (
            "these are make-readies: give the file after --make-ready"
            if known is SHEETS
            else "these are measured sheets: give the file without --make-ready"
        )
    return f"the first row must hold {', '.join(n for n, c in known.items() if c.needed)}" + (
        "" if len(missing) == 1 else f" (missing: {', '.join(missing)})"
    )


def _plain(cell: str) -> str:
    """Return a heading in small letters with its unit after an underscore: ``Cutting [m]`` is ``cutting_m``."""
    return re.sub(r"[^0-9a-zµ]+", "_", cell.strip().casefold().replace("μ", "µ")).strip("_")


def _other_unit(heading: str, known: Mapping[str, Column]) -> str:
    """Return the column that a heading means in another unit, or without one."""
    stem, _, unit = heading.rpartition("_")
    candidates = [heading] + ([stem] if unit in _UNITS else [])
    if heading in _UNITS and "seconds" in known and heading in {"ms", "us", "min", "s", "sec"}:
        return "seconds"
    return next((_STEMS[c] for c in candidates if c in _STEMS and _STEMS[c] in known), "")


# -- cells -----------------------------------------------------------------------------------------------------------------


def _decimal_sign(
    headings: Sequence[str], rows: Sequence[tuple[int, list[str]]], known: Mapping[str, Column]
) -> Decimal | None:
    """Return the decimal sign that the cells give away, if they do."""
    for _, row in rows:
        for heading, cell in zip(headings, row, strict=False):
            if heading in known:
                try:
                    shown = read_number(cell, None)[1]
                except (NotANumber, Ambiguous):
                    continue
                if shown:
                    return shown
    return None


def _number(text: str, heading: str, column: Column, decimal: Decimal | None, where: str) -> float:
    place = f"{where}, column {heading}"
    unit = f" {column.unit}" if column.unit else ""
    shown = printable(text)[:_SHOWN]
    if not text:
        if column.may_be_empty:
            return 0.0
        raise InputError("the cell is empty", where=place, remedy=f"give a number{' in' + unit if unit else ''}")
    if text.startswith(("=", "@")):
        raise InputError(f"'{shown}' is a formula, and none is worked out here", where=place, remedy="give its result")
    try:
        value = read_number(text, decimal)[0]
    except Ambiguous:
        raise InputError(
            f"'{shown}' may be a thousand or a decimal number",
            where=place,
            remedy="write it with a decimal point and no thousands",
        ) from None
    except NotANumber:
        raise InputError(
            f"'{shown}' is not a number", where=place, remedy=f"give a plain number{' in' + unit if unit else ''}"
        ) from None
    if value < 0 or (value == 0 and column.positive):
        raise InputError(
            f"{value:g}{unit} can't be", where=place, remedy=f"give a number {'above' if column.positive else 'from'} 0"
        )
    if not column.low <= value <= column.high:
        hint = f"; {column.hint}" if column.hint else ""
        raise InputError(
            f"{value:g}{unit} is not from {column.low:g} to {column.high:,g}{unit}",
            where=place,
            remedy=f"check it{hint}",
        )
    if column.whole and value != round(value):
        raise InputError(f"{value:g} is not a whole number", where=place, remedy="give a count")
    return value
