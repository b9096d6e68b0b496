"""The words of a calibration: what was fitted to what, and how sure it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import PurePath

import numpy as np

from compare.decide.calibration import Calibration, Estimate
from compare.decide.sheet_fit import JUMP_DELAY, MARK_DELAY, STROKE

METHOD = "Least squares; rows that don't belong to the others are left out and named. Intervals are for 95 %, by Student's t."

SECONDS_NOTE = "Seconds are those of one head at work on one sheet: no feeding, no registration, no waiting."


def rows_sentence(part: Calibration) -> str:
    """Say how many rows there are, how many were used, and how far they lie off the fit."""
    n, used, unknowns = len(part.table), int(np.count_nonzero(part.told.belongs)), len(part.told.fitted)
    rows = f"{n:,} rows" if used == n else f"{used:,} of {n:,} rows used"
    what = "hours" if "hours" in part.table.columns else "seconds"
    off = 100 * part.residual_share
    return (
        f"{rows}, {unknowns} unknown{'' if unknowns == 1 else 's'} fitted, {part.told.fit.dof:,} degrees of freedom. "
        f"The rows lie {off:.2g} % of their {what} off the fit."
    )


def number(value: float) -> str:
    """Return a fitted value with four figures."""
    return f"{value:.4g}"


def interval(estimate: Estimate) -> str:
    """Return the interval of an estimate, or why there is none."""
    if estimate.low is None or estimate.high is None:
        return "kept"
    return f"{number(estimate.low)} to {number(estimate.high)}"


def remark(part: Calibration, name: str) -> str:
    """Return what is said behind a value in a plant file."""
    found = _of(part.estimates, name)
    sum_of = (
        "" if found.name == name else f"; with {MARK_DELAY if name == JUMP_DELAY else JUMP_DELAY} {number(found.value)}"
    )
    return f"{found.unit}, from {file_name(part)}{sum_of}, 95 % {interval(found)}"


def file_name(part: Calibration) -> str:
    """Return the name of the file of measurements, without its folder, which is nobody's business elsewhere."""
    return PurePath(part.table.source).name


def _of(estimates: Sequence[Estimate], name: str) -> Estimate:
    wanted = STROKE if name in (JUMP_DELAY, MARK_DELAY) else name
    return next(e for e in estimates if e.name == wanted)


def head_lines(parts: Iterable[Calibration], day: date, version: str, start: str, name: str) -> list[str]:
    """Return the lines at the top of a calibrated plant file."""
    lines = [
        f"Calibrated on {day.isoformat()} by Evenrun {version} (evenrun calibrate), starting from {start}.",
        METHOD,
    ]
    for part in parts:
        lines += ["", f"Measurements: {file_name(part)}", f"SHA-256: {part.table.sha256}", rows_sentence(part)]
        left = [part.table.rows[i] for i in np.flatnonzero(~part.told.belongs)]
        if left:
            lines.append(f"Rows left out: {', '.join(map(str, left[:50]))}{' ...' if len(left) > 50 else ''}")
        for e in part.estimates:
            if e.why_not:
                lines.append(f"Kept, not told by these rows ({e.why_not}): {e.name} = {number(e.value)} {e.unit}")
            else:
                lines.append(
                    f"Fitted: {e.name} = {number(e.value)} {e.unit}, 95 % {interval(e)}; before {number(e.before)}"
                )
    return [*lines, "", f"Use it: evenrun compare JOB.toml --plant {name}"]
