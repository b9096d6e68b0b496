"""Both routes at every draw, for any run length."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from compare.decide.evaluate import Measure, clearly_below
from compare.decide.way_totals import ways_of
from compare.names import Inputs
from compare.valuation.money import Costing

Floats = NDArray[np.float64]
Which = Literal["die", "laser", "difference"]
"""A route, or the laser less the die."""

_IN_CACHE = 16_384


class RouteDraws:
    """Totals of both routes as functions of the run length, at every draw.

    Parameters
    ----------
    x : Inputs
        Numbers, or arrays of one value per draw.
    draws : int
        How many draws there are.
    costing : {"full", "cash"}
        Which machine rates count.
    measures : tuple of str
        What is wanted; ``cost``, by which the die's strategy is chosen, is the first.
    can : mapping
        Which routes can make the job.
    """

    def __init__(
        self, x: Inputs, draws: int, costing: Costing, measures: tuple[Measure, ...], can: Mapping[str, bool]
    ) -> None:
        self.draws = draws
        self.measures: tuple[Measure, ...] = ("cost", *(m for m in measures if m != "cost"))
        self._ways = ways_of(x, costing, self.measures)
        self._laser = self._ways.pop("laser")
        self._can = can
        self._orders = x["demand.orders_per_year"] * x["demand.years"]

    def blocks(self, grid: Floats) -> Iterator[Floats]:
        """Yield run lengths, as many at a time as stay in cache with all their draws."""
        step = max(1, _IN_CACHE // self.draws)
        for start in range(0, len(grid), step):
            yield grid[start : start + step]

    def per_1000(
        self, run_length: Floats, measures: tuple[Measure, ...] | None = None
    ) -> dict[Measure, dict[Which, Floats]]:
        """Return every measure of the possible routes, and of the laser less the die, per 1,000 good cartons.

        Parameters
        ----------
        run_length : ndarray
            One per draw, or shape (run lengths, 1).
        measures : tuple of str, optional
            Less than all; ``cost`` is the first.

        Returns
        -------
        dict
            Arrays of shape (draws,) or (run lengths, draws).
        """
        wanted = measures or self.measures
        thousands = self._orders * run_length / 1000
        shape = np.broadcast_shapes(np.shape(run_length), (self.draws,))
        by_route: dict[Which, Mapping[Measure, Floats]] = {}
        if self._can["die"]:
            by_route["die"] = self._on_die(run_length, wanted)
        if self._can["laser"]:
            by_route["laser"] = self._laser.totals(run_length, wanted)
        found: dict[Measure, dict[Which, Floats]] = {}
        for measure in wanted:
            of: dict[Which, Floats] = {
                route: np.broadcast_to(totals[measure] / thousands, shape) for route, totals in by_route.items()
            }
            if len(of) == 2:
                of["difference"] = of["laser"] - of["die"]
            found[measure] = of
        return found

    def _on_die(self, run_length: Floats, wanted: tuple[Measure, ...]) -> Mapping[Measure, Floats]:
        """Return the totals of the strategy that is possible and cheaper at each draw and run length."""
        first, *others = self._ways.values()
        best, can = first.totals(run_length, wanted), np.asarray(first.allowed)
        for way in others:
            other = way.totals(run_length, wanted)
            better = way.allowed & (clearly_below(other["cost"], best["cost"]) | ~can)
            best = {m: np.where(better, other[m], best[m]) for m in wanted}
            can = can | way.allowed
        return best
