"""Broken DXF files: whatever bytes come in, a drawing or a typed error comes out, and soon.

The longer run breaks as many files as ``EVENRUN_FUZZ_DXF`` says (20,000 if unset):
``EVENRUN_FUZZ_DXF=100000 pytest -m slow tests/readers/test_dxf_fuzz.py``.
"""

from __future__ import annotations

import os
import random
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from compare.errors import EvenrunError, FileError, InputError
from compare.geometry.strokes import Drawing
from compare.readers.dxf import read_dxf
from readers.dxf_files import block, insert, line, sample_bytes, sample_text, text_of

NASTY = (
    "nan", "inf", "-inf", "1e308", "-1e308", "1e-320", "99999999999999999999999", "-1", "0", "", "32767", "abc",
    "#", "-99999999999999", "1,5", "0x10", "0" * 300, "\N{SNOWMAN}", "\x00",
)  # fmt: skip
"""Values that formulas, counters and loops do not like."""

SECONDS = 5
"""More than a hundred times what reading such a small file takes: beyond, it hangs."""


def mutated_text(text: str, rng: random.Random) -> bytes:
    """Break a text in one to three places: values, tags, codes, order, bytes, its end."""
    lines = text.split("\n")
    for _ in range(rng.randint(1, 3)):
        tag = 2 * rng.randrange(len(lines) // 2)
        what = rng.randrange(8)
        if what <= 2:
            lines[tag + 1 : tag + 2] = [rng.choice(NASTY)]
        elif what == 3:
            del lines[tag : tag + 2]
        elif what == 4:
            del lines[tag]
        elif what == 5:
            lines[tag] = str(rng.choice((0, 2, 5, 8, 10, 20, 40, 42, 70, 100, 102, 210, 330, 999, 1001, -3, 5000)))
        elif what == 6:
            other = 2 * rng.randrange(len(lines) // 2)
            lines[tag : tag + 2], lines[other : other + 2] = lines[other : other + 2], lines[tag : tag + 2]
        else:
            start = 2 * rng.randrange(len(lines) // 2)
            lines[tag:tag] = lines[start : start + 2 * rng.randint(1, 30)]
        if len(lines) < 4:
            break
    raw = "\n".join(lines).encode("utf-8")
    return mutated_bytes(raw, rng) if rng.random() < 0.2 else raw


def mutated_bytes(raw: bytes, rng: random.Random) -> bytes:
    """Change a few bytes, or cut the end off."""
    broken = bytearray(raw)
    for _ in range(rng.randint(1, 4)):
        broken[rng.randrange(len(broken))] = rng.randrange(256)
    return bytes(broken[: rng.randrange(len(broken))] if rng.random() < 0.2 else broken)


def check(path: Path, raw: bytes) -> str:
    """Read broken bytes; fail on any other error than our own and on a drawing that does not hold together."""
    path.write_bytes(raw)
    start = time.monotonic()
    error: EvenrunError | None = None
    try:
        drawing = read_dxf(path)
    except EvenrunError as raised:
        error = raised
    assert time.monotonic() - start < SECONDS
    if error is not None:
        assert str(error).startswith(path.name)
        return type(error).__name__
    strokes = drawing.strokes
    assert np.isfinite(strokes.data).all()
    assert (np.diff(strokes.stroke) >= 0).all()
    assert len(strokes.place) == len(strokes.group) == len(set(strokes.stroke.tolist()))
    assert set(strokes.group.tolist()) <= set(range(len(drawing.groups)))
    return type(drawing).__name__


def run(path: Path, mutate: Callable[[random.Random], bytes], number: int, seed: int) -> Counter[str]:
    """Read so many broken files; a failure names the seed of the file."""
    ends: Counter[str] = Counter()
    for step in range(number):
        raw = mutate(random.Random(seed * 1_000_000 + step))  # noqa: S311 - not for secrets
        try:
            ends[check(path, raw)] += 1
        except Exception as error:
            raise AssertionError(f"file {step} of seed {seed}: {type(error).__name__}: {error}") from error
    return ends


def mutations(source: str) -> Callable[[random.Random], bytes]:
    """Return what breaks a sample of a kind."""
    version, _, kind = source.partition(" ")
    if kind == "binary":
        raw = sample_bytes(version)
        return lambda rng: mutated_bytes(raw, rng)
    text = sample_text(version)
    return lambda rng: mutated_text(text, rng)


SOURCES = {"R12 text": 700, "R2000 text": 600, "R12 binary": 200}


@pytest.mark.parametrize(("source", "number"), SOURCES.items(), ids=list(SOURCES))
def test_broken_files_give_a_drawing_or_a_typed_error(tmp_path, source, number):
    """Both ends must be met, or the mutations are too tame or too wild to try anything."""
    ends = run(tmp_path / "drawing.dxf", mutations(source), number, seed=1)
    assert ends["Drawing"] > number / 10
    assert sum(ends.values()) - ends["Drawing"] > number / 100


@pytest.mark.slow
@pytest.mark.parametrize("source", SOURCES)
def test_many_more_broken_files_give_a_drawing_or_a_typed_error(tmp_path, source):
    """As above, for hours if wanted; the number of files is ``EVENRUN_FUZZ_DXF``."""
    number = int(os.environ.get("EVENRUN_FUZZ_DXF", "20000"))
    run(tmp_path / "drawing.dxf", mutations(source), number // len(SOURCES), seed=2)


@pytest.mark.parametrize("source", ["R12", "R2000"])
def test_files_cut_off_at_every_kilobyte_give_a_drawing_or_a_typed_error(tmp_path, source):
    """Downloads break off anywhere; what is left may be half a number."""
    raw = sample_text(source).encode()
    for end in range(0, len(raw), 1000 if len(raw) > 20_000 else 100):
        check(tmp_path / "drawing.dxf", raw[:end])


def test_a_file_cut_off_says_so(tmp_path):
    """What is left may look whole: the missing end mark is the only sign."""
    path = tmp_path / "drawing.dxf"
    path.write_text(text_of("".join(line(x, 0, x, 1) for x in range(50)))[:-500])
    drawing = read_dxf(path)
    assert len(drawing.strokes) > 30
    assert "drawing.truncated" in {finding.code for finding in drawing.findings}


# -- built to do harm -------------------------------------------------------------------------------------------------


def read_in_time(path: Path, content: str | bytes, seconds: float = 3) -> Drawing:
    """Read a hostile file, in a time that a server can spare."""
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    start = time.monotonic()
    try:
        return read_dxf(path)
    finally:
        assert time.monotonic() - start < seconds


def test_blocks_that_multiply_into_billions_are_refused_before_they_are_laid_out(tmp_path):
    """Ten references each, twelve deep: a million million lines out of four kilobytes."""
    inner = "".join(insert("B0", x=x) for x in range(10))
    blocks = block("B0", line(0, 0, 1, 0)) + block("B1", inner)
    blocks += "".join(block(f"B{n}", inner.replace("B0", f"B{n - 1}")) for n in range(2, 13))
    with pytest.raises(InputError, match="more than 2,000,000 lines"):
        read_in_time(tmp_path / "bomb.dxf", text_of(insert("B12"), blocks=blocks))


def test_a_grid_of_a_block_that_is_too_large_is_refused_before_it_is_laid_out(tmp_path):
    grid = insert("A", (70, 32767), (71, 32767), (44, 1), (45, 1))
    with pytest.raises(InputError, match="more than 2,000,000 lines"):
        read_in_time(tmp_path / "bomb.dxf", text_of(grid, blocks=block("A", line(0, 0, 1, 0))))


def test_a_bomb_of_blocks_that_hold_no_line_is_read_in_no_time(tmp_path):
    """Nothing is drawn however often it is put in."""
    grid = ((70, 32767), (71, 32767))
    blocks = block("B0", "") + "".join(block(f"B{n}", insert(f"B{n - 1}", *grid)) for n in range(1, 20))
    drawing = read_in_time(tmp_path / "bomb.dxf", text_of(insert("B19") + line(0, 0, 1, 0), blocks=blocks))
    assert len(drawing.strokes) == 1


def test_a_drawing_just_below_the_limit_is_read(tmp_path):
    """The limit must not come from laying out slowly: 1,000 x 1,000 copies through five blocks."""
    blocks = block("B0", line(0, 0, 1, 0)) + "".join(block(f"B{n}", insert(f"B{n - 1}")) for n in range(1, 5))
    grid = insert("B4", (70, 1000), (71, 1000), (44, 2), (45, 2))
    drawing = read_in_time(tmp_path / "large.dxf", text_of(grid, blocks=blocks), seconds=20)
    assert len(drawing.strokes) == 1_000_000


def test_blocks_nested_too_deeply_are_refused(tmp_path):
    """Far beyond what the interpreter's own stack would bear."""
    blocks = block("B0", line(0, 0, 1, 0)) + "".join(block(f"B{n}", insert(f"B{n - 1}")) for n in range(1, 3000))
    with pytest.raises(InputError, match="nested more than 32 deep"):
        read_in_time(tmp_path / "deep.dxf", text_of(insert("B2999"), blocks=blocks), seconds=10)


def test_32_levels_of_blocks_are_read(tmp_path):
    """The limit itself is still good."""
    blocks = block("B1", line(0, 0, 1, 0)) + "".join(block(f"B{n}", insert(f"B{n - 1}")) for n in range(2, 33))
    assert len(read_in_time(tmp_path / "deep.dxf", text_of(insert("B32"), blocks=blocks)).strokes) == 1


@pytest.mark.parametrize(
    "blocks",
    [block("A", line(0, 0, 1, 0) + insert("A")), block("A", line(0, 0, 1, 0) + insert("B")) + block("B", insert("A"))],
    ids=["itself", "each other"],
)
def test_blocks_that_hold_themselves_are_drawn_without_and_named(tmp_path, blocks):
    """What can't be drawn by anybody must not keep the rest from being read."""
    drawing = read_in_time(tmp_path / "cycle.dxf", text_of(insert("A"), blocks=blocks))
    assert len(drawing.strokes) == 1
    (finding,) = [f for f in drawing.findings if f.code == "drawing.cyclic_block"]
    assert "1 block references put a block into itself" in finding.message


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e308", "1e15"])
def test_coordinates_that_are_no_numbers_are_left_out_and_named(tmp_path, number):
    """Beyond 1e12 a double no longer tells one millimetre from the next after squaring."""
    drawing = read_in_time(tmp_path / "nan.dxf", text_of(line(0, 0, number, 1) + line(0, 0, 3, 4)))
    assert drawing.strokes.lengths().sum() == pytest.approx(5, rel=1e-12)
    (finding,) = [f for f in drawing.findings if f.code == "drawing.broken_numbers"]
    assert "1 lines" in finding.message


def test_a_block_put_at_no_number_is_left_out_and_named(tmp_path):
    content = insert("A", (50, "nan")) + insert("A")
    drawing = read_in_time(tmp_path / "nan.dxf", text_of(content, blocks=block("A", line(0, 0, 3, 4))))
    assert drawing.strokes.lengths().sum() == pytest.approx(5, rel=1e-12)
    assert "drawing.broken_numbers" in {finding.code for finding in drawing.findings}


@pytest.mark.parametrize("start", ["", "0\nSECTION\n2\nENTITIES\n"], ids=["from the start", "after a good start"])
def test_five_megabytes_of_garbage_are_refused(tmp_path, start):
    garbage = start.encode() + random.Random(5).randbytes(5_000_000)  # noqa: S311 - not for secrets
    with pytest.raises(FileError):
        read_in_time(tmp_path / "garbage.dxf", garbage)


def test_five_megabytes_of_one_line_draw_nothing(tmp_path):
    """A reader that builds text by adding to it would take minutes."""
    content = "0\nSECTION\n2\nENTITIES\n0\n" + "A" * 5_000_000
    assert len(read_in_time(tmp_path / "long.dxf", content).strokes) == 0


def test_twenty_thousand_layers_are_refused(tmp_path):
    """Nobody can map them, and no table on a screen can show them."""
    content = "".join(line(0, n, 1, n, layer=f"L{n}") for n in range(20_000))
    with pytest.raises(InputError, match="more than 10,000 different layers"):
        read_in_time(tmp_path / "layers.dxf", text_of(content), seconds=20)


@pytest.mark.parametrize("there", [True, False], ids=["that are there", "that are not there"])
def test_twenty_thousand_references_to_as_many_blocks_take_no_longer_than_their_lines(tmp_path, there):
    """Looking through all of them for each of them would take minutes."""
    number = 20_000
    blocks = "".join(block(f"B{n}", line(0, 0, 1, 0)) for n in range(number if there else 1))
    content = "".join(insert(f"B{n}") for n in range(number))
    drawing = read_in_time(tmp_path / "many.dxf", text_of(content, blocks=blocks), seconds=30)
    assert len(drawing.strokes) == (number if there else 1)
