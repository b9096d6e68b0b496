"""The engine against a second implementation of its contract, figure by figure (derived here).

``oracle.py`` was written from the contract of the model, with plain floats and loops, by somebody who had not read the
engine. Where both agree to 1e-9, a slip of one of them is not the reason. What both take from the contract alike is not
checked here: the checks against published values do that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
import oracle
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from compare import Inputs, break_evens, compare, evaluate, prepare, read_file, replace
from compare.geometry.toolpath import Toolpath
from compare.routes import die, laser
from compare.routes.inventory import Inventory
from compare.valuation.carbon import total_carbon
from compare.valuation.money import total_money
from compare.valuation.waste import mass_balance, total_waste

DATA = Path(__file__).parent.parent / "data"
JOBS = sorted(path.stem for path in (DATA / "demo").glob("*.toml"))
LAST = 3_000
SCANS = 25
PARTS = ("good_board", "overs", "spoilage", "trim", "waste")

SWITCHES = ("demand.mixed_sheets", "tooling.owned", "laser.crease_set_stored")
WHOLE = {"layout.ups_die": (1, 24), "layout.ups_laser": (1, 24), "laser.heads": (1, 8)}
# name: least and most; a least of 0 also puts 0 itself on the table
SPANS: dict[str, tuple[float, float]] = {
    "demand.orders_per_year": (0.5, 15),
    "demand.years": (0.5, 6),
    "demand.changes_per_year": (0, 5),
    "work.cutting_m": (0, 4),
    "work.creasing_m": (0, 3),
    "work.cutting_creasing_m": (0, 1),
    "work.perforating_m": (0, 1),
    "work.partial_cutting_m": (0, 1),
    "work.varnish_release_m": (0, 1),
    "work.nicks": (0, 30),
    "work.bends": (0, 80),
    "work.strokes": (0, 60),
    "work.corner_load": (0, 60),
    "work.waste_pieces": (0, 30),
    "sheet.width_mm": (300, 1060),
    "sheet.length_mm": (300, 760),
    "sheet.print_cost": (0, 0.5),
    "board.grammage_g_m2": (150, 600),
    "board.caliper_mm": (0.2, 1.2),
    "board.price_per_t": (500, 2000),
    "tooling.change_share": (0, 1),
    "die.speed_sheets_h": (500, 9000),
    "die.make_ready_first_h": (0, 5),
    "die.make_ready_repeat_h": (0, 2),
    "die.make_ready_per_up_h": (0, 0.1),
    "die.make_ready_first_sheets": (0, 400),
    "die.make_ready_repeat_sheets": (0, 200),
    "die.running_waste": (0, 0.2),
    "die.crew": (0, 3),
    "die.run_kw": (0, 60),
    "die.idle_kw": (0, 20),
    "die.separation_h_per_1000": (0, 1),
    "die.life_impressions": (100, 2_000_000),
    "die.rubber_kg_m": (0, 0.2),
    "die.counter_kg_m2": (0, 5),
    "die.air_m3_h": (0, 60),
    "plant.air_kwh_m3": (0.06, 0.3),
    "toolmaker.set_fee": (0, 500),
    "toolmaker.die_board_m2": (0, 100),
    "toolmaker.cutting_rule_m": (0, 15),
    "toolmaker.creasing_rule_m": (0, 15),
    "toolmaker.cut_crease_rule_m": (0, 15),
    "toolmaker.perforating_rule_m": (0, 15),
    "toolmaker.scoring_rule_m": (0, 15),
    "toolmaker.rule_bend": (0, 1),
    "toolmaker.nick": (0, 1),
    "toolmaker.ejection_rubber_m": (0, 5),
    "toolmaker.creasing_counter_m2": (0, 300),
    "toolmaker.stripping_piece": (0, 10),
    "toolmaker.blanking_up": (0, 50),
    "toolmaker.storage_set_year": (0, 50),
    "toolmaker.distance_km": (0, 1000),
    "toolmaker.die_board_kg_m2": (5, 20),
    "toolmaker.rule_kg_m": (0.05, 0.3),
    "laser.power_w": (50, 3000),
    "laser.efficiency": (0.03, 1),
    "laser.severance_j_mm2": (0.05, 3),
    "laser.max_mark_m_s": (0.2, 8),
    "laser.jump_m_s": (1, 20),
    "laser.jump_delay_ms": (0, 2),
    "laser.mark_delay_ms": (0, 2),
    "laser.polygon_delay_ms": (0, 2),
    "laser.mean_jump_mm": (0, 200),
    "laser.balance": (0.3, 1),
    "laser.partial_depth": (0.05, 1),
    "laser.varnish_depth": (0.01, 1),
    "laser.cut_crease_duty": (0, 1),
    "laser.nick_ms": (0, 3),
    "laser.feeder_sheets_h": (100, 8000),
    "laser.setup_h": (0, 2),
    "laser.version_h": (0, 0.5),
    "laser.setup_sheets": (0, 100),
    "laser.running_waste": (0, 0.2),
    "laser.crew": (0, 3),
    "laser.aux_kw": (0, 60),
    "laser.idle_kw": (0, 30),
    "laser.chiller_cop": (1, 6),
    "laser.kerf_mm": (0, 0.6),
    "laser.separation_h_per_1000": (0, 1),
    "laser.crease_set_h": (0, 1),
    "laser.crease_set_life": (50, 100_000),
    "laser.crease_set_kg": (0, 2),
    "laser.air_m3_h": (0, 60),
    "rates.press_h": (0, 300),
    "rates.laser_h": (0, 500),
    "rates.labour_h": (0, 80),
    "rates.kwh": (0, 0.5),
    "rates.crease_set": (0, 200),
    "rates.laser_consumables_h": (0, 50),
    "rates.freight_tkm": (0, 5),
    "rates.waste_board_t": (-150, 150),
    "factors.board_kg": (0.2, 2),
    "factors.kwh": (0, 1),
    "factors.die_board_kg": (0, 3),
    "factors.steel_kg": (0, 5),
    "factors.rubber_kg": (0, 5),
    "factors.plastic_kg": (0, 5),
    "factors.freight_tkm": (0, 1),
    "factors.waste_board_kg": (0, 2),
    "factors.kerf_biogenic_kg": (0, 1.5),
}


@cache
def base() -> Inputs:
    """Return inputs to start from: a job with several outlines on one sheet."""
    return demo("soap_sleeve").inputs


@cache
def demo(name: str) -> Any:
    plant = read_file(DATA / "plants" / "northfold.toml", kind="plant")
    return prepare(plant, read_file(DATA / "demo" / f"{name}.toml", kind="job"))


def amount(low: float, high: float) -> st.SearchStrategy[float]:
    """Draw from a span; from 0 itself, too, where it lies in it. Next to 0 the engine takes nothing (below 1e-9)."""
    if low > 0:
        return st.floats(low, high)
    if low < 0:
        return st.just(0.0) | st.floats(low, low / 1000) | st.floats(high / 1000, high)
    return st.just(0.0) | st.floats(high / 1000, high)


PLAN: dict[str, st.SearchStrategy[float]] = {
    **{name: amount(*span) for name, span in SPANS.items()},
    **{name: st.sampled_from((0.0, 1.0)) for name in SWITCHES},
    **{name: st.integers(*span) for name, span in WHOLE.items()},
    "demand.versions": st.integers(1, 12),
}


@st.composite
def jobs(draw: st.DrawFn, fixed: Mapping[str, st.SearchStrategy[float]]) -> Inputs:
    """Draw inputs that go together; some names from narrower strategies."""
    values: dict[str, float] = draw(st.fixed_dictionaries({**PLAN, **fixed}))
    versions = int(values["demand.versions"])
    values["demand.crease_versions"] = draw(st.integers(1, versions))
    values["demand.run_length"] = draw(st.integers(versions, 2_000) | st.integers(versions, 500_000))
    for route in ("die", "laser"):  # blanks side by side without a gap share up to some half of their lines
        values[f"layout.shared_{route}_m"] = draw(st.just(0.0) | st.floats(0.01, 0.6)) * values["work.cutting_m"]
    return together(values, fill=draw(st.floats(0.2, 1)))


def together(values: dict[str, float], fill: float) -> Inputs:
    """Give the blank the area that fills this share of the fuller sheet, and put all into the base job."""
    sheet_m2 = values["sheet.width_mm"] * values["sheet.length_mm"] / 1e6
    values["carton.blank_area_m2"] = fill * sheet_m2 / max(values["layout.ups_die"], values["layout.ups_laser"])
    return replace(base(), values)


def engine_figures(inventory: Inventory, x: Inputs) -> dict[str, float]:
    """Collect from the engine what the oracle gives, under the oracle's names."""
    parts = mass_balance(inventory)
    counts = inventory.counts
    figures: dict[str, Any] = {
        "cost": total_money(inventory, x, "full"),
        "co2e": total_carbon(inventory, x),
        "biogenic": total_carbon(inventory, x, biogenic=True),
        "waste": total_waste(inventory),
        "kwh": inventory.kwh,
        "machine_hours": inventory.machine_hours,
        "labour_hours": inventory.quantity("labour"),
        "sheets": inventory.sheets,
        "good_sheets": counts["good sheets"],
        "cartons": inventory.cartons,
        "overs_cartons": counts["cartons on sheets"] - counts["cartons"],
        "board_in": parts.board_in,
        "good_board": parts.good,
        "overs": parts.overs,
        "spoilage": parts.spoilage,
        "trim": parts.trim,
        "kerf": parts.kerf,
    }
    if inventory.route == "laser":
        figures["crease_sets"] = counts["crease sets"]
    else:
        figures["first_setups"] = counts["first set-ups"]
        figures["repeat_setups"] = counts["repeat set-ups"]
        figures["new_sets"] = counts["new sets"]
        figures["rerulings"] = counts["re-rulings"]
    return {name: float(value) for name, value in figures.items()}


