"""Many quotes at once: none is lost, none is mixed up with another, and a copy in between is whole."""

from __future__ import annotations

import shutil
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from compare.errors import EvenrunError
from compare.quotes.sealing import is_genuine, sealed_quote
from compare.quotes.store import QuoteStore
from tests.quotes.made_quotes import SCOPE, of_client, one_line, quote, some_quote
from tests.quotes.saving_process import start


@pytest.fixture
def record(tmp_path):
    file = tmp_path / "record.json"
    file.write_bytes(some_quote().to_bytes())
    return file


def test_twenty_quotes_at_once_neither_lose_a_record_nor_mix_two_clients(tmp_path):
    """From the values to the sealed file of the client, each of them in a thread."""
    path, together = tmp_path / "quotes.sqlite3", threading.Barrier(20)

    def make(n: int):
        together.wait()
        store = QuoteStore(path)  # the first of them makes it
        made = quote("soap_sleeve", f"demand.run_length={6000 + n}", client=f"Client {n}", margin=n / 100)
        number = store.save(made)
        sealed = sealed_quote(made, store.secret(), scope=SCOPE)
        store.mark(number, "won", price_per_1000=100.0 + n)
        return number, made, sealed

    with ThreadPoolExecutor(20) as pool:
        done = list(pool.map(make, range(20)))
    store = QuoteStore(path)
    assert len(set(store.numbers())) == 20
    for n, (number, made, sealed) in enumerate(done):
        assert store.get(number) == made
        assert (sealed.client.number, sealed.client.client) == (number, f"Client {n}")
        assert sealed.client.values["demand.run_length"] == 6000 + n
        assert is_genuine(sealed, store.get(number), store.secret())
        assert [mark.price_per_1000 for mark in store.marks(number)] == [100.0 + n]
    assert {row.client: row.run_length for row in store.search().rows} == {f"Client {n}": 6000.0 + n for n in range(20)}
    assert store.check() == ()


def test_one_store_shared_by_threads_keeps_what_each_of_them_saves(tmp_path):
    store = QuoteStore(tmp_path / "quotes.sqlite3")
    with ThreadPoolExecutor(20) as pool:
        numbers = list(pool.map(lambda n: store.save(of_client(f"Client {n}")), range(60)))
        clients = list(pool.map(lambda number: store.get(number).asked.client, numbers))
    assert clients == [f"Client {n}" for n in range(60)]
    assert sorted(store.numbers()) == sorted(set(numbers))


def test_several_programs_that_make_and_fill_one_store_agree_on_everything(tmp_path, record):
    path = tmp_path / "quotes.sqlite3"
    programs = [start("save_some", path, record, f"Program {p}", "10") for p in range(4)]
    said = [one.communicate(timeout=120)[0].split() for one in programs]
    assert [one.returncode for one in programs] == [0] * 4
    store = QuoteStore(path)
    assert sorted(store.numbers()) == sorted(number for lines in said for number in lines)
    for p, lines in enumerate(said):
        assert [store.get(number).asked.client for number in lines] == [f"Program {p} {n}" for n in range(10)]


def test_the_same_quote_saved_by_many_at_once_is_kept_once(tmp_path):
    store = QuoteStore(tmp_path / "quotes.sqlite3")
    with ThreadPoolExecutor(16) as pool:
        numbers = set(pool.map(lambda _: store.save(some_quote()), range(32)))
    assert store.numbers() == tuple(numbers)


def test_a_copy_made_while_others_save_is_whole_and_has_all_that_was_saved_before(tmp_path, record):
    path = tmp_path / "quotes.sqlite3"
    with start("save_on_and_on", path, record, "Client") as process:
        for n in range(6):
            said = [process.stdout.readline().strip() for _ in range(3)]
            assert QuoteStore(path).backup(tmp_path / f"copy {n}") == ()
            copy = QuoteStore(tmp_path / f"copy {n}", create=False)
            assert copy.check() == ()
            assert set(said) <= set(copy.numbers())
            assert copy.get(said[-1]).asked.client == f"Client {3 * n + 2}"
        process.kill()


def test_a_plain_copy_made_while_others_save_is_whole_or_told_and_never_wrong(tmp_path, record):
    """It may fall into the milliseconds in which a quote is half in the file."""
    path = tmp_path / "quotes.sqlite3"
    with start("save_on_and_on", path, record, "Client") as process:
        said = []
        for n in range(25):
            said.append(process.stdout.readline().strip())
            shutil.copyfile(path, tmp_path / "copy")  # this process has no lock on the file that it could drop
            try:
                copy = QuoteStore(tmp_path / "copy", create=False)
                damaged = copy.check()
                assert set(said) <= {*copy.numbers(), *damaged}
                assert {copy.get(number).asked.client for number in set(said) - set(damaged)} <= {
                    f"Client {k}" for k in range(n + 1)
                }
            except EvenrunError as error:
                one_line(error)
        process.kill()
