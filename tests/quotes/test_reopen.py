"""A quote computed again: the same, or what changed and what each change did."""

from __future__ import annotations

import hashlib
import json
import shutil
from dataclasses import replace
from types import MappingProxyType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare import assumptions, boards, factors
from compare.decide.comparison import compare
from compare.errors import EvenrunError, InputError
from compare.quotes.changes import FigureChange, alike
from compare.quotes.quote_record import QuoteRecord, canonical
from compare.quotes.record_reader import read_record
from compare.quotes.reopen import Reopened, reopen
from compare.readers.jobfile import Layer
from compare.scenario import prepare
from tests.quotes.made_quotes import DATA, PROGRAM, drawn_quote, job_layer, one_line, plant_layer, quote

DRAWINGS = DATA / "demo" / "drawings"


def again(record: QuoteRecord, **more) -> Reopened:
    """Reopen a quote that went through its bytes."""
    return reopen(read_record(record.to_bytes()), program=PROGRAM, **more)


def plant_with(**values) -> tuple[Layer, ...]:
    """The plant of today, some of its values others, and those without a range."""
    return (changed_plant({name.replace("__", "."): value for name, value in values.items()}),)


def changed_plant(values) -> Layer:
    """The plant with some values others, and those without a range."""
    layer = plant_layer()
    ranges = {name: given for name, given in layer.ranges.items() if name not in values}
    return replace(layer, values={**layer.values, **values}, ranges=ranges)


def costs(record: QuoteRecord) -> dict[str, float]:
    """Costs per 1,000 of the routes that can make the job."""
    routes = {"die": record.results.die, "laser": record.results.laser}
    return {name: route.figures.cost_per_1000 for name, route in routes.items() if route.figures}


def edited(record: QuoteRecord, edit) -> QuoteRecord:
    """A record as another program or other tables would have written it."""
    data = json.loads(record.to_bytes())
    edit(data)
    return read_record(canonical(data))


# -- nothing changed --------------------------------------------------------------------------------------------------


def test_a_quote_reopened_at_once_is_the_same_to_the_last_digit(demo_job):
    found = again(quote(demo_job))
    assert found.same
    assert found.changes == found.figures == ()
    assert found.pinned.exact
    assert found.pinned.share == 0


@pytest.mark.parametrize("costing", ["full", "cash"])
def test_the_same_plant_of_today_changes_nothing(costing):
    record = quote("soap_sleeve", costing=costing)
    found = again(record, layers_now=(plant_layer(),))
    assert found.same
    assert found.comparison.costing == costing


def test_settings_of_the_command_line_are_the_jobs_and_stay():
    record = quote("soap_sleeve", "laser.heads=2", "plant.country=SE", "factors.board_kg=0.9")
    found = again(record, layers_now=plant_with())
    assert found.same
    assert found.comparison.scenario.inputs["laser.heads"] == 2


def test_a_newer_program_with_the_same_figures_is_no_change():
    record = replace(quote(), versions=replace(quote().versions, program="0.0.1", tables="0" * 12))
    found = again(record)
    assert found.same
    assert (found.program, found.tables[0]) == (("0.0.1", PROGRAM), "0" * 12)


# -- the plant --------------------------------------------------------------------------------------------------------


def test_a_value_of_the_plant_that_changed_is_named_with_what_it_did():
    record = quote("soap_sleeve")
    found = again(record, layers_now=plant_with(rates__labour_h=40.0))
    assert not found.same
    (change,) = found.changes
    assert (change.kind, change.name, change.before, change.after) == ("plant value", "rates.labour_h", 34, 40)
    assert change.unit == "money/h"
    now = compare(prepare(*plant_with(rates__labour_h=40.0), job_layer("soap_sleeve")))
    assert change.effects["die"].cost == pytest.approx(now.die.cost_per_1000 - costs(record)["die"])
    assert change.effects["laser"].cost == pytest.approx(now.laser.cost_per_1000 - costs(record)["laser"])
    assert change.effects["die"].co2e_kg == change.effects["die"].waste_kg == 0
    assert found.pinned.exact  # with the values of then, the figures of then


