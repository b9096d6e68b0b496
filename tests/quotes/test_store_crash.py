"""A program that is killed in the middle of saving loses nothing that it said was saved."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing

import pytest

from compare.quotes.store import QuoteStore
from tests.quotes.made_quotes import of_client, some_quote
from tests.quotes.saving_process import start

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kill -9 is of POSIX")


@pytest.fixture
def record(tmp_path):
    file = tmp_path / "record.json"
    file.write_bytes(some_quote().to_bytes())
    return file


def _whole(path) -> bool:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


@pytest.mark.parametrize("lines", [1, 2, 3, 7, 20, 41])
def test_everything_that_was_said_to_be_saved_is_there_after_a_kill(tmp_path, record, lines):
    """The kill falls wherever the program happens to be after so many quotes."""
    store = tmp_path / "quotes.sqlite3"
    with start("save_on_and_on", store, record, "Client") as process:
        said = [process.stdout.readline().strip() for _ in range(lines)]
        process.kill()
        said += process.stdout.read().split()
    kept = QuoteStore(store)
    assert set(said) <= set(kept.numbers())
    assert len(kept.numbers()) - len(said) in (0, 1)  # one may have been saved and not yet said
    assert [kept.get(number).asked.client for number in said] == [f"Client {n}" for n in range(len(said))]
    assert kept.check() == ()
    assert _whole(store)


@pytest.mark.parametrize("pages_of", [1, 3, 10])
def test_a_quote_that_was_half_in_the_file_is_taken_back(tmp_path, record, pages_of):
    """Pages were written, and the transaction was not ended: the journal beside the file undoes them."""
    store = tmp_path / "quotes.sqlite3"
    with start("die_while_writing", store, record, str(pages_of)) as process:
        said = process.stdout.read().split()
    assert store.with_name("quotes.sqlite3-journal").exists()
    kept = QuoteStore(store)
    assert list(kept.numbers()) == said
    assert kept.check() == ()
    assert not store.with_name("quotes.sqlite3-journal").exists()
    kept.save(of_client("and on it goes"))
    assert len(kept.numbers()) == 2


def test_several_programs_killed_at_once_leave_a_whole_store(tmp_path, record):
    store = tmp_path / "quotes.sqlite3"
    programs = [start("save_on_and_on", store, record, f"Program {n}") for n in range(3)]
    said = [[one.stdout.readline().strip() for _ in range(4)] for one in programs]
    for one in programs:
        one.kill()
    for one, lines in zip(programs, said, strict=True):
        lines.extend(one.stdout.read().split())
        one.wait()
        one.stdout.close()
    kept = QuoteStore(store)
    assert {number for lines in said for number in lines} <= set(kept.numbers())
    assert kept.check() == ()
