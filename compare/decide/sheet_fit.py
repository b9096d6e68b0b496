"""Severance energy and scanner delays out of measured sheets, with their intervals.

The seconds of a row are those of :mod:`compare.routes.laser`: each kind of line at the speed that the power cuts, capped by
the scanner; a delay per stroke; a delay per corner; jumps; nicks. Tight curves and short jumps, which need the path, are
left out. A line at the scanner's cap tells nothing about the
severance energy, so the fit is not linear in it: it changes its slope where a line reaches the cap.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from compare.assumptions import assumption_table
from compare.decide.calibration import Calibration, estimate_of, fit_findings, held_findings, outlier_findings
from compare.decide.fit_unknowns import ToldFit, Unknown, fit_told
from compare.errors import Finding, InputError
from compare.readers.measured import LENGTHS, MeasuredTable
from compare.routes.laser import cut_speed

SEVERANCE = "laser.severance_j_mm2"
JUMP_DELAY, MARK_DELAY, POLYGON = "laser.jump_delay_ms", "laser.mark_delay_ms", "laser.polygon_delay_ms"
STROKE = "delay per stroke"
"""Jump delay and mark delay together: every stroke has one of each, so that no row can tell them apart."""

BASE_NAMES = (
    SEVERANCE, JUMP_DELAY, MARK_DELAY, POLYGON, "laser.max_mark_m_s", "laser.jump_m_s", "laser.mean_jump_mm", "laser.nick_ms",
    "laser.partial_depth", "laser.varnish_depth",
)  # fmt: skip
"""Values of the plant that a fit starts from or rests on."""

_DEPTHS = {"partial_cutting_m": "laser.partial_depth", "varnish_release_m": "laser.varnish_depth"}
_OTHER_UNIT = 20
"""How far beyond its range a severance energy is taken for a slip of units and not for a board [-]."""


def sheet_seconds(
    columns: Mapping[str, np.ndarray], base: Mapping[str, float], theta: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return seconds of each row and their derivatives.

    Parameters
    ----------
    columns : mapping
        Lengths [m], ``strokes``, ``corner_load``, ``jump_m``, ``nicks``, ``power_w`` and ``caliper_mm`` of each row.
    base : mapping
        Values of the plant, :data:`BASE_NAMES`.
    theta : ndarray
        Severance energy [J/mm2], delay per stroke [ms], polygon delay [ms].

    Returns
    -------
    seconds : ndarray
        n values [s].
    jacobian : ndarray
        n x 3, seconds per unit of each unknown; 0 for the severance energy of what the scanner caps.
    """
    power, caliper = columns["power_w"], columns["caliper_mm"]
    marking, slope = np.zeros(len(power)), np.zeros(len(power))
    for kind in LENGTHS:
        per_j_mm2 = columns[kind] / cut_speed(power, 1.0, caliper, base[_DEPTHS[kind]] if kind in _DEPTHS else 1.0)
        by_power, by_scanner = per_j_mm2 * theta[0], columns[kind] / base["laser.max_mark_m_s"]
        marking += np.maximum(by_power, by_scanner)
        slope += np.where(by_power > by_scanner, per_j_mm2, 0.0)
    per_stroke, per_corner = columns["strokes"] * 1e-3, columns["corner_load"] * 1e-3
    known = columns["jump_m"] / base["laser.jump_m_s"] + columns["nicks"] * (base["laser.nick_ms"] * 1e-3)
    seconds = marking + known + per_stroke * theta[1] + per_corner * theta[2]
    return seconds, np.column_stack([slope, per_stroke, per_corner])


