"""Splines as cubic curves: without loss where they are polynomials up to the third degree, else closely.

A span of a spline, the part between two neighbouring knots, is one polynomial. The control points
of its Bezier curve are values of its polar form: the multi-affine function of as many arguments as
the degree, which is the spline where all arguments agree (L. Ramshaw's blossoming principle).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from compare.geometry.strokes import Array

_CLOSE = 3e-8
"""Largest distance between a curve and its cubics, as a share of its size; the length is then right to a millionth."""

_HALVINGS = 12
"""A span is halved at most this often; what takes more has no tangent there, and is as close by then as it gets."""

_LOOK_AT = np.array([0.25, 0.5, 0.75])
"""Where, along each cubic, it is compared with the curve."""


def span_curves(knots: Array, points: Array) -> Array:
    """Turn spans of plain splines up to the third degree into cubic curves, without loss.

    Parameters
    ----------
    knots : ndarray, shape (spans, 2 degree)
        The knots around each span: as many before its end as the degree, and as many after its start.
    points : ndarray, shape (spans, degree + 1, 2)
        The control points with a say in each span.

    Returns
    -------
    ndarray, shape (spans, 4, 2)
    """
    bezier = _bezier(knots, points)
    while bezier.shape[1] < 4:
        bezier = _raised(bezier)
    return bezier


def curve_pieces(degree: int, knots: Array, points: Array, weights: Array | None, spans: Sequence[int]) -> Array:
    """Turn a spline of any degree and weights into cubic curves that follow it closely.

    Each cubic has place and tangent of the spline at both its ends.

    Parameters
    ----------
    degree : int
    knots : ndarray, shape (points + degree + 1,)
    points : ndarray, shape (points, 2)
    weights : ndarray, shape (points,), optional
    spans : sequence of int
        Numbers of the knots that begin a span of some width.

    Returns
    -------
    ndarray, shape (curves, 4, 2)
    """
    weight = np.ones(len(points)) if weights is None else weights / weights.max()
    lifted = np.column_stack([points * weight[:, None], weight])
    around = np.array([knots[k - degree + 1 : k + degree + 1] for k in spans]).reshape(-1, 2 * degree)
    near = np.array([lifted[k - degree : k + 1] for k in spans]).reshape(-1, degree + 1, 3)
    bezier = _bezier(around, near)
    with np.errstate(all="ignore"):
        size = np.hypot(*np.diff(bezier[:, :, :2] / bezier[:, :, 2:], axis=1).transpose(2, 0, 1)).sum()
    span, low, high = np.arange(len(bezier)), np.zeros(len(bezier)), np.ones(len(bezier))
    done: list[tuple[NDArray[np.int64], Array, Array]] = []
    for level in range(_HALVINGS + 1):
        cubics = _cubics(bezier[span], low, high)
        # what is no number is handed on, for the reader says where numbers are broken
        far = _distance(bezier[span], low, high, cubics) > _CLOSE * size
        far &= level < _HALVINGS
        done.append((span[~far], low[~far], cubics[~far]))
        middle = (low[far] + high[far]) / 2
        span, low, high = np.repeat(span[far], 2), _mixed(low[far], middle), _mixed(middle, high[far])
        if not len(span):
            break
    spans_done, lows, curves = (np.concatenate(part) for part in zip(*done, strict=True))
    result: Array = curves[np.lexsort((lows, spans_done))]
    return result


def _mixed(first: Array, second: Array) -> Array:
    """Return numbers of two arrays by turns."""
    return np.column_stack([first, second]).ravel()


def _bezier(knots: Array, points: Array) -> Array:
    """Return the control points of the Bezier curve of each span, by the polar form."""
    degree = points.shape[1] - 1
    low, high = knots[:, degree - 1], knots[:, degree]
    result = np.empty_like(points)
    for ends in range(degree + 1):
        value = points
        for step in range(1, degree + 1):
            argument = high if step <= ends else low
            first = knots[:, step - 1 : degree]
            share = (argument[:, None] - first) / (knots[:, degree : 2 * degree - step + 1] - first)
            value = value[:, :-1] * (1 - share[..., None]) + value[:, 1:] * share[..., None]
        result[:, ends] = value[:, 0]
    return result


def _raised(bezier: Array) -> Array:
    """Return the same curves with one control point more."""
    degree = bezier.shape[1] - 1
    share = (np.arange(1, degree + 1) / (degree + 1))[:, None]
    inner = bezier[:, :-1] * share + bezier[:, 1:] * (1 - share)
    return np.concatenate([bezier[:, :1], inner, bezier[:, -1:]], axis=1)


def _powers(degree: int, share: Array) -> Array:
    """Return Bernstein's polynomials of a degree along a new last axis."""
    number = np.arange(degree + 1)
    ways = np.array([math.comb(degree, int(k)) for k in number], float)
    result: Array = ways * share[..., None] ** number * (1 - share[..., None]) ** (degree - number)
    return result


def _places(bezier: Array, share: Array) -> tuple[Array, Array]:
    """Return place and derivative of weighted curves at some shares of each, both of shape (curves, shares, 2)."""
    degree = bezier.shape[1] - 1
    lifted = _powers(degree, share) @ bezier
    slope = _powers(degree - 1, share) @ (degree * np.diff(bezier, axis=1))
    with np.errstate(all="ignore"):
        place = lifted[..., :2] / lifted[..., 2:]
        return place, (slope[..., :2] - place * slope[..., 2:]) / lifted[..., 2:]


def _cubics(bezier: Array, low: Array, high: Array) -> Array:
    """Return cubics with places and tangents of the curves from one share to another, shape (curves, 4, 2)."""
    place, along = _places(bezier, np.column_stack([low, high]))
    third = along * ((high - low) / 3)[:, None, None]
    return np.stack([place[:, 0], place[:, 0] + third[:, 0], place[:, 1] - third[:, 1], place[:, 1]], axis=1)


def _distance(bezier: Array, low: Array, high: Array, cubics: Array) -> Array:
    """Return the largest distance found between each curve and its cubic."""
    gap = _powers(3, _LOOK_AT) @ cubics - _places(bezier, low[:, None] + (high - low)[:, None] * _LOOK_AT)[0]
    distance: Array = np.hypot(gap[..., 0], gap[..., 1]).max(axis=1)
    return distance
