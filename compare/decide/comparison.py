"""The comparison of one job on both routes, with everything that is shown of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from compare.assumptions import Number
from compare.decide.break_even import BreakEven, RouteTotals, break_evens, cost_curves, route_totals
from compare.decide.evaluate import Measure, clearly_below, measure_of
from compare.decide.lead_time import lead_time_days
from compare.decide.lot_size import economic_lot_of
from compare.errors import Finding
from compare.geometry.creasing import crease_channel, crease_rule_height
from compare.names import Inputs
from compare.routes import die, laser
from compare.routes.inventory import RESOURCES, STAGES, Inventory, fill_in
from compare.routes.limits import HALOGENATED, die_limits, findings, laser_limits, strategies
from compare.scenario import Scenario
from compare.valuation.carbon import flow_carbon
from compare.valuation.money import Costing, flow_money
from compare.valuation.waste import MassBalance, mass_balance


@dataclass(frozen=True)
class LedgerRow:
    """One flow with its valuations, over the programme.

    Attributes
    ----------
    route, stage, resource : str
        Where it belongs.
    quantity, unit : float, str
        Amount.
    money : float
        Money [currency of the plant].
    co2e_kg, biogenic_co2_kg : float
        Carbon in the sum, and biogenic carbon apart [kg].
    because : str
        The formula in words, with its numbers.
    no_price, no_carbon : str
        Why a valuation is missing, if it is.
    """

    route: str
    stage: str
    resource: str
    quantity: float
    unit: str
    money: float
    co2e_kg: float
    biogenic_co2_kg: float
    because: str
    no_price: str
    no_carbon: str


@dataclass(frozen=True)
class RouteResult:
    """One route of a comparison.

    Attributes
    ----------
    inventory : Inventory
        What it uses.
    inputs : Inputs
        What it was computed from.
    money, co2e, biogenic : tuple of float
        Valuations of each flow over the programme [money, kg, kg].
    feasible : bool
        Whether it can make the job.
    findings : tuple of Finding
        What it can't do, and cautions.
    lead_time_days : float
        Days to the last carton of the first order.
    economic_lot : float or None
        Cartons it pays to make at a time.
    balance : MassBalance
        Where the board goes.
    """

    inventory: Inventory
    inputs: Inputs
    money: tuple[float, ...]
    co2e: tuple[float, ...]
    biogenic: tuple[float, ...]
    feasible: bool
    findings: tuple[Finding, ...]
    lead_time_days: float
    economic_lot: float | None
    balance: MassBalance

    @cached_property
    def ledger(self) -> tuple[LedgerRow, ...]:
        """Flows with their valuations and their reasons."""
        return tuple(
            LedgerRow(
                route=self.inventory.route,
                stage=flow.stage,
                resource=flow.resource,
                quantity=float(flow.quantity),
                unit=flow.unit,
                money=money,
                co2e_kg=carbon,
                biogenic_co2_kg=biogenic,
                because=fill_in(flow.because, self.inventory.counts, self.inputs),
                no_price=RESOURCES[flow.resource].no_price,
                no_carbon=RESOURCES[flow.resource].no_carbon,
            )
            for flow, money, carbon, biogenic in zip(
                self.inventory.flows, self.money, self.co2e, self.biogenic, strict=True
            )
        )

    @property
    def thousands(self) -> float:
        """Thousands of good cartons over the programme."""
        return float(self.inventory.cartons) / 1000

    @property
    def cost_per_1000(self) -> float:
        """Money per 1,000 good cartons."""
        return sum(self.money) / self.thousands

    @property
    def co2e_per_1000(self) -> float:
        """Kg CO2e per 1,000 good cartons."""
        return sum(self.co2e) / self.thousands

    @property
    def biogenic_per_1000(self) -> float:
        """Kg biogenic CO2 per 1,000 good cartons."""
        return sum(self.biogenic) / self.thousands

    @property
    def waste_per_1000(self) -> float:
        """Kg waste board per 1,000 good cartons."""
        return float(self.balance.waste) / self.thousands

    def stage_cost_per_1000(self) -> dict[str, float]:
        """Return money per 1,000 good cartons by stage."""
        lines = list(zip(self.inventory.flows, self.money, strict=True))
        return {stage: sum(m for f, m in lines if f.stage == stage) / self.thousands for stage in STAGES}


@dataclass(frozen=True)
class Comparison:
    """A job on both routes.

    Attributes
    ----------
    scenario : Scenario
        What was compared.
    costing : {"full", "cash"}
        Which machine rates count.
    die, laser : RouteResult
        The routes; for the die, its cheaper possible strategy.
    """

    scenario: Scenario
    costing: Costing
    die: RouteResult
    laser: RouteResult

    @property
    def run_length(self) -> float:
        """Good cartons per order."""
        return self.scenario.inputs.number("demand.run_length")

    @property
    def orders(self) -> float:
        """Orders over the programme."""
        return self.scenario.inputs.number("demand.orders_per_year") * self.scenario.inputs.number("demand.years")

    def route(self, name: str) -> RouteResult:
        """Return a route by its name."""
        return self.die if name == "die" else self.laser

    @cached_property
    def break_even(self) -> dict[Measure, BreakEven]:
        """Exact ranges of run lengths by measure."""
        can = {"die": self.die.feasible, "laser": self.laser.feasible}
        return break_evens(self.scenario.inputs, costing=self.costing, possible=can, totals=self._totals)

    @cached_property
    def _totals(self) -> RouteTotals:
        return route_totals(self.scenario.inputs, self.costing)

    def cost_per_1000_at(self, run_length: NDArray[np.float64]) -> dict[str, NDArray[np.float64]]:
        """Return money per 1,000 good cartons at other run lengths, for the routes that are possible.

        Parameters
        ----------
        run_length : ndarray
            Good cartons per order.
        """
        thousands = self.orders * run_length / 1000
        curves = cost_curves(self._totals, run_length)
        return {name: curves[name] / thousands for name in ("die", "laser") if self.route(name).feasible}

    @property
    def cheaper(self) -> Literal["die", "laser", "even", "neither"]:
        """The cheaper possible route at the quoted run length."""
        if self.die.feasible and self.laser.feasible:
            a, b = self.die.cost_per_1000, self.laser.cost_per_1000
            if clearly_below(a, b):
                return "die"
            return "laser" if clearly_below(b, a) else "even"
        if self.die.feasible:
            return "die"
        return "laser" if self.laser.feasible else "neither"

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every remark, on the input and on both routes."""
        return (*self.scenario.findings, *self.die.findings, *self.laser.findings)

    @property
    def ledger(self) -> tuple[LedgerRow, ...]:
        """Flows of the routes that are possible."""
        return tuple(row for r in (self.die, self.laser) if r.feasible for row in r.ledger)

    def crease_tooling(self) -> dict[str, float]:
        """Return what the diemaker needs to know of the creases [mm]."""
        x = self.scenario.inputs
        channel = crease_channel(x["board.caliper_mm"], x["toolmaker.rule_thickness_mm"])
        height = crease_rule_height(
            x["toolmaker.cutting_rule_height_mm"], x["board.caliper_mm"], x["toolmaker.counter_tape_mm"]
        )
        return {
            "crease_rule_height_mm": float(height),
            "channel_along_grain_mm": float(channel.along_grain_mm),
            "channel_across_grain_mm": float(channel.across_grain_mm),
        }


