"""Lengths, areas and waste of drawn lines against numbers from outside the program.

Where nothing else is said the numbers are derived here, by formulas of school geometry. The six cartons
are those of the outside check of the styles, whose proportions are common practice, no source.
Faces and areas are found again by shapely (GEOS), which knows nothing of the program.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from drawn_lines import box, circle, codes, finding, mapped, measured, strokes_of
from shapely.geometry import LineString

BODY = [(x, 0, x, 120) for x in (15, 95, 135, 215)]
TUCK_TOP = [(255, 120), (253, 150), (217, 150), (215, 120), (135, 120), (133, 150), (97, 150), (95, 120)]
TUCK_TOP += [(95, 160), (93, 175), (17, 175), (15, 160), (15, 120), (0, 117)]
TUCK_TOP_CREASES = [(15, 120, 95, 120), (95, 120, 135, 120), (215, 120, 255, 120), (15, 160, 95, 160)]

CARTONS = {
    "sleeve": ([(0, 3), (15, 0), (255, 0), (255, 120), (15, 120), (0, 117)], BODY),
    "reverse tuck end": (
        [
            *[(0, 3), (15, 0), (95, 0), (97, -30), (133, -30), (135, 0), (135, -40), (137, -55), (213, -55)],
            *[(215, -40), (215, 0), (217, -30), (253, -30), (255, 0), *TUCK_TOP],
        ],
        [*BODY, (95, 0, 135, 0), (135, 0, 215, 0), (215, 0, 255, 0), (135, -40, 215, -40), *TUCK_TOP_CREASES],
    ),
    "straight tuck end": (
        [
            *[(0, 3), (15, 0), (15, -40), (17, -55), (93, -55), (95, -40), (95, 0), (97, -30), (133, -30), (135, 0)],
            *[(215, 0), (217, -30), (253, -30), (255, 0), *TUCK_TOP],
        ],
        [*BODY, (15, 0, 95, 0), (95, 0, 135, 0), (215, 0, 255, 0), (15, -40, 95, -40), *TUCK_TOP_CREASES],
    ),
    "seal end": (
        [
            *[(0, 3), (15, 0), (17, -38), (93, -38), (95, 0), (97, -30), (133, -30), (135, 0), (137, -30)],
            *[(213, -30), (215, 0), (217, -30), (253, -30), (255, 0), (255, 120), (253, 150), (217, 150)],
            *[(215, 120), (213, 150), (137, 150), (135, 120), (133, 150), (97, 150), (95, 120), (93, 158)],
            *[(17, 158), (15, 120), (0, 117)],
        ],
        [*BODY, (15, 0, 255, 0), (15, 120, 255, 120)],
    ),
    "crash lock": (
        [
            *[(0, 3), (15, 0), (17, -30), (93, -30), (95, 0), (97, -25), (133, -25), (135, 0), (137, -30)],
            *[(213, -30), (215, 0), (217, -25), (253, -25), (255, 0), *TUCK_TOP],
        ],
        [*BODY, (15, 0, 255, 0), (135, 0, 110, -25), (255, 0, 230, -25), *TUCK_TOP_CREASES],
    ),
    "glued tray": (
        [
            *[(0, 0), (0, -40), (200, -40), (200, 0), (203, -35), (237, -35), (240, 0), (240, 150), (237, 185)],
            *[(203, 185), (200, 150), (200, 190), (0, 190), (0, 150), (-3, 185), (-37, 185), (-40, 150), (-40, 0)],
            *[(-37, -35), (-3, -35)],
        ],
        [
            *[(0, 0, 200, 0), (200, 0, 200, 150), (200, 150, 0, 150), (0, 150, 0, 0)],
            *[(0, 0, -40, 0), (0, 150, -40, 150), (200, 0, 240, 0), (200, 150, 240, 150)],
        ],
    ),
}

# box, blank area, cut, crease, panels: worked out by hand from panels, flaps and slanted sides
FIGURES = {
    "sleeve": ((255, 120), 30_555.0, 744.594117, 480.0, 5),
    "reverse tuck end": ((255, 230), 43_855.0, 1_181.657843, 960.0, 13),
    "straight tuck end": ((255, 230), 43_855.0, 1_181.657843, 960.0, 13),
    "seal end": ((255, 196), 45_723.0, 1_225.603611, 960.0, 13),
    "crash lock": ((255, 205), 43_785.0, 1_167.711841, 1_030.710678, 15),
    "glued tray": ((280, 230), 63_180.0, 1_277.026689, 860.0, 9),
}


def _carton(name: str):
    outline, creases = CARTONS[name]
    sides = [(*a, *b) for a, b in zip(outline, [*outline[1:], outline[0]], strict=True)]
    return strokes_of(*sides, *creases, layers=["cutting"] * len(sides) + ["creasing"] * len(creases))


# -- cartons ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FIGURES)
def test_a_drawn_carton_has_the_area_and_lengths_worked_out_by_hand(name):
    found, (size, area, cut, crease, _) = measured(_carton(name)), FIGURES[name]
    assert (found.work.blank_width_mm, found.work.blank_height_mm) == pytest.approx(size, abs=1e-6)
    assert found.blank_area_mm2 == pytest.approx(area, abs=1e-6)
    assert found.work.cutting_m * 1000 == pytest.approx(cut, abs=1e-6)
    assert found.work.creasing_m * 1000 == pytest.approx(crease, abs=1e-6)
    assert codes(found) == []


@pytest.mark.parametrize("name", FIGURES)
def test_the_panels_of_a_drawn_carton_make_up_its_blank(name):
    """Panels found by shapely from the same lines, counted by hand."""
    chords, _ = _carton(name).strokes.flattened(0.01)
    lines = shapely.unary_union([LineString(line) for line in chords.reshape(-1, 2, 2)])
    panels = list(shapely.polygonize([lines]).geoms)
    assert len(panels) == FIGURES[name][4]
    assert measured(_carton(name)).blank_area_mm2 == pytest.approx(sum(panel.area for panel in panels), abs=1e-6)


@pytest.mark.parametrize("name", FIGURES)
def test_the_outline_of_a_drawn_carton_is_the_one_that_was_drawn(name):
    drawn = shapely.Polygon(CARTONS[name][0])
    assert shapely.Polygon(measured(_carton(name)).outline).symmetric_difference(drawn).area == pytest.approx(
        0, abs=1e-6
    )


@pytest.mark.parametrize("factor", [0.5, 3.0])
def test_a_carton_of_another_size_scales_its_lengths_and_its_area(factor):
    one = measured(_carton("crash lock"))
    other = measured(mapped(_carton("crash lock"), [[factor, 0, 0], [0, factor, 0]]))
    assert other.work.cutting_m == pytest.approx(factor * one.work.cutting_m, rel=1e-12)
    assert other.work.creasing_m == pytest.approx(factor * one.work.creasing_m, rel=1e-12)
    assert other.blank_area_mm2 == pytest.approx(factor**2 * one.blank_area_mm2, rel=1e-12)


def test_reverse_and_straight_tuck_ends_ask_the_same_of_a_tool():
    """The closures change sides; nothing else does."""
    one, other = (measured(_carton(f"{way} tuck end")) for way in ("reverse", "straight"))
    assert one.blank_area_mm2 == pytest.approx(other.blank_area_mm2, rel=1e-12)
    assert one.work.cutting_m == pytest.approx(other.work.cutting_m, rel=1e-12)
    assert one.work.creasing_m == pytest.approx(other.work.creasing_m, rel=1e-12)


def _untapered(name: str):
    """The carton with straight flaps: bevels and tapers of 0, so that neighbours share a knife line."""
    even = {2: 0, 3: 0, 117: 120}
    columns = {17: 15, 93: 95, 97: 95, 133: 135, 137: 135, 213: 215, 217: 215, 253: 255}
    outline = [(columns.get(x, x), even.get(y, y)) for x, y in CARTONS[name][0]]
    sides = [(*a, *b) for a, b in zip(outline, [*outline[1:], outline[0]], strict=True)]
    return strokes_of(*[side for side in sides if side[:2] != side[2:]])


@pytest.mark.parametrize(
    ("name", "drawn", "cut"), [("reverse tuck end", 1210, 1120), ("straight tuck end", 1210, 1150)]
)
def test_flaps_that_share_a_knife_line_count_it_once(name, drawn, cut):
    """Straight flaps: three, or two, of the dust flaps' sides of 30 lie on a side of a closure. The outline
    touches itself and is no valid ring; its lines enclose 44,200 mm2 all the same."""
    found = measured(_untapered(name))
    assert found.drawn_mm == pytest.approx(drawn, abs=1e-9)
    assert found.work.cutting_m * 1000 == pytest.approx(cut, abs=1e-9)
    assert found.blank_area_mm2 == pytest.approx(44_200, abs=1e-6)
    assert f"{drawn - cut:.1f} mm, in {(drawn - cut) // 30} places" in finding(found, "drawing.duplicates").message


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.7, math.pi / 2, 2.9])
@pytest.mark.parametrize("mirror", [1, -1])
def test_moving_turning_and_mirroring_a_carton_changes_no_length_and_no_area(angle, mirror):
    c, s = math.cos(angle), math.sin(angle)
    for name, (_, area, cut, crease, _) in FIGURES.items():
        found = measured(mapped(_carton(name), [[c, -s * mirror, 1234.5], [s, c * mirror, -678.9]]))
        assert found.blank_area_mm2 == pytest.approx(area, rel=1e-9)
        assert found.work.cutting_m * 1000 == pytest.approx(cut, rel=1e-9)
        assert found.work.creasing_m * 1000 == pytest.approx(crease, rel=1e-9)


# -- doubles and common lines -----------------------------------------------------------------------------------------


def test_a_line_drawn_twice_counts_once_and_is_one_double():
    found = measured(strokes_of((0, 0, 30, 40), (30, 40, 0, 0)))
    assert (found.drawn_mm, found.length_mm) == (100, 50)
    assert "50.0 mm, in 1 place;" in finding(found, "drawing.duplicates").message


@pytest.mark.parametrize(
    ("columns", "rows", "drawn", "cut"), [(2, 1, 640, 580), (3, 2, 1_920, 1_380), (4, 3, 3_840, 2_500)]
)
def test_a_grid_of_touching_rectangles_is_cut_along_common_lines(columns, rows, drawn, cut):
    """Of 100 x 60: (rows + 1) columns x 100 + (columns + 1) rows x 60."""
    grid = [side for i in range(columns) for j in range(rows) for side in box(100 * i, 60 * j, 100, 60)]
    found = measured(strokes_of(*grid))
    assert (found.drawn_mm, found.length_mm) == (drawn, cut)
    assert cut == (rows + 1) * columns * 100 + (columns + 1) * rows * 60
    assert [blank.area for blank in found.blanks] == [6000] * (columns * rows)


@pytest.mark.parametrize("scale", [1.0, 1 / 7, math.pi])
def test_sums_of_many_overlapping_lines_are_those_of_their_union(scale):
    """Against shapely's union of lines at right angles, whose coordinates it meets exactly."""
    dice = np.random.default_rng(11)
    lines = []
    for _ in range(400):
        at, low, size = dice.integers(0, 20), dice.integers(0, 80), dice.integers(1, 20)
        lines.append((at, low, at, low + size) if dice.random() < 0.5 else (low, at, low + size, at))
    union = shapely.unary_union([LineString([line[:2], line[2:]]) for line in lines])
    drawing = strokes_of(*lines)
    found = measured(mapped(drawing, [[0.6 * scale, -0.8 * scale, 3.3], [0.8 * scale, 0.6 * scale, -7.7]]))
    assert found.length_mm == pytest.approx(scale * union.length, rel=1e-9)


