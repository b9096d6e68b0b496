"""Cells of an order book: numbers and dates as people write them, and nothing guessed.

``1.234`` is one and a bit in one country and a thousand in another. Where neither the user nor the
other cells say which, the cell is handed back as a question.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Literal

Decimal = Literal[".", ","]

_SIGN = re.compile(r"^\s*([+\-−]?)\s*(.*?)\s*$", re.DOTALL)
_DIGITS = re.compile(r"[\d.,'’ \u00a0\u202f]+", re.ASCII)
_POWER = re.compile(r"^(.*\d[.,]?)[eE]([+-]?\d{1,3})$", re.ASCII | re.DOTALL)
_SPACES = re.compile(r"['’ \u00a0\u202f]")
_DATE = re.compile(r"^(\d{1,4})([-./])(\d{1,2})\2(\d{1,4})(?:[T ]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?Z?)?$", re.ASCII)
_OTHER: dict[str, Decimal] = {".": ",", ",": "."}


class NotANumber(ValueError):  # noqa: N818 - it says what the cell is
    """A cell that holds no number."""


class Ambiguous(ValueError):  # noqa: N818 - it says what the cell is
    """A cell that can be read in two ways."""


def read_number(text: str, decimal: Decimal | None) -> tuple[float, Decimal | None]:
    """Read a number with decimal point or comma, with or without separators of thousands.

    Parameters
    ----------
    text : str
        The cell.
    decimal : {".", ","} or None
        Sign of the decimals; ``None`` where it is not known yet.

    Returns
    -------
    value : float
    shown : {".", ","} or None
        Which decimal sign the cell gives away, if it does.

    Raises
    ------
    NotANumber
        If it is none, or one with another decimal sign.
    Ambiguous
        If it is one number with a decimal point and another with a comma, and ``decimal`` is None.
    """
    sign, body = _SIGN.match(text).groups()  # type: ignore[union-attr]
    power = _POWER.match(body)
    body, exponent = (power[1], power[2]) if power else (body, "0")
    if not _DIGITS.fullmatch(body) or not any(c.isdigit() for c in body):
        raise NotANumber(text)
    spaced = _SPACES.search(body)
    points, commas = body.count("."), body.count(",")
    shown: Decimal | None = None
    if points and commas:
        shown = "." if body.rindex(".") > body.rindex(",") else ","
    elif points > 1 or commas > 1:
        shown = "," if points else "."
    elif points or commas:
        mark: Decimal = "." if points else ","
        before, _, after = body.partition(mark)
        like_thousands = len(after) == 3 and 1 <= len(before) <= 3 and before[0] != "0" and not spaced and not power
        if not like_thousands:
            shown = mark
        elif decimal is None:
            raise Ambiguous(text)
    if shown and decimal and shown != decimal:
        raise NotANumber(text)
    uses = shown or decimal or "."
    whole, _, part = body.partition(uses)
    value = float(f"{sign.replace('−', '-')}{_ungroup(whole, text, _OTHER[uses])}.{_digits(part, text)}e{exponent}")
    return value, shown


def _ungroup(whole: str, text: str, thousands: str) -> str:
    """Take separators out of the part before the decimals, where they stand where they should."""
    separators = {c for c in whole if not c.isdigit()}
    if not separators:
        return whole or "0"
    if len(separators) > 1 or not separators <= {thousands, "'", "’", " ", "\u00a0", "\u202f"}:
        raise NotANumber(text)
    first, *groups = whole.split(separators.pop())
    in_threes = 1 <= len(first) <= 3 and all(len(g) == 3 for g in groups)
    # thousands, then hundreds of them: 12,34,567
    indian = 1 <= len(first) <= 2 and len(groups[-1]) == 3 and all(len(g) == 2 for g in groups[:-1])
    if not (in_threes or indian):
        raise NotANumber(text)
    return first + "".join(groups)


def _digits(part: str, text: str) -> str:
    if part and not part.isdigit():
        raise NotANumber(text)
    return part or "0"


def looks_like_thousands(text: str) -> bool:
    """Say whether a text could be a whole number with one separator of thousands."""
    return re.fullmatch(r"\s*[1-9]\d{0,2}[.,]\d{3}\s*", text, re.ASCII) is not None


def has_short_year(text: str) -> bool:
    """Say whether a text is a date but for a year of two digits."""
    return re.fullmatch(r"\s*\d{1,2}([-./])\d{1,2}\1\d{2}\s*", text, re.ASCII) is not None


DateOrder = Literal["ymd", "dmy", "mdy"]


def read_date(text: str, order: DateOrder | None) -> tuple[date, DateOrder | None]:
    """Read a date.

    Parameters
    ----------
    text : str
        Such as ``2026-03-31``, ``31.03.2026`` or ``3/31/2026``; a time of day after it is left out.
    order : {"ymd", "dmy", "mdy"} or None
        Order of year, month and day where the year stands last; ``None`` where it is not known yet.

    Returns
    -------
    day : date
    shown : {"dmy", "mdy"} or None
        Which order the cell gives away, if it does.

    Raises
    ------
    ValueError
        If it is no date.
    Ambiguous
        If day and month could be either way round and ``order`` is None.
    """
    parts = _DATE.match(text.strip())
    if parts is None:
        raise ValueError(text)
    first, mark, second, third = int(parts[1]), parts[2], int(parts[3]), int(parts[4])
    if len(parts[1]) == 4:
        return date(first, second, third), None
    if len(parts[4]) != 4:
        raise ValueError(text)  # a year of two digits is anybody's guess
    shown: DateOrder | None = None
    if mark == ".":
        shown = "dmy"  # points stand in dates that start with the day
        uses: DateOrder | None = "dmy"
    else:
        if first > 12:
            shown = "dmy"
        elif second > 12:
            shown = "mdy"
        uses = shown if order in (None, "ymd") else order
    if uses is None:
        if first == second:
            return date(third, first, second), None
        raise Ambiguous(text)
    day, month = (first, second) if uses == "dmy" else (second, first)
    return date(third, month, day), None if mark == "." else shown
