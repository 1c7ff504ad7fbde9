"""The sweep of a reel is the one from which distortion can be read off harmonic by harmonic [Farina 2000]."""

import numpy as np
import pytest
from scipy.fft import irfft, rfft
from scipy.signal import hilbert

from optimiser.audio.reel_sounds import sweep_sound
from optimiser.scoring import SWEEP_HZ, SWEEP_S

RATE_HZ = 48_000


def undone(recorded: np.ndarray, rate_hz: int) -> np.ndarray:
    """The response whose sweep was recorded: spectra divided where the sweep has sound, earlier ones wrapped round."""
    length = 2 * recorded.size
    sent = rfft(sweep_sound(rate_hz), length)
    heard = np.abs(sent) > 1e-3 * np.abs(sent).max()
    ratio = np.where(heard, rfft(recorded, length) / np.where(heard, sent, 1), 0)
    return np.asarray(irfft(ratio, length))


def test_the_frequency_grows_by_the_same_factor_in_every_second() -> None:
    phase = np.unwrap(np.angle(hilbert(sweep_sound(RATE_HZ))))
    hertz = np.diff(phase) * RATE_HZ / (2 * np.pi)
    at_s = (np.arange(hertz.size) + 0.5) / RATE_HZ
    low, high = SWEEP_HZ
    expected = low * (high / low) ** (at_s / SWEEP_S)
    inside = (at_s > 0.8) & (at_s < SWEEP_S - 0.1)
    assert np.max(np.abs(hertz[inside] / expected[inside] - 1)) < 0.01


def test_it_runs_from_20_hertz_to_20_kilohertz_in_four_seconds() -> None:
    """Whole turns: f1 L (f2 / f1 - 1), 11 569.6 for three decades in 4 s."""
    assert (SWEEP_HZ, SWEEP_S) == ((20.0, 20_000.0), 4.0)
    sweep = sweep_sound(384_000)
    crossings = np.count_nonzero(np.diff(np.signbit(sweep)))
    assert crossings / 2 == pytest.approx(20 * 4 / np.log(1000) * 999, abs=1.0)


@pytest.mark.parametrize(("order", "lead_s"), [(2, 0.40137), (3, 0.63616)])
def test_a_harmonic_comes_early_by_l_times_its_logarithm(order: int, lead_s: float) -> None:
    """T ln N / ln(f2 / f1) of a sweep of 4 s from 20 Hz to 20 kHz."""
    sweep = sweep_sound(RATE_HZ)
    distorted = sweep + 0.2 * sweep**order
    response = undone(distorted, RATE_HZ)
    before = response[-round(0.8 * RATE_HZ) : -round(0.1 * RATE_HZ)]
    assert np.argmax(np.abs(response)) < 2
    peak_s = 0.8 - np.argmax(np.abs(before)) / RATE_HZ
    assert peak_s == pytest.approx(lead_s, abs=2 / RATE_HZ)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_it_starts_and_ends_in_silence_and_never_exceeds_half_of_full_scale(rate_hz: int) -> None:
    sweep = sweep_sound(rate_hz)
    assert sweep.size == 4 * rate_hz
    assert abs(sweep[0]) < 1e-12
    assert np.max(np.abs(sweep[-10:])) < 1e-4
    assert 0.499 < np.max(np.abs(sweep)) <= 0.5
