"""Where the data files are, in a checkout and in an installed wheel alike."""

from __future__ import annotations

import pytest

from compare import data_files
from compare.errors import FileError


@pytest.fixture
def package(tmp_path, monkeypatch):
    """A copy of the package's place in the world, without any data."""
    folder = tmp_path / "site" / "compare"
    folder.mkdir(parents=True)
    monkeypatch.setattr(data_files, "__file__", str(folder / "data_files.py"))
    return folder


def _find():
    return data_files.data_folder.__wrapped__()


def test_a_wheel_has_its_data_inside_the_package(package):
    for folder in (package / "data", package.parent / "data"):
        folder.mkdir()
        (folder / "assumptions.csv").touch()
    assert _find() == package / "data"


def test_a_checkout_has_its_data_beside_the_package(package):
    (package.parent / "data").mkdir()
    (package.parent / "data" / "assumptions.csv").touch()
    assert _find() == package.parent / "data"


def test_a_folder_called_data_is_not_enough(package):
    """Any project may have a folder of this name beside the package."""
    (package.parent / "data").mkdir()
    with pytest.raises(FileError, match="the data files are missing"):
        _find()


def test_the_digest_changes_with_any_table(tmp_path, monkeypatch):
    """Two records with one digest rest on the same tables."""
    for name in data_files.TABLES:
        (tmp_path / name).write_text(name)
    monkeypatch.setattr(data_files, "data_folder", lambda: tmp_path)
    digests = {data_files.data_digest.__wrapped__()}
    for name in data_files.TABLES:
        (tmp_path / name).write_text("changed")
        digests.add(data_files.data_digest.__wrapped__())
    assert len(digests) == 1 + len(data_files.TABLES)


def test_the_digest_has_twelve_hexadecimal_digits():
    assert len(data_files.data_digest()) == 12
    assert int(data_files.data_digest(), 16) >= 0


def test_a_table_is_read_row_by_row():
    assert data_files.read_table("boards.csv")[0]["grade"] == "kraft_250"
