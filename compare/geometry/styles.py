"""Six carton styles with explicit outlines.

Every length comes from coordinates. Panels run from left to right: glue flap, L, W, L, W; the
origin is the lower end of the crease between glue flap and first panel, less the glue flap's width.
Dimensions are measured crease to crease on the flat blank. Proportions of flaps are common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

from compare.errors import InputError, unknown_name
from compare.geometry.linework import (
    CutLines,
    Point,
    Segment,
    box_size,
    measure_outline,
    ring_area,
    union_length,
)


@dataclass(frozen=True)
class Blank:
    """A flat carton.

    Attributes
    ----------
    style : str
        Name of the style.
    outline : tuple of points
        Corners of the cut outline in order, closed, not repeated at the end [mm].
    creases : tuple of segments
        Straight creases [mm].
    """

    style: str
    outline: tuple[Point, ...]
    creases: tuple[Segment, ...]

    @property
    def area_mm2(self) -> float:
        """Net area [mm2]."""
        return ring_area(self.outline)

    @property
    def box_mm(self) -> tuple[float, float]:
        """Width and height of the box around it [mm]."""
        return box_size(self.outline)

    @cached_property
    def crease_mm(self) -> float:
        """Length of all creases [mm]."""
        return union_length(list(self.creases))

    @cached_property
    def cut(self) -> CutLines:
        """What its cut lines ask of a tool or a beam."""
        return measure_outline(self.outline)


@dataclass(frozen=True)
class Flaps:
    """Dimensions of a carton and its flaps [mm]; see the ``carton.*`` rows of the assumptions."""

    length: float
    width: float
    height: float
    glue_flap: float
    glue_flap_bevel: float
    flap_taper: float
    tuck_flap: float
    dust_flap: float
    seal_outer: float
    seal_inner: float
    lock_long: float
    lock_short: float
    tray_tab: float
    tray_tab_taper: float

    @classmethod
    def from_inputs(cls, carton: Mapping[str, float]) -> Flaps:
        """Work out every flap from the ``carton.*`` inputs (names without the prefix)."""
        length, width, height = carton["length_mm"], carton["width_mm"], carton["height_mm"]
        dust = carton.get("dust_flap_mm", min(carton["dust_flap_share"] * width, length / 2))
        return cls(
            length=length,
            width=width,
            height=height,
            glue_flap=carton["glue_flap_mm"],
            glue_flap_bevel=carton["glue_flap_bevel_mm"],
            flap_taper=carton["flap_taper_mm"],
            tuck_flap=carton["tuck_flap_mm"],
            dust_flap=dust,
            seal_outer=width - carton["seal_clearance_mm"],
            seal_inner=carton["inner_flap_share"] * width,
            lock_long=width / 2 + carton["lock_overlap_mm"],
            lock_short=width / 2 + carton["lock_web_mm"],
            tray_tab=height - carton["tray_tab_clearance_mm"],
            tray_tab_taper=carton["tray_tab_taper_mm"],
        )


_Edge = Callable[[Flaps, float, float], list[tuple[float, float]]]
"""Points (x, depth) of a flap between the two ends of a panel's edge."""


def _plain(f: Flaps, left: float, right: float) -> list[tuple[float, float]]:
    return []


def _flap(depth: Callable[[Flaps], float]) -> _Edge:
    def edge(f: Flaps, left: float, right: float) -> list[tuple[float, float]]:
        return [(left + f.flap_taper, depth(f)), (right - f.flap_taper, depth(f))]

    return edge


def _closure(f: Flaps, left: float, right: float) -> list[tuple[float, float]]:
    t, lid, deep = f.flap_taper, f.width, f.width + f.tuck_flap
    return [(left, lid), (left + t, deep), (right - t, deep), (right, lid)]


_dust = _flap(lambda f: f.dust_flap)
_outer, _inner = _flap(lambda f: f.seal_outer), _flap(lambda f: f.seal_inner)
_lock_long, _lock_short = _flap(lambda f: f.lock_long), _flap(lambda f: f.lock_short)


def _tube(style: str, f: Flaps, bottom: tuple[_Edge, ...], top: tuple[_Edge, ...]) -> Blank:
    """Build a tube of four panels from what hangs on each panel's lower and upper edge."""
    g, bevel, height = f.glue_flap, f.glue_flap_bevel, f.height
    xs = [g, g + f.length, g + f.length + f.width, g + 2 * f.length + f.width, g + 2 * (f.length + f.width)]
    panels = list(pairwise(xs))
    outline: list[Point] = [(0.0, bevel)]
    for (left, right), edge in zip(panels, bottom, strict=True):
        outline += [(left, 0.0), *((x, -d) for x, d in edge(f, left, right)), (right, 0.0)]
    for (left, right), edge in zip(panels[::-1], top[::-1], strict=True):
        outline += [(right, height), *((x, height + d) for x, d in edge(f, left, right)[::-1]), (left, height)]
    outline.append((0.0, height - bevel))

    creases: list[Segment] = [((x, 0.0), (x, height)) for x in xs[:4]]
    for edges, level, sign in ((bottom, 0.0, -1.0), (top, height, 1.0)):
        for (left, right), edge in zip(panels, edges, strict=True):
            if edge is not _plain:
                creases.append(((left, level), (right, level)))
            if edge is _closure:
                lid = level + sign * f.width
                creases.append(((left, lid), (right, lid)))
    return Blank(style, _tidy(outline), tuple(creases))


