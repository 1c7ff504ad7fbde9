"""Sound files into arrays."""

from typing import Final

import numpy as np

from optimiser.audio.containers import read_header
from optimiser.audio.decoding import decoded_blocks
from optimiser.audio.header import AudioHeader
from optimiser.audio.opening import Opened, Source, opened
from optimiser.errors import InvalidRecording
from optimiser.scoring import Samples

MAX_FILE_BYTES: Final = 2 << 30
"""Bytes. A take is seconds to minutes; anything larger is a mistake (common practice, no source)."""

MAX_DURATION_S: Final = 1800.0
"""Seconds. Half an hour (common practice, no source)."""

MAX_DECODED_BYTES: Final = 1 << 30
"""Bytes of float64 that `read_recording` hands out at once."""


def read_recording(source: Source, *, accept_truncated: bool = False) -> tuple[Samples, int]:
    """Read a WAV, RF64, Wave64, AIFF or AIFF-C file of 16, 24 or 32-bit PCM or of floats, or FLAC of 16 or 24 bits.

    Args:
        source: path, bytes, or a binary file that can seek.
        accept_truncated: take what sound is there when the file is shorter than it claims; never so with FLAC.

    Returns:
        Samples (n, channels), full scale +-1, and the rate in Hz.

    Raises:
        NotFound: no such file.
        InvalidRecording: one line on what is wrong, and how to mend it.
    """
    with opened(source) as file:
        header = checked(file, accept_truncated=accept_truncated)
        if header.frames * header.channels * 8 > MAX_DECODED_BYTES:
            raise InvalidRecording(
                f"{file.name} is too large to be measured at once ({header.duration_s / 60:.0f} min).",
                "Cut it to the reel.",
                fault="too_large",
            )
        samples = np.empty((header.frames, header.channels))
        done = 0
        for block in decoded_blocks(file.stream, header, file.name):
            samples[done : done + len(block)] = block
            done += len(block)
    return samples, header.rate_hz


def checked(file: Opened, *, accept_truncated: bool) -> AudioHeader:
    """The header of an open file, if it is one that can be worked with.

    Raises:
        InvalidRecording: the header cannot be, or the file is too large.
    """
    if file.size > MAX_FILE_BYTES:
        raise InvalidRecording(
            f"{file.name} is larger than {MAX_FILE_BYTES >> 30} GiB.", "Cut it to the reel.", fault="too_large"
        )
    header = read_header(file.stream, file.size, file.name, accept_truncated=accept_truncated)
    if header.duration_s > MAX_DURATION_S:
        raise InvalidRecording(
            f"{file.name} lasts {header.duration_s / 60:.0f} min, more than {MAX_DURATION_S / 60:.0f}.",
            "Cut it to the reel.",
            fault="too_large",
        )
    return header
