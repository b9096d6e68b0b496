"""A plant file with values put in: everything else of it stays, comments too."""

from __future__ import annotations

import tomllib

import pytest

from compare.names import flatten
from compare.present.plant_file import plant_text

VALUES = {"laser.severance_j_mm2": 0.62, "laser.mark_delay_ms": 0.41}


def _values(text: str) -> dict[str, object]:
    return flatten(tomllib.loads(text))


PLANTS = {
    "no plant": "",
    "no such table": '# ours\n[rates]\nkwh = 0.19  # metered\n\n[plant]\nname = "Ours"\n',
    "table without the values": "[laser]\nheads = 4 # four\n\n# money\n[rates]\nkwh = 0.19\n",
    "table with one of the values": "[laser]\nseverance_j_mm2 = 0.5 # guessed\nheads = 4\n[rates]\nkwh = 1\n",
    "empty table": "[laser]\n\n[rates]\nkwh = 1\n",
    "spaces and a comment": "[ laser ] # the line\n  severance_j_mm2=0.5\n",
    "dotted names": "laser.heads = 4\nlaser.severance_j_mm2 = 0.5\n",
    "quoted names": '"laser.severance_j_mm2" = 0.5\n[plant]\nname = "x"\n',
    "a table in a text": '[plant]\nname = """\n[laser]\nseverance_j_mm2 = 3\n"""\n',
    "an inline table": "laser = {heads = 4, severance_j_mm2 = 0.5}\n",
    "windows lines": "[laser]\r\nheads = 4\r\n",
    "texts that need care": '[plant]\nname = "a \\"b\\" \\u007f # no comment"\n',
}


@pytest.mark.parametrize("name", PLANTS)
def test_the_values_are_in_and_all_others_stay(name):
    text = PLANTS[name]
    assert _values(plant_text(text, VALUES, {}, ["head"])) == {**_values(text), **VALUES}


@pytest.mark.parametrize(
    ("name", "comment"),
    [
        ("no such table", "# ours"),
        ("no such table", "kwh = 0.19  # metered"),
        ("table without the values", "heads = 4 # four"),
        ("table without the values", "\n\n# money\n[rates]"),
    ],
)
def test_comments_of_the_plant_stay(name, comment):
    assert comment in plant_text(PLANTS[name], VALUES, {}, [])


def test_a_value_says_where_it_is_from_on_its_own_line():
    text = plant_text("", VALUES, {"laser.mark_delay_ms": "ms, from sheets.csv"}, [])
    assert "mark_delay_ms = 0.41  # ms, from sheets.csv\n" in text


@pytest.mark.parametrize("nasty", ["two\nkwh = 3", "\x1b[31m", "\x00", "a\u2028b"])
def test_a_name_of_a_file_can_not_leave_its_comment(nasty):
    text = plant_text("", VALUES, dict.fromkeys(VALUES, nasty), [nasty])
    assert _values(text) == VALUES
    assert "\x1b" not in text