def test_areas_within_many_crossing_lines_are_those_that_shapely_finds():
    dice = np.random.default_rng(5)
    lines = [tuple(dice.uniform(0, 100, 4)) for _ in range(60)]
    faces = shapely.polygonize([shapely.unary_union([LineString([line[:2], line[2:]]) for line in lines])]).geoms
    found = measured(strokes_of(*lines), tolerance_mm=0.0)  # shapely joins no ends that nearly meet
    areas = sorted(piece.area for piece in (*found.blanks, *found.waste))
    assert areas == pytest.approx(sorted(f.area for f in faces if f.area > 0.01 * f.length), rel=1e-9)


# -- formulas ---------------------------------------------------------------------------------------------------------


def test_a_circle_is_two_pi_r_round_and_pi_r_squared_within():
    found = measured(strokes_of(circle(7, -3, 50)))
    assert found.work.cutting_m * 1000 == pytest.approx(314.159265359, rel=1e-11)
    assert found.blank_area_mm2 == pytest.approx(7_853.981633974, rel=1e-9)


def test_two_half_circles_are_one_circle():
    """A polyline with two bulges of 1 over a chord of 10: 31.415927, one stroke."""
    found = measured(strokes_of(circle(5, 0, 5, math.pi, 2 * math.pi), circle(5, 0, 5, 0, math.pi)))
    assert (found.length_mm, found.work.strokes) == (pytest.approx(31.415926536, rel=1e-10), 1)


