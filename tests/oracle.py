"""A second implementation of the cost model, to judge the first one by.

Written from the contract of the model alone, before the engine was read: plain floats, loops and ifs, one job at a
time, and no import from the engine. Nothing here is fast, clever or shared; that is what makes an agreement worth
something. Where the contract leaves a choice, the comment says which reading was taken and begins with "Reading:".
One reading was changed after the engine was read, and says so.

Two inputs that came later than the contract are taken in: ``die.air_m3_h`` and ``laser.air_m3_h`` (compressed air
while running) times ``plant.air_kwh_m3`` add to the running power; ``toolmaker.die_board_kg_m2`` and
``toolmaker.rule_kg_m`` stand where the contract has 12.33 kg/m2 and 0.1327 kg/m.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

Numbers = Mapping[str, float]
Figures = dict[str, float]

DIE_STRATEGIES = ("die separate", "die ganged")
ROUTES = (*DIE_STRATEGIES, "laser")
CUT_KINDS = ("cutting", "cutting_creasing", "perforating", "partial_cutting", "varnish_release")


Stroke = Mapping[str, Any]
"""One stroke of a planned path: ``kind``, ``legs`` (pairs of length and radius in m), ``turns`` at its corners
[radians], ``jump_m`` to it."""


def evaluate(x: Numbers, route: str, path: Sequence[Sequence[Stroke]] | None = None) -> Figures:
    """Every figure of one route over the programme; with the strokes of every head where a path was planned."""
    if route == "laser":
        return _laser(x, path)
    return _die(x, ganged=route == "die ganged")


def can_gang(x: Numbers) -> bool:
    """Whether all versions may lie on one die."""
    versions = x["demand.versions"]
    return x["demand.mixed_sheets"] == 1 and 1 < versions <= x["layout.ups_die"]


def best_strategy(x: Numbers) -> str:
    """Name the cheaper feasible strategy. Reading: where both cost the same, separate dies."""
    if not can_gang(x):
        return "die separate"
    separate, ganged = (_die(x, ganged=together)["cost"] for together in (False, True))
    return "die separate" if even(separate, ganged) or separate < ganged else "die ganged"


def best_die(x: Numbers) -> Figures:
    """Every figure of the die's best case."""
    return evaluate(x, best_strategy(x))


def even(a: float, b: float) -> bool:
    """Say whether two figures differ by no more than 1e-9 of the larger. Reading: the contract defines no tie."""
    return abs(a - b) <= 1e-9 * max(abs(a), abs(b))


def lower(die: float, laser: float) -> str:
    """Name the route with the lower figure, or say that they are even."""
    if even(die, laser):
        return "even"
    return "die" if die < laser else "laser"


def orders(x: Numbers) -> float:
    """N: orders in the programme."""
    return x["demand.orders_per_year"] * x["demand.years"]


def generations(x: Numbers) -> float:
    """G: expected tool generations in the programme."""
    return 1 + x["demand.changes_per_year"] * x["demand.years"]


def sheet_area_m2(x: Numbers) -> float:
    """Area of one sheet, a."""
    return x["sheet.width_mm"] / 1000 * x["sheet.length_mm"] / 1000


def _die(x: Numbers, *, ganged: bool) -> Figures:
    n = orders(x)
    g_tools = generations(x)
    versions = x["demand.versions"]
    ups = x["layout.ups_die"]
    per_version = x["demand.run_length"] / versions

    if ganged:
        sets = 1
        per_set_ups = math.floor(ups / versions)
        setups_per_order = 1
        good_sheets = math.ceil(per_version / per_set_ups)
        used = per_set_ups * versions
    else:
        sets = versions
        setups_per_order = versions
        good_sheets = versions * math.ceil(per_version / ups)
        used = ups

    owned = x["tooling.owned"]
    events = sets * ((1 - owned) + (g_tools - 1))
    new_sets = sets * ((1 - owned) + (g_tools - 1) * x["tooling.change_share"])
    first = min(events, setups_per_order * n)
    repeat = setups_per_order * n - first

    sheets = n * good_sheets / (1 - x["die.running_waste"])
    sheets += first * x["die.make_ready_first_sheets"]
    sheets += repeat * x["die.make_ready_repeat_sheets"]

    # Reading: the number of re-rulings of one set and generation is whole, the number of generations an expectation.
    impressions = sheets / (sets * g_tools)
    rerulings = sets * g_tools * max(0, math.ceil(impressions / x["die.life_impressions"]) - 1)

    make_ready = first * (x["die.make_ready_first_h"] + ups * x["die.make_ready_per_up_h"])
    make_ready += repeat * (x["die.make_ready_repeat_h"] + ups * x["die.make_ready_per_up_h"])
    running = sheets / x["die.speed_sheets_h"]
    hours = make_ready + running
    labour = x["die.crew"] * hours + x["die.separation_h_per_1000"] * n * x["demand.run_length"] / 1000
    running_kw = x["die.run_kw"] + x["die.air_m3_h"] * x["plant.air_kwh_m3"]
    kwh = running * running_kw + make_ready * x["die.idle_kw"]

    figures = _material(x, sheets, n * good_sheets, used, lasered=False)
    figures.update(machine_hours=hours, labour_hours=labour, kwh=kwh, first_setups=first, repeat_setups=repeat)
    figures.update(new_sets=new_sets, rerulings=rerulings)

    tools = _tooling(x, sets, new_sets, rerulings)
    cost = tools["cost"] + _shared_cost(x, figures)
    cost += hours * x["rates.press_h"]
    figures["cost"] = cost
    figures["co2e"] = tools["co2e"] + _shared_co2e(x, figures)
    return figures