def calibrate_sheets(table: MeasuredTable, base: Mapping[str, float], given: frozenset[str]) -> Calibration:
    """Fit severance energy and delays to measured sheets.

    Parameters
    ----------
    table : MeasuredTable
        The sheets, of :func:`compare.readers.measured.read_measured_sheets`.
    base : mapping
        Values of the plant, :data:`BASE_NAMES`, and ``laser.power_w`` where the plant file gives it.
    given : frozenset of str
        Names that the plant file itself gives.

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        If the rows don't tell the severance energy, or what they tell can't be board.
    """
    columns, notes = _filled(table, base, given)
    _check_rows(table, columns, base)
    rows = assumption_table()
    spans = {name: (rows[name].low or 0.0, rows[name].high or 0.0) for name in BASE_NAMES}
    stroke = base[JUMP_DELAY] + base[MARK_DELAY]
    stroke_span = (spans[JUMP_DELAY][0] + spans[MARK_DELAY][0], spans[JUMP_DELAY][1] + spans[MARK_DELAY][1])
    unknowns = (
        Unknown(base[SEVERANCE], *spans[SEVERANCE], needed=True),
        Unknown(stroke, *stroke_span, sure=given >= {JUMP_DELAY, MARK_DELAY}),
        Unknown(base[POLYGON], *spans[POLYGON], sure=POLYGON in given),
    )
    told = fit_told(lambda theta: sheet_seconds(columns, base, theta), unknowns, columns["seconds"], columns["repeats"])
    _check_told(table, columns, base, told)
    labels = ((SEVERANCE, "J/mm2"), (STROKE, "ms"), (POLYGON, "ms"))
    estimates = tuple(estimate_of(told, i, *labels[i], unknowns[i]) for i in range(3))
    used = told.belongs
    shares = (columns["seconds"] - told.values)[used] / columns["seconds"][used]
    spread = float(np.sqrt(np.sum(columns["repeats"][used] * shares**2) / max(told.fit.dof, 1)))
    findings = (
        *table.findings,
        *notes,
        *outlier_findings(table, told, columns["seconds"], "s", SEVERANCE),
        *_limit_findings(columns, base, told),
        *fit_findings(told, estimates, unknowns, spread, "seconds"),
        *held_findings(told, estimates, unknowns),
        *_split_finding(told),
    )
    share = base[JUMP_DELAY] / stroke if stroke > 0 else 0.5
    parts = ((SEVERANCE, 0, 1.0), (JUMP_DELAY, 1, share), (MARK_DELAY, 1, 1 - share), (POLYGON, 2, 1.0))
    values = {name: part * estimates[i].value for name, i, part in parts if i in told.fitted}
    return Calibration(table, estimates, values, told, spread, findings)


# -- rows ------------------------------------------------------------------------------------------------------------------


def _filled(
    table: MeasuredTable, base: Mapping[str, float], given: frozenset[str]
) -> tuple[dict[str, np.ndarray], list[Finding]]:
    """Return the columns with those that may be left out put in, and what must be said about that."""
    columns, notes = dict(table.columns), []
    for name in (*LENGTHS, "nicks"):
        columns.setdefault(name, np.zeros(len(table)))
    columns.setdefault("repeats", np.ones(len(table)))
    if "power_w" not in columns:
        if "laser.power_w" not in given:
            raise InputError(
                "there is no column power_w, and the plant file gives no laser.power_w",
                where=table.source,
                remedy="add power_w, the optical power at the sheet in W of each row",
            )
        columns["power_w"] = np.full(len(table), base["laser.power_w"])
        notes.append(
            Finding(
                "calibrate.plant_power",
                f"No column power_w: all rows were taken to be cut with the plant's {base['laser.power_w']:g} W.",
                "laser.power_w",
            )
        )
    if "jump_m" not in columns:
        mean = base["laser.mean_jump_mm"]
        columns["jump_m"] = columns["strokes"] * (mean * 1e-3)
        notes.append(
            Finding(
                "calibrate.mean_jump",
                f"No column jump_m: the plant's mean jump of {mean:g} mm was taken for every stroke.",
                "laser.mean_jump_mm",
            )
        )
    return columns, notes


def _check_rows(table: MeasuredTable, columns: Mapping[str, np.ndarray], base: Mapping[str, float]) -> None:
    if len(table) == 1:
        raise InputError(
            "one row gives no interval",
            where=table.source,
            remedy="measure at least two sheets with unlike lengths, or enter one cut's power / (speed x caliper) "
            f"as --set {SEVERANCE}=...",
        )
    length = np.sum([columns[kind] for kind in LENGTHS], axis=0)
    speed, cap = length / columns["seconds"], base["laser.max_mark_m_s"]
    fastest = int(np.argmax(speed))
    said = f"{length[fastest]:,.4g} m in {columns['seconds'][fastest]:,.4g} s is {speed[fastest]:,.4g} m/s"
    where = f"{table.source}, row {table.rows[fastest]}"
    if speed[fastest] > _OTHER_UNIT * cap:
        raise InputError(
            f"{said}, and the scanner marks {cap:g} m/s at most",
            where=where,
            remedy="are the lengths in mm, or the seconds in minutes? Give lengths in m and seconds",
        )
    if np.median(speed) > cap * 1.05:
        raise InputError(
            f"{said}, and so most rows are faster than laser.max_mark_m_s allows ({cap:g} m/s)",
            where=where,
            remedy="give the plant's own laser.max_mark_m_s, and the seconds of one head",
        )
    design = np.column_stack([columns[name] for name in (*LENGTHS, "strokes", "corner_load", "power_w", "caliper_mm")])
    if np.all(design == design[0]):
        raise InputError(
            "all rows are the same cut, so that the beam's seconds can't be told from those of the delays",
            where=table.source,
            remedy="add sheets with other lengths, strokes or powers",
        )


