"""The plan of a year of orders for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from compare.assumptions import assumption_table
from compare.decide.book_plan import BookPlan
from compare.decide.investment import InvestmentCase
from compare.decide.order_book import Book
from compare.present import book_wording as words
from compare.present import wording
from compare.present.book_record import freed_press_hours, plant_texts
from compare.present.numbers import figures, places, whole
from compare.present.terminal import plain_table
from compare.readers.jobfile import Layer

_SHOWN = 10
"""Jobs, assumptions or kinds of findings that a list shows."""

_FEW = 20
"""Jobs of which one list shows all."""

_LONGEST_NAME = 28
"""Signs of an order number that are kept on one line."""

_SAID = ("book.overfull", "book.load", "book.no_purchase_price", "investment.no_saving")
"""Remarks that sentences of the page say with more figures, or in their place."""

_LISTING = "'--findings findings.csv' lists them all."

_COSTINGS = {"full": "full costing", "cash": "cash costing (no depreciation, interest or space)"}


def book_view(plan: BookPlan, layers: Sequence[Layer] = ()) -> RenderableType:
    """Return a plan as a person likes to read it.

    Parameters
    ----------
    plan : BookPlan
        The plan.
    layers : sequence of Layer
        Plant file and settings it was made with.
    """
    book, texts = plan.book, plant_texts(layers)
    plant = texts["plant.name"] or "assumptions of the table"
    waiting = words.findings_sentence(plan)
    orders = "" if waiting else f"{_many(book.rows_in, 'order')}, "
    parts: list[RenderableType] = [_plain(book.table.source, style="bold")]
    if waiting:
        parts.append(Text(waiting, style="bold"))
    parts += [
        Text(f"{orders}{_many(len(book), 'job')} of {_many(book.jobs.families, 'carton')}. {words.JOB_MEANS}"),
        Text(
            f"{plant} · {_COSTINGS[book.costing]} · {book.currency} · grid {texts['plant.country'].upper()}",
            style="dim",
        ),
        Text(),
        Text(words.answer_sentence(plan), style="bold"),
        *(Text(line) for line in _answers(plan) if line),
    ]
    parts += [Text(), _year(plan), *_limits(plan), *_loads(plan)]
    parts += _investment(plan)
    parts += _jobs(plan)
    if plan.saving_range:
        parts += [Text(), _swings(plan)]
    parts += [*_to_mend(plan), *_remarks(plan)]
    return Group(*parts)


def _answers(plan: BookPlan) -> Iterable[str]:
    yield words.advice_sentence(plan)
    for found in plan.findings:
        if found.kind == "caution" and found.code not in _SAID:
            yield words.spaced(found.message)
    yield words.cost_sentence(plan)
    yield words.gap_sentence(plan)
    yield words.hour_sentence(plan)
    freed = freed_press_hours(plan)
    if freed > 0:
        yield f"{places(freed, [plan.before.press_hours])} press hours a year become free."
    if wait := words.wait_sentence(plan):
        yield f"{wait} {words.QUEUE_CAUTION}"


def _year(plan: BookPlan) -> Table:
    table = plain_table("a year of these orders", "all on the die", "as planned", "change")
    before, after, money = plan.before, plan.after, plan.book.currency
    for label, one, other in (
        (f"cost, {money}", before.cost, after.cost),
        ("CO2e, kg", before.co2e, after.co2e),
        ("waste board, kg", before.waste, after.waste),
        ("press hours", before.press_hours, after.press_hours),
        ("laser hours", before.laser_hours, after.laser_hours),
    ):
        ends = [one, other]
        table.add_row(label, places(one, ends), places(other, ends), _signed(places(other - one, ends)))
    if not plan.book.die_possible.all():
        table.columns[1].header = "all on the die that it can make"
    return table


def _limits(plan: BookPlan) -> list[RenderableType]:
    binding = words.binding_limits(plan)
    if not binding:
        return []
    money = plan.book.currency
    table = plain_table("limit that binds", "hours", "used", f"one more hour saves up to about, {money}")
    ends = [max(limit.hours, limit.used) for limit in binding]
    prices = [limit.price for limit in binding]
    for limit in binding:
        price = "less than must go" if limit.overfull else places(limit.price, prices)
        table.add_row(limit.name, places(limit.hours, ends), places(limit.used, ends), price)
    return [Text(), table]


def _loads(plan: BookPlan) -> list[RenderableType]:
    if plan.hours_used <= 0 or plan.limits.hours <= 0 or plan.selection.overfull:
        return []
    if alike := words.loads_sentence(plan):
        return [Text(), Text(alike)]
    money, hours = plan.book.currency, [row.hours for row in plan.loads]
    headings = ("laser hours a year", f"saving, {money} a year", "wait of a lot, about")
    table = plain_table("hours of the line planned", *headings)
    for row in plan.loads:
        label = f"{words.percent(row.load, 0)} of {figures(plan.limits.hours)}"
        wait = words.about_hours(row.wait_h, within=plan.limits.hours / 2) if row.hours > 0 else "-"
        table.add_row(label, places(row.hours, hours), whole(row.saving), wait)
    return [Text(), table]


def _investment(plan: BookPlan) -> list[RenderableType]:
    case, money = plan.investment, plan.book.currency
    parts: list[RenderableType] = [Text(), Text("Does the line pay?", style="bold")]
    if case is None:
        return parts + [Text(f.message) for f in plan.findings if f.code == "book.no_purchase_price"]
    line = case.investment
    tax = f", {100 * line.tax_pa:g} % tax" if line.tax_pa else ", before tax"
    parts += [
        Text(words.share_sentence(plan)),
        Text(
            f"{whole(line.purchase)} {money} over {_many(line.life_years, 'year')} at {100 * line.interest_pa:g} % interest "
            f"above inflation{tax}; cash saving of the jobs that move."
        ),
    ]
    parts += [Text(words.TAX_NOTE)] if line.tax_pa else []
    parts += [Text(), _case(plan, case), *([Text(words.RANGE_NOTE)] if plan.saving_range else []), Text()]
    if alike := words.shifts_sentence(plan):
        return [*parts, Text(alike)]
    return [*parts, Text("If the jobs are chosen by cash saving", style="bold"), _shifts(plan), Text(words.SHIFT_NOTE)]


def _case(plan: BookPlan, case: InvestmentCase) -> Table:
    money, found = plan.book.currency, plan.saving_range
    table = plain_table("", "figure", *(["range"] if found else []))

    def add(label: str, value: str, low: float | None = None, high: float | None = None) -> None:
        span = [f"{whole(low)} to {whole(high)}"] if low is not None and high is not None else []
        table.add_row(label, value, *span)

    ends = (found.low, found.high) if found else (None, None)
    add(f"cash saving, {money} a year", whole(case.yearly_saving), *ends)
    add(f"net present value, {money}", whole(case.npv), case.npv_low, case.npv_high)
    add("payback, years", _years(case.payback_years))
    add("payback with interest, years", _years(case.discounted_payback_years))
    add(f"equivalent annual cost of the line, {money}", whole(case.equivalent_annual_cost))
    add(f"cash saving at which it just pays, {money} a year", whole(case.saving_needed))
    if case.pays:
        add("share of the cash saving that must come true", words.share_needed(plan) or "none")
    elif share := words.share_needed(plan):
        add("the cash saving must be", share)
    add("internal rate of return", _rate(case))
    return table


def _rate(case: InvestmentCase) -> str:
    rate = words.rate_of_return(case)
    if rate is not None:
        return words.percent(rate, 1)
    return "none that is unique" if len(case.irr.rates) > 1 else "none"


def _years(years: float | None) -> str:
    return "not within its life" if years is None else f"{years:.1f}"


def _shifts(plan: BookPlan) -> Table:
    money, used = plan.book.currency, [row.used for row in plan.shifts]
    headings = ("hours a year", "of them used", f"cash saving, {money} a year", f"net present value, {money}")
    table = plain_table("shifts a day", *headings)
    for row in plan.shifts:
        worth = "-" if row.npv is None else whole(row.npv)
        table.add_row(str(row.shifts), whole(row.hours), places(row.used, used), whole(row.saving), worth)
    return table


# -- jobs -------------------------------------------------------------------------------------------------------------


def _jobs(plan: BookPlan) -> list[RenderableType]:
    book, chosen = plan.book, plan.selection
    both = book.die_possible & book.laser_possible
    saving = _of_cartons(book, np.where(both, book.saving, 0.0))
    if len(book) <= _FEW:
        every = _by_carton(book, np.arange(len(book)), -saving)
        return [
            Text(),
            Text("All jobs, carton by carton, those that save most first", style="bold"),
            _job_table(plan, every),
        ]
    with np.errstate(divide="ignore", invalid="ignore"):
        nearness = np.abs(_of_cartons(book, np.where(both, chosen.worth, 0.0))) / _of_cartons(book, book.laser_hours)
    most = _by_carton(book, np.flatnonzero(chosen.on_laser & both & (saving > 0)), -saving)[:_SHOWN]
    near = np.flatnonzero(both & (book.pinned < 0) & np.isfinite(nearness))
    near = _by_carton(book, near, nearness)[:_SHOWN]
    parts: list[RenderableType] = []
    if len(most):
        title = "Jobs that save most, carton by carton"
        parts += [Text(), Text(title, style="bold"), _job_table(plan, most)]
    if len(near):
        parts += [
            Text(),
            Text("Jobs nearest the margin, carton by carton", style="bold"),
            Text("First the cartons whose saving per laser hour is nearest to what their hours are worth."),
            _job_table(plan, near),
        ]
    return parts


def _of_cartons(book: Book, values: np.ndarray) -> np.ndarray:
    """Return for each job the sum over all jobs of its carton."""
    return np.asarray(np.bincount(book.families, weights=values)[book.families])


def _by_carton(book: Book, jobs: np.ndarray, rank: np.ndarray) -> np.ndarray:
    """Return jobs with the cartons of the lowest rank first, and in a carton the largest saving first."""
    return jobs[np.lexsort((-book.saving[jobs], book.families[jobs], rank[jobs]))]


def _job_table(plan: BookPlan, jobs: np.ndarray) -> Table:
    book, money = plan.book, plan.book.currency
    table = plain_table("job", "carton", "goes to", f"saving, {money} a year", "laser hours a year", texts=3)
    table.add_column("because", overflow="fold", ratio=1, min_width=24)
    names, cartons, reasons = book.job_ids(), book.carton_ids(), words.ReasonWords(plan)
    for column, texts in zip(table.columns, (names, cartons), strict=False):
        column.no_wrap = max((len(texts[j]) for j in jobs.tolist()), default=0) <= _LONGEST_NAME
    both = book.die_possible & book.laser_possible
    savings, hours = book.saving[jobs[both[jobs]]].tolist(), book.laser_hours[jobs[book.laser_possible[jobs]]].tolist()
    for j in jobs.tolist():
        route = "laser" if plan.selection.on_laser[j] else "die" if book.die_possible[j] else "neither"
        table.add_row(
            _plain(names[j]),
            _plain(cartons[j]),
            route,
            places(book.saving[j], savings) if both[j] else "-",
            places(book.laser_hours[j], hours) if book.laser_possible[j] else "-",
            reasons.sentence(j),
        )
    return table


def _swings(plan: BookPlan) -> Table:
    money, rows = plan.book.currency, assumption_table()
    table = plain_table(f"what moves the cash saving most, {money} a year", "from", "to", "at low end", "at high end")
    for swing in plan.saving_range.swings[:_SHOWN] if plan.saving_range else ():
        row = rows[swing.name]
        unit = "" if row.unit == "-" else f", {row.unit_in(money)}"
        ends = (_signed(whole(swing.at_low)), _signed(whole(swing.at_high)))
        table.add_row(f"{swing.name}{unit}", f"{swing.low:g}", f"{swing.high:g}", *ends)
    return table


# -- remarks ----------------------------------------------------------------------------------------------------------


def _to_mend(plan: BookPlan) -> list[RenderableType]:
    """Return what waits, and what is noted, with its place, the remedy and, in quiet, the code."""
    shown: list[RenderableType] = []
    for title, waiting in (("Waiting to be mended", True), ("Notes on the order book", False)):
        lines = words.findings_shown(plan, waiting=waiting, most=_SHOWN)
        if not lines:
            continue
        block = Table.grid(padding=(0, 1))
        for line in lines:
            said = Text.assemble(_plain(f"{line.place}: {line.message}"))
            said.append_text(_plain(f" {line.remedy}" if line.remedy else ""))
            said.append(f" ({whole(line.alike)} x {line.code})" if line.alike > 1 else f" ({line.code})", style="dim")
            block.add_row("-", said)
        shown += [Text(f"\n{title}", style="bold"), block]
    if shown:
        shown.append(Text(_LISTING))
    return shown


def _remarks(plan: BookPlan) -> list[RenderableType]:
    found = [f for f in plan.findings if f.kind != "caution"]
    found += plan.investment.findings if plan.investment else ()
    shown: list[RenderableType] = []
    for title, lines in (
        ("Remarks on the plan", [words.spaced(f.message) for f in found if f.code not in _SAID]),
        ("Carbon", [wording.CARBON_SCOPE, words.NO_RANGE]),
        ("Not included", wording.NOT_INCLUDED),
        ("Cautions", words.CAUTIONS),
    ):
        if lines:
            shown.append(Text(f"\n{title}", style="bold"))
            block = Table.grid(padding=(0, 1))
            for line in lines:
                block.add_row("-", _plain(line))
            shown.append(block)
    return shown


def _plain(text: str, style: str = "") -> Text:
    """Return a text of a file so that it moves no cursor and colours nothing."""
    return Text("".join(c if c.isprintable() else "?" for c in text), style=style)


def _many(number: float, noun: str) -> str:
    return f"{whole(number)} {noun}{'' if number == 1 else 's'}"


def _signed(written: str) -> str:
    """Put a sign before a change; none before one that rounds to nothing."""
    if not written.strip("-0.,"):
        return written.lstrip("-")
    return written if written.startswith("-") else f"+{written}"
