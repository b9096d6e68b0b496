"""The order book in one pass: each row as if it were compared by itself, and no row lost."""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from compare import Comparison, Layer, compare, prepare, read_file
from compare.assumptions import assumption_table
from compare.boards import boards
from compare.decide import order_book
from compare.decide.order_book import DIE_REASONS, LASER_REASONS, MEASURES, Book, evaluate_book
from compare.decide.order_inputs import JOB_GROUPS
from compare.errors import EvenrunError, InputError
from compare.geometry.styles import STYLES
from compare.readers.orderbook import OrderTable, read_orders
from compare.routes.limits import die_limits, laser_limits
from tests.conftest import DATA
from tests.random_jobs import FEW, job_values

PLANT = read_file(DATA / "plants" / "northfold.toml", kind="plant")
NOT_BY_ROW = ("demand.holding_share",)

GOOD = {
    "run_length": 5000, "style": "reverse_tuck_end", "length_mm": 75, "width_mm": 40, "height_mm": 120,
    "board": "solid_bleached_300", "sheet_width_mm": 1020, "sheet_length_mm": 720,
}  # fmt: skip
LENGTHS = {
    "run_length": 5000, "blank_area_m2": 0.03, "cutting_m": 1.4, "creasing_m": 0.9, "nicks": 8, "bends": 20, "strokes": 3,
    "corner_load": 14, "ups_die": 8, "ups_laser": 8, "grammage_g_m2": 290, "caliper_mm": 0.41, "sheet_width_mm": 1020,
    "sheet_length_mm": 720,
}  # fmt: skip
ESTIMATED = Layer("test", {"laser.path": "estimated"})
"""A book plans no path, so a job of it is held against an estimate."""


@pytest.fixture(scope="module")
def table(tmp_path_factory) -> Callable[..., OrderTable]:
    """Read rows, each a dictionary of heading to cell, as an order book."""
    folder, numbers = tmp_path_factory.mktemp("books"), itertools.count()

    def read(*rows: dict[str, Any], **how: Any) -> OrderTable:
        path: Path = folder / f"orders{next(numbers)}.csv"
        out = io.StringIO()
        writer = csv.DictWriter(out, list(dict.fromkeys(name for row in rows for name in row)))
        writer.writeheader()
        writer.writerows(rows)
        path.write_text(out.getvalue(), encoding="utf-8")
        return read_orders(path, decimal=".", **how)

    return read


@pytest.fixture(scope="module")
def demo() -> OrderTable:
    return read_orders(DATA / "demo" / "orders_2000.csv")


def alone(book: Book, job: int, *layers: Layer, costing: str = "full") -> Comparison:
    return compare(prepare(*layers, book.layer(job)), costing)


def assert_like_alone(book: Book, job: int, comparison: Comparison) -> None:
    """Every figure of a job in the book is that of its comparison, to a billionth."""
    years = float(np.broadcast_to(book.jobs.years, (len(book),))[job])
    for name, amounts in (("die", book.die), ("laser", book.laser)):
        route = comparison.route(name)
        expected = {
            "cost": sum(route.money),
            "co2e": sum(route.co2e),
            "waste": route.balance.waste,
            "hours": route.inventory.machine_hours,
        }
        assert {m: amounts[m][job] * years for m in MEASURES} == pytest.approx(expected, rel=1e-9, abs=1e-9)
        reasons = tuple(f.code for f in route.findings if f.kind == "not possible")
        assert book.why_not(name, job) == reasons
    assert book.ganged[job] == (comparison.die.inventory.strategy == "ganged")
    assert book.cartons[job] * years == pytest.approx(float(comparison.die.inventory.cartons), rel=1e-12)


# -- each row as if it were alone -------------------------------------------------------------------------------------


