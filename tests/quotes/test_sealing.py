"""What a client may see, and the seal by which the plant knows its own."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace

import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.hmac import HMAC
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.assumptions import assumption_table
from compare.errors import InputError
from compare.quotes.client_quote import OF_THE_CARTON, ClientQuote, SealedQuote, client_record
from compare.quotes.quote_record import plain
from compare.quotes.record_reader import read_sealed
from compare.quotes.sealing import alterations, is_genuine, leaves, number_of, quote_number, seal, sealed_quote
from compare.readers.jobfile import Layer
from tests.quotes.made_quotes import SCOPE, SECRET, of_client, plant_layer, quote, some_quote

OTHER_SECRET = b"another secret of thirty-two byte"[:32]


# -- what a client may see --------------------------------------------------------------------------------------------


def _plant_of_its_own() -> Layer:
    """The invented plant with digits of its own in every number, so that none can be taken for another."""
    numbers = {
        name: row.value * (1 + 0.0123456789 / (place + 1))
        for place, (name, row) in enumerate(assumption_table().items())
        if isinstance(row.value, float) and row.value and not row.limits.whole and not row.limits.switch
        if row.limits.high > 1 and not name.startswith(("demand.", "sheet.", "carton.", "board."))
    }
    return Layer("our secret plant.toml", {**numbers, **plant_layer().values, "plant.name": "Northfold Cartons"})


def _numbers(data) -> set[float]:
    return {float(value) for value in leaves(data).values() if isinstance(value, (int, float))}


@settings(max_examples=40, deadline=None)
@given(margin=st.floats(0.01, 0.9), job=st.sampled_from(["cosmetics_cutouts", "soap_sleeve", "gift_varnish_release"]))
def test_a_client_sees_no_cost_no_margin_and_no_value_of_the_plant(margin, job):
    record = quote(job, plant=_plant_of_its_own(), margin=margin)
    client = client_record(record, quote_number(record, SECRET), scope=SCOPE)
    own = {name: value for name, value in record.inputs.items() if name not in OF_THE_CARTON}
    secret = {margin, 100 * margin, record.asked.price_factor, *own.values()}
    for route in (record.results.die, record.results.laser):
        if route.figures is not None:
            secret |= {route.figures.cost_per_1000, route.figures.hours}
            secret |= {*route.figures.stage_costs.values(), *route.figures.costs_at_run_lengths}
    # a number of few digits, such as 1 or 250, may be of the carton or of the plant; one of many can't
    telling = {value for value in secret if len(re.sub(r"\D", "", f"{value!r}").strip("0")) > 5}
    assert len(telling) > 60
    assert _numbers(plain(client)) & telling == set()
    text = client.to_bytes().decode()
    assert [value for value in telling if repr(value) in text] == []
    assert "Northfold" not in text
    assert "secret" not in text
    assert "toml" not in text


def test_a_client_sees_days_to_a_tenth_and_no_hours_at_the_machine():
    record = quote()
    client = client_record(record, "0" * 12, scope=SCOPE)
    for route, days in client.lead_time_days.items():
        exact = record.results.route(route).figures.lead_time_days
        assert days == round(exact, 1)
        assert days != exact


def test_a_client_sees_the_price_and_not_the_cost():
    record = quote(margin=0.2)
    client = client_record(record, "0" * 12, scope=SCOPE)
    costs = record.results.die.figures.costs_at_run_lengths
    assert [row.prices["die"] for row in client.rows] == [round(cost / 0.8, 2) for cost in costs]
    assert [row.run_length for row in client.rows] == [5000, 10_000, 25_000]


def test_a_client_sees_the_carton_and_what_was_ordered():
    client = client_record(quote("soap_sleeve"), "0" * 12, scope=SCOPE)
    assert (client.job, client.style, client.board) == (
        "Soap sleeve, 6 outlines",
        "sleeve",
        "Solid unbleached kraft 300 g/m2",
    )
    assert client.values["demand.versions"] == 6
    assert client.values["board.grammage_g_m2"] == 300
    assert client.scope == SCOPE


def test_a_route_that_can_not_make_the_job_has_no_price():
    client = client_record(quote("gift_varnish_release"), "0" * 12, scope=SCOPE)
    assert {row.prices["die"] for row in client.rows} == {None}
    assert client.lead_time_days["die"] is client.co2e_kg_per_1000["die"] is client.waste_kg_per_1000["die"] is None
    assert client.rows[0].prices["laser"] > 0


def test_the_plants_own_factor_does_not_name_its_file():
    """The label of an own value says where it was given."""
    record = quote("cosmetics_cutouts", "factors.kwh=0.31")
    assert "--set" in record.factors["kwh"].label
    client = client_record(record, "0" * 12, scope=SCOPE)
    assert client.publishers == "UK Government 2025"


def test_a_clients_file_comes_back_as_it_was():
    for record in (quote("soap_sleeve"), quote("gift_varnish_release"), of_client('紙 "箱"\n\u200f')):
        sealed = sealed_quote(record, SECRET, scope=SCOPE)
        assert read_sealed(sealed.to_bytes()) == sealed


# -- number and seal --------------------------------------------------------------------------------------------------


def test_the_same_quote_has_the_same_number_and_the_same_seal():
    once, again = quote("soap_sleeve"), quote("soap_sleeve")
    assert quote_number(once, SECRET) == quote_number(again, SECRET)
    assert sealed_quote(once, SECRET, scope=SCOPE) == sealed_quote(again, SECRET, scope=SCOPE)


@settings(max_examples=60, deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=200), st.floats(0, 0.9))
def test_a_changed_record_has_another_number_and_another_seal(client, margin):
    record = some_quote()
    changed = replace(record, asked=replace(record.asked, client=client, margin=margin))
    part = client_record(record, "0" * 12, scope=SCOPE)
    same = changed == record
    assert (quote_number(changed, SECRET) == quote_number(record, SECRET)) is same
    assert (seal(changed, part, SECRET) == seal(record, part, SECRET)) is same


def test_the_number_can_not_be_worked_out_by_trying_margins():
    """Who knows all but the margin could try them all against a plain hash; against a keyed one only with the key."""
    record = some_quote()
    number = quote_number(record, SECRET)
    tried = [replace(record, asked=replace(record.asked, margin=percent / 100)) for percent in range(91)]
    assert number not in {hashlib.sha256(one.to_bytes()).hexdigest()[:12] for one in tried}
    assert number not in {quote_number(one, OTHER_SECRET) for one in tried}
    assert number in {quote_number(one, SECRET) for one in tried}


def test_another_library_makes_the_same_number_and_seal_with_the_same_key():
    """HMAC-SHA256 of RFC 2104 by the library cryptography."""

    def mac(key: bytes, data: bytes) -> bytes:
        keyed = HMAC(key, hashes.SHA256())
        keyed.update(data)
        return keyed.finalize()

    record = some_quote()
    raw, sealed = record.to_bytes(), sealed_quote(record, SECRET, scope=SCOPE)
    assert sealed.client.number == mac(mac(SECRET, b"evenrun quote number"), raw).hex()[:12]
    covered = hashlib.sha256(raw).digest() + sealed.client.to_bytes()
    assert sealed.seal == mac(mac(SECRET, b"evenrun quote seal"), covered).hex()


def test_a_genuine_file_is_known():
    record = some_quote()
    sealed = read_sealed(sealed_quote(record, SECRET, scope=SCOPE).to_bytes())
    assert is_genuine(sealed, record, SECRET)
    assert alterations(sealed, record, SECRET) == ()


def test_a_price_that_was_changed_breaks_the_seal_and_is_named():
    record = some_quote()
    sealed = sealed_quote(record, SECRET, scope=SCOPE)
    data = json.loads(sealed.to_bytes())
    data["client"]["rows"][0]["prices"]["die"] = 1.0
    raw = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    forged = read_sealed(raw)
    assert not is_genuine(forged, record, SECRET)
    assert alterations(forged, record, SECRET) == ("rows.0.prices.die",)


@pytest.mark.parametrize(
    "name", sorted(set(plain(client_record(some_quote(), "0" * 12, scope=SCOPE))) - {"client_format"})
)
def test_every_part_of_a_clients_file_is_under_the_seal(name):
    record = some_quote()
    sealed = sealed_quote(record, SECRET, scope=SCOPE)
    other = client_record(quote("soap_sleeve", client="Other", margin=0.3), "f" * 12, scope="other")
    given_other = {**vars(other), "language": "de", "currency": "PLN", "cheaper": "neither", "factor_set": "x"}
    given_other |= {
        "program": "9",
        "publishers": "x",
        "made_on": sealed.client.valid_until,
        "valid_until": sealed.client.made_on,
    }
    forged = SealedQuote(replace(sealed.client, **{name: given_other[name]}), sealed.seal)
    assert forged != sealed
    assert not is_genuine(forged, record, SECRET)


def test_a_seal_of_another_quote_or_another_store_is_none():
    record, other = some_quote(), of_client("Other")
    sealed = sealed_quote(record, SECRET, scope=SCOPE)
    assert not is_genuine(sealed, other, SECRET)
    assert not is_genuine(sealed, record, OTHER_SECRET)
    assert not is_genuine(replace(sealed, seal="é" * 64), record, SECRET)
    assert alterations(replace(sealed, seal=""), record, SECRET) == ()


def test_number_and_seal_have_keys_of_their_own():
    """Else a file could be made whose seal is read off as a number."""
    record = some_quote()
    assert number_of(record.to_bytes(), SECRET) not in sealed_quote(record, SECRET, scope=SCOPE).seal


def test_a_short_secret_is_refused():
    with pytest.raises(InputError, match="too short"):
        quote_number(some_quote(), b"short")


def test_a_clients_part_is_frozen():
    client = client_record(some_quote(), "0" * 12, scope=SCOPE)
    with pytest.raises(AttributeError):
        client.number = "1"  # type: ignore[misc]
    assert isinstance(client, ClientQuote)
