"""Harmonic distortion over frequency, from the sweep that a reel may hold: a deep check, no part of the score.

Once the sweep is undone, the harmonics of a distorting chain lie apart in time: harmonic N comes L ln N before the
response itself, L the time in which the frequency grows by the factor e [Farina2000]. Filters and loudspeakers do not
mix them up, which a test tone cannot give.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.scoring.bands import band_mids_hz
from optimiser.scoring.frames import TimeMap
from optimiser.scoring.passages import Located
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.track import Track

SWEEP_HZ: Final = (20.0, 20_000.0)
"""Hz at which the sweep starts and ends: the range of hearing (common practice, no source)."""

SWEEP_S: Final = 4.0
"""Seconds of the sweep (common practice, no source)."""

ORDERS: Final = (2, 3, 4, 5)
"""Harmonics that are told apart; further ones come so close to each other that they overlap (ours)."""

PROBED_BANDS: Final = slice(3, 16)
"""Our third octaves from 100 Hz to 1.6 kHz: a guitar's notes lie in them, and a loudspeaker still gives their
harmonics."""

_BEFORE_S: Final = 0.02
_AFTER_SHARE: Final = 0.8
_LONGEST_S: Final = 0.2
_FADE_SHARE: Final = 0.4
_REGULAR: Final = 1e-6


@dataclass(frozen=True)
class SweepPoint:
    """Distortion at one frequency.

    Attributes:
        frequency_hz: of the sweep.
        reference_thd_db: level of harmonics two to five over the fundamental's, of the real chain.
        capture_thd_db: the same of the capture.
    """

    frequency_hz: float
    reference_thd_db: float
    capture_thd_db: float


def sweep_pace_s() -> float:
    """Seconds in which the sweep's frequency grows by the factor e."""
    return SWEEP_S / float(np.log(SWEEP_HZ[1] / SWEEP_HZ[0]))


def sweep_phase(time_s: Samples) -> Samples:
    """Phase of the sweep, 2 pi f1 L (exp(t / L) - 1) [Farina2000]."""
    pace_s = sweep_pace_s()
    return np.asarray(2 * np.pi * SWEEP_HZ[0] * pace_s * np.expm1(time_s / pace_s))


def sweep_points(reference: Track, capture: Track, time_map: TimeMap, located: Located) -> tuple[SweepPoint, ...]:
    """Distortion of a pair at third octaves; nothing when the reel holds no sweep.

    Args:
        reference: the real chain.
        capture: its capture.
        time_map: from the one to the other.
        located: where the reel lies in the reference.
    """
    passages = located.layout.of_kind("sweep") if located.known else ()
    if not passages:
        return ()
    first = (located.start_s + passages[0].start_s) * WORKING_RATE_HZ
    length = round(SWEEP_S * WORKING_RATE_HZ)
    sides = []
    for track, at in ((reference, first), (capture, float(time_map.capture_position(np.array(first))))):
        start = round(at)
        if start < 0 or start + length > track.size:
            return ()
        sides.append(thd_db(track.piece(start, start + length).astype(np.float64)).tolist())
    return tuple(SweepPoint(*point) for point in zip(probed_frequencies_hz().tolist(), *sides, strict=True))


def probed_frequencies_hz() -> Samples:
    """Frequencies at which distortion is told, (13,)."""
    return band_mids_hz()[PROBED_BANDS]


def thd_db(recorded: Samples) -> Samples:
    """Level of harmonics two to five over the fundamental's at the probed frequencies, (13,) dB.

    Args:
        recorded: (n,) a recording of the sweep at the working rate, from its first sample on.
    """
    response = _undone(recorded)
    probed_hz = probed_frequencies_hz()
    fundamental = _levels(response, 1, probed_hz)
    harmonics = sum(_levels(response, order, probed_hz) ** 2 for order in ORDERS)
    tiny = np.finfo(np.float64).tiny
    return np.asarray(10.0 * np.log10((harmonics + tiny) / (fundamental**2 + tiny)))


def _undone(recorded: Samples) -> Samples:
    """The response to the sweep; what comes before it is wrapped round to the end."""
    size = 1 << int(np.ceil(np.log2(2 * recorded.size)))
    time_s = np.arange(round(SWEEP_S * WORKING_RATE_HZ)) / WORKING_RATE_HZ
    sent = np.fft.rfft(np.sin(sweep_phase(time_s)), size)
    power = np.abs(sent) ** 2
    return np.asarray(np.fft.irfft(np.fft.rfft(recorded, size) * sent.conj() / (power + _REGULAR * power.max()), size))


def _levels(response: Samples, order: int, probed_hz: Samples) -> Samples:
    """Magnitude of one harmonic's response at that many times each frequency."""
    pace_s = sweep_pace_s()
    after_s = _LONGEST_S if order == 1 else min(_LONGEST_S, _AFTER_SHARE * pace_s * float(np.log(order / (order - 1))))
    at = -pace_s * np.log(order) * WORKING_RATE_HZ
    index = np.arange(round(at - _BEFORE_S * WORKING_RATE_HZ), round(at + after_s * WORKING_RATE_HZ))
    rise = np.arange(1, index.size + 1) / (_BEFORE_S * WORKING_RATE_HZ)
    edges = np.minimum(1.0, np.minimum(rise, np.arange(index.size, 0, -1) / (_FADE_SHARE * index.size)))
    piece = response[index % response.size] * np.sin(np.pi / 2 * edges) ** 2
    turn = np.exp(-2j * np.pi * np.outer(order * probed_hz, index / WORKING_RATE_HZ))
    return np.asarray(np.abs(turn @ piece))
