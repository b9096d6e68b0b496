"""The laser line: no tool for cutting, a digital crease set for creasing.

Every total is linear in good sheets, cartons and crease sets; only these depend on the run length.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce
from types import MappingProxyType

import numpy as np

from compare.assumptions import Number
from compare.geometry.line_kinds import FULL_DEPTH
from compare.names import Inputs
from compare.routes.head_times import head_times
from compare.routes.inventory import Amounts, Flow, Inventory, absent, board_flows, whole_up

DEPTHS: Mapping[str, str] = MappingProxyType(
    {
        "partial_cutting": "laser.partial_depth",
        "varnish_release": "laser.varnish_depth",
    }
)
"""Kinds of line that it runs to a share of the caliper, and the name of that share."""


def cut_speed(power_w: Number, severance_j_mm2: Number, caliper_mm: Number, depth: Number = 1.0) -> Number:
    """Return the speed that the power cuts with [m/s], whatever the scanner can follow.

    Parameters
    ----------
    power_w : float or ndarray
        Optical power at the sheet [W].
    severance_j_mm2 : float or ndarray
        Energy per area of cut wall [J/mm2].
    caliper_mm : float or ndarray
        Caliper [mm].
    depth : float or ndarray
        Depth of the cut as a share of the caliper [-].

    References
    ----------
    Severance energy S = P/(v t) after Steen & Mazumder, Laser Material Processing (from memory).
    """
    return power_w / (severance_j_mm2 * caliper_mm * depth) / 1000


def mark_speed(
    max_mark_m_s: Number, power_w: Number, severance_j_mm2: Number, caliper_mm: Number, depth: Number = 1.0
) -> Number:
    """Return the speed of marking [m/s]: what the power cuts (:func:`cut_speed`), capped by the scanner."""
    return np.minimum(max_mark_m_s, cut_speed(power_w, severance_j_mm2, caliper_mm, depth))


def source_kw(optical_kw: Number, efficiency: Number, chiller_cop: Number = np.inf) -> Number:
    """Return the electricity behind a beam [kW]: the source, and the chiller that takes its heat.

    Parameters
    ----------
    optical_kw : float or ndarray
        Optical power [kW].
    efficiency : float or ndarray
        Wall-plug efficiency of the source (0..1].
    chiller_cop : float or ndarray
        Coefficient of performance; infinite leaves the chiller out.
    """
    return optical_kw * (1 / efficiency + (1 / efficiency - 1) / chiller_cop)


def kerf_kg(length_m: Number, kerf_mm: Number, grammage_g_m2: Number) -> Number:
    """Return the board that leaves as smoke [kg]: length x width of the cut x grammage."""
    return length_m * (kerf_mm * 1e-3) * (grammage_g_m2 * 1e-3)


def line_speeds(x: Inputs) -> dict[str, Number]:
    """Return the speed of each kind of line [m/s]: what the power cuts to its depth, capped by the scanner.

    Cutting, cutting-creasing and perforating are run at full depth and full length, ties included.
    """
    fastest = x["laser.max_mark_m_s"]
    through = cut_speed(x["laser.power_w"], x["laser.severance_j_mm2"], x["board.caliper_mm"])
    full = np.minimum(fastest, through)
    speeds: dict[str, Number] = dict.fromkeys(FULL_DEPTH, full)
    for kind, depth in DEPTHS.items():
        speeds[kind] = np.minimum(fastest, through / x[depth])
    return speeds


def line_m(x: Inputs) -> dict[str, Number]:
    """Return the length of each kind of line that the beam runs on one carton [m].

    A line that two blanks share is run once.
    """
    lengths = {kind: x[f"work.{kind}_m"] for kind in (*FULL_DEPTH, *DEPTHS)}
    lengths["cutting"] = lengths["cutting"] - x["layout.shared_laser_m"]
    return lengths


def stroke_delay_s(x: Inputs) -> Number:
    """Return what a stroke takes beside its jump and its marking [s]."""
    return (x["laser.jump_delay_ms"] + x["laser.mark_delay_ms"]) * 1e-3


def marking_s(x: Inputs) -> Number:
    """Return the beam's marking time for one carton on one head where no path was planned [s]."""
    speeds = line_speeds(x)
    return sum((length / speeds[kind] for kind, length in line_m(x).items() if not absent(length)), 0.0)


def between_marks_s(x: Inputs) -> Number:
    """Return the time of one carton on one head that is not marking, where no path was planned [s]: jumps, delays, corners, nicks.

    References
    ----------
    Delays of a galvanometer scanner (jump, mark, polygon with 1 - cos of the turn angle) as
    documented for general-purpose scanner control cards (names withheld).
    """
    per_stroke = stroke_delay_s(x) + x["laser.mean_jump_mm"] * 1e-3 / x["laser.jump_m_s"]
    corners = x["work.corner_load"] * (x["laser.polygon_delay_ms"] * 1e-3)
    return x["work.strokes"] * per_stroke + corners + x["work.nicks"] * (x["laser.nick_ms"] * 1e-3)


