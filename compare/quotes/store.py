"""The store of quotes: one SQLite file with every full record, and what became of each quote.

Why it is kept as it is:

- Every save is one transaction, on the disk before it returns (``synchronous=EXTRA``), with SQLite's rollback journal. A
  program that is killed in the middle leaves a journal beside the file, from which the next one takes the unfinished save
  back. The journal is gone between saves, so that the one file is everything there is; a write-ahead log would leave the
  last saves in a second file, which a plain copy forgets.
- **A copy** is made at any time with :meth:`QuoteStore.backup`, by the account that runs the server. A plain copy is whole
  while nothing is saved. One that falls into the milliseconds of a save may hold half of it; :meth:`QuoteStore.check`
  tells. The process that serves must not copy the file itself: on POSIX, closing a file drops the locks that other
  threads have on it.
- Each row has a digest of its own, which is held to what is read. So a changed byte is told with the number of the quote, and
  the others can still be had.
- A connection is opened for each call and closed after it. So threads, processes, forks and a file that was put back
  from a copy need no further thought.
- Nothing is ever overwritten: the same record is saved once, and a mark is added to those before.
"""

from __future__ import annotations

import re
import secrets
import sqlite3
import unicodedata
from datetime import UTC, datetime
from math import isfinite
from pathlib import Path
from typing import Any, cast, get_args

from compare.errors import InputError
from compare.quotes.quote_record import QuoteRecord, writable
from compare.quotes.record_reader import MOST_BYTES, read_record
from compare.quotes.row_digest import row_digest
from compare.quotes.sealing import NUMBER_DIGITS, number_of
from compare.quotes.store_errors import DamagedError, StoreError
from compare.quotes.store_file import PATIENCE_S, StoreFile
from compare.quotes.store_rows import Found, Mark, QuoteRow, Status

NOTE_CHARACTERS = 1_000
"""Longest note of a mark."""

_MOST_ROWS, _MOST_WORDS = 1_000, 20
_NUMBER = re.compile(rf"[0-9a-f]{{{NUMBER_DIGITS}}}")
_LISTED = (
    "number, client, job, made_on, valid_until, currency, run_length, die_price, laser_price, found_by, record_digest"
)
"""Columns of a quote that its digest is of, in this order."""

_MARKED = "number, status, price_per_1000, note, made_at"
_LIST = f"""
    SELECT {", ".join(f"q.{name}" for name in _LISTED.split(", "))}, q.digest,
        {", ".join(f"m.{name}" for name in _MARKED.split(", "))}, m.digest
    FROM quotes q LEFT JOIN marks m ON m.place = (SELECT max(place) FROM marks WHERE number = q.number)
    WHERE """  # noqa: S608 - of constants


def default_path() -> Path:
    """Return where the store lies by default: the user's data folder of the system."""
    import platformdirs  # noqa: PLC0415 - only needed here

    return platformdirs.user_data_path("evenrun") / "quotes.sqlite3"


