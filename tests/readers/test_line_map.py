"""The line map of a client: which rule decides, what needs none, and the file it is kept in."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.errors import FileError, InputError, UnknownNameError
from compare.geometry.line_kinds import ALL_KINDS
from compare.geometry.strokes import Group
from compare.readers.line_map import (
    LineMap,
    Rule,
    apply,
    line_map_text,
    load_line_map,
    rule_for,
    save_line_map,
    unmapped_findings,
)


@pytest.fixture
def load(tmp_path):
    """Write a file and read it as a line map."""

    def loader(content: str | bytes) -> LineMap:
        path = tmp_path / "client.toml"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return load_line_map(path)

    return loader


def kind(group: Group, *rules: Rule):
    return apply(LineMap(rules=rules), [group])[0]


# -- which rule fits --------------------------------------------------------------------------------------------------


def test_a_rule_fits_when_every_key_it_gives_does():
    rule = Rule("cutting", layer="Knife", colour="#ff0000")
    assert [rule.fits(Group("Knife", colour)) for colour in ("#ff0000", "#00ff00")] == [True, False]


def test_capitals_and_spaces_around_make_no_difference():
    assert Rule("cutting", layer=" SCHNITT ", colour="#FF00AA").fits(Group("Schnitt", "#ff00aa"))


def test_accents_encoded_in_two_ways_are_the_same():
    """One system writes é as one character, another as e and an accent; the user sees no difference."""
    assert Rule("cutting", layer="d\u00e9coupe").fits(Group("de\u0301coupe"))


def test_accents_are_not_left_out():
    """Rules are confirmed names, not words to be guessed at."""
    assert not Rule("cutting", layer="decoupe").fits(Group("découpe"))


def test_an_empty_key_fits_lines_that_have_none():
    rule = Rule("cutting", linetype="")
    assert [rule.fits(Group("a", linetype=t)) for t in ("", "DASHED")] == [True, False]


@pytest.mark.parametrize(
    ("pattern", "fits"),
    [("*", True), ("die*", True), ("*cut", True), ("d*-*t", True), ("*die-cut*", True), ("die", False), ("*x*", False),
     ("die-cut*cut", False), ("dIE-C*T", True), ("die-cut**", True)],
)  # fmt: skip
def test_a_star_stands_for_any_characters(pattern, fits):
    assert Rule("cutting", layer=pattern).fits(Group("Die-cut")) is fits


def test_other_signs_of_patterns_are_plain_characters():
    assert not Rule("cutting", layer="cut.[1]?").fits(Group("cutx1z"))


@given(st.text("ab*", max_size=12), st.text("ab", max_size=12))
@settings(max_examples=300)
def test_a_pattern_fits_what_a_regular_expression_fits(pattern, name):
    """The matching is our own because a pattern of many stars takes a regular expression for ever."""
    expression = ".*".join(map(re.escape, pattern.split("*")))
    assert Rule("cutting", layer=pattern).fits(Group(name)) is bool(re.fullmatch(expression, name))


def test_a_pattern_of_many_stars_takes_no_time():
    """Backtracking over forty stars would outlast the test run."""
    assert not Rule("cutting", layer="*a" * 40 + "*b").fits(Group("a" * 5000))


# -- which rule decides -----------------------------------------------------------------------------------------------


def test_more_keys_decide():
    rules = (Rule("cutting", layer="A"), Rule("creasing", layer="A", colour="#00ff00"))
    assert kind(Group("A", "#00ff00"), *rules) == "creasing"


def test_a_full_name_decides_over_a_pattern():
    assert kind(Group("die text"), Rule("cutting", layer="die*"), Rule("ignored", layer="die text")) == "ignored"


def test_a_longer_pattern_decides_over_a_shorter_one():
    assert kind(Group("die text"), Rule("cutting", layer="die*"), Rule("ignored", layer="die t*")) == "ignored"


def test_one_full_key_decides_over_a_pattern_of_any_length():
    rules = (Rule("cutting", layer="*a very long name*"), Rule("creasing", colour="#00ff00"))
    assert kind(Group("a very long name", "#00ff00"), *rules) == "creasing"


def test_a_tie_of_two_kinds_is_an_error_that_names_both():
    with pytest.raises(InputError) as caught:
        kind(Group("A", "#00ff00"), Rule("cutting", layer="A"), Rule("creasing", colour="#00ff00"))
    assert "layer 'A' is cutting" in str(caught.value)
    assert "colour '#00ff00' is creasing" in str(caught.value)


def test_a_tie_of_one_kind_is_none():
    assert kind(Group("A", "#00ff00"), Rule("cutting", layer="A"), Rule("cutting", colour="#00ff00")) == "cutting"


def test_a_tie_below_the_rule_that_decides_is_none():
    rules = (Rule("cutting", layer="A*"), Rule("creasing", layer="*A"), Rule("ignored", layer="A"))
    assert kind(Group("A"), *rules) == "ignored"


def test_the_order_of_rules_makes_no_difference():
    """The file is kept by hand and by the screen; a line moved may not move money."""
    rules = (Rule("cutting", layer="die*"), Rule("ignored", layer="die t*"), Rule("creasing", layer="die text"))
    groups = [Group("die"), Group("die tool"), Group("die text"), Group("other")]
    answers = {apply(LineMap(rules=order), groups) for order in itertools.permutations(rules)}
    assert answers == {("cutting", "ignored", "creasing", None)}


# -- what needs no rule -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Schnitt", "cut", "CUT", "Die line", "0", ""])
def test_a_name_alone_makes_no_kind(name):
    """The plainest name may be a print layer in the next file: somebody has to confirm it once."""
    assert kind(Group(name)) is None


@pytest.mark.parametrize(
    ("step", "expected"),
    [
        (("Structural", "Cutting"), "cutting"),
        (("Structural", "Punching"), "cutting"),
        (("Structural", "ReversePartialCutting"), "partial_cutting"),
        (("Structural", "Folding"), "creasing"),
        (("Structural", "CuttingCreasing"), "cutting_creasing"),
        (("Structural", "Perforating"), "perforating"),
        (("Structural", "Bleed"), "ignored"),
        (("Dimensions", ""), "ignored"),
        (("Positions", "Barcode"), "ignored"),
    ],
)
def test_a_step_of_the_standard_needs_no_confirmation(step, expected):
    """The writer of the file has said it in the words of ISO 19593-1."""
    assert kind(Group("any name", "", "", *step)) == expected


def test_a_group_without_types_is_what_it_is_whatever_type_was_added():
    """Dimensions are no path, even where a writer put a type on them against the standard."""
    assert kind(Group("x", "", "", "Dimensions", "Cutting")) == "ignored"


@pytest.mark.parametrize("step", ["VarnishFree", "PartialCuttingCreasing", "ABC_Own", ""])
def test_a_step_that_may_mean_two_things_or_none_is_not_mapped(step):
    assert kind(Group("x", "", "", "Structural", step)) is None


def test_the_clients_rule_for_a_step_goes_before_the_standard():
    folded_by_hand = Rule("ignored", step="Structural/Folding")
    assert kind(Group("x", "", "", "Structural", "Folding"), folded_by_hand) == "ignored"


def test_a_pattern_does_not_take_a_step_away():
    """`everything else is left out` is a common last rule; it may not swallow what the file says itself."""
    assert kind(Group("x", "", "", "Structural", "Cutting"), Rule("ignored", layer="*")) == "cutting"


def test_the_one_documented_code_needs_no_confirmation():
    assert apply(LineMap(), [Group("DieLayout", code="101"), Group("DieLayout", code="102")]) == ("cutting", None)


# -- what is said about the rest --------------------------------------------------------------------------------------


def test_lines_that_are_not_mapped_are_a_finding_each():
    groups = [Group("A"), Group("B", "#ff0000"), Group("C")]
    found = unmapped_findings(groups, ["cutting", None, None])
    assert [(f.code, f.where, f.kind) for f in found] == [
        ("drawing.unmapped_layer", "B", "caution"),
        ("drawing.unmapped_layer", "C", "caution"),
    ]


def test_the_finding_says_that_they_count_as_nothing_and_what_they_may_be():
    (found,) = unmapped_findings([Group("Rillen", "#00ff00")], [None])
    assert found.message == (
        "The lines of layer 'Rillen', #00ff00 are not mapped and count as nothing: "
        "confirm that they are creasing, or map them."
    )


def test_a_confirmed_layer_is_that_layer_in_that_colour_only():
    """In one drawing a layer may hold knife and crease in two colours."""
    rule = rule_for(Group("die", "#ff0000"), "cutting")
    assert [rule.fits(Group("die", colour)) for colour in ("#ff0000", "#0000ff")] == [True, False]


def test_a_confirmed_step_is_that_step_on_any_layer():
    rule = rule_for(Group("x", "", "", "Structural", "VarnishFree"), "varnish_release")
    assert rule == Rule("varnish_release", step="Structural/VarnishFree")


@pytest.mark.parametrize("group", [Group("a*b", "#ff0000", "DASHED"), Group(""), Group("DieLayout", code="7")])
def test_what_is_confirmed_fits_the_lines_it_was_confirmed_for(group):
    assert kind(group, rule_for(group, "perforating")) == "perforating"


# -- files ------------------------------------------------------------------------------------------------------------


def test_a_file_gives_rules(load):
    found = load('name = "Client"\n[[line]]\nlayer = "Schnitt"\nkind = "cutting"\nnote = "seen"\n')
    assert (found.name, found.rules) == ("Client", (Rule("cutting", layer="Schnitt"),))


def test_a_code_may_be_a_number(load):
    assert load('[[line]]\ncode = 102\nkind = "creasing"\n').rules == (Rule("creasing", code="102"),)


def test_an_empty_file_has_no_rules(load):
    assert load("").rules == ()


_TEXTS = st.one_of(st.none(), st.text(st.characters(exclude_categories=["Cs"]), max_size=12))
_COLOURS = st.one_of(st.none(), st.just(""), st.from_regex(r"#[0-9a-f]{6}", fullmatch=True))
_RULES = st.builds(
    Rule, st.sampled_from(ALL_KINDS), _TEXTS, _COLOURS, _TEXTS, _TEXTS, _TEXTS
).filter(lambda rule: rule.weight != (0, 0, 0))  # fmt: skip


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=20), st.lists(_RULES, max_size=4))
@settings(max_examples=150)
def test_what_is_saved_is_what_is_loaded(tmp_path_factory, name, rules):
    """Names of layers hold quotes, backslashes, line breaks and every script there is."""
    path = tmp_path_factory.getbasetemp() / "round.toml"
    save_line_map(path, LineMap(name, tuple(rules)))
    assert load_line_map(path) == LineMap(name, tuple(rules), "round.toml")


def test_a_saved_file_reads_like_one_written_by_hand():
    text = line_map_text(LineMap("Client", (Rule("creasing", layer="Rill*", colour="#00ff00"),)))
    assert text == 'name = "Client"\n\n[[line]]\nlayer = "Rill*"\ncolour = "#00ff00"\nkind = "creasing"\n'


def test_a_name_of_bytes_that_are_no_text_is_refused_before_anything_is_written(tmp_path):
    """A DXF in an old code page may give such names; TOML has no way to write them."""
    path = tmp_path / "client.toml"
    path.write_text("# mine\n")
    with pytest.raises(InputError, match="bytes that are no text; put \\* in their place"):
        save_line_map(path, LineMap("x", (Rule("cutting", layer="a\udc80"),)))
    assert path.read_text() == "# mine\n"


def test_a_failed_save_leaves_no_draft(tmp_path):
    (tmp_path / "taken").mkdir()
    with pytest.raises(FileError, match="the line map can't be written"):
        save_line_map(tmp_path / "taken", LineMap("x"))
    assert [p.name for p in tmp_path.iterdir()] == ["taken"]


@pytest.mark.parametrize(
    ("content", "error", "message"),
    [
        ("[[line]]\nlayer = 'A'\n", InputError, "rule 1: the rule has no kind"),
        ("[[line]]\nkind = 'cutting'\n", InputError, "rule 1: the rule says no lines; give one of layer"),
        ("[[line]]\nlayer = 'A'\nkind = 'cuting'\n", UnknownNameError, "did you mean cutting"),
        ("[[line]]\nlayer = 'A'\nkind = 1\n", InputError, "the kind of line is no text"),
        ("[[line]]\ncolor = '#ff0000'\nkind = 'cutting'\n", UnknownNameError, "did you mean colour"),
        ("[[line]]\ncolour = 'red'\nkind = 'cutting'\n", InputError, "colour is 'red'; write it as #rrggbb"),
        ("[[line]]\nlayer = 3\nkind = 'cutting'\n", InputError, "layer is no text"),
        ("[[line]]\ncode = true\nkind = 'cutting'\n", InputError, "code is no text"),
        ("[[lines]]\nlayer = 'A'\nkind = 'cutting'\n", UnknownNameError, "no entry of a line map 'lines'"),
        ("line = 'A'\n", InputError, "line is no list of tables"),
        ("name = 3\n", InputError, "name is no text"),
        ("name = \n", InputError, "the line map is not TOML"),
        (b"name = '\xff'\n", InputError, "the line map is not UTF-8 text"),
        ("x = " + "[" * 5000, InputError, "the line map"),
        ("x = " + "1" * 5000, InputError, "the line map can't be read"),
        ("#" * 1_000_001, FileError, "the line map is over 1 MB"),
    ],
)
def test_what_is_wrong_in_a_file_is_said_with_its_place(load, content, error, message):
    with pytest.raises(error, match=re.escape(message)) as caught:
        load(content)
    assert str(caught.value).startswith("client.toml")


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(FileError, match=r"none\.toml: the line map can't be read"):
        load_line_map(tmp_path / "none.toml")
