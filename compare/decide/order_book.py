"""The order book: every job on both routes in one pass over columns.

What is worked out here for thousands of orders is what :func:`compare.decide.comparison.compare` says
of each of them. All amounts are per year: totals over a carton's years, divided by these years.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from compare.assumptions import Number
from compare.decide.evaluate import Measure, clearly_below, evaluate, in_order, measure_of
from compare.decide.order_faults import fault_findings
from compare.decide.order_inputs import BookPlant, book_plant, order_inputs
from compare.decide.order_jobs import Jobs, group_orders
from compare.errors import InputError
from compare.names import Inputs
from compare.readers.jobfile import Layer
from compare.readers.orderbook import OrderTable, with_findings
from compare.readers.orderbook_findings import BookFinding
from compare.routes import die
from compare.routes.limits import HALOGENATED, Limit, die_limits, laser_limits, strategies
from compare.valuation.money import Costing

if TYPE_CHECKING:
    from concurrent.futures import Executor

RouteName = Literal["die", "laser"]

MEASURES: tuple[Measure, ...] = ("cost", "co2e", "waste", "hours")
"""What a book says of each job and route, per year: money, kg CO2e, kg waste board, machine hours."""

_CHUNK = 16_384
"""Jobs that stay in cache together."""

DIE_REASONS = (
    "die.varnish_release", "die.versions", "die.press_force", "die.caliper", "die.sheet", "die.smallest_gap",
    "die.smallest_radius",
)  # fmt: skip
LASER_REASONS = ("laser.halogen", "laser.caliper", "laser.sheet")
"""Codes of what a route can't do, by their bit in :attr:`Book.reasons`."""


class BookTotals(NamedTuple):
    """A year of a book, with some of its jobs on the laser.

    Attributes
    ----------
    cost : float
        Money of all jobs.
    co2e, waste : float
        Kg CO2e and kg waste board of all jobs.
    press_hours, laser_hours : float
        Machine hours of the jobs that are on each route.
    freed_press_hours : float
        Press hours of those on the laser that the press could make.
    """

    cost: float
    co2e: float
    waste: float
    press_hours: float
    laser_hours: float
    freed_press_hours: float


