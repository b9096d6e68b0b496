"""Read the stroked lines of a PDF page: by optional content group, processing step, spot colour and dash.

A processing step of ISO 19593-1 is two names in the dictionary of an optional content group; they are
carried on as the file has them. Groups are told apart by their dictionary, for names are free text
and two may be alike. A line in no group is named after its spot colour, else after nothing: what it
is for is the user's to say, never guessed.

Layers that the file switches off are read like the others, with a finding for each. Die lines are
kept switched off, or not printing, in many a print file so that they don't get onto the plate; to
leave them out would leave the estimator with an empty drawing. It can't add a line in silence,
because a layer counts for nothing until it is mapped or carries a step.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pikepdf
from pikepdf import settings

from compare.errors import EvenrunError, FileError, Finding, InputError
from compare.geometry.strokes import Drawing
from compare.readers.pdf_content import MOST_BYTES, Box, Content, box_under
from compare.readers.pdf_layers import Layers, get, items, number_of, numbers_of
from compare.readers.svg_scale import MM_PER_UNIT, Affine

MOST_FILE_BYTES, MOST_PAGES = 256_000_000, 20

# bounds of the library, for the whole process: a small stream must not unpack to fill the memory
settings.set_qpdf_limits(
    flate_max_memory=MOST_BYTES,
    run_length_max_memory=MOST_BYTES,
    png_max_memory=MOST_BYTES,
    tiff_max_memory=MOST_BYTES,
    doc_max_warnings=1000,
)


def read_pdf(path: str | Path, *, unit: str | None = None) -> Drawing:
    """Read the first page of a PDF file that strokes any line.

    Parameters
    ----------
    path : str or Path
    unit : str, optional
        What one unit of the page is, over what the format says: ``mm``, ``cm``, ``m``, ``in``, ``ft``,
        ``pt``. For pages that were not drawn to scale.

    Returns
    -------
    Drawing
        In points, or the unit stated; the page upright, its lower left corner at the origin.

    Raises
    ------
    FileError
        The file can't be read, is locked by a password, or is no PDF.
    InputError
        The unit is unknown, or the page is beyond the limits.
    """
    path = Path(path)
    if unit is not None and unit not in MM_PER_UNIT:
        raise InputError(f"there is no unit '{unit}'", where="unit", remedy=f"use {', '.join(MM_PER_UNIT)}")
    _check(path)
    try:
        with pikepdf.open(path) as pdf:
            return _read(pdf, path, unit)
    except pikepdf.PasswordError:
        raise FileError("the file is locked by a password", where=path.name, remedy="save it without one") from None
    except EvenrunError:
        raise
    # the library raises a ValueError where a number is too large for it
    except (pikepdf.PdfError, ValueError, RuntimeError) as error:
        what = f"the file is damaged beyond reading ({_told(error, path)})"
        raise FileError(what, where=path.name, remedy="save it again from the program it is from") from None


def _check(path: Path) -> None:
    """Refuse what is no PDF or too large to be one of die lines."""
    try:
        with path.open("rb") as file:
            head = file.read(1024)
            size = file.seek(0, 2)
    except OSError as error:
        raise FileError(f"can't be read ({error.strerror})", where=str(path)) from None
    if b"%PDF-" not in head:
        raise FileError("this is no PDF file", where=path.name, remedy="save the drawing as PDF, SVG or DXF")
    if size > MOST_FILE_BYTES:
        what = f"the file holds more than {MOST_FILE_BYTES // 1_000_000} MB"
        raise FileError(what, where=path.name, remedy="save the die lines alone")


def _told(error: object, path: Path) -> str:
    """Return what the library says, without the place of the file on this machine."""
    return " ".join(str(error).replace(str(path), path.name).split())[:200]


def _read(pdf: pikepdf.Pdf, path: Path, unit: str | None) -> Drawing:
    """Read the first page with lines, else the first."""
    layers = Layers(pdf.Root)
    pages = len(pdf.pages)
    chosen: tuple[Content, int, float] | None = None
    for number in range(1, min(pages, MOST_PAGES) + 1):
        content, user_unit = _run(pdf.pages[number - 1].obj, layers, path.name, number, unit)
        if chosen is None or content.pen.drawn:
            chosen = content, number, user_unit
        if content.pen.drawn:
            break
    if chosen is None:
        raise FileError("the file has no page", where=path.name, remedy="save it again from the program it is from")
    content, number, user_unit = chosen
    strokes, groups, broken = content.pen.strokes()
    findings = _findings(content, path.name, broken)
    if pages > 1:
        message = f"the file has {pages} pages; page {number} was read, being the first with lines"
        if not len(strokes):
            message = f"the file has {pages} pages; the first {min(pages, MOST_PAGES)} hold no lines"
        findings.insert(0, Finding("drawing.pages", message, path.name, "caution"))
    warnings = pdf.get_warnings()
    if warnings:
        message = f"the file is damaged and was repaired, so check that no line is missing: {_told(warnings[0], path)}"
        findings.insert(0, Finding("drawing.repaired", message, path.name, "caution"))
    if not len(strokes):
        seen = ", ".join(f"{n} {what}" for what, n in sorted(content.pen.left_out.items())) or "nothing else"
        findings.append(Finding("drawing.no_lines", f"no stroked line is drawn, but {seen}", path.name, "caution"))
    source = "PDF: points of 1/72 inch" + (f" times the UserUnit {user_unit:g} of the page" if user_unit != 1 else "")
    return Drawing(
        strokes,
        groups,
        unit or "pt",
        MM_PER_UNIT[unit or "pt"],
        f"stated: one unit of the page is 1 {unit}" if unit else source,
        left_out=dict(content.pen.left_out),
        findings=tuple(findings),
    )


def _run(page: Any, layers: Layers, name: str, number: int, unit: str | None) -> tuple[Content, float]:
    """Run the content of a page; return it with the page's unit."""
    user_unit = number_of(get(page, "/UserUnit"), 1.0)
    user_unit = user_unit if unit is None and 0 < user_unit < math.inf else 1.0
    content = Content(layers, name, number)
    matrix, clip = _placed(page, user_unit)
    if annotations := sum(1 for _ in items(get(page, "/Annots"))):
        content.pen.left_out["annotation"] = annotations
    content.run(get(page, "/Contents"), _inherited(page, "/Resources"), matrix, clip)
    return content, user_unit


