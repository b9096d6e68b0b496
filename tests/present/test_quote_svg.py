"""The pens for paper: what is drawn maps back to the spec's numbers, and routes differ by their strokes."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from compare.decide.step_totals import Range
from compare.present.charts import OutlineChart, StageChart, stage_chart
from compare.present.numbers import NumberStyle
from compare.present.quote_shapes import outline_svg, stage_svg
from compare.present.quote_svg import CurveWords, curve_frame, curve_svg, money_ticks

from .quoted import JOBS, content_of, unsure_of

SVG = "{http://www.w3.org/2000/svg}"
SIZE = (178.0, 72.0)
WORDS = CurveWords("6,000 quoted", {name: (name,) for name in ("die", "laser", "even", "changes")})
PLACE_MM = 0.0005
"""Places are written to the thousandth of a millimetre."""


def _chart(job: str = "soap_sleeve"):
    return content_of(job).client.curve.chart


def _tree(svg: str):
    return etree.fromstring(svg.encode())


def _points(tree, name: str) -> list[tuple[float, float]]:
    (path,) = (p for p in tree.iter(f"{SVG}path") if p.get("id") == name)
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d"))]


def _texts(tree) -> list[str]:
    return ["".join(text.itertext()) for text in tree.iter(f"{SVG}text")]


@pytest.mark.parametrize("job", JOBS)
def test_curves_map_back_to_the_numbers_of_the_chart(job):
    """A picture of other figures than the table's would be worse than none."""
    chart = _chart(job)
    frame, tree = curve_frame(chart, *SIZE), _tree(curve_svg(chart, WORDS, *SIZE))
    x_slack = PLACE_MM * math.log(frame.last / frame.first) / (frame.right - frame.left) * 1.01
    y_slack = PLACE_MM * math.log(frame.high / frame.low) / (frame.bottom - frame.top) * 1.01
    for series in chart.series:
        points = _points(tree, f"curve-{series.role}")
        assert [frame.run_length(x) for x, _ in points] == pytest.approx(series.x, rel=x_slack)
        assert [frame.money(y) for _, y in points] == pytest.approx(series.y, rel=y_slack)
    for band in chart.bands:
        ys = [frame.money(y) for _, y in _points(tree, f"band-{band.role}")]
        half = len(ys) // 2
        assert ys[:half] == pytest.approx(band.low, rel=y_slack)
        assert ys[half:][::-1] == pytest.approx(band.high, rel=y_slack)


def test_the_strip_of_shares_maps_back_to_the_share_of_cases():
    chart = _chart()
    points = _points(_tree(curve_svg(chart, WORDS, *SIZE)), "share")
    frame = curve_frame(chart, *SIZE)
    top, height = frame.bottom + 1.0 + 4.2 + 1.0, 6.5
    assert [1 - (y - top) / height for _, y in points] == pytest.approx(chart.laser_cheaper, abs=1e-3)


def test_the_routes_differ_by_their_strokes_in_grey_print():
    tree = _tree(curve_svg(_chart(), WORDS, *SIZE))
    dash = {path.get("id"): path.get("stroke-dasharray") for path in tree.iter(f"{SVG}path") if path.get("id")}
    assert dash["curve-die"] is None
    assert dash["curve-laser"] is not None


@pytest.mark.parametrize("job", JOBS)
def test_everything_drawn_lies_on_the_picture(job):
    tree = _tree(curve_svg(_chart(job), WORDS, *SIZE))
    for path in tree.iter(f"{SVG}path"):
        for x, y in re.findall(r"[ML ]?(-?[\d.]+) (-?[\d.]+)", path.get("d")):
            assert -0.01 <= float(x) <= SIZE[0] + 0.01
            assert -0.01 <= float(y) <= SIZE[1] + 0.01


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("height", [42.0, 102.0])
def test_the_values_of_both_curves_stand_within_the_axes(job, height):
    """On a low chart the value of the lower curve would run into the strip."""
    chart = _chart(job)
    frame = curve_frame(chart, SIZE[0], height)
    tree = _tree(curve_svg(chart, WORDS, SIZE[0], height))
    labels = [t for t in tree.iter(f"{SVG}text") if t.get("paint-order")]
    assert len(labels) == 2 * len(chart.series)
    for label in labels:
        assert frame.top - 1 <= float(label.get("y")) <= frame.bottom + 0.2


