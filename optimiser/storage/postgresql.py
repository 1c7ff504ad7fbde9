"""A store on a PostgreSQL server: the same tables, one writer by an advisory lock."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import create_engine, text
from sqlalchemy.exc import ArgumentError, DBAPIError

from optimiser.errors import BadUse, NoStore, StorageError
from optimiser.storage.faults import in_turn, told
from optimiser.storage.place import StorePlace
from optimiser.storage.safeguard import keep_before_steps
from optimiser.storage.schema import is_newest, stored_version, upgrade

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

_LOCK: Final = int.from_bytes(b"optimise", "big")
"""The advisory lock that stands for the right to write; locks are counted apart for each database."""

_LOCK_NOT_AVAILABLE: Final = "55P03"
"""What the server says when `lock_timeout` has run out (PostgreSQL's appendix on error codes)."""

_SIZE: Final = """
    SELECT coalesce(sum(pg_total_relation_size(oid)), 0) FROM pg_class
    WHERE relkind = 'r' AND relnamespace = current_schema()::regnamespace
"""


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
            raise NoStore(f"There is no store at {self._place.shown}.", "Start a study there, or name another store.")
        if not is_newest(version):
            self._upgrade()

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

    def snapshot(self, draft: Path) -> None:
        """Write everything committed, as it stood at one moment, into a fresh SQLite file, and sync it."""
        from optimiser.storage.copying import write_ledger

        with self.reading() as connection, told(self._place.shown), connection.begin():
            connection.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"))
            write_ledger(connection, draft, self._place.shown)

    def size_bytes(self) -> int:
        """How large the tables are on the server; a file is smaller."""
        with self.reading() as connection, told(self._place.shown), connection.begin():
            return int(connection.execute(text(_SIZE)).scalar_one())

    def facts(self) -> dict[str, str]:
        """Version of the server."""
        with self.reading() as connection, told(self._place.shown), connection.begin():
            schema = stored_version(connection, self._place.shown) or ""
            version = connection.execute(text("SHOW server_version")).scalar_one()
        return {"schema": schema, "engine": f"PostgreSQL {version}"}

    def integrity_faults(self) -> list[str]:
        """None: a server sees to its own pages, and refuses rows that do not fit."""
        return []

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    def _upgrade(self) -> None:
        """Bring the database to the newest schema, when a verified copy of it lies beside the recordings."""
        with self.writing() as connection, told(self._place.shown):
            with connection.begin():
                version = stored_version(connection, self._place.shown)
            if is_newest(version):
                return
            if version is not None:
                self._place.audio.parent.mkdir(parents=True, exist_ok=True)
                beside = self._place.audio.with_name(f"{self._engine.url.database or 'store'}.db")
                keep_before_steps(beside, version, self.size_bytes(), self.snapshot)
            upgrade(connection)

    @contextmanager
    def _opened(self) -> "Iterator[Connection]":
        with told(self._place.shown):
            connection = self._engine.connect()
        with connection:
            yield connection

    def _wait_for_turn(self, connection: "Connection") -> None:
        """The server lets waiting writers in by the order in which they came."""
        wait_ms = max(1, round(self._wait_s * 1000))
        try:
            with connection.begin():
                connection.execute(text(f"SET LOCAL lock_timeout = {wait_ms}"))
                connection.execute(text("SELECT pg_advisory_lock(:lock)"), {"lock": _LOCK})
        except DBAPIError as error:
            if getattr(error.orig, "sqlstate", "") != _LOCK_NOT_AVAILABLE:
                raise
            raise in_turn(self._place.shown, self._wait_s) from error


def _release(connection: "Connection") -> None:
    """Give the lock back; a connection that broke has lost it already and is thrown away."""
    try:
        with connection.begin():
            connection.execute(text("SELECT pg_advisory_unlock(:lock)"), {"lock": _LOCK})
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
