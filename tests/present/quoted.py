"""Quotes of demo jobs for an invented client, for the tests of what is said, drawn and written."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

from compare import compare, prepare, read_file
from compare.decide.uncertainty import Uncertainty, uncertainty
from compare.present.charts import chart_grid
from compare.present.quote_content import quote_content, quote_run_lengths
from compare.present.quote_parts import QuoteContent
from compare.quotes.quote_record import Language, QuoteAsked
from compare.readers.jobfile import settings_layer

DATA = Path(__file__).resolve().parents[2] / "data"
LANGUAGES: tuple[Language, ...] = ("en", "de", "fr", "es")
JOBS = tuple(sorted(path.stem for path in (DATA / "demo").glob("*.toml")))
MARGIN = 0.37
"""No simple share, so that no cost looks like a price."""


@cache
def unsure_of(job: str, *settings: str) -> Uncertainty:
    """Compare a demo job on the demo plant and vary it, with few draws."""
    layers = (
        read_file(DATA / "plants" / "northfold.toml", kind="plant"),
        read_file(DATA / "demo" / f"{job}.toml", kind="job"),
        settings_layer(list(settings)),
    )
    comparison = compare(prepare(*layers))
    return uncertainty(comparison, draws=256, run_lengths=chart_grid(comparison))


def asked_of(
    unsure: Uncertainty,
    language: Language = "en",
    *,
    client: str = "Harbour Row Teas",
    margin: float = MARGIN,
    run_lengths: tuple[float, ...] | None = None,
) -> QuoteAsked:
    """Ask for a quote on a day of its own."""
    runs = quote_run_lengths(unsure.comparison) if run_lengths is None else run_lengths
    return QuoteAsked(client, margin, language, "full", date(2026, 11, 30), date(2027, 1, 14), runs)


@cache
def content_of(job: str, language: Language = "en", *settings: str, client: str = "Harbour Row Teas") -> QuoteContent:
    """Return what a client sees of the quote of a demo job."""
    unsure = unsure_of(job, *settings)
    return quote_content(unsure, asked_of(unsure, language, client=client), number="2026-000123")


def texts_of(data: object) -> list[str]:
    """Return every text within dataclasses, mappings and sequences, and numbers as they are written in full."""
    if isinstance(data, str):
        return [data]
    if isinstance(data, (int, float)):
        return [repr(data)]
    if isinstance(data, dict):
        return [text for item in data.items() for text in texts_of(item)]
    if isinstance(data, (tuple, list)):
        return [text for one in data for text in texts_of(one)]
    return texts_of(list(vars(data).values())) if hasattr(data, "__dict__") else []
