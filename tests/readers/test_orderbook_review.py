"""Order books as a sceptic sends them: every row is computed or named, and what is wrong is said in plain words."""

from __future__ import annotations

import csv
import itertools
import re
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from compare.errors import FileError, InputError
from compare.readers.orderbook import OrderTable, read_orders
from compare.readers.orderbook_columns import template_columns, template_csv
from compare.readers.orderbook_findings import BookFinding
from tests.random_jobs import PROPERTY

SEPARATORS = pytest.mark.parametrize("mark", [",", ";", "\t", "|"], ids=["comma", "semicolon", "tab", "bar"])


@pytest.fixture
def book(tmp_path):
    """Read an order book written here: ``book("run_length\\n100")``."""
    numbers = itertools.count()

    def read(text: str | bytes, **how: Any) -> OrderTable:
        path = tmp_path / f"orders{next(numbers)}.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_orders(path, **how)

    return read


def codes(table: OrderTable) -> list[str]:
    return [f.code for f in table.findings]


def only(table: OrderTable, code: str) -> BookFinding:
    (found,) = [f for f in table.findings if f.code == code]
    return found


def orders(count: int, mark: str = ";", end: str = "\n") -> list[str]:
    """Return the lines of a book whose last column nothing is read from."""
    rows = [["order", "run_length", "customer"], *([f"A{k}", "500", f"Customer {k}"] for k in range(1, count + 1))]
    return [mark.join(row) + end for row in rows]


# -- quotation marks --------------------------------------------------------------------------------------------------


@SEPARATORS
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["LF", "CRLF", "CR"])
def test_a_quotation_mark_left_open_is_refused_with_its_line(book, mark, end):
    """One stray mark before a name would make one cell of all orders after it."""
    lines = orders(30, mark, end)
    lines[4] = lines[4].replace("Customer", '"Customer')
    with pytest.raises(InputError, match="quotation mark in line 5 is never closed"):
        book("".join(lines))


@pytest.mark.parametrize("cell", ["order", "run_length", "customer"])
def test_a_mark_left_open_is_refused_in_whichever_column_it_stands(book, cell):
    lines = orders(5)
    place = lines[0].strip().split(";").index(cell)
    cells = lines[3].split(";")
    cells[place] = '"' + cells[place]
    lines[3] = ";".join(cells)
    with pytest.raises(InputError, match="in line 4 is never closed"):
        book("".join(lines))


@pytest.mark.parametrize("ending", ["\n", ""])
def test_a_mark_left_open_in_the_last_line_is_refused(book, ending):
    """Nothing is lost here yet; but the next row that somebody adds would be."""
    text = "".join(orders(3)).rstrip("\n").replace("Customer 3", '"Customer 3')
    with pytest.raises(InputError, match="in line 4 is never closed"):
        book(text + ending)


def test_a_mark_that_is_all_of_the_last_line_is_refused(book):
    with pytest.raises(InputError, match="in line 3 is never closed"):
        book('run_length\n500\n"')


def test_lines_of_cells_before_it_count_for_the_line_of_an_open_mark(book):
    """An editor counts lines, also those inside cells."""
    text = 'order;run_length;customer\nA1;500;"two\nlines"\n"A\n2";500;"open\nA3;500;x\n'
    with pytest.raises(InputError, match="in line 5 is never closed"):
        book(text)


def test_a_mark_left_open_in_the_headings_is_refused(book):
    with pytest.raises(InputError, match="in line 1 is never closed"):
        book('run_length;"customer\n500;x\n600;y\n')


@pytest.mark.parametrize("chunk", [1, 2, 3, 4, 5])
def test_an_open_mark_is_found_wherever_portions_end(book, monkeypatch, chunk):
    """Portions end at any row; that of the open mark may be the first or last of one."""
    monkeypatch.setattr("compare.readers.orderbook_rows.CHUNK", chunk)
    lines = orders(4)
    assert book("".join(lines)).row.tolist() == [2, 3, 4, 5]
    lines[3] = lines[3].replace("Customer", '"Customer')
    with pytest.raises(InputError, match="in line 4 is never closed"):
        book("".join(lines))


