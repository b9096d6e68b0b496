"""Tool data against what is published on XJDF and JDF: points, and the one code that is documented."""

from __future__ import annotations

import pytest

from compare.readers.line_map import LineMap, apply
from compare.readers.tool_data import read_tool_data


@pytest.fixture
def lengths(tmp_path):
    """Lengths in millimetres by code, of an XJDF that states them in points."""

    def stated(**points: str) -> dict[str, float]:
        rules = "".join(f'<RuleLength DDESCutType="{code[1:]}" Length="{text}"/>' for code, text in points.items())
        path = tmp_path / "tool.xjdf"
        path.write_text(
            f'<XJDF xmlns="http://www.CIP4.org/JDFSchema_2_0"><ResourceSet Name="DieLayout"><Resource>'
            f"<DieLayout>{rules}</DieLayout></Resource></ResourceSet></XJDF>"
        )
        return {group.code: length for group, length in read_tool_data(path).lengths_by_code.items()}

    return stated


@pytest.mark.parametrize(("points", "mm"), [("3118.11023622", 1100.0), ("2267.71653543", 800.0)])
def test_points_of_the_schemas_own_sample_are_its_sheet(lengths, points, mm):
    """Published: sample in repository cip4/XJDF-Schema, commit 1facc8f: SheetWidthMax and SheetHeightMax in points.

    That they mean 1,100 and 800 mm is derived here: no other whole sheet fits eleven digits.
    """
    assert lengths(c101=points)["101"] == pytest.approx(mm, abs=1e-8)


def test_the_cut_of_the_worked_tuck_carton_in_points(lengths):
    """Derived here: 1,181.657843 mm of cut are 3,349.581287 points of 1/72 inch."""
    assert lengths(c101="3349.581287")["101"] == pytest.approx(1181.657843, abs=1e-6)


def test_code_101_is_a_cut(tmp_path):
    """Published: repository cip4/JDFLibJ, JDFAutoShapeElement, defaults DDESCutType to 101 beside CutType Cut."""
    path = tmp_path / "tool.jdf"
    path.write_text(
        '<JDF xmlns="http://www.CIP4.org/JDFSchema_1_1"><ResourcePool><ShapeDef ID="s">'
        '<RuleLength DDESCutType="101" Length="72"/></ShapeDef></ResourcePool></JDF>'
    )
    assert apply(LineMap(), list(read_tool_data(path).lengths_by_code)) == ("cutting",)


@pytest.mark.parametrize("code", ["0", "1", "100", "102", "103", "110", "201"])
def test_no_other_code_is_guessed(lengths, code):
    """Published, title only: ANSI IT8.6-2002 (diecutting data) holds the table; it is not open, so nobody here knows."""
    (stated,) = lengths(**{f"c{code}": "72"})
    from compare.geometry.strokes import Group

    assert apply(LineMap(), [Group("DieLayout", code=stated)]) == (None,)