@dataclass(frozen=True)
class Book:
    """An order book on both routes; arrays over its jobs, amounts per year.

    Attributes
    ----------
    table : OrderTable
        The orders, with everything there is to mend.
    jobs : Jobs
        Which rows make which job.
    plant : BookPlant
        What all jobs have in common.
    costing : {"full", "cash"}
        Which machine rates count.
    die, laser : mapping
        Measure to amounts; for the die, of its cheaper possible way of working.
    cartons : ndarray
        Good cartons.
    ganged : ndarray of bool
        Whether one die with all versions is the cheaper way.
    reasons : mapping
        Route to what it can't do, as bits of :data:`DIE_REASONS` and :data:`LASER_REASONS`.
    """

    table: OrderTable
    jobs: Jobs
    plant: BookPlant
    costing: Costing
    die: Mapping[Measure, np.ndarray]
    laser: Mapping[Measure, np.ndarray]
    cartons: np.ndarray
    ganged: np.ndarray
    reasons: Mapping[RouteName, np.ndarray]

    def __len__(self) -> int:
        return len(self.jobs)

    @property
    def currency(self) -> str:
        """Currency of every amount of money."""
        return self.plant.currency

    @property
    def findings(self) -> tuple[BookFinding, ...]:
        """Everything to mend in the file, and remarks."""
        return self.table.findings

    @property
    def rows_in(self) -> int:
        """Orders of the file."""
        return len(self.table)

    @property
    def rows_computed(self) -> int:
        """Orders that are part of a job."""
        return int(np.count_nonzero(self.jobs.of_row >= 0))

    @property
    def families(self) -> np.ndarray:
        """Carton of each job, as a number from 0: all jobs of a carton take one route."""
        return self.jobs.family

    @property
    def die_possible(self) -> np.ndarray:
        """Whether the die can make each job."""
        possible: np.ndarray = self.reasons["die"] == 0
        return possible

    @property
    def laser_possible(self) -> np.ndarray:
        """Whether the laser can make each job."""
        possible: np.ndarray = self.reasons["laser"] == 0
        return possible

    @cached_property
    def saving(self) -> np.ndarray:
        """What each job costs less on the laser; only where both routes are possible is there a choice."""
        saving: np.ndarray = self.die["cost"] - self.laser["cost"]
        return saving

    def saving_of(self, on_laser: np.ndarray) -> float:
        """Return what some jobs save on the laser; one that the die can't make has nothing to be compared with."""
        return float(self.saving[on_laser & self.die_possible].sum())

    @property
    def laser_hours(self) -> np.ndarray:
        """Hours of the laser line that each job takes."""
        return self.laser["hours"]

    @property
    def press_hours(self) -> np.ndarray:
        """Hours of the press that each job takes."""
        return self.die["hours"]

    @cached_property
    def pinned(self) -> np.ndarray:
        """Route that each job must stay on: 0 the die, 1 the laser, -1 free. One order pins its whole carton."""
        routes = self.table.route
        of_name = np.array([("die", "laser").index(name) for name in routes.names] + [-1], dtype=np.int64)
        family = np.full(self.jobs.families, -1, dtype=np.int64)
        computed = self.jobs.of_row >= 0
        np.maximum.at(family, self.jobs.family[self.jobs.of_row[computed]], of_name[routes.codes[computed]])
        return np.asarray(family[self.jobs.family])

    @cached_property
    def settled(self) -> Book:
        """The same jobs as if every die were there: a year in which no carton is new."""
        numbers = {**self.jobs.numbers, "tooling.owned": np.ones(len(self))}
        jobs = replace(self.jobs, numbers=numbers)
        return _book(self.table, jobs, self.plant, self.costing, _run(jobs, self.plant, self.costing, None))

    def job_ids(self) -> list[str]:
        """Return a name for each job: the number of the first of its orders."""
        return [str(name) for name in self.table.order[self.jobs.first]]

    def carton_ids(self) -> list[str]:
        """Return the number of each job's carton; that of the order, where it has none."""
        codes, names = self.table.carton.codes[self.jobs.first], self.table.carton.names
        own = self.table.order[self.jobs.first]
        return [names[code] if code >= 0 else str(own[i]) for i, code in enumerate(codes.tolist())]

    def why_not(self, route: RouteName, job: int) -> tuple[str, ...]:
        """Return the codes of what a route can't do for a job; empty where it is possible."""
        codes = DIE_REASONS if route == "die" else LASER_REASONS
        bits = int(self.reasons[route][job])
        return tuple(code for k, code in enumerate(codes) if bits >> k & 1)

    def layer(self, job: int) -> Layer:
        """Return a job as if it came from a job file: with the plant's layers it can be prepared and compared.

        Its seconds per sheet are estimated, as those of the book are: no path is planned for thousands of jobs.
        """
        numbers = {n: float(v[job]) for n, v in self.jobs.numbers.items() if not np.isnan(v[job])}
        texts = {n: w.at(job) for n, w in self.jobs.texts.items() if w.codes[job] >= 0}
        first = int(self.jobs.first[job])
        where = f"{self.table.source}, row {self.table.row[first]}"
        return Layer(where, {**numbers, **texts, "laser.path": "estimated"}, {"name": str(self.table.order[first])})

    def months(self) -> np.ndarray:
        """Return the month of each row: that it is due in, else that it came in; NaT where there is no day."""
        month = np.full(len(self.table), np.datetime64("NaT", "M"))
        for days in (self.table.ordered, self.table.due):
            if days is not None:
                known = ~np.isnat(days)
                month[known] = days[known].astype("datetime64[M]")
        return month

    def totals(self, on_laser: np.ndarray) -> BookTotals:
        """Sum up a year.

        Parameters
        ----------
        on_laser : ndarray of bool
            Which jobs are made on the laser; all others are made with the die, but for those that it can't make:
            they are not made at all.
        """
        on_die = ~on_laser & self.die_possible
        summed: tuple[Measure, ...] = ("cost", "co2e", "waste")
        made = {m: np.where(on_laser, self.laser[m], np.where(on_die, self.die[m], 0.0)) for m in summed}
        freed = float(self.die["hours"][on_laser & self.die_possible].sum())
        return BookTotals(
            **{m: float(values.sum()) for m, values in made.items()},
            press_hours=float(self.die["hours"][on_die].sum()),
            laser_hours=float(self.laser["hours"][on_laser].sum()),
            freed_press_hours=freed,
        )


