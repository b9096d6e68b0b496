"""The pen for what is uncertain: bands and chances carry their numbers, and a tornado says what stands at either end."""

from __future__ import annotations

import json
import math
import re

import numpy as np
import plotly.graph_objects as go
import pytest
from packed import unpacked

from compare import compare
from compare.decide.uncertainty import uncertainty
from compare.present import charts
from compare.present.look import PALETTES, ROUTE_DASH
from compare.present.numbers import NumberStyle
from compare.present.plotly_pen import draw
from compare.present.sure_charts import tornado_chart
from compare.present.sure_pen import BAND_WORDS, TORNADO_HEIGHT, draw_tornado, thinned

GERMAN = NumberStyle(",", ".")


@pytest.fixture(scope="module")
def unsure(load):
    c = compare(load("chocolate_crash_lock"))
    return uncertainty(c, draws=1024, run_lengths=charts.chart_grid(c))


@pytest.fixture(scope="module")
def curves(unsure):
    return charts.break_even_chart(unsure.comparison, unsure=unsure)


@pytest.fixture(scope="module")
def tornado(unsure):
    return tornado_chart(unsure)


def _bands(figure):
    return [trace for trace in figure["data"] if trace.get("fill") == "toself"]


def _chances(figure):
    return [trace for trace in figure["data"] if trace.get("yaxis") == "y3"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_figure_is_one_that_plotly_knows(curves, tornado, scheme):
    """Plotly's Python package checks each property by name and kind; the browser's would ignore a slip."""
    for figure in (
        draw(curves, scheme, GERMAN),
        *(draw_tornado(tornado, scheme, GERMAN, by) for by in ("ends", "draws")),
    ):
        assert go.Figure(figure).to_dict()["data"]
        json.dumps(figure, allow_nan=False)


def test_a_band_runs_round_its_p10_and_p90(curves):
    for trace, band in zip(_bands(draw(curves)), curves.bands, strict=True):
        count = len(band.low)
        around = unpacked(trace["y"])
        assert around[:count].tolist() == pytest.approx(list(band.high), rel=1e-6)
        assert around[count:][::-1].tolist() == pytest.approx(list(band.low), rel=1e-6)
        along = unpacked(trace["x"])
        assert along[:count].tolist() == along[count:][::-1].tolist() == pytest.approx(list(curves.series[0].x))


def test_bands_lie_behind_the_lines_and_are_told_apart_by_colour_and_by_stroke(curves):
    for scheme, palette in PALETTES.items():
        data = draw(curves, scheme)["data"]
        bands = _bands({"data": data})
        assert [data.index(band) for band in bands] == [0, 1]
        assert [band["line"]["dash"] for band in bands] == [ROUTE_DASH["die"], ROUTE_DASH["laser"]]
        for band, colour in zip(bands, (palette.die, palette.laser), strict=True):
            assert band["fillcolor"][:-5] == thinned(colour, 0.17)[:-5]


def test_what_is_shaded_is_named_in_words_and_only_where_it_is(curves, unsure):
    texts = [note["text"] for note in draw(curves)["layout"]["annotations"]]
    assert BAND_WORDS in texts
    alone = draw(charts.break_even_chart(unsure.comparison))
    assert BAND_WORDS not in [note["text"] for note in alone["layout"]["annotations"]]
    assert (_bands(alone), _chances(alone)) == ([], [])


def test_axes_do_not_move_when_bands_come(curves, unsure):
    alone, whole = draw(charts.break_even_chart(unsure.comparison))["layout"], draw(curves)["layout"]
    for part in ("xaxis", "yaxis", "yaxis2", "yaxis3", "height", "margin", "shapes"):
        assert alone[part] == whole[part]


def test_pointing_at_a_curve_tells_its_band(curves):
    figure = draw(curves)
    for series, band in zip(curves.series, curves.bands, strict=True):
        (trace,) = [t for t in figure["data"] if t["name"] == series.label and t.get("mode") == "lines"]
        assert "8 cases in 10: %{customdata[0]" in trace["hovertemplate"]
        assert np.allclose(unpacked(trace["customdata"]).T, [band.low, band.high], rtol=1e-6)


def test_chances_carry_the_shares_and_say_them_in_words(curves):
    laser, die = _chances(draw(curves))
    assert unpacked(laser["y"]).tolist() == pytest.approx(list(curves.laser_cheaper), rel=1e-6)
    assert (laser["fill"], die["fill"]) == ("tozeroy", "tonexty")
    assert set(unpacked(die["y"]).tolist()) == {1.0}
    assert "of 100 cases" in laser["hovertemplate"]
    for words, share in zip(laser["customdata"], curves.laser_cheaper, strict=True):
        assert words == "100" if share == 1 else words != "100"


def test_one_route_has_no_strip_of_chances(load):
    c = compare(load("toy_pvc_laminate"))
    unsure = uncertainty(c, draws=256, run_lengths=charts.chart_grid(c))
    figure = draw(charts.break_even_chart(c, unsure=unsure))
    assert len(_bands(figure)) == 1
    assert _chances(figure) == []
    assert "yaxis3" not in figure["layout"]


def test_the_strips_and_the_curves_do_not_lie_over_one_another(curves):
    layout = draw(curves)["layout"]
    assert layout["yaxis2"]["domain"][1] < layout["yaxis3"]["domain"][0]
    assert layout["yaxis3"]["domain"][1] < layout["yaxis"]["domain"][0]


def test_bars_reach_from_the_base_to_either_end(tornado):
    low, high = draw_tornado(tornado)["data"]
    for at, name in enumerate(row[0] for row in low["customdata"]):
        bar = next(bar for bar in tornado.bars if bar.name == name)
        assert low["base"][at] + low["x"][at] == pytest.approx(bar.at_low)
        assert high["base"][at] + high["x"][at] == pytest.approx(bar.at_high)


def test_bars_from_the_draws_reach_to_the_means_of_their_fifths(tornado):
    low, high = draw_tornado(tornado, by="draws")["data"]
    assert set(low["base"]) == {tornado.middle}
    for at, name in enumerate(row[0] for row in low["customdata"]):
        bar = next(bar for bar in tornado.bars if bar.name == name)
        assert low["base"][at] + low["x"][at] == pytest.approx(bar.mean_lowest)
        assert high["base"][at] + high["x"][at] == pytest.approx(bar.mean_highest)


@pytest.mark.parametrize("by", ["ends", "draws"])
def test_the_widest_bar_stands_at_the_top(tornado, by):
    figure = draw_tornado(tornado, by=by)
    low, high = figure["data"]
    widths = [abs(b - a) for a, b in zip(low["x"], high["x"], strict=True)]
    assert widths == sorted(widths)
    assert figure["layout"]["yaxis"]["range"][1] == pytest.approx(len(widths) - 0.4)


def test_both_ends_of_every_bar_are_named_with_value_and_unit(tornado):
    texts = [note["text"] for note in draw_tornado(tornado)["layout"]["annotations"]]
    for bar in tornado.bars:
        assert {bar.low, bar.high} <= set(texts)


def test_an_end_in_words_stands_on_the_side_of_its_own_end(tornado):
    notes = draw_tornado(tornado)["layout"]["annotations"]
    for bar in tornado.bars:
        low, high = (
            next(n for n in notes if n["text"] == end and math.isfinite(n["x"])) for end in (bar.low, bar.high)
        )
        if bar.at_low != bar.at_high:
            assert (low["xanchor"] == "right") == (bar.at_low < bar.at_high)
            assert {low["xanchor"], high["xanchor"]} == {"left", "right"}


def test_the_base_is_written_with_no_more_digits_than_the_bars_carry(tornado):
    """Bars that reach over 8 EUR say nothing of a cent."""
    from dataclasses import replace

    bar = tornado.bars[0]._replace(at_low=-4.0, at_high=4.0)
    texts = [note["text"] for note in draw_tornado(replace(tornado, base=0.1347, bars=(bar,)))["layout"]["annotations"]]
    assert "at the values: 0.1" in texts


def test_bars_from_the_draws_do_not_claim_the_ends_of_a_range(tornado):
    texts = [note["text"] for note in draw_tornado(tornado, by="draws")["layout"]["annotations"]]
    assert texts.count("lowest fifth") == texts.count("highest fifth") == len(tornado.bars)
    assert not {bar.low for bar in tornado.bars} & set(texts)


def test_few_bars_are_as_thick_as_many(tornado):
    from dataclasses import replace

    few, many = (draw_tornado(chart)["layout"] for chart in (replace(tornado, bars=tornado.bars[:2]), tornado))
    spans = [one["yaxis"]["range"][1] - one["yaxis"]["range"][0] for one in (few, many)]
    assert spans[0] == pytest.approx(spans[1])
    assert few["height"] == many["height"] == TORNADO_HEIGHT


def test_every_bar_says_its_unit_and_its_dotted_name_when_it_is_pointed_at(tornado):
    for by in ("ends", "draws"):
        for trace in draw_tornado(tornado, by=by)["data"]:
            for name, words in trace["customdata"]:
                assert f"({name})" in words
                assert "EUR per 1,000" in words


def test_a_german_reader_finds_no_english_thousand(curves, tornado):
    """1,234 is one and a bit in German; a comma between digits may only be a decimal one."""
    for figure in (draw(curves, "light", GERMAN), draw_tornado(tornado, "light", GERMAN)):
        text = json.dumps(figure, ensure_ascii=False)
        for outside_formats in re.sub(r"%\{[^}]*\}", "", text).split('"'):
            assert not re.search(r"\b\d{1,3},000\b", outside_formats), outside_formats


def test_the_chart_with_its_bands_is_small_enough_to_follow_every_change(curves):
    assert len(json.dumps(draw(curves))) < 40_000
