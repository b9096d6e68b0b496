"""The table of emission factors against what its publishers print, and what may not be summed."""

from __future__ import annotations

import csv
import re

import pytest

from compare.assumptions import assumption_table
from compare.data_files import data_folder
from compare.errors import FactorError, InputError
from compare.factors import FactorUse, choose, factors, from_keys, guard

# Published: UK Government GHG Conversion Factors for Company Reporting, tab "Material use"
# (2024 and 2025 condensed sets, OGL v3.0), kg CO2e per tonne.
MATERIALS_KG_PER_T = [
    ("board_primary", 1193.96586, 1199.72542),
    ("board_closedloop", 1092.35486, 1098.11442),
    ("paperboard_mixed_primary", 1282.74402, 1288.50358),
    ("paperboard_mixed_closedloop", 1063.01519, 1068.77475),
    ("paper_primary", 1339.31834, 1345.0779),
    ("paper_closedloop", 1044.31834, 1050.0779),
    ("wood_primary", 269.50416, 269.50416),
    ("wood_reused", 38.54288, 38.54288),
    ("steelcans_primary", 2854.91851, 2863.90131),
    ("steelcans_closedloop", 1726.72731, 1823.90131),
    ("scrapmetal_primary", 3464.56448, 3473.11953),
    ("scrapmetal_closedloop", 1620.27606, 1706.42359),
    ("plastics_avg_primary", 3164.78049, 3172.49932),
    ("plastics_avg_closedloop", 1566.38638, 1575.39106),
    ("tyres_primary", 3335.5719, 3335.5719),
]

# Published: the same, tab "Waste disposal", 2025 condensed set.
WASTE_2025_KG_PER_T = [
    ("board_landfill", 1164.4894),
    ("board_recycle", 4.68568),
    ("board_combustion", 4.68568),
    ("board_compost", 8.98311),
    ("wood_landfill", 925.34348),
    ("wood_recycle", 4.68568),
    ("scrapmetal_recycle", 4.68568),
    ("scrapmetal_landfill", 8.98311),
    ("plastics_landfill", 8.98311),
]

# Published: Ember by way of Our World in Data (CC BY 4.0), 2024, kg CO2e/kWh.
GRIDS_2024 = [
    *[("DE", 0.34414), ("FR", 0.04418), ("PL", 0.61498), ("GB", 0.21089), ("US", 0.38355), ("SE", 0.03582)],
    *[("IN", 0.70832), ("CN", 0.55955), ("IT", 0.28753), ("ES", 0.14615), ("NL", 0.25331), ("AT", 0.10262)],
    *[("FI", 0.07225), ("CZ", 0.41386)],
]

# Published: Pro Carton and RISE (2023 study, 2019 statement, LCI of 2014 data), FEFCO/CCB (2021 database).
WHOLE_CARTONS = [
    *["carton_eu_2021_gate", "carton_eu_2021_grave", "carton_eu_2018_total", "carton_eu_2014_fossil"],
    "corrugated_eu_2020",
]

UK_2025 = {
    "board_kg": "uk2025_mat_board_primary",
    "steel_kg": "uk2025_mat_steelcans_primary",
    "die_board_kg": "uk2025_mat_wood_primary",
}


@pytest.mark.parametrize(("material", "in_2024", "in_2025"), MATERIALS_KG_PER_T)
def test_materials_are_the_published_kg_per_tonne_over_1000(material, in_2024, in_2025):
    """Published: UK Government conversion factors, "Material use"."""
    assert factors()[f"uk2024_mat_{material}"].value * 1000 == pytest.approx(in_2024, rel=1e-12)
    assert factors()[f"uk2025_mat_{material}"].value * 1000 == pytest.approx(in_2025, rel=1e-12)


@pytest.mark.parametrize(("waste", "value"), WASTE_2025_KG_PER_T)
def test_waste_is_the_published_kg_per_tonne_over_1000(waste, value):
    """Published: UK Government conversion factors 2025, "Waste disposal"."""
    assert factors()[f"uk2025_waste_{waste}"].value * 1000 == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("country", "value"), GRIDS_2024)
def test_grids_are_the_published_intensities(country, value):
    """Published: Ember by way of Our World in Data, to five decimals."""
    assert choose("uk2025", country, "primary", {})["kwh"].value == pytest.approx(value, abs=5.1e-6)


def test_uk_electricity_of_2024_is_the_sum_of_its_gases():
    """Published: UK Government conversion factors 2024: CO2, CH4 and N2O of a kWh."""
    assert factors()["uk2024_elec_generated"].value == pytest.approx(0.20493 + 0.0009 + 0.00122, abs=1e-12)


