"""A store's ledger as one SQLite file, written beside its place, verified, and only then put there."""

import os
import re
import secrets
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import create_engine, event
from sqlalchemy.pool import NullPool

from optimiser.errors import BadUse, StorageError
from optimiser.storage.census import StudyCensus, census, whole
from optimiser.storage.faults import damaged, told
from optimiser.storage.folders import sync_file, sync_folder
from optimiser.storage.shelf import LEFT_BEHIND_S

if TYPE_CHECKING:
    from sqlalchemy import Engine

DRAFT: Final = re.compile(r"\..+\.[0-9a-f]{16}\.new")
"""What a file on its way to its place is called."""

_LARGEST_FAULTS: Final = 3
"""Lines of SQLite's report that are shown (a choice, no source)."""


def copy_of_live(file: Path, draft: Path) -> None:
    """Copy a database that may be in use, as it stood at one moment, by SQLite's own backup call.

    All pages are read in one transaction, which blocks nobody. The copy is written without SQLite's locks and journal:
    nobody else knows its name, and it is synced and verified before it counts.
    """
    address = f"{draft.as_uri()}?mode=rwc&nolock=1"
    with (
        closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as source,
        closing(sqlite3.connect(address, uri=True, isolation_level=None)) as target,
    ):
        target.execute("PRAGMA journal_mode=OFF")
        target.execute("PRAGMA synchronous=OFF")
        source.backup(target)
    sync_file(draft)


def fresh_engine(draft: Path) -> "Engine":
    """Connections that write a new file under a name that nobody else knows, without SQLite's locks and journal."""
    return _plain_engine(f"{draft.as_uri()}?mode=rwc&nolock=1", "PRAGMA journal_mode=OFF", "PRAGMA synchronous=OFF")


def still_engine(file: Path) -> "Engine":
    """Connections that read a file which nobody writes, and leave nothing beside it."""
    return _plain_engine(f"{file.as_uri()}?mode=ro&immutable=1")


def _plain_engine(address: str, *pragmas: str) -> "Engine":
    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(address, uri=True, isolation_level=None, check_same_thread=False)
        for pragma in pragmas:
            connection.execute(pragma)
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
    return engine


def integrity_faults(connection: "sqlite3.Connection") -> list[str]:
    """What SQLite itself finds wrong with a database, in its own words; empty when nothing is."""
    found = [row[0] for row in connection.execute(f"PRAGMA integrity_check({_LARGEST_FAULTS})")]
    strays = connection.execute("PRAGMA foreign_key_check").fetchmany(_LARGEST_FAULTS)
    return [line for text in found if text != "ok" for line in text.splitlines()] + [
        f"row {stray[1]} of {stray[0]} belongs to nothing" for stray in strays
    ]


def verified(file: Path, shown: str) -> tuple[StudyCensus, ...]:
    """What a file that nobody writes holds, when it is whole: every page, every row, every event, every number.

    Raises:
        StorageError: it is no store, or not a whole one.
    """
    from optimiser.storage.schema import stored_version

    engine = still_engine(file)
    with told(shown), engine.connect() as connection:
        driver = connection.connection.driver_connection
        if not isinstance(driver, sqlite3.Connection) or integrity_faults(driver):
            raise damaged(shown)
        if stored_version(connection, shown) is None:
            raise StorageError(f"{shown} holds no studies.", "Name a file that optimiser backup wrote.")
        return whole(census(connection, shown), shown)


@contextmanager
def draft_beside(target: Path) -> Iterator[Path]:
    """A name in the same folder for a file on its way to its place; whatever is left under it is removed.

    So is, after some time, what an earlier one left that was killed on the way to the same place.
    """
    for left in drafts_left(target.parent, target.name):
        remove_database(left)
    draft = target.with_name(f".{target.name}.{secrets.token_hex(8)}.new")
    try:
        yield draft
    finally:
        remove_database(draft)


def drafts_left(folder: Path, name: str = "") -> list[Path]:
    """Files that were killed on the way to their places in a folder, or to one place there, some time ago."""
    before = time.time() - LEFT_BEHIND_S
    found = (path for path in folder.glob(".*.new") if DRAFT.fullmatch(path.name))
    return [path for path in sorted(found) if path.name.startswith(f".{name}") and path.stat().st_mtime < before]


def put_in_place(draft: Path, target: Path, *, replace: bool) -> None:
    """Give a synced file its name; one that is there already is only replaced when that is wanted.

    Raises:
        BadUse: there is a file of that name.
    """
    if replace:
        for name in side_files(target):
            with suppress(FileNotFoundError):
                os.unlink(name)
        os.replace(draft, target)
    else:
        try:
            os.link(draft, target)
        except FileExistsError:
            raise taken(target) from None
        except OSError:  # a file system without hard links, as on many memory sticks
            if os.path.lexists(target):
                raise taken(target) from None
            os.rename(draft, target)
    sync_folder(target.parent)


def is_in_use(file: Path) -> bool:
    """Whether something was written to a database that is not in its file yet."""
    log, _, journal = side_files(file)
    return any(os.path.exists(name) and os.path.getsize(name) for name in (log, journal))


def taken(target: Path) -> BadUse:
    """The error to raise for a name that is in use."""
    return BadUse(f"There is a file {target} already.", "Give another name, or replace that one with --replace.")


def remove_database(file: Path) -> None:
    """Remove a database that nobody uses, with all that SQLite may have laid beside it."""
    for name in (str(file), *side_files(file)):
        with suppress(FileNotFoundError):
            os.unlink(name)


def side_files(file: Path) -> tuple[str, ...]:
    """What SQLite lays beside a database (its page on temporary files)."""
    return (f"{file}-wal", f"{file}-shm", f"{file}-journal")
