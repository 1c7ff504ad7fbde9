"""What is printed fits a plain terminal, errors too; what is to be copied stays in one piece."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimiser.cli.outcome import tell
from optimiser.cli.printing import columns, paragraph, whole

Ask = Callable[..., Any]
Say = Callable[..., str]

STUDY = "the-lead-channel-of-the-club-amp-with-its-second-cabinet-onx"
GAIN = "gain-of-the-second-channel-with-a-boostx"
SET = (f"{GAIN}=1:00", "stage=open", "mic=cap", "riffs=run,chugs,two-note,held chord")


@pytest.fixture
def wordy(sheet: Path) -> Path:
    """The sheet with the longest names that a study and a setting may have."""
    assert (len(STUDY), len(GAIN)) == (60, 40)
    sheet.write_text(sheet.read_text().replace("club-amp", STUDY).replace("settings.gain", f"settings.{GAIN}"))
    return sheet


def test_every_line_fits_with_the_longest_names(
    say: Say, wordy: Path, recordings: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`say` looks at every line."""
    monkeypatch.chdir(tmp_path)
    words = [word for setting in SET for word in ("--set", setting)]
    (tmp_path / "a folder").mkdir()
    say("start", wordy)
    assert f"\n  optimiser take {STUDY} REFERENCE.wav CAPTURE.wav --trial 1 " in say("next", STUDY)
    say("take", STUDY, *recordings, "--reading", 4)
    say("log", STUDY, *words, "--overall", 60)
    for command in (
        ("next", STUDY, "--count", 2),
        ("predict", STUDY, *words),
        ("plan", STUDY, "--hours", 0.2),
        ("amend", STUDY, 1, "--note", "loud"),
        ("amend", STUDY, 1, "--note", "loud"),
        ("history", STUDY),
        ("history", STUDY, "--again", 1),
        ("review", STUDY),
        ("recall", STUDY, 1, "--out", tmp_path / "recall.html"),
        ("export", STUDY, tmp_path / "study.json"),
        ("import-study", tmp_path / "study.json", "--store", tmp_path / "other.db"),
        ("advisers", STUDY),
        ("studies",),
        ("doctor",),
        ("backup", tmp_path / "a folder" / "backup.db"),
        ("start", wordy),
    ):
        say(*command)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["next", STUDY[:-1]], 4),
        (["take", STUDY, "missing.wav", "missing.wav", "--trial", 1], 4),
        (["log", STUDY, "--set", "gain=1:00"], 3),
        (["log", STUDY, "--trial", 9, "--overall", 50], 4),
        (["predict", STUDY], 3),
        (["ears", STUDY], 3),
        (["next", STUDY, "--lock", f"{GAIN}=25:00"], 3),
        (["start", "missing/" * 12 + "sheet.toml"], 4),
        (["log", STUDY, "--ear", "nine and a half, or perhaps a little more than that, who knows"], 2),
    ],
)
def test_errors_fit_too(say: Say, wordy: Path, words: list[str], code: int) -> None:
    say("start", wordy)
    assert say(*words, code=code).strip()


def test_what_is_wrong_and_how_to_mend_it_are_two_lines(ask: Ask, say: Say, sheet: Path) -> None:
    ask("start", sheet)
    error = ask("next", "club-am", code=4)["error"]
    assert say("next", "club-am", code=4).splitlines() == [error["message"], error["hint"]]


class Terminal:
    """A stream that is shown in so many columns."""

    def __init__(self, kept: list[str]) -> None:
        self.kept = kept

    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        return 1

    def write(self, text: str) -> None:
        self.kept.append(text)

    def flush(self) -> None:
        pass


@pytest.mark.parametrize(("columns_", "widest"), [(200, 80), (48, 48), (0, 80), (1, 20)])
def test_a_narrow_terminal_is_filled_and_a_wide_one_is_not(
    monkeypatch: pytest.MonkeyPatch, columns_: int, widest: int
) -> None:
    said: list[str] = []
    monkeypatch.setattr("os.get_terminal_size", lambda _: type("Size", (), {"columns": columns_})())
    for name in ("stdout", "stderr"):
        monkeypatch.setattr(sys, name, Terminal(said))
    tell("word " * 60)
    for lines in ("".join(said).splitlines(), list(paragraph("word " * 60))):
        assert widest - 5 < max(map(len, lines)) <= widest


def test_a_path_stays_in_one_piece() -> None:
    path = "/a/folder-with-dashes/" + "deep/" * 20 + "file.wav"
    assert list(whole("File:", path)) == ["File:", f"  {path}"]
    assert list(whole("File:", "file.wav")) == ["File: file.wav"]
    assert list(paragraph(f"What lies at {path} cannot be read.")) == ["What lies at", path, "cannot be read."]


def test_a_table_with_wide_columns_goes_on_below() -> None:
    assert list(columns([("name " * 12, "figure")])) == ["  " + ("name " * 12).rstrip(), "    figure"]
