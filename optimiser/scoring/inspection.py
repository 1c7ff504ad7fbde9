"""From whatever array comes in to one channel at the working rate, or a refusal."""

from typing import Final

import numpy as np

from optimiser.errors import InvalidRecording
from optimiser.scoring.faults import dropout_s, has_flat_tops
from optimiser.scoring.recording import WORKING_RATE_HZ, Recording, Samples, check_finite, check_rate

SILENT_PEAK: Final = 1e-5
"""Full scale, -100 dBFS. Below it there is no recording (common practice, no source)."""

HIGHEST_PEAK: Final = 1000.0
"""Full scale, +60 dBFS. Above it the numbers are not on the scale of +-1 (common practice, no source)."""

SHORTEST_S: Final = 2.0
"""Seconds below which nothing can be compared (common practice, no source)."""

OFFSET_SHARE: Final = 0.01
"""Share of the rms above which an offset is worth a warning (common practice, no source)."""

LEAST_OFFSET: Final = 1e-4
"""Full scale, below which an offset is not worth a warning (common practice, no source)."""

SAME_CHANNEL: Final = 1e-3
"""Share, -60 dB, by which channels may differ and still count as one (common practice, no source)."""

NARROW_RATE_HZ: Final = 40_000
"""Hz. A slower recording lacks the top octave of hearing (common practice, no source)."""

_MOST_CHANNELS: Final = 8


def inspect(samples: Samples, rate_hz: int, name: str) -> Recording:
    """Choose a channel, take the offset off, bring the sound to the working rate, and note what was found.

    Args:
        samples: (n,) or (n, channels), full scale +-1.
        rate_hz: samples per second.
        name: `reference`, `capture` or `goal reference`, for the messages.

    Raises:
        InvalidRecording: with fault `shape`, `rate`, `not_finite`, `short`, `silent` or `level`.
    """
    check_rate(rate_hz, f"The {name}")
    channels = _channels(samples, name)
    if len(channels) < SHORTEST_S * rate_hz:
        raise InvalidRecording(
            f"The {name} lasts {len(channels) / rate_hz:.2f} s.", "Record the whole reel.", fault="short"
        )
    check_finite(channels, rate_hz, f"The {name}")
    mono, warnings = _one_channel(channels, name)
    _check_level(mono, name)
    warnings += _found(mono, rate_hz, name)
    centred = mono - mono.mean()
    if rate_hz != WORKING_RATE_HZ:
        import soxr

        centred = np.asarray(soxr.resample(centred, rate_hz, WORKING_RATE_HZ))
    return Recording(centred, WORKING_RATE_HZ, tuple(warnings))


def _channels(samples: Samples, name: str) -> Samples:
    try:
        channels = np.asarray(samples, dtype=np.float64)
    except (TypeError, ValueError):
        raise InvalidRecording(f"The {name} is no array of numbers.", "Hand in float samples.", fault="shape") from None
    channels = channels[:, None] if channels.ndim == 1 else channels
    if channels.ndim != 2 or not 1 <= channels.shape[1] <= _MOST_CHANNELS:
        raise InvalidRecording(
            f"The {name} has shape {channels.shape}.", "Hand in (n,) or (n, channels), up to 8 channels.", fault="shape"
        )
    return channels


def _one_channel(channels: Samples, name: str) -> tuple[Samples, list[str]]:
    energy = np.einsum("ij,ij->j", channels, channels)
    loudest = int(np.argmax(energy))
    chosen = channels[:, loudest]
    limit = SAME_CHANNEL**2 * energy[loudest]
    others = np.delete(channels, loudest, axis=1)
    if np.all(np.sum((others - chosen[:, None]) ** 2, axis=0) <= limit):
        return chosen, []
    return chosen, [f"The {name}'s channels differ; channel {loudest + 1}, the loudest, was used."]


def _check_level(mono: Samples, name: str) -> None:
    high, low = float(mono.max()), float(mono.min())
    if max(high, -low) < SILENT_PEAK or high - low < SILENT_PEAK:
        raise InvalidRecording(f"The {name} is silent.", "Check the cable, the input and the track.", fault="silent")
    if max(high, -low) > HIGHEST_PEAK:
        raise InvalidRecording(
            f"The {name} reaches {max(high, -low):.3g} times full scale.", "Hand in samples within +-1.", fault="level"
        )


def _found(mono: Samples, rate_hz: int, name: str) -> list[str]:
    warnings = []
    offset = abs(float(mono.mean()))
    if offset > max(LEAST_OFFSET, OFFSET_SHARE * float(np.std(mono))):
        warnings.append(f"The {name} had an offset of {offset:.2g} of full scale, which was taken off.")
    if has_flat_tops(mono):
        warnings.append(f"The {name} is clipped: many of its peaks are flat. Record it with more headroom.")
    lost_s = dropout_s(mono, rate_hz)
    if lost_s is not None:
        warnings.append(f"The {name} has a dropout at {lost_s:.2f} s. Record it again.")
    if rate_hz < NARROW_RATE_HZ:
        warnings.append(f"The {name} reaches up to {rate_hz / 2000:g} kHz only; brightness above it is not compared.")
    return warnings
