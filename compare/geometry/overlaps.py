"""Lines that lie on one another, so that they count once.

Every piece is cut where the end of another lies on it. What then runs between the same two nodes
along the same way is one line, however often and in whichever direction it was drawn, and however it
was cut into pieces. Lines that merely cross are not cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from compare.errors import InputError
from compare.geometry.line_boxes import PlaceGrid, boxes
from compare.geometry.nodes import Indices, clusters, components
from compare.geometry.strokes import ARC, CUBIC, LINE, Array, Strokes

SAME_MM = 1e-3
"""Places closer than this are one, and lines that run within it of one another are one [mm]: noise of files."""

_STRAIGHT_MM = 1e-4
"""A curve that stays this close to its chord and never turns back is a straight line [mm]."""

_SEARCH_MM = 0.1
"""Chords that stand for curves in the search for ends that lie on them keep within this of them [mm]."""

_MOST_CHORDS = 1_000_000
_MOST_TOUCHES = 5_000_000
_MOST_LOOKS = 10_000_000
"""Ends that lie on lines, and ends in boxes of lines: drawings of two million pieces have fewer, files made to do
harm have more."""

_CELLS = 64
_FEW = 1_000
"""From so many chords on, slanted ones whose box is wider and higher than one in so many of the drawing are cut."""


@dataclass(frozen=True, eq=False)
class Stretches:
    """Pieces cut where others end on them, and which of these stretches are one line.

    Attributes
    ----------
    strokes : Strokes
        The stretches, as pieces; their strokes and groups mean nothing.
    piece : ndarray of int, shape (stretches,)
        Piece each was cut from, as numbered in the drawing.
    length : ndarray, shape (stretches,)
        Length [mm].
    start, end : ndarray of int, shape (stretches,)
        Node at either end.
    line : ndarray of int, shape (stretches,)
        Number of the line; stretches that lie on one another have the same.
    speck : ndarray of bool, shape (stretches,)
        Whether it is too short to have two ends. It has a length, but no part in contours.
    nodes : ndarray, shape (nodes, 2)
        Places of the nodes [mm].
    """

    strokes: Strokes
    piece: Indices
    length: Array
    start: Indices
    end: Indices
    line: Indices
    speck: NDArray[np.bool_]
    nodes: Array

    def __len__(self) -> int:
        """Return the number of stretches."""
        return len(self.piece)

    def chosen(self, which: Indices) -> Stretches:
        """Return some of the stretches, by their numbers."""
        return Stretches(
            bare(self.strokes.kind[which], self.strokes.data[which]),
            self.piece[which],
            self.length[which],
            self.start[which],
            self.end[which],
            self.line[which],
            self.speck[which],
            self.nodes,
        )


def bare(kind: NDArray[np.int8], data: Array) -> Strokes:
    """Return pieces without anything said about them, each a stroke of its own."""
    numbers = np.arange(len(kind))
    return Strokes(kind, data, numbers, np.zeros(len(kind), np.int64), ())


def straightened(strokes: Strokes) -> Strokes:
    """Return the pieces, curves that are straight as lines, arcs of more than a turn as one turn."""
    kind, data = strokes.kind.copy(), strokes.data.copy()
    arc = np.flatnonzero(kind == ARC)
    sweep = data[arc, 7] - data[arc, 6]
    data[arc, 7] = data[arc, 6] + np.clip(sweep, -2 * np.pi, 2 * np.pi)
    cubic = np.flatnonzero(kind == CUBIC)
    p = data[cubic].reshape(-1, 4, 2)
    chord = p[:, 3] - p[:, 0]
    size = np.maximum(np.hypot(*chord.T), 1e-300)
    along = chord / size[:, None]
    inner = p[:, 1:3] - p[:, :1]
    off = np.abs(inner[..., 0] * along[:, None, 1] - inner[..., 1] * along[:, None, 0]).max(axis=1)
    share = (inner * along[:, None]).sum(axis=2) / size[:, None]
    ahead = ((share >= -1e-9) & (share <= 1 + 1e-9)).all(axis=1)
    straight = cubic[ahead & (chord != 0).any(axis=1) & (off <= np.minimum(_STRAIGHT_MM, 1e-3 * size))]
    kind[straight] = LINE
    data[straight, 2:4] = data[straight, 6:8]
    data[straight, 4:] = 0
    return bare(kind, data)


def cut(strokes: Strokes, piece: Indices, low: Array, high: Array) -> Strokes:
    """Return stretches of pieces, each from a share to another of its piece.

    Parameters
    ----------
    strokes : Strokes
        Pieces.
    piece : ndarray of int, shape (stretches,)
        The piece each is cut from.
    low, high : ndarray, shape (stretches,)
        Shares from 0 to 1 at which it starts and ends.

    Returns
    -------
    Strokes
        Exact: a stretch of a line, an arc or a cubic is one again.
    """
    kind, data = strokes.kind[piece], strokes.data[piece]
    part = (low > 0) | (high < 1)
    line, arc, cubic = (np.flatnonzero(part & (kind == k)) for k in (LINE, ARC, CUBIC))
    p = data.reshape(-1, 4, 2)
    start, run = p[line, 0].copy(), p[line, 1] - p[line, 0]
    p[line, 0], p[line, 1] = start + run * low[line, None], start + run * high[line, None]
    begin, sweep = data[arc, 6].copy(), data[arc, 7] - data[arc, 6]
    data[arc, 6], data[arc, 7] = begin + sweep * low[arc], begin + sweep * high[arc]
    a, b = low[cubic, None], high[cubic, None]
    whole = p[cubic]
    for number, shares in enumerate(((a, a, a), (a, a, b), (a, b, b), (b, b, b))):
        rest = [whole[:, i] for i in range(4)]
        for share in shares:  # the polar form of the curve: its value at three shares
            rest = [here + (after - here) * share for here, after in pairwise(rest)]
        p[cubic, number] = rest[0]
    return bare(kind, data)


def stretches(pieces: Strokes, layer: Indices, tolerance: float, length: Array | None = None) -> Stretches:
    """Cut pieces where others end on them, and find which of the stretches lie on one another.

    Parameters
    ----------
    pieces : Strokes
        Pieces [mm].
    layer : ndarray of int, shape (pieces,)
        What belongs together; ends that meet nothing are joined to ends of the same layer only.
    tolerance : float
        An end that meets nothing is joined to another such end, or to a line, this close to it [mm].
    length : ndarray, shape (pieces,), optional
        Lengths of the pieces, where they are known already [mm].

    Returns
    -------
    Stretches

    Raises
    ------
    InputError
        If ends lie on lines more often than any drawing has it.
    """
    drawn = pieces.lengths() if length is None else length
    real = np.flatnonzero(drawn > 0)
    untidy = bare(pieces.kind[real], pieces.data[real])
    tidy, length = straightened(untidy), drawn[real]
    new = np.flatnonzero((tidy.kind != untidy.kind) | (tidy.data[:, 7] != untidy.data[:, 7]))
    length[new] = bare(tidy.kind[new], tidy.data[new]).lengths()
    label, first = clusters(ends := np.concatenate([tidy.at(0.0), tidy.at(1.0)]), SAME_MM)
    net = _Net(tidy, length, label[: len(tidy)], label[len(tidy) :], ends[first])
    joined, still_open = _joined(net, layer[real], tolerance)
    piece, node, share = _touches(joined, np.where(still_open, max(tolerance, SAME_MM), SAME_MM))

    order = np.lexsort([share, piece])
    piece, node, share = piece[order], node[order], share[order]
    count = np.bincount(piece, minlength=len(tidy)) + 1
    owner = np.repeat(np.arange(len(tidy)), count)
    low, high = np.zeros(len(owner)), np.ones(len(owner))
    start, end = joined.start[owner], joined.end[owner]
    # the n-th touch of all has before it n stretches that end in a touch, and the last one of each piece before its own
    after = np.arange(len(piece)) + piece + 1
    low[after], start[after] = share, node
    high[after - 1], end[after - 1] = share, node
    found = cut(tidy, owner, low, high)
    length = joined.length[owner] * (high - low)
    uneven = np.flatnonzero((count[owner] > 1) & (found.kind != LINE) & ~np.isfinite(found.radii()))
    length[uneven] = bare(found.kind[uneven], found.data[uneven]).lengths()
    net = _Net(found, length, start, end, joined.nodes)
    line, speck = _lines(net)
    return Stretches(found, real[owner], length, start, end, line, speck, net.nodes)


class _Net(NamedTuple):
    """Pieces with their lengths, the node at either end, and the places of the nodes."""

    strokes: Strokes
    length: Array
    start: Indices
    end: Indices
    nodes: Array


def _lines(net: _Net) -> tuple[Indices, NDArray[np.bool_]]:
    """Return the number of each piece's line, the same between the same nodes along the same way, and the specks."""
    low, high = np.minimum(net.start, net.end), np.maximum(net.start, net.end)
    ends = np.unique(low * len(net.nodes) + high, return_inverse=True)[1]
    way = np.zeros(len(ends), np.int64)
    curved = np.flatnonzero(net.strokes.kind != LINE)
    way[curved] = clusters(net.strokes.at(0.5)[curved], 3 * SAME_MM)[0] + 1
    speck = (low == high) & (net.length <= 4 * SAME_MM)
    if speck.any():  # too short for nodes to tell them apart: one only where they are drawn alike
        short = np.flatnonzero(speck)
        both = np.stack([net.strokes.at(0.0)[short], net.strokes.at(1.0)[short]], axis=1)
        swap = (both[:, 0, 0] > both[:, 1, 0]) | ((both[:, 0, 0] == both[:, 1, 0]) & (both[:, 0, 1] > both[:, 1, 1]))
        both[swap] = both[swap, ::-1]
        alike = np.unique(np.round(both.reshape(-1, 4), 9), axis=0, return_inverse=True)[1]
        way[short] = way.max() + 1 + np.ravel(alike)
    line = np.unique(ends * (way.max(initial=0) + 1) + way, return_inverse=True)[1]
    return np.asarray(line, np.int64), speck


