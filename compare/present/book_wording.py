"""Sentences about a year of orders: the same words in the terminal, in the workbook and on screen."""

from __future__ import annotations

import math
import re
from collections import Counter
from typing import NamedTuple

import numpy as np

from compare.decide.book_limits import YEAR, job_capacities
from compare.decide.book_plan import BookPlan
from compare.decide.investment import InvestmentCase
from compare.decide.queueing import PLANNED_LOAD_CAP
from compare.present import wording
from compare.present.book_reasons import (
    BOARD,
    MONTH,
    REASON_LABELS,
    ReasonWords,
    reason_sentence,
    why_not_words,
)
from compare.present.numbers import PLAIN, NumberStyle, count, figures, whole

__all__ = [
    "CAUTIONS",
    "JOB_MEANS",
    "NO_RANGE",
    "QUEUE_CAUTION",
    "RANGE_NOTE",
    "REASON_LABELS",
    "SHIFT_NOTE",
    "TAX_NOTE",
    "ReasonWords",
    "about_hours",
    "advice_sentence",
    "answer_sentence",
    "binding_limits",
    "cost_sentence",
    "findings_sentence",
    "findings_shown",
    "gap_sentence",
    "hour_sentence",
    "loads_sentence",
    "percent",
    "rate_of_return",
    "reason_sentence",
    "share_needed",
    "share_sentence",
    "shifts_sentence",
    "spaced",
    "wait_sentence",
    "why_not_words",
]

JOB_MEANS = "A job is all orders of a carton with the same figures; all jobs of a carton take one route."

QUEUE_CAUTION = "The wait is an estimate for orders that come at random; a plan that levels them shortens it."

SHIFT_NOTE = "Labour and energy cost the same in every shift here; a surcharge for late shifts is not included."

NO_RANGE = "The range of the changes in CO2e and waste is not worked out for a book of orders."

RANGE_NOTE = "The range is that of the saving alone; price, life and interest of the line stay as they are."

TAX_NOTE = (
    "Tax: the price is written off in a straight line to zero over the life, and the sale at its end is taxed in full."
)

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

_MANY_HOURS = 20.0
"""Hours of a limit of which one more is so small a part that its price holds for the whole of it [h]."""

_PERCENT = re.compile(r"(?<=\d)%")


class BindingLimit(NamedTuple):
    """A limit that keeps jobs from the laser, or that what must go there exceeds."""

    name: str
    hours: float
    """Hours that there are [h/y]."""
    used: float
    """Hours that the jobs take [h/y]."""
    price: float
    """What one more of them would save, about [money/h]."""
    overfull: bool


class FindingLine(NamedTuple):
    """What is to be mended in an order book, as it is shown."""

    place: str
    """Row and column."""
    message: str
    remedy: str
    code: str
    alike: int
    """Findings with this code that this line stands for."""


# -- which jobs -------------------------------------------------------------------------------------------------------


