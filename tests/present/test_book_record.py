"""The record of a year of orders: its keys are a contract, and its figures those of the engine."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare import compare, prepare
from compare.data_files import data_digest
from compare.decide.book_plan import Limits, plan_evaluated
from compare.decide.order_book import evaluate_book
from compare.decide.selection import REASONS
from compare.present.book_record import book_record
from compare.present.record import program_version
from compare.readers.jobfile import Layer
from present.book_plans import DATA, DEMO, ORDER, PLANT, csv_of, demo_plan, plan_rows, plan_text, scarce_plan

FIRST_KEYS = [
    "rows_in", "computed", "findings", "hours_limit", "hours_used", "saving", "bound", "gap", "hour_value", "jobs",
    "freed_press_hours", "waste_kg", "co2e_kg", "investment",
]  # fmt: skip
FIRST_JOB_KEYS = ["id", "route", "saving", "laser_hours", "reason"]
PLANS = pytest.mark.parametrize("plan", [demo_plan(), scarce_plan()], ids=["demo", "scarce"])


def _documented(section: str) -> set[str]:
    """Keys in the tables of a section of docs/formats.md."""
    text = (DATA.parent / "docs" / "formats.md").read_text(encoding="utf-8")
    part = text.partition(f"# {section}\n")[2].partition("\n#")[0]
    first_cells = [line.split("|")[1] for line in part.splitlines() if line.startswith("| `")]
    return {key for cell in first_cells for key in re.findall(r"`(\w+)`", cell)}


# -- keys -------------------------------------------------------------------------------------------------------------


@PLANS
def test_the_keys_that_others_read_come_first_in_their_order(plan):
    found = book_record(plan)
    assert list(found)[: len(FIRST_KEYS)] == FIRST_KEYS
    assert all(list(job)[: len(FIRST_JOB_KEYS)] == FIRST_JOB_KEYS for job in found["jobs"])


def test_every_key_of_the_record_is_documented_and_no_other():
    found = book_record(demo_plan())
    assert _documented("The order book's record") == set(found)
    assert _documented("A job of the record") == set(found["jobs"][0])
    assert _documented("The investment of the record") == set(found["investment"])


def test_every_reason_is_documented():
    text = (DATA.parent / "docs" / "formats.md").read_text(encoding="utf-8")
    rows = text.partition("| reason | it means |")[2].partition("\n\n")[0]
    assert set(re.findall(r"[a-z]+(?:_[a-z]+)*", " ".join(r.split("|")[1] for r in rows.splitlines()[2:]))) == set(
        REASONS
    )


@PLANS
def test_the_record_is_json_without_a_number_that_is_none(plan):
    """JSON has no infinity and no NaN; programs in other languages refuse them."""
    assert json.loads(json.dumps(book_record(plan), allow_nan=False)) == book_record(plan)


def test_a_queue_without_end_is_null():
    plan = scarce_plan()
    full = replace(plan, wait=plan.wait._replace(load=1.0, wait_h=float("inf")))
    assert book_record(full)["wait"]["wait_h"] is None
    json.dumps(book_record(full), allow_nan=False)


def test_what_must_go_to_a_line_without_hours_leaves_no_number_that_is_none():
    found = book_record(plan_rows({**ORDER, "varnish_release_m": 0.2}, limits=Limits(0.0)))
    assert (found["wait"]["load"], found["wait"]["wait_h"], found["limits"][0]["overfull"]) == (None, None, True)
    json.dumps(found, allow_nan=False)


def test_a_board_that_the_plant_gives_is_the_jobs():
    short = {name: value for name, value in ORDER.items() if name != "board"}
    plan = plan_text(csv_of(short), None, Layer("house", {"board.grade": "recycled_350"}))
    assert book_record(plan)["jobs"][0]["board"] == "recycled_350"


def test_without_a_purchase_price_there_is_no_investment_and_no_value_of_shifts():
    bare = Layer("bare", {"plant.currency": "EUR"})
    plan = plan_text(csv_of(ORDER))
    books = [evaluate_book(plan.book.table, bare, costing=costing) for costing in ("full", "cash")]
    found = book_record(plan_evaluated(books[0], books[1], Limits(100.0)))
    assert found["investment"] is None
    assert [row["npv"] for row in found["shifts"]] == [None] * 3
    assert [remark["code"] for remark in found["remarks"]][:1] == ["book.no_purchase_price"]
    json.dumps(found, allow_nan=False)


def test_the_program_and_its_tables_are_named():
    assert book_record(demo_plan())["versions"] == {"program": program_version(), "assumptions": data_digest()}


def test_layers_name_the_plant_and_the_factor_set():
    found = book_record(demo_plan(), [PLANT, Layer("--set", {"plant.country": "FR"})])
    assert found["plant"] == "Northfold Cartons"
    assert (found["choices"]["plant.country"], found["choices"]["factors.set"]) == ("FR", "uk2025")


# -- rows -------------------------------------------------------------------------------------------------------------


@PLANS
def test_every_order_is_in_one_job(plan):
    found = book_record(plan)
    orders = [name for job in found["jobs"] for name in job["orders"]]
    assert (sorted(orders), len(orders)) == (sorted(map(str, plan.book.table.order)), found["computed"])


broken = st.sampled_from(
    [
        {"run_length": "many"},
        {"board": "cardboard"},
        {"style": "bag"},
        {"length_mm": ""},
        {"sheet_width_mm": 1},
        {"due": "tomorrow"},
        {"height_mm": -4},
        {},
        {},
    ]
)


@settings(max_examples=25, deadline=None)
@given(st.lists(broken, min_size=1, max_size=6))
def test_rows_in_are_those_computed_and_those_that_wait(faults):
    """And every row that waits is named, or something of the whole file is."""
    rows = [{**ORDER, "order": f"A{i}", "carton": f"C{i}", **fault} for i, fault in enumerate(faults)]
    found = book_record(plan_rows({**ORDER, "order": "first", "due": ""}, *rows))
    assert found["rows_in"] == found["computed"] + found["rows_waiting"] == len(rows) + 1
    named = {finding["row"] for finding in found["findings"] if finding["waits"]}
    done = {name for job in found["jobs"] for name in job["orders"]}
    waiting = {i + 3 for i in range(len(rows)) if f"A{i}" not in done}
    assert waiting == named
    assert len(waiting) == found["rows_waiting"]


def test_rows_that_wait_are_in_no_figure():
    alone, beside = plan_rows(ORDER), plan_rows(ORDER, {**ORDER, "order": "A2", "carton": "C2", "run_length": "many"})
    for key in ("saving", "hours_used", "co2e_kg", "waste_kg", "cost", "jobs"):
        assert book_record(beside)[key] == book_record(alone)[key]


# -- figures ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("costing", ["full", "cash"])
def test_the_saving_of_each_job_is_the_difference_of_its_comparison(costing):
    """Oracle: the job by itself, over its programme, by the years of it."""
    plan = plan_text(DEMO.read_text(encoding="utf-8"), costing=costing)
    years = np.broadcast_to(plan.book.jobs.years, (len(plan.book),))
    for j, job in enumerate(book_record(plan)["jobs"]):
        alone = compare(prepare(PLANT, plan.book.layer(j)), costing)
        expected = (sum(alone.die.money) - sum(alone.laser.money)) / years[j]
        assert job["saving"] == pytest.approx(float(expected), rel=1e-9, abs=1e-9)
        assert job["laser_hours"] == pytest.approx(float(alone.laser.inventory.machine_hours) / years[j], rel=1e-9)


@PLANS
def test_the_jobs_on_the_laser_add_up_to_the_totals(plan):
    found = book_record(plan)
    moving = [job for job in found["jobs"] if job["route"] == "laser"]
    assert found["saving"] == pytest.approx(sum(job["saving"] or 0.0 for job in moving), rel=1e-9)
    assert found["hours_used"] == pytest.approx(sum(job["laser_hours"] for job in moving), rel=1e-9)
    assert found["cash_saving"] == pytest.approx(sum(job["cash_saving"] or 0.0 for job in moving), rel=1e-9)
    assert found["freed_press_hours"] == pytest.approx(sum(job["press_hours"] or 0.0 for job in moving), rel=1e-9)


@PLANS
def test_the_year_before_and_after_add_up_over_the_jobs(plan):
    found = book_record(plan)
    for key in ("cost", "co2e_kg", "waste_kg"):
        before = sum(job[key]["die"] if job[key]["die"] is not None else job[key]["laser"] for job in found["jobs"])
        after = sum(job[key][job["route"]] for job in found["jobs"])
        assert found[key]["die_only"] == pytest.approx(before, rel=1e-9)
        assert found[key]["planned"] == pytest.approx(after, rel=1e-9)
        assert found[key]["change"] == found[key]["planned"] - found[key]["die_only"]
    assert found["cost"]["change"] == pytest.approx(-found["saving"], rel=1e-9)


@pytest.mark.parametrize("hours", [0.0, 0.5, 3.0, 17.0, 60.0])
@pytest.mark.parametrize("by_month", [True, False])
def test_hours_that_may_be_planned_are_never_exceeded(hours, by_month):
    """Nothing is pinned to the laser in these rows, so that nothing must go in any case."""
    lines = (DATA / "demo" / "orders_2000.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    free = [line.replace(",laser,", ",,", 1) for line in lines[:151]]
    found = book_record(plan_text("".join(free), Limits(hours, by_month)))
    assert found["hours_limit"] == hours
    assert found["hours_used"] <= hours * (1 + 1e-9)
    assert all(limit["used_hours"] <= limit["limit_hours"] * (1 + 1e-9) for limit in found["limits"])


@PLANS
def test_no_choice_is_said_to_save_more_than_the_bound(plan):
    found = book_record(plan)
    assert found["saving"] <= found["bound"]
    assert found["gap"] == pytest.approx((found["bound"] - found["saving"]) / found["bound"], abs=1e-12)


@PLANS
def test_reasons_are_those_of_the_contract(plan):
    assert {job["reason"] for job in book_record(plan)["jobs"]} <= set(REASONS)


@pytest.mark.parametrize(
    ("row", "route", "missing"),
    [
        ({"varnish_release_m": 0.2}, "laser", "die"),
        ({"laminate": "pvc"}, "die", "laser"),
    ],
)
def test_a_route_that_can_not_make_a_job_has_no_figures(row, route, missing):
    """A figure for what can't be made would be mistaken for a result."""
    (job,) = book_record(plan_rows({**ORDER, **row}))["jobs"]
    assert (job["route"], job["saving"], job["worth"], job["cash_saving"]) == (route, None, None, None)
    assert [job[key][missing] for key in ("cost", "co2e_kg", "waste_kg")] == [None] * 3
    assert len(job["why_not"][missing]) == 1
    assert job["laser_hours" if missing == "laser" else "press_hours"] is None


