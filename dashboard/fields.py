"""Fields of the Job view: which inputs it shows, and how a value gets from screen to input and back."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal

import dash_mantine_components as dmc

from compare.assumptions import Assumption, assumption_table
from compare.boards import boards
from compare.factors import countries
from compare.geometry.styles import STYLES
from compare.present.numbers import NumberStyle
from compare.spread import Given
from dashboard.units import System, shown_as

Kind = Literal["number", "select", "switch"]

_PLAIN_UNITS = ("cartons", "1/y", "y", "1/carton", "1/cut-out")
"""Units that the label says already."""

_THREE_IN_A_ROW = ("carton.length_mm", "carton.width_mm", "carton.height_mm")
"""L, W and H."""

_DOTTED = re.compile(r"[a-z_]+\.[a-z0-9_]+")

LENGTHS, OWN_BOARD = "lengths", "own"
"""Choices of the carton and board selects that stand for "no style" and "no grade"."""


@dataclass(frozen=True)
class Field:
    """One input on screen.

    Attributes
    ----------
    name : str
        Dotted name.
    label : str
        Short label; the table of assumptions has the long one.
    when : str
        Group it belongs to: shown only in that case ("style", "lengths", "own board"), or always.
    """

    name: str
    label: str
    when: str = ""

    @property
    def row(self) -> Assumption:
        """Its row of the table of assumptions."""
        return assumption_table()[self.name]

    @property
    def kind(self) -> Kind:
        """What it is on screen."""
        if self.row.is_text:
            return "select"
        return "switch" if self.row.limits.switch else "number"


CARTON = (
    Field("carton.style", "Carton"),
    Field("carton.length_mm", "L", "style"),
    Field("carton.width_mm", "W", "style"),
    Field("carton.height_mm", "H", "style"),
    Field("work.cutting_m", "Cutting", "lengths"),
    Field("work.creasing_m", "Creasing", "lengths"),
    Field("carton.blank_area_m2", "Blank area", "lengths"),
    Field("work.nicks", "Nicks", "lengths"),
    Field("work.bends", "Rule bends", "lengths"),
    Field("work.strokes", "Strokes", "lengths"),
    Field("work.corner_load", "Corner load", "lengths"),
    Field("work.waste_pieces", "Waste pieces", "lengths"),
    Field("layout.ups_die", "Ups, die", "lengths"),
    Field("layout.ups_laser", "Ups, laser", "lengths"),
)
MORE_LINES = (
    Field("work.perforating_m", "Perforating"),
    Field("work.partial_cutting_m", "Partial cutting"),
    Field("work.cutting_creasing_m", "Cutting-creasing"),
    Field("work.varnish_release_m", "Varnish release"),
    Field("cutouts.count", "Cut-outs", "style"),
    Field("cutouts.length_mm", "Length of one", "style"),
    Field("cutouts.corners", "Corners of one", "style"),
    Field("cutouts.area_mm2", "Area of one", "style"),
)
BOARD = (
    Field("board.grade", "Board"),
    Field("board.grammage_g_m2", "Grammage", "own board"),
    Field("board.caliper_mm", "Caliper", "own board"),
    Field("board.price_per_t", "Price", "own board"),
    Field("board.laminate", "Laminate"),
)
SHEET = (
    Field("sheet.width_mm", "Sheet width"),
    Field("sheet.length_mm", "Sheet length"),
    Field("sheet.print_cost", "Printed sheet"),
    Field("sheet.grain", "Grain along"),
)
ORDERS = (
    Field("demand.run_length", "Run length, per order"),
    Field("demand.versions", "Versions"),
    Field("demand.crease_versions", "... in creases"),
    Field("demand.orders_per_year", "Orders a year"),
    Field("demand.years", "Years"),
    Field("demand.changes_per_year", "Changes a year"),
    Field("demand.artwork_versions", "Print versions"),
    Field("demand.mixed_sheets", "Versions share a sheet"),
)
TOOLS = (
    Field("tooling.owned", "Die on the shelf"),
    Field("tooling.change_share", "Cost of a change"),
    Field("plant.country", "Country of the grid"),
    Field("laser.motion", "Laser heads move"),
    Field("laser.path", "Seconds per sheet"),
)

GROUPS: tuple[tuple[str, tuple[Field, ...]], ...] = (
    ("Carton", CARTON),
    ("Orders", ORDERS),
    ("Board", BOARD),
    ("Sheet", SHEET),
    ("Tools and plant", TOOLS),
    ("More lines and cut-outs", MORE_LINES),
)

FIELDS: dict[str, Field] = {field.name: field for _, group in GROUPS for field in group}
"""Every field of the view, by dotted name."""


RANGED = "demand.run_length"
"""The input whose range is asked for beside it; ranges of others stand among the assumptions."""


def end_key(end: str) -> str:
    """Return the name that a field of one end of its range goes by."""
    return f"{end}.{RANGED}"


def range_fields(range_: Given | None, style: NumberStyle) -> list[Any]:
    """Return the two fields of the range that the run length may lie in, empty without one."""
    between = range_ is not None and range_.low is not None
    ends = (range_.low, range_.high) if range_ is not None and between else ("", "")
    about = "If the run length is not settled: from where to where it may lie. Leave both empty if it is."
    return [
        dmc.NumberInput(
            id={"kind": "number", "name": end_key(end)},
            label=label,
            description=about,
            placeholder=str(range_) if range_ is not None and not between else None,
            value=value,
            decimalSeparator=style.decimal,
            thousandSeparator=style.group,
            hideControls=True,
            clampBehavior="none",
            debounce=350,
            size="xs",
        )
        for end, label, value in zip(("low", "high"), ("May lie from", "May lie up to"), ends, strict=True)
    ]


def labelled(text: str) -> str:
    """Call inputs in a text by their labels on screen, where they have one."""
    return _DOTTED.sub(lambda name: f"'{FIELDS[name[0]].label}'" if name[0] in FIELDS else name[0], text)


def options(name: str) -> list[dict[str, str]]:
    """Return the choices of a select, in plain words."""
    if name == "carton.style":
        styles = [{"value": s, "label": s.replace("_", " ")} for s in STYLES]
        return [*styles, {"value": LENGTHS, "label": "from its lengths"}]
    if name == "board.grade":
        grades = [{"value": b.grade, "label": b.name} for b in boards().values()]
        return [*grades, {"value": OWN_BOARD, "label": "own values"}]
    if name == "plant.country":
        return [{"value": code, "label": code} for code in sorted(countries())]
    plain = {
        "any": "any way",
        "none": "none",
        "width": "sheet width",
        "length": "sheet length",
        "scanner": "by mirrors (scanner)",
        "axes": "along axes",
        "planned": "from the planned path",
        "estimated": "estimated",
    }
    valid = assumption_table()[name].valid.split("|")
    return [{"value": v, "label": plain.get(v, v.upper() if len(v) < 5 else v)} for v in valid]


def to_screen(field: Field, value: float | str | None, system: System) -> float | str | bool | None:
    """Return a stored value as its component shows it."""
    if field.name == "carton.style":
        return value or LENGTHS
    if field.name == "board.grade":
        return value or OWN_BOARD
    if field.kind == "switch":
        return value == 1
    if field.kind == "number" and isinstance(value, (int, float)):
        return shown_as(field.name, field.row.unit, system).show(float(value))
    return value


def from_screen(field: Field, value: Any, system: System, stored_now: float | str | None) -> Any:
    """Return what is to be stored for what a component shows; a number that is none stays as it is."""
    if field.name == "carton.style":
        return "" if value == LENGTHS else value
    if field.name == "board.grade":
        return "" if value == OWN_BOARD else value
    if field.kind == "switch":
        return 1.0 if value else 0.0
    if field.kind == "number" and isinstance(value, (int, float)) and not isinstance(value, bool):
        now = stored_now if isinstance(stored_now, float) else None
        return shown_as(field.name, field.row.unit, system).store(float(value), now)
    return value


def component(field: Field, value: float | str | None, system: System, currency: str, style: NumberStyle) -> Any:
    """Return the component of a field, with its unit and help."""
    shown, row = to_screen(field, value, system), field.row
    key = {"kind": field.kind, "name": field.name}
    label, described = field.label, _help(field, system, currency)
    if field.kind == "switch":
        return dmc.Switch(id=key, label=label, description=described, checked=bool(shown), size="sm")
    if field.kind == "select":
        return dmc.Select(
            id=key,
            label=label,
            description=described,
            data=options(field.name),
            value=shown,
            allowDeselect=False,
            searchable=field.name in ("plant.country", "board.grade"),
            size="xs",
            comboboxProps={"withinPortal": True},
        )
    unit = shown_as(field.name, row.unit_in(currency), system).unit
    return dmc.NumberInput(
        id=key,
        label=f"{label}, {unit}" if unit and unit not in _PLAIN_UNITS else label,
        description=described,
        value="" if shown is None else shown,
        decimalSeparator=style.decimal,
        thousandSeparator=style.group,
        hideControls=True,
        clampBehavior="none",
        debounce=350,
        size="xs",
        className="third" if field.name in _THREE_IN_A_ROW else None,
    )


def _help(field: Field, system: System, currency: str) -> str:
    """Return the help of a field: what it is, its unit, its usual range and where that is from."""
    row = field.row
    if row.is_text or row.limits.switch:
        return f"{row.meaning}."
    shown = shown_as(field.name, row.unit_in(currency), system)
    unit = f" [{shown.unit}]" if shown.unit else ""
    span = ""
    if row.low is not None and row.high is not None:
        span = f" Usually {shown.show(row.low):g} to {shown.show(row.high):g} ({row.basis})."
    return f"{row.meaning}{unit}.{span}"
