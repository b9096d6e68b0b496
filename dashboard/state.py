"""What a view shows, in its address: every input that differs from what a new page opens with.

An address is untrusted: names and values are checked like those of a file. It carries the digest of the
tables and plant it was made with, so that a later reader is told when these have changed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType
from urllib.parse import parse_qsl, urlencode

from compare.assumptions import assumption_table
from compare.data_files import data_digest, data_folder
from compare.decide.comparison import Comparison, compare
from compare.decide.draws import shares
from compare.decide.uncertainty import SEED, Uncertainty, uncertainty
from compare.errors import EvenrunError, InputError
from compare.present.charts import chart_grid
from compare.present.wording import ended
from compare.readers.jobfile import Layer, check_ranges, check_values, number_or_text, read_file
from compare.scenario import Scenario, prepare
from compare.valuation.money import Costing
from dashboard.settings import Settings

COSTING_KEY, DIGEST_KEY, FIND_KEY = "costing", "tables", "find"
RANGE_KEY = "between."
"""Before the dotted name, in the address: the range that the value may lie in."""

DRAWS = 1_024
"""Draws of a view: few enough to follow while one types; the command line takes more."""

_MAX_LINK, _MAX_PAIRS = 8_000, 400
_LONGEST_SEARCH = 80

Overrides = Mapping[str, float | str]
Ranges = Mapping[str, str]
"""Dotted name to a range as it is written: ``4000..9000``, ``4000..9000 pert``, ``lognormal 1.2``, ``fixed``."""


_NO_RANGES: Ranges = MappingProxyType({})


@dataclass(frozen=True)
class State:
    """Inputs of a view.

    Attributes
    ----------
    overrides : mapping
        Dotted name to value, where it differs from a new page.
    costing : {"full", "cash"}
        Which machine rates count.
    notes : tuple of str
        What the reader has to know of the link.
    ranges : mapping
        Dotted name to the range that was given for its value.
    find : str
        What the reader came to look for among the assumptions; no input, and in no link that is written.
    """

    overrides: Overrides
    costing: Costing = "full"
    notes: tuple[str, ...] = ()
    ranges: Ranges = field(default_factory=dict)
    find: str = ""


@lru_cache(maxsize=1)
def starter() -> Layer:
    """Return the job that a new page opens with."""
    layer = read_file(data_folder() / "starter.toml", kind="job")
    return Layer("new page", layer.values, layer.about, ranges=layer.ranges)


def tables_digest(settings: Settings) -> str:
    """Return a digest of the tables, the plant and the starter job: what an address does not hold."""
    layers = (settings.plant, starter())
    ranges = [{name: str(given) for name, given in layer.ranges.items()} for layer in layers]
    own = json.dumps([*(dict(layer.values) for layer in layers), *ranges], sort_keys=True)
    return hashlib.sha256((data_digest() + own).encode()).hexdigest()[:12]


def scenario_of(overrides: Overrides, settings: Settings, ranges: Ranges = _NO_RANGES) -> Scenario:
    """Prepare the scenario of a state.

    Raises
    ------
    EvenrunError
        If values are missing or contradict one another, or a value lies outside the range that was given for it.
    """
    return prepare(settings.plant, *_layers(overrides, ranges))


def job_layers(view: State) -> list[Layer]:
    """Return what a state says of its job, from the weakest to the strongest: the plant's values come before."""
    return _layers(view.overrides, view.ranges)


def _layers(overrides: Overrides, ranges: Ranges) -> list[Layer]:
    given = check_ranges(ranges, where="this page")
    return [starter(), Layer("this page", overrides, ranges=given)]


def comparison_of(view: State, settings: Settings) -> Comparison:
    """Return the comparison of a state; what was computed lately is at hand.

    Raises
    ------
    EvenrunError
        If values are missing or contradict one another.
    """
    return _comparison(*_key(view), settings)


def ready_draws() -> None:
    """Load what draws need, and make those of a view: they are the same for every job."""
    shares([0], DRAWS, SEED)


def uncertainty_of(view: State, settings: Settings) -> Uncertainty:
    """Return how sure the comparison of a state is, with bands at the points of its break-even chart; kept likewise.

    Raises
    ------
    EvenrunError
        If values or ranges contradict one another.
    """
    return _uncertainty(*_key(view), settings)


_Key = tuple[tuple[tuple[str, float | str], ...], tuple[tuple[str, str], ...], Costing]


def _key(view: State) -> _Key:
    return tuple(sorted(view.overrides.items())), tuple(sorted(view.ranges.items())), view.costing


@lru_cache(maxsize=256)
def _comparison(
    overrides: tuple[tuple[str, float | str], ...],
    ranges: tuple[tuple[str, str], ...],
    costing: Costing,
    settings: Settings,
) -> Comparison:
    return compare(scenario_of(dict(overrides), settings, dict(ranges)), costing)