def answer_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say what moves, into how many hours, and what that saves."""
    book, moving = plan.book, int(np.count_nonzero(plan.selection.on_laser))
    if not moving:
        why = ": no hours of it are planned" if plan.limits.hours <= 0 else ""
        return f"None of {_jobs(len(book), style)} goes to the laser line{why}."
    cartons = f"{whole(float(book.cartons[plan.selection.on_laser].sum()), style)} cartons a year"
    what = f"{whole(moving, style)} of {_jobs(len(book), style)} {'goes' if moving == 1 else 'go'} to the laser line"
    saving = plan.selection.saving
    money = f"{figures(abs(saving), style=style)} {book.currency} a year"
    brings = f"saves {money}" if saving > 0 else f"costs {money} more" if saving < 0 else "saves nothing"
    if plan.selection.overfull:
        return f"{_overfull(plan, style)} With them on it all the same, {what}, {cartons}; this {brings}."
    hours = f"{figures(plan.hours_used, style=style)} of {figures(plan.limits.hours, style=style)} hours of the line"
    return f"{what}, {cartons} in {hours}; this {brings}."


def _overfull(plan: BookPlan, style: NumberStyle) -> str:
    """Say how much of what must go to the laser has no room: of the year, else of the limit that lacks most."""
    full = [limit for limit in _limits(plan) if limit.overfull]
    most = next((limit for limit in full if limit.name == YEAR), max(full, key=lambda limit: limit.used - limit.hours))
    where = "" if most.name == YEAR else f" {most.name.removeprefix('hours ')}"
    need, more = figures(most.used, style=style), figures(most.used - most.hours, style=style)
    rest = len(full) - 1
    others = f"; {rest} other limit{'' if rest == 1 else 's'} can't hold theirs" if where and rest else ""
    return f"Jobs that must go to the laser need {need} h{where}, {more} more than there are{others}."


def advice_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say what the cap on the load saves, where the plan is above it; empty where it is not, or can't be kept."""
    hours, chosen = plan.limits.hours, plan.selection
    if chosen.overfull or hours <= 0 or plan.hours_used <= PLANNED_LOAD_CAP * hours:
        return ""
    row = next((row for row in plan.loads if row.load == PLANNED_LOAD_CAP), None)
    if row is None or row.hours > PLANNED_LOAD_CAP * hours * (1 + 1e-9):  # what must go takes more already
        return ""
    cap, within = percent(PLANNED_LOAD_CAP, 0, style), hours / 2
    less = 1 - row.saving / chosen.saving if chosen.saving > 0 else 0.0
    loss = f" ({percent(less, 1, style)} less)" if less >= 0.0005 else ""
    wait = float(plan.wait.wait_h)
    now = f" instead of {about_hours(wait, style)}" if wait <= within else "; with this plan the queue would not clear"
    return (
        f"Above {cap} lots wait long. Planned to {cap}, the line would save {figures(row.saving, style=style)} "
        f"{plan.book.currency} a year{loss}, and a lot would wait about {about_hours(row.wait_h, style)}{now}."
    )


def cost_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say what all orders that were computed cost in a year, on the die and as planned."""
    computed, money = plan.book.rows_computed, plan.book.currency
    which = "all orders" if computed == plan.book.rows_in else f"the {_orders(computed, style)} that were computed"
    if computed == 1 < plan.book.rows_in:
        which = "the 1 order that was computed"
    before, after = whole(plan.before.cost, style), whole(plan.after.cost, style)
    return f"Cost of {which}: {before} {money} a year on the die, {after} {money} as planned."


def gap_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say how far from the best the choice can be, at most; empty where there is no choice that keeps the limits."""
    chosen = plan.selection
    if chosen.overfull:
        return ""
    if chosen.exact:
        return "Proven best: no other choice of jobs within these limits saves more."
    missing = chosen.bound - chosen.saving
    return (
        f"At most {_rounded_up(missing, style)} {plan.book.currency} a year below the best possible choice, "
        f"{_rounded_up(100 * chosen.gap, style)} % of it (proven)."
    )


# -- limits -----------------------------------------------------------------------------------------------------------


def _limits(plan: BookPlan) -> list[BindingLimit]:
    chosen = plan.selection  # a first choice has the limits, and not yet what jobs take of them
    capacities = getattr(plan, "capacities", None) or job_capacities(plan.book, plan.limits)
    return [
        BindingLimit(c.name, float(c.limit), float(used), float(price), c.name in chosen.overfull)
        for c, used, price in zip(capacities, chosen.used, chosen.prices, strict=True)
    ]


def binding_limits(plan: BookPlan) -> list[BindingLimit]:
    """Return the limits that keep jobs from the laser, or can't hold what must go; the dearest first."""
    found = [limit for limit in _limits(plan) if limit.price > 0 or limit.overfull]
    return sorted(found, key=lambda limit: (-limit.price, limit.hours - limit.used))


