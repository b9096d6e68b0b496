"""What is to be said of an order book beyond single cells: of the file, and of rows held against one another."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from compare.readers.orderbook_columns import CARTON, CURRENCY, DUE, ORDERED, ROUTE, Column, currency_code
from compare.readers.orderbook_findings import BookFinding
from compare.readers.orderbook_rows import MAX_COLUMNS, OddCell, Portion, RowSource
from compare.readers.orderbook_words import Words, short


def about_file(source: RowSource) -> list[BookFinding]:
    """Return what is to be said of a file before its rows are read."""
    found = []
    if not source.headings:
        found.append(
            BookFinding("book.empty", "the file is empty", "give headings in the first row and one row per order")
        )
    if len(source.headings) > MAX_COLUMNS:
        found.append(
            BookFinding(
                "book.too_many_columns",
                f"the file has more than {MAX_COLUMNS} columns",
                "keep the columns of the template; the header is the first row",
            )
        )
    if source.other_sheets:
        others = ", ".join(f"'{n}'" for n in source.other_sheets[:10])
        found.append(
            BookFinding(
                "book.other_sheets",
                f"only sheet '{source.sheet}' is read, not {others}",
                "name another sheet, or put all orders into one",
                waits=False,
            )
        )
    if source.encoding == "cp1252":
        found.append(
            BookFinding(
                "book.encoding",
                "the file is not written in UTF-8 and is read as Windows-1252",
                "look at accents and umlauts; save it as UTF-8 if they are wrong",
                waits=False,
            )
        )
    if source.ignored_sheet:
        found.append(
            BookFinding(
                "book.no_sheets",
                f"a CSV has no sheets, so that '{short(source.ignored_sheet)}' is ignored",
                "leave the sheet out, or give the workbook",
                waits=False,
            )
        )
    return found + [replace(f, row=None) for f in odd_cells(source.odd, source.headings)]


def odd_cells(
    cells: Sequence[OddCell], headings: Sequence[str], read: Sequence[Column] | None = None
) -> list[BookFinding]:
    """Name cells that hold something else than they seem to.

    Parameters
    ----------
    cells : sequence of OddCell
        Those of some rows.
    headings : sequence of str
        Headings of the file.
    read : sequence of Column, optional
        Where formulas count; left out, they do everywhere. Cells that may have taken rows in always do.
    """
    places = range(len(headings)) if read is None else {column.place for column in read}
    found = []
    for cell in cells:
        if cell.lines:
            code = "book.joined_lines"
            what = f"one cell goes from line {cell.lines[0]} to line {cell.lines[1]} of the file, and orders may be lost in it"
            remedy = f"take out the quotation mark that should not be in line {cell.lines[0]}, or the line breaks of the cell"
        elif cell.place in places:
            code, what = "book.formula", "the cell holds a formula without a result"
            remedy = "open the workbook in a spreadsheet and save it there"
        else:
            continue
        column = headings[cell.place].strip() if cell.place < len(headings) else ""
        found.append(BookFinding(code, what, remedy, row=cell.row, column=column, value=short(cell.text)))
    return found


def no_run_length(headings: list[str]) -> BookFinding:
    """Return the finding that no column holds the run length."""
    seen = ", ".join(f"'{h.strip()}'" for h in headings[:20] if h.strip()) or "none"
    return BookFinding(
        "book.missing_column",
        f"no column holds the run length; the first row has the headings {seen}",
        "name it run_length, or map the column that holds it; headings must stand in the first row",
        column="run_length",
    )


def too_many_cells(portion: Portion, width: int) -> list[BookFinding]:
    """Name rows with cells beyond the last heading."""
    if max(map(len, portion.cells)) <= width:
        return []
    return [
        BookFinding(
            "book.too_many_cells",
            f"the row has {len(cells)} cells and the headings are {width}",
            "put quotation marks around cells with a comma in them, or separate cells by semicolons",
            row=number,
        )
        for number, cells in zip(portion.rows, portion.cells, strict=True)
        if any(cell is not None and cell != "" for cell in cells[width:])
    ]


def duplicates(ids: list[str], row: np.ndarray, column: Column | None) -> list[BookFinding]:
    """Name every row whose number another row has too: which of them is right can't be known."""
    if column is None or len(set(ids)) == len(ids):
        return []
    counts = Counter(ids)
    places: dict[str, list[int]] = defaultdict(list)
    for place, name in enumerate(ids):
        if counts[name] > 1:
            places[name].append(place)
    return [
        BookFinding(
            "book.duplicate_id",
            f"order '{name}' stands in rows {', '.join(str(row[p]) for p in same[:5])}{' and more' if len(same) > 5 else ''}",
            "give each order a number of its own, or delete the rows that are there twice",
            row=int(row[place]),
            column=column.heading,
            value=name,
        )
        for name, same in places.items()
        for place in same
    ]


