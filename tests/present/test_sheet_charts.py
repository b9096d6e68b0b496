"""Charts of a sheet on the laser line: what they show adds up, and a picture can be played from what it holds."""

from __future__ import annotations

import csv
import io
import json
from itertools import pairwise

import plotly.graph_objects as go
import pytest

from compare import Layer, prepare
from compare.present.charts import as_csv
from compare.present.look import PALETTES
from compare.present.numbers import NumberStyle
from compare.present.sheet_charts import HeadDrawn, HeadStroke, PathChart, no_path, path_chart, seconds_chart
from compare.present.sheet_pen import draw_path, draw_seconds, head_dash, head_tone, jumps, slower

GERMAN = NumberStyle(",", ".")
CARTON = {
    "carton.style": "straight_tuck_end",
    "carton.length_mm": 75.0,
    "carton.width_mm": 40.0,
    "carton.height_mm": 120.0,
    "board.grade": "solid_bleached_300",
    "demand.run_length": 20_000.0,
    "sheet.width_mm": 1020.0,
    "sheet.length_mm": 720.0,
}


def _scenario(**values):
    return prepare(Layer("test", {**CARTON, **{name.replace("__", "."): value for name, value in values.items()}}))


@pytest.fixture(scope="module")
def planned():
    return _scenario()


@pytest.fixture(scope="module")
def path(planned):
    return path_chart(planned)


# -- seconds ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("values", [{}, {"laser__motion": "axes"}, {"laser__path": "estimated"}, {"laser__heads": 1.0}])
def test_parts_of_the_seconds_add_up_to_the_time_from_sheet_to_sheet(values):
    """A bar that is explained must not leave a rest; sums of doubles, so to nine digits."""
    chart = seconds_chart(_scenario(**values))
    assert sum(part.seconds for part in chart.parts) == pytest.approx(chart.total, rel=1e-9)
    assert all(part.because for part in chart.parts)


def test_each_bar_begins_where_the_one_before_it_ends(planned):
    chart = seconds_chart(planned)
    (bars,) = draw_seconds(chart)["data"]
    *parts, total = zip(bars["base"], bars["x"], strict=True)
    assert parts[0][0] == 0
    for (start, length), (following, _) in pairwise(parts):
        assert following == pytest.approx(start + length, rel=1e-12)
    assert total == (0.0, chart.total)


def test_every_part_is_labelled_with_its_seconds_in_the_readers_way(planned):
    chart = seconds_chart(planned)
    figure = draw_seconds(chart, style=GERMAN)
    said = {note["y"]: note["text"] for note in figure["layout"]["annotations"]}
    for part in chart.parts:
        assert said[part.label] == f"{part.seconds:.4f}".replace(".", ",")


def test_seconds_as_csv_hold_every_part_with_its_reason(planned):
    chart = seconds_chart(planned)
    header, *rows = csv.reader(io.StringIO(as_csv(chart)))
    assert header == ["part", "seconds per sheet, mean over the heads", "because"]
    assert [row[0] for row in rows] == [*(part.label for part in chart.parts), "from sheet to sheet"]
    assert float(rows[-1][1]) == chart.total


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_figures_of_a_sheet_are_ones_that_plotly_knows(planned, path, scheme):
    """Plotly's Python package checks each property by name and kind; the browser's would ignore a slip."""
    for figure in (draw_seconds(seconds_chart(planned), scheme, GERMAN), draw_path(path, scheme, GERMAN)):
        assert go.Figure(figure).to_dict()["data"]
        json.dumps(figure, allow_nan=False)


# -- the path ---------------------------------------------------------------------------------------------------------


def test_the_path_holds_every_stroke_of_every_head_in_the_order_run(planned, path):
    assert [head.number for head in path.heads] == [1, 2, 3, 4]
    for drawn, head in zip(path.heads, planned.toolpath.heads, strict=True):
        assert [s.length_mm for s in drawn.strokes] == pytest.approx([t.length_mm for t in head.trails])
        assert [s.points[0] for s in drawn.strokes] == [tuple(t.points[0].round(2)) for t in head.trails]
        assert [s.points[-1] for s in drawn.strokes] == [tuple(t.points[-1].round(2)) for t in head.trails]


def test_strokes_of_a_head_follow_one_another_and_the_last_ends_with_the_sheet(path):
    for head in path.heads:
        times = [moment for stroke in head.strokes for moment in (stroke.start_s, stroke.end_s)]
        assert times == sorted(times)
        assert times[-1] <= path.cutting_s


