"""Measure the dashboard: callbacks of the Job view under load, and the bytes of a visit.

    python tests/benchmarks/page.py [callback] [bytes] [--rounds N]

Each line is held against its bound, and the exit code is 1 where one is missed. Both sides of a ratio
are measured in one run, with the same settings of the server. What is measured and how to read it: docs/performance_dashboard.md.
"""

from __future__ import annotations

import argparse
import http.client
import itertools
import json
import multiprocessing
import shutil
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from threading import Barrier
from typing import TYPE_CHECKING, Any

from measure import in_turn

from compare import read_file
from compare.data_files import data_folder
from dashboard.server import THREADS, make_server, warm_up
from dashboard.settings import Settings

if TYPE_CHECKING:
    from flask import Flask
    from playwright.sync_api import BrowserContext

CLIENTS, SECONDS = 8, 2.0
"""Clients at once, and how long they call in a round [s]."""

CALLBACK_BOUND, FIRST_BOUND, SECOND_BOUND = 10.0, 1.6, 100.0
EMPTY = "/empty/"


@dataclass(frozen=True)
class Line:
    """One measured figure, what it is held against (``None``: shown only), and what it was worked out from."""

    what: str
    figure: float
    bound: float | None
    detail: str

    @property
    def held(self) -> bool:
        """Whether the figure is within its bound."""
        return self.bound is None or self.figure <= self.bound

    def __str__(self) -> str:
        verdict = "shown" if self.bound is None else "held" if self.held else "MISSED"
        bound = "-" if self.bound is None else f"{self.bound:g}"
        return f"| {self.what} | {self.figure:.2f} | {bound} | {verdict} | {self.detail} |"


# -- the server, in a process of its own ------------------------------------------------------------------------------


def _views_and_an_empty_app(server: Flask, settings: Settings) -> Any:
    """Mount the views, and beside them an app with one callback that gives back what it gets."""
    from dash import Dash, Input, Output, dcc, html

    from dashboard import app as views

    empty = Dash("empty", server=server, url_base_pathname=EMPTY)  # type: ignore[arg-type]
    empty.layout = html.Div([dcc.Input(id="in", type="number", value=1), html.Div(id="out")])

    @empty.callback(Output("out", "children"), Input("in", "value"))
    def echo(value: float) -> str:
        return f"{value}"

    return (*views.mount(server, settings), empty)


def _one_graph(server: Flask, settings: Settings) -> Any:
    """Mount a page with nothing but a graph; no library of the views is imported, for Dash would send it along."""
    from dash import Dash, dcc, html

    graph = Dash("graph", server=server)  # type: ignore[arg-type]
    graph.layout = html.Div(dcc.Graph(figure={"data": [{"x": [1, 2], "y": [1, 2]}]}))
    return (graph,)


def _serve(ready: Connection, kind: str) -> None:
    """Serve as `evenrun serve` does; send the port, and the body of a call of the Job view."""
    import logging

    from waitress.server import create_server

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    settings = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
    server = make_server(settings, mount=_one_graph if kind == "graph" else _views_and_an_empty_app)
    warm_up(server)
    web = create_server(server, host="127.0.0.1", port=0, threads=THREADS, ident=None)
    ready.send((web.effective_port, None if kind == "graph" else _body_of_the_job_view(server, settings)))
    web.run()


@contextmanager
def _served(kind: str) -> Iterator[Any]:
    """Run a server in a process of its own."""
    ours, theirs = multiprocessing.Pipe()
    server = multiprocessing.get_context("spawn").Process(target=_serve, args=(theirs, kind), daemon=True)
    server.start()
    try:
        yield ours.recv()
    finally:
        server.terminate()
        server.join()


def _body_of_the_job_view(server: Flask, settings: Settings) -> dict[str, Any]:
    """Return what a new page sends when one of its fields has changed."""
    from dashboard.reader import Reader
    from dashboard.state import State, to_json
    from dashboard.views import job

    callbacks = server.extensions["evenrun"][0].callback_map
    key, callback = next((k, c) for k, c in callbacks.items() if k == "answered.data")
    of = {"number": "value", "select": "value", "switch": "checked"}
    fields = {
        part.id["name"]: getattr(part, of[part.id["kind"]], None)
        for part in job.layout(State({}), settings, Reader())._traverse()
        if isinstance(getattr(part, "id", None), dict) and part.id.get("kind") in of
    }
    (shown,), (state,) = callback["inputs"], callback["state"]
    return {
        "output": key,
        "outputs": {"id": "answered", "property": "data"},
        "inputs": [{**shown, "value": {"fields": fields, "costing": "full"}}],
        "state": [{**state, "value": to_json(State({}))}],
        "changedPropIds": ["shown.data"],
    }


# -- callbacks --------------------------------------------------------------------------------------------------------

_numbers = itertools.count()


def _job_bodies(body: dict[str, Any]) -> Iterator[bytes]:
    """Give each call a run length that was never asked for: what was computed before must not count."""
    fields = body["inputs"][0]["value"]["fields"]
    while True:
        fields["demand.run_length"] = 5_000 + 7 * next(_numbers)
        yield json.dumps(body).encode()


def _empty_bodies() -> Iterator[bytes]:
    while True:
        yield json.dumps(
            {
                "output": "out.children",
                "outputs": {"id": "out", "property": "children"},
                "inputs": [{"id": "in", "property": "value", "value": next(_numbers)}],
                "changedPropIds": ["in.value"],
            }
        ).encode()


