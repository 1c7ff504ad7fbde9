"""Which instant of the capture belongs to which instant of the reference: delay, drift, lost sound.

Generalised cross-correlation [Knapp1976] of the busiest stretch finds the delay; the same of short windows, added up
along lines of constant drift, finds the drift and shows whether the two stay together.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.errors import InvalidRecording
from optimiser.scoring.frames import TimeMap
from optimiser.scoring.recording import WORKING_RATE_HZ, Samples

BAND_HZ: Final = (80.0, 5000.0)
"""Hz. Where a loudspeaker for guitar has sound (common practice, no source)."""

BUSIEST_S: Final = 20.0
"""Seconds searched for in the whole capture; more of a drifting clock blurs the peak (measured on toy amps)."""

WINDOW_SAMPLES: Final = 16_384
"""Samples at the reduced rate, 1.37 s, of the windows that show the drift."""

REACH_SAMPLES: Final = 600
"""Samples at the reduced rate, 50 ms, to either side that a window may lie off, besides what drift may add."""

MOST_WINDOWS: Final = 64
"""Windows, so that a long recording does not need more memory than a short one."""

DRIFT_LIMIT_PPM: Final = 200
"""Parts in a million. Two cheap clocks hardly differ by more (common practice, no source)."""

DRIFT_STEP_PPM: Final = 5
"""Parts in a million between the drifts that are tried; refined later."""

ON_LINE_SAMPLES: Final = 3
"""Samples at the reduced rate, 0.25 ms, by which a window's own peak may miss the common line."""

SLIP_SHARE: Final = 0.1
"""Share of windows with another lag in common that counts as lost or repeated sound (measured on toy amps)."""

LEAST_OVERLAP_S: Final = 2.0
"""Seconds that reference and capture must share (common practice, no source)."""

_DECIMATION: Final = 4
_QUIET: Final = 1e-4


@dataclass(frozen=True)
class Alignment:
    """How the capture lies against the reference.

    Attributes:
        time_map: in samples at the working rate, to about one sample.
        steady: share of the windows that agree with the common line, or with the slip beside it, 0 to 1.
        slip_ms: milliseconds by which part of the capture lies off the rest, 0 when none does.
    """

    time_map: TimeMap
    steady: float
    slip_ms: float


def align(reference: NDArray[np.float32], capture: NDArray[np.float32]) -> Alignment:
    """Find delay and drift of a capture, upside down or not.

    Args:
        reference: (n,) at the working rate.
        capture: (m,) at the working rate.

    Raises:
        InvalidRecording: the two share less than 2 s, with fault `mismatch`.
    """
    import soxr

    rate_hz = WORKING_RATE_HZ / _DECIMATION
    ref, cap = (
        np.asarray(soxr.resample(sound, WORKING_RATE_HZ, rate_hz, quality="MQ"), dtype=np.float32)
        for sound in (reference, capture)
    )
    start, length = _busiest(ref, round(BUSIEST_S * rate_hz))
    lag = _strongest_lag(ref[start : start + length], cap) - start
    overlap = min(ref.size, cap.size - lag) - max(0, -lag)
    if overlap < min(LEAST_OVERLAP_S * rate_hz, ref.size, cap.size):
        raise InvalidRecording(
            "The capture does not overlap the reference.",
            "Check that both are whole recordings of one reel.",
            "mismatch",
        )
    middle, rows = _window_correlations(ref, cap, lag)
    drift_ppm, offset, on_line = _tallest_line(middle, rows)
    own = np.argmax(np.abs(rows), axis=1) - _reach(rows) - on_line
    slip = _slip_samples(own, rows, on_line)
    agreeing = np.minimum(np.abs(own), np.abs(own - slip)) <= ON_LINE_SAMPLES
    time_map = TimeMap((lag + offset) * _DECIMATION, drift_ppm * 1e-6)
    return Alignment(time_map, float(np.mean(agreeing)), slip * 1000.0 / rate_hz)


def _busiest(sound: NDArray[np.float32], length: int) -> tuple[int, int]:
    """Start and length of the stretch with most energy."""
    if sound.size <= length:
        return 0, sound.size
    energy = np.concatenate([[0.0], np.cumsum(np.square(sound, dtype=np.float64))])
    return int(np.argmax(energy[length:] - energy[:-length])), length


