"""The command line: an answer for people, a record for programs, and one line for every mistake."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import re
import socket
import subprocess
import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_jobs import PROPERTY
from rich.console import Console

from compare import EvenrunError, Layer, assumption_table, cli, compare, prepare
from compare.present.record import record
from compare.present.terminal import comparison_view
from compare.readers.jobfile import check_values

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data" / "demo"
TEA, SOAP = str(DEMO / "tea_repeat_on_shelf.toml"), str(DEMO / "soap_sleeve.toml")
PLANT = str(ROOT / "data" / "plants" / "northfold.toml")


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
        out, err = capsys.readouterr()
        return Result(int(stop.value.code or 0), out, err)

    return run


def _apart(
    *arguments: object, cwd: Path | None = None, encoding: str = "utf-8", stdout: Any = subprocess.PIPE
) -> Result:
    """Run it as a program of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "compare.cli", *map(str, arguments)],
        stdout=stdout, stderr=subprocess.PIPE, timeout=60, check=False, cwd=cwd,
        env={**os.environ, "PYTHONIOENCODING": encoding},
    )  # fmt: skip
    return Result(done.returncode, (done.stdout or b"").decode(errors="replace"), done.stderr.decode(errors="replace"))


def _refused(result: Result, *texts: str) -> None:
    """One line on stderr that names the place, nothing on stdout, exit code 2."""
    assert result.code == 2
    assert result.out == ""
    assert result.err.count("\n") == 1
    assert result.err.startswith("evenrun: ")
    assert "Traceback" not in result.err
    for text in texts:
        assert text in result.err


# -- mistakes ---------------------------------------------------------------------------------------------------------

JOB = """
[carton]
style = "sleeve"
length_mm = 90
width_mm = 30
height_mm = 60
[board]
grade = "kraft_300"
[sheet]
width_mm = 740
length_mm = 520
[demand]
run_length = 6000
"""
SIX_DOTS = "1" + "0" * 400
FILES = {
    "empty": ("", ["missing", "sheet.width_mm", "layout.ups_die"]),
    "broken": ("a = [", ["{path}", "is not TOML"]),
    "not UTF-8": (b"\xff\xfe", ["{path}", "is not UTF-8"]),
    "binary": (b"\x00\x01\x02", ["{path}", "is not TOML"]),
    "no run length": (JOB.replace("run_length = 6000", ""), ["missing demand.run_length"]),
    "1.5 cartons": (JOB.replace("6000", "1.5"), ["{path}", "demand.run_length must be a whole number (it is 1.5)"]),
    "true for a number": (
        JOB.replace("6000", "true"),
        ["{path}", "demand.run_length is 'true', which is not a number"],
    ),
    "text for a number": (
        JOB.replace("6000", '"many"'),
        ["{path}", "demand.run_length is 'many', which is not a number"],
    ),
    "number for a text": (JOB.replace('"sleeve"', "7"), ["{path}", "carton.style is 7"]),
    "array for a number": (JOB.replace("6000", "[1, 2]"), ["{path}", "demand.run_length"]),
    "array of arrays": (JOB.replace("6000", "[[1], [1, 2]]"), ["{path}", "demand.run_length"]),
    "empty array": (JOB.replace("6000", "[]"), ["{path}", "demand.run_length"]),
    "table for a number": (JOB.replace("6000", "{a = 1}"), ["{path}", "demand.run_length.a"]),
    "date for a number": (JOB.replace("6000", "2020-01-01"), ["{path}", "demand.run_length is a date"]),
    "nan": (JOB.replace("6000", "nan"), ["{path}", "demand.run_length is not a finite number"]),
    "inf": (JOB.replace("6000", "-inf"), ["{path}", "demand.run_length is not a finite number"]),
    "400 digits": (JOB.replace("6000", SIX_DOTS), ["{path}", "demand.run_length must be"]),
    "5000 digits": (JOB.replace("6000", "1" + "0" * 5000), ["{path}"]),
    "unknown name": (JOB + "run_lenght = 3", ["{path}", "demand.run_lenght", "did you mean demand.run_length"]),
    "unknown group": (JOB + "[lasr]\nheads = 3", ["{path}", "lasr.heads", "did you mean laser.heads"]),
    "unknown style": (JOB.replace("sleeve", "hexagon"), ["{path}", "carton.style", "hexagon", "glued_tray"]),
    "unknown board": (JOB.replace("kraft_300", "gold"), ["{path}", "no board grade 'gold'", "kraft_300"]),
    "a value outside any table": ("heads = 3\n" + JOB, ["{path}", "heads", "did you mean laser.heads"]),
    "a line break in a name": (JOB + '"run\\nlength" = 3', ["{path}", "there is no name"]),
    "a file of a megabyte": (b"#" * 1_000_001, ["{path}", "over 1 MB"]),
}


