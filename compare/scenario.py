"""From what the user gave to what the engine uses: styles, boards, layout, rates and factors resolved.

What was given stands; what was left out is worked out; what can't be worked out comes from the
table of assumptions; what is not there either is asked for. Every number remembers which it was.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from compare.assumptions import Number, assumption_table
from compare.boards import board
from compare.errors import Finding, InputError
from compare.factors import ROLES, FactorUse, choose
from compare.geometry.styles import Blank, build_blank
from compare.machine_rate import MachineHourRate, machine_hour_rate
from compare.names import Inputs, check_together, replace
from compare.readers.jobfile import Layer
from compare.resolver import Resolver
from compare.sheet_path import hatched_varnish, plan_path
from compare.sheet_ups import LAYOUT_NAMES, lay_sheets, ups_by_grid
from compare.spread import Spread, spread_of

if TYPE_CHECKING:
    from compare.geometry.sheet_layout import Layout
    from compare.geometry.toolpath import Toolpath
    from compare.readers.drawn_carton import DrawnCarton

NEEDED = (
    "demand.run_length",
    "sheet.width_mm",
    "sheet.length_mm",
    "board.grammage_g_m2",
    "board.caliper_mm",
    "carton.blank_area_m2",
    "work.cutting_m",
    "work.creasing_m",
    "work.nicks",
    "work.bends",
    "work.strokes",
    "work.corner_load",
    "layout.ups_die",
    "layout.ups_laser",
)
"""Inputs without a default that every calculation needs."""

_MADE_BY = {"press": "rates.press", "line": "rates.laser"}
_RATE_FROM_CAPITAL = "machine-hour rate from the purchase price"
_CASH_FROM_CAPITAL = "machine-hour rate, maintenance only"


@dataclass(frozen=True)
class Scenario:
    """A job on a plant, ready to be computed.

    Attributes
    ----------
    name, note : str
        As the job file says.
    plant : str
        Name of the plant.
    inputs : Inputs
        Every number, by dotted name.
    choices : mapping
        Every text, by dotted name.
    origins : mapping
        Where each value is from: a file, ``--set``, a calculation, or the table of assumptions.
    factors : mapping
        Role to emission factor.
    blank : Blank or None
        The flat carton, where a style was given.
    drawn : DrawnCarton or None
        The carton of a drawing, where one was given.
    layouts : mapping
        For each route, where its blanks lie on the sheet; only where their outline is known.
    toolpath : Toolpath or None
        Path of the beam over one sheet, where the lines of the blank are known.
    grid_layout : mapping
        For each route, whether its ups were worked out by the grid.
    findings : tuple of Finding
        Remarks on the input.
    ranges : mapping
        Dotted name to the range that was given for its value.
    """

    name: str
    note: str
    plant: str
    inputs: Inputs
    choices: Mapping[str, str]
    origins: Mapping[str, str]
    factors: Mapping[str, FactorUse]
    blank: Blank | None
    drawn: DrawnCarton | None
    layouts: Mapping[str, Layout]
    toolpath: Toolpath | None
    grid_layout: Mapping[str, bool]
    findings: tuple[Finding, ...]
    ranges: Mapping[str, Spread]

    @property
    def currency(self) -> str:
        """Currency of every price."""
        return self.choices["plant.currency"]

    def changed(self) -> dict[str, str]:
        """Return the origins of the values that are not from the table of assumptions."""
        return {name: origin for name, origin in self.origins.items() if origin != "assumption"}


@cache
def _texts() -> frozenset[str]:
    return frozenset(name for name, row in assumption_table().items() if row.is_text)


def prepare(*layers: Layer) -> Scenario:
    """Resolve layers of given values into a scenario.

    Parameters
    ----------
    *layers : Layer
        From the weakest to the strongest: plant file, job file, settings. A drawing that one of them
        names is read, mapped and measured.

    Returns
    -------
    Scenario

    Raises
    ------
    InputError
        If something needed is missing, or values contradict one another.
    FactorError
        If the country is unknown or the factors may not stand in one sum.
    FileError
        If a drawing that is named can't be read.
    """
    layers = _read_drawing(layers)
    r = Resolver(layers)
    fibre = _resolve_board(r)
    drawn = next((layer.drawn for layer in reversed(layers) if layer.drawn is not None), None)
    blank = _resolve_carton(r, drawn)
    _resolve_rates(r)
    outline = blank.outline if blank else drawn.measured.outline if drawn else None
    layouts, grid_layout = lay_sheets(r, outline, "interlocked" if drawn else "grid")
    uses = _resolve_factors(r, fibre)
    r.require(NEEDED, why="give them in the job file or with --set, or name a carton.style")
    table = assumption_table()
    texts = _texts()
    toolpath, loads = plan_path(r, outline, drawn, layouts)
    inputs = Inputs({n: v for n, v in r.values.items() if n not in texts}, loads)
    for name, value in inputs.items():  # what was worked out is held to the same limits
        if name not in r.given and r.origins[name] != "assumption":
            table[name].check(value, where=r.origins[name])
    check_together(inputs, where="job")
    _remark(r)
    about = {key: value for layer in layers for key, value in layer.about.items()}
    plant = r.values.get("plant.name") or "assumptions of the table"
    return Scenario(
        name=about.get("name", "job"),
        note=about.get("note", ""),
        plant=str(plant),
        inputs=inputs,
        choices={n: str(v) for n, v in r.values.items() if n in texts},
        origins=dict(r.origins),
        factors=uses,
        blank=blank,
        drawn=drawn,
        layouts=layouts,
        toolpath=toolpath,
        grid_layout=grid_layout,
        findings=tuple(r.findings),
        ranges=_resolve_ranges(r, inputs),
    )


def _read_drawing(layers: tuple[Layer, ...]) -> tuple[Layer, ...]:
    """Read the drawing that the layers name, unless its carton is there."""
    if not any(layer.values.get("carton.drawing") for layer in layers) or any(layer.drawn for layer in layers):
        return layers
    # readers of drawings take a while to load, and few jobs have one
    from compare.readers.drawn_carton import with_drawing

    return with_drawing(*layers)


def _resolve_board(r: Resolver) -> str:
    currency = str(r.values["plant.currency"])
    if not (len(currency) == 3 and currency.isalpha() and currency.isupper()):
        raise InputError(
            f"'{currency}' is no currency code",
            where="plant.currency",
            remedy="give three capital letters, such as EUR",
        )
    grade = r.values.get("board.grade")
    if not grade:
        return "primary"
    row = board(grade, where=r.origins["board.grade"])
    r.derive("board.grammage_g_m2", row.grammage_g_m2, f"board {grade}")
    r.derive("board.caliper_mm", row.caliper_mm, f"board {grade}")
    r.derive("board.price_per_t", row.price_per_t, f"board {grade}")
    return row.fibre


def _resolve_carton(r: Resolver, drawn: DrawnCarton | None) -> Blank | None:
    style = r.values.get("carton.style")
    if r.values.get("carton.drawing"):
        if style:
            raise InputError(
                "carton.style and carton.drawing are both given", where="job", remedy="leave one of them out"
            )
        if drawn is not None:
            _resolve_drawing(r, drawn)
        return None
    if not style:
        return None
    sizes = ("carton.length_mm", "carton.width_mm", "carton.height_mm")
    r.require(sizes, why=f"a {style} is drawn from its three dimensions")
    blank = build_blank(style, r.group("carton."))
    how, cut = f"style {style}", blank.cut
    width, height = blank.box_mm
    cutouts = r.group("cutouts.")
    count, corners = cutouts["count"], cutouts["corners"]
    if count:
        r.require(("cutouts.length_mm", "cutouts.area_mm2"), why="describe one cut-out, or set cutouts.count to 0")
        cutouts = r.group("cutouts.")
        how += f" and {count:g} cut-outs"
    hole_mm, hole_mm2 = cutouts.get("length_mm", 0.0), cutouts.get("area_mm2", 0.0)
    area_mm2 = blank.area_mm2 - count * hole_mm2
    if area_mm2 <= 0:
        raise InputError(
            "the cut-outs take more than the whole blank",
            where="cutouts.area_mm2",
            remedy="give the area of one cut-out in mm2",
        )
    r.derive("carton.blank_width_mm", width, how)
    r.derive("carton.blank_height_mm", height, how)
    r.derive("carton.blank_area_m2", area_mm2 / 1e6, how)
    r.derive("work.cutting_m", (cut.length_mm + count * hole_mm) / 1000, how)
    r.derive("work.creasing_m", blank.crease_mm / 1000, how)
    r.derive("work.bends", cut.bends + count * corners, how)
    r.derive("work.strokes", cut.strokes + count, how)
    # a closed stroke starts at a corner, which does not count
    r.derive("work.corner_load", cut.corner_load + count * max(corners - 1, 0), how)
    r.derive(
        "work.nicks",
        float(np.ceil(r.values["work.nicks_per_m"] * cut.length_mm / 1000 - 1e-9)),
        "nicks per metre of outline",
    )
    if count and "work.waste_pieces" not in r.given:
        r.values["work.waste_pieces"], r.origins["work.waste_pieces"] = count, "one per cut-out"
    return blank


def _resolve_drawing(r: Resolver, drawn: DrawnCarton) -> None:
    how, measured = f"drawing {drawn.name}", drawn.measured
    r.findings += drawn.findings
    for name, value in measured.work.inputs().items():
        r.derive(name, float(value), how)
    _resolve_varnish(r, drawn)
    if not r.values.get("work.cutting_m"):
        raise InputError(
            "no line of the drawing is a cut",
            where=drawn.name,
            remedy="say which lines are: 'evenrun measure' lists them, carton.line_map names the file that maps them",
        )
    outline_m = measured.outline_mm / 1000
    r.derive(
        "work.nicks", float(np.ceil(r.values["work.nicks_per_m"] * outline_m - 1e-9)), "nicks per metre of outline"
    )


def _resolve_varnish(r: Resolver, drawn: DrawnCarton) -> None:
    """Count the hatch of closed varnish release in the place of its contours, as the planned path does."""
    pitch = float(r.values["laser.hatch_pitch_mm"])
    trails = hatched_varnish(drawn, pitch)
    if trails is None:
        return
    how, work = f"drawing {drawn.name}, hatched at {pitch:g} mm", drawn.measured.work
    (contours,) = (some for some in drawn.measured.kinds if some.kind == "varnish_release")
    undrawn = (some for some in drawn.measured.groups if some.kind == "varnish_release" and not some.strokes)
    stated_mm = math.fsum(some.length_mm for some in undrawn)
    r.derive("work.varnish_release_m", (math.fsum(t.length_mm for t in trails) + stated_mm) / 1000, how)
    r.derive("work.strokes", float(work.strokes - contours.strokes + len(trails)), how)
    hatched_load = math.fsum(trail.corner_load for trail in trails)
    r.derive("work.corner_load", max(work.corner_load - contours.corner_load, 0.0) + hatched_load, how)


def _resolve_rates(r: Resolver) -> None:
    for who, rate in _MADE_BY.items():
        capital = r.group(f"{who}_capital.")
        if "purchase" not in capital:
            continue
        if capital["residual"] > capital["purchase"]:
            raise InputError(
                f"{who}_capital.residual is above the purchase price",
                where="plant",
                remedy="give the value left at the end of its life",
            )
        rates = _rate_of(capital)
        r.derive(f"{rate}_h", rates.full, _RATE_FROM_CAPITAL)
        r.derive(f"{rate}_cash_h", rates.cash, _CASH_FROM_CAPITAL)


def _rate_of(capital: Mapping[str, Any]) -> MachineHourRate:
    return machine_hour_rate(
        purchase=capital["purchase"],
        residual=capital["residual"],
        life_y=capital["life_y"],
        interest=capital["interest"],
        space_per_year=capital["space_m2"] * capital["space_rate"] * 12,
        maintenance_per_year=capital["maintenance_share"] * capital["purchase"],
        hours_per_year=capital["hours_y"],
    )


def rates_of_capital(scenario: Scenario, varied: Mapping[str, Number]) -> dict[str, Number]:
    """Return the machine-hour rates that follow from what is varied of purchase and use of the machines.

    Parameters
    ----------
    scenario : Scenario
        The scenario to start from.
    varied : mapping
        Dotted name to numbers or arrays; only those of ``press_capital`` and ``line_capital`` are looked at.

    Returns
    -------
    dict
        ``rates.press_h``, ``rates.press_cash_h`` and those of the laser, where they were worked out [money/h].
    """
    rates: dict[str, Number] = {}
    for who, rate in _MADE_BY.items():
        group = f"{who}_capital."
        if not any(name.startswith(group) for name in varied):
            continue
        both = {**scenario.inputs, **varied}
        worked_out = _rate_of({n.removeprefix(group): v for n, v in both.items() if n.startswith(group)})
        of_name = {f"{rate}_h": worked_out.full, f"{rate}_cash_h": worked_out.cash}
        rates.update({name: value for name, value in of_name.items() if capital_behind(scenario, name)})
    return rates


def capital_behind(scenario: Scenario, rate: str) -> list[str]:
    """Return the inputs that a machine-hour rate of the scenario was worked out of, by dotted name; none for any other input."""
    if scenario.origins.get(rate) not in (_RATE_FROM_CAPITAL, _CASH_FROM_CAPITAL):
        return []
    group = next(f"{who}_capital." for who, made in _MADE_BY.items() if rate.startswith(made))
    return [name for name in scenario.inputs if name.startswith(group)]


def _resolve_ranges(r: Resolver, inputs: Inputs) -> dict[str, Spread]:
    table, spreads = assumption_table(), {}
    for name, (given, where) in r.ranges.items():
        if name not in inputs:
            raise InputError(f"{name} has a range and no value", where=where, remedy="give its value, too")
        spreads[name] = spread_of(table[name], inputs.number(name), given, where=where)
    return spreads


def _resolve_factors(r: Resolver, fibre: str) -> dict[str, FactorUse]:
    own = {role: r.values[f"factors.{role}"] for role in ROLES if f"factors.{role}" in r.given}
    where = {role: f"{r.origins[f'factors.{role}']}, factors.{role}" for role in own}
    uses = choose(str(r.values["factors.set"]), str(r.values["plant.country"]), fibre, own, where=where)
    for role, use in uses.items():
        name = f"factors.{role}"
        if not isinstance(own.get(role), float):
            r.values[name] = use.value
            r.origins[name] = f"{' + '.join(use.keys)} ({use.label})"
        else:
            r.note(
                "factors.own", f"{name} is your own value: it must be gross and cradle to gate like the others.", name
            )
    return uses


def _remark(r: Resolver) -> None:
    if r.values["demand.artwork_versions"] > 1:
        n = r.values["demand.artwork_versions"]
        r.note(
            "demand.artwork",
            f"The {n:g} artwork versions differ in print only and cost nothing at the cutting stage on either route.",
            "demand.artwork_versions",
        )
    if r.values["board.laminate"] in ("metallised", "foil"):
        r.findings.append(
            Finding(
                "laser.metal",
                "Bare metal reflects most of a CO2 beam: expect slower cutting, cut from the board side and try it first.",
                "board.laminate",
                "caution",
            )
        )


def vary(scenario: Scenario, changes: Mapping[str, Any]) -> Inputs:
    """Return a scenario's inputs with some of them varied, ups worked out again where they came from the grid.

    Parameters
    ----------
    scenario : Scenario
        The scenario to start from.
    changes : mapping
        Dotted name to number or array-like; arrays broadcast with one another.

    Returns
    -------
    Inputs

    Raises
    ------
    InputError
        If a value is not fit for use, or is one that other inputs were drawn from (dimensions of a
        style, price of a machine): such a change needs :func:`prepare`.
    """
    table = assumption_table()
    upstream = ("cutouts.", "press_capital.", "line_capital.", "carton.", "work.nicks_per_m", "laser.hatch_pitch_mm")
    for name in changes:
        if name.startswith(upstream) and name not in ("carton.blank_area_m2", *LAYOUT_NAMES):
            raise InputError(
                f"{name} can't be varied here, because other inputs are worked out from it",
                where="vary",
                remedy="prepare one scenario per value",
            )
    fit = {name: table[name].check(value, where="vary") for name, value in changes.items() if name in table}
    if scenario.layouts and any(name in LAYOUT_NAMES for name in changes):
        raise InputError(
            "the sheet can't be varied where blanks are pushed into one another",
            where="vary",
            remedy="prepare one scenario per value",
        )
    if any(name in LAYOUT_NAMES for name in changes):
        values = {**scenario.inputs, **fit}
        for route, by_grid in scenario.grid_layout.items():
            name = f"layout.ups_{route}"
            if by_grid and name not in changes:
                fit[name] = ups_by_grid(values, route, scenario.choices["sheet.grain"]).ups
    return replace(scenario.inputs, {**changes, **fit})
