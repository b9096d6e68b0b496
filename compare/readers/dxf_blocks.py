"""Blocks of a DXF file: what holds what, how often, and all of it laid out in the drawing.

A file of a few kilobytes can hold blocks of blocks of blocks that make up billions of lines. So the
lines are counted first, block by block, and laid out only if there are not too many: all copies of
a block at once, each by its matrix.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from compare.errors import InputError
from compare.geometry.strokes import ARC, LINE, Array
from compare.readers.dxf_entities import MOST_PIECES, Content, Look, too_many
from compare.readers.dxf_planes import Reference

MOST_LEVELS = 32
"""Blocks within blocks, at most."""

Ints = NDArray[np.int64]

_SHOWN = 10**9
"""A count beyond is of no use to anybody and is cut off there."""


class Laid(NamedTuple):
    """A layout with all its blocks laid out: pieces, and of each stroke the group and the place in the file."""

    kind: NDArray[np.int8]
    data: Array
    stroke: Ints
    group: Ints
    place: list[str]


class Blocks:
    """The content of a layout and of every block it refers to.

    Parameters
    ----------
    root : Content
        What the layout holds itself.
    find : callable
        Gives the block of a name, in small letters: its entities, its base point and, for a block
        kept in another file, the name of that file; None if there is no such block.
    frozen : callable
        Whether the layer of a name is frozen.

    Attributes
    ----------
    order : list of str
        Names of the blocks with a part in the drawing, each before those it refers to; the layout
        has the empty name and comes first.
    missing, external, cyclic : Counter
        Names of blocks that are not there, are kept in another file, or hold themselves, with the
        number of references to them that were left out.

    Raises
    ------
    InputError
        If blocks are nested more than 32 deep, or make up more than two million pieces.
    """

    def __init__(self, root: Content, find: Callable[[str], Any], frozen: Callable[[str], bool]) -> None:
        self.content = {"": root}
        self.base: dict[str, tuple[float, float]] = {"": (0.0, 0.0)}
        self.missing: Counter[str] = Counter()
        self.external: Counter[str] = Counter()
        self.cyclic: Counter[str] = Counter()
        self._find, self._frozen = find, frozen
        self._dropped: dict[str, dict[str, tuple[Counter[str], str]]] = {}
        self.order = self._sorted()
        self._leave_out()
        self._check_depth()
        self.pieces = self._counted()
        if self.pieces[""] > MOST_PIECES:
            raise too_many()
        self.copies = self._times()

    def _sorted(self) -> list[str]:
        """Read the blocks in use, drop references of a block to itself, and return who comes before whom."""
        done: list[str] = []
        state = {"": 1}  # 1: being looked at, 2: done
        stack = [("", iter(self._targets("")))]
        while stack:
            name, targets = stack[-1]
            target = next(targets, None)
            if target is None:
                stack.pop()
                state[name] = 2
                done.append(name)
            elif state.get(target) == 1:
                self._drop(name, target, self.cyclic)
            elif target not in state and self._open(name, target):
                state[target] = 1
                stack.append((target, iter(self._targets(target))))
        return done[::-1]

    def _targets(self, name: str) -> list[str]:
        return list(dict.fromkeys(reference.block.lower() for reference in self.content[name].references))

    def _open(self, name: str, target: str) -> bool:
        """Read a block; say whether it is there."""
        found = self._find(target)
        if found is None:
            self._drop(name, target, self.missing)
            return False
        entities, base, file = found
        if file is not None:
            self._drop(name, target, self.external, file or target)
            return False
        self.content[target] = Content(target).read(entities, self._frozen)
        self.base[target] = base
        return True

    def _drop(self, name: str, target: str, why: Counter[str], called: str = "") -> None:
        """Note that the references from a block to another are to be left out, and why."""
        self._dropped.setdefault(name, {})[target] = (why, called or target)

    def _leave_out(self) -> None:
        """Leave out the references that were noted."""
        for name, targets in self._dropped.items():
            content = self.content[name]
            kept = []
            for reference in content.references:
                if reference.block.lower() in targets:
                    why, called = targets[reference.block.lower()]
                    why[called] += 1
                else:
                    kept.append(reference)
            content.references = kept

    def _check_depth(self) -> None:
        depth = dict.fromkeys(self.order, 0)
        for name in self.order:
            for target in self._targets(name):
                depth[target] = max(depth[target], depth[name] + 1)
        if max(depth.values()) > MOST_LEVELS:
            raise InputError(
                f"blocks are nested more than {MOST_LEVELS} deep", remedy="explode them in the drawing program"
            )

    def _counted(self) -> dict[str, int]:
        """Return how many pieces each block comes to with all it refers to."""
        pieces: dict[str, int] = {}
        for name in reversed(self.order):
            content = self.content[name]
            inner = sum(pieces[r.block.lower()] * r.columns * r.rows for r in content.references)
            pieces[name] = len(content.kind) + inner
        return pieces

    def _times(self) -> dict[str, int]:
        """Return how often each block is in the drawing."""
        copies = dict.fromkeys(self.order, 0)
        copies[""] = 1
        for name in self.order:
            for r in self.content[name].references:
                copies[r.block.lower()] += copies[name] * r.columns * r.rows
        return copies

    def total(self, counts: Callable[[Content], Counter[str]]) -> Counter[str]:
        """Add up counts over all copies of all blocks."""
        whole: Counter[str] = Counter()
        for name in self.order:
            for word, count in counts(self.content[name]).items():
                whole[word] = min(whole[word] + count * self.copies[name], _SHOWN)
        return +whole

    # -- laying out ---------------------------------------------------------------------------------------------------

    def laid_out(self, group_of: Callable[[Look, int], int]) -> Laid:
        """Lay out every copy of every block.

        Parameters
        ----------
        group_of : callable
            Gives the number of the group of a look within a block whose reference is of a group;
            the second argument is -1 outside of blocks.

        Returns
        -------
        Laid
            In the order of drawing.
        """
        waiting: dict[str, list[_Copies]] = {name: [] for name in self.order}
        waiting[""] = [_Copies(np.array([[1.0, 0, 0, 0, 1, 0]]), np.array([-1]), np.array([-1]))]
        parts: list[Laid] = []
        turns: list[Ints] = []
        strokes = 0
        for name in self.order:
            content, copies = self.content[name], _joined(waiting.pop(name))
            if not len(copies.group):
                continue
            inside: dict[str, list[Reference]] = {}
            for reference in content.references:
                target = reference.block.lower()
                if self.pieces[target]:
                    inside.setdefault(target, []).append(reference)
            around, which = np.unique(copies.group, return_inverse=True)
            used = {*content.look, *(reference.look for own in inside.values() for reference in own)}
            groups = _groups(content.looks, used, around, group_of)
            if len(content.kind):
                part = _copied(content, copies, strokes)
                parts.append(part._replace(group=groups[:, content.look][which].ravel()))
                turns.append(np.where(copies.turn[:, None] < 0, content.order, copies.turn[:, None]).ravel())
                strokes += len(part.place)
            for target, own in inside.items():
                waiting[target].append(_inserted(own, self.base[target], copies, groups, which))
        return _in_order(parts, turns)


class _Copies(NamedTuple):
    """Where a block is put: matrices, shape (copies, 6), groups of the references, places in the order of drawing."""

    matrix: Array
    group: Ints
    turn: Ints


def _joined(copies: list[_Copies]) -> _Copies:
    if not copies:
        return _Copies(np.zeros((0, 6)), np.zeros(0, np.int64), np.zeros(0, np.int64))
    if len(copies) == 1:
        return copies[0]
    return _Copies(*(np.concatenate(part) for part in zip(*copies, strict=True)))


def _groups(looks: dict[Look, int], used: set[int], around: Ints, group_of: Callable[[Look, int], int]) -> Ints:
    """Return the group of each look in use, by the group of the reference around it, shape (around, looks)."""
    return np.array(
        [[group_of(look, outer) if n in used else -1 for n, look in enumerate(looks)] for outer in around.tolist()],
        np.int64,
    )


def _copied(content: Content, copies: _Copies, first: int) -> Laid:
    """Draw a block once per copy; its strokes are numbered from ``first``."""
    number, strokes = len(copies.group), len(content.look)
    kind = np.array(content.kind, np.int8)
    data = np.frombuffer(content.data).reshape(-1, 8)
    stroke = np.array(content.stroke, np.int64)
    if content.name:
        data = _moved(kind, data, copies.matrix)
    stroke = (first + stroke + strokes * np.arange(number)[:, None]).ravel()
    return Laid(np.tile(kind, number), data, stroke, np.zeros(0, np.int64), content.place * number)


def _moved(kind: NDArray[np.int8], data: Array, matrix: Array) -> Array:
    """Return pieces under every matrix, shape (matrices x pieces, 8)."""
    points = data.reshape(-1, 4, 2)
    result = np.empty((len(matrix), *points.shape))
    # the half-axes of an arc and the zeros behind a line are turned and stretched, but not moved
    fixed = np.ones((len(kind), 4))
    fixed[kind == LINE, 2:] = 0
    fixed[kind == ARC, 1:] = 0
    with np.errstate(all="ignore"):
        for pair in range(4):  # one by one, to need less memory at a time
            x, y, moved = points[:, pair, 0], points[:, pair, 1], fixed[:, pair]
            for axis in (0, 1):
                a, b, c = matrix[:, 3 * axis : 3 * axis + 3, None].transpose(1, 0, 2)
                result[:, :, pair, axis] = a * x + b * y + c * moved
    arc = kind == ARC
    result[:, arc, 3] = points[arc, 3]
    return result.reshape(-1, 8)


def _inserted(
    references: list[Reference], base: tuple[float, float], copies: _Copies, groups: Ints, around: Ints
) -> _Copies:
    """Return the copies of a block that references to it make, within all copies of the block they are in.

    ``groups`` are those of the looks, by what is around, and ``around`` says what is, copy by copy.
    """
    times = np.array([r.columns * r.rows for r in references])
    which = np.repeat(np.arange(len(references)), times)
    number = np.arange(len(which)) - np.repeat(np.cumsum(times) - times, times)
    row, column = np.divmod(number, np.array([r.columns for r in references])[which])
    steps = np.array([r.steps for r in references])
    inner = np.array([r.matrix for r in references])[which]
    matrix = np.empty((len(copies.group), len(inner), 6))
    with np.errstate(all="ignore"):
        for axis in (0, 1):
            along = steps[which, axis] * column + steps[which, 2 + axis] * row
            inner[:, 3 * axis + 2] += along - inner[:, 3 * axis] * base[0] - inner[:, 3 * axis + 1] * base[1]
        for axis in (0, 1):
            a, b, c = copies.matrix[:, 3 * axis : 3 * axis + 3, None].transpose(1, 0, 2)
            for part in range(3):
                matrix[..., 3 * axis + part] = a * inner[:, part] + b * inner[:, 3 + part]
            matrix[..., 3 * axis + 2] += c
    look = np.array([r.look for r in references])[which]
    order = np.array([r.order for r in references])[which]
    turn = np.where(copies.turn[:, None] < 0, order, copies.turn[:, None])
    return _Copies(matrix.reshape(-1, 6), groups[:, look][around].ravel(), turn.ravel())


def _in_order(parts: list[Laid], turns: list[Ints]) -> Laid:
    """Join what was laid out, block by block, in the order of drawing."""
    if not parts:
        none = np.zeros(0, np.int64)
        return Laid(np.zeros(0, np.int8), np.zeros((0, 8)), none, none, [])
    if len(parts) == 1:
        joined, turn = parts[0], turns[0]
    else:
        kind, data, stroke, group = (np.concatenate(arrays) for arrays in list(zip(*parts, strict=True))[:4])
        joined = Laid(kind, data, stroke, group, [place for part in parts for place in part.place])
        turn = np.concatenate(turns)
    if (np.diff(turn) >= 0).all():
        return joined
    by_turn = np.argsort(turn, kind="stable")
    rank = np.empty_like(by_turn)
    rank[by_turn] = np.arange(len(by_turn))
    stroke = rank[joined.stroke]
    pieces = np.argsort(stroke, kind="stable")
    return Laid(
        joined.kind[pieces],
        joined.data[pieces],
        stroke[pieces],
        joined.group[by_turn],
        [joined.place[i] for i in by_turn.tolist()],
    )
