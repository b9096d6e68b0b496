"""Number and seal of a quote, made with the secret of the store that keeps it.

A plain hash of the full record would be the same for everybody who has the same record. Nearly all of a record can be
known or guessed: the job is the client's own, many assumptions are the table's, and a margin is one of a few dozen
round numbers. So a client could try margins until the hash comes out. A keyed hash (HMAC-SHA256, RFC 2104) can't be
tried without the key. That holds for the number of a quote as for its seal: both are keyed, each with a key of its
own that is worked out of the secret, so that neither can stand in for the other.

The seal covers the client's part, every byte, and the full record. The plant finds its record by the number and
checks the seal; a changed price breaks it, and so does another record behind the same number. With another store's
secret nothing can be said.
"""

from __future__ import annotations

import hashlib
import hmac
from typing import Any

from compare.errors import InputError
from compare.quotes.client_quote import ClientQuote, SealedQuote, client_record
from compare.quotes.quote_record import QuoteRecord, plain

SECRET_BYTES = 32
"""Length of a store's secret."""

NUMBER_DIGITS = 12
"""Hexadecimal digits of a quote's number: among 100,000 quotes two meet with a chance of 1 in 50,000, and are told."""


def quote_number(record: QuoteRecord, secret: bytes) -> str:
    """Return the number of a quote: the same record has the same number, in one store.

    Parameters
    ----------
    record : QuoteRecord
        The full record.
    secret : bytes
        The store's secret.
    """
    return number_of(record.to_bytes(), secret)


def number_of(raw: bytes, secret: bytes) -> str:
    """Return the number of a quote from the bytes of its record."""
    return hmac.new(_key(secret, "number"), raw, hashlib.sha256).hexdigest()[:NUMBER_DIGITS]


def seal(record: QuoteRecord, client: ClientQuote, secret: bytes) -> str:
    """Return the seal over a client's part and the full record.

    Parameters
    ----------
    record : QuoteRecord
        The full record.
    client : ClientQuote
        What the client sees of it.
    secret : bytes
        The store's secret.
    """
    # the first part has a fixed length, so that no byte can wander from one part into the other
    sealed = hashlib.sha256(record.to_bytes()).digest() + client.to_bytes()
    return hmac.new(_key(secret, "seal"), sealed, hashlib.sha256).hexdigest()


def sealed_quote(record: QuoteRecord, secret: bytes, *, scope: str) -> SealedQuote:
    """Return what goes into the client's file.

    Parameters
    ----------
    record : QuoteRecord
        The full record.
    secret : bytes
        The store's secret.
    scope : str
        What the carbon figures hold, in words.
    """
    client = client_record(record, quote_number(record, secret), scope=scope)
    return SealedQuote(client, seal(record, client, secret))


def is_genuine(sealed: SealedQuote, record: QuoteRecord, secret: bytes) -> bool:
    """Return whether a client's file is what was made of a record, unaltered."""
    right = seal(record, sealed.client, secret)
    return hmac.compare_digest(right.encode(), sealed.seal.encode())


def alterations(sealed: SealedQuote, record: QuoteRecord, secret: bytes) -> tuple[str, ...]:
    """Name what differs in a client's file from what its record gives; for a file whose seal does not hold.

    Returns
    -------
    tuple of str
        Such as ``rows.0.prices.die``; empty if only the seal itself was changed.
    """
    number = quote_number(record, secret)
    right = leaves(plain(client_record(record, number, scope=sealed.client.scope)))
    found = leaves(plain(sealed.client))
    return tuple(name for name in sorted({*right, *found}) if right.get(name) != found.get(name))


def leaves(data: Any, path: str = "") -> dict[str, Any]:
    """Return nested plain data as paths joined by dots."""
    if isinstance(data, dict):
        steps = list(data.items())
    elif isinstance(data, list):
        steps = [(str(place), part) for place, part in enumerate(data)]
    else:
        return {path: data}
    below: dict[str, Any] = {}
    for step, part in steps:
        below.update(leaves(part, f"{path}.{step}" if path else str(step)))
    return below


def _key(secret: bytes, purpose: str) -> bytes:
    if len(secret) < SECRET_BYTES:
        raise InputError("the secret of the store is too short", where="store", remedy="restore a copy of the store")
    return hmac.new(secret, f"evenrun quote {purpose}".encode(), hashlib.sha256).digest()
