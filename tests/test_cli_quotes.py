"""Quotes on the command line: made, kept, opened again, marked; and one line for every mistake."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pikepdf
import pytest

from compare import cli
from compare.cli_quotes import share
from compare.errors import InputError
from compare.present.quote_making import ATTACHED

DATA = Path(__file__).resolve().parents[1] / "data"
NORTHFOLD = DATA / "plants" / "northfold.toml"
PLANT = ("--plant", str(NORTHFOLD))
WINDOW = str(DATA / "demo" / "window_from_drawing.toml")
DRAWING = DATA / "demo" / "drawings" / "window_carton.dxf"
SERUM, GIFT = (str(DATA / "demo" / f"{name}.toml") for name in ("cosmetics_cutouts", "gift_varnish_release"))


class Result(NamedTuple):
    """What a run left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def evenrun(monkeypatch, capsys, tmp_path) -> Callable[..., Result]:
    """Run the command line in this process, in a folder of its own with a store of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("EVENRUN_STORE", str(tmp_path / "quotes.sqlite3"))

    def run(*arguments: str) -> Result:
        monkeypatch.setattr(sys, "argv", ["evenrun", *arguments])
        with pytest.raises(SystemExit) as stop:
            cli.main()
        out, err = capsys.readouterr()
        return Result(int(stop.value.code or 0), out, err)

    return run


@pytest.fixture
def made(evenrun) -> str:
    """Make a quote, and return its number."""
    result = evenrun("quote", SERUM, *PLANT, "-o", "q.pdf", "--client", "Maple & Thyme", "--margin", "18%")
    assert result.code == 0, result.err
    return result.out.splitlines()[0].removeprefix("Quote ")


def test_a_quote_opened_again_has_the_same_figures(evenrun, made):
    result = evenrun("reopen", "q.pdf")
    assert f"Quote {made}, in the store" in result.out
    assert "Same figures: the quote was computed again and nothing has changed." in result.out
    assert "not as it was made" not in result.out


def test_a_plant_that_pays_more_is_told_with_what_it_did(evenrun, made, tmp_path):
    """Somebody asks months later why a price is not what it was."""
    changed = tmp_path / "today.toml"
    changed.write_text(NORTHFOLD.read_text(encoding="utf-8").replace("value = 34,", "value = 36,"), encoding="utf-8")
    found = json.loads(evenrun("reopen", "q.pdf", "--plant", str(changed), "--json").out)
    assert found["same"] is False
    (change,) = found["changes"]
    assert (change["kind"], change["name"], change["before"], change["after"]) == (
        "plant value",
        "rates.labour_h",
        34,
        36,
    )
    assert change["effects"]["die"]["cost_per_1000"] > 0
    assert found["with_values_of_then"]["exact"] is True


def test_the_clients_file_holds_no_cost(evenrun, made):
    """Neither page nor attachment: the client may take the file apart."""
    with pikepdf.open("q.pdf") as pdf:
        attached = {spec.filename: spec.get_file().read_bytes() for spec in pdf.attachments.values()}
    text = attached[ATTACHED].decode()
    assert set(attached) == {ATTACHED}
    assert "margin" not in text
    assert "rates." not in text
    assert "labour" not in text


def test_an_altered_file_is_told(evenrun, made):
    """A client who raises the price of the other route in the file is found out."""
    with pikepdf.open("q.pdf") as pdf:
        (spec,) = pdf.attachments.values()
        data = json.loads(spec.get_file().read_bytes())
    data["client"]["rows"][0]["prices"]["die"] += 1
    Path("altered.json").write_text(
        json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False), encoding="utf-8"
    )
    result = evenrun("reopen", "altered.json")
    assert "This file is not as it was made: rows.0.prices.die" in result.out


def test_the_internal_file_opens_without_a_store(evenrun, made, monkeypatch, tmp_path):
    assert evenrun("quote", SERUM, *PLANT, "-o", "own.pdf", "--internal").code == 0
    monkeypatch.setenv("EVENRUN_STORE", str(tmp_path / "nowhere.sqlite3"))
    assert "Same figures" in evenrun("reopen", "own.pdf").out


def test_a_clients_file_without_its_store_says_what_is_missing(evenrun, made, tmp_path):
    result = evenrun("reopen", "q.pdf", "--store", str(tmp_path / "nowhere.sqlite3"))
    assert result.code == 2
    assert "nowhere.sqlite3" in result.err
    assert result.err.count("\n") == 1


def test_quotes_are_listed_and_marked(evenrun, made):
    assert (
        evenrun("quotes", "mark", made, "won", "--price", "131.5", "--note", "sample liked").out
        == f"Quote {made}: won\n"
    )
    listed = evenrun("quotes", "list", "maple", "--status", "won").out
    assert made in listed
    assert "won at 132" in listed
    assert evenrun("quotes", "list", "--status", "lost").out == "No quotes found.\n"


def test_a_backup_is_a_store(evenrun, made):
    assert evenrun("quotes", "backup", "copy.sqlite3").out == "Backup: copy.sqlite3\n"
    assert made in evenrun("quotes", "list", "--store", "copy.sqlite3").out


def test_every_file_that_was_asked_for_is_written(evenrun):
    result = evenrun("quote", SERUM, *PLANT, "-o", "a.pdf", "--html", "a.html", "--xlsx", "a.xlsx", "--language", "de")
    assert result.code == 0, result.err
    assert Path("a.pdf").read_bytes().startswith(b"%PDF")
    assert "<!doctype html>" in Path("a.html").read_text(encoding="utf-8")[:100].lower()
    assert Path("a.xlsx").read_bytes().startswith(b"PK")
    assert "a.xlsx: workbook with the plant's rates: not for the client" in result.out


def test_a_job_that_one_route_can_make_is_quoted(evenrun):
    assert evenrun("quote", GIFT, *PLANT, "-o", "gift.pdf").code == 0


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (("quote", SERUM, "-o", SERUM), "is read or written already"),
        (("quote", SERUM, "-o", "a.pdf", "--html", "a.pdf"), "is read or written already"),
        (("quote", SERUM, "-o", "q.pdf"), "there is a file of this name"),
        (("quote", SERUM, "-o", "no/where.pdf"), "there is no such folder"),
        (("quote", SERUM, "-o", "quotes.sqlite3", "--force"), "is read or written already"),
        (("quote", WINDOW, "-o", str(DRAWING), "--force"), "is read or written already"),
        (("quote", SERUM, "-o", "a.pdf", "--margin", "12"), "--margin: '12' could be 12 % or a share above 1"),
        (("quote", SERUM, "-o", "a.pdf", "--margin", "much"), "--margin: 'much' is no share"),
        (("quote", SERUM, "-o", "a.pdf", "--margin", "95%"), "the margin is not usable"),
        (("quote", SERUM, "-o", "a.pdf", "--language", "it"), "there is no language 'it'; give one of en, de, fr, es"),
        (("quote", SERUM, "-o", "a.pdf", "--client", "x" * 201), "the client's name has 201 characters"),
        (("quote", SERUM, "-o", "a.pdf", "--valid-days", "-1"), "no time for prices to hold"),
        (("reopen", "missing.pdf"), "the file can't be read"),
        (("reopen", SERUM), "this is no PDF that can be read"),
        (("quotes", "mark", "000000000000", "won"), "there is no quote"),
        (("quotes", "mark", "000000000000", "maybe"), "there is no status 'maybe'"),
        (("quotes", "list", "--status", "maybe"), "there is no status 'maybe'"),
        (("quotes", "backup", "q.pdf"), "there is a file of this name"),
    ],
)
def test_a_mistake_is_told_in_one_line(evenrun, made, arguments, line):
    result = evenrun(*arguments)
    assert result.code == 2
    assert line in result.err
    assert result.err.count("\n") == 1


def test_a_mistake_writes_nothing(evenrun, tmp_path):
    """A quote that can't be written whole must not leave half of its files."""
    evenrun("quote", SERUM, "-o", "a.pdf", "--language", "it")
    assert sorted(path.name for path in tmp_path.iterdir()) == []


@pytest.mark.parametrize(("text", "value"), [("12%", 0.12), ("0.12", 0.12), (" 12.5 % ", 0.125), ("0", 0), ("0%", 0)])
def test_a_share_is_read(text, value):
    assert share(text, "--margin") == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "%", "12 percent", "1", "nan%"])
def test_a_share_that_may_mean_two_things_is_refused(text):
    with pytest.raises(InputError):
        share(text, "--margin")


def test_a_quote_that_can_not_be_written_is_not_kept(evenrun):
    """It would stand in the list as if somebody had it."""
    assert evenrun("quote", SERUM, *PLANT, "-o", "no/where.pdf").code == 2
    assert evenrun("quotes", "list").code == 2  # there is no store yet


def test_prices_without_a_margin_are_remarked_on(evenrun):
    result = evenrun("quote", SERUM, *PLANT, "-o", "bare.pdf", "--costing", "cash")
    assert "No margin was given (--margin 12%): the prices are the plant's cost." in result.out
    assert "worked out from cash rates" in result.out
