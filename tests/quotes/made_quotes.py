"""Quotes of invented jobs for tests: how to make one, and many that differ by their client."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

from compare.decide.comparison import compare
from compare.quotes.quote_record import QuoteAsked, QuoteRecord
from compare.quotes.recording import record_quote
from compare.readers.jobfile import Layer, read_file, settings_layer
from compare.scenario import prepare

DATA = Path(__file__).resolve().parents[2] / "data"
PROGRAM = "0.1.0"
SECRET = b"a secret of thirty-two bytes....s"[:32]
SCOPE = "board, tools and electricity; an estimate"


def plant_layer() -> Layer:
    """Values of the invented plant."""
    return read_file(DATA / "plants" / "northfold.toml", kind="plant")


def job_layer(job: str) -> Layer:
    """Values of an invented job."""
    return read_file(DATA / "demo" / f"{job}.toml", kind="job")


def asked(run_lengths: tuple[float, ...], **changes) -> QuoteAsked:
    """What a quote is asked for."""
    plain = QuoteAsked("Meadow Tea", 0.12, "en", "full", date(2026, 3, 2), date(2026, 4, 1), run_lengths)
    return replace(plain, **changes)


def quote(job: str = "cosmetics_cutouts", *settings: str, plant: Layer | None = None, **changes) -> QuoteRecord:
    """Make the record of a quote as the command line would."""
    plants, jobs = (plant or plant_layer(),), (job_layer(job), settings_layer(list(settings)))
    comparison = compare(prepare(*plants, *jobs), changes.get("costing", "full"))
    run = comparison.run_length
    changes.setdefault("run_lengths", (run, 2 * run, 5 * run))
    return record_quote(comparison, plants, jobs, asked(**changes), program=PROGRAM)


def one_line(error: Exception) -> None:
    """Hold an error to one line."""
    assert "\n" not in str(error)


@cache
def some_quote() -> QuoteRecord:
    """A quote that nobody changes."""
    return quote()


@cache
def drawn_quote() -> QuoteRecord:
    """The quote of a job that names a drawing; reading that takes a second."""
    return quote("window_from_drawing")


def of_client(client: str) -> QuoteRecord:
    """The same quote for another client."""
    record = some_quote()
    return replace(record, asked=replace(record.asked, client=client))
