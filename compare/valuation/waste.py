"""Waste: where the board goes."""

from __future__ import annotations

from typing import NamedTuple

from compare.assumptions import Number
from compare.routes.inventory import Inventory


class MassBalance(NamedTuple):
    """Board over the programme [kg]: ``board_in = good + overs + spoilage + trim``.

    ``kerf`` is reported beside it: it leaves as smoke, by convention half from the carton and half
    from the trim.
    """

    board_in: Number
    good: Number
    overs: Number
    spoilage: Number
    trim: Number
    kerf: Number

    @property
    def waste(self) -> Number:
        """Board that leaves as waste [kg]."""
        return self.spoilage + self.trim + self.overs


def mass_balance(inventory: Inventory) -> MassBalance:
    """Return where the board of a route goes over the programme."""
    spoilage, trim, overs = (f.quantity for f in inventory.flows if f.resource == "waste board")
    return MassBalance(
        board_in=inventory.quantity("board"),
        good=inventory.cartons * inventory.counts["blank kg"],
        overs=overs,
        spoilage=spoilage,
        trim=trim,
        kerf=inventory.quantity("kerf"),
    )


def total_waste(inventory: Inventory) -> Number:
    """Return the waste board of a route over the programme [kg]."""
    return inventory.by_resource["waste board"]


def loss_share(board_in: Number, board_out: Number) -> Number:
    """Return the share of board bought that does not leave as cartons [-].

    European carton making as a whole takes 1.1689 t of board per tonne of cartons, a loss of 14.5 %
    (Pro Carton, European Database for Cartonboard and Carton Production 2023, p. 22).
    """
    return 1 - board_out / board_in