@pytest.mark.parametrize("case", FILES)
def test_a_job_file_that_can_not_be_used_is_refused_in_one_line(evenrun, tmp_path, case):
    content, texts = FILES[case]
    path = tmp_path / "job.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    _refused(evenrun("compare", path), *(text.format(path=path) for text in texts))


@pytest.mark.parametrize("case", ["broken", "not UTF-8", "array for a number", "unknown name"])
def test_a_plant_file_that_can_not_be_used_is_refused_in_one_line(evenrun, tmp_path, case):
    content, _ = FILES[case]
    path = tmp_path / "plant.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    _refused(evenrun("compare", TEA, "--plant", path), str(path))


def _set(*settings: str) -> list[str]:
    return [part for setting in settings for part in ("--set", setting)]


ARGUMENTS = {
    "no command": (["compar"], ["No such command 'compar'"]),
    "no option": (["--quick"], ["No such option: --quick"]),
    "no option of the command": (["compare", TEA, "--quick"], ["No such option: --quick"]),
    "no job": (["compare"], ["Missing argument"]),
    "two jobs": (["compare", TEA, SOAP], ["unexpected extra argument"]),
    "no file": (["compare", "nowhere.toml"], ["nowhere.toml", "there is no such job file"]),
    "a folder": (["compare", str(DEMO)], [str(DEMO), "this is a folder"]),
    "no plant": (["compare", TEA, "--plant", "nowhere.toml"], ["nowhere.toml", "there is no such plant file"]),
    "a folder for a plant": (["compare", TEA, "--plant", str(DEMO)], ["this is a folder, not a plant file"]),
    "no name for --plant": (["compare", TEA, "--plant"], ["'--plant' requires an argument"]),
    "no setting": (["compare", TEA, "--set"], ["'--set' requires an argument"]),
    "a setting without value": (["compare", TEA, *_set("laser.heads=")], ["--set", "'laser.heads=' is not a setting"]),
    "a setting without sign": (["compare", TEA, *_set("laser.heads")], ["--set", "is not a setting", "name=value"]),
    "an unknown name": (["compare", TEA, *_set("laser.head=4")], ["--set", "laser.head", "did you mean laser.heads"]),
    "a text for a number": (["compare", TEA, *_set("laser.heads=four")], ["--set", "laser.heads is 'four'"]),
    "True for a number": (["compare", TEA, *_set("laser.heads=True")], ["--set", "laser.heads is 'True'"]),
    "an array for a number": (["compare", TEA, *_set("laser.heads=[1,2]")], ["--set", "laser.heads is '[1,2]'"]),
    "nan": (["compare", TEA, *_set("rates.kwh=nan")], ["--set", "rates.kwh is not a finite number"]),
    "inf": (["compare", TEA, *_set("rates.kwh=inf")], ["--set", "rates.kwh is not a finite number"]),
    "1e308": (["compare", TEA, *_set("rates.kwh=1e308")], ["--set", "rates.kwh must be"]),
    "1e-308": (["compare", TEA, *_set("rates.kwh=1e-308")], ["--set", "rates.kwh must be"]),
    "negative": (["compare", TEA, *_set("rates.kwh=-1")], ["--set", "rates.kwh must be at least 0 (it is -1)"]),
    "a sheet of nothing": (["compare", TEA, *_set("sheet.width_mm=0")], ["--set", "sheet.width_mm must be above 0"]),
    "a blank larger than the sheet": (["compare", TEA, *_set("sheet.width_mm=200")], ["does not fit the sheet of 200 x 720"]),
    "no ups": (["compare", TEA, *_set("layout.ups_die=0")], ["--set", "layout.ups_die must be at least 1"]),
    "more ups than the sheet holds": (["compare", TEA, *_set("layout.ups_die=99")], ["layout.ups_die", "larger area than the sheet"]),
    "more versions than cartons": (["compare", TEA, *_set("demand.versions=20001")], ["demand.versions is above demand.run_length"]),
    "more crease versions": (["compare", TEA, *_set("demand.crease_versions=2")], ["demand.crease_versions is above demand.versions"]),
    "1.5 cartons": (["compare", TEA, *_set("demand.run_length=1.5")], ["--set", "must be a whole number (it is 1.5)"]),
    "half a switch": (["compare", TEA, *_set("tooling.owned=0.5")], ["--set", "tooling.owned must be 0 or 1"]),
    "an unknown country": (["compare", TEA, "--country", "XX"], ["plant.country", "'XX'", "AT, ", "FR", "factors.kwh"]),
    "an empty country": (["compare", TEA, "--country", ""], ["plant.country"]),
    "an unknown costing": (["compare", TEA, "--costing", "quick"], ["--costing", "'quick'", "full or cash"]),
    "an unknown style": (["compare", TEA, *_set("carton.style=hexagon")], ["--set", "carton.style", "hexagon"]),
    "an unknown board": (["compare", TEA, *_set("board.grade=gold")], ["--set", "no board grade 'gold'"]),
    "an unknown laminate": (["compare", TEA, *_set("board.laminate=gold")], ["--set", "board.laminate", "pvc"]),
    "an unknown factor set": (["compare", TEA, *_set("factors.set=mine")], ["factors.set", "'mine'", "uk2025"]),
    "an unknown factor": (["compare", TEA, *_set("factors.kwh=green")], ["--set", "factors.kwh", "'green'"]),
    "a net factor": (["compare", TEA, *_set("factors.board_kg=carton_eu_2021_gate")], ["factors.board_kg", "carton_eu_2021_gate"]),
    "two years in one sum": (
        ["compare", TEA, *_set("factors.board_kg=uk2024_mat_board_primary")],
        ["UK Government", "2024 and 2025", "uk2024_mat_board_primary"],
    ),
    "a factor in another unit": (["compare", TEA, *_set("factors.kwh=kerf_biogenic_co2")], ["factors.kwh", "kg CO2e/kWh"]),
    "a currency that is none": (["compare", TEA, *_set("plant.currency=euro")], ["plant.currency", "EUR"]),
    "a flap without room": (["compare", TEA, *_set("carton.flap_taper_mm=50")], ["carton.flap_taper_mm"]),
    "holes larger than the blank": (
        ["compare", TEA, *_set("cutouts.count=9", "cutouts.length_mm=9", "cutouts.area_mm2=99999")],
        ["cutouts.area_mm2", "more than the whole blank"],
    ),
    "a csv in no folder": (["compare", TEA, "--csv", "no/such/folder/x.csv"], ["x.csv", "can't be written"]),
    "a csv that is a folder": (["compare", TEA, "--csv", str(DEMO)], [str(DEMO), "can't be written"]),
    "a csv without name": (["compare", TEA, "--csv"], ["'--csv' requires an argument"]),
    "an assumption that is unknown": (["assumptions", *_set("laser.head=4")], ["--set", "did you mean laser.heads"]),
    "assumptions of no plant": (["assumptions", "--plant", "nowhere.toml"], ["nowhere.toml"]),
    "a plant and the demo's": (["serve", "--plant", PLANT, "--demo"], ["--plant and --demo exclude each other"]),
    "a plant to serve that is not there": (["serve", "--plant", "nowhere.toml"], ["nowhere.toml", "no such plant file"]),
    "users to serve that are not there": (["serve", "--users", "nowhere.json"], ["nowhere.json", "no such users file"]),
    "a port that is no number": (["serve", "--port", "many"], ["--port", "valid integer"]),
    "a user without a name": (["users", "add"], ["Missing argument"]),
    "an argument of the demo": (["demo", "quick"], ["unexpected extra argument"]),
}  # fmt: skip


