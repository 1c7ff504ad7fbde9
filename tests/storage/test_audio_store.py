"""A recording is kept once, under the SHA-256 of its bytes, and never half."""

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.errors import BadInput, NotFound, StorageError
from optimiser.storage import AudioFile, Store, open_store, queries

Recording = Callable[..., Path]


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return open_store(str(tmp_path / "studies.db"))


def kept_files(tmp_path: Path) -> list[Path]:
    return [path for path in (tmp_path / "studies.db.audio").rglob("*") if path.is_file()]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=5000))
def test_the_same_bytes_come_back_under_their_sha256(store: Store, recording: Recording, content: bytes) -> None:
    kept = store.audio.keep(recording(content))
    assert kept == AudioFile(hashlib.sha256(content).hexdigest(), len(content), "take.wav")
    assert store.audio.path(kept.sha256).read_bytes() == content


def test_more_than_one_block_is_kept_whole(store: Store, recording: Recording) -> None:
    content = os.urandom(3_000_001)
    kept = store.audio.keep(recording(content))
    assert store.audio.path(kept.sha256).read_bytes() == content


def test_the_same_bytes_under_two_names_are_one_file(store: Store, recording: Recording, tmp_path: Path) -> None:
    first = store.audio.keep(recording(b"abc", "one.wav"))
    second = store.audio.keep(recording(b"abc", "two.wav"))
    assert (first.sha256, second.name) == (second.sha256, "two.wav")
    assert kept_files(tmp_path) == [store.audio.path(first.sha256)]


def test_a_kept_file_that_was_lost_or_cut_is_put_back_when_it_comes_in_again(
    store: Store, recording: Recording
) -> None:
    path = store.audio.path(store.audio.keep(recording(b"abc")).sha256)
    path.unlink()
    store.audio.keep(recording(b"abc"))
    assert path.read_bytes() == b"abc"
    path.write_bytes(b"a")
    store.audio.keep(recording(b"abc"))
    assert path.read_bytes() == b"abc"


def test_a_recording_may_come_in_while_its_thread_writes(store: Store, recording: Recording) -> None:
    with store.writing():
        kept = store.audio.keep(recording(b"abc"))
    assert store.audio.path(kept.sha256).is_file()


def test_the_file_is_where_the_configuration_says(
    tmp_path: Path, recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OPTIMISER_AUDIO", str(tmp_path / "shelf"))
    with open_store(str(tmp_path / "studies.db")) as store:
        kept = store.audio.keep(recording(b"abc"))
        assert tmp_path / "shelf" in store.audio.path(kept.sha256).parents


@pytest.mark.parametrize("name", ["", "abc", "../studies.db", "0" * 64, "A" * 64, "/" * 64, "\0" * 64])
def test_what_was_never_kept_is_not_found(store: Store, name: str) -> None:
    with pytest.raises(NotFound, match="no recording"):
        store.audio.path(name)


def test_a_file_that_is_not_there_is_told(store: Store, tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="no file"):
        store.audio.keep(tmp_path / "no.wav")
    with pytest.raises(BadInput, match="cannot be read"):
        store.audio.keep(tmp_path)
    with pytest.raises(BadInput, match="cannot be read"):
        store.audio.keep(Path("a\0b"))
    assert kept_files(tmp_path) == []


def test_without_room_nothing_is_begun(
    store: Store, recording: Recording, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = recording(b"x" * 1000)
    monkeypatch.setattr("shutil.disk_usage", lambda _: SimpleNamespace(free=1000))
    with pytest.raises(StorageError, match=r"no room left for take\.wav"):
        store.audio.keep(path)
    assert kept_files(tmp_path) == []


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_disk_that_fails_at_any_step_leaves_nothing_half(
    store: Store, recording: Recording, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    """The n-th call that reaches the disk fails, for every n, until one run needs no more calls than that."""
    real = getattr(os, call)
    for nth in range(1, 20):
        calls = 0

        def failing(*place: object, nth: int = nth) -> object:
            nonlocal calls
            calls += 1
            if calls == nth:
                raise OSError(28, "No space left on device")
            return real(*place)

        path = recording(f"take {nth}".encode())
        sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
        with monkeypatch.context() as patch:
            patch.setattr(os, call, failing)
            try:
                store.audio.keep(path)
            except StorageError as error:
                assert "no room left" in error.message
        assert not list((tmp_path / "studies.db.audio" / "incoming").iterdir())
        for kept in kept_files(tmp_path):
            assert hashlib.sha256(kept.read_bytes()).hexdigest() == kept.name
        if calls < nth:
            assert store.audio.path(sha256).is_file()
            assert nth > 1
            return
        assert store.audio.keep(path).sha256 == sha256
    raise AssertionError("the disk never stopped failing")


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="needs to see which file a descriptor stands for")
def test_a_recording_is_on_the_disk_before_it_is_moved_and_moved_before_it_is_entered(
    store: Store, recording: Recording, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The order in which a power cut does no harm: sync the bytes, rename, sync the folder, then the row."""
    done: list[str] = []
    fsync, replace, add_audio = os.fsync, os.replace, queries.add_audio

    def watched_fsync(handle: int) -> None:
        path = Path(os.readlink(f"/proc/self/fd/{handle}"))
        done.append(f"sync {path.parent.name if path.is_file() else path.name}")
        fsync(handle)

    def watched_replace(source: Path, target: Path) -> None:
        done.append("move")
        replace(source, target)

    def watched_add(*row: Any) -> None:
        done.append("enter")
        add_audio(*row)

    monkeypatch.setattr(os, "fsync", watched_fsync)
    monkeypatch.setattr(os, "replace", watched_replace)
    monkeypatch.setattr(queries, "add_audio", watched_add)
    shelf = store.audio.keep(recording(b"abc")).sha256[:2]
    assert done == ["sync incoming", "move", f"sync {shelf}", "sync studies.db.audio", f"sync {tmp_path.name}", "enter"]
