"""Which instant of the capture belongs to which instant of the reference: delay, drift, lost sound.

The correlation of the busiest stretch finds the delay; the same of short windows, added up along lines of constant
drift, finds the drift and shows whether the two stay together.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.errors import InvalidRecording
from optimiser.scoring.frames import TimeMap
from optimiser.scoring.lags import REDUCED_RATE_HZ, busiest, reduced, strongest_lag, window_correlations
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.slips import Slip, agreeing, slip_samples, slip_start
from optimiser.scoring.track import Mono, Track

BUSIEST_S: Final = 20.0
"""Seconds searched for in the whole capture; more of a drifting clock blurs the peak (measured on toy amps)."""

DRIFT_LIMIT_PPM: Final = 200
"""Parts in a million. Two cheap clocks hardly differ by more (common practice, no source)."""

DRIFT_STEP_PPM: Final = 5
"""Parts in a million between the drifts that are tried; refined later."""

LEAST_OVERLAP_S: Final = 2.0
"""Seconds that reference and capture must share (common practice, no source)."""

_DECIMATION: Final = WORKING_RATE_HZ // REDUCED_RATE_HZ


@dataclass(frozen=True)
class Alignment:
    """How the capture lies against the reference.

    Attributes:
        time_map: in samples at the working rate, to about one sample.
        steady: share of the windows that agree with the common line, or with the slip beside it, 0 to 1.
        slip: sound that was lost or repeated, None when there is none.
    """

    time_map: TimeMap
    steady: float
    slip: Slip | None


def align(reference: Track, capture: Track) -> Alignment:
    """Find delay and drift of a capture, upside down or not.

    Raises:
        InvalidRecording: the two share less than 2 s, with fault `mismatch`.
    """
    ref, cap = reduced(reference), reduced(capture)
    start, length = busiest(ref, round(BUSIEST_S * REDUCED_RATE_HZ))
    lag = strongest_lag(ref[start : start + length], cap) - start
    overlap = min(ref.size, cap.size - lag) - max(0, -lag)
    if overlap < min(LEAST_OVERLAP_S * REDUCED_RATE_HZ, ref.size, cap.size):
        raise InvalidRecording(
            "The capture does not overlap the reference.",
            "Check that both are whole recordings of one reel.",
            "mismatch",
        )
    middle, rows = window_correlations(ref, cap, lag, DRIFT_LIMIT_PPM * 1e-6)
    drift_ppm, offset, on_line = _tallest_line(middle, rows)
    time_map = TimeMap((lag + offset) * _DECIMATION, drift_ppm * 1e-6)
    own = np.argmax(np.abs(rows), axis=1) - rows.shape[1] // 2 - on_line
    by = slip_samples(own, rows, on_line)
    return Alignment(time_map, agreeing(own, by), _located(ref, cap, by, time_map) if by else None)


def _located(ref: Mono, cap: Mono, by: int, time_map: TimeMap) -> Slip:
    lag = time_map.delay_samples / _DECIMATION
    return Slip(by / REDUCED_RATE_HZ, slip_start(ref, cap, lag, time_map.drift, by) / REDUCED_RATE_HZ)


def _tallest_line(middle: Samples, rows: NDArray[np.float32]) -> tuple[float, float, NDArray[np.int64]]:
    """The line of constant drift along which the windows' correlations add up highest.

    Returns:
        Drift in parts in a million, lag at the first sample against the middle of the rows, and the line's lag in every
        row.
    """
    reach = rows.shape[1] // 2
    margin = round(float(middle.max()) * DRIFT_LIMIT_PPM * 1e-6) + 1
    usable = np.arange(-(reach - margin), reach - margin + 1)
    best = (0.0, 0, 0)
    for drift_ppm in sorted(range(-DRIFT_LIMIT_PPM, DRIFT_LIMIT_PPM + 1, DRIFT_STEP_PPM), key=abs):
        stack = np.zeros(usable.size)
        for shift, row in zip(_shifts(middle, drift_ppm), rows, strict=True):
            at = usable[0] + reach + shift
            stack += row[at : at + usable.size]
        peak = int(np.argmax(np.abs(stack)))
        if abs(stack[peak]) > best[0] * (1 + 1e-9):
            best = (float(abs(stack[peak])), int(usable[peak]), drift_ppm)
    _, offset, drift_ppm = best
    return drift_ppm, offset, offset + _shifts(middle, drift_ppm)


def _shifts(middle: Samples, drift_ppm: float) -> NDArray[np.int64]:
    return np.round(middle * drift_ppm * 1e-6).astype(np.int64)
