"""Chart specs of a year of orders: saving against hours, what a planned load brings and costs, one to three shifts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from compare.decide.book_plan import BookPlan
from compare.present.book_wording import about_hours, percent
from compare.present.charts import Axis
from compare.present.numbers import PLAIN, NumberStyle, figures, whole


class LoadMark(NamedTuple):
    """What a planned load comes to, on the curve of savings."""

    load: float
    """Share of the line's hours that may be planned [-]."""
    hours: float
    """That share in hours [h/y]."""
    saving: float
    """What the jobs save that fit [money/y]."""


@dataclass(frozen=True)
class SavingChart:
    """Saving of a year against the hours of the line that may be planned.

    Attributes
    ----------
    title : str
        What it shows, with the unit.
    x, y : Axis
        Hours, and saving.
    hours, bound, saving : tuple of float
        Hours; what the saving can't exceed; what whole jobs save that fit.
    chosen : LoadMark
        The plan at hand.
    marks : tuple of LoadMark
        Planned loads below it.
    summary : str
        The chart in words.
    """

    title: str
    x: Axis
    y: Axis
    hours: tuple[float, ...]
    bound: tuple[float, ...]
    saving: tuple[float, ...]
    chosen: LoadMark
    marks: tuple[LoadMark, ...]
    summary: str

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the chart's numbers; the plan and the loads follow the curve."""
        yield (self.x.title, f"{self.y.title}: jobs that fit", f"{self.y.title}: no choice saves more", "point")
        for hours, saving, bound in zip(self.hours, self.saving, self.bound, strict=True):
            yield (hours, saving, bound, "")
        for mark in self.marks:
            yield (mark.hours, mark.saving, "", f"{percent(mark.load, 0)} of the hours")
        yield (self.chosen.hours, self.chosen.saving, "", "this plan")


@dataclass(frozen=True)
class Panel:
    """Bars of one quantity.

    Attributes
    ----------
    title, unit : str
        What it shows, and in which unit.
    values : tuple of float or None
        One per category; ``None`` where it has no end.
    labels : tuple of str
        What stands at each bar.
    """

    title: str
    unit: str
    values: tuple[float | None, ...]
    labels: tuple[str, ...]

    @property
    def heading(self) -> str:
        """Title with its unit."""
        return f"{self.title}, {self.unit}"


@dataclass(frozen=True)
class PanelChart:
    """Several quantities side by side over the same categories, each on a scale of its own.

    Attributes
    ----------
    title : str
        What it shows.
    category : str
        What the categories are.
    categories : tuple of str
        Their names.
    panels : tuple of Panel
        One per quantity.
    summary : str
        The chart in words.
    """

    title: str
    category: str
    categories: tuple[str, ...]
    panels: tuple[Panel, ...]
    summary: str

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the chart's numbers."""
        yield (self.category, *(panel.heading for panel in self.panels))
        for place, name in enumerate(self.categories):
            values = (panel.values[place] for panel in self.panels)
            yield (name, *("without end" if value is None else value for value in values))


BookChart = SavingChart | PanelChart


def book_charts(plan: BookPlan, style: NumberStyle = PLAIN) -> dict[str, BookChart]:
    """Return the charts of a plan by name, with labels in the reader's way of writing numbers."""
    return {"saving": saving_chart(plan), "loads": load_chart(plan, style), "shifts": shift_chart(plan, style)}


