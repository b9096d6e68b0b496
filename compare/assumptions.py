"""The table of assumptions: every input with unit, range, basis and source.

The table is the schema. A name that is not in it does not exist, and a number that the engine uses
without being told comes from its ``value`` column.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, field_validator

from compare.data_files import read_table
from compare.errors import InputError

Number = float | np.ndarray
"""A number, or an array of numbers that broadcasts with the others."""

Truth = bool | np.bool_ | np.ndarray
"""A truth value, or an array of them."""

Basis = Literal["published", "common practice", "from memory", "example", "the job's own"]
Shape = Literal["fixed", "triangular", "pert", "lognormal"]

_RANGE = re.compile(r"^(?P<low>[\d.]+)(?P<low_open><)?\.\.(?P<high_open><)?(?P<high>[\d.]+)$")
_SMALLEST, _LARGEST = 1e-9, 1e12
"""No quantity of this trade is smaller (but for 0) or larger; products of inputs stay finite."""

_BOUND = re.compile(r"^(?P<sign>>=?)(?P<bound>[\d.]+)$")


@dataclass(frozen=True)
class Limits:
    """What a number may be: the ``valid`` column, taken apart."""

    low: float = -np.inf
    high: float = np.inf
    low_open: bool = False
    high_open: bool = False
    whole: bool = False
    switch: bool = False

    @classmethod
    def parse(cls, text: str) -> Limits:
        """Read ``>0``, ``>=1 whole``, ``0..1``, ``0<..1``, ``0..<1``, ``0|1`` or ``any``."""
        bare, _, rest = text.partition(" ")
        whole = rest == "whole"
        if bare == "any":
            return cls()
        if bare == "0|1":
            return cls(low=0, high=1, switch=True)
        if bound := _BOUND.match(bare):
            return cls(low=float(bound["bound"]), low_open=bound["sign"] == ">", whole=whole)
        if span := _RANGE.match(bare):
            return cls(
                low=float(span["low"]),
                high=float(span["high"]),
                low_open=bool(span["low_open"]),
                high_open=bool(span["high_open"]),
                whole=whole,
            )
        raise ValueError(f"limits '{text}' can't be read")

    def fault(self, value: Number) -> str:
        """Say what is wrong with a value, or return an empty text."""
        if isinstance(value, np.ndarray):
            if value.size == 0:
                return "is empty"
            if not np.issubdtype(value.dtype, np.floating):
                return "is not a number"
            # what holds for the extremes holds for all; NaN passes through both
            extremes = (float(value.min()), float(value.max()))
            if self.switch and np.any((value != 0) & (value != 1)):
                return "must be 0 or 1"
            if self.whole and np.any(value != np.floor(value)):
                return "must be a whole number"
            tiny = bool(np.any((value != 0) & (np.abs(value) < _SMALLEST)))
        else:
            extremes = (value, value)
            tiny = 0 < abs(value) < _SMALLEST
        return self._fault(*extremes, tiny=tiny)

    def _fault(self, least: float, most: float, *, tiny: bool) -> str:  # noqa: PLR0911
        if not (math.isfinite(least) and math.isfinite(most)):
            return "is not a finite number"
        if tiny or max(abs(least), abs(most)) > _LARGEST:
            return f"must be 0, or from {_SMALLEST:g} to {_LARGEST:g} in size"
        if self.switch and (least not in (0, 1) or most not in (0, 1)):
            return "must be 0 or 1"
        if least < self.low or (self.low_open and least == self.low):
            return f"must be {'above' if self.low_open else 'at least'} {self.low:g}"
        if most > self.high or (self.high_open and most == self.high):
            return f"must be {'below' if self.high_open else 'at most'} {self.high:g}"
        if self.whole and not (least.is_integer() and most.is_integer()):
            return "must be a whole number"
        return ""


class Assumption(BaseModel):
    """One row of the table.

    Attributes
    ----------
    name : str
        Dotted name, the same everywhere.
    value : float, str or None
        Default; ``None`` where the job, the plant or a calculation has to give it.
    unit : str
        Unit; ``money`` stands for the plant's currency, ``text`` marks a word.
    low, high : float or None
        Range of the value in practice.
    shape : str
        Distribution within the range.
    stream : int or None
        Column of the design that a varied number is drawn from. It is the input's for good, so that results
        don't change when inputs are added; texts have none.
    valid : str
        What the value may be at all.
    basis, source, note, meaning : str
        Where the value comes from, and what it is.
    """

    model_config = ConfigDict(frozen=True)
    name: str
    value: float | str | None
    unit: str
    low: float | None
    high: float | None
    shape: Shape
    stream: int | None
    valid: str
    basis: Basis
    source: str
    note: str
    meaning: str

    @field_validator("value", "low", "high", "stream", mode="before")
    @classmethod
    def _empty_is_none(cls, text: str) -> float | str | None:
        if text == "":
            return None
        try:
            return float(text)
        except ValueError:
            return text

    @property
    def is_text(self) -> bool:
        """Whether the input is a word and not a number."""
        return self.unit == "text"

    @property
    def limits(self) -> Limits:
        """What the number may be."""
        return _limits(self.valid)

    def unit_in(self, currency: str) -> str:
        """Return the unit with the plant's currency in it."""
        return self.unit.replace("money", currency)

    def check(self, value: object, *, where: str) -> Number:
        """Return a number that is fit for use, or raise.

        Parameters
        ----------
        value : float or ndarray
            The number; booleans count as 0 and 1 only for a switch.
        where : str
            Where it was given, for the message.

        Raises
        ------
        InputError
            If it is no number, not finite, or outside its limits.
        """
        if self.is_text:
            raise InputError(f"{self.name} is a text and can't be a number", where=where, remedy="leave it out")
        if isinstance(value, bool):
            value = float(value) if self.limits.switch else str(value).lower()
        if isinstance(value, str) or not isinstance(value, (int, float, np.ndarray, np.number, list, tuple)):
            shown = f"'{value}'" if isinstance(value, str) else f"a {type(value).__name__}"
            raise InputError(f"{self.name} is {shown}, which is not a number", where=where, remedy=self._remedy())
        if isinstance(value, int):  # whole numbers of any size may come out of a file
            value = float(min(max(value, -(10**18)), 10**18))
        fit = float(value) if isinstance(value, (int, float, np.number)) else self._array(value, where=where)
        if fault := self.limits.fault(fit):
            shown = f" (it is {value:g})" if isinstance(value, (int, float)) else ""
            raise InputError(f"{self.name} {fault}{shown}", where=where, remedy=self._remedy())
        return fit

    def _array(self, value: object, *, where: str) -> np.ndarray:
        """Return an array of our own that nobody can write to."""
        try:
            array = np.array(value)
        except ValueError:
            raise InputError(f"{self.name} is a ragged list", where=where, remedy="give rows of equal length") from None
        if np.issubdtype(array.dtype, np.integer) or np.issubdtype(array.dtype, np.bool_):
            array = array.astype(float)
        array.setflags(write=False)
        return array

    def _remedy(self) -> str:
        unit = "" if self.unit in ("-", "0/1") else f" in {self.unit}"
        limits = self.limits
        whole = "whole " if limits.whole else ""
        if limits.switch:
            need = "0 or 1"
        elif np.isinf(limits.high):
            sign = "above" if limits.low_open else "from"
            need = f"a {whole}number" if np.isinf(limits.low) else f"a {whole}number {sign} {limits.low:g}"
        else:
            need = f"a {whole}number from {limits.low:g} to {limits.high:g}"
        return f"give {need}{unit}"


@cache
def _limits(valid: str) -> Limits:
    return Limits.parse(valid)


@lru_cache(maxsize=1)
def assumption_table() -> Mapping[str, Assumption]:
    """Return the table of assumptions, by dotted name, in the order of the file."""
    return MappingProxyType({row["name"]: Assumption.model_validate(row) for row in read_table("assumptions.csv")})
