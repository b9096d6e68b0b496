"""A real server on a free port, and Debian's Chromium: whatever a test does, console and logs must stay clean."""

from __future__ import annotations

import logging
import os
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    Response,
    expect,
    sync_playwright,
)
from waitress.server import create_server

from compare import read_file
from dashboard.server import THREADS, make_server, warm_up
from dashboard.settings import Settings

from .pages import PATIENCE_MS, WIDE, View

PLANT = Path(__file__).resolve().parents[2] / "data" / "plants" / "northfold.toml"

expect.set_options(timeout=PATIENCE_MS)


class ErrorsKept(logging.Handler):
    """Keeps what the server logs as an error."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep a line."""
        self.lines.append(record.getMessage())


@pytest.fixture(scope="package")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    """The invented plant, with a store of quotes that no person uses."""
    return Settings(plant=read_file(PLANT, kind="plant"), store=tmp_path_factory.mktemp("store") / "quotes.sqlite3")


@pytest.fixture(scope="package")
def server_errors() -> Iterator[list[str]]:
    """What any part of the server logged as an error, with its traceback."""
    kept = ErrorsKept()
    logging.getLogger().addHandler(kept)
    yield kept.lines
    logging.getLogger().removeHandler(kept)


@pytest.fixture(scope="package")
def base(settings: Settings, server_errors: list[str]) -> Iterator[str]:
    """Address of a server such as `evenrun serve` starts, on a port that was free."""
    app = make_server(settings)
    warm_up(app)
    web = create_server(app, host="127.0.0.1", port=0, threads=THREADS, ident=None)
    thread = threading.Thread(target=web.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{web.effective_port}"
    web.close()
    thread.join(30)


@pytest.fixture(scope="package")
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


class Watch:
    """What a browser context asked for, and complained of."""

    def __init__(self, base: str) -> None:
        self.base = base
        self.complaints: list[str] = []
        self.foreign: list[str] = []
        self.posts: list[Request] = []
        self.answers: list[Response] = []

    def on_console(self, message: ConsoleMessage) -> None:
        """Keep a warning or an error of the console."""
        if message.type in ("error", "warning"):
            self.complaints.append(f"{message.type}: {message.text}")

    def on_request(self, request: Request) -> None:
        """Keep a request that goes to another host; data: and blob: stay in the browser."""
        parts = urlsplit(request.url)
        if parts.scheme not in ("data", "blob", "about") and f"{parts.scheme}://{parts.netloc}" != self.base:
            self.foreign.append(request.url)

    def on_response(self, response: Response) -> None:
        """Keep every answer, and complain of a failed one."""
        self.answers.append(response)
        if response.status >= 400:
            self.complaints.append(f"{response.status}: {response.url}")


@pytest.fixture
def watch(base: str) -> Watch:
    return Watch(base)


@pytest.fixture
def new_context(chromium: Browser, watch: Watch, server_errors: list[str]) -> Iterator[Callable[..., BrowserContext]]:
    """Open browser contexts of readers who were never here; at the end, see that nothing went wrong in any."""
    opened: list[BrowserContext] = []
    before = len(server_errors)

    def make(**options: object) -> BrowserContext:
        context = chromium.new_context(**{"viewport": WIDE, "locale": "en-GB", **options})
        context.set_default_timeout(PATIENCE_MS)
        context.on("console", watch.on_console)
        context.on("weberror", lambda error: watch.complaints.append(f"page error: {error.error}"))
        context.on("request", watch.on_request)
        context.on("response", watch.on_response)
        opened.append(context)
        return context

    yield make
    for context in opened:
        context.close()
    assert watch.foreign == []
    assert watch.complaints == []
    assert server_errors[before:] == []


@pytest.fixture
def page(new_context: Callable[..., BrowserContext]) -> Page:
    """One page of a new reader, 1360 px wide."""
    return new_context().new_page()


@pytest.fixture
def view(page: Page, base: str, settings: Settings) -> View:
    return View(page, base, settings)


@pytest.fixture
def new_view(new_context: Callable[..., BrowserContext], base: str, settings: Settings) -> Callable[..., View]:
    """Open the page of a reader with preferences of their own: ``new_view(locale="de-DE")``."""
    return lambda **options: View(new_context(**options).new_page(), base, settings)
