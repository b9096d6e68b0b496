"""Logging in: who gets a session, what it opens, how guessing is slowed, where one lands."""

from __future__ import annotations

import logging
import re
from urllib.parse import parse_qs, urlsplit

import pytest
from argon2 import PasswordHasher
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_mount import GOOD, tiny_mount

from dashboard import login as login_module
from dashboard.login import _safe
from dashboard.server import make_server
from dashboard.settings import Settings
from dashboard.users import Users

QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
PASSWORD = " ".join(("four", "plain", "short", "words"))


@pytest.fixture(scope="module")
def users(tmp_path_factory):
    users = Users(tmp_path_factory.mktemp("users") / "users.json", hasher=QUICK)
    for name in ("anna", "bert"):
        users.add(name, PASSWORD)
    return users


@pytest.fixture
def client(users):
    return make_server(Settings(), users=users, mount=tiny_mount).test_client()


def _token(client, address="/login"):
    return re.search(r'name="csrf_token"[^>]*value="([^"]+)"', client.get(address).text).group(1)


def _log_in(client, name="anna", password=PASSWORD, address="/login", **named):
    form = {"name": name, "password": password, "csrf_token": _token(client)}
    return client.post(address, data=form, **named)


def _is_in(client):
    return client.get("/").status_code == 200


@pytest.mark.parametrize("path", ["/", "/any/page?run_length=5000", "/clientele", "/healthy", "/loginx"])
def test_a_page_leads_to_the_log_in_and_remembers_where_from(client, path):
    answer = client.get(path)
    assert answer.status_code == 302
    target = urlsplit(answer.headers["Location"])
    assert target.path == "/login"
    assert parse_qs(target.query)["next"] == [path]


@pytest.mark.parametrize(
    "path",
    [
        "/_dash-layout",
        "/_dash-dependencies",
        "/_reload-hash",
        "/_favicon.ico",
        "/assets/x.css",
        "/_dash-component-suites/dash/x.js",
    ],
)
def test_what_a_page_fetches_is_refused_without_a_session(client, path):
    assert client.get(path).status_code == 401


def test_a_callback_is_refused_without_a_session(client):
    answer = client.post("/_dash-update-component", json=GOOD)
    assert (answer.status_code, answer.text) == (401, "Log in first.\n")


def test_a_callback_is_refused_before_its_body_is_looked_at(client):
    """Else a stranger could learn the callbacks from the answers."""
    assert client.post("/_dash-update-component", json={"output": "none"}).status_code == 401


@pytest.mark.parametrize("path", ["/health", "/login", "/client/", "/client/_dash-layout", "/client/any"])
def test_health_log_in_and_sealed_links_are_open(client, path):
    assert client.get(path).status_code == 200


def test_a_sealed_link_computes_without_an_account(client):
    assert client.post("/client/_dash-update-component", json=GOOD).status_code == 200


@pytest.mark.parametrize(
    "path",
    ["/client/../_dash-layout", "/client/%2e%2e/_dash-layout", "//client/_dash-layout", "/client/..%2f_dash-layout"],
)
def test_no_detour_through_the_open_part_leads_into_the_closed_one(client, path):
    answer = client.get(path)
    inside = client.get("/client/").text.split("<footer>")[0]
    assert answer.status_code in (302, 308, 401, 404) or answer.text.split("<footer>")[0] == inside


def test_the_right_password_opens_the_pages_and_their_callbacks(client):
    answer = _log_in(client)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/")
    assert _is_in(client)
    assert client.post("/_dash-update-component", json=GOOD).status_code == 200


def test_one_lands_on_the_link_one_came_for(client):
    answer = _log_in(client, address="/login?next=/job%3Frun_length%3D5000%26style%3Dsleeve")
    assert answer.headers["Location"] == "/job?run_length=5000&style=sleeve"


def test_who_is_in_already_is_not_asked_again(client):
    _log_in(client)
    answer = client.get("/login?next=/job")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/job")


@pytest.mark.parametrize(
    "address",
    [
        "https://site.example",
        "//site.example",
        "///site.example",
        "/\\site.example",
        "\\\\site.example",
        "/\t/site.example",
        "/\n/site.example",
        " //site.example",
        "javascript:alert(1)",
        "site.example",
        "",
        "/a\\b",
    ],
)
def test_no_log_in_ends_on_another_site(client, address):
    answer = _log_in(client, address="/login", query_string={"next": address})
    assert answer.headers["Location"] == "/"


@settings(max_examples=300)
@given(st.text(alphabet=st.sampled_from("/\\:?#@.\t\n\r %ae\u2044") | st.characters(codec="utf-8"), max_size=12))
def test_whatever_is_asked_for_stays_on_this_host(address):
    """A browser drops tabs and line ends, takes a backslash for a slash, and then reads the address."""
    seen = re.sub(r"[\t\r\n]", "", _safe(address)).replace("\\", "/")
    assert seen.startswith("/")
    assert not seen.startswith("//")


