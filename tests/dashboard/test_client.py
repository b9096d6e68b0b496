"""Client links: a price instead of a cost, sealed, and worth nothing on another server."""

from __future__ import annotations

import base64
import json
import re
import zlib
from urllib.parse import parse_qs, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st
from packed import packed_numbers
from random_jobs import PROPERTY

from compare.data_files import data_folder
from compare.decide.comparison import compare
from compare.errors import InputError
from compare.present import charts, sure_wording
from compare.readers.jobfile import Layer, read_file
from dashboard import client
from dashboard.secret import unseal
from dashboard.server import make_server, warm_up
from dashboard.settings import Settings
from dashboard.state import State, scenario_of, tables_digest, uncertainty_of

PLANT = read_file(data_folder() / "plants" / "northfold.toml", kind="plant")
SETTINGS = Settings(plant=PLANT)
VIEW = State({"rates.labour_h": 37.4173, "demand.versions": 2.0})


def _token(link):
    return parse_qs(urlsplit(link).query)["c"][0]


@pytest.fixture(scope="module")
def server():
    app = make_server(SETTINGS)
    warm_up(app)
    return app.test_client()


def _shown(server, token):
    """What the client's app answers when its page is opened with a token."""
    body = {
        "output": "content.children",
        "outputs": {"id": "content", "property": "children"},
        "inputs": [{"id": "address", "property": "search", "value": f"?c={token}"}],
        "changedPropIds": ["address.search"],
    }
    answer = server.post("/client/_dash-update-component", json=body)
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


@pytest.mark.parametrize(("margin", "factor"), [(0, 1.0), (25, 4 / 3), (50, 2.0), (90, 10.0)])
def test_a_margin_is_a_share_of_the_price(margin, factor):
    """Derived here: cost = price x (1 - margin), so at 50 % of the price the price is twice the cost."""
    assert client.price_factor(margin) == pytest.approx(factor)


@pytest.mark.parametrize("margin", [-0.1, 90.1, 100, float("nan"), float("inf"), None, "25", True, []])
def test_a_margin_that_gives_no_price_is_refused(margin):
    with pytest.raises(InputError, match="give a number from 0 to 90 % of the price"):
        client.make_link(VIEW, margin, SETTINGS)


@PROPERTY
@given(st.floats(0, 90))
def test_the_price_covers_the_cost_and_the_margin(margin):
    price = 100 * client.price_factor(margin)
    assert price >= 100
    assert price * (1 - margin / 100) == pytest.approx(100)


def test_nothing_of_the_plant_can_be_read_from_a_link():
    """Neither as it stands, nor decoded, nor unpacked."""
    link = client.make_link(VIEW, 23.19, SETTINGS)
    token = _token(link)
    raw = base64.urlsafe_b64decode(token + "=" * (-len(token) % 4))
    for hidden in (
        b"labour",
        b"37.4173",
        b"23.19",
        b"margin",
        b"versions",
        b"overrides",
        tables_digest(SETTINGS).encode(),
    ):
        assert hidden not in link.encode()
        assert hidden not in raw
    for start in range(len(raw)):
        with pytest.raises(zlib.error):
            zlib.decompress(raw[start:])


def test_the_same_view_sealed_twice_gives_different_links():
    """Else two clients could see that they were quoted from the same figures."""
    assert client.make_link(VIEW, 25, SETTINGS) != client.make_link(VIEW, 25, SETTINGS)


def test_the_server_that_sealed_a_link_opens_it_to_the_same_view():
    sealed = unseal(_token(client.make_link(State(VIEW.overrides, "cash"), 25, SETTINGS)), SETTINGS.secret)
    assert (sealed["overrides"], sealed["costing"], sealed["margin"]) == (VIEW.overrides, "cash", 25)


def test_another_server_shows_nothing_of_a_link(server):
    strange = client.make_link(VIEW, 25, Settings(plant=PLANT))
    assert "This link can't be opened" in _shown(server, _token(strange))


@pytest.mark.parametrize("token", ["", "x", "A" * 200, "é", "%00", "=" * 9000])
def test_a_token_that_is_none_shows_nothing(server, token):
    text = _shown(server, token)
    assert "This link can't be opened" in text
    assert "figure" not in text


def test_a_changed_token_shows_nothing(server):
    token = _token(client.make_link(VIEW, 25, SETTINGS))
    middle = len(token) // 2
    changed = token[:middle] + ("A" if token[middle] != "A" else "B") + token[middle + 1 :]
    assert "This link can't be opened" in _shown(server, changed)


def test_a_link_made_before_the_rates_changed_says_that_prices_may_have_changed(server):
    old = Settings(plant=Layer("old", {**PLANT.values, "rates.labour_h": 30.0}), secret=SETTINGS.secret)
    assert "Prices may have changed" in _shown(server, _token(client.make_link(VIEW, 25, old)))
    assert "Prices may have changed" not in _shown(server, _token(client.make_link(VIEW, 25, SETTINGS)))