class QuoteStore:
    """A store of quotes.

    Parameters
    ----------
    path : Path, optional
        The file; by default :func:`default_path`. The default folder is made if it is missing, and no other.
    create : bool
        Whether a store is made where there is none. It is readable by its owner alone.
    patience_s : float
        How long a call waits for others that save [s].

    Raises
    ------
    StoreError
        If the store can't be opened or made.
    FileError
        If the file is something else, or of a newer program.
    """

    def __init__(self, path: Path | None = None, *, create: bool = True, patience_s: float = PATIENCE_S) -> None:
        self._file = StoreFile(path or default_path(), patience_s)
        if create:
            self._file.create(folder_too=self.path.parent == default_path().parent)
        with self._file.connection():
            pass

    @staticmethod
    def exists(path: Path | None = None) -> bool:
        """Say whether there is a file where the store would lie."""
        return (path or default_path()).exists()

    @property
    def path(self) -> Path:
        """The file."""
        return self._file.path

    # -- quotes -------------------------------------------------------------------------------------------------------

    def save(self, record: QuoteRecord) -> str:
        """Save a quote and return its number; one that is there already is not saved again.

        Parameters
        ----------
        record : QuoteRecord
            The full record.

        Returns
        -------
        str
            Its number, when it is safe on the disk.

        Raises
        ------
        StoreError
            If it can't be saved. What was saved before is kept.
        InputError
            If the record is too large.
        """
        raw = record.to_bytes()
        if len(raw) > MOST_BYTES:
            raise InputError(
                f"the record of the quote is over {MOST_BYTES / 1e6:g} MB", remedy="shorten names and notes"
            )
        with self._file.transaction() as connection:
            number = number_of(raw, self._secret(connection))
            kept = self._record_of(connection, number)
            if kept is None:
                record_digest = row_digest(raw)
                listed = (number, *_listed(record), _searchable(number, record), record_digest)
                marks = ", ".join("?" * (len(listed) + 2))
                connection.execute(
                    f"INSERT INTO quotes ({_LISTED}, digest, record) VALUES ({marks})",  # noqa: S608 - of constants
                    (*listed, row_digest(*listed), raw),
                )
            elif kept != raw:
                raise StoreError(
                    f"another quote has the number {number} by chance",
                    where=str(self.path),
                    remedy="change the client's text by a letter and save again",
                )
        return number

    def get(self, number: str) -> QuoteRecord:
        """Return the full record of a quote.

        Parameters
        ----------
        number : str
            Its number, as on the paper.

        Raises
        ------
        InputError
            If there is no such quote.
        DamagedError
            If its bytes have changed since it was saved.
        """
        number = _number(number)
        with self._file.connection() as connection:
            raw = self._record_of(connection, number)
            genuine = raw is not None and number_of(raw, self._secret(connection)) == number
        if raw is None:
            raise InputError(
                f"there is no quote {number}", where=str(self.path), remedy="check the number, or search for the client"
            )
        if not genuine:
            raise self._damaged(number)
        return read_record(raw, where=f"quote {number}")

    def numbers(self) -> tuple[str, ...]:
        """Return the numbers of all quotes, the oldest first."""
        with self._file.connection() as connection:
            rows = connection.execute("SELECT number FROM quotes ORDER BY place").fetchall()
        return tuple(_text(number) for (number,) in rows)

    def search(self, text: str = "", *, status: Status | None = None, limit: int = 100) -> Found:
        """Find quotes, the newest first.

        Parameters
        ----------
        text : str
            Words that number, client, job, plant, board or day must hold, in any order and case; empty for all.
        status : {"open", "won", "lost"}, optional
            Only quotes of this status.
        limit : int
            So many at most.

        Returns
        -------
        Found
            The quotes, and numbers of those whose rows are damaged.
        """
        words = _folded(text).split()[:_MOST_WORDS]
        asked = ["instr(q.found_by, ?) > 0" for _ in words]
        values: list[Any] = list(words)
        if status is not None:
            asked.append("coalesce(m.status, 'open') = ?")
            values.append(_status(status))
        where = " AND ".join(asked or ["1"])
        with self._file.connection() as connection:
            rows = connection.execute(
                f"{_LIST} {where} ORDER BY q.place DESC LIMIT ?", (*values, max(0, min(limit, _MOST_ROWS)))
            ).fetchall()
        return _found(rows)

    # -- what became of them ------------------------------------------------------------------------------------------

    def mark(
        self,
        number: str,
        status: Status,
        *,
        price_per_1000: float | None = None,
        note: str = "",
        when: datetime | None = None,
    ) -> None:
        """Mark a quote as won, lost or open again; marks before stay.

        Parameters
        ----------
        number : str
            Number of the quote.
        status : {"open", "won", "lost"}
            What became of it.
        price_per_1000 : float, optional
            Price it was won or lost at [currency per 1,000 cartons].
        note : str
            Why, in the user's words.
        when : datetime, optional
            Now, if left out.

        Raises
        ------
        InputError
            If there is no such quote, or the mark can't be used.
        StoreError
            If it can't be saved.
        """
        number, status = _number(number), _status(status)
        if price_per_1000 is not None:
            if isinstance(price_per_1000, bool) or not (isfinite(price_per_1000) and price_per_1000 > 0):
                raise InputError("the price is not usable", where="price", remedy="give a number above 0")
            price_per_1000 = float(price_per_1000)
        if len(note) > NOTE_CHARACTERS or not writable(note):
            raise InputError("the note is not usable", where="note", remedy=f"write up to {NOTE_CHARACTERS} characters")
        made_at = (when or datetime.now(UTC)).isoformat(timespec="seconds")
        cells = (number, status, price_per_1000, note, made_at)
        with self._file.transaction() as connection:
            if self._record_of(connection, number) is None:
                raise InputError(f"there is no quote {number}", where=str(self.path), remedy="check the number")
            connection.execute(
                f"INSERT INTO marks ({_MARKED}, digest) VALUES (?, ?, ?, ?, ?, ?)",  # noqa: S608 - of constants
                (*cells, row_digest(*cells)),
            )

    def marks(self, number: str) -> tuple[Mark, ...]:
        """Return all marks of a quote, the oldest first.

        Raises
        ------
        DamagedError
            If the bytes of one have changed since it was saved.
        """
        number = _number(number)
        with self._file.connection() as connection:
            rows = connection.execute(
                f"SELECT {_MARKED}, digest FROM marks WHERE number = ? ORDER BY place",  # noqa: S608 - of constants
                (number,),
            ).fetchall()
        if any(row_digest(*cells) != digest for *cells, digest in rows):
            raise self._damaged(number)
        return tuple(Mark.of(row[1:-1]) for row in rows)

    # -- the file -----------------------------------------------------------------------------------------------------

    def secret(self) -> bytes:
        """Return the secret that numbers and seals of this store are made with.

        Raises
        ------
        DamagedError
            If its bytes have changed: then no seal can be checked any more.
        """
        with self._file.connection() as connection:
            return self._secret(connection)

    def check(self) -> tuple[str, ...]:
        """Read everything, and return the numbers of quotes that are damaged: empty for a whole store.

        Raises
        ------
        DamagedError
            If the file itself is damaged.
        """
        damaged = []
        with self._file.connection() as connection:
            self._secret(connection)
            faults = connection.execute("PRAGMA integrity_check(1)").fetchall()
            if [_text(fault) for (fault,) in faults] != ["ok"]:
                raise self._damaged()
            for (number,) in connection.execute("SELECT number FROM quotes ORDER BY place").fetchall():
                try:
                    self._record_of(connection, _text(number))
                except DamagedError:
                    damaged.append(_text(number))
            marks = connection.execute(f"SELECT {_MARKED}, digest FROM marks").fetchall()  # noqa: S608 - of constants
        damaged += [_text(cells[0]) for *cells, digest in marks if row_digest(*cells) != digest]
        return tuple(dict.fromkeys(damaged))

    def backup(self, target: Path) -> tuple[str, ...]:
        """Copy the store while others may be saving; the copy is a store with all quotes of one moment, and the secret.

        Parameters
        ----------
        target : Path
            A file that is not there yet.

        Returns
        -------
        tuple of str
            Numbers of quotes that are damaged, in the store as in the copy: empty for a whole one.

        Raises
        ------
        StoreError
            If it is there, or can't be written; the store itself is as it was.
        DamagedError
            If the store itself is damaged: then there is no copy, and the last one stays the best.
        """
        if target.exists():
            raise StoreError("there is a file of this name", where=str(target), remedy="name another one")
        draft = StoreFile(target.with_name(f".{target.name}.{secrets.token_hex(4)}"), called=target)
        try:
            draft.create()
            self._file.copy_to(draft)
            damaged = QuoteStore(draft.path, create=False).check()
            draft.path.replace(target)
        finally:
            draft.path.unlink(missing_ok=True)
        return damaged

    def _secret(self, connection: sqlite3.Connection) -> bytes:
        row = connection.execute("SELECT value, digest FROM about WHERE name = 'secret'").fetchone()
        if row is None or row_digest(b"secret", row[0]) != row[1]:
            raise self._damaged()
        return cast("bytes", row[0])

    def _record_of(self, connection: sqlite3.Connection, number: str) -> bytes | None:
        row = connection.execute(
            f"SELECT {_LISTED}, digest, record FROM quotes WHERE number = ?",  # noqa: S608 - of constants
            (number,),
        ).fetchone()
        if row is None:
            return None
        *listed, digest, raw = row
        if row_digest(*listed) != digest or row_digest(raw) != listed[-1]:
            raise self._damaged(number)
        return cast("bytes", raw)

    def _damaged(self, number: str = "") -> DamagedError:
        what = f"quote {number} is damaged" if number else "the store is damaged"
        return DamagedError(
            what, where=str(self.path), remedy="keep the file, and take what is missing out of the last copy"
        )


