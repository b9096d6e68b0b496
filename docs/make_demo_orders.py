"""Write the invented order books: 2,000 orders of a year, and 20 of them for a first look.

    python docs/make_demo_orders.py [FOLDER]

Cartons, orders and prices are drawn with a fixed seed; nothing in them is anybody's. Run lengths are
lognormal about a typical length of each carton, as order books mostly are: many short runs and a long
tail. A carton comes back up to a dozen times a year, mostly with the same run; some cartons have
versions, windows, tools that exist already, or a laminate that must not be burnt. The same seed gives
the same bytes.
"""

from __future__ import annotations

import argparse
import csv
import math
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

from compare.readers.orderbook_columns import template_columns, template_heading

SEED = 20_260_101
YEAR_START = date(2026, 1, 1)
DAYS = 363

COLUMNS = (
    "order", "carton", "ordered", "due", "route", "run_length", "versions", "crease_versions", "mixed_sheets", "style",
    "length_mm", "width_mm", "height_mm", "blank_area_m2", "cutting_m", "creasing_m", "nicks", "bends", "strokes",
    "corner_load", "waste_pieces", "cutouts", "cutout_length_mm", "cutout_corners", "cutout_area_mm2", "board",
    "grammage_g_m2", "caliper_mm", "board_price_per_t", "laminate", "sheet_width_mm", "sheet_length_mm",
    "print_cost_per_sheet", "ups_die", "ups_laser", "die_owned",
)  # fmt: skip

STYLES = {
    # smallest and largest length, width and height [mm]
    "reverse_tuck_end": ((35, 110), (18, 60), (40, 160)),
    "straight_tuck_end": ((35, 110), (18, 60), (40, 160)),
    "seal_end": ((60, 190), (30, 70), (120, 280)),
    "crash_lock": ((60, 150), (40, 90), (70, 180)),
    "sleeve": ((50, 200), (20, 70), (40, 160)),
    "glued_tray": ((80, 220), (60, 160), (20, 50)),
}
STYLE_WEIGHTS = (34, 22, 12, 12, 12, 8)
BOARDS = (
    "solid_bleached_250", "solid_bleached_280", "solid_bleached_300", "solid_bleached_350", "folding_boxboard_235",
    "folding_boxboard_250", "folding_boxboard_270", "folding_boxboard_300", "recycled_300", "recycled_350",
    "recycled_400", "kraft_300",
)  # fmt: skip
SHEETS = ((1020, 720), (1000, 700), (920, 640), (740, 520))


def lognormal(random: Random, median: float, sigma: float) -> float:
    """Draw a lognormal number by its median."""
    return random.lognormvariate(math.log(median), sigma)


def tidy_run(length: float) -> int:
    """Round a run length as people order: to two figures, at least 100."""
    size = 10 ** max(math.floor(math.log10(max(length, 100))) - 1, 1)
    return int(max(round(length / size) * size, 100))


def carton(random: Random, number: int) -> dict[str, Any]:
    """Invent a carton."""
    sheet = random.choice(SHEETS)
    made: dict[str, Any] = {
        "carton": f"C{number:04d}",
        "sheet_width_mm": sheet[0],
        "sheet_length_mm": sheet[1],
        "print_cost_per_sheet": round(random.triangular(0.06, 0.3, 0.11), 3),
    }
    if random.random() < 0.9:
        style = random.choices(list(STYLES), STYLE_WEIGHTS)[0]
        made["style"] = style
        for name, (low, high) in zip(("length_mm", "width_mm", "height_mm"), STYLES[style], strict=True):
            made[name] = round(random.triangular(low, high, low + (high - low) / 3))
    else:
        made |= own_lengths(random)
    if random.random() < 0.92:
        made["board"] = random.choice(BOARDS)
    else:
        made |= {
            "grammage_g_m2": random.choice((240, 265, 290, 320)),
            "caliper_mm": round(random.uniform(0.34, 0.52), 2),
            "board_price_per_t": random.choice((980, 1100, 1320)),
        }
    if random.random() < 0.06:
        made["laminate"] = random.choice(("pet", "pp", "pvc", "metallised"))
    if "style" in made and made["style"] != "glued_tray" and random.random() < 0.1:
        side = random.randint(12, 24)
        made |= {
            "cutouts": 1,
            "cutout_length_mm": 4 * side,
            "cutout_corners": 4,
            "cutout_area_mm2": side * side,
        }
    versions = random.choices((1, 2, 3, 4, 6, 8, 12), (78, 8, 5, 4, 2, 2, 1))[0]
    if versions > 1:
        made |= {"versions": versions, "crease_versions": 1 if random.random() < 0.7 else versions}
        made["mixed_sheets"] = int(random.random() < 0.4)
    if random.random() < 0.35:
        made["die_owned"] = 1
    return made


def own_lengths(random: Random) -> dict[str, Any]:
    """Invent a carton of no style, by its lengths and ups."""
    area = round(random.triangular(0.012, 0.06, 0.025), 4)
    edge = math.sqrt(area)
    ups = max(int(0.28 / area), 1)
    corners = random.randint(14, 40)
    return {
        "blank_area_m2": area,
        "cutting_m": round(edge * random.uniform(5, 8), 3),
        "creasing_m": round(edge * random.uniform(3, 6), 3),
        "nicks": random.randint(4, 16),
        "bends": corners,
        "strokes": random.randint(1, 6),
        "corner_load": round(corners * random.uniform(0.5, 0.9), 2),
        "waste_pieces": random.randint(0, 4),
        "ups_die": ups,
        "ups_laser": ups,
    }


def orders(count: int, seed: int = SEED) -> list[dict[str, Any]]:
    """Invent a year of orders, sorted by the day they came in."""
    random = Random(seed)  # noqa: S311 - an invented book, not a secret
    made: list[dict[str, Any]] = []
    number = 0
    while len(made) < count:
        number += 1
        about = carton(random, number)
        typical = lognormal(random, 7_000, 1.25)
        steady = random.random() < 0.7
        times = random.choices((1, 2, 3, 4, 6, 12), (48, 18, 12, 12, 7, 3))[0]
        pinned = random.choices(("", "die", "laser"), (96, 3, 1))[0]
        first = random.randrange(DAYS // times)
        for k in range(min(times, count - len(made))):
            run = typical if steady else typical * lognormal(random, 1, 0.5)
            came = YEAR_START + timedelta(days=first + k * (DAYS // times))
            made.append(
                {
                    **about,
                    "route": pinned,
                    "run_length": max(tidy_run(run), about.get("versions", 1)),
                    "ordered": came.isoformat(),
                    "due": (came + timedelta(days=random.randint(8, 30))).isoformat(),
                }
            )
    made.sort(key=lambda order: (order["ordered"], order["carton"], order["due"]))
    return [{**order, "order": f"A{place:05d}"} for place, order in enumerate(made, start=1)]


def write(rows: list[dict[str, Any]], path: Path) -> None:
    """Write orders as a CSV with the headings of the template; columns that nobody fills are left out."""
    headings = {column.name: template_heading(column) for column in template_columns()}
    used = [name for name in COLUMNS if any(row.get(name, "") != "" for row in rows)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([headings[name] for name in used])
        writer.writerows([[row.get(name, "") for name in used] for row in rows])


def main() -> None:
    """Write both books into a folder."""
    parser = argparse.ArgumentParser(description="Write the invented order books.")
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parents[1] / "data" / "demo")
    folder = parser.parse_args().folder
    for count in (20, 2000):
        write(orders(count, SEED + count), folder / f"orders_{count}.csv")


if __name__ == "__main__":
    main()
