"""Emission factors: the table, the factor set, and the guard that keeps unlike factors apart."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from compare.assumptions import assumption_table
from compare.errors import FactorError, UnknownNameError
from compare.factors import (
    ROLES,
    FactorUse,
    choose,
    countries,
    factor_set,
    factor_sets,
    factors,
    from_keys,
    grid_key,
    guard,
    publishers,
)
from compare.routes.inventory import RESOURCES

TABLE = Path(__file__).resolve().parents[1] / "data" / "factors.csv"
ROWS = list(factors().values())
SETS = sorted(factor_sets())
GRIDS = sorted(countries())


def _use(*keys: str) -> FactorUse:
    return FactorUse(1.0, keys, "test")


# -- the data ---------------------------------------------------------------------------------------------------------


def test_every_key_stands_once():
    """The table is read into a dictionary, which would hide a row that stands twice."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        keys = [row["key"] for row in csv.DictReader(file)]
    assert sorted(keys) == sorted(set(keys))


def test_every_factor_is_above_zero():
    """A factor of 0 or less is a credit or a slip; neither may stand unseen in a gross sum."""
    assert [row.key for row in ROWS if not row.value > 0] == []


@pytest.mark.parametrize("column", ["name", "unit", "source", "licence", "status", "family"])
def test_every_factor_fills_the_column(column):
    assert [row.key for row in ROWS if not getattr(row, column).strip()] == []


def test_every_factor_of_emissions_has_a_region():
    emissions = [row for row in ROWS if row.covers != "physical constant" and row.family != "physics"]
    assert [row.key for row in emissions if not row.region] == []


def test_every_published_range_holds_its_value():
    ranged = [row for row in ROWS if row.low is not None and row.high is not None]
    assert [row.key for row in ranged if not row.low <= row.value <= row.high] == []


def test_a_physical_constant_is_not_called_a_factor():
    assert [row.key for row in ROWS if (row.covers == "physical constant") != (row.treatment == "not a factor")] == []


def test_every_factor_of_finished_packaging_is_marked_as_such():
    """Its converting would count twice: the guard can only refuse what is marked."""
    assert [row.key for row in ROWS if row.key.startswith("carton_") and row.covers != "finished packaging"] == []


def test_every_role_is_an_input():
    assert [role for role in ROLES if f"factors.{role}" not in assumption_table()] == []


def test_every_role_is_used_by_a_resource():
    used = {name for resource in RESOURCES.values() for name in resource.carbon}
    assert [role for role in ROLES if f"factors.{role}" not in used] == []


@pytest.mark.parametrize("name", SETS)
def test_a_set_names_factors_that_exist(name):
    named = factor_set(name)
    texts = [named[role] for role in ROLES if role != "kwh"]
    keys = [
        key
        for text in texts
        for part in ([text] if isinstance(text, str) else text.values())
        for key in part.split("+")
    ]
    assert [key for key in keys if key not in factors()] == []


@pytest.mark.parametrize("name", SETS)
def test_a_set_says_only_of_roles_that_something_stands_in(name):
    assert set(factor_set(name).get("proxies", {})) <= set(ROLES)


@pytest.mark.parametrize("fibre", ["primary", "recycled"])
@pytest.mark.parametrize("name", SETS)
def test_a_set_passes_the_guard_on_every_grid(name, fibre):
    """Whatever country a plant is in, the set alone must never be refused."""
    for country in countries(name):
        assert set(choose(name, country, fibre, {})) == set(ROLES)


@pytest.mark.parametrize("country", GRIDS)
def test_a_grid_takes_electricity_of_its_own_region(country):
    row = factors()[grid_key(country, "uk2025")]
    assert (row.region, row.unit, row.treatment) == (country, "kg CO2e/kWh", "gross")


# -- looking up -------------------------------------------------------------------------------------------------------


def test_the_first_series_that_knows_a_region_stands():
    """The set ranks its series: the British grid of one series, not the one of the materials' publisher."""
    assert countries("uk2025")["GB"] == "owid2024_elec_gb"


@pytest.mark.parametrize("text", ["de", " DE ", "De"])
def test_a_country_may_be_written_in_small_letters(text):
    assert grid_key(text, "uk2025") == "owid2024_elec_de"


@pytest.mark.parametrize("text", ["", "XX", "Germany"])
def test_an_unknown_country_is_refused_and_what_there_is_listed(text):
    """Nothing stands in for it: a mean grid would be an invented figure."""
    with pytest.raises(FactorError, match=r"give one of AT, .*, or set factors\.kwh"):
        grid_key(text, "uk2025")


def test_an_unknown_set_is_refused_and_what_there_is_listed():
    with pytest.raises(UnknownNameError, match="there is: uk2025"):
        factor_set("of_my_own")


def test_keys_joined_by_plus_are_summed():
    """Derived from the published rows: 0.6313 from tank to wheel and 0.15095 from well to tank per t.km."""
    use = from_keys("freight_tkm", "uk2025_freight_van_avg_diesel + uk2025_freight_van_avg_diesel_wtt", where="test")
    assert use.value == pytest.approx(0.6313 + 0.15095, rel=1e-15)


