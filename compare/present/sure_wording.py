"""How sure an answer is, in sentences: the same in the terminal, on screen and on paper."""

from __future__ import annotations

import math

from compare.assumptions import assumption_table
from compare.decide.comparison import RouteResult
from compare.decide.quantiles import Quantiles
from compare.decide.route_draws import Which
from compare.decide.uncertainty import Driver, Uncertainty
from compare.present.numbers import PLAIN, NumberStyle, figures, whole
from compare.present.wording import NAMES

_REASONS = {
    "given": "given without a range",
    "count": "counts of a machine",
    "drawn from": "other inputs are worked out from it",
    "path": "the beam's path was planned for it",
    "no bearing": "no figure of this job depends on it",
}
_NAMED = 6


def sure_answer(unsure: Uncertainty, style: NumberStyle = PLAIN, price_factor: float = 1.0) -> str:
    """Return the answer in one sentence that goes no further than the draws carry.

    Parameters
    ----------
    unsure : Uncertainty
        With both routes possible; see :func:`compare.present.wording.answer` for the others.
    style : NumberStyle
        How the reader writes numbers.
    price_factor : float
        Turns cost into price.
    """
    c = unsure.comparison
    die, laser = (figures(r.cost_per_1000 * price_factor) for r in (c.die, c.laser))
    currency, opening = c.scenario.currency, f"At {whole(c.run_length)} cartons per order"
    leaning = unsure.leaning
    if unsure.sureness == "open" or leaning is None:
        return style.words(
            f"{opening} it is open which route is cheaper: {die} {currency} per 1,000 with the die, {laser} with the laser."
        )
    mine, other = (die, laser) if leaning == "die" else (laser, die)
    surely = "clearly" if unsure.sureness == "clear" else "likely"
    is_ = f"is {surely} cheaper"
    if leaning != c.cheaper:  # the draws and the values themselves point to different sides
        return style.words(
            f"{opening} {NAMES[leaning]} {is_} over all that is uncertain, though not at the values themselves: "
            f"{die} {currency} per 1,000 with the die, {laser} with the laser."
        )
    return style.words(f"{opening} {NAMES[leaning]} {is_}: {mine} {currency} against {other} {currency} per 1,000.")


def how_sure(unsure: Uncertainty, style: NumberStyle = PLAIN, price_factor: float = 1.0) -> str:
    """Say in how many of 100 cases which route is cheaper, and how far the difference reaches; the factor turns cost into price."""
    leaning = unsure.leaning
    if unsure.laser_cheaper is None or unsure.die_cheaper is None:
        return ""
    gap, currency = unsure.at_quote["cost"]["difference"], unsure.comparison.scenario.currency
    probable = (unsure.laser_cheaper if leaning == "laser" else unsure.die_cheaper) if leaning else unsure.laser_cheaper
    route, reach = (
        NAMES[leaning or "laser"],
        f"the laser costs {_range_of(gap, currency, price_factor)} per 1,000 in 8 cases of 10.{_runs(unsure)}",
    )
    if probable == 1:
        return style.words(f"{route.capitalize()} is cheaper in every one of {unsure.draws:,} cases; {reach}")
    half_width = max(round(unsure.probability_half_width * 100), 1)
    share = of_100(probable)
    give_or_take = f" (give or take {half_width})" if share.isdigit() else ""  # "more than 99" says it
    return style.words(f"{route.capitalize()} is cheaper in {share} of 100 cases{give_or_take}; {reach}")


def _runs(unsure: Uncertainty) -> str:
    """Say so where the run length itself is varied: the cases are not all of the one in the headline."""
    spread = unsure.varied.spreads.get("demand.run_length")
    if spread is None:
        return ""
    return f" The cases have run lengths from {whole(spread.low)} to {whole(spread.high)}."


def where_values_lie(unsure: Uncertainty, style: NumberStyle = PLAIN) -> str:
    """Say so where the costs of the headline lie outside of 8 cases in 10, as they do near an end of the ranges."""
    c, said = unsure.comparison, []
    routes: tuple[tuple[Which, RouteResult], ...] = (("die", c.die), ("laser", c.laser))
    for name, route in routes:
        found = unsure.at_quote["cost"].get(name)
        if found is not None and not found.p10 <= route.cost_per_1000 <= found.p90:
            side = "below" if route.cost_per_1000 < found.p10 else "above"
            ends = " to ".join(alike(found.p10, found.p90))
            said.append(
                f"{NAMES[name]}'s {figures(route.cost_per_1000)} lies {side} 8 cases in 10 ({ends} {c.scenario.currency})"
            )
    if not said:
        return ""
    return style.words(
        f"Costs are those at the values themselves, the most likely of each input: {'; '.join(said)}, as most ranges reach further to one side."
    )


def of_100(share: float) -> str:
    """Return a share in full per cents that claims no certainty."""
    if 0.995 <= share < 1:
        return "more than 99"
    return "less than 1" if 0 < share < 0.005 else f"{round(share * 100)}"


