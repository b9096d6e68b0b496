"""Creasing rule and channel; the published worked examples are among the outside checks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.geometry.creasing import crease_channel, crease_rule_height

_mm = st.floats(0.1, 3)


@PROPERTY
@given(_mm, _mm)
def test_a_channel_is_wider_across_the_grain_than_along_it(caliper, rule):
    """Board is stiffer along its grain, so a crease across it needs more room."""
    channel = crease_channel(caliper, rule)
    assert channel.across_grain_mm > channel.along_grain_mm > rule


@PROPERTY
@given(_mm, _mm, st.floats(0.01, 100))
def test_a_channel_is_the_same_in_any_unit_of_length(caliper, rule, k):
    here, there = crease_channel(caliper, rule), crease_channel(k * caliper, k * rule)
    assert tuple(there) == pytest.approx(tuple(k * width for width in here), rel=1e-12)


def test_creasing_rule_is_lower_than_cutting_rule_by_board_and_tape():
    """Derived: 23.8 - 0.4 - 0.15."""
    assert crease_rule_height(23.8, 0.4, 0.15) == pytest.approx(23.25)


def test_without_a_tape_only_the_board_is_taken_off():
    assert crease_rule_height(23.8, 0.4) == pytest.approx(23.4)
