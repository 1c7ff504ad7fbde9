"""The first steps of a hunt: the sheet, and the tone that is wanted."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from optimiser.audio import open_recording
from optimiser.errors import InvalidRecording, SheetError
from optimiser.storage import Store
from optimiser.study import Carried, Event, StudySheet, StudyState, fold, load_sheet, sheet_to_tables, started
from optimiser.workflow.advising import advisers_view, chosen
from optimiser.workflow.dry_reels import dry_in_words, dry_of
from optimiser.workflow.reel_files import layout_from_json
from optimiser.workflow.stamp import Stamp, done_before
from optimiser.workflow.takes import measure_files
from optimiser.workflow.views import View

_SHORTEST_S = 2.0
"""Seconds of sound below which nothing can be measured (from the measure's own limit)."""


def start(store: Store, text: str, stamp: Stamp, advisers: Sequence[str] = ()) -> View:
    """Start a study from the text of its sheet, or give a study of that name a new version of its sheet.

    Args:
        store: where studies are kept.
        text: the sheet.
        stamp: when, by whom and why.
        advisers: names of earlier studies that advise it; without any, those chosen before stay.

    Raises:
        SheetError: every fault in the sheet, and why a new version cannot take over the trials made already.
        NotFound, BadUse, BadInput: an adviser that cannot be one; nothing is stored then.
    """
    sheet = load_sheet(text)
    body = {"sheet": sheet_to_tables(sheet)}
    with store.writing():
        known = sheet.name in store.study_names()
        advised = _advised(store, sheet, advisers, stamp)
        if not known:
            store.start(sheet.name, Event("started", body, stamp.iso(), stamp.actor, stamp.reason, stamp.key))
        events = store.events(sheet.name)
        state = fold(events)
        again = done_before(events, stamp, "started", "sheet changed")
        changed = state.study.sheet != sheet and again is None
        over = state.carried_to(sheet) if again is None else state.carried_to(state.sheet)
        if over.faults:
            raise SheetError(over.faults)
        if changed:
            event = Event("sheet changed", body, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
            state = state.after(event)
            _ = state.study
            store.append(sheet.name, event)
        if advised is not None:
            store.append(sheet.name, advised)
            state = state.after(advised)
    return {
        "study": sheet.name,
        "title": sheet.title,
        "new": not known or again == events[0],
        "changed": changed,
        "settings": [setting.name for setting in sheet.space.settings],
        "trials": len(state.study.trials),
        "goal": state.goal is not None,
        **_carried_view(state, over, changed=changed),
        "advisers": advisers_view(state.study),
    }


def _carried_view(state: StudyState, over: Carried, *, changed: bool) -> View:
    """What became of the trials made under an earlier version of the sheet."""
    space = state.study.sheet.space
    outside = {trial.number: list(space.outside(trial.settings)) for trial in state.study.trials}
    return {
        "completed": [
            {"setting": name, "trial": number, "value": value, "shown": space.by_name[name].show(value)}
            for name, values in over.completed.items()
            for number, value in values.items()
        ],
        "dropped": list(over.dropped),
        "outside": [{"trial": number, "settings": names} for number, names in outside.items() if names and changed],
    }


def _advised(store: Store, sheet: StudySheet, advisers: Sequence[str], stamp: Stamp) -> Event | None:
    """The event by which earlier studies become advisers under the sheet; None where nothing changes."""
    if not advisers:
        return None
    state = started(sheet)
    if sheet.name in store.study_names():
        now = fold(store.events(sheet.name))
        over = now.carried_to(sheet)
        if over.faults:
            raise SheetError(over.faults)
        state = replace(now, sheet=sheet, trials=over.trials)
    return chosen(store, state, advisers, replace(stamp, key=f"{stamp.key} advisers" if stamp.key else ""))


def record_goal(
    store: Store, name: str, path: Path, stamp: Stamp, tell: Callable[[str], None], *, label: str = ""
) -> View:
    """Keep the wanted tone, and score the takes made before against it.

    `label` is what the file is called where that is not its own name.

    Raises:
        NotFound: no such study or file.
        InvalidRecording: a file that cannot be measured.
    """
    events = store.events(name)
    state = fold(events)
    known = done_before(events, stamp, "goal recorded")
    if known is not None:
        return _goal_view(name, known.body["goal"], [])
    sound = open_recording(path)
    if sound.duration_s < _SHORTEST_S:
        raise InvalidRecording(
            f"{path.name} lasts {sound.duration_s:.1f} s.",
            "Record the whole proof reel, at least 2 s of it.",
            fault="short",
        )
    for _ in sound.blocks():
        pass  # a goal that cannot be decoded is refused now, not with the first take
    kept = store.audio.keep(path, name=label)
    goal = {**asdict(kept), "seconds": sound.duration_s, "rate_hz": sound.rate_hz, **dry_of(state, sound)}
    recorded = Event("goal recorded", {"goal": goal}, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
    rescored = _rescored(store, state, kept.sha256, stamp, tell)
    with store.writing():
        store.append(name, recorded, *rescored)
    return _goal_view(name, goal, rescored)


def _goal_view(name: str, goal: Mapping[str, Any], rescored: Sequence[Event]) -> View:
    return {
        "study": name,
        "goal": goal,
        "rescored": [event.body["trial"] for event in rescored],
        "warnings": dry_in_words({"goal reference": goal}),
    }


def _rescored(store: Store, state: StudyState, goal: str, stamp: Stamp, tell: Callable[[str], None]) -> list[Event]:
    layout = layout_from_json(state.reels["proof"]["layout"]) if "proof" in state.reels else None
    events = []
    for trial in state.study.in_state("measured"):
        number = trial.number or 0
        details = state.details.get(number, {})
        if "capture" in details:
            tell(f"scoring trial {number} against the goal reference")
            files = [store.audio.path(details[part]["sha256"]) for part in ("reference", "capture")]
            measured = measure_files(files[0], files[1], store.audio.path(goal), layout)
            changes: dict[str, Any] = {
                part: getattr(measured, part) for part in ("goal", "goal_se", "articulation_kept")
            }
            steps = {part: asdict(measured)[part] for part in ("goal_parts", "goal_parts_without")}
            body = {"trial": number, "changes": changes, "details": steps}
            events.append(Event("amended", body, stamp.iso(), stamp.actor, "new goal reference"))
    return events
