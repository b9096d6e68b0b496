"""The server around the views: what it sends with every answer, what it refuses, how it starts and stops."""

from __future__ import annotations

import importlib
import logging
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from tiny_mount import GOOD, tiny_mount

from compare.errors import InputError
from dashboard import server as server_module
from dashboard.server import BODY_BYTES, make_server, serve
from dashboard.settings import Settings

BROWSER = {"Accept-Encoding": "gzip, deflate, br"}


@pytest.fixture(scope="module")
def client():
    return make_server(Settings(), mount=tiny_mount).test_client()


def _call(client, prefix="/", **changes):
    return client.post(f"{prefix}_dash-update-component", json={**GOOD, **changes})


def _first_script(client):
    return re.search(r'<script src="([^"]+)"', client.get("/").text).group(1)


def test_health_answers_in_one_word(client):
    answer = client.get("/health")
    assert (answer.status_code, answer.text, answer.mimetype) == (200, "ok\n", "text/plain")


@pytest.mark.parametrize("path", ["/", "/client/", "/health", "/_dash-layout", "/assets/none.css", "/_favicon.ico"])
def test_every_answer_carries_the_security_headers(client, path):
    headers = client.get(path).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "camera=()" in headers["Permissions-Policy"]
    assert "Server" not in headers


def test_the_content_policy_lets_nothing_in_from_elsewhere(client):
    policy = dict(part.strip().split(" ", 1) for part in client.get("/").headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == policy["connect-src"] == policy["base-uri"] == policy["form-action"] == "'self'"
    assert policy["object-src"] == policy["frame-ancestors"] == "'none'"
    assert re.fullmatch(r"'self'( 'sha256-[\w+/=]+')+", policy["script-src"])


@pytest.mark.parametrize("path", ["/", "/client/"])
def test_the_content_policy_allows_exactly_the_inline_scripts_of_the_pages(client, path):
    """A script that is not in the policy does not run, and the page stays blank."""
    import base64
    import hashlib

    answer = client.get(path)
    page = re.sub(r"<!--.*?-->", "", answer.text, flags=re.DOTALL)
    inline = [
        text for kind, text in re.findall(r"<script([^>]*)>(.*?)</script>", page, re.DOTALL) if "src=" not in kind
    ]
    run = [text for text in inline if not text.lstrip().startswith("{")]  # the other one is JSON, which is data
    assert len(run) >= 2
    for text in run:
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    "path", ["/", "/client/", "/_dash-layout", "/_dash-dependencies", "/health", "/assets/none.js"]
)
def test_no_page_no_figure_and_no_error_is_kept_by_a_browser_or_a_proxy(client, path):
    assert client.get(path).headers["Cache-Control"] == "no-store"


def test_a_callback_answer_is_kept_by_nobody(client):
    assert _call(client).headers["Cache-Control"] == "no-store"


def test_a_script_whose_address_carries_its_version_is_kept_for_a_year(client):
    assert client.get(_first_script(client)).headers["Cache-Control"] == "private, max-age=31536000, immutable"


@pytest.mark.parametrize("coding", ["br", "gzip"])
def test_scripts_travel_compressed(client, coding):
    script = _first_script(client)
    plain, packed = (client.get(script, headers={"Accept-Encoding": kind}) for kind in ("identity", coding))
    assert packed.headers["Content-Encoding"] == coding
    assert len(packed.data) < 0.5 * len(plain.data)


def test_a_script_is_compressed_once(client, monkeypatch):
    script = _first_script(client)
    first = client.get(script, headers=BROWSER).data
    monkeypatch.setattr("flask_compress.flask_compress._compress_data", lambda *_: pytest.fail("compressed again"))
    assert client.get(script, headers=BROWSER).data == first


def test_made_up_versions_of_a_script_do_not_fill_the_memory(monkeypatch):
    client = make_server(Settings(), mount=tiny_mount).test_client()
    script = _first_script(client)
    calls = []
    from flask_compress import flask_compress

    real = flask_compress._compress_data
    monkeypatch.setattr(flask_compress, "_compress_data", lambda *given: calls.append(1) or real(*given))
    for number in range(5):
        client.get(re.sub(r"m\d+\.", f"m{number}.", script) + f"?m={number}", headers=BROWSER)
    assert len(calls) == 1


