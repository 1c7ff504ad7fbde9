"""A store put back from a backup, or from what can be read of a damaged one.

The file is copied before anything looks at it, and what lies in the store's place is moved aside, never removed.
"""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from optimiser.errors import BadUse, NotFound, StorageError
from optimiser.storage.census import StudyCensus, census
from optimiser.storage.faults import damaged, told
from optimiser.storage.file_systems import refuse_share
from optimiser.storage.folders import need_room, sync_file, sync_folder
from optimiser.storage.lock import locked
from optimiser.storage.place import StorePlace, place_of
from optimiser.storage.salvage import Salvage, salvaged
from optimiser.storage.schema import stored_version
from optimiser.storage.snapshot import draft_beside, integrity_faults, side_files, still_engine, verified

WORK_FOLDER: Final = ".recovering-"
"""How the name of a folder begins in which a file is looked at."""

_WAIT_S: Final = 10.0
"""Seconds to wait for whoever writes to the store in whose place the recovered one goes (as for any writer)."""


@dataclass(frozen=True)
class Source:
    """What there is to recover from.

    Attributes:
        ledger: a file to be put into the store's place: a copy of the backup when that is whole; otherwise not there
            yet, and to be built from `salvage`.
        audio: the folder of recordings that belongs to the file.
        salvage: what could be read of a damaged file, None for a whole one.
    """

    ledger: Path
    audio: Path
    salvage: Salvage | None


@contextmanager
def opened_source(file: Path, place: StorePlace) -> Iterator[Source]:
    """Look at a backup or a damaged store without touching it.

    Raises:
        NotFound: no such file.
        BadUse: a folder.
        StorageError: no room for a copy, a file from a newer optimiser, or one in which nothing of a store can be read.
        Busy: somebody else is writing to it.
    """
    if not file.exists():
        raise NotFound(f"There is no file {file}.", "Name a file that optimiser backup wrote, or a damaged store.")
    if not file.is_file():
        raise BadUse(f"{file} is not a file.", "Name a file that optimiser backup wrote, or a damaged store.")
    beside = (place.file or place.audio).parent
    if place.makes_folder or place.file is None:
        beside.mkdir(parents=True, exist_ok=True)
    if not beside.is_dir():
        raise StorageError(f"There is no folder {beside}.", "Make it first, or name another place for the store.")
    if place.file is not None:
        refuse_share(place.file)
    source = place_of(str(file), own=Path())
    with told(str(beside)):
        need_room(beside, 3 * file.stat().st_size, f"a copy of {file}")
        work = Path(tempfile.mkdtemp(prefix=WORK_FOLDER, dir=beside))
    try:
        with told(str(file)):
            copy = _copied(source.file or file, work)
            salvage = None if _is_whole(copy, str(file)) else _salvaged(work, str(file))
        ledger = work / "whole.db"
        if salvage is None:
            with told(str(beside)):
                os.replace(copy, ledger)
        yield Source(ledger, source.audio, salvage)
    finally:
        shutil.rmtree(work, ignore_errors=True)


def put_ledger(ledger: Path, place: StorePlace, aside: str) -> Path | None:
    """Verify a ledger and put it into a store's place; what lies there is moved aside first.

    Args:
        ledger: a file that nobody uses, in the folder of the store.
        place: the store's, on a disk.
        aside: what is added to the name of the file that lies there.

    Returns:
        Where that file is now, None if there was none.

    Raises:
        StorageError: the ledger is not whole; nothing was changed.
        Busy: somebody else is writing to the store.
    """
    assert place.file is not None  # noqa: S101
    with locked(place.file, place.shown, _WAIT_S), told(place.shown):
        _settle(ledger)
        if Path(f"{ledger}-wal").exists():
            raise StorageError(f"The log of {ledger} could not be written back.", "Make room on the disk, try again.")
        verified(ledger, str(ledger))
        sync_file(ledger)
        if _has_log_of_its_own(place.file, ledger.parent):
            _settle(place.file)
        moved = _set_aside(place.file, aside)
        os.replace(ledger, place.file)
        sync_folder(place.file.parent)
    return moved


def contents(file: Path) -> tuple[StudyCensus, ...]:
    """What a file that nobody uses holds, as far as it can be told; nothing if it cannot."""
    with suppress(StorageError), told(str(file)), still_engine(file).connect() as connection:
        return census(connection, str(file))
    return ()


def _copied(file: Path, work: Path) -> Path:
    """Copy a database with its log, for SQLite to be let loose on, and once more to be read as bytes."""
    lock = Path(f"{file}.lock")
    with locked(file, str(file), _WAIT_S) if lock.exists() else nullcontext():
        for name in ("read.db", "bytes.db"):
            shutil.copyfile(file, work / name)
            if Path(f"{file}-wal").exists():
                shutil.copyfile(f"{file}-wal", work / f"{name}-wal")
    return work / "read.db"


def _is_whole(copy: Path, shown: str) -> bool:
    """Whether a database is sound and none of its events is missing, when its log has been played into it.

    Raises:
        StorageError: a sound database that is no store, or one from a newer optimiser.
    """
    try:
        with closing(sqlite3.connect(copy, isolation_level=None)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            if integrity_faults(connection):
                return False
    except sqlite3.Error:
        return False
    with still_engine(copy).connect() as connection:
        if stored_version(connection, shown) is None:
            raise StorageError(f"{shown} holds no studies.", "Name a file that optimiser backup wrote.")
        return not any(study.faults for study in census(connection, shown))


def _salvaged(work: Path, shown: str) -> Salvage:
    log = work / "bytes.db-wal"
    found = salvaged((work / "bytes.db").read_bytes(), log.read_bytes() if log.exists() else b"")
    if not found.studies:
        error = damaged(shown)
        raise StorageError(error.message, "Nothing of a store can be read in it. Name another file.")
    return found


def _set_aside(file: Path, aside: str) -> Path | None:
    """Give what lies in a store's place another name, with the log that belongs to it."""
    moved = _free_name(file.with_name(f"{file.name}.{aside}"))
    there = os.path.lexists(file)
    if there:
        try:
            with draft_beside(moved) as draft:
                shutil.copyfile(file, draft)
                sync_file(draft)
                os.replace(draft, moved)
        except OSError:  # no room for two, or a disk that cannot be read any more
            os.replace(file, moved)
    for side, new in zip(side_files(file), side_files(moved), strict=True):
        with suppress(FileNotFoundError):
            if os.path.getsize(side) and not side.endswith("-shm"):
                os.replace(side, new)
            else:  # an index of the log, which SQLite makes anew, or an empty log
                os.unlink(side)
    return moved if there else None


def _settle(file: Path) -> None:
    """Let SQLite write back the log of a database, so that it is one file."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(f"{file.as_uri()}?mode=rw", uri=True)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _has_log_of_its_own(file: Path, work: Path) -> bool:
    """Whether a file is a sound store with a log, as a copy shows; SQLite removes a log that it cannot use."""
    log, copy = Path(f"{file}-wal"), work / "old.db"
    if not (file.is_file() and log.is_file() and log.stat().st_size):
        return False
    try:
        shutil.copyfile(file, copy)
        shutil.copyfile(log, f"{copy}-wal")
        with closing(sqlite3.connect(copy, isolation_level=None)) as connection:
            connection.execute("SELECT count(*) FROM event")
            return not integrity_faults(connection)
    except (sqlite3.Error, OSError):
        return False


def _free_name(wanted: Path) -> Path:
    names = (wanted if turn == 1 else wanted.with_name(f"{wanted.name}.{turn}") for turn in range(1, 1000))
    return next(name for name in names if not os.path.lexists(name))
