"""Lengths of the lines of a drawing by group and by kind, as drawn and with doubles counted once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from compare.geometry.contours import Runs
from compare.geometry.line_kinds import ALL_KINDS, RUN_KINDS, LineKind
from compare.geometry.nodes import Indices
from compare.geometry.overlaps import Stretches, stretches
from compare.geometry.strokes import Array, Drawing, Group, Strokes

CUT_KINDS: tuple[LineKind, ...] = ("cutting", "cutting_creasing", "perforating", "partial_cutting")
"""Kinds made by a sharp rule: it is bent at every corner. A creasing rule is butted at corners, bent at curves only."""


@dataclass(frozen=True)
class GroupLines:
    """The lines of one group of a drawing.

    Attributes
    ----------
    group : Group
        What the drawing says about them.
    kind : LineKind or None
        What they are; None where nobody has said.
    drawn_mm : float
        Length of all strokes as drawn, or as tool data state it [mm].
    length_mm : float
        Length with lines of the group that lie on one another counted once [mm].
    strokes : int
        Strokes as drawn.
    """

    group: Group
    kind: LineKind | None
    drawn_mm: float
    length_mm: float
    strokes: int


@dataclass(frozen=True)
class KindLines:
    """The lines of one kind, whatever groups they are in.

    Attributes
    ----------
    kind : LineKind
        What they are.
    drawn_mm, length_mm : float
        Length as drawn, and with lines that lie on one another counted once [mm].
    drawn_strokes : int
        Strokes as drawn.
    strokes : int
        Lines run in one go: pieces joined end to end until an end or a branch.
    corner_load : float
        Sum of (1 - cos of the turn angle) over the corners inside the strokes; a closed stroke starts
        at its sharpest corner, which does not count. Where a curve runs on smoothly is no corner.
    bends : int
        Places at which a rule is bent: corners inside the strokes of what a sharp rule makes, and
        curves, one for each that runs smoothly, however many pieces it has.
    """

    kind: LineKind
    drawn_mm: float
    length_mm: float
    drawn_strokes: int
    strokes: int
    corner_load: float
    bends: int


def groups_of(drawing: Drawing) -> tuple[Group, ...]:
    """Return all groups of a drawing: of its strokes, then of lengths that it states without drawing them."""
    stated = (group for group in drawing.lengths_by_code if group not in drawing.groups)
    return (*drawing.groups, *stated)


class LineSums:
    """The lines of a drawing, cut where others end on them, and their sums.

    Parameters
    ----------
    drawing : Drawing
        What a reader found.
    strokes : Strokes
        Its strokes [mm].
    kinds : sequence of LineKind or None
        Kind of each group, as :func:`groups_of` lists them.
    tolerance : float
        Ends of lines of one kind this close to one another meet [mm].
    """

    def __init__(self, drawing: Drawing, strokes: Strokes, kinds: Sequence[LineKind | None], tolerance: float) -> None:
        self.groups, self.kinds, self.strokes = groups_of(drawing), tuple(kinds), strokes
        self._stated = [drawing.lengths_by_code.get(group, 0.0) for group in self.groups]
        rank = np.array([len(ALL_KINDS) if kind is None else ALL_KINDS.index(kind) for kind in kinds], np.int64)
        self.group: Indices = strokes.group[strokes.stroke]
        self.rank: Indices = rank[self.group]
        self._drawn = strokes.lengths()
        self.stretches: Stretches = stretches(strokes, self.rank, tolerance, self._drawn)

    @cached_property
    def stretch_rank(self) -> Indices:
        """Number of the kind of each stretch, in the order of all kinds; one above for no kind."""
        ranks: Indices = self.rank[self.stretches.piece]
        return ranks

    @cached_property
    def present(self) -> tuple[LineKind, ...]:
        """Kinds that are run and that the drawing has, drawn or stated."""
        drawn = set(self.rank.tolist())
        stated = {kind for kind, length in zip(self.kinds, self._stated, strict=True) if length > 0}
        return tuple(
            kind for number, kind in enumerate(ALL_KINDS) if kind in RUN_KINDS and (number in drawn or kind in stated)
        )

    def marked(self, kinds: Iterable[LineKind]) -> NDArray[np.bool_]:
        """Mark the stretches of some kinds."""
        ranks = [ALL_KINDS.index(kind) for kind in kinds]
        return np.isin(self.stretch_rank, ranks)

    def lines_of(self, kinds: Iterable[LineKind]) -> Stretches:
        """Return the lines of some kinds, each once; those too short to have two ends are left out."""
        which = np.flatnonzero(self.marked(kinds) & ~self.stretches.speck)
        return self.stretches.chosen(which[np.unique(self.stretches.line[which], return_index=True)[1]])

    def _once(self, owner: Indices, count: int) -> Array:
        """Return the length of each owner's stretches, those on a line that the owner has already left out."""
        found = self.stretches
        key = owner * (int(found.line.max(initial=0)) + 1) + found.line
        first = np.unique(key, return_index=True)[1]
        return np.asarray(np.bincount(owner[first], found.length[first], minlength=count), float)

    @cached_property
    def by_group(self) -> tuple[GroupLines, ...]:
        """The lines of each group."""
        count = len(self.groups)
        drawn = np.bincount(self.group, self._drawn, minlength=count).tolist()
        once = self._once(self.group[self.stretches.piece], count).tolist()
        strokes = np.bincount(self.strokes.group, minlength=count).tolist()
        return tuple(
            GroupLines(group, kind, drawn[i] + stated, once[i] + stated, strokes[i])
            for i, (group, kind, stated) in enumerate(zip(self.groups, self.kinds, self._stated, strict=True))
        )

    @cached_property
    def once_by_rank(self) -> list[float]:
        """Length of the lines of each kind, each once, and last of those without a kind [mm]."""
        once = self._once(self.stretch_rank, len(ALL_KINDS) + 1).tolist()
        for kind, stated in zip(self.kinds, self._stated, strict=True):
            once[len(ALL_KINDS) if kind is None else ALL_KINDS.index(kind)] += stated
        return [float(length) for length in once]

    def of_kind(self, kind: LineKind, runs: Runs | None) -> KindLines:
        """Return the lines of a kind, followed from end to end if they are drawn."""
        groups = [lines for lines in self.by_group if lines.kind == kind]
        bends = 0 if runs is None else runs.curves + (runs.corners if kind in CUT_KINDS else 0)
        return KindLines(
            kind,
            math.fsum(lines.drawn_mm for lines in groups),
            self.once_by_rank[ALL_KINDS.index(kind)],
            sum(lines.strokes for lines in groups),
            runs.strokes if runs else 0,
            runs.corner_load if runs else 0.0,
            bends,
        )
