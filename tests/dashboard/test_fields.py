"""Fields of the Job view: every input of a job has one, with its unit, its help and a name."""

from __future__ import annotations

import pytest

from compare.assumptions import assumption_table
from compare.boards import boards
from compare.factors import countries
from compare.geometry.styles import STYLES
from compare.present.numbers import PLAIN, NumberStyle
from dashboard.fields import FIELDS, GROUPS, LENGTHS, OWN_BOARD, component, from_screen, options, to_screen

TABLE = assumption_table()
NUMBERS = [name for name, field in FIELDS.items() if field.kind == "number"]

IN_THE_TABLE_ONLY = {
    "carton.dust_flap_mm": "worked out from its share of W",
    "carton.drawing": "named in a job file; on screen it is uploaded",
    "carton.drawing_unit": "comes with a drawing",
    "carton.line_map": "comes with a drawing",
    "layout.pattern": "comes with a drawing",
    "layout.shared_die_m": "worked out where blanks are laid",
    "layout.shared_laser_m": "worked out where blanks are laid",
    "carton.blank_width_mm": "comes with a drawing",
    "carton.blank_height_mm": "comes with a drawing",
    "work.smallest_gap_mm": "comes with a drawing",
    "work.smallest_radius_mm": "comes with a drawing",
    "press_capital.purchase": "the plant's, in the machine-hour-rate helper",
    "line_capital.purchase": "the plant's, in the machine-hour-rate helper",
    "plant.name": "the plant's own file",
    "laser.fields_across": "the plant's, like the other values of its line",
    "laser.field_width_mm": "the plant's, like the other values of its line",
    "laser.field_length_mm": "the plant's, like the other values of its line",
}
"""Values of a job that the Assumptions view alone can change, and why."""


def test_every_value_of_a_job_has_a_field_or_a_reason():
    of_a_job = {name for name, row in TABLE.items() if row.basis == "the job's own"}
    assert of_a_job - FIELDS.keys() == IN_THE_TABLE_ONLY.keys() & of_a_job
    assert IN_THE_TABLE_ONLY.keys() <= of_a_job


def test_every_field_is_an_input_of_the_engine():
    assert FIELDS.keys() <= TABLE.keys()


def test_no_input_has_two_fields():
    names = [field.name for _, group in GROUPS for field in group]
    assert len(names) == len(set(names))


def test_no_two_fields_that_can_be_on_screen_together_have_the_same_name():
    """Who hears the page and does not see it has nothing but the name."""
    labels = [field.label for field in FIELDS.values()]
    assert sorted(label for label in labels if labels.count(label) > 1) == []


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("name", FIELDS)
def test_every_field_has_a_name_and_help_with_its_meaning(name, system):
    shown = component(FIELDS[name], TABLE[name].value, system, "SEK", PLAIN)
    assert shown.label.startswith(FIELDS[name].label)
    assert shown.description.startswith(TABLE[name].meaning)


@pytest.mark.parametrize(
    ("name", "metric", "us"),
    [
        ("sheet.width_mm", "Sheet width, mm", "Sheet width, in"),
        ("board.caliper_mm", "Caliper, µm", "Caliper, pt"),
        ("board.grammage_g_m2", "Grammage, g/m2", "Grammage, lb/1,000 sq ft"),
        ("work.cutting_m", "Cutting, m", "Cutting, ft"),
        ("sheet.print_cost", "Printed sheet, SEK/sheet", "Printed sheet, SEK/sheet"),
        ("demand.versions", "Versions", "Versions"),
    ],
)
def test_a_field_names_the_unit_it_is_in(name, metric, us):
    for system, label in (("metric", metric), ("us", us)):
        assert component(FIELDS[name], 1.0, system, "SEK", PLAIN).label == label


@pytest.mark.parametrize("name", [n for n in NUMBERS if TABLE[n].low is not None])
def test_help_names_the_usual_range_and_where_it_is_from(name):
    text = component(FIELDS[name], 1.0, "metric", "EUR", PLAIN).description
    assert "Usually" in text
    assert TABLE[name].basis in text


def test_help_gives_the_range_in_the_units_on_screen():
    """A range in grams beside a field in pounds would be worse than none."""
    inch = component(FIELDS["sheet.print_cost"], 0.12, "us", "USD", PLAIN)
    assert "[USD/sheet]" in inch.description
    ranged = [n for n in NUMBERS if TABLE[n].low is not None and TABLE[n].unit in ("mm", "m", "g/m2")]
    for name in ranged:
        from dashboard.units import shown_as

        shown = shown_as(name, TABLE[name].unit, "us")
        assert f"{shown.show(TABLE[name].low):g}" in component(FIELDS[name], 1.0, "us", "USD", PLAIN).description


def test_numbers_are_written_the_readers_way():
    german = component(FIELDS["demand.run_length"], 20_000.0, "metric", "EUR", NumberStyle(",", "."))
    assert (german.decimalSeparator, german.thousandSeparator) == (",", ".")


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("name", NUMBERS)
def test_a_field_left_alone_gives_back_what_was_stored(name, system):
    for stored in {TABLE[name].low, TABLE[name].high, TABLE[name].value, 123.456789012345} - {None}:
        shown = to_screen(FIELDS[name], stored, system)
        assert from_screen(FIELDS[name], shown, system, stored) == stored


def test_the_choices_that_mean_no_style_and_no_grade_store_nothing():
    for name, choice in (("carton.style", LENGTHS), ("board.grade", OWN_BOARD)):
        assert to_screen(FIELDS[name], "", "metric") == to_screen(FIELDS[name], None, "metric") == choice
        assert from_screen(FIELDS[name], choice, "metric", "x") == ""


@pytest.mark.parametrize(("shown", "stored"), [(True, 1.0), (False, 0.0), (None, 0.0)])
def test_a_switch_stores_one_or_nought(shown, stored):
    assert from_screen(FIELDS["tooling.owned"], shown, "metric", 0.0) == stored


@pytest.mark.parametrize("value", ["", None, "12", True])
def test_what_is_no_number_is_passed_on_to_be_refused(value):
    assert from_screen(FIELDS["demand.versions"], value, "us", 2.0) is value


def test_every_choice_of_the_engine_is_offered():
    assert {o["value"] for o in options("carton.style")} == {*STYLES, LENGTHS}
    assert {o["value"] for o in options("board.grade")} == {*(b.grade for b in boards().values()), OWN_BOARD}
    assert {o["value"] for o in options("plant.country")} == set(countries())
    for name in ("board.laminate", "sheet.grain", "laser.motion", "laser.path"):
        assert {o["value"] for o in options(name)} == set(TABLE[name].valid.split("|"))


@pytest.mark.parametrize("name", [n for n, f in FIELDS.items() if f.kind == "select"])
def test_no_two_choices_read_the_same(name):
    labels = [o["label"] for o in options(name)]
    assert len(labels) == len(set(labels))
