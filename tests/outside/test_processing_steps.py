"""Processing steps against the names that are published for ISO 19593-1."""

from __future__ import annotations

import pytest

from compare.data_files import read_table
from compare.geometry.strokes import Group
from compare.readers.line_map import LineMap, apply

# Published: PDF Association, Arlington PDF model, tsv/latest/GTS_ProcStepsGroup.tsv, repository
# pdf-association/arlington-pdf-model, commit 7e162a0, which cites ISO 19593-1 Tables 2 and 3. One flat list of types.
GROUPS = {"Structural", "Dimensions", "Braille", "Legend", "Positions", "White", "Varnish", "Primer", "PlateMaking"}
TYPES = [
    "Cutting", "PartialCutting", "ReversePartialCutting", "Creasing",
    "ReverseCreasing", "CuttingCreasing", "ReverseCuttingCreasing", "PartialCuttingCreasing",
    "ReversePartialCuttingCreasing", "Drilling", "Gluing", "FoilStamping",
    "ColdFoilStamping", "Embossing", "Debossing", "Perforating",
    "Bleed", "VarnishFree", "InkFree", "InkVarnishFree",
    "Folding", "Punching", "Stapling", "Hologram",
    "Barcode", "ContentArea", "CodingMarking", "Imprinting",
    "StationInfo", "PlateStamping", "OverstepArea", "NoMark",
]  # fmt: skip

# Published: a public reader of processing steps written from the Ghent Workgroup Processing Steps Test Suite v1.0
# (February 2025): the first 23 are structural, five more are positions. It takes the list as known-good, not as closed.
STRUCTURAL, POSITIONS = TYPES[:23], TYPES[23:28]
NO_TYPE = {"Dimensions", "Braille", "Legend", "White", "Varnish"}

# Derived here: what a tool or a beam runs along, by the plain meaning of the names. Two kinds of step are offered only.
RUN = {
    "Cutting": "cutting",
    "Punching": "cutting",
    "Drilling": "cutting",
    "PartialCutting": "partial_cutting",
    "ReversePartialCutting": "partial_cutting",
    "Creasing": "creasing",
    "ReverseCreasing": "creasing",
    "Folding": "creasing",
    "CuttingCreasing": "cutting_creasing",
    "ReverseCuttingCreasing": "cutting_creasing",
    "Perforating": "perforating",
}
ON_OFFER = {"VarnishFree", "PartialCuttingCreasing", "ReversePartialCuttingCreasing"}


def kind(group: str, step: str = "") -> str | None:
    return apply(LineMap(), [Group("layer", step_group=group, step_type=step)])[0]


def test_the_table_has_the_published_groups():
    assert {row["group"] for row in read_table("processing_steps.csv")} == GROUPS


def test_the_table_has_the_published_types_each_once():
    assert sorted(row["type"] for row in read_table("processing_steps.csv") if row["type"]) == sorted(TYPES)


def test_the_first_23_types_are_structural():
    assert [row["type"] for row in read_table("processing_steps.csv") if row["group"] == "Structural"] == STRUCTURAL


def test_five_types_are_positions():
    assert [row["type"] for row in read_table("processing_steps.csv") if row["group"] == "Positions"] == POSITIONS


@pytest.mark.parametrize("group", sorted(NO_TYPE))
def test_groups_without_types_are_no_path(group):
    assert kind(group) == "ignored"


@pytest.mark.parametrize("step", STRUCTURAL)
def test_every_structural_step_is_what_its_name_says(step):
    expected = None if step in ON_OFFER else RUN.get(step, "ignored")
    assert kind("Structural", step) == expected


@pytest.mark.parametrize("step", ["ABCD_Cutting", "Slitting", "cut", ""])
def test_a_name_that_the_standard_does_not_have_is_not_guessed(step):
    """Published, the same reader: names of one's own have a registered prefix and an underscore."""
    assert kind("Structural", step) is None


def test_a_group_that_the_standard_does_not_have_is_not_guessed():
    assert kind("ABCD_Structural", "Cutting") is None
