"""Sentences of a quote: in English those of screen and terminal, in other languages the same with words of their own."""

from __future__ import annotations

import math

from compare.decide.comparison import Comparison
from compare.decide.quantiles import Quantiles
from compare.decide.step_totals import EVEN
from compare.decide.uncertainty import Uncertainty
from compare.present import sure_wording, wording
from compare.present.numbers import figures, whole
from compare.present.quote_words import QuoteWords
from compare.present.sure_wording import alike

_SURE_ENOUGH = 0.9
"""Above this share of cases the other side is not worth a sentence, as in :mod:`compare.present.sure_wording`."""


def answer(unsure: Uncertainty, words: QuoteWords, factor: float) -> str:
    """Return the answer in one sentence that goes no further than the draws carry.

    Parameters
    ----------
    unsure : Uncertainty
        The comparison and its draws.
    words : QuoteWords
        Language.
    factor : float
        Turns cost into price.
    """
    c = unsure.comparison
    both = unsure.laser_cheaper is not None
    if words.language == "en":
        if both:
            return sure_wording.sure_answer(unsure, words.style, factor)
        return wording.answer(c, words.style, factor)
    places = {
        "run": whole(c.run_length, words.style),
        "currency": c.scenario.currency,
        **{name: figures(c.route(name).cost_per_1000 * factor, style=words.style) for name in ("die", "laser")},
    }
    if not both:
        return words.say("answer", c.cheaper if c.cheaper == "neither" else f"only_{c.cheaper}", **places)
    leaning = unsure.leaning
    if unsure.sureness == "open" or leaning is None:
        return words.say("sure", "open", **places)
    surely = words.say("sure", "clear" if unsure.sureness == "clear" else "likely")
    return words.say("sure", leaning if leaning == c.cheaper else f"against_{leaning}", surely=surely, **places)


def takeover(c: Comparison, words: QuoteWords) -> str:
    """Say from which run length on the die is the cheaper one."""
    if words.language == "en":
        return wording.takeover(c, words.style)
    if not (c.die.feasible and c.laser.feasible):
        return ""
    found, style = c.break_even["cost"], words.style
    end = whole(found.end, style)
    first = whole(found.first or found.end, style)
    if found.run_length is not None:
        name = "lasting" if found.first in (found.run_length, None) else "at_times"
        return words.say("takeover", name, run=whole(found.run_length, style), first=first, end=end)
    if len(found.ranges) == 1:
        only = found.ranges[0].lowest
        return words.say("takeover", "even" if only == EVEN else only, end=end)
    return words.say("takeover", "none", first=first, end=end)


def sure_takeover(unsure: Uncertainty, words: QuoteWords) -> str:
    """Say between which run lengths the die takes over, and in how many cases it never does."""
    if words.language == "en":
        return sure_wording.sure_takeover(unsure, words.style)
    found, style = unsure.break_even, words.style
    if found is None:
        return ""
    end = whole(found.end, style)
    if found.never > _SURE_ENOUGH:
        return words.say("draws", "never", end=end, share=_of_100(found.never, words))
    if found.always > _SURE_ENOUGH:
        return words.say("draws", "always", share=_of_100(found.always, words))
    beyond = words.say("draws", "beyond", end=end)
    low = whole(found.p10, style) if found.p10 > found.start else words.say("draws", "first_carton")
    high = words.say("draws", "high", run=whole(found.p90, style)) if math.isfinite(found.p90) else beyond
    if found.p50 <= found.start:
        middle = words.say("draws", "middle_first")
    elif math.isfinite(found.p50):
        middle = words.say("draws", "middle", run=whole(found.p50, style))
    else:
        middle = words.say("draws", "middle_beyond", end=end)
    never = words.say("draws", "never_so", share=_of_100(found.never, words), end=end) if found.never > 0 else ""
    return words.say("draws", "between", low=low, high=high, middle=middle, never_so=never)


def how_sure(unsure: Uncertainty, words: QuoteWords, factor: float = 1.0) -> str:
    """Say in how many of 100 cases which route is cheaper, and how far the difference reaches; the factor turns cost into price."""
    if words.language == "en":
        return sure_wording.how_sure(unsure, words.style, factor)
    if unsure.laser_cheaper is None or unsure.die_cheaper is None:
        return ""
    route = unsure.leaning or "laser"
    probable = unsure.die_cheaper if route == "die" else unsure.laser_cheaper
    gap = range_of(unsure.at_quote["cost"]["difference"], unsure.comparison.scenario.currency, words, factor)
    reach = words.say("sure", "reach", range=gap)
    if (runs := unsure.varied.spreads.get("demand.run_length")) is not None:
        low, high = (whole(end, words.style) for end in (runs.low, runs.high))
        reach += words.say("sure", "runs", low=low, high=high)
    if probable == 1:
        return words.say("sure", f"every_{route}", draws=whole(unsure.draws, words.style), reach=reach)
    share = _of_100(probable, words)
    give = ""  # "more than 99" says it
    if share.isdigit():
        give = words.say("sure", "give", number=str(max(round(unsure.probability_half_width * 100), 1)))
    return words.say("sure", f"some_{route}", share=share, give=give, reach=reach)


