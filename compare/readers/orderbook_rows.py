"""Rows of a file in portions, whichever kind of file they come from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice
from typing import Any, NamedTuple, TypeVar

from compare.errors import FileError

MAX_COLUMNS = 200
"""Columns of an order book; the template has a quarter of them."""

MAX_ROWS = 2_000_000
CHUNK = 20_000
"""Rows that are read at a time."""

T = TypeVar("T")


class OddCell(NamedTuple):
    """A cell that holds something else than it seems to.

    Attributes
    ----------
    row : int
        Its row, as a spreadsheet shows it.
    place : int
        Its column, from 0.
    text : str
        What is in it.
    lines : tuple of int, or None
        First and last line of the file, as an editor counts them, of a cell that stray quotation marks
        seem to have made; ``None`` for a formula that no result is stored for.
    """

    row: int
    place: int
    text: str
    lines: tuple[int, int] | None = None


class Portion(NamedTuple):
    """Some rows of a file.

    Attributes
    ----------
    rows : list of int
        Their numbers, as a spreadsheet shows them.
    cells : list of list
        What is in them; rows may differ in length.
    odd : sequence of OddCell
        Those that hold something else than they seem to.
    """

    rows: list[int]
    cells: list[list[Any]]
    odd: Sequence[OddCell] = ()

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
    odd : sequence of OddCell
        Those of the first row.
    sheet : str
        Name of the sheet that is read; empty for CSV.
    other_sheets : tuple of str
        Names of sheets that are not.
    encoding : str
        How a CSV is written.
    ignored_sheet : str
        Name of a sheet that was asked of a CSV.
    """

    headings: list[str]
    portions: Iterator[Portion]
    odd: Sequence[OddCell] = ()
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()
    encoding: str = ""
    ignored_sheet: str = ""


Records = Iterator[tuple[list[list[Any]], Sequence[OddCell]]]
"""Rows of a file, empty ones too, in portions; with the cells that are odd."""


def some(records: Iterable[T]) -> list[T]:
    """Return the next records, as many as are read at a time."""
    return list(islice(records, CHUNK))


def source_of(portions: Iterator[Portion], **about: Any) -> RowSource:
    """Take the headings off the first portion."""
    head = next(portions, Portion([], [[]]))
    own = [cell for cell in head.odd if cell.row in head.rows[:1]]
    rest = Portion(head.rows[1:], head.cells[1:], [cell for cell in head.odd if cell not in own])
    headings = ["" if h is None else str(h) for h in head.cells[0]]
    return RowSource(headings, chain([rest] if rest.rows else [], portions), own, **about)


def numbered(records: Records, filled: Callable[[list[Any]], bool], where: str, max_rows: int) -> Iterator[Portion]:
    """Give rows their numbers, leave out empty ones, and stop where it is too much."""
    number = 1
    for every, odd in records:
        rows, cells = list(range(number, number + len(every))), every
        number += len(every)
        if number > max_rows + 2:
            raise FileError(f"the file has over {max_rows:,} rows", where=where, remedy="split it")
        if not all(map(filled, cells)):
            kept = [i for i, row in enumerate(cells) if filled(row)]
            rows, cells = [rows[i] for i in kept], [cells[i] for i in kept]
        if rows:
            yield Portion(rows, cells, odd)
