"""A planned path in a workbook: what each head has to do as cells, and seconds at a speed as formulas."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

import numpy as np

from compare.assumptions import Number
from compare.geometry.sheet_loads import HeadLoad, SheetLoads
from compare.geometry.speed_table import SpeedTable
from compare.present.formula_trace import Trace, Traced

PARTS = ("constant", "linear", "inverse")
"""Columns of a table of seconds beside its speeds: seconds = constant + linear x v + inverse / v."""


@dataclass(frozen=True, eq=False)
class PathTable(SpeedTable):
    """A table of seconds whose rows are cells.

    To callers it has one row, so that nobody looks for the row of a speed that is no plain number: it finds the
    row itself.

    Attributes
    ----------
    trace : Trace
        The graph that seconds are asked in.
    name : str
        What its columns are called, before ``_speed``, ``_constant``, ``_linear`` and ``_inverse``.
    table : SpeedTable
        The rows.
    """

    trace: Trace
    name: str
    table: SpeedTable

    def column(self, part: str) -> str:
        """Return the name of the cells of a column: ``speed``, or one of :data:`PARTS`."""
        return f"{self.name}_{part}"

    def seconds(self, speed: Number, within: tuple[float, float] | None = None) -> Number:
        """Return the time of all paths [s] as a formula; parts that are nowhere in the table are left out."""
        v = self.trace.of(speed)
        constant, linear, inverse = (self._part(part, v) for part in PARTS)
        found = inverse / v
        if self.table.constant.any():
            found = found + constant
        if self.table.linear.any():
            found = found + linear * v
        return cast(Number, found)

    def _part(self, part: str, v: Traced) -> Traced:
        """Return one of :data:`PARTS` in the row of a speed."""
        values = getattr(self.table, part).tolist()
        if len(values) == 1:
            return self.trace.named(self.column(part), values[0], varies=False)
        row = self.trace.last_row(self.column("speed"), self.table.breaks.tolist(), v)
        return self.trace.lookup(self.column(part), values, row)


@dataclass(frozen=True)
class PathSheet:
    """What a workbook holds of a planned path.

    Attributes
    ----------
    loads : SheetLoads
        The path for the engine, its numbers traced.
    numbers : mapping of str to (str, float)
        Name of a cell to what it is, and the number in it.
    tables : tuple of (str, PathTable)
        What each table is, and its rows.
    """

    loads: SheetLoads
    numbers: Mapping[str, tuple[str, float]]
    tables: tuple[tuple[str, PathTable], ...]


_NUMBERS = {
    "strokes": "strokes",
    "short_jumps": "what short jumps fall short of a full one, in jumps",
    "corner_load": "corner load",
    "nick_share": "share of the nicks of the sheet",
}


def traced_path(trace: Trace, loads: SheetLoads) -> PathSheet:
    """Return a planned path with its numbers traced."""
    numbers: dict[str, tuple[str, float]] = {}
    tables: list[tuple[str, PathTable]] = []
    heads = []
    for place, load in enumerate(loads.heads, start=1):

        def table(what: str, rows: SpeedTable, head: int = place) -> PathTable:
            one_row = np.zeros(1)
            name = f"path_{head}_{what.replace(' ', '_')}"
            traced = PathTable(one_row, one_row, one_row, one_row, trace, name, rows)
            tables.append((f"head {head}: {what}", traced))
            return traced

        marking = {kind: table(f"marking {kind.replace('_', ' ')}", rows) for kind, rows in load.marking.items()}
        jumps = table("jumps", load.jumps)
        own: dict[str, Traced] = {}
        for field, what in _NUMBERS.items():
            name, value = f"path_{place}_{field}", float(getattr(load, field))
            numbers[name] = (f"head {place}: {what}", value)
            own[field] = trace.named(name, value, varies=False)
        heads.append(
            HeadLoad(
                length_m=load.length_m,
                marking=marking,
                jumps=jumps,
                strokes=cast(int, own["strokes"]),
                short_jumps=cast(float, own["short_jumps"]),
                corner_load=cast(float, own["corner_load"]),
                nick_share=cast(float, own["nick_share"]),
            )
        )
    return PathSheet(SheetLoads(tuple(heads), loads.made_for), numbers, tuple(tables))
