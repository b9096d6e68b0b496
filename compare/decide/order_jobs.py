"""From orders to jobs: which rows of an order book are the same order again, and who pays for the tools.

The model knows a carton by N orders of Q cartons each. Orders of one carton with the same figures are
therefore one job of N orders, which is exact. Where the orders of a carton differ (mostly in their run
length), each kind stays a job of its own with its own run, because sheets and crease sets are counted
in whole ones per order and a mean run would count them wrong. These jobs share one set of tools:

- one of them pays for the first set (that with the earliest day; without days, that with the most
  orders), the others find it owned;
- the years of the carton are split between them by their orders, and orders per year grow in turn, so
  that orders stay what they are while storage and changes of the structure are paid once.

Over the carton this adds up to the sets, the storage, the changes and the sheets that one job would
have. Three things it can't share, all of them to the die's advantage and small against the rest: a set's
impressions are counted within each job, so that a carton whose unlike orders together outlast a set is
given too few re-rulings; a digital crease set that is stored is made once per job; and a job has no
more first set-ups than orders, which only counts where the structure changes.

Orders of a carton whose tools can't be the same (another sheet, other dimensions, other lengths) don't
share them, and a remark says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from compare.readers.orderbook import OrderTable
from compare.readers.orderbook_findings import BookFinding
from compare.readers.orderbook_words import Words

_NOT_OF_THE_TOOL = (
    "demand.run_length",
    "demand.orders_per_year",
    "demand.years",
    "demand.artwork_versions",
    "demand.changes_per_year",
    "demand.mixed_sheets",
    "sheet.print_cost",
    "tooling.owned",
    "tooling.change_share",
    "board.grade",
    "board.grammage_g_m2",
    "board.price_per_t",
    "board.laminate",
)
"""What may differ between orders that are cut with one set of tools."""

_MIX = np.uint64(0x9E3779B97F4A7C15)
"""An odd number of no pattern (2^64 over the golden ratio): spreads keys that are alike."""


@dataclass(frozen=True)
class Jobs:
    """Jobs of an order book.

    Attributes
    ----------
    first : ndarray of int64
        Index of the row that stands for each job.
    of_row : ndarray of int64
        Job of each row; -1 where the row waits.
    orders : ndarray of float
        Rows of each job.
    family : ndarray of int64
        Carton of each job, in order of appearance.
    families : int
        Number of cartons.
    numbers : mapping
        Dotted name to what the jobs give; NaN where one leaves it out.
    texts : mapping
        Dotted name to words of the jobs.
    years : ndarray or float
        Years of each job's carton, unshared.
    remarks : tuple of BookFinding
        Cartons whose orders can't share tools.
    """

    first: np.ndarray
    of_row: np.ndarray
    orders: np.ndarray
    family: np.ndarray
    families: int
    numbers: Mapping[str, np.ndarray]
    texts: Mapping[str, Words]
    years: np.ndarray | float
    remarks: tuple[BookFinding, ...]

    def __len__(self) -> int:
        return len(self.first)


def group_orders(table: OrderTable, defaults: Mapping[str, float]) -> Jobs:
    """Make jobs of the rows that can be computed.

    Parameters
    ----------
    table : OrderTable
        The order book.
    defaults : mapping
        What stands where a row leaves out ``demand.orders_per_year``, ``demand.years`` or ``tooling.owned``.

    Returns
    -------
    Jobs
    """
    rows = np.flatnonzero(~table.waits)
    carton = _cartons(table.carton.codes, rows)
    again = np.bincount(carton, minlength=1)[carton] > 1 if len(rows) else np.zeros(0, dtype=bool)
    of_row = np.full(len(table), -1, dtype=np.int64)
    if not again.any():
        of_row[rows] = np.arange(len(rows))
        numbers, texts = _taken(table, rows)
        years = _filled(numbers.get("demand.years"), defaults["demand.years"])
        return Jobs(rows, of_row, np.ones(len(rows)), carton, len(rows), numbers, texts, years, ())

    alike = _keys(table, rows[again], ())
    stands_for = rows.copy()
    stands_for[again] = rows[again][_first_alike(table, rows[again], _mixed(alike, carton[again]))]
    first, job = np.unique(stands_for, return_inverse=True)
    of_row[rows] = job
    orders = np.bincount(job).astype(float)
    family = _renumbered(carton[np.searchsorted(rows, first)])
    numbers, texts = _taken(table, first)
    years = _filled(numbers.get("demand.years"), defaults["demand.years"])
    per_year = _filled(numbers.get("demand.orders_per_year"), defaults["demand.orders_per_year"]) * orders
    owned = _filled(numbers.get("tooling.owned"), defaults["tooling.owned"])
    share, pays, remarks = _tools(table, first, family, per_year * years, _earliest(table, rows, job, len(first)))
    numbers = {
        **numbers,
        "demand.years": years * share,
        "demand.orders_per_year": per_year / share,
        "tooling.owned": np.where(pays, owned, 1.0),
    }
    return Jobs(first, of_row, orders, family, int(family.max()) + 1, numbers, texts, years, remarks)


def _cartons(codes: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Return a number from 0 for each row's carton; an order that names none is a carton of its own."""
    taken = codes[rows].astype(np.int64)
    own = taken < 0
    taken[own] = int(taken.max(initial=-1)) + 1 + np.arange(np.count_nonzero(own))
    return _renumbered(taken)


