"""Signs of a recording that went wrong: flat tops, dropouts, hum, another performance."""

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.recording import WORKING_RATE_HZ, Samples

FLAT_TOP_SHARE: Final = 1e-4
"""Share of the extreme within which a peak counts as flat (measured on toy amps)."""

FLAT_TOP_SAMPLES: Final = 3
"""Samples in a row at the extreme that make a flat top (common practice, no source)."""

FLAT_TOPS: Final = 5
"""Flat tops that are let pass (measured on toy amps)."""

DROPOUT_S: Final = (0.001, 0.1)
"""Seconds of exact zeros between sound that count as lost (common practice, no source)."""

MAINS_HZ: Final = (50.0, 60.0)
"""Hz of the mains."""

HUM_DB: Final = 15.0
"""dB by which the mains' harmonics stand out of their surroundings when it hums (measured on toy amps)."""

HUM_HARMONICS: Final = 6

ANOTHER_RESIDUAL: Final = 0.95
"""Residual above which two recordings have nothing to do with each other (measured on toy amps)."""

DOUBTFUL_RESIDUAL: Final = 0.5
"""Residual above which the two must at least stay together in time (measured on toy amps)."""

STEADY_SHARE: Final = 0.6
"""Share of windows that must agree on the delay when the residual is doubtful (measured on toy amps)."""

_ACTIVE: Final = 0.02
_EDGE_SAMPLES: Final = 3


def has_flat_tops(blocks: Iterable[Samples], extremes: tuple[float, float]) -> bool:
    """Whether more than five peaks stay at the extreme for three samples or longer.

    Args:
        blocks: (n,) each, one channel in order.
        extremes: its lowest and highest value.
    """
    low, high = extremes
    edges = (low + FLAT_TOP_SHARE * abs(low), high - FLAT_TOP_SHARE * abs(high))
    counts, last = np.zeros(2, dtype=np.int64), np.zeros((2, FLAT_TOP_SAMPLES), dtype=bool)
    for block in blocks:
        flat = np.concatenate([last, np.stack([block <= edges[0], block >= edges[1]])], axis=1)
        whole = np.all([flat[:, 1 + n : flat.shape[1] - FLAT_TOP_SAMPLES + n + 1] for n in range(FLAT_TOP_SAMPLES)], 0)
        counts += np.count_nonzero(whole & ~flat[:, : whole.shape[1]], axis=1)
        last = flat[:, -FLAT_TOP_SAMPLES:]
    return bool(counts.sum() > FLAT_TOPS)


def dropout_s(blocks: Iterable[Samples], rate_hz: int, peak: float) -> float | None:
    """When the first stretch of 1 to 100 ms of exact zeros lies between sound, in seconds.

    Args:
        blocks: (n,) each, one channel in order.
        rate_hz: samples per second.
        peak: its highest absolute value.
    """
    shortest, longest = (round(second * rate_hz) for second in DROPOUT_S)
    active, behind, first = _ACTIVE * peak, np.zeros(0), 0
    for block in blocks:
        sound = np.concatenate([behind, block])
        starts, lengths = _runs(sound == 0.0)
        fitting = (lengths >= shortest) & (lengths <= longest)
        for start, end in zip(starts[fitting].tolist(), (starts + lengths)[fitting].tolist(), strict=True):
            before, after = sound[max(0, start - _EDGE_SAMPLES) : start], sound[end : end + _EDGE_SAMPLES]
            if before.size and after.size and min(np.max(np.abs(before)), np.max(np.abs(after))) > active:
                return float((first + start) / rate_hz)
        behind = sound[-(longest + 2 * _EDGE_SAMPLES) :]
        first += sound.size - behind.size
    return None


def _runs(flags: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Start and length of every unbroken run of true flags."""
    edges = np.flatnonzero(np.diff(flags, prepend=False, append=False))
    return edges[::2], edges[1::2] - edges[::2]


def hum_hz(rest: NDArray[np.float32]) -> float | None:
    """The mains frequency whose harmonics stand out of a rest, None when it does not hum.

    Args:
        rest: (n,) a stretch of noise at the working rate, at least half a second.
    """
    if rest.size < WORKING_RATE_HZ / 2:
        return None
    power = np.abs(np.fft.rfft(rest * np.hanning(rest.size))) ** 2 + 1e-30
    spacing_hz = WORKING_RATE_HZ / rest.size
    lifts_db = {mains: _lift_db(power, mains, spacing_hz) for mains in MAINS_HZ}
    strongest = max(lifts_db, key=lambda mains: lifts_db[mains])
    return strongest if lifts_db[strongest] > HUM_DB else None


def _lift_db(power: Samples, mains_hz: float, spacing_hz: float) -> float:
    lifts_db = []
    near, far = round(3 / spacing_hz), round(20 / spacing_hz)
    for harmonic in range(1, HUM_HARMONICS + 1):
        middle = round(harmonic * mains_hz / spacing_hz)
        peak = power[middle - 1 : middle + 2].max()
        around = np.concatenate([power[middle - far : middle - near], power[middle + near + 1 : middle + far + 1]])
        lifts_db.append(10.0 * np.log10(peak / np.median(around)))
    return float(np.median(lifts_db))


def is_another_performance(residual: float, steady: float) -> bool:
    """Whether two recordings are no reference and capture of one performance.

    Args:
        residual: square root of the incoherent share, 0 to 1.
        steady: share of windows that agree on the delay, 0 to 1.
    """
    return residual > ANOTHER_RESIDUAL or (residual > DOUBTFUL_RESIDUAL and steady < STEADY_SHARE)
