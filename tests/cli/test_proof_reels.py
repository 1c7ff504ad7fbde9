"""A riff joins midway, so the proof reel is another one: no take is held against a goal reference of the other reel."""

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from unittest.mock import ANY

import numpy as np
import pytest
import soundfile

from optimiser.proposals import predict
from optimiser.storage import Store, open_store
from optimiser.study import Event, fold
from optimiser.workflow import Answer, ReelWish, Stamp, record_goal, start, take, write_reel

Ask = Callable[..., Any]
Say = Callable[..., str]

NAME = "club-amp"
RATE_HZ = 48_000
STAMP = Stamp(datetime(2026, 3, 2, 10, 0, tzinfo=UTC), "tester")
SHEET = f"""
[study]
name = "{NAME}"

[settings.gain]
kind = "knob"
scale = "clock"
low = "8:00"
high = "17:00"

[settings.riffs]
kind = "riff order"
riffs = ["chugs", "run"]
"""
LONGER = SHEET.replace('"run"]', '"run", "gallop"]')
FIRST = {"gain": "1:00", "riffs": "chugs,run"}
LATER = {"gain": "1:30", "riffs": "run,chugs,gallop"}
DRIVES = {"goal": (5.0, 5200.0), "reference": (7.0, 4300.0), "capture": (7.2, 4200.0)}
"""Drive and corner in hertz."""


def played(reel: Path, folder: Path) -> dict[str, Path]:
    """What a clipper and a low-pass make of a reel, as the wanted tone, a reference and its capture."""
    dry, _ = soundfile.read(reel)
    hertz, hiss = np.fft.rfftfreq(dry.size, 1 / RATE_HZ), 1e-4 * np.random.default_rng(1).normal(size=dry.size)
    files = {}
    for name, (drive, corner_hz) in DRIVES.items():
        low_pass = 1 / (1 + 1.4j * hertz / corner_hz - (hertz / corner_hz) ** 2)
        files[name] = folder / f"{reel.stem}-{name}.wav"
        wet = 0.3 * np.fft.irfft(np.fft.rfft(np.tanh(drive * dry)) * low_pass, dry.size)
        soundfile.write(files[name], wet + hiss, RATE_HZ, subtype="PCM_24")
    return files


