"""Runs a reader in a process of its own, with limits of time and memory.

A drawing comes from anybody. The libraries that take its format apart can't be bounded from inside,
so they run apart: what hangs is stopped, what eats memory runs into a wall, what crashes leaves the
server standing. The answer comes back as JSON and plain arrays and is checked like any input;
nothing of it can run code here, as a pickle could.
"""

from __future__ import annotations

import importlib
import json
import math
import tempfile
import threading
from pathlib import Path
from typing import Any

import numpy as np

from compare.errors import EvenrunError, FileError, Finding, InputError, UnknownNameError
from compare.geometry.strokes import ARC, CUBIC, LINE, Drawing, Group, Strokes
from compare.readers.limited_process import TRY_LATER, Remedies, run_limited, serve_limited

_MAX_PIECES = 2_000_000
_MAX_GROUPS = 10_000
_MAX_FINDINGS = 10_000
_MAX_TEXT = 100_000_000
"""Bytes of the part of an answer that is text: names, places, remarks."""

_PLACE_LENGTH = 100
"""Characters of a place that are kept."""

_AT_ONCE = threading.BoundedSemaphore(2)
"""Drawings read at the same time by one server process, so that their memory adds up to a known sum."""

_REMEDIES = Remedies(
    memory="save it with less in it, or raise the limit",
    time="save it with less in it, or raise the limit",
    broken="export the drawing anew",
)

_ERRORS: dict[str, type[EvenrunError]] = {
    kind.__name__: kind for kind in (EvenrunError, FileError, InputError, UnknownNameError)
}
_PIECE_BYTES, _STROKE_BYTES = 1 + 8 * 8 + 8, 8
"""Bytes of a piece (kind, eight numbers, stroke) and of a stroke (group) in the arrays of an answer."""


# -- the side that asks -----------------------------------------------------------------------------------------------


def run_reader(reader: str, path: Path, *, unit: str | None, seconds: float, megabytes: float) -> Drawing:
    """Run a reader apart and return what it found.

    Parameters
    ----------
    reader : str
        ``module:function`` of the reader.
    path : Path
        The file.
    unit : str or None
        Unit given by the user.
    seconds : float
        It is stopped after so long.
    megabytes : float
        Limit of its memory, the interpreter's own included (Linux and macOS only).

    Returns
    -------
    Drawing

    Raises
    ------
    FileError
        If it was stopped, crashed, or gave up.
    InputError
        If the reader says so.
    """
    where = path.name
    if not _AT_ONCE.acquire(timeout=seconds):
        raise FileError("other drawings are being read", where=where, remedy=TRY_LATER)
    try:
        # an antivirus may still hold a file of the folder; then the system clears it away later
        with tempfile.TemporaryDirectory(prefix="drawing-", ignore_cleanup_errors=True) as folder:
            job = {
                "reader": reader,
                "path": str(path.absolute()),
                "unit": unit,
                "folder": folder,
            }
            run_limited(__name__, job, seconds=seconds, megabytes=megabytes, where=where, remedies=_REMEDIES)
            return _answer(Path(folder), where)
    finally:
        _AT_ONCE.release()


def _answer(folder: Path, where: str) -> Drawing:
    """Read what the process left, trusting none of it."""
    try:
        said = json.loads(_bytes(folder / "answer.json", _MAX_TEXT))
        if "error" not in said:
            return _drawing(said, folder / "arrays.bin")
        kind, what, at, remedy = (_text(part) for part in said["error"])
    except (OSError, ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError, MemoryError):
        raise FileError("the reader's answer can't be used", where=where, remedy="export the drawing anew") from None
    raise _ERRORS.get(kind, FileError)(what, where=at, remedy=remedy)


def _bytes(path: Path, most: int) -> bytes:
    with path.open("rb") as file:
        raw = file.read(most + 1)
    if len(raw) > most:
        raise ValueError("too long")
    return raw


def _drawing(said: dict[str, Any], arrays: Path) -> Drawing:
    strokes = _strokes(said, arrays)
    groups = tuple(_group(parts) for parts in said["groups"])
    if len(groups) > _MAX_GROUPS or len(said["lengths"]) > _MAX_GROUPS or len(said["findings"]) > _MAX_FINDINGS:
        raise ValueError("too many groups or findings")
    if len(strokes.group) and not (strokes.group.min() >= 0 and strokes.group.max() < len(groups)):
        raise ValueError("strokes of no group")
    scale = None if said["mm_per_unit"] is None else _size(said["mm_per_unit"])
    if scale == 0:
        raise ValueError("a unit of no length")
    return Drawing(
        strokes,
        groups,
        None if said["unit"] is None else _text(said["unit"]),
        scale,
        _text(said["unit_source"]),
        {_group(parts): _size(length) for *parts, length in said["lengths"]},
        {_text(word): _whole(count) for word, count in said["left_out"].items()},
        tuple(_finding(*parts) for parts in said["findings"]),
    )


