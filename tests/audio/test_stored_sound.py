"""Sound in its file can be gone through again and again, and is never mixed with what the file holds later."""

import os
import tracemalloc
from dataclasses import FrozenInstanceError
from pathlib import Path

import numpy as np
import pytest
import soundfile

from optimiser.audio import open_recording, read_recording, write_wav
from optimiser.errors import InvalidRecording, NotFound
from optimiser.scoring import Sound


def noise(frames: int = 150_000, channels: int = 2) -> np.ndarray:
    return np.random.default_rng(11).uniform(-1, 1, (frames, channels))


@pytest.fixture(params=["wav", "w64", "aiff", "flac"])
def path(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    path = tmp_path / f"take.{request.param}"
    soundfile.write(path, noise(), 48_000, subtype="PCM_24")
    return path


def test_every_pass_gives_the_whole_sound(path: Path) -> None:
    sound: Sound = open_recording(path)
    assert (sound.rate_hz, sound.channels, sound.frames) == (48_000, 2, 150_000)
    whole, _ = read_recording(path)
    for _ in range(2):
        np.testing.assert_array_equal(np.concatenate(list(sound.blocks())), whole)


def test_two_passes_at_once_do_not_disturb_each_other(path: Path) -> None:
    sound = open_recording(path)
    for one, other in zip(sound.blocks(), sound.blocks(), strict=True):
        np.testing.assert_array_equal(one, other)


def test_a_pass_left_early_starts_anew(path: Path) -> None:
    sound = open_recording(path)
    first = next(sound.blocks())
    np.testing.assert_array_equal(next(sound.blocks()), first)


def test_bytes_serve_like_a_file(path: Path) -> None:
    sound = open_recording(path.read_bytes())
    np.testing.assert_array_equal(np.concatenate(list(sound.blocks())), read_recording(path)[0])
    assert len(repr(sound)) < 300


def test_it_is_a_value(path: Path) -> None:
    sound = open_recording(str(path))
    assert sound == open_recording(path)
    assert hash(sound) == hash(open_recording(path))
    assert sound.duration_s == 3.125
    with pytest.raises(FrozenInstanceError):
        sound.size = 0  # type: ignore[misc]


def test_a_file_that_was_written_anew_is_refused(path: Path) -> None:
    sound = open_recording(path)
    soundfile.write(path, noise()[::-1], 48_000, subtype="PCM_24")
    os.utime(path, ns=(0, sound.changed_ns + 1_000_000_000))
    with pytest.raises(InvalidRecording, match="was changed") as caught:
        next(sound.blocks())
    assert caught.value.fault == "changed"


def test_a_file_that_grows_while_it_is_read_is_refused(path: Path) -> None:
    sound = open_recording(path)
    blocks = sound.blocks()
    next(blocks)
    with path.open("ab") as file:
        file.write(b"more")
    with pytest.raises(InvalidRecording, match="was changed"):
        list(blocks)


def test_a_file_that_shrinks_while_it_is_read_is_refused(path: Path) -> None:
    sound = open_recording(path)
    blocks = sound.blocks()
    next(blocks)
    with path.open("r+b") as file:
        file.truncate(1000)
    with pytest.raises(InvalidRecording) as caught:
        list(blocks)
    assert "\n" not in str(caught.value)


def test_a_file_that_is_gone_is_named(path: Path) -> None:
    sound = open_recording(path)
    path.unlink()
    with pytest.raises(NotFound, match=path.name):
        next(sound.blocks())


def test_what_cannot_be_measured_is_refused_when_it_is_opened(tmp_path: Path) -> None:
    (tmp_path / "notes.wav").write_bytes(b"gain at half past one")
    with pytest.raises(InvalidRecording, match="no WAV, AIFF or FLAC"):
        open_recording(tmp_path / "notes.wav")
    with pytest.raises(NotFound):
        open_recording(tmp_path / "gone.wav")


def test_what_there_is_of_a_cut_off_file_can_be_taken(tmp_path: Path) -> None:
    path = tmp_path / "cut.wav"
    write_wav(path, noise(1000), 48_000)
    path.write_bytes(path.read_bytes()[:3044])
    with pytest.raises(InvalidRecording, match="cut off"):
        open_recording(path)
    sound = open_recording(path, accept_truncated=True)
    assert sum(len(block) for block in sound.blocks()) == sound.frames == 500


def test_a_pass_needs_the_same_memory_whatever_the_length(tmp_path: Path) -> None:
    peaks = []
    for seconds in (10, 60):
        path = tmp_path / f"{seconds}.wav"
        soundfile.write(path, np.zeros((seconds * 48_000, 2)), 48_000, subtype="PCM_24")
        sound = open_recording(path)
        tracemalloc.start()
        for _ in sound.blocks():
            pass
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.1 * peaks[0]
    assert peaks[1] < 10e6


@pytest.mark.skipif(os.name != "posix", reason="pipes have names on POSIX systems alone")
def test_a_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(InvalidRecording, match="a pipe"):
        open_recording(tmp_path / "pipe.wav")


@pytest.mark.parametrize("name", ["two\nlines.wav", "tab\t.wav", "\x1b[31mred.wav"])
def test_names_that_would_break_a_line_are_shown_without_harm(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(b"no sound")
    for path in (tmp_path / name, tmp_path / f"no {name}"):
        with pytest.raises((InvalidRecording, NotFound)) as caught:
            open_recording(path)
        assert caught.value.message.isprintable()


def test_a_name_with_a_zero_in_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InvalidRecording, match="cannot be read"):
        open_recording(tmp_path / "a\0b.wav")
