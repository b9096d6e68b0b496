"""A quote's PDF, read by other programs than the one that wrote it.

Sources:

- Tagged structure, ``MarkInfo``, ``Lang``, ``Title`` with ``DisplayDocTitle``, ``Alt`` of figures, ``TH`` of tables, no
  level of heading skipped: ISO 14289-1 (PDF/UA-1), from memory; its identification in the metadata: published by the PDF
  Association, "PDF/UA in a Nutshell".
- ``AF`` with ``AFRelationship`` and ``Subtype`` of embedded files, output intent, embedded fonts: ISO 19005-3 (PDF/A-3),
  from memory; values of ``AFRelationship``: published in Library of Congress, format description fdd000360.
- Text and pictures of a page: Poppler's pdftotext, pdffonts and pdftoppm.
"""

from __future__ import annotations

import io
import itertools
import re
import shutil
import subprocess
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pikepdf
import pytest

from compare.present.numbers import NumberStyle, figures, whole
from compare.present.quote_content import quote_content
from compare.present.quote_internal import internal_page
from compare.present.quote_page import quote_pdf
from compare.present.quote_parts import ClientPage
from tests.present.quoted import LANGUAGES, asked_of, content_of, texts_of, unsure_of

pytestmark = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="Poppler's tools are not on this machine")

ATTACHED = {"evenrun-quote.json": b'{"number":"2026-000123"}'}
NASTY = "#eval(1) *x* $1$ <script>alert(1)</script> `y` \\textbf{z} @ref // --"


def _run(*command: object) -> str:
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, encoding="utf-8", check=True)
    assert done.stderr == ""
    return done.stdout


def _plain(text: str) -> str:
    """Return a text without line breaks, ties and the places where a long word may be broken."""
    return " ".join(unicodedata.normalize("NFKC", text.replace("\u200b", "").replace("\f", " ")).split())


def _text(path: Path, *options: str) -> str:
    return _plain(_run("pdftotext", *options, path, "-"))


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> dict[str, Path]:
    """The PDFs of one job: for the client in four languages, and with the plant's own pages."""
    folder = tmp_path_factory.mktemp("quotes")
    unsure = unsure_of("soap_sleeve")
    files = {language: quote_pdf(content_of("soap_sleeve", language), attachments=ATTACHED) for language in LANGUAGES}
    files["internal"] = quote_pdf(
        content_of("soap_sleeve"), internal=internal_page(unsure, asked_of(unsure)), attachments=ATTACHED
    )
    paths = {}
    for name, data in files.items():
        paths[name] = folder / f"{name}.pdf"
        paths[name].write_bytes(data)
    return paths


def _words_of_tree(node: object) -> Iterator[pikepdf.Dictionary]:
    if isinstance(node, pikepdf.Array):
        for one in node:
            yield from _words_of_tree(one)
    elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
        yield node
        if "/K" in node:
            yield from _words_of_tree(node.K)
    elif isinstance(node, pikepdf.Dictionary) and "/K" in node:
        yield from _words_of_tree(node.K)


def _elements(pdf: pikepdf.Pdf) -> list[pikepdf.Dictionary]:
    return list(_words_of_tree(pdf.Root.StructTreeRoot.K))


# -- what stands on the page ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_pdftotext_finds_every_price_and_every_figure(written, language):
    content = content_of("soap_sleeve", language)
    page, text = content.client, _text(written[language])
    shown = [row.run for row in page.prices] + [price for row in page.prices for price in (row.die, row.laser)]
    shown += [cell for row in page.measures.rows for cell in row]
    assert [figure for figure in shown if _plain(figure) not in text] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_pdftotext_finds_every_sentence_as_it_is_on_screen(written, language):
    page: ClientPage = content_of("soap_sleeve", language).client
    text = _text(written[language])
    said = [page.answer, *page.sentences, *page.not_included, *page.cautions, *(fact.text for fact in page.facts)]
    said += [page.job, page.client_line, page.number_line, page.dates, page.estimate, *page.measure_notes[:2]]
    assert [sentence for sentence in said if _plain(sentence) not in text] == []


