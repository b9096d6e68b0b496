"""Versions of the store's layout: one numbered step from each to the next, each in one transaction.

A step that has been released is never changed; what comes later is a step of its own. SQLite keeps the version in the
file's header (``PRAGMA user_version``), and it is part of the transaction: a step is done whole or not at all.
"""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Callable, Sequence

from compare.errors import FileError
from compare.quotes.row_digest import row_digest
from compare.quotes.sealing import SECRET_BYTES

APPLICATION = 0x45765171
"""Marks a file as a store of quotes (``PRAGMA application_id``): "EvQq"."""

_STATE = """
    SELECT (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version), count(*)
    FROM sqlite_master"""
"""One statement sees one moment; between several, another process may lay the store out."""

Step = Callable[[sqlite3.Connection], object]


def _quotes_and_marks(connection: sqlite3.Connection) -> None:
    """Lay out a new store, with a secret of its own."""
    for statement in (
        "CREATE TABLE about (name TEXT PRIMARY KEY NOT NULL, value BLOB NOT NULL, digest BLOB NOT NULL) STRICT",
        """CREATE TABLE quotes (
            place INTEGER PRIMARY KEY AUTOINCREMENT,
            number TEXT NOT NULL UNIQUE,
            client TEXT NOT NULL,
            job TEXT NOT NULL,
            made_on TEXT NOT NULL,
            valid_until TEXT NOT NULL,
            currency TEXT NOT NULL,
            run_length REAL NOT NULL,
            die_price REAL,
            laser_price REAL,
            found_by TEXT NOT NULL,
            record_digest BLOB NOT NULL,
            digest BLOB NOT NULL,
            record BLOB NOT NULL
        ) STRICT""",
        """CREATE TABLE marks (
            place INTEGER PRIMARY KEY AUTOINCREMENT,
            number TEXT NOT NULL REFERENCES quotes (number),
            status TEXT NOT NULL,
            price_per_1000 REAL,
            note TEXT NOT NULL,
            made_at TEXT NOT NULL,
            digest BLOB NOT NULL
        ) STRICT""",
        "CREATE INDEX marks_of_quote ON marks (number, place)",
    ):
        connection.execute(statement)
    secret = secrets.token_bytes(SECRET_BYTES)
    connection.execute("INSERT INTO about VALUES ('secret', ?, ?)", (secret, row_digest(b"secret", secret)))


STEPS: tuple[Step, ...] = (_quotes_and_marks,)
"""From an empty file to the layout of today; the number of steps is its version."""


def is_current(connection: sqlite3.Connection, *, where: str, steps: Sequence[Step] = STEPS) -> bool:
    """Return whether a store has the layout of today; else :func:`migrate` gives it.

    Raises
    ------
    FileError
        If the file is no store of quotes, or one of a newer program.
    """
    application, version, tables = connection.execute(_STATE).fetchone()
    if application != APPLICATION and (application or version or tables):
        raise FileError("this is no store of quotes", where=where, remedy="name another file")
    if version > len(steps):
        raise FileError(
            f"the store was written by a newer program (layout {version}; this one knows {len(steps)})",
            where=where,
            remedy="update Evenrun",
        )
    return bool(version == len(steps))


def migrate(connection: sqlite3.Connection, *, where: str, steps: Sequence[Step] = STEPS) -> None:
    """Bring a store to the layout of today; all steps in one transaction.

    Parameters
    ----------
    connection : sqlite3.Connection
        With ``isolation_level=None``.
    where : str
        The store, for messages.
    steps : sequence of callable
        What leads from each version to the next.

    Raises
    ------
    FileError
        If the file is no store of quotes, or one of a newer program.
    """
    connection.execute("BEGIN IMMEDIATE")
    try:
        # another process may have been faster
        if not is_current(connection, where=where, steps=steps):
            _, version, _ = connection.execute(_STATE).fetchone()
            for step in steps[version:]:
                step(connection)
            connection.execute(f"PRAGMA application_id = {APPLICATION}")
            connection.execute(f"PRAGMA user_version = {len(steps)}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
