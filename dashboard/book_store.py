"""Order books that were uploaded, and what was worked out of them.

Where what is kept, and why:

- The **file** lies in a folder of this machine for a day, found again by a secret name, as drawings are. A book of
  ten megabytes is too much to travel with every call of a page, and all workers of a machine see one folder.
- What the **reader of the page** said (columns, mended cells, pins, hours) stays in the browser: it is small, and
  it is what makes one page differ from another. Nothing of a book goes into a link.
- **Tables, evaluated books and plans** are kept in the memory of a worker, a few of each, under the secret name
  and everything they depend on. A worker that has none makes them anew from the file, so it does not matter
  which worker answers, nor whether one was started anew.
- The **range** of a saving takes longer than a call may. A thread works it out and writes how far it is, and in
  the end the range, into a file in the same folder, where any worker finds it.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from compare.data_files import data_folder
from compare.decide.book_plan import BookPlan, Limits, job_capacities, plan_evaluated
from compare.decide.investment import evaluate_investment
from compare.decide.order_book import Book, evaluate_book
from compare.decide.order_inputs import JOB_GROUPS
from compare.decide.saving_range import SavingRange, Swing, saving_range
from compare.decide.selection import Selection, choose
from compare.errors import EvenrunError, FileError
from compare.readers.jobfile import Layer
from compare.readers.orderbook import OrderTable
from compare.readers.orderbook_words import Words
from compare.valuation.money import Costing
from dashboard.book_process import read_apart
from dashboard.settings import Settings
from dashboard.shelf import KEPT_S, Shelf
from dashboard.state import State as View
from dashboard.state import base_values
from dashboard.uploads import BOOK_BYTES

MOST_ROWS = 50_000
"""Most orders of a book on screen; ``evenrun book`` takes more."""

DEMO = "invented-orders"
"""Name of the book that comes with the program; it is no secret and lies in no folder of uploads."""

_KEPT, _KEPT_BYTES = 100, 400_000_000
"""So many books are kept at most, and so many bytes."""

_SHELF = Shelf(
    "orders",
    "order book",
    "orders",
    BOOK_BYTES,
    "leave out columns that the template does not know, split it, or use 'evenrun book'",
    _KEPT_BYTES,
)
_RANGES = "ranges"
_SILENT_S = 60.0
"""After so long without a word a range is taken for dead, such as after the server was started anew [s]."""

_PLANNING, _RANGING = threading.Lock(), threading.BoundedSemaphore(1)

Overrides = tuple[tuple[str, float | str], ...]
Pins = tuple[tuple[int, str], ...]


@dataclass(frozen=True)
class Reading:
    """A book and how it is read.

    Attributes
    ----------
    token : str
        Secret name of the file.
    columns : tuple of (str, str)
        Heading to what it holds.
    decimal, dates, sheet : str
        Decimal sign, order of dates, sheet; empty where the file is to say.
    mended : tuple of (int, str, str)
        Row, heading and text of cells that are read instead of those in the file.
    """

    token: str
    columns: tuple[tuple[str, str], ...] = ()
    decimal: str = ""
    dates: str = ""
    sheet: str = ""
    mended: tuple[tuple[int, str, str], ...] = ()

    def options(self, currency: str) -> dict[str, Any]:
        """Return what the reader is told, as plain data."""
        return {
            "columns": dict(self.columns) or None,
            "decimal": self.decimal or None,
            "dates": self.dates or None,
            "sheet": self.sheet or None,
            "currency": currency,
            "mended": [list(cell) for cell in self.mended],
        }


@dataclass(frozen=True)
class Wanted:
    """What a page asks of its book.

    Attributes
    ----------
    hours : float
        Hours of the line that may be planned [h/y].
    by_month : bool
        Whether no month may hold more than its share.
    costing : {"full", "cash"}
        Which machine rates decide.
    pins : tuple of (int, str)
        Row of the file that stands for a job, and the route its carton stays on; ``free`` undoes a pin of the file.
    """

    hours: float
    by_month: bool = True
    costing: Costing = "full"
    pins: Pins = ()

    @property
    def limits(self) -> Limits:
        """The limits as the engine takes them."""
        return Limits(self.hours, self.by_month)


class BusyError(FileError):
    """Others are being worked out; in a moment it can be asked again."""

    def __init__(self) -> None:
        super().__init__("another order book is being worked out", where="orders", remedy="try again in a moment")


class FirstChoice(NamedTuple):
    """A choice that was made at once: good, with its proof, and maybe not the best."""

    book: Book
    limits: Limits
    selection: Selection

    @property
    def hours_used(self) -> float:
        """Hours of the line that the jobs take [h/y]."""
        return float(self.selection.used[0])


# -- files ------------------------------------------------------------------------------------------------------------


def keep(contents: object, filename: object) -> str:
    """Keep an uploaded book and return its secret name; see :meth:`dashboard.shelf.Shelf.keep`."""
    oldest = time.time() - KEPT_S
    for file in (_SHELF.folder() / _RANGES).glob("*.json"):
        if file.stat().st_mtime < oldest:
            file.unlink(missing_ok=True)
    return _SHELF.keep(contents, filename, most=_KEPT)


def file_of(token: str) -> Path:
    """Return the file of a secret name.

    Raises
    ------
    InputError
        If it is no longer there.
    """
    return data_folder() / "demo" / "orders_2000.csv" if token == DEMO else _SHELF.file(token)


# -- what is worked out -----------------------------------------------------------------------------------------------


def plant_overrides(view: View) -> Overrides:
    """Return what the page changed of the plant; what it says of the one job of the Job view is no order's."""
    return tuple(sorted((n, v) for n, v in view.overrides.items() if not n.startswith(JOB_GROUPS)))


