"""Who may read and who may write, within one process and over all of them."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from optimiser.storage.database import Database
from optimiser.storage.faults import told

if TYPE_CHECKING:
    from sqlalchemy import Connection


class Connections:
    """Hands out connections; a thread that holds the right to write also reads through its writing connection.

    Attributes:
        database: where they lead to.
    """

    def __init__(self, database: Database, shown: str) -> None:
        self.database = database
        self._shown = shown
        self._own = threading.local()

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the right to write; held already by this thread, it is kept.

        Raises:
            Busy: somebody else holds it for too long.
        """
        if self._writer() is not None:
            yield
            return
        with self.database.writing() as connection:
            self._own.writer = connection
            try:
                yield
            finally:
                self._own.writer = None

    @contextmanager
    def transaction(self) -> "Iterator[Connection]":
        """All of what is done within, or nothing; durable when left.

        Raises:
            RuntimeError: this thread does not hold the right to write.
        """
        writer = self._writer()
        if writer is None:
            raise RuntimeError("the store is written to outside of Store.writing()")
        with told(self._shown), writer.begin():
            yield writer

    @contextmanager
    def reading(self) -> "Iterator[Connection]":
        """One view of everything committed."""
        writer = self._writer()
        if writer is not None:
            with told(self._shown), writer.begin():
                yield writer
            return
        with self.database.reading() as connection, told(self._shown), connection.begin():
            yield connection

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    def _writer(self) -> "Connection | None":
        return getattr(self._own, "writer", None)
