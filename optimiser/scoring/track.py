"""One channel at the working rate, of which any stretch can be asked for, without holding a long recording whole."""

from collections.abc import Callable, Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from optimiser.scoring.recording import BLOCK_FRAMES, HELD_WHOLE_S, WORKING_RATE_HZ, Sound

Mono = NDArray[np.float32]
Blocks = Callable[[], Iterator[Mono]]

_KEPT_BEHIND: Final = 2 * WORKING_RATE_HZ


class Track:
    """A track that is read from its start to its end.

    A stretch that lies before what is still held has the track read from the start again: ask in the order of time.
    """

    def __init__(self, blocks: Blocks, size: int) -> None:
        """A track of `size` samples that `blocks` yields from the start whenever it is called."""
        self.size = size
        self._open = blocks
        self._reading: Iterator[Mono] | None = None
        self._held: Mono = np.zeros(0, np.float32)
        self._first = 0

    def piece(self, first: int, last: int) -> Mono:
        """Samples from `first` up to, not including, `last`; both within the track."""
        if self._reading is None or first < self._first:
            self._reading, self._held, self._first = self._open(), np.zeros(0, np.float32), 0
        if last > self._first + self._held.size:
            self._read_on(first, last)
        return self._held[first - self._first : last - self._first]

    def blocks(self) -> Iterator[Mono]:
        """The whole track in order."""
        for first in range(0, self.size, BLOCK_FRAMES):
            yield self.piece(first, min(self.size, first + BLOCK_FRAMES))

    def resampled(self, ratio: float, quality: str = "HQ") -> "Track":
        """The same sound in `ratio` times as many samples."""
        size = round(self.size * ratio)
        return Track(lambda: _fitted(_resampled(self.blocks(), 1.0, ratio, quality), size), size)

    def _read_on(self, first: int, last: int) -> None:
        reading = self._reading or iter(())
        whole = self.size <= HELD_WHOLE_S * WORKING_RATE_HZ
        start_needed = 0 if whole else first - _KEPT_BEHIND
        start = max(self._first, start_needed)
        held, end = [self._held[start - self._first :]], self._first + self._held.size
        start = min(start, end)
        for block in reading:
            held.append(block)
            end += block.size
            if end < start_needed:
                held, start = [np.zeros(0, np.float32)], end
            if end >= last and not whole:
                break
        self._held = np.concatenate(held)
        self._first = start


def track_of(sound: Sound, channel: int, offset: float) -> Track:
    """One channel of a sound, its offset taken off, at the working rate.

    Args:
        sound: what it is taken from.
        channel: counted from 0.
        offset: taken off every sample.
    """
    size = round(sound.frames * WORKING_RATE_HZ / sound.rate_hz)

    def centred() -> Iterator[Mono]:
        for block in sound.blocks():
            yield (block[:, channel] - offset).astype(np.float32)

    if sound.rate_hz == WORKING_RATE_HZ:
        return Track(centred, size)
    return Track(lambda: _fitted(_resampled(centred(), sound.rate_hz, WORKING_RATE_HZ, "HQ"), size), size)


def _resampled(blocks: Iterator[Mono], from_hz: float, to_hz: float, quality: str) -> Iterator[Mono]:
    import soxr

    stream = soxr.ResampleStream(from_hz, to_hz, 1, dtype="float32", quality=quality)
    for block in blocks:
        yield stream.resample_chunk(block)
    yield stream.resample_chunk(np.zeros(0, np.float32), last=True)


def _fitted(blocks: Iterator[Mono], size: int) -> Iterator[Mono]:
    """Blocks cut off, or filled up with silence, to a number of samples."""
    left = size
    for block in blocks:
        yield block[:left]
        left -= min(left, block.size)
    if left:
        yield np.zeros(left, np.float32)
