"""What `plan` and `next` say of the time there is, of hands on the chain and of loud rooms."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Ask = Callable[..., Any]
Say = Callable[..., str]


@pytest.mark.parametrize(
    ("words", "told", "mend"),
    [
        (["--hours", "-1"], "A session cannot last -1 hours.", "more than 0 and at most 24, as in --hours 1.5."),
        (["--hours", "0"], "A session cannot last 0 hours.", "more than 0 and at most 24"),
        (["--hours", "1e9"], "A session cannot last 1e+09 hours.", "at most 24"),
        (["--hours", "nan"], "'nan' is no number", "--help"),
        (["--hours", "inf"], "'inf' is no number", "--help"),
        (["--hours", "1", "--spl", "-5"], "No room has a level of -5 dBA.", "0 (hardly heard) to 140"),
        (["--hours", "1", "--spl", "200"], "No room has a level of 200 dBA.", "--spl 94"),
        (["--hours", "1", "--spl", "nan"], "'nan' is no number", "--help"),
    ],
)
def test_a_session_that_cannot_be_is_refused_before_anything_is_proposed(
    ask: Ask, sheet: Path, words: list[str], told: str, mend: str
) -> None:
    ask("start", sheet)
    error = ask("plan", "club-amp", *words, code=2)["error"]
    assert told in error["message"]
    assert mend in error["hint"]
    assert ask("studies")["studies"][0]["waiting"] == []


@pytest.mark.parametrize("minutes", ["-3", "0", "1441", "nan"])
def test_the_time_of_next_has_the_same_ends(ask: Ask, sheet: Path, minutes: str) -> None:
    ask("start", sheet)
    assert ask("next", "club-amp", "--minutes", minutes, code=2)["error"]["hint"]
    assert ask("studies")["studies"][0]["waiting"] == []


def test_a_loud_room_is_told_how_long_and_what_to_wear(ask: Ask, say: Say, sheet: Path) -> None:
    ask("start", sheet)
    loud = " ".join(say("plan", "club-amp", "--hours", "1,5", "--spl", 94).split())
    assert "At 94 dBA the recommended limit is 1 h a day" in loud
    assert "wear protection, or monitor from another room." in loud
    quiet = " ".join(say("plan", "club-amp", "--hours", "1.5", "--spl", 60).split())
    assert "At 60 dBA the recommended limit is not reached in a day" in quiet
    assert "The session is longer" not in quiet


def test_another_proposal_keeps_what_was_locked_until_told_otherwise(ask: Ask, say: Say, sheet: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp", "--lock", "gain=1:00", "--lock", "mic=rim")
    other = ask("next", "club-amp", "--other")
    assert (other["proposals"][0]["settings"]["gain"], other["proposals"][0]["settings"]["mic"]) == (13.0, "rim")
    assert (other["proposals"][0]["held"], other["let_go"]) == (["gain", "mic"], [])
    told = say("next", "club-amp", "--other", "--lock", "gain=2:00")
    assert "Let go:    mic, no longer held" in told
    assert "Held:     gain, as you asked" in told
    assert ask("next", "club-amp")["let_go"] == []
    told = say("next", "club-amp", "--other", "--let-go")
    assert "Let go:    gain, no longer held" in told
    assert "Held:" not in told
    for words in (["--let-go"], ["--other", "--let-go", "--lock", "gain=1:00"]):
        assert "--let-go goes with --other" in ask("next", "club-amp", *words, code=2)["error"]["message"]


def test_a_lock_that_a_new_sheet_has_no_room_for_is_let_go(ask: Ask, sheet: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp", "--lock", "gain=9:00")
    sheet.write_text(sheet.read_text().replace('low = "8:00"', 'low = "10:00"'))
    ask("start", sheet)
    assert ask("next", "club-amp", "--other")["let_go"] == ["gain"]


def test_the_first_trial_says_how_long_it_takes_to_set(ask: Ask, say: Say, sheet: Path) -> None:
    """As `plan` says it of the same trial."""
    ask("start", sheet)
    said = next(line for line in say("next", "club-amp").splitlines() if line.startswith("Set:"))
    handling = said.split("all of it ")[1]
    assert handling.startswith("(about ")
    assert handling in " ".join(say("plan", "club-amp", "--hours", 0.2).split())
