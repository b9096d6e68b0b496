"""The workbook and the table of a year of orders: the same figures as the record, and no text that runs."""

from __future__ import annotations

import csv
import io
import re
from functools import cache
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from compare import prepare
from compare.assumptions import assumption_table
from compare.decide.book_plan import BookPlan, Limits
from compare.errors import InputError
from compare.present import book_export
from compare.present.book_export import ASSUMPTION_COLUMNS, assumption_rows, jobs_rows, write_jobs_csv, write_xlsx
from compare.present.book_record import book_record
from compare.present.book_template import template_xlsx, write_template_csv
from compare.readers.jobfile import Layer
from compare.readers.orderbook import read_orders
from compare.readers.orderbook_columns import template_columns, template_heading
from present.book_plans import ORDER, PLANT, csv_of, demo_plan, plan_rows, plan_text, scarce_plan

FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "=HYPERLINK(\"http://x\",\"y\")", "|cmd", "  =2+2", "\uff1d1+1", "%x")  # fmt: skip


def _written(plan: BookPlan, *layers: Layer) -> Workbook:
    out = io.BytesIO()
    write_xlsx(plan, layers or (PLANT,), out)
    return load_workbook(io.BytesIO(out.getvalue()))


@cache
def _demo_book() -> Workbook:
    return _written(demo_plan())


def _rows(sheet: Worksheet) -> list[dict[str, Any]]:
    headings, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(headings, row, strict=True)) for row in rows]


def _figures(book: Workbook) -> dict[str, Any]:
    return {row["figure"]: row["value"] for row in _rows(book["Summary"])}


def _nearly(value: float | None) -> Any:
    """A workbook holds 16 digits of a number."""
    return None if value is None else pytest.approx(value, rel=1e-14, abs=1e-14)


# -- jobs -------------------------------------------------------------------------------------------------------------

PLACES = {
    "saving on the laser [EUR/y]": ("saving",),
    "laser hours [h/y]": ("laser_hours",),
    "saving per laser hour [EUR/h]": ("saving_per_hour",),
    "worth beyond the price of its hours [EUR/y]": ("worth",),
    "orders [1/y]": ("orders_per_year",),
    "run length [cartons]": ("run_length",),
    "good cartons [1/y]": ("cartons",),
    "cost on the die [EUR/y]": ("cost", "die"),
    "cost on the laser [EUR/y]": ("cost", "laser"),
    "cash saving on the laser [EUR/y]": ("cash_saving",),
    "press hours on the die [h/y]": ("press_hours",),
    "CO2e on the die [kg/y]": ("co2e_kg", "die"),
    "CO2e on the laser [kg/y]": ("co2e_kg", "laser"),
    "waste board on the die [kg/y]": ("waste_kg", "die"),
    "waste board on the laser [kg/y]": ("waste_kg", "laser"),
}
TEXTS = {"job": "id", "carton": "carton", "route": "route", "reason": "reason", "because": "because", "board": "board"}


@pytest.mark.parametrize("plan", [demo_plan(), scarce_plan()], ids=["demo", "scarce"])
def test_every_figure_of_the_sheet_of_jobs_is_that_of_the_record(plan):
    rows, jobs = _rows(_written(plan)["Jobs"]), book_record(plan)["jobs"]
    assert len(rows) == len(jobs)
    for row, job in zip(rows, jobs, strict=True):
        for heading, (key, *rest) in PLACES.items():
            assert row[heading] == _nearly(job[key][rest[0]] if rest else job[key]), heading
        assert {h: row[h] for h in TEXTS} == {h: job[key] for h, key in TEXTS.items()}
        assert row["orders of the book"] == ", ".join(job["orders"])


def test_every_column_of_jobs_is_checked_above():
    unchecked = {"die can't, because", "laser can't, because", "orders of the book"}
    assert set(jobs_rows(demo_plan())[0]) == {*PLACES, *TEXTS, *unchecked}


def test_what_a_route_can_not_do_is_named():
    (row,) = _rows(_written(plan_rows({**ORDER, "laminate": "pvc"}))["Jobs"])
    assert (row["laser can't, because"], row["die can't, because"]) == (
        "its laminate must not be burnt",
        None,
    )
    assert row["cost on the laser [EUR/y]"] is None


