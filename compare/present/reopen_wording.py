"""What became of a quote's figures, in sentences and tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Literal

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from compare.assumptions import assumption_table
from compare.present.numbers import figures, places
from compare.present.terminal import plain_table
from compare.present.wording import NAMES
from compare.quotes.changes import Change, ChangeKind
from compare.quotes.quote_record import ROUTES, RouteName, Value
from compare.quotes.reopen import Reopened

_KINDS: dict[ChangeKind, str] = {
    "assumption": "table of assumptions",
    "tables": "tables",
    "factor": "emission factor",
    "plant value": "plant",
    "range": "range",
    "layer": "left out today",
    "program": "program",
    "drawing": "drawing",
}
_ROUNDING = 1e-9
_LEAST_PERCENT = 1e-4


Measure = Literal["cost", "co2e_kg", "waste_kg"]
"""What a change is told to do: attributes of :class:`~compare.quotes.changes.Effect`."""

_NOTHING = 5e-7
"""Money or kg per 1,000 cartons that is shown as none."""


def reopen_answer(opened: Reopened) -> str:
    """Say in one sentence whether the figures are the same."""
    if opened.same:
        return "Same figures: the quote was computed again and nothing has changed."
    count = len(opened.changes)
    what = (
        f"{count} {'thing has' if count == 1 else 'things have'} changed since" if count else "The inputs are the same"
    )
    by_measure = {measure: _moves(opened, measure) for measure in _FIGURES}
    ranges = any(change.kind == "range" for change in opened.changes)
    moves = [text for texts in by_measure.values() for text in texts]
    if not moves:
        if any(figure.differs for figure in opened.figures):
            moves.append("costs, CO2e and waste are the same, but other figures moved")
        elif ranges:
            return f"{what}: the cost figures are the same, but how sure they are may not be."
        else:
            return f"{what}, and the figures are the same."
    elif not by_measure["cost"]:
        moves.insert(0, "the costs are the same")
    if ranges:
        moves.append("how sure the figures are may have changed, too")
    return f"{what}: {'; '.join(moves)}."


_FIGURES: dict[Measure, str] = {
    "cost": "cost_per_1000",
    "co2e_kg": "co2e_kg_per_1000",
    "waste_kg": "waste_kg_per_1000",
}
"""The figure of a route that each is about."""

_OF: dict[Measure, str] = {"cost": "", "co2e_kg": "CO2e of ", "waste_kg": "waste board of "}


def _moves(opened: Reopened, measure: Measure) -> list[str]:
    """Say of each route how one of its figures has moved, if it has."""
    return [text for route in ROUTES if (text := _moved(opened, route, measure))]


def _moved(opened: Reopened, route: RouteName, measure: Measure) -> str:
    before, after = (results.route(route).figures for results in (opened.record.results, opened.results))
    name = NAMES[route]
    if before is None or after is None:
        if before is after or measure != "cost":
            return ""
        return f"{name} {'can make it now' if before is None else 'can no longer make it'}"
    old, new = (float(getattr(figures_of, _FIGURES[measure])) for figures_of in (before, after))
    if math.isclose(old, new, rel_tol=_ROUNDING):
        return ""
    verb, unit = ("costs", opened.record.currency) if measure == "cost" else ("is", "kg")
    subject = f"{_OF[measure]}{name} {verb}"
    a, b = places(old, [new]), places(new, [old])
    if a == b:
        return f"{subject} {figures(abs(new - old), 2)} {unit} {'more' if new > old else 'less'} per 1,000"
    return f"{subject} {b} {unit} per 1,000, was {a}"


def pinned_sentence(opened: Reopened) -> str:
    """Say what today's program makes of the numbers of then."""
    pinned, begin = opened.pinned, "With the values of then, today's program"
    if pinned.exact:
        return f"{begin} gives the same figures to the last digit."
    if math.isinf(pinned.share):
        return f"{begin} answers otherwise: which route is possible or cheaper, or how it works, has changed."
    if pinned.share > _ROUNDING:
        moved = "; the break-even moved" if pinned.break_even_moved else ""
        return f"{begin} differs by {_percent(pinned.share)} in a figure{moved}."
    if pinned.break_even_moved:
        return f"{begin} gives the same figures, but the break-even moved."
    if pinned.differs:
        return f"{begin} gives the same figures, but other reasons why a route is not possible."
    return f"{begin} gives the same figures but for rounding."


def _percent(share: float) -> str:
    return f"up to {share:.2%}" if share >= _LEAST_PERCENT else f"less than {_LEAST_PERCENT:.2%}"


