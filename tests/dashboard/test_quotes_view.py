"""Quotes on screen: made from a state, listed, opened again, side by side, marked; what goes wrong is said."""

from __future__ import annotations

import json

import plotly.utils
import pytest

from compare.data_files import data_folder
from compare.errors import EvenrunError
from compare.present.numbers import NumberStyle
from compare.quotes.store import QuoteStore
from compare.readers.jobfile import read_file
from dashboard import quote_maker
from dashboard.reader import Reader
from dashboard.settings import Settings
from dashboard.state import State, read_link
from dashboard.views import quotes

NORTHFOLD = read_file(data_folder() / "plants" / "northfold.toml", kind="plant")
STYLE = Reader().style
ASKED = ("Maple & Thyme <b>", 20, 30, "en")


@pytest.fixture
def settings(tmp_path):
    return Settings(plant=NORTHFOLD, store=tmp_path / "quotes.sqlite3")


def _text(component):
    return json.dumps(component, cls=plotly.utils.PlotlyJSONEncoder, ensure_ascii=False)


@pytest.fixture
def made(settings):
    return quote_maker._made(State({"demand.run_length": 6_000.0}), ASKED, settings)


def test_a_quote_of_a_state_is_kept_with_its_margin_and_client(made, settings):
    record = QuoteStore(settings.store).get(made.number)
    assert (record.asked.client, record.asked.margin) == ("Maple & Thyme <b>", 0.2)
    assert record.inputs["demand.run_length"] == 6_000


def test_ranges_of_a_state_go_into_its_quote(settings):
    view = State({"demand.run_length": 6_000.0}, ranges={"demand.run_length": "4000..9000"})
    made = quote_maker._made(view, ASKED, settings)
    assert made.unsure.varied.spreads["demand.run_length"].high == 9_000
    assert any(layer.ranges == {"demand.run_length": "4000.0..9000.0"} or layer.ranges for layer in made.record.layers)


@pytest.mark.parametrize(
    ("kind", "start", "name"),
    [
        ("quote-pdf", b"%PDF", "quote-{}.pdf"),
        ("quote-own", b"%PDF", "quote-{}-internal.pdf"),
        ("quote-html", b"<!", "quote-{}.html"),
        ("quote-xlsx", b"PK", "quote-{}-workbook.xlsx"),
    ],
)
def test_every_button_makes_its_file(made, kind, start, name):
    file, content, _ = quote_maker._file(kind, made)
    assert file == name.format(made.number)
    assert content.startswith(start)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (("x", None, 30, "en"), "margin"),
        (("x", True, 30, "en"), "margin"),
        (("x", 95, 30, "en"), "margin"),
        (("x", 20, 1.5, "en"), "days"),
        (("x", 20, -1, "en"), "days"),
        (("x", 20, 30, "it"), "fields can't be read"),
        ((7, 20, 30, "en"), "fields can't be read"),
        (("x" * 201, 20, 30, "en"), "201 characters"),
    ],
)
def test_what_a_browser_sends_is_checked(settings, asked, words):
    with pytest.raises(EvenrunError, match=words):
        quote_maker._made(State({}), asked, settings)


def test_a_state_that_contradicts_itself_makes_no_quote(settings):
    with pytest.raises(EvenrunError, match=r"demand\.versions"):
        quote_maker._made(State({"demand.versions": 30_000.0}), ASKED, settings)
    assert not settings.store.exists() or QuoteStore(settings.store).numbers() == ()


def test_the_list_shows_what_was_made_and_finds_it(made, settings):
    for asked in ("", "maple", made.number):
        assert made.number in _text(quotes._listed(settings, asked, "all", STYLE))
    assert made.number not in _text(quotes._listed(settings, "harbour", "all", STYLE))
    assert made.number not in _text(quotes._listed(settings, "", "won", STYLE))


def test_before_the_first_quote_the_list_says_how_to_make_one(settings):
    assert "No quote was made yet" in _text(quotes._listed(settings, "", "all", STYLE))
    assert not settings.store.exists()


def test_a_store_that_is_none_is_told_and_left_alone(settings):
    settings.store.write_bytes(b"not a store" * 100)
    said = _text(quotes._listed(settings, "", "all", STYLE))
    assert "No quote was made yet" not in said
    assert "Alert" in said
    assert settings.store.read_bytes() == b"not a store" * 100


def test_a_quote_opened_again_says_the_same_and_leads_to_its_job(made, settings):
    said = _text(quotes._opened(made.number, settings, STYLE))
    assert "Same figures: the quote was computed again and nothing has changed." in said
    link = said.split('"href": "/')[1].split('"')[0]
    assert read_link(link, settings).overrides["demand.run_length"] == 6_000


def test_a_plant_that_has_changed_is_told(made, settings):
    values = {**NORTHFOLD.values, "rates.labour_h": 36.0}
    today = Settings(
        plant=type(NORTHFOLD)(NORTHFOLD.label, values, NORTHFOLD.about, ranges=NORTHFOLD.ranges), store=settings.store
    )
    said = _text(quotes._opened(made.number, today, STYLE))
    assert "1 thing has changed since" in said
    assert "rates.labour_h" in said


def test_two_quotes_stand_side_by_side_with_what_differs(made, settings):
    other = quote_maker._made(State({"demand.run_length": 9_000.0}), ("Harbour Tea", 25, 30, "de"), settings)
    said = _text(quotes._side_by_side((made.number, made.record), (other.number, other.record), STYLE))
    for words in ("Maple & Thyme <b>", "Harbour Tea", "demand.run_length", "6,000", "9,000"):
        assert words in said
    assert "laser.power_w" not in said


@pytest.mark.parametrize("checked", [[], [False], [True, True]])
def test_opening_needs_one_quote(checked):
    ids = [{"kind": "quote", "number": f"{n:012x}"} for n in range(len(checked))]
    with pytest.raises(EvenrunError, match="pick one quote in the list"):
        quotes._picked(checked, ids, 1)


@pytest.mark.parametrize("sent", [(None, []), ([True], None), ([True], []), ("x", "x")])
def test_picks_that_no_page_sends_are_refused(sent):
    with pytest.raises(EvenrunError, match="can't be read"):
        quotes._picked(*sent, 1)


@pytest.mark.parametrize("reader", [Reader(), Reader("us", "dark", NumberStyle(",", "."))], ids=["metric", "us German"])
def test_the_view_and_the_box_can_be_laid_out(made, settings, reader):
    assert made.number in _text(quotes.layout(State({}), settings, reader))
    assert "PDF with our own pages" in _text(quote_maker.quote_box())
