"""recall: the sheet of one trial as a file."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def made(ask: Callable[..., Any], sheet: Path) -> None:
    """One trial that was measured, and a second that waits."""
    ask("start", sheet)
    settings = {"gain": "1:30", "stage": "pushed", "mic": "cap", "riffs": "chugs,held chord,run,two-note"}
    words = (word for name, value in settings.items() for word in ("--set", f"{name}={value}"))
    ask("log", "club-amp", *words, "--overall", 61)
    ask("next", "club-amp")


@pytest.mark.parametrize(("name", "start"), [("sheet.html", b"<!DOCTYPE html>"), ("new/SHEET.PDF", b"%PDF-")])
@pytest.mark.usefixtures("made")
def test_the_sheet_is_written_as_its_name_says(
    ask: Callable[..., Any], tmp_path: Path, name: str, start: bytes
) -> None:
    told = ask("recall", "club-amp", 1, "--out", tmp_path / name)
    assert told == {"study": "club-amp", "trial": 1, "file": str(tmp_path / name)}
    written = (tmp_path / name).read_bytes()
    assert written.startswith(start)
    if start.startswith(b"<"):
        assert b"1:30" in written


@pytest.mark.usefixtures("made")
def test_people_are_told_where_it_lies(
    say: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert (
        say("recall", "club-amp", 1, "--out", "sheet.pdf") == "Recall sheet of trial 1 of club-amp written: sheet.pdf\n"
    )


@pytest.mark.usefixtures("made")
@pytest.mark.parametrize(
    ("trial", "name", "code", "message", "hint"),
    [
        (1, "sheet.doc", 2, "sheet.doc is no name for a recall sheet.", "End it in .html or .pdf."),
        (1, "sheet", 2, "sheet is no name for a recall sheet.", "End it in .html or .pdf."),
        (3, "sheet.pdf", 4, "Study club-amp has no trial 3.", "Its trials go up to 2."),
        (2, "sheet.pdf", 2, "Trial 2 of club-amp is waiting.", "Print the recall sheet of a trial that was measured."),
    ],
)
def test_what_cannot_be_written_is_told_in_a_line(
    ask: Callable[..., Any], tmp_path: Path, trial: int, name: str, code: int, message: str, hint: str
) -> None:
    error = ask("recall", "club-amp", trial, "--out", tmp_path / name, code=code)["error"]
    assert (error["message"], error["hint"]) == (message, hint)
    assert not (tmp_path / name).exists()
