"""A drawing on screen: dropped, mapped, measured, taken over; nothing counts before somebody said what it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from compare.data_files import data_folder

DRAWINGS = data_folder() / "demo" / "drawings"


def _upload(view, path):
    view.page.set_input_files("#drawing-upload input[type=file]", str(path))


@pytest.fixture
def uploaded(view):
    """A page with a drawing whose layers are named but not mapped."""
    view.open()
    _upload(view, DRAWINGS / "window_carton.dxf")
    expect(view.page.locator("#drawing-panel")).to_contain_text("No line is mapped yet")
    return view


def test_a_drawing_without_steps_counts_as_nothing_until_it_is_mapped(uploaded):
    expect(uploaded.page.locator("#drawing-answer")).to_contain_text("are not mapped and count as nothing")
    expect(uploaded.page.locator("#drawing-use")).to_have_count(0)


def test_confirmed_suggestions_give_the_lengths_and_the_carton_of_the_job(uploaded):
    uploaded.page.click("#drawing-confirm")
    expect(uploaded.page.locator("#drawing-answer")).to_contain_text(
        "cutting 1.312 m, creasing 0.960 m, perforating 0.480 m"
    )
    before = uploaded.answer.inner_text()
    uploaded.page.click("#drawing-use")
    expect(uploaded.number("Cutting, m")).to_have_value(re.compile(r"^1\.3122"))
    expect(uploaded.answer).not_to_have_text(before)


def test_the_link_holds_the_lengths_and_not_the_drawing(uploaded):
    uploaded.page.click("#drawing-confirm")
    before = uploaded.answer.inner_text()
    uploaded.page.click("#drawing-use")
    expect(uploaded.page).to_have_url(re.compile("work.cutting_m=1.3122"))
    expect(uploaded.answer).not_to_have_text(before)
    assert "window_carton" not in uploaded.page.url
    shown = uploaded.answer.inner_text()
    uploaded.page.reload()
    expect(uploaded.answer).to_have_text(shown)


def test_a_map_is_remembered_for_the_next_drawing(uploaded):
    uploaded.page.click("#drawing-confirm")
    expect(uploaded.page.locator("#drawing-answer")).to_contain_text("cutting 1.312 m")
    uploaded.page.reload()
    _upload(uploaded, DRAWINGS / "wave_sleeve.dxf")
    expect(uploaded.page.locator("#drawing-answer")).to_contain_text("cutting 0.742 m, creasing 0.240 m")


def test_a_pdf_with_processing_steps_needs_no_map(view):
    view.open()
    _upload(view, DRAWINGS / "window_carton.pdf")
    expect(view.page.locator("#drawing-answer")).to_contain_text("cutting 1.312 m, creasing 0.960 m")


def test_a_file_that_is_no_drawing_says_so_and_leaves_the_answer(view, tmp_path):
    view.open()
    before = view.answer.inner_text()
    other = tmp_path / "letter.dxf"
    other.write_text("Dear client, " * 100, encoding="utf-8")
    _upload(view, other)
    expect(view.page.locator("#problem")).to_contain_text("letter.dxf")
    expect(view.answer).to_have_text(before)


def test_a_finding_points_at_its_place_on_the_drawing(view, tmp_path):
    """A slot of 1 mm is closer than two rules can stand."""
    svg = tmp_path / "slot.svg"
    shape = "M 0 0 H 100 V 60 H 0 Z M 20 20 H 60 V 21 H 20 Z"
    svg.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="80mm" viewBox="-10 -10 120 80">'
        f'<g id="cut" stroke="#000" fill="none"><path d="{shape}"/></g></svg>',
        encoding="utf-8",
    )
    view.open()
    _upload(view, svg)
    view.page.click("#drawing-confirm")
    finding = view.page.locator("button.finding", has_text="Two rules can't stand closer").first
    finding.click()
    expect(finding).to_have_class(re.compile("pointed"))
    sizes = view.page.evaluate(
        "() => document.querySelector('#chart-drawing .js-plotly-plot').data.find(t => t.name === 'findings').marker.size"
    )
    assert 26 in sizes


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_a_drawing(uploaded, scheme):
    uploaded.page.get_by_text(scheme, exact=True).click()
    uploaded.page.click("#drawing-confirm")
    expect(uploaded.page.locator("#drawing-use")).to_be_visible()
    found = Axe().run(uploaded.page).response["violations"]
    assert [(v["id"], [node["html"] for node in v["nodes"]]) for v in found] == []


def test_the_sample_folder_is_there():
    """The tests above read it; a wheel carries it as well."""
    assert sorted(path.name for path in Path(DRAWINGS).glob("*.dxf")) == ["wave_sleeve.dxf", "window_carton.dxf"]
