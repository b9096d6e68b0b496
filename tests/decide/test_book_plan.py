"""The plan of a year: within every limit, its money added up by plain loops, and nothing said that is not so."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from compare.decide.book_plan import (
    LOADS,
    BookPlan,
    Limits,
    job_capacities,
    orders_per_year,
    plan_book,
    plan_evaluated,
)
from compare.decide.hour_prices import bound_and_prices
from compare.decide.order_book import Book, evaluate_book
from compare.errors import Finding, InputError
from compare.readers.jobfile import Layer
from compare.readers.orderbook import OrderTable, read_orders
from compare.readers.orderbook_words import Words
from tests.conftest import DATA

from .plan_books import (
    NEAR,
    NO_DIE,
    NO_LASER,
    ORDER,
    PLANT,
    hours_worth_moving,
    lines_of,
    saved_alone,
    scarce_limits,
    some_cartons,
    written,
)

SEEDS = range(10)
ALL = Limits(1e6, by_month=False)


def both(table: OrderTable, *layers: Layer) -> tuple[Book, Book]:
    """Evaluate a book at full and at cash rates."""
    return evaluate_book(table, *layers), evaluate_book(table, *layers, costing="cash")


@pytest.fixture
def orders(tmp_path) -> Callable[..., OrderTable]:
    """Read rows, each a dictionary of heading to cell, as an order book."""
    return lambda *rows: written(tmp_path / "orders.csv", *rows)


@pytest.fixture(scope="module")
def small(tmp_path_factory) -> list[tuple[Book, Book]]:
    """Some cartons each of the invented book of 2,000, pins and impossible routes among them."""
    folder, lines = tmp_path_factory.mktemp("small"), lines_of("orders_2000.csv")
    drawn = (some_cartons(lines, np.random.default_rng(seed), 45) for seed in SEEDS)
    return [both(written(folder / f"orders{seed}.csv", *rows), PLANT) for seed, rows in enumerate(drawn)]


@pytest.fixture(scope="module")
def plans(small) -> list[BookPlan]:
    """A plan of each, with scarce hours, months and boards."""
    return [
        plan_evaluated(*books, scarce_limits(books[0], np.random.default_rng(100 + seed)))
        for seed, books in enumerate(small)
    ]


@pytest.fixture(scope="module")
def twenty() -> BookPlan:
    return plan_book(read_orders(DATA / "demo" / "orders_20.csv"), PLANT)


@pytest.fixture(scope="module")
def demo() -> tuple[Book, Book]:
    return both(read_orders(DATA / "demo" / "orders_2000.csv"), PLANT)


@pytest.fixture(scope="module")
def scarce(demo) -> BookPlan:
    """The invented book of 2,000 with a third of the hours that it could use."""
    return plan_evaluated(*demo, Limits(hours_worth_moving(demo[0]) / 3))


def findings(plan: BookPlan) -> list[Finding]:
    """What is said, but for dies that are bought once: most books have some, and their own tests below."""
    return [finding for finding in plan.findings if finding.code != "book.first_dies"]


def codes(plan: BookPlan) -> set[str]:
    return {finding.code for finding in findings(plan)}


def hours_by_loops(plan: BookPlan) -> dict[str, float]:
    """Add up what the moved jobs take of each limit, order by order."""
    book, used = plan.book, defaultdict(float)
    rows_of = defaultdict(list)
    for row, job in enumerate(book.jobs.of_row.tolist()):
        rows_of[job].append(row)
    months = book.months()
    for job in np.flatnonzero(plan.selection.on_laser).tolist():
        hours = float(book.laser["hours"][job])
        used["hours of the year"] += hours
        used[f"hours on {book.layer(job).values.get('board.grade')}"] += hours
        for row in rows_of[job]:
            used[f"hours in {months[row]}"] += hours / len(rows_of[job])
    return used


# -- within the limits ------------------------------------------------------------------------------------------------


def test_no_limit_of_year_month_or_board_is_exceeded_but_by_what_must_go(plans):
    """Counted anew from the rows of the file: a plan that does not fit is no plan."""
    for plan in plans:
        used = hours_by_loops(plan)
        assert plan.hours_used == pytest.approx(used["hours of the year"], rel=NEAR)
        must_go = plan.book.pinned == 1
        for capacity in plan.capacities:
            assert capacity.use[plan.selection.on_laser].sum() == pytest.approx(used[capacity.name], rel=NEAR, abs=NEAR)
            if capacity.name in plan.selection.overfull:
                assert not (plan.selection.on_laser & ~must_go & (capacity.use > 0)).any()
            else:
                assert used[capacity.name] <= capacity.limit * (1 + NEAR)


def test_scarce_hours_are_made_use_of(plans):
    """What is within the limits by moving nothing would pass every other test."""
    assert all(plan.hours_used > 0.4 * plan.limits.hours for plan in plans if not plan.limits.by_month)
    assert sum(plan.hours_used > 0.2 * plan.limits.hours and plan.selection.saving > 0 for plan in plans) >= 7


def test_a_plan_of_2000_orders_keeps_to_the_hours_of_year_and_months(scarce):
    used = hours_by_loops(scarce)
    assert scarce.selection.overfull == ()
    assert 0.95 * scarce.limits.hours < used["hours of the year"] <= scarce.limits.hours * (1 + NEAR)
    in_months = {name: hours for name, hours in used.items() if name.startswith("hours in ")}
    assert len(in_months) == len(scarce.capacities) - 1 == 13
    assert max(in_months.values()) <= scarce.limits.hours / 12 * (1 + NEAR)


def test_hours_of_the_months_add_up_to_those_of_the_year(demo):
    """Every order of this book has a day, so no hour may get lost between the months."""
    capacities = job_capacities(demo[0], Limits(100))
    assert sum(c.use for c in capacities[1:]) == pytest.approx(capacities[0].use, rel=NEAR)


def test_an_order_that_comes_twice_in_a_month_counts_twice(orders):
    days = ("2026-02-03", "2026-02-20", "2026-05-04")
    book = evaluate_book(orders(*({**ORDER, "carton": "C", "due": day} for day in days)), PLANT)
    year, *months = job_capacities(book, Limits(100))
    assert [c.name for c in months] == ["hours in 2026-02", "hours in 2026-05"]
    assert [float(c.use[0] / year.use[0]) for c in months] == pytest.approx([2 / 3, 1 / 3], rel=NEAR)


def test_an_order_without_a_day_takes_of_the_year_alone(orders):
    rows = [{**ORDER, "carton": "C", "due": day} for day in ("2026-02-03", "")]
    book = evaluate_book(orders(*rows), PLANT)
    year, month = job_capacities(book, Limits(100))
    assert month.use[0] == pytest.approx(year.use[0] / 2, rel=NEAR)
    (year_alone,) = job_capacities(evaluate_book(orders(rows[1]), PLANT), Limits(100))
    assert year_alone.name == "hours of the year"


@pytest.mark.parametrize("per_year", [4, 0.5])
def test_months_add_up_to_the_year_also_where_a_row_stands_for_several_orders_a_year(orders, per_year):
    """With 4 a year three quarters of the hours are in no month; with 0.5 they are counted twice."""
    rows = [{**ORDER, "carton": "C", "due": day, "orders_per_year": per_year} for day in ("2026-02-03", "2026-05-04")]
    year, *months = job_capacities(evaluate_book(orders(*rows), PLANT), Limits(100))
    assert sum(float(c.use[0]) for c in months) == pytest.approx(float(year.use[0]), rel=NEAR)


def test_months_are_of_a_twelfth_or_of_the_hours_given(twenty):
    limits = {c.limit for c in job_capacities(twenty.book, Limits(120))[1:]}
    assert limits == {10.0}
    assert {c.limit for c in job_capacities(twenty.book, Limits(120, month_hours=7.0))[1:]} == {7.0}
    assert {c.limit for c in job_capacities(twenty.book, Limits(120, month_hours=0.0))[1:]} == {0.0}
    assert len(job_capacities(twenty.book, Limits(120, by_month=False))) == 1


def test_orders_of_a_year_are_the_rows_of_each_job(demo):
    assert orders_per_year(demo[0]) == pytest.approx(np.bincount(demo[0].jobs.of_row), rel=NEAR)


@pytest.mark.parametrize("by_month", [True, False])
def test_a_run_length_that_settings_give_is_planned_like_one_of_the_row(orders, by_month):
    """The book computes such a job; the plan refuses the whole book with "nan of job 0 is no amount"."""
    rows = [{**ORDER, "due": "2026-02-03"}, {**ORDER, "due": "2026-03-03", "run_length": ""}]
    settings = Layer("settings", {"demand.run_length": 800.0})
    plan = plan_book(orders(*rows), PLANT, settings, limits=Limits(100, by_month=by_month))
    assert plan.hours_used == pytest.approx(2 * plan.book.laser_hours[0], rel=NEAR)


@pytest.mark.parametrize("cell", [{}, {"board": ""}], ids=["no column", "an empty cell"])
def test_the_limit_of_a_board_counts_jobs_that_have_it_from_the_settings(orders, cell):
    rows = [{**{n: v for n, v in ORDER.items() if n != "board"}, **cell} for _ in range(3)]
    settings = Layer("settings", {"board.grade": "kraft_300"})
    limits = Limits(100, board_hours={"kraft_300": 1.3})
    plan = plan_book(orders(*rows), PLANT, settings, limits=limits)
    assert np.count_nonzero(plan.selection.on_laser) == 2


# -- more hours -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("by_month", [True, False])
def test_more_hours_never_lower_the_saving(small, by_month):
    for book, cash in small[:5]:
        most = hours_worth_moving(book)
        found = [plan_evaluated(book, cash, Limits(most * share, by_month)) for share in (0, 0.15, 0.4, 0.8, 1.5)]
        assert all(plan.selection.exact for plan in found)
        savings = [plan.selection.saving for plan in found]
        assert all(b >= a - NEAR * abs(a) for a, b in pairwise(savings))
        assert savings[-1] > savings[0]


@pytest.mark.parametrize("by_month", [True, False])
def test_the_value_of_an_hour_is_what_the_bound_gains_by_it(small, by_month):
    """Solved anew with a little more and a little less; the months of a twelfth grow with the year."""
    for book, cash in small:
        hours = 0.3 * hours_worth_moving(book)
        little = 1e-5 * hours
        plan = plan_evaluated(book, cash, Limits(hours, by_month))

        def bound(h: float, book: Book = book) -> float:
            capacities = job_capacities(book, Limits(h, by_month))
            how: dict[str, Any] = {"groups": book.families, "pinned": book.pinned, "movable": book.laser_possible}
            return bound_and_prices(book.saving, capacities, **how).value

        assert book.die_possible.all()
        gain, loss = bound(hours + little) - bound(hours), bound(hours) - bound(hours - little)
        assert plan.hour_value > 0
        assert gain == pytest.approx(plan.hour_value * little, rel=1e-5)
        assert loss == pytest.approx(plan.hour_value * little, rel=1e-5)


def test_months_of_their_own_hours_do_not_grow_with_the_year(small):
    """One more hour a year then is worth its own price alone."""
    book, cash = small[0]
    hours = 0.5 * hours_worth_moving(book)
    plan = plan_evaluated(book, cash, Limits(hours, month_hours=hours / 12))
    assert plan.selection.prices[1:].any()
    assert plan.hour_value == plan.selection.prices[0]


def test_an_hour_is_worth_nothing_where_all_that_saves_has_moved(twenty):
    assert twenty.hour_value == 0
    assert twenty.hours_used < 0.01 * twenty.limits.hours


# -- money, press hours and totals ------------------------------------------------------------------------------------


@pytest.mark.parametrize("costing", ["full", "cash"])
def test_each_job_of_the_book_of_20_saves_what_its_own_comparison_says(twenty, costing):
    book = twenty.book if costing == "full" else twenty.cash
    assert book.costing == costing
    for job in range(len(book)):
        assert book.saving[job] == pytest.approx(saved_alone(book, job, PLANT, costing=costing), rel=NEAR, abs=NEAR)


def test_moved_jobs_of_the_book_of_2000_save_what_their_own_comparisons_say(scarce):
    moved = np.flatnonzero(scarce.selection.on_laser)
    for job in np.random.default_rng(5).choice(moved, 15, replace=False).tolist():
        for book in (scarce.book, scarce.cash):
            alone = saved_alone(book, job, PLANT, costing=book.costing)
            assert book.saving[job] == pytest.approx(alone, rel=NEAR, abs=NEAR)


def assert_totals(plan: BookPlan) -> None:
    """Before and after, and the difference, added up job by job."""
    book, on_laser = plan.book, plan.selection.on_laser.tolist()
    cost, press, line, freed, saved, cash = [0.0, 0.0], [0.0, 0.0], [0.0, 0.0], 0.0, 0.0, 0.0
    co2e, waste = [0.0, 0.0], [0.0, 0.0]
    for job in range(len(book)):
        no_die = bool(book.why_not("die", job)) and not book.why_not("laser", job)
        for when, moved in enumerate((no_die, on_laser[job])):
            route = book.laser if moved else book.die
            cost[when] += route["cost"][job]
            co2e[when] += route["co2e"][job]
            waste[when] += route["waste"][job]
            press[when] += 0.0 if moved else book.die["hours"][job]
            line[when] += book.laser["hours"][job] if moved else 0.0
        if on_laser[job] and not no_die:
            saved += book.die["cost"][job] - book.laser["cost"][job]
            cash += plan.cash.die["cost"][job] - plan.cash.laser["cost"][job]
            freed += book.die["hours"][job]
    for when, totals in enumerate((plan.before, plan.after)):
        assert totals.cost == pytest.approx(cost[when], rel=NEAR)
        assert totals.co2e == pytest.approx(co2e[when], rel=NEAR)
        assert totals.waste == pytest.approx(waste[when], rel=NEAR)
        assert totals.press_hours == pytest.approx(press[when], rel=NEAR, abs=NEAR)
        assert totals.laser_hours == pytest.approx(line[when], rel=NEAR, abs=NEAR)
    tiny = NEAR * cost[0]  # a difference of large sums
    assert plan.before.cost - plan.after.cost == pytest.approx(plan.selection.saving, rel=NEAR, abs=tiny)
    assert plan.selection.saving == pytest.approx(saved, rel=NEAR, abs=NEAR)
    assert plan.cash_saving == pytest.approx(cash, rel=NEAR, abs=NEAR)
    assert plan.after.freed_press_hours - plan.before.freed_press_hours == pytest.approx(freed, rel=NEAR, abs=NEAR)
    assert plan.before.press_hours - plan.after.press_hours == pytest.approx(freed, rel=NEAR, abs=NEAR)
    assert plan.after.laser_hours == pytest.approx(plan.hours_used, rel=NEAR, abs=NEAR)


def test_the_year_before_and_after_adds_up_job_by_job(plans, scarce, twenty):
    for plan in (*plans, scarce, twenty):
        assert_totals(plan)


def test_the_year_adds_up_where_a_job_has_no_die(orders):
    """It is on the laser before and after, saves nothing, and takes its hours; its carton's others go with it."""
    rows = [{**ORDER, "carton": "C", **NO_DIE}, {**ORDER, "carton": "C", "run_length": 700}, ORDER]
    plan = plan_book(orders(*rows), PLANT)
    assert plan.selection.on_laser.all()
    assert plan.before.laser_hours == pytest.approx(plan.book.laser_hours[0], rel=NEAR)
    assert_totals(plan)


