"""Formulas of a workbook that no spreadsheet has worked out yet: their cells look empty, and are not."""

from __future__ import annotations

import re
import zipfile
from collections import defaultdict
from xml.etree.ElementTree import iterparse

_COORDINATE = re.compile(r"([A-Z]{1,3})(\d{1,7})$")


def formulas_without_result(archive: zipfile.ZipFile, member: str) -> dict[int, list[tuple[int, str]]]:
    """Find formulas that no result is stored for; programs that only write a workbook leave them so.

    Parameters
    ----------
    archive : ZipFile
        The workbook; parts that declare entities must have been refused.
    member : str
        Its sheet.

    Returns
    -------
    dict
        Row, as a spreadsheet numbers it, to places (from 0) and formulas.
    """
    found: dict[int, list[tuple[int, str]]] = defaultdict(list)
    row = place = 0
    with archive.open(member) as part:
        for event, element in iterparse(part, events=("start", "end")):  # noqa: S314 - entities are refused before
            kind = element.tag.rpartition("}")[2]
            if event == "start":
                if kind == "row":
                    row, place = int(element.get("r") or row + 1), 0
                continue
            if kind == "c":
                if named := _COORDINATE.match(element.get("r") or ""):
                    row, place = int(named[2]), _number(named[1])
                else:
                    place += 1
                parts = {child.tag.rpartition("}")[2]: child.text for child in element}
                # a result that is an empty text says so by its type
                if "f" in parts and not parts.get("v") and element.get("t") != "str":
                    found[row].append((place - 1, f"={parts['f'] or ''}"))
            elif kind == "row":
                element.clear()
    return dict(found)


def _number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number
