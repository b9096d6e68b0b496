"""`evenrun book`: a page for people, a record for programs, a workbook, and one line for every mistake."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from openpyxl import Workbook, load_workbook

from compare import cli
from compare.present.book_command import Planning, Reading, run_book
from compare.present.book_record import book_record
from compare.readers.jobfile import read_file, settings_layer

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data" / "demo" / "orders_20.csv"
PLANT = ROOT / "data" / "plants" / "northfold.toml"
HEAD = "order,carton,due,run_length,style,length_mm,width_mm,height_mm,board,sheet_width_mm,sheet_length_mm\n"
ROW = "A1,C1,2026-03-02,1000,sleeve,90,30,60,kraft_300,740,520\n"


class Result(NamedTuple):
    """What a run left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def book(monkeypatch, capsys) -> Callable[..., Result]:
    """Run `evenrun book` in this process."""

    def run(*arguments: object) -> Result:
        monkeypatch.setattr(sys, "argv", ["evenrun", "book", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            cli.main()
        return Result(int(stop.value.code or 0), *capsys.readouterr())

    return run


@pytest.fixture
def orders(tmp_path) -> Callable[[str], Path]:
    """Write an order book."""

    def write(text: str, name: str = "orders.csv") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def many(orders) -> Path:
    """Four hundred of the invented orders, none of them pinned, for which 60 hours are few."""
    lines = (DEMO.parent / "orders_2000.csv").read_text(encoding="utf-8").splitlines(keepends=True)[:401]
    return orders("".join(line.replace(",laser,", ",,", 1) for line in lines))


def _refused(result: Result, *texts: str) -> None:
    assert (result.code, result.out, result.err.count("\n")) == (2, "", 1)
    assert result.err.startswith("evenrun: ")
    assert "Traceback" not in result.err
    for text in texts:
        assert text in result.err


def _json(result: Result) -> dict[str, Any]:
    assert (result.code, result.err) == (0, "")
    found = json.loads(result.out)
    assert isinstance(found, dict)
    return found


# -- the record -------------------------------------------------------------------------------------------------------

KEYS = {
    "rows_in", "computed", "findings", "hours_limit", "hours_used", "saving", "bound", "gap", "hour_value", "jobs",
    "freed_press_hours", "waste_kg", "co2e_kg", "investment",
}  # fmt: skip


def test_json_has_the_keys_of_the_contract(book):
    """Programs of others read them: keys may come, none may go."""
    found = _json(book(DEMO, "--plant", PLANT, "--json"))
    assert set(found) >= KEYS
    assert all(set(job) >= {"id", "route", "saving", "laser_hours", "reason"} for job in found["jobs"])
    assert (found["rows_in"], found["computed"], found["plant"]) == (20, 20, "Northfold Cartons")


def test_json_is_the_same_every_time(book):
    assert book(DEMO, "--plant", PLANT, "--json") == book(DEMO, "--plant", PLANT, "--json")


def test_json_is_the_record_of_the_plan(book):
    """Options reach the engine: those given here by name, there by words."""
    options = ("--hours", 4, "--no-months", "--costing", "cash", "--tax", "30%", "--set", "rates.labour_h=50")
    layers = [read_file(PLANT, kind="plant"), settings_layer(["rates.labour_h=50"])]
    plan = run_book(DEMO, layers, Reading(), Planning(4.0, None, False, (), "cash", "0.3"))
    assert _json(book(DEMO, "--plant", PLANT, "--json", *options)) == json.loads(json.dumps(book_record(plan, layers)))


@pytest.mark.parametrize("hours", [0, 0.7, 3, 4, 1000])
def test_the_hours_given_are_never_exceeded(book, hours):
    found = _json(book(DEMO, "--plant", PLANT, "--hours", hours, "--json"))
    assert found["hours_limit"] == hours
    assert found["hours_used"] <= hours


def test_without_hours_those_of_the_plant_are_planned(book):
    assert _json(book(DEMO, "--plant", PLANT, "--json"))["hours_limit"] == 3200
    assert _json(book(DEMO, "--set", "line_capital.hours_y=2500", "--json"))["hours_limit"] == 2500


def test_months_are_held_to_their_hours_unless_told_otherwise(book):
    names = [limit["name"] for limit in _json(book(DEMO, "--hours", 50, "--json"))["limits"]]
    assert len(names) > 1
    found = _json(book(DEMO, "--hours", 50, "--month-hours", 5, "--json"))["limits"]
    assert {limit["limit_hours"] for limit in found} == {50, 5}
    assert len(_json(book(DEMO, "--hours", 50, "--no-months", "--json"))["limits"]) == 1


def test_hours_of_a_board_are_a_limit_of_their_own(book):
    found = _json(book(DEMO, "--board-hours", "solid_bleached_280=0.5", "--board-hours", "kraft_300=0", "--json"))
    limits = {limit["name"]: limit for limit in found["limits"]}
    assert limits["hours on solid_bleached_280"]["limit_hours"] == 0.5
    assert limits["hours on kraft_300"]["used_hours"] == 0
    assert {job["route"] for job in found["jobs"] if job["board"] == "kraft_300"} == {"die"}


@pytest.mark.parametrize("tax", ["0.3", "30%", "30 %"])
def test_tax_is_a_share_or_per_cent(book, tax):
    assert _json(book(DEMO, "--plant", PLANT, "--tax", tax, "--json"))["investment"]["tax_share"] == 0.3


def test_headings_of_others_are_mapped(book, orders):
    """Beside a decimal comma, days with the year last, and an inch."""
    text = (HEAD + ROW).replace("length_mm,", "Lg,", 1).replace("due,", "Wann,")
    text = text.replace("90,", "3.5,", 1).replace("2026-03-02", "03/02/2026").replace(",", ";").replace("3.5", "3,5")
    options = ("--map", "Lg=length [in]", "--map", "Wann=due", "--dates", "dmy", "--decimal", ",", "--json")
    found = _json(book(orders(text), *options))
    assert (found["computed"], found["limits"][1]["name"]) == (1, "hours in 2026-02")
    exact = _json(book(orders((HEAD + ROW).replace(",90,", ",88.9,")), "--json"))
    assert found["jobs"][0]["cost"] == exact["jobs"][0]["cost"]


def test_a_sheet_of_a_workbook_is_chosen(book, tmp_path):
    workbook = Workbook()
    workbook.active.append(["nothing"])
    sheet = workbook.create_sheet("Orders of the year")
    for line in (HEAD, ROW):
        sheet.append([float(c) if c.isdigit() else c for c in line.strip().split(",")])
    workbook.save(tmp_path / "orders.xlsx")
    assert _json(book(tmp_path / "orders.xlsx", "--sheet", "Orders of the year", "--json"))["computed"] == 1


def test_the_currency_is_that_of_the_plant(book, orders):
    priced = orders(HEAD.strip() + ",board_price_per_t [PLN/t]\n" + ROW.strip() + ",4000\n")
    assert _json(book(priced, "--currency", "PLN", "--json"))["currency"] == "PLN"
    _refused(book(priced, "--currency", "EUR"), "are in PLN, the others in EUR")


def _table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# -- the page ---------------------------------------------------------------------------------------------------------


def _page(result: Result) -> str:
    """The page on one line, so that it can be searched wherever it was broken."""
    assert (result.code, result.err) == (0, "")
    return " ".join(result.out.split())


def test_the_page_answers_the_questions_of_a_plant_manager(book):
    page = _page(book(DEMO, "--plant", PLANT))
    for text in (
        "3 of 14 jobs go to the laser line",
        "Cost of all orders: 19,856 EUR a year on the die, 17,986 EUR as planned.",
        "Proven best",
        "More hours of the line would save nothing",
        "press hours a year become free",
        "CO2e, kg",
        "waste board, kg",
        "fit into 70 % of the hours planned",
        "fit into one shift a day",
        "net present value, EUR",
        "payback",
        "equivalent annual cost",
        "internal rate of return",
        "All jobs, carton by carton",
        "estimates for planning",
        "labour and press hours as saved",
    ):
        assert text in page, text


def test_the_page_shows_the_range_where_it_was_asked_for(book):
    text = "what moves the cash saving most"
    assert text in _page(book(DEMO, "--plant", PLANT, "--range"))
    assert text not in _page(book(DEMO, "--plant", PLANT))


def test_without_a_purchase_price_the_page_says_how_to_give_it_where_the_question_is(book):
    page = _page(book(DEMO))
    answer = page.partition("Does the line pay?")[2].partition("All jobs")[0]
    assert "give its purchase price as line_capital.purchase" in answer
    assert page.count("line_capital.purchase") == 1


def test_a_book_of_many_jobs_shows_those_that_save_most_and_those_nearest_the_margin(book, many):
    page = _page(book(many, "--plant", PLANT, "--hours", 60, "--no-months"))
    for text in (
        "Above 85 % lots wait long. Planned to 85 %, the line would save",
        "85 % of 60",
        "limit that binds",
        "Jobs that save most, carton by carton",
        "Jobs nearest the margin, carton by carton",
        "whose saving per laser hour is nearest to what their hours are worth",
    ):
        assert text in page, text


def test_no_share_on_the_page_stands_without_a_space_before_its_sign(book, many):
    page = _page(book(many, "--plant", PLANT, "--hours", 60, "--tax", "30%"))
    assert re.findall(r"\d%", page) == []


def test_tax_is_said_with_how_it_is_reckoned(book):
    said = "written off in a straight line to zero over the life, and the sale at its end is taxed in full"
    assert said in _page(book(DEMO, "--plant", PLANT, "--tax", "30%"))
    assert said not in _page(book(DEMO, "--plant", PLANT))


def test_the_range_is_said_to_be_that_of_the_saving_alone(book):
    assert "price, life and interest of the line stay as they are" in _page(book(DEMO, "--plant", PLANT, "--range"))


def test_without_hours_the_page_gives_a_verdict_and_no_table_of_nothing(book):
    page = _page(book(DEMO, "--plant", PLANT, "--hours", 0))
    assert "None of 14 jobs goes to the laser line: no hours of it are planned." in page
    assert "The line does not pay: no job moves to it." in page
    for text in ("hardly any", "beside the others", "% of 0", "loaded to"):
        assert text not in page, text


def test_what_must_go_and_has_no_room_leads_the_page_without_a_proof(book, orders):
    rows = "".join(ROW.strip().replace("A1", f"A{i}").replace("C1", f"C{i}") + ",laser\n" for i in range(30))
    page = _page(book(orders(HEAD.strip() + ",route\n" + rows), "--plant", PLANT, "--hours", 5))
    assert re.search(r"Jobs that must go to the laser need [\d.]+ h, [\d.]+ more than there are\.", page)
    assert "less than must go" in page
    for text in ("Proven best", "below the best possible choice", "One more hour of", "More hours of", "% of 5.00"):
        assert text not in page, text


def test_long_numbers_of_orders_are_not_broken(book, orders):
    name = "ORDER-2026-000123-REPEAT"
    assert name in book(orders(HEAD + ROW.replace("A1", name).replace("C1", "CARTON-00077"))).out


def test_a_change_that_rounds_to_nothing_has_no_sign(book):
    page = book(DEMO, "--plant", PLANT, "--hours", 0).out
    (line,) = [line.split() for line in page.splitlines() if line.startswith("cost, EUR")]
    assert line[-1] == "0"


def test_rows_that_wait_are_counted_and_the_others_computed(book, orders):
    path = orders(HEAD + ROW + ROW.replace("A1", "A2").replace("1000", "many"))
    page = _page(book(path))
    assert page.index("2 orders: 1 computed, 1 waits to be mended and is in no figure.") < page.index(
        "to the laser line"
    )
    assert "Cost of the 1 order that was computed: " in page
    assert "'--findings findings.csv' lists them all" in page
    waiting = page.partition("Waiting to be mended")[2].partition("Carbon")[0]
    assert "row 3, column run_length: 'many' is not a number." in waiting
    assert "(book.not_a_number)" in waiting


def test_a_name_of_the_file_moves_no_cursor_and_colours_nothing(book, orders):
    """A terminal would obey it, whoever sent the file."""
    result = book(orders(HEAD + ROW.replace("A1", "\x1b[31mA1").replace("C1", "[red]C1")))
    assert "\x1b" not in result.out
    assert "[red]C1" in result.out


# -- files ------------------------------------------------------------------------------------------------------------


def test_workbook_jobs_and_findings_are_written_and_named(book, orders, tmp_path):
    path = orders(HEAD + ROW + ROW.replace("A1", "A2").replace("1000", "many"))
    files = {name: tmp_path / name for name in ("plan.xlsx", "jobs.csv", "mend.csv")}
    result = book(path, "--xlsx", files["plan.xlsx"], "--csv", files["jobs.csv"], "--findings", files["mend.csv"])
    assert result.code == 0
    assert result.out.splitlines()[-3:] == [
        f"Workbook: {files['plan.xlsx']}",
        f"Jobs: {files['jobs.csv']}",
        f"Findings: {files['mend.csv']}",
    ]
    assert load_workbook(files["plan.xlsx"]).sheetnames == ["Jobs", "Summary", "Assumptions", "Findings"]
    assert [row["job"] for row in _table(files["jobs.csv"])] == ["A1"]
    assert [row["row"] for row in _table(files["mend.csv"])] == ["3"]


def test_the_workbook_and_the_record_are_of_one_plan(book, tmp_path):
    found = _json(book(DEMO, "--plant", PLANT, "--hours", 3, "--xlsx", tmp_path / "plan.xlsx", "--json"))
    rows = {row[0]: row[1] for row in load_workbook(tmp_path / "plan.xlsx")["Summary"].iter_rows(values_only=True)}
    assert rows["saving"] == pytest.approx(found["saving"], rel=1e-14)


@pytest.mark.parametrize("option", ["--xlsx", "--csv", "--findings"])
def test_the_order_book_is_never_written_over(book, orders, option):
    path = orders(HEAD + ROW)
    _refused(book(path, option, path), "this is the order book itself")
    assert path.read_text(encoding="utf-8") == HEAD + ROW


@pytest.mark.parametrize("option", ["--xlsx", "--csv", "--findings"])
def test_a_file_that_can_not_be_written_is_one_line(book, orders, tmp_path, option):
    _refused(book(orders(HEAD + ROW), option, tmp_path / "none" / "file.xlsx"), "can't be written")


@pytest.mark.parametrize("pair", [("--xlsx", "--csv"), ("--xlsx", "--findings"), ("--csv", "--findings")])
def test_two_things_are_not_written_into_one_file(book, tmp_path, pair):
    """The second would replace the first, and both would be named as written."""
    first, second = pair
    path = tmp_path / "plan.xlsx"
    _refused(book(DEMO, first, path, second, tmp_path / "." / "plan.xlsx"), f"{first} and {second} name one file")
    assert not path.exists()


@pytest.mark.parametrize("name", ["plan.csv", "plan", "plan.xls"])
def test_a_workbook_is_written_under_the_name_of_one(book, tmp_path, name):
    _refused(book(DEMO, "--xlsx", tmp_path / name), "--xlsx", "end the name in .xlsx")


@pytest.mark.parametrize("option", ["--xlsx", "--csv", "--findings"])
def test_a_dash_is_no_file(book, option):
    """It would make a file of that name, where others print."""
    _refused(book(DEMO, option, "-"), option, "'-' is no file name")


def test_a_template_is_no_record(book, tmp_path):
    _refused(book("--json", "--template", tmp_path / "new.csv"), "--json and --template exclude each other")
    assert not (tmp_path / "new.csv").exists()


@pytest.mark.parametrize("name", ["new.csv", "new.xlsx"])
def test_a_template_is_written_once(book, tmp_path, name):
    path = tmp_path / name
    assert book("--template", path) == Result(0, f"Template: {path}\n", "")
    kept = path.read_bytes()
    _refused(book("--template", path), "is there already")
    assert path.read_bytes() == kept


def test_a_template_is_csv_or_a_workbook(book, tmp_path):
    _refused(book("--template", tmp_path / "orders.ods"), "end the name in .csv or .xlsx")


# -- mistakes ---------------------------------------------------------------------------------------------------------

WIDE = ",".join(f"c{i}" for i in range(500)) + "\n" + ",".join("1" * 500) + "\n"
NOTHING = {
    "an empty file": ("", ["the file is empty", "give headings"]),
    "headings alone": (HEAD, ["headings and no orders"]),
    "no run length": ("order,board\nA1,kraft_300\n", ["no column holds the run length", "name it run_length"]),
    "500 columns": (WIDE, ["more than 200 columns"]),
    "two currencies": (
        HEAD.strip() + ",board_price_per_t [EUR/t],print_cost_per_sheet [PLN/sheet]\n" + ROW.strip() + ",900,0.3\n",
        ["in PLN, the others in EUR", "turn them into EUR"],
    ),
    "no sheet": (
        "order,run_length,board\nA1,1000,kraft_300\n",
        ["missing 'sheet_width_mm'", "add the columns sheet_width_mm, sheet_length_mm"],
    ),
    "no number in any row": (HEAD + ROW.replace("1000", "many"), ["row 2: 'many' is not a number"]),
    "a heading that is not there": (HEAD + ROW, ["there is no column 'Menge'"]),
}


@pytest.mark.parametrize("case", NOTHING, ids=NOTHING)
def test_a_book_without_an_order_to_compute_is_one_line(book, orders, case):
    text, said = NOTHING[case]
    options = ("--map", "Menge=run_length") if case == "a heading that is not there" else ()
    _refused(book(orders(text), *options), "no order can be computed", *said)


def test_where_nothing_can_be_computed_all_findings_can_still_be_had(book, orders, tmp_path):
    path = orders(HEAD + "".join(ROW.replace("A1", f"A{i}").replace("1000", "many") for i in range(30)))
    _refused(book(path), "and 29 more findings; --findings findings.csv lists them all")
    _refused(book(path, "--findings", tmp_path / "mend.csv"), f"all 30 findings are in {tmp_path / 'mend.csv'}")
    assert len(_table(tmp_path / "mend.csv")) == 30


def test_rows_in_another_currency_wait_and_the_others_are_computed(book, orders):
    text = HEAD.strip() + ",currency\n" + ROW.strip() + ",EUR\n" + ROW.strip().replace("A1", "A2") + ",PLN\n"
    found = _json(book(orders(text), "--json"))
    assert (found["rows_in"], found["computed"], found["rows_waiting"]) == (2, 1, 1)
    assert found["findings"][0]["code"] == "book.mixed_currency"


OPTIONS = {
    "a tax of 30": (("--tax", "30"), ["--tax", "0.3 or 30%"]),
    "a tax of words": (("--tax", "some"), ["--tax"]),
    "a tax of everything": (("--tax", "100%"), ["--tax"]),
    "hours below 0": (("--hours", "-1"), ["hours can't be -1"]),
    "no hours": (("--hours", "nan"), ["hours can't be nan"]),
    "words for hours": (("--hours", "many"), ["--hours: 'many' is no number", "'evenrun book --help'"]),
    "a comma in hours": (("--hours", "37,5"), ["--hours: '37,5' is no number", "use a point"]),
    "more hours than a year": (("--hours", "8785"), ["--hours: a year has 8,760 hours"]),
    "words for hours of a month": (("--month-hours", "many"), ["--month-hours: 'many' is no number"]),
    "more hours than a month": (("--month-hours", "745"), ["--month-hours: a month has at most 744 hours"]),
    "a comma in a tax": (("--tax", "0,3"), ["--tax", "use a point", "'evenrun book --help'"]),
    "a comma in hours of a board": (("--board-hours", "kraft_300=0,5"), ["use a point"]),
    "a month below 0": (("--month-hours", "-1"), ["hours of a month can't be -1"]),
    "an unknown board": (("--board-hours", "kraft=3"), ["no board grade 'kraft'", "did you mean"]),
    "a board without hours": (("--board-hours", "kraft_300"), ["GRADE=HOURS"]),
    "a board with words": (("--board-hours", "kraft_300=some"), ["'some' is no number of hours"]),
    "a board twice": (("--board-hours", "kraft_300=1", "--board-hours", "kraft_300=2"), ["given twice"]),
    "a board of no order": (("--board-hours", "kraft_350=1"), ["no order is of board 'kraft_350'"]),
    "an unknown costing": (("--costing", "half"), ["there is no costing 'half'"]),
    "an unknown decimal sign": (("--decimal", "x"), ["--decimal", "give one of . ,"]),
    "an unknown order of days": (("--dates", "ydm"), ["--dates", "ymd dmy mdy"]),
    "half a mapping": (("--map", "Menge"), ["HEADING=COLUMN"]),
    "no currency": (("--currency", "euro"), ["--currency: 'euro' is no currency code"]),
    "an unknown setting": (("--set", "laser.headz=2"), ["laser.heads"]),
    "an unknown plant": (("--plant", "none.toml"), ["there is no such plant file"]),
}


@pytest.mark.parametrize("case", OPTIONS, ids=OPTIONS)
def test_an_option_that_can_not_be_is_one_line(book, case):
    options, said = OPTIONS[case]
    _refused(book(DEMO, *options), *said)


def test_without_an_order_book_the_template_is_named(book):
    _refused(book(), "no order book is given", "--template orders.xlsx")


@pytest.mark.parametrize("content", [b"\x00\x01\x02", b"PK\x03\x04nothing", b"%PDF-1.7\n"], ids=["bytes", "zip", "pdf"])
def test_a_file_of_another_kind_is_one_line(book, tmp_path, content):
    path = tmp_path / "orders.xlsx"
    path.write_bytes(content)
    _refused(book(path), "orders.xlsx")


def test_a_book_that_is_not_there_is_one_line(book):
    _refused(book("none.csv"), "none.csv")


# -- progress and start-up --------------------------------------------------------------------------------------------


def test_a_bar_is_shown_to_a_person_and_never_among_the_answer(book, monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    result = book(DEMO, "--plant", PLANT, "--range", "--json")
    assert result.code == 0
    assert json.loads(result.out)["rows_in"] == 20
    assert "the range of" in result.err


def test_other_commands_do_not_load_what_only_this_one_needs():
    """It would cost each of them half a second."""
    code = (
        "import sys; sys.argv = ['evenrun', 'assumptions', '--find', 'laser.heads']\n"
        "from compare import cli\n"
        "try: cli.main()\n"
        "except SystemExit: pass\n"
        "print([m for m in ('scipy', 'openpyxl', 'compare.present.book_command') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
