"""Headers of FLAC files."""

from typing import Final

from optimiser.audio.header import AudioHeader
from optimiser.audio.header_file import MAX_CHUNKS, HeaderFile, checked_form

FLAC_OPENING: Final = b"fLaC"
"""The first four bytes [RFC9639]."""

_STREAM_BYTES: Final = 34
_LAST: Final = 0x80
_SUBTYPES: Final = {16: "PCM_16", 24: "PCM_24"}
_FRAME_BYTES: Final = 8
"""Bytes of the head and the two checksums of the smallest frame [RFC9639]."""


def flac_header(file: HeaderFile) -> AudioHeader:
    """Read and check what a FLAC file says of itself before its first frame [RFC9639].

    The frames are packed, so that the file's size gives only a floor for what it must hold.

    Raises:
        InvalidRecording: with fault `bits`, `channels`, `rate`, `header` or `cut_off`.
    """
    file.take(len(FLAC_OPENING))
    stream: bytes | None = None
    for _ in range(MAX_CHUNKS):
        head = file.take(4)
        kind, length = head[0] & ~_LAST, int.from_bytes(head[1:], "big")
        after = file.stream.tell() + length
        if stream is None:
            if kind != 0 or length != _STREAM_BYTES:
                raise file.problem("is a FLAC file that does not say what it holds", "header")
            stream = file.take(length)
        if after > file.size:
            raise file.problem("ends in the middle of its header", "cut_off", "Copy or export it again.")
        file.go_to(after)
        if head[0] & _LAST:
            return _closed(file, stream)
    raise file.endless()


def _closed(file: HeaderFile, stream: bytes) -> AudioHeader:
    most_in_a_frame = int.from_bytes(stream[2:4], "big")
    packed = int.from_bytes(stream[10:18], "big")
    rate_hz, channels, bits = packed >> 44, (packed >> 41 & 7) + 1, (packed >> 36 & 31) + 1
    frames = packed & (1 << 36) - 1
    form = checked_form(file, rate_hz, channels, bits, _SUBTYPES.get(bits))
    if frames == 0:
        raise file.problem(
            "does not say how long it lasts", "header", "Export it again as FLAC or WAV to a file, not to a pipe."
        )
    if most_in_a_frame < 16:
        raise file.problem("is a FLAC file that does not say what it holds", "header")
    start = file.stream.tell()
    smallest = -(-frames // most_in_a_frame) * (_FRAME_BYTES + channels * (1 + bits // 8))
    if file.size - start < smallest:
        raise file.problem(
            f"was cut off: it claims {frames / rate_hz:.2f} s of sound, which take at least {smallest} bytes, "
            f"and holds {file.size - start}",
            "cut_off",
            "Copy or export it again.",
        )
    return AudioHeader("FLAC", form, frames, start)
