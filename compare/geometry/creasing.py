"""Creasing rule and channel for a board: what the diemaker needs to know."""

from __future__ import annotations

from typing import NamedTuple

from compare.assumptions import Number

# Published factors of the channel's width, along and across the grain
# (Kallima coated cover board, "Die cutting suggestions").
_ALONG_GRAIN, _ACROSS_GRAIN = 1.3, 1.5


class CreaseChannel(NamedTuple):
    """Width of a creasing channel [mm] for creases along and across the grain."""

    along_grain_mm: Number
    across_grain_mm: Number


def crease_channel(caliper_mm: Number, rule_thickness_mm: Number) -> CreaseChannel:
    """Return the channel's width: 1.3 (1.5) calipers along (across) the grain plus the rule.

    Any one unit of length may be used throughout.

    References
    ----------
    Kallima coated cover board, "Die cutting suggestions".
    """
    return CreaseChannel(_ALONG_GRAIN * caliper_mm + rule_thickness_mm, _ACROSS_GRAIN * caliper_mm + rule_thickness_mm)


def crease_rule_height(cutting_rule_height_mm: Number, caliper_mm: Number, tape_mm: Number = 0.0) -> Number:
    """Return the height of creasing rule [mm]: cutting rule less caliper, less the counter's tape.

    References
    ----------
    Supplier's calculation aid for creasing matrices (name withheld); fineformes.co.nz, "Crease",
    for the tape.
    """
    return cutting_rule_height_mm - caliper_mm - tape_mm
