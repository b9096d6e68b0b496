"""What the jobs of an order book share on the laser line: hours of the year, of months, and of boards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from compare.decide.choice_items import Capacity
from compare.decide.order_book import Book
from compare.errors import InputError

YEAR = "hours of the year"


@dataclass(frozen=True)
class Limits:
    """What the jobs on the laser line share.

    Attributes
    ----------
    hours : float
        Hours of the line that may be planned [h/y].
    by_month : bool
        Whether no month may hold more than its share, for orders that have a day.
    month_hours : float or None
        Hours of a month [h]; a twelfth of the year's where left out.
    board_hours : mapping
        Board grade to the hours that jobs of it may take [h/y], for boards that are short or that the line is
        not to be filled with.
    """

    hours: float
    by_month: bool = True
    month_hours: float | None = None
    board_hours: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        given = {"hours": self.hours, "hours of a month": self.month_hours or 0.0}
        for what, hours in given.items():
            if not (np.isfinite(hours) and hours >= 0):
                raise InputError(f"{what} can't be {hours:g}", where="limits", remedy="give hours of 0 or more")


def orders_per_year(book: Book) -> np.ndarray:
    """Return how often each job is made in a year."""
    given = book.jobs.numbers.get("demand.run_length", np.full(len(book), np.nan))
    orders: np.ndarray = book.cartons / np.where(np.isnan(given), book.plant.default("demand.run_length"), given)
    return orders


def job_capacities(book: Book, limits: Limits) -> tuple[Capacity, ...]:
    """Return what jobs take of each limit: the hours of the year first, then months and boards.

    Parameters
    ----------
    book : Book
        An evaluated book.
    limits : Limits
        Its limits. A row without a day takes of the year alone; one with a day takes all of its hours in that month,
        also where it stands for several orders.
    """
    found = [Capacity(YEAR, book.laser_hours, limits.hours)]
    if limits.by_month:
        of_month = limits.hours / 12 if limits.month_hours is None else limits.month_hours
        found += [Capacity(f"hours in {month}", use, of_month) for month, use in _month_hours(book).items()]
    if limits.board_hours:
        grades = _grades(book)
        for grade, hours in limits.board_hours.items():
            if not (of_it := grades == grade).any():
                raise InputError(
                    f"no order is of board '{grade}'", where="limits", remedy="give a board grade of the book"
                )
            use = np.where(of_it, book.laser_hours, 0.0)
            found.append(Capacity(f"hours on {grade}", use, hours))
    return tuple(found)


def _grades(book: Book) -> np.ndarray:
    """Return the board grade of each job, of the plant or the settings where its row leaves it out."""
    common = book.plant.texts["board.grade"]
    words = book.jobs.texts.get("board.grade")
    if words is None:
        return np.full(len(book), common, dtype=object)
    grades: np.ndarray = np.array([*words.names, common], dtype=object)[words.codes]
    return grades


def _month_hours(book: Book) -> dict[str, np.ndarray]:
    """Return the laser hours of each job in each month in which one of its orders is due."""
    months, jobs = book.months(), book.jobs.of_row
    known = ~np.isnat(months) & (jobs >= 0)
    hours_of_row = book.laser_hours / book.jobs.orders
    found = {}
    for month in np.unique(months[known]):
        rows = np.bincount(jobs[known & (months == month)], minlength=len(book))
        found[str(month)] = rows * hours_of_row
    return found


def share_of_year(capacity: Capacity, limits: Limits) -> float:
    """Return by how much one more hour a year raises another limit."""
    return 1 / 12 if capacity.name.startswith("hours in ") and limits.month_hours is None else 0.0
