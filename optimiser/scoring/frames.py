"""Short stretches of two recordings that belong together, and their spectra."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from optimiser.scoring.recording import Samples

Spectra = NDArray[np.complex64]
"""(frames, frame_size / 2 + 1)."""

CHUNK_FRAMES: Final = 32
"""Frames that are worked on at a time, few enough to stay in a processor's cache."""

_FRACTIONS: Final = 64


@dataclass(frozen=True)
class FrameSize:
    """Length of a frame and the distance between two, in samples."""

    length: int
    hop: int

    @property
    def bins(self) -> int:
        """Number of frequencies from 0 to half the sample rate."""
        return self.length // 2 + 1

    def frequencies_hz(self, rate_hz: int) -> Samples:
        """Frequency of every bin."""
        return np.asarray(np.arange(self.bins) * (rate_hz / self.length), dtype=np.float64)


LONG: Final = FrameSize(4096, 1024)
"""85 ms at 48 kHz, for spectra in fine detail (common practice, no source)."""

SHORT: Final = FrameSize(1024, 512)
"""21 ms at 48 kHz, for levels as they change (common practice, no source)."""


@dataclass(frozen=True)
class TimeMap:
    """Which sample of the capture belongs to a sample of the reference.

    Attributes:
        delay_samples: where in the capture the reference's first sample lies; negative when it started before.
        drift: by how much more the capture's clock counts, 1e-6 for one part in a million.
    """

    delay_samples: float
    drift: float

    def capture_position(self, reference_sample: Samples) -> Samples:
        """Position in the capture, in samples with fraction."""
        return self.delay_samples + reference_sample * (1.0 + self.drift)


@dataclass(frozen=True, eq=False)
class FramePairs:
    """Where the frames of a pair start.

    Attributes:
        reference: (frames,) first sample of every frame in the reference.
        capture: (frames,) the sample of the capture that its frame starts at.
        fraction: (frames,) 0 to 1: how much later it ought to start.
    """

    reference: NDArray[np.int64]
    capture: NDArray[np.int64]
    fraction: Samples

    def __len__(self) -> int:
        return self.reference.size

    @property
    def nearest(self) -> NDArray[np.int64]:
        """(frames,) the sample of the capture nearest to where its frame ought to start."""
        return self.capture + (self.fraction >= 0.5)


def pair_frames(reference_size: int, capture_size: int, time_map: TimeMap, size: FrameSize) -> FramePairs:
    """All frames that lie within both recordings, their middles at the same instant to the nearest sixty-fourth.

    A frame may reach over an end by a sixty-fourth of its length, where its window is all but closed, so that a filter
    that moves the alignment by a sample or two loses no note that starts the recording.
    """
    reference = np.arange(0, max(0, reference_size - size.length + 1), size.hop)
    half = size.length / 2
    position = time_map.capture_position(np.asarray(reference + half, dtype=np.float64)) - half
    position = np.round(position * _FRACTIONS) / _FRACTIONS
    capture = np.floor(position).astype(np.int64)
    over = size.length // _FRACTIONS
    inside = (capture >= -over) & (capture + size.length <= capture_size + over)
    return FramePairs(reference[inside], capture[inside], (position - capture)[inside])


def window(size: FrameSize) -> NDArray[np.float32]:
    """A periodic Hann window, scaled so that the power of all bins but the first adds up to the mean square."""
    hann = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size.length) / size.length)
    return np.asarray(hann * np.sqrt(2.0 / np.mean(hann**2)) / size.length, dtype=np.float32)


def spectra(samples: NDArray[np.float32], starts: NDArray[np.int64], shape: NDArray[np.float32]) -> Spectra:
    """Spectra of windowed frames.

    Args:
        samples: (n,).
        starts: (frames,) first sample of each.
        shape: (frame_size,) window.
    """
    import scipy.fft

    cut = sliding_window_view(samples, shape.size)[starts]
    cut *= shape
    return np.asarray(scipy.fft.rfft(cut, axis=1, overwrite_x=True))


def phase_ramps(fraction: Samples, size: FrameSize) -> tuple[Spectra, NDArray[np.int64]]:
    """Factors that move a frame's start forward by a fraction of a sample, to the nearest sixty-fourth.

    Args:
        fraction: (frames,) 0 to 1.
        size: of the frames.

    Returns:
        (steps, bins), one row for every fraction that occurs, and the row of each frame, (frames,).
    """
    steps, rows = np.unique(np.round(fraction * _FRACTIONS), return_inverse=True)
    turn = np.outer(steps / _FRACTIONS, np.arange(size.bins) / size.length)
    return np.exp(2j * np.pi * turn).astype(np.complex64), rows
