"""For everyone: by keyboard alone, in both colour schemes, on a tablet; axe-core finds nothing to complain of."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from dashboard import client
from dashboard.reader import SCHEME_COOKIE
from dashboard.state import State

from .pages import TABLET

RUN = "Run length, per order"
FOCUSED = "rgb(42, 95, 158)"
"""Border of a field that has the focus, on light ground."""


def _violations(page):
    """What axe-core, which comes with its Python package, has against the page as it is now.

    In a grid that draws only the rows in sight, axe's rule on contrast gives up, and leaves out the whole
    page. Where that happens, the page is looked at again without the grid, whose contrast has a test of its own.
    """
    looked = [Axe().run(page).response]
    if "color-contrast" not in [one["id"] for one in looked[0]["passes"]]:
        without_grid, rule = {"exclude": [[".ag-root-wrapper"]]}, {"type": "rule", "values": ["color-contrast"]}
        looked.append(Axe().run(page, without_grid, {"runOnly": rule}).response)
        assert [one["id"] for one in looked[1]["passes"]] == ["color-contrast"]
    found = [(one["id"], node) for result in looked for one in result["violations"] for node in one["nodes"]]
    return [f"{rule}: {node['html'][:200]}" for rule, node in found]


@pytest.fixture(params=["light", "dark"])
def coloured(request, new_view):
    """A page of a reader who chose these colours before."""
    view = new_view()
    view.page.context.add_cookies([{"name": SCHEME_COOKIE, "value": request.param, "url": view.base}])
    return view


def _on_both_widths(view):
    found = _violations(view.page)
    view.page.set_viewport_size(TABLET)
    toggle = view.page.get_by_role("button", name="Inputs", exact=True)
    if toggle.is_visible():
        toggle.click()
        expect(view.number(RUN)).to_be_visible()
    return found + _violations(view.page)


def test_axe_finds_nothing_in_the_job_view_nor_with_its_messages(coloured):
    coloured.open("/?demand.colour=7&tables=0123456789ab")
    expect(coloured.page.locator("#chart-outline .main-svg").first).to_be_visible()
    coloured.page.get_by_role("button", name="Client link").click()
    coloured.page.get_by_role("button", name="Make the link").click()
    expect(coloured.page.get_by_role("link", name="Open the client view")).to_be_visible()
    assert _violations(coloured.page) == []
    coloured.page.get_by_role("button", name="Why: every line behind the figures").click()
    expect(coloured.page.locator("#ledger table")).to_be_visible()
    coloured.type_into("Versions", "30000")
    expect(coloured.page.locator("#problem").get_by_role("alert")).to_contain_text("Not computed")
    assert _violations(coloured.page) == []
    coloured.type_into("Versions", "0")
    expect(coloured.number("Versions")).to_have_attribute("aria-invalid", "true")
    assert _on_both_widths(coloured) == []


def test_axe_finds_nothing_in_the_assumptions_nor_with_a_refusal(coloured):
    coloured.open("/assumptions")
    value = coloured.page.locator(".ag-center-cols-container [row-id='demand.versions'] [col-id='value']")
    value.click()
    value.locator("input").fill("0")
    value.locator("input").press("Enter")
    why = coloured.page.locator(".ag-center-cols-container [row-id='demand.versions'] [col-id='meaning']")
    expect(why).to_contain_text("Not changed")
    assert _on_both_widths(coloured) == []


def test_axe_finds_nothing_in_the_cases(coloured):
    coloured.open("/cases")
    saved = '[{"name": "one", "link": "", "saved": ""}, {"name": "two", "link": "?demand.versions=2", "saved": ""}]'
    coloured.page.evaluate("saved => localStorage.setItem('cases', saved)", saved)
    coloured.page.reload()
    expect(coloured.page.get_by_role("heading", name="What comes out")).to_be_visible()
    assert _on_both_widths(coloured) == []


def test_axe_finds_nothing_in_the_orders_nor_with_cells_to_mend_and_headings_to_map(coloured, tmp_path):
    book = tmp_path / "orders.csv"
    head = "order,run_length [cartons],style,length_mm,width_mm,height_mm,board,sheet_width_mm,sheet_length_mm,Farbe"
    good = "A1,5000,straight_tuck_end,67,38,119,recycled_300,740,520,rot"
    book.write_text("\n".join([head, good, good.replace("A1,5000", "A2,viele")]) + "\n", encoding="utf-8")
    coloured.open("/orders")
    assert _violations(coloured.page) == []
    coloured.page.set_input_files("#book-upload input[type=file]", str(book))
    expect(coloured.page.locator("#book-remarks")).to_contain_text("What the figures are")
    expect(coloured.page.locator("#chart-book-shifts .main-svg").first).to_be_visible()
    assert _on_both_widths(coloured) == []


def test_axe_finds_nothing_in_the_client_view_nor_with_an_error(coloured, settings):
    page = coloured.page
    page.goto(coloured.base + client.make_link(State({"demand.versions": 2.0}), 25, settings))
    expect(page.locator("#chart-outline .main-svg").first).to_be_visible()
    coloured.type_into("Versions", "0")
    expect(coloured.number("Versions")).to_have_attribute("aria-invalid", "true")
    assert _on_both_widths(coloured) == []


def _contrast(one, other):
    """Contrast ratio of two colours such as rgb(1, 2, 3), by WCAG 2.2, definition of contrast ratio."""

    def luminance(colour):
        parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
        red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_grid_can_be_read_in_both_colours(coloured):
    """WCAG 2.2, criterion 1.4.3: 4.5 to 1; axe-core does not see into the grid."""
    coloured.open("/assumptions")
    cell = coloured.page.locator("[row-id='demand.versions'] [col-id='value']")
    expect(cell).to_be_visible()
    text, ground = cell.evaluate(
        r"""cell => {
            const painted = [];
            for (let one = cell; one; one = one.parentElement) painted.push(getComputedStyle(one).backgroundColor);
            return [getComputedStyle(cell).color, painted.find(colour => !/, 0\)$/.test(colour))];
        }"""
    )
    assert _contrast(text, ground) >= 4.5


def _tab_to(page, name, role, most=70):
    """Press Tab until the element that is so called has the focus; at every stop one must see where one is."""
    wanted = page.get_by_role(role, name=name, exact=True)
    for _ in range(most):
        page.keyboard.press("Tab")
        kind = page.evaluate("document.activeElement.type || ''")
        if kind == "text":
            expect(page.locator("*:focus")).to_have_css("border-top-color", FOCUSED)
        else:  # a switch is drawn by what stands beside it
            beside = " + *" if kind in ("radio", "checkbox") else ""
            expect(page.locator(f"*:focus{beside}")).not_to_have_css("outline-style", "none")
        if wanted.evaluate("element => element === document.activeElement"):
            return
    pytest.fail(f"{name} can't be reached with {most} tabs")


def test_the_keyboard_alone_leads_from_the_first_field_to_the_copied_link(view):
    """Someone without a mouse changes the carton and the run length, and hands the link on."""
    view.page.context.grant_permissions(["clipboard-read", "clipboard-write"], origin=view.base)
    view.open()
    _tab_to(view.page, "Carton", "textbox")
    view.page.keyboard.press("ArrowDown")
    expect(view.page.get_by_role("option", name="sleeve", exact=True)).to_be_visible()
    view.page.keyboard.press("Home")
    view.page.keyboard.press("Enter")
    first = view.page.get_by_role("textbox", name="Carton", exact=True).input_value()
    view.shows(view.engine(carton__style=first.replace(" ", "_")))
    _tab_to(view.page, RUN, "textbox")
    view.page.keyboard.press("Control+A")
    view.page.keyboard.type("75000")
    _tab_to(view.page, "Copy link", "button")
    view.shows(view.engine(carton__style=first.replace(" ", "_"), demand__run_length=75_000))
    view.link_is("demand.run_length=75000")
    view.page.keyboard.press("Enter")
    expect(view.page.locator("#done")).to_have_text("Link copied")
    copied = view.page.evaluate("navigator.clipboard.readText()")
    assert copied == view.page.url
    assert "demand.run_length=75000" in copied


def test_the_first_stop_of_the_keyboard_leads_past_the_inputs(view):
    view.open()
    view.page.keyboard.press("Tab")
    expect(view.page.get_by_role("link", name="To the answer")).to_be_focused()
    view.page.keyboard.press("Enter")
    expect(view.page.locator("#content")).to_be_focused()
    view.shows(view.engine())


def test_on_a_tablet_the_inputs_fold_away_and_nothing_is_wider_than_the_screen(new_view):
    view = new_view(viewport=TABLET).open()
    expect(view.answer).to_be_in_viewport()
    expect(view.number(RUN)).to_be_hidden()
    view.page.get_by_role("button", name="Inputs", exact=True).click()
    view.type_into(RUN, "75000")
    view.shows(view.engine(demand__run_length=75_000))
    assert view.page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]


def test_on_a_tablet_the_inputs_stay_open_when_another_group_of_them_comes_on_screen(new_view):
    """Lengths instead of a style lay the view out anew; whoever is in the middle of it goes on in the same drawer."""
    view = new_view(viewport=TABLET).open()
    view.page.get_by_role("button", name="Inputs", exact=True).click()
    view.choose("Carton", "from its lengths")
    expect(view.number("Cutting, m")).to_be_visible()
    view.page.get_by_role("button", name="Inputs", exact=True).click()
    expect(view.number(RUN)).to_be_hidden()


@pytest.mark.parametrize("path", ["/orders", "/assumptions", "/cases", "/quotes"])
def test_no_view_is_wider_than_a_tablet(new_view, path):
    """Help that is hidden still counts: it must open towards the inside."""
    view = new_view(viewport=TABLET).open(path)
    assert view.page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]


def test_fields_on_dark_cards_are_of_the_cards_own_blue_grey(new_view):
    """A grey without blue looks brown beside it; a hue is told by which part of the colour is largest."""
    view = new_view()
    view.page.context.add_cookies([{"name": SCHEME_COOKIE, "value": "dark", "url": view.base}])
    view.open()
    for field in (
        view.number(RUN),
        view.page.get_by_role("button", name="Copy link"),
        view.page.locator(".card").first,
    ):
        colour = field.evaluate("one => getComputedStyle(one).backgroundColor")
        red, green, blue = (int(part) for part in re.findall(r"\d+", colour)[:3])
        assert red < green < blue


@pytest.mark.parametrize("path", ["/", "/orders", "/assumptions", "/cases", "/quotes"])
def test_every_view_names_its_language_and_has_one_main_heading(view, path):
    """A screen reader needs the language to speak it, and the first heading to say where one is."""
    view.open(path)
    expect(view.page.locator("html")).to_have_attribute("lang", "en")
    expect(view.page.get_by_role("heading", level=1)).to_have_count(1)
    expect(view.page.get_by_role("main")).to_have_count(1)
    for group in view.page.get_by_role("radiogroup").all():
        expect(group).to_have_accessible_name(re.compile(r"\w"))
