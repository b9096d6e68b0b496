"""Blanks on a sheet, by simple division each way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.geometry.layout import grid_ups

MARGINS = {"gripper_mm": 12, "side_margin_mm": 8, "tail_margin_mm": 8, "gutter_mm": 4}
NONE = dict.fromkeys(MARGINS, 0)
_tenths = st.integers(200, 12_000)
_gutter = st.integers(0, 100)


def _counted(room: int, size: int, gutter: int) -> int:
    """Lay blanks one after the other until the next does not fit."""
    laid, used = 0, size
    while used <= room:
        laid, used = laid + 1, used + gutter + size
    return laid


@PROPERTY
@given(_tenths, _tenths, _tenths, _tenths, _gutter)
def test_the_grid_holds_as_many_as_can_be_laid_one_by_one(width, length, across, along, gutter):
    """In whole tenths of a millimetre, so that a blank that just fits just fits."""
    sheet, blank = (width / 10, length / 10), (across / 10, along / 10)
    straight = _counted(width, across, gutter) * _counted(length, along, gutter)
    turned = _counted(width, along, gutter) * _counted(length, across, gutter)
    found = grid_ups(*sheet, *blank, **{**NONE, "gutter_mm": gutter / 10})
    assert (found.ups, found.turned) == (max(straight, turned), turned > straight)


@PROPERTY
@given(_tenths, _tenths, _tenths, _tenths)
def test_turning_sheet_and_blank_together_changes_no_count(width, length, across, along):
    sheet, blank = (width / 10, length / 10), (across / 10, along / 10)
    assert grid_ups(*sheet, *blank, **NONE).ups == grid_ups(*sheet[::-1], *blank[::-1], **NONE).ups


@PROPERTY
@given(_tenths, _tenths, _tenths, _tenths, st.integers(0, 500))
def test_a_larger_sheet_never_holds_less(width, length, across, along, more):
    blank = (across / 10, along / 10)
    small = grid_ups(width / 10, length / 10, *blank, **MARGINS).ups
    assert grid_ups((width + more) / 10, length / 10, *blank, **MARGINS).ups >= small


@PROPERTY
@given(_tenths, _tenths, _tenths, _tenths, st.sampled_from(["width", "length"]))
def test_a_grain_never_allows_more(width, length, across, along, grain):
    sizes = (width / 10, length / 10, across / 10, along / 10)
    assert grid_ups(*sizes, **MARGINS, grain=grain).ups <= grid_ups(*sizes, **MARGINS).ups


def test_margins_are_taken_off_before_dividing():
    """Derived: (1,020 - 16 + 4) / 289 = 3.49 columns, (720 - 20 + 4) / 274 = 2.57 rows."""
    assert grid_ups(1020, 720, 285, 270, **MARGINS) == (6, False)


def test_a_grain_along_the_width_forbids_turning():
    assert grid_ups(1000, 700, 320, 240, **NONE, grain="width") == (6, False)


def test_a_grain_along_the_length_demands_turning():
    assert grid_ups(1000, 700, 320, 240, **NONE, grain="length") == (8, True)


def test_a_blank_larger_than_the_sheet_does_not_fit_at_all():
    assert grid_ups(100, 100, 285, 270, **MARGINS).ups == 0


def test_margins_larger_than_the_sheet_leave_nothing():
    """Two negative rooms would multiply to a positive count."""
    assert grid_ups(10, 10, 5, 5, gripper_mm=900, side_margin_mm=900, tail_margin_mm=0, gutter_mm=0).ups == 0


def test_an_array_of_sheets_gives_an_array_of_ups():
    found = grid_ups(np.array([1020.0, 740.0]), 720, 285, 270, **MARGINS)
    assert (found.ups.tolist(), found.turned.tolist()) == ([6.0, 4.0], [False, False])


@pytest.mark.parametrize("grain", ["any", "width", "length"])
def test_a_single_sheet_gives_plain_numbers(grain):
    found = grid_ups(1020.0, 720.0, 285.0, 270.0, **MARGINS, grain=grain)
    assert (type(found.ups), type(found.turned)) == (float, bool)
