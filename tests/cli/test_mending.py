"""What was written down can be put right, struck out and taken back, and nothing of it is lost."""

import json
import re
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


OTHER = ("--set", "gain=3:00", *SET[2:])


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


def test_a_reason_for_what_changes_nothing_is_said_not_to_be_kept(logged: Ask, say: Say, sheet: Path) -> None:
    """Whichever change it was meant for, and never of one that was written or is only asked for again."""
    assert logged("void", "club-amp", "3", "--reason", "wrong file", "--key", "k")["remark"] == ""
    before = logged("history", "club-amp")["events"]
    assert logged("void", "club-amp", "3", "--reason", "wrong file", "--key", "k")["remark"] == ""
    why = ("--reason", "mic fell")
    for words in (
        ("void", "club-amp", "3"),
        ("unvoid", "club-amp", "1"),
        ("amend", "club-amp", "2", "--reading", "6.5"),
        ("start", sheet),
        ("advisers", "club-amp", "--none"),
    ):
        assert logged(*words)["remark"] == ""
        assert "nothing was written and the reason was not kept" in logged(*words, *why)["remark"]
        assert "the reason was not kept" in " ".join(say(*words, *why).split())
    assert "  optimiser amend club-amp 3 --note TEXT" in say("void", "club-amp", "3", *why)
    assert logged("history", "club-amp")["events"] == before
    assert "nothing that should change" in logged("advisers", "club-amp", *why, code=2)["error"]["message"]


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
    assert [event["undone_by"] for event in told] == [None, 11, 10, 9, 8, 7, *[None] * 5]


def test_the_same_key_takes_one_change_back_only(logged: Ask) -> None:
    first = logged("undo", "club-amp", "--key", "k")
    assert logged("undo", "club-amp", "--key", "k") == first
    assert [trial["state"] for trial in logged("review", "club-amp")["trials"]] == ["measured", "measured", "void"]


def test_a_run_that_failed_is_put_down_once(logged: Ask, say: Say) -> None:
    logged("next", "club-amp")
    words = ("log", "club-amp", "--trial", "4", "--failed")
    once = logged(*words, "--note", "hum", "--reading", "3", "--key", "k")
    assert (once["state"], once["changed"]) == ("failed", ["state"])
    before = logged("history", "club-amp")["events"]
    assert (
        logged(*words) == logged(*words, "--note", "hum") == logged(*words, "--reading", "3") == {**once, "changed": []}
    )
    assert logged(*words, "--note", "hum", "--reading", "3", "--key", "k") == once
    assert "Trial 4 of club-amp is recorded as failed already." in say(*words)
    for more in (("--note", "a cable"), ("--reading", "4"), ("--set", "gain=16:55", *SET[2:])):
        error = logged(*words, *more, code=2)["error"]
        assert "failed already" in error["message"]
        assert "optimiser amend club-amp 4" in error["hint"]
    assert logged("history", "club-amp")["events"] == before
    assert logged("log", "club-amp", "--trial", "4", "--overall", "50")["state"] == "measured"


Stand = Callable[[], dict[str, Any]]


@pytest.fixture
def stand(ask: Ask, tmp_path: Path) -> Stand:
    """How a study stands: its trials and the goal reference, without what happened."""

    def _stand() -> dict[str, Any]:
        ask("export", "club-amp", tmp_path / "now.json")
        document = json.loads((tmp_path / "now.json").read_text())
        return {"trials": document["trials"], "goal": ask("studies")["studies"][0]["goal"]}

    return _stand


def test_a_goal_reference_is_taken_back_with_all_the_scores_that_it_brought(
    ask: Ask, say: Say, stand: Stand, sheet: Path, recordings: tuple[Path, Path]
) -> None:
    ask("start", sheet)
    for words in (SET, OTHER):
        ask("take", "club-amp", *recordings, *words)
    without = stand()
    ask("goal", "club-amp", recordings[0])
    first = stand()
    assert ask("goal", "club-amp", recordings[1])["rescored"] == [1, 2]
    assert stand()["trials"][0]["goal"] > first["trials"][0]["goal"]
    undone = ask("undo", "club-amp", "--key", "k")
    assert (undone["kind"], undone["event"], undone["trials"]) == ("goal recorded", 7, [1, 2])
    assert stand() == first
    assert ask("undo", "club-amp", "--key", "k") == undone
    assert "reference.wav is the goal again, and trials 1 and 2 have their earlier scores" in undone["shown"]
    said = " ".join(say("undo", "club-amp").split())
    assert "Taken back in club-amp: the goal reference reference.wav; there is none now" in said
    assert stand() == without
    assert ask("undo", "club-amp")["trial"] == 2
    told = ask("history", "club-amp")["events"]
    assert [event["part_of"] for event in told[3:9]] == [None, 4, 4, None, 7, 7]
    assert say("history", "club-amp").count("with 7 ") == 2


