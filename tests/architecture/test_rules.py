"""Rules of the house that no other tool checks."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

from optimiser.citations import CITATIONS

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "optimiser").rglob("*.py"))
CITED = re.compile(r"\[([A-Z][A-Za-z0-9]*\d{4}[a-z]?|[A-Z]{2,}[0-9][A-Z0-9-]*)\]")
LONGEST_FILE = 300
LONGEST_BODY = 40
MOST_PARAMETERS = 6


def _cited() -> dict[str, str]:
    return {
        key: str(path.name)
        for path in SOURCES
        if path.name != "citations.py"
        for key in CITED.findall(path.read_text())
    }


def test_every_citation_resolves_and_none_is_unused() -> None:
    cited = _cited()
    assert set(cited) - set(CITATIONS) == set(), cited
    assert set(CITATIONS) - set(cited) == set()


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_and_functions_stay_small(path: Path) -> None:
    text = path.read_text()
    assert len(text.splitlines()) <= LONGEST_FILE
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) and len(node.body) > 1 else node.body
            lines = (body[-1].end_lineno or 0) - body[0].lineno + 1
            assert lines <= LONGEST_BODY, f"{node.name} has {lines} lines"
            positional = len(node.args.args)
            options_of_a_command = path.parent.name == "commands"
            assert positional <= MOST_PARAMETERS or options_of_a_command, (
                f"{node.name} takes {positional} parameters by position"
            )


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_rooms_are_entered_by_the_front_door(path: Path) -> None:
    room = path.relative_to(ROOT / "optimiser").parts[0]
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("optimiser."):
            parts = (node.module or "").split(".")
            inside = parts[1] == room
            assert inside or len(parts) == 2 or path.name == "__init__.py", f"{path.name} imports {node.module}"


def test_the_top_level_is_as_fixed() -> None:
    shown = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert shown <= {"README.md", "DEVELOPERS.md", "pyproject.toml", "optimiser", "tests", "studies", "notebooks"} | {
        name for name in shown if name.endswith(".egg-info")
    }


def test_importing_the_package_loads_nothing_heavy() -> None:
    import subprocess
    import sys

    heavy = ("numpy", "scipy", "matplotlib", "skopt", "sqlalchemy", "typer")
    code = f"import sys, optimiser; print([name for name in {heavy} if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert said.stdout.strip() == "[]"


def test_the_licence_is_stated_and_carried() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["license"] == "MIT"
    assert all((ROOT / name).is_file() for name in project["license-files"])


def test_the_contributors_guide_names_paths_that_exist() -> None:
    table = (ROOT / "DEVELOPERS.md").read_text().split("## The rooms")[0]
    paths = re.findall(r"`([a-z_/]+/(?:[a-z_]+\.py)?)`", table)
    assert len(paths) > 15
    assert [path for path in paths if not (ROOT / path).exists()] == []