def test_numbers_are_numbers_with_a_format_and_texts_are_texts():
    sheet = _demo_book()["Jobs"]
    headings = [cell.value for cell in sheet[1]]
    for row in sheet.iter_rows(min_row=2):
        for heading, cell in zip(headings, row, strict=True):
            if cell.value is None:
                continue
            assert cell.data_type == ("n" if heading in PLACES else "s"), heading
            assert (cell.number_format != "General") == (heading in PLACES), heading


def test_every_column_of_numbers_has_its_unit_in_the_heading():
    headings, rows = jobs_rows(demo_plan())
    numeric = {h for row in rows for h, cell in zip(headings, row, strict=True) if isinstance(cell, (int, float))}
    assert numeric == set(PLACES)
    assert all(h.endswith("]") for h in numeric)


@pytest.mark.parametrize("title", ["Jobs", "Summary", "Assumptions", "Findings"])
def test_headings_stay_in_sight_and_rows_can_be_filtered(title):
    sheet = _demo_book()[title]
    assert sheet.freeze_panes == "A2"
    assert sheet.auto_filter.ref == sheet.dimensions
    assert all(sheet.column_dimensions[cell.column_letter].width >= 8 for cell in sheet[1])


# -- summary ----------------------------------------------------------------------------------------------------------


def test_the_summary_holds_the_figures_of_the_record():
    found, figures = book_record(demo_plan()), _figures(_demo_book())
    assert {
        "saving": figures["saving"],
        "bound": figures["no choice can save more than"],
        "hours_limit": figures["hours that may be planned"],
        "hours_used": figures["hours planned"],
        "rows_in": figures["orders in the file"],
        "computed": figures["orders computed"],
        "freed_press_hours": figures["press hours freed"],
        "hour_value": figures["one more hour of the line is worth about"],
        "cash_saving": figures["cash saving"],
    } == {
        key: _nearly(found[key])
        for key in (
            "saving", "bound", "hours_limit", "hours_used", "rows_in", "computed", "freed_press_hours", "hour_value",
            "cash_saving",
        )
    }  # fmt: skip
    for key, label in (("cost", "cost"), ("co2e_kg", "CO2e"), ("waste_kg", "waste board")):
        assert figures[f"{label}, as planned"] == _nearly(found[key]["planned"])
        assert figures[f"{label}, change"] == _nearly(found[key]["change"])
    for key, label in (("npv", "net present value"), ("purchase", "purchase price of the line")):
        assert figures[label] == _nearly(found["investment"][key])


def test_limits_that_bind_are_in_the_summary():
    plan = plan_rows({**ORDER, "route": "laser"}, limits=Limits(100.0, board_hours={"kraft_300": 0.25}))
    figures = _figures(_written(plan))
    assert figures["limit that binds, hours on kraft_300"] == 0.25
    assert figures["limit that binds, hours on kraft_300: used"] == _nearly(plan.hours_used)
    assert [name for name in figures if name.startswith("limit that binds, hours of the year")] == []


def test_every_figure_of_the_summary_has_a_unit():
    rows = _rows(_demo_book()["Summary"])
    assert [r["figure"] for r in rows if isinstance(r["value"], (int, float)) and not r["unit"]] == []


def test_the_cautions_go_with_the_workbook():
    texts = [row["value"] for row in _rows(_demo_book()["Summary"]) if row["figure"] == "caution"]
    assert any("estimates for planning" in text for text in texts)
    assert any("labour and press hours" in text for text in texts)


def test_the_workbook_names_the_program_and_its_tables():
    versions = book_record(demo_plan())["versions"]
    assert _figures(_demo_book())["made with"] == f"evenrun {versions['program']}, tables {versions['assumptions']}"


# -- assumptions ------------------------------------------------------------------------------------------------------


def _assumptions(plan: BookPlan, *layers: Layer) -> dict[str, dict[str, Any]]:
    rows = assumption_rows(plan, layers or (PLANT,))
    return {str(row[0]): dict(zip(ASSUMPTION_COLUMNS, row, strict=True)) for row in rows}


def test_every_assumption_of_a_job_by_itself_is_listed_with_its_value():
    """Oracle: what the scenario of each job uses; what a row gave or a style drew is no assumption."""
    plan = demo_plan()
    listed = _assumptions(plan)
    for job in range(len(plan.book)):
        scenario = prepare(PLANT, plan.book.layer(job))
        for name, origin in scenario.origins.items():
            if name in ("laser.path", "laser.motion"):  # a book plans no path, so they are no assumptions of it
                continue
            if origin == "assumption" or not name.startswith(tuple(_JOBS)):
                value = scenario.inputs[name] if name in scenario.inputs else scenario.choices[name]
                either = {listed[name]["value"], listed.get(f"{name} (recycled board)", {}).get("value")}
                assert value in either, name


