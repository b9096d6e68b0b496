"""Reads an uploaded order book in a process of its own, with limits of time and memory.

Like a drawing, a workbook comes from anybody, and the library that takes it apart can't be bounded from
inside (see :mod:`compare.readers.reader_process`). The table comes back as JSON and plain arrays, whose
sizes and kinds are checked before they are used; nothing of it can run code here, as a pickle could.
"""

from __future__ import annotations

import json
import tempfile
import threading
from pathlib import Path
from typing import Any

import numpy as np

from compare.errors import EvenrunError, FileError, InputError
from compare.readers.limited_process import TRY_LATER, Remedies, run_limited, serve_limited
from compare.readers.orderbook import OrderTable, read_orders
from compare.readers.orderbook_findings import BookFinding
from compare.readers.orderbook_words import Words

MEGABYTES = 1_000.0
"""Memory that reading may take, the interpreter's own included (Linux and macOS only) [MB]."""

SECONDS = 40.0
"""Time that reading may take [s]; a full workbook of the largest size takes half of it on two cores."""

_MOST_FINDINGS = 100_000
"""Findings that come back; a file that has more of them is no order book."""

_MAX_TEXT = 200_000_000
_AT_ONCE = threading.BoundedSemaphore(2)
"""Books read at the same time by one server process, so that their memory adds up to a known sum."""

_KINDS: dict[str, np.dtype[Any]] = {
    "f8": np.dtype("<f8"),
    "i8": np.dtype("<i8"),
    "i4": np.dtype("<i4"),
    "b1": np.dtype("?"),
}
_REMEDIES = Remedies(
    memory="save the table of orders alone as a new file, or split it",
    time="split it, or save it as CSV",
    broken="save the table anew, or as CSV",
)


# -- the side that asks -----------------------------------------------------------------------------------------------


def read_apart(path: Path, options: dict[str, Any], *, max_rows: int, seconds: float = SECONDS) -> OrderTable:
    """Read an order book in a process of its own.

    Parameters
    ----------
    path : Path
        The file.
    options : dict
        Of :func:`compare.readers.orderbook.read_orders`, in plain data; ``mended`` as a list of
        ``[row, heading, text]``.
    max_rows : int
        Rows that are read at most.
    seconds : float
        It is stopped after so long.

    Raises
    ------
    FileError
        If it was stopped, broke down, or takes too much.
    InputError
        If the reader says so.
    """
    where = path.name
    if not _AT_ONCE.acquire(timeout=seconds):
        raise FileError("other order books are being read", where=where, remedy=TRY_LATER)
    try:
        with tempfile.TemporaryDirectory(prefix="orders-", ignore_cleanup_errors=True) as folder:
            job = {
                "path": str(path.absolute()),
                "options": options,
                "max_rows": max_rows,
                "folder": folder,
            }
            run_limited(__name__, job, seconds=seconds, megabytes=MEGABYTES, where=where, remedies=_REMEDIES)
            return _answer(Path(folder), where)
    finally:
        _AT_ONCE.release()


def _answer(folder: Path, where: str) -> OrderTable:
    """Read what the process left, trusting none of it."""
    try:
        with (folder / "answer.json").open("rb") as file:
            raw = file.read(_MAX_TEXT + 1)
        if len(raw) > _MAX_TEXT:
            raise ValueError("too long")
        said = json.loads(raw)
        if "error" not in said:
            return _table(said, folder / "arrays.bin")
        kind, what, at, remedy = (_text(part) for part in said["error"])
    except (OSError, ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError, MemoryError):
        raise FileError(
            "the reader's answer can't be used", where=where, remedy="save the table anew, or as CSV"
        ) from None
    error = {"InputError": InputError, "FileError": FileError}.get(kind, FileError)
    raise error(what, where=at, remedy=remedy)


def _table(said: dict[str, Any], file: Path) -> OrderTable:
    rows = said["rows"]
    if type(rows) is not int or rows < 0 or len(said["findings"]) > _MOST_FINDINGS:
        raise ValueError("no size")
    arrays = _arrays(said["arrays"], rows, file)
    if len(said["order"]) != rows:
        raise ValueError("orders without a number")

    def words(key: str, names: list[Any]) -> Words:
        codes = arrays[key]
        if len(codes) and not (codes.min() >= -1 and codes.max() < len(names)):
            raise ValueError("a word that is none")
        return Words(codes, tuple(_text(name) for name in names))

    names = said["names"]
    days = {key: arrays[key].view("datetime64[D]") if key in arrays else None for key in ("ordered", "due")}
    return OrderTable(
        source=_text(said["source"]),
        row=arrays["row"],
        order=np.array([_text(name) for name in said["order"]], dtype=object),
        carton=words("carton", names["carton"]),
        numbers={_text(n): arrays[f"number {n}"] for n in said["numbers"]},
        texts={_text(n): words(f"text {n}", names[f"text {n}"]) for n in said["texts"]},
        ordered=days["ordered"],
        due=days["due"],
        route=words("route", names["route"]),
        currency=_text(said["currency"]),
        headings={_text(name): _text(heading) for name, heading in said["headings"].items()},
        findings=tuple(_finding(parts) for parts in said["findings"]),
        waits=arrays["waits"],
        decimal=_text(said["decimal"]),
    )


