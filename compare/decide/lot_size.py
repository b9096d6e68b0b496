"""Economic lot: how many cartons it pays to make at a time."""

from __future__ import annotations

import numpy as np

from compare.assumptions import Number
from compare.names import Inputs
from compare.routes.inventory import Inventory, Stage
from compare.valuation.money import Costing, flow_money


def economic_lot(setup_cost: Number, demand_per_year: Number, holding_per_unit_year: Number) -> Number:
    """Return the lot with the lowest yearly cost of set-ups and stock [units].

    Parameters
    ----------
    setup_cost : float or ndarray
        Cost of starting one lot [money].
    demand_per_year : float or ndarray
        Demand [units/y].
    holding_per_unit_year : float or ndarray
        Cost of keeping one unit for a year [money/(unit.y)].

    References
    ----------
    F. W. Harris, "How many parts to make at once", 1913: ``sqrt(2 K D / h)``.
    """
    return np.sqrt(2 * setup_cost * demand_per_year / holding_per_unit_year)


def lot_cost(setup_cost: Number, demand_per_year: Number, holding_per_unit_year: Number) -> Number:
    """Return the yearly cost of set-ups and stock at the economic lot [money/y]: ``sqrt(2 K D h)``."""
    return np.sqrt(2 * setup_cost * demand_per_year * holding_per_unit_year)


def setup_cost_per_order(inventory: Inventory, x: Inputs, costing: Costing) -> float:
    """Return what starting one order costs [money]: make-ready, and the sheets spoiled in it."""
    money = flow_money(inventory, x, costing)
    ready: Stage = "make-ready"
    make_ready = sum(float(m) for f, m in zip(inventory.flows, money, strict=True) if f.stage == ready)
    good = inventory.counts["good sheets"]
    running_loss = good / (1 - x[f"{inventory.route}.running_waste"]) - good
    spoiled = inventory.counts["spoiled sheets"]
    spoiled_money = sum(
        float(m)
        for f, m in zip(inventory.flows, money, strict=True)
        if f.stage == "waste" and f.resource in ("board", "print")
    )
    share = float((spoiled - running_loss) / spoiled) if spoiled > 0 else 0.0
    return (make_ready + spoiled_money * share) / float(inventory.counts["orders"])


def economic_lot_of(inventory: Inventory, x: Inputs, costing: Costing) -> float | None:
    """Return the economic lot of a route [cartons], or ``None`` where keeping stock costs nothing.

    Notes
    -----
    A carton in stock costs its capital and space (``demand.holding_share``) and is scrapped by a
    structural change; with changes at random moments both add up to a yearly share of its value.
    Its value is what one more carton costs: tools and set-ups are paid in any case.
    """
    tooling: Stage = "tooling"
    money = zip(inventory.flows, flow_money(inventory, x, costing), strict=True)
    orders, setup = float(inventory.counts["orders"]), setup_cost_per_order(inventory, x, costing)
    making = sum(float(m) for f, m in money if f.stage != tooling) - setup * orders
    holding = (x["demand.holding_share"] + x["demand.changes_per_year"]) * making / float(inventory.cartons)
    if holding <= 0:
        return None
    demand = x["demand.run_length"] * x["demand.orders_per_year"]
    return float(economic_lot(setup, demand, holding))