def _joined(net: _Net, layer: Indices, tolerance: float) -> tuple[_Net, NDArray[np.bool_]]:
    """Join open ends: two that are nearest to one another, in the same layer, become one node.

    Returns the net so joined and whether each node is still the end of one line alone.
    """
    line, speck = _lines(net)
    layers = int(layer.max(initial=0)) + 1
    seen = np.flatnonzero(~speck)
    once = seen[np.unique(line[seen] * layers + layer[seen], return_index=True)[1]]
    node, owner = np.concatenate([net.start[once], net.end[once]]), np.concatenate([once, once])
    _, first, held = np.unique(node * layers + layer[owner], return_index=True, return_counts=True)
    lone = first[held == 1]
    pair = mutual_neighbours(net.nodes[node[lone]], layer[owner[lone]], tolerance)
    a, b = lone[pair[:, 0]], lone[pair[:, 1]]
    other = owner[a] != owner[b]  # the ends of one short line stay apart
    a, b = node[a[other]], node[b[other]]
    group = components(len(net.nodes), a, b)
    joined = np.unique(group, return_index=True)[1][group]
    still_open = np.bincount(node, minlength=len(net.nodes)) == 1
    still_open[a] = still_open[b] = False
    return net._replace(start=joined[net.start], end=joined[net.end]), still_open


