"""Carbon: quantities times emission factors, biogenic carbon apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY, scenarios

from compare import evaluate, replace
from compare.factors import ROLES
from compare.routes import die, laser
from compare.routes.inventory import RESOURCES
from compare.valuation.carbon import factor, flow_carbon, total_carbon

SUMMED = [f"factors.{role}" for role in ROLES if role != "kerf_biogenic_kg"]


def _inventories(x):
    return die.inventory(x, "separate"), die.inventory(x, "ganged"), laser.inventory(x)


@PROPERTY
@given(scenarios(), st.booleans())
def test_the_total_is_the_sum_of_its_lines(scenario, biogenic):
    x = scenario.inputs
    for inventory in _inventories(x):
        lines = [float(m) for m in flow_carbon(inventory, x, biogenic=biogenic)]
        assert float(total_carbon(inventory, x, biogenic=biogenic)) == pytest.approx(sum(lines), rel=1e-9)


@PROPERTY
@given(scenarios(), st.sampled_from(SUMMED), st.floats(0.001, 20).map(lambda v: round(v, 3)))
def test_no_factor_that_rises_lowers_the_carbon_of_a_way_of_working(scenario, name, by):
    """Of one way: which of two dies stands for the die is a matter of money."""
    x = scenario.inputs
    raised = replace(x, {name: x[name] + by})
    for inventory in _inventories(x):
        assert total_carbon(inventory, raised) >= total_carbon(inventory, x) * (1 - 1e-12)


@PROPERTY
@given(scenarios(), st.floats(0.1, 20).map(lambda v: round(v, 3)))
def test_all_factors_scaled_scale_every_total(scenario, k):
    x = scenario.inputs
    scaled = replace(x, {name: k * x[name] for name in SUMMED})
    for inventory in _inventories(x):
        assert total_carbon(inventory, scaled) == pytest.approx(k * total_carbon(inventory, x), rel=1e-12)


@PROPERTY
@given(scenarios(), st.floats(0, 1.5).map(lambda v: round(v, 3)))
def test_the_biogenic_factor_never_reaches_the_sum(scenario, value):
    x = scenario.inputs
    changed = replace(x, {"factors.kerf_biogenic_kg": value})
    assert evaluate(changed).laser["co2e"] == evaluate(x).laser["co2e"]


@PROPERTY
@given(scenarios())
def test_prices_do_not_touch_the_carbon_of_a_way_of_working(scenario):
    x = scenario.inputs
    dearer = replace(x, {"board.price_per_t": x["board.price_per_t"] + 500.0})
    assert [total_carbon(i, dearer) for i in _inventories(x)] == [total_carbon(i, x) for i in _inventories(x)]


@pytest.mark.parametrize("name", SUMMED)
def test_every_factor_of_the_sum_counts_on_some_route(plain, name):
    """A factor that changes nothing is one that was forgotten."""
    x = plain().inputs
    raised = replace(x, {name: x[name] + 1.0})
    assert any(total_carbon(i, raised) > total_carbon(i, x) for i in _inventories(x))


def test_mass_and_factor_multiply_to_the_carbon_of_a_unit(plain):
    """Derived: 12.33 kg of die board per m2 at 0.5 kg CO2e per kg."""
    assert factor("die board", plain({"factors.die_board_kg": 0.5}).inputs) == pytest.approx(6.165)


def test_what_has_no_factor_is_none_and_not_zero(plain):
    assert factor("labour", plain().inputs) is None


def test_biogenic_carbon_is_only_told_when_asked_for(plain):
    x = plain().inputs
    assert (factor("kerf", x), factor("kerf", x, biogenic=True)) == (None, x["factors.kerf_biogenic_kg"])


def test_carbon_of_the_sum_is_not_told_when_biogenic_is_asked_for(plain):
    x = plain().inputs
    told = [name for name in RESOURCES if factor(name, x, biogenic=True) is not None]
    assert told == ["kerf"]


def test_the_die_has_no_biogenic_carbon(plain):
    x = plain().inputs
    assert total_carbon(die.inventory(x, "separate"), x, biogenic=True) == 0


def test_the_kerf_burns_to_its_factor(plain):
    """Derived: 1,000 m x 0.2 mm x 300 g/m2 = 0.06 kg of board."""
    x = plain({"factors.kerf_biogenic_kg": 1.5}).inputs
    assert total_carbon(laser.inventory(x), x, biogenic=True) == pytest.approx(0.06 * 1.5)
