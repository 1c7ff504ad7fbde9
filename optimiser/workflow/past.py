"""What happened in a study, in the words of the person who did it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from optimiser.space import changes as changes_of
from optimiser.storage import Store
from optimiser.study import Event, StudyState, fold
from optimiser.workflow.views import View

_SCORES: Final = ("overall", "match", "goal", "reading", "ear")


def history(store: Store, name: str, trial: int | None = None) -> View:
    """Every event, or those of one trial, the oldest first: when, by whom, what, and why.

    Raises:
        NotFound: no such study or trial.
    """
    events = store.events(name)
    state = fold(events)
    if trial is not None and trial not in state.proposals:
        state.study.trial(trial)
    told = [_told(event, before) for event, before in zip(events, _befores(events), strict=True)]
    zone = ZoneInfo(state.sheet.timezone)
    for entry in told:
        entry["shown"] = datetime.fromisoformat(entry["at"]).astimezone(zone).strftime("%Y-%m-%d %H:%M")
    return {"study": name, "events": [entry for entry in told if trial is None or entry["trial"] == trial]}


def _befores(events: Sequence[Event]) -> list[StudyState | None]:
    """The state before each event, None before the first."""
    states: list[StudyState | None] = [None]
    for event in events[:-1]:
        last = states[-1]
        states.append(last.after(event) if last is not None else fold([event]))
    return states


def _told(event: Event, before: StudyState | None) -> View:
    return {
        "event": event.number,
        "at": event.at,
        "kind": event.kind,
        "trial": event.trial,
        "what": what_happened(event, before),
        "undoes": event.body.get("undoes"),
        "part_of": event.body.get("part_of"),
        "actor": event.actor,
        "reason": event.reason,
    }


def what_happened(event: Event, before: StudyState | None) -> str:
    """One line without the trial's number, which stands beside it."""
    body = event.body
    match event.kind:
        case "measured":
            scored = [f"{name} {body['trial'][name]:.1f}" for name in _SCORES if name in body["trial"]]
            elsewhere = ", set otherwise than proposed" if body.get("asked") else ""
            return f"{', '.join(scored) or 'kept'}{elsewhere}"
        case "amended" if before is not None:
            return ", ".join(_changes(before, body["trial"], body["changes"]))
        case "remeasured" if before is not None:
            return ", ".join(_scores(before, body["trial"], body["changes"])) or "scores as before"
        case "goal recorded":
            return str(body["goal"].get("name", "")) if body["goal"] else "none"
        case "advisers chosen":
            return ", ".join(adviser["sheet"]["study"]["name"] for adviser in body["advisers"]) or "none"
        case "reel made":
            return f"{body['reel']['kind']} reel"
        case "heard":
            left = "" if body["finished"] else ", not finished"
            return f"blind test, {body['correct']} right of {body['tries']}{left}"
    return ""


def _changes(before: StudyState, number: int, changes: Mapping[str, Any]) -> Iterator[str]:
    old = before.study.trial(number)
    for name, new in changes.items():
        if name == "settings":
            yield from map(str, changes_of(before.sheet.space, old.settings, new))
        else:
            yield f"{name} {_short(getattr(old, name))} -> {_short(new)}"


def _scores(before: StudyState, number: int, changes: Mapping[str, Any]) -> Iterator[str]:
    old = before.trials[number]
    for name in ("match", "goal", "articulation"):
        if name in changes:
            was, becomes = (
                f"{score:.1f}" if score is not None else "nothing" for score in (getattr(old, name), changes[name])
            )
            yield f"{name} {was} -> {becomes}"


def _short(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    return f"{value:g}" if isinstance(value, float) else str(value)
