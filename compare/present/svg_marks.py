"""Parts that pictures for paper share: texts, strokes, and the document around them, in millimetres."""

from __future__ import annotations

import re
from collections.abc import Sequence
from xml.sax.saxutils import escape

from compare.present.look import PALETTES

FONT = "Noto Sans"

PALETTE = PALETTES["light"]

SMALL, TEXT, LABEL = 2.3, 2.55, 2.8
"""Heights of letters [mm]."""

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def route_colour(route: str) -> str:
    """Return the colour of a route."""
    return PALETTE.die if route == "die" else PALETTE.laser


def dashed(dash: str) -> str:
    """Return the attribute of a dashed stroke; nothing for a solid one."""
    return f' stroke-dasharray="{dash}"' if dash else ""


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Return about how wide a text is [mm]; a mean letter is a little wider than half its height."""
    return len(text) * size * (0.6 if bold else 0.55)


def written(
    x: float,
    y: float,
    text: str,
    size: float,
    colour: str,
    *,
    anchor: str = "start",
    bold: bool = False,
    halo: bool = False,
) -> str:
    """Return a text at a place [mm]; a halo keeps it readable where it lies on lines."""
    look = ' font-weight="700"' if bold else ""
    if halo:
        look += f' stroke="{PALETTE.ground}" stroke-width="0.7" stroke-linejoin="round" paint-order="stroke"'
    return f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size}" fill="{colour}" text-anchor="{anchor}"{look}>{_said(text)}</text>'


def document(width: float, height: float, title: str, summary: str, body: Sequence[str]) -> str:
    """Return an SVG of a size [mm] with its title, what it shows in words, and its body."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
            f'viewBox="0 0 {width:g} {height:g}" font-family="{FONT}">',
            f"<title>{_said(title)}</title>",
            f"<desc>{_said(summary)}</desc>",
            *body,
            "</svg>",
        ]
    )


def _said(text: str) -> str:
    return escape(_NOT_XML.sub("\ufffd", text))
