"""Calibration by measured sheets: it gives back what the sheets were made from, and says how sure it is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.decide.sheet_fit import JUMP_DELAY, MARK_DELAY, POLYGON, SEVERANCE, STROKE
from compare.errors import InputError
from compare.routes.laser import carton_s

from .measured_sheets import BASE, DESIGN, TRUTH, calibrated, columns_of, exact_seconds


def _codes(found):
    return {f.code for f in found.findings}


def _named(found):
    return {e.name: e for e in found.estimates}


def _noisy(seed, share=0.015, design=DESIGN):
    columns = columns_of(design)
    noise = np.random.default_rng(seed).normal(size=len(design))
    return columns, exact_seconds(columns) * (1 + share * noise)


# -- the model --------------------------------------------------------------------------------------------------------


def test_the_seconds_of_a_row_are_those_of_the_engine(plain):
    """Fitted values go into the engine, so both must mean the same by them: one carton, one head, every kind of line."""
    columns = {
        "cutting_m": 3.0, "cutting_creasing_m": 0.4, "perforating_m": 0.5, "partial_cutting_m": 0.7, "varnish_release_m": 0.6,
        "strokes": 9.0, "corner_load": 21.0, "nicks": 14.0, "jump_m": 9 * 0.06, "power_w": 700.0, "caliper_mm": 0.45,
    }  # fmt: skip
    lengths = {f"work.{name}": value for name, value in columns.items() if name.endswith("_m") and name != "jump_m"}
    work = {f"work.{name}": columns[name] for name in ("strokes", "corner_load", "nicks")}
    settings_ = {
        "laser.heads": 1, "laser.power_w": 700, "board.caliper_mm": 0.45, SEVERANCE: 0.62, JUMP_DELAY: 0.5, MARK_DELAY: 0.45,
        POLYGON: 0.22, "laser.mean_jump_mm": 60,
    }  # fmt: skip
    expected = float(carton_s(plain({**lengths, **work, **settings_}).inputs))
    rows = {name: np.array([value]) for name, value in columns.items()}
    assert exact_seconds(rows)[0] == pytest.approx(expected, rel=1e-12)


# -- what comes back --------------------------------------------------------------------------------------------------


def test_rows_without_noise_give_back_what_they_were_made_from():
    columns = columns_of()
    found = calibrated(columns, exact_seconds(columns))
    assert {name: e.value for name, e in _named(found).items()} == pytest.approx(TRUTH, rel=1e-7)


def test_95_of_100_intervals_hold_the_truth():
    """Two hundred seeded sets of noise; 90 to 99 % is what chance leaves of 95 % (binomial, beyond 3 standard errors)."""
    inside, fitted = dict.fromkeys(TRUTH, 0), dict.fromkeys(TRUTH, 0)
    for seed in range(200):
        for name, e in _named(calibrated(*_noisy(seed))).items():
            if e.low is not None:
                fitted[name] += 1
                inside[name] += e.low <= TRUTH[name] <= e.high
    assert all(count >= 150 for count in fitted.values())
    for name, count in fitted.items():
        assert 0.90 <= inside[name] / count <= 0.99, name


def test_the_interval_stays_honest_with_a_wild_row():
    """As above, with one row of each set doubled or halved: it is found, and does not move the others' interval."""
    inside, caught, sets = 0, 0, 60
    for seed in range(sets):
        columns, seconds = _noisy(1000 + seed)
        wild = seed % len(seconds)
        seconds[wild] *= (2.0, 0.5)[seed % 2]
        found = calibrated(columns, seconds)
        severance = _named(found)[SEVERANCE]
        inside += severance.low <= TRUTH[SEVERANCE] <= severance.high
        caught += not found.told.belongs[wild]
    assert caught >= 0.95 * sets
    assert 0.88 * sets <= inside


def test_more_rows_make_a_narrower_interval():
    few, many = (calibrated(*_noisy(3, design=np.tile(DESIGN, (times, 1)))) for times in (1, 6))
    widths = [_named(found)[SEVERANCE].high - _named(found)[SEVERANCE].low for found in (few, many)]
    assert widths[1] < 0.7 * widths[0]


def test_the_mean_of_many_repeats_counts_like_that_many_rows():
    """The same estimate whether four like measurements stand in four rows or as their mean in one with repeats = 4."""
    columns, seconds = _noisy(5)
    apart = calibrated(
        {name: np.repeat(c, np.where(np.arange(len(c)) == 0, 4, 1)) for name, c in columns.items()},
        np.repeat(seconds, np.where(np.arange(len(seconds)) == 0, 4, 1)),
    )
    together = calibrated({**columns, "repeats": np.where(np.arange(len(seconds)) == 0, 4.0, 1.0)}, seconds)
    assert apart.told.spread == together.told.spread
    assert together.estimates[0].value == pytest.approx(apart.estimates[0].value, rel=1e-4)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.5, 2.0), st.floats(0.5, 2.0))
