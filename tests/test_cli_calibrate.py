"""`evenrun calibrate`: a table for people, a record for programs, a plant file, and one line for every mistake."""

from __future__ import annotations

import hashlib
import json
import re
import sys
import tomllib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import NamedTuple

import pytest

from compare import cli
from compare.decide.sheet_fit import SEVERANCE
from compare.names import flatten
from compare.present.calibration_command import run_calibration, write_plant
from compare.readers.jobfile import read_file

ROOT = Path(__file__).resolve().parents[1]
SHEETS = ROOT / "data" / "demo" / "measured_sheets.csv"
LOG = ROOT / "data" / "demo" / "make_ready_log.csv"
PLANT = ROOT / "data" / "plants" / "northfold.toml"
JOB = ROOT / "data" / "demo" / "soap_sleeve.toml"
DAY = date(2026, 3, 31)


class Result(NamedTuple):
    """What a run left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def evenrun(monkeypatch, capsys) -> Callable[..., Result]:
    """Run the command line in this process."""

    def run(*arguments: object) -> Result:
        monkeypatch.setattr(sys, "argv", ["evenrun", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            cli.main()
        return Result(int(stop.value.code or 0), *capsys.readouterr())

    return run


@pytest.fixture(scope="module")
def found():
    """The invented measurements, fitted."""
    return run_calibration(SHEETS, LOG, PLANT)


@pytest.fixture(scope="module")
def written(found, tmp_path_factory) -> Path:
    """The plant file of the invented measurements, of a given day."""
    path = tmp_path_factory.mktemp("plant") / "calibrated.toml"
    write_plant(found, path, DAY)
    return path


def _refused(result: Result, *texts: str) -> None:
    assert (result.code, result.out, result.err.count("\n")) == (2, "", 1)
    for text in texts:
        assert text in result.err


# -- the plant file ---------------------------------------------------------------------------------------------------


def test_a_calibrated_plant_file_is_the_plant_with_the_fitted_values(found, written):
    plant, calibrated = (flatten(tomllib.loads(p.read_text(encoding="utf-8"))) for p in (PLANT, written))
    # a fitted value has not the range that the plant gave for the one before
    ranges = {f"{name}.{part}" for name in found.values for part in ("value", "low", "high")}
    assert calibrated == {**{name: value for name, value in plant.items() if name not in ranges}, **found.values}


def test_it_keeps_the_comments_of_the_plant(written):
    assert "# Northfold Cartons is invented, and so are its prices." in written.read_text(encoding="utf-8")


@pytest.mark.parametrize("file", [SHEETS, LOG])
def test_it_names_the_measurements_by_name_and_digest_and_no_folder(written, file):
    text = written.read_text(encoding="utf-8")
    assert f"# Measurements: {file.name}\n# SHA-256: {hashlib.sha256(file.read_bytes()).hexdigest()}\n" in text
    assert str(file.parent) not in text


def test_it_says_day_rows_intervals_and_what_was_left_out(found, written):
    text = written.read_text(encoding="utf-8")
    severance = found.sheets.estimates[0]
    assert "# Calibrated on 2026-03-31 by Evenrun " in text
    assert "# Rows left out: 18\n" in text
    assert (
        f"{SEVERANCE} = {severance.value:.4g} J/mm2, 95 % {severance.low:.4g} to {severance.high:.4g}; before 0.5"
        in text
    )


def test_the_same_measurements_and_day_give_the_same_bytes(written, tmp_path):
    again = tmp_path / "calibrated.toml"
    write_plant(run_calibration(SHEETS, LOG, PLANT), again, DAY)
    assert again.read_bytes() == written.read_bytes()


def test_a_job_compares_on_the_calibrated_plant(evenrun, written):
    result = evenrun("compare", JOB, "--plant", written, "--json")
    record = json.loads(result.out)
    assert record["inputs"][SEVERANCE] == read_file(written, kind="plant").values[SEVERANCE]
    assert record["origins"][SEVERANCE] == str(written)


def test_without_a_plant_the_file_holds_the_fitted_values_alone(evenrun, tmp_path):
    assert evenrun("calibrate", SHEETS, "-o", tmp_path / "new.toml").code == 0
    values = read_file(tmp_path / "new.toml", kind="plant").values
    assert set(values) == {SEVERANCE, *(f"laser.{n}_delay_ms" for n in ("jump", "mark", "polygon"))}


def test_a_file_that_is_there_is_written_over_by_force_only(evenrun, tmp_path):
    path = tmp_path / "new.toml"
    path.write_text("# mine\n")
    _refused(evenrun("calibrate", SHEETS, "-o", path), "this file is there already", "--force")
    assert path.read_text() == "# mine\n"
    assert evenrun("calibrate", SHEETS, "-o", path, "--force").code == 0
    assert SEVERANCE in read_file(path, kind="plant").values


def test_the_plant_it_starts_from_is_not_written_over_even_by_force(evenrun, tmp_path):
    path = tmp_path / "plant.toml"
    path.write_bytes(PLANT.read_bytes())
    _refused(evenrun("calibrate", SHEETS, "--plant", path, "-o", path, "--force"), "is read, and is not written over")
    assert path.read_bytes() == PLANT.read_bytes()


def test_a_path_in_the_plant_file_is_not_carried_into_another_folder(evenrun, tmp_path):
    plant = tmp_path / "plant.toml"
    plant.write_text('[carton]\nline_map = "lines.toml"\n')
    (tmp_path / "other").mkdir()
    _refused(evenrun("calibrate", SHEETS, "--plant", plant, "-o", tmp_path / "other" / "new.toml"), "carton.line_map")


@pytest.mark.parametrize(("name", "said"), [("new.csv", "a plant file is TOML"), ("no/new.toml", "can't be written")])
def test_a_place_that_is_none_is_refused(evenrun, tmp_path, name, said):
    _refused(evenrun("calibrate", SHEETS, "-o", tmp_path / name), said)


# -- the answer -------------------------------------------------------------------------------------------------------


def test_the_table_shows_values_intervals_and_the_wild_row(evenrun):
    out = evenrun("calibrate", SHEETS, "--make-ready", LOG, "--plant", PLANT).out
    for text in (
        "laser.severance_j_mm2",
        "95 % interval",
        "die.make_ready_per_up_h",
        "Row 18 (cartons, 8 up) has 9.74 s",
    ):
        assert text in out


def test_the_record_holds_the_table(evenrun, found):
    record = json.loads(evenrun("calibrate", SHEETS, "--make-ready", LOG, "--plant", PLANT, "--json").out)
    assert record["values"] == found.values
    assert (record["sheets"]["rows"], record["sheets"]["rows_used"], record["sheets"]["left_out"]) == (24, 23, [18])
    assert [e["low"] for e in record["make_ready"]["estimates"]] == [e.low for e in found.make_ready.estimates]


def test_the_record_is_described_in_the_docs(found):
    """The keys are a contract, and so are the codes of what is found."""
    from compare.present.calibration_record import calibration_record

    text = (ROOT / "docs" / "formats.md").read_text(encoding="utf-8")
    section = text[text.index("## Measurements") :]
    record = calibration_record(found, DAY)
    keys = {*record, *record["sheets"], *record["sheets"]["estimates"][0]}
    assert {key for key in keys if f"`{key}`" not in section} == set()


def test_every_code_of_a_finding_is_described_in_the_docs():
    text = (ROOT / "docs" / "formats.md").read_text(encoding="utf-8")
    sources = [*(ROOT / "compare" / "decide").glob("*.py"), ROOT / "compare" / "readers" / "measured.py"]
    codes = {c for path in sources for c in re.findall(r'"(calibrate\.\w+)"', path.read_text(encoding="utf-8"))}
    assert len(codes) >= 12
    assert {code for code in codes if f"`{code}`" not in text} == set()


# -- mistakes ---------------------------------------------------------------------------------------------------------


def test_no_measurements_are_a_mistake(evenrun):
    _refused(evenrun("calibrate"), "no measurements are given", "--make-ready")


def test_one_row_gives_no_figure(evenrun, tmp_path):
    path = tmp_path / "one.csv"
    path.write_text("".join(SHEETS.read_text(encoding="utf-8").splitlines(keepends=True)[:2]), encoding="utf-8")
    _refused(evenrun("calibrate", path, "-o", tmp_path / "new.toml"), "one row gives no interval")
    assert not (tmp_path / "new.toml").exists()


def test_heads_on_axes_have_no_delays_to_fit(evenrun, tmp_path):
    """Their seconds hang on acceleration, which no column holds: a scanner's delays would stand in for it."""
    plant = tmp_path / "plant.toml"
    plant.write_text('[laser]\nmotion = "axes"\n')
    _refused(evenrun("calibrate", SHEETS, "--plant", plant), "laser.motion", "along axes")
    assert evenrun("calibrate", "--make-ready", LOG, "--plant", plant).code == 0


def test_lengths_in_mm_give_no_figure(evenrun, tmp_path):
    path = tmp_path / "mm.csv"
    path.write_text(SHEETS.read_text(encoding="utf-8").replace("cutting_m,", "cutting_mm,", 1), encoding="utf-8")
    _refused(evenrun("calibrate", path), "the heading 'cutting_mm' is not in m", "call the column cutting_m")
