"""Numbers for people: no more digits than they carry."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_jobs import PROPERTY

from compare.present.numbers import NumberStyle, count, days, figures, places, whole

GERMAN = NumberStyle(decimal=",", group=".")
_value = st.floats(1e-4, 1e9)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (72.94, "72.9"),
        (1234.5, "1,234"),
        (0.04561, "0.0456"),
        (99.96, "100"),
        (9.996, "10.0"),
        (0.9996, "1.00"),
        (-72.94, "-72.9"),
        (0, "0"),
        (1e-9, "0.000000"),
        (123_456, "123,456"),
    ],
)
def test_a_number_is_shown_with_three_figures(value, text):
    assert figures(value) == text


@PROPERTY
@given(_value)
def test_what_is_shown_is_within_half_a_unit_of_the_last_figure(value):
    shown = float(figures(value).replace(",", ""))
    unit = 10 ** (math.floor(math.log10(value)) - 2)
    assert abs(shown - value) <= 0.5 * max(min(unit, 1), 1e-6) * (1 + 1e-9)


@PROPERTY
@given(_value)
def test_a_number_shown_once_more_reads_the_same(value):
    once = figures(value)
    assert figures(float(once.replace(",", ""))) == once


@pytest.mark.parametrize(("value", "text"), [(1234.5, "1,234"), (0.4, "0"), (1e6, "1,000,000")])
def test_a_whole_number_is_rounded(value, text):
    assert whole(value) == text


@pytest.mark.parametrize(
    ("value", "others", "text"),
    [(0.2, [88.2, 54.5], "0.2"), (88.2, [1234.0], "88"), (0.0, [], "0"), (0.00012, [0.01], "0.0001")],
)
def test_a_column_has_the_decimals_of_its_largest_number(value, others, text):
    """Numbers of one column can be added up at sight."""
    assert places(value, others) == text


@pytest.mark.parametrize(("value", "text"), [(3, "3"), (0.5, "0.500"), (1200, "1,200"), (2.5, "2.50")])
def test_a_count_is_whole_where_it_is_whole(value, text):
    assert count(value) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.04, "less than a day"), (0.96, "1 day"), (1.04, "1 day"), (4.1, "4.1 days"), (4.0, "4 days")]
)
def test_a_duration_is_told_to_a_tenth_of_a_day(value, text):
    assert days(value) == text


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_what_is_not_finite_is_not_dressed_up(value):
    assert figures(value) == f"{value:g}"


@pytest.mark.parametrize(
    ("write", "text"),
    [
        (lambda: figures(1234.5, style=GERMAN), "1.234"),
        (lambda: figures(0.0456, style=GERMAN), "0,0456"),
        (lambda: whole(1e6, GERMAN), "1.000.000"),
        (lambda: count(0.5, GERMAN), "0,500"),
        (lambda: days(4.1, GERMAN), "4,1 days"),
        (lambda: GERMAN.words("per 1,000 cartons"), "per 1.000 cartons"),
    ],
)
def test_a_reader_has_a_way_of_writing_numbers(write, text):
    assert write() == text


@pytest.mark.parametrize(
    ("text", "german"),
    [
        ("kg per 1,000 cartons", "kg per 1.000 cartons"),
        ("3,354 sheets, 0.8 mm thick", "3.354 sheets, 0,8 mm thick"),
        ("from 1,234,567.5 on.", "from 1.234.567,5 on."),
        ("EN 60825-1 and ISO 11553-1, version 1.2.3", "EN 60825-1 and ISO 11553-1, version 1.2.3"),
        ("1 to 12, of 24.", "1 to 12, of 24."),
    ],
)
def test_numbers_within_a_text_follow_the_reader_and_names_do_not(text, german):
    """3,354 sheets would be three and a bit to a German; a standard's number is a name."""
    assert NumberStyle(",", ".").words(text) == german


@pytest.mark.parametrize(
    ("typed", "style", "plain"),
    [
        ("1,450,000", NumberStyle(), "1450000"),
        ("1,450.5", NumberStyle(), "1450.5"),
        ("0.25", NumberStyle(), "0.25"),
        ("-61.8", NumberStyle(), "-61.8"),
        ("0,25", NumberStyle(), "0,25"),  # neither thousands nor a decimal sign: left for the check of the value
        ("1.450.000,5", GERMAN, "1450000.5"),
        ("0,25", GERMAN, "0.25"),
        ("0.25", GERMAN, "0.25"),
        ("1.450", GERMAN, "1450"),
        ("1\u00a0450,5", NumberStyle(decimal=",", group="\u202f"), "1450.5"),
        ("1 450", NumberStyle(decimal=",", group="\u00a0"), "1450"),
        ("cheap", GERMAN, "cheap"),
        ("1e6", GERMAN, "1e6"),
    ],
)
def test_a_typed_number_is_read_the_readers_way_or_plainly(typed, style, plain):
    """Thousands only in full groups of three: a quarter typed with a point must not become 25."""
    assert style.read(typed) == plain


@PROPERTY
@given(_value)
def test_what_is_written_is_read_as_the_same_number(value):
    written = f"{value:,.10g}"
    assert float(GERMAN.read(GERMAN.write(written))) == float(written.replace(",", ""))


def test_a_minus_sign_does_not_keep_a_number_from_the_readers_way():
    """It looks like the dash of a clause or a date, which stay as they are."""
    german = NumberStyle(",", ".")
    assert german.words("net present value -2,598,322 EUR") == "net present value -2.598.322 EUR"
    assert german.words("-0.5 kg") == "-0,5 kg"
    assert german.words("ISO 19593-1.2 and a-1.5") == "ISO 19593-1.2 and a-1.5"
