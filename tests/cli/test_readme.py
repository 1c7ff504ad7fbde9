"""What the README shows is what the commands print."""

import re
from collections.abc import Callable
from pathlib import Path
from textwrap import dedent

import pytest

from optimiser.cli.commands import app
from optimiser.study import load_sheet

README = (Path(__file__).parents[2] / "README.md").read_text()


def sheet_of_the_tour() -> str:
    return dedent(re.findall(r"((?:    .*\n|\n)*)", README.split("`club-combo.toml`:\n")[1])[0])


def shown(command: str) -> str:
    """What stands below a command of the tour, up to the next command or the end of the block."""
    block = README.split(f"    $ optimiser {command}\n")[1]
    lines = re.match(r"(?:    (?!\$).*\n|\n(?=    ))*", block)
    assert lines is not None
    return dedent(lines[0]).strip()


def test_the_tour_prints_what_the_readme_says(
    say: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("club-combo.toml").write_text(sheet_of_the_tour())
    for command in ("start club-combo.toml", "reel club-combo --kind proof --out proof.wav"):
        assert say(*command.split()).strip() == shown(command)
    say("goal", "club-combo", "proof.wav")
    assert say("next", "club-combo").strip() == shown("next club-combo")


def test_the_sheet_of_the_tour_has_no_fault() -> None:
    assert load_sheet(sheet_of_the_tour()).name == "club-combo"


def test_every_command_that_the_readme_names_exists() -> None:
    named = set(re.findall(r"optimiser ([a-z][a-z-]+)", README.split("## In Python")[0])) - {"rehearse"}
    named = {name for name in named if f"`optimiser {name}" in README or f"$ optimiser {name}" in README}
    known = {
        (command.name or command.callback.__name__).replace("_", "-")
        for command in app.registered_commands
        if command.callback
    }
    assert named <= known
