"""Where one sound lies in another: generalised cross-correlation [Knapp1976], of sound at a reduced rate."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.recording import WORKING_RATE_HZ, Samples
from optimiser.scoring.track import Mono, Track

REDUCED_RATE_HZ: Final = WORKING_RATE_HZ // 4

BAND_HZ: Final = (80.0, 5000.0)
"""Hz. Where a loudspeaker for guitar has sound (common practice, no source)."""

WINDOW_SAMPLES: Final = 16_384
"""Samples at the reduced rate, 1.37 s, of the windows that show the drift."""

REACH_SAMPLES: Final = 600
"""Samples at the reduced rate, 50 ms, to either side that a window may lie off, besides what drift may add."""

MOST_WINDOWS: Final = 64
"""Windows, so that a long recording does not need more memory than a short one."""

_SEARCHED_AT_ONCE: Final = 1 << 20
_QUIET: Final = 1e-4


def reduced(track: Track) -> Mono:
    """The whole track at a quarter of the working rate."""
    small, done = track.resampled(0.25, "MQ"), 0
    sound = np.empty(small.size, np.float32)
    for block in small.blocks():
        sound[done : done + block.size] = block
        done += block.size
    return sound


def busiest(sound: Mono, length: int) -> tuple[int, int]:
    """Start and length of the stretch with most energy, to a tenth of a second."""
    if sound.size <= length:
        return 0, sound.size
    grain = REDUCED_RATE_HZ // 10
    cells = sound[: sound.size // grain * grain].reshape(-1, grain)
    energy = np.concatenate([[0.0], np.cumsum(np.einsum("ij,ij->i", cells, cells), dtype=np.float64)])
    span = length // grain
    return int(np.argmax(energy[span:] - energy[:-span])) * grain, length


def strongest_lag(piece: Mono, whole: Mono) -> int:
    """Sample of `whole` at which `piece` starts; a long one is searched part by part."""
    best = (0.0, 0)
    step = max(_SEARCHED_AT_ONCE, piece.size)
    for first in range(0, max(1, whole.size - piece.size), step):
        part = whole[first : first + step + piece.size]
        height, lag = _peak(piece, part)
        if height > best[0]:
            best = (height, first + lag)
    return best[1]


def _peak(piece: Mono, part: Mono) -> tuple[float, int]:
    import scipy.fft

    size = scipy.fft.next_fast_len(piece.size + part.size, real=True)
    cross = np.conj(scipy.fft.rfft(piece, size)) * scipy.fft.rfft(part, size)
    correlation = np.abs(scipy.fft.irfft(_whitened(cross, size), size))
    peak = int(np.argmax(correlation))
    level = np.sqrt(np.mean(np.square(correlation))) + np.finfo(np.float32).tiny
    return float(correlation[peak] / level), peak if peak < part.size else peak - size


def _whitened(spectrum: NDArray[np.complex64], size: int) -> NDArray[np.complex64]:
    """A cross spectrum with its magnitude evened out to the power of a quarter, within the band.

    Dividing all of the magnitude out would amplify empty bands (measured on toy amps).
    """
    low, high = (round(edge * size / REDUCED_RATE_HZ) for edge in BAND_HZ)
    inside = spectrum[..., low:high]
    magnitude = np.abs(inside)
    magnitude = np.maximum(magnitude, _QUIET * magnitude.max(axis=-1, keepdims=True) + np.finfo(np.float32).tiny)
    root = np.sqrt(magnitude)
    even = np.zeros_like(spectrum)
    even[..., low:high] = inside / (root * np.sqrt(root))
    return even


def window_correlations(ref: Mono, cap: Mono, lag: int, drift_limit: float) -> tuple[Samples, NDArray[np.float32]]:
    """Middle of every window in the reference, and its correlation with the capture around the common lag.

    Args:
        ref: (n,) at the reduced rate.
        cap: (m,) at the reduced rate.
        lag: sample of `cap` at which `ref` starts.
        drift_limit: share by which the two clocks may differ.

    Returns:
        (windows,) middles in samples, and (windows, 2 reach + 1) correlations over their rms.
    """
    import scipy.fft

    length = min(WINDOW_SAMPLES, ref.size)
    reach = REACH_SAMPLES + int(ref.size * drift_limit)
    starts = np.arange(0, ref.size - length + 1, max(length // 2, ref.size // MOST_WINDOWS))
    there = (starts + lag >= 0) & (starts + lag + length <= cap.size)
    starts = starts[there] if there.any() else starts[:1]
    pieces = np.stack([ref[start : start + length] for start in starts])
    energy = np.sum(np.square(pieces, dtype=np.float64), axis=1)
    loud = energy >= _QUIET * energy.max()
    starts, pieces = starts[loud], pieces[loud]
    around = np.stack([_around(cap, int(start) + lag - reach, length + 2 * reach) for start in starts])
    size = scipy.fft.next_fast_len(2 * length + 2 * reach, real=True)
    cross = np.conj(scipy.fft.rfft(pieces, size)) * scipy.fft.rfft(around, size)
    rows = scipy.fft.irfft(_whitened(cross, size), size)[:, : 2 * reach + 1]
    level = np.sqrt(np.mean(np.square(rows), axis=1, keepdims=True)) + np.finfo(np.float32).tiny
    return starts + length / 2, rows / level


def _around(sound: Mono, first: int, length: int) -> Mono:
    """A stretch of a sound, silence where it reaches over an end."""
    cut = np.zeros(length, np.float32)
    low, high = max(0, first), min(sound.size, first + length)
    if low < high:
        cut[low - first : high - first] = sound[low:high]
    return cut