def worth_knowing(unsure: Uncertainty, words: QuoteWords) -> str:
    """Say what it would be worth to know better, and what to measure first."""
    if words.language == "en":
        return sure_wording.worth_knowing(unsure, words.style)
    if unsure.worth_per_year is None or unsure.worth_per_order is None:
        return ""
    if unsure.worth_per_year <= 0:
        return words.say("worth", "nothing")
    currency, style = unsure.comparison.scenario.currency, words.style
    order, year = (figures(v, 2, style) for v in (unsure.worth_per_order, unsure.worth_per_year))
    most = words.say("worth", "most", order=order, year=year, currency=currency)
    first = unsure.measure_first
    if first is None:
        return f"{most} {words.say('worth', 'none')}"
    worth = figures(first.worth_per_year, 2, style)
    return f"{most} {words.say('worth', 'first', name=first.name, worth=worth, currency=currency)}"


def lead_time(c: Comparison, words: QuoteWords) -> str:
    """Say how long the first order takes on either route."""
    if words.language == "en":
        return wording.lead_time(c, words.style)
    x, parts = c.scenario.inputs, []
    if c.die.feasible:
        if x["tooling.owned"] == 1:
            wait = words.say("lead", "shelf")
        else:
            wait = words.say("lead", "tools", days=days(x.number("toolmaker.lead_days"), words))
        parts.append(words.say("lead", "die", days=days(c.die.lead_time_days, words), wait=wait))
    if c.laser.feasible:
        parts.append(words.say("lead", "laser", days=days(c.laser.lead_time_days, words)))
    return words.say("lead", "all", parts=", ".join(parts))


def days(value: float, words: QuoteWords) -> str:
    """Return a duration in days: a tenth of a day is as fine as a plan can be."""
    return words.say("lead", "short") if value < 0.95 else words.counted("days", round(value, 1), "lead")


def difference(gap: Quantiles | None, unit: str, words: QuoteWords) -> str:
    """Say which route needs less and how far the difference reaches; no direction where the range holds zero."""
    if words.language == "en":
        return sure_wording.sure_difference(gap, unit, words.style)
    if gap is None:
        return words.say("difference", "one")
    if gap.contains_zero:
        return words.say("difference", "unclear", range=range_of(gap, unit, words))
    lower, ends = ("laser", (-gap.p90, -gap.p10)) if gap.p90 < 0 else ("die", (gap.p10, gap.p90))
    low, high = map(words.style.write, alike(*ends))
    return words.say("difference", lower, low=low, high=high, unit=unit)


def range_of(gap: Quantiles, unit: str, words: QuoteWords, factor: float = 1.0) -> str:
    """Say how far laser less die reaches from P10 to P90."""
    first, second = map(words.style.write, alike(gap.p10 * factor, gap.p90 * factor))
    if gap.p10 >= 0:
        return words.say("sure", "more", low=first, high=second, unit=unit)
    if gap.p90 <= 0:
        return words.say("sure", "less", low=second, high=first, unit=unit)
    return words.say("sure", "both", low=first, high=second, unit=unit)


def why_not(c: Comparison, words: QuoteWords) -> tuple[str, ...]:
    """Say for each route that can't make the job why it can't, without the plant's limits."""
    said = []
    for name in ("die", "laser"):
        codes = dict.fromkeys(f.code for f in c.route(name).findings if f.kind == "not possible")
        if codes:
            why = ", ".join(dict.fromkeys(_clause(code, words) for code in codes))
            said.append(words.say("impossible", name, why=why))
    return tuple(said)


def _clause(code: str, words: QuoteWords) -> str:
    name = code.replace(".", "_")
    if words.has("impossible", name):
        return words.say("impossible", name)
    return (
        wording.WHY_NOT[code]
        if words.language == "en" and code in wording.WHY_NOT
        else words.say("impossible", "other")
    )


def not_included(words: QuoteWords) -> tuple[str, ...]:
    """Say what a price does not hold."""
    if words.language == "en":
        # a price has overheads and profit in it, if the margin has
        printing, prepress, waiting, _, disposal = wording.NOT_INCLUDED
        return (printing, prepress, waiting, words.say("not_included", "taxes"), disposal)
    return tuple(words.say("not_included", name) for name in ("printing", "prepress", "waiting", "taxes", "disposal"))


def cautions(words: QuoteWords) -> tuple[str, ...]:
    """Say what to be careful of."""
    if words.language == "en":
        return wording.CAUTIONS
    return tuple(words.say("cautions", name) for name in ("laser", "die", "planning"))


def carbon_scope(words: QuoteWords) -> str:
    """Say what the carbon figures are."""
    return wording.CARBON_SCOPE if words.language == "en" else words.say("environment", "scope")


def _of_100(share: float, words: QuoteWords) -> str:
    """Return a share in full per cents that claims no certainty."""
    if 0.995 <= share < 1:
        return words.say("sure", "more_than_99")
    return words.say("sure", "less_than_1") if 0 < share < 0.005 else f"{round(share * 100)}"
