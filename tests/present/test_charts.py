"""Chart specs: their numbers are the engine's, and every one of them has a unit."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW, PROPERTY, job_values

from compare import Layer, compare, prepare, vary
from compare.assumptions import assumption_table
from compare.errors import EvenrunError
from compare.geometry.styles import STYLES
from compare.present import charts
from compare.routes.inventory import STAGES

MOST = assumption_table()["demand.run_length"].limits.high


def _at(scenario, **values):
    """The comparison with some inputs changed, one job at a time and by the long way."""
    varied = vary(scenario, {name.replace("__", "."): value for name, value in values.items()})
    return compare(replace(scenario, inputs=varied))


@pytest.fixture(scope="module")
def specs(load):
    """Comparison and charts of a job that both routes can make."""
    c = compare(load("chocolate_crash_lock"))
    return (
        c,
        charts.break_even_chart(c),
        charts.stage_chart(c),
        charts.advantage_map(c),
        charts.outline_chart(c.scenario.blank),
    )


# -- curves -----------------------------------------------------------------------------------------------------------


def test_every_tenth_point_of_a_curve_is_the_cost_of_that_run_length(specs):
    c, curves, *_ = specs
    assert [s.role for s in curves.series] == ["die", "laser"]
    for series in curves.series:
        for run, cost in list(zip(series.x, series.y, strict=True))[::10]:
            one = _at(c.scenario, demand__run_length=run)
            assert cost == pytest.approx(one.route(series.role).cost_per_1000, rel=1e-9)


def test_a_curve_goes_through_the_quoted_run_and_the_cost_of_the_answer(specs):
    c, curves, *_ = specs
    assert curves.quoted == c.run_length
    for series in curves.series:
        at = series.x.index(c.run_length)
        assert series.y[at] == pytest.approx(c.route(series.role).cost_per_1000, rel=1e-9)


def test_the_chart_shows_the_quoted_run_and_the_break_even_and_how_it_goes_on(specs):
    c, curves, *_ = specs
    for shown in (c.run_length, c.break_even["cost"].run_length):
        assert curves.series[0].x[0] < shown < curves.series[0].x[-1]
    assert curves.break_even == c.break_even["cost"].run_length


def test_the_ranges_cover_the_axis_without_gap_or_overlap_and_name_the_cheaper_route(specs):
    c, curves, *_ = specs
    low, high = charts.chart_domain(c)
    assert (curves.ranges[0].start, curves.ranges[-1].end) == (low, high)
    for before, after in zip(curves.ranges, curves.ranges[1:], strict=False):
        assert after.start == before.end + 1
    for found in (curves.ranges[0], curves.ranges[-1]):
        assert _at(c.scenario, demand__run_length=float(found.start)).cheaper == found.lowest


def test_a_price_moves_both_curves_alike_and_no_range(specs):
    c, curves, *_ = specs
    priced = charts.break_even_chart(c, price_factor=1.25, price_word="price")
    assert priced.ranges == curves.ranges
    assert priced.title.startswith("Price")
    for ours, theirs in zip(priced.series, curves.series, strict=True):
        assert ours.y == pytest.approx([y * 1.25 for y in theirs.y])


def test_a_route_that_is_not_possible_has_no_curve_and_no_bar(load):
    c = compare(load("toy_pvc_laminate"))
    assert [s.role for s in charts.break_even_chart(c).series] == ["die"]
    assert list(charts.stage_chart(c).values) == ["die"]
    assert charts.advantage_map(c) is None


@pytest.mark.parametrize("run", [1, 2, 7, 11, 999, 1e6, 1e7, 3e7, 9e7, MOST])
def test_any_run_length_the_engine_takes_can_be_drawn(load, run):
    c = _at(load("soap_sleeve", "demand.versions=1"), demand__run_length=float(run))
    curves, advantage = charts.break_even_chart(c), charts.advantage_map(c)
    assert float(run) in curves.series[0].x
    assert float(run) in advantage.run_lengths
    assert max(advantage.run_lengths) <= MOST


@FEW
@given(job_values())
def test_every_random_job_can_be_drawn_and_no_number_is_missing(values):
    try:
        c = compare(prepare(Layer("test", values)))
    except EvenrunError:
        return
    if c.die.feasible or c.laser.feasible:
        curves = charts.break_even_chart(c)
        assert all(len(s.x) == len(s.y) and min(s.y) > 0 for s in curves.series)
        assert curves.x.log
        assert curves.y.log


# -- stages -----------------------------------------------------------------------------------------------------------


def test_bars_are_the_cost_by_stage_and_add_up_with_board_to_the_whole(specs):
    c, _, stages, *_ = specs
    for route, values in stages.values.items():
        by_stage = c.route(route).stage_cost_per_1000()
        assert dict(zip(stages.stages, values, strict=True)) == {s: by_stage[s] for s in STAGES if s != "material"}
        assert sum(values) + by_stage["material"] == pytest.approx(c.route(route).cost_per_1000)


# -- map --------------------------------------------------------------------------------------------------------------


def test_every_cell_of_the_map_is_the_difference_of_two_comparisons(specs):
    c, _, _, advantage, _ = specs
    for row in (0, 3, len(advantage.versions) - 1):
        for column in (0, 4, len(advantage.run_lengths) - 1):
            run, versions = advantage.run_lengths[column], advantage.versions[row]
            one = _at(c.scenario, demand__run_length=run, demand__versions=versions)
            gap = one.die.cost_per_1000 - one.laser.cost_per_1000
            assert advantage.advantage[row][column] == pytest.approx(gap, rel=1e-9, abs=1e-9)
            share = gap / max(one.die.cost_per_1000, one.laser.cost_per_1000)
            assert advantage.share[row][column] == pytest.approx(share, rel=1e-9, abs=1e-12)


def test_the_map_holds_the_quoted_job_itself(specs):
    c, _, _, advantage, _ = specs
    run, versions = advantage.quoted
    cell = advantage.advantage[advantage.versions.index(versions)][advantage.run_lengths.index(run)]
    assert cell == pytest.approx(c.die.cost_per_1000 - c.laser.cost_per_1000)


def test_less_than_a_carton_per_version_is_no_cell(load):
    advantage = charts.advantage_map(_at(load("soap_sleeve"), demand__run_length=10.0, demand__versions=1.0))
    for versions, row in zip(advantage.versions, advantage.advantage, strict=True):
        for run, cell in zip(advantage.run_lengths, row, strict=True):
            assert (cell is None) == (versions > run)


def test_the_map_says_in_words_what_its_cells_say(specs):
    *_, advantage, _ = specs
    cells = [cell for row in advantage.advantage for cell in row if cell is not None]
    assert f"{sum(cell > 0 for cell in cells)} of {len(cells)} combinations" in advantage.summary


# -- outline ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("style", STYLES)
def test_the_outline_is_closed_and_lies_in_its_box(load, style):
    blank = load("tea_repeat_on_shelf", f"carton.style={style}").blank
    drawing = charts.outline_chart(blank)
    (outline,) = drawing.lines["cutting"]
    assert outline[0] == outline[-1]
    for axis in (0, 1):
        values = [point[axis] for point in outline]
        assert max(values) - min(values) == pytest.approx(drawing.size_mm[axis])
        for crease in drawing.lines["creasing"]:
            assert all(min(values) - 1e-6 <= point[axis] <= max(values) + 1e-6 for point in crease)


def test_the_outline_in_inches_is_the_same_drawing(load):
    """25.4 mm to the inch, exactly (international yard and pound agreement of 1959)."""
    blank = load("tea_repeat_on_shelf").blank
    metric, inches = charts.outline_chart(blank), charts.outline_chart(blank, inches=True)
    for kind, some in metric.lines.items():
        for line, other in zip(some, inches.lines[kind], strict=True):
            assert [(25.4 * x, 25.4 * y) for x, y in other] == [pytest.approx(point) for point in line]
    assert " mm" not in inches.summary
    assert charts.as_csv(inches).splitlines()[0] == 'kind,line,"x, in","y, in"'
    width, height = metric.size_mm
    assert f"blank {width / 25.4:.2f} x {height / 25.4:.2f} in" in inches.summary


# -- words, units and tables ------------------------------------------------------------------------------------------


def test_every_axis_has_its_unit_and_money_its_currency(specs):
    _, curves, stages, advantage, _ = specs
    assert (curves.x.title, curves.y.title) == ("Run length, cartons per order", "Cost, EUR per 1,000 good cartons")
    assert stages.unit == "EUR per 1,000 good cartons"
    assert (advantage.x.title, advantage.y.title) == ("Run length, cartons per order", "Versions, per order")
    assert advantage.unit == "EUR per 1,000"


def test_another_currency_stands_in_every_title(load):
    c = compare(load("chocolate_crash_lock", "plant.currency=SEK"))
    for spec in (charts.break_even_chart(c), charts.stage_chart(c), charts.advantage_map(c)):
        assert "SEK" in spec.title
        assert "EUR" not in charts.as_csv(spec) + spec.title + spec.summary


def test_every_chart_is_told_in_words(specs):
    for spec in specs[1:]:
        assert spec.summary.endswith(".")
        assert len(spec.summary) > 40


def test_a_table_of_a_chart_holds_the_same_numbers_with_units_in_its_head(specs):
    _, curves, stages, advantage, outline = specs
    tables = [list(csv.reader(io.StringIO(charts.as_csv(spec)))) for spec in specs[1:]]
    assert tables[0][0] == [curves.x.title, *(f"{s.label}: {curves.y.title}" for s in curves.series)]
    assert [float(row[1]) for row in tables[0][1:]] == list(curves.series[0].y)
    assert tables[1][0] == ["stage", f"die, {stages.unit}", f"laser, {stages.unit}"]
    assert [float(row[2]) for row in tables[1][1:]] == list(stages.values["laser"])
    assert all(advantage.unit in cell for cell in tables[2][0][1:])
    assert [[None if v == "" else float(v) for v in row[1:]] for row in tables[2][1:]] == [
        list(r) for r in advantage.advantage
    ]
    assert tables[3][0] == ["kind", "line", "x, mm", "y, mm"]
    assert len(tables[3]) - 1 == sum(len(line) for lines in outline.lines.values() for line in lines)


@pytest.mark.parametrize(
    ("low", "high", "ticks"), [(10, 100, (10, 20, 50, 100)), (30, 40, ()), (1, 1, (1,)), (0.3, 4, (0.5, 1, 2))]
)
def test_ticks_stand_at_1_2_and_5(low, high, ticks):
    assert charts.decade_ticks(low, high) == pytest.approx(ticks)


@PROPERTY
@given(st.floats(1e-3, 1e8), st.floats(1.0, 1e5))
def test_no_tick_lies_outside_the_axis(low, factor):
    ticks = charts.decade_ticks(low, low * factor)
    assert all(low <= tick <= low * factor for tick in ticks)
    assert list(ticks) == sorted(set(ticks))
