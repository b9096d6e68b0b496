"""Chart specs: what a chart holds, apart from the pen that draws it.

The numbers come from the engine; a spec names series, axes with units, marks and texts, so that a
chart on screen, in print and as a table of numbers is one and the same.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from compare.assumptions import assumption_table
from compare.decide.comparison import Comparison
from compare.decide.evaluate import evaluate
from compare.decide.step_totals import Range
from compare.geometry.styles import Blank
from compare.names import replace
from compare.present.wording import STAGE_LABELS
from compare.routes.inventory import STAGES

if TYPE_CHECKING:
    from compare.decide.uncertainty import Uncertainty

_POINTS = 120
_FEW = 12
ROUTES: tuple[Literal["die", "laser"], ...] = ("die", "laser")
_TICKS = 12
_VERSIONS = (1, 2, 3, 4, 6, 8, 12, 24)
_ONE_TWO_FIVE = (1, 2, 5)
_MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Axis:
    """An axis with its unit.

    Attributes
    ----------
    label, unit : str
        What it shows.
    log : bool
        Whether it is logarithmic.
    ticks : tuple of float
        Where ticks stand, if they are fixed.
    """

    label: str
    unit: str
    log: bool = False
    ticks: tuple[float, ...] = ()

    @property
    def title(self) -> str:
        """Label with its unit."""
        return f"{self.label}, {self.unit}" if self.unit else self.label


@dataclass(frozen=True)
class Series:
    """A curve.

    Attributes
    ----------
    role : {"die", "laser"}
        Whose it is; sets colour and stroke.
    label : str
        Direct label.
    x, y : tuple of float
        Its points, in the axes' units.
    """

    role: str
    label: str
    x: tuple[float, ...]
    y: tuple[float, ...]


@dataclass(frozen=True)
class BandSeries:
    """What nine in ten, or one in ten, of all cases lie below, beside a curve.

    Attributes
    ----------
    role : {"die", "laser"}
        Whose it is.
    label : str
        What it holds.
    low, high : tuple of float
        P10 and P90 at the points of the curve, in the axis' unit.
    """

    role: str
    label: str
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class CurveChart:
    """Curves against run length, with ranges along the axis.

    Attributes
    ----------
    title : str
        What it shows, with the unit.
    x, y : Axis
        Axes.
    series : tuple of Series
        Curves.
    ranges : tuple of Range
        Where each route is the lower one, over the chart's domain.
    quoted : float
        The run length that was asked for.
    break_even : float or None
        Where the die takes over for good.
    summary : str
        The chart in words.
    bands : tuple of BandSeries
        Beside the curves, at their points; empty where nothing was varied.
    laser_cheaper : tuple of float
        Share of all cases in which the laser is cheaper, at the points of the curves; empty where nothing was varied.
    """

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]
    ranges: tuple[Range, ...]
    quoted: float
    break_even: float | None
    summary: str
    bands: tuple[BandSeries, ...] = ()
    laser_cheaper: tuple[float, ...] = ()

    def stretches(self) -> list[tuple[int, int, str]]:
        """Return ranges to draw; a flicker from sheet to sheet becomes one stretch that "changes"."""
        if len(self.ranges) <= _FEW:
            return [(r.start, r.end, r.lowest) for r in self.ranges]
        first, last = self.ranges[0], self.ranges[-1]
        return [
            (first.start, first.end, first.lowest),
            (first.end + 1, last.start - 1, "changes"),
            (last.start, last.end, last.lowest),
        ]

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the chart's numbers."""
        header = [self.x.title, *(f"{s.label}: {self.y.title}" for s in self.series)]
        columns = [s.y for s in self.series]
        for band in self.bands:
            header += [f"{band.label} {level}: {self.y.title}" for level in ("P10", "P90")]
            columns += [band.low, band.high]
        if self.laser_cheaper:
            header.append("laser cheaper: share of draws")
            columns.append(self.laser_cheaper)
        yield tuple(header)
        if self.series:
            yield from zip(self.series[0].x, *columns, strict=True)


