"""A planned path as plain data, so that its seconds can be computed again without planning it, or without its drawing."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from compare.errors import InputError
from compare.geometry.line_kinds import BEAM_KINDS
from compare.geometry.sheet_loads import HeadLoad, SheetLoads
from compare.geometry.speed_table import SpeedTable


@dataclass(frozen=True)
class RecordedTable:
    """A :class:`~compare.geometry.speed_table.SpeedTable` in plain numbers.

    Attributes
    ----------
    breaks, constant, linear, inverse : tuple of float
        As there.
    """

    breaks: tuple[float, ...]
    constant: tuple[float, ...]
    linear: tuple[float, ...]
    inverse: tuple[float, ...]

    def __post_init__(self) -> None:
        rows = len(self.breaks)
        whole = rows > 0 and all(len(column) == rows for column in (self.constant, self.linear, self.inverse))
        if not whole or self.breaks[0] != 0 or any(b <= a for a, b in pairwise(self.breaks)):
            raise InputError("a table of seconds over speed is not whole")

    @classmethod
    def of(cls, table: SpeedTable) -> RecordedTable:
        """Return a table in plain numbers."""
        columns = (table.breaks, table.constant, table.linear, table.inverse)
        return cls(*(tuple(float(value) for value in column) for column in columns))

    def table(self) -> SpeedTable:
        """Return the table it was made of."""
        return SpeedTable(*(np.array(c) for c in (self.breaks, self.constant, self.linear, self.inverse)))


@dataclass(frozen=True)
class RecordedHead:
    """A :class:`~compare.geometry.sheet_loads.HeadLoad` in plain numbers.

    Attributes
    ----------
    length_m : tuple of (str, float)
        Kinds of line with their lengths [m], in the order that they are summed in: another order, another last digit.
    marking : tuple of (str, RecordedTable)
        Kinds of line with their seconds, likewise.
    jumps : RecordedTable
        Seconds of the jumps.
    strokes, short_jumps, corner_load, nick_share
        As there.
    """

    length_m: tuple[tuple[str, float], ...]
    marking: tuple[tuple[str, RecordedTable], ...]
    jumps: RecordedTable
    strokes: int
    short_jumps: float
    corner_load: float
    nick_share: float

    def __post_init__(self) -> None:
        for pairs in (self.length_m, self.marking):
            kinds = [kind for kind, _ in pairs]
            if not set(kinds) <= set(BEAM_KINDS) or len(set(kinds)) < len(kinds):
                raise InputError("a head runs a kind of line that there is not, or one twice")


@dataclass(frozen=True)
class RecordedLoads:
    """What a planned path asks of each head, in plain numbers.

    Attributes
    ----------
    heads : tuple of RecordedHead
        One for each head.
    made_for : tuple of str
        Dotted names of the inputs that it was planned for.
    """

    heads: tuple[RecordedHead, ...]
    made_for: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.heads:
            raise InputError("a planned path has no head")

    @classmethod
    def of(cls, loads: SheetLoads) -> RecordedLoads:
        """Return loads in plain numbers."""
        heads = tuple(
            RecordedHead(
                length_m=tuple((kind, float(metres)) for kind, metres in head.length_m.items()),
                marking=tuple((kind, RecordedTable.of(table)) for kind, table in head.marking.items()),
                jumps=RecordedTable.of(head.jumps),
                strokes=int(head.strokes),
                short_jumps=float(head.short_jumps),
                corner_load=float(head.corner_load),
                nick_share=float(head.nick_share),
            )
            for head in loads.heads
        )
        return cls(heads, tuple(sorted(loads.made_for)))

    def loads(self) -> SheetLoads:
        """Return the loads they were made of."""
        heads = tuple(
            HeadLoad(
                length_m=dict(head.length_m),
                marking={kind: table.table() for kind, table in head.marking},
                jumps=head.jumps.table(),
                strokes=head.strokes,
                short_jumps=head.short_jumps,
                corner_load=head.corner_load,
                nick_share=head.nick_share,
            )
            for head in self.heads
        )
        return SheetLoads(heads, frozenset(self.made_for))
