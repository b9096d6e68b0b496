"""Layers of a PDF: optional content groups, what they are called, which step they are, and whether they are shown."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pikepdf

_MOST = 10_000
"""No list of layers, pages or names is followed further."""


def get(thing: Any, key: str) -> Any:
    """Return an entry of a dictionary or stream; None where there is none, or no dictionary."""
    return thing.get(key) if isinstance(thing, (pikepdf.Dictionary, pikepdf.Stream)) else None


def items(thing: Any) -> Iterator[Any]:
    """Return what is in an array; a thing that is none stands for itself, as the format often allows."""
    if isinstance(thing, pikepdf.Array):
        for n in range(min(len(thing), _MOST)):
            yield thing[n]
    elif thing is not None:
        yield thing


def text_of(thing: Any) -> str:
    """Return a name without its slash, or a text; empty for anything else.

    Names of old files may be in any encoding; what is no UTF-8 is taken for Latin letters.
    """
    if isinstance(thing, (pikepdf.Name, pikepdf.String)):
        try:
            text = str(thing)
        except UnicodeDecodeError:
            text = (thing.unparse() if isinstance(thing, pikepdf.Name) else bytes(thing)).decode("latin-1")
        return " ".join((text[1:] if isinstance(thing, pikepdf.Name) else text).split())[:200]
    return ""


def number_of(thing: Any, otherwise: float) -> float:
    """Return a number."""
    return float(thing) if isinstance(thing, (int, float, Decimal)) and not isinstance(thing, bool) else otherwise


def numbers_of(thing: Any) -> list[float]:
    """Return an array of numbers; empty where anything in it is none."""
    numbers = [number_of(item, math.nan) for item in items(thing)]
    return [] if any(map(math.isnan, numbers)) else numbers


@dataclass(frozen=True, eq=False)
class Layer:
    """One optional content group.

    Attributes
    ----------
    name : str
        Its name; numbered where others before it have the same.
    step_group, step_type : str
        Processing step by ISO 19593-1, empty where it is none.
    hidden : bool
        Whether the file switches it off.
    """

    name: str
    step_group: str
    step_type: str
    hidden: bool


class Layers:
    """The optional content groups of a document."""

    def __init__(self, root: Any) -> None:
        properties = get(root, "/OCProperties")
        default = get(properties, "/D")
        self._all_off = text_of(get(default, "/BaseState")) == "OFF"
        self._off, self._on = (
            {item.objgen for item in items(get(default, key)) if isinstance(item, pikepdf.Dictionary)}
            for key in ("/OFF", "/ON")
        )
        self._names: set[str] = set()
        self._alike: Counter[str] = Counter()
        self._known: dict[tuple[int, int] | str, Layer] = {}
        for group in items(get(properties, "/OCGs")):
            self.group(group)

    def group(self, group: Any) -> Layer | None:
        """Return the layer of a group's dictionary, None for anything else."""
        if not isinstance(group, pikepdf.Dictionary):
            return None
        plain = name = text_of(get(group, "/Name")) or "(unnamed)"
        key = group.objgen if group.objgen[0] else plain
        if key in self._known:
            return self._known[key]
        while name in self._names:
            self._alike[plain] += 1
            name = f"{plain} ({self._alike[plain] + 1})"
        self._names.add(name)
        step = get(group, "/GTS_Metadata")
        hidden = key in self._off or (self._all_off and key not in self._on)
        layer = Layer(name, text_of(get(step, "/GTS_ProcStepsGroup")), text_of(get(step, "/GTS_ProcStepsType")), hidden)
        self._known[key] = layer
        return layer

    def of(self, content: Any) -> tuple[Layer | None, bool]:
        """Return the layer that marks some content, and whether it is hidden.

        Parameters
        ----------
        content : dictionary
            A group, or a membership of several: then the first with a processing step, else the first.
        """
        if text_of(get(content, "/Type")) != "OCMD" and get(content, "/OCGs") is None:
            layer = self.group(content)
            return layer, layer is not None and layer.hidden
        members = [layer for item in items(get(content, "/OCGs")) if (layer := self.group(item)) is not None]
        if not members:
            return None, False
        off = [layer.hidden for layer in members]
        hidden = {"AllOn": any(off), "AnyOff": not any(off), "AllOff": not all(off)}.get(
            text_of(get(content, "/P")), all(off)
        )
        return next((layer for layer in members if layer.step_group), members[0]), hidden
