"""How far apart two recordings lie in tone and in noise."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.bands import band_mids_hz, decibels, loudness_shares
from optimiser.scoring.recording import Samples
from optimiser.scoring.weighting import a_power

SOFT_LIMIT_DB: Final = 12.0
"""dB towards which a difference is bent, so that one empty band does not decide alone (measured on toy amps)."""

TONE_LIMIT_DB: Final = 24.0
"""dB towards which a band's difference is bent in the tone of the whole (measured on toy amps)."""

TONE_FLOOR_DB: Final = -50.0
"""dB below the loudest A-weighted band, under which a band is masked (measured on toy amps)."""

NOISE_ALLOWANCE_DB: Final = 1.0
"""dB by which the capture's noise may lie over the reference's unnoticed (measured on toy amps)."""

NOISE_FLOOR_DB: Final = -55.0
"""dB, K-weighted noise over playing, under which noise is not counted (measured on toy amps)."""


def soft_limited(difference_db: NDArray[np.floating], limit_db: float = SOFT_LIMIT_DB) -> Samples:
    """A difference bent towards a limit, the same for small ones."""
    return np.asarray(limit_db * np.tanh(difference_db / limit_db))


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
    return float(np.sqrt(np.sum(shares * soft_limited(difference_db, TONE_LIMIT_DB) ** 2) / np.sum(shares)))


def noise_rise_db(reference_db: float, capture_db: float, playing_db: float) -> float:
    """How far the capture's noise lies above the reference's, or above what can be heard under the playing.

    Args:
        reference_db: level of the reference in the rests.
        capture_db: level of the capture there, at the reference's level.
        playing_db: level of the reference while playing.
    """
    return max(0.0, capture_db - max(reference_db + NOISE_ALLOWANCE_DB, playing_db + NOISE_FLOOR_DB))
