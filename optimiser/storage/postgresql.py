"""A store on a PostgreSQL server: the same tables, one writer by an advisory lock."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from sqlalchemy import create_engine, text
from sqlalchemy.exc import ArgumentError, DBAPIError

from optimiser.errors import BadUse, StorageError
from optimiser.storage.faults import in_turn, told
from optimiser.storage.place import StorePlace
from optimiser.storage.schema import NEWEST, stored_version, upgrade

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

_LOCK: Final = int.from_bytes(b"optimise", "big")
"""The advisory lock that stands for the right to write; locks are counted apart for each database."""

_POLL_S: Final = 0.01
"""Seconds between two looks at the lock; a write takes about that long (no source)."""


class PostgresqlDatabase:
    """The database of a store that lies on a server."""

    def __init__(self, place: StorePlace, wait_s: float) -> None:
        self._place = place
        self._wait_s = wait_s
        self._engine = _engine(place)

    def prepare(self, *, create: bool) -> None:
        """See that the database is there, is ours, and has the newest schema.

        Raises:
            StorageError: what is wrong with it; it is as it was.
            Busy: somebody else is making or upgrading it.
        """
        with self.reading() as connection, told(self._place.shown):
            version = stored_version(connection, self._place.shown)
        if version is None and not create:
            raise StorageError(
                f"There is no store at {self._place.shown}.", "Start a study there, or name another store."
            )
        if version != NEWEST:
            with self.writing() as connection, told(self._place.shown):
                upgrade(connection)

    @contextmanager
    def reading(self) -> "Iterator[Connection]":
        """A connection that sees everything committed and blocks nobody."""
        with self._opened() as connection:
            yield connection

    @contextmanager
    def writing(self) -> "Iterator[Connection]":
        """The one connection, over all processes and machines, that may write.

        Raises:
            Busy: another writer had not finished after `wait_s` seconds.
        """
        with self._opened() as connection:
            with told(self._place.shown):
                self._wait_for_turn(connection)
            try:
                yield connection
            finally:
                _release(connection)

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    @contextmanager
    def _opened(self) -> "Iterator[Connection]":
        with told(self._place.shown):
            connection = self._engine.connect()
        with connection:
            yield connection

    def _wait_for_turn(self, connection: "Connection") -> None:
        deadline = time.monotonic() + self._wait_s
        while not _locked(connection, "pg_try_advisory_lock"):
            if time.monotonic() >= deadline:
                raise in_turn(self._place.shown, self._wait_s)
            time.sleep(_POLL_S)


def _locked(connection: "Connection", function: str) -> bool:
    with connection.begin():
        return bool(connection.execute(text(f"SELECT {function}(:lock)"), {"lock": _LOCK}).scalar())


def _release(connection: "Connection") -> None:
    """Give the lock back; a connection that broke has lost it already and is thrown away."""
    try:
        _locked(connection, "pg_advisory_unlock")
    except DBAPIError:
        connection.invalidate()


def _engine(place: StorePlace) -> "Engine":
    try:
        return create_engine(place.url, pool_pre_ping=True)
    except ModuleNotFoundError as error:
        message = f"{place.shown} needs the PostgreSQL driver, which is not installed."
        raise StorageError(message, "Install optimiser with its extra: optimiser[postgres].") from error
    except (ArgumentError, ValueError) as error:
        hint = "Write postgresql+psycopg://USER@HOST/DATABASE."
        raise BadUse(f"{place.shown} is not a database URL.", hint) from error
