"""Opening DXF files: strictly where they keep the rules, with repairs and a finding where they do not."""

from __future__ import annotations

import contextlib
import gc
import io
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from ezdxf import recover
from ezdxf.filemanagement import dxf_file_info, read, readfile

from compare.errors import FileError, Finding

_HEAD = 65_536
"""Bytes at the start of a file that must name a section, and at its end that must hold the end mark."""

_VARIABLES = ("$INSUNITS", "$MEASUREMENT")


def check_head(path: Path) -> None:
    """Turn away what is no DXF before the library spends time on it.

    Raises
    ------
    FileError
        If the file can't be read, or no section begins near its start.
    """
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except FileNotFoundError:
        raise FileError("there is no such drawing", where=path.name, remedy="check the path") from None
    except OSError as error:
        what = f"the drawing can't be read ({error.strerror})"
        raise FileError(what, where=path.name, remedy="check its rights") from None
    if b"SECTION" not in head:
        raise FileError("this is no DXF file", where=path.name, remedy="export the drawing as DXF")


@contextlib.contextmanager
def at_ease() -> Iterator[None]:
    """Let the library build its many objects without searching them for garbage, and without log lines.

    The search takes a good part of the time of loading, and a document is no garbage before it is read.
    """
    log = logging.getLogger("ezdxf")
    level, collecting = log.level, gc.isenabled()
    log.setLevel(logging.CRITICAL + 1)
    gc.disable()
    try:
        with np.errstate(all="ignore"):
            yield
    finally:
        log.setLevel(level)
        if collecting:
            gc.enable()


def opened(path: Path) -> tuple[Any, list[Finding], frozenset[str]]:
    """Open a file strictly, else with all repairs the library knows.

    Parameters
    ----------
    path : Path

    Returns
    -------
    document
        As the library has it.
    remarks : list of Finding
        What was wrong with the file.
    said : frozenset of str
        Which of the header variables ``$INSUNITS`` and ``$MEASUREMENT`` the file itself holds; the
        library makes up a header where there is none.

    Raises
    ------
    FileError
        If no repair helps.
    """
    remarks: list[Finding] = []
    raw = path.read_bytes()
    said = frozenset(word for word in _VARIABLES if word.encode() in raw)
    whole = b"EOF" in raw[-_HEAD:]
    if not whole:
        message = "the file has no end mark, so it is cut off and lines may be missing; get it anew"
        remarks.append(Finding("drawing.truncated", message, path.name, "caution"))
    try:
        document = readfile(path) if whole or b"\x00" in raw else _cut_off(path, raw)
    except MemoryError:  # a second try would need more
        raise
    except Exception as error:  # a broken file breaks the library anywhere
        first = str(error) or type(error).__name__
    else:
        return document, remarks, said
    del raw
    try:
        document, auditor = recover.readfile(path)
    except MemoryError:
        raise
    except Exception as error:
        what = f"the DXF is too broken to read ({_short(str(error) or first)})"
        raise FileError(what, where=path.name, remedy="export the drawing anew") from None
    count = len(auditor.errors) + len(auditor.fixes)
    mended = f" ({count:,} repairs)" if count else ""
    message = (
        f"the file breaks the rules of DXF ({_short(first)}) and was read with tolerance{mended}; check the lengths"
    )
    remarks.append(Finding("drawing.tolerant", message, path.name, "caution"))
    return document, remarks, said


def _cut_off(path: Path, raw: bytes) -> Any:
    """Open a text that is cut off: its last thing is dropped, for half a number looks like one, and an end is put on."""
    lines = raw.decode(dxf_file_info(str(path)).encoding, "surrogateescape").splitlines()
    starts = [i for i in range(0, len(lines) - 1, 2) if lines[i].strip() == "0"]
    last = starts[-1] if starts else 0
    text = "\n".join([*lines[:last], "0", "ENDSEC", "0", "EOF", ""])
    return read(io.StringIO(text))


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 120 else text[:117] + "..."
