"""The pen for files: drawings as SVG, in millimetres, readable without this program."""

from __future__ import annotations

import re
from xml.sax.saxutils import escape

from compare.geometry.line_kinds import pen_of
from compare.present.charts import OutlineChart
from compare.present.look import PALETTES

_DASHES = {"solid": "", "dash": "4 2", "dot": "0.8 1.6", "dashdot": "5 2 1 2", "longdash": "8 2"}
_LEGEND_MM, _MARGIN_SHARE = 7.0, 0.05

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that may not stand in an XML at all, escaped or not; names of layers and files can hold them."""


def _said(text: str) -> str:
    return escape(_NOT_XML.sub("\ufffd", text))


def svg_of(chart: OutlineChart) -> str:
    """Draw a chart of lines as an SVG at its true size.

    Parameters
    ----------
    chart : OutlineChart
        Lines by kind and marks [mm].

    Returns
    -------
    str
        The file's text. Kinds differ by stroke; marks carry the number of their finding and, as
        their title, its words.
    """
    palette = PALETTES["light"]
    points = [p for lines in chart.lines.values() for line in lines for p in line]
    points += [(mark.x, mark.y) for mark in chart.marks]
    xs, ys = zip(*points, strict=True) if points else ((0.0,), (0.0,))
    size = max(max(xs) - min(xs), max(ys) - min(ys), 10.0)
    margin, unit = size * _MARGIN_SHARE, size / 250
    legend = len(chart.lines) * _LEGEND_MM * unit
    left, top = min(xs) - margin, -max(ys) - margin
    width, height = max(xs) - min(xs) + 2 * margin, max(ys) - min(ys) + 2 * margin + legend
    body = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{height:.3f}mm" '
        f'viewBox="{left:.3f} {top:.3f} {width:.3f} {height:.3f}" font-family="sans-serif">',
        f"<title>{_said(chart.title)}</title>",
        f"<desc>{_said(chart.summary)}</desc>",
        f'<rect x="{left:.3f}" y="{top:.3f}" width="{width:.3f}" height="{height:.3f}" fill="{palette.ground}"/>',
    ]
    for number, (kind, lines) in enumerate(chart.lines.items()):
        pen = pen_of(kind)
        dash = _DASHES[pen.dash]
        scaled = " ".join(f"{float(part) * unit:.3f}" for part in dash.split())
        look = f'fill="none" stroke="{getattr(palette, pen.tone)}" stroke-width="{pen.width * 0.3 * unit:.3f}"'
        look += f' stroke-dasharray="{scaled}"' if dash else ""
        path = " ".join("M " + " L ".join(f"{x:.4f} {-y:.4f}" for x, y in line) for line in lines)
        y = -min(ys) + margin + (number + 0.5) * _LEGEND_MM * unit
        body.append(f'<g><title>{_said(pen.label)}</title><path {look} d="{path}"/></g>')
        body.append(f'<path {look} d="M {left + margin:.3f} {y:.3f} h {20 * unit:.3f}"/>')
        body.append(
            f'<text x="{left + margin + 24 * unit:.3f}" y="{y + 1.5 * unit:.3f}" font-size="{4.5 * unit:.3f}" '
            f'fill="{palette.ink}">{_said(pen.label)}</text>'
        )
    body += [
        f"<g><title>{_said(f'{mark.number}: {mark.words}')}</title>"
        f'<circle cx="{mark.x:.4f}" cy="{-mark.y:.4f}" r="{2.5 * unit:.3f}" fill="none" stroke="{palette.laser}" '
        f'stroke-width="{0.6 * unit:.3f}"/><text x="{mark.x + 3 * unit:.4f}" y="{-mark.y - 3 * unit:.4f}" '
        f'font-size="{5 * unit:.3f}" fill="{palette.laser}">{mark.number}</text></g>'
        for mark in chart.marks
    ]
    return "\n".join([*body, "</svg>", ""])
