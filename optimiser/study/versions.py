"""What becomes of a study's trials when its sheet gets a new version.

A trial is read by the sheet that it was made under. Under a later one it keeps its settings, is completed with what a
setting stood at before it was one, and loses a setting that is one no more, where all trials agree in it. Only trials
that were made and count stand in the way of a version: a proposal that needs what is gone waits no more, and one that
was struck out or put aside is kept as it was.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from optimiser.errors import Fault, as_written
from optimiser.space import AXES, Knob, MicPlace, MicSpot, RiffOrder, Setting, Settings, UnreadableValue, Value
from optimiser.study.sheet import StudySheet
from optimiser.study.trial import MADE, Trial


@dataclass(frozen=True)
class Carried:
    """Trials under a new version of their sheet.

    Attributes:
        trials: the trials by number; what a fault stands in the way of is as it was.
        completed: for each setting that is new to some trials, what it is taken to have stood at in each of them.
        dropped: settings that are none any more and were taken out of the trials.
        faults: why the version cannot take the trials over; empty when it can.
        needless: proposals that wait and cannot be made under the version, each with the reason.
    """

    trials: Mapping[int, Trial]
    completed: Mapping[str, Mapping[int, Value]]
    dropped: tuple[str, ...]
    faults: tuple[Fault, ...]
    needless: Mapping[int, str]


def carried(
    trials: Mapping[int, Trial], fixed_then: Mapping[int, Mapping[str, str]], old: StudySheet, new: StudySheet
) -> Carried:
    """Take trials over into a new version of their sheet.

    Args:
        trials: by number, their settings as the old version reads them.
        fixed_then: the `[fixed]` table under which each was made.
        old: the version before.
        new: the version to come.
    """
    gone, kept_for = _gone(trials, old, new)
    needless: dict[int, str] = {}
    hindered: dict[tuple[str, str, str, str], list[int]] = {}
    completed: dict[str, dict[int, Value]] = {}
    taken = {}
    for number, trial in trials.items():
        settings: Settings = {}
        raw = {name: value for name, value in trial.settings.items() if name not in gone or number in gone[name]}
        for setting in new.space.in_order:
            if not new.space.exists(setting.name, settings):
                raw.pop(setting.name, None)
                continue
            stated = setting.name in raw
            value = (
                _again(setting, old.space.by_name.get(setting.name), raw[setting.name])
                if stated
                else _then(setting, fixed_then.get(number, {}), new.before)
            )
            if isinstance(value, _Hindrance):
                if trial.state in MADE or (value.misread and trial.state != "waiting"):
                    hindered.setdefault((setting.name, value.found, value.expected, value.mend), []).append(number)
                elif trial.state == "waiting":
                    needless.setdefault(number, f"the sheet no longer fits it: {setting.name} {value.found}")
                continue
            settings[setting.name] = value
            if not stated:
                completed.setdefault(setting.name, {})[number] = value
        taken[number] = replace(trial, settings={**raw, **new.space.sorted(settings)})
    faults = (_fault(*why, numbers) for why, numbers in hindered.items())
    return Carried(taken, completed, tuple(gone), (*kept_for, *faults), needless)


@dataclass(frozen=True)
class _Hindrance:
    """Why a value cannot be taken over; `misread` where it would be read as something else than it was."""

    found: str
    expected: str
    mend: str
    misread: bool = False


def _fault(name: str, found: str, expected: str, mend: str, numbers: Iterable[int]) -> Fault:
    return Fault(f"settings.{name}", "", f"{trials_in_words(numbers)} {found}", expected, mend)


def trials_in_words(numbers: Iterable[int]) -> str:
    """`trial 3`, `trials 1 to 4 and 7`."""
    spans: list[list[int]] = []
    for number in sorted(numbers):
        if spans and number == spans[-1][-1] + 1:
            spans[-1].append(number)
        else:
            spans.append([number])
    told = [word for span in spans for word in ([f"{span[0]} to {span[-1]}"] if len(span) > 2 else map(str, span))]
    several = len(told) > 1 or len(spans[0]) > 1
    listed = f"{', '.join(told[:-1])} and {told[-1]}" if len(told) > 1 else told[0]
    return f"trial{'s' if several else ''} {listed}"


def _gone(
    trials: Mapping[int, Trial], old: StudySheet, new: StudySheet
) -> tuple[dict[str, frozenset[int]], list[Fault]]:
    """Settings that are none any more: those that can be taken out, and why others cannot.

    With each stand the struck-out trials that keep it all the same, since they differ in it.
    """
    gone: dict[str, frozenset[int]] = {}
    faults: list[Fault] = []
    for setting in old.space.settings:
        if setting.name in new.space.by_name:
            continue
        stood = _stood(trials, setting, (*MADE, "void"))
        if len(stood) <= 1:
            gone[setting.name] = frozenset()
            continue
        out = {number for number, trial in trials.items() if trial.state == "void"}
        stood = _stood(trials, setting, MADE)
        if len(stood) <= 1:
            gone[setting.name] = frozenset(out)
            continue
        told = "; ".join(f"{trials_in_words(numbers)} at {value}" for value, numbers in stood.items())
        mend = "keep the setting, and narrow it to what it may be from now on, or start another study"
        faults.append(Fault(f"settings.{setting.name}", "", told, "a setting that trials differ in to stay one", mend))
    return gone, faults


def _stood(trials: Mapping[int, Trial], setting: Setting, states: Sequence[str]) -> dict[str, list[int]]:
    """Where a setting stood in the trials of these states, as people say it, and in which."""
    stood: dict[str, list[int]] = {}
    for number, trial in trials.items():
        if setting.name in trial.settings and trial.state in states:
            stood.setdefault(_shown(setting, trial.settings[setting.name]), []).append(number)
    return stood


def _shown(setting: Setting, value: Any) -> str:
    """A value as people say it, also one that the setting cannot be read from any more."""
    try:
        return setting.show(setting.parse(value))
    except UnreadableValue:
        return as_written(value)


def _again(setting: Setting, before: Setting | None, value: Any) -> Value | _Hindrance:
    """A value that a trial has, as the new version reads it."""
    if isinstance(before, MicSpot) and isinstance(setting, MicPlace) and isinstance(value, str):
        place = before.place_of(value) if value in before.names else None
        if place is None:
            return _Hindrance(f"at {value}", "coordinates of that spot", "give the spot its coordinates first")
        return dict(zip(AXES, place, strict=True))
    if before is not None and _language(before) != _language(setting):
        expected = f"{_language(before)}, as when the trials were made"
        return _Hindrance(
            f"are told as {_language(before)}", expected, "give the new setting another name", misread=True
        )
    try:
        return setting.parse(value)
    except UnreadableValue as fault:
        shown = _shown(before, value) if before is not None else str(value)
        mend = "keep what trials were made with; a [[never]] table keeps it from being proposed again"
        if isinstance(setting, RiffOrder):
            mend = "keep what trials were made with, or start another study that this one advises"
        return _Hindrance(f"at {shown}", fault.expected.replace("one of ", f"{shown} beside "), mend)


def _then(setting: Setting, fixed: Mapping[str, str], before: Settings) -> Value | _Hindrance:
    """What a setting stood at before it was one."""
    try:
        return setting.parse(fixed[setting.name])
    except (KeyError, UnreadableValue):
        pass
    if setting.name in before:
        return before[setting.name]
    mend = f"write [before] with {setting.name} = ..., what it stood at in them"
    return _Hindrance("made before it was a setting", "what it stood at then", mend)


def _language(setting: Setting) -> str:
    """What kind of value a setting has, and in which unit."""
    match setting:
        case Knob(scale="clock"):
            return "clock times"
        case Knob():
            return f"numbers in {setting.unit}" if setting.unit else "numbers"
        case MicSpot() | MicPlace():
            return "mic spots"
    return f"the values of a {type(setting).__name__.lower()}"
