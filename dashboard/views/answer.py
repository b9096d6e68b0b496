"""What a job comes to, in words: the answer, carbon and waste, each as far as it is sure."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import html

from compare.decide.comparison import Comparison, RouteResult
from compare.decide.evaluate import Measure
from compare.decide.uncertainty import Uncertainty
from compare.present import sure_wording, wording
from compare.present.numbers import NumberStyle, figures


def answer_panel(
    c: Comparison, unsure: Uncertainty | None, style: NumberStyle, price_factor: float = 1.0, why_not: str = ""
) -> list[Any]:
    """Return the answer: one sentence in large type that goes as far as the draws carry, the rest quieter.

    Parameters
    ----------
    c : Comparison
        The job at its values.
    unsure : Uncertainty or None
        How sure it is; ``None`` where that can't be said.
    style : NumberStyle
        How the reader writes numbers.
    price_factor : float
        Turns cost into price.
    why_not : str
        Why it can't be said how sure it is.
    """
    both = unsure is not None and unsure.laser_cheaper is not None
    if unsure is None or not both:
        said, quiet = wording.answer(c, style, price_factor), [why_not, wording.takeover(c, style)]
    else:
        said = sure_wording.sure_answer(unsure, style, price_factor)
        quiet = [sure_wording.how_sure(unsure, style, price_factor), sure_wording.sure_takeover(unsure, style)]
    quiet.append(wording.lead_time(c, style))
    return [
        dmc.Title(said, order=1, className="answer"),
        html.P(" ".join(filter(None, quiet)), className="quiet"),
    ]


def carbon_panel(c: Comparison, unsure: Uncertainty | None, style: NumberStyle) -> list[Any]:
    """Return which route emits less, and by how much."""
    return _difference(c, unsure, style, "co2e", [wording.CARBON_SCOPE])


def waste_panel(c: Comparison, unsure: Uncertainty | None, style: NumberStyle, *, of_parts: bool = True) -> list[Any]:
    """Return which route wastes less board, by how much, and of what it is made up."""
    return _difference(c, unsure, style, "waste", _waste_parts(c, style) if of_parts else [])


def _difference(
    c: Comparison, unsure: Uncertainty | None, style: NumberStyle, measure: Measure, more: list[str]
) -> list[Any]:
    """Return which route needs less, in large type, and both values below."""
    die, laser = ((r.co2e_per_1000 if measure == "co2e" else r.waste_per_1000) for r in (c.die, c.laser))
    both = [
        f"{name} {figures(value, style=style)}"
        for name, value, route in (("die", die, c.die), ("laser", laser, c.laser))
        if route.feasible
    ]
    said = (
        wording.difference(c, "kg", die, laser, style)
        if unsure is None
        else sure_wording.sure_difference(unsure.at_quote[measure].get("difference"), "kg", style)
    )
    reach = "In 8 cases of 10. At the values: " if unsure is not None and len(both) > 1 else ""
    ranges = wording.ranges(c.break_even[measure], style)
    return [
        html.P(said, className="large"),
        html.P(f"{reach}{', '.join(both)} kg." if both else "", className="quiet"),
        html.P(f"Lower, by run length: {ranges}.", className="quiet"),
        *(html.P(text, className="quiet") for text in more),
    ]


def _waste_parts(c: Comparison, style: NumberStyle) -> list[str]:
    def of(route: RouteResult) -> str:
        b, k = route.balance, route.thousands
        return (
            f"spoilage {figures(float(b.spoilage) / k, style=style)}, trim {figures(float(b.trim) / k, style=style)}, "
            f"overs {figures(float(b.overs) / k, style=style)}"
        )

    return [f"{name}: {of(r)} kg." for name, r in (("die", c.die), ("laser", c.laser)) if r.feasible]


def curves_note() -> Any:
    """Return what stands below the curves: what is shaded, and where the lines run."""
    return html.P(
        "Shaded beside each line: 8 cases in 10. A line runs at the values themselves, so it can leave its band where "
        "they lie near one end of their ranges.",
        className="quiet",
    )
