"""A goal reference that is recorded in one room while a take is measured in another misses no trial."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import soundfile

from optimiser.audio import build_reel
from optimiser.rehearsal import LEARNING_RIFFS, REHEARSAL_SHEET, RehearsalAmp, play_riff
from optimiser.space import Settings
from optimiser.storage import open_store
from optimiser.workflow import Answer, Stamp, record_goal, start, take
from optimiser.workflow.reel_files import built_in_riffs

MORNING = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SET: Settings = {"gain": "11:00", "stage": "pushed", "mic": "cap edge", "riffs": list(LEARNING_RIFFS)}
Recordings = tuple[Path, Path, Path]


def at(minute: int) -> Stamp:
    return Stamp(MORNING + timedelta(minutes=minute), "somebody")


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Recordings:
    """Reference, capture and goal reference of one short reel."""
    folder = tmp_path_factory.mktemp("meanwhile")
    amp, proof = RehearsalAmp(), build_reel(built_in_riffs(LEARNING_RIFFS), LEARNING_RIFFS, "proof", 48_000).samples
    lessons = [(name, play_riff(name)[:36_000]) for name in LEARNING_RIFFS]
    made = amp.take({**SET, "gain": 11.0}, lessons, proof, seed=1)
    sounds = {"reference": made.reference, "capture": made.capture, "goal": amp.goal_reference(proof, seed=1)}
    for name, samples in sounds.items():
        soundfile.write(folder / f"{name}.wav", samples, 48_000, subtype="PCM_24")
    return folder / "reference.wav", folder / "capture.wav", folder / "goal.wav"


def test_a_take_is_scored_against_the_goal_that_came_while_it_was_measured(
    recordings: Recordings, tmp_path: Path
) -> None:
    reference, capture, goal = recordings
    url = f"sqlite:///{tmp_path / 'rooms.db'}"
    with open_store(url) as here, open_store(url) as there:
        name = start(here, REHEARSAL_SHEET, at(0))["study"]

        def meanwhile(word: str) -> None:
            assert word == "measuring"
            record_goal(there, name, goal, at(2), lambda _: None)

        late = take(here, name, (reference, capture), Answer(settings=SET), at(1), tell=meanwhile)
        at_once = take(here, name, (reference, capture), Answer(settings=SET), at(9))
    assert late["goal"] is not None
    assert late["goal"] == at_once["goal"]


def test_a_goal_scores_the_take_that_came_while_others_were_scored(recordings: Recordings, tmp_path: Path) -> None:
    reference, capture, goal = recordings
    url = f"sqlite:///{tmp_path / 'rooms.db'}"
    with open_store(url) as here, open_store(url) as there:
        name = start(here, REHEARSAL_SHEET, at(0))["study"]
        take(here, name, (reference, capture), Answer(settings=SET), at(1))

        def meanwhile(word: str) -> None:
            if "trial 1 " in word:
                take(there, name, (reference, capture), Answer(settings=SET), at(9))

        keyed = replace(at(8), key="goal 1")
        told, again = (record_goal(here, name, goal, keyed, meanwhile) for _ in range(2))
    assert told["rescored"] == again["rescored"] == [1, 2]
