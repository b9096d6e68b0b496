"""The Orders view without a browser: what its callbacks answer, what they refuse, and where a book is kept."""

from __future__ import annotations

import base64
import csv
import io
import json
import os
import threading
import time
import zipfile

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from compare.data_files import data_folder
from compare.decide.book_plan import Limits, plan_book
from compare.errors import EvenrunError
from compare.present import book_wording
from compare.readers.jobfile import read_file
from compare.readers.orderbook import read_orders
from dashboard import book_process, book_store, shelf
from dashboard.book_asked import MOST_MENDED, kept_as, pins_of, reading_of, wanted_of
from dashboard.book_store import DEMO, Reading, Wanted
from dashboard.reader import Reader, number_style
from dashboard.server import BODY_BYTES, make_server, warm_up
from dashboard.settings import Settings
from dashboard.state import State
from dashboard.uploads import BOOK_BYTES
from dashboard.views import book_panels

SETTINGS = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
SERVER = make_server(SETTINGS)
warm_up(SERVER)
CLIENT = SERVER.test_client()
OWN, CLIENTS = SERVER.extensions["evenrun"]

DEMO_BOOK = data_folder() / "demo" / "orders_20.csv"
STATE = {"overrides": {}, "costing": "full"}
HEAD = (
    "order,carton,route,run_length [cartons],style,length_mm,width_mm,height_mm,board,sheet_width_mm,sheet_length_mm\n"
)
GOOD = "A1,C1,,5000,straight_tuck_end,67,38,119,recycled_300,740,520\n"
BAD = "A2,C2,,viele,straight_tuck_end,70,40,120,recycled_300,740,520\n"


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    """No test sees the books of another, or of a person, nor what was worked out of them."""
    monkeypatch.setattr(shelf.tempfile, "gettempdir", lambda: str(tmp_path))
    book_store._table.cache_clear()
    book_store._book.cache_clear()
    book_store._plans.clear()


def _sent(raw: bytes) -> str:
    return "data:text/csv;base64," + base64.b64encode(raw).decode()


def _kept(text: str, name: str = "orders.csv") -> str:
    return book_store.keep(_sent(text.encode()), name)


def _asked(**more):
    return {"token": DEMO, "hours": 400, "months": False, "costing": "full", "count": 1, **more}


def _callback(trigger):
    """Find the callback that a component's change starts, by ``id.property``."""
    (found,) = (
        (key, callback)
        for key, callback in OWN.callback_map.items()
        if "callback" in callback and f"{callback['inputs'][0]['id']}.{callback['inputs'][0]['property']}" == trigger
    )
    return found


def _call(trigger, **values):
    """Call as the page does; what is not named is sent as null. Ids take ``__`` for ``-``."""
    given_values = {name.replace("__", "-"): value for name, value in values.items()}
    key, callback = _callback(trigger)
    pressed = given_values.pop("pressed", trigger)

    def sent(spec):
        if spec["id"].startswith("{"):
            kind = json.loads(spec["id"])["kind"]
            listed = given_values.get(kind, [])
            return [
                {"id": {"kind": kind, "number": n}, "property": spec["property"], "value": v}
                for n, v in enumerate(listed)
            ]
        named = given_values.get(f"{spec['id']}.{spec['property']}", given_values.get(spec["id"]))
        return {"id": spec["id"], "property": spec["property"], "value": named}

    own = callback["output"]
    outputs = [
        {"id": one.component_id_str(), "property": one.component_property}
        for one in (own if isinstance(own, (list, tuple)) else [own])
    ]
    body = {
        "output": key,
        "outputs": outputs if isinstance(own, (list, tuple)) else outputs[0],
        "inputs": [sent(spec) for spec in callback["inputs"]],
        "state": [sent(spec) for spec in callback["state"]],
        "changedPropIds": [pressed],
    }
    return CLIENT.post("/_dash-update-component", json=body)


def _said(answer):
    assert answer.status_code == 200, answer.text
    return answer.get_json()["response"]


def _words(component):
    return json.dumps(component, ensure_ascii=False)


def _waiting(rows):
    """What must be mended; remarks aside."""
    return [row for row in rows if row["waits"] == "waits"]


# -- the file ---------------------------------------------------------------------------------------------------------


