"""The engine, run on traced numbers for one comparison: every figure of a quote with its formula.

Nothing of the model is written here. Routes, valuations, limits and checks are the engine's own functions, called with
numbers that remember what is done to them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from math import isclose
from typing import cast

import numpy as np

from compare.assumptions import Number
from compare.decide.comparison import Comparison, LedgerRow, RouteResult
from compare.decide.evaluate import clearly_below, evaluate
from compare.decide.lead_time import lead_time_days
from compare.names import Inputs, check_together
from compare.present.formula_path import PathSheet, traced_path
from compare.present.formula_trace import Trace, Traced, TraceError
from compare.routes import die, laser
from compare.routes.head_times import head_times
from compare.routes.inventory import Flow, Inventory, fill_in
from compare.routes.limits import die_limits, laser_limits
from compare.sheet_ups import LAYOUT_NAMES
from compare.valuation.carbon import factor, flow_carbon
from compare.valuation.money import flow_money, price, total_money
from compare.valuation.waste import mass_balance

_SAME = 1e-9
"""Share by which a traced figure may be off the engine's: rounding, and nothing else."""


@dataclass(frozen=True)
class TracedFlow:
    """One line of the ledger with its formulas.

    Attributes
    ----------
    flow : Flow
        The line, its quantity traced.
    because : str
        Why, with the numbers of the comparison.
    quantity, money, co2e, biogenic : Traced
        Amount and valuations.
    price, factor, biogenic_factor : Traced or None
        What one unit is valued with; None where a resource has none.
    """

    flow: Flow
    because: str
    quantity: Traced
    money: Traced
    co2e: Traced
    biogenic: Traced
    price: Traced | None
    factor: Traced | None
    biogenic_factor: Traced | None


@dataclass(frozen=True)
class TracedRoute:
    """A route that can make the job, with its formulas.

    Attributes
    ----------
    name : str
        "die" or "laser".
    flows : tuple of TracedFlow
        Its ledger.
    cartons, sheets, hours, kwh, lead_days : Traced
        Good cartons, sheets, machine hours, electricity and days of the first order.
    """

    name: str
    flows: tuple[TracedFlow, ...]
    cartons: Traced
    sheets: Traced
    hours: Traced
    kwh: Traced
    lead_days: Traced


@dataclass(frozen=True)
class Check:
    """A condition that the formulas hold for.

    Attributes
    ----------
    condition : Traced
        True at the inputs of the comparison.
    why : str
        What it is about.
    """

    condition: Traced
    why: str


@dataclass(frozen=True)
class TracedQuote:
    """Every figure of a comparison with its formula.

    Attributes
    ----------
    comparison : Comparison
        What was traced.
    trace : Trace
        The graph.
    inputs : mapping of str to Traced
        Inputs, by dotted name.
    routes : tuple of TracedRoute
        The routes that can make the job.
    checks : tuple of Check
        What must hold for the formulas to be the engine's.
    live : frozenset of str
        Dotted names of the inputs that formulas read.
    bound : mapping of str to str
        Of these, the ones that must stay as they are, and why.
    labels : mapping of Traced to str
        What the engine calls its quantities, and what stands for values as they were.
    path : PathSheet or None
        The planned path that the seconds of a sheet come from.
    """

    comparison: Comparison
    trace: Trace
    inputs: Mapping[str, Traced]
    routes: tuple[TracedRoute, ...]
    checks: tuple[Check, ...]
    live: frozenset[str]
    bound: Mapping[str, str]
    labels: Mapping[Traced, str]
    path: PathSheet | None

    def route(self, name: str) -> TracedRoute | None:
        """Return a route by its name; None where it can't make the job."""
        return next((route for route in self.routes if route.name == name), None)


def input_cell(name: str) -> str:
    """Return the name of the cell of an input: ``demand.run_length`` has ``in_demand_run_length``."""
    return f"in_{name.replace('.', '_')}"


def quoted_cell(name: str) -> str:
    """Return the name of the cell with the value that an input had in the comparison."""
    return f"quoted_{name.replace('.', '_')}"