def test_power_and_caliper_scale_the_severance_energy(power, caliper):
    """S = P / (v t): twice the power or half of the caliper at the same speeds is twice the energy per area."""
    design = DESIGN[[0, 1, 2, 10, 11, 12, 13]]
    base = {**BASE, "laser.max_mark_m_s": 1000.0}
    columns = columns_of(design)
    seconds = exact_seconds(columns, base)
    changed = {**columns, "power_w": columns["power_w"] * power, "caliper_mm": columns["caliper_mm"] * caliper}
    fit = calibrated(changed, seconds, base)
    assert fit.estimates[0].value == pytest.approx(TRUTH[SEVERANCE] * power / caliper, rel=1e-6)


def test_the_order_of_rows_changes_nothing():
    columns, seconds = _noisy(8)
    turned = calibrated({name: c[::-1] for name, c in columns.items()}, seconds[::-1])
    for one, other in zip(calibrated(columns, seconds).estimates, turned.estimates, strict=True):
        assert (one.value, one.low, one.high) == pytest.approx((other.value, other.low, other.high), rel=1e-6)


def test_the_same_rows_give_the_same_digits():
    assert calibrated(*_noisy(9)).estimates == calibrated(*_noisy(9)).estimates


# -- what the rows don't tell -----------------------------------------------------------------------------------------


def test_delay_per_stroke_keeps_the_plants_proportion():
    found = calibrated(*_noisy(1))
    assert found.values[JUMP_DELAY] + found.values[MARK_DELAY] == pytest.approx(_named(found)[STROKE].value)
    assert found.values[JUMP_DELAY] / found.values[MARK_DELAY] == pytest.approx(BASE[JUMP_DELAY] / BASE[MARK_DELAY])
    assert "calibrate.split" in _codes(found)


def test_sheets_of_one_carton_tell_no_delays():
    """Twice the cartons have twice of everything, so that no row tells the beam's seconds from those of the delays."""
    ups = np.arange(1, 9)[:, None]
    columns = columns_of(np.hstack([ups * [1.2, 0, 2, 18, 0.4], np.tile([500, 0.4], (8, 1))]))
    noise = np.random.default_rng(2).normal(size=8)
    found = calibrated(columns, exact_seconds(columns) * (1 + 0.01 * noise))
    assert [e.why_not for e in found.estimates] == ["", "alike", "alike"]
    assert set(found.values) == {SEVERANCE}


def test_an_interval_covers_what_was_kept_at_either_end_of_its_range():
    """The delays can't be told here, and those of the table are not the truth: an interval for them alone would be wrong."""
    ups = np.arange(1, 9)[:, None]
    columns = columns_of(np.hstack([ups * [1.2, 0, 9, 60, 0.4], np.tile([500, 0.4], (8, 1))]))
    found = calibrated(columns, exact_seconds(columns))
    severance = _named(found)[SEVERANCE]
    assert severance.value != pytest.approx(TRUTH[SEVERANCE], rel=1e-3)
    assert severance.low <= TRUTH[SEVERANCE] <= severance.high


def test_delays_that_the_plant_file_gives_are_taken_as_known():
    ups = np.arange(1, 9)[:, None]
    columns = columns_of(np.hstack([ups * [1.2, 0, 9, 60, 0.4], np.tile([500, 0.4], (8, 1))]))
    base = {**BASE, JUMP_DELAY: 0.5, MARK_DELAY: 0.45, POLYGON: 0.22}
    found = calibrated(columns, exact_seconds(columns), base, (JUMP_DELAY, MARK_DELAY, POLYGON))
    severance = _named(found)[SEVERANCE]
    assert severance.value == pytest.approx(TRUTH[SEVERANCE], rel=1e-9)
    assert severance.high - severance.low < 1e-6


def test_two_rows_tell_the_severance_energy_alone():
    found = calibrated(*_noisy(4, design=DESIGN[[0, 2]]))
    assert [e.why_not for e in found.estimates] == ["", "few rows", "few rows"]
    assert "calibrate.few_rows" in _codes(found)


def test_rows_at_the_scanners_limit_are_counted():
    found = calibrated(*_noisy(6))
    (finding,) = [f for f in found.findings if f.code == "calibrate.at_limit"]
    assert finding.message.startswith("4 of 14 rows run at the scanner's limit of 4 m/s")


def test_rows_at_the_scanners_limit_do_not_move_the_severance_energy():
    """Delays known: a sheet that the scanner holds back would ask for too much energy, were it taken for a slow cut."""
    at_limit = np.array([(14.0, 0, 12, 60, 5.0, 1000, 0.30)] * 6)
    columns = columns_of(np.vstack([DESIGN[[0, 1, 2, 13]], at_limit]))
    base = {**BASE, JUMP_DELAY: 0.5, MARK_DELAY: 0.45, POLYGON: 0.22}
    found = calibrated(columns, exact_seconds(columns), base, (JUMP_DELAY, MARK_DELAY, POLYGON))
    assert found.estimates[0].value == pytest.approx(TRUTH[SEVERANCE], rel=1e-9)