def test_the_year_adds_up_where_a_carton_stays_that_has_a_job_without_a_die(orders):
    """Nothing moves and nothing is saved, yet the year after costs 985 more than the one before."""
    rows = [{**ORDER, "carton": "C", **NO_DIE}, {**ORDER, "carton": "C", **NO_LASER}, ORDER]
    plan = plan_book(orders(*rows), PLANT)
    assert plan.selection.on_laser.tolist() == [False, False, True]
    difference = plan.before.cost - plan.after.cost
    assert difference == pytest.approx(plan.selection.saving, rel=1e-6)


def test_no_press_hours_are_freed_of_a_job_that_the_press_can_not_make(orders):
    """It never was on the press; nothing has moved, and 2.3 h are said to be free."""
    plan = plan_book(orders({**ORDER, **NO_DIE}), PLANT)
    assert (plan.before.freed_press_hours, plan.after.freed_press_hours) == (0, 0)


def test_a_plan_at_cash_rates_decides_by_them(twenty):
    plan = plan_book(twenty.book.table, PLANT, costing="cash")
    assert plan.book is plan.cash
    assert plan.cash_saving == plan.selection.saving == pytest.approx(plan.cash.saving_of(plan.selection.on_laser))


def test_the_cash_saving_is_that_of_the_jobs_which_full_rates_move(orders):
    """A job that saves at cash rates alone stays where full rates decide, and brings no cash."""
    rows = [{**ORDER, "run_length": run} for run in range(60_000, 160_000, 10_000)]
    full, at_cash = (plan_book(orders(*rows), PLANT, costing=costing) for costing in ("full", "cash"))
    gained = at_cash.selection.on_laser & ~full.selection.on_laser
    assert gained.any()
    by_loop = sum(full.cash.saving[job] for job in range(10) if full.selection.on_laser[job])
    assert full.cash_saving == pytest.approx(by_loop, rel=NEAR)
    assert full.cash_saving < at_cash.cash_saving


