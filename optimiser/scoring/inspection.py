"""From whatever sound comes in to one channel at the working rate, or a refusal."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from optimiser.errors import InvalidRecording
from optimiser.scoring.faults import dropout_s, has_flat_tops
from optimiser.scoring.recording import Samples, Sound, check_finite, check_rate, held
from optimiser.scoring.track import Track, track_of
from optimiser.scoring.true_peak import true_peak_dbtp

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


@dataclass(frozen=True, eq=False)
class Inspected:
    """A recording that is fit to be measured.

    Attributes:
        track: the channel that is used, its offset taken off, at the working rate.
        true_peak_dbtp: highest level between the samples, in dB of full scale.
        warnings: what was found wrong and mended on the way, one sentence each.
    """

    track: Track
    true_peak_dbtp: float
    warnings: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Extent:
    """Sums over a whole sound: (channels, channels) products, (channels,) totals and extremes."""

    products: Samples
    totals: Samples
    high: Samples
    low: Samples


def inspect(sound: Sound, name: str) -> Inspected:
    """Choose a channel, take the offset off, bring the sound to the working rate, and note what was found.

    Args:
        sound: the recording.
        name: `reference`, `capture` or `goal reference`, for the messages.

    Raises:
        InvalidRecording: with fault `rate`, `not_finite`, `short`, `silent` or `level`.
    """
    check_rate(sound.rate_hz, f"The {name}")
    if sound.frames < SHORTEST_S * sound.rate_hz:
        raise InvalidRecording(
            f"The {name} lasts {sound.frames / sound.rate_hz:.2f} s.", "Record the whole reel.", fault="short"
        )
    sound = held(sound)
    extent = _extent(sound, name)
    channel, warnings = _loudest(extent, name)
    high, low = float(extent.high[channel]), float(extent.low[channel])
    _check_level(high, low, name)
    mean = float(extent.totals[channel]) / sound.frames
    power = float(extent.products[channel, channel]) / sound.frames
    if abs(mean) > max(LEAST_OFFSET, OFFSET_SHARE * np.sqrt(max(0.0, power - mean**2))):
        warnings.append(f"The {name} had an offset of {abs(mean):.2g} of full scale, which was taken off.")
    warnings += _found(sound, channel, (low, high), name)
    peak = true_peak_dbtp(_channel(sound, channel), max(high, -low))
    return Inspected(track_of(sound, channel, mean), peak, tuple(warnings))


def _channel(sound: Sound, channel: int) -> Iterator[Samples]:
    for block in sound.blocks():
        yield block[:, channel]


def _extent(sound: Sound, name: str) -> _Extent:
    count = sound.channels
    products, totals = np.zeros((count, count)), np.zeros(count)
    high, low = np.full(count, -np.inf), np.full(count, np.inf)
    done = 0
    for block in sound.blocks():
        check_finite(block, sound.rate_hz, f"The {name}", done)
        high, low = np.maximum(high, block.max(axis=0)), np.minimum(low, block.min(axis=0))
        _check_scale(max(float(high.max()), -float(low.min())), name)
        products += block.T @ block
        totals += block.sum(axis=0)
        done += len(block)
    return _Extent(products, totals, high, low)


def _loudest(extent: _Extent, name: str) -> tuple[int, list[str]]:
    energy = np.diag(extent.products)
    loudest = int(np.argmax(energy))
    apart = energy + energy[loudest] - 2 * extent.products[loudest]
    if np.all(apart <= SAME_CHANNEL**2 * energy[loudest]):
        return loudest, []
    return loudest, [f"The {name}'s channels differ; channel {loudest + 1}, the loudest, was used."]


def _check_level(high: float, low: float, name: str) -> None:
    if max(high, -low) < SILENT_PEAK or high - low < SILENT_PEAK:
        raise InvalidRecording(f"The {name} is silent.", "Check the cable, the input and the track.", fault="silent")


def _check_scale(peak: float, name: str) -> None:
    if peak > HIGHEST_PEAK:
        raise InvalidRecording(
            f"The {name} reaches {peak:.3g} times full scale.", "Hand in samples within +-1.", fault="level"
        )


def _found(sound: Sound, channel: int, extremes: tuple[float, float], name: str) -> list[str]:
    warnings = []
    if has_flat_tops(_channel(sound, channel), extremes):
        warnings.append(f"The {name} is clipped: many of its peaks are flat. Record it with more headroom.")
    lost_s = dropout_s(_channel(sound, channel), sound.rate_hz, max(abs(extreme) for extreme in extremes))
    if lost_s is not None:
        warnings.append(f"The {name} has a dropout at {lost_s:.2f} s. Record it again.")
    if sound.rate_hz < NARROW_RATE_HZ:
        warnings.append(
            f"The {name} reaches up to {sound.rate_hz / 2000:g} kHz only; brightness above it is not compared."
        )
    return warnings
