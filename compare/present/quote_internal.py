"""The plant's own pages of a quote: costs, hours, how sure it is, and what the figures rest on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import cast

from compare.assumptions import Assumption, assumption_table
from compare.data_files import data_digest
from compare.decide.comparison import Comparison
from compare.decide.route_draws import Which
from compare.decide.uncertainty import Uncertainty
from compare.factors import ROLES, factor_set
from compare.present import quote_sentences as sentences
from compare.present.charts import StageChart, stage_chart
from compare.present.numbers import figures, whole
from compare.present.quote_facts import one_line
from compare.present.quote_parts import Labelled, Table
from compare.present.quote_words import QuoteWords, quote_words
from compare.present.record import program_version
from compare.present.sure_charts import tornado_chart
from compare.present.sure_wording import where_values_lie
from compare.present.wording import NAMES, in_currency
from compare.quotes.quote_record import ROUTES, QuoteAsked, RouteName
from compare.routes.inventory import STAGES

_DRIVERS = 8
_NOTE_CHARACTERS = 600


@dataclass(frozen=True)
class StagePicture:
    """Money by stage, drawn, with the names of the routes."""

    chart: StageChart
    routes: dict[str, str]


@dataclass(frozen=True)
class InternalPage:
    """What the plant keeps for itself.

    Attributes
    ----------
    title, basis : str
        That it is internal; plant, costing, currency, country.
    note : Labelled or None
        Note of the job.
    stages_title, stages : str, Table
        Cost by stage, with price, hours, sheets and electricity.
    stage_picture : StagePicture
        The same drawn, board and print of good sheets apart.
    sure_title, sure : str, tuple of str
        How sure it is, in sentences; empty where only one route is possible.
    drivers_title, drivers : str, Table or None
        What moves the difference most.
    assumptions_title, assumptions, no_assumptions : str, Table, str
        Values that are not the table's, with their origin, and what to say where there are none.
    factors_title, factors, factor_notes : str, Table, tuple of str
        Emission factors by resource; set and stand-ins.
    remarks_title, remarks : str, tuple of str
        What the engine remarks.
    rests_title, rests_on : str, tuple of Labelled
        Versions and digests.
    """

    title: str
    basis: str
    note: Labelled | None
    stages_title: str
    stages: Table
    stage_picture: StagePicture
    sure_title: str
    sure: tuple[str, ...]
    drivers_title: str
    drivers: Table | None
    assumptions_title: str
    assumptions: Table
    no_assumptions: str
    factors_title: str
    factors: Table
    factor_notes: tuple[str, ...]
    remarks_title: str
    remarks: tuple[str, ...]
    rests_title: str
    rests_on: tuple[Labelled, ...]


def internal_page(unsure: Uncertainty, asked: QuoteAsked, *, rests_on: Mapping[str, str] | None = None) -> InternalPage:
    """Put together what the plant keeps for itself.

    Parameters
    ----------
    unsure : Uncertainty
        The comparison with its draws.
    asked : QuoteAsked
        Margin and language.
    rests_on : mapping, optional
        Further versions and digests to print, by what they are called.

    Returns
    -------
    InternalPage
    """
    c, words = unsure.comparison, quote_words(asked.language)
    say, currency = words.say, c.scenario.currency
    given = {
        say("internal", "program"): program_version(),
        say("internal", "tables"): data_digest(),
        **(rests_on or {}),
    }
    note = one_line(c.scenario.note, most=_NOTE_CHARACTERS)
    return InternalPage(
        title=say("internal", "title"),
        basis=say(
            "internal",
            "basis",
            plant=one_line(c.scenario.plant),
            costing=say("internal", f"costing_{c.costing}"),
            currency=currency,
            country=c.scenario.choices["plant.country"].upper(),
        ),
        note=Labelled(say("internal", "note"), note) if note else None,
        stages_title=say("internal", "stages", currency=currency),
        stages=_stages(c, asked, words),
        stage_picture=_stage_picture(c, words),
        sure_title=say("internal", "sure"),
        sure=tuple(
            filter(
                None,
                (
                    sentences.how_sure(unsure, words),
                    sentences.sure_takeover(unsure, words),
                    sentences.worth_knowing(unsure, words),
                ),
            )
        ),
        drivers_title=say("internal", "drivers", currency=currency),
        drivers=_drivers(unsure, words),
        assumptions_title=say("internal", "assumptions"),
        assumptions=_assumptions(c, words),
        no_assumptions=say("internal", "none"),
        factors_title=say("internal", "factors"),
        factors=_factors(c, words),
        factor_notes=_factor_notes(c, words),
        remarks_title=say("internal", "remarks"),
        remarks=(
            *_money_remarks(unsure, asked, words),
            *(words.style.words(in_currency(f.message, currency)) for f in c.findings),
        ),
        rests_title=say("internal", "rests_on"),
        rests_on=tuple(Labelled(label, text) for label, text in given.items()),
    )


def _money_remarks(unsure: Uncertainty, asked: QuoteAsked, words: QuoteWords) -> list[str]:
    """Say where costs lie among the cases, and where a price lies below what half of them cost."""
    c, said = unsure.comparison, [where_values_lie(unsure, words.style)]
    for name, route in (("die", c.die), ("laser", c.laser)):
        found = unsure.at_quote["cost"].get(cast("Which", name))
        price = route.cost_per_1000 * asked.price_factor
        if found is not None and price < found.p50:
            shown, half = (figures(v, style=words.style) for v in (price, found.p50))
            said.append(
                f"The price with {NAMES[name]}, {shown} {c.scenario.currency} per 1,000, lies below what half of the cases cost ({half})."
            )
    return [text for text in said if text]


def _stages(c: Comparison, asked: QuoteAsked, words: QuoteWords) -> Table:
    say, style = words.say, words.style
    possible = [route for route in ROUTES if c.route(route).feasible]

    def row(label: str, values: Mapping[RouteName, float], *, in_full: bool = False) -> tuple[str, ...]:
        shown = whole if in_full else figures
        return (
            label,
            *(shown(values[r], style=style) if r in possible else say("prices", "not_possible") for r in ROUTES),
        )

    by_route = {route: c.route(route) for route in ROUTES}
    stages = {route: by_route[route].stage_cost_per_1000() for route in ROUTES}
    costs = {route: by_route[route].cost_per_1000 for route in ROUTES}
    return Table(
        (say("internal", "stage"), *(say("routes", route) for route in ROUTES)),
        (
            *(row(say("stages", stage), {r: stages[r][stage] for r in ROUTES}) for stage in STAGES),
            row(say("internal", "total"), costs),
            row(
                say("internal", "price", margin=words.percent(asked.margin)),
                {r: cost * asked.price_factor for r, cost in costs.items()},
            ),
            row(say("internal", "hours"), {r: float(by_route[r].inventory.machine_hours) for r in ROUTES}),
            row(say("internal", "sheets"), {r: float(by_route[r].inventory.sheets) for r in ROUTES}, in_full=True),
            row(
                say("internal", "kwh"),
                {r: float(by_route[r].inventory.kwh) / by_route[r].thousands for r in ROUTES},
            ),
        ),
    )


def _stage_picture(c: Comparison, words: QuoteWords) -> StagePicture:
    chart = stage_chart(c)
    title = words.say("internal", "stages_chart", currency=c.scenario.currency)
    routes = {route: words.say("routes", route) for route in chart.values}
    totals = ", ".join(f"{routes[r]} {figures(sum(v), style=words.style)}" for r, v in chart.values.items())
    labels = tuple(words.say("stages", stage) for stage in chart.stages)
    return StagePicture(replace(chart, title=title, labels=labels, summary=f"{title}: {totals}."), routes)


def _drivers(unsure: Uncertainty, words: QuoteWords) -> Table | None:
    chart = tornado_chart(unsure, most=_DRIVERS)
    if chart is None:
        return None
    say, style = words.say, words.style
    # where no single input can change the choice, there is nothing to say of it
    worthy = any(bar.worth_per_year > 0 for bar in chart.bars)
    heads = [say("internal", "input"), "", say("internal", "range"), say("internal", "at_ends")]
    rows = []
    for bar in chart.bars:
        ends = (style.words(bar.low), style.words(bar.high))
        gaps = (figures(bar.at_low, style=style), figures(bar.at_high, style=style))
        spans = [say("internal", "span", low=low, high=high) for low, high in (ends, gaps)]
        worth = figures(bar.worth_per_year, 2, style) if bar.worth_per_year > 0 else "–"
        rows.append((bar.name, bar.label, *spans, *([worth] if worthy else [])))
    if worthy:
        heads.append(say("internal", "worth", currency=chart.currency))
    return Table(tuple(heads), tuple(rows))


def _assumptions(c: Comparison, words: QuoteWords) -> Table:
    """Return what has a value in the table and another one here."""
    s, say = c.scenario, words.say
    rows = []
    for name, row in assumption_table().items():
        origin = s.origins.get(name, "assumption")
        if origin == "assumption" or row.value is None or name.startswith("factors."):
            continue
        if not (row.is_text or name in s.inputs):
            continue
        value = s.choices[name] if row.is_text else s.inputs.number(name)
        if value == row.value:
            continue
        # an origin may be a path of the plant's machine: the file's name says enough
        where = origin.rsplit("/", 1)[-1].rsplit("\\", 1)[-1]
        shown = (_value(row, value, s.currency, words), _value(row, row.value, s.currency, words))
        rows.append((name, row.meaning, *shown, one_line(where)))
    heads = ("input", "value", "default", "origin")
    first, *others = (say("internal", head) for head in heads)
    return Table((first, "", *others), tuple(rows))


def _value(row: Assumption, value: float | str, currency: str, words: QuoteWords) -> str:
    if isinstance(value, str):
        return one_line(value)
    unit = row.unit_in(currency)
    text = words.style.write(f"{value:,.0f}" if abs(value) >= 1e4 else f"{value:,.4g}")
    if unit in ("-", "0/1"):
        return text
    return f"{text}{unit[1:]}" if unit.startswith("1/") else f"{text} {unit}"


def _factors(c: Comparison, words: QuoteWords) -> Table:
    s, say = c.scenario, words.say
    table = assumption_table()
    return Table(
        (say("internal", "resource"), say("internal", "factor"), say("internal", "value")),
        tuple(
            (
                say("roles", role),
                one_line(s.factors[role].label),
                f"{words.style.write(f'{s.factors[role].value:,.4g}')} {table[f'factors.{role}'].unit}",
            )
            for role in ROLES
        ),
    )


def _factor_notes(c: Comparison, words: QuoteWords) -> tuple[str, ...]:
    name = factor_set(c.scenario.choices["factors.set"])["name"]
    notes = [words.say("internal", "factor_set", name=f"{c.scenario.choices['factors.set']}, {name}")]
    if stand_ins := [use.proxy for use in c.scenario.factors.values() if use.proxy]:
        notes.append(words.say("internal", "stands_in", what=", ".join(stand_ins)))
    return tuple(notes)
