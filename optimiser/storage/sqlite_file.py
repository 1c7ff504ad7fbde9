"""A store in one SQLite file: one writer over all processes, readers that block nobody.

Write-ahead log with synchronous FULL: what was committed outlives a power cut (SQLite's pages on write-ahead
logging and on synchronous). SQLite up to 3.51.2 has a rare race between two connections that write or checkpoint at
once, so every connection that could do either lives within the lock, and readers are opened read-only, which never
checkpoint.
"""

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import create_engine, event
from sqlalchemy.pool import NullPool

from optimiser.errors import NoStore, StorageError
from optimiser.storage.faults import damaged, told, unwritable
from optimiser.storage.file_systems import refuse_share
from optimiser.storage.folders import sync_folder
from optimiser.storage.lock import locked
from optimiser.storage.place import StorePlace
from optimiser.storage.safeguard import keep_before_steps
from optimiser.storage.schema import is_newest, stored_version, upgrade
from optimiser.storage.snapshot import copy_of_live, integrity_faults, remove_database

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

_RACE_MENDED: Final = (3, 51, 3)
"""The SQLite that can no more damage a database when two connections write or checkpoint at once (its change log)."""

_DURABLE: Final = ("journal_mode=WAL", "synchronous=FULL", "fullfsync=ON", "foreign_keys=ON")


class SqliteFile:
    """The database of a store that lies in a file."""

    def __init__(self, place: StorePlace, file: Path, wait_s: float) -> None:
        self._place = place
        self._file = file
        self._wait_s = wait_s
        self._reader = _engine(file, "ro", wait_s)
        self._writer = _engine(file, "rw", wait_s, begin="BEGIN IMMEDIATE", pragmas=_DURABLE)

    def prepare(self, *, create: bool) -> None:
        """See that the file is there, is ours, and has the newest schema.

        Raises:
            StorageError: what is wrong with it; the file is as it was.
            Busy: somebody else is making or upgrading it.
        """
        refuse_share(self._file)
        with told(self._place.shown):
            if create and not os.path.lexists(self._file):
                self._make()
            self._check()
        with self.reading() as connection, told(self._place.shown):
            version = self._version(connection)
        if not is_newest(version):
            self._upgrade()

    @contextmanager
    def reading(self) -> "Iterator[Connection]":
        """A connection that sees everything committed and blocks nobody."""
        with _opened(self._reader, self._place.shown) as connection:
            yield connection

    @contextmanager
    def writing(self) -> "Iterator[Connection]":
        """The one connection, over all processes, that may write.

        Raises:
            Busy: another process had not finished after `wait_s` seconds.
        """
        with (
            locked(self._file, self._place.shown, self._wait_s),
            _opened(self._writer, self._place.shown) as connection,
        ):
            yield connection

    def snapshot(self, draft: Path) -> None:
        """Write everything committed, as it stood at one moment, into a fresh file, and sync it."""
        with told(self._place.shown):
            copy_of_live(self._file, draft)

    def size_bytes(self) -> int:
        """How large the file and its log are."""
        with told(self._place.shown):
            return sum(file.stat().st_size for file in (self._file, Path(f"{self._file}-wal")) if file.exists())

    def facts(self) -> dict[str, str]:
        """Version of SQLite, and whether it still has the race that the lock keeps from happening."""
        race = "no" if sqlite3.sqlite_version_info >= _RACE_MENDED else "yes, kept from happening by the store's lock"
        with self.reading() as connection:
            version = self._version(connection)
        return {"schema": version, "engine": f"SQLite {sqlite3.sqlite_version}", "wal_reset_race": race}

    def integrity_faults(self) -> list[str]:
        """What SQLite finds wrong with pages, rows and references, in its own words."""
        with self.reading() as connection, told(self._place.shown):
            driver = connection.connection.driver_connection
            return integrity_faults(driver) if isinstance(driver, sqlite3.Connection) else []

    def close(self) -> None:
        """Nothing stays open between two uses."""
        self._reader.dispose()
        self._writer.dispose()

    def _upgrade(self) -> None:
        """Bring the file to the newest schema, when a verified copy of it lies beside it."""
        with self.writing() as connection, told(self._place.shown):
            with connection.begin():
                version = self._version(connection)
            if not is_newest(version):
                keep_before_steps(self._file, version, self.size_bytes(), self.snapshot)
                upgrade(connection)

    def _make(self) -> None:
        """Build the file under another name and move it into place, so that there is never half a store."""
        folder = self._file.parent
        if self._place.makes_folder:
            folder.mkdir(parents=True, exist_ok=True)
        if not folder.is_dir():
            raise StorageError(f"There is no folder {folder}.", "Make it first, or name another place for the store.")
        if not _may_write(folder):
            raise unwritable(self._place.shown)
        draft = self._file.with_name(f".{self._file.name}.new")
        with locked(self._file, self._place.shown, self._wait_s):
            if os.path.lexists(self._file):
                return
            _refuse_orphan_log(self._file)
            try:
                _build(draft, self._wait_s)
                os.replace(draft, self._file)
            finally:
                remove_database(draft)
            sync_folder(folder)

    def _check(self) -> None:
        shown = self._place.shown
        if not os.path.lexists(self._file):
            raise NoStore(f"There is no store at {shown}.", "Start a study there, or name another store.")
        if self._file.is_dir():
            raise StorageError(f"{shown} is a folder.", f"Name a file in it, such as {self._file / 'studies.db'}.")
        if not self._file.is_file():
            raise StorageError(f"{shown} is not a file.", "Name another place for the store.")
        if self._file.stat().st_size == 0:
            raise StorageError(
                f"{shown} is empty.", "Delete it if nothing was in it, or put back a backup; it was not touched."
            )
        if not (_may_write(self._file) and _may_write(self._file.parent)):
            raise unwritable(shown)

    def _version(self, connection: "Connection") -> str:
        shown = self._place.shown
        page_bytes = connection.exec_driver_sql("PRAGMA page_size").scalar_one()
        log = Path(f"{self._file}-wal")
        if self._file.stat().st_size % page_bytes and not (log.exists() and log.stat().st_size):
            raise damaged(shown)
        version = stored_version(connection, shown)
        if version is None:
            raise StorageError(f"{shown} holds no studies.", "Name another place for the store.")
        return version


