"""What a layer is called, in plain words of the trade: which kind of line it may be.

The words are a table of data, in seven languages. They make offers that a user confirms, and never
a kind by themselves.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from compare.data_files import read_table
from compare.geometry.line_kinds import LineKind, line_kind
from compare.geometry.strokes import Group

_NAME_READ = 200
"""Suggestions look at this many characters of a name; a longer one is no name."""

_LANGUAGES = {
    "de": "German", "en": "English", "es": "Spanish", "fr": "French", "it": "Italian", "nl": "Dutch", "pl": "Polish",
}  # fmt: skip

_NO_ACCENT = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "æ": "ae", "œ": "oe"})
"""Letters that no decomposition takes apart."""


class Suggestion(NamedTuple):
    """A kind of line offered for confirmation, and why."""

    kind: LineKind
    reason: str


class _Word(NamedTuple):
    pattern: re.Pattern[str]
    kind: LineKind
    language: str
    alone: bool


@cache
def _words() -> tuple[_Word, ...]:
    words = []
    for row in read_table("line_words.csv"):
        body = " ?".join(map(re.escape, row["word"].split()))
        before = "" if row["match"] == "part" else r"(?<![^ ])"
        after = r"(?![^ ])" if row["match"] == "word" else ""
        kind = line_kind(row["kind"], where="line_words.csv")
        words.append(_Word(re.compile(before + body + after), kind, row["language"], row["alone"] == "yes"))
    return tuple(words)


def _folded(text: str) -> str:
    """Fold a name to small letters without accents, its words apart."""
    apart = re.sub(r"(?<=[^\W\d_A-Z])(?=[A-Z])", " ", unicodedata.normalize("NFC", text[:_NAME_READ]))
    plain = unicodedata.normalize("NFKD", apart.casefold().translate(_NO_ACCENT))
    letters = "".join(c for c in plain if not unicodedata.combining(c))
    return " ".join(re.findall(r"[^\W\d_]+", letters))


def suggest(groups: Sequence[Group]) -> tuple[Suggestion | None, ...]:
    """Offer a kind for each group of lines, for a user to confirm.

    Parameters
    ----------
    groups : sequence of Group
        Groups of a drawing.

    Returns
    -------
    tuple of Suggestion or None
        None where the names say nothing, or say two things.

    Notes
    -----
    Words of the trade in seven languages are looked for in the names of layer, line type and step;
    a word inside a longer known one does not count. A word for the whole die, cuts and creases
    alike, is passed over where its layer is drawn in several colours or line types. Colours say
    nothing: every house has its own.
    """
    layers = Counter(_folded(group.layer) for group in groups)
    return tuple(_offer(group, alone=layers[_folded(group.layer)] == 1) for group in groups)


def _offer(group: Group, *, alone: bool) -> Suggestion | None:
    if offer := _steps_on_offer().get((group.step_group, group.step_type)):
        return offer
    hits: dict[LineKind, list[tuple[str, str]]] = {}
    for text in dict.fromkeys((group.layer, group.linetype, group.step_type)):
        for word, found in _hits(_folded(text)):
            if alone or not word.alone:
                hits.setdefault(word.kind, []).append((found, word.language))
    if len(hits) != 1:
        return None
    ((kind, said),) = hits.items()
    found = said[0][0]
    languages = sorted({_LANGUAGES[language] for text, language in said if text == found})
    return Suggestion(kind, f"'{found}' in the name ({', '.join(languages)})")


def _hits(name: str) -> list[tuple[_Word, str]]:
    """Return the known words in a folded name, without those inside a longer one."""
    spans = [(word, match.start(), match.end()) for word in _words() for match in word.pattern.finditer(name)]
    return [
        (word, name[low:high])
        for word, low, high in spans
        if not any(a <= low and high <= b and b - a > high - low for _, a, b in spans)
    ]


@cache
def _steps_on_offer() -> dict[tuple[str, str], Suggestion]:
    """Return the processing steps that may mean two things to a cost, and so are not mapped by themselves."""
    return {
        (row["group"], row["type"]): Suggestion(line_kind(row["kind"], where="processing_steps.csv"), row["note"])
        for row in read_table("processing_steps.csv")
        if row["sure"] != "yes"
    }
