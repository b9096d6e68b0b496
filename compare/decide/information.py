"""What it would be worth to know better before a route is chosen.

``difference`` is the cost of the die less the cost of the laser, one value per draw: above 0 the laser is cheaper.
Who must choose now takes the route that is cheaper in the mean; who knew would choose anew in every case.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SLICES = 10
"""Parts of equal probability that an input is cut into: an answer to which tenth it lies in is what is paid for."""


def value_of_perfect_information(difference: Floats) -> float:
    """Return the expected saving of who knows everything over who chooses by the mean; never below 0.

    Parameters
    ----------
    difference : ndarray
        Cost of one route less that of the other, one value per draw.

    References
    ----------
    ``E[max(D, 0)] - max(E[D], 0)``; H. Raiffa and R. Schlaifer, Applied Statistical Decision Theory, 1961 (from memory).
    """
    either = np.stack([difference, np.zeros_like(difference)])
    equally = np.full(len(difference), 1 / len(difference))
    return max(0.0, expected_value_of_perfect_information(equally, either))


def expected_value_of_perfect_information(probability: Floats, payoff: Floats) -> float:
    """Return the value of perfect information for several choices and cases.

    Parameters
    ----------
    probability : ndarray
        Of each case, shape (cases,).
    payoff : ndarray
        Of each choice in each case, shape (choices, cases); costs are negative payoffs.
    """
    return float(probability @ payoff.max(axis=0) - (payoff @ probability).max())


def slice_means(shares: Floats, values: Floats) -> Floats:
    """Return the mean of the values over each tenth of an input, lowest first.

    Parameters
    ----------
    shares, values : ndarray
        Share of the input's cases that lie below each draw, and the value at that draw.
    """
    ordered = values[np.argsort(shares, kind="stable")]
    return np.array([part.mean() for part in np.array_split(ordered, SLICES)])


def value_of_measuring(means: Floats) -> float:
    """Return the expected saving of who learns in which tenth an input lies before the choice.

    Parameters
    ----------
    means : ndarray
        From :func:`slice_means` of the difference. The parts are taken as equally likely.
    """
    return value_of_perfect_information(means)
