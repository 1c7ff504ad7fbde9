"""The header of a WAV file, checked against the file before any sound is decoded.

Only uncompressed sound is let in, and every size that the header claims is held against the size that is there.
"""

import struct
from dataclasses import dataclass
from typing import BinaryIO, Final

from optimiser.errors import InvalidRecording
from optimiser.scoring import check_rate

MAX_CHANNELS: Final = 8
"""Channels. More are a multitrack, not a take (common practice, no source)."""

BITS: Final[dict[str, int]] = {"PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64}
"""Bits a sample of each form of sound that is read and written."""

PCM_CODE: Final = 1
FLOAT_CODE: Final = 3
EXTENSIBLE_CODE: Final = 0xFFFE
"""Codes of the `fmt ` chunk [RIFF1991]."""

_SUBTYPES: Final = {
    (PCM_CODE, 16): "PCM_16",
    (PCM_CODE, 24): "PCM_24",
    (PCM_CODE, 32): "PCM_32",
    (FLOAT_CODE, 32): "FLOAT",
    (FLOAT_CODE, 64): "DOUBLE",
}
_GUID_TAIL: Final = bytes.fromhex("000000001000800000aa00389b71")
_MAX_CHUNKS: Final = 1000
_UNKNOWN_SIZE: Final = 0xFFFF_FFFF
_EXPORT: Final = "Export it again as 24-bit WAV."


@dataclass(frozen=True)
class WavHeader:
    """What a WAV file says of itself, checked.

    Attributes:
        rate_hz: samples per second.
        channels: 1 to 8.
        subtype: `PCM_16`, `PCM_24`, `PCM_32`, `FLOAT` or `DOUBLE`.
        frames: samples per channel.
    """

    rate_hz: int
    channels: int
    subtype: str
    frames: int

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample in all channels."""
        return self.channels * BITS[self.subtype] // 8

    @property
    def duration_s(self) -> float:
        """Seconds of sound."""
        return self.frames / self.rate_hz


@dataclass(frozen=True)
class _Form:
    rate_hz: int
    channels: int
    subtype: str


@dataclass(frozen=True)
class _Source:
    stream: BinaryIO
    size: int
    name: str

    def problem(self, message: str, fault: str, hint: str = _EXPORT) -> InvalidRecording:
        return InvalidRecording(f"{self.name} {message}.", hint, fault=fault)

    def take(self, count: int) -> bytes:
        found = self.stream.read(count)
        if len(found) < count:
            raise self.problem("ends in the middle of its header", "cut_off", "Copy or export it again.")
        return found


def read_header(stream: BinaryIO, size: int, name: str, *, accept_truncated: bool = False) -> WavHeader:
    """Read and check the header of a WAV or RF64 file [RIFF1991] [EBU3306].

    Args:
        stream: the file, at its first byte.
        size: bytes in the file.
        name: what the file is called in messages.
        accept_truncated: take what sound is there when the file is shorter than it claims.

    Raises:
        InvalidRecording: with fault `not_wav`, `coded`, `bits`, `channels`, `rate`, `header` or `cut_off`.
    """
    source = _Source(stream, size, name)
    wide_bytes = _opening(source)
    form: _Form | None = None
    for _ in range(_MAX_CHUNKS):
        head = stream.read(8)
        if len(head) < 8:
            raise source.problem(
                "holds no sound", "cut_off", "Copy or export it again; the recorder may have stopped early."
            )
        tag, length = head[:4], int.from_bytes(head[4:], "little")
        if tag == b"data":
            if form is None:
                raise source.problem("does not say what form its sound has", "header")
            declared = wide_bytes if wide_bytes is not None and length == _UNKNOWN_SIZE else length
            return _closing(source, form, declared, accept_truncated=accept_truncated)
        after = stream.tell() + length + length % 2
        if tag == b"fmt ":
            form = _form(source, source.take(min(length, 40)))
        stream.seek(min(after, size))
    raise source.problem("has a header without end", "header")


def _opening(source: _Source) -> int | None:
    """Check the first twelve bytes; return the size of the sound in bytes where a 64-bit header gives it."""
    start = source.stream.read(12)
    if len(start) < 12 or start[8:] != b"WAVE" or start[:4] not in (b"RIFF", b"RF64", b"BW64"):
        raise source.problem("is not a WAV file", "not_wav")
    if start[:4] == b"RIFF":
        return None
    head = source.take(8)
    length = int.from_bytes(head[4:], "little")
    if head[:4] != b"ds64" or not 24 <= length <= 1 << 20:
        raise source.problem("is a 64-bit WAV without its size", "header")
    body = source.take(length + length % 2)
    return int(struct.unpack_from("<Q", body, 8)[0])


def _form(source: _Source, body: bytes) -> _Form:
    if len(body) < 16:
        raise source.problem("has a header that is too short", "header")
    code, channels, rate_hz, _, align, bits = struct.unpack_from("<HHIIHH", body)
    if code == EXTENSIBLE_CODE:
        if len(body) < 40 or body[26:40] != _GUID_TAIL:
            raise source.problem("holds sound in an unknown form", "coded")
        code = int.from_bytes(body[24:26], "little")
        if not 0 < int.from_bytes(body[18:20], "little") <= bits:
            raise source.problem(f"claims an impossible number of bits in samples of {bits}", "bits")
    if code not in (PCM_CODE, FLOAT_CODE):
        raise source.problem("holds compressed sound", "coded")
    if not 1 <= channels <= MAX_CHANNELS:
        raise source.problem(f"has {channels} channels", "channels", f"Export 1 to {MAX_CHANNELS} channels.")
    check_rate(rate_hz, source.name)
    subtype = _SUBTYPES.get((code, bits))
    if subtype is None:
        raise source.problem(f"has samples of {bits} bits", "bits", "Export it as 16, 24 or 32-bit PCM, or as float.")
    if align != channels * bits // 8:
        raise source.problem(f"claims {align} bytes for {channels} samples of {bits} bits", "header")
    return _Form(rate_hz, channels, subtype)


def _closing(source: _Source, form: _Form, declared: int, *, accept_truncated: bool) -> WavHeader:
    start = source.stream.tell()
    there = source.size - start
    frame_bytes = form.channels * BITS[form.subtype] // 8
    usable = there if declared == 0 else min(declared, there)
    whole = declared > 0 and declared <= there and declared % frame_bytes == 0
    if not whole and not (accept_truncated and usable >= frame_bytes):
        raise source.problem(
            f"was cut off: it claims {declared} bytes of sound and holds {there}",
            "cut_off",
            "Copy or export it again, or accept it as truncated if what is there is enough.",
        )
    return WavHeader(form.rate_hz, form.channels, form.subtype, usable // frame_bytes)