def test_the_client_is_answered_with_prices_and_no_cost(server):
    c, unsure = compare(scenario_of(VIEW.overrides, SETTINGS)), uncertainty_of(VIEW, SETTINGS)
    text = _shown(server, _token(client.make_link(VIEW, 23.19, SETTINGS)))
    factor = client.price_factor(23.19)
    assert json.dumps(sure_wording.sure_answer(unsure, price_factor=factor))[1:-1] in text
    numbers = {_six(float(one)) for one in re.findall(r"-?\d+\.\d+(?:e-?\d+)?", text)} | {
        _six(one) for one in packed_numbers(text)
    }
    assert _on_curves(charts.break_even_chart(c, price_factor=factor)) <= numbers
    costs = _on_curves(charts.break_even_chart(c))
    of_the_ledger = {_six(money) for row in c.ledger for money in (row.money, row.money / c.die.thousands)}
    assert (costs | {text for text in of_the_ledger if len(text) == 7}) & numbers == set()


def _six(value):
    """A number with the six figures that a curve is drawn with."""
    return f"{value:.6g}"


def _on_curves(chart):
    """Points of a chart's curves that have digits enough to be told from any other number."""
    return {text for series in chart.series for y in series.y if len(text := _six(y)) == 7}


def test_a_job_that_cannot_be_made_tells_the_client_so(server):
    both = State({"board.laminate": "pvc", "work.varnish_release_m": 1.0})
    assert "neither route can make this job" in _shown(server, _token(client.make_link(both, 25, SETTINGS)))


def test_more_changes_than_a_link_can_hold_are_refused_in_words():
    from compare.assumptions import assumption_table

    many = {name: row.low + 0.123456789 for name, row in assumption_table().items() if row.low is not None}
    with pytest.raises(InputError, match="change fewer assumptions"):
        client.make_link(State(many), 25, SETTINGS)


# -- seals that can't be opened --------------------------------------------------------------------------------------


@pytest.fixture
def fresh_server():
    """A server on which no seal has failed yet."""
    app = make_server(SETTINGS, behind_proxy=True)
    warm_up(app)
    return app.test_client()


def _from(server, address, token):
    server.environ_base["HTTP_X_FORWARDED_FOR"] = address
    return _shown(server, token)


def _fail(server, address, times=client.BAD_SEALS):
    for number in range(times):
        assert "This link can't be opened" in _from(server, address, f"guess-{number}")


def test_after_many_seals_that_cannot_be_opened_an_address_is_refused_even_with_a_good_one(fresh_server):
    """Else guessing would end with the first hit, and a flood would cost the server more than its sender."""
    good = _token(client.make_link(VIEW, 25, SETTINGS))
    _fail(fresh_server, "198.51.100.1")
    text = _from(fresh_server, "198.51.100.1", good)
    assert "too many links that can't be opened came from this address" in text.lower()
    assert "try again in 10 minutes" in text
    assert "cartons per order" not in text


def test_a_page_that_is_open_already_is_told_to_wait_as_well(fresh_server):
    """The way round by the other callback leads to the same count."""
    good = _token(client.make_link(VIEW, 25, SETTINGS))
    _fail(fresh_server, "198.51.100.1")
    outputs = [("client-answer", "children"), ("chart-curves", "figure"), ("chart-curves-words", "children")]
    outputs += [("client-carbon", "children"), ("client-waste", "children")]
    outputs += [("client-run", "error"), ("client-versions", "error")]
    body = {
        "output": f"..{'...'.join(f'{place}.{what}' for place, what in outputs)}..",
        "outputs": [{"id": place, "property": what} for place, what in outputs],
        "inputs": [
            {"id": "client-run", "property": "value", "value": 5000},
            {"id": "client-versions", "property": "value", "value": 1},
        ],
        "state": [{"id": "client-token", "property": "data", "value": good}],
        "changedPropIds": ["client-run.value"],
    }
    answer = fresh_server.post("/client/_dash-update-component", json=body)
    assert answer.json["response"] == {
        "client-run": {"error": ""},
        "client-versions": {"error": "try again in 10 minutes"},
    }


def test_another_address_is_not_refused_for_it(fresh_server):
    _fail(fresh_server, "198.51.100.1")
    good = _token(client.make_link(VIEW, 25, SETTINGS))
    assert "cartons per order" in _from(fresh_server, "198.51.100.2", good)


def test_good_seals_and_a_page_without_one_are_no_failures(fresh_server):
    _fail(fresh_server, "198.51.100.1", client.BAD_SEALS - 1)
    good = _token(client.make_link(VIEW, 25, SETTINGS))
    for token in ("", good, "", good):
        assert "too many" not in _from(fresh_server, "198.51.100.1", token).lower()


def test_the_log_names_an_address_once_when_it_is_refused(fresh_server, caplog):
    """A line for each try would let a stranger fill the disk."""
    _fail(fresh_server, "198.51.100.1")
    for _ in range(5):
        _from(fresh_server, "198.51.100.1", "one more")
    assert [line.getMessage() for line in caplog.records if line.name == "evenrun.client"] == [
        "client links refused for a while after too many bad ones, from 198.51.100.1"
    ]


def test_what_the_clients_page_loads_names_no_input_of_the_engine():
    """The style sheet and the script are the same files for both apps."""
    from compare.assumptions import assumption_table
    from dashboard.app import _ASSETS

    texts = {path.name: path.read_text(encoding="utf-8") for path in _ASSETS.iterdir()}
    assert "evenrun.css" in texts
    assert {(file, name) for file, text in texts.items() for name in assumption_table() if name in text} == set()
