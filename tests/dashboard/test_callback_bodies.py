"""Bodies of callbacks that no page sends: the caller is told, and the server goes on."""

from __future__ import annotations

import copy
import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tiny_mount import GOOD, tiny_mount

from dashboard.server import make_server
from dashboard.settings import Settings

PREFIXES = ("/", "/client/")
CLIENT = make_server(Settings(), mount=tiny_mount).test_client()


def _post(prefix, body):
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    return CLIENT.post(f"{prefix}_dash-update-component", data=raw, content_type="application/json")


def _ref(name, prop="value", **value):
    return {"id": name, "property": prop, **value}


ROW, CELL = {"type": "row", "index": 3}, {"type": "cell", "index": 3}
OF_A_PAGE = {
    "one output": GOOD,
    "first call, nothing triggered": {**GOOD, "changedPropIds": []},
    "a property that was never set": {**GOOD, "inputs": [_ref("length")]},
    "several outputs": {
        "output": "..second.children...second.title..",
        "outputs": [_ref("second", "children"), _ref("second", "title")],
        "inputs": [_ref("length", value=1), _ref("name", value="ä")],
        "changedPropIds": ["name.value"],
    },
    "all of a kind": {
        "output": "second.lang",
        "outputs": _ref("second", "lang"),
        "inputs": [[_ref(ROW, "n_clicks", value=1), _ref({"type": "row", "index": "x"}, "n_clicks")]],
        "changedPropIds": ['{"index":3,"type":"row"}.n_clicks'],
    },
    "all of a kind, of which there is none": {
        "output": "second.lang",
        "outputs": _ref("second", "lang"),
        "inputs": [[]],
        "changedPropIds": [],
    },
    "matching": {
        "output": '{"index":["MATCH"],"type":"cell"}.children',
        "outputs": _ref(CELL, "children"),
        "inputs": [_ref(ROW, "n_clicks", value=1)],
        "changedPropIds": ['{"index":3,"type":"row"}.n_clicks'],
    },
    "all of a kind, each with its output": {
        "output": '{"index":["ALL"],"type":"row"}.title',
        "outputs": [_ref(ROW, "title"), _ref({"type": "row", "index": "x"}, "title")],
        "inputs": [[_ref(ROW, "n_clicks", value=1), _ref({"type": "row", "index": "x"}, "n_clicks")]],
        "changedPropIds": [],
    },
    "outputs of all of a kind": {
        "output": '{"index":["ALL"],"type":"cell"}.title',
        "outputs": [_ref(CELL, "title")],
        "inputs": [_ref("length", value=1)],
        "changedPropIds": ["length.value"],
    },
}


@pytest.mark.parametrize("prefix", PREFIXES)
@pytest.mark.parametrize("kind", OF_A_PAGE)
def test_what_a_page_sends_passes(prefix, kind):
    answer = _post(prefix, OF_A_PAGE[kind])
    assert answer.status_code == 200
    assert answer.json["response"]


@pytest.mark.parametrize("prefix", PREFIXES)
def test_callbacks_named_by_a_digest_pass(prefix):
    """One shares its output with another callback, one has no output at all."""
    shared, none = [one for one in CLIENT.get(f"{prefix}_dash-dependencies").json if one["inputs"] == [_ref("name")]]
    body = {"inputs": [_ref("name", value="x")], "changedPropIds": ["name.value"]}
    outputs = _ref("second", shared["output"].partition(".")[2])
    assert _post(prefix, {**body, "output": shared["output"], "outputs": outputs}).status_code == 200
    assert _post(prefix, {**body, "output": none["output"]}).status_code in (200, 204)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"output": "answer.title"}, "there is no such callback"),  # runs in the browser
        ({"output": {}}, "there is no such callback"),
        ({"outputs": None}, "the outputs are not those of the callback"),
        ({"outputs": _ref("second", "children")}, "the outputs are not those of the callback"),
        ({"inputs": []}, "the inputs are not those of the callback"),
        ({"inputs": [_ref("name", value=1)]}, "the inputs are not those of the callback"),
        ({"inputs": [[_ref("length", value=1)]]}, "the inputs are not those of the callback"),
        ({"state": None}, "the state are not those of the callback"),
        ({"changedPropIds": None}, "the triggers are no list"),
        ({"changedPropIds": ["answer.children"]}, "a trigger is no input of the callback"),
        ({"changedPropIds": ['{"index":.n_clicks']}, "a trigger is no input of the callback"),
        ({"inputs": [_ref("length", value=10**400)]}, "a number is too large"),
        ({"inputs": [_ref("length", value=float("nan"))]}, "a number is not finite"),
        ({"inputs": [_ref("length", value="\ud800")]}, "a text is not Unicode"),
    ],
)
def test_a_body_that_does_not_fit_its_callback_is_named(change, said):
    answer = _post("/", {**GOOD, **change})
    assert (answer.status_code, answer.text) == (400, f"This is no call of this page: {said}.\n")


