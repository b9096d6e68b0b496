"""Which line of a drawing is which kind: a small file per client, and suggestions for who writes it.

Nothing is guessed into a kind. A line has one because the client's file says so, because its
processing step is one that ISO 19593-1 names, or because its code of tool data is documented. The
rest stays unmapped and counts as nothing until somebody confirms what it is.
"""

from __future__ import annotations

import contextlib
import re
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from compare.data_files import read_table
from compare.errors import FileError, Finding, InputError, unknown_name
from compare.geometry.line_kinds import LineKind, line_kind
from compare.geometry.strokes import Group
from compare.readers.line_words import suggest

_KEYS = ("layer", "colour", "linetype", "step", "code")
_MAX_BYTES = 1_000_000
_MAX_RULES = 10_000
_KNOWN_WEIGHT = (1, 0, 0)
"""A step of the standard and a documented code weigh as much as one key given in full."""

_NAME_SAID = 200
"""Characters of a name that a message repeats."""


@dataclass(frozen=True)
class Rule:
    """Lines of a drawing that are of one kind.

    A key that is None fits anything; a key that is empty fits lines that have none. Capitals and
    the way accents are encoded make no difference.

    Attributes
    ----------
    kind : LineKind
        What these lines are.
    layer : str or None
        Name of the layer; ``*`` stands for any characters.
    colour : str or None
        ``#rrggbb``.
    linetype : str or None
        Name of the line type.
    step : str or None
        Processing step, its group and type with a slash between: ``Structural/Cutting``; a group
        without types alone.
    code : str or None
        Code of a cut type in tool data.
    """

    kind: LineKind
    layer: str | None = None
    colour: str | None = None
    linetype: str | None = None
    step: str | None = None
    code: str | None = None

    def __str__(self) -> str:
        """Return the rule as one would say it."""
        said = ", ".join(f"{key} '{text}'" for key in _KEYS if (text := getattr(self, key)) is not None)
        return f"{said} is {self.kind}"

    def fits(self, group: Group) -> bool:
        """Tell whether every key given fits a group of lines."""
        return self.fits_what(_said(group))

    def fits_what(self, says: Mapping[str, str]) -> bool:
        """Tell whether every key given fits what a group of lines says, key by key in small letters."""
        if self.layer is not None and not _like(_plain(self.layer), says["layer"]):
            return False
        rest = ((key, getattr(self, key)) for key in _KEYS[1:])
        return all(text is None or _plain(text) == says[key] for key, text in rest)

    @property
    def weight(self) -> tuple[int, int, int]:
        """How specific the rule is: keys given in full, keys with ``*``, characters beside the ``*``."""
        wild = self.layer is not None and "*" in self.layer
        given = sum(getattr(self, key) is not None for key in _KEYS)
        return given - wild, int(wild), len(_plain(self.layer or "").replace("*", "")) if wild else 0


@dataclass(frozen=True)
class LineMap:
    """The rules of one client.

    Attributes
    ----------
    name : str
        Whose drawings it is for.
    rules : tuple of Rule
        Their order makes no difference.
    where : str
        The file, for messages.
    """

    name: str = ""
    rules: tuple[Rule, ...] = ()
    where: str = "line map"


# -- matching ---------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=10_000)
def _plain(text: str) -> str:
    return unicodedata.normalize("NFC", text.strip()).casefold()


def _said(group: Group) -> dict[str, str]:
    step = f"{group.step_group}/{group.step_type}" if group.step_type else group.step_group
    texts = (group.layer, group.colour, group.linetype, step, group.code)
    return {key: _plain(text) for key, text in zip(_KEYS, texts, strict=True)}


def _like(pattern: str, text: str) -> bool:
    """Match a pattern with ``*`` piece by piece, in time that no pattern can blow up."""
    first, *rest = pattern.split("*")
    if not rest:
        return pattern == text
    *middle, last = rest
    if len(text) < len(first) + len(last) or not text.startswith(first) or not text.endswith(last):
        return False
    place, end = len(first), len(text) - len(last)
    for piece in middle:
        found = text.find(piece, place, end)
        if found < 0:
            return False
        place = found + len(piece)
    return True


