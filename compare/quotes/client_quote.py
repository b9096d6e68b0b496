"""What a client may see of a quote: prices, run lengths, days, carbon and waste; nothing of what they were made of.

Prices have all their digits, so that paper, page and file show the same. Who has the program, and happens to try the
plant's very assumptions and margin, would find these prices again; from the prices alone nothing of them follows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from compare.decide.evaluate import Measure
from compare.factors import publishers
from compare.quotes.quote_record import (
    ROUTES,
    Language,
    QuoteRecord,
    RecordedBreakEven,
    RouteFigures,
    RouteName,
    canonical,
    plain,
)

OF_THE_CARTON = (
    "carton.length_mm",
    "carton.width_mm",
    "carton.height_mm",
    "carton.blank_width_mm",
    "carton.blank_height_mm",
    "board.grammage_g_m2",
    "demand.run_length",
    "demand.versions",
    "demand.crease_versions",
    "demand.artwork_versions",
    "demand.orders_per_year",
    "demand.years",
    "demand.changes_per_year",
)
"""Inputs that are the client's own: the carton, the board, and what is ordered."""

_TENTHS = 1
"""Decimals of days: a tenth of a day is as fine as a plan can be, and more would give away hours at the machine."""


@dataclass(frozen=True)
class ClientRow:
    """Prices at one run length.

    Attributes
    ----------
    run_length : float
        Cartons per order.
    prices : mapping
        Route to price per 1,000 cartons [currency]; None for a route that can't make the job.
    """

    run_length: float
    prices: Mapping[RouteName, float | None]


@dataclass(frozen=True)
class ClientQuote:
    """A quote as its client sees it.

    Attributes
    ----------
    number : str
        Number of the quote; the plant finds its own record by it.
    client, job : str
        Names.
    language : {"en", "de", "fr", "es"}
        Language of the paper.
    made_on, valid_until : date
        Day it was made, and last day its prices hold.
    currency : str
        Currency of the prices.
    style, board : str
        Carton style (empty where the carton is from a drawing or from lengths), and name of the board.
    values : mapping
        Dotted name to what the client said of carton and orders.
    rows : tuple of ClientRow
        Prices.
    cheaper : {"die", "laser", "even", "neither"}
        Route with the lower price at the job's run length.
    break_even : mapping
        Measure to its ranges of run lengths.
    lead_time_days, co2e_kg_per_1000, biogenic_co2_kg_per_1000, waste_kg_per_1000 : mapping
        Route to days to the last carton of the first order [d, to a tenth], and kg per 1,000 cartons; None for a route
        that can't make the job.
    scope : str
        What the carbon figures hold.
    factor_set, publishers : str
        Factor set, and publishers and years of its factors.
    program : str
        Version of the program.
    client_format : int
        Version of this format.
    """

    number: str
    client: str
    job: str
    language: Language
    made_on: date
    valid_until: date
    currency: str
    style: str
    board: str
    values: Mapping[str, float]
    rows: tuple[ClientRow, ...]
    cheaper: Literal["die", "laser", "even", "neither"]
    break_even: Mapping[Measure, RecordedBreakEven]
    lead_time_days: Mapping[RouteName, float | None]
    co2e_kg_per_1000: Mapping[RouteName, float | None]
    biogenic_co2_kg_per_1000: Mapping[RouteName, float | None]
    waste_kg_per_1000: Mapping[RouteName, float | None]
    scope: str
    factor_set: str
    publishers: str
    program: str
    client_format: Literal[1] = 1

    def to_bytes(self) -> bytes:
        """Return it as canonical JSON."""
        return canonical(plain(self))


@dataclass(frozen=True)
class SealedQuote:
    """A client's quote with the plant's seal, as it goes into the client's file.

    Attributes
    ----------
    client : ClientQuote
        What the client sees.
    seal : str
        Seal over it and over the plant's own record.
    """

    client: ClientQuote
    seal: str

    def to_bytes(self) -> bytes:
        """Return it as canonical JSON."""
        return canonical(plain(self))


def client_record(record: QuoteRecord, number: str, *, scope: str) -> ClientQuote:
    """Return what a client may see of a quote.

    Parameters
    ----------
    record : QuoteRecord
        The plant's own record.
    number : str
        Number of the quote, as the store gives it.
    scope : str
        What the carbon figures hold, in words.

    Returns
    -------
    ClientQuote
    """
    asked, results = record.asked, record.results
    figures = {name: results.route(name).figures for name in ROUTES}
    published = (use for use in record.factors.values() if use.keys)  # the label of an own value names the plant's file

    def each(name: str) -> dict[RouteName, float | None]:
        return {route: None if found is None else getattr(found, name) for route, found in figures.items()}

    return ClientQuote(
        number=number,
        client=asked.client,
        job=record.name,
        language=asked.language,
        made_on=asked.made_on,
        valid_until=asked.valid_until,
        currency=record.currency,
        style=record.choices.get("carton.style", ""),
        board=record.board,
        values={name: record.inputs[name] for name in OF_THE_CARTON if name in record.inputs},
        rows=tuple(
            ClientRow(run, {name: _price(found, place, asked.price_factor) for name, found in figures.items()})
            for place, run in enumerate(asked.run_lengths)
        ),
        cheaper=results.cheaper,
        break_even=results.break_even,
        lead_time_days={
            route: None if days is None else round(days, _TENTHS) for route, days in each("lead_time_days").items()
        },
        co2e_kg_per_1000=each("co2e_kg_per_1000"),
        biogenic_co2_kg_per_1000=each("biogenic_co2_kg_per_1000"),
        waste_kg_per_1000=each("waste_kg_per_1000"),
        scope=scope,
        factor_set=record.choices["factors.set"],
        publishers=publishers(published),
        program=record.versions.program,
    )


def _price(figures: RouteFigures | None, place: int, factor: float) -> float | None:
    """Return a price to the cent: more digits would tell a client with patience what it was worked out from."""
    return None if figures is None else round(figures.costs_at_run_lengths[place] * factor, 2)
