"""State in the address: what goes into a link comes out of it, and nothing in a link can bring a page down."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW, PROPERTY, job_values

from compare.assumptions import assumption_table
from compare.data_files import data_folder
from compare.decide.comparison import compare
from compare.errors import EvenrunError, InputError
from compare.readers.jobfile import Layer, check_values, read_file
from compare.spread import Given
from dashboard.settings import Settings
from dashboard.state import (
    DIGEST_KEY,
    State,
    base_values,
    comparison_of,
    differing,
    from_json,
    read_link,
    scenario_of,
    starter,
    tables_digest,
    to_json,
    uncertainty_of,
    write_link,
)

PLANT = read_file(data_folder() / "plants" / "northfold.toml", kind="plant")
SETTINGS = Settings(plant=PLANT)
TABLE = assumption_table()
NUMBERS = [name for name, row in TABLE.items() if not row.is_text]


def _valid_value(name):
    """Any value that the table of assumptions lets an input have."""
    row = TABLE[name]
    if row.is_text:
        choices = row.valid.split("|")
        if len(choices) > 1:
            return st.sampled_from(choices)
        return st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12)
    if row.limits.switch:
        return st.sampled_from([0.0, 1.0])
    numbers = st.integers(0, 10**7).map(float) if row.limits.whole else st.floats(-1e6, 1e9, allow_subnormal=False)
    return numbers.filter(lambda value: not row.limits.fault(value))


overrides = st.lists(st.sampled_from(list(TABLE)), max_size=8, unique=True).flatmap(
    lambda names: st.fixed_dictionaries({name: _valid_value(name) for name in names})
)


ends = st.floats(-1e9, 1e9, allow_subnormal=False)
written = (
    st.tuples(ends, ends, st.sampled_from(["triangular", "pert"])).map(
        lambda of: str(Given(of[2], min(of[:2]), max(of[:2])))
    )
    | st.floats(1, 100).map(lambda gsd2: str(Given("lognormal", gsd2=gsd2)))
    | st.just("fixed")
)
ranges = st.dictionaries(st.sampled_from(NUMBERS), written, max_size=6)


@PROPERTY
@given(overrides, ranges, st.sampled_from(["full", "cash"]))
def test_a_link_gives_back_every_input_to_the_last_digit(values, between, costing):
    """A step such as the last sheet begun may hang on the last digit, and then so do the figures."""
    state = State(check_values(values, where="test"), costing, ranges=between)
    assert read_link(write_link(state, SETTINGS), SETTINGS) == state


@PROPERTY
@given(overrides, ranges, st.sampled_from(["full", "cash"]))
def test_the_browser_gives_back_every_input(values, between, costing):
    state = State(check_values(values, where="test"), costing, ranges=between)
    assert from_json(to_json(state)) == state


@FEW
@given(job_values())
def test_a_link_opens_to_the_same_figures(values):
    state = State(check_values({"carton.style": "", "board.grade": "", **values}, where="test"))
    c, again = (
        compare(scenario_of(one.overrides, SETTINGS))
        for one in (state, read_link(write_link(state, SETTINGS), SETTINGS))
    )
    assert (again.die.cost_per_1000, again.laser.co2e_per_1000) == (c.die.cost_per_1000, c.laser.co2e_per_1000)


def test_a_link_of_everything_that_a_plant_may_set_can_be_opened():
    """A plant without a file of its own types all its values into the page, and then sends a link."""
    values = {name: row.low + (row.high - row.low) / 3 for name, row in TABLE.items() if row.low is not None}
    values = {name: float(round(v)) if TABLE[name].limits.whole else v for name, v in values.items()}
    state = State(check_values(values, where="test"))
    assert read_link(write_link(state, SETTINGS), SETTINGS) == state


@PROPERTY
@given(st.text(max_size=300) | st.text("&=%;+?.0aé", max_size=900) | st.integers(0, 9000).map("&".__mul__))
def test_no_text_as_a_link_is_an_error(text):
    assert isinstance(read_link(text, SETTINGS), State)


words = st.sampled_from([*TABLE, "costing", "tables", "", "x"])
odd_values = st.text(max_size=9) | st.sampled_from(["nan", "inf", "-1e999", "1e-400", "0x10", "١٢", "1_0", "9" * 400])


@PROPERTY
@given(st.lists(st.tuples(words, odd_values), max_size=6))
def test_whatever_a_link_gives_an_input_is_checked_or_left_out_with_a_word(pairs):
    from urllib.parse import urlencode

    text = urlencode([(name, value.encode("utf-8", "replace")) for name, value in pairs])
    state = read_link("?" + text, SETTINGS)
    assert check_values(state.overrides, where="test") == state.overrides
    named = [name for name, _ in pairs if name not in ("costing", "tables")]
    assert len(state.overrides) + len(state.notes) >= len(set(named))


def test_a_value_out_of_its_limits_is_left_out_and_named():
    state = read_link("?demand.run_length=75000&demand.versions=0", SETTINGS)
    assert state.overrides == {"demand.run_length": 75_000.0}
    assert [("demand.versions" in note, "Left out" in note) for note in state.notes] == [(True, True)]


def test_a_range_in_a_link_counts_in_the_scenario():
    state = read_link("?between.demand.run_length=4000..90000+pert", SETTINGS)
    assert state.ranges == {"demand.run_length": "4000..90000 pert"}
    spread = scenario_of(state.overrides, SETTINGS, state.ranges).ranges["demand.run_length"]
    assert (spread.low, spread.high, spread.shape) == (4_000, 90_000, "pert")


@pytest.mark.parametrize(
    ("pair", "said"),
    [
        ("between.demand.run_length=9000..4000", "above its high end"),
        ("between.demand.run_length=about+5000", "can't be read"),
        ("between.demand.colour=1..2", "demand.colour"),
        ("between.plant.country=1..2", "has no range"),
        ("between.=1..2", "Left out of this link"),
    ],
)
def test_a_range_that_cannot_be_is_left_out_of_a_link_and_named(pair, said):
    state = read_link(f"?{pair}&demand.run_length=75000", SETTINGS)
    assert (state.ranges, state.overrides) == ({}, {"demand.run_length": 75_000.0})
    (note,) = state.notes
    assert said in note


def test_what_a_link_came_to_find_is_no_input_and_in_no_link_that_is_written():
    state = read_link("?demand.run_length=75000&find=laser.power_w", SETTINGS)
    assert (state.find, state.notes) == ("laser.power_w", ())
    assert "find" not in write_link(state, SETTINGS)
    assert "find" not in to_json(state)


def test_states_that_differ_in_a_range_alone_are_not_taken_for_one_another():
    wide = State({}, ranges={"demand.run_length": "2000..200000"})
    one, other = (uncertainty_of(state, SETTINGS) for state in (State({}), wide))
    assert one.at_quote["cost"]["die"] != other.at_quote["cost"]["die"]
    assert comparison_of(wide, SETTINGS).scenario.ranges.keys() - comparison_of(
        State({}), SETTINGS
    ).scenario.ranges == {"demand.run_length"}
    assert uncertainty_of(State({}), SETTINGS) is one  # what was computed lately is at hand


def test_a_note_ends_with_one_mark():
    """A note that asks whether another name was meant ends with its question."""
    (asks, says) = read_link("?demand.colour=7&demand.versions=0", SETTINGS).notes
    assert asks.endswith("?")
    assert says.endswith(".")
    assert not says.endswith("..")


def test_a_link_that_is_too_long_is_not_read_at_all():
    state = read_link("?demand.run_length=75000&" + "x" * 9000, SETTINGS)
    assert state.overrides == {}
    assert "too long" in state.notes[0]


def test_a_new_page_has_no_inputs_in_its_address():
    assert write_link(State({}), SETTINGS) == ""
    assert read_link("", SETTINGS) == read_link(None, SETTINGS) == State({})


@pytest.mark.parametrize("digest", ["0" * 12, "", "x", tables_digest(SETTINGS)[:-1]])
def test_a_link_with_another_digest_says_that_tables_have_changed(digest):
    state = read_link(f"?demand.run_length=75000&{DIGEST_KEY}={digest}", SETTINGS)
    assert state.overrides == {"demand.run_length": 75_000.0}
    assert state.notes == ("Assumptions, factors or the plant's values have changed since this link was made.",)


def test_a_link_made_at_another_plant_says_that_values_have_changed():
    """The address does not hold the plant's rates, so they must not change behind its back."""
    other = Settings(plant=Layer("other", {**PLANT.values, "rates.labour_h": 35.0}))
    link = write_link(State({"demand.run_length": 75_000.0}), other)
    assert read_link(link, other).notes == ()
    assert len(read_link(link, SETTINGS).notes) == 1


