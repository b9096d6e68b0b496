"""Remarks on a drawing: doubles, lines of two kinds in one place, open ends, and what the cut lines enclose."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import shapely

from compare.errors import Finding
from compare.geometry.faces import Enclosed
from compare.geometry.line_kinds import ALL_KINDS, IGNORED, RUN_KINDS, label_of
from compare.geometry.line_sums import LineSums
from compare.geometry.nodes import Indices
from compare.geometry.overlaps import mutual_neighbours
from compare.geometry.strokes import Array

_NEAR_MM = 1.0
"""Open ends this close to one another were perhaps meant to meet [mm]."""

_FRAME_SHARE = 0.5
"""What takes more of a contour than this is hardly waste of a blank."""

_NOISE_MM = 1e-6
"""Lengths below this are noise of arithmetic [mm]."""

_MARKED = 100
"""So many places at most are marked for one finding."""

_NAMED = 3


def _places(at: Array) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in at[:_MARKED])


def _counted(number: int, one: str, many: str) -> str:
    return f"1 {one}" if number == 1 else f"{number:,} {many}"


def _longest_first(sums: LineSums, which: Indices) -> Indices:
    return which[np.argsort(-sums.stretches.length[which], kind="stable")]


def _layers(sums: LineSums, which: Indices) -> str:
    """Name the layers that stretches are on."""
    groups = np.unique(sums.group[sums.stretches.piece[which]]).tolist()
    names = list(dict.fromkeys(sums.groups[number].layer for number in groups))
    return ", ".join(names[:_NAMED]) + (" ..." if len(names) > _NAMED else "")


def doubles(sums: LineSums) -> Iterator[Finding]:
    """Say which lines are drawn more than once."""
    found = sums.stretches
    kept = np.flatnonzero(sums.stretch_rank != ALL_KINDS.index(IGNORED))
    key = sums.stretch_rank[kept] * (int(found.line.max(initial=0)) + 1) + found.line[kept]
    first = np.zeros(len(kept), bool)
    first[np.unique(key, return_index=True)[1]] = True
    again = kept[~first]
    over = float(found.length[again].sum())
    if over <= _NOISE_MM:
        return
    again = _longest_first(sums, again)
    once = again[np.sort(np.unique(found.line[again], return_index=True)[1])]
    yield Finding(
        "drawing.duplicates",
        f"Lines lie on one another over {over:,.1f} mm, in {_counted(len(once), 'place', 'places')}; they count once.",
        _layers(sums, again),
        "note",
        _places(found.strokes.at(0.5)[once]),
    )


def kinds_overlap(sums: LineSums) -> Iterator[Finding]:
    """Say where lines of different kinds lie on one another."""
    found = sums.stretches
    present = [kind for kind in sums.present if kind in RUN_KINDS]
    lines = {kind: np.unique(found.line[sums.marked([kind])], return_index=True) for kind in present}
    for one, other in combinations(present, 2):
        numbers = {kind: np.flatnonzero(sums.marked([kind])) for kind in (one, other)}
        common, at, at_too = np.intersect1d(lines[one][0], lines[other][0], return_indices=True)
        if not len(common):
            continue
        here, here_too = numbers[one][lines[one][1][at]], numbers[other][lines[other][1][at_too]]
        over = float(found.length[here].sum())
        if over <= _NOISE_MM:
            continue
        yield Finding(
            "drawing.kinds_overlap",
            f"Lines of {label_of(one)} and of {label_of(other)} lie on one another over {over:,.1f} mm, in "
            f"{_counted(len(here), 'place', 'places')}; they count as both. Take one of them out if it is not meant.",
            _layers(sums, np.concatenate([here, here_too])),
            "caution",
            _places(found.strokes.at(0.5)[_longest_first(sums, here)]),
        )


def open_ends(sums: LineSums) -> Iterator[Finding]:
    """Say where cut lines end and meet nothing."""
    lines = sums.lines_of(RUN_KINDS)
    meeting = np.bincount(np.concatenate([lines.start, lines.end]), minlength=len(lines.nodes))
    cutting = sums.lines_of(["cutting"])
    node, owner = np.concatenate([cutting.start, cutting.end]), np.tile(np.arange(len(cutting)), 2)
    lone = meeting[node] == 1
    node, owner = node[lone], owner[lone]
    order = np.argsort(node)
    node, owner = node[order], owner[order]
    pair = mutual_neighbours(lines.nodes[node], np.zeros(len(node), np.int64), _NEAR_MM)
    pair = pair[owner[pair[:, 0]] != owner[pair[:, 1]]]
    if len(pair):
        apart = lines.nodes[node[pair[:, 0]]] - lines.nodes[node[pair[:, 1]]]
        size = np.hypot(*apart.T)
        yield Finding(
            "drawing.gap",
            f"Cut lines end close to one another without meeting: {_counted(len(pair), 'gap', 'gaps')} of "
            f"{size.min():.2f} to {size.max():.2f} mm. Close them, or allow a larger tolerance; leave them if they are nicks.",
            _layers_of_nodes(sums, node[pair.ravel()]),
            "caution",
            _places(lines.nodes[node[pair.ravel()]]),
        )
    rest = np.setdiff1d(np.arange(len(node)), pair.ravel())
    if len(rest):
        yield Finding(
            "drawing.open_end",
            f"Cut lines are open at {_counted(len(rest), 'end', 'ends')}: right for a slit, wrong for an outline.",
            _layers_of_nodes(sums, node[rest]),
            "note",
            _places(lines.nodes[node[rest]]),
        )


def _layers_of_nodes(sums: LineSums, nodes: Indices) -> str:
    found = sums.stretches
    on = sums.marked(["cutting"]) & (np.isin(found.start, nodes) | np.isin(found.end, nodes))
    return _layers(sums, np.flatnonzero(on))


def about_blanks(sums: LineSums, inside: Enclosed, where: str) -> Iterator[Finding]:
    """Say what is odd about what the cut lines enclose."""
    if "cutting" not in sums.present:
        yield Finding(
            "drawing.no_cut_lines", "There are no cut lines: map the layer of the outline to cutting.", where, "caution"
        )
        return
    if not sums.marked(["cutting"]).any():
        return  # lengths of tool data have no outline
    if not inside.clear:
        yield Finding(
            "drawing.crowded",
            "So many cut lines cross one another that the blank can't be told; give its area and its waste pieces.",
            where,
            "caution",
        )
    elif not inside.blanks:
        yield Finding(
            "drawing.no_blank",
            "The cut lines enclose nothing, so there is no blank: close the outline, or give the blank's area.",
            where,
            "caution",
        )
    if len(inside.blanks) > 1:
        yield Finding(
            "drawing.several_blanks",
            f"The cut lines enclose {len(inside.blanks):,} separate blanks; lengths and areas are of all of them "
            "together. Give a drawing of one carton.",
            where,
            "caution",
            _places(shapely.get_coordinates(shapely.point_on_surface(inside.blanks))),
        )
    if inside.blanks:
        largest = inside.blanks[0]
        filled = float(shapely.area(shapely.polygons(shapely.get_exterior_ring(largest))))
        if largest.area < (1 - _FRAME_SHARE) * filled:
            yield Finding(
                "drawing.frame",
                f"What is cut out of the largest contour takes {1 - largest.area / filled:.0%} of it: is this contour the "
                "edge of a sheet or a frame? Then map it as left out.",
                where,
                "caution",
                _places(np.array([largest.exterior.coords[0][:2]])),
            )
    if inside.offcuts:
        yield Finding(
            "drawing.offcuts",
            f"Beside the blank cut lines enclose {_counted(len(inside.offcuts), 'small piece', 'small pieces')} that "
            f"{'shares' if len(inside.offcuts) == 1 else 'share'} a line with it; taken as waste.",
            where,
            "note",
            _places(shapely.get_coordinates(shapely.point_on_surface(inside.offcuts))),
        )
