"""Does the tree keep its shape: top level, sizes, docstrings, and one test command everywhere?"""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("schedules", "notifications", "fleet", "demo_data", "tests")
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "fleet",
    "schedules",
    "notifications",
    "demo_data",
    "tests",
}
MODULE_LINES, FUNCTION_LINES = 400, 40
VAGUE_NAMES = {"utils", "helpers", "common", "manager", "base"}


def modules() -> list[Path]:
    return [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]


def is_code(path: Path) -> bool:
    return bool(path.read_text(encoding="utf-8").strip())


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_is_short_and_says_what_it_answers(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert path.stem not in VAGUE_NAMES, "a module's name says what it answers"
    assert len(text.splitlines()) <= MODULE_LINES
    if is_code(path):
        assert ast.get_docstring(ast.parse(text)), "a module opens with a sentence"


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_a_function_fits_on_a_screen(path: Path) -> None:
    long = {
        node.name: lines
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        if (lines := _lines_without_docstring(node)) > FUNCTION_LINES
    }
    assert long == {}


def _lines_without_docstring(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    docstring = ast.get_docstring(node, clean=False)
    lines = (node.end_lineno or node.lineno) - node.lineno + 1
    return lines - (docstring.count("\n") + 1 if docstring else 0)


def test_the_top_level_holds_what_the_contributors_guide_names() -> None:
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if listing.returncode != 0:
        pytest.skip("not a git checkout, so there is no list of the project's own files")
    found = {line.split("/", 1)[0] for line in listing.stdout.splitlines()}
    assert {name for name in found if not name.startswith(".")} == TOP_LEVEL


def test_ci_runs_the_very_test_command_of_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    command = re.search(r"^python3 -m venv .*pytest$", readme, flags=re.MULTILINE)
    assert command is not None, "the README gives one line that installs and runs the tests"
    assert command[0] in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
