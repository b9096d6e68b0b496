"""Reading files of anybody: which format, which limits, and that nothing takes the server down.

The readers run in a process apart. Here small readers of our own stand for a library that hangs, eats
memory, crashes or is taken over by the file.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import textwrap
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from compare.errors import EvenrunError, FileError, Finding, InputError, UnknownNameError
from compare.geometry.strokes import Drawing, Group, Pen
from compare.readers import drawing, reader_process
from compare.readers.drawing import read_drawing, read_drawing_here
from compare.readers.reader_process import run_reader

TOOL = (
    '<XJDF xmlns="http://www.CIP4.org/JDFSchema_2_0"><ShapeDef>'
    '<RuleLength DDESCutType="101" Length="72"/></ShapeDef></XJDF>'
)
LIMITS_OF_MEMORY = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limits of a process's memory")
LINUX = pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")


@pytest.fixture
def file(tmp_path):
    """Write a file."""

    def write(name: str, content: str | bytes = "x") -> Path:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


@pytest.fixture
def apart(tmp_path, monkeypatch):
    """Run the body of a reader apart: ``apart("while True: pass", seconds=1)``."""
    monkeypatch.syspath_prepend(tmp_path / "modules")
    path = tmp_path / "drawing.dxf"
    path.write_text("x")

    def run(body: str, *, seconds: float = 20, megabytes: float = 500, unit: str | None = None) -> Drawing:
        (tmp_path / "modules").mkdir(exist_ok=True)
        head = "from compare.errors import *\nfrom compare.geometry.strokes import *\ndef read(path, *, unit=None):\n"
        (tmp_path / "modules" / "stand_in_reader.py").write_text(head + textwrap.indent(body, "    "))
        return run_reader("stand_in_reader:read", path, unit=unit, seconds=seconds, megabytes=megabytes)

    return run


# -- which reader -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "reader"),
    [
        (b"  0\nSECTION\n  2\nHEADER\n", "dxf"),
        (b"0\r\nSECTION\r\n", "dxf"),
        (b"999\nmade by hand\n999\nagain\n0\nSECTION\n", "dxf"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00\x00\x00", "dxf"),
        (b"%PDF-1.7\n", "pdf"),
        (b"\n\n junk %PDF-1.4\n", "pdf"),
        (b"<svg/>", "svg"),
        (b"\xef\xbb\xbf<?xml version='1.0'?>\n<!-- a < b -->\n<svg:svg xmlns:svg='x'>", "svg"),
        (b"<?xml version='1.0'?><!DOCTYPE svg PUBLIC 'a' 'b' [ <!ENTITY x 'y'> ]>\n<svg>", "svg"),
        ("<?xml version='1.0'?><svg>".encode("utf-16"), "svg"),
        (b"<XJDF xmlns='x'>", "tool_data"),
        (b"<?xml version='1.0'?><JDF>", "tool_data"),
    ],
)
def test_the_content_tells_the_format(file, content, reader):
    """The name of a file is what somebody typed; here it is that of another format each time."""
    for suffix in (".svg", ".dxf", ".pdf", ".xml", ""):
        assert drawing._reader(file(f"a{suffix}", content)).partition(":")[0] == f"compare.readers.{reader}"


@pytest.mark.parametrize(
    ("name", "reader"),
    [("a.dxf", "dxf"), ("A.DXF", "dxf"), ("a.svg", "svg"), ("a.pdf", "pdf"), ("a.jdf", "tool_data"), ("a.xml", "tool_data")],
)  # fmt: skip
def test_the_suffix_tells_where_the_content_does_not(file, name, reader):
    """A damaged head may still be read by a tolerant loader, and else is said by the right reader."""
    assert drawing._reader(file(name, "damaged")).partition(":")[0] == f"compare.readers.{reader}"


@pytest.mark.parametrize(
    "content", ["hello", "0\nLINE\n", "<html><svg/></html>", "<", "<!--", "<?", "<!DOCTYPE [", "\0"]
)
def test_an_unknown_format_names_those_that_are_known(file, content):
    with pytest.raises(InputError, match=r"^a: this is not DXF, SVG, PDF, XJDF or JDF; export the drawing as one"):
        read_drawing(file("a", content))


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"\x1f\x8b\x08", "a compressed file, not DXF, SVG, PDF, XJDF or JDF; unpack it"),
        (b"PK\x03\x04", "an archive, .*; unpack it"),
        (b"AC1032\0", "a DWG, .*; save it as DXF"),
        (b"%!PS-Adobe-3.0 EPSF", "a PostScript file, .*; save it as PDF"),
        (b"\x89PNG\r\n", "a picture of pixels, .*; it holds no lines"),
    ],
)
def test_a_well_known_stranger_is_named_even_under_a_suffix_that_fits(file, content, what):
    with pytest.raises(InputError, match=f"this is {what}"):
        read_drawing(file("a.svg", content))


def test_a_drawing_is_read(file):
    found = read_drawing(file("tool.xml", TOOL))
    assert dict(found.lengths_by_code) == {Group("ShapeDef", code="101"): pytest.approx(25.4)}


def test_a_unit_given_reaches_the_reader(file):
    assert read_drawing(file("tool.xml", TOOL), unit="mm").unit_source == "given as mm"


def test_read_here_gives_the_same(file):
    path = file("tool.xml", TOOL)
    here, there = read_drawing_here(path), read_drawing(path)
    assert (here.lengths_by_code, here.unit_source) == (there.lengths_by_code, there.unit_source)


def test_a_refusal_of_the_reader_arrives_as_it_was(file):
    with pytest.raises(InputError) as caught:
        read_drawing(file("tool.xml", f"<!DOCTYPE XJDF>{TOOL}"))
    assert str(caught.value) == "tool.xml: the file has a DOCTYPE, which tool data never has; take the DOCTYPE out"


def test_a_refusal_keeps_its_class(file):
    """The screen tells a slip of typing from a broken file by it."""
    with pytest.raises(UnknownNameError, match="there is no unit 'ell'"):
        read_drawing(file("tool.xml", TOOL), unit="ell")


# -- before anything is read ------------------------------------------------------------------------------------------


def test_a_hundred_megabytes_are_refused_by_size_alone(tmp_path, monkeypatch):
    """The file is never opened: reading it is what it wants."""
    path = tmp_path / "huge.dxf"
    with path.open("wb") as made:
        made.truncate(100_000_000)
    monkeypatch.setattr(Path, "open", lambda *_, **__: pytest.fail("opened"))
    with pytest.raises(FileError, match=r"^huge\.dxf: the file has 100 MB, and at most 50 MB are read; save"):
        read_drawing(path)


def test_a_pipe_is_no_drawing(tmp_path):
    """Opening one waits until somebody writes."""
    if not hasattr(os, "mkfifo"):
        pytest.skip("no named pipes")
    os.mkfifo(tmp_path / "pipe.dxf")
    with pytest.raises(FileError, match="this is no ordinary file"):
        read_drawing(tmp_path / "pipe.dxf")


def test_a_folder_is_no_drawing(tmp_path):
    with pytest.raises(FileError, match="this is a folder, not a drawing"):
        read_drawing(tmp_path)


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(FileError, match=r"^none\.dxf: there is no such drawing; check the path$"):
        read_drawing(tmp_path / "none.dxf")


def test_a_path_that_no_file_can_have_is_said():
    with pytest.raises(FileError, match="the drawing can't be read"):
        read_drawing("a\0b.dxf")


def test_an_empty_file_is_said(file):
    with pytest.raises(FileError, match="the file is empty"):
        read_drawing(file("a.dxf", ""))


@pytest.mark.parametrize("limits", [{"seconds": 0}, {"seconds": math.nan}, {"megabytes": -1}, {"megabytes": math.inf}])
def test_a_limit_that_is_none_is_refused(file, limits):
    with pytest.raises(InputError, match="the limit of"):
        read_drawing(file("a.xml", TOOL), **limits)


# -- what a reader may do to us ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "body", ["while True: pass", "import time\ntime.sleep(100)", "import sys\nsys.stdin.read()\ninput()"]
)
def test_a_reader_that_never_ends_is_stopped(apart, body):
    """Busy or idle; the last one finds its input closed and so ends by an error."""
    start = time.monotonic()
    with pytest.raises(FileError, match=r"^drawing\.dxf: (reading it takes more than 1 s|the reader can't make sense)"):
        apart(body, seconds=1)
    assert time.monotonic() - start < 8


@LIMITS_OF_MEMORY
@pytest.mark.parametrize("body", ["bytearray(10**9)", "held = []\nwhile True: held.append(bytes(10**6))"])
def test_a_reader_that_eats_memory_runs_into_a_wall(apart, body):
    with pytest.raises(FileError, match="reading it takes more than 300 MB of memory; save it with less in it"):
        apart(body, megabytes=300)


@pytest.mark.parametrize(
    ("body", "how"),
    [
        ("import os, signal\nos.kill(os.getpid(), signal.SIGKILL)", "signal 9"),
        ("import os\nos.abort()", "signal 6"),
        ("import os, signal\nos.kill(os.getpid(), signal.SIGSEGV)", "signal 11"),
        ("import os\nos._exit(3)", "exit code 3"),
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
def test_a_reader_that_crashes_is_an_error_of_our_own(apart, body, how):
    with pytest.raises(FileError, match=rf"the reader broke down on it \({how}\); export the drawing anew"):
        apart(body)


@pytest.mark.skipif(sys.platform == "win32", reason="limits of POSIX systems")
def test_processor_time_is_limited_by_the_system_as_well(apart):
    """If the server dies while it waits, nobody is left to stop what it started."""
    with pytest.raises(InputError, match=r"\(30, 31\)"):
        apart("import resource\nraise InputError(str(resource.getrlimit(resource.RLIMIT_CPU)))", seconds=29.5)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX systems")
def test_a_reader_that_the_system_stops_took_too_long(apart):
    with pytest.raises(FileError, match=r"reading it takes more than 30 s"):
        apart("import os, signal\nos.kill(os.getpid(), signal.SIGXCPU)", seconds=30)


@pytest.mark.parametrize(
    ("body", "what"),
    [
        ("raise ValueError('secret path')", "the reader can't make sense of it (ValueError)"),
        ("def f(): f()\nf()", "the reader can't make sense of it (RecursionError)"),
        ("return 3", "the reader can't make sense of it (TypeError)"),
        ("import no_such_library", "the reader's library no_such_library can't be loaded"),
        ("raise SystemExit(0)", "the reader's answer can't be used"),
        ("import os\nos._exit(0)", "the reader's answer can't be used"),
    ],
)
def test_a_reader_that_gives_up_is_one_clear_line(apart, body, what):
    with pytest.raises(FileError) as caught:
        apart(body)
    assert str(caught.value).startswith(f"drawing.dxf: {what}; ")


def test_a_reader_that_leaves_a_thread_behind_does_not_hold_us_up(apart):
    start = time.monotonic()
    apart("import threading, time\nthreading.Thread(target=time.sleep, args=(100,)).start()\n" + _DRAWS, seconds=30)
    assert time.monotonic() - start < 20


def test_what_a_reader_prints_goes_nowhere(apart, capfd):
    """A library may print megabytes of warnings; they fill neither our memory nor our log."""
    apart("import sys\nprint('x' * 10**6)\nprint('y' * 10**6, file=sys.stderr)\n" + _DRAWS)
    assert capfd.readouterr() == ("", "")


def test_secrets_of_the_server_are_not_in_reach_of_a_reader(apart, monkeypatch):
    """A reader that a file has taken over must find nothing worth sending."""
    monkeypatch.setenv("EVENRUN_SECRET", "hidden")
    with pytest.raises(InputError, match=r"drawing\.dxf: None$"):
        apart("import os\nraise InputError(str(os.environ.get('EVENRUN_SECRET')), where=path.name)")


def test_a_module_beside_the_drawing_is_not_taken_for_a_library(apart, tmp_path, monkeypatch):
    """Who can put a drawing into a folder may not thereby run code."""
    (tmp_path / "json.py").write_text("raise SystemExit(9)")
    monkeypatch.chdir(tmp_path)
    assert len(apart(_DRAWS).strokes) == 3


def test_nothing_is_left_behind(apart, tmp_path, monkeypatch):
    """Answers of a thousand uploads would fill the disk."""
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "temporary"))
    apart(_DRAWS)
    with pytest.raises(FileError):
        apart("while True: pass", seconds=1)
    assert list((tmp_path / "temporary").iterdir()) == []


def test_drawings_can_be_read_in_threads(apart):
    """A server does; more than two at a time wait for one another."""
    apart(_DRAWS)  # writes the reader
    path, found = Path("drawing.dxf"), []
    read = [
        threading.Thread(target=lambda: found.append(
            len(run_reader("stand_in_reader:read", path, unit=None, seconds=30, megabytes=500).strokes)
        ))
        for _ in range(4)
    ]  # fmt: skip
    for thread in read:
        thread.start()
    for thread in read:
        thread.join()
    assert found == [3, 3, 3, 3]


def test_a_reader_that_finds_no_seat_says_so(apart, monkeypatch):
    monkeypatch.setattr(reader_process, "_AT_ONCE", threading.BoundedSemaphore(1))
    with reader_process._AT_ONCE, pytest.raises(FileError, match="other drawings are being read; try again"):
        apart(_DRAWS, seconds=0.05)


def test_a_seat_is_free_again_after_an_error(apart, monkeypatch):
    monkeypatch.setattr(reader_process, "_AT_ONCE", threading.BoundedSemaphore(1))
    with pytest.raises(InputError):
        apart("raise InputError('no')")
    assert len(apart(_DRAWS).strokes) == 3


@LINUX
def test_the_memory_of_the_server_does_not_grow_with_a_hostile_file(file):
    """Measured in a fresh process, for the peak of this one is already high."""
    path = file("garbage.xml", b"<XJDF>" + b"<a>x</a>" * 2_500_000)
    code = textwrap.dedent("""
        import sys
        from compare.errors import EvenrunError
        from compare.readers.drawing import read_drawing
        def peak():
            (line,) = [line for line in open('/proc/self/status') if line.startswith('VmHWM')]
            return int(line.split()[1])
        before = peak()
        try:
            read_drawing(sys.argv[1], seconds=30)
        except EvenrunError as error:
            print(peak() - before, error)
    """)
    done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True, timeout=60, check=True)
    grown, _, message = done.stdout.partition(" ")
    assert "is no XML" in message
    assert int(grown) < 5_000  # kB; the file has 20 MB


@pytest.mark.parametrize("suffix", [".xml", ".dxf", ".svg", ".pdf"])
def test_forty_megabytes_of_garbage_are_an_error_of_our_own(file, suffix):
    """Below the limit of size; what a library does with it is bounded by clock and memory."""
    garbage = np.random.default_rng(4).bytes(1_000_000) * 40
    with pytest.raises(EvenrunError):
        read_drawing(file(f"garbage{suffix}", garbage), seconds=4)


def _dxf(*sections: str) -> str:
    return "\n".join(f"0\nSECTION\n{section}\n0\nENDSEC" for section in sections) + "\n0\nEOF\n"


def _block(name: str, *entities: str) -> str:
    return "\n".join((f"0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0\n20\n0\n30\n0", *entities, "0\nENDBLK\n8\n0"))


_MM = "2\nHEADER\n9\n$INSUNITS\n70\n4"
_LINE = "0\nLINE\n8\nA\n10\n0\n20\n0\n11\n30\n21\n40"


def _insert(name: str) -> str:
    return f"0\nINSERT\n8\n0\n2\n{name}\n10\n0\n20\n0\n30\n0"


def _pdf() -> bytes:
    import io

    import pikepdf

    made, file = pikepdf.new(), io.BytesIO()
    made.add_blank_page(page_size=(200, 200)).Contents = made.make_stream(b"0 0 m 30 40 l S")
    made.save(file)
    return file.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "mm"),
    [
        ("a.dxf", _dxf(_MM, f"2\nENTITIES\n{_LINE}"), 50),
        ("a.svg", "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' viewBox='0 0 100 100'>"
                  "<path stroke='#000' d='M0 0L30 40'/></svg>", 50),
        ("a.pdf", _pdf(), 50 * 25.4 / 72),
    ],
)  # fmt: skip
def test_drawings_of_every_format_are_read_apart(file, name, content, mm):
    """The libraries must load and work below the limits, in the process that holds nothing else. A 3-4-5 triangle."""
    found = read_drawing(file(name, content), seconds=60)
    assert found.mm_per_unit is not None
    assert found.strokes.lengths().sum() * found.mm_per_unit == pytest.approx(mm, rel=1e-6)


def test_blocks_that_hold_blocks_many_times_over_are_an_error_of_our_own(file):
    """Eleven blocks of ten each would draw a hundred thousand million lines."""
    blocks = [_block("B0", _LINE), *(_block(f"B{i}", *[_insert(f"B{i - 1}")] * 10) for i in range(1, 12))]
    bomb = _dxf(_MM, "2\nBLOCKS\n" + "\n".join(blocks), "2\nENTITIES\n" + _insert("B11"))
    with pytest.raises(InputError, match=r"^bomb\.dxf: "):
        read_drawing(file("bomb.dxf", bomb), seconds=60)


def test_entities_that_grow_are_an_error_of_our_own(file):
    """A thousand million laughs, in the attribute of a line."""
    entities = "<!ENTITY a 'ha'>" + "".join(
        f"<!ENTITY {b} '{f'&{a};' * 10}'>" for a, b in zip("abcdefghi", "bcdefghij", strict=True)
    )
    svg = f"<!DOCTYPE svg [{entities}]><svg xmlns='http://www.w3.org/2000/svg'><path id='&j;' d='M0 0H5'/></svg>"
    with pytest.raises(EvenrunError, match=r"^bomb\.svg"):
        read_drawing(file("bomb.svg", svg), seconds=60)


# -- the answer -------------------------------------------------------------------------------------------------------

_DRAWS = """\
pen = Pen()
pen.begin(Group('a', '#ff0000', 'DASHED', 'Structural', 'Cutting', '7'), 'LINE 1F')
pen.line(0, 0, 1, 0.1)
pen.circle(1, 2, 3, 0, 6)
pen.begin(Group('b'), 'LINE 20')
pen.cubic([0, 0, 1, 1, 2, 2, 3, 0])
strokes, groups, _ = pen.strokes()
return Drawing(strokes, groups, 'mm', 1.0, 'said so', {Group('c', code='9'): 1.5}, {'TEXT': 3},
               (Finding('drawing.x', 'Note.', 'a', 'caution', ((1.0, 2.0),)),))
