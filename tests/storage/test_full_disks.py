"""The disk is full during a take, a backup, an upgrade, a recovery: one line, nothing lost, and it works again.

A disk of 4 MB where root may mount one, and a limit on the size of files that stands for a full disk elsewhere.
"""

import os
import resource
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

from optimiser.errors import StorageError
from optimiser.storage import Store, open_store, schema
from optimiser.storage.snapshot import verified
from optimiser.study import fold
from optimiser.workflow import Answer, Stamp, backup, log, recover, take
from tests.storage.hunts import NOW, add_trials, begin, filled
from tests.storage.next_schema import adopt, write_steps

SMALL_BYTES = 4 << 20


@dataclass(frozen=True)
class Disk:
    """A disk that can be filled to the last byte, and freed again."""

    folder: Path
    fill: Callable[[], None]
    free: Callable[[], None]

    @property
    def place(self) -> str:
        return str(self.folder / "studies.db")


@pytest.fixture(params=["small disk", "limit"])
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Disk]:
    folder = tmp_path / "disk"
    folder.mkdir()
    if request.param == "limit":
        before = resource.getrlimit(resource.RLIMIT_FSIZE)
        yield Disk(
            folder,
            lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1])),
            lambda: resource.setrlimit(resource.RLIMIT_FSIZE, before),
        )
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        return
    words = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_BYTES}", "none", str(folder)]
    if os.geteuid() != 0 or subprocess.run(words, check=False, capture_output=True).returncode:
        pytest.skip("only root may mount a small disk")
    ballast = folder / "ballast"
    yield Disk(folder, lambda: fill_up(ballast), lambda: ballast.unlink(missing_ok=True))
    subprocess.run(["umount", "-l", str(folder)], check=True)


def fill_up(ballast: Path) -> None:
    with ballast.open("ab", buffering=0) as file:
        for size in (1 << 16, 1 << 8, 1):
            try:
                while True:
                    file.write(bytes(size))
            except OSError:
                continue


def refused(disk: Disk, step: Callable[[], object]) -> None:
    """A full disk is told in one line; afterwards there is room again."""
    disk.fill()
    try:
        with pytest.raises(StorageError) as caught:
            step()
    finally:
        disk.free()
    assert "\n" not in str(caught.value)
    assert "room" in str(caught.value)
    assert caught.value.hint.endswith(".")


def silent(_: str) -> None:
    pass


def state(store: Store) -> object:
    return store.census(), store.audio.entries()


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    rng = np.random.default_rng(3)
    sound = 0.1 * rng.normal(size=96_000) * np.exp(-(np.arange(96_000) % 12_000) / 3000)
    paths = tmp_path / "reference.wav", tmp_path / "capture.wav"
    for path in paths:
        soundfile.write(path, sound, 48_000, subtype="PCM_16")
    return paths


def test_during_a_take(disk: Disk, files: tuple[Path, Path]) -> None:
    answer = Answer(settings={"gain": 12.0, "stage": "full"})
    stamp = Stamp(NOW, key="this take")
    with open_store(disk.place) as store:
        begin(store)
        add_trials(store, 3)
        before = state(store)
        refused(disk, lambda: take(store, "combo", files, answer, stamp))
        assert state(store) == before
        number = take(store, "combo", files, answer, stamp)["trial"]
        assert take(store, "combo", files, answer, stamp)["trial"] == number == 4


def test_during_a_trial_without_files(disk: Disk, tmp_path: Path) -> None:
    answer = Answer(settings={"gain": 12.0, "stage": "full"}, figures={"overall": 60.0}, note="x" * 200_000)
    with open_store(disk.place) as store:
        filled(store, tmp_path)
        before = state(store)
        refused(disk, lambda: log(store, "combo", answer, Stamp(NOW, key="k")))
        assert state(store) == before
        assert log(store, "combo", answer, Stamp(NOW, key="k"))["trial"] == 4
        assert len(fold(store.events("combo")).study.trials) == 4


def test_during_a_backup(disk: Disk, tmp_path: Path) -> None:
    kept = disk.folder / "kept.db"
    with open_store(disk.place) as store:
        filled(store, tmp_path)
        before = state(store)
        refused(disk, lambda: backup(store, kept, replace=False, tell=silent))
        assert not kept.exists()
        backup(store, kept, replace=False, tell=silent)
        older = verified(kept, "the backup")
        add_trials(store, 5)
        refused(disk, lambda: backup(store, kept, replace=True, tell=silent))
        assert verified(kept, "the backup") == older
        backup(store, kept, replace=True, tell=silent)
        assert verified(kept, "the backup") == store.census()
        assert before != state(store)


def test_during_a_recovery(disk: Disk, tmp_path: Path) -> None:
    with open_store(disk.place) as store:
        filled(store, tmp_path)
        backup(store, tmp_path / "kept.db", replace=False, tell=silent)
        before = state(store)
    content = Path(disk.place).read_bytes()
    refused(disk, lambda: recover(tmp_path / "kept.db", disk.place, Stamp(NOW), silent))
    assert Path(disk.place).read_bytes() == content
    recover(tmp_path / "kept.db", disk.place, Stamp(NOW), silent)
    with open_store(disk.place) as store:
        assert state(store) == before


def test_during_an_upgrade(disk: Disk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_store(disk.place) as store:
        filled(store, tmp_path)
        before = state(store)
    content = Path(disk.place).read_bytes()
    version = write_steps(tmp_path / "steps")
    monkeypatch.setattr(schema, "NEWEST", schema.NEWEST)
    monkeypatch.setattr(schema, "_MIGRATIONS", schema._MIGRATIONS)
    adopt(tmp_path / "steps", version)
    refused(disk, lambda: open_store(disk.place))
    assert Path(disk.place).read_bytes() == content
    with open_store(disk.place) as store:
        assert store.facts()["schema"] == version
        assert state(store) == before
    assert shutil.disk_usage(disk.folder).free > 0
