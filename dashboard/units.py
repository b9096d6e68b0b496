"""Metric or US units on screen; what is stored and computed stays SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

System = Literal["metric", "us"]

_MM_PER_INCH = 25.4
_M_PER_FOOT = 0.3048
_KG_PER_POUND = 0.45359237
# 1 lb per 1,000 sq ft in g/m2
_G_M2_PER_LB = _KG_PER_POUND * 1000 / (1000 * _M_PER_FOOT**2)
_MM_PER_POINT = 0.0254


@dataclass(frozen=True)
class Shown:
    """How a stored unit is shown.

    Attributes
    ----------
    unit : str
        Unit on screen.
    size : float
        Stored units per unit on screen.
    decimals : int
        Decimals on screen.
    """

    unit: str
    size: float = 1.0
    decimals: int = 6

    def show(self, stored: float) -> float:
        """Return a stored value as it is shown."""
        return round(stored / self.size, self.decimals)

    def store(self, shown: float, stored_now: float | None) -> float:
        """Return the value to store for what is shown; untouched values keep every digit."""
        if stored_now is not None and self.show(stored_now) == shown:
            return stored_now
        return shown if self.size == 1 else shown * self.size


_SHOWN: dict[System, dict[str, Shown]] = {
    "metric": {},
    "us": {
        "mm": Shown("in", _MM_PER_INCH, 3),
        "m": Shown("ft", _M_PER_FOOT, 3),
        "m2": Shown("sq ft", _M_PER_FOOT**2, 4),
        "mm2": Shown("sq in", _MM_PER_INCH**2, 4),
        "g/m2": Shown("lb/1,000 sq ft", _G_M2_PER_LB, 1),
    },
}
_CALIPER: dict[System, Shown] = {
    "metric": Shown("µm", 1e-3, 0),
    "us": Shown("pt", _MM_PER_POINT, 1),
}


def shown_as(name: str, unit: str, system: System) -> Shown:
    """Return how an input is shown.

    Parameters
    ----------
    name : str
        Dotted name; calipers have units of their own.
    unit : str
        Stored unit.
    system : {"metric", "us"}
        The reader's choice.
    """
    if name == "board.caliper_mm":
        return _CALIPER[system]
    return _SHOWN[system].get(unit, Shown("" if unit in ("-", "0/1") else unit))
