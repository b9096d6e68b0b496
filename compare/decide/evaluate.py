"""Both routes for one scenario or millions: the vectorised heart."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING, Literal, TypeVar

import numpy as np

from compare.assumptions import Number, Truth
from compare.decide.step_totals import TIE
from compare.geometry.sheet_loads import SheetLoads
from compare.names import Inputs
from compare.routes import die, laser
from compare.routes.inventory import Inventory
from compare.routes.limits import die_limits, laser_limits, possible, strategies
from compare.valuation.carbon import total_carbon
from compare.valuation.money import Costing, total_money
from compare.valuation.waste import total_waste

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

_Part = TypeVar("_Part")
_Result = TypeVar("_Result")

Measure = Literal["cost", "co2e", "biogenic", "waste", "kwh", "hours", "sheets"]
"""What a route is measured by: money, kg CO2e, kg biogenic CO2, kg waste board, kWh, machine hours, sheets."""

MEASURES: tuple[Measure, ...] = ("cost", "co2e", "waste")
"""What break-even ranges are sought for."""

_CHUNK = 16_384
"""Rows that stay in cache together; larger arrays run several times slower."""

_UNDER_WAY = 64
"""Parts that an executor has at a time: more than a caller can keep workers busy with, and a bounded amount of memory."""

# Once a block as large as this came and went, the C library (glibc) keeps freed memory for the next chunk;
# else it hands it back and faults it in anew each time, which takes half the time of an evaluation.
np.empty(1 << 21)


@dataclass(frozen=True)
class Evaluation:
    """Totals over the programme by route and measure.

    Attributes
    ----------
    die, laser : mapping
        Measure to total. Where the die can be worked in two ways, the cheaper possible one stands.
    inputs : Inputs
        What was evaluated.
    """

    die: Mapping[Measure, Number]
    laser: Mapping[Measure, Number]
    inputs: Inputs

    @cached_property
    def cartons(self) -> Number:
        """Good cartons over the programme."""
        x = self.inputs
        return x["demand.orders_per_year"] * x["demand.years"] * x["demand.run_length"]

    def per_1000(self, route: Literal["die", "laser"], measure: Measure) -> Number:
        """Return a total per 1,000 good cartons."""
        return (self.die if route == "die" else self.laser)[measure] / (self.cartons / 1000)


def measure_of(inventory: Inventory, x: Inputs, measure: Measure, costing: Costing) -> Number:
    """Return one measure of an inventory over the programme.

    Parameters
    ----------
    inventory : Inventory
        What a route uses.
    x : Inputs
        Numbers or arrays.
    measure : Measure
        What is asked.
    costing : {"full", "cash"}
        Which machine rates count.
    """
    if measure == "cost":
        return total_money(inventory, x, costing)
    if measure == "co2e":
        return total_carbon(inventory, x)
    if measure == "biogenic":
        return total_carbon(inventory, x, biogenic=True)
    if measure == "waste":
        return total_waste(inventory)
    if measure == "kwh":
        return inventory.kwh
    return inventory.machine_hours if measure == "hours" else inventory.sheets


def evaluate(
    x: Inputs,
    *,
    costing: Costing = "full",
    measures: tuple[Measure, ...] = MEASURES,
    executor: Executor | None = None,
) -> Evaluation:
    """Compute both routes for every scenario that the inputs span.

    Parameters
    ----------
    x : Inputs
        Numbers, or arrays that broadcast to a common shape.
    costing : {"full", "cash"}
        Which machine rates count.
    measures : tuple of str
        What to return; ``cost`` is always needed to choose the die's strategy.
    executor : Executor, optional
        Runs chunks of large evaluations: threads, processes, or a cluster that offers this interface. The
        results are the same to the last bit. Without it they run one after the other.

    Returns
    -------
    Evaluation
        Arrays of the common shape, or numbers. What a route cannot do is not looked at here; see
        :func:`possible_routes`.

    Notes
    -----
    Large evaluations run in chunks of 16,384 rows that stay in cache.
    """
    shape = x.shape(where="evaluate")
    size = int(np.prod(shape))
    if size <= _CHUNK:
        return _evaluate(x, costing, measures)

    totals: dict[str, dict[Measure, np.ndarray]] = {
        route: {m: np.empty(size) for m in measures} for route in ("die", "laser")
    }
    constant = {name: value for name, value in x.items() if not isinstance(value, np.ndarray)}
    work = partial(_evaluate_part, constant, x.loads, costing, measures)
    start = 0
    for on_die, on_laser in in_order(executor, work, _chunks(x, shape, size)):
        rows = slice(start, min(start + _CHUNK, size))
        for measure in measures:
            totals["die"][measure][rows] = on_die[measure]
            totals["laser"][measure][rows] = on_laser[measure]
        start = rows.stop
    shaped: dict[str, dict[Measure, Number]] = {
        route: {m: a.reshape(shape) for m, a in by.items()} for route, by in totals.items()
    }
    return Evaluation(shaped["die"], shaped["laser"], x)


def in_order(executor: Executor | None, work: Callable[[_Part], _Result], parts: Iterable[_Part]) -> Iterator[_Result]:
    """Yield what the work makes of each part, in their order.

    Parameters
    ----------
    executor : Executor or None
        Does the work, some parts at a time; without it they are worked on one after the other.
    work : callable
        For processes and clusters it must be a function of a module, or a :func:`functools.partial` of one.
    parts : iterable
        Taken as the work goes on, so that they need not all be in memory, or on their way, at once.
    """
    if executor is None:
        yield from map(work, parts)
        return
    under_way: deque[Future[_Result]] = deque()
    try:
        for part in parts:
            under_way.append(executor.submit(work, part))
            if len(under_way) == _UNDER_WAY:
                yield under_way.popleft().result()
        while under_way:
            yield under_way.popleft().result()
    finally:
        for future in under_way:
            future.cancel()


def _chunks(x: Inputs, shape: tuple[int, ...], size: int) -> Iterator[dict[str, Number]]:
    whole = {name: np.broadcast_to(array, shape) for name, array in x.arrays().items()}
    flat = {name: a.reshape(-1) if a.flags.c_contiguous else a.flat for name, a in whole.items()}
    for start in range(0, size, _CHUNK):
        yield {name: array[start : min(start + _CHUNK, size)] for name, array in flat.items()}


def _evaluate_part(
    constant: Mapping[str, Number],
    loads: SheetLoads | None,
    costing: Costing,
    measures: tuple[Measure, ...],
    varied: Mapping[str, Number],
) -> tuple[Mapping[Measure, Number], Mapping[Measure, Number]]:
    """Return the totals of a chunk; a function of its own, so that other processes and machines can run it."""
    found = _evaluate(Inputs({**constant, **varied}, loads), costing, measures)
    return found.die, found.laser


def _evaluate(x: Inputs, costing: Costing, measures: tuple[Measure, ...]) -> Evaluation:
    on_die = _die_totals(x, costing, measures)  # its inventories are let go before the next one needs the memory
    beam = laser.inventory(x)
    return Evaluation(on_die, {m: measure_of(beam, x, m, costing) for m in measures}, x)


def _die_totals(x: Inputs, costing: Costing, measures: tuple[Measure, ...]) -> dict[Measure, Number]:
    """Return the totals of the cheaper possible way of working the die."""
    allowed = strategies(x)
    separate = die.inventory(x, "separate")
    totals = {m: measure_of(separate, x, m, costing) for m in measures}
    if np.any(allowed["ganged"]):
        ganged = die.inventory(x, "ganged")
        cost = totals["cost"] if "cost" in totals else total_money(separate, x, costing)
        cheaper = allowed["ganged"] & (
            clearly_below(total_money(ganged, x, costing), cost) | ~np.asarray(allowed["separate"])
        )
        totals = {m: _pick(cheaper, measure_of(ganged, x, m, costing), totals[m]) for m in measures}
    return totals


def clearly_below(value: Number, other: Number) -> Truth:
    """Say whether a total is below another by more than rounding; the rule of every choice and range."""
    return np.subtract(value, other) < -TIE * np.maximum(np.abs(value), np.abs(other))


def _pick(condition: Truth, if_true: Number, if_false: Number) -> Number:
    picked = np.where(condition, if_true, if_false)
    return picked if picked.ndim else float(picked)


def possible_routes(x: Inputs, laminate: str = "none") -> dict[str, Truth]:
    """Say for each route whether it can make the job; arrays where a limit depends on one.

    Parameters
    ----------
    x : Inputs
        Numbers or arrays.
    laminate : str
        The ``board.laminate`` choice.
    """
    return {"die": possible(die_limits(x)), "laser": possible(laser_limits(x, laminate))}