# -- what must be said ------------------------------------------------------------------------------------------------


def test_a_wild_row_is_named_with_what_it_would_have_done():
    columns, seconds = _noisy(7)
    seconds[11] *= 1.6
    found = calibrated(columns, seconds)
    (finding,) = [f for f in found.findings if f.code == "calibrate.outlier"]
    assert finding.message.startswith("Row 13 has ")
    assert f"with every row, {SEVERANCE} would be {found.told.with_all[0]:.4g}" in finding.message


def test_several_wild_rows_do_not_hide_behind_one_another():
    columns, seconds = _noisy(7)
    seconds[[2, 11, 12]] *= 1.5
    assert np.flatnonzero(~calibrated(columns, seconds).told.belongs).tolist() == [2, 11, 12]


def test_rows_of_two_boards_are_all_kept_and_said_to_disagree():
    columns, seconds = _noisy(7)
    seconds[::2] *= 3
    found = calibrated(columns, seconds)
    assert found.told.belongs.all()
    assert "calibrate.scattered" in _codes(found) or "calibrate.large_residuals" in _codes(found)


def test_a_value_outside_its_usual_range_is_remarked_on():
    columns = columns_of(DESIGN[[0, 1, 2, 10, 11, 12, 13]])
    found = calibrated(columns, 4 * exact_seconds(columns))
    assert "calibrate.out_of_range" in _codes(found)


def test_rows_far_off_the_fit_are_remarked_on():
    assert "calibrate.large_residuals" in _codes(calibrated(*_noisy(2, share=0.25)))


def test_a_clean_table_is_not_cautioned_against():
    columns, seconds = _noisy(1)
    assert [f.message for f in calibrated(columns, seconds).findings if f.kind == "caution"] == []


def test_partial_cuts_alone_rest_on_the_depth_of_the_plant():
    columns = columns_of()
    columns["partial_cutting_m"] = columns.pop("cutting_m") * 3
    columns.pop("perforating_m")
    assert "calibrate.depth" in _codes(calibrated(columns, exact_seconds(columns)))


def test_without_jumps_the_plants_mean_jump_is_taken_and_said():
    columns, seconds = _noisy(1)
    columns.pop("jump_m")
    assert "calibrate.mean_jump" in _codes(calibrated(columns, seconds))


def test_power_may_come_from_the_plant_file():
    design = DESIGN[DESIGN[:, 5] == 600]
    columns, seconds = _noisy(1, design=design)
    columns.pop("power_w")
    found = calibrated(columns, seconds, {**BASE, "laser.power_w": 600.0}, ("laser.power_w",))
    assert "calibrate.plant_power" in _codes(found)
    assert found.estimates[0].value == pytest.approx(TRUTH[SEVERANCE], rel=0.1)


# -- no figure --------------------------------------------------------------------------------------------------------


def _refused(columns, seconds, match, base=BASE):
    with pytest.raises(InputError, match=match):
        calibrated(columns, seconds, base)


def test_one_row_is_refused_with_another_way():
    _refused(*_noisy(1, design=DESIGN[:1]), "one row gives no interval.*--set laser.severance_j_mm2")


def test_repeats_of_one_cut_are_refused():
    columns, seconds = _noisy(1, design=DESIGN[[0, 0, 0, 0]])
    _refused(columns, seconds, "all rows are the same cut")


def test_power_of_the_table_of_assumptions_is_nobodys_power():
    columns, seconds = _noisy(1)
    columns.pop("power_w")
    _refused(columns, seconds, "no column power_w.*gives no laser.power_w")


def test_rows_all_at_the_scanners_limit_are_refused():
    _refused(*_noisy(1, share=0.0, design=DESIGN[[3, 5, 6, 8]]), "fewer than two rows are surely limited by the power")


def test_lengths_in_mm_are_refused():
    columns, seconds = _noisy(1)
    columns["cutting_m"] *= 1000
    _refused(columns, seconds, r"sheets.csv, row \d+: [\d,.]+e?\+?\d* m in .*are the lengths in mm")


def test_seconds_in_ms_are_refused():
    columns, seconds = _noisy(1)
    _refused(columns, 1000 * seconds, "the rows ask for .* J/mm2, and board takes 0.2 to 1.7.*seconds in ms")


def test_power_in_kw_is_refused():
    columns, seconds = _noisy(1)
    columns["power_w"] /= 1000
    _refused(columns, seconds, "the rows ask for|fewer than two rows")


def test_sheets_faster_than_the_scanner_are_refused():
    columns, seconds = _noisy(1)
    _refused(
        columns, seconds, "most rows are faster than laser.max_mark_m_s allows", {**BASE, "laser.max_mark_m_s": 0.5}
    )
