"""A toy amp: decaying partials through a soft clipper and a loudspeaker's roll-off. Simpler than any amp, but known."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.fft import next_fast_len

from optimiser.audio import Reel, build_reel

RATE_HZ = 48_000
Sound = NDArray[np.float64]
Response = Callable[[Sound], NDArray[np.complex128]]


def _pluck(fundamental_hz: float, duration_s: float, rng: np.random.Generator) -> Sound:
    time_s = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    sound = np.zeros_like(time_s)
    for partial in range(1, int(min(50, 9000 / fundamental_hz)) + 1):
        decay = np.exp(-time_s * 2.3 * (1 + 0.05 * partial**1.3))
        hertz = fundamental_hz * partial * np.sqrt(1 + 5e-5 * partial**2)
        level = np.sin(0.13 * np.pi * partial) / partial
        sound += level * decay * np.sin(2 * np.pi * hertz * time_s + rng.uniform(0, 2 * np.pi))
    edge = np.linspace(0, 1, 48)
    sound[:48] *= edge
    sound[-48:] *= edge[::-1]
    return sound


def _riff(duration_s: float, notes: list[tuple[float, float, float]], seed: int) -> Sound:
    """Notes as start in s, fundamental in Hz, length in s."""
    rng, sound = np.random.default_rng(seed), np.zeros(round(duration_s * RATE_HZ))
    for start_s, fundamental_hz, length_s in notes:
        first = round(start_s * RATE_HZ)
        note = _pluck(fundamental_hz, length_s, rng)[: sound.size - first]
        sound[first : first + note.size] += note
    return np.asarray(0.45 * sound / np.max(np.abs(sound)))


def _through(sound: Sound, response: Response) -> Sound:
    size = next_fast_len(sound.size + 8192, real=True)
    hertz = np.asarray(np.fft.rfftfreq(size, 1 / RATE_HZ), dtype=np.float64)
    spectrum = np.asarray(np.fft.rfft(sound, size), dtype=np.complex128)
    return np.asarray(np.fft.irfft(spectrum * response(hertz), size)[: sound.size])


def _bell(hertz: Sound, middle_hz: float, gain_db: float, quality: float) -> NDArray[np.complex128]:
    root, ratio = 10 ** (gain_db / 40), 1j * hertz / middle_hz
    return np.asarray((ratio**2 + ratio * root / quality + 1) / (ratio**2 + ratio / (root * quality) + 1))


def _low_pass(hertz: Sound, corner_hz: float) -> NDArray[np.complex128]:
    ratio = 1j * hertz / corner_hz
    return np.asarray(1 / (1 + np.sqrt(2) * ratio + ratio**2) ** 2)


def _high_pass(hertz: Sound, corner_hz: float) -> NDArray[np.complex128]:
    ratio = 1j * hertz / corner_hz
    return np.asarray(ratio / (1 + ratio))


def _amp(
    dry: Sound,
    drive: float = 6.0,
    *,
    bias: float = 0.15,
    cabinet_hz: float = 5200.0,
    noise_db: float = -72.0,
    seed: int = 1,
) -> Sound:
    pushed = _through(dry, lambda hertz: _high_pass(hertz, 120) * _bell(hertz, 900, 4, 0.7))
    clipped = np.tanh(drive * pushed + bias) - np.tanh(bias)
    sound = _through(
        clipped,
        lambda hertz: (
            _high_pass(hertz, 60) ** 2
            * _low_pass(hertz, cabinet_hz)
            * _bell(hertz, 110, 4, 1.2)
            * _bell(hertz, 2500, 4, 1.5)
        ),
    )
    loud = sound[np.abs(sound) > 1e-2 * np.max(np.abs(sound))]
    noise = np.random.default_rng(seed).normal(size=sound.size) * np.sqrt(np.mean(loud**2)) * 10 ** (noise_db / 20)
    return np.asarray(0.25 * (sound + noise))


def _shifted(sound: Sound, delay_samples: float = 0.0, drift_ppm: float = 0.0) -> Sound:
    """The sound later by a delay, and stretched."""
    if drift_ppm:
        from scipy.signal import resample_poly

        fine = resample_poly(sound, 8, 1, window=("kaiser", 9.0))
        places = np.arange(int(sound.size * (1 + drift_ppm * 1e-6))) * 8 / (1 + drift_ppm * 1e-6)
        sound = np.interp(places, np.arange(fine.size), fine)
    whole = int(np.floor(delay_samples))
    fraction = delay_samples - whole
    size = next_fast_len(sound.size + 8192, real=True)
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * fraction)
    moved = np.fft.irfft(np.fft.rfft(sound, size) * turn, size)[: sound.size]
    return np.concatenate([np.zeros(whole), moved]) if whole >= 0 else moved[-whole:]


def _dry_reel(seed: int, unsteadiness_s: float = 0.0) -> Reel:
    """Two riffs and a chord; a seed and an unsteady hand make another performance of the same."""
    moves = iter(np.random.default_rng(seed).uniform(0, unsteadiness_s, 32).tolist())
    chugs = [(0.2 * n + move, hertz, 0.16) for n in range(6) for move in (next(moves),) for hertz in (82.4, 123.5)]
    run = [(0.2 * n + next(moves), 196.0 * 2 ** (step / 12), 0.2) for n, step in enumerate((0, 3, 5, 7, 10, 12))]
    chord = [(next(moves), hertz, 2.5) for hertz in (110.0, 164.8, 220.0)]
    riffs = {"chugs": _riff(1.25, chugs, seed), "run": _riff(1.3, run, seed)}
    return build_reel(riffs, tuple(riffs), "proof", RATE_HZ, chord=_riff(2.5, chord, seed))


@pytest.fixture(scope="session")
def reel() -> Reel:
    return _dry_reel(0)


@pytest.fixture(scope="session")
def other_performance() -> Sound:
    """The same notes by an unsteady hand, up to 20 ms late."""
    return _dry_reel(1, 0.02).samples


@pytest.fixture(scope="session")
def amp() -> Callable[..., Sound]:
    return _amp


@pytest.fixture(scope="session")
def through() -> Callable[[Sound, Response], Sound]:
    return _through


@pytest.fixture(scope="session")
def shifted() -> Callable[..., Sound]:
    return _shifted


@pytest.fixture(scope="session")
def reference(reel: Reel) -> Sound:
    return _amp(reel.samples)


@pytest.fixture(scope="session")
def capture(reel: Reel) -> Sound:
    """The same amp with other noise."""
    return _amp(reel.samples, seed=2)
