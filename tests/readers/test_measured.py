"""Measurements out of a CSV: read whole, or refused in one line with row, column and what to do."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.errors import EvenrunError, FileError, InputError
from compare.readers.measured import MAX_BYTES, read_make_ready, read_measured_sheets

HEAD = "name,cutting_m,perforating_m,strokes,corner_load,power_w,caliper_mm,seconds"
ROW = "plain,10.5,,20,30,600,0.4,4.64"


@pytest.fixture
def read(tmp_path):
    """Write a text and read it as measured sheets."""

    def reading(text: str | bytes, reader=read_measured_sheets):
        path = tmp_path / "sheets.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return reading_of(path, reader)

    def reading_of(path, reader):
        return reader(path)

    return reading


def _line(error: EvenrunError) -> str:
    text = str(error)
    assert "\n" not in text
    assert text.isprintable()
    return text


def _changed(place: int, cell: str) -> str:
    cells = ROW.split(",")
    cells[place] = cell
    return f"{HEAD}\n{ROW}\n{','.join(cells)}\n"


# -- what is read -----------------------------------------------------------------------------------------------------


def test_rows_are_read_with_their_numbers_names_and_digest(read):
    text = f"{HEAD}\n{ROW}\n\n{ROW}\n"
    table = read(text)
    assert (table.rows, table.names) == ((2, 4), ("plain", "plain"))
    assert table.sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert table.columns["cutting_m"].tolist() == [10.5, 10.5]


def test_an_empty_length_is_none_of_that_kind(read):
    assert read(f"{HEAD}\n{ROW}\n").columns["perforating_m"].tolist() == [0.0]


@pytest.mark.parametrize("heading", ["Cutting [m]", " CUTTING_M ", "cutting (m)", "Cutting m"])
def test_capitals_and_brackets_around_a_unit_make_no_difference(read, heading):
    assert read(f"{HEAD.replace('cutting_m', heading)}\n{ROW}\n").columns["cutting_m"].tolist() == [10.5]


def test_a_table_with_semicolons_may_have_decimal_commas(read):
    text = f"{HEAD}\n{ROW}\n".replace(",", ";").replace(".", ",")
    assert read(text).columns["seconds"].tolist() == [4.64]


def test_the_mark_of_utf_8_at_the_start_is_no_part_of_a_heading(read):
    assert read(f"\ufeff{HEAD}\n{ROW}\n").names == ("plain",)


def test_a_column_that_is_not_known_is_left_out_and_said(read):
    table = read(f"{HEAD},operator\n{ROW},somebody\n")
    assert [f.code for f in table.findings] == ["calibrate.ignored_column"]


# -- headings ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heading", "instead", "said"),
    [
        ("cutting_m", "cutting_mm", "the heading 'cutting_mm' is not in m.*call the column cutting_m"),
        ("cutting_m", "Cutting [mm]", "is not in m.*call the column cutting_m"),
        ("cutting_m", "cutting", "doesn't say so.*call the column cutting_m"),
        ("caliper_mm", "caliper_um", "is not in mm.*call the column caliper_mm"),
        ("caliper_mm", "Caliper [µm]", "is not in mm.*call the column caliper_mm"),
        ("power_w", "power_kW", "is not in W.*call the column power_w"),
        ("seconds", "time_ms", "is not in s.*call the column seconds"),
        ("seconds", "minutes", "call the column seconds"),
        ("seconds", "ms", "call the column seconds"),
        ("strokes", "stroke", "there is no column 'stroke'; did you mean strokes"),
    ],
)
def test_another_unit_in_a_heading_is_refused_with_the_right_one(read, heading, instead, said):
    with pytest.raises(InputError, match=said) as error:
        read(f"{HEAD.replace(heading, instead)}\n{ROW}\n")
    _line(error.value)


@pytest.mark.parametrize("heading", ["strokes", "corner_load", "caliper_mm", "seconds"])
def test_a_missing_column_is_named(read, heading):
    with pytest.raises(InputError, match=f"there is no column {heading}"):
        read(f"{HEAD.replace(heading, 'remark')}\n{ROW}\n")


def test_a_table_without_any_length_is_refused(read):
    with pytest.raises(InputError, match="no column of lengths; give at least one of cutting_m"):
        read("strokes,corner_load,power_w,caliper_mm,seconds\n1,2,600,0.4,3\n")


def test_a_heading_that_is_there_twice_is_refused(read):
    with pytest.raises(InputError, match="'seconds' is there twice"):
        read(f"{HEAD},seconds\n{ROW},5\n")


def test_a_log_of_make_readies_is_told_where_it_belongs(read):
    with pytest.raises(InputError, match="give the file after --make-ready"):
        read("hours,ups,first\n2,8,1\n")


def test_measured_sheets_are_no_log(read):
    with pytest.raises(InputError, match="give the file without --make-ready"):
        read(f"{HEAD}\n{ROW}\n", read_make_ready)


# -- cells ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "cell", "said"),
    [
        (5, "0", "row 3, column power_w: 0 W can't be; give a number above 0"),
        (5, "-600", "column power_w: -600 W can't be"),
        (5, "0.6", "column power_w: 0.6 W is not from 1 to 50,000 W; check it; is it in kW"),
        (6, "400", "column caliper_mm: 400 mm is not from 0.02 to 10 mm; check it; is it in um"),
        (6, "0.0004", "column caliper_mm: 0.0004 mm is not from"),
        (7, "0", "column seconds: 0 s can't be"),
        (7, "", "column seconds: the cell is empty"),
        (7, "four", "column seconds: 'four' is not a number"),
        (7, "4.6 s", "column seconds: '4.6 s' is not a number"),
        (7, "nan", "column seconds: 'nan' is not a number"),
        (7, "inf", "column seconds: 'inf' is not a number"),
        (7, "=A1*2", "'=A1.2' is a formula, and none is worked out"),
        (3, "0", "column strokes: 0 is not from 1"),
        (1, "-1", "column cutting_m: -1 m can't be"),
        (1, "99999", "column cutting_m: 99999 m is not from 0 to 10,000 m; check it; is it in mm"),
    ],
)
def test_a_cell_that_can_not_be_is_refused_with_row_and_column(read, place, cell, said):
    with pytest.raises(InputError, match=said) as error:
        read(_changed(place, cell))
    assert "row 3" in _line(error.value)


def test_a_decimal_comma_between_commas_is_noticed(read):
    with pytest.raises(InputError, match="row 2: this row has 9 cells for 8 headings; is a decimal comma in it"):
        read(f"{HEAD}\nplain,10,5,,20,30,600,0.4,4.64\n")


def test_a_sheet_without_any_length_is_refused(read):
    with pytest.raises(InputError, match="row 3: this sheet has no length"):
        read(_changed(1, ""))


def test_a_number_that_may_be_a_thousand_is_not_guessed(read):
    text = "cutting_m;strokes;corner_load;power_w;caliper_mm;seconds\n1.234;2;3;600;1;4\n"
    with pytest.raises(InputError, match=r"'1\.234' may be a thousand or a decimal number"):
        read(text)


def test_signs_that_steer_a_terminal_stay_out_of_messages(read):
    with pytest.raises(InputError) as error:
        read(_changed(7, "\x1b[31m4"))
    assert "'?[31m4'" in _line(error.value)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("120,8,1", "column hours: 120 h is not from 0.01 to 48 h; check it; is it in minutes"),
        ("2,8.5,1", "column ups: 8.5 is not a whole number"),
        ("2,8,2", "column first: 2 is not from 0 to 1; check it; 1 is a new tool set"),
        ("2,8,yes", "column first: 'yes' is not a number"),
    ],
)
def test_a_log_is_checked_likewise(read, row, said):
    with pytest.raises(InputError, match=said):
        read(f"hours,ups,first\n{row}\n", read_make_ready)


# -- files ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b" \n\n", "the file is empty"),
        (HEAD.encode() + b"\n", "there is no row below the headings"),
        (HEAD.encode() + b"\nM\xfchle,1,,2,3,600,0.4,1\n", "line 2 is not UTF-8 text; save the table as CSV in UTF-8"),
        (HEAD.encode() + b"\nx\0,1,,2,3,600,0.4,1\n", "null characters"),
        (HEAD.encode() + b'\n"x,1,,2,3,600,0.4,1\n', "look for a quotation mark that is never closed"),
        (b"PK\x03\x04rest", "this is a workbook; save its sheet as CSV"),
        (b"x" * (MAX_BYTES + 1), "the file is over 5 MB"),
        (f"{HEAD}\n".encode() + b"x,1,,2,3,600,1,1\n" * 100_001, "the file has over 100,000 rows"),
    ],
    ids=["empty", "blank", "headings only", "another encoding", "null", "open quote", "workbook", "huge", "many rows"],
)
def test_a_file_that_is_no_table_is_refused(read, content, said):
    with pytest.raises((FileError, InputError), match=said) as error:
        read(content)
    _line(error.value)


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    with pytest.raises(FileError, match="there is no such file"):
        read_measured_sheets(tmp_path / "nowhere.csv")
    with pytest.raises(FileError, match="this is a folder"):
        read_measured_sheets(tmp_path)


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet=st.sampled_from(list(HEAD + ROW + '"\n;\t\x1b\ufeff\u2028=,.')), max_size=300))
def test_whatever_is_in_a_file_it_is_read_or_refused_in_one_line(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("fuzz") / "sheets.csv"
    path.write_text(f"{HEAD}\n{text}", encoding="utf-8", newline="")
    try:
        table = read_measured_sheets(path)
    except EvenrunError as error:
        _line(error)
    else:
        assert len(table) > 0
