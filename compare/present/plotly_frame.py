"""What all figures of the pen for the screen share: font, colours, axes, numbers as the plotly schema packs them."""

from __future__ import annotations

import base64
from typing import Any

import numpy as np

from compare.present.look import Palette
from compare.present.numbers import NumberStyle

Figure = dict[str, Any]

_FONT = "system-ui, 'Segoe UI', 'Helvetica Neue', 'DejaVu Sans', sans-serif"


def frame(palette: Palette, style: NumberStyle, **more: Any) -> dict[str, Any]:
    """Return a layout of the plotly schema with what is the same in every figure."""
    return {
        "paper_bgcolor": palette.ground,
        "plot_bgcolor": palette.ground,
        "font": {"family": _FONT, "size": 13, "color": palette.ink},
        "separators": style.decimal + style.group,
        "showlegend": False,
        "hoverlabel": {"bgcolor": palette.ground, "bordercolor": palette.quiet, "font": {"color": palette.ink}},
        "dragmode": False,
        **more,
    }


def axis(palette: Palette, **more: Any) -> dict[str, Any]:
    """Return an axis with what is the same on every one."""
    return {"gridcolor": palette.grid, "zeroline": False, "linecolor": palette.grid, "automargin": True, **more}


def packed(values: np.ndarray) -> dict[str, str]:
    """Return numbers as the plotly schema packs them: shorter than digits, and sooner written."""
    short = {
        "dtype": f"f{values.dtype.itemsize}",
        "bdata": base64.b64encode(values.astype(values.dtype.newbyteorder("<")).tobytes()).decode(),
    }
    return short if values.ndim == 1 else {**short, "shape": ", ".join(map(str, values.shape))}