@pytest.mark.parametrize("case", ARGUMENTS)
def test_arguments_that_can_not_be_used_are_refused_in_one_line(evenrun, case):
    arguments, texts = ARGUMENTS[case]
    _refused(evenrun(*arguments), *texts)


@pytest.mark.parametrize(
    "case",
    ["no command", "no job", "no file", "an unknown name", "an unknown country", "a blank larger than the sheet"],
)
def test_a_refusal_is_the_same_from_a_shell(case):
    """Nothing else, such as a warning of a library, may reach stderr."""
    arguments, texts = ARGUMENTS[case]
    _refused(_apart(*arguments), *texts)


@pytest.mark.parametrize(
    "row", [row for row in assumption_table().values() if not row.is_text], ids=lambda row: row.name
)
@pytest.mark.parametrize("text", ["1e308", "-1e308", "nan"])
def test_no_number_takes_a_value_beyond_any_quantity(evenrun, row, text):
    _refused(evenrun("compare", SOAP, "--set", f"{row.name}={text}"), "--set", row.name)


@pytest.mark.parametrize("name", [row.name for row in assumption_table().values() if not row.is_text])
def test_the_largest_number_gives_a_finite_answer_or_one_line(evenrun, name):
    """A mistyped zero too many must not end in infinity."""
    limit = min(assumption_table()[name].limits.high, 1e12)
    result = evenrun("compare", SOAP, "--set", f"{name}={limit:.0f}")
    if result.code:
        _refused(result, "")
    else:
        assert not re.search(r"\b(nan|inf)\b", result.out)


