"""How far assumptions leave the saving open: each end worked out anew, and what is known left alone."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from compare.assumptions import assumption_table
from compare.decide.book_plan import BookPlan, Limits, plan_book
from compare.decide.order_book import Book, evaluate_book
from compare.decide.order_inputs import JOB_GROUPS
from compare.decide.saving_range import SavingRange, saving_range
from compare.readers.jobfile import Layer
from compare.readers.orderbook import OrderTable, read_orders
from tests.conftest import DATA

from .plan_books import NEAR, ORDER, PLANT, saved_alone, written

TABLE = assumption_table()
VARIED = sorted(
    name
    for name, row in TABLE.items()
    if row.low is not None and not name.startswith((*JOB_GROUPS, "press_capital.", "line_capital.", "factors."))
)
"""What has a range and is neither the job's own, nor of a machine that is bought, nor a factor."""


FORCEFUL = {
    "style": "", "length_mm": "", "width_mm": "", "height_mm": "", "blank_area_m2": 0.03, "cutting_m": 1.4, "creasing_m": 0.9,
    "nicks": 8, "bends": 20, "strokes": 3, "corner_load": 14, "ups_die": 22, "ups_laser": 22,
}  # fmt: skip
"""Instead of a style: so much rule on a sheet that a press at the low end of the range can't cut it."""


def known_but_for(*names: str) -> Layer:
    """Give every assumption its own value, so that only some of them are left open."""
    rates_of_machines = [f"rates.{machine}{cash}_h" for machine in ("press", "laser") for cash in ("", "_cash")]
    known = {n: TABLE[n].value for n in VARIED if n not in names and n not in rates_of_machines}
    return Layer("known", {**known, **PLANT.values})


def ranged(table: OrderTable, *layers: Layer, on_laser: list[bool] | None = None) -> tuple[Book, SavingRange]:
    """Return the book at cash rates, and the range with all jobs moved, or some."""
    cash = evaluate_book(table, *layers, costing="cash")
    moved = np.ones(len(cash), dtype=bool) if on_laser is None else np.array(on_laser)
    return cash, saving_range(table, layers, cash, moved, executor=None, progress=lambda share, what: None)


@pytest.fixture
def table(tmp_path) -> OrderTable:
    """Three short runs, the last of two versions."""
    rows = [ORDER, {**ORDER, "run_length": 2500}, {**ORDER, "run_length": 1200, "versions": 2}]
    return written(tmp_path / "orders.csv", *rows)


@pytest.fixture(scope="module")
def told() -> list[tuple[float, str]]:
    """What is said of the progress of the plan of the invented book of 20."""
    return []


@pytest.fixture(scope="module")
def twenty(told) -> BookPlan:
    def tell(share: float, what: str) -> None:
        told.append((share, what))

    return plan_book(read_orders(DATA / "demo" / "orders_20.csv"), PLANT, with_range=True, progress=tell)


def test_the_cash_saving_is_within_its_range(twenty):
    found = twenty.saving_range
    assert found.low < twenty.cash_saving < found.high


def test_swings_are_in_order_of_their_size_and_each_named_once(twenty):
    swings = twenty.saving_range.swings
    sizes = [max(abs(s.at_low), abs(s.at_high)) for s in swings]
    assert sizes == sorted(sizes, reverse=True)
    assert len({s.name for s in swings}) == len(swings) > 40
    assert all(s.at_low or s.at_high for s in swings)


def test_only_what_is_assumed_of_the_plant_is_varied(twenty):
    """What rows or the plant give, factors, the job's own inputs and prices of machines are known."""
    names = {s.name for s in twenty.saving_range.swings}
    assert names <= set(VARIED)
    assert not (names & set(PLANT.values)) - set(PLANT.ranges)
    assert not names & {"rates.press_cash_h", "rates.laser_cash_h"}  # worked out from the prices of machines


def test_what_the_plant_gives_with_a_range_is_varied_within_it(twenty):
    """The plant's own ends, not the usual ones of the table."""
    by_name = {s.name: s for s in twenty.saving_range.swings}
    assert by_name["laser.separation_h_per_1000"][3:] == (0.1, 0.35)
    assert by_name["toolmaker.set_fee"][3:] == (TABLE["toolmaker.set_fee"].low, TABLE["toolmaker.set_fee"].high)


def test_an_assumption_that_the_plant_gives_is_not_varied_even_at_the_assumed_value(table):
    given = Layer("settings", {"toolmaker.set_fee": TABLE["toolmaker.set_fee"].value})
    (_, open_), (_, known) = ranged(table, PLANT), ranged(table, PLANT, given)
    left = {s.name: s for s in open_.swings}
    del left["toolmaker.set_fee"]
    assert {s.name: s for s in known.swings} == left
    assert known.high - known.low < open_.high - open_.low


def test_rates_of_machines_are_varied_where_no_price_gives_them(table):
    _, found = ranged(table)
    names = {s.name for s in found.swings}
    assert {"rates.press_cash_h", "rates.laser_cash_h", "rates.labour_h", "rates.kwh"} <= names
    assert not {"rates.press_h", "rates.laser_h"} & names  # full rates are no part of a cash saving


