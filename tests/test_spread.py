"""Ranges as they are given: read, written, refused in one line."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st

from compare import assumption_table
from compare.errors import EvenrunError
from compare.readers.jobfile import check_ranges, ranges_layer, read_file
from compare.spread import Given, Spread, given, own_range, read_given, spread_of

POWER = assumption_table()["laser.power_w"]


def _read(text):
    return read_given(text, name="laser.power_w", where="--between")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("4000..9000", Given("triangular", 4000, 9000)),
        (" 4_000 .. 9e3 pert ", Given("pert", 4000, 9000)),
        (".5..1.5", Given("triangular", 0.5, 1.5)),
        ("-120..-40", Given("triangular", -120, -40)),
        ("lognormal 1.2", Given("lognormal", gsd2=1.2)),
        ("fixed", Given("fixed")),
    ],
)
def test_a_range_is_read(text, expected):
    assert _read(text) == expected


@settings(max_examples=100, deadline=None, derandomize=True)
@drawn(st.floats(-1e9, 1e9), st.floats(0, 1e9), st.sampled_from(["triangular", "pert"]))
def test_a_range_that_is_written_is_read_back_to_the_last_digit(low, width, shape):
    """Links and records carry ranges as text."""
    range_ = Given(shape, low, low + width)
    assert _read(str(range_)) == range_


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("9000..4000", "low end .9000. above its high end .4000."),
        ("4000", "can't be read; write it as low..high"),
        ("", "can't be read"),
        ("4000..x", "can't be read"),
        ("_.._", "can't be read"),
        ("4__0..5", "can't be read"),
        ("lognormal", "without a measure of its width; give gsd2, or pedigree and basic"),
        ("lognormal wide", "can't be read"),
        ("lognormal 0.5", "GSD2 = 0.5; give a number from 1 to 100"),
        ("lognormal nan", "no number"),
        ("pert", "needs a low and a high end"),
        ("4..5 uniform", "shape 'uniform'; give one of fixed, triangular, pert, lognormal"),
    ],
)
def test_a_range_that_can_not_be_read_says_why(text, words):
    with pytest.raises(EvenrunError, match=words):
        _read(text)


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"low": 1}, "needs a low and a high end"),
        ({"low": 1, "high": "two"}, "high = 'two', which is no number"),
        ({"low": True, "high": 2}, "low = True, which is no number"),
        ({"low": float("nan"), "high": 2}, "no number"),
        ({"low": 1, "high": 2, "gsd2": 1.2}, "lognormal and has ends"),
        ({"low": 1, "high": 2, "gsd2": 1.2, "shape": "pert"}, "needs a low and a high end"),
        ({"pedigree": [1, 2, 3], "basic": 1.05}, "five scores from 1 to 5"),
        ({"pedigree": [1, 2, 3, 4, 6], "basic": 1.05}, "five scores from 1 to 5"),
        ({"pedigree": "12345", "basic": 1.05}, "pedigree that can't be read"),
        ({"pedigree": [2, 3, 2, 2, 3]}, "pedigree that can't be read"),
        ({"pedigree": [2, 3, 2, 2, 3], "basic": 0.5}, "basic factor is 0.5"),
        ({"shape": "fixed", "low": 1}, "fixed and has ends"),
        ({"lo": 1, "high": 2}, "part 'lo'"),
    ],
)
def test_parts_that_do_not_go_together_say_why(parts, words):
    with pytest.raises(EvenrunError, match=words):
        given(parts, name="laser.power_w", where="plant.toml")


def test_a_pedigree_becomes_its_gsd2():
    found = given({"pedigree": [2, 3, 2, 2, 3], "basic": 1.05}, name="factors.kwh", where="plant.toml")
    assert found.gsd2 == pytest.approx(1.22551, abs=5e-6)


def test_a_value_outside_its_range_is_refused():
    with pytest.raises(EvenrunError, match=r"laser\.power_w is 1000, outside its range from 2000 to 3000"):
        spread_of(POWER, 1000, Given("triangular", 2000, 3000), where="--between")


def test_a_range_outside_what_the_input_may_be_is_refused():
    with pytest.raises(EvenrunError, match="above 0"):
        spread_of(POWER, 1000, Given("triangular", -5, 3000), where="--between")


def test_only_a_number_above_zero_is_lognormal():
    row = assumption_table()["rates.waste_board_t"]
    with pytest.raises(EvenrunError, match="only a number above 0 can be lognormal"):
        spread_of(row, -60, Given("lognormal", gsd2=1.2), where="--between")


def test_a_file_gives_value_and_range_in_one_place(tmp_path):
    file = tmp_path / "plant.toml"
    file.write_text(
        '[rates]\nlabour_h = { value = 34, low = 30, high = 40, shape = "pert" }\n'
        "kwh = 0.19\n[factors]\nkwh = { pedigree = [2, 3, 2, 2, 3], basic = 1.05 }\n"
    )
    layer = read_file(file, kind="plant")
    assert layer.values == {"rates.labour_h": 34, "rates.kwh": 0.19}
    assert layer.ranges["rates.labour_h"] == Given("pert", 30, 40)
    assert layer.ranges["factors.kwh"].shape == "lognormal"


@pytest.mark.parametrize("name", ["plant.name", "laser.motion"])
def test_a_text_has_no_range(name):
    with pytest.raises(EvenrunError, match="is a text and has no range"):
        check_ranges({name: "1..2"}, where="link")


def test_an_unknown_name_is_told():
    with pytest.raises(EvenrunError, match=r"laser\.powr_w"):
        ranges_layer(["laser.powr_w=1..2"])


def test_a_setting_without_a_sign_is_told_with_an_example():
    with pytest.raises(EvenrunError, match=r"'laser\.power_w' is not a range; write it as name=value, such as demand"):
        ranges_layer(["laser.power_w"])


def test_every_range_of_the_table_can_be_drawn():
    """Ends that the input itself may not have would surface in a draw."""
    for row in assumption_table().values():
        range_ = None if row.is_text else own_range(row)
        if range_ is not None and isinstance(row.value, float):
            spread = spread_of(row, row.value, range_, where="table")
            values = spread.ppf(np.array([1e-6, 0.1, 0.5, 0.9, 1 - 1e-6]))
            row.check(np.where(np.abs(values) < 1e-6, 0, values), where="table")
            assert np.all(np.diff(values) >= 0)


def test_whole_numbers_stay_whole():
    values = Spread("demand.run_length", "triangular", 10, 20, 30, whole=True).ppf(np.linspace(0.01, 0.99, 50))
    assert np.all(values == np.round(values))


def test_a_range_without_width_is_its_value():
    assert np.all(Spread("laser.power_w", "pert", 5, 5, 5).ppf(np.array([0.1, 0.9])) == 5)
