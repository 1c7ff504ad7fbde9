"""Every kind of file that recorders write reads back as what was written, and every other kind is told apart."""

import io
import struct
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.audio import open_recording, read_recording
from optimiser.errors import InvalidRecording

PCM = ("PCM_16", "PCM_24", "PCM_32")
FLOATS = ("FLOAT", "DOUBLE")
FORMS = [
    *(("WAV", subtype, "FILE") for subtype in PCM + FLOATS),
    *(("WAVEX", subtype, "FILE") for subtype in PCM + FLOATS),
    *(("RF64", subtype, "FILE") for subtype in PCM + FLOATS),
    *(("W64", subtype, "FILE") for subtype in PCM + FLOATS),
    *(("AIFF", subtype, "FILE") for subtype in PCM + FLOATS),
    *(("AIFF", subtype, order) for subtype in PCM for order in ("LITTLE", "BIG")),
    *(("FLAC", subtype, "FILE") for subtype in PCM[:2]),
]
RATES_HZ = (8_000, 44_100, 48_000, 96_000, 192_000)


def written(form: tuple[str, str, str], sound: np.ndarray, rate_hz: int = 48_000) -> bytes:
    """A file as libsndfile writes it."""
    container, subtype, endian = form
    file = io.BytesIO()
    soundfile.write(file, sound, rate_hz, format=container, subtype=subtype, endian=endian)
    return file.getvalue()


def noise(frames: int = 700, channels: int = 2, seed: int = 3) -> np.ndarray:
    return np.random.default_rng(seed).uniform(-1, 1, (frames, channels))


def refused(content: bytes, *, accept_truncated: bool = False) -> InvalidRecording:
    with pytest.raises(InvalidRecording) as caught:
        read_recording(content, accept_truncated=accept_truncated)
    assert "\n" not in str(caught.value)
    assert caught.value.hint
    return caught.value


@pytest.mark.parametrize("form", FORMS, ids="-".join)
@pytest.mark.parametrize("channels", [1, 2, 3, 8])
def test_every_form_reads_as_libsndfile_reads_it(form: tuple[str, str, str], channels: int) -> None:
    content = written(form, noise(channels=channels))
    ours, rate_hz = read_recording(content)
    theirs, their_rate_hz = soundfile.read(io.BytesIO(content), always_2d=True)
    assert rate_hz == their_rate_hz == 48_000
    np.testing.assert_array_equal(ours, theirs)
    # floats are kept as they are, whole numbers within a step
    step = {"FLOAT": 2**-24, "DOUBLE": 0.0, "PCM_16": 2**-15, "PCM_24": 2**-23, "PCM_32": 2**-31}[form[1]]
    assert np.max(np.abs(ours - noise(channels=channels))) <= step


@pytest.mark.parametrize("form", FORMS, ids="-".join)
@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_rate_form_and_length_are_told_without_the_sound(form: tuple[str, str, str], rate_hz: int) -> None:
    header = open_recording(written(form, noise(), rate_hz)).header
    assert (header.rate_hz, header.channels, header.subtype, header.frames) == (rate_hz, 2, form[1], 700)
    kinds = {"WAVEX": "WAV", "AIFF": "AIFF" if form[2] == "FILE" and form[1] in PCM else "AIFF-C"}
    assert header.container == kinds.get(form[0], form[0])


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(FORMS), st.integers(1, 8), st.integers(1, 200_000), st.integers(0, 2**32))
def test_blocks_are_the_whole_in_every_form(form: tuple[str, str, str], channels: int, frames: int, seed: int) -> None:
    content = written(form, noise(frames, channels, seed))
    whole = np.concatenate(list(open_recording(content).blocks()))
    np.testing.assert_array_equal(whole, soundfile.read(io.BytesIO(content), always_2d=True)[0])


