"""Taking back what one step of somebody changed, however many events it wrote."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from itertools import takewhile
from typing import Any, Final

from optimiser.errors import BadUse, SheetError
from optimiser.storage import Store
from optimiser.study import (
    Event,
    StudyState,
    fold,
    sheet_to_tables,
    study_to_json,
    trial_to_json,
    trials_in_words,
)
from optimiser.workflow.past import state_again, what_happened
from optimiser.workflow.stamp import Stamp, one_step
from optimiser.workflow.views import View

UNDOABLE: Final = (
    "measured",
    "failed",
    "amended",
    "remeasured",
    "voided",
    "restored",
    "declined",
    "goal recorded",
    "sheet changed",
    "advisers chosen",
)
"""Kinds of events that can be taken back. A proposal goes with the one that was put aside for it."""

NEW_GOAL: Final = "new goal reference"
"""Reason of the amendments that a goal reference brings; older stores tell by it alone which belong to one."""


def undo(store: Store, name: str, stamp: Stamp) -> View:
    """Take back the newest step that was not taken back yet, whole; again, and the one before it goes.

    A take leaves its trial as it was before, so that a proposal waits again; one of the practitioner's own choosing is
    struck out, a table of notes in all its rows; an amendment, a goal reference with the scores that it
    brought, a sheet or a choice of advisers gives way to what stood before; a proposal that was put aside waits again,
    and the one that came instead waits no more. Takes that one version of the measure scored again go back together,
    so that no two versions are left side by side. With a key that took a step back before, nothing more is taken back.

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
            return _taken_back(events, [events[number - 1] for number in again.body["with"]])
        together = newest_step(events)
        if not together:
            raise BadUse(f"There is nothing to take back in {name}.", f"What it holds: optimiser history {name}.")
        before, now = fold(events[: together[-1].number - 1]), fold(events)
        numbers = [event.number for event in together]
        added: list[Event] = []
        for event in together:
            for one in _inverses(event, before, now, stamp):
                body = {**one.body, "undoes": event.number, "with": numbers}
                added.append(replace(one, body=body, key="" if added else stamp.key))
                now = now.after(added[-1])
        _ = now.study
        events = (*events, *store.append(name, *one_step(added, len(events) + 1)))
    return _taken_back(events, together)


def newest_step(events: Sequence[Event]) -> list[Event]:
    """Everything that the newest step wrote and that can be taken back, the newest first."""
    undone = {event.body["undoes"] for event in events if "undoes" in event.body}
    kept = [event for event in events if "undoes" not in event.body and event.number not in undone]
    last = next((event for event in reversed(kept) if event.kind in UNDOABLE), None)
    if last is None:
        return []
    if last.kind == "remeasured":
        return _of_one_version([event for event in kept if event.kind in UNDOABLE])
    first, waiting = _first(last, events), {trial.number for trial in fold(events).study.in_state("waiting")}
    return [
        event
        for event in reversed(kept)
        if _first(event, events) == first
        and (
            event.kind in UNDOABLE or event.kind == "withdrawn" or (event.kind == "proposed" and event.trial in waiting)
        )
    ]


def _of_one_version(events: Sequence[Event]) -> list[Event]:
    """The newest event, with those before it as long as they are takes scored again by one version of the measure."""
    version = events[-1].body["details"].get("measure_version")
    same = takewhile(
        lambda event: event.kind == "remeasured" and event.body["details"].get("measure_version") == version,
        reversed(events),
    )
    return list(same)


def _first(event: Event, events: Sequence[Event]) -> int:
    """Number of the event with which the step began that wrote this one."""
    if "part_of" in event.body:
        return int(event.body["part_of"])
    if event.kind == "amended" and event.reason == NEW_GOAL:
        others = (one for one in reversed(events[: event.number]) if one.reason != NEW_GOAL)
        begun = next(others, None)
        return begun.number if begun is not None and begun.kind == "goal recorded" else event.number
    return event.number


def withdrawal(number: int, why: str, stamp: Stamp) -> Event:
    """The event by which a proposal waits no more."""
    return Event("withdrawn", {"trial": number}, stamp.iso(), stamp.actor, why)


def _inverses(event: Event, before: StudyState, now: StudyState, stamp: Stamp) -> Iterator[Event]:
    """The events that take another one back: proposals that need a sheet go before it does."""
    if event.kind == "sheet changed":
        over = now.carried_to(before.sheet)
        if over.faults:
            raise SheetError(over.faults)
        yield from (withdrawal(number, why, stamp) for number, why in over.needless.items())
    kind, body = _inverse(event, before, now)
    yield Event(kind, body, stamp.iso(), stamp.actor, stamp.reason)