@st.composite
def books(draw: st.DrawFn) -> tuple[Layer, list[dict[str, Any]]]:
    """Draw a plant and orders: styles and lengths, boards by name and their own, limits, versions, shared lines."""
    drawn = draw(st.lists(job_values(), min_size=1, max_size=6))
    table = assumption_table()
    plant: dict[str, Any] = {}
    rows = []
    for values in drawn:
        plant |= {n: v for n, v in values.items() if not n.startswith(JOB_GROUPS) or n in NOT_BY_ROW}
        row = {n: v for n, v in values.items() if n.startswith(JOB_GROUPS) and n not in NOT_BY_ROW}
        row["board.laminate"] = draw(st.sampled_from(["", "pet", "pvc", "pvdc"]))
        row["sheet.grain"] = draw(st.sampled_from(["", "any", "width", "length"]))
        if draw(st.booleans()):
            row |= {"work.smallest_gap_mm": draw(st.sampled_from([1.0, 3.0])), "work.smallest_radius_mm": 0.4}
        if "carton.style" in row and draw(st.booleans()):
            row |= {"cutouts.count": 2.0, "cutouts.length_mm": 40.0, "cutouts.corners": 4.0, "cutouts.area_mm2": 90.0}
        rows.append(row)
    for name in draw(st.sets(st.sampled_from(["sheet.gripper_mm", "carton.flap_taper_mm", "demand.years"]))):
        plant[name] = {"sheet.gripper_mm": 14.0, "carton.flap_taper_mm": 0.0, "demand.years": 3.0}[name]
    assert set(plant) <= set(table)
    return Layer("random plant", plant), rows


@FEW
@given(drawn=books(), costing=st.sampled_from(["full", "cash"]))
def test_each_row_of_a_book_is_what_its_own_comparison_says(table, drawn, costing):
    """Columns and single jobs share the engine but not the way into it; this is what holds them together."""
    plant, rows = drawn
    orders = table(*rows)
    book = evaluate_book(orders, plant, costing=costing)
    for index in range(len(orders)):
        job = int(book.jobs.of_row[index])
        try:
            comparison = compare(prepare(plant, orders.layer(index), ESTIMATED), costing)
        except EvenrunError:
            comparison = None
        assert (job < 0) == (comparison is None), book.findings
        if comparison is None:
            assert any(f.row in (orders.row[index], None) and f.waits for f in book.findings)
        else:
            assert_like_alone(book, job, comparison)


@pytest.mark.parametrize("costing", ["full", "cash"])
def test_jobs_of_the_invented_book_are_what_their_comparisons_say(demo, costing):
    """Repeated and shared ones among them, as the jobs they became."""
    book = evaluate_book(demo, PLANT, costing=costing)
    for job in np.random.default_rng(7).choice(len(book), 60, replace=False).tolist():
        assert_like_alone(book, job, alone(book, job, PLANT, costing=costing))


def test_every_style_and_every_board_is_computed(table):
    sizes = {"length_mm": 90, "width_mm": 45, "height_mm": 60}
    rows = [{**GOOD, **sizes, "style": s, "board": b} for s in STYLES for b in boards()]
    book = evaluate_book(table(*rows), PLANT)
    assert len(book) == len(rows)
    for job in range(0, len(rows), 5):
        assert_like_alone(book, job, alone(book, job, PLANT))


def test_a_job_that_layers_give_in_part_is_completed_by_its_row(table):
    """Sheet and board may stand once in the plant file; what a row gives stands before them."""
    house = Layer("house", {"sheet.width_mm": 1020.0, "sheet.length_mm": 720.0, "board.grade": "recycled_350"})
    short = {n: v for n, v in GOOD.items() if not n.startswith(("sheet", "board"))}
    book = evaluate_book(table(short, {**short, "board": "kraft_300"}, {**short, "grammage_g_m2": 333}), PLANT, house)
    for job in range(3):
        assert_like_alone(book, job, alone(book, job, PLANT, house))


def test_country_and_factors_are_those_of_the_plant(table):
    orders = table(GOOD, LENGTHS)
    abroad = Layer("abroad", {"plant.country": "SE", "factors.board_kg": 0.9})
    home, away = evaluate_book(orders, PLANT), evaluate_book(orders, PLANT, abroad)
    assert_like_alone(away, 0, alone(away, 0, PLANT, abroad))
    assert not np.any(home.die["co2e"] == away.die["co2e"])
    np.testing.assert_array_equal(home.die["cost"], away.die["cost"])