def hour_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say what one more hour of the line, and of each limit that binds by itself, is worth."""
    if plan.selection.overfull:
        return ""
    money = plan.book.currency

    def saves(price: float, hours: float) -> str:
        most = "up to " if hours < _MANY_HOURS else ""  # there the price falls before the hour is full
        return f"would save {most}about {figures(price, style=style)} {money}"

    binding = binding_limits(plan)
    months = [limit for limit in binding if limit.name.startswith(MONTH)]
    shared = ", a twelfth of it in each month," if months and plan.limits.month_hours is None else ""
    said = (
        [f"One more hour of the line a year{shared} {saves(plan.hour_value, plan.limits.hours)}."]
        if plan.hour_value > 0
        else []
    )
    if plan.limits.month_hours is not None and months:  # else they grow with the year's hours
        most = months[0].name.removeprefix("hours ")
        if len(months) == 1:
            said.append(f"One more hour {most} {saves(months[0].price, months[0].hours)}.")
        else:
            total = f"{saves(sum(limit.price for limit in months), months[0].hours)} a year"
            said.append(f"One more hour in every month {total}, {figures(months[0].price, style=style)} of it {most}.")
    said += [
        f"One more hour {b.name.removeprefix('hours ')} {saves(b.price, b.hours)}."
        for b in binding
        if b.name.startswith(BOARD)
    ][:2]
    if not said:
        return "More hours of the line would save nothing with these orders."
    if plan.hour_value <= 0:
        said.append("More hours of the year alone would save nothing.")
    return " ".join(said)


# -- the queue --------------------------------------------------------------------------------------------------------


def wait_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say about how long a lot waits for the line."""
    load, wait = float(plan.wait.load), float(plan.wait.wait_h)
    if load <= 0:
        return ""
    if not math.isfinite(load):
        return "The line has no hours for the jobs that must go to it."
    little = f"less than {percent(0.001, 1, style)}"
    loaded = f"The line is loaded to {percent(load, 1, style) if load >= 0.0005 else little}"
    if wait > plan.limits.hours / 2:
        return f"{loaded}: the line is full; the queue would not clear within the year."
    if wait < _NO_WAIT_H:
        return f"{loaded}; lots hardly wait for it."
    cap = f" {percent(PLANNED_LOAD_CAP, 0, style)} is as much as should be planned for."
    if not plan.wait.over_cap or advice_sentence(plan, style):  # which says so as well
        cap = ""
    return f"{loaded}; a lot waits about {about_hours(wait, style)} for it, in hours that it is staffed.{cap}"


def about_hours(hours: float, style: NumberStyle = PLAIN, within: float = math.inf) -> str:
    """Return an estimated wait with no more digits than it carries, and none where it exceeds what it is `within`."""
    if hours > within:
        return "not within the year"
    if not math.isfinite(hours):
        return "without end"
    if hours < _NO_WAIT_H:
        return "hardly any"
    if hours < 10:
        return f"{style.write(f'{hours:.1f}')} h"
    step = 10.0 ** (math.floor(math.log10(hours)) - 1)
    return f"{whole(round(hours / step) * step, style)} h"


def loads_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say that planned loads make no difference; empty where they do, or where there is nothing to plan."""
    first = plan.loads[0]
    alike = all(math.isclose(row.saving, first.saving) and math.isclose(row.hours, first.hours) for row in plan.loads)
    if not alike or not 0 < first.hours <= first.load * plan.limits.hours:
        return ""
    return (
        f"The jobs that move fit into {percent(first.load, 0, style)} of the hours planned; "
        "what is left can be kept free at no loss."
    )


# -- whether the line pays --------------------------------------------------------------------------------------------


def share_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say whether the line pays, and how much of the saving has to come true for it."""
    case = plan.investment
    if case is None:
        return ""
    if case.pays and not case.share_needed:
        return "The line pays even without a saving."
    share = share_needed(plan, style)
    if case.pays:
        pays = f"he line pays as long as {share} of the cash saving comes true."
        # a die is bought once, the line stands for years
        only = case.saving_needed > plan.settled_saving
        return f"With as many new cartons every year, t{pays}" if only else f"T{pays}"
    if not share:
        moving = bool(plan.selection.on_laser.any())
        return f"The line does not pay: {'the jobs that move save no cash' if moving else 'no job moves to it'}."
    return f"The line does not pay: the cash saving must be {share}."