def test_a_csv_that_can_not_be_written_leaves_no_answer_behind(evenrun, tmp_path):
    """Exit code and stdout agree: nothing was done."""
    _refused(evenrun("compare", TEA, "--csv", tmp_path, "--json"), str(tmp_path))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read and write everything")
def test_a_file_without_rights_is_refused(evenrun, tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    path.chmod(0)
    _refused(evenrun("compare", path), str(path), "check its rights")


def test_stopping_it_is_no_failure_of_the_program(evenrun, monkeypatch):
    """Control-C ends with the code that shells use for it."""

    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_scenario", interrupt)
    result = evenrun("compare", TEA)
    assert (result.code, result.out) == (130, "")
    assert result.err.count("\n") <= 1


# -- the answer for people --------------------------------------------------------------------------------------------


def test_without_arguments_help_is_shown(evenrun):
    code, out, err = evenrun()
    assert (code, err) == (0, "")
    assert {"compare", "demo", "assumptions"} <= set(out.split())


@pytest.mark.parametrize("command", ["compare", "demo", "assumptions"])
def test_every_command_has_help(evenrun, command):
    code, out, _ = evenrun(command, "--help")
    assert code == 0
    assert "Usage: evenrun" in out or "Usage:" in out


def test_a_comparison_says_answer_stages_carbon_ranges_and_what_it_does_not_hold(evenrun):
    code, out, err = evenrun("compare", SOAP, "--plant", PLANT)
    assert (code, err) == (0, "")
    for text in (
        "At 6,000 cartons per order the laser is cheaper", "The die is cheaper from", "tooling", "make-ready", "running",
        "handling", "board and print of good sheets", "spoiled sheets", "CO2e, kg per 1,000", "waste board", "lower in",
        "Not included", "Cautions", "EN 60825-1", "Stand-ins", "lead time",
    ):  # fmt: skip
        assert text in out


def test_a_comparison_run_from_a_shell_reads_the_same(evenrun):
    assert _apart("compare", SOAP, "--plant", PLANT) == evenrun("compare", SOAP, "--plant", PLANT)


def test_a_piped_answer_has_no_colours_and_fits_a_hundred_columns(evenrun):
    out = evenrun("compare", SOAP, "--plant", PLANT).out
    assert "\x1b" not in out
    assert max(map(len, out.splitlines())) <= 100


def test_the_same_job_gives_the_same_answer_again():
    """The same quote again next month."""
    assert _apart("compare", SOAP, "--json") == _apart("compare", SOAP, "--json")


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
@pytest.mark.parametrize("more", [[], ["--json"]])
def test_a_name_that_the_terminal_can_not_show_does_not_stop_the_answer(tmp_path, encoding, more):
    """A pipe on another system may have an encoding without the letters of a job's name."""
    path = tmp_path / "job.toml"
    path.write_text('name = "Чай"\n' + JOB, encoding="utf-8")
    result = _apart("compare", path, *more, encoding=encoding)
    assert (result.code, result.err) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no disk that is always full")
def test_an_answer_that_can_not_be_written_is_one_line():
    with Path("/dev/full").open("w") as full:
        _refused(_apart("compare", SOAP, stdout=full))


@pytest.mark.parametrize("arguments", [["assumptions"], ["compare", SOAP], ["compare", SOAP, "--json"]])
def test_a_reader_that_has_seen_enough_is_not_told_of_it(arguments):
    """``evenrun assumptions | head`` closes the pipe early."""
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write, "wb") as pipe:
        assert _apart(*arguments, stdout=pipe).err == ""


