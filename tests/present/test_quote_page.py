"""The pages of a quote: one for the client whatever is in it, and the same bytes for the same content."""

from __future__ import annotations

import io
from dataclasses import replace

import pikepdf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compare.data_files import data_folder
from compare.errors import EvenrunError, InputError
from compare.present.quote_content import quote_content
from compare.present.quote_facts import one_line
from compare.present.quote_internal import internal_page
from compare.present.quote_page import FONTS, MARK, covered, quote_pdf

from .quoted import JOBS, LANGUAGES, asked_of, content_of, unsure_of

POINTS_PER_MM = 72 / 25.4


def _pdf(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data))


def _named(name: str):
    content = content_of("soap_sleeve")
    shown = one_line(name)
    page = replace(content.client, plant=shown, job=shown, client_line=f"for {shown}")
    return replace(content, title=f"Quote: {shown}", client=page)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("job", JOBS)
def test_the_client_gets_one_page(job, language):
    assert len(_pdf(quote_pdf(content_of(job, language))).pages) == 1


@pytest.mark.parametrize(
    "name",
    [
        "W" * 200,
        "Long words " * 18,
        "ש" * 200,
        "شركة الكرتون " * 15,
        "包装" * 100,
        "제지" * 100,
        "ü" * 120,
        "a b " * 50,
    ],
    ids=["one word", "words", "Hebrew", "Arabic", "Chinese", "Korean", "accents", "short words"],
)
def test_names_of_two_hundred_characters_leave_one_page(name):
    assert len(_pdf(quote_pdf(_named(name))).pages) == 1


def test_twelve_run_lengths_and_long_names_leave_one_page():
    """The most that a quote can be asked for."""
    unsure = unsure_of("window_from_drawing")
    runs = tuple(float(run) for run in (500, 1000, 2000, 3000, 4000, 5000, 6000, 8000, 10_000, 20_000, 50_000, 100_000))
    asked = asked_of(unsure, "de", client="Verpackungswerke " * 11, run_lengths=runs)
    content = quote_content(unsure, asked, number="2026-" + "1" * 150)
    content = replace(content, client=replace(content.client, job="Schachtel " * 19, plant="Werk " * 39))
    assert len(content.client.prices) == 12
    assert len(_pdf(quote_pdf(content)).pages) == 1


def test_many_sentences_make_letters_smaller_and_not_a_second_page():
    content = content_of("soap_sleeve")
    page = replace(content.client, sentences=content.client.sentences * 4)
    assert len(_pdf(quote_pdf(replace(content, client=page))).pages) == 1


def test_what_can_not_fit_is_refused_and_never_cut_off():
    content = content_of("soap_sleeve")
    page = replace(content.client, sentences=content.client.sentences * 60)
    with pytest.raises(InputError, match="does not fit on one sheet; shorten names"):
        quote_pdf(replace(content, client=page))


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(max_size=40))
def test_any_name_can_be_set(name):
    """Letters without a glyph, and marks that go with no letter of the same font, may be in no archived file."""
    assert len(_pdf(quote_pdf(_named(name))).pages) == 1


@pytest.mark.parametrize("name", ["Box \N{GRINNING FACE}", "กล่อง", "8\u0e3f\u0348\u0300\u0951"])
def test_characters_without_a_glyph_are_marked_and_the_page_says_so(name):
    content = _named(name)
    pdf = _pdf(quote_pdf(content))
    assert MARK in str(pdf.docinfo["/Title"])


def test_the_fonts_have_every_letter_of_the_four_languages_and_the_scripts_they_are_for():
    for text in ("äöüßÄÖÜéèêçœñ¿áíóúÀÉ€–…×·", "אבגדה", "ابجد", "包装公司", "かなカナ", "한국", "ЖбЯ", "Ωλ"):
        assert [letter for letter in text if ord(letter) not in covered()] == []


def test_every_font_file_stands_with_its_licence():
    folder = data_folder() / "fonts"
    listed = (folder / "README.md").read_text(encoding="utf-8")
    assert all(f"`{file.name}`" in listed for file in folder.glob("*.ttf"))
    assert all((folder / name).is_file() and name in listed for name in ("OFL.txt", "Apache-2.0.txt"))


def test_the_fonts_that_are_named_are_the_ones_that_are_shipped():
    import typst

    shipped = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(data_folder() / "fonts")]
    )
    assert set(FONTS) == set(shipped.families())


def test_the_same_content_gives_the_same_bytes_and_another_day_others():
    content = content_of("soap_sleeve")
    files = {"quote.json": b"{}"}
    first = quote_pdf(content, attachments=files)
    assert quote_pdf(content, attachments=files) == first
    assert quote_pdf(replace(content, made_on=content.made_on.replace(day=29)), attachments=files) != first


def test_a4_and_letter_have_their_sizes():
    a4 = _pdf(quote_pdf(content_of("soap_sleeve")))
    letter = _pdf(quote_pdf(content_of("soap_sleeve", "en", "plant.country=US")))
    assert [float(v) / POINTS_PER_MM for v in a4.pages[0].mediabox][2:] == pytest.approx([210, 297], abs=0.05)
    assert [float(v) / 72 for v in letter.pages[0].mediabox][2:] == pytest.approx([8.5, 11], abs=0.005)


def test_the_plants_own_pages_are_there_only_where_they_were_asked_for():
    unsure, content = unsure_of("soap_sleeve"), content_of("soap_sleeve")
    with_own = _pdf(quote_pdf(content, internal=internal_page(unsure, asked_of(unsure))))
    assert len(with_own.pages) >= 2


@pytest.mark.parametrize("name", ["../quote.json", "a/b.json", "", ".json", "q\nr.json", "x" * 101, "kö.json"])
def test_an_attachment_needs_a_plain_name(name):
    with pytest.raises(InputError, match="attachment"):
        quote_pdf(content_of("soap_sleeve"), attachments={name: b""})


@pytest.mark.parametrize("data", [b"", b"{}", "\ufeffä\r\n\tü\u4e2d".encode(), b"x" * 200_000])
def test_what_is_attached_comes_out_byte_for_byte(data):
    """A digest or a seal over it would not hold otherwise."""
    pdf = _pdf(quote_pdf(content_of("soap_sleeve"), attachments={"quote.json": data}))
    assert bytes(pdf.attachments["quote.json"].get_file().read_bytes()) == data


def test_an_attachment_that_is_no_text_is_refused():
    with pytest.raises(InputError, match="UTF-8"):
        quote_pdf(content_of("soap_sleeve"), attachments={"any.bin": b"\xff\xfe"})


def test_a_page_that_can_not_be_set_is_an_error_of_ours(monkeypatch):
    """Such as a fault of the pen, whose picture is no picture."""
    monkeypatch.setattr("compare.present.quote_page.curve_svg", lambda *_: "<svg")
    with pytest.raises(EvenrunError, match="can't be set"):
        quote_pdf(content_of("soap_sleeve"))
