"""How sure a quote's figures were: a range that changed is told, though no figure moves."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from compare import assumptions, boards
from compare.assumptions import assumption_table
from compare.decide.comparison import compare
from compare.quotes.quote_record import QuoteRecord, canonical
from compare.quotes.record_reader import read_record
from compare.quotes.recording import record_quote
from compare.quotes.reopen import Reopened
from compare.readers.jobfile import Layer, check_ranges, ranges_layer
from compare.scenario import prepare
from tests.quotes.made_quotes import PROGRAM, asked, drawn_quote, job_layer, plant_layer, quote
from tests.quotes.test_reopen import again, table_with


def with_ranges(**texts) -> tuple[Layer, ...]:
    """The plant of today with other ranges; None takes one away."""
    layer = plant_layer()
    named = {name.replace("__", "."): text for name, text in texts.items()}
    kept = {name: given for name, given in layer.ranges.items() if name not in named}
    read = check_ranges({name: text for name, text in named.items() if text}, where="plant")
    return (replace(layer, ranges={**kept, **read}),)


def told(found: Reopened) -> list[tuple]:
    """What has changed, in short."""
    return [(change.kind, change.name, change.before, change.after) for change in found.changes]


def row_with(monkeypatch, name: str, **update) -> None:
    """A row of the table of assumptions as another version of the tables has it."""
    row = assumption_table()[name]
    table_with(monkeypatch, "assumption_table", assumptions, **{name: row.model_copy(update=update)})


def test_a_range_of_the_table_that_widened_is_told_though_no_figure_moves(monkeypatch):
    record = quote("soap_sleeve")
    row_with(monkeypatch, "toolmaker.set_fee", high=900.0)
    found = again(record)
    assert told(found) == [("range", "range of toolmaker.set_fee", "80..400 triangular", "80..900 triangular")]
    assert found.figures == ()
    assert not found.same
    assert found.changes[0].effects == {"die": None, "laser": None}


def test_another_shape_over_the_same_ends_is_told(monkeypatch):
    record = quote("soap_sleeve")
    row_with(monkeypatch, "toolmaker.set_fee", shape="pert")
    assert told(again(record))[0][2:] == ("80..400 triangular", "80..400 pert")


@pytest.mark.parametrize(
    ("text", "after"),
    [("30..40", "30..40 triangular"), ("fixed", None), (None, None), ("20..33", "20..33, not usable")],
)
def test_a_range_of_the_plant_that_changed_is_told(text, after):
    found = again(quote("soap_sleeve"), layers_now=with_ranges(rates__labour_h=text))
    assert told(found) == [("range", "range of rates.labour_h", "32..37 triangular", after)]
    assert not found.same


def test_a_range_that_the_plant_newly_gives_is_told():
    found = again(quote("soap_sleeve"), layers_now=with_ranges(laser__power_w="350..450"))
    (change,) = found.changes
    assert (change.name, change.before) == ("range of laser.power_w", None)


def test_the_recorded_ranges_of_the_job_stand_with_the_plant_of_today():
    layer = ranges_layer(["demand.run_length=4000..9000"])
    plants, jobs = (plant_layer(),), (job_layer("cosmetics_cutouts"), layer)
    record = _recorded(plants, jobs)
    assert record.ranges["demand.run_length"] == "4000..9000 triangular"
    assert again(record).same
    assert again(record, layers_now=plants).same


def _recorded(plants, jobs) -> QuoteRecord:
    comparison = compare(prepare(*plants, *jobs))
    return record_quote(comparison, plants, jobs, asked((comparison.run_length,)), program=PROGRAM)


def test_a_value_that_changed_is_told_without_its_range():
    """The ends of a lognormal move with its value, and those of a board's price."""
    plant = plant_layer()
    now = replace(
        plant,
        values={**plant.values, "rates.labour_h": 36.0, "plant.country": "PL"},
        ranges={**plant.ranges, **check_ranges({"rates.labour_h": "30..40"}, where="plant")},
    )
    found = again(quote("soap_sleeve"), layers_now=(now,))
    assert [change.name for change in found.changes] == ["plant.country", "rates.labour_h"]


def test_a_board_that_became_dearer_is_told_without_the_range_that_follows(monkeypatch):
    record = quote("soap_sleeve")
    row = boards.boards()["kraft_300"]
    table_with(monkeypatch, "boards", boards, kraft_300=row.model_copy(update={"price_per_t": row.price_per_t + 100}))
    assert [change.name for change in again(record).changes] == ["board.price_per_t"]


def test_a_rate_that_is_worked_out_now_is_told_by_its_cause_and_not_by_ranges_that_follow():
    bare = Layer("plant.toml", {"plant.name": "Northfold Cartons"})
    record = quote("soap_sleeve", plant=bare)
    assert "rates.press_h" in record.ranges
    now = Layer("plant.toml", {**bare.values, "press_capital.purchase": 1e6})
    assert [change.name for change in again(record, layers_now=(now,)).changes] == ["press_capital.purchase"]


def test_a_range_beside_another_change_is_told_with_it(monkeypatch):
    record = quote("soap_sleeve")
    row_with(monkeypatch, "toolmaker.set_fee", shape="fixed")
    plant = plant_layer()
    ranges = {name: given for name, given in plant.ranges.items() if name != "die.make_ready_first_h"}
    now = replace(plant, values={**plant.values, "rates.kwh": 0.3}, ranges=ranges)
    found = again(record, layers_now=(now,))
    assert [change.name for change in found.changes] == [
        "rates.kwh",
        "range of die.make_ready_first_h",
        "range of toolmaker.set_fee",
    ]


def test_a_recorded_range_of_a_kind_that_is_gone_is_a_change_and_no_crash():
    record = quote("soap_sleeve")
    data = json.loads(record.to_bytes())
    data["versions"]["tables"] = "0" * 12
    data["layers"][0]["ranges"]["rates.labour_h"] = "beta 3"
    found = again(read_record(canonical(data)))
    assert told(found) == [("range", "range of rates.labour_h", "32..37 triangular", "beta 3, not usable")]


def test_a_recorded_range_of_an_abolished_name_is_told_with_its_value_alone():
    data = json.loads(quote("soap_sleeve").to_bytes())
    data["versions"]["tables"] = "0" * 12
    data["layers"][0]["values"]["rates.abolished_h"] = 7.0
    data["layers"][0]["ranges"]["rates.abolished_h"] = "5..9"
    assert told(again(read_record(canonical(data)))) == [("layer", "rates.abolished_h", 7.0, None)]


def test_a_range_of_what_the_carton_is_drawn_from_is_a_change_and_no_crash():
    found = again(quote("cosmetics_cutouts"), layers_now=with_ranges(work__nicks_per_m="1..20"))
    assert [(change.name, change.after) for change in found.changes] == [
        ("range of work.nicks_per_m", "1..20, not usable")
    ]


def test_a_table_that_contradicts_itself_is_a_change_and_no_crash(monkeypatch):
    record = quote("soap_sleeve")
    row_with(monkeypatch, "toolmaker.set_fee", low=399.0)
    (change,) = again(record).changes
    assert (change.kind, change.name) == ("range", "ranges")
    assert "outside its range" in change.after


def test_a_drawing_without_its_file_has_the_ranges_it_had():
    assert again(drawn_quote()).same


def test_ranges_are_compared_for_the_machine_rates_of_the_quote():
    record = quote("soap_sleeve", costing="cash")
    assert again(record, layers_now=(plant_layer(),)).same
