"""What the lines of a drawing ask of a tool or a beam: lengths, strokes, corners, blank and waste.

A drawing gives the same numbers as a carton style that draws the same blank. Lines count once however
often they are drawn; lines nobody has mapped to a kind, and lines left out, count as nothing.
"""

from __future__ import annotations

import contextlib
import gc
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from compare.errors import Finding, InputError
from compare.geometry.contours import Runs, follow
from compare.geometry.drawing_remarks import about_blanks, doubles, kinds_overlap, open_ends
from compare.geometry.faces import CHORD_MM, Enclosed, enclosed, ring_of
from compare.geometry.fine_detail import Sizes, gaps, side_lengths, smallest_radii
from compare.geometry.line_boxes import boxes
from compare.geometry.line_kinds import ALL_KINDS, IGNORED, RUN_KINDS, LineKind
from compare.geometry.line_sums import CUT_KINDS, GroupLines, KindLines, LineSums, groups_of
from compare.geometry.linework import Point
from compare.geometry.overlaps import Stretches
from compare.geometry.strokes import Array, Drawing, Strokes

__all__ = ["TOLERANCE_MM", "GroupLines", "KindLines", "Measured", "WorkNumbers", "groups_of", "measure_drawing"]

TOLERANCE_MM = 0.05
"""Ends of lines this close to one another meet [mm]."""

BEAM_KINDS: tuple[LineKind, ...] = tuple(kind for kind in RUN_KINDS if kind != "creasing")
"""Kinds that a beam runs along; creases are made by the crease set."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class WorkNumbers:
    """The inputs of a job that a drawing answers, for all that is drawn, taken as one carton."""

    cutting_m: float
    creasing_m: float
    cutting_creasing_m: float
    perforating_m: float
    partial_cutting_m: float
    varnish_release_m: float
    bends: int
    strokes: int
    corner_load: float
    waste_pieces: int
    smallest_gap_mm: float | None
    smallest_radius_mm: float | None
    blank_area_m2: float | None
    blank_width_mm: float | None
    blank_height_mm: float | None

    def inputs(self) -> dict[str, float]:
        """Return the numbers by dotted name, those that are not known left out."""
        return {
            f"{'carton' if name.startswith('blank_') else 'work'}.{name}": value
            for name, value in vars(self).items()
            if value is not None
        }


@dataclass(frozen=True, eq=False)
class Measured:
    """A drawing measured.

    Attributes
    ----------
    groups : tuple of GroupLines
        One for each group, in the order of :func:`groups_of`.
    kinds : tuple of KindLines
        One for each kind that is run and there is, in the order of tables.
    drawn_mm : float
        Length of all strokes as drawn, of whatever kind or none [mm].
    length_mm : float
        Length with lines of one kind that lie on one another counted once [mm]. Lines without a kind
        count as one kind here.
    box_mm : tuple of float or None
        Least x and y, largest x and y of all lines that are not left out [mm].
    work : WorkNumbers
        Inputs of a job.
    outline_mm : float
        Cutting length but for the contours of waste pieces: where nicks sit [mm].
    blanks : tuple of Polygon
        Blanks without their cut-outs, the largest first; curves as chords within 0.01 mm that enclose
        the same area [mm].
    waste : tuple of Polygon
        Pieces that fall out or off [mm].
    radii, gaps, sides : Sizes
        Of cut lines, the smallest first: radius of each curve; distance of lines that run side by side
        without meeting; length of each side from corner to corner [mm].
    findings : tuple of Finding
        Remarks, with places [mm].
    """

    groups: tuple[GroupLines, ...]
    kinds: tuple[KindLines, ...]
    drawn_mm: float
    length_mm: float
    box_mm: Box | None
    work: WorkNumbers
    outline_mm: float
    blanks: tuple[Polygon, ...]
    waste: tuple[Polygon, ...]
    radii: Sizes
    gaps: Sizes
    sides: Sizes
    findings: tuple[Finding, ...]

    @property
    def blank_area_mm2(self) -> float | None:
        """Net area of the blank, of all of them if there are several; None if there is none [mm2]."""
        return math.fsum(blank.area for blank in self.blanks) if self.blanks else None

    @property
    def outline(self) -> tuple[Point, ...] | None:
        """Corners of the outline of the largest blank, against the clock, not repeated at the end [mm]."""
        return ring_of(self.blanks[0]) if self.blanks else None

    @property
    def cut_outs(self) -> tuple[tuple[Point, ...], ...]:
        """Corners of the outlines of the pieces that fall out or off [mm]."""
        return tuple(ring_of(piece) for piece in self.waste)


def measure_drawing(
    drawing: Drawing,
    kinds: Sequence[LineKind | None],
    *,
    mm_per_unit: float,
    tolerance_mm: float = TOLERANCE_MM,
    where: str = "drawing",
) -> Measured:
    """Measure a drawing.

    Parameters
    ----------
    drawing : Drawing
        What a reader found.
    kinds : sequence of LineKind or None
        Kind of each group, as :func:`groups_of` lists them; None where nobody has said.
    mm_per_unit : float
        Millimetres per unit of the drawing.
    tolerance_mm : float
        Ends of lines of one kind this close to one another meet [mm].
    where : str
        Name of the drawing, for findings.

    Returns
    -------
    Measured

    Raises
    ------
    InputError
        If kinds and groups don't go together, a number is no length, or lines lie on one another more
        often than any drawing has it.
    """
    groups = groups_of(drawing)
    if len(kinds) != len(groups):
        raise InputError(f"{len(kinds)} kinds are given for {len(groups)} groups of lines", where=where)
    if not 0 < mm_per_unit < math.inf:
        raise InputError("the unit of the drawing is not known", where=where, remedy="say what its unit is")
    if not 0 <= tolerance_mm < math.inf:
        raise InputError("the tolerance is no length", where=where, remedy="give it in mm")
    with _no_search_for_garbage():
        return _measured(drawing, kinds, mm_per_unit, tolerance_mm, where)


@contextlib.contextmanager
def _no_search_for_garbage() -> Iterator[None]:
    """Let shapes be made by the ten thousand without a search for garbage every few hundred.

    The search looks through everything there is again and again, and shapes and arrays are freed without it.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _measured(
    drawing: Drawing, kinds: Sequence[LineKind | None], mm_per_unit: float, tolerance_mm: float, where: str
) -> Measured:
    strokes = drawing.strokes if mm_per_unit == 1 else drawing.strokes.scaled(mm_per_unit)
    sums = LineSums(drawing, strokes, kinds, tolerance_mm)
    lines = {kind: sums.lines_of([kind]) for kind in sums.present}
    runs = {kind: follow(some) for kind, some in lines.items() if len(some)}
    by_kind = tuple(sums.of_kind(kind, runs.get(kind)) for kind in sums.present)
    inside = enclosed(lines["cutting"]) if "cutting" in lines else Enclosed()
    between, complete = gaps(sums.lines_of(CUT_KINDS))
    radii, sides = _by_side(lines, runs)
    counted = sums.rank != ALL_KINDS.index(IGNORED)
    cutting_mm = math.fsum(some.length_mm for some in by_kind if some.kind == "cutting")
    holes_mm = math.fsum(ring.length for blank in inside.blanks for ring in blank.interiors)
    return Measured(
        groups=sums.by_group,
        kinds=by_kind,
        drawn_mm=math.fsum(some.drawn_mm for some in sums.by_group),
        length_mm=math.fsum(sums.once_by_rank),
        box_mm=_around(strokes, counted),
        work=_work(by_kind, inside, _blank_box(lines.get("cutting"), inside), between.least, radii.least),
        outline_mm=max(cutting_mm - holes_mm, 0.0),
        blanks=inside.blanks,
        waste=inside.waste + inside.offcuts,
        radii=radii,
        gaps=between,
        sides=sides,
        findings=(
            *doubles(sums),
            *kinds_overlap(sums),
            *open_ends(sums),
            *about_blanks(sums, inside, where),
            *(() if complete else (_CROWDED,)),
        ),
    )


