"""A new study starts from old ones of the same store, says what they count for, and needs them no more afterwards."""

import itertools
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest

Ask = Callable[..., Any]
Say = Callable[..., str]
ORDERS = list(itertools.permutations(["chugs", "held chord", "run", "two-note"]))


@pytest.fixture
def old(ask: Ask, sheet: Path) -> str:
    """Eight trials on the club amp, best at noon with the stage pushed."""
    ask("start", sheet)
    for place in range(8):
        gain, stage = 9.0 + place, ("open", "pushed", "full")[place % 3]
        mic, riffs = ("cap", "cap edge", "rim")[place // 3], ",".join(ORDERS[3 * place])
        overall = 80.0 - 2.0 * (gain - 12.0) ** 2 - 3.0 * (stage != "pushed")
        words = ("--set", f"gain={gain}", "--set", f"stage={stage}", "--set", f"mic={mic}", "--set", f"riffs={riffs}")
        ask("log", "club-amp", *words, "--overall", overall)
    return "club-amp"


@pytest.fixture
def new_sheet(sheet: Path) -> Path:
    """Another channel: one riff more, and a knob that the old study never turned."""
    text = sheet.read_text().replace('"club-amp"', '"crunch"').replace('"two-note"]', '"two-note", "slide"]')
    path = sheet.with_name("crunch.toml")
    path.write_text(text + '\n[settings.bias]\nkind = "knob"\nscale = "number"\nlow = 0\nhigh = 1\n')
    return path


def test_a_study_starts_from_an_old_one_and_says_what_it_counts_for(
    ask: Ask, say: Say, old: str, new_sheet: Path
) -> None:
    started = ask("start", new_sheet, "--adviser", old)
    assert started["advisers"][0]["study"] == "club-amp"
    assert started["advisers"][0]["ignored"] == ["riffs slide (new here)", "bias (not varied there)"]
    first = ask("next", "crunch")
    assert first["advisers"] == started["advisers"]
    assert "'club-amp' holds the best" in first["proposals"][0]["reason"]
    assert 11.0 <= first["proposals"][0]["settings"]["gain"] <= 13.0
    said = " ".join(say("next", "crunch").split())
    assert "'club-amp' counts for" in said
    assert "are open until this study has scores of its own" in said
    assert "own trials for" not in said
    ask("log", "crunch", "--trial", 1, "--overall", 70)
    reviewed = ask("review", "crunch")["advisers"]
    assert reviewed == ask("next", "crunch")["advisers"] == ask("advisers", "crunch")["advisers"]
    assert 0.0 < reviewed[0]["weight"] < 1.0
    reviewed_shown = ask("review", "crunch")["advisers_shown"]
    said = " ".join(say("review", "crunch", "--out", new_sheet.with_name("out")).split())
    assert "this study's own trials for" in said
    report = new_sheet.with_name("out").joinpath("report.html").read_text(encoding="utf-8")
    assert reviewed_shown in unescape(report)
    assert "bias (not varied there)" in report


def test_advisers_are_changed_and_taken_back(ask: Ask, say: Say, old: str, new_sheet: Path) -> None:
    ask("start", new_sheet)
    assert ask("advisers", "crunch") == {"study": "crunch", "advisers": [], "advisers_shown": ""}
    assert "goes by its own trials alone" in say("advisers", "crunch")
    chosen = ask("advisers", "crunch", "--from", old, "--reason", "the same amp")
    assert (chosen["changed"], chosen["advisers"][0]["trials"]) == (True, 8)
    assert not ask("advisers", "crunch", "--from", old)["changed"]
    assert "bias (not varied there)" in " ".join(say("advisers", "crunch").split())
    assert ask("advisers", "crunch", "--none")["advisers"] == []
    ask("undo", "crunch")
    assert ask("advisers", "crunch")["advisers"] == chosen["advisers"]
    told = ask("history", "crunch")["events"]
    assert [event["what"] for event in told] == ["", "club-amp", "none", "club-amp"]
    assert "advisers chosen: club-amp" in say("history", "crunch")


def test_a_sheet_and_the_advisers_that_came_with_it_are_one_step(ask: Ask, old: str, new_sheet: Path) -> None:
    ask("start", new_sheet)
    text = new_sheet.read_text()
    new_sheet.write_text(text.replace('high = "17:00"', 'high = "16:00"'))
    assert ask("start", new_sheet, "--adviser", old)["changed"]
    assert ask("undo", "crunch")["kind"] == "sheet changed"
    assert ask("advisers", "crunch")["advisers"] == []
    new_sheet.write_text(text)
    assert not ask("start", new_sheet)["changed"]
    assert "nothing to take back" in ask("undo", "crunch", code=2)["error"]["message"]


def test_a_replay_needs_nothing_but_the_study_itself(
    ask: Ask, old: str, new_sheet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask("start", new_sheet, "--adviser", old)
    ask("export", "crunch", tmp_path / "crunch.json")
    later = ask("next", "crunch")
    ask("log", old, "--set", "gain=16", "--set", "stage=full", "--set", "mic=rim", "--set",
        "riffs=run,chugs,two-note,held chord", "--overall", 99)  # fmt: skip
    assert ask("advisers", "crunch")["advisers"] == later["advisers"]
    monkeypatch.setenv("OPTIMISER_STORE", f"sqlite:///{tmp_path / 'elsewhere.db'}")
    ask("import-study", tmp_path / "crunch.json")
    assert ask("next", "crunch") == later
    assert ask("history", "crunch", "--again", 1)["same"] is True
    assert [study["name"] for study in ask("studies")["studies"]] == ["crunch"]


def test_what_cannot_advise_is_refused_in_one_line_and_nothing_is_stored(
    ask: Ask, say: Say, old: str, new_sheet: Path
) -> None:
    assert "itself" in ask("advisers", old, "--from", old, code=2)["error"]["message"]
    assert ask("start", new_sheet, "--adviser", "nobody", code=4)["error"]["code"] == "not_found"
    assert [study["name"] for study in ask("studies")["studies"]] == [old]
    ask("start", new_sheet)
    refused = ask("advisers", old, "--from", "crunch", code=3)["error"]
    assert refused["message"] == "crunch has 0 scored trials that club-amp can use, and needs 5."
    assert say("advisers", old, "--from", "crunch", code=3).splitlines() == [refused["message"], refused["hint"]]
    assert ask("advisers", old, "--from", "crunch", "--none", code=2)["error"]["code"] == "bad_use"
    assert ask("advisers", "nobody", code=4)["error"]["code"] == "not_found"


def test_a_sheet_that_leaves_nothing_in_common_keeps_the_study_going(ask: Ask, old: str, new_sheet: Path) -> None:
    ask("start", new_sheet, "--adviser", old)
    other = '[study]\nname = "crunch"\n[settings.bias]\nkind = "knob"\nscale = "number"\nlow = 0\nhigh = 1\n'
    new_sheet.write_text(other)
    ask("start", new_sheet)
    adviser = ask("next", "crunch")["advisers"][0]
    assert (adviser["weight"], adviser["ignored"]) == (0.0, ["club-amp has no setting in common with crunch"])
