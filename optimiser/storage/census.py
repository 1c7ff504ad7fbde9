"""What a ledger holds, counted and summed, so that two of them can be held against each other."""

import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sqlalchemy import select

from optimiser.errors import StorageError
from optimiser.storage.rows import event_of
from optimiser.storage.tables import EVENT, STUDY

if TYPE_CHECKING:
    from sqlalchemy import Connection

_SUMMED: Final = ("number", "kind", "at", "actor", "reason", "key", "body")
_ENTRIES: Final = tuple(EVENT.c[name] for name in _SUMMED)
"""The entries that an event has in every schema, so that an older ledger can be counted too."""


@dataclass(frozen=True)
class StudyCensus:
    """One study as it stands in a ledger.

    Attributes:
        name: of the study.
        events: how many there are.
        digest: SHA-256 over every entry of every event in order; the same on every kind of database.
        faults: events that are missing or cannot be read, one line each.
    """

    name: str
    events: int
    digest: str
    faults: tuple[str, ...] = ()


def census(connection: "Connection", shown: str, names: tuple[str, ...] | None = None) -> tuple[StudyCensus, ...]:
    """Every study, the oldest first; or those of some names."""
    found = connection.execute(select(STUDY.c.id, STUDY.c.name).order_by(STUDY.c.id)).all()
    return tuple(_counted(connection, row, name, shown) for row, name in found if names is None or name in names)


def prefix_digest(connection: "Connection", name: str, events: int) -> str:
    """The digest of a study's first events, as it stood when it had no more; of none at all if it is not there."""
    wanted = (
        select(*_ENTRIES)
        .join(STUDY, EVENT.c.study_id == STUDY.c.id)
        .where(STUDY.c.name == name)
        .order_by(EVENT.c.number)
        .limit(events)
    )
    digest = hashlib.sha256()
    for row in connection.execute(wanted).mappings():
        digest.update(_line(dict(row)))
    return digest.hexdigest()


def whole(counted: tuple[StudyCensus, ...], shown: str) -> tuple[StudyCensus, ...]:
    """The same census, when nothing is missing and everything can be read.

    Raises:
        StorageError: the first thing that is not so.
    """
    faults = [fault for study in counted for fault in study.faults]
    if faults:
        more = f" and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise StorageError(f"{shown} is damaged: {faults[0]}{more}.", "optimiser doctor says how to mend it.")
    return counted


def _counted(connection: "Connection", study: int, name: str, shown: str) -> StudyCensus:
    rows = connection.execute(select(*_ENTRIES).where(EVENT.c.study_id == study).order_by(EVENT.c.number)).mappings()
    digest, count, faults = hashlib.sha256(), 0, list[str]()
    expected = 1
    for row in rows:
        count += 1
        digest.update(_line(dict(row)))
        if row["number"] != expected:
            faults.append(_missing(expected, row["number"] - 1, name))
        expected = row["number"] + 1
        try:
            event_of(dict(row), shown)
        except StorageError:
            faults.append(f"event {row['number']} of {name} cannot be read")
    if not count:
        faults.append(f"{name} has no events")
    return StudyCensus(name, count, digest.hexdigest(), tuple(faults))


def _missing(first: int, last: int, name: str) -> str:
    return f"event {first} of {name} is missing" if first == last else f"events {first} to {last} of {name} are missing"


def _line(row: dict[str, object]) -> bytes:
    return json.dumps([row[name] for name in _SUMMED]).encode() + b"\n"
