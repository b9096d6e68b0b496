"""The comparison as one JSON object. The keys are a contract: other programs read them."""

from __future__ import annotations

import csv
import io
import json
import math
from importlib.metadata import PackageNotFoundError
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY, scenarios

from compare import assumption_table, compare
from compare.data_files import data_digest
from compare.present import record as recording
from compare.present.record import LEDGER_COLUMNS, program_version, record, write_ledger
from compare.routes.inventory import RESOURCES, STAGES

ROUTE = {
    "cost_per_1000", "co2e_kg_per_1000", "biogenic_co2_kg_per_1000", "waste_kg_per_1000", "kwh_per_1000", "hours",
    "sheets", "lead_time_days", "economic_lot", "cost_per_1000_by_stage", "board_kg", "feasible", "findings",
}  # fmt: skip
FIGURES = sorted(ROUTE - {"feasible", "findings", "economic_lot", "cost_per_1000_by_stage", "board_kg"})
PLAIN_TYPES = (dict, list, str, int, float, bool, type(None))


@pytest.fixture
def recorded(load, demo_job):
    return record(compare(load(demo_job)))


# -- keys and types ---------------------------------------------------------------------------------------------------


def test_the_record_has_its_keys(recorded):
    assert set(recorded) == {
        "name", "plant", "costing", "currency", "answer", "cheaper", "inputs", "choices", "origins", "routes",
        "break_even", "sheet_time", "uncertainty", "ledger", "findings", "crease_tooling", "not_included", "cautions", "versions",
    }  # fmt: skip


def test_a_route_has_its_keys(recorded):
    assert set(recorded["routes"]) == {"die", "laser"}
    assert set(recorded["routes"]["die"]) == ROUTE | {"strategy"}
    assert set(recorded["routes"]["laser"]) == ROUTE


def test_a_break_even_has_its_keys(recorded):
    assert set(recorded["break_even"]) == {"cost", "co2e", "waste"}
    for found in recorded["break_even"].values():
        assert set(found) == {"run_length", "first", "answer", "ranges", "domain"}
        assert set(found["domain"]) == {"from", "to"}
        assert all(set(r) == {"from", "to", "cheaper"} for r in found["ranges"])


def test_a_ledger_row_has_its_keys(recorded):
    assert all(tuple(row) == LEDGER_COLUMNS for row in recorded["ledger"])
    assert {"route", "stage", "resource", "quantity", "unit", "money", "co2e_kg", "because"} <= set(LEDGER_COLUMNS)


def test_a_finding_has_its_keys(recorded):
    assert all(set(found) == {"code", "message", "where", "kind", "at"} for found in recorded["findings"])


def test_versions_have_their_keys(recorded):
    assert set(recorded["versions"]) == {"program", "assumptions", "factor_set", "factors"}
    assert (recorded["versions"]["assumptions"], recorded["versions"]["factor_set"]) == (data_digest(), "uk2025")


def test_every_number_of_the_model_stands_among_the_inputs(recorded):
    """All of the table, but for what a job of this kind does not need: a record can be computed again."""
    optional = {n for n, row in assumption_table().items() if row.value is None and not n.startswith("factors.")}
    needed = {n for n, row in assumption_table().items() if not row.is_text} - optional
    assert needed - set(recorded["inputs"]) == set()


def test_every_input_is_a_number_and_every_choice_a_text(recorded):
    assert {type(value) for value in recorded["inputs"].values()} == {float}
    assert {type(value) for value in recorded["choices"].values()} == {str}


def test_every_input_says_where_it_is_from(recorded):
    assert set(recorded["origins"]) == set(recorded["inputs"]) | set(recorded["choices"])


def _walk(value):
    yield value
    for part in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _walk(part)


def test_everything_is_plain_data(recorded):
    """NumPy's numbers are no JSON."""
    assert {type(value) for value in _walk(recorded)} <= set(PLAIN_TYPES)


def test_a_record_survives_being_written_and_read(recorded):
    assert json.loads(json.dumps(recorded, allow_nan=False)) == recorded


@PROPERTY
@given(scenarios(), st.sampled_from(["full", "cash"]))
def test_every_number_of_a_record_is_finite(scenario, costing):
    numbers = [value for value in _walk(record(compare(scenario, costing))) if isinstance(value, float)]
    assert all(map(math.isfinite, numbers))


# -- figures ----------------------------------------------------------------------------------------------------------


@PROPERTY
@given(scenarios())
def test_a_route_that_cannot_make_the_job_has_no_figure(scenario):
    """None, and not 0: a figure for what can't be made would be mistaken for a result."""
    written = record(compare(scenario))["routes"]
    for route in written.values():
        values = {name: route[name] for name in ROUTE - {"feasible", "findings"}}
        if not route["feasible"]:
            assert set(values.values()) == {None}
            assert any(found["kind"] == "not possible" for found in route["findings"])
        else:
            assert all(isinstance(values[name], float) for name in FIGURES)


