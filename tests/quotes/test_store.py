"""The store of quotes: what is saved comes back, and what goes wrong is told in one line."""

from __future__ import annotations

import os
import re
import resource
import sqlite3
import stat
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from compare.errors import EvenrunError, FileError, InputError
from compare.quotes import migrations, store, store_file
from compare.quotes.migrations import STEPS, migrate
from compare.quotes.sealing import quote_number
from compare.quotes.store import QuoteStore, default_path
from compare.quotes.store_errors import DamagedError, StoreError
from compare.quotes.store_file import StoreFile
from tests.quotes.made_quotes import drawn_quote, of_client, one_line, quote, some_quote

WHEN = datetime(2026, 3, 9, 14, 30, tzinfo=UTC)
POSIX = pytest.mark.skipif(os.name != "posix", reason="no such modes there")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "quotes.sqlite3"


@pytest.fixture
def kept(path):
    return QuoteStore(path)


def _raw(path) -> sqlite3.Connection:
    return closing(sqlite3.connect(path, isolation_level=None))


# -- saved and found --------------------------------------------------------------------------------------------------


def test_what_is_saved_comes_back_to_the_last_byte(kept):
    for record in (quote("soap_sleeve"), quote("gift_varnish_release"), drawn_quote()):
        assert kept.get(kept.save(record)).to_bytes() == record.to_bytes()


def test_the_number_is_twelve_digits_made_with_the_secret_of_the_store(kept):
    number = kept.save(some_quote())
    assert re.fullmatch("[0-9a-f]{12}", number)
    assert number == quote_number(some_quote(), kept.secret())


def test_the_same_quote_is_kept_once(kept):
    assert kept.save(some_quote()) == kept.save(some_quote())
    assert len(kept.numbers()) == 1


def test_two_stores_give_one_quote_two_numbers(tmp_path):
    """A number says nothing to who has not the store."""
    assert QuoteStore(tmp_path / "a").save(some_quote()) != QuoteStore(tmp_path / "b").save(some_quote())


def test_numbers_come_in_the_order_they_were_saved(kept):
    saved = [kept.save(of_client(f"Client {n}")) for n in range(5)]
    assert kept.numbers() == tuple(saved)


def test_a_number_may_be_typed_with_blanks_and_capitals(kept):
    number = kept.save(some_quote())
    assert kept.get(f" {number.upper()}\n") == some_quote()


@pytest.mark.parametrize("number", ["", "12", "zzzzzzzzzzzz", "' OR 1=1 --", "０" * 12])
def test_what_is_no_number_is_told_as_such(kept, number):
    with pytest.raises(InputError, match="is no number of a quote"):
        kept.get(number)


def test_a_quote_that_is_not_there_is_told(kept, path):
    with pytest.raises(InputError, match=f"{path}: there is no quote 0123456789ab; check the number"):
        kept.get("0123456789ab")


def test_a_store_is_opened_again_with_its_secret(kept, path):
    number = kept.save(some_quote())
    again = QuoteStore(path)
    assert again.secret() == kept.secret()
    assert again.get(number) == some_quote()


def _found(kept, *asked, **more):
    return [row.client for row in kept.search(*asked, **more).rows]


def test_a_search_finds_words_of_client_job_plant_board_and_day_in_any_case(kept):
    for client in ("Älpenmilch Köln", "Meadow Tea", "ΣΊΣΥΦΟΣ", "straße & co"):
        kept.save(of_client(client))
    number = kept.save(quote("soap_sleeve", client="Meadow Soap"))
    assert _found(kept, "älpen") == ["Älpenmilch Köln"]
    assert _found(kept, "KÖLN äLP") == ["Älpenmilch Köln"]
    assert _found(kept, "σίσυφος") == ["ΣΊΣΥΦΟΣ"]
    assert _found(kept, "STRASSE") == ["straße & co"]
    assert _found(kept, "meadow") == ["Meadow Soap", "Meadow Tea"]
    assert _found(kept, "sleeve") == _found(kept, "kraft") == _found(kept, number[:8]) == ["Meadow Soap"]
    assert len(_found(kept, "2026-03-02 northfold")) == 5
    assert _found(kept, "meadow straße") == []


@pytest.mark.parametrize("text", ["%", "_", "'", '"', "\\", "' OR '1'='1", "*", "\x00", "\ud800x"])
def test_a_sign_of_a_query_language_is_but_a_sign(kept, text):
    kept.save(some_quote())
    assert _found(kept, text) in ([], ["Meadow Tea"] if not text.strip("\x00") or "\ud800" in text else [])


