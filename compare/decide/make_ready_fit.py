"""Make-ready hours of the die cutter out of its log, with their intervals.

A set-up takes so many hours for a new tool set, or for a stored one, and an addition per carton on the sheet.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from compare.assumptions import assumption_table
from compare.decide.calibration import Calibration, Estimate, estimate_of, fit_findings, held_findings, outlier_findings
from compare.decide.fit_unknowns import Unknown, fit_told
from compare.errors import Finding, InputError
from compare.readers.measured import MeasuredTable

FIRST, REPEAT, PER_UP = "die.make_ready_first_h", "die.make_ready_repeat_h", "die.make_ready_per_up_h"
MAKE_READY_NAMES = (FIRST, REPEAT, PER_UP)
"""Values of the plant that a log of make-readies tells."""


def calibrate_make_ready(
    table: MeasuredTable, base: Mapping[str, float], given: frozenset[str] = frozenset()
) -> Calibration:
    """Fit make-ready hours to a log.

    Parameters
    ----------
    table : MeasuredTable
        The log, of :func:`compare.readers.measured.read_make_ready`.
    base : mapping
        Values of the plant, :data:`MAKE_READY_NAMES`.
    given : frozenset of str
        Names that the plant file itself gives.

    Returns
    -------
    Calibration

    Raises
    ------
    InputError
        If there are too few rows, or they contradict the model.
    """
    first = table.columns["first"] == 1
    kinds = [name for name, rows in ((FIRST, first), (REPEAT, ~first)) if rows.any()]
    if len(table) < len(kinds) + 1:
        raise InputError(
            f"{len(table)} row{'s' if len(table) > 1 else ''} give{'' if len(table) > 1 else 's'} no interval",
            where=table.source,
            remedy=f"log at least {len(kinds) + 1} make-readies",
        )
    names = (*kinds, PER_UP)
    spans = {name: assumption_table()[name] for name in names}
    unknowns = tuple(
        Unknown(base[name], spans[name].low or 0.0, spans[name].high or 0.0, needed=name != PER_UP, sure=name in given)
        for name in names
    )
    one_kind = {FIRST: first, REPEAT: ~first}
    design = np.column_stack([*(one_kind[name] * 1.0 for name in kinds), table.columns["ups"]])
    hours = table.columns["hours"]
    told = fit_told(lambda theta: (design @ theta, design), unknowns, hours, np.ones(len(table)))
    estimates = [estimate_of(told, i, name, "h", unknowns[i]) for i, name in enumerate(names)]
    below = next((e for e in estimates if e.value < 0), None)
    if below is not None:
        raise InputError(
            f"the rows ask for {below.name} of {below.value:.3g} h, which can't be",
            where=table.source,
            remedy="look for rows that are no make-ready, or whose ups or first are wrong",
        )
    used = told.belongs
    shares = (hours - told.values)[used] / hours[used]
    spread = float(np.sqrt(np.sum(shares**2) / max(told.fit.dof, 1)))
    not_there = [name for name in (FIRST, REPEAT) if name not in kinds]
    findings = (
        *table.findings,
        *(
            Finding("calibrate.not_logged", f"No such make-ready is in the log: {name} stays {base[name]:g} h.", name)
            for name in not_there
        ),
        *outlier_findings(table, told, hours, "h", names[0]),
        *fit_findings(told, estimates, unknowns, spread, "hours"),
        *held_findings(told, estimates, unknowns),
    )
    kept = tuple(Estimate(name, "h", base[name], None, None, base[name], "not in the log") for name in not_there)
    values = {e.name: e.value for e in estimates if not e.why_not}
    return Calibration(table, (*estimates, *kept), values, told, spread, findings)
