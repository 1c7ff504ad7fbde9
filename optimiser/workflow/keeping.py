"""Keeping a store safe: backups, recovery, a look for faults, the move to another place."""

import json
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from optimiser.errors import OptimiserError, StorageError
from optimiser.storage import (
    Copied,
    Finding,
    SalvagedStudy,
    Store,
    back_up,
    configured,
    contents,
    copy_shelf,
    copy_store,
    diagnosed,
    how_to_recover,
    open_store,
    opened_source,
    place_in,
    put_ledger,
)
from optimiser.study import fold
from optimiser.workflow.files import write_file
from optimiser.workflow.salvaging import Mended, mended, put_into, recordings_named
from optimiser.workflow.stamp import Stamp
from optimiser.workflow.views import View

Tell = Callable[[str], None]

_DATED: Final = "%Y-%m-%d-%H%M%S"


def backup(store: Store, file: Path, *, replace: bool, tell: Tell) -> View:
    """Write a whole, verified backup of ledger and recordings.

    Raises:
        BadUse: a name that is in use, or the store's own.
        StorageError: no room, or a damaged store; there is no new backup then.
    """
    made = back_up(store, file, replace=replace, tell=tell)
    return {
        "file": str(made.file),
        "bytes": made.bytes,
        "studies": [asdict(study) for study in made.studies],
        "recordings": {"folder": str(made.audio), **_recordings(made.recordings)},
    }


def move(store: Store, to: str, audio: Path | None, tell: Tell) -> View:
    """Copy a whole store to another place and verify it; the store stays as it is.

    Raises:
        BadUse: the place is the store itself, or holds another study of one of the names.
        StorageError: no room, or a damaged store; no study was copied then.
        Busy: somebody else is writing.
    """
    with open_store(to, audio=audio) as target:
        copied = copy_store(store, target, tell)
        return {
            "from": store.site.shown,
            "to": target.site.shown,
            "added": [asdict(study) for study in copied.added],
            "known": list(copied.known),
            "recordings": {"folder": str(target.audio.folder), **_recordings(copied.recordings)},
        }


def recover(file: Path, url: str | None, stamp: Stamp, tell: Tell) -> View:
    """Put a backup, or what can be read of a damaged store, into the store's place.

    What lies there is moved aside; onto a server, the studies are added to what is there.

    Raises:
        NotFound: no such file.
        StorageError: nothing of a store can be read in it, or it is from a newer optimiser; nothing was changed then.
        BadUse: a server that holds other studies of the same names.
        Busy: somebody else is writing.
    """
    site = configured(url)
    with opened_source(file, site) as source:
        told: View = {"from": str(file), "whole": source.salvage is None, "lost": [], "left_over": None}
        if source.salvage is not None:
            told |= _built(source.ledger, source.salvage.studies, stamp, site.file or site.audio)
        with open_store(str(source.ledger), audio=source.audio, create=False) as found:
            if source.salvage is not None:
                _enter(found, {kept.sha256: kept for kept in source.salvage.recordings})
            entries = found.audio.entries()
            if site.file is None:
                with open_store(url) as server:
                    added = copy_store(found, server, tell)
                return {
                    **told,
                    "store": site.shown,
                    "moved": None,
                    **_held(found),
                    **_put(added.recordings, site.audio),
                }
            held = _held(found)
        recordings = copy_shelf(entries, source.audio, site.audio, tell)
        moved = put_ledger(source.ledger, site, f"before-{stamp.at.strftime(_DATED)}")
    before = [asdict(study) for study in contents(moved)] if moved is not None else []
    return {
        **told,
        "store": site.shown,
        "moved": {"file": str(moved), "studies": before} if moved is not None else None,
        **held,
        **_put(recordings, site.audio),
    }


def doctor(store: Store, *, fix: bool) -> View:
    """Everything that is wrong with a store; with `fix`, what can be mended without loss is mended.

    Raises:
        StorageError: the store cannot be read at all.
    """
    found = diagnosed(store, fix=fix)
    view: View = {"store": store.site.shown, "studies": None, "events": None, "recordings": None}
    if not any(finding.about in ("database", "events") for finding in found):
        found = (*_unfit(store), *_strays(store, fix=fix), *found)
        entries = store.audio.entries()
        view |= {
            **store.facts(),
            "studies": len(store.study_names()),
            "events": sum(study.events for study in store.census()),
            "recordings": {
                "folder": str(store.audio.folder),
                "count": len(entries),
                "bytes": sum(kept.bytes for kept in entries),
            },
        }
    return {**view, "findings": [asdict(finding) for finding in found]}


