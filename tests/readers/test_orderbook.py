"""Order books: what is read, what is asked for, what is refused, and that nothing gets lost."""

from __future__ import annotations

import csv
import io
import itertools
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from compare.assumptions import assumption_table
from compare.errors import EvenrunError, FileError, InputError
from compare.readers.orderbook import OrderTable, read_orders
from compare.readers.orderbook_cells import Ambiguous, NotANumber, read_date, read_number
from compare.readers.orderbook_columns import ABOUT, template_columns, template_csv
from compare.readers.orderbook_findings import BookFinding, findings_csv, findings_rows, safe_text
from compare.readers.orderbook_rows import MAX_COLUMNS
from tests.conftest import DATA
from tests.random_jobs import PROPERTY

DEMO = DATA / "demo" / "orders_20.csv"


@pytest.fixture
def book(tmp_path):
    """Read an order book written here: ``book("run_length\\n100")``, or rows of cells."""
    numbers = itertools.count()

    def read(text: str | bytes | list[list[Any]], **how: Any) -> OrderTable:
        path = tmp_path / f"orders{next(numbers)}.csv"
        if isinstance(text, list):
            text = "\n".join(";".join(map(str, row)) for row in text)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_orders(path, **how)

    return read


@pytest.fixture
def workbook(tmp_path):
    """Write a workbook of rows and return its path."""

    def write(rows: list[list[Any]], *, more: dict[str, list[list[Any]]] | None = None) -> Path:
        made = openpyxl.Workbook()
        sheet = made.active
        sheet.title = "Orders"
        for row in rows:
            sheet.append(row)
        for name, others in (more or {}).items():
            extra = made.create_sheet(name)
            for row in others:
                extra.append(row)
        path = tmp_path / "orders.xlsx"
        made.save(path)
        return path

    return write


def codes(table: OrderTable) -> list[str]:
    return [f.code for f in table.findings]


def only(table: OrderTable, code: str) -> BookFinding:
    (found,) = [f for f in table.findings if f.code == code]
    return found


# -- the template -----------------------------------------------------------------------------------------------------


def test_every_column_of_the_template_holds_an_input():
    known = {*ABOUT, *assumption_table()}
    assert [c.name for c in template_columns() if c.input not in known] == []


def test_the_units_of_the_template_are_those_of_the_inputs():
    table = assumption_table()
    assert [c.name for c in template_columns() if c.input in table and table[c.input].unit != c.unit] == []


def test_no_heading_stands_for_two_columns():
    """An alias that two columns claim would be read into whichever comes last."""
    claimed = [(alias.casefold(), c.name) for c in template_columns() for alias in (c.name, *c.aliases)]
    seen: dict[str, str] = {}
    assert [alias for alias, name in claimed if seen.setdefault(alias, name) != name] == []


def test_the_template_that_can_be_filled_in_is_read_without_a_remark(book):
    table = book(template_csv() + ",".join("" for _ in template_columns()) + "\n")
    assert codes(table) == ["book.empty"]
    assert set(table.headings) == {c.input for c in template_columns()}


# -- numbers ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1234", None, 1234),
        ("1.5", None, 1.5),
        ("1,5", None, 1.5),
        ("0.123", None, 0.123),
        ("1,234.5", None, 1234.5),
        ("1.234,5", None, 1234.5),
        ("1.234.567", None, 1_234_567),
        ("1.234", ",", 1234),
        ("1.234", ".", 1.234),
        ("1,234", ".", 1234),
        ("1 234,5", None, 1234.5),
        ("1\u00a0234\u00a0567", None, 1_234_567),
        ("1\u202f234", None, 1234),
        ("1'234.5", None, 1234.5),
        ("1’234.5", None, 1234.5),
        ("12,34,567.8", None, 1_234_567.8),
        ("1,5e3", None, 1500),
        (" 7 ", None, 7),
        ("+7", None, 7),
        ("-7", None, -7),
        ("−7", None, -7),
        (".5", None, 0.5),
    ],
)  # fmt: skip
def test_numbers_are_read_as_people_write_them(text, decimal, value):
    assert read_number(text, decimal)[0] == value


