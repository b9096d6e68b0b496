"""The table of boards: grammage, caliper, price and fibre by grade."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from compare.data_files import read_table
from compare.errors import unknown_name


class Board(BaseModel):
    """One row of the board table.

    Attributes
    ----------
    grade, name : str
        Short name for job files, and plain name.
    fibre : {"primary", "recycled"}
        Which emission factor it takes.
    grammage_g_m2, caliper_mm, price_per_t : float
        Grammage [g/m2], caliper [mm], price [money/t].
    basis, note : str
        Where the values come from.
    """

    model_config = ConfigDict(frozen=True)
    grade: str
    name: str
    fibre: Literal["primary", "recycled"]
    grammage_g_m2: float = Field(gt=0)
    caliper_mm: float = Field(gt=0)
    price_per_t: float = Field(gt=0)
    basis: str
    note: str


@lru_cache(maxsize=1)
def boards() -> Mapping[str, Board]:
    """Return the board table by grade."""
    return MappingProxyType({row["grade"]: Board.model_validate(row) for row in read_table("boards.csv")})


def board(grade: str, *, where: str) -> Board:
    """Return one board, or raise :class:`UnknownNameError` naming its neighbours."""
    if grade not in boards():
        raise unknown_name(grade, boards(), where=where, what="board grade")
    return boards()[grade]
