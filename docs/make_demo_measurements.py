"""Write the invented measurements: sheets cut by one head of a laser, and make-readies of a die cutter.

    python docs/make_demo_measurements.py [FOLDER]

Nothing in them is anybody's. The values they are made from are those of ``TRUE`` and ``TRUE_HOURS``; a fit should give them back
within its intervals. Noise is drawn with a fixed seed, in proportion to the seconds, as board and power vary; hours of the log
scatter by the same amount each. One sheet has two digits of its seconds exchanged, to show what becomes of such a row. The
same seed gives the same bytes.
"""

from __future__ import annotations

import argparse
import csv
from pathlib import Path
from random import Random

SEED = 20_260_401

TRUE = {
    "laser.severance_j_mm2": 0.62,
    "delay per stroke": 0.95,
    "laser.polygon_delay_ms": 0.22,
}
"""Severance energy [J/mm2]; jump delay and mark delay together, and polygon delay [ms]."""

TRUE_HOURS = {
    "die.make_ready_first_h": 1.7,
    "die.make_ready_repeat_h": 0.6,
    "die.make_ready_per_up_h": 0.03,
}

# of the table of assumptions; a fit takes them as they are
MAX_MARK_M_S, JUMP_M_S, PARTIAL_DEPTH = 4.0, 10.0, 0.5
NOISE_SHARE, NOISE_H = 0.012, 0.12
SWAPPED = "cartons, 8 up"

SHEETS = (
    # name, cutting m, perforating m, partial cutting m, strokes, corner load, jump m, power W, caliper mm
    ("straight lines", 10.0, 0, 0, 20, 0, 4.2, 600, 0.40),
    ("straight lines, thick", 10.0, 0, 0, 20, 0, 4.2, 600, 0.55),
    ("straight lines, low power", 10.0, 0, 0, 20, 0, 4.2, 300, 0.40),
    ("straight lines, thin", 10.0, 0, 0, 20, 0, 4.2, 1000, 0.30),
    ("short dashes", 4.0, 0, 0, 800, 0, 8.0, 1000, 0.30),
    ("short dashes, thick", 4.0, 0, 0, 800, 0, 8.0, 600, 0.55),
    ("short dashes, closer", 3.0, 0, 0, 600, 0, 3.6, 1000, 0.40),
    ("short dashes, many", 6.0, 0, 0, 1200, 0, 12.0, 1000, 0.30),
    ("zigzag", 6.0, 0, 0, 10, 2200, 1.5, 1000, 0.30),
    ("zigzag, thick", 6.0, 0, 0, 10, 2200, 1.5, 600, 0.55),
    ("zigzag, fine", 5.0, 0, 0, 12, 3600, 1.6, 1000, 0.30),
    ("squares", 8.0, 0, 0, 400, 1200, 12.0, 1000, 0.40),
    ("squares, small", 4.8, 0, 0, 600, 1800, 15.0, 800, 0.40),
    ("cartons, 6 up", 7.1, 0, 0, 6, 105, 3.1, 1000, 0.40),
    ("cartons, 9 up", 10.6, 0, 0, 9, 158, 4.4, 1000, 0.40),
    ("cartons, 9 up, windows", 12.4, 0, 0, 18, 185, 6.0, 1000, 0.40),
    (SWAPPED, 11.8, 0, 0, 24, 210, 5.9, 800, 0.45),
    ("cartons, 12 up", 14.2, 0, 0, 12, 210, 5.2, 1000, 0.55),
    ("cartons, 12 up, tear-off", 14.2, 3.6, 0, 24, 210, 7.4, 1000, 0.40),
    ("cartons, 12 up, tear-off, low power", 14.2, 3.6, 0, 24, 210, 7.4, 600, 0.40),
    ("labels, scored", 9.0, 0, 12.0, 60, 90, 9.5, 600, 0.40),
    ("labels, scored, thick", 9.0, 0, 12.0, 60, 90, 9.5, 600, 0.55),
    ("sleeves", 16.5, 0, 0, 30, 60, 8.1, 800, 0.35),
    ("sleeves, low power", 16.5, 0, 0, 30, 60, 8.1, 400, 0.35),
)


def sheet_rows(random: Random) -> list[list[str]]:
    """Work out the seconds of every sheet, and add what a measurement adds."""
    rows = []
    for name, cutting, perforating, partial, strokes, corners, jump, power, caliper in SHEETS:
        by_power = TRUE["laser.severance_j_mm2"] * caliper * 1000 / power  # s per m of a cut through
        seconds = (cutting + perforating) * max(by_power, 1 / MAX_MARK_M_S)
        seconds += partial * max(by_power * PARTIAL_DEPTH, 1 / MAX_MARK_M_S)
        seconds += jump / JUMP_M_S
        seconds += strokes * TRUE["delay per stroke"] / 1000 + corners * TRUE["laser.polygon_delay_ms"] / 1000
        seconds *= 1 + random.gauss(0, NOISE_SHARE)
        shown = f"{seconds:.2f}"
        if name == SWAPPED:
            shown = f"{shown[-1]}{shown[1:-1]}{shown[0]}"
        rows.append([name, *map(str, (cutting, perforating, partial, strokes, corners, jump, power, caliper)), shown])
    return rows


def make_ready_rows(random: Random) -> list[list[str]]:
    """Invent a log of make-readies: a third of them with a new tool set."""
    rows = []
    for _ in range(30):
        first, ups = int(random.random() < 1 / 3), random.choice((2, 4, 6, 8, 9, 12, 16))
        kind = "first" if first else "repeat"
        hours = TRUE_HOURS[f"die.make_ready_{kind}_h"] + ups * TRUE_HOURS["die.make_ready_per_up_h"]
        rows.append([f"{max(hours + random.gauss(0, NOISE_H), 0.2):.2f}", str(ups), str(first)])
    return rows


def write(folder: Path) -> None:
    """Write both files."""
    random = Random(SEED)  # noqa: S311 - nothing is kept secret with it
    tables = {
        "measured_sheets.csv": (
            "name,cutting_m,perforating_m,partial_cutting_m,strokes,corner_load,jump_m,power_w,caliper_mm,seconds",
            sheet_rows(random),
        ),
        "make_ready_log.csv": ("hours,ups,first", make_ready_rows(random)),
    }
    for name, (headings, rows) in tables.items():
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            file.write(headings + "\n")
            csv.writer(file, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    here = Path(__file__).resolve().parents[1] / "data" / "demo"
    parser.add_argument("folder", type=Path, nargs="?", default=here, help="where to write them")
    write(parser.parse_args().folder)