@dataclass(frozen=True)
class StageChart:
    """Money by stage, one bar per route, on one scale.

    Attributes
    ----------
    title : str
        What it shows, with the unit.
    unit : str
        Unit of the values.
    stages : tuple of str
        Stages in order.
    labels : tuple of str
        What they are called.
    values : mapping
        Route to values by stage.
    summary : str
        The chart in words.
    """

    title: str
    unit: str
    stages: tuple[str, ...]
    labels: tuple[str, ...]
    values: dict[str, tuple[float, ...]]
    summary: str

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the chart's numbers."""
        yield ("stage", *(f"{route}, {self.unit}" for route in self.values))
        yield from zip(self.labels, *self.values.values(), strict=True)


@dataclass(frozen=True)
class MapChart:
    """Which route is cheaper, and by how much, over run length and versions.

    Attributes
    ----------
    title : str
        What it shows, with the unit.
    x, y : Axis
        Run length and versions.
    run_lengths, versions : tuple of float
        Columns and rows.
    advantage : tuple of tuple of float or None
        Cost of the die less cost of the laser, by row; ``None`` where there is less than a carton per version.
    share : tuple of tuple of float or None
        The same as a share of the dearer route, for shading.
    quoted : tuple of float
        Run length and versions of the job.
    unit : str
        Unit of the advantage.
    summary : str
        The chart in words.
    """

    title: str
    x: Axis
    y: Axis
    run_lengths: tuple[float, ...]
    versions: tuple[float, ...]
    advantage: tuple[tuple[float | None, ...], ...]
    share: tuple[tuple[float | None, ...], ...]
    quoted: tuple[float, float]
    unit: str
    summary: str

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the chart's numbers."""
        yield (self.y.title, *(f"{q:g} cartons: die less laser, {self.unit}" for q in self.run_lengths))
        for count, row in zip(self.versions, self.advantage, strict=True):
            yield (count, *("" if v is None else v for v in row))


class Mark(NamedTuple):
    """A place on a drawing [mm] with the number and the words of the finding it belongs to."""

    x: float
    y: float
    number: int
    words: str


@dataclass(frozen=True)
class OutlineChart:
    """A flat carton by kind of line.

    Attributes
    ----------
    title : str
        Style and size.
    lines : mapping
        Kind of line to polylines, in ``unit``.
    size_mm : tuple of float
        Width and height of the blank [mm].
    summary : str
        The drawing in words.
    marks : tuple of Mark
        Places of findings.
    tall : bool
        Whether it needs the height of two.
    fine : bool
        Whether it holds so many lines that they are drawn thinner.
    unit : {"mm", "in"}
        Unit of the polylines.
    """

    title: str
    lines: dict[str, tuple[tuple[tuple[float, float], ...], ...]]
    size_mm: tuple[float, float]
    summary: str
    marks: tuple[Mark, ...] = ()
    tall: bool = False
    fine: bool = False
    unit: Literal["mm", "in"] = "mm"

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the drawing's points."""
        yield ("kind", "line", f"x, {self.unit}", f"y, {self.unit}")
        for kind, lines in self.lines.items():
            for number, line in enumerate(lines, start=1):
                for x, y in line:
                    yield (kind, number, x, y)


Chart = CurveChart | StageChart | MapChart | OutlineChart


class Tabular(Protocol):
    """Anything that can be written as a table of its numbers."""

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Yield a header and the numbers."""
        ...


def as_csv(chart: Tabular) -> str:
    """Return a chart's numbers as CSV, units in the header."""
    file = io.StringIO()
    csv.writer(file, lineterminator="\n").writerows(chart.rows())
    return file.getvalue()


def decade_ticks(low: float, high: float) -> tuple[float, ...]:
    """Return the numbers 1, 2 and 5 times a power of ten from low to high; over many decades the powers alone."""
    powers = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    ticks = tuple(t for p in powers for m in _ONE_TWO_FIVE if low <= (t := m * 10.0**p) <= high)
    if len(ticks) > _TICKS:  # too many to be read level: powers of ten alone
        ticks = tuple(t for p in powers if low <= (t := 10.0**p) <= high)
    return ticks


