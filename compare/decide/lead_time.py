"""Lead time: days from the order to the last carton cut."""

from __future__ import annotations

from compare.assumptions import Number
from compare.names import Inputs
from compare.routes.inventory import Inventory


def lead_time_days(inventory: Inventory, x: Inputs) -> Number:
    """Return days for the first order: tools to come (die), set-up and running.

    Parameters
    ----------
    inventory : Inventory
        What the route uses over the programme.
    x : Inputs
        Numbers or arrays.

    Notes
    -----
    Machine hours are those of the mean order. Waiting for the machine is not included. Tools that
    are owned, and laser data, take no days to come.
    """
    orders = inventory.counts["orders"]
    making = inventory.machine_hours / orders / x[f"{inventory.route}.hours_per_day"]
    if inventory.route == "laser":
        return making
    return making + (1 - x["tooling.owned"]) * x["toolmaker.lead_days"]