def test_uk_electricity_of_2025_is_the_sum_of_its_gases_but_for_rounding():
    """Published: UK Government conversion factors 2025; the workbook rounds 0.17701 to 0.177."""
    assert factors()["uk2025_elec_generated"].value == pytest.approx(0.17489 + 0.0009 + 0.00122, abs=5e-5)


def test_uk_electricity_with_losses_and_supply_chain_is_0_2454():
    """Published parts (UK Government conversion factors 2025), sum derived: 0.177 + 0.01853 + 0.0459 + 0.00397."""
    parts = "uk2025_elec_generated + uk2025_elec_td + uk2025_elec_wtt_gen + uk2025_elec_wtt_td"
    assert from_keys("kwh", parts, where="test").value == pytest.approx(0.2454, abs=1e-12)
    assert factors()["uk2025_elec_full"].value == pytest.approx(0.2454, abs=1e-12)


def test_us_electricity_comes_from_pounds_per_megawatt_hour():
    """Published: US EPA Emission Factors Hub, January 2025 (eGRID2023); GWP of AR5, 28 and 265."""
    kg_per_kwh = (771.523 + 28 * 0.057 + 265 * 0.008) * 0.45359237 / 1000
    assert kg_per_kwh == pytest.approx(0.35164, abs=5e-6)
    assert factors()["egrid2023_us_average"].value == pytest.approx(0.35164, abs=5e-6)


def test_us_truck_freight_comes_from_short_ton_miles():
    """Published: US EPA Emission Factors Hub, January 2025: 0.186 kg CO2, 0.0016 g CH4, 0.0054 g N2O."""
    per_short_ton_mile = 0.186 + (0.0016 * 28 + 0.0054 * 265) / 1000
    assert per_short_ton_mile / (0.90718474 * 1.609344) == pytest.approx(0.12841, abs=5e-6)
    assert factors()["epa2025_truck_tkm"].value == pytest.approx(0.12841, abs=5e-6)


@pytest.mark.parametrize(
    ("key", "per_short_ton"),
    [
        ("epa2025_waste_mixed_paper_landfilled", 0.89),
        ("epa2025_waste_mixed_paper_recycled", 0.07),
        ("epa2025_waste_corrugated_landfilled", 1.00),
        ("epa2025_waste_corrugated_recycled", 0.11),
        ("epa2025_waste_steel_cans_recycled", 0.32),
    ],
)
def test_us_waste_comes_from_short_tons(key, per_short_ton):
    """Published: US EPA Emission Factors Hub, January 2025, t CO2e per short ton; 1.10231 short tons a tonne."""
    assert factors()[key].value == pytest.approx(per_short_ton * 1.10231, abs=1e-5)


def test_diesel_van_with_its_supply_chain():
    """Published: UK Government conversion factors 2025, freighting goods and delivery vehicles; sum derived."""
    assert choose("uk2025", "DE", "primary", {})["freight_tkm"].value == pytest.approx(0.78225, abs=1e-12)


def test_uk_board_rose_by_half_when_its_data_were_replaced():
    """Published: UK Government conversion factors 2023 and 2024; ratio derived. Hence the guard on years."""
    ratio = factors()["uk2024_mat_board_primary"].value / factors()["uk2023_mat_board_primary"].value
    assert ratio == pytest.approx(1.4896, abs=5e-5)


@pytest.mark.parametrize("other", ["uk2023_mat_board_primary", "uk2024_mat_board_primary"])
def test_one_publisher_in_two_years_is_refused(other):
    """Derived: the years of one series differ by half, so a sum over both would mean nothing."""
    with pytest.raises(FactorError, match=r"UK Government factors of \d{4} and 2025 in one result"):
        choose("uk2025", "DE", "primary", {"board_kg": other})


def test_a_job_with_board_of_2023_and_steel_of_2024_is_refused(load):
    """Derived: the same guard stands between a job file and its result."""
    with pytest.raises(FactorError, match="in one result"):
        load(
            "bakery_tray", "factors.board_kg=uk2023_mat_board_primary", "factors.steel_kg=uk2024_mat_steelcans_primary"
        )


@pytest.mark.parametrize("key", WHOLE_CARTONS)
def test_figures_of_whole_cartons_are_no_board_factors(load, key):
    """Derived: they hold converting already, and most are net of removals or fossil carbon only."""
    with pytest.raises(FactorError, match="covers finished packaging"):
        load("bakery_tray", f"factors.board_kg={key}")


@pytest.mark.parametrize("treatment", ["net", "fossil only", "biogenic only"])
def test_a_material_that_is_not_gross_is_refused_among_gross_ones(monkeypatch, treatment):
    """Derived: published board figures differ eightfold because some are net of biogenic removals.

    The table holds no such material, so one is altered here.
    """
    table = dict(factors())
    key = "uk2025_mat_board_primary"
    table[key] = table[key].model_copy(update={"treatment": treatment})
    monkeypatch.setattr("compare.factors.factors", lambda: table)
    uses = {role: FactorUse(table[k].value, (k,), "test") for role, k in UK_2025.items()}
    with pytest.raises(FactorError, match=f"{key} is {treatment} and the others are gross"):
        guard(uses)


