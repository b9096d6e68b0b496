"""Order books and plans of them, for the tests of the plan and of the range of its saving."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from compare import compare, prepare, read_file
from compare.decide.book_plan import Limits
from compare.decide.order_book import Book
from compare.readers.jobfile import Layer
from compare.readers.orderbook import OrderTable, read_orders
from tests.conftest import DATA

NEAR = 1e-9
"""Share by which sums in another order may differ."""

PLANT = read_file(DATA / "plants" / "northfold.toml", kind="plant")

ORDER = {
    "run_length": 800, "style": "reverse_tuck_end", "length_mm": 75, "width_mm": 40, "height_mm": 120,
    "board": "solid_bleached_300", "sheet_width_mm": 1020, "sheet_length_mm": 720,
}  # fmt: skip
"""A short run that the laser saves on: about 980 a year in 0.6 h."""

NO_DIE = {"varnish_release_m": 0.2}
NO_LASER = {"laminate": "pvc"}


def written(path: Path, *rows: dict[str, Any]) -> OrderTable:
    """Write orders as a CSV file, and read it."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(name for row in rows for name in row)))
        writer.writeheader()
        writer.writerows(rows)
    return read_orders(path, decimal=".")


def lines_of(name: str) -> list[dict[str, str]]:
    """Return the orders of an invented book as cells."""
    with (DATA / "demo" / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def some_cartons(lines: Sequence[dict[str, str]], rng: np.random.Generator, count: int) -> list[dict[str, str]]:
    """Draw some cartons with all their orders."""
    names = sorted({line["carton"] for line in lines})
    drawn = set(rng.choice(names, count, replace=False).tolist())
    return [line for line in lines if line["carton"] in drawn]


def hours_worth_moving(book: Book) -> float:
    """Return the hours of the jobs that save by themselves."""
    return float(book.laser_hours[book.die_possible & book.laser_possible & (book.saving > 0)].sum())


def scarce_limits(book: Book, rng: np.random.Generator) -> Limits:
    """Draw limits that can't hold all that saves: hours, months of a twelfth or of their own, two boards."""
    hours = hours_worth_moving(book) * float(rng.choice([0.1, 0.3, 0.6]))
    grades = book.jobs.texts["board.grade"]
    of_grade = {grade: float(book.laser_hours[grades.codes == code].sum()) for code, grade in enumerate(grades.names)}
    short = rng.choice(sorted(grade for grade, use in of_grade.items() if use > 0), 2, replace=False).tolist()
    return Limits(
        hours,
        by_month=bool(rng.random() < 0.7),
        month_hours=hours / 8 if rng.random() < 0.5 else None,
        board_hours={grade: 0.2 * of_grade[grade] for grade in short},
    )


def saved_alone(book: Book, job: int, *layers: Layer, costing: str) -> float:
    """Return what a job saves in a year, by its own comparison."""
    comparison = compare(prepare(*layers, book.layer(job)), costing)
    years = float(np.broadcast_to(book.jobs.years, (len(book),))[job])
    return (float(sum(comparison.die.money)) - float(sum(comparison.laser.money))) / years
