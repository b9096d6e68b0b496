"""What `evenrun book` does: options in, a plan out, files written, progress shown."""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import cast, get_args

from rich.console import Console
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar

from compare.boards import boards
from compare.decide.book_plan import BookPlan, Limits, plan_book
from compare.decide.order_inputs import BookPlant, book_plant
from compare.decide.saving_range import Progress
from compare.errors import FileError, InputError, unknown_name
from compare.present.book_export import write_jobs_csv, write_xlsx
from compare.present.book_template import template_xlsx, write_template_csv
from compare.readers.jobfile import Layer
from compare.readers.orderbook import read_orders
from compare.readers.orderbook_cells import DateOrder, Decimal
from compare.readers.orderbook_findings import BookFinding, findings_csv
from compare.valuation.money import Costing

MOST_HOURS, MOST_MONTH_HOURS = 8_784, 744
"""Hours of a leap year, and of the longest month [h]."""

CURRENCY = "--currency"
"""Option, and label of the layer that it makes."""

HELP = "'evenrun book --help' shows how"


@dataclass(frozen=True)
class Reading:
    """How an order book is to be read; texts as they were typed."""

    columns: Sequence[str] = ()
    decimal: str | None = None
    dates: str | None = None
    sheet: str | None = None


@dataclass(frozen=True)
class Planning:
    """What is to be planned; texts as they were typed."""

    hours: float | None = None
    month_hours: float | None = None
    by_month: bool = True
    board_hours: Sequence[str] = ()
    costing: Costing = "full"
    tax: str = "0"
    with_range: bool = False


def run_book(
    orders: Path, layers: Sequence[Layer], reading: Reading, planning: Planning, findings: Path | None = None
) -> BookPlan:
    """Read an order book and plan it.

    Parameters
    ----------
    orders : Path
        CSV or XLSX.
    layers : sequence of Layer
        Plant file and settings.
    reading, planning : Reading, Planning
        Options.
    findings : Path, optional
        Where to write all findings, also if nothing can be computed.

    Raises
    ------
    InputError
        If an option can't be, or no order can be computed.
    """
    columns, board_hours = _pairs(reading.columns, "--map", "HEADING=COLUMN"), _board_hours(planning.board_hours)
    decimal, dates = _one_of(reading.decimal, Decimal, "--decimal"), _one_of(reading.dates, DateOrder, "--dates")
    tax = _share(planning.tax)
    common = _common(layers)
    hours = common.plant["line_capital.hours_y"] if planning.hours is None else planning.hours
    limits = Limits(hours, planning.by_month, planning.month_hours, board_hours)
    with _shown() as (rows_read, progress):
        table = read_orders(
            orders,
            columns=columns,
            decimal=cast("Decimal | None", decimal),
            dates=cast("DateOrder | None", dates),
            currency=common.currency,
            sheet=reading.sheet,
            progress=rows_read,
        )
        if table.waits.all():
            raise _nothing(orders, table.findings, findings)
        plan = plan_book(
            table,
            *layers,
            costing=planning.costing,
            limits=limits,
            tax_pa=tax,
            with_range=planning.with_range,
            progress=progress,
        )
    if not len(plan.book):
        raise _nothing(orders, plan.book.findings, findings)
    if findings is not None:
        _write_findings(plan.book.findings, findings)
    return plan


def _common(layers: Sequence[Layer]) -> BookPlant:
    """Return what all jobs have in common; a currency that can't be is one of its own option, where that gave it."""
    for layer in layers:
        given = layer.values.get("plant.currency")
        if layer.label == CURRENCY and not (isinstance(given, str) and re.fullmatch(r"[A-Z]{3}", given)):
            raise InputError(
                f"'{given}' is no currency code", where=CURRENCY, remedy="give three capital letters, such as EUR"
            )
    return book_plant(*layers)


def hours_of(text: str | None, option: str) -> float | None:
    """Return hours that were typed.

    Raises
    ------
    InputError
        If they are no number, or more than there are.
    """
    if text is None:
        return None
    hours = _number(text)
    if hours is None:
        example = "use a point, such as 37.5" if "," in text else "give a plain number, such as 3200 or 37.5"
        raise InputError(f"'{text}' is no number of hours", where=option, remedy=f"{example}; {HELP}")
    whole, most, rest = ("month", MOST_MONTH_HOURS, "744") if "month" in option else ("year", MOST_HOURS, "8,760")
    if hours > most:
        has = "has at most" if whole == "month" else "has"
        raise InputError(
            f"a {whole} {has} {rest} hours, and {hours:,g} are given", where=option, remedy="give those of one line"
        )
    return hours


def write_files(plan: BookPlan, layers: Sequence[Layer], xlsx: Path | None, jobs: Path | None) -> None:
    """Write the workbook and the table of jobs."""
    if xlsx is not None:
        with _writing(xlsx), xlsx.open("wb") as binary:
            write_xlsx(plan, layers, binary)
    if jobs is not None:
        with _writing(jobs), jobs.open("w", encoding="utf-8", newline="") as text:
            write_jobs_csv(plan, text)


