"""Strokes that meet at their ends, joined so that the beam is switched as rarely as can be.

Lines that hang together are drawn in as many goes as half the nodes at which an odd number of lines end, and in
one where there is none. Published: L. Euler, Solutio problematis ad geometriam situs pertinentis, 1736 (read in
1735): not more than two such nodes for one go; the number of goes for more of them is the textbook's corollary.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from compare.geometry.contours import no_corner
from compare.geometry.nodes import clusters, components
from compare.geometry.strokes import Array
from compare.geometry.trails import Trail

SAME_PLACE_MM = 1e-3
"""Places this close to one another are one [mm]: noise of files."""

_MANY = 24
"""Where more lines than this end at a node, each is joined to the one about opposite, not to the best there is."""

_TRIED = 4
"""Joints of a node that a ring may be joined to."""

_NONE = -1


def fewest_strokes(trails: Sequence[Trail], tolerance_mm: float = SAME_PLACE_MM) -> list[Trail]:
    """Join trails that meet, so that there are as few as can be.

    Parameters
    ----------
    trails : sequence of Trail
        Trails of one kind, each line once.
    tolerance_mm : float
        Ends this close to one another meet [mm].

    Returns
    -------
    list of Trail
        Each line is run once, from one end or the other. Of trails that hang together there are max(1, k), where
        2k nodes have an odd number of ends. Trails that joining makes no fewer are as they were. Where there is a
        choice at a node, the trail goes on with the smallest turn.

    Notes
    -----
    Nodes are where ends meet, and where trails run through the same place. So there are at most as many trails
    as ``work.strokes`` counts, which ends a stroke wherever three lines or more meet: joining has its price in
    corners, and is for a beam only.

    The turn at a joint is that of the tangents. Of a curved leg the tangent is its chord, turned by half of length /
    radius to the side that the curve bends to, which the angle to the next leg of its trail tells. Where there is
    none, it is taken to be the side with the smaller turn.
    """
    if len(trails) < 2:
        return list(trails)
    parts, source = _at_shared_places(trails)
    node = _ends(parts, tolerance_mm).reshape(-1, 2)
    one, other = len(parts) + node.T
    number = np.arange(len(parts))
    group = components(
        len(parts) + int(node.max()) + 1, np.concatenate([number, number]), np.concatenate([one, other])
    )[: len(parts)]
    of_trail = group[np.flatnonzero(np.diff(source, prepend=-1))]
    held = np.bincount(of_trail, minlength=int(group.max()) + 1)
    meeting = np.flatnonzero(held[group] > 1)
    some = [parts[i] for i in meeting.tolist()]
    joined: dict[int, list[tuple[int, Trail]]] = defaultdict(list)
    for members, trail in _joined(_Edges(some, node[meeting].ravel(), _tangents(some))):
        joined[int(group[meeting[members[0]]])].append((int(source[meeting[min(members)]]), trail))
    kept: dict[int, list[tuple[int, Trail]]] = defaultdict(list)
    for place, trail in enumerate(trails):
        kept[int(of_trail[place])].append((place, trail))
    found = [one for g, old in kept.items() for one in (joined[g] if 0 < len(joined[g]) < len(old) else old)]
    return [trail for _, trail in sorted(found, key=lambda one: one[0])]


def _at_shared_places(trails: Sequence[Trail]) -> tuple[list[Trail], NDArray[np.int64]]:
    """Return the trails cut where others run through the same place, and the trail that each part is of."""
    places = np.concatenate([trail.points for trail in trails])
    count = np.array([len(trail.points) for trail in trails])
    owner = np.repeat(np.arange(len(trails)), count)
    label = clusters(places, SAME_PLACE_MM)[0]
    least, most = np.full(label.max() + 1, len(trails)), np.full(label.max() + 1, -1)
    np.minimum.at(least, label, owner)
    np.maximum.at(most, label, owner)
    shared = (least < most)[label]
    begin = np.cumsum(count) - count
    shared[begin] = shared[begin + count - 1] = False
    parts: list[Trail] = []
    source: list[int] = []
    for number, trail in enumerate(trails):
        inner = np.flatnonzero(shared[begin[number] : begin[number] + count[number]]).tolist()
        cut = [trail.part(a, b) for a, b in pairwise([0, *inner, len(trail.length)])] if inner else [trail]
        parts += cut
        source += [number] * len(cut)
    return parts, np.array(source, np.int64)


def _ends(parts: Sequence[Trail], tolerance_mm: float) -> NDArray[np.int64]:
    """Return the node of the start and the end of each part, in turns."""
    ends = np.concatenate([trail.points[[0, -1]] for trail in parts])
    return clusters(ends, max(tolerance_mm, SAME_PLACE_MM))[0]


@dataclass(frozen=True, eq=False)
class _Tangents:
    """Of the start and the end of each trail, in turns: the way that leads off the node, and what is known of it.

    Attributes
    ----------
    angle : ndarray
        Its direction [rad].
    doubt : ndarray
        By how much it may lead to either side of that [rad].
    curved : ndarray of bool
        Whether it is of a curve.
    leg : ndarray
        Length of the leg [mm].
    """

    angle: Array
    doubt: Array
    curved: NDArray[np.bool_]
    leg: Array


def _tangents(parts: Sequence[Trail]) -> _Tangents:
    angle, doubt, curved, leg = [], [], [], []
    for part in parts:
        for trail in (part, part.reversed()):
            one, off = _first_tangent(trail)
            angle.append(one)
            doubt.append(off)
            curved.append(bool(np.isfinite(trail.radius[0])))
            leg.append(float(trail.length[0]))
    return _Tangents(np.array(angle), np.array(doubt), np.array(curved), np.array(leg))


def _first_tangent(trail: Trail) -> tuple[float, float]:
    """Return the direction in which a trail sets out, and by how much it may differ to either side [rad]."""
    chord = np.diff(trail.points[:3], axis=0)
    along = np.arctan2(chord[:, 1], chord[:, 0])
    half = trail.length[:2] / trail.radius[:2] / 2
    if half[0] == 0:
        return float(along[0]), 0.0
    if len(along) == 1:
        return float(along[0]), float(half[0])
    # the chords turn by halves of both bends and the corner between them
    bends = float(_wrapped(along[1] - along[0] - trail.turn[1]))
    sides = [(side, other) for side in (1, -1) for other in (1, -1)]
    side = min(sides, key=lambda s: abs(bends - s[0] * half[0] - s[1] * half[1]))[0]
    return float(along[0] - side * half[0]), 0.0


def _wrapped(angle: Array) -> Array:
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)


@dataclass(frozen=True, eq=False)
class _Edges:
    """Trails as edges; end 2 n is the start of the n-th, end 2 n + 1 its end."""

    parts: Sequence[Trail]
    node: NDArray[np.int64]
    tangents: _Tangents

    def turns(self, one: NDArray[np.int64], other: NDArray[np.int64]) -> Array:
        """Return the turns of a trail that comes in by one end and leaves by the other, to the left positive [rad]."""
        t = self.tangents
        turn = _wrapped(t.angle[other] - t.angle[one] - np.pi)
        size = np.abs(turn)
        for doubt in (t.doubt[one], t.doubt[other]):
            size = np.abs(size - doubt)
        smooth = no_corner(size, np.minimum(t.leg[one], t.leg[other]), t.curved[one] | t.curved[other])
        return np.where(smooth, 0.0, np.copysign(size, turn))

    def cost(self, one: int, other: int) -> float:
        """Return the size of a turn [rad]; to end there has none."""
        if _NONE in (one, other):
            return 0.0
        return float(abs(self.turns(np.array([one]), np.array([other]))[0]))


def _joined(edges: _Edges) -> list[tuple[list[int], Trail]]:
    """Return the joined trails with the numbers of their parts, in the order run."""
    partner = [_NONE] * len(edges.node)
    if not partner:
        return []
    order = np.argsort(edges.node, kind="stable")
    at_node = [some.tolist() for some in np.split(order, np.flatnonzero(np.diff(edges.node[order])) + 1)]
    for ends in at_node:
        for a, b in _pairs(edges, ends):
            partner[a], partner[b] = b, a
    _join_rings(edges, at_node, partner)
    used = [False] * len(edges.parts)
    found = []
    # what has loose ends first: what is left then runs in rings
    for first in [*(end for end, other in enumerate(partner) if other == _NONE), *range(len(partner))]:
        if used[first // 2]:
            continue
        walk, end = [], first
        while end != _NONE and not used[end // 2]:
            used[end // 2] = True
            walk.append(end)
            end = partner[end ^ 1]
        found.append(([entry // 2 for entry in walk], _trail(edges, walk, closed=end == first)))
    return found


def _pairs(edges: _Edges, ends: list[int]) -> list[tuple[int, int]]:
    """Pair the ends at a node, those with the smallest turn first; of an odd number one is left."""
    if len(ends) > _MANY:
        by_angle = [ends[i] for i in np.argsort(edges.tangents.angle[ends], kind="stable")]
        half = len(ends) // 2
        return list(zip(by_angle[:half], by_angle[half : 2 * half], strict=True))
    one, other = (np.array(ends)[side] for side in np.triu_indices(len(ends), 1))
    size = np.round(np.abs(edges.turns(one, other)), 9)
    free, pairs = set(ends), []
    for at in np.lexsort([other, one, size]).tolist():
        a, b = int(one[at]), int(other[at])
        if a in free and b in free:
            free -= {a, b}
            pairs.append((a, b))
    return pairs


def _join_rings(edges: _Edges, at_node: list[list[int]], partner: list[int]) -> None:
    """Join every ring to a trail that it shares a node with, where that adds least to the turns."""
    paired = [(a, b) for a, b in enumerate(partner) if a < b]
    one, other = np.array(paired, np.int64).reshape(-1, 2).T // 2
    label = components(len(edges.parts), one, other).tolist()
    above = list(range(max(label) + 1))
    ring = [True] * len(above)
    for end, with_ in enumerate(partner):
        if with_ == _NONE:
            ring[label[end // 2]] = False

    def trail_of(end: int) -> int:
        at = label[end // 2]
        while above[at] != at:
            above[at] = above[above[at]]
            at = above[at]
        return int(at)

    for ends in at_node:
        joints: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for a in ends:
            if partner[a] < a:  # once each, a loose end as well
                joints[trail_of(a)].append((a, partner[a]))
        rings = [trail for trail in joints if ring[trail]]
        open_ = [trail for trail in joints if not ring[trail]]
        if not rings or len(joints) < 2:
            continue
        home = open_[0] if open_ else rings.pop(0)
        base = [joint for trail in (open_ or [home]) for joint in joints[trail]]
        for trail in rings:
            tried = [
                (edges.cost(a, c) + edges.cost(b, d) - edges.cost(a, b) - edges.cost(*theirs), (a, b), theirs, (c, d))
                for a, b in joints[trail][:_TRIED]
                for theirs in base[:_TRIED]
                for c, d in (theirs, theirs[::-1])
            ]
            _, mine, theirs, (c, d) = min(tried, key=lambda one: (round(one[0], 9), one[1:]))
            made = [(mine[0], c), (mine[1], d)]
            for a, b in made:
                partner[a] = b
                if b != _NONE:
                    partner[b] = a
            target = next(end for end in theirs if end != _NONE)
            above[trail] = trail_of(target)
            base.remove(theirs)
            base = [*made, *base, *(joint for joint in joints[trail] if joint != mine)]


def _trail(edges: _Edges, walk: list[int], *, closed: bool) -> Trail:
    """Return one trail of the parts that are entered by some ends."""
    runs = [edges.parts[end // 2] if end % 2 == 0 else edges.parts[end // 2].reversed() for end in walk]
    entry = np.array(walk, np.int64)
    joint = edges.turns(np.roll(entry ^ 1, 1), entry)
    turn = np.concatenate([run.turn for run in runs])
    legs = np.array([len(run.length) for run in runs])
    turn[np.cumsum(legs) - legs] = joint
    if not closed:
        turn[0] = 0.0
    last = runs[0].points[:1] if closed else runs[-1].points[-1:]
    return replace(
        runs[0],
        points=np.concatenate([*(run.points[:-1] for run in runs), last]),
        length=np.concatenate([run.length for run in runs]),
        radius=np.concatenate([run.radius for run in runs]),
        turn=turn,
        closed=closed,
    )
