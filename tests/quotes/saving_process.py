"""Programs of their own that save quotes into a store, for tests that kill them or let them run at once."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from compare.quotes.quote_record import QuoteRecord
from compare.quotes.record_reader import read_record
from compare.quotes.store import QuoteStore

ROOT = Path(__file__).resolve().parents[2]


def start(what: str, store: Path, record: Path, *words: str) -> subprocess.Popen[str]:
    """Start one of the functions below in a process of its own; it prints the number of each quote once it is saved."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.quotes.saving_process", what, str(store), str(record), *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )


def client_of(record: QuoteRecord, client: str) -> QuoteRecord:
    """Return a quote for another client, its note as long as would take many pages of the file."""
    return replace(record, asked=replace(record.asked, client=client), note=client * 2000)


def save_on_and_on(store: QuoteStore, record: QuoteRecord, name: str) -> None:
    """Save until killed."""
    n = 0
    while True:
        print(store.save(client_of(record, f"{name} {n}")), flush=True)
        n += 1


def save_some(store: QuoteStore, record: QuoteRecord, name: str, count: str) -> None:
    """Save some quotes, each for a client of its own."""
    for n in range(int(count)):
        print(store.save(client_of(record, f"{name} {n}")), flush=True)


def die_while_writing(store: QuoteStore, record: QuoteRecord, after: str) -> None:
    """Save one quote, then be killed while the next one is half in the file: so many pages, and no end of the transaction."""
    print(store.save(client_of(record, "saved")), flush=True)
    with store._file.transaction() as connection:
        connection.execute("PRAGMA cache_size = 2")  # so that pages go to the file before the end
        raw = client_of(record, "half").to_bytes()
        for n in range(int(after)):
            cells = (f"{n:012x}", "half", "", "", "", "", 1.0, None, None, "", b"", b"", raw)
            connection.execute("INSERT INTO quotes VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", cells)
        os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    _, what, store, record, *words = sys.argv
    globals()[what](QuoteStore(Path(store)), read_record(Path(record).read_bytes()), *words)
