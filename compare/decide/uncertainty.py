"""How sure the answer is: bands, probabilities, what drives the result, what it is worth to know better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from compare.decide.break_even_draws import BreakEvenDraws, break_even_draws
from compare.decide.comparison import Comparison
from compare.decide.draws import check_draws
from compare.decide.evaluate import MEASURES, Measure, clearly_below, evaluate, possible_routes
from compare.decide.information import slice_means, value_of_measuring, value_of_perfect_information
from compare.decide.quantiles import Band, Quantiles, levels_of, quantiles
from compare.decide.route_draws import RouteDraws, Which
from compare.decide.varied_inputs import VariedInputs, varied_inputs
from compare.errors import InputError
from compare.names import Inputs

Floats = NDArray[np.float64]

Sureness = Literal["clear", "likely", "open"]

DRAWS, RUN_LENGTHS = 4_096, 200
SEED = 1

CLEAR, LIKELY = 0.9, 0.7
"""From which probability on the answer is clear, and likely; the one is the P10-P90 range on one side of zero."""


@dataclass(frozen=True)
class Driver:
    """What one input does to the difference in cost, laser less die, per 1,000 good cartons.

    Attributes
    ----------
    name : str
        Dotted name.
    low, high : float
        Ends of its range [unit of the input].
    at_low, at_high : float
        Difference with the input at either end and everything else at its value [money per 1,000].
    mean_lowest, mean_highest : float
        Mean difference over the lowest and the highest fifth of its draws [money per 1,000].
    worth_per_year : float
        What it is worth at most to measure it before the choice [money/y].
    """

    name: str
    low: float
    high: float
    at_low: float
    at_high: float
    mean_lowest: float
    mean_highest: float
    worth_per_year: float

    @property
    def swing(self) -> float:
        """Distance between both ends [money per 1,000]."""
        return abs(self.at_high - self.at_low)


@dataclass(frozen=True)
class Uncertainty:
    """The comparison of a job with what is uncertain of its inputs.

    Attributes
    ----------
    comparison : Comparison
        The job at its values.
    varied : VariedInputs
        What was varied, and what was taken as known.
    draws, seed : int
        How many draws, and of which scrambling.
    at_quote : dict
        Measure to the quantiles of each possible route, and of the difference where both are, per 1,000 good cartons.
    laser_cheaper, die_cheaper : float or None
        Share of the draws in which a route is clearly the cheaper one; ``None`` where only one is possible.
    run_lengths : ndarray
        Where bands and probabilities stand [cartons per order].
    bands : dict
        Measure to the bands of the same, along the run lengths.
    laser_cheaper_along : ndarray or None
        Share of the draws in which the laser is clearly cheaper, along the run lengths.
    break_even : BreakEvenDraws or None
        Where the die takes over, by draw.
    worth_per_order, worth_per_year : float or None
        What perfect information before the choice is worth [money].
    base_difference : float or None
        Laser less die at the values themselves [money per 1,000].
    drivers : tuple of Driver
        By swing, largest first; inputs that move nothing are left out.
    """

    comparison: Comparison
    varied: VariedInputs
    draws: int
    seed: int
    at_quote: dict[Measure, dict[Which, Quantiles]]
    laser_cheaper: float | None
    die_cheaper: float | None
    run_lengths: Floats
    bands: dict[Measure, dict[Which, Band]]
    laser_cheaper_along: Floats | None
    break_even: BreakEvenDraws | None
    worth_per_order: float | None
    worth_per_year: float | None
    base_difference: float | None
    drivers: tuple[Driver, ...]

    @property
    def leaning(self) -> Literal["die", "laser"] | None:
        """The route that is cheaper in more of the draws; ``None`` where only one is possible, or both are even."""
        if self.laser_cheaper is None or self.die_cheaper is None or self.laser_cheaper == self.die_cheaper:
            return None
        return "laser" if self.laser_cheaper > self.die_cheaper else "die"

    @property
    def sureness(self) -> Sureness | None:
        """How far the draws agree on which route is cheaper; ``None`` where only one is possible."""
        if self.laser_cheaper is None:
            return None
        return sureness_of(max(self.laser_cheaper or 0.0, self.die_cheaper or 0.0))

    @property
    def probability_half_width(self) -> float:
        """Half-width of the 95 % interval of the probability, that of as many random draws."""
        p = self.laser_cheaper or 0.0
        return 1.96 * float(np.sqrt(p * (1 - p) / self.draws))

    @property
    def measure_first(self) -> Driver | None:
        """The input that is worth most to be measured; ``None`` where no single one can change the choice."""
        best = max(self.drivers, key=lambda d: d.worth_per_year, default=None)
        return best if best is not None and best.worth_per_year > 0 else None


def sureness_of(probability: float) -> Sureness:
    """Return how sure an answer is that holds with a probability."""
    return "clear" if probability >= CLEAR else "likely" if probability >= LIKELY else "open"


def uncertainty(
    comparison: Comparison,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    run_lengths: int | Floats = RUN_LENGTHS,
    measures: tuple[Measure, ...] = MEASURES,
    along: tuple[Measure, ...] | None = None,
) -> Uncertainty:
    """Vary everything that is uncertain of a job at once.

    Parameters
    ----------
    comparison : Comparison
        The job at its values.
    draws : int
        A power of two from 256 to 65,536. Both routes, all measures and all run lengths see the same.
    seed : int
        Of the scrambling: the same seed gives the same bits.
    run_lengths : int or ndarray
        Where bands are wanted, ascending; or how many, from the first to the last that is searched for break-evens.
    measures : tuple of str
        What is wanted at the quoted run length; ``cost`` is always there.
    along : tuple of str, optional
        What bands are wanted of along the run length; the same, if left out.

    Returns
    -------
    Uncertainty

    Raises
    ------
    InputError
        If the draws are too few, too many or no power of two, or ranges contradict one another.
    """
    check_draws(draws, where="draws")
    scenario, costing = comparison.scenario, comparison.costing
    varied = varied_inputs(scenario, costing)
    drawn = varied.draw(draws, seed)
    x = varied.at(drawn)
    can = {"die": comparison.die.feasible, "laser": comparison.laser.feasible}
    ends = varied.at(_ends(varied))
    for name, feasible in can.items():
        if feasible:
            _refuse_impossible(name, x, ends, comparison)
    both = can["die"] and can["laser"]
    job = RouteDraws(x, draws, costing, measures, can)

    quoted = np.broadcast_to(np.asarray(x["demand.run_length"], dtype=float), (draws,))
    here = job.per_1000(quoted)
    at_quote = {
        measure: {which: quantiles(values) for which, values in by_route.items()} for measure, by_route in here.items()
    }
    search = _grid(comparison, RUN_LENGTHS)
    grid = _grid(comparison, run_lengths) if isinstance(run_lengths, int) else np.asarray(run_lengths, dtype=float)
    bands, cheaper = _bands(job, grid, ("cost", *(m for m in along or measures if m != "cost")))
    if not both:
        return Uncertainty(
            comparison, varied, draws, seed, at_quote, None, None, grid, bands, None, None, None, None, None, ()
        )
    cost = here["cost"]
    saved_per_order = -cost["difference"] * quoted / 1000
    saved_per_year = saved_per_order * x["demand.orders_per_year"]
    base, drivers = _drivers(varied, comparison, varied.shares(draws, seed), cost["difference"], saved_per_year)
    return Uncertainty(
        comparison=comparison,
        varied=varied,
        draws=draws,
        seed=seed,
        at_quote=at_quote,
        laser_cheaper=float(np.mean(clearly_below(cost["laser"], cost["die"]))),
        die_cheaper=float(np.mean(clearly_below(cost["die"], cost["laser"]))),
        run_lengths=grid,
        bands=bands,
        laser_cheaper_along=cheaper,
        break_even=break_even_draws(job, search),
        worth_per_order=value_of_perfect_information(saved_per_order),
        worth_per_year=value_of_perfect_information(saved_per_year),
        base_difference=base,
        drivers=drivers,
    )


def _grid(comparison: Comparison, count: int) -> Floats:
    """Return whole run lengths from the first to the last that break-evens are searched for, evenly on a log scale."""
    found = comparison.break_even["cost"]
    grid: Floats = np.unique(np.round(np.geomspace(found.start, found.end, count)))
    return grid


def _bands(
    job: RouteDraws, grid: Floats, wanted: tuple[Measure, ...]
) -> tuple[dict[Measure, dict[Which, Band]], Floats | None]:
    """Return the bands of every measure, and how often the laser is the cheaper one, in blocks that stay in cache."""
    found: dict[tuple[Measure, Which], list[Floats]] = {}
    cheaper: list[Floats] = []
    for block in job.blocks(grid):
        for measure, by_route in job.per_1000(block[:, np.newaxis], wanted).items():
            for which, values in by_route.items():
                found.setdefault((measure, which), []).append(levels_of(values))
            if measure == "cost" and "difference" in by_route:
                cheaper.append(np.mean(clearly_below(by_route["laser"], by_route["die"]), axis=-1))
    bands: dict[Measure, dict[Which, Band]] = {}
    for (measure, which), parts in found.items():
        bands.setdefault(measure, {})[which] = Band(*np.concatenate(parts, axis=1))
    return bands, np.concatenate(cheaper) if cheaper else None


def _drivers(
    varied: VariedInputs, comparison: Comparison, of_input: Floats, difference: Floats, saved_per_year: Floats
) -> tuple[float, tuple[Driver, ...]]:
    """Return the difference at the values, and what moves it."""
    names = list(varied.spreads)
    base, ends = one_at_a_time(varied, comparison)
    found = []
    for name, (at_low, at_high), share in zip(names, ends, of_input, strict=True):
        spread, tenths = varied.spreads[name], slice_means(share, difference)
        if at_low == base == at_high:
            continue
        fifth = len(tenths) // 5
        found.append(
            Driver(
                name=name,
                low=spread.low,
                high=spread.high,
                at_low=at_low,
                at_high=at_high,
                mean_lowest=float(tenths[:fifth].mean()),
                mean_highest=float(tenths[-fifth:].mean()),
                worth_per_year=value_of_measuring(slice_means(share, saved_per_year)),
            )
        )
    return base, tuple(sorted(found, key=lambda d: (-d.swing, d.name)))


def one_at_a_time(varied: VariedInputs, comparison: Comparison) -> tuple[float, list[tuple[float, float]]]:
    """Return the difference in cost, laser less die, at the values and with each input at either end.

    Parameters
    ----------
    varied : VariedInputs
        What is varied.
    comparison : Comparison
        The job at its values.

    Returns
    -------
    base : float
        Money per 1,000 good cartons.
    ends : list of tuple of float
        At the low and at the high end of each input, the others at their values.
    """
    moved = _ends(varied)
    rows = 2 * len(moved) + 1
    totals = evaluate(varied.at(moved), costing=comparison.costing, measures=("cost",))
    gap = np.broadcast_to(totals.per_1000("laser", "cost") - totals.per_1000("die", "cost"), (rows,))
    return float(gap[0]), [(float(a), float(b)) for a, b in gap[1:].reshape(-1, 2)]


def _ends(varied: VariedInputs) -> dict[str, Floats]:
    """Return the values themselves, then each input at its low and at its high end, by dotted name."""
    spreads = list(varied.spreads.values())
    rows = 2 * len(spreads) + 1
    moved = {spread.name: np.full(rows, spread.value) for spread in spreads}
    for k, spread in enumerate(spreads):
        moved[spread.name][2 * k + 1 : 2 * k + 3] = spread.low, spread.high
    return moved


def _refuse_impossible(route: str, x: Inputs, ends: Inputs, comparison: Comparison) -> None:
    """Raise where a route that can make the job at its values can't make it somewhere in the ranges."""
    laminate = comparison.scenario.choices["board.laminate"]
    missed = [float(np.mean(~np.asarray(possible_routes(of, laminate)[route]))) for of in (x, ends)]
    if any(missed):
        share = f"in {max(missed[0], 0.01):.0%} of the draws" if missed[0] else "at an end of a range"
        raise InputError(
            f"the {route} can't make this job {share}, though it can at the values",
            where="ranges",
            remedy="narrow the range that goes beyond its limits, or compare both cases by themselves",
        )
