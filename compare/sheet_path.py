"""The path of the beam over the sheet of a job, planned where the lines of its blank are known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from compare.assumptions import assumption_table
from compare.geometry.head_fields import FieldPlan, OutOfReachError, fields
from compare.geometry.line_kinds import BEAM_KINDS
from compare.geometry.linework import Point, box_size, touches_itself
from compare.geometry.placement import Placement, placement_matrix
from compare.geometry.sheet_loads import SheetLoads
from compare.geometry.toolpath import Effort, Motion, Toolpath, loads_of, plan_sheet
from compare.geometry.trails import Trail, ring_trail
from compare.resolver import Resolver
from compare.sheet_ups import LAYOUT_NAMES, grid_placements

if TYPE_CHECKING:
    from compare.geometry.sheet_layout import Layout
    from compare.readers.drawn_carton import DrawnCarton

_OF_THE_LINES = (
    "work.cutting_m",
    "work.cutting_creasing_m",
    "work.perforating_m",
    "work.partial_cutting_m",
    "work.varnish_release_m",
    "work.strokes",
    "work.corner_load",
    "layout.shared_laser_m",
)
"""Inputs that say how much the beam runs, but not where."""

_OF_THE_LINE = (
    "laser.heads",
    "laser.fields_across",
    "laser.field_width_mm",
    "laser.field_length_mm",
    "laser.field_overlap_mm",
    "laser.stitch_mm",
    "laser.max_sheet_width_mm",
    "laser.max_sheet_length_mm",
    "laser.scan_accel_m_s2",
    "laser.axis_accel_m_s2",
    "laser.corner_deviation_mm",
    "laser.short_jump_mm",
    "laser.hatch_pitch_mm",
)
"""Inputs of the laser line that a path is planned for."""

PLANNED_FOR = (
    *_OF_THE_LINES,
    *_OF_THE_LINE,
    "layout.ups_laser",
    *(n for n in LAYOUT_NAMES if n != "layout.gutter_die_mm"),
)
"""Inputs that a planned path holds for."""


_MOST_UPS, _MOST_STROKES, _MOST_HEADS = 500, 5_000, 64
"""More blanks or strokes on one sheet, or heads over it, than there are; a path of them would take long to plan."""


class _Asked(NamedTuple):
    """Everything a path depends on; a key of the cache."""

    source: tuple[Point, ...] | DrawnCarton
    outline: tuple[Point, ...]
    placements: tuple[Placement, ...]
    shared: bool
    field_plan: FieldPlan
    sheet: tuple[float, float]
    stitch_mm: float
    hatch_pitch_mm: float


def plan_path(
    r: Resolver,
    outline: tuple[Point, ...] | None,
    drawn: DrawnCarton | None,
    layouts: Mapping[str, Layout],
) -> tuple[Toolpath | None, SheetLoads | None]:
    """Plan the path of the beam, if it is wanted and the lines are known.

    Parameters
    ----------
    r : Resolver
        Values so far. The mean jump and the balance of the path are added to them: they stand in for it where
        the sheet or the heads are varied without planning anew.
    outline : tuple of points or None
        Outline of the blank, where it is known [mm].
    drawn : DrawnCarton or None
        The carton of a drawing, where one was given.
    layouts : mapping
        For each route, where its blanks lie on the sheet; only where their outlines were laid.

    Returns
    -------
    Toolpath or None
    SheetLoads or None

    Raises
    ------
    InputError
        If the fields of the heads contradict one another.
    """
    if r.values["laser.path"] == "estimated":
        return None, None
    if outline is None or "work.strokes" not in r.values:
        return None, None
    if reason := _unknown(r, drawn, by_grid="laser" not in layouts):
        r.note(
            "laser.path_estimated",
            f"Seconds per sheet are estimated by the mean jump and the balance: {reason}.",
            "laser.path",
        )
        return None, None
    laid = layouts["laser"].placements if "laser" in layouts else grid_placements(r.values)
    placements = _in_the_middle(laid, outline, r.values)
    values = {name: float(r.values[name]) for name in PLANNED_FOR if name in r.values}
    asked = _Asked(
        source=drawn if drawn is not None else outline,
        outline=outline,
        placements=placements,
        shared=values["layout.shared_laser_m"] > 0,
        field_plan=_field_plan(values),
        sheet=(values["sheet.width_mm"], values["sheet.length_mm"]),
        stitch_mm=values["laser.stitch_mm"],
        hatch_pitch_mm=values["laser.hatch_pitch_mm"],
    )
    try:
        path, loads = _boiled_down(asked, motion_of(values, str(r.values["laser.motion"])))
    except OutOfReachError as out_of_reach:
        r.note(
            "laser.out_of_reach",
            f"Seconds per sheet are estimated, for {out_of_reach.what}; {out_of_reach.remedy}.",
            "laser.field_width_mm",
        )
        return None, None
    _stand_in(r, path)
    return path, loads


def _in_the_middle(
    placements: Sequence[Placement], outline: tuple[Point, ...], values: Mapping[str, Any]
) -> tuple[Placement, ...]:
    """Move all blanks together to the middle of what the margins leave: so sheets are laid out, and heads share best."""
    width, height = box_size(outline)
    turned = [(height, width) if placement.rotation % 180 else (width, height) for placement in placements]
    right = max(p.x + size[0] for p, size in zip(placements, turned, strict=True))
    top = max(p.y + size[1] for p, size in zip(placements, turned, strict=True))
    middle_x = float(values["sheet.width_mm"]) / 2
    usable_end = float(values["sheet.length_mm"]) - float(values["sheet.tail_margin_mm"])
    middle_y = (float(values["sheet.gripper_mm"]) + usable_end) / 2
    dx = middle_x - (min(p.x for p in placements) + right) / 2
    dy = middle_y - (min(p.y for p in placements) + top) / 2
    return tuple(p._replace(x=p.x + dx, y=p.y + dy) for p in placements)


def _stand_in(r: Resolver, path: Toolpath) -> None:
    """Give the estimate the mean jump and the balance of the path, for variations that no path is planned for."""
    strokes = r.values["layout.ups_laser"] * r.values["work.strokes"]
    r.derive("laser.mean_jump_mm", path.jump_mm / strokes if strokes else 0.0, "planned path")
    r.derive("laser.balance", path.balance, "planned path")


def _unknown(r: Resolver, drawn: DrawnCarton | None, *, by_grid: bool) -> str:
    """Say what is not known about the lines, or nothing."""
    given = next((name for name in _OF_THE_LINES if name in r.given and r.values[name]), "")
    if given:
        return f"{given} was given, so where the lines lie is not known"
    if r.values["cutouts.count"] and drawn is None:
        return "where the cut-outs lie is not known"
    if drawn is not None and any(drawn.drawing.lengths_by_code.values()):
        return "the drawing states lengths without drawing their lines"
    if not {"sheet.width_mm", "sheet.length_mm"} <= r.values.keys():
        return "the sheet is not known"
    return _not_laid(r, by_grid=by_grid)


def _not_laid(r: Resolver, *, by_grid: bool) -> str:
    """Say why it is not known where the blanks lie, or nothing."""
    ups, strokes = float(r.values["layout.ups_laser"]), float(r.values["work.strokes"])
    if ups > _MOST_UPS or ups * strokes > _MOST_STROKES:
        return f"no path is planned for more than {_MOST_UPS} blanks or {_MOST_STROKES:,} strokes on a sheet"
    if r.values["laser.heads"] > _MOST_HEADS:
        return f"no path is planned for more than {_MOST_HEADS} heads"
    if by_grid and "layout.ups_laser" in r.given and len(grid_placements(r.values)) < ups:
        return "so many ups as were given do not lie on the grid"
    return ""


def motion_of(values: Mapping[str, Any], motion: str) -> Motion:
    """Return how the heads move.

    Parameters
    ----------
    values : mapping
        Dotted numbers of one scenario.
    motion : {"scanner", "axes"}
        The ``laser.motion`` choice.
    """
    axes = motion == "axes"
    return Motion(
        axes=axes,
        accel_m_s2=float(values["laser.axis_accel_m_s2" if axes else "laser.scan_accel_m_s2"]),
        corner_deviation_mm=float(values["laser.corner_deviation_mm"]),
        short_jump_mm=float(values["laser.short_jump_mm"]),
    )


def _field_plan(values: Mapping[str, float]) -> FieldPlan:
    return FieldPlan(
        heads=int(values["laser.heads"]),
        across=int(values["laser.fields_across"]),
        width_mm=values["laser.field_width_mm"],
        length_mm=values["laser.field_length_mm"],
        overlap_mm=values["laser.field_overlap_mm"],
        largest_mm=(values["laser.max_sheet_width_mm"], values["laser.max_sheet_length_mm"]),
    )


def _usual_effort() -> Effort:
    """Return what strokes are shared out by: values of the table, whatever the plant's, so that no speed plans anew."""
    usual = {name: float(str(assumption_table()[f"laser.{name}"].value)) for name in _USUAL}
    delays = (usual["jump_delay_ms"] + usual["mark_delay_ms"]) / 1000
    return Effort(1 / usual["max_mark_m_s"], delays, 1 / usual["jump_m_s"], usual["mean_jump_mm"] / 1000)


