"""Seconds as a function of one speed limit: what stretches and ramps take, alone and together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.errors import InputError
from compare.geometry.speed_table import SpeedTable, limited, ramped, straight, total

_positive = st.floats(1e-3, 1e3)
_stretches = st.lists(st.tuples(_positive, _positive | st.just(np.inf)), min_size=1, max_size=8)
_ramps = st.lists(st.tuples(st.just(0.0) | st.floats(0.01, 100), st.floats(0.01, 100)), min_size=1, max_size=8)


@st.composite
def _tables(draw: st.DrawFn) -> SpeedTable:
    lengths, limits = np.array(draw(_stretches)).T
    low, rise = np.array(draw(_ramps)).T
    free = straight(draw(_positive))
    return draw(st.sampled_from([free, limited(lengths, limits), ramped(low, low + rise, draw(_positive))]))


_several = st.lists(_tables(), min_size=1, max_size=5)


# -- each part against its own formula --------------------------------------------------------------------------------


@PROPERTY
@given(_positive, _positive)
def test_what_nothing_slows_takes_its_length_over_the_speed(length, speed):
    assert straight(length).seconds(speed) == pytest.approx(length / speed, rel=1e-15)


@PROPERTY
@given(_stretches, _positive)
def test_a_stretch_is_run_at_the_lower_of_its_limit_and_the_speed(stretches, speed):
    lengths, limits = np.array(stretches).T
    expected = sum(length / min(limit, speed) for length, limit in stretches)
    assert limited(lengths, limits).seconds(speed) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("speed", "seconds"), [(2, 8.0), (3, 16 / 3), (4, 4.125), (5, 3.6), (9, 3.6), (np.inf, 3.6)])
def test_a_ramp_between_stretches_follows_the_speed_limit_up_to_its_ends(speed, seconds):
    """Derived by hand: from 3 to 5 at 1, then 8 more at 5: 16/v below 3; at 4 a ramp of 1 s to 4, then 12.5/4."""
    found = total([ramped(3.0, 5.0, 1.0), limited(8.0, 5.0)])
    assert found.length == 16.0
    assert found.seconds(speed) == pytest.approx(seconds, rel=1e-12)


@PROPERTY
@given(_ramps, _positive, _positive)
def test_a_ramp_takes_what_a_thousand_slices_of_it_take(ramps, accel, speed):
    """Slices of one speed step each, by trapezoid: its time is exact within a slice, and above where the cap cuts in."""
    expected = 0.0
    for low, rise in ramps:
        w = np.unique(np.append(np.linspace(low, low + rise, 1001), np.clip(speed, low, low + rise)))
        at = w**2 / (2 * accel)
        mean = np.minimum((w[1:] + w[:-1]) / 2, speed)
        expected += float((np.diff(at) / mean).sum())
    low, rise = np.array(ramps).T
    assert ramped(low, low + rise, accel).seconds(speed) == pytest.approx(expected, rel=1e-9)


# -- tables -----------------------------------------------------------------------------------------------------------


@PROPERTY
@given(_several, _positive | st.just(np.inf))
def test_tables_together_take_the_sum_of_their_seconds(tables, speed):
    together = total(tables)
    assert together.seconds(speed) == pytest.approx(sum(t.seconds(speed) for t in tables), rel=1e-10, abs=1e-13)
    assert together.length == pytest.approx(sum(t.length for t in tables), rel=1e-12)


@PROPERTY
@given(_several)
def test_tables_of_tables_are_the_table_of_all(tables):
    """A sheet is the total of its heads, each the total of its strokes."""
    speed = np.geomspace(1e-3, 1e4, 50)
    nested = total([total(tables), total(tables[:1]), total([])])
    assert nested.seconds(speed) == pytest.approx(total([*tables, tables[0]]).seconds(speed), rel=1e-10, abs=1e-13)


@PROPERTY
@given(_several)
def test_an_array_of_speeds_is_a_loop_of_speeds(tables):
    """For the vectorised engine, to rounding: an array is answered row by row, or by the highest line, whichever is faster."""
    table = total(tables)
    speeds = np.concatenate([np.geomspace(1e-3, 1e4, 40), table.breaks[1:], [np.inf]])
    found = table.seconds(speeds)
    assert found == pytest.approx([table.seconds(float(speed)) for speed in speeds], rel=1e-13)
    assert isinstance(table.seconds(1.0), float)


def test_speeds_of_any_shape_keep_it():
    assert straight(6.0).seconds(np.array([[1.0, 2.0], [3.0, 6.0]])).tolist() == [[6.0, 3.0], [2.0, 1.0]]


@PROPERTY
@given(_several, _positive, st.floats(1, 10))
def test_a_higher_speed_never_takes_longer(tables, speed, factor):
    table = total(tables)
    assert table.seconds(speed * factor) <= table.seconds(speed) * (1 + 1e-10)


@PROPERTY
@given(_several, _positive)
def test_no_path_is_faster_than_its_length_over_the_speed(tables, speed):
    table = total(tables)
    assert table.seconds(speed) >= table.length / speed * (1 - 1e-10)


@PROPERTY
@given(_several)
def test_seconds_run_on_from_row_to_row(tables):
    """At a break both rows say the same: no speed is worth choosing because a formula changes there."""
    table = total(tables)
    v = table.breaks[1:]
    before = table.constant[:-1] + table.linear[:-1] * v + table.inverse[:-1] / v
    assert before == pytest.approx(table.seconds(v), rel=1e-10, abs=1e-13)


def test_without_any_limit_a_path_takes_no_time_at_infinite_speed():
    assert straight(5.0).seconds(np.inf) == 0.0


def test_an_infinite_speed_gives_the_time_that_the_limits_of_places_leave():
    assert limited(np.array([2.0, 6.0, 1.0]), np.array([1.0, 3.0, np.inf])).seconds(np.inf) == pytest.approx(4.0)


def test_far_above_all_breaks_nothing_is_left_of_rounding():
    """Sums of many ramps that should end in nothing must not be enlarged by a high speed."""
    rng = np.random.default_rng(3)
    low = rng.uniform(0, 5, 20_000)
    table = total([ramped(low, low + rng.uniform(0, 5, 20_000), 7.0), ramped(low, low + 1, 3.0)])
    assert table.seconds(1e15) == table.seconds(np.inf)


def test_equal_limits_share_a_row():
    """The ups of a sheet are alike: a table of many is no larger than that of one."""
    table = limited(np.ones(1000), np.tile([2.0, 3.0], 500))
    assert table.breaks.tolist() == [0.0, 2.0, 3.0]
    assert total([table] * 10).breaks.tolist() == [0.0, 2.0, 3.0]


def test_where_a_ramp_goes_on_at_the_same_acceleration_no_row_begins():
    """A straight piece that was split has the rows of the whole."""
    assert ramped([0.0, 2.0], [2.0, 5.0], 3.0).breaks.tolist() == [0.0, 5.0]


def test_no_tables_take_no_time():
    assert total([]).seconds(np.array([1.0, np.inf])).tolist() == [0.0, 0.0]


def test_stretches_of_no_length_may_have_any_limit():
    assert limited(np.array([0.0, 4.0]), np.array([0.0, 2.0])).seconds(2.0) == 2.0


# -- what makes no sense ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("speed", [0.0, -1.0, np.nan, np.array([1.0, 0.0])])
def test_a_speed_that_is_none_is_refused(speed):
    with pytest.raises(InputError, match="a speed has to be above 0"):
        straight(1.0).seconds(speed)


@pytest.mark.parametrize("length", [-1.0, np.nan, np.inf])
def test_a_length_that_is_none_is_refused(length):
    with pytest.raises(InputError, match="a length has to be a number from 0 up"):
        straight(length)


@pytest.mark.parametrize("limit", [0.0, -1.0, np.nan])
def test_a_stretch_that_may_not_be_passed_is_refused(limit):
    with pytest.raises(InputError, match="a speed limit has to be above 0"):
        limited(1.0, limit)


@pytest.mark.parametrize(("low", "high"), [(2.0, 1.0), (-1.0, 1.0), (1.0, np.inf), (np.nan, 1.0)])
def test_a_ramp_the_wrong_way_round_is_refused(low, high):
    with pytest.raises(InputError, match="a ramp has to run"):
        ramped(low, high, 1.0)


@pytest.mark.parametrize("accel", [0.0, -1.0, np.inf, np.nan])
def test_an_acceleration_that_is_none_is_refused(accel):
    with pytest.raises(InputError, match="an acceleration has to be above 0"):
        ramped(0.0, 1.0, accel)
