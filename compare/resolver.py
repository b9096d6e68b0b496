"""Values with their origins, while a scenario is put together."""

from __future__ import annotations

from functools import cache
from typing import Any

from compare.assumptions import Number, assumption_table
from compare.errors import Finding, InputError
from compare.readers.jobfile import Layer, ranges_of


class Resolver:
    """Collects values with their origins while a scenario is put together.

    Parameters
    ----------
    layers : tuple of Layer
        Given values, from the weakest to the strongest.

    Attributes
    ----------
    values, origins : dict
        Every value so far, and where it is from, by dotted name.
    given : frozenset of str
        Names that the user gave.
    ranges : dict
        Ranges that the user gave, and where, by dotted name.
    findings : list of Finding
        Remarks so far.
    """

    def __init__(self, layers: tuple[Layer, ...]) -> None:
        self.values: dict[str, Any] = {}
        self.origins: dict[str, str] = {}
        self.ranges = ranges_of(layers)
        for layer in layers:
            for name, value in layer.values.items():
                self.values[name], self.origins[name] = value, layer.label
        self.given = frozenset(self.values)
        own = {name: row.value for name, row in assumption_table().items() if row.value is not None}
        self.values = {**own, **self.values}
        self.origins = {**dict.fromkeys(own, "assumption"), **self.origins}
        self.findings: list[Finding] = []

    def derive(self, name: str, value: Number, how: str) -> None:
        """Set a value unless the user gave one."""
        if name not in self.given:
            self.values[name], self.origins[name] = value, how

    def group(self, prefix: str) -> dict[str, Any]:
        """Return the values of one group without its prefix."""
        return {short: self.values[name] for name, short in _names_of(prefix) if name in self.values}

    def note(self, code: str, message: str, where: str = "") -> None:
        """Remark on something."""
        self.findings.append(Finding(code, message, where))

    def require(self, names: tuple[str, ...], *, why: str) -> None:
        """Ask for values that are missing, or go on."""
        missing = [n for n in names if n not in self.values]
        if missing:
            rows = assumption_table()
            need = ", ".join(f"{n} ({rows[n].meaning.lower()}{_unit(rows[n].unit)})" for n in missing[:3])
            more = f" and {len(missing) - 3} more: {', '.join(missing[3:])}" if len(missing) > 3 else ""
            raise InputError(f"missing {need}{more}", where="job", remedy=why)


@cache
def _names_of(prefix: str) -> tuple[tuple[str, str], ...]:
    """Return the names of one group, whole and without the prefix."""
    return tuple((name, name.removeprefix(prefix)) for name in assumption_table() if name.startswith(prefix))


def _unit(unit: str) -> str:
    return "" if unit in ("-", "0/1", "text") else f", {unit}"
