"""Random jobs for the property tests: what holds, holds for all of them.

Every number is drawn from the range that the table of assumptions gives for practice, so that a property is tried
where people work. The draws are the same in every run: a red build is the fault of the change, not of the dice.
"""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from compare import Layer, Scenario, assumption_table, prepare
from compare.boards import boards
from compare.geometry.styles import STYLES

PROPERTY = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
FEW = settings(PROPERTY, max_examples=20)

MONEY = tuple(name for name, row in assumption_table().items() if "money" in row.unit)
"""Every input that is an amount of money, or a price per something."""

PRICES = tuple(name for name in MONEY if not name.startswith(("press_capital.", "line_capital.")))
"""Those of them that a calculation multiplies quantities by."""

RANGED = tuple(
    name
    for name, row in assumption_table().items()
    if row.low is not None and row.high is not None and row.low < row.high
)
"""Every input with a range in practice."""

KINDS = ("cutting_creasing", "perforating", "partial_cutting", "varnish_release")
"""Kinds of line a style does not draw."""


def _number(low: float, high: float, *, whole: bool = False) -> st.SearchStrategy[float]:
    if whole:
        return st.integers(int(low), int(high)).map(float)
    return st.floats(low, high, allow_subnormal=False).map(lambda v: min(max(round(v, 4), low), high))


def _switch() -> st.SearchStrategy[float]:
    return st.sampled_from([0.0, 1.0])


@st.composite
def job_values(draw: st.DrawFn, longest_run: int = 60_000, most_versions: int = 12) -> dict[str, Any]:
    """Draw the values of a job that can be prepared."""
    table = assumption_table()
    values: dict[str, Any] = {
        name: draw(_number(table[name].low, table[name].high, whole=table[name].limits.whole))
        for name in draw(st.sets(st.sampled_from(RANGED), max_size=20))
    }
    versions = draw(st.integers(1, most_versions))
    values |= {
        "demand.versions": float(versions),
        "demand.crease_versions": float(draw(st.integers(1, versions))),
        "demand.run_length": float(draw(st.integers(versions, longest_run))),
        "demand.mixed_sheets": draw(_switch()),
        "demand.orders_per_year": draw(_number(0.5, 12)),
        "demand.years": draw(_number(0.5, 5)),
        "demand.changes_per_year": draw(_number(0, 4)),
        "tooling.owned": draw(_switch()),
        "laser.crease_set_stored": draw(_switch()),
        "sheet.width_mm": draw(_number(740, 1060)),
        "sheet.length_mm": draw(_number(520, 760)),
    }
    values |= {f"work.{kind}_m": draw(st.one_of(st.just(0.0), _number(0, 1))) for kind in KINDS}
    if draw(st.booleans()):
        values |= {
            "carton.style": draw(st.sampled_from(sorted(STYLES))),
            "carton.length_mm": draw(_number(40, 110)),
            "carton.width_mm": draw(_number(20, 50)),
            "carton.height_mm": draw(_number(30, 120)),
            "board.grade": draw(st.sampled_from(sorted(boards()))),
        }
    else:
        values |= {
            "carton.blank_area_m2": draw(_number(0.005, 0.02)),
            "layout.ups_die": draw(_number(1, 18, whole=True)),
            "layout.ups_laser": draw(_number(1, 18, whole=True)),
            "board.grammage_g_m2": draw(_number(180, 600)),
            "board.caliper_mm": draw(_number(0.2, 0.9)),
            "work.cutting_m": draw(_number(0.2, 3)),
            "work.creasing_m": draw(st.one_of(st.just(0.0), _number(0, 3))),
            "work.nicks": draw(_number(0, 40, whole=True)),
            "work.bends": draw(_number(0, 60, whole=True)),
            "work.strokes": draw(_number(0, 40, whole=True)),
            "work.corner_load": draw(_number(0, 60)),
            "work.waste_pieces": draw(_number(0, 20, whole=True)),
        }
        values["layout.shared_die_m"] = values["work.cutting_m"] * draw(st.sampled_from([0.0, 0.2, 0.5]))
        values["layout.shared_laser_m"] = values["work.cutting_m"] * draw(st.sampled_from([0.0, 0.2, 0.5]))
    return values


def scenarios(longest_run: int = 60_000, most_versions: int = 12) -> st.SearchStrategy[Scenario]:
    """Draw jobs, ready to be computed."""
    return job_values(longest_run, most_versions).map(lambda values: prepare(Layer("random job", values)))
