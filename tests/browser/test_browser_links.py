"""State in the address: a link opens to the same figures, history works, and a strange link says what it is."""

from __future__ import annotations

from playwright.sync_api import expect

RUN = "Run length, per order"


def _change_much(view):
    view.open()
    view.type_into(RUN, "75000")
    view.shows(view.engine(demand__run_length=75_000))
    view.type_into("Versions", "3")
    view.choose("Carton", "crash lock")
    view.switch_to("Cash costing")
    c = view.engine("cash", demand__run_length=75_000, demand__versions=3, carton__style="crash_lock")
    view.shows(c)
    view.link_is("demand.run_length=75000", "demand.versions=3", "carton.style=crash_lock", "costing=cash")
    return c


def test_a_link_opens_the_same_figures_for_someone_else(view, new_view):
    c = _change_much(view)
    other = new_view().open("/" + view.search)
    other.shows(c)
    expect(other.number("Versions")).to_have_value("3")
    expect(other.page.locator("#notes")).to_have_count(0)
    expect(other.page.locator("#problem")).to_be_empty()


def test_a_reload_keeps_everything(view):
    c = _change_much(view)
    view.page.reload()
    view.shows(c)
    expect(view.number(RUN)).to_have_value("75,000")


def test_only_what_differs_from_a_new_page_is_in_the_address(view):
    view.open()
    assert view.search == ""
    view.type_into(RUN, "75000")
    view.link_is("demand.run_length=75000")
    assert view.search.count("=") == 2  # the input, and the digest of the tables
    view.type_into(RUN, "20000")
    view.shows(view.engine())
    view.page.wait_for_url(view.base + "/", wait_until="commit")


def test_back_goes_to_the_page_as_it_was_first_opened(view):
    view.open()
    view.type_into(RUN, "75000")
    view.link_is("75000")
    view.page.go_back(wait_until="commit")
    view.shows(view.engine())
    expect(view.number(RUN)).to_have_value("20,000")


def test_back_and_forward_walk_through_the_changes(view):
    view.open()
    for run in (30_000, 40_000):
        view.type_into(RUN, str(run))
        view.shows(view.engine(demand__run_length=run))
        view.link_is(f"demand.run_length={run}")
    view.page.go_back(wait_until="commit")
    view.shows(view.engine(demand__run_length=30_000))
    view.page.go_forward(wait_until="commit")
    view.shows(view.engine(demand__run_length=40_000))
    expect(view.number(RUN)).to_have_value("40,000")


def test_back_works_again_after_another_change(view):
    """From 30,000 to 40,000, back, on to 50,000, back: the second time must find 30,000 too."""
    view.open()
    for run in (30_000, 40_000):
        view.type_into(RUN, str(run))
        view.link_is(f"demand.run_length={run}")
    view.page.go_back(wait_until="commit")
    view.shows(view.engine(demand__run_length=30_000))
    view.type_into(RUN, "50000")
    view.link_is("demand.run_length=50000")
    view.page.go_back(wait_until="commit")
    view.shows(view.engine(demand__run_length=30_000))


def test_the_inputs_go_along_to_the_other_views_and_back(view):
    view.open()
    view.type_into(RUN, "75000")
    view.link_is("75000")
    view.page.get_by_role("link", name="Assumptions").click()
    expect(view.page.locator("#assumption-count")).to_contain_text("1 value differs")
    view.link_is("/assumptions?demand.run_length=75000")
    view.page.get_by_role("link", name="Job", exact=True).click()
    view.shows(view.engine(demand__run_length=75_000))


def test_a_link_made_with_other_tables_says_so_and_is_computed_with_todays(view):
    view.open("/?demand.run_length=75000&tables=0123456789ab")
    expect(view.page.locator("#notes")).to_contain_text("have changed since this link was made")
    view.shows(view.engine(demand__run_length=75_000))


def test_a_link_says_what_of_it_was_left_out(view):
    """A name that does not exist, a value that can't be, a choice that is none: the rest counts."""
    view.open("/?demand.run_length=75000&demand.colour=7&demand.versions=-3&sheet.grain=sideways&%00%ff=<script>")
    notes = view.page.locator("#notes")
    for named in ("demand.colour", "demand.versions", "sideways"):
        expect(notes).to_contain_text(named)
    view.shows(view.engine(demand__run_length=75_000))
    expect(notes.locator("script")).to_have_count(0)


def test_a_link_of_garbage_opens_a_new_page_and_says_so(view):
    view.open("/?" + "a=1&" * 600)
    view.shows(view.engine())
    expect(view.page.locator("#notes")).not_to_be_empty()


def test_back_leaves_a_link_that_was_put_right(view):
    """Were the address rewritten as a further step of history, back would lead to the same page for ever."""
    view.open("/assumptions")
    view.open("/?demand.run_length=75000&demand.colour=7")
    view.shows(view.engine(demand__run_length=75_000))
    expect(view.page.locator("#chart-outline .main-svg").first).to_be_visible()
    view.page.go_back(wait_until="commit")
    expect(view.page.locator("#assumption-grid")).to_be_visible()


def test_a_link_whose_values_contradict_one_another_keeps_them_on_screen(view):
    view.open("/?demand.versions=30000")
    expect(view.page.locator("#problem").get_by_role("alert")).to_contain_text("Not computed")
    expect(view.number("Versions")).to_have_value("30,000")
    view.type_into("Versions", "3")
    view.shows(view.engine(demand__versions=3))


def test_there_is_a_word_for_a_page_that_is_not_there(view):
    answer = view.page.request.get(view.base + "/no-such-view")
    assert answer.status == 404
    assert "There is no such page." in answer.text()
