"""What must be said with a plan of a year: jobs that are off their route, dies that are bought once, a line too full."""

from __future__ import annotations

import numpy as np

from compare.decide.book_limits import Limits
from compare.decide.investment import InvestmentCase
from compare.decide.order_book import Book
from compare.decide.queueing import PLANNED_LOAD_CAP
from compare.decide.selection import Selection
from compare.errors import Finding


def first_dies(
    cash: Book, on_laser: np.ndarray, settled_saving: float, investment: InvestmentCase | None
) -> tuple[Finding, ...]:
    """Say how much of the saving is dies that are bought once: it does not come again with the same cartons.

    Parameters
    ----------
    cash : Book
        The book at cash rates.
    on_laser : ndarray of bool
        The jobs that move.
    settled_saving : float
        What could be saved at best if every die were there [money/y].
    investment : InvestmentCase or None
        Whether the line pays.
    """
    first = (cash.die["cost"] - cash.settled.die["cost"])[on_laser & cash.die_possible]
    bought, money = float(first.sum()), cash.currency
    if bought <= 0.01 * abs(cash.saving_of(on_laser)):
        return ()
    cartons = len(np.unique(cash.families[on_laser & cash.die_possible][first > 0]))
    # jobs that are pinned to the laser stay there, and may cost more on it than with their dies
    saves = settled_saving >= 0
    best = f"{'save' if saves else 'cost'} about {abs(settled_saving):,.0f} {money} a year{'' if saves else ' more'}"
    case = ""
    if investment is not None:
        npv = float(investment.investment.npv(settled_saving))
        case = f", and the line would {'still pay' if npv >= 0 else 'not pay'} (net present value {npv:,.0f} {money})"
    return (
        Finding(
            "book.first_dies",
            f"The cash saving of {cash.saving_of(on_laser):,.0f} {money} a year counts {bought:,.0f} {money} for first dies of "
            f"{cartons:,} new {'carton' if cartons == 1 else 'cartons'}. That is saved again only with as many new cartons every year. With none, the best "
            f"choice of jobs would {best}{case}.",
            "tooling.owned",
            "caution",
        ),
    )


def off_route(book: Book, selection: Selection) -> tuple[Finding, ...]:
    """Name the jobs that nobody can make, and those that can't stay where they are pinned."""
    names = np.array(book.job_ids(), dtype=object)
    nobody = (selection.reasons == "impossible").astype(bool)
    no_laser = (book.pinned == 1) & ~selection.on_laser & ~nobody
    no_die = (book.pinned == 0) & selection.on_laser
    found = []
    for code, which, said in (
        (
            "book.impossible",
            nobody,
            "can be made on neither route, or only apart from their carton, and are in no figure",
        ),
        (
            "book.pinned_impossible",
            no_laser,
            "are pinned to the laser, which can't make their carton: planned on the die",
        ),
        ("book.pinned_impossible", no_die, "are pinned to the die, which can't make them: planned on the laser"),
    ):
        if which.any():
            some = ", ".join(map(str, names[which][:5])) + (" ..." if which.sum() > 5 else "")
            found.append(
                Finding(
                    code, f"{which.sum():,} {'jobs' if which.sum() > 1 else 'job'} ({some}): {said}.", "book", "caution"
                )
            )
    return tuple(found)


def remarks(book: Book, selection: Selection, limits: Limits) -> tuple[Finding, ...]:
    """Say where a year is none, and where limits are too small or filled too far."""
    found = []
    known = [days for days in (book.table.due, book.table.ordered) if days is not None]
    days = np.full(len(book.table), np.datetime64("NaT", "D"))
    for some in known:  # the day it came in stands before that it is due, which reaches into the next year
        days = np.where(np.isnat(some), days, some)
    days = days[~np.isnat(days)]
    if len(days) and (days.max() - days.min()).astype(int) > 366:
        found.append(
            Finding(
                "book.longer_than_a_year",
                f"The orders run from {days.min()} to {days.max()}, and all of them are counted as one year.",
                "book",
                "caution",
            )
        )
    if selection.overfull:
        found.append(
            Finding(
                "book.overfull",
                f"What must go to the laser takes more than there is of: {', '.join(selection.overfull)}.",
                "limits",
                "caution",
            )
        )
    if limits.hours > 0 and float(selection.used[0]) > PLANNED_LOAD_CAP * limits.hours:
        found.append(
            Finding(
                "book.load",
                f"The line is planned to {100 * float(selection.used[0]) / limits.hours:.0f} % of its hours; above "
                f"{100 * PLANNED_LOAD_CAP:.0f} % lots wait long for it.",
                "limits",
                "caution",
            )
        )
    return tuple(found)
