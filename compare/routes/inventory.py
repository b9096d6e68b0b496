"""Flows and inventories: what a route uses, in physical quantities and stages.

Money, carbon and waste are valuations of the same inventory. A new resource is added to
:data:`RESOURCES`, and from then on every valuation knows it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from string import Formatter
from typing import Any, Literal, NamedTuple

import numpy as np

from compare.assumptions import Number

Stage = Literal["tooling", "make-ready", "running", "handling", "material", "waste"]

STAGES: tuple[Stage, ...] = ("tooling", "make-ready", "running", "handling", "material", "waste")
"""Stages of a route, in the order a job meets them. ``material`` is board and print of good sheets."""


@dataclass(frozen=True)
class Resource:
    """Something a route uses or leaves behind.

    Attributes
    ----------
    unit : str
        Unit of its quantity.
    price : str
        Dotted name of the price of one unit; a thousand-fold unit (t) is turned by ``price_scale``.
    no_price : str
        Why it has no price, if it has none.
    carbon : tuple of str
        Dotted names whose product is the kg CO2e of one unit.
    no_carbon : str
        Why it has no factor, if it has none.
    biogenic : bool
        Whether its carbon is biogenic and stands apart from the sum.
    price_scale : float
        Units of the price per unit of the quantity.
    cash_price : str
        Price in cash costing, where it differs.
    """

    unit: str
    price: str = ""
    no_price: str = ""
    carbon: tuple[str, ...] = ()
    no_carbon: str = ""
    biogenic: bool = False
    price_scale: float = 1.0
    cash_price: str = ""


_MACHINE = "a machine's hours carry no factor: its electricity and materials are counted by themselves"
_LABOUR = "people's work carries no factor"
_SERVICE = "the toolmaker's work is outside the boundary: its materials are counted by themselves"
_KG_PER_T = 1e-3

_RULE = ("toolmaker.rule_kg_m", "factors.steel_kg")

RESOURCES: Mapping[str, Resource] = {
    "press time": Resource("h", "rates.press_h", no_carbon=_MACHINE, cash_price="rates.press_cash_h"),
    "laser time": Resource("h", "rates.laser_h", no_carbon=_MACHINE, cash_price="rates.laser_cash_h"),
    "laser consumables": Resource(
        "h", "rates.laser_consumables_h", no_carbon="lenses and filters: no factor found, mass not known"
    ),
    "labour": Resource("h", "rates.labour_h", no_carbon=_LABOUR),
    "electricity": Resource("kWh", "rates.kwh", carbon=("factors.kwh",)),
    "tool set": Resource("set", "toolmaker.set_fee", no_carbon=_SERVICE),
    "die board": Resource("m2", "toolmaker.die_board_m2", carbon=("toolmaker.die_board_kg_m2", "factors.die_board_kg")),
    "cutting rule": Resource("m", "toolmaker.cutting_rule_m", carbon=_RULE),
    "creasing rule": Resource("m", "toolmaker.creasing_rule_m", carbon=_RULE),
    "cut-crease rule": Resource("m", "toolmaker.cut_crease_rule_m", carbon=_RULE),
    "perforating rule": Resource("m", "toolmaker.perforating_rule_m", carbon=_RULE),
    "scoring rule": Resource("m", "toolmaker.scoring_rule_m", carbon=_RULE),
    "rule bends": Resource("bend", "toolmaker.rule_bend", no_carbon=_SERVICE),
    "nicks": Resource("nick", "toolmaker.nick", no_carbon=_SERVICE),
    "ejection rubber": Resource("m", "toolmaker.ejection_rubber_m", carbon=("die.rubber_kg_m", "factors.rubber_kg")),
    "creasing counter": Resource(
        "m2", "toolmaker.creasing_counter_m2", carbon=("die.counter_kg_m2", "factors.plastic_kg")
    ),
    "stripping tools": Resource("piece", "toolmaker.stripping_piece", no_carbon="their mass is not known"),
    "blanking tools": Resource("up", "toolmaker.blanking_up", no_carbon="their mass is not known"),
    "tool storage": Resource("set.y", "toolmaker.storage_set_year", no_carbon="the tool store is outside the boundary"),
    "tool freight": Resource("t.km", "rates.freight_tkm", carbon=("factors.freight_tkm",)),
    "crease set": Resource("set", "rates.crease_set", carbon=("laser.crease_set_kg", "factors.plastic_kg")),
    "board": Resource("kg", "board.price_per_t", carbon=("factors.board_kg",), price_scale=_KG_PER_T),
    "print": Resource("sheet", "sheet.print_cost", no_carbon="printing is outside the boundary"),
    "waste board": Resource("kg", "rates.waste_board_t", carbon=("factors.waste_board_kg",), price_scale=_KG_PER_T),
    "kerf": Resource(
        "kg",
        no_price="the board was paid for when it was bought",
        carbon=("factors.kerf_biogenic_kg",),
        biogenic=True,
    ),
}
"""Every resource a flow may name."""


@dataclass(frozen=True, slots=True)
class Flow:
    """One line of an inventory, over the programme.

    Attributes
    ----------
    stage : str
        Where it falls in the job.
    resource : str
        One of :data:`RESOURCES`.
    quantity : float or ndarray
        Amount, in the resource's unit.
    because : str
        The formula in words. ``{names}`` stand for counts of the route or dotted inputs.
    """

    stage: Stage
    resource: str
    quantity: Number
    because: str

    @property
    def unit(self) -> str:
        """Unit of the quantity."""
        return RESOURCES[self.resource].unit


@dataclass(frozen=True)
class Inventory:
    """What a route uses for the programme.

    Attributes
    ----------
    route : {"die", "laser"}
        Which route.
    strategy : str
        How the route was worked: ``separate`` or ``ganged`` dies, or ``laser``.
    flows : tuple of Flow
        Its lines.
    counts : mapping
        Quantities the flows were worked out from, by name.
    machine_hours, sheets, kwh : float or ndarray
        Hours of the machine [h], sheets through it [-] and electricity [kWh].
    cartons : float or ndarray
        Good cartons [-].
    """

    route: Literal["die", "laser"]
    strategy: str
    flows: tuple[Flow, ...]
    counts: Mapping[str, Number] = field(repr=False)
    machine_hours: Number
    sheets: Number
    kwh: Number
    cartons: Number

    @cached_property
    def by_resource(self) -> Mapping[str, Number]:
        """Quantities by resource, over all stages: what every valuation starts from."""
        quantities: dict[str, Number] = {}
        for flow in self.flows:
            name = flow.resource
            quantities[name] = quantities[name] + flow.quantity if name in quantities else flow.quantity
        return quantities

    def quantity(self, resource: str, stages: Iterable[Stage] = STAGES) -> Number:
        """Sum the quantities of one resource over some stages."""
        wanted = tuple(stages)
        return sum((f.quantity for f in self.flows if f.resource == resource and f.stage in wanted), start=0.0)


class Amounts(NamedTuple):
    """What depends on the run length; every total of a route is linear in these.

    Attributes
    ----------
    run_length : Number
        Good cartons per order.
    good_sheets : Number
        Good sheets per order.
    sheets : Number
        All sheets of the programme.
    renewals : Number
        Re-rulings (die) or crease sets (laser) of the programme.
    """

    run_length: Number
    good_sheets: Number
    sheets: Number
    renewals: Number


def board_flows(
    *, sheets: Number, good_sheets: Number, ups_used: Number, cartons: Number, sheet_kg: Number, blank_kg: Number
) -> tuple[tuple[Flow, ...], dict[str, Number]]:
    """Return flows of board, print and waste board, the same way for every route, and their counts.

    Notes
    -----
    Board in = good cartons + overs + spoilage + trim. The board of good sheets is booked under
    ``material``, that of spoiled sheets under ``waste``; what leaves as waste board is spoilage,
    trim and overs.
    """
    spoiled = sheets - good_sheets
    on_sheets = good_sheets * ups_used
    good_kg, spoiled_kg = good_sheets * sheet_kg, spoiled * sheet_kg
    on_sheets_kg, cartons_kg = on_sheets * blank_kg, cartons * blank_kg
    counts = {
        "sheets": sheets,
        "good sheets": good_sheets,
        "spoiled sheets": spoiled,
        "ups used": ups_used,
        "cartons": cartons,
        "cartons on sheets": on_sheets,
        "sheet kg": sheet_kg,
        "blank kg": blank_kg,
    }
    flows = (
        Flow("material", "board", good_kg, "{good sheets} good sheets x {sheet kg} kg"),
        Flow("material", "print", good_sheets, "{good sheets} good sheets"),
        Flow("waste", "board", spoiled_kg, "{spoiled sheets} spoiled sheets x {sheet kg} kg"),
        Flow("waste", "print", spoiled, "{spoiled sheets} spoiled sheets"),
        Flow("waste", "waste board", spoiled_kg, "spoilage: {spoiled sheets} spoiled sheets x {sheet kg} kg"),
        Flow(
            "waste",
            "waste board",
            good_kg - on_sheets_kg,
            "trim: {good sheets} good sheets x ({sheet kg} kg - {ups used} cartons x {blank kg} kg)",
        ),
        Flow(
            "waste",
            "waste board",
            on_sheets_kg - cartons_kg,
            "overs: ({cartons on sheets} cartons on good sheets - {cartons} ordered) x {blank kg} kg",
        ),
    )
    return flows, counts


def absent(quantity: Number) -> bool:
    """Say whether something is not there in any scenario, so that it needs no flow."""
    return isinstance(quantity, float) and quantity == 0


def whole_up(value: Number) -> Number:
    """Round up to whole renewals; a billionth above a whole number is rounding noise, not another one."""
    return np.ceil(np.subtract(value, 1e-9))


class _Numbers(Formatter):
    """Fills ``{names}`` of a formula in words from counts and inputs."""

    def __init__(self, counts: Mapping[str, Number], inputs: Mapping[str, Number]) -> None:
        self._counts, self._inputs = counts, inputs

    def get_field(self, field_name: str, args: Any, kwargs: Any) -> tuple[Any, str]:
        value = self._counts[field_name] if field_name in self._counts else self._inputs[field_name]
        return value, field_name

    def format_field(self, value: Any, format_spec: str) -> str:
        number = float(np.asarray(value))
        if number == int(number) and abs(number) < 1e15:
            return f"{int(number):,}"
        return f"{number:,.4g}" if abs(number) < 1000 else f"{number:,.1f}"


def fill_in(text: str, facts: Mapping[str, Number], inputs: Mapping[str, Number]) -> str:
    """Fill the ``{names}`` of a sentence with numbers (single scenarios only).

    Parameters
    ----------
    text : str
        Sentence with names of facts or dotted inputs in braces.
    facts, inputs : mapping
        Where the numbers are looked up, facts first.
    """
    return _Numbers(facts, inputs).format(text)
