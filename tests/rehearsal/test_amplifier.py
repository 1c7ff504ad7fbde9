"""The amplifier: closed forms of its parts, measured aliasing, and what more gain does to a tone."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from optimiser.rehearsal import VOICINGS, Amplifier
from optimiser.rehearsal.amplifier import amplify, blocking, clip_softly, gain_taper, supply_gain

RATE_HZ = 48_000
HIGHEST_NOTE_HZ = 1_319
"""The E at the 24th fret of the high string, in whole hertz for whole bins."""


def steady_powers(tone_hz: int, gain_hours: float, stage: str, peak: float = 0.35) -> NDArray[np.float64]:
    """Power in each 1 Hz bin of the third second of a tone through the amplifier."""
    tone = peak * np.sin(2.0 * np.pi * tone_hz * np.arange(3 * RATE_HZ) / RATE_HZ)
    voltage = amplify(tone, gain_hours, stage, Amplifier())[2 * RATE_HZ - 100 : 3 * RATE_HZ - 100]
    return np.abs(np.fft.rfft(voltage)) ** 2


def distortion(powers: NDArray[np.float64], tone_hz: int) -> float:
    """Total harmonic distortion, sqrt(sum of harmonics) / fundamental [IEC 60268-3, from memory]."""
    harmonics = powers[tone_hz::tone_hz]
    return float(np.sqrt(harmonics[1:].sum() / harmonics[0]))


def test_audio_taper_passes_fifteen_per_cent_at_half_travel() -> None:
    assert [gain_taper(hours) for hours in (7.0, 12.0, 17.0)] == pytest.approx([0.0, 0.15, 1.0])


@given(st.floats(7.0, 17.0), st.floats(7.0, 17.0))
def test_taper_rises_all_the_way(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert gain_taper(low) <= gain_taper(high)


@given(st.floats(-0.8, 0.8))
def test_clipping_leaves_small_signals_as_they_are(bias: float) -> None:
    small = np.array([-1e-5, 0.0, 1e-5])
    assert clip_softly(small, bias) == pytest.approx(small, abs=1e-9)


@given(st.floats(-0.8, 0.8), st.floats(-1e6, 1e6))
def test_clipping_is_bounded(bias: float, sample: float) -> None:
    assert abs(clip_softly(np.array([sample]), bias)[0]) < 2.0


def test_only_lopsided_clipping_makes_even_harmonics() -> None:
    tone = 2.0 * np.sin(2.0 * np.pi * np.arange(1000) / 100.0)
    even, lopsided = (np.abs(np.fft.rfft(clip_softly(tone, bias)))[20] for bias in (0.0, 0.25))
    assert even < 1e-9
    assert lopsided > 1.0


def test_supply_gives_way_by_one_minus_one_over_e_in_its_time_constant() -> None:
    """Step response of a first-order low-pass, closed form."""
    gain = supply_gain(np.ones(96_000), 0.5, 0.1, 48_000.0)
    assert gain[4_800] == pytest.approx(1.0 - 0.5 * (1.0 - math.exp(-1.0)), abs=1e-4)
    assert gain[-1] == pytest.approx(0.5, abs=1e-4)


def test_sag_makes_a_loud_note_swell_and_a_quiet_one_not() -> None:
    """The first 20 ms of a hard chord are louder, against the rest, than those of a soft one."""
    tone = np.sin(2.0 * np.pi * 220.0 * np.arange(RATE_HZ) / RATE_HZ)
    ratios = []
    for peak in (0.0005, 0.35):
        voltage = amplify(peak * tone, 13.0, "full", Amplifier())
        ratios.append(np.std(voltage[480:1440]) / np.std(voltage[24_000:40_000]))
    assert ratios[1] > 1.1 * ratios[0]


def test_stage_blocks_only_past_its_bend_and_recovers() -> None:
    amplifier = Amplifier()
    assert not blocking(np.linspace(-5.0, 1.0, 100), amplifier, 48_000.0).any()
    shift = blocking(np.concatenate([np.full(9_600, 3.0), np.zeros(9_600)]), amplifier, 48_000.0)
    assert shift[9_599] == pytest.approx(2.0 * amplifier.blocking_depth, rel=0.01)
    assert shift[-1] < 0.01 * shift[9_599]


@pytest.mark.parametrize("stage", VOICINGS)
def test_more_gain_makes_more_distortion(stage: str) -> None:
    found = [distortion(steady_powers(220, hours, stage), 220) for hours in (10.0, 11.0, 12.0, 13.0, 14.0)]
    assert found == sorted(found)
    assert found[-1] > 3.0 * found[0]


@pytest.mark.parametrize("gain_hours", [10.5, 12.0, 13.5])
def test_each_stage_distorts_more_than_the_one_before(gain_hours: float) -> None:
    found = [distortion(steady_powers(220, gain_hours, stage), 220) for stage in ("open", "pushed", "full")]
    assert found == sorted(found)


@pytest.mark.parametrize(("gain_hours", "stage", "bound_db"), [(12.25, "pushed", -100.0), (17.0, "full", -45.0)])
def test_aliasing_stays_low(gain_hours: float, stage: str, bound_db: float) -> None:
    """Power below 12 kHz that belongs to no harmonic, against all: -116 and -48.8 dB were measured."""
    powers = steady_powers(HIGHEST_NOTE_HZ, gain_hours, stage)[:12_000]
    strange = powers[np.arange(12_000) % HIGHEST_NOTE_HZ != 0]
    assert 10.0 * np.log10(strange.sum() / powers[1:].sum()) < bound_db


@settings(max_examples=15, deadline=None)
@given(st.floats(7.0, 17.0), st.sampled_from(list(VOICINGS)), st.integers(1, 400))
def test_output_is_finite_bounded_and_as_long_as_the_input(gain_hours: float, stage: str, n_samples: int) -> None:
    di = np.random.default_rng(n_samples).uniform(-1.0, 1.0, n_samples)
    voltage = amplify(di, gain_hours, stage, Amplifier())
    assert voltage.shape == di.shape
    assert np.max(np.abs(voltage)) < 2.0
