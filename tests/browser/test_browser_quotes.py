"""Quotes on screen: made of what the Job view shows, found again, opened, side by side, won."""

from __future__ import annotations

import io

import pikepdf
import pytest
from playwright.sync_api import expect

from compare.present.quote_making import ATTACHED
from compare.quotes.record_reader import read_attachment


def _quote(view, client, button="PDF for the client"):
    """Make a quote of what is on screen; return the file."""
    view.page.get_by_label("Client", exact=True).fill(client)
    with view.page.expect_download() as download:
        view.page.get_by_role("button", name=button).click()
    return download.value


@pytest.fixture
def box(view):
    """The Job view with 6,000 cartons on screen, and its box for quotes open."""
    view.open()
    view.type_into("Run length, per order", "6000")
    view.link_is("demand.run_length=6000")
    view.page.get_by_role("button", name="Quote", exact=True).click()
    expect(view.page.get_by_role("button", name="PDF for the client")).to_be_visible()
    return view


def test_the_client_pdf_is_of_what_is_on_screen_and_is_kept(box):
    file = _quote(box, "Ostrelle & <i>Sons</i>")
    with pikepdf.open(io.BytesIO(file.path().read_bytes())) as pdf:
        (spec,) = (s for s in pdf.attachments.values() if s.filename == ATTACHED)
        sealed = read_attachment(spec.get_file().read_bytes())
    assert 6_000 in [row.run_length for row in sealed.client.rows]
    expect(box.page.locator("#quote-made")).to_contain_text(f"Quote {sealed.client.number} is kept.")
    box.page.get_by_role("link", name="Quotes").click()
    expect(box.page.locator("#quotes-list")).to_contain_text(sealed.client.number)
    expect(box.page.locator("#quotes-list")).to_contain_text("Ostrelle & <i>Sons</i>")


@pytest.mark.parametrize(
    ("button", "end"),
    [("Page for the client", ".html"), ("PDF with our own pages", "-internal.pdf"), ("Workbook", "-workbook.xlsx")],
)
def test_every_button_gives_its_file(box, button, end):
    assert _quote(box, "Tarnwick", button).suggested_filename.endswith(end)


def test_a_margin_that_is_none_is_told_beside_its_field(box):
    box.page.locator("#quote-margin").fill("95")
    box.page.get_by_role("button", name="PDF for the client").click()
    expect(box.page.locator("#quote-made")).to_contain_text("the margin is not usable")
    expect(box.page.get_by_text("give 0 to 90% of the price", exact=True)).to_be_visible()


def test_a_quote_is_found_opened_again_and_won(box):
    _quote(box, "Belvoire")
    page = box.page
    page.get_by_role("link", name="Quotes").click()
    page.get_by_label("Search").fill("belvoire")
    rows = page.locator("#quotes-list tbody tr")
    expect(rows).to_have_count(1)
    rows.get_by_role("checkbox").check()
    page.get_by_role("button", name="Open again").click()
    expect(page.locator("#quotes-shown")).to_contain_text("Same figures")
    page.get_by_role("textbox", name="What became of it").click()
    page.get_by_role("option", name="won").click()
    page.get_by_label("At a price per 1,000 of").fill("88.5")
    page.get_by_label("Why").fill("samples liked")
    page.get_by_role("button", name="Keep that").click()
    expect(rows).to_contain_text("won at 88.5: samples liked")
    page.get_by_label("Which quotes").get_by_text("lost").click()
    expect(page.locator("#quotes-list")).to_contain_text("No quote is found.")


def test_the_job_of_a_quote_opens_with_its_inputs(box):
    _quote(box, "Cawston")
    page = box.page
    box.open("/quotes")
    page.get_by_label("Search").fill("cawston")
    expect(page.locator("#quotes-list tbody tr")).to_have_count(1)
    page.locator("#quotes-list").get_by_role("checkbox").check()
    page.get_by_role("button", name="Open again").click()
    page.get_by_role("link", name="Open this job in the Job view").click()
    expect(page.get_by_label("Run length, per order")).to_have_value("6,000")


def test_two_quotes_stand_side_by_side(box):
    for client in ("Dunmore One", "Dunmore Two"):
        _quote(box, client)
        expect(box.page.locator("#quote-made")).to_contain_text("is kept")
    page = box.page
    box.open("/quotes")
    page.get_by_label("Search").fill("dunmore")
    boxes = page.locator("#quotes-list").get_by_role("checkbox")
    expect(boxes).to_have_count(2)
    page.get_by_role("button", name="Side by side").click()
    expect(page.locator("#quotes-shown")).to_contain_text("pick two quotes in the list")
    boxes.nth(0).check()
    boxes.nth(1).check()
    page.get_by_role("button", name="Side by side").click()
    expect(page.locator("#quotes-shown tbody tr").first).to_contain_text("Dunmore")
    expect(page.locator("#quotes-shown")).to_contain_text("Inputs that differ")
