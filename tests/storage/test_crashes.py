"""Processes that write at once, are killed, or run out of disk: nothing acknowledged is lost or doubled."""

import random
import resource
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from optimiser.errors import Busy, StorageError
from optimiser.storage import Store, open_store
from optimiser.study import Event

AT = "2026-03-02T10:00:00+00:00"
ROOT = Path(__file__).parents[2]
HOLDER = """
import sys
from optimiser.storage import open_store
with open_store(sys.argv[1]) as store, store.writing():
    print("held", flush=True)
    sys.stdin.read()
"""

MAKER = """
import sys
import alembic.command
import sqlalchemy
from optimiser.storage import open_store
print("ready", flush=True)
open_store(sys.argv[1])
"""

Acknowledged = dict[str, int]


def recorder(url: str, actor: str, count: int) -> subprocess.Popen[str]:
    words = [sys.executable, "-m", "tests.storage.recorder", url, "combo", actor, str(count)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=ROOT)


def acknowledged(said: str) -> Acknowledged:
    """Number by key of every event whose line was said to its end."""
    whole = said[: said.rfind("\n") + 1]
    return {key: int(number) for number, key in (line.split() for line in whole.splitlines())}


def test_processes_that_append_at_once_leave_no_gap_and_see_each_other(store: Store, url: str) -> None:
    children = [recorder(url, actor, 25) for actor in ("ada", "ben")]
    said = [acknowledged(child.communicate()[0]) for child in children]
    assert [child.returncode for child in children] == [0, 0]
    events = store.events("combo")
    assert [event.number for event in events] == list(range(1, 52))
    assert {event.key: event.number for event in events[1:]} == said[0] | said[1]
    assert [event.body["seen"] for event in events[1:]] == list(range(1, 51))


def test_processes_that_make_the_store_at_once_make_one(url: str) -> None:
    code = "import sys; from optimiser.storage import open_store; print(open_store(sys.argv[1]).study_names())"
    words = [sys.executable, "-c", code, url]
    children = [subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=ROOT) for _ in range(3)]
    assert [child.communicate()[0] for child in children] == ["()\n"] * 3
    assert [child.returncode for child in children] == [0] * 3


def test_a_lock_held_by_another_process_is_told_and_ends_with_it(store: Store, url: str) -> None:
    words = [sys.executable, "-c", HOLDER, url]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with open_store(url, wait_s=0.1) as second:
            assert len(second.events("combo")) == 1
            with pytest.raises(Busy, match="Another optimiser"), second.writing():
                pass
        holder.kill()
    with store.writing():
        assert store.append("combo", Event("measured", {}, AT))[0].number == 2


def kill_and_look(url: str, actor: str, after_s: float, known: Acknowledged) -> Acknowledged:
    """Kill a recorder, see that all it ever acknowledged is there once, and say its last key again."""
    child = recorder(url, actor, 10_000)
    assert child.stdout is not None
    first = child.stdout.readline()
    time.sleep(after_s)
    child.send_signal(signal.SIGKILL)
    known = known | acknowledged(first + child.communicate()[0])
    with open_store(url) as store:
        events = store.events("combo")
        assert [event.number for event in events] == list(range(1, len(events) + 1))
        stored = {event.key: event.number for event in events}
        assert len(stored) == len(events)
        assert known.items() <= stored.items()
        turn = sum(key.startswith(f"{actor}-") for key in known)
        retried = [
            Event("measured", {}, AT, actor, key=f"{actor}-{turn - 1}"),
            Event("measured", {}, AT, actor, key=f"{actor}-{turn}"),
        ]
        with store.writing():
            again = store.append("combo", *retried)
        assert again[0].number == known[f"{actor}-{turn - 1}"]
        assert len({event.key for event in store.events("combo")}) == len(store.events("combo"))
    return known


