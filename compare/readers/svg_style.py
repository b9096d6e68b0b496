"""What CSS says about the elements of an SVG file: style sheets, ``style`` attributes and plain attributes.

Selectors by type, class, id and ancestor are understood, which is what drawing programs write. Others
are counted, so that nobody believes they were followed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from svgelements import Color

from compare.readers.svg_scale import NUMBER

INHERITED: Mapping[str, str] = {
    "stroke": "none", "stroke-width": "1", "stroke-dasharray": "none", "stroke-opacity": "1",
    "fill": "black", "color": "black", "visibility": "visible",
}  # fmt: skip
"""Properties that an element takes over from the one around it, with what they are at first."""

_OWN = ("display", "opacity", "clip-path", "mask", "transform")
_KNOWN = frozenset((*INHERITED, *_OWN))
_ATTRIBUTES = tuple(sorted(_KNOWN))
_COMMENT = re.compile(r"/\*.*?(?:\*/|\Z)|<!--|-->", re.DOTALL)
_COMPOUND = re.compile(r"(?:\*|[\w-]+)?(?:[.#][\w-]+)*\Z")
_SIMPLE = re.compile(r"([.#]?)([\w-]+|\*)")
_MOST_PARTS, _MOST_RULES = 8, 5_000

_Part = tuple[bool, str, frozenset[str], frozenset[str]]
"""Whether the part before must be the parent; type, ids and classes."""


@dataclass(frozen=True)
class _Rule:
    """One selector with its declarations."""

    weight: tuple[int, int, int, int]
    parts: tuple[_Part, ...]
    declared: Mapping[str, str]
    important: bool


@dataclass
class Rules:
    """Rules of the style sheets of a file.

    Attributes
    ----------
    by_key : dict
        Rules by what their last part asks for: an id, a class, a type or anything.
    skipped : list of str
        Selectors that were not understood.
    """

    by_key: dict[str, list[_Rule]] = field(default_factory=dict)
    skipped: list[str] = field(default_factory=list)

    def of(self, element: Any) -> dict[str, str]:
        """Return the properties that are declared for an element, the strongest of each.

        Plain attributes yield to style sheets, these to the ``style`` attribute, and all of them to
        what is marked important.
        """
        found = {name: value for name in _ATTRIBUTES if (value := element.get(name)) is not None}
        inline = element.get("style")
        strong: dict[str, str] = {}
        if self.by_key:
            rules = sorted(self._matching(element), key=lambda rule: rule.weight)
            for rule in rules:
                (strong if rule.important else found).update(rule.declared)
        if inline:
            plain, important = _declarations(inline)
            found.update(plain)
            strong.update(important)
        found.update(strong)
        return found

    def _matching(self, element: Any) -> Iterator[_Rule]:
        tag = element.tag.rpartition("}")[2]
        keys = {"*", tag, "#" + element.get("id", ""), *("." + name for name in element.get("class", "").split())}
        for key in keys:
            for rule in self.by_key.get(key, ()):
                if _matches(rule.parts, element):
                    yield rule


def _fits(part: _Part, element: Any) -> bool:
    """Whether an element is what one part of a selector asks for."""
    _, tag, ids, classes = part
    return (
        tag in ("*", str(element.tag).rpartition("}")[2])
        and ids <= {element.get("id")}
        and classes <= set(element.get("class", "").split())
    )


def _matches(parts: tuple[_Part, ...], element: Any) -> bool:
    """Whether an element and those around it are what the parts of a selector ask for.

    From the outermost element inwards, so that the work grows with the depth and no faster.
    """
    if not _fits(parts[-1], element):
        return False
    if len(parts) == 1:
        return True
    above = [False] * len(parts)  # whether any element so far completes the parts up to this one
    parent = [False] * len(parts)
    chain = [element, *element.iterancestors()][::-1]
    for link in chain:
        here = [
            (n == 0 or (parent[n - 1] if part[0] else above[n - 1])) and _fits(part, link)
            for n, part in enumerate(parts)
        ]
        above = [a or h for a, h in zip(above, here, strict=True)]
        parent = here
    return parent[-1]


def _declarations(text: str) -> tuple[dict[str, str], dict[str, str]]:
    """Return the plain and the important ones among declarations."""
    plain: dict[str, str] = {}
    important: dict[str, str] = {}
    for item in _COMMENT.sub("", text).split(";"):
        name, colon, value = item.partition(":")
        name = name.strip().lower()
        if colon and name in _KNOWN:
            value, mark, _ = value.partition("!important")
            (important if mark else plain)[name] = value.strip()
    return plain, important


def style_rules(sheet: str) -> Rules:
    """Read a style sheet; blocks that hold only under a condition are passed over and counted."""
    rules = Rules()
    tokens = re.split(r"([{}])", _COMMENT.sub("", sheet))
    order, depth, selector, conditional = 0, 0, "", False
    for n, piece in enumerate(tokens):
        if piece == "{":
            depth += 1
        elif piece == "}":
            depth, conditional = max(depth - 1, 0), conditional and depth > 1
        elif n + 1 < len(tokens) and tokens[n + 1] == "{":
            selector = piece.rpartition(";")[2].strip()
            if depth == 0 and selector.startswith("@"):
                conditional = True
                rules.skipped.append(selector)
        elif depth == 1 and not conditional and tokens[n - 1] == "{":
            order += 1
            if order > _MOST_RULES:
                rules.skipped.append("more rules than can be followed")
                break
            _add(rules, selector, _declarations(piece), order)
    return rules


def _add(rules: Rules, selectors: str, declared: tuple[dict[str, str], dict[str, str]], order: int) -> None:
    """Keep the rules of a list of selectors."""
    if not any(declared):
        return
    for selector in selectors.split(","):
        words = selector.replace(">", " > ").split()
        parts: list[_Part] = []
        child = False
        understood = 0 < len(words) <= 2 * _MOST_PARTS
        for word in words if understood else ():
            if word == ">":
                child = True
                continue
            understood = understood and bool(_COMPOUND.match(word))
            named = _SIMPLE.findall(word)
            tag = next((name for kind, name in named if not kind), "*")
            ids, classes = (frozenset(name for kind, name in named if kind == mark) for mark in "#.")
            parts.append((child, tag, ids, classes))
            child = False
        if not understood or child or not parts or len(parts) > _MOST_PARTS:
            rules.skipped.append(selector.strip()[:60])
            continue
        weight = (sum(len(p[2]) for p in parts), sum(len(p[3]) for p in parts), sum(p[1] != "*" for p in parts), order)
        _, tag, ids, classes = parts[-1]
        key = next(("#" + name for name in ids), next(("." + name for name in classes), tag))
        for important, values in enumerate(declared):
            if values:
                rules.by_key.setdefault(key, []).append(_Rule(weight, tuple(parts), values, bool(important)))


def inherited(own: Mapping[str, str], around: dict[str, str]) -> dict[str, str]:
    """Return the inherited properties of an element, its own before those of the element around it."""
    if not own:
        return around
    style = dict(around)
    for name in INHERITED:
        value = own.get(name)
        if value and value not in ("inherit", "unset"):
            style[name] = INHERITED[name] if value == "initial" else value
    return style


def share(text: str | None) -> float:
    """Return an opacity from 0 to 1; 1 where it can't be read."""
    match = NUMBER.match((text or "1").strip())
    if match is None:
        return 1.0
    return float(match[0]) / (100 if "%" in (text or "") else 1)


def colour(style: Mapping[str, str]) -> str | None:
    """Return the colour of a stroke as ``#rrggbb``, empty for a pattern; None where nothing is painted."""
    value = style["stroke"].strip()
    return _hex(style["color"].strip() if value.lower() == "currentcolor" else value)


@lru_cache(maxsize=4096)
def _hex(value: str) -> str | None:
    if value in ("none", "transparent"):
        return None
    if value.startswith("url(") or len(value) > 64:
        return ""
    try:
        found = Color(value)
        return None if found.value is None or found.alpha == 0 else f"#{found.red:02x}{found.green:02x}{found.blue:02x}"
    except (ValueError, TypeError, ArithmeticError):
        return ""


def dashes(style: Mapping[str, str]) -> str:
    """Return a dash pattern as numbers with spaces between, empty for a solid line."""
    numbers = [float(n) for n in NUMBER.findall(style["stroke-dasharray"][:200])]
    return " ".join(f"{n:g}" for n in numbers) if sum(numbers) > 0 else ""