def disagreements(engine: Mapping[str, float], judge: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """Return figures that differ by more than 1e-9; small differences of large masses are held to the large ones."""
    assert engine.keys() == judge.keys(), "both sides give the same figures"
    apart = {}
    for name, value in engine.items():
        size = max(abs(value), abs(judge[name]))
        noise = 0.0
        if name in PARTS:
            noise = 1e-12 * judge["board_in"]
        elif name == "overs_cartons":
            noise = 1e-12 * judge["cartons"]
        elif name == "repeat_setups":
            noise = 1e-12 * (judge["first_setups"] + judge["repeat_setups"])
        if not abs(value - judge[name]) <= max(1e-9 * size, noise):
            apart[name] = (value, judge[name])
    return apart


def strokes_of(path: Toolpath | None) -> list[list[dict[str, Any]]] | None:
    """Return the strokes of a planned path as the oracle takes them; none where there is no path."""
    if path is None:
        return None
    return [
        [
            {
                "kind": trail.kind,
                "legs": [(a / 1000, r / 1000) for a, r in zip(trail.length, trail.radius, strict=True)],
                "turns": trail.turn[1:].tolist(),
                "jump_m": jump / 1000,
            }
            for trail, jump in zip(head.trails, head.jumps_mm.tolist(), strict=True)
        ]
        for head in path.heads
    ]


def assert_agreement(x: Inputs, route: str, path: Toolpath | None = None) -> None:
    """Hold one route of the engine to the oracle."""
    inventory = laser.inventory(x) if route == "laser" else die.inventory(x, route.removeprefix("die "))
    apart = disagreements(engine_figures(inventory, x), oracle.evaluate(dict(x), route, strokes_of(path)))
    assert not apart, f"{route}: (engine, oracle) {apart}"


# every demo job


@pytest.mark.parametrize("job", JOBS)
def test_a_demo_job_on_separate_dies_is_computed_as_the_contract_says(job: str) -> None:
    """The jobs every reader starts with must be right in every figure, not only in cost."""
    assert_agreement(demo(job).inputs, "die separate")


@pytest.mark.parametrize("job", JOBS)
def test_a_demo_job_on_the_laser_is_computed_as_the_contract_says(job: str) -> None:
    """The jobs every reader starts with must be right in every figure, not only in cost."""
    assert_agreement(demo(job).inputs, "laser", demo(job).toolpath)


def test_the_demo_job_with_six_outlines_on_one_die_is_computed_as_the_contract_says() -> None:
    """It is the only demo job that may be ganged, so the strategy would go unchecked without it."""
    assert [job for job in JOBS if oracle.can_gang(dict(demo(job).inputs))] == ["soap_sleeve"]
    assert_agreement(demo("soap_sleeve").inputs, "die ganged")


@pytest.mark.parametrize("job", JOBS)
def test_the_comparison_shows_the_figures_of_the_contract_per_1000_cartons(job: str) -> None:
    """What is shown goes through the ledger, line by line, and not through the totals checked above."""
    shown, x = compare(demo(job)), dict(demo(job).inputs)
    for route, judge in (
        (shown.die, oracle.best_die(x)),
        (shown.laser, oracle.evaluate(x, "laser", strokes_of(demo(job).toolpath))),
    ):
        thousands = judge["cartons"] / 1000
        per_1000 = (route.cost_per_1000, route.co2e_per_1000, route.biogenic_per_1000, route.waste_per_1000)
        assert per_1000 == pytest.approx(
            [judge[name] / thousands for name in ("cost", "co2e", "biogenic", "waste")], rel=1e-9, abs=0
        )


# random jobs

# a hundred inputs take minutes to shrink, and a disagreement names its figure anyway
NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)
RANDOM = settings(max_examples=150, deadline=None, phases=NO_SHRINKING)
REGIME = settings(RANDOM, max_examples=25, suppress_health_check=[HealthCheck.filter_too_much])
GANGED = {
    "demand.mixed_sheets": st.just(1.0),
    "demand.versions": st.integers(2, 12),
    "layout.ups_die": st.integers(12, 40),
}