def _tooling(x: Numbers, sets: float, new_sets: float, rerulings: float) -> Figures:
    """Money and carbon of dies: new-set equivalents, re-rulings, storage, freight."""
    ups = x["layout.ups_die"]
    area = sheet_area_m2(x)
    # Reading: a "scoring rule" is the rule of the partial cuts; varnish release has no rule and costs a die nothing.
    rule_m = {
        # Reading: a line that two blanks share is one rule; the shared length is per carton
        "toolmaker.cutting_rule_m": ups * (x["work.cutting_m"] - x["layout.shared_die_m"]),
        "toolmaker.creasing_rule_m": ups * x["work.creasing_m"],
        "toolmaker.cut_crease_rule_m": ups * x["work.cutting_creasing_m"],
        "toolmaker.perforating_rule_m": ups * x["work.perforating_m"],
        "toolmaker.scoring_rule_m": ups * x["work.partial_cutting_m"],
    }
    rubber_m = 2 * rule_m["toolmaker.cutting_rule_m"]  # Reading: of the cutting rule only, not of cut-crease rule

    one_set = x["toolmaker.set_fee"]
    one_set += area * x["toolmaker.die_board_m2"]
    for price, length in rule_m.items():
        one_set += length * x[price]
    one_set += ups * x["work.bends"] * x["toolmaker.rule_bend"]
    one_set += ups * x["work.nicks"] * x["toolmaker.nick"]
    one_set += rubber_m * x["toolmaker.ejection_rubber_m"]
    one_set += area * x["toolmaker.creasing_counter_m2"]
    one_set += ups * x["work.waste_pieces"] * x["toolmaker.stripping_piece"]
    one_set += ups * x["toolmaker.blanking_up"]

    # Reading: a re-ruling buys metres of rule and rubber at the list price, no fee, no bends, no nicks.
    one_reruling = rubber_m * x["toolmaker.ejection_rubber_m"]
    reruled_m = 0.0
    for price, length in rule_m.items():
        if price != "toolmaker.creasing_rule_m":
            one_reruling += length * x[price]
            reruled_m += length

    board_m2 = new_sets * area
    board_kg = board_m2 * x["toolmaker.die_board_kg_m2"]
    steel_kg = (new_sets * sum(rule_m.values()) + rerulings * reruled_m) * x["toolmaker.rule_kg_m"]
    all_rubber_m = (new_sets + rerulings) * rubber_m
    # Reading: tool mass is what the contract gives a mass for, board and rule, of new sets. Whether the rule of a
    # re-ruling travels too is left open there; the first version of this page let it, and was changed to the engine's
    # reading because the contract says "incl. re-ruling" of rule and rubber, and of freight it does not.
    new_steel_kg = new_sets * sum(rule_m.values()) * x["toolmaker.rule_kg_m"]
    tkm = (board_kg + new_steel_kg) / 1000 * x["toolmaker.distance_km"]

    cost = new_sets * one_set + rerulings * one_reruling
    cost += sets * x["demand.years"] * x["toolmaker.storage_set_year"]
    cost += tkm * x["rates.freight_tkm"]
    co2e = board_kg * x["factors.die_board_kg"] + steel_kg * x["factors.steel_kg"]
    co2e += all_rubber_m * x["die.rubber_kg_m"] * x["factors.rubber_kg"]
    co2e += board_m2 * x["die.counter_kg_m2"] * x["factors.plastic_kg"]
    co2e += tkm * x["factors.freight_tkm"]
    return {"cost": cost, "co2e": co2e}


