"""A hunt in a terminal: start, ask, hand over two recordings, ask again, look."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from optimiser.cli import run

Ask = Callable[..., Any]
Say = Callable[..., str]


def as_set(gain: str, stage: str, mic: str) -> list[str]:
    settings = (f"gain={gain}", f"stage={stage}", f"mic={mic}", "riffs=run,chugs,two-note,held chord")
    return [word for setting in settings for word in ("--set", setting)]


def test_a_hunt_from_sheet_to_review(ask: Ask, sheet: Path, recordings: tuple[Path, Path], tmp_path: Path) -> None:
    assert ask("start", sheet)["new"]
    assert ask("start", sheet) == {**ask("start", sheet), "new": False, "changed": False}
    ask("goal", "club-amp", recordings[0])

    first = ask("next", "club-amp")
    assert ask("next", "club-amp") == first
    proposal = first["proposals"][0]
    assert set(proposal["settings"]) == {"gain", "stage", "mic", "riffs"}
    assert 8 <= proposal["settings"]["gain"] <= 17
    assert sorted(proposal["settings"]["riffs"]) == ["chugs", "held chord", "run", "two-note"]

    trial = ask("take", "club-amp", *recordings, "--reading", 6.5, "--ear", 7)
    assert (trial["trial"], trial["state"], trial["reading"], trial["ear"]) == (1, "measured", 6.5, 7.0)
    assert trial["settings"] == proposal["settings"]
    assert 0 < trial["match"] < 100
    assert trial["overall"] is not None

    second = ask("next", "club-amp")["proposals"][0]
    assert second["trial"] == 2
    assert second["settings"] != proposal["settings"]
    ask("log", "club-amp", "--failed")
    trial = ask(
        "take",
        "club-amp",
        *recordings,
        "--set",
        "gain=7:30",
        "--set",
        "stage=open",
        "--set",
        "mic=rim",
        "--set",
        "riffs=run,chugs,two-note,held chord",
    )
    assert trial["trial"] == 3
    assert trial["outside"] == ["gain"]

    predicted = ask(
        "predict",
        "club-amp",
        "--set",
        "gain=1:30",
        "--set",
        "stage=open",
        "--set",
        "mic=cap",
        "--set",
        "riffs=run,chugs,two-note,held chord",
    )
    assert predicted["se"] >= 0
    review = ask("review", "club-amp", "--out", tmp_path / "review")
    assert review["best"]["trial"] in (1, 3)
    assert (tmp_path / "review" / "report.html").read_text().startswith("<!")
    exported = tmp_path / "study.json"
    ask("export", "club-amp", exported)
    document = json.loads(exported.read_text())
    assert [trial["state"] for trial in document["trials"]] == ["measured", "failed", "measured"]
    assert {"sheet", "trials", "events"} <= set(document)

    other = f"sqlite:///{tmp_path / 'other.db'}"
    ask("import-study", exported, "--store", other)
    assert ask("studies", "--store", other)["studies"] == ask("studies")["studies"]
    ask("export", "club-amp", tmp_path / "again.json", "--store", other)
    assert (tmp_path / "again.json").read_text() == exported.read_text()


def test_lines_for_people_fit_and_name_the_next_command(say: Say, sheet: Path, recordings: tuple[Path, Path]) -> None:
    assert "optimiser start SHEET.toml" in say("studies")
    assert "optimiser next club-amp" in say("start", sheet)
    assert "optimiser take club-amp" in say("next", "club-amp")
    assert "optimiser next club-amp" in say("take", "club-amp", *recordings, "--reading", 4)
    said = say("next", "club-amp")
    assert "Change:" in said
    assert " -> " in said or "in another order" in said
    assert "club-amp" in say("studies")
    assert "Match" in say("measure", *recordings)
    assert "What mattered" in say("review", "club-amp")
    assert "94 dBA" in say("plan", "club-amp", "--hours", 1, "--spl", 94)


def test_a_session_at_a_glance_adds_up(ask: Ask, say: Say, sheet: Path) -> None:
    """Each trial begins when those before it are done, as the minutes of `next` say of the same trials."""
    ask("start", sheet)
    told = ask("plan", "club-amp", "--hours", 1)
    said = say("plan", "club-amp", "--hours", 1)
    begins = [row.split()[2] for row in said.splitlines() if row.startswith("trial ")]
    each = 5.0
    handling = [proposal["effort_minutes"] for proposal in told["proposals"]]
    spent = [each * place + sum(handling[:place]) for place in range(len(handling))]
    assert begins == [f"{round(minutes) // 60}:{round(minutes) % 60:02d}" for minutes in spent]
    assert told["minutes"] == pytest.approx(each * len(handling) + sum(handling))
    assert f"{len(begins)} trials, handling included" in said
    assert told["minutes"] <= 60.0


def test_what_is_held_and_put_aside_is_said(ask: Ask, say: Say, sheet: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp", "--count", 2)
    said = say("next", "club-amp", "--lock", "gain=1:07")
    assert "Put aside: trials 1 and 2 (asked again with other locks)" in said
    assert "Held:     gain, as you asked" in said


def test_what_mattered_is_not_known_after_one_trial(ask: Ask, say: Say, sheet: Path) -> None:
    ask("start", sheet)
    ask("log", "club-amp", *as_set("9:00", "open", "cap"), "--overall", 40)
    lines = say("review", "club-amp").split("90 % interval):\n")[1].splitlines()[:4]
    assert {line.split()[0] for line in lines} == {"gain", "stage", "mic", "riffs"}
    assert all(line.endswith(", not known yet") and "#" not in line for line in lines)


def test_another_proposal_locks_and_batches(ask: Ask, sheet: Path) -> None:
    ask("start", sheet)
    first = ask("next", "club-amp")["proposals"][0]
    other = ask("next", "club-amp", "--other")["proposals"][0]
    assert other["trial"] == first["trial"] + 1
    assert other["settings"] != first["settings"]
    locked = ask("next", "club-amp", "--lock", "gain=1:00", "--count", 3)["proposals"]
    assert len(locked) == 3
    assert {proposal["settings"]["gain"] for proposal in locked} == {13.0}
    assert len({json.dumps(proposal["settings"], sort_keys=True) for proposal in locked}) == 3
    assert len(ask("next", "club-amp", "--minutes", 15)["proposals"]) == 2


def test_a_trial_that_is_measured_is_made_again_as_the_hint_says(
    ask: Ask, sheet: Path, recordings: tuple[Path, Path]
) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    first = ask("take", "club-amp", *recordings, "--reading", 4)
    error = ask("take", "club-amp", *recordings, "--trial", 1, "--reading", 6, code=2)["error"]
    assert error["message"] == "Trial 1 of club-amp is measured already."
    void, take = "optimiser void club-amp 1", "optimiser take club-amp REFERENCE.wav CAPTURE.wav --trial 1"
    assert f"{void}, then {take}." in error["hint"]
    ask(*void.split()[1:])
    again = ask(*take.replace("REFERENCE.wav CAPTURE.wav", "{} {}").format(*recordings).split()[1:], "--reading", 6)
    assert (again["trial"], again["settings"], again["reading"]) == (1, first["settings"], 6)
    assert ask("next", "club-amp")["proposals"][0]["trial"] == 2


@pytest.mark.parametrize("command", ["take", "log"])
def test_what_was_handed_over_is_taken_back_as_its_last_lines_say(
    ask: Ask, say: Say, sheet: Path, recordings: tuple[Path, Path], command: str
) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    words = recordings if command == "take" else ("--overall", 50)
    *_, back, _ = say(command, "club-amp", *words).splitlines()
    assert back == "To take it back: optimiser undo club-amp"
    ask(*back.split("optimiser ")[1].split())
    assert ask("studies")["studies"][0]["measured"] == 0


@pytest.mark.parametrize(
    ("study", "words", "code"),
    [("nobody", [], 4), ("club-amp", ["--ear", "11"], 3), ("club-amp", ["--trial", "9"], 4)],
)
def test_nothing_is_measured_before_all_else_is_right(
    say: Say, sheet: Path, recordings: tuple[Path, Path], capsys: pytest.CaptureFixture[str],
    study: str, words: list[str], code: int,
) -> None:  # fmt: skip
    say("start", sheet)
    say("next", "club-amp")
    assert "measuring" not in say("take", study, *recordings, *words, code=code)
    assert run(["take", "club-amp", *map(str, recordings)]) == 0
    assert capsys.readouterr().err == "measuring\n"


def test_what_was_asked_and_what_was_set_are_kept_apart(ask: Ask, sheet: Path) -> None:
    ask("start", sheet)
    asked = ask("next", "club-amp")["proposals"][0]["settings"]
    trial = ask("log", "club-amp", "--trial", 1, *as_set("16:50", "full", "rim"), "--overall", 55)
    assert trial["asked"] == asked
    assert trial["settings"]["stage"] == "full"


def test_the_same_key_twice_is_one_trial(ask: Ask, sheet: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    once = ask("log", "club-amp", "--trial", 1, "--overall", 50, "--key", "abc")
    assert ask("log", "club-amp", "--trial", 1, "--overall", 50, "--key", "abc") == once
    assert ask("studies")["studies"][0]["measured"] == 1


def test_a_goal_recorded_late_scores_the_takes_before_it(ask: Ask, sheet: Path, recordings: tuple[Path, Path]) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    assert ask("take", "club-amp", *recordings)["goal"] is None
    assert ask("goal", "club-amp", recordings[0])["rescored"] == [1]
    exported = sheet.parent / "study.json"
    ask("export", "club-amp", exported)
    assert json.loads(exported.read_text())["trials"][0]["goal"] > 0


def test_a_new_version_of_the_sheet_keeps_the_trials(ask: Ask, sheet: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    ask("log", "club-amp", "--overall", 50)
    sheet.write_text(sheet.read_text().replace('low = "8:00"', 'low = "9:00"'))
    assert ask("start", sheet)["changed"]
    assert ask("studies")["studies"][0]["measured"] == 1


def test_reels_are_written_and_the_proof_reel_is_remembered(ask: Ask, sheet: Path, tmp_path: Path) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    proof = ask("reel", "club-amp", "--kind", "proof", "--out", tmp_path / "proof.wav")
    learning = ask("reel", "club-amp", "--kind", "learning", "--out", tmp_path / "learning.wav")
    assert learning["reel"]["riffs"] == ask("next", "club-amp")["proposals"][0]["settings"]["riffs"]
    assert 10 < proof["reel"]["seconds"] < 40
    assert not set(ask("reel", "club-amp", "--kind", "verify", "--out", tmp_path / "v.wav")["reel"]["riffs"]) & set(
        proof["reel"]["riffs"]
    )
    take = ask("take", "club-amp", tmp_path / "proof.wav", tmp_path / "proof.wav")
    assert take["match"] > 99


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["next", "nobody"], 4),
        (["take", "club-amp", "missing.wav", "missing.wav", "--trial", "1"], 4),
        (["take", "club-amp", "{sheet}", "{sheet}", "--trial", "1"], 3),
        (["start", "missing.toml"], 4),
        (["start", "{garbage}"], 3),
        (["log", "club-amp", "--trial", "9", "--overall", "50"], 4),
        (["log", "club-amp", "--trial", "1"], 3),
        (["log", "club-amp", "--trial", "1", "--ear", "11"], 3),
        (["log", "club-amp", "--set", "gain=25:00", "--overall", "1"], 3),
        (["log", "club-amp", "--set", "gain", "--overall", "1"], 2),
        (["next", "club-amp", "--count", "0"], 2),
        (["next", "club-amp", "--lock", "volume=3"], 3),
        (["reel", "club-amp", "--kind", "sung", "--out", "x.wav"], 2),
        (["dance"], 2),
        (["next"], 2),
        (["next", "club-amp", "--count", "many"], 2),
        (["export", "club-amp", "{folder}"], 5),
        (["import-study", "{sheet}"], 3),
        (["studies", "--store", "sqlite:///{garbage}"], 5),
        (["studies", "--store", "oracle://nowhere/x"], 2),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    words: list[str], code: int, ask: Ask, say: Say, sheet: Path, tmp_path: Path
) -> None:
    garbage = tmp_path / "garbage"
    garbage.write_bytes(bytes(range(256)) * 20)
    ask("start", sheet)
    ask("next", "club-amp")
    before = ask("studies")
    places = {"sheet": sheet, "garbage": garbage, "folder": tmp_path}
    filled = [word.format(**places) for word in words]
    error = ask(*filled, code=code)["error"]
    assert error["code"]
    assert error["message"]
    assert error["hint"] or "\n" in error["message"] or error["code"] in ("bad_sheet", "bad_settings")
    assert say(*filled, code=code).strip()
    assert "measuring" not in say(*filled, code=code)
    assert garbage.read_bytes() == bytes(range(256)) * 20
    assert ask("studies") == before


def test_separate_processes_continue_one_study(sheet: Path, recordings: tuple[Path, Path]) -> None:
    def call(*words: object) -> Any:
        done = subprocess.run(
            [sys.executable, "-m", "optimiser", *map(str, words), "--json"], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return json.loads(done.stdout)

    call("start", sheet)
    first = call("next", "club-amp")
    assert call("next", "club-amp") == first
    assert call("take", "club-amp", *recordings)["trial"] == 1
    assert call("next", "club-amp")["proposals"][0]["trial"] == 2
    assert call("studies")["studies"][0]["measured"] == 1


def test_a_store_that_somebody_else_writes_to_is_busy(ask: Ask, sheet: Path, store: Path) -> None:
    ask("start", sheet)
    holder = (
        "import sys, time; from optimiser.storage import open_store\n"
        "with open_store(sys.argv[1]) as store, store.writing():\n"
        "    print('held', flush=True); time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", holder, str(store)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        error = ask("next", "club-amp", code=6)["error"]
        assert ask("studies")["studies"][0]["measured"] == 0
        process.kill()
    assert error["code"] == "busy"
    assert error["hint"]
    assert ask("next", "club-amp")["proposals"][0]["trial"] == 1


def test_a_dry_reel_where_a_recording_was_meant_is_told(
    ask: Ask, say: Say, sheet: Path, recordings: tuple[Path, Path], tmp_path: Path
) -> None:
    """The very file, and what an audio editor makes of it: quieter, later, 16 bits, in two channels."""
    ask("start", sheet)
    dry, saved = tmp_path / "proof.wav", tmp_path / "saved.wav"
    ask("reel", "club-amp", "--out", dry)
    samples, rate_hz = soundfile.read(dry)
    soundfile.write(saved, np.pad(0.3 * samples, (4000, 0))[:, None] * [1.0, 0.9], rate_hz, subtype="PCM_16")
    ask("next", "club-amp")
    taken = ask("take", "club-amp", saved, dry)
    sides = [f"The {side} is the dry proof reel itself, no recording of it." for side in ("reference", "capture")]
    assert [any(warning.startswith(side) for warning in taken["warnings"]) for side in sides] == [True, True]
    ask("next", "club-amp")
    assert not any("dry" in warning for warning in ask("take", "club-amp", *recordings)["warnings"])
    ask("void", "club-amp", 1)
    wanted = ask("goal", "club-amp", recordings[0])
    assert [warning.partition(" and ")[0] for warning in wanted["warnings"]] == ["The goal reference lasts 4.0 s"]
    ask("void", "club-amp", 2)
    assert "Warning:  The goal reference is the dry proof reel itself" in say("goal", "club-amp", dry)


def test_a_dry_reel_is_known_after_another_was_made(ask: Ask, sheet: Path, tmp_path: Path) -> None:
    ask("start", sheet)
    dry, quieter, own = tmp_path / "proof.wav", tmp_path / "quieter.wav", tmp_path / "own"
    own.mkdir()
    ask("reel", "club-amp", "--out", dry)
    rng = np.random.default_rng(1)
    for riff in ("chugs", "held chord", "run", "two-note"):
        soundfile.write(own / f"{riff}.wav", 0.1 * rng.normal(size=5 * 48000), 48000)
    ask("reel", "club-amp", "--out", tmp_path / "later.wav", "--riffs", own)
    samples, rate_hz = soundfile.read(dry)
    soundfile.write(quieter, 0.5 * samples, rate_hz, subtype="PCM_24")
    ask("next", "club-amp")
    warnings = ask("take", "club-amp", quieter, dry)["warnings"]
    assert any(warning.startswith("The capture is the dry proof reel itself") for warning in warnings)


def test_files_that_were_handed_over_before_are_told(ask: Ask, sheet: Path, recordings: tuple[Path, Path]) -> None:
    ask("start", sheet)
    ask("next", "club-amp")
    assert ask("take", "club-amp", *recordings, "--reading", "6,5")["reading"] == 6.5
    ask("next", "club-amp")
    again = ask("take", "club-amp", *recordings)
    assert "The capture is the very file of trial 1." in again["warnings"][-1]
    ask("void", "club-amp", 1)
    ask("next", "club-amp")
    alone = ask("take", "club-amp", recordings[0], recordings[0])
    assert alone["warnings"][-1] == "Reference and capture are the same file, so nothing was compared."
    assert "is no number; write it as in 6.5" in ask("log", "club-amp", "--ear", "six", code=2)["error"]["message"]
