"""The gate for words about the environment: what a quote must not claim, in the languages that it speaks.

A word is found whatever its capitals, accents and hyphens, and only as a word: "economic" holds no "eco". What no list
can find is a claim against a competitor by name, or a relation put into other words ("half as much"); people must.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from compare.data_files import read_table
from compare.errors import InputError

REASONS = {
    "offsets": "neutral, reduced or positive impact is claimed, as offsets would be needed for",
    "generic": "it is generic and can't be shown to be true",
    "sustainable": "nobody can measure it",
    "zero": "there is always some waste",
    "pictures": "nothing in the figures counts it",
    "percentage": "the range of the difference holds zero",
}
"""Why a claim is not made, by the reason of its row."""

_APART = re.compile(r"[\s\-\u2010-\u2015_/'\u2019]+")
_PERCENT = re.compile(
    r"\d[\d.,]*[\s\u00a0\u202f]*[%\u066a\uff05\u2030]|\b(?:per ?cent|percent\w*|prozent\w*|pour cent|por ciento)\b"
)
_BETWEEN = r"(?:\S+ ){0,3}?"
"""What ``~`` stands for: up to three words."""

PERCENT_SOURCE = "ISO 14044, 4.5: conclusions no further than the uncertainty of the results carries (from memory)"


class ClaimError(InputError):
    """A text makes a claim that its figures don't carry."""


@dataclass(frozen=True)
class Claim:
    """A claim found in a text.

    Attributes
    ----------
    words : str
        The words as they stand in the text, in small letters and without accents.
    language : str
        Language or languages of the row, such as ``en``.
    reason : str
        Why it is not made: a key of :data:`REASONS`.
    source : str
        Where that is from.
    """

    words: str
    language: str
    reason: str
    source: str


def checked(text: str, *, range_contains_zero: bool = False) -> str:
    """Return a text about the environment if it claims nothing that its figures don't carry.

    Parameters
    ----------
    text : str
        Text in any of the languages.
    range_contains_zero : bool
        Whether the range of the difference that it speaks of holds zero; it may give no percentage then.

    Raises
    ------
    ClaimError
        If it holds a word of the list, or a percentage it may not have.
    """
    found = claims_in(text)
    if range_contains_zero and (percent := _PERCENT.search(plainly(text))):
        found = (*found, Claim(percent[0], "any", "percentage", PERCENT_SOURCE))
    if found:
        claim = found[0]
        raise ClaimError(
            f"'{claim.words}' may not be said: {REASONS[claim.reason]} ({claim.source})",
            where=f'text "{text[:60]}{"..." if len(text) > 60 else ""}"',
            remedy="give both figures with their range and what they hold"
            if claim.reason != "percentage"
            else 'say "no clear difference"',
        )
    return text


def claims_in(text: str) -> tuple[Claim, ...]:
    """Return the claims of the list that a text makes, in the order of the list, each once.

    Parameters
    ----------
    text : str
        Text in any of the languages.
    """
    plain = plainly(text)
    found = []
    for pattern, language, reason, source in _patterns():
        if match := pattern.search(plain):
            found.append(Claim(match[0].strip(), language, reason, source))
    return tuple(found)


def plainly(text: str) -> str:
    """Return a text in small letters, without accents, invisible characters and hyphens."""
    decomposed = unicodedata.normalize("NFKD", text)
    seen = "".join(letter for letter in decomposed if unicodedata.category(letter) not in ("Mn", "Cf"))
    return _APART.sub(" ", seen.casefold())


@lru_cache(maxsize=1)
def _patterns() -> tuple[tuple[re.Pattern[str], str, str, str], ...]:
    return tuple(
        (_pattern(row["words"]), row["language"], row["reason"], row["source"]) for row in read_table("claim_words.csv")
    )


def _pattern(words: str) -> re.Pattern[str]:
    """Turn a row into a pattern: ``*`` stands for any ending, ``~`` for up to three words between."""
    parts = [_BETWEEN if word == "~" else re.escape(word.rstrip("*")) + _end(word) for word in words.split()]
    joined = "".join(parts).removesuffix(" ")
    return re.compile(rf"(?<![\w]){joined}")


def _end(word: str) -> str:
    return r"\w* " if word.endswith("*") else r"\b "
