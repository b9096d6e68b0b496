"""Styles measured by the column: the same as drawing each carton, without drawing it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from compare.assumptions import assumption_table
from compare.errors import InputError, UnknownNameError
from compare.geometry import style_arrays
from compare.geometry.linework import ring_segments, segment_length
from compare.geometry.style_arrays import StyleMeasures, measure_style
from compare.geometry.styles import STYLES, Blank, build_blank
from tests.random_jobs import FEW

USUAL = {
    name.removeprefix("carton."): row.value
    for name, row in assumption_table().items()
    if name.startswith("carton.") and isinstance(row.value, float)
}
SIZE = {"length_mm": 80.0, "width_mm": 50.0, "height_mm": 120.0}

_NUMBERS = {
    "length_mm": (5, 300), "width_mm": (5, 200), "height_mm": (5, 300), "glue_flap_mm": (1, 30),
    "glue_flap_bevel_mm": (0, 8), "flap_taper_mm": (0, 6), "tuck_flap_mm": (1, 30), "dust_flap_share": (0.1, 1),
    "seal_clearance_mm": (0, 8), "inner_flap_share": (0.1, 1), "lock_overlap_mm": (0, 20), "lock_web_mm": (0, 10),
    "tray_tab_clearance_mm": (0, 12), "tray_tab_taper_mm": (0, 6),
}  # fmt: skip


@st.composite
def cartons(draw: st.DrawFn) -> dict[str, float]:
    """Draw a carton; zero, where flaps meet their neighbours, is as likely as any other width."""
    drawn = {
        name: draw(st.one_of(st.just(float(low)), st.floats(low, high).map(lambda v: round(v, 3))))
        for name, (low, high) in _NUMBERS.items()
    }
    dust = draw(st.one_of(st.none(), st.floats(1, 90)))
    return drawn if dust is None else {**drawn, "dust_flap_mm": dust}


def column(rows: list[dict[str, float]]) -> dict[str, np.ndarray]:
    names = {name for row in rows for name in row}
    return {name: np.array([row.get(name, np.nan) for row in rows]) for name in names}


def figures(blank: Blank) -> list[float]:
    cut = blank.cut
    return [
        blank.area_mm2, *blank.box_mm, cut.length_mm, blank.crease_mm, cut.bends, cut.strokes, cut.corner_load,
    ]  # fmt: skip


def row(measures: StyleMeasures, index: int) -> list[float]:
    return [values[index] for values in measures[1:]]


@pytest.mark.parametrize("style", sorted(STYLES))
@FEW
@given(rows=st.lists(cartons(), min_size=1, max_size=12))
def test_a_column_measures_what_each_drawing_measures(style, rows):
    """The drawing in styles.py is the one that counts; this is the same, faster."""
    measures = measure_style(style, column(rows))
    for index, carton in enumerate(rows):
        try:
            blank = build_blank(style, carton)
        except InputError:
            assert not measures.fits[index]
            assert np.isnan(row(measures, index)).all()
        else:
            assert measures.fits[index]
            np.testing.assert_allclose(row(measures, index), figures(blank), rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("style", sorted(STYLES))
def test_cartons_with_tapered_flaps_are_not_drawn(style, monkeypatch):
    """A loop over rows would take minutes for a large book."""
    monkeypatch.setattr(style_arrays, "build_blank", lambda *_: pytest.fail("drew a carton"))
    wide = {name: np.linspace(value, value + 20, 50) for name, value in SIZE.items()}
    assert measure_style(style, {**USUAL, **wide}).fits.all()


def test_cartons_whose_flaps_share_knife_lines_are_drawn_once_each(monkeypatch):
    """A shared line counts once, which takes a drawing; equal cartons take one."""
    drawn: list[Any] = []

    def counting(style: str, carton: dict[str, float]) -> Blank:
        drawn.append(carton)
        return build_blank(style, carton)

    monkeypatch.setattr(style_arrays, "build_blank", counting)
    rows = {**USUAL, **SIZE, "flap_taper_mm": np.array([0.0, 2.0, 0.0, 0.0]), "width_mm": np.array([50, 50, 50, 40.0])}
    measures = measure_style("reverse_tuck_end", rows)
    assert len(drawn) == 2
    assert measures.cut_mm[0] == measures.cut_mm[2] != measures.cut_mm[3]


def test_a_shared_knife_line_is_counted_once():
    """Without a taper a tuck lid stands side against side with its dust flaps of 0.75 x 40 mm; derived here.

    One neighbour at the top, where the lid hangs on the first panel, and two at the bottom: 3 x 30 mm.
    """
    carton = {**USUAL, **SIZE, "width_mm": 40.0, "flap_taper_mm": 0.0}
    outline = build_blank("reverse_tuck_end", carton).outline
    around = sum(segment_length(side) for side in ring_segments(outline))
    assert measure_style("reverse_tuck_end", carton).cut_mm[0] == pytest.approx(around - 3 * 30, rel=1e-12)


def test_one_carton_is_a_column_of_one():
    assert measure_style("sleeve", {**USUAL, **SIZE}).area_mm2.shape == (1,)


def test_the_area_of_a_sleeve_is_that_of_its_four_panels_and_glue_flap():
    """4 panels of 120 mm around 2 x (80 + 50) mm, and a flap of 15 mm less two bevels of 3 mm; derived here."""
    area = measure_style("sleeve", {**USUAL, **SIZE}).area_mm2[0]
    assert area == pytest.approx(2 * (80 + 50) * 120 + 15 * 120 - 15 * 3, rel=1e-12)


def test_dimensions_without_room_are_marked_and_nothing_is_measured():
    measures = measure_style("sleeve", {**USUAL, **SIZE, "height_mm": np.array([120.0, 5.0])})
    assert measures.fits.tolist() == [True, False]
    assert np.isnan(measures.cut_mm).tolist() == [False, True]


def test_missing_dimensions_measure_nothing():
    """A row of a book may lack its height; that is said elsewhere."""
    measures = measure_style("seal_end", {**USUAL, **SIZE, "height_mm": np.array([120.0, np.nan])})
    assert np.isnan(measures.area_mm2).tolist() == [False, True]


def test_an_unknown_style_is_named_with_its_neighbours():
    with pytest.raises(UnknownNameError, match="did you mean sleeve"):
        measure_style("sleev", {**USUAL, **SIZE})
