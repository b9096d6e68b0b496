"""The steel-rule die: one tool set per version, or one die that holds all versions.

Every total is linear in good sheets, cartons and re-rulings; only these depend on the run length.
:func:`flows` therefore takes them apart from the rest, which is what makes exact break-evens cheap.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from compare.assumptions import Number, Truth
from compare.names import Inputs
from compare.routes.inventory import Amounts, Flow, Inventory, absent, board_flows, whole_up

Strategy = Literal["separate", "ganged"]

_CUT = "cut m"
"""Cutting of one carton on the sheet: its own, less what a neighbour shares."""

_RULES = (
    ("cutting rule", _CUT, "cutting", True),
    ("creasing rule", "work.creasing_m", "creasing", False),
    ("cut-crease rule", "work.cutting_creasing_m", "cutting-creasing", True),
    ("perforating rule", "work.perforating_m", "perforating", True),
    ("scoring rule", "work.partial_cutting_m", "partial cutting", True),
)
"""Rule by kind of line, what the kind is called, and whether a re-ruling takes it anew."""


@dataclass(frozen=True)
class DiePlan:
    """What does not depend on the run length.

    Attributes
    ----------
    strategy : {"separate", "ganged"}
        One tool set per version, or one die with all versions on it.
    orders : Number
        Orders over the programme, N.
    generations : Number
        Expected generations of tools, G.
    sets : Number
        Tool sets at a time, D; as many set-ups per order, S.
    ups_per_version : Number
        Cartons of one version on a sheet, u.
    ups_used : Number
        Cartons on a sheet that are sold.
    sheet_groups : Number
        Versions that are counted in sheets of their own: V separate, 1 ganged.
    versions : Number
        Versions the run length is split into, V.
    first_setups, repeat_setups : Number
        Set-ups of new and of stored sets over the programme, F and R.
    new_sets : Number
        New-set equivalents bought, T.
    """

    strategy: Strategy
    orders: Number
    generations: Number
    sets: Number
    ups_per_version: Number
    ups_used: Number
    sheet_groups: Number
    versions: Number
    first_setups: Number
    repeat_setups: Number
    new_sets: Number


def plan(x: Inputs, strategy: Strategy) -> DiePlan:
    """Work out sets, set-ups and ups of a strategy."""
    orders = x["demand.orders_per_year"] * x["demand.years"]
    generations = 1 + x["demand.changes_per_year"] * x["demand.years"]
    versions, ups = x["demand.versions"], x["layout.ups_die"]
    if strategy == "ganged":
        sets: Number = 1.0
        ups_per_version: Number = np.maximum(np.floor(ups / versions), 1.0)
        ups_used: Number = ups_per_version * versions
        groups = sets
    else:
        sets, ups_per_version, ups_used, groups = versions, ups, ups, versions
    still_to_buy = (1 - x["tooling.owned"]) + (generations - 1) * x["tooling.change_share"]
    events = sets * ((1 - x["tooling.owned"]) + (generations - 1))
    first = np.minimum(events, sets * orders)
    return DiePlan(
        strategy=strategy,
        orders=orders,
        generations=generations,
        sets=sets,
        ups_per_version=ups_per_version,
        ups_used=ups_used,
        sheet_groups=groups,
        versions=versions,
        first_setups=first,
        repeat_setups=sets * orders - first,
        new_sets=sets * still_to_buy,
    )


def gang_possible(x: Inputs) -> Truth:
    """Say whether all versions fit one die: several on one printed sheet, and no more than its ups."""
    versions = x["demand.versions"]
    mixed = np.equal(x["demand.mixed_sheets"], 1)
    return mixed & np.greater(versions, 1) & np.less_equal(versions, x["layout.ups_die"])


def good_sheets(p: DiePlan, run_length: Number) -> Number:
    """Return good sheets per order, g: each version is rounded up to whole sheets."""
    return p.sheet_groups * np.ceil(run_length / p.versions / p.ups_per_version)


def all_sheets(x: Inputs, p: DiePlan, good: Number) -> Number:
    """Return all sheets of the programme, B: good, lost in running, spoiled in setting up."""
    return (
        p.orders * good / (1 - x["die.running_waste"])
        + p.first_setups * x["die.make_ready_first_sheets"]
        + p.repeat_setups * x["die.make_ready_repeat_sheets"]
    )


def rerulings(x: Inputs, p: DiePlan, sheets: Number) -> Number:
    """Return re-rulings of the programme, K: one whenever a set has done its impressions.

    Tool cost is a staircase: a set serves ``die.life_impressions``, then takes new rule.
    """
    in_use = p.sets * p.generations
    again: Number = np.maximum(0.0, whole_up(sheets / in_use / x["die.life_impressions"]) - 1)
    return in_use * again


def inventory(x: Inputs, strategy: Strategy) -> Inventory:
    """Return the inventory of the die route over the programme.

    Parameters
    ----------
    x : Inputs
        Numbers or arrays that broadcast.
    strategy : {"separate", "ganged"}
        How versions share tools. ``ganged`` has a meaning only where :func:`gang_possible`.

    Returns
    -------
    Inventory
    """
    p = plan(x, strategy)
    good = good_sheets(p, x["demand.run_length"])
    sheets = all_sheets(x, p, good)
    return flows(x, p, Amounts(x["demand.run_length"], good, sheets, rerulings(x, p, sheets)))


def flows(x: Inputs, p: DiePlan, amounts: Amounts) -> Inventory:
    """Return the inventory for given amounts; linear in all of them.

    Parameters
    ----------
    x : Inputs
        Numbers or arrays that broadcast.
    p : DiePlan
        What does not depend on the run length.
    amounts : Amounts
        What depends on the run length; renewals are re-rulings.
    """
    run_length, good, sheets, rerulings = amounts
    ups, area = x["layout.ups_die"], x["sheet.width_mm"] * x["sheet.length_mm"] * 1e-6
    cartons = p.orders * run_length
    setup_hours = (
        p.first_setups * x["die.make_ready_first_h"]
        + p.repeat_setups * x["die.make_ready_repeat_h"]
        + (p.first_setups + p.repeat_setups) * (ups * x["die.make_ready_per_up_h"])
    )
    running_hours = sheets / x["die.speed_sheets_h"]
    hours = setup_hours + running_hours
    crew = x["die.crew"]
    separation = x["die.separation_h_per_1000"] * cartons / 1000

    new = p.new_sets
    renewed = new + rerulings
    per_set = "{new sets} new-set equivalents x "
    renewed_why = "({new sets} new-set equivalents + {re-rulings} re-rulings) x {layout.ups_die} ups x "
    cut = x["work.cutting_m"] - x["layout.shared_die_m"]
    rules: list[Flow] = []
    rule: Number = 0.0
    for resource, line, kind, wears in _RULES:
        length = cut if line == _CUT else x[line]
        if absent(length):
            continue
        laid = ups * length
        rule = rule + laid
        why = f"{renewed_why if wears else per_set + '{layout.ups_die} ups x '}{{{line}}} m of {kind}"
        rules.append(Flow("tooling", resource, (renewed if wears else new) * laid, why))
    set_tonnes = (area * x["toolmaker.die_board_kg_m2"] + rule * x["toolmaker.rule_kg_m"]) * 1e-3

    running_kwh = running_hours * (x["die.run_kw"] + x["die.air_m3_h"] * x["plant.air_kwh_m3"])
    setup_kwh = setup_hours * x["die.idle_kw"]

    grams, blank = x["board.grammage_g_m2"] * 1e-3, x["carton.blank_area_m2"]
    sheet_kg, blank_kg = area * grams, blank * grams
    board, board_counts = board_flows(
        sheets=sheets,
        good_sheets=p.orders * good,
        ups_used=p.ups_used,
        cartons=cartons,
        sheet_kg=sheet_kg,
        blank_kg=blank_kg,
    )
    counts = {
        **board_counts,
        "orders": p.orders,
        "generations": p.generations,
        "sets": p.sets,
        "first set-ups": p.first_setups,
        "repeat set-ups": p.repeat_setups,
        "new sets": new,
        "re-rulings": rerulings,
        "set-up hours": setup_hours,
        "running hours": running_hours,
        "hours": hours,
        _CUT: cut,
        "rule m": rule,
        "sheet m2": area,
        "set t": set_tonnes,
    }
    setup_why = (
        "{first set-ups} first set-ups x {die.make_ready_first_h} h + {repeat set-ups} repeat set-ups x "
        "{die.make_ready_repeat_h} h, each + {layout.ups_die} ups x {die.make_ready_per_up_h} h"
    )
    run_why = "{sheets} sheets / {die.speed_sheets_h} sheets per hour"
    lines = (
        Flow("tooling", "tool set", new, "{sets} sets at a time over {generations} generations, less what is owned"),
        Flow("tooling", "die board", new * area, per_set + "{sheet m2} m2 of sheet"),
        *rules,
        Flow(
            "tooling",
            "rule bends",
            new * (ups * x["work.bends"]),
            per_set + "{layout.ups_die} ups x {work.bends} bends",
        ),
        Flow("tooling", "nicks", new * (ups * x["work.nicks"]), per_set + "{layout.ups_die} ups x {work.nicks} nicks"),
        Flow(
            "tooling",
            "ejection rubber",
            renewed * (2 * ups * cut),
            renewed_why + "{cut m} m of cutting, rubber on both sides",
        ),
        Flow("tooling", "creasing counter", new * area, per_set + "{sheet m2} m2 of sheet"),
        Flow(
            "tooling",
            "stripping tools",
            new * (ups * x["work.waste_pieces"]),
            per_set + "{layout.ups_die} ups x {work.waste_pieces} waste pieces",
        ),
        Flow("tooling", "blanking tools", new * ups, per_set + "{layout.ups_die} ups"),
        Flow("tooling", "tool storage", p.sets * x["demand.years"], "{sets} sets x {demand.years} years"),
        Flow(
            "tooling",
            "tool freight",
            new * set_tonnes * x["toolmaker.distance_km"],
            per_set + "{set t} t (die board and {rule m} m of rule) x {toolmaker.distance_km} km",
        ),
        Flow("make-ready", "press time", setup_hours, setup_why),
        Flow("make-ready", "labour", crew * setup_hours, "{die.crew} people x {set-up hours} h of set-up"),
        Flow("make-ready", "electricity", setup_kwh, "{set-up hours} h of set-up x {die.idle_kw} kW"),
        Flow("running", "press time", running_hours, run_why),
        Flow("running", "labour", crew * running_hours, "{die.crew} people x {running hours} h of running"),
        Flow(
            "running",
            "electricity",
            running_kwh,
            "{running hours} h of running x ({die.run_kw} kW + {die.air_m3_h} m3/h of air x {plant.air_kwh_m3} kWh/m3)",
        ),
        Flow("handling", "labour", separation, "{cartons} cartons x {die.separation_h_per_1000} h per 1,000"),
        *board,
    )
    return Inventory("die", p.strategy, lines, counts, hours, sheets, setup_kwh + running_kwh, cartons)
