"""Uploaded drawings: kept under a secret name, within limits, and never a way to another file."""

from __future__ import annotations

import base64
import os
import time

import pytest

from compare.data_files import data_folder
from compare.errors import EvenrunError
from dashboard import shelf, uploads

DXF = data_folder() / "demo" / "drawings" / "window_carton.dxf"


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    """No test sees the drawings of another, or of a person."""
    monkeypatch.setattr(shelf.tempfile, "gettempdir", lambda: str(tmp_path))
    uploads.drawing_of.cache_clear()


def _sent(raw: bytes) -> str:
    return "data:application/octet-stream;base64," + base64.b64encode(raw).decode()


def test_a_drawing_is_found_again_by_its_secret_name():
    token = uploads.keep(_sent(DXF.read_bytes()), "tea.dxf")
    name, drawing = uploads.drawing_of(token, None)
    assert (name, drawing.unit) == ("tea.dxf", "mm")


def test_two_uploads_of_one_file_have_names_that_do_not_tell_of_one_another():
    first, second = (uploads.keep(_sent(b"x"), "a.dxf") for _ in range(2))
    assert first != second
    assert len(first) == 22


@pytest.mark.parametrize("token", ["../../etc", "", "x" * 22, "a/b" * 8, "." * 22])
def test_a_name_that_was_never_given_finds_nothing(token):
    with pytest.raises(EvenrunError, match="no longer kept; upload it again"):
        uploads.drawing_of(token, None)


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("tea.dxf", "tea.dxf"),
        ("../../../etc/passwd", "passwd.drawing"),
        ("C:\\work\\Karton 3.DXF", "Karton 3.DXF"),
        ("..", "drawing.drawing"),
        ("a\0b\nc.dxf", "a_b_c.dxf"),
        ("Öl (2).svg", "Öl (2).svg"),
    ],
)
def test_a_file_keeps_what_it_was_called_and_can_leave_no_folder(said, kept):
    token = uploads.keep(_sent(b"x"), said)
    (file,) = (uploads._folder() / token).iterdir()
    assert file.name == kept


@pytest.mark.parametrize("sent", [None, 7, "", "data:,%%%", "no comma", "data:x;base64,=", ["a"]])
def test_what_no_browser_sends_is_refused_in_one_line(sent):
    if sent in ("", "no comma"):  # nothing after the comma is an empty file, which the reader refuses
        token = uploads.keep(sent, "a.dxf")
        with pytest.raises(EvenrunError, match="empty"):
            uploads.drawing_of(token, None)
        return
    with pytest.raises(EvenrunError) as caught:
        uploads.keep(sent, "a.dxf")
    assert "\n" not in str(caught.value)


def test_a_file_over_the_limit_is_refused_with_the_limit():
    with pytest.raises(EvenrunError, match="over 5 MB"):
        uploads.keep(_sent(b"x" * (uploads.UPLOAD_BYTES + 1000)), "a.dxf")


def test_a_file_at_the_limit_is_taken():
    assert uploads.keep(_sent(b"x" * uploads.UPLOAD_BYTES), "a.dxf")


def test_old_drawings_are_let_go():
    old = uploads.keep(_sent(b"x"), "old.dxf")
    long_ago = time.time() - 2 * 86_400
    os.utime(uploads._folder() / old, (long_ago, long_ago))
    uploads.keep(_sent(b"x"), "new.dxf")
    assert [len(list(folder.iterdir())) for folder in uploads._folder().iterdir()] == [1]
    assert not (uploads._folder() / old).exists()


def test_no_more_than_two_hundred_are_kept(monkeypatch):
    monkeypatch.setattr(uploads, "_KEPT", 5)
    for number in range(9):
        uploads.keep(_sent(b"x"), f"{number}.dxf")
    assert len(list(uploads._folder().iterdir())) == 5


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="no rights of files here")
def test_nobody_else_may_look_into_the_folder():
    uploads.keep(_sent(b"x"), "a.dxf")
    assert uploads._folder().stat().st_mode & 0o077 == 0