def test_every_reason_against_a_route_has_its_bit(plain):
    """A new limit without a bit would make an impossible job look possible."""
    x = plain({"work.smallest_gap_mm": 1.0, "work.smallest_radius_mm": 1.0}).inputs
    assert {limit.code for limit in die_limits(x)} == set(DIE_REASONS)
    assert {limit.code for limit in laser_limits(x)} == set(LASER_REASONS)


def test_a_route_that_is_not_possible_says_why(table):
    book = evaluate_book(
        table({**GOOD, "laminate": "pvc"}, {**LENGTHS, "varnish_release_m": 0.2, "caliper_mm": 0.9}), PLANT
    )
    assert (book.why_not("die", 0), book.why_not("laser", 0)) == ((), ("laser.halogen",))
    assert (book.why_not("die", 1), book.why_not("laser", 1)) == (("die.varnish_release",), ("laser.caliper",))
    assert book.die_possible.tolist() == [True, False]
    assert book.laser_possible.tolist() == [False, False]


def test_amounts_are_per_year(table):
    """Two years of four orders a year are eight orders, halved."""
    book = evaluate_book(table({**GOOD, "orders_per_year": 4, "years": 2}), PLANT)
    comparison = alone(book, 0, PLANT)
    assert book.cartons[0] == 4 * 5000
    assert book.laser["cost"][0] == pytest.approx(sum(comparison.laser.money) / 2, rel=1e-12)


# -- repeated orders --------------------------------------------------------------------------------------------------


def test_equal_orders_of_a_carton_are_one_job_of_several_orders(table):
    """What a program of N orders costs is what N rows cost that say the same."""
    book = evaluate_book(table(*[{"carton": "C1", **GOOD}] * 3, {"carton": "C2", **GOOD}), PLANT)
    assert book.jobs.of_row.tolist() == [0, 0, 0, 1]
    assert book.jobs.orders.tolist() == [3, 1]
    whole = evaluate_book(table({**GOOD, "orders_per_year": 3}), PLANT)
    assert book.die["cost"][0] == pytest.approx(whole.die["cost"][0], rel=1e-12)
    assert book.laser["hours"][0] == pytest.approx(whole.laser["hours"][0], rel=1e-12)


def test_orders_without_a_carton_are_cartons_of_their_own(table):
    book = evaluate_book(table(GOOD, GOOD, {"carton": "", **GOOD}), PLANT)
    assert book.families.tolist() == [0, 1, 2]
    assert book.carton_ids() == ["row 2", "row 3", "row 4"]


def test_unlike_orders_of_a_carton_share_one_set_of_tools(table):
    """Runs that differ stay orders of their own length; the die is bought and stored once for all of them."""
    runs = (4000, 9000, 26_000)
    rows = [{"carton": "C1", "due": f"2026-0{k}-01", **GOOD, "run_length": run} for k, run in enumerate(runs, start=2)]
    book = evaluate_book(table(*rows), PLANT)
    results = [alone(book, job, PLANT).die.inventory for job in range(3)]
    assert [r.quantity("tool set") for r in results] == [1, 0, 0]
    assert sum(r.quantity("tool storage") for r in results) == pytest.approx(1, rel=1e-12)
    assert [float(r.counts["orders"]) for r in results] == pytest.approx([1, 1, 1], rel=1e-12)
    assert [float(r.cartons) for r in results] == pytest.approx(runs, rel=1e-12)


def test_a_changing_structure_is_paid_once_for_unlike_orders(table):
    """Two changes a year are two sets more for the carton, however many of its orders differ."""
    rows = [{"carton": "C1", **GOOD, "run_length": run, "changes_per_year": 2} for run in (4000, 9000)]
    book = evaluate_book(table(*rows), PLANT)
    sets = sum(float(alone(book, job, PLANT).die.inventory.quantity("tool set")) for job in range(2))
    assert sets == pytest.approx(1 + 2, rel=1e-12)