def test_a_table_that_was_read_apart_is_the_same_to_the_last_bit():
    """It crosses a process as text and plain arrays; nothing may be lost or rounded on the way."""
    here = read_orders(DEMO_BOOK, currency="EUR")
    apart = book_process.read_apart(DEMO_BOOK, {"currency": "EUR"}, max_rows=1_000)
    assert apart.headings == here.headings
    assert apart.findings == here.findings
    assert apart.order.tolist() == here.order.tolist()
    assert (apart.source, apart.currency, apart.decimal) == (here.source, here.currency, here.decimal)
    for name, values in here.numbers.items():
        assert np.array_equal(apart.numbers[name], values, equal_nan=True)
    assert apart.texts.keys() == here.texts.keys()
    pairs = [(apart.texts[name], here.texts[name]) for name in here.texts]
    for one, other in [*pairs, (apart.carton, here.carton), (apart.route, here.route)]:
        assert [one.at(row) for row in range(20)] == [other.at(row) for row in range(20)]
    assert np.array_equal(apart.ordered, here.ordered, equal_nan=True)
    assert np.array_equal(apart.due, here.due, equal_nan=True)


def test_mended_cells_and_columns_reach_the_reader_in_its_own_process(tmp_path):
    file = tmp_path / "book.csv"
    file.write_text(HEAD.replace("run_length [cartons]", "Menge") + GOOD + BAD, encoding="utf-8")
    options = Reading("x", (("Menge", "run_length"),), mended=((3, "Menge", "7000"),)).options("EUR")
    table = book_process.read_apart(file, options, max_rows=10)
    assert table.numbers["demand.run_length"].tolist() == [5000.0, 7000.0]
    assert not table.waits.any()


def test_a_refusal_of_the_reader_comes_back_as_its_own_words(tmp_path):
    file = tmp_path / "book.csv"
    file.write_text(HEAD + GOOD * 9, encoding="utf-8")
    with pytest.raises(EvenrunError, match="over 5 rows"):
        book_process.read_apart(file, {}, max_rows=5)


def test_a_workbook_that_would_unpack_to_more_than_memory_holds_is_refused_before_it_does(tmp_path):
    """A bomb: 200 MB of spaces packed to 200 kB."""
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", " " * 200_000_000)
    begun = time.monotonic()
    with pytest.raises(EvenrunError, match="packed 150-fold or more"):
        book_process.read_apart(bomb, {}, max_rows=10)
    assert time.monotonic() - begun < book_process.SECONDS / 2


def test_reading_that_takes_too_long_is_stopped():
    with pytest.raises(EvenrunError, match=r"takes more than 0\.01 s"):
        book_process.read_apart(DEMO_BOOK, {}, max_rows=1_000, seconds=0.01)


@pytest.mark.parametrize(
    "spoilt",
    [
        {"rows": 10**9},
        {"rows": -1},
        {"arrays": [["row", "O"]]},
        {"order": []},
        {"findings": [["a", "b", "c", "1", "", "", True]]},
        {"names": {"carton": [], "route": []}},
    ],
)
def test_an_answer_of_the_reading_process_that_does_not_fit_is_refused(tmp_path, spoilt):
    """The process reads what anybody sent; what it leaves is checked like a file."""
    book_process._leave(read_orders(DEMO_BOOK), tmp_path)
    file = tmp_path / "answer.json"
    file.write_text(json.dumps({**json.loads(file.read_text()), **spoilt}), encoding="utf-8")
    with pytest.raises(EvenrunError, match="answer can't be used"):
        book_process._answer(tmp_path, "book.csv")


@pytest.mark.parametrize("token", ["../../etc", "", "x" * 22, "." * 22, "ranges"])
def test_a_name_that_was_never_given_finds_no_book(token):
    with pytest.raises(EvenrunError, match="no longer kept; upload it again"):
        book_store.file_of(token)


def test_a_book_is_kept_for_its_reader_alone_and_found_by_a_name_that_cannot_be_guessed():
    first, second = _kept(HEAD + GOOD), _kept(HEAD + GOOD)
    assert first != second
    assert len(first) == 22
    file = book_store.file_of(first)
    assert file.parent.stat().st_mode & 0o077 == 0
    assert file.name == "orders.csv"


def test_a_file_over_the_limit_is_refused():
    with pytest.raises(EvenrunError, match="over 10 MB"):
        book_store.keep(_sent(b"x" * (BOOK_BYTES + 1000)), "a.csv")


def test_old_books_go_when_a_new_one_comes(tmp_path):
    old = _kept(HEAD + GOOD)
    day_ago = time.time() - 90_000
    os.utime(book_store.file_of(old).parent, (day_ago, day_ago))
    new = _kept(HEAD + GOOD)
    assert [one.name for one in book_store._SHELF.folder().iterdir()] == [new]