@pytest.mark.parametrize(
    ("text", "decimal"),
    [
        ("1.5", ","),  # reading it as 15 is the classic slip of number parsers that drop separators
        ("1,5", "."),
        ("1.234,5", "."),
        ("12.34.5", None),
        ("1,2,3", None),
        ("1 2 3", None),
        ("1_000", None),
        ("nan", None),
        ("inf", None),
        ("0x10", None),
        ("12 pcs", None),
        ("1/2", None),
        ("٣", None),
        ("", None),
        ("-", None),
    ],
)
def test_what_is_no_number_is_not_made_one(text, decimal):
    with pytest.raises(NotANumber):
        read_number(text, decimal)


@pytest.mark.parametrize("text", ["1.234", "1,234", "12.500", "999,999"])
def test_a_point_before_three_digits_could_be_either(text):
    with pytest.raises(Ambiguous):
        read_number(text, None)


@PROPERTY
@given(value=st.floats(0, 1e9).map(lambda v: round(v, 2)), swapped=st.booleans())
def test_what_a_country_writes_is_read_back_when_its_decimal_sign_is_known(value, swapped):
    written = f"{value:,.2f}"
    if swapped:
        written = written.translate(str.maketrans(",.", ".,"))
    assert read_number(written, "," if swapped else ".")[0] == value


def test_other_cells_show_the_decimal_sign(book):
    table = book("run_length;print cost [EUR/sheet]\n12.500;0,12\n1.000;0,2\n")
    assert table.decimal == ","
    assert table.numbers["demand.run_length"].tolist() == [12500, 1000]


def test_a_number_that_nothing_explains_is_asked_for(book):
    table = book("run_length;versions\n12.500;1\n300;1\n")
    found = only(table, "book.ambiguous_number")
    assert (found.row, found.column, found.value) == (2, "run_length", "12.500")
    assert table.waits.tolist() == [True, False]


def test_the_user_says_which_decimal_sign_it_is(book):
    assert book("run_length\n12.500\n", decimal=",").numbers["demand.run_length"][0] == 12500


def test_a_whole_number_written_with_three_decimals_is_asked_for(book):
    """With decimal points, 12.000 is twelve to a program and most likely twelve thousand to who wrote it."""
    table = book("run_length;print_cost_per_sheet [EUR/sheet]\n12.000;0.12\n")
    assert codes(table) == ["book.ambiguous_number"]


def test_signs_of_both_kinds_settle_nothing(book):
    table = book("run_length;cutting_m;creasing_m\n500;1,5;1.5\n500;1.234;1\n")
    assert only(table, "book.ambiguous_number").row == 3
    assert (table.numbers["work.cutting_m"][0], table.numbers["work.creasing_m"][0]) == (1.5, 1.5)


def test_a_decimal_sign_is_asked_for_by_its_sign(book):
    with pytest.raises(InputError, match="no decimal sign"):
        book("run_length\n1\n", decimal=";")


# -- units ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "cell", "name", "value"),
    [
        ("width [in]", "2", "carton.width_mm", 50.8),
        ("Breite (cm)", "4", "carton.width_mm", 40),
        ("width_mm", "40", "carton.width_mm", 40),
        ("carton.width_mm", "40", "carton.width_mm", 40),
        ("carton.glue_flap_mm", "16", "carton.glue_flap_mm", 16),
        ("caliper [µm]", "400", "board.caliper_mm", 0.4),
        ("caliper [pt]", "20", "board.caliper_mm", 0.508),
        ("grammage [gsm]", "300", "board.grammage_g_m2", 300),
        ("grammage [lb/1000ft2]", "60", "board.grammage_g_m2", 292.94566),
        ("Kartonpreis [EUR/kg]", "1.2", "board.price_per_t", 1200),
        ("board price [USD/lb]", "0.5", "board.price_per_t", 1102.311),
        ("print cost [EUR/1000 sheets]", "120", "sheet.print_cost", 0.12),
        ("Auflage [Tsd]", "12.5", "demand.run_length", 12500),
        ("Auflage", "12500", "demand.run_length", 12500),
        ("blank area [cm²]", "450", "carton.blank_area_m2", 0.045),
        ("cutting [mm]", "1250", "work.cutting_m", 1.25),
        ("orders per year [per month]", "2", "demand.orders_per_year", 24),
        ("years [months]", "6", "demand.years", 0.5),
        ("die owned", "yes", "tooling.owned", 1),
    ],
)
def test_columns_come_in_their_units(book, heading, cell, name, value):
    """Inch, pound and foot are the international ones; a point of caliper is a thousandth of an inch."""
    table = book(f"run_length\t{heading}\n500\t{cell}\n" if name != "demand.run_length" else f"{heading}\n{cell}\n")
    assert [f for f in table.findings if f.waits] == []
    assert table.numbers[name][0] == pytest.approx(value, rel=1e-6)


