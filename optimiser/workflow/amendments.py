"""Mending what was written down: amended, struck out; the ledger keeps what stood there before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from optimiser.errors import BadInput, BadUse, InvalidRecording, InvalidSettings, NotFound
from optimiser.storage import Store
from optimiser.study import STATE_WORDS, Event, StudyState, Trial, fold
from optimiser.workflow.goal_scores import caught_up
from optimiser.workflow.stamp import Stamp, as_day, done_before, not_kept, one_step
from optimiser.workflow.takes import check_overall, scores_of_failed
from optimiser.workflow.views import View, trial_view

CLEARABLE: Final = ("overall", "reading", "ear", "note")
"""Entries that may be taken out of a trial."""


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
        check_overall(self.entries.get("overall"))


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
        today = stamp.day(state.sheet)
        changes = _changes(state, trial, amendment, today) if known is None else dict(known.body["changes"])
        if known is None and changes:
            body = {"trial": number, "changes": changes}
            event = Event("amended", body, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
            state = _appended(store, name, state, event)
    view = {**trial_view(state, state.study.trial(number)), "changed": sorted(changes)}
    return {**view, "remark": "" if known else not_kept(stamp, f"{name} {number}", written=bool(changes))}


def void(store: Store, name: str, number: int, stamp: Stamp) -> View:
    """Strike a trial out: it stays readable, and counts for nothing.

    Raises:
        NotFound: no such study or trial.
        BadUse: a trial that was not made yet.
    """
    return _restated(store, name, number, "voided", stamp)


def unvoid(store: Store, name: str, number: int, stamp: Stamp) -> View:
    """Let a trial that was struck out count again, scored against the goal reference that was recorded meanwhile.

    Raises:
        NotFound: no such study or trial.
        BadUse: a trial that was not made yet.
    """
    before = fold(store.events(name))
    missed = _missed(store, before, number, stamp)
    with store.writing():
        if _standing(fold(store.events(name)), number) != _standing(before, number):
            missed = _missed(store, fold(store.events(name)), number, stamp)
        return _restated(store, name, number, "restored", stamp, missed)


def _standing(state: StudyState, number: int) -> tuple[object, ...]:
    """What the score that a trial missed hangs on."""
    return state.goals, state.proof_reels, state.details.get(number), state.trials.get(number)


def _missed(store: Store, state: StudyState, number: int, stamp: Stamp) -> Event | str | None:
    """The score that a struck-out trial missed, or in words why it cannot be had; None where it missed none."""
    if _made(state, number).state != "void" or state.before_void.get(number, "measured") != "measured":
        return None
    try:
        return caught_up(store, state, number, stamp)
    except (NotFound, InvalidRecording) as error:
        return (
            f"It has no score against the goal reference, which was recorded meanwhile: {error.message} Bring the "
            "recordings back, strike it out and let it count again, and it gets one."
        )


def _restated(store: Store, name: str, number: int, kind: str, stamp: Stamp, missed: Event | str | None = None) -> View:
    """Strike a trial out or let it count again with the score that it missed, where it does not stand so already."""
    with store.writing():
        events = store.events(name)
        state = fold(events)
        stands = (_made(state, number).state == "void") == (kind == "voided")
        known = done_before(events, stamp, kind)
        changed = known is None and not stands
        if changed:
            own = Event(kind, {"trial": number}, stamp.iso(), stamp.actor, stamp.reason, stamp.key)
            state = _appended(store, name, state, own, *([missed] if isinstance(missed, Event) else []))
    entries = ["state", *(missed.body["changes"] if isinstance(missed, Event) else ())]
    view = {**trial_view(state, state.study.trial(number)), "changed": sorted(entries) if changed else []}
    remark = "" if known else not_kept(stamp, f"{name} {number}", written=changed)
    return {**view, "remark": missed if changed and isinstance(missed, str) else remark}


def _made(state: StudyState, number: int) -> Trial:
    trial = state.study.trial(number)
    if trial.state not in ("measured", "failed", "void"):
        stands = STATE_WORDS.get(trial.state, trial.state)
        raise BadUse(
            f"Trial {number} of {state.sheet.name} is {stands} and has nothing to mend.",
            "Hand over its take first; optimiser next STUDY --other puts a proposal aside.",
        )
    return trial


def _changes(state: StudyState, trial: Trial, amendment: Amendment, today: str) -> dict[str, Any]:
    """Entries that really change, as JSON values."""
    _check_failed(state, trial, amendment)
    wanted = {**dict.fromkeys(amendment.clear), **amendment.entries}
    if "day" in wanted:
        wanted["day"] = as_day(str(wanted["day"]), today)
    if amendment.settings:
        merged = {**trial.settings, **state.sheet.space.parse_some(amendment.settings)}
        wanted["settings"] = state.sheet.space.parse(merged)
    if "note" in amendment.clear:
        wanted["note"] = ""
    stored = state.trials[trial.number or 0]
    return {entry: value for entry, value in wanted.items() if getattr(stored, entry) != value}


def _check_failed(state: StudyState, trial: Trial, amendment: Amendment) -> None:
    """See that no score is written to a run that gave no capture.

    Raises:
        BadUse: one is.
    """
    number, name = trial.number or 0, state.sheet.name
    failed = trial.state == "failed" or (trial.state == "void" and state.before_void.get(number) == "failed")
    scores = scores_of_failed(amendment.entries)
    if failed and scores:
        raise BadUse(
            f"Trial {number} of {name} failed and gave no capture, so it has no {scores}.",
            f"Is there a capture after all? optimiser take {name} REFERENCE.wav CAPTURE.wav --trial {number}, or "
            f"optimiser log {name} --trial {number} with what you know of it.",
        )


def _appended(store: Store, name: str, state: StudyState, *events: Event) -> StudyState:
    """The state after a step more, which is stored when the study can still be read with it."""
    for event in events:
        state = state.after(event)
    try:
        _ = state.study
    except InvalidSettings as error:
        if events[0].kind != "restored":
            raise
        unread = ", ".join(fault.key for fault in error.faults)
        raise BadInput(
            f"Trial {events[0].trial} of {name} cannot count again: the sheet cannot read its {unread} any more.",
            "Start a sheet that has what the trial was made with, or say with optimiser amend what to read it as.",
        ) from None
    store.append(name, *one_step(events, len(store.events(name)) + 1))
    return state
