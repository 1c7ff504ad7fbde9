"""Second-order sections after the audio equaliser formulas [BristowJohnson2021], and their responses."""

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Section = tuple[float, float, float, float, float, float]
"""b0 b1 b2 a0 a1 a2 with a0 = 1."""

Shape = Literal["low-pass", "high-pass", "peak", "low shelf", "high shelf"]


def section(
    shape: Shape, frequency_hz: float, rate_hz: float, q: float = math.sqrt(0.5), gain_db: float = 0.0
) -> Section:
    """One section [BristowJohnson2021].

    Args:
        shape: what it does.
        frequency_hz: corner or centre.
        rate_hz: sample rate.
        q: quality.
        gain_db: lift of a peak or shelf.
    """
    angle = 2.0 * math.pi * frequency_hz / rate_hz
    cosine, slope = math.cos(angle), math.sin(angle) / (2.0 * q)
    root = 10.0 ** (gain_db / 40.0)
    if shape == "low-pass":
        raw = ((1 - cosine) / 2, 1 - cosine, (1 - cosine) / 2, 1 + slope, -2 * cosine, 1 - slope)
    elif shape == "high-pass":
        raw = ((1 + cosine) / 2, -1 - cosine, (1 + cosine) / 2, 1 + slope, -2 * cosine, 1 - slope)
    elif shape == "peak":
        raw = (1 + slope * root, -2 * cosine, 1 - slope * root, 1 + slope / root, -2 * cosine, 1 - slope / root)
    else:
        raw = _shelf(root, cosine if shape == "low shelf" else -cosine, slope, -1.0 if shape == "low shelf" else 1.0)
    b0, b1, b2, a0, a1, a2 = raw
    return b0 / a0, b1 / a0, b2 / a0, 1.0, a1 / a0, a2 / a0


def _shelf(root: float, cosine: float, slope: float, side: float) -> Section:
    """A low shelf for side -1; a high shelf is its mirror image, with the cosine's sign turned."""
    plus, minus, swing = root + 1, root - 1, 2 * math.sqrt(root) * slope
    return (
        root * (plus - minus * cosine + swing),
        -side * 2 * root * (minus - plus * cosine),
        root * (plus - minus * cosine - swing),
        plus + minus * cosine + swing,
        side * 2 * (minus + plus * cosine),
        plus + minus * cosine - swing,
    )


def through(sections: tuple[Section, ...], samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n,) samples through all sections, one after the other, from rest."""
    from scipy.signal import sosfilt

    filtered: NDArray[np.float64] = sosfilt(np.array(sections), samples)
    return filtered


def response(
    sections: tuple[Section, ...], frequencies_hz: NDArray[np.float64], rate_hz: float
) -> NDArray[np.complex128]:
    """Complex response of all sections at (m,) frequencies."""
    delay = np.exp(-2j * np.pi * frequencies_hz / rate_hz)
    total = np.ones(len(frequencies_hz), dtype=np.complex128)
    for b0, b1, b2, a0, a1, a2 in sections:
        total *= (b0 + b1 * delay + b2 * delay**2) / (a0 + a1 * delay + a2 * delay**2)
    return total
