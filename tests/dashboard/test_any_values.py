"""Well-formed calls of the real views that carry values no control of theirs would send."""

from __future__ import annotations

import json
import logging

import pytest
from dash._utils import stringify_id
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compare.data_files import data_folder
from compare.readers.jobfile import read_file
from dashboard.fields import FIELDS
from dashboard.secret import seal
from dashboard.server import make_server, warm_up
from dashboard.settings import Settings

SETTINGS = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
SERVER = make_server(SETTINGS)
warm_up(SERVER)
CLIENT = SERVER.test_client()
NAMES = ("demand.run_length", "carton.style", "board.caliper", "plant.currency", "x", "")

TOKEN = seal({"overrides": {}, "costing": "full", "margin": 20, "tables": ""}, SETTINGS.secret)

leaves = (
    st.sampled_from(
        [None, True, 0, -1, 0.5, 5000, 10**20, 1e308, "", "5000", "1e999", "nan", "?a=b", "\0", TOKEN, *NAMES]
    )
    | st.text(max_size=6)
    | st.integers(-(10**6), 10**6)
    | st.floats(allow_nan=False, allow_infinity=False)
)
keys = st.sampled_from([*NAMES, "values", "job", "link", "name", "data", "type", "rows", "filter", "colId", "newValue"])
values = (
    st.sampled_from([TOKEN, 5000, None, [True], {}])
    | st.fixed_dictionaries(
        {"overrides": st.dictionaries(st.sampled_from(NAMES), leaves, max_size=2), "costing": st.just("full") | leaves}
    )
    | st.recursive(
        leaves, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=4), max_leaves=8
    )
)
of_the_browser = {
    "n_clicks": st.none() | st.integers(0, 9),
    "search": st.sampled_from([None, f"?c={TOKEN}"])
    | st.text(max_size=9).map("?{}".format)
    | st.sampled_from(NAMES).map("?{}=1".format),
    "pathname": st.none() | st.sampled_from(["/", "/orders", "/assumptions", "/cases", "/none", "", "//", "/client/"]),
}


def _calls():
    for app in SERVER.extensions["evenrun"]:
        for key, callback in app.callback_map.items():
            if "callback" in callback:
                name = key if len(key) < 50 else f"{key[:40]}...{key[-6:]}"
                yield pytest.param(app.config.routes_pathname_prefix, key, callback, id=f"{app.title} {name}")


@st.composite
def _references(draw, specs, members, *, valued=True):
    """Draw what the page would send for the inputs or outputs of a callback, with any values."""
    sent = []
    for spec in specs:
        prop = spec["property"].split("@")[0]
        value = of_the_browser.get(prop, values) if valued else st.none()
        if not spec["id"].startswith("{"):
            sent.append({"id": spec["id"], "property": prop, "value": draw(value)})
            continue
        pattern = json.loads(spec["id"])
        wild = [key for key, part in pattern.items() if isinstance(part, list)]
        alone = all(pattern[key] == ["MATCH"] for key in wild)
        if spec["id"] not in members:
            names = draw(st.lists(st.sampled_from(NAMES), min_size=int(alone), max_size=1 if alone else 3, unique=True))
            members[spec["id"]] = [{**pattern, **dict.fromkeys(wild, name)} for name in names]
        several = [{"id": one, "property": prop, "value": draw(value)} for one in members[spec["id"]]]
        sent.append(several[0] if alone else several)
    return sent


@pytest.mark.parametrize(("prefix", "key", "callback"), list(_calls()))
def test_no_value_brings_a_view_to_a_fault(prefix, key, callback, caplog):
    """The page checks what is typed; whoever calls without the page must be answered or refused as well."""
    own = callback["output"]
    several = isinstance(own, (list, tuple))
    outputs = [
        {"id": one.component_id_str(), "property": one.component_property} for one in (own if several else [own])
    ]

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.data())
    def called(data):
        members = {}
        inputs = data.draw(_references(callback["inputs"], members), label="inputs")
        flat = [one for part in inputs for one in (part if isinstance(part, list) else [part])]
        triggers = [
            f"{stringify_id(one['id']).replace(', ', ',').replace(': ', ':')}.{one['property']}" for one in flat
        ]
        sent = data.draw(_references(outputs, members, valued=False))
        body = {
            "output": key,
            "outputs": sent if several else sent[0],
            "inputs": inputs,
            "state": data.draw(_references(callback["state"], members), label="state"),
            "changedPropIds": data.draw(st.lists(st.sampled_from(triggers), max_size=1) if triggers else st.just([])),
        }
        caplog.clear()
        with caplog.at_level(logging.ERROR, "evenrun.server"):
            answer = CLIENT.post(f"{prefix}_dash-update-component", json=body)
        assert answer.status_code < 500, caplog.text[-600:]
        assert "no call of this page" not in answer.text

    called()


field_values = leaves | st.sampled_from([[], [1], {}, "sleeve", "lengths", "own", "pvc", False, -0.0, 1e-300, 1e15])
gathered = st.fixed_dictionaries(
    {
        "fields": st.dictionaries(
            st.sampled_from([*FIELDS, *NAMES, "low.demand.run_length", "high.demand.run_length"]),
            field_values,
            max_size=6,
        )
        | values,
        "costing": st.sampled_from(["full", "cash"]) | leaves,
    }
)
states = st.fixed_dictionaries(
    {"overrides": st.dictionaries(st.sampled_from([*FIELDS, *NAMES]), field_values, max_size=3) | values},
    optional={
        "ranges": st.dictionaries(
            st.sampled_from([*FIELDS, *NAMES]),
            st.sampled_from(["1..2", "4000..9000", "1..1e8 pert", "lognormal 1.2", "fixed", "wide", "9..1", 7, None]),
            max_size=3,
        )
        | values
    },
)


def test_no_message_of_fields_brings_the_job_view_to_a_fault(caplog):
    """The message of the page holds every field at once: each may be missing, of another kind, or beyond any sense."""
    callback = SERVER.extensions["evenrun"][0].callback_map["answered.data"]
    body = {
        "output": "answered.data",
        "outputs": {"id": "answered", "property": "data"},
        "changedPropIds": ["shown.data"],
    }
    statuses = set()

    @settings(max_examples=2_000, deadline=None, suppress_health_check=list(HealthCheck))
    @given(sent=gathered | values, state=st.just({"overrides": {}}) | states | values)
    def called(sent, state):
        caplog.clear()
        body["inputs"] = [{**callback["inputs"][0], "value": sent}]
        body["state"] = [{**callback["state"][0], "value": state}]
        with caplog.at_level(logging.ERROR, "evenrun.server"):
            answer = CLIENT.post("/_dash-update-component", json=body)
        assert answer.status_code < 500, caplog.text[-600:]
        assert "no call of this page" not in answer.text
        statuses.add(answer.status_code)

    called()
    assert statuses == {200, 400}  # some were answered, some refused