def test_a_change_behind_a_rate_is_told_by_its_cause():
    """The rate follows from the purchase price; the price is what somebody changed."""
    record = quote("soap_sleeve")
    found = again(record, layers_now=plant_with(line_capital__purchase=2_500_000.0))
    (change,) = found.changes
    assert change.name == "line_capital.purchase"
    assert change.effects["laser"].cost > 0
    assert change.effects["die"].cost == 0


def test_a_rate_that_the_plant_begins_to_work_out_is_told_by_its_cause():
    bare = Layer("plant.toml", {"plant.name": "Northfold Cartons"})
    record = quote("soap_sleeve", plant=bare)
    now = Layer("plant.toml", {**bare.values, "press_capital.purchase": 1e6})
    (change,) = again(record, layers_now=(now,)).changes
    assert (change.kind, change.name, change.before, change.after) == (
        "plant value",
        "press_capital.purchase",
        None,
        1e6,
    )
    assert change.effects["die"].cost < 0


def test_each_of_several_changes_is_told_alone():
    record = quote("soap_sleeve")
    now = plant_with(rates__labour_h=40.0, laser__heads=2.0, plant__country="PL", rates__kwh=0.25)
    found = again(record, layers_now=now)
    assert [change.name for change in found.changes] == ["laser.heads", "plant.country", "rates.kwh", "rates.labour_h"]
    country = found.changes[1]
    assert (country.before, country.after, country.unit) == ("DE", "PL", "")
    assert country.effects["die"].cost == 0
    assert country.effects["die"].co2e_kg > 0
    for change in found.changes:
        alone = again(record, layers_now=plant_with(**{change.name.replace(".", "__"): change.after}))
        assert alone.changes == (change,)


def test_a_value_that_the_plant_no_longer_gives_is_told_with_the_tables_instead():
    layer = plant_layer()
    values, ranges = dict(layer.values), dict(layer.ranges)
    del values["rates.labour_h"], ranges["rates.labour_h"]
    bare = replace(layer, values=values, ranges=ranges)
    (change,) = again(quote(), layers_now=(bare,)).changes
    assert (change.name, change.before, change.after) == ("rates.labour_h", 34, 32)
    assert change.effects["die"].cost < 0


def test_a_value_that_the_plant_newly_gives_is_told_against_the_tables():
    (change,) = again(quote(), layers_now=plant_with(laser__setup_h=0.5)).changes
    assert (change.kind, change.before, change.after) == ("plant value", 0.25, 0.5)


def test_a_value_that_the_job_gives_itself_is_not_changed_by_the_plant():
    record = quote("soap_sleeve", "rates.labour_h=50")
    assert again(record, layers_now=plant_with(rates__labour_h=40.0)).same


def test_a_value_given_as_the_table_has_it_is_no_change_but_is_taken_as_known():
    found = again(quote(), layers_now=plant_with(laser__setup_h=0.25))
    (change,) = found.changes
    assert (change.kind, change.name, change.after) == ("range", "range of laser.setup_h", None)
    assert found.figures == ()


def test_a_change_that_only_goes_with_another_has_no_effect_of_its_own():
    """A residual value above the old purchase price can't be computed alone."""
    now = plant_with(line_capital__purchase=4e6, line_capital__residual=3e6)
    found = again(quote(), layers_now=now)
    residual = next(change for change in found.changes if change.name == "line_capital.residual")
    assert residual.effects == {"die": None, "laser": None}
    assert found.figures


def test_what_makes_a_route_impossible_is_told_without_a_figure():
    found = again(quote("soap_sleeve"), layers_now=plant_with(laser__max_caliper_mm=0.1))
    (change,) = found.changes
    assert change.effects["laser"] is None
    assert change.effects["die"] is not None
    changed = {figure.name: figure for figure in found.figures}
    assert changed["laser.figures.cost_per_1000"].after is None
    assert changed["laser.faults"].after
    assert changed["laser.figures.cost_per_1000"].share == float("inf")