def table_of(reading: Reading, view: View, settings: Settings) -> OrderTable:
    """Return the table of a book.

    Raises
    ------
    EvenrunError
        If it can't be read, or is no longer kept.
    """
    currency = str({**base_values(settings), **view.overrides}["plant.currency"])
    return _table(reading, currency)


def book_of(reading: Reading, view: View, costing: Costing, settings: Settings) -> Book:
    """Return the book on both routes; see :func:`compare.decide.order_book.evaluate_book`."""
    table = table_of(reading, view, settings)
    return _book(reading, table.currency, plant_overrides(view), costing, settings)


def pinned_book(book: Book, pins: Pins) -> Book:
    """Return a book with pins of the page in place of those of its file; a pin holds for all orders of a carton."""
    if not pins:
        return book
    jobs, route = book.jobs, book.table.route
    of_name = np.array([("die", "laser").index(name) for name in route.names] + [-1], dtype=np.int32)
    codes = of_name[route.codes]
    place_of = {number: place for place, number in enumerate(book.table.row.tolist())}
    pin_of_family: dict[int, int] = {}
    for row, name in pins:
        place = place_of.get(row)
        if place is not None and jobs.of_row[place] >= 0:
            pin_of_family[int(jobs.family[jobs.of_row[place]])] = ("free", "die", "laser").index(name) - 1
    chosen = np.full(jobs.families, -2, dtype=np.int32)
    chosen[list(pin_of_family)] = list(pin_of_family.values())
    computed = np.flatnonzero(jobs.of_row >= 0)
    of_family = chosen[jobs.family[jobs.of_row[computed]]]
    codes[computed[of_family >= -1]] = of_family[of_family >= -1]
    return replace(book, table=replace(book.table, route=Words(codes, ("die", "laser"))))


def first_choice(reading: Reading, view: View, wanted: Wanted, settings: Settings) -> FirstChoice | BookPlan:
    """Return a choice of jobs at once, with the proof of how good it is; the whole plan, where it is at hand."""
    kept = _plans.get(_key(reading, view, wanted, settings))
    if kept is not None:
        return kept
    book = pinned_book(book_of(reading, view, wanted.costing, settings), wanted.pins)
    selection = choose(
        book.saving,
        job_capacities(book, wanted.limits),
        groups=book.families,
        pinned=book.pinned,
        die_possible=book.die_possible,
        laser_possible=book.laser_possible,
        time_limit_s=0.0,
    )
    return FirstChoice(book, wanted.limits, selection)


def plan_of(reading: Reading, view: View, wanted: Wanted, settings: Settings, *, patience_s: float = 30.0) -> BookPlan:
    """Return the plan of a book, with the range of its saving where that is known.

    Parameters
    ----------
    reading, view, wanted, settings
        What it depends on.
    patience_s : float
        How long to wait for another plan that is being made [s]. One at a time is enough for two cores, and a
        thread that waits answers nobody.

    Raises
    ------
    BusyError
        If another one is still being made then.
    EvenrunError
        If the book can't be read or planned.
    """
    key = _key(reading, view, wanted, settings)
    plan = _plans.get(key)
    if plan is None:
        book = book_of(reading, view, wanted.costing, settings)
        cash = book_of(reading, view, "cash", settings)
        if not _PLANNING.acquire(timeout=patience_s):
            raise BusyError
        try:
            plan = _plans.get(key) or plan_evaluated(
                pinned_book(book, wanted.pins), pinned_book(cash, wanted.pins), wanted.limits
            )
        finally:
            _PLANNING.release()
        _plans.put(key, plan)
    found = known_range(reading, view, wanted, settings)
    if isinstance(found, SavingRange) and plan.saving_range is None:
        plan = _with_range(plan, found)
        _plans.put(key, plan)
    return plan