def test_a_long_cell_that_begins_with_a_mark_is_refused_with_its_line(book):
    """Here the rows after the mark are more than any cell may hold."""
    lines = orders(20_000)
    lines[4] = lines[4].replace("Customer", '"Customer')
    with pytest.raises(InputError, match="line 5") as refused:
        book("".join(lines))
    assert "never closed" in str(refused.value)


@SEPARATORS
def test_two_stray_marks_name_the_lines_between_them(book, mark):
    """The second closes the first, so the file looks whole, and eight orders are in one cell."""
    lines = orders(30, mark)
    lines[4] = lines[4].replace("Customer", '"Customer')
    lines[12] = lines[12].replace("Customer", '"Customer')
    table = book("".join(lines))
    found = only(table, "book.joined_lines")
    assert (found.row, found.column, found.waits) == (5, "customer", True)
    assert "line 5 to line 13" in found.message
    assert "line 5" in found.remedy
    assert table.row[table.waits].tolist() == [5]


def test_stray_marks_in_a_column_that_is_read_name_the_lines_too(book):
    lines = orders(9)
    lines[2], lines[5] = lines[2].replace("A2", '"A2'), lines[5].replace("A5", '"A5')
    assert "line 3 to line 6" in only(book("".join(lines)), "book.joined_lines").message


def test_two_marks_of_neighbouring_rows_name_both_lines(book):
    """From the last cell of one row to the first of the next there is no separator, but the row is too long."""
    found = only(book('order;run_length;customer\nA1;500;"x\nA2";600;y\nA3;700;z\n'), "book.joined_lines")
    assert found.row == 2
    assert "line 2 to line 3" in found.message


def test_lines_are_counted_over_portions(book, monkeypatch):
    monkeypatch.setattr("compare.readers.orderbook_rows.CHUNK", 2)
    lines = orders(9)
    lines[2] = lines[2].replace("Customer 2", '"Customer\n2"')
    lines[6], lines[7] = (lines[k].replace("Customer", '"Customer') for k in (6, 7))
    found = only(book("".join(lines)), "book.joined_lines")
    assert found.row == 7, "as a spreadsheet counts: a row with a line break in it is one"
    assert "line 8 to line 9" in found.message


def test_stray_marks_in_the_headings_stop_the_book(book):
    """Which rows are within them nobody knows, and no row has a number to be named by."""
    table = book('run_length;"customer\n500;x\n600;y";board\n700;z;\n')
    assert only(table, "book.joined_lines").row is None
    assert table.waits.all()


def test_a_cell_of_two_lines_is_fine(book):
    """A name with a line break in it is common, and no order is lost by it."""
    table = book('order;run_length;customer\nA1;500;"Invented\r\nCartons"\nA2;600;x\n')
    assert codes(table) == ["book.unused_column"]
    assert table.row.tolist() == [2, 3], "a spreadsheet shows the cell in one row"


def test_a_heading_of_two_lines_is_fine(book):
    assert book('order;"run\nlength"\nA1;500\n').numbers["demand.run_length"].tolist() == [500]


@pytest.mark.parametrize("cell", ['"a;b"', '"say ""x"" twice"', 'x "y" z', '"Inv""ented" x', '""'])
def test_marks_within_one_line_are_fine(book, cell):
    table = book(f"order;run_length;customer\nA1;500;{cell}\nA2;600;x\n")
    assert (codes(table), len(table)) == (["book.unused_column"], 2)


@PROPERTY
@given(
    places=st.lists(st.tuples(st.integers(1, 12), st.integers(0, 2), st.booleans()), max_size=4),
    mark=st.sampled_from([",", ";", "\t", "|"]),
)
def test_stray_marks_lose_no_order_without_a_word(tmp_path, places, mark):
    """Every order is read, or the file is refused, or a finding names lines that hold it."""
    rows = [line.rstrip("\n").split(mark) for line in orders(12, mark)]
    for row, place, before in places:
        cell = rows[row][place]
        rows[row][place] = f'"{cell}' if before else f'{cell}"'
    path = Path(tmp_path) / "orders.csv"
    path.write_text("\n".join(map(mark.join, rows)) + "\n", encoding="utf-8", newline="")
    try:
        table = read_orders(path)
    except InputError:
        return
    joined = [f for f in table.findings if f.code == "book.joined_lines"]
    spans = [re.findall(r"line (\d+)", f.message) for f in joined]
    named = {line for first, last in spans for line in range(int(first), int(last) + 1)}
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.reader(file, delimiter=mark)
        first_lines = [before + 1 for before, _ in zip(_lines_before(reader), range(len(table) + 1), strict=False)]
    assert set(range(2, 14)) <= set(first_lines) | named
    assert {f.row for f in joined} <= set(table.row[table.waits].tolist())


