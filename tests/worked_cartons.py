"""Dimensions of the cartons that outside checks and layouts are worked out for by hand [mm, shares -]."""

from __future__ import annotations

FLAPS = {
    "glue_flap_mm": 15.0,
    "glue_flap_bevel_mm": 3.0,
    "flap_taper_mm": 2.0,
    "tuck_flap_mm": 15.0,
    "dust_flap_share": 0.75,
    "seal_clearance_mm": 2.0,
    "inner_flap_share": 0.75,
    "lock_overlap_mm": 10.0,
    "lock_web_mm": 5.0,
    "tray_tab_clearance_mm": 5.0,
    "tray_tab_taper_mm": 3.0,
}
TUBE = {"length_mm": 80.0, "width_mm": 40.0, "height_mm": 120.0, **FLAPS}
TRAY = {**TUBE, "length_mm": 200.0, "width_mm": 150.0, "height_mm": 40.0}
