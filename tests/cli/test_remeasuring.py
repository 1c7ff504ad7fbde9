"""Takes that an older version of the measure scored are measured again, each once, and nothing is lost."""

import json
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from optimiser.rehearsal import LEARNING_RIFFS, REHEARSAL_SHEET, RehearsalAmp, play_riff
from optimiser.scoring import MEASURE_VERSION
from optimiser.space import Settings
from optimiser.storage import open_store
from optimiser.study import Event
from optimiser.workflow import Answer, Stamp, record_goal, start, take

Ask = Callable[..., Any]
Say = Callable[..., str]

OLDER = "3"
GAINS = (10.0, 11.5, 12.5, 13.0)
STAMP = Stamp(datetime(2026, 3, 2, 10, 0, tzinfo=UTC), "tester")
NAME = "rehearsal"


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with four takes on the rehearsal amp, and the same study as an older version left it, called old."""
    folder = tmp_path_factory.mktemp("shelf")
    amp = RehearsalAmp()
    proof = np.concatenate([np.zeros(4_800), *(play_riff(name)[:60_000] for name in LEARNING_RIFFS[:2])])
    lessons = [(name, play_riff(name)[:36_000]) for name in LEARNING_RIFFS]
    soundfile.write(folder / "goal.wav", amp.goal_reference(proof, seed=1), 48_000, subtype="PCM_24")
    with open_store(f"sqlite:///{folder / 'optimiser.db'}") as store:
        start(store, REHEARSAL_SHEET, STAMP)
        record_goal(store, NAME, folder / "goal.wav", STAMP, lambda _: None)
        for number, gain in enumerate(GAINS, start=1):
            settings: Settings = {"gain": gain, "stage": "pushed", "mic": "cap edge", "riffs": list(LEARNING_RIFFS)}
            made = amp.take(settings, lessons, proof, seed=number)
            paths = folder / f"reference-{number}.wav", folder / f"capture-{number}.wav"
            for path, samples in zip(paths, (made.reference, made.capture), strict=True):
                soundfile.write(path, samples, 48_000, subtype="PCM_24")
            take(store, NAME, paths, Answer(settings=settings, figures={"reading": made.reading}), STAMP)
        first, *others = (_aged(event) for event in store.events(NAME))
        with store.writing():
            store.start("old", first)
            store.append("old", *others)
    return folder


def _aged(event: Event) -> Event:
    """An event as the older version would have written it: other scores, and details that it did not have yet."""
    body = json.loads(json.dumps(event.body))
    if event.kind == "started":
        body["sheet"]["study"]["name"] = "old"
    if event.kind == "measured":
        body["trial"] |= {"match": 40.0 + body["trial"]["trial"], "goal": 30.0, "articulation_kept": 0.5}
        body["details"] |= {"measure_version": OLDER, "advice": ["an older advice"], "parts_without": []}
        del body["details"]["sweep"]
    return replace(event, body=body, number=0)


@pytest.fixture(autouse=True)
def filled(shelf: Path, store: Path) -> None:
    """The store of this test, with a copy of everything on the shelf."""
    shutil.copy(shelf / "optimiser.db", store)
    shutil.copytree(shelf / "optimiser.db.audio", f"{store}.audio")


def trials_of(ask: Ask, study: str, tmp_path: Path) -> list[dict[str, Any]]:
    """Every trial with all that is shown of it, but for the study's name."""
    ask("export", study, tmp_path / f"{study}.json")
    trials: list[dict[str, Any]] = json.loads((tmp_path / f"{study}.json").read_text())["trials"]
    return [{name: entry for name, entry in trial.items() if name != "study"} for trial in trials]


def test_a_goal_that_scores_takes_of_an_older_measure_says_so(ask: Ask, shelf: Path) -> None:
    told = ask("goal", "old", shelf / "goal.wav")
    assert told["rescored"] == [1, 2, 3, 4]
    (warning,) = told["warnings"]
    assert warning.startswith(f"The goal part of trials 1 to 4 was scored by version {MEASURE_VERSION} of the measure")
    assert ask("goal", NAME, shelf / "goal.wav")["warnings"] == []


