"""`evenrun measure`: a table for people, a record for programs, a picture, and one line for every mistake."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from lxml import etree

from compare import cli

ROOT = Path(__file__).resolve().parents[1]
DRAWINGS = ROOT / "data" / "demo" / "drawings"
DXF, SVG, PDF, LINES = (
    DRAWINGS / name for name in ("window_carton.dxf", "window_carton.svg", "window_carton.pdf", "lines.toml")
)

BARE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 50 50" stroke="black" fill="none">{}</svg>'


class Result(NamedTuple):
    """What a run left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def measure(monkeypatch, capsys) -> Callable[..., Result]:
    """Run `evenrun measure` in this process."""

    def run(*arguments: object) -> Result:
        monkeypatch.setattr(sys, "argv", ["evenrun", "measure", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            cli.main()
        return Result(int(stop.value.code or 0), *capsys.readouterr())

    return run


def _refused(result: Result, *texts: str) -> None:
    assert (result.code, result.out, result.err.count("\n")) == (2, "", 1)
    assert result.err.startswith("evenrun: ")
    assert "Traceback" not in result.err
    for text in texts:
        assert text in result.err


def _json(result: Result) -> dict[str, Any]:
    assert (result.code, result.err) == (0, "")
    found = json.loads(result.out)
    assert isinstance(found, dict)
    return found


# -- the record -------------------------------------------------------------------------------------------------------

KEYS = {"unit", "unit_source", "drawn_mm", "length_mm", "layers", "bounding_box_mm", "blank_area_mm2", "findings"}
LAYER_KEYS = {"name", "kind", "drawn_mm", "length_mm", "strokes"}
FINDING_KEYS = {"code", "message", "where"}


@pytest.mark.parametrize("file", [DXF, SVG, PDF])
def test_json_has_the_keys_of_the_contract_in_every_format(measure, file):
    """Programs of others read them: keys may come, none may go."""
    found = _json(measure(file, "--map", LINES, "--json"))
    assert set(found) >= KEYS
    assert all(set(layer) >= LAYER_KEYS for layer in found["layers"])
    assert all(set(finding) >= FINDING_KEYS for finding in found["findings"])


def test_json_holds_lengths_by_layer_and_kind(measure):
    """Derived elsewhere (tests/test_demo_drawings.py): here only that each stands at its layer."""
    found = _json(measure(DXF, "--map", LINES, "--json"))
    assert (found["unit"], found["unit_source"]) == ("mm", "$INSUNITS 4 of the file")
    assert {(layer["name"], layer["kind"]) for layer in found["layers"]} == {
        ("Cut", "cutting"), ("Crease", "creasing"), ("Perforation", "perforating"),
    }  # fmt: skip
    assert sum(layer["length_mm"] for layer in found["layers"]) == pytest.approx(found["length_mm"])
    assert found["kinds"]["creasing"]["length_mm"] == pytest.approx(960)
    assert found["bounding_box_mm"] == pytest.approx([0, -55, 255, 175])


def test_json_of_a_drawing_without_a_map_offers_kinds_and_counts_none(measure):
    """A suggestion is no answer until somebody has confirmed it."""
    found = _json(measure(DXF, "--json"))
    assert {layer["name"]: (layer["kind"], layer["suggestion"]) for layer in found["layers"]} == {
        "Cut": (None, "cutting"), "Crease": (None, "creasing"), "Perforation": (None, "perforating"),
    }  # fmt: skip
    assert (found["kinds"], found["blank_area_mm2"]) == ({}, None)
    assert "drawing.unmapped_layer" in {finding["code"] for finding in found["findings"]}


def test_json_counts_what_is_drawn_twice_once_and_says_both(measure, tmp_path):
    path = tmp_path / "twice.svg"
    path.write_text(BARE.format('<path d="M 5 5 h 30"/><path d="M 15 5 h 30"/>'))
    found = _json(measure(path, "--unit", "mm", "--json"))
    assert (found["drawn_mm"], found["length_mm"]) == (pytest.approx(60), pytest.approx(40))
    assert (found["layers"][0]["drawn_mm"], found["layers"][0]["length_mm"]) == (pytest.approx(60), pytest.approx(40))


def test_a_pdf_with_processing_steps_needs_no_map(measure):
    with_map, without = (_json(measure(PDF, *more, "--json")) for more in (["--map", LINES], []))
    assert without == with_map
    assert without["kinds"]["cutting"]["length_mm"] > 0


def test_tool_data_has_lengths_and_no_picture_of_them(measure, tmp_path):
    """XJDF states lengths by code without drawing them; 2,834.645669 points are 1,000 mm."""
    path = tmp_path / "tool.xjdf"
    path.write_text(
        '<XJDF xmlns="http://www.CIP4.org/JDFSchema_2_0"><ResourceSet Name="DieLayout"><Resource><DieLayout>'
        '<RuleLength DDESCutType="101" Length="2834.645669"/></DieLayout></Resource></ResourceSet></XJDF>'
    )
    found = _json(measure(path, "--json"))
    assert found["kinds"]["cutting"]["length_mm"] == pytest.approx(1000, rel=1e-6)
    assert found["bounding_box_mm"] is None


# -- the table --------------------------------------------------------------------------------------------------------


def test_the_table_says_layers_kinds_lengths_blank_and_findings(measure):
    code, out, err = measure(DXF, "--map", LINES)
    assert (code, err) == (0, "")
    for text in (
        "window_carton.dxf", "mm ($INSUNITS 4 of the file)", "counted once, mm", "1,312.285", "960.000", "perforating",
        "Blank 255.00 x 230.00 mm", "1 waste piece.", "Findings", "1. ",
    ):  # fmt: skip
        assert text in out


def test_the_table_asks_about_layers_that_nobody_has_mapped(measure):
    out = measure(SVG).out
    assert "not mapped: cutting?" in out
    assert "map the layer of the outline to cutting" in out


def test_the_table_fits_a_hundred_columns_without_colours(measure):
    out = measure(SVG).out
    assert "\x1b" not in out
    assert max(map(len, out.splitlines())) <= 100


def test_places_of_findings_are_said_in_millimetres(measure, tmp_path):
    """Derived: the stray line ends 3 to the right and 50 - 2 up, in inches."""
    path = tmp_path / "open.svg"
    path.write_text(BARE.format('<g id="c"><path d="M 1 1 h 1 v 1 h -1 z M 2 2 h 1"/></g>'))
    lines = tmp_path / "lines.toml"
    lines.write_text('[[line]]\nlayer = "c"\nkind = "cutting"\n')
    assert "At 76.20, 1,219.20 mm." in " ".join(measure(path, "--unit", "in", "--map", lines).out.split())


# -- the picture ------------------------------------------------------------------------------------------------------


def test_the_picture_is_written_and_named(measure, tmp_path):
    path = tmp_path / "out.svg"
    code, out, err = measure(DXF, "--map", LINES, "--picture", path)
    assert (code, err) == (0, "")
    assert out.endswith(f"Picture: {path}\n")
    assert etree.parse(path).getroot().tag == "{http://www.w3.org/2000/svg}svg"


def test_a_picture_beside_json_leaves_stdout_one_object(measure, tmp_path):
    path = tmp_path / "out.svg"
    assert "layers" in _json(measure(DXF, "--map", LINES, "--picture", path, "--json"))
    assert path.exists()


def test_a_picture_that_can_not_be_written_is_one_line(measure, tmp_path):
    _refused(measure(DXF, "--map", LINES, "--picture", tmp_path / "no" / "out.svg"), "out.svg", "can't be written")


# -- mistakes ---------------------------------------------------------------------------------------------------------


def test_a_drawing_without_a_unit_is_asked_about_in_one_line(measure, tmp_path):
    path = tmp_path / "bare.svg"
    path.write_text(BARE.format('<path d="M 5 5 h 30"/>'))
    _refused(measure(path), "bare.svg", "--unit")


def test_a_unit_that_is_given_is_used_and_said(measure, tmp_path):
    path = tmp_path / "bare.svg"
    path.write_text(BARE.format('<path d="M 5 5 h 30"/>'))
    found = _json(measure(path, "--unit", "in", "--json"))
    assert (found["unit"], found["drawn_mm"]) == ("in", pytest.approx(30 * 25.4))
    assert found["unit_source"].startswith("stated")


@pytest.mark.parametrize(
    ("name", "content", "texts"),
    [
        ("drawing.txt", b"two lines\n", ["drawing.txt", "this is not DXF, SVG, PDF"]),
        ("picture.png", b"\x89PNG\r\n\x1a\n", ["picture.png", "a picture of pixels"]),
        ("old.dwg", b"AC1015", ["old.dwg", "save it as DXF"]),
        ("empty.dxf", b"", ["empty.dxf", "the file is empty"]),
        ("broken.pdf", b"%PDF-1.7\n", ["broken.pdf"]),
    ],
)
def test_a_file_that_is_no_drawing_is_refused_in_one_line(measure, tmp_path, name, content, texts):
    path = tmp_path / name
    path.write_bytes(content)
    _refused(measure(path, "--unit", "mm"), *texts)


@pytest.mark.parametrize(
    ("arguments", "texts"),
    [
        ([], ["Missing argument"]),
        (["nowhere.dxf"], ["nowhere.dxf", "there is no such drawing"]),
        ([DRAWINGS], ["this is a folder"]),
        ([DXF, "--map", "nowhere.toml"], ["nowhere.toml", "line map", "check the path"]),
        ([DXF, "--map", DRAWINGS], ["drawings", "the line map can't be read"]),
        ([DXF, "--map", DXF], ["window_carton.dxf", "the line map"]),
        ([DXF, "--unit", "furlong"], ["furlong", "mm"]),
        ([DXF, "--unit"], ["'--unit' requires an argument"]),
    ],
)
def test_arguments_that_can_not_be_used_are_refused_in_one_line(measure, arguments, texts):
    _refused(measure(*arguments), *texts)


def test_a_program_of_its_own_says_the_same():
    """What a library prints on import or at its end must not reach the answer."""
    command = [sys.executable, "-m", "compare.cli", "measure", DXF, "--map", LINES, "--json"]
    done = subprocess.run(command, capture_output=True, timeout=60, check=True)
    assert done.stderr == b""
    assert json.loads(done.stdout)["kinds"]["creasing"]["length_mm"] == pytest.approx(960)