@RANDOM
@given(x=jobs({}))
def test_a_random_job_on_separate_dies_agrees(x: Inputs) -> None:
    """Demo jobs share their plant and most of their inputs; here every input moves at once."""
    assert_agreement(x, "die separate")


@RANDOM
@given(x=jobs(GANGED))
def test_a_random_job_on_one_die_for_all_versions_agrees(x: Inputs) -> None:
    """Ups that the versions do not divide leave places empty, which must go to trim and not to overs."""
    assert_agreement(x, "die ganged")


@RANDOM
@given(x=jobs({}))
def test_a_random_job_on_the_laser_agrees(x: Inputs) -> None:
    """Demo jobs share their plant and most of their inputs; here every input moves at once."""
    assert_agreement(x, "laser")


@RANDOM
@given(x=jobs({**GANGED, "demand.versions": st.integers(1, 6), "layout.ups_die": st.integers(1, 12)}))
def test_the_cheaper_feasible_die_stands_for_the_die(x: Inputs) -> None:
    """The die's best case is what makes the comparison honest; a die that is not feasible must not be it."""
    judge, shown = oracle.best_die(dict(x)), evaluate(x, measures=("cost", "co2e", "waste")).die
    assert [shown[name] for name in ("cost", "co2e", "waste")] == pytest.approx(
        [judge[name] for name in ("cost", "co2e", "waste")], rel=1e-9, abs=1e-12 * judge["board_in"]
    )


