"""A file that is no store is told in one line and stays as it is; a store in a file keeps what it promises."""

import errno
import os
import random
import sqlite3
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import Connection

from optimiser.errors import Busy, OptimiserError, StorageError
from optimiser.storage import open_store, sqlite_file
from optimiser.storage.schema import upgrade
from optimiser.study import Event

AT = "2026-03-02T10:00:00+00:00"
NOBODY = 65534


def filled(path: Path, events: int = 40) -> Path:
    """A store at rest with some events in it."""
    with open_store(str(path)) as store:
        store.start("combo", Event("started", {}, AT))
        with store.writing():
            store.append("combo", *(Event("measured", {"ballast": "x" * 500}, AT) for _ in range(events)))
    return path


def refused(path: Path, **options: object) -> OptimiserError:
    """The one clear line with which opening is refused."""
    with pytest.raises(OptimiserError) as caught:
        open_store(str(path), wait_s=0.2, **options)  # type: ignore[arg-type]
    error = caught.value
    assert "\n" not in str(error)
    assert error.message.endswith(".")
    assert error.hint.endswith(".")
    return error


@pytest.fixture
def as_nobody(tmp_path: Path) -> Iterator[Callable[[], None]]:
    """Gives up the powers of root, for whom every file can be written."""
    filled(tmp_path / "loads-every-module.db")
    opened = [folder for folder in (tmp_path, *tmp_path.parents) if not folder.stat().st_mode & stat.S_IXOTH]
    modes = [(folder, folder.stat().st_mode) for folder in opened]
    for folder, mode in modes:
        folder.chmod(mode | stat.S_IXOTH | stat.S_IROTH)
    root = os.geteuid() == 0

    def become_nobody() -> None:
        if root:
            os.setegid(NOBODY)
            os.seteuid(NOBODY)

    yield become_nobody
    if root:
        os.seteuid(0)
        os.setegid(0)
    for folder, mode in modes:
        folder.chmod(mode)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"[study]\nname = 'combo'\n" * 100, "is damaged or is not a store"),
        (random.Random(1).randbytes(50_000), "is damaged or is not a store"),  # noqa: S311
        (b"SQLite format 3\0" + bytes(200), "is damaged or is not a store"),
        (b"S", "is damaged or is not a store"),
    ],
    ids=["empty", "text", "noise", "header-only", "one-byte"],
)
def test_what_is_no_store_is_refused_and_left_alone(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "studies.db"
    path.write_bytes(content)
    error = refused(path)
    assert isinstance(error, StorageError)
    assert says in error.message
    assert path.read_bytes() == content


def test_the_database_of_something_else_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE recipe (name TEXT)")
    connection.close()
    before = path.read_bytes()
    assert "something other than studies" in refused(path).message
    assert path.read_bytes() == before


def test_a_database_without_tables_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bare.db"
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 7")
    connection.close()
    assert "holds no studies" in refused(path).message


def test_a_store_cut_off_at_any_length_is_refused_and_left_alone(tmp_path: Path) -> None:
    whole = filled(tmp_path / "whole.db").read_bytes()
    lengths = random.Random(2).sample(range(1, len(whole)), 44)  # noqa: S311
    for place, length in enumerate([*lengths, 4096, 8192, 12288, 16384, len(whole) - 4096, len(whole) - 1]):
        path = tmp_path / f"cut-{place}.db"
        path.write_bytes(whole[:length])
        assert isinstance(refused(path), StorageError), length
        assert path.read_bytes() == whole[:length]


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert "is a folder" in refused(tmp_path).message


def test_a_device_is_refused() -> None:
    assert "is not a file" in refused(Path(os.devnull)).message


def test_a_missing_folder_is_not_made_for_a_place_that_was_named(tmp_path: Path) -> None:
    assert "no folder" in refused(tmp_path / "not-there" / "studies.db").message
    assert not (tmp_path / "not-there").exists()


def test_the_users_own_data_folder_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "fresh"))
    with open_store() as store:
        assert store.study_names() == ()
    assert list((tmp_path / "fresh").rglob("studies.db"))


def test_a_file_in_place_of_the_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("file")
    assert isinstance(refused(tmp_path / "a" / "studies.db"), StorageError)


def test_a_name_that_is_too_long_is_told(tmp_path: Path) -> None:
    assert isinstance(refused(tmp_path / ("n" * 300)), StorageError)


def test_a_missing_store_is_not_made_when_not_wanted(tmp_path: Path) -> None:
    assert "no store" in refused(tmp_path / "studies.db", create=False).message
    assert list(tmp_path.iterdir()) == []


def test_a_store_that_may_not_be_written_is_told(tmp_path: Path, as_nobody: Callable[[], None]) -> None:
    path = filled(tmp_path / "studies.db")
    path.chmod(0o444)
    before = path.read_bytes()
    as_nobody()
    assert "cannot be written" in refused(path).message
    assert path.read_bytes() == before


def test_a_folder_that_may_not_be_written_is_told(tmp_path: Path, as_nobody: Callable[[], None]) -> None:
    folder = tmp_path / "closed"
    folder.mkdir()
    folder.chmod(0o555)
    as_nobody()
    assert "cannot be written" in refused(folder / "studies.db").message
    assert list(folder.iterdir()) == []