def _lines_before(reader: Any) -> Any:
    """Yield how many lines were read before each record."""
    before = 0
    for _ in reader:
        yield before
        before = reader.line_num


# -- doubts -----------------------------------------------------------------------------------------------------------

HEADINGS = "carton;run_length;length [cm];width_mm;sheet_width_mm;sheet_length_mm;grammage_g_m2"
USUAL = ["C", "1000", "8", "60", "1020", "720", "300"]


@pytest.mark.parametrize(
    ("heading", "cell", "said"),
    [
        ("width_mm", "7.2", "7.2 mm is below 10 mm, which is unlikely"),
        ("width_mm", "1501", "1,501 mm"),
        ("length [cm]", "0.9", "9 mm"),
        ("length [cm]", "151", "1,510 mm"),
        ("sheet_width_mm", "102", "102 mm"),
        ("sheet_length_mm", "7200", "7,200 mm"),
        ("run_length", "5000001", "5,000,001 cartons"),
        ("grammage_g_m2", "30", "30 g/m2"),
        ("grammage_g_m2", "1200", "1,200 g/m2"),
    ],
)
def test_an_unlikely_size_is_noted_and_computed(book, heading, cell, said):
    """Limits of plausibility (common practice, no source): a wrong unit is likelier than such a carton."""
    cells = dict(zip(HEADINGS.split(";"), USUAL, strict=True)) | {heading: cell}
    found = only(book(f"{HEADINGS}\n{';'.join(USUAL)}\n{';'.join(cells.values())}\n"), "book.unlikely_size")
    assert (found.row, found.column, found.value, found.waits) == (3, heading, cell, False)
    assert said in found.message
    assert "?" in found.remedy


@pytest.mark.parametrize(
    ("heading", "cell"),
    [
        ("width_mm", "10"), ("width_mm", "1500"), ("length [cm]", "1"), ("length [cm]", "150"),
        ("sheet_width_mm", "250"), ("sheet_length_mm", "2000"), ("run_length", "5000000"), ("run_length", "1"),
        ("grammage_g_m2", "100"), ("grammage_g_m2", "1000"),
    ],
)  # fmt: skip
def test_sizes_at_the_limits_are_nothing_to_wonder_at(book, heading, cell):
    cells = dict(zip(HEADINGS.split(";"), USUAL, strict=True)) | {heading: cell}
    assert book(f"{HEADINGS}\n{';'.join(cells.values())}\n").findings == ()


def test_a_column_in_a_wrong_unit_is_one_note(book):
    """Thousands of notes that say the same are read by nobody."""
    table = book("carton;run_length;width_mm\n" + "".join(f"C{k};1000;7\n" for k in range(1000)))
    found = only(table, "book.unlikely_size")
    assert "1,000 cells, the first with 7 mm, are below 10 mm" in found.message
    assert "rows 2, 3, 4, 5, 6 and more" in found.message
    assert "cm" in found.remedy
    assert not table.waits.any()


def test_both_ends_of_a_column_are_two_notes(book):
    table = book("carton;run_length;width_mm\nC1;1000;7\nC2;1000;7000\n")
    assert [(f.code, f.row) for f in table.findings] == [("book.unlikely_size", 2), ("book.unlikely_size", 3)]


def test_a_book_without_cartons_says_who_pays_for_tools(book):
    found = only(book("run_length\n" + "1000\n" * 10), "book.no_carton_column")
    assert (found.row, found.column, found.waits) == (None, "carton", False)


def test_a_column_of_cartons_that_is_empty_says_who_pays_for_tools(book):
    found = only(book("Artikel;run_length\n" + ";1000\n" * 10), "book.no_carton_column")
    assert (found.column, found.waits) == ("Artikel", False)


def test_a_few_orders_need_no_carton(book):
    assert book("run_length\n" + "1000\n" * 9).findings == ()