# -- what the page keeps ----------------------------------------------------------------------------------------------


def test_pins_and_mended_cells_of_another_book_do_not_count():
    kept = kept_as("a" * 22, {(2, "run_length"): "5"}, ((2, "die"),))
    assert reading_of({"token": "a" * 22}, kept).mended == ((2, "run_length", "5"),)
    assert reading_of({"token": DEMO}, kept).mended == ()
    assert pins_of(kept, DEMO) == ()


@pytest.mark.parametrize("hours", [None, "400", True, -1, 1e9, [400]])
def test_hours_that_can_not_be_are_refused(hours):
    with pytest.raises(EvenrunError, match="hours of the line"):
        wanted_of({"hours": hours}, None, DEMO)


def test_what_the_job_view_says_of_its_job_is_no_default_of_orders():
    """Three versions in the Job view must not become the versions of every order that names none."""
    view = State({"demand.versions": 3.0, "board.grade": "kraft_300", "rates.labour_h": 60.0})
    assert book_store.plant_overrides(view) == (("rates.labour_h", 60.0),)


# -- the plan ---------------------------------------------------------------------------------------------------------


def test_the_answer_is_that_of_the_engine_and_in_its_words():
    _call("orders-asked.data", orders__asked=_asked(), orders__file={"token": DEMO}, state=STATE)
    plan = book_store.plan_of(Reading(DEMO), State({}), Wanted(400.0, False), SETTINGS)
    table = read_orders(data_folder() / "demo" / "orders_2000.csv", currency="EUR")
    engine = plan_book(table, SETTINGS.plant, limits=Limits(400.0, by_month=False))
    assert plan.selection.saving == engine.selection.saving
    said = _said(_call("orders-quick.data", orders__quick=_asked(), orders__file={"token": DEMO}, state=STATE))
    assert book_wording.answer_sentence(engine) in _words(said["book-answer"])
    assert len(said["book-jobs"]["rowData"]) == len(engine.book)
    assert said["book-again"]["disabled"] is True


def test_the_first_answer_comes_with_its_proof_and_is_never_better_than_the_bound():
    first = book_store.first_choice(Reading(DEMO), State({}), Wanted(400.0, True), SETTINGS)
    assert isinstance(first, book_store.FirstChoice)
    assert first.hours_used <= 400
    assert first.selection.saving <= first.selection.bound
    said = _said(
        _call("orders-asked.data", orders__asked=_asked(months=True), orders__file={"token": DEMO}, state=STATE)
    )
    assert "Searching on." in _words(said["book-answer"])


def test_a_plan_that_is_being_made_for_others_lets_the_page_ask_again_and_blocks_nobody():
    """A thread that waits for ten seconds answers nobody; four of them are all there are."""
    with book_store._PLANNING:
        begun = time.monotonic()
        said = _said(_call("orders-quick.data", orders__quick=_asked(), orders__file={"token": DEMO}, state=STATE))
        assert time.monotonic() - begun < 10
    assert said == {"book-again": {"disabled": False}}


def test_a_pin_of_the_page_holds_for_all_orders_of_the_carton_and_stands_before_the_files():
    reading, view = Reading(DEMO), State({})
    book = book_store.book_of(reading, view, "full", SETTINGS)
    job = int(np.flatnonzero(book.pinned == 1)[0])  # the file keeps it on the laser
    row = int(book.table.row[book.jobs.first[job]])
    for route, code in (("die", 0), ("free", -1), ("laser", 1)):
        pinned = book_store.pinned_book(book, ((row, route),))
        family = book.families == book.families[job]
        assert set(pinned.pinned[family].tolist()) == {code}
        assert (pinned.pinned[~family] == book.pinned[~family]).all()


def test_a_pin_in_the_grid_moves_the_job_and_says_why():
    file = {"token": DEMO}
    plan = book_store.plan_of(Reading(DEMO), State({}), Wanted(3_200.0, False), SETTINGS)
    row = next(
        r for r in book_panels.job_rows(plan, number_style("en")) if r["route"] == "laser" and r["pin"] == "free"
    )
    said = _said(_call("book-jobs.cellValueChanged", book__jobs=[{"data": {**row, "pin": "die"}}], orders__file=file))
    kept, asked = said["orders-kept"]["data"], _asked(hours=3_200)
    assert kept["pins"] == [[row["row"], "die"]]
    said = _said(_call("orders-quick.data", orders__quick=asked, orders__file=file, orders__kept=kept, state=STATE))
    after = next(r for r in said["book-jobs"]["rowData"] if r["id"] == row["id"])
    assert (after["route"], after["pin"]) == ("die", "die")
    assert "keeps its carton on the die" in after["why"]


