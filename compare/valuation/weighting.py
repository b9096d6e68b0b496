"""Quantities times a value per unit: what every valuation does."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

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
    total: Number = 0.0
    for resource, quantity in inventory.by_resource.items():
        value = value_of(resource)
        if value is None:
            continue
        part = quantity * value
        if isinstance(total, np.ndarray) and np.shape(part) in ((), total.shape):
            total += part  # in place: the array is our own, and memory is what millions of rows wait for
        else:
            total = part + total
    return total
