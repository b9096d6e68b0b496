"""P10, P50 and P90 of draws, and how far off they may be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEVELS = (0.1, 0.5, 0.9)

_TWO_SIDED_95 = 1.959963984540054


class Quantiles(NamedTuple):
    """Three quantiles of one figure, and the half-width of the 95 % interval of each.

    Half-widths are those of as many random draws by the ranks of order statistics; evenly spread draws are nearer.
    """

    p10: float
    p50: float
    p90: float
    half_p10: float
    half_p50: float
    half_p90: float

    @property
    def contains_zero(self) -> bool:
        """Whether the range from P10 to P90 holds zero, its ends included."""
        return self.p10 <= 0 <= self.p90


@dataclass(frozen=True)
class Band:
    """Three quantiles along the run length.

    Attributes
    ----------
    p10, p50, p90 : ndarray
        One value per run length.
    """

    p10: Floats
    p50: Floats
    p90: Floats


def levels_of(values: Floats) -> Floats:
    """Return P10, P50 and P90 along the last axis, shape (3, ...)."""
    count = values.shape[-1]
    places = [level * (count - 1) for level in LEVELS]
    below = [int(place) for place in places]
    # only what stands beside the three places has to be in its place
    near = sorted({at for b in below for at in (b, min(b + 1, count - 1))})
    parted = np.partition(values, near, axis=-1)
    rows = []
    for place, b in zip(places, below, strict=True):
        low, high = parted[..., b], parted[..., min(b + 1, count - 1)]
        rows.append(low + (place - b) * (high - low))
    return np.stack(rows)


def quantiles(values: Floats) -> Quantiles:
    """Return the quantiles of one figure with their half-widths.

    Parameters
    ----------
    values : ndarray
        One value per draw.

    References
    ----------
    Distribution-free intervals from binomial ranks: H. A. David and H. N. Nagaraja, Order Statistics (from memory).
    """
    ordered = np.sort(values)
    count = len(ordered)
    halves = []
    for level in LEVELS:
        reach = _TWO_SIDED_95 * math.sqrt(count * level * (1 - level))
        first = max(math.floor(count * level - reach), 0)
        last = min(math.ceil(count * level + reach), count - 1)
        halves.append(float(ordered[last] - ordered[first]) / 2)
    return Quantiles(*(float(q) for q in levels_of(ordered)), *halves)
