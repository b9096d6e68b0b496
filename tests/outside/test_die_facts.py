"""The die against figures of the trade: creasing, rule heights, press force, loss, re-ruling, net speed."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare import compare
from compare.assumptions import assumption_table
from compare.geometry.creasing import crease_channel, crease_rule_height
from compare.names import replace
from compare.routes import die
from compare.routes.limits import die_limits, press_force_kn
from compare.valuation.waste import loss_share

# Published: Kallima coated cover board, "Die cutting suggestions", table for 2 point rule:
# caliper, width along the grain, width across it.
CHANNELS_MM = [(0.250, 1.0, 1.0), (0.300, 1.1, 1.1), (0.350, 1.1, 1.2), (0.400, 1.2, 1.3)]
CHANNELS_IN = [(0.010, 0.041, 0.043), (0.012, 0.044, 0.046), (0.016, 0.049, 0.052)]


def test_channel_for_a_board_of_0_40_mm():
    """Published: Kallima coated cover board, "Die cutting suggestions": 1.3 c + d and 1.5 c + d; 0.71 mm rule."""
    channel = crease_channel(0.40, 0.71)
    assert channel.along_grain_mm == pytest.approx(1.23, abs=0.005)
    assert channel.across_grain_mm == pytest.approx(1.31, abs=0.005)


@pytest.mark.parametrize(("caliper", "along", "across"), CHANNELS_MM)
def test_channels_are_those_of_the_table_in_mm(caliper, along, across):
    """Published: the same page; its table cuts the widths down to the tenth of a millimetre."""
    channel = crease_channel(caliper, 0.71)
    assert along - 1e-9 <= channel.along_grain_mm < along + 0.1 - 1e-9
    assert across - 1e-9 <= channel.across_grain_mm < across + 0.1 - 1e-9


@pytest.mark.parametrize(("caliper", "along", "across"), CHANNELS_IN)
def test_channels_are_those_of_the_table_in_inches(caliper, along, across):
    """Published: the same page, in inches with rule of 0.028 in (its 0.014 in row disagrees with itself)."""
    channel = crease_channel(caliper, 0.028)
    assert channel.along_grain_mm == pytest.approx(along, abs=0.0005)
    assert channel.across_grain_mm == pytest.approx(across, abs=0.0005)


def test_creasing_rule_is_lower_than_cutting_rule_by_the_caliper():
    """Published: a supplier's calculation aid for creasing matrices (name withheld): 23.80 - 0.40."""
    assert crease_rule_height(23.80, 0.40) == pytest.approx(23.40, abs=1e-12)


def test_tape_of_a_counter_lowers_the_creasing_rule_once_more():
    """Published: fineformes.co.nz, "Crease": 0.15 mm for the mounting tape."""
    assert crease_rule_height(23.80, 0.40, 0.15) == pytest.approx(23.25, abs=1e-12)


def test_creasing_rule_of_the_handbook_lies_0_6_mm_lower():
    """Published: packaging-technology wiki of mediencommunity.de, 5.3.4.2: cutting rule 23.8, creasing rule 23.2."""
    assert crease_rule_height(23.8, 0.6) == pytest.approx(23.2, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        # Published: packaging-technology wiki of mediencommunity.de, 5.3.4.2 (0.937 in).
        ("toolmaker.cutting_rule_height_mm", 23.8),
        # Published: Kallima, "Die cutting suggestions": 2 point is 0.028 in.
        ("toolmaker.rule_thickness_mm", 0.71),
        # Published: fineformes.co.nz, "Crease".
        ("toolmaker.counter_tape_mm", 0.15),
    ],
)
def test_table_of_assumptions_holds_the_published_rule(name, value):
    assert assumption_table()[name].value == pytest.approx(value, abs=1e-12)


def test_a_job_is_told_its_channel_and_rule_height(plain):
    """Published formulas as above, for a board of 0.40 mm, with tape."""
    assert compare(plain({"board.caliper_mm": 0.4})).crease_tooling() == {
        "crease_rule_height_mm": pytest.approx(23.25, abs=1e-9),
        "channel_along_grain_mm": pytest.approx(1.23, abs=1e-9),
        "channel_across_grain_mm": pytest.approx(1.31, abs=1e-9),
    }


def test_press_force_of_500_inches_of_rule_with_rubber():
    """Published: Bizfluent, "How to calculate die cutting tonnage": 225,000 lb, that is 1,000.85 kN.

    500 in of rule at 400 lb/in (12,700 mm, 70.0507 N/mm) and 500 sq in of rubber at 50 lb/sq in
    (322,580 mm2, 0.344738 N/mm2).
    """
    assert press_force_kn(12_700, 70.0507, 322_580, 0.344738) == pytest.approx(1_000.85, abs=0.05)


def test_press_force_from_shear_strength():
    """Published: web page on die-cutting force (formula only, name withheld): 55 N/mm2 x 0.4 x 1,000 mm."""
    assert press_force_kn(1_000, 55 * 0.4) == pytest.approx(22.0, rel=1e-12)


