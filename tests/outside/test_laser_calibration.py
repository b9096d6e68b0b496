"""What a calibration gives for cuts whose severance energy is known: published or derived."""

from __future__ import annotations

import numpy as np
import pytest

from compare.assumptions import assumption_table
from compare.decide.sheet_fit import BASE_NAMES, JUMP_DELAY, MARK_DELAY, POLYGON, calibrate_sheets
from compare.readers.measured import MeasuredTable

# a scanner that is never the limit, and no delays: cuts alone
STILL = {"laser.max_mark_m_s": 1_000.0, JUMP_DELAY: 0.0, MARK_DELAY: 0.0, POLYGON: 0.0, "laser.mean_jump_mm": 0.0}
BASE = {**{name: float(assumption_table()[name].value) for name in BASE_NAMES}, **STILL}


def _severance(kind: str, length_m: list[float], seconds: list[float], power_w: float, caliper_mm: float) -> float:
    n = len(length_m)
    columns = {
        kind: np.array(length_m), "seconds": np.array(seconds), "power_w": np.full(n, power_w),
        "caliper_mm": np.full(n, caliper_mm), "strokes": np.ones(n), "corner_load": np.zeros(n),
    }  # fmt: skip
    table = MeasuredTable("cuts.csv", "", tuple(range(2, n + 2)), ("",) * n, columns)
    return calibrate_sheets(table, BASE, frozenset(STILL)).estimates[0].value


def test_foil_coated_paperboard_tube_asks_for_1_176_j_per_mm2():
    """Published: AILU news, 10 August 2010: 200 W, 10.2 m/min, wall of 1.0 mm, 320 mm round; S derived: 1.17647 J/mm2."""
    seconds = [0.320 * k / (10.2 / 60) for k in (1, 2, 5)]
    assert _severance("cutting_m", [0.320, 0.640, 1.600], seconds, 200, 1.0) == pytest.approx(1.17647, rel=1e-5)


@pytest.mark.parametrize(("speed", "severance"), [(5.0, 0.5), (12.5, 0.2), (1.470588, 1.7)])
def test_speeds_of_1000_watts_in_0_40_mm_give_back_their_severance_energy(speed, severance):
    """Severance energies from memory: Steen & Mazumder, Laser Material Processing; speeds derived: v = P/(S t)."""
    lengths = [1.0, 3.0, 10.0]
    found = _severance("cutting_m", lengths, [length / speed for length in lengths], 1_000, 0.40)
    assert found == pytest.approx(severance, rel=1e-6)


def test_scores_of_half_the_depth_run_at_twice_the_speed():
    """Derived: z = P/(S v): 200 W reach half of 0.40 mm at 2 m/s where S is 0.5 J/mm2 (the plant's partial depth)."""
    lengths = [2.0, 4.0, 9.0]
    found = _severance("partial_cutting_m", lengths, [length / 2.0 for length in lengths], 200, 0.40)
    assert BASE["laser.partial_depth"] == 0.5
    assert found == pytest.approx(0.5, rel=1e-9)
