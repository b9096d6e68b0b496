"""Job and plant files: TOML tables of dotted names."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from compare.assumptions import assumption_table
from compare.errors import FileError, InputError, unknown_name
from compare.names import flatten, parse_setting

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
    """

    label: str
    values: Mapping[str, Any] = field(default_factory=dict)
    about: Mapping[str, str] = field(default_factory=dict)
    folder: Path | None = None
    drawn: DrawnCarton | None = None


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
        tree = tomllib.loads(raw.decode("utf-8-sig"))
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
    about = {}
    for key in _ABOUT:
        if key in tree:
            if not isinstance(tree[key], str):
                raise InputError(f"{key} is not a text", where=where, remedy="put it in quotes")
            about[key] = tree.pop(key)
    loose = [key for key, value in tree.items() if not isinstance(value, Mapping) and "." not in key]
    if loose:
        raise unknown_name(loose[0], (*_ABOUT, *assumption_table()), where=where)
    return Layer(where, check_values(flatten(tree), where=where), about, path.parent)


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
