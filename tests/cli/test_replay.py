"""A past state can be looked at, and a past proposal made again: the same to the bit, or the reason why not."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

from optimiser.proposals import SEARCH_VERSION

Ask = Callable[..., Any]
Say = Callable[..., str]
PROPOSAL = {"trial": 99, "settings": {}, "effort_minutes": 1.0, "reason": ""}


@pytest.fixture
def hunted(ask: Ask, sheet: Path) -> Ask:
    """Eight trials: one proposal declined, one batch of three with a lock, one trial mended afterwards."""
    ask("start", str(sheet))
    for number, overall in enumerate((50, 56, 61, 58), start=1):
        ask("next", "club-amp")
        ask("log", "club-amp", "--trial", str(number), "--overall", str(overall), "--reading", "7")
    ask("next", "club-amp")
    ask("next", "club-amp", "--other")
    ask("log", "club-amp", "--trial", "6", "--overall", "63")
    ask("next", "club-amp", "--count", "3", "--lock", "stage=pushed")
    ask("log", "club-amp", "--trial", "8", "--overall", "64")
    ask("amend", "club-amp", "2", "--overall", "40")
    return ask


def test_every_proposal_comes_out_the_same_to_the_bit(hunted: Ask, say: Say) -> None:
    for trial in range(1, 10):
        again = hunted("history", "club-amp", "--again", str(trial))
        assert again["same"] is True, again
        assert again["stored"]["trial"] == trial
    assert "the same to the bit" in say("history", "club-amp", "--again", "9")


def test_one_from_another_version_is_shown_as_it_was_with_the_reason(hunted: Ask, say: Say, store: Path) -> None:
    """What the ledger holds is changed behind its back: another version of the search had handed it out."""
    engine = create_engine(f"sqlite:///{store}")
    with engine.begin() as connection:
        rows = connection.execute(text("SELECT id, body FROM event WHERE kind = 'proposed'")).all()
        row, body = next((row, json.loads(body)) for row, body in rows if json.loads(body)["proposal"]["trial"] == 6)
        body["proposal"]["settings"]["gain"] = 8.5
        body["proposal"]["installed"]["search"] = "0"
        connection.execute(text("UPDATE event SET body = :body WHERE id = :id"), {"body": json.dumps(body), "id": row})
    engine.dispose()
    again = hunted("history", "club-amp", "--again", "6")
    assert again["same"] is False
    assert again["differs"] == ["settings"]
    assert again["stored"]["settings"]["gain"] == 8.5
    assert again["reason"] == f"search 0 then, {SEARCH_VERSION} now"
    assert "8:30" in say("history", "club-amp", "--again", "6")


def test_a_past_state_can_be_reviewed(hunted: Ask) -> None:
    """Before the mend, trial 2 still has its first score; after the first trial there is one."""
    events = hunted("history", "club-amp")["events"]
    mended = next(event["event"] for event in events if event["kind"] == "amended")
    scores = [
        [
            trial["overall"]
            for trial in hunted("review", "club-amp", "--until", str(until))["trials"]
            if trial["trial"] == 2
        ]
        for until in (mended - 1, mended)
    ]
    assert scores == [[56.0], [40.0]]
    assert hunted("review", "club-amp", "--until", "3")["measured"] == 1


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("history", "club-amp", "--again", "99"), 4, "no trial 99"),
        (("history", "club-amp", "--again", "1", "--trial", "1"), 2, "different things"),
        (("review", "club-amp", "--until", "999"), 4, "no event 999"),
    ],
)
def test_what_cannot_be_shown_is_refused(hunted: Ask, words: tuple[str, ...], code: int, told: str) -> None:
    assert told in hunted(*words, code=code)["error"]["message"]


def test_a_trial_of_ones_own_was_not_proposed(hunted: Ask) -> None:
    words = [
        "--set",
        "gain=1:00",
        "--set",
        "stage=open",
        "--set",
        "mic=cap",
        "--set",
        "riffs=chugs,held chord,run,two-note",
    ]
    own = hunted("log", "club-amp", *words, "--overall", "50")["trial"]
    assert "was not proposed" in hunted("history", "club-amp", "--again", str(own), code=4)["error"]["message"]


@pytest.mark.parametrize(
    ("kind", "body", "told"),
    [
        ("advisers chosen", {}, "advisers"),
        ("advisers chosen", {"advisers": [{"sheet": {}}]}, "study"),
        ("reel made", {"reel": {"kind": "proof", "layout": {"passages": []}}}, "riffs"),
        (
            "proposed",
            {"proposal": {"trial": 99, "settings": {}, "effort_minutes": 1.0, "reason": "", "first": 99}},
            "whole",
        ),
    ],
)
def test_an_exported_study_that_could_not_be_read_later_is_refused(
    hunted: Ask, tmp_path: Path, kind: str, body: dict[str, Any], told: str
) -> None:
    file, other = tmp_path / "study.json", f"sqlite:///{tmp_path / 'other.db'}"
    hunted("export", "club-amp", file)
    document = json.loads(file.read_text())
    document["events"].append({"kind": kind, "body": body, "at": "2026-03-02T10:00:00+00:00"})
    file.write_text(json.dumps(document))
    assert told in hunted("import-study", file, "--store", other, code=3)["error"]["message"]
    assert hunted("studies", "--store", other) == {"studies": []}
