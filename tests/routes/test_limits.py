"""What a route cannot do: a condition, a sentence with the reason, and no figure for what can't be made."""

from __future__ import annotations

import numpy as np
import pytest

from compare import replace
from compare.routes.limits import (
    HALOGENATED,
    die_force_kn,
    die_limits,
    findings,
    laser_limits,
    possible,
    press_force_kn,
    strategies,
)


def _die(scenario):
    return [f.code for f in findings(die_limits(scenario.inputs), scenario.inputs, "die")]


def _laser(scenario):
    limits = laser_limits(scenario.inputs, scenario.choices["board.laminate"])
    return [f.code for f in findings(limits, scenario.inputs, "laser")]


def test_a_plain_job_is_possible_on_both_routes(plain):
    assert (_die(plain()), _laser(plain())) == ([], [])


@pytest.mark.parametrize(
    ("code", "kept", "broken"),
    [
        ("die.varnish_release", {}, {"work.varnish_release_m": 0.1}),
        ("die.caliper", {"board.caliper_mm": 2}, {"board.caliper_mm": 2.01}),
        ("die.sheet", {"sheet.width_mm": 1060, "sheet.length_mm": 760}, {"sheet.width_mm": 1061}),
        (
            "die.sheet",
            {"sheet.width_mm": 760, "sheet.length_mm": 1060},
            {"sheet.width_mm": 800, "sheet.length_mm": 1000},
        ),
        ("die.versions", {"demand.versions": 30}, {"demand.versions": 31}),
        ("die.smallest_gap", {"work.smallest_gap_mm": 2}, {"work.smallest_gap_mm": 1.9}),
        ("die.smallest_radius", {"work.smallest_radius_mm": 0.5}, {"work.smallest_radius_mm": 0.4}),
    ],
)
def test_the_die_keeps_within_a_limit_or_is_not_possible(plain, code, kept, broken):
    assert (_die(plain(kept)), _die(plain(broken))) == ([], [code])


@pytest.mark.parametrize(
    ("code", "kept", "broken"),
    [
        ("laser.caliper", {"board.caliper_mm": 0.8}, {"board.caliper_mm": 0.81}),
        ("laser.sheet", {"sheet.width_mm": 1060, "sheet.length_mm": 760}, {"sheet.width_mm": 1061}),
        (
            "laser.sheet",
            {"sheet.width_mm": 760, "sheet.length_mm": 1060},
            {"sheet.width_mm": 800, "sheet.length_mm": 1000},
        ),
    ],
)
def test_the_laser_keeps_within_a_limit_or_is_not_possible(plain, code, kept, broken):
    assert (_laser(plain(kept)), _laser(plain(broken))) == ([], [code])


@pytest.mark.parametrize("laminate", ["none", "pet", "pp", "pe", "metallised", "foil"])
def test_the_laser_cuts_laminates_without_halogen(plain, laminate):
    assert _laser(plain({"board.laminate": laminate})) == []


@pytest.mark.parametrize("laminate", HALOGENATED)
def test_the_laser_must_not_burn_halogenated_laminates(plain, laminate):
    """They give off hydrogen chloride."""
    assert _laser(plain({"board.laminate": laminate})) == ["laser.halogen"]


@pytest.mark.parametrize("laminate", HALOGENATED)
def test_the_die_cuts_halogenated_laminates(plain, laminate):
    assert _die(plain({"board.laminate": laminate})) == []


def test_many_versions_are_possible_on_one_die(plain):
    """The limit is on sets; 31 versions on one sheet need one."""
    changes = {"demand.versions": 31, "demand.mixed_sheets": 1, "layout.ups_die": 31, "carton.blank_area_m2": 0.01}
    assert _die(plain({**changes, "die.max_force_kn": 1e6})) == []


def test_force_is_rule_times_newtons_and_rubber_times_pressure():
    """Derived: 1,000 mm x 70 N/mm and 2,000 mm2 x 0.5 N/mm2."""
    assert press_force_kn(1000, 70, 2000, 0.5) == pytest.approx(71)


def test_every_kind_of_cutting_rule_presses(plain):
    """Derived: 2 cartons of 4 m cutting rule at 70.05 N/mm, and rubber of 2 x 12.7 mm along 1 m of cutting at 0.345."""
    kinds = {f"work.{kind}_m": 1 for kind in ("cutting", "cutting_creasing", "perforating", "partial_cutting")}
    force = die_force_kn(plain({**kinds, "layout.ups_die": 2}).inputs)
    assert force == pytest.approx(2 * (4000 * 70.05 + 25_400 * 0.345) / 1000)


def test_creasing_rule_presses_as_much_as_is_said(plain):
    bare = die_force_kn(plain().inputs)
    assert die_force_kn(plain({"die.creasing_force_n_mm": 10}).inputs) - bare == pytest.approx(10)


def test_a_sheet_beyond_the_force_says_how_many_cartons_keep_within_it(plain):
    """Derived: one carton takes 78.8 kN, so 236 kN are enough for two and not for three."""
    changes = {"layout.ups_die": 3, "die.max_force_kn": 236}
    x = plain(changes).inputs
    (finding,) = findings(die_limits(x), x, "die")
    assert (finding.code, "at most 2 ups keep within it" in finding.message) == ("die.press_force", True)


def test_a_force_that_is_just_reached_is_kept(plain):
    force = float(die_force_kn(plain().inputs))
    assert _die(plain({"die.max_force_kn": force})) == []


def test_every_limit_that_is_broken_is_said(plain):
    broken = {"work.varnish_release_m": 1, "board.caliper_mm": 3, "demand.versions": 31}
    assert _die(plain(broken)) == ["die.varnish_release", "die.versions", "die.caliper"]


def test_a_finding_fills_its_numbers_in(plain):
    x = plain({"board.caliper_mm": 2.5}).inputs
    (finding,) = findings(die_limits(x), x, "die")
    assert finding.message == "The board of 2.5 mm is thicker than the die cutter takes (2 mm)."
    assert (finding.where, finding.kind) == ("die", "not possible")


def test_separate_sets_are_limited_and_one_die_for_all_is_not(plain):
    changes = {"demand.versions": 4, "demand.mixed_sheets": 1, "layout.ups_die": 4, "die.max_tool_sets": 3}
    assert {name: bool(allowed) for name, allowed in strategies(plain(changes).inputs).items()} == {
        "separate": False,
        "ganged": True,
    }


def test_limits_of_many_jobs_at_once_give_an_array(plain):
    x = replace(plain().inputs, {"board.caliper_mm": [0.4, 1.0, 2.5]})
    assert possible(die_limits(x)).tolist() == [True, True, False]
    assert possible(laser_limits(x)).tolist() == [True, False, False]


def test_limits_of_one_job_give_a_plain_answer(plain):
    assert possible(die_limits(plain().inputs)) is True


def test_a_laminate_is_judged_for_a_whole_array_of_jobs(plain):
    x = replace(plain().inputs, {"board.caliper_mm": np.array([0.4, 0.5])})
    assert possible(laser_limits(x, "pvc")).tolist() == [False, False]


def test_a_radius_at_the_limit_drawn_as_a_curve_keeps_it(plain):
    """A hole of radius 0.5 written as four cubic curves bends down to 0.496 (derived from their control points)."""
    least = plain().inputs.number("die.smallest_radius_mm")
    kept, broken = (plain({"work.smallest_radius_mm": least * share}).inputs for share in (0.992, 0.98))
    assert possible(die_limits(kept))
    assert not possible(die_limits(broken))
