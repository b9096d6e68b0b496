"""Where the die takes over, draw by draw: the distribution of the break-even, "never" included."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from compare.decide.evaluate import clearly_below
from compare.decide.route_draws import RouteDraws

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class BreakEvenDraws:
    """The run length from which the die is cheaper for good, by draw.

    Attributes
    ----------
    values : ndarray
        Whole run lengths [cartons per order]; infinite where the laser is cheaper at the last run length searched, the
        first one where the die is cheaper throughout.
    start, end : int
        First and last run length searched.
    """

    values: Floats
    start: int
    end: int

    @property
    def never(self) -> float:
        """Share of the draws in which the die is not the cheaper one at the last run length searched."""
        return float(np.isinf(self.values).mean())

    @property
    def always(self) -> float:
        """Share of the draws in which the die is cheaper throughout."""
        return float((self.values == self.start).mean())

    @property
    def p10(self) -> float:
        """One draw in ten breaks even below it; infinite if that is never."""
        return self._level(0.1)

    @property
    def p50(self) -> float:
        """Half the draws break even below it; infinite if that is never."""
        return self._level(0.5)

    @property
    def p90(self) -> float:
        """Nine draws in ten break even below it; infinite if that is never."""
        return self._level(0.9)

    def _level(self, level: float) -> float:
        """Return the smallest value that as many draws lie at or below; between a number and never there is nothing."""
        return float(np.quantile(self.values, level, method="inverted_cdf"))


def break_even_draws(job: RouteDraws, grid: Floats) -> BreakEvenDraws:
    """Find for every draw the run length from which the die is cheaper for good.

    Parameters
    ----------
    job : RouteDraws
        Both routes at every draw.
    grid : ndarray
        Whole run lengths, ascending, from the first to the last that is searched.

    Returns
    -------
    BreakEvenDraws

    Notes
    -----
    The last point of the grid at which the die is not cheaper is followed by the point at which it is; between both
    the break-even is found to the carton by halving. Where steps make the routes change places several times
    between two points of the grid, one of the changes is found.
    """

    def die_cheaper(run_length: Floats) -> NDArray[np.bool_]:
        cost = job.per_1000(run_length, ("cost",))["cost"]
        return np.asarray(clearly_below(cost["die"], cost["laser"]))

    last_not = np.full(job.draws, -1)
    for first, block in _numbered(job, grid):
        cheaper = die_cheaper(block[:, np.newaxis])
        for k, row in enumerate(cheaper):
            last_not[~row] = first + k
    low = grid[np.maximum(last_not, 0)]
    high = grid[np.minimum(last_not + 1, len(grid) - 1)]
    while np.any(high - low > 1):
        middle = np.floor((low + high) / 2)
        there = die_cheaper(middle)
        high, low = np.where(there, middle, high), np.where(there, low, middle)
    values = np.where(last_not < 0, grid[0], np.where(last_not == len(grid) - 1, np.inf, high))
    return BreakEvenDraws(values, int(grid[0]), int(grid[-1]))


def _numbered(job: RouteDraws, grid: Floats) -> list[tuple[int, Floats]]:
    numbered, at = [], 0
    for block in job.blocks(grid):
        numbered.append((at, block))
        at += len(block)
    return numbered