def test_the_same_factors_unaltered_are_allowed():
    """Derived: the refusal above is due to the treatment and nothing else."""
    guard({role: FactorUse(factors()[k].value, (k,), "test") for role, k in UK_2025.items()})


def test_biogenic_co2_of_the_kerf_is_no_board_factor(load):
    """Derived: it is stated apart and in a unit of its own."""
    with pytest.raises(FactorError, match="kerf_biogenic_co2 is in kg CO2 \\(biogenic\\)/kg board"):
        load("bakery_tray", "factors.board_kg=kerf_biogenic_co2")


def test_board_burns_to_at_most_1_518_kg_co2():
    """Published: IPCC 2006 Guidelines, volume 5: paper is 0.90 dry, of which 0.46 is carbon; product derived."""
    assert factors()["kerf_biogenic_co2"].value == pytest.approx(0.90 * 0.46 * 44 / 12, abs=1e-12)
    assert factors()["ipcc_paper_dry"].value == 0.90
    assert factors()["ipcc_paper_carbon"].value == 0.46


def test_more_biogenic_co2_than_board_has_carbon_is_refused(load):
    """Derived: above 1.518 kg per kg more carbon would burn than there is."""
    assert load("bakery_tray", "factors.kerf_biogenic_kg=1.518").inputs["factors.kerf_biogenic_kg"] == 1.518
    with pytest.raises(InputError, match=r"factors\.kerf_biogenic_kg must be at most 1\.518"):
        load("bakery_tray", "factors.kerf_biogenic_kg=1.519")


def test_compressed_air_below_the_isothermal_floor_is_refused(load):
    """Derived: 101.325 kPa x ln(8.0 bar / 1.01325 bar) is 0.0582 kWh per m3 at 7 bar(g), by physics the least."""
    assert load("bakery_tray", "plant.air_kwh_m3=0.0582").inputs["plant.air_kwh_m3"] == 0.0582
    with pytest.raises(InputError, match=r"plant\.air_kwh_m3 must be at least 0\.0582"):
        load("bakery_tray", "plant.air_kwh_m3=0.058")


def test_die_board_weighs_what_its_data_sheet_says():
    """Published: birch plywood data sheet: 36.7 kg per sheet of 1.22 x 2.44 m, 18 mm."""
    assert round(36.7 / (1.22 * 2.44), 2) == 12.33
    assert assumption_table()["toolmaker.die_board_kg_m2"].value == 12.33
    assert factors()["phys_plywood_birch18_m2"].value == 12.33


def test_rule_weighs_its_section_times_the_density_of_steel():
    """Derived: 0.71 x 23.8 mm at 7,850 kg/m3 is 0.13265 kg/m; the section is common practice."""
    assert round(0.00071 * 0.0238 * 7850, 5) == 0.13265
    assert assumption_table()["toolmaker.rule_kg_m"].value == pytest.approx(0.13265, abs=6e-5)
    assert factors()["phys_rule_2pt_mass"].value == pytest.approx(0.13265, abs=5e-6)


@pytest.mark.parametrize("country", ["XX", "ZZ", "Germany", "IEA"])
def test_unknown_country_is_an_error_and_nothing_stands_in_for_it(load, country):
    """Derived: grids differ twentyfold, so no default may be taken in silence."""
    with pytest.raises(FactorError, match=f"there is no electricity factor for '{country}'"):
        load("bakery_tray", f"plant.country={country}")


def test_every_factor_has_a_positive_value_a_unit_a_source_and_a_licence():
    """Derived: a number without these can't be shown to a client."""
    with (data_folder() / "factors.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) > 150
    for row in rows:
        assert all(row[name].strip() for name in ("key", "name", "value", "unit", "source", "licence", "status")), row
        value = float(row["value"])
        assert value > 0, row["key"]
        assert not row["low"] or float(row["low"]) <= value, row["key"]
        assert not row["high"] or value <= float(row["high"]), row["key"]


def test_factor_keys_are_unique():
    """Derived: two rows of one key would make a result depend on their order."""
    with (data_folder() / "factors.csv").open(encoding="utf-8", newline="") as file:
        keys = [row["key"] for row in csv.DictReader(file)]
    assert len(keys) == len(set(keys))


def test_no_factor_is_taken_from_the_closed_iea_series():
    """Common practice, no source: the International Energy Agency's factors are sold and may not be passed on."""
    closed = re.compile(r"\bIEA\b|International Energy Agency")
    assert [f.key for f in factors().values() if closed.search(f"{f.key} {f.family} {f.source} {f.name}")] == []
