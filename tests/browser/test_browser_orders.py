"""A year of orders on screen: brought, mended, planned within hours, pinned, and taken away as files."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from compare.data_files import data_folder
from compare.decide.book_plan import Limits, plan_book
from compare.present import book_wording
from compare.present.numbers import PLAIN, figures
from compare.readers.orderbook import read_orders
from dashboard.reader import number_style

DEMO = data_folder() / "demo" / "orders_2000.csv"
HEAD = "order,carton,route,run_length [cartons],style,length_mm,width_mm,height_mm,board,sheet_width_mm,sheet_length_mm"
ROWS = [
    "A1,C1,,5000,straight_tuck_end,67,38,119,recycled_300,740,520",
    "A2,C2,,viele,straight_tuck_end,70,40,120,recycled_300,740,520",
    "A3,C3,,800,reverse_tuck_end,73,39,104,recycled_300,740,520",
]


class Orders:
    """The Orders view of one reader."""

    def __init__(self, view):
        self.view, self.page = view, view.page
        self.answer = self.page.locator("#book-answer")
        self.rows = self.page.locator("#book-rows")
        self.hours = self.page.get_by_role("textbox", name="Hours that may be planned, a year", exact=True)

    def upload(self, path):
        self.page.set_input_files("#book-upload input[type=file]", str(path))

    def shows(self, plan, style=PLAIN):
        """Wait until the answer and its proof are those of the engine, to the last figure."""
        expect(self.answer.locator("h1")).to_have_text(book_wording.answer_sentence(plan, style))
        sure = book_wording.gap_sentence(plan, style), book_wording.advice_sentence(plan, style)
        expect(self.answer.locator("p")).to_have_text(" ".join(filter(None, sure)))

    def grid(self, name, column, row=0):
        return self.page.locator(f"#{name} [row-index='{row}'] [col-id='{column}']")


@pytest.fixture
def engine(settings):
    """Ask the engine for the plan of a file."""

    def plan(path, hours=None, *, by_month=True, costing="full", mended=None):
        table = read_orders(path, currency="EUR", mended=mended)
        limits = None if hours is None else Limits(hours, by_month=by_month)
        return plan_book(table, settings.plant, costing=costing, limits=limits)

    return plan


@pytest.fixture
def orders(view):
    view.open("/orders")
    return Orders(view)


@pytest.fixture
def small(tmp_path):
    """A book of three orders, one of which has a word for its run length."""
    file = tmp_path / "small.csv"
    file.write_text("\n".join([HEAD, *ROWS]) + "\n", encoding="utf-8")
    return file


def test_the_invented_orders_show_the_engines_answer_figures_and_charts(orders, engine):
    orders.page.get_by_role("button", name="Try it with invented orders").click()
    plan = engine(DEMO)
    orders.shows(plan)
    expect(orders.rows).to_contain_text("2,000 orders in = 2,000 computed + 0 waiting")
    expect(orders.page.locator("#book-figures")).to_contain_text(f"{figures(plan.hours_used)} of 3,200 h")
    expect(orders.page.locator("#book-investment")).to_contain_text(f"{figures(plan.investment.npv)} EUR")
    for name in ("saving", "loads", "shifts"):
        expect(orders.page.locator(f"#chart-book-{name} .main-svg").first).to_be_visible()


def test_an_uploaded_book_is_answered_and_stays_through_a_reload_and_other_views(orders, engine):
    orders.upload(data_folder() / "demo" / "orders_20.csv")
    plan = engine(data_folder() / "demo" / "orders_20.csv")
    orders.shows(plan)
    orders.page.get_by_role("link", name="Cases", exact=True).click()
    expect(orders.page.get_by_role("heading", name="Cases")).to_be_visible()
    orders.page.get_by_role("link", name="Orders", exact=True).click()
    orders.shows(plan)
    orders.page.reload()
    orders.shows(plan)
    assert "orders_20" not in orders.page.url


def test_fewer_hours_are_answered_at_once_and_then_to_the_proof(orders, engine):
    orders.page.get_by_role("button", name="Try it with invented orders").click()
    orders.shows(engine(DEMO))
    orders.page.get_by_role("switch", name="No month takes more than a twelfth of them").click()
    orders.hours.fill("400")
    orders.hours.press("Tab")
    plan = engine(DEMO, 400, by_month=False)
    orders.shows(plan)
    expect(orders.page.locator("#book-figures")).to_contain_text(f"about {figures(plan.hour_value)} EUR")
    slider = orders.page.get_by_role("slider", name="Hours of the line that may be planned, a year")
    expect(slider).to_have_attribute("aria-valuenow", "400")


def test_the_slider_answers_to_the_keyboard_and_tells_the_field(orders, small, engine):
    orders.upload(small)
    slider = orders.page.get_by_role("slider", name="Hours of the line that may be planned, a year")
    slider.focus()
    slider.press("Home")
    expect(orders.hours).to_have_value("0")
    orders.shows(engine(small, 0))


def test_a_bad_cell_waits_while_others_are_computed_and_counts_once_it_is_mended_in_place(orders, small, engine):
    orders.upload(small)
    expect(orders.rows).to_contain_text("3 orders in = 2 computed + 1 waiting")
    orders.shows(engine(small))
    cell = orders.grid("book-findings", "value")
    expect(cell).to_have_text("viele")
    cell.click()
    cell.locator("input").fill("7000")
    cell.locator("input").press("Enter")
    expect(orders.rows).to_contain_text("3 orders in = 3 computed + 0 waiting")
    orders.shows(engine(small, mended={(3, "run_length [cartons]"): "7000"}))
    expect(orders.page.locator("#book-jobs .ag-pinned-left-cols-container .ag-row")).to_have_count(3)


def test_a_cell_typed_wrong_again_stays_to_be_mended(orders, small):
    orders.upload(small)
    cell = orders.grid("book-findings", "value")
    cell.click()
    cell.locator("input").fill("many")
    cell.locator("input").press("Enter")
    expect(cell).to_have_text("many")
    expect(orders.rows).to_contain_text("1 cell is mended on this page")
    expect(orders.rows).to_contain_text("2 computed + 1 waiting")


def test_a_job_pinned_in_the_grid_changes_its_route_and_the_answer(orders, small):
    orders.upload(small)
    expect(orders.page.locator("#book-remarks")).to_contain_text("What the figures are")  # the whole plan is there
    route, pin, why = (orders.grid("book-jobs", name) for name in ("route", "pin", "why"))
    expect(route).to_have_text("laser")
    before = orders.answer.locator("h1").inner_text()
    pin.click()
    orders.page.keyboard.press("ArrowDown")  # opens the list
    orders.page.locator(".ag-list-item", has_text="die").click()
    expect(route).to_have_text("die")
    expect(why).to_contain_text("keeps its carton on the die")
    expect(orders.answer.locator("h1")).not_to_have_text(before)


def test_headings_that_are_not_clear_are_mapped_and_read(orders, tmp_path):
    file = tmp_path / "named.csv"
    file.write_text("\n".join([HEAD.replace("run_length [cartons]", "Wieviel"), ROWS[0]]) + "\n", encoding="utf-8")
    orders.upload(file)
    expect(orders.rows).to_contain_text("1 orders in = 0 computed + 1 waiting")
    orders.page.get_by_role("textbox", name="What Wieviel holds").click()
    orders.page.get_by_role("option", name="run_length [cartons]").click()
    orders.page.get_by_role("button", name="Read it with these columns").click()
    expect(orders.rows).to_contain_text("1 orders in = 1 computed + 0 waiting")


def test_costing_in_the_orders_view_is_that_of_the_link_and_of_the_other_views(orders, small, engine):
    orders.upload(small)
    orders.shows(engine(small))
    orders.page.get_by_text("cash costing", exact=True).click()
    orders.shows(engine(small, costing="cash"))
    orders.view.link_is("costing=cash")


def test_the_range_is_worked_out_on_request(orders, small):
    orders.upload(small)
    expect(orders.page.locator("#book-investment")).to_contain_text("net present value")
    orders.page.get_by_role("button", name="Work out the range").click()
    expect(orders.page.locator("#book-range-box")).to_have_text("The range is worked out.")
    expect(orders.page.locator("#book-investment")).to_contain_text("What moves the saving most")


def test_a_file_that_is_no_book_says_so_and_leaves_the_answer(orders, small, engine, tmp_path):
    orders.upload(small)
    orders.shows(engine(small))
    other = tmp_path / "letter.xlsx"
    other.write_bytes(b"PK\x03\x04Dear client")
    orders.upload(other)
    expect(orders.page.locator("#book-problem")).to_contain_text("letter.xlsx")
    orders.shows(engine(small))


TAKEN_AWAY = {
    "Workbook, XLSX": "order-book-plan.xlsx",
    "Jobs, CSV": "order-book-jobs.csv",
    "Findings, CSV": "order-book-findings.csv",
    "Template, XLSX": "orders-template.xlsx",
    "Template, CSV": "orders-template.csv",
    "CSV of the chart book-saving": "evenrun-orders-saving.csv",
    "SVG of the chart book-loads": "evenrun-book-loads.svg",
    "PNG of the chart book-shifts": "evenrun-book-shifts.png",
}


def test_everything_can_be_taken_away(orders, small):
    orders.upload(small)
    expect(orders.page.locator("#chart-book-shifts .main-svg").first).to_be_visible()
    expect(orders.page.locator("#book-remarks")).to_contain_text("What the figures are")
    for button, file in TAKEN_AWAY.items():
        with orders.page.expect_download() as download:
            orders.page.get_by_role("button", name=button, exact=True).click()
        assert download.value.suggested_filename == file
        assert Path(download.value.path()).stat().st_size > 100


def test_numbers_are_written_the_readers_way(new_view, engine):
    orders = Orders(new_view(locale="de-DE").open("/orders"))
    orders.page.get_by_role("button", name="Try it with invented orders").click()
    orders.shows(engine(DEMO), number_style("de-DE"))
    expect(orders.grid("book-jobs", "saving")).to_have_text(re.compile(r"^\d+\.\d{3}$"))
    expect(orders.hours).to_have_value("3.200")


def test_the_answer_arriving_moves_nothing_that_is_on_screen(orders):
    """Places of figures and charts are kept until they come."""
    orders.page.evaluate(
        """() => {
            window.shifts = [];
            new PerformanceObserver(list => {
                for (const one of list.getEntries()) if (!one.hadRecentInput) window.shifts.push(one.value);
            }).observe({type: "layout-shift", buffered: true});
        }"""
    )
    orders.page.get_by_role("button", name="Try it with invented orders").click()
    expect(orders.page.locator("#book-remarks")).to_contain_text("What the figures are")
    expect(orders.page.locator("#chart-book-shifts .main-svg").first).to_be_visible()
    assert sum(orders.page.evaluate("window.shifts")) < 0.1  # what a page may shift and still count as steady