def test_pdftotext_finds_the_figures_of_the_record(written):
    """What the JSON of the comparison says, times the price factor where it is money."""
    c, text = unsure_of("soap_sleeve").comparison, _text(written["internal"])
    for route in (c.die, c.laser):
        for value in (
            route.cost_per_1000,
            *route.stage_cost_per_1000().values(),
            route.co2e_per_1000,
            route.waste_per_1000,
            float(route.inventory.machine_hours),
        ):
            assert figures(value) in text
    assert f"{whole(float(c.break_even['cost'].run_length))}" in text


def test_the_chart_is_text_and_lines_and_no_picture_of_pixels(written):
    text = _text(written["en"])
    for label in ("6,000 quoted", "laser cheaper", "die cheaper from 38,179", "Run length, cartons per order"):
        assert label in text
    assert _run("pdfimages", "-list", written["en"]).strip().splitlines()[2:] == []


def test_the_clients_file_holds_no_cost_anywhere(written):
    """Neither on the page nor in titles, alternative texts and attached files."""
    c = unsure_of("soap_sleeve").comparison
    with pikepdf.open(written["en"]) as pdf:
        hidden = [str(pdf.open_metadata()), *map(str, pdf.docinfo.values())]
        hidden += [str(e.Alt) for e in _elements(pdf) if "/Alt" in e]
        streams = [obj.read_bytes() for obj in pdf.objects if isinstance(obj, pikepdf.Stream) and "/Filter" not in obj]
    everything = " ".join([_text(written["en"]), *hidden]) + " ".join(s.decode("latin-1") for s in streams)
    prices = {p for row in content_of("soap_sleeve").client.prices for p in (row.die, row.laser)}
    for cost in {figures(c.die.cost_per_1000), figures(c.laser.cost_per_1000)} - prices:
        assert not re.search(rf"(?<![\d.,]){re.escape(cost)}(?![\d])", everything)
    assert not re.search(r"37\s?%|0\.37\b", everything)


def test_markup_and_script_in_names_print_literally(tmp_path):
    unsure = unsure_of("soap_sleeve")
    content = quote_content(unsure, asked_of(unsure, client=NASTY), number="#x")
    path = tmp_path / "nasty.pdf"
    path.write_bytes(quote_pdf(content))
    assert _plain(f"for {NASTY}") in _text(path)
    assert "Quote #x" in _text(path)


@pytest.mark.parametrize(
    ("name", "letters"),
    [
        ("קרטון שלום", "שלום"),
        ("شركة مرحبا", "مرحبا"),
        ("包装印刷公司", "包装印刷公司"),
        ("パッケージ", "パッケージ"),
        ("제지회사", "제지회사"),
    ],
)
def test_names_of_other_scripts_are_on_the_page_in_letters_of_the_shipped_fonts(tmp_path, name, letters):
    path = tmp_path / "name.pdf"
    path.write_bytes(quote_pdf(content_of("soap_sleeve", "en", client=name)))
    assert letters in _text(path)
    fonts = _run("pdffonts", path).splitlines()[2:]
    assert {re.sub(r"^\w+\+", "", line.split()[0]).split("-")[0] for line in fonts} <= {
        "NotoSans", "NotoSansHebrew", "NotoSansArabic", "DroidSansFallback",
    }  # fmt: skip
    assert all(line.split()[-5:-2] == ["yes", "yes", "yes"] for line in fonts)


# -- what readers of the file are told --------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_file_says_its_language_its_title_and_that_it_is_tagged(written, language):
    with pikepdf.open(written[language]) as pdf:
        root = pdf.Root
        assert str(root.Lang) == language
        assert root.MarkInfo.Marked
        assert root.ViewerPreferences.DisplayDocTitle
        title = content_of("soap_sleeve", language).title
        assert _plain(str(pdf.docinfo["/Title"])) == _plain(title)
        assert _plain(pdf.open_metadata()["dc:title"]) == _plain(title)


