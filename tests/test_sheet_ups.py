"""How many blanks lie on the sheet of each route: by boxes, or pushed into one another."""

from __future__ import annotations

import pytest

from compare import Layer, compare, prepare, vary
from compare.errors import InputError
from compare.geometry.sheet_layout import check_layout

SIZES = {
    "demand.run_length": 1000.0,
    "sheet.width_mm": 1020.0,
    "sheet.length_mm": 720.0,
    "sheet.grain": "width",
    "board.grammage_g_m2": 300.0,
    "board.caliper_mm": 0.4,
    "carton.length_mm": 80.0,
    "carton.width_mm": 40.0,
    "carton.height_mm": 120.0,
}
TUCK = {**SIZES, "carton.style": "reverse_tuck_end"}


def _job(**more):
    return prepare(Layer("test", {**TUCK, **{name.replace("__", "."): value for name, value in more.items()}}))


def _right(scenario, route: str) -> bool:
    """The laid outlines themselves are looked at, by other code than that which laid them."""
    x = scenario.inputs
    sheet = (x["sheet.width_mm"], x["sheet.length_mm"])
    margins = {f"{name}_mm": x[f"sheet.{name}_mm"] for name in ("gripper", "side_margin", "tail_margin")}
    outline = scenario.blank.outline
    return (
        check_layout(outline, scenario.layouts[route], *sheet, **margins, gutter_mm=x[f"layout.gutter_{route}_mm"])
        == ()
    )


def test_a_style_lies_in_the_grid_unless_asked_otherwise():
    """Jobs that were quoted before outlines could be laid keep their ups."""
    scenario = _job()
    assert (scenario.layouts, scenario.grid_layout) == ({}, {"die": True, "laser": True})


def test_blanks_pushed_into_one_another_are_more():
    """Derived: 620 mm between gripper and tail hold two boxes of 230, or three blanks of which the second and third
    take 180 more each (tests/outside/test_layout_outlines.py); three columns of 255 stand beside one another.
    """
    sheet = {"sheet__length_mm": 640.0, "layout__gutter_die_mm": 0.0}
    grid, interlocked = (_job(layout__pattern=pattern, **sheet).inputs for pattern in ("grid", "interlocked"))
    assert (grid["layout.ups_die"], interlocked["layout.ups_die"]) == (6, 9)


@pytest.mark.parametrize("style", ["reverse_tuck_end", "straight_tuck_end", "seal_end", "crash_lock", "sleeve"])
@pytest.mark.parametrize("route", ["die", "laser"])
def test_no_two_blanks_overlap_or_leave_the_sheet(style, route):
    scenario = _job(carton__style=style, layout__pattern="interlocked")
    assert scenario.inputs[f"layout.ups_{route}"] == scenario.layouts[route].ups > 0
    assert _right(scenario, route)


def test_interlocked_blanks_are_never_fewer_than_the_grid_holds():
    for grain in ("any", "width", "length"):
        grid, interlocked = (_job(layout__pattern=p, sheet__grain=grain).inputs for p in ("grid", "interlocked"))
        assert interlocked["layout.ups_die"] >= grid["layout.ups_die"]


def test_each_route_is_laid_with_its_own_gutter():
    """A beam may cut closer to its neighbour than two rules can stand."""
    scenario = _job(layout__pattern="interlocked", layout__gutter_die_mm=30.0, layout__gutter_laser_mm=1.0)
    die, laser = scenario.layouts["die"], scenario.layouts["laser"]
    assert die.ups < laser.ups
    assert _right(scenario, "die")
    assert _right(scenario, "laser")


def test_ups_that_are_given_are_laid_and_stand():
    scenario = _job(layout__pattern="interlocked", layout__ups_die=4.0)
    assert (scenario.inputs["layout.ups_die"], scenario.layouts["die"].ups) == (4, 4)
    assert (scenario.origins["layout.ups_die"], scenario.grid_layout["die"]) == ("test", False)
    assert _right(scenario, "die")


def test_more_ups_than_the_sheet_holds_are_refused_with_the_most():
    with pytest.raises(InputError, match=r"99 blanks do not fit on the sheet; at most \d+ fit"):
        _job(layout__pattern="interlocked", layout__ups_die=99.0)


def test_a_blank_larger_than_the_sheet_is_refused_with_both_sizes():
    with pytest.raises(InputError, match=r"the blank of 255 x 230 mm does not fit the sheet of 200 x 720 mm"):
        _job(layout__pattern="interlocked", sheet__width_mm=200.0)


def test_without_an_outline_nothing_can_be_pushed_into_one_another(plain):
    with pytest.raises(InputError, match=r"^layout\.pattern: .*outline is not known; name a style or a drawing"):
        plain({"layout.pattern": "interlocked"})


def test_an_unknown_pattern_is_refused():
    from compare.readers.jobfile import check_values

    with pytest.raises(InputError, match=r"no choice 'nested'"):
        check_values({"layout.pattern": "nested"}, where="test")


def test_the_sheet_can_not_vary_where_outlines_were_laid():
    """Every size would need a layout of its own; one that was laid for another sheet would be wrong."""
    with pytest.raises(InputError, match="the sheet can't be varied where blanks are pushed into one another"):
        vary(_job(layout__pattern="interlocked"), {"sheet.width_mm": [740.0, 1020.0]})


def test_the_run_length_may_vary_where_outlines_were_laid():
    assert vary(_job(layout__pattern="interlocked"), {"demand.run_length": [1e3, 1e4]})["demand.run_length"].size == 2


def test_blanks_without_a_gap_share_their_lines_and_those_are_cut_once():
    """Derived: sleeves are 240 + 15 wide and 120 high with a bevelled glue flap; side by side they share the straight
    part of their edges. With a gap between them nothing is shared.
    """
    touching = _job(carton__style="sleeve", layout__pattern="interlocked", layout__gutter_die_mm=0.0)
    layout = touching.layouts["die"]
    assert touching.inputs["layout.shared_die_m"] == pytest.approx(layout.common_line_mm / layout.ups / 1000)
    assert touching.inputs["layout.shared_die_m"] > 0
    assert touching.inputs["layout.shared_laser_m"] == 0
    assert _right(touching, "die")


def test_shared_lines_make_a_tool_of_less_rule():
    touching = _job(carton__style="sleeve", layout__pattern="interlocked", layout__gutter_die_mm=0.0)
    apart = _job(carton__style="sleeve", layout__pattern="interlocked", layout__gutter_die_mm=0.0,
                 layout__shared_die_m=0.0)  # fmt: skip
    rule = [
        next(row.quantity for row in compare(s).die.ledger if row.resource == "cutting rule") for s in (touching, apart)
    ]
    assert rule[1] - rule[0] == pytest.approx(touching.layouts["die"].common_line_mm / 1000)


def test_the_same_job_is_laid_once():
    """The screen asks again with every other field that changes."""
    first, second = _job(layout__pattern="interlocked"), _job(layout__pattern="interlocked", demand__run_length=2000.0)
    assert first.layouts["die"] is second.layouts["die"]


def test_values_that_are_not_laid_on_a_sheet_ask_for_it():
    values = {n: v for n, v in TUCK.items() if n != "sheet.width_mm"}
    with pytest.raises(InputError, match=r"missing sheet\.width_mm"):
        prepare(Layer("test", {**values, "layout.pattern": "interlocked"}))
