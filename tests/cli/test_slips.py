"""Slips of a tired hand are told, and none of them spoils a study."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import soundfile

Ask = Callable[..., Any]
Say = Callable[..., str]

NAME = "club-amp"
SET = ("gain=9:40", "stage=open", "mic=rim", "riffs=chugs,run,two-note,held chord")
WORDS = [word for one in SET for word in ("--set", one)]
ROW = '{gain},open,rim,"chugs,run,two-note,held chord",{overall},{day}\n'
SIDES = ("reference", "capture")
HEAD = "gain,stage,mic,riffs,overall,day\n"


@pytest.fixture(autouse=True)
def started(ask: Ask, sheet: Path) -> None:
    ask("start", sheet)


def shortened(file: Path, folder: Path, seconds: float) -> Path:
    samples, rate_hz = soundfile.read(file)
    path = folder / f"cut-{file.name}"
    soundfile.write(path, samples[: int(seconds * rate_hz)], rate_hz, subtype="PCM_24")
    return path


@pytest.mark.parametrize("score", ["101", "-1", "1e300"])
def test_an_overall_score_lies_on_its_scale(ask: Ask, tmp_path: Path, score: str) -> None:
    notes = tmp_path / "notes.csv"
    notes.write_text(HEAD + ROW.format(gain="9:00", overall=score, day="2026-03-02"))
    ask("log", NAME, *WORDS, "--overall", 60)
    before = ask("history", NAME)
    for words in (("log", NAME, *WORDS), ("amend", NAME, 1)):
        assert "out of 100" in ask(*words, "--overall", score, code=2)["error"]["hint"]
    assert "line 2" in ask("import-notes", NAME, notes, code=3)["error"]["message"]
    assert ask("history", NAME) == before


def test_recordings_that_were_cut_off_are_told(ask: Ask, recordings: tuple[Path, Path], tmp_path: Path) -> None:
    """The capture beside its reference; reference, capture and goal beside the proof reel once there is one."""
    reference, capture = recordings
    ask("next", NAME)
    cut = ask("take", NAME, reference, shortened(capture, tmp_path, 2.5))["warnings"]
    assert any(warning.startswith("The capture lasts 2.5 s and its reference 4.0 s") for warning in cut)
    ask("next", NAME)
    assert not any("lasts" in warning for warning in ask("take", NAME, reference, capture)["warnings"])
    ask("reel", NAME, "--out", tmp_path / "proof.wav")
    ask("next", NAME)
    told = ask("take", NAME, reference, capture)["warnings"]
    assert [sum(f"The {part} lasts 4.0 s and the proof reel" in one for one in told) for part in SIDES] == [1, 1]
    assert "The goal reference lasts 4.0 s" in " ".join(ask("goal", NAME, reference)["warnings"])


def test_a_study_whose_recordings_are_elsewhere_can_be_gone_on_with(
    ask: Ask, recordings: tuple[Path, Path], tmp_path: Path
) -> None:
    ask("goal", NAME, recordings[0])
    ask("next", NAME)
    ask("take", NAME, *recordings)
    ask("export", NAME, tmp_path / "study.json")
    elsewhere = ("--store", f"sqlite:///{tmp_path / 'elsewhere.db'}")
    taken_in = ask("import-study", tmp_path / "study.json", *elsewhere)
    assert taken_in["without_recordings"] == [1]
    faults = [ask("doctor", *elsewhere, *fix, code=5)["findings"] for fix in ([], ["--fix"])]
    assert faults[0] == faults[1]
    assert all("is not in this store" in finding["message"] for finding in faults[0])
    ask("next", NAME, *elsewhere)
    error = ask("take", NAME, *recordings, *elsewhere, code=4)["error"]
    assert error["message"] == "The goal reference reference.wav of club-amp is not in this store."
    told = ask("goal", NAME, recordings[1], *elsewhere)
    assert told["rescored"] == []
    assert "The recordings of trial 1 are not in this store" in told["warnings"][-1]
    assert ask("take", NAME, *recordings, *elsewhere)["goal"] is not None


def test_letting_go_frees_every_trial_that_was_locked(ask: Ask) -> None:
    ask("next", NAME, "--lock", "mic=rim", "--count", 3)
    told = ask("next", NAME, "--other", "--let-go")
    assert sorted(one["trial"] for one in told["put_aside"]) == [1, 2, 3]
    assert [proposal["trial"] for proposal in told["proposals"]] == [4]
    assert "mic" in told["let_go"]


def test_a_lock_that_what_waits_meets_anyway_says_that_it_is_not_kept(ask: Ask, say: Say) -> None:
    mic = ask("next", NAME)["proposals"][0]["settings"]["mic"]
    told = ask("next", NAME, "--lock", f"mic={mic}")
    assert (told["proposals"][0]["trial"], told["met"]) == (1, ["mic"])
    assert "Held:     mic, as it happens" in say("next", NAME, "--lock", f"mic={mic}")
    assert ask("next", NAME, "--lock", f"mic={mic}", "--other")["met"] == []


def test_what_was_foreseen_before_something_changed_says_so(ask: Ask, say: Say) -> None:
    for score in (60, 64):
        ask("log", NAME, *WORDS, "--overall", score)
    assert "As then:" not in say("next", NAME)
    assert ask("next", NAME)["learnt_since"] == 0
    ask("amend", NAME, 1, "--overall", 95)
    ask("log", NAME, *WORDS, "--reading", 7)
    assert ask("next", NAME)["learnt_since"] == 2
    assert "2 changes ago" in say("next", NAME)


def test_old_notes_do_not_move_the_chain(ask: Ask, say: Say, tmp_path: Path) -> None:
    notes = tmp_path / "notes.csv"
    ask("log", NAME, *WORDS, "--overall", 60)
    rows = [ROW.format(gain=gain, overall=50, day="2026-03-02") for gain in ("16:00", "12:00")]
    notes.write_text(HEAD + "".join(rows))
    ask("import-notes", NAME, notes)
    assert "since trial 1)" in say("next", NAME).replace("\n", " ").replace("  ", " ")


def test_undo_says_that_proposals_still_wait(ask: Ask, say: Say) -> None:
    ask("log", NAME, *WORDS, "--overall", 60)
    ask("next", NAME, "--count", 2)
    told = say("undo", NAME)
    assert "trial 1" in told
    assert "trials 2 and 3 still wait." in told


def test_a_day_that_is_still_to_come_is_refused(ask: Ask) -> None:
    ask("log", NAME, *WORDS, "--overall", 60)
    assert "still to come" in ask("amend", NAME, 1, "--day", "2999-01-01", code=3)["error"]["message"]


def test_before_that_comes_too_late_says_how_to_put_it_right(ask: Ask, sheet: Path) -> None:
    ask("log", NAME, *WORDS, "--overall", 60)
    depth = '\n[settings.depth]\nkind = "knob"\nlow = 0\nhigh = 10\n[before]\ndepth = {}\n'
    text = sheet.read_text()
    sheet.write_text(text + depth.format(7))
    assert ask("start", sheet)["remark"] == ""
    sheet.write_text(text + depth.format(3))
    assert "optimiser amend club-amp TRIAL --set depth=3" in ask("start", sheet)["remark"]


def test_every_trial_that_waits_is_named(ask: Ask, say: Say) -> None:
    ask("next", NAME, "--count", 3)
    assert "trials 1 to 3 waiting" in say("studies")