# -- options ----------------------------------------------------------------------------------------------------------


def _json(result: Result) -> dict[str, Any]:
    assert (result.code, result.err) == (0, "")
    parsed = json.loads(result.out)
    assert isinstance(parsed, dict)
    return parsed


def test_json_is_one_object(evenrun):
    assert _json(evenrun("compare", SOAP, "--json"))["name"] == "Soap sleeve, 6 outlines"


@pytest.mark.parametrize("job", sorted(path.stem for path in DEMO.glob("*.toml")))
def test_json_holds_the_contract_for_every_demo_job(evenrun, job):
    found = _json(evenrun("compare", DEMO / f"{job}.toml", "--plant", PLANT, "--json"))
    assert {"inputs", "routes", "break_even", "ledger", "versions"} <= set(found)
    assert isinstance(found["routes"]["die"]["feasible"], bool)
    assert isinstance(found["break_even"]["cost"]["ranges"], list)


def test_json_is_written_in_utf_8_as_it_is(evenrun, tmp_path):
    path = tmp_path / "job.toml"
    path.write_text('name = "Süßigkeiten"\n' + JOB, encoding="utf-8")
    assert "Süßigkeiten" in evenrun("compare", path, "--json").out


def test_a_setting_stands_against_the_job(evenrun):
    found = _json(evenrun("compare", TEA, "--json", *_set("demand.run_length=20_001")))
    assert (found["inputs"]["demand.run_length"], found["origins"]["demand.run_length"]) == (20_001, "--set")


def test_a_plant_gives_name_and_rates(evenrun):
    found = _json(evenrun("compare", TEA, "--json", "--plant", PLANT))
    assert (found["plant"], found["inputs"]["rates.labour_h"]) == ("Northfold Cartons", 34)


def test_the_job_stands_against_the_plant(evenrun, tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB + "[rates]\nlabour_h = 50\n")
    assert _json(evenrun("compare", path, "--json", "--plant", PLANT))["inputs"]["rates.labour_h"] == 50


def test_cash_costing_is_cheaper_than_full(evenrun):
    cash, full = (_json(evenrun("compare", SOAP, "--json", "--costing", costing)) for costing in ("cash", "full"))
    for route in ("die", "laser"):
        assert cash["routes"][route]["cost_per_1000"] < full["routes"][route]["cost_per_1000"]