Figures = Mapping[str, float]
Regime = tuple[dict[str, st.SearchStrategy[float]], Callable[[Figures, Figures, Figures], bool]]

# name: inputs that lead there, and whether (inputs, separate dies, laser) are really there
REGIMES: dict[str, Regime] = {
    "the first die is owned and changes cost part of a set": (
        {
            "tooling.owned": st.just(1.0),
            "demand.changes_per_year": st.floats(0.1, 3),
            "tooling.change_share": st.floats(0.05, 0.95),
        },
        lambda x, d, _: d["new_sets"] < x["demand.versions"] * (oracle.generations(x) - 1),
    ),
    "the die is owned and never changes": (
        {"tooling.owned": st.just(1.0), "demand.changes_per_year": st.just(0.0)},
        lambda _x, d, _l: d["new_sets"] == d["first_setups"] == 0,
    ),
    "changes are a fraction per year": (
        {"demand.changes_per_year": st.floats(0.05, 0.95)},
        lambda x, _d, _l: oracle.generations(x) % 1 != 0,
    ),
    "there are more changes than orders": (
        {
            "tooling.owned": st.just(0.0),
            "demand.changes_per_year": st.floats(3, 5),
            "demand.orders_per_year": st.floats(0.5, 2),
        },
        lambda _x, d, _l: d["repeat_setups"] == 0,
    ),
    "most set-ups are repeats": (
        {"demand.changes_per_year": amount(0, 1), "demand.orders_per_year": st.floats(6, 15)},
        lambda _x, d, _l: d["repeat_setups"] > d["first_setups"],
    ),
    "dies are ruled anew": (
        {"die.life_impressions": st.floats(50, 500)},
        lambda _x, d, _l: d["rerulings"] > 0,
    ),
    "every kind of line is on the carton": (
        {f"work.{kind}_m": st.floats(0.01, 1) for kind in (*oracle.CUT_KINDS, "creasing")},
        lambda x, _d, _l: all(x[f"work.{kind}_m"] > 0 for kind in oracle.CUT_KINDS),
    ),
    "partial cuts run at the scanner's limit": (
        {
            "work.partial_cutting_m": st.floats(0.01, 1),
            "laser.partial_depth": st.floats(0.01, 0.1),
            "laser.max_mark_m_s": st.floats(0.2, 2),
        },
        lambda x, _d, _l: (
            oracle.mark_speed_m_s(x, x["laser.partial_depth"])
            == x["laser.max_mark_m_s"]
            > oracle.mark_speed_m_s(x, 1.0)
        ),
    ),
    "varnish release runs slower than the scanner could": (
        {
            "work.varnish_release_m": st.floats(0.01, 1),
            "laser.varnish_depth": st.floats(0.3, 1),
            "laser.max_mark_m_s": st.floats(4, 8),
        },
        lambda x, _d, _l: oracle.mark_speed_m_s(x, x["laser.varnish_depth"]) < x["laser.max_mark_m_s"],
    ),
    "the feeder limits the laser": (
        {"laser.feeder_sheets_h": st.floats(20, 200), "layout.ups_laser": st.integers(1, 4)},
        lambda x, _d, _l: oracle.feed_seconds(x) > oracle.cut_seconds(x) > 0,
    ),
    "cutting limits the laser": (
        {"laser.feeder_sheets_h": st.floats(4000, 9000), "work.cutting_m": st.floats(0.5, 4)},
        lambda x, _d, _l: oracle.cut_seconds(x) > oracle.feed_seconds(x),
    ),
    "stored crease sets wear out": (
        {
            "laser.crease_set_stored": st.just(1.0),
            "laser.crease_set_life": st.floats(20, 200),
            "work.creasing_m": st.floats(0.1, 3),
        },
        lambda x, _d, beam: beam["crease_sets"] > x["demand.crease_versions"] * oracle.generations(x),
    ),
    "crease sets wear out within an order": (
        {
            "laser.crease_set_stored": st.just(0.0),
            "laser.crease_set_life": st.floats(20, 200),
            "work.creasing_m": st.floats(0.1, 3),
        },
        lambda x, _d, beam: beam["crease_sets"] > x["demand.crease_versions"] * oracle.orders(x),
    ),
    "versions differ in their creases": (
        {"demand.versions": st.integers(3, 12), "work.creasing_m": st.floats(0.1, 3)},
        lambda x, _d, _l: 1 < x["demand.crease_versions"] < x["demand.versions"],
    ),
    "only cut creases are creased": (
        {"work.creasing_m": st.just(0.0), "work.cutting_creasing_m": st.floats(0.01, 1)},
        lambda _x, _d, beam: beam["crease_sets"] > 0,
    ),
    "nothing is creased": (
        {"work.creasing_m": st.just(0.0), "work.cutting_creasing_m": st.just(0.0)},
        lambda _x, _d, beam: beam["crease_sets"] == 0,
    ),
    "mixed sheets save the laser part-filled sheets": (
        {"demand.mixed_sheets": st.just(1.0), "demand.versions": st.integers(2, 12)},
        lambda x, _d, beam: (
            beam["good_sheets"] < oracle.evaluate({**x, "demand.mixed_sheets": 0}, "laser")["good_sheets"]
        ),
    ),
    "compressed air is used on both routes": (
        {"die.air_m3_h": st.floats(1, 60), "laser.air_m3_h": st.floats(1, 60)},
        lambda x, d, beam: (
            d["kwh"] > oracle.evaluate({**x, "die.air_m3_h": 0}, "die separate")["kwh"]
            and beam["kwh"] > oracle.evaluate({**x, "laser.air_m3_h": 0}, "laser")["kwh"]
        ),
    ),
}


