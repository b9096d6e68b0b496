"""Measure how sure an answer is against as many plain evaluations of the engine.

    python tests/benchmarks/uncertainty.py [--repeats N]

4,096 draws of every uncertain input at 200 run lengths, with quantiles, probabilities, break-evens and drivers, against
the engine at 4,096 x 200 scenarios in which the same inputs vary. See docs/performance.md.
"""

from __future__ import annotations

import argparse
import sys

import numpy as np
from measure import in_turn, keep_freed_memory, timed
from run import Line

from compare import compare, evaluate, prepare, read_file
from compare.data_files import data_folder
from compare.decide.uncertainty import DRAWS, RUN_LENGTHS, uncertainty

BOUND = 1.5
JOBS = ("pharma_12_languages", "soap_sleeve", "window_from_drawing")


def lines(repeats: int):
    """Yield a line per job, and one for what a screen asks for."""
    plant = read_file(data_folder() / "plants" / "northfold.toml", kind="plant")
    for name in JOBS:
        c = compare(prepare(plant, read_file(data_folder() / "demo" / f"{name}.toml", kind="job")))
        found = uncertainty(c)
        drawn = found.varied.draw(DRAWS, found.seed)
        each = {n: np.repeat(values, RUN_LENGTHS) for n, values in drawn.items()}
        runs = np.tile(np.round(np.geomspace(found.run_lengths[0], found.run_lengths[-1], RUN_LENGTHS)), DRAWS)
        x = found.varied.at({**each, "demand.run_length": runs})
        plain = timed(lambda x=x: evaluate(x))
        ours = timed(lambda c=c: uncertainty(c))
        yield Line.of(f"uncertainty, {DRAWS:,} x {RUN_LENGTHS}", in_turn(ours, plain, repeats), BOUND, f"; {name}")
    fewer = timed(lambda: uncertainty(c, draws=1_024, run_lengths=120))
    yield Line.of("what the Job view asks for, against that", in_turn(fewer, ours, repeats), None)


def main() -> int:
    """Print one line of a table per figure."""
    parser = argparse.ArgumentParser(description="Measure ratios; see docs/performance.md.")
    parser.add_argument("--repeats", type=int, default=5, help="rounds per figure")
    asked = parser.parse_args()
    print("| what | figure | median of pairs | held against | | from |\n|---|---|---|---|---|---|")
    keep_freed_memory()
    held = True
    for line in lines(asked.repeats):
        print(line, flush=True)
        held &= line.verdict in ("held", "shown")
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
