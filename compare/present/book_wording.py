"""Sentences about a year of orders: the same words in the terminal, in the workbook and on screen."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from functools import cached_property

import numpy as np

from compare.decide.book_plan import BookPlan
from compare.decide.queueing import PLANNED_LOAD_CAP
from compare.decide.selection import Reason
from compare.present import wording
from compare.present.numbers import PLAIN, NumberStyle, count, figures, places, whole

WHY_NOT = {
    "die.varnish_release": "varnish release has no rule",
    "die.versions": "it has more versions than tool sets may be made or one die holds",
    "die.press_force": "its sheet needs more force than the die cutter has",
    "die.caliper": "its board is thicker than the die cutter takes",
    "die.sheet": "its sheet is larger than the die cutter takes",
    "die.smallest_gap": "a gap is too small for rule",
    "die.smallest_radius": "a radius is too small for rule",
    "laser.halogen": "its laminate must not be burnt",
    "laser.caliper": "its board is thicker than the laser line takes",
    "laser.sheet": "its sheet is larger than the laser line takes",
}
"""What a route can't do, by code, as a clause."""

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

JOB_MEANS = "A job is all orders of a carton with the same figures; all jobs of a carton take one route."

QUEUE_CAUTION = "The wait is an estimate for orders that come at random; a plan that levels them shortens it."

SHIFT_NOTE = "Labour and energy cost the same in every shift here; a surcharge for late shifts is not included."

NO_RANGE = "The range of the changes in CO2e and waste is not worked out for a book of orders."

CAUTIONS = (
    "Cash saving counts labour and press hours as saved. They are saved only where they are used for other work that "
    "is wanted, or no longer paid.",
    "Whether to buy a line needs quotes, trial cuts and accounting and tax advice of those licensed to give it; "
    "the figures here are estimates for planning.",
    *wording.CAUTIONS,
)
"""Cautions that every plan shows."""


_NO_WAIT_H = 0.05
"""A wait below this is lost in the digits it is shown with [h]."""