def evaluate_book(
    table: OrderTable, *layers: Layer, costing: Costing = "full", executor: Executor | None = None
) -> Book:
    """Work out both routes for every order of a book.

    Parameters
    ----------
    table : OrderTable
        Orders, from :func:`compare.readers.orderbook.read_orders`.
    *layers : Layer
        Plant file and settings, from the weakest to the strongest; a row stands before all of them.
    costing : {"full", "cash"}
        Which machine rates count.
    executor : Executor, optional
        Runs portions of the book: threads, processes, or a cluster that offers this interface. The
        results are the same to the last bit.

    Returns
    -------
    Book
        Every row of the file is part of a job or named in the findings.

    Raises
    ------
    InputError
        If the orders are priced in another currency than the plant's, or the layers name a drawing or a
        layout of outlines.
    """
    common = book_plant(*layers)
    if table.currency and table.currency != common.currency:
        raise InputError(
            f"the prices of the orders are in {table.currency}, those of the plant in {common.currency}",
            where=table.source,
            remedy="turn them into one currency, or set plant.currency if the plant's prices are meant to be in it",
        )
    while True:
        jobs = group_orders(table, {n: common.default(n) for n in _SHARED})
        results = _run(jobs, common, costing, executor)
        faults = results.pop("faults")
        if not faults.any():
            break
        # who shares tools with whom depends on which orders count, so jobs are made again without the others
        table = with_findings(table, fault_findings(table, jobs, faults))
    return _book(with_findings(table, list(jobs.remarks)), jobs, common, costing, results)


def _book(table: OrderTable, jobs: Jobs, common: BookPlant, costing: Costing, results: dict[str, np.ndarray]) -> Book:
    """Put a book together."""
    per_year = {name: values / jobs.years for name, values in results.items() if values.dtype == float}
    return Book(
        table=table,
        jobs=jobs,
        plant=common,
        costing=costing,
        die={m: per_year[f"die {m}"] for m in MEASURES},
        laser={m: per_year[f"laser {m}"] for m in MEASURES},
        cartons=per_year["cartons"],
        ganged=results["ganged"],
        reasons={"die": results["die reasons"], "laser": results["laser reasons"]},
    )


_SHARED = ("demand.orders_per_year", "demand.years", "tooling.owned")


class _Part(NamedTuple):
    """A portion of the jobs."""

    size: int
    numbers: Mapping[str, np.ndarray]
    codes: Mapping[str, np.ndarray]


@dataclass(frozen=True)
class _Whole:
    """What all portions need."""

    common: BookPlant
    costing: Costing
    constant: Mapping[str, float]
    names: Mapping[str, tuple[str, ...]]


