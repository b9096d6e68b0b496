"""The plan of a year: which jobs of an order book move to the laser line, what that brings, and whether the line pays."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from compare.decide.book_limits import YEAR, Limits, job_capacities, orders_per_year, share_of_year
from compare.decide.book_remarks import first_dies, off_route, remarks
from compare.decide.hour_prices import Curve, saving_by_limit
from compare.decide.investment import Investment, InvestmentCase, evaluate_investment
from compare.decide.order_book import Book, BookTotals, evaluate_book
from compare.decide.queueing import PLANNED_LOAD_CAP, LineWait, line_wait
from compare.decide.saving_range import Progress, SavingRange, saving_range
from compare.decide.selection import Capacity, Selection, choose
from compare.errors import Finding
from compare.readers.jobfile import Layer
from compare.readers.orderbook import OrderTable
from compare.valuation.money import Costing

if TYPE_CHECKING:
    from concurrent.futures import Executor

SEARCH_S = 10.0
"""Longest search for the best choice of jobs [s]."""

__all__ = [
    "LOADS",
    "BookPlan",
    "Limits",
    "LoadRow",
    "ShiftRow",
    "job_capacities",
    "orders_per_year",
    "plan_book",
    "plan_evaluated",
]

LOADS = (0.7, PLANNED_LOAD_CAP, 0.95, 1.0)
"""Shares of the line's hours for which saving and wait are set side by side [-]."""

SHIFT_H = 8.0
"""Hours of a shift [h]; common practice, no source."""

_CURVE_POINTS = 121


class LoadRow(NamedTuple):
    """What a planned load brings and costs; below the full load without a search for the last thousandths."""

    load: float
    """Share of the line's hours that may be planned [-]."""
    hours: float
    """Hours that the jobs take [h/y]."""
    saving: float
    """What they save [money/y]."""
    wait_h: float
    """How long a lot waits, about, in staffed hours [h]."""


class ShiftRow(NamedTuple):
    """The investment with the hours of some shifts a day."""

    shifts: int
    hours: float
    """Hours of the line [h/y]."""
    used: float
    """Hours of them that the jobs take [h/y]."""
    saving: float
    """Cash saving of the jobs that it pays to move within these [money/y]."""
    npv: float | None
    """Net present value [money]; ``None`` without the purchase price of the line."""


@dataclass(frozen=True)
class BookPlan:
    """What to do with the orders of a year.

    Attributes
    ----------
    book, cash : Book
        The book at the costing that decides, and at cash rates.
    limits : Limits
        Hours and other limits.
    capacities : tuple of Capacity
        The same per job, the hours of the year first.
    selection : Selection
        The jobs that move, with the proof.
    before, after : BookTotals
        The year with every job on the die that it can make, and with the jobs moved.
    hour_value : float
        What one more hour of the line would save, about [money/h].
    wait : LineWait
        The queue before the line, an estimate.
    loads : tuple of LoadRow
        Saving and wait side by side for planned loads.
    curve_hours, curve : ndarray, Curve
        Saving against hours of the line, by the year's hours alone.
    shifts : tuple of ShiftRow
        One, two and three shifts.
    investment : InvestmentCase or None
        Whether the line pays; ``None`` without its purchase price.
    saving_range : SavingRange or None
        Range of the cash saving, where it was asked for.
    settled_saving : float
        Cash saving of a good choice of jobs if no carton were new, so that every die is there [money/y].
    findings : tuple of Finding
        What must be said with these figures.
    """

    book: Book
    cash: Book
    limits: Limits
    capacities: tuple[Capacity, ...]
    selection: Selection
    before: BookTotals
    after: BookTotals
    hour_value: float
    wait: LineWait
    loads: tuple[LoadRow, ...]
    curve_hours: np.ndarray
    curve: Curve
    shifts: tuple[ShiftRow, ...]
    investment: InvestmentCase | None
    saving_range: SavingRange | None
    settled_saving: float
    findings: tuple[Finding, ...]

    @property
    def hours_used(self) -> float:
        """Hours of the line that the jobs take [h/y]."""
        return float(self.selection.used[0])

    @property
    def cash_saving(self) -> float:
        """Cash saving of the jobs that move [money/y]."""
        return self.cash.saving_of(self.selection.on_laser)