def _arrays(listed: list[Any], rows: int, file: Path) -> dict[str, np.ndarray]:
    """Read the arrays, every one of them as long as the table."""
    kinds = [(_text(name), _KINDS[kind]) for name, kind in listed]
    if file.stat().st_size != rows * sum(kind.itemsize for _, kind in kinds):
        raise ValueError("arrays of another size")
    with file.open("rb") as opened:
        return {name: np.fromfile(opened, kind, rows) for name, kind in kinds}


def _finding(parts: list[Any]) -> BookFinding:
    code, message, remedy, row, column, value, waits = parts
    if not (row is None or type(row) is int) or type(waits) is not bool:
        raise TypeError("no finding")
    return BookFinding(_text(code), _text(message), _text(remedy), row, _text(column), _text(value), waits)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("no text")
    return value


# -- the side that reads ----------------------------------------------------------------------------------------------


def serve(job: dict[str, Any]) -> None:
    """Read one order book and leave the answer in the folder that was named; ends the process."""
    serve_limited(job, lambda job: _leave(_read(job), Path(job["folder"])))


def _read(job: dict[str, Any]) -> OrderTable | dict[str, Any]:
    """Run the reader; a refusal, or a bug of a library, becomes an answer as well."""
    path, options = Path(job["path"]), dict(job["options"])
    mended = {(row, heading): text for row, heading, text in options.pop("mended", [])}
    try:
        return read_orders(path, **options, max_rows=job["max_rows"], mended=mended)
    except MemoryError:
        raise
    except EvenrunError as error:
        kind = "InputError" if isinstance(error, InputError) else "FileError"
        return {"error": [kind, error.what, error.where, error.remedy]}
    except Exception as error:  # whatever a library makes of a hostile file
        what = f"the reader can't make sense of it ({type(error).__name__})"
        return {"error": ["FileError", what, path.name, "save the table anew, or as CSV"]}


def _leave(answer: OrderTable | dict[str, Any], folder: Path) -> None:
    """Write the answer, its text last."""
    said: dict[str, Any]
    if isinstance(answer, OrderTable):
        t = answer
        arrays: dict[str, np.ndarray] = {
            "row": t.row.astype("<i8"),
            "waits": t.waits.astype(bool),
            "carton": t.carton.codes.astype("<i4"),
            "route": t.route.codes.astype("<i4"),
            **{f"number {n}": v.astype("<f8") for n, v in t.numbers.items()},
            **{f"text {n}": w.codes.astype("<i4") for n, w in t.texts.items()},
            **{
                k: d.astype("datetime64[D]").view("<i8")
                for k, d in (("ordered", t.ordered), ("due", t.due))
                if d is not None
            },
        }
        with (folder / "arrays.bin").open("wb") as file:
            for values in arrays.values():
                np.ascontiguousarray(values).tofile(file)
        kinds = {kind: name for name, kind in _KINDS.items()}
        said = {
            "rows": len(t),
            "source": t.source,
            "arrays": [[name, kinds[values.dtype]] for name, values in arrays.items()],
            "order": [str(name) for name in t.order],
            "numbers": list(t.numbers),
            "texts": list(t.texts),
            "names": {
                "carton": t.carton.names,
                "route": t.route.names,
                **{f"text {n}": w.names for n, w in t.texts.items()},
            },
            "currency": t.currency,
            "headings": dict(t.headings),
            "findings": [
                [f.code, f.message, f.remedy, f.row, f.column, f.value, f.waits] for f in t.findings[:_MOST_FINDINGS]
            ],
            "decimal": t.decimal,
        }
        if len(t.findings) > _MOST_FINDINGS:
            what = f"there are more than {_MOST_FINDINGS:,} things to mend in it"
            said = {"error": ["InputError", what, t.source, "look at its headings and its decimal sign"]}
    else:
        said = answer
    with (folder / "answer.json").open("w", encoding="ascii") as text:
        json.dump(said, text)
