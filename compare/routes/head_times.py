"""Seconds of a planned path: every head by its own loads, all scenarios at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import reduce

import numpy as np

from compare.assumptions import Number
from compare.geometry.sheet_loads import SheetLoads
from compare.geometry.speed_table import SpeedTable, speed_range
from compare.names import Inputs


class _Sums:
    """Times of heads, as what every head has of something x the seconds of one of it.

    What does not vary is added up as numbers; what varies is put into one product of matrices, because every
    step for itself would cost a pass over all scenarios.
    """

    def __init__(self, heads: int) -> None:
        self._fixed = np.zeros(heads)
        self._counts: list[Sequence[float]] = []
        self._varied: list[Number] = []
        self._more: list[list[Number]] = []

    def add(self, counts: Sequence[float], seconds: Number) -> None:
        """Add what each head has of something, and what one of it takes."""
        if np.ndim(seconds):
            self._counts.append(counts)
            self._varied.append(seconds)
        else:
            self._fixed = self._fixed + np.multiply(counts, seconds)

    def add_tables(self, tables: Sequence[SpeedTable], speed: Number) -> Number:
        """Add tables of heads at a speed; return their sum."""
        within = speed_range(speed)
        rows = [table.one_row(*within) for table in tables]
        if any(row is None for row in rows):
            times = [table.seconds(speed) for table in tables]
            self._more.append(times)
            return reduce(np.add, times)
        constants, inverses = ([row[part] for row in rows if row is not None] for part in (0, 1))
        per_speed = 1 / np.asarray(speed)
        self.add(constants, 1.0)
        self.add(inverses, per_speed if per_speed.ndim else float(per_speed))
        found = sum(inverses) * per_speed
        if any(constants):
            found = found + sum(constants)
        return found if np.ndim(found) else float(found)

    def by_head(self) -> list[Number]:
        """Return the time of each head [s]."""
        times: list[Number] = [float(seconds) for seconds in self._fixed]
        if self._varied:
            counts = np.array([*self._counts, self._fixed], float).T
            columns = np.stack([*np.broadcast_arrays(*self._varied, np.float64(1.0))])
            times = list(np.tensordot(counts, columns, axes=1))
        for more in self._more:
            times = [a + b for a, b in zip(times, more, strict=True)]
        return times


def head_times(x: Inputs, loads: SheetLoads, speeds: Mapping[str, Number]) -> tuple[Number, list[Number]]:
    """Return the marking time of one sheet, summed over heads, and the whole time of each head [s].

    Parameters
    ----------
    x : Inputs
        Numbers or arrays that broadcast.
    loads : SheetLoads
        What the heads have to do.
    speeds : mapping
        Kind of line to its speed [m/s].
    """
    heads = loads.heads
    sums = _Sums(len(heads))
    marking: Number = 0.0
    for kind in dict.fromkeys(kind for load in heads for kind in load.marking):
        marking = marking + sums.add_tables([load.marking.get(kind, _NOTHING) for load in heads], speeds[kind])
    sums.add_tables([load.jumps for load in heads], x["laser.jump_m_s"])
    stroke_delay = (x["laser.jump_delay_ms"] + x["laser.mark_delay_ms"]) * 1e-3
    sums.add([load.strokes for load in heads], stroke_delay)
    if any(load.short_jumps for load in heads):
        saved = (1 - x["laser.short_jump_share"]) * (x["laser.jump_delay_ms"] * 1e-3)
        sums.add([-load.short_jumps for load in heads], saved)
    sums.add([load.corner_load for load in heads], x["laser.polygon_delay_ms"] * 1e-3)
    sums.add(
        [load.nick_share for load in heads], x["work.nicks"] * (x["layout.ups_laser"] * (x["laser.nick_ms"] * 1e-3))
    )
    return marking, sums.by_head()


_NOTHING = SpeedTable(np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1))
