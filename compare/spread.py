"""How far a number is uncertain: low, value, high and the shape between them.

Four shapes: ``triangular`` and ``pert`` lie between two ends with the value as the most likely one,
``lognormal`` has the value as its median and reaches from ``value / GSD2`` to ``value x GSD2`` in 95 of 100
cases, and ``fixed`` does not vary.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, cast, get_args

import numpy as np
from numpy.typing import NDArray

from compare.assumptions import Assumption, Shape
from compare.errors import InputError

Floats = NDArray[np.float64]

PERT_WEIGHT = 4.0
"""Weight of the most likely value in the mean of a PERT distribution."""

PEDIGREE_FACTORS: tuple[tuple[float, ...], ...] = (
    (1.00, 1.05, 1.10, 1.20, 1.50),
    (1.00, 1.02, 1.05, 1.10, 1.20),
    (1.00, 1.03, 1.10, 1.20, 1.50),
    (1.00, 1.01, 1.02, 1.02, 1.10),
    (1.00, 1.00, 1.20, 1.50, 2.00),
)
"""Contributions to GSD2 of scores 1 to 5 for reliability, completeness, time, place and technology.

The pedigree matrix of B. P. Weidema and M. S. Wesnaes (J. Cleaner Production 4, 1996) with the factors of the
ecoinvent database, version 1, as in the package pedigree-matrix 0.2.2 (BSD-3).
"""

_LARGEST_GSD2 = 100.0
_NUMBER = r"-?[\d_]*\.?[\d_]+(?:[eE][-+]?\d+)?"
_ENDS = re.compile(rf"(?P<low>{_NUMBER})\s*\.\.\s*(?P<high>{_NUMBER})(?:\s+(?P<shape>\w+))?")
_WRITE_IT = "write it as low..high, low..high pert, lognormal GSD2, or fixed"


@dataclass(frozen=True)
class Given:
    """A range as it was given, before its value is known.

    Attributes
    ----------
    shape : str
        One of the four shapes.
    low, high : float or None
        Ends, for triangular and PERT.
    gsd2 : float or None
        Square of the geometric standard deviation, for lognormal.
    """

    shape: Shape
    low: float | None = None
    high: float | None = None
    gsd2: float | None = None

    def __str__(self) -> str:
        if self.shape == "fixed":
            return "fixed"
        if self.shape == "lognormal":
            return f"lognormal {_plain(self.gsd2)}"
        ends = f"{_plain(self.low)}..{_plain(self.high)}"
        return ends if self.shape == "triangular" else f"{ends} {self.shape}"


@dataclass(frozen=True)
class Spread:
    """A number that is uncertain.

    Attributes
    ----------
    name : str
        Dotted name of the input.
    shape : str
        ``triangular``, ``pert`` or ``lognormal``.
    low, value, high : float
        Ends and value; of a lognormal the ends that hold 95 of 100 cases, and the median.
    whole : bool
        Whether only whole numbers make sense.
    """

    name: str
    shape: Shape
    low: float
    value: float
    high: float
    whole: bool = False

    def ppf(self, share: Floats) -> Floats:
        """Return the number that a share of all cases lies below (inverse of the distribution function).

        Parameters
        ----------
        share : ndarray
            Shares above 0 and below 1, any shape.
        """
        share = np.asarray(share, dtype=float)
        if self.low == self.high:
            return np.full(share.shape, self.value)
        drawn = {"triangular": self._triangular, "pert": self._pert, "lognormal": self._lognormal}[self.shape](share)
        return np.round(drawn) if self.whole else drawn

    def _triangular(self, share: Floats) -> Floats:
        width, below, above = self.high - self.low, self.value - self.low, self.high - self.value
        rising = self.low + np.sqrt(share * width * below)
        falling = self.high - np.sqrt((1 - share) * width * above)
        return np.where(share * width < below, rising, falling)

    def _pert(self, share: Floats) -> Floats:
        from scipy.special import betaincinv  # takes a while to load, and few ranges are of this shape

        width = self.high - self.low
        alpha = 1 + PERT_WEIGHT * (self.value - self.low) / width
        beta = 1 + PERT_WEIGHT * (self.high - self.value) / width
        return cast("Floats", self.low + width * betaincinv(alpha, beta, share))

    def _lognormal(self, share: Floats) -> Floats:
        from scipy.special import ndtri

        return cast("Floats", self.value * np.exp(math.log(self.high / self.value) / 2 * ndtri(share)))


def pedigree_gsd2(scores: Sequence[int], basic: float) -> float:
    """Return GSD2, the square of the geometric standard deviation, of a datum by its pedigree.

    Parameters
    ----------
    scores : sequence of int
        Reliability, completeness, time, place, technology; 1 (best) to 5.
    basic : float
        Basic factor of the kind of exchange, 1.05 for energy and materials, 2.0 for transport.

    Returns
    -------
    float
        ``exp(sqrt(sum of ln(factor) ** 2))``; 95 of 100 cases lie within value / GSD2 and value x GSD2.
    """
    if len(scores) != len(PEDIGREE_FACTORS) or not all(s in (1, 2, 3, 4, 5) for s in scores):
        raise InputError(
            "a pedigree has five scores from 1 to 5",
            where="pedigree",
            remedy="give reliability, completeness, time, place and technology",
        )
    if not 1 <= basic <= _LARGEST_GSD2:
        raise InputError(f"the basic factor is {basic:g}", where="pedigree", remedy="give a number from 1 to 100")
    factors = [row[int(score) - 1] for row, score in zip(PEDIGREE_FACTORS, scores, strict=True)]
    return math.exp(math.sqrt(sum(math.log(factor) ** 2 for factor in (*factors, basic))))


def read_given(text: str, *, name: str, where: str) -> Given:
    """Read a range from text: ``4000..9000``, ``4000..9000 pert``, ``lognormal 1.2`` or ``fixed``.

    Raises
    ------
    InputError
        If it can't be read, or its ends or shape don't go together.
    """
    bare = text.strip()
    if found := _ENDS.fullmatch(bare):
        try:
            ends = {"low": float(found["low"]), "high": float(found["high"])}
        except ValueError:  # underscores without digits between them
            raise InputError(
                f"the range of {name} is '{text}', which can't be read", where=where, remedy=_WRITE_IT
            ) from None
        return given({**ends, "shape": found["shape"] or "triangular"}, name=name, where=where)
    shape, _, rest = bare.partition(" ")
    try:
        parts = {"shape": shape, **({"gsd2": float(rest)} if rest.strip() else {})}
    except ValueError:
        raise InputError(
            f"the range of {name} is '{text}', which can't be read", where=where, remedy=_WRITE_IT
        ) from None
    if shape not in get_args(Shape):
        raise InputError(f"the range of {name} is '{text}', which can't be read", where=where, remedy=_WRITE_IT)
    return given(parts, name=name, where=where)


def given(parts: Mapping[str, Any], *, name: str, where: str) -> Given:
    """Read a range from its parts: shape, and low and high, or gsd2, or pedigree and basic.

    Raises
    ------
    InputError
        If a part is missing, is no number, or does not go with the shape.
    """

    def refuse(what: str, remedy: str) -> InputError:
        return InputError(f"the range of {name} {what}", where=where, remedy=remedy)

    unknown = sorted(set(parts) - {"shape", "low", "high", "gsd2", "pedigree", "basic"})
    if unknown:
        raise refuse(f"has a part '{unknown[0]}'", "give low, high and shape; or gsd2; or pedigree and basic")
    by_factor = "gsd2" in parts or "pedigree" in parts
    shape = parts.get("shape", "lognormal" if by_factor else "triangular")
    if shape not in get_args(Shape):
        raise refuse(f"has the shape '{shape}'", f"give one of {', '.join(get_args(Shape))}")
    for key in ("low", "high", "gsd2", "basic"):
        value = parts.get(key)
        if value is not None and (
            isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value)
        ):
            raise refuse(f"has {key} = {value!r}, which is no number", "give a plain number")
    if shape == "fixed":
        if set(parts) - {"shape"}:
            raise refuse("is fixed and has ends", "leave out the ends, or the shape")
        return Given("fixed")
    if shape == "lognormal":
        return Given("lognormal", gsd2=_gsd2(parts, refuse))
    low, high = parts.get("low"), parts.get("high")
    if low is None or high is None or by_factor or "basic" in parts:
        raise refuse(f"is {shape} and needs a low and a high end", "give both, and nothing else")
    if low > high:
        raise refuse(f"has its low end ({low:g}) above its high end ({high:g})", "exchange them")
    return Given(shape, float(low), float(high))


def _gsd2(parts: Mapping[str, Any], refuse: Any) -> float:
    if "low" in parts or "high" in parts:
        raise refuse("is lognormal and has ends", "give gsd2, or pedigree and basic; the ends follow from it")
    if "pedigree" in parts:
        scores = parts["pedigree"]
        if not isinstance(scores, (list, tuple)) or "gsd2" in parts or "basic" not in parts:
            raise refuse("has a pedigree that can't be read", "give pedigree = [2, 3, 2, 2, 3] and basic = 1.05")
        return pedigree_gsd2(scores, float(parts["basic"]))
    gsd2 = parts.get("gsd2")
    if gsd2 is None:
        raise refuse("is lognormal without a measure of its width", "give gsd2, or pedigree and basic")
    if not 1 <= gsd2 <= _LARGEST_GSD2:
        raise refuse(f"has GSD2 = {gsd2:g}", f"give a number from 1 to {_LARGEST_GSD2:g}")
    return float(gsd2)


def spread_of(row: Assumption, value: float, range_: Given, *, where: str) -> Spread:
    """Put value and range together.

    Raises
    ------
    InputError
        If the value lies outside its range, or the range outside what the input may be at all.
    """
    name = row.name
    if range_.shape == "fixed":
        return Spread(name, "fixed", value, value, value, row.limits.whole)
    if row.limits.switch:
        raise InputError(f"{name} is a switch and has no range", where=where, remedy="leave the range out")
    if range_.shape == "lognormal":
        if value <= 0:
            raise InputError(
                f"the range of {name} is lognormal, and its value is {value:g}",
                where=where,
                remedy="only a number above 0 can be lognormal",
            )
        gsd2 = cast("float", range_.gsd2)
        low, high = value / gsd2, value * gsd2
    else:
        low, high = cast("float", range_.low), cast("float", range_.high)
    if not low <= value <= high:
        raise InputError(
            f"{name} is {value:g}, outside its range from {low:g} to {high:g}",
            where=where,
            remedy="give a range that holds the value, or another value",
        )
    for end in (low, high):
        row.check(end, where=f"{where}, the range of {name}")
    return Spread(name, range_.shape, low, value, high, row.limits.whole)


@cache
def own_range(row: Assumption) -> Given | None:
    """Return the range of the table of assumptions; ``None`` where it has none."""
    return None if row.shape == "fixed" or row.low is None or row.high is None else Given(row.shape, row.low, row.high)


def _plain(number: float | None) -> str:
    return repr(number).removesuffix(".0")
