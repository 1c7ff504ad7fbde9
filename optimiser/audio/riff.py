"""Headers of WAV files, and of their 64-bit kin RF64 and BW64."""

import struct
from typing import Final

from optimiser.audio.header import AudioHeader, Container, SoundForm
from optimiser.audio.header_file import MAX_CHUNKS, HeaderFile, checked_header
from optimiser.audio.wave_form import FMT_BYTES, wave_form

RIFF_OPENINGS: Final = (b"RIFF", b"RF64", b"BW64")
"""The first four bytes of a file of this kind; `WAVE` follows four bytes later [RIFF1991] [EBU3306]."""

_UNKNOWN_SIZE: Final = 0xFFFF_FFFF
_MOST_WIDE_BYTES: Final = 1 << 20


def riff_header(file: HeaderFile, *, accept_truncated: bool = False) -> AudioHeader:
    """Read and check the header of a WAV, RF64 or BW64 file [RIFF1991] [EBU3306].

    Raises:
        InvalidRecording: with fault `coded`, `bits`, `channels`, `rate`, `header` or `cut_off`.
    """
    wide_bytes = _opening(file)
    form: SoundForm | None = None
    for _ in range(MAX_CHUNKS):
        head = file.take_head(8)
        if head is None:
            raise file.no_sound()
        tag, length = head[:4], int.from_bytes(head[4:], "little")
        if tag == b"data":
            if form is None:
                raise file.problem("does not say what form its sound has", "header")
            declared = wide_bytes if wide_bytes is not None and length == _UNKNOWN_SIZE else length
            container: Container = "WAV" if wide_bytes is None else "RF64"
            return checked_header(file, container, form, declared, accept_truncated=accept_truncated)
        after = file.stream.tell() + length + length % 2
        if tag == b"fmt ":
            form = wave_form(file, file.take(min(length, FMT_BYTES)))
        file.go_to(after)
    raise file.endless()


def _opening(file: HeaderFile) -> int | None:
    """Go past the first pieces; return the size of the sound in bytes where a 64-bit header gives it."""
    if file.take(12)[:4] == b"RIFF":
        return None
    head = file.take(8)
    length = int.from_bytes(head[4:], "little")
    if head[:4] != b"ds64" or not 24 <= length <= _MOST_WIDE_BYTES:
        raise file.problem("is a 64-bit WAV without its size", "header")
    body = file.take(length + length % 2)
    return int(struct.unpack_from("<Q", body, 8)[0])