@settings(max_examples=25, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(["rates.labour_h", "rates.kwh", "laser.setup_h", "die.crew", "toolmaker.set_fee"]),
        st.floats(0.1, 100),
        max_size=3,
    )
)
def test_what_the_plant_says_today_gives_the_figures_of_a_quote_made_today(values):
    record = quote("cosmetics_cutouts")
    now = changed_plant(values)
    found = again(record, layers_now=(now,))
    fresh = quote("cosmetics_cutouts", plant=now)
    assert found.results == fresh.results
    assert found.pinned.exact
    differing = {name for name in values if not alike(record.inputs[name], values[name])}
    assert {change.name for change in found.changes if change.kind != "range"} == differing
    assert found.same == (not found.changes)


# -- assumptions, boards, factors -------------------------------------------------------------------------------------


def table_with(monkeypatch, table: str, module, **rows):
    """Exchange rows of a table wherever it is used."""
    changed = MappingProxyType({**getattr(module, table)(), **rows})
    for place in _users_of(table):
        monkeypatch.setattr(place, lambda: changed)


def _users_of(table: str) -> list[str]:
    import sys

    return [
        f"{name}.{table}"
        for name, module in list(sys.modules.items())
        if name.startswith("compare.") and hasattr(module, table)
    ]


def test_an_assumption_that_changed_is_named_with_what_it_did(monkeypatch):
    record = quote("soap_sleeve")
    row = assumptions.assumption_table()["laser.setup_h"]
    table_with(
        monkeypatch,
        "assumption_table",
        assumptions,
        **{"laser.setup_h": row.model_copy(update={"value": 0.75, "high": 0.9})},
    )
    found = again(record)
    (change,) = found.changes
    assert (change.kind, change.name, change.before, change.after) == ("assumption", "laser.setup_h", 0.25, 0.75)
    assert change.effects["laser"].cost == pytest.approx(
        found.results.laser.figures.cost_per_1000 - costs(record)["laser"]
    )
    assert change.effects["laser"].cost > 0
    assert found.pinned.exact
    assert not found.same


def test_an_assumption_that_the_plant_gives_today_is_the_plants(monkeypatch):
    row = assumptions.assumption_table()["laser.setup_h"]
    record = quote()
    table_with(
        monkeypatch,
        "assumption_table",
        assumptions,
        **{"laser.setup_h": row.model_copy(update={"value": 0.75, "high": 0.9})},
    )
    found = again(record, layers_now=plant_with(laser__setup_h=0.25))
    assert [change.kind for change in found.changes] == ["range"]
    assert found.figures == ()


def test_an_assumption_that_changed_before_the_plant_gave_it_is_told_as_it_was_then(monkeypatch):
    row = assumptions.assumption_table()["laser.setup_h"]
    record = quote()
    table_with(
        monkeypatch,
        "assumption_table",
        assumptions,
        **{"laser.setup_h": row.model_copy(update={"value": 0.75, "high": 0.9})},
    )
    (change,) = again(record, layers_now=plant_with(laser__setup_h=0.5)).changes
    assert (change.kind, change.before, change.after) == ("plant value", 0.25, 0.5)
    assert change.effects["laser"].cost > 0


def test_a_board_that_changed_in_the_table_is_named(monkeypatch):
    record = quote("soap_sleeve")
    row = boards.boards()["kraft_300"]
    table_with(monkeypatch, "boards", boards, kraft_300=row.model_copy(update={"price_per_t": row.price_per_t + 100}))
    found = again(record)
    (change,) = found.changes
    assert (change.kind, change.name, change.after) == ("tables", "board.price_per_t", row.price_per_t + 100)
    # 100 a tonne on the board of 1,000 cartons, waste included
    assert 0 < change.effects["die"].cost < 10
    assert change.effects["die"].cost == pytest.approx(found.results.die.figures.cost_per_1000 - costs(record)["die"])