def _capped_s(columns: Mapping[str, np.ndarray], base: Mapping[str, float], severance: float) -> np.ndarray:
    """Return for each row how many more seconds the power takes than the scanner alone would."""
    cap = sheet_seconds(columns, base, np.array([0.0, 0.0, 0.0]))[0]
    by_power = sheet_seconds(columns, base, np.array([severance, 0.0, 0.0]))[0]
    return np.asarray(by_power - cap)


def _check_told(
    table: MeasuredTable, columns: Mapping[str, np.ndarray], base: Mapping[str, float], told: ToldFit
) -> None:
    severance, cap = float(told.theta[0]), base["laser.max_mark_m_s"]
    slope = sheet_seconds(columns, base, told.theta)[1][:, 0]
    if np.count_nonzero((slope > 0) & told.belongs) < 2 or not np.all(np.isfinite(told.intervals[0])):
        raise InputError(
            f"fewer than two rows are surely limited by the power; the others run at the scanner's limit of {cap:g} m/s, where any "
            "severance energy would do",
            where=table.source,
            remedy="measure thicker board or less power, or give the plant's own laser.max_mark_m_s",
        )
    row = assumption_table()[SEVERANCE]
    low, high = row.low or 0.0, row.high or 0.0
    if not low / _OTHER_UNIT <= severance <= high * _OTHER_UNIT:
        hint = (
            "seconds in ms, power in mW or caliper in m"
            if severance > high
            else "lengths in mm, power in kW or caliper in um"
        )
        raise InputError(
            f"the rows ask for {severance:.3g} J/mm2, and board takes {low:g} to {high:g}",
            where=table.source,
            remedy=f"look for another unit in a column: {hint}",
        )


# -- what must be said -----------------------------------------------------------------------------------------------------


def _limit_findings(columns: Mapping[str, np.ndarray], base: Mapping[str, float], told: ToldFit) -> list[Finding]:
    found = []
    cap = base["laser.max_mark_m_s"]
    at_limit = int(np.count_nonzero(sheet_seconds(columns, base, told.theta)[1][:, 0] == 0))
    if at_limit:
        text = (
            f"{at_limit} of {len(columns['seconds'])} rows run at the scanner's limit of {cap:g} m/s throughout: they say nothing "
            f"about {SEVERANCE}."
        )
        found.append(Finding("calibrate.at_limit", text, "laser.max_mark_m_s"))
    ends = [_capped_s(columns, base, s) > 0 for s in told.intervals[0]]
    if changing := int(np.count_nonzero(ends[0] != ends[1])):
        text = (
            f"{changing} row{'s' if changing > 1 else ''} change{'' if changing > 1 else 's'} between the power's and the scanner's "
            f"limit within the interval of {SEVERANCE}, which is approximate then."
        )
        found.append(Finding("calibrate.near_limit", text, "laser.max_mark_m_s"))
    if not any(np.any(columns[kind]) for kind in LENGTHS if kind not in _DEPTHS):
        text = f"No row cuts through: {SEVERANCE} rests on the plant's laser.partial_depth and laser.varnish_depth."
        found.append(Finding("calibrate.depth", text, SEVERANCE, "caution"))
    return found


def _split_finding(told: ToldFit) -> list[Finding]:
    if 1 not in told.fitted:
        return []
    text = (
        f"{JUMP_DELAY} and {MARK_DELAY} can't be told apart, as every stroke has one of each: their sum is fitted, and the plant's "
        "proportion kept."
    )
    return [Finding("calibrate.split", text, JUMP_DELAY)]
