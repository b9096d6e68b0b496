"""The pen for paper: flat cartons and bars by stage as SVG in millimetres."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from compare.geometry.line_kinds import pen_of
from compare.present.charts import OutlineChart, StageChart
from compare.present.numbers import PLAIN, NumberStyle, figures
from compare.present.svg_marks import PALETTE, SMALL, TEXT, dashed, document, text_width, written

_DASHES = {"solid": "", "longdash": "3.2 1.3", "dash": "1.6 1", "dot": "0.4 0.8", "dashdot": "2.2 0.8 0.4 0.8"}


def outline_svg(
    chart: OutlineChart, legend: Mapping[str, str], sizes: tuple[str, str], width: float, most_height: float
) -> str:
    """Draw a flat carton to fit, its lines by kind, with its width and height written beside it.

    Parameters
    ----------
    chart : OutlineChart
        Lines by kind.
    legend : mapping
        Kind of line to its name; each kind that is drawn has one.
    sizes : tuple of str
        Width and height in words.
    width, most_height : float
        Width of the picture, and its greatest height [mm]; a low carton makes a lower picture.
    """
    points = [p for lines in chart.lines.values() for line in lines for p in line]
    xs, ys = zip(*points, strict=True)
    rows = _legend_rows([(kind, legend[kind]) for kind in chart.lines], width)
    room_x, room_y = width - 6, most_height - 6.5 - 4.2 * len(rows)
    scale = min(room_x / max(max(xs) - min(xs), 1e-9), room_y / max(max(ys) - min(ys), 1e-9))
    wide, high = (max(xs) - min(xs)) * scale, (max(ys) - min(ys)) * scale
    left, top, height = (room_x - wide) / 2 + 5, 0.5, high + 6.5 + 4.2 * len(rows)
    body = []
    for kind, lines in chart.lines.items():
        path = " ".join(
            "M" + " L".join(f"{left + (x - min(xs)) * scale:.3f} {top + (max(ys) - y) * scale:.3f}" for x, y in line)
            for line in lines
        )
        body.append(f'<path fill="none" stroke-linejoin="round"{_line_look(kind)} d="{path}"/>')
    tone = f'fill="none" stroke="{PALETTE.quiet}" stroke-width="0.18"'
    under, beside = top + high + 1.8, left - 1.8
    body += [
        f'<path {tone} d="M{left:.3f} {under:.3f} h{wide:.3f} M{left:.3f} {under - 0.8:.3f} v1.6 M{left + wide:.3f} {under - 0.8:.3f} v1.6"/>',
        f'<path {tone} d="M{beside:.3f} {top:.3f} v{high:.3f} M{beside - 0.8:.3f} {top:.3f} h1.6 M{beside - 0.8:.3f} {top + high:.3f} h1.6"/>',
        written(left + wide / 2, under + 2.6, sizes[0], SMALL, PALETTE.quiet, anchor="middle"),
        f'<g transform="translate({beside - 0.9:.3f} {top + high / 2:.3f}) rotate(-90)">'
        f"{written(0, 0, sizes[1], SMALL, PALETTE.quiet, anchor='middle')}</g>",
    ]
    for number, row in enumerate(rows):
        across = sum(11.5 + text_width(name, SMALL) for _, name in row) - 3.3
        x, y = max(left + wide / 2 - across / 2, 0.0), height - 4.2 * (len(rows) - number) + 3.0
        for kind, name in row:
            body.append(f'<path fill="none"{_line_look(kind)} d="M{x:.3f} {y - 0.8:.3f} h7"/>')
            body.append(written(x + 8.2, y, name, SMALL, PALETTE.quiet))
            x += 11.5 + text_width(name, SMALL)
    return document(width, height, chart.title, chart.summary, body)


def _legend_rows(entries: Sequence[tuple[str, str]], width: float) -> list[list[tuple[str, str]]]:
    rows: list[list[tuple[str, str]]] = [[]]
    used = 5.0
    for entry in entries:
        wide = 11.5 + text_width(entry[1], SMALL)
        if rows[-1] and used + wide > width:
            rows.append([])
            used = 5.0
        rows[-1].append(entry)
        used += wide
    return rows


def _line_look(kind: str) -> str:
    pen = pen_of(kind)
    return f' stroke="{getattr(PALETTE, pen.tone)}" stroke-width="{pen.width * 0.17:.3f}"{dashed(_DASHES[pen.dash])}'


def stage_svg(chart: StageChart, routes: Mapping[str, str], width: float, style: NumberStyle = PLAIN) -> str:
    """Draw money by stage as one bar per route on one scale.

    Parameters
    ----------
    chart : StageChart
        Money by stage; what lowers a cost stands left of nothing.
    routes : mapping
        Route to its name.
    width : float
        Width of the picture [mm].
    style : NumberStyle
        How the reader writes numbers.

    Returns
    -------
    str
        The SVG; its unit is the millimetre.
    """
    most = max(sum(v for v in values if v > 0) for values in chart.values.values())
    least = min(sum(v for v in values if v < 0) for values in chart.values.values())
    left = 3 + max(text_width(routes[route], TEXT) for route in chart.values)
    scale = (width - left - 16) / max(most - least, 1e-9)
    zero, bar, body = left - least * scale, 5.0, []
    for row, (route, values) in enumerate(chart.values.items()):
        y = 0.5 + row * (bar + 2)
        body.append(written(left - 2, y + 3.4, routes[route], TEXT, PALETTE.ink, anchor="end"))
        ahead = behind = zero
        for stage, value in zip(chart.stages, values, strict=True):
            wide = abs(value) * scale
            behind -= wide if value < 0 else 0
            x = behind if value < 0 else ahead
            body.append(
                f'<rect x="{x:.3f}" y="{y:.3f}" width="{wide:.3f}" height="{bar}" fill="{PALETTE.stages[stage]}" '
                f'stroke="{PALETTE.ground}" stroke-width="0.2"/>'
            )
            ahead += wide if value > 0 else 0
        body.append(written(ahead + 1.5, y + 3.4, figures(sum(values), style=style), TEXT, PALETTE.ink, bold=True))
    x, y = left, 0.5 + len(chart.values) * (bar + 2) + 3
    for stage, label in zip(chart.stages, chart.labels, strict=True):
        wide = 7.5 + text_width(label, SMALL)
        if x > left and x + wide > width:
            x, y = left, y + 4
        body.append(f'<rect x="{x:.3f}" y="{y - 1.9:.3f}" width="3" height="2.2" fill="{PALETTE.stages[stage]}"/>')
        body.append(written(x + 4, y, label, SMALL, PALETTE.quiet))
        x += wide
    return document(width, y + 1, chart.title, chart.summary, body)
