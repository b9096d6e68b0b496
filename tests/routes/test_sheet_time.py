"""Where the seconds of a sheet go: parts that add up, by the path and by the estimate."""

from __future__ import annotations

import numpy as np
import pytest

from compare import prepare, replace
from compare.decide.evaluate import evaluate
from compare.readers.jobfile import Layer
from compare.routes import laser
from compare.routes.sheet_time import sheet_time, timelines
from compare.scenario import Scenario
from compare.sheet_path import motion_of

CARTON = {
    "carton.style": "reverse_tuck_end",
    "carton.length_mm": 80.0,
    "carton.width_mm": 40.0,
    "carton.height_mm": 120.0,
    "board.grade": "folding_boxboard_250",
    "sheet.width_mm": 1020.0,
    "sheet.length_mm": 720.0,
    "demand.run_length": 5000.0,
}


def job(**changes: object) -> Scenario:
    more = {name.replace("__", "."): value for name, value in changes.items()}
    return prepare(Layer("test", {**CARTON, **more}))


@pytest.mark.parametrize("motion", ["scanner", "axes"])
@pytest.mark.parametrize("path", ["planned", "estimated"])
def test_the_parts_add_up_to_the_time_from_sheet_to_sheet(motion: str, path: str):
    time = sheet_time(job(laser__motion=motion, laser__path=path).inputs)
    assert time.planned == (path == "planned")
    assert sum(time.parts().values()) == pytest.approx(time.cycle, rel=1e-12)
    assert min(time.parts().values()) >= -1e-12


@pytest.mark.parametrize("motion", ["scanner", "axes"])
def test_the_timeline_of_each_head_ends_when_the_engine_says(motion: str):
    """Two ways to the same second: strokes one after the other, and tables of the whole head."""
    s = job(laser__motion=motion, laser__short_jump_share=0.3)
    lines = timelines(s.inputs, s.toolpath, motion_of(s.inputs, motion))
    assert [line.done for line in lines] == pytest.approx([head.busy for head in sheet_time(s.inputs).heads], rel=1e-9)
    assert max(line.done for line in lines) == pytest.approx(float(laser.sheet_s(s.inputs)), rel=1e-9)


def test_the_sheet_is_the_slowest_head():
    time = sheet_time(job().inputs)
    assert time.cutting == pytest.approx(max(head.busy for head in time.heads), rel=1e-12)


def test_the_estimate_stands_in_for_the_path_when_the_sheet_is_varied():
    """Its mean jump and balance are those of the path, so it comes close where both are known."""
    x = job().inputs
    assert float(laser.sheet_s(x.without_loads())) == pytest.approx(float(laser.sheet_s(x)), rel=0.06)


def test_a_price_or_a_speed_keeps_the_path_and_a_sheet_does_not():
    x = job().inputs
    assert replace(x, {"laser.power_w": 400.0, "rates.laser_h": 99.0}).loads is x.loads
    assert replace(x, {"sheet.width_mm": 1000.0}).loads is None


def test_half_the_power_doubles_the_marking_of_a_planned_path():
    """Below the scanner's limit, marking time goes with power; nothing is planned anew."""
    x = replace(job().inputs, {"laser.max_mark_m_s": 100.0, "laser.scan_accel_m_s2": 1e6})
    x = job(laser__max_mark_m_s=100.0).inputs
    half = replace(x, {"laser.power_w": x.number("laser.power_w") / 2})
    marking = [sum(sheet_time(some).parts()[f"marking {kind}"] for kind in ("cutting",)) for some in (x, half)]
    assert marking[1] == pytest.approx(2 * marking[0], rel=1e-12)


def test_a_whole_column_of_powers_is_answered_like_one_by_one():
    x = job(laser__motion="axes").inputs
    powers = np.array([200.0, 450.0, 1000.0, 1600.0])
    together = evaluate(replace(x, {"laser.power_w": powers})).laser["cost"]
    alone = [float(evaluate(replace(x, {"laser.power_w": float(p)})).laser["cost"]) for p in powers]
    assert together == pytest.approx(alone, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"work__perforating_m": 0.2}, "work.perforating_m was given"),
        ({"cutouts__count": 2.0, "cutouts__length_mm": 60.0, "cutouts__area_mm2": 200.0}, "cut-outs"),
        ({"laser__heads": 1e8}, "more than 64 heads"),
        ({"sheet__width_mm": 1e7, "laser__max_sheet_width_mm": 1e7}, "more than 500 blanks"),
        ({"layout__ups_laser": None}, "do not lie on the grid"),
        ({"laser__field_width_mm": 100.0, "laser__field_overlap_mm": 10.0}, "no head reaches"),
    ],
)
def test_where_the_lines_are_not_known_the_seconds_are_estimated_and_it_is_said(changes: dict[str, object], word: str):
    """No figure from a guess: the finding says what is not known."""
    if "layout__ups_laser" in changes:  # one more than the grid holds
        changes = {"layout__ups_laser": job().inputs.number("layout.ups_laser") + 1}
    s = job(**changes)
    assert s.toolpath is None
    assert s.inputs.loads is None
    assert any(word in found.message for found in s.findings if found.code.startswith("laser."))


def test_numbers_alone_are_estimated_without_a_remark():
    """Who gives lengths knows that there is no outline."""
    numbers = {
        "work.cutting_m": 1.2, "work.creasing_m": 0.6, "work.nicks": 10.0, "work.bends": 20.0, "work.strokes": 3.0,
        "work.corner_load": 20.0, "carton.blank_area_m2": 0.03, "layout.ups_die": 8.0, "layout.ups_laser": 8.0,
    }  # fmt: skip
    rest = {n: v for n, v in CARTON.items() if not n.startswith("carton.")}
    s = prepare(Layer("test", {**rest, **numbers}))
    assert s.toolpath is None
    assert not [found for found in s.findings if found.code.startswith("laser.path")]