@cache
def _known() -> dict[tuple[str, str], LineKind]:
    """Return what needs no confirmation: steps that the standard names, codes that are documented."""
    steps = (
        ("step", _step(row["group"], row["type"]), row["kind"])
        for row in read_table("processing_steps.csv")
        if row["sure"] == "yes"
    )
    codes = (("code", row["code"], row["kind"]) for row in read_table("cut_type_codes.csv"))
    return {(key, _plain(text)): line_kind(kind, where="table of known lines") for key, text, kind in (*steps, *codes)}


def _step(group: str, kind: str) -> str:
    return f"{group}/{kind}" if kind else group


def apply(line_map: LineMap, groups: Sequence[Group]) -> tuple[LineKind | None, ...]:
    """Find the kind of each group of lines.

    Parameters
    ----------
    line_map : LineMap
        The client's rules.
    groups : sequence of Group
        Groups of a drawing.

    Returns
    -------
    tuple
        A kind per group; None where nothing says what it is.

    Raises
    ------
    InputError
        If two rules fit a group equally well and say different kinds.

    Notes
    -----
    The most specific rule decides: first the number of keys given in full, then a key with ``*``,
    then the characters beside the ``*``. A processing step of ISO 19593-1 and a documented code
    weigh as much as one key given in full; a rule of the client that weighs the same goes before.
    """
    return tuple(_kind(line_map, group) for group in groups)


def _kind(line_map: LineMap, group: Group) -> LineKind | None:
    says = _said(group)
    known = _known().get(("step", says["step"])) or _known().get(("code", says["code"]))
    if known is None:  # a group that has no types is what it is, whatever type a writer added
        known = _known().get(("step", _plain(group.step_group)))
    fitting = [rule for rule in line_map.rules if rule.fits_what(says)]
    weight = max((rule.weight for rule in fitting), default=(0, 0, 0))
    if not fitting or (known and weight < _KNOWN_WEIGHT):
        return known
    first, *others = (rule for rule in fitting if rule.weight == weight)
    for other in others:
        if other.kind != first.kind:
            raise InputError(
                f"two rules fit the lines of {_called(group)} equally well: {first}; {other}",
                where=line_map.where,
                remedy="take one out, or give one of them another key",
            )
    return first.kind


def _called(group: Group) -> str:
    """Name a group of lines for a message."""
    step = _step(group.step_group, group.step_type)
    said = [
        f"{word} '{text[:_NAME_SAID]}'"
        for word, text in (("step", step), ("code", group.code), ("layer", group.layer), ("line type", group.linetype))
        if text
    ]
    return ", ".join(said + ([group.colour] if group.colour else [])) or "no layer"


def unmapped_findings(groups: Sequence[Group], kinds: Sequence[LineKind | None]) -> tuple[Finding, ...]:
    """Say which groups of lines count as nothing because nobody has said what they are.

    Parameters
    ----------
    groups : sequence of Group
        Groups of a drawing.
    kinds : sequence of LineKind or None
        Kind of each, as :func:`apply` returns it.

    Returns
    -------
    tuple of Finding
    """
    offers = suggest(groups)
    found = []
    for group, kind, offer in zip(groups, kinds, offers, strict=True):
        if kind is None:
            remedy = f"confirm that they are {offer.kind}, or map them" if offer else "map them to a kind of line"
            message = f"The lines of {_called(group)} are not mapped and count as nothing: {remedy}."
            found.append(Finding("drawing.unmapped_layer", message, group.layer, "caution"))
    return tuple(found)


def rule_for(group: Group, kind: LineKind) -> Rule:
    """Return the rule that a user confirms for a group: its step or code, else all that tells it apart."""
    if group.step_group:
        return Rule(kind, step=_step(group.step_group, group.step_type))
    if group.code:
        return Rule(kind, layer=group.layer or None, code=group.code)
    return Rule(kind, layer=group.layer, colour=group.colour, linetype=group.linetype)


# -- files ------------------------------------------------------------------------------------------------------------


