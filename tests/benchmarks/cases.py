"""What is measured: a million varied scenarios, and jobs whose two totals are hard to tell apart."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from compare import Inputs, Layer, Scenario, evaluate, prepare, read_file, replace
from compare.data_files import data_folder

PLANT = data_folder() / "plants" / "northfold.toml"
LAST = 1_000_000
"""Last run length searched for ranges."""

GRID = np.arange(1, 10_001) * 100.0
"""A 10,000-point grid of run lengths up to the last one."""


def demo_jobs() -> list[Path]:
    """Return the files of the demo jobs."""
    return sorted((data_folder() / "demo").glob("*.toml"))


def scenario(job: str, **values: float) -> Scenario:
    """Return a demo job on the demo plant; ``group__name`` stands for ``group.name``."""
    own = Layer("benchmark", {name.replace("__", "."): value for name, value in values.items()})
    return prepare(read_file(PLANT, kind="plant"), read_file(data_folder() / "demo" / f"{job}.toml", kind="job"), own)


ALL_LINES = {
    "work__perforating_m": 0.3,
    "work__cutting_creasing_m": 0.4,
    "work__partial_cutting_m": 0.2,
    "work__varnish_release_m": 0.1,
    "work__waste_pieces": 2.0,
    "die__separation_h_per_1000": 0.1,
}
"""Lines of every kind, so that nothing is left out because a job has none of it."""


def a_million(base: Inputs, size: int = 1_000_000) -> Inputs:
    """Vary 14 inputs at random, each in about the range of the table of assumptions."""
    draw = np.random.default_rng(20).uniform
    ranges = {
        "demand.orders_per_year": (1, 12),
        "demand.changes_per_year": (0, 3),
        "sheet.print_cost": (0.05, 0.3),
        "board.price_per_t": (800, 1700),
        "work.cutting_m": (0.5, 3),
        "die.speed_sheets_h": (4000, 7500),
        "die.make_ready_first_h": (1.2, 3.5),
        "laser.power_w": (300, 2000),
        "laser.severance_j_mm2": (0.2, 1.7),
        "laser.setup_h": (0.1, 0.5),
        "rates.press_h": (60, 160),
        "rates.laser_h": (120, 320),
        "rates.kwh": (0.08, 0.32),
    }
    varied = {name: draw(low, high, size) for name, (low, high) in ranges.items()}
    return replace(base, {"demand.run_length": np.floor(draw(1000, 200_000, size)), **varied})


def _lives(impressions: float, crease_set: float) -> dict[str, float]:
    return {"die.life_impressions": impressions, "laser.crease_set_life": crease_set}


def _ups(die: float, laser: float) -> dict[str, float]:
    return {"layout.ups_die": die, "layout.ups_laser": laser}


_SIX = {"demand.versions": 6.0, "demand.crease_versions": 6.0}


def nasty_jobs() -> dict[str, Inputs]:
    """Return jobs with many steps, and jobs whose totals run side by side over the whole domain."""
    base = scenario("bakery_tray").inputs
    steps: dict[str, dict[str, float]] = {
        "1 up on both routes": _ups(1, 1),
        "8 ups against 9": _ups(8, 9),
        "7 ups against 11": _ups(7, 11),
        "6 versions": _SIX,
        "6 versions on mixed sheets, 6 ups": {**_SIX, **_ups(6, 6), "demand.mixed_sheets": 1.0},
        "6 versions on mixed sheets, 8 ups": {**_SIX, **_ups(8, 8), "demand.mixed_sheets": 1.0},
        "lives of 500 and 300": _lives(500, 300),
        "lives of 50 and 30": _lives(50, 30),
    }
    beside: dict[str, dict[str, float]] = {
        "side by side": {},
        "side by side, 1 up": _ups(1, 1),
        "side by side, 7 ups against 8": _ups(7, 8),
        "side by side, 1 up, lives of 1,000 and 700": {**_ups(1, 1), **_lives(1000, 700)},
        "side by side, 7 ups against 8, lives of 1,000 and 700": {**_ups(7, 8), **_lives(1000, 700)},
        "side by side, 6 versions, 7 ups against 8, lives of 1,000 and 700": {
            **_SIX,
            **_ups(7, 8),
            **_lives(1000, 700),
        },
        "side by side, 7 ups against 8, lives of 100 and 70": {**_ups(7, 8), **_lives(100, 70)},
    }
    jobs = {name: replace(base, changes) for name, changes in steps.items()}
    return jobs | {name: side_by_side(replace(base, changes)) for name, changes in beside.items()}


def beyond_use() -> dict[str, Inputs]:
    """Return jobs that change route every few cartons over the whole domain: no real tool lives that short."""
    base = scenario("bakery_tray").inputs
    return {
        f"side by side, 1 up, lives of {die:g} and {laser:g}": side_by_side(
            replace(base, {**_ups(1, 1), **_lives(die, laser)})
        )
        for die, laser in ((100, 70), (10, 7))
    }


def side_by_side(x: Inputs) -> Inputs:
    """Tune a job until both costs rise alike and meet in the middle of the domain.

    A tool that exists and one order leave little fixed cost. Cost is linear in every price, so two
    points give the press rate at which the slopes are equal, and two more the fixed cost.
    """
    x = replace(x, {"tooling.owned": 1, "demand.orders_per_year": 1, "demand.years": 1, "demand.changes_per_year": 0})
    x = _tuned(x, "rates.press_h", lambda job: float(np.polyfit(GRID, _gap(job), 1)[0]))
    die_is_dearer = float(np.mean(_gap(x))) > 0
    return _tuned(
        x, "laser.setup_h" if die_is_dearer else "toolmaker.storage_set_year", lambda job: float(np.mean(_gap(job)))
    )


def _gap(x: Inputs) -> np.ndarray:
    both = evaluate(replace(x, {"demand.run_length": GRID}), measures=("cost",))
    return np.asarray(both.die["cost"] - both.laser["cost"])


def _tuned(x: Inputs, name: str, off: Callable[[Inputs], float]) -> Inputs:
    low = x.number(name)
    high = 2 * low + 1
    at_low, at_high = off(x), off(replace(x, {name: high}))
    return replace(x, {name: low - at_low * (high - low) / (at_high - at_low)})
