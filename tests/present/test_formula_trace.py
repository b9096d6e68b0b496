"""Traced numbers: the engine's own steps as formulas, and a refusal of all that is none."""

from __future__ import annotations

import math
import operator
from dataclasses import replace
from functools import reduce

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW, scenarios

from compare import compare
from compare.decide.evaluate import evaluate
from compare.errors import EvenrunError
from compare.geometry.speed_table import limited, ramped, straight, total
from compare.names import Inputs
from compare.present import formula_text
from compare.present.formula_path import PathTable
from compare.present.formula_quote import below, trace_quote
from compare.present.formula_steps import steps
from compare.present.formula_text import formula, in_words
from compare.present.formula_trace import Trace, TraceError
from compare.routes import die, laser


@pytest.fixture
def trace():
    return Trace()


@pytest.fixture
def a(trace):
    return trace.named("a", 7.0)


@pytest.fixture
def b(trace):
    return trace.named("b", 2.0)


def _unnamed(_):
    return ""


def _text(node):
    return formula(node, _unnamed)


# -- what is recorded -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("work", "text"),
    [
        (lambda a, b: a + b * 2, "=a+b*2"),
        (lambda a, b: (a + b) * 2, "=(a+b)*2"),
        (lambda a, b: a - (b - 1), "=a-(b-1)"),
        (lambda a, b: a - b - 1, "=a-b-1"),
        (lambda a, b: a / (b * 3600), "=a/(b*3600)"),
        (lambda a, b: a / b * 3600, "=a/b*3600"),
        (lambda a, b: a * (b / 3), "=a*(b/3)"),
        (lambda a, b: 1 - a, "=1-a"),
        (lambda a, b: 3600 / a, "=3600/a"),
        (lambda a, b: -(a * 1e-3) * b, "=(-(a*0.001))*b"),
        (lambda a, b: a * -1.5, "=a*(-1.5)"),
        (lambda a, b: a - 1e-9, "=a-1E-09"),
        (lambda a, b: abs(a - b), "=ABS(a-b)"),
        (lambda a, b: np.ceil(np.subtract(a, 1e-9)), "=CEILING(a-1E-09,1)"),
        (lambda a, b: np.floor(a / b), "=INT(a/b)"),
        (lambda a, b: np.maximum(0.0, a), "=MAX(0,a)"),
        (lambda a, b: reduce(np.maximum, [a, b, a * b]), "=MAX(a,b,a*b)"),
        (lambda a, b: np.minimum(a, np.float64(3)), "=MIN(a,3)"),
        (lambda a, b: np.where(a == 1, b, 0.5), "=IF(a=1,b,0.5)"),
        (lambda a, b: (a > b) * 1.0, "=IF(a>b,1,0)"),
        (lambda a, b: np.float64(2) < a, "=2<a"),
        (lambda a, b: np.equal(a, 1) & np.greater(b, 1) & np.less_equal(b, a), "=AND(a=1,b>1,b<=a)"),
        (lambda a, b: (a > 1) | ~(b > 1), "=OR(a>1,b<=1)"),
        (lambda a, b: ~((a > 1) & (b > 1)), "=NOT(AND(a>1,b>1))"),
        (lambda a, b: ~~(a != b), "=a<>b"),
        (lambda a, b: ~np.asarray(a > b) | (a > 5), "=OR(a<=b,a>5)"),
    ],
)  # fmt: skip
def test_a_formula_is_the_steps_that_were_taken(a, b, work, text):
    assert _text(work(a, b)) == text


def test_a_node_comes_to_what_numbers_come_to(a, b):
    def work(x, y):
        return np.ceil(x / y) + np.where(np.greater(x, y), x * 1e-3, 0.0) - np.minimum(x, y) / 3

    assert float(work(a, b).value) == float(work(7.0, 2.0))


def test_sums_that_start_at_nothing_show_no_nothing(a, b):
    assert _text(sum((a, b), 0.0)) == "=a+b"


def test_what_is_worked_out_twice_is_one_node(a, b):
    assert a * b + 1 is a * b + 1
    assert a * b is not b * a


def test_adding_in_place_makes_a_new_number(a, b):
    was = a
    a += b
    assert (_text(a), _text(was)) == ("=a+b", "=a")


def test_cells_stand_for_nodes_that_have_one(a, b):
    shared = a + b
    names = {shared: "both"}
    assert formula(shared * 2, lambda node: names.get(node, "")) == "=both*2"
    assert formula(shared, lambda node: names.get(node, "")) == "=a+b"