def kills(url: str, count: int) -> int:
    """Acknowledged events over `count` kills at moments that a fixed seed draws."""
    draw = random.Random(20260302)  # noqa: S311
    known: Acknowledged = {}
    for turn in range(count):
        known = kill_and_look(url, f"run{turn}", draw.uniform(0.0, 0.25), known)
        if url.startswith("sqlite"):
            connection = sqlite3.connect(url.removeprefix("sqlite:///"))
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            connection.close()
    return len(known)


@pytest.mark.usefixtures("store")
def test_nothing_acknowledged_is_lost_when_the_writer_is_killed(url: str) -> None:
    assert kills(url, 3) >= 3


@pytest.mark.ci
@pytest.mark.usefixtures("store")
def test_nothing_acknowledged_is_lost_over_twenty_kills(url: str) -> None:
    assert kills(url, 20) >= 20


def test_a_making_that_is_killed_leaves_a_whole_store_or_none(tmp_path: Path) -> None:
    draw = random.Random(20260303)  # noqa: S311
    for turn in range(4):
        path = tmp_path / f"store-{turn}.db"
        words = [sys.executable, "-c", MAKER, str(path)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=ROOT) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == "ready\n"
            time.sleep(draw.uniform(0.0, 0.4))
            child.kill()
        if path.exists():
            assert path.stat().st_size > 0
        with open_store(str(path)) as store:
            assert store.study_names() == ()


@pytest.fixture
def file_limit() -> Iterator[Callable[[int], None]]:
    """Sets how many bytes a file of this process may grow to, 0 for as before: a disk that is full for us alone."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)

    def limit(size_bytes: int) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes or before[0], before[1]))

    yield limit
    limit(0)


def fill(store: Store) -> tuple[int, StorageError]:
    """Append until the disk is full."""
    for turn in range(2000):
        try:
            with store.writing():
                store.append("combo", Event("measured", {"turn": turn, "ballast": "x" * 3000}, AT))
        except StorageError as error:
            return turn, error
    raise AssertionError("the disk never filled")


def test_a_full_disk_is_told_loses_nothing_and_works_again(tmp_path: Path, file_limit: Callable[[int], None]) -> None:
    path = tmp_path / "studies.db"
    with open_store(str(path)) as store:
        store.start("combo", Event("started", {}, AT))
        file_limit(300_000)
        stored, error = fill(store)
        assert stored > 10
        assert "room" in error.hint
        assert "\n" not in str(error)
        assert [event.body["turn"] for event in store.events("combo")[1:]] == list(range(stored))
        with open_store(str(path)) as second:
            assert len(second.events("combo")) == stored + 1
        file_limit(0)
        with store.writing():
            assert store.append("combo", Event("measured", {}, AT))[0].number == stored + 2
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()


def test_a_full_disk_keeps_no_half_recording(tmp_path: Path, file_limit: Callable[[int], None]) -> None:
    take = tmp_path / "take.wav"
    take.write_bytes(b"x" * 500_000)
    with open_store(str(tmp_path / "studies.db")) as store:
        file_limit(300_000)
        with pytest.raises(StorageError, match="no room left"):
            store.audio.keep(take)
        assert not [path for path in (tmp_path / "studies.db.audio").rglob("*") if path.is_file()]
        file_limit(0)
        assert store.audio.path(store.audio.keep(take).sha256).stat().st_size == 500_000


def test_a_store_that_finds_no_room_to_be_made_is_not_there(tmp_path: Path, file_limit: Callable[[int], None]) -> None:
    path = tmp_path / "studies.db"
    for size_bytes in range(4096, 120_000, 4096):
        file_limit(size_bytes)
        try:
            open_store(str(path)).close()
        except StorageError as error:
            assert "room" in error.hint
            assert [entry.name for entry in tmp_path.iterdir()] == ["studies.db.lock"]
        else:
            break
    file_limit(0)
    assert size_bytes > 4096
    with open_store(str(path), create=False) as store:
        assert store.study_names() == ()