_JOBS = ("demand.", "carton.", "cutouts.", "work.", "sheet.", "board.", "layout.", "tooling.")


def test_an_assumption_has_unit_range_basis_and_source_of_the_table():
    for name, row in _assumptions(demo_plan()).items():
        own = assumption_table()[name.removesuffix(" (recycled board)")]
        assert (row["low"], row["high"], row["basis"], row["source"]) == (own.low, own.high, own.basis, own.source)
        assert row["unit"] == ("" if own.is_text or own.unit == "-" else own.unit.replace("money", "EUR"))


def test_an_assumption_says_where_it_is_from():
    setting = Layer("--set", {"rates.labour_h": 50.0})
    plan = plan_text(csv_of(ORDER), None, setting)
    rows = _assumptions(plan, PLANT, setting)
    assert (rows["rates.labour_h"]["value"], rows["rates.labour_h"]["origin"]) == (50.0, "--set")
    assert rows["rates.kwh"]["origin"] == PLANT.label
    assert rows["rates.laser_h"]["origin"] == "machine-hour rate from the purchase price"
    assert rows["laser.heads"]["origin"] == "table of assumptions"
    assert rows["factors.kwh"]["origin"].startswith("owid2024_elec_de")
    assert rows["sheet.gripper_mm"]["origin"].endswith("for orders that leave it out")


def test_the_factor_of_recycled_board_has_its_own_row_and_origin():
    rows = _assumptions(demo_plan())
    primary, recycled = rows["factors.board_kg"], rows["factors.board_kg (recycled board)"]
    assert primary["value"] != recycled["value"]
    assert primary["origin"] != recycled["origin"]
    assert "closedloop" in recycled["origin"]


def test_the_sheet_of_assumptions_is_that_list():
    rows = [tuple(row.values()) for row in _rows(_demo_book()["Assumptions"])]
    expected = [
        tuple(_nearly(c) if isinstance(c, float) else c or None for c in row)
        for row in assumption_rows(demo_plan(), [PLANT])
    ]
    assert rows == expected


# -- texts that would run ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def hostile() -> BookPlan:
    """Orders, cartons and cells that a spreadsheet would run, one of them in a row that waits."""
    rows = [{**ORDER, "order": text, "carton": f"{text}C"} for text in FORMULAS]
    return plan_rows(*rows, {**ORDER, "order": "last", "run_length": "=cmd()"})


def test_no_text_of_the_workbook_is_a_formula(hostile):
    cells = [cell for sheet in _written(hostile) for row in sheet.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells if cell.value is not None} == {"s", "n"}
    assert [c.value for c in cells if isinstance(c.value, str) and c.value.lstrip()[:1] in "=+-@|%\uff1d"] == []


def test_a_text_that_starts_like_a_formula_is_kept_behind_an_apostrophe(hostile):
    jobs = [row["job"] for row in _rows(_written(hostile)["Jobs"])]
    assert jobs == [f"'{' '.join(text.split())}" for text in FORMULAS]


def test_findings_of_the_workbook_hold_the_cell_as_text(hostile):
    (row,) = _rows(_written(hostile)["Findings"])
    assert (row["row"], row["value"], row["waits"]) == (len(FORMULAS) + 2, "'=cmd()", "yes")


def test_no_cell_of_the_csv_starts_like_a_formula(hostile):
    out = io.StringIO()
    write_jobs_csv(hostile, out)
    headings, *rows = csv.reader(io.StringIO(out.getvalue()))
    texts = [cell for row in rows for heading, cell in zip(headings, row, strict=True) if heading not in PLACES]
    assert [text for text in texts if text.lstrip()[:1] in ("=", "+", "-", "@", "|", "%", "\uff1d")] == []
    assert [row[0] for row in rows] == [f"'{' '.join(text.split())}" for text in FORMULAS]


def test_control_characters_of_a_name_do_not_break_the_workbook():
    """A workbook is XML, which can't hold them."""
    plan = plan_rows({**ORDER, "order": "A\x01\x021"})
    assert [row["job"] for row in _rows(_written(plan)["Jobs"])] == ["A1"]