def test_full_costing_is_the_rule(evenrun):
    assert _json(evenrun("compare", SOAP, "--json"))["costing"] == "full"


def test_a_country_changes_the_factor_of_electricity(evenrun):
    french, polish = (_json(evenrun("compare", SOAP, "--json", "--country", code)) for code in ("FR", "pl"))
    assert french["inputs"]["factors.kwh"] < polish["inputs"]["factors.kwh"]
    assert french["versions"]["factors"]["kwh"]["keys"] == ["owid2024_elec_fr"]


def test_a_setting_stands_against_the_country_option(evenrun):
    found = _json(evenrun("compare", SOAP, "--json", "--country", "FR", *_set("plant.country=PL")))
    assert found["choices"]["plant.country"] == "PL"


@pytest.mark.parametrize("job", ["soap_sleeve", "gift_varnish_release"])
def test_csv_has_one_row_per_flow_of_the_record(evenrun, tmp_path, job):
    path = tmp_path / "ledger.csv"
    done = evenrun("compare", DEMO / f"{job}.toml", "--csv", path)
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    ledger = _json(evenrun("compare", DEMO / f"{job}.toml", "--json"))["ledger"]
    assert [row["resource"] for row in rows] == [row["resource"] for row in ledger]
    assert done == Result(0, f"{len(rows)} rows written to {path}\n", "")


def test_csv_and_json_together_give_both(evenrun, tmp_path):
    path = tmp_path / "ledger.csv"
    found = _json(evenrun("compare", SOAP, "--json", "--csv", path))
    assert len(path.read_text(encoding="utf-8").splitlines()) == len(found["ledger"]) + 1


def test_csv_covers_what_was_there(evenrun, tmp_path):
    path = tmp_path / "ledger.csv"
    path.write_text("old\n" * 1000)
    evenrun("compare", SOAP, "--csv", path)
    assert "old" not in path.read_text(encoding="utf-8")


# -- demo -------------------------------------------------------------------------------------------------------------


def test_the_demo_shows_every_demo_job(evenrun):
    code, out, err = evenrun("demo", "--no-serve")
    assert (code, err) == (0, "")
    flat = " ".join(out.split())
    for path in DEMO.glob("*.toml"):
        name = re.search(r'name = "(.*)"', path.read_text(encoding="utf-8"))[1]
        assert name.split(",")[0] in flat


def test_the_demo_has_jobs_for_either_route(evenrun):
    words = evenrun("demo", "--no-serve").out.split()
    assert words.count("laser") > 2
    assert words.count("die") > 2


def test_the_demo_says_that_it_is_invented(evenrun):
    assert "plant, prices and jobs are invented" in evenrun("demo", "--no-serve").out


def test_the_command_that_the_demo_names_works(evenrun, monkeypatch):
    """It is the first thing a new user types."""
    monkeypatch.chdir(ROOT)
    line = re.search(r"evenrun (compare .*)", evenrun("demo", "--no-serve").out)[1]
    assert evenrun(*line.split()).code == 0


def test_the_demo_runs_from_any_folder(tmp_path):
    result = _apart("demo", "--no-serve", cwd=tmp_path)
    assert (result.code, result.err) == (0, "")


# -- serving ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def served(monkeypatch) -> list[tuple[Any, ...]]:
    """Collect what would be served; a server itself is tried among the tests of the dashboard."""
    calls: list[tuple[Any, ...]] = []
    monkeypatch.setattr(cli, "_serve", lambda plant, host, port, **more: calls.append((plant, host, port, more)))
    return calls


def test_the_demo_serves_the_invented_plant_on_this_machine_only(evenrun, served):
    code, out, err = evenrun("demo", "--port", "0")
    ((plant, host, _, _),) = served
    assert (code, err, host, plant.values["plant.name"]) == (0, "", "127.0.0.1", "Northfold Cartons")
    assert "Ctrl-C stops it" in out