@pytest.mark.parametrize("regime", REGIMES)
@REGIME
@given(data=st.data())
def test_a_random_job_agrees_where(regime: str, data: st.DataObject) -> None:
    """Each branch of the model is entered on purpose, and left out jobs that do not get there."""
    inputs, is_there = REGIMES[regime]
    x = data.draw(jobs(inputs))
    flat = dict(x)
    assume(is_there(flat, oracle.evaluate(flat, "die separate"), oracle.evaluate(flat, "laser")))
    for route in oracle.ROUTES:
        if route != "die ganged" or oracle.can_gang(flat):
            assert_agreement(x, route)


@RANDOM
@given(x=jobs({}))
def test_the_oracle_keeps_the_balance_of_board_that_the_contract_states(x: Inputs) -> None:
    """An oracle that breaks the contract's own law (board in = good + overs + spoilage + trim) is no judge."""
    for route in oracle.ROUTES:
        if route != "die ganged" or oracle.can_gang(dict(x)):
            judge = oracle.evaluate(dict(x), route)
            parts = judge["good_board"] + judge["overs"] + judge["spoilage"] + judge["trim"]
            assert parts == pytest.approx(judge["board_in"], rel=1e-9)


# break-even

MEASURES = ("cost", "co2e", "waste")
Stretch = tuple[int, int, str]


