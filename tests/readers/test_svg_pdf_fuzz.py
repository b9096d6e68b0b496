"""Damaged and hostile SVG and PDF files: each gives a drawing or an error of ours, soon, and nothing else.

A thousand files of each format on every run, the same ones every time. More of them, others each time
a number is changed, by

    EVENRUN_FUZZ_FILES=50000 EVENRUN_FUZZ_SEED=7 pytest -m slow tests/readers/test_svg_pdf_fuzz.py
"""

from __future__ import annotations

import io
import os
import random
import re
import time
from collections.abc import Callable, Iterator

import numpy as np
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String

from compare.errors import EvenrunError
from compare.geometry.strokes import Drawing
from compare.readers import pdf_content, svg, svg_shapes
from compare.readers.pdf import read_pdf
from compare.readers.svg import read_svg

SOON = 10.0
"""A file is answered within so many seconds, also on a busy machine; these small ones take some hundredths."""

SVG = b"""<?xml version="1.0"?>
<!DOCTYPE svg [<!ENTITY ns "http://www.w3.org/2000/svg">]>
<!-- a tray -->
<svg xmlns="&ns;" xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:e="urn:editor" width="210mm" height="297mm"
 viewBox="0 0 210 297" preserveAspectRatio="xMidYMid meet">
<style>.cut {stroke: #ff0000; fill: none} g > .crease, #fold {stroke: blue !important; stroke-dasharray: 4 2}</style>
<defs><path id="slot" d="M0 0 h25 v1.5 h-25 z"/><symbol id="hole" viewBox="0 0 10 10"><circle cx="5" cy="5" r="4"/></symbol>
<clipPath id="clip"><rect width="5" height="5"/></clipPath></defs>
<g e:groupmode="layer" e:label="Knife" transform="translate(10 20) rotate(30) scale(1.5,0.8)" class="cut">
<path d="M10 10 L30,10 l5-5 H50 v20 C60 30 70 40 80 30 S90 20 95 30 Q100 40 105 30 T115 30 A20 10 30 0 1 140 50 a5 5 0 11-3 3 Z"/>
<rect x="5" y="5" width="60" height="40" rx="3"/><ellipse cx="5" cy="6" rx="7" ry="8"/><circle r="10%"/>
<polygon points="0,0 30,0 30,40"/><polyline points="1 2 3 4"/><line x1="1mm" y1="2" x2="3in" y2="4"/></g>
<g id="fold" style="stroke:lime;opacity:0.5" visibility="visible"><line class="crease" x2="50" clip-path="url(#clip)"/>
<use href="#slot" x="5"/><use xlink:href="#hole" width="20" height="30"/><g display="none"><line x2="9"/></g></g>
<switch><foreignObject requiredExtensions="x"/><text>A</text></switch>
<svg x="5" y="5" width="50%" height="20" viewBox="0 0 10 10"><line x2="9" stroke="rgb(1,2,3)"/></svg>
</svg>
"""


def _pdf(packed: bool) -> bytes:
    """A page with layers, steps, forms, spot colours and a clip path."""
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(500, 500))
    page = pdf.pages[0].obj

    def layer(name: str, step: str = "") -> Dictionary:
        made = Dictionary(Type=Name.OCG, Name=String(name))
        if step:
            made.GTS_Metadata = Dictionary(GTS_ProcStepsGroup=Name.Structural, GTS_ProcStepsType=Name("/" + step))
        return pdf.make_indirect(made)

    knife, fold, art = layer("Knife", "Cutting"), layer("Knife", "Creasing"), layer("Art")
    member = pdf.make_indirect(Dictionary(Type=Name.OCMD, OCGs=Array([art, fold]), P=Name.AllOn))
    pdf.Root.OCProperties = Dictionary(OCGs=Array([knife, fold, art]), D=Dictionary(OFF=Array([art])))
    blend = Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=[0, 1, 1, 0], N=1)
    spot = Array([Name.Separation, Name.Stanze, Name.DeviceCMYK, blend])
    inner = pdf.make_stream(b"0 0 m 9 9 l S", Subtype=Name.Form, BBox=[0, 0, 99, 99], Matrix=[2, 0, 0, 2, 1, 1])
    form = pdf.make_stream(b"q /I Do Q 1 1 5 5 re s", Subtype=Name.Form, BBox=[0, 0, 99, 99], OC=fold)
    form.Resources = Dictionary(XObject=Dictionary(I=inner))
    page.Resources = Dictionary(
        Properties=Dictionary(A=knife, B=member),
        XObject=Dictionary(F=form),
        ColorSpace=Dictionary(S=spot),
        ExtGState=Dictionary(G=Dictionary(CA=0.5, D=Array([Array([3, 1]), 0]))),
    )
    page.UserUnit = 2
    page.Rotate = 90
    page.Contents = Array(
        [
            pdf.make_stream(b"q 2.83 0 0 2.83 0 0 cm /OC /A BDC 10 10 100 60 re S 1 0 0 RG 5 5 m 9 9 8 8 7 7 c b EMC "),
            pdf.make_stream(
                b"/OC /B BDC [3 2] 0 d /S CS 1 SCN 0 0 m 20 30 l 5 5 9 9 v 8 8 7 7 y h S EMC q 0 0 50 50 re W n"
            ),
            pdf.make_stream(
                b"/G gs /F Do (a (text) here) Tj BI /W 1 /H 1 /BPC 8 ID x EI Q 0 0 9 9 re f 1 1 m 2 2 l S Q"
            ),
        ]
    )
    made = io.BytesIO()
    modes = pikepdf.ObjectStreamMode
    pdf.save(made, compress_streams=packed, object_stream_mode=modes.generate if packed else modes.disable)
    return made.getvalue()


