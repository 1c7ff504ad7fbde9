"""The sounds of a reel that are no riffs: marker, dyad, a chord left to ring, and a sweep."""

from typing import Final

import numpy as np

from optimiser.scoring import DYAD_HZ, SWEEP_S, Samples, sweep_phase

MARKER_S: Final = 0.06
"""Seconds. A short sweep that shows up in any recording (common practice, no source)."""

DYAD_S: Final = 1.25
"""Seconds. One second is analysed, so that every product of whole hertz falls on a bin; the rest is for settling."""

CHORD_S: Final = 3.0
"""Seconds that the chord is left to ring (common practice, no source)."""

_MARKER_HZ: Final = (200.0, 4000.0)
_MARKER_PEAK: Final = 0.5
_DYAD_PEAK_EACH: Final = 0.25
_CHORD_HZ: Final = (110.0, 164.81, 220.0)
_CHORD_PEAK: Final = 0.5
_CHORD_PARTIALS: Final = 20
_CHORD_DECAY_S: Final = 0.9
_SWEEP_PEAK: Final = 0.5
_SWEEP_EDGE_S: Final = 0.05
_EDGE_S: Final = 0.005


def marker_sound(rate_hz: int) -> Samples:
    """A linear sweep from 200 to 4000 Hz under a Hann window, peak 0.5."""
    time_s = np.arange(round(MARKER_S * rate_hz)) / rate_hz
    low, high = _MARKER_HZ
    phase = 2 * np.pi * (low * time_s + (high - low) * time_s**2 / (2 * MARKER_S))
    return _MARKER_PEAK * np.sin(np.pi * time_s / MARKER_S) ** 2 * np.sin(phase)


def dyad_sound(rate_hz: int) -> Samples:
    """Two sines of 196 and 233 Hz, 0.25 of full scale each, faded in and out over 5 ms."""
    time_s = np.arange(round(DYAD_S * rate_hz)) / rate_hz
    both = sum(np.sin(2 * np.pi * hertz * time_s) for hertz in DYAD_HZ)
    return _DYAD_PEAK_EACH * _faded(np.asarray(both), rate_hz)


def ringing_chord(rate_hz: int) -> Samples:
    """Root, fifth and octave of three plucked strings as sums of decaying partials, the higher the faster, peak 0.5."""
    time_s = np.arange(round(CHORD_S * rate_hz)) / rate_hz
    chord = np.zeros_like(time_s)
    for fundamental_hz in _CHORD_HZ:
        for partial in range(1, _CHORD_PARTIALS + 1):
            decay = np.exp(-time_s * (1 + 0.15 * partial) / _CHORD_DECAY_S)
            chord += decay * np.sin(2 * np.pi * fundamental_hz * partial * time_s) / partial
    faded = _faded(chord, rate_hz)
    return faded * (_CHORD_PEAK / float(np.max(np.abs(faded))))


def sweep_sound(rate_hz: int) -> Samples:
    """A sweep whose frequency grows by the same factor in every second, faded in and out over 50 ms, peak 0.5.

    x(t) = sin(2 pi f1 L (exp(t / L) - 1)) with L = T / ln(f2 / f1), so that harmonic N of a distorted copy, once the
    sweep is undone, comes L ln N early [Farina2000].
    """
    time_s = np.arange(round(SWEEP_S * rate_hz)) / rate_hz
    edge = np.minimum(1.0, np.minimum(time_s, SWEEP_S - time_s) / _SWEEP_EDGE_S)
    return np.asarray(_SWEEP_PEAK * np.sin(np.pi / 2 * edge) ** 2 * np.sin(sweep_phase(time_s)))


def _faded(sound: Samples, rate_hz: int) -> Samples:
    ramp = np.linspace(0.0, 1.0, round(_EDGE_S * rate_hz))
    shaped = sound.copy()
    shaped[: ramp.size] *= ramp
    shaped[sound.size - ramp.size :] *= ramp[::-1]
    return shaped
