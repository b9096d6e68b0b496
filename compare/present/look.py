"""Colours and strokes: one pair for the two routes, the same in every chart and table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Scheme = Literal["light", "dark"]

ROUTE_DASH: Mapping[str, str] = {"die": "solid", "laser": "longdash"}
"""Stroke of each route: it tells them apart in grey print."""


@dataclass(frozen=True)
class Palette:
    """Colours of one scheme.

    Attributes
    ----------
    die, laser : str
        The two routes.
    ink, quiet, grid, ground : str
        Text, quieter text, grid lines, background of a card.
    stages : mapping
        Steps of one neutral ramp, and an ochre for what is lost.
    crease : str
        Creases of a carton.
    heads : tuple of str
        Heads of a laser line, in turn; none is near the colour of a route.
    deepest : float
        How far the map's shades go from the grid's colour to a route's; the ink can be read on all of them.
    """

    die: str
    laser: str
    ink: str
    quiet: str
    grid: str
    ground: str
    stages: Mapping[str, str]
    crease: str
    heads: tuple[str, ...]
    deepest: float


PALETTES: Mapping[Scheme, Palette] = {
    "light": Palette(
        die="#2a5f9e",
        laser="#c8641b",
        ink="#1c2430",
        quiet="#5b6675",
        grid="#e3e7ec",
        ground="#ffffff",
        stages={
            "tooling": "#2f4358",
            "make-ready": "#5f7f9d",
            "running": "#93b0c9",
            "handling": "#c3d3df",
            "material": "#e2e8ee",
            "waste": "#c9973a",
        },
        crease="#2b7d78",
        heads=("#1b2430", "#5a2ca0", "#b3267e", "#7d7300"),
        deepest=0.62,
    ),
    "dark": Palette(
        die="#7fb0e6",
        laser="#f0975a",
        ink="#e8ecf1",
        quiet="#a3afbd",
        grid="#38424f",
        ground="#1e252e",
        stages={
            "tooling": "#dbe6f0",
            "make-ready": "#a9c1d6",
            "running": "#7896b1",
            "handling": "#536c83",
            "material": "#3b4b5b",
            "waste": "#d8a94e",
        },
        crease="#6cc4bd",
        heads=("#f4f6f8", "#a47cf3", "#ff5fa8", "#c4b400"),
        deepest=0.38,
    ),
}


def mixed(one: str, other: str, share: float) -> str:
    """Return the colour on the way from one colour (share 0) to another (share 1), as ``#rrggbb``."""
    mix = (round(a + (b - a) * share) for a, b in zip(_channels(one), _channels(other), strict=True))
    return "#" + "".join(f"{channel:02x}" for channel in mix)


def _channels(colour: str) -> tuple[int, ...]:
    return tuple(int(colour[at : at + 2], 16) for at in (1, 3, 5))
