"""Numbers for people: no more digits than they carry, in the reader's way of writing them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

_WRITTEN = re.compile(r"(?<![\d.,])(?<!\w-)(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+\.\d+)(?![\d.]\d|\d)")
"""A number with a decimal point or thousands in a text; not a clause of a standard or of a version."""


@dataclass(frozen=True)
class NumberStyle:
    """How a reader writes numbers.

    Attributes
    ----------
    decimal, group : str
        Decimal sign and separator of thousands.
    """

    decimal: str = "."
    group: str = ","

    def write(self, plain: str) -> str:
        """Rewrite a number from 1,234.5 to the reader's way."""
        if self.decimal == "." and self.group == ",":
            return plain
        return plain.translate({ord(","): self.group, ord("."): self.decimal})

    def read(self, typed: str) -> str:
        """Return a number that was typed the reader's way, or plainly, in plain digits: 1.234,5 to 1234.5.

        Thousands are taken as such only in full groups of three, so that 0.25 stays a quarter whoever types it.
        """
        group, decimal = re.escape(self.group), re.escape(self.decimal)
        spaced = typed.replace("\u00a0", " ").replace("\u202f", " ")
        blank = " " if self.group.isspace() else group
        if re.fullmatch(rf"-?\d{{1,3}}(?:{blank}\d{{3}})+(?:{decimal}\d*)?", spaced):
            typed = spaced.replace(" " if self.group.isspace() else self.group, "")
        elif not re.fullmatch(rf"-?\d*{decimal}\d+", typed):
            return typed
        return typed.replace(self.decimal, ".")

    def words(self, text: str) -> str:
        """Rewrite the numbers within a text such as "per 1,000 cartons" or "a limit of 0.8 mm"."""
        if self.decimal == "." and self.group == ",":
            return text
        return _WRITTEN.sub(lambda number: self.write(number[0]), text)


PLAIN = NumberStyle()
"""1,234.5: the style of the terminal and of records."""


def figures(value: float, digits: int = 3, style: NumberStyle = PLAIN) -> str:
    """Return a number with a few significant figures and thousands separated: 72.9, 1,230, 0.0456."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    if abs(value) >= 10.0 ** (digits - 1):  # no decimals: most figures, and thrice as fast
        return whole(value, style)
    exponent = int(f"{value:.{digits - 1}e}".partition("e")[2])  # after rounding: 99.96 becomes 100
    return style.write(f"{value:,.{min(max(digits - 1 - exponent, 0), 6)}f}")


def whole(value: float, style: NumberStyle = PLAIN) -> str:
    """Return a rounded number with thousands separated."""
    return style.write(f"{value:,.0f}")


def places(value: float, others: list[float], digits: int = 3) -> str:
    """Return a number with the decimals that suit the largest of a column."""
    largest = max((abs(v) for v in [value, *others]), default=0.0)
    decimals = 0 if largest == 0 else min(max(digits - 1 - math.floor(math.log10(largest)), 0), 6)
    return f"{value:,.{decimals}f}"


def count(value: float, style: NumberStyle = PLAIN) -> str:
    """Return a count: whole where it is whole, else a few significant figures."""
    return whole(value, style) if value == round(value) else figures(value, style=style)


def days(value: float, style: NumberStyle = PLAIN) -> str:
    """Return a duration in days: a tenth of a day is as fine as a plan can be."""
    if value < 0.95:
        return "less than a day"
    text = f"{value:,.1f}".removesuffix(".0")
    return f"{style.write(text)} {'day' if text == '1' else 'days'}"