def test_a_link_made_before_the_plants_ranges_changed_says_so():
    """They tell how sure an answer is, and the address does not hold them either."""
    other = Settings(plant=Layer("other", PLANT.values, ranges={}))
    link = write_link(State({"demand.run_length": 75_000.0}), other)
    assert len(read_link(link, SETTINGS).notes) == 1


def test_the_digest_is_the_same_in_every_process():
    """Else each worker of a server would call the links of the others outdated."""
    import subprocess
    import sys

    code = (
        "from compare.data_files import data_folder; from compare.readers.jobfile import read_file; "
        "from dashboard.settings import Settings; from dashboard.state import tables_digest; "
        "print(tables_digest(Settings(plant=read_file(data_folder() / 'plants' / 'northfold.toml', kind='plant'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == tables_digest(SETTINGS)


def test_only_what_differs_from_a_new_page_is_kept():
    base = base_values(SETTINGS)
    assert differing(base, SETTINGS) == {}
    changed = {"rates.labour_h": 35.0}
    assert differing({**base, **changed}, SETTINGS) == changed


def test_a_new_page_is_the_starter_job_at_the_plant():
    scenario = scenario_of({}, SETTINGS)
    assert scenario.inputs["demand.run_length"] == starter().values["demand.run_length"]
    assert scenario.inputs["rates.labour_h"] == PLANT.values["rates.labour_h"]


@pytest.mark.parametrize(
    "sent",
    [
        None,
        7,
        "x",
        [],
        {},
        {"overrides": None},
        {"overrides": [1]},
        {"overrides": {"x": 1}},
        {"overrides": {"demand.versions": 0}},
        {"overrides": {}, "ranges": ["demand.run_length"]},
        {"overrides": {}, "ranges": {"demand.run_length": 7}},
        {"overrides": {}, "ranges": {"demand.run_length": "wide"}},
        {"overrides": {}, "ranges": {"x": "1..2"}},
    ],
)
def test_a_state_that_no_page_sends_is_refused(sent):
    with pytest.raises(EvenrunError):
        from_json(sent)


def test_a_costing_that_is_none_counts_as_full_costing():
    assert from_json({"overrides": {}, "costing": "free"}).costing == "full"
    assert read_link("?costing=free", SETTINGS).costing == "full"


def test_the_refusal_of_a_state_tells_what_to_do():
    with pytest.raises(InputError, match="load the page again"):
        from_json({})