@pytest.mark.parametrize(("name", "password"), [("anna", "wrong"), ("nobody", PASSWORD), ("a b", PASSWORD)])
def test_a_wrong_name_and_a_wrong_password_get_one_and_the_same_answer(client, name, password):
    answer = _log_in(client, name, password)
    assert answer.status_code == 401
    assert re.findall(r'role="alert"[^>]*>([^<]+)<', answer.text) == ["Name or password is wrong."]
    assert not _is_in(client)


def test_what_was_typed_comes_back_as_text_and_the_password_not_at_all(client):
    answer = _log_in(client, '"><script>alert(1)</script>', "wrong-secret-words")
    assert "<script" not in answer.text
    assert "&lt;script&gt;" in answer.text
    assert "wrong-secret-words" not in answer.text


@pytest.mark.parametrize("token", [None, "", "x", "of another browser"])
def test_a_form_without_this_browsers_token_is_refused(client, users, token):
    """Else another site could log its visitor in under an account of its own."""
    if token and token.startswith("of another"):
        token = _token(client.application.test_client())
    form = {"name": "anna", "password": PASSWORD} | ({} if token is None else {"csrf_token": token})
    client.get("/login")
    answer = client.post("/login", data=form)
    assert answer.status_code == 400
    assert "Please try again" in answer.text
    assert not _is_in(client)


def test_an_empty_form_is_told_what_is_missing(client):
    answer = _log_in(client, "", "")
    assert (answer.status_code, "Give name and password." in answer.text) == (400, True)


def _cookie(answer):
    first, *rest = answer.headers["Set-Cookie"].split("; ")
    return first.split("=")[0], {part.split("=")[0]: part.partition("=")[2] for part in rest}


def test_the_session_cookie_is_out_of_reach_of_scripts_and_other_sites(client):
    name, flags = _cookie(_log_in(client))
    assert name == "evenrun"
    assert "HttpOnly" in flags
    assert flags["SameSite"] == "Lax"
    assert flags["Path"] == "/"
    assert "Domain" not in flags


def test_the_cookie_of_a_plain_server_is_not_secure_or_it_would_never_come_back(client):
    assert "Secure" not in _cookie(_log_in(client))[1]


def test_behind_a_proxy_the_cookie_goes_by_https_alone_and_to_this_host_alone(users):
    client = make_server(Settings(), users=users, behind_proxy=True, mount=tiny_mount).test_client()
    name, flags = _cookie(client.get("/login", headers={"X-Forwarded-Proto": "https"}))
    assert name == "__Host-evenrun"  # a name that browsers take only with Secure, Path=/ and no Domain
    assert "Secure" in flags


def test_a_session_from_before_the_log_in_is_not_carried_on(client):
    """Else whoever planted a session in a browser would share the one of its user."""
    with client.session_transaction() as session:
        session["planted"] = 1
    _log_in(client)
    with client.session_transaction() as session:
        assert "planted" not in session


def test_a_session_ends_after_twelve_hours_however_much_it_was_used(client, monkeypatch):
    now = login_module.time.time()
    monkeypatch.setattr(login_module.time, "time", lambda: now)
    _log_in(client)
    for hours, inside in ((6, True), (11.99, True), (12.01, False)):
        monkeypatch.setattr(login_module.time, "time", lambda hours=hours: now + hours * 3600)
        client.get("/logout")  # a page that writes into the session
        assert _is_in(client) is inside


def test_a_session_made_with_another_secret_is_none(client, users):
    _log_in(client)
    other = make_server(Settings(), users=users, mount=tiny_mount).test_client()
    other.set_cookie("evenrun", client.get_cookie("evenrun").value)
    assert not _is_in(other)


def test_a_session_goes_on_after_the_server_starts_again(users):
    same = Settings(secret=b"k" * 32)
    first, again = (make_server(same, users=users, mount=tiny_mount).test_client() for _ in range(2))
    _log_in(first)
    again.set_cookie("evenrun", first.get_cookie("evenrun").value)
    assert _is_in(again)


@pytest.mark.parametrize("change", ["another password", "taken out"])
def test_a_session_ends_when_its_user_changes(client, users, change):
    users.add("carl", PASSWORD, replace=True)
    _log_in(client, "carl")
    assert _is_in(client)
    if change == "taken out":
        users.remove("carl")
    else:
        users.add("carl", PASSWORD, replace=True)
    assert not _is_in(client)


def test_the_sixth_failure_in_a_minute_closes_the_door_even_to_the_right_password(client):
    for _ in range(6):
        assert _log_in(client, "anna", "wrong").status_code == 401
    answer = _log_in(client)
    assert answer.status_code == 429
    assert re.search(r'role="alert"[^>]*>Too many failed attempts. Try again in 1 minute\.<', answer.text)
    assert 1 <= int(answer.headers["Retry-After"]) <= 61
    assert not _is_in(client)