def handed_over(store: Store, files: dict[str, Path], settings: dict[str, str]) -> Any:
    return take(store, NAME, (files["reference"], files["capture"]), Answer(settings=settings), STAMP)


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a goal reference and two takes of one reel, then a riff more, another reel and a take of it."""
    folder = tmp_path_factory.mktemp("shelf")
    (folder / "riffs").mkdir()
    rng = np.random.default_rng(7)
    for place, riff in enumerate(("chugs", "run", "gallop")):
        time_s = np.arange(round((0.5 + 0.1 * place) * RATE_HZ)) / RATE_HZ
        notes = np.sin(2 * np.pi * (110 + 70 * place) * time_s**1.3) + 0.5 * rng.normal(size=time_s.size)
        soundfile.write(folder / "riffs" / f"{riff}.wav", 0.3 * notes * np.exp(-6 * (time_s % 0.25)), RATE_HZ)
    with open_store(f"sqlite:///{folder / 'optimiser.db'}") as store:
        start(store, SHEET, STAMP)
        for name, sheet in (("first", SHEET), ("second", LONGER)):
            start(store, sheet, STAMP)
            write_reel(store, NAME, ReelWish("proof", folder / f"{name}.wav", folder / "riffs"), STAMP)
            files = played(folder / f"{name}.wav", folder)
            if name == "first":
                record_goal(store, NAME, files["goal"], STAMP, lambda _: None)
                handed_over(store, files, FIRST)
                handed_over(store, files, {**FIRST, "gain": "3:00"})
            else:
                handed_over(store, files, LATER)
    return folder


@pytest.fixture(autouse=True)
def filled(shelf: Path, store: Path) -> None:
    """The store of this test, with a copy of everything on the shelf."""
    shutil.copy(shelf / "optimiser.db", store)
    shutil.copytree(shelf / "optimiser.db.audio", f"{store}.audio")


@pytest.fixture
def trials(ask: Ask, tmp_path: Path) -> Callable[[], list[dict[str, Any]]]:
    """Every trial with all that is shown of it."""

    def _trials() -> list[dict[str, Any]]:
        ask("export", NAME, tmp_path / "study.json")
        shown: list[dict[str, Any]] = json.loads((tmp_path / "study.json").read_text())["trials"]
        return shown

    return _trials


def as_written_before(store: Path) -> None:
    """The same study without what says which reel a recording is of, as older versions left it."""
    with open_store(f"sqlite:///{store}") as opened:
        events = [replace(event, body=_bare(event.body), number=0) for event in opened.events(NAME)]
    store.unlink()
    with open_store(f"sqlite:///{store}") as opened, opened.writing():
        opened.start(NAME, events[0])
        opened.append(NAME, *events[1:])


def _bare(entries: Any) -> Any:
    if isinstance(entries, dict):
        return {name: _bare(entry) for name, entry in entries.items() if name != "reel" or isinstance(entry, dict)}
    return [_bare(entry) for entry in entries] if isinstance(entries, list) else entries


def test_it_is_said_that_the_goal_has_to_be_recorded_again(
    ask: Ask, say: Say, shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the sheet, with the reel, and no more once it was done."""
    monkeypatch.chdir(tmp_path)
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(LONGER)
    assert not ask("start", sheet)["goal_again"]["reel_first"]
    sheet.write_text(LONGER.replace('"gallop"', '"gallop", "slide"'))
    said = say("start", sheet)
    assert "The sheet's riffs make another proof reel now." in said
    assert f"optimiser reel {NAME} --out proof.wav\n" in said
    assert f"optimiser goal {NAME} FILE.wav\n" in said
    sheet.write_text(LONGER)
    say("start", sheet)
    said = say("reel", NAME, "--riffs", shelf / "riffs", "--out", "again.wav")
    assert "Record it again with the newest, of" in " ".join(said.split())
    said = say("goal", NAME, shelf / "second-goal.wav")
    assert "Goal:" not in said
    assert "Recordings of another proof reel, so their scores stay: trials 1 and 2." in said
    for words in (("start", sheet), ("reel", NAME, "--riffs", shelf / "riffs", "--out", "again.wav")):
        assert ask(*words)["goal_again"] is None
    assert ask("reel", NAME, "--kind", "verify", "--out", tmp_path / "verify.wav")["goal_again"] is None


def test_a_take_of_the_new_reel_has_all_but_the_goal_part_and_says_what_to_do(
    trials: Callable[[], list[dict[str, Any]]], store: Path, shelf: Path
) -> None:
    first, second, other = trials()
    assert (other["goal"], other["overall"], other["match"] > 90) == (None, None, True)
    assert "goal" not in " ".join([*first["warnings"], *second["warnings"]])
    seconds = soundfile.info(shelf / "second.wav").duration
    assert f"Record the goal reference again, with the proof reel of {seconds:.1f} s." in other["warnings"][-1]
    assert other["articulation_kept"] == pytest.approx(first["articulation_kept"], rel=0.05)
    assert first["articulation_kept"] < 0.9, "so the share kept of its own reference would be another"
    with open_store(f"sqlite:///{store}", create=False) as opened:
        study = fold(opened.events(NAME)).study
    believed = predict(study, study.trials[2].settings)
    assert abs(believed.mean - first["overall"]) < 3 * believed.se


def test_the_new_goal_scores_takes_of_its_reel_and_leaves_the_others_as_they_were(
    ask: Ask, trials: Callable[[], list[dict[str, Any]]], shelf: Path
) -> None:
    before = trials()
    told = ask("goal", NAME, shelf / "second-goal.wav")
    assert (told["rescored"], told["of_other_reels"]) == ([3], [1, 2])
    after = trials()
    assert after[:2] == before[:2]
    assert after[2]["goal"] == pytest.approx(before[0]["goal"], abs=5)
    assert after[2]["warnings"] == []
    assert after[2]["articulation_kept"] == pytest.approx(before[2]["articulation_kept"], rel=0.05)


