"""What a quote is made of: texts, tables and pictures in words, apart from the page they stand on.

The client's page is made of prices and of what the client knows. Nothing of costs, margin, rates and assumptions is in
:class:`ClientPage`, so that paper, web page and metadata made from it can't show them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from compare.present.charts import CurveChart, OutlineChart
from compare.present.numbers import NumberStyle
from compare.present.quote_svg import CurveWords
from compare.quotes.quote_record import Language

Paper = Literal["a4", "us-letter"]


@dataclass(frozen=True)
class Labelled:
    """A text with its label."""

    label: str
    text: str


@dataclass(frozen=True)
class Table:
    """A table in words: heads, and rows as long as these."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class PriceRow:
    """Prices at one run length.

    Attributes
    ----------
    run_length : float
        Cartons per order.
    prices : dict
        Route to price, for the routes that are possible [currency per 1,000].
    run, die, laser : str
        The run length and the price of each route in words.
    mark : str
        What is special about it; empty for nothing.
    lower : {"die", "laser", ""}
        Route with the lower price where there is a choice.
    quoted : bool
        Whether it is the run length of the job.
    """

    run_length: float
    prices: dict[str, float]
    run: str
    die: str
    laser: str
    mark: str
    lower: Literal["die", "laser", ""]
    quoted: bool


@dataclass(frozen=True)
class CurvePicture:
    """A chart of curves with what is written into it and below it."""

    chart: CurveChart
    words: CurveWords
    title: str
    caption: str


@dataclass(frozen=True)
class OutlinePicture:
    """A flat carton with its legend, and its width and height in words."""

    chart: OutlineChart
    legend: dict[str, str]
    sizes: tuple[str, str]


@dataclass(frozen=True)
class ClientPage:
    """The page for the client.

    Attributes
    ----------
    plant, number_line, dates : str
        Who offers, number of the quote, its dates.
    job, client_line : str
        Name of the job, and who it is for (empty where nobody is named).
    answer : str
        The answer in one sentence.
    sentences : tuple of str
        What goes with it: where the die takes over, why a route can't.
    facts_title, facts : str, tuple of Labelled
        The job in five lines.
    outline, no_outline : OutlinePicture or None, str
        The carton, or why it is not drawn.
    prices_title, price_heads, prices, price_notes : str, tuples
        Price table: run length, die, laser.
    currency : str
        Currency of the prices.
    curve : CurvePicture
        Break-even chart.
    measures_title, estimate, measures, measure_notes : str, str, Table, tuple of str
        CO2e and waste, with the range of the difference, scope and factors.
    not_included_title, not_included, cautions_title, cautions : str, tuples of str
        What the prices don't hold, and what to be careful of.
    foot, notes : str, tuple of str
        The line at the bottom, and what became of names.
    replaced : str
        What is to be said if a page can't show every character.
    page : str
        The page number in words, with places ``{page}`` and ``{pages}``.
    """

    plant: str
    number_line: str
    dates: str
    job: str
    client_line: str
    answer: str
    sentences: tuple[str, ...]
    facts_title: str
    facts: tuple[Labelled, ...]
    outline: OutlinePicture | None
    no_outline: str
    prices_title: str
    price_heads: tuple[str, str, str]
    prices: tuple[PriceRow, ...]
    price_notes: tuple[str, ...]
    currency: str
    curve: CurvePicture
    measures_title: str
    estimate: str
    measures: Table
    measure_notes: tuple[str, ...]
    not_included_title: str
    not_included: tuple[str, ...]
    cautions_title: str
    cautions: tuple[str, ...]
    foot: str
    notes: tuple[str, ...]
    replaced: str
    page: str


@dataclass(frozen=True)
class QuoteContent:
    """Everything that a quote shows its client, and how it is set.

    Attributes
    ----------
    language : {"en", "de", "fr", "es"}
        Language of its words.
    style : NumberStyle
        How numbers are written.
    paper : {"a4", "us-letter"}
        Size of its pages.
    made_on : date
        Day it was made.
    title : str
        Title of the document.
    client : ClientPage
        The page for the client.
    remarks : tuple of str
        What the plant should know before it sends it, such as a claim in a name.
    """

    language: Language
    style: NumberStyle
    paper: Paper
    made_on: date
    title: str
    client: ClientPage
    remarks: tuple[str, ...]
