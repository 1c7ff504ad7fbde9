"""Delay, drift and polarity that were put in are found again."""

from collections.abc import Callable

import numpy as np
import pytest

from optimiser.errors import InvalidRecording
from optimiser.scoring.alignment import align
from optimiser.scoring.evidence import Evidence, gather
from optimiser.scoring.frames import LONG, TimeMap, pair_frames
from tests.scoring.tracks import tracked

Sound = np.ndarray


def found(reference: Sound, capture: Sound) -> Evidence:
    ours, theirs = tracked(reference), tracked(capture)
    return gather(ours, theirs, align(ours, theirs))


@pytest.mark.parametrize("delay_samples", [0.0, 3.37, 1234.5, -777.25, 40_000.0])
def test_a_delay_is_found_to_a_fiftieth_of_a_sample(
    reference: Sound, capture: Sound, shifted: Callable[..., Sound], delay_samples: float
) -> None:
    time_map = found(reference, shifted(capture, delay_samples)).time_map
    assert time_map.delay_samples == pytest.approx(delay_samples, abs=0.02)
    assert time_map.drift == 0.0


@pytest.mark.parametrize("drift_ppm", [-180.0, -100.0, -30.0, 30.0, 100.0, 180.0])
def test_a_drift_is_found_to_a_fifth_of_a_part_in_a_million(
    reference: Sound, capture: Sound, shifted: Callable[..., Sound], drift_ppm: float
) -> None:
    time_map = found(reference, shifted(capture, 0.0, drift_ppm)).time_map
    assert 1e6 * time_map.drift == pytest.approx(drift_ppm, abs=0.2)
    assert time_map.delay_samples == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("gain_db", [-12.0, -3.0, 9.0])
@pytest.mark.parametrize("polarity", [1, -1])
def test_gain_and_polarity_are_found(reference: Sound, capture: Sound, gain_db: float, polarity: int) -> None:
    evidence = found(reference, polarity * capture * 10 ** (gain_db / 20))
    assert evidence.gain_db == pytest.approx(gain_db, abs=0.01)
    assert evidence.polarity == polarity


def test_lost_sound_is_a_slip_of_its_length(reference: Sound, capture: Sound) -> None:
    for at in (200_000, 300_000):
        slip = align(tracked(reference), tracked(np.concatenate([capture[:at], capture[at + 512 :]]))).slip
        assert slip is not None
        assert 1000 * abs(slip.by_s) == pytest.approx(512 / 48, abs=0.3)
        assert slip.at_s == pytest.approx(at / 48_000, abs=0.1)
    assert align(tracked(reference), tracked(capture)).slip is None


def test_a_filter_that_turns_phases_is_no_drift(
    reference: Sound, capture: Sound, through: Callable[..., Sound]
) -> None:
    turned = through(capture, lambda hertz: (1 - 1j * hertz / 200) / (1 + 1j * hertz / 200))
    assert found(reference, turned).time_map.drift == 0.0


def test_minutes_align_as_well(shifted: Callable[..., Sound]) -> None:
    noise = 0.1 * np.random.default_rng(8).normal(size=150 * 48_000)
    time_map = found(noise, shifted(noise, 500.25)).time_map
    assert time_map.delay_samples == pytest.approx(500.25, abs=0.02)
    assert time_map.drift == 0.0


def test_recordings_that_hardly_meet_are_refused(reference: Sound) -> None:
    late = np.concatenate([np.zeros(5 * 48_000), reference[: 3 * 48_000 // 2]])
    with pytest.raises(InvalidRecording) as caught:
        align(tracked(reference), tracked(late))
    assert caught.value.fault == "mismatch"


@pytest.mark.parametrize("delay_samples", [-0.007, 0.0, 0.007])
def test_a_delay_that_is_none_loses_no_frame(delay_samples: float) -> None:
    pairs = pair_frames(48_000, 48_000, TimeMap(delay_samples, 0.0), LONG)
    assert pairs.reference[0] == pairs.capture[0] == 0
    assert not pairs.fraction.any()


@pytest.mark.parametrize("late", [-40, 40])
def test_a_capture_that_starts_or_ends_a_little_inside_loses_no_note(reference: Sound, late: int) -> None:
    loud = reference[20_000:200_000]
    moved = loud[-late:] if late < 0 else np.concatenate([np.zeros(late), loud])[: loud.size]
    evidence = found(loud, moved)
    assert evidence.time_map.delay_samples == pytest.approx(late, abs=0.1)
    assert evidence.long.time_s[0] < 0.05
    assert evidence.long.time_s[-1] > loud.size / 48_000 - 0.07
