"""Client mode: prices and nothing else of the plant, whatever a client looks into."""

from __future__ import annotations

import json
import re
from urllib.parse import urlencode

import pytest
from packed import packed_numbers
from playwright.sync_api import expect

from compare.assumptions import assumption_table
from compare.decide.comparison import compare
from compare.present import sure_wording
from compare.present.numbers import figures
from dashboard.client import make_link
from dashboard.state import State, scenario_of

from .pages import View, answer_of, unsure_of

MARGIN = 23.17
FACTOR = 1 / (1 - MARGIN / 100)
OWN = {
    "rates.labour_h": 37.4173,
    "rates.kwh": 0.197531,
    "rates.waste_board_t": -61.8437,
    "toolmaker.set_fee": 183.9157,
    "laser.power_w": 1013.579,
    "sheet.print_cost": 0.123457,
    "rates.laser_consumables_h": 12.34579,
}
"""Values of a plant with so many digits that they can't stand in a page by chance."""


class ClientView(View):
    """The page behind a client link."""

    @property
    def answer(self):
        return self.page.locator("#client-answer .answer")

    def open(self, address="/client/"):
        self.page.goto(self.base + address)
        expect(self.answer).to_be_visible()
        return self


@pytest.fixture
def link(settings):
    """A client link, as the Job view makes it."""
    return make_link(State(OWN), MARGIN, settings)


@pytest.fixture
def client(new_context, base, settings):
    """The page of a client, in a browser that was never here."""
    return ClientView(new_context().new_page(), base, settings)


def _texts(view, watch):
    """Everything that reached the client's browser or left it, and is no file of the program."""
    storage = "JSON.stringify([{...localStorage}, {...sessionStorage}, document.cookie])"
    texts = {"address": view.page.url, "page": view.page.content(), "storage": view.page.evaluate(storage)}
    for number, answer in enumerate(watch.answers):
        path = answer.url.removeprefix(view.base)
        if path.startswith("/client/") and "_dash-component-suites" not in path and "/assets/" not in path:
            name = f"{path.partition('?')[0]} {number}"
            texts[name] = f"{answer.text()} {' '.join(map(repr, packed_numbers(answer.text())))}"
            texts[f"{name} asked"] = f"{answer.url} {answer.request.post_data}"
            texts[f"{name} headers"] = json.dumps(answer.all_headers())
    return texts


def _forms(value):
    """A number cut or rounded to six figures; none if it has fewer, for it could stand anywhere by chance."""
    plain = repr(abs(float(value)))
    figures_of_it = plain.replace(".", "").lstrip("0")
    if len(figures_of_it) < 6 or "e" in plain:
        return set()
    rounded = f"{abs(value):.6g}"
    return {plain[: 6 + plain.startswith("0.") + ("." in plain[:7])], rounded if len(rounded) > 6 else plain}


def test_the_client_sees_prices_of_the_margin_that_the_salesperson_set(client, view, settings):
    view.open("/?" + urlencode(OWN))
    view.page.get_by_role("button", name="Client link").click()
    margin = view.page.get_by_role("textbox", name="Margin, % of the price")
    margin.fill(str(MARGIN))
    margin.press("Tab")
    view.page.get_by_role("button", name="Make the link").click()
    client.open(view.page.get_by_role("link", name="Open the client view").get_attribute("href"))
    c = compare(scenario_of(OWN, settings))
    expect(client.answer).to_have_text(answer_of(c, price_factor=FACTOR))
    expect(client.answer).to_contain_text(figures(c.laser.cost_per_1000 / (1 - MARGIN / 100)))


def test_the_client_can_ask_for_other_run_lengths_and_versions(client, link, settings):
    client.open(link)
    client.type_into("Run length, cartons per order", "60000")
    client.type_into("Versions", "4")
    c = compare(scenario_of({**OWN, "demand.run_length": 60_000, "demand.versions": 4}, settings))
    expect(client.answer).to_have_text(answer_of(c, price_factor=FACTOR))
    expect(client.page.locator("#client-carbon .large")).to_have_text(
        sure_wording.sure_difference(unsure_of(c).at_quote["co2e"]["difference"], "kg")
    )


