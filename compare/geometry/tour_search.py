"""Local search on the order of strokes: a route is made shorter step by step, the same way on any machine.

Steps are the reversal of a part of the route (2-opt), the insertion of up to three strokes elsewhere, either way
round (Or-opt), and another way of running one stroke. Where none of them shortens the route, two neighbouring
parts are swapped (a double bridge) and the search goes on from there; what is not shorter then is taken back.
Published: G. A. Croes 1958 (2-opt), I. Or 1976 (Or-opt), O. Martin, S. W. Otto, E. W. Felten 1991 (the double
bridge); J. L. Bentley 1992 (neighbour lists, and looking again only where something changed).

Places are complex numbers here, as the distance of two is then one call. That to a free end is not a number, the
only thing that does not equal itself.
"""

# ruff: noqa: PLR0124, PLR1714, SIM109 - the plain comparisons are the fastest, and these lines take all of the time

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from typing import Any, NamedTuple

Near = list[list[tuple[float, int, int]]]
"""By way: strokes near one of its ends, nearest first: the least distance of any of their ends [mm], the stroke, and
the way that is entered and left there, -1 where none is."""

FREE = complex("nan")
"""An end of the route that no jump leads to."""

_LONGEST_INSERT = 3
"""Most strokes taken elsewhere at once."""

_LONGEST_KICK = 50
"""Most strokes in either of two neighbouring parts that are swapped."""

_WALK = 5
"""Steps from neighbour to neighbour between the places of a kick."""

_TRIES = 6
"""Places a kick looks for, where precedence forbids the first."""


Step = tuple[int, int, int, bool, int, int]
"""First and last place of what moves, place it comes to lie behind (-1: none, it is reversed), whether it is turned,
and a stroke's new way (-1: none) with its place."""


class Strokes(NamedTuple):
    """What there is to order; ways are numbered through, and places are complex.

    Attributes
    ----------
    enter, leave : list of complex
        Ends of every way [mm].
    stroke : list of int
        Stroke of every way.
    mirror : list of int
        The way which runs the same stroke backwards, -1 where there is none.
    ways : list of list of int
        Ways of every stroke.
    earlier : list of list of int
        Strokes which must be run before each.
    near_enter, near_leave : list
        Neighbours of both ends of every way.
    noise : float
        A route is shorter where it is shorter by more than this [mm].
    """

    enter: list[complex]
    leave: list[complex]
    stroke: list[int]
    mirror: list[int]
    ways: list[list[int]]
    earlier: list[list[int]]
    near_enter: Near
    near_leave: Near
    noise: float