def test_the_file_claims_both_standards_and_has_an_output_intent(written):
    with pikepdf.open(written["en"]) as pdf:
        meta = pdf.open_metadata()
        assert (meta["pdfaid:part"], meta["pdfaid:conformance"]) == ("3", "A")
        assert meta["pdfuaid:part"] == "1"
        assert pdf.Root.OutputIntents[0].S == "/GTS_PDFA1"
        assert "/DestOutputProfile" in pdf.Root.OutputIntents[0]


@pytest.mark.parametrize("name", ["en", "de", "internal"])
def test_every_figure_has_words_and_every_table_has_heads(written, name):
    with pikepdf.open(written[name]) as pdf:
        elements = _elements(pdf)
        pictures = [e for e in elements if e.S == "/Figure"]
        assert len(pictures) == (3 if name == "internal" else 2)
        assert all(len(str(e.Alt)) > 20 for e in pictures)
        tables = [e for e in elements if e.S == "/Table"]
        assert len(tables) >= 2
        for table in tables:
            assert any(e.S == "/TH" for e in _words_of_tree(table.K))


@pytest.mark.parametrize("name", ["en", "internal"])
def test_no_level_of_heading_is_skipped(written, name):
    with pikepdf.open(written[name]) as pdf:
        levels = [int(str(e.S)[2:]) for e in _elements(pdf) if re.fullmatch(r"/H\d", str(e.S))]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_what_is_attached_is_a_file_that_belongs_to_the_document(written):
    with pikepdf.open(written["en"]) as pdf:
        (file,) = pdf.Root.AF
        assert file.AFRelationship == "/Data"
        assert str(file.UF) == "evenrun-quote.json"
        assert file.EF.F.Subtype == "/application/json"
        assert bytes(file.EF.F.read_bytes()) == ATTACHED["evenrun-quote.json"]
        assert list(pdf.attachments) == ["evenrun-quote.json"]


def test_two_renders_are_byte_identical(written):
    again = quote_pdf(content_of("soap_sleeve"), attachments=ATTACHED)
    assert written["en"].read_bytes() == again


def test_the_date_of_the_file_is_the_day_of_the_quote(written):
    with pikepdf.open(written["en"]) as pdf:
        assert str(pdf.docinfo["/CreationDate"]) == "D:20261130000000Z"


def test_the_page_can_be_rendered_and_is_filled_to_its_foot(written, tmp_path):
    """A page that is half empty, or blank, would be a fault of the layout that no text shows."""
    _run("pdftoppm", "-r", "36", "-gray", written["en"], tmp_path / "page")
    (picture,) = tmp_path.glob("page*.pgm")
    head, raw = _pgm(picture.read_bytes())
    width, height = head
    rows = [raw[k * width : (k + 1) * width] for k in range(height)]
    inked = [k for k, row in enumerate(rows) if min(row) < 200]
    assert inked[0] < 0.08 * height
    assert inked[-1] > 0.95 * height
    gaps = [after - before for before, after in itertools.pairwise(inked)]
    assert max(gaps) < 0.06 * height


def _pgm(data: bytes) -> tuple[tuple[int, int], bytes]:
    stream = io.BytesIO(data)
    assert stream.readline().strip() == b"P5"
    width, height = map(int, stream.readline().split())
    stream.readline()
    return (width, height), stream.read()


def test_numbers_are_written_as_the_language_does(written):
    assert "38.179" in _text(written["de"])
    assert NumberStyle(",", ".").write("68.2") == "68,2"
    assert "1 000 000" in _text(written["fr"])


def test_no_text_of_the_page_is_lost_between_content_and_paper(written):
    """Every text of the client's page but labels of alternatives is found again."""
    text = _text(written["en"])
    page = content_of("soap_sleeve").client
    left = {page.replaced, page.page, page.no_outline, page.currency}
    skipped = {"laser", "die", ""}
    parts = [
        t for name, value in vars(page).items() if name not in ("curve", "outline", "prices") for t in texts_of(value)
    ]
    assert [part for part in parts if part not in left | skipped and _plain(part) not in text] == []
