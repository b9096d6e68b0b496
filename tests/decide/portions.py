"""What is large enough to be worked out in portions, and how results are held against one another bit by bit."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Callable
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any, get_args

import numpy as np

from compare import Inputs, evaluate, prepare, read_file, replace
from compare.assumptions import Number
from compare.decide.evaluate import Measure
from compare.decide.order_book import MEASURES, Book
from compare.readers.orderbook import OrderTable, read_orders
from tests.conftest import DATA

PLANT = read_file(DATA / "plants" / "northfold.toml", kind="plant")
ALL = get_args(Measure)
PORTION = 16_384


class Counted(Executor):
    """Hands work on to another executor and counts it: equal results alone don't show that it was used."""

    def __init__(self, to: Executor) -> None:
        self.to = to
        self.handed_on = 0

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        self.handed_on += 1
        return self.to.submit(work, *given, **named)


def write_book(path: Path, times: int) -> None:
    """Write the demo book several times over, each time with cartons of its own, and in each one order to mend."""
    with (DATA / "demo" / "orders_2000.csv").open(newline="", encoding="utf-8") as demo:
        heading, *orders = csv.reader(demo)
    run, versions = heading.index("run_length [cartons]"), heading.index("versions")
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        writer.writerow(heading)
        for k in range(times):
            copy = [[f"{k}-{order}", f"{k}-{carton}", *rest] for order, carton, *rest in orders]
            copy[k][run], copy[k][versions] = "3", "4"  # more versions than cartons: found by whoever works it out
            writer.writerows(copy)


def large_book(folder: Path) -> OrderTable:
    """Return a book of more than 32,768 jobs, three portions."""
    path = folder / "orders.csv"
    write_book(path, 30)
    return read_orders(path, decimal=".")


def _digest(values: Number) -> str:
    """Stand for every bit of an array; where two differ, the report stays short."""
    return hashlib.sha256(np.asarray(values).tobytes()).hexdigest()


def book_bits(book: Book) -> dict[str, str]:
    """Return a digest of each array of a book."""
    arrays = {f"{route} {m}": by[m] for route, by in (("die", book.die), ("laser", book.laser)) for m in MEASURES}
    arrays |= {f"why not {route}": bits for route, bits in book.reasons.items()}
    arrays |= {"cartons": book.cartons, "ganged": book.ganged, "job of row": book.jobs.of_row}
    return {name: _digest(values) for name, values in arrays.items()}


def scenarios() -> dict[str, Inputs]:
    """Return scenarios of three portions: one after another, and along two axes."""
    job = prepare(PLANT, read_file(DATA / "demo" / "soap_sleeve.toml", kind="job")).inputs
    rng = np.random.default_rng(11)
    runs = np.floor(rng.uniform(50, 60_000, 40_000))
    return {
        "draws": replace(job, {"demand.run_length": runs, "rates.labour_h": rng.uniform(18, 48, 40_000)}),
        "map": replace(job, {"demand.run_length": runs[:200, np.newaxis], "factors.kwh": rng.uniform(0.1, 0.8, 200)}),
    }


def evaluation_bits(x: Inputs, executor: Executor | None = None) -> dict[str, str]:
    """Return a digest of each total of scenarios."""
    found = evaluate(x, measures=ALL, executor=executor)
    return {f"{name} {m}": _digest(by[m]) for name, by in (("die", found.die), ("laser", found.laser)) for m in ALL}