def test_costing_on_the_page_is_the_costing_of_the_link():
    said = _said(
        _call("orders-asked.data", orders__asked=_asked(costing="cash"), orders__file={"token": DEMO}, state=STATE)
    )
    assert said["state"]["data"]["costing"] == "cash"
    assert "costing=cash" in said["state"]["data"]["link"]


# -- mending ----------------------------------------------------------------------------------------------------------


def test_good_rows_are_computed_while_bad_ones_wait_and_every_row_is_accounted_for():
    book = book_store.book_of(Reading(_kept(HEAD + GOOD + BAD)), State({}), "full", SETTINGS)
    assert book_panels.rows_sentence(book, 0, number_style("en")) == (
        "orders.csv: 2 orders in = 1 computed + 1 waiting to be mended, in no figure; 1 job."
    )
    (row,) = _waiting(book_panels.finding_rows(book, number_style("en")))
    assert (row["row"], row["column"], row["value"], row["mendable"]) == (3, "run_length [cartons]", "viele", True)


def test_a_cell_mended_in_the_grid_is_computed_then_and_a_wrong_one_stays_with_what_was_typed():
    file = {"token": _kept(HEAD + GOOD + BAD)}
    book = book_store.book_of(reading_of(file, None), State({}), "full", SETTINGS)
    (row,) = _waiting(book_panels.finding_rows(book, number_style("en")))

    def typed(text, kept):
        change = [{"data": {**row, "value": text}}]
        return _said(
            _call(
                "book-findings.cellValueChanged",
                book__findings=change,
                orders__file=file,
                orders__kept=kept,
                orders__asked=_asked(),
                state=STATE,
            )
        )

    wrong = typed("many", None)
    assert [row["value"] for row in _waiting(wrong["book-findings"]["rowData"])] == ["many"]
    assert "1 computed + 1 waiting" in wrong["book-rows"]["children"]
    right = typed("7000", wrong["orders-kept"]["data"])
    assert _waiting(right["book-findings"]["rowData"]) == []
    assert "2 computed + 0 waiting" in right["book-rows"]["children"]
    assert right["orders-asked"]["data"]["count"] == 2  # the plan is asked for anew


def test_any_cell_can_be_mended_by_its_row_and_column_and_all_of_them_taken_back():
    file = {"token": _kept(HEAD + GOOD + BAD)}
    call = {"orders__file": file, "orders__asked": _asked(), "state": STATE}
    named = {"book__cell__row": 3, "book__cell__column": "run_length [cartons]", "book__cell__value": "7000"}
    said = _said(
        _call("book-findings.cellValueChanged", pressed="book-cell-mend.n_clicks", book__cell__mend=1, **named, **call)
    )
    assert "2 computed + 0 waiting" in said["book-rows"]["children"]
    back = _said(
        _call(
            "book-findings.cellValueChanged",
            pressed="book-unmend.n_clicks",
            book__unmend=1,
            orders__kept=said["orders-kept"]["data"],
            **call,
        )
    )
    assert "1 computed + 1 waiting" in back["book-rows"]["children"]


def test_a_cell_that_is_not_there_is_a_message_and_changes_nothing():
    file = {"token": _kept(HEAD + GOOD + BAD)}
    named = {"book__cell__row": 99, "book__cell__column": "board", "book__cell__value": "x"}
    said = _said(
        _call(
            "book-findings.cellValueChanged",
            pressed="book-cell-mend.n_clicks",
            book__cell__mend=1,
            orders__file=file,
            state=STATE,
            **named,
        )
    )
    assert list(said) == ["book-problem"]
    assert "no cell in row 99" in _words(said)


def test_a_heading_that_is_not_clear_is_offered_a_column_and_read_when_that_is_confirmed():
    """Nothing is guessed: until the button is pressed the column is not read."""
    file = {"token": _kept(HEAD.replace("run_length [cartons]", "Auflagenlaenge") + GOOD)}
    book = book_store.book_of(reading_of(file, None), State({}), "full", SETTINGS)
    assert (book.rows_in, book.rows_computed) == (1, 0)
    ((heading, _),) = book_panels.unclear_headings(book, reading_of(file, None))
    assert heading == "Auflagenlaenge"
    said = _said(
        _call(
            "book-map.n_clicks",
            book__map=1,
            **{"book-column": ["run_length"], "book-unit": ["thousand"]},
            orders__file=file,
            state=STATE,
        )
    )
    mapped = reading_of(said["orders-file"]["data"], None)
    table = book_store.table_of(mapped, State({}), SETTINGS)
    assert table.numbers["demand.run_length"].tolist() == [5_000_000.0]