@lru_cache(maxsize=128)
def _uncertainty(
    overrides: tuple[tuple[str, float | str], ...],
    ranges: tuple[tuple[str, str], ...],
    costing: Costing,
    settings: Settings,
) -> Uncertainty:
    c = _comparison(overrides, ranges, costing, settings)
    return uncertainty(c, draws=DRAWS, seed=SEED, run_lengths=chart_grid(c))


@lru_cache(maxsize=16)
def base_values(settings: Settings) -> Mapping[str, float | str]:
    """Return what a new page opens with, by dotted name."""
    table = {name: row.value for name, row in assumption_table().items() if row.value is not None}
    return MappingProxyType({**table, **settings.plant.values, **starter().values})


def differing(values: Overrides, settings: Settings) -> dict[str, float | str]:
    """Return the values that differ from a new page."""
    base = base_values(settings)
    return {name: value for name, value in values.items() if base.get(name, "") != value}


def write_link(state: State, settings: Settings) -> str:
    """Return the search part of an address for a state, starting with ``?``; empty for a new page."""
    pairs = [(name, _write(value)) for name, value in sorted(state.overrides.items())]
    pairs += [(RANGE_KEY + name, text) for name, text in sorted(state.ranges.items())]
    if state.costing != "full":
        pairs.append((COSTING_KEY, state.costing))
    if not pairs:
        return ""
    return "?" + urlencode([*pairs, (DIGEST_KEY, tables_digest(settings))])


def read_link(search: str | None, settings: Settings) -> State:
    """Read the search part of an address.

    Parameters
    ----------
    search : str or None
        With or without its ``?``.
    settings : Settings
        What the server was started with.

    Returns
    -------
    State
        What could be used; notes say what could not, and whether tables have changed since.
    """
    text = (search or "").removeprefix("?")
    if len(text) > _MAX_LINK:
        return State({}, notes=("This link is too long to be one of ours; a new page is shown.",))
    overrides: dict[str, float | str] = {}
    ranges: dict[str, str] = {}
    costing: Costing = "full"
    find, notes = "", []
    try:
        pairs = parse_qsl(text, keep_blank_values=True, max_num_fields=_MAX_PAIRS)
    except ValueError:
        return State({}, notes=("This link holds too much to be one of ours; a new page is shown.",))
    for name, value in pairs:
        if name == COSTING_KEY:
            costing = "cash" if value == "cash" else "full"
        elif name == DIGEST_KEY:
            if value != tables_digest(settings):
                notes.append("Assumptions, factors or the plant's values have changed since this link was made.")
        elif name == FIND_KEY:
            find = value[:_LONGEST_SEARCH]
        else:
            try:
                if name.startswith(RANGE_KEY):
                    ranges.update(read_ranges({name.removeprefix(RANGE_KEY): value}, where="link"))
                else:
                    overrides.update(check_values({name: number_or_text(name, value)}, where="link"))
            except EvenrunError as error:
                notes.append(ended(f"Left out of this link: {error.what}{f'; {error.remedy}' if error.remedy else ''}"))
    return State(overrides, costing, tuple(notes), ranges, find)


def read_ranges(texts: Mapping[str, object], *, where: str) -> dict[str, str]:
    """Check ranges that came as text, and return each in the one way it is written.

    Raises
    ------
    EvenrunError
        If a name is unknown, or a range can't be read.
    """
    for name, text in texts.items():
        if not isinstance(text, str):
            raise InputError(f"the range of {name} is no text", where=where, remedy="load the page again")
    return {
        name: str(given) for name, given in check_ranges({n: str(t) for n, t in texts.items()}, where=where).items()
    }


def _write(value: float | str) -> str:
    return (
        value if isinstance(value, str) else repr(value).removesuffix(".0")
    )  # every digit, so that figures are the same


def to_json(state: State) -> dict[str, object]:
    """Return a state as plain data for the browser."""
    return {"overrides": dict(state.overrides), "costing": state.costing, "ranges": dict(state.ranges)}


def from_json(data: object) -> State:
    """Read a state that came back from the browser; it is checked like an address.

    Raises
    ------
    InputError
        If it is not what :func:`to_json` gave.
    """
    ranges = data.get("ranges", {}) if isinstance(data, dict) else None
    if not isinstance(data, dict) or not isinstance(data.get("overrides"), dict) or not isinstance(ranges, dict):
        raise InputError("the page's state can't be read", where="page", remedy="load the page again")
    costing: Costing = "cash" if data.get("costing") == "cash" else "full"
    return State(check_values(data["overrides"], where="page"), costing, ranges=read_ranges(ranges, where="page"))
