"""Strings and riffs: pitches against closed forms, playing against what is known of strings."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from optimiser.errors import BadInput
from optimiser.rehearsal import LEARNING_RIFFS, RATE_HZ, VERIFY_RIFFS, play_riff
from optimiser.rehearsal.riffs import RIFF_PEAK, SCORES, Stroke, note_hz, pick, ring, stroke_samples

STANDARD_TUNING_HZ = {40: 82.41, 45: 110.00, 50: 146.83, 55: 196.00, 59: 246.94, 64: 329.63}
"""Open strings in equal temperament with A at 440 Hz, as printed in tables of note frequencies."""


def pitch_hz(sound: NDArray[np.float64], near_hz: float) -> float:
    """Frequency of the spectral peak within a quarter-tone of `near_hz`, by a parabola through its decibels."""
    size = 1 << 21
    level = 20.0 * np.log10(np.abs(np.fft.rfft(sound * np.hanning(len(sound)), size)) + 1e-300)
    low, high = (round(near_hz * 2.0 ** (side / 24.0) * size / RATE_HZ) for side in (-1, 1))
    top = low + int(np.argmax(level[low:high]))
    left, middle, right = level[top - 1 : top + 2]
    return float((top + 0.5 * (left - right) / (left - 2.0 * middle + right)) * RATE_HZ / size)


def centroid_hz(sound: NDArray[np.float64]) -> float:
    power = np.abs(np.fft.rfft(sound)) ** 2
    return float((power * np.fft.rfftfreq(len(sound), 1.0 / RATE_HZ)).sum() / power.sum())


@pytest.mark.parametrize(("note", "frequency_hz"), STANDARD_TUNING_HZ.items())
def test_open_strings_have_the_pitches_of_standard_tuning(note: int, frequency_hz: float) -> None:
    assert note_hz(note) == pytest.approx(frequency_hz, abs=0.005)


@pytest.mark.parametrize("period", [582, 436, 145, 72])
def test_plain_loop_sounds_at_the_rate_over_n_and_a_half(period: int) -> None:
    """f0 = fs / (N + 1/2), Karplus and Strong 1983: here N plus the half sample of the two-tap average."""
    expected_hz = RATE_HZ / (period + 0.5)
    burst = np.random.default_rng(period).uniform(-1.0, 1.0, period)
    found_hz = pitch_hz(ring(burst, 4 * int(RATE_HZ), expected_hz), expected_hz)
    assert abs(1200.0 * math.log2(found_hz / expected_hz)) < 0.3


@pytest.mark.parametrize("frequency_hz", [82.41, 110.0, 329.63, 659.26])
def test_fractional_tuning_hits_the_note(frequency_hz: float) -> None:
    burst = np.random.default_rng(1).uniform(-1.0, 1.0, int(RATE_HZ / frequency_hz))
    found_hz = pitch_hz(ring(burst, 4 * int(RATE_HZ), frequency_hz), frequency_hz)
    assert abs(1200.0 * math.log2(found_hz / frequency_hz)) < 0.3


def test_string_dies_away_in_the_time_it_was_given() -> None:
    """60 dB in `decay_s`: the fundamental of a low string loses 20 dB in a third of it."""
    sound = ring(np.random.default_rng(2).uniform(-1.0, 1.0, 436), int(3.0 * RATE_HZ), 110.0, decay_s=3.0)
    span = int(0.5 * RATE_HZ)
    tone = np.exp(-2j * np.pi * 110.0 * np.arange(span) / RATE_HZ) * np.hanning(span)
    early, late = (abs(np.vdot(tone.conj(), sound[start : start + span])) for start in (24_000, 72_000))
    assert 20.0 * math.log10(early / late) == pytest.approx(20.0, abs=1.0)


def test_pick_position_takes_out_the_harmonic_with_a_node_there() -> None:
    """A string plucked at 0.13 of its length has little of its 8th harmonic (1 / 0.13 = 7.7), Jaffe and Smith 1983."""
    spectra = [np.abs(np.fft.rfft(pick(110.0, 1.0, np.random.default_rng(seed))[:873], 8730)) for seed in range(40)]
    power = np.mean(np.square(spectra), axis=0)
    harmonic = [power[round(number * 110.0 * 8730 / RATE_HZ)] for number in range(1, 13)]
    assert np.argmin(harmonic[4:11]) + 5 in (7, 8)


def test_weaker_stroke_is_duller_and_quieter() -> None:
    soft, hard = (stroke_samples(Stroke(0.0, 0.5, 45, strength), np.random.default_rng(3)) for strength in (0.3, 1.0))
    assert centroid_hz(soft) < 0.9 * centroid_hz(hard)
    assert np.std(soft) < np.std(hard)


def test_slide_ends_on_its_note() -> None:
    sound = stroke_samples(Stroke(0.0, 3.0, 50, slide_to=57), np.random.default_rng(4))
    assert abs(1200.0 * math.log2(pitch_hz(sound[int(2.2 * RATE_HZ) :], note_hz(57)) / note_hz(57))) < 3.0


@pytest.mark.parametrize("name", SCORES)
def test_every_riff_is_a_dry_recording_of_one_to_two_seconds(name: str) -> None:
    riff = play_riff(name)
    assert 1.2 <= len(riff) / RATE_HZ <= 2.0
    assert np.max(np.abs(riff)) == pytest.approx(RIFF_PEAK)
    assert abs(riff.mean()) < 1e-4
    assert not riff.flags.writeable


def test_verify_riffs_are_heard_nowhere_else() -> None:
    assert not set(LEARNING_RIFFS) & set(VERIFY_RIFFS)
    assert {*LEARNING_RIFFS, *VERIFY_RIFFS} == set(SCORES)


def test_same_seed_same_bits_and_another_seed_other_strokes() -> None:
    first = play_riff("run", 5).copy()
    play_riff.cache_clear()
    assert np.array_equal(first, play_riff("run", 5))
    assert not np.allclose(first, play_riff("run", 6))


def test_unknown_riff_is_refused_by_name() -> None:
    with pytest.raises(BadInput, match="no riff 'waltz'") as caught:
        play_riff("waltz")
    assert "chugs" in caught.value.hint


@given(st.floats(-100.0, 0.0) | st.floats(RATE_HZ / 2.9, 1e6))
def test_impossible_pitch_is_refused(frequency_hz: float) -> None:
    with pytest.raises(BadInput, match="cannot sound"):
        ring(np.ones(4), 10, frequency_hz)


@settings(max_examples=20)
@given(st.floats(60.0, 1500.0))
def test_no_string_ever_grows_louder(frequency_hz: float) -> None:
    sound = ring(np.random.default_rng(0).uniform(-1.0, 1.0, int(RATE_HZ / frequency_hz)), 20_000, frequency_hz)
    assert np.sum(sound[10_000:] ** 2) < np.sum(sound[:10_000] ** 2)
