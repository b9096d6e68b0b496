"""Any drawing in: which format a file is, and the reader for it, run apart with limits."""

from __future__ import annotations

import importlib
import math
import re
import stat
from pathlib import Path

from compare.errors import FileError, InputError
from compare.geometry.strokes import Drawing
from compare.readers.reader_process import run_reader

MAX_MEGABYTES = 50
"""Size of the largest file that is read [MB]."""

FORMATS = "DXF, SVG, PDF, XJDF or JDF"

_READERS = {
    "dxf": "compare.readers.dxf:read_dxf",
    "svg": "compare.readers.svg:read_svg",
    "pdf": "compare.readers.pdf:read_pdf",
    "tool data": "compare.readers.tool_data:read_tool_data",
}
_SUFFIXES = {
    ".dxf": "dxf", ".svg": "svg", ".pdf": "pdf", ".xjdf": "tool data", ".jdf": "tool data", ".xml": "tool data",
}  # fmt: skip
_ROOTS = {"svg": "svg", "XJDF": "tool data", "JDF": "tool data", "XJMF": "tool data", "JMF": "tool data"}
_HEAD = 65_536
"""Bytes at the start of a file that are looked at to tell its format."""

_STRANGERS = (
    (b"\x1f\x8b", "a compressed file", "unpack it first"),
    (b"PK\x03\x04", "an archive", "unpack it first"),
    (b"AC10", "a DWG", "save it as DXF"),
    (b"%!PS", "a PostScript file", "save it as PDF"),
    (b"\x89PNG", "a picture of pixels", "it holds no lines: ask for the drawing itself"),
    (b"\xff\xd8\xff", "a picture of pixels", "it holds no lines: ask for the drawing itself"),
)


def read_drawing(
    path: Path | str, *, unit: str | None = None, seconds: float = 10.0, megabytes: float = 500
) -> Drawing:
    """Read a drawing from anybody: in a process of its own, with limits of time and memory.

    Parameters
    ----------
    path : Path or str
        The file; its content tells the format, and its suffix where the content does not.
    unit : str, optional
        Unit of the drawing, where the file does not say or is wrong.
    seconds : float
        Reading is stopped after so long.
    megabytes : float
        Limit of memory for reading; not there on Windows.

    Returns
    -------
    Drawing

    Raises
    ------
    FileError
        If the file is missing, empty, over 50 MB or damaged, or if reading it takes too much.
    InputError
        If it is of no known format, or holds nothing that can be used.

    Notes
    -----
    Starting the process takes a fifth of a second, loading the library of a format up to half a
    second more. At most two drawings are read at a time by one server process; a third waits for up
    to ``seconds``. The clock counts, not the work: a DXF of 10 MB takes five seconds on an idle
    machine and may take more than ten on a busy one.
    """
    path = Path(path)
    for name, value in (("seconds", seconds), ("megabytes", megabytes)):
        if not 0 < value < math.inf:
            raise InputError(f"the limit of {name} is {value:g}", where=path.name, remedy="give a number above 0")
    return run_reader(_reader(path), path, unit=unit, seconds=seconds, megabytes=megabytes)


def read_drawing_here(path: Path | str, *, unit: str | None = None) -> Drawing:
    """Read a drawing in this process, without limits: for files that one made oneself.

    Parameters and errors are those of :func:`read_drawing`.
    """
    path = Path(path)
    module, _, name = _reader(path).partition(":")
    drawing: Drawing = getattr(importlib.import_module(module), name)(path, unit=unit)
    return drawing


def _reader(path: Path) -> str:
    """Return ``module:function`` of the reader for a file."""
    head = _head(path)
    found = _format(head) or _SUFFIXES.get(path.suffix.lower())
    for start, what, remedy in _STRANGERS:
        if head.startswith(start):
            raise InputError(f"this is {what}, not {FORMATS}", where=path.name, remedy=remedy)
    if found is None:
        raise InputError(f"this is not {FORMATS}", where=path.name, remedy="export the drawing as one of them")
    return _READERS[found]


def _head(path: Path) -> bytes:
    """Return the start of a file, after looking at its size."""
    where = path.name
    try:
        about = path.stat()
        if stat.S_ISDIR(about.st_mode):
            raise FileError("this is a folder, not a drawing", where=where, remedy="name the drawing in it")
        if not stat.S_ISREG(about.st_mode):  # reading from a pipe might wait for ever
            raise FileError("this is no ordinary file", where=where, remedy="save the drawing in a file")
        if about.st_size == 0:
            raise FileError("the file is empty", where=where, remedy="export the drawing anew")
        if about.st_size > MAX_MEGABYTES * 1_000_000:
            what = f"the file has {about.st_size / 1e6:,.0f} MB, and at most {MAX_MEGABYTES} MB are read"
            raise FileError(what, where=where, remedy="save the drawing without pictures and hatches")
        with path.open("rb") as file:
            return file.read(_HEAD)
    except FileNotFoundError:
        raise FileError("there is no such drawing", where=where, remedy="check the path") from None
    except FileError:
        raise
    except (OSError, ValueError) as error:  # a path with a zero byte is a ValueError
        said = getattr(error, "strerror", None) or str(error)
        raise FileError(f"the drawing can't be read ({said})", where=where, remedy="check its rights") from None


def _format(head: bytes) -> str | None:
    """Tell a format by the start of a file."""
    if b"%PDF-" in head[:1024]:
        return "pdf"
    if head[:22].endswith(b" Binary DXF\r\n\x1a\x00"):
        return "dxf"
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = head.decode("utf-16", "replace")
    else:
        text = head.removeprefix(b"\xef\xbb\xbf").decode("latin-1")
    if _is_dxf(text):
        return "dxf"
    return _ROOTS.get(_root(text))


def _is_dxf(text: str) -> bool:
    """Tell whether a text begins with a section of a DXF; comments (code 999) may stand before it."""
    lines = [line.strip() for line in text.splitlines()]
    for code, value in zip(lines[::2], lines[1::2], strict=False):
        if code != "999":
            return code == "0" and value == "SECTION"
    return False


def _root(text: str) -> str:
    """Return the name of the first element of an XML text without its prefix, empty if there is none."""
    place = 0
    ends = {"<?": "?>", "<!--": "-->", "<!": ">"}
    while found := re.compile(r"\s*(<\?|<!--|<!|<)").match(text, place):
        if found[1] == "<":
            name = re.compile(r"[\w.:-]+").match(text, found.end())
            return name[0].rpartition(":")[2] if name else ""
        # the declarations inside a DOCTYPE have a > of their own
        within = text.find("[", found.end()) if found[1] == "<!" else -1
        end = text.find(ends[found[1]], found.end())
        if -1 < within < end:
            end = text.find("]", within)
            end = text.find(">", end) if end >= 0 else -1
        if end < 0:
            return ""
        place = end + len(ends[found[1]])
    return ""
