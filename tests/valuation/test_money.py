"""Money: quantities times prices, in two costings that are both right."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import MONEY, PRICES, PROPERTY, scenarios

from compare import evaluate, replace
from compare.routes import die, laser
from compare.routes.inventory import RESOURCES
from compare.valuation.money import flow_money, price, total_money

COSTINGS = st.sampled_from(["full", "cash"])
CASH_ONLY, FULL_ONLY = ("rates.press_cash_h", "rates.laser_cash_h"), ("rates.press_h", "rates.laser_h")


def _raised(x, name, by):
    return replace(x, {name: x[name] + by})


# -- properties -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PRICES)
def test_no_price_that_rises_makes_a_route_cheaper(name):
    """Waste board too: sold at a negative price, a higher price earns less or costs more."""

    @PROPERTY
    @given(scenarios(), st.floats(0.01, 500).map(lambda v: round(v, 2)), COSTINGS)
    def holds(scenario, by, costing):
        before = evaluate(scenario.inputs, costing=costing)
        after = evaluate(_raised(scenario.inputs, name, by), costing=costing)
        for route in ("die", "laser"):
            old, new = before.per_1000(route, "cost"), after.per_1000(route, "cost")
            assert new >= old - 1e-9 * abs(old)  # two dies closer than that are even, and either may stand for the die

    holds()


@pytest.mark.parametrize("name", [n for n in PRICES if n.split(".")[0] in ("rates", "toolmaker", "board", "sheet")])
def test_every_price_counts_on_some_route_in_some_costing(plain, name):
    """A price that changes nothing is a price that was forgotten."""
    lines = {f"work.{kind}_m": 0.5 for kind in ("cutting_creasing", "perforating", "partial_cutting")}
    x = plain({**lines, "work.bends": 3, "work.nicks": 3, "work.waste_pieces": 2}).inputs
    raised = _raised(x, name, 100.0)
    changed = [
        (route, costing)
        for costing in ("full", "cash")
        for route in ("die", "laser")
        if evaluate(raised, costing=costing).per_1000(route, "cost")
        > evaluate(x, costing=costing).per_1000(route, "cost")
    ]
    assert changed


@PROPERTY
@given(scenarios(), st.floats(0.1, 20).map(lambda v: round(v, 3)), COSTINGS)
def test_all_prices_scaled_scale_every_line_of_the_ledger(scenario, k, costing):
    """Nothing hides a price of its own: another currency is only a factor."""
    x = scenario.inputs
    scaled = replace(x, {name: k * x[name] for name in MONEY if name in x})
    for inventory in (die.inventory(x, "separate"), laser.inventory(x)):
        money = [k * float(m) for m in flow_money(inventory, x, costing)]
        assert [float(m) for m in flow_money(inventory, scaled, costing)] == pytest.approx(money, rel=1e-12)


@PROPERTY
@given(scenarios(), COSTINGS)
def test_the_total_is_the_sum_of_its_lines(scenario, costing):
    x = scenario.inputs
    for inventory in (die.inventory(x, "separate"), die.inventory(x, "ganged"), laser.inventory(x)):
        lines = [float(m) for m in flow_money(inventory, x, costing)]
        assert float(total_money(inventory, x, costing)) == pytest.approx(
            sum(lines), rel=1e-9, abs=1e-9 * sum(map(abs, lines))
        )


@PROPERTY
@given(scenarios())
def test_no_price_at_all_costs_nothing(scenario):
    x = replace(scenario.inputs, dict.fromkeys(PRICES, 0.0))
    assert (evaluate(x).per_1000("die", "cost"), evaluate(x).per_1000("laser", "cost")) == (0, 0)


# -- two costings -----------------------------------------------------------------------------------------------------


def test_cash_costing_takes_only_the_machine_rate_from_elsewhere(plain):
    x = plain().inputs
    differ = {name for name in RESOURCES if price(name, x, "full") != price(name, x, "cash")}
    assert differ == {"press time", "laser time"}


@pytest.mark.parametrize(("costing", "names"), [("full", CASH_ONLY), ("cash", FULL_ONLY)])
def test_a_costing_does_not_look_at_the_rates_of_the_other(plain, costing, names):
    x = plain().inputs
    for name in names:
        assert evaluate(_raised(x, name, 50.0), costing=costing).die == evaluate(x, costing=costing).die
        assert evaluate(_raised(x, name, 50.0), costing=costing).laser == evaluate(x, costing=costing).laser


# -- single prices ----------------------------------------------------------------------------------------------------


def test_a_price_per_tonne_is_turned_into_one_per_kilogram(plain):
    assert price("board", plain({"board.price_per_t": 1200}).inputs, "full") == pytest.approx(1.2)


def test_what_has_no_price_is_none_and_not_zero(plain):
    """0 would say that it is free; the reason is shown instead."""
    assert price("kerf", plain().inputs, "full") is None


def test_what_has_no_price_adds_nothing_to_its_line(plain):
    x = plain().inputs
    inventory = laser.inventory(x)
    lines = dict(zip((f.resource for f in inventory.flows), flow_money(inventory, x, "full"), strict=True))
    assert lines["kerf"] == 0


def test_waste_board_that_is_sold_is_an_income(plain):
    x = plain({"rates.waste_board_t": -60}).inputs
    inventory = laser.inventory(x)
    sold = sum(
        m for f, m in zip(inventory.flows, flow_money(inventory, x, "full"), strict=True) if f.resource == "waste board"
    )
    assert sold == pytest.approx(-0.06 * inventory.quantity("waste board"))