def test_a_length_without_a_unit_is_asked_for(book):
    """Millimetres are likely, and guessing is how a carton grows to ten times its size."""
    table = book("run_length;Länge\n500;75\n")
    found = only(table, "book.no_unit")
    assert (found.row, found.column) == (None, "Länge")
    assert "Länge [mm]" in found.remedy
    assert table.waits.all()


def test_an_unknown_unit_is_named_with_those_that_are_known(book):
    found = only(book("run_length;length [furlong]\n500;75\n"), "book.unknown_unit")
    assert found.column == "length [furlong]"
    assert "cm" in found.remedy


def test_a_point_is_a_unit_of_caliper_only(book):
    assert "book.unknown_unit" in codes(book("run_length;length [pt]\n500;75\n"))


def test_a_dollar_of_no_country_is_asked_for(book):
    assert "book.unknown_unit" in codes(book("run_length;print cost [$/sheet]\n500;0.1\n"))


# -- columns ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("heading", ["run_length", "Run Length [cartons]", "AUFLAGE", "Tirage", "tirada", "nakład"])
def test_headings_are_known_in_several_languages(book, heading):
    assert book(f"{heading}\n500\n").numbers["demand.run_length"].tolist() == [500]


def test_the_user_maps_columns(book):
    table = book("X;Y;Z\n500;3;9\n", columns={"X": "run_length", "Y": "carton.width_mm [in]", "Z": ""})
    assert table.findings == ()
    assert table.numbers["carton.width_mm"][0] == pytest.approx(76.2)


def test_a_column_that_is_not_read_is_said(book):
    found = only(book("run_length;colour of the sky\n500;blue\n"), "book.unused_column")
    assert (found.column, found.waits) == ("colour of the sky", False)


def test_mapping_a_column_to_nothing_known_stops_the_book(book):
    table = book("X\n500\n", columns={"X": "run_lenght"})
    assert {"book.unknown_target", "book.missing_column"} == set(codes(table))
    assert table.waits.all()


def test_mapping_a_heading_that_is_not_there_stops_the_book(book):
    found = only(book("run_length\n500\n", columns={"Y": "width_mm"}), "book.missing_column")
    assert (found.column, found.waits) == ("Y", True)


def test_two_columns_for_one_input_stop_the_book(book):
    assert only(book("run_length;Auflage\n500;600\n"), "book.duplicate_column").column == "Auflage"


def test_a_book_without_a_run_length_names_the_headings_it_has(book):
    found = only(book("carton;width_mm\nC1;40\n"), "book.missing_column")
    assert "'carton', 'width_mm'" in found.message


def test_plant_inputs_are_no_columns(book):
    """A press is the same for all orders; a column of it would be a mistake."""
    assert "book.unused_column" in codes(book("run_length;die.crew\n500;2\n"))


def test_five_hundred_columns_are_too_many_and_every_row_waits(book):
    table = book([[f"c{k}" for k in range(500)], [1] * 500, [2] * 500])
    assert codes(table) == ["book.too_many_columns"]
    assert table.waits.tolist() == [True, True]


# -- rows -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "rows"), [("", 0), ("\n\n", 0), ("run_length\n", 0), ("run_length;versions\n;\n\n", 0)]
)
def test_a_book_without_orders_says_so(book, text, rows):
    table = book(text)
    assert "book.empty" in codes(table)
    assert len(table) == rows


