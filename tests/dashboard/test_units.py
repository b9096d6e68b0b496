"""Metric or US units on screen: known conversions, and nothing that is only looked at changes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.assumptions import assumption_table
from dashboard.units import Shown, shown_as

NAMED = {row.unit: name for name, row in assumption_table().items() if name != "board.caliper_mm"}
UNITS = sorted(NAMED)


@pytest.mark.parametrize(
    ("name", "unit", "stored", "shown", "on_screen"),
    [
        # published: NIST Special Publication 811 (2008), appendix B.8: inch 25.4 mm, foot 0.3048 m exactly
        ("sheet.width_mm", "mm", 25.4, 1.0, "in"),
        ("work.cutting_m", "m", 0.3048, 1.0, "ft"),
        ("carton.blank_area_m2", "m2", 0.09290304, 1.0, "sq ft"),
        ("cutouts.area_mm2", "mm2", 645.16, 1.0, "sq in"),
        # derived here from the same source: 0.45359237 kg to the pound over 92.90304 m2, that is 4.88243 g/m2
        ("board.grammage_g_m2", "g/m2", 4.88243, 1.0, "lb/1,000 sq ft"),
        ("board.grammage_g_m2", "g/m2", 300.0, 61.4, "lb/1,000 sq ft"),
        # common practice, no source: a point of caliper is a thousandth of an inch
        ("board.caliper_mm", "mm", 0.0254, 1.0, "pt"),
        ("board.caliper_mm", "mm", 0.4572, 18.0, "pt"),
    ],
)
def test_us_units_are_the_known_ones(name, unit, stored, shown, on_screen):
    as_us = shown_as(name, unit, "us")
    assert as_us.unit == on_screen
    assert as_us.show(stored) == pytest.approx(shown, abs=10**-as_us.decimals)
    assert as_us.store(shown, None) == pytest.approx(shown * as_us.size)
    assert as_us.size * shown == pytest.approx(stored, rel=2e-3)


def test_a_pound_per_thousand_square_feet_is_4_88243_grams_per_square_metre():
    assert shown_as("board.grammage_g_m2", "g/m2", "us").size == pytest.approx(4.88243, abs=5e-6)


def test_metric_shows_what_is_stored_and_caliper_in_micrometres():
    assert shown_as("sheet.width_mm", "mm", "metric") == Shown("mm")
    assert shown_as("board.caliper_mm", "mm", "metric").show(0.4) == 400
    assert shown_as("board.caliper_mm", "mm", "metric").unit == "µm"


@pytest.mark.parametrize("unit", ["-", "0/1"])
def test_a_pure_number_has_no_unit_on_screen(unit):
    assert shown_as("demand.versions", unit, "us").unit == ""


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("name", [*NAMED.values(), "board.caliper_mm"])
def test_a_value_that_is_only_looked_at_keeps_every_digit(name, system):
    """A page sends back what it shows, rounded for the eye; the stored value must survive that."""

    @PROPERTY
    @given(st.floats(1e-6, 1e7))
    def looked_at(stored):
        shown = shown_as(name, assumption_table()[name].unit, system)
        assert shown.store(shown.show(stored), stored) == stored

    looked_at()


@PROPERTY
@given(st.sampled_from(["mm", "m", "m2", "mm2", "g/m2"]), st.floats(0.01, 1e5))
def test_what_is_typed_is_shown_again_as_it_was_typed(unit, typed):
    """Within the decimals on screen: someone who types 3.15 in must read 3.15 in afterwards."""
    shown = shown_as("x", unit, "us")
    typed = round(typed, shown.decimals)
    assert shown.show(shown.store(typed, None)) == typed


def test_a_changed_value_is_stored_in_si():
    assert shown_as("sheet.width_mm", "mm", "us").store(40.0, 1000.0) == pytest.approx(1016.0)
