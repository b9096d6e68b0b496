"""Records of quotes out of files: untrusted, whoever handed them on.

A file is taken only if it is byte for byte what writing its content anew gives. So nothing can stand in it twice,
beside what is known, or in two ways. Names and values of a record that was made with the tables of today are held to
these tables. One that is older may hold a name that is no longer there; computing it again tells.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import ValidationError

from compare.assumptions import assumption_table
from compare.data_files import data_digest
from compare.errors import EvenrunError, InputError, unknown_name
from compare.quotes.client_quote import SealedQuote
from compare.quotes.quote_record import QuoteRecord, adapter, canonical, plain
from compare.readers.jobfile import check_ranges, check_values
from compare.readers.orderbook_findings import printable

MOST_BYTES = 2_000_000
"""Largest record that is read; those of demo jobs have 10 to 30 kB."""

_NAME = re.compile(r"[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*")
_STEP = re.compile(r"[\w.-]{1,60}", re.ASCII)
_DIGEST = re.compile(r"(?:[0-9a-f]{64})?")
_NUMBER = r"-?\d{1,15}(?:\.\d{1,15})?(?:e[+-]\d{1,3})?"
_RANGE = re.compile(rf"{_NUMBER}\.\.{_NUMBER} [a-z]{{1,20}}", re.ASCII)
_NEEDED_TEXTS = ("plant.currency", "plant.country", "factors.set", "board.laminate")
_REMEDY = "take the file as it came, or the record out of the store"

_SHOWN = 200
"""Characters of a message that may quote what a stranger wrote."""

_Kind = TypeVar("_Kind")


@dataclass(frozen=True)
class _Place:
    """Where a record is from, for messages."""

    where: str

    def broken(self, what: str) -> InputError:
        return InputError(what, where=self.where, remedy=_REMEDY)


def read_record(raw: bytes, *, where: str = "quote") -> QuoteRecord:
    """Read the full record of a quote.

    Parameters
    ----------
    raw : bytes
        Canonical JSON as :meth:`QuoteRecord.to_bytes` gives it.
    where : str
        Where it is from, for messages.

    Returns
    -------
    QuoteRecord

    Raises
    ------
    InputError
        If it is no such record. UnknownNameError, if it names an input that is not there.
    """
    record = _read(raw, QuoteRecord, _Place(where))
    _check_names(record, _Place(where))
    if record.versions.tables == data_digest():
        try:
            _check_values(record, where)
        except EvenrunError as error:  # it quotes what a stranger wrote
            what, remedy = (printable(text)[:_SHOWN] for text in (error.what, error.remedy))
            raise type(error)(what, where=where, remedy=remedy) from None
    return record


def read_sealed(raw: bytes, *, where: str = "quote") -> SealedQuote:
    """Read what a client's file holds of a quote; whether its seal holds, only the plant can tell.

    Parameters
    ----------
    raw : bytes
        Canonical JSON as :meth:`SealedQuote.to_bytes` gives it.
    where : str
        Where it is from, for messages.

    Raises
    ------
    InputError
        If it is no such thing.
    """
    return _read(raw, SealedQuote, _Place(where))


def read_attachment(raw: bytes, *, where: str = "quote") -> QuoteRecord | SealedQuote:
    """Read whichever of the two a paper carries.

    Raises
    ------
    InputError
        If it is neither.
    """
    # both are canonical, so that their keys are sorted: only a client's begins with this one
    return read_sealed(raw, where=where) if raw.startswith(b'{"client":') else read_record(raw, where=where)


def _read(raw: bytes, kind: type[_Kind], place: _Place) -> _Kind:
    if len(raw) > MOST_BYTES:
        raise place.broken(f"the record is over {MOST_BYTES / 1e6:g} MB")
    try:
        record: _Kind = adapter(kind).validate_json(raw, strict=True)
        same = canonical(plain(record)) == raw
    except ValidationError as error:
        raise place.broken(f"this is no record of a quote: {_first(error)}") from None
    except (InputError, RecursionError):
        same = False
    if not same:
        raise place.broken("the record of the quote was not written by Evenrun, or was changed since")
    return record


def _first(error: ValidationError) -> str:
    """Say what is wrong first, without quoting a value: it may be anything."""
    fault = error.errors(include_url=False, include_input=False)[0]
    path = ".".join(str(step) if _STEP.fullmatch(str(step)) else "?" for step in fault["loc"])[:_SHOWN]
    cause: Any = fault.get("ctx", {}).get("error")
    told = cause.what if isinstance(cause, EvenrunError) else fault["msg"]
    return f"{path}: {told}" if path else str(told)


def _check_names(record: QuoteRecord, place: _Place) -> None:
    """Hold what every version of the tables has in common."""
    named: list[Mapping[str, object]] = [record.inputs, record.choices, record.origins, record.ranges]
    named += [part for layer in record.layers for part in (layer.values, layer.ranges)]
    named += [record.drawing.values] if record.drawing else []
    if any(not _NAME.fullmatch(name) for names in named for name in names):
        raise place.broken("the record holds a name that is no dotted name")
    if not all(_RANGE.fullmatch(text) for text in record.ranges.values()):
        raise place.broken("the record holds a range that is none")
    if not all(name in record.choices for name in _NEEDED_TEXTS):
        raise place.broken("the record does not hold every text that a quote has")
    if record.asked.run_lengths.count(record.inputs.get("demand.run_length", 0.0)) != 1:
        raise place.broken("the record has no price for the run length of its job")
    for route in (record.results.die, record.results.laser):
        figures = route.figures
        if (figures is None) != bool(route.faults):
            raise place.broken("the record has figures for a route that can't make the job, or none for one that can")
        if figures is not None and len(figures.costs_at_run_lengths) != len(record.asked.run_lengths):
            raise place.broken("the record does not have one price for each run length")
    drawing = record.drawing
    if drawing and not all(_DIGEST.fullmatch(digest) for digest in (drawing.sha256, drawing.line_map_sha256)):
        raise place.broken("the record holds a digest that is none")


def _check_values(record: QuoteRecord, where: str) -> None:
    """Hold names and values to the tables they were made with."""
    table = assumption_table()
    for layer in record.layers:
        check_values(layer.values, where=where)
        check_ranges(layer.ranges, where=where)
    for name, value in (*record.inputs.items(), *(record.drawing.values.items() if record.drawing else ())):
        if name not in table:
            raise unknown_name(name, table, where=where)
        table[name].check(value, where=where)
    for name in record.choices:
        if name not in table or not table[name].is_text:
            raise unknown_name(name, (n for n, row in table.items() if row.is_text), where=where)
