"""What a planned path asks of each head, boiled down to numbers that answer any speed.

The path is planned once for a geometry, a sheet and an arrangement of heads. Speeds, powers, delays and
prices change what it takes, not what it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from compare.geometry.speed_table import SpeedTable


@dataclass(frozen=True, eq=False)
class HeadLoad:
    """What one head has to do on one sheet.

    Attributes
    ----------
    length_m : mapping of str to float
        Length of each kind of line [m].
    marking : mapping of str to SpeedTable
        Kind of line to the seconds that the strokes of all kinds of its depth take at a speed; kinds that
        are run at one depth have one speed, and stand under the first of them.
    jumps : SpeedTable
        Seconds its jumps take at a speed.
    strokes : int
        Strokes, each reached by a jump: the first from the end of the last, one sheet after the other.
    short_jumps : float
        Sum over the jumps of what each falls short of ``laser.short_jump_mm``, as a share of it [-].
    corner_load : float
        Sum of (1 - cos of the turn) over the corners inside the strokes [-]; 0 where corners are in the tables.
    nick_share : float
        Share of the nicks of the sheet that it leaves [-].
    """

    length_m: Mapping[str, float]
    marking: Mapping[str, SpeedTable]
    jumps: SpeedTable
    strokes: int
    short_jumps: float
    corner_load: float
    nick_share: float


@dataclass(frozen=True, eq=False)
class SheetLoads:
    """What the heads have to do on one sheet.

    Attributes
    ----------
    heads : tuple of HeadLoad
        One for each head.
    made_for : frozenset of str
        Dotted names of the inputs it was planned for. With another value of any of them it does not hold.
    """

    heads: tuple[HeadLoad, ...]
    made_for: frozenset[str]
