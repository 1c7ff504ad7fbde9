"""Loudness of a whole recording, in the units of broadcast."""

from typing import Final

import numpy as np

from optimiser.scoring.bands import decibels
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples, check_rate
from optimiser.scoring.weighting import k_response

OFFSET_DB: Final = -0.691
"""dB. Makes a 997 Hz sine of full scale in one channel read -3.01 LKFS [BS1770]."""

BLOCK_S: Final = 0.4
"""Seconds of a gating block, three quarters of which it shares with the next [BS1770]."""

ABSOLUTE_GATE_LKFS: Final = -70.0
"""LKFS below which a block is not counted [BS1770]."""

RELATIVE_GATE_LU: Final = -10.0
"""LU below the loudness of the counted blocks, under which a block is not counted either [BS1770]."""

SURROUND_GAIN: Final = 1.41
"""Power gain of the two surround channels of five [BS1770]."""

_SURROUND_CHANNELS: Final = (3, 4)
_SETTLING_S: Final = 1.0


def loudness_lkfs(samples: Samples, rate_hz: int) -> float:
    """Gated loudness of a recording [BS1770] [EBU3341].

    Args:
        samples: (n,) or (n, channels); five channels are left, right, centre and the two surrounds.
        rate_hz: samples per second.

    Returns:
        LKFS, minus infinity when no block lies above the absolute gate.

    Raises:
        InvalidRecording: a rate that no recorder has.
    """
    power = _block_powers(_at_working_rate(samples, rate_hz))
    level_lkfs = OFFSET_DB + decibels(power)
    counted = level_lkfs > ABSOLUTE_GATE_LKFS
    if not counted.any():
        return float("-inf")
    gate_lkfs = OFFSET_DB + decibels(power[counted].mean()) + RELATIVE_GATE_LU
    return float(OFFSET_DB + decibels(power[counted & (level_lkfs > gate_lkfs)].mean()))


def _at_working_rate(samples: Samples, rate_hz: int) -> Samples:
    check_rate(rate_hz)
    channels = np.asarray(samples, dtype=np.float64)
    channels = channels[:, None] if channels.ndim == 1 else channels
    if rate_hz == WORKING_RATE_HZ:
        return channels
    import soxr

    return np.asarray(soxr.resample(channels, rate_hz, WORKING_RATE_HZ))


def _block_powers(channels: Samples) -> Samples:
    """Mean square of the K-weighted sound in every gating block, channels added up with their gains."""
    block = round(BLOCK_S * WORKING_RATE_HZ)
    step = block // 4
    powers = np.zeros(max(0, (len(channels) - block) // step + 1))
    for number in range(channels.shape[1]):
        square = _k_weighted(channels[:, number]) ** 2
        running = np.concatenate([[0.0], np.cumsum(square)])
        starts = np.arange(powers.size) * step
        gain = SURROUND_GAIN if channels.shape[1] == 5 and number in _SURROUND_CHANNELS else 1.0
        powers += gain * (running[starts + block] - running[starts]) / block
    return powers


def _k_weighted(samples: Samples) -> Samples:
    """Sound through the two K filters; their tails have died away within the padding."""
    import scipy.fft

    size = scipy.fft.next_fast_len(samples.size + round(_SETTLING_S * WORKING_RATE_HZ), real=True)
    response = k_response(np.linspace(0.0, WORKING_RATE_HZ * (size // 2) / size, size // 2 + 1))
    return np.asarray(np.fft.irfft(np.fft.rfft(samples, size) * response, size)[: samples.size])
