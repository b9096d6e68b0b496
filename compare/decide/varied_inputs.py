"""Which inputs of a job are uncertain, which are taken as known, and the job at draws of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from compare.assumptions import Number, assumption_table
from compare.decide.draws import shares
from compare.decide.evaluate import MEASURES, measure_of
from compare.errors import InputError
from compare.factors import factor_spread
from compare.geometry.sheet_loads import SheetLoads
from compare.names import Inputs, check_together
from compare.routes import die, laser
from compare.routes.limits import strategies
from compare.scenario import Scenario, capital_behind, rates_of_capital
from compare.spread import Given, Spread, own_range, spread_of
from compare.valuation.money import Costing

Floats = NDArray[np.float64]

Why = Literal["given", "count", "drawn from", "path", "no bearing"]
"""Why an input with a range is taken as known: given without a range; a count of machine parts; other inputs were
worked out from it; the path was planned for it; no figure of the job depends on it."""

_GEOMETRY = (
    "carton.",
    "cutouts.",
    "layout.",
    "sheet.gripper_mm",
    "sheet.side_margin_mm",
    "sheet.tail_margin_mm",
    "work.nicks_per_m",
)


@dataclass(frozen=True)
class VariedInputs:
    """What of a job is varied.

    Attributes
    ----------
    scenario : Scenario
        The job.
    spreads : mapping
        Dotted name to spread, for every input that is varied and has a bearing on a figure.
    known : mapping
        Dotted name to the reason, for every input with a usual range that is taken as known.
    """

    scenario: Scenario
    spreads: Mapping[str, Spread]
    known: Mapping[str, Why]

    def draw(self, draws: int, seed: int) -> dict[str, Floats]:
        """Return the values of each input, by dotted name."""
        rows = self.shares(draws, seed)
        return {name: spread.ppf(row) for (name, spread), row in zip(self.spreads.items(), rows, strict=True)}

    def shares(self, draws: int, seed: int) -> Floats:
        """Return where each value lies among the cases of its input, one row per input."""
        table = assumption_table()
        return shares([table[name].stream or 0 for name in self.spreads], draws, seed)

    def at(self, drawn: Mapping[str, Number]) -> Inputs:
        """Return the job's inputs with some of them exchanged; machine-hour rates follow from what they are worked out of.

        Raises
        ------
        InputError
            If drawn values contradict one another, such as fewer cartons than versions.
        """
        changed = self.scenario.inputs.with_values({**drawn, **rates_of_capital(self.scenario, drawn)})
        try:
            check_together(changed, where="ranges")
        except InputError as error:
            raise InputError(f"{error.what} somewhere in the ranges", where=error.where, remedy=error.remedy) from None
        return changed


def varied_inputs(scenario: Scenario, costing: Costing = "full") -> VariedInputs:
    """Choose what is varied.

    Parameters
    ----------
    scenario : Scenario
        Job and plant, prepared.
    costing : {"full", "cash"}
        Which machine rates count.

    Returns
    -------
    VariedInputs
        A range that was given counts. A value of the table of assumptions has the table's range, a price of the
        table of boards the same range in proportion, a factor of a factor set the spread of its pedigree. A value that was
        given without a range is taken as known, and so are limits of machines, which decide what is possible and not what
        it costs.
    """
    used = _bearing(scenario, costing)
    spreads: dict[str, Spread] = {}
    known: dict[str, Why] = {}
    for name, spread in scenario.ranges.items():
        if spread.low == spread.high:
            continue
        if (reason := _fixed_by(name, scenario)) is not None:
            raise InputError(
                f"{name} can't have a range here, for {_BECAUSE[reason]}",
                where="ranges",
                remedy="leave the range out, and compare two jobs instead",
            )
        if name not in used:
            known[name] = "no bearing"
    for name, row in assumption_table().items():
        if row.is_text or name not in used:
            continue
        found = scenario.ranges.get(name)
        if found is None:
            found = _usual(name, scenario)
            if own_range(row) is not None and found is None and not capital_behind(scenario, name):
                known[name] = "given"
            reason = _fixed_by(name, scenario) or ("count" if row.limits.whole else None)
            if found is not None and reason is not None:
                known[name], found = reason, None
        elif found.low == found.high:
            known[name] = "given"
        if found is not None and found.low < found.high:
            spreads[name] = found
    return VariedInputs(scenario, spreads, known)


_BECAUSE: Mapping[Why, str] = {
    "path": "the path of the beam was planned for its value",
    "drawn from": "other inputs are worked out from it",
}


def _fixed_by(name: str, scenario: Scenario) -> Why | None:
    """Say why an input can't be varied, if it can't."""
    loads = scenario.inputs.loads
    if loads is not None and name in loads.made_for:
        return "path"
    return "drawn from" if name.startswith(_GEOMETRY) else None


def _usual(name: str, scenario: Scenario) -> Spread | None:
    """Return the spread of a value that no one gave."""
    row, origin, value = assumption_table()[name], scenario.origins.get(name), scenario.inputs.number(name)
    role = name.removeprefix("factors.")
    if role != name:
        use = scenario.factors.get(role)
        gsd2 = factor_spread(scenario.choices["factors.set"], role) if use is not None and use.keys else None
        return None if gsd2 is None else spread_of(row, value, Given("lognormal", gsd2=gsd2), where="factor set")
    range_ = own_range(row)
    if range_ is None:
        return None
    if origin == "assumption":
        return spread_of(row, value, range_, where="table of assumptions")
    if (
        name == "board.price_per_t"
        and origin is not None
        and origin.startswith("board ")
        and isinstance(row.value, float)
    ):
        low, high = ((end or 0.0) * value / row.value for end in (range_.low, range_.high))
        return spread_of(row, value, Given(range_.shape, low, high), where="table of boards")
    return None


class _Reading(Inputs):
    """Inputs that note which of them are read."""

    __slots__ = ("read",)

    def __init__(self, inputs: Inputs, loads: SheetLoads | None) -> None:
        super().__init__(dict(inputs), loads)
        self.read: set[str] = set()

    def __getitem__(self, name: str) -> Number:
        self.read.add(name)
        return super().__getitem__(name)

    def number(self, name: str) -> float:
        self.read.add(name)
        return super().number(name)


def _bearing(scenario: Scenario, costing: Costing) -> set[str]:
    """Return the inputs that a total of either route is worked out from, and those behind its machine-hour rates."""
    reading = _Reading(scenario.inputs, scenario.inputs.loads)
    # of what limits read nothing is varied: they decide what is possible, not what it costs
    ways = [strategy for strategy, allowed in strategies(scenario.inputs).items() if allowed]
    for inventory in (*(die.inventory(reading, strategy) for strategy in ways), laser.inventory(reading)):
        for measure in MEASURES:
            measure_of(inventory, reading, measure, costing)
    behind = [name for rate in sorted(reading.read) for name in capital_behind(scenario, rate)]
    return reading.read.union(behind)
