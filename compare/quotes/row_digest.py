"""Digest of a row of the store, by which a changed byte is found."""

from __future__ import annotations

import hashlib
import struct


def row_digest(*cells: object) -> bytes:
    """Return the SHA-256 of cells, each with its kind and its length, so that none can pass for another.

    Parameters
    ----------
    *cells : bytes, str, int, float or None
        As they are stored; a text counts as its UTF-8 bytes.
    """
    digest = hashlib.sha256()
    for cell in cells:
        match cell:
            case None:
                kind, raw = b"n", b""
            case str():
                kind, raw = b"b", cell.encode("utf-8")
            case bytes():
                kind, raw = b"b", cell
            case float():
                kind, raw = b"f", struct.pack("<d", cell)
            case _:
                kind, raw = b"o", repr(cell).encode("utf-8")
        digest.update(kind + struct.pack("<q", len(raw)) + raw)
    return digest.digest()
