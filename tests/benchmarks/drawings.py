"""Measure drawings, as ratios of two things within one run.

    python tests/benchmarks/drawings.py [measure] [layout] [--repeats N]

Each line is held against its bound, and the exit code is 1 where one is not held. What is measured and
how to read it: docs/performance.md.
"""

from __future__ import annotations

import argparse
import gc
import itertools
import math
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf.bbox import extents
from measure import MEGABYTE, in_turn, keep_freed_memory, timed
from run import Line

from compare.assumptions import assumption_table
from compare.data_files import data_folder
from compare.geometry.line_kinds import LineKind
from compare.geometry.linework import Point
from compare.geometry.measure import Measured, groups_of, measure_drawing
from compare.geometry.sheet_layout import place_blanks
from compare.geometry.styles import build_blank
from compare.readers.drawing import read_drawing, read_drawing_here
from compare.readers.line_map import LineMap, Rule, apply, load_line_map

MEASURE_BOUND, LAYOUT_BOUND = 1.6, 1.0

CARTON, CARTON_COLUMNS, CARTON_ROWS = data_folder() / "demo" / "drawings" / "window_carton.dxf", 46, 30

COLUMNS, ROWS, PITCH, SIDE, ROUND_RADIUS = 62, 62, 37.3, 33.1, 3.7
"""Blanks of the large drawing; from one to the next, side and radius of its corners [mm]."""

LAYERS: dict[str, LineKind] = {"knife": "cutting", "fold": "creasing", "tear": "perforating", "windows": "cutting"}
MAP = LineMap("benchmark", tuple(Rule(kind, layer=layer) for layer, kind in LAYERS.items()))

SHEET = {"gripper_mm": 12.0, "side_margin_mm": 8.0, "tail_margin_mm": 8.0, "gutter_mm": 4.0}
"""Margins and gutter on a sheet of 1,000 x 700 mm [mm]: common practice, no source."""


def _add_round_blank(space: Any, x: float, y: float) -> int:
    """Draw a rounded blank with two slots, two holes, creases and a tear line; return the number of entities."""
    radius = ROUND_RADIUS
    knife, windows = {"layer": "knife"}, {"layer": "windows"}
    low, high = radius, SIDE - radius
    for start, end in (
        ((low, 0), (high, 0)),
        ((SIDE, low), (SIDE, high)),
        ((high, SIDE), (low, SIDE)),
        ((0, high), (0, low)),
    ):
        space.add_line((x + start[0], y + start[1]), (x + end[0], y + end[1]), knife)
    for number, (cx, cy) in enumerate(((high, high), (low, high), (low, low), (high, low))):
        space.add_arc((x + cx, y + cy), radius, 90 * number, 90 * number + 90, dxfattribs=knife)
    for left in (5.3, 18.9):
        low_y, high_y = y + 18.7, y + 24.1
        slot = [(x + left, low_y, 0), (x + left + 8.1, low_y, 1), (x + left + 8.1, high_y, 0), (x + left, high_y, 1)]
        space.add_lwpolyline(slot, format="xyb", close=True, dxfattribs=windows)
    for cx in (9.7, 23.4):
        space.add_circle((x + cx, y + 10.3), 2.9, windows)
    _add_folds(space, x, y)
    return 17


def _add_straight_blank(space: Any, x: float, y: float) -> int:
    """Draw a blank of straight lines with one hole and one rounded corner, as many entities as the round one."""
    knife, windows, off = {"layer": "knife"}, {"layer": "windows"}, ROUND_RADIUS
    corners = [(0, off), (off, 0), (14.2, 0), (16.1, 2.3), (18.9, 2.3), (20.8, 0), (SIDE - off, 0), (SIDE, off)]
    corners += [(SIDE, SIDE - off), (SIDE - off, SIDE)]
    for start, end in itertools.pairwise([*corners, (0, SIDE), (0, off)]):
        space.add_line((x + start[0], y + start[1]), (x + end[0], y + end[1]), knife)
    space.add_lwpolyline(
        [(x + 5.3, y + 18.7), (x + 27.2, y + 18.7), (x + 27.2, y + 24.1), (x + 5.3, y + 24.1)],
        close=True,
        dxfattribs=windows,
    )
    space.add_circle((x + 16.5, y + 10.3), 2.9, windows)
    _add_folds(space, x, y)
    return 18