def trace_quote(comparison: Comparison) -> TracedQuote:
    """Run the engine on traced numbers.

    Raises
    ------
    TraceError
        If the engine did something that can't be written as a formula, or a traced figure is not the engine's.
    """
    scenario = comparison.scenario
    trace = Trace()
    numbers = {name: trace.named(input_cell(name), float(value)) for name, value in scenario.inputs.items()}
    path = None if scenario.inputs.loads is None else traced_path(trace, scenario.inputs.loads)
    x = Inputs(cast("Mapping[str, Number]", numbers), path.loads if path else None)
    checks, labels, routes = _Checks(trace), _Labels(trace), []
    check_together(x, where="workbook")
    checks.add_taken("inputs that go together")
    for name in ("die", "laser"):
        result = comparison.route(name)
        if not result.feasible:
            continue
        inventory = _inventory(x, result.inventory)
        routes.append(_route(comparison, trace, x, result, inventory))
        labels.name_all(x, inventory)
        checks.add_taken(f"the way {name} is worked out")
        limits = die_limits(x) if name == "die" else laser_limits(x, scenario.choices["board.laminate"])
        for limit in limits:
            checks.add(trace.of(limit.kept), f"the {name} can make the job ({limit.code})")
        if name == "die":
            cheapest = evaluate(x, costing=comparison.costing, measures=("cost",)).die["cost"]
            checks.add_taken("whether versions may share one die")
            shown = total_money(inventory, x, comparison.costing)
            if cheapest is not shown:  # the engine had a choice
                checks.add(trace.of(np.equal(cheapest, shown)), "no other way of the die is cheaper")
    live = {node.name for node in below(roots(routes, checks.all())) if node.operation == "named"}
    read = frozenset(name for name, node in numbers.items() if node.name in live)
    bound = {name: why for name, why in _bound(comparison).items() if name in read}
    said = dict(labels.labels)
    for name, why in bound.items():
        quoted = trace.named(quoted_cell(name), float(numbers[name].value), varies=False)
        said[quoted] = "as quoted"
        checks.add(trace.of(numbers[name] == quoted), why)
    return TracedQuote(comparison, trace, numbers, tuple(routes), checks.all(), read, bound, said, path)


def roots(routes: Iterable[TracedRoute], checks: Iterable[Check]) -> Iterator[Traced]:
    """Yield what a workbook shows, but for products of a line of the ledger, whose factors are shown."""
    for route in routes:
        for flow in route.flows:
            yield flow.quantity
            yield from (value for value in (flow.price, flow.factor, flow.biogenic_factor) if value is not None)
        yield from (route.cartons, route.sheets, route.hours, route.kwh, route.lead_days)
    for check in checks:
        yield check.condition


def cheaper(quote: TracedQuote, cells: Mapping[str, str]) -> dict[str, Traced]:
    """Return, for two routes that are possible, the condition that each is clearly the cheaper one.

    Parameters
    ----------
    quote : TracedQuote
        The figures.
    cells : mapping of str to str
        Route to the name of the cell with its cost per 1,000.
    """
    cost = {
        route: quote.trace.named(cells[route], quote.comparison.route(route).cost_per_1000)
        for route in ("die", "laser")
    }
    a, b = cast(Number, cost["die"]), cast(Number, cost["laser"])
    return {"die": quote.trace.of(clearly_below(a, b)), "laser": quote.trace.of(clearly_below(b, a))}


def _inventory(x: Inputs, shown: Inventory) -> Inventory:
    if shown.route == "laser":
        return laser.inventory(x)
    return die.inventory(x, cast(die.Strategy, shown.strategy))


def _route(comparison: Comparison, trace: Trace, x: Inputs, result: RouteResult, inventory: Inventory) -> TracedRoute:
    counts = {name: trace.of(count).value for name, count in inventory.counts.items()}

    def maybe(value: Number | None) -> Traced | None:
        return None if value is None else trace.of(value)

    flows = tuple(
        TracedFlow(
            flow=flow,
            because=fill_in(flow.because, counts, comparison.scenario.inputs),
            quantity=trace.of(flow.quantity),
            money=trace.of(money),
            co2e=trace.of(co2e),
            biogenic=trace.of(biogenic),
            price=maybe(price(flow.resource, x, comparison.costing)),
            factor=maybe(factor(flow.resource, x)),
            biogenic_factor=maybe(factor(flow.resource, x, biogenic=True)),
        )
        for flow, money, co2e, biogenic in zip(
            inventory.flows,
            flow_money(inventory, x, comparison.costing),
            flow_carbon(inventory, x),
            flow_carbon(inventory, x, biogenic=True),
            strict=True,
        )
    )
    _hold_to_engine(flows, result.ledger)
    return TracedRoute(
        name=inventory.route,
        flows=flows,
        cartons=trace.of(inventory.cartons),
        sheets=trace.of(inventory.sheets),
        hours=trace.of(inventory.machine_hours),
        kwh=trace.of(inventory.kwh),
        lead_days=trace.of(lead_time_days(inventory, x)),
    )