def test_client_mode_leaks_no_cost_no_rate_no_margin_and_no_name(client, link, settings, watch):
    """Page, address, requests, every answer under /client/, cookies and storage are searched for what is hidden."""
    client.open(link)
    client.type_into("Run length, cartons per order", "60000")
    expect(client.answer).to_contain_text("60,000")
    client.type_into("Versions", "70000")  # an error says what is wrong, and no more
    expect(client.page.locator("[aria-invalid=true]").first).to_be_visible()
    texts = _texts(client, watch)
    assert {"/client/_dash-layout", "/client/_dash-dependencies", "/client/_dash-update-component"} <= {
        name.partition(" ")[0] for name in texts
    }

    assert texts["address"] == client.base + link

    hidden = {name: {f"{abs(value):g}", f"{abs(value):.12g}"} for name, value in OWN.items()}
    hidden |= {f"name {name}": {name} for name in assumption_table() if len(name) > 8}
    hidden |= {
        "margin": {str(MARGIN), f"{FACTOR:.6g}", f"{1 - MARGIN / 100:.4f}"},
        "machines": {"1450000", "1,450,000", "2100000", "2,100,000"},
        "origins": {"northfold", "this page", "new page", ".toml"},
    }
    for run in (20_000, 60_000):
        scenario = scenario_of({**OWN, "demand.run_length": run}, settings)
        for costing in ("full", "cash"):
            c = compare(scenario, costing)
            for route in (c.die, c.laser):
                what = f"{route.inventory.route}, {run}, {costing}"
                hidden[f"cost of {what}"] = _forms(route.cost_per_1000) | {f"{figures(route.cost_per_1000)} EUR"}
                for stage, money in route.stage_cost_per_1000().items():
                    hidden[f"{stage} of {what}"] = _forms(money)
                for row in route.ledger:
                    hidden[f"{row.resource} for {row.stage} of {what}"] = _forms(row.money) | _forms(
                        row.money / route.thousands
                    )
        for rate in ("rates.press_h", "rates.laser_h", "rates.press_cash_h", "rates.laser_cash_h"):
            hidden[f"value of {rate}"] = _forms(scenario.inputs.number(rate))
    assert sum(bool(forms) for what, forms in hidden.items() if what.startswith(("cost of", "value of"))) == 12

    found = {
        (what, where)
        for what, forms in hidden.items()
        for form in forms
        for where, text in texts.items()
        if form.lower() in text.lower()
    }
    assert found == set()
    # such a search finds what is there: prices, which are shown, are found by it
    price = compare(scenario_of({**OWN, "demand.run_length": 60_000}, settings)).laser.cost_per_1000 * FACTOR
    assert any(form in text for form in _forms(price) for text in texts.values())
    assert any(packed_numbers(answer.text()) for answer in watch.answers if "update-component" in answer.url)


def test_the_clients_app_refuses_what_only_the_plants_own_app_answers(view, client, link, watch):
    """What the client's page can't show must not be had by asking for it by hand either."""
    view.open()
    view.type_into("Run length, per order", "60000")
    expect(view.answer).to_contain_text("60,000")
    own = [r.request for r in watch.answers if r.url.startswith(f"{view.base}/_dash-update-component")]
    bodies = {json.loads(request.post_data)["output"]: request.post_data for request in own}
    assert "answered.data" in bodies
    client.open(link)
    for body in bodies.values():
        refused = client.page.request.post(
            f"{client.base}/client/_dash-update-component", data=body, headers={"Content-Type": "application/json"}
        )
        assert refused.status == 400
        assert "there is no such callback" in refused.text()
    known = client.page.request.get(f"{client.base}/client/_dash-dependencies").json()
    assert {name for callback in known for name in re.findall(r"[\w-]+(?=\.\w)", callback["output"])} <= {
        "content", "client-answer", "chart-curves", "chart-curves-words", "client-carbon", "client-waste", "client-run", "client-versions", "pictured",
    }  # fmt: skip


def test_a_client_can_take_a_picture_of_every_chart_and_no_numbers(client, link):
    client.open(link)
    for name in ("curves", "map", "outline"):
        expect(client.page.locator(f"#chart-{name} .main-svg").first).to_be_visible()
        with client.page.expect_download() as download:
            client.page.get_by_role("button", name=f"SVG of the chart {name}").click()
        assert download.value.suggested_filename == f"evenrun-{name}.svg"
    expect(client.page.get_by_role("button", name="CSV")).to_have_count(0)


def test_a_damaged_client_link_says_so_and_shows_nothing(page, base, link):
    page.goto(base + link[:-9])
    expect(page.get_by_role("heading", level=1)).to_have_text("This link can't be opened")
    expect(page.locator(".js-plotly-plot")).to_have_count(0)


def test_a_margin_that_cannot_be_is_refused_beside_its_field(view):
    view.open()
    view.page.get_by_role("button", name="Client link").click()
    margin = view.page.get_by_role("textbox", name="Margin, % of the price")
    margin.fill("95")
    margin.press("Tab")
    view.page.get_by_role("button", name="Make the link").click()
    expect(margin).to_have_attribute("aria-invalid", "true")
    expect(view.page.get_by_text("give a number from 0 to 90 % of the price")).to_be_visible()
    expect(view.page.get_by_role("link", name="Open the client view")).to_have_count(0)
