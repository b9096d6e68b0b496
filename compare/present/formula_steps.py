"""What stands between the inputs and the ledger of a workbook: each quantity that is used again, once."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from compare.present.formula_quote import TracedQuote, roots
from compare.present.formula_trace import Traced

_SHORT = 2
"""Operands of a formula that is read more easily where it is used than by a name, however often it is used."""


@dataclass(frozen=True)
class Step:
    """A quantity with a cell of its own.

    Attributes
    ----------
    node : Traced
        Its formula.
    label : str
        What the engine calls it, or its number.
    cell : str
        Name of its cell.
    """

    node: Traced
    label: str
    cell: str


def steps(quote: TracedQuote) -> tuple[Step, ...]:
    """Return the quantities that have a name in the engine or are used more than once, each after what it needs."""
    shown = list(roots(quote.routes, quote.checks))
    lines = [flow for route in quote.routes for flow in route.flows]
    uses = Counter(shown)
    # prices and factors stand in the ledger itself, line by line
    uses.subtract(v for f in lines for v in (f.price, f.factor, f.biogenic_factor) if v is not None)
    order = list(_after_its_parts(shown))
    for node in order:
        uses.update(node.parts)
    of_lines = {
        flow.quantity: f"{route.name}: {flow.flow.stage}, {flow.flow.resource} [{flow.flow.unit}]"
        for route in quote.routes
        for flow in route.flows
    }
    found: list[Step] = []
    taken: set[str] = set()
    sizes: dict[Traced, int] = {}
    unnamed = 0
    for node in order:
        sizes[node] = sum(sizes[part] for part in node.parts) or 1
        if not node.parts or (node not in quote.labels and (uses[node] <= 1 or sizes[node] <= _SHORT)):
            continue
        sizes[node] = 1
        label = quote.labels.get(node) or of_lines.get(node, "")
        if not label:
            unnamed += 1
            label = f"step {unnamed}"
        cell = re.sub(r"\W+", "_", label).strip("_")
        while cell.casefold() in taken:  # two quantities of one name
            cell += "_too"
        taken.add(cell.casefold())
        found.append(Step(node, label, cell))
    return tuple(found)


def _after_its_parts(nodes: list[Traced]) -> Iterator[Traced]:
    """Yield nodes and all that they were worked out from, parts first; the order does not hang on how they were made."""
    seen: set[Traced] = set()
    waiting = [(node, False) for node in reversed(nodes)]
    while waiting:
        node, parts_done = waiting.pop()
        if parts_done:
            yield node
        elif node not in seen:
            seen.add(node)
            waiting.append((node, True))
            waiting += [(part, False) for part in reversed(node.parts)]
