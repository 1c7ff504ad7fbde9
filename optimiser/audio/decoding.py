"""The sound of a file whose header was checked, into arrays, block by block."""

from collections.abc import Iterator
from typing import BinaryIO, Final

import numpy as np

from optimiser.audio.header import BITS, AudioHeader, SoundForm
from optimiser.errors import InvalidRecording
from optimiser.scoring import Samples, check_finite

BLOCK_FRAMES: Final = 65_536
"""Samples per channel that are decoded at a time."""

HIGHEST: Final = 2.0**32
"""Times full scale. A float beyond the whole numbers of 32 bits is no sound, and its square may be no number at all
(common practice, no source)."""


def decoded_blocks(stream: BinaryIO, header: AudioHeader, name: str) -> Iterator[Samples]:
    """The sound in blocks of (up to 65536, channels), as many frames in all as the header says.

    Unpacked sound is read from its place as it stands, so that nothing else in the file is looked at again.

    Raises:
        InvalidRecording: with fault `cut_off`, `damaged`, `not_finite` or `level`.
    """
    first = 0
    for block in (_packed if header.container == "FLAC" else _unpacked)(stream, header, name):
        check_finite(block, header.rate_hz, name, first)
        if max(block.max(), -block.min()) > HIGHEST:
            raise InvalidRecording(
                f"{name} holds values beyond any sound, near {first / header.rate_hz:.1f} s.",
                "Export it again as 24-bit WAV.",
                fault="level",
            )
        yield block
        first += len(block)


def _unpacked(stream: BinaryIO, header: AudioHeader, name: str) -> Iterator[Samples]:
    stream.seek(header.first_byte)
    left = header.frames
    while left:
        count = min(BLOCK_FRAMES, left)
        content = stream.read(count * header.form.frame_bytes)
        if len(content) < count * header.form.frame_bytes:
            raise InvalidRecording(f"{name} changed while it was read.", "Copy it and try again.", fault="cut_off")
        yield _from_bytes(content, header.form)
        left -= count


def _from_bytes(content: bytes, form: SoundForm) -> Samples:
    """Samples (n, channels); whole numbers become the share of full scale that they stand for."""
    order = "<" if form.byte_order == "little" else ">"
    bits = BITS[form.subtype]
    if form.subtype in ("FLOAT", "DOUBLE"):
        with np.errstate(invalid="ignore"):
            values = np.frombuffer(content, f"{order}f{bits // 8}").astype(np.float64)
    elif bits == 24:
        # four bytes at every third one; the fourth belongs to a neighbour and is masked out
        around = b"\0" + content if order == "<" else content + b"\0"
        values = (np.ndarray(len(content) // 3, f"{order}i4", around, strides=(3,)) & -256) / 2.0**31
    else:
        values = np.frombuffer(content, f"{order}i{bits // 8}") / 2.0 ** (bits - 1)
    return values.reshape(-1, form.channels)


def _packed(stream: BinaryIO, header: AudioHeader, name: str) -> Iterator[Samples]:
    """Unpack FLAC with libsndfile, and hold both to the same account of the file."""
    import soundfile

    stream.seek(0)
    form, done = header.form, 0
    try:
        with soundfile.SoundFile(stream) as sound:
            if (sound.format, sound.channels, sound.samplerate, sound.subtype) == (
                "FLAC",
                form.channels,
                form.rate_hz,
                form.subtype,
            ):
                while done < header.frames:
                    block = sound.read(min(BLOCK_FRAMES, header.frames - done), dtype="float64", always_2d=True)
                    if not len(block):
                        break
                    yield block
                    done += len(block)
    except soundfile.SoundFileError:
        pass
    if done < header.frames:
        raise InvalidRecording(
            f"{name} is cut off or damaged after {done / form.rate_hz:.2f} of {header.duration_s:.2f} s.",
            "Copy or export it again.",
            fault="damaged",
        )
