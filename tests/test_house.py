"""The rules of the house that can be read off its files."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
ENGINE = sorted(
    path
    for path in (ROOT / "compare").rglob("*.py")
    if path.relative_to(ROOT / "compare").parts[0] not in ("present", "cli.py", "cli_parts.py", "cli_quotes.py")
)
PRESENTATION = {"dash", "plotly", "matplotlib", "rich", "typer", "click", "flask"}
TOP = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", ".gitignore", ".ci", "compare", "dashboard", "tests",
    "data", "docs",
}  # fmt: skip


def _ids(paths: list[Path]) -> list[str]:
    return [path.relative_to(ROOT).as_posix() for path in paths]


@pytest.fixture(scope="session")
def kept() -> list[Path]:
    """Files under version control; what lies beside them is nobody's business."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("not a checkout with git")
    done = subprocess.run([git, "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True)
    return [path for name in done.stdout.decode().split("\0") if name and (path := ROOT / name).is_file()]


def _imports(path: Path) -> Iterator[str]:
    """Every module that a file imports, anywhere in it, those for type checkers too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


# -- rooms ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ENGINE, ids=_ids(ENGINE))
def test_the_engine_imports_no_web_no_charts_and_no_terminal(path):
    """Figures must be there for any screen, and on a server without one."""
    assert {name.split(".")[0] for name in _imports(path)} & PRESENTATION == set()


@pytest.mark.parametrize("path", ENGINE, ids=_ids(ENGINE))
def test_the_engine_imports_nothing_from_above(path):
    above = ("compare.present", "compare.cli", "dashboard")
    assert [name for name in _imports(path) if name.startswith(above)] == []


def test_importing_the_engine_loads_no_web_and_no_charts():
    """What a file does not name it may still load through another."""
    names = "compare.decide.comparison, compare.scenario, compare.readers.jobfile, sys"
    code = f"import {names}; print(sorted({PRESENTATION!r} & {{m.split('.')[0] for m in sys.modules}}))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True, cwd=ROOT
    )
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("path", ENGINE, ids=_ids(ENGINE))
def test_a_module_of_the_engine_can_be_read_in_one_sitting(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 450


@pytest.mark.parametrize("path", ENGINE, ids=_ids(ENGINE))
def test_every_public_function_of_the_engine_says_what_it_is(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    public = [
        node
        for node in ast.walk(tree)
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_")
    ]
    nested = {
        id(inner)
        for outer in public
        for inner in ast.walk(outer)
        if inner is not outer and isinstance(outer, ast.FunctionDef)
    }
    inside = {
        id(n) for c in ast.walk(tree) if isinstance(c, ast.ClassDef) and c.name.startswith("_") for n in ast.walk(c)
    }
    silent = [n.name for n in public if id(n) not in nested | inside and not ast.get_docstring(n)]
    assert [name for name in silent if not _is_inner(tree, name)] == []


def _is_inner(tree: ast.Module, name: str) -> bool:
    """Whether a function stands inside a private one, where it needs no docstring."""
    return any(
        isinstance(inner, ast.FunctionDef) and inner.name == name
        for outer in ast.walk(tree)
        if isinstance(outer, ast.FunctionDef)
        for inner in ast.walk(outer)
        if inner is not outer
    )


# -- numbers ----------------------------------------------------------------------------------------------------------

# what is no input but arithmetic: identities, unit turns, sides of a rule, noise below which two numbers are one
ARITHMETIC = {0, 1, 2, 1000, 1e-3, 1e-6, 3600, 1e-12, 1e-9, 1e15}


@pytest.mark.parametrize("room", ["routes", "valuation"])
def test_no_number_that_could_differ_by_plant_hides_in_the_code(room):
    """A default is a row of the assumptions, with unit, range and source; not a literal in a formula."""
    found = [
        f"{path.name}:{node.lineno}: {node.value}"
        for path in sorted((ROOT / "compare" / room).glob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.value not in ARITHMETIC
    ]
    assert found == []


# -- files ------------------------------------------------------------------------------------------------------------


def test_the_top_of_the_repository_holds_what_it_should_and_nothing_else(kept):
    assert {path.relative_to(ROOT).parts[0] for path in kept} - TOP == set()


def test_no_file_names_a_place_of_a_machine(kept):
    """What works on one machine only, or tells where it was written, has no place in the project."""
    here = {
        f"{place}/"
        for place in (str(ROOT), str(ROOT.parent), str(Path.home()), tempfile.gettempdir())
        if len(place) > 1
    }
    anybody = (r"/(?:home|Users)/\w+/", r"/root/", r"[A-Z]:\\Users\\")
    places = re.compile(r"(?<![\w./~-])(" + "|".join([*map(re.escape, sorted(here)), *anybody]) + ")")
    found = []
    for path in kept:
        text = path.read_text(encoding="utf-8", errors="replace")
        if path != Path(__file__) and places.search(text):
            found.append(path.relative_to(ROOT).as_posix())
    assert found == []


def test_every_text_file_is_utf_8_and_ends_in_one_line_break(kept):
    endings = {".py", ".md", ".toml", ".csv"}
    texts = {path: path.read_bytes() for path in kept if path.suffix in endings and path.stat().st_size}
    assert [path.name for path, raw in texts.items() if not raw.endswith(b"\n") or raw.endswith(b"\n\n")] == []
    assert [path.name for path, raw in texts.items() if raw.decode("utf-8").startswith("\ufeff")] == []


def test_test_files_of_one_name_do_not_hide_one_another(kept):
    """Without packages pytest takes two files of one name for the same module."""
    loose = [path.name for path in kept if path.name.startswith("test_") and not (path.parent / "__init__.py").exists()]
    assert sorted(loose) == sorted(set(loose))


# -- public names -----------------------------------------------------------------------------------------------------


def test_every_public_name_can_be_had():
    import compare

    assert [name for name in compare.__all__ if not hasattr(compare, name)] == []


def test_an_unknown_public_name_is_an_attribute_error():
    import compare

    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        compare.nothing  # noqa: B018