# -- the file ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_the_rows_changes_nothing_but_the_order(orders, seed):
    rng = np.random.default_rng(seed)
    lines = some_cartons(lines_of("orders_2000.csv"), rng, 60)

    def planned(rows: list[dict[str, str]]) -> BookPlan:
        book, cash = both(orders(*rows), PLANT)
        return plan_evaluated(book, cash, Limits(0.3 * hours_worth_moving(book)))

    def by_order(plan: BookPlan, of_job: np.ndarray) -> dict[str, Any]:
        book = plan.book
        return {str(name): of_job[job] for name, job in zip(book.table.order, book.jobs.of_row, strict=True)}

    one, other = planned(lines), planned([lines[k] for k in rng.permutation(len(lines))])
    assert by_order(one, one.selection.on_laser) == by_order(other, other.selection.on_laser)
    assert by_order(one, one.selection.reasons) == by_order(other, other.selection.reasons)
    figures = []
    for p in (one, other):
        rows = [figure for row in (p.before, p.after, p.wait, *p.loads, *p.shifts) for figure in row]
        figures.append([p.selection.saving, p.hours_used, p.hour_value, p.cash_saving, p.investment.npv, *rows])
    assert figures[0] == pytest.approx(figures[1], rel=1e-7)
    for a, b in zip(one.curve, other.curve, strict=True):
        assert a == pytest.approx(b, rel=1e-7, nan_ok=True)  # no curve where pinned jobs take more
    assert [c.name for c in one.capacities] == [c.name for c in other.capacities]
    assert one.findings == other.findings