_ONE_ROUTE = "all jobs of a carton take one route"


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

    def _any_of_carton(self, flags: np.ndarray) -> np.ndarray:
        families = self.plan.book.families
        return np.asarray((np.bincount(families, weights=flags) > 0)[families])

    def sentence(self, job: int) -> str:
        """Return one sentence for a job, with the figures that decide."""
        reason: Reason = self.plan.selection.reasons[job]
        return self._sentences[reason](job)

    @cached_property
    def _sentences(self) -> dict[Reason, Callable[[int], str]]:
        return {
            "moves": self._moves,
            "moves_into_rest": self._moves_into_rest,
            "moves_with_carton": self._moves_with_carton,
            "pinned_laser": lambda j: f"The order book keeps its carton on the laser, where it {self._gain(j)}.",
            "die_impossible": lambda j: (
                f"It must go to the laser: the die can't make it, as {self._why_not('die', j)}."
            ),
            "stays_saves_nothing": self._stays_saves_nothing,
            "stays_worth_less_than_hour": self._stays_worth_less,
            "no_room": self._no_room,
            "stays_with_carton": self._stays_with_carton,
            "pinned_die": lambda j: f"The order book keeps its carton on the die; on the laser it {self._would(j)}.",
            "laser_impossible": lambda j: f"The laser can't make it, as {self._why_not('laser', j)}.",
            "impossible": self._impossible,
        }

    def _moves(self, job: int) -> str:
        mine, price = self._per_hour(job)
        if price <= 0:
            return (
                f"It {self._gain(job)}, {self._rate(mine)} per laser hour, and the hours that it takes are not scarce."
            )
        if mine <= price * (1 + 1e-9):  # it sets the price
            return f"It saves {self._rate(mine)} per laser hour, which is what an hour is worth with these orders."
        saving, rate = self._apart(mine, price)
        return f"It saves {saving} per laser hour; each hour that it takes would bring about {rate} with other jobs."

    def _moves_into_rest(self, job: int) -> str:
        mine, price = self._per_hour(job)
        if mine <= 0:
            whole_carton = (
                f"its carton saves {self._money(self._of_carton[job])} a year in hours that others leave over"
            )
            return f"Alone it {self._would(job)} on the laser, but {whole_carton}."
        saving, rate = self._apart(mine, price)
        return f"It saves {saving} per laser hour, less than the {rate} or so of other jobs, but fits into hours that they leave over."

    def _moves_with_carton(self, job: int) -> str:
        if self._must_go[job]:
            return f"It goes with its carton, one job of which the die can't make; on the laser it {self._gain(job)}."
        if self.plan.book.saving[job] <= 0:
            gain = f"its carton saves {self._money(self._of_carton[job])} a year as a whole"
            return f"Alone it {self._would(job)} on the laser, but {gain}, and {_ONE_ROUTE}."
        alone = "Alone it saves less than its hours bring with other jobs"
        return f"{alone}, but its carton as a whole is worth its hours, and {_ONE_ROUTE}."

    def _stays_saves_nothing(self, job: int) -> str:
        saving = float(self.plan.book.saving[job])
        if saving > 0:
            return f"It {self._would(job)}, but its carton as a whole saves nothing on the laser, and {_ONE_ROUTE}."
        return "Both routes cost the same." if saving == 0 else f"On the laser it {self._would(job)}."

    def _stays_worth_less(self, job: int) -> str:
        saving, rate = self._apart(*self._per_hour(job))
        return (
            f"It would save {saving} per laser hour; each hour that it would take brings about {rate} with other jobs."
        )

    def _no_room(self, job: int) -> str:
        if self.plan.selection.worth[job] < 0:
            return "Its carton would be worth its hours, but does not fit whole beside the others."
        rate, hours = self._rate(self._per_hour(job)[0]), figures(self.plan.book.laser_hours[job], style=self.style)
        return f"It would save {rate} per laser hour, but its {hours} h a year do not fit whole beside the others."

    def _stays_with_carton(self, job: int) -> str:
        if self._must_stay[job]:
            return (
                f"It stays with its carton, one job of which the laser can't make; on the laser it {self._would(job)}."
            )
        whole_carton = f"its carton as a whole is not worth its hours, and {_ONE_ROUTE}"
        return f"Alone it {self._would(job)} on the laser, but {whole_carton}."

    def _impossible(self, job: int) -> str:
        die = f"The die can't make it, as {self._why_not('die', job)}"
        if self.plan.book.laser_possible[job]:
            return f"{die}; nor can the laser make every job of its carton."
        return f"{die}; nor can the laser, as {self._why_not('laser', job)}."

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

    def _gain(self, job: int) -> str:
        saving = float(self.plan.book.saving[job])
        return f"saves {self._money(saving)} a year" if saving >= 0 else f"costs {self._money(-saving)} a year more"

    def _would(self, job: int) -> str:
        saving = float(self.plan.book.saving[job])
        if saving >= 0:
            return f"would save {self._money(saving)} a year"
        return f"would cost {self._money(-saving)} a year more"

    def _why_not(self, route: str, job: int) -> str:
        codes = self.plan.book.why_not("die" if route == "die" else "laser", job)
        return " and ".join(WHY_NOT[code] for code in codes)


def reason_sentence(plan: BookPlan, job_index: int, style: NumberStyle = PLAIN) -> str:
    """Say why a job is where it is; for many jobs :class:`ReasonWords` is faster."""
    return ReasonWords(plan, style).sentence(job_index)


def answer_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say what moves, into how many hours, and what that saves."""
    book, moving = plan.book, int(np.count_nonzero(plan.selection.on_laser))
    money = f"{figures(abs(plan.selection.saving), style=style)} {book.currency} a year"
    cartons = float(book.cartons[plan.selection.on_laser].sum())
    if not moving:
        return f"None of {_jobs(len(book), style)} goes to the laser line."
    hours = f"{figures(plan.hours_used, style=style)} of {figures(plan.limits.hours, style=style)} hours of the line"
    what = f"{whole(moving, style)} of {_jobs(len(book), style)} go to the laser line"
    verb = "saves" if plan.selection.saving >= 0 else "costs"
    more = "" if plan.selection.saving >= 0 else " more"
    return f"{what}, {whole(cartons, style)} cartons a year in {hours}; this {verb} {money}{more}."


def gap_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say how far from the best the choice can be, at most."""
    chosen = plan.selection
    if chosen.exact:
        return "Proven best: no other choice of jobs within these limits saves more."
    missing = chosen.bound - chosen.saving
    return (
        f"At most {_rounded_up(missing, style)} {plan.book.currency} a year below the best possible choice, "
        f"{_rounded_up(100 * chosen.gap, style)} % of it (proven)."
    )