def test_a_use_names_its_publishers_and_years_once():
    use = from_keys("freight_tkm", "uk2025_freight_van_avg_diesel+uk2025_freight_van_avg_diesel_wtt", where="test")
    assert use.label == "UK Government 2025"


def test_an_unknown_key_names_its_neighbours():
    with pytest.raises(UnknownNameError, match="uk2025_mat_board_primary"):
        from_keys("board_kg", "uk2025_mat_board_primry", where="test")


@pytest.mark.parametrize(
    ("role", "key"),
    [
        ("board_kg", "uk2025_elec_full"),
        ("kwh", "uk2025_mat_board_primary"),
        ("kerf_biogenic_kg", "uk2025_mat_board_primary"),
    ],
)
def test_a_factor_in_another_unit_is_refused(role, key):
    with pytest.raises(FactorError, match=f"{key} is in .*, not in .*; choose a factor in"):
        from_keys(role, key, where="test")


# -- the guard --------------------------------------------------------------------------------------------------------


def test_the_guard_lets_like_factors_pass():
    guard({"board_kg": _use("uk2025_mat_board_primary"), "kerf_biogenic_kg": _use("kerf_biogenic_co2")})


@pytest.mark.parametrize("key", ["carton_eu_2021_gate", "corrugated_eu_2020", "carton_eu_2014_fossil"])
def test_the_guard_refuses_finished_packaging(key):
    with pytest.raises(FactorError, match="covers finished packaging, so converting would count twice"):
        guard({"board_kg": _use(key)})


def test_the_guard_refuses_what_is_not_gross():
    """Net of removals, of fossil carbon only, biogenic only: none of them may stand in a gross sum."""
    others = [r for r in ROWS if r.covers == "resource" and r.treatment not in ("gross", "not a factor")]
    assert others, "the table holds no such row to try"
    for row in others:
        with pytest.raises(FactorError, match="these can't be summed"):
            guard({"board_kg": _use(row.key)})


def test_the_guard_refuses_a_gross_factor_for_biogenic_carbon():
    with pytest.raises(FactorError, match="choose a biogenic only factor"):
        guard({"kerf_biogenic_kg": _use("uk2025_mat_board_primary")})


def test_the_guard_refuses_two_years_of_one_publisher():
    with pytest.raises(FactorError, match="UK Government factors of 2024 and 2025 in one result"):
        guard({"board_kg": _use("uk2024_mat_board_primary"), "steel_kg": _use("uk2025_mat_steelcans_primary")})


def test_the_guard_refuses_two_years_within_one_sum_of_keys():
    with pytest.raises(FactorError, match="take all of them from one year"):
        guard({"freight_tkm": _use("uk2025_freight_van_avg_diesel", "uk2024_freight_van_avg_diesel")})


def test_the_guard_lets_publishers_have_years_of_their_own():
    """A grid of 2024 beside materials of 2025 is what there is; each label says its year."""
    guard({"kwh": _use("owid2024_elec_de"), "board_kg": _use("uk2025_mat_board_primary")})


# -- choosing ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fibre", "key"), [("primary", "uk2025_mat_board_primary"), ("recycled", "uk2025_mat_board_closedloop")]
)
def test_the_fibre_decides_the_factor_of_board(fibre, key):
    assert choose("uk2025", "DE", fibre, {})["board_kg"].keys == (key,)


def test_a_number_of_the_plants_own_stands():
    use = choose("uk2025", "DE", "primary", {"kwh": 0.05}, where={"kwh": "plant.toml, factors.kwh"})["kwh"]
    assert (use.value, use.keys, use.label) == (0.05, (), "own value, plant.toml, factors.kwh")


def test_a_number_for_the_grid_makes_the_country_needless():
    assert choose("uk2025", "nowhere", "primary", {"kwh": 0.05})["kwh"].value == 0.05


def test_keys_of_the_plants_own_stand():
    use = choose("uk2025", "DE", "primary", {"waste_board_kg": "uk2025_waste_board_landfill"})["waste_board_kg"]
    assert use.value == factors()["uk2025_waste_board_landfill"].value


def test_a_stand_in_says_for_what_it_stands():
    assert choose("uk2025", "DE", "primary", {})["steel_kg"].proxy == "steel cans stand in for steel rule"


def test_a_key_of_the_plants_own_is_no_stand_in():
    own = {"steel_kg": "uk2025_mat_scrapmetal_primary"}
    assert choose("uk2025", "DE", "primary", own)["steel_kg"].proxy == ""


def test_keys_of_the_plants_own_pass_the_guard_too():
    with pytest.raises(FactorError, match="of 2024 and 2025"):
        choose("uk2025", "DE", "primary", {"board_kg": "uk2024_mat_board_primary"})


def test_publishers_are_named_once_and_physics_is_none():
    uses = [
        FactorUse(1, (), "A 2025"),
        FactorUse(1, (), "B 2024"),
        FactorUse(1, (), "A 2025"),
        FactorUse(1, (), "physics"),
    ]
    assert publishers(uses) == "A 2025, B 2024"