def test_pins_cartons_and_impossible_routes_of_a_file_are_kept_to(orders):
    long, short = {**ORDER, "run_length": 90_000}, ORDER
    rows = [
        {"order": "pinned to the die", **short, "route": "die"},
        {"order": "pinned to the laser", **long, "orders_per_year": 1, "route": "laser", "length_mm": 80},
        {"order": "no die", **short, **NO_DIE},
        {"order": "no laser", **short, **NO_LASER},
        {"order": "free", **short},
        {"order": "free and too long", **long, "length_mm": 150, "width_mm": 60, "run_length": 900_000},
        {"order": "carton, short", "carton": "A", **short},
        {"order": "carton, no laser", "carton": "A", **short, **NO_LASER},
        {"order": "carton, pinned", "carton": "B", **short, "route": "die"},
        {"order": "carton, with it", "carton": "B", **short, "run_length": 700},
        {"order": "pinned against what can be", **short, **NO_LASER, "route": "laser"},
    ]
    plan = plan_book(orders(*rows), PLANT)
    reasons = dict(zip(plan.book.job_ids(), plan.selection.reasons.tolist(), strict=True))
    assert reasons == {
        "pinned to the die": "pinned_die",
        "pinned to the laser": "pinned_laser",
        "no die": "die_impossible",
        "no laser": "laser_impossible",
        "free": "moves",
        "free and too long": "stays_saves_nothing",
        "carton, short": "stays_with_carton",
        "carton, no laser": "laser_impossible",
        "carton, pinned": "pinned_die",
        "carton, with it": "pinned_die",
        "pinned against what can be": "laser_impossible",
    }
    moved = {name for name, moves in zip(plan.book.job_ids(), plan.selection.on_laser, strict=True) if moves}
    assert moved == {"pinned to the laser", "no die", "free"}


