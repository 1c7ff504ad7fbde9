"""Whatever bytes come in, sound or one clear line comes out."""

import io
import re
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from optimiser.audio import BITS, Subtype, open_recording, read_recording, wav_bytes, write_wav
from optimiser.errors import InvalidRecording, NotFound

SUBTYPES: tuple[Subtype, ...] = ("PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")
GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")


def tone(frames: int = 500, channels: int = 2) -> np.ndarray:
    return 0.5 * np.random.default_rng(7).uniform(-1, 1, (frames, channels))


def wav(
    data: bytes = b"\0" * 6000,
    *,
    code: int = 1,
    channels: int = 1,
    rate_hz: int = 48_000,
    align: int = 3,
    bits: int = 24,
    claimed: int | None = None,
    opening: bytes = b"RIFF",
    extra: bytes = b"",
    before: bytes = b"",
) -> bytes:
    form = struct.pack("<HHIIHH", code, channels, rate_hz, min(rate_hz * align, 2**32 - 1), align, bits) + extra
    claimed = len(data) if claimed is None else claimed
    body = before + b"fmt " + struct.pack("<I", len(form)) + form + b"data" + struct.pack("<I", claimed) + data
    return opening + struct.pack("<I", min(len(body) + 4, 2**32 - 1)) + b"WAVE" + body


def refused(content: bytes) -> InvalidRecording:
    with pytest.raises(InvalidRecording) as caught:
        read_recording(content)
    assert "\n" not in str(caught.value)
    assert caught.value.message
    assert caught.value.hint
    return caught.value


@pytest.mark.parametrize("subtype", SUBTYPES)
@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
def test_libsndfile_reads_what_was_written_to_the_bit(tmp_path: Path, subtype: Subtype, rate_hz: int) -> None:
    path = tmp_path / "take.wav"
    write_wav(path, tone(), rate_hz, subtype)
    ours, our_rate_hz = read_recording(path)
    theirs, their_rate_hz = soundfile.read(path, always_2d=True)
    assert our_rate_hz == their_rate_hz == rate_hz
    assert soundfile.info(path).subtype == subtype
    np.testing.assert_array_equal(ours, theirs)
    step = {"FLOAT": 2**-24, "DOUBLE": 0.0}.get(subtype, 2.0 ** -BITS[subtype])
    assert np.max(np.abs(ours - tone())) <= step


@pytest.mark.parametrize("subtype", SUBTYPES)
@pytest.mark.parametrize("form", ["WAV", "WAVEX", "RF64"])
def test_files_of_libsndfile_read_the_same(tmp_path: Path, subtype: Subtype, form: str) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, tone(), 48_000, subtype=subtype, format=form)
    ours, _ = read_recording(path)
    theirs, _ = soundfile.read(path, always_2d=True)
    np.testing.assert_array_equal(ours, theirs)


@settings(deadline=None)
@given(
    hnp.arrays(np.float64, st.tuples(st.integers(1, 300), st.integers(1, 8)), elements=st.floats(-1, 1)),
    st.sampled_from(SUBTYPES),
)
def test_every_sound_comes_back_within_half_a_step(samples: np.ndarray, subtype: Subtype) -> None:
    again, _ = read_recording(wav_bytes(samples, 48_000, subtype))
    # full scale itself lies one step above the largest PCM value, hence a whole step there
    step = {"FLOAT": 2**-24, "DOUBLE": 0.0}.get(subtype, 2.0 ** (1 - BITS[subtype]))
    assert again.shape == samples.shape
    assert np.max(np.abs(again - samples)) <= step


def test_blocks_are_the_whole_in_order(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    write_wav(path, tone(150_000, 2), 48_000)
    blocks = list(open_recording(path).blocks())
    assert [len(block) for block in blocks] == [65_536, 65_536, 18_928]
    np.testing.assert_array_equal(np.concatenate(blocks), read_recording(path)[0])


def test_bytes_and_open_files_read_like_paths() -> None:
    content = wav_bytes(tone(), 44_100)
    np.testing.assert_array_equal(read_recording(content)[0], read_recording(io.BytesIO(content))[0])
    assert open_recording(content).header.frames == 500


def test_chunks_before_the_sound_are_skipped() -> None:
    notes = b"LIST" + struct.pack("<I", 5) + b"notes" + b"\0"
    assert read_recording(wav(before=notes))[0].shape == (2000, 1)


def test_twenty_bits_in_a_container_of_24_are_read() -> None:
    extra = struct.pack("<HHI", 22, 20, 0) + struct.pack("<H", 1) + GUID_TAIL
    assert read_recording(wav(code=0xFFFE, extra=extra))[0].shape == (2000, 1)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match=re.escape("gone.wav")):
        read_recording(tmp_path / "gone.wav")


def test_a_folder_is_no_recording(tmp_path: Path) -> None:
    with pytest.raises(InvalidRecording, match="cannot be read"):
        read_recording(tmp_path)