def test_force_per_length_of_rule_is_300_to_500_pounds_per_inch():
    """Published: Bizfluent, as above; derived: 52.538, 70.051 and 87.563 N/mm, rounded in the table."""
    row = assumption_table()["die.cutting_force_n_mm"]
    assert row.low == pytest.approx(52.538, abs=0.05)
    assert row.value == pytest.approx(70.051, abs=0.005)
    assert row.high == pytest.approx(87.563, abs=0.05)


def test_rubber_presses_back_with_50_pounds_per_square_inch():
    """Published: Bizfluent, as above; derived: 0.344738 N/mm2; the strip is half an inch wide."""
    assert assumption_table()["die.rubber_pressure_n_mm2"].value == pytest.approx(0.344738, abs=0.0005)
    assert assumption_table()["die.rubber_width_mm"].value == pytest.approx(12.7, abs=1e-12)


@pytest.mark.parametrize(("ups", "possible"), [(37, True), (38, False)])
def test_press_of_2600_kn_takes_37_metres_of_cutting_rule(plain, ups, possible):
    """Derived: 2,600 kN / 70.05 N/mm = 37.1 m without rubber, one metre of rule per up here.

    2.6 MN for the format is common practice, no source.
    """
    scenario = plain(
        {"layout.ups_die": ups, "carton.blank_area_m2": 0.01, "work.cutting_m": 1, "die.rubber_pressure_n_mm2": 0}
    )
    (force,) = [limit for limit in die_limits(scenario.inputs) if limit.code == "die.press_force"]
    assert force.kept == possible


def test_loss_of_european_carton_making():
    """Published: Pro Carton, European Database for Cartonboard and Carton Production 2023, p. 22.

    1.1689 t of board for a tonne of cartons; the same page prints 14.5 %.
    """
    assert loss_share(1.1689, 1.0) == pytest.approx(0.144495, abs=1e-6)
    assert loss_share(1.1689, 1.0) == pytest.approx(0.145, abs=0.0006)


def test_plausible_only_a_demo_tray_loses_of_the_order_of_published_carton_making(load):
    """Plausibility only. Published 14.5 % (Pro Carton, as above) is the mean of a whole industry.

    A tray on a grid is held to between half and twice of it; it is no validation of the model.
    """
    comparison = compare(load("bakery_tray"))
    for route in (comparison.die, comparison.laser):
        assert 0.0725 < loss_share(route.balance.board_in, route.balance.good) < 0.29


@pytest.mark.parametrize(("impressions", "cost"), [(250_000, 1.0), (250_001, 1.4), (500_000, 1.4), (500_001, 1.8)])
def test_tool_cost_is_a_staircase_of_impressions(plain, impressions, cost):
    """Derived: a die of 1 and a re-ruling of 0.4 whenever 250,000 impressions are done.

    That a die is re-ruled in its board is published (US patents 5,943,935 and 6,691,598, background).
    """
    x = plain({"die.life_impressions": 250_000}).inputs
    again = die.rerulings(x, die.plan(x, "separate"), float(impressions))
    assert 1.0 + 0.4 * again == pytest.approx(cost, rel=1e-12)


def test_reruling_buys_the_cutting_rule_of_one_set_again(plain):
    """Derived: 500,001 impressions at a life of 250,000 take one set and two re-rulings of 3 m each."""
    x = plain(
        {
            "demand.run_length": 500_001,
            "work.cutting_m": 3,
            "die.life_impressions": 250_000,
            "die.running_waste": 0,
            "die.make_ready_first_sheets": 0,
        }
    ).inputs
    used = die.inventory(x, "separate")
    assert used.quantity("cutting rule") == pytest.approx(9.0, rel=1e-12)
    assert used.quantity("creasing rule") == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(("sheets", "net"), [(1_000, 458.3333), (5_000, 1_718.75), (20_000, 3_548.3871)])
def test_net_speed_rises_with_the_run_length(plain, sheets, net):
    """Shape published: piworld.com, "Benchmarking productivity" (PIA/GATF survey 2004): longer runs run faster.

    Numbers derived: sheets / (2 h + sheets / 5,500 per hour).
    """
    x = _without_waste(plain, sheets, 2.0)
    assert sheets / die.inventory(x, "separate").machine_hours == pytest.approx(net, abs=1e-3)


@settings(max_examples=30, deadline=None)
@given(setup_h=st.floats(0.01, 20))
def test_net_speed_has_the_running_speed_as_its_limit(plain, setup_h):
    """Derived: for any set-up the net speed rises with the run, stays below 5,500 per hour, and nears it."""
    runs = (1_000, 5_000, 20_000, 100_000_000)
    x = _without_waste(plain, 1, setup_h)
    speeds = [
        float(run / die.inventory(replace(x, {"demand.run_length": run}), "separate").machine_hours) for run in runs
    ]
    assert sorted(speeds) == speeds
    assert len(set(speeds)) == len(speeds)
    assert speeds[-1] < 5_500
    assert speeds[-1] == pytest.approx(5_500, rel=2e-3)


def _without_waste(plain, sheets, setup_h):
    return plain(
        {
            "demand.run_length": sheets,
            "die.running_waste": 0,
            "die.make_ready_first_sheets": 0,
            "die.make_ready_first_h": setup_h,
            "die.make_ready_per_up_h": 0,
            "die.speed_sheets_h": 5_500,
        }
    ).inputs
