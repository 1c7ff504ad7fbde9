"""Every study in the repository can be opened."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.mark.parametrize("sheet", sorted(STUDIES.rglob("sheet.toml")), ids=lambda path: path.parent.name)
def test_the_sheet_starts_a_study(sheet: Path, ask: Callable[..., Any]) -> None:
    assert ask("start", sheet)["new"]


@pytest.mark.parametrize("file", sorted(STUDIES.glob("*/study.json")), ids=lambda path: path.parent.name)
def test_the_worked_study_is_taken_in_and_walked_on(
    file: Path, ask: Callable[..., Any], say: Callable[..., str]
) -> None:
    taken = ask("import-study", file)
    assert taken["trials"] >= 12
    assert ask("studies")["studies"][0]["measured"] == taken["trials"]
    assert ask("next", taken["study"])["proposals"][0]["trial"] == taken["trials"] + 1
    mattered = re.findall(r" ([#/]+)\.* .* %.*, (matters.*|not known yet)\n", say("review", taken["study"]))
    assert {bar[0] for bar, _ in mattered} == {"#", "/"}
    assert all((bar[0] == "/") == (verdict == "not known yet") for bar, verdict in mattered)