def test_unlike_orders_add_up_to_the_mean_run_but_for_whole_sheets(table):
    """Two orders of 4,000 and 6,000 cost about what two of 5,000 do; what is left is sheets that are counted whole."""
    ups = {"ups_die": 10, "ups_laser": 10}
    unlike = evaluate_book(table(*[{"carton": "C1", **LENGTHS, **ups, "run_length": r} for r in (4000, 6000)]), PLANT)
    mean = evaluate_book(table({**LENGTHS, **ups, "orders_per_year": 2, "run_length": 5000}), PLANT)
    for measure in MEASURES:
        assert unlike.die[measure].sum() == pytest.approx(mean.die[measure][0], rel=1e-9)
        assert unlike.laser[measure].sum() == pytest.approx(mean.laser[measure][0], rel=1e-9)


def test_tools_that_are_owned_are_paid_by_nobody(table):
    rows = [{"carton": "C1", **GOOD, "run_length": run, "die_owned": 1} for run in (4000, 9000)]
    book = evaluate_book(table(*rows), PLANT)
    assert [alone(book, job, PLANT).die.inventory.quantity("tool set") for job in range(2)] == [0, 0]


def test_the_order_that_is_due_first_pays_for_the_tools(table):
    rows = [
        {"carton": "C1", "due": due, **GOOD, "run_length": r} for due, r in (("2026-05-01", 9000), ("2026-02-01", 4000))
    ]
    book = evaluate_book(table(*rows), PLANT)
    assert book.jobs.numbers["tooling.owned"].tolist() == [1, 0]


def test_orders_on_another_sheet_have_tools_of_their_own_and_a_remark(table):
    rows = [{"carton": "C1", **GOOD}, {"carton": "C1", **GOOD, "sheet_width_mm": 900}]
    book = evaluate_book(table(*rows), PLANT)
    assert book.jobs.numbers["tooling.owned"].tolist() == [0, 0]
    (remark,) = book.findings
    assert (remark.code, remark.waits, remark.row, remark.value) == ("book.carton_differs", False, 3, "C1")
    assert book.families.tolist() == [0, 0]


def test_an_order_that_can_not_be_computed_leaves_the_tools_to_the_next(table):
    """Else a carton would be made with a die that nobody paid for."""
    rows = [
        {"carton": "C1", "due": "2026-02-01", **GOOD, "run_length": 3, "versions": 5},
        {"carton": "C1", "due": "2026-03-01", **GOOD, "run_length": 4000, "versions": 5},
        {"carton": "C1", "due": "2026-04-01", **GOOD, "run_length": 5000, "versions": 5},
    ]
    book = evaluate_book(table(*rows), PLANT)
    assert book.jobs.of_row.tolist() == [-1, 0, 1]
    assert book.jobs.numbers["tooling.owned"].tolist() == [0, 1]


def test_the_order_of_rows_changes_nothing(demo):
    """A book is a set of orders; sorting the file must not move money from one carton to another."""
    book = evaluate_book(demo, PLANT)
    rank = np.random.default_rng(3).permutation(len(demo))
    shuffled = _permuted(demo, rank)
    again = evaluate_book(shuffled, PLANT)

    def by_order(b: Book, amounts: np.ndarray) -> dict[str, float]:
        return {str(name): float(amounts[job]) for name, job in zip(b.table.order, b.jobs.of_row, strict=True)}

    for measure in MEASURES:
        assert by_order(book, book.die[measure]) == by_order(again, again.die[measure])
        assert by_order(book, book.laser[measure]) == by_order(again, again.laser[measure])


def _permuted(table: OrderTable, rank: np.ndarray) -> OrderTable:
    from dataclasses import replace

    from compare.readers.orderbook_words import Words

    def moved(words: Words) -> Words:
        names = tuple(reversed(words.names))  # words come in another order too
        codes = np.where(words.codes < 0, -1, len(names) - 1 - words.codes)
        return Words(codes[rank].astype(np.int32), names)

    return replace(
        table,
        order=table.order[rank],
        carton=moved(table.carton),
        numbers={n: v[rank] for n, v in table.numbers.items()},
        texts={n: moved(w) for n, w in table.texts.items()},
        ordered=table.ordered[rank],
        due=table.due[rank],
        route=moved(table.route),
    )


