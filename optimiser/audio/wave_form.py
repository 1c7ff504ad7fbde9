"""The `fmt ` chunk, which WAV, RF64 and Wave64 share."""

import struct
from typing import Final

from optimiser.audio.header import SoundForm
from optimiser.audio.header_file import HeaderFile, checked_form

PCM_CODE: Final = 1
FLOAT_CODE: Final = 3
EXTENSIBLE_CODE: Final = 0xFFFE
"""Codes of the `fmt ` chunk [RIFF1991]."""

FMT_BYTES: Final = 40
"""Bytes of the longest `fmt ` chunk that means anything here."""

_SUBTYPES: Final = {
    (PCM_CODE, 16): "PCM_16",
    (PCM_CODE, 24): "PCM_24",
    (PCM_CODE, 32): "PCM_32",
    (FLOAT_CODE, 32): "FLOAT",
    (FLOAT_CODE, 64): "DOUBLE",
}
_GUID_TAIL: Final = bytes.fromhex("000000001000800000aa00389b71")


def wave_form(file: HeaderFile, body: bytes) -> SoundForm:
    """The form of the sound from the body of a `fmt ` chunk [RIFF1991].

    Raises:
        InvalidRecording: with fault `header`, `coded`, `bits`, `channels` or `rate`.
    """
    if len(body) < 16:
        raise file.problem("has a header that is too short", "header")
    code, channels, rate_hz, _, align, bits = struct.unpack_from("<HHIIHH", body)
    if code == EXTENSIBLE_CODE:
        if len(body) < FMT_BYTES or body[26:40] != _GUID_TAIL:
            raise file.problem("holds sound in an unknown form", "coded")
        code = int.from_bytes(body[24:26], "little")
        if not 0 < int.from_bytes(body[18:20], "little") <= bits:
            raise file.problem(f"claims an impossible number of bits in samples of {bits}", "bits")
    if code not in (PCM_CODE, FLOAT_CODE):
        raise file.problem("holds compressed sound", "coded")
    form = checked_form(file, rate_hz, channels, bits, _SUBTYPES.get((code, bits)))
    if align != form.frame_bytes:
        raise file.problem(f"claims {align} bytes for {channels} samples of {bits} bits", "header")
    return form
