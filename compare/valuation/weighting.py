"""Quantities times a value per unit: what every valuation does."""

from __future__ import annotations

from collections.abc import Callable

from compare.assumptions import Number
from compare.routes.inventory import Inventory

ValueOf = Callable[[str], Number | None]
"""Value of one unit of a resource, or ``None`` where it has none."""


def flow_values(inventory: Inventory, value_of: ValueOf) -> list[Number]:
    """Return the value of each flow, in the inventory's order; 0 where a resource has none."""
    values = {resource: value_of(resource) for resource in {f.resource for f in inventory.flows}}
    return [0.0 if (value := values[flow.resource]) is None else flow.quantity * value for flow in inventory.flows]


def total_value(inventory: Inventory, value_of: ValueOf) -> Number:
    """Return the value of all flows: quantities of one resource are summed before they are valued."""
    quantities: dict[str, Number] = {}
    for flow in inventory.flows:
        resource = flow.resource
        quantities[resource] = quantities[resource] + flow.quantity if resource in quantities else flow.quantity
    total: Number = 0.0
    for resource, quantity in quantities.items():
        if (value := value_of(resource)) is not None:
            total = total + quantity * value
    return total
