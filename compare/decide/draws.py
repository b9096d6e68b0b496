"""Draws: points that fill the unit cube evenly, one column per input for good.

A scrambled Sobol sequence, of which every input has a column of its own (``stream`` in the table of assumptions).
The columns are always those of the whole design, so that a result does not change when other inputs are varied
or added, and both routes, every measure and every run length see the same draws.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from compare.errors import InputError

Floats = NDArray[np.float64]

FEWEST_DRAWS, MOST_DRAWS = 256, 65_536
"""Below the one, quantiles are mostly noise; above the other, draws cost seconds and tell nothing more."""

STREAMS = 256
"""Columns of the design: more than there are inputs. To change it would change every result."""

_EDGE = 2.0**-32
"""Shares are kept off 0 and 1 by this much, where a lognormal has no value."""

_KEPT = 4_096


def check_draws(draws: int, *, where: str) -> int:
    """Return a number of draws that can be used.

    Raises
    ------
    InputError
        If it is no power of two, too few or too many.
    """
    if not FEWEST_DRAWS <= draws <= MOST_DRAWS or draws & (draws - 1):
        raise InputError(
            f"{draws:,} draws can't be made",
            where=where,
            remedy=f"give a power of two from {FEWEST_DRAWS:,} to {MOST_DRAWS:,}; 4,096 serve a quote",
        )
    return draws


def shares(streams: Iterable[int], draws: int, seed: int) -> Floats:
    """Return shares between 0 and 1, one row per stream.

    Parameters
    ----------
    streams : iterable of int
        Columns of the design.
    draws : int
        A power of two.
    seed : int
        Of the scrambling: the same seed gives the same bits.

    Returns
    -------
    ndarray
        Shape (streams, draws).
    """
    design = _kept_design(draws, seed) if draws <= _KEPT else _design(draws, seed)
    return design[list(streams)]


@lru_cache(maxsize=4)
def _kept_design(draws: int, seed: int) -> Floats:
    return _design(draws, seed)


def _design(draws: int, seed: int) -> Floats:
    from scipy.stats import qmc  # takes a second to load, and only who asks how sure it is needs it

    points = qmc.Sobol(STREAMS, scramble=True, rng=np.random.default_rng(seed)).random_base2(draws.bit_length() - 1)
    design: Floats = np.clip(points.T, _EDGE, 1 - _EDGE).copy()
    design.setflags(write=False)
    return design