@pytest.mark.parametrize("part", ["outputs", "inputs"])
def test_lists_of_one_kind_name_the_same_components(part):
    """A callback that answers each of them relies on it."""
    body = copy.deepcopy(OF_A_PAGE["all of a kind, each with its output"])
    del (body["outputs"] if part == "outputs" else body["inputs"][0])[0]
    answer = _post("/", body)
    assert (answer.status_code, "are not those of the callback" in answer.text) == (400, True)


@pytest.mark.parametrize("clicks", ["3", [3], {}])
def test_a_count_of_clicks_is_a_number(clicks):
    """The browser counts them: a callback need not ask what kind of thing it got."""
    body = copy.deepcopy(OF_A_PAGE["matching"])
    body["inputs"][0]["value"] = clicks
    answer = _post("/", body)
    assert (answer.status_code, answer.text) == (400, "This is no call of this page: n_clicks is of another kind.\n")


@pytest.mark.parametrize("depth", [50, 900, 100_000])
def test_endless_nesting_is_refused(depth):
    raw = json.dumps(GOOD).replace("5000", "[" * depth + "]" * depth).encode()
    answer = _post("/", raw)
    assert answer.status_code == 400
    assert "nested too deeply" in answer.text


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_a_body_that_is_not_declared_as_json_is_refused(kind):
    """Another site's page can send these kinds without asking this server first."""
    answer = CLIENT.post("/_dash-update-component", data=json.dumps(GOOD), content_type=kind)
    assert answer.status_code == 415


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
WORDS = (
    "output",
    "outputs",
    "inputs",
    "state",
    "changedPropIds",
    "id",
    "property",
    "value",
    *(p["output"] for p in OF_A_PAGE.values()),
)
near_misses = st.recursive(
    json_values | st.sampled_from(WORDS),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(WORDS), inner, max_size=5),
    max_leaves=12,
)


def _places(body, path=()):
    yield path
    inner = body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    for key, value in inner:
        yield from _places(value, (*path, key))


@st.composite
def damaged(draw):
    """Draw a body of a page, and take out or replace one place of it."""
    body = copy.deepcopy(draw(st.sampled_from(list(OF_A_PAGE.values()))))
    path = draw(st.sampled_from([path for path in _places(body) if path]))
    *way, last = path
    part = body
    for key in way:
        part = part[key]
    if draw(st.booleans()):
        del part[last]
    else:
        part[last] = draw(near_misses)
    return body


bodies = st.binary(max_size=60) | near_misses | damaged()
FUZZ = settings(max_examples=500, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.parametrize("prefix", PREFIXES)
def test_no_body_brings_the_server_to_an_error(prefix):
    @FUZZ
    @given(bodies)
    def posted(body):
        answer = _post(prefix, body)
        assert answer.status_code < 500
        if answer.status_code >= 400:
            assert answer.mimetype == "text/plain"
            assert b"Traceback" not in answer.data
            assert ".py" not in answer.text

    posted()
    assert _post(prefix, GOOD).json["response"]["answer"]["children"] == "5000 'tea' length"


@pytest.mark.parametrize("prefix", PREFIXES)
@settings(max_examples=150, deadline=None)
@given(body=st.binary(max_size=60) | json_values)
def test_what_is_no_call_at_all_is_the_callers_fault(prefix, body):
    assert 400 <= _post(prefix, body).status_code < 500


@settings(max_examples=100, deadline=None)
@given(
    path=st.lists(
        st.sampled_from(
            ["_dash-component-suites", "client", "assets", "dash", "dcc", "..", "_favicon.ico", "login", "a.js"]
        )
        | st.text(max_size=6),
        max_size=5,
    ),
    method=st.sampled_from(["GET", "POST", "PUT", "HEAD", "OPTIONS"]),
)
def test_no_address_brings_the_server_to_an_error(path, method):
    raw = ("/" + "/".join(path)).encode().decode("latin-1")  # as a WSGI server hands it over
    answer = CLIENT.open("/", method=method, environ_overrides={"PATH_INFO": raw})
    assert answer.status_code < 500
    assert b"Traceback" not in answer.data
