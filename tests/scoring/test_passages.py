"""A reel is found in its recording, however late it starts."""

import numpy as np
import pytest

from optimiser.audio import Reel
from optimiser.scoring.passages import find_passages, locate

STEP_S = 512 / 48_000


def levels(reel: Reel, late_s: float) -> tuple[np.ndarray, np.ndarray]:
    """Level of a reel that starts late, in frames of 21 ms, over hiss."""
    lead = round(abs(late_s) * 48_000)
    sound = np.concatenate([np.zeros(lead), reel.samples]) if late_s >= 0 else reel.samples[lead:]
    sound = sound + 1e-4 * np.random.default_rng(1).normal(size=sound.size)
    frames = np.lib.stride_tricks.sliding_window_view(sound, 1024)[::512]
    return 10 * np.log10(np.mean(frames**2, axis=1)), (np.arange(len(frames)) * 512 + 512) / 48_000


@pytest.mark.parametrize("late_s", [0.0, 0.4, 2.5, -0.3])
def test_a_reel_is_found_to_a_few_frames(reel: Reel, late_s: float) -> None:
    located = locate(reel.layout, *levels(reel, late_s))
    assert located is not None
    assert located.start_s == pytest.approx(late_s, abs=3 * STEP_S)


def test_rests_hold_nothing_of_the_riffs(reel: Reel) -> None:
    level_db, time_s = levels(reel, 0.4)
    located = locate(reel.layout, level_db, time_s)
    assert located is not None
    rest = located.within(time_s, "silence", "rest")
    assert rest.sum() * STEP_S > 1.5
    assert level_db[rest].max() < -75


def test_something_else_is_not_found(reel: Reel) -> None:
    _, time_s = levels(reel, 0.0)
    assert locate(reel.layout, np.random.default_rng(1).normal(size=time_s.size), time_s) is None
    assert locate(reel.layout, np.zeros(time_s.size), time_s) is None


def test_riffs_and_rests_are_found_without_a_layout(reel: Reel) -> None:
    level_db, time_s = levels(reel, 0.4)
    found = find_passages(level_db, time_s)
    assert not found.known
    rest = found.within(time_s, "rest")
    assert rest.sum() * STEP_S > 1.0
    assert level_db[rest].max() < level_db.max() - 40
    chord = reel.layout.of_kind("chord")[0]
    middle_s = np.array([(chord.start_s + chord.end_s) / 2 + 0.4])
    assert found.within(middle_s, "riff").all()


def test_playing_without_a_rest_is_one_passage() -> None:
    time_s = np.asarray(np.arange(500) * STEP_S, dtype=np.float64)
    found = find_passages(np.random.default_rng(2).normal(-20, 1, 500), time_s)
    assert [passage.kind for passage in found.layout.passages] == ["riff"]
