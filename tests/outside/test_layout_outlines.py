"""Interlocked blanks against pitches, columns and counts worked out by hand.

Derived here, unless a test says otherwise: no published layout of a carton with its measures was found.
The cartons are those of ``test_geometry_styles.py``: L = 80, W = 40, H = 120, glue flap 15, tuck flap
15, dust flap 30, seal flaps 38 and 30, crash-lock flaps 30 and 25; the tray has a base of 200 x 150 and
walls of 40. All in mm.

By hand: of a reverse tuck carton the closures stick out 55 on the left below and the right above, the
dust flaps 30; stacked the same way round, a closure (55) stands beside a panel without flap, and the
two dust flaps above one another keep 30 + 120 + 30 = 180 apart. A straight tuck carton has both
closures on one panel: 55 + 120 + 55 = 230; every other one turned, closure and dust flaps meet flat
panels: 230 - 25 = 205.
"""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, unary_union
from shapely.affinity import translate
from worked_cartons import TRAY, TUBE

from compare.geometry.interlock import pitch_mm, ring_array, turned_half
from compare.geometry.layout import grid_ups
from compare.geometry.sheet_layout import check_layout, place_blanks, placed_outlines
from compare.geometry.styles import Blank, build_blank

NO_MARGINS = {"gripper_mm": 0, "side_margin_mm": 0, "tail_margin_mm": 0}

# Common practice, no source: 12 mm at the gripper, 10 at each side, 5 at the tail, 3 between blanks.
MARGINS = {"gripper_mm": 12, "side_margin_mm": 10, "tail_margin_mm": 5}
GUTTER = 3