LIES = {
    "claims 4 GB": (wav(claimed=2**32 - 8), "cut_off"),
    "claims nothing": (wav(claimed=0), "cut_off"),
    "header only": (wav(b""), "cut_off"),
    "no data chunk": (wav()[:36], "cut_off"),
    "half a sample": (wav(claimed=5999), "cut_off"),
    "rate 2147483647": (wav(rate_hz=2**31 - 1), "rate"),
    "rate 0": (wav(rate_hz=0), "rate"),
    "7 bits": (wav(bits=7), "bits"),
    "8 bits": (wav(bits=8, align=1), "bits"),
    "align off": (wav(align=4), "header"),
    "65535 channels": (wav(channels=65_535), "channels"),
    "no channel": (wav(channels=0), "channels"),
    "adaptive coding": (wav(code=2, bits=4, align=256), "coded"),
    "unknown extension": (wav(code=0xFFFE, extra=struct.pack("<HHI", 22, 24, 0) + b"\1\0" + b"?" * 14), "coded"),
    "30 bits in 24": (wav(code=0xFFFE, extra=struct.pack("<HHI", 22, 30, 0) + b"\1\0" + GUID_TAIL), "bits"),
    "big endian": (wav(opening=b"RIFX"), "not_sound"),
    "64-bit without its size": (wav(opening=b"RF64", claimed=2**32 - 1), "header"),
    "text": (b"these are the settings of yesterday", "not_sound"),
    "empty": (b"", "not_sound"),
    "20 bytes": (wav()[:20], "cut_off"),
    "endless header": (b"RIFF\0\0\0\0WAVE" + b"junk\0\0\0\0" * 5000, "header"),
}


@pytest.mark.parametrize("name", LIES)
def test_headers_that_lie(name: str) -> None:
    content, fault = LIES[name]
    assert refused(content).fault == fault


@pytest.mark.parametrize(("value", "channel"), [(np.nan, 0), (np.inf, 1), (-np.inf, 0)])
def test_what_is_no_number_is_found_with_its_place(value: float, channel: int) -> None:
    samples = tone(70_000)
    samples[66_000, channel] = value
    error = refused(wav(samples.astype("<f4").tobytes(), code=3, channels=2, align=8, bits=32))
    assert error.fault == "not_finite"
    assert f"sample 66000 (1.375 s, channel {channel + 1})" in error.message


@pytest.mark.parametrize("value", [1e12, -1e38, 1e200, -1e300])
def test_values_beyond_any_sound_are_refused(value: float) -> None:
    samples = tone()
    samples[3, 0] = value
    assert refused(wav(samples.astype("<f8").tobytes(), code=3, channels=2, align=16, bits=64)).fault == "level"


def test_floats_on_the_scale_of_whole_numbers_are_read_as_they_are() -> None:
    samples = 2.0**31 * tone()
    again, _ = read_recording(wav(samples.astype("<f8").tobytes(), code=3, channels=2, align=16, bits=64))
    np.testing.assert_array_equal(again, samples)


def test_a_cut_file_can_be_accepted() -> None:
    content = wav_bytes(tone(), 48_000)
    half = content[: 44 + 1500]
    assert "cut off" in refused(half).message
    assert read_recording(half, accept_truncated=True)[0].shape == (250, 2)


def test_a_cut_file_saved_anew_is_read_as_its_hint_says(tmp_path: Path) -> None:
    """libsndfile stands for an audio editor."""
    cut, anew = tmp_path / "cut.wav", tmp_path / "anew.wav"
    cut.write_bytes(wav_bytes(tone(), 48_000)[: 44 + 1500])
    assert "open it in an audio editor and save what is there as a new file" in refused(cut.read_bytes()).hint
    samples, rate_hz = soundfile.read(cut)
    soundfile.write(anew, samples, rate_hz, subtype="PCM_24")
    assert read_recording(anew)[0].shape == (250, 2)


def test_longer_than_half_an_hour_is_refused_from_the_header(tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    size = 8000 * 2 * 1801
    path.write_bytes(wav(b"", rate_hz=8000, bits=16, align=2, claimed=size))
    with path.open("r+b") as file:
        file.truncate(44 + size)
    with pytest.raises(InvalidRecording) as caught:
        read_recording(path)
    assert caught.value.fault == "too_large"


@pytest.mark.parametrize("seed", range(300))
def test_damaged_files_give_sound_or_one_line(seed: int) -> None:
    rng = np.random.default_rng(seed)
    content = bytearray(wav_bytes(tone(), 48_000, SUBTYPES[seed % len(SUBTYPES)]))
    for _ in range(int(rng.integers(1, 6))):
        content[int(rng.integers(0, 44))] = int(rng.integers(0, 256))
    damaged = bytes(content[: int(rng.integers(0, len(content)))] if seed % 3 == 0 else content)
    try:
        samples, rate_hz = read_recording(damaged)
    except InvalidRecording:
        refused(damaged)
    else:
        assert np.isfinite(samples).all()
        assert 8000 <= rate_hz <= 384_000


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_refused_in_one_line(content: bytes) -> None:
    refused(content)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=120))
def test_any_bytes_after_a_good_opening_end_well(content: bytes) -> None:
    try:
        samples, _ = read_recording(b"RIFF\0\0\0\0WAVE" + content)
    except InvalidRecording as error:
        assert "\n" not in str(error)
    else:
        assert samples.size
