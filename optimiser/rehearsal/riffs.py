"""Plucked strings and the riffs played on them: the dry guitar recordings of the rehearsal amp.

A string is a delay line with a low-pass and a tuning all-pass in its loop, started by a burst of noise
[Karplus1983]; pick position, strength of the stroke and fractional tuning follow [Jaffe1983].
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.errors import BadInput

RATE_HZ: Final = 48_000.0
"""Hz, the sample rate of everything in this room."""

CONCERT_PITCH_HZ: Final = 440.0
"""Hz, the A above middle C, note number 69 [ISO16]."""

RIFF_PEAK: Final = 0.35
"""Full scale = 1. Peak of the loudest stroke of a riff, some 9 dB below full scale (common practice, no source)."""

PICK_POSITION: Final = 0.13
"""Share of the string's length between bridge and pick (common practice, no source)."""

PICKUP_RESONANCE_HZ: Final = 3_500.0
"""Hz, where a magnetic pickup with its cable resonates (from memory)."""

PICKUP_Q: Final = 1.4
"""Height of that resonance, some 3 dB (from memory)."""

LEARNING_RIFFS: Final = ("chugs", "held chord", "run", "two-note")
"""Riffs of the learning and proof reels."""

VERIFY_RIFFS: Final = ("slide", "open strings", "gallop")
"""Riffs that are heard in the verify reel alone."""

_DECIBELS_PER_DECAY: Final = 60.0


@dataclass(frozen=True)
class Stroke:
    """One stroke on one string.

    Attributes:
        start_s: when the pick leaves the string.
        length_s: how long it rings until a finger stops it.
        note: note number, 69 being the A of 440 Hz, 40 the low string in standard tuning.
        strength: 0 to 1; a weaker stroke is softer and duller.
        decay_s: time in which the ringing falls by 60 dB, before the loop's own losses.
        slide_to: note number that the finger slides to, None when it stays.
    """

    start_s: float
    length_s: float
    note: float
    strength: float = 1.0
    decay_s: float = 4.0
    slide_to: float | None = None


def note_hz(note: float) -> float:
    """Frequency of a note number in equal temperament, 440 x 2^((note - 69) / 12) [ISO16]."""
    return float(CONCERT_PITCH_HZ * 2.0 ** ((note - 69.0) / 12.0))


def loop_delay(frequency_hz: float, rate_hz: float = RATE_HZ) -> tuple[int, float]:
    """Whole samples of the delay line and coefficient of the tuning all-pass [Jaffe1983].

    The two-tap average takes half a sample, the all-pass the rest, between 0.1 and 1.1 samples.

    Raises:
        BadInput: a frequency at which less than three samples are left for the loop.
    """
    period = rate_hz / frequency_hz if frequency_hz > 0 else 0.0
    if period < 3.0:
        raise BadInput(f"A string cannot sound at {frequency_hz:g} Hz.", f"Stay between 20 and {rate_hz / 3:g} Hz.")
    whole = math.floor(period - 0.5 - 0.1)
    rest = period - 0.5 - whole
    angle = 2.0 * math.pi / period
    coefficient = math.sin((angle - rest * angle) / 2.0) / math.sin((angle + rest * angle) / 2.0)
    return whole, coefficient


def ring(
    excitation: NDArray[np.float64],
    n_samples: int,
    frequency_hz: float,
    decay_s: float = math.inf,
    rate_hz: float = RATE_HZ,
) -> NDArray[np.float64]:
    """A string's answer to an excitation.

    Args:
        excitation: (m,) samples put into the loop.
        n_samples: length of the answer.
        frequency_hz: pitch.
        decay_s: seconds for 60 dB that are lost beside the two-tap average; infinite for the plain loop.
        rate_hz: sample rate.

    Returns:
        (n_samples,) samples.

    Raises:
        BadInput: a frequency too high for the rate.
    """
    from scipy.signal import lfilter

    whole, coefficient = loop_delay(frequency_hz, rate_hz)
    loss = 10.0 ** (-_DECIBELS_PER_DECAY / 20.0 / (decay_s * frequency_hz))
    numerator = np.array([1.0, coefficient])
    denominator = np.zeros(whole + 3)
    denominator[:2] = numerator
    denominator[whole:] -= loss * np.convolve([0.5, 0.5], [coefficient, 1.0])
    start = np.zeros(n_samples)
    used = min(len(excitation), n_samples)
    start[:used] = excitation[:used]
    answer: NDArray[np.float64] = lfilter(numerator, denominator, start)
    return answer


