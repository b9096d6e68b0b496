"""Traced numbers as formulas of a spreadsheet, and in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from compare.present.formula_trace import COMPARING, Traced, TraceError

NameOf = Callable[[Traced], str]
"""Name of the cell, or label, that stands for a node; empty where it is written out."""

MOST_CHARACTERS = 8_192
"""Length of a formula that spreadsheets take."""


class _Notation(NamedTuple):
    """How operations are written: signs between two operands, and functions before their operands in brackets."""

    signs: Mapping[str, str]
    functions: Mapping[str, str]
    number: Callable[[float | bool], str]


def _exactly(value: float | bool) -> str:
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value).upper()


def _shortly(value: float | bool) -> str:
    return _exactly(value) if isinstance(value, bool) else f"{value:.10g}"


_COMPARED = {
    "equal": "=",
    "not_equal": "<>",
    "less": "<",
    "less_equal": "<=",
    "greater": ">",
    "greater_equal": ">=",
}
_SPREADSHEET = _Notation(
    signs={"add": "+", "subtract": "-", "multiply": "*", "divide": "/", **_COMPARED},
    functions={
        "absolute": "ABS({0})",
        "ceil": "CEILING({0},1)",
        "floor": "INT({0})",
        "maximum": "MAX({0})",
        "minimum": "MIN({0})",
        "and": "AND({0})",
        "or": "OR({0})",
        "not": "NOT({0})",
        "if": "IF({0})",
        "match": "MATCH({0},{name},1)",
        "index": "INDEX({name},{0})",
    },
    number=_exactly,
)
_WORDS = _Notation(
    signs={
        "add": " + ",
        "subtract": " - ",
        "multiply": " x ",
        "divide": " / ",
        "equal": " is ",
        "not_equal": " is not ",
        "less": " is below ",
        "less_equal": " is at most ",
        "greater": " is above ",
        "greater_equal": " is at least ",
    },
    functions={
        "absolute": "size of ({0})",
        "ceil": "rounded up ({0})",
        "floor": "rounded down ({0})",
        "maximum": "the largest of ({0})",
        "minimum": "the smallest of ({0})",
        "and": "all of ({0})",
        "or": "one of ({0})",
        "not": "not ({0})",
        "if": "({parts[1]} if {parts[0]}, else {parts[2]})",
        "match": "row of {name} for ({0})",
        "index": "{name} in row ({0})",
    },
    number=_shortly,
)
_LEVELS = {**dict.fromkeys(COMPARING, 1), "add": 2, "subtract": 2, "multiply": 3, "divide": 3}
_ALONE = 4
_IN_A_ROW = ("maximum", "minimum", "and", "or")
"""Operations of two operands that are written as one function of many."""


def formula(node: Traced, name_of: NameOf) -> str:
    """Return a node as a formula of a spreadsheet, with its equals sign.

    Parameters
    ----------
    node : Traced
        What to write; it is itself written out, whatever its name.
    name_of : callable
        Names of the cells of nodes that have one.

    Raises
    ------
    TraceError
        If it is longer than a spreadsheet takes.
    """
    text = f"={_written(node, name_of, _SPREADSHEET)[0]}"
    if len(text) > MOST_CHARACTERS:
        raise TraceError(
            f"a formula of {len(text):,} characters is longer than a spreadsheet takes",
            where="workbook",
            remedy="this is a fault of the program; the comparison without a workbook is not concerned",
        )
    return text


def in_words(node: Traced, name_of: NameOf) -> str:
    """Return how a node is worked out, with labels instead of cells."""
    return _written(node, name_of, _WORDS)[0]


def _written(node: Traced, name_of: NameOf, notation: _Notation) -> tuple[str, int]:
    """Return a node written out, and how tightly its last operation binds."""
    if node.operation == "named":
        return name_of(node) or node.name, _ALONE
    if node.operation == "number":
        negative = not node.is_truth and node.value < 0
        return notation.number(node.value), 0 if negative else _ALONE

    def part(of: Traced) -> tuple[str, int]:
        name = name_of(of)
        return (name, _ALONE) if name else _written(of, name_of, notation)

    if node.operation == "negative":
        text, level = part(node.parts[0])
        return f"-{text if level == _ALONE else f'({text})'}", 0
    if node.operation in _LEVELS:
        level = _LEVELS[node.operation]
        (left, left_level), (right, right_level) = map(part, node.parts)
        # the order of the engine's own steps is kept: brackets on the right also where they could be left out
        left = left if left_level >= level and left_level > 1 else f"({left})"
        right = right if right_level > level else f"({right})"
        return f"{left}{notation.signs[node.operation]}{right}", level
    parts = _in_a_row(node, name_of) if node.operation in _IN_A_ROW else list(node.parts)
    between = "," if notation is _SPREADSHEET else ", "
    texts = [part(p)[0] for p in parts]
    return notation.functions[node.operation].format(between.join(texts), parts=texts, name=node.name), _ALONE


def _in_a_row(node: Traced, name_of: NameOf) -> list[Traced]:
    """Return the operands of an operation, with those of operands that are the same operation."""
    parts: list[Traced] = []
    for part in node.parts:
        same = part.operation == node.operation and not name_of(part)
        parts += _in_a_row(part, name_of) if same else [part]
    return parts
