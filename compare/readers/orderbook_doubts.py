"""Notes on what an order book says that is possible, but hardly what was meant.

The rows they name are computed as they stand; nothing is turned into another unit by guess.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from compare.readers.orderbook_columns import CARTON, Column
from compare.readers.orderbook_findings import BookFinding
from compare.readers.orderbook_words import Words


class Likely(NamedTuple):
    """Sizes that an input is likely to have.

    Attributes
    ----------
    low, high : float
        The smallest and the largest that nobody wonders at.
    unit : str
        Unit of both.
    what : str
        Whose size it is.
    too_low, too_high : str
        What to ask where it is smaller or larger.
    """

    low: float
    high: float
    unit: str
    what: str
    too_low: str
    too_high: str


_CARTON = Likely(10, 1500, "mm", "the side of a folding carton", "is it in cm?", "is its unit right?")
_SHEET = Likely(250, 2000, "mm", "the side of a sheet", "is it in cm?", "is its unit right?")
LIKELY: Mapping[str, Likely] = {
    **dict.fromkeys(("carton.length_mm", "carton.width_mm", "carton.height_mm"), _CARTON),
    **dict.fromkeys(("sheet.width_mm", "sheet.length_mm"), _SHEET),
    "demand.run_length": Likely(0, 5_000_000, "cartons", "one order", "", "is it the run of one order?"),
    "board.grammage_g_m2": Likely(100, 1000, "g/m2", "carton board", "is its unit right?", "is its unit right?"),
}
"""Round limits of plausibility: common practice, no source."""

_MANY = 10
"""Orders of which some are likely to be of one carton; of fewer the reader of the table sees it."""

_PER_YEAR, _OWNED = "demand.orders_per_year", "tooling.owned"


def doubts(done: Mapping[str, Any], row: np.ndarray, found: Sequence[Column]) -> list[BookFinding]:
    """Return notes on a book; no row waits for them.

    Parameters
    ----------
    done : mapping
        Dotted name to a column that was read.
    row : ndarray
        Row numbers of the file.
    found : sequence of Column
        The columns.
    """
    by_input = {column.input: column for column in found}
    notes = [
        note
        for name, likely in LIKELY.items()
        if name in done
        for note in _unlikely(done[name], row, by_input[name], likely)
    ]
    if CARTON not in done:
        return notes + ([_no_carton()] if len(row) >= _MANY and "demand.run_length" in by_input else [])
    carton: Words = done[CARTON]
    return [*notes, *_yearly_by_row(done, row, by_input, carton), *_owned_by_row(done, row, by_input, carton)]


def _unlikely(values: np.ndarray, row: np.ndarray, column: Column, likely: Likely) -> list[BookFinding]:
    sides = (
        (values < likely.low, f"below {likely.low:,}", likely.too_low),
        (values > likely.high, f"above {likely.high:,}", likely.too_high),
    )
    notes = []
    for mask, than, question in sides:
        if not mask.any():
            continue
        places = np.flatnonzero(mask)
        first = float(values[places[0]])
        notes.append(
            _note(
                "book.unlikely_size",
                f"{first:,.10g} {likely.unit} is unlikely for {likely.what}, being {than} {likely.unit}"
                + _rows(row[places]),
                f"{question} Mend the cells or the unit in the heading if it is wrong; they are computed as they stand",
                row[places[0]],
                column,
                f"{first / column.factor:.10g}",
            )
        )
    return notes


def _rows(rows: np.ndarray) -> str:
    """Return the first of several rows in words; nothing for a single one."""
    if len(rows) == 1:
        return ""
    more = " and more" if len(rows) > 5 else ""
    return f"; so are {len(rows):,} cells of this column, in rows {', '.join(map(str, rows[:5].tolist()))}{more}"


def _no_carton() -> BookFinding:
    return BookFinding(
        "book.no_carton_column",
        "no column holds the carton, so each order pays for tools of its own",
        "add the column carton, with the same number in every order of one carton",
        column="carton",
        waits=False,
    )


def _yearly_by_row(
    done: Mapping[str, Any], row: np.ndarray, by_input: Mapping[str, Column], carton: Words
) -> list[BookFinding]:
    """Note cartons of which several rows stand for more than one order a year."""
    if _PER_YEAR not in done:
        return []
    several = np.flatnonzero((done[_PER_YEAR] > 1) & (carton.codes >= 0))
    counts = np.bincount(carton.codes[several], minlength=1)
    cartons = int(np.count_nonzero(counts > 1))
    if not cartons:
        return []
    first = several[counts[carton.codes[several]] > 1][0]
    same = several[carton.codes[several] == carton.codes[first]]
    return [
        _note(
            "book.yearly_by_row",
            f"{_counted(cartons)} several rows with more than one order a year, and each row counts that often; "
            f"the first is '{carton.at(int(first))}' in rows {_listed(row[same])}",
            "give 1, or nothing, where the book has one row for every order of the year",
            row[first],
            by_input[_PER_YEAR],
            f"{done[_PER_YEAR][first]:g}",
        )
    ]


def _owned_by_row(
    done: Mapping[str, Any], row: np.ndarray, by_input: Mapping[str, Column], carton: Words
) -> list[BookFinding]:
    """Note cartons whose die is owned in one row and not spoken of in another."""
    if _OWNED not in done:
        return []
    owned = done[_OWNED]
    named = carton.codes >= 0
    size = len(carton.names) or 1
    yes = np.bincount(carton.codes[named & (owned == 1)], minlength=size) > 0
    empty = np.bincount(carton.codes[named & np.isnan(owned)], minlength=size) > 0
    torn = np.flatnonzero(yes & empty)
    if not len(torn):
        return []
    places = np.flatnonzero(named & np.isnan(owned) & np.isin(carton.codes, torn))
    first = int(places[0])
    same = places[carton.codes[places] == carton.codes[first]]
    return [
        _note(
            "book.owned_by_row",
            f"{_counted(len(torn))} a die that is owned in some rows and left open in others; "
            f"the first is '{carton.at(first)}', left open in rows {_listed(row[same])}",
            "give 1 in every row of a carton whose die exists, or 0 where it had to be bought",
            row[first],
            by_input[_OWNED],
            "",
        )
    ]


def _counted(cartons: int) -> str:
    return "1 carton has" if cartons == 1 else f"{cartons:,} cartons have"


def _listed(rows: np.ndarray) -> str:
    return ", ".join(map(str, rows[:5].tolist())) + (" and more" if len(rows) > 5 else "")


def _note(  # noqa: PLR0917 - in the order of a sentence
    code: str, what: str, remedy: str, row: int, column: Column, value: str
) -> BookFinding:
    return BookFinding(code, what, remedy, row=int(row), column=column.heading, value=value, waits=False)
