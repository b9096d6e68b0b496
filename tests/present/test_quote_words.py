"""The words of a quote: each language complete, and with the same places."""

from __future__ import annotations

import re
from datetime import date
from string import Formatter

import pytest

from compare.boards import boards
from compare.decide.order_book import DIE_REASONS, LASER_REASONS
from compare.errors import UnknownNameError
from compare.factors import ROLES
from compare.geometry.line_kinds import ALL_KINDS
from compare.geometry.styles import STYLES
from compare.present.quote_words import quote_words
from compare.present.wording import WHY_NOT
from compare.routes.inventory import STAGES

from .quoted import LANGUAGES, texts_of

ENGLISH_ELSEWHERE = {"answer", "sure", "takeover", "draws", "worth", "lead", "difference", "cautions"}
"""Tables of sentences that English has in compare/present/wording.py and sure_wording.py."""

PARTS_ELSEWHERE = {"not_included", "impossible", "environment"}
"""Tables that English has in part there."""


def _places(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


def _shape(language: str) -> dict[tuple[str, str], frozenset[str]]:
    texts = quote_words(language).texts
    return {
        (table, name): frozenset(place for form in texts_of(text) for place in _places(form))
        for table, rows in texts.items()
        for name, text in rows.items()
    }


@pytest.mark.parametrize("language", ["fr", "es"])
def test_every_language_has_the_texts_of_german_with_the_same_places(language):
    assert _shape(language) == _shape("de")


def test_english_has_all_but_the_sentences_that_screen_and_terminal_have():
    english, german = _shape("en"), _shape("de")
    missing = {key[0] for key in german.keys() - english.keys()}
    assert missing <= ENGLISH_ELSEWHERE | PARTS_ELSEWHERE
    assert english.keys() - german.keys() == set()
    assert {key: english[key] for key in english} == {key: german[key] for key in english}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    ("table", "names"),
    [
        ("styles", set(STYLES)),
        ("stages", set(STAGES)),
        ("roles", set(ROLES)),
        ("lines", {*ALL_KINDS, "unmapped"}),
        ("boards", {grade.rpartition("_")[0] for grade in boards()}),
    ],
)
def test_everything_the_engine_can_name_has_a_word(language, table, names):
    assert names <= set(quote_words(language).texts[table])


@pytest.mark.parametrize("language", LANGUAGES)
def test_everything_a_route_can_fail_at_has_a_reason_without_the_plants_limits(language):
    codes = {*DIE_REASONS, *LASER_REASONS, "laser.no_bridge"}
    known = set(WHY_NOT) if language == "en" else set()
    missing = {code for code in codes - known if not quote_words(language).has("impossible", code.replace(".", "_"))}
    assert missing == set()


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_exclaims_or_praises(language):
    texts = texts_of(dict(quote_words(language).texts))
    assert [text for text in texts if "!" in text or re.search(r"up to \d|jusqu’à \d+ ?%", text)] == []


def test_french_signs_are_tied_to_the_word_before_them():
    """A line must not begin with a colon."""
    assert [text for text in texts_of(dict(quote_words("fr").texts)) if re.search(" [:;?!»]", text)] == []


@pytest.mark.parametrize(
    ("language", "text"), [("en", "1,000"), ("de", "1.000"), ("fr", "1\u202f000"), ("es", "1.000")]
)
def test_a_thousand_is_written_as_the_language_does(language, text):
    assert text in quote_words(language).say("page", "prices", currency="EUR")


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "30 November 2026"),
        ("de", "30. November 2026"),
        ("fr", "30 novembre 2026"),
        ("es", "30 de noviembre de 2026"),
    ],
)
def test_a_date_is_written_in_full(language, text):
    assert quote_words(language).day(date(2026, 11, 30)) == text


def test_an_american_plant_writes_the_month_first():
    assert quote_words("en").day(date(2026, 11, 30), american=True) == "November 30, 2026"


@pytest.mark.parametrize(
    ("language", "number", "text"),
    [
        ("en", 1, "1 year"),
        ("en", 1.5, "1.5 years"),
        ("de", 2, "2 Jahre"),
        ("fr", 1.5, "1,5 an"),
        ("fr", 2, "2 ans"),
        ("es", 1, "1 año"),
    ],
)
def test_a_count_takes_the_form_of_its_language(language, number, text):
    assert quote_words(language).counted("years", number) == text


def test_a_language_that_the_quote_does_not_speak_is_refused_with_those_it_does():
    with pytest.raises(UnknownNameError, match="en"):
        quote_words("xx")
