"""Numbers that remember how they were worked out, so that the engine itself writes the formulas of a workbook.

The engine takes numbers or arrays (DEVELOPERS.md, rule 1). A :class:`Traced` number stands where an array might: it goes
through the engine's own functions, and every operation makes a node of a graph. What can't be written as a formula is
refused, so that no number leaves the graph unseen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, NoReturn

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

from compare.errors import EvenrunError

Value = float | bool
"""What a traced number comes to at the inputs it was traced with."""

ARITHMETIC: Mapping[str, np.ufunc] = MappingProxyType(
    {
        "add": np.add,
        "subtract": np.subtract,
        "multiply": np.multiply,
        "divide": np.divide,
        "negative": np.negative,
        "absolute": np.absolute,
        "ceil": np.ceil,
        "floor": np.floor,
        "maximum": np.maximum,
        "minimum": np.minimum,
    }
)
"""Operations on numbers, by the name they have in the graph."""

COMPARING: Mapping[str, np.ufunc] = MappingProxyType(
    {
        "equal": np.equal,
        "not_equal": np.not_equal,
        "less": np.less,
        "less_equal": np.less_equal,
        "greater": np.greater,
        "greater_equal": np.greater_equal,
    }
)
"""Comparisons of numbers."""

_OPPOSITE = {
    "equal": "not_equal",
    "not_equal": "equal",
    "less": "greater_equal",
    "greater_equal": "less",
    "greater": "less_equal",
    "less_equal": "greater",
}
"""Comparisons that are true where the others are not; no number here is a NaN."""

_NEUTRAL = {"add": 0.0, "multiply": 1.0}
"""What leaves the other operand as it is: sums start at 0, and one set of tools is 1 times its parts."""

_LOGIC = {
    np.logical_and: "and",
    np.bitwise_and: "and",
    np.logical_or: "or",
    np.bitwise_or: "or",
    np.logical_not: "not",
    np.invert: "not",
}
_OPERATION = {ufunc: name for table in (ARITHMETIC, COMPARING) for name, ufunc in table.items()}


class TraceError(EvenrunError):
    """Something in a calculation that can't be written as a formula of a workbook."""


def _refused(what: str) -> TraceError:
    return TraceError(
        what,
        where="workbook",
        remedy="this is a fault of the program; the comparison without a workbook is not concerned",
    )


class Traced(NDArrayOperatorsMixin):
    """A number, or a truth value, with the formula it comes from. Made by a :class:`Trace` alone.

    Attributes
    ----------
    trace : Trace
        The graph it belongs to.
    operation : str
        How it was worked out; "number" for a constant, "named" for one with a cell of its own.
    parts : tuple of Traced
        What it was worked out from.
    value : float or bool
        What it comes to.
    name : str
        Name of its cell or, for columns, of its cells; empty where it has none of its own.
    varies : bool
        Whether it depends on an input that somebody may change.
    """

    __slots__ = ("name", "operation", "parts", "trace", "value", "varies")

    def __init__(
        self, trace: Trace, operation: str, parts: tuple[Traced, ...], value: Value, name: str, *, varies: bool
    ) -> None:
        self.trace, self.operation, self.parts = trace, operation, parts
        self.value, self.name, self.varies = value, name, varies

    __hash__ = object.__hash__

    def __repr__(self) -> str:
        return f"Traced({self.name or self.operation}, {self.value})"

    @property
    def is_truth(self) -> bool:
        """Whether it is a truth value and not a number."""
        return isinstance(self.value, bool)

    @property
    def ndim(self) -> int:
        """One: it stands for all values that its inputs may take, so where the engine asks, there are many."""
        return 1

    def __bool__(self) -> bool:
        return self.trace.decide(self)

    def __float__(self) -> NoReturn:
        raise _refused("a traced number was turned into a plain one, and its formula would be lost")

    __int__ = __float__

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, out: Any = (), **options: Any) -> Traced:
        if method != "__call__" or options or not all(isinstance(target, Traced) for target in out):
            raise _refused(f"no formula for numpy's {ufunc.__name__} used in this way")
        if ufunc in _LOGIC:
            return self.trace.logic(_LOGIC[ufunc], *inputs)
        if ufunc not in _OPERATION:
            raise _refused(f"no formula for numpy's {ufunc.__name__}")
        return self.trace.made(_OPERATION[ufunc], *inputs)

    def __array_function__(self, function: Callable[..., Any], types: Any, args: Any, kwargs: Any) -> Any:
        if function is np.ndim and not kwargs:
            return self.ndim
        if function is np.where and len(args) == 3 and not kwargs:
            return self.trace.choice(*args)
        if function in (np.any, np.all) and len(args) == 1 and not kwargs and self.is_truth:
            return self
        raise _refused(f"no formula for numpy's {function.__name__} used in this way")


