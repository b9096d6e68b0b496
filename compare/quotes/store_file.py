"""The file of the store: made, opened for one call, and copied."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from compare.quotes.migrations import is_current, migrate
from compare.quotes.store_errors import StoreError, told

PATIENCE_S = 30.0
"""So long a call waits for others that save [s]."""

_PRAGMAS = ("journal_mode = DELETE", "synchronous = EXTRA", "cell_size_check = ON", "trusted_schema = OFF")


@dataclass(frozen=True)
class StoreFile:
    """The file of a store.

    Attributes
    ----------
    path : Path
        Where it is.
    patience_s : float
        How long a call waits for others that save [s].
    called : Path or None
        What it is called in messages, where that is not its name: a copy that is not finished, for one.
    """

    path: Path
    patience_s: float = PATIENCE_S
    called: Path | None = None

    @property
    def where(self) -> Path:
        """What it is called in messages."""
        return self.called or self.path

    def create(self, *, folder_too: bool = False) -> None:
        """Make an empty file for its owner alone, unless there is one.

        Parameters
        ----------
        folder_too : bool
            Whether its folder is made if it is missing.

        Raises
        ------
        StoreError
            If it can't be made.
        """
        # a file that is there is not opened: closing it would drop the locks of other threads
        if self._is_there():
            return
        try:
            if folder_too:
                self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            os.close(os.open(self.path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        except FileExistsError:
            return  # another one was faster
        except OSError as error:
            raise StoreError(
                f"no store can be made here ({error.strerror})",
                where=str(self.where),
                remedy="check path and rights, or name another file",
            ) from None

    @contextmanager
    def connection(self) -> Iterator[sqlite3.Connection]:
        """Open the store for one call; bring its layout up to date.

        Raises
        ------
        StoreError
            If it is not there, or SQLite fails.
        """
        if not self._is_there():
            raise StoreError(
                "there is no store of quotes", where=str(self.where), remedy="check the path, or its folder"
            )
        with told(self.where), closing(self.connect()) as connection:
            if not is_current(connection, where=str(self.where)):
                migrate(connection, where=str(self.where))
            yield connection

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """Save all or nothing."""
        with self.connection() as connection:
            connection.execute("BEGIN IMMEDIATE")  # waits for others now, and not in the middle
            try:
                yield connection
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise

    def copy_to(self, other: StoreFile) -> None:
        """Copy what is stored at one moment into another file, which is there and empty."""
        with self.connection() as source:
            # reading holds the file for the copy, having waited with patience; the copy itself would wait for ever
            source.execute("BEGIN")
            source.execute("SELECT count(*) FROM quotes").fetchone()
            with told(other.where), closing(other.connect()) as copy:
                source.backup(copy)
            source.execute("COMMIT")

    def _is_there(self) -> bool:
        try:
            self.path.stat()
        except FileNotFoundError:
            return False
        except OSError:
            return True  # and opening it will say what is wrong
        return True

    def connect(self) -> sqlite3.Connection:
        """Open the file as it is."""
        uri = f"{self.path.absolute().as_uri()}?mode=rw"
        connection = sqlite3.connect(uri, uri=True, timeout=self.patience_s, isolation_level=None)
        try:
            connection.text_factory = bytes  # what is damaged need not be text
            for pragma in _PRAGMAS:
                connection.execute(f"PRAGMA {pragma}")
        except BaseException:
            connection.close()
            raise
        return connection
