"""How many blanks lie on the sheet of each route: by the grid of boxes, or by their real outlines."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any

from compare.errors import InputError
from compare.geometry.layout import GridUps, grid_ups
from compare.geometry.linework import Point
from compare.geometry.placement import Placement
from compare.resolver import Resolver

if TYPE_CHECKING:
    from compare.geometry.sheet_layout import Layout

LAYOUT_NAMES = (
    "sheet.width_mm",
    "sheet.length_mm",
    "sheet.gripper_mm",
    "sheet.side_margin_mm",
    "sheet.tail_margin_mm",
    "carton.blank_width_mm",
    "carton.blank_height_mm",
    "layout.gutter_die_mm",
    "layout.gutter_laser_mm",
)
"""Inputs the ups by the grid depend on."""


def lay_sheets(r: Resolver, outline: tuple[Point, ...] | None, usual: str) -> tuple[dict[str, Layout], dict[str, bool]]:
    """Work out the ups of both routes.

    Parameters
    ----------
    r : Resolver
        Values so far; ups are added to them.
    outline : tuple of points or None
        Outline of the blank, where it is known [mm].
    usual : {"grid", "interlocked"}
        The pattern where none is asked for.

    Returns
    -------
    layouts : dict
        Route to where its blanks lie; empty for the grid.
    by_grid : dict
        Route to whether its ups were worked out by the grid.
    """
    pattern = r.values.get("layout.pattern") or usual
    if pattern == "interlocked" and outline is not None:
        return _lay_outlines(r, outline), dict.fromkeys(("die", "laser"), False)
    if r.values.get("layout.pattern") == "interlocked":
        raise InputError(
            "blanks can't be pushed into one another, for their outline is not known",
            where="layout.pattern",
            remedy="name a style or a drawing, or leave it at grid",
        )
    return {}, _lay_boxes(r)


def _lay_outlines(r: Resolver, outline: tuple[Point, ...]) -> dict[str, Layout]:
    """Lay the real outline on the sheet for each route; ups that are given are kept."""
    r.require(("sheet.width_mm", "sheet.length_mm"), why="blanks are laid on the sheet")
    layouts = {}
    for route in ("die", "laser"):
        name = f"layout.ups_{route}"
        layout = _laid(
            outline,
            *(
                float(r.values[f"sheet.{side}_mm"])
                for side in ("width", "length", "gripper", "side_margin", "tail_margin")
            ),
            float(r.values[f"layout.gutter_{route}_mm"]),
            str(r.values["sheet.grain"]),
            int(r.values[name]) if name in r.given else None,
        )
        if layout.ups < 1:
            raise _too_small(r, name)
        how = f"outlines on the sheet, {layout.pattern}"
        r.derive(name, float(layout.ups), how)
        if layout.common_line_mm > 0:
            r.derive(f"layout.shared_{route}_m", layout.common_line_mm / 1000 / layout.ups, how)
        layouts[route] = layout
    return layouts


@lru_cache(maxsize=64)
def _laid(  # noqa: PLR0917 - a key of the cache
    outline: tuple[Point, ...],
    width: float,
    length: float,
    gripper: float,
    side: float,
    tail: float,
    gutter: float,
    grain: str,
    ups: int | None,
) -> Layout:
    # shapely takes a tenth of a second to import and is needed for real outlines only
    from compare.geometry.sheet_layout import place_blanks

    return place_blanks(
        outline,
        width,
        length,
        gripper_mm=gripper,
        side_margin_mm=side,
        tail_margin_mm=tail,
        gutter_mm=gutter,
        grain=grain,
        common_lines=gutter == 0,
        ups=ups,
    )


def _lay_boxes(r: Resolver) -> dict[str, bool]:
    grid = {}
    for route in ("die", "laser"):
        name = f"layout.ups_{route}"
        grid[route] = name not in r.given
        if not grid[route]:
            continue
        r.require(
            ("sheet.width_mm", "sheet.length_mm", "carton.blank_width_mm", "carton.blank_height_mm"),
            why=f"they are needed to work out the ups; or give {name}",
        )
        found = ups_by_grid(r.values, route, str(r.values["sheet.grain"]))
        ups, turned = float(found.ups), bool(found.turned)
        if ups < 1:
            raise _too_small(r, name)
        r.derive(name, ups, "grid on the sheet" + (", blank turned" if turned else ""))
        if turned and r.values["sheet.grain"] == "any" and route == "die":
            r.note(
                "layout.turned",
                "The blank lies turned by a quarter to fit more on the sheet; say sheet.grain if the grain forbids it.",
                "sheet.grain",
            )
    return grid


def _too_small(r: Resolver, name: str) -> InputError:
    width, height = r.values["carton.blank_width_mm"], r.values["carton.blank_height_mm"]
    sheet = f"{r.values['sheet.width_mm']:g} x {r.values['sheet.length_mm']:g} mm"
    return InputError(
        f"the blank of {width:g} x {height:g} mm does not fit the sheet of {sheet} within its margins",
        where=name,
        remedy="give a larger sheet, or check sheet.grain and the margins",
    )


def ups_by_grid(values: Mapping[str, Any], route: str, grain: str) -> GridUps:
    """Count the ups of one route from dotted values; arrays of sheet sizes are welcome."""
    return grid_ups(
        values["sheet.width_mm"],
        values["sheet.length_mm"],
        values["carton.blank_width_mm"],
        values["carton.blank_height_mm"],
        gripper_mm=values["sheet.gripper_mm"],
        side_margin_mm=values["sheet.side_margin_mm"],
        tail_margin_mm=values["sheet.tail_margin_mm"],
        gutter_mm=values[f"layout.gutter_{route}_mm"],
        grain=grain,
    )


def grid_placements(values: Mapping[str, Any]) -> tuple[Placement, ...]:
    """Return where the blanks of the laser route lie by the grid, rows from the gripper edge, each from the left.

    Parameters
    ----------
    values : mapping
        Dotted values of one scenario; no more blanks are laid than ``layout.ups_laser``.
    """
    turned = bool(ups_by_grid(values, "laser", str(values["sheet.grain"])).turned)
    width, height = float(values["carton.blank_width_mm"]), float(values["carton.blank_height_mm"])
    if turned:
        width, height = height, width
    gutter, side = float(values["layout.gutter_laser_mm"]), float(values["sheet.side_margin_mm"])
    gripper, tail = float(values["sheet.gripper_mm"]), float(values["sheet.tail_margin_mm"])
    columns, rows = (
        int((room + gutter) / (size + gutter) + 1e-9)
        for room, size in (
            (values["sheet.width_mm"] - 2 * side, width),
            (values["sheet.length_mm"] - gripper - tail, height),
        )
    )
    spots = (
        Placement(side + column * (width + gutter), gripper + row * (height + gutter), 90 * turned)
        for row in range(rows)
        for column in range(columns)
    )
    return tuple(islice(spots, int(values["layout.ups_laser"])))
