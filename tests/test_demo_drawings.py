"""The sample drawings: written by the script as they lie in the repository, and the same carton in every format."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import pytest

from compare.readers.drawing import read_drawing_here
from compare.readers.drawn_carton import DrawnCarton, drawn_carton
from compare.readers.line_map import load_line_map

ROOT = Path(__file__).resolve().parents[1]
DRAWINGS = ROOT / "data" / "demo" / "drawings"
CARTONS = ("wave_sleeve", "window_carton")
FORMATS = ("dxf", "svg", "pdf")

NEAR = ("work.smallest_gap_mm", "work.smallest_radius_mm")
"""What is found along chords, or bends otherwise where cubic curves stand for arcs."""


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> Path:
    """What the script writes today."""
    folder = tmp_path_factory.mktemp("drawings")
    subprocess.run([sys.executable, ROOT / "docs" / "make_demo_drawings.py", folder], check=True, timeout=60)
    return folder


def _read(folder: Path, name: str, suffix: str) -> DrawnCarton:
    file = folder / f"{name}.{suffix}"
    return drawn_carton(read_drawing_here(file), file.name, load_line_map(DRAWINGS / "lines.toml"))


@pytest.fixture(scope="module")
def cartons() -> dict[tuple[str, str], DrawnCarton]:
    """Every sample as committed, read and measured."""
    return {(name, suffix): _read(DRAWINGS, name, suffix) for name in CARTONS for suffix in FORMATS}


def _numbers(drawn: DrawnCarton) -> dict[str, float]:
    """Everything that a format must not change."""
    m = drawn.measured
    kinds = {
        f"{k.kind} {what}": getattr(k, what)
        for k in m.kinds
        for what in ("drawn_mm", "length_mm", "strokes", "corner_load", "bends")
    }
    box = dict(zip(("left", "low", "right", "top"), m.box_mm, strict=True))
    box = {"width": box["right"] - box["left"], "height": box["top"] - box["low"]}
    inputs = {n: v for n, v in m.work.inputs().items() if n not in NEAR}
    return {**kinds, **box, **inputs, "faces": len(m.blanks) + len(m.waste)}


def _ellipse(a: float, b: float) -> float:
    """Perimeter of an ellipse by the arithmetic-geometric mean, as in DLMF 19.8 (published; computed here)."""
    x, y, share, total = a, b, 0.5, (a * a + b * b) / 2
    for _ in range(6):
        x, y, total, share = (x + y) / 2, math.sqrt(x * y), total - share * (x - y) ** 2 / 2, share * 2
    return 2 * math.pi * total / x


# -- the files --------------------------------------------------------------------------------------------------------


def test_the_folder_holds_every_carton_in_every_format_and_their_map():
    assert {path.name for path in DRAWINGS.iterdir()} == {
        "lines.toml",
        *(f"{name}.{suffix}" for name in CARTONS for suffix in FORMATS),
    }


@pytest.mark.parametrize("name", CARTONS)
@pytest.mark.parametrize("suffix", ["svg", "pdf"])
def test_the_script_writes_the_very_bytes_that_are_committed(written, name, suffix):
    """A sample that was mended by hand would be lost with the next run."""
    assert (written / f"{name}.{suffix}").read_bytes() == (DRAWINGS / f"{name}.{suffix}").read_bytes()


@pytest.mark.parametrize("name", CARTONS)
def test_the_script_writes_the_same_lines_as_dxf(written, cartons, name):
    """Another version of the library may write other tables around them, so bytes are not compared."""
    now, then = _read(written, name, "dxf"), cartons[name, "dxf"]
    assert _numbers(now) == _numbers(then)
    assert (now.drawing.strokes.data == then.drawing.strokes.data).all()
    assert now.drawing.groups == then.drawing.groups


@pytest.mark.parametrize("name", CARTONS)
@pytest.mark.parametrize("suffix", FORMATS)
def test_the_samples_say_that_they_are_invented(name, suffix):
    """No sample may be taken for somebody's carton; a PDF needs a font for words, and has none."""
    if suffix != "pdf":
        assert "invented sample" in (DRAWINGS / f"{name}.{suffix}").read_text(encoding="utf-8")


