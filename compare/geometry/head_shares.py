"""Which head makes which stroke, so that the slowest has as little to do as can be."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.geometry.strokes import Array

_MOST_UNIONS = 4096


class Shares(NamedTuple):
    """Strokes shared out among heads.

    Attributes
    ----------
    head : ndarray of int, shape (strokes,)
        Which head makes each.
    loads : ndarray, shape (heads,)
        What each head has to do, in the unit of the weights.
    bound : float
        The slowest head of any sharing has at least this much to do.
    """

    head: NDArray[np.int64]
    loads: Array
    bound: float


def share_out(weight: Array, reach: NDArray[np.bool_], distance: Array) -> Shares:
    """Share strokes out among heads.

    Parameters
    ----------
    weight : ndarray, shape (strokes,)
        What each stroke takes.
    reach : ndarray of bool, shape (strokes, heads)
        Which heads can make it; at least one.
    distance : ndarray, shape (strokes, heads)
        From the middle of the stroke to that of the field: neighbours stay together, which keeps jumps short.

    Returns
    -------
    Shares

    Notes
    -----
    Every stroke starts with the nearest head. Then strokes go from a head to one that has less to do, those
    that go least out of their way first, and pairs of strokes are exchanged, as long as the larger of the two loads falls.
    """
    strokes, heads = reach.shape
    away = np.where(reach, distance, np.inf)
    head = np.argmin(away, axis=1)
    loads: Array = np.asarray(np.bincount(head, weight, minlength=heads), float)
    bound = least_load(weight, reach)
    tiny = 1e-9 * max(float(loads.max(initial=0.0)), 1e-300)
    for _ in range(20 * strokes + 20):
        if loads.max() <= bound + tiny or not _ease(weight, away, head, loads, tiny):
            break
    return Shares(head, loads, bound)


def _ease(weight: Array, away: Array, head: NDArray[np.int64], loads: Array, tiny: float) -> bool:
    """Move a stroke, or exchange two, so that a busy head has less to do; say whether there was any."""
    for busy in np.argsort(-loads, kind="stable"):
        own = np.flatnonzero(head == busy)
        # going to a head leaves that one with less than the busy one had
        gain = np.isfinite(away[own]) & (loads + weight[own, None] < loads[busy] - tiny)
        gain[:, busy] = False
        if gain.any():
            detour = np.where(gain, away[own] - away[own, busy, None], np.inf)
            at = np.unravel_index(np.argmin(detour), detour.shape)
            stroke, other = own[at[0]], int(at[1])
            loads[busy] -= weight[stroke]
            loads[other] += weight[stroke]
            head[stroke] = other
            return True
        for other in np.argsort(loads, kind="stable"):
            theirs = np.flatnonzero(head == other)
            if other == busy or not len(theirs):
                continue
            less = weight[own, None] - weight[None, theirs]
            fits = np.isfinite(away[own, other])[:, None] & np.isfinite(away[theirs, busy])[None, :]
            worst = np.maximum(loads[busy] - less, loads[other] + less)
            worst = np.where(fits & (less > tiny) & (worst < loads[busy] - tiny), worst, np.inf)
            if np.isfinite(worst).any():
                i, j = np.unravel_index(np.argmin(worst), worst.shape)
                loads[busy], loads[other] = loads[busy] - less[i, j], loads[other] + less[i, j]
                head[own[i]], head[theirs[j]] = other, busy
                return True
        if loads[busy] < loads.max() - tiny:
            break
    return False


def least_load(weight: Array, reach: NDArray[np.bool_]) -> float:
    """Return what the slowest head has to do at least, however strokes are shared out.

    It is the largest of: one stroke; all strokes that only the heads of some set can make, shared evenly among
    these. The sets looked at are unions of what the strokes leave open, which are all that can matter.
    """
    if not len(weight):
        return 0.0
    kinds, which = np.unique(reach, axis=0, return_inverse=True)
    sums = np.bincount(which.ravel(), weight)
    sets = {tuple(kind) for kind in kinds.tolist()}
    for kind in list(sets):
        for other in list(sets):
            if len(sets) >= _MOST_UNIONS:
                break
            sets.add(tuple(a or b for a, b in zip(kind, other, strict=True)))
    unions = np.array(sorted(sets))
    within = (kinds[None, :, :] <= unions[:, None, :]).all(axis=2)
    return float(max(weight.max(), (within @ sums / unions.sum(axis=1)).max()))
