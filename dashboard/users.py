"""Who may log in: a file of names and password hashes."""

from __future__ import annotations

import json
import logging
import re
import secrets
import threading
import unicodedata
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from argon2 import PasswordHasher, extract_parameters
from argon2.exceptions import InvalidHashError, VerificationError

from compare.errors import FileError, InputError
from dashboard.secret import kept_private, write_private

if TYPE_CHECKING:
    from os import stat_result

LEAST_PASSWORD = 12
"""Fewest characters of a password."""

MOST_PASSWORD = 1000
"""Most characters of a password."""

_FORM = "evenrun users 1"
_NAME = re.compile(r"\w[\w.@+-]{0,63}")
_log = logging.getLogger("evenrun.users")

_at_once = threading.BoundedSemaphore(2)  # one check takes 64 MiB: many at once must not exhaust the machine


def plain_name(text: str) -> str:
    """Return a name as it is filed: one spelling for all ways to type it; empty if it can't be one."""
    name = unicodedata.normalize("NFKC", text[:200].strip()).casefold()
    return name if _NAME.fullmatch(name) else ""


class Users:
    """The users of a file.

    The file is read again whenever it has changed, so that a user added or taken out counts
    from the next request on. If it can't be read any more, nobody gets in.

    Parameters
    ----------
    path : Path
        The file; it need not be there yet.
    hasher : PasswordHasher, optional
        How new passwords are hashed: argon2id with the library's parameters by default.
    """

    def __init__(self, path: Path, *, hasher: PasswordHasher | None = None) -> None:
        self.path = path
        self._hasher = hasher or PasswordHasher()
        self._stamp: tuple[int, ...] = ()
        self._hashes: dict[str, str] = {}
        self._decoy = ""

    @classmethod
    def load(cls, path: Path, *, hasher: PasswordHasher | None = None) -> Users:
        """Read a users file that must be there and hold a user.

        Raises
        ------
        FileError
            If it is missing or can't be read, or other accounts of the machine can reach it.
        InputError
            If it is no users file, or nobody is in it.
        """
        users = cls(path, hasher=hasher)
        if not path.exists():
            raise FileError(
                "there is no such users file", where=str(path), remedy=f"make it: evenrun users add NAME --file {path}"
            )
        if not users._read():
            raise InputError("the file has no user", where=str(path), remedy="add one: evenrun users add NAME")
        return users

    def names(self) -> list[str]:
        """Return the names in the file, sorted."""
        return sorted(self._current())

    def add(self, name: str, password: str, *, replace: bool = False) -> None:
        """Add a user, or give one a new password.

        Raises
        ------
        InputError
            If name or password can't be used, or the name is taken and ``replace`` is not set.
        FileError
            If the file can't be read or written.
        """
        filed = plain_name(name)
        if not filed:
            raise InputError(
                f"{name!r} can't be a name",
                remedy="use up to 64 letters, digits and . @ + - _, a letter or digit first",
            )
        if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
            raise InputError(
                f"the password has {len(password)} characters",
                remedy=f"give {LEAST_PASSWORD} to {MOST_PASSWORD}; several words make a good one",
            )
        if len(set(password)) < 5 or _typed(password).casefold() == filed:
            raise InputError("the password is too easy to guess", remedy="several words make a good one")
        hashed = self._hasher.hash(_typed(password))
        users = self._read() if self.path.exists() else {}
        if filed in users and not replace:
            raise InputError(
                f"there is a user '{filed}' already", where=str(self.path), remedy="--replace changes the password"
            )
        self._write(users | {filed: hashed})

    def remove(self, name: str) -> None:
        """Take a user out; the sessions of that user end.

        Raises
        ------
        InputError
            If there is no such user.
        """
        users = self._read() if self.path.exists() else {}
        filed = plain_name(name)
        if filed not in users:
            raise InputError(
                f"there is no user '{name}'",
                where=str(self.path),
                remedy="there is: " + (", ".join(sorted(users)) or "nobody"),
            )
        self._write({known: hashed for known, hashed in users.items() if known != filed})

    def verify(self, name: str, password: str) -> str | None:
        """Return the filed name if the password is that user's, else None.

        An unknown name costs the same work as a known one, so that the time taken does not
        tell which names exist.
        """
        users = self._current()
        filed = plain_name(name)
        known = filed in users
        with _at_once:
            fits = False
            with suppress(VerificationError, InvalidHashError):
                fits = self._hasher.verify(users[filed] if known else self._decoy, _typed(password[:MOST_PASSWORD]))
        return filed if fits and known and len(password) <= MOST_PASSWORD else None

    def mark(self, name: str) -> str | None:
        """Return a short mark of a user's present password, or None if there is no such user.

        A session carries it, and ends when the password changes.
        """
        hashed = self._current().get(name)
        return None if hashed is None else sha256(hashed.encode()).hexdigest()[:16]

    def _current(self) -> dict[str, str]:
        try:
            if _stamp(self.path.stat()) != self._stamp:
                self._read()
        except (OSError, InputError) as error:
            if self._hashes:
                _log.error("nobody can log in: %s", error)
            self._stamp, self._hashes = (), {}
        return self._hashes

    def _read(self) -> dict[str, str]:
        where = str(self.path)
        try:
            kept_private(self.path, "users")
            stamp = _stamp(self.path.stat())
            raw = self.path.read_bytes()
        except FileError:
            raise
        except OSError as error:
            raise FileError(
                f"the users file can't be read ({error.strerror})", where=where, remedy="check its rights"
            ) from None
        broken = InputError("this is no users file", where=where, remedy="make one with 'evenrun users add'")
        try:
            content = json.loads(raw)
        except (ValueError, RecursionError):
            raise broken from None
        if not isinstance(content, dict) or content.get("form") != _FORM or not isinstance(content.get("users"), dict):
            raise broken
        hashes: dict[str, str] = content["users"]
        for name, hashed in hashes.items():
            if plain_name(name) != name:
                raise InputError(f"{name!r} can't be a name", where=where, remedy="take it out")
            if not isinstance(hashed, str) or not hashed.startswith("$argon2id$"):
                raise InputError(
                    f"user '{name}' has no argon2id hash", where=where, remedy=f"evenrun users add {name} --replace"
                )
        try:
            decoy = _decoy(hashes, self._hasher)
        except InvalidHashError:
            raise InputError(
                "a password hash is damaged", where=where, remedy="restore the file or add the user again"
            ) from None
        self._decoy, self._hashes, self._stamp = decoy, hashes, stamp
        return hashes

    def _write(self, users: dict[str, str]) -> None:
        text = json.dumps({"form": _FORM, "users": dict(sorted(users.items()))}, indent=2, ensure_ascii=False) + "\n"
        try:
            write_private(self.path, text, replace=True)
        except OSError as error:
            raise FileError(
                f"the users file can't be written ({error.strerror})",
                where=str(self.path),
                remedy="check folder and rights",
            ) from None
        self._read()


def _typed(password: str) -> str:
    return unicodedata.normalize("NFKC", password)  # keyboards differ in how they compose an accent


def _stamp(found: stat_result) -> tuple[int, ...]:
    return found.st_ino, found.st_mtime_ns, found.st_size


def _decoy(hashes: dict[str, str], hasher: PasswordHasher) -> str:
    """Return the hash of a password that nobody has, as costly to check as those of the file."""
    if hashes:
        hasher = PasswordHasher.from_parameters(extract_parameters(next(iter(hashes.values()))))
    return hasher.hash(secrets.token_hex(16))
