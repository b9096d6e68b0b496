"""What SQLite says went wrong, as one line for the user: what, where, and what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from compare.errors import FileError

_KEPT = "what was saved before is kept"
_DAMAGED = ("the store is damaged", "keep the file, put the last copy in its place, and save anew what came after")
_TOLD: dict[str, tuple[str, str]] = {
    "SQLITE_FULL": ("the disk is full, and nothing more was saved", f"make room and save again; {_KEPT}"),
    "SQLITE_READONLY": ("the store can be read only", f"check the rights of file and folder; {_KEPT}"),
    "SQLITE_CANTOPEN": (
        "the store can't be opened",
        "check that the folder is there, and the rights of file and folder",
    ),
    "SQLITE_PERM": ("the store can't be opened", "check the rights of file and folder"),
    "SQLITE_AUTH": ("the store can't be opened", "check the rights of file and folder"),
    "SQLITE_BUSY": ("another program has held the store for too long", f"try again in a moment; {_KEPT}"),
    "SQLITE_LOCKED": ("another program has held the store for too long", f"try again in a moment; {_KEPT}"),
    "SQLITE_PROTOCOL": ("another program has held the store for too long", f"try again in a moment; {_KEPT}"),
    "SQLITE_CORRUPT": _DAMAGED,
    "SQLITE_NOTADB": _DAMAGED,
    "SQLITE_FORMAT": _DAMAGED,
    "SQLITE_SCHEMA": _DAMAGED,
    "SQLITE_ERROR": _DAMAGED,
    "SQLITE_MISMATCH": _DAMAGED,
    "SQLITE_IOERR": ("the store can't be read or written", f"check the disk and the room on it; {_KEPT}"),
    "SQLITE_TOOBIG": ("the quote is too large to be saved", _KEPT),
    "SQLITE_NOMEM": ("there is too little memory", f"close other programs and try again; {_KEPT}"),
}
"""By SQLite's primary code. A statement that SQLite refuses is our own, so that the file must have changed under it."""


class StoreError(FileError):
    """A store of quotes that can't be read or written."""


class DamagedError(StoreError):
    """A store, or a quote in it, whose bytes have changed since they were saved."""


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn an error of SQLite into one of our own.

    Parameters
    ----------
    path : Path
        The store.

    Raises
    ------
    StoreError
        In place of ``sqlite3.Error``; DamagedError where the file is not as it was saved.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise _translated(error, path) from None


def _translated(error: sqlite3.Error, path: Path) -> StoreError:
    extended: str = getattr(error, "sqlite_errorname", None) or "SQLITE_ERROR"
    primary = "_".join(extended.split("_")[:2])
    what, remedy = _TOLD.get(primary, (f"the store can't be used ({extended})", _KEPT))
    if primary == "SQLITE_CANTOPEN" and not path.parent.is_dir():
        what, remedy = "there is no folder for the store", "make the folder, or name another file"
    kind = DamagedError if (what, remedy) == _DAMAGED else StoreError
    return kind(what, where=str(path), remedy=remedy)
