"""Areas cleared line by line: how much is run, to and fro, around holes, and never where nothing is to be cleared."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from drawn_lines import box, circle, strokes_of
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.errors import InputError
from compare.geometry.hatch import hatch
from compare.geometry.line_kinds import RUN_KINDS
from compare.geometry.trails import Trail
from compare.readers.drawn_carton import DrawnCarton, drawn_carton
from compare.readers.jobfile import Layer
from compare.readers.line_map import LineMap, Rule
from compare.routes.sheet_time import sheet_time
from compare.scenario import Scenario, prepare, vary

WIDE = ((0.0, 0.0), (100.0, 0.0), (100.0, 20.0), (0.0, 20.0))


def around(radius: float, x: float = 0.0, y: float = 0.0) -> np.ndarray:
    at = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    return np.column_stack([x + radius * np.cos(at), y + radius * np.sin(at)])


def length(trails: list[Trail]) -> float:
    return sum(trail.length_mm for trail in trails)


def on_lines(trails: list[Trail]) -> float:
    """Length without the links: every other leg of a trail is a link."""
    return sum(float(trail.length[::2].sum()) for trail in trails)


# -- areas ------------------------------------------------------------------------------------------------------------


def test_a_rectangle_has_a_line_for_each_pitch():
    """20 mm at 0.5 mm are 40 lines of 100 mm, and 39 links of 0.5 mm. Derived here."""
    (trail,) = hatch([WIDE], 0.5)
    assert (on_lines([trail]), trail.length_mm) == pytest.approx((4_000, 4_019.5), abs=1e-9)


def test_the_first_line_lies_half_a_pitch_inside_and_the_next_begins_at_its_end():
    (trail,) = hatch([WIDE], 0.5)
    assert trail.points[:4] == pytest.approx(np.array([(0, 0.25), (100, 0.25), (100, 0.75), (0, 0.75)]), abs=1e-9)


def test_each_link_has_two_corners():
    """1 - cos of a right angle is 1: two corners for each of 39 links."""
    (trail,) = hatch([WIDE], 0.5)
    assert trail.corner_load == pytest.approx(78, abs=1e-9)
    assert trail.kind == "varnish_release"


@pytest.mark.parametrize("pitch", [0.1, 0.2, 0.5])
def test_a_circle_has_its_area_by_the_pitch_in_lines(pitch):
    """pi r2 / pitch, and about two links' worth of its outline besides. Derived here."""
    (trail,) = hatch([around(10)], pitch)
    assert on_lines([trail]) == pytest.approx(100 * np.pi / pitch, rel=0.01)


def test_a_hole_is_left_out():
    """A ring inside a ring: what lies in two of them is no part of the area."""
    rings = [around(20), around(8)]
    trails = hatch(rings, 0.2)
    assert on_lines(trails) == pytest.approx((400 - 64) * np.pi / 0.2, rel=0.01)
    hole = shapely.Polygon(around(8)).buffer(-0.2)
    assert not any(shapely.LineString(trail.points).intersects(hole) for trail in trails)


def test_an_area_around_a_hole_is_run_in_four_trails():
    """Below, to the left, to the right, above: where lines split, a new trail begins."""
    assert len(hatch([around(20), around(8)], 0.2)) == 4


def test_areas_apart_are_trails_of_their_own():
    """Each with its first line half a pitch inside."""
    other = [(200.0, 3.1), (210.0, 3.1), (210.0, 4.1), (200.0, 4.1)]
    trails = hatch([WIDE, other], 0.5)
    assert [trail.points[0].tolist() for trail in trails] == [pytest.approx(p) for p in ([0, 0.25], [200, 3.35])]


def test_a_contour_that_crosses_itself_is_both_its_halves():
    trails = hatch([[(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)]], 0.1)
    assert on_lines(trails) == pytest.approx(50 / 0.1, rel=0.01)


def test_an_area_lower_than_the_pitch_has_one_line_in_its_middle():
    """So that nothing that is drawn is left out."""
    (trail,) = hatch([[(0.0, 0.0), (10.0, 0.0), (10.0, 0.1), (0.0, 0.1)]], 0.5)
    assert trail.points == pytest.approx(np.array([(0, 0.05), (10, 0.05)]))


