"""Notes are found where they start, and a change of their attack is measured in decibels."""

from collections.abc import Callable

import numpy as np
import pytest

from optimiser.audio import Reel
from optimiser.scoring.alignment import Alignment
from optimiser.scoring.attack import attack_contrast_db, note_powers, onset_samples, rings_on
from optimiser.scoring.evidence import gather
from optimiser.scoring.frames import SHORT, TimeMap
from tests.scoring.tracks import tracked

RATE_HZ = 48_000


def onsets_of(sound: np.ndarray) -> np.ndarray:
    mono = tracked(sound)
    bands = gather(mono, mono, Alignment(TimeMap(0.0, 0.0), 1.0, None)).short
    starts = np.round(bands.time_s * RATE_HZ - SHORT.length / 2).astype(np.int64)
    found = onset_samples(mono, bands.reference, starts)
    return found[rings_on(note_powers(mono, found))]


def test_onsets_lie_within_five_milliseconds_of_the_notes_played(reel: Reel, amp: Callable[..., np.ndarray]) -> None:
    found_s = onsets_of(amp(reel.samples)) / RATE_HZ
    chugs = reel.layout.of_kind("riff")[1]
    played_s = [chugs.start_s + 0.2 * note for note in range(6)]
    for at_s in played_s[1:]:
        assert np.min(np.abs(found_s - at_s)) < 0.005


def test_the_marker_is_no_note(reel: Reel, amp: Callable[..., np.ndarray]) -> None:
    assert onsets_of(amp(reel.samples)).min() / RATE_HZ > 0.5


@pytest.mark.parametrize("change_db", [-8.0, -2.0, 4.0])
def test_an_attack_changed_by_so_many_decibels_reads_so_many_decibels(
    reel: Reel, amp: Callable[..., np.ndarray], change_db: float
) -> None:
    sound = amp(reel.samples)
    onsets = onsets_of(sound)
    gain = np.ones(sound.size)
    for onset in onsets:
        gain[onset - 480 : onset + 1200] = 10 ** (change_db / 20)
    before, after = (attack_contrast_db(note_powers(tracked(mono), onsets)) for mono in (sound, sound * gain))
    np.testing.assert_allclose(after - before, change_db, atol=0.01)


def test_sound_without_notes_has_none() -> None:
    assert onsets_of(0.1 * np.random.default_rng(1).normal(size=3 * RATE_HZ)).size == 0
