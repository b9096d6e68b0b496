"""What heads reach: arrangements, contradictions, and strokes cut between fields."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.errors import InputError
from compare.geometry.head_fields import FieldPlan, OutOfReachError, cut_to_reach, fields, reaching
from compare.geometry.trails import ring_trail

LARGEST = (1060.0, 760.0)


def plan(**changes: float) -> FieldPlan:
    values = {"heads": 4, "across": 0, "width_mm": 0.0, "length_mm": 0.0, "overlap_mm": 60.0}
    return FieldPlan(**{**values, **changes}, largest_mm=LARGEST)  # type: ignore[arg-type]


def rectangle(x0: float, y0: float, x1: float, y1: float):
    return ring_trail("cutting", ((x0, y0), (x1, y0), (x1, y1), (x0, y1)))


def test_fields_of_the_largest_sheet_cover_it_exactly():
    box = fields(plan(), *LARGEST)
    assert [*box[:, :2].min(axis=0), *box[:, 2:].max(axis=0)] == pytest.approx([0, 0, *LARGEST], abs=1e-5)


@pytest.mark.parametrize(("heads", "across"), [(1, 1), (2, 2), (3, 3), (4, 2), (5, 5), (6, 3), (8, 4)])
def test_heads_stand_so_that_their_fields_are_as_square_as_can_be(heads: int, across: int):
    box = fields(plan(heads=heads), *LARGEST)
    assert len(np.unique(box[:, 0].round(6))) == across


def test_a_sheet_fed_with_its_short_side_across_turns_the_fields_with_it():
    long, short = fields(plan(heads=2), 1000, 700), fields(plan(heads=2), 700, 1000)
    assert long[:, [1, 0, 3, 2]] == pytest.approx(short)


def test_rows_that_do_not_hold_all_heads_are_refused():
    with pytest.raises(InputError, match="4 heads can't stand in rows of 3"):
        fields(plan(across=3), *LARGEST)


def test_a_field_that_is_all_overlap_is_refused():
    with pytest.raises(InputError, match="overlaps its neighbour"):
        fields(plan(width_mm=50.0), *LARGEST)


def test_a_stroke_that_lies_in_an_overlap_is_held_by_both_heads():
    box = fields(plan(heads=2), *LARGEST)
    assert reaching([rectangle(515, 100, 545, 130)], box).tolist() == [[True, True]]


def test_a_stroke_across_two_fields_is_cut_between_them():
    """Nothing is lost and nothing is added but the stitch where the second part takes over."""
    box = fields(plan(heads=2), *LARGEST)
    stroke = rectangle(300, 100, 800, 200)
    parts = cut_to_reach(stroke, box, 1.0, (0.5, 0.5))
    assert len(parts) == 2
    assert sum(p.length_mm for p in parts) == pytest.approx(stroke.length_mm + 1.0, abs=1e-9)
    assert reaching(parts, box).any(axis=1).all()
    assert {p.points[0, 0] for p in parts} == {530.0}


def test_an_excursion_within_the_overlap_is_not_cut():
    """A flap that reaches over the middle, but not out of the field, stays with its head."""
    box = fields(plan(heads=2), *LARGEST)
    corners = [
        (300, 100),
        (520, 100),
        (520, 150),
        (540, 150),
        (540, 170),
        (520, 170),
        (520, 200),
        (800, 200),
        (800, 300),
    ]
    stroke = ring_trail("cutting", (*corners, (300, 300)))
    assert len(cut_to_reach(stroke, box, 0.0, (0.5, 0.5))) == 2


def test_a_line_outside_every_field_is_named_with_its_place():
    box = fields(plan(width_mm=300.0, length_mm=300.0), *LARGEST)
    with pytest.raises(OutOfReachError, match=r"x 10\.0, y 380\.0"):
        cut_to_reach(rectangle(10, 380, 500, 400), box, 1.0, (0.5, 0.5))


@settings(max_examples=60, deadline=None)
@given(
    st.integers(1, 8),
    st.lists(st.tuples(st.floats(5, 1050), st.floats(5, 750)), min_size=3, max_size=9, unique=True),
    st.sampled_from([0.0, 0.25, 0.5, 1.0]),
)
def test_whatever_is_cut_every_part_is_in_a_field_and_nothing_is_lost(heads, corners, share):
    """Any ring, any heads, any place to hand over."""
    box = fields(plan(heads=heads), *LARGEST)
    stroke = ring_trail("cutting", corners)
    if reaching([stroke], box).any():
        return
    parts = cut_to_reach(stroke, box, 0.0, (share, share))
    assert reaching(parts, box).any(axis=1).all()
    assert sum(p.length_mm for p in parts) == pytest.approx(stroke.length_mm, rel=1e-9)