def test_several_rows_of_a_carton_with_several_orders_a_year_are_noted(book):
    """Who lists four orders of a year and writes 4 into each has sixteen."""
    table = book(
        "carton;run_length;orders_per_year\nC0;500;4\nC1;500;4\nC1;500;4\nC2;500;1\nC2;500;1\n;500;4\n;500;4\n"
    )
    found = only(table, "book.yearly_by_row")
    assert (found.row, found.column, found.value, found.waits) == (3, "orders_per_year", "4", False)
    assert "1 carton has" in found.message
    assert "'C1' in rows 3, 4" in found.message


def test_rows_of_other_runs_are_other_orders_of_the_year(book):
    assert book("carton;run_length;orders_per_year\nC1;500;4\nC1;600;4\n").findings == ()


def test_a_die_that_is_owned_in_one_row_and_left_open_in_another_is_noted(book):
    table = book("carton;run_length;die_owned\nC1;500;1\nC1;600;\nC2;500;1\nC2;600;0\nC3;500;\nC3;600;\n;1;1\n;2;\n")
    found = only(table, "book.owned_by_row")
    assert (found.row, found.column, found.value, found.waits) == (3, "die_owned", "", False)
    assert "1 carton has" in found.message
    assert "'C1', left open in rows 3" in found.message


# -- formulas ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def workbook(tmp_path):
    """Write a workbook of rows and return its path; formulas have no results then."""

    def write(*rows: list[Any]) -> Path:
        made = openpyxl.Workbook()
        for row in rows:
            made.active.append(row)
        path = tmp_path / "orders.xlsx"
        made.save(path)
        return path

    return write


def solved(path: Path, old: str, new: str) -> Path:
    """Store the result of a formula in the sheet, as a spreadsheet does when it saves."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    sheet = parts["xl/worksheets/sheet1.xml"].decode()
    changed, count = re.subn(old, new, sheet)
    assert count == 1
    parts["xl/worksheets/sheet1.xml"] = changed.encode()
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


@pytest.mark.parametrize("column", ["run_length", "carton", "die_owned", "due", "order"])
def test_a_formula_without_a_result_is_named_and_not_taken_for_an_empty_cell(workbook, column):
    """A cell that looks empty would be given the plant's value without a word."""
    rows = [
        ["order", "carton", "run_length", "die_owned", "due"],
        ["A1", "C1", 500, 1, None],
        ["A2", "C2", 500, 0, None],
    ]
    rows[2][rows[0].index(column)] = "=1+1"
    table = read_orders(workbook(*rows))
    (found,) = table.findings
    assert (found.code, found.row, found.column, found.value) == ("book.formula", 3, column, "=1+1")
    assert "formula without a result" in found.message
    assert "save it" in found.remedy
    assert table.waits.tolist() == [False, True]


def test_a_row_of_formulas_alone_is_a_row(workbook):
    """All its cells look empty, and empty rows are left out."""
    table = read_orders(workbook(["run_length", "carton"], ["=1+1", "=A1"], [500, "C1"]))
    assert table.row.tolist() == [2, 3]
    assert table.waits.tolist() == [True, False]


def test_a_formula_in_a_column_that_is_not_read_does_no_harm(workbook):
    table = read_orders(workbook(["run_length", "colour of the sky"], [500, "=1+1"]))
    assert codes(table) == ["book.unused_column"]


def test_a_heading_that_is_a_formula_without_a_result_stops_the_book(workbook):
    """What its column holds nobody knows, and it would be left out without a word."""
    table = read_orders(workbook(["run_length", '="car"&"ton"'], [500, "C1"]))
    assert (only(table, "book.formula").row, table.waits.all()) == (None, True)


def test_a_formula_with_a_result_is_read(workbook):
    path = solved(workbook(["run_length"], ["=1+1"]), r"(<f>1\+1</f>)<v ?(/>|></v>)", r"\1<v>2</v>")
    assert (read_orders(path).numbers["demand.run_length"].tolist(), read_orders(path).findings) == ([2], ())


def test_a_formula_whose_result_is_an_empty_text_is_an_empty_cell(workbook):
    path = workbook(["run_length", "carton"], [500, '=""'])
    path = solved(path, r'<c r="B2">(<f>""</f>)<v ?(/>|></v>)', r'<c r="B2" t="str">\1<v></v>')
    assert read_orders(path).findings == ()