def recording(store: Path, tmp_path: Path, number: int) -> Path:
    """Where a capture of the study called old lies."""
    events = json.loads((tmp_path / "old.json").read_text())["events"]
    made = [event for event in events if event["kind"] == "measured"]
    sha256: str = made[number - 1]["body"]["details"]["capture"]["sha256"]
    return Path(f"{store}.audio") / sha256[:2] / sha256


def test_old_scores_become_what_a_take_gives_today_and_can_be_taken_back(ask: Ask, tmp_path: Path) -> None:
    before, today = trials_of(ask, "old", tmp_path), trials_of(ask, NAME, tmp_path)
    assert ask("review", "old")["of_other_versions"] == [1, 2, 3, 4]
    told = ask("remeasure", "--jobs", 1)
    assert (told["run"], told["takes"], told["left_out"]) == (4, 8, [])
    assert trials_of(ask, "old", tmp_path) == today != before
    assert ask("review", "old")["of_other_versions"] == []
    (study,) = told["studies"]
    moved = [abs(move["moved"]) for move in study["moves"]]
    assert moved == sorted(moved, reverse=True)
    for move in study["moves"]:
        was, now = before[move["trial"] - 1], today[move["trial"] - 1]
        assert (move["match"], move["overall"]) == ([was["match"], now["match"]], [was["overall"], now["overall"]])
    assert study["recommended"]["changed"] == (study["recommended"]["before"] != study["recommended"]["after"])
    event = ask("history", "old", "--trial", 2)["events"][-1]
    assert (event["kind"], event["reason"]) == ("remeasured", f"measured again, version {OLDER} -> {MEASURE_VERSION}")
    assert f"match 42.0 -> {today[1]['match']:.1f}" in event["what"]
    assert ask("undo", "old")["trials"] == [1, 2, 3, 4]
    assert trials_of(ask, "old", tmp_path) == before
    assert ask("remeasure", "old", "--jobs", 1)["run"] == 4
    assert trials_of(ask, "old", tmp_path) == today


def test_a_change_after_measuring_again_is_taken_back_alone(ask: Ask, tmp_path: Path) -> None:
    ask("remeasure", "old", "--jobs", 1)
    today = trials_of(ask, "old", tmp_path)
    ask("amend", "old", 2, "--reading", 3)
    assert ask("undo", "old")["kind"] == "amended"
    assert trials_of(ask, "old", tmp_path) == today
    assert ask("undo", "old")["kind"] == "remeasured"


def test_killed_it_goes_on_where_it_stood(ask: Ask, tmp_path: Path) -> None:
    words = [sys.executable, "-m", "optimiser", "remeasure", "old", "--jobs", "1"]
    with subprocess.Popen(words, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True) as process:
        assert process.stderr is not None
        assert process.stderr.readline().startswith("1 of 4: trial 1 of old")
        process.send_signal(signal.SIGKILL)
    stored = sum(event["kind"] == "remeasured" for event in ask("history", "old")["events"])
    assert 1 <= stored < 4
    told = ask("remeasure", "old", "--jobs", 1)
    assert told["run"] == 4 - stored
    assert len(told["studies"][0]["moves"]) == 4
    kinds = [event["kind"] for event in ask("history", "old")["events"]]
    assert kinds.count("remeasured") == 4
    assert trials_of(ask, "old", tmp_path) == trials_of(ask, NAME, tmp_path)


def test_parts_measured_elsewhere_and_merged_are_one_run(ask: Ask, say: Say, tmp_path: Path) -> None:
    before, today = trials_of(ask, "old", tmp_path), trials_of(ask, NAME, tmp_path)
    files = [tmp_path / "first.jsonl", tmp_path / "second.jsonl"]
    for part, file in enumerate(files, start=1):
        assert ask("remeasure", "--shard", f"{part}/2", "--out", file, "--jobs", 2)["run"] == 2
    assert trials_of(ask, "old", tmp_path) == before
    assert ask("remeasure", "--shard", "2/2", "--out", files[1])["run"] == 0
    assert ask("remeasure", "--merge", *files)["run"] == 4
    assert trials_of(ask, "old", tmp_path) == today
    again = ask("remeasure", "--merge", *files)
    assert (again["run"], again["known"], again["left_out"]) == (0, 4, [])
    assert "4 had been taken in before" in say("remeasure", "--merge", *files)


