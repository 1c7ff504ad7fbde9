"""How far apart two recordings lie in tone, in texture and in noise."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.bands import LOUDNESS_EXPONENT, SILENT_POWER, band_mids_hz, decibels, loudness_shares
from optimiser.scoring.recording import Samples
from optimiser.scoring.weighting import a_power

SOFT_LIMIT_DB: Final = 12.0
"""dB towards which a band's difference is bent, so that one empty band does not decide alone (measured on toy amps)."""

TONE_FLOOR_DB: Final = -50.0
"""dB below the loudest A-weighted band, under which a band is masked (measured on toy amps)."""

CELL_FLOOR_DB: Final = -30.0
"""dB below the whole frame, under which a band of it is masked (measured on toy amps)."""

TEXTURE_BANDS: Final = slice(6, 24)
"""200 Hz to 10 kHz: below, a frame of 21 ms does not resolve third octaves."""

_FRAMES_AT_ONCE: Final = 4096

NOISE_ALLOWANCE_DB: Final = 1.0
"""dB by which the capture's noise may lie over the reference's unnoticed (measured on toy amps)."""

NOISE_FLOOR_DB: Final = -55.0
"""dB, K-weighted noise over playing, under which noise is not counted (measured on toy amps)."""


def soft_limited(difference_db: NDArray[np.floating]) -> Samples:
    """A difference bent towards 12 dB, the same for small ones."""
    return np.asarray(SOFT_LIMIT_DB * np.tanh(difference_db / SOFT_LIMIT_DB))


def tone_difference_db(reference: Samples, capture: Samples, noise: tuple[Samples, Samples]) -> Samples:
    """Capture over reference in every third octave, noise taken off both, (26,).

    Args:
        reference: (26,) power while playing.
        capture: (26,) power while playing, at the reference's level.
        noise: (26,) noise power of both.
    """
    clean = [np.maximum(power - floor, 0.0) for power, floor in zip((reference, capture), noise, strict=True)]
    weight = a_power(band_mids_hz())
    floor = float(np.max(clean[0] * weight)) * 10.0 ** (TONE_FLOOR_DB / 10.0) / np.maximum(weight, 1e-6)
    return decibels(clean[1] + floor) - decibels(clean[0] + floor)


def tone_distance_db(difference_db: Samples, reference: Samples, capture: Samples) -> float:
    """Root mean square of the differences, each weighted by its share in the loudness of the two.

    Args:
        difference_db: (26,).
        reference: (26,) power.
        capture: (26,) power.
    """
    weight = a_power(band_mids_hz())
    shares = loudness_shares(weight * reference) + loudness_shares(weight * capture)
    return float(np.sqrt(np.sum(shares * soft_limited(difference_db) ** 2) / np.sum(shares)))


def texture_squares(
    reference: NDArray[np.float32], capture: NDArray[np.float32], noise: tuple[Samples, Samples]
) -> tuple[Samples, Samples]:
    """Squared differences of cells of a third octave by 21 ms that are owed neither to the band nor to the frame.

    Args:
        reference: (frames, 26) power while playing.
        capture: (frames, 26) power, tone-matched.
        noise: (26,) noise power of both, tone-matched.

    Returns:
        Squares in dB squared times the loudness of each frame, and that loudness, (frames,) each.
    """
    difference_db = np.empty((len(reference), TEXTURE_BANDS.stop - TEXTURE_BANDS.start), np.float32)
    counted = np.empty_like(difference_db)
    floor = 3.0 * (noise[0] + noise[1])
    for first in range(0, len(reference), _FRAMES_AT_ONCE):
        here = slice(first, first + _FRAMES_AT_ONCE)
        difference_db[here], counted[here] = _cells(reference[here], capture[here], floor)
    loudness = counted.sum(axis=1, dtype=np.float64)
    total = np.maximum(counted.sum(axis=0), np.float32(SILENT_POWER))
    difference_db -= np.sum(counted * difference_db, axis=0) / total
    shares = counted / np.maximum(loudness, SILENT_POWER)[:, None].astype(np.float32)
    difference_db -= np.sum(shares * difference_db, axis=1, keepdims=True)
    return loudness * np.sum(shares * soft_limited(difference_db) ** 2, axis=1, dtype=np.float64), loudness


def _cells(
    reference: NDArray[np.float32], capture: NDArray[np.float32], floor: Samples
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Difference in dB of every cell of some frames, and its loudness."""
    weight = a_power(band_mids_hz())
    masked = (reference @ weight)[:, None] * 10.0 ** (CELL_FLOOR_DB / 10.0) / np.maximum(weight, 1e-6) + floor
    cells = slice(None), TEXTURE_BANDS
    difference_db = decibels((capture + masked)[cells]) - decibels((reference + masked)[cells])
    shares = loudness_shares((reference * weight)[cells])
    loudness = np.sum((reference * weight)[cells], axis=1) ** (10.0 * LOUDNESS_EXPONENT)
    return difference_db.astype(np.float32), (shares * loudness[:, None]).astype(np.float32)


def noise_rise_db(reference_db: float, capture_db: float, playing_db: float) -> float:
    """How far the capture's noise lies above the reference's, or above what can be heard under the playing.

    Args:
        reference_db: level of the reference in the rests.
        capture_db: level of the capture there, at the reference's level.
        playing_db: level of the reference while playing.
    """
    return max(0.0, capture_db - max(reference_db + NOISE_ALLOWANCE_DB, playing_db + NOISE_FLOOR_DB))