def test_a_formula_behind_a_control_character_is_found():
    """It would come to the front where that character is left out."""
    plan = plan_rows({**ORDER, "order": "\x01=1+1"})
    assert [row["job"] for row in _rows(_written(plan)["Jobs"])] == ["'=1+1"]
    out = io.StringIO()
    write_jobs_csv(plan, out)
    assert out.getvalue().splitlines()[1].startswith("'=1+1,")


# -- csv --------------------------------------------------------------------------------------------------------------


def test_the_csv_holds_the_jobs_with_ten_figures():
    """More of them are only those of sums in binary numbers, such as 1.7987626262626264."""
    out = io.StringIO()
    write_jobs_csv(demo_plan(), out)
    headings, rows = jobs_rows(demo_plan())
    read = list(csv.reader(io.StringIO(out.getvalue())))
    assert tuple(read[0]) == headings
    for line, row in zip(read[1:], rows, strict=True):
        for text, cell in zip(line, row, strict=True):
            if isinstance(cell, float):
                assert float(text) == pytest.approx(cell, rel=5e-10)
                assert len(re.sub(r"\D", "", text).lstrip("0")) <= 10
            else:
                assert text == ("" if cell is None else str(cell))


# -- the same again, and limits ---------------------------------------------------------------------------------------


def test_the_same_orders_give_the_same_cells():
    def cells(book: Workbook) -> list[Any]:
        return [(s.title, c.coordinate, c.value, c.number_format) for s in book for row in s.iter_rows() for c in row]

    assert cells(_written(demo_plan())) == cells(_written(demo_plan()))


def test_more_jobs_than_a_sheet_holds_are_refused(monkeypatch):
    """Else the program that opens the file would cut it off without a word."""
    monkeypatch.setattr(book_export, "MOST_ROWS", 13)
    with pytest.raises(InputError, match="a sheet of a workbook holds 13 rows; write CSV"):
        _written(demo_plan())


# -- the template -----------------------------------------------------------------------------------------------------


def test_the_template_has_the_columns_of_the_table_in_both_forms():
    out = io.StringIO()
    write_template_csv(out)
    headings = [template_heading(column) for column in template_columns()]
    assert next(csv.reader(io.StringIO(out.getvalue()))) == headings
    sheet = load_workbook(io.BytesIO(template_xlsx()))["Orders"]
    assert [cell.value for cell in sheet[1]] == headings


def test_the_template_explains_every_column_and_lists_boards_and_styles():
    book = load_workbook(io.BytesIO(template_xlsx()))
    explained = {row["column"]: row for row in _rows(book["Columns"]) if row["column"]}
    for column in template_columns():
        row = explained[template_heading(column)]
        assert (row["unit"], row["meaning"]) == (column.unit, column.meaning)
    assert "crash_lock" in explained["style"]["words it takes"]
    assert "kraft_300" in {row["board"] for row in _rows(book["Boards"])}


def test_words_are_offered_in_the_template():
    sheet = load_workbook(io.BytesIO(template_xlsx()))["Orders"]
    places = {template_heading(column): i for i, column in enumerate(template_columns(), start=1)}
    offered = {str(v.sqref).split(":")[0].rstrip("2"): v.formula1 for v in sheet.data_validations.dataValidation}
    assert "reverse_tuck_end" in offered[sheet.cell(1, places["style"]).column_letter]
    assert offered[sheet.cell(1, places["board"]).column_letter].startswith("Boards!$A$2:$A$")


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_an_order_filled_into_the_template_is_computed(kind, tmp_path):
    """The row of meanings of the CSV is named as such, and keeps no other row from being computed."""
    path = tmp_path / f"orders.{kind}"
    names = [column.name for column in template_columns()]
    order = [ORDER.get(name, "") for name in names]
    if kind == "csv":
        with path.open("w", encoding="utf-8", newline="") as file:
            write_template_csv(file)
            csv.writer(file).writerow(order)
    else:
        book = load_workbook(io.BytesIO(template_xlsx()))
        book["Orders"].append([cell if cell != "" else None for cell in order])
        book.save(path)
    table = read_orders(path)
    assert table.waits.tolist() == ([True, False] if kind == "csv" else [False])
    assert {f.row for f in table.findings if f.waits} == ({2} if kind == "csv" else set())
    assert [str(name) for name in table.order][-1] == "A1"