def reopen_view(opened: Reopened) -> RenderableType:
    """Return what a reopened quote says, as a person likes to read it."""
    record = opened.record
    made = f"made on {record.asked.made_on:%Y-%m-%d}, prices until {record.asked.valid_until:%Y-%m-%d}"
    parts: list[RenderableType] = [
        Text(f"{record.name} for {record.asked.client or 'no client'}", style="bold"),
        Text(f"{record.plant} · {made} · program {opened.program[0]}, tables {opened.tables[0]}", style="dim"),
        Text(),
        Text(reopen_answer(opened), style="bold"),
        Text(pinned_sentence(opened)),
    ]
    if record.drawing is not None:
        parts.append(Text(f"Drawing {record.drawing.name}: {drawing_words(opened)}."))
    if opened.changes:
        parts += [Text(), change_table(opened.changes, record.currency)]
        parts.append(
            Text("What each change does alone, per 1,000 good cartons; together they need not add up.", style="dim")
        )
    return Group(*parts)


def drawing_words(opened: Reopened) -> str:
    """Say what the carton was computed from: its drawing's measures of then, or its file."""
    drawn, named = opened.record.drawing, " and ".join(opened.drawing_files)
    several = len(opened.drawing_files) > 1
    if opened.drawing == "not in the folder":
        return f"its measures of then stand; {named} {'are' if several else 'is'} not in the folder"
    if opened.drawing == "another file":
        others = "are other files" if several else "is another file"
        return f"{named} {others} than then, and today's figures are from {'them' if several else 'it'}"
    if opened.drawing == "same file":
        return "the same file as then"
    if drawn is not None and not drawn.sha256:
        return "its measures of then stand; the quote was made without its file"
    return "its measures of then stand; its file was not asked for"


def change_table(changes: Sequence[Change], currency: str) -> Table:
    """Return changes as a table, with what each did to the cost of either route, and to CO2e and waste where one did."""
    columns = effect_columns(changes, currency)
    table = plain_table("changed", "what", "before", "after", *columns, texts=4)
    for change in changes:
        table.add_row(
            kind_of(change),
            change.name,
            shown(change.before),
            f"{shown(change.after)} {change.unit.replace('money', currency)}".rstrip(" -"),
            *(effect_of(change, route, measure) for route, measure in columns.values()),
        )
    return table


def effect_columns(changes: Sequence[Change], currency: str) -> dict[str, tuple[RouteName, Measure]]:
    """Return the columns of effects that a table of changes needs: heading to route and measure.

    Parameters
    ----------
    changes : sequence of Change
        Rows of the table. Kilograms have columns only where a change moves them.
    currency : str
        Currency of the costs.
    """
    units: dict[Measure, str] = {"cost": currency, "co2e_kg": "kg CO2e", "waste_kg": "kg waste"}
    return {
        f"{route}, {unit}": (route, measure)
        for measure, unit in units.items()
        if measure == "cost" or any(_moves_any(change, measure) for change in changes)
        for route in ROUTES
    }


def _moves_any(change: Change, measure: Measure) -> bool:
    return any(effect_of(change, route, measure) not in ("-", "0") for route in ROUTES)


def shown(value: Value | None) -> str:
    """Return a value as it is shown: with the digits that tell it from another."""
    return "none" if value is None else value if isinstance(value, str) else f"{value:,.8g}"


def kind_of(change: Change) -> str:
    """Return where a change is from, in words."""
    return _KINDS[change.kind]


def effect_of(change: Change, route: RouteName, measure: Measure = "cost") -> str:
    """Return what a change does alone to a route, signed: money, kg CO2e or kg of waste board, per 1,000."""
    effect = change.effects.get(route)
    if effect is None:
        return "-"
    value = float(getattr(effect, measure))
    return "0" if abs(value) < _NOTHING else f"{'+' if value > 0 else '-'}{figures(abs(value))}"


def meaning(name: str) -> str:
    """Return what an input is, or the one that a range is of; empty for what is none."""
    row = assumption_table().get(name.removeprefix("range of "))
    return row.meaning if row else ""


def reopen_record(opened: Reopened, number: str) -> dict[str, Any]:
    """Return a reopened quote as plain data; described in docs/formats.md."""
    return {
        "number": number,
        "name": opened.record.name,
        "client": opened.record.asked.client,
        "made_on": opened.record.asked.made_on.isoformat(),
        "same": opened.same,
        "answer": reopen_answer(opened),
        "with_values_of_then": {
            "exact": opened.pinned.exact,
            "largest_share": _finite(opened.pinned.share),
            "break_even_moved": opened.pinned.break_even_moved,
        },
        "program": {"then": opened.program[0], "now": opened.program[1]},
        "tables": {"then": opened.tables[0], "now": opened.tables[1]},
        "drawing": opened.drawing,
        "drawing_files": list(opened.drawing_files),
        "changes": [
            {
                "kind": change.kind,
                "name": change.name,
                "meaning": meaning(change.name),
                "before": change.before,
                "after": change.after,
                "unit": change.unit.replace("money", opened.record.currency),
                "effects": {
                    route: None
                    if (effect := change.effects.get(route)) is None
                    else {
                        "cost_per_1000": effect.cost,
                        "co2e_kg_per_1000": effect.co2e_kg,
                        "waste_kg_per_1000": effect.waste_kg,
                    }
                    for route in ROUTES
                },
            }
            for change in opened.changes
        ],
        "figures": [{"name": f.name, "before": f.before, "after": f.after} for f in opened.figures],
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
