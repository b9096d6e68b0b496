"""Six carton styles: outlines that close, creases that lie inside, flaps that leave room."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY
from shapely.geometry import LineString, Polygon

from compare.assumptions import assumption_table
from compare.errors import InputError, UnknownNameError
from compare.geometry.styles import STYLES, Flaps, build_blank

DEFAULTS = {
    name.removeprefix("carton."): row.value
    for name, row in assumption_table().items()
    if name.startswith("carton.") and isinstance(row.value, float)
}
TUBES = sorted(set(STYLES) - {"glued_tray"})


def _carton(**changes: float) -> dict[str, float]:
    return {**DEFAULTS, "length_mm": 80.0, "width_mm": 55.0, "height_mm": 130.0, **changes}


def _size(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda v: round(v, 1))


_cartons = st.builds(
    lambda length, width, height, taper: _carton(
        length_mm=length, width_mm=width, height_mm=height, flap_taper_mm=taper
    ),
    _size(30, 200),
    _size(20, 150),
    _size(20, 250),
    st.sampled_from([0.0, 1.0, 2.0]),
)
_styles = st.sampled_from(sorted(STYLES))


# -- properties -------------------------------------------------------------------------------------------------------


@PROPERTY
@given(_styles, _cartons, st.floats(0.5, 8).map(lambda v: round(v, 2)))
def test_a_carton_twice_as_large_has_twice_the_lines_and_four_times_the_area(style, carton, k):
    """Every dimension scaled, flaps and tapers too; shares stay."""
    large = {name: value * k if name.endswith("_mm") else value for name, value in carton.items()}
    small_blank, large_blank = build_blank(style, carton), build_blank(style, large)
    assert (large_blank.cut.length_mm, large_blank.crease_mm, large_blank.area_mm2) == pytest.approx(
        (k * small_blank.cut.length_mm, k * small_blank.crease_mm, k * k * small_blank.area_mm2), rel=1e-9
    )


@PROPERTY
@given(_styles, _cartons)
def test_a_blank_lies_in_its_box(style, carton):
    blank = build_blank(style, carton)
    width, height = blank.box_mm
    assert 0 < blank.area_mm2 < width * height


@PROPERTY
@given(_styles, _cartons)
def test_no_corner_of_an_outline_is_drawn_twice_or_lies_on_a_straight_side(style, carton):
    """Such a corner would be counted as a bend of rule, or as time of the scanner."""
    outline = build_blank(style, carton).outline
    for before, here, after in zip((*outline[-1:], *outline[:-1]), outline, (*outline[1:], outline[0]), strict=True):
        cross = (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (after[0] - here[0])
        dot = (here[0] - before[0]) * (after[0] - here[0]) + (here[1] - before[1]) * (after[1] - here[1])
        assert abs(cross) > 1e-9 or dot < 0


@PROPERTY
@given(_styles, _cartons)
def test_every_crease_lies_within_the_blank(style, carton):
    """With a knife line that two flaps share, the blank is closed by a hair first."""
    blank = build_blank(style, carton)
    area = Polygon(blank.outline).buffer(1e-6)
    assert all(area.covers(LineString(crease)) for crease in blank.creases)


@PROPERTY
@given(_styles, _cartons)
def test_no_crease_lies_along_the_cut(style, carton):
    """A panel's edge is either cut or creased, never both."""
    blank = build_blank(style, carton)
    ring = LineString([*blank.outline, blank.outline[0]]).buffer(1e-6)
    assert all(ring.intersection(LineString(c)).length < 0.01 for c in blank.creases)


@PROPERTY
@given(st.sampled_from(TUBES), _cartons)
def test_a_tube_is_as_wide_as_its_panels_and_its_glue_flap(style, carton):
    width, _ = build_blank(style, carton).box_mm
    assert width == pytest.approx(2 * (carton["length_mm"] + carton["width_mm"]) + carton["glue_flap_mm"], rel=1e-12)


