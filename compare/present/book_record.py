"""The plan of a year of orders as one JSON object. The keys are a contract."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

import numpy as np

from compare.assumptions import assumption_table
from compare.data_files import data_digest
from compare.decide.book_plan import BookPlan, orders_per_year
from compare.decide.investment import InvestmentCase
from compare.decide.order_book import Book
from compare.decide.selection import Selection
from compare.present import book_wording, wording
from compare.present.record import finding_record, program_version
from compare.readers.jobfile import Layer


def book_record(plan: BookPlan, layers: Iterable[Layer] = ()) -> dict[str, Any]:
    """Return everything about a plan as plain data.

    Parameters
    ----------
    plan : BookPlan
        The plan.
    layers : iterable of Layer
        Plant file and settings it was made with, which name the plant and the factor set.

    Returns
    -------
    dict
        ``rows_in``, ``computed``, ``findings``, ``jobs`` and more; described in docs/formats.md. All numbers are
        finite, and ``None`` stands for what is not known or not possible.
    """
    book, chosen = plan.book, plan.selection
    return {
        "rows_in": book.rows_in,
        "computed": book.rows_computed,
        "findings": [asdict(found) for found in book.findings],
        "hours_limit": plan.limits.hours,
        "hours_used": plan.hours_used,
        "saving": chosen.saving,
        "bound": chosen.bound,
        "gap": chosen.gap,
        "hour_value": plan.hour_value,
        "jobs": job_records(plan),
        "freed_press_hours": freed_press_hours(plan),
        "waste_kg": _change(plan.before.waste, plan.after.waste),
        "co2e_kg": _change(plan.before.co2e, plan.after.co2e),
        "investment": _investment(plan.investment),
        "source": book.table.source,
        **_plant(plan, layers),
        "costing": book.costing,
        "currency": book.currency,
        "answer": book_wording.answer_sentence(plan),
        "advice": book_wording.advice_sentence(plan),
        "proof": book_wording.gap_sentence(plan),
        "rows_waiting": book.rows_in - book.rows_computed,
        "cost": _change(plan.before.cost, plan.after.cost),
        "press_hours": _change(plan.before.press_hours, plan.after.press_hours),
        "laser_hours": _change(plan.before.laser_hours, plan.after.laser_hours),
        "cash_saving": plan.cash_saving,
        "exact": chosen.exact,
        "limits": _limits(plan, chosen),
        "wait": {"estimate": True, **{name: _finite(value) for name, value in plan.wait._asdict().items()}},
        "loads": [{name: _finite(value) for name, value in row._asdict().items()} for row in plan.loads],
        "shifts": [{name: _finite(value) for name, value in row._asdict().items()} for row in plan.shifts],
        "curve": {
            "hours": plan.curve_hours.tolist(),
            "saving": [_finite(value) for value in np.asarray(plan.curve.saving).tolist()],
        },
        "saving_range": _range(plan),
        "remarks": [finding_record(found) for found in plan.findings],
        "inputs": dict(book.plant.plant),
        "not_included": list(wording.NOT_INCLUDED),
        "cautions": list(book_wording.CAUTIONS),
        "versions": {"program": program_version(), "assumptions": data_digest()},
    }


def job_records(plan: BookPlan) -> list[dict[str, Any]]:
    """Return each job as plain data, in the order of the file; amounts are per year."""
    book, cash, chosen = plan.book, plan.cash, plan.selection
    die, laser = book.die_possible, book.laser_possible
    both = die & laser
    words = book_wording.ReasonWords(plan)
    orders, cartons, grades = _orders(book), book.carton_ids(), book.jobs.texts.get("board.grade")
    given = book.jobs.numbers.get("demand.run_length", np.full(len(book), np.nan))
    runs = np.where(np.isnan(given), book.plant.default("demand.run_length"), given)
    per_year = orders_per_year(book)
    rows = []
    for j, name in enumerate(book.job_ids()):
        hours, on_laser = float(book.laser_hours[j]), bool(chosen.on_laser[j])
        route = "laser" if on_laser else "die" if die[j] else None
        saving = float(book.saving[j]) if both[j] else None
        rows.append(
            {
                "id": name,
                "route": route,
                "saving": saving,
                "laser_hours": hours if laser[j] else None,
                "reason": str(chosen.reasons[j]),
                "because": words.sentence(j),
                "carton": cartons[j],
                "orders": orders[j],
                "orders_per_year": _finite(per_year[j]),
                "run_length": _finite(runs[j]),
                "cartons": float(book.cartons[j]),
                "board": (grades.at(j) if grades is not None else "") or book.plant.texts["board.grade"] or None,
                "saving_per_hour": saving / hours if saving is not None and hours > 0 else None,
                "worth": float(chosen.worth[j]) if both[j] else None,
                "cash_saving": float(cash.saving[j]) if both[j] else None,
                "press_hours": float(book.press_hours[j]) if die[j] else None,
                "cost": _of_routes(book, "cost", j),
                "co2e_kg": _of_routes(book, "co2e", j),
                "waste_kg": _of_routes(book, "waste", j),
                "why_not": {"die": list(book.why_not("die", j)), "laser": list(book.why_not("laser", j))},
            }
        )
    return rows


def freed_press_hours(plan: BookPlan) -> float:
    """Return the press hours that become free [h/y]."""
    return plan.before.press_hours - plan.after.press_hours


def plant_texts(layers: Iterable[Layer]) -> dict[str, str]:
    """Return the texts of the plant, such as its name, its country and the set of factors."""
    given = {name: value for layer in layers for name, value in layer.values.items()}
    table = assumption_table()
    names = [name for name, row in table.items() if row.is_text and name.startswith(("plant.", "factors."))]
    return {name: str(given.get(name) or table[name].value or "") for name in names}


def _plant(plan: BookPlan, layers: Iterable[Layer]) -> dict[str, Any]:
    texts = plant_texts(layers) | {"plant.currency": plan.book.currency}
    return {"plant": texts["plant.name"] or "assumptions of the table", "choices": texts}


def _orders(book: Book) -> list[list[str]]:
    """Return the numbers of each job's orders."""
    orders: list[list[str]] = [[] for _ in range(len(book))]
    for name, job in zip(book.table.order.tolist(), book.jobs.of_row.tolist(), strict=True):
        if job >= 0:
            orders[job].append(str(name))
    return orders


