"""Every drawing that ships with ezdxf opens without an unhandled error.

Source: the source distribution of ezdxf (MIT), published; its folder ``integration_tests/data`` holds
drawings of many programs, some of them broken on purpose. They are not part of this project: the
variable ``EVENRUN_EZDXF_SOURCE`` names the archive, ``.ci/run`` fetches it where there is a network.
By hand::

    pip download --no-deps --no-binary ezdxf ezdxf
    EVENRUN_EZDXF_SOURCE=$(ls ezdxf-*.tar.gz) pytest tests/outside/test_drawing_library_files.py
"""

from __future__ import annotations

import os
import tarfile
import zipfile
from pathlib import Path

import numpy as np
import pytest

from compare.errors import EvenrunError
from compare.readers.drawing import read_drawing_here
from compare.readers.drawn_carton import drawn_carton

SOURCE = os.environ.get("EVENRUN_EZDXF_SOURCE", "")

pytestmark = pytest.mark.skipif(
    not SOURCE, reason="EVENRUN_EZDXF_SOURCE does not name the source distribution of ezdxf; see the docstring"
)

LEAST = 38
"""So many drawings, two of them in an archive, are in the distribution of version 1.4.5; fewer would mean that they were not found."""


@pytest.fixture(scope="module")
def drawings(tmp_path_factory) -> list[Path]:
    """Unpack every DXF of the archive, those in archives within it as well."""
    folder = tmp_path_factory.mktemp("library")
    with tarfile.open(SOURCE) as archive:
        archive.extractall(folder, filter="data")
    for packed in folder.rglob("*.zip"):
        with zipfile.ZipFile(packed) as archive:
            for member in archive.namelist():
                if member.lower().endswith(".dxf"):
                    (folder / Path(member).name).write_bytes(archive.read(member))
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() == ".dxf")


def test_every_drawing_of_the_library_opens(drawings):
    """Those broken on purpose too: none of them has to be refused, and any error that is not our own fails the test."""
    assert len(drawings) >= LEAST
    refused = {}
    for path in drawings:
        try:
            drawing = read_drawing_here(path, unit="mm")
        except EvenrunError as error:
            refused[path.name] = str(error)
        else:
            assert np.isfinite(drawing.strokes.lengths()).all(), path.name
    assert refused == {}


def test_every_drawing_of_the_library_can_be_measured(drawings):
    """Lines that nobody has mapped are measured too."""
    for path in drawings:
        measured = drawn_carton(read_drawing_here(path, unit="mm"), path.name).measured
        assert 0 <= measured.length_mm <= measured.drawn_mm * (1 + 1e-9)