def date_order(done: Mapping[str, Any], row: np.ndarray, found: list[Column]) -> list[BookFinding]:
    """Name orders that are due before they came in."""
    if ORDERED not in done or DUE not in done:
        return []
    heading = next(c.heading for c in found if c.input == DUE)
    late = np.flatnonzero(done[DUE] < done[ORDERED])
    return [
        BookFinding(
            "book.date_order",
            f"the order is due on {done[DUE][i]}, before it came in on {done[ORDERED][i]}",
            "mend one of the two dates; are day and month the right way round?",
            row=int(row[i]),
            column=heading,
            value=str(done[DUE][i]),
        )
        for i in late.tolist()
    ]


def pinned_apart(done: Mapping[str, Any], row: np.ndarray, found: list[Column]) -> list[BookFinding]:
    """Name the pinned orders of cartons that are pinned to both routes: a carton takes one."""
    if ROUTE not in done or CARTON not in done:
        return []
    route, carton = done[ROUTE], done[CARTON]
    pinned = np.flatnonzero((route.codes >= 0) & (carton.codes >= 0))
    pairs = np.unique(np.column_stack([carton.codes[pinned], route.codes[pinned]]), axis=0)
    torn = np.flatnonzero(np.bincount(pairs[:, 0], minlength=1) > 1)
    heading = next(c.heading for c in found if c.input == ROUTE)
    return [
        BookFinding(
            "book.pinned_apart",
            f"some orders of carton '{carton.at(i)}' must stay on the die and others on the laser",
            "a carton is made on one route: pin its orders to the same one, or to none",
            row=int(row[i]),
            column=heading,
            value=route.at(i),
        )
        for i in pinned[np.isin(carton.codes[pinned], torn)].tolist()
    ]


def currencies(
    found: list[Column], done: Mapping[str, Any], row: np.ndarray, plant: str | None
) -> tuple[str, list[BookFinding]]:
    """Return the one currency of the book, and findings for every column and row in another one."""
    words: Words | None = done.get(CURRENCY)
    codes = [currency_code(name) for name in words.names] if words else []
    counts = np.bincount(words.codes[words.codes >= 0], minlength=len(codes)) if words else np.empty(0)
    by_row: Counter[str] = Counter()
    for code, count in zip(codes, counts, strict=True):
        if code:
            by_row[code] += int(count)
    by_unit = [c.currency for c in found if c.currency]
    most = by_row.most_common(1)[0][0] if by_row else ""
    used = plant or (by_unit[0] if by_unit else most)
    findings = [
        BookFinding(
            "book.mixed_currency",
            f"the prices of '{c.heading}' are in {c.currency}, the others in {used}",
            f"turn them into {used}",
            column=c.heading,
        )
        for c in found
        if c.currency and c.currency != used
    ]
    if words is None:
        return used if by_unit else "", findings
    heading = next(c.heading for c in found if c.input == CURRENCY)
    for place, (name, code) in enumerate(zip(words.names, codes, strict=True)):
        if code == used:
            continue
        what = f"the prices of this row are in {code}, the others in {used}" if code else f"'{name}' is no currency"
        remedy = f"turn them into {used}" if code else "give three letters, such as EUR"
        findings += [
            BookFinding("book.mixed_currency", what, remedy, row=int(row[i]), column=heading, value=name)
            for i in np.flatnonzero(words.codes == place).tolist()
        ]
    return used if by_unit or by_row else "", findings
