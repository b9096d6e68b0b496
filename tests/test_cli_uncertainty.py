"""How sure an answer is, on the command line."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from compare import cli

DATA = Path(__file__).resolve().parents[1] / "data"
PLANT = ("--plant", str(DATA / "plants" / "northfold.toml"))
OPEN, CLEAR = (str(DATA / "demo" / f"{name}.toml") for name in ("herbal_drops_uncertain_run", "bakery_tray"))
FEW = ("--draws", "256")


class Result(NamedTuple):
    """What a run left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def evenrun(monkeypatch, capsys) -> Callable[..., Result]:
    """Run the command line in this process."""

    def run(*arguments: str) -> Result:
        monkeypatch.setattr(sys, "argv", ["evenrun", *arguments])
        with pytest.raises(SystemExit) as stop:
            cli.main()
        out, err = capsys.readouterr()
        return Result(int(stop.value.code or 0), out, err)

    return run


def test_one_demo_job_is_clear_and_one_is_open(evenrun):
    clear = evenrun("compare", CLEAR, *PLANT, "--uncertainty", *FEW).out
    opened = evenrun("compare", OPEN, *PLANT, "--uncertainty", *FEW).out
    assert "the die is clearly cheaper" in clear
    assert "it is open which route is cheaper" in opened
    assert "Worth measuring first" in " ".join(opened.split())


def test_the_same_seed_prints_the_same(evenrun):
    asked = ("compare", OPEN, *PLANT, "--uncertainty", *FEW, "--json")
    assert evenrun(*asked).out == evenrun(*asked).out
    assert evenrun(*asked).out != evenrun(*asked, "--seed", "2").out


def test_without_asking_nothing_is_drawn(evenrun):
    assert json.loads(evenrun("compare", CLEAR, *PLANT, "--json").out)["uncertainty"] is None


def test_a_range_turns_the_draws_on(evenrun):
    asked = evenrun("compare", CLEAR, *PLANT, "--between", "demand.run_length=40000..80000 pert", *FEW, "--json")
    found = json.loads(asked.out)["uncertainty"]["varied"]["demand.run_length"]
    assert found == {"shape": "pert", "low": 40_000, "value": 60_000, "high": 80_000}


def test_indices_are_worked_out_on_demand(evenrun):
    found = json.loads(evenrun("compare", OPEN, *PLANT, "--indices", *FEW, "--json").out)["uncertainty"]
    assert set(found["variance_shares"][0]) == {"name", "alone", "total"}


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (("--uncertainty", "--draws", "1000000"), "--draws: 1,000,000 draws can't be made; give a power of two"),
        (("--uncertainty", "--draws", "1000"), "--draws: 1,000 draws can't be made"),
        (("--between", "demand.run_length=9000..4000"), "low end (9000) above its high end (4000); exchange them"),
        (("--between", "demand.run_length=10..20"), "outside its range from 10 to 20"),
        (("--between", "demand.run_length"), "is not a range; write it as name=value"),
        (("--between", "demand.run_length=lognormal"), "lognormal without a measure of its width"),
        (("--between", "plant.country=1..2"), "plant.country is a text and has no range"),
    ],
)
def test_what_can_not_be_drawn_is_told_in_one_line(evenrun, options, line):
    result = evenrun("compare", CLEAR, *PLANT, *options)
    assert result.code == 2
    assert result.out == ""
    assert line in result.err
    assert result.err.count("\n") == 1


def test_a_job_that_one_route_can_make_has_no_sureness(evenrun):
    job = str(DATA / "demo" / "toy_pvc_laminate.toml")
    result = evenrun("compare", job, *PLANT, "--uncertainty", "--indices", *FEW)
    assert result.code == 0
    assert "Only the die can make this job" in result.out
    assert "How sure" in result.out