def fault_of_doctor(view: View) -> StorageError | None:
    """The error to end with when something is wrong that was not mended."""
    faults = [finding for finding in view["findings"] if finding["weight"] == "fault"]
    if not faults:
        return None
    said = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return StorageError(f"{said} found in {view['store']}.", "Each finding says how to mend it.")


def fault_of_copy(view: View) -> StorageError | None:
    """The error to end with when recordings could not be copied; everything else is done."""
    lost = view["recordings"]["lost"]
    if not lost:
        return None
    names = ", ".join(kept["name"] for kept in lost[:3]) + (", ..." if len(lost) > 3 else "")
    what = "1 recording is" if len(lost) == 1 else f"{len(lost)} recordings are"
    return StorageError(
        f"{what} missing or damaged and could not be copied: {names}.",
        "Every trial and figure is there. optimiser doctor says how to put recordings back.",
    )


def _recordings(copied: Copied) -> View:
    return {
        "copied": len(copied.copied),
        "bytes": sum(kept.bytes for kept in copied.copied),
        "known": len(copied.known),
        "lost": [asdict(kept) for kept in copied.lost],
    }


def _put(copied: Copied, folder: Path) -> View:
    return {"recordings": {"folder": str(folder), **_recordings(copied)}}


def _held(store: Store) -> View:
    return {"studies": [asdict(study) for study in store.census()]}


def _built(ledger: Path, studies: tuple[SalvagedStudy, ...], stamp: Stamp, beside: Path) -> View:
    """Write what could be read into a fresh ledger; what has no sheet any more goes into a file beside the store."""
    whole, left_over = list[Mended](), list[SalvagedStudy]()
    for study in studies:
        made = mended(study, stamp)
        if made is None:
            left_over.append(study)
        else:
            whole.append(made)
    if not whole:
        raise StorageError("No study's sheet can be read in that file.", "Put back a backup, or name another file.")
    with open_store(str(ledger)) as store:
        lost = [
            {"study": put_into(store, made), "events": list(made.lost), "unfit": list(made.unfit)} for made in whole
        ]
        _enter(store, {kept.sha256: kept for made in whole for kept in recordings_named(made.events)})
    file = beside.with_name(f"{beside.name}.left-over-{stamp.at.strftime(_DATED)}.json")
    return {
        "lost": [entry for entry in lost if entry["events"] or entry["unfit"]],
        "left_over": str(_written(file, left_over)) if any(study.events for study in left_over) else None,
    }


def _written(file: Path, studies: list[SalvagedStudy]) -> Path:
    document: list[dict[str, Any]] = [
        {"study": study.name, "events": [asdict(event) for _, event in sorted(study.events.items())]}
        for study in studies
    ]
    return write_file(file, json.dumps(document, ensure_ascii=False, indent=1) + "\n")


def _enter(store: Store, recordings: dict[str, Any]) -> None:
    with store.writing():
        for kept in recordings.values():
            store.audio.enter(kept)


def _unfit(store: Store) -> list[Finding]:
    """Studies whose events can be read and still do not make a study."""
    found = []
    for name in store.study_names():
        try:
            _ = fold(store.events(name)).study
        except (OptimiserError, KeyError, TypeError, ValueError, AttributeError) as error:
            message = f"The study {name} cannot be put together: {error}".splitlines()[0]
            found.append(Finding("fault", "events", message, how_to_recover(store)))
    return found


def _strays(store: Store, *, fix: bool) -> list[Finding]:
    """Recordings that a trial speaks of and that are not entered; those that lie in their place can be."""
    known = {kept.sha256 for kept in store.audio.entries()}
    found = []
    for name in store.study_names():
        named = {kept.sha256: kept for kept in recordings_named(store.events(name)) if kept.sha256 not in known}
        for kept in named.values():
            what = f"The recording {kept.name} of {name}"
            if not place_in(store.audio.folder, kept.sha256).is_file():
                hint = f"Copy it to {place_in(store.audio.folder, kept.sha256)}. A study taken in from a file has none."
                found.append(Finding("fault", "recordings", f"{what} is not in this store.", hint))
            elif fix:
                _enter(store, {kept.sha256: kept})
                found.append(Finding("mended", "recordings", f"{what} was entered."))
            else:
                found.append(
                    Finding("fault", "recordings", f"{what} is not entered.", "optimiser doctor --fix does it.")
                )
    return found