# -- worked by hand: L 80, W 55, H 130 --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("style", "height"),
    [
        ("sleeve", 130),
        ("reverse_tuck_end", 130 + 2 * (55 + 15)),
        ("straight_tuck_end", 130 + 2 * (55 + 15)),
        ("seal_end", 130 + 2 * 53),
        ("crash_lock", 130 + (55 + 15) + 37.5),
    ],
)
def test_a_tube_is_as_high_as_its_deepest_flaps(style, height):
    """Derived: closures of W + 15 mm tuck, seal flaps of W - 2 mm, lock flaps of W/2 + 10 mm."""
    assert build_blank(style, _carton()).box_mm[1] == pytest.approx(height)


def test_a_tray_is_its_base_with_a_wall_on_every_side():
    """Derived: base 200 x 150 mm with walls of 40 mm."""
    carton = _carton(length_mm=200, width_mm=150, height_mm=40)
    assert build_blank("glued_tray", carton).box_mm == pytest.approx((280, 230))


def test_a_sleeve_has_four_creases_and_nothing_else():
    assert build_blank("sleeve", _carton()).crease_mm == pytest.approx(4 * 130)


def test_tuck_ends_differ_only_in_the_panel_their_closures_hang_on():
    """Reverse or straight, the same flaps: only their places differ."""
    reverse, straight = build_blank("reverse_tuck_end", _carton()), build_blank("straight_tuck_end", _carton())
    assert (reverse.area_mm2, reverse.crease_mm) == pytest.approx((straight.area_mm2, straight.crease_mm))


def test_a_crash_lock_has_two_slanted_creases():
    """Its bottom is glued flat and opens along them."""
    slanted = [c for c in build_blank("crash_lock", _carton()).creases if c[0][0] != c[1][0] and c[0][1] != c[1][1]]
    assert len(slanted) == 2


def test_without_taper_two_flaps_share_their_knife_line():
    """The sides of neighbouring flaps lie on one another then, and are cut once."""
    blank = build_blank("seal_end", _carton(flap_taper_mm=0))
    sides = sum(abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in pairwise((*blank.outline, blank.outline[0])))
    assert blank.cut.length_mm < sides - 100


def test_a_dust_flap_is_a_share_of_the_width():
    assert Flaps.from_inputs(_carton(length_mm=90)).dust_flap == 0.75 * 55


def test_a_dust_flap_is_at_most_half_as_long_as_the_panel_beside_it():
    """Two of them meet under the closure."""
    assert Flaps.from_inputs(_carton(length_mm=50, width_mm=60)).dust_flap == 25


def test_a_dust_flap_that_is_given_stands():
    assert Flaps.from_inputs(_carton(dust_flap_mm=12)).dust_flap == 12


@pytest.mark.parametrize(
    ("style", "changes", "message"),
    [
        ("sleeve", {"height_mm": 6}, "carton.glue_flap_bevel_mm: the bevels take the whole glue flap"),
        ("seal_end", {"width_mm": 4}, "carton.flap_taper_mm: the tapers take the whole flap"),
        ("seal_end", {"seal_clearance_mm": 60}, "carton.seal_clearance_mm: the clearance takes the whole seal flap"),
        ("glued_tray", {"height_mm": 5}, "carton.height_mm: the wall leaves no room for a corner tab"),
        ("glued_tray", {"height_mm": 6}, "carton.tray_tab_taper_mm: the taper takes the whole corner tab"),
    ],
)
def test_a_flap_without_room_is_refused_by_its_name(style, changes, message):
    with pytest.raises(InputError, match=message):
        build_blank(style, _carton(**changes))


def test_a_sleeve_needs_no_room_for_flaps():
    assert build_blank("sleeve", _carton(width_mm=3, length_mm=3)).area_mm2 > 0


def test_an_unknown_style_is_refused_and_what_there_is_listed():
    with pytest.raises(UnknownNameError, match="there is no style 'hexagon'; there is: crash_lock, glued_tray"):
        build_blank("hexagon", _carton())
