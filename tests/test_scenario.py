"""From what the user gave to what the engine uses: what stands, what is worked out, what is asked for."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from random_jobs import PROPERTY, scenarios

from compare import Layer, prepare, vary
from compare.errors import FactorError, InputError, UnknownNameError
from compare.geometry.layout import grid_ups
from compare.geometry.styles import build_blank
from compare.machine_rate import machine_hour_rate
from compare.readers.jobfile import settings_layer
from compare.scenario import NEEDED

TEA = "tea_repeat_on_shelf"
BOXED = {"carton.blank_width_mm": 300, "carton.blank_height_mm": 200}


def _codes(scenario):
    return [finding.code for finding in scenario.findings]


# -- what stands ------------------------------------------------------------------------------------------------------


def test_a_later_layer_covers_an_earlier_one(plain):
    given_first = Layer("plant.toml", {"rates.labour_h": 30.0, "rates.kwh": 0.2})
    given_last = Layer("--set", {"rates.labour_h": 40.0})
    inputs = prepare(_plain_layer(plain), given_first, given_last).inputs
    assert (inputs["rates.labour_h"], inputs["rates.kwh"]) == (40.0, 0.2)


def _plain_layer(plain) -> Layer:
    return Layer("job", {name: plain().inputs[name] for name in NEEDED})


def test_every_value_remembers_where_it_is_from(plain):
    origins = plain({"rates.labour_h": 30.0}).origins
    assert (origins["rates.labour_h"], origins["rates.kwh"]) == ("test", "assumption")


def test_every_number_has_an_origin(demo_job, load):
    scenario = load(demo_job)
    assert set(scenario.inputs) | set(scenario.choices) == set(scenario.origins)


def test_the_changed_values_are_those_that_the_table_did_not_give(plain):
    assert "rates.kwh" not in plain({"rates.labour_h": 30.0}).changed()


def test_a_scenario_carries_name_and_note_of_the_job(load):
    scenario = load("tea_repeat_on_shelf")
    assert (scenario.name, scenario.note) == ("Tea carton, die on the shelf", "The tools exist and are paid.")


def test_a_job_without_a_name_is_called_a_job(plain):
    assert plain().name == "job"


def test_without_a_plant_the_table_stands_for_it(plain):
    assert plain().plant == "assumptions of the table"


def test_a_plant_is_called_by_its_name(load):
    assert load(TEA).plant == "Northfold Cartons"


# -- the carton -------------------------------------------------------------------------------------------------------


def test_a_style_fills_the_lengths_from_its_drawing(load):
    scenario = load(TEA)
    blank = scenario.blank
    x = scenario.inputs
    assert (x["work.cutting_m"], x["work.creasing_m"], x["carton.blank_area_m2"]) == pytest.approx(
        (blank.cut.length_mm / 1e3, blank.crease_mm / 1e3, blank.area_mm2 / 1e6), rel=1e-15
    )


def test_a_length_that_is_given_stands_against_the_drawing(load):
    """The user has measured it; the drawing is our guess."""
    scenario = load(TEA, "work.cutting_m=9.5")
    assert (scenario.inputs["work.cutting_m"], scenario.origins["work.cutting_m"]) == (9.5, "--set")


def test_a_job_without_a_style_has_no_blank(plain):
    assert plain().blank is None


def test_nicks_are_so_many_per_metre_of_outline_rounded_up(load):
    scenario = load(TEA, "work.nicks_per_m=5")
    assert scenario.inputs["work.nicks"] == math.ceil(5 * scenario.blank.cut.length_mm / 1000)


def test_cut_outs_add_length_strokes_corners_bends_and_pieces_and_take_area(load):
    """The serum carton has 24 cut-outs of 26 mm, 40 mm2 and 4 corners; a closed stroke starts at a corner."""
    with_holes, without = load("cosmetics_cutouts").inputs, load("cosmetics_cutouts", "cutouts.count=0").inputs
    added = {
        name: with_holes[name] - without[name]
        for name in ("work.cutting_m", "work.strokes", "work.corner_load", "work.bends", "work.waste_pieces")
    }
    assert added == pytest.approx(
        {
            "work.cutting_m": 24 * 0.026,
            "work.strokes": 24,
            "work.corner_load": 24 * 3,
            "work.bends": 24 * 4,
            "work.waste_pieces": 24,
        }
    )
    assert without["carton.blank_area_m2"] - with_holes["carton.blank_area_m2"] == pytest.approx(24 * 40e-6)


def test_round_cut_outs_have_no_corner(load):
    x = load("cosmetics_cutouts", "cutouts.corners=0").inputs
    assert x["work.corner_load"] == load("cosmetics_cutouts", "cutouts.count=0").inputs["work.corner_load"]


def test_waste_pieces_that_are_given_stand_against_the_cut_outs(load):
    assert load("cosmetics_cutouts", "work.waste_pieces=3").inputs["work.waste_pieces"] == 3


def test_cut_outs_without_a_length_are_asked_for(load):
    with pytest.raises(InputError, match=r"missing cutouts\.length_mm .*describe one cut-out"):
        load(TEA, "cutouts.count=3")


def test_cut_outs_larger_than_the_blank_are_refused(load):
    with pytest.raises(InputError, match="the cut-outs take more than the whole blank"):
        load(TEA, "cutouts.count=3", "cutouts.length_mm=10", "cutouts.area_mm2=1e6")


def test_a_style_without_dimensions_asks_for_them(plain):
    with pytest.raises(InputError, match=r"missing carton\.length_mm .*a sleeve is drawn from its three dimensions"):
        plain({"carton.style": "sleeve"})


# -- board and factors ------------------------------------------------------------------------------------------------


def test_a_grade_gives_grammage_caliper_and_price(load):
    x = load(TEA).inputs
    assert (x["board.grammage_g_m2"], x["board.caliper_mm"], x["board.price_per_t"]) == (270, 0.44, 1250)


def test_a_price_that_is_given_stands_against_the_grade(load):
    assert load(TEA, "board.price_per_t=999").inputs["board.price_per_t"] == 999


@pytest.mark.parametrize(
    ("grade", "key"), [("kraft_300", "uk2025_mat_board_primary"), ("recycled_300", "uk2025_mat_board_closedloop")]
)
def test_the_fibre_of_the_grade_decides_the_factor(load, grade, key):
    assert load(TEA, f"board.grade={grade}").factors["board_kg"].keys == (key,)


def test_an_unknown_grade_is_refused_where_it_was_given(load):
    with pytest.raises(UnknownNameError, match="--set: there is no board grade 'gold'"):
        load(TEA, "board.grade=gold")


def test_every_factor_stands_among_the_inputs(load):
    scenario = load(TEA)
    assert {role: scenario.inputs[f"factors.{role}"] for role in scenario.factors} == {
        role: use.value for role, use in scenario.factors.items()
    }


def test_a_factor_says_key_and_publisher(load):
    assert load(TEA).origins["factors.kwh"] == "owid2024_elec_de (Ember 2024)"


def test_a_factor_of_ones_own_is_used_and_remarked_on(load):
    """Whether it is gross can't be seen from a number, so the user is told what it must be."""
    scenario = load(TEA, "factors.kwh=0.05")
    assert (scenario.inputs["factors.kwh"], _codes(scenario)) == (0.05, ["factors.own"])


