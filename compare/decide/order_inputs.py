"""From columns of jobs to the inputs of the engine: what :func:`compare.scenario.prepare` does, for many at once.

What a row gives stands before what the plant or the settings give; what is left out is drawn from the
style, read from the board or laid on the sheet; then come the assumptions. A job that lacks something is
marked and left out of the calculation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from compare.assumptions import Number, assumption_table
from compare.boards import board, boards
from compare.errors import InputError
from compare.factors import ROLES
from compare.geometry.style_arrays import measure_style
from compare.names import Inputs
from compare.readers.jobfile import Layer
from compare.readers.orderbook_parse import outside
from compare.scenario import NEEDED, prepare
from compare.sheet_ups import ups_by_grid

JOB_GROUPS = ("demand.", "carton.", "cutouts.", "work.", "sheet.", "board.", "layout.", "tooling.")
"""Inputs that are a job's; all others are the plant's."""

MISSING = (
    *NEEDED,
    "carton.length_mm",
    "carton.width_mm",
    "carton.height_mm",
    "carton.blank_width_mm",
    "carton.blank_height_mm",
    "cutouts.length_mm",
    "cutouts.area_mm2",
)
"""Inputs that a job may lack, by their bit."""

FAULTS = ("no_room", "cutouts", "too_small", "range", "versions", "crease_versions", "sheet_area", "shared")
"""What else may be wrong with a job, by the bits after those."""

_TEXTS = ("carton.style", "board.grade", "board.laminate", "sheet.grain")
_DRAWN = ("length_mm", "width_mm", "height_mm")
_ANY = {
    "demand.run_length": 1e8, "sheet.width_mm": 1000.0, "sheet.length_mm": 1000.0, "board.grammage_g_m2": 300.0,
    "board.caliper_mm": 0.4, "carton.blank_area_m2": 0.01, "work.cutting_m": 1.0, "work.creasing_m": 1.0,
    "work.nicks": 0.0, "work.bends": 0.0, "work.strokes": 1.0, "work.corner_load": 0.0,
    "layout.ups_die": 1.0, "layout.ups_laser": 1.0,
}  # fmt: skip
"""A job that never shows: with it the plant is made ready once."""


def _bit(name: str) -> np.uint64:
    return np.uint64(1 << (MISSING.index(name) if name in MISSING else len(MISSING) + FAULTS.index(name)))


@dataclass(frozen=True)
class BookPlant:
    """What all jobs of a book have in common.

    Attributes
    ----------
    plant : mapping
        Inputs of the plant, rates worked out, factors of primary board.
    recycled : mapping
        Factors that are others for recycled board.
    given, assumed : mapping
        Inputs of the job that plant or settings give, and that the table of assumptions has.
    texts : mapping
        Texts of the job, likewise.
    currency : str
        Currency of the prices.
    """

    plant: Mapping[str, float]
    recycled: Mapping[str, float]
    given: Mapping[str, float]
    assumed: Mapping[str, float]
    texts: Mapping[str, str]
    currency: str

    def default(self, name: str) -> float:
        """Return what stands where a job leaves an input out."""
        return self.given.get(name, self.assumed.get(name, np.nan))


def book_plant(*layers: Layer) -> BookPlant:
    """Make a plant ready for a book.

    Parameters
    ----------
    *layers : Layer
        Plant file and settings, from the weakest to the strongest. Inputs of the job that they give
        stand for every row that leaves them out.

    Raises
    ------
    InputError
        If they name a drawing, or a layout of outlines, which a book can't have.
    """
    values = {name: value for layer in layers for name, value in layer.values.items()}
    if values.get("carton.drawing"):
        raise InputError(
            "a book of orders can't have one drawing", where="carton.drawing", remedy="compare that job by itself"
        )
    if values.get("layout.pattern") == "interlocked":
        raise InputError(
            "a book of orders lays blanks by the grid", where="layout.pattern", remedy="leave it out, or at grid"
        )
    of_plant = [
        Layer(layer.label, {n: v for n, v in layer.values.items() if not n.startswith(JOB_GROUPS)}) for layer in layers
    ]
    by_fibre = {}
    for fibre in ("primary", "recycled"):
        grade = next(b.grade for b in boards().values() if b.fibre == fibre)
        by_fibre[fibre] = prepare(Layer("book", {**_ANY, "board.grade": grade}), *of_plant)
    plant = {n: float(v) for n, v in by_fibre["primary"].inputs.items() if not n.startswith(JOB_GROUPS)}
    other = {f"factors.{role}": float(by_fibre["recycled"].inputs[f"factors.{role}"]) for role in ROLES}
    table = assumption_table()
    job = {n: row for n, row in table.items() if n.startswith(JOB_GROUPS)}
    given = {n: v for n, v in values.items() if n in job and not job[n].is_text}
    texts = {n: str(values.get(n) or job[n].value or "") for n in _TEXTS}
    if texts["board.grade"]:
        board(texts["board.grade"], where="board.grade")
    return BookPlant(
        plant=plant,
        recycled={n: v for n, v in other.items() if v != plant[n]},
        given={n: float(v) for n, v in given.items()},
        assumed={n: row.value for n, row in job.items() if isinstance(row.value, float)},
        texts=texts,
        currency=by_fibre["primary"].currency,
    )


@dataclass(frozen=True)
class Resolved:
    """Jobs that are ready to be computed.

    Attributes
    ----------
    inputs : Inputs
        Their inputs, arrays over the jobs that are fit.
    laminate : ndarray of object or str
        Laminate of each of them.
    fit : ndarray of bool
        Which of all jobs these are.
    faults : ndarray of uint64
        What the others lack, as bits of :data:`MISSING` and :data:`FAULTS`.
    """

    inputs: Inputs
    laminate: np.ndarray | str
    fit: np.ndarray
    faults: np.ndarray


@dataclass
class _Columns:
    """Columns of jobs while their inputs are put together."""

    count: int
    numbers: Mapping[str, Number]
    words: Mapping[str, tuple[np.ndarray, tuple[str, ...]]]
    common: BookPlant
    faults: np.ndarray = field(init=False)
    derived: dict[str, Number] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.faults = np.zeros(self.count, dtype=np.uint64)

    def given(self, name: str) -> Number | None:
        """Return what rows, plant or settings give; NaN in rows where none of them does."""
        own = self.common.given.get(name)
        return _or(self.numbers.get(name), own)

    def value(self, name: str) -> Number | None:
        """Return what is given, else what was worked out, else what is assumed."""
        worked_out = _or(self.derived.get(name), self.common.assumed.get(name))
        return _or(self.given(name), worked_out)

    def need(self, name: str, where: np.ndarray | None = None) -> Number:
        """Return a value, and mark the jobs that lack it."""
        value = self.value(name)
        number = np.nan if value is None else value
        lacking = np.isnan(number)
        if np.any(lacking):
            self.mark(name, lacking if where is None else lacking & where)
        return number

    def mark(self, fault: str, where: np.ndarray | np.bool_) -> None:
        """Mark jobs with a fault."""
        self.faults[np.broadcast_to(where, (self.count,))] |= _bit(fault)

    def word(self, name: str) -> tuple[np.ndarray | None, tuple[str, ...]]:
        """Return the words of a column; codes are None where all jobs have the one word."""
        default = self.common.texts[name]
        if name not in self.words:
            return None, (default,)
        codes, names = self.words[name]
        return np.where(codes < 0, len(names), codes), (*names, default)

    def groups(self, name: str) -> list[tuple[str, np.ndarray | slice]]:
        """Return each word and the jobs that have it."""
        codes, names = self.word(name)
        if codes is None:
            return [(names[0], slice(None))]
        found: list[tuple[str, np.ndarray | slice]] = []
        for code in np.flatnonzero(np.bincount(codes, minlength=len(names))).tolist():
            rows = np.flatnonzero(codes == code)
            found.append((names[code], slice(None) if len(rows) == self.count else rows))
        return found

    def derive(self, name: str, rows: np.ndarray | slice, values: Number) -> None:
        """Set what was worked out for some jobs."""
        if isinstance(rows, slice):
            self.derived[name] = values
            return
        if name not in self.derived:
            self.derived[name] = np.full(self.count, np.nan)
        self.derived[name][rows] = values  # type: ignore[index]


def _or(first: Number | None, second: Number | None) -> Number | None:
    """Return the first, and where it is not there the second."""
    if first is None or second is None:
        return second if first is None else first
    if isinstance(first, np.ndarray):
        gaps = np.isnan(first)
        return np.where(gaps, second, first) if gaps.any() else first
    return second if np.isnan(first) else first


def _at(value: Number, rows: np.ndarray | slice) -> Number:
    return value[rows] if isinstance(value, np.ndarray) else value


def order_inputs(
    count: int,
    numbers: Mapping[str, Number],
    words: Mapping[str, tuple[np.ndarray, tuple[str, ...]]],
    common: BookPlant,
) -> Resolved:
    """Resolve columns of jobs into inputs.

    Parameters
    ----------
    count : int
        Jobs.
    numbers : mapping
        Dotted name to numbers of the jobs, NaN where one leaves it out; a plain number stands for all.
    words : mapping
        Dotted name to codes (-1 where left out) and the words they stand for.
    common : BookPlant
        What all jobs have in common.

    Returns
    -------
    Resolved
        Equal to :func:`compare.scenario.prepare` of each job to 1e-9.
    """
    c = _Columns(count, numbers, words, common)
    recycled = _boards(c)
    for style, rows in c.groups("carton.style"):
        if style:
            _draw(c, style, rows)
    for name in ("sheet.width_mm", "sheet.length_mm"):
        c.need(name)
    _lay(c)
    for name in NEEDED:
        c.need(name)
    _check_worked_out(c)
    _check_together(c)

    fit = c.faults == 0
    everything: dict[str, Number] = dict(common.plant)
    for name in (*common.assumed, *common.given, *numbers, *c.derived):
        if name not in everything and not name.startswith(("carton.", "cutouts.")):
            everything[name] = c.value(name)  # type: ignore[assignment]
    everything["carton.blank_area_m2"] = c.value("carton.blank_area_m2")  # type: ignore[assignment]
    for name, value in common.recycled.items():
        everything[name] = np.where(recycled, value, common.plant[name]) if np.ndim(recycled) else (
            value if recycled else common.plant[name]
        )  # fmt: skip
    for name in ("work.smallest_gap_mm", "work.smallest_radius_mm"):  # what is not given is not too small
        if name in everything:
            everything[name] = np.where(np.isnan(everything[name]), np.inf, everything[name])
    codes, names = c.word("board.laminate")
    laminate: np.ndarray | str = names[0] if codes is None else np.array(names, dtype=object)[codes]
    if not fit.all():
        everything = {n: v[fit] if isinstance(v, np.ndarray) else v for n, v in everything.items()}
        laminate = laminate[fit] if isinstance(laminate, np.ndarray) else laminate
    return Resolved(Inputs(everything), laminate, fit, c.faults)


def _boards(c: _Columns) -> np.ndarray | bool:
    """Take figures of the boards that are named; return which of them are recycled."""
    codes, names = c.word("board.grade")
    known = [boards().get(name) for name in names]
    for name in ("grammage_g_m2", "caliper_mm", "price_per_t"):
        figures = np.array([np.nan if b is None else getattr(b, name) for b in known])
        if not np.isnan(figures).all():
            c.derived[f"board.{name}"] = float(figures[0]) if codes is None else figures[codes]
    recycled = np.array([b is not None and b.fibre == "recycled" for b in known])
    if codes is None:
        return bool(recycled[0])
    taken = recycled[codes]
    return bool(taken[0]) if len(taken) and taken.all() == taken.any() else taken


def _draw(c: _Columns, style: str, rows: np.ndarray | slice) -> None:
    """Work out what a style and its dimensions give, for the jobs that have it."""
    where = np.zeros(c.count, dtype=bool)
    where[rows] = True
    carton = {}
    for name in assumption_table():
        if name.startswith("carton.") and name not in _TEXTS:
            short = name.removeprefix("carton.")
            value = c.need(name, where) if short in _DRAWN else c.value(name)
            if value is not None:
                carton[short] = _at(value, rows)
    carton["length_mm"] = np.broadcast_to(np.asarray(carton["length_mm"]), (int(np.count_nonzero(where)),))
    m = measure_style(style, carton)
    there = ~np.isnan(sum(carton[name] for name in _DRAWN))
    no_room = there & ~m.fits
    if no_room.any():
        where[rows] = no_room
        c.mark("no_room", where)
    area, cut, bends, strokes, load = m.area_mm2, m.cut_mm, m.bends, m.strokes, m.corner_load
    count = c.value("cutouts.count")
    if np.any(count):
        per_carton = np.broadcast_to(_at(count, rows), m.area_mm2.shape)  # type: ignore[arg-type]
        has = per_carton > 0
        where = np.zeros(c.count, dtype=bool)
        where[rows] = has
        hole_mm = np.where(has, _at(c.need("cutouts.length_mm", where), rows), 0.0)
        hole_mm2 = np.where(has, _at(c.need("cutouts.area_mm2", where), rows), 0.0)
        corners = _at(c.value("cutouts.corners"), rows)  # type: ignore[arg-type]
        area = area - per_carton * hole_mm2
        where[rows] = area <= 0
        c.mark("cutouts", where)
        cut = cut + per_carton * hole_mm
        bends, strokes = bends + per_carton * corners, strokes + per_carton
        load = load + per_carton * np.maximum(corners - 1, 0)
        c.derive("work.waste_pieces", rows, np.where(has, per_carton, np.nan))
    c.derive("carton.blank_width_mm", rows, m.width_mm)
    c.derive("carton.blank_height_mm", rows, m.height_mm)
    c.derive("carton.blank_area_m2", rows, area / 1e6)
    c.derive("work.cutting_m", rows, cut / 1000)
    c.derive("work.creasing_m", rows, m.crease_mm / 1000)
    c.derive("work.bends", rows, bends)
    c.derive("work.strokes", rows, strokes)
    c.derive("work.corner_load", rows, load)
    per_m = _at(c.value("work.nicks_per_m"), rows)  # type: ignore[arg-type]
    c.derive("work.nicks", rows, np.ceil(per_m * m.cut_mm / 1000 - 1e-9))


def _lay(c: _Columns) -> None:
    """Lay boxes on the sheet where the ups are not given."""
    for route in ("die", "laser"):
        name = f"layout.ups_{route}"
        given = c.given(name)
        open_ = np.broadcast_to(True if given is None else np.isnan(given), (c.count,))
        if not open_.any():
            continue
        size = [c.need(f"carton.blank_{side}_mm", open_) for side in ("width", "height")]
        for grain, rows in c.groups("sheet.grain"):
            v = {n: _at(c.need(n), rows) for n in _SHEET}
            v |= {f"carton.blank_{side}_mm": _at(s, rows) for side, s in zip(("width", "height"), size, strict=True)}
            found = ups_by_grid(v, route, grain)
            c.derive(name, rows, found.ups)
        laid = c.derived.get(name)
        if laid is not None:
            c.mark("too_small", open_ & np.less(laid, 1))


_SHEET = (
    "sheet.width_mm", "sheet.length_mm", "sheet.gripper_mm", "sheet.side_margin_mm", "sheet.tail_margin_mm",
    "layout.gutter_die_mm", "layout.gutter_laser_mm",
)  # fmt: skip


def _check_worked_out(c: _Columns) -> None:
    """Hold what was worked out to the limits of its input."""
    table = assumption_table()
    for name, value in c.derived.items():
        if not name.startswith(("layout.", "board.")):
            bad = outside(table[name].limits, np.asarray(c.value(name) if name in NEEDED else value))
            if bad.any():
                c.mark("range", bad & (c.faults == 0))


def _check_together(c: _Columns) -> None:
    """Mark jobs whose inputs contradict one another, as :func:`compare.names.check_together` refuses them."""
    v = {n: np.nan if (x := c.value(n)) is None else x for n in _TOGETHER}
    c.mark("versions", np.greater(v["demand.versions"], v["demand.run_length"]))
    c.mark("crease_versions", np.greater(v["demand.crease_versions"], v["demand.versions"]))
    sheet = v["sheet.width_mm"] * v["sheet.length_mm"] / 1e6
    for route in ("die", "laser"):
        area = v[f"layout.ups_{route}"] * v["carton.blank_area_m2"]
        c.mark("sheet_area", np.greater(area, sheet * (1 + 1e-9)))
        c.mark("shared", np.greater(v[f"layout.shared_{route}_m"], v["work.cutting_m"]))


_TOGETHER = (
    "demand.versions", "demand.run_length", "demand.crease_versions", "sheet.width_mm", "sheet.length_mm",
    "layout.ups_die", "layout.ups_laser", "carton.blank_area_m2", "layout.shared_die_m", "layout.shared_laser_m",
    "work.cutting_m",
)  # fmt: skip
