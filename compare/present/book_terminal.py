"""The plan of a year of orders for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from compare.assumptions import assumption_table
from compare.decide.book_plan import BookPlan
from compare.decide.investment import InvestmentCase
from compare.present import book_wording as words
from compare.present import wording
from compare.present.book_record import freed_press_hours, plant_texts
from compare.present.numbers import figures, whole
from compare.present.terminal import plain_table
from compare.readers.jobfile import Layer

_SHOWN = 10
"""Jobs, assumptions or kinds of findings that a list shows."""

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
    size = f"{_many(book.rows_in, 'order')}, {_many(len(book), 'job')} of {_many(book.jobs.families, 'carton')}"
    parts: list[RenderableType] = [
        _plain(book.table.source, style="bold"),
        Text(f"{size}. {words.JOB_MEANS}"),
        Text(
            f"{plant} · {_COSTINGS[book.costing]} · {book.currency} · grid {texts['plant.country'].upper()}",
            style="dim",
        ),
        Text(),
        Text(words.answer_sentence(plan), style="bold"),
        *(Text(line) for line in _answers(plan) if line),
    ]
    if waiting := words.findings_sentence(plan):
        parts.append(Text(f"{waiting} {_LISTING}", style="bold"))
    parts += [Text(), _year(plan), Text(), _loads(plan)]
    parts += _investment(plan)
    parts += _jobs(plan)
    if plan.saving_range:
        parts += [Text(), _swings(plan)]
    parts += _remarks(plan)
    return Group(*parts)


def _answers(plan: BookPlan) -> Iterable[str]:
    money, before, after = plan.book.currency, plan.before.cost, plan.after.cost
    yield f"Cost of all orders: {whole(before)} {money} a year before, {whole(after)} {money} after."
    yield words.gap_sentence(plan)
    yield words.hour_sentence(plan)
    if freed := freed_press_hours(plan):
        yield f"{figures(freed)} press hours a year become free."
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
        table.add_row(label, figures(one), figures(other), _signed(other - one))
    if not plan.book.die_possible.all():
        table.columns[1].header = "all on the die that it can make"
    return table


def _loads(plan: BookPlan) -> Table:
    money = plan.book.currency
    table = plain_table("hours of the line planned", "hours of jobs", f"saving, {money} a year", "wait of a lot, about")
    for row in plan.loads:
        label = f"{100 * row.load:.0f} % of {figures(plan.limits.hours)}"
        table.add_row(label, figures(row.hours), whole(row.saving), words.about_hours(row.wait_h))
    return table


def _investment(plan: BookPlan) -> list[RenderableType]:
    case, money = plan.investment, plan.book.currency
    parts: list[RenderableType] = [Text(), Text("Does the line pay?", style="bold")]
    if case is None:
        return parts
    line = case.investment
    tax = f", {100 * line.tax_pa:g} % tax" if line.tax_pa else ", before tax"
    parts.append(
        Text(
            f"{whole(line.purchase)} {money} over {_many(line.life_years, 'year')} at {100 * line.interest_pa:g} % interest "
            f"above inflation{tax}; cash saving of the jobs that move."
        )
    )
    parts += [Text(words.share_sentence(plan))] if words.share_sentence(plan) else []
    parts += [Text(), _case(plan, case), Text(), _shifts(plan), Text(words.SHIFT_NOTE)]
    return parts


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
    add("share of the cash saving that must come true", words.share_needed(plan) or "no share would do")
    add("internal rate of return", _rate(case))
    return table


def _rate(case: InvestmentCase) -> str:
    if len(case.irr.rates) != 1 or case.irr.caveat or not math.isfinite(case.irr.rates[0]):
        return "none that is unique"
    return f"{100 * case.irr.rates[0]:.1f} %"


def _years(years: float | None) -> str:
    return "not within its life" if years is None else f"{years:.1f}"


def _shifts(plan: BookPlan) -> Table:
    money = plan.book.currency
    headings = ("hours a year", "of them used", f"cash saving, {money} a year", f"net present value, {money}")
    table = plain_table("shifts a day", *headings)
    for row in plan.shifts:
        worth = "-" if row.npv is None else whole(row.npv)
        table.add_row(str(row.shifts), whole(row.hours), figures(row.used), whole(row.saving), worth)
    return table


def _jobs(plan: BookPlan) -> list[RenderableType]:
    book, chosen = plan.book, plan.selection
    both = book.die_possible & book.laser_possible
    free = both & (book.pinned < 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        nearness = np.abs(chosen.worth) / book.laser_hours
    most = np.flatnonzero(chosen.on_laser & both & (book.saving > 0))
    most = most[np.argsort(-book.saving[most], kind="stable")][:_SHOWN]
    near = np.flatnonzero(free & np.isfinite(nearness))
    near = near[np.argsort(nearness[near], kind="stable")][:_SHOWN]
    parts: list[RenderableType] = []
    if len(most):
        parts += [Text(), Text("Jobs that save most", style="bold"), _job_table(plan, most)]
    if len(near):
        parts += [Text(), Text("Jobs nearest the margin", style="bold"), _job_table(plan, near)]
    return parts


def _job_table(plan: BookPlan, jobs: np.ndarray) -> Table:
    book, money = plan.book, plan.book.currency
    table = plain_table("job", "carton", "goes to", f"saving, {money} a year", "laser hours", texts=3)
    table.add_column("because", overflow="fold", ratio=1)
    names, cartons, reasons = book.job_ids(), book.carton_ids(), words.ReasonWords(plan)
    for j in jobs.tolist():
        route = "laser" if plan.selection.on_laser[j] else "die"
        table.add_row(
            _plain(names[j]), _plain(cartons[j]), route, figures(book.saving[j]), figures(book.laser_hours[j]),
            reasons.sentence(j),
        )  # fmt: skip
    return table


def _swings(plan: BookPlan) -> Table:
    money, rows = plan.book.currency, assumption_table()
    table = plain_table(f"what moves the cash saving most, {money} a year", "from", "to", "at low end", "at high end")
    for swing in plan.saving_range.swings[:_SHOWN] if plan.saving_range else ():
        row = rows[swing.name]
        unit = "" if row.unit == "-" else f", {row.unit_in(money)}"
        table.add_row(
            f"{swing.name}{unit}", f"{row.low:g}", f"{row.high:g}", _signed(swing.at_low), _signed(swing.at_high)
        )
    return table


def _remarks(plan: BookPlan) -> list[RenderableType]:
    found = [*plan.findings, *(plan.investment.findings if plan.investment else ())]
    kinds = words.findings_by_code(plan)
    mend = [f"{whole(number)} x {code}: {message}" for code, number, message in kinds[:_SHOWN]]
    if kinds:
        mend.append(_LISTING)
    shown: list[RenderableType] = []
    for title, lines in (
        ("To mend in the order book", mend),
        ("Findings", [f.message for f in found]),
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


def _signed(value: float) -> str:
    return f"{'+' if value > 0 else ''}{figures(value)}"
