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

_RUN, _PER_YEAR, _OWNED = "demand.run_length", "demand.orders_per_year", "tooling.owned"


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
    carton: Words | None = done.get(CARTON)
    if carton is None or not carton.names:
        return notes + ([_no_carton(by_input)] if len(row) >= _MANY and _RUN in by_input else [])
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
        of = f"{than} {likely.unit}, which is unlikely for {likely.what}"
        notes.append(
            _note(
                "book.unlikely_size",
                f"{first:,.10g} {likely.unit} is {of}"
                if len(places) == 1
                else f"{len(places):,} cells, the first with {first:,.10g} {likely.unit}, are {of} (rows {_listed(row[places])})",
                f"{question} Mend the cells or the unit in the heading if it is wrong; they are computed as they stand",
                row[places[0]],
                column,
                f"{first / column.factor:.10g}",
            )
        )
    return notes


def _no_carton(by_input: Mapping[str, Column]) -> BookFinding:
    column = by_input[CARTON].heading if CARTON in by_input else ""
    where = f"no row of column '{column}'" if column else "no column"
    return BookFinding(
        "book.no_carton_column",
        f"{where} names a carton, so each order pays for tools of its own",
        f"{'fill it in' if column else 'add the column carton'}, with the same number in every order of one carton",
        column=column or "carton",
        waits=False,
    )


def _yearly_by_row(
    done: Mapping[str, Any], row: np.ndarray, by_input: Mapping[str, Column], carton: Words
) -> list[BookFinding]:
    """Note cartons with several rows of one run that each stand for more than one order a year."""
    if _PER_YEAR not in done or _RUN not in done:
        return []
    several = np.flatnonzero((done[_PER_YEAR] > 1) & (carton.codes >= 0) & (done[_RUN] > 0))
    pairs = carton.codes[several] + 1j * done[_RUN][several]
    _, kind, counts = np.unique(pairs, return_inverse=True, return_counts=True)
    again = several[counts[kind] > 1]
    if not len(again):
        return []
    first = int(again[0])
    same = again[(carton.codes[again] == carton.codes[first]) & (done[_RUN][again] == done[_RUN][first])]
    return [
        _note(
            "book.yearly_by_row",
            f"{_counted(len(np.unique(carton.codes[again])))} several rows of one run with more than one order a year, "
            f"and each row counts that often; the first is '{carton.at(first)}' in rows {_listed(row[same])}",
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