class Trace:
    """A graph of formulas. What is worked out twice the same way is one node."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], Traced] = {}
        self._taken: dict[Traced, None] = {}

    def named(self, name: str, value: float, *, varies: bool = True) -> Traced:
        """Return a number with a cell of its own.

        Parameters
        ----------
        name : str
            Name of the cell.
        value : float
            What is in it.
        varies : bool
            Whether somebody may change it.
        """
        return self._node("named", (), float(value), name, varies=varies)

    def made(self, operation: str, *operands: object) -> Traced:
        """Return the node of an operation on numbers or of a comparison; truth values count as 1 and 0."""
        parts = [self._number(operand) for operand in operands]
        if operation in _NEUTRAL:
            for one, other in (parts, parts[::-1]):
                if other.operation == "number" and other.value == _NEUTRAL[operation]:
                    return one
        ufunc = ARITHMETIC.get(operation) or COMPARING[operation]
        value = ufunc(*(part.value for part in parts)).item()
        return self._node(operation, tuple(parts), value)

    def logic(self, operation: str, *operands: object) -> Traced:
        """Return the node of "and", "or" or "not"."""
        parts = [self.of(operand) for operand in operands]
        if not all(part.is_truth for part in parts):
            raise _refused(f"'{operation}' of numbers that are no truth values has no formula")
        if operation == "not":
            return self._opposite(parts[0])
        deciding = operation == "or"  # the truth value that settles it whatever the other is
        for one, other in (parts, parts[::-1]):
            if other.operation == "number":
                return other if other.value == deciding else one
        values = [bool(part.value) for part in parts]
        return self._node(operation, tuple(parts), any(values) if deciding else all(values))

    def _opposite(self, part: Traced) -> Traced:
        if part.operation == "number":
            return self.of(not part.value)
        if part.operation == "not":
            return part.parts[0]
        if part.operation in _OPPOSITE:
            return self.made(_OPPOSITE[part.operation], *part.parts)
        return self._node("not", (part,), not part.value)

    def choice(self, condition: object, if_true: object, if_false: object) -> Traced:
        """Return the node of a value that depends on a condition."""
        truth, yes, no = self.of(condition), self._number(if_true), self._number(if_false)
        if not truth.is_truth:
            raise _refused("a choice by a number that is no truth value has no formula")
        if truth.operation == "number":
            return yes if truth.value else no
        return self._node("if", (truth, yes, no), yes.value if truth.value else no.value)

    def lookup(self, column: str, values: Sequence[float], row: Traced) -> Traced:
        """Return the value of a column of fixed numbers in a row.

        Parameters
        ----------
        column : str
            Name of its cells.
        values : sequence of float
            What is in them.
        row : Traced
            Row, counted from 1.
        """
        return self._node("index", (row,), float(values[int(row.value) - 1]), column)

    def last_row(self, column: str, rising: Sequence[float], number: Traced) -> Traced:
        """Return the last row, counted from 1, of a rising column of fixed numbers that is not above a number."""
        row = int(np.searchsorted(rising, number.value, side="right"))
        if row == 0:
            raise _refused("a number below the first of its table")
        return self._node("match", (number,), float(row), column)

    def decide(self, node: Traced) -> bool:
        """Return the truth of a node by its value, and keep the condition that this branch of the engine holds for."""
        truth = node if node.is_truth else self.made("not_equal", node, 0.0)
        if truth.varies:
            self._taken.setdefault(truth if truth.value else self._opposite(truth))
        return bool(truth.value)

    def taken(self) -> list[Traced]:
        """Return the conditions of the branches taken since this was last asked."""
        conditions, self._taken = list(self._taken), {}
        return conditions

    def of(self, value: object) -> Traced:
        """Return a number or a truth value of the engine as a node of this graph."""
        if isinstance(value, np.ndarray) and value.ndim == 0:  # numpy's asarray wraps what it does not know
            value = value.item()
        if isinstance(value, Traced):
            if value.trace is not self:
                raise _refused("numbers of two workbooks in one formula")
            return value
        if isinstance(value, (bool, np.bool_)):
            return self._node("number", (), bool(value))
        if not isinstance(value, (int, float, np.number)):
            raise _refused(f"a {type(value).__name__} has no place in a formula")
        number = float(value)
        if not np.isfinite(number):
            raise _refused("a number without end has no place in a formula")
        return self._node("number", (), number)

    def _number(self, value: object) -> Traced:
        node = self.of(value)
        return self.choice(node, 1.0, 0.0) if node.is_truth else node

    def _node(
        self, operation: str, parts: tuple[Traced, ...], value: Value, name: str = "", *, varies: bool = False
    ) -> Traced:
        own = repr(value) if operation == "number" else name
        key = (operation, own, *map(id, parts))
        if key not in self._known:
            varies = varies or any(part.varies for part in parts)
            self._known[key] = Traced(self, operation, parts, value, name, varies=varies)
        return self._known[key]
