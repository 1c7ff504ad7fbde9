"""Mending what was written down: amended, struck out, taken back; the ledger keeps what stood there before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import takewhile
from typing import Any, Final

from optimiser.errors import BadUse, SheetError
from optimiser.storage import Store
from optimiser.study import Event, StudyState, Trial, fold, sheet_to_tables, study_to_json, trial_to_json
from optimiser.workflow.stamp import Stamp, as_day, done_before
from optimiser.workflow.views import View, trial_view

CLEARABLE: Final = ("overall", "reading", "ear", "note")
"""Entries that may be taken out of a trial."""

UNDOABLE: Final = (
    "measured",
    "failed",
    "amended",
    "remeasured",
    "voided",
    "restored",
    "declined",
    "sheet changed",
    "advisers chosen",
)
"""Kinds of events that can be taken back."""


@dataclass(frozen=True)
class Amendment:
    """What is to stand in a trial instead.

    Attributes:
        settings: settings that were really set, as text or values; those left out stay.
        entries: figures, note or day by name.
        clear: names of entries to take out.
    """

    settings: Mapping[str, object] = field(default_factory=dict)
    entries: Mapping[str, Any] = field(default_factory=dict)
    clear: Sequence[str] = ()

    def __post_init__(self) -> None:
        unknown = [name for name in self.clear if name not in CLEARABLE]
        if unknown:
            raise BadUse(f"{', '.join(unknown)} cannot be cleared.", f"Clear one of {', '.join(CLEARABLE)}.")
        if not (self.settings or self.entries or self.clear):
            raise BadUse("Nothing is said that should change.", "Say what, as in --reading 6.9 or --set gain=1:30.")


def amend(store: Store, name: str, number: int, amendment: Amendment, stamp: Stamp) -> View:
    """Put right what was written down of a trial that was made.

    Raises:
        NotFound: no such study or trial.
        BadUse: a trial that was not made yet.
        BadInput, InvalidSettings, InvalidTrial: what cannot be; nothing is stored then.
    """
    with store.writing():
        events = store.events(name)
        state = fold(events)
        trial = _made(state, number)
        known = done_before(events, stamp, "amended")
        changes = _changes(state, trial, amendment) if known is None else dict(known.body["changes"])
        if known is None and changes:
            body = {"trial": number, "changes": changes}
            state = _appended(store, name, state, "amended", body, stamp)
    return {**trial_view(state, state.study.trial(number)), "changed": sorted(changes)}


def void(store: Store, name: str, number: int, stamp: Stamp) -> View:
    """Strike a trial out: it stays readable, and counts for nothing.

    Raises:
        NotFound: no such study or trial.
        BadUse: a trial that was not made yet.
    """
    with store.writing():
        events = store.events(name)
        state = fold(events)
        changed = _made(state, number).state != "void" and done_before(events, stamp, "voided") is None
        if changed:
            state = _appended(store, name, state, "voided", {"trial": number}, stamp)
    return {**trial_view(state, state.study.trial(number)), "changed": ["state"] if changed else []}


def unvoid(store: Store, name: str, number: int, stamp: Stamp) -> View:
    """Let a trial that was struck out count again.

    Raises:
        NotFound: no such study or trial.
        BadUse: a trial that was not made yet.
    """
    with store.writing():
        events = store.events(name)
        state = fold(events)
        changed = _made(state, number).state == "void" and done_before(events, stamp, "restored") is None
        if changed:
            state = _appended(store, name, state, "restored", {"trial": number}, stamp)
    return {**trial_view(state, state.study.trial(number)), "changed": ["state"] if changed else []}


def undo(store: Store, name: str, stamp: Stamp) -> View:
    """Take back the newest change that was not taken back yet; again, and the one before it goes.

    A take is struck out; an amendment, a sheet or a choice of advisers gives way to what stood before; a declined
    proposal waits again. Takes that one version of the measure scored again go back together, so that no two versions
    are left side by side. With a key that took a change back before, nothing more is taken back.

    Raises:
        NotFound: no such study.
        BadUse: there is nothing to take back.
    """
    with store.writing():
        events = store.events(name)
        again = next((event for event in events if stamp.key and event.key == stamp.key), None)
        if again is not None and "undoes" not in again.body:
            raise BadUse(f"The key {stamp.key} belongs to another change.", "Give each change a key of its own.")
        if again is not None:
            return _taken_back(name, [events[number - 1] for number in again.body["with"]])
        undone = {event.body["undoes"] for event in events if "undoes" in event.body}
        left = [e for e in events if e.kind in UNDOABLE and "undoes" not in e.body and e.number not in undone]
        if not left:
            raise BadUse(f"There is nothing to take back in {name}.", "What a study holds: optimiser history STUDY.")
        together = _together(left)
        before, now = fold(events[: together[-1].number - 1]), fold(events)
        numbers = [event.number for event in together]
        added: list[Event] = []
        for event in together:
            kind, body = _inverse(event, before, now)
            body |= {"undoes": event.number, "with": numbers}
            added.append(Event(kind, body, stamp.iso(), stamp.actor, stamp.reason, "" if added else stamp.key))
            now = now.after(added[-1])
        _ = now.study
        store.append(name, *added)
    return _taken_back(name, together)


def _together(events: Sequence[Event]) -> list[Event]:
    """The newest event, with those before it where all of them are takes scored again by one version."""
    last = events[-1]
    if last.kind != "remeasured":
        return [last]
    version = last.body["details"].get("measure_version")
    same = takewhile(
        lambda event: event.kind == "remeasured" and event.body["details"].get("measure_version") == version,
        reversed(events),
    )
    return list(same)


def _taken_back(name: str, events: Sequence[Event]) -> View:
    event = events[0]
    return {
        "study": name,
        "event": event.number,
        "kind": event.kind,
        "trial": event.trial,
        "trials": sorted({event.trial for event in events if event.trial is not None}),
    }


def _made(state: StudyState, number: int) -> Trial:
    trial = state.study.trial(number)
    if trial.state not in ("measured", "failed", "void"):
        raise BadUse(
            f"Trial {number} of {state.sheet.name} is {trial.state} and has nothing to mend.",
            "Hand over its take first, or decline it with optimiser next STUDY --other.",
        )
    return trial


def _changes(state: StudyState, trial: Trial, amendment: Amendment) -> dict[str, Any]:
    """Entries that really change, as JSON values."""
    wanted = {**dict.fromkeys(amendment.clear), **amendment.entries}
    if "day" in wanted:
        wanted["day"] = as_day(str(wanted["day"]))
    if amendment.settings:
        merged = {**trial.settings, **state.sheet.space.parse_some(amendment.settings)}
        wanted["settings"] = state.sheet.space.parse(merged)
    if "note" in amendment.clear:
        wanted["note"] = ""
    stored = state.trials[trial.number or 0]
    return {entry: value for entry, value in wanted.items() if getattr(stored, entry) != value}


def _appended(
    store: Store, name: str, state: StudyState, kind: str, body: Mapping[str, Any], stamp: Stamp
) -> StudyState:
    """The state after one more event, which is stored when the study can still be read with it."""
    event = Event(kind, body, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
    after = state.after(event)
    _ = after.study
    store.append(name, event)
    return after


def _inverse(event: Event, before: StudyState, now: StudyState) -> tuple[str, dict[str, Any]]:
    """Kind and body of the event that takes another one back."""
    number = event.trial or 0
    match event.kind:
        case "sheet changed":
            if faults := now.carried_to(before.sheet).faults:
                raise SheetError(faults)
            return "sheet changed", {"sheet": sheet_to_tables(before.sheet)}
        case "advisers chosen":
            return "advisers chosen", {"advisers": [study_to_json(adviser) for adviser in before.advisers]}
        case "voided":
            return "restored", {"trial": number}
        case "measured" | "failed" | "restored":
            return "voided", {"trial": number}
    then, there = trial_to_json(before.trials[number]), trial_to_json(now.trials[number])
    entries = {name for name in (*then, *there) if name != "trial" and then.get(name) != there.get(name)}
    body: dict[str, Any] = {"trial": number, "changes": {n: then.get(n, _nothing(n)) for n in sorted(entries)}}
    if event.kind == "remeasured":
        return event.kind, {**body, "details": dict(before.details[number])}
    return "amended", body


def _nothing(entry: str) -> str | None:
    return "" if entry == "note" else None
