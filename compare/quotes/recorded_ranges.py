"""How far the inputs of a quote were uncertain, as text; and whether they are so today.

A quote's page says how sure its answer is. That rests on the ranges of the inputs, which move no figure of the record.
They are compared as they are, without drawing cases from them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from compare.assumptions import assumption_table
from compare.decide.varied_inputs import varied_inputs
from compare.errors import EvenrunError
from compare.quotes.changes import NO_EFFECT, Change, alike
from compare.quotes.quote_record import QuoteRecord, RecordedLayer
from compare.readers.jobfile import Layer, check_ranges
from compare.scenario import Scenario
from compare.spread import Spread, own_range, spread_of
from compare.valuation.money import Costing

NOT_USABLE = "not usable"
"""What is said of a range that can't stand with the values of today."""

Source = Literal["range", "value", "table", "worked out"]


def range_texts(scenario: Scenario, costing: Costing) -> dict[str, str]:
    """Return what is varied of a job, by dotted name: ``80..400 triangular``; a lognormal by the ends of 95 cases in 100.

    Parameters
    ----------
    scenario : Scenario
        Job and plant, prepared.
    costing : {"full", "cash"}
        Which machine rates count.
    """
    return {name: _text(spread) for name, spread in varied_inputs(scenario, costing).spreads.items()}


def range_changes(
    record: QuoteRecord, now: Scenario, layers_now: Sequence[Layer] | None, *, alone: bool
) -> Iterable[Change]:
    """Return ranges that are not as they were, of inputs whose value is.

    Parameters
    ----------
    record : QuoteRecord
        The full record.
    now : Scenario
        The job with today's values, without given ranges.
    layers_now : sequence of Layer, optional
        Values of the plant today; those of the record, if left out.
    alone : bool
        Whether nothing else has changed. Else an input may be varied, or no longer, because another change gave it a
        bearing on the figures, or took it away; that is not told.
    """
    plant = [layer for layer in record.layers if layer.of == "plant"]
    job = [layer for layer in record.layers if layer.of == "job"]
    before = _Given.of((*plant, *job))
    after = _Given.of((*(plant if layers_now is None else map(_recorded, layers_now)), *job))
    try:
        today, unusable = _today(now, after.ranges, record.asked.costing)
    except EvenrunError as error:  # of the tables themselves: how sure the figures are can't be said today
        yield Change("range", "ranges", "usable", f"{NOT_USABLE}: {error.what}", "", dict(NO_EFFECT))
        return
    for name in sorted({*record.ranges, *today, *unusable}):
        old, new = record.ranges.get(name), today.get(name)
        if name in unusable:
            if name in now.inputs:  # of one that is gone, the value is told
                yield _change(name, old or before.ranges.get(name), f"{unusable[name]}, {NOT_USABLE}")
        elif old == new or not alike(record.inputs.get(name), _number(now, name)):
            continue
        elif (
            (old and new)
            or alone
            or _is_cause(name, before.source(name, record.origins), after.source(name, now.origins))
        ):
            yield _change(name, old, new)


@dataclass(frozen=True)
class _Given:
    """Values and ranges that were given, the stronger ones over the weaker.

    Attributes
    ----------
    names : frozenset of str
        Names of the values.
    ranges : mapping
        The ranges that count, as text, by dotted name.
    """

    names: frozenset[str]
    ranges: Mapping[str, str]

    @classmethod
    def of(cls, layers: Iterable[RecordedLayer]) -> _Given:
        """Merge layers, the weakest first."""
        names: set[str] = set()
        ranges: dict[str, str] = {}
        for layer in layers:
            for name in layer.values:  # given anew, it is not the value that the range was of
                ranges.pop(name, None)
            names.update(layer.values)
            ranges.update(layer.ranges)
        return cls(frozenset(names), ranges)

    def source(self, name: str, origins: Mapping[str, str]) -> Source:
        """Return where an input's range is from, or its value where it has none of its own."""
        if name in self.ranges:
            return "range"
        if name in self.names:
            return "value"
        return "table" if origins.get(name) == "assumption" else "worked out"


def _is_cause(name: str, before: Source, after: Source) -> bool:
    """Return whether an input is varied, or no longer, by itself and not because of another change."""
    if before != after:
        return "worked out" not in (before, after)
    return before == "table" and own_range(assumption_table()[name]) is None


def _today(now: Scenario, given: Mapping[str, str], costing: Costing) -> tuple[dict[str, str], dict[str, str]]:
    """Return what is varied today, and given ranges that can't stand with the values of today."""
    varied_inputs(now, costing)  # by itself, so that what fails below is the given range
    usable: dict[str, Spread] = {}
    unusable: dict[str, str] = {}
    for name, text in given.items():
        try:
            (range_,) = check_ranges({name: text}, where="quote").values()
            spread = spread_of(assumption_table()[name], now.inputs.number(name), range_, where="quote")
            varied_inputs(replace(now, ranges={name: spread}), costing)
        except (EvenrunError, KeyError):
            unusable[name] = text
        else:
            usable[name] = spread
    return range_texts(replace(now, ranges=usable), costing), unusable


def _recorded(layer: Layer) -> RecordedLayer:
    return RecordedLayer(
        "plant", layer.label, layer.values, ranges={name: str(range_) for name, range_ in layer.ranges.items()}
    )


def _change(name: str, before: str | None, after: str | None) -> Change:
    return Change("range", f"range of {name}", before, after, "", dict(NO_EFFECT))


def _number(scenario: Scenario, name: str) -> float | None:
    return scenario.inputs.number(name) if name in scenario.inputs else None


def _text(spread: Spread) -> str:
    return f"{_digits(spread.low)}..{_digits(spread.high)} {spread.shape}"


def _digits(end: float) -> str:
    """Return six digits of an end: what another machine rounds otherwise is no change."""
    return f"{float(f'{end:.6g}'):.12g}"
