"""The layers of a recorded quote, as today's program can take them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Literal

from compare.assumptions import assumption_table
from compare.errors import EvenrunError
from compare.quotes.quote_record import QuoteRecord, RecordedLayer, Value
from compare.quotes.recording import DRAWING_NAMES, file_digest
from compare.readers.jobfile import Layer, check_values

DrawingState = Literal["none", "as measured then", "not in the folder", "same file", "another file"]
"""Whether a drawing was named; whether its files were asked for, are there, and are those of then."""

ASSUMPTIONS_OF_THEN = "assumptions of then"
"""Label of the assumptions that a recorded quote was made with, where they stand as given values."""


@dataclass(frozen=True)
class OldLayers:
    """The layers of a recorded quote.

    Attributes
    ----------
    assumptions : mapping
        Assumptions of then that today's tables have otherwise, where they are still inputs.
    measured : Layer or None
        What was worked out of the drawing, where the job names one.
    plant, job : tuple of Layer
        Given values, without what names the drawing. Their ranges are left out: no figure rests on them, and a range
        that a value of today lies outside of must not stand in the way. They are compared on their own.
    left_out : mapping
        Given values that today's tables don't take, by dotted name.
    drawing : str
        Whether its file is at hand.
    other_files : mapping
        Name of a file of the drawing that is another than then, to its SHA-256 then and now; empty texts where a digest
        is not known.
    missing : tuple of str
        Names of its files that the folder lacks.
    files : mapping
        What names the drawing, by dotted name, in the folder it was found in.
    folder : Path or None
        That folder.
    """

    assumptions: Mapping[str, Value]
    measured: Layer | None
    plant: tuple[Layer, ...]
    job: tuple[Layer, ...]
    left_out: Mapping[str, Value]
    drawing: DrawingState
    other_files: Mapping[str, tuple[str, str]]
    missing: tuple[str, ...]
    files: Mapping[str, Value]
    folder: Path | None

    @property
    def of_plant(self) -> dict[str, Value]:
        """Values that the plant gave, the stronger ones over the weaker."""
        return _merged(self.plant)

    def then(self, changed: str = "", value: Value | None = None) -> tuple[Layer, ...]:
        """Return the layers of then, the assumptions among them.

        Parameters
        ----------
        changed : str
            An assumption or a value of the plant that is as today.
        value : float, str or None
            Its value where the plant gives it today; None where it is the table's.
        """
        kept = {name: old for name, old in self.assumptions.items() if name != changed}
        plant = tuple(_without(layer, changed) for layer in self.plant)
        if value is not None:
            plant = (*plant, Layer("plant today", {changed: value}))
        return (Layer(ASSUMPTIONS_OF_THEN, kept), *self._measured(), *plant, *self.job)

    def now(self, layers_now: Sequence[Layer] | None) -> tuple[Layer, ...]:
        """Return the layers of today: the tables' assumptions, the plant's values of today, the job's of then."""
        plant = self.plant if layers_now is None else (replace(layer, ranges={}) for layer in layers_now)
        return (*self._measured(), *plant, *self.job)

    def with_file(self, layers: Iterable[Layer]) -> tuple[Layer, ...]:
        """Put the drawing itself in place of its measures, if its file is at hand."""
        if not self.files:
            return tuple(layers)
        return (*(layer for layer in layers if layer is not self.measured), self._drawn)

    @cached_property
    def _drawn(self) -> Layer:
        """The drawing, read once."""
        # readers of drawings take a while to load, and few jobs have one
        from compare.readers.drawn_carton import with_drawing  # noqa: PLC0415

        return with_drawing(Layer("drawing", self.files, folder=self.folder))[0]

    def given_now(self, layers_now: Sequence[Layer] | None) -> dict[str, Value]:
        """Return what is given today."""
        return _merged(self.now(layers_now))

    def moved_assumptions(self, layers_now: Sequence[Layer] | None) -> tuple[str, ...]:
        """Name the assumptions that the tables of today have otherwise, where nobody gives them today."""
        given = self.given_now(layers_now)
        return tuple(name for name in self.assumptions if name not in given)

    def moved_values(self, layers_now: Sequence[Layer] | None) -> dict[str, Value | None]:
        """Return values that the plant gives otherwise today, None for those it no longer gives."""
        if layers_now is None:
            return {}
        before, after, covered = self.of_plant, _merged(layers_now), _merged(self.job)
        return {
            name: after.get(name)
            for name in sorted({*before, *after})
            if name not in covered and before.get(name) != after.get(name)
        }

    def _measured(self) -> tuple[Layer, ...]:
        return () if self.measured is None else (self.measured,)


