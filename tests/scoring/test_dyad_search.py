"""The dyad of a reel is found in a recording of it, and nothing else is taken for one."""

from collections.abc import Callable

import numpy as np
import pytest

from optimiser.audio import Reel
from optimiser.scoring.alignment import Alignment
from optimiser.scoring.dyad_search import find_dyads, with_dyads
from optimiser.scoring.evidence import gather
from optimiser.scoring.frames import TimeMap
from optimiser.scoring.passages import Located, find_passages
from optimiser.scoring.recording import Passage
from tests.scoring.tracks import tracked

RATE_HZ = 48_000


def found(sound: np.ndarray) -> tuple[tuple[Passage, ...], Located]:
    track = tracked(sound)
    evidence = gather(track, track, Alignment(TimeMap(0.0, 0.0), 1.0, None))
    dyads = find_dyads(track, evidence.long.levels_db()[0], evidence.long.time_s)
    return dyads, with_dyads(find_passages(evidence.short.levels_db()[0], evidence.short.time_s), dyads)


@pytest.mark.parametrize("drive", [0.5, 6.0, 40.0])
def test_it_is_found_at_any_drive(reel: Reel, amp: Callable[..., np.ndarray], drive: float) -> None:
    late = np.concatenate([np.zeros(10_000), amp(reel.samples, drive)])
    dyads, located = found(late)
    played = reel.layout.of_kind("dyad")[0]
    assert len(dyads) == 1
    assert dyads[0].start_s == pytest.approx(played.start_s + 10_000 / RATE_HZ, abs=0.15)
    assert located.layout.of_kind("dyad")[0].duration_s >= 1.0
    assert located.layout.of_kind("rest")
    assert not located.known


def test_other_steady_sounds_are_none() -> None:
    time_s = np.arange(4 * RATE_HZ) / RATE_HZ
    for hertz in ((440.0,), (196.0,), (196.0, 246.9), (110.0, 164.8, 220.0)):
        assert found(0.3 * np.sum([np.sin(2 * np.pi * tone * time_s) for tone in hertz], axis=0))[0] == ()
    assert found(0.1 * np.random.default_rng(1).normal(size=time_s.size))[0] == ()


def test_a_reel_without_one_has_none(reel: Reel, amp: Callable[..., np.ndarray]) -> None:
    before = reel.samples[: round(reel.layout.of_kind("dyad")[0].start_s * RATE_HZ)]
    assert found(amp(before))[0] == ()


def test_those_of_a_reel_played_twice_after_a_tuning_note_are_both_found(
    reel: Reel, amp: Callable[..., np.ndarray]
) -> None:
    tuning = 0.3 * np.sin(2 * np.pi * 110.0 * np.arange(3 * RATE_HZ) / RATE_HZ)
    once = amp(reel.samples)
    dyads, located = found(np.concatenate([tuning, once, once]))
    played_s = 3.0 + reel.layout.of_kind("dyad")[0].start_s
    again_s = played_s + once.size / RATE_HZ
    assert [dyad.start_s for dyad in dyads] == pytest.approx([played_s, again_s], abs=0.15)
    assert len(located.layout.of_kind("dyad")) == 2
