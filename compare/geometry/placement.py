"""Where one blank lies on a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from compare.geometry.interlock import ring_array
from compare.geometry.linework import Point
from compare.geometry.strokes import Array


class Placement(NamedTuple):
    """Where one blank lies.

    Attributes
    ----------
    x, y : float
        Lower left corner of its box, from the left corner of the sheet at the gripper edge [mm].
    rotation : int
        How far it is turned, 0, 90, 180 or 270 [degrees, against the clock].
    """

    x: float
    y: float
    rotation: int


def placement_matrix(outline: Sequence[Point] | Array, placement: Placement) -> Array:
    """Return the affine map that lays a blank on the sheet, shape (2, 3).

    Parameters
    ----------
    outline : sequence of points
        The outline that was placed; its box is what the placement is about [mm].
    placement : Placement

    Returns
    -------
    ndarray
        ``x' = m00 x + m01 y + m02``, ``y' = m10 x + m11 y + m12``, for any point of the drawing.
    """
    ring = ring_array(outline)
    cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[placement.rotation // 90]
    turn = np.array([[cos, -sin], [sin, cos]], float)
    corner = (ring @ turn.T).min(axis=0)
    return np.column_stack([turn, np.array([placement.x, placement.y]) - corner])
