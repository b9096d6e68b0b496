"""Both routes for one scenario or millions: the same figures, however many are asked for at once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import get_args

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from random_jobs import FEW, PROPERTY, scenarios

from compare import compare, evaluate, replace
from compare.decide.evaluate import Measure, measure_of, possible_routes
from compare.errors import InputError
from compare.names import Inputs
from compare.routes import die, laser

ALL = get_args(Measure)
# what a sweep, a map and a draw vary; each value alone is fit for the job it is tried on
VARIED = {
    "demand.run_length": (50, 60_000),
    "rates.labour_h": (18.0, 48.0),
    "laser.severance_j_mm2": (0.2, 1.7),
    "die.life_impressions": (1000.0, 1e6),
    "factors.kwh": (0.02, 0.8),
}


def _draws(count: int) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(7)
    whole = {"demand.run_length": np.floor(rng.uniform(*VARIED["demand.run_length"], count))}
    return whole | {n: rng.uniform(*span, count) for n, span in VARIED.items() if n not in whole}


def _totals(x, **options):
    found = evaluate(x, measures=ALL, **options)
    return {
        "cartons": found.cartons,
        **{(route, m): by[m] for route, by in (("die", found.die), ("laser", found.laser)) for m in ALL},
    }


@pytest.fixture
def job(load):
    """Versions that share sheets: which die is cheaper changes along the run."""
    return load("soap_sleeve").inputs


# -- chunks -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 16_383, 16_384, 16_385, 40_000])
def test_many_at_once_are_the_same_as_a_thousand_at_a_time(job, count):
    """Chunks are there for speed: the last digit must not depend on where one ends."""
    draws = _draws(count)
    parts = [
        _totals(replace(job, {name: values[at : at + 1000] for name, values in draws.items()}))
        for at in range(0, count, 1000)
    ]
    for key, whole in _totals(replace(job, draws)).items():
        np.testing.assert_array_equal(whole, np.concatenate([part[key] for part in parts]), err_msg=str(key))


def test_threads_give_the_same_figures(job):
    x = replace(job, _draws(40_000))
    alone = _totals(x)
    with ThreadPoolExecutor(2) as pool:
        together = _totals(x, executor=pool)
    for key, values in alone.items():
        np.testing.assert_array_equal(together[key], values, err_msg=str(key))


def test_an_error_in_a_thread_comes_out(job, monkeypatch):
    """A chunk that fails must not leave its rows unfilled."""
    broken = Inputs({name: value for name, value in job.items() if name != "rates.labour_h"})
    x = broken.with_values({"demand.run_length": np.full(40_000, 100.0)})
    with ThreadPoolExecutor(2) as pool, pytest.raises(KeyError, match="labour_h"):
        evaluate(x, executor=pool)


@pytest.mark.parametrize(("rows", "columns"), [(3, 4), (130, 127), (300, 200)])
def test_a_map_is_the_same_row_by_row(job, rows, columns):
    """Two inputs that vary along axes of their own, below and above the size of a chunk."""
    runs = np.floor(np.geomspace(50, 60_000, rows))[:, np.newaxis]
    labour = np.linspace(18, 48, columns)
    whole = _totals(replace(job, {"demand.run_length": runs, "rates.labour_h": labour}))
    for i, run in enumerate(runs[:, 0]):
        row = _totals(replace(job, {"demand.run_length": run, "rates.labour_h": labour}))
        for key, values in whole.items():
            np.testing.assert_array_equal(np.broadcast_to(values, (rows, columns))[i], row[key], err_msg=str(key))


def test_arrays_of_different_shapes_spread_over_three_axes(job):
    changes = {
        "demand.run_length": np.floor(np.geomspace(50, 60_000, 40)).reshape(40, 1, 1),
        "rates.labour_h": np.linspace(18, 48, 30).reshape(1, 30, 1),
        "factors.kwh": np.linspace(0.02, 0.8, 20).reshape(1, 1, 20),
    }
    found = evaluate(replace(job, changes)).laser["co2e"]
    one = {name: values.reshape(-1)[[7, 11, 13][axis]] for axis, (name, values) in enumerate(changes.items())}
    assert (found.shape, found[7, 11, 13]) == ((40, 30, 20), evaluate(replace(job, one)).laser["co2e"])


def test_a_single_scenario_gives_plain_numbers(job):
    found = evaluate(job)
    assert {type(v) for v in (*found.die.values(), *found.laser.values())} <= {float, np.float64}


def test_arrays_that_do_not_go_together_are_refused(job):
    x = job.with_values({"rates.labour_h": np.ones(2), "rates.kwh": np.ones(3)})
    with pytest.raises(InputError, match="the arrays do not broadcast to one shape"):
        evaluate(x)


# -- figures ----------------------------------------------------------------------------------------------------------


@PROPERTY
@given(scenarios(), st.sampled_from(["full", "cash"]))
def test_the_figures_are_those_of_the_comparison(scenario, costing):
    """One engine, two ways in: a chart and the table beside it may not differ."""
    comparison = compare(scenario, costing)
    found = evaluate(scenario.inputs, costing=costing, measures=ALL)
    for route, result in (("die", comparison.die), ("laser", comparison.laser)):
        shown = {
            "cost": result.cost_per_1000,
            "co2e": result.co2e_per_1000,
            "biogenic": result.biogenic_per_1000,
            "waste": result.waste_per_1000,
            "kwh": float(result.inventory.kwh) / result.thousands,
            "hours": float(result.inventory.machine_hours) / result.thousands,
            "sheets": float(result.inventory.sheets) / result.thousands,
        }
        assert {m: found.per_1000(route, m) for m in ALL} == pytest.approx(shown, rel=1e-9, abs=1e-9)


@PROPERTY
@given(scenarios())
def test_the_cheaper_of_two_dies_stands_for_the_die_in_every_measure(scenario):
    """Cost of the one and carbon of the other would be a die that nobody can make."""
    x = scenario.inputs
    assume(die.gang_possible(x))
    found = evaluate(x, measures=ALL)
    ways = [{m: measure_of(die.inventory(x, s), x, m, "full") for m in ALL} for s in ("separate", "ganged")]
    assert found.die == min(ways, key=lambda way: way["cost"])


def test_the_die_is_chosen_by_cost_where_cost_is_not_asked_for(job):
    both = evaluate(job, measures=("cost", "waste"))
    assert evaluate(job, measures=("waste",)).die == {"waste": both.die["waste"]}


def test_one_die_for_all_is_the_only_way_with_more_versions_than_sets(load):
    """Then its being dearer does not matter."""
    settings = ("demand.run_length=90000", "die.max_tool_sets=2", "toolmaker.set_fee=0")
    x = load("soap_sleeve", *settings).inputs
    ganged = die.inventory(x, "ganged")
    assert evaluate(x).die["cost"] == measure_of(ganged, x, "cost", "full")


@FEW
@given(scenarios(), st.sampled_from(ALL))
def test_a_figure_per_thousand_is_the_total_over_the_thousands(scenario, measure):
    found = evaluate(scenario.inputs, measures=ALL)
    assert found.per_1000("laser", measure) == found.laser[measure] / (found.cartons / 1000)


@pytest.mark.parametrize(("measure", "resource"), [("kwh", "electricity"), ("hours", "laser time")])
def test_a_measure_of_an_inventory_is_the_sum_of_its_resource(plain, measure, resource):
    x = plain().inputs
    inventory = laser.inventory(x)
    assert measure_of(inventory, x, measure, "full") == pytest.approx(float(inventory.quantity(resource)))


# -- what is possible -------------------------------------------------------------------------------------------------


def test_both_routes_are_possible_for_a_plain_job(plain):
    assert possible_routes(plain().inputs) == {"die": True, "laser": True}


def test_what_a_route_cannot_do_is_told_job_by_job(plain):
    x = replace(plain().inputs, {"work.varnish_release_m": [0.0, 0.5], "board.caliper_mm": [1.0, 0.4]})
    found = possible_routes(x)
    assert (found["die"].tolist(), found["laser"].tolist()) == ([True, False], [False, True])


def test_a_halogenated_laminate_rules_the_laser_out(plain):
    assert possible_routes(plain().inputs, "pvc")["laser"] is False
