"""The two loops in which pyclarity's HAAQI spends most of its time, over whole channels instead of segment by segment.

Same definitions, same values but for rounding: `python -m tests.benchmarks.match.haaqi_loops` shows it on noise.
"""

from importlib import import_module
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

LAG_MS: Final = 1.0
"""How far HAAQI shifts one side against the other in looking for the best cross-covariance."""

SILENT: Final = 1e-30


def quicken(ear_model: Any) -> None:
    """Put both in place of pyclarity's own."""
    ear_model.env_smooth, ear_model.bm_covary = env_smooth, bm_covary


def segments(samples: int, window: Values) -> list[tuple[NDArray[np.int_], Values]]:
    """Starts of the first half segment, of the whole ones and of the last half one, each with its window.

    Segments overlap by half; the first has the window's falling half, the last its rising half.
    """
    size, half = window.size, window.size // 2
    count = 1 + samples // size + (samples - half) // size
    whole = half * np.arange(1, count - 1)
    return [(np.array([0]), window[half:]), (whole, window), (np.array([half * (count - 1)]), window[:half])]


def _window(segment_ms: float, rate_hz: float) -> Values:
    size = int(np.around(segment_ms * 0.001 * rate_hz))
    return np.asarray(np.hanning(size + size % 2))


def _framed(sound: Values, starts: NDArray[np.int_], window: Values) -> Values:
    return np.asarray(np.lib.stride_tricks.sliding_window_view(sound, window.size)[starts] * window)


def env_smooth(envelopes: Values, segment_size: float, sample_rate: float) -> Values:
    """Weighted mean of (channels, n) envelopes in every segment."""
    parts = segments(envelopes.shape[1], _window(segment_size, sample_rate))
    return np.array(
        [
            np.concatenate([_framed(channel, starts, window).sum(axis=1) / window.sum() for starts, window in parts])
            for channel in envelopes
        ]
    )


def bm_covary(reference: Values, processed: Values, segment_size: float, sample_rate: float) -> tuple[Values, ...]:
    """Best normalised cross-covariance and both mean squares of (channels, n) vibrations in every segment."""
    parts = segments(reference.shape[1], _window(segment_size, sample_rate))
    most = int(np.around(LAG_MS * 0.001 * sample_rate))
    told = [
        np.concatenate([_covariance(one, other, starts, window, most) for starts, window in parts], axis=1)
        for one, other in zip(reference, processed, strict=True)
    ]
    covariance, real, copy = np.array(told).transpose(1, 0, 2)
    return np.clip(covariance, 0, 1), 2 * real, 2 * copy


def _covariance(one: Values, other: Values, starts: NDArray[np.int_], window: Values, most: int) -> Values:
    """(3, segments): covariance and mean squares, against the window's own at each lag.

    Both half windows have the same correlation with themselves and the same power.
    """
    real, copy = (_framed(sound, starts, window) for sound in (one, other))
    real -= real.mean(axis=1, keepdims=True)
    copy -= copy.mean(axis=1, keepdims=True)
    squares = [np.sum(side**2, axis=1) / np.sum(window**2) for side in (real, copy)]
    best = np.zeros(starts.size)
    for lag in range(-most, most + 1):
        late, early = slice(max(0, lag), window.size + min(0, lag)), slice(max(0, -lag), window.size - max(0, lag))
        product = np.einsum("ij,ij->i", real[:, late], copy[:, early]) / np.sum(window[late] * window[early])
        best = np.maximum(best, np.abs(product))
    heard = (squares[0] > SILENT) & (squares[1] > SILENT)
    level = np.sqrt(np.where(heard, squares[0] * squares[1], 1.0))
    return np.array([np.where(heard, best / level, 0.0), *squares])


def main() -> None:
    """Print the largest difference between these and pyclarity's."""
    ear_model: Any = import_module("clarity.evaluator.haspi.eb")
    rng = np.random.default_rng(0)
    one = rng.normal(size=(2, 24_000))
    other = one + rng.normal(size=one.shape)
    smooth = np.max(np.abs(env_smooth(one, 8, 24_000) - ear_model.env_smooth(one, 8, 24_000)))
    pairs = zip(bm_covary(one, other, 16, 24_000), ear_model.bm_covary(one, other, 16, 24_000), strict=True)
    print(f"{max(smooth, *(np.max(np.abs(ours - theirs)) for ours, theirs in pairs)):.1e}")  # noqa: T201


if __name__ == "__main__":
    main()
