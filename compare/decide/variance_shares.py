"""Sobol indices: which share of the variance of the difference an input carries, by itself and with the others."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from compare.decide.evaluate import evaluate
from compare.decide.varied_inputs import VariedInputs
from compare.valuation.money import Costing

Floats = NDArray[np.float64]

POINTS = 1_024


class Drawable(Protocol):
    """Anything with an inverse distribution function."""

    def ppf(self, share: Floats, /) -> Floats:
        """Return the number that a share of all cases lies below."""
        ...


class VarianceShare(NamedTuple):
    """Shares of the variance of the difference in cost, laser less die, per 1,000 good cartons.

    Attributes
    ----------
    name : str
        Dotted name of the input.
    alone : float
        First-order index: what would be gone of the variance if the input were known.
    total : float
        Total index: what would be left if everything else were known. Estimates may lie a little outside 0 to 1.
    """

    name: str
    alone: float
    total: float


def variance_shares(
    varied: VariedInputs, *, costing: Costing = "full", points: int = POINTS, seed: int = 1
) -> tuple[VarianceShare, ...]:
    """Estimate the Sobol indices of every varied input.

    Parameters
    ----------
    varied : VariedInputs
        What is varied of a job that both routes can make.
    costing : {"full", "cash"}
        Which machine rates count.
    points : int
        A power of two; the job is evaluated ``points x (inputs + 2)`` times.
    seed : int
        Of the scrambling.

    Returns
    -------
    tuple of VarianceShare
        Largest total first.

    References
    ----------
    A. Saltelli et al., Global Sensitivity Analysis: The Primer, 2008, as in ``scipy.stats.sobol_indices``.
    """
    names = list(varied.spreads)

    def difference(values: Floats) -> Floats:
        totals = evaluate(varied.at(dict(zip(names, values, strict=True))), costing=costing, measures=("cost",))
        gap: Floats = np.asarray(totals.per_1000("laser", "cost")) - np.asarray(totals.per_1000("die", "cost"))
        return gap

    return sobol_shares(difference, varied.spreads, points=points, seed=seed) if names else ()


def sobol_shares(
    output: Callable[[Floats], Floats], inputs: Mapping[str, Drawable], *, points: int, seed: int
) -> tuple[VarianceShare, ...]:
    """Estimate the Sobol indices of any output.

    Parameters
    ----------
    output : callable
        From values of shape (inputs, rows) to results of shape (rows,).
    inputs : mapping
        Name to what draws it.
    points, seed : int
        See :func:`variance_shares`.
    """
    from scipy.stats import sobol_indices  # takes a second to load, and only who asks for it needs it

    found = sobol_indices(func=output, n=points, dists=list(inputs.values()), rng=np.random.default_rng(seed))
    shares = zip(inputs, found.first_order.ravel(), found.total_order.ravel(), strict=True)
    return tuple(sorted((VarianceShare(n, float(a), float(t)) for n, a, t in shares), key=lambda s: -s.total))
