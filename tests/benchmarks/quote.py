"""What a quote takes, as a ratio to one export of its chart by a headless browser.

``python tests/benchmarks/quote.py`` times in turn, within one run: the PDF of a quote (all texts, pictures, the page, one
attachment), from a comparison and its draws, with both worked out anew, and in a fresh process; and what a user of a browser
export pays for the break-even chart alone: starting chromium, loading the plotly library, drawing the figure, printing it
to PDF. Every quote has a number of its own, so that nothing set before counts. Exit code 1 where a bound is broken.
"""

from __future__ import annotations

import argparse
import itertools
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import plotly.offline
from measure import in_turn, timed
from playwright.sync_api import sync_playwright

from compare import compare, prepare, read_file
from compare.decide.comparison import Comparison
from compare.decide.uncertainty import Uncertainty, uncertainty
from compare.present.charts import CurveChart, break_even_chart, chart_grid
from compare.present.plotly_pen import draw
from compare.present.quote_content import quote_content, quote_run_lengths
from compare.present.quote_page import quote_pdf
from compare.quotes.quote_record import QuoteAsked

BOUND = 0.1
DATA = Path(__file__).resolve().parents[2] / "data"
JOB = "soap_sleeve"

_numbers = itertools.count(1)


def _export(chart: CurveChart, chromium: str) -> Callable[[], object]:
    """Return what prints a chart to PDF with a browser that is started for it."""
    figure = json.dumps(draw(chart))
    page = (
        f"<!doctype html><meta charset=utf-8><script>{plotly.offline.get_plotlyjs()}</script><div id=chart></div>"
        f"<script>const f = {figure}; Plotly.newPlot('chart', f.data, f.layout).then(() => document.title = 'drawn')</script>"
    )

    def run() -> bytes:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=chromium, args=["--no-sandbox", "--disable-dev-shm-usage"]
            )
            view = browser.new_page(viewport={"width": 900, "height": 500})
            view.set_content(page)
            view.wait_for_function("document.title == 'drawn'")
            printed = view.pdf()
            browser.close()
        return printed

    return run


def _comparison() -> Comparison:
    plant = read_file(DATA / "plants" / "northfold.toml", kind="plant")
    return compare(prepare(plant, read_file(DATA / "demo" / f"{JOB}.toml", kind="job")))


def _unsure(comparison: Comparison) -> Uncertainty:
    return uncertainty(comparison, run_lengths=chart_grid(comparison), along=("cost",))


def _pdf(unsure: Uncertainty) -> bytes:
    runs = quote_run_lengths(unsure.comparison)
    asked = QuoteAsked("Harbour Row Teas", 0.2, "en", "full", date(2026, 11, 30), date(2027, 1, 14), runs)
    content = quote_content(unsure, asked, number=f"2026-{next(_numbers):06d}")
    return quote_pdf(content, attachments={"quote.json": b'{"number":"1"}'})


def main() -> int:
    """Time both and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--once", action="store_true", help="make one quote and stop")
    asked = parser.parse_args()
    if asked.once:
        _pdf(_unsure(_comparison()))
        return 0
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        print("no chromium on this machine: nothing to hold a quote against", file=sys.stderr)
        return 1
    unsure = _unsure(_comparison())
    export = timed(_export(break_even_chart(unsure.comparison, unsure=unsure), chromium))
    held = True
    print("| what | ratio | bound | | |\n|---|---|---|---|---|")
    for what, work, bound in (
        ("a quote's PDF against one browser export of its chart", lambda: _pdf(unsure), BOUND),
        ("the same with comparison and draws", lambda: _pdf(_unsure(_comparison())), BOUND),
        ("the same in a fresh process", lambda: subprocess.run([sys.executable, __file__, "--once"], check=True), None),
    ):
        ratio = in_turn(timed(work), export, asked.rounds)
        held = held and (bound is None or ratio.value <= bound)
        limit = "" if bound is None else f"{bound:g}"
        print(
            f"| {what} | {ratio.value:.3f} | {limit} | {ratio.ours * 1e3:.0f} ms / {ratio.theirs * 1e3:.0f} ms | "
            f"median of pairs {ratio.paired:.3f} |"
        )
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