def share_needed(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Return the part of the cash saving at which the line just pays; empty where none would do."""
    case = plan.investment
    if case is None or case.share_needed is None:
        return ""
    if case.pays:
        return f"{math.ceil(100 * case.share_needed - 1e-9)} %"
    return f"{_rounded_up(case.share_needed, style)} times what it is"


def rate_of_return(case: InvestmentCase) -> float | None:
    """Return the internal rate of return; none where it is not unique, or the years bring in no money."""
    rates = case.irr.rates
    if case.yearly_saving <= case.investment.yearly_upkeep or len(rates) != 1 or case.irr.caveat:
        return None
    return float(rates[0]) if math.isfinite(rates[0]) else None


def shifts_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say that shifts make no difference; empty where they do."""
    first, money = plan.shifts[0], plan.book.currency
    if not all(math.isclose(row.saving, first.saving) and math.isclose(row.used, first.used) for row in plan.shifts):
        return ""
    if first.used > first.hours:
        return ""
    if first.used <= 0:
        return "If the jobs are chosen by cash saving, none moves, in one shift a day or in three."
    worth = "" if first.npv is None else f", net present value {whole(first.npv, style)} {money}"
    return (
        f"If the jobs are chosen by cash saving, they take {figures(first.used, style=style)} h a year and fit into one "
        f"shift a day ({whole(first.hours, style)} h); a second would add nothing. "
        f"Cash saving {whole(first.saving, style)} {money} a year{worth}."
    )


# -- what waits -------------------------------------------------------------------------------------------------------


def findings_sentence(plan: BookPlan, style: NumberStyle = PLAIN) -> str:
    """Say how many orders wait for something to be mended."""
    waiting = plan.book.rows_in - plan.book.rows_computed
    if not waiting:
        return ""
    wait = "1 waits to be mended and is" if waiting == 1 else f"{whole(waiting, style)} wait to be mended and are"
    computed = whole(plan.book.rows_computed, style)
    return f"{_orders(plan.book.rows_in, style)}: {computed} computed, {wait} in no figure."


def findings_shown(plan: BookPlan, *, waiting: bool, most: int) -> list[FindingLine]:
    """Return what is to be mended, or what is noted; the first of each kind where these are more than `most`."""
    found = [f for f in plan.book.findings if f.waits == waiting]
    counts, kinds = Counter(f.code for f in found), len(found) > most
    if kinds:
        first = {f.code: f for f in reversed(found)}
        found = sorted(first.values(), key=lambda f: (-counts[f.code], f.code))
    lines = []
    for f in found[:most]:
        places = [f"row {f.row}"] if f.row is not None else [] if f.column else ["the file"]
        places += [f"column {f.column}"] if f.column else []
        remedy = wording.ended(f.remedy[:1].upper() + f.remedy[1:]) if f.remedy else ""
        lines.append(
            FindingLine(", ".join(places), wording.ended(f.message), remedy, f.code, counts[f.code] if kinds else 1)
        )
    return lines


# -- numbers ----------------------------------------------------------------------------------------------------------


def percent(share: float, decimals: int, style: NumberStyle = PLAIN) -> str:
    """Return a share per cent, with a space before the sign."""
    return f"{style.write(f'{100 * share:,.{decimals}f}')} %"


def spaced(text: str) -> str:
    """Return a text with a space before every sign of per cent."""
    return _PERCENT.sub(" %", text)


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
