"""Dotted names: one vocabulary for files, the command line, links, tables and results."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

import numpy as np

from compare.assumptions import Number, assumption_table
from compare.errors import InputError, unknown_name
from compare.geometry.sheet_loads import SheetLoads


class Inputs(Mapping[str, Number]):
    """The numbers a calculation uses, by dotted name; frozen.

    Parameters
    ----------
    values : mapping
        Dotted name to number or array. Arrays broadcast with one another.
    loads : SheetLoads, optional
        What a planned path of the beam asks of each head.
        An input that it was planned for and that is exchanged, be it for the same value, takes it away.
    """

    __slots__ = ("_loads", "_values")

    def __init__(self, values: Mapping[str, Number], loads: SheetLoads | None = None) -> None:
        self._values = MappingProxyType(dict(values))
        self._loads = loads

    @property
    def loads(self) -> SheetLoads | None:
        """What a planned path of the beam asks of each head; None where seconds are estimated."""
        return self._loads

    def __getitem__(self, name: str) -> Number:
        return self._values[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __repr__(self) -> str:
        return f"Inputs({len(self)} names)"

    def number(self, name: str) -> float:
        """Return a value of a single scenario as a plain number."""
        return float(self._values[name])

    def arrays(self) -> dict[str, np.ndarray]:
        """Return the inputs that vary, by name."""
        return {name: value for name, value in self._values.items() if isinstance(value, np.ndarray)}

    def shape(self, *, where: str) -> tuple[int, ...]:
        """Return the common shape of the inputs that vary, or raise :class:`InputError` if there is none."""
        try:
            return np.broadcast_shapes(*(array.shape for array in self.arrays().values()))
        except ValueError:
            raise InputError(
                "the arrays do not broadcast to one shape",
                where=where,
                remedy="give arrays of one shape, or of shapes that broadcast",
            ) from None

    def with_values(self, changes: Mapping[str, Number]) -> Inputs:
        """Return a copy with values exchanged, unchecked: for callers that checked them before."""
        loads = self._loads
        if loads is not None and not loads.made_for.isdisjoint(changes):
            loads = None
        return Inputs({**self._values, **changes}, loads)

    def without_loads(self) -> Inputs:
        """Return a copy whose seconds per sheet are estimated, not those of a planned path."""
        return Inputs(self._values)


def replace(inputs: Inputs, changes: Mapping[str, Any]) -> Inputs:
    """Return a copy of the inputs with some values exchanged and checked.

    Parameters
    ----------
    inputs : Inputs
        The inputs to start from; they stay as they are.
    changes : mapping
        Dotted name to number or array-like, such as ``{"demand.run_length": grid}``.

    Returns
    -------
    Inputs

    Raises
    ------
    UnknownNameError
        If a name is not an input of a calculation.
    InputError
        If a value is not fit for use, or does not go with the others.
    """
    table = assumption_table()
    fit: dict[str, Number] = {}
    for name, value in changes.items():
        if name not in inputs:
            raise unknown_name(name, inputs, where="replace", what="input")
        fit[name] = table[name].check(value, where="replace")
    changed = inputs.with_values(fit)
    check_together(changed, where="replace")
    return changed


def check_together(inputs: Inputs, *, where: str) -> None:
    """Refuse inputs that contradict one another.

    Raises
    ------
    InputError
        If there are more versions than cartons, more crease versions than versions, more
        carton area on a sheet than the sheet has, or more shared lines than lines.
    """
    inputs.shape(where=where)
    run, versions = inputs["demand.run_length"], inputs["demand.versions"]
    if np.any(np.greater(versions, run)):
        raise InputError(
            "demand.versions is above demand.run_length",
            where=where,
            remedy="give at least one carton per version",
        )
    if np.any(np.greater(inputs["demand.crease_versions"], versions)):
        raise InputError(
            "demand.crease_versions is above demand.versions",
            where=where,
            remedy="count only the versions whose creases differ",
        )
    sheet = np.multiply(inputs["sheet.width_mm"], inputs["sheet.length_mm"]) / 1e6
    for route in ("die", "laser"):
        area = np.multiply(inputs[f"layout.ups_{route}"], inputs["carton.blank_area_m2"])
        if np.any(area > sheet * (1 + 1e-9)):
            raise InputError(
                f"layout.ups_{route} blanks have a larger area than the sheet",
                where=where,
                remedy="lower the ups, or give a larger sheet",
            )
        if np.any(np.greater(inputs[f"layout.shared_{route}_m"], inputs["work.cutting_m"])):
            raise InputError(
                f"layout.shared_{route}_m is above work.cutting_m",
                where=where,
                remedy="blanks can't share more than they have",
            )


def flatten(tree: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    """Turn nested tables into dotted names: ``{"laser": {"heads": 4}}`` gives ``laser.heads``."""
    flat: dict[str, Any] = {}
    for key, value in tree.items():
        name = f"{prefix}{key}"
        if isinstance(value, Mapping):
            flat.update(flatten(value, f"{name}."))
        else:
            flat[name] = value
    return flat


def parse_setting(text: str, *, option: str = "--set", example: str = "laser.heads=4") -> tuple[str, str]:
    """Take ``name=value`` apart, as given to an option."""
    name, sign, value = text.partition("=")
    if not sign or not name.strip() or not value.strip():
        what = "setting" if option == "--set" else "range"
        raise InputError(f"'{text}' is not a {what}", where=option, remedy=f"write it as name=value, such as {example}")
    return name.strip(), value.strip()