TROMINO = [(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]
"""Three squares in an L."""


def _blank(style: str) -> Blank:
    return build_blank(style, TRAY if style == "glued_tray" else TUBE)


@pytest.mark.parametrize(
    ("style", "same_way"),
    [
        ("reverse_tuck_end", 180),
        ("straight_tuck_end", 230),
        ("crash_lock", 205),
        ("seal_end", 196),
        ("sleeve", 120),
        ("glued_tray", 230),
    ],
)
def test_pitch_of_a_column_of_blanks_all_the_same_way_round(style, same_way):
    """Derived by hand: see above; the tray and the sleeve do not interlock."""
    outline = _blank(style).outline
    assert pitch_mm(outline, outline) == pytest.approx(same_way, abs=1e-6)


@pytest.mark.parametrize(
    ("style", "up", "down"),
    [("straight_tuck_end", 205, 205), ("crash_lock", 180, 205), ("seal_end", 188, 188)],
)
def test_pitch_of_a_column_of_blanks_alternately_turned(style, up, down):
    """Derived by hand: the pitch from one as drawn to a turned one, and from there to the next."""
    ring = ring_array(_blank(style).outline)
    turned = turned_half(ring)
    assert pitch_mm(ring, turned) == pytest.approx(up, abs=1e-6)
    assert pitch_mm(turned, ring) == pytest.approx(down, abs=1e-6)


def test_reverse_tuck_interlocks_and_straight_tuck_does_not():
    """Derived: they take the same board, rule and time, but not the same room on the sheet."""
    reverse, straight = (pitch_mm(*[_blank(style).outline] * 2) for style in ("reverse_tuck_end", "straight_tuck_end"))
    assert (reverse, straight) == (pytest.approx(180), pytest.approx(230))


@pytest.mark.parametrize(
    ("style", "pitch", "share"),
    [("straight_tuck_end", 230, 0.7477), ("reverse_tuck_end", 180, 0.9554), ("straight_tuck_end", 205, 0.8389)],
)
def test_share_of_the_board_that_becomes_cartons(style, pitch, share):
    """Derived: area over box width times pitch: by boxes, the reverse tuck nested, the straight tuck in turned pairs."""
    blank = _blank(style)
    assert blank.area_mm2 / (blank.box_mm[0] * pitch) == pytest.approx(share, abs=5e-5)


@pytest.mark.parametrize(
    ("style", "height", "pattern"),
    [
        ("reverse_tuck_end", 770, "interlocked in columns"),
        ("straight_tuck_end", 845, "turned pairs in columns"),
    ],
)
def test_a_column_of_four(style, height, pattern):
    """Derived by hand: 230 + 3 x 180 and 230 + 3 x 205; a tenth of a millimetre less holds three."""
    outline = _blank(style).outline
    found = place_blanks(outline, 255, height, **NO_MARGINS, gutter_mm=0, grain="width")
    assert (found.ups, found.pattern) == (4, pattern)
    assert found.box == pytest.approx((0, 0, 255, height), abs=1e-6)
    assert check_layout(outline, found, 255, height, **NO_MARGINS, gutter_mm=0) == ()
    less = place_blanks(outline, 255, height - 0.1, **NO_MARGINS, gutter_mm=0, grain="width")
    assert less.ups == 3


def test_two_l_shaped_trominoes_make_a_rectangle_of_three_by_two():
    """Derived by hand: one turned half and shifted by 1 leaves no hole and no overlap."""
    first, second = Polygon(TROMINO), translate(Polygon(turned_half(np.array(TROMINO, float))), 1, 0)
    assert unary_union([first, second]).equals(Polygon([(0, 0), (3, 0), (3, 2), (0, 2)]))
    assert first.area / 4 == 0.75  # of its box


@pytest.mark.parametrize("size", [1, 40])
def test_trominoes_fill_a_rectangle_of_three_by_two_altogether(size):
    """Derived: the pair is found by the layout too, at any scale, and its use is 1."""
    ring = np.array(TROMINO, float) * size
    found = place_blanks(ring, 3 * size, 2 * size, **NO_MARGINS, gutter_mm=0, grain="width")
    assert (found.ups, found.utilisation) == (2, pytest.approx(1))
    assert check_layout(ring, found, 3 * size, 2 * size, **NO_MARGINS, gutter_mm=0) == ()


@pytest.mark.parametrize(("columns", "rows"), [(2, 3), (1, 1), (4, 5)])
def test_trominoes_fill_larger_rectangles_altogether(columns, rows):
    """Derived: a sheet of whole pairs, whichever way they lie."""
    ring = np.array(TROMINO, float)
    found = place_blanks(ring, 3 * columns, 2 * rows, **NO_MARGINS, gutter_mm=0)
    assert found.ups == 2 * columns * rows


@pytest.mark.parametrize(
    ("sheet", "blank", "straight", "turned"),
    [
        ((1_020, 720), (255, 230), 9, 8),
        ((1_020, 720), (255, 120), 15, 16),
        ((740, 520), (255, 230), 4, 3),
        ((1_450, 1_050), (255, 230), 20, 24),
        ((1_450, 1_050), (280, 230), 20, 18),
    ],
)
def test_boxes_between_margins_and_gutters(sheet, blank, straight, turned):
    """Derived by counting rows and columns; the margins are common practice without a source."""
    width, height = blank
    ring = [(0, 0), (width, 0), (width, height), (0, height)]
    counts = [
        place_blanks(ring, *sheet, **MARGINS, gutter_mm=GUTTER, grain=grain).ups for grain in ("width", "length", "any")
    ]
    assert counts == [straight, turned, max(straight, turned)]
    assert grid_ups(*sheet, *blank, **MARGINS, gutter_mm=GUTTER).ups == counts[2]


def test_labels_of_120_by_150_on_a_sheet_of_700_by_1000():
    """Published: referate-max.de, "Der Einteilungsbogen": 30 one way, 32 turned, so 32."""
    label = [(0, 0), (120, 0), (120, 150), (0, 150)]
    counts = [
        place_blanks(label, 700, 1_000, **NO_MARGINS, gutter_mm=0, grain=grain).ups
        for grain in ("width", "length", "any")
    ]
    assert counts == [30, 32, 32]


@pytest.mark.parametrize(
    ("columns", "rows", "apart", "together"), [(2, 1, 640, 580), (3, 2, 1_920, 1_380), (4, 3, 3_840, 2_500)]
)
def test_lines_that_touching_rectangles_share(columns, rows, apart, together):
    """Derived: for n by m rectangles of 100 x 60, (m + 1) n 100 + (n + 1) m 60 in all."""
    ring = [(0, 0), (100, 0), (100, 60), (0, 60)]
    size = (100 * columns, 60 * rows)
    found = place_blanks(ring, *size, **NO_MARGINS, gutter_mm=0, grain="width", common_lines=True)
    assert found.ups == columns * rows
    assert sum(Polygon(r).length for r in placed_outlines(ring, found.placements)) == pytest.approx(apart)
    assert apart - found.common_line_mm == pytest.approx(together, abs=1e-6)


def test_two_rectangles_with_a_side_in_common():
    """Derived: two of 10 x 20 have 120 mm of sides, 100 mm where the side of 20 is cut once."""
    ring = [(0, 0), (10, 0), (10, 20), (0, 20)]
    found = place_blanks(ring, 20, 20, **NO_MARGINS, gutter_mm=0, grain="width", common_lines=True)
    assert found.common_line_mm == pytest.approx(20, abs=1e-9)
