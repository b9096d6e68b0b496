"""Six carton styles against coordinates and sums worked out by hand.

Derived here: no open drawing with published lengths was found. Outlines, areas and lengths were
written down from the proportions (which are common practice, no source) and not taken from the
program: L = 80, W = 40, H = 120, glue flap 15 with a bevel of 3, tapers of 2, tuck flap 15, dust flap
30, seal flaps 38 and 30, crash-lock flaps 30 and 25; tray with a base of 200 x 150, walls of 40,
tabs of 35 tapered by 3. All in mm.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import polygonize, unary_union
from shapely.geometry import LineString
from worked_cartons import TRAY, TUBE

from compare.geometry.linework import ring_segments
from compare.geometry.styles import Blank, build_blank
from compare.routes.laser import carton_s, sheet_s

CARTONS = dict.fromkeys(("sleeve", "reverse_tuck_end", "straight_tuck_end", "seal_end", "crash_lock"), TUBE)
CARTONS["glued_tray"] = TRAY


class Figures(NamedTuple):
    """What a style measures: box and lengths in mm, area in mm2."""

    box: tuple[float, float]
    area: float
    cut: float
    crease: float
    panels: int


FIGURES = {
    "sleeve": Figures((255, 120), 30_555.0, 744.594117, 480.0, 5),
    "reverse_tuck_end": Figures((255, 230), 43_855.0, 1_181.657843, 960.0, 13),
    "straight_tuck_end": Figures((255, 230), 43_855.0, 1_181.657843, 960.0, 13),
    "seal_end": Figures((255, 196), 45_723.0, 1_225.603611, 960.0, 13),
    "crash_lock": Figures((255, 205), 43_785.0, 1_167.711841, 1_030.710678, 15),
    "glued_tray": Figures((280, 230), 63_180.0, 1_277.026689, 860.0, 9),
}

BODY = [((x, 0), (x, 120)) for x in (15, 95, 135, 215)]
TUCK_TOP = [(255, 120), (253, 150), (217, 150), (215, 120), (135, 120), (133, 150), (97, 150), (95, 120)]
TUCK_TOP += [(95, 160), (93, 175), (17, 175), (15, 160), (15, 120), (0, 117)]
TUCK_TOP_CREASES = [((15, 120), (135, 120)), ((215, 120), (255, 120)), ((15, 160), (95, 160))]

OUTLINES = {
    "sleeve": [(0, 3), (15, 0), (255, 0), (255, 120), (15, 120), (0, 117)],
    "reverse_tuck_end": [
        *[(0, 3), (15, 0), (95, 0), (97, -30), (133, -30), (135, 0), (135, -40), (137, -55), (213, -55), (215, -40)],
        *[(215, 0), (217, -30), (253, -30), (255, 0)],
        *TUCK_TOP,
    ],
    "straight_tuck_end": [
        *[(0, 3), (15, 0), (15, -40), (17, -55), (93, -55), (95, -40), (95, 0), (97, -30), (133, -30), (135, 0)],
        *[(215, 0), (217, -30), (253, -30), (255, 0)],
        *TUCK_TOP,
    ],
    "seal_end": [
        *[(0, 3), (15, 0), (17, -38), (93, -38), (95, 0), (97, -30), (133, -30), (135, 0), (137, -30), (213, -30)],
        *[(215, 0), (217, -30), (253, -30), (255, 0), (255, 120), (253, 150), (217, 150), (215, 120), (213, 150)],
        *[(137, 150), (135, 120), (133, 150), (97, 150), (95, 120), (93, 158), (17, 158), (15, 120), (0, 117)],
    ],
    "crash_lock": [
        *[(0, 3), (15, 0), (17, -30), (93, -30), (95, 0), (97, -25), (133, -25), (135, 0), (137, -30), (213, -30)],
        *[(215, 0), (217, -25), (253, -25), (255, 0)],
        *TUCK_TOP,
    ],
    "glued_tray": [
        *[(0, 0), (0, -40), (200, -40), (200, 0), (203, -35), (237, -35), (240, 0), (240, 150), (237, 185), (203, 185)],
        *[(200, 150), (200, 190), (0, 190), (0, 150), (-3, 185), (-37, 185), (-40, 150), (-40, 0), (-37, -35)],
        (-3, -35),
    ],
}

CREASES = {
    "sleeve": BODY,
    "reverse_tuck_end": [*BODY, ((95, 0), (255, 0)), ((135, -40), (215, -40)), *TUCK_TOP_CREASES],
    "straight_tuck_end": [
        *BODY,
        *[((15, 0), (135, 0)), ((215, 0), (255, 0)), ((15, -40), (95, -40))],
        *TUCK_TOP_CREASES,
    ],
    "seal_end": [*BODY, ((15, 0), (255, 0)), ((15, 120), (255, 120))],
    "crash_lock": [
        *BODY,
        *[((15, 0), (255, 0)), ((135, 0), (110, -25)), ((255, 0), (230, -25))],
        *TUCK_TOP_CREASES,
    ],
    "glued_tray": [
        *[((0, 0), (200, 0)), ((200, 0), (200, 150)), ((200, 150), (0, 150)), ((0, 150), (0, 0))],
        *[((0, 0), (-40, 0)), ((0, 150), (-40, 150)), ((200, 0), (240, 0)), ((200, 150), (240, 150))],
    ],
}


def _draw(style: str, **changes: float) -> Blank:
    return build_blank(style, {**CARTONS[style], **changes})


def _lines(segments):
    return unary_union([LineString(segment) for segment in segments])


def _panels(blank: Blank):
    return list(polygonize([_lines([*ring_segments(blank.outline), *blank.creases])]).geoms)


def _from_its_smallest_corner(outline):
    start = outline.index(min(outline))
    return np.array([*outline[start:], *outline[:start]], dtype=float)


@pytest.mark.parametrize("style", FIGURES)
def test_box_area_and_lengths_of_a_style(style):
    """Derived: sums of panels, flaps and slanted sides, by hand."""
    blank, figures = _draw(style), FIGURES[style]
    assert blank.box_mm == pytest.approx(figures.box, abs=1e-6)
    assert blank.area_mm2 == pytest.approx(figures.area, abs=1e-6)
    assert blank.cut.length_mm == pytest.approx(figures.cut, abs=1e-6)
    assert blank.crease_mm == pytest.approx(figures.crease, abs=1e-6)


@pytest.mark.parametrize("style", FIGURES)
def test_lines_of_a_style_enclose_its_panels(style):
    """Derived: counted by hand; the faces are found by shapely and together make up the blank."""
    faces = _panels(_draw(style))
    assert len(faces) == FIGURES[style].panels
    assert sum(face.area for face in faces) == pytest.approx(FIGURES[style].area, abs=1e-6)


@pytest.mark.parametrize("style", OUTLINES)
def test_outline_of_a_style_is_the_one_written_down(style):
    """Derived: every corner in order, written down by hand."""
    drawn, written = (_from_its_smallest_corner(list(o)) for o in (_draw(style).outline, OUTLINES[style]))
    assert drawn.shape == written.shape
    assert drawn == pytest.approx(written, abs=1e-9)


@pytest.mark.parametrize("style", CREASES)
def test_creases_of_a_style_are_those_written_down(style):
    """Derived: every crease, written down by hand; how a line is cut into pieces does not matter."""
    assert _lines(_draw(style).creases).symmetric_difference(_lines(CREASES[style])).length == pytest.approx(
        0, abs=1e-9
    )


@pytest.mark.parametrize(("style", "cut"), [("reverse_tuck_end", 1_120.0), ("straight_tuck_end", 1_150.0)])
def test_a_knife_line_shared_by_two_flaps_counts_once(style, cut):
    """Derived: without taper and bevel flaps share sides; adding the sides up would give 1,210."""
    blank = _draw(style, flap_taper_mm=0.0, glue_flap_bevel_mm=0.0)
    assert blank.cut.length_mm == pytest.approx(cut, abs=1e-6)
    assert blank.area_mm2 == pytest.approx(44_200, abs=1e-6)


@pytest.mark.parametrize("style", CARTONS)
@settings(max_examples=10, deadline=None)
@given(k=st.floats(0.2, 5))
def test_scaling_a_carton_scales_lengths_and_areas(style, k):
    """Derived: lengths go with k, areas with k squared, panels and corners stay."""
    plain = _draw(style)
    scaled = build_blank(style, {n: v * k if n.endswith("_mm") else v for n, v in CARTONS[style].items()})
    assert scaled.cut.length_mm == pytest.approx(plain.cut.length_mm * k, rel=1e-9)
    assert scaled.crease_mm == pytest.approx(plain.crease_mm * k, rel=1e-9)
    assert scaled.area_mm2 == pytest.approx(plain.area_mm2 * k * k, rel=1e-9)
    assert (scaled.cut.bends, scaled.cut.strokes) == (plain.cut.bends, plain.cut.strokes)


@settings(max_examples=25, deadline=None)
@given(length=st.floats(40, 300), width=st.floats(20, 120), height=st.floats(30, 300))
def test_reverse_and_straight_tuck_take_the_same_board_rule_and_time(length, width, height):
    """Derived: they differ only in which panel the lower closure hangs on."""
    size = {"length_mm": length, "width_mm": width, "height_mm": height}
    reverse, straight = _draw("reverse_tuck_end", **size), _draw("straight_tuck_end", **size)
    assert reverse.area_mm2 == pytest.approx(straight.area_mm2, rel=1e-9)
    assert reverse.cut.length_mm == pytest.approx(straight.cut.length_mm, rel=1e-9)
    assert reverse.crease_mm == pytest.approx(straight.crease_mm, rel=1e-9)


def test_a_reverse_tuck_at_one_metre_per_second_cuts_for_1_1817_seconds(plain):
    """Derived: 1,181.658 mm / 1 m/s; power is no limit here and nothing else takes time."""
    x = plain(
        {
            "work.cutting_m": _draw("reverse_tuck_end").cut.length_mm / 1000,
            "laser.max_mark_m_s": 1,
            "laser.power_w": 10_000,
        }
    ).inputs
    assert carton_s(x) == pytest.approx(1.1817, abs=5e-5)


@pytest.mark.parametrize("power", [100, 1_000, 10_000])
def test_no_time_is_below_length_over_top_speed(load, demo_job, power):
    """Derived: a reported time below it would be wrong, whatever the power; scanners hold 4 m/s here."""
    x = load(demo_job, f"laser.power_w={power}", "laser.max_mark_m_s=4").inputs
    assert carton_s(x) >= x["work.cutting_m"] / 4
    assert sheet_s(x) >= x["layout.ups_laser"] * x["work.cutting_m"] / (4 * x["laser.heads"])
