"""A backup: a whole store under another name, ledger and recordings, that can be opened like any other."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from optimiser.errors import BadUse, OptimiserError, StorageError
from optimiser.storage.census import StudyCensus, prefix_digest
from optimiser.storage.faults import told
from optimiser.storage.folders import need_room
from optimiser.storage.ledger import Store
from optimiser.storage.place import StorePlace, place_of
from optimiser.storage.queries import audio_files
from optimiser.storage.shelf import AudioFile, Copied, copy_shelf
from optimiser.storage.snapshot import draft_beside, is_in_use, put_in_place, still_engine, taken, verified

_URL: Final = re.compile(r"[a-z+]{2,}:/")
"""How the URL of a server begins, also when it was taken for a path."""


@dataclass(frozen=True)
class Backup:
    """What was backed up.

    Attributes:
        file: the ledger's copy.
        audio: the folder of the recordings' copies.
        bytes: size of the ledger's copy.
        studies: what it holds.
        recordings: what became of the recordings.
    """

    file: Path
    audio: Path
    bytes: int
    studies: tuple[StudyCensus, ...]
    recordings: Copied


def back_up(store: Store, file: Path, *, replace: bool = False, tell: Callable[[str], None] = lambda _: None) -> Backup:
    """Write a whole, verified backup of a store that may be in use.

    The ledger is copied as it stood at one moment, then every recording that it names, and only when all of that is on
    the disk and verified does the backup get its name.

    Raises:
        BadUse: a name that is in use, or that of the store itself.
        StorageError: there is no room, or the store is damaged; there is no new backup then.
    """
    target = _target(store.site, file, replace=replace)
    database = store.connections.database
    assert target.file is not None  # noqa: S101
    with told(target.shown), draft_beside(target.file) as draft:
        need_room(draft.parent, database.size_bytes(), target.shown)
        database.snapshot(draft)
        studies = verified(draft, store.site.shown)
        if target.file.exists():
            _refuse_loss(target.file, draft)
        recordings = copy_shelf(_entered(draft), store.audio.folder, target.audio, tell)
        size_bytes = draft.stat().st_size
        put_in_place(draft, target.file, replace=replace)
    return Backup(target.file, target.audio, size_bytes, studies, recordings)


def _target(place: StorePlace, file: Path, *, replace: bool) -> StorePlace:
    """Where the backup goes; a configured folder of recordings belongs to the store and not to its backups."""
    if file.is_dir():
        raise BadUse(f"{file} is a folder.", f"Name a file in it, such as {file / 'backup.db'}.")
    target = place_of(str(file), own=Path())
    if target.file is None or _URL.match(str(file)):
        raise BadUse("A backup is a file.", "To copy a store to a server: optimiser move --to URL.")
    if target.file == place.file:
        raise BadUse(f"{file} is the store itself.", "Give the backup another name, best on another disk.")
    if not target.file.parent.is_dir():
        raise StorageError(f"There is no folder {target.file.parent}.", "Make it first, or name another place.")
    if target.file.exists():
        if not replace:
            raise taken(target.file)
        if is_in_use(target.file):
            raise BadUse(f"{target.file} is in use.", "Give the backup another name.")
    return target


def _refuse_loss(old: Path, draft: Path) -> None:
    """See that what the older backup holds is in the new one too."""
    try:
        before = verified(old, str(old))
    except OptimiserError as error:
        raise BadUse(f"{old} is not a whole backup and was left alone.", "Give another name.") from error
    engine = still_engine(draft)
    with engine.connect() as connection:
        lost = [study for study in before if prefix_digest(connection, study.name, study.events) != study.digest]
    if lost:
        names = ", ".join(study.name for study in lost)
        raise BadUse(f"{old} holds what this store does not: {names}. It was left alone.", "Give another name.")


def _entered(draft: Path) -> tuple[AudioFile, ...]:
    with still_engine(draft).connect() as connection:
        return audio_files(connection)
