"""Run by the tests as a process of its own, with `failing_disk.c` loaded: one step that fails at every call in turn.

failing_disk.py STEP HOW FOLDER      prints how many calls the step makes and what came of all the failures

Every run is a fork, so that it starts from the same state and can be killed. After each the store is looked at without
failures: what was acknowledged must be there, what is there must be whole, and taken again the step must work.
"""

import ctypes
import os
import shutil
import signal
import sqlite3
import sys
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from optimiser.errors import OptimiserError, StorageError
from optimiser.storage import Store, open_store, schema
from optimiser.storage.shelf import health
from optimiser.storage.snapshot import verified
from optimiser.study import Event
from optimiser.workflow import Stamp, backup, move, recover
from tests.storage.next_schema import adopt, write_steps

AT = "2026-03-02T10:00:00+00:00"
STAMP = Stamp(datetime(2026, 3, 2, 10, 0, tzinfo=UTC))
HOW = {"kill": 1, "full": 2, "error": 3}
EVENTS = 6
MOST_CALLS = 600


def silent(_: str) -> None:
    pass


def opened(folder: Path) -> Store:
    return open_store(str(folder / "studies.db"))


def prepared(folder: Path) -> None:
    """A store with a study and a recording, and an older backup of it."""
    (folder / "take.wav").write_bytes(b"first take" * 3000)
    (folder / "other.wav").write_bytes(b"other take" * 3000)
    with opened(folder) as store:
        store.start("combo", Event("started", {"sheet": {"ballast": "x" * 6000}}, AT, key="begin"))
        store.audio.keep(folder / "take.wav")
        backup(store, folder / "older.db", replace=False, tell=silent)
        with store.writing():
            store.append("combo", *(Event("measured", {"ballast": "x" * 3000}, AT) for _ in range(EVENTS - 1)))


