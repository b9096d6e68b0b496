"""Ranges on screen: what a number may lie between, read from fields and cells, and said in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from compare.assumptions import assumption_table
from compare.decide.varied_inputs import varied_inputs
from compare.errors import EvenrunError, InputError
from compare.present.numbers import NumberStyle
from compare.spread import Given, Spread, given, read_given
from dashboard.settings import Settings
from dashboard.state import Ranges, State, scenario_of

SHAPES = ("triangular", "pert", "lognormal", "fixed")
End = Literal["low", "high"]
ENDS: tuple[End, End] = ("low", "high")
CELLS = (*ENDS, "shape")
"""Cells of a range among the assumptions."""


def given_of(ranges: Ranges, name: str) -> Given | None:
    """Return the range that was given for an input; ``None`` without one."""
    return read_given(ranges[name], name=name, where="page") if name in ranges else None


def varied_of(view: State, settings: Settings) -> Mapping[str, Spread]:
    """Return what is varied of a state, by dotted name; nothing where it can't be computed."""
    try:
        return check_view(view, settings)
    except EvenrunError:
        return {}


def check_view(view: State, settings: Settings) -> Mapping[str, Spread]:
    """Return what is varied of a state.

    Raises
    ------
    EvenrunError
        If values contradict one another, or a range was given to what can't have one.
    """
    return varied_inputs(scenario_of(view.overrides, settings, view.ranges), view.costing).spreads


def in_words(range_: Given, style: NumberStyle) -> str:
    """Say a range: ``4,000 to 9,000, pert``."""
    if range_.low is None or range_.high is None:
        return "fixed" if range_.gsd2 is None else f"lognormal {plain(range_.gsd2, style)}"
    return f"{plain(range_.low, style)} to {plain(range_.high, style)}, {range_.shape}"


def plain(number: float, style: NumberStyle) -> str:
    """Write a number with all the digits it was given with, ten at most."""
    return style.write(f"{number:,.10g}")


def cells_of(name: str, ranges: Ranges, varied: Mapping[str, Spread], style: NumberStyle) -> dict[str, str]:
    """Return what the cells of an input's range show: what is varied, empty where it is taken as known."""
    own, spread = given_of(ranges, name), varied.get(name)
    if spread is None:
        ends = own.low if own else None, own.high if own else None
        shape = "" if own is None else in_words(own, style) if own.low is None else own.shape
    else:
        ends = spread.low, spread.high
        by_factor = spread.shape == "lognormal"
        factor = (own.gsd2 if own else None) or (spread.high / spread.value if by_factor else 0.0)
        shape = f"lognormal {style.write(f'{factor:.4g}')}" if by_factor else spread.shape
    digits = 4 if shape.startswith("lognormal") else 10  # those of a lognormal are worked out
    low, high = ("" if end is None else style.write(f"{float(f'{end:.{digits}g}'):,.10g}") for end in ends)
    return {"low": low, "high": high, "shape": shape}


def changed_range(
    row: Mapping[str, Any], cell: str, ranges: Ranges, varied: Mapping[str, Spread], style: NumberStyle
) -> dict[str, str]:
    """Return the ranges of a page after one cell of a row was edited; an emptied cell takes the row's range back.

    Parameters
    ----------
    row : mapping
        Dotted name and what its cells show.
    cell : str
        Which of :data:`CELLS` was edited.
    ranges : mapping
        Given before.
    varied : mapping
        What is varied, by dotted name: ends left alone keep every digit.
    style : NumberStyle
        How the reader writes numbers.

    Raises
    ------
    InputError
        If it is no range.
    """
    name = str(row["name"])
    texts = {one: str(row.get(one) or "").strip() for one in CELLS}
    others = {n: text for n, text in ranges.items() if n != name}
    if not texts[cell]:
        return others
    shape = texts["shape"].partition(" ")[0]
    if cell == "shape" and shape not in ("triangular", "pert"):
        word, _, rest = texts["shape"].partition(" ")
        written = f"{word} {style.read(rest.strip())}" if rest else word
        return {**others, name: str(read_given(written, name=name, where="Assumptions"))}
    if cell != "shape" and shape == "lognormal" and name in varied:
        raise InputError(
            "its ends follow from its GSD2 while it is lognormal",
            where="Assumptions",
            remedy="choose another shape first, or write the shape with another GSD2, such as lognormal 1.2",
        )
    before = cells_of(name, ranges, varied, style)
    kept = varied[name] if name in varied and varied[name].shape != "lognormal" else None
    ends: dict[str, float] = {
        end: getattr(kept, end) if kept and texts[end] == before[end] else _number(texts[end], style) for end in ENDS
    }
    parts = {**ends, "shape": shape if shape == "pert" else "triangular"}
    return {**others, name: str(given(parts, name=name, where="Assumptions"))}


def _number(text: str, style: NumberStyle) -> float:
    if not text:
        raise InputError("it has one end only", where="Assumptions", remedy="give the other end, too")
    try:
        return float(style.read(text))
    except ValueError:
        raise InputError(f"'{text}' is no number", where="Assumptions", remedy="give a plain number") from None


def outside(range_: Given, value: float) -> bool:
    """Say whether a value lies outside the range that was given for it."""
    return range_.low is not None and range_.high is not None and not range_.low <= value <= range_.high


def may_vary(name: str) -> bool:
    """Say whether an input may have a range."""
    row = assumption_table()[name]
    return not row.is_text and not row.limits.switch