@cache
def scan_job(seed: int) -> Inputs:
    """Draw a job with many steps below 3,000 cartons, and set it so that both routes meet somewhere there."""
    rng = np.random.default_rng(seed)
    versions = int(rng.integers(1, 7))
    values = {
        "demand.versions": versions,
        "demand.crease_versions": int(rng.integers(1, versions + 1)),
        "demand.orders_per_year": float(rng.choice([1, 1, 2, 4.5])),
        "demand.years": float(rng.choice([1, 2, 2.5])),
        "demand.changes_per_year": float(rng.choice([0, 0, 0.4, 1])),
        "demand.mixed_sheets": float(rng.choice([0, 1, 1])),
        "tooling.owned": float(rng.choice([0, 0, 1])),
        "tooling.change_share": rng.uniform(0, 1),
        "sheet.width_mm": 740,
        "sheet.length_mm": 520,
        "layout.ups_die": int(rng.integers(3, 15)),
        "layout.ups_laser": int(rng.integers(3, 15)),
        "work.partial_cutting_m": rng.uniform(0, 0.2),
        "die.life_impressions": float(rng.integers(60, 800)),
        "die.make_ready_first_sheets": float(rng.integers(0, 30)),
        "die.make_ready_repeat_sheets": float(rng.integers(0, 20)),
        "die.make_ready_first_h": rng.uniform(0, 0.5),
        "die.make_ready_repeat_h": rng.uniform(0, 0.3),
        "die.running_waste": rng.uniform(0, 0.05),
        "laser.setup_sheets": float(rng.integers(0, 20)),
        "laser.running_waste": rng.uniform(0, 0.1),
        "laser.crease_set_life": float(rng.integers(40, 600)),
        "laser.crease_set_stored": float(rng.choice([0, 1])),
        "laser.feeder_sheets_h": rng.uniform(100, 1000),
        "toolmaker.set_fee": rng.uniform(0, 60),
        "rates.crease_set": rng.uniform(0, 60),
        "factors.steel_kg": rng.uniform(0, 10),
    }
    if seed % 3 == 0:  # one die for all is the cheaper one for short runs only: it leaves almost half its places empty
        versions = int(rng.integers(2, 5))
        values |= {
            "demand.versions": versions,
            "demand.crease_versions": 1,
            "demand.changes_per_year": 0,
            "demand.mixed_sheets": 1,
            "tooling.owned": 0,
            "layout.ups_die": 2 * versions - 1,
            "die.make_ready_first_sheets": 5,
            "die.make_ready_repeat_sheets": 2,
            "die.life_impressions": float(rng.integers(1_000, 3_000)),
            "toolmaker.set_fee": rng.uniform(0, 20),
            "toolmaker.creasing_counter_m2": 20,
            "toolmaker.blanking_up": 1,
            "rates.labour_h": 10,
        }
    alike = seed % 5 == 1
    if alike:  # as many sheets on both routes, for ties in waste
        values |= {
            "tooling.owned": 0,
            "layout.ups_laser": values["layout.ups_die"],
            "laser.running_waste": values["die.running_waste"],
            "laser.setup_sheets": versions * values["die.make_ready_first_sheets"],
            "die.make_ready_repeat_sheets": values["die.make_ready_first_sheets"],
        }
    x = together(values, fill=rng.uniform(0.6, 1))
    # in this order: sheets move carbon and money, too
    routes = ("die", "laser")
    met = [float(run_length) for run_length in rng.integers(200, 2_500, 4)]
    if not alike:
        x = meet(x, "waste", ("laser.setup_sheets", "die.make_ready_first_sheets"), met[0], routes)
    x = meet(x, "co2e", ("laser.crease_set_kg", "factors.die_board_kg"), met[1], routes)
    if seed % 3 == 0:
        x = meet(x, "cost", ("board.price_per_t",), met[2], oracle.DIE_STRATEGIES)
    return meet(x, "cost", ("rates.laser_h", "toolmaker.set_fee"), met[3], routes)


