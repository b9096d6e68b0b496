"""What a rule or a beam can't do well, found in the drawing, with the place and the rule it breaks.

Limits of a machine or a board (force, caliper, laminate, sheet size) are no matter of the drawing and
are kept with the routes. Where both look at the same value, the code is the same: a finding from here
has the places as well and stands for the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal, Protocol

import numpy as np
from shapely import (
    Polygon,
    STRtree,
    area,
    buffer,
    contains_xy,
    distance,
    get_coordinates,
    is_empty,
    length,
    maximum_inscribed_circle,
    point_on_surface,
    shortest_line,
)

from compare.assumptions import assumption_table
from compare.errors import Finding
from compare.geometry.fine_detail import Sizes
from compare.geometry.linework import DRAWN_ARC
from compare.geometry.strokes import Array

NEEDED = (
    "die.smallest_radius_mm",
    "die.smallest_gap_mm",
    "die.shortest_rule_mm",
    "die.strip_width_mm",
    "die.strip_area_mm2",
    "die.narrowest_bridge_mm",
    "laser.kerf_mm",
    "laser.bridge_kerfs",
)
"""Values that the rules are checked against, by dotted name."""

_SAME_MM = 1e-6
"""What misses a limit by less keeps it: a drawing holds no more digits."""

_KNOWN_MM = 1e-4
"""A gap between lines as wide as a bridge between outlines, to this, is that bridge."""

_MARKED = 100
"""So many places at most are marked for one rule, the finest first; the message counts them all."""


class FineDetail(Protocol):
    """What is looked at of a drawing; :class:`compare.geometry.measure.Measured` has it."""

    @property
    def radii(self) -> Sizes:
        """Radii of curved cut lines [mm]; a sharp corner is none, since two rules meet there."""

    @property
    def gaps(self) -> Sizes:
        """Distances between cut lines that run side by side and do not touch, marked in the middle [mm]."""

    @property
    def sides(self) -> Sizes:
        """Lengths of cut lines from corner to corner [mm]."""

    @property
    def blanks(self) -> Sequence[Polygon]:
        """Blanks without their cut-outs [mm]."""

    @property
    def waste(self) -> Sequence[Polygon]:
        """Pieces that fall out of them [mm]."""


def feasibility(detail: FineDetail, x: Mapping[str, float]) -> tuple[Finding, ...]:
    """Return what the die or the laser can't make of a drawing, or only with care.

    Parameters
    ----------
    detail : FineDetail
        A measured drawing.
    x : mapping
        Inputs by dotted name; the table's own value stands in for a name that is not given.

    Returns
    -------
    tuple of Finding
        At most one for each rule, with every place on the drawing. ``where`` is the route. What is not
        possible takes the route out; a caution doesn't.
    """
    limit = _limits(x)
    webs = _webs(detail, max(limit["die.narrowest_bridge_mm"], limit["laser.bridge_kerfs"] * limit["laser.kerf_mm"]))
    found = (*_die(detail, webs, limit), *_laser(webs, limit))
    return tuple(finding for finding in found if finding is not None)


def _limits(x: Mapping[str, float]) -> dict[str, float]:
    table = assumption_table()
    # every name has a default: it is a limit of tools, not a matter of the job
    return {name: float(x[name] if name in x else table[name].value or 0) for name in NEEDED}


def _finding(code: str, kind: Literal["caution", "not possible"], sizes: Sizes, message: str) -> Finding | None:
    if not len(sizes.size):
        return None
    at = tuple((float(px), float(py)) for px, py in sizes.at[:_MARKED])
    count = "1 place" if len(sizes.size) == 1 else f"{len(sizes.size):,} places"
    text = message.format(count=count, least=f"{sizes.size[0]:.2f}")
    if len(sizes.size) > _MARKED:
        text += f" The finest {_MARKED} are marked."
    return Finding(code, text, code.partition(".")[0], kind, at)


def _die(detail: FineDetail, webs: Sizes, limit: Mapping[str, float]) -> tuple[Finding | None, ...]:
    radius, gap, piece = (limit[f"die.{n}"] for n in ("smallest_radius_mm", "smallest_gap_mm", "shortest_rule_mm"))
    width, size, bridge = (limit[f"die.{n}"] for n in ("strip_width_mm", "strip_area_mm2", "narrowest_bridge_mm"))
    narrow, small = _cut_outs(detail.waste, width, size)
    return (
        _finding(
            "die.smallest_radius",
            "not possible",
            _below(detail.radii, radius * (1 - DRAWN_ARC)),
            f"Rule can't be bent to a radius below {radius:g} mm (die.smallest_radius_mm): {{count}}, the smallest "
            "{least} mm. Draw a sharp corner or a larger radius.",
        ),
        _finding(
            "die.smallest_gap",
            "not possible",
            _below(detail.gaps, gap),
            f"Two rules can't stand closer than {gap:g} mm (die.smallest_gap_mm), the board between them breaks and "
            "rubber finds no room: {count}, the closest {least} mm. Move the lines apart or use one line.",
        ),
        _finding(
            "die.short_rule",
            "caution",
            _below(detail.sides, piece),
            f"Pieces of rule below {piece:g} mm (die.shortest_rule_mm) hardly hold in the board: {{count}}, the "
            "shortest {least} mm. Join them with their neighbours, or let several be ground from one rule.",
        ),
        _finding(
            "die.narrow_cut_out",
            "caution",
            narrow,
            f"Cut-outs narrower than {width:g} mm (die.strip_width_mm) need a slot or a punch that is bought, and "
            "strip badly: {count}, the narrowest {least} mm.",
        ),
        _finding(
            "die.small_cut_out",
            "caution",
            small,
            f"Cut-outs smaller than {size:g} mm2 (die.strip_area_mm2) stick in the die instead of being stripped: "
            "{count}, the smallest {least} mm2.",
        ),
        _finding(
            "die.narrow_bridge",
            "caution",
            _below(webs, bridge),
            f"Bridges of board below {bridge:g} mm (die.narrowest_bridge_mm) tear when the waste is stripped: {{count}}, "
            "the narrowest {least} mm.",
        ),
    )


def _laser(webs: Sizes, limit: Mapping[str, float]) -> tuple[Finding | None, ...]:
    kerf, kerfs = limit["laser.kerf_mm"], limit["laser.bridge_kerfs"]
    thin = _below(webs, kerfs * kerf)
    gone = thin.size <= kerf + _SAME_MM
    return (
        _finding(
            "laser.no_bridge",
            "not possible",
            Sizes(thin.size[gone], thin.at[gone]),
            f"Of a bridge no wider than the kerf of {kerf:g} mm (laser.kerf_mm) the beam leaves nothing: {{count}}, the "
            "narrowest {least} mm. Widen the bridge or take it out.",
        ),
        _finding(
            "laser.narrow_bridge",
            "caution",
            Sizes(thin.size[~gone], thin.at[~gone]),
            f"Bridges below {kerfs:g} kerfs, {kerfs * kerf:g} mm (laser.bridge_kerfs), char or break under the beam: "
            "{count}, the narrowest {least} mm.",
        ),
    )


def _cut_outs(waste: Sequence[Polygon], width: float, size: float) -> tuple[Sizes, Sizes]:
    """Return the cut-outs that are nowhere wide enough to be stripped, and those that are too small [mm, mm2]."""
    if not waste:
        return _NOTHING, _NOTHING
    shapes = np.array(waste, object)
    # a circle of this width fits nowhere: what is left of the shape after taking half of it off is nothing
    slim = shapes[is_empty(buffer(shapes, -(width - _SAME_MM) / 2))]
    across = 2 * length(np.array([maximum_inscribed_circle(shape, tolerance=1e-3) for shape in slim], object))
    narrow = _sizes(across, get_coordinates(point_on_surface(slim)))
    small = _sizes(area(shapes), get_coordinates(point_on_surface(shapes)))
    return _below(narrow, np.inf), _below(small, size)


def _webs(detail: FineDetail, reach: float) -> Sizes:
    """Return the strips of board that stay between two cuts, up to a width.

    Between two cut-outs of a blank, between a cut-out and its edge, and wherever a gap between two
    lines lies within the board of a blank.
    """
    rings = [
        (number, ring) for number, blank in enumerate(detail.blanks) for ring in (blank.exterior, *blank.interiors)
    ]
    blank, lines = np.array([number for number, _ in rings]), np.array([ring for _, ring in rings], object)
    webs = _NOTHING
    if len(lines) > len(detail.blanks):
        first, second = STRtree(lines).query(lines, predicate="dwithin", distance=reach)
        pairs = (first < second) & (blank[first] == blank[second])
        first, second = first[pairs], second[pairs]
        apart = distance(lines[first], lines[second])
        between = apart > _SAME_MM  # lines that touch leave nothing between them
        nearest = get_coordinates(shortest_line(lines[first[between]], lines[second[between]]))
        webs = _sizes(apart[between], nearest.reshape(-1, 2, 2).mean(axis=1))
    necks = _below(detail.gaps, reach)
    if not len(necks.size):
        return webs
    in_board = np.zeros(len(necks.size), bool)
    for shape in detail.blanks:
        in_board |= contains_xy(shape, necks.at)
    # what two outlines leave between them is known already
    sizes = np.sort(webs.size)
    known = np.searchsorted(sizes, necks.size - _KNOWN_MM) < np.searchsorted(sizes, necks.size + _KNOWN_MM)
    found = in_board & ~known
    return Sizes(np.concatenate([webs.size, necks.size[found]]), np.concatenate([webs.at, necks.at[found]]))


_NOTHING = Sizes(np.zeros(0), np.zeros((0, 2)))


def _sizes(size: Array, at: Array) -> Sizes:
    return Sizes(np.asarray(size, float).reshape(-1), np.asarray(at, float).reshape(-1, 2))


def _below(sizes: Sizes, limit: float) -> Sizes:
    """Return those smaller than a limit, the smallest first."""
    order = np.argsort(sizes.size, kind="stable")
    order = order[sizes.size[order] < limit - _SAME_MM]
    return Sizes(sizes.size[order], sizes.at[order])
