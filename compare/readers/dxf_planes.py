"""How the planes of a DXF lie, as seen from above, and where block references put their blocks."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

_SAME_TURN = 1e-6
"""Two angles nearer than this share of a turn are one, for files that round them."""

Axes = tuple[float, float, float, float, float, float]
"""Where the x axis, the y axis and the height of an entity's own plane lie, as seen from above."""

FLAT: Axes = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
"""The plane of the drawing itself."""


class Reference(NamedTuple):
    """A block put into a drawing, once or in a grid.

    Attributes
    ----------
    block : str
        Name of the block.
    look : int
        Number of its look.
    order : int
        Place in the order of drawing.
    matrix : tuple of float
        ``m00 m01 m02 m10 m11 m12`` of the first copy, before the base point of the block is taken off.
    columns, rows : int
        Copies in the grid.
    steps : tuple of float
        Step from column to column and from row to row: x, y, x, y.
    """

    block: str
    look: int
    order: int
    matrix: tuple[float, float, float, float, float, float]
    columns: int
    rows: int
    steps: tuple[float, float, float, float]


def axes_of(attributes: dict[str, Any], height: float = 0.0) -> Axes:
    """Return how an entity's own plane lies.

    The extrusion direction N gives the x axis Wy x N where N is within 1/64 of the z axis, else
    Wz x N: the arbitrary axis rule of the DXF reference.
    """
    normal = attributes.get("extrusion")
    if normal is None or (normal.x == 0 and normal.y == 0 and normal.z >= 0):
        return FLAT
    size = math.hypot(normal.x, normal.y, normal.z)
    nx, ny, nz = normal.x / size, normal.y / size, normal.z / size
    if abs(nx) < 1 / 64 and abs(ny) < 1 / 64:
        ux, uy, uz = nz, 0.0, -nx
    else:
        ux, uy, uz = -ny, nx, 0.0
    size = math.hypot(ux, uy, uz)
    ux, uy, uz = ux / size, uy / size, uz / size
    return ux, uy, ny * uz - nz * uy, nz * ux - nx * uz, nx * height, ny * height


def turn_of(start: float, end: float, whole: float) -> float:
    """Return the angle from start to end, anticlockwise: none from an angle to itself, else up to a whole turn."""
    if abs(abs(end - start) - whole) < _SAME_TURN * whole:
        return whole
    if abs(end - start) < 1e-12 * whole:
        return 0.0
    return (end - start) % whole


def reference_of(attributes: dict[str, Any], look: int, order: int) -> Reference:
    """Work out the matrix of a block reference and the steps of its grid."""
    get = attributes.get
    place = attributes["insert"]
    ax, ay, bx, by, nx, ny = axes_of(attributes, place.z)
    turn = math.radians(get("rotation", 0.0))
    cos, sin = math.cos(turn), math.sin(turn)
    # the height of the block has no say in what is seen from above, so a z scale of 0 does no harm
    sx, sy = get("xscale", 1.0), get("yscale", 1.0)
    if sx == 0 or sy == 0:
        raise ValueError("flat")
    ux, uy, vx, vy = ax * cos + bx * sin, ay * cos + by * sin, bx * cos - ax * sin, by * cos - ay * sin
    right, up = get("column_spacing", 0.0), get("row_spacing", 0.0)
    return Reference(
        attributes["name"],
        look,
        order,
        (ux * sx, vx * sy, ax * place.x + bx * place.y + nx, uy * sx, vy * sy, ay * place.x + by * place.y + ny),
        max(get("column_count", 1), 1),
        max(get("row_count", 1), 1),
        (ux * right, uy * right, vx * up, vy * up),
    )