@pytest.mark.parametrize(
    ("heading", "cell", "code"),
    [
        ("run_length", "-500", "book.negative"),
        ("run_length", "0", "book.out_of_range"),
        ("run_length", "12.5", "book.out_of_range"),
        ("run_length", "1e15", "book.out_of_range"),
        ("run_length", "many", "book.not_a_number"),
        ("run_length", "=1+1", "book.not_a_number"),
        ("die_owned", "2", "book.out_of_range"),
        ("cutting_m", "-1", "book.negative"),
        ("style", "sleev", "book.unknown_style"),
        ("board", "solid_bleached_305", "book.unknown_board"),
        ("laminate", "gold leaf", "book.unknown_word"),
        ("grain", "sideways", "book.unknown_word"),
        ("route", "robot", "book.unknown_word"),
        ("due", "31.02.2026", "book.not_a_date"),
        ("due", "1.2.26", "book.not_a_date"),
        ("due", "03/04/2026", "book.ambiguous_date"),
        ("carton", "C" * 101, "book.long_text"),
        ("order", "A" * 101, "book.long_text"),
    ],
)
def test_a_bad_cell_is_named_with_row_column_and_remedy(book, heading, cell, code):
    """Two good rows stand around it, which are computed while it waits."""
    rows = [["order", "run_length"], ["A1", 500], ["A2", 500], ["A3", 500]]
    if heading in rows[0]:
        rows[2][rows[0].index(heading)] = cell
    else:
        rows = [[*row, ""] for row in rows]
        rows[0][-1], rows[2][-1] = heading, cell
    table = book(rows, decimal=".")
    found = only(table, code)
    assert (found.row, found.column) == (3, heading)
    assert found.message
    assert found.remedy
    assert table.waits.tolist() == [False, True, False]


def test_names_are_known_however_they_are_spaced(book):
    table = book("run_length;style;board\n500;Reverse tuck end;Solid-bleached 300\n")
    assert (table.texts["carton.style"].at(0), table.texts["board.grade"].at(0)) == (
        "reverse_tuck_end",
        "solid_bleached_300",
    )


def test_an_unknown_board_is_named_with_its_neighbours(book):
    found = only(book("run_length;board\n500;recycled_3000\n"), "book.unknown_board")
    assert "recycled_300" in found.remedy
    assert "grammage" in found.remedy


def test_all_rows_with_one_number_wait(book):
    """Which of two orders with one number is right, nobody but their owner knows."""
    table = book("order;run_length\nA1;500\nA2;500\nA1;600\n")
    assert [(f.row, f.code) for f in table.findings] == [(2, "book.duplicate_id"), (4, "book.duplicate_id")]
    assert "rows 2, 4" in table.findings[0].message


def test_an_order_due_before_it_came_in_waits(book):
    table = book("run_length;ordered;due\n500;2026-03-02;2026-03-01\n500;2026-03-02;2026-03-02\n")
    assert [(f.row, f.code) for f in table.findings] == [(2, "book.date_order")]


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-03-31", date(2026, 3, 31)),
        ("31.03.2026", date(2026, 3, 31)),
        ("3.4.2026", date(2026, 4, 3)),
        ("31/3/2026", date(2026, 3, 31)),
        ("3/31/2026", date(2026, 3, 31)),
        ("2026-03-31 08:30", date(2026, 3, 31)),
        ("2026-03-31T08:30:00Z", date(2026, 3, 31)),
        ("3/3/2026", date(2026, 3, 3)),
    ],
)
def test_days_are_read_as_people_write_them(text, day):
    assert read_date(text, None)[0] == day


def test_other_cells_show_whether_the_day_stands_first(book):
    table = book("run_length;due\n500;03/04/2026\n500;31/03/2026\n")
    assert table.due.tolist() == [date(2026, 4, 3), date(2026, 3, 31)]


def test_the_user_says_whether_the_day_stands_first(book):
    assert book("run_length;due\n500;03/04/2026\n", dates="mdy").due.tolist() == [date(2026, 3, 4)]


def test_rows_in_another_currency_wait(book):
    table = book("run_length;currency\n500;EUR\n500;USD\n500;eur\n500;pebbles\n")
    assert [(f.row, f.code) for f in table.findings] == [(3, "book.mixed_currency"), (5, "book.mixed_currency")]
    assert table.currency == "EUR"


def test_prices_in_two_currencies_stop_the_book(book):
    table = book("run_length;print cost [EUR/sheet];board price [USD/t]\n500;0.1;1000\n")
    assert only(table, "book.mixed_currency").column == "board price [USD/t]"
    assert table.waits.all()


def test_the_currency_of_the_plant_is_the_one_that_counts(book):
    table = book("run_length;currency\n500;USD\n500;EUR\n500;USD\n", currency="EUR")
    assert table.waits.tolist() == [True, False, True]


