"""Sound that one of two recordings lost or repeated: by how much, and from when on."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.track import Mono

ON_LINE_SAMPLES: Final = 3
"""Samples at the reduced rate, 0.25 ms, by which a window's own peak may miss the common line."""

SLIP_SHARE: Final = 0.1
"""Share of windows with another lag in common that counts as lost or repeated sound (measured on toy amps)."""

_CELL_SAMPLES: Final = 240
"""20 ms at the reduced rate, the grain in which the start of a slip is sought."""


@dataclass(frozen=True)
class Slip:
    """Sound that was lost or repeated.

    Attributes:
        by_s: seconds by which the smaller part of the capture lies later than the rest; below 0 when it lies earlier.
        at_s: seconds in the reference at which the two parts meet.
    """

    by_s: float
    at_s: float


def agreeing(own: NDArray[np.int64], slip: int) -> float:
    """Share of windows whose own lag lies on the common line or on the slip's, 0 to 1.

    Args:
        own: (windows,) lag of each one's own peak, against the line.
        slip: lag of the slip against the line, 0 without one.
    """
    return float(np.mean(np.minimum(np.abs(own), np.abs(own - slip)) <= ON_LINE_SAMPLES))


def slip_samples(own: NDArray[np.int64], rows: NDArray[np.float32], on_line: NDArray[np.int64]) -> int:
    """The lag off the line that more than a tenth of the windows have in common, 0 when there is none.

    A string's period puts second peaks beside the first, and a rest has no peak at all. A window counts only when its
    own peak clearly beats the line, and is no lower than half of what windows usually reach on it.

    Args:
        own: (windows,) lag of each one's own peak, against the line.
        rows: (windows, lags) correlations.
        on_line: (windows,) lag of the line against the middle of each row.
    """
    index = np.arange(own.size)
    height = np.abs(rows)
    there = np.array(
        [
            height[row, max(0, at - 3) : at + 4].max()
            for row, at in zip(index, on_line + rows.shape[1] // 2, strict=True)
        ]
    )
    clear = height.max(axis=1) > np.maximum(1.5 * there, 0.5 * np.median(there))
    strays = own[(np.abs(own) > 2 * ON_LINE_SAMPLES) & clear]
    if not strays.size:
        return 0
    alike = np.abs(strays[:, None] - strays[None, :]) <= 2
    most = int(np.argmax(alike.sum(axis=1)))
    share = alike[most].sum() / own.size
    return round(float(np.median(strays[alike[most]]))) if share > SLIP_SHARE else 0


def slip_start(ref: Mono, cap: Mono, lag: float, drift: float, by: int) -> int:
    """Sample of the reference at which the capture changes from one lag to the other.

    In cells of 20 ms the waveform is laid over the capture at either lag; the split into two parts that explains most
    cells is taken.

    Args:
        ref: (n,) at the reduced rate.
        cap: (m,) at the reduced rate.
        lag: sample of `cap` at which `ref` starts.
        drift: by how much more the capture's clock counts.
        by: further samples by which part of the capture lies later.
    """
    cells = ref[: ref.size // _CELL_SAMPLES * _CELL_SAMPLES].reshape(-1, _CELL_SAMPLES)
    start = np.arange(len(cells)) * _CELL_SAMPLES
    gain = np.zeros(len(cells))
    for sign, further in ((1.0, 0), (-1.0, by)):
        at = np.round(lag + start * (1.0 + drift)).astype(np.int64) + further
        for row, first in enumerate(at):
            if first >= 0 and first + _CELL_SAMPLES <= cap.size:
                other = cap[first : first + _CELL_SAMPLES]
                scale = float(np.linalg.norm(cells[row]) * np.linalg.norm(other)) + np.finfo(np.float32).tiny
                gain[row] += sign * abs(float(cells[row] @ other)) / scale * np.linalg.norm(cells[row])
    running = np.concatenate([[0.0], np.cumsum(gain)])
    return int(np.argmax(np.abs(2 * running - running[-1]))) * _CELL_SAMPLES
