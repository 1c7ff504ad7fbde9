"""What `review` says of the settings to keep and of what is left, and that the report says the same."""

from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest

Ask = Callable[..., Any]
Say = Callable[..., str]
RIFFS = "riffs=run,chugs,two-note,held chord"


def flat(text: str) -> str:
    return " ".join(text.split())


def as_set(gain: str, stage: str = "open", mic: str = "cap") -> list[str]:
    return [word for said in (f"gain={gain}", f"stage={stage}", f"mic={mic}", RIFFS) for word in ("--set", said)]


@pytest.fixture
def hunted(ask: Ask, sheet: Path) -> Path:
    """Two trials of nearly one score."""
    ask("start", sheet)
    ask("log", "club-amp", *as_set("1:00"), "--overall", 60.0)
    ask("log", "club-amp", *as_set("2:00"), "--overall", 60.01)
    return sheet.with_name("out")


def test_terminal_and_report_say_the_same_of_what_to_keep(ask: Ask, say: Say, hunted: Path) -> None:
    said = flat(say("review", "club-amp", "--out", hunted))
    view = ask("review", "club-amp")
    kept, ahead = view["recommended"], view["outlook"]
    made = "not made in exactly this form yet" if kept["trial"] is None else f"made in trial {kept['trial']}"
    report = unescape((hunted / "report.html").read_text(encoding="utf-8"))
    near = f"within {ahead['eps']:.1f} points of the best (repeats differ by as much)"
    for words in (made, near, "o on: make further trials"):
        assert words in said
        assert words in report
    assert "are left of the planned time, handling included" in report


def test_what_a_prediction_leaves_open_is_said(ask: Ask, say: Say, hunted: Path) -> None:
    """Half of a 90 % interval, as behind every +- and as the report says it."""
    noise = ask("predict", "club-amp", *as_set("1:30"))["noise"]
    said = say("predict", "club-amp", *as_set("1:30"))
    assert f"One take may differ from that by another +-{1.645 * noise:.1f}, as repeats of one trial do." in said
    ask("review", "club-amp", "--out", hunted)
    assert f"a single take may differ by ± {1.645 * noise:.1f} more" in (hunted / "report.html").read_text("utf-8")


def test_trials_that_read_the_same_are_told_together(ask: Ask, say: Say, hunted: Path) -> None:
    """60.00 and 60.01 are both told as 60.0: neither is called the best without a word on the other."""
    said = flat(say("review", "club-amp", "--out", hunted))
    assert "Highest so far: trial 2, 60.0; trial 1 reads the same" in said
    assert "highest measured 60.0 (trials 1 and 2)" in flat(say("studies"))
    lead = unescape((hunted / "report.html").read_text("utf-8")).split('class="lead">')[1].split("</p>")[0]
    assert " reads the same" in lead
    assert "luck" not in lead
    ask("log", "club-amp", *as_set("3:00"), "--overall", 60.4)
    assert "reads the same" not in say("review", "club-amp")
