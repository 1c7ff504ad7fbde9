"""The store's front: events of studies in order, one writer at a time.

The database library takes a good part of a second to load, so only what opens or uses a store loads it.
"""

from contextlib import AbstractContextManager
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Self

from optimiser.errors import BadUse, NotFound
from optimiser.storage.audio_store import AudioStore
from optimiser.storage.blind_tests import BlindTestTable
from optimiser.storage.jobs import JobTable
from optimiser.storage.sessions import SessionTable
from optimiser.storage.uploads import UploadFolder
from optimiser.study import Event

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from optimiser.storage.census import StudyCensus
    from optimiser.storage.connections import Connections
    from optimiser.storage.place import StorePlace
    from optimiser.storage.rows import Change


def open_store(
    url: str | None = None, *, audio: Path | None = None, create: bool = True, wait_s: float = 10.0
) -> "Store":
    """Open a store, making it or bringing it to the newest schema first.

    Args:
        url: database URL or path of an SQLite file; None for the configured one.
        audio: folder of recordings; None for the configured one, or the one beside the database.
        create: whether a store that is not there is made.
        wait_s: how long, in seconds, to wait for another writer.

    Raises:
        BadUse: no store can lie at that URL.
        StorageError: what lies there is no store, is damaged, too new, missing or unwritable; it stays as it is.
        Busy: another process is making or upgrading it.
    """
    from optimiser.storage.connections import Connections
    from optimiser.storage.database import database_at
    from optimiser.storage.place import configured

    place = configured(url, audio)
    database = database_at(place, wait_s)
    try:
        database.prepare(create=create)
    except BaseException:
        database.close()
        raise
    return Store(place, Connections(database, place.shown))


class Store:
    """An open store; a context manager that closes it.

    Attributes:
        site: where it lies.
        audio: the recordings.
        uploads: files on their way in.
        jobs: long runs that wait for a worker.
        sessions: devices that may use the service.
        blind_tests: blind tests that are going on.
    """

    def __init__(self, place: "StorePlace", connections: "Connections") -> None:
        self.site = place
        self.audio = AudioStore(place.audio, connections)
        self._shown = place.shown
        self._connections = connections
        self.uploads = UploadFolder(place.audio / "uploads")
        self.jobs = JobTable(connections)
        self.sessions = SessionTable(connections)
        self.blind_tests = BlindTestTable(connections)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database; what was stored is on the disk already."""
        self._connections.close()

    @property
    def connections(self) -> "Connections":
        """The way to the database itself, for this room alone."""
        return self._connections

    def writing(self) -> AbstractContextManager[None]:
        """Hold the one right to write, over all processes, so that what was read stays true until it is acted upon.

        A thread that holds it already keeps it. Each `start` and `append` within is a transaction of its own.

        Raises:
            Busy: somebody else held it for longer than the store waits.
        """
        return self._connections.writing()

    def census(self) -> "tuple[StudyCensus, ...]":
        """Every study, counted and summed, the oldest first."""
        from optimiser.storage.census import census

        with self._connections.reading() as connection:
            return census(connection, self._shown)

    def facts(self) -> dict[str, str]:
        """Schema and engine of the database, for the one who looks for a fault."""
        return self._connections.database.facts()

    def study_names(self) -> tuple[str, ...]:
        """Names of all studies, the oldest first."""
        from optimiser.storage.queries import study_names

        with self._connections.reading() as connection:
            return study_names(connection)

    def events(self, study: str) -> tuple[Event, ...]:
        """Everything that happened in a study, numbered from 1 in order.

        Raises:
            NotFound: no such study.
        """
        from optimiser.storage.queries import events

        with self._connections.reading() as connection:
            return events(connection, self._row(connection, study), self._shown)

    def changes(self, after: int = 0, most: int = 100) -> "tuple[Change, ...]":
        """What happened in all studies after one place in the order of all events, at most so many."""
        from optimiser.storage.queries import changes

        with self._connections.reading() as connection:
            return changes(connection, after, most)

    def place(self) -> int:
        """The newest place in the order of all events, 0 when nothing happened yet."""
        from optimiser.storage.queries import last_place

        with self._connections.reading() as connection:
            return last_place(connection)

    def newest(self, study: str) -> int:
        """Number of the newest event of a study.

        Raises:
            NotFound: no such study.
        """
        from optimiser.storage.queries import last_number

        with self._connections.reading() as connection:
            return last_number(connection, self._row(connection, study))

    def start(self, study: str, event: Event) -> Event:
        """Add a study with its first event, both or neither; durable on return.

        The same event key for the same study again gives the event that is stored.

        Raises:
            BadUse: there is a study of that name.
            BadInput: a name or event that cannot be kept.
            Busy: somebody else held the right to write for too long.
        """
        from optimiser.storage.queries import add_events, add_study, event_with_key, study_id
        from optimiser.storage.rows import storable

        name, key = storable(study, "name"), storable(event.key, "key")
        with self.writing(), self._connections.transaction() as connection:
            row = study_id(connection, name)
            if row is None:
                row = add_study(connection, name, storable(event.at, "time"))
                return add_events(connection, row, (event,), self._shown)[0]
            known = event_with_key(connection, row, key, self._shown) if key else None
        if known is None:
            raise BadUse(f"There is a study called {study!r} already.", "Give the new one another name.")
        return known

    def append(self, study: str, *events: Event) -> tuple[Event, ...]:
        """Add events in order, all or none; durable on return. Only within `writing()`.

        An event whose key the study knows already is not added again; the stored one takes its place in the answer.

        Returns:
            The events as stored, with their numbers.

        Raises:
            NotFound: no such study.
            BadInput: an event that cannot be kept.
            StorageError: the disk or the database failed; nothing was added.
            RuntimeError: this thread does not hold the right to write.
        """
        from optimiser.storage.queries import add_events

        with self._connections.transaction() as connection:
            return add_events(connection, self._row(connection, study), events, self._shown)

    def _row(self, connection: "Connection", study: str) -> int:
        from optimiser.storage.queries import study_id, study_names
        from optimiser.storage.rows import is_storable

        row = study_id(connection, study) if is_storable(study) else None
        if row is None:
            raise NotFound(f"There is no study called {study!r}.", _near(study, study_names(connection)))
        return row


def _near(wanted: str, names: tuple[str, ...]) -> str:
    if not names:
        return "Start one with optimiser start SHEET.toml."
    near = get_close_matches(wanted.lower(), names) or get_close_matches(wanted, names, n=1, cutoff=0.0)
    return f"Did you mean {' or '.join(near)}?"