def test_what_neither_route_can_make_goes_nowhere():
    (job,) = book_record(plan_rows({**ORDER, "varnish_release_m": 0.2, "laminate": "pvc"}))["jobs"]
    assert (job["route"], job["reason"]) == (None, "impossible")


def test_the_range_of_the_saving_is_there_where_it_was_asked_for():
    plan = plan_rows(ORDER, with_range=True)
    found = book_record(plan)
    assert found["saving_range"]["low"] < found["cash_saving"] < found["saving_range"]["high"]
    assert found["saving_range"]["swings"][0].keys() == {"name", "at_low", "at_high", "low", "high"}
    assert found["investment"]["npv_low"] < found["investment"]["npv"] < found["investment"]["npv_high"]
    assert book_record(plan_rows(ORDER))["saving_range"] is None


# -- the same again ---------------------------------------------------------------------------------------------------


def _by_orders(found: dict[str, Any]) -> dict[frozenset[str], dict[str, Any]]:
    """Jobs without their place, and without their name, which is that of the first order in the file."""
    return {
        frozenset(job["orders"]): {k: v for k, v in job.items() if k not in ("id", "orders", "because")}
        for job in found["jobs"]
    }


def _flat(value: Any) -> Any:
    return [_flat(v) for v in value.values()] if isinstance(value, dict) else value


