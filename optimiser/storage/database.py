"""What the ledger needs of a database, whichever it is."""

from contextlib import AbstractContextManager
from pathlib import Path
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

    def snapshot(self, draft: Path) -> None:
        """Write everything committed, as it stood at one moment, into a fresh SQLite file, and sync it."""

    def size_bytes(self) -> int:
        """About how large such a file is."""

    def facts(self) -> dict[str, str]:
        """What it runs on, for the one who looks for a fault."""

    def integrity_faults(self) -> list[str]:
        """What the database itself finds wrong with its pages and rows, in its own words."""

    def close(self) -> None:
        """Let go of everything."""


def database_at(place: StorePlace, wait_s: float) -> Database:
    """The database at a place; `wait_s` is how long, in seconds, a writer waits for its turn."""
    if place.file is None:
        from optimiser.storage.postgresql import PostgresqlDatabase

        return PostgresqlDatabase(place, wait_s)
    from optimiser.storage.sqlite_file import SqliteFile

    return SqliteFile(place, place.file, wait_s)
