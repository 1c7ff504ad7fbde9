"""What is wrong with a store, or was, and what of that can be mended without losing anything."""

import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from optimiser.errors import Busy, StorageError
from optimiser.storage.faults import told
from optimiser.storage.ledger import Store
from optimiser.storage.recovery import WORK_FOLDER
from optimiser.storage.shelf import LEFT_BEHIND_S, SHA256, AudioFile, files_on, health, left_behind, place_in, sum_of
from optimiser.storage.snapshot import drafts_left

Weight = Literal["fault", "mended", "remark"]


@dataclass(frozen=True)
class Finding:
    """One thing that was found.

    Attributes:
        weight: a fault that stays, one that was mended, or a remark that asks for nothing or for `--fix`.
        about: `database`, `events`, `recordings`, `leftovers` or `lock`.
        message: what it is, one line.
        hint: how to mend it; may be empty.
    """

    weight: Weight
    about: str
    message: str
    hint: str = ""


def diagnosed(store: Store, *, fix: bool = False) -> tuple[Finding, ...]:
    """Go through database, events, recordings and leftovers; with `fix`, mend what can be mended without loss.

    In a damaged database, recordings are not looked at: what it says of them may be wrong.

    Raises:
        StorageError: the store cannot be read at all.
    """
    with told(store.site.shown):
        found = tuple(_database(store))
        if not found:
            found = tuple(_recordings(store, fix=fix))
        return (*found, *_lock(store), *_leftovers(store, fix=fix))


def how_to_recover(store: Store) -> str:
    """What to do about a damaged ledger, one line."""
    if store.site.file is None:
        return "Put a backup into an empty database: optimiser recover FILE --store URL."
    return f"optimiser recover {store.site.file} saves what can be read; with a backup's name it puts that back."


def _database(store: Store) -> Iterator[Finding]:
    hint = how_to_recover(store)
    for fault in store.connections.database.integrity_faults():
        yield Finding("fault", "database", f"The database is damaged: {fault}.", hint)
    try:
        counted = store.census()
    except StorageError as error:
        yield Finding("fault", "database", error.message, hint)
        return
    for study in counted:
        for fault in study.faults:
            yield Finding("fault", "events", f"{fault[0].upper()}{fault[1:]}.", hint)


def _lock(store: Store) -> Iterator[Finding]:
    try:
        with store.writing():
            pass
    except Busy as busy:
        yield Finding("remark", "lock", busy.message, busy.hint)


def _recordings(store: Store, *, fix: bool) -> Iterator[Finding]:
    folder, entries = store.audio.folder, store.audio.entries()
    for kept in entries:
        state = health(folder, kept)
        if state != "whole":
            lies = place_in(folder, kept.sha256)
            hint = "Copy that file back from a backup's folder of recordings."
            if state == "missing" and store.site.file is None:
                hint = "Name the folder that all rooms share with OPTIMISER_AUDIO, or copy the file back from a backup."
            yield Finding("fault", "recordings", f"The recording {kept.name} is {state}: {lies}", hint)
    known = {kept.sha256 for kept in entries}
    for path in files_on(folder):
        sha256 = path.name
        if sha256 in known:
            continue
        if path != place_in(folder, sha256) or not SHA256.fullmatch(sha256) or sum_of(path) != sha256:
            yield Finding("remark", "recordings", f"{path} is no recording of this store.", "Move it elsewhere.")
        elif fix:
            with store.writing():
                store.audio.enter(AudioFile(sha256, path.stat().st_size, f"{sha256[:12]}.wav"), "found")
            yield Finding("mended", "recordings", f"A recording that nothing named was entered: {sha256[:12]}.")
        else:
            hint = "A take was cut off before it was kept; --fix enters the file, so that backups hold it."
            yield Finding("remark", "recordings", f"Nothing names the recording {sha256[:12]}.", hint)


def _leftovers(store: Store, *, fix: bool) -> Iterator[Finding]:
    for path in (*left_behind(store.audio.folder), *_cut_off((store.site.file or store.site.audio).parent)):
        if not fix:
            hint = "optimiser doctor --fix removes it."
            yield Finding("remark", "leftovers", f"Something that was cut off left {path}.", hint)
        elif path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
        if fix:
            yield Finding("mended", "leftovers", f"Removed what something that was cut off had left: {path}.")


def _cut_off(folder: Path) -> list[Path]:
    """What a backup, an upgrade or a recovery that was cut off left in the folder of a store."""
    before = time.time() - LEFT_BEHIND_S
    return [*drafts_left(folder), *(path for path in folder.glob(f"{WORK_FOLDER}*") if path.stat().st_mtime < before)]
