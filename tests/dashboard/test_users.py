"""The users file: what goes in, who gets through, what happens when it changes or breaks."""

from __future__ import annotations

import json
import os
import stat

import pytest
from argon2 import PasswordHasher

from compare.errors import FileError, InputError
from dashboard.users import LEAST_PASSWORD, Users, plain_name

QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""So that tests do not wait for what makes guessing slow."""

PASSWORD = " ".join(("four", "plain", "short", "words"))


@pytest.fixture
def path(tmp_path):
    return tmp_path / "sub" / "users.json"


@pytest.fixture
def users(path):
    users = Users(path, hasher=QUICK)
    users.add("Anna", PASSWORD)
    return users


def test_the_right_password_gets_through_and_a_wrong_one_does_not(users):
    assert users.verify("anna", PASSWORD) == "anna"
    assert users.verify("anna", PASSWORD + "x") is None


def test_the_file_holds_no_password(users, path):
    assert PASSWORD not in path.read_text()


def test_passwords_are_hashed_with_argon2id_at_no_less_than_the_second_choice_of_rfc_9106(path):
    """RFC 9106, section 4 (published): argon2id with t=3, p=4, m=64 MiB where memory is scarce."""
    Users(path).add("anna", PASSWORD)
    assert json.loads(path.read_text())["users"]["anna"].startswith("$argon2id$v=19$m=65536,t=3,p=4$")


@pytest.mark.skipif(os.name != "posix", reason="no such modes there")
def test_the_file_is_its_owners_alone_whatever_the_umask(path):
    before = os.umask(0)
    try:
        Users(path, hasher=QUICK).add("anna", PASSWORD)
    finally:
        os.umask(before)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.skipif(os.name != "posix", reason="no such modes there")
def test_a_file_that_others_can_read_is_refused_with_the_remedy(users, path):
    path.chmod(0o640)
    with pytest.raises(FileError, match="other accounts can reach the users file; run: chmod 600"):
        Users.load(path)


def test_no_draft_of_the_file_is_left_behind(users, path):
    users.add("bert", PASSWORD)
    assert [one.name for one in path.parent.iterdir()] == ["users.json"]


def test_a_write_that_fails_leaves_the_old_file_whole(users, path, monkeypatch):
    before = path.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(FileError, match="No space left on device"):
        users.add("bert", PASSWORD)
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == ["users.json"]


@pytest.mark.parametrize("password", ["", "x", "abcdefghijk", "a" * 40, "ababababababab", "x1y2z3" * 200])
def test_a_password_too_short_too_long_or_too_plain_is_refused(users, password):
    with pytest.raises(InputError, match="the password"):
        users.add("bert", password)


def test_a_password_of_just_the_least_length_is_taken(users):
    password = "abcdefghijklmnop"[:LEAST_PASSWORD]
    users.add("bert", password)
    assert users.verify("bert", password) == "bert"


def test_a_password_that_is_the_name_is_refused(users):
    with pytest.raises(InputError, match="too easy to guess"):
        users.add("longish.name@carton", "Longish.Name@carton")


@pytest.mark.parametrize("name", ["", " ", "a b", "-a", ".a", "a" * 65, "a\n", "a:b", "<b>", "a/b"])
def test_what_can_not_be_a_name_is_refused(users, name):
    if name == "a\n":
        assert plain_name(name) == "a"  # white space around a name is no part of it
        return
    with pytest.raises(InputError, match="can't be a name"):
        users.add(name, PASSWORD)


def test_a_name_is_the_same_however_it_is_typed(users):
    """Else two people could be told apart by a capital, and each spelling would have its own count of failures."""
    assert users.verify(" ANNA ", PASSWORD) == "anna"
    with pytest.raises(InputError, match="there is a user 'anna' already"):
        users.add("aNNa", PASSWORD)


def test_an_accent_counts_the_same_however_the_keyboard_composes_it(users):
    users.add("bert", "pass\u00e9 compos\u00e9 words")
    assert users.verify("bert", "passe\u0301 compose\u0301 words") == "bert"


def test_a_password_is_changed_only_when_asked_for(users):
    users.add("anna", PASSWORD + " new", replace=True)
    assert users.verify("anna", PASSWORD) is None
    assert users.verify("anna", PASSWORD + " new") == "anna"


def test_a_changed_password_changes_the_mark_of_sessions(users):
    before = users.mark("anna")
    users.add("anna", PASSWORD, replace=True)
    assert users.mark("anna") not in (None, before)


def test_a_removed_user_is_out_and_the_others_stay(users):
    users.add("bert", PASSWORD)
    users.remove("Anna")
    assert users.names() == ["bert"]
    assert users.verify("anna", PASSWORD) is None
    assert users.mark("anna") is None


def test_removing_nobody_names_who_there_is(users):
    with pytest.raises(InputError, match="there is no user 'carl'; there is: anna"):
        users.remove("carl")


def test_an_unknown_name_costs_the_same_work_as_a_known_one(users, monkeypatch):
    """The work, not the time, is compared: both names lead to one check of a hash of equal parameters."""
    checked = []
    monkeypatch.setattr(PasswordHasher, "verify", lambda _, hashed, password: checked.append(hashed) or False)
    users.verify("anna", "wrong")
    users.verify("nobody", "wrong")
    users.verify("no name at all", "wrong")
    known, *others = (hashed.rsplit("$", 2)[0] for hashed in checked)
    assert others == [known, known]


def test_nobody_gets_in_by_the_decoy(users):
    """Unknown names are checked against a hash; whoever fits that is still unknown."""
    users._decoy = QUICK.hash("x")
    assert users.verify("nobody", "x") is None


def test_an_endless_password_is_wrong(users, path):
    assert users.verify("anna", PASSWORD + "x" * 1_000_000) is None


def test_a_running_server_sees_a_user_added_by_another_process(users, path):
    Users(path, hasher=QUICK).add("bert", PASSWORD)
    assert users.verify("bert", PASSWORD) == "bert"


@pytest.mark.parametrize(
    "broken",
    ["", "{", "[]", '{"form": "else", "users": {}}', '{"form": "evenrun users 1", "users": {"anna": "plain"}}'],
)
def test_nobody_gets_in_while_the_file_is_broken_and_the_log_says_so(users, path, caplog, broken):
    assert users.names() == ["anna"]
    path.write_text(broken)
    assert users.verify("anna", PASSWORD) is None
    assert "nobody can log in" in caplog.text


def test_nobody_gets_in_when_the_file_is_gone(users, path):
    path.unlink()
    assert users.verify("anna", PASSWORD) is None


def test_a_missing_file_comes_with_the_command_that_makes_it(path):
    with pytest.raises(FileError, match="there is no such users file; make it: evenrun users add NAME --file"):
        Users.load(path)


def test_a_file_without_users_is_refused(users, path):
    """A server that nobody can log in to is no help; one that lets everybody in would be worse."""
    users.remove("anna")
    with pytest.raises(InputError, match="the file has no user"):
        Users.load(path)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("not json", "this is no users file"),
        ("[" * 5000, "this is no users file"),
        ('{"form": "evenrun users 2", "users": {}}', "this is no users file"),
        ('{"form": "evenrun users 1", "users": {"A B": "$argon2id$x"}}', "can't be a name"),
        ('{"form": "evenrun users 1", "users": {"a": "$2b$12$x"}}', "no argon2id hash"),
        ('{"form": "evenrun users 1", "users": {"a": "$argon2id$x"}}', "a password hash is damaged"),
    ],
)
def test_a_file_that_is_no_users_file_is_refused(path, content, said):
    path.parent.mkdir()
    path.touch(mode=0o600)
    path.write_text(content)
    with pytest.raises(InputError, match=said):
        Users.load(path)
