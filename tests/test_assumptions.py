"""The table of assumptions: every default has a unit, a range, a basis and a source, and every name is real."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from pydantic import ValidationError

from compare import Assumption, assumption_table
from compare.assumptions import Limits
from compare.errors import InputError
from compare.routes.inventory import RESOURCES
from compare.scenario import NEEDED
from compare.sheet_ups import LAYOUT_NAMES

ROOT = Path(__file__).resolve().parents[1]
ROWS = list(assumption_table().values())
NO_SOURCE = ("", "none", "none: enter your own")


def _raw_rows() -> list[dict[str, str]]:
    with (ROOT / "data" / "assumptions.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _source_of(*folders: str) -> str:
    files = (path for folder in folders for path in sorted((ROOT / "compare" / folder).rglob("*.py")))
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


# -- the data ---------------------------------------------------------------------------------------------------------


def test_every_name_stands_once():
    """The table is read into a dictionary, which would hide a row that stands twice."""
    names = [row["name"] for row in _raw_rows()]
    assert sorted(names) == sorted(set(names))


def test_every_row_has_as_many_cells_as_the_header():
    """A comma too many in a note would shift what follows."""
    assert [row["name"] for row in _raw_rows() if None in row or None in row.values()] == []


def test_every_name_is_a_group_and_a_word():
    assert [row.name for row in ROWS if not re.fullmatch(r"[a-z_]+\.[a-z0-9_]+", row.name)] == []


@pytest.mark.parametrize("column", ["unit", "basis", "meaning", "valid", "shape"])
def test_every_row_fills_the_column(column):
    assert [row.name for row in ROWS if not str(getattr(row, column)).strip()] == []


def test_every_default_says_where_it_comes_from():
    """No naked number: a source, a note, or at least the word that there is none."""
    assert [row.name for row in ROWS if row.value is not None and not (row.source or row.note)] == []


def test_what_is_called_published_or_from_memory_names_its_source():
    claimed = [row for row in ROWS if row.basis in ("published", "from memory") and not row.is_text]
    assert [row.name for row in claimed if row.source.strip().lower() in NO_SOURCE] == []


def test_what_is_an_example_claims_no_source():
    """An invented price with a source beside it would look like a fact."""
    assert [row.name for row in ROWS if row.basis == "example" and not row.source.startswith("none")] == []


def test_every_uncertain_default_lies_in_its_range():
    spread = [row for row in ROWS if row.shape != "fixed" and not row.is_text and row.value is not None]
    outside = [r.name for r in spread if r.low is None or r.high is None or not r.low <= r.value <= r.high]
    assert outside == []


def test_every_uncertain_number_has_a_range():
    assert [r.name for r in ROWS if r.shape != "fixed" and (r.low is None or r.high is None or r.low >= r.high)] == []


def test_what_does_not_vary_has_no_range():
    """An analysis takes the rows with a range: one from 0 to 0 would be drawn for nothing."""
    assert [row.name for row in ROWS if row.shape == "fixed" and row.low is not None] == []


def test_a_range_has_both_ends_or_none():
    assert [row.name for row in ROWS if (row.low is None) != (row.high is None)] == []


def test_every_number_has_limits_that_can_be_read():
    for row in ROWS:
        if not row.is_text:
            assert isinstance(row.limits, Limits), row.name


def test_every_default_and_both_ends_of_its_range_are_allowed_values():
    """An analysis draws from the range: what it draws must not be refused."""
    numbers = [row for row in ROWS if not row.is_text]
    refused = [
        (row.name, value, fault)
        for row in numbers
        for value in (row.value, row.low, row.high)
        if value is not None and (fault := row.limits.fault(value))
    ]
    assert refused == []


def test_every_default_text_is_one_of_its_choices():
    choices = [row for row in ROWS if row.is_text and "|" in row.valid and row.value is not None]
    assert [row.name for row in choices if row.value not in row.valid.split("|")] == []


def test_a_switch_is_marked_as_one_by_its_unit():
    assert [row.name for row in ROWS if (row.unit == "0/1") != (row.valid == "0|1")] == []


def test_what_is_counted_or_measured_can_not_be_negative():
    """Only the price of waste board may be: it is often sold."""
    assert [row.name for row in ROWS if not row.is_text and row.limits.low < 0] == ["rates.waste_board_t"]


@pytest.mark.parametrize("name", sorted({*NEEDED, *LAYOUT_NAMES}))
def test_every_needed_name_is_in_the_table(name):
    assert name in assumption_table()


def test_what_a_job_must_give_has_no_default():
    """Otherwise the question would never be asked."""
    given = [name for name in NEEDED if assumption_table()[name].value is not None]
    assert given == []


def test_every_name_the_routes_read_is_in_the_table():
    used = set(re.findall(r'x\["([^"]+)"\]', _source_of("routes")))
    assert len(used) > 50, "the pattern no longer finds what the routes read"
    assert sorted(used - set(assumption_table())) == []


def test_every_dotted_name_a_formula_in_words_shows_is_in_the_table():
    shown = set(re.findall(r"\{([a-z_]+\.[a-z0-9_]+)\}", _source_of("routes")))
    assert len(shown) > 20, "the pattern no longer finds the formulas"
    assert sorted(shown - set(assumption_table())) == []


def _prices_and_factors() -> Iterator[str]:
    for resource in RESOURCES.values():
        yield from filter(None, (resource.price, resource.cash_price, *resource.carbon))


def test_every_price_and_factor_of_a_resource_is_in_the_table():
    assert sorted(set(_prices_and_factors()) - set(assumption_table())) == []


def test_every_row_is_read_by_the_program():
    """A row that nothing reads is an input without effect. Groups read as a whole are known by their last word."""
    source = _source_of("")
    prefixed = ("carton.", "cutouts.", "press_capital.", "line_capital.")
    unread = []
    for row in ROWS:
        tail = row.name.split(".", 1)[1]
        written = (row.name, f".{tail}") if not row.name.startswith(prefixed) else (row.name, f'"{tail}"')
        if row.name.startswith("factors.") and row.name != "factors.set":
            written = (f'"{tail}"',)
        if not any(text in source for text in written):
            unread.append(row.name)
    assert unread == []


def test_the_table_cannot_be_changed():
    with pytest.raises(TypeError):
        assumption_table()["a.b"] = ROWS[0]  # type: ignore[index]


def test_a_row_cannot_be_changed():
    with pytest.raises(ValidationError):
        ROWS[0].value = 3.0  # type: ignore[misc]


# -- limits -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "limits"),
    [
        ("any", Limits()),
        ("0|1", Limits(low=0, high=1, switch=True)),
        (">0", Limits(low=0, low_open=True)),
        (">=0", Limits(low=0)),
        (">=1 whole", Limits(low=1, whole=True)),
        (">=0.0582", Limits(low=0.0582)),
        ("0..1", Limits(low=0, high=1)),
        ("0<..1", Limits(low=0, high=1, low_open=True)),
        ("0..<1", Limits(low=0, high=1, high_open=True)),
        ("1..100 whole", Limits(low=1, high=100, whole=True)),
    ],
)
def test_limits_are_read(text, limits):
    assert Limits.parse(text) == limits


@pytest.mark.parametrize("text", ["", "below 3", ">", "1..", "..1", "<1", "1-2"])
def test_limits_that_can_not_be_read_are_refused(text):
    """A misprint in the table must not turn into 'any value will do'."""
    with pytest.raises(ValueError, match="can't be read"):
        Limits.parse(text)


@pytest.mark.parametrize(
    ("text", "good", "bad"),
    [
        (">0", 0.5, 0.0),
        (">=0", 0.0, -0.5),
        (">=1 whole", 3.0, 3.5),
        ("0..1", 1.0, 1.5),
        ("0<..1", 1.0, 0.0),
        ("0..<1", 0.0, 1.0),
        ("0|1", 1.0, 0.5),
        ("any", -5.0, np.nan),
        ("any", 0.0, np.inf),
        ("any", 1e12, 2e12),
        ("any", 1e-9, 1e-10),
    ],
)
def test_limits_tell_good_values_from_bad_ones(text, good, bad):
    limits = Limits.parse(text)
    assert (limits.fault(good), bool(limits.fault(bad))) == ("", True)


def test_one_bad_value_spoils_an_array():
    assert Limits.parse(">0").fault(np.array([1.0, -1.0])) == "must be above 0"


def test_one_half_switch_spoils_an_array_of_switches():
    assert Limits.parse("0|1").fault(np.array([0.0, 1.0, 0.5])) == "must be 0 or 1"


def test_an_empty_array_is_no_value():
    assert Limits.parse("any").fault(np.array([])) == "is empty"


@pytest.mark.parametrize("array", [np.array(["a"]), np.array([None]), np.array([True])])
def test_an_array_of_something_else_is_no_number(array):
    assert Limits.parse("any").fault(array) == "is not a number"


def test_a_complex_number_is_no_number():
    assert Limits.parse("any").fault(np.array([1 + 2j])) == "is not a number"


# -- checking one value -----------------------------------------------------------------------------------------------


def _check(name: str, value: object) -> object:
    return assumption_table()[name].check(value, where="here")


@pytest.mark.parametrize("value", [4, 4.0, np.float64(4), np.int64(4), np.float32(4)])
def test_a_number_of_any_kind_becomes_a_plain_one(value):
    checked = _check("laser.heads", value)
    assert (type(checked), checked) == (float, 4.0)


@pytest.mark.parametrize("value", [[1, 2], (1, 2), np.array([1, 2])])
def test_a_list_becomes_an_array_of_floats(value):
    checked = _check("laser.heads", value)
    assert isinstance(checked, np.ndarray)
    assert (checked.dtype, checked.tolist()) == (np.float64, [1.0, 2.0])


@pytest.mark.parametrize(("value", "number"), [(True, 1.0), (False, 0.0)])
def test_a_switch_takes_true_and_false(value, number):
    assert _check("tooling.owned", value) == number


def test_true_is_no_number():
    """In Python True is 1, but nobody means one laser head by it."""
    with pytest.raises(InputError, match=r"laser.heads is 'true', which is not a number"):
        _check("laser.heads", True)


@pytest.mark.parametrize("value", ["four", None, {"a": 1}, object()])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(InputError, match="which is not a number"):
        _check("laser.heads", value)


@pytest.mark.parametrize("value", [10**400, -(10**400)])
def test_a_whole_number_beyond_every_float_is_refused(value):
    """A file may hold whole numbers of any size; turning one into a float would overflow."""
    with pytest.raises(InputError, match=r"rates.waste_board_t must be 0, or from"):
        _check("rates.waste_board_t", value)


def test_the_refusal_says_where_what_and_what_to_do():
    with pytest.raises(InputError) as caught:
        _check("laser.heads", 1.5)
    assert str(caught.value) == (
        "here: laser.heads must be a whole number (it is 1.5); give a whole number from 1 in heads"
    )


@pytest.mark.parametrize(
    ("name", "remedy"),
    [
        ("tooling.owned", "give 0 or 1"),
        ("laser.power_w", "give a number above 0 in W/head"),
        ("laser.balance", "give a number from 0 to 1"),
        ("rates.waste_board_t", "give a number in money/t"),
        ("demand.versions", "give a whole number from 1"),
    ],
)
def test_the_remedy_fits_the_limits(name, remedy):
    with pytest.raises(InputError) as caught:
        _check(name, np.nan)
    assert caught.value.remedy == remedy


def test_the_unit_takes_the_currency_of_the_plant():
    assert assumption_table()["rates.labour_h"].unit_in("SEK") == "SEK/h"


def test_an_unknown_basis_is_refused():
    """Where a value comes from is one of a few words, so that it can be counted and filtered."""
    raw = {**_raw_rows()[0], "basis": "hearsay"}
    with pytest.raises(ValidationError):
        Assumption.model_validate(raw)
