"""The pen for the screen: a figure is valid, carries the numbers of its spec, and says their units."""

from __future__ import annotations

import json
import math
import re

import plotly.graph_objects as go
import pytest
from packed import unpacked

from compare import compare
from compare.geometry.line_kinds import LINE_PENS
from compare.present import charts
from compare.present.look import PALETTES, ROUTE_DASH
from compare.present.numbers import NumberStyle, figures, whole
from compare.present.plotly_pen import draw

GERMAN = NumberStyle(",", ".")


def _specs(c):
    possible = {
        "curves": charts.break_even_chart(c) if c.die.feasible or c.laser.feasible else None,
        "stages": charts.stage_chart(c) if c.die.feasible or c.laser.feasible else None,
        "map": charts.advantage_map(c),
        "outline": charts.outline_chart(c.scenario.blank) if c.scenario.blank else None,
    }
    return {name: spec for name, spec in possible.items() if spec}


@pytest.fixture(scope="module")
def specs(load):
    return _specs(compare(load("chocolate_crash_lock")))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_figure_of_every_demo_job_is_one_that_plotly_knows(load, demo_job, scheme):
    """Plotly's Python package checks each property by name and kind; the browser's would ignore a slip."""
    for name, spec in _specs(compare(load(demo_job))).items():
        figure = draw(spec, scheme, GERMAN)
        assert go.Figure(figure).to_dict()["data"], name
        json.dumps(figure, allow_nan=False)


def test_curves_carry_the_numbers_of_their_spec_to_the_last_digit(specs):
    figure = draw(specs["curves"])
    curves = [trace for trace in figure["data"] if trace["type"] == "scatter" and trace["mode"] == "lines"]
    for trace, series in zip(curves, specs["curves"].series, strict=True):
        assert trace["name"] == series.label
        assert unpacked(trace["x"]).tolist() == list(series.x)
        assert unpacked(trace["y"]).tolist() == list(series.y)


def test_curves_are_told_apart_by_colour_and_by_stroke(specs):
    for scheme, palette in PALETTES.items():
        curves = [t for t in draw(specs["curves"], scheme)["data"] if t["type"] == "scatter" and t["mode"] == "lines"]
        assert [t["line"]["color"] for t in curves] == [palette.die, palette.laser]
        assert [t["line"]["dash"] for t in curves] == [ROUTE_DASH["die"], ROUTE_DASH["laser"]]


def test_curves_are_named_beside_them_in_their_own_colour(specs):
    figure = draw(specs["curves"])
    labels = {a["text"]: a for a in figure["layout"]["annotations"]}
    for series, colour in zip(specs["curves"].series, (PALETTES["light"].die, PALETTES["light"].laser), strict=True):
        assert labels[series.label]["font"]["color"] == colour
    assert figure["layout"]["showlegend"] is False


def test_both_axes_of_the_curves_are_logarithmic_with_their_unit(specs):
    layout = draw(specs["curves"])["layout"]
    assert (layout["xaxis"]["type"], layout["yaxis"]["type"]) == ("log", "log")
    assert layout["xaxis"]["title"]["text"] == "Run length, cartons per order"
    assert layout["yaxis"]["title"]["text"] == "Cost, EUR per 1,000 good cartons"


def test_every_point_of_a_curve_lies_within_the_axes(specs):
    layout = draw(specs["curves"])["layout"]
    low, high = layout["yaxis"]["range"]
    for series in specs["curves"].series:
        assert all(low <= math.log10(y) <= high for y in series.y)


def test_the_quoted_run_length_is_marked_where_it_is(specs):
    layout = draw(specs["curves"], style=GERMAN)["layout"]
    (line,) = [shape for shape in layout["shapes"] if shape["type"] == "line"]
    assert line["x0"] == line["x1"] == specs["curves"].quoted
    mark = next(a for a in layout["annotations"] if "quoted" in a["text"])
    assert mark["text"] == f"{whole(specs['curves'].quoted, GERMAN)} quoted"
    assert mark["x"] == pytest.approx(math.log10(specs["curves"].quoted))


def test_the_strip_covers_the_axis_with_the_ranges_of_the_spec(specs):
    strip = [trace for trace in draw(specs["curves"])["data"] if trace["type"] == "bar"]
    assert [(t["base"][0], t["base"][0] + t["x"][0] - 1) for t in strip] == [
        (r.start, r.end) for r in specs["curves"].ranges
    ]
    colours = {"die": PALETTES["light"].die, "laser": PALETTES["light"].laser}
    for trace, found in zip(strip, specs["curves"].ranges, strict=True):
        assert trace["marker"]["color"] == colours[found.lowest]
        assert f"{found.lowest} cheaper" in trace["hovertemplate"]