def test_a_formula_is_mended_like_any_cell(workbook):
    path = workbook(["run_length"], ["=1+1"], [500])
    table = read_orders(path, mended={(2, "run_length"): "600"})
    assert (table.numbers["demand.run_length"].tolist(), table.findings) == ([600, 500], ())


@pytest.mark.parametrize("column", ["order", "carton"])
def test_the_error_of_a_formula_is_no_name(book, column):
    """Two orders whose look-up failed would be one carton, and share a die."""
    table = book(f"{column};run_length\n#N/A;500\n#N/A;600\nK1;700\n")
    assert [(f.code, f.row, f.column) for f in table.findings] == [
        ("book.formula", 2, column),
        ("book.formula", 3, column),
    ]


# -- words and dates --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("yes", 1), ("Ja", 1), ("oui", 1), ("sí", 1), ("si", 1), ("sì", 1), ("tak", 1), ("x", 1), ("X", 1), ("TRUE", 1),
        ("no", 0), ("NEIN", 0), ("non", 0), ("nee", 0), ("nie", 0), ("false", 0), (" ja ", 1),
    ],
)  # fmt: skip
def test_yes_and_no_are_known_in_the_languages_of_the_headings(book, cell, value):
    table = book(f"run_length;die_owned\n500;{cell}\n")
    assert (table.numbers["tooling.owned"].tolist(), table.findings) == ([value], ())


def test_another_word_for_yes_is_asked_for(book):
    found = only(book("run_length;die_owned\n500;perhaps\n"), "book.not_a_number")
    assert (found.message, found.remedy) == ("'perhaps' is neither yes nor no", "give 1 or 0")


def test_yes_is_no_number_of_cartons(book):
    assert codes(book("run_length\nx\n")) == ["book.not_a_number"]


@pytest.mark.parametrize(
    ("cell", "route"),
    [
        ("Stanze", "die"), ("Stanzform", "die"), ("forme de découpe", "die"), ("troquel", "die"), ("fustella", "die"),
        ("stansvorm", "die"), ("wykrojnik", "die"), ("DIE", "die"), ("Laser", "laser"), ("láser", "laser"),
    ],
)  # fmt: skip
def test_routes_are_known_in_the_languages_of_the_headings(book, cell, route):
    table = book(f"run_length;route\n500;{cell}\n")
    assert (table.route.at(0), table.findings) == (route, ())


def test_an_unknown_route_is_told_what_routes_there_are(book):
    found = only(book("run_length;route\n500;plotter\n"), "book.unknown_word")
    assert (found.message, found.remedy) == ("'plotter' is no route", "give die or laser")


def test_an_unknown_word_is_told_its_column(book):
    found = only(book("run_length;Laufrichtung\n500;schräg\n"), "book.unknown_word")
    assert "'schräg' is no word that 'Laufrichtung' can be" in found.message
    assert "width" in found.remedy


@pytest.mark.parametrize("cell", ["27.08.26", "1/2/26", "26-08-27"])
def test_a_year_of_two_digits_is_asked_for_as_such(book, cell):
    found = only(book(f"run_length;due\n500;{cell}\n"), "book.not_a_date")
    assert (found.message, found.remedy) == (f"'{cell}' has a year of two digits", "write the year with four digits")


def test_what_is_out_of_range_is_named_by_its_heading(book):
    """Who fills in a table knows its headings, not the names of inputs."""
    found = only(book("Auflage\n0\n"), "book.out_of_range")
    assert "'Auflage'" in found.message
    assert "demand." not in found.message


# -- rows that are no orders ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("marked", [True, False], ids=["as it is", "its first words deleted"])
def test_the_explanation_of_the_template_is_one_finding(book, marked):
    """It would be a finding in nearly each of its 48 cells."""
    explained = ("Delete this row. " if marked else "") + ",".join(f'"{c.meaning}"' for c in template_columns())
    good = ",".join("500" if c.name == "run_length" else "" for c in template_columns())
    if marked:
        explained = '"Delete this row. ' + explained.removeprefix("Delete this row. ").removeprefix('"')
    table = book(f"{template_csv()}{explained}\n{good}\n")
    (found,) = table.findings
    assert (found.code, found.row, found.remedy) == ("book.template_row", 2, "delete it")
    assert found.message == "row 2 is the template's own explanation"
    assert table.waits.tolist() == [True, False]