def test_no_link_leads_a_long_way_outside():
    """At the step of an L the beam is switched off where the next line begins far from the end of the last."""
    step = [(0.0, 0.0), (100.0, 0.0), (100.0, 9.0), (20.0, 9.0), (20.0, 30.0), (0.0, 30.0)]
    for pitch in (0.2, 0.3, 0.37, 0.5):
        links = np.concatenate([trail.length[1::2] for trail in hatch([step], pitch)])
        assert links.max() <= 4 * pitch


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(5, 30), min_size=3, max_size=9),
    st.floats(0.2, 2),
    st.floats(-180, 180),
    st.floats(0, 360),
)
def test_any_star_is_filled_within_its_outline_and_by_its_area(
    radii: list[float], pitch: float, angle: float, by: float
):
    """Lines lie inside, their length is area by pitch but for the ends, and turning star and lines changes nothing."""
    at = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    star = np.column_stack([np.cos(at), np.sin(at)]) * np.array(radii)[:, None]
    spin = np.array(
        [[np.cos(np.radians(by)), np.sin(np.radians(by))], [-np.sin(np.radians(by)), np.cos(np.radians(by))]]
    )
    trails, turned = hatch([star], pitch, angle), hatch([star @ spin], pitch, angle + by)
    assert on_lines(turned) == pytest.approx(on_lines(trails), rel=1e-6)
    area = shapely.Polygon(star)
    inside = area.buffer(1e-6)
    lines = [shapely.LineString(t.points[i : i + 2]) for t in trails for i in range(0, len(t.points), 2)]
    assert all(inside.covers(line) for line in lines)
    assert on_lines(trails) * pitch == pytest.approx(area.area, abs=pitch * area.length)
    for trail in trails:
        assert np.hypot(*np.diff(trail.points, axis=0).T) == pytest.approx(trail.length)


# -- silly sizes ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pitch", [0.0009, 1e-300])
def test_a_pitch_that_asks_for_too_many_lines_is_refused(pitch):
    with pytest.raises(InputError, match=r"more than 20,000 lines of hatch .* raise the pitch"):
        hatch([WIDE], pitch)


def test_lines_are_counted_over_all_areas():
    with pytest.raises(InputError, match="20,000"):
        hatch([WIDE, around(10, 500), around(10, 600)], 0.0021)


@pytest.mark.parametrize("pitch", [0.0, -1.0, np.nan, np.inf])
def test_what_is_no_pitch_is_refused(pitch):
    with pytest.raises(InputError, match="no length above 0"):
        hatch([WIDE], pitch)


def test_nothing_to_fill_is_nothing_to_run():
    assert hatch([], 0.2) == []
    assert hatch([[(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)]], 0.2) == []


# -- a drawing with a varnish window ----------------------------------------------------------------------------------

KINDS = LineMap("test", tuple(Rule(kind, layer=kind) for kind in RUN_KINDS))
JOB = {
    "carton.drawing": "box.dxf", "demand.run_length": 1000.0, "sheet.width_mm": 740.0, "sheet.length_mm": 520.0,
    "board.grammage_g_m2": 300.0, "board.caliper_mm": 0.4,
}  # fmt: skip


def drawn(*varnish: tuple) -> DrawnCarton:
    layers = ["cutting"] * 4 + ["varnish_release"] * len(varnish)
    return drawn_carton(strokes_of(*box(0, 0, 100, 80), *varnish, layers=layers), "box", KINDS)


def job(carton: DrawnCarton, **changes: object) -> Scenario:
    return prepare(Layer("test", {**JOB, **{n.replace("__", "."): v for n, v in changes.items()}}, drawn=carton))


def planned_m(scenario: Scenario) -> float:
    """Varnish release that the planned path runs, per carton [m]."""
    loads = scenario.inputs.loads
    assert loads is not None
    found = sum(head.marking["varnish_release"].length for head in loads.heads if "varnish_release" in head.marking)
    return found / scenario.inputs.number("layout.ups_laser")