_USUAL = ("max_mark_m_s", "jump_m_s", "jump_delay_ms", "mark_delay_ms", "mean_jump_mm")


@lru_cache(maxsize=64)
def _planned(asked: _Asked) -> Toolpath:
    """Plan a path. Strokes that meet are joined where that is faster: it saves delays, but leaves less to share out."""
    boxes, effort = fields(asked.field_plan, *asked.sheet), _usual_effort()
    joined, apart = sheet_trails(asked, join=True), sheet_trails(asked, join=False)
    path = plan_sheet(joined, boxes, stitch_mm=asked.stitch_mm, effort=effort)
    if len(joined) == len(apart):
        return path
    other = plan_sheet(apart, boxes, stitch_mm=asked.stitch_mm, effort=effort)
    return min(path, other, key=lambda found: max(effort.of_head(head) for head in found.heads))


@lru_cache(maxsize=64)
def _boiled_down(asked: _Asked, motion: Motion) -> tuple[Toolpath, SheetLoads]:
    path = _planned(asked)
    return path, loads_of(path, motion, PLANNED_FOR)


def sheet_trails(asked: _Asked, *, join: bool) -> list[Trail]:
    """Return the strokes of all blanks on the sheet [mm]; a line that blanks share is run once."""
    maps = [placement_matrix(asked.outline, placement) for placement in asked.placements]
    if isinstance(asked.source, tuple) and not asked.shared and not touches_itself(asked.source):
        blank = [ring_trail("cutting", asked.source)]
    else:
        # what follows lines from end to end takes a while to load, and plain cartons don't need it
        from compare.geometry.line_trails import outline_lines, trails_of_lines

        lines = outline_lines(asked.source) if isinstance(asked.source, tuple) else asked.source.lines()
        hatched = None if isinstance(asked.source, tuple) else hatched_varnish(asked.source, asked.hatch_pitch_mm)
        kinds = [kind for kind in BEAM_KINDS if hatched is None or kind != "varnish_release"]
        blank = list(hatched or ())
        if asked.shared:
            shared = trails_of_lines(lines.placed(maps), kinds, join=join)
            return [*shared, *(trail.placed(m) for m in maps for trail in blank)]
        blank = [*trails_of_lines(lines, kinds, join=join), *blank]
    return [trail.placed(m) for m in maps for trail in blank]


@lru_cache(maxsize=16)
def hatched_varnish(drawn: DrawnCarton, pitch_mm: float) -> tuple[Trail, ...] | None:
    """Return all varnish release of a drawing as it is run, its closed contours filled line by line.

    Parameters
    ----------
    drawn : DrawnCarton
        The carton of a drawing.
    pitch_mm : float
        Distance of the lines; 0 for the contours as drawn and nothing between them [mm].

    Returns
    -------
    tuple of Trail or None
        None where there is nothing to fill: then varnish release is run as drawn.

    Raises
    ------
    InputError
        If more lines are needed than any blank has.
    """
    if pitch_mm <= 0 or not any(some.kind == "varnish_release" for some in drawn.measured.kinds):
        return None
    from compare.geometry.hatch import hatch
    from compare.geometry.line_trails import trails_of_lines

    trails = trails_of_lines(drawn.lines(), ("varnish_release",))
    rings = [trail.points[:-1] for trail in trails if trail.closed]
    return (*(trail for trail in trails if not trail.closed), *hatch(rings, pitch_mm)) if rings else None
