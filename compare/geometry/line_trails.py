"""Trails of drawn lines: strokes followed from end to end, curves cut into legs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.geometry.contours import chains
from compare.geometry.fewest_strokes import fewest_strokes
from compare.geometry.line_kinds import ALL_KINDS, LineKind
from compare.geometry.linework import Point
from compare.geometry.overlaps import Stretches, bare, stretches
from compare.geometry.strokes import LINE, Array, Strokes
from compare.geometry.trails import LEG_MM, Trail


def trails_of(kind: LineKind, lines: Stretches) -> list[Trail]:
    """Return the strokes of one kind as trails.

    Parameters
    ----------
    kind : LineKind
        What they are.
    lines : Stretches
        Lines of that kind, each once [mm].
    """
    # the beam enters legs by their share of the piece, so chords need equal shares: as Strokes.flattened makes them
    counts = lines.strokes.chord_counts(LEG_MM)
    chords, piece = lines.strokes.flattened(LEG_MM)
    number = np.arange(len(piece)) - np.repeat(np.cumsum(counts) - counts, counts)
    source = bare(lines.strokes.kind[piece], lines.strokes.data[piece])
    before, after = source.directions(number / counts[piece]), source.directions((number + 1) / counts[piece])
    bend = np.abs(np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1)))
    straight = np.hypot(chords[:, 2] - chords[:, 0], chords[:, 3] - chords[:, 1])
    share = straight / np.maximum(np.bincount(piece, straight, minlength=len(counts)), 1e-300)[piece]
    length = lines.length[piece] * share
    curved = (source.kind != LINE) & (bend > 1e-9)
    radius = np.divide(length, bend, out=np.full(len(length), np.inf), where=curved)
    first = np.cumsum(counts) - counts
    trails = []
    for chain in chains(lines):
        legs = np.concatenate(
            [
                np.arange(first[s], first[s] + counts[s])[:: -1 if back else 1]
                for s, back in zip(chain.stretches.tolist(), chain.back.tolist(), strict=True)
            ]
        )
        back = np.repeat(chain.back, counts[chain.stretches])
        ends = np.where(back[:, None], chords[legs][:, [2, 3, 0, 1]], chords[legs])
        turn = np.zeros(len(legs))
        turn[np.cumsum(counts[chain.stretches]) - counts[chain.stretches]] = chain.turns
        points = np.concatenate([ends[:, :2], ends[-1:, 2:]])
        trails.append(Trail(kind, points, length[legs], radius[legs], turn, chain.closed))
    return trails


class Lines(NamedTuple):
    """Pieces with the kind of each.

    Attributes
    ----------
    pieces : Strokes
        What is drawn [mm].
    kind : ndarray of int, shape (pieces,)
        Number of the kind of each piece in the order of all kinds.
    tolerance_mm : float
        Ends of lines of one kind this close to one another meet [mm].
    """

    pieces: Strokes
    kind: NDArray[np.int64]
    tolerance_mm: float

    def placed(self, maps: Sequence[Array]) -> Lines:
        """Return all copies of them, one for each affine map of shape (2, 3)."""
        copies = [self.pieces.transformed(m) for m in maps]
        kinds = np.concatenate([copy.kind for copy in copies])
        return Lines(
            bare(kinds, np.concatenate([c.data for c in copies])), np.tile(self.kind, len(copies)), self.tolerance_mm
        )


def outline_lines(outline: Sequence[Point]) -> Lines:
    """Return the sides of a closed outline as cutting lines."""
    corners = np.asarray(outline, float)
    data = np.hstack([corners, np.roll(corners, -1, axis=0), np.zeros((len(corners), 4))])
    kind = np.full(len(corners), ALL_KINDS.index("cutting"))
    return Lines(bare(np.full(len(corners), LINE, np.int8), data), kind, 0.0)


def trails_of_lines(lines: Lines, kinds: Sequence[LineKind], *, join: bool = True) -> list[Trail]:
    """Return the strokes of some kinds as trails; lines of one kind that lie on one another are run once.

    What meets at its ends is joined if wanted, so that the beam is switched as rarely as can be. ``work.strokes`` counts strokes
    that end wherever three lines or more meet: of those there may be more.

    Parameters
    ----------
    lines : Lines
        What is drawn.
    kinds : sequence of LineKind
        What is wanted of it.
    join : bool
        Whether strokes that meet at their ends are joined.
    """
    found = stretches(lines.pieces, lines.kind, lines.tolerance_mm)
    kind_of = lines.kind[found.piece]
    trails: list[Trail] = []
    for kind in kinds:
        which = np.flatnonzero((kind_of == ALL_KINDS.index(kind)) & ~found.speck)
        if len(which):
            once = found.chosen(which[np.unique(found.line[which], return_index=True)[1]])
            found_here = trails_of(kind, once)
            trails += fewest_strokes(found_here, lines.tolerance_mm) if join else found_here
    return trails
