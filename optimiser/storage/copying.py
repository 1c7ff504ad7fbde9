"""Ledgers copied row by row from one kind of database to another."""

from pathlib import Path
from typing import TYPE_CHECKING, Final

from sqlalchemy import MetaData, insert, select

from optimiser.errors import StorageError
from optimiser.storage.census import StudyCensus, census
from optimiser.storage.folders import sync_file
from optimiser.storage.queries import add_study, study_id
from optimiser.storage.snapshot import fresh_engine
from optimiser.storage.tables import AUDIO, EVENT, STUDY

if TYPE_CHECKING:
    from sqlalchemy import Connection

_ROWS: Final = 500
"""Rows that are held in memory at once (a choice, no source)."""


def copy_tables(source: "Connection", target: "Connection") -> None:
    """Copy every table with all its rows into an empty database, whatever schema it has."""
    tables = MetaData()
    tables.reflect(source)
    for table in tables.sorted_tables:
        for column in table.columns:
            column.server_default = None  # a server's counter means nothing elsewhere
    tables.create_all(target)
    for table in tables.sorted_tables:
        for rows in source.execute(select(table)).mappings().partitions(_ROWS):
            target.execute(insert(table), [dict(row) for row in rows])


def copy_studies(source: "Connection", target: "Connection", shown: str) -> tuple[StudyCensus, ...]:
    """Add every study and every entry of a recording to a ledger; one whose name is there already is left.

    To be called within one transaction of each: what was written is counted again before it is kept.

    Args:
        source: where they are.
        target: where they shall be.
        shown: the target's name for people.

    Returns:
        The census of the studies that were added.

    Raises:
        StorageError: what was written is not what was read.
    """
    wanted = {study.name: study for study in census(source, shown)}
    there = {study.name for study in census(target, shown, tuple(wanted))}
    added = tuple(name for name in wanted if name not in there)
    for name in added:
        _copy_study(source, target, name)
    _copy_recordings(source, target)
    written = census(target, shown, added)
    if written != tuple(wanted[name] for name in added):
        raise StorageError(f"What was written to {shown} is not what was read; it was taken back.", "Try again.")
    return written


def write_ledger(source: "Connection", draft: Path, shown: str) -> None:
    """Write a whole ledger into a fresh file, count it again, and sync it. To be called within one transaction.

    Raises:
        StorageError: what was written is not what was read.
    """
    engine = fresh_engine(draft)
    with engine.begin() as target:
        copy_tables(source, target)
        if census(target, shown) != census(source, shown):
            raise StorageError(f"What was written to {draft} is not what was read.", "Try again.")
    engine.dispose()
    sync_file(draft)


def _copy_study(source: "Connection", target: "Connection", name: str) -> None:
    created = source.execute(select(STUDY.c.created_at).where(STUDY.c.name == name)).scalar_one()
    row, old = add_study(target, name, str(created)), study_id(source, name)
    entries = [column for column in EVENT.c if column.name not in ("id", "study_id")]
    events = select(*entries).where(EVENT.c.study_id == old).order_by(EVENT.c.number)
    for rows in source.execute(events).mappings().partitions(_ROWS):
        target.execute(insert(EVENT), [{**row_, "study_id": row} for row_ in map(dict, rows)])


def _copy_recordings(source: "Connection", target: "Connection") -> None:
    known = set(target.execute(select(AUDIO.c.sha256)).scalars())
    for rows in source.execute(select(AUDIO)).mappings().partitions(_ROWS):
        new = [dict(row) for row in rows if row["sha256"] not in known]
        if new:
            target.execute(insert(AUDIO), new)
