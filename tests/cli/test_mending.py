"""What was written down can be put right, struck out and taken back, and nothing of it is lost."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimiser.cli import run

Ask = Callable[..., Any]
Say = Callable[..., str]

SET = (
    "--set",
    "gain=1:00",
    "--set",
    "stage=pushed",
    "--set",
    "mic=cap",
    "--set",
    "riffs=chugs,held chord,run,two-note",
)


@pytest.fixture
def logged(ask: Ask, sheet: Path) -> Ask:
    """A study with three trials of the practitioner's own choosing."""
    ask("start", str(sheet))
    for overall, reading in ((50, 7), (60, 6.5), (55, 9)):
        ask("log", "club-amp", *SET, "--overall", str(overall), "--reading", str(reading))
    return ask


def test_an_amended_trial_counts_as_amended_and_keeps_what_stood_there(logged: Ask) -> None:
    amended = logged("amend", "club-amp", "3", "--reading", "6", "--set", "gain=2:30", "--reason", "misread")
    assert (amended["reading"], amended["settings"]["gain"], amended["settings"]["mic"]) == (6.0, 14.5, "cap")
    assert sorted(amended["changed"]) == ["reading", "settings"]
    told = logged("history", "club-amp", "--trial", "3")["events"]
    assert [event["kind"] for event in told] == ["measured", "amended"]
    assert told[1]["reason"] == "misread"
    assert "reading 9 -> 6" in told[1]["what"]
    assert "gain 1:00 -> 2:30" in told[1]["what"]
    assert told[0]["what"].startswith("overall 55.0")


def test_amending_to_what_stands_there_changes_nothing(logged: Ask) -> None:
    assert logged("amend", "club-amp", "1", "--reading", "7")["changed"] == []
    assert len(logged("history", "club-amp")["events"]) == 4


def test_a_trial_can_be_moved_to_its_day(logged: Ask) -> None:
    assert logged("amend", "club-amp", "1", "--day", "2026-03-02")["day"] == "2026-03-02"


def test_a_figure_can_be_taken_out(logged: Ask) -> None:
    assert logged("amend", "club-amp", "1", "--clear", "reading")["reading"] is None


def test_a_struck_out_trial_counts_for_nothing_until_it_is_let_back(logged: Ask) -> None:
    assert logged("void", "club-amp", "2", "--reason", "wrong file")["state"] == "void"
    assert logged("review", "club-amp")["best"]["trial"] == 3
    assert logged("void", "club-amp", "2")["changed"] == []
    assert logged("unvoid", "club-amp", "2")["state"] == "measured"
    assert logged("review", "club-amp")["best"]["trial"] == 2


def test_undo_goes_back_step_by_step_and_leaves_everything_in_the_history(logged: Ask) -> None:
    """An amendment and a void on top of three trials: five times undo, and nothing counts any more."""
    logged("amend", "club-amp", "1", "--note", "loud")
    logged("void", "club-amp", "2")
    assert logged("undo", "club-amp")["kind"] == "voided"
    undone = logged("undo", "club-amp")
    assert (undone["kind"], undone["trial"]) == ("amended", 1)
    trials = logged("review", "club-amp")["trials"]
    assert [(trial["state"], trial["note"]) for trial in trials] == [("measured", "")] * 3
    for number in (3, 2, 1):
        assert logged("undo", "club-amp")["trial"] == number
    refused = logged("undo", "club-amp", code=2)["error"]
    assert "nothing to take back" in refused["message"]
    told = logged("history", "club-amp")["events"]
    assert len(told) == 4 + 2 + 5
    assert [event["undoes"] for event in told[-5:]] == [6, 5, 4, 3, 2]


def test_the_same_key_takes_one_change_back_only(logged: Ask) -> None:
    first = logged("undo", "club-amp", "--key", "k")
    assert logged("undo", "club-amp", "--key", "k") == first
    assert [trial["state"] for trial in logged("review", "club-amp")["trials"]] == ["measured", "measured", "void"]


def test_a_change_of_the_sheet_and_a_declined_proposal_can_be_taken_back(ask: Ask, sheet: Path) -> None:
    ask("start", str(sheet))
    first = ask("next", "club-amp")["proposals"][0]
    second = ask("next", "club-amp", "--other")["proposals"][0]
    assert second["settings"] != first["settings"]
    assert ask("undo", "club-amp")["kind"] == "declined"
    assert ask("next", "club-amp")["proposals"][0]["settings"] == first["settings"]
    sheet.write_text(sheet.read_text().replace('high = "17:00"', 'high = "16:00"'))
    assert ask("start", str(sheet))["changed"]
    assert ask("undo", "club-amp")["kind"] == "sheet changed"
    assert ask("start", str(sheet))["changed"]


