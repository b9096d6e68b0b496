"""Uploaded files: kept for a day in a folder of their own, found again by a secret name, within limits.

Nothing of a file goes into a link. Workers of one machine share the folder.
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
from dataclasses import dataclass
from pathlib import Path

from compare.errors import InputError

KEPT_S = 86_400
"""So long a file is kept [s]."""

_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")


@dataclass(frozen=True)
class Shelf:
    """A place for uploaded files of one kind.

    Attributes
    ----------
    name : str
        What the files are, in the plural: part of the folder's name and of messages.
    thing : str
        What one is called.
    stem : str
        Name of a file that comes without one, and its suffix.
    most_bytes : int
        Largest file that is taken [bytes].
    smaller : str
        What to do about a larger one.
    all_bytes : float
        What all files may take together [bytes].
    """

    name: str
    thing: str
    stem: str
    most_bytes: int
    smaller: str
    all_bytes: float = float("inf")

    def keep(self, contents: object, filename: object, *, most: int) -> str:
        """Keep an uploaded file and return the secret name it is found by.

        Parameters
        ----------
        contents : object
            ``data:...;base64,...`` as a browser sends it.
        filename : object
            The file's name, as the browser says.
        most : int
            So many files are kept at most; the oldest go.

        Raises
        ------
        InputError
            If it is not what a browser sends, or too large.
        """
        if not isinstance(contents, str) or not isinstance(filename, str):
            raise InputError("nothing was uploaded", where=self.thing, remedy="choose a file")
        name = self._plain(filename)
        if len(contents) > self.most_bytes * 4 // 3 + 200:
            raise InputError(f"the file is over {self.most_bytes / 1e6:g} MB", where=name, remedy=self.smaller)
        try:
            raw = base64.b64decode(contents.partition(",")[2], validate=True)
        except (binascii.Error, ValueError):
            raise InputError("the upload can't be read", where=name, remedy="choose the file again") from None
        self._clear(most)
        token = secrets.token_urlsafe(16)
        own = self.folder() / token
        own.mkdir(mode=0o700)
        (own / name).write_bytes(raw)
        return token

    def file(self, token: str) -> Path:
        """Return the file of a secret name.

        Raises
        ------
        InputError
            If it is no longer there.
        """
        own = self.folder() / token if _TOKEN.fullmatch(token) else None
        files = list(own.iterdir()) if own is not None and own.is_dir() else []
        if not files:
            raise InputError(f"the {self.thing} is no longer kept", where=self.thing, remedy="upload it again")
        return files[0]

    def folder(self) -> Path:
        """Return the folder, made for this user alone."""
        who = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "me")
        folder = Path(tempfile.gettempdir()) / f"evenrun-{self.name}-{who}"
        folder.mkdir(mode=0o700, exist_ok=True)
        if folder.is_symlink() or (hasattr(os, "getuid") and folder.stat().st_uid != os.getuid()):
            raise InputError(f"the folder for {self.name} is somebody else's", where=str(folder), remedy="remove it")
        return folder

    def _plain(self, filename: str) -> str:
        """Return a file name that is one on any system; what it was called stays to be recognised."""
        name = re.sub(r"[^\w.() -]", "_", filename.replace("\\", "/").rpartition("/")[2]).lstrip(". ")
        stem, _, suffix = name.rpartition(".") if "." in name else (name, "", "")
        return f"{stem[:80] or self.stem}.{suffix[:10] or self.stem}"

    def _clear(self, most: int) -> None:
        """Let go of files that are old, or too many, or too large together."""
        kept = [one for one in self.folder().iterdir() if _TOKEN.fullmatch(one.name)]
        oldest, room = time.time() - KEPT_S, self.all_bytes - self.most_bytes
        for place, one in enumerate(sorted(kept, key=lambda one: one.stat().st_mtime, reverse=True)):
            room -= sum(file.stat().st_size for file in one.iterdir())
            if place >= most - 1 or room < 0 or one.stat().st_mtime < oldest:
                shutil.rmtree(one, ignore_errors=True)