def carton_s(x: Inputs) -> Number:
    """Return the time of one carton, one head having all of it, where no path was planned [s]."""
    return marking_s(x) + between_marks_s(x)


def marking_and_sheet_s(x: Inputs) -> tuple[Number, Number]:
    """Return the marking time of one sheet, summed over heads, and its cutting time on all heads [s].

    By the planned path where there is one: the slowest head counts. Otherwise by means: the mean jump, and how
    evenly heads share the work.
    """
    if x.loads is None:
        ups, marking = x["layout.ups_laser"], marking_s(x)
        carton = marking + between_marks_s(x)
        return ups * marking, carton * (ups / (x["laser.heads"] * x["laser.balance"]))
    marking, times = head_times(x, x.loads, line_speeds(x))
    return marking, reduce(np.maximum, times)


def sheet_s(x: Inputs) -> Number:
    """Return the cutting time of one sheet on all heads [s], without the feeder's limit."""
    return marking_and_sheet_s(x)[1]


def cycle_s(x: Inputs) -> Number:
    """Return the time from sheet to sheet [s]: cutting, or the feeder where it is slower."""
    return _with_feeder(x, sheet_s(x))


def _with_feeder(x: Inputs, sheet: Number) -> Number:
    return np.maximum(3600 / x["laser.feeder_sheets_h"], sheet)


@dataclass(frozen=True)
class LaserPlan:
    """What does not depend on the run length.

    Attributes
    ----------
    orders, generations : Number
        Orders N and generations of the geometry G over the programme.
    sheet_groups : Number
        Versions that are counted in sheets of their own: V, or 1 on mixed sheets.
    crease_groups : Number
        Crease sets in use one after the other, by version and by generation (stored) or order.
    creased : Number
        1 where the carton has creases to make.
    marking : Number
        Marking time of one sheet, summed over heads [s].
    cycle : Number
        Seconds from sheet to sheet.
    """

    orders: Number
    generations: Number
    sheet_groups: Number
    crease_groups: Number
    creased: Number
    marking: Number
    cycle: Number


def plan(x: Inputs) -> LaserPlan:
    """Work out orders, crease sets in use and the cycle."""
    orders = x["demand.orders_per_year"] * x["demand.years"]
    generations = 1 + x["demand.changes_per_year"] * x["demand.years"]
    mixed, stored = x["demand.mixed_sheets"], x["laser.crease_set_stored"]
    marking, sheet = marking_and_sheet_s(x)
    creased = (x["work.creasing_m"] + x["work.cutting_creasing_m"]) > 0
    return LaserPlan(
        orders=orders,
        generations=generations,
        sheet_groups=_either(mixed, 1.0, x["demand.versions"]),
        crease_groups=x["demand.crease_versions"] * _either(stored, generations, orders),
        creased=creased * 1.0,
        marking=marking,
        cycle=_with_feeder(x, sheet),
    )


def _either(switch: Number, if_one: Number, if_zero: Number) -> Number:
    """Choose by a switch; without an array where the switch is a number."""
    if np.ndim(switch):
        return np.where(switch == 1, if_one, if_zero)
    return if_one if switch == 1 else if_zero


def good_sheets(x: Inputs, p: LaserPlan, run_length: Number) -> Number:
    """Return good sheets per order, g: the run, or each version, rounded up to whole sheets."""
    return p.sheet_groups * np.ceil(run_length / p.sheet_groups / x["layout.ups_laser"])


def all_sheets(x: Inputs, p: LaserPlan, good: Number) -> Number:
    """Return all sheets of the programme, B: good, lost in running, spoiled in setting up."""
    return p.orders * good / (1 - x["laser.running_waste"]) + p.orders * x["laser.setup_sheets"]


def crease_sets(x: Inputs, p: LaserPlan, sheets: Number) -> Number:
    """Return crease sets of the programme, C: each serves its life, then is made anew."""
    return p.creased * (p.crease_groups * whole_up(sheets / p.crease_groups / x["laser.crease_set_life"]))


def inventory(x: Inputs) -> Inventory:
    """Return the inventory of the laser route over the programme.

    Parameters
    ----------
    x : Inputs
        Numbers or arrays that broadcast.

    Returns
    -------
    Inventory
    """
    p = plan(x)
    good = good_sheets(x, p, x["demand.run_length"])
    sheets = all_sheets(x, p, good)
    return flows(x, p, Amounts(x["demand.run_length"], good, sheets, crease_sets(x, p, sheets)))


