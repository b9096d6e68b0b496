"""A calibration for the terminal and as one JSON object. The keys are a contract."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from compare.assumptions import assumption_table
from compare.data_files import data_digest
from compare.decide.calibration import Calibration, Estimate
from compare.decide.sheet_fit import JUMP_DELAY, MARK_DELAY, STROKE
from compare.present import calibration_wording as words
from compare.present.calibration_command import Calibrated
from compare.present.record import finding_record, program_version
from compare.present.terminal import plain_table


def calibration_record(found: Calibrated, day: date, written: Path | None = None) -> dict[str, Any]:
    """Return everything about a calibration as plain data; described in docs/formats.md."""
    return {
        "values": found.values,
        "sheets": _part(found.sheets),
        "make_ready": _part(found.make_ready),
        "plant": str(found.plant) if found.plant else None,
        "plant_file": str(written) if written else None,
        "date": day.isoformat(),
        "method": words.METHOD,
        "versions": {"program": program_version(), "assumptions": data_digest()},
    }


def _part(part: Calibration | None) -> dict[str, Any] | None:
    if part is None:
        return None
    told = part.told
    return {
        "source": part.table.source,
        "sha256": part.table.sha256,
        "rows": len(part.table),
        "rows_used": int(np.count_nonzero(told.belongs)),
        "left_out": [part.table.rows[i] for i in np.flatnonzero(~told.belongs)],
        "degrees_of_freedom": told.fit.dof,
        "residual_share": part.residual_share,
        "scatter": told.spread,
        "scatter_sure": told.spread_sure,
        "estimates": [
            {
                "name": e.name,
                "unit": e.unit,
                "value": e.value,
                "low": e.low,
                "high": e.high,
                "before": e.before,
                "why_kept": e.why_not or None,
            }
            for e in part.estimates
        ],
        "findings": [finding_record(f) for f in part.findings],
    }


def calibration_view(found: Calibrated) -> RenderableType:
    """Return a calibration as a person likes to read it."""
    parts: list[RenderableType] = []
    for part in found.parts:
        parts += [Text()] if parts else []
        parts += [Text(part.table.source, style="bold"), Text(words.rows_sentence(part)), Text(), _table(part)]
        parts += _findings(part)
    note = [Text(words.SECONDS_NOTE)] if found.sheets else []
    return Group(*parts, Text(), Text(words.METHOD), *note)


def _table(part: Calibration) -> Table:
    table = plain_table("value", "unit", "fitted", "95 % interval", "before", "usual range", texts=2)
    for e in part.estimates:
        fitted = "" if e.why_not else words.number(e.value)
        table.add_row(e.name, e.unit, fitted, words.interval(e), words.number(e.before), _usual(e))
    return table


def _usual(estimate: Estimate) -> str:
    names = (JUMP_DELAY, MARK_DELAY) if estimate.name == STROKE else (estimate.name,)
    rows = [assumption_table()[name] for name in names]
    low, high = (sum(getattr(row, end) or 0.0 for row in rows) for end in ("low", "high"))
    return f"{low:g} to {high:g}"


def _findings(part: Calibration) -> list[RenderableType]:
    shown: list[RenderableType] = []
    for title, lines in (
        ("Cautions", [f.message for f in part.findings if f.kind == "caution"]),
        ("Notes", [f.message for f in part.findings if f.kind != "caution"]),
    ):
        shown += _block(title, lines)
    return shown


def _block(title: str, lines: Iterable[str]) -> list[RenderableType]:
    block = Table.grid(padding=(0, 1))
    for line in lines:
        block.add_row("-", Text(line))
    return [Text(f"\n{title}", style="bold"), block] if block.row_count else []
