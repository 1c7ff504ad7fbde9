"""What to try next: asked again before an answer, the same answer."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import takewhile
from typing import Any, Final

from optimiser.errors import BadUse, NothingLeft
from optimiser.proposals import minutes_left, trial_minutes
from optimiser.space import Settings, allowed_in_words
from optimiser.storage import Store
from optimiser.study import Event, StudyState, Trial, fold
from optimiser.units import DAY_MINUTES, show_minutes
from optimiser.workflow.advising import advised_view, advisers_view
from optimiser.workflow.proposing import installed, proposal_body, proposed_from
from optimiser.workflow.sitting import day_of
from optimiser.workflow.stamp import Stamp, done_before, one_step
from optimiser.workflow.views import View, locks_of, outlook_in_words, outlook_view, proposals_view
from optimiser.workflow.walking import fitting, minutes_of, standing, waiting, walked

MOST_AT_ONCE: Final = 12
"""Proposals in one batch; more would rest on too little evidence (no source)."""

TEACH_NOTHING: Final = ("declined", "withdrawn", "reel made", "heard")
"""Events that leave every belief as it was."""

LONGEST_SESSION_MINUTES: Final = DAY_MINUTES
"""Minutes of one sitting at most: what comes later is another day (a choice, no source)."""


@dataclass(frozen=True)
class Wish:
    """What the practitioner asks for.

    Attributes:
        count: how many proposals; where the time is told at most so many, if more than one.
        minutes: time there is, handling included; None when it does not matter.
        locked: settings to be kept, as text or values; None keeps those of the proposals that are put aside for others.
        other: whether the proposals that would be handed out are put aside and others given.
    """

    count: int = 1
    minutes: float | None = None
    locked: Mapping[str, object] | None = None
    other: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.count <= MOST_AT_ONCE:
            raise BadUse(f"{self.count} proposals cannot be made at once.", f"Ask for 1 to {MOST_AT_ONCE}.")
        if self.minutes is not None and not 0 < self.minutes <= LONGEST_SESSION_MINUTES:
            raise BadUse(
                f"A session cannot last {self.minutes:g} minutes.",
                f"Give the time there is: more than 0, at most {show_minutes(LONGEST_SESSION_MINUTES)}, which is one "
                "day.",
            )

    @property
    def most(self) -> int:
        """How many proposals at most."""
        return MOST_AT_ONCE if self.minutes is not None and self.count == 1 else self.count


def next_trials(store: Store, name: str, wish: Wish, stamp: Stamp) -> View:
    """Hand out proposals, those that still wait for their take first, and say what is left to gain.

    With a key that handed out or put aside something before, nothing more is put aside.

    Raises:
        NotFound: no such study.
        NothingLeft: no arrangement is left that may be proposed.
        InvalidSettings: a lock that the sheet does not know.
        BadUse: a lock outside of the sheet's ranges.
    """
    with store.writing():
        events = list(store.events(name))
        state = known = fold(events)
        locked = _locked(state, wish.locked) if wish.locked is not None else _kept_locks(state, wish)
        again = done_before(events, stamp, "declined", "proposed") is not None
        withdrawn = {} if again else _withdrawn(state, wish, locked, stamp.reason)
        added = [Event("declined", {"trial": n}, stamp.iso(), stamp.actor, reason) for n, reason in withdrawn.items()]
        state = reduce(StudyState.after, added, state)
        ready = _ready(state, wish)
        told = _told(events, "outlook") or outlook_view(state.study)
        advisers = _told(events, "advisers") or advisers_view(state.study)
        asking = _Asking(stamp, day_of(events, state, stamp), {"outlook": told, "advisers": advisers})
        while _missing(state, wish, ready) > 0 and (fresh := _proposed(state, wish, locked, ready, asking)):
            added += fresh
            state = reduce(StudyState.after, fresh, state)
            ready = walked(state, [*ready, *(event.trial or 0 for event in fresh)])
        if added and not again:
            added[0] = replace(added[0], key=stamp.key)
        stored = store.append(name, *one_step(added, len(events) + 1)) if added else ()
    state = reduce(StudyState.after, stored, known)
    numbers = ready or waiting(state)[:1]
    aside = _put_aside([*events, *stored], stored, stamp)
    return {
        "study": name,
        "proposals": proposals_view(state, numbers),
        "minutes": minutes_of(state, numbers),
        "minutes_given": wish.minutes,
        "most": wish.most,
        "learnt_since": _learnt_since([*events, *stored], numbers[0]),
        "came_first": _came_first(known, state, numbers),
        "held_for_time": _held_for_time(state, numbers, wish),
        "put_aside": aside,
        "let_go": _let_go(state, aside, numbers),
        "met": _met(state, locked, numbers),
        "by_reading": known.study.reading_in_words,
        "outlook": outlook_in_words({**told, "minutes_left": minutes_left(state.study)}),
        **advised_view(known.study, advisers),
    }


def _held_for_time(state: StudyState, numbers: Sequence[int], wish: Wish) -> list[str]:
    """Settings that were held for this very time, since changing them takes longer."""
    inputs = [state.proposals[number].get("inputs", {}) for number in numbers]
    asked = [one for one in inputs if wish.minutes is not None and one.get("of_minutes") == wish.minutes]
    return sorted({name for one in asked for name in one["held_for_time"]})


def _came_first(before: StudyState, now: StudyState, numbers: Sequence[int]) -> int | None:
    """The trial that was to be made next until now, where another comes before it."""
    first = waiting(before)[:1]
    still = [number for number in first if now.study.trial(number).state == "waiting" and number != numbers[0]]
    return still[0] if still else None


def _put_aside(events: Sequence[Event], stored: Sequence[Event], stamp: Stamp) -> list[View]:
    """What this step declined, also where it is told again."""
    known = done_before(events, stamp, "declined", "proposed")
    first = None if known is None else known.number
    own = stored if known is None else [event for event in events if first in (event.number, event.body.get("part_of"))]
    return [{"trial": event.trial, "reason": event.reason} for event in own if event.kind == "declined"]


def _told(events: Sequence[Event], entry: str) -> Any:
    """What was told with the newest proposal, such as the outlook; None when something was learnt since."""
    for event in reversed(events):
        if event.kind == "proposed":
            return event.body["proposal"].get(entry)
        if event.kind not in TEACH_NOTHING:
            return None
    return None


def _learnt_since(events: Sequence[Event], number: int) -> int:
    """How many events since a trial was proposed may have changed what is expected of it; none that was taken back."""
    undone = {event.body["undoes"] for event in events if "undoes" in event.body}
    later = takewhile(lambda event: (event.kind, event.trial) != ("proposed", number), reversed(events))
    stand = (event for event in later if "undoes" not in event.body and event.number not in undone)
    return sum(event.kind not in ("proposed", *TEACH_NOTHING) for event in stand)


def _withdrawn(state: StudyState, wish: Wish, locked: Mapping[str, object], refused: str) -> dict[int, str]:
    """Waiting trials that do not suit the wish, each with the reason; where another is wanted those handed out too."""
    handed_out = state.study.in_state("waiting")
    space = state.study.sheet.space
    others = _ready(state, wish) if wish.other else []
    unwanted = dict.fromkeys(others, refused or "another was asked for")
    unkept = {trial.number or 0: "asked again with other locks" for trial in handed_out if not _keeps(trial, locked)}
    freed = {
        trial.number or 0: "what was locked for it is let go"
        for trial in handed_out
        if wish.other and wish.locked is not None and not locks_of(state, trial.number or 0).keys() <= locked.keys()
    }
    stale = {trial.number or 0: "the sheet has changed" for trial in handed_out if not space.allows(trial.settings)}
    return {**freed, **unwanted, **unkept, **stale}


def _kept_locks(state: StudyState, wish: Wish) -> Settings:
    """What was locked in all of the proposals that are put aside for others, as far as the sheet still has it."""
    space = state.study.sheet.space
    aside = [locks_of(state, number) for number in (_ready(state, wish) if wish.other else ())]
    common = dict(aside[0]) if aside else {}
    for locks in aside[1:]:
        common = {name: value for name, value in common.items() if name in locks and locks[name] == value}
    return {
        name: value for name, value in common.items() if name in space.by_name and space.by_name[name].contains(value)
    }


def _let_go(state: StudyState, aside: Sequence[View], numbers: Sequence[int]) -> list[str]:
    """Settings that were locked in proposals put aside and are not in those handed out."""
    before = {name for one in aside for name in locks_of(state, one["trial"])}
    return sorted(before - {name for number in numbers for name in locks_of(state, number)})


def _met(state: StudyState, locked: Mapping[str, object], numbers: Sequence[int]) -> list[str]:
    """Locks that what is handed out meets and was not proposed under, so that they are not kept."""
    return sorted({name for name in locked for number in numbers if name not in locks_of(state, number)})


def _locked(state: StudyState, asked: Mapping[str, object]) -> Settings:
    space = state.study.sheet.space
    locked = space.parse_some(asked)
    for name, value in locked.items():
        setting = space.by_name[name]
        if not setting.contains(value):
            raise BadUse(
                f"{name} cannot be kept at {setting.show(value)}.", f"The sheet has {allowed_in_words(setting)}."
            )
    return locked


def _keeps(trial: Trial, locked: Mapping[str, object]) -> bool:
    return all(trial.settings.get(name) == value for name, value in locked.items())


def _ready(state: StudyState, wish: Wish) -> list[int]:
    """The waiting trials that are handed out: as many as were asked for, or as fit into the time."""
    walk = waiting(state)
    return (walk if wish.minutes is None else fitting(state, walk, wish.minutes))[: wish.most]


def _missing(state: StudyState, wish: Wish, ready: Sequence[int]) -> int:
    """How many more are to be proposed, at most."""
    if wish.minutes is None:
        return wish.most - len(ready)
    left = (wish.minutes - minutes_of(state, ready)) / trial_minutes(state.study)
    return max(min(int(left), wish.most - len(ready)), 0 if ready else 1)


@dataclass(frozen=True)
class _Asking:
    """Who asks for proposals and when, and what is told with each."""

    stamp: Stamp
    today: str
    told: View


def _proposed(state: StudyState, wish: Wish, locked: Settings, ready: Sequence[int], asking: _Asking) -> list[Event]:
    """New proposals as events; none where nothing more fits into the time."""
    study = state.study
    left = None if wish.minutes is None else wish.minutes - minutes_of(state, ready)
    stands = dict(study.trial(ready[-1]).settings) if ready else standing(state)
    held = {} if left is None else _too_slow(state, locked, stands or {}, left)
    inputs = {
        "count": _missing(state, wish, ready),
        "present": stands,
        "locked": {**locked, **held},
        "day": None if _checked_off(state, asking.today) else asking.today,
        **({} if left is None else {"minutes": left, "of_minutes": wish.minutes, "held_for_time": sorted(held)}),
    }
    try:
        proposals = proposed_from(study, inputs)
    except NothingLeft:
        if not held:
            raise
        if ready:
            return []
        held, inputs = {}, {**inputs, "locked": dict(locked), "held_for_time": []}
        proposals = proposed_from(study, inputs)
    others = ready or waiting(state)
    if others and left is not None and trial_minutes(study) + proposals[0].effort_minutes > left:
        return []
    first = state.next_number
    common = {
        "engine": study.sheet.policy.engine,
        "installed": installed(),
        "inputs": inputs,
        "first": first,
        "day": asking.today,
        **asking.told,
    }
    bodies = [{**proposal_body(first + place, proposal), **common} for place, proposal in enumerate(proposals)]
    stamp = asking.stamp
    return [Event("proposed", {"proposal": body}, stamp.iso(), stamp.actor) for body in bodies]


def _too_slow(state: StudyState, locked: Settings, stands: Settings, minutes: float) -> Settings:
    """Settings as they stand that take longer to change than the time leaves; none where nothing else could change."""
    spare = minutes - trial_minutes(state.study)
    settings = [setting for setting in state.study.sheet.space.settings if setting.name not in locked]
    slow = {
        setting.name: stands[setting.name]
        for setting in settings
        if setting.name in stands and setting.effort_minutes > spare
    }
    return slow if len(slow) < len(settings) else {}


def _checked_off(state: StudyState, today: str) -> bool:
    """Whether a check trial was declined today."""
    declined = [trial.number or 0 for trial in state.study.in_state("declined")]
    proposals = [state.proposals[number] for number in declined if number in state.proposals]
    return any(proposal["kind"] == "check" and proposal.get("day") == today for proposal in proposals)
