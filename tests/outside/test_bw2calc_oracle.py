"""CO2e of whole jobs against bw2calc, an independent published life-cycle library.

Only quantities are taken from the program. How resources are made up (masses) and what their
materials emit are written down here: masses of plywood and rule from a birch plywood data sheet
(published) and from section x density (derived); rubber, counters and crease sets are examples; emission
factors from the UK Government's conversion factors 2025 and Ember's grid intensities of 2024
(published).
"""

from __future__ import annotations

import warnings
from collections import defaultdict

import numpy as np
import pytest

from compare import Inputs, compare
from compare.routes.inventory import Flow, Inventory
from compare.valuation.carbon import total_carbon

# kg CO2e per kg, kWh or t.km
MATERIALS = {
    "primary board": 1.19972542,
    "recycled board": 1.09811442,
    "german electricity": 0.34414,
    "wood": 0.26950416,
    "steel": 2.86390131,
    "tyre rubber": 3.3355719,
    "plastics": 3.17249932,
    "van freight": 0.6313 + 0.15095,
    "board to recycling": 0.00468568,
}

# what one unit of a resource takes of which material
RECIPES = {
    "electricity": ("german electricity", 1.0),
    "die board": ("wood", 12.33),
    "cutting rule": ("steel", 0.1327),
    "creasing rule": ("steel", 0.1327),
    "cut-crease rule": ("steel", 0.1327),
    "perforating rule": ("steel", 0.1327),
    "scoring rule": ("steel", 0.1327),
    "ejection rubber": ("tyre rubber", 0.05),
    "creasing counter": ("plastics", 2.0),
    "crease set": ("plastics", 0.3),
    "tool freight": ("van freight", 1.0),
    "waste board": ("board to recycling", 1.0),
}

# kg biogenic CO2 per kg of board in the kerf
KERF_BIOGENIC = 1.518

OUTSIDE_THE_BOUNDARY = {
    *["press time", "laser time", "laser consumables", "labour", "tool set", "rule bends", "nicks"],
    *["stripping tools", "blanking tools", "tool storage", "print"],
}

FOSSIL, BIOGENIC = 9_001, 9_002


