"""The gate for words about the environment: what is refused, and what only looks like it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compare import compare
from compare.data_files import read_table
from compare.decide.uncertainty import uncertainty
from compare.errors import InputError
from compare.present.quote_words import quote_words
from compare.present.sure_wording import sure_difference
from compare.present.wording import CARBON_SCOPE
from compare.present.wording_guard import REASONS, ClaimError, checked, claims_in

from .quoted import LANGUAGES, texts_of

ROWS = read_table("claim_words.csv")

CLAIMS = (
    "A carbon-neutral carton", "Climate positive packaging", "Zero waste production", "The laser is greener",
    "A sustainable choice", "Eco-friendly board", "We offset our emissions", "Saves 12 trees", "saves trees",
    "Eine klimaneutrale Schachtel", "Ein klimapositiver Betrieb", "Abfallfreie Fertigung", "Das grünere Verfahren",
    "Nachhaltiger Karton", "Umweltfreundlich", "CO2-kompensiert", "Spart 12 alte Bäume",
    "Un étui neutre en carbone", "Zéro déchet", "Un carton plus vert", "Un choix durable", "Éco-conçu",
    "Respectueux de l’environnement", "Émissions de CO2 : compensation carbone", "Économise 12 arbres",
    "Un estuche neutro en carbono", "Cero residuos", "Un proceso más verde", "Cartón sostenible", "Ecológico",
    "Respetuoso con el medio ambiente", "Compensación de carbono", "Ahorra 12 árboles",
)  # fmt: skip

NO_CLAIMS = (
    "the economic lot", "más económico", "offset printed sheets", "Offsetdruck", "an evergreen design",
    "Économie d’énergie du poste", "CO2e, kg per 1,000", "biogenic CO2 apart", "the wasteland", "ecosystem of tools",
    "tree structure of the job", "vertical sheet", "12 % of the price", "Grundpreis",
)  # fmt: skip


@pytest.mark.parametrize("text", CLAIMS)
def test_a_claim_is_refused_in_every_language_of_the_quote(text):
    with pytest.raises(ClaimError):
        checked(text)


@pytest.mark.parametrize("text", NO_CLAIMS)
def test_a_word_that_only_holds_the_letters_of_a_claim_passes(text):
    """Offset is a way of printing here, and economic lots are sizes of orders."""
    assert checked(text) == text


@pytest.mark.parametrize("text", ["CARBON\u2011NEUTRAL", "carbon\u00a0neutral", "carbon\n neutral", "Carbon_neutral"])
def test_capitals_hyphens_and_spaces_hide_nothing(text):
    assert claims_in(text)


@pytest.mark.parametrize(
    "text", ["klima\u00adneutral", "sustain\u200bable", "sustaína\u0301ble", "ｓｕｓｔａｉｎａｂｌｅ"]
)
def test_invisible_characters_accents_and_wide_letters_hide_nothing(text):
    assert claims_in(text)


@given(st.sampled_from(ROWS), st.sampled_from((str.upper, str.title, str.lower)))
def test_every_row_of_the_list_finds_its_own_words(row, letters):
    words = row["words"].replace("~ ", "one two ").replace("*", "")
    assert claims_in(letters(f"This is {words} indeed"))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["words"])
def test_every_row_names_language_reason_source_and_status(row):
    assert set(row["language"].split(", ")) <= set(LANGUAGES)
    assert row["reason"] in REASONS
    assert row["source"]
    assert row["status"].startswith("published")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_words_of_every_reason(language):
    there = {row["reason"] for row in ROWS if language in row["language"].split(", ")}
    assert there == set(REASONS) - {"percentage"}


@pytest.mark.parametrize(
    "text",
    [
        "3 % less",
        "3% weniger",
        "12\u202f% de moins",
        "12 percent",
        "drei Prozent",
        "doce por ciento",
        "vingt pour cent",
        "٣٪",
    ],
)
def test_a_percentage_is_refused_where_the_range_of_the_difference_holds_zero(text):
    with pytest.raises(ClaimError, match="no clear difference"):
        checked(text, range_contains_zero=True)


def test_a_percentage_may_stand_where_the_range_is_on_one_side():
    assert checked("the laser needs 3 % less") == "the laser needs 3 % less"


def test_a_difference_without_a_percentage_may_stand_though_its_range_holds_zero():
    text = "no clear difference: the laser lies from 0.1 kg less to 0.2 kg more"
    assert checked(text, range_contains_zero=True) == text


def test_the_refusal_names_the_word_why_and_what_to_do():
    with pytest.raises(InputError) as refused:
        checked("A carbon-neutral carton")
    assert refused.value.where == 'text "A carbon-neutral carton"'
    assert "'carbon neutral' may not be said" in refused.value.what
    assert "2024/825" in refused.value.what
    assert refused.value.remedy == "give both figures with their range and what they hold"


def test_the_scope_that_stands_with_every_carbon_figure_passes():
    assert checked(CARBON_SCOPE) == CARBON_SCOPE


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_of_the_quote_makes_a_claim(language):
    """Not only those about the environment: a claim is one wherever it stands."""
    assert [text for text in texts_of(dict(quote_words(language).texts)) if claims_in(text)] == []


@pytest.mark.parametrize("name", ["bakery_tray", "herbal_drops_uncertain_run", "soap_sleeve"])
def test_what_screen_and_terminal_say_of_carbon_and_waste_passes_too(load, name):
    """The gate stands before the paper; the same sentences are on screen and in the terminal."""
    u = uncertainty(compare(load(name)), draws=256, run_lengths=2, along=("cost",))
    assert checked(CARBON_SCOPE) == CARBON_SCOPE
    for measure in ("co2e", "waste"):
        gap = u.at_quote[measure]["difference"]
        said = sure_difference(gap, "kg")
        assert checked(said, range_contains_zero=gap.contains_zero) == said
