"""Ranges typed into the cells of the Assumptions view: what becomes a range, what is refused, and what keeps its digits."""

from __future__ import annotations

import pytest

from compare.data_files import data_folder
from compare.errors import EvenrunError, InputError
from compare.present.numbers import PLAIN, NumberStyle
from compare.readers.jobfile import read_file
from compare.spread import Spread
from dashboard.ranges import cells_of, changed_range, check_view, in_words, varied_of
from dashboard.settings import Settings
from dashboard.state import State

SETTINGS = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
GERMAN = NumberStyle(",", ".")
NAME = "rates.labour_h"
VARIED = {NAME: Spread(NAME, "triangular", 100 / 3, 40.0, 50.0)}
"""A range whose low end has more digits than a cell shows."""


def _edited(cell, text, *, low="", high="", shape="", ranges=None, varied=None, style=PLAIN):
    row = {"name": NAME, "low": low, "high": high, "shape": shape, cell: text}
    return changed_range(row, cell, ranges or {}, varied or {}, style)


def test_the_second_end_typed_makes_a_range():
    assert _edited("high", "45", low="25") == {NAME: "25..45"}


def test_one_end_alone_asks_for_the_other():
    with pytest.raises(InputError, match="give the other end"):
        _edited("low", "25")


def test_the_end_left_alone_keeps_every_digit():
    assert _edited("high", "60", low="33.33333333", shape="triangular", varied=VARIED) == {NAME: f"{100 / 3!r}..60"}


def test_a_shape_between_two_ends_takes_them_over():
    assert _edited("shape", "pert", low="33.33333333", high="50", varied=VARIED) == {NAME: f"{100 / 3!r}..50 pert"}


@pytest.mark.parametrize(
    ("typed", "range_"),
    [("lognormal 1.2", "lognormal 1.2"), ("fixed", "fixed"), (" 25..45 pert ", "25..45 pert")],
)
def test_a_shape_can_be_typed_with_all_that_it_needs(typed, range_):
    assert _edited("shape", typed, low="1", high="2") == {NAME: range_}


@pytest.mark.parametrize("typed", ["lognormal", "lognormal wide", "round", "lognormal 0.5", "triangular"])
def test_a_shape_without_what_it_needs_is_refused(typed):
    with pytest.raises(EvenrunError):
        _edited("shape", typed)


def test_the_ends_of_a_lognormal_are_not_typed():
    varied = {NAME: Spread(NAME, "lognormal", 30.0, 36.0, 43.2)}
    with pytest.raises(InputError, match="follow from its GSD2"):
        _edited("low", "20", high="43.2", shape="lognormal 1.2", varied=varied)
    assert _edited("shape", "triangular", low="30", high="43.2", varied=varied) == {NAME: "30..43.2"}


@pytest.mark.parametrize("cell", ["low", "high", "shape"])
def test_an_emptied_cell_takes_the_range_back_and_leaves_the_others(cell):
    ranges = {NAME: "25..45", "rates.kwh": "0.1..0.3"}
    assert _edited(cell, "", low="25", high="45", ranges=ranges) == {"rates.kwh": "0.1..0.3"}


def test_ends_are_read_the_readers_way():
    assert _edited("high", "1.450,5", low="25", style=GERMAN) == {NAME: "25..1450.5"}
    assert _edited("shape", "lognormal 1,2", style=GERMAN) == {NAME: "lognormal 1.2"}


def test_a_text_that_is_no_number_is_refused():
    with pytest.raises(InputError, match="'wide' is no number"):
        _edited("high", "wide", low="25")


def test_cells_show_what_is_varied_and_nothing_where_the_value_is_taken_as_known():
    assert cells_of(NAME, {}, VARIED, GERMAN) == {"low": "33,33333333", "high": "50", "shape": "triangular"}
    assert cells_of(NAME, {}, {}, PLAIN) == {"low": "", "high": "", "shape": ""}
    assert cells_of(NAME, {NAME: "fixed"}, {}, PLAIN) == {"low": "", "high": "", "shape": "fixed"}


def test_cells_show_a_range_that_was_given_to_the_last_digit():
    given = {NAME: "12.3456789..45"}
    varied = varied_of(State({}, ranges=given), SETTINGS)
    assert cells_of(NAME, given, varied, PLAIN)["low"] == "12.3456789"


def test_the_ends_of_a_lognormal_stand_beside_its_factor():
    given = {"rates.kwh": "lognormal 1.3"}
    cells = cells_of("rates.kwh", given, varied_of(State({}, ranges=given), SETTINGS), PLAIN)
    assert cells == {"low": "0.1462", "high": "0.247", "shape": "lognormal 1.3"}  # 0.19 / 1.3 and 0.19 x 1.3


def test_what_other_inputs_are_worked_out_from_can_have_no_range():
    """Else a view would hold a range that no answer can take into account."""
    with pytest.raises(InputError, match="worked out from it"):
        check_view(State({}, ranges={"carton.length_mm": "70..80"}), SETTINGS)


def test_where_values_contradict_one_another_nothing_is_varied():
    assert varied_of(State({"demand.versions": 30_000.0}), SETTINGS) == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("4000..9000", "4.000 to 9.000, triangular"),
        ("1.5..2 pert", "1,5 to 2, pert"),
        ("lognormal 1.25", "lognormal 1,25"),
        ("fixed", "fixed"),
    ],
)
def test_a_range_is_said_in_words(text, said):
    from dashboard.ranges import given_of

    assert in_words(given_of({NAME: text}, NAME), GERMAN) == said