def _range_of(gap: Quantiles, unit: str, factor: float = 1.0) -> str:
    """Say how far laser less die reaches from P10 to P90."""
    low, high = gap.p10 * factor, gap.p90 * factor
    less, more = alike(low, high)
    if less == more and low * high > 0:
        return f"{less} {unit} {'more' if low > 0 else 'less'}"
    if low >= 0:
        return f"{less} to {more} {unit} more"
    if high <= 0:
        return f"{more} to {less} {unit} less"
    return f"from {less} {unit} less to {more} {unit} more"


def alike(low: float, high: float) -> tuple[str, str]:
    """Return the sizes of both ends with the decimals that their distance carries: two figures of it, three of an end."""
    decimals = 2 - math.floor(math.log10(max(abs(low), abs(high)) or 1.0))
    if high > low:
        decimals = min(decimals, 1 - math.floor(math.log10(high - low)))
    first, second = (f"{abs(end):,.{max(decimals, 0)}f}" for end in (low, high))
    return first, second


def sure_takeover(unsure: Uncertainty, style: NumberStyle = PLAIN) -> str:
    """Say between which run lengths the die takes over, and in how many cases it never does."""
    found = unsure.break_even
    if found is None:
        return ""
    end = whole(found.end, style)
    if found.never > 0.9:
        return f"The laser stays cheaper up to {end} cartons per order in {of_100(found.never)} of 100 cases."
    if found.always > 0.9:
        return f"The die is cheaper at every run length in {of_100(found.always)} of 100 cases."
    low = f"{whole(found.p10, style)}" if found.p10 > found.start else "the first carton"
    high = f"{whole(found.p90, style)} cartons per order" if math.isfinite(found.p90) else f"beyond {end}"
    middle = f"{whole(found.p50, style)}" if math.isfinite(found.p50) else f"beyond {end}"
    middle = (
        f"half of the cases below {middle}" if found.p50 > found.start else "half of the cases from the first carton on"
    )
    never = f"; in {of_100(found.never)} of 100 it does not up to {end}" if found.never > 0 else ""
    return f"The die takes over somewhere from {low} to {high}, 8 cases of 10, {middle}{never}."


def worth_knowing(unsure: Uncertainty, style: NumberStyle = PLAIN) -> str:
    """Say what it would be worth to know better, and what to measure first."""
    if unsure.worth_per_year is None or unsure.worth_per_order is None:
        return ""
    currency = unsure.comparison.scenario.currency
    if unsure.worth_per_year <= 0:
        return "Nothing needs to be measured for this choice: every case has the same route ahead."
    worth = (
        f"To know everything before the choice is worth at most {figures(unsure.worth_per_order, 2, style)} {currency} per order, "
        f"{figures(unsure.worth_per_year, 2, style)} {currency} a year."
    )
    first = unsure.measure_first
    if first is None:
        return f"{worth} No single input changes the choice by itself."
    return f"{worth} Worth measuring first: {meaning(first)} ({first.name}), at most {figures(first.worth_per_year, 2, style)} {currency} a year."


def meaning(driver: Driver) -> str:
    """Return what an input is, in lower case."""
    text = assumption_table()[driver.name].meaning
    text = text[:1].lower() + text[1:] if text[1:2].islower() or text[1:2] == " " else text
    route = driver.name.partition(".")[0]
    # several inputs are there once for each route and are called the same
    return f"{text}, {route}" if route in NAMES else text


def what_was_varied(unsure: Uncertainty) -> tuple[str, ...]:
    """Say what was varied and what was taken as known."""
    spreads, known = unsure.varied.spreads, unsure.varied.known
    shapes = {shape: sum(s.shape == shape for s in spreads.values()) for shape in ("triangular", "pert", "lognormal")}
    kinds = ", ".join(f"{count} {'PERT' if shape == 'pert' else shape}" for shape, count in shapes.items() if count)
    said = [
        f"Varied: {len(spreads)} inputs, each by itself and independent of the others ({kinds}); "
        f"{unsure.draws:,} draws, seed {unsure.seed}, the same for both routes."
        if spreads
        else "Nothing was varied: no input of this job has a range."
    ]
    for reason, words in _REASONS.items():
        names = [name for name, why in known.items() if why == reason]
        if names:
            more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
            said.append(f"Taken as known, {words}: {', '.join(names[:_NAMED])}{more}.")
    said.append(
        "Not varied, unless a range was given: sizes of carton and sheet, limits of the machines; and the model itself. Ranges of the table are usual "
        "ranges of the trade or examples; a plant's own are narrower."
    )
    return tuple(said)


def sure_difference(gap: Quantiles | None, unit: str, style: NumberStyle = PLAIN) -> str:
    """Say which route needs less and how far the difference reaches; no direction where the range holds zero."""
    if gap is None:
        return "only one route is possible"
    if gap.contains_zero:
        return style.words(f"no clear difference: the laser lies {_range_of(gap, unit)}")
    lower, (least, most) = ("laser", (-gap.p90, -gap.p10)) if gap.p90 < 0 else ("die", (gap.p10, gap.p90))
    said = alike(least, most)
    return style.words(f"{lower} {said[0]} to {said[1]} {unit} less")