def test_all_orders_of_a_carton_take_one_route(plans, scarce):
    for plan in (*plans, scarce):
        routes = defaultdict(set)
        for carton, moves in zip(plan.book.carton_ids(), plan.selection.on_laser.tolist(), strict=True):
            routes[carton].add(moves)
        assert all(len(taken) == 1 for taken in routes.values())


def test_a_book_of_no_jobs_has_a_plan_of_nothing(orders):
    plan = plan_book(orders({**ORDER, "run_length": "x"}), PLANT)
    assert (plan.hours_used, plan.selection.saving, plan.before.cost, plan.after.cost) == (0, 0, 0, 0)
    assert not plan.curve.saving.any()
    assert [row.wait_h for row in plan.loads] == [0] * len(LOADS)
    assert not plan.investment.pays


# -- whether the line pays --------------------------------------------------------------------------------------------


def net_present_value(
    cash: float, hours: float, tax: float = 0.0, planned: float = 3200.0, share: float = 0.05
) -> float:
    """Sum up year by year what the invented plant's line brings; its figures are typed in again here.

    Its maintenance is 5 % of its price a year; the cash rate has charged the jobs with that of their hours of 3,200.
    """
    purchase, residual, life, interest = 2_100_000.0, 200_000.0, 7, 0.06
    rent = 120 * 6 * 12 + share * purchase * max(0.0, 1 - hours / planned)
    value = -purchase
    for year in range(1, life + 1):
        profit = cash - rent - purchase / life + (residual if year == life else 0.0)
        flow = cash - rent + (residual if year == life else 0.0) - tax * profit
        value += flow / (1 + interest) ** year
    return value


def test_the_line_is_held_against_the_cash_saving_though_full_rates_decide(scarce):
    """Full rates have depreciation, interest and space in them: it would be paid for twice."""
    cash = 0.0
    for job in np.flatnonzero(scarce.selection.on_laser).tolist():
        cash += scarce.cash.die["cost"][job] - scarce.cash.laser["cost"][job]
    assert scarce.book.costing == "full"
    assert scarce.investment.yearly_saving == pytest.approx(cash, rel=NEAR)
    assert abs(scarce.investment.yearly_saving - scarce.selection.saving) > 0.01 * cash
    assert scarce.investment.npv == pytest.approx(net_present_value(cash, scarce.hours_used), rel=NEAR)


def test_tax_is_passed_through(scarce):
    plan = plan_book(scarce.book.table, PLANT, tax_pa=0.3)
    assert plan.investment.investment.tax_pa == 0.3
    assert plan.investment.npv == pytest.approx(net_present_value(plan.cash_saving, plan.hours_used, 0.3), rel=NEAR)
    assert [row.npv for row in plan.shifts] == pytest.approx(
        [net_present_value(row.saving, row.used, 0.3) for row in plan.shifts], rel=NEAR
    )


def test_without_a_purchase_price_there_is_no_case_and_it_is_said(orders):
    rates = Layer("plant", {"rates.laser_h": 200.0, "rates.laser_cash_h": 30.0})
    plan = plan_book(orders(ORDER), rates)
    assert plan.investment is None
    (finding,) = findings(plan)
    assert (finding.code, finding.where) == ("book.no_purchase_price", "line_capital.purchase")
    assert "line_capital.purchase" in finding.message
    assert all(row.npv is None for row in plan.shifts)
    assert [row.saving for row in plan.shifts] == pytest.approx([plan.cash_saving] * 3)


def test_with_a_purchase_price_nothing_is_said_about_it(twenty):
    assert findings(twenty) == []
    assert twenty.investment is not None


def test_the_hours_of_the_line_are_the_limit_where_none_is_given(orders):
    plan = plan_book(orders(ORDER), PLANT, Layer("settings", {"line_capital.hours_y": 2500.0}))
    assert plan.limits == Limits(2500.0)


def test_shifts_are_of_eight_hours_of_those_the_line_works_a_day(orders):
    """3,200 h a year in 16 h a day are 1,600 h for each shift."""
    table = orders(ORDER)
    assert [(r.shifts, r.hours) for r in plan_book(table, PLANT).shifts] == [(1, 1600), (2, 3200), (3, 4800)]
    settings = Layer("settings", {"laser.hours_per_day": 24.0, "line_capital.hours_y": 5400.0})
    assert [r.hours for r in plan_book(table, PLANT, settings).shifts] == pytest.approx([1800, 3600, 5400], rel=NEAR)


def test_shifts_are_worth_the_sum_of_what_they_bring(demo):
    """On a line of so few hours that one, two and three shifts differ."""
    few = Layer("settings", {"line_capital.hours_y": 400.0, "line_capital.maintenance_share": 0.00625})
    plan = plan_evaluated(*both(demo[0].table, PLANT, few), Limits(400.0, by_month=False))
    savings = [row.saving for row in plan.shifts]
    assert savings == sorted(set(savings))
    worth = [net_present_value(row.saving, row.used, planned=400.0, share=0.00625) for row in plan.shifts]
    assert [row.npv for row in plan.shifts] == pytest.approx(worth, rel=NEAR)