WORDS = [
    b"nan", b"inf", b"-inf", b"1e308", b"-1e999", b"9" * 400, b"1e-320", b"0", b"-0.0", b"00", b"1.2.3", b"--5", b"",
    b"4294967296", b"18446744073709551616", b"%", b"0x10", b"\xff\xfe", b"\x00",
]  # fmt: skip
TEXTS = {
    "svg": [
        b"<g>" * 60, b"</g>", b"<svg>", b"&ns;", b"&none;", b"<!--", b"-->", b"<![CDATA[", b"<use href='#slot'/>", b"url(#clip)",
        b"matrix(", b"scale(0)", b"skewX(90)", b"rotate(1e309)", b'="', b"'", b"M", b"A", b"z", b"<use href='#fold'/>", b"<defs>",
        b"<style>", b"</style>", b"{", b"}", b"!important", b"*", b"A 1e200 1e-200 7 1 0 3 3", b"#slot", b"#hole", b"100%",
    ],
    "pdf": [
        b"q " * 60, b"Q", b"EMC", b"BMC", b"/F Do", b"/I Do", b"<<", b">>", b"[" * 60, b"]", b"(", b")", b"<", b">", b"obj", b"endobj",
        b"stream\n", b"endstream", b"1 0 R", b"2 0 R", b"3 0 R", b"5 0 R", b"xref", b"trailer", b"ID ", b" EI", b"0 0 0 0 0 0 cm",
        b"/Parent", b"/Kids", b"/Length", b"/Contents", b"/Filter /LZWDecode", b"/Filter [/FlateDecode /FlateDecode]",
    ],
}  # fmt: skip
_NUMBER = re.compile(rb"-?\d+\.?\d*")


def mutated(rng: random.Random, whole: bytes, texts: list[bytes]) -> bytes:
    """Damage a file in one to four ways."""
    data = bytearray(whole)
    for _ in range(rng.randint(1, 4)):
        way, at = rng.randrange(8), rng.randrange(max(len(data), 1))
        if way == 0 and data:  # a byte
            data[at] = rng.randrange(256)
        elif way == 1 and data:  # a bit
            data[at] ^= 1 << rng.randrange(8)
        elif way == 2:  # a piece is lost
            del data[at : at + rng.randint(1, 80)]
        elif way == 3:  # a piece is there twice
            data[at:at] = data[at : at + rng.randint(1, 200)]
        elif way == 4:  # the end is lost
            del data[at:]
        elif way in (5, 6):  # a number that nobody expects
            numbers = list(_NUMBER.finditer(bytes(data)))
            if numbers:
                chosen = rng.choice(numbers)
                data[chosen.start() : chosen.end()] = rng.choice(WORDS)
        else:  # a word of the format where it does not belong
            data[at:at] = rng.choice(texts)
    return bytes(data)


@pytest.fixture
def answered(tmp_path, monkeypatch) -> Callable[..., str]:
    """Read a file and check the answer; limits are low, so that what runs away is stopped early."""
    monkeypatch.setattr(svg, "MOST_ELEMENTS", 20_000)
    monkeypatch.setattr(svg_shapes, "MOST_PIECES", 20_000)
    monkeypatch.setattr(pdf_content, "MOST_PIECES", 20_000)
    monkeypatch.setattr(pdf_content, "MOST_FORMS", 1_000)

    def read(reader: Callable[..., Drawing], content: bytes, case: object) -> str:
        path = tmp_path / "tray"
        path.write_bytes(content)
        begin = time.perf_counter()
        drawing, error = None, ""
        try:
            drawing = reader(path)
        except EvenrunError as refused:
            error = str(refused)
        if drawing is None:
            assert error, case
            assert str(tmp_path) not in error, case
            answer = "error"
        else:
            assert np.isfinite(drawing.strokes.data).all(), case
            assert len(drawing.strokes.place) == len(drawing.strokes.group), case
            assert all(found.code.startswith("drawing.") and found.message for found in drawing.findings), case
            assert str(tmp_path) not in repr(drawing.findings), case
            answer = "drawing" if len(drawing.strokes) else "nothing"
        assert time.perf_counter() - begin < SOON, case
        return answer

    return read