def _inherited(page: Any, key: str) -> Any:
    """Return an entry of a page or of the nodes above it; a loop among those ends the search."""
    node = page
    for _ in range(64):
        found = get(node, key)
        if found is not None or node is None:
            return found
        node = get(node, "/Parent")
    return None


def _placed(page: Any, scale: float) -> tuple[Affine, Box]:
    """Return the map that puts the page upright at the origin, and the box of what is visible in it."""
    boxes = [numbers_of(_inherited(page, key)) for key in ("/CropBox", "/MediaBox")]
    corners = next((box for box in boxes if len(box) == 4 and box[0] != box[2] and box[1] != box[3]), None)
    if corners is None:
        return (scale, 0, 0, scale, 0, 0), (-math.inf, -math.inf, math.inf, math.inf)
    x0, x1 = sorted(corners[::2])
    y0, y1 = sorted(corners[1::2])
    s = scale
    turned: dict[float, Affine] = {
        0: (s, 0, 0, s, -x0 * s, -y0 * s),
        90: (0, -s, s, 0, -y0 * s, x1 * s),
        180: (-s, 0, 0, -s, x1 * s, y1 * s),
        270: (0, s, -s, 0, y1 * s, -x0 * s),
    }
    matrix = turned.get(number_of(_inherited(page, "/Rotate"), 0) % 360, turned[0])
    return matrix, box_under(corners, matrix)


def _findings(content: Content, name: str, broken: list[str]) -> list[Finding]:
    """Return the remarks on a page."""
    found, notes = [], content.notes

    def note(code: str, message: str, where: str = name) -> None:
        found.append(Finding(code, message, where, "caution"))

    for layer, number in content.off.items():
        step = f", but is the step {layer.step_group} {layer.step_type}".rstrip() if layer.step_group else ""
        does = "it counts" if step else "it is offered for mapping like any other"
        note("drawing.hidden", f"the layer is switched off in the file{step}; {does} ({number} strokes)", layer.name)
    if notes["clipped"]:
        note("drawing.clipped", f"{notes['clipped']} paths reach beyond what is visible of them; they count whole")
    if broken or notes["broken"]:
        more = f", in {', '.join(broken[:5])}" if broken else ""
        note("drawing.broken_numbers", f"{len(broken) + notes['broken']} commands can't be read and are left out{more}")
    if notes["broken stream"]:
        message = "a part of the page is damaged and was read up to the damage; check that no line is missing"
        note("drawing.broken_stream", message)
    if notes["missing"]:
        note("drawing.missing", f"{notes['missing']} parts that the page refers to are not in the file")
    if notes["loop"]:
        note("drawing.loop", f"{notes['loop']} forms draw themselves; they are left out")
    left = {what: n for what, n in sorted(content.pen.left_out.items()) if n}
    if left:
        message = "left out, being no lines to run: " + ", ".join(f"{what} ({n:,})" for what, n in left.items())
        found.append(Finding("drawing.left_out", message, name))
    return found