def test_a_factor_that_changed_is_named_with_the_carbon_it_brings(monkeypatch):
    record = quote("soap_sleeve")
    key = record.factors["board_kg"].keys[0]
    row = factors.factors()[key]
    changed = MappingProxyType({**factors.factors(), key: row.model_copy(update={"value": row.value * 1.1})})
    factors.from_keys.cache_clear()
    monkeypatch.setattr(factors, "factors", lambda: changed)
    found = again(record)
    factors.from_keys.cache_clear()
    (change,) = found.changes
    assert (change.kind, change.name, change.unit) == ("factor", "factors.board_kg", "kg CO2e/kg")
    assert change.after == pytest.approx(1.1 * change.before)
    assert change.effects["die"].cost == 0
    assert change.effects["die"].co2e_kg > 0
    assert found.pinned.exact


def test_a_new_row_of_the_table_is_told_as_one():
    def edit(data):
        data["versions"]["tables"] = "0" * 12
        del data["inputs"]["laser.setup_h"], data["origins"]["laser.setup_h"]

    (change,) = again(edited(quote(), edit)).changes
    assert (change.kind, change.name, change.before, change.after) == ("assumption", "laser.setup_h", None, 0.25)


def test_a_given_value_that_the_tables_no_longer_take_is_left_out_and_told():
    def edit(data):
        data["versions"]["tables"] = "0" * 12
        data["layers"][1]["values"]["rates.abolished_h"] = 7.0

    (change,) = again(edited(quote(), edit)).changes
    assert (change.kind, change.name, change.before, change.after) == ("layer", "rates.abolished_h", 7.0, None)


def test_an_assumption_that_is_gone_is_told():
    def edit(data):
        data["versions"]["tables"] = "0" * 12
        data["inputs"]["rates.abolished_h"], data["origins"]["rates.abolished_h"] = 7.0, "assumption"

    (change,) = again(edited(quote(), edit)).changes
    assert (change.kind, change.name, change.before, change.after) == ("assumption", "rates.abolished_h", 7.0, None)


# -- the program ------------------------------------------------------------------------------------------------------


def test_other_figures_from_the_same_inputs_are_the_programs():
    record = quote("soap_sleeve")
    figures = replace(record.results.die.figures, cost_per_1000=costs(record)["die"] - 1)
    older = replace(record, results=replace(record.results, die=replace(record.results.die, figures=figures)))
    found = again(older)
    assert not found.same
    (change,) = found.changes
    assert (change.kind, change.name) == ("program", "program")
    assert change.effects["die"].cost == pytest.approx(1)
    assert (change.before, change.after) == (PROGRAM, f"{PROGRAM}, works it out otherwise")
    assert change.effects["laser"].cost == 0
    assert [figure.name for figure in found.pinned.figures] == ["die.figures.cost_per_1000"]
    assert found.pinned.share == pytest.approx(1 / costs(record)["die"])


def test_another_program_is_named_by_its_version():
    record = quote("soap_sleeve")
    figures = replace(record.results.die.figures, cost_per_1000=costs(record)["die"] - 1)
    results = replace(record.results, die=replace(record.results.die, figures=figures))
    older = replace(record, results=results, versions=replace(record.versions, program="0.0.9"))
    (change,) = again(older).changes
    assert (change.before, change.after) == ("0.0.9", PROGRAM)


def test_a_break_even_that_moved_by_a_carton_is_told_as_that_and_as_no_other_route():
    def edit(data):
        first, second = data["results"]["break_even"]["cost"]["ranges"][:2]
        first["end"], second["start"] = first["end"] + 1, second["start"] + 1

    found = again(edited(quote("soap_sleeve"), edit))
    assert (found.pinned.share, found.pinned.break_even_moved) == (0.0, True)
    assert [(change.kind, change.name) for change in found.changes] == [("program", "program")]
    assert not found.same


