"""The table of boards."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from pydantic import ValidationError

from compare.boards import Board, board, boards
from compare.errors import UnknownNameError

TABLE = Path(__file__).resolve().parents[1] / "data" / "boards.csv"


def _families() -> dict[str, list[Board]]:
    families: dict[str, list[Board]] = {}
    for row in boards().values():
        families.setdefault(row.grade.rsplit("_", 1)[0], []).append(row)
    return families


def test_every_grade_stands_once():
    with TABLE.open(encoding="utf-8", newline="") as file:
        grades = [row["grade"] for row in csv.DictReader(file)]
    assert sorted(grades) == sorted(set(grades))


def test_every_grade_is_called_by_its_grammage():
    assert [row.grade for row in boards().values() if not row.grade.endswith(f"_{row.grammage_g_m2:g}")] == []


def test_every_board_says_what_its_values_rest_on():
    assert {row.basis for row in boards().values()} <= {"published", "common practice", "from memory", "example"}


def test_every_price_is_marked_as_an_example():
    """Prices are nobody's offer: a plant enters its own."""
    assert [row.grade for row in boards().values() if "price is an example" not in row.note] == []


@pytest.mark.parametrize("family", sorted(_families()))
def test_a_heavier_board_of_one_family_is_thicker(family):
    rows = sorted(_families()[family], key=lambda row: row.grammage_g_m2)
    calipers = [row.caliper_mm for row in rows]
    assert calipers == sorted(set(calipers))


def test_a_board_is_found_by_its_grade():
    assert board("kraft_300", where="test").grammage_g_m2 == 300


def test_an_unknown_grade_names_its_neighbours():
    with pytest.raises(UnknownNameError, match=r"there is no board grade 'kraft_301'; did you mean .*kraft_300"):
        board("kraft_301", where="test")


def test_the_table_cannot_be_changed():
    with pytest.raises(TypeError):
        boards()["a"] = board("kraft_300", where="test")  # type: ignore[index]


def test_a_board_without_thickness_is_refused():
    """The beam's speed is power per thickness: 0 would make it endless."""
    row = board("kraft_300", where="test").model_dump()
    with pytest.raises(ValidationError):
        Board.model_validate({**row, "caliper_mm": 0})
