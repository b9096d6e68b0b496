"""The page a client keeps: one HTML file with the prices to be pointed at, that asks no server for anything.

It is made from the client's page of the quote alone, so it holds what that holds. A content security policy in the file
itself lets nothing run but its own script, named by its digest, and nothing be fetched at all.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from compare.present.look import PALETTES
from compare.present.quote_parts import QuoteContent
from compare.present.quote_shapes import outline_svg
from compare.present.quote_svg import curve_frame, curve_svg
from compare.present.quote_words import quote_words

_TEMPLATES = Path(__file__).with_name("templates")
_CURVE, _OUTLINE = (178.0, 84.0), (66.0, 42.0)
"""Sizes of the pictures [mm]; on screen they take the width there is."""

_DIGITS = 6
"""Figures of a price in the file; three of them are shown."""


def leave_behind(content: QuoteContent) -> bytes:
    """Return the page as one HTML file.

    Parameters
    ----------
    content : QuoteContent
        What the client sees of the quote.

    Returns
    -------
    bytes
        UTF-8; the same for the same content.
    """
    page, words = content.client, quote_words(content.language)
    style, script = (_asset(f"leave_behind.{kind}") for kind in ("css", "js"))
    outline = page.outline
    html = (
        _environment()
        .get_template("leave_behind.html")
        .render(
            content=content,
            words={name: words.texts["leave"][name] for name in ("run", "between")},
            style=style,
            style_hash=_digest(style),
            script=script,
            script_hash=_digest(script),
            curve=curve_svg(page.curve.chart, page.curve.words, *_CURVE, content.style),
            outline=outline and outline_svg(outline.chart, outline.legend, outline.sizes, *_OUTLINE),
            data=_data(content),
        )
    )
    return html.encode("utf-8")


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(loader=FileSystemLoader(_TEMPLATES), autoescape=True, undefined=StrictUndefined)


def _asset(name: str) -> str:
    return (_TEMPLATES / name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _data(content: QuoteContent) -> str:
    """Return what the script needs, as JSON that can't end its element."""
    page, words, palette = content.client, quote_words(content.language), PALETTES["light"]
    chart = page.curve.chart
    low, high = chart.series[0].x[0], chart.series[0].x[-1]
    # prices of the table are found again to the last figure
    of_table = {row.run_length: row.prices for row in page.prices if low <= row.run_length <= high}
    points = {
        s.role: dict(zip(s.x, s.y, strict=True)) | {run: p[s.role] for run, p in of_table.items()} for s in chart.series
    }
    runs = sorted({*chart.series[0].x, *of_table})
    data: dict[str, Any] = {
        "frame": curve_frame(chart, *_CURVE)._asdict(),
        "width": _CURVE[0],
        "runs": [int(run) for run in runs],
        "prices": {route: [float(f"{of[run]:.{_DIGITS}g}") for run in runs] for route, of in points.items()},
        "quoted": int(chart.quoted),
        "currency": page.currency,
        "style": {"decimal": content.style.decimal, "group": content.style.group},
        "colours": {"die": palette.die, "laser": palette.laser},
        "ink": palette.ink,
        "words": {
            **{name: words.say("leave", name, **_KEPT) for name in ("readout", "price", "outside")},
            "routes": {route: words.say("routes", route) for route in ("die", "laser")},
        },
    }
    return json.dumps(data, ensure_ascii=False).replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


_KEPT = {name: f"{{{name}}}" for name in ("run", "prices", "price", "currency", "route", "low", "high")}
"""Places that the script fills."""
