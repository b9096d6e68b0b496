"""How far the plant's assumptions leave the yearly saving of an order book open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from compare.assumptions import assumption_table
from compare.decide.order_book import Book, evaluate_book
from compare.decide.order_inputs import JOB_GROUPS
from compare.readers.jobfile import Layer, ranges_of
from compare.readers.orderbook import OrderTable
from compare.spread import spread_of

if TYPE_CHECKING:
    from concurrent.futures import Executor

_KNOWN_GROUPS = (*JOB_GROUPS, "press_capital.", "line_capital.", "factors.")

Progress = Callable[[float, str], object]
"""Is told the share that is done, from 0 to 1, and what is at work."""


class Swing(NamedTuple):
    """How far an assumption moves the yearly saving from end to end of its range [money/y], and these ends."""

    name: str
    at_low: float
    at_high: float
    low: float
    high: float


@dataclass(frozen=True)
class SavingRange:
    """The yearly cash saving of the jobs that move, as far as the plant's assumptions leave it open.

    Attributes
    ----------
    low, high : float
        Root of the sum of the squares of all swings below and above the saving [money/y]: each assumption at
        either end of its range by itself, taken as independent of the others.
    swings : tuple of Swing
        The largest first.
    """

    low: float
    high: float
    swings: tuple[Swing, ...]


def saving_range(
    table: OrderTable,
    layers: tuple[Layer, ...],
    cash: Book,
    on_laser: np.ndarray,
    *,
    executor: Executor | None,
    progress: Progress,
) -> SavingRange:
    """Move each assumption of the plant to either end of its range, the chosen jobs staying where they are.

    Parameters
    ----------
    table, layers : OrderTable, tuple of Layer
        What the book was evaluated from.
    cash : Book
        The book at cash rates.
    on_laser : ndarray of bool
        The jobs that move.
    executor : Executor, optional
        Runs portions of the evaluations.
    progress : callable
        Is told how far the work is.

    Returns
    -------
    SavingRange

    Notes
    -----
    What rows, plant or settings give without a range is taken as known, and so are factors, the inputs of jobs and sheets, and
    what describes the purchase of the machines.
    """
    given = {name for layer in layers for name in layer.values}
    own = {
        name: spread_of(assumption_table()[name], float(cash.plant.plant[name]), range_, where=where)
        for name, (range_, where) in ranges_of(layers).items()
        if not name.startswith(_KNOWN_GROUPS)
    }
    ends_of = {
        name: (row.low, row.high)
        for name, row in assumption_table().items()
        if row.low is not None and row.high is not None
        # rates that are worked out from the price of a machine are the plant's own, like what it gives itself
        if not name.startswith(_KNOWN_GROUPS) and name not in given and row.value == cash.plant.plant.get(name)
    } | {name: (spread.low, spread.high) for name, spread in own.items() if spread.low < spread.high}
    # a job that the die can't make at one end of a range costs as much on either route as before
    counted = on_laser & cash.die_possible
    middle = float(cash.saving[counted].sum())
    swings = []
    for done, (name, ends) in enumerate(ends_of.items()):
        progress(0.3 + 0.7 * done / len(ends_of), f"the range of {name}")
        at = []
        for end in ends:
            moved = evaluate_book(table, *layers, Layer("range", {name: end}), costing="cash", executor=executor)
            at.append(float(moved.saving[counted].sum()) - middle)
        if any(at):
            swings.append(Swing(name, at[0], at[1], *ends))
    progress(1.0, "done")
    down = np.array([min(0.0, s.at_low, s.at_high) for s in swings])
    up = np.array([max(0.0, s.at_low, s.at_high) for s in swings])
    swings.sort(key=lambda s: -max(abs(s.at_low), abs(s.at_high)))
    return SavingRange(
        middle - float(np.hypot.reduce(down, initial=0.0)),
        middle + float(np.hypot.reduce(up, initial=0.0)),
        tuple(swings),
    )