def _with_range(plan: BookPlan, found: SavingRange) -> BookPlan:
    """Return a plan with the range of its saving, without choosing the jobs anew."""
    case = plan.investment
    if case is not None:
        case = evaluate_investment(case.investment, case.yearly_saving, low=found.low, high=found.high)
    return replace(plan, saving_range=found, investment=case)


class _Plans:
    """The plans made last."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[str, BookPlan] = {}
        self._lock = threading.Lock()

    def get(self, key: str) -> BookPlan | None:
        with self._lock:
            plan = self._kept.pop(key, None)
            if plan is not None:
                self._kept[key] = plan  # the last one used goes last
            return plan

    def put(self, key: str, plan: BookPlan) -> None:
        with self._lock:
            self._kept.pop(key, None)
            self._kept[key] = plan
            while len(self._kept) > self._most:
                del self._kept[next(iter(self._kept))]

    def clear(self) -> None:
        with self._lock:
            self._kept.clear()


_plans = _Plans(24)


@lru_cache(maxsize=6)
def _table(reading: Reading, currency: str) -> OrderTable:
    return read_apart(file_of(reading.token), reading.options(currency), max_rows=MOST_ROWS)


@lru_cache(maxsize=8)
def _book(reading: Reading, currency: str, overrides: Overrides, costing: Costing, settings: Settings) -> Book:
    return evaluate_book(_table(reading, currency), *_layers(overrides, settings), costing=costing)


def _layers(overrides: Overrides, settings: Settings) -> tuple[Layer, ...]:
    return settings.plant, Layer("this page", dict(overrides))


def layers_of(view: View, settings: Settings) -> tuple[Layer, ...]:
    """Return what a book is evaluated with, from the weakest to the strongest."""
    return _layers(plant_overrides(view), settings)


def _key(reading: Reading, view: View, wanted: Wanted, settings: Settings) -> str:
    """Return a digest of all that a plan depends on; it can't be told from it which book it is of."""
    told = [vars(reading), plant_overrides(view), vars(wanted), dict(settings.plant.values)]
    return hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()


# -- the range of the saving ------------------------------------------------------------------------------------------


class Underway(NamedTuple):
    """How far the range of a saving is."""

    share: float
    what: str


def known_range(
    reading: Reading, view: View, wanted: Wanted, settings: Settings
) -> SavingRange | Underway | str | None:
    """Return the range of a saving: known, underway, failed (why), or not asked for."""
    try:
        file = _range_file(_key(reading, view, wanted, settings))
        said = json.loads(file.read_text(encoding="utf-8"))
        silent = time.time() - file.stat().st_mtime
    except (OSError, ValueError):
        return None
    if "error" in said:
        return str(said["error"])
    if "swings" in said:
        return SavingRange(said["low"], said["high"], tuple(Swing(*swing) for swing in said["swings"]))
    return Underway(float(said["share"]), str(said["what"])) if silent < _SILENT_S else None


def work_out_range(reading: Reading, view: View, wanted: Wanted, settings: Settings) -> None:
    """Start to work out the range of a plan's saving, unless it is known or underway.

    Raises
    ------
    EvenrunError
        If there is no plan, or another range is being worked out.
    """
    found = known_range(reading, view, wanted, settings)
    if isinstance(found, (SavingRange, Underway)):
        return
    plan = plan_of(reading, view, wanted, settings)
    if not _RANGING.acquire(blocking=False):
        raise BusyError
    key = _key(reading, view, wanted, settings)
    _say(key, {"share": 0.0, "what": "begun"})
    layers = layers_of(view, settings)
    threading.Thread(target=_range_apart, args=(key, plan, layers), name="range", daemon=True).start()


def _range_apart(key: str, plan: BookPlan, layers: tuple[Layer, ...]) -> None:
    """Work out a range and say how far it is."""
    last = 0.0

    def progress(share: float, what: str) -> None:
        nonlocal last
        if time.monotonic() - last > 0.25:
            last = time.monotonic()
            _say(key, {"share": (share - 0.3) / 0.7, "what": what})

    try:
        found = saving_range(
            plan.cash.table, layers, plan.cash, plan.selection.on_laser, executor=None, progress=progress
        )
        _say(key, {"low": found.low, "high": found.high, "swings": [list(s) for s in found.swings]})
    except EvenrunError as error:
        _say(key, {"error": str(error)})
    except Exception:
        _say(key, {"error": "the range can't be worked out"})
        raise
    finally:
        _RANGING.release()


def _say(key: str, said: Mapping[str, Any]) -> None:
    file = _range_file(key)
    file.parent.mkdir(mode=0o700, exist_ok=True)
    part = file.with_suffix(f".{secrets.token_hex(4)}")
    part.write_text(json.dumps(said), encoding="utf-8")
    part.replace(file)


def _range_file(key: str) -> Path:
    return _SHELF.folder() / _RANGES / f"{key}.json"
