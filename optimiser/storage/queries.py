"""The SQL of the store. There is none here that changes or removes an event."""

from typing import TYPE_CHECKING

from sqlalchemy import func, insert, select

from optimiser.storage.rows import Change, event_of, row_of
from optimiser.storage.shelf import AudioFile
from optimiser.storage.tables import AUDIO, EVENT, STUDY
from optimiser.study import Event

if TYPE_CHECKING:
    from sqlalchemy import Connection


def study_names(connection: "Connection") -> tuple[str, ...]:
    """All names, the oldest study first."""
    return tuple(connection.execute(select(STUDY.c.name).order_by(STUDY.c.id)).scalars())


def study_id(connection: "Connection", name: str) -> int | None:
    """A study's row, None if there is none."""
    return connection.execute(select(STUDY.c.id).where(STUDY.c.name == name)).scalar()


def add_study(connection: "Connection", name: str, created_at: str) -> int:
    """Add a study and return its row."""
    connection.execute(insert(STUDY).values(name=name, created_at=created_at))
    return int(connection.execute(select(STUDY.c.id).where(STUDY.c.name == name)).scalar_one())


def events(connection: "Connection", study: int, shown: str) -> tuple[Event, ...]:
    """All events of a study in order."""
    rows = connection.execute(select(EVENT).where(EVENT.c.study_id == study).order_by(EVENT.c.number)).mappings()
    return tuple(event_of(dict(row), shown) for row in rows)


def last_number(connection: "Connection", study: int) -> int:
    """Number of a study's newest event, 0 if there is none."""
    newest = select(func.coalesce(func.max(EVENT.c.number), 0)).where(EVENT.c.study_id == study)
    return int(connection.execute(newest).scalar_one())


def event_with_key(connection: "Connection", study: int, key: str, shown: str) -> Event | None:
    """The event of a study that carries a key."""
    found = select(EVENT).where(EVENT.c.study_id == study, EVENT.c.key == key)
    row = connection.execute(found).mappings().first()
    return event_of(dict(row), shown) if row is not None else None


def changes(connection: "Connection", after: int, most: int) -> tuple[Change, ...]:
    """The first events of any study behind a place in the order of all events."""
    columns = (EVENT.c.id, STUDY.c.name, EVENT.c.number, EVENT.c.kind)
    found = select(*columns).join(STUDY, STUDY.c.id == EVENT.c.study_id).where(EVENT.c.id > after)
    return tuple(Change(*row) for row in connection.execute(found.order_by(EVENT.c.id).limit(most)))


def last_place(connection: "Connection") -> int:
    """The newest place in the order of all events, 0 without any."""
    return int(connection.execute(select(func.coalesce(func.max(EVENT.c.id), 0))).scalar_one())


def add_events(connection: "Connection", study: int, added: tuple[Event, ...], shown: str) -> tuple[Event, ...]:
    """Add events in order, numbered on from the newest; one whose key is known already is given back as it stands."""
    number = last_number(connection, study)
    stored = []
    for event in added:
        entries = row_of(event)
        known = event_with_key(connection, study, event.key, shown) if event.key else None
        if known is None:
            number += 1
            row = {**entries, "study_id": study, "number": number}
            connection.execute(insert(EVENT).values(row))
            known = event_of(row, shown)
        stored.append(known)
    return tuple(stored)


def has_audio(connection: "Connection", sha256: str) -> bool:
    """Whether a recording is entered."""
    return connection.execute(select(AUDIO.c.sha256).where(AUDIO.c.sha256 == sha256)).first() is not None


def add_audio(connection: "Connection", kept: AudioFile, kind: str) -> None:
    """Enter a recording whose file is in place."""
    connection.execute(insert(AUDIO).values(sha256=kept.sha256, bytes=kept.bytes, kind=kind, name=kept.name))


def audio_files(connection: "Connection") -> tuple[AudioFile, ...]:
    """Every recording that is entered."""
    rows = connection.execute(select(AUDIO.c.sha256, AUDIO.c.bytes, AUDIO.c.name).order_by(AUDIO.c.sha256))
    return tuple(AudioFile(*row) for row in rows)
