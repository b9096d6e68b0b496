"""What the tests know of the page: where things are, and what the engine says should be there."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Locator, Page, ViewportSize, expect

from compare.decide.comparison import Comparison, compare
from compare.decide.uncertainty import Uncertainty, uncertainty
from compare.present import sure_wording, wording
from compare.present.charts import chart_grid
from compare.present.numbers import PLAIN, NumberStyle
from dashboard.settings import Settings
from dashboard.state import DRAWS, read_link, scenario_of

PATIENCE_MS = 60_000
"""How long to wait for what must come: a loaded machine of two cores is slow, not wrong."""

WIDE: ViewportSize = {"width": 1360, "height": 900}
TABLET: ViewportSize = {"width": 820, "height": 1180}


def unsure_of(comparison: Comparison) -> Uncertainty:
    """Ask the engine how sure a comparison is, as a view does."""
    return uncertainty(comparison, draws=DRAWS, run_lengths=chart_grid(comparison))


def answer_of(comparison: Comparison, style: NumberStyle = PLAIN, price_factor: float = 1.0) -> str:
    """Ask the engine for the sentence in large type."""
    if not (comparison.die.feasible and comparison.laser.feasible):
        return wording.answer(comparison, style, price_factor)
    return sure_wording.sure_answer(unsure_of(comparison), style, price_factor)


class View:
    """A page of the plant's own app."""

    def __init__(self, page: Page, base: str, settings: Settings) -> None:
        self.page, self.base, self.settings = page, base, settings

    def open(self, address: str = "/") -> View:
        """Go to an address of this server and wait for its view."""
        self.page.goto(self.base + address)
        expect(self.page.locator("#content .answer").first).to_be_visible()
        return self

    @property
    def answer(self) -> Locator:
        """The sentence in large type."""
        return self.page.locator("#panel-answer .answer")

    @property
    def search(self) -> str:
        """The part of the address that holds the inputs."""
        at = self.page.url.find("?")
        return self.page.url[at:] if at >= 0 else ""

    def number(self, label: str) -> Locator:
        """Return a number field by its whole label."""
        return self.page.get_by_role("textbox", name=label, exact=True)

    def type_into(self, label: str, text: str) -> None:
        """Type into a field and leave it, as a person does."""
        field = self.number(label)
        field.fill(text)
        field.press("Tab")

    def choose(self, label: str, option: str) -> None:
        """Choose an option of a select."""
        self.page.get_by_role("textbox", name=label, exact=True).click()
        self.page.get_by_role("option", name=option, exact=True).click()

    def switch_to(self, text: str) -> None:
        """Press one part of a switch with several parts."""
        self.page.get_by_text(text, exact=True).click()

    def engine(self, costing: str = "full", **values: Any) -> Comparison:
        """Ask the engine what a new page with some inputs changed must show: ``demand__versions=2``."""
        named = {name.replace("__", "."): value for name, value in values.items()}
        return compare(scenario_of(named, self.settings), costing)  # type: ignore[arg-type]

    def engine_of_link(self) -> Comparison:
        """Ask the engine what the address of the page stands for."""
        state = read_link(self.search, self.settings)
        assert state.notes == ()
        return compare(scenario_of(state.overrides, self.settings, state.ranges), state.costing)

    def shows(self, comparison: Comparison, style: NumberStyle = PLAIN) -> None:
        """Wait until the answer is that of the engine, to the last figure."""
        expect(self.answer).to_have_text(answer_of(comparison, style))

    def link_is(self, *parts: str) -> None:
        """Wait until the address holds these inputs."""
        for part in parts:
            self.page.wait_for_url(lambda url, part=part: part in url, wait_until="commit")
