"""The highest level that a recording reaches between its samples.

Convention: four times as many samples by a windowed sinc, as in annex 2 of [BS1770]; the standard's own filter is
shorter. Tolerance of a meter: +0.2 and -0.4 dB [EBU3341].
"""

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from optimiser.scoring.recording import Samples

OVERSAMPLING: Final = 4
"""Values for each sample [BS1770]."""

HALF_TAPS: Final = 12
"""Samples on either side that a value in between is made of (ours)."""

NEAR_PEAK: Final = 0.7
"""Share of the highest sample. A sine below a quarter of the sample rate has a sample within cos(45 deg) of its top, so
only samples as high as this can stand beside the highest top."""

_GATHERED: Final = 8192


def true_peak_dbtp(blocks: Iterable[Samples], sample_peak: float) -> float:
    """True peak of one channel, in dB of full scale.

    Args:
        blocks: (n,) each, in order.
        sample_peak: the highest absolute value of all of them, above 0.
    """
    taps = _taps()
    width, behind, top = len(taps), np.zeros(0), sample_peak
    for block in blocks:
        sound = np.concatenate([behind, block])
        behind = sound[-(width - 1) :]
        if sound.size < width:
            continue
        windows = sliding_window_view(sound, width)
        loud = np.abs(sound) >= NEAR_PEAK * sample_peak
        left, right = (loud[at : at + len(windows)] for at in (HALF_TAPS - 1, HALF_TAPS))
        near = np.flatnonzero(left | right)
        for first in range(0, near.size, _GATHERED):
            between = windows[near[first : first + _GATHERED]] @ taps
            top = max(top, float(np.max(np.abs(between))))
    return float(20.0 * np.log10(top))


def _taps() -> Samples:
    """Weights of a window of samples for the three values between its middle two, (24, 3)."""
    position = np.arange(1 - HALF_TAPS, HALF_TAPS + 1)[:, None]
    apart = np.arange(1, OVERSAMPLING) / OVERSAMPLING - position
    shape = np.cos(np.pi * apart / (2 * HALF_TAPS + 1)) ** 2
    taps = np.sinc(apart) * shape
    return np.asarray(taps / taps.sum(axis=0))
