"""What a rule or a beam can't do well: which rule is broken, by how much, where, and for which route."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY
from shapely import Point, Polygon, unary_union

from compare.assumptions import assumption_table
from compare.geometry.feasibility import NEEDED, feasibility
from compare.geometry.fine_detail import Sizes
from compare.geometry.measure import measure_drawing
from compare.geometry.strokes import Drawing, Group, Pen
from compare.routes.limits import die_limits

LIMITS = {
    "die.smallest_radius_mm": 0.5,
    "die.smallest_gap_mm": 2.0,
    "die.shortest_rule_mm": 3.0,
    "die.strip_width_mm": 2.4,
    "die.strip_area_mm2": 20.0,
    "die.narrowest_bridge_mm": 3.0,
    "laser.kerf_mm": 0.2,
    "laser.bridge_kerfs": 5.0,
}


def _sizes(size, at) -> Sizes:
    return Sizes(np.asarray(size, float).reshape(-1), np.asarray(at, float).reshape(-1, 2))


@dataclass
class Detail:
    """The part of a measured drawing that counts here, without a drawing."""

    radii: Sizes = field(default_factory=lambda: _sizes([], []))
    gaps: Sizes = field(default_factory=lambda: _sizes([], []))
    sides: Sizes = field(default_factory=lambda: _sizes([], []))
    blanks: list[Polygon] = field(default_factory=list)
    waste: list[Polygon] = field(default_factory=list)


def _box(x: float, y: float, width: float, height: float) -> Polygon:
    return Polygon([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _blank(*cut_outs: Polygon) -> dict[str, list[Polygon]]:
    """A blank of 100 x 80 and what falls out of it."""
    return {"blanks": [_box(0, 0, 100, 80).difference(unary_union(cut_outs))], "waste": list(cut_outs)}


def _codes(detail: Detail, **limits: float) -> dict[str, str]:
    found = feasibility(detail, {**LIMITS, **limits})
    assert len({finding.code for finding in found}) == len(found), "one finding for each rule"
    return {finding.code: finding.kind for finding in found}


def _only(detail: Detail, code: str):
    return next(finding for finding in feasibility(detail, LIMITS) if finding.code == code)


def test_an_ordinary_blank_has_no_findings():
    """Findings on every drawing would soon be read by nobody."""
    plain = Detail(
        radii=_sizes([3, 12.5], [(0, 0), (9, 9)]),
        gaps=_sizes([4, 30], [(5, 5), (50, 40)]),
        sides=_sizes([12, 80], [(1, 1), (50, 0)]),
        **_blank(_box(20, 20, 30, 20)),
    )
    assert feasibility(plain, LIMITS) == ()


def test_a_drawing_without_detail_has_no_findings():
    assert feasibility(Detail(), LIMITS) == ()


# -- the die -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("detail", "code", "kind"),
    [
        (Detail(radii=_sizes([0.4], [(7, 8)])), "die.smallest_radius", "not possible"),
        (Detail(gaps=_sizes([1.9], [(7, 8)])), "die.smallest_gap", "not possible"),
        (Detail(sides=_sizes([2.9], [(7, 8)])), "die.short_rule", "caution"),
    ],
)
def test_what_rule_can_not_be_made_into_is_named_with_its_place(detail, code, kind):
    """A bend or a gap can't be had at all; short pieces are a matter of the toolmaker's patience."""
    (finding,) = feasibility(detail, LIMITS)
    assert (finding.code, finding.kind, finding.where, finding.at) == (code, kind, "die", ((7.0, 8.0),))


@pytest.mark.parametrize(
    "detail",
    [
        Detail(radii=_sizes([0.5 - 1e-9], [(7, 8)])),
        Detail(gaps=_sizes([2.0 - 1e-9], [(7, 8)])),
        Detail(sides=_sizes([3.0 - 1e-9], [(7, 8)])),
    ],
)
def test_what_is_exactly_at_the_limit_is_fine_whatever_the_last_digit_says(detail):
    assert feasibility(detail, LIMITS) == ()


@PROPERTY
@given(st.floats(0.01, 5), st.floats(0.01, 5))
def test_radius_and_gap_are_judged_as_the_route_judges_them(radius, gap):
    """The route has the smallest value of the job and this has the places: one rule, one code, one answer."""
    detail = Detail(radii=_sizes([radius, 9], [(0, 0), (1, 1)]), gaps=_sizes([gap, 9], [(0, 0), (1, 1)]))
    here = {code for code, kind in _codes(detail).items() if kind == "not possible"}
    values = {name: row.value for name, row in assumption_table().items() if isinstance(row.value, float)}
    job = dict.fromkeys(
        (
            "work.cutting_m",
            "work.creasing_m",
            "layout.ups_die",
            "board.caliper_mm",
            "sheet.width_mm",
            "sheet.length_mm",
        ),
        1.0,
    )
    own = {"work.smallest_radius_mm": radius, "work.smallest_gap_mm": gap}
    broken = {limit.code for limit in die_limits({**values, **job, **LIMITS, **own}) if not limit.kept}
    near = abs(radius - 0.5) < 1e-6 or abs(gap - 2) < 1e-6
    assert near or here == broken & {"die.smallest_radius", "die.smallest_gap"}


@pytest.mark.parametrize(
    ("cut_out", "codes"),
    [
        (_box(20, 20, 30, 2.3), {"die.narrow_cut_out"}),  # 69 mm2, but a slot
        (_box(20, 20, 4, 4.9), {"die.small_cut_out"}),  # 19.6 mm2
        (_box(20, 20, 2, 2), {"die.narrow_cut_out", "die.small_cut_out"}),
        (_box(20, 20, 4, 5), set()),
        (Polygon([(20, 20), (60, 20), (60, 22), (24, 22), (24, 60), (20, 60)]), set()),  # wide enough in one leg
    ],
)
def test_a_cut_out_strips_badly_where_it_is_narrow_or_small(cut_out, codes):
    found = _codes(Detail(**_blank(cut_out)))
    assert found == dict.fromkeys(codes, "caution")


def test_a_round_hole_is_as_wide_as_its_diameter():
    finding = _only(Detail(waste=[Point(40, 40).buffer(1.1, quad_segs=180)]), "die.narrow_cut_out")
    assert "the narrowest 2.20 mm" in finding.message
    assert finding.at[0] == pytest.approx((40, 40), abs=0.1)


# -- bridges -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bridge", "codes"),
    [
        (3.0, {}),
        (2.9, {"die.narrow_bridge": "caution"}),
        (1.0, {"die.narrow_bridge": "caution"}),
        (0.9, {"die.narrow_bridge": "caution", "laser.narrow_bridge": "caution"}),
        (0.3, {"die.narrow_bridge": "caution", "laser.narrow_bridge": "caution"}),
        (0.2, {"die.narrow_bridge": "caution", "laser.no_bridge": "not possible"}),
    ],
)
def test_a_bridge_between_two_cut_outs_tears_chars_or_goes_up_in_smoke(bridge, codes):
    """5 kerfs of 0.2 mm are 1 mm; one kerf wide, the two cuts meet and nothing stays."""
    pair = [_box(20, 20, 10, 10), _box(30 + bridge, 20, 10, 10)]
    assert _codes(Detail(**_blank(*pair))) == codes


def test_a_bridge_between_a_cut_out_and_the_edge_counts_too():
    finding = _only(Detail(**_blank(_box(40, 1.5, 10, 10))), "die.narrow_bridge")
    assert "1 place, the narrowest 1.50 mm" in finding.message
    assert finding.at[0][1] == pytest.approx(0.75)


def test_a_neck_of_the_blank_is_a_bridge_and_a_slit_beside_it_is_none():
    """Both are gaps between two cut lines; only one has board between them."""
    gaps = _sizes([2.5, 2.6], [(50, 40), (150, 40)])
    finding = _only(Detail(**_blank(), gaps=gaps), "die.narrow_bridge")
    assert finding.at == ((50.0, 40.0),)


def test_a_gap_within_a_cut_out_is_no_bridge():
    gaps = _sizes([2.5], [(50, 40)])
    assert _codes(Detail(**_blank(_box(40, 30, 20, 20)), gaps=gaps)) == {}


def test_a_bridge_that_is_known_as_a_gap_too_counts_once():
    pair = [_box(20, 20, 10, 10), _box(32.5, 20, 10, 10)]
    detail = Detail(**_blank(*pair), gaps=_sizes([2.5], [(31.25, 25)]))
    assert "1 place" in _only(detail, "die.narrow_bridge").message


def test_blanks_close_together_are_no_bridge():
    """Between two blanks of one drawing lies waste, which may be as narrow as rules can stand."""
    pair = [_box(0, 0, 100, 80), _box(102.5, 0, 100, 80)]
    assert _codes(Detail(blanks=pair, gaps=_sizes([2.5], [(101.25, 40)]))) == {}


def test_cut_outs_that_touch_leave_no_bridge_between_them():
    assert _codes(Detail(**_blank(_box(20, 20, 10, 10), _box(30, 20, 10, 10)))) == {}


# -- messages ----------------------------------------------------------------------------------------------------------


def test_places_come_finest_first_and_the_message_says_how_many():
    found = _only(Detail(radii=_sizes([0.4, 0.1, 0.3], [(1, 0), (2, 0), (3, 0)])), "die.smallest_radius")
    assert found.at == ((2.0, 0.0), (3.0, 0.0), (1.0, 0.0))
    assert "3 places, the smallest 0.10 mm" in found.message


def test_a_drawing_full_of_faults_marks_the_finest_and_says_so():
    """Ten thousand marks would hide the drawing."""
    sizes = np.linspace(0.01, 0.4, 1_000)
    found = _only(Detail(radii=_sizes(sizes, np.column_stack([sizes, sizes]))), "die.smallest_radius")
    assert len(found.at) == 100
    assert "1,000 places" in found.message
    assert found.message.endswith("The finest 100 are marked.")


@pytest.mark.parametrize("code", ["die.smallest_radius", "die.smallest_gap", "die.short_rule", "die.narrow_bridge"])
def test_every_message_names_the_value_it_goes_by(code):
    """So that whoever disagrees knows which value to change."""
    spots = _sizes([0.05], [(50, 40)])
    message = _only(Detail(spots, spots, spots, **_blank()), code).message
    named = [name for name in NEEDED if f"({name})" in message]
    assert len(named) == 1


@pytest.mark.parametrize("name", NEEDED)
def test_every_value_has_a_row_in_the_table_and_stands_in_where_none_is_given(name):
    assert assumption_table()[name].value > 0
    assert isinstance(feasibility(Detail(), {}), tuple)


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [("die.smallest_radius_mm", 1.0, "die.smallest_radius"), ("die.shortest_rule_mm", 9.0, "die.short_rule")],
)
def test_the_plants_own_values_count(name, value, code):
    detail = Detail(radii=_sizes([0.8], [(0, 0)]), sides=_sizes([8], [(0, 0)]))
    assert _codes(detail) == {}
    assert list(_codes(detail, **{name: value})) == [code]


# -- a whole drawing ---------------------------------------------------------------------------------------------------


def _drawing(*rings, round_: tuple[float, float, float] | None = None) -> Drawing:
    pen = Pen()
    for ring in rings:
        pen.begin(Group("knife"), "here")
        for (ax, ay), (bx, by) in zip(ring, [*ring[1:], ring[0]], strict=True):
            pen.line(ax, ay, bx, by)
    if round_:
        pen.begin(Group("knife"), "here")
        pen.circle(*round_, 0, 2 * np.pi)
    strokes, groups, _ = pen.strokes()
    return Drawing(strokes, groups, "mm", 1.0, "the file")


def test_a_drawing_is_measured_and_judged_with_places_on_it():
    """A slot of 1.5 mm, 0.5 mm from the edge, and a hole with a radius of 0.4 mm, in a blank of 100 x 80."""
    blank = [(0, 0), (100, 0), (100, 80), (0, 80)]
    slot = [(0.5, 20), (2, 20), (2, 60), (0.5, 60)]
    drawing = _drawing(blank, slot, round_=(50, 40, 0.4))
    found = {f.code: f for f in feasibility(measure_drawing(drawing, ["cutting"], mm_per_unit=1), LIMITS)}
    assert {code: finding.kind for code, finding in found.items()} == {
        "die.smallest_radius": "not possible",
        "die.smallest_gap": "not possible",
        "die.short_rule": "caution",
        "die.narrow_cut_out": "caution",
        "die.small_cut_out": "caution",
        "die.narrow_bridge": "caution",
        "laser.narrow_bridge": "caution",
    }
    assert found["die.narrow_bridge"].at[0][0] == pytest.approx(0.25, abs=1e-3)
    assert found["die.small_cut_out"].at[0] == pytest.approx((50, 40), abs=0.4)
    assert np.hypot(*np.subtract(found["die.smallest_radius"].at[0], (50, 40))) == pytest.approx(0.4)


def test_the_unit_of_the_drawing_counts():
    """The same drawing in inches is 25.4 times as large, and nothing in it is too fine."""
    blank, slot = [(0, 0), (10, 0), (10, 8), (0, 8)], [(1, 2), (1.5, 2), (1.5, 6), (1, 6)]
    drawing = _drawing(blank, slot)
    counts = [len(feasibility(measure_drawing(drawing, ["cutting"], mm_per_unit=unit), LIMITS)) for unit in (1.0, 25.4)]
    assert (counts[0] > 0, counts[1]) == (True, 0)