def events_in(folder: Path) -> int:
    """How many events the store holds, when every page of it is sound."""
    with closing(sqlite3.connect(folder / "studies.db")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert connection.execute("PRAGMA foreign_key_check").fetchone() is None
    with opened(folder) as store:
        (study,) = store.census()
        assert study.faults == ()
        for kept in store.audio.entries():
            assert health(store.audio.folder, kept) == "whole"
        return study.events


def append(folder: Path) -> None:
    with opened(folder) as store, store.writing():
        store.append("combo", Event("measured", {"ballast": "y" * 9000}, AT, key="new"))


def look_append(folder: Path, done: bool) -> None:
    assert events_in(folder) in ({EVENTS + 1} if done else {EVENTS, EVENTS + 1})


def keep(folder: Path) -> None:
    with opened(folder) as store:
        store.audio.keep(folder / "other.wav")


def look_keep(folder: Path, done: bool) -> None:
    assert events_in(folder) == EVENTS
    with opened(folder) as store:
        assert len(store.audio.entries()) in ({2} if done else {1, 2})


def make(folder: Path) -> None:
    with open_store(str(folder / "fresh.db")) as store:
        store.start("new", Event("started", {}, AT, key="begin"))


def look_make(folder: Path, done: bool) -> None:
    if done or (folder / "fresh.db").exists():
        with open_store(str(folder / "fresh.db"), create=False) as store:
            assert store.study_names() in ((("new",),) if done else ((), ("new",)))


def back_up(folder: Path) -> None:
    with opened(folder) as store:
        backup(store, folder / "newer.db", replace=(folder / "newer.db").exists(), tell=silent)


def look_back_up(folder: Path, done: bool) -> None:
    assert events_in(folder) == EVENTS
    assert done <= (folder / "newer.db").exists()
    if (folder / "newer.db").exists():
        assert [study.events for study in verified(folder / "newer.db", "the backup")] == [EVENTS]


def back_up_over(folder: Path) -> None:
    with opened(folder) as store:
        backup(store, folder / "older.db", replace=True, tell=silent)


def look_back_up_over(folder: Path, done: bool) -> None:
    assert events_in(folder) == EVENTS
    (study,) = verified(folder / "older.db", "the backup")
    assert study.events in ({EVENTS} if done else {1, EVENTS})


def put_back(folder: Path) -> None:
    recover(folder / "older.db", str(folder / "studies.db"), STAMP, silent)


def look_put_back(folder: Path, done: bool) -> None:
    events = events_in(folder)
    assert events in ({1} if done else {1, EVENTS})
    asides = [path for path in folder.glob("studies.db.before-*") if not path.name.endswith(("-wal", "-shm"))]
    if events == 1:
        assert EVENTS in [sum(study.events for study in verified(path, "the old")) for path in asides]


def upgrade(folder: Path) -> None:
    opened(folder).close()


def look_upgrade(folder: Path, done: bool) -> None:
    assert verified_events(folder / "studies.db") == EVENTS
    with closing(sqlite3.connect(folder / "studies.db")) as connection:
        version = connection.execute("SELECT version_num FROM schema_version").fetchone()[0]
        columns = {row[1] for row in connection.execute("PRAGMA table_info(event)")}
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    newer = version == schema.NEWEST
    assert newer or not done
    assert ("weight" in columns, "later" in tables, "_alembic_tmp_event" in tables) == (newer, newer, False)
    copies = [path for path in folder.glob("studies.db.schema-*") if path.suffix not in (".lock",)]
    assert not newer or copies
    assert all(verified_events(copy) == EVENTS for copy in copies)


def verified_events(file: Path) -> int:
    """As `events_in`, of a file of whatever schema."""
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return int(connection.execute("SELECT count(*) FROM event").fetchone()[0])


def move_away(folder: Path) -> None:
    with opened(folder) as store:
        move(store, str(folder / "moved.db"), None, silent)


def look_move_away(folder: Path, done: bool) -> None:
    assert events_in(folder) == EVENTS
    if done or (folder / "moved.db").exists():
        with open_store(str(folder / "moved.db"), create=False) as store:
            counts = [study.events for study in store.census()]
            assert counts in ([[EVENTS]] if done else [[], [EVENTS]])
            assert all(health(store.audio.folder, kept) == "whole" for kept in store.audio.entries())


@dataclass(frozen=True)
class Step:
    do: Callable[[Path], None]
    look: Callable[[Path, bool], None]


STEPS = {
    "append": Step(append, look_append),
    "keep": Step(keep, look_keep),
    "make": Step(make, look_make),
    "backup": Step(back_up, look_back_up),
    "backup-over": Step(back_up_over, look_back_up_over),
    "recover": Step(put_back, look_put_back),
    "upgrade": Step(upgrade, look_upgrade),
    "move": Step(move_away, look_move_away),
}


def attempt(step: Step, folder: Path, nth: int, how: int) -> str:
    """Take a step in a process of its own: `done`, `refused` or `killed`, and `!` when it came to the n-th call."""
    disk = ctypes.CDLL(None)
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        said = "done"
        disk.failing_disk_arm(os.fsencode(folder), ctypes.c_long(nth), how)
        try:
            step.do(folder)
        except StorageError as error:
            said = "refused" if "\n" not in str(error) and error.hint else f"said {error!r}"
        except BaseException as error:  # whatever it is, it is told
            said = f"raised {type(error).__name__}: {error}"
        reached = disk.failing_disk_seen() >= nth
        disk.failing_disk_arm(b"/", ctypes.c_long(0), 0)
        os.write(writing, f"{said} {'!' if reached else '-'}".encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        said = pipe.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return "killed !"
    return said


def main(name: str, how: str, folder: Path) -> None:
    step, outcomes = STEPS[name], Counter[str]()
    start = folder / "start"
    start.mkdir()
    prepared(start)
    if name == "upgrade":
        adopt(folder / "steps", write_steps(folder / "steps"))
    for nth in range(1, MOST_CALLS):
        place = folder / "run"
        shutil.copytree(start, place)
        said, reached = attempt(step, place, nth, HOW[how]).rsplit(" ", 1)
        assert said in ("done", "refused", "killed"), (nth, said)
        outcomes[said] += 1
        step.look(place, said == "done")
        again(step, place, nth)
        shutil.rmtree(place)
        if reached == "-":
            sys.stdout.write(f"{nth - 1} calls {dict(outcomes)}\n")
            return
    raise AssertionError("the step never came to its end")


def again(step: Step, place: Path, nth: int) -> None:
    """When the disk works, so does the step."""
    try:
        step.do(place)
    except OptimiserError as error:
        raise AssertionError(f"after failure {nth}: {error}") from error
    step.look(place, True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], Path(sys.argv[3]))
