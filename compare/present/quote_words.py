"""The words of a quote in its language: texts with places to fill, counts, dates, and numbers the reader's way."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any, get_args

from babel.dates import format_date

from compare.data_files import data_folder
from compare.errors import unknown_name
from compare.present.numbers import NumberStyle, whole
from compare.quotes.quote_record import Language

_THOUSAND = 1000.0
_BEFORE_SIGNS = re.compile(r" (?=[:;?!»])|(?<=«) ")


@dataclass(frozen=True)
class QuoteWords:
    """Texts of one language.

    Attributes
    ----------
    language : {"en", "de", "fr", "es"}
        Which it is.
    style : NumberStyle
        How numbers are written in it.
    texts : mapping
        Table to name to text, or to forms of a count; from ``data/quote_words``.
    """

    language: Language
    style: NumberStyle
    texts: Mapping[str, Mapping[str, Any]]

    def has(self, table: str, name: str) -> bool:
        """Return whether there is a text of that name."""
        return name in self.texts.get(table, {})

    def say(self, table: str, name: str, /, **places: str) -> str:
        """Return a text with its places filled; ``{thousand}`` is filled in any text."""
        text: str = self.texts[table][name]
        return text.format(thousand=whole(_THOUSAND, self.style), **places)

    def counted(self, name: str, number: float, table: str = "counts") -> str:
        """Return a number with what it counts, in the form that goes with it."""
        one, many = self.texts[table][name]
        # French counts everything below two in the singular
        singular = number < 2 if self.language == "fr" else number == 1
        return str((one if singular else many).format(n=self.number(number)))

    def number(self, number: float) -> str:
        """Return a number as short as it was given: 0.5, 12, 1,234."""
        return self.style.write(f"{number:,.10g}")

    def percent(self, share: float) -> str:
        """Return a share in per cent."""
        text: str = self.texts["numbers"]["percent"]
        return text.format(number=self.number(round(share * 100, 2)))

    def day(self, day: date, *, american: bool = False) -> str:
        """Return a date in full."""
        locale = "en_US" if american and self.language == "en" else self.texts["numbers"]["dates"]
        return str(format_date(day, "long", locale=locale))


@lru_cache(maxsize=len(get_args(Language)))
def quote_words(language: str) -> QuoteWords:
    """Return the words of a language.

    Raises
    ------
    UnknownNameError
        If the quote does not speak it; the message lists what there is.
    """
    if language not in get_args(Language):
        raise unknown_name(language, get_args(Language), where="language", what="language")
    file = data_folder() / "quote_words" / f"{language}.toml"
    texts = tomllib.loads(file.read_text(encoding="utf-8"))
    if language == "fr":
        texts = {table: {name: _tied(text) for name, text in rows.items()} for table, rows in texts.items()}
    style = NumberStyle(texts["numbers"]["decimal"], texts["numbers"]["group"])
    return QuoteWords(language, style, texts)  # type: ignore[arg-type]


def _tied(text: Any) -> Any:
    """Tie the high signs of French to the word before them."""
    return _BEFORE_SIGNS.sub("\u00a0", text) if isinstance(text, str) else [_tied(form) for form in text]
