"""Which kind of file it is, by its first bytes and never by its name."""

from typing import BinaryIO, Final

from optimiser.audio.aiff import AIFF_KINDS, aiff_header
from optimiser.audio.flac import FLAC_OPENING, flac_header
from optimiser.audio.header import AudioHeader
from optimiser.audio.header_file import HeaderFile
from optimiser.audio.riff import RIFF_OPENINGS, riff_header
from optimiser.audio.wave64 import WAVE64_OPENING, wave64_header
from optimiser.errors import InvalidRecording

_OPENING_BYTES: Final = 64
_EXPORT: Final = "Export WAV, AIFF or FLAC."
_LOSSY: Final = {b"ID3": "MP3", b"#!AMR": "AMR"}
_MOSTLY_LOSSY: Final = {
    b"\x1a\x45\xdf\xa3": "a Matroska",
    b"\x30\x26\xb2\x75\x8e\x66\xcf\x11": "a WMA",
}
"""First bytes of files of lossy sound, for certain or as a rule (common practice, no source)."""

_MPEG_SYNC: Final = 0xFFE0
_MPEG_LAYERS: Final = {0: "AAC", 1: "MP3", 2: "MP2"}
"""Eleven set bits open a frame of MPEG audio; the layer follows two bits later (from memory)."""


def read_header(stream: BinaryIO, size: int, name: str, *, accept_truncated: bool = False) -> AudioHeader:
    """Read and check the header of a sound file.

    Args:
        stream: the file, at its first byte.
        size: bytes in the file.
        name: what the file is called in messages.
        accept_truncated: take what sound is there when the file is shorter than it claims. A FLAC file cannot be
            taken so: how much of it is whole shows only when it is unpacked.

    Raises:
        InvalidRecording: with fault `not_sound`, `lossy`, `coded`, `bits`, `channels`, `rate`, `header` or `cut_off`.
    """
    file = HeaderFile(stream, size, name)
    opening = stream.read(_OPENING_BYTES)
    stream.seek(0)
    if opening[:4] in RIFF_OPENINGS and opening[8:12] == b"WAVE":
        return riff_header(file, accept_truncated=accept_truncated)
    if opening.startswith(WAVE64_OPENING):
        return wave64_header(file, accept_truncated=accept_truncated)
    if opening[:4] == b"FORM" and opening[8:12] in AIFF_KINDS:
        return aiff_header(file, accept_truncated=accept_truncated)
    if opening.startswith(FLAC_OPENING):
        return flac_header(file)
    raise _refusal(file, opening)


def _refusal(file: HeaderFile, opening: bytes) -> InvalidRecording:
    if not opening:
        return file.problem("is empty", "not_sound", "Copy or export it again.")
    lossy = _lossy(opening)
    if lossy is not None:
        return file.problem(lossy, "lossy", _EXPORT)
    return file.problem("is no WAV, AIFF or FLAC file", "not_sound", _EXPORT)


def _lossy(opening: bytes) -> str | None:
    """What to say of a lossy file, or None."""
    if opening.startswith(b"OggS") and b"\x7fFLAC" not in opening:
        return f"holds lossy sound ({'Opus' if b'OpusHead' in opening else 'OGG'})"
    for first, kind in _LOSSY.items():
        if opening.startswith(first):
            return f"holds lossy sound ({kind})"
    mostly = "an MP4" if opening[4:8] == b"ftyp" else None
    for first, kind in _MOSTLY_LOSSY.items():
        mostly = kind if opening.startswith(first) else mostly
    if mostly is not None:
        return f"is {mostly} file, which as a rule holds lossy sound"
    word = int.from_bytes(opening[:2], "big")
    layer = _MPEG_LAYERS.get(word >> 1 & 3)
    return f"holds lossy sound ({layer})" if word & _MPEG_SYNC == _MPEG_SYNC and layer else None
