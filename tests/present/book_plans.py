"""Plans of small books of orders, for the tests of what is said and written about them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from compare.decide.book_plan import BookPlan, Limits, plan_book
from compare.readers.jobfile import Layer, read_file
from compare.readers.orderbook import read_orders

DATA = Path(__file__).resolve().parents[2] / "data"
PLANT = read_file(DATA / "plants" / "northfold.toml", kind="plant")
DEMO = DATA / "demo" / "orders_20.csv"

ORDER: Mapping[str, Any] = {
    "order": "A1", "carton": "C1", "run_length": 1000, "style": "sleeve", "length_mm": 90, "width_mm": 30,
    "height_mm": 60, "board": "kraft_300", "sheet_width_mm": 740, "sheet_length_mm": 520,
}  # fmt: skip
"""An order that saves on the laser."""


def csv_of(*rows: Mapping[str, Any]) -> str:
    """Return orders as a CSV text, every cell in quotes."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    lines = [names, *([row.get(name, "") for name in names] for row in rows)]
    return "".join(",".join('"' + str(cell).replace('"', '""') + '"' for cell in line) + "\n" for line in lines)


def plan_text(text: str, limits: Limits | None = None, *layers: Layer, **options: Any) -> BookPlan:
    """Plan an order book that is given as CSV text."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "orders.csv"
        path.write_text(text, encoding="utf-8")
        return plan_book(read_orders(path, currency="EUR"), PLANT, *layers, limits=limits, **options)


def plan_rows(*rows: Mapping[str, Any], limits: Limits | None = None, **options: Any) -> BookPlan:
    """Plan a few orders."""
    return plan_text(csv_of(*rows), limits, **options)


@cache
def demo_plan() -> BookPlan:
    """Plan the twenty invented orders, for which hours are plenty."""
    return plan_text(DEMO.read_text(encoding="utf-8"))


@cache
def scarce_plan() -> BookPlan:
    """Plan 600 of the invented orders in 60 hours, of which they would take more."""
    lines = (DATA / "demo" / "orders_2000.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    return plan_text("".join(lines[:601]), Limits(60.0, by_month=False))