def _of_routes(book: Book, measure: Any, job: int) -> dict[str, float | None]:
    return {
        "die": float(book.die[measure][job]) if book.die_possible[job] else None,
        "laser": float(book.laser[measure][job]) if book.laser_possible[job] else None,
    }


def _change(before: float, after: float) -> dict[str, float]:
    return {"die_only": before, "planned": after, "change": after - before}


def _limits(plan: BookPlan, chosen: Selection) -> list[dict[str, Any]]:
    return [
        {
            "name": capacity.name,
            "limit_hours": float(capacity.limit),
            "used_hours": float(used),
            "hour_value": float(price),
            "overfull": capacity.name in chosen.overfull,
        }
        for capacity, used, price in zip(plan.capacities, chosen.used, chosen.prices, strict=True)
    ]


def _investment(case: InvestmentCase | None) -> dict[str, Any] | None:
    if case is None:
        return None
    line = case.investment
    return {
        "purchase": line.purchase,
        "life_years": line.life_years,
        "residual": line.residual,
        "interest_per_year": line.interest_pa,
        "tax_share": line.tax_pa,
        "yearly_upkeep": line.yearly_upkeep,
        "cash_saving": case.yearly_saving,
        "pays": case.pays,
        "npv": case.npv,
        "npv_low": case.npv_low,
        "npv_high": case.npv_high,
        "payback_years": case.payback_years,
        "discounted_payback_years": case.discounted_payback_years,
        "equivalent_annual_cost": case.equivalent_annual_cost,
        "irr": book_wording.rate_of_return(case),
        "irr_rates": [_finite(rate) for rate in case.irr.rates],
        "irr_caveat": case.irr.caveat,
        "saving_needed": case.saving_needed,
        "share_needed": case.share_needed,
        "flows": list(case.flows),
        "findings": [finding_record(found) for found in case.findings],
    }


def _range(plan: BookPlan) -> dict[str, Any] | None:
    found = plan.saving_range
    if found is None:
        return None
    return {"low": found.low, "high": found.high, "swings": [swing._asdict() for swing in found.swings]}


def _finite(value: Any) -> Any:
    """Return a plain number, or None for one that JSON can't hold."""
    if value is None or isinstance(value, int):
        return value
    return float(value) if math.isfinite(value) else None