FILES = {
    "svg": (read_svg, lambda: [SVG], TEXTS["svg"]),
    "pdf": (read_pdf, lambda: [_pdf(False), _pdf(True)], TEXTS["pdf"]),
}


def _damaged(kind: str, count: int, seed: int) -> Iterator[tuple[int, bytes]]:
    """Files of a kind, each by a number that makes it again."""
    _, make, texts = FILES[kind]
    whole = make()
    for n in range(count):
        rng = random.Random(f"{seed} {n}")  # noqa: S311 - repeatable, nothing secret
        yield n, mutated(rng, whole[n % len(whole)], texts)


@pytest.mark.parametrize("kind", ["svg", "pdf"])
def test_the_files_to_damage_are_sound(answered, kind):
    """Otherwise the damaged ones would try nothing but the first check."""
    reader, make, _ = FILES[kind]
    for content in make():
        assert answered(reader, content, "whole") == "drawing"


@pytest.mark.parametrize("kind", ["svg", "pdf"])
def test_a_thousand_damaged_files_give_a_drawing_or_an_error(answered, kind):
    """Both kinds of answer come often, so that both ways out are tried."""
    reader = FILES[kind][0]
    answers = [answered(reader, content, n) for n, content in _damaged(kind, 1000, seed=4)]
    assert answers.count("error") > 20
    assert answers.count("drawing") > 300


@pytest.mark.slow
@pytest.mark.skipif("EVENRUN_FUZZ_FILES" not in os.environ, reason="EVENRUN_FUZZ_FILES says how many files")
@pytest.mark.parametrize("kind", ["svg", "pdf"])
def test_many_damaged_files_give_a_drawing_or_an_error(answered, kind):
    """The longer run; the command stands at the top."""
    seed = int(os.environ.get("EVENRUN_FUZZ_SEED", "1"))
    for n, content in _damaged(kind, int(os.environ["EVENRUN_FUZZ_FILES"]), seed):
        answered(FILES[kind][0], content, (seed, n))


@pytest.mark.parametrize("kind", ["svg", "pdf"])
def test_a_file_cut_off_anywhere_gives_a_drawing_or_an_error(answered, kind):
    """A file of some 20 kB, cut at every kilobyte, and at every byte of its last hundred."""
    reader = FILES[kind][0]
    if kind == "svg":
        lines = b"".join(b'<path d="M%d 0 L%d 40 A5 5 0 0 1 9 9" stroke="red"/>\n' % (n, n) for n in range(350))
        content = SVG.replace(b"</svg>\n</svg>", b"</svg>" + lines + b"</svg>")
    else:
        pdf = pikepdf.open(io.BytesIO(_pdf(False)))
        pdf.pages[0].obj.Contents = pdf.make_stream(b"".join(b"%d 0 m %d 40 l S\n" % (n, n) for n in range(900)))
        made = io.BytesIO()
        pdf.save(made, compress_streams=False)
        content = made.getvalue()
    assert len(content) > 18_000
    for end in (*range(0, len(content), 1000), *range(len(content) - 100, len(content))):
        answered(reader, content[:end], end)


@pytest.mark.parametrize("reader", [read_svg, read_pdf])
@pytest.mark.parametrize("head", [b"", b"<svg xmlns='http://www.w3.org/2000/svg'>", b"%PDF-1.7\n"])
def test_garbage_gives_an_error_or_an_empty_drawing(answered, reader, head):
    garbage = random.Random(2).randbytes(300_000)  # noqa: S311 - repeatable, nothing secret
    assert answered(reader, head + garbage, head) in ("error", "nothing")


@pytest.mark.parametrize(
    "nested",
    [b"<</A" * 100_000, b"[" * 300_000, b"1 0 obj\n<</Kids[1 0 R]>>\n" * 10_000, b"<</Length 1 0 R>>stream\n" * 10_000],
)
def test_objects_nested_without_end_give_an_error(answered, nested):
    """The library's parser has a limit of its own; what it says must come out as an error of ours."""
    tail = b"\nendobj\ntrailer<</Root 1 0 R>>\n%%EOF"
    assert answered(read_pdf, b"%PDF-1.7\n1 0 obj\n" + nested + tail, nested[:9]) == "error"
