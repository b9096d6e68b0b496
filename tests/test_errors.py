"""One tree of errors: what is wrong, where, and what to do about it, in one line."""

from __future__ import annotations

import pytest

from compare.errors import EvenrunError, FactorError, FileError, InputError, UnknownNameError, unknown_name


def test_a_message_has_place_matter_and_remedy():
    error = EvenrunError("it is wrong", where="job.toml", remedy="mend it")
    assert (str(error), error.what, error.where, error.remedy) == (
        "job.toml: it is wrong; mend it",
        "it is wrong",
        "job.toml",
        "mend it",
    )


def test_a_message_may_be_bare():
    assert str(EvenrunError("it is wrong")) == "it is wrong"


@pytest.mark.parametrize(
    ("kind", "builtin"),
    [(InputError, ValueError), (UnknownNameError, LookupError), (FileError, OSError), (FactorError, ValueError)],
)
def test_every_kind_is_also_the_builtin_it_is_like(kind, builtin):
    """Callers that know nothing of the tree catch what they know."""
    assert issubclass(kind, EvenrunError)
    assert issubclass(kind, builtin)


def test_a_slip_of_the_pen_finds_its_neighbour():
    error = unknown_name("laser.haeds", ["laser.heads", "die.crew"], where="here")
    assert str(error) == "here: there is no name 'laser.haeds'; did you mean laser.heads?"


def test_a_right_word_in_a_wrong_group_finds_its_group():
    known = ["carton.blank_area_m2", "sheet.tail_margin_mm", "xyz.q"]
    assert "did you mean xyz.q?" in str(unknown_name("a_very_long_group.q", known, where="here"))


def test_a_short_list_is_given_in_full():
    assert (
        str(unknown_name("zzz", ["b", "a"], where="here", what="letter"))
        == "here: there is no letter 'zzz'; there is: a, b"
    )


def test_a_long_list_is_only_named():
    known = [f"name_{i:03}" for i in range(61)]
    assert "'evenrun assumptions' lists them all" in str(unknown_name("zzz", known, where="here"))