def compare(scenario: Scenario, costing: Costing = "full") -> Comparison:
    """Compare a job on both routes.

    Parameters
    ----------
    scenario : Scenario
        Job and plant, prepared.
    costing : {"full", "cash"}
        Which machine rates count.

    Returns
    -------
    Comparison
    """
    x = scenario.inputs
    ways = [die.inventory(x, s) for s, allowed in strategies(x).items() if allowed]
    # with more sets than can be made there is still an inventory to show why
    ways = ways or [die.inventory(x, "separate")]
    best = ways[0]
    for way in ways[1:]:
        if clearly_below(measure_of(way, x, "cost", costing), measure_of(best, x, "cost", costing)):
            best = way
    laminate = scenario.choices["board.laminate"]
    on_die, on_laser = findings(die_limits(x), x, "die"), findings(laser_limits(x, laminate), x, "laser")
    return Comparison(
        scenario=scenario,
        costing=costing,
        die=_result(best, scenario, costing, _with_places(on_die, scenario, "die")),
        laser=_result(laser.inventory(x), scenario, costing, _with_places(on_laser, scenario, "laser")),
    )


def _with_places(found: tuple[Finding, ...], scenario: Scenario, route: str) -> tuple[Finding, ...]:
    """Add what the drawing shows; where limits and drawing say the same, the one with its places stays."""
    if scenario.drawn is None:
        return found
    # the geometry of drawings takes a while to load, and few jobs have one
    from compare.geometry.feasibility import NEEDED as FEASIBILITY_NEEDS
    from compare.geometry.feasibility import feasibility

    numbers = {name: scenario.inputs.number(name) for name in FEASIBILITY_NEEDS}
    shown = tuple(f for f in feasibility(scenario.drawn.measured, numbers) if f.where == route)
    codes = {f.code for f in shown}
    return (*(f for f in found if f.code not in codes), *shown)


def _result(inventory: Inventory, scenario: Scenario, costing: Costing, found: tuple[Finding, ...]) -> RouteResult:
    x = scenario.inputs
    return RouteResult(
        inventory=inventory,
        inputs=x,
        money=_numbers(flow_money(inventory, x, costing)),
        co2e=_numbers(flow_carbon(inventory, x)),
        biogenic=_numbers(flow_carbon(inventory, x, biogenic=True)),
        feasible=not any(f.kind == "not possible" for f in found),
        findings=found + _cautions(inventory, scenario),
        lead_time_days=float(lead_time_days(inventory, x)),
        economic_lot=economic_lot_of(inventory, x, costing),
        balance=mass_balance(inventory),
    )


def _numbers(values: list[Number]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _cautions(inventory: Inventory, scenario: Scenario) -> tuple[Finding, ...]:
    x, laminate = scenario.inputs, scenario.choices["board.laminate"]
    found = []
    if inventory.route == "laser" and laminate in HALOGENATED:
        found.append(
            Finding(
                "laser.halogen.caution",
                "Do not try it: hydrogen chloride is poisonous and corrodes the machine. Ask for a halogen-free laminate.",
                "board.laminate",
                "caution",
            )
        )
    if inventory.route == "laser" and inventory.counts["cycle s"] > 3600 / x["laser.feeder_sheets_h"] * (1 + 1e-9):
        speed = 3600 / inventory.counts["cycle s"]
        found.append(
            Finding(
                "laser.cutting_limited",
                f"Cutting, not the feeder, sets the pace of the laser line: {speed:,.0f} sheets per hour.",
                "laser",
            )
        )
    if inventory.route == "die" and x["work.partial_cutting_m"] > 0:
        found.append(
            Finding(
                "die.fixed_depth",
                "On the die a partial cut has the depth its rule was ground to; on the laser it is data.",
                "die",
            )
        )
    if inventory.strategy == "ganged":
        found.append(Finding("die.ganged", "The cheaper way with rule is one die that holds all versions.", "die"))
    return tuple(found)
