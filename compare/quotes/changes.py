"""What a quote that is computed again is compared by: changes of what goes in, and of what comes out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from compare.decide.comparison import Comparison
from compare.quotes.quote_record import ROUTES, Results, RouteName, Value, plain
from compare.quotes.sealing import leaves

ChangeKind = Literal["assumption", "tables", "factor", "plant value", "range", "layer", "program", "drawing"]

NOISE = 1e-9
"""Share of a figure below which a difference is rounding, such as of another machine, and no change."""

_NOTHING = 1e-12
"""What rounding may leave of nothing."""


@dataclass(frozen=True)
class Effect:
    """What a change did to one route, per 1,000 good cartons.

    Attributes
    ----------
    cost, co2e_kg, waste_kg : float
        After less before [money, kg, kg].
    """

    cost: float
    co2e_kg: float
    waste_kg: float


@dataclass(frozen=True)
class Change:
    """One thing that is not as it was when the quote was made.

    Attributes
    ----------
    kind : str
        ``assumption``: a row of the table of assumptions; ``tables``: a row of the table of boards; ``factor``: an
        emission factor or what chooses it; ``plant value``: a value of the plant's; ``range``: how far a value is
        uncertain; ``layer``: a given value that today's tables don't take, and that was left out; ``program``: what the
        program works out otherwise from the same; ``drawing``: the files of the drawing.
    name : str
        Dotted name of the input; ``range of`` and that name; names of files of the drawing; ``program`` for figures that
        follow otherwise from the same inputs; ``laser.path`` for the planned path.
    before, after : float, str or None
        Value then and now; None where there was or is none.
    unit : str
        Unit, with ``money`` for the currency; empty for texts.
    effects : mapping
        Route to what this change did alone; None for a route that can't make the job before or after it, and where it
        can't be computed alone.
    """

    kind: ChangeKind
    name: str
    before: Value | None
    after: Value | None
    unit: str
    effects: Mapping[RouteName, Effect | None]


NO_EFFECT: Mapping[RouteName, Effect | None] = {"die": None, "laser": None}
"""Where the effect of a change can't be told apart."""


@dataclass(frozen=True)
class FigureChange:
    """A result that is not as it was.

    Attributes
    ----------
    name : str
        Path in the record's results, such as ``die.figures.cost_per_1000``.
    before, after : float, str or None
        Then and now, which are not the same; None where there was or is none.
    """

    name: str
    before: Value | None
    after: Value | None

    @property
    def of_break_even(self) -> bool:
        """Whether it is a run length where the better route changes."""
        return self.name.startswith("break_even.")

    @property
    def decides(self) -> bool:
        """Whether another route is the cheaper one, a route is possible or not, or it works in another way."""
        came_or_went = self.before is None or self.after is None
        return (
            self.name == "cheaper"
            or self.name.endswith(".strategy")
            or (self.name.endswith(".figures.cost_per_1000") and came_or_went)
        )

    @property
    def share(self) -> float:
        """Difference of a figure as a share of the larger; infinite for what decides, 0 for break-evens and faults."""
        if self.decides:
            return math.inf
        if ".figures." not in self.name:
            return 0.0
        before, after = (value if isinstance(value, (int, float)) else 0.0 for value in (self.before, self.after))
        return abs(after - before) / (max(abs(after), abs(before)) or 1.0)

    @property
    def differs(self) -> bool:
        """Whether it is more than rounding."""
        return self.share > NOISE or not (self.decides or ".figures." in self.name)


def figure_changes(before: Results, after: Results) -> tuple[FigureChange, ...]:
    """Return every result that differs, be it by its last digit."""
    then, now = _flat(before), _flat(after)
    return tuple(
        FigureChange(name, then.get(name), now.get(name))
        for name in dict.fromkeys((*then, *now))
        if then.get(name) != now.get(name)
    )


def _flat(results: Results) -> dict[str, Any]:
    """Return results by path; the ranges of one measure as one text, as they differ in number."""
    data = plain(results)
    for found in data["break_even"].values():
        found["ranges"] = "; ".join(f"{r['start']}..{r['end']} {r['lowest']}" for r in found["ranges"])
    for route in ROUTES:
        data[route]["faults"] = ", ".join(data[route]["faults"])
        if data[route]["figures"] is None:
            data[route]["figures"] = {}
    return leaves(data)


def effects_between(before: Comparison, after: Comparison) -> dict[RouteName, Effect | None]:
    """Return what lies between two comparisons, by route."""
    effects: dict[RouteName, Effect | None] = {}
    for route in ROUTES:
        a, b = before.route(route), after.route(route)
        effects[route] = (
            Effect(
                b.cost_per_1000 - a.cost_per_1000,
                b.co2e_per_1000 - a.co2e_per_1000,
                b.waste_per_1000 - a.waste_per_1000,
            )
            if a.feasible and b.feasible
            else None
        )
    return effects


def effects_of_results(before: Results, after: Comparison) -> dict[RouteName, Effect | None]:
    """Return what lies between recorded figures and a comparison, by route."""
    effects: dict[RouteName, Effect | None] = {}
    for route in ROUTES:
        a, b = before.route(route).figures, after.route(route)
        effects[route] = (
            Effect(
                b.cost_per_1000 - a.cost_per_1000,
                b.co2e_per_1000 - a.co2e_kg_per_1000,
                b.waste_per_1000 - a.waste_kg_per_1000,
            )
            if a is not None and b.feasible
            else None
        )
    return effects


def alike(before: Value | None, after: Value | None) -> bool:
    """Return whether two values that were worked out are the same but for rounding."""
    if isinstance(before, float) and isinstance(after, float):
        return math.isclose(before, after, rel_tol=NOISE, abs_tol=_NOTHING)
    return before == after
