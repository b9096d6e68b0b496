"""Rows of an order book that are no orders: explanations, totals, and headings that stand further down.

They are not left out by guess: each of them waits, with one finding in place of one per cell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from compare.readers.orderbook_columns import Column, map_columns, template_columns
from compare.readers.orderbook_findings import BookFinding
from compare.readers.orderbook_rows import MAX_COLUMNS, Portion
from compare.readers.orderbook_words import short, word

_DELETE = "Delete this row."
_LOOKED_AT = 20
"""Rows in which headings are looked for, and the first column of a total."""

_TOTALS = (
    "total", "totals", "grand total", "subtotal", "sub-total", "sum", "Σ", "summe", "gesamt", "gesamtsumme", "zwischensumme",
    "somme", "total général", "sous-total", "suma", "total general", "totale", "totale generale", "somma", "subtotale",
    "totaal", "eindtotaal", "subtotaal", "razem", "ogółem", "łącznie", "suma końcowa",
)  # fmt: skip


@lru_cache(maxsize=1)
def _total_words() -> frozenset[str]:
    shapes = {shape(text) for text in _TOTALS for shape in (str, str.capitalize, str.title, str.upper)}
    return frozenset(text + end for text in shapes for end in ("", ":", " :"))


def headings_below(
    portion: Portion | None, columns: Sequence[Column], mapping: Mapping[str, str] | None
) -> BookFinding | None:
    """Return the finding that the headings stand in another row than the first, if they seem to.

    Parameters
    ----------
    portion : Portion or None
        The first rows of the file.
    columns : sequence of Column
        What the first row gave.
    mapping : mapping or None
        As for :func:`compare.readers.orderbook_columns.map_columns`.
    """
    if portion is None or any(c.input == "demand.run_length" for c in columns):
        return None
    for number, cells in zip(portion.rows[:_LOOKED_AT], portion.cells, strict=False):
        there, _ = map_columns([word(cell) for cell in cells[:MAX_COLUMNS]], mapping)
        if len(there) > max(1, len(columns)) and any(c.input == "demand.run_length" for c in there):
            return BookFinding(
                "book.headings_row",
                f"the headings seem to stand in row {number}; only those of the first row are read",
                f"delete the {'row' if number == 2 else 'rows'} above row {number}",
            )
    return None


def set_aside(portion: Portion, columns: Sequence[Column], *, first: bool) -> list[BookFinding]:
    """Empty the rows that are no orders, and name them.

    Parameters
    ----------
    portion : Portion
        Some rows; those that are no orders are emptied.
    columns : sequence of Column
        What is read.
    first : bool
        Whether these are the first rows of the file.
    """
    found = []
    for i in range(min(3, len(portion.rows))) if first else ():
        if _explains(portion.cells[i], columns):
            found.append(
                BookFinding(
                    "book.template_row",
                    f"row {portion.rows[i]} is the template's own explanation",
                    "delete it",
                    row=portion.rows[i],
                )
            )
            portion.cells[i] = []
    for i in _totals(portion):
        label = next(cell for cell in portion.cells[i] if not _blank(cell))
        found.append(
            BookFinding(
                "book.total_row",
                f"row {portion.rows[i]} looks like a total",
                "delete it, or give the order a number of its own if it is one",
                row=portion.rows[i],
                value=short(label),
            )
        )
        portion.cells[i] = []
    return found


def _explains(cells: Sequence[Any], columns: Sequence[Column]) -> bool:
    meanings = {column.input: column.meaning for column in template_columns()}
    pairs = [(word(cells[c.place]), meanings.get(c.input)) for c in columns if c.place < len(cells)]
    given = [(text, meaning) for text, meaning in pairs if text]
    same = [t for t, m in given if m and t.removeprefix(_DELETE).strip().startswith(m)]
    return any(t.startswith(_DELETE) for t, _ in given) or (len(same) > 1 and 2 * len(same) >= len(given))


def _totals(portion: Portion) -> list[int]:
    """Return the places of rows that begin with a word for a total, in one of the first three columns."""
    words, places = _total_words(), []
    for column in range(3):
        seen = [cells[column] if column < len(cells) else None for cells in portion.cells]
        if not words.isdisjoint(seen):
            places += [
                i for i, cell in enumerate(seen) if cell in words and all(map(_blank, portion.cells[i][:column]))
            ]
    return sorted(places)


def _blank(cell: Any) -> bool:
    return cell is None or not str(cell).strip()