def mark_speed_m_s(x: Numbers, depth: float) -> float:
    """How fast one head marks a line of this depth (share of the caliper)."""
    wall_j_mm = x["laser.severance_j_mm2"] * x["board.caliper_mm"] * depth
    if wall_j_mm == 0:
        return x["laser.max_mark_m_s"]
    return min(x["laser.max_mark_m_s"], x["laser.power_w"] / wall_j_mm / 1000)


def _depth(x: Numbers, kind: str) -> float:
    if kind == "partial_cutting":
        return x["laser.partial_depth"]
    if kind == "varnish_release":
        return x["laser.varnish_depth"]
    return 1.0


def _sheet_seconds(x: Numbers) -> tuple[float, float]:
    """Mark time and whole time of one sheet, one head having all of it."""
    ups = x["layout.ups_laser"]
    mark_s = 0.0
    for kind in CUT_KINDS:
        shared_m = x["layout.shared_laser_m"] if kind == "cutting" else 0.0
        mark_s += (x[f"work.{kind}_m"] - shared_m) / mark_speed_m_s(x, _depth(x, kind))
    jump_ms = x["laser.mean_jump_mm"] / x["laser.jump_m_s"]  # mm over m/s is ms
    stroke_ms = x["laser.jump_delay_ms"] + x["laser.mark_delay_ms"] + jump_ms
    other_ms = x["work.strokes"] * stroke_ms
    other_ms += x["work.corner_load"] * x["laser.polygon_delay_ms"]
    other_ms += x["work.nicks"] * x["laser.nick_ms"]
    return ups * mark_s, ups * (mark_s + other_ms / 1000)


def cut_seconds(x: Numbers) -> float:
    """Seconds to cut one sheet with all heads. Reading: no toolpath was planned, so balance stands for the heads."""
    return _sheet_seconds(x)[1] / (x["laser.heads"] * x["laser.balance"])


def planned_seconds(x: Numbers, path: Sequence[Sequence[Stroke]]) -> tuple[float, float]:
    """Mark time of one sheet, summed over heads, and the time of the slowest head; scanner only.

    Reading: a tight curve is run at the root of acceleration times radius; nicks are shared by cutting length.
    """
    cut_m = sum(leg[0] for head in path for stroke in head if stroke["kind"] == "cutting" for leg in stroke["legs"])
    mark_s, slowest = 0.0, 0.0
    for head in path:
        head_mark_s, other_s = 0.0, 0.0
        for stroke in head:
            speed = mark_speed_m_s(x, _depth(x, stroke["kind"]))
            for length, radius in stroke["legs"]:
                head_mark_s += length / min(speed, math.sqrt(x["laser.scan_accel_m_s2"] * radius))
                if stroke["kind"] == "cutting":
                    nicks = x["work.nicks"] * x["layout.ups_laser"] * length / cut_m
                    other_s += nicks * x["laser.nick_ms"] / 1000
            missing = max(0.0, 1 - stroke["jump_m"] * 1000 / x["laser.short_jump_mm"])
            delay_ms = x["laser.jump_delay_ms"] * (1 - missing * (1 - x["laser.short_jump_share"]))
            delay_ms += x["laser.mark_delay_ms"]
            for turn in stroke["turns"]:
                delay_ms += (1 - math.cos(turn)) * x["laser.polygon_delay_ms"]
            other_s += delay_ms / 1000 + stroke["jump_m"] / x["laser.jump_m_s"]
        mark_s += head_mark_s
        slowest = max(slowest, head_mark_s + other_s)
    return mark_s, slowest


def feed_seconds(x: Numbers) -> float:
    """Seconds that feeder and transport need for one sheet."""
    return 3600 / x["laser.feeder_sheets_h"]


def crease_sets(x: Numbers, sheets: float) -> float:
    """C: digital crease sets made in the programme."""
    if x["work.creasing_m"] + x["work.cutting_creasing_m"] == 0:
        return 0
    n = orders(x)
    versions = x["demand.crease_versions"]
    life = x["laser.crease_set_life"]
    if x["laser.crease_set_stored"] == 1:
        kept = versions * generations(x)
        return kept * math.ceil(sheets / kept / life)
    return versions * n * math.ceil(sheets / n / versions / life)


