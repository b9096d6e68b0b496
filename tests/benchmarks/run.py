"""Measure what must be fast, as ratios of two things within one run.

    python tests/benchmarks/run.py [million] [ranges] [start] [--repeats N]

Each line is held against its bound, and the exit code is 1 where one is not held. What is measured and
how to read it: docs/performance.md.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cases
import numpy as np
from inlined import OUTPUTS, two_routes
from measure import MEGABYTE, Ratio, in_turn, keep_freed_memory, timed, timed_command, traced_peak

from compare import Evaluation, Inputs, break_evens, evaluate, prepare, read_file, replace

MILLION_BOUND, MEMORY_BOUND = 1.5, 64.0
RANGES_BOUND, RANGES_AGAINST = 1.0, 20
START_BOUND = 3.0


@dataclass(frozen=True)
class Line:
    """One measured figure, and what it is held against.

    Attributes
    ----------
    what : str
        What was measured.
    figure, again : float
        The figure, and the same worked out in another way; they differ where the machine was busy.
    bound : float or None
        What both are held against; ``None`` where the figure is shown only.
    detail : str
        What it was worked out from.
    """

    what: str
    figure: float
    again: float
    bound: float | None
    detail: str

    @classmethod
    def of(cls, what: str, ratio: Ratio, bound: float | None, more: str = "") -> Line:
        """Return the line of a ratio of two times."""
        detail = f"{ratio.ours * 1e3:.1f} ms / {ratio.theirs * 1e3:.1f} ms{more}"
        return cls(what, ratio.value, ratio.paired, bound, detail)

    @property
    def verdict(self) -> str:
        """Held, missed, or unclear: the two figures lie on either side of the bound."""
        if self.bound is None:
            return "shown"
        within = {self.figure <= self.bound, self.again <= self.bound}
        return "unclear: run it again" if len(within) > 1 else "held" if within == {True} else "MISSED"

    def __str__(self) -> str:
        bound = "-" if self.bound is None else f"{self.bound:g}"
        return f"| {self.what} | {self.figure:.2f} | {self.again:.2f} | {bound} | {self.verdict} | {self.detail} |"


def million(repeats: int) -> Iterator[Line]:
    """Measure a million scenarios with 14 varied inputs against the same arithmetic inlined by hand."""
    for what, lines in (("demo job", {}), ("job with lines of every kind", cases.ALL_LINES)):
        inputs = cases.a_million(cases.scenario("chocolate_crash_lock", **lines).inputs.without_loads())
        values = dict(inputs)
        results = evaluate(inputs)
        _agree(results, two_routes(values))
        ratio = in_turn(
            timed(lambda inputs=inputs: evaluate(inputs)), timed(lambda values=values: two_routes(values)), repeats
        )
        yield Line.of(f"a million, {what}: time", ratio, MILLION_BOUND)
        peak = traced_peak(lambda inputs=inputs: evaluate(inputs))
        totals = sum(np.asarray(a).nbytes for route in (results.die, results.laser) for a in route.values())
        yield Line(
            f"a million, {what}: MB beyond the inputs",
            peak,
            peak,
            MEMORY_BOUND,
            f"{peak - totals / MEGABYTE:.1f} MB without the 6 arrays of totals",
        )


def _agree(engine: Evaluation, by_hand: dict[str, np.ndarray]) -> None:
    routes = {"die": engine.die, "laser": engine.laser}
    for name in OUTPUTS:
        route, measure = name.split()
        np.testing.assert_allclose(by_hand[name], routes[route][measure], rtol=1e-9, atol=0, err_msg=name)


def ranges(repeats: int) -> Iterator[Line]:
    """Measure exact ranges up to a million cartons, in three measures, against 20 evaluations of a grid of 10,000."""
    plant = read_file(cases.PLANT, kind="plant")
    jobs = {job.stem: prepare(plant, read_file(job, kind="job")).inputs for job in cases.demo_jobs()}
    for name, inputs in {**jobs, **cases.nasty_jobs()}.items():
        yield _ranges(name, inputs, repeats, RANGES_BOUND)
    for name, inputs in cases.beyond_use().items():
        yield _ranges(name, inputs, min(repeats, 3), None)


def _ranges(name: str, x: Inputs, repeats: int, bound: float | None) -> Line:
    grid = replace(x, {"demand.run_length": cases.GRID})
    ratio = in_turn(
        timed(lambda: break_evens(x, last=cases.LAST)), timed(lambda: evaluate(grid), RANGES_AGAINST), repeats
    )
    counts = [len(found.ranges) for found in break_evens(x, last=cases.LAST).values()]
    return Line.of(f"ranges, {name}", ratio, bound, f"; most ranges in one measure: {max(counts):,}")


def start(repeats: int) -> Iterator[Line]:
    """Measure starting the command line and answering one job against importing two libraries it rests on."""
    program = Path(sys.executable).with_name("evenrun")
    if not program.exists():
        sys.exit(f"there is no {program.name} beside {sys.executable}: install the project first")
    with tempfile.TemporaryDirectory() as folder:
        imports = timed_command([sys.executable, "-c", "import numpy, pydantic"], Path(folder))
        for job in cases.demo_jobs():
            for flags in ([], ["--json"]):
                answer = timed_command(
                    [str(program), "compare", str(job), "--plant", str(cases.PLANT), *flags], Path(folder)
                )
                ratio = in_turn(answer, imports, repeats)
                yield Line.of(" ".join(["start,", job.stem, *flags]), ratio, START_BOUND)


PARTS = {"million": (million, 9), "ranges": (ranges, 7), "start": (start, 9)}


def main() -> int:
    """Run the parts asked for and print one line of a table per figure."""
    parser = argparse.ArgumentParser(description="Measure ratios; see docs/performance.md.")
    parser.add_argument("parts", nargs="*", choices=[[], *PARTS], help="which parts; all, if left out")
    parser.add_argument("--repeats", type=int, help="rounds per figure")
    asked = parser.parse_args()
    print("| what | figure | median of pairs | held against | | from |\n|---|---|---|---|---|---|")
    keep_freed_memory()
    not_held = 0
    for name in asked.parts or PARTS:
        measure, repeats = PARTS[name]
        lines = []
        for line in measure(asked.repeats or repeats):
            print(line, flush=True)
            lines.append(line)
        held_against = [line for line in lines if line.bound is not None]
        not_held += sum(line.verdict != "held" for line in held_against)
        worst = max(held_against, key=lambda line: line.figure / line.bound)
        print(
            f"| **worst of {name}**: {worst.what} | {worst.figure:.2f} | {worst.again:.2f} | {worst.bound:g} | | |",
            flush=True,
        )
    return 1 if not_held else 0


if __name__ == "__main__":
    sys.exit(main())
