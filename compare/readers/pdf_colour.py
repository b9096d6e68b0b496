"""Stroke colours of a PDF: device colours as ``#rrggbb``, and the names of spot colours."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import pikepdf

from compare.readers.pdf_layers import get, items, number_of, numbers_of, text_of

_DEVICE = {"DeviceGray": 1, "G": 1, "CalGray": 1, "DeviceRGB": 3, "RGB": 3, "CalRGB": 3, "DeviceCMYK": 4, "CMYK": 4}


class Space(NamedTuple):
    """A colour space, as far as a line needs it.

    Attributes
    ----------
    parts : int
        1 for grey, 3 for red, green and blue, 4 for process colours, 0 for anything else.
    spot : str
        Names of its spot colours, joined; empty where it has none.
    tint : tuple
        Parts of the alternate space, what no tint and full tint are in it, and the exponent;
        empty where the file computes it in another way.
    """

    parts: int
    spot: str = ""
    tint: tuple[int, list[float], list[float], float] | tuple[()] = ()


GREY, RGB, PROCESS = Space(1), Space(3), Space(4)


def space_of(thing: Any, depth: int = 0) -> Space:
    """Read a colour space from its name or its array."""
    if isinstance(thing, pikepdf.Name):
        return Space(_DEVICE.get(text_of(thing), 0))
    parts = [item for _, item in zip(range(4), items(thing), strict=False)] if isinstance(thing, pikepdf.Array) else []
    kind = text_of(parts[0]) if parts else ""
    if kind == "ICCBased" and len(parts) > 1:
        number = number_of(get(parts[1], "/N"), 0)
        return Space(int(number) if number in (1, 3, 4) else 0)
    if kind == "Separation" and len(parts) == 4:
        tint: tuple[int, list[float], list[float], float] | tuple[()] = ()
        if number_of(get(parts[3], "/FunctionType"), 0) == 2:
            ends = [numbers_of(get(parts[3], key)) for key in ("/C0", "/C1")]
            alternate = space_of(parts[2], depth + 1) if depth == 0 else Space(0)
            tint = (alternate.parts, ends[0] or [0.0], ends[1] or [1.0], number_of(get(parts[3], "/N"), 1.0))
        return Space(0, text_of(parts[1]), tint)
    if kind == "DeviceN" and len(parts) > 1:
        names = [text_of(item) for item in items(parts[1])][:32]
        return Space(0, " + ".join(name for name in names if name != "None")[:200] or "None")
    return Space(_DEVICE.get(kind, 0))


def hex_of(space: Space, numbers: Sequence[float]) -> str:
    """Return a colour as ``#rrggbb``; empty where it can't be told without the file's own formula.

    Process colours by the plain complement: enough to tell lines apart, no match of an ink.
    """
    parts = space.parts
    if space.tint and len(numbers) == 1:
        parts, none, full, exponent = space.tint
        t = min(max(numbers[0], 0.0), 1.0) ** min(max(exponent, 0.0), 100.0)
        numbers = [a + t * (b - a) for a, b in zip(none, full, strict=False)]
    if parts == 0 or len(numbers) != parts:
        return ""
    if parts == 1:
        numbers = [numbers[0]] * 3
    elif parts == 4:
        numbers = [1 - min(1.0, n + numbers[3]) for n in numbers[:3]]
    if any(map(math.isnan, numbers)):
        return ""
    return "#" + "".join(f"{round(255 * min(max(n, 0.0), 1.0)):02x}" for n in numbers)