def _hold_to_engine(flows: Iterable[TracedFlow], ledger: tuple[LedgerRow, ...]) -> None:
    """Raise unless the flows are those of the engine; kinds of line that a carton has not may be lines of zeros."""
    rows = deque(ledger)
    for traced in flows:
        ours = [float(node.value) for node in (traced.quantity, traced.money, traced.co2e, traced.biogenic)]
        about = (traced.flow.stage, traced.flow.resource, traced.because)
        if rows and about == (rows[0].stage, rows[0].resource, rows[0].because):
            row = rows.popleft()
            theirs = [row.quantity, row.money, row.co2e_kg, row.biogenic_co2_kg]
        else:
            theirs = [0.0] * 4
        if not all(isclose(a, b, rel_tol=_SAME, abs_tol=1e-12) for a, b in zip(ours, theirs, strict=True)):
            raise _other_figures(" ".join(about[:2]))
    if rows:
        raise _other_figures(f"{rows[0].stage} {rows[0].resource}")


def _other_figures(where: str) -> TraceError:
    return TraceError(
        f"the formulas of {where} don't come to the figures of the comparison",
        where="workbook",
        remedy="this is a fault of the program; the comparison without a workbook is not concerned",
    )


def _bound(comparison: Comparison) -> dict[str, str]:
    """Return the inputs that a layout or a path was made for, and which it was."""
    scenario = comparison.scenario
    why: dict[str, str] = {}
    if scenario.layouts or any(scenario.grid_layout.values()):
        why |= dict.fromkeys(LAYOUT_NAMES, "the cartons were laid on the sheet for it")
    if scenario.inputs.loads is not None:
        why |= dict.fromkeys(sorted(scenario.inputs.loads.made_for), "the path of the beam was planned for it")
    return why


def below(nodes: Iterable[Traced]) -> Iterator[Traced]:
    """Yield nodes and all that they were worked out from, each once."""
    seen: set[Traced] = set()
    waiting = list(nodes)
    while waiting:
        node = waiting.pop()
        if node not in seen:
            seen.add(node)
            waiting += node.parts
            yield node


class _Checks:
    """Conditions in the order they came up, each once."""

    def __init__(self, trace: Trace) -> None:
        self._trace = trace
        self._why: dict[Traced, str] = {}

    def add(self, condition: Traced, why: str) -> None:
        if condition.varies:
            self._why.setdefault(condition, why)

    def add_taken(self, why: str) -> None:
        for condition in self._trace.taken():
            self.add(condition, why)

    def all(self) -> tuple[Check, ...]:
        return tuple(Check(condition, why) for condition, why in self._why.items())


class _Labels:
    """What the engine calls its quantities, by the names of counts and of fields of plans."""

    def __init__(self, trace: Trace) -> None:
        self._trace = trace
        self._names: dict[Traced, tuple[str, str]] = {}

    def name_all(self, x: Inputs, inventory: Inventory) -> None:
        """Give the quantities of a route their names."""
        route = inventory.route
        plan = laser.plan(x) if route == "laser" else die.plan(x, cast(die.Strategy, inventory.strategy))
        if route == "laser":
            speeds = laser.line_speeds(x)
            for kind, speed in speeds.items():
                self._name(route, f"speed of {kind.replace('_', ' ')} m/s", speed)
            if x.loads is not None:
                for place, seconds in enumerate(head_times(x, x.loads, speeds)[1], start=1):
                    self._name(route, f"seconds of head {place}", seconds)
        for name, count in inventory.counts.items():
            self._name(route, name, count)
        for field in fields(plan):
            value = getattr(plan, field.name)
            if not isinstance(value, str):
                self._name(route, field.name.replace("_", " "), value)
        for name, kg in mass_balance(inventory)._asdict().items():
            self._name(route, f"{name.replace('_', ' ')} kg", kg)
        self._name(route, "electricity kWh", inventory.kwh)

    def _name(self, route: str, what: str, number: Number) -> None:
        node = self._trace.of(number)
        if not node.parts:
            return
        known, name = self._names.get(node, (route, what))
        self._names[node] = (known if known == route else "job", name)

    @property
    def labels(self) -> dict[Traced, str]:
        return {node: f"{route}: {what}" for node, (route, what) in self._names.items()}
