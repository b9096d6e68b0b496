"""The page a client keeps: nothing but what the client may see, and nothing that asks a server."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from lxml import html
from playwright.sync_api import Browser, Page, sync_playwright

from compare.present.leave_behind import leave_behind
from compare.present.numbers import figures
from compare.present.quote_content import quote_content

from .quoted import LANGUAGES, asked_of, content_of, unsure_of

NASTY = "</script><img src=x onerror=alert(1)><b>\"'&{{ 7*7 }}"


def _text(job: str = "soap_sleeve", language="en") -> str:
    return leave_behind(content_of(job, language)).decode("utf-8")


def _tree(text: str):
    return html.fromstring(text)


def _data(text: str) -> dict:
    return json.loads(_tree(text).get_element_by_id("data").text)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_page_holds_the_answer_and_every_price(language):
    page, text = content_of("soap_sleeve", language).client, _tree(_text("soap_sleeve", language)).text_content()
    assert page.answer in text
    assert all(price in text for row in page.prices for price in (row.run, row.die, row.laser))


@pytest.mark.parametrize("job", ["soap_sleeve", "toy_pvc_laminate"])
def test_no_cost_is_anywhere_in_the_bytes(job):
    c, text = unsure_of(job).comparison, _text(job)
    costs = [c.route(route).cost_per_1000 for route in ("die", "laser") if c.route(route).feasible]
    prices = {price for row in content_of(job).client.prices for price in (row.die, row.laser)}
    assert not [
        v for v in costs if figures(v) not in prices and re.search(rf"(?<![\d.,]){re.escape(figures(v))}(?!\d)", text)
    ]
    known = [price for values in _data(text)["prices"].values() for price in values]
    curves = c.cost_per_1000_at(np.array([row.run_length for row in content_of(job).client.prices]))
    assert not {float(f"{v:.6g}") for values in curves.values() for v in values} & set(known)
    assert not re.search(r"\bmargin\b(?!:)|0\.37\b|37\s?%", re.sub(r"<style>.*?</style>", "", text, flags=re.S))


def test_nothing_is_fetched_from_anywhere():
    text = _text()
    assert _tree(text).xpath("//@src | //@href | //@action | //@srcset | //@data | //@poster | //@background") == []
    assert set(re.findall(r"https?://[^\s\"'<]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "@import" not in text
    assert "url(" not in text


def test_the_policy_names_the_style_and_the_script_by_their_digests_and_allows_nothing_else():
    text = _text()
    tree = _tree(text)
    (policy,) = tree.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    style, script = re.search(r"<style>(.*?)</style>", text, re.S)[1], re.findall(r"<script>(.*?)</script>", text, re.S)

    def digest(part: str) -> str:
        return "sha256-" + base64.b64encode(hashlib.sha256(part.encode()).digest()).decode()

    assert policy == (
        f"default-src 'none'; style-src '{digest(style)}'; script-src '{digest(script[0])}'; base-uri 'none'; form-action 'none'"
    )
    assert len(script) == 1
    assert tree.xpath("//*[@style] | //*[starts-with(name(@*), 'on')]") == []


def test_names_are_text_and_never_markup():
    unsure = unsure_of("soap_sleeve")
    text = leave_behind(quote_content(unsure, asked_of(unsure, client=NASTY), number=NASTY)).decode()
    tree = _tree(text)
    assert tree.xpath("//img | //b") == []
    assert tree.xpath("//p[@class='for']")[0].text_content() == f"for {NASTY}"
    assert len(tree.xpath("//script")) == 2


def test_the_same_content_gives_the_same_bytes():
    assert leave_behind(content_of("soap_sleeve")) == leave_behind(content_of("soap_sleeve"))


def test_it_is_small_enough_to_be_mailed():
    assert len(leave_behind(content_of("soap_sleeve"))) < 100_000


def test_prices_of_the_table_are_among_those_that_can_be_pointed_at():
    data = _data(_text())
    for row in content_of("soap_sleeve").client.prices:
        at = data["runs"].index(int(row.run_length))
        assert data["prices"]["die"][at] == pytest.approx(row.prices["die"], rel=1e-5)
        assert data["prices"]["laser"][at] == pytest.approx(row.prices["laser"], rel=1e-5)


# -- in a browser without a network -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Start the browser of the system; without one, say so, or fail where the house demands one."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        reason = "there is no chromium on this machine"
        if os.environ.get("EVENRUN_REQUIRE_BROWSER") == "1":
            pytest.fail(f"{reason}, and EVENRUN_REQUIRE_BROWSER=1 lets no browser test be skipped")
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-dev-shm-usage"])
        yield browser
        browser.close()


@pytest.fixture
def opened(chromium, tmp_path):
    """Open a page from its file, offline; whatever a test does, the console stays clean and nothing is asked for."""
    context = chromium.new_context(offline=True, viewport={"width": 1200, "height": 900})
    said: list[str] = []
    asked: list[str] = []

    def show(job: str = "soap_sleeve", language="en") -> Page:
        file: Path = tmp_path / "page.html"
        file.write_bytes(leave_behind(content_of(job, language)))
        page = context.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(file.as_uri())
        return page

    yield show
    assert said == []
    assert [address for address in asked if not address.startswith("file:")] == []
    assert len(asked) == 1
    context.close()


def test_it_opens_offline_at_the_quoted_run_length(opened):
    page = opened()
    row = next(row for row in content_of("soap_sleeve").client.prices if row.quoted)
    expected = f"At 6,000 cartons per order: {row.die} EUR per 1,000 with the steel-rule die, {row.laser} EUR per 1,000 with the laser."
    assert page.inner_text("#readout") == expected


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_run_length_of_the_table_that_is_typed_gives_the_prices_of_the_table(opened, language):
    page = opened("soap_sleeve", language)
    for row in content_of("soap_sleeve", language).client.prices:
        page.fill("#run", row.run)
        said = page.inner_text("#readout")
        assert f"{row.run} " in said
        assert f"{row.die} EUR" in said
        assert f"{row.laser} EUR" in said


@pytest.mark.parametrize("typed", ["", "x", "0", "-5", "1e9", "99999999", "<b>1</b>"])
def test_what_is_no_run_length_is_told_and_changes_nothing(opened, typed):
    page = opened()
    before = page.inner_text("#readout")
    page.fill("#run", typed)
    assert page.inner_text("#fault") == "Give a run length from 200 to 500,000."
    assert page.get_attribute("#run", "aria-invalid") == "true"
    assert page.inner_text("#readout") == before
    page.fill("#run", "20000")
    assert page.inner_text("#fault") == ""


def test_the_chart_can_be_read_with_the_keyboard_alone(opened):
    page = opened()
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "plot"
    before = int(page.get_attribute("#plot", "aria-valuenow"))
    page.keyboard.press("ArrowRight")
    after = int(page.get_attribute("#plot", "aria-valuenow"))
    assert before < after < before * 1.05
    page.keyboard.press("Home")
    assert page.get_attribute("#plot", "aria-valuenow") == page.get_attribute("#plot", "aria-valuemin")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("End")
    assert page.get_attribute("#plot", "aria-valuenow") == page.get_attribute("#plot", "aria-valuemax")
    assert page.get_attribute("#plot", "aria-valuetext") == page.inner_text("#readout")


def test_pointing_at_the_chart_reads_the_prices_there(opened):
    page = opened()
    box = page.locator("#plot svg").bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.9, box["y"] + box["height"] * 0.5)
    there = int(page.get_attribute("#plot", "aria-valuenow"))
    assert there > 100_000
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] - 50)
    assert page.get_attribute("#plot", "aria-valuenow") == "6000"


def test_a_job_of_one_route_reads_one_price(opened):
    page = opened("toy_pvc_laminate")
    assert page.inner_text("#readout").count("EUR") == 1
    assert "die" in page.inner_text("#readout")


@pytest.mark.parametrize("width", [360, 820, 1920])
def test_nothing_runs_past_the_edge_of_a_narrow_or_wide_screen(opened, width):
    page = opened()
    page.set_viewport_size({"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_everything_to_use_or_to_see_has_a_name(opened):
    page = opened()
    assert page.get_by_role("slider", name="Run length, cartons per order").count() == 1
    assert page.get_by_role("textbox", name="Run length, cartons per order").count() == 1
    assert page.get_by_role("heading", level=1).count() == 1
    assert page.get_by_role("img", name=re.compile("flat carton")).count() == 1
    assert page.locator("table").count() == page.locator("table:has(th[scope=col])").count() == 2