def test_a_script_without_a_version_in_its_address_is_not_sent_twice(client):
    """A second visit asks whether it has changed, and gets no body when not, compressed or not."""
    script = re.sub(r"\.v\w+m\d+\.", ".", _first_script(client))
    first = client.get(script, headers=BROWSER)
    again = client.get(script, headers={**BROWSER, "If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert first.headers["Cache-Control"] == "private, no-cache"


@pytest.mark.parametrize("prefix", ["/", "/client/"])
def test_a_body_above_the_limit_is_refused(client, prefix):
    body = b'{"output":"' + b"x" * BODY_BYTES + b'"}'
    answer = client.post(f"{prefix}_dash-update-component", data=body, content_type="application/json")
    assert answer.status_code == 413


@pytest.mark.parametrize("prefix", ["/", "/client/"])
def test_a_fault_in_a_callback_is_told_without_its_insides(client, prefix):
    answer = _call(client, prefix, inputs=[{"id": "length", "property": "value", "value": 666}])
    assert answer.status_code == 500
    assert answer.mimetype == "text/plain"
    assert answer.text == "Something went wrong in the server; its log says more.\n"


def test_the_log_of_a_fault_holds_the_place_and_no_figure_of_the_plant(client, caplog):
    """A body, an address and an error's message can quote rates; a log is read by more people than they are."""
    with caplog.at_level(logging.INFO):
        client.post(
            "/_dash-update-component?secret=rate",
            json={**GOOD, "inputs": [{"id": "length", "property": "value", "value": 666}]},
        )
    assert "tiny_mount.py" in caplog.text
    assert "KeyError" in caplog.text
    assert not re.search(
        r"figure 4711 of|'tea'|secret=rate", caplog.text.replace('raise KeyError("figure 4711 of the plant")', "")
    )


def test_an_input_that_the_engine_refuses_is_the_callers_fault(client):
    answer = _call(client, inputs=[{"id": "length", "property": "value", "value": 13}])
    assert (answer.status_code, answer.text) == (400, "thirteen is no run length; give another\n")


def test_another_machine_gets_nothing_from_a_server_without_users(client):
    """Also when a WSGI server was bound to all addresses by mistake."""
    answer = client.get("/", environ_overrides={"REMOTE_ADDR": "192.0.2.7"})
    assert answer.status_code == 403


def test_a_page_of_another_site_that_names_this_machine_gets_nothing(client):
    """A site can let its own name point to 127.0.0.1 and then read answers as its own (DNS rebinding)."""
    assert client.get("/", headers={"Host": "site.example:8050"}).status_code == 403


@pytest.mark.parametrize("host", ["localhost", "localhost:8050", "127.0.0.1:8050", "[::1]:8050"])
def test_this_machine_may_be_called_by_any_of_its_own_names(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 200


def test_behind_a_proxy_the_server_knows_the_callers_address_and_host():
    server = make_server(Settings(), behind_proxy=True, mount=tiny_mount)
    seen = {}

    @server.before_request
    def look():
        from flask import request

        seen.update(address=request.remote_addr, url=request.url)

    forwarded = {"X-Forwarded-For": "198.51.100.1", "X-Forwarded-Proto": "https", "X-Forwarded-Host": "carton.example"}
    assert server.test_client().get("/", headers=forwarded).status_code == 200
    assert seen == {"address": "198.51.100.1", "url": "https://carton.example/"}


def test_without_a_proxy_forged_addresses_count_for_nothing(client):
    """Else any machine could claim to be this one."""
    forged = {"X-Forwarded-For": "127.0.0.1"}
    assert client.get("/", headers=forged, environ_overrides={"REMOTE_ADDR": "192.0.2.7"}).status_code == 403


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7"])  # noqa: S104 - to see it refused
def test_an_open_address_without_users_is_refused_in_one_line(host):
    with pytest.raises(
        InputError, match=r"^--host: .+ nobody would have to log in; give --users, or --behind-proxy"
    ) as caught:
        serve(Settings(), host, 0, mount=tiny_mount)
    assert "\n" not in str(caught.value)


def test_debug_on_an_open_address_is_refused_even_behind_a_proxy():
    with pytest.raises(InputError, match="--debug"):
        serve(Settings(), "0.0.0.0", 0, behind_proxy=True, debug=True, mount=tiny_mount)  # noqa: S104


@pytest.mark.parametrize("host", ["", "no such host.example"])
def test_an_address_that_is_none_is_named(host):
    with pytest.raises(InputError, match="there is no address"):
        serve(Settings(), host, 0, mount=tiny_mount)


def test_a_port_that_is_none_is_named():
    with pytest.raises(InputError, match="there is no port 70000"):
        serve(Settings(), "127.0.0.1", 70000, mount=tiny_mount)


def test_a_port_in_use_is_one_clear_line():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match=rf"^--port: port {port} is in use; .*0 takes any free one$"):
            serve(Settings(), "127.0.0.1", port, mount=tiny_mount)


def test_debug_is_off_by_default(client):
    assert client.application.debug is False
    assert '"ui":false' in client.get("/").text


RUN = """
import sys
from tiny_mount import tiny_mount
from dashboard.server import serve
from dashboard.settings import Settings
serve(Settings(), sys.argv[1], 0, mount=tiny_mount, debug=sys.argv[2] == "debug")
"""


@pytest.fixture
def running(request):
    """Start a server in a process of its own, and read the address that it prints."""
    arguments = getattr(request, "param", ("127.0.0.1", "plain"))
    with subprocess.Popen(
        [sys.executable, "-c", RUN, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parent,
    ) as process:
        line = process.stdout.readline()
        try:
            yield process, line
        finally:
            process.kill()


def _fetch(address):
    with urllib.request.urlopen(address, timeout=30) as answer:  # noqa: S310 - http on this machine
        return answer.status, answer.headers


@pytest.mark.skipif(sys.platform == "win32", reason="signals go another way there")
@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_the_server_says_where_it_listens_answers_there_and_ends_quietly(running, stop):
    process, line = running
    address = re.fullmatch(r"Evenrun is on (http://127\.0\.0\.1:\d+)\n", line).group(1)
    status, headers = _fetch(f"{address}/health")
    assert status == 200
    assert "Server" not in headers
    process.send_signal(stop)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out, err) == (0, "", "")


@pytest.mark.parametrize("running", [("127.0.0.1", "debug")], indirect=True)
def test_debug_shows_the_developer_panel_when_asked_for(running):
    _, line = running
    with urllib.request.urlopen(line.split()[-1], timeout=30) as answer:  # noqa: S310
        assert '"ui":true' in answer.read().decode()


def _wsgi(monkeypatch, **variables):
    for name in ("EVENRUN_PLANT", "EVENRUN_USERS", "EVENRUN_BEHIND_PROXY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("EVENRUN_SECRET_KEY", "s" * 40)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(
        server_module, "make_server", lambda *given, **named: make_server(*given, **{**named, "mount": tiny_mount})
    )
    sys.modules.pop("dashboard.wsgi", None)
    return importlib.import_module("dashboard.wsgi").app


def test_the_wsgi_application_takes_its_settings_from_the_environment(monkeypatch):
    app = _wsgi(monkeypatch, EVENRUN_BEHIND_PROXY="1")
    assert app.config["SESSION_COOKIE_SECURE"] is True
    assert app.test_client().get("/health").status_code == 200


def test_the_wsgi_application_without_users_answers_this_machine_only(monkeypatch):
    app = _wsgi(monkeypatch)
    assert app.test_client().get("/", environ_overrides={"REMOTE_ADDR": "192.0.2.7"}).status_code == 403


def test_a_variable_that_is_neither_yes_nor_no_is_refused(monkeypatch):
    """A typing slip must not decide what is believed of a request."""
    with pytest.raises(InputError, match="EVENRUN_BEHIND_PROXY: it is 'yes please'; set it to 1 or 0"):
        _wsgi(monkeypatch, EVENRUN_BEHIND_PROXY="yes please")
