"""What goes wrong in a database or on a disk, said in one line."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from sqlalchemy.exc import DBAPIError

from optimiser.errors import Busy, OptimiserError, StorageError

_WAIT_HINT: Final = "Let the other terminal or service finish, or close it, then try again."
_SPACE_HINT: Final = "Make room on the disk, then try again; everything stored before is safe."
_NO_SPACE: Final = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
_FIRST_BYTE: Final = 0xFF
"""SQLite puts the family of an error into the lowest byte of its code (its page on result codes)."""


@contextmanager
def told(shown: str) -> Iterator[None]:
    """Turn faults of the database and the disk into errors of ours; other errors pass.

    Args:
        shown: the store's name for people.

    Raises:
        Busy: somebody else holds the database.
        StorageError: everything else.
    """
    try:
        yield
    except DBAPIError as error:
        raise _of_database(error.orig or error, shown) from error
    except sqlite3.Error as error:
        raise _of_database(error, shown) from error
    except OSError as error:
        raise of_disk(error, shown) from error


def of_disk(error: OSError, shown: str) -> StorageError:
    """The error to raise for a fault of the file system."""
    if error.errno in _NO_SPACE:
        return StorageError(f"There is no room left for {shown}.", _SPACE_HINT)
    if isinstance(error, PermissionError) or error.errno == errno.EROFS:
        return unwritable(shown)
    why = error.strerror or type(error).__name__
    return StorageError(f"{shown} cannot be used: {why}.", "Check the disk and the path.")


def in_turn(shown: str, wait_s: float) -> Busy:
    """The error to raise when another writer did not finish in time."""
    return Busy(f"Another optimiser is writing to {shown} and did not finish in {wait_s:g} s.", _WAIT_HINT)


def unwritable(shown: str) -> StorageError:
    """The error to raise for a store that may not be written."""
    return StorageError(
        f"{shown} cannot be written.", "Allow writing to the file and its folder, or name another store."
    )


def damaged(shown: str) -> StorageError:
    """The error to raise for a file that is no store, or one no more."""
    return StorageError(
        f"{shown} is damaged or is not a store.",
        f"Nothing was changed. optimiser recover {shown} saves what can be read, or puts back the backup it is given.",
    )


def _of_database(error: BaseException, shown: str) -> OptimiserError:
    code = getattr(error, "sqlite_errorcode", None)
    if code is None and isinstance(error, sqlite3.OperationalError):
        return damaged(shown)
    if code is None:
        return _of_server(error, shown)
    family = code & _FIRST_BYTE
    if family in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
        return Busy(f"Another program is using {shown}.", _WAIT_HINT)
    if family in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}:
        return damaged(shown)
    if family in {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN}:
        return unwritable(shown)
    if family == sqlite3.SQLITE_FULL:
        return StorageError(f"There is no room left for {shown}.", _SPACE_HINT)
    if family == sqlite3.SQLITE_IOERR:
        return StorageError(f"The disk failed under {shown}; it may be full.", _SPACE_HINT)
    return StorageError(f"{shown} cannot be used: {_first_line(error)}.", "Check the database, then try again.")


def _of_server(error: BaseException, shown: str) -> StorageError:
    return StorageError(
        f"{shown} cannot be used: {_first_line(error)}.", "Check that the database server runs and lets you in."
    )


def _first_line(error: BaseException) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0].rstrip(".")
