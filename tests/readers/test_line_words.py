"""Suggestions from plain words of the trade: what is offered, and where silence is better."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.data_files import read_table
from compare.geometry.line_kinds import ALL_KINDS
from compare.geometry.strokes import Group
from compare.readers.line_words import suggest


def offered(*names: str) -> list[str | None]:
    return [offer and offer.kind for name in names for offer in suggest([Group(name)])]


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        ("cutting", ["Cut", "cutting", "Knife", "die line", "DieLine", "Schnitt", "Schneidlinie", "Messer", "coupe"]),
        ("cutting", ["Découpe", "filets coupeurs", "corte", "taglio", "snijlijn", "cięcie", "Linie cięcia", "noże"]),
        ("creasing", ["Crease", "FOLD_LINES", "score", "Rillen", "Rilllinie", "Falz", "rainage", "Pli 1", "hendido"]),
        ("creasing", ["plegado", "cordonatura", "piega", "Cordoni", "rillijn", "vouwlijn", "bigowanie", "zgięcie"]),
        ("perforating", ["Perforation", "perf", "Perforierung", "perforado", "perforazione", "perforatie"]),
        ("partial_cutting", ["half-cut", "Kiss Cut", "partial cutting", "Ritzlinie", "mi-chair", "medio corte"]),
        ("partial_cutting", ["mezzo taglio", "półcięcie", "nacinanie", "cut-score"]),
        ("varnish_release", ["Varnish release", "Lackaussparung"]),
        ("ignored", ["Dimensions", "Bemaßung", "cotes", "bleed", "Anschnitt", "glue", "Leimlasche", "colle", "klej"]),
        ("ignored", ["Legende", "Maße", "fond perdu", "wymiary", "Durchmesser"]),
    ],
)
def test_plain_words_of_the_trade_are_understood(kind, names):
    assert dict(zip(names, offered(*names), strict=True)) == dict.fromkeys(names, kind)


@pytest.mark.parametrize("name", ["0", "", "Layer 3", "Ebene 1", "Red", "executive", "application", "grill", "42"])
def test_names_that_say_nothing_get_no_offer(name):
    """Words count where they stand for themselves: there is a cut in executive, and a fold in application."""
    assert offered(name) == [None]


@pytest.mark.parametrize("name", ["Cut and crease", "Schnitt+Rillen", "coupe_pli", "cut dimensions", "taglio/cordone"])
def test_a_name_that_says_two_kinds_gets_no_offer(name):
    """It may be a rule that does both, or a layer that holds both."""
    assert offered(name) == [None]


def test_a_word_inside_a_longer_one_does_not_count():
    """In German Anschnitt is bleed, Ausschnitt an opening, and Schnitt a cut."""
    assert offered("Anschnitt", "Ausschnitt", "Schnitt") == ["ignored", "cutting", "cutting"]


def test_capitals_inside_a_name_part_its_words():
    assert offered("outerCutLine", "leftPliBas") == ["cutting", "creasing"]


def test_colours_say_nothing():
    """Every house has its own: within one published project the text says green and the file has red."""
    groups = [Group("a", "#ff0000"), Group("b", "#00ff00"), Group("c", "#0000ff")]
    assert suggest(groups) == (None, None, None)


def test_a_word_for_the_whole_die_is_passed_over_where_its_layer_has_several_colours():
    """Then one of them is likely knife and another crease, and the name fits both."""
    assert suggest([Group("Stanzkontur", "#ff0000"), Group("Stanzkontur", "#00ff00")]) == (None, None)


def test_a_word_for_one_kind_counts_in_every_colour():
    assert [o and o.kind for o in suggest([Group("Rillen", "#ff0000"), Group("Rillen", "#00ff00")])] == ["creasing"] * 2


def test_the_name_of_a_line_type_counts_as_well():
    assert [o and o.kind for o in suggest([Group("0", linetype="PERFORATION")])] == ["perforating"]


def test_layer_and_line_type_that_disagree_get_no_offer():
    assert suggest([Group("cut", linetype="crease")]) == (None,)


def test_the_reason_names_the_word_and_its_languages():
    (offer,) = suggest([Group("Legende")])
    assert offer is not None
    assert offer.reason == "'legende' in the name (French, German)"


@pytest.mark.parametrize("step", ["VarnishFree", "PartialCuttingCreasing", "ReversePartialCuttingCreasing"])
def test_a_step_that_may_mean_two_things_is_offered_with_the_reason(step):
    (offer,) = suggest([Group("x", "", "", "Structural", step)])
    (row,) = [row for row in read_table("processing_steps.csv") if row["type"] == step]
    assert offer == (row["kind"], row["note"])
    assert "depth" in offer.reason or "area" in offer.reason


@given(st.text(max_size=300), st.text(max_size=20))
@settings(max_examples=200)
def test_any_name_at_all_gets_an_offer_or_none(layer, linetype):
    """Names come from files of anybody."""
    (offer,) = suggest([Group(layer, linetype=linetype)])
    assert offer is None or offer.kind in ALL_KINDS


# -- the table --------------------------------------------------------------------------------------------------------


def test_every_language_has_words_for_the_kinds_that_every_carton_has():
    by_language: dict[str, set[str]] = {}
    for row in read_table("line_words.csv"):
        by_language.setdefault(row["language"], set()).add(row["kind"])
    needed_in = {"de", "en", "es", "fr", "it", "nl", "pl"}
    needed = {"cutting", "creasing", "perforating", "partial_cutting", "ignored"}
    assert {language for language, kinds in by_language.items() if needed <= kinds} == needed_in


def test_every_word_is_written_as_it_is_compared():
    """A capital or an accent in the table would never be found in a folded name."""
    assert [row["word"] for row in read_table("line_words.csv") if not row["word"].replace(" ", "").isascii()] == []
    assert [row["word"] for row in read_table("line_words.csv") if row["word"] != row["word"].lower()] == []


def test_no_word_says_two_kinds():
    kinds: dict[str, set[str]] = {}
    for row in read_table("line_words.csv"):
        kinds.setdefault(row["word"], set()).add(row["kind"])
    assert {word for word, said in kinds.items() if len(said) > 1} == set()


def test_every_word_gets_its_own_kind_offered():
    """A word that another one hides, or that never matches, would be a row without effect."""
    wrong = [row["word"] for row in read_table("line_words.csv") if offered(row["word"]) != [row["kind"]]]
    assert wrong == []


def test_every_row_says_where_it_is_from():
    tables = ("line_words.csv", "processing_steps.csv", "cut_type_codes.csv")
    assert {row["basis"] for name in tables for row in read_table(name)} == {"from memory", "published"}
