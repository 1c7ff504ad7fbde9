"""What happened in a study, in the words of the person who did it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from optimiser.space import changes as changes_of
from optimiser.storage import Store
from optimiser.study import ENTRY_WORDS, STATE_WORDS, Event, StudyState, Trial, fold
from optimiser.units import INTERVAL_SDS, show_minutes
from optimiser.workflow.views import View

_KINDS: Final = {
    "declined": "put aside",
    "withdrawn": "no longer proposed",
    "amended": "put right",
    "remeasured": "measured again",
    "voided": "struck out",
    "restored": "counts again",
    "unmade": "as before it was made",
    "heard": "listened to",
}
"""Kinds of events that people have other words for."""

_FIGURES: Final = ("overall", "match", "goal", "reading", "ear")

_AGAIN: Final = ("match", "match_se", "goal", "goal_se", "articulation", "articulation_kept")

_ORDER: Final = tuple(field.name for field in fields(Trial))


def history(store: Store, name: str, trial: int | None = None) -> View:
    """Every event, or those of one trial, the oldest first: when, by whom, what, why, and what took it back.

    Raises:
        NotFound: no such study or trial.
    """
    events = store.events(name)
    state = fold(events)
    if trial is not None and trial not in state.proposals:
        state.study.trial(trial)
    undone = {event.body["undoes"]: event.number for event in events if event.body.get("undoes")}
    told = [_told(event, before, undone) for event, before in zip(events, _befores(events), strict=True)]
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


def _told(event: Event, before: StudyState | None, undone: Mapping[int, int]) -> View:
    return {
        "event": event.number,
        "at": event.at,
        "kind": event.kind,
        "words": _KINDS.get(event.kind, event.kind),
        "trial": event.trial,
        "what": what_happened(event, before),
        "undoes": event.body.get("undoes"),
        "undone_by": undone.get(event.number),
        "part_of": event.body.get("part_of"),
        "actor": event.actor,
        "reason": event.reason,
    }


def what_happened(event: Event, before: StudyState | None) -> str:
    """One line without the trial's number, which stands beside it."""
    body = event.body
    match event.kind:
        case "measured" | "failed":
            told = body["trial"]
            scored = [f"{ENTRY_WORDS.get(name, name)} {_said(name, told[name])}" for name in _FIGURES if name in told]
            elsewhere = ", set otherwise than proposed" if body.get("asked") else ""
            return f"{', '.join(scored) or ('kept' if event.kind == 'measured' else '')}{elsewhere}".removeprefix(", ")
        case "amended" if before is not None:
            return ", ".join(_changes(before, body["trial"], body["changes"])) or "by less than is shown"
        case "remeasured" if before is not None:
            again = {name: score for name, score in body["changes"].items() if name in _AGAIN}
            return ", ".join(_changes(before, body["trial"], again)) or "scores as before"
        case "unmade" if before is not None:
            return state_again(before.after(event).trials[body["trial"]].state)
        case "goal recorded":
            return str(body["goal"].get("name", "")) if body["goal"] else "none"
        case "advisers chosen":
            return ", ".join(adviser["sheet"]["study"]["name"] for adviser in body["advisers"]) or "none"
        case "reel made":
            seconds = body["reel"].get("seconds")
            return f"{body['reel']['kind']} reel" + (f", {seconds:.1f} s" if seconds else "")
        case "heard":
            left = "" if body["finished"] else ", not finished"
            return f"blind test, {body['correct']} right of {body['tries']}{left}"
    return ""


def state_again(state: str) -> str:
    """In words how a trial stands that is what it was before it was made."""
    return "it waits again" if state == "waiting" else f"it is {STATE_WORDS.get(state, state)} as before"


def _changes(before: StudyState, number: int, changes: Mapping[str, Any]) -> Iterator[str]:
    """What changed in a trial as far as it shows; an error goes with the score that it belongs to."""
    old = before.trials[number]
    shown = {name: (_said(name, getattr(old, name)), _said(name, new)) for name, new in changes.items()}
    for name in sorted(changes, key=_ORDER.index):
        was, becomes = shown[name]
        if name == "settings":
            settings = before.study.trial(number).settings
            yield from map(str, changes_of(before.sheet.space, settings, changes["settings"]))
        elif was != becomes and name.removesuffix("_se") not in changes.keys() - {name}:
            yield f"{ENTRY_WORDS.get(name, name.removesuffix('_se'))} {was} -> {becomes}"


def _said(name: str, value: Any) -> str:
    """An entry as it is said to people, figures rounded as everywhere else."""
    match name:
        case _ if value is None or value == "":
            return "nothing"
        case "overall" | "match" | "goal":
            return f"{value:.1f}"
        case "articulation":
            return f"{value:.0f}"
        case "articulation_kept":
            return f"{100 * value:.0f} %"
        case "overall_se" | "match_se" | "goal_se":
            return f"+-{INTERVAL_SDS * value:.1f}"
        case "minutes":
            return show_minutes(value)
        case "state":
            return STATE_WORDS.get(str(value), str(value))
    return f"{value:g}" if isinstance(value, float) else str(value)