def test_shifts_with_hours_enough_save_what_the_plan_does(orders):
    """Without pins and at cash rates both are the jobs that save."""
    plan = plan_book(orders(ORDER, {**ORDER, "run_length": 5000}), PLANT, costing="cash")
    assert plan.investment.yearly_saving > 0
    assert [row.saving for row in plan.shifts] == pytest.approx([plan.investment.yearly_saving] * 3, rel=NEAR)
    assert [row.npv for row in plan.shifts] == pytest.approx([plan.investment.npv] * 3, rel=NEAR)


@pytest.mark.parametrize("row", [{"route": "die"}, {"run_length": 2_000_000, "route": "laser"}], ids=["die", "laser"])
def test_shifts_keep_pinned_jobs_where_they_are(orders, row):
    """Else the same jobs in the same hours are worth one amount as the plan and another as its shifts."""
    plan = plan_book(orders({**ORDER, "route": ""}, {**ORDER, **row}), PLANT, costing="cash", limits=ALL)
    assert plan.shifts[-1].saving == pytest.approx(plan.investment.yearly_saving, rel=NEAR)


# -- load and wait ----------------------------------------------------------------------------------------------------


def test_the_wait_is_that_of_lots_counted_one_by_one(scarce):
    """Kingman 1961, `u / (1 - u) (ca2 + ce2) / 2 te`, with arrivals at random (ca2 = 1); worked out again here."""
    book, jobs = scarce.book, scarce.book.jobs.of_row
    moved = [job for job in jobs.tolist() if scarce.selection.on_laser[job]]
    lots = [book.laser_hours[job] / np.count_nonzero(jobs == job) for job in moved]
    load, mean = sum(lots) / scarce.limits.hours, float(np.mean(lots))
    expected = load / (1 - load) * (1 + float(np.var(lots)) / mean**2) / 2 * mean
    assert scarce.wait.load == pytest.approx(load, rel=NEAR)
    assert scarce.wait.service_h == pytest.approx(mean, rel=NEAR)
    assert scarce.wait.wait_h == pytest.approx(expected, rel=1e-6)


def test_a_larger_load_saves_no_less_and_waits_longer_where_hours_are_scarce(scarce):
    assert [row.load for row in scarce.loads] == list(LOADS) == sorted(LOADS)
    savings, waits = [row.saving for row in scarce.loads], [row.wait_h for row in scarce.loads]
    assert savings == sorted(set(savings))
    assert waits == sorted(set(waits))
    for row in scarce.loads:
        assert 0.95 * row.load < row.hours / scarce.limits.hours <= row.load * (1 + NEAR)


def test_a_larger_load_never_saves_less_within_months_and_boards(plans):
    for plan in plans:
        savings = [row.saving for row in plan.loads]
        assert all(b >= a - NEAR * abs(a) for a, b in pairwise(savings))


def test_the_full_load_is_the_plan(plans):
    for plan in plans:
        row = plan.loads[LOADS.index(1.0)]
        assert (row.saving, row.hours) == (plan.selection.saving, plan.hours_used)
        assert row.wait_h == plan.wait.wait_h


def test_a_line_that_nothing_is_on_lets_nobody_wait(orders):
    plan = plan_book(orders({**ORDER, "route": "die"}), PLANT)
    assert tuple(plan.wait) == (0, 0, 0, 0)


def test_jobs_on_a_line_of_no_hours_wait_without_end(orders):
    plan = plan_book(orders({**ORDER, **NO_DIE}), PLANT, limits=Limits(0.0))
    assert plan.hours_used > 0
    assert plan.wait.wait_h == float("inf")


# -- what must be said ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("last", "said"), [("2027-01-02", False), ("2027-01-03", True)])
@pytest.mark.parametrize("column", ["ordered", "due"])
def test_orders_of_more_than_a_year_are_said_to_be_counted_as_one(orders, column, last, said):
    """366 days apart is a year with a leap day; 367 are too many."""
    plan = plan_book(orders({**ORDER, column: "2026-01-01"}, {**ORDER, column: last}), PLANT)
    assert codes(plan) == ({"book.longer_than_a_year"} if said else set())
    for finding in findings(plan):
        assert "2026-01-01" in finding.message
        assert last in finding.message
        assert finding.kind == "caution"


def test_a_book_without_days_is_not_said_to_be_too_long(orders):
    assert codes(plan_book(orders(ORDER), PLANT)) == set()


def test_due_days_are_looked_at_where_the_column_of_ordered_days_is_empty(orders):
    plan = plan_book(orders(*({**ORDER, "ordered": "", "due": day} for day in ("2026-01-01", "2029-01-01"))), PLANT)
    assert codes(plan) == {"book.longer_than_a_year"}


def test_what_must_go_and_does_not_fit_is_named(orders):
    """By its limit, and beside it nothing else moves that would take of it."""
    rows = [
        {**ORDER, "due": "2026-02-03", "route": route, "length_mm": 75 + k} for k, route in enumerate(["laser", ""])
    ]
    plan = plan_book(orders(*rows), PLANT, limits=Limits(0.5))
    assert plan.selection.on_laser.tolist() == [True, False]
    assert codes(plan) == {"book.overfull", "book.load"}
    (finding,) = (f for f in plan.findings if f.code == "book.overfull")
    assert "hours of the year, hours in 2026-02" in finding.message
    assert finding.kind == "caution"
    enough = plan_book(orders(*rows), PLANT, limits=Limits(100))
    assert codes(enough) == set()


