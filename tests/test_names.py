"""Dotted names: frozen inputs, copies with other values, and values that must go together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PRICES, PROPERTY, scenarios

from compare import EvenrunError, Inputs, replace
from compare.errors import InputError, UnknownNameError
from compare.names import flatten, parse_setting


def test_inputs_take_no_new_value():
    """A variation is a copy: two calculations that share inputs must not disturb each other."""
    inputs = Inputs({"laser.heads": 4.0})
    with pytest.raises(TypeError):
        inputs["laser.heads"] = 5.0  # type: ignore[index]


def test_inputs_take_no_new_attribute():
    with pytest.raises(AttributeError):
        Inputs({}).note = "x"  # type: ignore[attr-defined]


def test_inputs_keep_their_values_when_the_source_mapping_changes():
    source = {"laser.heads": 4.0}
    inputs = Inputs(source)
    source["laser.heads"] = 9.0
    assert inputs["laser.heads"] == 4.0


def test_replaced_inputs_keep_their_values_when_the_callers_array_changes(plain):
    """The values were checked when they were given; what the caller does with the array later must not get in."""
    grid = np.array([1000.0, 2000.0])
    varied = replace(plain().inputs, {"demand.run_length": grid})
    grid[0] = -5
    assert varied["demand.run_length"].tolist() == [1000.0, 2000.0]


def test_an_array_of_replaced_inputs_cannot_be_written_to(plain):
    varied = replace(plain().inputs, {"demand.run_length": np.array([1000.0, 2000.0])})
    with pytest.raises(ValueError, match="read-only"):
        varied["demand.run_length"][0] = -5


def test_inputs_give_a_plain_number():
    assert Inputs({"laser.heads": np.float64(4)}).number("laser.heads") == 4.0


def test_inputs_tell_which_of_them_vary():
    grid = np.array([1.0, 2.0])
    assert list(Inputs({"a.b": grid, "c.d": 1.0}).arrays()) == ["a.b"]


def test_inputs_print_their_size_and_not_two_hundred_values():
    assert repr(Inputs({"a.b": 1.0})) == "Inputs(1 names)"


@PROPERTY
@given(scenarios(), st.sampled_from(PRICES), st.floats(0, 1000, allow_subnormal=False).map(lambda v: round(v, 3)))
def test_replace_leaves_the_original_alone(scenario, name, value):
    before = dict(scenario.inputs)
    replace(scenario.inputs, {name: value})
    assert dict(scenario.inputs) == before


@PROPERTY
@given(scenarios(), st.sampled_from(PRICES), st.floats(0, 1000, allow_subnormal=False).map(lambda v: round(v, 3)))
def test_replace_changes_what_was_asked_and_nothing_else(scenario, name, value):
    after = dict(replace(scenario.inputs, {name: value}))
    assert after == {**scenario.inputs, name: value}


def test_replace_takes_a_list_for_an_array(plain):
    assert replace(plain().inputs, {"demand.run_length": [1, 2]})["demand.run_length"].tolist() == [1.0, 2.0]


def test_replace_names_the_neighbours_of_an_unknown_name(plain):
    with pytest.raises(UnknownNameError, match=r"did you mean demand\.run_length"):
        replace(plain().inputs, {"demand.runlength": 5})


def test_replace_holds_values_to_their_limits(plain):
    with pytest.raises(InputError, match=r"demand\.run_length must be a whole number"):
        replace(plain().inputs, {"demand.run_length": [10, 1.5]})


def test_replace_refuses_lists_of_unequal_length_within_one_another(plain):
    """NumPy's own error would reach the user as a traceback."""
    with pytest.raises(EvenrunError):
        replace(plain().inputs, {"demand.run_length": [[1], [1, 2]]})


def test_replace_refuses_arrays_that_do_not_go_together(plain):
    """One error tree: NumPy's own error would reach the user as a traceback."""
    with pytest.raises(EvenrunError):
        replace(plain().inputs, {"demand.run_length": [10, 20], "demand.versions": [1, 2, 3]})


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"demand.versions": 1001}, r"demand\.versions is above demand\.run_length"),
        ({"demand.versions": 3, "demand.crease_versions": 4}, r"demand\.crease_versions is above demand\.versions"),
        ({"layout.ups_die": 15}, r"layout\.ups_die blanks have a larger area than the sheet"),
        ({"layout.ups_laser": 15}, r"layout\.ups_laser blanks have a larger area than the sheet"),
        ({"layout.ups_laser": [1, 15]}, r"layout\.ups_laser blanks have a larger area than the sheet"),
    ],
)
def test_replace_refuses_values_that_contradict_one_another(plain, changes, message):
    """The plain job has 1,000 cartons of one version, and 14 blanks of 0.05 m2 fill its sheet of 0.7 m2."""
    with pytest.raises(InputError, match=message):
        replace(plain().inputs, changes)


def test_a_sheet_may_be_filled_to_the_last_square_millimetre(plain):
    """14 x 0.05 m2 is the whole sheet of 1,000 x 700 mm; rounding must not refuse it."""
    assert replace(plain().inputs, {"layout.ups_die": 14})["layout.ups_die"] == 14


def test_nested_tables_become_dotted_names():
    tree = {"laser": {"heads": 4, "deep": {"er": 1}}, "top": 2}
    assert flatten(tree) == {"laser.heads": 4, "laser.deep.er": 1, "top": 2}


@pytest.mark.parametrize("text", ["laser.heads=4", " laser.heads = 4 "])
def test_a_setting_is_a_name_and_a_value(text):
    assert parse_setting(text) == ("laser.heads", "4")


def test_a_setting_is_split_at_its_first_equals_sign():
    assert parse_setting("plant.name=a=b") == ("plant.name", "a=b")


@pytest.mark.parametrize("text", ["laser.heads", "=4", "laser.heads=", " = ", ""])
def test_a_setting_without_name_or_value_is_refused(text):
    with pytest.raises(InputError, match="write it as name=value"):
        parse_setting(text)