def _found(rows: list[tuple[Any, ...]]) -> Found:
    count = len(_LISTED.split(", "))
    whole, damaged = [], []
    for row in rows:
        listed, digest, mark, mark_digest = row[:count], row[count], row[count + 1 : -1], row[-1]
        if row_digest(*listed) != digest or (mark_digest is not None and row_digest(*mark) != mark_digest):
            damaged.append(_text(listed[0]))
        else:
            whole.append(QuoteRow.of(listed, Mark.of(mark[1:]) if mark_digest is not None else None))
    return Found(tuple(whole), tuple(damaged))


def _listed(record: QuoteRecord) -> tuple[str | float | None, ...]:
    asked, results = record.asked, record.results
    prices = (
        route.figures.cost_per_1000 * asked.price_factor if route.figures else None
        for route in (results.die, results.laser)
    )
    return (
        asked.client,
        record.name,
        asked.made_on.isoformat(),
        asked.valid_until.isoformat(),
        record.currency,
        record.inputs["demand.run_length"],
        *prices,
    )


def _searchable(number: str, record: QuoteRecord) -> str:
    told_of = (number, record.asked.client, record.name, record.plant, record.board, record.asked.made_on.isoformat())
    return _folded(" ".join(told_of))


def _folded(text: str) -> str:
    return unicodedata.normalize("NFKC", text).casefold() if writable(text) else ""


def _number(text: str) -> str:
    number = text.strip().lower()
    if not _NUMBER.fullmatch(number):
        raise InputError(
            f"'{text[:40]}' is no number of a quote",
            where="quote",
            remedy=f"give its {NUMBER_DIGITS} digits and letters",
        )
    return number


def _status(text: str) -> Status:
    if text not in get_args(Status):
        raise InputError(f"'{text[:40]}' is no status", where="status", remedy=f"give {', '.join(get_args(Status))}")
    return cast("Status", text)


def _text(raw: object) -> str:
    return raw.decode("utf-8", "replace") if isinstance(raw, bytes) else str(raw)