def test_keys_of_the_factor_table_need_no_remark(load):
    assert _codes(load(TEA, "factors.waste_board_kg=uk2025_waste_board_landfill")) == []


def test_an_unknown_country_is_refused(load):
    with pytest.raises(FactorError, match="there is no electricity factor for 'XX'"):
        load(TEA, "plant.country=XX")


def test_an_unknown_factor_key_is_refused_where_it_was_given(load):
    with pytest.raises(UnknownNameError, match=r"--set, factors\.kwh: there is no emission factor 'green'"):
        load(TEA, "factors.kwh=green")


@pytest.mark.parametrize("code", ["EURO", "eur", "E1R", ""])
def test_a_currency_is_three_capital_letters(plain, code):
    with pytest.raises(InputError, match="is no currency code"):
        plain({"plant.currency": code})


# -- rates ------------------------------------------------------------------------------------------------------------


def test_the_purchase_price_gives_the_full_rate(load):
    """The demo plant's press, by the machine-hour-rate method; space is paid twelve times a year."""
    rate = machine_hour_rate(
        purchase=1_450_000,
        residual=150_000,
        life_y=12,
        interest=0.06,
        hours_per_year=3400,
        space_per_year=90 * 6 * 12,
        maintenance_per_year=0.03 * 1_450_000,
    )
    x = load(TEA).inputs
    assert (x["rates.press_h"], x["rates.press_cash_h"]) == pytest.approx((rate.full, rate.cash), rel=1e-15)