# -- uploads, downloads, the range ------------------------------------------------------------------------------------


def _uploaded(raw, name):
    return _said(
        _call("book-upload.contents", **{"book-upload": _sent(raw), "book-upload.filename": name}, state=STATE)
    )


def test_an_upload_brings_the_name_its_book_is_found_by():
    said = _uploaded((HEAD + GOOD).encode(), "year.csv")
    assert said["book-problem"]["children"] == []
    token = said["orders-file"]["data"]["token"]
    assert book_store.file_of(token).name == "year.csv"


@pytest.mark.parametrize("raw", [b"PK\x03\x04 no workbook", b"\x1f\x8b", b"\0\1\2"])
def test_an_upload_that_is_no_book_is_a_message_and_leaves_the_one_on_the_page(raw):
    said = _uploaded(raw, "year.xlsx")
    assert list(said) == ["book-problem"]
    assert "year.xlsx" in _words(said)


def test_exports_hold_what_the_engine_says():
    call = {"orders__asked": _asked(), "orders__file": {"token": DEMO}, "state": STATE}
    plan = book_store.plan_of(Reading(DEMO), State({}), Wanted(400.0, False), SETTINGS)
    table = _said(_call("book-xlsx.n_clicks", pressed="book-csv.n_clicks", book__csv=1, **call))["download"]["data"]
    rows = list(csv.reader(io.StringIO(base64.b64decode(table["content"]).decode("utf-8-sig"))))
    assert len(rows) == len(plan.book) + 1
    workbook = _said(_call("book-xlsx.n_clicks", book__xlsx=1, **call))["download"]["data"]
    sheets = load_workbook(io.BytesIO(base64.b64decode(workbook["content"])), read_only=True)
    assert sheets.sheetnames == ["Jobs", "Summary", "Assumptions", "Findings"]


def test_findings_leave_as_a_table_that_no_spreadsheet_runs():
    """A cell that starts like a formula would be run by whoever opens the findings."""
    file = {"token": _kept(HEAD + BAD.replace("viele", "=1+1"))}
    said = _said(
        _call(
            "book-xlsx.n_clicks",
            pressed="book-findings-csv.n_clicks",
            book__findings__csv=1,
            orders__asked=_asked(),
            orders__file=file,
            state=STATE,
        )
    )
    text = base64.b64decode(said["download"]["data"]["content"]).decode("utf-8-sig")
    assert ",'=1+1," in text


def test_the_range_is_worked_out_apart_and_found_by_any_worker():
    """It takes seconds, and the next call may be answered by another process."""
    reading, view, wanted = Reading(_kept(HEAD + GOOD)), State({}), Wanted(400.0, False)
    book_store.work_out_range(reading, view, wanted, SETTINGS)
    for thread in threading.enumerate():
        if thread.name == "range":
            thread.join(120)
    book_store._plans.clear()  # as in another worker
    plan = book_store.plan_of(reading, view, wanted, SETTINGS)
    assert plan.saving_range is not None
    assert plan.saving_range.low <= plan.cash_saving <= plan.saving_range.high
    assert plan.investment.npv_low <= plan.investment.npv <= plan.investment.npv_high


# -- every reader, every caller ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "reader", [Reader(), Reader("us", "dark", number_style("de-DE"))], ids=["plain", "German dark"]
)
def test_every_panel_is_made_for_every_reader(reader):
    plan = book_store.plan_of(Reading(DEMO), State({}), Wanted(400.0, False), SETTINGS)
    for name, (figure, words) in book_panels.charts(plan, reader).items():
        assert figure["layout"]["height"] == book_panels.CHART_HEIGHTS[name]
        assert words.endswith(".")
    answer = book_wording.answer_sentence(plan, reader.style)
    assert f"{reader.style.group}166 jobs" in answer
    assert book_panels.plan_figures(plan, reader.style)
    assert book_panels.investment(plan, reader.style)


