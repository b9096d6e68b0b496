"""Invented measurements with known truth, for the tests of calibrations."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from compare.assumptions import assumption_table
from compare.decide.calibration import Calibration
from compare.decide.make_ready_fit import MAKE_READY_NAMES
from compare.decide.sheet_fit import BASE_NAMES, STROKE, calibrate_sheets, sheet_seconds
from compare.readers.measured import LENGTHS, MeasuredTable

TRUTH = {"laser.severance_j_mm2": 0.62, STROKE: 0.95, "laser.polygon_delay_ms": 0.22}
BASE = {name: float(assumption_table()[name].value) for name in (*BASE_NAMES, *MAKE_READY_NAMES, "laser.power_w")}

# cutting m, perforating m, strokes, corner load, jump m, power W, caliper mm: cartons, and patterns that tell delays
DESIGN = np.array(
    [
        (10.0, 0, 20, 0, 4.2, 600, 0.40),
        (10.0, 0, 20, 0, 4.2, 600, 0.55),
        (10.0, 0, 20, 0, 4.2, 300, 0.40),
        (4.0, 0, 800, 0, 8.0, 1000, 0.30),
        (4.0, 0, 800, 0, 8.0, 600, 0.55),
        (6.0, 0, 1200, 0, 12.0, 1000, 0.30),
        (6.0, 0, 10, 2200, 1.5, 1000, 0.30),
        (6.0, 0, 10, 2200, 1.5, 600, 0.55),
        (5.0, 0, 12, 3600, 1.6, 1000, 0.30),
        (4.8, 0, 600, 1800, 15.0, 800, 0.40),
        (14.2, 0, 12, 210, 5.2, 1000, 0.55),
        (14.2, 3.6, 24, 210, 7.4, 600, 0.40),
        (16.5, 0, 30, 60, 8.1, 400, 0.35),
        (12.4, 0, 18, 185, 6.0, 500, 0.40),
    ]
)
_COLUMNS = ("cutting_m", "perforating_m", "strokes", "corner_load", "jump_m", "power_w", "caliper_mm")


def columns_of(design: np.ndarray = DESIGN) -> dict[str, np.ndarray]:
    """Return a design by column."""
    return dict(zip(_COLUMNS, design.T.copy(), strict=True))


def exact_seconds(columns: Mapping[str, np.ndarray], base: Mapping[str, float] = BASE) -> np.ndarray:
    """Return the seconds that the truth gives."""
    n = len(columns["strokes"])
    full = {**dict.fromkeys((*LENGTHS, "nicks"), np.zeros(n)), **columns}
    return sheet_seconds(full, base, np.array(list(TRUTH.values())))[0]


def table_of(columns: Mapping[str, np.ndarray]) -> MeasuredTable:
    """Return columns as a table that was read."""
    n = len(next(iter(columns.values())))
    return MeasuredTable("sheets.csv", "0" * 64, tuple(range(2, n + 2)), ("",) * n, columns)


def calibrated(
    columns: Mapping[str, np.ndarray],
    seconds: np.ndarray,
    base: Mapping[str, float] = BASE,
    given: tuple[str, ...] = (),
) -> Calibration:
    """Fit columns and seconds."""
    return calibrate_sheets(table_of({**columns, "seconds": seconds}), base, frozenset(given))
