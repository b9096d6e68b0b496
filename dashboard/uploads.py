"""Drawings that were uploaded: kept for a day in a folder of their own, found again by a secret name.

Nothing of a drawing goes into a link. Workers of one machine share the folder.
"""

from __future__ import annotations

import base64
import binascii
import os
import re
import secrets
import shutil
import tempfile
import time
from functools import lru_cache
from pathlib import Path

from compare.errors import InputError
from compare.geometry.strokes import Drawing
from compare.readers.drawing import read_drawing

UPLOAD_BYTES = 5_000_000
"""Largest drawing that is taken [bytes]."""

_KEPT, _KEPT_S = 200, 86_400
"""So many drawings are kept at most, and so long [s]."""

_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")
_READ_S = 10.0


def keep(contents: object, filename: object) -> str:
    """Keep an uploaded file and return the secret name it is found by.

    Parameters
    ----------
    contents : object
        ``data:...;base64,...`` as a browser sends it.
    filename : object
        The file's name, as the browser says.

    Raises
    ------
    InputError
        If it is not what a browser sends, or too large.
    """
    if not isinstance(contents, str) or not isinstance(filename, str):
        raise InputError("nothing was uploaded", where="drawing", remedy="choose a file")
    name = _plain(filename)
    if len(contents) > UPLOAD_BYTES * 4 // 3 + 200:
        raise InputError(
            f"the file is over {UPLOAD_BYTES / 1e6:g} MB",
            where=name,
            remedy="save it without pictures and hatches, or measure it with 'evenrun measure'",
        )
    try:
        raw = base64.b64decode(contents.partition(",")[2], validate=True)
    except (binascii.Error, ValueError):
        raise InputError("the upload can't be read", where=name, remedy="choose the file again") from None
    folder = _folder()
    _clear(folder)
    token = secrets.token_urlsafe(16)
    own = folder / token
    own.mkdir(mode=0o700)
    (own / name).write_bytes(raw)
    return token


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
    files = list((_folder() / token).iterdir()) if _TOKEN.fullmatch(token) and (_folder() / token).is_dir() else []
    if not files:
        raise InputError("the drawing is no longer kept", where="drawing", remedy="upload it again")
    return files[0].name, read_drawing(files[0], unit=unit, seconds=_READ_S)


def _plain(filename: str) -> str:
    """Return a file name that is one on any system; what it was called stays to be recognised."""
    name = re.sub(r"[^\w.() -]", "_", filename.replace("\\", "/").rpartition("/")[2]).lstrip(". ")
    stem, _, suffix = name.rpartition(".") if "." in name else (name, "", "")
    return f"{stem[:80] or 'drawing'}.{suffix[:10] or 'drawing'}"


def _folder() -> Path:
    who = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "me")
    folder = Path(tempfile.gettempdir()) / f"evenrun-drawings-{who}"
    folder.mkdir(mode=0o700, exist_ok=True)
    if folder.is_symlink() or (hasattr(os, "getuid") and folder.stat().st_uid != os.getuid()):
        raise InputError("the folder for drawings is somebody else's", where=str(folder), remedy="remove it")
    return folder


def _clear(folder: Path) -> None:
    """Let go of drawings that are old, or too many."""
    kept = sorted(folder.iterdir(), key=lambda one: one.stat().st_mtime, reverse=True)
    oldest = time.time() - _KEPT_S
    for place, one in enumerate(kept):
        if place >= _KEPT - 1 or one.stat().st_mtime < oldest:
            shutil.rmtree(one, ignore_errors=True)