def test_the_door_opens_again_after_the_minute(client, monkeypatch):
    from limits.storage import memory

    now = memory.time.time()
    monkeypatch.setattr(memory.time, "time", lambda: now)
    for _ in range(7):
        last = _log_in(client, "anna", "wrong")
    assert last.status_code == 429
    monkeypatch.setattr(memory.time, "time", lambda: now + 61)
    assert _log_in(client).status_code == 302


def test_an_address_that_fails_does_not_close_the_door_to_another(client):
    for _ in range(7):
        _log_in(client, "bert", "wrong", environ_overrides={"REMOTE_ADDR": "198.51.100.1"})
    assert _log_in(client, environ_overrides={"REMOTE_ADDR": "198.51.100.2"}).status_code == 302


def test_one_name_tried_from_many_addresses_is_closed_too(client):
    """Guessing one password from rented machines: each address alone stays below its limit."""
    seen = [
        _log_in(client, "anna", "wrong", environ_overrides={"REMOTE_ADDR": f"198.51.100.{number}"}).status_code
        for number in range(11)
    ]
    assert seen == [401] * 10 + [429]
    assert _log_in(client, "bert", environ_overrides={"REMOTE_ADDR": "198.51.100.99"}).status_code == 302


def test_the_addresses_of_one_ipv6_line_count_as_one(client):
    """A line is given a whole /64 network (RFC 6177, published): a new address for every guess costs nothing."""
    seen = [
        _log_in(client, f"name{number}", "wrong", environ_overrides={"REMOTE_ADDR": f"2001:db8::{number}"}).status_code
        for number in range(7)
    ]
    assert seen == [401] * 6 + [429]


def test_successes_are_not_counted(client):
    for _ in range(8):
        assert _log_in(client).status_code == 302
        client.post("/logout", headers={"Sec-Fetch-Site": "same-origin"})


def test_logging_out_ends_the_session(client):
    _log_in(client)
    answer = client.post("/logout", data={"csrf_token": _token(client, "/logout")})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/login")
    assert not _is_in(client)


def test_a_button_of_our_own_page_logs_out_at_once(client):
    _log_in(client)
    client.post("/logout", headers={"Sec-Fetch-Site": "same-origin"})
    assert not _is_in(client)


@pytest.mark.parametrize(
    "how", [{"method": "GET"}, {"method": "POST"}, {"method": "POST", "headers": {"Sec-Fetch-Site": "cross-site"}}]
)
def test_another_site_can_not_log_anybody_out(client, how):
    _log_in(client)
    assert "<h1>Log out of Evenrun</h1>" in client.open("/logout", **how).text
    assert _is_in(client)


def test_the_log_names_known_users_and_nothing_else_that_was_typed(client, caplog):
    """People type their password into the box of the name; a log must not keep it."""
    with caplog.at_level(logging.INFO):
        _log_in(client, "my-secret-words", "wrong")
        _log_in(client, "anna", "wrong-secret-words")
        _log_in(client)
    assert "log-in failed: unknown name, from 127.0.0.1" in caplog.text
    assert "log-in failed: anna, from 127.0.0.1" in caplog.text
    assert "log-in: anna, from 127.0.0.1" in caplog.text
    assert "secret-words" not in caplog.text
    assert PASSWORD not in caplog.text


@pytest.mark.parametrize("path", ["/login", "/logout"])
def test_the_pages_name_their_language_their_fields_and_one_heading(client, path):
    if path == "/logout":
        _log_in(client)
    page = client.get(path).text
    assert '<html lang="en">' in page
    assert page.count("<h1>") == page.count("<main>") == 1
    fields = [field for field in re.findall(r"<input[^>]*>", page) if 'type="hidden"' not in field]
    assert len(fields) == (2 if path == "/login" else 0)
    for field in fields:
        assert f'<label for="{re.search(r"id=.(.*?).[ >]", field).group(1)}">' in page


@pytest.mark.parametrize("path", ["/login", "/logout"])
def test_the_pages_need_no_script_and_nothing_from_elsewhere(client, path):
    if path == "/logout":
        _log_in(client)
    page = client.get(path).text
    assert "<script" not in page
    assert not re.findall(r'(?:src|href|action)="(?:https?:)?//', page)


def test_the_page_with_the_token_is_never_compressed(client):
    """The size of a compressed page that holds a secret and an echo can be used to guess the secret (BREACH)."""
    answer = client.get("/login?next=/" + "x" * 3000, headers={"Accept-Encoding": "br, gzip"})
    assert "Content-Encoding" not in answer.headers


def test_a_form_beyond_all_measure_is_refused(client):
    assert client.post("/login", data={"name": "x" * 100_000}).status_code == 413
