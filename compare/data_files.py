"""Where the data files are, in a checkout and in an installed wheel alike."""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path

from compare.errors import FileError

TABLES = (
    "assumptions.csv",
    "boards.csv",
    "factors.csv",
    "factor_sets.toml",
    "processing_steps.csv",
    "cut_type_codes.csv",
)
"""Data files that figures come from."""


@lru_cache(maxsize=1)
def data_folder() -> Path:
    """Return the folder of the data files.

    A wheel carries them inside the package; a checkout (or an editable install) has them beside it.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "data", package.parent / "data"):
        if (folder / "assumptions.csv").is_file():
            return folder
    raise FileError("the data files are missing", where=str(package), remedy="install evenrun again")


def read_table(name: str) -> list[dict[str, str]]:
    """Read a CSV data file into one dictionary of texts per row."""
    with (data_folder() / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@lru_cache(maxsize=1)
def data_digest() -> str:
    """Return a digest of every table a figure can come from (12 hexadecimal digits)."""
    import hashlib  # loads a cryptography library, which only records need

    digest = hashlib.sha256()
    for name in TABLES:
        digest.update((data_folder() / name).read_bytes())
    return digest.hexdigest()[:12]
