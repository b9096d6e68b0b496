"""What the server knows of the reader: units, colours, and the way of writing numbers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import flask
from babel import Locale, UnknownLocaleError
from babel.numbers import get_decimal_symbol, get_group_symbol

from compare.present.look import Scheme
from compare.present.numbers import PLAIN, NumberStyle
from dashboard.units import System

UNITS_COOKIE, SCHEME_COOKIE = "evenrun_units", "evenrun_scheme"


@dataclass(frozen=True)
class Reader:
    """One reader's preferences.

    Attributes
    ----------
    system : {"metric", "us"}
        Units on screen, kept in a cookie.
    scheme : {"light", "dark"}
        Colours, kept in a cookie.
    style : NumberStyle
        Decimal sign and thousands, from the browser's language.
    """

    system: System = "metric"
    scheme: Scheme = "light"
    style: NumberStyle = PLAIN


def reader_now() -> Reader:
    """Return the reader of the request that is being answered; the default one outside requests."""
    if not flask.has_request_context():
        return Reader()
    cookies = flask.request.cookies
    languages = tuple(tag for tag, _ in flask.request.accept_languages)
    return Reader(
        system="us" if cookies.get(UNITS_COOKIE) == "us" else "metric",
        scheme="dark" if cookies.get(SCHEME_COOKIE) == "dark" else "light",
        style=number_style(languages[0] if languages else "en"),
    )


@lru_cache(maxsize=64)
def number_style(tag: str) -> NumberStyle:
    """Return how numbers are written in a language, plain English style if it is not known."""
    try:
        locale = Locale.parse(tag, sep="-")
    except (ValueError, UnknownLocaleError):
        return PLAIN
    return NumberStyle(get_decimal_symbol(locale), get_group_symbol(locale))