def test_a_store_that_another_program_holds_is_told(tmp_path: Path) -> None:
    path = filled(tmp_path / "studies.db")
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_store(str(path), wait_s=0.2) as store:
        with pytest.raises(Busy, match="Another program"), store.writing():
            store.append("combo", Event("measured", {}, AT))
        other.execute("ROLLBACK")
        other.close()
        with store.writing():
            assert store.append("combo", Event("measured", {}, AT))[0].number == 42


def test_what_the_file_promises_is_switched_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Write-ahead log, synchronous FULL (2) and foreign keys, for every connection that may write."""
    opened: list[sqlite3.Connection] = []
    connect = sqlite3.connect

    def watched(*place: object, **options: object) -> sqlite3.Connection:
        opened.append(connect(*place, **options))  # type: ignore[call-overload]
        return opened[-1]

    path = filled(tmp_path / "studies.db")
    monkeypatch.setattr(sqlite3, "connect", watched)
    with open_store(str(path)) as store, store.writing():
        writer = opened[-1]
        found = [
            writer.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous", "foreign_keys")
        ]
    assert found == ["wal", 2, 1]


def test_a_reader_moves_nothing_from_the_log_into_the_file(tmp_path: Path) -> None:
    """As after a crash of the writer: the newest event stands in the log alone, and reading leaves it there."""
    path = filled(tmp_path / "studies.db")
    crashed = tmp_path / "crashed.db"
    with open_store(str(path)) as store, store.writing():
        store.append("combo", Event("measured", {}, AT))
        crashed.write_bytes(path.read_bytes())
        Path(f"{crashed}-wal").write_bytes(Path(f"{path}-wal").read_bytes())
    before, log = crashed.read_bytes(), Path(f"{crashed}-wal").read_bytes()
    with open_store(str(crashed)) as store:
        assert len(store.events("combo")) == 42
        assert crashed.read_bytes() == before
        assert Path(f"{crashed}-wal").read_bytes() == log
        with store.writing():
            assert store.append("combo", Event("measured", {}, AT))[0].number == 43
    assert not Path(f"{crashed}-wal").exists()


def test_a_store_at_rest_is_one_whole_file(tmp_path: Path) -> None:
    """What is copied while nobody uses the store is all there is."""
    path = filled(tmp_path / "studies.db")
    copy = tmp_path / "copy.db"
    copy.write_bytes(path.read_bytes())
    with open_store(str(copy)) as store:
        assert len(store.events("combo")) == 41


def test_two_names_for_one_file_share_a_lock(tmp_path: Path) -> None:
    path = filled(tmp_path / "studies.db")
    (tmp_path / "other").mkdir()
    link = tmp_path / "other" / "link.db"
    link.symlink_to(path)
    with open_store(str(link)) as store, store.writing():
        store.append("combo", Event("measured", {}, AT))
    assert sorted(entry.name for entry in (tmp_path / "other").iterdir()) == ["link.db"]


def test_leavings_of_a_making_that_was_cut_short_do_no_harm(tmp_path: Path) -> None:
    (tmp_path / ".studies.db.new").write_bytes(b"half a store")
    (tmp_path / ".studies.db.new-wal").write_bytes(b"half a log")
    filled(tmp_path / "studies.db")
    assert not [entry.name for entry in tmp_path.iterdir() if ".new" in entry.name]


def test_a_making_that_cannot_be_moved_into_place_leaves_no_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", failing)
        assert "no room left" in refused(tmp_path / "studies.db").message
    assert [entry.name for entry in tmp_path.iterdir()] == ["studies.db.lock"]
    filled(tmp_path / "studies.db")


def test_a_making_whose_log_was_not_written_back_leaves_no_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second reader keeps SQLite from emptying the log, as a disk would that fills up at that moment."""
    readers: list[sqlite3.Connection] = []

    def watched_upgrade(connection: Connection) -> None:
        upgrade(connection)
        readers.append(sqlite3.connect(tmp_path / ".studies.db.new"))
        readers[0].execute("SELECT count(*) FROM event").fetchone()

    with monkeypatch.context() as patch:
        patch.setattr(sqlite_file, "upgrade", watched_upgrade)
        assert "no room left" in refused(tmp_path / "studies.db").message
    readers[0].close()
    assert not (tmp_path / "studies.db").exists()
    filled(tmp_path / "studies.db")


def test_the_log_of_a_store_that_is_gone_is_never_played_into_a_new_one(tmp_path: Path) -> None:
    path = filled(tmp_path / "studies.db")
    with open_store(str(path)) as store, store.writing():
        store.append("combo", Event("measured", {}, AT))
        log = Path(f"{path}-wal").read_bytes()
    path.unlink()
    Path(f"{path}-wal").write_bytes(log)
    assert "log of a store that is gone" in refused(path).message
    assert Path(f"{path}-wal").read_bytes() == log
    assert not path.exists()
    Path(f"{path}-wal").unlink()
    with open_store(str(path)) as store:
        assert store.study_names() == ()