def test_a_rate_that_is_given_stands_against_the_purchase_price(load):
    assert load(TEA, "rates.laser_h=99").inputs["rates.laser_h"] == 99


def test_without_a_purchase_price_the_table_gives_the_rate(plain):
    assert plain().origins["rates.press_h"] == "assumption"


def test_a_residual_above_the_purchase_price_is_refused(load):
    with pytest.raises(InputError, match=r"press_capital\.residual is above the purchase price"):
        load(TEA, "press_capital.residual=2e6")


# -- layout -----------------------------------------------------------------------------------------------------------


def _boxed(plain, **more):
    values = {name: plain().inputs[name] for name in NEEDED if not name.startswith("layout.")}
    return prepare(Layer("test", {**values, **BOXED, **more}))


def test_ups_that_are_left_out_come_from_the_grid(plain):
    """Derived: (1,000 - 16 + 4) / 304 = 3.25 columns and (700 - 20 + 4) / 204 = 3.35 rows."""
    x = _boxed(plain).inputs
    assert (x["layout.ups_die"], x["layout.ups_laser"]) == (9, 9)


def test_each_route_has_a_gutter_of_its_own(plain):
    """Derived: with 40 mm between blanks (984 + 40) / 340 = 3.01 columns and (680 + 40) / 240 = 3 rows fit; with 41 mm
    there are (680 + 41) / 241 = 2.99 rows. The grain forbids turning the blank.
    """
    x = _boxed(plain, **{"layout.gutter_die_mm": 40, "layout.gutter_laser_mm": 41, "sheet.grain": "width"}).inputs
    assert (x["layout.ups_die"], x["layout.ups_laser"]) == (9, 6)


def test_ups_that_are_given_stand_against_the_grid(plain):
    scenario = _boxed(plain, **{"layout.ups_die": 4})
    assert (scenario.inputs["layout.ups_die"], scenario.grid_layout) == (4, {"die": False, "laser": True})


def test_a_turned_blank_is_remarked_on_once(plain):
    """Grain decides whether a carton stands up: turning it is for the user to allow. Derived: 3 x 2 blanks of
    320 x 240 mm fit as drawn, 4 x 2 fit turned.
    """
    scenario = _boxed(plain, **{"carton.blank_width_mm": 320, "carton.blank_height_mm": 240})
    assert _codes(scenario) == ["layout.turned"]


def test_a_grain_that_asks_for_turning_needs_no_remark(plain):
    values = {"carton.blank_width_mm": 320, "carton.blank_height_mm": 240, "sheet.grain": "length"}
    assert _codes(_boxed(plain, **values)) == []


def test_a_blank_that_does_not_fit_is_refused_with_both_sizes(plain):
    with pytest.raises(InputError, match="the blank of 300 x 900 mm does not fit the sheet of 1000 x 700 mm"):
        _boxed(plain, **{"carton.blank_height_mm": 900, "sheet.grain": "width"})


def test_a_job_without_ups_and_box_asks_for_them(plain):
    values = {name: plain().inputs[name] for name in NEEDED if not name.startswith("layout.")}
    with pytest.raises(InputError, match=r"missing carton\.blank_width_mm .*or give layout\.ups_die"):
        prepare(Layer("test", values))


@pytest.mark.parametrize("name", [n for n in NEEDED if not n.startswith("layout.")])
def test_every_needed_value_is_asked_for_by_its_name(plain, name):
    values = {other: plain().inputs[other] for other in NEEDED if other != name}
    with pytest.raises(InputError, match=f"missing {name.replace('.', '[.]')} "):
        prepare(Layer("test", values))


def test_many_missing_values_are_told_in_one_line(plain):
    with pytest.raises(InputError, match="and 9 more: ") as caught:
        prepare(Layer("test", {"layout.ups_die": 1, "layout.ups_laser": 1}))
    assert "\n" not in str(caught.value)


def test_values_that_were_worked_out_are_held_to_the_limits_too(plain):
    """A drawing or a rate can come out beyond any real size from values that are each allowed."""
    huge = {"press_capital.purchase": 1e12, "press_capital.hours_y": 1e-6}
    with pytest.raises(InputError, match=r"rates\.press_h must be 0, or from"):
        plain(huge)


