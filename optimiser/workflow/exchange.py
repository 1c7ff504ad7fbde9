"""Studies as files: written whole, and read back with everything that ever happened in them."""

import json
from collections.abc import Mapping
from dataclasses import asdict, fields, replace
from pathlib import Path
from typing import Any

from optimiser.errors import BadInput, BadUse, NotFound
from optimiser.storage import Store
from optimiser.study import Event, StudyState, fold, sheet_to_tables
from optimiser.workflow.event_shapes import check_shapes
from optimiser.workflow.files import read_text, write_file
from optimiser.workflow.views import View, trial_view


def exported(store: Store, name: str, file: Path) -> View:
    """Write sheet, trials and events as one JSON file.

    Raises:
        NotFound: no such study.
        StorageError: the file cannot be written.
    """
    document = export_document(store, name)
    write_file(file, json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
    return {
        "study": name,
        "file": str(file),
        "trials": len(document["trials"]),
        "events": len(document["events"]),
    }


def export_document(store: Store, name: str) -> View:
    """Sheet, trials and events of a study.

    Raises:
        NotFound: no such study.
    """
    events = store.events(name)
    state = fold(events)
    return {
        "sheet": sheet_to_tables(state.study.sheet),
        "trials": [trial_view(state, trial) for trial in state.study.trials],
        "events": [asdict(event) for event in events],
    }


def imported(store: Store, file: Path) -> View:
    """Take in a study that `exported` wrote, with all its events; recordings stay where they were.

    Raises:
        NotFound: no such file.
        BadInput: the file holds no study, or an event that does not fit.
        BadUse: a study of that name is there already.
    """
    try:
        document = json.loads(read_text(file))
    except (json.JSONDecodeError, RecursionError):
        raise BadInput(f"{file.name} is no JSON.", "Name a file that optimiser export wrote.") from None
    return {**import_document(store, document, file.name), "file": str(file)}


def import_document(store: Store, document: object, called: str) -> View:
    """Take in a study as `export_document` gave it.

    Raises:
        BadInput: the document holds no study, or an event that does not fit.
        BadUse: a study of that name is there already.
    """
    events = _events(document, called)
    check_shapes(events, called)
    try:
        state = fold(events)
        _ = state.study
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        what = type(error).__name__
        raise BadInput(f"{called} holds an event that fits nothing ({what}).", "Export the study again.") from error
    name = state.study.sheet.name
    with store.writing():
        if name in store.study_names():
            raise BadUse(f"There is a study {name} already.", "Open another store with --store to keep both.")
        store.start(name, events[0])
        store.append(name, *events[1:])
    absent = _without_recordings(store, state)
    return {"study": name, "trials": len(state.study.trials), "events": len(events), "without_recordings": absent}


def _without_recordings(store: Store, state: StudyState) -> list[int]:
    """Trials whose recordings are told of and not in this store."""
    return [
        number
        for number, details in sorted(state.details.items())
        if any(not _is_here(store, details[part]) for part in ("reference", "capture") if details.get(part))
    ]


def _is_here(store: Store, kept: Mapping[str, Any]) -> bool:
    try:
        store.audio.path(kept["sha256"])
    except NotFound:
        return False
    return True


def _events(document: object, name: str) -> list[Event]:
    entries = document.get("events") if isinstance(document, Mapping) else None
    known = {field.name for field in fields(Event)}
    if not (isinstance(entries, list) and entries and all(_is_event(entry, known) for entry in entries)):
        raise BadInput(f"{name} holds no study's events.", "Name a file that optimiser export wrote.")
    if entries[0]["kind"] != "started":
        raise BadInput(f"{name} does not begin with the start of a study.", "Export the study again.")
    return [replace(Event(**entry), number=0) for entry in entries]


def _is_event(entry: Any, known: set[str]) -> bool:
    return (
        isinstance(entry, Mapping)
        and {"kind", "body", "at"} <= set(entry) <= known
        and isinstance(entry["body"], Mapping)
        and isinstance(entry["kind"], str)
        and isinstance(entry["at"], str)
    )
