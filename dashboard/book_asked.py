"""What a page keeps of its order book, read back: it comes from a browser and is checked like a file."""

from __future__ import annotations

import math
from typing import Any

from compare.errors import InputError
from dashboard.book_store import Pins, Reading, Wanted

MOST_MENDED, MOST_PINS, LONGEST_CELL = 2_000, 5_000, 200
"""Cells that are mended and jobs that are pinned on a page at most; characters of a cell."""

LARGEST_HOURS = 100_000.0
"""Hours of a line that are taken; ten lines around the clock have fewer [h/y]."""

ROUTES = ("free", "die", "laser")
DECIMALS, DATES = (".", ","), ("ymd", "dmy", "mdy")

Mended = dict[tuple[int, str], str]


def _fault() -> InputError:
    return InputError("the page's order book can't be found", where="page", remedy="upload it again")


def _text(value: Any, most: int = LONGEST_CELL) -> str:
    if not isinstance(value, str) or len(value) > most:
        raise _fault()
    return value


def reading_of(file: Any, kept: Any) -> Reading:
    """Read which book a page shows, how it is read, and which of its cells were mended.

    Raises
    ------
    InputError
        If it is not what the page was given.
    """
    if not isinstance(file, dict) or not isinstance(columns := file.get("columns") or {}, dict) or len(columns) > 400:
        raise _fault()
    decimal, dates = file.get("decimal") or "", file.get("dates") or ""
    if decimal not in ("", *DECIMALS) or dates not in ("", *DATES):
        raise _fault()
    token = _text(file.get("token"), 40)
    return Reading(
        token,
        tuple(sorted((_text(heading, 1_000), _text(target)) for heading, target in columns.items())),
        decimal,
        dates,
        _text(file.get("sheet") or ""),
        tuple((row, heading, text) for (row, heading), text in sorted(mended_of(kept, token).items())),
    )


def mended_of(kept: Any, token: str) -> Mended:
    """Read which cells of a book were mended; those of another book don't count."""
    cells = kept.get("mended") if isinstance(kept, dict) and kept.get("token") == token else None
    found: Mended = {}
    for cell in cells[:MOST_MENDED] if isinstance(cells, list) else []:
        if not isinstance(cell, list) or len(cell) != 3:
            raise _fault()
        found[_row(cell[0]), _text(cell[1], 1_000)] = _text(cell[2])
    return found


def pins_of(kept: Any, token: str) -> Pins:
    """Read the pins of a page, by row; those of another book don't count."""
    pins = kept.get("pins") if isinstance(kept, dict) and kept.get("token") == token else None
    found: dict[int, str] = {}
    for pin in pins[:MOST_PINS] if isinstance(pins, list) else []:
        if not isinstance(pin, list) or len(pin) != 2 or pin[1] not in ROUTES:
            raise _fault()
        found[_row(pin[0])] = pin[1]
    return tuple(found.items())


def kept_as(token: str, mended: Mended, pins: Pins) -> dict[str, Any]:
    """Return what a page keeps, as plain data."""
    return {
        "token": token,
        "mended": [[row, heading, text] for (row, heading), text in mended.items()][:MOST_MENDED],
        "pins": [list(pin) for pin in pins][:MOST_PINS],
    }


def wanted_of(asked: Any, kept: Any, token: str) -> Wanted:
    """Read what a page asks of its book.

    Raises
    ------
    InputError
        If it is not what the page's script sends.
    """
    hours = asked.get("hours") if isinstance(asked, dict) else None
    if not isinstance(hours, (int, float)) or isinstance(hours, bool):
        raise InputError("the page does not say the hours of the line", where="page", remedy="load the page again")
    if not (math.isfinite(hours) and 0 <= hours <= LARGEST_HOURS):
        raise InputError(
            f"the hours of the line can't be {hours:g}", where="hours", remedy=f"give 0 to {LARGEST_HOURS:,.0f}"
        )
    return Wanted(
        float(hours),
        asked.get("months") is not False,
        "cash" if asked.get("costing") == "cash" else "full",
        pins_of(kept, token),
    )


def _row(value: Any) -> int:
    if type(value) is not int or not 0 < value < 10_000_000:
        raise _fault()
    return value