def test_many_changes_from_sheet_to_sheet_are_drawn_as_one_hatched_stretch(specs):
    from dataclasses import replace

    from compare.decide.step_totals import Range

    flicker = tuple(Range(100 * k, 100 * k + 99, ("die", "laser")[k % 2]) for k in range(1, 31))
    strip = [t for t in draw(replace(specs["curves"], ranges=flicker))["data"] if t["type"] == "bar"]
    assert len(strip) == 3
    assert strip[1]["marker"]["pattern"]["shape"] == "/"
    assert (strip[1]["base"][0], strip[1]["base"][0] + strip[1]["x"][0] - 1) == (200, 2999)


def test_bars_carry_the_numbers_of_their_spec(specs):
    figure, spec = draw(specs["stages"]), specs["stages"]
    for index, trace in enumerate(figure["data"]):
        assert trace["name"] == spec.labels[index]
        assert dict(zip(trace["y"], trace["x"], strict=True)) == {r: spec.values[r][index] for r in spec.values}
    written = " ".join(a["text"] for a in figure["layout"]["annotations"])
    for values in spec.values.values():
        assert figures(sum(values)) in written


def test_the_map_carries_the_numbers_of_its_spec(specs):
    figure, spec = draw(specs["map"]), specs["map"]
    (heat,) = figure["data"]
    for row, shares in zip(unpacked(heat["z"]), spec.share, strict=True):
        for shade, share in zip(row, shares, strict=True):
            assert math.isnan(shade) if share is None else math.copysign(shade**2, shade) == pytest.approx(share, 1e-6)
    for texts, row in zip(heat["text"], spec.advantage, strict=True):
        for text, gap in zip(texts, row, strict=True):
            assert text == f"{'laser' if gap > 0 else 'die'}<br>{figures(abs(gap), 2)}"
    assert heat["x"] == [whole(q) for q in spec.run_lengths]
    assert heat["y"] == [whole(v) for v in spec.versions]
    assert figure["layout"]["xaxis"]["type"] == "category"  # "2,000" is a name here, not a number


def test_the_map_says_in_words_which_route_is_cheaper_so_that_colour_is_not_needed(specs):
    (heat,) = draw(specs["map"])["data"]
    for texts, gaps in zip(heat["customdata"], specs["map"].advantage, strict=True):
        for text, gap in zip(texts, gaps, strict=True):
            assert text.startswith("laser ") == (gap > 0)


def test_the_outline_carries_every_point_and_kinds_differ_by_stroke(specs):
    figure, spec = draw(specs["outline"]), specs["outline"]
    assert [t["name"] for t in figure["data"]] == [LINE_PENS[kind].label for kind in spec.lines]
    for trace, lines in zip(figure["data"], spec.lines.values(), strict=True):
        points = [p for p in zip(trace["x"], trace["y"], strict=True) if p != (None, None)]
        assert points == [tuple(point) for line in lines for point in line]
    assert len({t["line"]["dash"] for t in figure["data"]}) == len(figure["data"])
    assert figure["layout"]["yaxis"]["scaleanchor"] == "x"  # a drawing that is not to scale misleads
    assert figure["layout"]["showlegend"] is True


def test_every_trace_says_its_unit_when_it_is_pointed_at(specs):
    units = {
        "curves": "per 1,000|cartons per order",
        "stages": "EUR per 1,000",
        "map": "EUR per 1,000",
        "outline": " mm",
    }
    for name, spec in specs.items():
        for trace in draw(spec)["data"]:
            if trace.get("hoverinfo") != "skip":
                assert re.search(units[name], trace["hovertemplate"]), (name, trace["name"])


def test_a_german_reader_finds_no_english_thousand(specs):
    """1,234 is one and a bit in German; a comma between digits may only be a decimal one."""
    for spec in specs.values():
        text = json.dumps(draw(spec, "light", GERMAN), ensure_ascii=False)
        for outside_formats in re.sub(r"%\{[^}]*\}", "", text).split('"'):
            assert not re.search(r"\b\d{1,3},000\b", outside_formats), outside_formats
    assert draw(specs["curves"], "light", GERMAN)["layout"]["separators"] == ",."


def test_a_figure_is_small_enough_to_travel_with_every_change(specs):
    """160 points a curve are enough for the eye; the four figures together stay below 80 kB as JSON."""
    assert sum(len(json.dumps(draw(spec))) for spec in specs.values()) < 80_000


def test_the_outline_is_read_off_in_the_units_of_its_chart_and_the_readers_way(load):
    """A reader in inches wants thousandths where one in millimetres wants tenths."""
    blank = load("chocolate_crash_lock").blank
    for inches, said in ((False, "%{x:.1f}, %{y:.1f} mm"), (True, "%{x:.3f}, %{y:.3f} in")):
        figure = draw(charts.outline_chart(blank, inches=inches), style=GERMAN)
        assert all(said in line["hovertemplate"] for line in figure["data"])
        assert figure["layout"]["separators"] == ",."


def test_the_bars_of_the_stages_say_their_unit_on_their_axis(specs):
    """A picture of the chart is taken without the card's title."""
    assert draw(specs["stages"])["layout"]["xaxis"]["title"]["text"] == specs["stages"].unit
