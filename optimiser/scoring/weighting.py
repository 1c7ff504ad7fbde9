"""How much each frequency counts for loudness: A weighting and K weighting, as power gains."""

from typing import Final

import numpy as np

from optimiser.scoring.recording import WORKING_RATE_HZ, Samples

A_POLES_HZ: Final = (20.598997, 107.65265, 737.86223, 12194.217)
"""Hz. Corner frequencies of the A curve [IEC61672]."""

K_SHELF: Final = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585))
"""Numerator and denominator at 48 kHz of the shelf that stands for the head [BS1770]."""

K_HIGH_PASS: Final = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
"""Numerator and denominator at 48 kHz of the high-pass [BS1770]."""


def a_weighting_db(frequency_hz: Samples) -> Samples:
    """The A curve in dB, 0 at 1 kHz [IEC61672].

    Args:
        frequency_hz: any shape, above 0.
    """
    return _a_curve_db(frequency_hz) - _a_curve_db(np.array(1000.0))


def a_power(frequency_hz: Samples) -> Samples:
    """Power gain of the A curve, 1 at 1 kHz and 0 at 0 Hz."""
    gain = np.zeros_like(frequency_hz)
    heard = frequency_hz > 0
    gain[heard] = 10.0 ** (a_weighting_db(frequency_hz[heard]) / 10.0)
    return gain


def k_power(frequency_hz: Samples) -> Samples:
    """Power gain of the two K filters, at a sample rate of 48 kHz [BS1770].

    Args:
        frequency_hz: any shape, 0 to 24 kHz.
    """
    return np.abs(k_response(frequency_hz)) ** 2


def k_response(frequency_hz: Samples) -> np.ndarray[tuple[int, ...], np.dtype[np.complex128]]:
    """Complex response of the two K filters, at a sample rate of 48 kHz [BS1770]."""
    delay = np.exp(-2j * np.pi * frequency_hz / WORKING_RATE_HZ)
    response = np.ones_like(delay)
    for numerator, denominator in (K_SHELF, K_HIGH_PASS):
        response *= np.polyval(numerator[::-1], delay) / np.polyval(denominator[::-1], delay)
    return np.asarray(response)


def _a_curve_db(frequency_hz: Samples) -> Samples:
    f1, f2, f3, f4 = A_POLES_HZ
    square = np.asarray(frequency_hz, dtype=np.float64) ** 2
    ratio = f4**2 * square**2 / ((square + f1**2) * np.sqrt((square + f2**2) * (square + f3**2)) * (square + f4**2))
    return 20.0 * np.log10(ratio)