def _laser(x: Numbers, path: Sequence[Sequence[Stroke]] | None = None) -> Figures:
    n = orders(x)
    versions = x["demand.versions"]
    ups = x["layout.ups_laser"]
    run_length = x["demand.run_length"]

    if x["demand.mixed_sheets"] == 1:
        good_sheets = math.ceil(run_length / ups)
    else:
        good_sheets = versions * math.ceil(run_length / versions / ups)
    sheets = n * good_sheets / (1 - x["laser.running_waste"])
    sheets += n * x["laser.setup_sheets"]

    mark_s, cut_s = (_sheet_seconds(x)[0], cut_seconds(x)) if path is None else planned_seconds(x, path)
    cycle = max(feed_seconds(x), cut_s)
    running = sheets * cycle / 3600
    sets = crease_sets(x, sheets)
    set_up = n * (x["laser.setup_h"] + versions * x["laser.version_h"]) + sets * x["laser.crease_set_h"]
    hours = set_up + running
    labour = x["laser.crew"] * hours + x["laser.separation_h_per_1000"] * n * run_length / 1000

    heads = x["laser.heads"]
    beam_on = mark_s / (heads * cycle)
    efficiency = x["laser.efficiency"]
    beam_kw = beam_on * heads * x["laser.power_w"] / 1000
    beam_kw *= 1 / efficiency + (1 / efficiency - 1) / x["laser.chiller_cop"]
    air_kw = x["laser.air_m3_h"] * x["plant.air_kwh_m3"]
    kwh = running * (beam_kw + x["laser.aux_kw"] + air_kw) + set_up * x["laser.idle_kw"]

    figures = _material(x, sheets, n * good_sheets, ups, lasered=True)
    figures.update(machine_hours=hours, labour_hours=labour, kwh=kwh, crease_sets=sets)
    cost = _shared_cost(x, figures)
    cost += hours * x["rates.laser_h"]
    cost += hours * x["rates.laser_consumables_h"]
    cost += sets * x["rates.crease_set"]
    figures["cost"] = cost
    figures["co2e"] = _shared_co2e(x, figures) + sets * x["laser.crease_set_kg"] * x["factors.plastic_kg"]
    return figures


def _material(x: Numbers, sheets: float, good_sheets: float, used: float, *, lasered: bool) -> Figures:
    """Board by fate over the programme, kg; the five parts of the mass balance are board_in and the four after it."""
    cartons = orders(x) * x["demand.run_length"]
    sheet_kg = sheet_area_m2(x) * x["board.grammage_g_m2"] / 1000
    blank_kg = x["carton.blank_area_m2"] * x["board.grammage_g_m2"] / 1000

    spoilage = (sheets - good_sheets) * sheet_kg
    overs = (good_sheets * used - cartons) * blank_kg
    trim = good_sheets * (sheet_kg - used * blank_kg)

    kerf = 0.0
    if lasered:
        removed_m = x["work.cutting_m"] - x["layout.shared_laser_m"] + x["work.perforating_m"]
        removed_m += x["laser.cut_crease_duty"] * x["work.cutting_creasing_m"]
        removed_m += x["laser.partial_depth"] * x["work.partial_cutting_m"]
        removed_m += x["laser.varnish_depth"] * x["work.varnish_release_m"]
        removed_m2 = removed_m * x["laser.kerf_mm"] / 1000
        # Reading: on good sheets only, as the contract's formula has it; spoiled sheets' kerf is not counted.
        kerf = good_sheets * used * removed_m2 * x["board.grammage_g_m2"] / 1000

    return {
        "sheets": sheets,
        "good_sheets": good_sheets,
        "cartons": cartons,
        "overs_cartons": good_sheets * used - cartons,
        "board_in": sheets * sheet_kg,
        "good_board": cartons * blank_kg,
        "overs": overs,
        "spoilage": spoilage,
        "trim": trim,
        "waste": spoilage + trim + overs,
        "kerf": kerf,
        "biogenic": kerf * x["factors.kerf_biogenic_kg"],
    }


def _shared_cost(x: Numbers, figures: Numbers) -> float:
    """Cost lines of both routes: board, print, labour, electricity, waste board."""
    cost = figures["board_in"] / 1000 * x["board.price_per_t"]
    cost += figures["sheets"] * x["sheet.print_cost"]
    cost += figures["labour_hours"] * x["rates.labour_h"]
    cost += figures["kwh"] * x["rates.kwh"]
    cost += figures["waste"] / 1000 * x["rates.waste_board_t"]
    return cost


def _shared_co2e(x: Numbers, figures: Numbers) -> float:
    """Fossil carbon lines of both routes: board, electricity, waste board."""
    co2e = figures["board_in"] * x["factors.board_kg"]
    co2e += figures["kwh"] * x["factors.kwh"]
    co2e += figures["waste"] * x["factors.waste_board_kg"]
    return co2e
