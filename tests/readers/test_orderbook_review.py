"""Order books as a sceptic sends them: every row is computed or named, and what is wrong is said in plain words."""

from __future__ import annotations

import csv
import itertools
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compare.errors import InputError
from compare.readers.orderbook import OrderTable, read_orders
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
    monkeypatch.setattr("compare.readers.orderbook_files.CHUNK", chunk)
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
    monkeypatch.setattr("compare.readers.orderbook_files.CHUNK", 2)
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
        ("width_mm", "7.2", "7.2 mm is unlikely"),
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
    assert "1,000 cells of this column, in rows 2, 3, 4, 5, 6 and more" in found.message
    assert "cm" in found.remedy
    assert not table.waits.any()


def test_both_ends_of_a_column_are_two_notes(book):
    table = book("carton;run_length;width_mm\nC1;1000;7\nC2;1000;7000\n")
    assert [(f.code, f.row) for f in table.findings] == [("book.unlikely_size", 2), ("book.unlikely_size", 3)]


def test_a_book_without_cartons_says_who_pays_for_tools(book):
    found = only(book("run_length\n" + "1000\n" * 10), "book.no_carton_column")
    assert (found.row, found.column, found.waits) == (None, "carton", False)


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


def test_a_die_that_is_owned_in_one_row_and_left_open_in_another_is_noted(book):
    table = book("carton;run_length;die_owned\nC1;500;1\nC1;600;\nC2;500;1\nC2;600;0\nC3;500;\nC3;600;\n;1;1\n;2;\n")
    found = only(table, "book.owned_by_row")
    assert (found.row, found.column, found.value, found.waits) == (3, "die_owned", "", False)
    assert "1 carton has" in found.message
    assert "'C1', left open in rows 3" in found.message
