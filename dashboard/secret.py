"""The server's secret, and the seal of client links made with it."""

from __future__ import annotations

import base64
import json
import os
import re
import secrets
import stat
import tempfile
import zlib
from contextlib import suppress
from pathlib import Path
from typing import Any

from compare.errors import FileError, InputError

ENVIRONMENT = "EVENRUN_SECRET_KEY"
"""Variable that holds the secret where no file shall be kept."""

SEALED_BYTES = 4096
"""Largest content of a sealed link, as JSON [bytes]."""

_TOKEN_LENGTH = 8192
_KEY_BYTES = 32


def server_secret(path: Path | None = None) -> bytes:
    """Return the secret of this server, making it at the first start.

    Parameters
    ----------
    path : Path, optional
        File to keep it in; by default ``secret.key`` in the user's state folder. Not used
        if the environment holds a secret.

    Returns
    -------
    bytes
        The same for all processes that share the file or the variable.

    Raises
    ------
    InputError
        If the variable is too short for a secret.
    FileError
        If the file can't be made or read, or others could read it.
    """
    given = os.environ.get(ENVIRONMENT)
    if given is not None:
        if len(given) < _KEY_BYTES:
            raise InputError(
                f"the secret has fewer than {_KEY_BYTES} characters",
                where=ENVIRONMENT,
                remedy="give a long random text",
            )
        return given.encode()
    if path is None:
        import platformdirs  # noqa: PLC0415 - only needed here

        path = platformdirs.user_state_path("evenrun") / "secret.key"
    try:
        if not path.exists():
            _make(path)
        kept_private(path, "secret")
        key = bytes.fromhex(path.read_text(encoding="ascii"))
    except ValueError:
        key = b""
    except OSError as error:
        if isinstance(error, FileError):
            raise
        raise FileError(
            f"the secret can't be kept ({error.strerror})",
            where=str(path),
            remedy=f"check folder and rights, or set {ENVIRONMENT}",
        ) from None
    if len(key) != _KEY_BYTES:
        raise FileError(
            "this is no secret of a server", where=str(path), remedy="delete the file; all links and sessions end"
        )
    return key


def kept_private(path: Path, what: str) -> None:
    """Refuse a file that other accounts of the machine can read or change.

    Raises
    ------
    FileError
        If they can. Not checked on Windows, which has no such mode.
    """
    if os.name == "posix" and stat.S_IMODE(path.stat().st_mode) & 0o077:
        raise FileError(f"other accounts can reach the {what} file", where=str(path), remedy=f"run: chmod 600 {path}")


def write_private(path: Path, text: str, *, replace: bool) -> None:
    """Write a whole file at once, readable by its owner alone.

    Parameters
    ----------
    path : Path
        The file; its folder is made if missing.
    text : str
        Its content.
    replace : bool
        Whether a file that is there gives way. If not, it stays and nothing happens, also
        when two processes write at once: the first one wins.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")  # made with mode 0600
    draft = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if replace:
            draft.replace(path)
        else:
            with suppress(FileExistsError):
                path.hardlink_to(draft)  # unlike a rename, this never replaces a file that is there
    finally:
        draft.unlink(missing_ok=True)


def _make(path: Path) -> None:
    write_private(path, secrets.token_bytes(_KEY_BYTES).hex(), replace=False)


def derived_key(secret: bytes, purpose: str) -> bytes:
    """Return a key of 32 bytes for one purpose, from which no other can be worked out."""
    from cryptography.hazmat.primitives.hashes import SHA256  # noqa: PLC0415 - slow to load
    from cryptography.hazmat.primitives.kdf.hkdf import HKDF  # noqa: PLC0415

    if len(secret) < _KEY_BYTES:
        raise InputError("the server's secret is too short", remedy=f"give at least {_KEY_BYTES} bytes")
    return HKDF(algorithm=SHA256(), length=32, salt=None, info=f"evenrun {purpose}".encode()).derive(secret)


def seal(data: dict[str, Any], secret: bytes) -> str:
    """Return ``data`` as a token for an address, which only this server can read or make.

    Parameters
    ----------
    data : dict
        What JSON can hold.
    secret : bytes
        The server's secret.

    Raises
    ------
    InputError
        If the data can't be written as JSON or is larger than ``SEALED_BYTES``.
    """
    from cryptography.fernet import Fernet  # noqa: PLC0415 - slow to load

    try:
        plain = json.dumps(data, separators=(",", ":"), allow_nan=False).encode()
    except (TypeError, ValueError, RecursionError):
        raise InputError("this can't be put into a link", remedy="use numbers and texts only") from None
    if len(plain) > SEALED_BYTES:
        raise InputError(
            f"the link would hold {len(plain)} bytes, {SEALED_BYTES} are the limit", remedy="change fewer assumptions"
        )
    key = base64.urlsafe_b64encode(derived_key(secret, "client link"))
    return Fernet(key).encrypt(zlib.compress(plain, 9)).decode().rstrip("=")


def unseal(token: str, secret: bytes) -> dict[str, Any]:
    """Return what was sealed into a token.

    Raises
    ------
    InputError
        If the token is damaged, too long, or was not made with this secret. Which of them is
        not said.
    """
    from cryptography.fernet import Fernet, InvalidToken  # noqa: PLC0415 - slow to load

    broken = InputError("this link is damaged or from another server", remedy="ask for a new link")
    if len(token) > _TOKEN_LENGTH or not re.fullmatch(r"[\w-]+", token, re.ASCII):
        raise broken
    key = base64.urlsafe_b64encode(derived_key(secret, "client link"))
    try:
        packed = Fernet(key).decrypt(token + "=" * (-len(token) % 4))
        plain = zlib.decompressobj().decompress(packed, SEALED_BYTES)
        data = json.loads(plain)
    except (InvalidToken, zlib.error, ValueError, RecursionError):
        raise broken from None
    if not isinstance(data, dict):
        raise broken
    return data