def mutual_neighbours(places: Array, layer: Indices, reach: float) -> Indices:
    """Find pairs of places that are each other's nearest, within a reach and in the same layer.

    Parameters
    ----------
    places : ndarray, shape (places, 2)
        Places, no two the same.
    layer : ndarray of int, shape (places,)
        Layer of each.
    reach : float
        Largest distance.

    Returns
    -------
    ndarray of int, shape (pairs, 2)
        Numbers of the two places of each pair, the lower first.
    """
    found = [np.zeros((0, 2), np.int64)]
    for number in np.unique(layer) if reach > 0 else ():
        here = np.flatnonzero(layer == number)
        if len(here) < 2:
            continue
        # the nearest of all is the place itself
        nearest = cKDTree(places[here]).query(places[here], k=2, distance_upper_bound=np.nextafter(reach, np.inf))[1][
            :, 1
        ]
        nearest[nearest == len(here)] = -1
        one = np.flatnonzero(nearest >= 0)
        both = one[(nearest[nearest[one]] == one) & (one < nearest[one])]
        found.append(np.stack([here[both], here[nearest[both]]], axis=1))
    return np.concatenate(found)


def _touches(net: _Net, reach: Array) -> tuple[Indices, Indices, Array]:
    """Find the nodes that lie inside pieces: piece, node and the share of the piece it lies at."""
    which = np.unique(np.concatenate([net.start, net.end]))
    if not len(which):
        return which, which, np.zeros(0)
    parts = _Parts.of_pieces(net.strokes, float(reach[which].max()))
    grid = PlaceGrid.of(net.nodes[which], parts.box)
    _, begin, end = grid.columns(parts.box)
    if (end - begin).sum() > _MOST_LOOKS:
        raise _too_many()
    node, part = grid.within(parts.box)
    piece, node, share = _touches_of(net, which[node], part, parts, reach)
    if len(piece) > _MOST_TOUCHES:
        raise _too_many()
    once = np.unique(piece * len(net.nodes) + node, return_index=True)[1]
    return piece[once], node[once], share[once]