# -- what is missing or wrong -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "code", "column"),
    [
        ({"run_length": ""}, "book.missing_value", "run_length"),
        ({"board": ""}, "book.missing_value", "grammage_g_m2"),
        ({"style": ""}, "book.missing_value", "blank_area_m2"),
        ({"height_mm": ""}, "book.missing_value", "height_mm"),
        ({"sheet_length_mm": ""}, "book.missing_value", "sheet_length_mm"),
        ({"height_mm": 5}, "book.no_room", "height_mm"),
        ({"height_mm": 1200}, "book.too_small", "sheet_width_mm"),
        ({"ups_die": 400}, "book.sheet_area", "ups_die"),
        ({"run_length": 3, "versions": 5}, "book.versions", "versions"),
        ({"versions": 2, "crease_versions": 3}, "book.crease_versions", "crease_versions"),
        ({"cutouts": 1}, "book.missing_value", "cutout_length_mm"),
        ({"cutouts": 1, "cutout_length_mm": 40, "cutout_area_mm2": 1e6}, "book.cutouts", "cutout_area_mm2"),
        ({"layout.shared_die_m": 9}, "book.shared", "cutting_m"),
    ],
)
def test_a_job_that_can_not_be_computed_is_named_with_row_column_and_remedy(table, change, code, column):
    """Good rows around it are computed meanwhile; a job by itself is refused for the same reason."""
    orders = table(GOOD, {**GOOD, **change}, GOOD)
    book = evaluate_book(orders, PLANT)
    (found,) = [f for f in book.findings if f.waits]  # a height of 5 mm is noted as unlikely, too
    assert (found.code, found.row, found.column, found.waits) == (code, 3, column, True)
    assert found.message
    assert found.remedy
    assert book.jobs.of_row.tolist() == [0, -1, 1]
    with pytest.raises(EvenrunError):
        prepare(PLANT, orders.layer(1), ESTIMATED)


def test_a_column_that_no_row_and_no_plant_gives_is_named_once(table):
    rows = [{n: v for n, v in GOOD.items() if not n.startswith("sheet")}] * 3
    book = evaluate_book(table(*rows), PLANT)
    (found,) = book.findings
    assert (found.code, found.row, found.column) == ("book.missing_column", None, "sheet_width_mm")
    assert "sheet_length_mm" in found.message
    assert "add the columns sheet_width_mm, sheet_length_mm" in found.remedy
    assert (book.rows_in, book.rows_computed) == (3, 0)


def test_other_faults_are_named_beside_a_missing_column(table):
    """All findings at once: nobody wants to mend a file ten times over."""
    rows = [{n: v for n, v in GOOD.items() if not n.startswith("sheet")} for _ in range(2)]
    rows[1]["run_length"] = ""
    found = evaluate_book(table(*rows), PLANT).findings
    assert [f.code for f in found] == ["book.missing_column", "book.missing_value"]


@FEW
@given(data=st.data())
def test_every_row_is_computed_or_named(table, data):
    """Rows in = rows computed + rows with a finding, whatever is left out or put in."""
    cells = ["", "-1", "x", "0", "3", "5000", "1e9"]
    rows = []
    for _ in range(data.draw(st.integers(1, 6))):
        row = dict(data.draw(st.sampled_from([GOOD, LENGTHS])))
        for name in data.draw(st.sets(st.sampled_from(sorted(row)), max_size=2)):
            row[name] = data.draw(st.sampled_from(cells))
        rows.append({"carton": data.draw(st.sampled_from(["", "C1", "C2"])), **row})
    orders = table(*rows)
    book = evaluate_book(orders, PLANT)
    of_whole = any(f.waits and f.row is None for f in book.findings)
    named = {f.row for f in book.findings if f.waits and f.row is not None}
    computed = set(book.table.row[book.jobs.of_row >= 0].tolist())
    assert computed == (set() if of_whole else set(book.table.row.tolist()) - named)
    for index in np.flatnonzero(~orders.waits).tolist():
        if of_whole:
            continue
        try:
            prepare(PLANT, orders.layer(index), ESTIMATED)
        except EvenrunError:
            assert book.jobs.of_row[index] == -1
            continue
        assert book.jobs.of_row[index] >= 0
    for amounts in (book.die, book.laser):
        assert all(np.isfinite(values).all() for values in amounts.values())


