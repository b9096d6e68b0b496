"""What is said of a quote that was computed again."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from compare import assumptions
from compare.assumptions import assumption_table
from compare.present.reopen_wording import (
    change_table,
    drawing_words,
    effect_columns,
    effect_of,
    kind_of,
    pinned_sentence,
    reopen_answer,
    reopen_record,
    reopen_view,
)
from compare.quotes.changes import Change, Effect
from compare.quotes.quote_record import QuoteRecord
from tests.quotes.made_quotes import PROGRAM, drawn_quote, quote
from tests.quotes.test_reopen import DRAWINGS, again, edited, plant_with, table_with


def widened(monkeypatch) -> QuoteRecord:
    """A quote, and a table of today in which a range is wider."""
    record = quote("soap_sleeve")
    row = assumption_table()["toolmaker.set_fee"]
    table_with(
        monkeypatch, "assumption_table", assumptions, **{"toolmaker.set_fee": row.model_copy(update={"high": 900.0})}
    )
    return record


def shown(view) -> str:
    """What a terminal of usual width shows."""
    console = Console(width=120, record=True, file=StringIO())
    console.print(view)
    return console.export_text()


def with_factor(record: QuoteRecord, share: float):
    """The quote as a plant with a board factor of its own opens it again."""
    return again(record, layers_now=plant_with(factors__board_kg=record.inputs["factors.board_kg"] * share))


# -- the answer -------------------------------------------------------------------------------------------------------


def test_nothing_that_changed_is_said_so():
    assert reopen_answer(again(quote())) == "Same figures: the quote was computed again and nothing has changed."


def test_a_range_alone_leaves_the_costs_and_may_change_how_sure_they_are(monkeypatch):
    found = again(widened(monkeypatch))
    assert reopen_answer(found) == (
        "1 thing has changed since: the cost figures are the same, but how sure they are may not be."
    )
    assert kind_of(found.changes[0]) == "range"


def test_a_range_beside_a_cost_that_moved_is_said_too(monkeypatch):
    found = again(widened(monkeypatch), layers_now=plant_with(rates__labour_h=40.0))
    answer = reopen_answer(found)
    assert answer.startswith("2 things have changed since: the die costs ")
    assert answer.endswith("; how sure the figures are may have changed, too.")


def test_a_factor_moves_co2e_and_not_the_costs():
    found = with_factor(quote("soap_sleeve"), 1.1)
    before, after = (r.die.figures.co2e_kg_per_1000 for r in (found.record.results, found.results))
    answer = reopen_answer(found)
    assert answer.startswith("1 thing has changed since: the costs are the same; CO2e of the die is ")
    assert f"CO2e of the die is {after:.1f} kg per 1,000, was {before:.1f}; CO2e of the laser is " in answer
    assert "waste" not in answer


def test_board_that_is_spoiled_moves_cost_co2e_and_waste():
    answer = reopen_answer(again(quote("soap_sleeve"), layers_now=plant_with(die__make_ready_first_sheets=400.0)))
    for words in ("the die costs ", "CO2e of the die is ", "waste board of the die is "):
        assert words in answer
    assert "the laser" not in answer


def test_days_that_moved_alone_are_not_called_the_same_figures():
    found = again(quote("soap_sleeve"), layers_now=plant_with(toolmaker__lead_days=30.0))
    assert reopen_answer(found) == (
        "1 thing has changed since: costs, CO2e and waste are the same, but other figures moved."
    )


def test_what_moves_no_figure_is_said_so():
    found = again(quote("soap_sleeve"), layers_now=plant_with(plant__name="Northfold Cartons, works 2"))
    assert reopen_answer(found) == "1 thing has changed since, and the figures are the same."


def test_a_small_move_is_said_by_its_difference():
    answer = reopen_answer(with_factor(quote("soap_sleeve"), 1.00001))
    assert "kg more per 1,000" in answer


# -- the program ------------------------------------------------------------------------------------------------------


def _break_even_moved(data):
    first, second = data["results"]["break_even"]["cost"]["ranges"][:2]
    first["end"], second["start"] = first["end"] + 1, second["start"] + 1


def _cheaper(data):
    data["results"]["cheaper"] = {"die": "laser", "laser": "die"}[data["results"]["cheaper"]]


def _cost(share):
    def edit(data):
        data["results"]["die"]["figures"]["cost_per_1000"] *= share

    return edit


def _both(data):
    _break_even_moved(data)
    _cost(0.9)(data)


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (lambda data: None, "gives the same figures to the last digit."),
        (_cost(1 + 1e-15), "gives the same figures but for rounding."),
        (_break_even_moved, "gives the same figures, but the break-even moved."),
        (_cost(0.9), "differs by up to 10.00% in a figure."),
        (_cost(1 - 1e-6), "differs by less than 0.01% in a figure."),
        (_both, "differs by up to 10.00% in a figure; the break-even moved."),
        (_cheaper, "answers otherwise: which route is possible or cheaper, or how it works, has changed."),
    ],
)
def test_what_the_program_alone_did_is_said_for_what_it_is(edit, said):
    found = again(edited(quote("soap_sleeve"), edit))
    assert pinned_sentence(found) == f"With the values of then, today's program {said}"


def test_other_reasons_why_a_route_is_not_possible_are_no_other_answer():
    found = again(edited(quote("gift_varnish_release"), lambda d: d["results"]["die"]["faults"].append("die.older")))
    assert pinned_sentence(found).endswith("gives the same figures, but other reasons why a route is not possible.")


def test_the_same_version_that_works_something_out_otherwise_is_said_so():
    text = shown(reopen_view(again(edited(quote("soap_sleeve"), _cost(0.9)))))
    assert f"{PROGRAM}, works it out otherwise" in " ".join(text.split())


# -- drawings ---------------------------------------------------------------------------------------------------------


def _folder(tmp_path, *names, changed=()):
    for name in names:
        shutil.copy(DRAWINGS / name, tmp_path)
    for name in changed:
        with (tmp_path / name).open("a") as file:
            file.write("\n")
    return tmp_path


def test_a_drawing_that_nobody_asked_for_is_said_so():
    assert drawing_words(again(drawn_quote())) == "its measures of then stand; its file was not asked for"


def test_a_quote_made_without_the_file_says_so():
    record = drawn_quote()
    bare = replace(record, drawing=replace(record.drawing, sha256="", line_map_sha256=""))
    assert drawing_words(again(bare, folder=DRAWINGS)).endswith("the quote was made without its file")


def test_the_same_file_is_said_so():
    assert drawing_words(again(drawn_quote(), folder=DRAWINGS)) == "the same file as then"


def test_a_file_that_the_folder_lacks_is_named(tmp_path):
    found = again(drawn_quote(), folder=_folder(tmp_path, "window_carton.dxf"))
    assert drawing_words(found) == "its measures of then stand; lines.toml is not in the folder"


def test_a_folder_without_both_files_names_both(tmp_path):
    words = drawing_words(again(drawn_quote(), folder=tmp_path))
    assert words.endswith("window_carton.dxf and lines.toml are not in the folder")


def test_another_line_map_is_told_by_its_name_with_twelve_digits(tmp_path):
    found = again(drawn_quote(), folder=_folder(tmp_path, "window_carton.dxf", "lines.toml", changed=["lines.toml"]))
    assert drawing_words(found) == "lines.toml is another file than then, and today's figures are from it"
    text = shown(reopen_view(found))
    digest = drawn_quote().drawing.line_map_sha256
    assert digest[:12] in text
    assert digest[:13] not in text
    assert drawn_quote().drawing.sha256[:12] not in text


# -- the table --------------------------------------------------------------------------------------------------------


def _change(**effect) -> Change:
    die = Effect(**{"cost": 0.0, "co2e_kg": 0.0, "waste_kg": 0.0, **effect})
    return Change("plant value", "rates.kwh", 0.2, 0.3, "money/kWh", {"die": die, "laser": None})


@pytest.mark.parametrize(
    ("effect", "units"),
    [
        ({"cost": 1.0}, ["EUR"]),
        ({"cost": 1.0, "co2e_kg": 2.0}, ["EUR", "kg CO2e"]),
        ({"waste_kg": 2.0}, ["EUR", "kg waste"]),
        ({"co2e_kg": -1.0, "waste_kg": 2.0}, ["EUR", "kg CO2e", "kg waste"]),
    ],
)
def test_kilograms_have_columns_where_a_change_moves_them(effect, units):
    columns = effect_columns([_change(cost=5.0), _change(**effect)], "EUR")
    assert list(columns) == [f"{route}, {unit}" for unit in units for route in ("die", "laser")]


def test_a_cell_says_what_its_column_is_about():
    change = _change(cost=1.0, co2e_kg=-2.5)
    assert [effect_of(change, "die", of) for of in ("cost", "co2e_kg", "waste_kg")] == ["+1.00", "-2.50", "0"]
    assert effect_of(change, "laser", "co2e_kg") == "-"
    assert effect_of(change, "die") == "+1.00"


def test_a_factor_that_changed_is_shown_in_kilograms():
    found = with_factor(quote("soap_sleeve"), 1.1)
    effect = found.changes[0].effects["die"].co2e_kg
    text = shown(change_table(found.changes, "EUR"))
    assert "die, kg CO2e" in text
    assert f"+{effect:.2f}" in text
    assert "kg waste" not in text


# -- the record -------------------------------------------------------------------------------------------------------


def test_a_range_that_changed_is_plain_data_with_its_meaning(monkeypatch):
    data = reopen_record(again(widened(monkeypatch)), "0" * 12)
    (change,) = json.loads(json.dumps(data, allow_nan=False))["changes"]
    assert change == {
        "kind": "range",
        "name": "range of toolmaker.set_fee",
        "meaning": assumption_table()["toolmaker.set_fee"].meaning,
        "before": "80..400 triangular",
        "after": "80..900 triangular",
        "unit": "",
        "effects": {"die": None, "laser": None},
    }
    assert data["same"] is False


def test_the_record_says_that_the_break_even_moved():
    data = reopen_record(again(edited(quote("soap_sleeve"), _break_even_moved)), "")
    assert data["with_values_of_then"] == {"exact": False, "largest_share": 0.0, "break_even_moved": True}


def test_the_record_has_no_number_where_the_answer_is_another():
    data = reopen_record(again(edited(quote("soap_sleeve"), _cheaper)), "")
    assert data["with_values_of_then"]["largest_share"] is None


def test_the_record_names_files_that_are_missing(tmp_path):
    data = reopen_record(again(drawn_quote(), folder=tmp_path), "")
    assert (data["drawing"], data["drawing_files"]) == ("not in the folder", ["window_carton.dxf", "lines.toml"])
