"""What a drawing shows and what a job says of the same limit: one finding each, with its places, and one answer."""

from __future__ import annotations

import collections

import pytest
from drawn_lines import box, circle, strokes_of

from compare import Layer, compare, prepare
from compare.geometry.line_kinds import RUN_KINDS
from compare.present.record import record
from compare.present.terminal import comparison_view
from compare.readers.drawn_carton import drawn_carton
from compare.readers.line_map import LineMap, Rule

LINES = LineMap("test", tuple(Rule(kind, layer=kind) for kind in RUN_KINDS))

JOB = {
    "carton.drawing": "box.dxf",
    "demand.run_length": 1000.0,
    "sheet.width_mm": 740.0,
    "sheet.length_mm": 520.0,
    "board.grammage_g_m2": 300.0,
    "board.caliper_mm": 0.4,
}

BLANK = box(0, 0, 100, 80)
SLOT = box(40, 30, 20, 1.2)
"""A slot of 1.2 mm: two rules can't stand so close."""


def _compared(*pieces, **more):
    drawn = drawn_carton(strokes_of(*pieces), "box.dxf", LINES)
    values = {**JOB, **{name.replace("__", "."): value for name, value in more.items()}}
    return compare(prepare(Layer("test", values, drawn=drawn)))


def _found(comparison, code: str):
    (only,) = (finding for finding in comparison.findings if finding.code == code)
    return only


def test_a_plain_blank_can_be_made_on_both_routes():
    comparison = _compared(*BLANK)
    assert (comparison.die.feasible, comparison.laser.feasible) == (True, True)


def test_a_slot_too_narrow_for_rule_takes_the_die_out_and_is_shown_in_its_place():
    """The beam cuts it; the estimator sees where it is."""
    comparison = _compared(*BLANK, *SLOT)
    assert (comparison.die.feasible, comparison.laser.feasible, comparison.cheaper) == (False, True, "laser")
    gap = _found(comparison, "die.smallest_gap")
    assert (gap.kind, gap.where, len(gap.at)) == ("not possible", "die", 1)
    ((x, y),) = gap.at
    assert 40 <= x <= 60
    assert y == pytest.approx(30.6)


def test_a_slot_wide_enough_leaves_the_die_in():
    assert _compared(*BLANK, *box(40, 30, 20, 6)).die.feasible


def test_a_radius_too_small_for_rule_takes_the_die_out_with_its_place():
    comparison = _compared(*BLANK, circle(50, 40, 0.3))
    radius = _found(comparison, "die.smallest_radius")
    assert not comparison.die.feasible
    assert radius.at[0] == (pytest.approx(50, abs=0.31), pytest.approx(40, abs=0.31))


@pytest.mark.parametrize("detail", [SLOT, [circle(50, 40, 0.3)], [*SLOT, circle(20, 20, 0.3)]])
def test_no_limit_is_said_twice(detail):
    """The limits of the job know the smallest gap as a number, the drawing knows where it is: one of them is enough."""
    counts = collections.Counter((finding.code, finding.where) for finding in _compared(*BLANK, *detail).findings)
    assert set(counts.values()) == {1}


def test_a_gap_that_is_given_is_held_against_the_limit_without_a_place():
    """The user knows of a gap that is not drawn; no place on the drawing can stand for it."""
    gap = _found(_compared(*BLANK, work__smallest_gap_mm=0.5), "die.smallest_gap")
    assert (gap.kind, gap.at) == ("not possible", ())


def test_a_plant_whose_toolmaker_lays_closer_rules_can_make_the_slot():
    """The limit is the plant's own value, in the limits of the job and in the drawing alike."""
    comparison = _compared(*BLANK, *SLOT, die__smallest_gap_mm=1.0)
    assert comparison.die.feasible
    assert "die.smallest_gap" not in {finding.code for finding in comparison.findings}


def test_other_limits_of_the_routes_stay_beside_those_of_the_drawing():
    comparison = _compared(*BLANK, *SLOT, board__caliper_mm=9.0)
    assert {"die.caliper", "laser.caliper", "die.smallest_gap"} <= {finding.code for finding in comparison.findings}


def test_the_places_are_in_the_record():
    found = [
        f for f in record(_compared(*BLANK, *SLOT))["routes"]["die"]["findings"] if f["code"] == "die.smallest_gap"
    ]
    assert [len(f["at"]) for f in found] == [1]


def test_a_comparison_of_a_drawing_can_be_shown(capsys):
    from rich.console import Console

    Console(width=100).print(comparison_view(_compared(*BLANK, *SLOT)))
    assert "die.smallest_gap_mm" in " ".join(capsys.readouterr().out.split())


def test_a_varnish_release_in_a_drawing_can_not_be_made_with_rule():
    """Drawn lines of that kind reach the limits of the route as those of a job do."""
    drawn = drawn_carton(strokes_of(*BLANK, (10, 10, 40, 10), layers=["cutting"] * 4 + ["varnish_release"]), "b", LINES)
    comparison = compare(prepare(Layer("test", JOB, drawn=drawn)))
    assert (comparison.die.feasible, comparison.laser.feasible) == (False, True)
