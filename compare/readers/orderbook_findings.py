"""What a person has to mend in an order book, and how it may leave again as a table."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from unicodedata import category

_FORMULA_STARTS = frozenset("=+-@\t\r\n|%＝＋－＠")
"""Signs that make a spreadsheet take a text for a formula, a command or a field of its own."""


@dataclass(frozen=True, slots=True)
class BookFinding:
    """One remark on an order book.

    Attributes
    ----------
    code : str
        Stable short code, such as ``book.not_a_number``.
    message : str
        What is wrong, in one sentence.
    remedy : str
        What to do about it.
    row : int or None
        Row as a spreadsheet numbers it, the header being row 1; ``None`` where it is about the whole file.
    column : str
        Heading of the column as the file has it; empty where it is about a whole row or file.
    value : str
        What the cell holds.
    waits : bool
        Whether the row (or every row, where there is none) is not computed until this is mended.
    """

    code: str
    message: str
    remedy: str
    row: int | None = None
    column: str = ""
    value: str = ""
    waits: bool = True

    def __post_init__(self) -> None:
        """Keep signs out of the sentences that a terminal would obey; the value stays as it is."""
        object.__setattr__(self, "message", printable(self.message))
        object.__setattr__(self, "remedy", printable(self.remedy))


def printable(text: str) -> str:
    """Return a text with a question mark for each sign that steers a terminal or turns its writing round."""
    if text.isprintable():
        return text
    return "".join("?" if category(c).startswith("C") and c not in "\n\t" else c for c in text)


FINDING_COLUMNS = ("row", "column", "code", "value", "message", "remedy", "waits")
"""Columns of the table of findings."""


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet runs as a formula.

    Parameters
    ----------
    text : str
        Any text, such as one that came in with a file.

    Returns
    -------
    str
        The same text; with an apostrophe before it where it, or what follows its leading spaces,
        starts like a formula. Null characters are left out.
    """
    text = text.replace("\0", "")
    start = text.lstrip(" \u00a0\u202f\u3000\ufeff\v\f")
    return f"'{text}" if start[:1] in _FORMULA_STARTS and start else text


def findings_rows(findings: Iterable[BookFinding]) -> list[tuple[int | str, ...]]:
    """Return findings as rows of :data:`FINDING_COLUMNS`, every text safe for a spreadsheet."""
    return [
        (
            "" if f.row is None else f.row,
            safe_text(f.column),
            f.code,
            safe_text(f.value),
            safe_text(f.message),
            safe_text(f.remedy),
            "yes" if f.waits else "no",
        )
        for f in findings
    ]


def findings_csv(findings: Iterable[BookFinding]) -> str:
    """Return findings as CSV, every text safe for a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(FINDING_COLUMNS)
    writer.writerows(findings_rows(findings))
    return out.getvalue()