def _whitened(spectrum: NDArray[np.complex64], size: int) -> NDArray[np.complex64]:
    """A cross spectrum with its magnitude evened out to the power of a quarter, within the band.

    Dividing all of the magnitude out would amplify empty bands (measured on toy amps).
    """
    low, high = (round(edge * size * _DECIMATION / WORKING_RATE_HZ) for edge in BAND_HZ)
    inside = spectrum[..., low:high]
    magnitude = np.abs(inside)
    magnitude = np.maximum(magnitude, _QUIET * magnitude.max(axis=-1, keepdims=True) + np.finfo(np.float32).tiny)
    root = np.sqrt(magnitude)
    even = np.zeros_like(spectrum)
    even[..., low:high] = inside / (root * np.sqrt(root))
    return even


def _strongest_lag(piece: NDArray[np.float32], whole: NDArray[np.float32]) -> int:
    """Sample of `whole` at which `piece` starts."""
    import scipy.fft

    size = scipy.fft.next_fast_len(piece.size + whole.size, real=True)
    cross = np.conj(scipy.fft.rfft(piece, size)) * scipy.fft.rfft(whole, size)
    correlation = np.abs(scipy.fft.irfft(_whitened(cross, size), size))
    peak = int(np.argmax(correlation))
    return peak if peak < whole.size else peak - size


def _window_correlations(
    ref: NDArray[np.float32], cap: NDArray[np.float32], lag: int
) -> tuple[Samples, NDArray[np.float32]]:
    """Middle of every window in the reference, and its correlation with the capture around the common lag."""
    import scipy.fft

    length = min(WINDOW_SAMPLES, ref.size)
    reach = REACH_SAMPLES + int(ref.size * DRIFT_LIMIT_PPM * 1e-6)
    padded = np.concatenate([np.zeros(reach + length, np.float32), cap, np.zeros(reach + length, np.float32)])
    starts = np.arange(0, ref.size - length + 1, max(length // 2, ref.size // MOST_WINDOWS))
    there = (starts + lag >= 0) & (starts + lag + length <= cap.size)
    starts = starts[there] if there.any() else starts[:1]
    pieces = np.stack([ref[start : start + length] for start in starts])
    energy = np.sum(np.square(pieces, dtype=np.float64), axis=1)
    loud = energy >= _QUIET * energy.max()
    starts, pieces = starts[loud], pieces[loud]
    first = np.clip(starts + lag + length, 0, padded.size - length - 2 * reach)
    around = np.stack([padded[at : at + length + 2 * reach] for at in first])
    size = scipy.fft.next_fast_len(2 * length + 2 * reach, real=True)
    cross = np.conj(scipy.fft.rfft(pieces, size)) * scipy.fft.rfft(around, size)
    rows = scipy.fft.irfft(_whitened(cross, size), size)[:, : 2 * reach + 1]
    level = np.sqrt(np.mean(np.square(rows), axis=1, keepdims=True)) + np.finfo(np.float32).tiny
    return starts + length / 2, rows / level


def _tallest_line(middle: Samples, rows: NDArray[np.float32]) -> tuple[float, float, NDArray[np.int64]]:
    """The line of constant drift along which the windows' correlations add up highest.

    Returns:
        Drift in parts in a million, lag at the first sample against the middle of the rows, and the line's lag in every
        row.
    """
    reach = _reach(rows)
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


def _reach(rows: NDArray[np.float32]) -> int:
    """Samples from the middle of the rows to either end."""
    return int(rows.shape[1]) // 2


def _shifts(middle: Samples, drift_ppm: float) -> NDArray[np.int64]:
    return np.round(middle * drift_ppm * 1e-6).astype(np.int64)


def _slip_samples(own: NDArray[np.int64], rows: NDArray[np.float32], on_line: NDArray[np.int64]) -> float:
    """The lag off the line that more than a tenth of the windows have in common, 0 when there is none.

    A string's period puts second peaks beside the first, and a rest has no peak at all. A window counts only when its
    own peak clearly beats the line, and is no lower than half of what windows usually reach on it.
    """
    index = np.arange(own.size)
    height = np.abs(rows)
    there = np.array(
        [height[row, max(0, at - 3) : at + 4].max() for row, at in zip(index, on_line + _reach(rows), strict=True)]
    )
    clear = height.max(axis=1) > np.maximum(1.5 * there, 0.5 * np.median(there))
    strays = own[(np.abs(own) > 2 * ON_LINE_SAMPLES) & clear]
    if not strays.size:
        return 0.0
    alike = np.abs(strays[:, None] - strays[None, :]) <= 2
    most = int(np.argmax(alike.sum(axis=1)))
    share = alike[most].sum() / own.size
    return float(np.median(strays[alike[most]])) if share > SLIP_SHARE else 0.0
