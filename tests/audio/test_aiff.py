"""AIFF files built by hand, where libsndfile writes only one of the ways in which they may be put together."""

import io
import math
import struct

import numpy as np
import pytest
import soundfile

from optimiser.audio import open_recording, read_recording
from optimiser.errors import InvalidRecording

SOUND = np.random.default_rng(5).integers(-32_768, 32_768, (50, 2)).astype(">i2").tobytes()


def chunk(tag: bytes, body: bytes) -> bytes:
    return tag + struct.pack(">I", len(body)) + body + b"\0" * (len(body) % 2)


def common(rate: bytes, *, channels: int = 2, frames: int = 50, bits: int = 16, code: bytes = b"") -> bytes:
    return chunk(b"COMM", struct.pack(">hIh", channels, frames, bits) + rate + (code + b"\0\0" if code else b""))


def extended(value: float) -> bytes:
    """A number in the 80 bits of AIFF: fraction and exponent, the leading one written out."""
    fraction, exponent = math.frexp(value)
    return struct.pack(">HQ", exponent + 16382, int(fraction * 2**64))


def file(*chunks: bytes, kind: bytes = b"AIFF") -> bytes:
    body = kind + b"".join(chunks)
    return b"FORM" + struct.pack(">I", len(body)) + body


def sound(offset: int = 0) -> bytes:
    return chunk(b"SSND", struct.pack(">II", offset, 0) + b"?" * offset + SOUND)


@pytest.mark.parametrize(
    "content",
    [
        file(common(extended(44_100)), sound()),
        file(sound(), common(extended(44_100))),
        file(common(extended(44_100)), sound(offset=6)),
        file(chunk(b"NAME", b"odd"), common(extended(44_100)), chunk(b"ANNO", b"note"), sound()),
        file(common(extended(44_100), code=b"NONE"), sound(), kind=b"AIFC"),
        file(common(extended(44_100), code=b"twos"), sound(), kind=b"AIFC"),
        file(common(extended(44_100), code=b"sowt"), sound(), kind=b"AIFC"),
    ],
    ids=["plain", "form after sound", "offset", "names", "NONE", "twos", "sowt"],
)
def test_every_way_to_put_it_together_reads_as_libsndfile_reads_it(content: bytes) -> None:
    ours, rate_hz = read_recording(content)
    theirs, their_rate_hz = soundfile.read(io.BytesIO(content), always_2d=True)
    assert rate_hz == their_rate_hz == 44_100
    np.testing.assert_array_equal(ours, theirs)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 22_050, 44_100, 48_000, 88_200, 96_000, 192_000, 384_000])
def test_rates_of_eighty_bits(rate_hz: int) -> None:
    assert open_recording(file(common(extended(rate_hz)), sound())).header.rate_hz == rate_hz


def test_44100_is_the_bytes_that_recorders_write() -> None:
    assert extended(44_100) == bytes.fromhex("400eac44000000000000")


RATES = {
    "zero": bytes(10),
    "minus": b"\xc0" + extended(44_100)[1:],
    "a fraction": extended(44_100.5),
    "endless": b"\x7f\xff" + bytes(8),
    "no number": b"\x7f\xff" + b"\xff" * 8,
    "2^16383": b"\x7f\xfe" + b"\xff" * 8,
    "smallest": bytes(9) + b"\1",
    "4 GHz": extended(2.0**32 - 1),
}


@pytest.mark.parametrize("name", RATES)
def test_absurd_rates_are_refused(name: str) -> None:
    with pytest.raises(InvalidRecording) as caught:
        read_recording(file(common(RATES[name]), sound()))
    assert caught.value.fault == "rate"


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (file(common(extended(44_100), channels=-1), sound()), "channels"),
        (file(common(extended(44_100), bits=-16), sound()), "bits"),
        (file(common(extended(44_100), bits=20), sound()), "bits"),
        (file(common(extended(44_100), code=b"in24"), sound(), kind=b"AIFC"), "bits"),
        (file(common(extended(44_100), code=b"ima4"), sound(), kind=b"AIFC"), "coded"),
        (file(common(extended(44_100), frames=51), sound()), "cut_off"),
        (file(common(extended(44_100), frames=2**32 - 1), sound()), "cut_off"),
        (file(common(extended(44_100), frames=0), sound()), "cut_off"),
        (file(common(extended(44_100))), "cut_off"),
        (file(sound()), "header"),
        (file(chunk(b"COMM", b"short"), sound()), "header"),
        (file(common(extended(44_100)), chunk(b"SSND", struct.pack(">II", 2**32 - 1, 0) + SOUND)), "header"),
        (file(*(chunk(b"NAME", b"") for _ in range(2000))), "header"),
    ],
)
def test_headers_that_lie(content: bytes, fault: str) -> None:
    with pytest.raises(InvalidRecording) as caught:
        read_recording(content)
    assert caught.value.fault == fault
    assert "\n" not in str(caught.value)


def test_a_recorder_that_stopped_before_it_wrote_the_lengths_can_be_accepted() -> None:
    content = file(common(extended(44_100), frames=0), b"SSND" + struct.pack(">III", 0, 0, 0) + SOUND)
    assert len(read_recording(content, accept_truncated=True)[0]) == 50
