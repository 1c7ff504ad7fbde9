"""The model that the pretend capture device makes of a chain: a filter, one curve, a filter [Giri2010].

A few low-passes are mixed in front of one bent and slightly lopsided curve; a long filter stands behind it. The
amplifier has several curves with filters between them, a supply that gives way and stages that block, so that the
model falls short once these matter.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.rehearsal.riffs import RATE_HZ

Array = NDArray[np.float64]

N_CURVE: Final = 3
"""Numbers that shape the curve: its offset, its share of straight line, its lopsidedness."""

STRAIGHT_SCALE: Final = 10.0
"""The share of straight line is counted in tenths, so that all numbers are of one size."""


@dataclass(frozen=True)
class CaptureDevice:
    """What the device can do (an invented device; no source where none is named).

    Attributes:
        corners_hz: low-passes mixed in front of the curve, beside the signal as it is.
        n_taps: length of the filter behind the curve.
        n_rounds: steps on each riff.
        forgetting: share of what earlier riffs taught that is kept from one riff to the next.
        start_drive: drive into the curve before anything is learnt.
        stride: longest step, as a share of the size of mixing and curve together.
        tiring: what the longest step is multiplied by from one riff to the next.
        damping: share of its own size that is added to the diagonal for mixing and curve.
        ridge: the same for the filter behind the curve.
        emphasis: first-difference coefficient with which errors are weighted, 0.85 [Wright2020].
        silent_share: share of error, as an amplitude, at which the device shows 0.
    """

    corners_hz: tuple[float, ...] = (250.0, 1_500.0)
    n_taps: int = 512
    n_rounds: int = 1
    forgetting: float = 0.4
    start_drive: float = 6.0
    stride: float = 0.6
    tiring: float = 0.8
    damping: float = 1e-3
    ridge: float = 1e-5
    emphasis: float = 0.85
    silent_share: float = 0.3

    @property
    def start(self) -> Array:
        """(p,) numbers of the model before anything is learnt: mixing, then curve."""
        mixing = np.zeros(1 + len(self.corners_hz))
        mixing[0] = self.start_drive
        return np.concatenate([mixing, np.zeros(N_CURVE)])


@dataclass(frozen=True)
class CaptureModel:
    """What the device has learnt.

    Attributes:
        device: the device.
        theta: (p,) mixing and curve.
        taps: (n_taps,) filter behind the curve.
        error_share: size of the error on the learning reel against the recording's, both with emphasis.
    """

    device: CaptureDevice
    theta: Array
    taps: Array
    error_share: float

    @property
    def reading(self) -> float:
        """The number that the device shows: 10 without error, 0 from `silent_share` on, in tenths."""
        return round(10.0 * max(0.0, 1.0 - self.error_share / self.device.silent_share), 1)

    def play(self, di: Array) -> Array:
        """(n,) samples of the model driven by (n,) dry samples."""
        from scipy.signal import oaconvolve

        heard: Array = oaconvolve(bend(front(di, self.device), self.theta), self.taps)[: len(di)]
        return heard


def front(di: Array, device: CaptureDevice) -> Array:
    """(1 + corners, n) the signal as it is and through each first-order low-pass."""
    from scipy.signal import lfilter

    poles = np.exp(-2.0 * np.pi * np.array(device.corners_hz) / RATE_HZ)
    return np.stack([di, *(lfilter([1.0 - pole], [1.0, -pole], di) for pole in poles)])


def bend(parts: Array, theta: Array) -> Array:
    """The curve: tanh v + straight x v / 10 + lopsided x tanh^2 v, v being the mixed parts plus an offset.

    Args:
        parts: (q, n) as `front` gives them.
        theta: (q + 3,) mixing, offset, straight, lopsided.

    Returns:
        (n,) samples.
    """
    offset, straight, lopsided = theta[len(parts) :]
    mixed = theta[: len(parts)] @ parts + offset
    bent = np.tanh(mixed)
    return np.asarray(bent * (1.0 + lopsided * bent) + (straight / STRAIGHT_SCALE) * mixed, dtype=np.float64)


def bend_slopes(parts: Array, theta: Array) -> Array:
    """(q + 3, n) derivatives of `bend` by every number of theta."""
    offset, straight, lopsided = theta[len(parts) :]
    mixed = theta[: len(parts)] @ parts + offset
    bent = np.tanh(mixed)
    slope = (1.0 - bent * bent) * (1.0 + 2.0 * lopsided * bent) + straight / STRAIGHT_SCALE
    return np.concatenate([parts * slope, slope[None], mixed[None] / STRAIGHT_SCALE, (bent * bent)[None]])