@pytest.mark.parametrize(
    ("name", "before", "after", "share"),
    [
        ("cheaper", "die", "laser", float("inf")),
        ("die.strategy", "ganged", "per version", float("inf")),
        ("die.figures.cost_per_1000", None, 80.0, float("inf")),
        ("die.figures.cost_per_1000", 100.0, 80.0, 0.2),
        ("die.figures.stage_costs.tooling", None, 3.0, 1.0),
        ("die.faults", "die.small_gap", "die.small_gap, die.caliper", 0.0),
        ("break_even.cost.ranges", "1..99 laser; 100..200 die", "1..98 laser; 99..200 die", 0.0),
        ("break_even.cost.run_length", 100, None, 0.0),
    ],
)
def test_only_what_is_cheaper_possible_or_a_way_of_working_counts_as_another_answer(name, before, after, share):
    change = FigureChange(name, before, after)
    assert change.share == pytest.approx(share)
    assert change.differs


def test_a_last_digit_that_differs_is_shown_and_is_no_change():
    """Another machine may round a sum otherwise."""
    record = quote("soap_sleeve")
    figures = replace(record.results.die.figures, cost_per_1000=costs(record)["die"] * (1 + 1e-15))
    older = replace(record, results=replace(record.results, die=replace(record.results.die, figures=figures)))
    found = again(older)
    assert found.same
    assert not found.pinned.exact
    assert 0 < found.pinned.share < 1e-14


def test_what_the_program_works_out_otherwise_is_named():
    """As if an older program had drawn the style a little longer."""

    def edit(data):
        data["inputs"]["work.creasing_m"] += 0.1

    found = again(edited(quote("cosmetics_cutouts"), edit))
    by_name = {change.name: change for change in found.changes}
    assert by_name["work.creasing_m"].kind == "program"
    assert by_name["work.creasing_m"].effects["die"].cost < 0


def test_a_path_that_is_planned_otherwise_is_named():
    def edit(data):
        for head in data["loads"]["heads"]:
            head["strokes"] *= 5000

    found = again(edited(quote("soap_sleeve"), edit))
    names = [(change.kind, change.name) for change in found.changes]
    assert ("program", "laser.path") in names


# -- drawings ---------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def drawn() -> QuoteRecord:
    """The quote of a job that names a drawing."""
    return drawn_quote()


def test_a_quote_from_a_drawing_is_the_same_without_its_file(drawn):
    found = again(drawn)
    assert found.same
    assert found.figures == ()
    assert found.drawing == "as measured then"


def test_a_folder_without_the_files_is_told_and_the_measures_of_then_stand(drawn, tmp_path):
    found = again(drawn, folder=tmp_path)
    assert (found.same, found.drawing) == (True, "not in the folder")
    assert found.drawing_files == ("window_carton.dxf", "lines.toml")


def test_a_folder_that_lacks_one_of_the_files_is_told_by_its_name(drawn, tmp_path):
    shutil.copy(DRAWINGS / "window_carton.dxf", tmp_path)
    found = again(drawn, folder=tmp_path)
    assert (found.same, found.drawing, found.drawing_files) == (True, "not in the folder", ("lines.toml",))


def test_the_same_file_at_hand_is_measured_again(drawn):
    found = again(drawn, folder=DRAWINGS)
    assert found.drawing == "same file"
    assert found.same
    assert found.figures == ()
    assert found.comparison.scenario.drawn is not None


def test_another_file_of_the_name_is_told_with_what_it_does(drawn, tmp_path):
    for name in ("window_carton.dxf", "lines.toml"):
        shutil.copy(DRAWINGS / name, tmp_path)
    with (tmp_path / "window_carton.dxf").open("a") as file:
        file.write("\n")
    found = again(drawn, folder=tmp_path)
    (change,) = found.changes
    assert (change.kind, change.name, found.drawing) == ("drawing", "window_carton.dxf", "another file")
    assert change.before == drawn.drawing.sha256[:12]
    assert change.after == hashlib.sha256((tmp_path / "window_carton.dxf").read_bytes()).hexdigest()[:12]
    assert change.effects["die"].cost == pytest.approx(0, abs=1e-9)  # other bytes, the same lines
    assert found.drawing_files == ("window_carton.dxf",)
    assert not found.same


