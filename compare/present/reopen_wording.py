"""What became of a quote's figures, in sentences and tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

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
    "factor": "emission factor",
    "plant value": "plant",
    "layer": "left out today",
    "program": "program",
    "drawing": "drawing",
}
_ROUNDING = 1e-9


def reopen_answer(opened: Reopened) -> str:
    """Say in one sentence whether the figures are the same."""
    if opened.same:
        return "Same figures: the quote was computed again and nothing has changed."
    count = len(opened.changes)
    what = (
        f"{count} {'thing has' if count == 1 else 'things have'} changed since" if count else "The inputs are the same"
    )
    moved = [text for route in ROUTES if (text := _moved(opened, route))]
    if not moved:
        return f"{what}, and the figures are the same."
    return f"{what}: {'; '.join(moved)}."


def _moved(opened: Reopened, route: RouteName) -> str:
    before, after = (results.route(route).figures for results in (opened.record.results, opened.results))
    name, currency = NAMES[route], opened.record.currency
    if before is None or after is None:
        if before is after:
            return ""
        return f"{name} {'can make it now' if before is None else 'can no longer make it'}"
    old, new = before.cost_per_1000, after.cost_per_1000
    if math.isclose(old, new, rel_tol=_ROUNDING):
        return ""
    a, b = places(old, [new]), places(new, [old])
    if a == b:
        return f"{name} costs {figures(abs(new - old), 2)} {currency} {'more' if new > old else 'less'} per 1,000"
    return f"{name} costs {b} {currency} per 1,000, was {a}"


def pinned_sentence(opened: Reopened) -> str:
    """Say what today's program makes of the numbers of then."""
    if opened.pinned.exact:
        return "With the values of then, today's program gives the same figures to the last digit."
    if opened.pinned.share <= _ROUNDING:
        return "With the values of then, today's program gives the same figures but for rounding."
    if math.isinf(opened.pinned.share):
        return "With the values of then, today's program answers otherwise: which route is possible or cheaper has changed."
    return f"With the values of then, today's program differs by up to {opened.pinned.share:.2%} in a figure."


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
        parts.append(Text(f"Drawing {record.drawing.name}: {_DRAWING[opened.drawing]}."))
    if opened.changes:
        parts += [Text(), change_table(opened.changes, record.currency)]
        parts.append(
            Text("What each change does alone, per 1,000 good cartons; together they need not add up.", style="dim")
        )
    return Group(*parts)


_DRAWING = {
    "none": "none",
    "as measured then": "its measures of then stand; the file was not asked for or is not there",
    "same file": "the same file as then",
    "another file": "another file than then, so its measures of then stand",
}


def change_table(changes: Sequence[Change], currency: str) -> Table:
    """Return changes as a table, with what each did to the cost of either route."""
    table = plain_table("changed", "what", "before", "after", f"die, {currency}", f"laser, {currency}", texts=4)
    for change in changes:
        table.add_row(
            kind_of(change),
            change.name,
            shown(change.before),
            f"{shown(change.after)} {change.unit.replace('money', currency)}".rstrip(" -"),
            *(effect_of(change, route) for route in ROUTES),
        )
    return table


def shown(value: Value | None) -> str:
    """Return a value as it is shown: with the digits that tell it from another."""
    return "none" if value is None else value if isinstance(value, str) else f"{value:,.8g}"


def kind_of(change: Change) -> str:
    """Return where a change is from, in words."""
    return _KINDS[change.kind]


def effect_of(change: Change, route: RouteName) -> str:
    """Return what a change does alone to the cost of a route [money per 1,000], signed."""
    effect = change.effects.get(route)
    if effect is None:
        return "-"
    return "0" if abs(effect.cost) < 5e-7 else f"{'+' if effect.cost > 0 else '-'}{figures(abs(effect.cost))}"


def meaning(name: str) -> str:
    """Return what an input is; empty for what is none."""
    row = assumption_table().get(name)
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
        "with_values_of_then": {"exact": opened.pinned.exact, "largest_share": _finite(opened.pinned.share)},
        "program": {"then": opened.program[0], "now": opened.program[1]},
        "tables": {"then": opened.tables[0], "now": opened.tables[1]},
        "drawing": opened.drawing,
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
