"""The server's secret and the sealed links made with it."""

from __future__ import annotations

import base64
import os
import stat
import threading
import zlib
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.errors import FileError, InputError
from dashboard.secret import ENVIRONMENT, SEALED_BYTES, derived_key, seal, server_secret, unseal, write_private
from dashboard.settings import Settings

SECRET = b"s" * 32


@pytest.fixture(autouse=True)
def _no_variable(monkeypatch):
    monkeypatch.delenv(ENVIRONMENT, raising=False)


def test_the_secret_is_made_once_and_stays(tmp_path):
    path = tmp_path / "state" / "secret.key"
    first = server_secret(path)
    assert len(first) == 32
    assert server_secret(path) == first


@pytest.mark.skipif(os.name != "posix", reason="no such modes there")
def test_the_secret_is_its_owners_alone(tmp_path):
    path = tmp_path / "secret.key"
    server_secret(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.skipif(os.name != "posix", reason="no such modes there")
def test_a_secret_that_others_can_read_is_none(tmp_path):
    path = tmp_path / "secret.key"
    server_secret(path)
    path.chmod(0o644)
    with pytest.raises(FileError, match="other accounts can reach the secret file; run: chmod 600"):
        server_secret(path)


def test_workers_that_start_at_once_agree_on_the_secret(tmp_path):
    """Else each would refuse the sessions and links of the other."""
    path, together = tmp_path / "secret.key", threading.Barrier(8)

    def start(_):
        together.wait()
        return server_secret(path)

    with ThreadPoolExecutor(8) as pool:
        assert len(set(pool.map(start, range(8)))) == 1


def test_the_slower_of_two_that_found_no_file_takes_the_others_secret(tmp_path, monkeypatch):
    """The race decided: between looking and writing, another process writes."""
    path = tmp_path / "secret.key"
    monkeypatch.setattr(
        "dashboard.secret._make",
        lambda _: (write_private(path, "ab" * 32, replace=False), write_private(path, "cd" * 32, replace=False)),
    )
    assert server_secret(path) == b"\xab" * 32
    assert [one.name for one in tmp_path.iterdir()] == ["secret.key"]


@pytest.mark.parametrize("content", ["", "abc", "zz" * 32, "ab" * 31, "é"])
def test_a_file_that_is_no_secret_is_refused_with_the_price_of_a_new_one(tmp_path, content):
    path = tmp_path / "secret.key"
    write_private(path, content, replace=True)
    with pytest.raises(FileError, match="this is no secret of a server; delete the file; all links and sessions end"):
        server_secret(path)


def test_a_secret_that_can_not_be_kept_is_an_error_with_a_way_out(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(FileError, match=f"or set {ENVIRONMENT}"):
        server_secret(tmp_path / "file" / "secret.key")


def test_the_variable_goes_before_the_file(tmp_path, monkeypatch):
    monkeypatch.setenv(ENVIRONMENT, "x" * 32)
    assert server_secret(tmp_path / "secret.key") == b"x" * 32
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("short", ["", "x" * 31])
def test_a_short_variable_is_refused(monkeypatch, short):
    monkeypatch.setenv(ENVIRONMENT, short)
    with pytest.raises(InputError, match="fewer than 32 characters"):
        server_secret()


def test_settings_do_not_show_their_secret():
    """They appear in messages and logs; the secret must not."""
    assert "SECRET" not in repr(Settings(secret=b"SECRET" * 6))


def test_each_purpose_has_a_key_of_its_own():
    assert derived_key(SECRET, "cookies") != derived_key(SECRET, "client link")


def test_a_short_secret_seals_nothing():
    with pytest.raises(InputError, match="too short"):
        seal({}, b"short")


plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=10,
)


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.text(), plain, max_size=5))
def test_what_was_sealed_comes_back(data):
    assert unseal(seal(data, SECRET), SECRET) == data


def test_a_token_needs_no_escaping_in_an_address():
    assert seal({"job": "tea, 5 × 10"}, SECRET).replace("-", "a").replace("_", "a").isalnum()


def test_a_token_tells_nothing_of_its_content():
    token = seal({"rate": "4711 an hour"}, SECRET)
    packed = base64.urlsafe_b64decode(token + "=" * (-len(token) % 4))
    assert b"4711" not in packed
    assert zlib.compress(b'{"rate":"4711 an hour"}', 9) not in packed


def test_every_changed_character_breaks_a_token():
    token = seal({"job": 1}, SECRET)
    accepted = []
    for place in range(len(token) - 1):  # of the last one, some bits are padding
        other = token[:place] + ("A" if token[place] != "A" else "B") + token[place + 1 :]
        try:
            accepted.append(unseal(other, SECRET))
        except InputError:
            continue
    assert not accepted


@pytest.mark.parametrize(
    "token",
    [
        "",
        "x",
        "é",
        "a b",
        "a\n",
        "=" * 10,
        "../../etc",
        "A" * 100,
        "A" * 8193,
        "A" * 10_000_000,
        seal({"a": 1}, b"o" * 32),
    ],
    ids=lambda token: f"{token[:8]!r} of {len(token)}",
)
def test_a_token_made_elsewhere_is_refused_without_saying_why(token):
    with pytest.raises(InputError, match=r"^this link is damaged or from another server; ask for a new link$"):
        unseal(token, SECRET)


def test_content_above_the_cap_is_refused_when_sealing():
    with pytest.raises(InputError, match=f"{SEALED_BYTES} are the limit"):
        seal({"a": "x" * SEALED_BYTES}, SECRET)


def test_content_at_the_cap_comes_back():
    data = {"a": os.urandom(SEALED_BYTES // 2 - 4).hex()}
    assert len(data["a"]) + len('{"a":""}') == SEALED_BYTES
    assert unseal(seal(data, SECRET), SECRET) == data


def test_a_token_that_would_unpack_to_more_than_the_cap_is_refused():
    """Made with the right key, as no server makes it: unpacking stops at the cap."""
    from cryptography.fernet import Fernet

    key = base64.urlsafe_b64encode(derived_key(SECRET, "client link"))
    bomb = Fernet(key).encrypt(zlib.compress(b'{"a":"' + b"x" * 5_000_000 + b'"}', 9)).decode().rstrip("=")
    assert len(bomb) < 8192
    with pytest.raises(InputError, match="damaged"):
        unseal(bomb, SECRET)


@pytest.mark.parametrize("data", [{"a": float("nan")}, {"a": object()}, {"a": {1, 2}}, {("a",): 1}])
def test_what_json_can_not_hold_is_refused(data):
    with pytest.raises(InputError, match="can't be put into a link"):
        seal(data, SECRET)