def test_a_setting_may_join_midway_and_the_trials_before_it_are_filled_in(logged: Ask, say: Say, sheet: Path) -> None:
    """First refused with the reason, then taken; the proposals that follow set it, and undo takes it out again."""
    joined = sheet.read_text() + '[settings.presence]\nkind = "knob"\nscale = "clock"\nlow = "8:00"\nhigh = "16:00"\n'
    sheet.write_text(joined)
    refused = logged("start", str(sheet), code=3)["error"]["message"]
    assert "trials 1 to 3 made before it was a setting" in refused
    sheet.write_text(joined + '[before]\npresence = "12:00"\n')
    assert "trials 1 to 3 taken to have presence at 12:00" in say("start", str(sheet), "--reason", "it matters")
    assert "presence" in logged("next", "club-amp")["proposals"][0]["settings"]
    assert {trial["settings"]["presence"] for trial in logged("review", "club-amp")["trials"][:3]} == {12.0}
    assert logged("undo", "club-amp")["kind"] == "sheet changed"
    assert "presence" not in logged("review", "club-amp")["trials"][0]["settings"]


def test_a_waiting_proposal_that_the_new_sheet_forbids_is_withdrawn(ask: Ask, sheet: Path) -> None:
    ask("start", str(sheet))
    gain = ask("next", "club-amp")["proposals"][0]["settings"]["gain"]
    bounds = ("8:00", "9:00") if gain > 9.5 else ("16:00", "17:00")
    text = sheet.read_text().replace('"8:00"', f'"{bounds[0]}"').replace('"17:00"', f'"{bounds[1]}"')
    sheet.write_text(text)
    ask("start", str(sheet))
    again = ask("next", "club-amp")["proposals"][0]
    assert again["trial"] == 2
    assert ask("history", "club-amp", "--trial", "1")["events"][-1]["reason"] == "the sheet has changed"


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("amend", "club-amp", "1"), 2, "Nothing is said"),
        (("amend", "club-amp", "9", "--reading", "7"), 4, "no trial 9"),
        (("amend", "club-amp", "1", "--reading", "70"), 3, "scale goes"),
        (("amend", "club-amp", "1", "--set", "gain=99:00"), 3, "gain"),
        (("amend", "club-amp", "1", "--day", "yesterday"), 3, "no date"),
        (("amend", "club-amp", "1", "--clear", "settings"), 2, "cannot be cleared"),
        (("amend", "club-amp", "1", "--clear", "overall", "--clear", "reading"), 3, "figure"),
        (("void", "club-amp", "4"), 2, "waiting"),
        (("void", "nobody", "1"), 4, "no study"),
        (("history", "club-amp", "--trial", "9"), 4, "no trial 9"),
    ],
)
def test_what_cannot_be_mended_is_refused_and_nothing_is_stored(
    logged: Ask, words: tuple[str, ...], code: int, told: str
) -> None:
    if "4" in words:
        logged("next", "club-amp")
    before = logged("history", "club-amp")["events"]
    error = logged(*words, code=code)["error"]
    assert told in f"{error['message']} {error['hint']}"
    assert logged("history", "club-amp")["events"] == before


def test_lines_for_people(say: Say, logged: Ask) -> None:  # noqa: ARG001
    assert "amended: reading" in say("amend", "club-amp", "1", "--reading", "6")
    assert "struck out" in say("void", "club-amp", "1")
    lines = say("history", "club-amp").splitlines()
    assert len(lines) >= 6
    assert all(len(line) <= 80 for line in lines)
    assert run(["history", "club-amp"]) == 0


def test_a_version_that_trials_rest_on_cannot_be_undone_and_says_which(logged: Ask, sheet: Path) -> None:
    text = sheet.read_text() + '[settings.presence]\nkind = "knob"\nlow = 0\nhigh = 10\n[before]\npresence = 5\n'
    sheet.write_text(text)
    logged("start", str(sheet))
    logged("log", "club-amp", *SET, "--set", "presence=7", "--overall", "70")
    logged("undo", "club-amp")
    logged("unvoid", "club-amp", "4")
    refused = [logged("undo", "club-amp")["kind"], logged("undo", "club-amp", code=3)["error"]["message"]]
    assert refused[0] == "restored"
    assert "trials 1 to 3 at 5; trial 4 at 7" in refused[1]