def plan_book(
    table: OrderTable,
    *layers: Layer,
    costing: Costing = "full",
    limits: Limits | None = None,
    tax_pa: float = 0.0,
    search_s: float = SEARCH_S,
    with_range: bool = False,
    executor: Executor | None = None,
    progress: Progress = lambda share, what: None,
) -> BookPlan:
    """Evaluate a book, choose the jobs that move, and work out what that brings.

    Parameters
    ----------
    table : OrderTable
        Orders, from :func:`compare.readers.orderbook.read_orders`.
    *layers : Layer
        Plant file and settings, from the weakest to the strongest.
    costing : {"full", "cash"}
        Which machine rates decide. The investment is always worked out at cash rates: full ones hold the line's
        own depreciation, interest and space already, which would then count twice.
    limits : Limits, optional
        The productive hours of the plant's line (``line_capital.hours_y``), if left out.
    tax_pa : float
        Tax on profit [-]; 0 leaves it out.
    search_s : float
        Time to search for the best choice [s]; with 0 it is the one by saving per hour, some thousandths below the
        best at most. The gap that is told holds either way.
    with_range : bool
        Whether to work out the range of the saving, which takes two evaluations per assumption.
    executor : Executor, optional
        Runs portions of the evaluations.
    progress : callable
        Is told how far the work is.

    Returns
    -------
    BookPlan

    Raises
    ------
    InputError
        If limits or the figures of the investment can't be.
    """
    progress(0.0, "both routes")
    book = evaluate_book(table, *layers, costing=costing, executor=executor)
    cash = book if costing == "cash" else evaluate_book(table, *layers, costing="cash", executor=executor)
    progress(0.2, "the jobs that move")
    limits = limits or Limits(book.plant.plant["line_capital.hours_y"])
    return plan_evaluated(
        book,
        cash,
        limits,
        tax_pa=tax_pa,
        search_s=search_s,
        progress=progress,
        ranges=(lambda chosen: saving_range(table, layers, cash, chosen, executor=executor, progress=progress))
        if with_range
        else None,
    )


def plan_evaluated(
    book: Book,
    cash: Book,
    limits: Limits,
    *,
    tax_pa: float = 0.0,
    search_s: float = SEARCH_S,
    ranges: Callable[[np.ndarray], SavingRange] | None = None,
    progress: Progress = lambda share, what: None,
) -> BookPlan:
    """Make the plan of a book that was evaluated before, such as for other hours.

    Parameters are those of :func:`plan_book`, and what works out the range of the saving of the jobs that move.
    """
    capacities = job_capacities(book, limits)
    selection = _choose(book, capacities, search_s)
    progress(0.25, "loads and shifts")
    on_laser = selection.on_laser
    settled = cash.settled
    settled_saving = settled.saving_of(_choose(settled, job_capacities(settled, limits)).on_laser)
    found_range = ranges(on_laser) if ranges else None
    investment, missing = _investment(cash, on_laser, tax_pa, found_range)
    wait = _wait(book, on_laser, limits.hours)
    one_hour = np.array([1.0, *(share_of_year(c, limits) for c in capacities[1:])])
    unlimited = _choose(book, (Capacity(YEAR, book.laser_hours, np.inf),))
    most = max(limits.hours, float(unlimited.used[0])) or 1.0
    curve_hours = np.linspace(0.0, most, _CURVE_POINTS)
    return BookPlan(
        book=book,
        cash=cash,
        limits=limits,
        capacities=capacities,
        selection=selection,
        before=book.totals(on_laser & ~book.die_possible),
        after=book.totals(on_laser),
        hour_value=float(selection.prices @ one_hour),
        wait=wait,
        loads=(
            *(_load_row(book, limits, share) for share in LOADS if share < 1),
            LoadRow(1.0, float(selection.used[0]), selection.saving, float(wait.wait_h)),
        ),
        curve_hours=curve_hours,
        curve=_curve(book, capacities[0], curve_hours),
        shifts=_shifts(cash, limits, tax_pa),
        investment=investment,
        saving_range=found_range,
        settled_saving=settled_saving,
        findings=(
            *missing,
            *first_dies(cash, on_laser, settled_saving, investment),
            *off_route(book, selection),
            *remarks(book, selection, limits),
        ),
    )


