"""The first steps of a hunt: the sheet, and the tone that is wanted."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from optimiser.audio import open_recording
from optimiser.errors import InvalidRecording, NotFound, SheetError
from optimiser.scoring import MEASURE_VERSION
from optimiser.space import RiffOrder, SettingsSpace
from optimiser.storage import Store
from optimiser.study import (
    Carried,
    Event,
    StudySheet,
    StudyState,
    Trial,
    fold,
    goes_with,
    load_sheet,
    sheet_to_tables,
    started,
    trials_in_words,
)
from optimiser.workflow.advising import advised_view, advisers_view, chosen
from optimiser.workflow.dry_reels import dry_in_words, dry_of
from optimiser.workflow.goal_scores import scored_against
from optimiser.workflow.proof_reels import cut_in_words, goal_again, layout_of, reel_of_file, reel_of_take
from optimiser.workflow.stamp import Stamp, done_before, not_kept, one_step
from optimiser.workflow.undoing import NEW_GOAL, withdrawal
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
        before = state.sheet
        over = state.carried_to(sheet) if again is None else state.carried_to(state.sheet)
        if over.faults:
            raise SheetError(over.faults)
        added = [withdrawal(number, why, stamp) for number, why in over.needless.items()]
        added += [Event("sheet changed", body, stamp.iso(), stamp.actor, stamp.reason, stamp.key)] if changed else []
        added += [advised] if advised is not None else []
        for event in added:
            state = state.after(event)
            _ = state.study
        if added:
            store.append(sheet.name, *one_step(added, len(events) + 1))
    return {
        "study": sheet.name,
        "title": sheet.title,
        "new": not known or again == events[0],
        "changed": changed,
        "settings": [setting.name for setting in sheet.space.settings],
        "trials": len(state.study.trials),
        "goal": state.goal is not None,
        **_carried_view(state, over, changed=changed),
        "goal_again": goal_again(state),
        **advised_view(state.study, advisers_view(state.study)),
        "remark": "" if again else not_kept(stamp, written=bool(added) or not known) or _too_late(before, sheet),
    }


def _too_late(old: StudySheet, new: StudySheet) -> str:
    """That `[before]` says otherwise now of settings that joined earlier; empty where it does not."""
    late = [name for name, value in new.before.items() if name in old.space.by_name and old.before.get(name) != value]
    if not late:
        return ""
    return (
        f"[before] fills in a setting when it joins; trials filled in earlier keep their {', '.join(late)}. To put one "
        f"right: optimiser amend {new.name} TRIAL --set {late[0]}={new.before[late[0]]}"
    )


def _carried_view(state: StudyState, over: Carried, *, changed: bool) -> View:
    """What became of the trials made under an earlier version of the sheet; proposals that were not made count not."""
    space = state.study.sheet.space
    made = {trial.number or 0: trial for trial in state.study.in_state("measured", "failed")}
    outside = {number: list(space.outside(trial.settings)) for number, trial in made.items()}
    return {
        "completed": [
            {"setting": name, "trial": number, "value": value, "shown": space.by_name[name].show(value)}
            for name, values in over.completed.items()
            for number, value in values.items()
            if number in made
        ],
        "dropped": list(over.dropped),
        "withdrawn": [{"trial": number, "reason": why} for number, why in over.needless.items()],
        "outside": [
            {"trial": number, "settings": names, "shown": [_where(space, made[number], name) for name in names]}
            for number, names in outside.items()
            if names and changed
        ],
    }


def _where(space: SettingsSpace, trial: Trial, name: str) -> str:
    """In words how a trial lies outside the sheet in one setting."""
    setting = space.by_name.get(name)
    if setting is None:
        return "forbidden arrangements"
    if isinstance(setting, RiffOrder):
        return f"{len(trial.settings[name])} riffs where {setting.use} are played now"
    return f"{name} outside its range"


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
        kept = {number: trial for number, trial in over.trials.items() if number not in over.needless}
        state = replace(now, sheet=sheet, trials=kept)
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
        scored = [event for event in events if event.body.get("part_of") == known.number]
        return _goal_view(name, known.body["goal"], scored, [], goal_again(state), [])
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
    own = {"reel": reel_of_file(state, path), **dry_of(state, sound)}
    goal = {**asdict(kept), "seconds": sound.duration_s, "rate_hz": sound.rate_hz, **own}
    recorded = Event("goal recorded", {"goal": goal}, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
    rescored, others, absent = _rescored(store, state.after(recorded), stamp, tell)
    with store.writing():
        events = store.events(name)
        state = fold(events).after(recorded)
        seen = {*(event.body["trial"] for event in rescored), *others, *absent}
        later = _rescored(store, state, stamp, tell, seen)
        rescored, others, absent = [*rescored, *later[0]], [*others, *later[1]], [*absent, *later[2]]
        if done_before(events, stamp, "goal recorded") is None:
            store.append(name, *one_step([recorded, *rescored], len(events) + 1))
    warnings = [
        *cut_in_words({"goal reference": sound.duration_s}, layout_of(state, own["reel"])),
        *_of_other_versions(state, [event.body["trial"] for event in rescored]),
        *_without_recordings(absent),
    ]
    return _goal_view(name, goal, rescored, others, goal_again(state), warnings)


def _without_recordings(numbers: Sequence[int]) -> list[str]:
    """That some trials could not be scored, since their recordings are elsewhere."""
    if not numbers:
        return []
    told = trials_in_words(numbers)
    return [f"The recordings of {told} are not in this store, so the scores stay as they are."]


def _of_other_versions(state: StudyState, numbers: Sequence[int]) -> list[str]:
    """That the goal part of some trials was scored by another version of the measure than the rest of them."""
    old = [number for number in numbers if state.details[number].get("measure_version") != MEASURE_VERSION]
    if not old:
        return []
    return [
        f"The goal part of {trials_in_words(old)} was scored by version {MEASURE_VERSION} of the measure, the rest by "
        "another: they are not to be compared until their takes are measured again (optimiser remeasure)."
    ]


def _goal_view(
    name: str,
    goal: Mapping[str, Any],
    rescored: Sequence[Event],
    others: Sequence[int],
    again: View | None,
    warnings: Sequence[str],
) -> View:
    return {
        "study": name,
        "goal": goal,
        "rescored": [event.body["trial"] for event in rescored],
        "of_other_reels": list(others),
        "goal_again": again,
        "warnings": [*dry_in_words({"goal reference": goal}), *warnings],
    }


def _rescored(
    store: Store, state: StudyState, stamp: Stamp, tell: Callable[[str], None], but: Collection[int] = ()
) -> tuple[list[Event], list[int], list[int]]:
    """What becomes of the takes of the newest goal reference's reel, trials of another one, and those not to be had.

    Trials in `but` were seen to already.
    """
    events, others, absent = [], [], []
    goal: Mapping[str, Any] = state.goals[-1]
    for trial in state.study.in_state("measured"):
        number = trial.number or 0
        details = state.details.get(number, {})
        if number in but or "capture" not in details:
            continue
        reel = reel_of_take(store, state, details)
        if not goes_with(goal, reel):
            others.append(number)
            continue
        tell(f"scoring trial {number} against the goal reference")
        try:
            body = scored_against(store, state, number, goal, reel)
        except NotFound:
            absent.append(number)
            continue
        events.append(Event("amended", body, stamp.iso(), stamp.actor, NEW_GOAL))
    return events, others, absent