def test_a_picture_is_no_finer_than_an_eye_and_keeps_its_corners(path):
    """Half a pixel of a sheet 2,000 px wide; the corners of a straight carton are farther apart than that."""
    for head in path.heads:
        for stroke in head.strokes:
            drawn = sum(((x - a) ** 2 + (y - b) ** 2) ** 0.5 for (a, b), (x, y) in pairwise(stroke.points))
            assert drawn == pytest.approx(stroke.length_mm, rel=2e-3)


def test_the_figure_holds_what_playing_needs(path):
    """The browser cuts lines where there is a gap: as many strokes as there are seconds, head by head."""
    figure = draw_path(path)
    meta = figure["layout"]["meta"]
    assert meta["total_s"] == path.cutting_s
    to_mark = [trace for trace in figure["data"] if trace.get("meta", {}).get("role") == "to mark"]
    for trace, head, times in zip(to_mark, path.heads, meta["heads"], strict=True):
        assert trace["x"].count(None) + 1 == trace["y"].count(None) + 1 == len(head.strokes)
        assert times["start"] == [s.start_s for s in head.strokes]
        assert times["end"] == [s.end_s for s in head.strokes]
    roles = [(trace["meta"]["role"], trace["meta"]["head"]) for trace in figure["data"] if "meta" in trace]
    assert sorted(roles) == sorted((role, head.number) for role in ("to mark", "marked", "here") for head in path.heads)


def test_a_jump_leads_from_each_stroke_to_the_next_and_from_the_sheet_before(path):
    """Sheet follows sheet: the first jump of a head comes from where it ended."""
    for head in path.heads:
        lines = jumps(head)
        assert lines[0] == (head.strokes[-1].points[-1], head.strokes[0].points[0])
        starts = {stroke.points[0] for stroke in head.strokes}
        assert {end for _, end in lines} <= starts


def test_the_path_as_csv_names_units_and_has_a_row_for_every_stroke(path):
    header, *rows = csv.reader(io.StringIO(as_csv(path)))
    assert all(cell.endswith((", mm", ", s")) for cell in header[3:])
    assert len(rows) == sum(len(head.strokes) for head in path.heads)


def test_a_head_with_nothing_to_do_has_no_dot_and_no_start():
    """Its field lies beyond a small sheet; the picture must still be one that plotly knows."""
    square = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0))
    busy = HeadDrawn(1, (0.0, 0.0, 10.0, 10.0), (HeadStroke("cutting", square, 20.0, 0.0, 0.1, 0.5),))
    chart = PathChart("sheet", (10.0, 10.0), (busy, HeadDrawn(2, None, ())), 0.5, "sheet")
    figure = draw_path(chart)
    assert go.Figure(figure)
    idle = [trace for trace in figure["data"] if trace.get("meta", {}).get("head") == 2]
    assert [trace["x"] for trace in idle] == [[], [], []]
    assert [note["text"] for note in figure["layout"]["annotations"]] == ["<b>head 1</b>"]


@pytest.mark.parametrize(("seconds", "times"), [(0.02, 500), (0.96, 10), (7.2, 2), (8.0, 1), (90.0, 1), (0.0, 1000)])
def test_a_sheet_is_played_so_slowly_that_an_eye_can_follow(seconds, times):
    """Eight seconds at least, in round steps."""
    assert slower(seconds) == times


# -- why there is none ------------------------------------------------------------------------------------------------


def test_a_planned_path_needs_no_reason(planned):
    assert no_path(planned) == ""


def test_an_estimate_that_was_asked_for_says_so():
    scenario = _scenario(laser__path="estimated")
    assert path_chart(scenario) is None
    assert "as was asked for" in no_path(scenario)


def test_an_estimate_for_want_of_lines_gives_the_findings_words():
    scenario = _scenario(cutouts__count=2.0, cutouts__length_mm=100.0, cutouts__corners=4.0, cutouts__area_mm2=600.0)
    assert path_chart(scenario) is None
    assert no_path(scenario) in [finding.message for finding in scenario.findings]
    assert "cut-outs" in no_path(scenario)


# -- heads are told apart ---------------------------------------------------------------------------------------------


def test_sixteen_heads_differ_by_tone_or_by_stroke():
    palette = PALETTES["light"]
    looks = {(head_tone(number, palette), head_dash(number, palette)) for number in range(1, 17)}
    assert len(looks) == 16
