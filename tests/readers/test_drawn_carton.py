"""A carton from its drawing: which file is meant, in which unit, whose values stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from compare import Layer, compare, prepare, read_file
from compare.errors import FileError, InputError
from compare.readers.drawn_carton import drawn_carton, with_drawing
from compare.readers.jobfile import settings_layer
from compare.readers.line_map import load_line_map
from compare.readers.svg import read_svg

JOB = """
name = "Drawn"
[carton]
drawing = "{drawing}"
line_map = "{line_map}"
{more}
[board]
grade = "kraft_300"
[sheet]
width_mm = 740
length_mm = 520
[demand]
run_length = 6000
"""

LINES = """
[[line]]
layer = "knife"
kind = "cutting"
[[line]]
layer = "fold"
kind = "creasing"
"""

SIZE = 'width="120mm" height="100mm" viewBox="0 0 120 100"'


def _svg(size: str = SIZE, side: float = 60, extra: str = "") -> str:
    """A square blank with a square window of 20 and one crease."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} fill="none" stroke="black">'
        f'<g id="knife"><rect x="10" y="10" width="{side}" height="{side}"/><rect x="20" y="20" width="20" height="20"/></g>'
        f'<g id="fold"><path d="M 10 50 h {side}"/></g>{extra}</svg>'
    )


@pytest.fixture
def job(tmp_path):
    """Write a drawing, its line map and a job beside one another, and read the job."""

    def made(drawing: str = "box.svg", line_map: str = "lines.toml", *, content: str = "", more: str = "") -> Layer:
        (tmp_path / "box.svg").write_text(content or _svg())
        (tmp_path / "lines.toml").write_text(LINES)
        path = tmp_path / "job.toml"
        path.write_text(JOB.format(drawing=drawing, line_map=line_map, more=more))
        return read_file(path, kind="job")

    return made


# -- which file -------------------------------------------------------------------------------------------------------