def test_a_title_above_the_headings_is_one_finding(book):
    """Whether it has separators of its own or none."""
    for title in ("Orders of 2026", "Orders of 2026;;", "Orders of 2026\n\nby customer"):
        table = book(f"{title}\n\norder;run_length;width_mm\nA1;1,5;40\nA2;500;40\n")
        (found,) = table.findings
        assert (found.code, found.row) == ("book.headings_row", None)
        assert f"headings seem to stand in row {title.count(chr(10)) + 3}" in found.message
        assert table.waits.all()
        assert len(table) == 3 + title.count("by")


@pytest.mark.parametrize("word", ["Total", "TOTAL:", "Summe", "gesamt", "somme", "suma", "totale", "Razem"])
def test_a_row_of_totals_waits_as_such(book, word):
    """With a plant that gives the rest it would be computed as the largest order of the book."""
    table = book(f"order;run_length;width_mm\nA1;500;40\nA2;500;40\n{word};1000;\n")
    (found,) = table.findings
    assert (found.code, found.row, found.message) == ("book.total_row", 4, "row 4 looks like a total")
    assert table.waits.tolist() == [False, False, True]
    assert np.isnan(table.numbers["demand.run_length"][2])


def test_a_total_is_known_in_the_second_column_where_the_first_is_empty(book):
    table = book("note;order;run_length\n;A1;500\n;Total;500\n")
    assert only(table, "book.total_row").row == 3


def test_a_customer_named_like_a_total_is_none(book):
    """Only what a row begins with says what it is."""
    table = book("order;customer;run_length\nA1;Total;500\n")
    assert codes(table) == ["book.unused_column"]


# -- files ------------------------------------------------------------------------------------------------------------


def test_garbage_named_as_a_workbook_is_a_damaged_workbook(tmp_path):
    path = tmp_path / "orders.xlsx"
    path.write_bytes(b"\x17\x00\x99" * 1000)
    with pytest.raises(FileError, match="the workbook is damaged"):
        read_orders(path)


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"run_length\n500\n5\x0000\n", 3),
        (b"run_length\r\n500\r\n5\x0000", 3),
        (b"run_length\r500\r5\x0000", 3),
        (b"\0", 1),
        (b"run_length\n" + b"500\n" * 400_000 + b"\0", 400_002),
    ],
)
def test_a_null_character_is_named_with_its_line(book, content, line):
    with pytest.raises(FileError, match=f"line {line} has a null character"):
        book(content)


def test_a_folder_is_named_with_its_path(tmp_path):
    with pytest.raises(FileError, match="this is a folder") as refused:
        read_orders(tmp_path)
    assert str(tmp_path) in str(refused.value)


def test_a_sheet_asked_of_a_csv_is_said_to_be_ignored(book):
    found = only(book("run_length\n500\n", sheet="Orders"), "book.no_sheets")
    assert "'Orders' is ignored" in found.message
    assert found.waits is False


# -- signs that steer a terminal --------------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", ["\x1b[31m", "\x07", "\u202e", "\u2066", "\x9b31m"])
@pytest.mark.parametrize(
    "text",
    [
        "run_length\n5{}00\n",
        "run_length;{}x\n500;1\n",
        "order;run_length\nA{0};1\nA{0};2\n",
        "run_length;board\n500;k{}\n",
    ],
    ids=["cell", "heading", "order", "board"],
)
def test_no_sentence_of_a_finding_steers_a_terminal(book, sign, text):
    """The value stays as the file has it, so that it can be found there."""
    table = book(text.format(sign))
    assert len(table.findings) > 0
    assert [f for f in table.findings if sign[0] in f.message + f.remedy] == []
    assert any(sign[0] in f.value + f.column for f in table.findings)


def test_letters_of_any_language_stay_in_a_sentence(book):
    found = only(book("run_length;Größe – ٣ 箱 é\n500;1\n"), "book.unused_column")
    assert "Größe – ٣ 箱 é" in found.message
