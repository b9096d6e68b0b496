"""The pen for files: true size, well-formed whatever a layer is called, kinds told apart without colour."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from lxml import etree

from compare.geometry.line_kinds import ALL_KINDS, SHEET_EDGE, UNMAPPED, pen_of
from compare.present.charts import Mark, OutlineChart
from compare.present.svg_pen import svg_of
from compare.readers.svg import read_svg

SVG = "{http://www.w3.org/2000/svg}"
NASTY = "<b>&\"'</title><script>"
CHART = OutlineChart(
    "box.dxf, 60 x 40 mm",
    {"cutting": (((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 0.0)),), "creasing": (((0.0, 20.0), (60.0, 20.0)),)},
    (60.0, 40.0),
    "Two kinds of line.",
    marks=(Mark(60.0, 40.0, 3, "An open end."),),
)


def _tree(chart: OutlineChart = CHART):
    return etree.fromstring(svg_of(chart).encode())


def _groups(tree) -> dict[str, object]:
    """Lines and marks by their titles."""
    return {group.find(f"{SVG}title").text: group for group in tree.iter(f"{SVG}g")}


@pytest.mark.parametrize("name", [NASTY, "Möbel ✂", "a\x00b\x1fc", "\ud800"])
def test_any_name_of_a_layer_or_file_leaves_the_file_well_formed(name):
    """Names come from files of strangers; control characters may not stand in an XML at all."""
    chart = replace(CHART, title=name, summary=name, marks=(Mark(1.0, 1.0, 1, name),))
    tree = etree.fromstring(svg_of(chart).encode("utf-8"))
    assert tree.tag == f"{SVG}svg"


def test_a_name_with_the_signs_of_xml_is_shown_as_it_is():
    tree = _tree(replace(CHART, title=NASTY, summary=NASTY, marks=(Mark(1.0, 1.0, 7, NASTY),)))
    assert (tree.find(f"{SVG}title").text, tree.find(f"{SVG}desc").text) == (NASTY, NASTY)
    assert f"7: {NASTY}" in _groups(tree)
    assert {element.tag.removeprefix(SVG) for element in tree.iter()} <= {
        "svg", "title", "desc", "rect", "g", "path", "text", "circle"
    }  # fmt: skip


def test_a_millimetre_is_a_millimetre():
    """Printed, it can be laid on the carton."""
    tree = _tree()
    _, _, width, height = map(float, tree.get("viewBox").split())
    assert (tree.get("width"), tree.get("height")) == (f"{width:.3f}mm", f"{height:.3f}mm")


def test_every_point_lies_within_the_page_marks_too():
    left, top, width, height = map(float, _tree().get("viewBox").split())
    points = [p for lines in CHART.lines.values() for line in lines for p in line]
    assert all(left < x < left + width and top < -y < top + height for x, y in points)
    assert left < CHART.marks[0].x < left + width


def test_the_lines_are_those_of_the_chart_the_right_way_up():
    """Upwards in a drawing is downwards in an SVG."""
    group = _groups(_tree())[pen_of("cutting").label]
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", group.find(f"{SVG}path").get("d"))]
    assert list(zip(numbers[::2], numbers[1::2], strict=True)) == [(0, 0), (60, 0), (60, -40), (0, 0)]


def test_our_own_reader_reads_the_picture_back(tmp_path):
    """Derived: 60 + 40 + sqrt(60 x 60 + 40 x 40) of cutting; the picture is a drawing itself."""
    path = tmp_path / "picture.svg"
    path.write_text(svg_of(replace(CHART, lines={"cutting": CHART.lines["cutting"]}, marks=())), encoding="utf-8")
    drawing = read_svg(path)
    longest = max(drawing.strokes.lengths())
    assert (drawing.unit, longest) == ("mm", pytest.approx(5200**0.5, rel=1e-6))


def test_kinds_differ_by_their_stroke_not_only_by_colour():
    """A print in black must do."""
    lines = dict.fromkeys((*ALL_KINDS, UNMAPPED, SHEET_EDGE), (((0.0, 0.0), (1.0, 0.0)),))
    tree = _tree(replace(CHART, lines=lines, marks=()))
    looks = [
        (path.get("stroke-dasharray"), path.get("stroke-width"))
        for group in tree.iter(f"{SVG}g")
        for path in group.iter(f"{SVG}path")
    ]
    assert len(set(looks)) == len(looks) == len(lines)


def test_the_legend_names_every_kind_that_is_drawn():
    texts = {text.text for text in _tree().iter(f"{SVG}text")}
    assert {pen_of("cutting").label, pen_of("creasing").label} <= texts


def test_a_mark_has_its_place_its_number_and_its_words():
    group = _groups(_tree())["3: An open end."]
    circle = group.find(f"{SVG}circle")
    assert (float(circle.get("cx")), float(circle.get("cy")), group.find(f"{SVG}text").text) == (60, -40, "3")


def test_a_chart_of_nothing_is_a_page_of_nothing():
    tree = _tree(OutlineChart("empty", {}, (0.0, 0.0), "Nothing."))
    assert float(tree.get("viewBox").split()[2]) > 0