def chart_domain(comparison: Comparison) -> tuple[int, int]:
    """Return run lengths that show the quoted run and the break-even, and how it goes on from there."""
    found = comparison.break_even["cost"]
    points = [comparison.run_length, *([found.run_length] if found.run_length else [])]
    low, high = max(min(points) / 20, found.start), min(max(points) * 8, found.end)
    low = max(decade_ticks(max(low / 2.5, 1), low)[-1:] or (low,))
    high = min(decade_ticks(high, high * 2.5)[:1] or (high,))
    return int(max(low, found.start, 1)), int(max(min(high, found.end), low + 1))


def chart_grid(comparison: Comparison) -> NDArray[np.float64]:
    """Return the run lengths of the break-even chart, the quoted one among them [cartons per order]."""
    low, high = chart_domain(comparison)
    grid = np.unique(np.round(np.append(np.geomspace(low, high, _POINTS), comparison.run_length)))
    return grid[(grid >= low) & (grid <= high)]


def break_even_chart(
    comparison: Comparison, *, price_factor: float = 1.0, price_word: str = "cost", unsure: Uncertainty | None = None
) -> CurveChart:
    """Return money per 1,000 good cartons against run length, for the routes that are possible.

    Parameters
    ----------
    comparison : Comparison
        What is shown.
    price_factor : float
        Turns cost into price; 1 for cost. It moves both curves alike, so ranges stay.
    price_word : str
        What the money is called.
    unsure : Uncertainty, optional
        With its bands at :func:`chart_grid`, for bands and probabilities.
    """
    low, high = chart_domain(comparison)
    grid = chart_grid(comparison)
    labels = {"die": "steel-rule die", "laser": "laser"}
    along = tuple(grid.tolist())
    series = tuple(
        Series(route, labels[route], along, tuple((cost * price_factor).tolist()))
        for route, cost in comparison.cost_per_1000_at(grid).items()
    )
    found = comparison.break_even["cost"]
    shown = tuple(
        Range(max(r.start, low), min(r.end, high), r.lowest) for r in found.ranges if r.end >= low and r.start <= high
    )
    unit = f"{comparison.scenario.currency} per 1,000 good cartons"
    word = price_word.capitalize()
    return CurveChart(
        title=f"{word} per 1,000 cartons against run length, {comparison.scenario.currency}",
        x=Axis("Run length", "cartons per order", log=True, ticks=decade_ticks(low, high)),
        y=Axis(word, unit, log=True),
        series=series,
        ranges=shown,
        quoted=comparison.run_length,
        break_even=float(found.run_length) if found.run_length else None,
        summary=f"{word} per 1,000 cartons falls with run length on both routes. {found.answer[:1].upper()}{found.answer[1:]}.",
        bands=_bands(unsure, labels, price_factor) if unsure is not None else (),
        laser_cheaper=tuple(unsure.laser_cheaper_along.tolist())
        if unsure is not None and unsure.laser_cheaper_along is not None
        else (),
    )


def _bands(unsure: Uncertainty, labels: dict[str, str], price_factor: float) -> tuple[BandSeries, ...]:
    cost = unsure.bands["cost"]
    return tuple(
        BandSeries(
            route,
            labels[route],
            tuple((cost[route].p10 * price_factor).tolist()),
            tuple((cost[route].p90 * price_factor).tolist()),
        )
        for route in ROUTES
        if route in cost
    )


def stage_chart(comparison: Comparison) -> StageChart:
    """Return money per 1,000 good cartons by stage; board and print of good sheets stand apart."""
    stages = tuple(s for s in STAGES if s != "material")
    routes = [r for r in ("die", "laser") if comparison.route(r).feasible]
    by_route = {r: comparison.route(r).stage_cost_per_1000() for r in routes}
    values = {r: tuple(by[s] for s in stages) for r, by in by_route.items()}
    unit = f"{comparison.scenario.currency} per 1,000 good cartons"
    totals = ", ".join(f"{route} {sum(v):.3g}" for route, v in values.items())
    return StageChart(
        title=f"Where the money goes, {comparison.scenario.currency} per 1,000, board and print of good sheets apart",
        unit=unit,
        stages=stages,
        labels=tuple(STAGE_LABELS[s] for s in stages),
        values=values,
        summary=f"Without board and print of good sheets, {unit}: {totals}.",
    )