def hour_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say what one more hour of the line is worth."""
    if plan.hour_value <= 0:
        return "More hours of the line would save nothing with these orders."
    return f"One more hour of the line a year would save about {figures(plan.hour_value, style=style)} {plan.book.currency}."


def wait_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say about how long a lot waits for the line."""
    load, wait = float(plan.wait.load), float(plan.wait.wait_h)
    if load <= 0:
        return ""
    if not math.isfinite(load):
        return "The line has no hours for the jobs that must go to it."
    loaded = f"The line is loaded to {style.write(f'{load:.1%}'.replace('%', ' %'))}"
    if not math.isfinite(wait):
        return f"{loaded}: the queue before it would grow without end."
    if wait < _NO_WAIT_H:
        return f"{loaded}; lots hardly wait for it."
    cap = (
        f" {PLANNED_LOAD_CAP:.0%} is as much as should be planned for.".replace("%", " %") if plan.wait.over_cap else ""
    )
    return f"{loaded}; a lot waits about {about_hours(wait, style)} for it, in hours that it is staffed.{cap}"


def about_hours(hours: float, style: NumberStyle = PLAIN) -> str:
    """Return an estimated wait with no more digits than it carries."""
    if not math.isfinite(hours):
        return "without end"
    if hours < _NO_WAIT_H:
        return "hardly any"
    if hours < 10:
        return f"{style.write(f'{hours:.1f}')} h"
    step = 10.0 ** (math.floor(math.log10(hours)) - 1)
    return f"{whole(round(hours / step) * step, style)} h"


def share_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say how much of the saving has to come true for the line to pay."""
    share = share_needed(plan, style)
    if not share or plan.investment is None:
        return ""
    if plan.investment.pays:
        return f"The line pays as long as {share} of the cash saving comes true."
    return f"The line does not pay with this saving: it would take {share}."


def share_needed(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Return the part of the cash saving at which the line just pays; empty where none would do."""
    case = plan.investment
    if case is None or case.share_needed is None:
        return ""
    if case.pays:
        return f"{math.ceil(100 * case.share_needed - 1e-9)} %"
    return f"{_rounded_up(case.share_needed, style)} times as much"


def findings_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say how many orders wait for something to be mended."""
    waiting = plan.book.rows_in - plan.book.rows_computed
    if not waiting:
        return ""
    of_all = f"{whole(waiting, style)} of {_orders(plan.book.rows_in, style)}"
    return f"{of_all} {'waits' if waiting == 1 else 'wait'} to be mended and {'is' if waiting == 1 else 'are'} in no figure here."


def findings_by_code(plan: BookPlan) -> list[tuple[str, int, str]]:
    """Return code, how often it is there, and the first message of each kind of finding; those that wait first."""
    counts = Counter(f.code for f in plan.book.findings)
    first = {f.code: f for f in reversed(plan.book.findings)}
    order = sorted(counts, key=lambda code: (not first[code].waits, -counts[code], code))
    return [(code, counts[code], wording.ended(first[code].message)) for code in order]


def _orders(number: int, style: NumberStyle) -> str:
    return f"{whole(number, style)} order{'' if number == 1 else 's'}"


def _jobs(number: int, style: NumberStyle) -> str:
    return f"{whole(number, style)} job{'' if number == 1 else 's'}"


def _rounded_up(value: float, style: NumberStyle) -> str:
    """Write a number that may be said to be the most: three figures, rounded up."""
    if value <= 0:
        return count(0.0, style)
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return figures(math.ceil(value / step - 1e-9) * step, style=style)
