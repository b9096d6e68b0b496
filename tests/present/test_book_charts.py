"""Charts of a year of orders: the engine's numbers, units on every axis and hover, nothing told by colour alone."""

from __future__ import annotations

import base64
import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from compare.data_files import data_folder
from compare.decide.book_plan import Limits, plan_book
from compare.present.book_charts import LoadMark, Panel, PanelChart, book_charts
from compare.present.charts import as_csv
from compare.present.numbers import NumberStyle
from compare.present.plotly_pen import draw
from compare.readers.jobfile import Layer, read_file
from compare.readers.orderbook import read_orders

PLANT = read_file(data_folder() / "plants" / "northfold.toml", kind="plant")
TABLE = read_orders(data_folder() / "demo" / "orders_20.csv", currency="EUR")
GERMAN = NumberStyle(",", ".")


@pytest.fixture(scope="module")
def plan():
    return plan_book(TABLE, PLANT, limits=Limits(50.0, by_month=False))


@pytest.fixture(scope="module")
def charts(plan):
    return book_charts(plan)


def _unpacked(packed):
    return np.frombuffer(base64.b64decode(packed["bdata"]), dtype=packed["dtype"])


def test_the_plan_of_these_tests_moves_something(plan):
    assert plan.selection.saving > 0
    assert plan.hour_value >= 0


def test_the_curve_is_that_of_the_engine_with_the_plan_and_its_loads_on_it(plan, charts):
    chart = charts["saving"]
    known = np.isfinite(plan.curve.saving)
    assert chart.hours == tuple(plan.curve_hours[known].tolist())
    assert chart.saving == tuple(plan.curve.saving[known].tolist())
    assert chart.chosen == LoadMark(1.0, 50.0, plan.selection.saving)
    assert [(mark.load, mark.hours) for mark in chart.marks] == [
        (0.7, pytest.approx(35)),
        (0.85, pytest.approx(42.5)),
        (0.95, pytest.approx(47.5)),
    ]


def test_every_drawn_point_of_the_curve_is_one_of_the_specs(charts):
    chart = charts["saving"]
    bound, saving, loads, plan = draw(chart)["data"]
    assert _unpacked(bound["y"]).tolist() == list(chart.bound)
    assert _unpacked(saving["y"]).tolist() == list(chart.saving)
    assert (loads["x"], loads["y"]) == ([m.hours for m in chart.marks], [m.saving for m in chart.marks])
    assert (plan["x"], plan["y"]) == ([chart.chosen.hours], [chart.chosen.saving])


def test_curves_and_points_are_told_apart_without_colour(charts):
    """By stroke and by sign, each named in the legend."""
    figure = draw(charts["saving"])
    assert figure["layout"]["showlegend"]
    assert len({one["name"] for one in figure["data"]}) == 4
    strokes = [one["line"].get("dash", "solid") for one in figure["data"] if one["mode"] == "lines"]
    signs = [one["marker"]["symbol"] for one in figure["data"] if "markers" in one["mode"]]
    assert (len(set(strokes)), len(set(signs))) == (2, 2)


@pytest.mark.parametrize("name", ["saving", "loads", "shifts"])
def test_axes_and_hovers_say_their_units(charts, name):
    figure = draw(charts[name])
    words = str(figure["layout"])
    for unit in {"saving": ["EUR a year", "h a year"], "loads": ["EUR a year", "staffed h"], "shifts": ["EUR"]}[name]:
        assert unit in words
    for trace in figure["data"]:
        assert "EUR" in trace["hovertemplate"] or "staffed h" in trace["hovertemplate"]


@pytest.mark.parametrize("name", ["saving", "loads", "shifts"])
def test_the_numbers_behind_a_chart_can_be_taken_away_with_their_units(charts, name):
    head, *rows = csv.reader(io.StringIO(as_csv(charts[name])))
    assert any("EUR" in heading for heading in head)
    assert all(len(row) == len(head) for row in rows)
    assert not [cell for row in rows for cell in row if cell in ("nan", "inf", "None")]


@pytest.mark.parametrize(
    ("saving", "heading", "label"),
    [
        (99_000.0, "Saving, EUR a year", "99,000"),
        (483_543.0, "Saving, thousand EUR a year", "484"),
        (2.5e8, "Saving, million EUR a year", "250"),
    ],
)
def test_large_amounts_are_shown_in_thousands_or_millions_and_the_heading_says_so(plan, saving, heading, label):
    """Four bars leave no room for seven digits each."""
    loads = tuple(row._replace(saving=saving) for row in plan.loads)
    panel = book_charts(replace(plan, loads=loads))["loads"].panels[0]
    assert (panel.heading, panel.labels[0]) == (heading, label)


def test_a_wait_without_end_is_hatched_and_named_instead_of_drawn_to_scale(plan):
    loads = (*plan.loads[:3], plan.loads[3]._replace(wait_h=float("inf")))
    chart = book_charts(replace(plan, loads=loads))["loads"]
    assert chart.panels[1].values[3] is None
    bars = draw(chart)["data"][1]
    assert bars["marker"]["pattern"]["shape"][3] == "/"
    assert "no end" in bars["text"][3]
    assert "without end" in as_csv(chart)


def test_what_is_below_zero_is_hatched_and_stays_on_the_chart():
    chart = PanelChart("t", "c", ("a", "b"), (Panel("worth", "EUR", (-50.0, 20.0), ("-50", "20")),), "s.")
    figure = draw(chart)
    assert figure["data"][0]["marker"]["pattern"]["shape"] == ["/", ""]
    low, high = figure["layout"]["yaxis"]["range"]
    assert low < -50
    assert high > 20


def test_without_the_price_of_the_line_shifts_show_their_saving_alone():
    """The table of assumptions has no price of a line: a plant that gives none is told what it can be told."""
    bare = {name: value for name, value in PLANT.values.items() if not name.startswith("line_capital.purchase")}
    plan = plan_book(TABLE, Layer("bare", bare), limits=Limits(50.0, by_month=False))
    assert plan.investment is None
    assert [panel.title for panel in book_charts(plan)["shifts"].panels] == ["Cash saving"]


def test_labels_are_written_the_readers_way(plan):
    """The pen writes names like all texts: one that came in German already would be turned back to 1,600."""
    figure = draw(book_charts(plan, GERMAN)["shifts"], "dark", GERMAN)
    assert figure["data"][0]["x"][0] == "1 shift<br>1.600 h"
    assert figure["layout"]["separators"] == ",."
