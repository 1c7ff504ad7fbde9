"""WAV files into arrays, block by block."""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np

from optimiser.audio.header import WavHeader, read_header
from optimiser.errors import InvalidRecording, NotFound
from optimiser.scoring import Samples, check_finite

MAX_FILE_BYTES: Final = 2 << 30
"""Bytes. A take is seconds to minutes; anything larger is a mistake (common practice, no source)."""

MAX_DURATION_S: Final = 1800.0
"""Seconds. Half an hour (common practice, no source)."""

MAX_DECODED_BYTES: Final = 1 << 30
"""Bytes of float64 that `read_recording` hands out at once."""

BLOCK_FRAMES: Final = 65_536
"""Samples per channel that are decoded at a time."""

Source = str | Path | bytes | BinaryIO
"""A file's path, its bytes, or a binary file that can seek."""


def read_recording(source: Source, *, accept_truncated: bool = False) -> tuple[Samples, int]:
    """Read a WAV or RF64 file of 16, 24 or 32-bit PCM, or 32 or 64-bit float.

    Args:
        source: path, bytes, or a binary file that can seek.
        accept_truncated: take what sound is there when the file is shorter than it claims.

    Returns:
        Samples (n, channels), full scale +-1, and the rate in Hz.

    Raises:
        NotFound: no such file.
        InvalidRecording: one line on what is wrong, and how to mend it.
    """
    with _opened(source) as (stream, size, name):
        header = _checked(stream, size, name, accept_truncated=accept_truncated)
        if header.frames * header.channels * 8 > MAX_DECODED_BYTES:
            raise InvalidRecording(
                f"{name} is too large to be measured at once ({header.duration_s / 60:.0f} min).",
                "Cut it to the reel.",
                fault="too_large",
            )
        samples = np.empty((header.frames, header.channels))
        done = 0
        for block in _blocks(stream, header, name):
            samples[done : done + len(block)] = block
            done += len(block)
    return samples, header.rate_hz


def read_blocks(source: Source, *, accept_truncated: bool = False) -> Iterator[Samples]:
    """The sound of a file in blocks of (up to 65536, channels), in constant memory.

    Raises:
        NotFound: no such file.
        InvalidRecording: as `read_recording`.
    """
    with _opened(source) as (stream, size, name):
        yield from _blocks(stream, _checked(stream, size, name, accept_truncated=accept_truncated), name)


def describe_recording(source: Source, *, accept_truncated: bool = False) -> WavHeader:
    """Rate, channels, form and length of a file, without decoding it.

    Raises:
        NotFound: no such file.
        InvalidRecording: the header cannot be, or the file is too large.
    """
    with _opened(source) as (stream, size, name):
        return _checked(stream, size, name, accept_truncated=accept_truncated)


@contextmanager
def _opened(source: Source) -> Iterator[tuple[BinaryIO, int, str]]:
    if not isinstance(source, (str, Path)):
        stream: BinaryIO = io.BytesIO(source) if isinstance(source, bytes) else source
        size = stream.seek(0, io.SEEK_END)
        stream.seek(0)
        yield stream, size, "The recording"
        return
    path = Path(source)
    try:
        with path.open("rb") as file:
            yield file, path.stat().st_size, path.name
    except FileNotFoundError:
        raise NotFound(f"There is no file {path}.", "Check the name and the folder.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InvalidRecording(
            f"{path.name or path} cannot be read ({reason}).", "Name a WAV file that you may read.", fault="unreadable"
        ) from None


def _checked(stream: BinaryIO, size: int, name: str, *, accept_truncated: bool) -> WavHeader:
    if size > MAX_FILE_BYTES:
        raise InvalidRecording(
            f"{name} is larger than {MAX_FILE_BYTES >> 30} GiB.", "Cut it to the reel.", fault="too_large"
        )
    header = read_header(stream, size, name, accept_truncated=accept_truncated)
    if header.duration_s > MAX_DURATION_S:
        raise InvalidRecording(
            f"{name} lasts {header.duration_s / 60:.0f} min, more than {MAX_DURATION_S / 60:.0f}.",
            "Cut it to the reel.",
            fault="too_large",
        )
    return header


def _blocks(stream: BinaryIO, header: WavHeader, name: str) -> Iterator[Samples]:
    """Decode with libsndfile what our own check has let through, and hold both to the same account of the file."""
    import soundfile

    damaged = InvalidRecording(f"{name} is damaged.", "Export it again as 24-bit WAV.", fault="damaged")
    stream.seek(0)
    first = 0
    try:
        with soundfile.SoundFile(stream) as sound:
            if (sound.channels, sound.samplerate, sound.subtype) != (header.channels, header.rate_hz, header.subtype):
                raise damaged
            while first < header.frames:
                block = sound.read(min(BLOCK_FRAMES, header.frames - first), dtype="float64", always_2d=True)
                if not len(block):
                    raise InvalidRecording(
                        f"{name} changed while it was read.", "Copy it and try again.", fault="cut_off"
                    )
                check_finite(block, header.rate_hz, name, first)
                yield block
                first += len(block)
    except soundfile.SoundFileError:
        raise damaged from None