def load_line_map(path: Path) -> LineMap:
    """Read the line map of a client.

    Parameters
    ----------
    path : Path
        A TOML file: ``name``, and a table ``[[line]]`` per rule with ``kind`` and one key or more of
        ``layer``, ``colour``, ``linetype``, ``step`` and ``code``.

    Returns
    -------
    LineMap

    Raises
    ------
    FileError
        If it is missing, too large or can't be read.
    InputError
        If it is not TOML, or a rule can't be used.
    """
    where = path.name
    try:
        with path.open("rb") as file:
            raw = file.read(_MAX_BYTES + 1)
    except OSError as error:
        raise FileError(
            f"the line map can't be read ({error.strerror})", where=where, remedy="check the path"
        ) from None
    if len(raw) > _MAX_BYTES:
        raise FileError("the line map is over 1 MB", where=where, remedy="this is no line map")
    try:
        tree = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError("the line map is not UTF-8 text", where=where, remedy="save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the line map is not TOML: {error}", where=where, remedy="mend that line") from None
    except (ValueError, RecursionError):  # a number of thousands of digits; tables nested without end
        raise InputError(
            "the line map can't be read", where=where, remedy="write one table [[line]] per rule"
        ) from None
    return _line_map(tree, where=where)


def _line_map(tree: dict[str, Any], *, where: str) -> LineMap:
    for key in tree:
        if key not in ("name", "note", "line"):
            raise unknown_name(key, ("name", "note", "line"), where=where, what="entry of a line map")
    name, lines = tree.get("name", ""), tree.get("line", [])
    if not isinstance(name, str):
        raise InputError("name is no text", where=where, remedy="put it in quotes")
    if not isinstance(lines, list) or not all(isinstance(line, dict) for line in lines):
        raise InputError("line is no list of tables", where=where, remedy="head each rule with [[line]]")
    if len(lines) > _MAX_RULES:
        raise InputError(f"there are over {_MAX_RULES:,} rules", where=where, remedy="use * for names that begin alike")
    return LineMap(name, tuple(_rule(line, where=f"{where}, rule {i}") for i, line in enumerate(lines, 1)), where)


def _rule(line: dict[str, Any], *, where: str) -> Rule:
    for key in line:
        if key not in ("kind", "note", *_KEYS):
            raise unknown_name(key, ("kind", "note", *_KEYS), where=where, what="key of a rule")
    if "kind" not in line:
        raise InputError("the rule has no kind", where=where, remedy='say what the lines are, such as kind = "cutting"')
    keys: dict[str, str] = {}
    for key in _KEYS:
        if key in line:
            value = line[key]
            if key == "code" and type(value) is int:
                value = str(value)
            if not isinstance(value, str):
                raise InputError(f"{key} is no text", where=where, remedy="put it in quotes")
            keys[key] = value
    if not keys:
        raise InputError("the rule says no lines", where=where, remedy=f"give one of {', '.join(_KEYS)}")
    colour = keys.get("colour", "")
    if colour and not re.fullmatch(r"#[0-9a-fA-F]{6}", colour.strip()):
        raise InputError(f"colour is '{colour}'", where=where, remedy="write it as #rrggbb")
    return Rule(line_kind(line["kind"], where=where), **keys)


def line_map_text(line_map: LineMap) -> str:
    """Return a line map as the text of its file.

    Raises
    ------
    InputError
        If a name holds bytes that are no text.
    """
    parts = [f"name = {_quoted(line_map.name, line_map.where)}\n"]
    for rule in line_map.rules:
        given = [(key, text) for key in _KEYS if (text := getattr(rule, key)) is not None]
        lines = [f"{key} = {_quoted(text, line_map.where)}\n" for key, text in (*given, ("kind", rule.kind))]
        parts.append("\n[[line]]\n" + "".join(lines))
    return "".join(parts)


def save_line_map(path: Path, line_map: LineMap) -> None:
    """Write the line map of a client, in one go: a failure leaves the file that was there.

    Raises
    ------
    FileError
        If it can't be written.
    InputError
        If a name holds bytes that are no text.
    """
    text = line_map_text(line_map)
    draft = path.with_name(path.name + ".new")
    try:
        draft.write_bytes(text.encode("utf-8"))
        draft.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise FileError(
            f"the line map can't be written ({error.strerror})", where=path.name, remedy="check the folder"
        ) from None


def _quoted(text: str, where: str) -> str:
    """Return a text as a TOML string."""
    if any(0xD800 <= ord(c) <= 0xDFFF for c in text):
        raise InputError(
            "a name holds bytes that are no text", where=where, remedy="put * in their place in the name of the layer"
        )
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 0x20 or ord(c) == 0x7F else c for c in escaped) + '"'