@pytest.mark.parametrize(("job", "route"), [("gift_varnish_release", "die"), ("toy_pvc_laminate", "laser")])
def test_the_demo_jobs_that_only_one_route_can_make_have_no_figure_for_the_other(load, job, route):
    written = record(compare(load(job)))["routes"][route]
    assert (written["feasible"], {written[name] for name in FIGURES}) == (False, {None})


def test_a_cost_is_the_sum_of_its_ledger(recorded):
    for name, route in recorded["routes"].items():
        if route["feasible"]:
            thousands = recorded["inputs"]["demand.run_length"] * _orders(recorded) / 1000
            rows = [row for row in recorded["ledger"] if row["route"] == name]
            assert sum(row["money"] for row in rows) / thousands == pytest.approx(route["cost_per_1000"], rel=1e-9)
            assert sum(row["co2e_kg"] for row in rows) / thousands == pytest.approx(route["co2e_kg_per_1000"], rel=1e-9)


def _orders(written):
    return written["inputs"]["demand.orders_per_year"] * written["inputs"]["demand.years"]


def test_stages_add_up_to_the_cost(recorded):
    for route in recorded["routes"].values():
        if route["feasible"]:
            assert list(route["cost_per_1000_by_stage"]) == list(STAGES)
            assert sum(route["cost_per_1000_by_stage"].values()) == pytest.approx(route["cost_per_1000"], rel=1e-9)


def test_board_adds_up_to_what_came_in(recorded):
    for route in recorded["routes"].values():
        if route["feasible"]:
            kg = route["board_kg"]
            assert kg["good"] + kg["overs"] + kg["spoilage"] + kg["trim"] == pytest.approx(kg["board_in"], rel=1e-9)


def test_ranges_leave_no_gap_over_their_domain(recorded):
    for found in recorded["break_even"].values():
        ranges, domain = found["ranges"], found["domain"]
        assert (ranges[0]["from"], ranges[-1]["to"]) == (domain["from"], domain["to"])
        assert all(left["to"] + 1 == right["from"] for left, right in pairwise(ranges))
        assert {r["cheaper"] for r in ranges} <= {"die", "laser", "even"}


def test_a_break_even_is_a_whole_run_length_or_null(recorded):
    assert all(type(found["run_length"]) in (int, type(None)) for found in recorded["break_even"].values())


def test_ledger_rows_name_stages_resources_and_units(recorded):
    for row in recorded["ledger"]:
        assert row["stage"] in STAGES
        assert row["unit"] == RESOURCES[row["resource"]].unit
        assert row["because"]


def test_the_answer_tells_the_break_even_too(load):
    assert "The die is cheaper from" in record(compare(load("soap_sleeve")))["answer"]


def test_every_role_says_its_keys_label_and_stand_in(recorded):
    factors = recorded["versions"]["factors"]
    assert factors["steel_kg"] == {
        "keys": ["uk2025_mat_steelcans_primary"],
        "label": "UK Government 2025",
        "proxy": "steel cans stand in for steel rule",
    }


def test_the_die_says_its_strategy(load):
    assert record(compare(load("soap_sleeve")))["routes"]["die"]["strategy"] == "ganged"


def test_the_creases_are_told_in_millimetres(recorded):
    assert set(recorded["crease_tooling"]) == {
        "crease_rule_height_mm",
        "channel_along_grain_mm",
        "channel_across_grain_mm",
    }


# -- csv and version --------------------------------------------------------------------------------------------------


def test_the_csv_ledger_has_one_row_per_flow(load, demo_job):
    comparison = compare(load(demo_job))
    file = io.StringIO()
    write_ledger(comparison, file)
    rows = list(csv.DictReader(io.StringIO(file.getvalue())))
    assert [(row["route"], row["resource"], float(row["money"])) for row in rows] == [
        (row.route, row.resource, row.money) for row in comparison.ledger
    ]


def test_the_csv_ledger_keeps_texts_with_commas_whole(load):
    file = io.StringIO()
    write_ledger(compare(load("soap_sleeve")), file)
    rows = list(csv.reader(io.StringIO(file.getvalue())))
    assert {len(row) for row in rows} == {len(LEDGER_COLUMNS)}


def test_the_version_is_that_of_the_installed_program():
    assert program_version().count(".") == 2


def test_a_program_that_is_not_installed_says_so(monkeypatch):
    """Run from a folder that was only unpacked."""

    def missing(_):
        raise PackageNotFoundError

    monkeypatch.setattr(recording, "version", missing)
    assert program_version() == "not installed"
