"""Measure the choice of jobs for the laser: its bound and prices against the linear programme of scipy (HiGHS).

    python tests/benchmarks/selection.py [--repeats N]

A book of 100,000 jobs, once with the hours of a year as its only limit, once with twelve months and the share of a
board besides. Bound and prices must agree with the programme's and take a fiftieth of its time; the exit code is 1
where they don't. Times and gaps of the choice are shown. It takes more than a minute, nearly all for the programme.
"""

from __future__ import annotations

import argparse
import sys

import numpy as np
from measure import in_turn, keep_freed_memory, timed
from scipy.optimize import linprog
from scipy.sparse import csr_array

from compare.decide.hour_prices import Bound, Capacity, bound_and_prices, saving_by_limit
from compare.decide.selection import Selection, choose

JOBS, BOUND, AGREE = 100_000, 0.02, 1e-8


def book() -> tuple[np.ndarray, list[Capacity]]:
    """Return savings of either sign, and limits of a year, twelve months and one board."""
    rng = np.random.default_rng(1)
    hours = rng.lognormal(1, 1, JOBS)
    saving = rng.normal(30, 120, JOBS) * hours**0.7
    month, board = rng.integers(0, 12, JOBS), rng.random(JOBS) < 0.3
    months = [Capacity(f"month {k + 1}", hours * (month == k), (0.025 + 0.001 * k) * hours.sum()) for k in range(12)]
    year = Capacity("hours a year", hours, 0.3 * hours.sum())
    return saving, [year, *months, Capacity("share of a board", hours * board, 0.15 * (hours * board).sum())]


def bound_held(saving: np.ndarray, limits: list[Capacity], repeats: int) -> bool:
    """Measure bound and prices, and say whether they are as fast and as good as they must be."""
    rows = csr_array(np.array([limit.use for limit in limits]))
    answers: dict[str, float] = {}

    def ours() -> None:
        found: Bound = bound_and_prices(saving, limits)
        answers["ours"] = found.value

    def theirs() -> None:
        solved = linprog(-saving, A_ub=rows, b_ub=[limit.limit for limit in limits], bounds=(0, 1), method="highs")
        answers["theirs"] = -solved.fun

    ratio = in_turn(timed(ours), timed(theirs), repeats)
    apart = abs(answers["ours"] / answers["theirs"] - 1)
    print(
        f"| limits: {len(limits)}; bound and prices, against the linear programme | {ratio.value:.5f} | {BOUND:g} | "
        f"{ratio.ours * 1e3:.0f} ms / {ratio.theirs:.1f} s, median of pairs {ratio.paired:.5f} |"
    )
    print(
        f"| the same: share by which the bounds differ | {apart:.0e} | {AGREE:.0e} | {answers['ours']:,.2f} |",
        flush=True,
    )
    return ratio.value <= BOUND and apart <= AGREE


def show_choice(saving: np.ndarray, limits: list[Capacity]) -> None:
    """Measure the choice itself."""
    for what, seconds in (("first choice", 0.0), ("choice", 10.0)):
        chosen: list[Selection] = []
        took = timed(lambda kept=chosen, s=seconds: kept.append(choose(saving, limits, time_limit_s=s)))()
        print(
            f"| {len(limits)} limits: gap of the {what} | {chosen[0].gap:.1e} | - | {took * 1e3:.0f} ms |", flush=True
        )


def main() -> int:
    """Measure both books and print one line of a table each."""
    parser = argparse.ArgumentParser(description="Measure the choice of jobs; see docs/performance.md.")
    parser.add_argument("--repeats", type=int, default=1, help="rounds")
    repeats = parser.parse_args().repeats
    keep_freed_memory()
    saving, limits = book()
    year = limits[0]
    print(f"| {JOBS:,} jobs | figure | held against | from |\n|---|---|---|---|")
    held = []
    for some in ([year], limits):
        held.append(bound_held(saving, some, repeats))
        show_choice(saving, some)
    many = np.linspace(0, 1, 1000) * year.use.sum()
    curve = in_turn(
        timed(lambda: saving_by_limit(saving, year, many)), timed(lambda: bound_and_prices(saving, [year])), 5
    )
    print(
        f"| a curve of {len(many):,} limits, against the bound for one | {curve.value:.1f} | - | "
        f"{curve.ours * 1e3:.0f} ms / {curve.theirs * 1e3:.0f} ms |"
    )
    return 0 if all(held) else 1


if __name__ == "__main__":
    sys.exit(main())
