"""Everything that happened in a study, in order, and the present state that follows from it.

Events are only ever added. Amending a trial adds an event that carries the entries changed; striking it out adds one
more; nothing is overwritten.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

from optimiser.errors import NotFound
from optimiser.study.codec import trial_from_json
from optimiser.study.history import Study
from optimiser.study.sheet import StudySheet
from optimiser.study.sheet_text import sheet_from_tables
from optimiser.study.trial import Trial

KINDS: Final = (
    "started",
    "sheet changed",
    "reel made",
    "goal recorded",
    "proposed",
    "declined",
    "measured",
    "failed",
    "amended",
    "voided",
    "restored",
)
"""What can happen. Bodies: `sheet`; `reel`; `goal`; `proposal` with `trial` and `settings`; `trial`, which is a number,
or a trial's entries for measured and failed, there with `asked` and `details`; `changes`."""


@dataclass(frozen=True)
class Event:
    """One thing that happened.

    Attributes:
        kind: one of KINDS.
        body: what it carries, as JSON values.
        at: when, ISO 8601 with offset.
        actor: who or which program.
        reason: why, in the practitioner's words; may be empty.
        key: idempotency key; a store takes an event with a known key only once.
        number: place in the study's order of events, counted from 1; 0 until a store has taken it.
    """

    kind: str
    body: Mapping[str, Any]
    at: str
    actor: str = ""
    reason: str = ""
    key: str = ""
    number: int = 0


@dataclass(frozen=True)
class StudyState:
    """Where a study stands after some events.

    Attributes:
        study: sheet and trials.
        goal: what was kept of the goal reference, None before it is recorded.
        reels: what was kept of the newest reel of each kind that was made for the study.
        proposals: the proposal behind each trial that was asked for, by trial number.
        asked: the settings that were proposed where others were really set, by trial number.
        details: what else was kept of a trial (parts, advice, warnings, files), by trial number.
        before_void: the state that a struck-out trial had before, by trial number.
        last_made: number of the trial that was made last, at whose settings the chain still stands.
    """

    study: Study
    goal: Mapping[str, Any] | None = None
    reels: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    proposals: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    asked: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    details: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    before_void: Mapping[int, str] = field(default_factory=dict)
    last_made: int | None = None

    def after(self, event: Event) -> "StudyState":
        """The state that follows when `event` has happened.

        Raises:
            NotFound: a trial that the study does not have.
            InvalidTrial, InvalidSettings, SheetError: a body that does not fit.
        """
        body = event.body
        match event.kind:
            case "sheet changed":
                return replace(self, study=replace(self.study, sheet=sheet_from_tables(body["sheet"])))
            case "reel made":
                return replace(self, reels={**self.reels, body["reel"]["kind"]: body["reel"]})
            case "goal recorded":
                return replace(self, goal=body["goal"], study=replace(self.study, goal_known=True))
            case "proposed":
                return self._proposed(body["proposal"])
            case "measured" | "failed":
                return self._made(body)
            case "declined":
                return self._changed(body["trial"], state="declined")
            case "amended":
                return self._changed(body["trial"], **body["changes"])
            case "voided":
                number = body["trial"]
                before = {**self.before_void, number: self.study.trial(number).state}
                return replace(self._changed(number, state="void"), before_void=before)
            case "restored":
                return self._changed(body["trial"], state=self.before_void.get(body["trial"], "measured"))
        raise NotFound(f"There is no event of the kind {event.kind!r}.", f"Kinds are {', '.join(KINDS)}.")

    def present(self) -> Trial | None:
        """The trial that was made last, at whose settings the chain still stands."""
        return self.study.trial(self.last_made) if self.last_made is not None else None

    def _proposed(self, proposal: Mapping[str, Any]) -> "StudyState":
        number = proposal["trial"]
        waiting = Trial(proposal["settings"], number=number, state="waiting")
        return replace(self, study=self.study.with_trial(waiting), proposals={**self.proposals, number: proposal})

    def _made(self, body: Mapping[str, Any]) -> "StudyState":
        trial = trial_from_json(body["trial"])
        study = self.study.with_trial(trial)
        number = trial.number or 0
        asked = {**self.asked, number: body["asked"]} if body.get("asked") else self.asked
        details = {**self.details, number: body.get("details", {})}
        return replace(self, study=study, asked=asked, details=details, last_made=number)

    def _changed(self, number: int, **changes: Any) -> "StudyState":
        changed = replace(self.study.trial(number), **changes)
        return replace(self, study=self.study.with_trial(changed))


def started(sheet: StudySheet) -> StudyState:
    """The state of a study that was just started."""
    return StudyState(Study(sheet))


def fold(events: Iterable[Event]) -> StudyState:
    """The present state after all events, of which the first is `started`.

    Raises:
        NotFound: there are no events.
        InvalidTrial, InvalidSettings, SheetError: an event that does not fit.
    """
    state: StudyState | None = None
    for event in events:
        state = started(sheet_from_tables(event.body["sheet"])) if state is None else state.after(event)
    if state is None:
        raise NotFound("The study has no events.", "Start it with optimiser start SHEET.toml.")
    return state