def test_a_row_with_more_cells_than_headings_waits(book):
    """A decimal comma in a file that is separated by commas moves every later cell by one."""
    table = book("run_length,width_mm,height_mm\n500,40,80\n500,40,50,80\n")
    assert [(f.row, f.code) for f in table.findings] == [(3, "book.too_many_cells")]


def test_a_row_with_fewer_cells_leaves_the_last_ones_out(book):
    table = book("run_length;width_mm\n500\n600;40\n")
    assert np.isnan(table.numbers["carton.width_mm"]).tolist() == [True, False]


def test_a_carton_can_not_be_pinned_to_both_routes(book):
    table = book("carton;run_length;route\nC1;500;die\nC1;600;laser\nC1;600;\nC2;600;laser\n")
    assert table.waits.tolist() == [True, True, False, False]


def test_rows_are_numbered_as_a_spreadsheet_shows_them(book):
    """Empty lines are no orders, but they count."""
    assert book("run_length\n500\n\n600\n").row.tolist() == [2, 4]


def test_what_a_row_gives_makes_a_job(book):
    table = book("order;run_length;style;die owned;width_mm\nA7;500;sleeve;;40\n")
    assert table.values(0) == {"demand.run_length": 500.0, "carton.style": "sleeve", "carton.width_mm": 40.0}
    assert table.layer(0).about["name"] == "A7"


def test_rows_of_every_portion_are_read_alike(book, monkeypatch):
    """What one portion shows of the decimal sign holds for those before and after it."""
    monkeypatch.setattr("compare.readers.orderbook_rows.CHUNK", 2)
    table = book("run_length;cutting_m\n1.000;1\n2.000;1\n3.000;1\n4.000;1,25\n5.000;1\n6.000;1.5\n")
    assert table.numbers["demand.run_length"].tolist() == [1000, 2000, 3000, 4000, 5000, 6000]
    assert [(f.row, f.code) for f in table.findings] == [(7, "book.not_a_number")]


def test_a_cell_is_mended_without_touching_the_file(book):
    """What is put right in a table on the screen is read in place of the cell, with all the checks."""
    text = "run_length;width_mm\n500;40\nmany;40\n600\n"
    table = book(text, mended={(3, "run_length"): "700", (4, "width_mm"): "-1"})
    assert table.numbers["demand.run_length"].tolist() == [500, 700, 600]
    assert [(f.row, f.code) for f in table.findings] == [(4, "book.negative")]


@pytest.mark.parametrize("place", [(9, "run_length"), (2, "width_mm")])
def test_a_mended_cell_that_is_not_there_is_refused(book, place):
    with pytest.raises(InputError, match="no cell in row"):
        book("run_length\n500\n", mended={place: "1"})


def test_reading_tells_how_far_it_is(book, monkeypatch):
    monkeypatch.setattr("compare.readers.orderbook_rows.CHUNK", 3)
    seen: list[int] = []
    book("run_length\n" + "500\n" * 7, progress=seen.append)
    assert seen == [2, 5, 7]


# -- files ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_is_read_in_the_ways_that_spreadsheets_save_it(book, encoding):
    table = book("Stückzahl;Länge [mm]\n500;75\n".encode(encoding))
    assert table.numbers["carton.length_mm"].tolist() == [75]
    assert ("book.encoding" in codes(table)) == (encoding == "cp1252")


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_cells_are_separated_by_what_the_headings_show(book, separator):
    table = book(f"run_length{separator}width_mm\n500{separator}40\n")
    assert table.numbers["carton.width_mm"].tolist() == [40]


def test_a_workbook_reads_like_the_same_table_as_text(workbook):
    with DEMO.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))

    def cell(text: str) -> Any:
        try:
            return float(text)
        except ValueError:
            return date.fromisoformat(text) if text.startswith("2026-") else text or None

    a, b = read_orders(workbook([rows[0], *(list(map(cell, row)) for row in rows[1:])])), read_orders(DEMO)
    assert a.order.tolist() == b.order.tolist()
    for name, values in b.numbers.items():
        np.testing.assert_array_equal(a.numbers[name], values)
    assert [a.values(i) for i in range(len(a))] == [b.values(i) for i in range(len(b))]
    np.testing.assert_array_equal(a.due, b.due)