def _too_many() -> InputError:
    return InputError(
        "too many lines lie on or across one another to be told apart",
        where="drawing",
        remedy="take out lines that are drawn many times over and hatching that is drawn in lines",
    )


class _Parts(NamedTuple):
    """Parts of pieces, small enough that few nodes lie in the box of one without lying on it.

    Attributes
    ----------
    box : ndarray, shape (parts, 4)
        Box around each, wider by the reach.
    of : ndarray of int, shape (parts,)
        The piece each is of.
    chord : ndarray, shape (parts, 4)
        From where to where it goes straight, or about so; not used for arcs.
    low, wide : ndarray, shape (parts,)
        The share of its piece it begins at, and the share it takes.
    """

    box: Array
    of: Indices
    chord: Array
    low: Array
    wide: Array

    @classmethod
    def of_pieces(cls, tidy: Strokes, reach: float) -> _Parts:
        line, arc, cubic = (np.flatnonzero(tidy.kind == k) for k in (LINE, ARC, CUBIC))
        straight, part_of, low, wide = shortened(tidy.data[line, :4])
        round_ = boxes(bare(tidy.kind[arc], tidy.data[arc]))
        curves, tolerance = bare(tidy.kind[cubic], tidy.data[cubic]), _SEARCH_MM
        while (counts := curves.chord_counts(tolerance)).sum() > _MOST_CHORDS + 2 * len(cubic):
            tolerance *= 4
        bent, owner = curves.flattened(tolerance)
        number = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
        chord = np.vstack([straight, np.zeros_like(round_), bent])
        least, most = np.minimum(chord[:, :2], chord[:, 2:]), np.maximum(chord[:, :2], chord[:, 2:])
        arcs = slice(len(straight), len(straight) + len(round_))
        least[arcs], most[arcs] = round_[:, :2], round_[:, 2:]
        slack = np.full((len(chord), 1), reach)
        slack[arcs.stop :] += tolerance
        return cls(
            np.hstack([least - slack, most + slack]),
            np.concatenate([line[part_of], arc, cubic[owner]]),
            chord,
            np.concatenate([low, np.zeros(len(arc)), number / counts[owner]]),
            np.concatenate([wide, np.ones(len(arc)), 1 / counts[owner]]),
        )