def saving_chart(plan: BookPlan) -> SavingChart:
    """Return saving against hours of the line."""
    currency, limit = plan.book.currency, plan.limits.hours
    marks = tuple(LoadMark(row.load, row.load * limit, row.saving) for row in plan.loads if row.load < 1)
    saving = float(plan.selection.saving)
    half = _hours_of_half(plan)
    saved = np.asarray(plan.curve.saving)
    known = np.isfinite(saved)  # with too few hours for what must go to the laser there is no choice
    return SavingChart(
        title=f"Saving against hours of the line, {currency} a year",
        x=Axis("Hours of the line that may be planned", "h a year"),
        y=Axis("Saving", f"{currency} a year"),
        hours=tuple(plan.curve_hours[known].tolist()),
        bound=tuple(np.asarray(plan.curve.bound)[known].tolist()),
        saving=tuple(saved[known].tolist()),
        chosen=LoadMark(1.0, limit, saving),
        marks=marks,
        summary=(
            f"Saving rises with the hours of the line, ever more slowly; {half}"
            f"this plan saves {figures(saving)} {currency} a year within {figures(limit)} h."
        ),
    )


def _hours_of_half(plan: BookPlan) -> str:
    saving = np.asarray(plan.curve.saving)
    if not saving[-1] > 0:
        return ""
    hours = float(plan.curve_hours[int(np.argmax(saving >= saving[-1] / 2))])
    return f"half of what the orders offer takes about {figures(hours, 2)} h; "


def _money_panel(title: str, values: tuple[float, ...], unit: str, style: NumberStyle) -> Panel:
    """Return a panel of money, in thousands or millions where the amounts are large."""
    largest = max((abs(value) for value in values), default=0.0)
    factor, word = (1e6, "million ") if largest >= 1e8 else (1e3, "thousand ") if largest >= 1e5 else (1.0, "")
    scaled = [value / factor for value in values]
    return Panel(title, f"{word}{unit}", tuple(scaled), tuple(figures(value, style=style) for value in scaled))


def load_chart(plan: BookPlan, style: NumberStyle = PLAIN) -> PanelChart:
    """Return what planned loads save, beside about how long a lot waits."""
    currency, loads = plan.book.currency, plan.loads
    names = tuple(percent(row.load, 0) for row in loads)
    waits = tuple(row.wait_h if math.isfinite(row.wait_h) else None for row in loads)
    words = (
        f"{name} of the hours: {figures(row.saving)} {currency} a year, a lot waits about {about_hours(row.wait_h)}"
        for name, row in zip(names, loads, strict=True)
    )
    return PanelChart(
        title="What a planned load saves, and about how long lots wait",
        category="Share of the line's hours that is planned",
        categories=names,
        panels=(
            _money_panel("Saving", tuple(row.saving for row in loads), f"{currency} a year", style),
            Panel("Wait of a lot, about", "staffed h", waits, tuple(_wait_label(row.wait_h, style) for row in loads)),
        ),
        summary=f"{'; '.join(words)}.",
    )


def _wait_label(hours: float, style: NumberStyle) -> str:
    """Return an estimated wait in as few characters as a bar has room for."""
    if not math.isfinite(hours):
        return "no end"
    return about_hours(hours, style).removesuffix(" h").replace("hardly any", style.write("< 0.1"))


def shift_chart(plan: BookPlan, style: NumberStyle = PLAIN) -> PanelChart:
    """Return cash saving, and what the line is worth, with one to three shifts."""
    currency, shifts = plan.book.currency, plan.shifts
    names = tuple(f"{row.shifts} shift{'s' if row.shifts > 1 else ''}, {whole(row.hours)} h" for row in shifts)
    panels = [_money_panel("Cash saving", tuple(row.saving for row in shifts), f"{currency} a year", style)]
    worths = tuple(row.npv for row in shifts if row.npv is not None)  # none without the price of the line
    if worths:
        panels.append(_money_panel("Net present value", worths, currency, style))
    words = (
        f"{name}: cash saving {figures(row.saving)} {currency} a year" for name, row in zip(names, shifts, strict=True)
    )
    worth = f"; net present value {', '.join(map(figures, worths))} {currency}" if worths else ""
    return PanelChart(
        title="One, two and three shifts a day",
        category="Shifts a day, hours a year",
        categories=names,
        panels=tuple(panels),
        summary=f"{'; '.join(words)}{worth}.",
    )