def test_cells_of_a_workbook_keep_their_kind(workbook):
    rows = [["order", "run_length", "due", "die_owned"], [17, 500, datetime(2026, 3, 31, 8), True], [18, True, 5, "?"]]
    table = read_orders(workbook(rows))
    assert (table.order[0], table.due[0].astype(date), table.numbers["tooling.owned"][0]) == (
        "17",
        date(2026, 3, 31),
        1,
    )
    assert [(f.row, f.code) for f in table.findings] == [
        (3, "book.not_a_number"),
        (3, "book.not_a_date"),
        (3, "book.not_a_number"),
    ]


def test_sheets_that_are_not_read_are_named(workbook):
    path = workbook([["run_length"], [500]], more={"Old": [["run_length"], [1], [2]]})
    assert only(read_orders(path), "book.other_sheets").waits is False
    assert len(read_orders(path, sheet="Old")) == 2
    with pytest.raises(InputError, match="there is: Orders, Old"):
        read_orders(path, sheet="New")


def test_a_workbook_with_too_many_columns_waits(workbook):
    table = read_orders(workbook([[f"c{k}" for k in range(MAX_COLUMNS + 300)], [1] * 500]))
    assert codes(table) == ["book.too_many_columns"]


def _packed(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


@pytest.mark.parametrize(
    ("members", "what"),
    [
        ({"xl/workbook.xml": b"<w/>", "xl/worksheets/sheet1.xml": b" " * 20_000_000}, "packed 150-fold"),
        ({"xl/workbook.xml": b"<w/>", **{f"xl/{k}.xml": b"" for k in range(2001)}}, "2,002 parts"),
        ({"xl/workbook.xml": b'<!DOCTYPE x [<!ENTITY a "aaaa">]><w>&a;</w>'}, "declares entities"),
        ({"xl/workbook.xml": "<w/>".encode("utf-16")}, "not written in UTF-8"),
        ({"readme.txt": b"hello"}, "no workbook"),
    ],
    ids=["blown up", "parts", "entities", "encoding", "archive"],
)
def test_a_workbook_that_does_harm_is_refused_before_it_is_unpacked(tmp_path, monkeypatch, members, what):
    monkeypatch.setattr("openpyxl.load_workbook", lambda *_, **__: pytest.fail("was unpacked"))
    with pytest.raises(FileError, match=what):
        read_orders(_packed(tmp_path / "bomb.xlsx", members))


def test_a_workbook_that_unpacks_to_too_much_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("compare.readers.orderbook_files._MAX_UNPACKED", 1000)
    with pytest.raises(FileError, match="unpacks to over"):
        read_orders(_packed(tmp_path / "big.xlsx", {"xl/workbook.xml": b"<w/>" * 300}))


def test_a_cell_far_out_on_a_sheet_does_not_fill_the_memory(workbook):
    """Spreadsheets have 16,384 columns; a reader that fills up to a far cell holds them all for every row."""
    path = workbook([["run_length"], [500]])
    made = openpyxl.load_workbook(path)
    made.active["XFD3"] = 1
    made.save(path)
    table = read_orders(path)
    assert table.row.tolist() == [2]


@PROPERTY
@given(damage=st.lists(st.tuples(st.integers(0, 5000), st.integers(0, 255)), min_size=1, max_size=5))
def test_a_damaged_workbook_is_read_or_refused(workbook, tmp_path, damage):
    """A download that broke off, or a file that somebody tampered with, ends in a sentence too."""
    raw = bytearray(workbook([["order", "run_length"], *([f"A{k}", 500] for k in range(20))]).read_bytes())
    for place, value in damage:
        raw[place % len(raw)] = value
    path = tmp_path / "damaged.xlsx"
    path.write_bytes(raw)
    try:
        table = read_orders(path)
    except EvenrunError:
        return
    assert len(table.waits) == len(table)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"\xd0\xcf\x11\xe0" + b"\0" * 600, "old or a locked workbook"),
        (b"\x1f\x8b\x08\0", "packed file"),
        (b"run_length\n\0\0\0\n", "no text file"),
        (b"PK\x03\x04 broken", "damaged"),
        (b"run_length\n" + b"1" * 300_000 + b"\n", "more than 262,144 characters"),
        (b'run_length,order\n1,"' + b"x\n" * 80_000, "never closed"),
    ],
    ids=["old", "gzip", "binary", "damaged", "one line", "open quotation"],
)
def test_a_file_of_another_kind_is_refused_in_a_sentence(book, content, what):
    with pytest.raises(EvenrunError, match=what):
        book(content)


