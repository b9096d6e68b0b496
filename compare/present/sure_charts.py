"""What drives the answer, as a chart spec: the tornado."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from compare.assumptions import assumption_table
from compare.decide.uncertainty import Uncertainty
from compare.present.numbers import count, figures
from compare.present.sure_wording import meaning

_BARS = 10


class Bar(NamedTuple):
    """One input: its ends in words, and the difference at either end and over the lowest and highest fifth."""

    name: str
    label: str
    low: str
    high: str
    at_low: float
    at_high: float
    mean_lowest: float
    mean_highest: float
    worth_per_year: float


@dataclass(frozen=True)
class TornadoChart:
    """What moves the difference between both routes most.

    Attributes
    ----------
    title : str
        What it shows, with the unit.
    unit : str
        Unit of the difference.
    base : float
        Laser less die at the values themselves.
    middle : float
        Laser less die that half of all cases lie below.
    bars : tuple of Bar
        Widest first.
    left_out : int
        How many narrower ones there are.
    summary : str
        The chart in words.
    currency : str
        Currency of the worth of measuring.
    """

    title: str
    unit: str
    base: float
    middle: float
    bars: tuple[Bar, ...]
    left_out: int
    summary: str
    currency: str

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the chart's numbers."""
        yield (
            "input",
            "what it is",
            "low",
            "high",
            *(
                f"{what}, {self.unit}"
                for what in ("at low", "at high", "mean over lowest fifth", "mean over highest fifth")
            ),
            f"worth of measuring, {self.currency} per year",
        )
        yield from self.bars


def tornado_chart(unsure: Uncertainty, *, most: int = _BARS) -> TornadoChart | None:
    """Return what moves the difference most; ``None`` where only one route is possible or nothing moves it."""
    if unsure.base_difference is None or not unsure.drivers:
        return None
    currency, table = unsure.comparison.scenario.currency, assumption_table()
    bars = []
    for d in unsure.drivers[:most]:
        unit = table[d.name].unit_in(currency)
        unit = "" if unit in ("-", "0/1") else f" {unit}"
        bars.append(
            Bar(
                d.name,
                f"{meaning(d)[:1].upper()}{meaning(d)[1:]}",
                f"{_end(d.low)}{unit}",
                f"{_end(d.high)}{unit}",
                d.at_low,
                d.at_high,
                d.mean_lowest,
                d.mean_highest,
                d.worth_per_year,
            )
        )
    first = bars[0]
    return TornadoChart(
        title=f"What moves the difference most: laser less die, {currency} per 1,000",
        unit=f"{currency} per 1,000 good cartons",
        base=unsure.base_difference,
        middle=unsure.at_quote["cost"]["difference"].p50,
        bars=tuple(bars),
        left_out=len(unsure.drivers) - len(bars),
        summary=f"Laser less die is {figures(unsure.base_difference)} {currency} per 1,000. Most of all it depends on "
        f"{first.label[:1].lower()}{first.label[1:]}: {figures(first.at_low)} at {first.low}, {figures(first.at_high)} at {first.high}.",
        currency=currency,
    )


def _end(value: float) -> str:
    return count(value) if value == round(value) else figures(value)
