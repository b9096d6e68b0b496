"""How many blanks lie on a sheet."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from compare.assumptions import Number


class GridUps(NamedTuple):
    """Ups by the grid.

    Attributes
    ----------
    ups : float or ndarray
        Blanks per sheet of the better allowed direction [-].
    turned : bool or ndarray
        Whether the blank lies turned by a quarter.
    """

    ups: Number
    turned: Number


def grid_ups(
    sheet_width_mm: Number,
    sheet_length_mm: Number,
    blank_width_mm: Number,
    blank_height_mm: Number,
    *,
    gripper_mm: Number,
    side_margin_mm: Number,
    tail_margin_mm: Number,
    gutter_mm: Number,
    grain: str = "any",
) -> GridUps:
    """Count the blanks of a plain grid, each in its own box.

    Parameters
    ----------
    sheet_width_mm, sheet_length_mm : float or ndarray
        Sheet across the machine and in running direction [mm].
    blank_width_mm, blank_height_mm : float or ndarray
        Box of the blank as drawn, grain across the body creases, that is along its width [mm].
    gripper_mm, side_margin_mm, tail_margin_mm, gutter_mm : float or ndarray
        Margins and the gap between blanks [mm].
    grain : {"any", "width", "length"}
        Direction of the grain in the sheet. ``width`` forbids turning, ``length`` requires it.

    Returns
    -------
    GridUps

    Notes
    -----
    Each way there is room for ``floor((usable + gutter) / (size + gutter))`` blanks (simple
    division as taught in the trade). Interlocking outlines is a matter of a real layout.
    """
    usable_width = np.subtract(sheet_width_mm, 2 * side_margin_mm)
    usable_length = np.subtract(sheet_length_mm, np.add(gripper_mm, tail_margin_mm))

    def fit(across: Number, along: Number) -> Number:
        columns = np.floor((usable_width + gutter_mm) / np.add(across, gutter_mm) + 1e-9)
        rows = np.floor((usable_length + gutter_mm) / np.add(along, gutter_mm) + 1e-9)
        return np.maximum(columns, 0) * np.maximum(rows, 0)

    straight, quarter = fit(blank_width_mm, blank_height_mm), fit(blank_height_mm, blank_width_mm)
    if grain == "width":
        quarter = quarter * 0
    elif grain == "length":
        straight = straight * 0
    turned = quarter > straight
    ups = np.where(turned, quarter, straight)
    return GridUps(ups if ups.ndim else float(ups), turned if np.ndim(turned) else bool(turned))