def write_template(path: Path) -> None:
    """Write the template; the ending of the name says whether as CSV or as a workbook."""
    kind = path.suffix.lower()
    if kind not in (".csv", ".xlsx"):
        raise InputError("a template is CSV or XLSX", where=str(path), remedy="end the name in .csv or .xlsx")
    if path.exists():
        raise FileError("this file is there already", where=str(path), remedy="give another name, or delete it")
    with _writing(path):
        if kind == ".xlsx":
            path.write_bytes(template_xlsx())
        else:
            with path.open("w", encoding="utf-8", newline="") as file:
                write_template_csv(file)


def keep_apart(orders: Path, **outputs: Path | None) -> None:
    """Refuse to write over the order book, two things into one file, or a workbook under the name of something else."""
    places: dict[Path, str] = {}
    for name, path in outputs.items():
        option = f"--{name}"
        if path is None:
            continue
        if str(path) == "-":
            raise InputError("'-' is no file name", where=option, remedy="name a file, or print with --json")
        if path.exists() and orders.exists() and path.samefile(orders):
            raise InputError("this is the order book itself", where=str(path), remedy="write to another file")
        if name == "xlsx" and path.suffix.lower() != ".xlsx":
            raise InputError(f"'{path}' is no name of a workbook", where=option, remedy="end the name in .xlsx")
        first = places.setdefault(path.resolve(), option)
        if first != option:
            raise InputError(
                f"{first} and {option} name one file", where=str(path), remedy="name another for one of them"
            )


def _write_findings(found: Sequence[BookFinding], path: Path) -> None:
    with _writing(path):
        path.write_text(findings_csv(found), encoding="utf-8", newline="")


def _nothing(orders: Path, found: Sequence[BookFinding], path: Path | None) -> InputError:
    """Return the error for a book of which no order can be computed: what is wrong, in one line."""
    if path is not None:
        _write_findings(found, path)
    waiting = [f for f in found if f.waits]
    # the first of each kind says more than the first few, which often are of one kind
    first = list({f.code: f for f in reversed(waiting)}.values())[::-1][:3]
    said = "; ".join(_said(f) for f in first)
    counts = Counter(f.code for f in waiting)
    rest = sum(counts.values()) - len(first)
    where = f"all {len(found)} findings are in {path}" if path else "--findings findings.csv lists them all"
    more = (
        f" and {rest} more finding{'s' if rest > 1 else ''}; {where}"
        if rest
        else f" (written to {path})"
        if path
        else ""
    )
    return InputError(f"no order can be computed: {said}{more}", where=str(orders))


def _said(found: BookFinding) -> str:
    place = f"row {found.row}: " if found.row is not None else ""
    return f"{place}{found.message} ({found.remedy})"


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise FileError(
            f"the file can't be written ({error.strerror})", where=str(path), remedy="check folder and rights"
        ) from None


@contextmanager
def _shown() -> Iterator[tuple[Callable[[int], object] | None, Progress]]:
    """Show a bar on stderr while something takes long, if a person looks."""
    if not sys.stderr.isatty():
        yield None, lambda share, what: None
        return
    text = TextColumn("{task.description}", markup=False)
    with Bar(text, BarColumn(), TimeElapsedColumn(), console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading orders", total=None)

        def progress(share: float, what: str) -> None:
            bar.update(task, total=1.0, completed=share, description=what)

        yield lambda rows: bar.update(task, description=f"{rows:,} orders read"), progress


def _pairs(texts: Sequence[str], option: str, form: str) -> dict[str, str]:
    found = {}
    for text in texts:
        name, sign, value = text.rpartition("=")
        if not sign or not name.strip():
            raise InputError(f"'{text}' is not {form}", where=option, remedy=f"write it as {form}")
        if name.strip() in found:
            raise InputError(f"'{name.strip()}' is given twice", where=option, remedy="give it once")
        found[name.strip()] = value.strip()
    return found


def _board_hours(texts: Sequence[str]) -> dict[str, float]:
    found = {}
    for grade, text in _pairs(texts, "--board-hours", "GRADE=HOURS").items():
        if grade not in boards():
            raise unknown_name(grade, boards(), where="--board-hours", what="board grade")
        hours = _number(text)
        if hours is None or not 0 <= hours < float("inf"):
            remedy = "use a point, as in 37.5" if "," in text else "give hours of 0 or more"
            raise InputError(f"'{text}' is no number of hours", where="--board-hours", remedy=f"{remedy}; {HELP}")
        found[grade] = hours
    return found


def _share(text: str) -> float:
    number, sign, rest = text.strip().partition("%")
    share = _number(number)
    if share is not None and sign:
        share /= 100
    if share is None or rest or not 0 <= share < 1:
        remedy = (
            "use a point, such as 0.3 or 30%" if "," in text else "give a share or percent below 1, such as 0.3 or 30%"
        )
        raise InputError(f"a tax of '{text}' can't be", where="--tax", remedy=f"{remedy}; {HELP}")
    return share


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _one_of(text: str | None, options: object, where: str) -> str | None:
    known = get_args(options)
    if text is not None and text not in known:
        raise InputError(f"'{text}' is not known", where=where, remedy=f"give one of {' '.join(known)}")
    return text
