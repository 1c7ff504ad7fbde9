"""What to try next: asked again before an answer, the same answer."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from optimiser.errors import BadUse
from optimiser.proposals import trial_minutes
from optimiser.storage import Store
from optimiser.study import Event, StudyState, Trial, fold
from optimiser.workflow.advising import advisers_view
from optimiser.workflow.proposing import inputs_of, installed, proposal_body, proposed_from
from optimiser.workflow.sitting import day_of
from optimiser.workflow.stamp import Stamp, done_before
from optimiser.workflow.views import View, outlook_view, proposal_view

MOST_AT_ONCE: Final = 12
"""Proposals in one batch; more would rest on too little evidence (no source)."""


@dataclass(frozen=True)
class Wish:
    """What the practitioner asks for.

    Attributes:
        count: how many proposals.
        minutes: time there is, handling included; None when it does not matter.
        locked: settings to be kept, as text or values.
        other: whether the waiting proposals are declined.
    """

    count: int = 1
    minutes: float | None = None
    locked: Mapping[str, object] = field(default_factory=dict)
    other: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.count <= MOST_AT_ONCE:
            raise BadUse(f"{self.count} proposals cannot be made at once.", f"Ask for 1 to {MOST_AT_ONCE}.")
        if self.minutes is not None and not self.minutes > 0:
            raise BadUse(f"There is no trial that fits into {self.minutes:g} minutes.", "Give more minutes.")


def next_trials(store: Store, name: str, wish: Wish, stamp: Stamp) -> View:
    """Hand out proposals, those that still wait for their take first, and say what is left to gain.

    With a key that handed out or declined something before, nothing more is declined.

    Raises:
        NotFound: no such study.
        NothingLeft: no arrangement is left that may be proposed.
        InvalidSettings: a lock that the sheet does not know.
    """
    with store.writing():
        events = list(store.events(name))
        state = known = fold(events)
        locked = state.study.sheet.space.parse_some(wish.locked)
        again = done_before(events, stamp, "declined", "proposed") is not None
        withdrawn = {} if again else _withdrawn(state, locked, stamp.reason if wish.other else None)
        added = [Event("declined", {"trial": n}, stamp.iso(), stamp.actor, reason) for n, reason in withdrawn.items()]
        for event in added:
            state = state.after(event)
        waiting = state.study.in_state("waiting")
        missing = _count(state, wish) - len(waiting)
        told = _told(events, "outlook") or outlook_view(state.study)
        advisers = _told(events, "advisers") or advisers_view(state.study)
        if missing > 0:
            asked = missing, locked, {"outlook": told, "advisers": advisers}
            added += _proposed(state, asked, stamp, day_of(events, state, stamp))
        if added and not again:
            added[0] = replace(added[0], key=stamp.key)
        stored = store.append(name, *added) if added else ()
    state = known
    for event in stored:
        state = state.after(event)
    numbers = [trial.number or 0 for trial in state.study.in_state("waiting")][: _count(state, wish)]
    numbers = _fitting(state, numbers, wish.minutes)
    return {
        "study": name,
        "proposals": [
            proposal_view(state, number, before) for number, before in zip(numbers, [None, *numbers], strict=False)
        ],
        "outlook": told,
        "advisers": advisers,
    }


def _told(events: Sequence[Event], entry: str) -> Any:
    """What was told with the newest proposal, such as the outlook; None when something was learnt since."""
    for event in reversed(events):
        if event.kind == "proposed":
            return event.body["proposal"].get(entry)
        if event.kind not in ("declined", "reel made", "heard"):
            return None
    return None


def _withdrawn(state: StudyState, locked: Mapping[str, object], refused: str | None) -> dict[int, str]:
    """Waiting trials that do not suit the wish, each with the reason; all of them where they are refused for one."""
    waiting = state.study.in_state("waiting")
    if refused is not None:
        return {trial.number or 0: refused or "another was asked for" for trial in waiting}
    space = state.study.sheet.space
    stale = {trial.number or 0: "the sheet has changed" for trial in waiting if not space.allows(trial.settings)}
    unkept = {trial.number or 0: "asked again with other locks" for trial in waiting if not _keeps(trial, locked)}
    return {**unkept, **stale}


def _keeps(trial: Trial, locked: Mapping[str, object]) -> bool:
    return all(trial.settings.get(name) == value for name, value in locked.items())


def _count(state: StudyState, wish: Wish) -> int:
    if wish.minutes is None:
        return wish.count
    return max(wish.count, min(MOST_AT_ONCE, int(wish.minutes / trial_minutes(state.study))), 1)


def _fitting(state: StudyState, numbers: list[int], minutes: float | None) -> list[int]:
    """The first of these trials that fit into the time, at least one."""
    if minutes is None:
        return numbers
    spent, fitting, each = 0.0, list[int](), trial_minutes(state.study)
    for number in numbers:
        spent += each + state.proposals[number]["effort_minutes"]
        if fitting and spent > minutes:
            break
        fitting.append(number)
    return fitting


def _proposed(state: StudyState, asked: tuple[int, Mapping[str, Any], View], stamp: Stamp, today: str) -> list[Event]:
    (count, locked, told), study = asked, state.study
    inputs = inputs_of(state, count, locked, None if _checked_off(state, today) else today)
    first = max((trial.number or 0 for trial in study.trials), default=0) + 1
    common = {
        "engine": study.sheet.policy.engine,
        "installed": installed(),
        "inputs": inputs,
        "first": first,
        "day": today,
        **told,
    }
    bodies = [
        {**proposal_body(first + place, proposal), **common}
        for place, proposal in enumerate(proposed_from(study, inputs))
    ]
    return [Event("proposed", {"proposal": body}, stamp.iso(), stamp.actor) for body in bodies]


def _checked_off(state: StudyState, today: str) -> bool:
    """Whether a check trial was declined today."""
    declined = [trial.number or 0 for trial in state.study.in_state("declined")]
    proposals = [state.proposals[number] for number in declined if number in state.proposals]
    return any(proposal["kind"] == "check" and proposal.get("day") == today for proposal in proposals)
