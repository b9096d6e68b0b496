"""What stands on a quote: every text and number of the client's page, in words of its language."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np

from compare.decide.comparison import Comparison
from compare.decide.evaluate import Measure
from compare.decide.uncertainty import Uncertainty
from compare.errors import InputError
from compare.factors import publishers
from compare.present import quote_sentences as sentences
from compare.present.charts import Axis, break_even_chart, chart_grid
from compare.present.numbers import figures, whole
from compare.present.quote_facts import job_facts, one_line, outline_picture, versions_of
from compare.present.quote_parts import ClientPage, CurvePicture, Paper, PriceRow, QuoteContent, Table
from compare.present.quote_svg import CurveWords
from compare.present.quote_words import QuoteWords, quote_words
from compare.present.record import program_version
from compare.present.wording_guard import checked, claims_in
from compare.quotes.quote_record import ROUTES, QuoteAsked, RouteName

_ONE_TWO_FIVE = (1, 2, 5)
_MOST_ROWS, _FEWEST_ROWS = 5, 3
_NEAR = 1.25
"""Run lengths closer than this are one row of a price table."""


def quote_run_lengths(comparison: Comparison) -> tuple[float, ...]:
    """Return three to five run lengths worth a price: the job's own, the break-even, and round numbers around them.

    Parameters
    ----------
    comparison : Comparison
        The job on both routes.

    Returns
    -------
    tuple of float
        Rising [cartons per order].
    """
    found, own = comparison.break_even["cost"], comparison.run_length
    chosen = {own}
    if found.run_length is not None:
        chosen.add(float(found.run_length))
    rounds = [m * 10.0**p for p in range(9) for m in _ONE_TWO_FIVE]

    def add(candidates: Sequence[float]) -> None:
        for candidate in candidates:
            apart = all(max(candidate, c) / min(candidate, c) >= _NEAR for c in chosen)
            if apart and found.start <= candidate <= found.end:
                chosen.add(candidate)
                return

    add([r for r in reversed(rounds) if r <= min(chosen) / 2])
    add([r for r in rounds if r >= max(chosen) * 2])
    if len(chosen) < _MOST_ROWS and len(chosen) > 1:
        ordered = sorted(chosen)
        low, high = max(pairwise(ordered), key=lambda pair: pair[1] / pair[0])
        add(sorted((r for r in rounds if low < r < high), key=lambda r: abs(np.log(r * r / (low * high)))))
    while len(chosen) < _FEWEST_ROWS:
        before = len(chosen)
        add([r for r in rounds if r >= max(chosen) * 2])
        add([r for r in reversed(rounds) if r <= min(chosen) / 2] if len(chosen) == before else [])
        if len(chosen) == before:
            break
    return tuple(sorted(chosen))


def quote_content(unsure: Uncertainty, asked: QuoteAsked, *, number: str) -> QuoteContent:
    """Put together what a client sees of a quote.

    Parameters
    ----------
    unsure : Uncertainty
        The comparison with its draws, with bands at :func:`compare.present.charts.chart_grid`.
    asked : QuoteAsked
        Client, margin, language, dates, run lengths.
    number : str
        Number of the quote.

    Returns
    -------
    QuoteContent

    Raises
    ------
    InputError
        If neither route can make the job, or comparison and quote don't belong to one another.
    """
    c, words = unsure.comparison, quote_words(asked.language)
    _check_together(unsure, asked)
    paper: Paper = "us-letter" if _on_letter(c) else "a4"
    names = _Names(*map(one_line, (c.scenario.plant, number, c.scenario.name, asked.client)))
    return QuoteContent(
        language=asked.language,
        style=words.style,
        paper=paper,
        made_on=asked.made_on,
        title=words.say("page", "title", number=names.number, job=names.job),
        client=_client_page(unsure, asked, names, paper),
        remarks=_claims_of_names(names),
    )


class _Names(NamedTuple):
    """What people typed, each on one line."""

    plant: str
    number: str
    job: str
    client: str


def _check_together(unsure: Uncertainty, asked: QuoteAsked) -> None:
    c = unsure.comparison
    if not (c.die.feasible or c.laser.feasible):
        raise InputError(
            "neither route can make this job, so there is nothing to offer",
            where=c.scenario.name,
            remedy="'evenrun compare' says why",
        )
    if c.costing != asked.costing:
        raise InputError("the comparison was made with other machine rates", where="quote")
    if c.run_length not in asked.run_lengths:
        raise InputError(
            "the run lengths leave out the one of the job", where="run lengths", remedy=f"add {c.run_length:g}"
        )
    if not np.array_equal(unsure.run_lengths, chart_grid(c)):
        raise InputError(
            "the bands stand at other run lengths than the chart's", where="quote", remedy="work them out at chart_grid"
        )


def _on_letter(c: Comparison) -> bool:
    """Tell whether the plant is in the United States, or in one of their grid regions, such as US-CAMX."""
    return c.scenario.choices["plant.country"].strip().upper().partition("-")[0] == "US"


def _claims_of_names(names: _Names) -> tuple[str, ...]:
    """Tell the plant of claims in names that people typed: a name may be what it is, but is read as a claim."""
    return tuple(
        f"'{name}' holds '{claim.words}', which a reader may take for a claim about the environment ({claim.source}); "
        "leave it as it is only if it is a name"
        for name in names
        for claim in claims_in(name)[:1]
    )


def _client_page(unsure: Uncertainty, asked: QuoteAsked, names: _Names, paper: Paper) -> ClientPage:
    c, words, american = unsure.comparison, quote_words(asked.language), paper == "us-letter"
    say, currency = words.say, c.scenario.currency
    until = words.day(asked.valid_until, american=american)
    answer = sentences.answer(unsure, words, asked.price_factor)
    after = (
        sentences.how_sure(unsure, words, asked.price_factor),
        sentences.takeover(c, words),
        sentences.sure_takeover(unsure, words),
        *sentences.why_not(c, words),
    )
    outline = outline_picture(c, words, inches=american)
    orders = words.counted("orders", c.orders)
    programme = (say("prices", "programme", orders=orders),) if c.orders > 1 else ()
    shortened = any(name.endswith("…") for name in names)
    return ClientPage(
        plant=names.plant,
        number_line=say("page", "quote", number=names.number),
        dates=say("page", "dates", made=words.day(asked.made_on, american=american), until=until),
        job=names.job,
        client_line=say("page", "for_client", client=names.client) if names.client else "",
        answer=answer,
        sentences=tuple(filter(None, after)),
        facts_title=say("page", "job"),
        facts=job_facts(c, words, inches=american),
        outline=outline,
        no_outline=say("job", "no_picture") if outline is None else "",
        prices_title=say("page", "prices", currency=currency),
        price_heads=(say("prices", "run_length"), say("routes", "die"), say("routes", "laser")),
        prices=_price_rows(unsure, asked, words),
        price_notes=(say("prices", "hold", until=until), *programme),
        currency=currency,
        curve=_curve(unsure, asked, words, answer),
        measures_title=checked(say("page", "environment")),
        estimate=_estimate(c, words),
        measures=_measures(unsure, words),
        measure_notes=_measure_notes(unsure, words),
        not_included_title=say("page", "not_included"),
        not_included=sentences.not_included(words),
        cautions_title=say("page", "cautions"),
        cautions=sentences.cautions(words),
        foot=say("page", "foot", program=program_version()),
        notes=(say("page", "shortened"),) if shortened else (),
        replaced=say("page", "replaced"),
        page=words.texts["page"]["page"],
    )


def _price_rows(unsure: Uncertainty, asked: QuoteAsked, words: QuoteWords) -> tuple[PriceRow, ...]:
    c = unsure.comparison
    found = c.break_even["cost"]
    costs = c.cost_per_1000_at(np.array(asked.run_lengths, dtype=float))
    rows = []
    for place, run in enumerate(asked.run_lengths):
        prices = {route: float(cost[place]) * asked.price_factor for route, cost in costs.items()}
        none = words.say("prices", "not_possible")
        die, laser = (figures(prices[r], style=words.style) if r in prices else none for r in ROUTES)
        marks = [words.say("prices", "quoted")] if run == c.run_length else []
        marks += [words.say("prices", "break_even")] if run == found.run_length else []
        # where it is open which route is cheaper, none stands out
        decided = len(prices) > 1 and not (run == c.run_length and unsure.sureness == "open")
        at = found.at(run) if decided else ""
        lower: Literal["die", "laser", ""] = "die" if at == "die" else "laser" if at == "laser" else ""
        rows.append(
            PriceRow(
                run_length=run,
                prices=prices,
                run=whole(run, words.style),
                die=die,
                laser=laser,
                mark=", ".join(marks),
                lower=lower,
                quoted=run == c.run_length,
            )
        )
    return tuple(rows)


def _curve(unsure: Uncertainty, asked: QuoteAsked, words: QuoteWords, answer: str) -> CurvePicture:
    c, say = unsure.comparison, words.say
    both = c.die.feasible and c.laser.feasible
    chart = break_even_chart(c, price_factor=asked.price_factor, price_word="price", unsure=unsure)
    labels: dict[str, str] = {route: say("routes", route) for route in ROUTES}
    alt = " ".join(filter(None, (answer, sentences.takeover(c, words), sentences.sure_takeover(unsure, words))))
    chart = replace(
        chart,
        title=say("page", "chart", currency=c.scenario.currency),
        x=Axis(say("chart", "x"), "", log=True, ticks=chart.x.ticks),
        y=Axis(say("chart", "y", currency=c.scenario.currency), "", log=True),
        series=tuple(replace(series, label=labels[series.role]) for series in chart.series),
        bands=tuple(replace(band, label=labels[band.role]) for band in chart.bands),
        summary=say("chart", "alt" if both else "alt_one", sentences=alt),
    )
    kinds = {"die": "die", "laser": "laser"} if both else {"die": "only_die", "laser": "only_laser"}
    stretches: dict[str, tuple[str, ...]] = {
        kind: (say("chart", name),) for kind, name in {**kinds, "even": "even", "changes": "changes"}.items()
    }
    if chart.break_even is not None:
        stretches["die"] = (say("chart", "die_from", run=whole(chart.break_even, words.style)), *stretches["die"])
    quoted = say("chart", "quoted", run=whole(chart.quoted, words.style))
    caption = say("chart", "bands" if both else "bands_one") if chart.bands else ""
    return CurvePicture(chart, CurveWords(quoted, stretches), chart.title, caption)


def _estimate(c: Comparison, words: QuoteWords) -> str:
    both = c.die.feasible and c.laser.feasible
    run = whole(c.run_length, words.style)
    return checked(
        words.say("environment", "estimate" if both else "estimate_one", run=run, versions=versions_of(c, words))
    )


def _measures(unsure: Uncertainty, words: QuoteWords) -> Table:
    c, say, style = unsure.comparison, words.say, words.style
    none = say("prices", "not_possible")

    def cell(measure: Measure, route: RouteName, value: float) -> str:
        if not c.route(route).feasible:
            return none
        own = unsure.at_quote[measure][route]
        shown, low, high = (figures(v, style=style) for v in (value, own.p10, own.p90))
        return say("environment", "cell", value=shown, low=low, high=high)

    co2e = (cell("co2e", route, c.route(route).co2e_per_1000) for route in ROUTES)
    waste = (cell("waste", route, c.route(route).waste_per_1000) for route in ROUTES)
    biogenic = (
        figures(c.route(route).biogenic_per_1000, style=style) if c.route(route).feasible else none for route in ROUTES
    )
    rows = (("co2e", co2e), ("waste", waste), ("biogenic", biogenic))
    return Table(
        ("", *(say("routes", route) for route in ROUTES)),
        tuple((checked(say("environment", label)), *cells) for label, cells in rows),
    )


_UNITS: tuple[tuple[Measure, str], ...] = (("co2e", "kg CO2e"), ("waste", "kg"))


def _measure_notes(unsure: Uncertainty, words: QuoteWords) -> tuple[str, ...]:
    c, say = unsure.comparison, words.say
    notes = []
    if c.die.feasible and c.laser.feasible:
        for measure, unit in _UNITS:
            gap, what = unsure.at_quote[measure]["difference"], say("environment", measure)
            said = sentences.difference(gap, unit, words)
            said = say("environment", "difference", what=what[:1].upper() + what[1:], difference=said)
            notes.append(checked(said, range_contains_zero=gap.contains_zero))
    notes.append(checked(say("environment", "ranges" if notes else "ranges_one")))
    uses = list(c.scenario.factors.values())
    published = publishers(use for use in uses if use.keys)
    own = any(not use.keys for use in uses)
    name = "factors" if not own else "own_factors" if published else "only_own_factors"
    # the label of a value of the plant's own names its file
    said = say("environment", name, publishers=published) if published else say("environment", name)
    return (*notes, checked(f"{sentences.carbon_scope(words)} {said}"))
