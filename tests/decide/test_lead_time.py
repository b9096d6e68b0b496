"""Lead time: days from the order to the last carton cut. Figures are derived by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY, scenarios

from compare import replace
from compare.decide.lead_time import lead_time_days
from compare.routes import die, laser


def _die(x):
    return float(lead_time_days(die.inventory(x, "separate"), x))


def _laser(x):
    return float(lead_time_days(laser.inventory(x), x))


def test_hours_become_days_of_the_staffed_machine(plain):
    """Derived: 1,000 sheets at 0.9 s, 0.25 h + 0.01 h + 0.3 h of set-up, 8 h a day."""
    changes = {"laser.running_waste": 0, "laser.setup_sheets": 0, "laser.hours_per_day": 8}
    assert _laser(plain(changes).inputs) == pytest.approx((0.25 + 0.56) / 8)


def test_tools_take_days_to_come(plain):
    x = plain().inputs
    assert _die(x) == pytest.approx(4 + die.inventory(x, "separate").machine_hours / 16)


def test_owned_tools_are_there(plain):
    x = plain({"tooling.owned": 1}).inputs
    assert _die(x) == pytest.approx(die.inventory(x, "separate").machine_hours / 16)


def test_the_laser_waits_for_no_tool(plain):
    x = plain({"toolmaker.lead_days": 50}).inputs
    assert _laser(x) < 1


def test_an_order_of_many_takes_its_share_of_the_hours(plain):
    """Derived: a programme of twelve like orders takes twelve times the hours, an order no longer than before."""
    once, often = plain({"tooling.owned": 1}).inputs, plain({"tooling.owned": 1, "demand.orders_per_year": 12}).inputs
    assert _die(often) == pytest.approx(_die(once))


@PROPERTY
@given(scenarios(), st.floats(1, 24))
def test_more_hours_a_day_never_take_more_days(scenario, hours):
    x = scenario.inputs
    for name, days in (("die.hours_per_day", _die), ("laser.hours_per_day", _laser)):
        longer = replace(x, {name: max(x[name], hours)})
        assert days(longer) <= days(x) * (1 + 1e-12)