@pytest.mark.parametrize(("load", "said"), [(0.86, True), (0.84, False)])
def test_a_load_above_the_cap_is_said(orders, load, said):
    """85 % is what may be planned for at most (see compare.decide.queueing)."""
    table = orders(ORDER)
    hours = float(evaluate_book(table, PLANT).laser_hours[0])
    plan = plan_book(table, PLANT, limits=Limits(hours / load, by_month=False))
    assert codes(plan) == ({"book.load"} if said else set())
    for finding in findings(plan):
        assert "86 %" in finding.message
        assert "above 85 %" in finding.message


# -- saving against hours ---------------------------------------------------------------------------------------------


def unpinned(table: OrderTable) -> OrderTable:
    return replace(table, route=Words(np.full(len(table), -1, dtype=np.int32), ()))


def test_the_curve_ends_at_what_is_saved_without_any_limit(twenty, demo):
    for table in (twenty.book.table, demo[0].table):
        plan = plan_book(unpinned(table), PLANT)
        best = plan_evaluated(plan.book, plan.cash, ALL).selection.saving
        assert plan.curve.saving[-1] == pytest.approx(best, rel=NEAR)
        assert plan.curve_hours[-1] == plan.limits.hours
        assert plan.curve_hours[0] == 0 == plan.curve.saving[0]


def test_the_curve_ends_there_also_where_hours_are_short(orders):
    plan = plan_book(orders(*({**ORDER, "run_length": 500 + 50 * k} for k in range(6))), PLANT, limits=Limits(1.0))
    assert plan.curve.saving[-1] == pytest.approx(plan.book.saving.sum(), rel=NEAR)
    assert plan.curve_hours[-1] > plan.limits.hours


def test_the_curve_has_room_for_the_whole_of_a_carton_that_saves(orders):
    """A job that costs more by itself goes with a carton that saves, and takes its hours."""
    rows = [{**ORDER, "carton": "C", "run_length": run, "due": f"2026-0{k}-01"} for k, run in ((1, 800), (2, 50_000))]
    book, cash = both(orders(*rows), PLANT)
    assert book.saving.min() < 0 < book.saving.sum()
    plan = plan_evaluated(book, cash, Limits(0.1))
    assert plan.curve.saving[-1] == pytest.approx(plan_evaluated(book, cash, ALL).selection.saving, rel=NEAR)


def test_the_curve_never_falls_and_stays_below_its_bound(plans, scarce):
    for plan in (*plans, scarce):
        curve = plan.curve
        assert (np.diff(plan.curve_hours) > 0).all()
        saving, bound, price = (values[~np.isnan(curve.saving)] for values in (curve.saving, curve.bound, curve.price))
        assert (np.diff(saving) >= 0).all()
        assert (bound >= saving - NEAR * np.abs(saving)).all()
        assert (np.diff(price) <= NEAR * price.max()).all()  # each hour is worth no more than the last


def test_the_curve_is_the_plan_of_each_of_its_hours_but_for_one_carton(small):
    """Without pins and months. The plan is the best, so above the curve, by less than a carton that does not fit."""
    for book, cash in small[:4]:
        free = evaluate_book(unpinned(book.table), PLANT)
        shown = plan_evaluated(free, cash, Limits(1.0, by_month=False))
        largest = np.bincount(free.families, weights=np.maximum(free.saving, 0)).max()
        for k in (10, 25, 50, 90):
            plan = plan_evaluated(free, cash, Limits(float(shown.curve_hours[k]), by_month=False))
            assert plan.selection.exact
            assert plan.selection.saving >= shown.curve.saving[k] * (1 - NEAR)
            assert plan.selection.saving <= shown.curve.bound[k] * (1 + NEAR)
            assert plan.selection.saving - shown.curve.saving[k] < largest


def test_the_curve_does_not_move_what_is_pinned_to_the_die(demo):
    """At the plan's own hours, more than enough, it shows 580,665 and the plan, proven the best, 560,337."""
    plan = plan_evaluated(*demo, Limits(3200.0, by_month=False))
    assert plan.selection.exact
    assert plan.curve.saving[-1] == pytest.approx(plan.selection.saving, rel=NEAR)


def test_the_curve_leaves_the_hours_of_what_must_go(orders):
    """A job without a die takes the line first; what is saved in these hours by another is not there to be had."""
    rows = [{**ORDER, **NO_DIE, "run_length": 20_000}, ORDER]
    book, cash = both(orders(*rows), PLANT)
    hours = float(book.laser_hours[0]) * 1.01
    plan = plan_evaluated(book, cash, Limits(hours, by_month=False))
    assert plan.selection.overfull == ()
    assert plan.selection.on_laser.tolist() == [True, False]
    shown = plan.curve.saving[plan.curve_hours <= hours * (1 + NEAR)][-1]
    assert shown <= plan.selection.bound + NEAR


