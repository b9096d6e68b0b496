"""Job and plant files: TOML tables of dotted names."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from compare.assumptions import assumption_table
from compare.errors import FileError, InputError, unknown_name
from compare.names import flatten, parse_setting
from compare.spread import Given, given, read_given

if TYPE_CHECKING:
    from compare.readers.drawn_carton import DrawnCarton

_ABOUT = ("name", "note")
"""Texts a file may carry about itself, outside any table."""

_MAX_BYTES = 1_000_000


@dataclass(frozen=True)
class Layer:
    """Values from one place; later layers cover earlier ones.

    Attributes
    ----------
    label : str
        Where the values were given, as the user knows it.
    values : mapping
        Dotted name to number or text, checked one by one.
    about : mapping
        ``name`` and ``note`` of the file.
    folder : Path or None
        Where paths in the values start; None where none may be named.
    drawn : DrawnCarton or None
        The carton of a drawing that the values name, once it is read.
    ranges : mapping
        Dotted name to the range that was given for its value.
    """

    label: str
    values: Mapping[str, Any] = field(default_factory=dict)
    about: Mapping[str, str] = field(default_factory=dict)
    folder: Path | None = None
    drawn: DrawnCarton | None = None
    ranges: Mapping[str, Given] = field(default_factory=dict)


def check_values(values: Mapping[str, Any], *, where: str) -> dict[str, Any]:
    """Check names and values one by one.

    Raises
    ------
    UnknownNameError
        If a name is not in the table of assumptions.
    InputError
        If a value is not fit for its name.
    """
    table = assumption_table()
    fit: dict[str, Any] = {}
    for name, value in values.items():
        if name not in table:
            raise unknown_name(name, table, where=where)
        row = table[name]
        if row.is_text:
            if not isinstance(value, str):
                raise InputError(f"{name} is {value!r}, which is not a text", where=where, remedy="put it in quotes")
            options = row.valid.split("|")
            left_out = value == "" and row.value is None  # an empty text takes back what a weaker layer gave
            if len(options) > 1 and value not in options and not left_out:
                raise unknown_name(value, options, where=f"{where}, {name}", what="choice")
            fit[name] = value
        elif name.startswith("factors.") and isinstance(value, str):
            fit[name] = value  # keys of the factor table, looked up where the set is known
        elif isinstance(value, (list, tuple)):
            raise InputError(f"{name} is a list, which is not a number", where=where, remedy="give one number")
        else:
            fit[name] = row.check(value, where=where)
    return fit


def read_file(path: Path, *, kind: str) -> Layer:
    """Read a job or plant file.

    Parameters
    ----------
    path : Path
        The file.
    kind : {"job", "plant"}
        What it is, for messages.

    Returns
    -------
    Layer

    Raises
    ------
    FileError
        If it is missing, no file, or can't be read.
    InputError
        If it is not TOML or holds a name or value that can't be used.
    """
    where = str(path)
    tree = _read_toml(path, kind)
    about = {}
    for key in _ABOUT:
        if key in tree:
            if not isinstance(tree[key], str):
                raise InputError(f"{key} is not a text", where=where, remedy="put it in quotes")
            about[key] = tree.pop(key)
    loose = [key for key, value in tree.items() if not isinstance(value, Mapping) and "." not in key]
    if loose:
        raise unknown_name(loose[0], (*_ABOUT, *assumption_table()), where=where)
    values, parts = _apart(flatten(tree))
    fit, ranges = check_values(values, where=where), {}
    for name, of_range in parts.items():
        ranges[_with_range(name, where=where)] = given(of_range, name=name, where=where)
    return Layer(where, fit, about, path.parent, ranges=ranges)


def _read_toml(path: Path, kind: str) -> dict[str, Any]:
    where = str(path)
    try:
        with path.open("rb") as file:
            raw = file.read(_MAX_BYTES + 1)
    except IsADirectoryError:
        raise FileError(
            f"this is a folder, not a {kind} file", where=where, remedy=f"name the {kind} file in it"
        ) from None
    except FileNotFoundError:
        raise FileError(f"there is no such {kind} file", where=where, remedy="check the path") from None
    except OSError as error:
        raise FileError(
            f"the {kind} file can't be read ({error.strerror})", where=where, remedy="check its rights"
        ) from None
    if len(raw) > _MAX_BYTES:
        raise FileError(f"the {kind} file is over 1 MB", where=where, remedy="this is no job or plant file")
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(f"the {kind} file is not UTF-8 text", where=where, remedy="save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the {kind} file is not TOML: {error}", where=where, remedy="mend that line") from None
    except ValueError:  # a whole number of thousands of digits
        raise InputError(f"the {kind} file holds a number too long to read", where=where, remedy="shorten it") from None
    except RecursionError:
        raise InputError(
            f"the {kind} file is nested too deeply", where=where, remedy="write one table per group"
        ) from None


_PARTS = ("low", "high", "shape", "gsd2", "pedigree", "basic")


def _apart(flat: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, dict[str, Any]]]:
    """Tell values from ranges, as in ``run_length = { value = 6000, low = 4000, high = 9000 }``."""
    values: dict[str, Any] = {}
    parts: dict[str, dict[str, Any]] = {}
    for name, value in flat.items():
        stem, _, last = name.rpartition(".")
        if last == "value" and "." in stem:
            values[stem] = value
        elif last in _PARTS and "." in stem:
            parts.setdefault(stem, {})[last] = value
        else:
            values[name] = value
    return values, parts


def _with_range(name: str, *, where: str) -> str:
    """Return a name that may have a range, or raise."""
    table = assumption_table()
    if name not in table:
        raise unknown_name(name, table, where=where)
    if table[name].is_text:
        raise InputError(f"{name} is a text and has no range", where=where, remedy="leave the range out")
    return name


def check_ranges(texts: Mapping[str, str], *, where: str) -> dict[str, Given]:
    """Read ranges that came as text, by dotted name.

    Raises
    ------
    UnknownNameError
        If a name is not in the table of assumptions.
    InputError
        If a range can't be read.
    """
    return {name: read_given(text, name=_with_range(name, where=where), where=where) for name, text in texts.items()}


def ranges_of(layers: Iterable[Layer]) -> dict[str, tuple[Given, str]]:
    """Return the ranges that count, and where each was given, by dotted name; layers from the weakest to the strongest.

    A value that is given anew is not the one that a weaker layer's range was of, and takes that range away.
    """
    ranges: dict[str, tuple[Given, str]] = {}
    for layer in layers:
        for name in layer.values:
            ranges.pop(name, None)
        ranges.update({name: (range_, layer.label) for name, range_ in layer.ranges.items()})
    return ranges


def ranges_layer(settings: list[str]) -> Layer:
    """Read ``name=low..high`` ranges of the command line."""
    texts = dict(
        parse_setting(setting, option="--between", example="demand.run_length=4000..9000") for setting in settings
    )
    return Layer("--between", ranges=check_ranges(texts, where="--between"), folder=Path())


def settings_layer(settings: list[str]) -> Layer:
    """Read ``name=value`` settings of the command line."""
    values = {name: number_or_text(name, value) for name, value in map(parse_setting, settings)}
    return Layer("--set", check_values(values, where="--set"), folder=Path())


def number_or_text(name: str, text: str) -> float | str:
    """Read a value that came as text: a number for a number's name, else the text as it is.

    Text that is no number is left for :func:`check_values`, which says so in a full sentence.
    """
    row = assumption_table().get(name)
    if row is None or row.is_text:
        return text
    try:
        return float(text.replace("_", ""))
    except ValueError:
        return text