def test_a_torn_file_is_gone_on_with(ask: Ask, tmp_path: Path) -> None:
    """Killed while the last line was written."""
    file = tmp_path / "results.jsonl"
    ask("remeasure", "--out", file, "--jobs", 1)
    file.write_text(file.read_text()[:-200])
    assert ask("remeasure", "--out", file, "--jobs", 1)["run"] == 1
    merged = ask("remeasure", "--merge", file)
    assert merged["run"] == 4
    assert [left["why"] for left in merged["left_out"]] == ["results.jsonl line 4 is damaged."]
    assert trials_of(ask, "old", tmp_path) == trials_of(ask, NAME, tmp_path)


def test_what_does_not_belong_is_not_merged(ask: Ask, sheet: Path, tmp_path: Path, shelf: Path) -> None:
    """A figure changed by hand; another goal since; a study that this store does not have."""
    before = trials_of(ask, "old", tmp_path)
    file = tmp_path / "results.jsonl"
    ask("remeasure", "--out", file, "--jobs", 1)
    whole = file.read_text()
    line = json.loads(whole.splitlines()[0])
    line["scores"]["match"] = 100.0
    file.write_text(whole + json.dumps(line) + "\n")
    ask("goal", "old", shelf / "reference-1.wav")
    told = ask("remeasure", "--merge", file)
    assert told["run"] == 0
    assert sorted({left["why"] for left in told["left_out"]}) == [
        "It was measured with other recordings, another goal reference or another reel.",
        "results.jsonl line 5 is damaged.",
    ]
    assert [trial["match"] for trial in trials_of(ask, "old", tmp_path)] == [trial["match"] for trial in before]
    other = f"sqlite:///{tmp_path / 'other.db'}"
    ask("start", sheet, "--store", other)
    told = ask("remeasure", "--merge", file, "--store", other)
    assert {left["why"] for left in told["left_out"][1:]} == {"There is no such study here."}


def test_missing_and_damaged_recordings_are_named_and_the_rest_is_done(
    ask: Ask, say: Say, store: Path, tmp_path: Path
) -> None:
    trials_of(ask, "old", tmp_path)
    recording(store, tmp_path, 2).unlink()
    with recording(store, tmp_path, 3).open("ab") as file:
        file.write(b"\0")
    said = say("remeasure", "old", "--jobs", 1)
    assert "2 takes measured again" in said
    assert "Left out: trial 2 of old: Its capture capture-2.wav is not in the store." in said
    assert "Left out: trial 3 of old: Its capture capture-3.wav is damaged" in said
    assert ask("review", "old")["of_other_versions"] == [2, 3]


def test_nothing_to_do_is_said(ask: Ask, say: Say) -> None:
    assert "Nothing to do" in say("remeasure", NAME)
    assert ask("remeasure", NAME) == {
        "version": MEASURE_VERSION,
        "left_out": [],
        "studies": [],
        "run": 0,
        "takes": 4,
        "file": None,
    }


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("nobody",), 4),
        (("--shard", "3/2"), 2),
        (("--shard", "half"), 2),
        (("--jobs", "0"), 2),
        (("--merge",), 2),
        (("--merge", "{folder}/missing.jsonl"), 4),
        (("--merge", "{folder}/reference-1.wav"), 3),
        (("--merge", "{folder}/missing.jsonl", "--shard", "1/2"), 2),
        (("--out", "{folder}/reference-1.wav"), 3),
        (("--out", "{folder}"), 3),
    ],
)
def test_what_cannot_be_is_refused(words: tuple[str, ...], code: int, ask: Ask, shelf: Path, tmp_path: Path) -> None:
    before = trials_of(ask, "old", tmp_path)
    assert ask("remeasure", *(word.format(folder=shelf) for word in words), code=code)["error"]["hint"]
    assert trials_of(ask, "old", tmp_path) == before