def _choose(book: Book, capacities: tuple[Capacity, ...], search_s: float = 0.0) -> Selection:
    """Choose the jobs; without a search their saving is some thousandths below the best at most."""
    return choose(
        book.saving,
        capacities,
        groups=book.families,
        pinned=book.pinned,
        die_possible=book.die_possible,
        laser_possible=book.laser_possible,
        time_limit_s=search_s,
    )


def _curve(book: Book, hours: Capacity, limits: np.ndarray) -> Curve:
    return saving_by_limit(
        book.saving,
        hours,
        limits,
        groups=book.families,
        pinned=book.pinned,
        movable=book.laser_possible,
        die_possible=book.die_possible,
    )


def _wait(book: Book, on_laser: np.ndarray, hours: float) -> LineWait:
    if not on_laser.any():
        return LineWait(0.0, 0.0, 0.0, 0.0)
    if hours <= 0:
        return LineWait(np.inf, 0.0, 0.0, np.inf)
    lots = orders_per_year(book)[on_laser]
    return line_wait(book.laser_hours[on_laser] / lots, hours, lots=lots)


def _load_row(book: Book, limits: Limits, share: float) -> LoadRow:
    month = None if limits.month_hours is None else limits.month_hours * share
    planned = Limits(limits.hours * share, limits.by_month, month, limits.board_hours)
    selection = _choose(book, job_capacities(book, planned))
    wait = _wait(book, selection.on_laser, limits.hours)
    return LoadRow(share, float(selection.used[0]), selection.saving, float(wait.wait_h))


def _investment(
    cash: Book, on_laser: np.ndarray, tax_pa: float, found_range: SavingRange | None
) -> tuple[InvestmentCase | None, tuple[Finding, ...]]:
    plant = cash.plant.plant
    if "line_capital.purchase" not in plant:
        return None, (
            Finding(
                "book.no_purchase_price",
                "Whether the line pays is not worked out: give its purchase price as line_capital.purchase.",
                "line_capital.purchase",
            ),
        )
    ends = {"low": found_range.low, "high": found_range.high} if found_range else {}
    investment = _line_to_buy(plant, float(cash.laser_hours[on_laser].sum()), tax_pa)
    return evaluate_investment(investment, cash.saving_of(on_laser), **ends), ()


def _line_to_buy(plant: Mapping[str, float], hours: float, tax_pa: float) -> Investment:
    """Return the line with what it costs to have, run for some hours a year.

    Its maintenance is a cost of the year. The cash rate spreads it over the productive hours, so with fewer hours a
    part of it would be charged to nobody: that is a cost of having the line, like its space.
    """
    maintenance = plant["line_capital.maintenance_share"] * plant["line_capital.purchase"]
    return Investment(
        purchase=plant["line_capital.purchase"],
        life_years=plant["line_capital.life_y"],  # type: ignore[arg-type]  # it is held to whole years there
        residual=plant["line_capital.residual"],
        interest_pa=plant["line_capital.interest"],
        tax_pa=tax_pa,
        yearly_upkeep=plant["line_capital.space_m2"] * plant["line_capital.space_rate"] * 12
        + max(0.0, maintenance - plant["rates.laser_cash_h"] * hours),
    )


def _shifts(cash: Book, limits: Limits, tax_pa: float) -> tuple[ShiftRow, ...]:
    """Work out the line with the jobs that save most cash within the hours of one, two and three shifts."""
    plant = cash.plant.plant
    of_one = plant["line_capital.hours_y"] * SHIFT_H / plant["laser.hours_per_day"]
    rows = []
    for shifts in (1, 2, 3):
        hours = shifts * of_one
        selection = _choose(cash, job_capacities(cash, Limits(hours, limits.by_month, None, limits.board_hours)))
        saving, npv = cash.saving_of(selection.on_laser), None
        if "line_capital.purchase" in plant:
            npv = float(_line_to_buy(plant, float(selection.used[0]), tax_pa).npv(saving))
        rows.append(ShiftRow(shifts, hours, float(selection.used[0]), saving, npv))
    return tuple(rows)