def _add_folds(space: Any, x: float, y: float) -> None:
    for height in (6.1, 14.9, 28.6):
        space.add_line((x + ROUND_RADIUS, y + height), (x + SIDE - ROUND_RADIUS, y + height), {"layer": "fold"})
    space.add_line((x + 16.55, y + 2.9), (x + 16.55, y + 5.2), {"layer": "fold"})
    space.add_line((x + 4.4, y + 31.2), (x + 28.7, y + 31.2), {"layer": "tear"})


_BLANKS = {"mostly straight": _add_straight_blank, "half of it arcs": _add_round_blank}


def write_large(path: Path, mix: str) -> int:
    """Write a drawing of about 10 MB; return the number of its entities."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    for layer in LAYERS:
        document.layers.add(layer)
    space = document.modelspace()
    count = sum(_BLANKS[mix](space, PITCH * i, PITCH * j) for i, j in itertools.product(range(COLUMNS), range(ROWS)))
    document.saveas(path)
    return count


def write_cartons(path: Path) -> int:
    """Write the demo's carton with a window over and over, a tenth of it curves; return the number of entities."""
    carton = ezdxf.readfile(CARTON)
    entities = list(carton.modelspace())
    size = extents(entities).size
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    for layer in carton.layers:
        if layer.dxf.name not in document.layers:
            document.layers.add(layer.dxf.name)
    for i, j in itertools.product(range(CARTON_COLUMNS), range(CARTON_ROWS)):
        for entity in entities:
            copy = entity.copy()
            copy.translate(i * (size.x + 10), j * (size.y + 10), 0)
            document.modelspace().add_entity(copy)
    document.saveas(path)
    return CARTON_COLUMNS * CARTON_ROWS * len(entities)


def measured(path: Path, rules: LineMap) -> Measured:
    """Read, map and measure a drawing, as `evenrun measure` does, in this process."""
    drawing = read_drawing_here(path)
    if drawing.mm_per_unit is None:
        raise ValueError("the benchmark's own drawing has no unit")
    return measure_drawing(drawing, apply(rules, groups_of(drawing)), mm_per_unit=drawing.mm_per_unit)


def measure(repeats: int) -> Iterator[Line]:
    """Measure a DXF of 10 MB against opening it with ezdxf alone."""
    with tempfile.TemporaryDirectory() as folder:
        for mix in ("a carton over and over", *_BLANKS):
            path = Path(folder) / "large.dxf"
            of_carton = mix not in _BLANKS
            entities = write_cartons(path) if of_carton else write_large(path, mix)
            rules = load_line_map(CARTON.with_name("lines.toml")) if of_carton else MAP
            _agree(measured(path, rules), mix)
            opened = _from_clean(lambda path=path: ezdxf.readfile(path))
            ratio = in_turn(_from_clean(lambda path=path, rules=rules: measured(path, rules)), opened, repeats)
            size = f"; {entities:,} entities, {path.stat().st_size / MEGABYTE:.1f} MB"
            yield Line.of(f"measure a large DXF, {mix}", ratio, MEASURE_BOUND, size)
            reading = in_turn(_from_clean(lambda path=path: read_drawing_here(path)), opened, repeats)
            yield Line.of("its reading alone", reading, None)


def _from_clean(work: Callable[[], object]) -> Callable[[], float]:
    """Return a callable that times the work, and first clears away what the other side has left behind.

    A document of the library is freed only by Python's search for garbage, in whoever's time it comes.
    """

    def run() -> float:
        gc.collect()
        return timed(work)()

    return run


