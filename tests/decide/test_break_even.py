"""Break-even: ranges exact to the carton, against computing every run length with the engine itself."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW, MONEY, PROPERTY, scenarios

from compare import break_evens, compare, evaluate, replace
from compare.decide.break_even import LAST_RUN_LENGTH, BreakEven, _read, route_totals
from compare.decide.evaluate import MEASURES, measure_of
from compare.decide.step_totals import EVEN, Range
from compare.routes import die, laser

LAST = 20_000
SEVERAL = scenarios(longest_run=LAST)


def _scanned(x, measure, costing):
    """Compute every run length; totals within a billionth of each other are even."""
    start = int(x["demand.versions"])
    run = np.arange(start, LAST + 1, dtype=float)
    found = evaluate(replace(x, {"demand.run_length": run}), costing=costing)
    a, b = (np.broadcast_to(by[measure], run.shape) for by in (found.die, found.laser))
    even = np.abs(a - b) <= 1e-9 * np.maximum(np.abs(a), np.abs(b))
    labels = np.where(even, EVEN, np.where(a < b, "die", "laser"))
    first = np.flatnonzero(np.concatenate([[True], labels[1:] != labels[:-1]]))
    last = np.append(first[1:] - 1, len(run) - 1)
    return tuple(Range(start + int(i), start + int(j), str(labels[i])) for i, j in zip(first, last, strict=True))


# -- properties -------------------------------------------------------------------------------------------------------


@FEW
@given(SEVERAL, st.sampled_from(["full", "cash"]))
def test_ranges_are_those_of_computing_every_run_length(scenario, costing):
    found = break_evens(scenario.inputs, costing=costing, last=LAST)
    for measure in MEASURES:
        assert found[measure].ranges == _scanned(scenario.inputs, measure, costing), measure


@pytest.mark.parametrize("measure", MEASURES)
def test_ranges_of_every_demo_job_are_those_of_computing_every_run_length(load, demo_job, measure):
    """Real jobs flicker from sheet to sheet around their break-even, which random ones may not."""
    x = load(demo_job).inputs
    assert break_evens(x, last=LAST)[measure].ranges == _scanned(x, measure, "full")


@PROPERTY
@given(scenarios())
def test_ranges_leave_no_gap_and_neighbours_differ(scenario):
    for found in break_evens(scenario.inputs).values():
        ranges = found.ranges
        assert all(left.end + 1 == right.start and left.lowest != right.lowest for left, right in pairwise(ranges))
        assert all(r.start <= r.end for r in ranges)


@PROPERTY
@given(scenarios())
def test_from_the_break_even_on_the_die_is_lower_for_good(scenario):
    for found in break_evens(scenario.inputs).values():
        if found.run_length is not None:
            assert found.at(found.run_length - 1) != "die"
            assert {r.lowest for r in found.ranges if r.end >= found.run_length} == {"die"}


@PROPERTY
@given(scenarios(), st.sampled_from([0.25, 2.0, 7.5, 0.1]), st.sampled_from(["full", "cash"]))
def test_all_prices_scaled_leave_the_ranges(scenario, k, costing):
    """Another currency changes no decision."""
    x = scenario.inputs
    scaled = replace(x, {name: k * x[name] for name in MONEY if name in x})
    assert break_evens(scaled, costing=costing)["cost"].ranges == break_evens(x, costing=costing)["cost"].ranges


@PROPERTY
@given(scenarios())
def test_the_call_at_the_quoted_run_is_that_of_the_comparison(scenario):
    comparison = compare(scenario)
    if comparison.die.feasible and comparison.laser.feasible:
        assert comparison.break_even["cost"].at(comparison.run_length) == comparison.cheaper


@PROPERTY
@given(scenarios(), st.integers(1, 10**6))
def test_totals_read_off_the_engine_give_its_figures_at_any_run(scenario, run):
    """Slopes are probed, not written down a second time: they must hold far from where they were probed."""
    run = max(run, int(scenario.inputs["demand.versions"]))
    x = replace(scenario.inputs, {"demand.run_length": run})
    inventories = {"laser": laser.inventory(x)} | {s: die.inventory(x, s) for s in ("separate", "ganged")}
    for way, totals in route_totals(scenario.inputs).items():
        for measure, total in totals.items():
            shown = float(measure_of(inventories[way], x, measure, "full"))
            # cancelling terms, such as trim, lose digits against the board they are a part of
            board = float(measure_of(inventories[way], x, "sheets", "full"))
            assert float(total(np.array([float(run)]))[0]) == pytest.approx(shown, rel=1e-9, abs=1e-9 * board)


# -- reading the ranges -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ranges", "run_length", "first", "answer"),
    [
        ([(1, 99, "laser"), (100, 500, "die")], 100, 100, "die from 100 cartons per order"),
        (
            [(1, 9, "laser"), (10, 20, "die"), (21, 30, "laser"), (31, 5000, "die")],
            31,
            10,
            "die from 31 cartons per order for good, at times from 10",
        ),
        ([(1, 500, "die")], None, 1, "none: die throughout"),
        ([(1, 500, "laser")], None, None, "none: laser throughout"),
        ([(1, 500, "even")], None, None, "even throughout"),
        ([(1, 9, "laser"), (10, 500, "even")], None, None, "none: the die is nowhere lower"),
        ([(1, 9, "even"), (10, 500, "die")], 10, 10, "die from 10 cartons per order"),
        (
            [(1, 1999, "laser"), (2000, 2500, "die"), (2501, 9999, "laser")],
            None,
            2000,
            "no lasting break-even: the die is lower at times from 2,000 cartons per order",
        ),
        (
            [(1, 9, "die"), (10, 500, "laser")],
            None,
            1,
            "no lasting break-even: the die is lower at times from 1 cartons per order",
        ),
    ],
)
def test_the_answer_is_read_off_the_ranges(ranges, run_length, first, answer):
    found = _read(tuple(Range(*r) for r in ranges))
    assert (found.run_length, found.first, found.answer) == (run_length, first, answer)


def test_a_run_length_is_looked_up_in_its_range():
    found = BreakEven((Range(5, 9, "laser"), Range(10, 20, "die")), 10, 10, "")
    assert (found.start, found.end, found.at(9), found.at(10), found.at(21)) == (5, 20, "laser", "die", "even")


# -- domain and feasibility -------------------------------------------------------------------------------------------


def test_the_search_starts_at_one_carton_per_version(plain):
    assert break_evens(plain({"demand.versions": 7}).inputs)["cost"].start == 7


@pytest.mark.parametrize(("run", "last"), [(1000, LAST_RUN_LENGTH), (3_000_000, 6_000_000)])
def test_the_search_ends_at_a_million_or_at_twice_the_run(plain, run, last):
    """The quoted run must lie well inside what was searched."""
    assert break_evens(plain({"demand.run_length": run}).inputs)["cost"].end == last


@pytest.mark.parametrize(
    ("possible", "ranges", "answer"),
    [
        ({"die": False}, "laser", "none: laser throughout (the die can't make this job)"),
        ({"laser": False}, "die", "none: die throughout (the laser can't make this job)"),
        ({"die": False, "laser": False}, "even", "none: neither route can make this job"),
    ],
)
def test_a_route_that_cannot_make_the_job_has_no_break_even(plain, possible, ranges, answer):
    for found in break_evens(plain().inputs, possible=possible).values():
        assert (found.ranges, found.run_length, found.answer) == ((Range(1, LAST_RUN_LENGTH, ranges),), None, answer)


def test_more_versions_than_tool_sets_leave_the_laser(plain):
    """With no way of working the die there is no total to compare with; asking must not fail."""
    found = break_evens(plain({"demand.versions": 31}).inputs)
    assert {r.lowest for r in found["cost"].ranges} == {"laser"}


def test_the_ways_of_working_are_those_that_are_possible(load, plain):
    assert list(route_totals(plain().inputs)) == ["separate", "laser"]
    assert list(route_totals(load("soap_sleeve").inputs)) == ["separate", "ganged", "laser"]


def test_the_die_changes_its_way_of_working_along_the_run(load):
    """Six sets for six outlines pay at long runs, where one die for all wears out six times as fast; the ranges follow
    the cheaper of both.
    """
    x = load("soap_sleeve", "die.life_impressions=2000", "demand.changes_per_year=0").inputs
    assert break_evens(x, last=LAST)["cost"].ranges == _scanned(x, "cost", "full")
