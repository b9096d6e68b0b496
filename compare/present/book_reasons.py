"""Why each job of a year of orders is where it is: a sentence to stand beside its saving and its hours."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

import numpy as np

from compare.decide.book_plan import BookPlan
from compare.decide.selection import Reason
from compare.present import wording
from compare.present.numbers import PLAIN, NumberStyle, figures, places

MONTH, BOARD = "hours in ", "hours on "
"""How the names of limits of months and of boards begin."""

REASON_LABELS: dict[Reason, str] = {
    "moves": "pays on the laser",
    "moves_into_rest": "fits into hours left over",
    "moves_with_carton": "goes with its carton",
    "pinned_laser": "kept on the laser by the order book",
    "die_impossible": "the die can't make it",
    "stays_saves_nothing": "the laser saves nothing",
    "stays_worth_less_than_hour": "others make more of the hours",
    "no_room": "does not fit whole",
    "stays_with_carton": "stays with its carton",
    "pinned_die": "kept on the die by the order book",
    "laser_impossible": "the laser can't make it",
    "impossible": "neither route can make it",
}
"""Why a job is where it is, in a few words."""


class ReasonWords:
    """Says why jobs of one plan are where they are.

    Parameters
    ----------
    plan : BookPlan
        The plan.
    style : NumberStyle
        How the reader writes numbers.
    """

    def __init__(self, plan: BookPlan, style: NumberStyle = PLAIN) -> None:
        self.plan, self.style = plan, style

    def sentence(self, job: int) -> str:
        """Return one sentence for a job: what decides, but for its saving and hours, which stand beside it."""
        reason: Reason = self.plan.selection.reasons[job]
        return self._sentences[reason](job)

    @cached_property
    def _sentences(self) -> dict[Reason, Callable[[int], str]]:
        return {
            "moves": self._moves,
            "moves_into_rest": self._moves_into_rest,
            "moves_with_carton": self._moves_with_carton,
            "pinned_laser": lambda j: "The order book keeps its carton on the laser.",
            "die_impossible": lambda j: f"The die can't make it: {self._why_not('die', j)}.",
            "stays_saves_nothing": self._stays_saves_nothing,
            "stays_worth_less_than_hour": self._stays_worth_less,
            "no_room": self._no_room,
            "stays_with_carton": self._stays_with_carton,
            "pinned_die": lambda j: "The order book keeps its carton on the die.",
            "laser_impossible": lambda j: f"The laser can't make it: {self._why_not('laser', j)}.",
            "impossible": self._impossible,
        }

    # -- what decides -------------------------------------------------------------------------------------------------

    def _moves(self, job: int) -> str:
        mine, price = self._per_hour(job)
        if price <= 0:
            return "It saves, and the hours that it takes are not scarce."
        where = self._where[job]
        if mine <= price * (1 + 1e-9):  # it sets the price
            return f"It saves {self._rate(mine)} per laser hour, just what an hour is worth{where}."
        saving, rate = self._apart(mine, price)
        return f"It saves {saving} per laser hour; an hour is worth about {rate}{where}."

    def _moves_into_rest(self, job: int) -> str:
        mine, price = self._per_hour(job)
        if mine <= 0 or self._several[job]:
            return f"Its carton saves {self._money(self._of_carton[job])} a year in hours left over{self._tools(job)}."
        saving, rate = self._apart(mine, price)
        return f"It saves {saving} per laser hour, below the {rate} or so of others, in hours that they leave over."

    def _moves_with_carton(self, job: int) -> str:
        if self._must_go[job]:
            return "It goes with its carton, one job of which the die can't make."
        return f"Its carton as a whole saves {self._money(self._of_carton[job])} a year{self._tools(job)}."

    def _stays_saves_nothing(self, job: int) -> str:
        saving = float(self.plan.book.saving[job])
        if self._several[job]:
            return f"Its carton as a whole costs no less on the laser{self._tools(job)}."
        return "Both routes cost the same." if saving == 0 else "It costs less on the die."

    def _stays_worth_less(self, job: int) -> str:
        if none := self._no_hours(job):
            return none
        saving, rate = self._apart(*self._per_hour(job))
        return f"It would save {saving} per laser hour; an hour is worth about {rate}{self._where[job]}."

    def _no_room(self, job: int) -> str:
        if none := self._no_hours(job):
            return none
        beside = " beside the others" if self._others_there(job) else " into the hours there are"
        if self._several[job] or self.plan.selection.worth[job] < 0:
            return f"Its carton would be worth its hours, but does not fit whole{beside}{self._tools(job)}."
        rate = self._rate(self._per_hour(job)[0])
        return f"It would save {rate} per laser hour, but does not fit whole{beside}."

    def _stays_with_carton(self, job: int) -> str:
        if self._must_stay[job]:
            return "It stays with its carton, one job of which the laser can't make."
        return f"Its carton as a whole is not worth its hours{self._tools(job)}."

    def _impossible(self, job: int) -> str:
        die = f"The die can't make it: {self._why_not('die', job)}"
        if self.plan.book.laser_possible[job]:
            return f"{die}; nor can the laser make every job of its carton."
        return f"{die}; nor can the laser: {self._why_not('laser', job)}."

    def _no_hours(self, job: int) -> str:
        """Say where there are no hours for a job at all, or none beside what must go."""
        for capacity in self.plan.capacities:
            if capacity.use[job] > 0 and capacity.limit <= 0:
                return f"No {capacity.name} may be planned."
        for capacity in self.plan.capacities:
            if capacity.use[job] > 0 and capacity.name in self.plan.selection.overfull:
                return f"Jobs that must go to the laser take more {capacity.name} than there are."
        return ""

    def _others_there(self, job: int) -> bool:
        """Return whether other jobs take of what a job would take."""
        used = self.plan.selection.used
        return any(taken > 0 for c, taken in zip(self.plan.capacities, used, strict=True) if c.use[job] > 0)

    # -- what is known of cartons -------------------------------------------------------------------------------------

    @cached_property
    def _must_go(self) -> np.ndarray:
        """Whether the die can't make some job of each job's carton that the laser can make."""
        book = self.plan.book
        return self._any_of_carton(book.laser_possible & ~book.die_possible)

    @cached_property
    def _must_stay(self) -> np.ndarray:
        """Whether the laser can't make some job of each job's carton that the die can make."""
        book = self.plan.book
        return self._any_of_carton(book.die_possible & ~book.laser_possible)

    @cached_property
    def _of_carton(self) -> np.ndarray:
        """What each job's carton saves as a whole [money/y]."""
        book = self.plan.book
        saving = np.where(book.die_possible & book.laser_possible, book.saving, 0.0)
        return np.asarray(np.bincount(book.families, weights=saving)[book.families])

    @cached_property
    def _several(self) -> np.ndarray:
        """Whether each job's carton has other jobs."""
        families = self.plan.book.families
        return np.asarray(np.bincount(families)[families] > 1)

    @cached_property
    def _pays_tools(self) -> np.ndarray:
        """Whether the first tools of its carton are charged to each job: the others find them owned."""
        owned = self.plan.book.jobs.numbers["tooling.owned"]
        return np.asarray(np.broadcast_to(owned, (len(self.plan.book),)) < 1)

    @cached_property
    def _paid_by_carton(self) -> np.ndarray:
        return self._any_of_carton(self._pays_tools)

    def _any_of_carton(self, flags: np.ndarray) -> np.ndarray:
        families = self.plan.book.families
        return np.asarray((np.bincount(families, weights=flags) > 0)[families])

    def _tools(self, job: int) -> str:
        """Say which job of a carton bears its tools, which is why its jobs differ in what they save."""
        if not self._several[job] or not self._paid_by_carton[job]:
            return ""
        return f"; its tools are charged to {'this' if self._pays_tools[job] else 'another'} of its jobs"

    @cached_property
    def _where(self) -> list[str]:
        """Say for each job which hours have the price that is named: of all, or those of its months and its board."""
        found = [""] * len(self.plan.book)
        for start, words in ((MONTH, "in its months"), (BOARD, "on its board")):
            priced = np.zeros(len(found), dtype=bool)
            for price, capacity in zip(self.plan.selection.prices, self.plan.capacities, strict=True):
                if price > 0 and capacity.name.startswith(start):
                    priced |= np.asarray(capacity.use) > 0
            for job in np.flatnonzero(priced).tolist():
                found[job] += f" and {words}" if found[job] else f" {words}"
        return found

    # -- figures ------------------------------------------------------------------------------------------------------

    def _per_hour(self, job: int) -> tuple[float, float]:
        """Return what a job saves per hour of the line, and what its hours are worth each [money/h]."""
        selection, hours = self.plan.selection, float(self.plan.book.laser_hours[job])
        saving = float(self.plan.book.saving[job])
        if hours <= 0:
            return 0.0, 0.0
        price = (saving - float(selection.worth[job])) / hours
        return saving / hours, price if price > 1e-9 * abs(saving / hours) else 0.0

    def _apart(self, one: float, other: float) -> tuple[str, str]:
        """Write two rates with as many digits as it takes to tell them apart."""
        texts = (self._rate(one), self._rate(other))
        for digits in (4, 5, 6):
            if texts[0] == texts[1]:
                texts = (self._rate(one, digits), self._rate(other, digits))
        return texts

    def _rate(self, value: float, digits: int = 3) -> str:
        decimals = len(places(value, [], digits).partition(".")[2])
        return f"{self.style.write(f'{value:,.{decimals}f}')} {self.plan.book.currency}"

    def _money(self, value: float) -> str:
        return f"{figures(value, style=self.style)} {self.plan.book.currency}"

    def _why_not(self, route: str, job: int) -> str:
        return why_not_words(self.plan.book.why_not("die" if route == "die" else "laser", job))


def why_not_words(codes: tuple[str, ...] | list[str]) -> str:
    """Return what a route can't do as a clause; empty for no code."""
    return " and ".join(wording.WHY_NOT[code] for code in codes)


def reason_sentence(plan: BookPlan, job_index: int, style: NumberStyle = PLAIN) -> str:
    """Say why a job is where it is; for many jobs :class:`ReasonWords` is faster."""
    return ReasonWords(plan, style).sentence(job_index)
