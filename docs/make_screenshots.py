"""Take the pictures of every view that README and docs show: ``python docs/make_screenshots.py``.

Needs the test extra (Playwright) and a Chromium on the path; writes docs/screenshots/VIEW-SCHEME-WIDTH.png.
"""

from __future__ import annotations

import logging
import shutil
import sys
import threading
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright
from waitress.server import create_server

from compare import read_file
from compare.data_files import data_folder
from dashboard.client import make_link
from dashboard.server import make_server, warm_up
from dashboard.settings import Settings
from dashboard.state import State, write_link

HERE = Path(__file__).resolve().parent / "screenshots"
WIDTHS = {"wide": (1360, 900), "tablet": (820, 1180)}
SHOWN = State({"demand.run_length": 12_000.0, "demand.versions": 3.0, "demand.orders_per_year": 2.0})
"""A job with something to see: three versions, twice a year."""
OPEN = State({"demand.run_length": 105_000.0})
"""A job of which nobody can say which route is cheaper."""

_HALFWAY = 90
"""Arrow keys from the start of a sheet to somewhere near its middle."""

_SAVED = """links => localStorage.setItem("cases", JSON.stringify(
    links.map(([name, link]) => ({name, link, saved: "2026-01-01"}))))"""


def main() -> int:
    """Serve the demo plant, open every view, save its picture."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        print("There is no Chromium on the path.", file=sys.stderr)
        return 2
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # a queue of one is no news
    settings = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
    server = make_server(settings)
    warm_up(server)
    web = create_server(server, host="127.0.0.1", port=0)
    threading.Thread(target=web.run, daemon=True).start()
    base, link = f"http://127.0.0.1:{web.effective_port}", write_link(SHOWN, settings)
    views = {
        "job": f"/{link}",
        "assumptions": f"/assumptions{link}",
        "cases": f"/cases{link}",
        "client": make_link(SHOWN, 25, settings),
    }
    HERE.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-dev-shm-usage"])
        for width, size in WIDTHS.items():
            for scheme in ("light", "dark"):
                page = _page(browser, base, size, scheme)
                page.goto(base)
                other = write_link(State({**SHOWN.overrides, "board.grade": "kraft_300"}), settings)
                page.evaluate(_SAVED, [["solid bleached", link], ["kraft", other]])
                for name, path in views.items():
                    _take(page, base + path, HERE / f"{name}-{scheme}-{width}.png")
                _take_drawing(page, base, HERE / f"drawing-{scheme}-{width}.png")
                _take_orders(page, base, HERE / f"orders-{scheme}-{width}.png")
                if (scheme, width) == ("light", "wide"):
                    _take_sheet(page, base + views["job"], HERE / f"sheet-{scheme}-{width}.png")
                    _take_sure(page, f"{base}/{write_link(OPEN, settings)}", HERE / f"sure-{scheme}-{width}.png")
                page.context.close()
        browser.close()
    web.close()
    return 0


def _take_drawing(page: Page, address: str, file: Path) -> None:
    """Drop a sample drawing into the Job view, and take its suggestions."""
    page.goto(address)
    page.locator(".answer").first.wait_for()
    drawing = data_folder() / "demo" / "drawings" / "window_carton.dxf"
    page.set_input_files("#drawing-upload input[type=file]", str(drawing))
    page.locator("#drawing-confirm").click()
    page.locator("#drawing-use").wait_for()
    page.locator("#chart-sheet-laser .main-svg").first.wait_for()
    page.evaluate("() => new Promise(done => requestIdleCallback(done, {timeout: 3000}))")
    page.mouse.move(0, 0)
    page.evaluate("window.scrollTo(0, 0)")
    page.screenshot(path=file)


def _take_orders(page: Page, base: str, file: Path) -> None:
    """Plan the invented orders within hours that are scarce."""
    page.goto(f"{base}/orders")
    page.locator("#book-demo").click()
    page.locator("#chart-book-shifts .main-svg").first.wait_for()
    hours = page.get_by_role("textbox", name="Hours that may be planned, a year", exact=True)
    hours.fill("400")
    hours.press("Tab")
    page.locator("#book-figures", has_text="of 400 h").wait_for()
    page.evaluate("() => new Promise(done => requestIdleCallback(done, {timeout: 3000}))")
    page.mouse.move(0, 0)
    page.evaluate("window.scrollTo(0, 0)")
    page.screenshot(path=file, animations="disabled")


def _take_sheet(page: Page, address: str, file: Path) -> None:
    """Open the card on the seconds of a sheet, and stop the sheet on its way."""
    page.goto(address)
    page.locator("#chart-seconds .main-svg").first.wait_for()
    page.get_by_role("button", name="The sheet, head by head").click()
    page.locator("#chart-path .main-svg").first.wait_for()
    moment = page.get_by_role("slider", name="Moment of the sheet")
    moment.press("Home")
    for _ in range(_HALFWAY):
        moment.press("ArrowRight")
    page.locator("#path-now", has_text="strokes marked").wait_for()
    moment.blur()
    page.mouse.move(0, 0)
    page.evaluate("() => new Promise(done => requestIdleCallback(done, {timeout: 3000}))")
    page.locator(".card", has=page.locator("#seconds-words")).screenshot(path=file, animations="disabled")


def _take_sure(page: Page, address: str, file: Path) -> None:
    """Show what moves the difference most, and how sure the figures are."""
    page.goto(address)
    page.locator("#chart-tornado .main-svg").first.wait_for()
    page.evaluate("() => new Promise(done => requestIdleCallback(done, {timeout: 3000}))")
    page.locator("#sure").screenshot(path=file, animations="disabled")


def _page(browser: Browser, base: str, size: tuple[int, int], scheme: str) -> Page:
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, locale="en-GB")
    context.add_cookies([{"name": "evenrun_scheme", "value": scheme, "url": base}])
    return context.new_page()


def _take(page: Page, address: str, file: Path) -> None:
    page.goto(address)
    page.locator(".answer").first.wait_for()
    if "/cases" not in address and "/assumptions" not in address:
        page.locator(".main-svg").first.wait_for()
    if "/cases" in address:
        page.get_by_text("What comes out").wait_for()
    if "/assumptions" in address:
        page.get_by_text("demand.run_length").first.wait_for()
    page.screenshot(path=file, animations="disabled")


if __name__ == "__main__":
    sys.exit(main())