def _renumbered(codes: np.ndarray) -> np.ndarray:
    """Return codes from 0 in order of appearance."""
    _, first, inverse = np.unique(codes, return_index=True, return_inverse=True)
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    return rank[inverse]


def _taken(table: OrderTable, rows: np.ndarray) -> tuple[dict[str, np.ndarray], dict[str, Words]]:
    if len(rows) == len(table):
        return dict(table.numbers), dict(table.texts)
    return (
        {name: values[rows] for name, values in table.numbers.items()},
        {name: Words(words.codes[rows], words.names) for name, words in table.texts.items()},
    )


def _filled(values: np.ndarray | None, default: float) -> np.ndarray | float:
    return default if values is None else np.where(np.isnan(values), default, values)


def _columns(table: OrderTable, without: Iterable[str]) -> list[np.ndarray]:
    """Return what rows are told apart by, as whole numbers that don't depend on the order of rows."""
    left_out = set(without)
    plain = [values for name, values in sorted(table.numbers.items()) if name not in left_out]
    words = []
    for name, word in sorted(table.texts.items()):
        if name not in left_out:
            rank = np.empty(len(word.names) + 1, dtype=np.int64)
            rank[np.argsort(np.array(word.names, dtype=object))] = np.arange(len(word.names))
            rank[-1] = -1  # code -1: nothing is given
            words.append(rank[word.codes])
    return plain + words


def _keys(table: OrderTable, rows: np.ndarray, without: Iterable[str]) -> np.ndarray:
    """Return a number per row that is equal where the rows are."""
    key = np.zeros(len(rows), dtype=np.uint64)
    for column in _columns(table, without):
        taken = column[rows]
        if taken.dtype == float:
            taken = np.where(np.isnan(taken), np.nan, taken + 0.0)  # one zero, one NaN
        key = _mixed(key, taken)
    return key


def _mixed(key: np.ndarray, values: np.ndarray) -> np.ndarray:
    mixed = (key ^ np.ascontiguousarray(values).view(np.uint64)) * _MIX
    return mixed ^ (mixed >> np.uint64(29))


def _first_alike(table: OrderTable, rows: np.ndarray, key: np.ndarray) -> np.ndarray:
    """Return, for each row, the place of the first one that is equal to it."""
    _, first, inverse = np.unique(key, return_index=True, return_inverse=True)
    place = first[inverse]
    unlike = np.zeros(len(rows), dtype=bool)
    for column in [*_columns(table, ()), table.carton.codes]:
        a, b = column[rows], column[rows[place]]
        both_left_out = np.isnan(a) & np.isnan(b)
        unlike |= (a != b) & ~both_left_out
    place[unlike] = np.flatnonzero(unlike)  # keys that are equal by chance: the row stays for itself
    return place


def _earliest(table: OrderTable, rows: np.ndarray, job: np.ndarray, count: int) -> np.ndarray:
    """Return the first day of each job as a number; the largest where there is none."""
    earliest = np.full(count, np.iinfo(np.int64).max)
    for days in (table.due, table.ordered):
        if days is not None:
            taken = days[rows]
            known = ~np.isnat(taken)
            np.minimum.at(earliest, job[known], taken[known].astype(np.int64))
    return earliest


def _tools(
    table: OrderTable, first: np.ndarray, family: np.ndarray, orders: np.ndarray, earliest: np.ndarray
) -> tuple[np.ndarray, np.ndarray, tuple[BookFinding, ...]]:
    """Return each job's share of its tools, whether it pays for them, and remarks."""
    share, pays = np.ones(len(first)), np.ones(len(first), dtype=bool)
    several = np.flatnonzero(np.bincount(family)[family] > 1)
    if not len(several):
        return share, pays, ()
    tool = _mixed(_keys(table, first[several], _NOT_OF_THE_TOOL), family[several])
    kinds, tool_of = np.unique(tool, return_inverse=True)
    share[several] = orders[several] / np.bincount(tool_of, weights=orders[several])[tool_of]
    value = _keys(table, first[several], ())
    ranked = np.lexsort((value, -orders[several], earliest[several], tool_of))
    pays[several] = False
    starts = np.flatnonzero(np.diff(tool_of[ranked], prepend=-1))
    pays[several[ranked[starts]]] = True
    return share, pays, _remarks(table, first[several], family[several], tool_of, len(kinds))


def _remarks(
    table: OrderTable, first: np.ndarray, family: np.ndarray, tool: np.ndarray, kinds: int
) -> tuple[BookFinding, ...]:
    pairs = np.unique(np.column_stack([family, tool]), axis=0)
    if len(pairs) != kinds:  # pragma: no cover - a carton is part of its tools' key
        raise AssertionError("two cartons have one set of tools")
    found = []
    for one in np.flatnonzero(np.bincount(pairs[:, 0]) > 1).tolist():
        rows = first[family == one]
        found.append(
            BookFinding(
                "book.carton_differs",
                f"the orders of carton '{table.carton.at(int(rows[0]))}' differ in more than their run, board or print, "
                "so each kind of them is given tools of its own",
                "give them numbers of their own if they are different cartons, or mend the figures that should agree",
                row=int(table.row[rows[1]]),
                column=table.headings.get("order.carton", ""),
                value=table.carton.at(int(rows[0])),
                waits=False,
            )
        )
    return tuple(found)