def flows(x: Inputs, p: LaserPlan, amounts: Amounts) -> Inventory:
    """Return the inventory for given amounts; linear in all of them.

    Parameters
    ----------
    x : Inputs
        Numbers or arrays that broadcast.
    p : LaserPlan
        What does not depend on the run length.
    amounts : Amounts
        What depends on the run length; renewals are crease sets.
    """
    run_length, good, sheets, crease_sets = amounts
    ups, heads = x["layout.ups_laser"], x["laser.heads"]
    cartons = p.orders * run_length
    order_setup = x["laser.setup_h"] + x["demand.versions"] * x["laser.version_h"]
    setup_hours = p.orders * order_setup + crease_sets * x["laser.crease_set_h"]
    running_hours = sheets * (p.cycle / 3600)
    hours = setup_hours + running_hours
    crew = x["laser.crew"]
    separation = x["laser.separation_h_per_1000"] * cartons / 1000

    beam_share = p.marking / (p.cycle * heads)
    beam_kw = source_kw(beam_share * heads * (x["laser.power_w"] * 1e-3), x["laser.efficiency"], x["laser.chiller_cop"])
    running_kwh = running_hours * (beam_kw + (x["laser.aux_kw"] + x["laser.air_m3_h"] * x["plant.air_kwh_m3"]))
    setup_kwh = setup_hours * x["laser.idle_kw"]

    grams, blank = x["board.grammage_g_m2"] * 1e-3, x["carton.blank_area_m2"]
    area = x["sheet.width_mm"] * x["sheet.length_mm"] * 1e-6
    sheet_kg, blank_kg = area * grams, blank * grams
    burnt_m = (
        x["work.cutting_m"]
        - x["layout.shared_laser_m"]
        + x["work.perforating_m"]
        + x["laser.cut_crease_duty"] * x["work.cutting_creasing_m"]
        + x["laser.partial_depth"] * x["work.partial_cutting_m"]
        + x["laser.varnish_depth"] * x["work.varnish_release_m"]
    )
    board, board_counts = board_flows(
        sheets=sheets,
        good_sheets=p.orders * good,
        ups_used=ups,
        cartons=cartons,
        sheet_kg=sheet_kg,
        blank_kg=blank_kg,
    )
    counts = {
        **board_counts,
        "orders": p.orders,
        "crease sets": crease_sets,
        "set-up hours": setup_hours,
        "running hours": running_hours,
        "hours": hours,
        "cycle s": p.cycle,
        "beam share": beam_share,
        "beam kW": beam_kw,
        "burnt m": burnt_m,
    }
    lines = (
        Flow(
            "tooling",
            "crease set",
            crease_sets,
            "one per crease version and order (or generation, where stored), anew after {laser.crease_set_life} sheets",
        ),
        Flow(
            "make-ready",
            "laser time",
            setup_hours,
            "{orders} orders x ({laser.setup_h} h + {demand.versions} versions x {laser.version_h} h) + "
            "{crease sets} crease sets x {laser.crease_set_h} h",
        ),
        Flow("make-ready", "laser consumables", setup_hours, "{set-up hours} h of set-up"),
        Flow("make-ready", "labour", crew * setup_hours, "{laser.crew} people x {set-up hours} h of set-up"),
        Flow("make-ready", "electricity", setup_kwh, "{set-up hours} h of set-up x {laser.idle_kw} kW"),
        Flow("running", "laser time", running_hours, "{sheets} sheets x {cycle s} s per sheet / 3,600"),
        Flow("running", "laser consumables", running_hours, "{running hours} h of running"),
        Flow("running", "labour", crew * running_hours, "{laser.crew} people x {running hours} h of running"),
        Flow(
            "running",
            "electricity",
            running_kwh,
            "{running hours} h of running x ({beam kW} kW for the beam, on for {beam share} of the time, + {laser.aux_kw} kW + "
            "{laser.air_m3_h} m3/h of air x {plant.air_kwh_m3} kWh/m3)",
        ),
        Flow("handling", "labour", separation, "{cartons} cartons x {laser.separation_h_per_1000} h per 1,000"),
        *board,
        Flow(
            "waste",
            "kerf",
            kerf_kg(board_counts["cartons on sheets"] * burnt_m, x["laser.kerf_mm"], x["board.grammage_g_m2"]),
            "{good sheets} good sheets x {ups used} cartons x {burnt m} m x {laser.kerf_mm} mm x {board.grammage_g_m2} g/m2",
        ),
    )
    return Inventory("laser", "laser", lines, counts, hours, sheets, setup_kwh + running_kwh, cartons)