@pytest.fixture(scope="module")
def brightway():
    """Return bw_processing and bw2calc, whose import remarks on a faster solver that is not needed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import bw2calc
        import bw_processing
    return bw_processing, bw2calc


def _assess(brightway, demand, recipes, emissions):
    """Return kg CO2e and kg biogenic CO2 of a demand.

    ``recipes``: product to inputs per unit. ``emissions``: product to (flow, kg per unit).
    """
    bwp, bw2calc = brightway
    products = sorted({*demand, *recipes, *emissions, *(i for inputs in recipes.values() for i in inputs)})
    number = {product: i for i, product in enumerate(products, start=1)}
    whole = 8_000
    makes = [(i, i) for i in (*number.values(), whole)]
    takes = [(number[i], number[p], q) for p, inputs in recipes.items() for i, q in inputs.items()]
    takes += [(number[product], whole, quantity) for product, quantity in demand.items()]
    vents = [(flow, number[product], kg) for product, (flow, kg) in emissions.items()]

    def places(pairs):
        return np.array(list(pairs), dtype=bwp.INDICES_DTYPE)

    scores = []
    for counted in (FOSSIL, BIOGENIC):
        package = bwp.create_datapackage()
        package.add_persistent_vector(
            matrix="technosphere_matrix",
            indices_array=places([*makes, *((row, column) for row, column, _ in takes)]),
            data_array=np.array([1.0] * len(makes) + [q for *_, q in takes]),
            flip_array=np.array([False] * len(makes) + [True] * len(takes)),
        )
        package.add_persistent_vector(
            matrix="biosphere_matrix",
            indices_array=places((flow, column) for flow, column, _ in vents),
            data_array=np.array([kg for *_, kg in vents]),
        )
        package.add_persistent_vector(
            matrix="characterization_matrix",
            indices_array=places([(FOSSIL, FOSSIL), (BIOGENIC, BIOGENIC)]),
            data_array=np.array([float(flow == counted) for flow in (FOSSIL, BIOGENIC)]),
        )
        calculation = bw2calc.LCA({whole: 1}, data_objs=[package])
        calculation.lci()
        calculation.lcia()
        scores.append(float(calculation.score))
    return scores


def _assess_route(brightway, route, board):
    demand = defaultdict(float)
    for row in route.ledger:
        if row.resource not in OUTSIDE_THE_BOUNDARY:
            demand[row.resource] += row.quantity
    recipes = {resource: {material: amount} for resource, (material, amount) in RECIPES.items()}
    recipes["board"] = {board: 1.0}
    emissions = {material: (FOSSIL, kg) for material, kg in MATERIALS.items()}
    emissions["kerf"] = (BIOGENIC, KERF_BIOGENIC)
    unknown = set(demand) - set(recipes) - set(emissions)
    assert not unknown, f"the mapping of this test does not know {unknown}"
    return _assess(brightway, demand, recipes, emissions)


@pytest.mark.parametrize("route", ["die", "laser"])
@pytest.mark.parametrize(
    ("job", "board"),
    [
        pytest.param("cereal_400000", "recycled board", id="recycled board, dies ruled anew"),
        pytest.param("subscription_monthly", "primary board", id="perforated, a new die every month"),
        pytest.param("soap_sleeve", "primary board", id="six outlines on one die"),
        pytest.param("cosmetics_cutouts", "primary board", id="cut-outs"),
    ],
)
def test_whole_job_emits_what_bw2calc_says(brightway, load, job, board, route):
    """Published library, mapping derived: die board 12.33 kg/m2, rule 0.1327 kg/m, and so on, as above."""
    result = compare(load(job)).route(route)
    fossil, biogenic = _assess_route(brightway, result, board)
    assert result.co2e_per_1000 * result.thousands == pytest.approx(fossil, rel=1e-6)
    assert result.biogenic_per_1000 * result.thousands == pytest.approx(biogenic, rel=1e-6)
    assert fossil > 0


def test_jobs_above_use_rules_of_more_than_one_kind(load):
    """Derived: a mapping that is never used would prove nothing."""
    used = {
        row.resource
        for job in ("cereal_400000", "subscription_monthly")
        for row in compare(load(job)).die.ledger
        if row.quantity
    }
    assert {"cutting rule", "creasing rule", "perforating rule", "ejection rubber", "tool freight"} <= used
    assert compare(load("cereal_400000")).die.inventory.counts["re-rulings"] > 0


def test_five_processes_emit_64_kg_in_bw2calc(brightway):
    """Derived by hand: 60 x 1.0 + 5 x 0.4 + 0.2 x 2.5 + 0.5 x 0.6 + 12 x 0.1 = 64.0 (numbers made up)."""
    demand = {"board": 60, "power": 5, "steel": 0.2, "plywood": 0.5, "transport": 12}
    factor = {"board": 1.0, "power": 0.4, "steel": 2.5, "plywood": 0.6, "transport": 0.1}
    score, biogenic = _assess(brightway, demand, {}, {product: (FOSSIL, kg) for product, kg in factor.items()})
    assert score == pytest.approx(64.0, rel=1e-6)
    assert biogenic == 0


def test_five_flows_emit_64_kg_in_our_sum():
    """Derived by hand: the same five as flows of an inventory, one kilogram per metre and square metre."""
    flows = (
        Flow("material", "board", 60.0, "test"),
        Flow("running", "electricity", 5.0, "test"),
        Flow("tooling", "cutting rule", 0.2, "test"),
        Flow("tooling", "die board", 0.5, "test"),
        Flow("tooling", "tool freight", 12.0, "test"),
    )
    x = Inputs(
        {
            "factors.board_kg": 1.0,
            "factors.kwh": 0.4,
            "factors.steel_kg": 2.5,
            "factors.die_board_kg": 0.6,
            "factors.freight_tkm": 0.1,
            "toolmaker.rule_kg_m": 1.0,
            "toolmaker.die_board_kg_m2": 1.0,
        }
    )
    inventory = Inventory("die", "separate", flows, {}, 0.0, 0.0, 5.0, 1_000.0)
    assert total_carbon(inventory, x) == pytest.approx(64.0, rel=1e-12)
    assert total_carbon(inventory, x, biogenic=True) == 0