@pytest.mark.parametrize("form", FORMS, ids="-".join)
def test_a_file_cut_off_anywhere_is_refused(form: tuple[str, str, str]) -> None:
    content = written(form, noise(20_000))
    for sixteenth in range(16):
        refused(content[: len(content) * sixteenth // 16])
    assert refused(content[:-1]).fault in ("cut_off", "damaged")


@pytest.mark.parametrize("form", [form for form in FORMS if form[0] != "FLAC"], ids="-".join)
def test_what_is_there_of_a_cut_off_file_can_be_taken(form: tuple[str, str, str]) -> None:
    content = written(form, noise(20_000))
    whole, _ = read_recording(content)
    for sixteenth in range(1, 16):
        part, _ = read_recording(content[: len(content) * sixteenth // 16], accept_truncated=True)
        assert abs(len(part) - 20_000 * sixteenth / 16) < 100
        np.testing.assert_array_equal(part, whole[: len(part)])


def places_of_sizes(content: bytes) -> Iterator[tuple[int, str]]:
    """Where a file states how much sound it holds, and how the number is written."""
    if content.startswith(b"RF64"):
        yield 28, "<Q"
    elif content.startswith(b"RIFF"):
        yield content.index(b"data") + 4, "<I"
    elif content.startswith(b"riff"):
        yield content.index(b"data") + 16, "<Q"
    else:
        yield content.index(b"SSND") + 4, ">I"
        yield content.index(b"COMM") + 10, ">I"


@pytest.mark.parametrize("form", [form for form in FORMS if form[0] != "FLAC"], ids="-".join)
@pytest.mark.parametrize("wrong_by", [-1, 1])
def test_a_size_that_is_wrong_by_one_is_refused(form: tuple[str, str, str], wrong_by: int) -> None:
    content = written(form, noise())
    for place, how in places_of_sizes(content):
        (size,) = struct.unpack_from(how, content, place)
        wrong = bytearray(content)
        struct.pack_into(how, wrong, place, size + wrong_by)
        fewer_frames_than_bytes = how == ">I" and place == content.index(b"COMM") + 10 and wrong_by == -1
        if fewer_frames_than_bytes:
            assert len(read_recording(bytes(wrong))[0]) == 699
        else:
            assert refused(bytes(wrong)).fault == "cut_off"


def test_flac_that_claims_more_than_it_can_hold_is_refused_from_its_header() -> None:
    content = bytearray(written(("FLAC", "PCM_24", "FILE"), noise()))
    content[21] |= 0x0F
    assert refused(bytes(content)).fault == "cut_off"
    assert "at least" in refused(bytes(content)).message


def test_flac_of_unknown_length_is_refused_with_a_hint() -> None:
    content = bytearray(written(("FLAC", "PCM_16", "FILE"), noise()))
    content[21] &= 0xF0
    content[22:26] = bytes(4)
    assert "how long" in refused(bytes(content)).message
    assert "not to a pipe" in refused(bytes(content)).hint


def test_flac_that_claims_one_sample_more_is_damaged() -> None:
    content = bytearray(written(("FLAC", "PCM_16", "FILE"), noise()))
    content[22:26] = struct.pack(">I", 701)
    assert refused(bytes(content)).fault == "damaged"


def test_a_broken_frame_of_flac_is_found_by_its_checksum() -> None:
    """Each frame ends in a checksum of 16 bits [RFC 9639, section 9.3]."""
    content = written(("FLAC", "PCM_24", "FILE"), noise(20_000))
    for place in range(9000, len(content), 9973):
        broken = bytearray(content)
        broken[place] ^= 0x10
        assert refused(bytes(broken)).fault == "damaged"


@pytest.mark.parametrize(
    ("form", "fault"),
    [
        (("WAV", "PCM_U8", "FILE"), "bits"),
        (("W64", "PCM_U8", "FILE"), "bits"),
        (("RF64", "PCM_U8", "FILE"), "bits"),
        (("AIFF", "PCM_S8", "FILE"), "bits"),
        (("FLAC", "PCM_S8", "FILE"), "bits"),
        (("WAV", "ULAW", "FILE"), "coded"),
        (("WAV", "MS_ADPCM", "FILE"), "coded"),
        (("W64", "ALAW", "FILE"), "coded"),
        (("AIFF", "ULAW", "FILE"), "coded"),
        (("AIFF", "IMA_ADPCM", "FILE"), "coded"),
        (("OGG", "VORBIS", "FILE"), "lossy"),
        (("OGG", "OPUS", "FILE"), "lossy"),
        (("MP3", "MPEG_LAYER_III", "FILE"), "lossy"),
        (("CAF", "PCM_24", "FILE"), "not_sound"),
        (("AU", "PCM_16", "FILE"), "not_sound"),
        (("SVX", "PCM_16", "FILE"), "not_sound"),
    ],
)
def test_other_sound_is_told_apart(form: tuple[str, str, str], fault: str) -> None:
    assert refused(written(form, 0.5 * noise(4800, 1))).fault == fault


@pytest.mark.parametrize(
    ("opening", "said"),
    [
        (b"ID3\x04\0\0\0\0\0\0", "MP3"),
        (b"\xff\xfb\x90\x64", "MP3"),
        (b"\xff\xf1\x50\x80", "AAC"),
        (b"\0\0\0\x20ftypM4A ", "MP4"),
        (b"\x30\x26\xb2\x75\x8e\x66\xcf\x11\xa6\xd9", "WMA"),
        (b"OggS\0\2" + bytes(22) + b"OpusHead", "Opus"),
    ],
)
def test_lossy_files_are_named_by_their_first_bytes(opening: bytes, said: str) -> None:
    error = refused(opening + bytes(500))
    assert error.fault == "lossy"
    assert said in error.message
    assert "WAV, AIFF or FLAC" in error.hint


@pytest.mark.parametrize(
    "content",
    [b"PK\3\4" + bytes(99), b"\x89PNG\r\n\x1a\n" + bytes(99), "gain at 1:30\n".encode("utf-16"), b"\xff" * 99],
)
def test_what_is_no_sound_is_called_so(content: bytes) -> None:
    assert refused(content).fault == "not_sound"


def test_the_kind_of_file_is_told_by_its_bytes_not_by_its_name(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(written(("FLAC", "PCM_24", "FILE"), noise()))
    assert open_recording(path).header.container == "FLAC"
    np.testing.assert_array_equal(read_recording(path)[0], soundfile.read(path, always_2d=True)[0])