def test_another_line_map_is_told_as_that_file_and_not_as_the_drawing(drawn, tmp_path):
    for name in ("window_carton.dxf", "lines.toml"):
        shutil.copy(DRAWINGS / name, tmp_path)
    with (tmp_path / "lines.toml").open("a") as file:
        file.write("\n")
    found = again(drawn, folder=tmp_path)
    (change,) = found.changes
    assert (change.kind, change.name) == ("drawing", "lines.toml")
    assert change.before == drawn.drawing.line_map_sha256[:12]
    assert change.after == hashlib.sha256((tmp_path / "lines.toml").read_bytes()).hexdigest()[:12]


def test_two_other_files_are_told_as_one_change_as_neither_can_be_computed_alone(drawn, tmp_path):
    for name in ("window_carton.dxf", "lines.toml"):
        shutil.copy(DRAWINGS / name, tmp_path)
        with (tmp_path / name).open("a") as file:
            file.write("\n")
    (change,) = again(drawn, folder=tmp_path).changes
    assert change.name == "window_carton.dxf and lines.toml"
    assert change.before == f"{drawn.drawing.sha256[:12]}, {drawn.drawing.line_map_sha256[:12]}"


def test_a_plant_that_changed_is_told_for_a_drawing_without_its_file(drawn):
    found = again(drawn, layers_now=plant_with(rates__labour_h=40.0))
    (change,) = found.changes
    now = compare(prepare(*plant_with(rates__labour_h=40.0), job_layer("window_from_drawing")))
    assert found.results.laser.figures.cost_per_1000 == now.laser.cost_per_1000
    assert change.effects["laser"].cost == pytest.approx(now.laser.cost_per_1000 - costs(drawn)["laser"])


def test_what_only_the_drawing_showed_to_be_impossible_stays_so_without_it(drawn):
    def edit(data):
        data["drawing"]["faults"] = {"die": ["die.small_gap"], "laser": []}
        data["results"]["die"].update({"faults": ["die.small_gap"], "figures": None})

    found = again(edited(drawn, edit))
    assert found.results.die.figures is None
    assert found.comparison.cheaper == "laser"


def test_a_record_opens_no_file_that_it_names_itself(drawn, monkeypatch):
    """Who wrote it may have named any."""

    def edit(data):
        data["drawing"]["name"] = "../drawings/window_carton.dxf"
        for layer in data["layers"]:
            if "carton.drawing" in layer["values"]:
                layer["values"]["carton.drawing"] = str(DRAWINGS / "window_carton.dxf")

    record = edited(drawn, edit)
    monkeypatch.setattr("compare.scenario._read_drawing", _refuse_drawings)
    found = again(record)
    assert found.drawing == "as measured then"


def _refuse_drawings(layers):
    assert not any(layer.values.get("carton.drawing") for layer in layers)
    return layers


# -- records of strangers ---------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_numbers_that_nobody_computed_are_computed_or_refused_in_one_line(data):
    """A record that claims older tables is not held to those of today when it is read."""
    tree = json.loads(quote("soap_sleeve").to_bytes())
    tree["versions"]["tables"] = "0" * 12
    for name in data.draw(st.lists(st.sampled_from(sorted(tree["inputs"])), min_size=1, max_size=4)):
        tree["inputs"][name] = data.draw(st.sampled_from([0.0, -1.0, 1e-300, 1e300, 0.5, -1e12]))
    if data.draw(st.booleans()):
        tree["loads"]["heads"] = tree["loads"]["heads"][:1]
    if data.draw(st.booleans()):
        for place in range(3):
            tree["choices"][sorted(tree["choices"])[place]] = data.draw(st.sampled_from(["", "x", "1"]))
    try:
        record = read_record(canonical(tree))
        assert isinstance(reopen(record, program=PROGRAM), Reopened)
    except EvenrunError as error:
        one_line(error)


def test_a_job_that_can_not_be_computed_any_more_says_why():
    def edit(data):
        data["versions"]["tables"] = "0" * 12
        data["layers"][1]["values"]["board.grade"] = "abolished_300"

    with pytest.raises(InputError, match="there is no board grade 'abolished_300'"):
        again(edited(quote("soap_sleeve"), edit))
