"""What the ledger needs of a database, whichever it is."""

from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Protocol

from optimiser.storage.place import StorePlace

if TYPE_CHECKING:
    from sqlalchemy import Connection


class Database(Protocol):
    """Connections to one database, with its faults told as ours."""

    def prepare(self, *, create: bool) -> None:
        """See that the database is there, is ours, and has the newest schema."""

    def reading(self) -> "AbstractContextManager[Connection]":
        """A connection that sees everything committed and blocks nobody."""

    def writing(self) -> "AbstractContextManager[Connection]":
        """The one connection, over all processes, that may write."""

    def close(self) -> None:
        """Let go of everything."""


def database_at(place: StorePlace, wait_s: float) -> Database:
    """The database at a place; `wait_s` is how long, in seconds, a writer waits for its turn."""
    if place.file is None:
        from optimiser.storage.postgresql import PostgresqlDatabase

        return PostgresqlDatabase(place, wait_s)
    from optimiser.storage.sqlite_file import SqliteFile

    return SqliteFile(place, place.file, wait_s)