def test_the_newest_come_first_and_no_more_than_asked_for(kept):
    for n in range(6):
        kept.save(of_client(f"Client {n}"))
    assert _found(kept, limit=2) == ["Client 5", "Client 4"]
    assert _found(kept, limit=0) == _found(kept, limit=-1) == []


def test_a_row_of_the_list_holds_prices_and_days(kept):
    record = quote("gift_varnish_release", margin=0.5)
    kept.save(record)
    (row,) = kept.search().rows
    assert (row.job, row.currency, row.run_length) == ("Gift carton, varnish release", "EUR", 8000)
    assert row.die_price is None
    assert row.laser_price == pytest.approx(2 * record.results.laser.figures.cost_per_1000)
    assert (row.made_on, row.valid_until) == (date(2026, 3, 2), date(2026, 4, 1))


# -- marks ------------------------------------------------------------------------------------------------------------


def test_marks_are_a_history_in_which_nothing_is_overwritten(kept):
    number = kept.save(some_quote())
    kept.mark(number, "lost", price_per_1000=91.5, note="too slow", when=WHEN)
    kept.mark(number, "won", price_per_1000=88.0, note="second round", when=WHEN)
    assert [(m.status, m.price_per_1000, m.note) for m in kept.marks(number)] == [
        ("lost", 91.5, "too slow"),
        ("won", 88.0, "second round"),
    ]
    assert kept.marks(number)[0].when == WHEN
    (row,) = kept.search().rows
    assert (row.status, row.mark.price_per_1000) == ("won", 88.0)


def test_a_quote_that_nobody_marked_is_open(kept):
    kept.save(some_quote())
    (row,) = kept.search(status="open").rows
    assert (row.status, row.mark) == ("open", None)


def test_a_search_by_status_goes_by_the_last_mark(kept):
    a, b, c = (kept.save(of_client(name)) for name in ("A", "B", "C"))
    kept.mark(a, "won")
    kept.mark(b, "won")
    kept.mark(b, "open")
    assert _found(kept, status="won") == ["A"]
    assert _found(kept, status="open") == ["C", "B"]
    assert _found(kept, status="lost") == []
    assert c in kept.numbers()


@pytest.mark.parametrize(
    ("mark", "told"),
    [
        ({"status": "maybe"}, "'maybe' is no status; give open, won, lost"),
        ({"status": "won", "price_per_1000": -1.0}, "the price is not usable"),
        ({"status": "won", "price_per_1000": float("nan")}, "the price is not usable"),
        ({"status": "won", "price_per_1000": True}, "the price is not usable"),
        ({"status": "won", "note": "x" * 1001}, "write up to 1000 characters"),
        ({"status": "won", "note": "\ud800"}, "the note is not usable"),
    ],
)
def test_a_mark_that_can_not_be_is_told(kept, mark, told):
    number = kept.save(some_quote())
    with pytest.raises(InputError, match=told):
        kept.mark(number, **mark)
    assert kept.marks(number) == ()


def test_a_quote_that_is_not_there_can_not_be_marked(kept):
    with pytest.raises(InputError, match="there is no quote"):
        kept.mark("0123456789ab", "won")


# -- where it is ------------------------------------------------------------------------------------------------------