def advantage_map(comparison: Comparison, *, price_factor: float = 1.0) -> MapChart | None:
    """Return which route is cheaper over run length and versions; ``None`` if one route is impossible.

    Parameters
    ----------
    comparison : Comparison
        What is shown.
    price_factor : float
        Turns cost into price; 1 for cost.
    """
    if not (comparison.die.feasible and comparison.laser.feasible):
        return None
    x = comparison.scenario.inputs
    most = min(x.number("die.max_tool_sets"), 1000.0)
    own = x.number("demand.versions")
    versions = np.array(sorted({v for v in (*_VERSIONS, own) if v <= most or v == own}), dtype=float)
    runs = np.array(_map_runs(comparison.run_length))
    grid_runs, grid_versions = runs[np.newaxis, :], versions[:, np.newaxis]
    fits = grid_versions <= grid_runs
    # the crease versions keep their share, but are never more than the versions
    creases = np.minimum(x.number("demand.crease_versions"), grid_versions)
    varied = replace(
        x,
        {
            "demand.run_length": np.maximum(grid_runs, grid_versions),
            "demand.versions": grid_versions,
            "demand.crease_versions": creases,
        },
    )
    totals = evaluate(varied, costing=comparison.costing, measures=("cost",))
    die = np.asarray(totals.per_1000("die", "cost")) * price_factor
    laser = np.asarray(totals.per_1000("laser", "cost")) * price_factor
    gap, dearer = die - laser, np.maximum(np.maximum(die, laser), 1e-9)
    currency = comparison.scenario.currency
    laser_cells, cells = int((gap[fits] > 0).sum()), int(fits.sum())
    return MapChart(
        title=f"Which route is cheaper, and by how much, {currency} per 1,000",
        x=Axis("Run length", "cartons per order", log=True),
        y=Axis("Versions", "per order"),
        run_lengths=tuple(runs.tolist()),
        versions=tuple(versions.tolist()),
        advantage=_cells(gap, fits),
        share=_cells(gap / dearer, fits),
        quoted=(comparison.run_length, own),
        unit=f"{currency} per 1,000",
        summary=f"The laser is cheaper in {laser_cells} of {cells} combinations of run length and versions.",
    )


def _cells(values: np.ndarray, fits: np.ndarray) -> tuple[tuple[float | None, ...], ...]:
    cells = values.astype(object)
    cells[~fits] = None
    return tuple(map(tuple, cells.tolist()))


def _map_runs(quoted: float) -> Sequence[float]:
    """Return ten steps of 1, 2, 5 around the quoted run, and the run itself."""
    longest = assumption_table()["demand.run_length"].limits.high
    ticks = [t for p in range(1, 9) for m in _ONE_TWO_FIVE if (t := m * 10.0**p) <= longest]
    at = int(np.searchsorted(ticks, quoted))
    first = min(max(at - 5, 0), len(ticks) - 10)
    return sorted({*ticks[first : first + 10], quoted})


def outline_chart(blank: Blank, *, inches: bool = False) -> OutlineChart:
    """Return the flat carton by kind of line, in millimetres and metres, or in inches and feet."""
    width, height = blank.box_mm
    lines = {"cutting": ((*blank.outline, blank.outline[0]),), "creasing": tuple(blank.creases)}
    name, cut, crease = f"Carton as cut: {blank.style.replace('_', ' ')}", blank.cut.length_mm, blank.crease_mm
    if not inches:
        title = f"{name}, blank {width:,.0f} x {height:,.0f} mm"
        summary = f"{title}; {cut / 1000:.3f} m of cutting, {crease / 1000:.3f} m of creasing."
        return OutlineChart(title, lines, (width, height), summary)
    title = f"{name}, blank {width / _MM_PER_INCH:,.2f} x {height / _MM_PER_INCH:,.2f} in"
    foot = 12 * _MM_PER_INCH
    summary = f"{title}; {cut / foot:.2f} ft of cutting, {crease / foot:.2f} ft of creasing."
    scaled = {
        kind: tuple(tuple((x / _MM_PER_INCH, y / _MM_PER_INCH) for x, y in line) for line in some)
        for kind, some in lines.items()
    }
    return OutlineChart(title, scaled, (width, height), summary, unit="in")
