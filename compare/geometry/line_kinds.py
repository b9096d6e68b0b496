"""The kinds of line of a carton: what the engine counts, and how a picture tells them apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, TypeGuard, get_args

from compare.errors import InputError, unknown_name

LineKind = Literal[
    "cutting", "creasing", "cutting_creasing", "perforating", "partial_cutting", "varnish_release", "ignored"
]
"""What a line is; ``ignored`` is no path to run: dimensions, bleed, gluing, a legend."""

IGNORED: LineKind = "ignored"

ALL_KINDS: tuple[LineKind, ...] = get_args(LineKind)
"""Every kind, in the order of tables and legends."""

RUN_KINDS: tuple[LineKind, ...] = tuple(kind for kind in ALL_KINDS if kind != IGNORED)
"""The kinds that a tool or a beam runs along."""

BEAM_KINDS: tuple[LineKind, ...] = tuple(kind for kind in RUN_KINDS if kind != "creasing")
"""Kinds that a beam runs along; creases are made by the crease set."""

FULL_DEPTH: tuple[LineKind, ...] = ("cutting", "cutting_creasing", "perforating")
"""Kinds of line that a beam runs through the whole caliper, ties included."""

DEPTH_CLASSES: tuple[tuple[LineKind, ...], ...] = (FULL_DEPTH, ("partial_cutting",), ("varnish_release",))
"""Kinds that a beam runs at one depth, and so at one speed."""


@dataclass(frozen=True)
class LinePen:
    """How a kind of line is called and drawn: by its stroke first, by its tone second.

    Attributes
    ----------
    label : str
        What it is called in a legend.
    dash : str
        ``solid``, ``dash``, ``dot``, ``dashdot`` or ``longdash``.
    width : float
        Width of the stroke [px].
    tone : str
        ``ink``, ``crease`` or ``quiet``: a colour of the palette by its part, so that both schemes serve.
    """

    label: str
    dash: str
    width: float
    tone: str


LINE_PENS: Mapping[LineKind, LinePen] = MappingProxyType({
    "cutting": LinePen("cutting", "solid", 1.8, "ink"),
    "creasing": LinePen("creasing", "dash", 1.6, "crease"),
    "cutting_creasing": LinePen("cutting-creasing", "dashdot", 1.6, "crease"),
    "perforating": LinePen("perforating", "dot", 1.8, "ink"),
    "partial_cutting": LinePen("partial cutting", "solid", 0.9, "quiet"),
    "varnish_release": LinePen("varnish release", "dot", 0.9, "quiet"),
    "ignored": LinePen("left out", "longdash", 0.6, "quiet"),
})  # fmt: skip

SHEET_EDGE, UNMAPPED = "sheet", "unmapped"
"""What a picture shows beside the kinds of line."""

_SHEET_PEN = LinePen("sheet", "solid", 1.0, "quiet")

UNMAPPED_PEN = LinePen("not mapped?", "solid", 3.2, "quiet")
"""Lines that nobody has said anything about: thick, so that they are seen."""


def pen_of(kind: str) -> LinePen:
    """Return how a kind of line, the edge of a sheet, or a line that nobody mapped is drawn."""
    if kind == SHEET_EDGE:
        return _SHEET_PEN
    return LINE_PENS[kind] if is_line_kind(kind) else UNMAPPED_PEN


def is_line_kind(text: str) -> TypeGuard[LineKind]:
    """Tell whether a text names a kind of line."""
    return text in ALL_KINDS


def line_kind(text: object, *, where: str) -> LineKind:
    """Return the kind of line that a text names.

    Raises
    ------
    UnknownNameError
        If there is no such kind.
    InputError
        If it is no text.
    """
    if not isinstance(text, str):
        raise InputError("the kind of line is no text", where=where, remedy="put it in quotes")
    if not is_line_kind(text):
        raise unknown_name(text, ALL_KINDS, where=where, what="kind of line")
    return text


def work_name(kind: LineKind) -> str:
    """Return the dotted name that the length of a kind is counted under, such as ``work.cutting_m``.

    Raises
    ------
    InputError
        If the kind is not run at all.
    """
    if kind == IGNORED:
        raise InputError("lines left out have no length to count", where="kind of line", remedy="map them to a kind")
    return f"work.{kind}_m"


def label_of(kind: LineKind | None) -> str:
    """Return what a kind of line is called; None is a line that nobody has mapped."""
    return UNMAPPED_PEN.label if kind is None else LINE_PENS[kind].label


def in_order(kinds: Iterable[LineKind]) -> tuple[LineKind, ...]:
    """Return the kinds given, each once, in the order of tables and legends."""
    given = set(kinds)
    return tuple(kind for kind in ALL_KINDS if kind in given)