def _tidy(outline: list[Point]) -> tuple[Point, ...]:
    """Drop repeated points and points in the middle of a straight side."""
    points = [p for p, q in zip(outline, outline[1:] + outline[:1], strict=True) if p != q]
    kept = []
    for before, here, after in zip(points[-1:] + points[:-1], points, points[1:] + points[:1], strict=True):
        ax, ay, bx, by = here[0] - before[0], here[1] - before[1], after[0] - here[0], after[1] - here[1]
        straight_on = abs(ax * by - ay * bx) < 1e-9 and ax * bx + ay * by > 0
        if not straight_on:
            kept.append(here)
    return tuple(kept)


def sleeve(f: Flaps) -> Blank:
    """Open tube."""
    return _tube("sleeve", f, (_plain,) * 4, (_plain,) * 4)


def reverse_tuck_end(f: Flaps) -> Blank:
    """Tuck closures on opposite panels."""
    return _tube("reverse_tuck_end", f, (_plain, _dust, _closure, _dust), (_closure, _dust, _plain, _dust))


def straight_tuck_end(f: Flaps) -> Blank:
    """Tuck closures on the same panel."""
    return _tube("straight_tuck_end", f, (_closure, _dust, _plain, _dust), (_closure, _dust, _plain, _dust))


def seal_end(f: Flaps) -> Blank:
    """Glued ends: outer and inner seal flaps with dust flaps between."""
    ends = (_outer, _dust, _inner, _dust)
    return _tube("seal_end", f, ends, ends)


def crash_lock(f: Flaps) -> Blank:
    """Glued crash-lock bottom (without locking notches), tuck top."""
    bottom = (_lock_long, _lock_short, _lock_long, _lock_short)
    tube = _tube("crash_lock", f, bottom, (_closure, _dust, _plain, _dust))
    depth, (second, fourth) = f.lock_short, (f.glue_flap + f.length + f.width, f.glue_flap + 2 * (f.length + f.width))
    slanted = tuple(((x, 0.0), (x - depth, -depth)) for x in (second, fourth))
    return Blank(tube.style, tube.outline, tube.creases + slanted)


def glued_tray(f: Flaps) -> Blank:
    """Tray with four glued corners; L and W are its base, H its wall."""
    length, width, wall, tab, t = f.length, f.width, f.height, f.tray_tab, f.tray_tab_taper
    outline = [
        (0, 0), (0, -wall), (length, -wall), (length, 0),
        (length + t, -tab), (length + wall - t, -tab), (length + wall, 0),
        (length + wall, width), (length + wall - t, width + tab), (length + t, width + tab),
        (length, width), (length, width + wall), (0, width + wall), (0, width),
        (-t, width + tab), (-wall + t, width + tab), (-wall, width),
        (-wall, 0), (-wall + t, -tab), (-t, -tab),
    ]  # fmt: skip
    base = [((0, 0), (length, 0)), ((length, 0), (length, width)), ((length, width), (0, width)), ((0, width), (0, 0))]
    tabs = [((x, y), (x + s * wall, y)) for x, s in ((0, -1), (length, 1)) for y in (0, width)]
    return Blank("glued_tray", _tidy(outline), tuple(base + tabs))


STYLES: dict[str, Callable[[Flaps], Blank]] = {
    "sleeve": sleeve,
    "reverse_tuck_end": reverse_tuck_end,
    "straight_tuck_end": straight_tuck_end,
    "seal_end": seal_end,
    "crash_lock": crash_lock,
    "glued_tray": glued_tray,
}


def build_blank(style: str, carton: Mapping[str, float]) -> Blank:
    """Draw a carton style.

    Parameters
    ----------
    style : str
        One of the six styles.
    carton : mapping
        The ``carton.*`` inputs without their prefix [mm, shares -].

    Returns
    -------
    Blank

    Raises
    ------
    InputError
        If the style is unknown or the dimensions leave no room for a flap.
    """
    if style not in STYLES:
        raise unknown_name(style, STYLES, where="carton.style", what="style")
    flaps = Flaps.from_inputs(carton)
    _check_room(style, flaps)
    return _drawn(style, flaps)


@lru_cache(maxsize=64)
def _drawn(style: str, flaps: Flaps) -> Blank:
    """Draw and measure a carton once, however often its orders, board or sheet change."""
    return STYLES[style](flaps)


def _check_room(style: str, f: Flaps) -> None:
    def refuse(what: str, name: str) -> InputError:
        return InputError(
            f"carton.{name}: {what}", where=f"style {style}", remedy="give dimensions that leave room for the flap"
        )

    if style == "glued_tray":
        if f.tray_tab <= 0:
            raise refuse("the wall leaves no room for a corner tab", "height_mm")
        if f.height <= 2 * f.tray_tab_taper:
            raise refuse("the taper takes the whole corner tab", "tray_tab_taper_mm")
        return
    if f.height <= 2 * f.glue_flap_bevel:
        raise refuse("the bevels take the whole glue flap", "glue_flap_bevel_mm")
    if style == "sleeve":
        return
    if min(f.length, f.width) <= 2 * f.flap_taper:
        raise refuse("the tapers take the whole flap", "flap_taper_mm")
    if style == "seal_end" and f.seal_outer <= 0:
        raise refuse("the clearance takes the whole seal flap", "seal_clearance_mm")
