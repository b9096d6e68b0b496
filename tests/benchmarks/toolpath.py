"""Measure the planning of a sheet's path, and the engine with planned loads, as ratios within one run.

    python tests/benchmarks/toolpath.py [plan] [engine] [--repeats N]

Each line is held against its bound, and the exit code is 1 where one is not held. What is measured and
how to read it: docs/performance.md.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator

import fast_tsp
import numpy as np
from measure import in_turn, keep_freed_memory, timed
from run import Line

from compare import Inputs, evaluate, prepare, replace
from compare.data_files import data_folder
from compare.geometry.head_fields import FieldPlan, fields
from compare.geometry.toolpath import Effort, Motion, loads_of, plan_sheet
from compare.geometry.trails import Trail, ring_trail
from compare.readers.jobfile import read_file

PLAN_BOUND, ENGINE_BOUND = 2.0, 1.2
UPS_ACROSS, UPS_ALONG, SLOTS, HOLES = 4, 3, 30, 29
ROWS = 16_384
VARIED = (
    "demand.run_length",
    *(
        f"laser.{n}"
        for n in ("power_w", "severance_j_mm2", "max_mark_m_s", "jump_m_s", "jump_delay_ms", "mark_delay_ms")
    ),
    *(f"laser.{n}" for n in ("polygon_delay_ms", "nick_ms", "setup_h", "aux_kw", "idle_kw", "running_waste")),
    *(f"rates.{n}" for n in ("press_h", "laser_h", "labour_h", "kwh", "laser_consumables_h")),
    *(f"die.{n}" for n in ("speed_sheets_h", "make_ready_first_h", "running_waste")),
)


def _carton(x: float, y: float) -> list[Trail]:
    """Return a carton of 60 strokes: an outline, slots that are open lines, and square holes."""
    strokes = [ring_trail("cutting", ((x, y), (x + 220, y), (x + 220, y + 200), (x, y + 200)))]
    random = np.random.default_rng(7)
    places = random.permutation([(i, j) for i in range(10) for j in range(6)])[: SLOTS + HOLES] * (20, 30) + (12, 15)
    for number, (dx, dy) in enumerate(places + random.uniform(-4, 4, places.shape)):
        if number < SLOTS:
            points = np.array([[x + dx, y + dy], [x + dx + 9, y + dy + 4]])
            length = np.hypot(*np.diff(points, axis=0)[0])
            strokes.append(Trail("cutting", points, np.array([length]), np.array([np.inf]), np.zeros(1), closed=False))
        else:
            corners = ((0, 0), (6, 0), (6, 6), (0, 6))
            strokes.append(ring_trail("cutting", [(x + dx + u, y + dy + v) for u, v in corners]))
    return strokes


def plan(repeats: int) -> Iterator[Line]:
    """Plan a B1 sheet with 12 cartons of 60 strokes against fast-tsp at its default, for as many nodes."""
    spots = [(20 + 240 * i, 20 + 220 * j) for i in range(UPS_ACROSS) for j in range(UPS_ALONG)]
    trails = [stroke for x, y in spots for stroke in _carton(x, y)]
    middles = np.array([t.points.mean(axis=0) for t in trails])
    distances = np.rint(np.hypot(*(middles[:, None] - middles[None]).transpose(2, 0, 1)) * 10).astype(int).tolist()
    effort = Effort(0.25, 0.0007, 0.1, 0.06)
    for heads in (4, 1):
        box = fields(FieldPlan(heads, 0, 0.0, 0.0, 60.0, (1060.0, 760.0)), 1000.0, 700.0)
        path = plan_sheet(trails, box, stitch_mm=1, effort=effort)
        detail = f"; {path.strokes} strokes on {heads} heads, {path.jump_mm / 1000:.1f} m of jumps"
        ours = timed(lambda box=box: plan_sheet(trails, box, stitch_mm=1, effort=effort))
        yield Line.of(
            "planning the path",
            in_turn(ours, timed(lambda: fast_tsp.find_tour(distances)), repeats),
            PLAN_BOUND,
            detail,
        )
    motion = Motion(axes=False, accel_m_s2=8000, corner_deviation_mm=0.02, short_jump_mm=20)
    boil = timed(lambda: loads_of(path, motion, ()))
    yield Line.of("boiling it down, against planning it", in_turn(boil, ours, repeats), None)


def engine(repeats: int) -> Iterator[Line]:
    """Evaluate many scenarios with planned loads against the same without."""
    for name in ("tea_repeat_on_shelf", "window_from_drawing"):
        x = prepare(read_file(data_folder() / "demo" / f"{name}.toml", kind="job")).inputs
        random = np.random.default_rng(3)
        for what, varied in (
            ("run lengths", ("demand.run_length",)),
            ("scenarios, laser and rates varied", tuple(n for n in VARIED if x.number(n))),
            (
                "run lengths and speeds",
                ("demand.run_length", "laser.power_w", "laser.severance_j_mm2", "laser.max_mark_m_s"),
            ),
        ):
            columns = {n: x.number(n) * random.uniform(0.6, 1.4, ROWS) for n in varied}
            if "demand.run_length" in columns:
                columns["demand.run_length"] = np.rint(columns["demand.run_length"]) + 50
            planned = replace(x, columns)
            estimated = planned.without_loads()
            ratio = in_turn(_evaluating(planned), _evaluating(estimated), repeats)
            yield Line.of(f"engine with planned loads, {ROWS:,} {what}", ratio, ENGINE_BOUND, f"; {name}")


def _evaluating(x: Inputs):
    return timed(lambda: evaluate(x))


PARTS = {"plan": (plan, 3), "engine": (engine, 25)}


def main() -> int:
    """Run the parts asked for and print one line of a table per figure."""
    parser = argparse.ArgumentParser(description="Measure ratios; see docs/performance.md.")
    parser.add_argument("parts", nargs="*", choices=[[], *PARTS], help="which parts; all, if left out")
    parser.add_argument("--repeats", type=int, help="rounds per figure")
    asked = parser.parse_args()
    print("| what | figure | median of pairs | held against | | from |\n|---|---|---|---|---|---|")
    keep_freed_memory()
    held = True
    for name in asked.parts or PARTS:
        part, repeats = PARTS[name]
        for line in part(asked.repeats or repeats):
            print(line, flush=True)
            held &= line.verdict in ("held", "shown")
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