# -- limits that can't be ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("hours", [-1.0, float("nan"), float("inf")])
@pytest.mark.parametrize("which", ["hours", "month_hours"])
def test_hours_that_can_not_be_are_refused_in_one_line(which, hours):
    with pytest.raises(InputError) as caught:
        Limits(**({"hours": 100.0} | {which: hours}))
    what = "hours of a month" if which == "month_hours" else "hours"
    assert str(caught.value) == f"limits: {what} can't be {hours:g}; give hours of 0 or more"


@pytest.mark.parametrize("hours", [-1.0, float("nan")])
def test_hours_of_a_board_that_can_not_be_are_refused_in_one_line(orders, hours):
    limits = Limits(100, board_hours={"solid_bleached_300": hours})
    with pytest.raises(InputError) as caught:
        plan_book(orders(ORDER), PLANT, limits=limits)
    assert str(caught.value) == f"'hours on solid_bleached_300': a limit of {hours}; it must be 0 or more"


def test_a_board_that_no_order_has_is_refused_in_one_line(orders):
    with pytest.raises(InputError) as caught:
        plan_book(orders(ORDER), PLANT, limits=Limits(100, board_hours={"kraft_300": 5.0}))
    assert str(caught.value) == "limits: no order is of board 'kraft_300'; give a board grade of the book"


@pytest.mark.parametrize("tax", [-0.1, 1.0, float("nan")])
def test_a_tax_that_can_not_be_is_refused(orders, tax):
    with pytest.raises(InputError, match="tax_pa"):
        plan_book(orders(ORDER), PLANT, tax_pa=tax)


def test_a_job_that_neither_route_can_make_is_in_no_total(orders):
    """It is not made: its cost on paper is not a cost of the year."""
    impossible = {**ORDER, **NO_DIE, "laminate": "pvc"}
    alone = plan_book(orders(impossible), PLANT)
    assert alone.selection.reasons.tolist() == ["impossible"]
    assert alone.before == alone.after == (0.0,) * 6


# -- dies that are bought once, and jobs off their route --------------------------------------------------------------


def test_first_dies_are_told_apart_from_what_is_saved_every_year(orders):
    """By hand: the die of this order costs its set and nothing else once; owned, it is not bought."""
    plan = plan_book(orders(ORDER), PLANT)
    owned = plan_book(orders({**ORDER, "die_owned": 1}), PLANT)
    first = float(plan.cash.die["cost"][0] - owned.cash.die["cost"][0])
    assert first > 300
    (finding,) = (f for f in plan.findings if f.code == "book.first_dies")
    assert f"counts {first:,.0f} EUR for first dies of 1 new carton." in finding.message
    assert plan.settled_saving == pytest.approx(max(float(owned.cash.saving[0]), 0.0))
    worth = plan.investment.investment.npv(plan.settled_saving)
    assert f"would not pay (net present value {worth:,.0f} EUR)" in finding.message


def test_dies_that_are_there_are_not_spoken_of(orders):
    plan = plan_book(orders({**ORDER, "die_owned": 1}), PLANT)
    assert "book.first_dies" not in {finding.code for finding in plan.findings}


def test_a_settled_year_has_the_same_jobs_also_where_orders_differ_in_owned_alone(orders):
    """Rows that are alike but for their die are jobs of their own; they must stay so to be set side by side."""
    rows = [{**ORDER, "carton": "A", "die_owned": owned} for owned in (1, "", "")]
    plan = plan_book(orders(*rows), PLANT)
    assert len(plan.cash.settled) == len(plan.cash)
    assert (plan.cash.settled.die["cost"] <= plan.cash.die["cost"]).all()
    assert plan.cash.settled.laser["cost"].tolist() == plan.cash.laser["cost"].tolist()


def test_jobs_that_nobody_can_make_are_named(orders):
    plan = plan_book(orders({**ORDER, **NO_DIE, **NO_LASER, "order": "X9"}, {**ORDER, "order": "X10"}), PLANT)
    (finding,) = (f for f in plan.findings if f.code == "book.impossible")
    assert finding.message.startswith("1 job (X9): ")
    assert finding.kind == "caution"


@pytest.mark.parametrize(("route", "cannot", "goes"), [("laser", NO_LASER, "die"), ("die", NO_DIE, "laser")])
def test_a_pin_that_cannot_hold_is_named(orders, route, cannot, goes):
    plan = plan_book(orders({**ORDER, **cannot, "route": route, "order": "P1"}), PLANT)
    (finding,) = (f for f in plan.findings if f.code == "book.pinned_impossible")
    assert "(P1)" in finding.message
    assert finding.message.endswith(f"planned on the {goes}.")
    assert plan.selection.on_laser.tolist() == [goes == "laser"]


def test_a_settled_year_that_costs_more_is_not_called_a_saving(orders):
    """A job that is pinned to the laser stays there, though its die is there and the die is cheaper then."""
    plan = plan_book(orders({**ORDER, "run_length": 20_000, "route": "laser"}), PLANT)
    assert plan.settled_saving < 0
    (finding,) = (f for f in plan.findings if f.code == "book.first_dies")
    assert f"would cost about {-plan.settled_saving:,.0f} EUR a year more" in finding.message