def test_by_default_it_lies_in_the_users_data_folder_which_is_made(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_data_path", lambda name: tmp_path / "share" / name)
    assert default_path() == tmp_path / "share" / "evenrun" / "quotes.sqlite3"
    number = QuoteStore().save(some_quote())
    assert QuoteStore(default_path()).get(number) == some_quote()


@POSIX
def test_a_store_is_its_owners_alone(kept, path):
    """It holds costs and clients."""
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_store_is_not_made_where_one_is_only_looked_for(path):
    with pytest.raises(StoreError, match="there is no store of quotes; check the path"):
        QuoteStore(path, create=False)
    assert not path.exists()


def test_a_store_in_a_folder_that_is_not_there_is_told_with_a_remedy(tmp_path):
    with pytest.raises(StoreError, match=r"no store can be made here .*; check path and rights"):
        QuoteStore(tmp_path / "nowhere" / "quotes.sqlite3")


def test_a_folder_that_goes_away_is_told_and_no_empty_store_takes_its_place(kept, path):
    path.rename(path.with_name("moved"))
    with pytest.raises(StoreError, match="there is no store of quotes"):
        kept.save(some_quote())
    assert not path.exists()


def test_a_folder_in_its_place_is_told(tmp_path):
    with pytest.raises(StoreError, match="can't be opened"):
        QuoteStore(tmp_path)


def test_nothing_but_the_one_file_is_left_between_saves(kept, tmp_path):
    """So that a copy of the file is a copy of everything."""
    kept.save(some_quote())
    assert [one.name for one in tmp_path.iterdir()] == ["quotes.sqlite3"]


def test_a_store_that_somebody_set_to_a_write_ahead_log_is_set_back(kept, path, tmp_path):
    """A copy of the one file would miss what is in the log."""
    with _raw(path) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
    kept.save(some_quote())
    assert [one.name for one in tmp_path.iterdir()] == ["quotes.sqlite3"]


# -- layouts ----------------------------------------------------------------------------------------------------------


def _version(path) -> int:
    with _raw(path) as connection:
        return connection.execute("PRAGMA user_version").fetchone()[0]


def test_an_older_layout_is_brought_up_to_date_with_all_it_holds(kept, path, monkeypatch):
    number, secret = kept.save(some_quote()), kept.secret()
    steps = (*STEPS, lambda c: c.execute("ALTER TABLE quotes ADD COLUMN seen INTEGER NOT NULL DEFAULT 0"))
    monkeypatch.setattr(store_file, "migrate", lambda c, where: migrate(c, where=where, steps=steps))
    monkeypatch.setattr(store_file, "is_current", lambda c, where: migrations.is_current(c, where=where, steps=steps))
    again = QuoteStore(path)
    assert _version(path) == len(STEPS) + 1
    assert (again.get(number), again.secret()) == (some_quote(), secret)
    assert again.check() == ()


def test_a_step_that_fails_leaves_the_store_as_it_was(kept, path):
    number = kept.save(some_quote())

    def fails(connection):
        connection.execute("CREATE TABLE more (x)")
        connection.execute("DROP TABLE marks")
        raise RuntimeError("in the middle")

    with _raw(path) as connection, pytest.raises(RuntimeError):
        migrate(connection, where="here", steps=(*STEPS, fails))
    assert _version(path) == len(STEPS)
    kept.mark(number, "won")
    assert kept.check() == ()


def test_a_store_of_a_newer_program_is_refused_in_one_line_and_not_touched(kept, path):
    kept.save(some_quote())
    with _raw(path) as connection:
        connection.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    for use in (lambda: QuoteStore(path), lambda: kept.save(of_client("B")), kept.numbers):
        with pytest.raises(
            FileError, match=r"written by a newer program \(layout 99; this one knows 1\); update Evenrun"
        ):
            use()
    assert path.read_bytes() == before


def test_a_database_of_something_else_is_refused_and_not_touched(path):
    with _raw(path) as connection:
        connection.execute("CREATE TABLE bookmarks (url)")
    before = path.read_bytes()
    with pytest.raises(FileError, match="this is no store of quotes; name another file"):
        QuoteStore(path)
    assert path.read_bytes() == before


def test_a_store_whose_making_was_broken_off_is_made_whole(path):
    """Killed after the file was made and before anything stood in it."""
    path.touch()
    number = QuoteStore(path).save(some_quote())
    assert QuoteStore(path).get(number) == some_quote()


# -- damage -----------------------------------------------------------------------------------------------------------


def _overwrite(path, place: int, raw: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(place)
        file.write(raw)


@pytest.mark.parametrize("start", [b"\x00" * 100, b"not a database at all" * 10, b"SQLite format 4\x00"])
def test_a_store_whose_head_was_overwritten_is_told_and_left_alone(kept, path, start):
    number = kept.save(some_quote())
    _overwrite(path, 0, start)
    before = path.read_bytes()
    for use in (lambda: QuoteStore(path), lambda: kept.get(number), lambda: kept.save(of_client("B")), kept.check):
        with pytest.raises(DamagedError, match="the store is damaged; keep the file, put the last copy in its place"):
            use()
    assert path.read_bytes() == before


def test_a_byte_that_flipped_in_a_record_is_told_with_its_number_and_spares_the_others(kept, path):
    numbers = [kept.save(of_client(f"Client {n}")) for n in range(6)]
    raw = path.read_bytes()
    place = raw.index(b'"client":"Client 3"') + len('"client":"Clien')
    _overwrite(path, place, b"T")
    with pytest.raises(DamagedError, match=f"quote {numbers[3]} is damaged; keep the file"):
        kept.get(numbers[3])
    assert kept.check() == (numbers[3],)
    for n in (0, 1, 2, 4, 5):
        assert kept.get(numbers[n]).asked.client == f"Client {n}"


def test_a_row_that_was_changed_is_named_in_a_list_and_hides_no_other(kept, path):
    a, b = kept.save(of_client("A")), kept.save(of_client("B"))
    with _raw(path) as connection:
        connection.execute("UPDATE quotes SET laser_price = 1.0 WHERE number = ?", (a,))
    found = kept.search()
    assert ([row.number for row in found.rows], found.damaged) == ([b], (a,))
    assert kept.check() == (a,)


def test_a_mark_that_was_changed_is_told(kept, path):
    number = kept.save(some_quote())
    kept.mark(number, "lost")
    with _raw(path) as connection:
        connection.execute("UPDATE marks SET status = 'won'")
    with pytest.raises(DamagedError, match=f"quote {number} is damaged"):
        kept.marks(number)
    assert kept.search().damaged == kept.check() == (number,)


def test_a_record_that_stands_under_another_number_is_told(kept, path):
    """Row and digests are whole, but the number was not made of this record."""
    a, b = kept.save(of_client("A")), kept.save(of_client("B"))
    with _raw(path) as connection:
        connection.execute("DELETE FROM quotes WHERE number = ?", (b,))
        listed = connection.execute(f"SELECT {store._LISTED} FROM quotes").fetchone()  # noqa: S608
        cells = (b, *listed[1:])
        connection.execute(
            "UPDATE quotes SET number = ?, digest = ? WHERE number = ?", (b, store.row_digest(*cells), a)
        )
    with pytest.raises(DamagedError, match=f"quote {b} is damaged"):
        kept.get(b)


def test_a_secret_that_was_changed_is_told_before_a_number_is_made_with_it(kept, path):
    with _raw(path) as connection:
        connection.execute("UPDATE about SET value = randomblob(32)")
    for use in (kept.secret, lambda: kept.save(some_quote())):
        with pytest.raises(DamagedError, match="the store is damaged"):
            use()


@pytest.mark.parametrize("share", [0.1, 0.25, 0.5, 0.75, 0.9])
def test_a_store_that_was_overwritten_in_the_middle_is_told_and_never_gives_another_quote(kept, path, share):
    clients = {kept.save(of_client(f"Client {n} " + "x" * 150)): n for n in range(12)}
    size = path.stat().st_size
    _overwrite(path, int(size * share), b"\xa5" * 5000)
    told = 0
    for number, n in clients.items():
        try:
            assert kept.get(number).asked.client.startswith(f"Client {n} ")
        except EvenrunError as error:
            told += 1
            one_line(error)
    try:
        assert kept.check()
    except DamagedError:
        told += 1
    assert told


def test_a_store_that_was_cut_short_is_told(kept, path):
    for n in range(8):
        kept.save(of_client(f"Client {n}"))
    os.truncate(path, path.stat().st_size // 2)
    with pytest.raises(DamagedError):
        kept.check()


# -- no room, no right ------------------------------------------------------------------------------------------------


class _Limited(StoreFile):
    """A store with connections of its own."""

    pragma = ""

    def connect(self):
        connection = super().connect()
        connection.execute(f"PRAGMA {self.pragma}")
        return connection


def _limited(kept: QuoteStore, pragma: str) -> QuoteStore:
    kept._file = _Limited(kept.path)
    object.__setattr__(kept._file, "pragma", pragma)
    return kept


def test_a_full_disk_is_told_and_loses_nothing(kept, path):
    """SQLite's limit of pages stands for the end of the disk: the same code, SQLITE_FULL."""
    saved = [kept.save(of_client(f"Client {n}")) for n in range(3)]
    full = _limited(QuoteStore(path), f"max_page_count = {path.stat().st_size // 4096 + 2}")
    with pytest.raises(
        StoreError, match="the disk is full, and nothing more was saved; make room and save again; what"
    ):
        full.save(of_client("one too many"))
    assert kept.numbers() == tuple(saved)
    assert kept.check() == ()
    assert [kept.get(number).asked.client for number in saved] == ["Client 0", "Client 1", "Client 2"]
    kept.save(of_client("one too many"))  # there is room again
    assert len(kept.numbers()) == 4


@pytest.mark.skipif(sys.platform != "linux", reason="limits of files differ elsewhere")
def test_a_file_that_may_not_grow_is_told_and_loses_nothing(kept, path):
    """The operating system refuses to write, as a quota does."""
    saved = [kept.save(of_client(f"Client {n}")) for n in range(3)]
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 5000, hard))
    try:
        with pytest.raises(StoreError, match=r"can't be read or written|disk is full"):
            kept.save(of_client("one too many"))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert kept.numbers() == tuple(saved)
    assert kept.check() == ()
    kept.save(of_client("one too many"))


def test_a_store_that_can_be_read_only_is_read_and_says_so_when_one_saves(kept, path):
    number = kept.save(some_quote())
    reading = _limited(QuoteStore(path), "query_only = ON")
    assert reading.get(number) == some_quote()
    for use in (lambda: reading.save(of_client("B")), lambda: reading.mark(number, "won")):
        with pytest.raises(StoreError, match="the store can be read only; check the rights of file and folder"):
            use()
    assert kept.numbers() == (number,)


@POSIX
@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write anywhere")
@pytest.mark.parametrize("which", ["file", "folder"])
def test_a_store_without_rights_to_write_is_read_and_says_so_when_one_saves(kept, path, which):
    number = kept.save(some_quote())
    place = path if which == "file" else path.parent
    mode = place.stat().st_mode
    place.chmod(0o444 if which == "file" else 0o555)
    try:
        assert QuoteStore(path).get(number) == some_quote()
        with pytest.raises(StoreError, match="rights of file and folder"):
            kept.save(of_client("B"))
    finally:
        place.chmod(mode)
    assert kept.numbers() == (number,)


def test_a_store_that_is_held_too_long_is_told(kept, path):
    number = kept.save(some_quote())
    hurried = QuoteStore(path, patience_s=0.05)
    with _raw(path) as other:
        other.execute("BEGIN EXCLUSIVE")
        for use in (lambda: hurried.save(of_client("B")), lambda: hurried.get(number), lambda: hurried.search("x")):
            with pytest.raises(StoreError, match="another program has held the store for too long; try again"):
                use()
    assert kept.numbers() == (number,)


def test_two_quotes_of_one_number_are_told_and_neither_is_lost(kept, monkeypatch):
    """One in 280 million million, but a wrong quote behind a number would be worse than an error."""
    monkeypatch.setattr(store, "number_of", lambda raw, secret: "0123456789ab")
    kept.save(of_client("A"))
    with pytest.raises(StoreError, match="another quote has the number 0123456789ab by chance; change"):
        kept.save(of_client("B"))
    assert kept.get("0123456789ab").asked.client == "A"


def test_a_record_that_could_not_be_read_again_is_not_saved(kept):
    huge = replace(some_quote(), note="x" * 2_000_000)
    with pytest.raises(InputError, match="over 2 MB"):
        kept.save(huge)


# -- copies -----------------------------------------------------------------------------------------------------------


def test_a_copy_is_a_store_with_every_quote_every_mark_and_the_secret(kept, tmp_path):
    number = kept.save(some_quote())
    kept.mark(number, "won", price_per_1000=90)
    assert kept.backup(tmp_path / "copy.sqlite3") == ()
    copy = QuoteStore(tmp_path / "copy.sqlite3", create=False)
    assert (copy.get(number), copy.secret()) == (some_quote(), kept.secret())
    assert copy.marks(number) == kept.marks(number)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["copy.sqlite3", "quotes.sqlite3"]


@POSIX
def test_a_copy_is_its_owners_alone(kept, tmp_path):
    kept.backup(tmp_path / "copy.sqlite3")
    assert stat.S_IMODE((tmp_path / "copy.sqlite3").stat().st_mode) == 0o600


def test_a_copy_writes_over_nothing(kept, tmp_path):
    (tmp_path / "there").write_text("mine")
    with pytest.raises(StoreError, match="there is a file of this name; name another one"):
        kept.backup(tmp_path / "there")
    assert (tmp_path / "there").read_text() == "mine"


def test_a_copy_that_can_not_be_made_is_told_and_leaves_nothing(kept, tmp_path):
    with pytest.raises(StoreError, match=r"nowhere.copy: no store can be made here"):
        kept.backup(tmp_path / "nowhere" / "copy")
    assert [one.name for one in tmp_path.iterdir()] == ["quotes.sqlite3"]


def test_a_copy_of_a_store_with_a_damaged_quote_names_it(kept, path, tmp_path):
    kept.save(of_client("A"))
    number = kept.save(of_client("B"))
    with _raw(path) as connection:
        connection.execute("UPDATE quotes SET record = x'00' WHERE number = ?", (number,))
    assert kept.backup(tmp_path / "copy") == (number,)


def test_a_plain_copy_while_nothing_is_saved_is_whole(kept, path, tmp_path):
    number = kept.save(some_quote())
    (tmp_path / "copy").write_bytes(path.read_bytes())
    copy = QuoteStore(tmp_path / "copy", create=False)
    assert copy.check() == ()
    assert copy.get(number) == some_quote()