WINDOW = box(10, 10, 40, 20)


def test_a_window_is_counted_line_by_line():
    """20 mm at 0.2 mm: 100 lines of 40 mm and 99 links of 0.2 mm. Derived here."""
    found = job(drawn(*WINDOW))
    assert found.inputs.number("work.varnish_release_m") == pytest.approx((100 * 40 + 99 * 0.2) / 1000, rel=1e-9)
    assert found.origins["work.varnish_release_m"] == "drawing box, hatched at 0.2 mm"


def test_the_planned_path_runs_what_is_counted():
    """Otherwise the estimate, the limits and the path would speak of different work."""
    found = job(drawn(*WINDOW))
    assert planned_m(found) == pytest.approx(found.inputs.number("work.varnish_release_m"), rel=1e-9)


def test_strokes_and_corners_follow_the_hatch():
    """The outline is one stroke with three corners inside, the hatch another with two for each of 99 links."""
    found = job(drawn(*WINDOW)).inputs
    assert (found["work.strokes"], found["work.corner_load"]) == pytest.approx((2, 3 + 2 * 99), rel=1e-9)


def test_without_a_pitch_the_contour_is_run_as_drawn():
    found = job(drawn(*WINDOW), laser__hatch_pitch_mm=0)
    assert found.inputs.number("work.varnish_release_m") == pytest.approx(0.12, rel=1e-9)
    assert planned_m(found) == pytest.approx(0.12, rel=1e-9)


def test_an_open_line_beside_a_window_is_run_as_drawn():
    found = job(drawn(*WINDOW, (60, 10, 90, 10)))
    assert found.inputs.number("work.varnish_release_m") == pytest.approx(4.0198 + 0.03, rel=1e-9)
    assert planned_m(found) == pytest.approx(4.0198 + 0.03, rel=1e-9)
    assert found.inputs["work.strokes"] == 3


def test_a_drawing_whose_varnish_release_is_open_is_not_hatched():
    found = job(drawn((60, 10, 90, 10)))
    assert found.origins["work.varnish_release_m"] == "drawing box"
    assert found.inputs.number("work.varnish_release_m") == pytest.approx(0.03, rel=1e-9)


def test_a_round_window_is_counted_by_its_area():
    """pi r2 / pitch, and the links about its two flanks."""
    found = job(drawn(circle(50, 40, 15)))
    assert found.inputs.number("work.varnish_release_m") * 0.2 == pytest.approx(np.pi * 0.225, rel=0.03)


def test_a_finer_pitch_takes_longer():
    """What the pitch is there for: it must reach the seconds of a sheet."""
    coarse, fine = (sheet_time(job(drawn(*WINDOW), laser__hatch_pitch_mm=p).inputs).cutting for p in (0.5, 0.1))
    assert fine > 2 * coarse


def test_blanks_without_a_gap_are_hatched_each():
    """Lines that neighbours share are cuts; the window of each blank is run for itself."""
    found = job(drawn(*WINDOW), layout__gutter_laser_mm=0)
    assert found.inputs.number("layout.shared_laser_m") > 0
    assert planned_m(found) == pytest.approx(4.0198, rel=1e-9)


def test_a_length_that_is_given_stands():
    found = job(drawn(*WINDOW), work__varnish_release_m=1.5)
    assert found.inputs.number("work.varnish_release_m") == 1.5


def test_the_pitch_can_not_be_varied_in_a_prepared_job():
    """Its lengths were worked out from it: a change needs a new scenario, and says so."""
    with pytest.raises(InputError, match="can't be varied here"):
        vary(job(drawn(*WINDOW)), {"laser.hatch_pitch_mm": 0.3})


def test_a_pitch_far_too_fine_for_the_window_is_refused_by_name():
    with pytest.raises(InputError, match=r"laser\.hatch_pitch_mm: more than 20,000 lines"):
        job(drawn(*WINDOW), laser__hatch_pitch_mm=0.0005)
