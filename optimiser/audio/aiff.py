"""Headers of AIFF and AIFF-C files."""

import math
import struct
from dataclasses import dataclass
from typing import Final

from optimiser.audio.header import AudioHeader, ByteOrder, Container, SoundForm
from optimiser.audio.header_file import CUT_OFF_HINT, MAX_CHUNKS, HeaderFile, checked_form, checked_header

AIFF_KINDS: Final[dict[bytes, Container]] = {b"AIFF": "AIFF", b"AIFC": "AIFF-C"}
"""What stands at the ninth byte of a file that opens with `FORM` [AIFF1989] [AIFFC1991]."""

_PCM: Final = {16: "PCM_16", 24: "PCM_24", 32: "PCM_32"}
_CODES: Final[dict[bytes, tuple[ByteOrder, dict[int, str]]]] = {
    b"NONE": ("big", _PCM),
    b"twos": ("big", _PCM),
    b"sowt": ("little", _PCM),
    b"in24": ("big", {24: "PCM_24"}),
    b"in32": ("big", {32: "PCM_32"}),
    b"42n1": ("little", {24: "PCM_24"}),
    b"23ni": ("little", {32: "PCM_32"}),
    b"fl32": ("big", {32: "FLOAT"}),
    b"FL32": ("big", {32: "FLOAT"}),
    b"fl64": ("big", {64: "DOUBLE"}),
    b"FL64": ("big", {64: "DOUBLE"}),
}
"""Byte order and bits of what is not packed: `NONE` [AIFFC1991], the others common practice, no source."""

_EXPONENT_BIAS: Final = 16383
_LARGEST_EXPONENT: Final = 64
_PLAIN_BYTES: Final = 18
_CODED_BYTES: Final = 22


@dataclass(frozen=True)
class _Common:
    form: SoundForm
    frames: int


@dataclass(frozen=True)
class _SoundPlace:
    first_byte: int
    declared: int


def aiff_header(file: HeaderFile, *, accept_truncated: bool = False) -> AudioHeader:
    """Read and check the header of an AIFF or AIFF-C file [AIFF1989] [AIFFC1991].

    The chunk that says what form the sound has may stand after the sound.

    Raises:
        InvalidRecording: with fault `coded`, `bits`, `channels`, `rate`, `header` or `cut_off`.
    """
    container = AIFF_KINDS[file.take(12)[8:]]
    common: _Common | None = None
    place: _SoundPlace | None = None
    for _ in range(MAX_CHUNKS):
        head = file.take_head(8)
        if head is None:
            raise file.no_sound() if place is None else file.problem("does not say what form its sound has", "header")
        tag, length = head[:4], int.from_bytes(head[4:], "big")
        after = file.stream.tell() + length + length % 2
        if tag == b"COMM":
            common = _common(file, file.take(min(length, _CODED_BYTES)), container)
        elif tag == b"SSND":
            place = _place(file, length)
        if common is not None and place is not None:
            return _closed(file, container, common, place, accept_truncated=accept_truncated)
        file.go_to(after)
    raise file.endless()


def _common(file: HeaderFile, body: bytes, container: Container) -> _Common:
    coded = container == "AIFF-C"
    if len(body) < (_CODED_BYTES if coded else _PLAIN_BYTES):
        raise file.problem("has a header that is too short", "header")
    channels, frames, bits = struct.unpack_from(">hIh", body)
    code = body[18:22] if coded else b"NONE"
    if code not in _CODES:
        raise file.problem("holds compressed sound", "coded")
    byte_order, subtypes = _CODES[code]
    rate_hz = _extended(body[8:18])
    if math.isfinite(rate_hz) and not rate_hz.is_integer():
        raise file.problem(
            f"has a sample rate of {rate_hz:.12g} Hz, no whole number", "rate", "Export it again at 44.1, 48 or 96 kHz."
        )
    form = checked_form(file, rate_hz, channels, bits, subtypes.get(bits), byte_order)
    return _Common(form, frames)


def _extended(body: bytes) -> float:
    """A number of 80 bits: sign, exponent of 15 bits, 64 bits with the leading one written out [AIFF1989]."""
    signed, mantissa = struct.unpack(">HQ", body)
    exponent = (signed & 0x7FFF) - _EXPONENT_BIAS
    if exponent > _LARGEST_EXPONENT:
        return math.inf
    return math.ldexp(mantissa, exponent - 63) * (-1 if signed & 0x8000 else 1)


def _place(file: HeaderFile, length: int) -> _SoundPlace:
    offset, _ = struct.unpack(">II", file.take(8))
    if 0 < length < 8 + offset:
        raise file.problem("claims that its sound starts after its own end", "header")
    return _SoundPlace(file.stream.tell() + offset, max(length - 8 - offset, 0))


def _closed(
    file: HeaderFile, container: Container, common: _Common, place: _SoundPlace, *, accept_truncated: bool
) -> AudioHeader:
    claimed = common.frames * common.form.frame_bytes
    there = max(file.size - place.first_byte, 0)
    file.go_to(place.first_byte)
    if accept_truncated:
        said = min((size for size in (claimed, place.declared) if size), default=0)
        return checked_header(file, container, common.form, said, accept_truncated=True)
    if not 0 < claimed <= place.declared <= there:
        raise file.problem(
            f"was cut off: it claims {claimed} bytes of sound, keeps {place.declared} for them and holds {there}",
            "cut_off",
            CUT_OFF_HINT,
        )
    return checked_header(file, container, common.form, claimed, accept_truncated=False)
