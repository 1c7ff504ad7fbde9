"""Third octaves: where they lie, and how spectra are summed into them."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.recording import Samples

LOWEST_BAND: Final = -13
"""Index of the 50 Hz band, below the lowest string of a tuned-down guitar (common practice, no source)."""

HIGHEST_BAND: Final = 12
"""Index of the 16 kHz band, above what a guitar loudspeaker gives (common practice, no source)."""

BAND_COUNT: Final = HIGHEST_BAND - LOWEST_BAND + 1

LOUDNESS_EXPONENT: Final = 0.03
"""Per dB. Loudness grows as intensity to the power 0.3 [Stevens1955]."""

SILENT_POWER: Final = 1e-20
"""Power that stands for nothing at all, so that logarithms stay finite: 200 dB below full scale."""


def band_mids_hz() -> Samples:
    """Exact middle frequencies 1000 x 10^(n/10) of our bands, (26,) [IEC61260]."""
    return 1000.0 * 10.0 ** (np.arange(LOWEST_BAND, HIGHEST_BAND + 1) / 10.0)


def band_edges_hz() -> tuple[Samples, Samples]:
    """Lower and upper edges of our bands, a twentieth of a decade from the middle, (26,) each [IEC61260]."""
    mids_hz = band_mids_hz()
    return mids_hz * 10.0 ** (-1 / 20), mids_hz * 10.0 ** (1 / 20)


def band_matrix(frame_size: int, rate_hz: int) -> NDArray[np.float32]:
    """Share of each bin's power that falls into each band, (frame_size / 2 + 1, 26).

    A bin reaches half a spacing to either side, and is divided between the bands that it touches.
    """
    spacing_hz = rate_hz / frame_size
    middle_hz = np.arange(frame_size // 2 + 1)[:, None] * spacing_hz
    low_hz, high_hz = band_edges_hz()
    overlap_hz = np.minimum(middle_hz + spacing_hz / 2, high_hz) - np.maximum(middle_hz - spacing_hz / 2, low_hz)
    return np.asarray(np.maximum(overlap_hz, 0.0) / spacing_hz, dtype=np.float32)


def decibels(power: NDArray[np.floating] | np.floating | float) -> Samples:
    """10 log10 of a power in double precision, floored at -200 dB."""
    return np.asarray(10.0 * np.log10(np.maximum(power, SILENT_POWER, dtype=np.float64)))


def loudness_shares(weighted_power: Samples) -> Samples:
    """Share of each band in the loudness of the whole, adding up to 1 along the last axis.

    Args:
        weighted_power: A-weighted power of each band.
    """
    loudness = np.maximum(weighted_power, SILENT_POWER) ** (10.0 * LOUDNESS_EXPONENT)
    return np.asarray(loudness / loudness.sum(axis=-1, keepdims=True))