def test_ticks_are_one_two_five_in_the_readers_numbers():
    style = NumberStyle(",", ".")
    texts = _texts(_tree(curve_svg(_chart(), WORDS, *SIZE, style)))
    assert {"200", "500", "1.000", "2.000", "5.000", "10.000", "100.000"} <= set(texts)


@given(st.floats(0.01, 1e6), st.floats(1.02, 1e4))
def test_an_axis_has_ticks_within_it_however_short_it_is(low, ratio):
    ticks = money_ticks(low, low * ratio)
    assert 2 <= len(ticks) <= 13
    assert all(low * (1 - 1e-9) <= tick <= low * ratio * (1 + 1e-9) for tick in ticks)
    assert list(ticks) == sorted(set(ticks))


def test_a_flicker_from_sheet_to_sheet_is_one_stretch():
    ranges = tuple(Range(100 * k + 1, 100 * k + 100, ("laser", "die")[k % 2]) for k in range(20))
    chart = replace(_chart(), ranges=ranges)
    assert chart.stretches() == [(1, 100, "laser"), (101, 1900, "changes"), (1901, 2000, "die")]


def test_the_longest_words_that_fit_a_stretch_are_written_and_none_where_none_fit():
    chart = replace(_chart(), ranges=(Range(200, 400_000, "laser"), Range(400_001, 500_000, "die")))
    words = replace(
        WORDS, stretches={**WORDS.stretches, "laser": ("x" * 200, "laser cheaper"), "die": ("die cheaper",)}
    )
    texts = _texts(_tree(curve_svg(chart, words, *SIZE)))
    assert "laser cheaper" in texts
    assert "die cheaper" not in texts


@pytest.mark.parametrize("text", ["<b>&\"'</text><script>", "a\x00b", "\ud800", "中文"])
def test_any_words_leave_the_picture_well_formed(text):
    chart = replace(_chart(), title=text, summary=text)
    tree = etree.fromstring(curve_svg(chart, replace(WORDS, quoted=text), *SIZE).encode("utf-8"))
    assert not list(tree.iter(f"{SVG}script"))


@pytest.mark.parametrize("size", [(400.0, 10.0), (10.0, 400.0), (100.0, 100.0)])
def test_a_carton_of_any_proportion_fits_its_place(size):
    width, height = size
    box = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height), (0.0, 0.0))
    chart = OutlineChart("t", {"cutting": (box,)}, size, "s")
    tree = _tree(outline_svg(chart, {"cutting": "cutting"}, ("w", "h"), 66.0, 42.0))
    assert float(tree.get("height").removesuffix("mm")) <= 42.01
    points = [
        (float(x), float(y))
        for p in tree.iter(f"{SVG}path")
        for x, y in re.findall(r"[ML ]([\d.]+) ([\d.]+)", p.get("d"))
    ]
    assert max(x for x, _ in points) <= 66.01
    assert max(y for _, y in points) <= 42.01


def test_a_carton_keeps_its_proportions():
    outline = content_of("soap_sleeve").client.outline
    tree = _tree(outline_svg(outline.chart, outline.legend, outline.sizes, 66.0, 42.0))
    first = next(tree.iter(f"{SVG}path"))
    xs, ys = zip(*((float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", first.get("d"))), strict=True)
    assert (max(xs) - min(xs)) / (max(ys) - min(ys)) == pytest.approx(255 / 60, rel=1e-3)


def test_bars_of_stages_are_as_long_as_their_money():
    chart = stage_chart(unsure_of("soap_sleeve").comparison)
    tree = _tree(stage_svg(chart, {"die": "die", "laser": "laser"}, 82.0))
    bars = [float(r.get("width")) for r in tree.iter(f"{SVG}rect") if r.get("height") == "5.0"]
    money = [value for values in chart.values.values() for value in values]
    scale = sum(bars) / sum(money)
    assert bars == pytest.approx([value * scale for value in money], abs=2e-3)


def test_waste_that_is_sold_for_more_than_is_spoiled_stands_left_of_nothing():
    chart = StageChart("t", "EUR", ("tooling", "waste"), ("tooling", "waste"), {"die": (10.0, -5.0)}, "s")
    tree = _tree(stage_svg(chart, {"die": "die"}, 82.0))
    tooling, waste = (r for r in tree.iter(f"{SVG}rect") if r.get("height") == "5.0")
    assert float(waste.get("x")) + float(waste.get("width")) == pytest.approx(float(tooling.get("x")), abs=2e-3)