def test_paths_start_at_the_folder_of_the_job_file(job, tmp_path, monkeypatch):
    """A job and its drawing are sent around together; where the command is run from is chance."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    assert prepare(job()).inputs["work.cutting_m"] == pytest.approx(0.32)


def test_a_drawing_set_on_the_command_line_starts_at_the_current_folder(job, tmp_path, monkeypatch):
    """Its line map still is the one beside the job: each path belongs to whoever gave it."""
    given = job()
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "other.svg").write_text(_svg(side=70))
    monkeypatch.chdir(tmp_path / "here")
    scenario = prepare(given, settings_layer(["carton.drawing=other.svg"]))
    assert scenario.inputs["work.cutting_m"] == pytest.approx(0.36)
    assert scenario.origins["work.cutting_m"] == "drawing other.svg"


def test_the_carton_stands_in_the_layer_that_named_the_drawing(job):
    layers = with_drawing(Layer("plant"), job(), Layer("--set"))
    assert [layer.drawn is not None for layer in layers] == [False, True, False]


def test_without_a_drawing_the_layers_stay_as_they_are():
    layers = (Layer("plant"), Layer("job", {"carton.style": "sleeve"}))
    assert with_drawing(*layers) == layers


def test_an_empty_name_takes_the_drawing_back(job):
    layers = (job(), Layer("--set", {"carton.drawing": ""}, folder=Path()))
    assert with_drawing(*layers) == layers


@pytest.mark.parametrize(("name", "files"), [("drawing", {"drawing": "no.svg"}), ("line_map", {"line_map": "no.toml"})])
def test_a_file_that_is_not_there_is_named_with_the_job_that_asks_for_it(job, tmp_path, name, files):
    with pytest.raises(FileError) as caught:
        prepare(job(**files))
    (missing,) = files.values()
    assert str(caught.value) == (
        f"{tmp_path / 'job.toml'}: there is no file '{missing}' for carton.{name}; check the path"
    )


def test_a_layer_without_a_folder_may_name_no_file():
    """What comes from a browser must not open files of the server."""
    with pytest.raises(InputError, match=r"^link: carton\.drawing can't be named here; name it in a job file$"):
        prepare(Layer("link", {"carton.drawing": "/etc/hostname"}))


def test_a_layer_without_a_folder_may_name_no_line_map_for_the_drawing_of_another(job):
    with pytest.raises(InputError, match=r"^link: carton\.line_map can't be named here"):
        prepare(job(), Layer("link", {"carton.line_map": "lines.toml"}))


# -- unit -------------------------------------------------------------------------------------------------------------

NO_SIZE = _svg(size='viewBox="0 0 120 100"')


def test_a_drawing_without_a_unit_is_asked_about(job):
    """A guess that is wrong by 25.4 would be a quote that is."""
    with pytest.raises(
        InputError, match=r"^box\.svg: .*no physical size.* --unit, or carton\.drawing_unit in a job file$"
    ):
        prepare(job(content=NO_SIZE))


@pytest.mark.parametrize(("unit", "cutting_m"), [("mm", 0.32), ("cm", 3.2), ("px96", 0.32 * 25.4 / 96)])
def test_the_unit_of_the_job_is_used(job, unit, cutting_m):
    layers = with_drawing(job(content=NO_SIZE, more=f'drawing_unit = "{unit}"'))
    assert layers[0].drawn.measured.work.cutting_m == pytest.approx(cutting_m, rel=1e-12)


def test_an_unknown_unit_is_refused(job):
    with pytest.raises(InputError, match="furlong"):
        prepare(job(content=NO_SIZE, more='drawing_unit = "furlong"'))


# -- whose values stand ------------------------------------------------------------------------------------------------


def test_a_drawing_answers_what_a_style_would(job):
    """Derived: a square of 60 with a window of 20 and one crease; the sheet holds what the layout says."""
    scenario = prepare(job())
    found = {name: scenario.inputs[name] for name, origin in scenario.origins.items() if origin == "drawing box.svg"}
    expected = {
        "work.cutting_m": 4 * 0.06 + 4 * 0.02,
        "work.creasing_m": 0.06,
        "work.strokes": 2,
        "work.corner_load": 2 * 3,
        "work.bends": 8,
        "work.waste_pieces": 1,
        "carton.blank_area_m2": 0.06**2 - 0.02**2,
        "carton.blank_width_mm": 60,
        "carton.blank_height_mm": 60,
    }
    assert {name: found[name] for name in expected} == pytest.approx(expected)


def test_nicks_hold_the_outline_and_not_the_waste(job):
    """Derived: 240 mm of outline at 8 nicks per metre are 1.92; with the window it would be 3."""
    scenario = prepare(job(), Layer("test", {"work.nicks_per_m": 8.0}))
    assert scenario.inputs["work.nicks"] == 2


@pytest.mark.parametrize(
    ("name", "value"),
    [("work.cutting_m", 0.5), ("carton.blank_area_m2", 0.003), ("work.bends", 3), ("work.nicks", 1)],
)
def test_a_value_that_is_given_stands_against_the_drawing(job, name, value):
    """The user has counted it."""
    scenario = prepare(job(), settings_layer([f"{name}={value}"]))
    assert (scenario.inputs[name], scenario.origins[name]) == (value, "--set")


def test_ups_that_are_given_stand_against_the_layout(job):
    scenario = prepare(job(), settings_layer(["layout.ups_die=7"]))
    assert (scenario.inputs["layout.ups_die"], scenario.layouts["die"].ups) == (7, 7)
    assert scenario.inputs["layout.ups_laser"] > 7


def test_a_style_and_a_drawing_together_are_refused(job):
    """Which of the two is the carton is for the user to say."""
    with pytest.raises(InputError, match=r"carton\.style and carton\.drawing are both given; leave one of them out"):
        prepare(job(more='style = "sleeve"'))


def test_a_drawing_in_which_no_line_is_a_cut_is_refused_with_the_way_out(job):
    """Cutting nothing would be cheap on both routes."""
    with pytest.raises(InputError, match=r"^box\.svg: no line of the drawing is a cut; .*'evenrun measure'"):
        prepare(job(line_map=""))


def test_a_cut_length_that_is_given_serves_for_a_drawing_without_cuts(job):
    given = {"work.cutting_m": 0.32, "carton.blank_area_m2": 0.0036, "carton.blank_width_mm": 60.0,
             "carton.blank_height_mm": 60.0}  # fmt: skip
    assert prepare(job(line_map=""), Layer("test", given)).inputs["work.cutting_m"] == 0.32


def test_what_the_reader_the_map_and_the_geometry_say_is_said_of_the_job(job):
    odd = '<g id="maybe"><path d="M 12 12 h 3"/></g><text x="1" y="1">60 mm</text>'
    codes = {finding.code for finding in compare(prepare(job(content=_svg(extra=odd)))).findings}
    assert {"drawing.left_out", "drawing.unmapped_layer"} <= codes


# -- the same carton ---------------------------------------------------------------------------------------------------


def test_lines_drawn_twice_count_once(job):
    twice = _svg(extra='<g id="knife"><rect x="10" y="10" width="60" height="60"/></g>')
    drawn = with_drawing(job(content=twice))[0].drawn
    assert (drawn.measured.work.cutting_m, drawn.measured.drawn_mm) == (pytest.approx(0.32), pytest.approx(620))
    assert "drawing.duplicates" in {finding.code for finding in drawn.findings}


def test_a_drawn_style_gives_the_numbers_of_the_style(tmp_path):
    """One engine: a carton costs the same whether it is named or drawn.

    Strokes are not compared: a style draws its outline in one go, and creases are never strokes of a beam.
    """
    sizes = {"carton.length_mm": 80.0, "carton.width_mm": 40.0, "carton.height_mm": 120.0}
    common = {"demand.run_length": 1000.0, "sheet.width_mm": 1020.0, "sheet.length_mm": 720.0,
              "board.grammage_g_m2": 300.0, "board.caliper_mm": 0.4}  # fmt: skip
    named = prepare(Layer("test", {**common, **sizes, "carton.style": "reverse_tuck_end"}))
    outline = " L ".join(f"{x} {y}" for x, y in named.blank.outline)
    creases = " ".join(f"M {a} {b} L {c} {d}" for (a, b), (c, d) in named.blank.creases)
    (tmp_path / "tuck.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" viewBox="0 -60 300 300" fill="none" '
        f'stroke="black"><g id="knife"><path d="M {outline} Z"/></g><g id="fold"><path d="{creases}"/></g></svg>'
    )
    (tmp_path / "lines.toml").write_text(LINES)
    files = {"carton.drawing": "tuck.svg", "carton.line_map": "lines.toml"}
    drawn = prepare(Layer("test", {**common, **files, "layout.pattern": "grid"}, folder=tmp_path))
    same = ["work.cutting_m", "work.creasing_m", "work.bends", "work.corner_load", "work.nicks", "work.strokes",
            "carton.blank_area_m2", "carton.blank_width_mm", "carton.blank_height_mm", "layout.ups_die",
            "layout.ups_laser"]  # fmt: skip
    assert {n: drawn.inputs[n] for n in same} == pytest.approx({n: named.inputs[n] for n in same}, rel=1e-9)


def test_a_carton_can_be_made_without_files(tmp_path):
    """The Job view has the drawing and its map in memory."""
    path = tmp_path / "box.svg"
    path.write_text(_svg())
    (tmp_path / "lines.toml").write_text(LINES)
    drawn = drawn_carton(read_svg(path), "upload", load_line_map(tmp_path / "lines.toml"))
    scenario = prepare(Layer("view", {"carton.drawing": "upload", "sheet.width_mm": 740.0, "sheet.length_mm": 520.0,
                                      "demand.run_length": 100.0, "board.grade": "kraft_300"}, drawn=drawn))  # fmt: skip
    assert scenario.origins["work.cutting_m"] == "drawing upload"
