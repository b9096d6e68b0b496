"""What a route cannot do.

Each limit is a condition that may be an array, and a sentence with the remedy. A route whose limits
are all met is possible; the other route is computed in any case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from compare.assumptions import Number, Truth
from compare.errors import Finding
from compare.geometry.linework import DRAWN_ARC
from compare.names import Inputs
from compare.routes import die
from compare.routes.inventory import fill_in

HALOGENATED = ("pvc", "pvdc")
"""Laminates that give off hydrogen chloride under a beam."""


@dataclass(frozen=True)
class Limit:
    """One thing a route cannot do.

    Attributes
    ----------
    code : str
        Stable short code.
    kept : bool or ndarray
        Whether the job keeps within it.
    message : str
        Sentence with the reason and the remedy; ``{names}`` are filled in.
    facts : mapping
        Numbers for the sentence that are no inputs.
    """

    code: str
    kept: Truth
    message: str
    facts: Mapping[str, Number]


def press_force_kn(rule_mm: Number, rule_n_mm: Number, rubber_mm2: Number = 0.0, rubber_n_mm2: Number = 0.0) -> Number:
    """Return the force a flat-bed press needs [kN].

    Parameters
    ----------
    rule_mm : float or ndarray
        Length of rule on the sheet [mm].
    rule_n_mm : float or ndarray
        Force per length of rule [N/mm].
    rubber_mm2 : float or ndarray
        Area of ejection rubber [mm2].
    rubber_n_mm2 : float or ndarray
        Counter-pressure of the rubber [N/mm2].

    References
    ----------
    Bizfluent, "How to calculate die cutting tonnage": length of rule times 300 to 500 lb/in, plus
    50 lb per square inch of rubber.
    """
    return (rule_mm * rule_n_mm + rubber_mm2 * rubber_n_mm2) / 1000


def die_force_kn(x: Inputs) -> Number:
    """Return the force one sheet needs on the die cutter [kN]."""
    cut = x["work.cutting_m"] - x["layout.shared_die_m"]
    cutting = cut + x["work.cutting_creasing_m"] + x["work.perforating_m"] + x["work.partial_cutting_m"]
    rubber_mm2 = 2 * x["die.rubber_width_mm"] * (cut * 1000)
    per_carton = press_force_kn(cutting * 1000, x["die.cutting_force_n_mm"], rubber_mm2, x["die.rubber_pressure_n_mm2"])
    creasing = press_force_kn(x["work.creasing_m"] * 1000, x["die.creasing_force_n_mm"])
    return x["layout.ups_die"] * (per_carton + creasing)


def strategies(x: Inputs) -> dict[die.Strategy, Truth]:
    """Say which ways of working the die there are: a set per version, one die for all versions.

    Separate sets are limited by ``die.max_tool_sets``; one die for all needs several versions on
    one printed sheet, and no more of them than it has ups.
    """
    return {"separate": np.less_equal(x["demand.versions"], x["die.max_tool_sets"]), "ganged": die.gang_possible(x)}


def die_limits(x: Inputs) -> tuple[Limit, ...]:
    """Return the limits of the die route."""
    force, allowed = die_force_kn(x), strategies(x)
    ups_within = np.floor(x["die.max_force_kn"] / np.maximum(force / x["layout.ups_die"], 1e-12))
    facts = {"force kN": force, "ups within force": ups_within}
    limits = [
        Limit(
            "die.varnish_release",
            x["work.varnish_release_m"] <= 0,
            "Varnish release has no rule: the die route can't make it ({work.varnish_release_m} m per carton asked).",
            facts,
        ),
        Limit(
            "die.versions",
            allowed["separate"] | allowed["ganged"],
            "{demand.versions} tool sets are more than can be made, stored and set up for one carton (die.max_tool_sets is {die.max_tool_sets}).",
            facts,
        ),
        Limit(
            "die.press_force",
            force <= x["die.max_force_kn"],
            "The sheet needs {force kN} kN and the die cutter has {die.max_force_kn} kN; at most {ups within force} ups keep within it (layout.ups_die).",
            facts,
        ),
        *_machine_limits(x, "die", "die cutter"),
    ]
    for name, least, what, slack in (
        ("work.smallest_gap_mm", "die.smallest_gap_mm", "a gap between cut lines", 1e-9),
        ("work.smallest_radius_mm", "die.smallest_radius_mm", "a radius", DRAWN_ARC),
    ):
        if name in x:
            limits.append(
                Limit(
                    f"die.{name.split('.')[1].removesuffix('_mm')}",
                    x[name] >= x[least] * (1 - slack),
                    f"Rule can't be laid to {what} of {{{name}}} mm; the least is {{{least}}} mm.",
                    facts,
                )
            )
    return tuple(limits)


def laser_limits(x: Inputs, laminate: str = "none") -> tuple[Limit, ...]:
    """Return the limits of the laser route.

    Parameters
    ----------
    x : Inputs
        Numbers or arrays.
    laminate : str
        The ``board.laminate`` choice.
    """
    return (
        Limit(
            "laser.halogen",
            laminate not in HALOGENATED,
            f"A {laminate.upper()} laminate must not be burnt: it gives off hydrogen chloride, which harms people and machine.",
            {},
        ),
        *_machine_limits(x, "laser", "laser line"),
    )


def _machine_limits(x: Inputs, route: str, machine: str) -> tuple[Limit, ...]:
    long_side = np.maximum(x["sheet.width_mm"], x["sheet.length_mm"])
    short_side = np.minimum(x["sheet.width_mm"], x["sheet.length_mm"])
    most_long, most_short = x[f"{route}.max_sheet_width_mm"], x[f"{route}.max_sheet_length_mm"]
    return (
        Limit(
            f"{route}.caliper",
            x["board.caliper_mm"] <= x[f"{route}.max_caliper_mm"],
            f"The board of {{board.caliper_mm}} mm is thicker than the {machine} takes ({{{route}.max_caliper_mm}} mm).",
            {},
        ),
        Limit(
            f"{route}.sheet",
            (long_side <= np.maximum(most_long, most_short)) & (short_side <= np.minimum(most_long, most_short)),
            f"The sheet of {{sheet.width_mm}} x {{sheet.length_mm}} mm is larger than the {machine} takes "
            f"({{{route}.max_sheet_width_mm}} x {{{route}.max_sheet_length_mm}} mm).",
            {},
        ),
    )


def possible(limits: tuple[Limit, ...]) -> Truth:
    """Say whether every limit is kept; an array where one is."""
    kept: Truth = np.bool_(True)
    for limit in limits:
        kept = kept & limit.kept
    return kept if np.ndim(kept) else bool(kept)


def findings(limits: tuple[Limit, ...], x: Inputs, route: str) -> tuple[Finding, ...]:
    """Return a finding for every limit that is not kept (single scenarios only)."""
    return tuple(
        Finding(limit.code, fill_in(limit.message, limit.facts, x), route, "not possible")
        for limit in limits
        if not limit.kept
    )
