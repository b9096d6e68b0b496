"""Measure how fast strokes are ordered, and how short the jumps come out, against fast-tsp.

    python tests/benchmarks/stroke_order.py [--repeats N]

Twelve blanks of 60 strokes. fast-tsp orders as many points, by its own clock of two seconds: it draws numbers
afresh each time, so it is a measure only. It knows no entry points, no directions and no precedence; lengths
are compared for points, and shown for the others. Its two seconds pass on a busy machine as on a quiet one, so
ours are seconds of the processor. The exit code is 1 where a bound is not held.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Callable, Sequence

import fast_tsp
import numpy as np
from measure import in_turn, timed

from compare.geometry.stroke_order import Ends, Order, order_strokes

BLANKS, STROKES = 12, 60
BOUND = 2.0
"""Our time over that of fast-tsp at its default, for one head that has all strokes."""

MOST = 65_000
"""fast-tsp takes distances as whole numbers of 16 bits."""

Way = tuple[tuple[float, float], tuple[float, float]]


def rectangle(x: float, y: float, width: float, height: float) -> list[Way]:
    """Return the ways of a closed stroke that may be entered at its corners."""
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return [(corner, corner) for corner in corners]


def drawn(kind: str, x: float, y: float, draw: np.random.Generator) -> list[Way]:
    """Return the ways of one stroke of a blank."""
    if kind == "points":
        return [((x, y), (x, y))]
    if kind == "closed":
        return rectangle(x, y, *draw.uniform(4, 30, 2))
    turn, size = math.pi / 2 * int(draw.integers(4)), float(draw.uniform(5, 60))
    other = (x + size * math.cos(turn), y + size * math.sin(turn))
    return [((x, y), other), (other, (x, y))]


def sheet(kinds: Sequence[str], *, outlines: bool = False, blanks: int = BLANKS) -> tuple[Ends, np.ndarray]:
    """Return the strokes of a sheet, and which must be run before which: those of a blank before its outline."""
    draw = np.random.default_rng(1)
    strokes, before = [], []
    for blank in range(blanks):
        left, low = 260.0 * (blank % 4), 220.0 * (blank // 4)
        inside = range(len(strokes), len(strokes) + STROKES - outlines)
        for n, _ in enumerate(inside):
            x, y = left + draw.uniform(5, 200), low + draw.uniform(5, 170)
            strokes.append(drawn(kinds[n % len(kinds)], x, y, draw))
        if outlines:
            before += [(stroke, len(strokes)) for stroke in inside]
            strokes.append(rectangle(left, low, 240, 200))
    ways = [(*way, n) for n, those in enumerate(strokes) for way in those]
    enter, leave, number = zip(*ways, strict=True)
    ends = Ends(np.array(enter), np.array(leave), np.array(number, np.int64))
    return ends, np.array(before, np.int64).reshape(-1, 2)


def whole_distances(places: np.ndarray) -> tuple[list[list[int]], float]:
    """Return the distances as fast-tsp takes them, and how many of its units are 1 mm."""
    size = np.hypot(*(places[:, None] - places).transpose(2, 0, 1))
    scale = MOST / size.max()
    return np.rint(size * scale).astype(int).tolist(), scale


def closed_length(places: np.ndarray) -> float:
    """Return the length of a closed tour [mm]."""
    return float(np.hypot(*(places - np.roll(places, 1, axis=0)).T).sum())


def processor_timed(work: Callable[[], object]) -> Callable[[], float]:
    """Return a callable that does the work and returns the seconds the processor spent on it."""

    def run() -> float:
        start = time.process_time()
        work()
        return time.process_time() - start

    return run


def main() -> int:
    """Print each figure and whether its bound is held."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=2)
    repeats = parser.parse_args().repeats
    points = sheet(["points"])[0].enter
    matrix, _ = whole_distances(points)
    theirs = timed(lambda: fast_tsp.find_tour(matrix))
    held = True

    def line(what: str, work: Callable[[], object], said: str = "") -> None:
        nonlocal held
        ratio = in_turn(processor_timed(work), theirs, repeats)
        held &= ratio.value <= BOUND
        verdict = "held" if ratio.value <= BOUND else "MISSED"
        print(f"{what:58s} {ratio.value:5.2f} of {BOUND:.1f} {verdict}  {ratio.ours:.2f} s {said}", flush=True)

    kinds = {
        "720 points": sheet(["points"]),
        "720 open strokes": sheet(["open"]),
        "720 closed strokes, 4 entries": sheet(["closed"]),
        "720 of all kinds": sheet(["points", "open", "closed"]),
        "720 of all kinds, outlines last": sheet(["points", "open", "closed"], outlines=True),
        "720 closed strokes, outlines last": sheet(["closed"], outlines=True),
    }
    for what, (ends, before) in kinds.items():
        found: list[Order] = []

        def order(ends: Ends = ends, before: np.ndarray = before, found: list[Order] = found) -> None:
            found.append(order_strokes(ends, before=before, start=(0.0, 0.0)))

        order()
        line(f"one head: {what}", order, f"jumps {found[0].jump_mm / 1e3:.3f} m")
    part = sheet(["points", "open", "closed"], outlines=True, blanks=3)
    line("four heads: 4 x 180 of all kinds", lambda: [order_strokes(part[0], before=part[1]) for _ in range(4)])

    for what, places in {
        "720 points of the sheet": points,
        "500 points at random": np.random.default_rng(20240501).uniform(0, 1000, (500, 2)),
        "180 points of the sheet": points[:180],
    }.items():
        ours = order_strokes(Ends(places, places, np.arange(len(places))), closed=True).jump_mm
        best = closed_length(places[fast_tsp.find_tour(whole_distances(places)[0])])
        print(f"closed tour, {what:40s} {100 * (ours / best - 1):+5.2f} % of fast-tsp's {best / 1e3:.3f} m", flush=True)
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
