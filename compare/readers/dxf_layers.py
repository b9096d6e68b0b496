"""The layers of a DXF file, and the layer, colour and line type that its lines have in the end."""

from __future__ import annotations

from typing import Any

from ezdxf.colors import DXF_DEFAULT_COLORS

from compare.errors import InputError
from compare.geometry.strokes import Group
from compare.readers.dxf_entities import BY_BLOCK, BY_LAYER, Look

_MOST_GROUPS = 10_000

_NEVER_PLOTTED = "defpoints"
"""The layer that holds the points of dimensions; programs do not plot it, whatever its switch says."""


class Layers:
    """The table of layers, and what the lines on them look like in the end.

    Attributes
    ----------
    groups : list of Group
        What lines can look like, by number.
    """

    def __init__(self, document: Any) -> None:
        self._rows: dict[str, Group] = {}
        self._hidden: dict[str, str] = {}
        self._numbers: dict[Group, int] = {}
        self.groups: list[Group] = []
        for layer in document.layers:
            row = vars(layer.dxf)
            name = str(row.get("name", ""))
            colour = row.get("color", 7)
            self._rows[name.lower()] = Group(
                name, _colour(abs(colour), row.get("true_color")), _linetype(row.get("linetype", ""))
            )
            for word, so in (
                ("frozen", row.get("flags", 0) & 1),
                ("off", colour < 0),
                ("not plotted", row.get("plot", 1) == 0 or name.lower() == _NEVER_PLOTTED),
            ):
                if so:
                    self._hidden.setdefault(name.lower(), word)

    def frozen(self, name: str) -> bool:
        """Whether a layer is frozen."""
        return self.hidden(name) == "frozen"

    def hidden(self, name: str) -> str:
        """Why nothing on a layer is drawn, empty if it is drawn."""
        return self._hidden.get(name.lower(), "not plotted" if name.lower() == _NEVER_PLOTTED else "")

    def number_of(self, look: Look, around: int) -> int:
        """Return the number of the group of a look, within a block reference of a group or -1."""
        layer, aci, true_colour, linetype = look
        outer = self.groups[around] if around >= 0 else None
        if outer is not None and layer == "0":
            layer = outer.layer
        # names of layers differ in more than capitals; one that the table does not have stays as it is first met
        row = self._rows.setdefault(layer.lower(), Group(layer, _colour(7, None)))
        if true_colour is None and aci == BY_LAYER:
            colour = row.colour
        elif true_colour is None and aci == BY_BLOCK:
            colour = outer.colour if outer is not None else _colour(7, None)
        else:
            colour = _colour(abs(aci), true_colour)
        line = linetype.lower()
        if line == "bylayer":
            linetype = row.linetype
        elif line == "byblock":
            linetype = outer.linetype if outer is not None else ""
        group = Group(row.layer, colour, _linetype(linetype))
        number = self._numbers.get(group)
        if number is None:
            number = self._numbers[group] = len(self.groups)
            self.groups.append(group)
            if number >= _MOST_GROUPS:
                raise InputError(
                    f"there are more than {_MOST_GROUPS:,} different layers, colours and line types",
                    remedy="take out what is not to be cut",
                )
        return number


def _colour(aci: int, true_colour: int | None) -> str:
    """Return a colour as ``#rrggbb``, empty where the number has none.

    Number 7 is black on a light ground and white on a dark one; on paper it is black.
    """
    if true_colour is not None:
        return f"#{true_colour & 0xFFFFFF:06x}"
    if aci == 7:
        return "#000000"
    return f"#{DXF_DEFAULT_COLORS[aci] & 0xFFFFFF:06x}" if 1 <= aci <= 255 else ""


def _linetype(name: str) -> str:
    """Return the name of a line type, empty for a solid line."""
    return "" if name.lower() in ("continuous", "bylayer", "byblock") else name