def _run(jobs: Jobs, common: BookPlant, costing: Costing, executor: Executor | None) -> dict[str, np.ndarray]:
    """Compute all portions and put their results together."""
    constant = {n: float(v[0]) for n, v in jobs.numbers.items() if len(v) and bool((v == v[0]).all())}
    whole = _Whole(common, costing, constant, {n: w.names for n, w in jobs.texts.items()})
    results = {name: np.empty(len(jobs), dtype=kind) for name, kind in _RESULTS.items()}
    start = 0
    for part in in_order(executor, partial(_compute, whole), _parts(jobs, constant)):
        stop = start + len(part["faults"])
        for name, values in part.items():
            results[name][start:stop] = values
        start = stop
    return results


_RESULTS: Mapping[str, Any] = {
    **{f"{route} {m}": float for route in ("die", "laser") for m in MEASURES},
    "cartons": float,
    "ganged": bool,
    "die reasons": np.uint16,
    "laser reasons": np.uint16,
    "faults": np.uint64,
}


def _parts(jobs: Jobs, constant: Mapping[str, float]) -> Iterator[_Part]:
    varied = {n: v for n, v in jobs.numbers.items() if n not in constant}
    for start in range(0, len(jobs), _CHUNK):
        rows = slice(start, min(start + _CHUNK, len(jobs)))
        codes = {n: w.codes[rows] for n, w in jobs.texts.items()}
        yield _Part(rows.stop - start, {n: v[rows] for n, v in varied.items()}, codes)


def _compute(whole: _Whole, part: _Part) -> dict[str, np.ndarray]:
    """Compute one portion; a function of its own, so that other processes and machines can run it."""
    words = {n: (codes, whole.names[n]) for n, codes in part.codes.items()}
    resolved = order_inputs(part.size, {**whole.constant, **part.numbers}, words, whole.common)
    x, fit = resolved.inputs, resolved.fit
    results: dict[str, np.ndarray] = {}

    def put(name: str, values: Any) -> None:
        kind = _RESULTS[name]
        if fit.all():
            results[name] = np.broadcast_to(np.asarray(values, dtype=kind), fit.shape)
            return
        results[name] = np.full(part.size, np.nan if kind is float else 0, dtype=kind)
        results[name][fit] = values

    put("faults", 0)
    if not fit.all():
        results["faults"] = resolved.faults
    if not fit.any():
        return results | {n: np.zeros(part.size, dtype=kind) for n, kind in _RESULTS.items() if n != "faults"}
    found = evaluate(x, costing=whole.costing, measures=MEASURES)
    for measure in MEASURES:
        put(f"die {measure}", found.die[measure])
        put(f"laser {measure}", found.laser[measure])
    put("cartons", found.cartons)
    put("ganged", _ganged(x, whole.costing))
    put("die reasons", _reasons(die_limits(x), DIE_REASONS))
    beam = [limit for limit in laser_limits(x) if limit.code != "laser.halogen"]
    halogen = Limit("laser.halogen", ~np.isin(resolved.laminate, HALOGENATED), "", {})
    put("laser reasons", _reasons((halogen, *beam), LASER_REASONS))
    return results


def _ganged(x: Inputs, costing: Costing) -> np.ndarray:
    """Say where one die with all versions is the way that :func:`evaluate` took."""
    shape = x.shape(where="book")
    allowed = {way: np.broadcast_to(np.asarray(can), shape) for way, can in strategies(x).items()}
    ganged = np.array(allowed["ganged"] & ~allowed["separate"])
    both = allowed["ganged"] & allowed["separate"]
    if both.any():
        some = x.with_values({n: np.broadcast_to(v, shape)[both] for n, v in x.arrays().items()})
        cost = {way: measure_of(die.inventory(some, way), some, "cost", costing) for way in allowed}
        ganged[both] = clearly_below(cost["ganged"], cost["separate"])
    return ganged


def _reasons(limits: tuple[Limit, ...], codes: tuple[str, ...]) -> Number:
    bits: Number = np.uint16(0)  # type: ignore[assignment]
    for limit in limits:
        broken = ~np.asarray(limit.kept)
        bits = bits | np.where(broken, np.uint16(1 << codes.index(limit.code)), np.uint16(0))
    return bits
