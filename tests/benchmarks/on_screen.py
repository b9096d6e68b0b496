"""The dashboard as ratios: the Job callback against an empty one, a first visit against an empty page.

Run by hand: ``python tests/benchmarks/on_screen.py``. Needs the test extra and a Chromium on the path.
"""

from __future__ import annotations

import json
import logging
import shutil
import statistics
import sys
import threading
import time
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import count, islice, repeat
from typing import Any

import dash
from dash import Dash, Input, Output, dcc, html
from flask import Flask
from playwright.sync_api import Browser, sync_playwright
from waitress.server import create_server

from compare import read_file
from compare.data_files import data_folder
from dashboard.app import mount
from dashboard.server import THREADS, make_server, warm_up
from dashboard.settings import Settings

CLIENTS, ROUNDS = 8, 25


def mount_with_empty(server: Flask, settings: Settings) -> tuple[Dash, Dash]:
    """Mount the dashboard, and beside it an app whose callback does nothing."""
    apps = mount(server, settings)
    empty = Dash("empty", server=server, url_base_pathname="/empty/")
    empty.layout = html.Div([dcc.Input(id="i", value=1), html.Div(id="o"), dcc.Graph(id="g")])
    empty.callback(Output("o", "children"), Input("i", "value"))(str)
    return apps


def call(address: str, body: bytes) -> float:
    """Post one callback and return the seconds it took."""
    request = urllib.request.Request(address, body, {"Content-Type": "application/json"})  # noqa: S310
    start = time.perf_counter()
    with urllib.request.urlopen(request) as answer:  # noqa: S310
        answer.read()
    return time.perf_counter() - start


def together(address: str, bodies: Iterator[bytes]) -> list[float]:
    """Let all clients call at once, again and again, each time with another body."""
    with ThreadPoolExecutor(CLIENTS) as clients:
        return list(clients.map(lambda body: call(address, body), islice(bodies, CLIENTS * ROUNDS)))


def other_runs(body: bytes) -> Iterator[bytes]:
    """Yield the body with ever other run lengths: nothing that was computed before may answer it."""
    for run in count(11_111):
        yield body.replace(b"23456", str(run).encode())


def job_body(browser: Browser, base: str) -> bytes:
    """Return the body that a browser posts when the run length is changed."""
    page = browser.new_page()
    page.goto(base)
    page.locator(".main-svg").first.wait_for()
    with page.expect_request(lambda r: "update-component" in r.url and "panel-answer" in (r.post_data or "")) as sent:
        field = page.get_by_label("Run length, per order")
        field.fill("23456")
        field.press("Tab")
    body: dict[str, Any] = json.loads(sent.value.post_data or "{}")
    page.close()
    return json.dumps(body).encode()


def visit(browser: Browser, address: str, wait_for: str) -> tuple[float, float]:
    """Return kilobytes on the wire of a first and of a second visit, the browser's cache on."""
    context = browser.new_context()
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    bytes_sent = []
    session.on("Network.loadingFinished", lambda event: bytes_sent.append(event["encodedDataLength"]))
    sizes = []
    for _ in range(2):
        bytes_sent.clear()
        page.goto(address)
        page.locator(wait_for).first.wait_for()
        page.wait_for_load_state("networkidle")
        sizes.append(sum(bytes_sent) / 1000)
    context.close()
    return sizes[0], sizes[1]


def main() -> int:
    """Measure and print."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        print("There is no Chromium on the path.", file=sys.stderr)
        return 2
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # queues are what is asked for
    settings = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
    server = make_server(settings, mount=mount_with_empty)
    warm_up(server)
    web = create_server(server, host="127.0.0.1", port=0, threads=THREADS)
    threading.Thread(target=web.run, daemon=True).start()
    base = f"http://127.0.0.1:{web.effective_port}"
    empty_body = json.dumps(
        {
            "output": "o.children",
            "outputs": {"id": "o", "property": "children"},
            "inputs": [{"id": "i", "property": "value", "value": 1}],
            "changedPropIds": ["i.value"],
            "parsedChangedPropsIds": ["i.value"],
        }
    ).encode()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-dev-shm-usage"])
        body = job_body(browser, base)
        runs = other_runs(body)
        job, empty = [], []
        for _ in range(3):  # turn about, so that a busy moment meets both
            empty += together(f"{base}/empty/_dash-update-component", repeat(empty_body))
            job += together(f"{base}/_dash-update-component", runs)
        own, own_again = visit(browser, base, ".main-svg")
        bare, bare_again = visit(browser, f"{base}/empty/", ".main-svg")
        browser.close()
    web.close()

    def p95(values: list[float]) -> float:
        return statistics.quantiles(values, n=20)[-1]

    print(f"dash {dash.__version__}, {CLIENTS} clients at once, {THREADS} threads\n")
    print("| what | dashboard | empty | ratio | held against |\n|---|---|---|---|---|")
    for name, of in (("median", statistics.median), ("p95", p95)):
        print(
            f"| Job callback, {name} | {of(job) * 1000:.0f} ms | {of(empty) * 1000:.0f} ms | {of(job) / of(empty):.1f} | 10 |"
        )
    print(f"| first visit, on the wire | {own:.0f} kB | {bare:.0f} kB | {own / bare:.2f} | 1.6 |")
    print(f"| second visit | {own_again:.0f} kB | {bare_again:.0f} kB | | 100 kB |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
