"""The wheel: installed anywhere, it runs with its own data and needs no checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
DATA = (
    "assumptions.csv",
    "boards.csv",
    "factors.csv",
    "factor_sets.toml",
    "plants/northfold.toml",
    "demo/soap_sleeve.toml",
)


def _run(*command: object, cwd: Path, env: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        list(map(str, command)),
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=180,
        check=False,
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel once, with the build backend of this environment: no network."""
    folder = tmp_path_factory.mktemp("wheel")
    command = (sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT)
    done = _run(*command, cwd=folder)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def site(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Unpack the wheel into a folder of its own, as an installer does with a pure one."""
    folder = tmp_path_factory.mktemp("site")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


@pytest.fixture
def installed(site, tmp_path):
    """Run a line of Python with the wheel in front of everything, from a folder that has nothing to do with it.

    The libraries come from this environment. ``-P`` and ``-S`` keep the current folder and the editable install of the
    checkout off the path; the folders of the libraries are named one by one.
    """
    libraries = [path for path in sys.path if path.endswith(("site-packages", "dist-packages"))]
    path = os.pathsep.join([str(site), *libraries])
    env = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        done = _run(sys.executable, "-P", "-S", *arguments, cwd=tmp_path, env={**env, "PYTHONPATH": path})
        assert str(ROOT) not in done.stdout + done.stderr
        return done

    return run


def _names(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


@pytest.mark.parametrize("name", DATA)
def test_the_wheel_carries_its_data(wheel, name):
    assert f"compare/data/{name}" in _names(wheel)


def test_the_wheel_carries_every_data_file_of_the_checkout(wheel):
    files = {
        f"compare/data/{path.relative_to(ROOT / 'data').as_posix()}"
        for path in (ROOT / "data").rglob("*")
        if path.is_file()
    }
    assert files - _names(wheel) == set()


def test_the_wheel_carries_every_module(wheel):
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "compare").rglob("*.py")}
    assert modules - _names(wheel) == set()


def test_the_wheel_carries_no_tests(wheel):
    """They would be installed beside the user's own."""
    assert [name for name in _names(wheel) if name.startswith("tests/")] == []


def test_the_installed_program_is_the_one_of_the_wheel(installed, site):
    done = installed("-c", "import compare.cli; print(compare.cli.__file__)")
    assert done.stdout.strip() == str(site / "compare" / "cli.py")


def test_the_installed_program_finds_its_data_inside_the_wheel(installed, site):
    done = installed("-c", "from compare.data_files import data_folder; print(data_folder())")
    assert done.stdout.strip() == str(site / "compare" / "data")


def test_the_installed_program_runs_the_demo_from_anywhere(installed):
    done = installed("-m", "compare.cli", "demo", "--no-serve")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Northfold Cartons: plant, prices and jobs are invented." in done.stdout


def test_the_command_that_the_installed_demo_names_works(installed):
    """It names files inside the wheel, for who has no checkout."""
    line = next(
        line
        for line in installed("-m", "compare.cli", "demo", "--no-serve").stdout.splitlines()
        if "evenrun compare" in line
    )
    done = installed("-m", "compare.cli", *line.partition("evenrun ")[2].split())
    assert (done.returncode, done.stderr) == (0, "")


def test_the_installed_program_knows_its_version(installed):
    done = installed("-c", "from compare.present.record import program_version; print(program_version())")
    assert (
        done.stdout.strip()
        == tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    )


def test_the_wheel_names_the_command_evenrun(wheel):
    with zipfile.ZipFile(wheel) as archive:
        (entry,) = (name for name in archive.namelist() if name.endswith(".dist-info/entry_points.txt"))
        assert "evenrun = compare.cli:main" in archive.read(entry).decode()