def test_a_book_without_orders_is_a_book_of_no_jobs(table):
    orders = table({**GOOD, "run_length": "x"})
    book = evaluate_book(orders, PLANT)
    assert (len(book), book.rows_in, book.rows_computed) == (0, 1, 0)
    assert book.totals(np.zeros(0, dtype=bool)).cost == 0
    assert book.pinned.shape == book.saving.shape == (0,)


def test_orders_in_another_currency_than_the_plants_are_refused(table):
    with pytest.raises(InputError, match="in USD, those of the plant in EUR"):
        evaluate_book(table({**GOOD, "print cost [USD/sheet]": 0.1}), PLANT)


@pytest.mark.parametrize("values", [{"carton.drawing": "box.dxf"}, {"layout.pattern": "interlocked"}])
def test_what_is_for_one_job_at_a_time_is_refused_for_a_book(table, values):
    with pytest.raises(InputError, match="a book of orders"):
        evaluate_book(table(GOOD), PLANT, Layer("settings", values))


# -- pins, months, totals ---------------------------------------------------------------------------------------------


def test_one_pinned_order_pins_its_whole_carton(table):
    rows = [
        {"carton": "C1", **GOOD, "run_length": 4000, "route": ""},
        {"carton": "C1", **GOOD, "run_length": 9000, "route": "die"},
        {"carton": "C2", **GOOD, "route": "laser"},
        {"carton": "C3", **GOOD, "route": ""},
    ]
    assert evaluate_book(table(*rows), PLANT).pinned.tolist() == [0, 0, 1, -1]


def test_rows_know_the_month_they_are_due_in(table):
    rows = [{**GOOD, "ordered": "2026-01-05", "due": "2026-02-03"}, {**GOOD, "ordered": "2026-03-01"}, GOOD]
    months = evaluate_book(table(*rows), PLANT).months()
    assert months.astype(str).tolist() == ["2026-02", "2026-03", "NaT"]


def test_a_year_with_some_jobs_on_the_laser_adds_up(table):
    book = evaluate_book(table(GOOD, {**GOOD, "run_length": 900}, LENGTHS), PLANT)
    moved = np.array([False, True, False])
    none, some = book.totals(np.zeros(3, dtype=bool)), book.totals(moved)
    assert none.cost - some.cost == pytest.approx(book.saving[1], rel=1e-9)
    assert (
        some.freed_press_hours == book.press_hours[1] == pytest.approx(none.press_hours - some.press_hours, rel=1e-12)
    )
    assert some.laser_hours == book.laser_hours[1]


# -- portions and executors -------------------------------------------------------------------------------------------


def _same_to_the_last_bit(a: Book, b: Book) -> bool:
    pairs = [(x.die[m], y.die[m]) for x, y in ((a, b),) for m in MEASURES]
    pairs += [(a.laser[m], b.laser[m]) for m in MEASURES]
    pairs += [(a.ganged, b.ganged), (a.reasons["die"], b.reasons["die"]), (a.reasons["laser"], b.reasons["laser"])]
    return all(x.tobytes() == y.tobytes() for x, y in pairs)


@pytest.fixture
def small_portions(monkeypatch):
    """Cut the book into five portions."""
    monkeypatch.setattr(order_book, "_CHUNK", 250)


def test_portions_change_nothing_but_their_size(demo, monkeypatch):
    whole = evaluate_book(demo, PLANT)
    monkeypatch.setattr(order_book, "_CHUNK", 97)
    assert _same_to_the_last_bit(whole, evaluate_book(demo, PLANT))


def test_no_loop_runs_over_orders(demo, monkeypatch):
    """One pass: the engine is entered once per portion, not once per order."""
    entered = []
    original = order_book.evaluate
    monkeypatch.setattr(order_book, "evaluate", lambda x, **how: entered.append(1) or original(x, **how))
    evaluate_book(demo, PLANT)
    assert len(entered) == 1
