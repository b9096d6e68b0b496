"""Carbon: quantities times emission factors, biogenic carbon apart."""

from __future__ import annotations

from compare.assumptions import Number
from compare.names import Inputs
from compare.routes.inventory import RESOURCES, Inventory
from compare.valuation.weighting import flow_values, total_value


def factor(resource: str, x: Inputs, *, biogenic: bool = False) -> Number | None:
    """Return the emission factor of one unit of a resource [kg CO2e per unit]; ``None`` where it has none.

    Parameters
    ----------
    resource : str
        Name of the resource.
    x : Inputs
        Numbers or arrays.
    biogenic : bool
        Ask for biogenic CO2, which stands apart, instead of the sum's CO2e.
    """
    entry = RESOURCES[resource]
    if not entry.carbon or entry.biogenic != biogenic:
        return None
    value = x[entry.carbon[0]]
    for name in entry.carbon[1:]:
        value = value * x[name]
    return value


def flow_carbon(inventory: Inventory, x: Inputs, *, biogenic: bool = False) -> list[Number]:
    """Return the carbon of each flow over the programme, in the inventory's order [kg]."""
    return flow_values(inventory, lambda resource: factor(resource, x, biogenic=biogenic))


def total_carbon(inventory: Inventory, x: Inputs, *, biogenic: bool = False) -> Number:
    """Return the carbon of a route over the programme [kg CO2e, or kg biogenic CO2]."""
    return total_value(inventory, lambda resource: factor(resource, x, biogenic=biogenic))