def _client(port: int, path: str, bodies: Iterator[bytes], start: Barrier, seconds: float) -> list[float]:
    """Call as a browser does, one call after the other on one connection; return the seconds of each."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    headers = {"Content-Type": "application/json", "Accept-Encoding": "gzip, deflate, br, zstd"}
    took = []
    start.wait()
    end = time.perf_counter() + seconds
    while (begun := time.perf_counter()) < end:
        connection.request("POST", f"{path}_dash-update-component", next(bodies), headers)
        answer = connection.getresponse()
        content = answer.read()
        took.append(time.perf_counter() - begun)
        if answer.status != 200 or not content:
            raise RuntimeError(f"{path} answered {answer.status}")
    connection.close()
    return took


def _waits(port: int, path: str, bodies: Callable[[], Iterator[bytes]], clients: int, seconds: float) -> list[float]:
    """Let all clients call for the same stretch of time, and return every wait [s]."""
    start = Barrier(clients)
    with ThreadPoolExecutor(clients) as pool:
        each = [pool.submit(_client, port, path, bodies(), start, seconds) for _ in range(clients)]
        return list(itertools.chain.from_iterable(one.result() for one in each))


def _p95(waits: list[float]) -> float:
    return statistics.quantiles(waits, n=20)[-1]


def callback(port: int, body: dict[str, Any], rounds: int) -> Iterator[Line]:
    """Measure the Job view's callback against an empty one, with all clients at once."""

    def ours() -> Iterator[bytes]:
        return _job_bodies(json.loads(json.dumps(body)))

    for what, pick in (("median", statistics.median), ("p95", _p95)):
        ratio = in_turn(
            lambda pick=pick: pick(_waits(port, "/", ours, CLIENTS, SECONDS)),
            lambda pick=pick: pick(_waits(port, EMPTY, _empty_bodies, CLIENTS, SECONDS)),
            rounds,
        )
        detail = f"{ratio.ours * 1e3:.0f} ms / {ratio.theirs * 1e3:.1f} ms; least of {rounds} rounds; median of pairs {ratio.paired:.2f}"
        yield Line(f"Job callback, {CLIENTS} clients, {what}", ratio.value, CALLBACK_BOUND, detail)
    for what, path, bodies in (("Job", "/", ours), ("empty", EMPTY, _empty_bodies)):
        alone = statistics.median(_waits(port, path, bodies, 1, SECONDS))
        yield Line(f"{what} callback, one client, median [ms]", alone * 1e3, None, "")


# -- bytes ------------------------------------------------------------------------------------------------------------


def _visit(context: BrowserContext, address: str, drawn: str) -> float:
    """Open a page and return what came over the wire, headers and bodies, until its last chart is drawn [kB]."""
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    cached: set[str] = set()
    received: dict[str, float] = {}

    def on_response(event: dict[str, Any]) -> None:
        if event["response"].get("fromDiskCache"):
            cached.add(event["requestId"])

    session.on("Network.requestServedFromCache", lambda event: cached.add(event["requestId"]))
    session.on("Network.responseReceived", on_response)
    session.on(
        "Network.loadingFinished",
        lambda event: received.update({event["requestId"]: event["encodedDataLength"]}),
    )
    page.goto(address, wait_until="load")
    page.locator(drawn).first.wait_for(timeout=60_000)
    page.evaluate("() => new Promise(done => requestIdleCallback(done, {timeout: 5000}))")
    page.close()
    return sum(size for request, size in received.items() if request not in cached) / 1000


def bytes_of_a_visit(port: int, graph_port: int) -> Iterator[Line]:
    """Measure a first visit against an empty Dash page with one graph, and a second visit."""
    from playwright.sync_api import sync_playwright

    base = f"http://127.0.0.1:{port}"
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        print("no chromium on this machine: bytes are not measured", file=sys.stderr)
        return
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-dev-shm-usage"])
        graph = _visit(browser.new_context(), f"http://127.0.0.1:{graph_port}", ".main-svg")
        context = browser.new_context()
        first = _visit(context, base, "#chart-outline .main-svg")
        second = _visit(context, base, "#chart-outline .main-svg")
        browser.close()
    yield Line(
        "first visit against an empty page with one graph",
        first / graph,
        FIRST_BOUND,
        f"{first:.0f} kB / {graph:.0f} kB, compressed",
    )
    yield Line("second visit [kB]", second, SECOND_BOUND, "with the browser's cache")


# -- all --------------------------------------------------------------------------------------------------------------


def main() -> int:
    """Measure what was asked for, or all of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", nargs="*", choices=[[], "callback", "bytes"], help="all if none is named")
    parser.add_argument("--rounds", type=int, default=5)
    asked = parser.parse_args()
    lines: list[Line] = []
    with _served("views") as (port, body):
        if not asked.what or "bytes" in asked.what:
            with _served("graph") as (graph_port, _):
                lines += bytes_of_a_visit(port, graph_port)
        if not asked.what or "callback" in asked.what:
            lines += callback(port, body, asked.rounds)
    print("| what | figure | bound | | |\n|---|---|---|---|---|")
    for line in lines:
        print(line)
    return 0 if all(line.held for line in lines) else 1


if __name__ == "__main__":
    sys.exit(main())