def test_a_file_with_too_many_rows_is_refused(book):
    with pytest.raises(FileError, match="over 10 rows"):
        book("run_length\n" + "5\n" * 12, max_rows=10)


def test_a_file_that_is_not_there_is_an_error_of_ours(tmp_path):
    with pytest.raises(FileError, match="can't be read"):
        read_orders(tmp_path / "none.csv")


@PROPERTY
@given(
    content=st.one_of(st.binary(max_size=300), st.text(max_size=200).map(str.encode)),
    name=st.sampled_from(["", "PK\x03\x04"]),
)
def test_any_bytes_are_read_or_refused(tmp_path, content, name):
    """A file that somebody sends may be anything; it must never end in a trace of the program."""
    path = tmp_path / "any.csv"
    path.write_bytes(name.encode() + content)
    try:
        table = read_orders(path)
    except EvenrunError:
        return
    assert len(table.waits) == len(table)


@PROPERTY
@given(data=st.data())
def test_a_damaged_book_loses_no_row(tmp_path, data):
    """Rows in = rows fit to be computed + rows with a finding, whatever is put into whichever cell."""
    with DEMO.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    for _ in range(data.draw(st.integers(1, 6))):
        row = data.draw(st.integers(1, len(rows) - 1))
        place = data.draw(st.integers(0, len(rows[0]) - 1))
        rows[row][place] = data.draw(
            st.sampled_from(["", "-1", "x", "1,5", "1.5", "1e99", "12.000", "=A1", "C0001", " "])
        )
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    path = tmp_path / "orders.csv"
    path.write_text(out.getvalue(), encoding="utf-8")
    table = read_orders(path)
    assert len(table) == 20
    if any(f.waits and f.row is None for f in table.findings):
        assert table.waits.all()
    else:
        assert set(table.row[table.waits].tolist()) == {f.row for f in table.findings if f.waits}


# -- on the way out ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", " =1", "\u00a0=1", "＝1", "|cmd", "%0a", "\n=1", "\0=1"]
)
def test_what_a_spreadsheet_would_run_is_made_text(text):
    """The list of signs follows the OWASP page on CSV injection (=, +, -, @, tab, carriage return), and more."""
    assert safe_text(text).startswith("'")


@pytest.mark.parametrize("text", ["", "C0001", "a=b", "carton 7", "Länge", "'quoted"])
def test_plain_text_stays_as_it_is(text):
    assert safe_text(text) == text


def test_findings_go_out_as_a_table_that_runs_nothing(book):
    """What a cell held comes back with its finding, and with it whatever somebody wrote there."""
    table = book("run_length;style\n500;=HYPERLINK(1)\n")
    (row,) = csv.DictReader(io.StringIO(findings_csv(table.findings)))
    assert (row["row"], row["column"], row["code"], row["waits"]) == ("2", "style", "book.unknown_style", "yes")
    assert row["value"] == "'=HYPERLINK(1)"


@PROPERTY
@given(texts=st.tuples(*[st.text(max_size=30)] * 4))
def test_no_text_of_a_finding_starts_like_a_formula(texts):
    message, remedy, column, value = texts
    (row,) = findings_rows([BookFinding("book.any", message, remedy, 1, column, value)])
    assert not any(
        str(cell).lstrip(" \u00a0")[:1] in tuple("=+-@\t\r") and str(cell) for cell in row if str(cell).strip()
    )


# -- the invented books -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [20, 2000])
def test_the_invented_books_are_read_without_a_finding(count):
    table = read_orders(DATA / "demo" / f"orders_{count}.csv")
    assert len(table) == count
    assert table.findings == ()


@pytest.mark.parametrize("count", [20, 2000])
def test_the_script_writes_the_invented_books(tmp_path, count):
    """Who doubts the books can make them again."""
    import importlib.util

    script = DATA.parent / "docs" / "make_demo_orders.py"
    spec = importlib.util.spec_from_file_location("make_demo_orders", script)
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    maker.write(maker.orders(count, maker.SEED + count), tmp_path / "orders.csv")
    assert (tmp_path / "orders.csv").read_bytes() == (DATA / "demo" / f"orders_{count}.csv").read_bytes()
