"""Pieces that views share: cards, charts with their downloads, tables."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

GRAPH_CONFIG: Any = {
    "displaylogo": False,
    "displayModeBar": False,
    "showSendToCloud": False,
    "modeBarButtonsToRemove": ["lasso2d", "select2d"],
    "responsive": True,
}
"""No button of a chart sends anything anywhere; pictures and numbers are offered below it."""


def aria(**names: str) -> Any:
    """Return ARIA attributes: ``aria(label="Views")``."""
    return {f"aria-{name}": value for name, value in names.items()}


def card(title: str, *children: Any, **props: Any) -> Any:
    """Return a card with a quiet title."""
    head = [dmc.Title(title, order=2, className="card-title")] if title else []
    return dmc.Paper([*head, *children], className="card", withBorder=True, radius="md", **props)


def chart(name: str, figure: dict[str, Any] | None, summary: str, *, numbers: str = "numbers") -> Any:
    """Return a chart with its text alternative and its downloads.

    Parameters
    ----------
    name : str
        Name of the chart, unique in the view.
    figure : dict or None
        Plotly figure; ``None`` leaves the place empty.
    summary : str
        The chart in words, for those who can't see it.
    numbers : str
        Kind of the button that asks for its numbers: each view answers its own.
    """
    return html.Div(
        [picture(name, figure, summary), downloads(name, numbers)],
        id=f"place-{name}",
        hidden=figure is None,
    )


def downloads(name: str, numbers: str = "numbers") -> Any:
    """Return the buttons that give a chart away as a picture and as its numbers."""
    return dmc.Group(
        [
            *_pictures(name),
            dmc.Button(
                "CSV",
                id={"kind": numbers, "chart": name},
                variant="subtle",
                size="compact-xs",
                **aria(label=f"CSV of the chart {name}"),
            ),
        ],
        gap=2,
        justify="flex-end",
        className="downloads",
    )


def picture(name: str, figure: dict[str, Any] | None, summary: str) -> Any:
    """Return a chart with its text alternative, without downloads."""
    height = {"height": f"{figure['layout']['height']}px"} if figure else {}
    return html.Div(
        [
            html.Div(
                dcc.Graph(id=f"chart-{name}", figure=figure or {}, config=GRAPH_CONFIG, style=height),
                role="img",
                style={"minHeight": height.get("height")},  # its place is kept until it is drawn
                **aria(labelledby=f"chart-{name}-words"),
            ),
            dmc.VisuallyHidden(summary, id=f"chart-{name}-words"),
        ]
    )


def chart_for_clients(name: str, figure: dict[str, Any] | None, summary: str) -> Any:
    """Return a chart of which pictures can be taken; numbers behind it are not offered."""
    return html.Div(
        [picture(name, figure, summary), dmc.Group(_pictures(name), gap=2, justify="flex-end", className="downloads")],
        hidden=figure is None,
    )


def _pictures(name: str) -> list[Any]:
    return [
        dmc.Button(
            kind.upper(),
            id={"kind": "picture", "chart": name, "format": kind},
            variant="subtle",
            size="compact-xs",
            **aria(label=f"{kind.upper()} of the chart {name}"),
        )
        for kind in ("png", "svg")
    ]


def problem(text: str, *, title: str) -> Any:
    """Return what can't be done and why; it lies over the foot of the page, where nothing has to make room."""
    return dmc.Alert(text, title=title, color="red", variant="light")


def table(head: list[str], body: list[list[Any]], caption: str = "") -> Any:
    """Return a plain table; numbers are right-aligned by the style sheet."""
    return dmc.TableScrollContainer(
        dmc.Table(
            data={"head": head, "body": body, **({"caption": caption} if caption else {})},
            verticalSpacing=4,
            horizontalSpacing="sm",
            tabularNums=True,
            className="plain",
        ),
        minWidth=320,
    )


def margin_field(name: str) -> Any:
    """Return a field for a margin in per cent of the price."""
    return dmc.NumberInput(
        id=name,
        label="Margin, % of the price",
        value=25,
        min=0,
        max=90,
        size="xs",
        w=170,
        hideControls=True,
        clampBehavior="none",
    )


def table_with_controls(head: list[str], body: list[list[Any]]) -> Any:
    """Return a table whose cells may hold fields and buttons; numbers are right-aligned by the style sheet."""
    return dmc.TableScrollContainer(
        dmc.Table(
            [
                dmc.TableThead(dmc.TableTr([dmc.TableTh(text) for text in head])),
                dmc.TableTbody([dmc.TableTr([dmc.TableTd(cell) for cell in row]) for row in body]),
            ],
            verticalSpacing=4,
            horizontalSpacing="sm",
            tabularNums=True,
            className="plain",
        ),
        minWidth=320,
    )


def lines(items: list[str]) -> Any:
    """Return a quiet list of sentences."""
    return html.Ul([html.Li(item) for item in items], className="sentences")