def test_values_that_contradict_one_another_are_refused(plain):
    with pytest.raises(InputError, match=r"demand\.versions is above demand\.run_length"):
        plain({"demand.versions": 1001})


# -- remarks ----------------------------------------------------------------------------------------------------------


def test_artwork_versions_are_said_to_cost_nothing(load):
    assert "demand.artwork" in _codes(load("pharma_12_languages"))


@pytest.mark.parametrize("laminate", ["metallised", "foil"])
def test_bare_metal_is_a_caution(plain, laminate):
    found = plain({"board.laminate": laminate}).findings
    assert [(f.code, f.kind) for f in found] == [("laser.metal", "caution")]


def test_a_plain_job_has_no_remark(plain):
    assert plain().findings == ()


# -- varying ----------------------------------------------------------------------------------------------------------


def test_ups_follow_a_sheet_that_varies(load):
    """A sheet twice as wide holds more: a sweep over sheet sizes with the old ups would be wrong."""
    scenario = load(TEA)
    x = vary(scenario, {"sheet.width_mm": [740.0, 1020.0]})
    each = [vary(scenario, {"sheet.width_mm": width}).number("layout.ups_die") for width in (740.0, 1020.0)]
    assert x["layout.ups_die"].tolist() == each


def test_ups_that_were_given_do_not_follow_the_sheet(load):
    scenario = load(TEA, "layout.ups_die=4")
    assert vary(scenario, {"sheet.width_mm": [740.0, 1020.0]})["layout.ups_die"] == 4


def test_ups_that_vary_themselves_stand_against_the_grid(load):
    x = vary(load(TEA), {"sheet.width_mm": 740.0, "layout.ups_die": 2})
    assert x["layout.ups_die"] == 2


def test_the_grain_of_the_job_holds_when_the_sheet_varies(load):
    scenario = load(TEA, "sheet.grain=length")
    values = scenario.inputs
    expected = grid_ups(
        740.0,
        values["sheet.length_mm"],
        values["carton.blank_width_mm"],
        values["carton.blank_height_mm"],
        gripper_mm=12,
        side_margin_mm=8,
        tail_margin_mm=8,
        gutter_mm=4,
        grain="length",
    )
    assert vary(scenario, {"sheet.width_mm": 740.0})["layout.ups_die"] == expected.ups


@pytest.mark.parametrize(
    "name", ["carton.height_mm", "cutouts.count", "press_capital.purchase", "line_capital.life_y", "work.nicks_per_m"]
)
def test_what_others_were_worked_out_from_can_not_vary(load, name):
    """The lengths of a carton that grows would stay behind: that needs a new scenario."""
    with pytest.raises(InputError, match="prepare one scenario per value"):
        vary(load(TEA), {name: 3})


def test_an_unknown_name_can_not_vary(load):
    with pytest.raises(UnknownNameError, match=r"there is no input 'demand.runs'"):
        vary(load(TEA), {"demand.runs": 3})


def test_a_text_can_not_vary(load):
    with pytest.raises(InputError):
        vary(load(TEA), {"board.laminate": "pvc"})


def test_a_sheet_too_small_for_the_blank_is_refused_when_varying(load):
    """0 ups would divide by zero further up the house."""
    with pytest.raises(InputError):
        vary(load(TEA), {"sheet.width_mm": [100.0, 1020.0]})


@PROPERTY
@given(scenarios())
def test_varying_nothing_changes_nothing(scenario):
    assert dict(vary(scenario, {})) == dict(scenario.inputs)


@PROPERTY
@given(scenarios())
def test_preparing_what_was_worked_out_changes_nothing(scenario):
    """A record holds every number: given back as a job it must mean the same job."""
    again = prepare(Layer("again", dict(scenario.inputs)))
    assert dict(again.inputs) == dict(scenario.inputs)


@pytest.mark.parametrize("style", ["sleeve", "seal_end"])
def test_the_blank_of_a_scenario_is_the_one_that_its_values_draw(load, style):
    scenario = load(TEA, f"carton.style={style}")
    carton = {n.removeprefix("carton."): v for n, v in scenario.inputs.items() if n.startswith("carton.")}
    assert scenario.blank == build_blank(style, carton)


def test_arrays_of_settings_are_refused_by_the_settings_layer():
    with pytest.raises(InputError, match="which is not a number"):
        settings_layer(["laser.heads=[1, 2]"])
