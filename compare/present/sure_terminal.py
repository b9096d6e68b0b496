"""How sure an answer is, in the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from compare.decide.quantiles import Quantiles
from compare.decide.route_draws import Which
from compare.decide.uncertainty import Uncertainty
from compare.decide.variance_shares import VarianceShare
from compare.present import sure_wording as wording
from compare.present.numbers import figures, places
from compare.present.sure_charts import tornado_chart
from compare.present.terminal import plain_table

_MEASURES = {"cost": "cost", "co2e": "CO2e", "waste": "waste board"}
_LABELS: dict[Which, str] = {"die": "die", "laser": "laser", "difference": "laser less die"}


def sure_view(unsure: Uncertainty, shares: Sequence[VarianceShare] | None = None) -> RenderableType:
    """Return what is uncertain of a comparison, as a person likes to read it."""
    lines = [
        wording.how_sure(unsure),
        wording.where_values_lie(unsure),
        wording.sure_takeover(unsure),
        wording.worth_knowing(unsure),
    ]
    parts: list[RenderableType] = [Text("\nHow sure", style="bold")]
    parts += [Text(line) for line in lines if line]
    parts += [Text(), _quantile_table(unsure)]
    if (tornado := _tornado_table(unsure)) is not None:
        parts += [Text(), tornado]
    if shares:
        parts += [Text(), _share_table(shares)]
    said = Table.grid(padding=(0, 1))
    for line in wording.what_was_varied(unsure):
        said.add_row("-", Text(line))
    return Group(*parts, Text(), said)


def _quantile_table(unsure: Uncertainty) -> Table:
    table = plain_table("per 1,000 good cartons", "route", "P10", "P50", "P90", texts=2)
    for measure, by_route in unsure.at_quote.items():
        unit = unsure.comparison.scenario.currency if measure == "cost" else "kg"
        for which, found in by_route.items():
            table.add_row(f"{_MEASURES[measure]}, {unit}", _LABELS[which], *_levels(found))
    return table


def _levels(found: Quantiles) -> list[str]:
    column = [found.p10, found.p50, found.p90]
    halves = [found.half_p10, found.half_p50, found.half_p90]
    return [f"{places(q, column)} ±{figures(half, 2)}" for q, half in zip(column, halves, strict=True)]


def _tornado_table(unsure: Uncertainty) -> Table | None:
    chart = tornado_chart(unsure)
    if chart is None:
        return None
    columns = ("at low", "at high", "lowest fifth", "highest fifth")
    table = plain_table("input", "range", *columns, f"worth, {chart.currency}/y", texts=2)
    table.title, table.title_style, table.title_justify = chart.title, "", "left"
    table.columns[0].no_wrap = table.columns[1].no_wrap = True
    numbers = [(bar.at_low, bar.at_high, bar.mean_lowest, bar.mean_highest) for bar in chart.bars]
    everything = [value for row in numbers for value in row]
    for bar, row in zip(chart.bars, numbers, strict=True):
        worth = figures(bar.worth_per_year, 2) if bar.worth_per_year else "-"
        span = f"{bar.low.partition(' ')[0]} to {bar.high}"
        table.add_row(bar.name, span, *(places(value, everything) for value in row), worth)
    table.add_section()
    at_values = places(chart.base, everything)
    table.add_row("all at their values", "", at_values, at_values, "", "", "")
    return table


def _share_table(shares: Sequence[VarianceShare], most: int = 10) -> Table:
    table = plain_table("share of the variance of laser less die", "alone", "with the others")
    for share in shares[:most]:
        table.add_row(share.name, f"{share.alone:.0%}", f"{share.total:.0%}")
    return table
