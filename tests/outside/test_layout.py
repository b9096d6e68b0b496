"""Ups by the grid against counted layouts."""

from __future__ import annotations

import pytest

from compare.geometry.layout import grid_ups

NO_MARGINS = {"gripper_mm": 0, "side_margin_mm": 0, "tail_margin_mm": 0, "gutter_mm": 0}

# Common practice, no source: 12 mm at the gripper, 10 at each side, 5 at the tail, 3 between blanks.
MARGINS = {"gripper_mm": 12, "side_margin_mm": 10, "tail_margin_mm": 5, "gutter_mm": 3}


@pytest.mark.parametrize(("grain", "ups"), [("width", 30), ("length", 32), ("any", 32)])
def test_labels_of_120_by_150_on_a_sheet_of_700_by_1000(grain, ups):
    """Published: referate-max.de, "Der Einteilungsbogen": 30 one way, 32 turned, so 32."""
    assert grid_ups(700, 1_000, 120, 150, **NO_MARGINS, grain=grain).ups == ups


def test_the_better_way_round_is_said_to_be_turned():
    """Published: the same sheet; its 32 blanks lie turned by a quarter."""
    assert grid_ups(700, 1_000, 120, 150, **NO_MARGINS).turned is True


@pytest.mark.parametrize(
    ("sheet", "blank", "straight", "turned"),
    [
        ((1_020, 720), (255, 230), 9, 8),
        ((1_020, 720), (255, 120), 15, 16),
        ((740, 520), (255, 230), 4, 3),
        ((1_450, 1_050), (255, 230), 20, 24),
        ((1_450, 1_050), (280, 230), 20, 18),
        ((791, 480), (255, 230), 6, 3),  # three columns and two rows fit to the millimetre
        ((790, 480), (255, 230), 4, 3),
        ((791, 479), (255, 230), 3, 3),
    ],
)
def test_blanks_between_margins_and_gutters(sheet, blank, straight, turned):
    """Derived by counting rows and columns by hand; the margins are common practice without a source."""
    assert grid_ups(*sheet, *blank, **MARGINS, grain="width").ups == straight
    assert grid_ups(*sheet, *blank, **MARGINS, grain="length").ups == turned
    assert grid_ups(*sheet, *blank, **MARGINS).ups == max(straight, turned)