@pytest.mark.parametrize("seed", range(4))
def test_orders_in_another_order_are_the_same_plan(seed):
    heading, *rows = DEMO.read_text(encoding="utf-8").splitlines(keepends=True)
    rows = np.random.default_rng(seed).permutation(rows).tolist()
    limits = Limits(4.0, by_month=False)  # scarce, so that there is something to choose
    first = book_record(plan_text(DEMO.read_text(encoding="utf-8"), limits))
    again = book_record(plan_text("".join([heading, *rows]), limits))
    assert _by_orders(again).keys() == _by_orders(first).keys()
    for orders, job in _by_orders(first).items():
        other = _by_orders(again)[orders]
        for key, value in job.items():
            assert _flat(other[key]) == (
                pytest.approx(_flat(value), rel=1e-9)
                if isinstance(value, (float, dict)) and key != "why_not"
                else _flat(value)
            ), (orders, key)
    for key in ("rows_in", "computed", "saving", "hours_used", "bound", "hour_value", "freed_press_hours"):
        assert again[key] == pytest.approx(first[key], rel=1e-9)


def test_the_same_orders_give_the_same_record():
    text = DEMO.read_text(encoding="utf-8")
    assert json.dumps(book_record(plan_text(text))) == json.dumps(book_record(plan_text(text)))