def _engine(file: Path, mode: str, wait_s: float, begin: str = "BEGIN", pragmas: tuple[str, ...] = ()) -> "Engine":
    """Connections that are opened for one use; the driver leaves transactions to us."""
    address = f"{file.as_uri()}?mode={mode}"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(address, uri=True, timeout=wait_s, isolation_level=None, check_same_thread=False)
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}")
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)

    @event.listens_for(engine, "begin")
    def _begin(connection: "Connection") -> None:
        connection.exec_driver_sql(begin)

    return engine


@contextmanager
def _opened(engine: "Engine", shown: str) -> "Iterator[Connection]":
    with told(shown):
        connection = engine.connect()
    with connection:
        yield connection


def _build(draft: Path, wait_s: float) -> None:
    remove_database(draft)
    engine = _engine(draft, "rwc", wait_s, begin="BEGIN IMMEDIATE", pragmas=_DURABLE)
    with engine.connect() as connection:
        upgrade(connection)
    if os.path.lexists(f"{draft}-wal"):
        raise OSError(errno.ENOSPC, "the log could not be written back")


def _refuse_orphan_log(file: Path) -> None:
    """SQLite would play the log of a store that is gone into the new one, and it may be all that is left of the old."""
    for log in (Path(f"{file}-wal"), Path(f"{file}-journal")):
        if log.exists() and log.stat().st_size:
            hint = f"Put {file.name} back beside it, or move the log away."
            raise StorageError(f"{log} is the log of a store that is gone.", hint)


def _may_write(path: Path) -> bool:
    """Asks without opening: closing a second handle to the file would drop SQLite's locks (its page on corruption)."""
    return os.access(path, os.W_OK | os.R_OK, effective_ids=os.access in os.supports_effective_ids)
