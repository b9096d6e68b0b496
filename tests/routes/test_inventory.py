"""Flows are data: every resource is known to every valuation, and every formula in words can be read."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from random_jobs import PROPERTY, scenarios

from compare.assumptions import assumption_table
from compare.errors import Finding
from compare.routes import die, laser
from compare.routes.inventory import RESOURCES, STAGES, board_flows, fill_in

WAYS = ("separate", "ganged", "laser")


def _inventory(scenario, way):
    return laser.inventory(scenario.inputs) if way == "laser" else die.inventory(scenario.inputs, way)


@pytest.fixture
def mixed(load):
    """A job with several versions on one sheet and every kind of line, so that nothing is left out."""
    kinds = ("cutting_creasing", "perforating", "partial_cutting", "varnish_release")
    return load("soap_sleeve", *(f"work.{kind}_m=0.1" for kind in kinds))


# -- resources --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(RESOURCES))
def test_a_resource_has_a_unit(name):
    assert RESOURCES[name].unit.strip()


@pytest.mark.parametrize("name", sorted(RESOURCES))
def test_a_resource_has_a_price_or_says_why_it_has_none(name):
    """Exactly one of both: a reason beside a price would be a lie."""
    assert bool(RESOURCES[name].price) != bool(RESOURCES[name].no_price)


@pytest.mark.parametrize("name", sorted(RESOURCES))
def test_a_resource_has_a_carbon_factor_or_says_why_it_has_none(name):
    assert bool(RESOURCES[name].carbon) != bool(RESOURCES[name].no_carbon)


@pytest.mark.parametrize("name", sorted(RESOURCES))
def test_a_price_is_money_per_unit_of_the_resource(name):
    """Units multiply out: kg x money/t needs a scale of 1/1,000, anything else none."""
    entry = RESOURCES[name]
    for names in [(name,) for name in (entry.price, entry.cash_price) if name]:
        unit = assumption_table()[names[0]].unit
        per = unit.removeprefix("money/").strip("()")
        expected = {"t": ("kg", 1e-3)}.get(per, (per, 1.0))
        assert (entry.unit, entry.price_scale) == expected


@pytest.mark.parametrize("name", sorted(name for name, entry in RESOURCES.items() if entry.carbon))
def test_a_carbon_factor_ends_in_a_factor_of_the_set(name):
    """A mass per unit may stand before it; the last is kg CO2e per unit."""
    *masses, factor = RESOURCES[name].carbon
    unit = RESOURCES[name].unit
    assert factor.startswith("factors.")
    assert [assumption_table()[n].unit for n in masses] == [f"kg/{unit}"] * len(masses)


def test_only_the_kerf_is_biogenic():
    """Biogenic CO2 stands apart from the sum; a second such resource would need a word in the documents."""
    assert [name for name, entry in RESOURCES.items() if entry.biogenic] == ["kerf"]


@pytest.mark.parametrize("way", WAYS)
def test_every_flow_names_a_stage_and_a_resource(mixed, way):
    flows = _inventory(mixed, way).flows
    assert [f for f in flows if f.stage not in STAGES or f.resource not in RESOURCES] == []


def test_every_resource_flows_on_some_route(mixed):
    used = {flow.resource for way in WAYS for flow in _inventory(mixed, way).flows}
    assert set(RESOURCES) - used == set()


def test_a_flow_has_the_unit_of_its_resource(mixed):
    flow = next(f for f in _inventory(mixed, "laser").flows if f.resource == "crease set")
    assert flow.unit == "set"


# -- formulas in words ------------------------------------------------------------------------------------------------


@PROPERTY
@given(scenarios())
def test_every_formula_in_words_can_be_filled_in(scenario):
    for way in WAYS:
        found = _inventory(scenario, way)
        for flow in found.flows:
            text = fill_in(flow.because, found.counts, scenario.inputs)
            assert text
            assert not set(text) & set("{}")


@pytest.mark.parametrize("way", WAYS)
def test_every_formula_in_words_has_something_to_say(mixed, way):
    assert [f.resource for f in _inventory(mixed, way).flows if not re.search(r"[a-z]{3}", f.because)] == []


def test_a_formula_in_words_holds_when_it_is_worked_out(plain):
    """Read back: the numbers of the sentence give the quantity beside it."""
    x = plain({"layout.ups_die": 4, "work.cutting_m": 1.25}).inputs
    found = die.inventory(x, "separate")
    flow = next(f for f in found.flows if f.resource == "cutting rule")
    text = fill_in(flow.because, found.counts, x)
    assert text.startswith("(1 new-set equivalents + 0 re-rulings) x 4 ups x 1.25 m")
    assert flow.quantity == (1 + 0) * 4 * 1.25


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (12, "12"),
        (12_345.0, "12,345"),
        (0.123456, "0.1235"),
        (999.96, "1,000"),
        (1234.56, "1,234.6"),
        (-3.0, "-3"),
        (1e20, "100,000,000,000,000,000,000.0"),
    ],
)
def test_numbers_in_sentences_carry_no_more_digits_than_needed(value, text):
    assert fill_in("{n}", {"n": value}, {}) == text


def test_facts_stand_before_inputs():
    assert fill_in("{a}", {"a": 1.0}, {"a": 2.0}) == "1"


def test_an_unknown_name_in_a_sentence_is_an_error():
    """It must not reach the user as a pair of braces."""
    with pytest.raises(KeyError):
        fill_in("{nothing}", {}, {})


# -- sums -------------------------------------------------------------------------------------------------------------


def test_quantities_are_summed_over_all_stages_or_some(mixed):
    found = _inventory(mixed, "laser")
    ready, running = (found.quantity("laser time", [stage]) for stage in ("make-ready", "running"))
    assert found.quantity("laser time") == pytest.approx(ready + running, rel=1e-15)
    assert ready > 0 < running


def test_a_resource_that_is_not_used_sums_to_nothing(mixed):
    assert _inventory(mixed, "laser").quantity("tool set") == 0


@pytest.mark.parametrize("way", WAYS)
def test_machine_time_and_electricity_are_those_of_the_flows(mixed, way):
    """They are carried beside the flows and must not drift apart from them."""
    found = _inventory(mixed, way)
    machine = "laser time" if way == "laser" else "press time"
    assert (found.quantity(machine), found.quantity("electricity")) == pytest.approx(
        (found.machine_hours, found.kwh), rel=1e-12
    )


def test_board_is_booked_by_what_becomes_of_it():
    """Derived: 110 sheets of 0.2 kg, 100 good with 4 cartons of 0.04 kg each; 390 cartons were ordered."""
    flows, _ = board_flows(sheets=110.0, good_sheets=100.0, ups_used=4.0, cartons=390.0, sheet_kg=0.2, blank_kg=0.04)
    booked = [(f.stage, f.resource, f.quantity) for f in flows]
    assert booked == [
        ("material", "board", pytest.approx(20)),
        ("material", "print", 100),
        ("waste", "board", pytest.approx(2)),
        ("waste", "print", 10),
        ("waste", "waste board", pytest.approx(2)),
        ("waste", "waste board", pytest.approx(4)),
        ("waste", "waste board", pytest.approx(0.4)),
    ]


def test_a_finding_is_a_note_unless_it_says_more():
    assert Finding("a.b", "Mind the gap.").kind == "note"
