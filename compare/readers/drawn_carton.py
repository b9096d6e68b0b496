"""A carton from its drawing: read, its lines mapped to kinds, measured, in one go."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from compare.errors import FileError, Finding, InputError
from compare.geometry.line_kinds import ALL_KINDS, LineKind
from compare.geometry.line_trails import Lines
from compare.geometry.measure import TOLERANCE_MM, Measured, groups_of, measure_drawing
from compare.geometry.strokes import Drawing
from compare.readers.drawing import read_drawing
from compare.readers.jobfile import Layer
from compare.readers.line_map import LineMap, apply, load_line_map, unmapped_findings

PATIENCE_S = 60.0
"""Reading a drawing that one names oneself is stopped after so long [s]; one from anybody after ten."""

_NO_MAP = LineMap()


@dataclass(frozen=True, eq=False)
class DrawnCarton:
    """A drawing with the kinds of its lines and its measures.

    Attributes
    ----------
    name : str
        Name of the file.
    drawing : Drawing
        What the reader found [unit of the drawing].
    line_map : LineMap
        The client's rules that were applied.
    kinds : tuple of LineKind or None
        Kind of each group of lines; None where nobody has said.
    measured : Measured
        Lengths, blank and waste [mm].
    """

    name: str
    drawing: Drawing
    line_map: LineMap
    kinds: tuple[LineKind | None, ...]
    measured: Measured

    def lines(self) -> Lines:
        """Return its lines with their kinds, those without one and those left out as well [mm]."""
        pieces = self.drawing.strokes.scaled(self.drawing.mm_per_unit or 1.0)
        number = np.array([len(ALL_KINDS) if kind is None else ALL_KINDS.index(kind) for kind in self.kinds], np.int64)
        return Lines(pieces, number[pieces.group[pieces.stroke]], TOLERANCE_MM)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Everything there is to say about the drawing: by the reader, of the mapping, of the geometry."""
        unmapped = unmapped_findings(groups_of(self.drawing), self.kinds)
        found = (*self.drawing.findings, *unmapped, *self.measured.findings)
        return tuple(replace(one, message=_sentence(one.message)) for one in found)


def drawn_carton(drawing: Drawing, name: str, line_map: LineMap = _NO_MAP) -> DrawnCarton:
    """Map and measure a drawing.

    Parameters
    ----------
    drawing : Drawing
        What a reader found.
    name : str
        Name of the file, for messages.
    line_map : LineMap
        The client's rules.

    Returns
    -------
    DrawnCarton

    Raises
    ------
    InputError
        If the unit of the drawing is not known, or two rules contradict one another.
    """
    if drawing.mm_per_unit is None:
        asked = [found.message for found in drawing.findings if found.code == "drawing.no_unit"]
        raise InputError(
            (asked or ["the drawing does not say its unit"])[0].rstrip("."),
            where=name,
            remedy="say it with --unit, or carton.drawing_unit in a job file",
        )
    kinds = apply(line_map, groups_of(drawing))
    measured = measure_drawing(drawing, kinds, mm_per_unit=drawing.mm_per_unit, where=name)
    return DrawnCarton(name, drawing, line_map, kinds, measured)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"


def with_drawing(*layers: Layer) -> tuple[Layer, ...]:
    """Read the drawing that layers of values name.

    Parameters
    ----------
    *layers : Layer
        From the weakest to the strongest. Paths start at the folder of the layer that gives them.

    Returns
    -------
    tuple of Layer
        The same, that which names the drawing with its carton.

    Raises
    ------
    FileError, InputError
        If the drawing or its line map can't be used.
    """
    path = _path(layers, "carton.drawing")
    if path is None:
        return layers
    map_path = _path(layers, "carton.line_map")
    unit = _last(layers, "carton.drawing_unit")[1] or None
    drawing = read_drawing(path, unit=unit, seconds=PATIENCE_S)
    carton = drawn_carton(drawing, path.name, load_line_map(map_path) if map_path else _NO_MAP)
    at, _ = _last(layers, "carton.drawing")
    return tuple(replace(layer, drawn=carton) if layer is at else layer for layer in layers)


def _last(layers: tuple[Layer, ...], name: str) -> tuple[Layer | None, Any]:
    return next(((layer, layer.values[name]) for layer in reversed(layers) if name in layer.values), (None, ""))


def _path(layers: tuple[Layer, ...], name: str) -> Path | None:
    layer, text = _last(layers, name)
    if layer is None or not text:
        return None
    if layer.folder is None:
        raise InputError(f"{name} can't be named here", where=layer.label, remedy="name it in a job file")
    path: Path = layer.folder / text
    if not path.is_file():
        raise FileError(f"there is no file '{text}' for {name}", where=layer.label, remedy="check the path")
    return path