def _agree(found: Measured, mix: str) -> None:
    """Hold the lengths against school geometry, or the carton alone, before anything is timed."""
    if mix not in _BLANKS:
        alone = measured(CARTON, load_line_map(CARTON.with_name("lines.toml")))
        copies = CARTON_COLUMNS * CARTON_ROWS
        for kind, one in zip(found.kinds, alone.kinds, strict=True):
            if not math.isclose(kind.length_mm, copies * one.length_mm, rel_tol=1e-9):
                raise ValueError(f"{mix}, {kind.kind}: {kind.length_mm} mm instead of {copies * one.length_mm}")
        return
    folds = {"creasing": 3 * (SIDE - 2 * ROUND_RADIUS) + 2.3, "perforating": 24.3}
    hole, straight = 2 * math.pi * 2.9, SIDE - 2 * ROUND_RADIUS
    if mix == "half of it arcs":
        outline = 4 * straight + 2 * math.pi * ROUND_RADIUS
        cutting = outline + 2 * (2 * 8.1 + math.pi * 5.4) + 2 * hole
    else:
        notch = 2.8 + 2 * math.hypot(1.9, 2.3) + straight - 6.6
        cutting = notch + straight + 3 * math.hypot(3.7, 3.7) + 2 * (SIDE - 3.7) + 2 * (21.9 + 5.4) + hole
    for kind in found.kinds:
        expected = COLUMNS * ROWS * {"cutting": cutting, **folds}[kind.kind]
        if not math.isclose(kind.length_mm, expected, rel_tol=1e-9):
            raise ValueError(f"{mix}, {kind.kind}: {kind.length_mm} mm instead of {expected}")


def blank_of_60() -> list[Point]:
    """Return the outline of a reverse tuck carton with a notch, each corner cut off, of 60 corners [mm]."""
    numbers = {n: row.value for n, row in assumption_table().items() if isinstance(row.value, float)}
    own = {n.removeprefix("carton."): value for n, value in numbers.items() if n.startswith("carton.")}
    ring = build_blank("reverse_tuck_end", {**own, "length_mm": 80, "width_mm": 40, "height_mm": 120}).outline
    cut_off: list[Point] = []
    for before, here, after in zip(ring[-1:] + ring[:-1], ring, ring[1:] + ring[:1], strict=True):
        cut_off += [_towards(here, before), _towards(here, after)]
    start, end = next((a, b) for a, b in itertools.pairwise(cut_off) if math.dist(a, b) > 60)
    along = ((end[0] - start[0]) / math.dist(start, end), (end[1] - start[1]) / math.dist(start, end))
    notch = [(30.0, 0.0), (32.0, 5.0), (40.0, 5.0), (42.0, 0.0)]
    dented = [(start[0] + u * along[0] - v * along[1], start[1] + u * along[1] + v * along[0]) for u, v in notch]
    at = cut_off.index(end)
    return cut_off[:at] + dented + cut_off[at:]


def _towards(here: Point, there: Point) -> Point:
    share = 0.5 / math.dist(here, there)
    return here[0] + share * (there[0] - here[0]), here[1] + share * (there[1] - here[1])


def layout(repeats: int) -> Iterator[Line]:
    """Lay a blank of 60 corners on a sheet of 1,000 x 700 mm against reading its drawing."""
    ring = blank_of_60()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "blank.dxf"
        document = ezdxf.new("R2010")
        document.header["$INSUNITS"] = 4
        document.modelspace().add_lwpolyline(ring, close=True, dxfattribs={"layer": "knife"})
        document.saveas(path)
        for grain in ("width", "any"):
            found = place_blanks(ring, 1000, 700, **SHEET, grain=grain)
            detail = f"; {len(ring)} corners, {found.ups} ups, {found.pattern}"
            lay = timed(lambda grain=grain: place_blanks(ring, 1000, 700, **SHEET, grain=grain))
            apart = in_turn(lay, timed(lambda: read_drawing(path)), repeats)
            yield Line.of(f"layout, grain {grain}, against reading as the command does", apart, LAYOUT_BOUND, detail)
        here = in_turn(lay, timed(lambda: read_drawing_here(path)), repeats)
        yield Line.of("the same against reading in this process, all loaded", here, None)


PARTS = {"measure": (measure, 5), "layout": (layout, 9)}


def main() -> int:
    """Run the parts asked for and print one line of a table per figure."""
    parser = argparse.ArgumentParser(description="Measure ratios; see docs/performance.md.")
    parser.add_argument("parts", nargs="*", choices=[[], *PARTS], help="which parts; all, if left out")
    parser.add_argument("--repeats", type=int, help="rounds per figure")
    asked = parser.parse_args()
    print("| what | figure | median of pairs | held against | | from |\n|---|---|---|---|---|---|")
    keep_freed_memory()
    held = True
    for name in asked.parts or PARTS:
        part, repeats = PARTS[name]
        for line in part(asked.repeats or repeats):
            print(line, flush=True)
            held &= line.verdict in ("held", "shown")
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
