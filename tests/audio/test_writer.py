"""Files are written whole, or not at all."""

import stat
from pathlib import Path

import numpy as np
import pytest

from optimiser.audio import Subtype, read_recording, wav_bytes, write_wav
from optimiser.errors import InvalidRecording, StorageError


def test_the_same_sound_gives_the_same_bytes(tmp_path: Path) -> None:
    sound = np.random.default_rng(1).uniform(-1, 1, 999)
    for subtype in ("PCM_24", "FLOAT"):
        write_wav(tmp_path / "a.wav", sound, 48_000, subtype)
        write_wav(tmp_path / "b.wav", sound, 48_000, subtype)
        assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


def test_an_older_file_is_replaced_and_nothing_else_stays(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    write_wav(path, np.zeros(10), 48_000)
    write_wav(path, np.full(20, 0.25), 48_000)
    assert read_recording(path)[0].shape == (20, 1)
    assert [file.name for file in tmp_path.iterdir()] == ["take.wav"]


def test_sound_above_full_scale_is_not_clipped_in_silence(tmp_path: Path) -> None:
    with pytest.raises(InvalidRecording, match=r"\+6\.0 dBFS"):
        write_wav(tmp_path / "loud.wav", np.array([0.0, 2.0]), 48_000)
    assert not list(tmp_path.iterdir())
    write_wav(tmp_path / "loud.wav", np.array([0.0, 2.0]), 48_000, "FLOAT")
    assert read_recording(tmp_path / "loud.wav")[0].max() == 2.0


@pytest.mark.parametrize(
    ("samples", "rate_hz", "subtype", "fault"),
    [
        (np.zeros(0), 48_000, "PCM_24", "shape"),
        (np.zeros((4, 9)), 48_000, "PCM_24", "shape"),
        (np.zeros((2, 2, 2)), 48_000, "PCM_24", "shape"),
        (np.array([0.0, np.nan]), 48_000, "PCM_24", "not_finite"),
        (np.array([0.0, 1e300]), 48_000, "FLOAT", "clipping"),
        (np.zeros(4), 7_999, "PCM_24", "rate"),
    ],
)
def test_what_cannot_be_written(samples: np.ndarray, rate_hz: int, subtype: Subtype, fault: str) -> None:
    with pytest.raises(InvalidRecording) as caught:
        wav_bytes(samples, rate_hz, subtype)
    assert caught.value.fault == fault


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="nowhere"):
        write_wav(tmp_path / "nowhere" / "take.wav", np.zeros(10), 48_000)


def test_a_full_or_locked_folder_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    write_wav(path, np.full(10, 0.5), 48_000)
    before = path.read_bytes()
    (tmp_path / f".take.wav.{__import__('os').getpid()}.part").mkdir()
    with pytest.raises(StorageError):
        write_wav(path, np.zeros(10), 48_000)
    assert path.read_bytes() == before


def test_others_may_read_what_was_written(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.touch()
    write_wav(tmp_path / "take.wav", np.zeros(10), 48_000)
    assert stat.S_IMODE((tmp_path / "take.wav").stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)
