"""Money: quantities times prices."""

from __future__ import annotations

from typing import Literal

from compare.assumptions import Number
from compare.names import Inputs
from compare.routes.inventory import RESOURCES, Inventory
from compare.valuation.weighting import flow_values, total_value

Costing = Literal["full", "cash"]
"""``full``: rates with depreciation, interest and space. ``cash``: what a job really costs with the
machines standing there anyway. Both are right, for different questions."""


def price(resource: str, x: Inputs, costing: Costing) -> Number | None:
    """Return the price of one unit of a resource [money per unit]; ``None`` where it has none."""
    entry = RESOURCES[resource]
    name = entry.cash_price if costing == "cash" and entry.cash_price else entry.price
    if not name:
        return None
    return x[name] if entry.price_scale == 1 else x[name] * entry.price_scale


def flow_money(inventory: Inventory, x: Inputs, costing: Costing) -> list[Number]:
    """Return the money of each flow over the programme, in the inventory's order [money]."""
    return flow_values(inventory, lambda resource: price(resource, x, costing))


def total_money(inventory: Inventory, x: Inputs, costing: Costing) -> Number:
    """Return the money of a route over the programme [money]."""
    return total_value(inventory, lambda resource: price(resource, x, costing))