def test_the_demo_takes_another_port_where_one_is_taken(evenrun, served):
    """A second demo, or another program, must not be in the way of the first try."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        evenrun("demo", "--port", taken.getsockname()[1])
    assert served[0][2] == 0


def test_a_demo_may_end_with_its_table(evenrun, served):
    evenrun("demo", "--no-serve")
    assert served == []


@pytest.mark.parametrize(
    ("arguments", "name"), [(["--demo"], "Northfold Cartons"), (["--plant", PLANT], "Northfold Cartons"), ([], None)]
)
def test_a_plant_of_ones_own_the_invented_one_or_none_is_served(evenrun, served, arguments, name):
    assert evenrun("serve", *arguments).code == 0
    assert served[0][0].values.get("plant.name") == name


def test_what_is_served_can_be_reached_from_this_machine_only_unless_told_otherwise(evenrun, served):
    evenrun("serve")
    evenrun("serve", "--host", "0.0.0.0", "--port", "80")  # noqa: S104
    assert [(host, port) for _, host, port, _ in served] == [("127.0.0.1", 8050), ("0.0.0.0", 80)]  # noqa: S104


def test_a_user_is_added_with_a_password_from_standard_input(evenrun, monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "stdin", io.StringIO("a long enough password\n"))
    file = tmp_path / "users.json"
    assert evenrun("users", "add", "estimator", "--file", file).code == 0
    assert "a long enough password" not in file.read_text(encoding="utf-8")


def test_a_user_is_asked_for_a_password_on_a_terminal(evenrun, monkeypatch, tmp_path):
    """Twice, and without showing it."""
    asked = []

    def prompt(text, **options):
        asked.append((text, options["hide_input"], options["confirmation_prompt"]))
        return "a long enough password"

    monkeypatch.setattr(cli.typer, "prompt", prompt)
    monkeypatch.setattr(sys, "stdin", Terminal())
    assert evenrun("users", "add", "estimator", "--file", tmp_path / "users.json").code == 0
    assert asked == [("Password", True, True)]


def test_a_user_can_be_taken_out_again(evenrun, monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "stdin", io.StringIO("a long enough password\n"))
    file = tmp_path / "users.json"
    evenrun("users", "add", "estimator", "--file", file)
    assert evenrun("users", "remove", "estimator", "--file", file).code == 0
    assert "estimator" not in file.read_text(encoding="utf-8")


class Terminal(io.StringIO):
    """Standard input with a person before it."""

    def isatty(self) -> bool:
        """Say that it is one."""
        return True


# -- assumptions ------------------------------------------------------------------------------------------------------


def test_assumptions_list_every_name(evenrun):
    out = evenrun("assumptions").out.replace("\n", " ")
    assert [name for name in assumption_table() if name.split(".")[0] not in out] == []
    assert len(evenrun("assumptions").out.splitlines()) > len(assumption_table())


def test_assumptions_without_a_change_say_so(evenrun):
    assert evenrun("assumptions", "--changed").out == "No value differs from the table.\n"


def test_changed_assumptions_are_those_of_plant_and_settings(evenrun):
    out = evenrun("assumptions", "--changed", "--plant", PLANT, *_set("laser.heads=6")).out
    assert {"laser.heads", "rates.labour_h"} <= set(out.split())
    assert "laser.power_w" not in out


def test_a_value_set_to_its_default_is_no_change(evenrun):
    assert evenrun("assumptions", "--changed", *_set("laser.heads=4")).out == "No value differs from the table.\n"


def test_assumptions_are_found_by_name_meaning_or_source(evenrun):
    assert "laser.severance_j_mm2" in evenrun("assumptions", "--find", "STEEN").out
    assert "rates.labour_h" not in evenrun("assumptions", "--find", "STEEN").out


def test_what_is_not_found_is_said(evenrun):
    assert evenrun("assumptions", "--find", "unicorn").out == "No assumption matches.\n"


def test_assumptions_are_in_the_currency_of_the_plant(evenrun):
    assert "SEK/h" in evenrun("assumptions", "--find", "labour", *_set("plant.currency=SEK")).out


# -- anything at all --------------------------------------------------------------------------------------------------

BASE = {
    "carton.style": "reverse_tuck_end", "carton.length_mm": 80.0, "carton.width_mm": 55.0, "carton.height_mm": 130.0,
    "board.grade": "folding_boxboard_270", "sheet.width_mm": 1020.0, "sheet.length_mm": 720.0, "demand.run_length": 20_000.0,
}  # fmt: skip
NAMES = sorted(assumption_table())
_texts = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["", "DE", "any", "pvc", "sleeve", "seal_end", "EUR", "uk2025", "kerf_biogenic_co2", "kraft_250", "a+b"]
    ),
)
_numbers = st.one_of(
    st.floats(),
    st.sampled_from([0.0, 1.0, -1.0, 1e-9, 1e12, -1e12, 1e308, 5e-324, 0.999999999, 2.0, 1e6, 1e-6, 1e8]),
    st.integers(),
    st.sampled_from([10**400, -(10**400), 2**63, 0, 1, 3]),
)
_single = st.one_of(_numbers, _texts, st.booleans(), st.none())
_lists = st.lists(st.one_of(_numbers, st.text(max_size=3), st.lists(_numbers, max_size=2)), max_size=3)
_changes = st.dictionaries(st.one_of(st.sampled_from(NAMES), st.text(max_size=12)), _single, max_size=8)


def _fit(name: str) -> st.SearchStrategy[float]:
    """Draw any size that the limits of a name allow, from the smallest to the largest."""
    limits = assumption_table()[name].limits
    high = min(limits.high, 1e12)
    if limits.switch:
        return st.sampled_from([0.0, 1.0])
    sizes = st.floats(-9, math.log10(high)).map(lambda power: 10**power)
    fit = st.one_of(sizes, st.sampled_from([1e-9 * high, high / 2])).map(lambda v: max(v, limits.low))
    return fit.map(lambda v: float(round(max(v, 1)))) if limits.whole else fit


_sizes = st.fixed_dictionaries(
    {},
    optional={
        n: _fit(n) for n in NAMES if not assumption_table()[n].is_text and not n.startswith(("carton.", "sheet."))
    },
)


def _refusal_or_record(changes: dict[str, Any]) -> str:
    """Return the words of a refusal, or the whole record as JSON; anything else that comes out is a failure."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            comparison = compare(prepare(Layer("base", BASE), Layer("fuzz", check_values(changes, where="fuzz"))))
            Console(file=io.StringIO(), width=100).print(comparison_view(comparison))
            return json.dumps(record(comparison), allow_nan=False)
    except EvenrunError as error:
        return str(error)


def _only_a_refusal_or_finite_figures(changes: dict[str, Any]) -> None:
    words = _refusal_or_record(changes)
    assert words
    assert "\n" not in words


@settings(PROPERTY, max_examples=300)
@given(_changes)
def test_whatever_is_given_there_is_a_refusal_or_finite_figures(changes):
    """Texts, numbers beyond all measure, truth values and nothing at all, for known and unknown names."""
    _only_a_refusal_or_finite_figures(changes)


@settings(PROPERTY, max_examples=150)
@given(_sizes)
def test_numbers_of_any_size_give_a_refusal_or_finite_figures(changes):
    """Each value alone is allowed; together they multiply to the largest and smallest figures there can be."""
    _only_a_refusal_or_finite_figures(changes)


@PROPERTY
@given(st.dictionaries(st.sampled_from(NAMES), _lists, min_size=1, max_size=2))
def test_lists_are_refused_where_a_value_is_wanted(changes):
    """A file describes one job. An array would only fail further up the house."""
    with pytest.raises(EvenrunError) as caught:
        compare(prepare(Layer("base", BASE), Layer("fuzz", check_values(changes, where="fuzz"))))
    assert "\n" not in str(caught.value)
