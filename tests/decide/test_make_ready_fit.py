"""Make-ready hours by a log: hours of a new and of a stored tool set, and the addition per carton on the sheet."""

from __future__ import annotations

import numpy as np
import pytest

from compare.decide.make_ready_fit import FIRST, PER_UP, REPEAT, calibrate_make_ready
from compare.errors import InputError

from .measured_sheets import BASE, table_of

TRUTH = {FIRST: 1.7, REPEAT: 0.6, PER_UP: 0.03}


def _log(seed=1, n=24, noise=0.1, first=None, ups=None):
    random = np.random.default_rng(seed)
    ups = random.choice([2.0, 4, 6, 9, 12, 16], n) if ups is None else np.array(ups, dtype=float)
    first = (np.arange(len(ups)) % 3 == 0) * 1.0 if first is None else np.array(first, dtype=float)
    hours = np.where(first == 1, TRUTH[FIRST], TRUTH[REPEAT]) + ups * TRUTH[PER_UP]
    return {"hours": hours + noise * random.normal(size=len(ups)), "ups": ups, "first": first}


def _fit(columns, given=()):
    return calibrate_make_ready(table_of(columns), BASE, frozenset(given))


def test_a_log_without_noise_gives_back_what_it_was_made_from():
    assert _fit(_log(noise=0.0)).values == pytest.approx(TRUTH, rel=1e-9)


def test_95_of_100_intervals_hold_the_truth():
    """A hundred and twenty seeded logs; 89 to 100 % is what chance leaves of 95 % (3 standard errors)."""
    inside = dict.fromkeys(TRUTH, 0)
    for seed in range(120):
        for e in _fit(_log(seed)).estimates:
            inside[e.name] += e.low is not None and e.low <= TRUTH[e.name] <= e.high
    assert all(count >= 0.89 * 120 for count in inside.values())


def test_interval_of_the_linear_case_is_that_of_the_normal_equations():
    """Derived: weights of 1, (X'X)^-1 and t written out; the log is long and scatters evenly enough to be sure of it."""
    columns = _log(seed=3, n=200, noise=0.2)
    found = _fit(columns)
    assert (found.told.spread, found.told.spread_sure) == ("even", True)
    design = np.column_stack([columns["first"], 1 - columns["first"], columns["ups"]])[found.told.belongs]
    hours = columns["hours"][found.told.belongs]
    inverse = np.linalg.inv(design.T @ design)
    beta = inverse @ design.T @ hours
    s = np.sqrt(np.sum((hours - design @ beta) ** 2) / (len(hours) - 3))
    assert [e.value for e in found.estimates] == pytest.approx(beta, rel=1e-9)
    t_197 = 1.97208  # published: any table of Student's t, 97.5 % at 197 degrees of freedom, between 1.9719 and 1.9724
    half = [(e.high - e.low) / 2 for e in found.estimates]
    assert half == pytest.approx(t_197 * s * np.sqrt(np.diag(inverse)), rel=2e-4)


def test_a_log_of_one_kind_keeps_the_other():
    columns = _log(first=np.ones(24), n=24)
    found = _fit(columns)
    assert REPEAT not in found.values
    assert "calibrate.not_logged" in {f.code for f in found.findings}


def test_one_number_of_ups_can_not_tell_the_addition_per_up():
    found = _fit(_log(ups=[8] * 20))
    assert {e.name: e.why_not for e in found.estimates} == {FIRST: "", REPEAT: "", PER_UP: "alike"}


def test_a_wild_entry_is_left_out_and_named():
    columns = _log()
    columns["hours"][5] += 6
    found = _fit(columns)
    assert np.flatnonzero(~found.told.belongs).tolist() == [5]
    assert any(f.message.startswith("Row 7 has") for f in found.findings)


@pytest.mark.parametrize(("ups", "least"), [([4], 2), ([4, 8], 3)])
def test_a_log_shorter_than_its_unknowns_is_refused(ups, least):
    with pytest.raises(InputError, match=f"no interval.*at least {least} make-readies"):
        _fit(_log(ups=ups, first=[1, 0][: len(ups)]))