def test_an_older_store_tells_by_the_reason_what_a_goal_reference_brought(
    ask: Ask, stand: Stand, sheet: Path, recordings: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask("start", sheet)
    ask("take", "club-amp", *recordings, *SET)
    ask("take", "club-amp", *recordings, *OTHER)
    before = stand()
    ask("goal", "club-amp", recordings[0])
    ask("export", "club-amp", tmp_path / "study.json")
    document = json.loads((tmp_path / "study.json").read_text())
    for event in document["events"]:
        event["body"].pop("part_of", None)
    (tmp_path / "study.json").write_text(json.dumps(document))
    monkeypatch.setenv("OPTIMISER_STORE", f"sqlite:///{tmp_path / 'older.db'}")
    ask("import-study", tmp_path / "study.json")
    assert ask("undo", "club-amp")["trials"] == [1, 2]
    assert stand() == before


def test_a_trial_that_is_let_back_in_has_the_score_that_it_missed(
    ask: Ask, say: Say, stand: Stand, sheet: Path, recordings: tuple[Path, Path], store: Path
) -> None:
    """Struck out while the goal reference was recorded: it stands as if it had counted all the while."""
    ask("start", sheet)
    for words in (SET, OTHER):
        ask("take", "club-amp", *recordings, *words)
    ask("goal", "club-amp", recordings[0])
    first = stand()
    ask("undo", "club-amp")
    ask("void", "club-amp", 2)
    ask("goal", "club-amp", recordings[0])
    before = stand()
    assert before["trials"][1]["goal"] is None
    assert ask("unvoid", "club-amp", 2)["changed"] == ["articulation_kept", "goal", "goal_se", "state"]
    assert stand() == first
    assert ask("undo", "club-amp")["shown"] == "that trial 2 counts again; it is struck out now"
    assert stand() == before
    said = " ".join(say("unvoid", "club-amp", 2).split())
    assert f"recorded meanwhile: goal {first['trials'][1]['goal']:.1f}" in said
    assert [event["kind"] for event in ask("history", "club-amp", "--trial", 2)["events"]][-2:] == [
        "restored",
        "amended",
    ]
    assert ask("unvoid", "club-amp", 2)["changed"] == []

    ask("void", "club-amp", 2)
    ask("goal", "club-amp", recordings[1])
    ask("export", "club-amp", store.with_suffix(".json"))
    taken = json.loads(store.with_suffix(".json").read_text())["events"][2]["body"]
    capture = taken["details"]["capture"]["sha256"]
    (kept,) = [path for path in store.parent.rglob("*") if path.name.startswith(capture)]
    kept.rename(store.with_suffix(".away"))
    without = ask("unvoid", "club-amp", 2)
    assert (without["state"], without["changed"]) == ("measured", ["state"])
    assert "strike it out and let it count again" in without["remark"]
    ask("void", "club-amp", 2)
    store.with_suffix(".away").rename(kept)
    assert "goal" in ask("unvoid", "club-amp", 2)["changed"]


def test_asking_for_another_is_taken_back_whole(ask: Ask, say: Say, stand: Stand, sheet: Path) -> None:
    """The first proposal waits again, the other one no more, and its number is not given a second time."""
    ask("start", sheet)
    first = ask("next", "club-amp")
    before = stand()
    ask("next", "club-amp", "--other")
    said = " ".join(say("undo", "club-amp").split())
    assert "that trial 1 was put aside; it waits again, and trial 2 no more" in said
    assert stand() == before
    assert ask("next", "club-amp") == first
    assert ask("next", "club-amp", "--other")["proposals"][0]["trial"] == 3
    assert [event["kind"] for event in ask("history", "club-amp", "--trial", 2)["events"]] == ["proposed", "withdrawn"]
    assert ask("history", "club-amp", "--again", 2)["same"]
    ask("log", "club-amp", "--trial", 3, "--overall", 50)
    assert [ask("undo", "club-amp")["trial"] for _ in range(2)] == [3, 1]
    told = [event["kind"] for event in ask("history", "club-amp", "--trial", 3)["events"]]
    assert told == ["proposed", "measured", "unmade", "withdrawn"]


def test_a_take_that_is_taken_back_leaves_its_proposal_waiting(
    ask: Ask, say: Say, stand: Stand, sheet: Path, recordings: tuple[Path, Path]
) -> None:
    """The study stands as if it had not been handed over: the same is proposed, from where the chain stood then."""
    ask("start", sheet)
    ask("log", "club-amp", *SET, "--overall", 50)
    first, before = ask("next", "club-amp"), stand()
    for words in (
        ("take", "club-amp", *recordings),
        ("log", "club-amp", "--trial", 2, "--set", "gain=8:30", *SET[2:], "--overall", 60, "--note", "loud"),
        ("log", "club-amp", "--trial", 2, "--failed"),
    ):
        assert ask(*words)["trial"] == 2
        assert ask("undo", "club-amp", "--reason", "wrong file")["shown"] == "trial 2; it waits again"
        assert stand() == before
        assert ask("next", "club-amp") == first
    told = [event["kind"] for event in ask("history", "club-amp", "--trial", 2)["events"]]
    assert told == ["proposed", "measured", "unmade", "measured", "unmade", "failed", "unmade"]
    said = " ".join(say("history", "club-amp", "--trial", 2).split())
    assert "trial 2 as before it was made: it waits again, taking back event 4 (wrong file)" in said
    assert ask("take", "club-amp", *recordings, "--trial", 2)["state"] == "measured"
    assert [ask("undo", "club-amp")["trial"] for _ in range(2)] == [2, 1]
    assert "nothing to take back" in ask("undo", "club-amp", code=2)["error"]["message"]
    assert [trial["state"] for trial in ask("review", "club-amp")["trials"]] == ["void", "waiting"]


def test_a_take_made_again_gives_way_to_the_one_before(ask: Ask, stand: Stand, sheet: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    words = ("log", "club-amp", "--trial", 1)
    ask(*words, "--failed", "--note", "no line")
    failed = stand()
    ask(*words, "--overall", 50)
    ask("void", "club-amp", 1)
    void = stand()
    ask(*words, "--overall", 60)
    assert ask("undo", "club-amp")["shown"] == "trial 1; it is struck out as before"
    assert stand() == void
    assert ask("undo", "club-amp")["kind"] == "voided"
    assert ask("undo", "club-amp")["shown"] == "trial 1; it is failed as before"
    assert stand() == failed
    assert ask("undo", "club-amp")["shown"] == "trial 1; it waits again"


def test_a_table_of_notes_is_taken_back_whole_and_counts_again_when_it_is_taken_in_again(
    logged: Ask, say: Say, tmp_path: Path
) -> None:
    rows = "".join(f'{hour}:00,open,cap,"chugs,held chord,run,two-note",{hour}\n' for hour in (9, 10, 11))
    notes = tmp_path / "notes.csv"
    notes.write_text(f"gain,stage,mic,riffs,overall\n{rows}")

    def states() -> list[str]:
        return [trial["state"] for trial in logged("review", "club-amp")["trials"]]

    for turn in range(2):
        assert logged("import-notes", "club-amp", notes)["restored"] == ([4, 5, 6] if turn else [])
        assert f"trials 4 to 6{' count again' * turn}; they are struck out now" in say("undo", "club-amp")
        assert states() == ["measured"] * 3 + ["void"] * 3
    assert "trials 4 to 6 had been taken back, and count again" in " ".join(
        say("import-notes", "club-amp", notes).split()
    )
    logged("void", "club-amp", "5", "--reason", "wrong amp")
    assert logged("import-notes", "club-amp", notes)["restored"] == [], "that one was struck out for itself"
    assert states() == ["measured"] * 4 + ["void", "measured"]


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


def test_only_trials_that_were_made_are_said_to_lie_outside_a_new_sheet(logged: Ask, say: Say, sheet: Path) -> None:
    """Three at 1:00, one that failed, one put aside and one that waits; then the range is narrowed and a riff joins."""
    logged("log", "club-amp", *OTHER, "--failed")
    for words in ((), ("--other",), ("--other",)):
        logged("next", "club-amp", "--lock", "gain=1:00", *words)
    narrow = (
        sheet.read_text().replace('high = "17:00"', 'high = "12:00"').replace('"two-note"]', '"two-note", "slide"]')
    )
    sheet.write_text(narrow + '[settings.bias]\nkind = "knob"\nlow = 0\nhigh = 1\n[before]\nbias = 0.5\n')
    said = " ".join(say("start", sheet).split())
    assert "trials 1 to 4, gain outside its range; kept" in said
    assert "trials 1 to 4, 4 riffs where 5 are played now; kept" in said
    assert "trials 1 to 4 taken to have bias at 0.5" in said
    assert "rials 5" not in said


def test_riffs_are_in_another_order_only_when_those_that_stay_are(logged: Ask, sheet: Path) -> None:
    sheet.write_text(sheet.read_text().replace('"two-note"]', '"two-note", "slide"]'))
    logged("start", sheet)

    def changes(*riffs: str) -> str:
        logged("log", "club-amp", *SET[:-1], f"riffs={','.join(riffs)}", "--overall", "50")
        number = logged("review", "club-amp")["trials"][-1]["trial"]
        logged("amend", "club-amp", number, "--set", "riffs=chugs,held chord,run,two-note")
        told: str = logged("history", "club-amp", "--trial", number)["events"][-1]["what"]
        return told

    assert changes("chugs", "held chord", "run", "two-note", "slide") == "riffs without slide"
    assert changes("chugs", "run", "two-note") == "riffs with held chord"
    assert changes("held chord", "chugs", "run", "two-note") == "riffs in another order"
    assert (
        changes("slide", "run", "chugs") == "riffs in another order and with held chord and two-note and without slide"
    )


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


def test_a_riff_may_go_where_only_proposals_and_struck_out_trials_play_it(
    ask: Ask, say: Say, stand: Stand, sheet: Path
) -> None:
    """What waits and needs it waits no more, with the same step and back with it; a trial that counts is in the way."""
    without = sheet.read_text()
    with_slide = without.replace('"two-note"]', '"two-note", "slide"]')
    slide = (*SET[:-1], "riffs=slide,chugs,held chord,run,two-note")
    ask("start", sheet)
    ask("log", "club-amp", *SET, "--overall", 50)
    before = stand()
    sheet.write_text(with_slide)
    ask("start", sheet)
    ask("log", "club-amp", *slide, "--overall", 60)
    waits = ask("next", "club-amp")["proposals"][0]
    assert "slide" in waits["settings"]["riffs"]
    sheet.write_text(without)
    counts = ask("start", sheet, code=3)["error"]["message"]
    assert "trial 2 at slide, chugs, held chord, run, two-note" in counts
    assert "3" not in counts.split(", expected")[0]
    ask("void", "club-amp", 2)
    there = stand()

    (gone,) = ask("start", sheet, "--reason", "it hums")["withdrawn"]
    assert (gone["trial"], "riffs at" in gone["reason"]) == (3, True)
    told = ask("history", "club-amp")["events"][-2:]
    assert [(event["kind"], event["trial"]) for event in told] == [("withdrawn", 3), ("sheet changed", None)]
    assert told[1]["part_of"] == told[0]["event"]
    struck = stand()["trials"][1]
    assert (struck["state"], struck["outside"], struck["settings"]["gain"]) == ("void", ["riffs"], 13.0)
    refused = ask("unvoid", "club-amp", 2, code=3)["error"]
    assert refused["message"].endswith("cannot count again: the sheet cannot read its riffs any more.")
    asked = ask("next", "club-amp")["proposals"][0]
    assert (asked["trial"], asked["since_trial"]) == (4, None), "where the chain stands, the sheet cannot tell"
    assert "slide" not in asked["settings"]["riffs"]
    reel = ask("reel", "club-amp", "--kind", "learning", "--trial", 2, "--out", "/dev/null", code=2)["error"]
    assert reel["message"] == "The sheet no longer has the riffs that trial 2 plays."

    said = ask("undo", "club-amp")["shown"]
    assert said == "the newest sheet; the one before stands again, and trial 3 waits again"
    assert stand()["trials"][:3] == there["trials"]
    assert ask("history", "club-amp", "--again", 3)["same"]
    assert ask("unvoid", "club-amp", 2)["settings"]["riffs"][0] == "slide"
    assert ask("undo", "club-amp")["kind"] == "restored"
    assert [ask("undo", "club-amp")["kind"] for _ in range(2)] == ["voided", "measured"]
    said = " ".join(say("undo", "club-amp").split())
    assert "the one before stands again, and trial 3 waits no more" in said
    assert stand()["trials"][0] == before["trials"][0]
    assert [(trial["trial"], trial["state"]) for trial in stand()["trials"]] == [
        (1, "measured"),
        (2, "void"),
        (4, "waiting"),
    ]


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
    assert "put right: reading" in say("amend", "club-amp", "1", "--reading", "6")
    assert "struck out" in say("void", "club-amp", "1")
    lines = say("history", "club-amp").splitlines()
    assert len(lines) >= 6
    assert all(len(line) <= 80 for line in lines)
    assert run(["history", "club-amp"]) == 0


def test_what_changed_is_said_in_words_and_rounded_figures(
    ask: Ask, say: Say, sheet: Path, recordings: tuple[Path, Path]
) -> None:
    ask("start", sheet)
    taken = ask("take", "club-amp", *recordings, *SET, "--reading", "6.5")
    ask("goal", "club-amp", recordings[0])
    ask("goal", "club-amp", recordings[1])
    ask("amend", "club-amp", "1", "--ear", "7.5", "--note", "loud")
    what = [event["what"] for event in ask("history", "club-amp")["events"]]
    assert what[1] == f"match {taken['match']:.1f}, reading 6.5"
    assert what[3].startswith("goal nothing -> ")
    assert what[5].startswith(f"{what[3].replace('nothing -> ', '')} -> 100.0")
    assert what[6] == "ear rating nothing -> 7.5, note nothing -> loud"
    said = say("history", "club-amp")
    assert re.search(r"[a-z]_[a-z]|\d\.\d\d", said) is None


def test_a_trial_that_was_struck_out_keeps_what_the_sheet_before_cannot_read(logged: Ask, sheet: Path) -> None:
    """It stands in the way of no version, and has its settings again with the sheet that knows them."""
    text = sheet.read_text() + '[settings.presence]\nkind = "knob"\nlow = 0\nhigh = 10\n[before]\npresence = 5\n'
    sheet.write_text(text)
    logged("start", str(sheet))
    logged("log", "club-amp", *SET, "--set", "presence=7", "--overall", "70")
    assert [logged("undo", "club-amp")["kind"] for _ in range(2)] == ["measured", "sheet changed"]
    assert "presence" not in logged("review", "club-amp")["trials"][3]["settings"]
    assert "its presence any more" in logged("unvoid", "club-amp", "4", code=3)["error"]["message"]
    logged("start", str(sheet))
    assert logged("unvoid", "club-amp", "4")["settings"]["presence"] == 7.0
    sheet.write_text(text[: text.index("[settings.presence]")])
    assert "trials 1 to 3 at 5; trial 4 at 7" in logged("start", str(sheet), code=3)["error"]["message"]


def test_a_trial_s_state_and_what_happened_to_it_have_one_word_each(logged: Ask, say: Say) -> None:
    """Struck out and put aside, in the terminal as on the page and in the report; JSON keeps its kinds and states."""
    logged("void", "club-amp", "2")
    logged("unvoid", "club-amp", "2")
    logged("amend", "club-amp", "1", "--reading", "6")
    logged("next", "club-amp")
    logged("next", "club-amp", "--other")
    said = say("history", "club-amp")
    words = ("struck out", "counts again", "put right: reading 7 -> 6", "put aside (another was asked for)")
    for number, word in zip((2, 2, 1, 4), words, strict=True):
        assert f"trial {number} {word}" in said
    assert not {"voided", "declined", "amended"} & set(re.findall(r"\w+", said))
    kinds = [event["kind"] for event in logged("history", "club-amp")["events"]]
    assert kinds[-6:] == ["voided", "restored", "amended", "proposed", "declined", "proposed"]
    assert "is put aside and has nothing to mend" in logged("void", "club-amp", "4", code=2)["error"]["message"]


@pytest.mark.parametrize(
    ("words", "told"), [(("--overall", "70"), "no overall."), (("--ear", "7", "--overall", "70"), "and no ear rating.")]
)
def test_a_run_that_failed_has_no_score_however_it_is_told(logged: Ask, words: tuple[str, ...], told: str) -> None:
    """Not when it is put down, not when it is put right, and not in a table; a reading may well go with a failure."""
    before = logged("export", "club-amp", "/dev/null")["events"]
    refused = logged("log", "club-amp", *SET, "--failed", *words, code=2)["error"]
    assert refused["message"].startswith("A run that failed gave no capture")
    assert refused["message"].endswith(told)
    assert logged("log", "club-amp", *SET, "--failed", "--reading", "3.5")["reading"] == 3.5
    refused = logged("amend", "club-amp", "4", *words, code=2)["error"]
    assert refused["message"].endswith(told)
    assert "optimiser log club-amp --trial 4" in refused["hint"]
    assert logged("amend", "club-amp", "4", "--reading", "3")["changed"] == ["reading"]
    assert logged("export", "club-amp", "/dev/null")["events"] == before + 2
    assert logged("log", "club-amp", "--trial", "4", *words)["state"] == "measured"
