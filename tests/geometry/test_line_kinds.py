"""The kinds of line: one vocabulary from the mapping file to the costs."""

from __future__ import annotations

import pytest

from compare.assumptions import assumption_table
from compare.errors import InputError, UnknownNameError
from compare.geometry.line_kinds import (
    ALL_KINDS,
    LINE_PENS,
    RUN_KINDS,
    UNMAPPED_PEN,
    in_order,
    label_of,
    line_kind,
    work_name,
)


@pytest.mark.parametrize("kind", RUN_KINDS)
def test_every_kind_that_is_run_has_a_length_in_the_table_of_inputs(kind):
    """A kind that no cost counts would be a length lost without a word."""
    assert assumption_table()[work_name(kind)].unit == "m"


def test_every_length_in_the_table_of_inputs_is_of_a_kind():
    lengths = {
        name
        for name, row in assumption_table().items()
        if name.startswith("work.") and name.endswith("_m") and row.unit == "m"
    }
    assert lengths == {work_name(kind) for kind in RUN_KINDS}


def test_lines_left_out_have_no_length_to_count():
    with pytest.raises(InputError, match="no length to count"):
        work_name("ignored")


def test_an_unknown_kind_names_its_nearest_neighbour():
    with pytest.raises(UnknownNameError, match=r"there is no kind of line 'creesing'; did you mean creasing"):
        line_kind("creesing", where="map")


def test_a_kind_that_is_no_text_is_refused():
    with pytest.raises(InputError, match="the kind of line is no text"):
        line_kind(3, where="map")


def test_every_kind_is_drawn_by_a_stroke_of_its_own():
    """A picture in grey print has no colours: dash and width alone must tell the kinds apart."""
    strokes = [(pen.dash, pen.width) for pen in (*LINE_PENS.values(), UNMAPPED_PEN)]
    assert len(set(strokes)) == len(ALL_KINDS) + 1


def test_a_line_that_nobody_mapped_is_called_so():
    assert (label_of(None), label_of("partial_cutting")) == ("not mapped?", "partial cutting")


def test_kinds_come_in_the_order_of_legends_each_once():
    assert in_order(["ignored", "creasing", "cutting", "creasing"]) == ("cutting", "creasing", "ignored")
