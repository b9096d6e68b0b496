"""The pages of a quote as PDF: tagged (PDF/UA-1), archived (PDF/A-3), and the same bytes for the same content."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime, time
from functools import lru_cache
from pathlib import Path
from typing import Any

import typst

from compare.data_files import data_folder
from compare.errors import EvenrunError, InputError
from compare.present.look import PALETTES
from compare.present.quote_internal import InternalPage
from compare.present.quote_parts import ClientPage, QuoteContent
from compare.present.quote_shapes import outline_svg, stage_svg
from compare.present.quote_svg import curve_svg
from compare.routes.inventory import STAGES

FONTS = ("Noto Sans", "Noto Sans Hebrew", "Noto Sans Arabic", "Droid Sans Fallback")
"""Families a page is set in, the first that has a character; their files and licences are in data/fonts."""

STANDARDS: list[typst.PDFStandard] = ["a-3a", "ua-1"]

_TEMPLATE = Path(__file__).with_name("templates") / "quote.typ"
_WIDTH = {"a4": 178.0, "us-letter": 183.9}
"""Width between the margins [mm]."""

_OUTLINE, _STAGES_WIDTH = (66.0, 42.0), 82.0
_HEIGHTS = (102.0, 96.0, 90.0, 84.0, 78.0, 72.0, 66.0, 60.0, 54.0, 48.0, 42.0)
"""Heights of the chart to choose from [mm]; the tallest that fits is taken."""

_SCALES = ((1.0, 48.0), (0.94, 48.0), (0.88, 42.0), (0.82, 42.0), (0.76, 42.0))
"""Scales of the text, each with the lowest chart that goes with it."""

_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_MIME = {".json": "application/json", ".toml": "application/toml", ".csv": "text/csv"}
_LATIN = 0x180
"""All letters below are in the first font."""

_TIED = re.compile(r"(?<=\d) (?=(?:[A-Z]{3}|kg|mm|in|g/m2|m2|years?|Jahre?|ans?|años?)\b)|(?<=\d) (?=×)|(?<=×) (?=\d)")
"""Between a number and its unit a line is not broken."""

_UNBROKEN = re.compile(r"[^\s\u200b]{24}(?=[^\s\u200b])")
"""A word as long as this is broken somewhere."""

_NOT_SHOWN = "could not be displayed with font"
"""What the typesetter says of letters that no font has, which no archived or accessible file may hold."""

MARK = "\N{REPLACEMENT CHARACTER}"


def quote_pdf(
    content: QuoteContent, *, internal: InternalPage | None = None, attachments: Mapping[str, bytes] | None = None
) -> bytes:
    """Set a quote as PDF.

    Parameters
    ----------
    content : QuoteContent
        What the client sees, always on one page.
    internal : InternalPage, optional
        What follows on pages of its own. It goes into the same file: leave it out where the file goes to the client.
    attachments : mapping, optional
        File name to text in UTF-8, embedded as associated files that hold the data of the document.

    Returns
    -------
    bytes
        The same for the same arguments.

    Raises
    ------
    InputError
        If an attachment has no plain name or is no text, or the client's page can't be made to fit.
    EvenrunError
        If the page can't be set.
    """
    try:
        return _set(content, internal, attachments or {}, _Shown())
    except typst.TypstError as error:
        if _NOT_SHOWN not in error.message:
            raise _fault(error) from error
    try:  # letters and marks that are each in a font, but not together in one
        return _set(content, internal, attachments or {}, _Shown(marks=False))
    except typst.TypstError as error:
        raise _fault(error) from error


def _fault(error: typst.TypstError) -> EvenrunError:
    if "does not fit" in error.message:
        return InputError(
            "the client's page does not fit on one sheet",
            where="quote",
            remedy="shorten names, or give fewer run lengths",
        )
    return EvenrunError(f"the page can't be set ({error.message})", where="quote")


def _set(
    content: QuoteContent, internal: InternalPage | None, attachments: Mapping[str, bytes], shown: _Shown
) -> bytes:
    steps = [(scale, height) for scale, least in _SCALES for height in _HEIGHTS if height >= least]
    heights = sorted({height for _, height in steps}, reverse=True)
    page = shown.texts(
        {
            "title": content.title,
            "client": _client(content.client),
            "internal": None if internal is None else _internal(internal),
        }
    )
    if shown.replaced:
        page["client"]["notes"].append(content.client.replaced)
    page |= {
        "language": content.language,
        "paper": content.paper,
        "fonts": FONTS,
        "colours": _colours(),
        "outline_width": _OUTLINE[0],
        "stages_width": _STAGES_WIDTH,
        "steps": [{"scale": scale, "chart": heights.index(height)} for scale, height in steps],
        "attached": [_attached(name, n, data) for n, (name, data) in enumerate(attachments.items())],
        "pictures": _pictures(content, internal, heights),
    }
    files = {f"attached/{n}": data for n, data in enumerate(attachments.values())}
    made = typst.compile(  # type: ignore[call-overload]  # several files at once are not in its annotations
        {"main.typ": _TEMPLATE.read_bytes(), **files},
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"quote": json.dumps(page, ensure_ascii=False)},
        pdf_standards=STANDARDS,
        timestamp=datetime.combine(content.made_on, time(), tzinfo=UTC),
    )
    return bytes(made)


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    folder = str(data_folder() / "fonts")
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[folder])


@lru_cache(maxsize=1)
def covered() -> frozenset[int]:
    """Return the characters that the fonts of a page have."""
    from fontTools.ttLib import TTFont  # takes a while to load, and few names need it

    codes: set[int] = set()
    for file in sorted((data_folder() / "fonts").glob("*.ttf")):
        with TTFont(file, lazy=True) as font:
            codes |= font.getBestCmap().keys()
    return frozenset(codes)


class _Shown:
    """Turns texts into what a page can show, and remembers whether anything is missing.

    Parameters
    ----------
    marks : bool
        Whether accents and vowel signs that stand as letters of their own are tried.
    """

    def __init__(self, *, marks: bool = True) -> None:
        self.marks, self.replaced = marks, False

    def texts(self, data: Any) -> Any:
        """Return data whose texts can all be shown."""
        if isinstance(data, str):
            return self.text(data)
        if isinstance(data, Mapping):
            return {key: self.texts(value) for key, value in data.items()}
        return [self.texts(value) for value in data] if isinstance(data, (list, tuple)) else data

    def text(self, text: str) -> str:
        """Return a text with a mark in the place of each character that no font has."""
        composed = unicodedata.normalize("NFC", text)
        if any(ord(letter) >= _LATIN for letter in composed):
            seen = "".join(letter if self._has(letter) else MARK for letter in composed)
            self.replaced |= seen != composed
            composed = seen
        return _UNBROKEN.sub("\\g<0>\u200b", _TIED.sub("\u00a0", composed))

    def _has(self, letter: str) -> bool:
        return ord(letter) in covered() and (self.marks or unicodedata.category(letter)[0] != "M")


def _colours() -> dict[str, str]:
    palette = PALETTES["light"]
    return {name: getattr(palette, name) for name in ("die", "laser", "ink", "quiet", "grid", "ground")}


def _attached(name: str, number: int, data: bytes) -> dict[str, str]:
    if not _PLAIN_NAME.fullmatch(name):
        raise InputError(
            f"'{name}' is no name for an attachment", where="quote", remedy="give letters, digits, dots and dashes"
        )
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        raise InputError(
            "an attachment must be text in UTF-8", where=name, remedy="give it apart from the PDF"
        ) from None
    mime = _MIME.get(Path(name).suffix, "text/plain")
    return {"name": name, "path": f"attached/{number}", "mime": mime, "description": name}


def _client(page: ClientPage) -> dict[str, Any]:
    apart = ("curve", "outline", "facts", "prices", "measures")
    return {
        **{name: value for name, value in vars(page).items() if name not in apart},
        "facts": [asdict(fact) for fact in page.facts],
        "prices": [asdict(row) for row in page.prices],
        "measures": asdict(page.measures),
        "curve": {"title": page.curve.title, "caption": page.curve.caption, "alt": page.curve.chart.summary},
        "outline": None if page.outline is None else {"alt": page.outline.chart.summary},
    }


def _internal(page: InternalPage) -> dict[str, Any]:
    chart = page.stage_picture.chart
    return {**asdict(page), "total_row": len(STAGES), "stage_picture": {"title": chart.title, "alt": chart.summary}}


def _pictures(content: QuoteContent, internal: InternalPage | None, heights: Sequence[float]) -> dict[str, Any]:
    page, style, width = content.client, content.style, _WIDTH[content.paper]
    outline, stages = page.outline, None if internal is None else internal.stage_picture
    return {
        "curves": [curve_svg(page.curve.chart, page.curve.words, width, height, style) for height in heights],
        "outline": outline and outline_svg(outline.chart, outline.legend, outline.sizes, *_OUTLINE),
        "stages": stages and stage_svg(stages.chart, stages.routes, _STAGES_WIDTH, style),
    }