def _touches_of(net: _Net, node: Indices, part: Indices, parts: _Parts, reach: Array) -> tuple[Indices, Indices, Array]:
    """Find of nodes in the boxes of parts those that lie inside their pieces."""
    tidy, nodes, piece = net.strokes, net.nodes, parts.of[part]
    inside = (node != net.start[piece]) & (node != net.end[piece])
    node, piece, part = node[inside], piece[inside], part[inside]
    ax, ay, bx, by = parts.chord[part].T
    run = np.maximum((bx - ax) ** 2 + (by - ay) ** 2, 1e-300)
    along = np.clip(((nodes[node, 0] - ax) * (bx - ax) + (nodes[node, 1] - ay) * (by - ay)) / run, 0, 1)
    share = parts.low[part] + along * parts.wide[part]
    arc = np.flatnonzero(tidy.kind[piece] == ARC)
    share[arc] = _share_of_arc(tidy.data[piece[arc]], nodes[node[arc]])
    # straight pieces are done: what a node is off them shows at once
    ends = tidy.data[piece, :4]
    off = np.hypot(*(nodes[node] - ends[:, :2] - (ends[:, 2:] - ends[:, :2]) * share[:, None]).T)
    straight = tidy.kind[piece] == LINE
    on = ~straight | (off <= reach[node])
    node, piece, share, off, straight = node[on], piece[on], share[on], off[on], straight[on]
    bent = np.flatnonzero(~straight)
    share[bent], off[bent] = _nearest(tidy, piece[bent], nodes[node[bent]], share[bent])
    # an end within reach of a line's own end, but not of its inside, does not lie on it
    on = (off <= reach[node]) & (share > 0) & (share < 1)
    return piece[on], node[on], share[on]


def _share_of_arc(data: Array, places: Array) -> Array:
    """Return the share at which arcs point to places, as seen from their centres."""
    cx, cy, ax, ay, bx, by, begin, end = data.T
    x, y = places[:, 0] - cx, places[:, 1] - cy
    turned = ax * by - ay * bx
    flat = turned == 0
    angle = np.arctan2(
        np.divide(ax * y - ay * x, turned, out=np.zeros_like(x), where=~flat),
        np.divide(x * by - y * bx, turned, out=np.zeros_like(x), where=~flat),
    )
    sweep = end - begin
    ahead = np.mod((angle - begin) * np.sign(sweep), 2 * np.pi) / np.maximum(np.abs(sweep), 1e-300)
    # beyond its end it is nearer to the end or to the start
    beyond = ahead > 1
    rest = 2 * np.pi / np.maximum(np.abs(sweep), 1e-300)
    ahead[beyond] = np.where(ahead[beyond] - 1 < rest[beyond] - ahead[beyond], 1.0, 0.0)
    return np.asarray(ahead)


def shortened(chords: Array) -> tuple[Array, Indices, Array, Array]:
    """Cut long slanted chords, whose boxes hold much that is nowhere near them.

    Parameters
    ----------
    chords : ndarray, shape (chords, 4)
        Start and end of each.

    Returns
    -------
    parts : ndarray, shape (parts, 4)
        Start and end of each part; the chords themselves where there are few.
    of : ndarray of int, shape (parts,)
        The chord each is of.
    low, wide : ndarray, shape (parts,)
        The share of the chord it begins at, and the share it takes.
    """
    cell = float(np.ptp(chords.reshape(-1, 2), axis=0).max()) / _CELLS if len(chords) >= _FEW else 0.0
    sides = np.abs(chords[:, 2:] - chords[:, :2]).min(axis=1)
    if cell <= 0:
        return chords, np.arange(len(chords)), np.zeros(len(chords)), np.ones(len(chords))
    while (parts := np.maximum(np.ceil(sides / cell), 1).astype(np.int64)).sum() > _MOST_CHORDS + len(chords):
        cell *= 2
    of = np.repeat(np.arange(len(chords)), parts)
    wide = 1 / parts[of]
    low = (np.arange(len(of)) - np.repeat(np.cumsum(parts) - parts, parts)) * wide
    start, run = chords[of, :2], chords[of, 2:] - chords[of, :2]
    return np.hstack([start + run * low[:, None], start + run * (low + wide)[:, None]]), of, low, wide


def _nearest(tidy: Strokes, piece: Indices, places: Array, share: Array) -> tuple[Array, Array]:
    """Return the share of a piece nearest to a place, from a share close to it, and the distance there."""
    near = bare(tidy.kind[piece], tidy.data[piece])
    for _ in range(8):  # Gauss-Newton: the start is close and the distance small against any radius
        off, slope = places - near.at(share), near.slopes(share)
        share = np.clip(share + (off * slope).sum(axis=1) / np.maximum((slope**2).sum(axis=1), 1e-300), 0, 1)
    return share, np.hypot(*(places - near.at(share)).T)