class Route:
    """A route that is made shorter in place.

    The route lies between two guards: place 0 and place ``last + 1``. They hold the start, or nothing, or, on a
    closed route, one and the same stroke, which the search leaves where it is.

    Parameters
    ----------
    strokes : Strokes
        What there is to order.
    ways : list of int
        A route that obeys precedence, by its ways.
    start : complex
        Where the first jump begins; ``FREE`` where there is none.
    closed : bool
        Whether the last jump leads back to the first stroke.
    """

    def __init__(self, strokes: Strokes, ways: list[int], start: complex, *, closed: bool) -> None:
        self.strokes = strokes
        self.closed = closed
        self.fixed = strokes.stroke[ways[0]] if closed else -1
        self.one_way = any(m < 0 for m in strokes.mirror)
        self.ordered = any(strokes.earlier)
        self.pos = [0] * len(strokes.ways)
        self.place(ways, start)
        self.waiting: deque[int] = deque()
        self.is_waiting = [False] * len(self.pos)

    def place(self, ways: list[int], start: complex) -> None:
        """Lay out a route anew, for instance one with better ways."""
        s = self.strokes
        first, last = (ways[0], ways[0]) if self.closed else (-1, -1)
        inner = ways[1:] if self.closed else ways
        self.last = len(inner)
        self.start = start
        self.way = [first, *inner, last]
        self.seq = [self.fixed, *(s.stroke[w] for w in inner), self.fixed]
        self.ent = [FREE, *(s.enter[w] for w in inner), s.enter[last] if self.closed else FREE]
        self.lev = [s.leave[first] if self.closed else start, *(s.leave[w] for w in inner), FREE]
        self.jump = [_distance(a, b) for a, b in zip(self.lev[:-1], self.ent[1:], strict=True)]
        for p in range(self.last + 1):
            if self.seq[p] >= 0:
                self.pos[self.seq[p]] = p
        self.low, self.high = self.last + 1, 0

    def route(self) -> list[int]:
        """Return the ways in the order run."""
        return self.way[0 if self.closed else 1 : self.last + 1]

    # -- the search ---------------------------------------------------------------------------------------------------

    def settle(self, look_at: list[int]) -> float:
        """Shorten the route until no step does, looking first at some of the strokes; return by how much [mm]."""
        waiting, is_waiting = self.waiting, self.is_waiting
        self._look_again(look_at)
        gained = 0.0
        while waiting:
            stroke = waiting.popleft()
            is_waiting[stroke] = False
            while (gain := self._improve(stroke)) > 0.0:
                gained += gain
        return gained

    def kick(self, count: int, seed: int) -> None:
        """Swap neighbouring parts at drawn places, so many times, and keep what comes out shorter.

        Parameters
        ----------
        count : int
            Number of kicks.
        seed : int
            Where the row of drawn numbers begins.
        """
        if self.last < 4:
            return
        kept = [list(values) for values in self._lists()]
        self.low, self.high = self.last + 1, 0
        draw = _drawn(seed)
        for turn in range(count):
            for attempt in range(_TRIES):
                p, q, r = self._near_cuts(draw) if (turn + attempt) % 2 else self._short_cuts(draw)
                if p < q < r <= self.last and self._may_insert(p + 1, q, r, turned=False):
                    break
            else:
                continue
            joints = (p, q, r)
            before = sum([self.jump[j] for j in joints])
            touched = [self.seq[j + side] for j in joints for side in (0, 1)]
            after = sum([self.jump[j] for j in self._insert(p + 1, q, r, turned=False)])
            gain = before - after + self.settle(touched)
            self._keep(kept, take=gain > -self.strokes.noise)

    def _short_cuts(self, draw: Iterator[int]) -> tuple[int, int, int]:
        """Draw three places that part two short neighbouring parts."""
        longest = min(_LONGEST_KICK, self.last // 2)
        p = next(draw) % self.last
        q = p + 1 + next(draw) % longest
        return p, q, q + 1 + next(draw) % longest

    def _near_cuts(self, draw: Iterator[int]) -> tuple[int, int, int]:
        """Draw three places whose strokes lie near one another, a few steps from neighbour to neighbour apart."""
        near = self.strokes.near_leave
        start = 1 + next(draw) % self.last
        cuts = [start]
        for _ in range(2):
            at = start
            for _ in range(_WALK):
                those = near[self.way[at]]
                at = self.pos[those[next(draw) % len(those)][1]]
            cuts.append(at)
        p, q, r = sorted(cuts)
        return p, q, r

    def _look_again(self, strokes: list[int]) -> None:
        for stroke in strokes:
            if stroke >= 0 and not self.is_waiting[stroke]:
                self.is_waiting[stroke] = True
                self.waiting.append(stroke)

    def _lists(self) -> tuple[list[Any], ...]:
        return self.seq, self.way, self.ent, self.lev, self.jump

    def _keep(self, kept: list[list[Any]], *, take: bool) -> None:
        """Take what changed into the route kept, or take it back from there."""
        low, high = self.low - 1, self.high + 1
        for now, then in zip(self._lists(), kept, strict=True):
            if take:
                then[low:high] = now[low:high]
            else:
                now[low:high] = then[low:high]
        if not take:
            for p in range(max(low, 1), min(high, self.last + 1)):
                self.pos[self.seq[p]] = p
        self.low, self.high = self.last + 1, 0

    def _improve(self, stroke: int) -> float:
        """Take the best step which makes a jump at either end of a stroke shorter; return what it gains [mm]."""
        gain = self._other_way(stroke) if len(self.strokes.ways[stroke]) > 1 and stroke != self.fixed else 0.0
        if gain > 0.0:
            return gain
        best, step = self.strokes.noise, None
        for side in (1, -1):
            best, step = self._best_step(stroke, side, best, step)
        if step is None:
            return 0.0
        first, last, gap, turned, way, place = step
        if way >= 0:
            self._run(place, way)
        joints = self._reverse(first, last) if gap < 0 else self._insert(first, last, gap, turned=turned)
        self._look_again([self.seq[j + after] for j in joints for after in (0, 1)])
        return best - self.strokes.noise

    def _other_way(self, stroke: int) -> float:
        """Run one stroke the best way between its neighbours; return what it gains [mm]."""
        s, p = self.strokes, self.pos[stroke]
        here, there = self.lev[p - 1], self.ent[p + 1]
        old = self.jump[p - 1] + self.jump[p]
        least, best = old - s.noise, -1
        for way in s.ways[stroke]:
            size, out = abs(here - s.enter[way]), abs(s.leave[way] - there)
            size = (size if size == size else 0.0) + (out if out == out else 0.0)
            if size < least:
                least, best = size - s.noise, way
        if best < 0:
            return 0.0
        self._run(p, best)
        return old - self.jump[p - 1] - self.jump[p]

    def _run(self, p: int, way: int) -> None:
        """Run the stroke at a place another way."""
        self.way[p], self.ent[p], self.lev[p] = way, self.strokes.enter[way], self.strokes.leave[way]
        self.jump[p - 1] = _distance(self.lev[p - 1], self.ent[p])
        self.jump[p] = _distance(self.lev[p], self.ent[p + 1])
        self.low, self.high = min(self.low, p), max(self.high, p)
        self._look_again([self.seq[p - 1], self.seq[p + 1]])

    def _best_step(  # noqa: PLR0912, PLR0915 - the inner loop of it all: a call costs as much as a step
        self, stroke: int, side: int, best: float, step: Step | None
    ) -> tuple[float, Step | None]:
        """Find the best step at one end of a stroke, better than the best so far by more than noise.

        Of steps that gain the same, the first is taken, so that the last digit of a distance decides nothing.
        Everything is told as seen along the route. Seen from its other end (side -1) the same holds with
        enter and leave in each other's place.
        """
        s, pos, jump, n, noise = self.strokes, self.pos, self.jump, self.last, self.strokes.noise
        if side > 0:
            out, inn, off, near, far_guard = self.lev, self.ent, 0, s.near_leave, 0
        else:
            out, inn, off, near, far_guard = self.ent, self.lev, -1, s.near_enter, n + 1
        i = far_guard if stroke == self.fixed else pos[stroke]
        g0 = jump[i + off]
        if g0 <= noise:
            return best, step
        x, y, after = out[i], inn[i + side], i + side
        gap = min(i, after)
        for least, c, u in near[self.way[i]]:
            room = g0 - least
            if room <= noise:
                break
            j = far_guard if c == self.fixed else pos[c]
            if u >= 0 and u != self.way[j] and c != self.fixed and j != after:
                # c is entered elsewhere: at its place nearest to a
                q = s.enter[u]
                g1 = g0 - abs(x - q)
                if g1 > noise:
                    w, z = out[j - side], inn[j + side]
                    base = g1 + jump[j - side + off] + jump[j + off]
                    old = abs(w - z)
                    gain = base - abs(q - y) - (old if old == old else 0.0)
                    if gain > best and self._may_insert(j, j, gap, turned=False):
                        best, step = gain + noise, (j, j, gap, False, u, j)
                    new, old = abs(y - z), abs(w - q)
                    gain = base - (new if new == new else 0.0) - (old if old == old else 0.0)
                    if gain > best:
                        first, last = (i, j) if i < j else (j, i)
                        first, last = (first + 1, last) if side > 0 else (first, last - 1)
                        if self._may_reverse(first, last):
                            best, step = gain + noise, (first, last, -1, True, u, j)
            g1 = g0 - abs(x - out[j])
            if g1 > noise:
                z = inn[j + side]
                base = g1 + jump[j + off]
                # all between a and c turned round: a to c, and what followed a to what followed c
                new = abs(y - z)
                gain = base - new if new == new else base
                if gain > best:
                    first, last = (i, j) if i < j else (j, i)
                    first, last = (first + 1, last) if side > 0 else (first, last - 1)
                    if self._may_reverse(first, last):
                        best, step = gain + noise, (first, last, -1, True, -1, 0)
                # up to three strokes that end with c, turned, to between a and what follows it
                k = j
                for _ in range(_LONGEST_INSERT):
                    if k < 1 or k > n or k == i or k == after:
                        break
                    new = abs(out[k - side] - z)
                    gain = base + jump[k - side + off] - abs(inn[k] - y) - (new if new == new else 0.0)
                    if gain > best:
                        first, last = (k, j) if k < j else (j, k)
                        if self._may_insert(first, last, gap, turned=True):
                            best, step = gain + noise, (first, last, gap, True, -1, 0)
                    k -= side
                # up to three strokes that end with a, turned, to behind c
                k = i
                behind = j + side
                for _ in range(_LONGEST_INSERT):
                    if k < 1 or k > n or k == j or k == behind:
                        break
                    new = abs(inn[k] - z)
                    gain = base + jump[k - side + off] - (new if new == new else 0.0)
                    new = abs(out[k - side] - y)
                    gain -= new if new == new else 0.0
                    if gain > best:
                        first, last = (k, i) if k < i else (i, k)
                        into = min(j, behind)
                        if self._may_insert(first, last, into, turned=True):
                            best, step = gain + noise, (first, last, into, True, -1, 0)
                    k -= side
            if c == self.fixed:
                j = n + 1 - far_guard
            if j == after:
                continue
            g1 = g0 - abs(x - inn[j])
            if g1 > noise:
                z = out[j - side]
                base = g1 + jump[j - side + off]
                # up to three strokes that begin with c to between a and what follows it
                k = j
                for _ in range(_LONGEST_INSERT):
                    if k < 1 or k > n or k == i:
                        break
                    new = abs(z - inn[k + side])
                    gain = base + jump[k + off] - abs(out[k] - y) - (new if new == new else 0.0)
                    if gain > best:
                        first, last = (k, j) if k < j else (j, k)
                        if self._may_insert(first, last, gap, turned=False):
                            best, step = gain + noise, (first, last, gap, False, -1, 0)
                    k += side
                # up to three strokes that end with a to before c
                k = i
                for _ in range(_LONGEST_INSERT):
                    if k < 1 or k > n or k == j:
                        break
                    new = abs(z - inn[k])
                    gain = base + jump[k - side + off] - (new if new == new else 0.0)
                    new = abs(out[k - side] - y)
                    gain -= new if new == new else 0.0
                    if gain > best:
                        first, last = (k, i) if k < i else (i, k)
                        into = min(j, j - side)
                        if self._may_insert(first, last, into, turned=False):
                            best, step = gain + noise, (first, last, into, False, -1, 0)
                    k -= side
        return best, step

    # -- what precedence and one-way strokes allow --------------------------------------------------------------------

    def _may_reverse(self, first: int, last: int) -> bool:
        if self.one_way and any(self.strokes.mirror[w] < 0 for w in self.way[first : last + 1]):
            return False
        return not self.ordered or not self._any_pair(first, last, first, last)

    def _may_insert(self, first: int, last: int, gap: int, *, turned: bool) -> bool:
        if turned and not self._may_reverse(first, last):
            return False
        if not self.ordered:
            return True
        if gap < first:
            return not self._any_pair(gap + 1, first - 1, first, last)
        return not self._any_pair(first, last, last + 1, gap)

    def _any_pair(self, first: int, last: int, first_later: int, last_later: int) -> bool:
        """Whether a stroke in one part of the route must be run before one in another."""
        earlier, pos = self.strokes.earlier, self.pos
        for stroke in self.seq[first_later : last_later + 1]:
            for e in earlier[stroke]:
                if first <= pos[e] <= last:
                    return True
        return False

    # -- steps --------------------------------------------------------------------------------------------------------

    def _reverse(self, first: int, last: int) -> tuple[int, ...]:
        """Run a part of the route backwards; return where its jumps are new."""
        seq, ent, lev, jump = self.seq, self.ent, self.lev, self.jump
        end = last + 1
        seq[first:end] = seq[first:end][::-1]
        mirror = self.strokes.mirror
        self.way[first:end] = [mirror[w] for w in self.way[first:end][::-1]]
        ent[first:end], lev[first:end] = lev[first:end][::-1], ent[first:end][::-1]
        jump[first:last] = jump[first:last][::-1]
        return self._joined(first, last, (first - 1, last))

    def _insert(self, first: int, last: int, gap: int, *, turned: bool) -> tuple[int, ...]:
        """Take a part of the route to behind the place ``gap``, turned or not; return where jumps are new."""
        if turned:
            self._reverse(first, last)
        low, middle, high = (gap + 1, first, last) if gap < first else (first, last + 1, gap)
        for values in self._lists()[:4]:
            values[low : high + 1] = values[middle : high + 1] + values[low:middle]
        jump = self.jump
        jump[low:high] = [*jump[middle:high], 0.0, *jump[low : middle - 1]]
        return self._joined(low, high, (low - 1, low + high - middle, high))

    def _joined(self, low: int, high: int, joints: tuple[int, ...]) -> tuple[int, ...]:
        """Put right what depends on the places of strokes, after those from low to high have changed."""
        seq, pos, jump = self.seq, self.pos, self.jump
        for p in range(low, high + 1):
            pos[seq[p]] = p
        for j in joints:
            jump[j] = _distance(self.lev[j], self.ent[j + 1])
        self.low, self.high = min(self.low, low), max(self.high, high)
        return joints


def _drawn(seed: int) -> Iterator[int]:
    """Draw numbers below 2**31 that are the same on any machine: a linear congruential row.

    Published: D. E. Knuth, The Art of Computer Programming 2, for the factor (MMIX).
    """
    while True:
        seed = (seed * 6364136223846793005 + 1442695040888963407) & 0xFFFFFFFFFFFFFFFF
        yield seed >> 33


def _distance(a: complex, b: complex) -> float:
    """Length of a jump [mm]; none leads to a free end."""
    size = abs(a - b)
    return size if size == size else 0.0
