"""Sentences: the same words in the terminal, on screen and on paper."""

from __future__ import annotations

import re

from compare.decide.break_even import BreakEven
from compare.decide.comparison import Comparison
from compare.decide.step_totals import EVEN, Range
from compare.factors import publishers
from compare.present.numbers import PLAIN, NumberStyle, days, figures, whole

NAMES = {"die": "the die", "laser": "the laser"}

NOT_INCLUDED = (
    "printing, inks, coating and gluing (a printed sheet counts at its cost where it is spoiled)",
    "artwork and prepress; tools for embossing or foil",
    "waiting for a free machine, and freight of cartons to the client",
    "overheads, profit, taxes, price breaks of suppliers",
    "disposal of worn tools, lenses and filters",
)
"""What no figure of a comparison holds."""

CAUTIONS = (
    "Laser lines: enclosed operation, fume extraction, fire watch, no halogenated plastics; "
    "EN 60825-1 and EN ISO 11553-1 and local rules apply.",
    "Die cutting: guarding of the press, and gloves and covers where steel rule is handled.",
    "Figures are estimates for planning. They replace neither a trial cut, nor a supplier's quote, nor a "
    "reviewed life-cycle study, nor licensed and local safety and legal advice.",
)
"""Cautions that every comparison shows."""

CARBON_SCOPE = (
    "Boundary: board, tools, machine electricity, freight of tools, treatment of waste board; gross, cradle to gate; "
    "biogenic CO2 apart; an estimate, not reviewed, not for use on pack."
)
"""What the carbon figures are."""

STAGE_LABELS = {
    "tooling": "tooling",
    "make-ready": "make-ready",
    "running": "running",
    "handling": "handling",
    "material": "board and print of good sheets",
    "waste": "spoiled sheets, less waste sold",
}
"""What the stages are called where money is shown."""

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

_MANY = 3
_SHOWS = 0.0005
"""A difference below this share of a total is lost in the three figures the total is shown with."""


def answer(comparison: Comparison, style: NumberStyle = PLAIN, price_factor: float = 1.0) -> str:
    """Return the answer in one sentence; the factor turns cost into price."""
    return style.words(_answer(comparison, price_factor))


def _answer(comparison: Comparison, price_factor: float) -> str:
    run = whole(comparison.run_length)
    currency, die, laser = comparison.scenario.currency, comparison.die, comparison.laser
    opening = f"At {run} cartons per order"
    match comparison.cheaper:
        case "neither":
            return f"{opening} neither route can make this job."
        case "even":
            return f"{opening} both routes cost the same: {figures(die.cost_per_1000 * price_factor)} {currency} per 1,000."
        case winner:
            mine, other = (die, laser) if winner == "die" else (laser, die)
            cost = f"{figures(mine.cost_per_1000 * price_factor)} {currency}"
            if not other.feasible:
                loser = "laser" if winner == "die" else "die"
                return f"Only {NAMES[winner]} can make this job: {cost} per 1,000 at {run} cartons per order; {NAMES[loser]} can't."
            against = f"{figures(other.cost_per_1000 * price_factor)} {currency}"
            return f"{opening} {NAMES[winner]} is cheaper: {cost} against {against} per 1,000."


def takeover(comparison: Comparison, style: NumberStyle = PLAIN) -> str:
    """Say from which run length on the other route is the cheaper one."""
    found = comparison.break_even["cost"]
    if not (comparison.die.feasible and comparison.laser.feasible):
        return ""
    end = whole(found.end, style)
    if found.run_length is not None:
        at_times = (
            f" (at times from {whole(found.first, style)})" if found.first != found.run_length and found.first else ""
        )
        return f"The die is cheaper from {whole(found.run_length, style)} cartons per order on{at_times}, searched up to {end}."
    if len(found.ranges) == 1:
        only = found.ranges[0].lowest
        if only == EVEN:
            return f"Both cost the same at every run length up to {end} cartons per order."
        return f"{NAMES[only].capitalize()} is cheaper at every run length up to {end} cartons per order."
    return f"There is no lasting break-even up to {end} cartons per order: {found.answer.split(': ', 1)[-1]}."


def lead_time(comparison: Comparison, style: NumberStyle = PLAIN) -> str:
    """Say how long the first order takes on either route."""
    x, parts = comparison.scenario.inputs, []
    if comparison.die.feasible:
        if x["tooling.owned"] == 1:
            wait = "tools are on the shelf"
        else:
            wait = f"{days(x.number('toolmaker.lead_days'), style)} of them for tools to come"
        parts.append(f"{days(comparison.die.lead_time_days, style)} with the die ({wait})")
    if comparison.laser.feasible:
        parts.append(f"{days(comparison.laser.lead_time_days, style)} with the laser")
    return f"First order: {', '.join(parts)}; waiting for the machine not included." if parts else ""


def ranges(found: BreakEven, style: NumberStyle = PLAIN) -> str:
    """Say where each route is the lower one, a flicker from sheet to sheet in one clause."""
    if len(found.ranges) <= _MANY:
        return "; ".join(_range(r, style) for r in found.ranges)
    first, last = found.ranges[0], found.ranges[-1]
    between = f"{whole(first.end + 1, style)} to {whole(last.start - 1, style)}: changes {len(found.ranges) - 1} times with sheets and tools begun"
    return f"{_range(first, style)}; {between}; {_range(last, style)}"


def _range(r: Range, style: NumberStyle) -> str:
    return f"{whole(r.start, style)} to {whole(r.end, style)}: {r.lowest}"


def difference(comparison: Comparison, unit: str, die: float, laser: float, style: NumberStyle = PLAIN) -> str:
    """Say which route needs less, and by how much."""
    if not (comparison.die.feasible and comparison.laser.feasible):
        return "only one route is possible"
    gap, largest = abs(die - laser), max(abs(die), abs(laser))
    if gap <= _SHOWS * largest:
        return "no difference that shows"
    return f"{'laser' if laser < die else 'die'} {figures(gap, style=style)} {unit} less"


def basis(comparison: Comparison) -> str:
    """Name plant, costing, currency, grid and factors in one line."""
    s = comparison.scenario
    costing = "full costing" if comparison.costing == "full" else "cash costing (no depreciation, interest or space)"
    grid = s.factors["kwh"]
    others = publishers(use for role, use in s.factors.items() if role != "kwh")
    where = f"grid {s.choices['plant.country'].upper()} ({grid.label})" if grid.keys else f"grid: {grid.label}"
    return f"{s.plant} · {costing} · {s.currency} · {where} · factors: {others}"


def ended(text: str) -> str:
    """End a message as a sentence, unless it asks something and ends already."""
    return text if text.endswith((".", "?")) else f"{text}."


def in_currency(text: str, currency: str) -> str:
    """Put the plant's currency where a message of the engine names a unit of the table, as in "from 0 in money/h"."""
    return re.sub(r"(?<= in )money\b|(?<=, )money(?=[/)])", currency, text)