"""


def test_the_answer_is_what_the_reader_found(apart):
    found = apart(_DRAWS)
    assert found.groups == (Group("a", "#ff0000", "DASHED", "Structural", "Cutting", "7"), Group("b"))
    assert (found.unit, found.mm_per_unit, found.unit_source) == ("mm", 1.0, "said so")
    assert (found.lengths_by_code, found.left_out) == ({Group("c", code="9"): 1.5}, {"TEXT": 3})
    assert found.findings == (Finding("drawing.x", "Note.", "a", "caution", ((1.0, 2.0),)),)


def test_every_number_of_the_strokes_arrives_bit_by_bit(apart):
    """Ends that met in the file must meet in the answer."""
    pen = Pen()
    pen.begin(Group("a"), "LINE 1F")
    pen.line(0, 0, 1, 0.1)
    pen.circle(1, 2, 3, 0, 6)
    pen.begin(Group("b"), "LINE 20")
    pen.cubic([0, 0, 1, 1, 2, 2, 3, 0])
    sent, _, _ = pen.strokes()
    came = apart(_DRAWS).strokes
    for name in ("kind", "data", "stroke", "group"):
        assert np.array_equal(getattr(came, name), getattr(sent, name))
        assert getattr(came, name).dtype == getattr(sent, name).dtype
    assert came.place == sent.place


def test_a_drawing_of_nothing_arrives(apart):
    found = apart("strokes, groups, _ = Pen().strokes()\nreturn Drawing(strokes, groups, None, None, 'no')")
    assert (len(found.strokes), found.groups, found.unit, found.mm_per_unit) == (0, (), None, None)


def test_names_in_any_script_arrive(apart):
    """So do bytes of an old code page that are no text at all."""
    found = apart(
        "strokes, _, _ = Pen().strokes()\nreturn Drawing(strokes, (Group('Stanze ż 線 \\udc80'),), None, None, '')"
    )
    assert found.groups[0].layer == "Stanze ż 線 \udc80"


def test_more_layers_than_anybody_could_map_are_refused(apart):
    body = "strokes, _, _ = Pen().strokes()\nreturn Drawing(strokes, tuple(Group(str(i)) for i in range(10001)), None, None, '')"
    with pytest.raises(InputError, match=r"more than 10,000 layers and colours"):
        apart(body)


def answer(tmp_path: Path, text: object = None, arrays: bytes | None = None, **changes: object) -> Drawing:
    """Read an answer as a process taken over by a file might leave it."""
    said = {
        "pieces": 1, "places": ["p"], "groups": [["a", "", "", "", "", ""]], "unit": "mm", "mm_per_unit": 1.0,
        "unit_source": "", "lengths": [], "left_out": {}, "findings": [],
    }  # fmt: skip
    raw = text if isinstance(text, str) else json.dumps({**said, **changes} if text is None else text)
    (tmp_path / "answer.json").write_text(raw)
    (tmp_path / "arrays.bin").write_bytes(_arrays() if arrays is None else arrays)
    return reader_process._answer(tmp_path, "drawing.dxf")


def _arrays(kind: int = 0, data: float = 1.0, stroke: int = 0, group: int = 0) -> bytes:
    parts = (np.int8([kind]), np.full(8, data), np.int64([stroke]), np.int64([group]))
    return b"".join(part.tobytes() for part in parts)


def test_an_answer_as_it_should_be_is_taken(tmp_path):
    """Else the refusals below would prove nothing."""
    assert answer(tmp_path).strokes.data.tolist() == [[1.0] * 8]


@pytest.mark.parametrize(
    "arrays",
    [
        b"", _arrays()[:-1], _arrays() + b"x", _arrays(kind=9), _arrays(kind=-1), _arrays(data=math.nan),
        _arrays(data=math.inf), _arrays(stroke=1), _arrays(stroke=-1), _arrays(group=1), _arrays(group=-1),
    ],
)  # fmt: skip
def test_arrays_that_are_no_strokes_are_refused(tmp_path, arrays):
    with pytest.raises(FileError, match=r"^drawing\.dxf: the reader's answer can't be used"):
        answer(tmp_path, arrays=arrays)


@pytest.mark.parametrize(
    "changes",
    [
        {"pieces": 10**12}, {"pieces": -1}, {"pieces": 1.0}, {"pieces": True}, {"places": ["p"] * 2}, {"places": [3]},
        {"places": "p"}, {"groups": [["a"]]}, {"groups": [[1] * 6]}, {"groups": [["a"] * 6] * 10_001}, {"unit": 3},
        {"mm_per_unit": -1}, {"mm_per_unit": 0}, {"mm_per_unit": math.nan}, {"mm_per_unit": "x"}, {"lengths": [["a"] * 6 + [-1.0]]},
        {"lengths": [["a"] * 6 + [math.inf]]}, {"left_out": {"a": "many"}}, {"left_out": []},
        {"findings": [["a", "b", "c", "harmless", []]]}, {"findings": [["a", "b", "c", "note", [[1]]]]},
        {"findings": [["a", "b", "c", "note", []]] * 10_001}, {"findings": 3}, {"error": []}, {"error": ["a", "b", "c", 4]},
    ],
    ids=str,
)  # fmt: skip
def test_values_that_no_reader_gives_are_refused(tmp_path, changes):
    with pytest.raises(FileError, match="the reader's answer can't be used"):
        answer(tmp_path, **changes)


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000, "3", "null", "{}", '"error"', "1" * 10_000])
def test_text_that_is_no_answer_is_refused(tmp_path, text):
    with pytest.raises(FileError, match="the reader's answer can't be used"):
        answer(tmp_path, text=text)


def test_an_answer_of_any_length_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(reader_process, "_MAX_TEXT", 1000)
    with pytest.raises(FileError, match="the reader's answer can't be used"):
        answer(tmp_path, places=["p" * 2000])


def test_an_error_can_only_be_one_of_ours(tmp_path):
    """The name of a class that comes from outside is looked up in a list, never in modules."""
    with pytest.raises(FileError, match="w: what; do"):
        answer(tmp_path, text={"error": ["KeyboardInterrupt", "what", "w", "do"]})