def test_words_have_labels_and_read_like_the_model(a, b):
    labels = {a: "sheets", b: "die.speed_sheets_h"}
    said = in_words(np.maximum(0.0, np.ceil(a / b)) - 1, lambda node: labels.get(node, ""))
    assert said == "the largest of (0, rounded up (sheets / die.speed_sheets_h)) - 1"


_SIGNS = (operator.add, operator.sub, operator.mul, np.maximum, np.minimum)


@st.composite
def _trees(draw):
    leaves = st.sampled_from(["a", "b", "c"]) | st.floats(-9, 9).map(lambda v: round(v, 3))
    return draw(st.recursive(leaves, lambda part: st.tuples(st.sampled_from(_SIGNS), part, part), max_leaves=12))


def _grown(tree, leaves):
    if isinstance(tree, tuple):
        sign, left, right = tree
        return sign(_grown(left, leaves), _grown(right, leaves))
    return leaves.get(tree, tree) if isinstance(tree, str) else tree


@FEW
@given(_trees())
def test_brackets_keep_every_step_in_its_order(tree):
    """Read back by Python, whose signs bind as a spreadsheet's do; a sign before a number is bracketed."""
    numbers = {"a": 1.7, "b": -0.3, "c": 41.0}
    trace = Trace()
    node = trace.of(_grown(tree, {name: trace.named(name, value) for name, value in numbers.items()}))
    read = eval(_text(node)[1:], {"MAX": max, "MIN": min}, numbers)  # noqa: S307 - a text of our own
    assert read == pytest.approx(float(_grown(tree, numbers)), rel=1e-15, abs=1e-15)


def test_a_choice_reads_like_a_sentence(a, b):
    assert in_words(np.where(a == 1, b, 0.5) * 2, lambda node: node.name) == "(b if a is 1, else 0.5) x 2"


# -- branches ---------------------------------------------------------------------------------------------------------


def test_a_branch_leaves_the_condition_that_it_holds_for(trace, a, b):
    if a > b:
        assert not (a < 3)
    assert [_text(condition) for condition in trace.taken()] == ["=a>b", "=a>=3"]


def test_conditions_are_told_once(trace, a):
    assert [bool(a > 1) for _ in range(3)] == [True] * 3
    assert len(trace.taken()) == 1
    assert trace.taken() == []


def test_a_branch_by_a_number_holds_while_it_is_not_0(trace, a):
    assert a
    assert [_text(condition) for condition in trace.taken()] == ["=a<>0"]


def test_a_branch_by_what_nobody_changes_leaves_no_condition(trace):
    fixed = trace.named("path_strokes", 4.0, varies=False)
    assert fixed * 2 > 1
    assert trace.taken() == []


def test_python_s_own_comparing_functions_leave_their_conditions(trace, a, b):
    assert max(a, b) is a
    assert trace.taken()


def test_where_the_engine_asks_there_are_many_scenarios(a):
    assert np.ndim(a) == 1
    assert np.any(a > 1) is (a > 1)


# -- refusals ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "work",
    [
        float,
        int,
        math.ceil,
        math.sqrt,
        np.float64,
        lambda a: np.asarray(a, dtype=float),
        lambda a: np.zeros(3) + np.array([a], dtype=float),
        lambda a: a**2,
        lambda a: a % 2,
        lambda a: a // 2,
        lambda a: a @ a,
        np.sqrt,
        np.exp,
        np.isfinite,
        np.sum,
        np.add.reduce,
        lambda a: np.clip(a, 0, 1),
        lambda a: np.where(a, 1, 0),
        lambda a: np.where(a > 1),
        np.any,
        lambda a: np.add(a, 1, dtype=float),
        lambda a: a + np.array([1.0, 2.0]),
        lambda a: a + math.inf,
        lambda a: a + math.nan,
        lambda a: a + "1",
        lambda a: a == None,  # noqa: E711
        lambda a: a & 1,
        lambda a: ~a,
        lambda a: a + Trace().named("other", 1.0),
    ],
)
def test_what_has_no_formula_is_refused(a, work):
    with pytest.raises(EvenrunError, match=r"^workbook: .*; ") as refused:
        work(a)
    assert isinstance(refused.value, TraceError)


def test_a_formula_longer_than_a_spreadsheet_takes_is_refused(a, monkeypatch):
    monkeypatch.setattr(formula_text, "MOST_CHARACTERS", 30)
    assert _text(a + 1)
    with pytest.raises(TraceError, match="longer than a spreadsheet takes"):
        _text(sum((a * k for k in range(2, 20)), 0.0))


def test_a_speed_below_its_table_is_refused(trace, a):
    with pytest.raises(TraceError, match="below the first"):
        trace.last_row("speeds", [8.0, 9.0], a)