def old_layers(record: QuoteRecord, folder: Path | None) -> OldLayers:
    """Take the layers out of a record.

    Parameters
    ----------
    record : QuoteRecord
        The full record.
    folder : Path or None
        Where the drawing and its line map may lie.
    """
    left_out: dict[str, Value] = {}
    by_drawing = {*DRAWING_NAMES, *(("layout.pattern",) if record.drawing else ())}
    layers = {
        of: tuple(_layer(layer, by_drawing, left_out) for layer in record.layers if layer.of == of)
        for of in ("plant", "job")
    }
    table = assumption_table()
    known: dict[str, Value] = {**record.inputs, **record.choices}
    moved = {
        name: value
        for name, value in known.items()
        if record.origins.get(name) == "assumption" and name in table and table[name].value != value
    }
    found = _files(record, folder)
    measured = None if record.drawing is None else Layer(f"drawing {record.drawing.name}", record.drawing.values)
    return OldLayers(
        assumptions={name: value for name, value in moved.items() if _fits(name, value)},
        measured=measured,
        plant=layers["plant"],
        job=layers["job"],
        left_out=left_out,
        drawing=found.state,
        other_files=found.others,
        missing=found.missing,
        files=found.files,
        folder=folder,
    )


@dataclass(frozen=True)
class _Files:
    """The files of a drawing: whether they are those of then, which are others or missing, and what names them."""

    state: DrawingState
    others: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    files: Mapping[str, Value] = field(default_factory=dict)


def _files(record: QuoteRecord, folder: Path | None) -> _Files:
    """Look for the files of the drawing, by their bare names."""
    drawn = record.drawing
    if drawn is None:
        return _Files("none")
    if folder is None or not drawn.sha256:
        return _Files("as measured then")
    named = {
        "carton.drawing": (drawn.name, drawn.sha256),
        "carton.line_map": (drawn.line_map, drawn.line_map_sha256),
    }
    right = {which: (Path(name).name, digest) for which, (name, digest) in named.items() if name}
    missing = tuple(name for name, _ in right.values() if not (folder / name).is_file())
    if missing:
        return _Files("not in the folder", missing=missing)
    now = {name: (digest, file_digest(folder / name)) for name, digest in right.values()}
    others = {name: digests for name, digests in now.items() if digests[0] != digests[1]}
    files: dict[str, Value] = {which: name for which, (name, _) in right.items()}
    given = {name: value for layer in record.layers for name, value in layer.values.items()}
    files.update({name: given[name] for name in ("carton.drawing_unit", "layout.pattern") if name in given})
    return _Files("another file" if others else "same file", others, files=files)


def _layer(layer: RecordedLayer, by_drawing: set[str], left_out: dict[str, Value]) -> Layer:
    values = {name: value for name, value in layer.values.items() if name not in by_drawing}
    fit = {name: value for name, value in values.items() if _fits(name, value)}
    left_out.update({name: value for name, value in values.items() if name not in fit})
    return Layer(layer.label, fit, dict(layer.about))


def _fits(name: str, value: Value) -> bool:
    try:
        check_values({name: value}, where="quote")
    except EvenrunError:
        return False
    return True


def _merged(layers: Iterable[Layer]) -> dict[str, Value]:
    return {name: value for layer in layers for name, value in layer.values.items()}


def _without(layer: Layer, name: str) -> Layer:
    return replace(layer, values={other: value for other, value in layer.values.items() if other != name})
