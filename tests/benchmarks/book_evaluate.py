"""Measure an order book: evaluating it against reading its file with pandas, and its memory.

    python tests/benchmarks/book_evaluate.py [--repeats N]

Two figures, each held against a bound; the exit code is 1 where one is not held.

- 100,000 orders on both routes, against ``pandas.read_csv`` of the same file, turn about in one run.
- The most memory held while 1,000,000 orders are evaluated, against the size of their table.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import cases
import numpy as np
import pandas as pd
from measure import MEGABYTE, in_turn, keep_freed_memory, timed, traced_peak

from compare import read_file
from compare.decide.order_book import evaluate_book
from compare.readers.orderbook import OrderTable, read_orders
from compare.readers.orderbook_words import Words

ORDERS, TIMES = 100_000, 10
TIME_BOUND, MEMORY_BOUND = 3.0, 4.0
ROOT = Path(__file__).resolve().parents[2]


def maker() -> ModuleType:
    """Return the script that invents order books."""
    spec = importlib.util.spec_from_file_location("make_demo_orders", ROOT / "docs" / "make_demo_orders.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def repeated(table: OrderTable, times: int) -> OrderTable:
    """Return a book that holds another one several times over, each time with cartons of its own."""
    count = len(table.carton.names)
    codes = [np.where(table.carton.codes < 0, -1, table.carton.codes + k * count) for k in range(times)]

    def again(words: Words) -> Words:
        return Words(np.tile(words.codes, times), words.names)

    return replace(
        table,
        row=np.arange(len(table) * times) + 2,
        order=np.array([f"{k}-{name}" for k in range(times) for name in table.order], dtype=object),
        carton=Words(
            np.concatenate(codes).astype(np.int32), tuple(f"{k}-{n}" for k in range(times) for n in table.carton.names)
        ),
        numbers={name: np.tile(values, times) for name, values in table.numbers.items()},
        texts={name: again(words) for name, words in table.texts.items()},
        ordered=None if table.ordered is None else np.tile(table.ordered, times),
        due=None if table.due is None else np.tile(table.due, times),
        route=again(table.route),
        waits=np.tile(table.waits, times),
    )


def main() -> int:
    """Measure both figures and print one line of a table each."""
    parser = argparse.ArgumentParser(description="Measure an order book; see docs/performance.md.")
    parser.add_argument("--repeats", type=int, default=7, help="rounds")
    repeats = parser.parse_args().repeats
    keep_freed_memory()
    plant = read_file(cases.PLANT, kind="plant")
    script = maker()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "orders.csv"
        script.write(script.orders(ORDERS), path)
        table = read_orders(path)
        time = in_turn(timed(lambda: evaluate_book(table, plant)), timed(lambda: pd.read_csv(path)), repeats)
        reading = in_turn(timed(lambda: read_orders(path)), timed(lambda: pd.read_csv(path)), 2)
    million = repeated(table, TIMES)
    peak = traced_peak(lambda: evaluate_book(million, plant))
    memory = peak * MEGABYTE / million.nbytes
    print("| what | figure | held against | from |\n|---|---|---|---|")
    print(
        f"| {ORDERS:,} orders evaluated, against reading the file with pandas | {time.value:.2f} | {TIME_BOUND:g} | "
        f"{time.ours * 1e3:.0f} ms / {time.theirs * 1e3:.0f} ms, median of pairs {time.paired:.2f} |"
    )
    print(f"| the same orders read and checked | {reading.value:.2f} | - | {reading.ours * 1e3:.0f} ms |")
    print(
        f"| {len(million):,} orders: most memory, against their table | {memory:.2f} | {MEMORY_BOUND:g} | "
        f"{peak:.0f} MB / {million.nbytes / MEGABYTE:.0f} MB |"
    )
    return int(time.value > TIME_BOUND or memory > MEMORY_BOUND)


if __name__ == "__main__":
    sys.exit(main())
