"""What was embedded in a PDF comes out whole; what is no such PDF is told in a line."""

from __future__ import annotations

import pikepdf
import pytest

from compare.errors import FileError
from compare.readers.pdf_attachment import read_attached


def written(path, attachments, *, password=""):
    pdf = pikepdf.new()
    pdf.add_blank_page()
    for name, content in attachments.items():
        pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, content, filename=name)
    pdf.save(path, encryption=pikepdf.Encryption(owner=password, user=password) if password else False)
    return path


def test_the_bytes_come_out_as_they_went_in(tmp_path):
    content = bytes(range(256)) * 100
    assert read_attached(written(tmp_path / "a.pdf", {"q.json": content, "other": b""}), "q.json") == content


@pytest.mark.parametrize(
    ("attachments", "password", "words"),
    [
        ({}, "", "has no quote of ours"),
        ({"other.json": b"{}"}, "", "has no quote of ours"),
        ({"q.json": b"{}"}, "secret", "has a password"),
        ({"q.json": b"0" * 4_000_001}, "", "too large to be one of ours"),
    ],
)
def test_a_pdf_without_our_file_is_told(tmp_path, attachments, password, words):
    with pytest.raises(FileError, match=words):
        read_attached(written(tmp_path / "a.pdf", attachments, password=password), "q.json")


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7\nbroken", b"PK\x03\x04", b"{}"])
def test_what_is_no_pdf_is_told(tmp_path, content):
    path = tmp_path / "a.pdf"
    path.write_bytes(content)
    with pytest.raises(FileError, match="no PDF that can be read"):
        read_attached(path, "q.json")


def test_a_stream_that_unpacks_to_hundreds_of_megabytes_runs_into_the_wall(tmp_path):
    """A client's file is anybody's file."""
    path = written(tmp_path / "bomb.pdf", {"q.json": b"\0" * 300_000_000})
    assert path.stat().st_size < 5_000_000
    with pytest.raises(FileError):
        read_attached(path, "q.json")


def test_a_folder_and_a_missing_file_are_told(tmp_path):
    with pytest.raises(FileError, match="this is a folder"):
        read_attached(tmp_path, "q.json")
    with pytest.raises(FileError, match="can't be read"):
        read_attached(tmp_path / "missing.pdf", "q.json")