def meet(x: Inputs, measure: str, levers: tuple[str, ...], run_length: float, pair: tuple[str, str]) -> Inputs:
    """Set the first input that will do so that two ways of making the job meet at a run length; or leave it all."""

    def apart(name: str, value: float) -> float:
        flat = {**x, "demand.run_length": run_length, name: value}
        one, other = (oracle.best_die(flat) if way == "die" else oracle.evaluate(flat, way) for way in pair)
        return one[measure] - other[measure]

    for name in levers:
        value = x.number(name)
        slope = apart(name, value + 1) - apart(name, value)
        root = value - apart(name, value) / slope if slope else -1
        if root > 0.01:
            return replace(x, {name: root})
    return x


@cache
def scanned(seed: int) -> dict[str, list[Stretch]]:
    """Ask the oracle at every single run length which route is lower, and which die; join equal neighbours."""
    x = dict(scan_job(seed))
    start = int(x["demand.versions"])
    calls: dict[str, list[str]] = {measure: [] for measure in (*MEASURES, "strategy")}
    for run_length in range(start, LAST + 1):
        x["demand.run_length"] = float(run_length)
        strategy = oracle.best_strategy(x)
        best, beam = oracle.evaluate(x, strategy), oracle.evaluate(x, "laser")
        calls["strategy"].append(strategy)
        for measure in MEASURES:
            calls[measure].append(oracle.lower(best[measure], beam[measure]))
    return {name: stretches(answers, start) for name, answers in calls.items()}


