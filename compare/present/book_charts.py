"""Chart specs of a year of orders: saving against hours, what a planned load brings and costs, one to three shifts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from compare.decide.book_plan import BookPlan
from compare.present.book_wording import about_hours
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
            yield (mark.hours, mark.saving, "", f"{mark.load:.0%} of the hours")
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
    return SavingChart(
        title=f"Saving against hours of the line, {currency} a year",
        x=Axis("Hours of the line that may be planned", "h a year"),
        y=Axis("Saving", f"{currency} a year"),
        hours=tuple(plan.curve_hours.tolist()),
        bound=tuple(np.asarray(plan.curve.bound).tolist()),
        saving=tuple(np.asarray(plan.curve.saving).tolist()),
        chosen=LoadMark(1.0, limit, saving),
        marks=marks,
        summary=(
            f"Saving rises with the hours of the line, ever more slowly; {half}"
            f"this plan saves {figures(saving)} {currency} a year within {figures(limit)} h."
        ),
    )


def _hours_of_half(plan: BookPlan) -> str:
    saving = np.asarray(plan.curve.saving)
    if not len(saving) or saving[-1] <= 0:
        return ""
    hours = float(plan.curve_hours[int(np.argmax(saving >= saving[-1] / 2))])
    return f"half of what the orders offer takes about {figures(hours, 2)} h; "


def load_chart(plan: BookPlan, style: NumberStyle = PLAIN) -> PanelChart:
    """Return what planned loads save, beside about how long a lot waits."""
    currency, loads = plan.book.currency, plan.loads
    names = tuple(f"{row.load:.0%}".replace("%", " %") for row in loads)
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
            Panel(
                "Saving",
                f"{currency} a year",
                tuple(row.saving for row in loads),
                tuple(figures(row.saving, style=style) for row in loads),
            ),
            Panel("Wait of a lot, about", "staffed h", waits, tuple(about_hours(row.wait_h, style) for row in loads)),
        ),
        summary=f"{'; '.join(words)}.",
    )


def shift_chart(plan: BookPlan, style: NumberStyle = PLAIN) -> PanelChart:
    """Return cash saving, and what the line is worth, with one to three shifts."""
    currency, shifts = plan.book.currency, plan.shifts
    names = tuple(f"{row.shifts} shift{'s' if row.shifts > 1 else ''}, {whole(row.hours, style)} h" for row in shifts)
    panels = [
        Panel(
            "Cash saving",
            f"{currency} a year",
            tuple(row.saving for row in shifts),
            tuple(figures(row.saving, style=style) for row in shifts),
        )
    ]
    if all(math.isfinite(row.npv) for row in shifts):
        panels.append(
            Panel(
                "Net present value",
                currency,
                tuple(row.npv for row in shifts),
                tuple(figures(row.npv, style=style) for row in shifts),
            )
        )
    words = (
        f"{name}: {panels[0].title.lower()} {figures(row.saving)} {currency} a year"
        for name, row in zip(names, shifts, strict=True)
    )
    worth = f"; net present value {', '.join(figures(row.npv) for row in shifts)} {currency}" if len(panels) > 1 else ""
    return PanelChart(
        title="One, two and three shifts a day",
        category="Shifts a day, hours a year",
        categories=names,
        panels=tuple(panels),
        summary=f"{'; '.join(words)}{worth}.",
    )
