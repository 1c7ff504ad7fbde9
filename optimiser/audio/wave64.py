"""Headers of Wave64 files: WAV with names of 16 bytes and sizes of 8."""

from typing import Final

from optimiser.audio.header import AudioHeader, SoundForm
from optimiser.audio.header_file import MAX_CHUNKS, HeaderFile, checked_header
from optimiser.audio.wave_form import FMT_BYTES, wave_form

WAVE64_OPENING: Final = b"riff" + bytes.fromhex("2e91cf11a5d628db04c10000")
"""The first sixteen bytes [Wave2003]."""

_TAIL: Final = bytes.fromhex("f3acd3118cd100c04f8edb8a")
_WAVE: Final = b"wave" + _TAIL
_FMT: Final = b"fmt " + _TAIL
_DATA: Final = b"data" + _TAIL
_HEAD_BYTES: Final = 24
"""Bytes of name and size, which every size counts in [Wave2003]."""


def wave64_header(file: HeaderFile, *, accept_truncated: bool = False) -> AudioHeader:
    """Read and check the header of a Wave64 file [Wave2003].

    Raises:
        InvalidRecording: with fault `coded`, `bits`, `channels`, `rate`, `header` or `cut_off`.
    """
    if file.take(_HEAD_BYTES + len(_WAVE))[_HEAD_BYTES:] != _WAVE:
        raise file.problem("is a Wave64 file without sound", "header")
    form: SoundForm | None = None
    for _ in range(MAX_CHUNKS):
        head = file.take_head(_HEAD_BYTES)
        if head is None:
            raise file.no_sound()
        tag, length = head[:16], int.from_bytes(head[16:], "little") - _HEAD_BYTES
        if length < 0:
            raise file.problem("has a piece of its header that is shorter than its own name", "header")
        if tag == _DATA:
            if form is None:
                raise file.problem("does not say what form its sound has", "header")
            return checked_header(file, "W64", form, length, accept_truncated=accept_truncated)
        after = file.stream.tell() + length + -length % 8
        if tag == _FMT:
            form = wave_form(file, file.take(min(length, FMT_BYTES)))
        file.go_to(after)
    raise file.endless()