def _inverse(event: Event, before: StudyState, now: StudyState) -> tuple[str, dict[str, Any]]:
    """Kind and body of the event that takes another one back."""
    number = event.trial or 0
    match event.kind:
        case "sheet changed":
            return "sheet changed", {"sheet": sheet_to_tables(before.sheet)}
        case "advisers chosen":
            return "advisers chosen", {"advisers": [study_to_json(adviser) for adviser in before.advisers]}
        case "goal recorded":
            return "goal recorded", {"goal": before.goal}
        case "proposed":
            return "withdrawn", {"trial": number}
        case "withdrawn":
            return "proposed", {"proposal": {**before.proposals[number], "settings": before.trials[number].settings}}
        case "voided":
            return "restored", {"trial": number}
        case "measured" | "failed" if number in before.trials:
            return "unmade", {"trial": number}
        case "measured" | "failed" | "restored":
            return "voided", {"trial": number}
    then, there = trial_to_json(before.trials[number]), trial_to_json(now.trials[number])
    entries = [name for name in event.body.get("changes", ("state",)) if then.get(name) != there.get(name)]
    body: dict[str, Any] = {"trial": number, "changes": {n: then.get(n, _nothing(n)) for n in sorted(entries)}}
    if event.kind == "remeasured":
        return event.kind, {**body, "details": dict(before.details[number])}
    told = event.body.get("details") or {}
    kept = before.details.get(number, {})
    return "amended", {**body, "details": {n: kept.get(n, [] if isinstance(told[n], list) else None) for n in told}}


def _nothing(entry: str) -> str | None:
    return "" if entry == "note" else None


def _taken_back(events: Sequence[Event], together: Sequence[Event]) -> View:
    """What was taken back, the same however often it is asked for."""
    first = _head(together)
    numbers = [event.number for event in together]
    gone = {event.trial or 0 for event in events if event.body.get("undoes") in numbers and event.kind == "withdrawn"}
    state = fold(events[: together[-1].number - 1])
    after = fold(events)
    later = {event.trial or 0 for event in events if event.kind == "proposed" and event.number > together[0].number}
    return {
        "study": state.sheet.name,
        "still_waiting": [n for n in sorted(later) if n in after.trials and after.trials[n].state == "waiting"],
        "event": first.number,
        "kind": first.kind,
        "trial": first.trial,
        "trials": sorted({event.trial for event in together if event.trial is not None} | gone),
        "shown": _shown(together, state, gone),
    }


def _head(together: Sequence[Event]) -> Event:
    """What a step was taken for: the first of it that is a change of its own."""
    return next(event for event in reversed(together) if event.kind in UNDOABLE)


def _shown(together: Sequence[Event], before: StudyState, gone: Collection[int]) -> str:
    """In words what was taken back, and how things stand now; `gone` are proposals that wait no more."""
    first = _head(together)
    of = {kind: {e.trial or 0 for e in together if e.kind == kind} for kind in (*UNDOABLE, "proposed", "withdrawn")}
    if first.kind == "goal recorded":
        return _goal_shown(first, before, of["amended"])
    made = of["measured"] | of["failed"]
    trials = made | of["restored"] if made else of[first.kind]
    told = trials_in_words(trials) if first.trial else ""
    it_is, it_waits, was = ("they are", "they wait", "were") if len(trials) > 1 else ("it is", "it waits", "was")
    stood = before.trials.get(first.trial or 0)
    stands = f"{it_is} struck out now" if stood is None else state_again(stood.state)
    instead = f", and {trials_in_words(gone)} no more" if gone else ""
    return {
        "measured": f"{told}; {stands}",
        "failed": f"{told}; {stands}",
        "amended": f"what was put right in {told} ({what_happened(first, before)}); it stands as before",
        "remeasured": f"the new scores of {told}; the earlier ones stand again",
        "voided": f"that {told} {was} struck out; {'they count' if len(trials) > 1 else 'it counts'} again",
        "restored": f"that {told} {'count' if len(trials) > 1 else 'counts'} again; {it_is} struck out now",
        "declined": f"that {told} {was} put aside; {it_waits} again{instead}",
        "sheet changed": f"the newest sheet; the one before stands again{_waiting(of['withdrawn'], gone)}",
        "advisers chosen": "the choice of advisers; what was chosen before stands again",
    }[first.kind]


def _waiting(again: Collection[int], gone: Collection[int]) -> str:
    """In words which proposals wait again with a sheet, and which no more without it."""
    told = [
        f"{trials_in_words(numbers)} wait{'s' * (len(numbers) == 1)} {how}"
        for numbers, how in ((again, "again"), (gone, "no more"))
        if numbers
    ]
    return "".join(f", and {one}" for one in told)


def _goal_shown(event: Event, before: StudyState, rescored: Collection[int]) -> str:
    earlier = before.goal
    now = "there is none now" if earlier is None else f"{earlier.get('name', 'the one before')} is the goal again"
    has = "have their" if len(rescored) > 1 else "has its"
    scores = f", and {trials_in_words(rescored)} {has} earlier scores again" if rescored else ""
    return f"the goal reference {event.body['goal'].get('name', '')}; {now}{scores}"