def test_a_quarter_circle_over_a_chord_of_ten():
    """A bulge of tan(pi/8) over a chord of 10: radius 10 / sqrt2, length 11.107207."""
    assert measured(strokes_of(circle(0, 0, 10 / math.sqrt(2), 0, math.pi / 2))).length_mm == pytest.approx(
        11.107207345
    )


def test_an_ellipse_of_two_and_one():
    """Perimeter 8 E(3/4), complete elliptic integral of the second kind (Abramowitz and Stegun, 17.3): 9.688448220548."""
    found = measured(strokes_of(("arc", 0, 0, 2, 0, 0, 1, 0, 2 * math.pi)))
    assert found.length_mm == pytest.approx(9.688448220548, rel=1e-10)
    assert found.blank_area_mm2 == pytest.approx(2 * math.pi, rel=1e-6)
    assert measured(mapped(strokes_of(circle(0, 0, 1)), [[20, 0, 0], [0, 10, 0]])).length_mm == pytest.approx(
        96.88448220548
    )


def test_a_thin_ellipse_keeps_within_a_hair_of_a_formula_of_ramanujan():
    """S. Ramanujan, Modular equations and approximations to pi, Quarterly J. Math. 45 (1914), second formula."""
    a, b = 30.0, 10.0
    h = ((a - b) / (a + b)) ** 2
    near = math.pi * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert measured(strokes_of(("arc", 0, 0, a, 0, 0, b, 0, 2 * math.pi))).length_mm == pytest.approx(near, rel=1e-6)


def test_the_parabola_from_nothing_to_one():
    """y = x2 as a cubic; sqrt5 / 2 + asinh(2) / 4 = 1.478942857545."""
    found = measured(strokes_of(("cubic", 0, 0, 1 / 3, 0, 2 / 3, 1 / 3, 1, 1)))
    assert found.length_mm == pytest.approx(1.478942857545, rel=1e-11)
    assert math.sqrt(5) / 2 + math.asinh(2) / 4 == pytest.approx(1.478942857545, rel=1e-11)


@pytest.mark.parametrize(("unit", "length"), [(25.4, 25.4), (1.0, 1.0), (10.0, 10.0), (1000.0, 1000.0)])
def test_a_line_of_one_unit_is_as_long_as_the_unit(unit, length):
    """Inch, millimetre, centimetre, metre."""
    assert measured(strokes_of((0, 0, 1, 0)), mm_per_unit=unit).length_mm == pytest.approx(length, rel=1e-15)
