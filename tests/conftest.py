"""Fixtures shared by the tests: demo jobs, and plain jobs of a few numbers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

from compare import Layer, Scenario, prepare, read_file
from compare.readers.jobfile import settings_layer

# the same draws in every run: a red build is the fault of the change, not of the dice
settings.register_profile("repeatable", derandomize=True)
settings.load_profile("repeatable")

DATA = Path(__file__).resolve().parents[1] / "data"

_PLAIN = {
    "demand.run_length": 1000,
    "sheet.width_mm": 1000,
    "sheet.length_mm": 700,
    "board.grammage_g_m2": 300,
    "board.caliper_mm": 0.4,
    "carton.blank_area_m2": 0.05,
    "work.cutting_m": 1.0,
    "work.creasing_m": 1.0,
    "work.nicks": 0,
    "work.bends": 0,
    "work.strokes": 0,
    "work.corner_load": 0,
    "layout.ups_die": 1,
    "layout.ups_laser": 1,
}


@pytest.fixture(scope="session")
def load() -> Callable[..., Scenario]:
    """Prepare a demo job on the demo plant: ``load("soap_sleeve", "plant.country=SE")``."""
    plant = read_file(DATA / "plants" / "northfold.toml", kind="plant")

    def prepared(job: str, *settings: str) -> Scenario:
        layers = (plant, read_file(DATA / "demo" / f"{job}.toml", kind="job"), settings_layer(list(settings)))
        return prepare(*layers)

    return prepared


@pytest.fixture(scope="session")
def plain() -> Callable[..., Scenario]:
    """Prepare a job of one carton per sheet without style or plant: ``plain({"laser.heads": 1})``."""

    def prepared(values: dict[str, float | str] | None = None) -> Scenario:
        return prepare(Layer("test", {**_PLAIN, **(values or {})}))

    return prepared


@pytest.fixture(scope="session", params=sorted(path.stem for path in (DATA / "demo").glob("*.toml")))
def demo_job(request: pytest.FixtureRequest) -> str:
    """Each demo job by name."""
    return str(request.param)