_CROWDED = Finding(
    "drawing.gaps_not_searched",
    "So many cut lines lie close together that wide gaps between them were not looked for: what rule can't be laid to is "
    "found up to 0.5 mm at most.",
    "drawing",
    "caution",
)


def _by_side(lines: Mapping[LineKind, Stretches], runs: Mapping[LineKind, Runs]) -> tuple[Sizes, Sizes]:
    """Return radii and sides of all that a sharp rule makes."""
    sharp = [(lines[kind], runs[kind].side) for kind in CUT_KINDS if kind in runs]
    return (
        Sizes.together([smallest_radii(some, side) for some, side in sharp]),
        Sizes.together([side_lengths(some, side) for some, side in sharp]),
    )


def _around(strokes: Strokes, which: Array) -> Box | None:
    if not which.any():
        return None
    box = boxes(strokes)[which]
    return _box(box)


def _box(box: Array) -> Box:
    low_x, low_y = box[:, :2].min(axis=0).tolist()
    high_x, high_y = box[:, 2:].max(axis=0).tolist()
    return low_x, low_y, high_x, high_y


def _blank_box(cutting: Stretches | None, inside: Enclosed) -> Box | None:
    """Return the box around all blanks, exact for curves as well."""
    if cutting is None or not inside.blanks:
        return None
    around = shapely.total_bounds(inside.blanks)
    box = boxes(cutting.strokes)
    # chords err by less than this, so lines on the outline are within it and lines beside the blank hardly are
    on = (box[:, :2] >= around[:2] - 2 * CHORD_MM).all(axis=1) & (box[:, 2:] <= around[2:] + 2 * CHORD_MM).all(axis=1)
    return _box(box[on] if on.any() else around[None, :])


def _work(
    kinds: Sequence[KindLines], inside: Enclosed, box: Box | None, gap: float | None, radius: float | None
) -> WorkNumbers:
    length = {some.kind: some.length_mm / 1000 for some in kinds}
    beam = [some for some in kinds if some.kind in BEAM_KINDS]
    return WorkNumbers(
        cutting_m=length.get("cutting", 0.0),
        creasing_m=length.get("creasing", 0.0),
        cutting_creasing_m=length.get("cutting_creasing", 0.0),
        perforating_m=length.get("perforating", 0.0),
        partial_cutting_m=length.get("partial_cutting", 0.0),
        varnish_release_m=length.get("varnish_release", 0.0),
        bends=sum(some.bends for some in kinds if some.kind != "varnish_release"),
        strokes=sum(some.strokes for some in beam),
        corner_load=math.fsum(some.corner_load for some in beam),
        waste_pieces=len(inside.waste) + len(inside.offcuts),
        smallest_gap_mm=gap,
        smallest_radius_mm=radius,
        blank_area_m2=math.fsum(blank.area for blank in inside.blanks) / 1e6 if inside.blanks else None,
        blank_width_mm=box[2] - box[0] if box else None,
        blank_height_mm=box[3] - box[1] if box else None,
    )