def test_a_late_take_of_the_old_reel_is_held_against_the_goal_of_that_reel(ask: Ask, shelf: Path) -> None:
    ask("goal", NAME, shelf / "second-goal.wav")
    files = [shelf / f"first-{part}.wav" for part in ("reference", "capture")]
    late = ask("take", NAME, *files, "--set", "gain=2:00", "--set", "riffs=chugs,run")
    assert late["goal"] == pytest.approx(ask("review", NAME)["trials"][0]["goal"])
    told = ask("goal", NAME, shelf / "first-goal.wav")
    assert (told["rescored"], told["of_other_reels"]) == ([1, 2, 4], [3])


def test_measured_again_the_same_rule_holds(
    ask: Ask, trials: Callable[[], list[dict[str, Any]]], shelf: Path, store: Path
) -> None:
    ask("goal", NAME, shelf / "second-goal.wav")
    before = trials()
    with open_store(f"sqlite:///{store}", create=False) as opened, opened.writing():
        for number in (1, 2, 3):
            body = {"trial": number, "changes": {"match": 50.0, "goal": 40.0}, "details": {"measure_version": "3"}}
            opened.append(NAME, Event("amended", body, STAMP.iso()))
    assert ask("remeasure", "--jobs", 1)["run"] == 3
    assert [(trial["match"], trial["goal"]) for trial in trials()] == [(one["match"], one["goal"]) for one in before]


@pytest.mark.parametrize("goal", ["first", "second"])
def test_in_a_store_that_did_not_write_reels_the_sound_tells_them(
    ask: Ask, trials: Callable[[], list[dict[str, Any]]], store: Path, shelf: Path, tmp_path: Path, goal: str
) -> None:
    """The next take, and the takes that another goal reference scores, go by what their recordings play."""
    as_written_before(store)
    (tmp_path / "sheet.toml").write_text(LONGER)
    assert ask("start", tmp_path / "sheet.toml")["goal_again"] == {"why": ANY, "reel_first": False}, (
        "told by its length"
    )
    before = trials()
    files = [shelf / f"second-{part}.wav" for part in ("reference", "capture")]
    later = ask("take", NAME, *files, "--set", "gain=2:00", "--set", f"riffs={LATER['riffs']}")
    assert (later["goal"], later["overall"]) == (None, None)
    assert "Record the goal reference again" in later["warnings"][-1]
    told = ask("goal", NAME, shelf / f"{goal}-goal.wav")
    assert told["rescored"] == ([1, 2] if goal == "first" else [3, 4])
    assert [trial["goal"] for trial in trials()[:2]] == [pytest.approx(one["goal"]) for one in before[:2]]


def test_without_recordings_or_reels_everything_goes_on_as_before(
    ask: Ask, sheet: Path, recordings: tuple[Path, Path], tmp_path: Path
) -> None:
    other = ("--store", f"sqlite:///{tmp_path / 'other.db'}")
    sheet.write_text(SHEET)
    ask("start", sheet, *other)
    ask("goal", NAME, recordings[0], *other)
    assert ask("take", NAME, *recordings, "--set", "gain=1:00", "--set", "riffs=chugs,run", *other)["goal"] > 0
    sheet.write_text(LONGER)
    assert ask("start", sheet, *other)["goal_again"] is None
    ask("export", NAME, tmp_path / "moved.json")
    ask("import-study", tmp_path / "moved.json", "--store", f"sqlite:///{tmp_path / 'bare.db'}")
    bare = ("--store", f"sqlite:///{tmp_path / 'bare.db'}")
    assert ask("review", NAME, *bare)["trials"][2]["goal"] is None
    assert ask("remeasure", *bare)["takes"] == 3
