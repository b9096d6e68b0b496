"""Drawings that were uploaded, found again by their secret names; and how large an upload of either kind may be."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from compare.geometry.strokes import Drawing
from compare.readers.drawing import read_drawing
from dashboard.shelf import Shelf

UPLOAD_BYTES = 5_000_000
"""Largest drawing that is taken [bytes]."""

BOOK_BYTES = 10_000_000
"""Largest order book that is taken [bytes]."""

_KEPT = 200
"""So many drawings are kept at most."""

_READ_S = 10.0

_SHELF = Shelf(
    "drawings",
    "drawing",
    "drawing",
    UPLOAD_BYTES,
    "save it without pictures and hatches, or measure it with 'evenrun measure'",
)


def keep(contents: object, filename: object) -> str:
    """Keep an uploaded drawing and return its secret name; see :meth:`dashboard.shelf.Shelf.keep`."""
    return _SHELF.keep(contents, filename, most=_KEPT)


@lru_cache(maxsize=16)
def drawing_of(token: str, unit: str | None) -> tuple[str, Drawing]:
    """Return the name and the lines of an uploaded drawing.

    Raises
    ------
    InputError
        If it is no longer there or can't be used.
    FileError
        If reading it takes too much.
    """
    file = _SHELF.file(token)
    return file.name, read_drawing(file, unit=unit, seconds=_READ_S)


def _folder() -> Path:
    return _SHELF.folder()