# -- one carton -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CARTONS)
@pytest.mark.parametrize("suffix", ["svg", "pdf"])
def test_every_format_measures_the_same(cartons, name, suffix):
    """To a millionth: a PDF has no arcs, only cubic curves close to them."""
    assert _numbers(cartons[name, suffix]) == pytest.approx(_numbers(cartons[name, "dxf"]), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("name", CARTONS)
@pytest.mark.parametrize("suffix", ["svg", "pdf"])
def test_every_format_finds_the_same_fine_detail(cartons, name, suffix):
    """Gaps and the outline that nicks sit on are found along chords, which keep within 0.01 mm on either side."""
    here, there = cartons[name, suffix].measured, cartons[name, "dxf"].measured
    found, expected = ({n: m.work.inputs()[n] for n in NEAR} | {"outline": m.outline_mm} for m in (here, there))
    assert found == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("name", CARTONS)
@pytest.mark.parametrize("suffix", FORMATS)
def test_nothing_is_wrong_with_a_sample(cartons, name, suffix):
    """Words left out are all there is to say; the layers of a PDF say their kinds by themselves."""
    drawn = cartons[name, suffix]
    assert {finding.code for finding in drawn.findings} <= {"drawing.left_out"}
    assert None not in drawn.kinds


@pytest.mark.parametrize("name", CARTONS)
def test_a_pdf_with_processing_steps_needs_no_map(name):
    file = DRAWINGS / f"{name}.pdf"
    bare = drawn_carton(read_drawing_here(file), file.name)
    assert _numbers(bare) == _numbers(_read(DRAWINGS, name, "pdf"))


# -- against the style and school geometry -----------------------------------------------------------------------------


def _style() -> tuple[float, float, float]:
    """Cutting, creasing and area of the plain reverse tuck carton of 80 x 40 x 120 that the window carton starts from.

    Outside numbers: tests/outside/test_geometry_styles.py.
    """
    return 1181.657843, 960.0, 43_855.0


def test_the_window_carton_has_the_creases_and_the_box_of_the_plain_reverse_tuck_carton(cartons):
    m = cartons["window_carton", "dxf"].measured
    creasing = next(k for k in m.kinds if k.kind == "creasing")
    assert creasing.length_mm == pytest.approx(_style()[1], rel=1e-9)
    assert (m.work.blank_width_mm, m.work.blank_height_mm) == pytest.approx((255, 230), rel=1e-9)


def _tuck_corner() -> tuple[float, float]:
    """What rounding a corner of a tuck flap by 8 mm takes off length and area.

    Derived: the flap of 15 has a taper of 2 on either side, so its corners turn by the angle 90 degrees less atan(2/15).
    """
    turn = math.pi / 2 - math.atan(2 / 15)
    reach, arc = 8 * math.tan(turn / 2), 8 * turn
    return 2 * reach - arc, 8 * reach - 8 * 8 * turn / 2


def test_the_window_carton_differs_from_the_style_by_its_corners_its_notch_and_its_window(cartons):
    """Derived: four rounded corners off; half a circle of radius 9 for its diameter; an ellipse of 25 x 16."""
    cut_mm, _, area_mm2 = _style()
    length_off, area_off = _tuck_corner()
    m = cartons["window_carton", "dxf"].measured
    cutting = next(k for k in m.kinds if k.kind == "cutting")
    assert cutting.length_mm == pytest.approx(cut_mm - 4 * length_off + (9 * math.pi - 18) + _ellipse(25, 16), rel=1e-6)
    assert m.blank_area_mm2 == pytest.approx(area_mm2 - 4 * area_off - math.pi * 81 / 2 - math.pi * 25 * 16, rel=1e-6)


def test_the_wave_sleeve_has_two_round_holes_and_four_creases(cartons):
    """Derived: four creases as long as the panels are high; the wave ends at creases and shortens none."""
    m = cartons["wave_sleeve", "dxf"].measured
    creasing = next(k for k in m.kinds if k.kind == "creasing")
    assert (creasing.length_mm, m.work.waste_pieces) == (pytest.approx(4 * 60), 2)
    assert m.radii.least == pytest.approx(m.work.smallest_radius_mm)
    assert sorted(piece.area for piece in m.waste) == pytest.approx([81 * math.pi] * 2, rel=1e-6)


def test_the_job_with_a_drawing_is_computed_from_it(load):
    """The same carton from job file to answer, and every number says where it is from."""
    scenario = load("window_from_drawing")
    assert scenario.drawn is not None
    assert scenario.inputs["work.cutting_m"] == pytest.approx(scenario.drawn.measured.work.cutting_m)
    assert scenario.origins["work.cutting_m"] == "drawing window_carton.dxf"