# -- tables of a path -------------------------------------------------------------------------------------------------

TABLES = {
    "one row": straight(12.5),
    "limits": limited([3.0, 4.0, 2.0], [0.5, 2.0, np.inf]),
    "ramps": total([ramped(0.0, 1.5, 20.0), ramped(0.2, 3.0, 20.0), straight(4.0)]),
}


@pytest.mark.parametrize("which", TABLES)
@pytest.mark.parametrize("speed", [0.1, 0.5, 0.7, 1.5, 2.0, 2.5, 3.0, 9.0])
def test_seconds_of_a_traced_table_are_those_of_the_table(trace, which, speed):
    none = np.zeros(1)
    table = PathTable(none, none, none, none, trace, "path_1_jumps", TABLES[which])
    traced = table.seconds(trace.named("v", speed))
    assert traced.value == pytest.approx(TABLES[which].seconds(speed), rel=1e-14)


def test_a_table_of_one_row_needs_no_look_up(trace):
    none = np.zeros(1)
    seconds = PathTable(none, none, none, none, trace, "t", TABLES["one row"]).seconds(trace.named("v", 1.0))
    assert _text(seconds) == "=t_inverse/v"


def test_a_traced_table_looks_up_its_row_in_the_sheet(trace):
    none = np.zeros(1)
    seconds = PathTable(none, none, none, none, trace, "t", TABLES["limits"]).seconds(trace.named("v", 1.0))
    row = "MATCH(v,t_speed,1)"
    assert _text(seconds) == f"=INDEX(t_inverse,{row})/v+INDEX(t_constant,{row})"


# -- the engine -------------------------------------------------------------------------------------------------------


@FEW
@given(scenarios())
def test_the_engine_on_traced_numbers_comes_to_its_own_figures(scenario):
    """Held to the ledger, line by line, while it is traced."""
    compared = compare(scenario)
    quote = trace_quote(compared)
    assert {route.name for route in quote.routes} == {n for n in ("die", "laser") if compared.route(n).feasible}
    for route in quote.routes:
        result = compared.route(route.name)
        assert sum(f.money.value for f in route.flows) == pytest.approx(sum(result.money), rel=1e-12)
        assert route.lead_days.value == pytest.approx(result.lead_time_days, rel=1e-12)
    assert all(check.condition.value is True for check in quote.checks)


def test_every_step_comes_after_what_it_needs(load, demo_job):
    quote = trace_quote(compare(load(demo_job)))
    seen = set()
    cells = {step.node for step in steps(quote)}
    for step in steps(quote):
        assert (cells & set(below(step.node.parts))) <= seen
        seen.add(step.node)


def test_names_of_steps_are_used_once(load, demo_job):
    found = steps(trace_quote(compare(load(demo_job))))
    assert len({step.cell.casefold() for step in found}) == len(found)
    assert len({step.label for step in found}) == len(found)


def test_a_figure_that_is_not_the_engine_s_is_refused(load):
    compared = compare(load("soap_sleeve"))
    money = (compared.die.money[0] * (1 + 1e-6), *compared.die.money[1:])
    with pytest.raises(TraceError, match="don't come to the figures"):
        trace_quote(replace(compared, die=replace(compared.die, money=money)))


def test_tracing_leaves_the_comparison_as_it_was(load):
    compared = compare(load("window_from_drawing"))
    before = compared.die.ledger, compared.laser.ledger, dict(compared.scenario.inputs)
    trace_quote(compared)
    assert (compared.die.ledger, compared.laser.ledger, dict(compared.scenario.inputs)) == before


def test_the_engine_knows_nothing_of_it_and_takes_numbers_and_arrays_as_before(load):
    x = load("soap_sleeve").inputs
    trace_quote(compare(load("soap_sleeve")))
    many = evaluate(x.with_values({"demand.run_length": np.array([500.0, 6000.0])}))
    one = evaluate(x.with_values({"demand.run_length": 6000.0}))
    assert many.die["cost"][1] == pytest.approx(one.die["cost"], rel=1e-12)
    assert isinstance(one.die["cost"], float)


def test_traced_inputs_run_through_both_routes_as_they_stand(plain):
    trace = Trace()
    x = plain().inputs
    traced = Inputs({name: trace.named(name.replace(".", "_"), float(value)) for name, value in x.items()})
    assert laser.inventory(traced).machine_hours.value == pytest.approx(float(laser.inventory(x).machine_hours))
    for strategy in ("separate", "ganged"):
        ours, theirs = die.inventory(traced, strategy), die.inventory(x, strategy)
        assert ours.machine_hours.value == pytest.approx(float(theirs.machine_hours))