def _strokes(said: dict[str, Any], arrays: Path) -> Strokes:
    pieces, places = _whole(said["pieces"]), said["places"]
    if not 0 <= pieces <= _MAX_PIECES or not isinstance(places, list) or len(places) > pieces:
        raise ValueError("too many pieces")
    if arrays.stat().st_size != _PIECE_BYTES * pieces + _STROKE_BYTES * len(places):
        raise ValueError("arrays of another size")
    with arrays.open("rb") as file:
        kind = np.fromfile(file, np.int8, pieces)
        data = np.fromfile(file, np.float64, 8 * pieces).reshape(-1, 8)
        stroke = np.fromfile(file, np.int64, pieces)
        group = np.fromfile(file, np.int64, len(places))
    steps = np.diff(stroke, prepend=-1)
    numbered = not pieces or (stroke[-1] == len(places) - 1 and bool(((steps == 0) | (steps == 1)).all()))
    if not (numbered and np.isin(kind, (LINE, ARC, CUBIC)).all() and np.isfinite(data).all()):
        raise ValueError("pieces that are none")
    if not pieces and places:
        raise ValueError("strokes without pieces")
    return Strokes(kind, data, stroke, group, tuple(_text(place) for place in places))


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("no text")
    return value


def _whole(value: Any) -> int:
    if type(value) is not int:
        raise TypeError("no whole number")
    return value


def _size(value: Any) -> float:
    number = float(value)
    if not 0 <= number < math.inf:
        raise ValueError("no length")
    return number


def _group(parts: list[Any]) -> Group:
    layer, colour, linetype, step_group, step_type, code = (_text(part) for part in parts)
    return Group(layer, colour, linetype, step_group, step_type, code)


def _finding(code: Any, message: Any, where: Any, kind: Any, at: Any) -> Finding:
    if kind not in ("note", "caution", "not possible"):
        raise ValueError("no kind of finding")
    return Finding(_text(code), _text(message), _text(where), kind, tuple((float(x), float(y)) for x, y in at))


# -- the side that reads ----------------------------------------------------------------------------------------------


def serve(job: dict[str, Any]) -> None:
    """Read one drawing and leave the answer in the folder that was named; ends the process."""
    serve_limited(job, lambda job: _leave(_read(job), Path(job["folder"])))


def _read(job: dict[str, Any]) -> Drawing | dict[str, Any]:
    """Run the reader; a refusal, or a bug of a library, becomes an answer as well."""
    path = Path(job["path"])
    try:
        module, _, name = job["reader"].partition(":")
        drawing = getattr(importlib.import_module(module), name)(path, unit=job["unit"])
        if not isinstance(drawing, Drawing):
            raise TypeError("no drawing")
        if len(drawing.groups) > _MAX_GROUPS:
            raise InputError(
                f"its lines are of more than {_MAX_GROUPS:,} layers and colours",
                where=path.name,
                remedy="save it with less in it",
            )
    except MemoryError:
        raise
    except EvenrunError as error:
        return {"error": [type(error).__name__, error.what, error.where, error.remedy]}
    except ImportError as error:  # a fault of the installation, not of the file
        what = f"the reader's library {error.name or ''} can't be loaded"
        return {"error": ["FileError", what, path.name, "install evenrun again"]}
    except Exception as error:  # whatever a library makes of a hostile file
        what = f"the reader can't make sense of it ({type(error).__name__})"
        return {"error": ["FileError", what, path.name, "export the drawing anew"]}
    return drawing


def _leave(answer: Drawing | dict[str, Any], folder: Path) -> None:
    """Write the answer, its text last."""
    if isinstance(answer, Drawing):
        strokes = answer.strokes
        with (folder / "arrays.bin").open("wb") as file:
            np.ascontiguousarray(strokes.kind, np.int8).tofile(file)
            np.ascontiguousarray(strokes.data, np.float64).tofile(file)
            np.ascontiguousarray(strokes.stroke, np.int64).tofile(file)
            np.ascontiguousarray(strokes.group, np.int64).tofile(file)
        answer = {
            "pieces": len(strokes),
            "places": [place[:_PLACE_LENGTH] for place in strokes.place],
            "groups": answer.groups,
            "unit": answer.unit,
            "mm_per_unit": answer.mm_per_unit,
            "unit_source": answer.unit_source,
            "lengths": [[*group, length] for group, length in answer.lengths_by_code.items()],
            "left_out": answer.left_out,
            "findings": [[f.code, f.message, f.where, f.kind, f.at] for f in answer.findings[:_MAX_FINDINGS]],
        }
    with (folder / "answer.json").open("w", encoding="ascii") as text:
        json.dump(answer, text)
