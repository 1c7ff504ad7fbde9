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