def test_a_body_as_large_as_a_book_is_taken_from_its_upload_alone():
    body = {"output": "x", "inputs": [{"id": "orders-file", "property": "data", "value": "x" * BODY_BYTES}]}
    assert CLIENT.post("/_dash-update-component", json=body).status_code == 413
    body["inputs"][0]["id"] = "book-upload"
    assert CLIENT.post("/_dash-update-component", json=body).status_code == 400


def test_the_clients_app_knows_nothing_of_order_books():
    """What the plant's app knows can't be asked of the one behind client links."""
    assert not [key for key in CLIENTS.callback_map if "book" in key or "orders" in key]
    assert CLIENT.get("/client/orders").status_code == 404


anything = (
    st.none() | st.booleans() | st.integers(-5, 10**6) | st.text(max_size=5) | st.lists(st.integers(), max_size=2)
)
files = (
    st.fixed_dictionaries(
        {"token": st.just("t") | st.just(DEMO) | anything},
        optional={
            "columns": st.dictionaries(
                st.text(max_size=4), st.sampled_from(["", "run_length", "run_length [x]"]) | anything, max_size=2
            ),
            "decimal": st.sampled_from(["", ".", ","]) | anything,
            "dates": st.sampled_from(["", "dmy"]) | anything,
            "sheet": st.text(max_size=4) | anything,
        },
    )
    | anything
)
keeps = (
    st.fixed_dictionaries(
        {
            "token": st.just("t"),
            "mended": st.lists(
                st.tuples(st.integers(-1, 4) | anything, st.text(max_size=3), st.text(max_size=3)), max_size=2
            )
            | anything,
            "pins": st.lists(st.tuples(st.integers(-1, 4), st.sampled_from(["die", "laser", "free", "x"])), max_size=3)
            | anything,
        }
    )
    | anything
)
asks = (
    st.fixed_dictionaries(
        {
            "hours": st.floats(0, 500) | anything,
            "months": anything,
            "costing": st.sampled_from(["cash", "full"]) | anything,
            "count": anything,
        }
    )
    | anything
)
TRIGGERS = ("orders-file.data", "orders-asked.data", "orders-quick.data", "book-jobs.cellValueChanged", "book-findings.cellValueChanged", "book-xlsx.n_clicks", "book-range.n_clicks")  # fmt: skip


@pytest.mark.parametrize("trigger", TRIGGERS)
def test_nothing_that_a_page_may_keep_brings_the_view_to_a_fault(trigger, monkeypatch):
    """Beyond the test of any values: here the book is there, so that what stands beside it is used."""
    monkeypatch.setattr(book_store, "work_out_range", lambda *_: None)
    monkeypatch.setattr(book_store, "file_of", lambda token: DEMO_BOOK)
    table = read_orders(DEMO_BOOK)
    monkeypatch.setattr(book_store, "read_apart", lambda *_, **__: table)
    grid = st.lists(st.fixed_dictionaries({"data": st.fixed_dictionaries({"row": st.integers(-1, 4) | anything, "column": st.just("board") | anything, "value": anything, "pin": st.sampled_from(["die", "free"]) | anything, "mendable": anything})}), max_size=2) | anything  # fmt: skip
    name = trigger.partition(".")[0].replace("-", "__")
    first = {"orders__file": files, "orders__asked": asks, "orders__quick": asks, "book__jobs": grid, "book__findings": grid, "book__xlsx": st.just(1), "book__range": st.just(1)}  # fmt: skip

    @settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
    @given(one=first[name], file=files, kept=keeps, asked=asks)
    def called(one, file, kept, asked):
        values = {"orders__file": file, "orders__kept": kept, "orders__asked": asked, "state": STATE, name: one}
        answer = _call(trigger, **values)
        assert answer.status_code in (200, 204, 400), answer.text
        statuses.add(answer.status_code)

    statuses = set()
    called()
    assert statuses & {200, 204}  # some were answered
    assert 400 in statuses  # and some refused


def test_more_cells_than_a_page_may_mend_are_a_message():
    kept = kept_as(DEMO, {(n, "board"): "x" for n in range(2, MOST_MENDED + 2)}, ())
    named = {"book__cell__row": MOST_MENDED + 5, "book__cell__column": "board", "book__cell__value": "x"}
    said = _said(
        _call(
            "book-findings.cellValueChanged",
            pressed="book-cell-mend.n_clicks",
            book__cell__mend=1,
            orders__file={"token": DEMO},
            orders__kept=kept,
            state=STATE,
            **named,
        )
    )
    assert "mend the file itself" in _words(said)
