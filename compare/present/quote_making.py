"""A quote from a job: computed, kept in the store, and set as PDF, page and workbook; and a PDF opened again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Literal

from compare.decide.comparison import Comparison
from compare.decide.uncertainty import Uncertainty, uncertainty
from compare.errors import FileError, InputError
from compare.present.charts import chart_grid
from compare.present.quote_content import quote_content, quote_run_lengths
from compare.present.quote_internal import internal_page
from compare.present.quote_page import quote_pdf
from compare.present.quote_parts import QuoteContent
from compare.present.quote_sentences import carbon_scope
from compare.present.quote_words import quote_words
from compare.present.record import program_version
from compare.quotes.client_quote import SealedQuote
from compare.quotes.quote_record import Language, QuoteAsked, QuoteRecord
from compare.quotes.record_reader import read_attachment
from compare.quotes.recording import record_quote
from compare.quotes.sealing import alterations, is_genuine, sealed_quote
from compare.quotes.store import QuoteStore
from compare.readers.jobfile import Layer
from compare.readers.pdf_attachment import read_attached

ATTACHED = "evenrun-quote.json"
"""Name of the file in a quote's PDF that it can be reopened from."""

VALID_DAYS = 30


@dataclass(frozen=True)
class Quote:
    """A quote that was made and kept.

    Attributes
    ----------
    number : str
        Its number in the store.
    record : QuoteRecord
        Everything it can be computed from again.
    unsure : Uncertainty
        The comparison with its draws.
    content : QuoteContent
        What the client sees.
    sealed : SealedQuote
        What the client's files carry.
    """

    number: str
    record: QuoteRecord
    unsure: Uncertainty
    content: QuoteContent
    sealed: SealedQuote

    def pdf(self, *, internal: bool = False) -> bytes:
        """Return the PDF: for the client, or with the plant's own pages and the full record in it."""
        if not internal:
            return quote_pdf(self.content, attachments={ATTACHED: self.sealed.to_bytes()})
        page = internal_page(self.unsure, self.record.asked)
        return quote_pdf(self.content, internal=page, attachments={ATTACHED: self.record.to_bytes()})


def asked_quote(
    comparison: Comparison,
    *,
    client: str,
    margin: float,
    language: Language,
    made_on: date,
    valid_days: int = VALID_DAYS,
    run_lengths: Sequence[float] = (),
) -> QuoteAsked:
    """Put together what is asked of a quote.

    Parameters
    ----------
    comparison : Comparison
        The job on both routes.
    client : str
        Who it is for.
    margin : float
        Share of the price.
    language : {"en", "de", "fr", "es"}
        Language of the paper.
    made_on : date
        Today.
    valid_days : int
        Days that its prices hold.
    run_lengths : sequence of float
        Run lengths that it has prices for, beside the job's own; chosen, if left out.
    """
    if not 0 <= valid_days <= 3650:
        raise InputError(
            f"{valid_days} days are no time for prices to hold", where="valid days", remedy="give 0 to 3650"
        )
    runs = tuple(sorted({comparison.run_length, *run_lengths})) if run_lengths else quote_run_lengths(comparison)
    return QuoteAsked(client, margin, language, comparison.costing, made_on, made_on + timedelta(days=valid_days), runs)


def make_quote(
    comparison: Comparison, plant: Sequence[Layer], job: Sequence[Layer], asked: QuoteAsked, store: QuoteStore
) -> Quote:
    """Compute a quote and keep it.

    Parameters
    ----------
    comparison : Comparison
        Of ``prepare(*plant, *job)``.
    plant, job : sequence of Layer
        Values of the plant; values of the job with all settings.
    asked : QuoteAsked
        Client, margin, language, dates, run lengths.
    store : QuoteStore
        Where the full record is kept.

    Raises
    ------
    InputError
        If the quote can't be made of the job.
    StoreError
        If it can't be kept; nothing is handed out then.
    """
    record = record_quote(comparison, plant, job, asked, program=program_version())
    unsure = uncertainty(comparison, run_lengths=chart_grid(comparison), along=("cost",))
    number = store.save(record)
    content = quote_content(unsure, asked, number=number)
    return Quote(
        number,
        record,
        unsure,
        content,
        sealed_quote(record, store.secret(), scope=carbon_scope(quote_words(asked.language))),
    )


Kept = Literal["in the file", "in the store"]


@dataclass(frozen=True)
class Found:
    """The record of a quote that was looked for.

    Attributes
    ----------
    number : str
        Its number; empty for a record that stands in its own file.
    record : QuoteRecord
        The full record.
    kept : str
        Where it was.
    altered : tuple of str
        What of a client's file is not as it was made; empty where nothing is.
    """

    number: str
    record: QuoteRecord
    kept: Kept
    altered: tuple[str, ...] = ()


def find_quote(path: Path, store_path: Path | None) -> Found:
    """Find the record of a quote from its PDF, or from the file that was embedded in it.

    Parameters
    ----------
    path : Path
        PDF or JSON.
    store_path : Path or None
        The store, for a client's PDF; the default one, if left out.

    Raises
    ------
    EvenrunError
        If the file is none of ours, or the store does not hold the quote.
    """
    raw = _json(path) if path.suffix.lower() == ".json" else read_attached(path, ATTACHED)
    found = read_attachment(raw, where=str(path))
    if isinstance(found, QuoteRecord):
        return Found("", found, "in the file")
    store = QuoteStore(store_path, create=False)
    record = store.get(found.client.number)
    altered: tuple[str, ...] = ()
    if not is_genuine(found, record, store.secret()):
        altered = alterations(found, record, store.secret()) or ("its seal",)
    return Found(found.client.number, record, "in the store", altered)


def _json(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(4_000_001)
    except OSError as error:
        raise FileError(
            f"the file can't be read ({error.strerror})", where=str(path), remedy="check the path"
        ) from None
