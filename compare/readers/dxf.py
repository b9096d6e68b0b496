"""Read the lines of a DXF file, by layer, colour and line type.

The library takes the file apart; what its entities draw is worked out here, with arrays, so that
arcs stay arcs under any block reference and a file of blocks within blocks can't blow up. Only what
a plot would show counts: layers that are off, frozen or not plotted are left out, and a finding says
so. Inside a block, layer 0 and "by block" take what the reference has.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from compare.errors import EvenrunError, Finding, InputError, unknown_name
from compare.geometry.strokes import Drawing, Group, Strokes
from compare.readers.dxf_blocks import Blocks, Laid
from compare.readers.dxf_entities import DRAWN, Content
from compare.readers.dxf_file import at_ease, check_head, opened
from compare.readers.dxf_layers import Layers

_IN, _FT, _SURVEY_FT = 25.4, 304.8, 1_200_000 / 3937

MM_PER_UNIT = {
    "mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0, "km": 1e6, "um": 0.001,
    "in": _IN, "ft": _FT, "yd": 3 * _FT, "mil": _IN / 1000,
}  # fmt: skip
"""Units that a user may state."""

UNITS_BY_CODE = {
    1: ("in", _IN), 2: ("ft", _FT), 3: ("mile", 5280 * _FT), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0),
    7: ("km", 1e6), 8: ("microinch", _IN / 1e6), 9: ("mil", _IN / 1000), 10: ("yd", 3 * _FT), 13: ("um", 0.001),
    14: ("dm", 100.0), 15: ("dam", 1e4), 16: ("hm", 1e5), 21: ("survey ft", _SURVEY_FT),
    22: ("survey in", _SURVEY_FT / 12), 23: ("survey yd", 3 * _SURVEY_FT), 24: ("survey mile", 5280 * _SURVEY_FT),
}  # fmt: skip
"""Numbers of ``$INSUNITS`` that a thing on earth can be drawn in, with millimetres; 0 is "no unit"."""

_TOO_FAR = 1e12
"""Beyond, a square no longer holds a millimetre, and no drawing is that large."""

_ODDITIES = (
    ("rising", "not_flat", "lines do not lie flat; they count as seen from above"),
    ("tilted", "not_flat", "block references are tilted; what they hold counts as lying in their plane"),
    ("fitted", "fit_points", "splines give only points they pass through; the curve between is worked out here"),
    ("clipped", "clipped", "block references are clipped; what they hold counts whole"),
    ("gaps", "gaps", "multilines have gaps; they count without"),
)
"""What the entities note, the code of the finding, and its words after the number."""

_SHOWN = 5
"""Places or names listed in a finding."""


def read_dxf(path: str | Path, *, unit: str | None = None, layout: str | None = None) -> Drawing:
    """Read a DXF file, text or binary.

    Parameters
    ----------
    path : str or Path
    unit : str, optional
        Unit of the drawing, over whatever the file says: ``mm``, ``cm``, ``dm``, ``m``, ``km``,
        ``um``, ``in``, ``ft``, ``yd``, ``mil``.
    layout : str, optional
        Name of a layout of paper space to read; model space if not given.

    Returns
    -------
    Drawing
        In the unit of the file.

    Raises
    ------
    FileError
        The file can't be read or is no DXF.
    InputError
        The unit or layout is unknown, or the drawing is beyond the limits.
    """
    path = Path(path)
    if unit is not None and unit not in MM_PER_UNIT:
        raise InputError(f"there is no unit '{unit}'", where="unit", remedy=f"use {', '.join(MM_PER_UNIT)}")
    check_head(path)
    try:
        with at_ease():
            document, remarks, said = opened(path)
            return _Reader(document, path.name, layout, said).drawing(unit, remarks)
    except EvenrunError as error:
        if error.where:
            raise
        raise type(error)(error.what, where=path.name, remedy=error.remedy) from None


# -- drawing ----------------------------------------------------------------------------------------------------------


class _Reader:
    """Draws one layout of a document and says what there is to say about it."""

    def __init__(self, document: Any, name: str, layout: str | None, said: frozenset[str]) -> None:
        self.document, self.name, self.layout = document, name, layout
        self.header = {word: document.header.get(word, None) for word in said}
        self.layers = Layers(document)
        if layout is None:
            self.space = document.modelspace()
        else:
            names = {known.lower(): known for known in document.layout_names()}
            if layout.lower() not in names:
                raise unknown_name(layout, names.values(), where=name, what="layout")
            self.space = document.layout(names[layout.lower()])

    def drawing(self, unit: str | None, remarks: list[Finding]) -> Drawing:
        """Draw, and gather the findings."""
        content = Content().read(self.space, self.layers.frozen)
        blocks = Blocks(content, self._block, self.layers.frozen)
        laid = blocks.laid_out(self.layers.number_of)
        strokes, broken, hidden = self._kept(laid)
        groups, strokes = self._numbered(strokes)
        left_out = blocks.total(lambda part: part.left_out)
        odd = blocks.total(lambda part: part.odd)
        unit, mm, source, asked = self._unit(unit)
        findings = [
            *remarks,
            *asked,
            *self._faults(blocks, broken),
            *self._oddities(odd),
            *self._hidden(hidden, odd),
            *self._emptiness(strokes, left_out, hidden),
        ]
        if left_out:
            listed = ", ".join(f"{what} ({count:,})" for what, count in sorted(left_out.items()))
            findings.append(Finding("drawing.left_out", f"left out, being no lines to run: {listed}", self.name))
        if unseen := sum(hidden.values()) + odd["invisible"] + odd["frozen"]:
            left_out["hidden lines"] = unseen
        return Drawing(strokes, groups, unit, mm, source, left_out=dict(left_out), findings=tuple(findings))

    def _block(self, name: str) -> tuple[Any, tuple[float, float], str | None] | None:
        """Give a block: its entities, its base point, and the file it is kept in if it is another."""
        block = self.document.blocks.get(name)
        try:
            head = vars(block.block.dxf)
        except AttributeError:  # there is none, or repairs took what was broken away
            return None
        external = str(head.get("xref_path", "")) if head.get("flags", 0) & 4 else None
        base = head.get("base_point")
        return block, (base.x, base.y) if base is not None else (0.0, 0.0), external

    def _kept(self, laid: Laid) -> tuple[Strokes, list[str], Counter[tuple[str, str]]]:
        """Take out pieces that are no numbers and strokes that are not shown; return what was taken out."""
        strokes = Strokes(laid.kind, laid.data, laid.stroke, laid.group, tuple(laid.place))
        # NaN is neither above nor below anything
        good = ((laid.data < _TOO_FAR) & (laid.data > -_TOO_FAR)).all(axis=1)
        broken: list[str] = []
        if not good.all():
            broken = [laid.place[i] for i in np.unique(laid.stroke[~good]).tolist()]
            strokes = Strokes(laid.kind[good], laid.data[good], laid.stroke[good], laid.group, strokes.place)
        why = [self.layers.hidden(group.layer) for group in self.layers.groups]
        seen = np.array([not word for word in why], bool)[laid.group]
        hidden: Counter[tuple[str, str]] = Counter()
        for number in laid.group[~seen].tolist():
            hidden[self.layers.groups[number].layer, why[number]] += 1
        drawn = np.zeros(len(laid.place), bool)
        drawn[strokes.stroke] = True
        wanted = seen & drawn
        return strokes if wanted.all() else strokes.chosen(wanted), broken, hidden

    def _numbered(self, strokes: Strokes) -> tuple[tuple[Group, ...], Strokes]:
        """Keep the groups in use, in the order of drawing."""
        used, first, which = np.unique(strokes.group, return_index=True, return_inverse=True)
        by_first = np.argsort(first)
        rank = np.empty_like(by_first)
        rank[by_first] = np.arange(len(by_first))
        groups = tuple(self.layers.groups[i] for i in used[by_first].tolist())
        return groups, Strokes(strokes.kind, strokes.data, strokes.stroke, rank[which], strokes.place)

    # -- findings -----------------------------------------------------------------------------------------------------

    def _unit(self, unit: str | None) -> tuple[str | None, float | None, str, list[Finding]]:
        """Return unit, millimetres and source, and the question where there is none."""
        if unit is not None:
            return unit, MM_PER_UNIT[unit], f"stated: one unit of the drawing is 1 {unit}", []
        code = self.header.get("$INSUNITS")
        if code in UNITS_BY_CODE:
            word, mm = UNITS_BY_CODE[code]
            return word, mm, f"$INSUNITS {code} of the file", []
        what = {None: "the file does not say its unit", 0: "the file says that it has no unit"}.get(
            code, f"the file gives a unit no carton is drawn in ($INSUNITS {code})"
        )
        hint = {0: "; it leans to inches", 1: "; it leans to millimetres"}.get(self.header.get("$MEASUREMENT", -1), "")
        message = f"{what}{hint}; state it: {', '.join(MM_PER_UNIT)}"
        return None, None, "the file does not say", [Finding("drawing.no_unit", message, self.name, "caution")]

    def _faults(self, blocks: Blocks, broken: list[str]) -> Iterator[Finding]:
        """Say what could not be read."""
        unreadable = [place for name in blocks.order for place in blocks.content[name].unreadable]
        for code, what, places in (
            ("drawing.broken_numbers", "with numbers that are none or too large", broken),
            ("drawing.unreadable", "whose data make no line", unreadable),
        ):
            if places:
                message = f"{len(places):,} lines {what} are left out: {_listed(places)}"
                yield Finding(code, message, self.name, "caution")
        for code, what, names in (
            ("drawing.missing_block", "refer to blocks that the file does not have", blocks.missing),
            (
                "drawing.external",
                "refer to other files, which are not opened; bind them into this one",
                blocks.external,
            ),
            ("drawing.cyclic_block", "put a block into itself and are left out", blocks.cyclic),
        ):
            if names:
                message = f"{sum(names.values()):,} block references {what}: {_listed(names)}"
                yield Finding(code, message, self.name, "caution")

    def _oddities(self, odd: Counter[str]) -> Iterator[Finding]:
        """Say what was read in a way that a person should know of."""
        for word, code, message in _ODDITIES:
            if odd[word]:
                yield Finding(f"drawing.{code}", f"{odd[word]:,} {message}", self.name, "caution")

    def _hidden(self, hidden: Counter[tuple[str, str]], odd: Counter[str]) -> Iterator[Finding]:
        """Say what is there but not shown."""
        parts = [f"{count:,} on layer '{layer}' ({why})" for (layer, why), count in hidden.most_common(_SHOWN)]
        if len(hidden) > _SHOWN:
            parts.append(f"more on {len(hidden) - _SHOWN} other layers")
        parts += [
            f"{odd[word]:,} {what}"
            for word, what in (("invisible", "invisible"), ("frozen", "blocks on frozen layers"))
            if odd[word]
        ]
        if parts:
            message = f"not shown and not counted: {', '.join(parts)}; switch them on if they are to be run"
            yield Finding("drawing.hidden", message, self.name)

    def _emptiness(
        self, strokes: Strokes, left_out: Counter[str], hidden: Counter[tuple[str, str]]
    ) -> Iterator[Finding]:
        """Say where the lines are, if there are none."""
        if self.layout is not None:
            place = f"layout '{self.layout}'"
        else:
            place = "model space"
            papers = {name: count for name in self.document.layout_names() if (count := self._on_paper(name))}
            if papers:
                listed = ", ".join(f"'{name}' ({count:,})" for name, count in list(papers.items())[:_SHOWN])
                message = f"lines in paper space are not counted: layouts {listed}"
                if not len(strokes):
                    message = f"model space shows no line, but paper space may: layouts {listed}"
                message += "; read a layout by its name, or move its lines to model space, if they are to be run"
                yield Finding("drawing.paper_space", message, self.name, "note" if len(strokes) else "caution")
        if not len(strokes):
            what = ", ".join(f"{count:,} {word}" for word, count in sorted(left_out.items())) or "nothing else"
            shown = f" and {sum(hidden.values()):,} hidden lines" if hidden else ""
            yield Finding("drawing.no_lines", f"no cut lines: {place} has {what}{shown}", self.name, "caution")

    def _on_paper(self, name: str) -> int:
        """Count the entities of a layout of paper space that could draw lines."""
        if name.lower() == "model":
            return 0
        return sum(entity.is_alive and entity.dxftype() in DRAWN for entity in self.document.layout(name))


def _listed(names: Any) -> str:
    """List the first few names or places."""
    names = list(names)
    more = f" and {len(names) - _SHOWN:,} more" if len(names) > _SHOWN else ""
    return ", ".join(map(str, names[:_SHOWN])) + more
