"""A study put together again from those of its events that could be read in a damaged store."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from optimiser.errors import OptimiserError
from optimiser.storage import AudioFile, SalvagedStudy, Store
from optimiser.study import Event, StudyState, fold
from optimiser.workflow.stamp import Stamp

_UNREADABLE = (OptimiserError, KeyError, TypeError, ValueError, AttributeError, IndexError)
"""What comes of an event whose body is not what its kind says."""


@dataclass(frozen=True)
class Mended:
    """A study that can be worked with again.

    Attributes:
        name: of the study.
        events: numbered on from 1; where one is lost, an event of that kind stands in its place.
        lost: numbers of events that could not be read.
        unfit: numbers of events that were read and fit nothing any more; they are kept whole within one marked lost.
    """

    name: str
    events: tuple[Event, ...]
    lost: tuple[int, ...]
    unfit: tuple[int, ...]


def mended(study: SalvagedStudy, stamp: Stamp) -> Mended | None:
    """Put a study together; None when its sheet is lost, without which nothing of it can be read."""
    begin = _begin(study, stamp)
    if begin is None:
        return None
    events, state = [begin], fold([begin])
    lost, unfit = [] if 1 in study.events else [1], list[int]()
    for number in range(2, max(study.events, default=1) + 1):
        event = study.events.get(number)
        after = _after(state, event) if event is not None else None
        if event is None:
            lost.append(number)
            event = Event("lost", {}, stamp.iso(), stamp.actor, "it could not be read in a damaged store")
        elif after is None:
            unfit.append(number)
            was = {**asdict(event), "number": number}
            event = Event("lost", {"was": was}, event.at, stamp.actor, "it fits nothing that is left", event.key)
        state = after or state
        events.append(replace(event, number=0))
    name = study.name or state.sheet.name
    return Mended(name, tuple(events), tuple(lost), tuple(unfit))


def put_into(store: Store, study: Mended) -> str:
    """Write a study into a fresh store under its own name, or one beside it when that is taken; gives the name."""
    taken = store.study_names()
    names = (study.name, *(f"{study.name}-{turn}" for turn in range(2, len(taken) + 3)))
    name = next(name for name in names if name not in taken)
    with store.writing():
        store.start(name, study.events[0])
        store.append(name, *study.events[1:])
    return name


def recordings_named(events: tuple[Event, ...]) -> Iterator[AudioFile]:
    """Every recording that some events speak of."""
    for event in events:
        yield from _recordings_in(event.body)


def _begin(study: SalvagedStudy, stamp: Stamp) -> Event | None:
    """The event that starts the study: its own, or one made of the oldest sheet that can be read."""
    for number, event in sorted(study.events.items()):
        if event.kind not in ("started", "sheet changed"):
            continue
        begin = replace(event, kind="started", number=0)
        if number > 1:
            reason = f"the start could not be read in a damaged store; this is the sheet of event {number}"
            begin = Event(
                "started", {"sheet": event.body.get("sheet")}, study.created_at or event.at, stamp.actor, reason
            )
        try:
            _ = fold([begin]).study
        except _UNREADABLE:
            continue
        return begin
    return None


def _after(state: StudyState, event: Event) -> StudyState | None:
    try:
        after = state.after(event)
        _ = after.study
    except _UNREADABLE:
        return None
    return after


def _recordings_in(value: Any) -> Iterator[AudioFile]:
    if isinstance(value, Mapping):
        sha256, size, name = (value.get(entry) for entry in ("sha256", "bytes", "name"))
        if isinstance(sha256, str) and isinstance(size, int):
            yield AudioFile(sha256, size, str(name or ""))
        for inner in value.values():
            yield from _recordings_in(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _recordings_in(inner)