@pytest.mark.parametrize("name", ["toolmaker.set_fee", "rates.crease_set", "laser.feeder_sheets_h"])
def test_a_swing_is_what_single_comparisons_with_the_end_of_the_range_say(twenty, name):
    """A price, one of the other route, and one that works through hours."""
    moved = np.flatnonzero(twenty.selection.on_laser).tolist()

    def saved(*more: Layer) -> float:
        return sum(saved_alone(twenty.cash, job, PLANT, *more, costing="cash") for job in moved)

    middle = saved()
    ends = [saved(Layer("end", {name: end})) - middle for end in (TABLE[name].low, TABLE[name].high)]
    (swing,) = (s for s in twenty.saving_range.swings if s.name == name)
    assert [swing.at_low, swing.at_high] == pytest.approx(ends, rel=1e-6)
    assert middle == pytest.approx(twenty.cash_saving, rel=NEAR)


def test_an_open_set_fee_is_one_fee_of_each_set(table):
    """By hand: four sets (1 + 1 + 2 versions) at 80 or 400 instead of 180."""
    cash, found = ranged(table, known_but_for("toolmaker.set_fee"))
    (swing,) = found.swings
    assert (swing.at_low, swing.at_high) == pytest.approx((-4 * 100, 4 * 220), rel=NEAR)
    assert (found.low, found.high) == pytest.approx((cash.saving.sum() - 400, cash.saving.sum() + 880), rel=NEAR)


def test_the_ends_are_roots_of_sums_of_squares(table):
    """By hand: set fees 4 x (-100, +220); stored sets 4 x (-13, +22); and a stripping piece of which there is none."""
    open_ = ("toolmaker.set_fee", "toolmaker.storage_set_year", "toolmaker.stripping_piece")
    cash, found = ranged(table, known_but_for(*open_))
    assert [s.name for s in found.swings] == list(open_[:2])
    saved = float(cash.saving.sum())
    assert saved - found.low == pytest.approx(math.sqrt(400**2 + 52**2), rel=NEAR)
    assert found.high - saved == pytest.approx(math.sqrt(880**2 + 88**2), rel=NEAR)


def test_an_assumption_of_the_laser_swings_the_other_way_and_adds_to_the_other_side(table):
    """A crease set costs the laser; what is dear there is a smaller saving."""
    cash, found = ranged(table, known_but_for("toolmaker.set_fee", "rates.crease_set"))
    fee, crease = found.swings
    assert fee.at_low < 0 < fee.at_high
    assert crease.at_high < 0 < crease.at_low
    saved = float(cash.saving.sum())
    assert saved - found.low == pytest.approx(math.hypot(fee.at_low, crease.at_high), rel=NEAR)
    assert found.high - saved == pytest.approx(math.hypot(fee.at_high, crease.at_low), rel=NEAR)


def test_only_the_jobs_that_move_count(table):
    """By hand: the last of them has two sets."""
    cash, found = ranged(table, known_but_for("toolmaker.set_fee"), on_laser=[False, False, True])
    assert found.low == pytest.approx(cash.saving[2] - 200, rel=NEAR)
    assert found.high == pytest.approx(cash.saving[2] + 440, rel=NEAR)


def test_where_nothing_moves_nothing_is_open(table):
    _, found = ranged(table, PLANT, on_laser=[False] * 3)
    assert found == SavingRange(0.0, 0.0, ())


def test_where_all_is_known_the_range_is_the_saving(table):
    cash, found = ranged(table, known_but_for())
    assert found == SavingRange(cash.saving.sum(), cash.saving.sum(), ())


@pytest.mark.parametrize("name", ["die.max_force_kn", "die.max_caliper_mm", "die.max_tool_sets"])
def test_a_limit_of_the_press_moves_no_money(tmp_path, name):
    """At an end that rules out the die a job's whole saving is taken off, though the die would cost what it did."""
    # about 2,430 kN (from 2,000 to 3,500); board of 1.2 mm (from 1 mm on); 12 sets (from 10 on)
    rows = [{**ORDER, **FORCEFUL}, {**ORDER, "caliper_mm": 1.2}, {**ORDER, "versions": 12}]
    layers = (known_but_for(name), Layer("settings", {"laser.max_caliper_mm": 2.0}))
    orders = written(tmp_path / "orders.csv", *rows)
    at_low = evaluate_book(orders, *layers, Layer("low", {name: TABLE[name].low}), costing="cash")
    cash, found = ranged(orders, *layers)
    assert cash.die_possible.all()
    assert not at_low.die_possible.all()
    assert at_low.saving == pytest.approx(cash.saving, rel=NEAR)
    assert found.swings == ()


def test_progress_is_told_in_shares_that_never_fall(twenty, told):
    shares = [share for share, _ in told]
    assert twenty.saving_range is not None
    assert shares[0] == 0
    assert shares == sorted(shares)
    assert 0.95 < shares[-1] <= 1
    assert len(shares) > len(twenty.saving_range.swings)
    assert {what.removeprefix("the range of ") for _, what in told} >= {s.name for s in twenty.saving_range.swings}


def test_the_range_is_handed_on_to_the_investment(twenty):
    """What the line is worth at either end."""
    case, found = twenty.investment, twenty.saving_range
    assert case.npv_low == pytest.approx(float(case.investment.npv(found.low)), rel=NEAR)
    assert case.npv_high == pytest.approx(float(case.investment.npv(found.high)), rel=NEAR)
    assert case.npv_low < case.npv < case.npv_high


def test_a_range_that_is_not_asked_for_is_not_worked_out(table):
    plan = plan_book(table, PLANT)
    assert plan.saving_range is None
    assert (plan.investment.npv_low, plan.investment.npv_high) == (None, None)


def test_an_executor_changes_nothing(table):
    with ThreadPoolExecutor(2) as pool:
        plan = plan_book(table, PLANT, with_range=True, limits=Limits(100), executor=pool)
    assert plan.saving_range == plan_book(table, PLANT, with_range=True, limits=Limits(100)).saving_range