def pick(frequency_hz: float, strength: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """The burst of noise with which a stroke starts a string, two periods long.

    A weaker stroke passes a low-pass, and the pick's position takes out every harmonic with a node there
    [Jaffe1983].
    """
    from scipy.signal import lfilter

    period = max(4, round(RATE_HZ / frequency_hz))
    burst = np.zeros(2 * period)
    burst[:period] = rng.uniform(-1.0, 1.0, period)
    burst[:period] -= burst[:period].mean()
    cutoff_hz = 900.0 + 5100.0 * strength
    pole = math.exp(-2.0 * math.pi * cutoff_hz / RATE_HZ)
    burst = lfilter([1.0 - pole], [1.0, -pole], burst)
    offset = max(1, round(PICK_POSITION * period))
    combed = burst.copy()
    combed[offset:] -= burst[:-offset]
    result: NDArray[np.float64] = combed * strength
    return result


def stroke_samples(stroke: Stroke, rng: np.random.Generator) -> NDArray[np.float64]:
    """One stroke as it comes off the pickup, faded over 4 ms where the finger stops it."""
    n_samples = round(stroke.length_s * RATE_HZ)
    frequency_hz = note_hz(stroke.note)
    if stroke.slide_to is None:
        sound = ring(pick(frequency_hz, stroke.strength, rng), n_samples, frequency_hz, stroke.decay_s)
    else:
        rise = np.clip((np.arange(n_samples) / n_samples - 0.2) / 0.5, 0.0, 1.0)
        clock = np.cumsum(2.0 ** ((stroke.slide_to - stroke.note) * rise / 12.0)) - 1.0
        longest = math.ceil(clock[-1]) + 1
        still = ring(pick(frequency_hz, stroke.strength, rng), longest, frequency_hz, stroke.decay_s)
        sound = np.interp(clock, np.arange(longest), still)
    fade = min(n_samples, round(0.004 * RATE_HZ))
    sound[n_samples - fade :] *= np.linspace(1.0, 0.0, fade)
    return sound


def through_pickup(string: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) samples behind the second-order low-pass that a coil and its cable make."""
    from scipy.signal import lfilter

    angle = 2.0 * math.pi * PICKUP_RESONANCE_HZ / RATE_HZ
    slope = math.sin(angle) / (2.0 * PICKUP_Q)
    numerator = np.array([0.5, 1.0, 0.5]) * (1.0 - math.cos(angle)) / (1.0 + slope)
    denominator = [1.0, -2.0 * math.cos(angle) / (1.0 + slope), (1.0 - slope) / (1.0 + slope)]
    filtered: NDArray[np.float64] = lfilter(numerator, denominator, string)
    return filtered


def strum(start_s: float, notes: tuple[float, ...], length_s: float, **stroke: float) -> tuple[Stroke, ...]:
    """Strokes on several strings, 9 ms apart, stopped together."""
    return tuple(
        Stroke(start_s + 0.009 * place, length_s - 0.009 * place, note, **stroke) for place, note in enumerate(notes)
    )


def _chugs() -> tuple[Stroke, ...]:
    beats = (1.0, 0.7, 0.75, 1.0, 0.65, 0.95, 0.7, 1.0)
    roots = (40, 40, 40, 43, 40, 40, 45, 43)
    return tuple(
        stroke
        for place, (strength, root) in enumerate(zip(beats, roots, strict=True))
        for stroke in strum(0.19 * place, (root, root + 7), 0.17, strength=strength, decay_s=0.35)
    )


def _run() -> tuple[Stroke, ...]:
    notes = (57, 60, 62, 64, 67, 69, 72, 69, 67, 64, 62, 57)
    return tuple(
        Stroke(0.13 * place, 0.15 if place < 11 else 0.35, note, 0.6 + 0.4 * (place % 3 == 0))
        for place, note in enumerate(notes)
    )


def _two_note() -> tuple[Stroke, ...]:
    pairs = ((55, 59), (57, 62), (59, 64), (52, 57))
    lengths = (0.42, 0.42, 0.42, 0.55)
    return tuple(
        stroke
        for place, (pair, length_s) in enumerate(zip(pairs, lengths, strict=True))
        for stroke in strum(0.42 * place, pair, length_s, strength=1.0 if place % 2 == 0 else 0.7)
    )


def _gallop() -> tuple[Stroke, ...]:
    starts = tuple(0.36 * bar + beat for bar in range(4) for beat in (0.0, 0.18, 0.27))
    return tuple(
        Stroke(start_s, 0.17 if place % 3 == 0 else 0.085, 45 + 2 * (place // 6), 1.0 - 0.15 * (place % 3), 0.4)
        for place, start_s in enumerate(starts)
    )


SCORES: Final[Mapping[str, tuple[Stroke, ...]]] = MappingProxyType(
    {
        "chugs": _chugs(),
        "held chord": strum(0.0, (40, 47, 52, 56, 59, 64), 1.9, strength=0.95, decay_s=5.0),
        "run": _run(),
        "two-note": _two_note(),
        "slide": (Stroke(0.0, 0.9, 50, 1.0, 4.0, 57), Stroke(0.9, 0.9, 57, 0.8, 4.0, 45)),
        "open strings": tuple(
            Stroke(0.2 * place, 1.9 - 0.2 * place, note, 0.8) for place, note in enumerate((40, 45, 50, 55, 59, 64))
        ),
        "gallop": _gallop(),
    }
)
"""What is played in each riff."""


@lru_cache(maxsize=32)
def play_riff(name: str, seed: int = 0) -> NDArray[np.float64]:
    """The dry recording of a riff.

    Args:
        name: one of `SCORES`.
        seed: another seed gives other strokes of the same notes.

    Returns:
        (n,) samples at 48 kHz, read-only, peak at `RIFF_PEAK`.

    Raises:
        BadInput: no riff of that name.
    """
    if name not in SCORES:
        raise BadInput(f"There is no riff {name!r}.", f"The riffs are {', '.join(SCORES)}.")
    strokes = SCORES[name]
    rng = np.random.default_rng([seed, *name.encode()])
    length_s = max(stroke.start_s + stroke.length_s for stroke in strokes)
    riff = np.zeros(round(length_s * RATE_HZ) + 1)
    for stroke in strokes:
        sound = stroke_samples(stroke, rng)
        first = round(stroke.start_s * RATE_HZ)
        riff[first : first + len(sound)] += sound[: len(riff) - first]
    riff = through_pickup(riff)
    riff *= RIFF_PEAK / np.max(np.abs(riff))
    riff.setflags(write=False)
    return riff
