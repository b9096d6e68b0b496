"""The record of one quote: everything that its figures can be computed from again, as canonical bytes.

Canonical JSON: keys sorted, no spaces, every number with all its digits, UTF-8. The same record is the same bytes
on every machine, so that a digest or a seal over them holds. Files of other people are untrusted; they are read by
:mod:`compare.quotes.record_reader`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any, Literal

from pydantic import TypeAdapter

from compare.assumptions import assumption_table
from compare.decide.evaluate import Measure
from compare.errors import InputError
from compare.factors import FactorUse
from compare.quotes.recorded_loads import RecordedLoads
from compare.valuation.money import Costing

CLIENT_CHARACTERS = 200
"""Longest name of a client."""

MOST_MARGIN = 0.9
"""Largest margin, as a share of the price."""

MOST_RUN_LENGTHS = 12
"""Most run lengths that one quote has prices for."""

Language = Literal["en", "de", "fr", "es"]
RouteName = Literal["die", "laser"]
ROUTES: tuple[RouteName, ...] = ("die", "laser")

Value = float | str
"""A number, or a text such as a carton style."""


@dataclass(frozen=True)
class QuoteAsked:
    """What is asked of a quote, beside the job and the plant.

    Attributes
    ----------
    client : str
        Who it is for, as typed; 200 characters at most.
    margin : float
        Margin as a share of the price, 0 to 0.9: a price is cost / (1 - margin).
    language : {"en", "de", "fr", "es"}
        Language of the paper.
    costing : {"full", "cash"}
        Which machine rates count.
    made_on, valid_until : date
        Day it is made, and last day its prices hold.
    run_lengths : tuple of float
        Run lengths that it has prices for, rising, the job's own among them [cartons per order].
    """

    client: str
    margin: float
    language: Language
    costing: Costing
    made_on: date
    valid_until: date
    run_lengths: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.client) > CLIENT_CHARACTERS:
            raise InputError(
                f"the client's name has {len(self.client)} characters",
                where="client",
                remedy=f"{CLIENT_CHARACTERS} are the limit",
            )
        if not writable(self.client):
            raise InputError("the client's name can't be written as UTF-8", where="client", remedy="type it again")
        if isinstance(self.margin, bool) or not (math.isfinite(self.margin) and 0 <= self.margin <= MOST_MARGIN):
            raise InputError(
                "the margin is not usable", where="margin", remedy=f"give 0 to {MOST_MARGIN:.0%} of the price"
            )
        if self.valid_until < self.made_on:
            raise InputError(
                "the quote ends before it is made", where="valid until", remedy="give a later day, or the same"
            )
        runs, row = self.run_lengths, assumption_table()["demand.run_length"]
        for run in runs:
            row.check(run, where="run lengths")
        if not 0 < len(runs) <= MOST_RUN_LENGTHS or list(runs) != sorted(set(runs)):
            raise InputError(
                "the run lengths are not usable",
                where="run lengths",
                remedy=f"give 1 to {MOST_RUN_LENGTHS} of them, rising, each once",
            )

    @property
    def price_factor(self) -> float:
        """What turns cost into price."""
        return 1 / (1 - self.margin)


@dataclass(frozen=True)
class RecordedLayer:
    """Values from one place, as given.

    Attributes
    ----------
    of : {"plant", "job"}
        Whose values they are. Settings of the command line and of a page are the job's.
    label : str
        Where they were given.
    values : mapping
        Dotted name to number or text.
    about : mapping
        ``name`` and ``note`` of the file.
    ranges : mapping
        Dotted name to the range of its value, as text.
    """

    of: Literal["plant", "job"]
    label: str
    values: Mapping[str, Value]
    about: Mapping[str, str] = field(default_factory=dict)
    ranges: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class RecordedDrawing:
    """The drawing that a carton was measured from: not the file, but how to know it again, and what it gave.

    Attributes
    ----------
    name, line_map : str
        Names of the two files; the second may be empty.
    sha256, line_map_sha256 : str
        Digests of their bytes; empty where the drawing came without its file.
    values : mapping
        Dotted name to what was worked out of it: lengths, blank, ups. Computed again without the file, these stand
        as given values.
    faults : mapping
        Route to codes of what only the drawing shows that it can't do.
    """

    name: str
    sha256: str
    line_map: str
    line_map_sha256: str
    values: Mapping[str, float]
    faults: Mapping[RouteName, tuple[str, ...]]


@dataclass(frozen=True)
class RouteFigures:
    """Results of a route that can make the job.

    Attributes
    ----------
    cost_per_1000, co2e_kg_per_1000, biogenic_co2_kg_per_1000, waste_kg_per_1000 : float
        Per 1,000 good cartons [money, kg, kg, kg].
    hours : float
        Machine hours over the programme [h].
    lead_time_days : float
        Days to the last carton of the first order [d].
    stage_costs : mapping
        Stage to money per 1,000 good cartons.
    costs_at_run_lengths : tuple of float
        Money per 1,000 good cartons at each of the run lengths asked for.
    """

    cost_per_1000: float
    co2e_kg_per_1000: float
    biogenic_co2_kg_per_1000: float
    waste_kg_per_1000: float
    hours: float
    lead_time_days: float
    stage_costs: Mapping[str, float]
    costs_at_run_lengths: tuple[float, ...]


@dataclass(frozen=True)
class RecordedRoute:
    """What a route came to.

    Attributes
    ----------
    strategy : str
        Way of working, where the route has several.
    faults : tuple of str
        Codes of what it can't do; empty where it can make the job.
    figures : RouteFigures or None
        None where it can't: a figure for what can't be made would be mistaken for a result.
    """

    strategy: str
    faults: tuple[str, ...]
    figures: RouteFigures | None


@dataclass(frozen=True)
class RecordedRange:
    """Run lengths with one better route.

    Attributes
    ----------
    start, end : int
        First and last run length [cartons per order].
    lowest : {"die", "laser", "even"}
        The better route.
    """

    start: int
    end: int
    lowest: Literal["die", "laser", "even"]


@dataclass(frozen=True)
class RecordedBreakEven:
    """Ranges of one measure.

    Attributes
    ----------
    ranges : tuple of RecordedRange
        Without gaps.
    run_length : int or None
        Run length from which on the die is the better route.
    """

    ranges: tuple[RecordedRange, ...]
    run_length: int | None


@dataclass(frozen=True)
class Results:
    """What the comparison came to.

    Attributes
    ----------
    die, laser : RecordedRoute
        The routes.
    cheaper : {"die", "laser", "even", "neither"}
        At the job's run length.
    break_even : mapping
        Measure to its ranges.
    """

    die: RecordedRoute
    laser: RecordedRoute
    cheaper: Literal["die", "laser", "even", "neither"]
    break_even: Mapping[Measure, RecordedBreakEven]

    def route(self, name: RouteName) -> RecordedRoute:
        """Return a route by its name."""
        return self.die if name == "die" else self.laser


@dataclass(frozen=True)
class Versions:
    """What the figures rest on beside the values.

    Attributes
    ----------
    program : str
        Version of the program.
    tables : str
        Digest of the data tables.
    plant : str
        Digest of the plant's values.
    """

    program: str
    tables: str
    plant: str


@dataclass(frozen=True)
class QuoteRecord:
    """Everything about one quote; the plant's own, and nobody else's.

    Attributes
    ----------
    asked : QuoteAsked
        Client, margin, dates.
    name, note, plant, board : str
        Names of job, plant and board, and the job's note.
    layers : tuple of RecordedLayer
        Given values, from the weakest to the strongest.
    inputs : mapping
        Every number that was used, by dotted name.
    choices, origins : mapping
        Every text, and where each value is from.
    factors : mapping
        Role to emission factor.
    ranges : mapping
        Dotted name to how far an input was varied, as text: ``80..400 triangular``; a lognormal by the ends of 95
        cases in 100. How sure the answer is rests on them.
    loads : RecordedLoads or None
        The planned path of the beam, where there was one.
    drawing : RecordedDrawing or None
        The drawing, where one was named.
    results : Results
        The figures.
    versions : Versions
        Program and tables.
    quote_format : int
        Version of this format.
    """

    asked: QuoteAsked
    name: str
    note: str
    plant: str
    board: str
    layers: tuple[RecordedLayer, ...]
    inputs: Mapping[str, float]
    choices: Mapping[str, str]
    origins: Mapping[str, str]
    factors: Mapping[str, FactorUse]
    ranges: Mapping[str, str]
    loads: RecordedLoads | None
    drawing: RecordedDrawing | None
    results: Results
    versions: Versions
    quote_format: Literal[1] = 1

    @property
    def currency(self) -> str:
        """Currency of every amount."""
        return self.choices["plant.currency"]

    def to_bytes(self) -> bytes:
        """Return the record as canonical JSON."""
        return canonical(plain(self))


def writable(text: str) -> bool:
    """Return whether a text can be written as UTF-8; half of a surrogate pair can't."""
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def adapter(kind: Any) -> TypeAdapter[Any]:
    """Return what checks and writes a kind of record."""
    return _adapter(kind)


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def plain(record: Any) -> dict[str, Any]:
    """Return a record of dataclasses as what JSON can hold."""
    data: dict[str, Any] = adapter(type(record)).dump_python(record, mode="json")
    return data


def canonical(data: Mapping[str, Any]) -> bytes:
    """Return canonical JSON: the same content is always the same bytes.

    Raises
    ------
    InputError
        If a number is not finite, or a text can't be written.
    """
    try:
        text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
        return text.encode("utf-8")
    except ValueError:  # an unencodable text is one, too
        raise InputError("the quote holds a number that is not finite, or a text that is none", where="quote") from None
