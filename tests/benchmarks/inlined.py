"""Both routes written out by hand in one function: what the engine's arithmetic costs without its structure.

The formulas are those of the engine, in its order: quantities first, summed by resource, then valued.
What no output needs (formulas in words, machine hours, biogenic carbon, lead time) is not computed, and
numbers that no array enters are worked out as plain floats. Separate tool sets only: the reference is
for jobs on which versions are not ganged.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

Number = float | np.ndarray

CHUNK = 16_384
"""Rows at a time."""

OUTPUTS = ("die cost", "die co2e", "die waste", "laser cost", "laser co2e", "laser waste")


def two_routes(values: Mapping[str, Number], chunk: int = CHUNK) -> dict[str, np.ndarray]:
    """Return cost, CO2e and waste of both routes over the programme.

    Parameters
    ----------
    values : mapping
        Every input by dotted name: numbers, and one-dimensional arrays of one size.
    chunk : int
        Rows computed at a time.
    """
    arrays = {name: value for name, value in values.items() if isinstance(value, np.ndarray)}
    size = len(next(iter(arrays.values())))
    results = {name: np.empty(size) for name in OUTPUTS}
    row = dict(values)
    for start in range(0, size, chunk):
        rows = slice(start, start + chunk)
        for name, array in arrays.items():
            row[name] = array[rows]
        for name, result in zip(OUTPUTS, _rows(row), strict=True):
            results[name][rows] = result
    return results


def _rows(x: Mapping[str, Number]) -> tuple[Number, ...]:  # noqa: PLR0915
    run_length, versions, years = x["demand.run_length"], x["demand.versions"], x["demand.years"]
    orders = x["demand.orders_per_year"] * years
    changes = x["demand.changes_per_year"] * years
    generations = 1 + changes
    cartons = orders * run_length
    area = x["sheet.width_mm"] * x["sheet.length_mm"] * 1e-6
    grams = x["board.grammage_g_m2"] * 1e-3
    sheet_kg, blank_kg = area * grams, x["carton.blank_area_m2"] * grams
    board_price, waste_price = x["board.price_per_t"] * 1e-3, x["rates.waste_board_t"] * 1e-3
    rule_factor = x["toolmaker.rule_kg_m"] * x["factors.steel_kg"]

    # steel-rule die, one tool set per version
    ups = x["layout.ups_die"]
    to_buy = 1 - x["tooling.owned"]
    sets = versions * (to_buy + changes * x["tooling.change_share"])
    setups = versions * orders
    first = np.minimum(versions * (to_buy + changes), setups)
    repeat = setups - first
    good = orders * (versions * np.ceil(run_length / versions / ups))
    sheets = (
        good / (1 - x["die.running_waste"])
        + first * x["die.make_ready_first_sheets"]
        + repeat * x["die.make_ready_repeat_sheets"]
    )
    in_use = versions * generations
    rerulings = in_use * np.maximum(0.0, np.ceil(sheets / in_use / x["die.life_impressions"] - 1e-9) - 1)
    renewed = sets + rerulings

    setup_h = (
        first * x["die.make_ready_first_h"]
        + repeat * x["die.make_ready_repeat_h"]
        + setups * (ups * x["die.make_ready_per_up_h"])
    )
    running_h = sheets / x["die.speed_sheets_h"]
    press_h = setup_h + running_h
    labour_h = x["die.crew"] * press_h + cartons * (x["die.separation_h_per_1000"] / 1000)
    kwh = setup_h * x["die.idle_kw"] + running_h * (x["die.run_kw"] + x["die.air_m3_h"] * x["plant.air_kwh_m3"])
    cutting, creasing = ups * x["work.cutting_m"], ups * x["work.creasing_m"]
    cut_crease, perforating = ups * x["work.cutting_creasing_m"], ups * x["work.perforating_m"]
    scoring = ups * x["work.partial_cutting_m"]
    set_t = 1e-3 * (
        area * x["toolmaker.die_board_kg_m2"]
        + (cutting + (creasing + cut_crease + perforating + scoring)) * x["toolmaker.rule_kg_m"]
    )
    tool_areas = sets * area
    cutting_rule, creasing_rule, cut_crease_rule = renewed * cutting, sets * creasing, renewed * cut_crease
    perforating_rule, scoring_rule, rubber = renewed * perforating, renewed * scoring, renewed * (2 * cutting)
    freight = sets * set_t * x["toolmaker.distance_km"]
    bought = sheets * sheet_kg
    die_waste = bought - cartons * blank_kg

    die_cost = (
        sets * x["toolmaker.set_fee"]
        + tool_areas * x["toolmaker.die_board_m2"]
        + cutting_rule * x["toolmaker.cutting_rule_m"]
        + creasing_rule * x["toolmaker.creasing_rule_m"]
        + cut_crease_rule * x["toolmaker.cut_crease_rule_m"]
        + perforating_rule * x["toolmaker.perforating_rule_m"]
        + scoring_rule * x["toolmaker.scoring_rule_m"]
        + sets * (ups * x["work.bends"]) * x["toolmaker.rule_bend"]
        + sets * (ups * x["work.nicks"]) * x["toolmaker.nick"]
        + rubber * x["toolmaker.ejection_rubber_m"]
        + tool_areas * x["toolmaker.creasing_counter_m2"]
        + sets * (ups * x["work.waste_pieces"]) * x["toolmaker.stripping_piece"]
        + sets * ups * x["toolmaker.blanking_up"]
        + versions * years * x["toolmaker.storage_set_year"]
        + freight * x["rates.freight_tkm"]
        + press_h * x["rates.press_h"]
        + labour_h * x["rates.labour_h"]
        + kwh * x["rates.kwh"]
        + bought * board_price
        + sheets * x["sheet.print_cost"]
        + die_waste * waste_price
    )
    die_co2e = (
        kwh * x["factors.kwh"]
        + tool_areas * (x["toolmaker.die_board_kg_m2"] * x["factors.die_board_kg"])
        + cutting_rule * rule_factor
        + creasing_rule * rule_factor
        + cut_crease_rule * rule_factor
        + perforating_rule * rule_factor
        + scoring_rule * rule_factor
        + rubber * (x["die.rubber_kg_m"] * x["factors.rubber_kg"])
        + tool_areas * (x["die.counter_kg_m2"] * x["factors.plastic_kg"])
        + freight * x["factors.freight_tkm"]
        + bought * x["factors.board_kg"]
        + die_waste * x["factors.waste_board_kg"]
    )

    # laser
    ups, heads, power = x["layout.ups_laser"], x["laser.heads"], x["laser.power_w"]
    groups = 1.0 if x["demand.mixed_sheets"] == 1 else versions
    good = groups * np.ceil(run_length / groups / ups)
    sheets = orders * (good / (1 - x["laser.running_waste"]) + x["laser.setup_sheets"])
    wall_speed = power / (x["laser.severance_j_mm2"] * x["board.caliper_mm"]) / 1000
    fastest = x["laser.max_mark_m_s"]
    through = x["work.cutting_m"] + (x["work.cutting_creasing_m"] + x["work.perforating_m"])
    mark_s = (
        through / np.minimum(fastest, wall_speed)
        + x["work.partial_cutting_m"] / np.minimum(fastest, wall_speed / x["laser.partial_depth"])
        + x["work.varnish_release_m"] / np.minimum(fastest, wall_speed / x["laser.varnish_depth"])
    )
    stroke_s = 1e-3 * (
        x["laser.jump_delay_ms"] + x["laser.mark_delay_ms"] + x["laser.mean_jump_mm"] / x["laser.jump_m_s"]
    )
    carton_s = mark_s + (
        x["work.strokes"] * stroke_s
        + x["work.corner_load"] * x["laser.polygon_delay_ms"] * 1e-3
        + x["work.nicks"] * x["laser.nick_ms"] * 1e-3
    )
    cycle = np.maximum(3600 / x["laser.feeder_sheets_h"], ups * carton_s / (heads * x["laser.balance"]))
    crease_sets: Number = 0.0
    if x["work.creasing_m"] + x["work.cutting_creasing_m"] > 0:
        crease_groups = x["demand.crease_versions"] * (generations if x["laser.crease_set_stored"] == 1 else orders)
        crease_sets = crease_groups * np.ceil(sheets / crease_groups / x["laser.crease_set_life"] - 1e-9)
    setup_h = orders * (x["laser.setup_h"] + versions * x["laser.version_h"]) + crease_sets * x["laser.crease_set_h"]
    running_h = sheets * (cycle / 3600)
    laser_h = setup_h + running_h
    labour_h = x["laser.crew"] * laser_h + cartons * (x["laser.separation_h_per_1000"] / 1000)
    heat = 1 / x["laser.efficiency"] - 1
    source = (heads * 1e-3) * (1 / x["laser.efficiency"] + heat / x["laser.chiller_cop"])
    beam_kw = mark_s / cycle * (power * (ups / heads * source))
    others_kw = x["laser.aux_kw"] + x["laser.air_m3_h"] * x["plant.air_kwh_m3"]
    kwh = setup_h * x["laser.idle_kw"] + running_h * (beam_kw + others_kw)
    bought = sheets * sheet_kg
    laser_waste = bought - cartons * blank_kg

    laser_cost = (
        crease_sets * x["rates.crease_set"]
        + laser_h * x["rates.laser_h"]
        + laser_h * x["rates.laser_consumables_h"]
        + labour_h * x["rates.labour_h"]
        + kwh * x["rates.kwh"]
        + bought * board_price
        + sheets * x["sheet.print_cost"]
        + laser_waste * waste_price
    )
    laser_co2e = (
        crease_sets * (x["laser.crease_set_kg"] * x["factors.plastic_kg"])
        + kwh * x["factors.kwh"]
        + bought * x["factors.board_kg"]
        + laser_waste * x["factors.waste_board_kg"]
    )
    return die_cost, die_co2e, die_waste, laser_cost, laser_co2e, laser_waste