def stretches(answers: list[str], start: int) -> list[Stretch]:
    found = []
    for lowest, group in groupby(answers):
        end = start + len(list(group)) - 1
        found.append((start, end, lowest))
        start = end + 1
    return found


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("seed", range(SCANS))
def test_ranges_are_those_of_a_scan_of_every_run_length(seed: int, measure: str) -> None:
    """Bounds that skip whole intervals are only right if no single carton says otherwise."""
    found = break_evens(scan_job(seed), last=LAST)[measure]
    assert [tuple(r) for r in found.ranges] == scanned(seed)[measure]


@pytest.mark.parametrize("seed", range(SCANS))
def test_the_break_even_is_the_run_length_from_which_the_die_stays_lower(seed: int) -> None:
    """The single figure people quote; a die that leads throughout has no break-even."""
    for measure, found in break_evens(scan_job(seed), last=LAST).items():
        answer = {q: lowest for start, end, lowest in scanned(seed)[measure] for q in range(start, end + 1)}
        assert found.first == min((q for q, lowest in answer.items() if lowest == "die"), default=None)
        assert found.run_length == smallest_lasting(answer)


def smallest_lasting(answer: Mapping[int, str]) -> int | None:
    """Walk down from the longest run as long as the die is lower."""
    lasting = None
    for run_length in sorted(answer, reverse=True):
        if answer[run_length] != "die":
            return lasting
        lasting = run_length
    return None  # the die throughout


@pytest.mark.parametrize("measure", MEASURES)
def test_the_scanned_jobs_cross_often_enough_to_be_a_test(measure: str) -> None:
    """Jobs in which one route leads throughout would agree by luck; so would jobs that never tie."""
    ranges = [scanned(seed)[measure] for seed in range(SCANS)]
    assert sum(len(found) > 2 for found in ranges) >= 15
    assert sum(any(lowest == "even" for *_, lowest in found) for found in ranges) >= 15
    assert max(len(found) for found in ranges) >= 30


def test_the_scanned_jobs_change_their_die_often_enough_to_be_a_test() -> None:
    """The die's strategy is chosen by cost at each run length, in every measure; it has to change for that to show."""
    assert sum(len(scanned(seed)["strategy"]) > 1 for seed in range(SCANS)) >= 5


@pytest.mark.parametrize("seed", range(0, SCANS, 3))
def test_where_both_dies_cost_the_same_the_figures_shown_are_those_the_ranges_are_made_of(seed: int) -> None:
    """A tie within rounding must not be called one way at a run length and the other way in the ranges around it."""
    for run_length in (300.0, 700.0, 1_500.0, 2_200.0):
        tied = meet(scan_job(seed), "cost", ("board.price_per_t",), run_length, oracle.DIE_STRATEGIES)
        x = replace(tied, {"demand.run_length": run_length})
        shown, ranges = evaluate(x), break_evens(x, last=LAST)
        for measure in MEASURES:
            at_a_glance = oracle.lower(float(shown.die[measure]), float(shown.laser[measure]))
            assert ranges[measure].at(run_length) == at_a_glance, f"{measure} at {run_length:g}"


def test_more_versions_than_tool_sets_is_an_answer_and_not_an_error() -> None:
    """The contract: "none: laser throughout" is an answer. With no way to work the die only the laser is left."""
    x = replace(base(), {"demand.versions": 40, "demand.mixed_sheets": 0, "die.max_tool_sets": 30})
    assert [tuple(r) for r in break_evens(x, last=LAST)["cost"].ranges] == [(40, LAST, "laser")]
