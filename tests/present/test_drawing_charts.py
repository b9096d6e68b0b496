"""Pictures of drawings: they hold the lines that were measured, and the places that are spoken of."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from drawn_lines import box, circle, strokes_of
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import FEW
from shapely.geometry import Polygon

from compare.errors import Finding
from compare.geometry.line_kinds import SHEET_EDGE, UNMAPPED
from compare.geometry.sheet_layout import place_blanks
from compare.present.drawing_charts import drawing_chart, polylines, sheet_chart
from compare.readers.drawn_carton import drawn_carton
from compare.readers.line_map import LineMap, Rule

LINES = LineMap("test", (Rule("cutting", layer="cutting"), Rule("creasing", layer="creasing")))

S_CURVE = ("cubic", 0, 0, 30, 0, 10, 40, 40, 40)


def _carton(*pieces, layers=None):
    return drawn_carton(strokes_of(*pieces, layers=layers), "box.dxf", LINES)


def _length(chains) -> float:
    return sum(math.dist(a, b) for chain in chains for a, b in pairwise(chain))


# -- chains -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pieces", [box(0, 0, 60, 40), [circle(0, 0, 20)], [S_CURVE], [(0, 0, 3, 4), circle(9, 9, 2)]])
def test_chains_are_as_long_as_the_lines(pieces):
    """A picture shows what is measured; chords within 1e-4 mm lose less than a hundredth of a per cent."""
    strokes = strokes_of(*pieces).strokes
    assert _length(polylines(strokes, 1e-4)) == pytest.approx(strokes.lengths().sum(), rel=1e-4)


@FEW
@given(st.floats(1e-3, 1.0))
def test_a_chain_keeps_within_its_tolerance(tolerance):
    (chain,) = polylines(strokes_of(circle(0, 0, 20)).strokes, tolerance)
    for (ax, ay), (bx, by) in pairwise(chain):
        assert 20 - tolerance - 1e-4 <= math.hypot((ax + bx) / 2, (ay + by) / 2) <= 20 + 1e-4


def test_strokes_that_meet_stay_apart_where_the_pen_was_lifted():
    """Each side of the box is a stroke of its own."""
    assert len(polylines(strokes_of(*box(0, 0, 10, 10)).strokes, 0.01)) == 4


def test_no_strokes_are_no_chains():
    nothing = strokes_of((0, 0, 1, 1)).strokes
    assert polylines(nothing.chosen(nothing.group == 7), 0.01) == ()


# -- the drawing ------------------------------------------------------------------------------------------------------


def test_the_lines_of_each_kind_are_there_and_those_of_none_apart():
    layers = ["cutting"] * 4 + ["creasing", "notes"]
    chart = drawing_chart(_carton(*box(0, 0, 60, 40), (0, 20, 60, 20), (5, 5, 15, 5), layers=layers))
    lengths = {kind: _length(chains) for kind, chains in chart.lines.items()}
    assert lengths == pytest.approx({"cutting": 200, "creasing": 60, UNMAPPED: 10})


def test_two_layers_of_one_kind_are_one_entry_of_the_legend():
    rules = LineMap("test", (Rule("cutting", layer="cutting"), Rule("cutting", layer="windows")))
    pieces = [*box(0, 0, 60, 40), circle(30, 20, 5)]
    drawing = strokes_of(*pieces, layers=["cutting"] * 4 + ["windows"])
    assert list(drawing_chart(drawn_carton(drawing, "box.dxf", rules)).lines) == ["cutting"]


def test_a_drawing_in_inches_is_shown_in_millimetres():
    """So are the places of its findings."""
    drawing = replace(strokes_of(*box(0, 0, 2, 1)), unit="in", mm_per_unit=25.4)
    chart = drawing_chart(drawn_carton(drawing, "box.dxf", LINES))
    assert (chart.size_mm, _length(chart.lines["cutting"])) == (pytest.approx((50.8, 25.4)), pytest.approx(152.4))


def test_title_and_words_name_the_file_its_size_and_its_lengths():
    chart = drawing_chart(_carton(*box(0, 0, 1060, 40)))
    assert chart.title == "box.dxf, 1,060 x 40 mm"
    assert chart.summary == "box.dxf, 1,060 x 40 mm; 2.200 m cutting."


def test_a_drawing_that_nobody_has_mapped_says_so():
    assert drawing_chart(_carton((0, 0, 9, 9), layers=["notes"])).summary.endswith("; no line is mapped yet.")


def test_every_place_is_marked_with_the_number_and_the_words_of_its_finding():
    """The list beside the picture has the same numbers; a finding without a place keeps its number."""
    told = (
        Finding("a", "First."),
        Finding("b", "Second.", at=((1.0, 2.0), (3.0, 4.0))),
        Finding("c", "Third.", at=((5.0, 6.0),)),
    )
    chart = drawing_chart(_carton(*box(0, 0, 60, 40)), told)
    assert [tuple(mark) for mark in chart.marks] == [
        (1.0, 2.0, 2, "Second."),
        (3.0, 4.0, 2, "Second."),
        (5.0, 6.0, 3, "Third."),
    ]


def test_an_open_end_is_marked_where_it_is():
    carton = _carton(*box(0, 0, 60, 40), (60, 40, 70, 40))
    (number,) = [n for n, found in enumerate(carton.findings, start=1) if found.code == "drawing.open_end"]
    assert [(mark.x, mark.y) for mark in drawing_chart(carton).marks if mark.number == number] == [(70.0, 40.0)]


# -- the sheet --------------------------------------------------------------------------------------------------------

ELL = ((0.0, 0.0), (60.0, 0.0), (60.0, 30.0), (30.0, 30.0), (30.0, 60.0), (0.0, 60.0))
MARGINS = {"gripper_mm": 12, "side_margin_mm": 8, "tail_margin_mm": 8, "gutter_mm": 4}


def test_the_sheet_shows_its_edge_and_every_blank_where_it_lies():
    layout = place_blanks(ELL, 400, 300, **MARGINS)
    chart = sheet_chart(ELL, layout, (400, 300), "die")
    (edge,) = chart.lines[SHEET_EDGE]
    blanks = [Polygon(ring) for ring in chart.lines["cutting"]]
    assert Polygon(edge).bounds == (0, 0, 400, 300)
    assert len(blanks) == layout.ups > 0
    assert [blank.area for blank in blanks] == pytest.approx([Polygon(ELL).area] * layout.ups, rel=1e-4)
    assert all(Polygon(edge).contains(blank) for blank in blanks)


def test_the_sheet_says_route_ups_use_and_pattern():
    layout = place_blanks(ELL, 400, 300, **MARGINS)
    title = sheet_chart(ELL, layout, (400, 300), "laser").title
    share = layout.ups * 2700 / (400 * 300)
    assert title == f"Sheet of the laser: {layout.ups} ups, {share:.0%} of the sheet, {layout.pattern}"
