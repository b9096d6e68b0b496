"""The comparison as one JSON object, and its ledger as a table. The keys are a contract."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import asdict
from importlib.metadata import PackageNotFoundError, version
from typing import Any, TextIO

from compare.data_files import data_digest
from compare.decide.break_even import BreakEven
from compare.decide.comparison import Comparison, RouteResult
from compare.errors import Finding
from compare.present import wording
from compare.present.sheet_seconds import sheet_time_record

LEDGER_COLUMNS = (
    "route",
    "stage",
    "resource",
    "quantity",
    "unit",
    "money",
    "co2e_kg",
    "biogenic_co2_kg",
    "because",
    "no_price",
    "no_carbon",
)


def program_version() -> str:
    """Return the version of the installed program."""
    try:
        return version("evenrun")
    except PackageNotFoundError:
        return "not installed"


def record(comparison: Comparison, unsure: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Return everything about a comparison as plain data.

    Parameters
    ----------
    comparison : Comparison
    unsure : mapping, optional
        From :func:`compare.present.sure_record.sure_record`, where draws were made.

    Returns
    -------
    dict
        ``inputs``, ``routes``, ``break_even``, ``ledger``, ``versions`` and more; described in
        docs/formats.md. Figures of a route that can't make the job are ``None``.
    """
    s = comparison.scenario
    return {
        "name": s.name,
        "plant": s.plant,
        "costing": comparison.costing,
        "currency": s.currency,
        "answer": " ".join(filter(None, (wording.answer(comparison), wording.takeover(comparison)))),
        "cheaper": comparison.cheaper,
        "inputs": {name: float(value) for name, value in s.inputs.items()},
        "choices": dict(s.choices),
        "origins": dict(s.origins),
        "routes": {
            "die": {"strategy": comparison.die.inventory.strategy, **_route(comparison.die)},
            "laser": _route(comparison.laser),
        },
        "break_even": {measure: _break_even(found) for measure, found in comparison.break_even.items()},
        "sheet_time": sheet_time_record(s),
        "uncertainty": unsure,
        "ledger": [asdict(row) for row in comparison.ledger],
        "findings": [finding_record(f) for f in comparison.findings],
        "crease_tooling": comparison.crease_tooling(),
        "not_included": list(wording.NOT_INCLUDED),
        "cautions": list(wording.CAUTIONS),
        "versions": {
            "program": program_version(),
            "assumptions": data_digest(),
            "factor_set": s.choices["factors.set"],
            "factors": {
                role: {"keys": list(use.keys), "label": use.label, "proxy": use.proxy}
                for role, use in s.factors.items()
            },
        },
    }


def _route(route: RouteResult) -> dict[str, Any]:
    figures: dict[str, Any] = {
        "cost_per_1000": route.cost_per_1000,
        "co2e_kg_per_1000": route.co2e_per_1000,
        "biogenic_co2_kg_per_1000": route.biogenic_per_1000,
        "waste_kg_per_1000": route.waste_per_1000,
        "kwh_per_1000": float(route.inventory.kwh) / route.thousands,
        "hours": float(route.inventory.machine_hours),
        "sheets": float(route.inventory.sheets),
        "lead_time_days": route.lead_time_days,
        "economic_lot": route.economic_lot,
        "cost_per_1000_by_stage": route.stage_cost_per_1000(),
        "board_kg": {name: float(kg) for name, kg in route.balance._asdict().items()},
    }
    if not route.feasible:  # a figure for what can't be made would be mistaken for a result
        figures = dict.fromkeys(figures)
    return {**figures, "feasible": route.feasible, "findings": [finding_record(f) for f in route.findings]}


def finding_record(found: Finding) -> dict[str, Any]:
    """Return a finding as plain data; places in mm."""
    return {**asdict(found), "at": [list(point) for point in found.at]}


def _break_even(found: BreakEven) -> dict[str, Any]:
    return {
        "run_length": found.run_length,
        "first": found.first,
        "answer": found.answer,
        "ranges": [{"from": r.start, "to": r.end, "cheaper": r.lowest} for r in found.ranges],
        "domain": {"from": found.start, "to": found.end},
    }


def write_ledger(comparison: Comparison, file: TextIO) -> None:
    """Write the ledger as CSV, one row per flow."""
    writer = csv.DictWriter(file, LEDGER_COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(asdict(row) for row in comparison.ledger)
